"""The bending plate, held against beams, an exact integral and a finite-element plate."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import sparse
from scipy.integrate import quad
from scipy.sparse.linalg import spsolve

from planner.formulas.blade_bending import (
    POISSON_STEEL,
    YOUNGS_MODULUS_STEEL_N_MM2,
    edge_deflection,
    plate_compliance,
    series_stiffness,
)

Floats = NDArray[np.float64]
NODES, WEIGHTS = np.polynomial.legendre.leggauss(5)

RELIEVED_Y = np.array([0.0, 1.2, 3.2, 5.4, 6.8, 30.0])
RELIEVED_T = np.array([0.05, 0.55, 0.45, 2.4, 3.0, 3.0])
"""A blade with a deep relief from 1.2 to 5.4 mm: steel thinner there than at the edge land."""


# --- The rival: rectangular elements with 16 freedoms, cubic Hermite in both directions. Deflection
# and slopes are continuous, so the elements converge from the stiff side. Source: F. K. Bogner,
# R. L. Fox & L. A. Schmit, 1966 (from memory); the energy is Timoshenko & Woinowsky-Krieger's.


def hermite(s: Floats, h: float) -> tuple[Floats, Floats, Floats]:
    value = [1 - 3 * s**2 + 2 * s**3, h * (s - 2 * s**2 + s**3)]
    value += [3 * s**2 - 2 * s**3, h * (s**3 - s**2)]
    slope = [
        -6 * s + 6 * s**2,
        h * (1 - 4 * s + 3 * s**2),
        6 * s - 6 * s**2,
        h * (3 * s**2 - 2 * s),
    ]
    bend = [-6 + 12 * s, h * (-4 + 6 * s), 6 - 12 * s, h * (-2 + 6 * s)]
    return np.array(value), np.array(slope) / h, np.array(bend) / h**2


def line_integrals(
    walls: Floats, weight: Callable[[Floats], Floats]
) -> dict[tuple[int, int], sparse.csr_matrix]:
    size = 2 * len(walls)
    parts = {key: np.zeros((size, size)) for key in ((0, 0), (1, 1), (2, 2), (0, 2))}
    for element, (start, end) in enumerate(pairwise(walls)):
        s, h = (NODES + 1) / 2, end - start
        shapes = hermite(s, h)
        at = slice(2 * element, 2 * element + 4)
        amount = WEIGHTS / 2 * h * weight(start + s * h)
        for (i, j), part in parts.items():
            part[at, at] += (shapes[i] * amount) @ shapes[j].T
    return {key: sparse.csr_matrix(part) for key, part in parts.items()}


def line_load(walls: Floats, low: float, high: float) -> Floats:
    load = np.zeros(2 * len(walls))
    for element, (start, end) in enumerate(pairwise(walls)):
        first, last = max(low, start), min(high, end)
        if last > first:
            x = first + (NODES + 1) / 2 * (last - first)
            values = hermite((x - start) / (end - start), end - start)[0]
            load[2 * element : 2 * element + 4] += values @ (WEIGHTS / 2 * (last - first))
    return load / (high - low)


def element_plate(
    y: Floats,
    thickness: Floats,
    overhang: float,
    length: float,
    load_y: tuple[float, float],
    load_x: tuple[float, float],
) -> tuple[float, float]:
    """Mean deflection under a unit load, and deflection of the edge at the load's first end."""
    near = np.linspace(-0.5, 0.5, 9) * overhang
    x_walls = np.concatenate([np.linspace(0, length, 33), load_x[0] + near, load_x[1] + near])
    x_walls = np.unique(np.round(np.clip(x_walls, 0.0, length), 6))
    kinks = np.concatenate([y[y < overhang], load_y])
    y_walls = np.unique(np.round(np.concatenate([np.linspace(0, overhang, 49), kinks]), 6))
    nu, e = POISSON_STEEL, YOUNGS_MODULUS_STEEL_N_MM2
    along = line_integrals(x_walls, np.ones_like)
    across = line_integrals(
        y_walls, lambda at: e * np.interp(at, y, thickness) ** 3 / (12 * (1 - nu**2))
    )
    mixed = sparse.kron(along[0, 2], across[0, 2].T)
    stiffness = sparse.csc_matrix(
        sparse.kron(along[2, 2], across[0, 0])
        + sparse.kron(along[0, 0], across[2, 2])
        + nu * (mixed + mixed.T)
        + 2 * (1 - nu) * sparse.kron(along[1, 1], across[1, 1])
    )
    rows = 2 * len(y_walls)  # the clamp holds the last node's deflection and slope
    free = np.flatnonzero(np.arange(stiffness.shape[0]) % rows < rows - 2)
    load = np.kron(line_load(x_walls, *load_x), line_load(y_walls, *load_y))
    moved = np.zeros(len(load))
    moved[free] = spsolve(stiffness[free][:, free], load[free])
    column = int(np.argmin(np.abs(x_walls - load_x[0])))
    return float(load @ moved), float(moved[2 * column * rows])


CASES = [
    pytest.param([0, 40], [1.0, 1.0], 10, 80, (0.0, 4.0), 8, 0.01, id="even-sheet"),
    pytest.param([0, 10], [0.02, 3.0], 10, 80, (1.2, 5.0), 8, 0.01, id="wedge"),
    pytest.param(RELIEVED_Y, RELIEVED_T, 10, 80, (1.2, 5.4), 20, 0.01, id="relieved"),
    pytest.param(RELIEVED_Y, RELIEVED_T, 25, 80, (1.2, 5.4), 20, 0.01, id="long-overhang"),
    pytest.param(RELIEVED_Y, RELIEVED_T, 10, 30, (1.2, 5.4), 2, 0.02, id="narrow-wheel"),
    pytest.param(
        [0, 1, 3, 5, 7, 9], [0, 0.2, 0.15, 0.2, 2.0, 2.0], 8, 60, (1.0, 5.0), 10, 0.01, id="paper"
    ),
]


# Property: rivals agree; the shapes are restricted, so the module is never the softer by more than
# the elements' own error, and stiffer by no more than the docstring says.
@pytest.mark.parametrize(("y", "t", "overhang", "length", "load_y", "width", "allowed"), CASES)
@pytest.mark.parametrize("where", ["middle", "heel"])
def test_compliance_agrees_with_finite_elements(
    y: list[float],
    t: list[float],
    overhang: float,
    length: float,
    load_y: tuple[float, float],
    width: float,
    allowed: float,
    where: str,
) -> None:
    x = length / 2 if where == "middle" else 0.0
    span = (max(x - width / 2, 0.0), x + width / 2)
    rival, _ = element_plate(np.asarray(y), np.asarray(t), overhang, length, load_y, span)
    ours = float(plate_compliance(t, y, overhang, length, load_y, width, x))
    assert 1 - allowed < ours / rival < 1.002


# Property: rivals agree, at the heel corner of the edge.
def test_edge_deflection_agrees_with_finite_elements() -> None:
    _, rival = element_plate(RELIEVED_Y, RELIEVED_T, 10, 80, (1.2, 5.4), (0.0, 10.0))
    ours = edge_deflection(30.0, RELIEVED_T, RELIEVED_Y, 10, 80, (1.2, 5.4), 20, 0.0)
    assert float(ours) == pytest.approx(30.0 * rival, rel=0.02)


def test_even_load_on_sheet_without_poisson_is_a_beam() -> None:
    # By hand: q a^4 / 8EI is the end of a beam evenly loaded; the mean over it is q a^4 / 20EI,
    # so with F = q a L and I = L t^3 / 12 the compliance is 12 a^3 / (20 E L t^3)
    # = 12 * 1000 / (20 * 200 000 * 50 * 1) = 6.0e-5 mm/N.
    ours = plate_compliance(
        [1.0, 1.0], [0, 10], 10, 50, (0, 10), 100, 25, youngs_modulus_n_mm2=200_000, poisson=0.0
    )
    assert float(ours) == pytest.approx(6.0e-5, rel=1e-3)


def test_even_load_on_wedge_without_poisson_is_a_tapered_beam() -> None:
    # By hand: t = T y/a, M = q y^2/2, EI = E T^3 y^3 / 12 a^3, so 2U = ∫M^2/EI dy
    # = 3 q^2 a^3 / (E T^3) * a^2/2 per length; over (q a)^2: 1.5 a^3 / (E L T^3)
    # = 1500 / (200 000 * 50 * 8) = 1.875e-5 mm/N.
    ours = plate_compliance(
        [0.0, 2.0], [0, 10], 10, 50, (0, 10), 100, 25, youngs_modulus_n_mm2=200_000, poisson=0.0
    )
    assert float(ours) == pytest.approx(1.875e-5, rel=1e-3)


def test_long_edge_loaded_all_along_bends_as_a_plate_strip() -> None:
    # By hand: as the beam above with E/(1 - ν^2) for E: 0.91 * 12 a^3 / (20 E L t^3); the free ends
    # of an edge 200 overhangs long count for less than 0.2 %.
    ours = plate_compliance([1.0, 1.0], [0, 10], 10, 2000, (0, 10), 4000, 1000)
    expected = 0.91 * 12 * 10**3 / (20 * 205_000 * 2000)
    assert float(ours) == pytest.approx(expected, rel=2e-3)


def test_short_edge_bends_as_a_beam_free_to_curl() -> None:
    # By hand: an edge a tenth as long as the overhang is a bar with free sides: the plate factor
    # 1 - ν^2 falls away. 12 a^3 / (20 E L t^3) = 12 000 / (20 * 205 000 * 1 * 1).
    ours = plate_compliance([1.0, 1.0], [0, 10], 10, 1, (0, 10), 10, 0.5)
    assert 0.96 < float(ours) / (12_000 / (20 * 205_000)) < 1.0


def endless_plate_point_load(poisson: float) -> float:
    """w D / (P a^2) under a point load at the free edge of an endless cantilever plate.

    For each wave number k the strip obeys w⁗ - 2k²w″ + k⁴w = 0, so from the clamp
    w = A y sinh ky + B (ky cosh ky - sinh ky); the Fourier integral over k sums the waves.
    """

    def wave(k: float) -> float:
        c, s, nu = np.cosh(k), np.sinh(k), poisson
        matrix = [
            [2 * k * c + (1 - nu) * k**2 * s, k**2 * s + k**3 * c - nu * k**2 * (k * c - s)],
            [
                3 * k**2 * s + k**3 * c - (2 - nu) * k**2 * (s + k * c),
                2 * k**3 * c + k**4 * s - (2 - nu) * k**4 * s,
            ],
        ]
        a, b = np.linalg.solve(np.array(matrix), np.array([0.0, -1.0]))
        return float(a * s + b * (k * c - s))

    low, high = 1e-3, 40.0  # below: the strip's 1/3; above: waves fall as k^-3
    middle = quad(wave, low, high, limit=200)[0]
    return float((low / 3.0 + middle + wave(high) * high / 2.0) / np.pi)


def test_point_load_on_endless_plate_matches_the_exact_integral() -> None:
    coefficient = endless_plate_point_load(0.3)
    # Source: T. J. Jaramillo, Deflections and moments due to a concentrated load on a cantilever
    # plate of infinite length, J. Appl. Mech. 17 (1950); the value 0.168 as reprinted in
    # Timoshenko & Woinowsky-Krieger, 2nd ed., chapter 6 (from memory, so only to 2 %).
    assert coefficient == pytest.approx(0.168, rel=0.02)
    rigidity = 205_000 / (12 * 0.91)
    ours = plate_compliance([1.0, 1.0], [0, 10], 10, 300, (0, 0.02), 0.02, 150)
    assert float(ours) * rigidity / 100 == pytest.approx(coefficient, rel=0.01)  # Property: rivals


# By hand, E w t^3 / (4 a^3) with E 205 GPa, t 0.5, w 10: a 3 -> 2373, a 5 -> 513, a 10 -> 64 N/mm.
@pytest.mark.parametrize(
    ("overhang", "alone"), [(3.0, 2372.7), (5.0, 512.5), (10.0, 64.06)], ids=["3", "5", "10"]
)
def test_neighbours_stiffen_the_strip_under_the_wheel(overhang: float, alone: float) -> None:
    heel, middle = 1.0 / plate_compliance(
        [0.5, 0.5], [0, 20], overhang, 80, (0, 0.02), 10, [0.0, 40.0]
    )
    # Property: cutting the plate on either side of the load can only soften it.
    assert alone < middle < 3 * alone
    assert alone / 2 < heel < middle  # half the wheel is on the blade there


def test_end_of_an_edge_is_two_to_two_and_a_half_times_as_soft() -> None:
    # Property: a wheel much wider than the overhang leaves half its width at the end, a factor of
    # 2; a point load at the corner has no neighbours on one side. Rival for the point: the
    # finite elements of this file on a mesh graded to the corner gave 0.414 / 0.1665 = 2.49.
    ratios = []
    for width in (0.02, 10.0, 80.0):
        heel, middle = plate_compliance([1, 1], [0, 10], 10, 400, (0, 0.02), width, [0, 200])
        ratios.append(heel / middle)
    assert ratios[0] == pytest.approx(2.49, rel=0.01)
    assert 2.0 < ratios[2] < ratios[1] < ratios[0]


def test_heel_and_tip_are_alike() -> None:
    x = np.array([0.0, 3.0, 20.0, 57.0, 60.0])
    ours = plate_compliance(RELIEVED_T, RELIEVED_Y, 12, 60, (1.2, 5.4), 15, x)
    np.testing.assert_allclose(ours, ours[::-1], rtol=1e-9)  # Property: mirror symmetry
    assert ours[0] > ours[1] > ours[2]  # Property: softer toward the end


def test_result_scales_with_size() -> None:
    # Property: all lengths twice as large, half the compliance (the only length and E make mm/N).
    small = plate_compliance(RELIEVED_T, RELIEVED_Y, 12, 60, (1.2, 5.4), 15, 30)
    large = plate_compliance(2 * RELIEVED_T, 2 * RELIEVED_Y, 24, 120, (2.4, 10.8), 30, 60)
    assert float(large) == pytest.approx(float(small) / 2, rel=1e-9)


sections = st.lists(st.floats(0.1, 3.0), min_size=3, max_size=6)


@given(thickness=sections, thinner=st.floats(0.5, 0.95), x=st.floats(0, 40), far=st.floats(1.1, 3))
@settings(max_examples=60, deadline=None)
def test_thinner_and_longer_are_softer(
    thickness: list[float], thinner: float, x: float, far: float
) -> None:
    y = np.linspace(0, 40, len(thickness))
    reference = plate_compliance(thickness, y, 10, 40, (1, 6), 8, x)
    # Property: compliance falls with the cube of a thickness scaled everywhere, and a longer
    # overhang or one thinner place can only soften.
    scaled = plate_compliance(np.multiply(thinner, thickness), y, 10, 40, (1, 6), 8, x)
    assert scaled == pytest.approx(reference / thinner**3, rel=1e-9)
    assert plate_compliance(thickness, y, 10 * far, 40, (1, 6), 8, x) > reference * 0.98
    notched = np.array(thickness)
    notched[1] *= thinner
    assert plate_compliance(notched, y, 10, 40, (1, 6), 8, x) > reference * 0.98
    assert plate_compliance(thickness, y, 10, 40, (1, 6), 8, 0.0) >= reference * (1 - 1e-9)


def test_edge_moves_more_than_the_place_under_the_wheel() -> None:
    place = (RELIEVED_T, RELIEVED_Y, 12, 60, (1.2, 5.4), 15, np.array([0.0, 30.0]))
    under, edge = plate_compliance(*place), edge_deflection(1.0, *place)
    assert np.all(edge > under)  # Property: the edge is farther from the clamp
    np.testing.assert_allclose(edge_deflection(7.0, *place), 7 * edge, rtol=1e-12)  # linear


def test_many_sections_and_stations_equal_one_by_one() -> None:
    thickness = np.linspace(0.8, 1.2, 6).reshape(2, 3)[..., None] * RELIEVED_T
    to = np.array([4.0, 5.0, 5.4])
    x = np.array([[0.0, 10.0], [30.0, 60.0]])
    together = plate_compliance(thickness, RELIEVED_Y, 12, 60, (1.2, to), 15, x)
    assert together.shape == (2, 3, 2, 2)
    for i, j, k in np.ndindex(2, 3, 2):
        alone = plate_compliance(thickness[i, j], RELIEVED_Y, 12, 60, (1.2, to[j]), 15, x[k, 1])
        assert alone.shape == ()
        assert together[i, j, k, 1] == pytest.approx(float(alone), rel=1e-9)


GOOD = {
    "thickness_mm": [0.5, 3.0, 3.0],
    "y_mm": [0.0, 7.0, 20.0],
    "overhang_mm": 10.0,
    "edge_length_mm": 60.0,
    "load_y_mm": (1.0, 5.0),
    "load_width_mm": 10.0,
    "load_x_mm": 30.0,
}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"thickness_mm": [-0.1, 3.0, 3.0]}, r"thickness_mm = -0.1 is outside \[0, 10\]"),
        ({"thickness_mm": [0.5, 0.0, 0.0]}, r"thickness_mm, inside the overhang, = 0.0"),
        ({"thickness_mm": [0.5, 11.0, 3.0]}, r"thickness_mm = 11.0 is outside \[0, 10\]"),
        ({"thickness_mm": [0.5, np.nan, 3.0]}, "thickness_mm = nan"),
        ({"thickness_mm": [0.5, 3.0]}, r"need \(..., n\) and \(n,\)"),
        ({"y_mm": [0.1, 7.0, 20.0]}, "y_mm from 0.1"),
        ({"y_mm": [0.0, 7.0, 7.0]}, "must rise from 0"),
        ({"y_mm": [0.0, 7.0, 9.0]}, r"outside \[0, overhang_mm = 10\]"),
        ({"overhang_mm": 0.0}, r"overhang_mm = 0.0 is outside \(0, inf\)"),
        ({"edge_length_mm": 0.5, "load_x_mm": 0.2}, r"edge_length_mm = 0.5 is outside \[1, inf\)"),
        ({"load_y_mm": (5.0, 5.0)}, r"load_y_mm\[0\] = 5.0"),
        ({"load_y_mm": (1.0, 10.5)}, r"load_y_mm\[1\] = 10.5 is outside \(0, 10\]"),
        ({"load_y_mm": (-0.5, 5.0)}, r"load_y_mm\[0\] = -0.5"),
        ({"load_width_mm": 0.0}, "load_width_mm = 0.0"),
        ({"load_x_mm": 61.0}, r"load_x_mm = 61.0 is outside \[0, 60\]"),
        ({"poisson": 0.5}, "poisson = 0.5"),
        ({"youngs_modulus_n_mm2": 0.0}, "youngs_modulus_n_mm2 = 0.0"),
    ],
)
def test_compliance_refuses_what_is_out_of_range(change: dict[str, object], message: str) -> None:
    arguments: dict[str, object] = {**GOOD, **change}
    with pytest.raises(ValueError, match=message):
        plate_compliance(**arguments)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=message):
        edge_deflection(1.0, **arguments)  # type: ignore[arg-type]


def test_edge_deflection_refuses_a_pull() -> None:
    with pytest.raises(ValueError, match=r"force_n = -1.0 is outside \[0, inf\)"):
        edge_deflection(-1.0, **GOOD)  # type: ignore[arg-type]


def test_series_stiffness_adds_compliances() -> None:
    # By hand: 1/2000 + 1/1000 + 1/500 = 0.0035, so 285.714 N/mm
    assert float(series_stiffness(2000.0, 1000.0, 500.0)) == pytest.approx(285.7142857)
    blades = series_stiffness(2000.0, np.array([500.0, 2000.0]))
    np.testing.assert_allclose(blades, [400.0, 1000.0])  # By hand: 1/(0.0005 + 0.0005)
    assert float(series_stiffness(700.0)) == pytest.approx(700.0)  # Property: a spring alone


@pytest.mark.parametrize("bad", [0.0, -5.0, np.inf, np.nan])
def test_series_stiffness_refuses_what_is_no_spring(bad: float) -> None:
    with pytest.raises(ValueError, match="stiffness_n_mm = "):
        series_stiffness(1000.0, bad)
    with pytest.raises(ValueError, match="at least one"):
        series_stiffness()
