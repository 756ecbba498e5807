"""The wall of a gouge: arcs that are concentric, equal, off centre; a facet; a smaller rim."""

import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.formulas import wall

SIDES = 20_000
QUICK = settings(max_examples=50, deadline=None, derandomize=True)


def circle(radius, x=0.0, y=0.0):
    """A circle as shapely's polygon; its sides lie within 1e-7 of it."""
    return shapely.Point(x, y).buffer(radius, quad_segs=SIDES // 4).exterior


def ray(angle, x=0.0, y=0.0):
    """A line from a centre, the angle counted from the y axis."""
    return shapely.LineString([(x, y), (x + 99 * np.sin(angle), y + 99 * np.cos(angle))])


def reach(line, outline, x=0.0, y=0.0):
    """How far from (x, y) a line meets an outline."""
    return shapely.Point(x, y).distance(shapely.intersection(line, outline))


@QUICK
@given(st.floats(1, 60), st.floats(0.1, 20), st.floats(-3.1, 3.1))
def test_concentric_arcs_leave_an_even_wall(inside, thickness, angle):
    # Property: the difference of the radii, everywhere.
    assert wall.wall_between_arcs(angle, inside, inside + thickness) == pytest.approx(thickness)


def test_equal_radii_halve_the_wall_at_60_degrees():
    # By hand: t cos 60 is half of t; less R - sqrt(R^2 - t^2 sin^2): 12 - sqrt(144 - 3) = 0.125657.
    found = wall.wall_of_equal_radii(np.radians([0.0, 60.0]), 12.0, 2.0)
    assert found == pytest.approx([2.0, 1.0 - 0.125657], abs=1e-6)
    # Property: of a thin wall, half.
    assert wall.wall_of_equal_radii(np.radians(60.0), 12.0, 1e-3) == pytest.approx(5e-4, rel=1e-3)


@pytest.mark.parametrize("degrees", [0, 20, 60, 85, -40])
@pytest.mark.parametrize(("inside", "outside", "off", "toward"), [
    (12.0, 12.0, 2.0, 0.0), (12.0, 14.2, 0.3, 1.0), (9.0, 12.0, 1.5, -2.5),
])  # fmt: skip
def test_arcs_against_shapely(degrees, inside, outside, off, toward):
    # Source: shapely, a ray from the inside's centre to a circle of 20 000 sides.
    angle = np.radians(degrees)
    outer = circle(outside, off * np.sin(toward), off * np.cos(toward))
    expected = reach(ray(angle), outer) - inside
    found = wall.wall_between_arcs(angle, inside, outside, off, toward)
    assert found == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("degrees", [0, 15, 30, -30])
def test_a_facet_against_shapely(degrees):
    # Source: shapely, the least distance from the facet's point to the outside circle.
    angle = np.radians(degrees)
    point = shapely.Point(11.8 * np.tan(angle), 11.8)
    expected = circle(14.0).distance(point)
    assert wall.wall_over_facet(angle, 11.8, 14.0) == pytest.approx(expected, abs=1e-6)


def test_a_facet_of_a_width_leaves_the_least_at_its_ends():
    # By hand: 12 from the axis, 10 wide: its ends lie at sqrt(144 + 25) = 13 of 14.
    end = np.arctan2(5.0, 12.0)
    angles = np.linspace(-end, end, 41)
    found = wall.wall_over_facet(angles, 12.0, 14.0)
    assert found.min() == pytest.approx(1.0)
    assert found.argmin() in (0, 40)
    assert found.max() == pytest.approx(2.0)
    through = wall.facet_comes_through(12.0, 14.0)
    # Property: there, nothing is left.
    assert wall.wall_over_facet(through, 12.0, 14.0) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("degrees", [0, 25, 50, 90])
def test_a_smaller_rim_against_shapely(degrees):
    # Source: shapely, a ray from the axis through the rim's circle of 20 000 sides.
    angle, rim, inside, outside = np.radians(degrees), 10.0, 11.8, 14.0
    inner = reach(ray(angle), circle(rim, 0.0, inside - rim))
    found = wall.wall_under_rim(angle, rim, inside, outside)
    assert found == pytest.approx(outside - inner, abs=1e-6)
    assert wall.rim_half_width(angle, rim, inside) == pytest.approx(inner * np.sin(angle), abs=1e-6)


@QUICK
@given(st.floats(0.5, 1.0), st.floats(5, 60), st.floats(0.5, 10), st.floats(0, 1.57))
def test_a_smaller_rim_never_thins_the_wall(share, inside, thickness, angle):
    # Property: least in the middle, more toward the ends, even for a rim of the inside's radius.
    found = wall.wall_under_rim(angle, share * inside, inside, inside + thickness)
    assert found >= thickness - 1e-9
    even = wall.wall_under_rim(angle, inside, inside, inside + thickness)
    assert even == pytest.approx(thickness)
    assert found >= even - 1e-9


def test_the_axis_off_the_centre_against_the_arcs():
    # Source: the exact arcs: touched off at the heel, the wall at the tip, the worst direction of
    # 720 looked at; second order (e^2 / R) apart.
    off, sweep = 0.02, np.radians(100.0)
    toward = np.linspace(0, 2 * np.pi, 721)
    walls = [wall.wall_between_arcs(a, 11.8, 14.0, off, toward) for a in (0.0, sweep)]
    lost = (walls[0] - walls[1]).max()
    assert wall.thinned_by_axis(off, sweep) == pytest.approx(lost, abs=2 * off * off / 14.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wall.wall_between_arcs(0.0, -1.0, 2.0), "inside_mm = -1.0"),
        (lambda: wall.wall_between_arcs(0.0, 1.0, 2.0, 2.0), "off_mm over outside_mm = 1.0"),
        (lambda: wall.wall_of_equal_radii(0.0, 1.0, -0.1), "wall_mm = -0.1"),
        (lambda: wall.wall_over_facet(1.58, 1.0, 2.0), "abs(angle_rad) = 1.58"),
        (lambda: wall.facet_comes_through(3.0, 2.0), "facet_mm = 3.0"),
        (lambda: wall.wall_under_rim(0.0, 3.0, 2.0, 4.0), "rim_mm = 3.0"),
        (lambda: wall.wall_under_rim(1.5, 0.5, 2.0, 4.0), "way of the rim's centre, across"),
        (lambda: wall.thinned_by_axis(-0.1, 1.0), "off_mm = -0.1"),
        (lambda: wall.thinned_by_axis(0.1, 7.0), "turned_rad = 7.0"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, message):
    # By hand: outside the ranges of the docstrings.
    with pytest.raises(ValueError, match=re.escape(message)):
        call()
