"""What each class of controller is allowed to be told: the proof's own tables.

``rs274ngc``: the language of T. R. Kramer, F. M. Proctor, E. Messina, The NIST RS274NGC
Interpreter - Version 3, NISTIR 6556, 2000, as the stand-alone interpreters of its line read it.
``small``: eight-bit controllers with three straight axes; no rotary words, no blending, no
tool-length table, no mist. A code that moves or shifts something which the text alone cannot
show is in ``UNVOUCHED`` and refused under a name of its own.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum, auto
from typing import Literal


class Group(IntEnum):
    """Modal groups: a block may hold one code of each (NISTIR 6556, table 4; from memory).

    Whole numbers, for they are looked up many times a block.
    """

    MOTION = auto()
    PLANE = auto()
    DISTANCE = auto()
    FEED_MODE = auto()
    UNITS = auto()
    CUTTER = auto()
    TOOL_LENGTH = auto()
    OFFSET = auto()
    PATH = auto()
    NON_MODAL = auto()
    STOP = auto()
    SPINDLE = auto()
    COOLANT = auto()


_BOTH: Mapping[str, Group] = {
    "G0": Group.MOTION,
    "G1": Group.MOTION,
    "G80": Group.MOTION,
    "G4": Group.NON_MODAL,
    "G17": Group.PLANE,
    "G18": Group.PLANE,
    "G19": Group.PLANE,
    "G20": Group.UNITS,
    "G21": Group.UNITS,
    "G40": Group.CUTTER,
    "G49": Group.TOOL_LENGTH,
    "G54": Group.OFFSET,
    "G61": Group.PATH,
    "G90": Group.DISTANCE,
    "G93": Group.FEED_MODE,
    "G94": Group.FEED_MODE,
    "M0": Group.STOP,
    "M1": Group.STOP,
    "M2": Group.STOP,
    "M30": Group.STOP,
    "M3": Group.SPINDLE,
    "M4": Group.SPINDLE,
    "M5": Group.SPINDLE,
    "M8": Group.COOLANT,
    "M9": Group.COOLANT,
}

UNVOUCHED = frozenset(
    (
        *("G10", "G28", "G28.1", "G30", "G30.1"),
        *("G41", "G41.1", "G42", "G42.1", "G43", "G43.1", "G43.2"),
        *("G50", "G51", "G52", "G53", "G68"),
        *("G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"),
        *("G92", "G92.1", "G92.2", "G92.3"),
    )
)
"""Offsets, compensations and machine coordinates: where the wheel goes is not in the text."""

_COMMENT = re.compile(r"\([^()]*\)")

SUBPROGRAM_CODES = frozenset(["M97", "M98", "M99", "G65", "G66", "G67"])


@dataclass(frozen=True)
class Dialect:
    """One class of controller."""

    name: str
    codes: Mapping[str, Group]
    straight_letters: frozenset[str]
    rotary_letters: frozenset[str]
    value_letters: frozenset[str]
    """Letters of feed, time or tolerance, and speed."""
    longest_line: int
    blanks_and_comments_count: bool
    """Whether they count toward the longest line."""
    numbers: Literal["f", "d"]
    """How it keeps a number: in single or in double precision, as ``struct`` names them."""
    digits_always_kept: int
    """Any number of so many digits comes back as it was written: FLT_DIG and DBL_DIG of C."""
    blends: bool
    """Whether the controller rounds corners by a mode that the program must set."""
    blend_code: str
    dwell_unit_s: float
    """What P of a dwell counts in."""
    spindle_codes: Mapping[str, str | None]
    coolant_off: str
    waiting_stops: frozenset[str]
    """The stops at which every controller of the class waits; others pass over some."""
    stop_leaves_wheel_turning: bool
    ends: frozenset[str]


DIALECTS: Mapping[str, Dialect] = {
    "rs274ngc": Dialect(
        name="rs274ngc",
        codes={**_BOTH, "G61.1": Group.PATH, "G64": Group.PATH, "M7": Group.COOLANT},
        straight_letters=frozenset("XYZ"),
        rotary_letters=frozenset("ABC"),
        value_letters=frozenset("FPS"),
        longest_line=252,
        blanks_and_comments_count=True,
        numbers="d",
        digits_always_kept=15,
        blends=True,
        blend_code="G64",
        dwell_unit_s=1.0,
        spindle_codes={"M3": "clockwise", "M4": "counterclockwise", "M5": None},
        coolant_off="M9",
        waiting_stops=frozenset(["M0"]),
        stop_leaves_wheel_turning=True,
        ends=frozenset(["M2", "M30"]),
    ),
    "small": Dialect(
        name="small",
        codes=_BOTH,
        straight_letters=frozenset("XYZ"),
        rotary_letters=frozenset(),
        value_letters=frozenset("FPS"),
        longest_line=79,
        blanks_and_comments_count=False,
        numbers="f",
        digits_always_kept=6,
        blends=False,
        blend_code="",
        dwell_unit_s=1.0,
        spindle_codes={"M3": "clockwise", "M4": "counterclockwise", "M5": None},
        coolant_off="M9",
        waiting_stops=frozenset(["M0"]),
        stop_leaves_wheel_turning=True,
        ends=frozenset(["M2", "M30"]),
    ),
}


def keeps(dialect: Dialect, text: str, value: float) -> bool:
    """Whether the controller's own number is within half a last decimal of the one written.

    >>> keeps(DIALECTS["small"], "150.00001", 150.00001), keeps(DIALECTS["small"], "0.1", 0.1)
    (False, True)
    """
    kept: float = struct.unpack(dialect.numbers, struct.pack(dialect.numbers, value))[0]
    return abs(kept - value) <= 0.5 * 10.0 ** -len(text.partition(".")[2]) * (1.0 + 1e-9)


def counted_characters(dialect: Dialect, text: str) -> int:
    """How long a line is by the controller's own count."""
    if dialect.blanks_and_comments_count:
        return len(text)
    return len(_COMMENT.sub("", text).replace(" ", ""))
