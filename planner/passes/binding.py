"""Which limit keeps each pass from doing more, and what a tenth more of each limit would save."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from planner.passes.conditions import Cutting
from planner.passes.schedule import Pass

NO_MORE_DEPTH = "depth left"
SPARK_OUT = "deflection left"
STEP = "axis step"


def binding_limits(cutting: Cutting, passes: Sequence[Pass]) -> list[str]:
    """The limit that binds each pass: the one that a step more of infeed, or the next faster
    feed where the infeed has no room, would break.

    A finish or rough pass that takes all the depth of its stage is bound by the depth left; a
    spark-out pass at the largest feed by the deflection that must go.
    """
    total = passes[-1].commanded_depth_mm
    rough_until = total - cutting.finish_steps * cutting.step_mm
    before = np.zeros(len(cutting.stiffness.stations))
    last = 0.0
    names = []
    for one in passes:
        names.append(_binding(cutting, one, before, last, rough_until, total))
        before = np.array(one.reached_by_station_mm)
        last = one.commanded_depth_mm
    return names


def _binding(
    cutting: Cutting,
    one: Pass,
    before: np.ndarray,
    last_mm: float,
    rough_until_mm: float,
    total_mm: float,
) -> str:
    feeds = cutting.feeds_mm_min
    at = int(np.argmin(np.abs(feeds - one.feed_mm_min)))
    if one.kind == "spark_out":
        if at == 0:
            return cutting.feed_limit
        return _broken(cutting, before, one.commanded_depth_mm, at - 1) or SPARK_OUT
    stage_end = rough_until_mm if one.kind == "rough" else total_mm
    more = one.commanded_depth_mm + cutting.step_mm
    infeed = cutting.rough_infeed_mm if one.kind == "rough" else cutting.finish_infeed_mm
    if more - last_mm > infeed + 1e-9:
        return f"{one.kind} infeed"
    broken = _broken(cutting, before, more, at)
    if broken:
        return broken
    if more > stage_end + 1e-9:
        return NO_MORE_DEPTH
    return cutting.feed_limit if at == 0 else SPARK_OUT


def _broken(cutting: Cutting, before: np.ndarray, commanded_mm: float, feed_at: int) -> str:
    cut = cutting.cut(np.array(commanded_mm), before, cutting.feeds_mm_min[feed_at])
    if float(cut.normal_n.max()) > cutting.normal_force_limit_n:
        return "normal force"
    if float(cut.power_w.max()) > cutting.power_limit_w:
        return "power"
    if cutting.heat is not None:
        power = np.full(len(cutting.feeds_mm_min), float(cut.power_w.max()))
        depth = np.full(len(power), float(cut.reached_mm.max()))
        soak, flash = cutting.heat.share_of_limits(depth, power)
        if soak[feed_at] > 1:
            return "soak"
        if flash[feed_at] > 1:
            return "flash"
    return ""


def relaxed(cutting: Cutting, name: str) -> Cutting | None:
    """The same conditions with one limit a tenth larger; None where it is no limit of these."""
    changes: dict[str, object] = {}
    if name == "normal force":
        changes = {"normal_force_limit_n": 1.1 * cutting.normal_force_limit_n}
    elif name == "power":
        changes = {"power_limit_w": 1.1 * cutting.power_limit_w}
    elif name == "rough infeed":
        changes = {"rough_infeed_mm": 1.1 * cutting.rough_infeed_mm}
    elif name == "finish infeed":
        changes = {"finish_infeed_mm": 1.1 * cutting.finish_infeed_mm}
    elif name == cutting.feed_limit:
        changes = {"feeds_mm_min": 1.1 * cutting.feeds_mm_min}
    return replace(cutting, **changes) if changes else None  # type: ignore[arg-type]
