"""A wheel on its spindle: its radius with the belt on, its surface speed, the mark on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel


@dataclass(frozen=True)
class WheelAtSpeed:
    """What follows from the wheel and the spindle's speed."""

    radius_mm: float
    width_mm: float
    contact_diameter_mm: float
    belt_mm_s: float | None
    """Stated belt speed at the spindle's own speed; None where it follows from a diameter."""
    driven_diameter_mm: float
    """Diameter whose rim moves at the surface speed, on the spindle."""
    spindle_rpm: float
    marked_rpm: float | None
    marked_m_s: float | None

    def surface_mm_s(self, speed_rpm: float) -> float:
        """Surface speed: pi d n, or the stated belt speed in proportion to the spindle's."""
        if self.belt_mm_s is not None:
            return self.belt_mm_s * speed_rpm / self.spindle_rpm
        return math.pi * self.driven_diameter_mm * speed_rpm / 60.0

    def over_mark(self, speed_rpm: float) -> tuple[float, float, str] | None:
        """(speed, mark, unit) where the wheel would turn faster than it is marked for."""
        surface = self.surface_mm_s(speed_rpm)
        turns_rpm = surface * 60.0 / (math.pi * self.contact_diameter_mm)
        slack = 1.0 + 1e-9
        if self.marked_rpm is not None and turns_rpm > self.marked_rpm * slack:
            return turns_rpm, self.marked_rpm, "rpm"
        if self.marked_m_s is not None and surface > self.marked_m_s * 1000.0 * slack:
            return surface / 1000.0, self.marked_m_s, "m/s"
        return None


def wheel_at_speed(machine: Machine, wheel: Wheel) -> WheelAtSpeed:
    """What the spindle makes of a wheel, with its belt where it has one."""
    belt = wheel.belt
    radius = wheel.diameter_mm / 2.0
    driven = wheel.diameter_mm
    belt_mm_s = None
    if belt is not None:
        radius += belt.thickness_mm
        if belt.speed_m_s is not None:
            belt_mm_s = belt.speed_m_s * 1000.0
        elif belt.drive_diameter_mm is not None:
            driven = belt.drive_diameter_mm
    return WheelAtSpeed(
        radius_mm=radius,
        width_mm=wheel.width_mm,
        contact_diameter_mm=wheel.diameter_mm,
        belt_mm_s=belt_mm_s,
        driven_diameter_mm=driven,
        spindle_rpm=machine.spindle.speed_rpm,
        marked_rpm=wheel.marked_speed.rpm,
        marked_m_s=wheel.marked_speed.m_s,
    )
