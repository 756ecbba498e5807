"""The feed that a set-up can hold over the edge, and what is hardly a feed beside it."""

from __future__ import annotations

import math

from planner.inputs.axes import LinearAxis
from planner.proof.case import Case
from planner.proof.followed_pass import most_followed_mm_s

CREEP_SHARE = 1 / 40
"""Share of the feed that the machine can hold over the edge below which a pass only burns."""


def usual_feed_mm_s(case: Case) -> float:
    """The largest traverse feed that machine and wheel can hold over the edge."""
    role = "traverse" if case.turned is None else "turn"
    along = next(a for a in case.machine.axes.values() if a.role == role)
    if isinstance(along, LinearAxis):
        most_mm_s, rise_mm_s2 = along.max_feed_mm_min / 60.0, along.acceleration_mm_s2
    else:
        assert case.turned is not None
        unit_mm = abs(case.turned.mm_per_deg)
        most_mm_s = unit_mm * along.max_feed_deg_min / 60.0
        rise_mm_s2 = unit_mm * along.acceleration_deg_s2
    if case.followed is not None:
        most_mm_s = most_followed_mm_s(case, case.followed)
    run_up = math.sqrt(2.0 * rise_mm_s2 * case.machine.fixture.run_off_mm)
    stated = case.wheel.feed_mm_min or math.inf
    reach_mm = case.wheel.width_mm + 2.0 * case.machine.fixture.run_off_mm
    in_one_block = case.machine.controller.blocks_per_s * (case.edge_length_mm + reach_mm)
    return min(most_mm_s, stated / 60.0, run_up, in_one_block)
