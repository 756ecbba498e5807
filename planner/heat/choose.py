"""The schedule of one set-up with its heat in view: better passes first, then the shortest pauses.

The search finds the quickest passes within infeed, force and power. Where the blade would grow
too hot, it searches again with the blade's heat in every state (planner/passes/blade_heat.py), so
that lighter passes, slower passes and pauses are weighed by the time they cost. The best that it
finds are marched with the whole section of each pass, and the quickest in all is taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from planner.errors import Refusal, RefusedError, WayOut
from planner.heat.march import Marched, march
from planner.heat.model import HeatModel
from planner.passes.conditions import Cutting
from planner.passes.deep import MANY_STEPS
from planner.passes.schedule import Schedule, find_passes, followed

TIGHTER = (1.0, 0.985, 0.96, 0.9)
"""Shares of the limits that the search keeps: the next where the march has to put in pauses, or
rejects all that was found. The few modes of the search may be a kelvin or two too low."""

SLOWER = 1.1
"""A cooler schedule may take this much longer in contact than the quickest, for its flash limit."""

MARCHED = 4
"""Schedules that the search hands on to be marched, the quickest by its own reckoning."""


@dataclass(frozen=True)
class Heated:
    """A schedule, its temperatures, and what the heat costs."""

    cutting: Cutting
    """The conditions that the schedule was searched under, heat included where it counts."""
    schedule: Schedule
    marched: Marched
    time_s: float
    """Passes and pauses."""
    heat_cost_s: float = 0.0
    """Against the quickest passes that did not look at heat."""
    cooler_passes: bool = False
    """Whether other passes than the quickest were chosen for their heat."""
    deep_way: tuple[int, float] | None = None
    """Feed and share of the infeeds, where deep work was followed (planner/heat/deep.py)."""


def choose_schedule(
    cutting: Cutting,
    model: HeatModel,
    target_depth_mm: float,
    deflection_allowed_mm: float,
    pause_overhead_s: Callable[[float], float],
    below_s: float = math.inf,
    deep_way: tuple[int, float] | None = None,
) -> Heated:
    """The quickest schedule that keeps every limit, heat included.

    ``pause_overhead_s`` gives the time to retract and come back for a pause before a pass of a
    commanded depth; ``below_s`` is a time, pauses included, that is known to do, and ``deep_way``
    how deep work was done in it.
    Raises: RefusedError as ``plan_passes``, and when no pass is cool enough.
    """
    found = find_passes(cutting, target_depth_mm, deflection_allowed_mm)
    quickest = followed(cutting, found.schedules[0], target_depth_mm)
    bare = sum(p.time_s for p in quickest.passes)
    marched = march(model, quickest)
    if marched is not None and marched.pause_s == 0:
        return Heated(cutting, quickest, marched, bare)
    steps = math.floor(target_depth_mm / cutting.step_mm + 1e-9)
    if steps > MANY_STEPS:
        return _choose_deep(
            cutting,
            model,
            target_depth_mm,
            deflection_allowed_mm,
            pause_overhead_s,
            quickest,
            deep_way,
        )
    contacts = SLOWER * model.contacts_s(np.array([p.feed_mm_min for p in quickest.passes]))
    heat = model.blade_heat(cutting, contacts, pause_overhead_s(target_depth_mm))
    warm = replace(cutting, heat=heat)
    best = None
    if marched is not None:
        time = _time_s(quickest, marched, pause_overhead_s)
        best = Heated(warm, quickest, marched, time, heat_cost_s=time - bare)
    for share in TIGHTER:
        tighter = replace(warm, heat=heat.tightened(share))
        most_s = min(below_s, best.time_s if best else math.inf)
        try:
            others = find_passes(
                tighter, target_depth_mm, deflection_allowed_mm, MARCHED, found, most_s
            )
        except RefusedError:
            if best is not None:
                break  # nothing quicker than that
            continue
        held = False
        for choices in others.schedules:
            schedule = followed(cutting, choices, target_depth_mm)
            passes_s = sum(p.time_s for p in schedule.passes)
            if best is not None and passes_s >= best.time_s:
                continue
            marched = march(model, schedule)
            if marched is None:
                continue
            held = True
            time = _time_s(schedule, marched, pause_overhead_s)
            if best is None or time < best.time_s:
                best = Heated(warm, schedule, marched, time, time - bare, cooler_passes=True)
        if held:
            break
    if best is None:
        raise _too_hot(model, quickest)
    return best


def _choose_deep(
    cutting: Cutting,
    model: HeatModel,
    target_depth_mm: float,
    deflection_allowed_mm: float,
    pause_overhead_s: Callable[[float], float],
    quickest: Schedule,
    only: tuple[int, float] | None,
) -> Heated:
    """The same for deep work (planner/heat/deep.py)."""
    from planner.heat.deep import deep_choices  # noqa: PLC0415

    bare = sum(p.time_s for p in quickest.passes)
    contacts = model.contacts_s(np.array([p.feed_mm_min for p in quickest.passes]))
    steps = math.floor(target_depth_mm / cutting.step_mm + 1e-9)
    best = None
    for share in TIGHTER:
        found = deep_choices(
            cutting, model, steps, deflection_allowed_mm, contacts, pause_overhead_s, share, only
        )
        for way, choices in found[:MARCHED]:
            schedule = followed(cutting, choices, target_depth_mm)
            marched = march(model, schedule)
            if marched is None:
                continue
            time = _time_s(schedule, marched, pause_overhead_s)
            if best is None or time < best.time_s:
                best = Heated(cutting, schedule, marched, time, time - bare, True, way)
        if best is not None:
            return best
    raise _too_hot(model, quickest)


def _time_s(
    schedule: Schedule, marched: Marched, pause_overhead_s: Callable[[float], float]
) -> float:
    """Passes and pauses."""
    return (
        sum(p.time_s for p in schedule.passes)
        + marched.pause_s
        + sum(
            pause_overhead_s(one.commanded_depth_mm)
            for one, pause in zip(schedule.passes, marched.pauses, strict=True)
            if pause
        )
    )


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
