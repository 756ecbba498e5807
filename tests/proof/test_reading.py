"""What the tokenizer and the interpreter make of good text, and that it does not take for ever."""

from __future__ import annotations

import time

import pytest

from planner.proof.dialects import DIALECTS
from planner.proof.events import Blend, Coolant, Dwell, Lost, Move, Spindle
from planner.proof.faultlog import FaultLog
from planner.proof.interpreter import Interpreter
from planner.proof.rules import Rule
from planner.proof.tokens import read_blocks, split_lines

HEADER = "G21\nG17 G90 G94\nG40 G49 G80\nG54\nG61\n"


def read(text):
    """(blocks, faults) of a text."""
    lines = split_lines(text.encode("latin-1"))
    log = FaultLog(lines)
    blocks = read_blocks(lines, text.endswith("\n"), log)
    return blocks, log.in_line_order()


def interpret(text, dialect="rs274ngc"):
    """(events, faults) of a text on a machine with X, Z and a rotary A."""
    lines = split_lines(text.encode("latin-1"))
    log = FaultLog(lines)
    interpreter = Interpreter(DIALECTS[dialect], {"X": False, "Z": False, "A": True}, log)
    interpreter.run(read_blocks(lines, text.endswith("\n"), log))
    return interpreter.events, log.in_line_order()


@pytest.mark.parametrize(
    ("line", "words", "comments"),
    [
        pytest.param("", [], [], id="empty"),
        pytest.param("G1 X-1.5 F400.0", [("G", 1), ("X", -1.5), ("F", 400)], [], id="blanks"),
        pytest.param("G1X.5Z-5.", [("G", 1), ("X", 0.5), ("Z", -5)], [], id="no-blanks"),
        pytest.param("(a) G4 P1 (b)", [("G", 4), ("P", 1)], ["a", "b"], id="comments"),
        pytest.param("G64 (P5) P.01", [("G", 64), ("P", 0.01)], ["P5"], id="word-in-comment"),
    ],
)
def test_a_good_line_is_read_as_it_stands(line, words, comments):
    # By hand
    (block,), faults = read(line + "\n")
    assert faults == ()
    assert [(w.letter, w.value) for w in block.words] == words
    assert list(block.comments) == comments


@pytest.mark.parametrize("text", ["G01", "G1.0", "G001.00"])
def test_a_code_is_known_however_it_is_written(text):
    events, faults = interpret(HEADER + f"{text} X1 F100\nM2\n")
    assert faults == ()
    assert [event for event in events if isinstance(event, Move)]


def test_every_bad_line_is_named_and_the_good_ones_still_read():
    blocks, faults = read("g1\nG1 X1\nX1e5\nY+1\nZ-0\n")
    # By hand
    assert [(f.line, f.rule) for f in faults] == [
        (1, "bad-number"),
        (1, "lower-case"),
        (3, "exponent-number"),
        (4, "bad-number"),
        (5, "minus-zero"),
    ]
    assert [block.sound for block in blocks] == [False, True, False, False, True]


def test_within_a_block_speed_acts_before_the_spindle_and_motion_comes_last():
    events, _ = interpret(HEADER + "G0 X5 M8 M3 S1000\nM2\n")
    # Source: NISTIR 6556, table 8 (order of execution; from memory).
    kinds = [type(event) for event in events if not isinstance(event, Blend)]
    assert kinds[:3] == [Spindle, Coolant, Move]
    assert next(e for e in events if isinstance(e, Spindle)).speed_rpm == 1000


def test_inches_scale_positions_and_feeds_but_not_degrees():
    events, faults = interpret(HEADER.replace("G21", "G20") + "G0 X1 A10\nG1 X2 F10\nM2\n")
    moves = [event for event in events if isinstance(event, Move)]
    # By hand: 25.4 mm to the inch.
    assert faults == ()
    assert moves[0].end == (25.4, None, 10.0)
    assert moves[1].end == (50.8, None, 10.0)
    assert moves[1].feed == pytest.approx(254.0)


def test_inverse_time_is_one_over_f_and_stands_for_mixed_moves():
    events, faults = interpret(HEADER + "G0 X0 A0\nG93 G1 X10 A90 F4\nM2\n")
    move = [event for event in events if isinstance(event, Move)][-1]
    # By hand: F4 is a quarter of a minute.
    assert faults == ()
    assert (move.feed, move.minutes) == (None, 0.25)


def test_a_rotary_feed_is_in_degrees_even_in_inches():
    text = HEADER.replace("G21", "G20") + "G0 X0 A0\nG1 A90 F100\nM2\n"
    events, _ = interpret(text)
    assert [e for e in events if isinstance(e, Move)][-1].feed == 100.0


def test_nothing_is_told_after_the_state_is_lost():
    events, faults = interpret(HEADER + "G0 X1\nG92 X0\nG0 X2\nG4 P1\nM2\n")
    assert [fault.rule for fault in faults] == [Rule.OFFSET_CODE]
    assert isinstance(events[-1], Lost)
    assert not [event for event in events if isinstance(event, Dwell)]


def test_an_unset_state_is_told_at_its_first_use_only():
    _, faults = interpret("G21\nG90 G94\nG40 G49\nG54\nG61\nG0 X1\nG1 X2\nX3\nM2\n")
    # By hand: the plane is missed at the first motion, the feed at the first feed move.
    assert [(f.line, f.rule, f.facts["state"]) for f in faults] == [
        (6, "unset-state", "G17"),
        (7, "unset-state", "F"),
    ]


def test_a_small_controller_needs_no_path_mode():
    _, faults = interpret(HEADER.replace("G61\n", "") + "G0 X1\nM2\n", "small")
    assert faults == ()


def test_many_blocks_are_read_in_little_time():
    text = HEADER + "".join(f"G1 X{i % 97}.5 F{400 + i % 7}\n" for i in range(20_000)) + "M2\n"
    start = time.process_time()
    events, faults = interpret(text)
    assert len(events) > 20_000
    assert faults == ()
    # Measured at 0.4 s; the limit leaves room for slow machines.
    assert time.process_time() - start < 4.0
