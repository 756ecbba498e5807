"""Lengths, axis words and names as every paper of a set-up writes them."""

from __future__ import annotations

from dataclasses import dataclass

from planner.gcode.numbers import number_text
from planner.inputs.machine import Machine
from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.row_words import touched_station
from planner.setup_plan import Setup

INCH_MM = 25.4


@dataclass(frozen=True)
class ReadBack:
    """What the proof says of the two programs of a set-up, read back from their bytes."""

    text: bytes
    """Of the cutting program."""
    program: Verdict
    air_run: Verdict


def length(machine: Machine, millimetres: float) -> str:
    """A length as the controller shows it: on an inch machine in both."""
    if machine.controller.units == "inch":
        return f"{millimetres:.3f} mm ({millimetres / INCH_MM:.4f} in)"
    return f"{millimetres:.3f} mm"


def axis_word(plan: Plan, setup: Setup, role: str, value_mm: float) -> str:
    """An axis word as the programs write it: sign, units and decimals of the controller.

    A traverse is a place along the edge as a straight one counts it.
    """
    machine = plan.machine.model
    if role == "traverse" and setup.followed is not None:
        # In whole steps, as the program has it.
        value_mm = float(setup.followed.stands([value_mm], 0.0, 0.0)[0, 0])
    if role == "traverse" and setup.turned is not None:
        motion = setup.turned
        turn = -motion.turn_deg(value_mm) if motion.inverted else motion.turn_deg(value_mm)
        return f"`{motion.turn}{number_text(turn, machine.controller.rotary_decimals)}`"
    return written_word(plan, setup, role, value_mm)


def tilt_word(plan: Plan, setup: Setup, tilt_deg: float) -> str:
    """The word of a powered tilt as the programs write it."""
    machine = plan.machine.model
    letter = setup.axes["tilt"]
    degrees = -tilt_deg if machine.axes[letter].invert else tilt_deg  # type: ignore[index]
    return f"`{letter}{number_text(degrees, machine.controller.rotary_decimals)}`"


def written_word(plan: Plan, setup: Setup, role: str, value_mm: float) -> str:
    """The word of an axis, told to stand at a value (mm, or deg) of the set-up's own frame."""
    machine = plan.machine.model
    letter = setup.axes[role]
    if role == "turn":
        degrees = -value_mm if machine.axes[letter].invert else value_mm  # type: ignore[index]
        return f"`{letter}{number_text(degrees, machine.controller.rotary_decimals)}`"
    scale = INCH_MM if machine.controller.units == "inch" else 1.0
    value = -value_mm if machine.axes[letter].invert else value_mm  # type: ignore[index]
    return f"`{letter}{number_text(value / scale, machine.controller.decimals)}`"


def blade_or_row(setup: Setup) -> str:
    """What is ground at once."""
    return "row" if setup.in_row else "blade"


def of_which_blade(setup: Setup) -> str:
    """Which blade of a row is touched off."""
    return f" of the blade in station {touched_station(setup)}" if setup.in_row else ""


def on_which_blade(setup: Setup) -> str:
    """The same to begin a sentence with."""
    return f"On the blade in station {touched_station(setup)}: " if setup.in_row else ""


def later_in_batch(plan: Plan) -> bool:
    """Whether the zero of an earlier blade stands."""
    return plan.machine.model.fixture.touch_off_each == "batch" and plan.blade > 1


def which_blades(plan: Plan) -> str:
    """Which blades of the batch the programs are for; empty where they are for every one."""
    quantity = plan.job.model.quantity
    together = plan.totals.blades
    if plan.machine.model.fixture.touch_off_each == "batch" and quantity > 1:
        if together > 1:
            return f", blades {plan.blade} to {plan.blade + together - 1} of {quantity}"
        return f", blade {plan.blade} of {quantity}"
    return f", {together} blades" if together > 1 else ""
