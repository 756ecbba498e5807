"""Circle segments against exact tables and the published hollow formula."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.formulas import segment

# Source: exact segment formulas for radius 1, the quantities of the table "Segments of Circles
# for Radius = 1" in Machinery's Handbook (printed table not seen); recomputed with 30-digit
# arithmetic, areas also by quadrature. Columns: angle in degrees, chord, height, area.
RADIUS_ONE = [
    (1, 0.017453071, 3.80769358e-05, 4.4304133e-07),
    (2, 0.0349048129, 0.000152304844, 3.54416869e-06),
    (3, 0.0523538966, 0.000342675024, 1.19606584e-05),
    (10, 0.174311485, 0.00380530191, 0.000442373766),
    (12, 0.209056927, 0.00547810463, 0.000763909711),
    (15, 0.261052384, 0.00855513863, 0.00149017135),
    (20, 0.347296355, 0.015192247, 0.00352285354),
    (30, 0.51763809, 0.0340741737, 0.0117993878),
    (45, 0.765366865, 0.0761204675, 0.0391456911),
    (60, 1.0, 0.133974596, 0.0905860737),
    (90, 1.41421356, 0.292893219, 0.285398163),
    (120, 1.73205081, 0.5, 0.614184849),
    (180, 2.0, 1.0, 1.57079633),
]

# Source: h = R - sqrt(R^2 - c^2/4), recomputed by two routes.
# Columns: wheel diameter, chord, depth, segment area, angle between chord and tangent.
HOLLOWS = [
    (100, 10, 0.250628145, 1.67169363, 5.73917048),
    (150, 10, 0.166852265, 1.11259613, 3.82255373),
    (200, 6, 0.0450101296, 0.180048623, 1.71913132),
    (200, 10, 0.125078223, 0.833959172, 2.86598398),
    (200, 12, 0.180162292, 1.44155821, 3.43981277),
    (200, 20, 0.501256289, 6.68677451, 5.73917048),
    (254, 12.7, 0.158849343, 1.34509275, 2.86598398),
    (300, 15, 0.187617334, 1.87640814, 2.86598398),
    (914.4, 30, 0.246129243, 4.92284992, 1.88012019),
]


@pytest.mark.parametrize(("angle", "chord", "height", "area"), RADIUS_ONE)
def test_segment_of_radius_one_matches_the_table(angle, chord, height, area):
    assert segment.depth_of_chord(1.0, chord) == pytest.approx(height, rel=1e-6)
    assert segment.chord_of_depth(1.0, height) == pytest.approx(chord, rel=1e-6)
    assert segment.segment_area(1.0, height) == pytest.approx(area, rel=2e-6)
    assert angle == pytest.approx(2 * math.degrees(math.asin(min(chord / 2, 1.0))), rel=1e-4)


@pytest.mark.parametrize(("diameter", "chord", "depth", "area", "angle"), HOLLOWS)
def test_hollow_of_a_wheel_matches_published_formula(diameter, chord, depth, area, angle):
    radius = diameter / 2
    assert segment.depth_of_chord(radius, chord) == pytest.approx(depth, rel=1e-8)
    assert segment.segment_area(radius, depth) == pytest.approx(area, rel=1e-7)
    assert math.degrees(segment.edge_angle_lost(radius, chord)) == pytest.approx(angle, rel=1e-8)
    # Property: the parabola c^2/(8R) is low by about (c/D)^2/4.
    parabola = chord**2 / (8 * radius)
    assert 1 - parabola / depth == pytest.approx((chord / diameter) ** 2 / 4, rel=0.05)


@pytest.mark.parametrize(
    ("half_angle", "chord", "diameter", "included"),
    [(12.5, 12, 100, 11.2157948), (12.5, 10, 150, 17.3548925), (15, 20, 300, 22.3548925)],
)
def test_full_hollow_loses_asin_chord_over_diameter_a_side(half_angle, chord, diameter, included):
    # Source: included = 2 (phi - asin(c/D)), recomputed.
    lost = math.degrees(segment.edge_angle_lost(diameter / 2, chord))
    assert 2 * (half_angle - lost) == pytest.approx(included, rel=1e-8)


def test_sensitivity_of_a_200_mm_wheel_on_an_8_mm_chord_is_25():
    # By hand: D/c = 200/8 = 25; exactly (R - h)/(c/2) with h = 0.08.
    depth = segment.depth_of_chord(100.0, 8.0)
    assert segment.half_chord_per_depth(100.0, depth) == pytest.approx(25.0, rel=1e-3)


@given(
    radius=st.floats(5, 1000),
    share=st.floats(1e-6, 0.99),
)
def test_derivatives_match_differences(radius, share):
    depth = share * radius * 0.5
    h = depth * 1e-5
    by_depth = (
        segment.chord_of_depth(radius, depth + h) - segment.chord_of_depth(radius, depth - h)
    ) / (4 * h)
    by_radius = (
        segment.chord_of_depth(radius + h, depth) - segment.chord_of_depth(radius - h, depth)
    ) / (4 * h)
    assert segment.half_chord_per_depth(radius, depth) == pytest.approx(by_depth, rel=1e-5)
    assert segment.half_chord_per_radius(radius, depth) == pytest.approx(by_radius, rel=1e-4)


@given(radius=st.floats(1, 1000), share=st.floats(1e-6, 0.999))
def test_radius_for_inverts_depth(radius, share):
    chord = 2 * radius * share
    depth = float(segment.depth_of_chord(radius, chord))
    assert segment.radius_for(chord, depth) == pytest.approx(radius, rel=1e-9)


def test_functions_broadcast_and_return_arrays():
    depths = segment.depth_of_chord(np.array([50.0, 100.0]), np.array([[4.0], [8.0]]))
    assert depths.shape == (2, 2)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: segment.depth_of_chord(5.0, 11.0), "chord_mm = 11.0"),
        (lambda: segment.depth_of_chord(-5.0, 1.0), "wheel_radius_mm = -5.0"),
        (lambda: segment.chord_of_depth(5.0, 6.0), "depth_mm = 6.0"),
        (lambda: segment.segment_area(5.0, math.nan), "depth_mm = nan"),
        (lambda: segment.half_chord_per_depth(5.0, 0.0), "depth_mm = 0.0"),
        (lambda: segment.radius_for(1.0, 0.6), "depth_mm = 0.6"),
        (lambda: segment.edge_angle_lost(5.0, math.inf), "chord_mm = inf"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, message):
    with pytest.raises(ValueError, match=message.replace(".", r"\.")):
        call()
