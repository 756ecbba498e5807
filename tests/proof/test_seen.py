"""What the proof shows of a program: wheel, steel taken, section and time, pass by pass."""

import json
import math
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from planner.inputs.axes import LinearAxis
from planner.inputs.load import load_machine, load_pair
from planner.proof.clock import Clock
from planner.proof.events import Blend, Dwell, Move, Stop
from planner.proof.prove import prove_program
from planner.proof.seen import look
from tests.commands import ROOT, written

CASES = {
    "straight": ("straight-knife", None),
    "bar": ("bar-knife", None),
    "row": ("straight-knife", ROOT / "machines" / "row-xz.yaml"),
    "hook": ("hook-knife", None),
    "bulging": ("whittling-knife", None),
}


@pytest.fixture(params=CASES, scope="module")
def shown(request):
    """(plan.json, what was seen, verdicts) of a job that was written."""
    stem, machine = CASES[request.param]
    path = ROOT / "jobs" / f"{stem}.yaml"
    folder = written(path, *([] if machine is None else ["--machine", str(machine)]))
    data = json.loads((folder / "plan.json").read_text())
    job, shop = load_pair(path, machine, ())
    verdicts = [
        prove_program((folder / s["program"]).read_bytes(), job.model, shop.model, wheel=s["wheel"])
        for s in data["setups"]
    ]
    return data, look(verdicts), verdicts


def area(rings):
    return sum(shapely.Polygon(ring).area for ring in rings)


def union(rings):
    return shapely.union_all([shapely.Polygon(ring) for ring in rings])


def placed(seen, one):
    """The wheel's outline in the section."""
    axes = np.array([one.cross_dir_yz, one.infeed_dir_yz])
    return shapely.Polygon(np.array(seen.wheel_uv_mm) @ axes + np.array(one.wheel_yz_mm))


def test_every_pass_of_the_plan_is_seen_once(shown):
    data, seen, _ = shown
    assert [s.setup for s in seen] == [s["name"] for s in data["setups"]]
    for one, planned in zip(seen, data["setups"], strict=True):
        assert [p.number for p in one.passes] == [p["n"] for p in planned["passes"]]


def test_depth_force_and_area_agree_with_the_plan(shown):
    # Property: two makers of the same figures, by their own arithmetic each. Wear stands behind by
    # up to a step of the infeed, 0.001 mm, until it is made up for, and a pass takes less by that
    # part of its bite; beside it the proof's own allowance, 2 %.
    data, seen, _ = shown
    for one, planned in zip(seen, data["setups"], strict=True):
        before = 0.0
        for read, meant in zip(one.passes, planned["passes"], strict=True):
            reached = meant["reached_depth_mm"]
            assert read.reached_mm == pytest.approx(reached, abs=1e-3)
            share = 1e-3 / (reached - before) + 0.02
            assert read.normal_force_n == pytest.approx(meant["normal_force_n"], rel=share)
            assert read.removed_area_mm2 == pytest.approx(meant["removed_area_mm2"], rel=share)
            before = reached


def test_what_is_drawn_is_what_was_taken(shown):
    _, seen, _ = shown
    for one in seen:
        before = union(one.before)
        for read in one.passes:
            # Property: a pass leaves what it found less what it took. An outline is off by at most
            # 5e-5 mm, over an arc and two sides of some millimetres.
            slack = 5e-5 * 2.0 * 12.0
            assert area(read.cut) == pytest.approx(read.removed_area_mm2, abs=slack)
            left = union(read.left)
            assert left.area == pytest.approx(before.area - area(read.cut), abs=slack)
            before = left


def test_the_wheel_stands_on_the_steel_that_it_leaves(shown):
    # Property: it neither goes into what is left nor stays clear of it.
    _, seen, _ = shown
    for one in seen:
        for read in one.passes:
            wheel, left = placed(one, read), union(read.left)
            assert shapely.distance(wheel, left) < 2e-4
            # Slivers of the two outlines' errors, 5e-5 mm each, over some millimetres.
            assert shapely.intersection(wheel, left).area < 2 * 5e-5 * 12.0


def test_a_set_up_stands_on_what_those_before_it_left(shown):
    _, seen, _ = shown
    for first, second in pairwise(seen):
        after, before = union(first.passes[-1].left), union(second.before)
        # Property: no steel comes back.
        assert shapely.difference(before, after).area < 5e-5 * 80.0


def test_the_clock_agrees_with_the_plan(shown):
    # Property: the plan counts ramps, feeds and dwells from its own list of passes, the clock from
    # the blocks. Where a person starts the wheel the plan counts the spin-up, the clock nothing.
    data, seen, _ = shown
    spindle = load_machine(ROOT / "machines" / data["machine"]["file"]).model.spindle
    spin_up = spindle.spin_up_s if spindle.control == "by_hand" else 0.0
    for one, planned in zip(seen, data["setups"], strict=True):
        # By hand: the first infeed also covers the clearance, at the infeed's own feed or at rapid.
        assert one.whole_s == pytest.approx(planned["time_s"] - spin_up, rel=2e-3, abs=0.05)
        for before, after in pairwise(one.passes):
            assert 0 < before.begins_s < before.ends_s <= after.begins_s or before.begins_s == 0.0
        for read, meant in zip(one.passes[1:], planned["passes"][1:], strict=True):
            assert read.ends_s - read.begins_s == pytest.approx(meant["time_s"], rel=2e-3)


def test_the_pass_runs_from_run_off_to_run_off(shown):
    # Property: what the fixture states is between the wheel and the blades where it turns round. An
    # angle of a turn is written to a thousandth of a degree, which is 0.0005 mm of the hook's edge.
    data, seen, _ = shown
    run_off = load_machine(ROOT / "machines" / data["machine"]["file"]).model.fixture.run_off_mm
    for one in seen:
        blades = [t.traverse_mm for t in one.things if t.name == "blade"]
        low, high = min(b[0] for b in blades), max(b[1] for b in blades)
        for read in one.passes:
            ends = sorted(read.traverse_mm)
            assert ends[0] == pytest.approx(low - run_off - one.reach_mm, abs=1e-3)
            assert ends[1] == pytest.approx(high + run_off + one.reach_mm, abs=1e-3)


@pytest.mark.parametrize("shown", ["straight"], indirect=True)
def test_the_first_pass_stands_where_it_does_by_hand(shown):
    _, seen, _ = shown
    one = seen[0]
    beta = math.radians(12.5)
    # By hand: chord 3 / (2 sin 12.5 deg) - 1.2 - 1.4 = 4.3303; the middle at 1.2 + half of it, the
    # centre 75 mm out along the normal, less what the first pass reached.
    chord = 3.0 / (2.0 * math.sin(beta)) - 2.6
    middle = 1.2 + chord / 2.0
    out = 75.0 - one.passes[0].reached_mm
    assert one.passes[0].wheel_yz_mm == pytest.approx(
        (middle * math.cos(beta) - out * math.sin(beta),
         middle * math.sin(beta) + out * math.cos(beta)),
        abs=1e-3,
    )  # fmt: skip
    # By hand: the segment's arc, 2 sqrt(d (2 R - d)) wide in the face at the depth d.
    cut = np.array(one.passes[0].cut[0])
    along = (cut - np.array(one.face.corner)) @ np.array(one.face.along)
    depth = one.passes[0].reached_mm
    assert np.ptp(along) == pytest.approx(2 * math.sqrt(depth * (150 - depth)), abs=2e-3)


def test_the_clock_by_hand():
    def axis(role, feed, acceleration):
        return LinearAxis.model_validate(
            {"role": role, "travel": ["0 mm", "500 mm"], "max_feed": f"{feed} mm/min",
             "acceleration": f"{acceleration} mm/s2"}
        )  # fmt: skip

    axes = {"X": axis("traverse", 6000, 100), "Z": axis("infeed", 600, 50)}
    case = SimpleNamespace(machine=SimpleNamespace(axes=axes))
    clock = Clock(
        [
            Move(1, True, (None, None), (0.0, 5.0), None, None),
            # By hand: rapid, 100 mm/s and 100 mm/s2: 200 mm in 2 + 1 s.
            Move(2, True, (0.0, 5.0), (200.0, 5.0), None, None),
            Dwell(3, 2.5),
            Stop(4, "M0", True, False),
            # By hand: 10 mm/s of the axis, not 20 of the feed; 5 mm in 0.5 + 0.2 s.
            Move(5, False, (200.0, 5.0), (200.0, 0.0), 1200.0, None),
            # By hand: inverse time, half a minute for 100 mm at 3.333 mm/s: 30 s and a ramp.
            Move(6, False, (200.0, 0.0), (100.0, 0.0), None, 0.5),
        ],
        case,  # type: ignore[arg-type]
    )
    at = [clock.after_line(n) for n in range(7)]
    assert at == pytest.approx([0, 0, 3, 5.5, 5.5, 6.2, 36.2 + 100 / 30 / 100])
    assert clock.whole_s == at[-1]


def test_blocks_that_go_on_are_gone_through():
    # By hand: 10 mm/s, 50 mm/s2. Ten blocks of 1 mm in 1 s and two ramps of 0.1 s each; from rest
    # to rest each is a triangle, 2 sqrt(1/50) s, for 2 mm are too short. Square to them it stops.
    axis = LinearAxis.model_validate(
        {"role": "traverse", "travel": ["0 mm", "500 mm"], "max_feed": "600 mm/min",
         "acceleration": "50 mm/s2"}
    )  # fmt: skip
    case = SimpleNamespace(machine=SimpleNamespace(axes={"X": axis, "Z": axis}))
    blocks = [Move(n + 1, False, (n, 0.0), (n + 1.0, 0.0), 600.0, None) for n in range(10)]
    aside = Move(11, False, (10.0, 0.0), (10.0, 5.0), 600.0, None)
    stops = Clock([*blocks, aside], case)  # type: ignore[arg-type]
    goes = Clock([Blend(0, 0.01), *blocks, aside], case)  # type: ignore[arg-type]
    assert stops.whole_s == pytest.approx(20 * math.sqrt(1 / 50) + 0.7)
    assert goes.after_line(1) == pytest.approx(0.2)
    assert goes.after_line(10) == pytest.approx(1.2)
    assert goes.whole_s == pytest.approx(1.2 + 0.7)
