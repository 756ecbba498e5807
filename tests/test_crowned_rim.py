"""A rim crowned across: inside a bend it digs nowhere, and it touches only in its middle."""

from __future__ import annotations

import json
import math
from io import StringIO
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from rich.console import Console

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.kinematics.edge_path import rim_dig_mm
from planner.produce import produce
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from planner.proof.seen import look
from planner.proof.tool import contact_along_edge_mm, reach_along_edge_mm
from planner.report.arc_wheel_words import arc_wheel_words
from planner.report.plan_screen import plan_parts
from planner.report.refusals import refusal_words, way_out_words
from planner.report.wheel_words import heaviest_contact
from planner.section.wheel_shape import (
    arc_length_mm,
    half_reach_mm,
    is_round,
    wearing_width_mm,
)
from tests.commands import ROOT
from tests.planning import planned, sheet_text

HOOK = ROOT / "jobs" / "hook-knife.yaml"
TURNING = ROOT / "machines" / "turn-xyzc.yaml"


def rim(width, crown=None, rough=0.01, **more):
    return SimpleNamespace(
        contact="along_edge",
        diameter_mm=100.0,
        width_mm=width,
        crown_radius_mm=crown,
        infeed=SimpleNamespace(rough_mm=rough),
        platen=None,
        belt=None,
        **more,
    )


def disc(radius, x=0.0, y=0.0):
    return shapely.buffer(shapely.Point(x, y), radius, quad_segs=20_000)


def lift_to_fit(inside, width, crown):
    """How far the rim must come out of the round inside that its middle touches, by shapely."""
    x = np.linspace(-width / 2, width / 2, 2001)
    up = np.zeros_like(x) if crown is None else crown - np.sqrt(crown**2 - x**2)
    room = disc(inside)
    low, high = 0.0, inside
    for _ in range(40):
        lift = (low + high) / 2
        fits = room.covers(shapely.LineString(np.column_stack([x, up + lift - inside])))
        low, high = (low, lift) if fits else (lift, high)
    return high


@pytest.mark.parametrize(
    ("inside", "width", "crown", "by_hand"),
    [
        pytest.param(5.0, 8.0, None, 2.0, id="flat, 3-4-5"),
        pytest.param(5.0, 8.0, 5.0, 0.0, id="crown of the inside"),
        pytest.param(5.0, 8.0, 4.0, 0.0, id="crown of half the width"),
        # 13 - 12 for the inside, 15.6 - sqrt(15.6^2 - 5^2) = 15.6 - 14.7770 for the crown.
        pytest.param(13.0, 10.0, 15.6, 1.0 - 0.8230, id="flatter, 5-12-13"),
        pytest.param(30.0, 10.0, 29.0, 0.0, id="a hook's"),
        pytest.param(30.0, 10.0, 40.0, None, id="flatter than a hook's"),
    ],
)
def test_a_rim_digs_by_what_its_corners_stand_out(inside, width, crown, by_hand):
    # By hand, and Source: circles and lines by shapely.
    found = rim_dig_mm(inside, rim(width, crown))
    if by_hand is not None:
        assert found == pytest.approx(by_hand, abs=1e-4)
    assert found == pytest.approx(lift_to_fit(inside, width, crown), abs=2e-6)


@pytest.mark.parametrize("radius", [20.0, 45.0, 70.0])
def test_a_wheel_crowned_no_flatter_than_the_inside_stays_within_the_turned_hollow(radius):
    # Property: the wheel as a body in space, at any place round its rim. Turned about the arc's
    # axis no point of it comes further out than the hollow of its own middle plane.
    inside, crown, half = 30.0, 28.0, 8.0
    across = np.linspace(-half, half, 201)[:, None]
    angle = np.radians(np.linspace(-25.0, 25.0, 201))[None, :]
    rise = crown - np.sqrt(crown**2 - across**2)
    # The inside is least where the face comes nearest to the arc's axis.
    axis = inside - radius * math.cos(math.radians(25.0))
    along_axis = (radius - rise) * np.sin(angle)
    from_axis = np.hypot(across, axis + (radius - rise) * np.cos(angle))
    outside = np.hypot(along_axis, from_axis - axis) - radius
    assert outside.max() < 1e-9
    # A flat rim of that width does come out.
    flat = np.hypot(radius * np.sin(angle), np.hypot(across, axis + radius * np.cos(angle)) - axis)
    assert flat.max() - radius > 0.5


def test_a_crown_reaches_as_its_circle_does():
    # By hand: radius 5, depth 1 is a 3-4-5 triangle; never beyond the rim.
    for reach in (half_reach_mm, reach_along_edge_mm):
        assert reach(rim(8.0, 5.0), 1.0) == pytest.approx(3.0)
        assert reach(rim(4.0, 5.0), 1.0) == 2.0
        assert reach(rim(8.0), 1.0) == 4.0


@pytest.mark.parametrize("curvature", [0.0, 1 / 30, -1 / 30])
@pytest.mark.parametrize(("crown", "depth"), [(8.0, 0.03), (20.0, 0.01), (25.0, 0.05)])
def test_along_an_arc_it_reaches_as_two_circles_cross(curvature, crown, depth):
    # Source: shapely, the crown's circle against the edge's, or against a line.
    wheel = rim(16.0, crown)
    radius = math.inf if curvature == 0.0 else 1 / abs(curvature)
    if curvature == 0.0:
        steel = shapely.box(-20, -20, 20, 0)
    elif curvature > 0.0:
        steel = disc(radius, 0.0, -radius)
    else:
        steel = shapely.box(-20, -20, 20, 20).difference(disc(radius, 0.0, radius))
    inside = shapely.intersection(disc(crown, 0.0, crown - depth), steel)
    reach = max(abs(shapely.bounds(inside)[[0, 2]]))
    assert half_reach_mm(wheel, depth, curvature) == pytest.approx(reach, rel=0.01)
    # The proof's is its own reckoning of the same.
    assert reach_along_edge_mm(wheel, depth, curvature) == pytest.approx(
        half_reach_mm(wheel, depth, curvature), rel=1e-9
    )


def leading_mm(wheel):
    arc = arc_length_mm(wheel, 0.01)
    assert arc is not None
    return float(arc)


def test_its_leading_half_grinds():
    # By hand: sqrt(2 * 20 * 0.01) = 0.6325 of the edge, against a first-order 0.6325; half of it
    # to either side for the bending. It wears to either side: 2 sqrt(0.01 (40 - 0.01)) = 1.2647.
    wheel = rim(8.0, 20.0)
    assert leading_mm(wheel) == pytest.approx(0.632456, abs=1e-6)
    assert contact_along_edge_mm(wheel) == pytest.approx(0.316228, abs=1e-6)
    assert wearing_width_mm(wheel, 5.0) == pytest.approx(1.264753, abs=1e-6)
    # A crown that is nearly flat grinds with half its width, and wears over all of it.
    assert leading_mm(rim(2.0, 500.0)) == 1.0
    assert contact_along_edge_mm(rim(2.0, 500.0)) == 0.5
    assert wearing_width_mm(rim(2.0, 500.0), 5.0) == 2.0


def test_a_belt_on_a_crowned_wheel_adds_its_thickness():
    # By hand: 4 + 1 mm, 1 deep: 3-4-5.
    wheel = rim(8.0, 4.0)
    wheel.belt = SimpleNamespace(thickness_mm=1.0)
    assert half_reach_mm(wheel, 1.0) == pytest.approx(3.0)
    assert reach_along_edge_mm(wheel, 1.0) == pytest.approx(3.0)


def test_outside_an_arc_a_flat_rim_touches_in_its_middle_alone():
    # By hand: on a radius of 5, 1 deep, a line is a chord 3 to either side (3-4-5); at the rough
    # infeed of 0.01 on 30 it wears 2 sqrt(0.01 (60 - 0.01)) = 1.5491, and cuts with sqrt(0.6).
    flat = rim(8.0)
    for reach in (half_reach_mm, reach_along_edge_mm):
        assert reach(flat, 1.0, 1 / 5) == pytest.approx(3.0)
        assert reach(flat, 1.0, -1 / 5) == reach(flat, 1.0) == 4.0
    assert wearing_width_mm(flat, 5.0, 1 / 30) == pytest.approx(1.549064, abs=1e-6)
    assert wearing_width_mm(flat, 5.0, -1 / 30) == wearing_width_mm(flat, 5.0) == 8.0
    assert contact_along_edge_mm(flat, 1 / 30) == pytest.approx(math.sqrt(0.6) / 2)
    assert contact_along_edge_mm(flat) == 4.0
    assert float(arc_length_mm(flat, 0.01, 1 / 30) or 0.0) == pytest.approx(math.sqrt(0.6))
    assert arc_length_mm(flat, 0.01) is None


# -- a rack with a flat, a narrow and a crowned rim ------------------------------------------------


RIMS = {
    "flat": {"width_mm": 8.0},
    "narrow": {"width_mm": 2.0},
    "narrower": {"width_mm": 0.5},
    "crowned": {"width_mm": 8.0, "crown_radius_mm": 25.0},
    "too flat": {"width_mm": 8.0, "crown_radius_mm": 35.0},
}


def rack(*names, **more):
    """The turning machine with these rims alone, all on one wheel of 100 mm."""
    shop = load_pair(HOOK, TURNING, [])[1].model
    one = shop.rack[0].model_copy(update=more)
    wheels = [one.model_copy(update={"name": name, **RIMS[name]}) for name in names]
    return shop.model_copy(update={"rack": wheels})


@pytest.fixture(scope="module")
def job():
    job = load_pair(HOOK, TURNING, ["relief.faces=B"])[0].model
    return job.model_copy(update={"wheel": None})


@pytest.fixture(scope="module")
def plan(job):
    return planned(job, rack("flat", "narrow", "too flat", "crowned"))


def test_the_crowned_rim_is_chosen_and_the_others_told_why(plan):
    # By hand: 30 - sqrt(30^2 - 4^2) = 0.26786 mm, of a rim of 2 mm 0.0167; less what a crown of
    # 35 mm rises, 35 - sqrt(35^2 - 4^2) = 0.22932, 0.0385.
    told = {t.name: [refusal_words(r) for r in t.refused] for t in plan.wheels_tried}
    for name, dig in (("flat", "0.2679"), ("narrow", "0.0167"), ("too flat", "0.0385")):
        assert f"{dig} mm deeper" in told[name][0]
    assert told["crowned"] == []
    assert plan.wheel.name == "crowned"
    sheet = sheet_text(plan, plan.setups[0])
    assert "crowned to a radius of 25.00 mm" in sheet


def test_preview_data_and_drawings_show_the_crown(plan):
    made = produce(plan, ())
    data = json.loads(made.files["plan.json"])
    assert [s["crown_radius_mm"] for s in data["setups"]] == [25.0]
    # By hand: 50 mm in the middle, at the corners 25 - sqrt(25^2 - 4^2) = 0.32207 less.
    (seen,) = look([made.verdicts["setup-B.ngc"]])
    (wheel,) = [part for part in seen.parts if part.name == "wheel"]
    (outline,) = [np.array(ring) for ring in wheel.across_edge_xv_mm]
    assert outline[:, 0].min() == -4.0
    assert outline[:, 0].max() == 4.0
    for x, v in outline:
        assert abs(v) == pytest.approx(50.0 - (25.0 - math.sqrt(625.0 - x * x)), abs=1e-9)
    assert abs(outline[0, 1]) == pytest.approx(50.0 - 0.32207, abs=1e-5)
    assert b"crown radius 25.00" in made.files["setup-B.html"]


def test_a_rim_narrow_enough_is_as_good(job):
    # Property: either way out of a flat rim leads out.
    both = planned(job, rack("flat", "narrower", "crowned"))
    assert [t.name for t in both.wheels_tried if t.share is None] == ["flat"]


def test_the_ways_out_of_a_flat_rim_name_both(job):
    with pytest.raises(RefusedError) as caught:
        planned(job, rack("flat"))
    (refusal,) = caught.value.refusals
    words = " | ".join(way_out_words(way) for way in refusal.ways_out)
    assert "at most 0.61 mm width" in words
    assert "crowned to a radius of at most 30.00 mm" in words


def test_the_proof_refuses_the_flat_rim_by_itself(plan):
    # Property: the program of the crowned rim, read with a flat one of that name in the rack.
    program = produce(plan, ()).files["setup-B.ngc"]
    model = plan.job.model
    assert prove_program(program, model, plan.machine.model).ok
    for other in ("flat", "narrow", "too flat"):
        shop = rack(other)
        shop = shop.model_copy(
            update={"rack": [shop.rack[0].model_copy(update={"name": "crowned"})]}
        )
        rules = {fault.rule for fault in prove_program(program, model, shop).faults}
        assert rules == {Rule.IMPOSSIBLE_GEOMETRY}


# -- wheels along and across the arc ---------------------------------------------------------------


def test_the_plan_says_of_each_wheel_what_it_does_along_the_arc(job):
    # By hand: inside 30 mm, a spindle 50 mm away passes at acos(-20/30) = 131.8 deg, one 15 mm away
    # at acos(15/30) = 60 deg; a wheel of 20 mm leaves 60 - 20 = 40 mm to the far side.
    shop = load_pair(HOOK, TURNING, ["machine.rack[0].crown_radius=25 mm"])[1].model
    found = planned(job, shop)
    words = dict(text.split(", its axis ") for text in arc_wheel_words(found))
    assert set(words) == {wheel.name for wheel in shop.rack if is_round(wheel)}
    crowned, narrow, across = (words[name] for name in ("fine 100", "narrow 30", "inside 20"))
    assert crowned.startswith("along the edge: its own radius of 50.00 mm makes the hollow")
    assert "132 deg from the contact, past its end at 110 deg" in crowned
    assert "a crown of 25.00 mm is no flatter than the inside of 30.00 mm" in crowned
    assert "its own radius of 15.00 mm" in narrow
    assert "meet the blade 60 deg from the contact, and the arc goes 110 deg round" in narrow
    assert "touches" not in narrow
    assert across.startswith("across the edge: the 40.00 mm radius that its rim is dressed to")
    assert "its rim is 40.0 mm from the far side" in across
    # Property: the figures are those of the plan.
    for tried in found.wheels_tried:
        if tried.setups:
            assert tried.worn_mm is not None
            one = heaviest_contact(tried.setups[0])
            assert f"touches {one.along_mm:.2f} by {one.across_mm:.2f} mm" in words[tried.name]
            assert f"loses {tried.worn_mm * 1000:.2f} µm" in words[tried.name]
    told = StringIO()
    console = Console(width=80, file=told, highlight=False)
    for part in plan_parts(found, [], 80):
        console.print(part)
    for text in arc_wheel_words(found):
        assert text.split(" (")[0] in " ".join(told.getvalue().split())


def test_a_narrow_flat_rim_is_said_to_be_narrow_enough(job):
    # By hand: 30 - sqrt(30^2 - 0.25^2) = 0.00104 mm.
    found = planned(job, rack("narrower", "crowned"))
    words = next(iter(arc_wheel_words(found)))
    assert "narrow enough: the corners dig 0.0010 mm, 0.0016 mm are allowed" in words
