"""The proof's interpreter against the canonical output of a stand-alone RS274/NGC interpreter."""

from __future__ import annotations

import math

import pytest

from planner.proof.dialects import DIALECTS
from planner.proof.events import Coolant, Dwell, End, Move, Spindle, Stop
from planner.proof.faultlog import FaultLog
from planner.proof.interpreter import Interpreter
from planner.proof.tokens import read_blocks
from tests.canonical import HALF_DECIMAL, canonical_calls, needs_rs274

pytestmark = needs_rs274

AXES = {"X": False, "Y": False, "Z": False, "A": True}


def own_events(text, dialect="rs274ngc"):
    lines = text.splitlines()
    log = FaultLog(lines)
    interpreter = Interpreter(DIALECTS[dialect], AXES, log)
    interpreter.run(read_blocks(lines, True, log))
    assert log.in_line_order() == ()
    return interpreter.events


@pytest.mark.parametrize(
    "name", ["mill-A.ngc", "mill-A-air.ngc", "small-B.ngc", "inch-B.ngc", "row-A.ngc"]
)
def test_both_interpreters_make_the_same_motion(prove, name):
    text = prove.text(name)
    unit_mm = 25.4 if name.startswith("inch") else 1.0
    theirs = [c for c in canonical_calls(text) if c[0] in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
    dialect = "small" if name.startswith("small") else "rs274ngc"
    own = [event for event in own_events(text, dialect) if isinstance(event, Move)]
    assert len(own) == len(theirs) > 5
    for move, (call, numbers) in zip(own, theirs, strict=True):
        assert move.rapid == (call == "STRAIGHT_TRAVERSE")
        # The other interpreter starts at zero; a position that was not told is left there.
        straight = [0.0 if p is None else p / unit_mm for p in move.end[:3]]
        tilt = 0.0 if move.end[3] is None else move.end[3]
        # Source: the interpreter's own output, to half of its last decimal.
        assert [*straight, tilt] == pytest.approx(numbers[:4], abs=HALF_DECIMAL)


def rate_mm_min(move: Move) -> float:
    """The rate along the straight axes, also of an inverse-time move."""
    if move.minutes is None:
        assert move.feed is not None
        return move.feed
    pairs = zip(move.start[:3], move.end[:3], strict=True)
    return math.hypot(*(e - s for s, e in pairs if s is not None and e is not None)) / move.minutes


@pytest.mark.parametrize("name", ["mill-A.ngc", "inch-B.ngc"])
def test_both_interpreters_feed_and_switch_alike(prove, name):
    text = prove.text(name)
    unit_mm = 25.4 if name.startswith("inch") else 1.0
    calls = canonical_calls(text)
    rate, rates = 0.0, []
    for call, numbers in calls:
        rate = numbers[0] if call == "SET_FEED_RATE" else rate
        if call == "STRAIGHT_FEED":
            rates.append(rate)
    events = own_events(text)
    feeds = []
    for move in (e for e in events if isinstance(e, Move) and not e.rapid):
        feeds.append(rate_mm_min(move) / unit_mm)
    # Source: the interpreter's output; in inverse time it prints the equivalent rate a minute.
    assert feeds == pytest.approx(rates, abs=HALF_DECIMAL)
    named = {
        "START_SPINDLE_CLOCKWISE": "clockwise",
        "START_SPINDLE_COUNTERCLOCKWISE": "counterclockwise",
        "STOP_SPINDLE_TURNING": None,
    }
    end = [call for call, _ in calls].index("PROGRAM_END")
    theirs = [named[call] for call, _ in calls[:end] if call in named]
    own = [event.direction for event in events if isinstance(event, Spindle)]
    # The end of a program stops the spindle again in the other interpreter.
    assert theirs[: len(own)] == own
    assert [n for call, n in calls if call == "DWELL"] == [
        [event.seconds] for event in events if isinstance(event, Dwell)
    ]
    assert ("MIST_ON", []) in calls
    assert [e.on for e in events if isinstance(e, Coolant)] == [frozenset({"M7"}), frozenset()]
    assert isinstance(events[-1], End)


def test_both_interpreters_stop_at_the_same_places(prove):
    text = prove.text("small-B.ngc")
    names = [call for call, _ in canonical_calls(text)]
    stops = [event for event in own_events(text, "small") if isinstance(event, Stop)]
    # By hand: the sample has two M0.
    assert names.count("PROGRAM_STOP") == len(stops) == 2
