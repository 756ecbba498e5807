"""The spring that the wheel works against: machine, contact wheel and blade in series."""

from __future__ import annotations

import numpy as np

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import blade_bending
from planner.inputs.machine import Machine
from planner.passes.conditions import Stiffness
from planner.section.wheel_shape import pressing_length_mm
from planner.section.work import FaceWork

_DEPTHS = 5
"""Depths at which the blade's own spring is worked out; it changes smoothly between them."""

_POINTS = 121

LEAST_EDGE_SHARE = 0.1
"""An edge shorter than this share of the overhang is a post, not a plate (range of the formula)."""


def stiffness_for(machine: Machine, work: FaceWork, edge_length_mm: float) -> Stiffness:
    """Stiffness by station and depth of one set-up.

    Where the fixture states no overhang the blade counts as rigid and one station stands for all.
    With one there are two: the middle of the edge, and its ends, where the plate is weaker and
    only half the wheel bears.
    """
    wheel = work.wheel
    springs = [machine.stiffness_n_mm]
    if wheel.belt is not None and wheel.belt.wheel_stiffness_n_mm is not None:
        springs.append(wheel.belt.wheel_stiffness_n_mm)
    overhang = machine.fixture.overhang_mm
    depths = np.linspace(0.0, work.depth_mm, _DEPTHS)
    held = float(blade_bending.series_stiffness(*springs))
    if overhang is None:
        return Stiffness(("middle",), depths, np.full((_DEPTHS, 1), held))
    _check_overhang(work, overhang, edge_length_mm)
    y = np.linspace(0.0, overhang, _POINTS)
    thickness = np.stack([work.thickness(y, d) for d in depths.tolist()])
    thickest = float(thickness.max())
    if thickest > overhang:
        facts: dict[str, Fact] = {"overhang_mm": overhang, "thickness_mm": thickest}
        ways = (WayOut("longer-overhang"), WayOut("no-overhang"))
        raise RefusedError([Refusal("overhang-under-thickness", facts, ways)])
    low, high = work.contact_y_mm(np.maximum(depths, depths[1] / 2))
    high = np.minimum(high, overhang)
    compliance = blade_bending.plate_compliance(
        thickness,
        y,
        overhang,
        edge_length_mm,
        (low, high),
        pressing_length_mm(wheel, work.curvature_per_mm),
        np.array([edge_length_mm / 2, 0.0]),
    )
    return Stiffness(("middle", "ends"), depths, 1.0 / (1.0 / held + compliance))


def _check_overhang(work: FaceWork, overhang_mm: float, edge_length_mm: float) -> None:
    """The clamp must leave the ground face free, and the plate be one that can be worked out."""
    end = float(work.contact_y_mm(np.array(work.depth_mm))[1])
    if overhang_mm <= end:
        facts: dict[str, Fact] = {
            "overhang_mm": overhang_mm,
            "relief_end_mm": end,
            "face": work.face.face,
        }
        raise RefusedError([Refusal("clamp-over-relief", facts, (WayOut("longer-overhang"),))])
    if edge_length_mm < LEAST_EDGE_SHARE * overhang_mm:
        facts = {"overhang_mm": overhang_mm, "edge_length_mm": edge_length_mm}
        raise RefusedError([Refusal("edge-too-short", facts, (WayOut("shorter-overhang"),))])
