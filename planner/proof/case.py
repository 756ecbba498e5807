"""One set-up as plain numbers: what the judge needs of the job, the machine and the wheel."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from planner.inputs.job import Job
from planner.inputs.machine import LinearAxis, Machine, Wheel
from planner.proof.frame import Frame, nearest_multiple, touch_frame
from planner.proof.target import (
    Face,
    FaceName,
    ImpossibleError,
    Relief,
    blade_face,
    wanted_relief,
)

_MM_PER_INCH = 25.4
_LEAST_RADIUS_MM = 1.0
_MOST_STEPS = 10
_WHOLE = 1e-6


@dataclass(frozen=True)
class ProgramAxis:
    """One powered axis; mm and mm/min, or deg and deg/min where ``rotary``."""

    letter: str
    role: str
    rotary: bool
    low: float
    high: float
    max_feed: float
    resolution: float
    zero_at: float
    sign: float
    """-1 where the number in the program is minus the touch-frame value."""


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


@dataclass(frozen=True)
class Case:
    """One set-up: the face, its relief, the wheel, the frame and every limit."""

    job: Job
    machine: Machine
    face: Face
    other_face: Face
    relief: Relief
    other_relief: Relief | None
    """What the other set-up will take; None where only this face is relieved."""
    wheel: Wheel
    at_speed: WheelAtSpeed
    frame: Frame
    axes: Mapping[str, ProgramAxis]
    """By letter, in the machine's order."""
    by_role: Mapping[str, int]
    """Role to index in a position."""
    fixed_tilt_deg: float
    half_decimal_mm: float
    """Half of the last decimal that the machine's programs are written with."""

    @property
    def edge_length_mm(self) -> float:
        """Length of the edge."""
        return self.job.blade.edge.length_mm

    @property
    def specific_energy_j_mm3(self) -> float:
        """The wheel's; a belt's rises in a straight line, by half until it is retired."""
        belt = self.wheel.belt
        worn = 0.0 if belt is None or belt.life_mm3_mm2 is None else belt.worn
        return self.wheel.specific_energy_j_mm3 * (1.0 + worn / 2.0)

    @property
    def radius_mm(self) -> float:
        """The wheel's radius, belt included."""
        return self.at_speed.radius_mm


def program_axes(machine: Machine) -> dict[str, ProgramAxis]:
    """The machine's axes by letter, in the order of its file."""
    axes: dict[str, ProgramAxis] = {}
    for letter, axis in machine.axes.items():
        if isinstance(axis, LinearAxis):
            rotary = False
            (low, high), max_feed = axis.travel_mm, axis.max_feed_mm_min
            resolution, zero_at = axis.resolution_mm, axis.zero_at_mm
        else:
            rotary = True
            (low, high), max_feed = axis.travel_deg, axis.max_feed_deg_min
            resolution, zero_at = axis.resolution_deg, axis.zero_at_deg
        axes[letter] = ProgramAxis(
            letter=letter,
            role=axis.role,
            rotary=rotary,
            low=low,
            high=high,
            max_feed=max_feed,
            resolution=resolution,
            zero_at=zero_at,
            sign=-1.0 if axis.invert else 1.0,
        )
    return axes


def build_case(job: Job, machine: Machine, face_name: FaceName, wheel: Wheel) -> Case:
    """Everything about one set-up.

    Raises: ImpossibleError where the job's section does not exist for this wheel, or the wheel
    is too small for the arithmetic of polygons.
    """
    if wheel.contact != "along_edge" or job.operations or job.relief.scallop_mm is not None:
        raise ImpossibleError("a contact or an operation that this version does not prove yet")
    axes = program_axes(machine)
    at_speed = _wheel_at_speed(machine, wheel)
    if at_speed.radius_mm < _LEAST_RADIUS_MM:
        raise ImpossibleError(f"a wheel of under {_LEAST_RADIUS_MM:g} mm radius")
    face = blade_face(job, face_name)
    other_face = blade_face(job, "B" if face_name == "A" else "A")
    relief = wanted_relief(job, face, at_speed.radius_mm)
    other_relief = None
    if job.relief.faces == "both":
        other_relief = wanted_relief(job, other_face, at_speed.radius_mm)
    frame = touch_frame(
        face,
        machine.fixture.flip,
        job.blade.edge.length_mm,
        relief.middle_mm,
        at_speed.radius_mm,
    )
    controller = machine.controller
    unit = 1.0 if controller.units == "mm" else _MM_PER_INCH
    return Case(
        job=job,
        machine=machine,
        face=face,
        other_face=other_face,
        relief=relief,
        other_relief=other_relief,
        wheel=wheel,
        at_speed=at_speed,
        frame=frame,
        axes=axes,
        by_role={axis.role: index for index, axis in enumerate(axes.values())},
        fixed_tilt_deg=_fixed_tilt_deg(machine, frame),
        half_decimal_mm=0.5 * 10.0**-controller.decimals * unit,
    )


def infeed_step_mm(case: Case) -> float:
    """The infeed that both the axis can make and the program can write.

    Ten of the coarser of the two are looked at; where none is whole in the other, the coarser.
    """
    resolution = list(case.axes.values())[case.by_role["infeed"]].resolution
    finer, coarser = sorted((resolution, 2.0 * case.half_decimal_mm))
    for count in range(1, _MOST_STEPS + 1):
        parts = count * coarser / finer
        if abs(parts - round(parts)) < _WHOLE:
            return count * coarser
    return coarser


def reachable_tilt_deg(case: Case, axis: ProgramAxis) -> tuple[float, float]:
    """(tilt, step): the tilt nearest to the ideal that a powered axis can hold, and its grid."""
    step = max(10.0**-case.machine.controller.rotary_decimals, axis.resolution)
    low, high = sorted(axis.sign * (limit - axis.zero_at) for limit in (axis.low, axis.high))
    return nearest_multiple(case.frame.ideal_tilt_deg, step, low, high), step


def _fixed_tilt_deg(machine: Machine, frame: Frame) -> float:
    scale = machine.fixture.hand_tilt
    if scale is None:
        return 0.0
    low, high = scale.range_deg
    return nearest_multiple(frame.ideal_tilt_deg, scale.resolution_deg, low, high)


def _wheel_at_speed(machine: Machine, wheel: Wheel) -> WheelAtSpeed:
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
