"""A wheel's circle in a bulging face, against closed forms, flat segments and polygons."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.formulas import segment
from planner.formulas.lens import Lens, sagitta
from planner.formulas.removal import LensRemoval

QUICK = settings(max_examples=80, deadline=None, derandomize=True)
RADII = st.floats(5.0, 400.0)


def test_two_equal_circles_through_each_others_middles():
    # By hand: unit circles 1 apart, so 1 deep: chord sqrt 3, area 2 pi/3 - sqrt(3)/2 (two segments
    # of 120 degrees, the vesica of Euclid, Elements I.1).
    lens = Lens(1.0, 1.0)
    assert lens.chord_of_depth(1.0) == pytest.approx(math.sqrt(3.0), abs=1e-12)
    assert lens.area_of_depth(1.0) == pytest.approx(2 * math.pi / 3 - math.sqrt(3) / 2, abs=1e-12)
    # By hand: both arcs meet at 60 degrees to the chord.
    assert math.degrees(lens.angle_lost_rad(math.sqrt(3.0))) == pytest.approx(120.0, abs=1e-9)
    assert lens.along_face(math.sqrt(3.0)) == pytest.approx(2 * math.pi / 3, abs=1e-12)


def test_a_flat_face_is_that_of_endless_radius():
    # Property: the flat forms (planner/formulas/segment.py, tested by themselves) are the limit.
    depth = np.array([0.001, 0.02, 0.5, 3.0])
    flat, nearly = Lens(75.0), Lens(75.0, 1e9)
    assert flat.chord_of_depth(depth) == pytest.approx(segment.chord_of_depth(75.0, depth))
    assert nearly.chord_of_depth(depth) == pytest.approx(flat.chord_of_depth(depth), rel=1e-6)
    assert flat.area_of_depth(depth) == pytest.approx(segment.segment_area(75.0, depth))
    assert nearly.area_of_depth(depth) == pytest.approx(flat.area_of_depth(depth), rel=1e-6)
    per_depth, per_radius = (
        segment.half_chord_per_depth(75.0, depth),
        segment.half_chord_per_radius(75.0, depth),
    )
    assert flat.end_per_depth(depth) == pytest.approx(per_depth)
    assert flat.end_per_radius(depth) == pytest.approx(per_radius, rel=1e-9)


@QUICK
@given(wheel=RADII, face=RADII, share=st.floats(0.001, 0.3))
def test_chord_and_depth_are_inverse(wheel, face, share):
    # Property: of each other.
    chord = 2 * share * min(wheel, face)
    lens = Lens(wheel, face)
    assert lens.chord_of_depth(lens.depth_of_chord(chord)) == pytest.approx(chord, rel=1e-9)


@QUICK
@given(wheel=RADII, face=RADII, share=st.floats(0.01, 0.3))
def test_the_lens_is_what_two_discs_have_in_common(wheel, face, share):
    # Source: shapely (GEOS), two discs of 4 x 4000 sides, inside their circles by at most
    # r (pi/16000)^2 / 2, over the chord.
    lens = Lens(wheel, face)
    depth = float(lens.depth_of_chord(2 * share * min(wheel, face)))
    discs = (
        shapely.buffer(shapely.Point(0, 0), face, quad_segs=4000),
        shapely.buffer(shapely.Point(0, face + wheel - depth), wheel, quad_segs=4000),
    )
    common = shapely.intersection(*discs)
    low, _, high, _ = common.bounds
    chord = float(lens.chord_of_depth(depth))
    short = (wheel + face) * (math.pi / 16000) ** 2 / 2
    assert common.area == pytest.approx(float(lens.area_of_depth(depth)), abs=1.1 * chord * short)
    # The end of a chord moves further than the depth, by its slope.
    moves = 2.2 * short * float(lens.end_per_depth(depth))
    assert high - low == pytest.approx(chord, abs=moves)


@QUICK
@given(wheel=RADII, face=RADII, share=st.floats(0.02, 0.3))
def test_slopes_are_those_of_small_differences(wheel, face, share):
    # Property: central differences of the end's place along the face, rho asin(h / rho).
    lens = Lens(wheel, face)
    depth = float(lens.depth_of_chord(2 * share * min(wheel, face)))
    step = 1e-5 * depth

    def end(deep, radius=wheel):
        each = Lens(radius, face)
        return float(each.along_face(each.chord_of_depth(deep))) / 2

    slope = (end(depth + step) - end(depth - step)) / (2 * step)
    assert lens.end_per_depth(depth) == pytest.approx(slope, rel=1e-4)
    change = 1e-5 * wheel
    slope = (end(depth, wheel + change) - end(depth, wheel - change)) / (2 * change)
    assert lens.end_per_radius(depth) == pytest.approx(slope, rel=1e-4)


def test_removal_is_the_lens_and_its_slope_the_chord():
    # Property: dA/dh = W, as the spring balance relies on.
    removal = LensRemoval(Lens(75.0, 40.0))
    depth = np.linspace(0.05, 0.5, 400)
    slope = np.gradient(removal.area_mm2(depth), depth)
    assert slope[1:-1] == pytest.approx(removal.width_mm(depth)[1:-1], rel=1e-3)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        pytest.param(lambda: Lens(0.0), "wheel_radius_mm", id="no wheel"),
        pytest.param(lambda: Lens(5.0, -1.0), "face_radius_mm", id="hollow face"),
        pytest.param(lambda: Lens(5.0, 3.0).chord_of_depth(5.1), "depth_mm", id="too deep"),
        pytest.param(lambda: Lens(5.0, 3.0).depth_of_chord(6.1), "half_chord_mm", id="too wide"),
        pytest.param(lambda: Lens(5.0, 3.0).end_per_depth(0.0), "depth_mm", id="bare"),
        pytest.param(lambda: sagitta(4.0, 4.1), "half_chord_mm", id="over the circle"),
    ],
)
def test_out_of_range_is_refused(make, name):
    # Property: the ranges of the docstrings. By hand: 3 and 5 - 4 make 4 the deepest of Lens(5, 3).
    assert Lens(5.0, 3.0).deepest_mm == pytest.approx(4.0)
    with pytest.raises(ValueError, match=name):
        make()
