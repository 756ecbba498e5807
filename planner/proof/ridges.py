"""The ridges that a crowned rim leaves between two turns, as it travels along its own axis."""

from __future__ import annotations

import math

from planner.proof.case import Case
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tool import ridge_mm, rounding_along_edge_mm

_SHARE = 0.1
"""Of the depth tolerance. Common practice, no source."""
_SLACK = 1e-3
"""A ridge grows with the square of the feed, whose last decimal is rounded."""


def check_ridges(line: int, feed_mm_s: float, case: Case, log: FaultLog) -> None:
    """Fault a feed over the steel that leaves higher ridges than a share of the tolerance."""
    a_turn = feed_mm_s / case.at_speed.turns_per_s
    left, most = ridge_mm(case.wheel, a_turn, case.curvature_per_mm), _most_mm(case)
    if left > most * (1.0 + _SLACK):
        log.add(line, Rule.RIDGES, ridge_mm=left, most_mm=most)


def unridged_mm_s(case: Case) -> float:
    """The fastest that the rim may travel; endless but for a crowned one."""
    radius = rounding_along_edge_mm(case.wheel, case.curvature_per_mm)
    if radius is None:
        return math.inf
    lean = math.acos(max(1.0 - _most_mm(case) / radius, 0.0))
    return 2.0 * radius * math.sin(lean) * case.at_speed.turns_per_s


def _most_mm(case: Case) -> float:
    return _SHARE * case.depth_tolerance_mm
