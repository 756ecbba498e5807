"""The proof's interpreter against the canonical output of a stand-alone RS274/NGC interpreter."""

from __future__ import annotations

import math
import re
import shutil
import subprocess

import pytest

from planner.proof.dialects import DIALECTS
from planner.proof.events import Coolant, Dwell, End, Move, Spindle, Stop
from planner.proof.faultlog import FaultLog
from planner.proof.interpreter import Interpreter
from planner.proof.tokens import read_blocks

pytestmark = pytest.mark.skipif(
    shutil.which("rs274") is None,
    reason="rs274 is not installed (Debian: linuxcnc-uspace); nothing to compare with",
)
# Canonical positions have four decimals of the program's unit.
HALF_DECIMAL = 0.5e-4 + 1e-9
AXES = {"X": False, "Y": False, "Z": False, "A": True}


@pytest.fixture
def canonical(tmp_path):
    """Runs a program text and returns its canonical calls as (name, numbers)."""

    def run(text):
        (tmp_path / "tool.tbl").touch()
        (tmp_path / "rs274.var").touch()
        (tmp_path / "program.ngc").write_text(text, encoding="ascii")
        done = subprocess.run(
            ["rs274", "-g", "-t", "tool.tbl", "-v", "rs274.var", "program.ngc"],
            cwd=tmp_path,
            env={"HOME": str(tmp_path), "PATH": "/usr/bin:/bin"},
            capture_output=True,
            text=True,
            check=False,
            timeout=20,
        )
        assert done.returncode == 0, done.stderr
        calls = re.findall(r"N\.+ ([A-Z_]+)\(([^)]*)\)", done.stdout)
        return [
            (name, [float(n) for n in re.findall(r"-?[0-9]+\.[0-9]+", arguments)])
            for name, arguments in calls
        ]

    return run


def own_events(text, dialect="rs274ngc"):
    lines = text.splitlines()
    log = FaultLog(lines)
    interpreter = Interpreter(DIALECTS[dialect], AXES, log)
    interpreter.run(read_blocks(lines, True, log))
    assert log.in_line_order() == ()
    return interpreter.events


@pytest.mark.parametrize("name", ["mill-A.ngc", "mill-A-air.ngc", "small-B.ngc", "inch-B.ngc"])
def test_both_interpreters_make_the_same_motion(prove, canonical, name):
    text = prove.text(name)
    unit_mm = 25.4 if name.startswith("inch") else 1.0
    theirs = [c for c in canonical(text) if c[0] in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
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
def test_both_interpreters_feed_and_switch_alike(prove, canonical, name):
    text = prove.text(name)
    unit_mm = 25.4 if name.startswith("inch") else 1.0
    calls = canonical(text)
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


def test_both_interpreters_stop_at_the_same_places(prove, canonical):
    text = prove.text("small-B.ngc")
    names = [call for call, _ in canonical(text)]
    stops = [event for event in own_events(text, "small") if isinstance(event, Stop)]
    # By hand: the sample has two M0.
    assert names.count("PROGRAM_STOP") == len(stops) == 2
