"""A face rounded over towards the edge: circle and line, by another way."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.formulas.edge_rounding import rounded_edge


def test_a_square_corner_rounded_by_half_its_reach():
    # By hand: reach 3, radius 5, 90 deg: the circle about (3, 5) meets x = 0 at y = 5 - 4 = 1;
    # there its tangent has turned by asin(3/5).
    back, turned = rounded_edge(3.0, 5.0, math.pi / 2)
    assert back == pytest.approx(1.0)
    assert turned == pytest.approx(math.asin(0.6))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(0.05, 2), st.floats(0.5, 50), st.floats(10, 80))
def test_the_new_edge_is_where_circle_and_other_face_cross(reach, radius, angle):
    # Property: against shapely's crossing of a fine circle with the line, the nearer one.
    included = math.radians(angle)
    reach = min(reach, 0.98 * radius * math.tan(included / 2))
    back, turned = rounded_edge(reach, radius, included)
    ring = shapely.Point(reach, radius).buffer(radius, quad_segs=20000).exterior
    ray = shapely.LineString(
        [(0, 0), (3 * radius * math.cos(included), 3 * radius * math.sin(included))]
    )
    crossings = shapely.get_coordinates(ring.intersection(ray))
    nearest = min(math.hypot(x, y) for x, y in crossings)
    assert back == pytest.approx(nearest, rel=1e-3, abs=1e-6)
    # Property: the edge found is on the circle, and the turn is the angle of its radius.
    x, y = back * math.cos(included), back * math.sin(included)
    assert math.hypot(x - reach, y - radius) == pytest.approx(radius, rel=1e-9)
    assert radius * math.sin(turned) == pytest.approx(reach - x, abs=1e-9)
    assert 0 < turned <= math.pi - included + 1e-9


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((0.0, 1.0, 0.5), "reach_mm = 0.0"),
        ((1.0, 1.0, 0.5), "reach_mm = 1.0"),  # by hand: 1 * tan 0.25 is 0.255
        ((0.1, -1.0, 0.5), "radius_mm = -1.0"),
        ((0.1, 1.0, 0.0), "included_rad = 0.0"),
    ],
)
def test_values_out_of_range_are_refused_by_name(arguments, message):
    # By hand: outside the ranges of the docstring.
    with pytest.raises(ValueError, match=message.replace(".", r"\.")):
        rounded_edge(*arguments)
