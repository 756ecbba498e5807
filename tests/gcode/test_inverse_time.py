"""Moves of straight and rotary axes together: written by time, read back, and by rs274 alike."""

import math

import pytest

from planner.gcode.program import Dwell, Move, Program, Spindle, Stop
from planner.gcode.render import program_text
from planner.proof.build_case import build_case
from planner.proof.dialects import DIALECTS
from planner.proof.events import Move as Event
from planner.proof.faultlog import FaultLog
from planner.proof.interpreter import Interpreter
from planner.proof.limits import axis_feeds, check_block_rate, check_feed
from planner.proof.tokens import read_blocks
from tests.canonical import HALF_DECIMAL, canonical_calls, feeds_of, needs_rs274
from tests.samples import GONE, a_job, a_machine

UP = Move({"infeed": 5.0})
TURNING = {
    "axes__C": {
        "role": "turn",
        "travel": ["-400 deg", "400 deg"],
        "max_feed": "3600 deg/min",
        "acceleration": "300 deg/s2",
    }
}
INCH = TURNING | {"controller__units": "inch", "controller__decimals": 5}


def written(steps, machine):
    return program_text(Program("setup-A.ngc", "A", tuple(steps)), machine)


def blocks_after_preamble(text):
    return text.splitlines()[5:]


def read(text, machine):
    """The moves as the proof reads them, and what it finds wrong."""
    lines = text.splitlines()
    log = FaultLog(lines)
    axes = {k: k in "ABC" for k in machine.axes}
    interpreter = Interpreter(DIALECTS[machine.controller.dialect], axes, log)
    interpreter.run(read_blocks(lines, True, log))
    return [e for e in interpreter.events if isinstance(e, Event)], log.in_line_order()


# An edge bent to a radius of 60 mm about the turn axis, and one pass over 90 degrees of it at
# 1200 mm/min: 60 pi/2 = 94.2478 mm of edge, 0.0785398 min, F = 12.7324 (by hand).
ARC_MM, FEED = 60.0 * math.pi / 2.0, 1200.0
WHOLE_ROTARY = [UP, Move({"traverse": 0.0, "turn": 0.0})]
ROTARY_PASS = Move({"turn": 90.0}, minutes=ARC_MM / FEED)


def test_a_whole_rotary_pass_is_told_by_its_time():
    machine = a_machine(**TURNING)
    text = written([*WHOLE_ROTARY, ROTARY_PASS, Move({"infeed": 0.5}, 200.0), UP], machine)
    # By hand: six digits of F, rounded down; the mode is left with its F again.
    assert blocks_after_preamble(text) == [
        "G0 Z5.0000",
        "G0 X0.0000 C0.000",
        "G93",
        "G1 C90.000 F12.7323",
        "G94 F200.0",
        "G1 Z0.5000 F200.0",
        "G0 Z5.0000",
        "M2",
    ]
    moves, faults = read(text, machine)
    assert faults == ()
    # By hand: 0.0785398 min; 90 deg in it are 1145.9 deg/min, and 60 mm of radius make of that
    # 1145.9 pi/180 60 = 1200 mm/min at the edge.
    assert moves[2].minutes == pytest.approx(0.0785398, rel=1e-5)
    case = build_case(a_job(), machine, "A", machine.rack[0])
    feeds = axis_feeds(moves[2], case)
    assert feeds is not None
    assert feeds[4] == pytest.approx(1145.916, rel=1e-5)
    assert feeds[:3] == (0.0, 0.0, 0.0)
    assert math.radians(feeds[4]) * 60.0 == pytest.approx(FEED, rel=1e-5)


MIXED = [
    *WHOLE_ROTARY,
    # By hand: 10 mm and 36 deg in 0.02 min are F50, 500 mm/min and 1800 deg/min.
    Move({"traverse": 10.0, "turn": 36.0}, minutes=0.02),
    # The traverse comes back to what is written already: it is left out of the block.
    Move({"traverse": 10.00001, "turn": 72.0}, minutes=0.02),
    # By hand: 2 min are F0.5; 10 mm in it are 5 mm/min.
    Move({"traverse": 20.0, "turn": 80.0}, minutes=2.0),
    UP,
    Move({"traverse": 30.0, "turn": 90.0}, minutes=0.03),
    Dwell(1.0),
    Move({"infeed": 4.0}, 200.0),
]


def test_mixed_moves_are_told_by_their_time_and_only_what_moves_is_told():
    machine = a_machine(**TURNING)
    text = written(MIXED, machine)
    # By hand: 1/0.02 = 50, 1/2 = 0.5, 1/0.03 = 33.3333, each with six digits that count.
    assert blocks_after_preamble(text) == [
        "G0 Z5.0000",
        "G0 X0.0000 C0.000",
        "G93",
        "G1 X10.0000 C36.000 F50.0000",
        "G1 C72.000 F50.0000",
        "G1 X20.0000 C80.000 F0.500000",
        "G1 X30.0000 C90.000 F33.3333",
        "G94",
        "G4 P1.0",
        "G1 Z4.0000 F200.0",
        "M2",
    ]
    moves, faults = read(text, machine)
    assert faults == ()
    case = build_case(a_job(), machine, "A", machine.rack[0])
    found = [axis_feeds(move, case) or () for move in moves[2:6]]
    # By hand, X and C: as above; 36 deg in 0.02 min; 8 deg in 2 min; 10 mm and 10 deg in 0.03.
    assert [(f[0], f[4]) for f in found] == [
        pytest.approx((500.0, 1800.0)),
        pytest.approx((0.0, 1800.0)),
        pytest.approx((5.0, 4.0)),
        pytest.approx((333.333, 333.333), rel=2e-6),
    ]


@needs_rs274
@pytest.mark.parametrize("changes", [TURNING, INCH], ids=["mm", "inch"])
def test_rs274_takes_the_same_time(changes):
    machine = a_machine(**changes)
    unit_mm = 25.4 if machine.controller.units == "inch" else 1.0
    text = written(MIXED, machine)
    theirs = feeds_of(canonical_calls(text))[:4]
    ours = [m for m in read(text, machine)[0] if not m.rapid][:4]
    # By hand: the rate that it prints is along the straight axes, 500, 5 and 333.333 mm/min; of
    # the block that only turns, in degrees: 1800.
    rates = [500.0 / unit_mm, 1800.0, 5.0 / unit_mm, 333.333 / unit_mm]
    assert [rate for _, rate in theirs] == pytest.approx(rates, abs=1e-4, rel=1e-5)
    for move, (numbers, rate) in zip(ours, theirs, strict=True):
        # The cross is never told.
        (x0, _, z0), (x, _, z) = move.start[:3], move.end[:3]
        straight = math.hypot(x - x0, z - z0) / unit_mm
        path = straight or abs(move.end[4] - move.start[4])
        # Source: the interpreter's own rate, to the four decimals that it prints.
        assert path / move.minutes == pytest.approx(rate, abs=2 * HALF_DECIMAL)
        assert [x / unit_mm, z / unit_mm] == pytest.approx(numbers[:3:2], abs=HALF_DECIMAL)
        assert move.end[4] == pytest.approx(numbers[5], abs=HALF_DECIMAL)


def test_an_axis_that_the_time_asks_too_much_of_is_found():
    machine = a_machine(**TURNING)
    case = build_case(a_job(), machine, "A", machine.rack[0])

    def found(move):
        text = written([*WHOLE_ROTARY, move], machine)
        log = FaultLog(text.splitlines())
        last = read(text, machine)[0][-1]
        check_feed(last, axis_feeds(last, case), case, log)
        check_block_rate(last, case, log)
        return [(f.rule, f.facts.get("axis")) for f in log.in_line_order()]

    # By hand: 90 deg in 0.025 min are 3600 deg/min, the axis's most.
    assert found(Move({"turn": 90.0}, minutes=0.0251)) == []
    assert found(Move({"turn": 90.0}, minutes=0.0249)) == [("feed-limit", "C")]
    # By hand: 10 mm in 0.002 min are 5000 mm/min; the traverse does 4000.
    assert found(Move({"traverse": 10.0, "turn": 1.0}, minutes=0.002)) == [("feed-limit", "X")]
    # By hand: at 500 blocks/s a block lasts 0.002 s, 3.33e-5 min.
    assert found(Move({"traverse": 0.1, "turn": 0.1}, minutes=3.4e-5)) == []
    assert found(Move({"traverse": 0.1, "turn": 0.1}, minutes=3.2e-5)) == [("block-rate", None)]


def test_a_rotary_move_at_a_feed_a_minute_is_no_program():
    machine = a_machine(**TURNING)
    for to in ({"turn": 5.0}, {"traverse": 5.0, "turn": 5.0}, {"tilt": 5.0}):
        with pytest.raises(ValueError, match="needs its time"):
            written([*WHOLE_ROTARY, Move(to, 100.0)], machine)
    # A rotary word that does not change is left out, and the rest is a straight move.
    text = written([*WHOLE_ROTARY, Move({"traverse": 5.0, "turn": 0.0001}, 100.0)], machine)
    assert "G1 X5.0000 F100.0" in text.splitlines()


@pytest.mark.parametrize("minutes", [0.0, -1.0, math.nan, math.inf])
def test_a_time_that_is_none_is_no_program(minutes):
    with pytest.raises(ValueError, match=r"time|stand in a program"):
        written([*WHOLE_ROTARY, Move({"turn": 5.0}, minutes=minutes)], a_machine(**TURNING))


def test_a_feed_and_a_time_are_no_move():
    with pytest.raises(ValueError, match="not both"):
        Move({"turn": 5.0}, 100.0, 0.1)


def test_inverse_time_is_left_before_the_end_and_before_every_switch():
    machine = a_machine(**TURNING)
    turn = Move({"turn": 5.0}, minutes=0.1)
    for after in ([], [Spindle(None)], [Stop("look")], [UP]):
        lines = written([*WHOLE_ROTARY, turn, *after], machine).splitlines()
        at = lines.index("G1 C5.000 F10.0000")
        # The retract to where the wheel is already is no block.
        assert lines[at + 1] == "G94"


def test_a_small_controller_takes_straight_moves_by_time():
    machine = a_machine(
        controller__dialect="small", controller__decimals=3, axes__A=GONE, coolant={"kind": "dry"}
    )
    text = written([UP, Move({"traverse": 0.0}), Move({"traverse": 10.0}, minutes=0.02)], machine)
    assert text.splitlines()[-4:] == ["G93", "G1 X10.000 F50.0000", "G94", "M2"]
    moves, faults = read(text, machine)
    assert faults == ()
    assert moves[-1].minutes == 0.02
