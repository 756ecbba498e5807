"""What each class of controller takes and how each step is told to it, as tables.

Whatever the writer emits is held against the table of its dialect before there is a file
(``allowed.py``). Facts: docs/controllers.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from planner.inputs.controllers import CONTROLLERS


@dataclass(frozen=True)
class Dialect:
    """One class of controller."""

    name: str
    axis_letters: frozenset[str]
    value_letters: frozenset[str]
    """Letters of feed, speed and time."""
    codes: frozenset[str]
    """Every G and M code that may be written."""
    coolant_codes: frozenset[str]
    longest_line: int
    counted: Literal["every character", "code without blanks"]
    """What of a line counts toward ``longest_line``; the second leaves comments out too."""
    significand_bits: int
    """Of the numbers that it counts in: a word needs no more."""
    units: Mapping[str, str]
    preamble: tuple[str, ...]
    """Modal safety lines after the units line."""
    path_mode: str | None
    """How corners are rounded within ``{path}``; None where no code says it."""
    rapid: str
    feed: str
    feed_a_minute: str
    inverse_time: str
    """Feed mode in which F is one over the minutes that a block takes, on every feed block."""
    spindle_on: str
    spindle_codes: Mapping[str, str]
    """By the direction of the spindle."""
    spindle_off: str
    dwell: str
    dwell_units_a_second: int
    """1 where a dwell is told in seconds, 1000 where in milliseconds."""
    dwell_decimals: int
    stop: tuple[str, ...]
    """The lines of a stop; ``{message}`` is the comment that tells the operator why."""
    stop_leaves_wheel_turning: bool
    end: str


_CODES = frozenset(
    (
        *("G0", "G1", "G4", "G17", "G20", "G21", "G40", "G49", "G54", "G80", "G90", "G93", "G94"),
        *("M0", "M2", "M3", "M4", "M5", "M9"),
    )
)

DIALECTS = {
    "rs274ngc": Dialect(
        name="rs274ngc",
        axis_letters=frozenset(CONTROLLERS["rs274ngc"].axis_letters),
        value_letters=frozenset("FPS"),
        codes=_CODES | {"G64", "M7", "M8"},
        coolant_codes=frozenset(("M7", "M8", "M9")),
        longest_line=252,
        counted="every character",
        significand_bits=CONTROLLERS["rs274ngc"].significand_bits,
        units={"mm": "G21", "inch": "G20"},
        preamble=("G17 G90 G94", "G40 G49 G80", "G54"),
        path_mode="G64 P{path}",
        rapid="G0",
        feed="G1",
        feed_a_minute="G94",
        inverse_time="G93",
        spindle_on="S{speed} {code}",
        spindle_codes={"clockwise": "M3", "counterclockwise": "M4"},
        spindle_off="M5",
        dwell="G4 P{time}",
        dwell_units_a_second=1,
        dwell_decimals=1,
        stop=("{message}", "M0"),
        stop_leaves_wheel_turning=True,
        end="M2",
    ),
    "small": Dialect(
        name="small",
        axis_letters=frozenset(CONTROLLERS["small"].axis_letters),
        value_letters=frozenset("FPS"),
        codes=_CODES | {"M8"},
        coolant_codes=frozenset(("M8", "M9")),
        longest_line=79,
        counted="code without blanks",
        significand_bits=CONTROLLERS["small"].significand_bits,
        units={"mm": "G21", "inch": "G20"},
        preamble=("G17 G90 G94", "G40 G49 G80", "G54"),
        path_mode=None,
        rapid="G0",
        feed="G1",
        feed_a_minute="G94",
        inverse_time="G93",
        spindle_on="S{speed} {code}",
        spindle_codes={"clockwise": "M3", "counterclockwise": "M4"},
        spindle_off="M5",
        dwell="G4 P{time}",
        dwell_units_a_second=1,
        dwell_decimals=1,
        stop=("{message}", "M0"),
        stop_leaves_wheel_turning=True,
        end="M2",
    ),
}
