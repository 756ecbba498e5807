"""A wheel over a surface, against a torus of points."""

import math

import numpy as np
import pytest

from planner.formulas.wheel_support import (
    along_rim,
    centre_over_contact,
    curvature_left,
    flat_rim_digs,
    wheel_curvature,
)
from tests.torus import depth_in_wheel, ends_of, reaches

UP = np.array([0.0, 0.0, 1.0])


def tilted(yaw_deg, lean_deg):
    """A direction across the edge, yawed about the normal and leaned out of the plane."""
    yaw, lean = math.radians(yaw_deg), math.radians(lean_deg)
    level = np.array([-math.sin(yaw), math.cos(yaw), 0.0])
    return math.cos(lean) * level + math.sin(lean) * UP


@pytest.mark.parametrize(("radius", "rim"), [(90.0, 60.0), (60.0, 90.0), (75.0, 75.0)])
@pytest.mark.parametrize("lean", [0.0, 3.0, -20.0])
def test_the_wheel_touches_the_plane_and_is_nowhere_below_it(radius, rim, lean):
    # Property: of the points of the plane only the contact lies on the wheel, none inside it.
    axis = tilted(12.0, lean)
    centre = centre_over_contact(UP, axis, radius, rim)
    assert float(depth_in_wheel(-centre, axis, radius, rim)) == pytest.approx(0.0, abs=1e-12)
    x, y = np.meshgrid(np.linspace(-5, 5, 101), np.linspace(-5, 5, 101))
    plane = np.stack([x, y, np.zeros_like(x)], axis=-1)
    inside = depth_in_wheel(plane - centre, axis, radius, rim)
    assert float(inside.max()) == pytest.approx(0.0, abs=1e-12)
    assert inside.argmax() == 50 * 101 + 50
    # By hand: the contact lies at - c from the middle, so much of it along the axis.
    assert float(along_rim(UP, axis, rim)) == pytest.approx(float(-centre @ axis))


@pytest.mark.parametrize("yaw", [0.0, 10.0, 40.0, 90.0])
def test_the_closed_form_of_a_straight_way(yaw):
    # Source: a torus moved straight over a plane at a yaw leaves r cos^2 + R sin^2 (the radius of
    # an ellipse's projection; the same by hand from the two principal radii).
    radius, rim = 90.0, 60.0
    here = wheel_curvature(UP, [1, 0, 0], [0, 1, 0], tilted(yaw, 0.0), radius, rim)
    left = 1.0 / float(curvature_left(here, 0.0))
    c, s = math.cos(math.radians(yaw)), math.sin(math.radians(yaw))
    assert left == pytest.approx(rim * c * c + radius * s * s)


@pytest.mark.parametrize("yaw", [0.0, 15.0, 50.0])
@pytest.mark.parametrize("bend", [-0.01, 0.0, 0.008])
def test_a_rim_as_round_as_the_wheel_leaves_the_same_at_any_yaw(yaw, bend):
    # Property: R = r is a ball, which has no direction.
    here = wheel_curvature(UP, [1, 0, 0], [0, 1, 0], tilted(yaw, 7.0), 50.0, 50.0)
    assert float(curvature_left(here, bend)) == pytest.approx(1 / 50.0)


@pytest.mark.parametrize(
    ("radius", "rim", "yaw", "bend"),
    [
        (90.0, 60.0, 12.0, -0.004),
        (60.0, 90.0, 15.0, -0.004),
        (20.0, 40.0, 10.0, 0.02),
        (90.0, 60.0, 8.0, 0.006),
    ],
)
def test_the_radius_left_is_that_of_the_wheels_along_an_arc(radius, rim, yaw, bend):
    # Property: wheels that keep their direction along a cylinder (its normal curvature is the
    # bend), and the section of their envelope square to the edge, point by point.
    axis = tilted(yaw, 2.0)
    step = 0.004 / max(abs(bend), 0.004)
    turned = bend * step * np.linspace(-6.0, 6.0, 601)
    # Above 0 the cylinder bends up toward the wheel: its middle line lies above.
    normals = np.stack([-np.sin(turned), 0 * turned, np.cos(turned)], axis=-1)
    points = np.stack([np.sin(turned), 0 * turned, 1 - np.cos(turned)], axis=-1) / bend
    centres = points + centre_over_contact(normals, axis, radius, rim)
    across = np.linspace(-3.0, 3.0, 121)
    starts = np.stack([0 * across, across, 0 * across], axis=-1)
    heights = reaches(centres, axis, radius, rim, starts, UP, 1.0)
    assert float(heights[60]) == pytest.approx(0.0, abs=1e-9)
    here = wheel_curvature(UP, [1, 0, 0], [0, 1, 0], axis, radius, rim)
    left = 1.0 / float(curvature_left(here, bend))
    depth = 0.03
    low, high = ends_of(across, heights, depth)
    # A circle of that radius is as wide at the depth, to a micrometre; each end to five.
    half = math.sqrt(depth * (2 * left - depth))
    assert high - low == pytest.approx(2 * half, abs=1e-3)
    assert [low, high] == pytest.approx([-half, half], abs=5e-3)


def test_a_wheel_that_does_not_fit_leaves_nothing():
    # By hand: a wheel of radius 30 inside an arc of radius 25.
    here = wheel_curvature(UP, [1, 0, 0], [0, 1, 0], [0, 1, 0], 30.0, 40.0)
    assert math.isnan(float(curvature_left(here, 1 / 25.0)))
    assert float(curvature_left(here, 1 / 35.0)) == pytest.approx(1 / 40.0)


def test_a_flat_rim_digs_with_its_corner():
    # By hand: a rim 10 mm wide leaned by an angle of sine 0.02.
    axis = np.array([0.0, math.sqrt(1 - 0.0004), 0.02])
    assert float(flat_rim_digs(UP, axis, 10.0)) == pytest.approx(0.1)
    centre = centre_over_contact(UP, axis, 50.0, math.inf)
    # The rim's middle is over the contact, and the radius long.
    assert float(np.linalg.norm(centre)) == pytest.approx(50.0)
    assert float(centre @ axis) == pytest.approx(0.0, abs=1e-12)


def test_ranges_are_kept():
    with pytest.raises(ValueError, match="wheel_radius_mm"):
        centre_over_contact(UP, [0, 1, 0], -1.0, 5.0)
    with pytest.raises(ValueError, match="n_w"):
        centre_over_contact(UP, UP, 10.0, 5.0)
    with pytest.raises(ValueError, match="rim_radius_mm"):
        along_rim(UP, [0, 1, 0], 0.0)
