"""Honing on a flat stone: lands and edge against exact circles, and against polygons cut away."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.formulas import segment
from planner.formulas.honing import honed_edge, relief_left, touching_spans, turn_of_one_land

QUICK = settings(max_examples=50, deadline=None, derandomize=True)


@QUICK
@given(
    st.floats(0.2, 2), st.floats(0.2, 2), st.floats(1, 8), st.floats(20, 200), st.floats(0, 0.99)
)
def test_the_lands_of_a_flat_face_grow_as_the_circle_says(edge, shoulder, chord, radius, share):
    # Property: the polyline's spans against the exact chord of the depth that is left.
    depth = float(segment.depth_of_chord(radius, chord))
    half = math.asin(chord / (2 * radius))
    angles = np.linspace(-half, half, 4001)
    middle = edge + chord / 2
    x = np.concatenate([[0], middle + radius * np.sin(angles), [edge + chord + shoulder]])
    y = np.concatenate([[0], radius * np.cos(angles) - (radius - depth), [0]])
    y[1] = y[-2] = 0.0
    gone = share * depth
    left = float(relief_left(radius, depth, gone))
    assert left == pytest.approx(segment.chord_of_depth(radius, depth - gone))
    first, last = touching_spans(x, y, gone)
    assert first == pytest.approx((0.0, middle - left / 2), abs=1e-3)
    assert last == pytest.approx((middle + left / 2, edge + chord + shoulder), abs=1e-3)
    assert len(touching_spans(x, y, depth * 1.001)) == 1


@QUICK
@given(st.floats(0.0, 0.3), st.floats(0.0, 0.3), st.floats(8, 80))
def test_the_edge_goes_back_to_where_the_honed_faces_meet(gone, other, angle):
    # Property: a wedge with two layers cut away by shapely; x is along the first face.
    included = math.radians(angle)
    far = 20.0
    direction = np.array([math.cos(included), math.sin(included)])
    inward = np.array([math.sin(included), -math.cos(included)])
    wedge = shapely.Polygon([(0, 0), (far, 0), tuple(far * direction)])
    above = shapely.box(-far, gone, 2 * far, 2 * far)
    start = other * inward
    beyond = shapely.Polygon(
        [
            tuple(start - far * direction),
            tuple(start + 2 * far * direction),
            tuple(start + 2 * far * direction + far * inward),
            tuple(start - far * direction + far * inward),
        ]
    )
    left = wedge.intersection(above).intersection(beyond)
    corner = min(shapely.get_coordinates(left).tolist())
    assert honed_edge(gone, other, included) == pytest.approx(corner[0], abs=1e-9)


def test_both_faces_alike_take_the_edge_back_by_h_over_tan_of_the_half_angle():
    # By hand: 0.01 / tan 12.5 deg = 0.0451.
    assert honed_edge(0.01, 0.01, math.radians(25)) == pytest.approx(0.045107, abs=1e-6)
    # By hand: a land of 1.2 with 2 um off one end: 0.002 / 1.2 rad.
    assert math.degrees(turn_of_one_land(0.002, 1.2)) == pytest.approx(0.0955, abs=5e-5)


def test_a_convex_face_touches_in_one_place_that_widens():
    # By hand: a circle of 50 touching the stone at x = 3: after h it touches over 2 sqrt(2 R h).
    x = np.linspace(0, 6, 6001)
    y = 50 - np.sqrt(2500 - (x - 3) ** 2)
    (span,) = touching_spans(x, y, 0.01)
    assert span[1] - span[0] == pytest.approx(2 * math.sqrt(0.01 * 99.99), abs=1e-3)
    assert sum(span) / 2 == pytest.approx(3, abs=1e-3)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: touching_spans([0, 2, 1], [0, 0, 0], 0.1), "rise of x_mm = -1.0"),
        (lambda: touching_spans([0, 1], [0, 0], -0.1), "gone_mm = -0.1"),
        (lambda: honed_edge(-0.1, 0.0, 0.5), "gone_mm = -0.1"),
        (lambda: honed_edge(0.0, -0.1, 0.5), "other_gone_mm = -0.1"),
        (lambda: honed_edge(0.1, 0.1, 0.0), "included_rad = 0.0"),
        (lambda: relief_left(50.0, 0.1, 0.2), "gone_mm = 0.2"),
        (lambda: turn_of_one_land(0.1, 0.0), "land_mm = 0.0"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, message):
    # By hand: outside the ranges of the docstrings.
    with pytest.raises(ValueError, match=message.replace(".", r"\.")):
        call()
