"""Bevels that bulge of hooks and outlines, and along arcs, against hand arithmetic and circles."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.build_case import build_case
from planner.proof.bulge import FlatGoal, bulge_before, bulge_goal, bulge_setups
from planner.proof.operation import above_plane, read_setup_name
from planner.proof.prove import prove_program
from planner.proof.target import ImpossibleError
from planner.report.faults import fault_words
from tests.proof.bulge_by_hand import BULGE_JOB
from tests.proof.bulge_damages import BULGE_DAMAGES
from tests.proof.bulge_forms_by_hand import (
    ARC_A,
    ARC_B,
    BEND,
    FLAT_DEG,
    HOOK,
    HOOK_BEND,
    HOOK_DEG,
    HOOK_RIDGE_MM,
    HOOK_SECTION,
    TURN_MACHINE,
    Arc,
    ground_from_bar,
    hook_facet,
    hook_job,
    outline_section,
    turned,
)
from tests.proof.by_hand import RACK_MACHINE, Pass, program
from tests.proof.conftest import changed

MACHINE, TURN = Machine.model_validate(RACK_MACHINE), Machine.model_validate(TURN_MACHINE)
FLAT_WHEEL = next(wheel for wheel in MACHINE.rack if wheel.name == "flat")


def from_arc(steel: shapely.Geometry, arc: Arc, side: float = 1.0) -> tuple[float, float]:
    """(highest, lowest) of the steel over an arc on its rays between both ends, by shapely."""
    middle = np.array((arc.middle[0], side * arc.middle[1]))
    found = []
    for degrees in np.linspace(arc.first_deg - 1e-6, arc.last_deg + 1e-6, 181):
        out = np.array((-math.sin(math.radians(degrees)), side * math.cos(math.radians(degrees))))
        ray = shapely.LineString([middle + r * arc.radius_mm * out for r in (0.5, 1.5)])
        inside = shapely.get_coordinates(shapely.intersection(steel, ray))
        found.append(max(math.dist(middle, point) for point in inside) - arc.radius_mm)
    return max(found), min(found)


def test_a_hook_is_ground_in_facets_on_its_outside_alone():
    # By hand: 20 deg in steps of 5 leave 0.01097 mm, of 6.667 more than 0.012; no facet of face B.
    names = [f"bevel-A-{number}" for number in (1, 2, 3, 4, 5)]
    assert bulge_setups(ground_from_bar(hook_job()), MACHINE) == [*names, "relief-A"]
    lines = ground_from_bar(hook_job(), "fine")
    assert bulge_setups(lines, MACHINE) == ["bevel-A", "relief-A"]
    with_inside = ground_from_bar(hook_job(relief__faces="both"))
    assert bulge_setups(with_inside, MACHINE) == [*names, "relief-A", "relief-B"]


@pytest.mark.parametrize("path", ["straight", "bend"])
@pytest.mark.parametrize("number", [1, 2, 3, 4, 5])
def test_each_facet_of_a_hook_proves_on_those_before_it(number, path):
    job, text, machine = ground_from_bar(hook_job()), hook_facet(number), MACHINE
    if path == "bend":
        job, text, machine = ground_from_bar(HOOK_BEND), turned(text), TURN
    verdict = prove_program(text.encode(), job, machine)
    assert [fault_words(fault) for fault in verdict.faults] == []
    depths = HOOK.facet_depths_mm(HOOK_DEG)
    angle = math.radians(HOOK_DEG[number - 1])
    # By hand: a corner cut off h deep has the area h^2 (cot a + cot b) / 2.
    before = math.radians((90.0, *HOOK_DEG)[number - 1])
    wide = 1 / math.tan(before - angle) + 1 / math.tan(angle)
    reached = verdict.cuts[-1].reached_depth_mm
    taken = sum(cut.removed_area_mm2 for cut in verdict.cuts)
    assert taken == pytest.approx(wide * reached**2 / 2, abs=5e-6)
    short = depths[number - 1] - reached
    assert 0.0 <= short < 4e-4
    (at, *_) = verdict.bevels
    thick = short / math.cos(angle) if number == 1 else 0.0
    assert at.edge_thickness_mm == pytest.approx(0.2 + thick, abs=1e-6)
    if number > 1:
        # By hand, as of a convex bevel: facets 5 deg apart, this one short.
        along = HOOK.radius_mm * math.tan(math.radians(2.5)) + short / math.sin(math.radians(5.0))
        ridge = math.hypot(HOOK.radius_mm, along) - HOOK.radius_mm
        assert at.ridge_mm is not None
        assert at.ridge_mm == pytest.approx(ridge, abs=1e-6)
        assert at.ridge_mm >= HOOK_RIDGE_MM
    # Property: the rounded back and the flat inside are as they were.
    case = build_case(job, machine, f"bevel-A-{number}", FLAT_WHEEL)
    back = shapely.Point(11.4, 1.5).buffer(0.6, quad_segs=2000)
    corner = shapely.box(11.4, 1.5, 12.0, 2.1)
    found = shapely.intersection(case.blank, corner)
    assert shapely.symmetric_difference(found, shapely.intersection(corner, back)).area < 1e-5
    assert shapely.bounds(case.blank)[1] == pytest.approx(-0.1, abs=1e-12)


def test_what_the_stations_of_an_arc_are_left_is_the_same():
    verdict = prove_program(turned(hook_facet(2)).encode(), ground_from_bar(HOOK_BEND), TURN)
    # By hand: the edge is 30 * 60 deg long.
    length = 30.0 * math.radians(60.0)
    assert [at.x_mm for at in verdict.bevels] == pytest.approx([n / 4 * length for n in range(5)])
    assert {round(at.ridge_mm or 0.0, 9) for at in verdict.bevels} == {
        round(verdict.bevels[0].ridge_mm or 0.0, 9)
    }


@pytest.mark.parametrize(("wheel", "radius_mm"), [("form", 20.0), ("fine", 75.0)])
def test_lines_along_an_arc_leave_the_ridges_of_two_circles(wheel, radius_mm):
    passes = HOOK.lines(6, 14, radius_mm, 30.0)
    text = turned(program("bevel-A", wheel, passes, tilt_deg=30.0))
    verdict = prove_program(text.encode(), ground_from_bar(HOOK_BEND, wheel), TURN)
    assert [fault_words(fault) for fault in verdict.faults] == []
    # By hand: six lines, 4 deg apart: where two wheels' circles cross.
    apart, half = HOOK.radius_mm + radius_mm, math.radians(2.0)
    ridge = apart * math.cos(half) - math.sqrt(radius_mm**2 - (apart * math.sin(half)) ** 2)
    (at, *_) = verdict.bevels
    assert at.ridge_mm is not None
    assert ridge - HOOK.radius_mm - 1e-6 <= at.ridge_mm < ridge - HOOK.radius_mm + 3e-4
    assert at.gouge_mm == pytest.approx(0.0, abs=1e-6)
    steel = verdict.cuts[-1].after
    highest, lowest = from_arc(steel, HOOK)
    assert highest <= at.ridge_mm + 1e-6
    assert lowest > -2e-6


def inside(diameter_mm: float, number: int) -> tuple[Job, Machine, str]:
    """A convex bevel inside a bend of 30 mm, its flat wheel of a diameter, one facet of face B."""
    job = ground_from_bar(
        changed(BULGE_JOB, {"blade.edge": BEND, "operations": None}), ridge_mm=0.02
    )
    machine = changed(TURN_MACHINE, {"rack.1.diameter": f"{diameter_mm} mm"})
    return job, Machine.model_validate(machine), f"bevel-B-{number}"


def test_a_wheel_inside_an_arc_is_held_to_the_angle_of_its_facet():
    # By hand: the bar lies 29 mm from the axis; 28 mm / cos 20 deg = 29.80, / cos 10 deg = 28.43.
    job, machine, _ = inside(56.0, 1)
    wheel = next(w for w in machine.rack if w.name == "flat")
    with pytest.raises(ImpossibleError, match="larger than the inside"):
        build_case(job, machine, "bevel-B-1", wheel)
    assert build_case(job, machine, "bevel-B-3", wheel).depth_mm > 0.0


def test_inside_an_arc_the_wheel_reaches_as_far_as_two_circles_cross():
    job, machine, setup = inside(50.0, 1)
    wheel = next(w for w in machine.rack if w.name == "flat")
    case = build_case(job, machine, setup, wheel)
    # By hand: circles of 25 and 29 mm, the wheel's middle 4 + depth from the axis.
    apart = 4.0 + case.depth_mm
    angle = math.acos((apart**2 + 29.0**2 - 25.0**2) / (2.0 * apart * 29.0))
    assert case.reach_mm == pytest.approx(30.0 * angle, abs=2e-3)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_facets_inside_an_arc_prove(number):
    job, machine, setup = inside(50.0, number)
    arc = Arc(0.9 / (math.cos(math.radians(10.0)) - math.cos(math.radians(20.0))), 0.1, 1.0, 20.0)
    depth, tilt = (
        arc.facet_depths_mm((20.0, 15.0, 10.0))[number - 1],
        (20.0, 15.0, 10.0)[number - 1],
    )
    steps = math.ceil(depth / 0.05)
    last = math.floor(depth * 1e4) / 1e4
    passes = [
        Pass(-round(last * n / steps, 4), round(last * n / steps, 4))
        for n in [*range(1, steps + 1), steps]
    ]
    text = program(setup, "flat", passes, tilt_deg=tilt)
    verdict = prove_program(turned(text, "B", past_deg=110.0).encode(), job, machine)
    assert [fault_words(fault) for fault in verdict.faults] == []
    # By hand: face B is turned end for end, its places still count from the heel.
    assert [at.x_mm for at in verdict.bevels] == sorted(at.x_mm for at in verdict.bevels)


def test_an_outline_of_two_radii_is_held_to_each_of_them():
    data = hook_job(blade__section=outline_section(ARC_B), relief__faces="both")
    job = ground_from_bar(data, ridge_mm=0.016)
    # By hand: 6 deg apart facets leave 8.027 (1 / cos 3 deg - 1) = 0.0110 mm on face A, 9 deg
    # 0.0248 mm; 6 deg apart on face B 10.836 (1 / cos 3 deg - 1) = 0.0149 mm, 12 deg 0.0597 mm.
    counts = [4, 3]
    names = bulge_setups(job, MACHINE)
    assert [sum(f"bevel-{face}" in name for name in names) for face in "AB"] == counts
    assert names[:4] == ["bevel-A-1", "bevel-B-1", "bevel-A-2", "bevel-B-2"]
    # By hand: the bar is level, 1.0 and 0.8 mm from the middle of the edge, its back cut off.
    bar = shapely.Polygon([(0, 1), (14, 1), (18, 0.7), (18, -0.5), (14, -0.8), (0, -0.8)])
    before = bulge_before(job, MACHINE, "bevel-A-1")
    assert shapely.symmetric_difference(before, bar).area < 1e-9
    last = bulge_before(job, MACHINE, "relief-A")
    assert from_arc(last, ARC_A) == pytest.approx((0.0, 0.0), abs=2e-6)
    assert from_arc(last, ARC_B, -1.0) == pytest.approx((0.0, 0.0), abs=2e-6)


def test_a_flat_bevel_beside_one_that_bulges_is_ground_as_a_flat_one_is():
    section = outline_section(0.9)
    job = ground_from_bar(hook_job(blade__section=section, relief__faces="both"))
    names = [name for name in bulge_setups(job, MACHINE) if name.startswith("bevel-B")]
    assert names == ["bevel-B"]
    case = build_case(job, MACHINE, "bevel-B", FLAT_WHEEL)
    # By hand: a bar 0.9 mm high over a corner at 0.1 mm, at 15 deg.
    assert case.bulge is None
    assert case.depth_mm == pytest.approx(0.8 * math.cos(math.radians(FLAT_DEG)), abs=1e-9)
    assert case.depth_tolerance_mm == pytest.approx(0.05 * math.cos(math.radians(FLAT_DEG)))
    # By hand: the first facet of face A, at 30 deg, is gone before it: half of 0.9^2 cot 30 deg.
    bar = 18.0 * 1.9 - 2.0 * 4.0 * 0.3 / 2.0
    assert case.blank.area == pytest.approx(
        bar - 0.9**2 / 2 / math.tan(math.radians(30.0)), abs=1e-9
    )


def test_a_flat_back_of_an_outline_comes_as_it_stays():
    job = ground_from_bar(hook_job(blade__section=outline_section(None)))
    assert not [name for name in bulge_setups(job, MACHINE) if "bevel-B" in name]
    bar = shapely.Polygon([(0, 1), (14, 1), (18, 0.7), (18, -0.1), (0, -0.1)])
    before = bulge_before(job, MACHINE, "bevel-A-1")
    assert shapely.symmetric_difference(before, bar).area < 1e-9


def test_an_outline_of_flats_is_ground_from_its_own_bar():
    section = outline_section(0.9)
    section.pop("face_a_radius")
    section["face_a"] = section["face_b"]
    job = ground_from_bar(hook_job(blade__section=section), ridge_mm=None, lands="flat")
    case = build_case(job, MACHINE, "bevel-A", FLAT_WHEEL)
    bar = 18.0 * 1.8 - 2.0 * 4.0 * 0.3 / 2.0
    assert case.blank.area == pytest.approx(bar, abs=1e-9)
    # By hand: 0.01 mm of the face is left for the lands.
    assert case.depth_mm == pytest.approx(0.8 * math.cos(math.radians(15.0)) - 0.01, abs=1e-9)
    # By hand: the corner that is cut off is 0.8 mm high, less the allowance over cos 15 deg, and
    # its other leg cot 15 deg of that.
    wheel = next(w for w in MACHINE.rack if w.name == "form")
    corner = 0.8 - 0.01 / math.cos(math.radians(15.0))
    ground = build_case(job, MACHINE, "relief-A", wheel).blank
    cut = corner**2 / 2.0 / math.tan(math.radians(15.0))
    other = 0.8**2 / 2.0 / math.tan(math.radians(15.0))
    assert ground.area == pytest.approx(bar - cut - other, abs=1e-9)


def test_a_micro_bevel_is_not_made_from_the_bar():
    section = {**HOOK_SECTION, "micro_bevel": {"angle": "50 deg", "width": "0.3 mm"}}
    job = ground_from_bar(hook_job(blade__section=section))
    # Property: the bar has a square edge, and a facet beside a micro bevel would leave none.
    with pytest.raises(ImpossibleError, match="micro bevel"):
        bulge_before(job, MACHINE, "bevel-A-1")


@settings(max_examples=30, deadline=None)
@given(
    first_deg=st.floats(15.0, 55.0),
    share=st.floats(0.0, 0.9),
    rise_mm=st.floats(0.4, 2.5),
    ridge_mm=st.floats(0.004, 0.2),
    resolution_deg=st.sampled_from(["0.001 deg", "0.5 deg", "2 deg"]),
)
def test_any_hook_is_left_within_its_ridge(first_deg, share, rise_mm, ridge_mm, resolution_deg):
    # Property: facets stand on the arc from outside, and no higher than asked.
    last = math.radians(first_deg * share)
    radius = rise_mm / (math.cos(last) - math.cos(math.radians(first_deg)))
    arc = Arc(radius, 0.1, 0.1 + rise_mm, first_deg)
    assume(arc.shoulder[0] < 30.0)
    section = {
        "form": "hook",
        "thickness": f"{rise_mm + 0.2} mm",
        "width": "40 mm",
        "angle": f"{first_deg} deg",
        "radius": f"{radius * (1.0 + 1e-9)} mm",
        "edge_thickness": "0.2 mm",
    }
    job = ground_from_bar(hook_job(blade__section=section), ridge_mm=round(ridge_mm, 6))
    machine = Machine.model_validate(
        changed(
            RACK_MACHINE,
            {"axes.A.travel": ["-60 deg", "60 deg"], "axes.A.resolution": resolution_deg},
        )
    )
    try:
        names = [name for name in bulge_setups(job, machine) if "bevel" in name]
    except ImpossibleError:
        return
    setup = read_setup_name(names[-1])
    assert setup is not None
    goal = bulge_goal(job, machine, setup, FLAT_WHEEL, None)
    assert isinstance(goal, FlatGoal)
    steel = bulge_before(job, machine, names[-1])
    steel = shapely.difference(steel, above_plane(goal.plane, 0.0))
    highest, lowest = from_arc(steel, arc)
    assert highest <= round(ridge_mm, 6) + 1e-6
    assert lowest >= -1e-6
    assert len(names) <= 9


@pytest.mark.parametrize("what", BULGE_DAMAGES)
def test_a_damaged_bevel_that_bulges_is_refused_by_the_rule_that_names_it(what):
    damage = BULGE_DAMAGES[what]
    verdict = prove_program(
        damage.text.encode(), damage.job, Machine.model_validate(damage.machine)
    )
    # Property: every damage is found by the rule that is meant to find it, and has its words.
    assert damage.rule in [fault.rule for fault in verdict.faults]
    for fault in verdict.faults:
        assert fault_words(fault).startswith(f"[{fault.rule}] ")
