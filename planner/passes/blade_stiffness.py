"""The spring that the wheel works against: machine, contact wheel and blade in series."""

from __future__ import annotations

import numpy as np

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import blade_bending, segment
from planner.inputs.machine import Machine, Wheel
from planner.passes.conditions import Stiffness
from planner.section.target import FaceRelief, Section, thickness_at

_DEPTHS = 5
"""Depths at which the blade's own spring is worked out; it changes smoothly between them."""

_POINTS = 121

LEAST_EDGE_SHARE = 0.1
"""An edge shorter than this share of the overhang is a post, not a plate (range of the formula)."""


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
    _check_overhang(section, relief, overhang, edge_length_mm)
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
    thickest = float(thickness.max())
    if thickest > overhang:
        facts: dict[str, Fact] = {"overhang_mm": overhang, "thickness_mm": thickest}
        ways = (WayOut("longer-overhang"), WayOut("no-overhang"))
        raise RefusedError([Refusal("overhang-under-thickness", facts, ways)])
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


def _check_overhang(
    section: Section, relief: FaceRelief, overhang_mm: float, edge_length_mm: float
) -> None:
    """The clamp must leave the relief free, and the plate must be one that can be worked out."""
    cosine = float(np.cos(section.face(relief.face).angle_rad))
    end = (relief.edge_land_mm + relief.chord_mm) * cosine
    if overhang_mm <= end:
        facts: dict[str, Fact] = {
            "overhang_mm": overhang_mm,
            "relief_end_mm": end,
            "face": relief.face,
        }
        raise RefusedError([Refusal("clamp-over-relief", facts, (WayOut("longer-overhang"),))])
    if edge_length_mm < LEAST_EDGE_SHARE * overhang_mm:
        facts = {"overhang_mm": overhang_mm, "edge_length_mm": edge_length_mm}
        raise RefusedError([Refusal("edge-too-short", facts, (WayOut("shorter-overhang"),))])
