"""The mark of a light touch, against figures by hand and a touch that is really made."""

import dataclasses
import math
from functools import partial

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.kinematics.held import as_held
from planner.kinematics.settings import hand_cross_mm
from planner.plan import section_with
from planner.section.wheel_shape import is_round
from planner.section.witness_mark import witness_mark
from planner.section.works import works_for
from tests.samples import JOB, MACHINE, a_job, a_machine

OPERATIONS = [
    {"do": "bevel", "wheel": "flat", "stages": 2},
    {"do": "relief", "wheel": "fine"},
    {"do": "lands", "wheel": "flat"},
]
FLAT = {
    **MACHINE["rack"][0], "name": "flat", "contact": "across_edge", "diameter": "200 mm",
    "width": "12 mm", "marked_speed": "4000 rpm",
}  # fmt: skip
FORM = {**FLAT, "name": "fine", "form_radius": "60 mm"}


def works(job=None, **machine):
    """What each set-up grinds, as a plan has it; its passes are not needed here."""
    job, shop = job or a_job(), a_machine(**machine)
    wheel = next(w for w in shop.rack if job.relief_wheel in (None, w.name) and is_round(w))
    section = as_held(job, shop, section_with(job, shop, wheel))
    found = works_for(job, section, wheel, shop.rack, partial(hand_cross_mm, shop))
    return {work.name: work for work in found}


@pytest.fixture(scope="module")
def from_the_bar():
    job = a_job(operations=OPERATIONS, wheel=None, blade__section__edge_thickness="0.4 mm",
                relief__land_tolerance="0.5 mm", relief__share_in_tolerance=0)  # fmt: skip
    return works(job, rack=[MACHINE["rack"][0], FLAT])


def test_a_round_wheel_leaves_a_band_around_the_middle():
    mark = witness_mark(works()["A"], 0.003)
    # By hand: 2 sqrt(2 * 75 * 0.003 - 0.003^2) = 2 sqrt(0.449991) = 1.341628.
    assert mark.width_mm == pytest.approx(1.341628, abs=1e-6)
    # By hand: face (3 / 2) / sin 12.5 deg = 6.930346; middle 1.2 + (6.930346 - 2.6) / 2.
    assert mark.middle_mm == pytest.approx(1.2 + (1.5 / math.sin(math.radians(12.5)) - 2.6) / 2)
    assert (mark.from_mm + mark.to_mm) / 2 == pytest.approx(mark.middle_mm, abs=1e-12)
    # By hand: a wheel along the edge marks as long as it is wide.
    assert (mark.along_mm, mark.seen, mark.cut_short) == (20.0, "band", False)


def test_a_form_leaves_an_oval():
    mark = witness_mark(works(rack=[FORM])["A"], 0.003)
    # By hand: across 2 sqrt(2 * 60 * 0.003 - 9e-6), along 2 sqrt(200 * 0.003 - 9e-6).
    assert mark.width_mm == pytest.approx(2 * math.sqrt(0.36 - 9e-6), rel=1e-12)
    assert mark.along_mm == pytest.approx(2 * math.sqrt(0.6 - 9e-6), rel=1e-12)


def test_no_touch_leaves_no_mark_and_a_touch_below_nothing_is_refused():
    work = works()["A"]
    assert witness_mark(work, 0.0).width_mm == 0.0
    for wrong in (-1e-9, math.nan):
        with pytest.raises(ValueError, match="depth_mm"):
            witness_mark(work, wrong)


def test_a_touch_is_no_deeper_than_the_work():
    work = works()["A"]
    assert witness_mark(work, 1.0) == witness_mark(work, work.depth_mm)


def test_a_mark_that_runs_out_is_cut_at_the_edge():
    # By hand: a full hollow, its lowest place as far from the edge as half its chord.
    full = a_job(relief__edge_land="0 mm", relief__min_edge_angle="5 deg",
                 blade__section__edge_thickness="0.3 mm")  # fmt: skip
    work = works(full)["A"]
    mark = witness_mark(work, work.depth_mm)
    assert mark.from_mm == pytest.approx(0.0, abs=1e-9)
    assert mark.to_mm == pytest.approx(work.relief.chord_mm, rel=1e-9)


def test_a_flat_on_the_corner_of_the_stock(from_the_bar):
    mark = witness_mark(from_the_bar["bevel-A-1"], 0.003)
    # By hand: a right triangle e high on its hypotenuse: e / (sin cos) of 12.5 deg.
    beta = math.radians(12.5)
    assert mark.seen == "corner"
    assert mark.width_mm == pytest.approx(0.003 / (math.sin(beta) * math.cos(beta)), rel=1e-9)


def test_a_flat_on_a_bevel_marks_all_of_it(from_the_bar):
    work = from_the_bar["bevel-A-2"]
    mark = witness_mark(work, 0.003)
    assert mark.seen == "face"
    # Property: a bevel's mark is as wide at any depth.
    assert mark.width_mm == witness_mark(work, 0.001).width_mm == mark.face_mm > 0


def test_a_flat_on_the_lands_marks_both(from_the_bar):
    work = from_the_bar["lands-A"]
    mark = witness_mark(work, 0.003)
    edge, shoulder = mark.lands_mm
    # By hand: a layer 0.01 mm thick off lands beside an arc of radius 75; the deeper chord leaves
    # them narrower than 1.2 and 1.4 by half of what the chord is longer, less the face's own ends.
    chord = [2 * math.sqrt(d * (150 - d)) for d in (work.relief.depth_mm, work.before.relief_mm)]
    tan = math.tan(math.radians(12.5))
    assert edge == pytest.approx(1.2 - (chord[1] - chord[0]) / 2 - 0.01 * tan, abs=1e-9)
    assert shoulder == pytest.approx(1.4 - (chord[1] - chord[0]) / 2 - 0.01 / tan, abs=1e-9)


def test_a_face_that_bulges_is_marked_where_two_circles_meet():
    form = {"form": "convex_bevel", "thickness": "2.6 mm", "width": "18 mm",
            "edge_angle": "36 deg", "shoulder_angle": "16 deg"}  # fmt: skip
    work = works(a_job(blade__section=form))["A"]
    mark, radius, bulge = witness_mark(work, 0.003), work.wheel_radius_mm, work.face.bulge
    # Property: another library's discs, their centres R + rho - e apart, meet in the mark's ends.
    apart = radius + bulge.radius_mm - 0.003
    rims = [
        shapely.Point(x, 0).buffer(r, quad_segs=200_000).exterior
        for x, r in ((0.0, radius), (apart, bulge.radius_mm))
    ]
    ends = rims[0].intersection(rims[1])
    low, high = sorted(point.y for point in ends.geoms)
    assert mark.width_mm == pytest.approx(high - low, abs=1e-4)
    # Property: the place of the touch, from the edge as a caliper reads it.
    y, z = bulge.point(work.face.angle_rad)
    assert mark.middle_mm == pytest.approx(math.hypot(y, z - work.face.corner_mm), abs=1e-9)


def test_a_micro_bevel_is_counted_in_from_the_edge():
    section = {**JOB["blade"]["section"], "micro_bevel": {"angle": "17 deg", "width": "0.4 mm"}}
    loose = {"relief__land_tolerance": "0.5 mm", "relief__share_in_tolerance": 0}
    work = works(a_job(blade__section=section, **loose))["A"]
    mark = witness_mark(work, 0.003)
    # By hand: two sides of a triangle with the angle 4.5 deg between their ways.
    along = 1.2 + work.relief.chord_mm / 2
    turn = math.radians(17 - 12.5)
    away = math.sqrt(0.4**2 + along**2 + 2 * 0.4 * along * math.cos(turn))
    assert mark.middle_mm == pytest.approx(away, abs=1e-9)
    assert mark.begins_mm == pytest.approx(0.4, abs=1e-9)


def test_the_outside_of_an_arc_is_marked_over_a_chord_of_it():
    work = dataclasses.replace(works()["A"], curvature_per_mm=1 / 30)
    # By hand: 2 sqrt(2 * 30 * 0.003 - 9e-6), less than the wheel is wide; inside its whole width.
    assert witness_mark(work, 0.003).along_mm == pytest.approx(2 * math.sqrt(0.18 - 9e-6))
    inside = dataclasses.replace(work, curvature_per_mm=-1 / 30)
    assert witness_mark(inside, 0.003).along_mm == 20.0


@settings(max_examples=25, deadline=None, derandomize=True)
@given(depth=st.floats(1e-4, 0.02), face=st.sampled_from(["A", "B"]))
def test_the_band_is_where_a_circle_cuts_the_face(depth, face):
    """Property: another library's circle, sunk by the depth, cuts the face where the mark ends."""
    work = WORKS[face]
    mark = witness_mark(work, depth)
    centre = shapely.Point(mark.middle_mm, work.wheel_radius_mm - mark.depth_mm)
    angles = np.linspace(-math.pi / 2 - 0.1, -math.pi / 2 + 0.1, 20001)
    arc = np.column_stack(
        [
            centre.x + work.wheel_radius_mm * np.cos(angles),
            centre.y + work.wheel_radius_mm * np.sin(angles),
        ]
    )
    cut = shapely.LineString(arc).intersection(shapely.LineString([(-50, 0), (50, 0)]))
    ends = sorted(point.x for point in cut.geoms)
    assert ends == pytest.approx([mark.from_mm, mark.to_mm], abs=1e-5)


WORKS = works()
