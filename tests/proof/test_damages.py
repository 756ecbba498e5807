"""Deliberate damages to good programs: the proof refuses each by the rule that names it.

``docs/proof.md`` shows this list as a table; a test holds the two together.
"""

# ruff: noqa: E501 - one damage a line is a table that can be read

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

import pytest

from planner.proof.rules import Rule
from planner.report.faults import fault_words
from tests.proof.bulge_damages import BULGE_DAMAGES
from tests.proof.followed_damages import FLAT_DAMAGES, FOLLOWED_DAMAGES, LINE_DAMAGES
from tests.proof.operation_damages import OPERATION_DAMAGES
from tests.proof.sweep_damages import SWEEP_DAMAGES

DOCS = Path(__file__).parents[2] / "docs" / "proof.md"
MILL, AIR, SMALL, INCH = "mill-A.ngc", "mill-A-air.ngc", "small-B.ngc", "inch-B.ngc"
ROW = "row-A.ngc"

Spoil = Callable[[str], str]


STOP = {
    "fixture.obstacles": [
        {
            "name": "stop",
            "outline": [
                ["-20 mm", "-9 mm"],
                ["8 mm", "-9 mm"],
                ["8 mm", "6 mm"],
                ["-20 mm", "6 mm"],
            ],
            "from": "111 mm",
            "to": "130 mm",
        }
    ]
}
"""Stands a millimetre past where the wheel of the sample turns."""


class Damage(NamedTuple):
    """What is done to which sample, and the rule that must refuse it."""

    what: str
    sample: str
    spoil: Spoil
    rule: Rule
    machine: Mapping[str, Any] = MappingProxyType({})


def swap(old: str, new: str) -> Spoil:
    """Put one text in another's place, once."""

    def spoil(text: str) -> str:
        assert old in text, old
        return text.replace(old, new, 1)

    return spoil


def swap_all(old: str, new: str) -> Spoil:
    """Put one text in another's place, everywhere."""

    def spoil(text: str) -> str:
        assert old in text, old
        return text.replace(old, new)

    return spoil


def drop(line: str) -> Spoil:
    """Leave out one line."""
    return swap(line + "\n", "")


def after(line: str, new: str) -> Spoil:
    """Put a line behind another."""
    return swap(line + "\n", f"{line}\n{new}\n")


def before(line: str, new: str) -> Spoil:
    """Put a line in front of another."""
    return swap(line + "\n", f"{new}\n{line}\n")


def both(*spoils: Spoil) -> Spoil:
    """One damage after another."""

    def spoil(text: str) -> str:
        for each in spoils:
            text = each(text)
        return text

    return spoil


def swap_axes(first: str, second: str) -> Spoil:
    """Exchange two axis letters in every block."""

    def spoil(text: str) -> str:
        lines = [
            line
            if line.startswith("(")
            else line.translate(str.maketrans(first + second, second + first))
            for line in text.splitlines()
        ]
        return "\n".join(lines) + "\n"

    return spoil


# The last pass of the mill, in the middle of the edge and back to the heel.
LAST = "G1 X-20.0000 F4000.0\nG0 Z5.0000"
IN_THE_MIDDLE = "G1 X40.0000 F4000.0\n{}\nG1 X-20.0000 F4000.0\nG0 Z5.0000"
# Without its spark-out pass the mill's program has five passes.
NO_SPARK_OUT = both(
    swap_all(" of 6 ", " of 5 "),
    swap("(pass 6 of 5 spark-out depth 0.0312)\nG1 X-20.0000 F4000.0\n", ""),
)

DAMAGES = [
    # the text
    Damage("a letter beyond ASCII in the title", MILL, swap("carving", "carv\xefng"), Rule.NON_ASCII),
    Damage("a byte-order mark in front", MILL, lambda t: "\xef\xbb\xbf" + t, Rule.NON_ASCII),
    Damage("CR LF line ends", MILL, swap_all("\n", "\r\n"), Rule.CONTROL_CHARACTER),
    Damage("a tab between two words", MILL, swap("G1 Z", "G1\tZ"), Rule.CONTROL_CHARACTER),
    Damage("a percent sign in front", MILL, lambda t: "%\n" + t, Rule.FORBIDDEN_CHARACTER),
    Damage("a feed hold in a block", MILL, swap("M7", "M7!"), Rule.FORBIDDEN_CHARACTER),
    Damage("a comment behind a semicolon", MILL, swap("M7", "M7;mist"), Rule.FORBIDDEN_CHARACTER),
    Damage("a word in lower case", MILL, swap("G21", "g21"), Rule.LOWER_CASE),
    Damage("a line of 71 characters", MILL, swap("G21", "G21" + " " * 68), Rule.LINE_TOO_LONG),
    Damage("the last newline cut off", MILL, lambda t: t[:-1], Rule.UNENDED_LINE),
    Damage("a slash before a block", MILL, swap("M9", "/M9"), Rule.BLOCK_DELETE),
    Damage("a comment left open", MILL, swap("0.0080)", "0.0080"), Rule.COMMENT_UNCLOSED),
    Damage("a comment in a comment", MILL, swap("(pass 1", "((pass 1"), Rule.COMMENT_NESTED),
    Damage("a comment that opens a file", MILL, after("G21", "(Probe Open x.txt)"), Rule.COMMENT_ACTIVE),
    Damage("a comment that shows a message", MILL, after("G21", "(msg, resume)"), Rule.COMMENT_ACTIVE),
    Damage("an exclamation mark in a comment", MILL, swap("knife)", "knife!)"), Rule.COMMENT_CHARACTER),
    Damage("a parameter for a number", MILL, swap("Z-0.0230", "Z#1"), Rule.EXPRESSION),
    Damage("an expression for a number", MILL, swap("Z-0.0230", "Z[0-0.023]"), Rule.EXPRESSION),
    Damage("a loop", MILL, before("G0 Z5.0000", "O100 REPEAT [2]"), Rule.SUBPROGRAM),
    Damage("a subprogram call", MILL, after("M7", "M98 P100"), Rule.SUBPROGRAM),
    Damage("a number with an exponent", MILL, swap("Z-0.0230", "Z-2.3E-02"), Rule.EXPONENT_NUMBER),
    Damage("not a number", MILL, swap("Z-0.0230", "ZNAN"), Rule.BAD_NUMBER),
    Damage("a plus sign", MILL, swap("X100.0000", "X+100.0000"), Rule.BAD_NUMBER),
    Damage("a decimal comma", MILL, swap("Z-0.0230", "Z-0,0230"), Rule.FORBIDDEN_CHARACTER),
    Damage("two decimal points", MILL, swap("Z-0.0230", "Z-0.02.30"), Rule.BAD_NUMBER),
    Damage("a number of a million and more", MILL, swap("X100.0000", "X1000001"), Rule.BAD_NUMBER),
    Damage("zero with a minus sign", MILL, swap("Y0.0000", "Y-0.0000"), Rule.MINUS_ZERO),
    Damage("five decimals in single precision", SMALL, swap("X107.500", "X130.12345"), Rule.TOO_MANY_DIGITS),
    Damage("a word twice in a block", MILL, swap("X100.0000 F", "X100.0000 X101 F"), Rule.REPEATED_WORD),
    Damage("a block that the second reader refuses", MILL, swap("G54", "G54 G0 G1"), Rule.READERS_DISAGREE),
    # the codes
    Damage("a line number", MILL, swap("G21", "N10 G21"), Rule.LINE_NUMBER),
    Damage("an arc", MILL, swap("G1 X100.0000", "G2 X100.0000 I10"), Rule.UNKNOWN_CODE),
    Damage("a tool change", MILL, after("G21", "M6"), Rule.UNKNOWN_CODE),
    Damage("blending on a small controller", SMALL, after("G54", "G64 P0.005"), Rule.UNKNOWN_CODE),
    Damage("mist on a small controller", SMALL, swap("M8", "M7"), Rule.UNKNOWN_CODE),
    Damage("a word that nothing uses", MILL, swap("M7", "M7 P3"), Rule.UNKNOWN_WORD),
    Damage("a rotary word on a small controller", SMALL, swap("X-27.500", "X-27.500 A5"), Rule.UNKNOWN_AXIS),
    Damage("a word of an axis that is not there", MILL, swap("Y0.0000", "Y0.0000 B5"), Rule.UNKNOWN_AXIS),
    Damage("two motions in a block", MILL, swap("G1 X100", "G0 G1 X100"), Rule.MODAL_GROUP_CLASH),
    Damage("a dwell and a motion in a block", MILL, swap("G4 P5.0", "G4 P5.0 G0 X-25"), Rule.MODAL_GROUP_CLASH),
    Damage("a shift of the zero", MILL, after("G54", "G92 Z0"), Rule.OFFSET_CODE),
    Damage("an offset written by the program", MILL, after("G54", "G10 L2 P1 Z1"), Rule.OFFSET_CODE),
    Damage("a move in machine coordinates", MILL, swap("G0 Z5.0000", "G53 G0 Z5.0000"), Rule.OFFSET_CODE),
    Damage("a move to the stored home", MILL, before("M9", "G28"), Rule.OFFSET_CODE),
    Damage("a tool length offset", MILL, after("G54", "G43 H1"), Rule.OFFSET_CODE),
    Damage("cutter compensation", MILL, swap("G40", "G41"), Rule.OFFSET_CODE),
    Damage("another work offset", MILL, swap("G54", "G55"), Rule.OFFSET_CODE),
    Damage("incremental positions", MILL, swap("G90", "G91"), Rule.INCREMENTAL),
    Damage("no units", MILL, drop("G21"), Rule.UNSET_STATE),
    Damage("no plane, distance and feed mode", MILL, drop("G17 G90 G94"), Rule.UNSET_STATE),
    Damage("no compensations off", MILL, drop("G40 G49 G80"), Rule.UNSET_STATE),
    Damage("no work offset", MILL, drop("G54"), Rule.UNSET_STATE),
    Damage("no path mode", MILL, drop("G64 P0.0050"), Rule.UNSET_STATE),
    Damage("no feed anywhere", MILL, lambda t: re.sub(r" F[0-9.]+", "", t), Rule.UNSET_STATE),
    Damage("no feed after leaving inverse time", INCH, after("G1 X3.9370 F33.3", "G94\nG1 X-0.7874"), Rule.UNSET_STATE),
    Damage("other units in the middle", MILL, after("M7", "G20"), Rule.UNITS_CHANGED),
    Damage("a feed of zero", MILL, swap("F4000.0", "F0"), Rule.BAD_FEED),
    Damage("inverse time without its F", INCH, swap("G1 X3.9370 F33.3", "G1 X3.9370"), Rule.INVERSE_FEED_MISSING),
    Damage("straight and rotary at a feed a minute", MILL, after("G0 X-20.0000 Y0.0000", "G1 X-21 A12.400 F100"), Rule.MIXED_FEED),
    Damage("a dwell without its time", MILL, swap("G4 P5.0", "G4"), Rule.DWELL_TIME),
    Damage("a path tolerance without a limit", MILL, swap("G64 P0.0050", "G64"), Rule.PATH_MODE),
    Damage("a path tolerance of ten times", MILL, swap("G64 P0.0050", "G64 P0.0500"), Rule.PATH_MODE),
    Damage("no end", MILL, drop("M2"), Rule.NO_END),
    Damage("cut off after the third pass", MILL, lambda t: t[: t.index("(pass 4")], Rule.NO_END),
    Damage("an empty file", MILL, lambda _: "", Rule.NO_END),
    Damage("a block after the end", MILL, after("M2", "G0 X0"), Rule.TEXT_AFTER_END),
    # the claims
    Damage("no set-up claimed", MILL, drop("(setup A face A)"), Rule.CLAIM_MISSING),
    Damage("no wheel claimed", MILL, drop("(wheel fine)"), Rule.CLAIM_MISSING),
    Damage("a set-up named after the other face", MILL, swap("setup A face A", "setup A face B"), Rule.CLAIM_CONTRADICTED),
    Damage("two wheels claimed", MILL, after("(wheel fine)", "(wheel coarse)"), Rule.CLAIM_CONTRADICTED),
    Damage("the wrong units claimed", MILL, swap("(units mm)", "(units inch)"), Rule.CLAIM_CONTRADICTED),
    Damage("too little clearance claimed", MILL, swap("(clear 5.0000)", "(clear 4.0000)"), Rule.CLAIM_CONTRADICTED),
    Damage("a pass left out", MILL, swap("(pass 2 of 6 rough depth 0.0160)\nG1 Z-0.0160 F400.0\nG1 X-20.0000 F4000.0\n", ""), Rule.CLAIM_CONTRADICTED),
    Damage("an infeed left out", MILL, drop("G1 Z-0.0312 F400.0"), Rule.CLAIM_CONTRADICTED),
    Damage("a digit of an infeed", MILL, swap("Z-0.0230", "Z-0.0220"), Rule.CLAIM_CONTRADICTED),
    Damage("another wedge said to be set", SMALL, before("G21", "(set tilt -12.5000 deg, by hand)"), Rule.CLAIM_CONTRADICTED),
    Damage("a tilt said to be set on a powered axis", MILL, before("G21", "(set tilt 12.5000 deg, by hand)"), Rule.CLAIM_CONTRADICTED),
    Damage("another stop said to be set", SMALL, before("G21", "(set cross 3.2000 mm, by hand)"), Rule.CLAIM_CONTRADICTED, {"fixture.hand_cross": {"settings": ["3.3 mm", "9 mm"]}}),
    Damage("a setting by hand that tells no figure", SMALL, before("G21", "(set tilt as usual, by hand)"), Rule.CLAIM_CONTRADICTED),
    Damage("zero said to be at the edge", MILL, swap("middle of relief", "edge of blade"), Rule.CLAIM_CONTRADICTED),
    Damage("zero said to be at the other end", MILL, swap("traverse 0 at heel", "traverse 0 at tip"), Rule.CLAIM_CONTRADICTED),
    Damage("zero said to be at the heel of a blade turned end for end", INCH, swap("traverse 0 at tip", "traverse 0 at heel"), Rule.CLAIM_CONTRADICTED),
    Damage("zero said to be on the other face", MILL, swap("bares on face A", "bares on face B"), Rule.CLAIM_CONTRADICTED),
    Damage("zero of an air run said to be at the other end", AIR, swap("traverse 0 at heel", "traverse 0 at tip"), Rule.CLAIM_CONTRADICTED),
    Damage("a wheel that is not in the rack", MILL, swap("(wheel fine)", "(wheel coarse)"), Rule.UNKNOWN_WHEEL),
    # the motion
    Damage("no tilt", MILL, drop("G0 A12.500"), Rule.UNKNOWN_POSITION),
    Damage("tilt and cross before the infeed", MILL, swap("G0 Z5.0000\nG0 A12.500\n", "G0 A12.500\nG0 Z5.0000\n"), Rule.UNKNOWN_POSITION),
    Damage("a first move below clearance", MILL, swap("G0 Z5.0000", "G0 Z0.5000"), Rule.START_NOT_CLEAR),
    Damage("a traverse past its travel", MILL, swap("X100.0000", "X1000.0000"), Rule.TRAVEL_LIMIT, {"axes.X.zero_at": "0 mm"}),
    Damage("a traverse longer than its whole travel", MILL, swap("X100.0000", "X1000.0000"), Rule.TRAVEL_SPAN),
    Damage("a retract past an inverted axis's travel", SMALL, swap_all("Z-8.000", "Z-80.000"), Rule.TRAVEL_LIMIT),
    Damage("a traverse faster than its axis", MILL, swap("F4000.0", "F4400.0"), Rule.FEED_LIMIT),
    Damage("an infeed at the traverse's feed", MILL, swap("Z-0.0160 F400.0", "Z-0.0160 F4000.0"), Rule.FEED_LIMIT),
    Damage("a tilt faster than its axis", MILL, after("M7", "G1 A12.000 F2000\nG1 A12.500"), Rule.FEED_LIMIT),
    Damage("an inverse time too short", INCH, swap("G1 X3.9370 F33.3", "G1 X3.9370 F40"), Rule.FEED_LIMIT),
    Damage("a pass cut into too many blocks", MILL, swap("G1 X100.0000", "G1 X40.0000 F4000.0\nG1 X40.1000 F4000.0\nG1 X100.0000"), Rule.BLOCK_RATE),
    Damage("a block too short for a slow controller", MILL, swap("G1 X100.0000", "G1 X40.0000 F4000.0\nG1 X42.0000 F4000.0\nG1 X100.0000"), Rule.BLOCK_RATE, {"controller.block_rate": "20 blocks/s"}),
    Damage("an inverse time shorter than a block", INCH, swap("G1 X3.9370 F33.3", "G1 X1.0000 F60\nG1 X1.0010 F60000\nG1 X3.9370 F40"), Rule.BLOCK_RATE),
    Damage("a pass at rapid", MILL, swap("G1 X-20.0000 F4000.0\n(pass 3", "G0 X-20.0000\n(pass 3"), Rule.RAPID_IN_STEEL),
    Damage("a rapid down onto the blade", MILL, swap(LAST, LAST + "\nG0 X40\nG0 Z-0.1\nG0 Z5"), Rule.RAPID_IN_STEEL),
    Damage("a dive beside the clamp", MILL, swap("G1 Z-0.0230", "G1 Z-3.0230"), Rule.JAWS),
    Damage("a run-off as far as a stop past the tip", MILL, swap_all("X100.0000", "X101.5000"), Rule.OBSTACLE, STOP),
    Damage("a pass that hardly moves", MILL, swap("G1 X-20.0000 F4000.0\n(pass 3", "G1 X-20.0000 F2.0\n(pass 3"), Rule.CREEP),
    Damage("an infeed in the middle of the edge", MILL, swap(LAST, IN_THE_MIDDLE.format("G1 Z-0.0300 F400")), Rule.PLUNGE),
    Damage("infeed and traverse at once", MILL, swap("G1 Z-0.0230 F400.0\nG1 X100.0000", "G1 Z-0.0230 X100.0000"), Rule.PLUNGE),
    Damage("a cross step in the middle of the edge", MILL, swap(LAST, IN_THE_MIDDLE.format("G1 Y0.5 F400")), Rule.PLUNGE),
    Damage("a pass that turns back half way", MILL, swap("G1 X-20.0000 F4000.0\n(pass 3", "G1 X40.0000 F4000.0\nG1 X100.0000 F4000.0\n(pass 3"), Rule.PASS_INCOMPLETE),
    Damage("a pass that ends half a millimetre short of clear", MILL, swap_all("X100.0000", "X89.5000"), Rule.PASS_INCOMPLETE),
    Damage("a pass that ends half over the tip", MILL, swap_all("X100.0000", "X80.0000"), Rule.PASS_INCOMPLETE),
    Damage("a digit of the tilt", MILL, swap("A12.500", "A12.600"), Rule.WRONG_TILT),
    Damage("a tilt beside the steps of its axis", MILL, swap("A12.500", "A12.504"), Rule.WRONG_TILT),
    Damage("a tilt that turns before the wheel is retracted", MILL, swap("G0 Z5.0000\nM9", "G0 A0.000\nG0 Z5.0000\nM9"), Rule.TILT_NOT_CLEAR),
    Damage("a tilt that turns again over the blade", MILL, after("M7", "G0 X40.0000\nG0 A0.000\nG0 A12.500\nG0 X-20.0000"), Rule.TILT_NOT_CLEAR),
    Damage("a turn", MILL, swap("Y0.0000", "Y0.0000 C3.000"), Rule.TURN_MOVED),
    Damage("cross and traverse exchanged", MILL, swap_axes("X", "Y"), Rule.TRAVEL_SPAN),
    Damage("infeed and traverse exchanged", SMALL, swap_axes("X", "Z"), Rule.UNKNOWN_POSITION),
    # a row of blades: 1, 2 and 4 of four stations are filled
    Damage("a station claimed in another place", ROW, swap("at 110.0000", "at 120.0000"), Rule.CLAIM_CONTRADICTED),
    Damage("a station claimed by the blade's other end", ROW, swap("4 heel at 0.0000", "4 tip at 0.0000"), Rule.CLAIM_CONTRADICTED),
    Damage("a station claimed twice", ROW, swap("(station 3 of 4 empty)", "(station 2 of 4 empty)"), Rule.CLAIM_CONTRADICTED),
    Damage("more stations claimed than there are", ROW, swap_all(" of 4 heel", " of 5 heel"), Rule.CLAIM_CONTRADICTED),
    Damage("a station told in other words", ROW, swap("3 of 4 empty", "3 of 4 free"), Rule.CLAIM_CONTRADICTED),
    Damage("stations claimed where there is one blade", MILL, after("(wheel fine)", "(station 1 of 2 empty)"), Rule.CLAIM_CONTRADICTED),
    Damage("a station not claimed at all", ROW, drop("(station 3 of 4 empty)"), Rule.CLAIM_MISSING),
    Damage("no stations claimed", ROW, lambda t: re.sub(r"\(station .*\n", "", t), Rule.CLAIM_MISSING),
    Damage("stations too near for wheel and run-off", ROW, lambda t: t, Rule.ROW_TOO_CLOSE, {"fixture.run_off": "11 mm"}),
    Damage("an infeed between two blades", ROW, swap("G1 X210.0000", "G1 X95.0000 F4000.0\nG1 Z-0.0090 F400.0\nG1 X210.0000"), Rule.ROW_UNEVEN),
    Damage("a retract and another infeed between two blades", ROW, swap("G1 X210.0000", "G1 X95.0000 F4000.0\nG0 Z5.0000\nG1 Z-0.0090 F400.0\nG1 X210.0000"), Rule.ROW_UNEVEN),
    Damage("another infeed behind an empty station", ROW, swap("G0 X310.0000\nG1 Z-0.0080", "G0 X310.0000\nG1 Z-0.0090"), Rule.ROW_UNEVEN),
    Damage("an infeed that slopes between two blades", ROW, swap("G1 X210.0000", "G1 X93.0000 F4000.0\nG1 X97.0000 Z-0.0090\nG1 X210.0000"), Rule.ROW_UNEVEN),
    Damage("an empty station crossed at depth", ROW, swap("G0 Z5.0000\nG0 X310.0000\nG1 Z-0.0080 F400.0\n", ""), Rule.EMPTY_STATION),
    Damage("an empty station crossed under clearance", ROW, swap("G0 Z5.0000\nG0 X310.0000", "G0 Z4.0000\nG0 X310.0000"), Rule.EMPTY_STATION),
    Damage("a retract too late before an empty station", ROW, swap("G1 X210.0000", "G1 X215.0000"), Rule.EMPTY_STATION),
    Damage("a filled station said to be empty", ROW, swap("(station 2 of 4 heel at 110.0000 mm)", "(station 2 of 4 empty)"), Rule.EMPTY_STATION),
    Damage("an empty station said to be filled", ROW, swap("(station 3 of 4 empty)", "(station 3 of 4 heel at 220.0000 mm)"), Rule.LAND_OUT_OF_TOLERANCE),
    Damage("a blade that is not gone down to behind an empty station", ROW, swap("G0 X310.0000\nG1 Z-0.0080 F400.0\n", "G0 X310.0000\n"), Rule.CLAIM_CONTRADICTED),
    Damage("a pass that stops between two blades", ROW, swap("G1 X-20.0000 F4000.0\nG0 Z5.0000\nM9", "G1 X95.0000 F4000.0\nG0 Z5.0000\nM9"), Rule.PASS_INCOMPLETE),
    Damage("a pass that turns back between two blades", ROW, swap("G1 X210.0000", "G1 X95.0000 F4000.0\nG1 X-20.0000\nG1 X210.0000"), Rule.PASS_INCOMPLETE),
    Damage("no run-off behind the last blade", ROW, swap_all("X430.0000", "X410.0000"), Rule.PASS_INCOMPLETE),
    Damage("a stop between two blades", ROW, swap("M5", "M5\nG0 X95.0000\nM0"), Rule.STOP_NOT_CLEAR),
    # the switches
    Damage("the spindle never started", MILL, drop("S2850 M3"), Rule.SPINDLE_OFF),
    Damage("no stop to start the belt by hand", SMALL, drop("M0"), Rule.SPINDLE_OFF),
    Damage("the spindle reversed", MILL, swap("M3", "M4"), Rule.SPINDLE_REVERSED),
    Damage("no speed", MILL, swap("S2850 M3", "M3"), Rule.SPINDLE_SPEED_UNSET),
    Damage("over the wheel's mark", MILL, swap("S2850", "S4600"), Rule.OVER_MARKED_SPEED),
    Damage("a belt over its mark", SMALL, lambda t: t, Rule.OVER_MARKED_SPEED, {"rack.0.marked_speed": "10 m/s"}),
    Damage("over the spindle's own speed", MILL, swap("S2850", "S3000"), Rule.OVER_SPINDLE_SPEED),
    Damage("a spindle code where it is switched by hand", SMALL, after("M8", "M3 S1400"), Rule.SPINDLE_BY_HAND),
    Damage("no spin-up", MILL, drop("G4 P5.0"), Rule.NO_SPIN_UP),
    Damage("a digit of the spin-up", MILL, swap("G4 P5.0", "G4 P0.5"), Rule.NO_SPIN_UP),
    Damage("no coolant", MILL, drop("M7"), Rule.CUT_WITHOUT_COOLANT),
    Damage("a dwell in the cut", MILL, swap(LAST, IN_THE_MIDDLE.format("G4 P1")), Rule.DWELL_IN_CONTACT),
    Damage("a stop in the cut", MILL, swap(LAST, IN_THE_MIDDLE.format("M0")), Rule.STOP_IN_CONTACT),
    Damage("a stop at depth beside the blade", MILL, after("G1 Z-0.0230 F400.0", "M1"), Rule.STOP_NOT_CLEAR),
    Damage("a stop over the blade", MILL, swap("M9", "G0 X40\nM0\nM9"), Rule.STOP_NOT_CLEAR),
    Damage("a stop with the wheel running", MILL, swap("M9", "M0\nM9"), Rule.STOP_SPINDLE_ON),
    Damage("the spindle stopped in the cut", MILL, swap(LAST, IN_THE_MIDDLE.format("M5")), Rule.SPINDLE_CHANGE_IN_CONTACT),
    Damage("the coolant off in the cut", MILL, swap(LAST, IN_THE_MIDDLE.format("M9")), Rule.COOLANT_CHANGE_IN_CONTACT),
    Damage("the spindle left on", MILL, drop("M5"), Rule.END_SPINDLE_ON),
    Damage("no stop to switch the belt off", SMALL, swap("M0\nM2", "M2"), Rule.END_SPINDLE_ON),
    Damage("the coolant left on", MILL, drop("M9"), Rule.END_COOLANT_ON),
    Damage("no retract", MILL, swap("G0 Z5.0000\nM9", "M9"), Rule.END_NOT_RETRACTED),
    Damage("the sign of a retract on an inverted axis", SMALL, swap("Z-8.000\nM9", "Z8.000\nM9"), Rule.END_NOT_RETRACTED),
    Damage("an air run that is not lifted", AIR, swap("Z5.0000", "Z-0.0312"), Rule.AIR_RUN_TOUCHES),
    Damage("an air run too close to the blade", AIR, swap("Z5.0000", "Z0.5000"), Rule.AIR_RUN_TOUCHES),
    Damage("an air run with the spindle on", AIR, before("M5", "S2850 M3"), Rule.AIR_RUN_SPINDLE),
    Damage("an air run with the coolant on", AIR, before("M9", "M7"), Rule.AIR_RUN_COOLANT),
    # the cut
    Damage("two last decimals below the target", MILL, swap_all("0.0312", "0.0314"), Rule.BELOW_TARGET),
    Damage("two last decimals below the target on an inverted axis", SMALL, swap_all("Z0.111", "Z0.113"), Rule.BELOW_TARGET),
    Damage("two rough infeeds in one", MILL, swap("Z-0.0080", "Z-0.0008"), Rule.BITE_TOO_LARGE),
    Damage("a machine that may not press so hard", MILL, lambda t: t, Rule.FORCE_TOO_LARGE, {"limits.normal_force": "5 N"}),
    Damage("a machine without the power", MILL, lambda t: t, Rule.POWER_TOO_LARGE, {"spindle.power": "50 W"}),
    Damage("a slower wheel at the same feed", MILL, swap("S2850", "S500"), Rule.MISSING_SPARK_OUT),
    Damage("no spark-out", MILL, NO_SPARK_OUT, Rule.MISSING_SPARK_OUT),
    Damage("cut off neatly after the first pass", MILL, lambda t: t[: t.index("(pass 2")].replace("1 of 6", "1 of 1") + t[t.index("G0 Z5.0000\nM9") :], Rule.LAND_OUT_OF_TOLERANCE),
    Damage("a cross value of half a millimetre", MILL, swap("Y0.0000", "Y0.5000"), Rule.LAND_OUT_OF_TOLERANCE),
    Damage("a stop of half a millimetre beside", SMALL, lambda t: t, Rule.LAND_OUT_OF_TOLERANCE, {"fixture.hand_cross": {"settings": ["2.8 mm"]}}),
    Damage("nothing ground at all", MILL, lambda t: t[: t.index("(pass 1")] + t[t.index("G0 Z5.0000\nM9") :], Rule.LAND_OUT_OF_TOLERANCE),
]  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGES, ids=[d.what for d in DAMAGES])
def test_a_damaged_program_is_refused_by_the_rule_that_names_it(prove, damage):
    machine = prove.machine(damage.sample, damage.machine)
    verdict = prove(damage.sample, damage.spoil(prove.text(damage.sample)), machine=machine)
    assert not verdict.ok
    # Property: every damage is found by the rule that is meant to find it, and has its words.
    assert damage.rule in [fault.rule for fault in verdict.faults]
    for fault in verdict.faults:
        assert fault_words(fault).startswith(f"[{fault.rule}] ")


def test_every_rule_on_a_program_has_a_damage():
    # The rest is a rule on the job, see test_prove.py, and one of an edge along an arc, see
    # tests/test_edge_paths.py.
    found = {damage.rule for damage in DAMAGES}
    found |= {damage.rule for damage in (*OPERATION_DAMAGES, *SWEEP_DAMAGES)}
    assert found == set(Rule) - {Rule.STEEL_LEFT, Rule.TRAVERSE_MOVED}


def test_the_damages_are_of_thirty_kinds_and_more():
    assert len({damage.rule for damage in DAMAGES}) >= 30
    assert len({damage.what for damage in DAMAGES}) == len(DAMAGES)


def test_the_table_in_the_documentation_is_the_list_of_damages():
    text = DOCS.read_text(encoding="utf-8")
    told = text[text.index("## Damages") :]
    rows = re.findall(r"^\| (.+?) \| `(.+?)` \|$", told, flags=re.MULTILINE)
    table = [(damage.what, damage.rule.value) for damage in DAMAGES]
    table += [(damage.what, damage.rule.value) for damage in OPERATION_DAMAGES]
    table += [(damage.what, damage.rule.value) for damage in SWEEP_DAMAGES]
    table += [(what, rule.value) for what, (_, _, rule) in FOLLOWED_DAMAGES.items()]
    table += [(what, rule.value) for what, (*_, rule) in {**FLAT_DAMAGES, **LINE_DAMAGES}.items()]
    assert rows == table + [(w, damage.rule.value) for w, damage in BULGE_DAMAGES.items()]
