"""Sections as arrays against one at a time; the closed form of the web against a search."""

import numpy as np
import pytest

from planner.errors import RefusedError
from planner.formulas import web
from planner.section import many
from planner.section.many import Asked, section_figures
from planner.section.target import section_for
from tests.samples import GONE, a_job

COUNT = 120
FACE_NAMES = (
    "depth_mm",
    "chord_mm",
    "edge_land_mm",
    "shoulder_land_mm",
    "removed_area_mm2",
    "edge_angle_lost_deg",
)


def drawn(seed, given, *, equal, hollow):
    """Knives of many sizes, about a third of them not possible."""
    rng = np.random.default_rng(seed)
    sizes = {
        "thickness_mm": rng.uniform(1.5, 5.0, COUNT),
        "width_mm": rng.uniform(8.0, 30.0, COUNT),
        "bevel_a_deg": rng.uniform(6.0, 30.0, COUNT),
        "edge_thickness_mm": rng.choice([0.0, 0.05, 0.4, 1.2], COUNT),
        "wheel_radius_mm": rng.uniform(2.0, 100.0, COUNT),
        "edge_land_mm": np.zeros(COUNT) if hollow else rng.uniform(0.2, 3.0, COUNT),
        "shoulder_land_mm": rng.uniform(0.0, 3.0, COUNT),
        "depth_mm": rng.uniform(0.01, 0.8, COUNT),
        "min_steel_left_mm": rng.uniform(0.0, 0.3, COUNT),
        "min_edge_angle_deg": rng.uniform(5.0, 25.0, COUNT),
    }
    if not equal:
        sizes["bevel_b_deg"] = rng.uniform(6.0, 30.0, COUNT)
    left_out = ({"edge_land", "shoulder_land", "depth"} - set(given)).pop()
    del sizes[f"{left_out}_mm"]
    return sizes


def exact(value, unit):
    """The very float as text: no digit is lost on the way through the file's reader."""
    return f"{value:.40f}"[:39] + f" {unit}"


def one_job(sizes, n, faces):
    of = {name: float(values[n]) for name, values in sizes.items()}
    angles = (
        {"blade__section__included_angle": exact(2 * of["bevel_a_deg"], "deg")}
        if "bevel_b_deg" not in of
        else {
            "blade__section__included_angle": GONE,
            "blade__section__angle_a": exact(of["bevel_a_deg"], "deg"),
            "blade__section__angle_b": exact(of["bevel_b_deg"], "deg"),
        }
    )
    return a_job(
        blade__section__thickness=exact(of["thickness_mm"], "mm"),
        blade__section__width=exact(of["width_mm"], "mm"),
        blade__section__edge_thickness=exact(of["edge_thickness_mm"], "mm"),
        relief__faces=faces,
        relief__min_steel_left=exact(of["min_steel_left_mm"], "mm"),
        relief__min_edge_angle=exact(of["min_edge_angle_deg"], "deg"),
        **{
            f"relief__{name}": exact(of[f"{name}_mm"], "mm") if f"{name}_mm" in of else GONE
            for name in ("edge_land", "shoulder_land", "depth")
        },
        **angles,
    )


@pytest.mark.parametrize("faces", ["both", "A", "B"])
@pytest.mark.parametrize("equal", [True, False], ids=["equal", "unequal"])
@pytest.mark.parametrize(
    ("given", "hollow"),
    [
        (("edge_land", "shoulder_land"), False),
        (("edge_land", "shoulder_land"), True),
        (("edge_land", "depth"), False),
        (("shoulder_land", "depth"), False),
    ],
)
def test_arrays_equal_one_at_a_time(given, hollow, equal, faces):
    # Property: the same section by two paths; the web by two ways.
    seed = 2 * len(given[0]) + len(given[1]) + hollow
    sizes = drawn(seed, given, equal=equal, hollow=hollow)
    found = section_figures(Asked(**sizes, faces=faces))
    assert 5 < found.possible.sum() < COUNT
    for n in range(COUNT):
        job = one_job(sizes, n, faces)
        try:
            section = section_for(job, float(sizes["wheel_radius_mm"][n]))
        except RefusedError:
            assert not found.possible[n]
            assert np.isnan(found.steel_left_mm[n])
            continue
        assert found.possible[n]
        # The search over the grid stops at a station beside the least one.
        assert found.steel_left_mm[n] == pytest.approx(section.steel_left_mm, abs=1e-8)
        assert found.steel_left_mm[n] <= section.steel_left_mm + 1e-12
        assert found.edge_angle_deg[n] == pytest.approx(section.edge_angle_deg, rel=1e-12)
        assert set(found.faces) == {r.face for r in section.reliefs}
        for relief in section.reliefs:
            face, figures = section.face(relief.face), found.faces[relief.face]
            assert figures.bevel_height_mm[n] == pytest.approx(face.height_mm, rel=1e-12)
            assert figures.bevel_face_mm[n] == pytest.approx(face.width_mm, rel=1e-12)
            for name in FACE_NAMES:
                mine, one = getattr(figures, name)[n], getattr(relief, name)
                assert mine == pytest.approx(one, rel=1e-9, abs=1e-12), name


def test_single_numbers_and_chunks_make_no_difference(monkeypatch):
    sizes = drawn(5, ("edge_land", "shoulder_land"), equal=False, hollow=False)
    sizes["thickness_mm"] = 3.0
    whole = section_figures(Asked(**sizes))
    monkeypatch.setattr(many, "CHUNK", 7)
    parts = section_figures(Asked(**sizes))
    # Property: how the work is cut shows nowhere.
    np.testing.assert_array_equal(whole.steel_left_mm, parts.steel_left_mm)
    np.testing.assert_array_equal(whole.faces["B"].depth_mm, parts.faces["B"].depth_mm)
    one = section_figures(Asked(3.0, 20.0, 12.5, 0.0, 75.0, 1.2, 1.4))
    # By hand: b = 1.5 / 0.2164396 = 6.93034, c = b - 2.6 = 4.33034; (c/2)^2 = 4.68796, and
    # sqrt(5625 - 4.68796) = 74.96874, so h = 4.68796 / 149.96874 = 0.031260.
    assert one.faces["A"].chord_mm[0] == pytest.approx(4.33034, abs=1e-5)
    assert one.faces["A"].depth_mm[0] == pytest.approx(0.031260, abs=1e-6)
    assert one.faces["A"] is one.faces["B"]


def test_out_of_range_is_marked_and_spoils_no_other():
    found = section_figures(
        Asked([3.0, 3.0, np.nan, 3.0, 3.0], 20.0, [12.5, 95.0, 12.5, 12.5, 12.5], [0, 0, 0, 4.0, 0],
              [75, 75, 75, 75, -1], 1.2, 1.4)
    )  # fmt: skip
    assert found.possible.tolist() == [True, False, False, False, False]
    assert np.isfinite(found.steel_left_mm[0])


def test_two_of_three_are_needed():
    with pytest.raises(ValueError, match="exactly two"):
        Asked(3.0, 20.0, 12.5, wheel_radius_mm=75.0, edge_land_mm=1.2)


# --- the web ----------------------------------------------------------------------------------


def height(y, case, face):
    """The lowest of flank, bevel and the wheel's lower arc over its own width."""
    beta, radius, depth = case[f"beta_{face}"], case["r"], case[f"d_{face}"]
    flat = np.minimum(case["e"] / 2 + y * np.tan(beta), case["t"] / 2)
    foot = np.array([0.0, case["e"] / 2]) + case[f"p_{face}"] * np.array(
        [np.cos(beta), np.sin(beta)]
    )
    centre = foot + (radius - depth) * np.array([-np.sin(beta), np.cos(beta)])
    away = np.abs(y - centre[0])
    arc = centre[1] - np.sqrt(np.maximum(radius**2 - away**2, 0.0))
    return np.where((away < radius) & (depth > 0), np.minimum(flat, arc), flat)


def thickness(y, case):
    """Across z, both faces."""
    return height(y, case, "a") + height(y, case, "b")


@pytest.mark.parametrize("seed", range(40))
def test_least_thickness_is_that_of_a_fine_grid(seed):
    rng = np.random.default_rng(seed)
    case = {"t": rng.uniform(1.0, 4.0), "e": rng.choice([0.0, 0.3]), "r": rng.uniform(3.0, 100.0)}
    for face in "ab":
        beta = rng.uniform(0.1, 0.9)
        width = (case["t"] - case["e"]) / 2 / np.sin(beta)
        half = rng.uniform(0.05, 0.5) * width
        half = min(half, 0.99 * case["r"])
        depth = case["r"] - np.sqrt(case["r"] ** 2 - half**2)
        case |= {
            f"beta_{face}": beta,
            f"p_{face}": rng.uniform(half, width - half),
            f"d_{face}": depth if face == "a" or seed % 3 else 0.0,
        }
    least, at = web.least_thickness(
        case["t"],
        case["e"],
        case["r"],
        *(web.ReliefFace(case[f"beta_{f}"], case[f"p_{f}"], case[f"d_{f}"]) for f in "ab"),
    )
    found = np.inf
    for face in "ab":
        if case[f"d_{face}"] > 0:
            half = np.sqrt(case[f"d_{face}"] * (2 * case["r"] - case[f"d_{face}"]))
            ends = (case[f"p_{face}"] + np.array([-half, half])) * np.cos(case[f"beta_{face}"])
            found = min(found, thickness(np.linspace(ends[0], ends[1], 200_001), case).min())
    # Property: no station of the grid is thinner, and one is nearly as thin: the steps are
    # 1e-4 of a mm, and the steepest face rises 1.3 a mm.
    assert least <= found + 1e-12
    assert least == pytest.approx(found, abs=1e-4)
    assert thickness(at, case) == pytest.approx(float(least), abs=1e-12)


def test_no_relief_has_no_least():
    flat = web.ReliefFace(0.2, 0.0, 0.0)
    least, at = web.least_thickness(3.0, 0.0, 50.0, flat, flat)
    # Property: nothing is the least of no stations.
    assert (float(least), float(at)) == (np.inf, 0.0)


def test_out_of_range_is_refused_by_name():
    one = web.ReliefFace(0.2, 5.0, 0.1)
    with pytest.raises(ValueError, match="edge_thickness_mm"):
        web.least_thickness(1.0, 2.0, 50.0, one, one)
    with pytest.raises(ValueError, match="depth_mm"):
        web.least_thickness(3.0, 0.0, 0.05, one, one)
