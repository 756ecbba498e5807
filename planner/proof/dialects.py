"""What each class of controller is allowed to be told: the proof's own tables.

``rs274ngc``: the language of T. R. Kramer, F. M. Proctor, E. Messina, The NIST RS274NGC
Interpreter - Version 3, NISTIR 6556, 2000, as the stand-alone interpreters of its line read it.
``small``: eight-bit controllers with three straight axes; no rotary words, no blending, no
tool-length table, no mist. A code that moves or shifts something which the text alone cannot
show is in ``UNVOUCHED`` and refused under a name of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, auto


class Group(Enum):
    """Modal groups: a block may hold one code of each (NISTIR 6556, table 4; from memory)."""

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

SUBPROGRAM_CODES = frozenset(["M97", "M98", "M99", "G65", "G66", "G67"])


@dataclass(frozen=True)
class Dialect:
    """One class of controller."""

    name: str
    codes: Mapping[str, Group]
    straight_letters: frozenset[str]
    rotary_letters: frozenset[str]
    blends: bool
    """Whether the controller rounds corners by a mode that the program must set."""


DIALECTS: Mapping[str, Dialect] = {
    "rs274ngc": Dialect(
        name="rs274ngc",
        codes={**_BOTH, "G61.1": Group.PATH, "G64": Group.PATH, "M7": Group.COOLANT},
        straight_letters=frozenset("XYZ"),
        rotary_letters=frozenset("ABC"),
        blends=True,
    ),
    "small": Dialect(
        name="small",
        codes=_BOTH,
        straight_letters=frozenset("XYZ"),
        rotary_letters=frozenset(),
        blends=False,
    ),
}
