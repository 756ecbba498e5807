"""Wear of wheels and belts through a batch, and what it does to the lands."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.formulas.wheel_wear import (
    TouchOff,
    belt_specific_energy,
    blades_per_belt,
    blades_per_wheel,
    blades_within_share,
    diameters_for_fixed_chord,
    diameters_for_fixed_depth,
    land_growth,
    radial_wear,
    tolerance_share,
    wear_for_land_growth,
    wear_through_batch,
)

DEPTH = 29 - math.sqrt(841 - 20.25)
SMALL = (126.0, 30.0, 4.0)
"""Volume per blade in mm3, G and active width in mm of a hook blade's hollow, chord 9 mm, on a form
wheel of 58 mm."""


def blades_for(
    share: float, touch_off: TouchOff, depth_mm: float = DEPTH, tolerance_mm: float = 0.2
) -> int:
    return blades_within_share(
        58.0,
        *SMALL,
        depth_mm=depth_mm,
        land_tolerance_mm=tolerance_mm,
        share=share,
        touch_off=touch_off,
    )


# By hand: V/(G pi D W): 126/(30 pi 58 4) = 0.0057626; with G 1000: 0.00017288; on 200 x 10 with
# G 30: 126/(30 pi 200 10) = 0.00066845. Over 50 blades: 0.288, 0.0086, 0.0334 mm. The annulus is
# longer inside than this first-order figure by r/D, 1e-4.
@pytest.mark.parametrize(
    ("g_ratio", "diameter", "width", "expected"),
    [(30, 58, 4, 0.0057626), (1000, 58, 4, 0.00017288), (30, 200, 10, 0.00066845)],
    ids=["form-wheel", "cbn", "large-wheel"],
)
def test_radial_wear_of_one_blade(
    g_ratio: float, diameter: float, width: float, expected: float
) -> None:
    assert float(radial_wear(126.0, g_ratio, diameter, width)) == pytest.approx(expected, rel=2e-4)


def test_radial_wear_is_that_of_an_annulus() -> None:
    # By hand: from D 10 to D 8 over W 1 is pi (25 - 16) = 9 pi mm3 of wheel; G 2 removes 18 pi.
    assert float(radial_wear(18 * math.pi, 2.0, 10.0, 1.0)) == pytest.approx(1.0, rel=1e-12)
    # By hand: the whole wheel, pi 25 mm3, and no more.
    assert float(radial_wear(25 * math.pi, 1.0, 10.0, 1.0)) == pytest.approx(5.0, rel=1e-6)
    with pytest.raises(ValueError, match=r"worn area of the wheel's side, over pi, mm2 = 26.0"):
        radial_wear(26 * math.pi, 1.0, 10.0, 1.0)


def test_batch_without_dressing_wears_one_volume_a_blade() -> None:
    batch = wear_through_batch(50, 58.0, *SMALL)
    assert batch.start_mm.shape == batch.end_mm.shape == (50,)
    assert batch.start_mm[0] == 58.0
    np.testing.assert_array_equal(batch.start_mm[1:], batch.end_mm[:-1])
    # Property: blade by blade with radial_wear gives the same diameters.
    diameter = 58.0
    for end in batch.end_mm:
        diameter -= 2.0 * float(radial_wear(126.0, 30.0, diameter, 4.0))
        assert end == pytest.approx(diameter, rel=1e-12)
    # By hand: 50 * 126 / 30 = 210 mm3 of wheel; D^2 = 3364 - 4*210/(4 pi) = 3297.15, D = 57.4208.
    assert batch.end_mm[-1] == pytest.approx(57.4208, abs=1e-4)
    # Property: what is added at the start of a blade is the wear of those before it.
    np.testing.assert_allclose(
        batch.compensation_mm, np.concatenate([[0.0], np.cumsum(batch.wear_mm)[:-1]]), atol=1e-12
    )


def test_batch_with_dressing_steps_after_every_nth_blade() -> None:
    plain = wear_through_batch(4, 58.0, *SMALL)
    dressed = wear_through_batch(7, 58.0, *SMALL, dress_every=3, dress_depth_mm=0.025)
    np.testing.assert_array_equal(dressed.end_mm[:3], plain.end_mm[:3])
    steps = (dressed.end_mm[:-1] - dressed.start_mm[1:]) / 2.0
    # By hand: 0.025 mm of radius after blades 3 and 6, none elsewhere.
    np.testing.assert_allclose(steps, [0, 0, 0.025, 0, 0, 0.025], atol=1e-12)
    # By hand: to blade 7, six blades' wear of about 0.00576 and two dressings: 0.0846.
    assert dressed.compensation_mm[-1] == pytest.approx(6 * 0.0057626 + 0.05, rel=2e-3)
    again = wear_through_batch(1, float(dressed.start_mm[3]), *SMALL)
    assert dressed.end_mm[3] == pytest.approx(float(again.end_mm[0]), rel=1e-12)  # Property


def test_batch_refuses_a_wheel_that_is_used_up() -> None:
    with pytest.raises(ValueError, match=r"wheel_diameter_mm = 10.0 is used up between blades 1"):
        wear_through_batch(3, 10.0, 40 * math.pi, 1.0, 1.0)
    with pytest.raises(ValueError, match="used up between blades 3 and 4 of 9"):
        wear_through_batch(9, 20.0, 1.0, 30.0, 4.0, dress_every=2, dress_depth_mm=10.5)


def test_blades_per_wheel_counts_what_the_batch_shows() -> None:
    # By hand: (58^2 - 50^2) pi G W / 4V = 864 * pi * 30 * 4 / 504 = 646.3
    assert blades_per_wheel(58.0, 50.0, *SMALL) == 646
    for every, depth in ((5, 0.025), (15, 0.01), (1, 0.3)):
        blades = blades_per_wheel(58.0, 50.0, *SMALL, dress_every=every, dress_depth_mm=depth)
        batch = wear_through_batch(
            blades + 1, 58.0, *SMALL, dress_every=every, dress_depth_mm=depth
        )
        # Property: the last counted blade ends above the least diameter, the next one does not.
        assert batch.end_mm[blades - 1] >= 50.0 > batch.end_mm[blades]


def test_blades_per_wheel_at_exactly_the_least_diameter() -> None:
    # By hand: 1 blade takes D^2 from 100 to 64, to the last digit; half a volume more does not fit.
    assert blades_per_wheel(10.0, 8.0, 9 * math.pi, 1.0, 1.0) == 1
    assert blades_per_wheel(10.0, 8.0, 9.01 * math.pi, 1.0, 1.0) == 0
    # By hand: a dressing of 1 mm after it brings the wheel to 6, below 8: still the one blade.
    assert blades_per_wheel(10.0, 8.0, 9 * math.pi, 1, 1, dress_every=1, dress_depth_mm=1.0) == 1


# By hand, first order: each blade touched off, (d/a) r; once a batch, (R/a) r. R 29, chord 9, so
# a 4.5, d = 29 - sqrt(841 - 20.25) = 0.35129; r 0.005: 0.00039032 and 0.032222.
@pytest.mark.parametrize(
    ("touch_off", "expected"), [("blade", 0.00039032), ("batch", 0.032222)], ids=str
)
def test_land_growth_for_small_wear(touch_off: TouchOff, expected: float) -> None:
    grown = land_growth(29.0, DEPTH, 0.005, touch_off)
    assert float(grown) == pytest.approx(expected, rel=0.01)  # second order: r/2d = 0.7 %


def test_land_growth_exact_triangles() -> None:
    # By hand: R 5, d 2: a = 4. Wear 1.75 at depth 2: a^2 = 2 (6.5 - 2) = 9, a = 3: 1 mm a land.
    assert float(land_growth(5.0, 2.0, 1.75, "blade")) == pytest.approx(1.0, rel=1e-12)
    # By hand: wear 1 leaves R 4, d 1: a^2 = 1 * 7; 4 - sqrt 7.
    assert float(land_growth(5.0, 2.0, 1.0, "batch")) == pytest.approx(4 - math.sqrt(7), rel=1e-12)
    # By hand: worn by more than the depth, the wheel does not reach the steel: all 4 mm are lost.
    assert float(land_growth(5.0, 2.0, 2.5, "batch")) == pytest.approx(4.0, rel=1e-12)


@given(
    radius=st.floats(10, 200),
    depth_share=st.floats(1e-4, 0.2),
    growth_share=st.floats(0, 0.5),
    touch_off=st.sampled_from(["blade", "batch"]),
)
def test_wear_and_growth_are_inverse(
    radius: float, depth_share: float, growth_share: float, touch_off: TouchOff
) -> None:
    depth = depth_share * radius
    growth = growth_share * math.sqrt(depth * (2 * radius - depth))
    wear = wear_for_land_growth(radius, depth, growth, touch_off)
    back = land_growth(radius, depth, wear, touch_off)
    assert float(back) == pytest.approx(growth, rel=1e-9, abs=1e-9)  # Property: round trip
    # Property: one touch-off for the batch is never the better.
    other = wear_for_land_growth(radius, depth, growth, "blade")
    assert float(other) >= float(wear) - 1e-12


def test_blades_until_the_tolerance_is_used() -> None:
    # By hand: +0.0371 a land and blade (29 * 0.0057626 / 4.5): 0.2 / 0.0371 = 5.4, half of it 2.7.
    assert blades_for(1.0, "batch") == 5
    assert blades_for(0.5, "batch") == 2
    # Property: the batch's own diameters say the same.
    count = blades_for(1.0, "blade")
    batch = wear_through_batch(count + 1, 58.0, *SMALL)
    grown = land_growth(29.0, DEPTH, 29.0 - batch.end_mm / 2.0, "blade")
    shares = tolerance_share(grown, 0.2)
    assert shares[count - 1] <= 1.0 < shares[count]
    # By hand: a tolerance wider than the relief: blades until the wheel no longer touches, d / r.
    assert blades_for(1.0, "batch", tolerance_mm=9.0) == 60


@given(
    diameter=st.floats(30, 300),
    depth=st.floats(0.02, 1.0),
    tolerance=st.floats(0.02, 0.5),
)
def test_windows_of_diameter_end_at_the_tolerance(
    diameter: float, depth: float, tolerance: float
) -> None:
    half_chord = math.sqrt(depth * (diameter - depth))
    low, high = diameters_for_fixed_depth(diameter, depth, tolerance)
    # Property: at either end half the chord is off by just the tolerance (Euclid, III.35).
    assert low < diameter < high
    assert math.sqrt(depth * (high - depth)) == pytest.approx(half_chord + tolerance, rel=1e-9)
    if half_chord - tolerance > depth:
        assert math.sqrt(depth * (low - depth)) == pytest.approx(half_chord - tolerance, rel=1e-9)

    share = depth / 4.0
    low, high = diameters_for_fixed_chord(diameter, 2 * half_chord, share)
    assert low < diameter < high
    for end, expected in ((low, depth + share), (high, depth - share)):
        left = end / 2 - math.sqrt((end / 2) ** 2 - half_chord**2)
        assert left == pytest.approx(expected, rel=1e-6)


def test_windows_without_an_end() -> None:
    # By hand: chord 8 on D 10 is 2 deep; a tolerance of 2 lets the wheel be flat, and of 9 the half
    # disc of the chord, D 8.
    low, high = diameters_for_fixed_chord(10.0, 8.0, np.array([2.0, 9.0]))
    np.testing.assert_allclose(low, [16 / 4 + 4, 8.0])
    np.testing.assert_array_equal(high, [np.inf, np.inf])
    # By hand: a = 4 with a tolerance of 3 stops at the half disc of depth 2, D 4.
    low, _ = diameters_for_fixed_depth(10.0, 2.0, 3.0)
    assert float(low) == pytest.approx(4.0)


def test_belt_dulls_along_a_straight_line() -> None:
    # By hand: 20 (1 + v/8) J/mm3 at v = 0, 4, 8.
    energies = belt_specific_energy(20.0, [0.0, 4.0, 8.0], 8.0)
    np.testing.assert_allclose(energies, [20.0, 30.0, 40.0])
    # By hand: retired at 1.5 times the power after 4 mm3/mm2; 50 x 1830 mm of belt and 3660 mm3
    # a blade: 4 * 91 500 / 3660 = 100 blades.
    assert blades_per_belt(3660.0, 50 * 1830.0, 8.0) == 100
    assert blades_per_belt(3660.0, 50 * 1830.0, 8.0, retire_power_ratio=1.25) == 50
    # Property: the blade that is one too many is above the ratio.
    assert float(belt_specific_energy(1.0, 101 * 3660 / 91_500, 8.0)) > 1.5


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: radial_wear(-1.0, 30, 58, 4), r"removed_volume_mm3 = -1.0 is outside \[0, inf\)"),
        (lambda: radial_wear(1.0, 0.0, 58, 4), r"g_ratio = 0.0 is outside \(0, inf\)"),
        (lambda: radial_wear(1.0, 30, 0.0, 4), r"wheel_diameter_mm = 0.0"),
        (lambda: radial_wear(1.0, 30, 58, math.nan), r"active_width_mm = nan"),
        (lambda: wear_through_batch(0, 58, *SMALL), r"quantity = 0.0 is outside \[1, inf\)"),
        (lambda: wear_through_batch(2, 58, *SMALL, dress_every=0), r"dress_every = 0.0"),
        (lambda: wear_through_batch(2, 58, *SMALL, dress_depth_mm=-0.1), "dress_depth_mm = -0.1"),
        (lambda: blades_per_wheel(50, 50, *SMALL), r"least_diameter_mm = 50.0 is outside"),
        (lambda: blades_per_wheel(50, 40, 0.0, 30, 4), r"removed_volume_mm3 = 0.0"),
        (lambda: land_growth(29, 0.0, 0.01, "blade"), r"depth_mm = 0.0 is outside \(0, inf\)"),
        (lambda: land_growth(29, 0.3, 28.8, "batch"), r"radial_wear_mm = 28.8"),
        (lambda: land_growth(29, 0.3, -0.1, "batch"), r"radial_wear_mm = -0.1"),
        (lambda: wear_for_land_growth(5, 2, 4.1, "batch"), r"land_growth_mm = 4.1"),
        (lambda: wear_for_land_growth(5, 2, 2.1, "blade"), r"land_growth_mm = 2.1"),
        (lambda: tolerance_share(0.1, 0.0), r"land_tolerance_mm = 0.0"),
        (lambda: blades_for(1.1, "batch"), r"share = 1.1"),
        (lambda: blades_for(1.0, "batch", depth_mm=30.0), r"depth_mm = 30.0"),
        (lambda: diameters_for_fixed_depth(10, 2, 0.0), r"land_tolerance_mm = 0.0"),
        (lambda: diameters_for_fixed_chord(10, 8, 0.0), r"depth_tolerance_mm = 0.0"),
        (lambda: belt_specific_energy(10, 1, 0.0), r"doubling_mm3_mm2 = 0.0"),
        (lambda: blades_per_belt(100, 2000, 2, retire_power_ratio=1.0), "retire_power_ratio = 1.0"),
    ],
)
def test_wear_refuses_what_is_out_of_range(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
