"""Curves by their length, against another spline and circles."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import CubicSpline

from planner.formulas.plane_curve import (
    along_arcs,
    along_spline,
    spline_length,
    spline_second_derivatives,
)

X = [0.0, 12.0, 30.0, 41.0, 60.0, 72.0]
Y = [0.0, -1.4, -2.0, -1.2, 2.5, 7.0]


@pytest.mark.parametrize("count", [4, 5, 6])
def test_the_spline_is_that_of_another_library(count):
    # Source: scipy.interpolate.CubicSpline, "not-a-knot", an independent solver.
    theirs = CubicSpline(X[:count], Y[:count], bc_type="not-a-knot")
    found = spline_second_derivatives(X[:count], Y[:count])
    assert found == pytest.approx(theirs(X[:count], 2), abs=1e-12)
    length = quad(lambda x: math.hypot(1, float(theirs(x, 1))), X[0], X[count - 1], limit=200)[0]
    assert spline_length(X[:count], Y[:count]) == pytest.approx(length, abs=1e-7)
    on = along_spline(np.linspace(0, length, 57), X[:count], Y[:count])
    assert on.y_mm == pytest.approx(theirs(on.x_mm), abs=1e-9)
    slope, bend = theirs(on.x_mm, 1), theirs(on.x_mm, 2)
    assert on.heading_rad == pytest.approx(np.arctan(slope), abs=1e-9)
    # At the very ends rounding says whether a place lies on the curve or on its tangent.
    inner = slice(1, -1)
    curved = bend / np.hypot(1, slope) ** 3
    assert on.curvature_per_mm[inner] == pytest.approx(curved[inner], abs=1e-9)


def test_lengths_along_the_spline_are_lengths():
    # Property: places a little apart along the edge lie as far apart in the plane.
    s = np.linspace(0, spline_length(X, Y), 20001)
    on = along_spline(s, X, Y)
    steps = np.hypot(np.diff(on.x_mm), np.diff(on.y_mm))
    assert steps == pytest.approx(np.diff(s), rel=1e-6)


def test_three_points_give_their_parabola():
    # By hand: y = x (4 - x) has the second derivative -2.
    assert spline_second_derivatives([0, 1, 4], [0, 3, 0]) == pytest.approx(np.full(3, -2.0))


def test_arcs_are_circles():
    # By hand: 90 degrees about (0, 10) from the origin, then as far back about (20, 10).
    quarter = math.pi / 2 * 10
    on = along_arcs([0, quarter / 2, quarter, 2 * quarter], [quarter, quarter], [0.1, -0.1], 0.0)
    half = 10 / math.sqrt(2)
    assert on.x_mm == pytest.approx([0, half, 10, 20])
    assert on.y_mm == pytest.approx([0, 10 - half, 10, 20])
    assert on.heading_rad == pytest.approx([0, math.pi / 4, math.pi / 2, 0])


def test_beyond_its_ends_a_curve_goes_on_straight():
    # Property: before and after, the heading is that of the end and the curvature nothing.
    for on in (
        along_arcs([-5.0, 45.0], [20.0, 20.0], [0.02, 0.01], 0.1),
        along_spline([-5.0, spline_length(X, Y) + 5.0], X, Y),
    ):
        assert on.curvature_per_mm == pytest.approx([0.0, 0.0])
    start = along_arcs([0.0, -5.0], [20.0], [0.02], 0.1)
    assert np.hypot(*np.diff(np.stack([start.x_mm, start.y_mm]), axis=1)) == pytest.approx(5.0)
    assert math.atan2(-start.y_mm[1], -start.x_mm[1]) == pytest.approx(0.1)


def test_points_that_do_not_rise_are_refused():
    with pytest.raises(ValueError, match="x_mm"):
        spline_length([0, 2, 2], [0, 1, 2])
    with pytest.raises(ValueError, match="lengths_mm"):
        along_arcs([0.0], [0.0], [0.1], 0.0)
