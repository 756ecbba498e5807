"""Removal and measuring of steel against the exact formulas of the circle."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import shapely

from planner.proof.forms import CHORD_ERROR_MM
from planner.proof.spring import balance
from planner.proof.steel import (
    blank_section,
    measure_lands,
    steel_left_mm,
    swept_wheel,
    wheel_below_face,
)
from planner.proof.target import blade_face, wanted_relief

FACE_MM = 1.5 / math.sin(math.radians(12.5))


def segment_area(radius, depth):
    """Circle segment, R^2/2 (theta - sin theta)."""
    theta = 2 * math.acos(1 - depth / radius)
    return radius**2 / 2 * (theta - math.sin(theta))


@pytest.fixture
def job(prove):
    return prove.job()


@pytest.fixture(params=["A", "B"])
def face(request, job):
    return blade_face(job, request.param)


def ground(job, face, radius, depth, place):
    """The blank after a wheel at a depth and place."""
    centre = face.point(place, depth - radius)
    return shapely.difference(
        blank_section(job), shapely.Polygon(wheel_below_face(face, radius, centre))
    )


def test_the_blank_has_the_area_of_its_triangle_and_rectangle(job):
    # By hand: bevel height 1.5 / tan 12.5 deg; half of 3 mm times it, and 3 mm times the rest.
    height = 1.5 / math.tan(math.radians(12.5))
    assert blank_section(job).area == pytest.approx(1.5 * height + 3 * (20 - height))


@pytest.mark.parametrize(
    ("radius", "depth"),
    [(10.0, 0.001), (10.0, 0.0312), (10.0, 0.5), (75.0, 0.001), (75.0, 0.0312), (500.0, 0.005)],
)
def test_the_wheel_takes_the_circle_s_segment(job, face, radius, depth):
    steel = ground(job, face, radius, depth, 3.4)
    chord = 2 * math.sqrt(depth * (2 * radius - depth))
    assert chord / 2 < min(3.4, FACE_MM - 3.4)
    lands = measure_lands(steel, blank_section(job), face, radius)
    # By hand: (c/2)^2 = d (2 R - d). A chord of the polygon is CHORD_ERROR_MM inside the circle
    # at most, so that the crossing with the face moves by CHORD_ERROR_MM / sin(c / 2R) at most.
    slack = CHORD_ERROR_MM / (chord / (2 * radius)) + 1e-9
    assert lands.edge_land_mm == pytest.approx(3.4 - chord / 2, abs=slack)
    assert lands.shoulder_land_mm == pytest.approx(FACE_MM - 3.4 - chord / 2, abs=slack)
    assert lands.depth_mm == pytest.approx(depth, abs=CHORD_ERROR_MM)
    removed = blank_section(job).area - steel.area
    # Chords fall short of the arc by two thirds of their error on average.
    assert removed == pytest.approx(segment_area(radius, depth), abs=chord * CHORD_ERROR_MM + 1e-9)
    assert removed < segment_area(radius, depth) + 1e-9


def test_the_lands_are_found_to_a_micrometre_for_a_shallow_relief(job, face):
    # By hand: c = 2 sqrt(0.002 * (150 - 0.002)) = 1.095438 mm, the crossing at 0.42 deg.
    lands = measure_lands(ground(job, face, 75.0, 0.002, 3.4), blank_section(job), face, 75.0)
    assert lands.edge_land_mm == pytest.approx(3.4 - 1.095438 / 2, abs=1e-3)


def test_an_unground_face_is_land_all_over(job, face):
    lands = measure_lands(blank_section(job), blank_section(job), face, 75.0)
    assert (lands.edge_land_mm, lands.shoulder_land_mm) == (face.width_mm, face.width_mm)
    assert lands.depth_mm == 0.0


def test_a_wheel_past_the_edge_leaves_a_land_below_zero(job, face):
    # By hand: half the chord is sqrt(0.0312 * (150 - 0.0312)) = 2.163106 mm, so a wheel at 2.1 mm
    # reaches 0.063106 mm past the edge.
    lands = measure_lands(ground(job, face, 75.0, 0.0312, 2.1), blank_section(job), face, 75.0)
    assert lands.edge_land_mm == pytest.approx(-0.063106, abs=1e-4)
    assert lands.shoulder_land_mm == pytest.approx(FACE_MM - 2.1 - 2.163106, abs=1e-4)


def test_a_wheel_past_the_shoulder_leaves_a_land_below_zero(job, face):
    # By hand: the mirror of the case above.
    lands = measure_lands(
        ground(job, face, 75.0, 0.0312, FACE_MM - 2.1), blank_section(job), face, 75.0
    )
    assert lands.shoulder_land_mm == pytest.approx(-0.063106, abs=1e-4)


def test_a_relief_that_just_meets_the_edge_leaves_no_land(job, face):
    half = math.sqrt(0.0312 * (150 - 0.0312))
    lands = measure_lands(ground(job, face, 75.0, 0.0312, half), blank_section(job), face, 75.0)
    assert lands.edge_land_mm == pytest.approx(0.0, abs=1e-4)


def test_a_wheel_above_the_face_has_no_part_below_it(face):
    assert wheel_below_face(face, 75.0, face.point(3.0, -75.0)).shape == (0, 2)


def test_a_moved_wheel_sweeps_a_stadium(face):
    start, end = face.point(3.0, -70.0), face.point(33.0, -70.0)
    # By hand: a disc and a rectangle of 30 mm by 150 mm; inscribed chords 1e-4 mm short.
    area = swept_wheel(face, 75.0, start, end).area
    assert area == pytest.approx(math.pi * 75**2 + 30 * 150, abs=0.06)


def test_steel_left_is_the_land_s_inner_end_or_the_hollow(job):
    face, other = blade_face(job, "A"), blade_face(job, "B")
    relief = wanted_relief(job, face, 75.0)
    steel = ground(job, face, 75.0, relief.depth_mm, relief.middle_mm)
    # By hand: the reliefs start 1.2 mm up each face, where the section is 2 * 1.2 sin 12.5 deg =
    # 0.519457 mm thick; a circle of slope 1.65 deg at its end takes less than the wedge gains.
    left = steel_left_mm(steel, face, relief, other, relief, 75.0)
    assert left == pytest.approx(0.519457, abs=1e-4)
    # One relief alone leaves the same at that place.
    assert steel_left_mm(steel, face, relief, other, None, 75.0) == pytest.approx(
        0.519457, abs=1e-4
    )


def test_steel_left_in_a_deep_hollow_is_in_its_middle(prove):
    job = prove.job(relief__edge_land=None, relief__shoulder_land="1.4 mm", relief__depth="0.5 mm")
    face, other = blade_face(job, "A"), blade_face(job, "B")
    relief = wanted_relief(job, face, 5.0)
    # By hand: c = 2 sqrt(0.5 * 9.5) = 4.358899 mm; edge land 6.930339 - 1.4 - 4.358899 = 1.171440.
    assert relief.edge_land_mm == pytest.approx(1.171440, abs=1e-6)
    steel = ground(job, face, 5.0, 0.5, relief.middle_mm)
    left = steel_left_mm(steel, face, relief, other, None, 5.0)
    # By hand, lower face to circle at y: z_circle = zc - sqrt(25 - (y - yc)^2) with the centre
    # (yc, zc) = 3.350890 u + 4.5 n, face B at z = -y tan 12.5 deg; scanned on 1e-3 mm steps.
    beta = math.radians(12.5)
    yc = 3.350890 * math.cos(beta) - 4.5 * math.sin(beta)
    zc = 3.350890 * math.sin(beta) + 4.5 * math.cos(beta)
    ends = [s * math.cos(beta) for s in (1.171440, 1.171440 + 4.358899)]
    ys = [ends[0] + i * 1e-3 for i in range(int((ends[1] - ends[0]) / 1e-3))]
    expected = min(zc - math.sqrt(25 - (y - yc) ** 2) + y * math.tan(beta) for y in ys)
    assert left == pytest.approx(expected, abs=1e-4)


def test_the_spring_holds_against_the_cut(job, face):
    centre = face.point(3.4, 0.01 - 75.0)
    rest = balance(blank_section(job), wheel_below_face(face, 75.0, centre), face.normal, 2000, 300)
    # By hand: area of a shallow segment 4/3 d sqrt(2 R d); k (0.01 - d) = f a(d) at d = 0.0081816:
    # 2000 * 0.0018184 = 3.637 and 300 * 4/3 * 0.0081816 * sqrt(150 * 0.0081816) = 3.625.
    assert 0.01 - rest.deflection_mm == pytest.approx(0.0081816, abs=1e-5)
    assert 300 * rest.removed_area_mm2 == pytest.approx(2000 * rest.deflection_mm, rel=1e-3)


@pytest.mark.parametrize("stiffness", [5.0, 500.0, 50_000.0])
def test_repeating_a_pass_brings_the_wheel_to_depth(job, face, stiffness):
    steel: shapely.Geometry = blank_section(job)
    wheel = wheel_below_face(face, 75.0, face.point(3.4, 0.02 - 75.0))
    gives = []
    for _ in range(4):
        rest = balance(steel, wheel, face.normal, stiffness, 300.0)
        gives.append(rest.deflection_mm)
        steel = shapely.difference(steel, rest.wheel)
    # Property: each repeat leaves less, and none goes past the commanded depth.
    assert all(later < earlier or earlier < 1e-8 for earlier, later in pairwise(gives))
    assert all(0 <= give < 0.02 for give in gives)
