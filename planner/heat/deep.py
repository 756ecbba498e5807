"""Deep work that heat limits: each pass as large as the blade, as hot as it is by then, allows.

The section changes so much while a bevel is ground that the few modes of the search of passes
(planner/passes/blade_heat.py) tell little. So the whole section is followed here pass by pass, as
the march does it (planner/heat/march.py): of the infeeds that keep infeed, force, power, soak and
flash, with a pause before the pass where that comes on faster, the one with the most depth for its
time is taken. There is no look ahead; a blade that stays near its limit sheds most heat, so lighter
passes are followed as well, and the march has the last word on the quickest few.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.formulas.fin_heat import FinOperator
from planner.heat.march import Timing
from planner.heat.model import HeatModel
from planner.kinematics.whole_steps import WHOLE
from planner.passes.conditions import Cutting
from planner.passes.deep import MOST_PASSES
from planner.passes.search import Choice

Floats = NDArray[np.float64]

Way = tuple[int, float]
"""Which feed, and which share of the infeeds."""

FEEDS = (0, 2)
"""Which of the feeds are followed: the largest, and one two thirds of it."""

LIGHTER = (1.0, 0.6, 0.35)
"""Shares of the infeeds that are followed. Common practice, no source."""

MORE_CONTACTS = 3.0
"""The passes that heat asks for are taken to be so many times those without it: the flash limit
falls with the time of all contacts together, by a few kelvin for each doubling."""

_EARLY, _EVEN = 24, 40
_SAMPLES = np.array([0.0, 0.3, 1.0])
"""Moments of a contact that are looked at: the march looks closer."""

_PAUSES = 7


def deep_choices(
    cutting: Cutting,
    model: HeatModel,
    steps: int,
    allowed_mm: float,
    contacts_s: float,
    pause_overhead_s: Callable[[float], float],
    share_of_limits: float,
    only: Way | None = None,
) -> list[tuple[Way, tuple[Choice, ...]]]:
    """Schedules that keep the limits as far as they are followed, the quickest first.

    ``only`` one feed and share may be followed, that of a schedule for like conditions.
    """
    depths = _grid(cutting.step_mm, steps)
    sections = model.operator(depths)
    found = []
    for feed, share in [only] if only else [(f, s) for f in FEEDS for s in LIGHTER]:
        if feed < len(cutting.feeds_mm_min):
            way = _Follow(
                cutting=cutting,
                model=model,
                steps=steps,
                allowed_mm=allowed_mm,
                depths_mm=depths,
                sections=sections,
                feed_mm_min=float(cutting.feeds_mm_min[feed]),
                share=share,
                soak_k=share_of_limits * (model.limits.soak_limit_c - model.ambient_c),
                flash_k=share_of_limits
                * (model.limits.flash_limit_c(MORE_CONTACTS * contacts_s) - model.ambient_c),
                overhead_s=pause_overhead_s(steps * cutting.step_mm),
            ).run()
            if way is not None:
                found.append((way[0], (feed, share), way[1]))
    return [(way, choices) for _, way, choices in sorted(found, key=lambda one: one[0])]


def _grid(step_mm: float, steps: int) -> Floats:
    """Depths whose sections are kept: close where the work begins."""
    deep = steps * step_mm
    return np.unique(
        np.concatenate(
            [np.geomspace(step_mm / 2, deep, _EARLY), np.linspace(deep / _EVEN, deep, _EVEN)]
        )
    )


@dataclass
class _Follow:
    """One feed and one share of the infeeds, from bare contact to the depth."""

    cutting: Cutting
    model: HeatModel
    steps: int
    allowed_mm: float
    depths_mm: Floats
    sections: FinOperator
    feed_mm_min: float
    share: float
    soak_k: float
    flash_k: float
    overhead_s: float

    def run(self) -> tuple[float, tuple[Choice, ...]] | None:
        """Time and passes; None where no pass holds however long the blade has cooled."""
        cutting = self.cutting
        timing = Timing.of(self.model, cutting, self.feed_mm_min)
        reached = np.zeros(len(cutting.stiffness.stations))
        theta: Floats = np.zeros((timing.stations, len(self.model.mesh.centres_mm)))
        at, spent, last = 0, 0.0, self._section(0.0)
        choices: list[Choice] = []
        while at < self.steps or self.steps * cutting.step_mm - reached.min() > self.allowed_mm:
            if len(choices) >= MOST_PASSES:
                return None
            gap_s = timing.gap_s(len(choices))
            taken = self._pass(at, reached, theta, last, gap_s)
            if taken is None:
                return None
            spent += taken.seconds
            at, reached, theta, last = at + taken.infeed, taken.reached_mm, taken.theta, taken.last
            choices.append(Choice(taken.infeed, self.feed_mm_min))
        return spent, tuple(choices)

    def _section(self, depth_mm: float) -> FinOperator:
        nearest = int(np.argmin(np.abs(self.depths_mm - depth_mm)))
        return self.sections.section(nearest)

    def _ahead(self, at: int) -> NDArray[np.int64]:
        """Steps that the next pass may infeed, the most first; none at all comes last."""
        cutting = self.cutting
        rough_until = max(self.steps - cutting.finish_steps, 0)
        rough = at < rough_until
        infeed = cutting.rough_infeed_mm if rough else cutting.finish_infeed_mm
        whole = math.floor(infeed / cutting.step_mm + WHOLE)
        most = min(whole, max(round(self.share * whole), 1))
        limit = rough_until if rough else self.steps
        return np.arange(min(most, limit - at), -1, -1)

    def _pass(
        self, at: int, reached: Floats, after: Floats, last: FinOperator, gap_s: Floats
    ) -> _Taken | None:
        cutting, model = self.cutting, self.model
        ahead = self._ahead(at)
        feed = np.full(len(ahead), self.feed_mm_min)
        before = np.broadcast_to(reached, (len(ahead), len(reached)))
        cut = cutting.cut((at + ahead) * cutting.step_mm, before, feed)
        power, depth = cut.power_w.max(axis=-1), np.maximum(cut.reached_mm.max(axis=-1), 1e-6)
        onward = cut.reached_mm.min(axis=-1) - reached.min()
        if at < self.steps:
            onward = np.minimum(onward, ahead * cutting.step_mm)
        ok = (cut.normal_n.max(axis=-1) <= cutting.normal_force_limit_n) & (
            power <= cutting.power_limit_w
        )
        may = np.nonzero(ok & (onward > 1e-9))[0]
        if len(may) == 0:
            return None
        width = np.asarray(model.work.removal.width_mm(depth))
        contact = model.contact_mm(feed, np.maximum(cut.area_mm2[:, 0] / width, 1e-9))
        flux = model.flux(depth, power, contact)
        excess = np.asarray(model.face_excess_k(depth, power, feed, contact))
        contact_s = contact / self.feed_mm_min * 60

        def arrived(wait_s: float) -> Floats:
            still = np.zeros(after.shape[-1])
            return np.asarray(last.advance(after, still, gap_s + wait_s))

        def holds(theta: Floats, which: int) -> bool:
            section = self._section(depth[which])
            fields = section.trace(theta, flux[which], contact_s[which] * _SAMPLES)
            hottest = max(float(fields.max()), float(section.edge(fields).max()))
            return hottest <= self.soak_k and hottest + float(excess[which]) <= self.flash_k

        def seconds(which: int, wait_s: float) -> float:
            infeed_s = cutting.infeed_time_s(int(ahead[which]) * cutting.step_mm)
            pause = wait_s + self.overhead_s if wait_s > 0 else 0.0
            return cutting.traverse_time_s(self.feed_mm_min) + infeed_s + pause

        met = arrived(0.0)
        best, wait_s = self._largest(may, lambda which: holds(met, which)), 0.0
        if best != may[0]:
            heaviest = int(may[0])
            pause = self._pause(lambda wait: holds(arrived(wait), heaviest))
            if pause is not None and (
                best is None
                or onward[heaviest] / seconds(heaviest, pause) > onward[best] / seconds(best, 0.0)
            ):
                best, wait_s = heaviest, pause
        if best is None:
            return None
        theta = arrived(wait_s) if wait_s > 0 else met
        section = self._section(depth[best])
        return _Taken(
            infeed=int(ahead[best]),
            seconds=seconds(best, wait_s),
            reached_mm=cut.reached_mm[best],
            theta=np.asarray(section.advance(theta, flux[best], float(contact_s[best]))),
            last=section,
        )

    @staticmethod
    def _largest(may: NDArray[np.int64], holds: Callable[[int], bool]) -> int | None:
        """The heaviest pass that holds, by halving: a lighter one is never hotter."""
        low, high = 0, len(may)
        while low < high:
            middle = (low + high) // 2
            if holds(int(may[middle])):
                high = middle
            else:
                low = middle + 1
        return int(may[low]) if low < len(may) else None

    @staticmethod
    def _pause(holds: Callable[[float], bool]) -> float | None:
        """A pause that lets a pass hold, to an eighth of itself; None where none does."""
        high = 0.5
        for _ in range(_PAUSES + 4):
            if holds(high):
                break
            high *= 2
        else:
            return None
        low = high / 2 if high > 0.5 else 0.0
        for _ in range(3):
            middle = (low + high) / 2
            low, high = (low, middle) if holds(middle) else (middle, high)
        return high


@dataclass(frozen=True, eq=False)
class _Taken:
    """A pass as it was taken."""

    infeed: int
    seconds: float
    reached_mm: Floats
    theta: Floats
    last: FinOperator
