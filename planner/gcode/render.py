"""Program steps to text in a machine's dialect: one small function a step."""

from __future__ import annotations

import math

from planner.gcode.comments import LONGEST_LINE, comment
from planner.gcode.dialects import DIALECTS
from planner.gcode.numbers import limit_text, number_text
from planner.gcode.program import Coolant, Dwell, Move, Note, Program, Spindle, Step, Stop
from planner.inputs.machine import LinearAxis, Machine

INCH_MM = 25.4


def program_text(program: Program, machine: Machine) -> str:
    """The whole file: ASCII, LF, at most ``LONGEST_LINE`` characters a line.

    Raises: ValueError when a number cannot be written or a line is too long.
    """
    dialect = DIALECTS[machine.controller.dialect]
    scale = _scale(machine)
    preamble = ["G20" if machine.controller.units == "inch" else "G21"]
    path = limit_text(
        machine.controller.path_tolerance_mm / scale, machine.controller.decimals, digits=2
    )
    preamble += [line.format(path=path) for line in dialect.preamble]
    lines: list[str] = []
    begun = False
    at: dict[str, str] = {}
    for step in program.steps:
        if not begun and not isinstance(step, Note):
            lines += preamble
            begun = True
        lines += _step_lines(step, machine, at)
    lines.append("M2")
    for line in lines:
        if len(line) > LONGEST_LINE or not line.isascii():
            raise ValueError(f"line too long or not ASCII: {line!r}")
    return "\n".join(lines) + "\n"


def _scale(machine: Machine) -> float:
    return INCH_MM if machine.controller.units == "inch" else 1.0


def _step_lines(step: Step, machine: Machine, at: dict[str, str]) -> list[str]:
    match step:
        case Note():
            lines = [comment(step.first_word, step.text)]
        case Move():
            lines = _move_lines(step, machine, at)
        case Spindle(speed_rpm=None):
            lines = ["M5"]
        case Spindle(speed_rpm=speed):
            code = "M3" if machine.spindle.direction == "clockwise" else "M4"
            lines = [f"S{limit_text(speed or 0.0, 0)} {code}"]
        case Coolant():
            lines = [step.code]
        case Dwell():
            # Rounded up: never shorter than asked.
            lines = [f"G4 P{number_text(math.ceil(step.seconds * 10 - 1e-6) / 10, 1)}"]
        case Stop():
            message = comment("message", step.message)
            if step.message not in message:
                raise ValueError(f"a message would lose its end: {step.message!r}")
            lines = [message, "M0"]
    return lines


def _move_lines(move: Move, machine: Machine, at: dict[str, str]) -> list[str]:
    """One block, or none when every axis is there already; ``at`` holds the words last written.

    A word that does not change is left out: a block then moves only what it says.
    """
    words = []
    for letter, axis in machine.axes.items():
        value = move.to.get(axis.role)
        if value is None:
            continue
        if axis.invert:
            value = -value
        if isinstance(axis, LinearAxis):
            text = number_text(value / _scale(machine), machine.controller.decimals)
        else:
            text = number_text(value, machine.controller.rotary_decimals)
        if at.get(letter) != text:
            at[letter] = text
            words.append(letter + text)
    if not words:
        return []
    if move.feed_mm_min is None:
        return [" ".join(["G0", *words])]
    decimals = 3 if machine.controller.units == "inch" else 1
    feed = "F" + limit_text(move.feed_mm_min / _scale(machine), decimals)
    return [" ".join(["G1", *words, feed])]
