"""The schedule of one set-up with its heat in view: passes and pauses weighed together.

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
from planner.kinematics.whole_steps import WHOLE
from planner.passes.blade_heat import BladeHeat
from planner.passes.conditions import Cutting
from planner.passes.deep import MANY_STEPS
from planner.passes.schedule import Schedule, find_passes, followed
from planner.passes.search import Found

TIGHTER = (1.005, 0.998, 0.985, 0.96, 0.9)
"""Shares of the limits that the search keeps: the next where the march has to put in pauses, or
rejects all that was found. The few modes of the search are within half a per cent of it on most
blades, and a little over as often as under."""

ROUGHLY = (0.985, 0.96, 0.9)
"""The same for the rough look that goes before."""

SLOWER = 1.1
"""A cooler schedule may take this much longer in contact than the quickest, for its flash limit."""

CLOSE = 1.01
"""A schedule that the march finds no slower than this times what the search thought is taken."""

MARCHED = 8
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
    steps = math.floor(target_depth_mm / cutting.step_mm + WHOLE)
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
    best = None
    if marched is not None:
        time = _time_s(quickest, marched, pause_overhead_s)
        best = Heated(cutting, quickest, marched, time, time - bare)
    cooler = _Cooler(
        cutting,
        model,
        target_depth_mm,
        deflection_allowed_mm,
        pause_overhead_s,
        found,
        quickest,
        best,
        below_s,
    ).best()
    if cooler is None:
        raise _too_hot(model, quickest)
    return cooler


@dataclass
class _Cooler:
    """Schedules with the heat in view, the march's verdict on each search leading the next."""

    cutting: Cutting
    model: HeatModel
    target_depth_mm: float
    deflection_allowed_mm: float
    pause_overhead_s: Callable[[float], float]
    without_heat: Found
    quickest: Schedule
    least: Heated | None
    """The quickest that has held so far."""
    below_s: float

    def best(self) -> Heated | None:
        """The quickest in all; None where nothing holds.

        Where no time is known to do a rough look comes first: what it finds bounds the search
        that follows, and tells how long the contacts are.
        """
        model, contacts = self.model, SLOWER * self._contacts_s(self.quickest)
        heat = model.blade_heat(self.cutting, contacts, self.pause_overhead_s(self.target_depth_mm))
        for share in () if self._most_s < math.inf else ROUGHLY:
            if self._search(heat, share, contacts, rough_look=True) and self.least is not None:
                break
        shares = list(TIGHTER)
        if self.least is not None:
            contacts = self._contacts_s(self.least.schedule)
        while shares:
            others = self._search(heat, shares[0], contacts)
            if self.least is not None:
                if others is None or self.least.time_s <= CLOSE * others.cost_s:
                    break
                # More contacts than were reckoned with lower the flash limit; else the few modes
                # of the search are to blame.
                longer = self._contacts_s(followed(self.cutting, others.schedules[0], 0.0))
                if longer > contacts * CLOSE:
                    contacts = longer
                    continue
            shares.pop(0)
        return self.least

    @property
    def _most_s(self) -> float:
        """A time that is known to do; infinite where none is."""
        return min(self.below_s, self.least.time_s if self.least else math.inf)

    def _search(
        self, heat: BladeHeat, share: float, contacts_s: float, *, rough_look: bool = False
    ) -> Found | None:
        """Search under a share of the limits, and march what is found; None where nothing is."""
        limits, ambient_c = self.model.limits, self.model.ambient_c
        soak_k = limits.soak_limit_c - ambient_c
        flash_k = limits.flash_limit_c(contacts_s) - ambient_c
        warm = replace(self.cutting, heat=heat.limited(soak_k, flash_k))
        if self.least is not None and self.least.cutting.heat is None:
            self.least = replace(self.least, cutting=warm)
        held = replace(self.cutting, heat=heat.limited(share * soak_k, share * flash_k))
        try:
            others = find_passes(
                held,
                self.target_depth_mm,
                self.deflection_allowed_mm,
                MARCHED,
                self.without_heat,
                self._most_s,
                rough_look,
            )
        except RefusedError:
            return None
        self._march(warm, others)
        return others

    def _march(self, warm: Cutting, others: Found) -> None:
        """Keep the quickest of these that holds, its pauses counted."""
        bare = sum(p.time_s for p in self.quickest.passes)
        for choices in others.schedules:
            schedule = followed(self.cutting, choices, self.target_depth_mm)
            least_s = self.least.time_s if self.least else math.inf
            if sum(p.time_s for p in schedule.passes) >= least_s:
                continue
            marched = march(self.model, schedule)
            if marched is None:
                continue
            time = _time_s(schedule, marched, self.pause_overhead_s)
            if time < least_s:
                self.least = Heated(warm, schedule, marched, time, time - bare, True)

    def _contacts_s(self, schedule: Schedule) -> float:
        return self.model.contacts_s(np.array([p.feed_mm_min for p in schedule.passes]))


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
    steps = math.floor(target_depth_mm / cutting.step_mm + WHOLE)
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
