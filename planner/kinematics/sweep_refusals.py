"""Why a tilt cannot be swept: a facet too shallow for a step, or one that the flat misses."""

from __future__ import annotations

import numpy as np

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.machine import Machine
from planner.kinematics.shape_refusals import FLAT_SIGMAS
from planner.kinematics.sweep import Sweep
from planner.kinematics.touch_frame import axis_letter, linear_axis, smallest_step_mm
from planner.section.facets import MOST_FACETS
from planner.section.wheel_shape import flat_width_mm

_LEAST_MM = 1e-6


def step_refusals(machine: Machine, sweep: Sweep) -> list[Refusal]:
    """A facet that steps of the infeed keep out of the steel that the one before it leaves."""
    for facet, stand in enumerate(sweep.stands, 1):
        if stand.work.facet.depth_mm <= _LEAST_MM:
            facts: dict[str, Fact] = {
                "facet": facet,
                "face": stand.work.relief.face,
                "step_mm": smallest_step_mm(machine, linear_axis(machine, "infeed")),
                "off_mm": stand.off_tangent_mm,
            }
            ways = (WayOut("finer-axis"), WayOut("higher-ridge-alone"))
            return [Refusal("sweep-step-too-coarse", facts, ways)]
    return []


def uncovered_refusals(machine: Machine, sweep: Sweep) -> list[Refusal]:
    """The facet that the flat reaches furthest beside, where no cross takes it there.

    The flat stays as high as it was set, and the blade turns away under it: what must be covered
    is each facet as it is ground, from where the flat then stands.
    """
    if axis_letter(machine, "cross") is not None:
        return []
    beside = beside_mm(sweep)
    needed = [
        2 * abs(aside) + stand.work.facet.width_mm
        for aside, stand in zip(beside, sweep.stands, strict=True)
    ]
    worst = max(range(len(needed)), key=lambda n: needed[n])
    whole = needed[worst] + 2 * FLAT_SIGMAS * machine.fixture.cross_setting_mm
    wheel = sweep.stands[worst].work.wheel
    if flat_width_mm(wheel) >= whole:
        return []
    facts: dict[str, Fact] = {
        "wheel": wheel.name,
        "face": sweep.stands[worst].work.relief.face,
        "facet": worst + 1,
        "tilt_deg": sweep.stands[worst].tilt_deg,
        "beside_mm": abs(beside[worst]),
        "flat_mm": flat_width_mm(wheel),
        "needed_mm": whole,
    }
    ways = [WayOut("wider-flat", {"width_mm": whole})]
    if len(sweep.stands) <= MOST_FACETS:
        ways.append(WayOut("no-tilt-axis"))
    return [Refusal("sweep-leaves-flat", facts, tuple(ways))]


def beside_mm(sweep: Sweep) -> list[float]:
    """How far the wheel's middle stands from the middle of each facet as it is ground, along the
    cross."""
    frame = sweep.frame
    assert frame.axis_yz_mm is not None
    pivot = np.array(frame.axis_yz_mm)
    side = 1.0 if sweep.stands[0].work.relief.face == "A" else -1.0
    at_zero = float((np.array(frame.origin_yz_mm) - pivot) @ np.array(frame.cross_dir_yz))
    found = []
    for stand in sweep.stands:
        cross_dir, _ = sweep.directions(stand.tilt_deg)
        facet = stand.work.facet
        ends = np.array([facet.first_yz_mm, facet.last_yz_mm]).mean(axis=0)
        middle = float((np.array([ends[0], side * ends[1]]) - pivot) @ cross_dir)
        found.append(at_zero + stand.cross_mm - middle)
    return found
