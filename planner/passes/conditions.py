"""From a machine, a wheel and a frame to what the passes depend on."""

from __future__ import annotations

import math

from planner.inputs.machine import Machine, Wheel
from planner.kinematics.room import traverse_ends_mm
from planner.kinematics.speeds import surface_speed_m_s, wheel_radius_mm
from planner.kinematics.touch_frame import TouchFrame, linear_axis, smallest_step_mm
from planner.passes.schedule import Cutting

INFEED_FEED_MM_MIN = 200.0
"""Feed of the infeed moves, where the axis can: off the steel, so only their end matters.
Common practice, no source."""


def cutting_conditions(
    machine: Machine, wheel: Wheel, frame: TouchFrame, edge_length_mm: float
) -> Cutting:
    """What the passes depend on, from the profile and the frame."""
    infeed, traverse = linear_axis(machine, "infeed"), linear_axis(machine, "traverse")
    low, high = traverse_ends_mm(wheel, machine, edge_length_mm)
    # The feed must be even over the steel, so the axis gets to speed within the run-off.
    reachable = 60 * math.sqrt(2 * traverse.acceleration_mm_s2 * machine.fixture.run_off_mm)
    finish = wheel.infeed.finish_mm
    stock = wheel.infeed.finish_stock_mm
    return Cutting(
        wheel_radius_mm=wheel_radius_mm(wheel),
        surface_speed_m_s=surface_speed_m_s(wheel, machine),
        specific_energy_j_mm3=wheel.specific_energy_j_mm3,
        force_ratio=wheel.force_ratio,
        stiffness_n_mm=machine.stiffness_n_mm,
        rough_infeed_mm=wheel.infeed.rough_mm,
        finish_infeed_mm=finish,
        finish_stock_mm=2 * finish if stock is None else stock,
        step_mm=smallest_step_mm(machine, infeed) / abs(frame.infeed_per_depth),
        normal_force_limit_n=machine.limits.normal_force_n,
        power_limit_w=machine.spindle.power_w * machine.spindle.efficiency,
        largest_feed_mm_min=math.floor(
            min(traverse.max_feed_mm_min, wheel.feed_mm_min or math.inf, reachable)
        ),
        traverse_length_mm=high - low,
        traverse_acceleration_mm_s2=traverse.acceleration_mm_s2,
        infeed_feed_mm_min=infeed_feed_mm_min(machine),
        infeed_acceleration_mm_s2=infeed.acceleration_mm_s2,
    )


def infeed_feed_mm_min(machine: Machine) -> float:
    """Feed of the infeed moves."""
    return min(INFEED_FEED_MM_MIN, linear_axis(machine, "infeed").max_feed_mm_min)
