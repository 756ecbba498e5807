"""The spread of the lands: every entry of docs/tolerance.md against exact geometry.

Each blade of a Monte Carlo is a wedge and a wheel of its own; its lands are measured where the
circle crosses the face. Nothing of the planner's formulas is used for that.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
import shapely

from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.scatter.cases import scatter_of_fit
from planner.section.profile import bevel_faces
from planner.section.spread import face_spread, share_in_tolerance, shoulder_moves
from planner.section.target import section_for
from tests.commands import ROOT
from tests.samples import a_job, a_machine

BLADES = 20_000


@dataclass(frozen=True)
class Held:
    """A blade and the wheel at its final position; each field a number or one for each blade."""

    beta: float
    thickness: float
    edge: float
    radius: float
    centre_y: float
    centre_z: float


def measured(held):
    """Edge and shoulder land where the circle crosses the face through (0, e/2)."""
    u = np.array([np.cos(held.beta), np.sin(held.beta)])
    to_y, to_z = held.centre_y, held.centre_z - held.edge / 2
    along = to_y * u[0] + to_z * u[1]
    away = -to_y * u[1] + to_z * u[0]
    half = np.sqrt(held.radius**2 - away**2)
    width = (held.thickness - held.edge) / 2 / np.sin(held.beta)
    return along - half, width - along - half


class Nominal:
    """The nominal set-up of face A of a job."""

    def __init__(self, job, machine):
        wheel = machine.rack[0]
        self.radius = wheel.diameter_mm / 2
        self.section = section_for(job, self.radius)
        self.relief, self.face = self.section.reliefs[0], self.section.faces[0]
        self.spread = face_spread(job, machine, wheel, self.face, self.relief, self.radius)
        self.beta = self.face.angle_rad
        self.thickness = self.section.thickness_mm
        self.edge = self.section.edge_thickness_mm
        self.middle, self.depth = self.relief.middle_mm, self.relief.depth_mm

    def held(self, along, away, *, frame=0.0, **changes):
        """A wheel ``along`` the face from the edge and ``away`` from it; 0 turns the frame."""
        turned = self.beta + frame
        return Held(
            **{
                "beta": self.beta,
                "thickness": self.thickness,
                "edge": self.edge,
                "radius": self.radius,
                "centre_y": along * np.cos(turned) - away * np.sin(turned),
                "centre_z": along * np.sin(turned) + away * np.cos(turned) + self.edge / 2,
                **changes,
            }
        )

    def cause(self, name):
        (found,) = [c for c in self.spread.causes if c.name == name]
        return found


def nominal(job_changes=None, **machine_changes):
    job = a_job(
        blade__section__included_angle="22 deg",
        blade__section__edge_thickness="0.2 mm",
        **(job_changes or {}),
    )
    return Nominal(job, a_machine(**machine_changes))


def normal(sd, seed=1):
    return np.random.default_rng(seed).normal(0.0, sd, BLADES)


def assert_same(cause, sd, lands):
    """The cause's two sensitivities against the slopes of the measured lands."""
    assert cause.sd == pytest.approx(sd, rel=1e-9)
    edge, shoulder = (land - land.mean() for land in lands)
    for per_unit, land in (
        (cause.edge_land_per_unit, edge),
        (cause.shoulder_land_per_unit, shoulder),
    ):
        # A tenth of a per cent of the larger land's spread counts as nothing.
        floor = 1e-3 * max(edge.std(), shoulder.std())
        assert abs(per_unit) * sd == pytest.approx(land.std(), rel=0.02, abs=floor)
    # Property: signs, where both move: the lands move together or against each other.
    if min(edge.std(), shoulder.std()) > 0.01 * max(edge.std(), shoulder.std()):
        sign = np.sign(np.mean(edge * shoulder))
        assert np.sign(cause.edge_land_per_unit * cause.shoulder_land_per_unit) == sign


@pytest.mark.parametrize("name", ["infeed repeatability", "touch-off"])
@pytest.mark.parametrize("diameter", ["30 mm", "150 mm"])
def test_depth(name, diameter):
    at = nominal(rack__0__diameter=diameter)
    deeper = normal(0.003)
    found = measured(at.held(at.middle, at.radius - at.depth - deeper))
    assert_same(at.cause(name), 0.003, found)
    # By hand: the derivative of sqrt(d (2R - d)) is (R - d) / half chord.
    half = at.relief.chord_mm / 2
    assert at.spread.land_change_per_depth == pytest.approx((at.radius - at.depth) / half)


def test_a_step_of_the_infeed_axis_counts_as_uniform():
    at = nominal(axes__Z__resolution="0.010 mm")
    step = np.random.default_rng(2).uniform(-0.005, 0.005, BLADES)
    found = measured(at.held(at.middle, at.radius - at.depth - step))
    # By hand: 0.010 / sqrt 12.
    assert_same(at.cause("infeed resolution"), 0.010 / math.sqrt(12), found)


@pytest.mark.parametrize("diameter", ["30 mm", "150 mm"])
def test_wheel_diameter_with_the_depth_kept_by_touch_off(diameter):
    at = nominal(rack__0__diameter=diameter, rack__0__diameter_error="0.5 mm")
    radius = at.radius + normal(0.5) / 2
    found = measured(at.held(at.middle, radius - at.depth, radius=radius))
    assert_same(at.cause("wheel diameter"), 0.5, found)


@pytest.mark.parametrize(("name", "sd"), [("cross setting", 0.05), ("cross repeatability", 0.02)])
def test_middle_set_along_the_face(name, sd):
    at = nominal(
        fixture__cross_setting="0.05 mm",
        axes__Y__repeatability="0.02 mm",
        axes__Y__resolution="0.0001 mm",
    )
    found = measured(at.held(at.middle + normal(sd), at.radius - at.depth))
    cause = at.cause(name)
    assert_same(replace(cause, sd=sd), sd, found)
    assert cause.sd == pytest.approx(sd, rel=1e-4)
    assert (cause.edge_land_per_unit, cause.shoulder_land_per_unit) == (1.0, -1.0)


def test_thickness_of_blades_touched_off_one_by_one():
    at = nominal({"spread": {"thickness": "0.02 mm", "bevel_angle": "0.1 deg"}})
    thick = at.thickness + normal(0.02)
    found = measured(at.held(at.middle, at.radius - at.depth, thickness=thick))
    assert_same(at.cause("stock thickness"), 0.02, found)
    assert np.ptp(found[0]) == 0.0


@pytest.mark.parametrize("diameter", ["30 mm", "150 mm"])
def test_thickness_of_a_batch_touched_off_once(diameter):
    spread = {"thickness": "0.002 mm", "bevel_angle": "0.1 deg"}
    at = nominal(
        {"spread": spread, "quantity": 10},
        fixture__touch_off_each="batch",
        rack__0__diameter=diameter,
    )
    more = normal(0.002)
    # The lower flank lies on its seat, so the centre plane and with it the whole edge rises by
    # half of what the stock is thicker.
    held = at.held(at.middle, at.radius - at.depth)
    found = measured(
        replace(held, thickness=at.thickness + more, centre_z=held.centre_z - more / 2)
    )
    assert_same(at.cause("stock thickness"), 0.002, found)


ONE_DEGREE = math.radians(1)


def test_bevel_angle_with_the_witness_mark():
    at = nominal({"spread": {"thickness": "0.01 mm", "bevel_angle": "0.1 deg"}})
    more = normal(0.1 * ONE_DEGREE)
    # The mark is set and the wheel touched off on the face that this blade has.
    found = measured(at.held(at.middle, at.radius - at.depth, frame=more, beta=at.beta + more))
    assert_same(at.cause("bevel angle"), 0.1 * ONE_DEGREE, found)
    assert np.ptp(found[0]) < 1e-10


def test_bevel_angle_with_the_middle_set_by_a_stop():
    at = nominal(
        {"spread": {"thickness": "0.01 mm", "bevel_angle": "0.1 deg"}},
        fixture__cross_set_by="stop",
    )
    more = normal(0.1 * ONE_DEGREE)
    # The wheel stands over the stop's place and comes down the nominal normal until it touches
    # the turned face, then d further: down to R / cos, less p tan, over the nominal face.
    touch = at.radius / np.cos(more) + at.middle * np.tan(more)
    found = measured(at.held(at.middle, touch - at.depth, beta=at.beta + more))
    assert_same(at.cause("bevel angle"), 0.1 * ONE_DEGREE, found)


@pytest.mark.parametrize("diameter", ["30 mm", "150 mm"])
def test_bevel_angle_of_a_batch_touched_off_once(diameter):
    spread = {"thickness": "0.01 mm", "bevel_angle": "0.01 deg"}
    at = nominal(
        {"spread": spread, "quantity": 10},
        fixture__touch_off_each="batch",
        rack__0__diameter=diameter,
    )
    more = normal(0.01 * ONE_DEGREE)
    found = measured(at.held(at.middle, at.radius - at.depth, beta=at.beta + more))
    assert_same(at.cause("bevel angle"), 0.01 * ONE_DEGREE, found)


def test_tilt_with_the_middle_set_by_a_stop():
    at = nominal(
        fixture__cross_set_by="stop",
        axes__A__resolution="0.0001 deg",
        axes__A__repeatability="0.05 deg",
    )
    more = normal(0.05 * ONE_DEGREE)
    # The blade is turned about its edge, its bevel angle is right; the wheel comes down the
    # nominal normal and touches the turned face.
    touch = at.radius / np.cos(more) + at.middle * np.tan(more)
    held = at.held(at.middle, touch - at.depth)
    y, z = held.centre_y, held.centre_z - at.edge / 2
    cos, sin = np.cos(more), np.sin(more)
    turned = replace(held, centre_y=y * cos + z * sin, centre_z=z * cos - y * sin + at.edge / 2)
    cause = at.cause("tilt")
    assert_same(replace(cause, sd=0.05 * ONE_DEGREE), 0.05 * ONE_DEGREE, measured(turned))
    assert cause.sd == pytest.approx(0.05 * ONE_DEGREE, rel=1e-3)
    # With the witness mark the same error does nothing.
    assert nominal().cause("tilt").edge_land_sd_mm == 0.0


def test_tilt_set_by_hand_on_a_scale():
    from tests.samples import GONE  # noqa: PLC0415

    at = nominal(
        axes__A=GONE,
        fixture__cross_set_by="stop",
        fixture__hand_tilt={
            "range": ["-30 deg", "30 deg"],
            "resolution": "0.5 deg",
            "repeatability": "0.08 deg",
        },
    )
    cause = at.cause("tilt")
    # By hand: R times the angle in radians, one land wider, the other narrower.
    assert cause.edge_land_sd_mm == pytest.approx(75 * math.radians(0.08))
    assert cause.edge_land_per_unit == -cause.shoulder_land_per_unit


SLOPING = {
    "convex cheeks": ("carving-axe", []),
    "flat cheeks": ("carving-axe", ["blade.section.cheeks=flat"]),
    "flat cheeks, no micro bevel": (
        "carving-axe", ["blade.section.cheeks=flat", "blade.section.bevel_thickness=6 mm"],
    ),
    "outline of its own": ("own-outline", []),
    "level flank": ("straight-knife", []),
}  # fmt: skip


@pytest.mark.parametrize("name", SLOPING)
def test_the_shoulder_moves_as_two_lines_meet(name):
    # Source: shapely. Each blade is a line from the edge and its flank, the flank moved out by half
    # of what the stock is thicker, the face turned about where it begins; the shoulder is where
    # they cross.
    job_name, changes = SLOPING[name]
    job = load_pair(ROOT / "jobs" / f"{job_name}.yaml", None, changes)[0].model
    face = bevel_faces(job.blade.section)[0]
    moves = shoulder_moves(face, job.blade.section)
    start = np.array(face.start_yz_mm)
    flank = np.array(face.flank)

    def length(thicker, turned):
        angle = face.angle_rad + turned
        far = start + 3 * face.width_mm * np.array([math.cos(angle), math.sin(angle)])
        behind = shapely.LineString(flank + np.array([0.0, thicker / 2]))
        meets = shapely.intersection(shapely.LineString([start, far]), behind)
        return float(np.hypot(*(shapely.get_coordinates(meets)[0] - start)))

    assert length(0.0, 0.0) == pytest.approx(face.width_mm, abs=1e-6)
    step = 1e-5
    per_thickness = (length(step, 0.0) - length(-step, 0.0)) / (2 * step)
    per_angle = (length(0.0, step) - length(0.0, -step)) / (2 * step)
    assert moves.per_thickness == pytest.approx(per_thickness, rel=1e-4)
    assert moves.per_angle_mm == pytest.approx(per_angle, rel=1e-4)


def test_a_sloping_flank_moves_the_shoulder_further():
    # By hand: a level flank's 1/(2 sin b) is short by 1/(1 - k), k = tan f / tan b.
    job = load_pair(ROOT / "jobs" / "carving-axe.yaml", None, ["blade.section.cheeks=flat"])[0]
    form = job.model.blade.section
    face = bevel_faces(form)[0]
    k = math.tan(face.flank_rad) / math.tan(face.angle_rad)
    assert k > 0.15
    level = 1 / (2 * math.sin(face.angle_rad))
    assert shoulder_moves(face, form).per_thickness == pytest.approx(level / (1 - k))


@pytest.mark.parametrize("name", ["carving-axe", "own-outline"])
def test_small_errors_drawn_spread_as_the_straight_line_says(name):
    # Property: the exact geometry of --scatter, its errors a hundredth of the usual ones.
    job, shop = load_pair(
        ROOT / "jobs" / f"{name}.yaml",
        None,
        ["spread.thickness=0.0005 mm", "spread.bevel_angle=0.001 deg"],
    )
    small = {"touch_off_mm": 3e-5, "cross_setting_mm": 3e-4}
    fixture = shop.model.fixture.model_copy(update=small)
    axes = {
        letter: axis.model_copy(update={"repeatability_mm": 1e-5, "resolution_mm": 1e-5})
        if axis.role in ("infeed", "cross")
        else axis
        for letter, axis in shop.model.axes.items()
    }
    machine = shop.model.model_copy(update={"fixture": fixture, "axes": axes})
    fit = section_fit(job.model, machine)
    found = scatter_of_fit(job.model, machine, fit, 40_000, 3)
    for land in found.lands:
        assert land.sd_mm == pytest.approx(land.linear_sd_mm, rel=0.02)


# --- all together -----------------------------------------------------------------------------


SAMPLES = 200_000


def exact_share(at, tolerance, shortfall, seed, shared=None):
    """Whether both lands of one face are in tolerance, blade by blade; witness mark, each."""
    rng = np.random.default_rng(seed)
    radius_error, thick, turn = shared or errors_shared(at, seed + 1)
    step, repeat, touch = (
        at.cause(n).sd for n in ("infeed resolution", "infeed repeatability", "touch-off")
    )
    depth = (
        at.depth
        - shortfall
        + rng.uniform(-step * math.sqrt(3), step * math.sqrt(3), SAMPLES)
        + rng.normal(0, repeat, SAMPLES)
        + rng.normal(0, touch, SAMPLES)
    )
    along = at.middle + rng.normal(
        0, math.hypot(at.cause("cross setting").sd, at.cause("cross repeatability").sd), SAMPLES
    )
    radius = at.radius + radius_error
    lands = measured(
        at.held(
            along,
            radius - np.maximum(depth, 1e-6),
            radius=radius,
            thickness=at.thickness + thick,
            frame=turn,
            beta=at.beta + turn,
        )
    )
    wanted = (at.relief.edge_land_mm, at.relief.shoulder_land_mm)
    inside = [np.abs(x - w) <= tolerance for x, w in zip(lands, wanted, strict=True)]
    return inside[0] & inside[1]


def errors_shared(at, seed):
    """What both faces of a blade have in common: wheel, thickness; and each face's own angle."""
    rng = np.random.default_rng(seed)
    return (
        rng.normal(0, at.cause("wheel diameter").sd, SAMPLES) / 2,
        rng.normal(0, at.cause("stock thickness").sd, SAMPLES),
        rng.normal(0, at.cause("bevel angle").sd, SAMPLES),
    )


@pytest.mark.parametrize("shortfall", [0.0, 0.002, 0.004])
@pytest.mark.parametrize("tolerance", ["0.1 mm", "0.25 mm"])
def test_share_of_one_face_against_many_blades(tolerance, shortfall):
    at = nominal({"relief__land_tolerance": tolerance, "relief__faces": "A"})
    width = float(tolerance.split()[0])
    expected = exact_share(at, width, shortfall, seed=7).mean()
    # Sampling: 0.1 %. The rest is the straight line in place of the circle, which counts more
    # the further the depth falls short: 4 um are a tenth of it.
    assert at.spread.share([shortfall]) == pytest.approx(expected, abs=0.01 + 4 * shortfall)


def test_share_of_two_faces_against_many_blades():
    at = nominal()
    radius_error, thick, _ = errors_shared(at, 21)
    both = np.ones(SAMPLES, bool)
    for seed in (31, 41):
        turn = errors_shared(at, seed + 1)[2]
        both &= exact_share(at, 0.25, 0.001, seed, shared=(radius_error, thick, turn))
    # The planner takes the faces as independent; what they share must not matter more than this.
    found = share_in_tolerance([at.spread, at.spread], [[0.001], [0.001]])
    assert found == pytest.approx(both.mean(), abs=0.02)


def test_stations_that_fall_short_differently_must_all_hold():
    at = nominal({"relief__faces": "A"})
    # Each blade has one error at all of its stations: the exact condition is on both at once.
    first, second = (exact_share(at, 0.25, short, seed=7) for short in (0.0005, 0.0035))
    expected = (first & second).mean()
    assert at.spread.share([0.0005, 0.0035]) == pytest.approx(expected, abs=0.02)
    # Property: a wider range never helps.
    assert at.spread.share([0.002, 0.002]) > at.spread.share([0.0, 0.004])
    assert at.spread.share([0.0, 1.0]) == 0.0
