"""Where a program has the tool stand, move by move, in the numbers that it is written with."""

from __future__ import annotations

from planner.gcode.numbers import number_text
from planner.gcode.program import Move, Program
from planner.gcode.render import INCH_MM
from planner.inputs.axes import Axis, LinearAxis
from planner.inputs.machine import Machine
from planner.kinematics.clearance import Stand


def written_stands(program: Program, machine: Machine, fixed_tilt_deg: float) -> list[Stand]:
    """The places of a program, rounded as its text is, from the first that it tells in full.

    ``fixed_tilt_deg`` is the tilt where no axis tilts. A cross that no axis moves stays at 0.
    """
    roles: dict[str, Axis] = {axis.role: axis for axis in machine.axes.values()}
    at = {
        role: None if role in roles else fixed
        for role, fixed in (
            ("traverse", 0.0),
            ("cross", 0.0),
            ("infeed", 0.0),
            ("tilt", fixed_tilt_deg),
        )
    }
    stands = []
    for step in program.steps:
        if not isinstance(step, Move):
            continue
        for role, value in step.to.items():
            if isinstance(roles[role], LinearAxis):
                scale = INCH_MM if machine.controller.units == "inch" else 1.0
                decimals = machine.controller.decimals
            else:
                scale, decimals = 1.0, machine.controller.rotary_decimals
            at[role] = float(number_text(value / scale, decimals)) * scale
        traverse, cross, infeed, tilt = at.values()
        if traverse is None or cross is None or infeed is None or tilt is None:
            continue
        stands.append(Stand(traverse, cross, infeed, tilt, step.feed_mm_min is not None))
    return stands
