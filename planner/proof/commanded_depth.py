"""How deep a rigid wheel would stand, and how far rounding may put it beside that."""

from __future__ import annotations

import math

from planner.proof.bulge import BulgeGoal
from planner.proof.case import Case
from planner.proof.followed import ALONG_MM, CHORD_MM
from planner.proof.tool import Stand


def rigid_depth_mm(case: Case, stands: tuple[Stand, Stand]) -> float:
    """How far the rigid wheel would stand below the unground face."""
    return max(case.depth_at_mm(stand.centre) for stand in stands)


def beyond_arc_mm(case: Case, stand: Stand) -> float:
    """How far the wheel's circle comes through the arc wanted; below zero clear of it."""
    if isinstance(case.bulge, BulgeGoal):
        return case.bulge.beyond_mm(stand.centre)
    radius = case.tool.arc_radius_mm
    assert radius is not None
    arc = case.wanted
    middle = case.finished.point(arc.middle_mm, arc.depth_mm - arc.arc_radius_mm)
    return math.dist(middle, stand.centre) + radius - arc.arc_radius_mm


def depth_allowance_mm(case: Case, tilt_deg: float) -> float:
    """Half a last decimal of each axis that moves the wheel across the face's plane."""
    cross_dir, infeed_dir = case.frame.directions(tilt_deg)
    normal = case.face.normal
    share = abs(infeed_dir[0] * normal[0] + infeed_dir[1] * normal[1])
    if case.followed is not None:
        # Beside its place a line meets the arc as much deeper as that slopes there.
        return case.off_mm + CHORD_MM + case.steepest * (ALONG_MM + case.beside_mm) + 1e-9
    if "cross" in case.by_role:
        share += abs(cross_dir[0] * normal[0] + cross_dir[1] * normal[1])
    return case.half_decimal_mm * share + 1e-9
