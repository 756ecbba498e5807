"""Which limit keeps each pass from doing more, and what a tenth more of each limit would save."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from planner.passes.conditions import Cutting
from planner.passes.schedule import Pass

NO_MORE_DEPTH = "depth left"
SPARK_OUT = "deflection left"
STEP = "axis step"


def binding_limits(
    cutting: Cutting, passes: Sequence[Pass], pauses_s: Sequence[float]
) -> list[str]:
    """The limit that binds each pass: the one that a step more of infeed, or the next faster
    feed where the infeed has no room, would break.

    A finish or rough pass that takes all the depth of its stage is bound by the depth left; a
    spark-out pass at the largest feed by the deflection that must go. ``pauses_s`` are those before
    each pass.
    """
    total = passes[-1].commanded_depth_mm
    rough_until = total - cutting.finish_steps * cutting.step_mm
    before = np.zeros(len(cutting.stiffness.stations))
    state = cutting.heat.cold() if cutting.heat else np.zeros((1, 2, 0))
    last = 0.0
    names = []
    for one, pause_s in zip(passes, pauses_s, strict=True):
        at = int(np.argmin(np.abs(cutting.feeds_mm_min - one.feed_mm_min)))
        if cutting.heat and pause_s:
            state = cutting.heat.waited(state, pause_s)
        names.append(_Begun(cutting, before, state, last).binding(one, at, rough_until, total))
        if cutting.heat:
            depth, power = np.array([max(one.reached_by_station_mm)]), np.array([one.power_w])
            state = cutting.heat.after(state, depth, power, np.array([at]), np.zeros(1))
        before = np.array(one.reached_by_station_mm)
        last = one.commanded_depth_mm
    return names


@dataclass(frozen=True, eq=False)
class _Begun:
    """The blade as a pass begins."""

    cutting: Cutting
    reached_mm: NDArray[np.float64]
    state: NDArray[np.float64]
    commanded_mm: float

    def binding(self, one: Pass, at: int, rough_until_mm: float, total_mm: float) -> str:
        cutting = self.cutting
        if one.kind == "spark_out":
            if at == 0:
                return cutting.feed_limit
            return self._broken(one.commanded_depth_mm, at - 1) or SPARK_OUT
        stage_end = rough_until_mm if one.kind == "rough" else total_mm
        more = one.commanded_depth_mm + cutting.step_mm
        infeed = cutting.rough_infeed_mm if one.kind == "rough" else cutting.finish_infeed_mm
        if more - self.commanded_mm > infeed + 1e-9:
            return f"{one.kind} infeed"
        broken = self._broken(more, at)
        if broken:
            return broken
        if more > stage_end + 1e-9:
            return NO_MORE_DEPTH
        return cutting.feed_limit if at == 0 else SPARK_OUT

    def _broken(self, commanded_mm: float, feed_at: int) -> str:
        cutting = self.cutting
        cut = cutting.cut(np.array(commanded_mm), self.reached_mm, cutting.feeds_mm_min[feed_at])
        force, power = float(cut.normal_n.max()), float(cut.power_w.max())
        if force > cutting.normal_force_limit_n:
            return "normal force"
        if power > cutting.power_limit_w:
            return "power"
        if cutting.heat is not None:
            depth = np.array([float(cut.reached_mm.max())])
            soak, flash = cutting.heat.shares(
                self.state, depth, np.array([power]), np.array([feed_at])
            )
            if soak[0] > 1:
                return "soak"
            if flash[0] > 1:
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
