"""How fast a wheel or belt runs on this machine."""

from __future__ import annotations

import math

from planner.errors import Fact, Refusal, WayOut
from planner.formulas import grinding
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel


def surface_speed_m_s(wheel: Wheel, machine: Machine) -> float:
    """Speed of the grains past the steel."""
    if wheel.belt is None:
        return float(grinding.surface_speed(wheel.diameter_mm, machine.spindle.speed_rpm))
    if wheel.belt.speed_m_s is not None:
        return wheel.belt.speed_m_s
    drive = wheel.belt.drive_diameter_mm or wheel.diameter_mm
    return float(grinding.surface_speed(drive, machine.spindle.speed_rpm))


def shaft_speed_rpm(wheel: Wheel, machine: Machine) -> float:
    """Speed of the wheel itself, or of the belt's contact wheel."""
    if wheel.belt is None:
        return machine.spindle.speed_rpm
    return float(grinding.shaft_speed(wheel.diameter_mm, surface_speed_m_s(wheel, machine)))


def marked_rpm(wheel: Wheel) -> float:
    """The most the wheel's mark allows, in rev/min."""
    if wheel.marked_speed.rpm is not None:
        return wheel.marked_speed.rpm
    assert wheel.marked_speed.m_s is not None
    return float(grinding.shaft_speed(wheel.diameter_mm, wheel.marked_speed.m_s))


def speed_refusals(wheel: Wheel, machine: Machine) -> list[Refusal]:
    """A wheel that would turn faster than its mark allows is never planned."""
    shaft, most = shaft_speed_rpm(wheel, machine), marked_rpm(wheel)
    if shaft <= most * (1 + 1e-9):
        return []
    facts: dict[str, Fact] = {
        "wheel": wheel.name,
        "speed_rpm": shaft,
        "marked_rpm": most,
        "surface_speed_m_s": surface_speed_m_s(wheel, machine),
    }
    share = most / shaft
    if wheel.belt is not None and wheel.belt.speed_m_s is not None:
        way = WayOut(
            "slower-belt", {"speed_m_s": math.floor(10 * share * wheel.belt.speed_m_s) / 10}
        )
    else:
        way = WayOut("slower-spindle", {"speed_rpm": math.floor(share * machine.spindle.speed_rpm)})
    return [Refusal("over-marked-speed", facts, (way,))]
