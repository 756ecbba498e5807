"""Grit progressions, stock per step, and the size of contact and chip."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.formulas.abrasive_grain import (
    allowance_from_coarser,
    check_progression,
    chips_per_second,
    contact_length,
    equivalent_chip_thickness,
    equivalent_diameter,
    grit_progression,
    mean_chip_thickness,
    mean_chip_volume,
    removes_scratches,
    scratch_depth,
    specific_removal_rate,
    speed_ratio,
)

INCH = 25.4

# Source: FEPA 43-1 / ISO 6344, mean grain sizes of P grits as reprinted in trade tables; P60 and
# P220 from memory.
P = {"P36": 538.0, "P60": 269.0, "P80": 201.0, "P120": 125.0, "P220": 68.0, "P400": 35.0}


# By hand: 1 / (1/200 + 1/50) = 40; 1 / (1/50 - 1/60) = 300; flat work leaves the wheel's own.
@pytest.mark.parametrize(
    ("wheel", "work", "concave", "expected"),
    [(200, 50, False, 40.0), (50, 60, True, 300.0), (200, math.inf, False, 200.0)],
    ids=["external", "internal", "flat"],
)
def test_equivalent_diameter(wheel: float, work: float, concave: bool, expected: float) -> None:
    ours = equivalent_diameter(wheel, work, concave=concave)
    assert float(ours) == pytest.approx(expected, rel=1e-12)


# By hand: sqrt 2, sqrt 4 and sqrt 12.5.
@pytest.mark.parametrize(
    ("depth", "diameter", "expected"),
    [(0.01, 200, 1.41421356), (0.02, 200, 2.0), (0.05, 250, 3.53553391)],
)
def test_contact_length(depth: float, diameter: float, expected: float) -> None:
    assert float(contact_length(depth, diameter)) == pytest.approx(expected, rel=1e-8)


def test_contact_length_against_the_arc() -> None:
    # Property: the arc from bottom to where the wheel leaves flat work is R acos(1 - a/R); the
    # chord's formula is within the 3 % that the docstring allows at a_e = d_e / 10.
    arc = 100.0 * math.acos(1 - 20.0 / 100.0)
    assert float(contact_length(20.0, 200.0)) == pytest.approx(arc, rel=0.03)


def test_published_surface_grinding_example() -> None:
    # Source: worked example after Kalpakjian & Schmid, Manufacturing Engineering and Technology:
    # a_e 0.02 mm, v_w 200 mm/s, v_s 30 m/s, width 20 mm, 2400 W; printed Q' 4.0 mm3/(mm s), h_eq
    # 0.13 um, u 30 J/mm3. Tolerances: half of the last printed digit.
    rate = float(specific_removal_rate(0.02, 200.0))
    assert rate == pytest.approx(4.0, abs=0.05)
    assert float(equivalent_chip_thickness(0.02, 200.0, 30.0)) == pytest.approx(0.13, abs=0.005)
    assert 2400.0 / (20.0 * rate) == pytest.approx(30.0, abs=0.5)
    assert float(speed_ratio(30.0, 200.0)) == pytest.approx(150.0)  # By hand: 30 000 / 200


def test_textbook_problem_in_inches() -> None:
    # Source: surface-grinding problem in M. P. Groover, Fundamentals of Modern Manufacturing: wheel
    # 8 in, 5000 ft/min, depth 0.002 in, crossfeed 0.15 in, work 20 ft/min, 300 grains/in2. Answers
    # by hand: l_c sqrt(0.016) = 0.126491 in; removal 240 * 0.15 * 0.002 = 0.072 in3/min; chips
    # 60 000 * 0.15 * 300 = 2 700 000 a minute; 0.072 / 2.7e6 = 2.6667e-8 in3 a chip.
    depth, width, grains = 0.002 * INCH, 0.15 * INCH, 300 / INCH**2
    wheel_speed, work_speed = 5000 * 0.3048 / 60, 20 * 304.8 / 60
    assert float(contact_length(depth, 8 * INCH)) / INCH == pytest.approx(0.126491, rel=1e-5)
    removal = float(specific_removal_rate(depth, work_speed)) * width * 60
    assert removal / INCH**3 == pytest.approx(0.072, rel=1e-9)
    chips = 60 * float(chips_per_second(wheel_speed, width, grains))
    assert chips == pytest.approx(2_700_000, rel=1e-9)
    chip = float(mean_chip_volume(depth, work_speed, wheel_speed, grains))
    assert chip / INCH**3 == pytest.approx(2.666667e-8, rel=1e-6)


def test_textbook_problem_in_millimetres() -> None:
    # Source: the same kind of problem: wheel 250 mm, 2600 rev/min, infeed 0.05, crossfeed 3.5 mm,
    # work 6 m/min, 64 grains/cm2. By hand: v_s = pi 250 * 2600 / 60 000 = 34.0339 m/s; sqrt 12.5;
    # 6000 * 3.5 * 0.05 = 1050 mm3/min; 34 033.92 * 60 * 3.5 * 0.64 = 4 574 159 chips a minute;
    # 1050 / 4 574 159 = 2.29550e-4 mm3.
    wheel_speed = math.pi * 250 * 2600 / 60_000
    assert float(contact_length(0.05, 250.0)) == pytest.approx(3.53553391, rel=1e-8)
    assert float(specific_removal_rate(0.05, 100.0)) * 3.5 * 60 == pytest.approx(1050.0)
    assert 60 * float(chips_per_second(wheel_speed, 3.5, 0.64)) == pytest.approx(4_574_159, abs=1)
    chip = float(mean_chip_volume(0.05, 100.0, wheel_speed, 0.64))
    assert chip == pytest.approx(2.295504e-4, rel=1e-6)


@given(
    depth=st.floats(0.001, 0.1),
    work=st.floats(1, 500),
    wheel=st.floats(5, 60),
    diameter=st.floats(20, 500),
    grains=st.floats(0.1, 10),
)
def test_chip_of_mean_thickness_has_the_mean_volume(
    depth: float, work: float, wheel: float, diameter: float, grains: float
) -> None:
    # Property: a triangle 2h high at its end, r h wide on average, l_c long holds h * r h * l_c.
    h_mm = float(mean_chip_thickness(depth, work, wheel, diameter, grains, 12.0)) / 1000
    length = float(contact_length(depth, diameter))
    volume = float(mean_chip_volume(depth, work, wheel, grains))
    assert h_mm * 12.0 * h_mm * length == pytest.approx(volume, rel=1e-9)


def test_allowance_covers_the_scratches_that_charts_report() -> None:
    # Source: two trade charts of R_a by grit on stainless steel (P80: 1.8 to 2.2 um; P36: 3.6 to
    # 6.0; P180 to P220: 0.8), which differ from others by a factor of two: order only.
    for grit, roughness in (("P80", 2.2), ("P36", 6.0), ("P220", 0.8)):
        least, ample = allowance_from_coarser(P[grit])
        assert scratch_depth(roughness)[1] < 1000 * float(least) < 1000 * float(ample)
        assert removes_scratches(float(least), roughness)
    # By hand: 0.3 and 0.6 of 269 and 125 um.
    least, ample = allowance_from_coarser([P["P60"], P["P120"]])
    np.testing.assert_allclose(least, [0.0807, 0.0375])
    np.testing.assert_allclose(ample, [0.1614, 0.075])


def test_scratches_stay_when_the_stock_is_short() -> None:
    # By hand: R_z up to 7 * 2.2 = 15.4 um.
    assert removes_scratches(0.0155, 2.2)
    assert not removes_scratches(0.0153, 2.2)


def test_shop_progression_is_judged_step_by_step() -> None:
    # By hand: 269/125 = 2.152, 125/68 = 1.838, 68/35 = 1.943: only the first goes too far.
    steps = check_progression([P["P60"], P["P120"], P["P220"], P["P400"]])
    assert [round(step.size_ratio, 3) for step in steps] == [2.152, 1.838, 1.943]
    assert [step.is_sensible for step in steps] == [False, True, True]
    assert not any(step.is_usual for step in steps)
    assert steps[0].mean_grain_um == P["P120"]
    assert steps[0].least_stock_mm == pytest.approx(0.0807)  # By hand: 0.3 * 269 um
    assert check_progression([P["P60"]]) == ()
    assert check_progression([150.0, 100.0])[0].is_usual  # By hand: just 1.5


def test_suggested_progression_steps_no_further_than_allowed() -> None:
    # By hand: from 538 to 269 (just 2); 201 and 125: 269/2 = 134.5, so 201 only (125 too fine);
    # 201/2 = 100.5: 125; 68 (62.5); 35 (34).
    suggested = grit_progression(list(P.values()))
    assert suggested == (538.0, 269.0, 201.0, 125.0, 68.0, 35.0)
    assert all(step.is_sensible for step in check_progression(suggested))
    # By hand: with 3 allowed: 538/3 = 179.3, so 201; 67: 68; 35.
    assert grit_progression(list(P.values()), 3.0) == (538.0, 201.0, 68.0, 35.0)


def test_suggested_progression_marks_a_gap() -> None:
    suggested = grit_progression([30.0, 500.0, 400.0, 25.0])
    # By hand: 400 reaches to 200 at most; the next finer is 30, then 25.
    assert suggested == (500.0, 400.0, 30.0, 25.0)
    assert [step.is_sensible for step in check_progression(suggested)] == [True, False, True]


@given(st.lists(st.floats(1, 3000), min_size=1, max_size=12), st.floats(1.2, 4))
def test_suggested_progression_needs_every_step(sizes: list[float], ratio: float) -> None:
    suggested = grit_progression(sizes, ratio)
    assert suggested[0] == max(sizes)
    assert suggested[-1] == min(sizes)
    assert set(suggested) <= set(sizes)
    # Property: no step can be left out, or it would not be the shortest way.
    for first, _, third in zip(suggested, suggested[1:], suggested[2:], strict=False):
        assert first / third > ratio * (1 - 1e-9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: equivalent_diameter(0.0, 50), r"wheel_diameter_mm = 0.0 is outside \(0, inf\)"),
        (lambda: equivalent_diameter(50, 0.0), r"work_diameter_mm = 0.0 is outside \(0, inf\]"),
        (
            lambda: equivalent_diameter(50, 50.0, concave=True),
            r"work_diameter_mm = 50.0 is outside \(50, inf\]",
        ),
        (lambda: equivalent_diameter(50, math.nan), "work_diameter_mm = nan"),
        (lambda: contact_length(21, 200), r"depth_of_cut_mm = 21.0 is outside \[0, 20\]"),
        (lambda: speed_ratio(30, 0.0), r"work_speed_mm_s = 0.0"),
        (lambda: specific_removal_rate(-0.1, 1), r"depth_of_cut_mm = -0.1"),
        (lambda: equivalent_chip_thickness(0.01, 1, 0.0), r"wheel_speed_m_s = 0.0"),
        (lambda: chips_per_second(30, 1, 0.0), r"grains_per_mm2 = 0.0"),
        (lambda: mean_chip_thickness(0.01, 1, 30, 200, 1, 0.5), r"width_per_thickness = 0.5"),
        (lambda: mean_chip_thickness(0.0, 1, 30, 200, 1), r"depth_of_cut_mm = 0.0"),
        (lambda: allowance_from_coarser(0.5), r"mean_grain_um = 0.5 is outside \[1, 3000\]"),
        (lambda: scratch_depth(-1.0), r"mean_roughness_ra_um = -1.0"),
        (lambda: removes_scratches(-0.1, 1.0), r"stock_mm = -0.1"),
        (lambda: check_progression([100, 100]), "100 after 100 is not finer"),
        (lambda: check_progression([]), "need at least one size"),
        (lambda: grit_progression([]), "need at least one size"),
        (lambda: grit_progression([100, 50], 1.0), r"largest_ratio = 1.0 is outside \(1, inf\)"),
        (lambda: grit_progression([100, 5000]), r"mean_grains_um = 5000.0"),
    ],
)
def test_grain_refuses_what_is_out_of_range(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
