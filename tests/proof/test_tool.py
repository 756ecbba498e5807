"""The wheel's shape in the section: circles, forms, flats, corners and walls."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from planner.inputs.machine import Machine
from planner.proof.forms import CHORD_ERROR_MM
from planner.proof.frame import touch_frame
from planner.proof.target import blade_face
from planner.proof.tool import (
    RimTool,
    RoundTool,
    Stand,
    contact_along_edge_mm,
    reach_along_edge_mm,
)
from tests.proof.by_hand import PLATEN_MACHINE, RACK_MACHINE

TILT = 12.5


@pytest.fixture
def face(prove):
    return blade_face(prove.job(), "A")


@pytest.fixture
def rim(face):
    frame = touch_frame(face, "end_for_end", 80.0, 3.0, 0.0)

    def build(width, corner=0.0, form=None, height=100.0):
        return RimTool(frame, width, corner, form, height)

    return build


def stand_at(face, place, depth, tilt):
    """A stand with the reference point there."""
    y, z = face.point(place, depth)
    return Stand(y, z, tilt)


def below(tool, face, place, depth, tilt=TILT):
    """The part of a wheel below the face, its lowest point so deep at a place."""
    stand = stand_at(face, place, depth - tool.bare_mm, tilt)
    vertices = tool.below(face, stand)
    plane = shapely.Polygon([face.point(p, d) for p, d in ((-50, 0), (50, 0), (50, 50), (-50, 50))])
    return shapely.intersection(shapely.Polygon(vertices), plane)


def test_a_form_takes_the_segment_of_its_circle(rim, face):
    # By hand: R^2/2 (theta - sin theta), theta = 2 acos(1 - 0.1/20): 0.266567 mm2 of a chord of
    # 2 sqrt(0.1 * 39.9) = 3.995 mm, inside the arc of a rim 8 mm wide.
    theta = 2 * math.acos(1 - 0.1 / 20)
    segment = 200 * (theta - math.sin(theta))
    assert below(rim(8.0, 0.5, 20.0), face, 3.0, 0.1).area == pytest.approx(
        segment, abs=3.995 * CHORD_ERROR_MM
    )


def test_a_form_without_corners_ends_at_its_walls(rim, face):
    # By hand: 0.5 mm down a circle of 5 mm the chord is 2 sqrt(0.5 * 9.5) = 4.359 mm; walls 2 mm to
    # either side of the middle cut two corners off: the area under the arc between them is
    # 2 (x sqrt(R^2 - x^2)/2 + R^2/2 asin(x/R)) - 2 x (R - d) at x = 2.
    under = 2 * (2 * math.sqrt(21) / 2 + 12.5 * math.asin(0.4)) - 4 * 4.5
    assert below(rim(4.0, 0.0, 5.0), face, 3.0, 0.5).area == pytest.approx(under, abs=1e-5)


def test_a_flat_takes_a_strip_less_its_rounded_corners(rim, face):
    assert below(rim(4.0), face, 3.0, 0.3).area == pytest.approx(4 * 0.3)
    # By hand: a corner of radius 0.5 leaves 0.5^2 (1 - pi/4) of a square's corner, where it is
    # wholly below the face.
    rounded = below(rim(4.0, 0.5), face, 3.0, 0.8).area
    assert rounded == pytest.approx(4 * 0.8 - 2 * 0.25 * (1 - math.pi / 4), abs=1e-5)


def test_a_flat_off_its_tilt_takes_a_wedge(rim, face):
    # By hand: one degree off, 2 mm to either side of its middle, which stands on the face: a
    # triangle of 2 mm / cos 1 deg along the face, by 2 tan 1 deg at its wall.
    wedge = below(rim(4.0), face, 3.0, 0.0, tilt=TILT + 1.0).area
    degree = math.radians(1.0)
    assert wedge == pytest.approx(2.0 * 2.0 * math.tan(degree) / 2.0, rel=1e-6)


@pytest.mark.parametrize(("corner", "form"), [(0.0, None), (0.5, None), (0.0, 20.0), (0.5, 20.0)])
def test_the_profile_is_the_lower_outline(rim, face, corner, form):
    tool = rim(6.0, corner, form)
    stand = stand_at(face, 3.0, 0.2 - tool.bare_mm, TILT + 0.3)
    places = np.linspace(-2.0, 8.0, 41)
    profile = tool.profile_mm(face, places, stand)
    body = shapely.Polygon(tool.corners(stand))
    for place, depth in zip(places, profile, strict=True):
        ray = shapely.LineString([face.point(place, -150.0), face.point(place, 50.0)])
        inside = shapely.get_coordinates(shapely.intersection(ray, body))
        if len(inside) == 0:
            # Property: beside the wheel there is no depth.
            assert depth == -math.inf
            continue
        # Property: the deepest point on the ray through the wheel.
        deepest = max(face.depth_mm(tuple(point)) for point in inside)
        assert depth == pytest.approx(deepest, abs=1e-6)


def test_a_corner_s_arc_meets_form_and_wall_without_a_step(rim):
    outline = rim(6.0, 0.5, 20.0)._fine
    turns = np.diff(np.unwrap(np.arctan2(*np.diff(outline[:-2], axis=0).T[::-1])))
    # Property: the outline from wall to wall turns one way, in small steps only.
    assert (turns > -1e-9).all()
    assert turns.max() < 0.01
    # By hand: the rim is 6 mm wide, its lowest point 20 mm below the arc's middle.
    assert outline[:, 0].max() == pytest.approx(3.0)
    assert outline[:, 1].min() == pytest.approx(-20.0)


def test_contact_is_asked_of_the_shape(rim):
    tool = rim(4.0)
    block = shapely.box(0.0, -5.0, 10.0, 0.0)
    # By hand: a line 4 mm wide at tilt 0, 0.01 mm above the block, then on it, then beside it.
    assert not tool.within_reach(Stand(5, 0.01, 0), Stand(5, 0.01, 0), block, 1e-4)
    assert tool.within_reach(Stand(5, 0.00005, 0), Stand(5, 0.00005, 0), block, 1e-4)
    assert not tool.within_reach(Stand(-2.1, -1, 0), Stand(-2.1, -1, 0), block, 1e-4)
    assert tool.within_reach(Stand(-9.0, -1, 0), Stand(20.0, -1, 0), block, 1e-4)


def test_a_circle_has_no_direction(face):
    tool = RoundTool(75.0)
    stands = [stand_at(face, 3.0, 0.02 - 75.0, tilt) for tilt in (0.0, 40.0)]
    # Property: the tilt turns nothing of a circle.
    assert np.array_equal(tool.below(face, stands[0]), tool.below(face, stands[1]))


def test_reach_along_the_edge():
    rack = {wheel.name: wheel for wheel in Machine.model_validate(RACK_MACHINE).rack}
    platen = Machine.model_validate(PLATEN_MACHINE).rack[0]
    # By hand: half the width of 20 mm; sqrt(1 * 149) of a wheel of 150 mm; half of 60 mm.
    assert reach_along_edge_mm(rack["fine"], 1.0) == 10.0
    assert reach_along_edge_mm(rack["flat"], 1.0) == pytest.approx(12.206556)
    assert reach_along_edge_mm(platen, 1.0) == 30.0
    # By hand: half of sqrt(0.05 * 150)
    assert contact_along_edge_mm(rack["flat"]) == pytest.approx(1.369306)
