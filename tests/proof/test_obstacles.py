"""What no move may run into, in the proof: a tenth of a millimetre decides."""

import math
import re
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate

from planner.errors import RefusedError
from planner.produce import produce, programs_for
from planner.proof.build_case import build_case
from planner.proof.faultlog import FaultLog
from planner.proof.frame import KnownPlace
from planner.proof.obstacles import InTheWay
from planner.proof.prove import prove_program
from planner.report.faults import fault_words
from tests.planning import DIGEST, planned
from tests.samples import a_machine
from tests.ways import FLIPS, JOB, WAYS, corners, machine_with, mm


def faults(machine, face, places, tilt=None, job=JOB):
    """The faults of the moves between some places; the line is the number of the move's end."""
    case = build_case(job, machine, face, machine.rack[0])
    log = FaultLog(())
    way = InTheWay(case, log)
    tilt = case.frame.ideal_tilt_deg if tilt is None else tilt
    stands = [KnownPlace(x, 0.0, infeed, tilt) for x, infeed, _ in places]
    for line, (start, end) in enumerate(pairwise([stands[0], *stands])):
        way.move(line, start, end)
    return log.in_line_order()


@pytest.mark.parametrize("face", ["A", "B"])
@pytest.mark.parametrize("flip", FLIPS)
@pytest.mark.parametrize("way", WAYS, ids=lambda w: w.id)
def test_a_tenth_of_a_millimetre_into_the_path_is_found(way, flip, face):
    assert faults(machine_with(way, -0.1, flip, face), face, way.places) == ()
    found = faults(machine_with(way, 0.1, flip, face), face, way.places)
    assert {(f.rule, f.facts["part"], f.facts["obstacle"]) for f in found} == {
        ("obstacle", way.part, "stop")
    }
    # By hand: each box was placed for one move; no earlier one comes near it.
    assert found[0].line == way.move
    assert found[0].facts["overlap_mm"] == pytest.approx(0.1, abs=1e-4)
    assert f"the {way.part} runs 0.1000 mm into the stop" in fault_words(found[0])


def test_touching_is_not_running_in():
    for way in WAYS:
        assert faults(machine_with(way, -2e-6, "end_for_end", "A"), "A", way.places) == ()


# --- whole programs -------------------------------------------------------------------------------

EASY = {
    "axes__Z__resolution": "0.005 mm",
    "stiffness": "20000 N/mm",
    "rack__0__specific_energy": "5 J/mm3",
    "rack__0__infeed": {"rough": "0.02 mm", "finish": "0.005 mm"},
}
IN_PROGRAMS = [w for w in WAYS if w.move != 4]


@pytest.mark.parametrize("way", IN_PROGRAMS, ids=lambda w: w.id)
def test_planning_and_proof_draw_the_line_in_one_place(way):
    # The finished depth is 0.0313 mm; in steps of 5 um the passes end 0.030 mm deep.
    free, cut = (machine_with(way, by, "end_for_end", "A", **EASY) for by in (-0.101 - 5.0, 0.1))
    for program in programs_for(planned(JOB, free), DIGEST).values():
        assert prove_program(program, JOB, free).ok
    with pytest.raises(RefusedError) as refused:
        planned(JOB, cut)
    assert {r.rule for r in refused.value.refusals} == {"tool-meets-obstacle"}
    programs = programs_for(planned(JOB, free), DIGEST)
    rules = {f.rule for f in prove_program(programs["setup-A.ngc"], JOB, cut).faults}
    assert rules == {"obstacle"}


def test_a_stop_above_the_air_run_is_found_in_the_air_run_alone():
    # By hand: the air run is lifted by clearance and depth, 5.03 mm, so its wheel reaches from
    # there to 75 + 10.03 mm; the cutting program's stays under 75 + 5.
    way = WAYS[3]
    assert (way.part, way.move, way.v[0]) == ("wheel", 0, 80)
    between = machine_with(way, -4.0, "end_for_end", "A", **EASY)
    with pytest.raises(RefusedError) as refused:
        planned(JOB, between)
    assert refused.value.refusals[0].facts["infeed_mm"] == pytest.approx(10.03)
    programs = programs_for(planned(JOB, a_machine(**EASY)), DIGEST)
    assert prove_program(programs["setup-A.ngc"], JOB, between).ok
    air = prove_program(programs["setup-A-air.ngc"], JOB, between)
    assert {f.rule for f in air.faults} == {"obstacle"}


def test_a_guard_near_everything_is_planned_and_proved():
    inside = [(85, -20), (85, 85), (-85, 85), (-85, -20)]
    outside = [(-90, -20), (-90, 95), (90, 95), (90, -20)]
    guard = {"outline": corners([*inside, *outside]), "from": "-15 mm", "to": "15 mm"}
    stop = {"name": "stop", "from": "-60 mm", "to": "-31 mm",
            "outline": corners([(-20, -9), (8, -9), (8, 6), (-20, 6)])}  # fmt: skip
    machine = a_machine(
        guard=guard,
        rack__0__flange={"diameter": "80 mm", "width": "32 mm"},
        fixture__obstacles=[stop],
        fixture__jaws={"from_edge": "14 mm", "above_flank": "2 mm"},
        **EASY,
    )
    plan = planned(JOB, machine)
    produced = produce(plan, ())
    sheet = produced.files["setup-A.md"].decode()
    # By hand: the wheel turns 20 mm before the heel and reaches 10 mm further, to -30.
    assert "- `stop`: nearest is `wheel`, 1.000 mm away, at `X-20.0000`" in sheet
    assert "- `the jaws`: nearest is `wheel`" in sheet
    parts = {(c.obstacle.kind, c.part) for c in plan.setups[0].clearances}
    assert parts == {
        (kind, part)
        for kind in ("jaws", "blade", "obstacle")
        for part in ("wheel", "flange", "guard")
    } - {("blade", "wheel")}


def test_what_the_guide_draws_is_clear_of_the_test_job():
    guide = (Path(__file__).parents[2] / "docs" / "describe-your-machine.md").read_text()
    section = guide.partition("## What is in the way")[2]
    (yaml_text, *_) = re.findall(r"```yaml\n(.*?)```", section, re.DOTALL)
    drawn = yaml.safe_load(yaml_text)
    machine = a_machine(
        fixture__obstacles=drawn["fixture"]["obstacles"],
        guard=drawn["guard"],
        head=drawn["head"],
        rack__0__flange=drawn["rack"][0]["flange"],
        **EASY,
    )
    plan = planned(JOB, machine)
    assert all(v.ok for v in produce(plan, ()).verdicts.values())
    near = {(c.obstacle.name, c.part): c.distance_mm for c in plan.setups[0].clearances}
    # By hand: the wheel reaches to -30, the stop ends at -32.
    assert near["end stop", "wheel"] == pytest.approx(2.0)
    # By hand: 30 mm of the flange's radius lie 45 mm above the wheel's lowest point.
    assert near["blade", "flange"] == pytest.approx(45, abs=0.1)
    assert len(near) == 2 * 4 + 3


def test_turned_over_the_sheet_says_where_the_edge_lies():
    machine = machine_with(WAYS[0], -5.0, "over", "A", **EASY)
    files = produce(planned(JOB, machine), ()).files
    # By hand: twice the 7 mm to the line.
    assert "14.000 mm beyond where it lay on face A" in files["setup-B.md"].decode()


# --- against looking at very many places ----------------------------------------------------------

coordinates = st.integers(-150, 150).map(lambda n: n / 10)


@st.composite
def outlines(draw):
    y, z = draw(coordinates), draw(coordinates)
    w, h = draw(st.integers(1, 150)) / 10, draw(st.integers(1, 150)) / 10
    points = [(y, z), (y + w, z), (y + w, z + h), (y, z + h)]
    return points if draw(st.booleans()) else [*points, (y + 0.4 * w, z + 0.5 * h)]


@pytest.mark.parametrize("turning", [False, True], ids=["straight", "turning"])
def test_what_very_many_places_find_is_found(turning):
    seen = []

    @settings(
        max_examples=30 if turning else 80,
        deadline=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
    @given(st.data())
    def judge(data):
        guard, stop = data.draw(outlines()), data.draw(outlines())
        machine = a_machine(
            guard={"outline": corners(guard), "from": "-3 mm", "to": "5 mm"},
            fixture__obstacles=[
                {"name": "stop", "outline": corners(stop), "from": "-20 mm", "to": "6 mm"}
            ],
        )
        case = build_case(JOB, machine, "A", machine.rack[0])
        tilts = [12.5, 12.5 + (data.draw(st.integers(-60, 60)) / 2 if turning else 0.0)]
        start, end = (
            KnownPlace(
                data.draw(coordinates), data.draw(coordinates), -75 + data.draw(coordinates), t
            )
            for t in tilts
        )
        log = FaultLog(())
        way = InTheWay(case, log)
        # A line tells a rule once: only this pair is to be asked for.
        way._pairs = [(b, t) for b, t in way._pairs if (b.name, t.name) == ("guard", "stop")]
        way.move(1, start, end)
        found = bool(log.in_line_order())
        nearest = looked_at(case.frame.origin, guard, stop, start, end, 300)
        seen.append(nearest <= 0)
        reach = max(math.hypot(*c) for c in guard) + 110
        turn = math.radians(abs(end.tilt - start.tilt)) * reach
        longest = math.dist(start[:3], end[:3]) + turn
        if nearest < 0:
            assert found
        elif nearest > longest / 300 + 0.002:
            assert not found

    judge()
    # Property: both kinds were seen.
    assert 0.05 < sum(seen) / len(seen) < 0.95


def looked_at(origin, guard, stop, start, end, steps):
    """The least distance over very many places; below zero where the two overlap."""
    worst = math.inf
    thing = shapely.Polygon(stop)
    for n in range(steps + 1):
        x, cross, infeed, tilt = (a + n / steps * (b - a) for a, b in zip(start, end, strict=True))
        angle = math.radians(tilt)
        place = (
            origin[0] + cross * math.cos(angle) - infeed * math.sin(angle),
            origin[1] + cross * math.sin(angle) + infeed * math.cos(angle),
        )
        there = translate(rotate(shapely.Polygon(guard), tilt, origin=(0, 0)), *place)
        along = max(x - 3 - 6, -20 - x - 5)
        across = shapely.distance(there, thing)
        if along < 0 and shapely.area(shapely.intersection(there, thing)) > 1e-6:
            return -1.0
        worst = min(worst, math.hypot(max(along, 0.0), across))
    return worst


def test_a_wheel_across_the_edge_is_looked_at_as_its_rim():
    # Such a wheel is not proved yet; its shape stands ready. By hand: the disc of 150 mm reaches
    # 45 mm along the edge where it is 75 - 60 = 15 mm up; a slice there is 150 / 48 mm high.
    from planner.proof import obstacles  # noqa: PLC0415

    class Across:
        machine = a_machine(rack__0__contact="across_edge", rack__0__width="6 mm")
        wheel = machine.rack[0]

    bodies = obstacles.bodies_of(Across)  # type: ignore[arg-type]
    there = [b for b in bodies if b.low_mm < -45 and b.high_mm > 45]
    lowest = min(shapely.bounds(b.shape)[1] for b in there)
    assert 15 - 150 / 48 <= lowest <= 15
    assert mm(max(shapely.bounds(b.shape)[3] for b in bodies)) == mm(150)
