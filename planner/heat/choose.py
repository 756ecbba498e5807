"""The schedule of one set-up with its heat in view: better passes first, then the shortest pauses.

The search finds the quickest passes within infeed, force and power. Where the blade would grow
too hot, schedules with lighter or slower passes are tried beside it, each as if the blade began
every pass at some share of the way from ambient to its limit; each is marched and paused, and the
quickest in all, pauses included, is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.errors import Refusal, RefusedError, WayOut
from planner.heat.march import Marched, march
from planner.heat.model import HeatModel
from planner.passes.conditions import Cutting
from planner.passes.schedule import Schedule, plan_passes

SLOWER = 1.5
"""A cooler schedule may take this much longer in contact than the quickest, for its flash limit."""

START_SHARES = (0.35, 0.6)
"""Shares of the way from ambient to the soak limit at which a pass is supposed to start."""


@dataclass(frozen=True)
class Heated:
    """A schedule, its temperatures, and what the heat costs."""

    cutting: Cutting
    """The conditions that the schedule was searched under, heat included where it counts."""
    schedule: Schedule
    marched: Marched
    time_s: float
    """Passes and pauses."""
    heat_cost_s: float
    """Against the quickest passes that did not look at heat."""
    start_share: float | None
    """Share of the way to its limit at which the blade was supposed to start each pass; None when
    the quickest passes hold, or hold with pauses."""

    @property
    def cooler_passes(self) -> bool:
        """Whether other passes were chosen for their heat."""
        return self.start_share is not None


def choose_schedule(
    cutting: Cutting,
    model: HeatModel,
    target_depth_mm: float,
    deflection_allowed_mm: float,
    pause_overhead_s: Callable[[float], float],
    start_shares: Sequence[float] = START_SHARES,
) -> Heated:
    """The quickest schedule that keeps every limit, heat included.

    ``pause_overhead_s`` gives the time to retract and come back for a pause before a pass of a
    commanded depth. Raises: RefusedError as ``plan_passes``, and when no pass is cool enough.
    """
    quickest = plan_passes(cutting, target_depth_mm, deflection_allowed_mm)
    bare = sum(p.time_s for p in quickest.passes)
    candidates: list[_Candidate] = []
    marched = march(model, quickest)
    if marched is not None:
        candidates.append(_Candidate(cutting, quickest, marched, None))
    if marched is None or marched.pause_s > 0:
        feeds = np.array([p.feed_mm_min for p in quickest.passes])
        contacts = SLOWER * model.contacts_s(feeds)
        # Passes that each need a cold blade are only looked at where the quickest cannot be paused.
        for share in start_shares if marched is not None else (0.0, *start_shares):
            start = model.ambient_c + share * (model.limits.soak_limit_c - model.ambient_c)
            warm = replace(cutting, heat=model.pass_heat(cutting, start, contacts))
            try:
                schedule = plan_passes(warm, target_depth_mm, deflection_allowed_mm)
            except RefusedError:
                continue
            cooled = march(model, schedule)
            if cooled is not None:
                candidates.append(_Candidate(warm, schedule, cooled, share))
    if not candidates:
        raise _too_hot(model, quickest)

    def whole_time(candidate: _Candidate) -> float:
        passes, pauses = candidate.schedule.passes, candidate.marched.pauses
        return (
            sum(p.time_s for p in passes)
            + candidate.marched.pause_s
            + sum(
                pause_overhead_s(one.commanded_depth_mm)
                for one, pause in zip(passes, pauses, strict=True)
                if pause
            )
        )

    best = min(candidates, key=whole_time)
    time = whole_time(best)
    return Heated(
        cutting=best.cutting,
        schedule=best.schedule,
        marched=best.marched,
        time_s=time,
        heat_cost_s=time - bare,
        start_share=best.start_share,
    )


@dataclass(frozen=True)
class _Candidate:
    cutting: Cutting
    schedule: Schedule
    marched: Marched
    start_share: float | None


def _too_hot(model: HeatModel, quickest: Schedule) -> RefusedError:
    feeds = np.array([p.feed_mm_min for p in quickest.passes])
    return RefusedError(
        [
            Refusal(
                "too-hot",
                {
                    "soak_c": model.limits.soak_limit_c,
                    "flash_c": model.limits.flash_limit_c(model.contacts_s(feeds)),
                    "ambient_c": model.ambient_c,
                    "heat_share": model.share,
                },
                (
                    WayOut("freer-wheel"),
                    WayOut("finer-axis"),
                    WayOut("more-coolant"),
                    WayOut("wider-edge-land"),
                ),
            )
        ]
    )
