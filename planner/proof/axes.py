"""The machine's axes as a program moves them, and the tilts that it can hold."""

from __future__ import annotations

from dataclasses import dataclass

from planner.inputs.axes import LinearAxis
from planner.inputs.machine import Machine
from planner.proof.frame import Frame, nearest_multiple, nearest_of


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
    zero_at: float | None
    """Where the program's zero stands in the coordinates of the travel; None: not known."""
    sign: float
    """-1 where the number in the program is minus the touch-frame value."""


def program_axes(machine: Machine) -> dict[str, ProgramAxis]:
    """The machine's axes by letter, in the order of its file."""
    axes: dict[str, ProgramAxis] = {}
    zero_at: float | None
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


def reachable_tilt_deg(machine: Machine, frame: Frame, axis: ProgramAxis) -> tuple[float, float]:
    """(tilt, step): the tilt nearest to the ideal that a powered axis can hold, and its grid."""
    step = max(10.0**-machine.controller.rotary_decimals, axis.resolution)
    zero_at = axis.zero_at or 0.0
    low, high = sorted(axis.sign * (limit - zero_at) for limit in (axis.low, axis.high))
    return nearest_multiple(frame.ideal_tilt_deg, step, low, high), step


def fixed_tilt_deg(machine: Machine, frame: Frame) -> float:
    """The tilt that a person sets where no axis tilts; 0 where nothing does."""
    hand = machine.fixture.hand_tilt
    if hand is None:
        return 0.0
    if hand.settings_deg is not None:
        return nearest_of(frame.ideal_tilt_deg, hand.settings_deg)
    low, high = hand.range_deg or (0.0, 0.0)
    return nearest_multiple(frame.ideal_tilt_deg, hand.resolution_deg, low, high)


def held_tilt_deg(machine: Machine, frame: Frame) -> float:
    """The tilt that a set-up is ground at: the nearest to the ideal that exists."""
    for axis in program_axes(machine).values():
        if axis.role == "tilt":
            return reachable_tilt_deg(machine, frame, axis)[0]
    return fixed_tilt_deg(machine, frame)
