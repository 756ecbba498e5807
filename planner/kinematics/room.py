"""Does the set-up fit the machine: its travels and its tilt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.axes import AxisLetter, LinearAxis, RotaryAxis
from planner.inputs.machine import Machine
from planner.kinematics.row import Row
from planner.kinematics.settings import TILT_REACH_DEG, tilt_kind, wedge_ways
from planner.kinematics.touch_frame import INCH_MM, TouchFrame

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Room:
    """How far a set-up and its air run move an axis, in the program's own figures."""

    letter: AxisLetter
    role: str
    unit: str
    low: float
    high: float
    travel: tuple[float, float]
    zero_at: float | None
    """Where the program's zero stands in the coordinates of ``travel``; None: not known."""


def rooms_needed(
    machine: Machine,
    frame: TouchFrame,
    depth_mm: float,
    row: Row,
    lines: Sequence[tuple[float, float]] = (),
) -> list[Room]:
    """The room of every axis that the set-up moves, in the machine's order.

    ``depth_mm`` is the deepest that the wheel goes; ``lines`` are the depth and the place along the
    face of each pass beside the middle.
    """
    stands = [(0.0, 0.0), frame.position(depth_mm), *(frame.position(*line) for line in lines)]
    infeeds, crosses = zip(*stands, strict=True)
    lifted = 2 * machine.fixture.clearance_mm + max(depth_mm, -min(infeeds))
    spans = {
        "traverse": row.ends_mm,
        # The air-run twin starts from its own clearance above the lifted motion.
        "infeed": (min(infeeds), lifted),
        "cross": (min(crosses), max(crosses)),
        "tilt": (frame.tilt_deg, frame.tilt_deg),
    }
    return rooms_of(machine, spans)


def rooms_of(machine: Machine, spans: Mapping[str, tuple[float, float]]) -> list[Room]:
    """The room of every axis whose role has a span, in the machine's order.

    Spans are in a set-up's own figures, before any ``invert``.
    """
    rooms = []
    for letter, axis in machine.axes.items():
        if axis.role not in spans:
            continue
        sign = -1.0 if axis.invert else 1.0
        low, high = sorted(_as_written(sign * v, axis, machine) for v in spans[axis.role])
        if isinstance(axis, LinearAxis):
            unit, travel, zero_at = "mm", axis.travel_mm, axis.zero_at_mm
        else:
            unit, travel, zero_at = "deg", axis.travel_deg, axis.zero_at_deg
        rooms.append(Room(letter, axis.role, unit, low, high, travel, zero_at))
    return rooms


def room_refusals(machine: Machine, frame: TouchFrame, rooms: Sequence[Room]) -> list[Refusal]:
    """Every travel that the set-up would pass, and a tilt that is too far off."""
    found = [refusal for room in rooms if (refusal := _travel_refusal(room))]
    found += _tilt_refusals(machine, frame)
    return found


def _travel_refusal(room: Room) -> Refusal | None:
    low, high = room.travel
    facts: dict[str, Fact] = {"axis": room.letter, "role": room.role, "unit": room.unit}
    needs, has = room.high - room.low, high - low
    if room.zero_at is None:
        # The zero can be put where it fits, if it fits at all.
        if needs <= has + _ROUNDING:
            return None
        facts |= {"needs": needs, "has": has}
        longer = WayOut("longer-cross") if room.role == "cross" else WayOut("less-way")
        return Refusal("travel-span-too-short", facts, (longer,))
    needs_from, needs_to = room.low + room.zero_at, room.high + room.zero_at
    if low - _ROUNDING <= needs_from and needs_to <= high + _ROUNDING:
        return None
    facts |= {"needs_from": needs_from, "needs_to": needs_to, "has_from": low, "has_to": high}
    if room.role == "tilt":
        way = WayOut("powered-tilt")
    elif room.role == "cross":
        # Neither the run-off nor the clearance goes across.
        way = WayOut("move-cross" if needs <= has + _ROUNDING else "longer-cross")
    else:
        way = WayOut("move-fixture", {"axis": room.letter})
    return Refusal("travel-too-short", facts, (way,))


def _as_written(value: float, axis: LinearAxis | RotaryAxis, machine: Machine) -> float:
    """The value that a program's last decimal makes of it."""
    controller = machine.controller
    if isinstance(axis, RotaryAxis):
        return round(value, controller.rotary_decimals)
    unit = INCH_MM if controller.units == "inch" else 1.0
    return round(value / unit, controller.decimals) * unit


def _tilt_refusals(machine: Machine, frame: TouchFrame) -> list[Refusal]:
    # A wheel held off the bevel's own angle still leaves an exact circle, but only while its
    # infeed direction leads into the face.
    if abs(frame.tilt_deg - frame.ideal_tilt_deg) <= TILT_REACH_DEG:
        return []
    facts: dict[str, Fact] = {"wanted_deg": frame.ideal_tilt_deg, "has_deg": frame.tilt_deg}
    if tilt_kind(machine) == "axis":
        ways: tuple[WayOut, ...] = (WayOut("powered-tilt", facts),)
    else:
        ways = wedge_ways(frame.ideal_tilt_deg, frame.tilt_deg)
    return [Refusal("tilt-out-of-reach", facts, ways)]
