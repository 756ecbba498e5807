"""The proof's forward frame against the table and the figures of docs/frames.md."""

from __future__ import annotations

import math

import pytest

from planner.proof.frame import nearest_multiple, touch_frame
from planner.proof.target import Face, blade_face


@pytest.fixture
def faces(prove):
    job = prove.job(
        blade__section__included_angle=None,
        blade__section__angle_a="10 deg",
        blade__section__angle_b="15 deg",
        blade__section__edge_thickness="0.2 mm",
    )
    return {name: blade_face(job, name) for name in ("A", "B")}


def test_faces_are_those_of_the_section_frame(faces):
    # By hand: corner (0, +-0.1), u = (cos, s sin), n = (-sin, s cos); width 2.8 / (2 sin).
    for name, side, degrees in (("A", 1, 10), ("B", -1, 15)):
        face, angle = faces[name], math.radians(degrees)
        assert face.corner == (0.0, side * 0.1)
        assert face.along == pytest.approx((math.cos(angle), side * math.sin(angle)))
        assert face.normal == pytest.approx((-math.sin(angle), side * math.cos(angle)))
        assert face.width_mm == pytest.approx(1.4 / math.sin(angle))
        # Property: place and depth undo each other.
        assert face.place_mm(face.point(2.5, 0.3)) == pytest.approx(2.5)
        assert face.depth_mm(face.point(2.5, 0.3)) == pytest.approx(0.3)


# Source: docs/frames.md, the table of set-ups; the angles are 10 deg on face A, 15 deg on face B.
@pytest.mark.parametrize(
    ("flip", "name", "ideal", "cross_sign", "x_at_zero", "x_per_traverse"),
    [
        pytest.param("end_for_end", "A", 10.0, 1, 0.0, 1.0, id="A-end-for-end"),
        pytest.param("over", "A", 10.0, 1, 0.0, 1.0, id="A-over"),
        pytest.param("end_for_end", "B", 15.0, 1, 80.0, -1.0, id="B-end-for-end"),
        pytest.param("over", "B", -15.0, -1, 0.0, 1.0, id="B-over"),
        pytest.param("by_tilt", "A", -80.0, 1, 0.0, 1.0, id="A-by-tilt"),
        pytest.param("by_tilt", "B", 75.0, -1, 0.0, 1.0, id="B-by-tilt"),
    ],
)
def test_a_set_up_is_that_of_the_table(
    faces, flip, name, ideal, cross_sign, x_at_zero, x_per_traverse
):
    face: Face = faces[name]
    frame = touch_frame(face, flip, 80.0, 3.0, 75.0)
    assert frame.ideal_tilt_deg == pytest.approx(ideal)
    cross_dir, infeed_dir = frame.directions(ideal)
    assert cross_dir == pytest.approx([cross_sign * v for v in face.along], abs=1e-12)
    assert infeed_dir == pytest.approx(face.normal, abs=1e-12)
    assert (frame.x_mm(0.0), frame.x_mm(1.0)) == (x_at_zero, x_at_zero + x_per_traverse)
    # By hand: at zero the wheel bares on the face at the middle of the relief.
    bare = frame.centre(0.0, 0.0, ideal)
    assert face.depth_mm(bare) == pytest.approx(-75.0)
    assert face.place_mm(bare) == pytest.approx(3.0)


def test_a_tilt_beside_the_ideal_turns_both_directions(faces):
    frame = touch_frame(faces["A"], "end_for_end", 80.0, 3.0, 75.0)
    # By hand: one degree more turns them from y toward z by one degree: 11 deg.
    eleven = math.radians(11)
    cross_dir, infeed_dir = frame.directions(11.0)
    assert cross_dir == pytest.approx((math.cos(eleven), math.sin(eleven)))
    assert infeed_dir == pytest.approx((-math.sin(eleven), math.cos(eleven)))


def test_the_nearest_multiple_stays_inside_the_range():
    # By hand
    assert nearest_multiple(12.5, 1.0, -30, 30) in (12.0, 13.0)
    assert nearest_multiple(-12.3, 0.5, -30, 30) == -12.5
    assert nearest_multiple(12.5, 5.0, 0, 9) == 5.0
    assert nearest_multiple(12.5, 5.0, 1, 4) == 4
