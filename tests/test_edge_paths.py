"""Edges along an arc that is turned under the wheel: planned, written, proved; and what is not."""

import math
import re
from functools import cache

import numpy as np
import pytest
import shapely

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.kinematics.edge_path import corner_dig_mm, spindle_angle_deg
from planner.produce import produce
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from planner.report.refusals import refusal_words, way_out_words
from planner.section.swept import swept_length_mm
from planner.section.target import outline
from tests.commands import ROOT
from tests.planning import planned

JOBS = {"hook": ROOT / "jobs" / "hook-knife.yaml", "gouge": ROOT / "jobs" / "bent-gouge.yaml"}
TURNING = ROOT / "machines" / "turn-xyzc.yaml"


def models(name, *changes, machine=TURNING):
    job, shop = load_pair(JOBS[name], machine, list(changes))
    return job.model, shop.model


@cache
def made(name, *changes):
    plan = planned(*models(name, *changes))
    return plan, produce(plan, ())


def refusals(name, *changes, machine=TURNING):
    with pytest.raises(RefusedError) as caught:
        planned(*models(name, *changes, machine=machine))
    for refusal in caught.value.refusals:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)
    return {refusal.rule: refusal.facts for refusal in caught.value.refusals}


@pytest.mark.parametrize("name", JOBS)
def test_the_turn_goes_from_clear_to_clear(name):
    # By hand: the arc, and on either side the wheel's reach and the run-off of 4 mm, as an angle of
    # the edge's radius. Inside (face B) the same turn runs the other way.
    plan, files = made(name)
    edge = plan.job.model.blade.edge
    for setup in plan.setups:
        text = files.files[setup.program].decode("ascii")
        turns = [float(t) for t in re.findall(r"C(-?\d+\.\d+)", text)]
        beyond = math.degrees((setup.row.reach_mm + 4.0) / edge.radius_mm)
        inside = -1.0 if setup.relief.face == "B" else 1.0
        first, last = -inside * beyond, inside * (edge.angle_deg + beyond)
        assert turns[:2] == pytest.approx([first, last], abs=2e-3)
        # What is at 0 where the blade's end is under the wheel is the turn, not the traverse.
        end = "heel" if setup.frame.x_per_traverse > 0 else "tip"
        assert f", turn 0 at {end})" in text
        # The straight traverse stands at 0 from the first turn on.
        assert re.findall(r"X(-?\d+\.\d+)", text) == ["0.0000"]


@pytest.mark.parametrize("name", JOBS)
def test_the_surface_feed_is_that_of_the_plan(name):
    # By hand: in inverse time F is turns of the whole move a minute: the length of the move along
    # the edge, times F, is the feed.
    plan, files = made(name)
    edge = plan.job.model.blade.edge
    for setup in plan.setups:
        text = files.files[setup.program].decode("ascii")
        moves = re.findall(r"G1 C(-?\d+\.\d+) F(\d+\.?\d*)", text)
        feeds = [p.feed_mm_min for p in setup.passes]
        assert len(moves) == len(feeds)
        at = float(re.findall(r"G0 .*C(-?\d+\.\d+)", text)[0])
        for (turn, rate), feed in zip(moves, feeds, strict=True):
            length = math.radians(abs(float(turn) - at)) * edge.radius_mm
            assert length * float(rate) == pytest.approx(feed, rel=2e-3)
            at = float(turn)


@pytest.mark.parametrize("name", JOBS)
def test_the_proof_measures_the_lands_along_the_arc(name):
    # Property: five stations from heel to tip, the arc's length apart, each in tolerance.
    plan, files = made(name)
    job = plan.job.model
    for setup in plan.setups:
        verdict = prove_program(files.files[setup.program], job, plan.machine.model)
        assert verdict.ok
        assert verdict.lands[-1].x_mm == pytest.approx(
            job.blade.edge.radius_mm * math.radians(job.blade.edge.angle_deg)
        )
        for lands in verdict.lands:
            tolerance = job.relief.land_tolerance_mm
            assert lands.edge_land_mm == pytest.approx(setup.relief.edge_land_mm, abs=tolerance)


@pytest.mark.parametrize("name", JOBS)
def test_the_volume_is_that_of_pappus(name):
    # Source: Pappus, Mathematical Collection VII (the second theorem): area times the way of the
    # centroid. Area and centroid by shapely, from the outlines before and after.
    plan, _ = made(name)
    job, section = plan.job.model, plan.section
    edge = job.blade.edge
    for setup in plan.setups:
        depth = {
            f: section.relief(f).depth_mm if setup.relief.face == f else 0.0
            for f in "AB"
            if section.relief(f)
        }
        before = shapely.Polygon(outline(section, 0.0, 0.0))
        after = shapely.Polygon(outline(section, depth.get("A", 0.0), depth.get("B", 0.0)))
        taken = shapely.difference(before, after)
        way = math.radians(edge.angle_deg) * (edge.radius_mm + taken.centroid.y)
        assert swept_length_mm(job, setup.work) == pytest.approx(way, rel=2e-4)


DAMAGES = {
    "the traverse leaves its zero": (r"X0\.0000", "X0.5000", Rule.TRAVERSE_MOVED),
    "the turn stops short of the tip": (r"C10\d\.\d+", "C60.000", Rule.PASS_INCOMPLETE),
    "a pass in deg a minute": (r"G93\nG1 C(\S+) F\S+", r"G94\nG1 C\1 F9000", Rule.FEED_LIMIT),
    "two rough infeeds in one": (r"Z-0\.0100", "Z-0.0190", Rule.BITE_TOO_LARGE),
    "the last pass too deep": (r"Z-0\.0200", "Z-0.0500", Rule.BELOW_TARGET),
    "the turn creeps": (r"(C-\d+\.\d+) F[4-9]\d\.\d+", r"\1 F0.2", Rule.CREEP),
}


@pytest.mark.parametrize("what", DAMAGES)
def test_a_damaged_program_is_found(what):
    # Property: each damage breaks the rule that it is named by.
    pattern, instead, rule = DAMAGES[what]
    plan, files = made("gouge", "blade.edge.radius=30 mm")
    text = files.files["setup-A.ngc"].decode("ascii")
    damaged, count = re.subn(pattern, instead, text)
    assert count
    verdict = prove_program(damaged.encode("ascii"), plan.job.model, plan.machine.model)
    assert rule in {fault.rule for fault in verdict.faults}


def test_the_corners_of_a_rim_dig_by_the_closed_form():
    # Source: a circle of 40 000 sides and the rim's straight line, by shapely: the chord of W lies
    # the same way inside the circle as the corners dig into it.
    for inside, width in ((14.0, 6.0), (30.0, 10.0), (8.0, 15.0)):
        circle = shapely.buffer(shapely.Point(0, 0), inside, quad_segs=10_000)
        low, high = 0.0, inside
        for _ in range(60):
            middle = (low + high) / 2
            chord = shapely.intersection(circle, shapely.LineString([(-99, middle), (99, middle)]))
            low, high = (middle, high) if chord.length > width else (low, middle)
        assert inside - low == pytest.approx(corner_dig_mm(inside, width), abs=1e-5)
    assert math.isnan(corner_dig_mm(5.0, 10.1))


def test_the_spindle_meets_the_inside_where_a_line_does():
    # Source: shapely, the line of the spindle against the circle of the inside.
    for inside, radius in ((30.0, 10.0), (30.0, 30.0), (30.0, 50.0)):
        circle = shapely.Point(0, 0).buffer(inside, quad_segs=10_000).exterior
        line = shapely.LineString([(-99, radius - inside), (99, radius - inside)])
        points = shapely.get_coordinates(shapely.intersection(circle, line))
        angle = math.degrees(np.arctan2(abs(points[0][0]), -points[0][1]))
        assert spindle_angle_deg(inside, radius) == pytest.approx(angle, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "changes", "rule"),
    [
        pytest.param("hook", ["wheel=fine 100"], "corners-dig", id="wide rim inside"),
        pytest.param("hook", ["blade.edge.radius=9.9 mm"], "wheel-over-inside", id="tight hook"),
        pytest.param(
            "hook",
            ["wheel=narrow 30", "machine.rack[1].width=0.5 mm"],
            "spindle-meets-arc",
            id="spindle along the edge",
        ),
        pytest.param("gouge", ["blade.edge.radius=0.5 mm"], "thicker-than-arc", id="no room"),
        pytest.param(
            "gouge",
            ["machine.fixture.row={positions: [0 mm, 60 mm]}"],
            "row-on-turn",
            id="a row on a turn",
        ),
    ],
)
def test_what_the_arc_does_not_allow_is_refused(name, changes, rule):
    # By hand: each breaks the rule that it is named by.
    assert rule in refusals(name, *changes)


def test_a_machine_without_a_turn_follows_no_arc_all_round():
    # By hand: a relief 2.854 mm wide is 0.0136 mm deep under a wheel of 150 mm, and its flat rim
    # reaches sqrt(2 * 14 * 0.0136) = 0.617 mm along an edge of 14 mm: half of the sweep, 50 degrees
    # of it, and (10 + 0.617) / 14 of run-off end at 93.4 degrees from the middle, over 85.
    machine = ROOT / "machines" / "wheel-xyza.yaml"
    found = refusals("gouge", "wheel=fine", machine=machine)
    assert found["path-too-far-round"]["end_deg"] == pytest.approx(93.45, abs=0.05)


def test_the_wheel_that_the_refusal_names_fits():
    # Property: a way out leads out.
    facts = refusals("hook", "wheel=narrow 30")["corners-dig"]
    # By hand: inside 30 mm less nothing (the edge lies on the back): W = 2 sqrt(a (2 rho - a)).
    widest = 2 * math.sqrt(facts["allowed_mm"] * (2 * facts["inside_mm"] - facts["allowed_mm"]))
    width = math.floor(100 * widest) / 100
    found = refusals("hook", "wheel=narrow 30", f"machine.rack[1].width={width} mm")
    assert "corners-dig" not in found


def test_an_axis_off_the_centre_spreads_the_lands():
    # By hand: 2 e sin(50 deg) of depth for a sweep of 100 deg, a land g times as far.
    plan, _ = made("gouge")
    cause = next(c for c in plan.spreads[0].causes if c.name == "turn off centre")
    assert cause.sd == pytest.approx(2 * 0.005 * math.sin(math.radians(50.0)))
    assert cause.edge_land_per_unit == -plan.spreads[0].land_change_per_depth
