"""Program steps to text in a machine's dialect: one small method a step."""

from __future__ import annotations

import math
from functools import cache

from planner.gcode.allowed import NotInDialectError, check_lines
from planner.gcode.comments import comment
from planner.gcode.dialects import DIALECTS
from planner.gcode.numbers import limit_text, number_text
from planner.gcode.program import Coolant, Dwell, Move, Note, Program, Spindle, Step, Stop
from planner.inputs.axes import LinearAxis
from planner.inputs.machine import Machine

INCH_MM = 25.4
INVERSE_TIME_DIGITS = 6
"""Of F in inverse time: the time is then right to a hundred-thousandth, and in 24 bits too."""


def program_text(program: Program, machine: Machine) -> str:
    """The whole file: ASCII, LF, every line in the table of the machine's dialect.

    Raises: ValueError when a number cannot be written, a line is not in the table, a stop is not
    retracted first, or a feed move of a rotary axis has no time.
    """
    writer = _Writer(machine)
    lines: list[str] = []
    begun = False
    for step in program.steps:
        if not begun and not isinstance(step, Note):
            lines += writer.preamble(program.path_tolerance_mm)
            begun = True
        lines += writer.lines(step)
    lines += [*writer.leave_inverse_time(), writer.dialect.end]
    check_lines(lines, writer.dialect)
    return "\n".join(lines) + "\n"


class _Writer:
    """Knows what the lines so far have told the controller."""

    def __init__(self, machine: Machine) -> None:
        self.dialect = DIALECTS[machine.controller.dialect]
        self._machine = machine
        self._scale = INCH_MM if machine.controller.units == "inch" else 1.0
        self._axes = [
            (letter, axis.role, isinstance(axis, LinearAxis), -1.0 if axis.invert else 1.0)
            for letter, axis in machine.axes.items()
        ]
        self._at: dict[str, str] = {}
        """The words last written."""
        self._inverse_time = False
        self._turning = False
        self._clear = False
        """Whether the wheel stands retracted: every stop asks for it."""
        self._feed_word = cache(self._new_feed_word)

    def preamble(self, path_tolerance_mm: float | None) -> list[str]:
        """Every mode, for none is relied on; corners rounded within the program's own tolerance
        where that is the narrower."""
        dialect, controller = self.dialect, self._machine.controller
        lines = [dialect.units[controller.units], *dialect.preamble]
        if dialect.path_mode is not None:
            tolerance = controller.path_tolerance_mm
            if path_tolerance_mm is not None:
                tolerance = min(tolerance, path_tolerance_mm)
            tolerance /= self._scale
            path = limit_text(tolerance, controller.decimals, digits=2)
            lines.append(dialect.path_mode.format(path=path))
        return lines

    def leave_inverse_time(self, feed: str = "") -> list[str]:
        """Back to a feed a minute, with its F: after the change the old one is none."""
        if not self._inverse_time:
            return []
        self._inverse_time = False
        return [" ".join([self.dialect.feed_a_minute, feed]).rstrip()]

    def lines(self, step: Step) -> list[str]:
        """The lines of one step."""
        match step:
            case Note():
                return [comment(step.first_word, step.text)]
            case Move(minutes=None):
                return self._move(step)
            case Move():
                return self._timed_move(step)
            case Spindle():
                lines = [self._spindle(step)]
            case Coolant():
                if step.code not in self.dialect.coolant_codes:
                    raise NotInDialectError(f"{step.code} switches no coolant here")
                lines = [step.code]
            case Dwell():
                lines = [self._dwell(step)]
            case Stop():
                lines = self._stop(step)
        return [*self.leave_inverse_time(), *lines]

    def _spindle(self, step: Spindle) -> str:
        self._turning = step.speed_rpm is not None
        if step.speed_rpm is None:
            return self.dialect.spindle_off
        code = self.dialect.spindle_codes[self._machine.spindle.direction]
        return self.dialect.spindle_on.format(speed=limit_text(step.speed_rpm, 0), code=code)

    def _dwell(self, step: Dwell) -> str:
        # Rounded up: never shorter than asked.
        decimals = self.dialect.dwell_decimals
        in_units = step.seconds * self.dialect.dwell_units_a_second
        time = math.ceil(in_units * 10**decimals - 1e-6) / 10**decimals
        return self.dialect.dwell.format(time=number_text(time, decimals))

    def _stop(self, step: Stop) -> list[str]:
        message = comment("message", step.message)
        if step.message not in message:
            raise ValueError(f"a message would lose its end: {step.message!r}")
        if not self._clear:
            raise ValueError(f"a stop before the wheel is retracted: {step.message!r}")
        if self._turning and self.dialect.stop_leaves_wheel_turning:
            raise ValueError(f"a stop that leaves the wheel turning: {step.message!r}")
        return [line.format(message=message) for line in self.dialect.stop]

    def _words(self, move: Move) -> tuple[list[str], bool]:
        """The words that change, and whether one of them is rotary.

        A word that does not change is left out: a block then moves only what it says.
        """
        controller, at = self._machine.controller, self._at
        words, rotary = [], False
        for letter, role, linear, sign in self._axes:
            value = move.to.get(role)
            if value is None:
                continue
            if linear:
                text = number_text(sign * value / self._scale, controller.decimals)
            else:
                text = number_text(sign * value, controller.rotary_decimals)
            if at.get(letter) != text:
                at[letter] = text
                words.append(letter + text)
                rotary = rotary or not linear
        if "infeed" in move.to:
            self._clear = move.to["infeed"] >= self._machine.fixture.clearance_mm - 1e-9
        return words, rotary

    def _move(self, move: Move) -> list[str]:
        words, rotary = self._words(move)
        if not words:
            return []
        if move.feed_mm_min is None:
            return [*self.leave_inverse_time(), " ".join([self.dialect.rapid, *words])]
        if rotary:
            # Controllers differ many-fold on the speed of such a move at a feed a minute.
            raise ValueError(f"a feed move of a rotary axis needs its time: {move}")
        feed = self._feed_word(move.feed_mm_min)
        block = " ".join([self.dialect.feed, *words, feed])
        return [*self.leave_inverse_time(feed), block] if self._inverse_time else [block]

    def _new_feed_word(self, feed_mm_min: float) -> str:
        decimals = 3 if self._machine.controller.units == "inch" else 1
        return "F" + limit_text(feed_mm_min / self._scale, decimals)

    def _timed_move(self, move: Move) -> list[str]:
        words, _ = self._words(move)
        if not words:
            return []
        if move.minutes is None or not move.minutes > 0.0:
            raise ValueError(f"a move needs a time above zero: {move}")
        feed = "F" + limit_text(1.0 / move.minutes, 0, digits=INVERSE_TIME_DIGITS)
        entering = [] if self._inverse_time else [self.dialect.inverse_time]
        self._inverse_time = True
        return [*entering, " ".join([self.dialect.feed, *words, feed])]
