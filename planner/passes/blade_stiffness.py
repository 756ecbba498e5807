"""The spring that the wheel works against: machine, contact wheel and blade in series."""

from __future__ import annotations

import numpy as np

from planner.formulas import blade_bending, segment
from planner.inputs.machine import Machine, Wheel
from planner.passes.conditions import Stiffness
from planner.section.target import FaceRelief, Section, thickness_at

_DEPTHS = 5
"""Depths at which the blade's own spring is worked out; it changes smoothly between them."""

_POINTS = 121


def stiffness_for(
    machine: Machine,
    wheel: Wheel,
    section: Section,
    relief: FaceRelief,
    other_depth_mm: float,
    edge_length_mm: float,
) -> Stiffness:
    """Stiffness by station and depth of one set-up.

    Where the fixture states no overhang the blade counts as rigid and one station stands for all.
    With one there are two: the middle of the edge, and its ends, where the plate is weaker and
    only half the wheel bears. ``other_depth_mm`` is the relief already in the other face.
    """
    springs = [machine.stiffness_n_mm]
    if wheel.belt is not None and wheel.belt.wheel_stiffness_n_mm is not None:
        springs.append(wheel.belt.wheel_stiffness_n_mm)
    overhang = machine.fixture.overhang_mm
    depths = np.linspace(0.0, relief.depth_mm, _DEPTHS)
    held = float(blade_bending.series_stiffness(*springs))
    if overhang is None:
        return Stiffness(("middle",), depths, np.full((_DEPTHS, 1), held))
    y = np.linspace(0.0, overhang, _POINTS)
    thickness = np.stack(
        [
            thickness_at(
                section,
                y,
                *((d, other_depth_mm) if relief.face == "A" else (other_depth_mm, d)),
            )
            for d in depths.tolist()
        ]
    )
    cosine = float(np.cos(section.face(relief.face).angle_rad))
    chord = segment.chord_of_depth(section.wheel_radius_mm, np.maximum(depths, depths[1] / 2))
    low = np.maximum(relief.middle_mm - chord / 2, 0.0) * cosine
    high = np.minimum((relief.middle_mm + chord / 2) * cosine, overhang)
    compliance = blade_bending.plate_compliance(
        thickness,
        y,
        overhang,
        edge_length_mm,
        (low, high),
        wheel.width_mm,
        np.array([edge_length_mm / 2, 0.0]),
    )
    return Stiffness(("middle", "ends"), depths, 1.0 / (1.0 / held + compliance))
