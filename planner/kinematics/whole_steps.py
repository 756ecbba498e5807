"""Where the wheel can really be sent beside the middle of a relief: cross and infeed in steps."""

from __future__ import annotations

import math
from collections.abc import Callable

from planner.inputs.axes import LinearAxis
from planner.inputs.machine import Machine
from planner.kinematics.touch_frame import (
    TouchFrame,
    axis_letter,
    linear_axis,
    smallest_step_mm,
)

Placing = Callable[[float, Callable[[float], float]], tuple[float, float]]
"""From a place along the face, and the depth wanted at any place, to (place, depth) in steps."""

_TIMES = 8
"""The place follows the depth by the sine of what the tilt is off: each time a tenth or less."""
WHOLE = 1e-6
"""Share of a step that a whole number of steps may be off by: a tilt that is a hair beside its
ideal makes a step of depth longer than the axis's own by a few parts in a thousand million."""


def in_whole_steps(machine: Machine, frame: TouchFrame) -> Placing:
    """Sends the wheel to places in whole steps of both axes, never deeper than asked.

    The cross is rounded first, the depth taken where that is, and its infeed rounded away from
    the steel. Where the tilt is off each axis moves the wheel both ways. Only for a frame with a
    cross axis.
    """
    cross_axis = machine.axes[axis_letter(machine, "cross") or "Y"]
    assert isinstance(cross_axis, LinearAxis)
    cross_step = smallest_step_mm(machine, cross_axis)
    infeed_step = smallest_step_mm(machine, linear_axis(machine, "infeed"))
    down, aside = (frame.infeed_per_depth, frame.cross_per_depth), frame.beside(1.0)

    def placed(along_mm: float, depth_at: Callable[[float], float]) -> tuple[float, float]:
        asked = aside[1] * along_mm + down[1] * depth_at(along_mm)
        cross = round(asked / cross_step) * cross_step
        along = along_mm
        for _ in range(_TIMES):
            along = (cross - down[1] * depth_at(along)) / aside[1]
        infeed = aside[0] * along + down[0] * depth_at(along)
        infeed = math.ceil(infeed / infeed_step - WHOLE) * infeed_step
        # The two ways are at right angles and a millimetre long: each is read off by itself.
        depth = down[0] * infeed + down[1] * cross
        return aside[0] * infeed + aside[1] * cross, depth

    return placed
