"""Does the set-up fit the machine: travels, and the jaws beside the wheel."""

from __future__ import annotations

import math

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.machine import LinearAxis, Machine, RotaryAxis
from planner.kinematics.row import Row
from planner.kinematics.touch_frame import INCH_MM, TouchFrame, axis_letter
from planner.section.target import Section


def room_refusals(
    machine: Machine,
    section: Section,
    frame: TouchFrame,
    depth_mm: float,
    row: Row,
) -> list[Refusal]:
    """Every travel that the set-up would pass, and whether the wheel enters the jaws."""
    infeed, cross = frame.position(depth_mm)
    spans = {
        "traverse": row.ends_mm,
        # The air-run twin starts from its own clearance above the lifted motion.
        "infeed": (infeed, 2 * machine.fixture.clearance_mm - infeed),
        "cross": (min(cross, 0.0), max(cross, 0.0)),
        "tilt": (frame.tilt_deg, frame.tilt_deg),
    }
    found = []
    for role, span in spans.items():
        letter = axis_letter(machine, role)
        if letter is None:
            continue
        axis = machine.axes[letter]
        unit = "mm" if isinstance(axis, LinearAxis) else "deg"
        travel = axis.travel_mm if isinstance(axis, LinearAxis) else axis.travel_deg
        zero = axis.zero_at_mm if isinstance(axis, LinearAxis) else axis.zero_at_deg
        sign = -1.0 if axis.invert else 1.0
        low, high = sorted(_as_written(sign * v, axis, machine) + zero for v in span)
        if low < travel[0] - 1e-9 or high > travel[1] + 1e-9:
            found.append(
                Refusal(
                    "travel-too-short",
                    {
                        "axis": letter,
                        "role": role,
                        "needs_from": low,
                        "needs_to": high,
                        "has_from": travel[0],
                        "has_to": travel[1],
                        "unit": unit,
                    },
                    (WayOut("wedge", {"wanted_deg": frame.ideal_tilt_deg}),)
                    if role == "tilt"
                    else (WayOut("move-fixture", {"axis": letter}),),
                )
            )
    found += _tilt_refusals(machine, frame)
    found += _jaw_refusals(machine, section, frame, depth_mm)
    return found


def _as_written(value: float, axis: LinearAxis | RotaryAxis, machine: Machine) -> float:
    """The value that a program's last decimal makes of it."""
    controller = machine.controller
    if isinstance(axis, RotaryAxis):
        return round(value, controller.rotary_decimals)
    unit = INCH_MM if controller.units == "inch" else 1.0
    return round(value / unit, controller.decimals) * unit


def _tilt_refusals(machine: Machine, frame: TouchFrame) -> list[Refusal]:
    off = abs(frame.tilt_deg - frame.ideal_tilt_deg)
    powered = axis_letter(machine, "tilt") is not None
    # A wheel held off the bevel's own angle still leaves an exact circle, but only while its
    # infeed direction leads into the face; a setting this far off is another fixture altogether.
    if off <= 5.0:
        return []
    facts: dict[str, Fact] = {
        "wanted_deg": frame.ideal_tilt_deg,
        "has_deg": frame.tilt_deg,
    }
    return [
        Refusal(
            "tilt-out-of-reach", facts, (WayOut("powered-tilt" if powered else "wedge", facts),)
        )
    ]


def jaw_clearance_mm(
    machine: Machine, section: Section, frame: TouchFrame, depth_mm: float
) -> float | None:
    """Least distance of the wheel from the jaws, below zero when it enters; None without jaws."""
    jaws = machine.fixture.jaws
    if jaws is None:
        return None
    infeed, cross = frame.position(depth_mm)
    worst = math.inf
    for at_infeed, at_cross in ((infeed, cross), (0.0, 0.0), (machine.fixture.clearance_mm, 0.0)):
        centre = [
            frame.origin_yz_mm[i]
            + at_cross * frame.cross_dir_yz[i]
            + at_infeed * frame.infeed_dir_yz[i]
            for i in (0, 1)
        ]
        top = section.thickness_mm / 2 + jaws.above_flank_mm
        beyond_y = max(jaws.from_edge_mm - centre[0], 0.0)
        beyond_z = max(abs(centre[1]) - top, 0.0)
        worst = min(worst, math.hypot(beyond_y, beyond_z) - section.wheel_radius_mm)
    return worst


def _jaw_refusals(
    machine: Machine, section: Section, frame: TouchFrame, depth_mm: float
) -> list[Refusal]:
    jaws = machine.fixture.jaws
    worst = jaw_clearance_mm(machine, section, frame, depth_mm)
    if jaws is None or worst is None or worst >= 0:
        return []
    facts: dict[str, Fact] = {
        "diameter_mm": 2 * section.wheel_radius_mm,
        "overlap_mm": -worst,
        "from_edge_mm": jaws.from_edge_mm,
        "above_flank_mm": jaws.above_flank_mm,
    }
    ways = (WayOut("lower-jaws"), WayOut("smaller-wheel-clears"))
    return [Refusal("wheel-meets-jaws", facts, ways)]
