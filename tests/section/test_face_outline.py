"""Faces read from outlines: frames, shoulders, tangents of arcs, rounding."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.section.face_outline import direction_at_start, face_outlines, rounded_over

QUICK = settings(max_examples=40, deadline=None, derandomize=True)

WEDGE = [(0.0, 0.0), (6.0, 1.5), (20.0, 1.5), (20.0, -1.5), (8.0, -1.5)]
"""Faces of atan(1.5/6) and atan(1.5/8), a sharp edge."""


def test_both_faces_are_seen_from_the_same_sharp_edge():
    # By hand: shoulders straight from the edge sqrt(36 + 2.25) and sqrt(64 + 2.25) away.
    first, second = face_outlines(WEDGE, (6.0, 8.0))
    assert (first.face, second.face) == ("A", "B")
    assert first.edge_yz_mm == second.edge_yz_mm == (0.0, 0.0)
    assert first.direction_rad == pytest.approx(math.atan(1.5 / 6))
    assert second.direction_rad == pytest.approx(math.atan(1.5 / 8))
    assert first.shoulder_mm == pytest.approx(math.sqrt(38.25))
    assert second.shoulder_mm == pytest.approx(math.sqrt(66.25))
    for face in (first, second):
        _, y = face.bevel()
        assert y == pytest.approx([0, 0], abs=1e-12)
        # By hand: behind the shoulder the flank bends into the steel.
        assert face.y_mm[-1] > 1
    assert not first.is_like(second)


def test_a_blunt_edge_has_a_corner_on_each_side():
    points = [(0.0, 0.2), (6.0, 1.5), (20.0, 1.5), (20.0, -1.5), (6.0, -1.5), (0.0, -0.2)]
    first, second = face_outlines(points, (6.0, 6.0))
    # By hand: z is counted outward on each side.
    assert first.edge_yz_mm == second.edge_yz_mm == (0.0, 0.2)
    assert first.is_like(second)


def test_there_and_back_again():
    # Property: points of a face come back to the section as they were.
    for face, sign in zip(face_outlines(WEDGE, (6.0, 8.0)), (1, -1), strict=True):
        y, z = face.in_section(face.x_mm, face.y_mm)
        found = sorted(zip(y.round(9).tolist(), (sign * z).round(9).tolist(), strict=True))
        assert set(found) <= set(WEDGE)
        assert face.from_section(y, z)[1] == pytest.approx(face.y_mm, abs=1e-12)


@QUICK
@given(st.floats(5, 500), st.floats(0.02, 0.4), st.integers(3, 60), st.floats(-1, 1))
def test_the_tangent_of_an_arc_is_found_from_its_chords(radius, turn, count, start):
    # Property: an arc cut into equal chords begins with its own tangent, not with a chord.
    for sign in (1, -1):
        angles = start + sign * np.linspace(0, turn, count + 1)
        x, y = sign * radius * np.sin(angles), -sign * radius * np.cos(angles)
        found, is_arc = direction_at_start(list(zip(x.tolist(), y.tolist(), strict=True)))
        assert is_arc
        assert found == pytest.approx(start, abs=1e-6)


def test_straight_pieces_are_no_arc():
    # By hand: pieces of different lengths; a straight line in equal steps.
    assert direction_at_start([(0, 0), (1, 0), (3, 0.5), (4, 2)]) == (0.0, False)
    assert direction_at_start([(0, 0), (1, 1), (2, 2), (3, 3)]) == (math.pi / 4, False)
    assert direction_at_start([(0, 0), (0, 1)]) == (math.pi / 2, False)


@QUICK
@given(st.floats(0.1, 2), st.floats(3, 40))
def test_a_rounded_face_is_the_wedge_cut_by_the_circle(reach, radius):
    # Property: against shapely: the wedge without the corner beyond the circle.
    first, second = face_outlines(WEDGE, (6.0, 8.0))
    included = first.direction_rad + second.direction_rad
    found = rounded_over(first, included, reach, radius)
    if reach > radius * math.tan(included / 2):
        assert found is None
        return
    assert found is not None
    y, z = found.in_section(found.x_mm, found.y_mm)
    ring = [*np.column_stack([y, z]).tolist(), (20.0, -1.5), (8.0, -1.5)]
    rounded = shapely.Polygon(ring)
    wedge = shapely.Polygon(WEDGE)
    assert rounded.is_valid
    assert rounded.difference(wedge.buffer(1e-9)).area < 1e-9
    # The new edge lies on the other face, the far part is untouched.
    assert shapely.LineString([(0, 0), (8, -1.5)]).distance(shapely.Point(y[0], z[0])) < 1e-9
    assert found.shoulder_mm < first.shoulder_mm
    x, inward = first.from_section(y, z)
    # Property: every new point is on the circle about (reach, radius) or on the face.
    on_arc = np.abs(np.hypot(x - reach, inward - radius) - radius) < 1e-9
    assert np.all(on_arc | (x >= reach - 1e-9))
    # Property: its own frame begins along the arc's tangent: a circle falls away from it, into the
    # steel, by x^2 / (2 r - y).
    x, y = found.x_mm[1:65], found.y_mm[1:65]
    assert y == pytest.approx(x * x / (2 * radius - y), rel=1e-6, abs=1e-12)


def test_a_reach_beyond_the_straight_stretch_is_not_rounded():
    # By hand: the face is sqrt(38.25) = 6.18 long.
    first, second = face_outlines(WEDGE, (6.0, 8.0))
    included = first.direction_rad + second.direction_rad
    assert rounded_over(first, included, 6.1, 100) is not None
    assert rounded_over(first, included, 6.3, 100) is None
