"""What stands round the axis of an arc: planning and proof against circles and rings, by shapely.

With a hook's inside flat to the axis all is seen in one plane across the axis: rings of what goes
round, and in it the footprint of a part of the tool.
"""

import math
import os
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from planner.kinematics.clearance import TOUCH_MM, Stand, clearances
from planner.kinematics.edge_path import along_the_edge, edge_motion
from planner.kinematics.obstacles import Obstacle, obstacles_for
from planner.kinematics.round_axis import _beside, pairs_for
from planner.kinematics.row import row_of
from planner.kinematics.tool_body import tool_body
from planner.kinematics.touch_frame import touch_frame
from planner.plan import section_with
from planner.proof.around import planes
from planner.proof.build_case import build_case
from planner.proof.faultlog import FaultLog
from planner.proof.frame import KnownPlace
from planner.proof.obstacles import InTheWay
from planner.section.works import works_for
from tests.samples import GONE, MACHINE, a_job, a_machine

RADIUS = 30.0
WHEEL = MACHINE["rack"][0]
NARROW = {**WHEEL, "diameter": "20 mm", "width": "6 mm", "marked_speed": "40000 rpm"}
# Crowned, so that it does not dig; what it may run into it is taken to be flat for.
ALONG = {**NARROW, "crown_radius": "29 mm"}
ACROSS = {**NARROW, "contact": "across_edge", "form_radius": "40 mm", "width": "5 mm"}
WIDE = {"diameter": "12 mm", "width": "14 mm"}


def a_hook(face="B", angle_deg=40):
    relief = {"faces": face, "edge_land": "3 mm", "depth": "0.02 mm", "land_tolerance": "0.9 mm"}
    return a_job(
        blade__edge={"path": "bend", "radius": f"{RADIUS} mm", "angle": f"{angle_deg} deg"},
        blade__section={"form": "hook", "thickness": "2 mm", "width": "11 mm", "angle": "24 deg"},
        relief=relief,
    )


def a_turner(wheel, obstacles=(), **changes):
    turn = {"role": "turn", "travel": ["-300 deg", "300 deg"], "max_feed": "7200 deg/min"}
    turn["acceleration"] = "1500 deg/s2"
    return a_machine(
        rack=[wheel],
        axes__C=turn,
        fixture__obstacles=list(obstacles) or GONE,
        fixture__jaws=GONE,
        guard=changes.pop("guard", GONE),
        **changes,
    )


def a_stop(inner_mm, first_mm=-60.0, last_mm=90.0):
    """A ring on the inside, three millimetres thick, given for face A up: z turned round."""
    low, high = inner_mm - RADIUS, inner_mm + 3.0 - RADIUS
    corners = [(3, -low), (9, -low), (9, -high), (3, -high)]
    outline = [[f"{y} mm", f"{z:.9f} mm"] for y, z in corners]
    return {"name": "stop", "from": f"{first_mm} mm", "to": f"{last_mm} mm", "outline": outline}


def a_box(half_mm, low_mm, high_mm):
    """An outline (u, v) of a part of the head."""
    corners = [(-half_mm, low_mm), (half_mm, low_mm), (half_mm, high_mm), (-half_mm, high_mm)]
    return {"outline": [[f"{u} mm", f"{v} mm"] for u, v in corners]}


def ring(inner_mm, first_mm, last_mm, traverse_mm):
    """The same by shapely, in the plane across the axis, the tool's station straight up."""
    turns = [(s - traverse_mm) / RADIUS for s in (first_mm, last_mm)]
    steps = [turns[0] + (turns[1] - turns[0]) * n / 4000 for n in range(4001)]
    outer = [(inner_mm + 3.0) * math.sin(a) + 0.0 for a in steps]
    points = list(zip(outer, [(inner_mm + 3.0) * math.cos(a) for a in steps], strict=True))
    points += [(inner_mm * math.sin(a), inner_mm * math.cos(a)) for a in reversed(steps)]
    return shapely.buffer(shapely.Polygon(points), 0.0)


def frame_of(machine, job):
    """The one set-up of a job."""
    wheel = machine.rack[0]
    (work,) = works_for(job, section_with(job, machine, wheel), wheel, machine.rack)
    shop = along_the_edge(machine, edge_motion(job, machine, work.face.face))
    radius, length = work.wheel_radius_mm or 0.0, job.edge.length_mm
    return work, touch_frame(shop, work.zero_face, radius, work.zero_relief, length)


def ways(machine, job=None):
    """Planning's way and the proof's: whether a part of the tool runs into the stop."""
    job, wheel = job or a_hook(), machine.rack[0]
    work, frame = frame_of(machine, job)
    motion = edge_motion(job, machine, work.face.face)
    shop, length = along_the_edge(machine, motion), job.edge.length_mm
    row = row_of(shop, wheel, length, work.depth_mm)
    things, body = obstacles_for(shop, work, row), tool_body(shop, wheel)
    pairs = pairs_for(motion, shop, work, frame)

    def planned(places):
        stands = [Stand(x, 0.0, infeed, frame.tilt_deg) for x, infeed in places]
        found = clearances(frame, body, things, stands, pairs)
        return {(c.part, c.obstacle.name) for c in found if c.distance_mm < -TOUCH_MM}

    def proved(places):
        log = FaultLog(())
        way = InTheWay(build_case(job, machine, work.name, wheel), log)
        stands = [KnownPlace(x, 0.0, infeed, frame.tilt_deg) for x, infeed in places]
        for line, (start, end) in enumerate(pairwise([stands[0], *stands])):
            way.move(line, start, end)
        return {(str(f.facts["part"]), str(f.facts["obstacle"])) for f in log.in_line_order()}

    return planned, proved


def lowest_free_mm(footprint, thing):
    """The least infeed at which a footprint is clear, by halving; the two overlap at 0."""
    low, high = 0.0, 12.0
    assert shapely.intersects(footprint(low), thing)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (
            (middle, high) if shapely.intersects(footprint(middle), thing) else (low, middle)
        )
    return high


def box_of(half_mm, low_mm, high_mm):
    """A part whose outline is so wide along the edge, seen in the plane, at an infeed."""

    def at(infeed_mm):
        top = RADIUS - infeed_mm
        return shapely.box(-half_mm, top - high_mm, half_mm, top - low_mm)

    return at


@pytest.mark.parametrize("name", ["rim along the edge", "flange along the edge", "guard"])
def test_corners_beside_the_section_meet_a_ring_where_they_do(name):
    # Source: shapely, the part's footprint against the ring, the infeed halved until it is clear.
    # By hand for the rim: hypot(30 - h, 3) = 28 at h = 30 - sqrt(28^2 - 3^2) = 2.1613; in the
    # section alone it would be 2.
    guard = {**a_box(20, -9, 5), "from": "-7 mm", "to": "16 mm"}
    part, wheel, changes, footprint = {
        "rim along the edge": ("wheel", ALONG, {}, box_of(3, 0, 20)),
        "flange along the edge": ("flange", {**ALONG, "flange": WIDE}, {}, box_of(7, 4, 16)),
        "guard": ("guard", ALONG, {"guard": guard}, None),
    }[name]
    if footprint is None:

        def footprint(infeed_mm):
            # By hand: from the wheel's axis 10 mm above the contact, 9 mm down and 5 up.
            return shapely.box(-7, RADIUS - infeed_mm - 15, 16, RADIUS - infeed_mm - 1)

    inner = 24.0 if part == "flange" else 28.0
    # The rim is narrower and reaches lower: beside it, and standing still, the flange alone meets.
    first, passes = (8.0, (0.0, 0.0)) if part == "flange" else (-60.0, (-5.0, 40.0))
    free = lowest_free_mm(footprint, ring(inner, first, 90, 0.0))
    if part == "wheel":
        assert free == pytest.approx(30 - math.sqrt(28**2 - 9), abs=1e-4)
    machine = a_turner(wheel, [a_stop(inner, first)], **changes)
    for run in ways(machine):
        assert (part, "stop") in run([(x, free - 0.01) for x in passes])
        # Planning takes a slice of the part nearer by 0.05 mm at most.
        assert (part, "stop") not in run([(x, free + 0.06) for x in passes])


def test_a_wheel_across_the_inside_is_nearest_at_its_own_station():
    # Source: shapely, circles: for any wheel that leaves its middle on this side of the axis, the
    # gap to a ring is what the section plane has, ring less middle and radius.
    for radius, inner, lift in ((10.0, 28.0, 2.5), (14.9, 30.0, 0.1), (6.0, 20.0, 9.0)):
        middle = inner - radius - lift
        disc = shapely.Point(0, middle).buffer(radius, quad_segs=2_000)
        outside = shapely.Point(0, 0).buffer(inner, quad_segs=2_000).exterior
        assert shapely.distance(disc, outside) == pytest.approx(lift, abs=1e-5)
    machine = a_turner(ACROSS, [a_stop(28.0)])
    for run in ways(machine):
        # By hand: the ring is 2 mm inside the edge, and the wheel meets it 2 mm above the blade.
        assert ("wheel", "stop") in run([(-5.0, 1.98), (40.0, 1.98)])
        assert ("wheel", "stop") not in run([(-5.0, 2.02), (40.0, 2.02)])


@pytest.mark.parametrize("wheel", [ALONG, ACROSS], ids=["along", "across"])
def test_the_end_of_a_ring_is_where_it_is_turned_to(wheel):
    # Source: shapely, a ring that begins past the tip; the wheel stands still over the traverse and
    # the place is halved at which it is clear. Nearer to the axis a millimetre is more of a turn.
    def at(traverse_mm):
        thing = ring(24.0, 50.0, 70.0, traverse_mm)
        if wheel is ALONG:
            return shapely.intersects(box_of(3, 0, 20)(1.0), thing)
        disc = shapely.Point(0, RADIUS - 1.0 - 10.0).buffer(10.0, quad_segs=4000)
        return shapely.intersects(disc, thing)

    low, high = 20.0, 50.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if at(middle) else (middle, high)
    planned, proved = ways(a_turner(wheel, [a_stop(24.0, 50.0, 70.0)]))
    for run in (planned, proved):
        assert ("wheel", "stop") in run([(high + 0.5, 1.0), (high + 0.5, 1.0)])
    assert ("wheel", "stop") not in proved([(low - 1.2, 1.0), (low - 1.2, 1.0)])
    # Planning takes the whole turn of a slab: on the safe side by as much as it is long.
    assert ("wheel", "stop") not in planned([(low - 5.0, 1.0), (low - 5.0, 1.0)])


def test_a_large_wheel_meets_what_stands_beyond_the_axis():
    # By hand: a wheel of 56 mm at the infeed 1 mm reaches from 29 mm on this side of the axis to 27
    # beyond it; a ring of 26 to 29 mm stands there, half a turn on (94.2 mm), from 80 to 110 mm.
    wheel = {**ALONG, "diameter": "56 mm"}
    for run in ways(a_turner(wheel, [a_stop(26.0, 80.0, 110.0)])):
        assert ("wheel", "stop") in run([(0.0, 1.0), (0.0, 1.0)])
        assert ("wheel", "stop") not in run([(-40.0, 1.0), (-40.0, 1.0)])
    for run in ways(a_turner(wheel, [a_stop(27.2, 80.0, 110.0)])):
        assert ("wheel", "stop") not in run([(0.0, 1.0), (0.0, 1.0)])


def test_a_closed_hook_is_hit_by_a_wheel_that_is_lifted_across_it():
    # By hand: a wheel of 20 mm, lifted 25 mm off the inside of 30, stands with its middle 15 mm
    # beyond the axis less 10: its far side is 30 - 25 - 20 = -15 mm from it, clear; lifted 45 mm it
    # is 35 mm beyond and in the blade, where that goes more than half a turn round.
    job = a_hook(angle_deg=220)
    for run in ways(a_turner(ACROSS, fixture__clearance="30 mm"), job):
        assert run([(5.0, 0.0), (5.0, 25.0)]) == set()
        assert run([(5.0, 25.0), (5.0, 42.0)]) == {("wheel", "blade")}


coordinates = st.integers(-600, 600).map(lambda n: n / 100)


@settings(deadline=None, derandomize=True, max_examples=40)
@given(
    corners=st.lists(st.tuples(coordinates, coordinates), min_size=3, max_size=6),
    beside=st.floats(0.5, 12.0),
    probe=st.tuples(coordinates, st.integers(-1400, 600).map(lambda n: n / 100)),
)
def test_a_plane_beside_the_section_finds_what_is_there(corners, beside, probe):
    # Property: a place (x, y, z) is in the thing just where (y, its distance from the axis) is in
    # its section.
    outline = shapely.MultiPoint(corners).convex_hull
    if shapely.area(outline) < 0.5:
        return
    ring = tuple(tuple(p) for p in shapely.get_coordinates(outline)[:-1].tolist())
    thing = Obstacle("thing", "obstacle", ring, 0.0, 1.0)
    y, z = probe
    real = shapely.Point(y, math.hypot(20.0 + z, beside) - 20.0)
    if shapely.distance(real, outline.exterior) < 0.01:
        return
    inside = shapely.contains(outline, real)
    image = shapely.Polygon(_beside(thing, 20.0, beside, beside).outline_yz_mm)
    assert shapely.contains(shapely.buffer(image, 0.0), shapely.Point(probe)) == inside
    (near, *_) = planes(outline, 20.0, beside)
    assert shapely.contains(near.shape, shapely.Point(probe)) == inside
    # What lies between two planes is held by the sweep over both.
    swept = shapely.Polygon(_beside(thing, 20.0, 0.3 * beside, 1.1 * beside).outline_yz_mm)
    assert shapely.contains(swept, shapely.Point(probe)) or not inside


def test_outside_an_arc_all_falls_away():
    # Property: on face A what is clear in the section is clear beside it.
    guard = {**a_box(12, -8, 20), "from": "-30 mm", "to": "30 mm"}
    machine = a_turner(ALONG, guard=guard)
    for run in ways(machine, a_hook("A")):
        assert run([(-20.0, 0.5), (60.0, 0.5)]) == set()


def rim_places(frame, wheel, infeed_mm):
    """Places of a wheel that lies across the edge, standing there: (n, 3) of y, radius, turn."""
    form = wheel.form_radius_mm or 0.0
    axis, radius = wheel.diameter_mm / 2 - form, wheel.diameter_mm / 2
    us, shares = np.linspace(-wheel.width_mm / 2, wheel.width_mm / 2, 9), np.linspace(-1, 1, 15)
    ups = np.concatenate([np.linspace(0, 1, 60), np.linspace(1, 2 * radius, 60)])
    u, up, share = (a.ravel() for a in np.meshgrid(us, ups, shares, indexing="ij"))
    beside = share * np.sqrt(np.maximum(2 * radius * up - up * up, 0.0))
    # Of a form the rim stands back beside its middle, and its disc is so much smaller.
    kept = up >= form - np.sqrt(form**2 - u**2) if form else up >= 0.0
    u, v, beside = u[kept], (up + axis - radius)[kept], beside[kept]
    origin, cross, away = (
        np.array(p) for p in (frame.origin_yz_mm, frame.cross_dir_yz, frame.infeed_dir_yz)
    )
    place = origin + infeed_mm * away + u[:, None] * cross + v[:, None] * away
    height = RADIUS + place[:, 1]
    return np.column_stack([place[:, 0], np.hypot(height, beside), np.arctan2(beside, height)])


TENTHS = st.integers(-80, 80).map(lambda n: n / 10)


@settings(
    deadline=None,
    derandomize=True,
    max_examples=int(os.environ.get("BEVELWRIGHT_THOROUGH", "25")),
    phases=[Phase.generate],
)
@given(
    angle=st.integers(20, 44),
    diameter=st.integers(10, 44),
    face=st.sampled_from("AB"),
    corner=st.tuples(TENTHS, TENTHS),
    thick=st.integers(5, 40).map(lambda n: n / 10),
    first=st.integers(-16, 16),
    infeed=st.integers(0, 40).map(lambda n: n / 10),
)
def test_whatever_a_leaning_wheel_meets_is_found(
    angle, diameter, face, corner, thick, first, infeed
):
    # Property: where a place of the rim, each on its own circle in space, lies in what stands
    # there, planning finds it, and the proof where it is deeper than its planes are apart. What the
    # proof finds planning finds.
    y, low = corner
    high = low + thick
    sign = 1 if face == "A" else -1
    points = [(y, sign * low), (y + 3, sign * low), (y + 3, sign * high), (y, sign * high)]
    outline = [[f"{a:.3f} mm", f"{b:.3f} mm"] for a, b in points]
    stop = {"name": "stop", "from": f"{first} mm", "to": f"{first + 6} mm", "outline": outline}
    section = {"form": "double_bevel", "thickness": "2 mm", "width": "14 mm"}
    job = a_job(
        blade__edge={"path": "bend", "radius": f"{RADIUS} mm", "angle": "40 deg"},
        blade__section={**section, "included_angle": f"{angle} deg"},
        relief={"faces": face, "edge_land": "0.6 mm", "shoulder_land": "0.6 mm"},
    )
    machine = a_turner({**ACROSS, "diameter": f"{diameter} mm", "width": "6 mm"}, [stop])
    there = rim_places(frame_of(machine, job)[1], machine.rack[0], infeed)
    planned, proved = (("wheel", "stop") in run([(0.0, infeed)] * 2) for run in ways(machine, job))

    def within(skin_mm):
        lows = np.array([y, RADIUS + low, first / RADIUS]) + skin_mm * np.array([1, 1, 1 / RADIUS])
        highs = np.array([y + 3, RADIUS + high, (first + 6) / RADIUS]) - skin_mm * np.array(
            [1, 1, 1 / RADIUS]
        )
        return bool(np.any(np.all((there > lows) & (there < highs), axis=1)))

    assert planned or not within(1e-3)
    assert proved or not within(0.5)
    assert planned or not proved
