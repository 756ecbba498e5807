"""What the tool comes near to, in planning: a tenth of a millimetre decides."""

import math

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate

from planner.kinematics.clearance import Stand, clearances
from planner.kinematics.in_the_way import full_depth_refusals, way_refusals
from planner.kinematics.obstacles import Obstacle, obstacles_for
from planner.kinematics.row import row_of
from planner.kinematics.tool_body import Part, tool_body
from planner.kinematics.touch_frame import TouchFrame, touch_frame
from planner.report.refusals import refusal_words, way_out_words
from planner.section.target import section_for
from planner.section.works import works_for
from tests.samples import a_machine
from tests.ways import FLIPS, JOB, RAPID, WAYS, machine_with


def setups(machine, job=JOB):
    wheel = machine.rack[0]
    works = works_for(job, section_for(job, wheel.diameter_mm / 2), wheel, machine.rack)
    length = job.blade.edge.length_mm
    return {
        work.relief.face: (
            work,
            touch_frame(
                machine, work.zero_face, work.wheel_radius_mm or 0.0, work.zero_relief, length
            ),
        )
        for work in works
    }


def row_for(machine, work, stations=(1,)):
    return row_of(machine, work.wheel, 80.0, work.depth_mm, stations)


def found(machine, face, places):
    work, frame = setups(machine)[face]
    stands = [Stand(x, 0.0, infeed, frame.tilt_deg, not rapid) for x, infeed, rapid in places]
    things = obstacles_for(machine, work, row_for(machine, work))
    return clearances(frame, tool_body(machine, machine.rack[0]), things, stands)


@pytest.mark.parametrize("face", ["A", "B"])
@pytest.mark.parametrize("flip", FLIPS)
@pytest.mark.parametrize("way", WAYS, ids=lambda w: w.id)
def test_a_tenth_of_a_millimetre_into_the_path_is_found(way, flip, face):
    out = {
        c.part: c
        for c in found(machine_with(way, -0.1, flip, face), face, way.places)
        if is_stop(c)
    }
    # By hand: moved a tenth out, it is a tenth away; moved a tenth in, a tenth inside.
    assert out[way.part].distance_mm == pytest.approx(0.1, abs=1e-5)
    assert all(c.distance_mm > 0.09 for c in out.values())
    machine = machine_with(way, 0.1, flip, face)
    into = found(machine, face, way.places)
    refusals = way_refusals(
        into, machine, machine.rack[0], row_for(machine, setups(machine)[face][0])
    )
    assert [(r.rule, r.facts["part"], r.facts["obstacle"]) for r in refusals] == [
        ("tool-meets-obstacle", way.part, "stop")
    ]
    assert refusals[0].facts["overlap_mm"] == pytest.approx(0.1, abs=1e-3)
    assert refusals[0].facts["move"] == ("rapid" if RAPID[way.move] else "feed move")
    assert "0.10 mm into the stop" in refusal_words(refusals[0])
    assert all(len(way_out_words(w)) > 5 for w in refusals[0].ways_out)


def is_stop(clearance):
    return clearance.obstacle.name == "stop"


# --- the jaws -----------------------------------------------------------------------------------


def jaw_refusals(from_edge, above):
    jaws = {"from_edge": f"{from_edge} mm", "above_flank": f"{above} mm"}
    machine = a_machine(fixture__jaws=jaws)
    refusals = []
    for work, frame in setups(machine).values():
        refusals += full_depth_refusals(machine, work, frame, row_for(machine, work))
    assert all(refusal_words(r) for r in refusals)
    return refusals


def test_jaws_beside_the_wheel():
    # By hand: bevel 12.5 deg, middle of the relief 3.365 mm from the edge, radius 75. The wheel's
    # centre, touching: y 3.365 cos - 75 sin = -12.948, z 3.365 sin + 75 cos = 73.951. A jaw
    # that begins 14 mm from the edge and stands 1.5 + a over the centre plane is
    # hypot(26.948, 73.951 - 1.5 - a) away; that is 75 at 73.951 - 1.5 - a = 69.992, a = 2.459.
    # At the final depth the centre is 0.031 lower: 2.459 - 0.030.
    assert jaw_refusals(14, 2.42) == []
    refusals = jaw_refusals(14, 2.45)
    assert {r.rule for r in refusals} == {"wheel-meets-jaws"}
    assert float(refusals[0].facts["overlap_mm"]) == pytest.approx(
        75 - math.hypot(26.948 - 0.007, 73.951 - 0.031 * 0.976 - 1.5 - 2.45), abs=2e-3
    )
    assert jaw_refusals(13, 2.45)
    assert jaw_refusals(15, 2.45) == []


# --- the blade itself ---------------------------------------------------------------------------


def test_a_guard_that_hangs_too_low_meets_the_blade():
    # By hand: the wheel's lowest point is 75 below its axis; so far down and 12 to 14 mm beside,
    # toward the spine, a guard stands in the steel: face A rises from the middle of the relief
    # for 6.930 - 3.365 mm, and then falls away as the flank, 12.5 deg to u.
    # At u = 13 the flank is (13 - 3.565) tan 12.5 = 2.09 mm lower than the face.
    def meets(bottom):
        outline = [["13 mm", f"{bottom} mm"], ["14 mm", "-20 mm"], ["13 mm", "-20 mm"]]
        guard = {"outline": outline, "from": "-5 mm", "to": "5 mm"}
        machine = a_machine(guard=guard)
        at = {
            c.part: c.distance_mm
            for c in found(machine, "A", WAYS[0].places)
            if c.obstacle.kind == "blade"
        }
        assert set(at) == {"guard"}
        return at["guard"] < 0

    lowest = -75 - (13 - 3.565) * math.tan(math.radians(12.5)) + 0.0313
    assert meets(lowest - 0.01)
    assert not meets(lowest + 0.01)


# --- against looking at very many places ----------------------------------------------------------

coordinates = st.integers(-200, 200).map(lambda n: n / 10)
quads = st.tuples(coordinates, coordinates, st.integers(1, 200), st.integers(1, 200), st.booleans())


def shape_of(quad, notch=0.4):
    y, z, width, height, plain = quad
    w, h = width / 10, height / 10
    points = [(y, z), (y + w, z), (y + w, z + h), (y, z + h)]
    # Half of them are no convex outlines.
    return points if plain else [*points, (y + notch * w, z + 0.5 * h)]


@st.composite
def stands_of(draw, turning):
    places = []
    tilt = 10.0
    for _ in range(2):
        places.append(Stand(draw(coordinates), draw(coordinates), draw(coordinates), tilt))
        tilt += draw(st.integers(-60, 60)) / 2 if turning else 0.0
    return places


FRAME = TouchFrame((3.0, -2.0), (0.8, 0.6), (-0.6, 0.8), 0.0, 1, 10.0, 10.0, -1.0, 0.0, 0.0, 1.0)


def looked_at(part, thing, stands, steps):
    """The least of very many places, each by its own shapes: no path, no sum of shapes."""
    here = shapely.Polygon(thing.outline_yz_mm)
    turn0 = math.degrees(math.atan2(0.6, 0.8))
    worst = math.inf
    for n in range(steps + 1):
        x, cross, infeed, tilt = (
            a + n / steps * (b - a) for a, b in zip(stands[0][:4], stands[1][:4], strict=True)
        )
        turn = turn0 + tilt - 10.0
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        place = (3.0 + cross * cos - infeed * sin, -2.0 + cross * sin + infeed * cos)
        along = max(x + part.x_from_mm - thing.to_mm, thing.from_mm - x - part.x_to_mm)
        if part.radius_mm:
            across = shapely.distance(shapely.Point(place), here) - part.radius_mm
        else:
            there = rotate(shapely.Polygon(part.outline_uv_mm), turn, origin=(0, 0))
            across = shapely.distance(translate(there, *place), here)
        if along < 0 and across <= 0:
            return -1.0
        worst = min(worst, math.hypot(max(along, 0.0), max(across, 0.0)))
    return worst


@st.composite
def cases(draw, turning):
    span = draw(st.integers(1, 300)) / 10
    start = draw(coordinates)
    thing = Obstacle("thing", "obstacle", tuple(shape_of(draw(quads))), start, start + span)
    if draw(st.booleans()):
        part = Part("part", -3.0, 5.0, radius_mm=draw(st.integers(1, 150)) / 10)
    else:
        part = Part("part", -3.0, 5.0, outline_uv_mm=tuple(shape_of(draw(quads))))
    return part, thing, draw(stands_of(turning))


@pytest.mark.parametrize("turning", [False, True], ids=["straight", "turning"])
def test_the_nearest_place_is_found(turning):
    seen = []

    @settings(
        max_examples=40 if turning else 120,
        deadline=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
    @given(cases(turning))
    def judge(case):
        part, thing, stands = case
        steps = 200 if turning else 400
        sampled = looked_at(part, thing, stands, steps)
        (one,) = clearances(FRAME, [part], [thing], stands)
        # No point goes further between two samples than the way of the axes and of the turn.
        turn = math.radians(abs(stands[1].tilt_deg - stands[0].tilt_deg))
        reach = part.farthest_mm + max(math.hypot(s.cross_mm, s.infeed_mm) for s in stands)
        way = math.dist(stands[0][:3], stands[1][:3]) + turn * reach
        seen.append(sampled < 0)
        if sampled < 0:
            assert one.distance_mm < 0
        else:
            # While the tilt turns, the figure may fall short by a twentieth.
            least = (0.95 if turning else 1.0) * (sampled - way / steps) - 0.011
            assert least <= one.distance_mm <= sampled + 0.0011

    judge()
    # Property: both kinds were seen.
    assert 0.05 < sum(seen) / len(seen) < 0.95


# --- the shapes of the tool -----------------------------------------------------------------------

ACROSS = {"rack__0__contact": "across_edge", "rack__0__width": "6 mm"}


def across(machine, x, slack):
    """Lowest v of the wheel at a place along the edge, between sides."""
    parts = [p for p in tool_body(machine, machine.rack[0]) if p.name == "wheel"]
    there = [p for p in parts if p.x_from_mm + slack < x < p.x_to_mm - slack]
    return min(v for p in there for _, v in p.outline_uv_mm)


def test_a_wheel_across_the_edge_is_its_rim_and_a_disc_along_the_edge():
    machine = a_machine(**ACROSS)
    body = tool_body(machine, machine.rack[0])
    corners = [c for p in body for c in p.outline_uv_mm]
    # By hand: flat, 6 mm wide, from the line it grinds with up to its diameter of 150 mm.
    assert min(u for u, _ in corners) == pytest.approx(-3)
    assert (min(v for _, v in corners), max(v for _, v in corners)) == pytest.approx((0, 150))
    assert max(p.x_to_mm for p in body) == pytest.approx(75)
    # By hand: h below the axis the disc reaches sqrt(75^2 - h^2): 45 mm along the edge it is
    # 75 - 60 = 15 mm up; the slab that says so begins at most 150 / 24 mm lower.
    assert 15 - 150 / 24 <= across(machine, 45, 0) <= 15
    # A form of 30 mm: its lowest point 30 below the reference point, its corners 30 cos up.
    form = a_machine(**ACROSS, rack__0__form_radius="30 mm")
    corners = [c for p in tool_body(form, form.rack[0]) for c in p.outline_uv_mm]
    assert min(v for _, v in corners) == pytest.approx(-30, abs=0.01)
    corner = min(v for u, v in corners if u == pytest.approx(3))
    assert corner == pytest.approx(-30 * math.cos(math.asin(0.1)), abs=0.01)


def test_a_guard_stands_about_the_axis_whatever_the_contact():
    guard = {"outline": [["0 mm", "0 mm"], ["9 mm", "0 mm"], ["0 mm", "9 mm"]], "from": "-5 mm",
             "to": "5 mm"}  # fmt: skip
    for changes, axis in (
        ({}, 0.0),
        (ACROSS, 75.0),
        (ACROSS | {"rack__0__form_radius": "30 mm"}, 45.0),
    ):
        machine = a_machine(guard=guard, **changes)
        (part,) = [p for p in tool_body(machine, machine.rack[0]) if p.name == "guard"]
        # By hand: the axis is half the diameter over the lowest point, 75 or 75 - 30 over the
        # reference point.
        assert part.outline_uv_mm[0] == pytest.approx((0.0, axis))


def test_a_platen_is_a_block():
    machine = a_machine(
        kind="belt",
        rack__0__contact="platen",
        rack__0__width="50 mm",
        rack__0__platen={"length": "60 mm"},
        rack__0__belt={"thickness": "1 mm", "speed": "12 m/s"},
    )
    (part,) = tool_body(machine, machine.rack[0])
    # By hand: as wide as the belt, as long as the flat to either side of its middle.
    assert (part.x_from_mm, part.x_to_mm) == (-30, 30)
    assert {u for u, _ in part.outline_uv_mm} == {-25, 25}
    assert min(v for _, v in part.outline_uv_mm) == 0


def test_a_row_of_blades_has_its_jaws_at_each():
    machine = a_machine(
        fixture__jaws={"from_edge": "14 mm", "above_flank": "2 mm"},
        fixture__row={"positions": ["0 mm", "150 mm", "300 mm"]},
    )
    work, _ = setups(machine)["A"]
    things = obstacles_for(machine, work, row_for(machine, work, (1, 3)))
    # By hand: the empty station in the middle has its jaws and no blade.
    assert [(t.kind, t.from_mm, t.to_mm) for t in things] == [
        ("jaws", 0, 80), ("blade", 0, 80), ("jaws", 150, 230), ("jaws", 300, 380),
        ("blade", 300, 380),
    ]  # fmt: skip
