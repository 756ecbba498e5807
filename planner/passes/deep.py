"""Schedules of deep work, such as a bevel out of parallel stock: the largest pass that holds, again
and again.

Over many hundred steps of depth the search of all ways (planner/passes/search.py) would take
minutes and gain little: what a pass may take changes slowly from one to the next. So each feed is
followed by itself, every pass taking the infeed that comes on fastest within infeed, force, power
and heat, its pause counted. There is no look ahead; where heat counts, the heaviest passes pay for
themselves later in pauses, so lighter ones are followed as well (``LIGHTER``), and the quickest of
all is taken.
"""

from __future__ import annotations

import math

import numpy as np

from planner.errors import Refusal, RefusedError, WayOut
from planner.kinematics.whole_steps import WHOLE
from planner.passes.conditions import Cutting
from planner.passes.search import Choice, Found

MANY_STEPS = 150
"""Work of more steps than this is deep."""

LIGHTER = (1.0, 0.7, 0.5, 0.35, 0.25)
"""Shares of the infeeds that are tried where heat counts. Common practice, no source."""

FEEDS = (0, 2, 4, 5)
"""Which of the feeds are followed: every second, and one slow."""

MOST_PASSES = 5000
"""More passes than this in one set-up are given up: no one waits for them. Common practice."""


def deep_schedules(cutting: Cutting, steps: int, allowed_mm: float, most: int) -> Found:
    """The quickest of the greedy schedules, one a feed, at most ``most`` of them.

    Raises: RefusedError when no feed has one.
    """
    found = []
    for index in FEEDS:
        if index >= len(cutting.feeds_mm_min):
            continue
        for share in LIGHTER if cutting.heat is not None else LIGHTER[:1]:
            way = _Greedy(cutting, steps, allowed_mm, index, share).run()
            if way is not None:
                found.append(way)
    if not found:
        raise _none(cutting, steps)
    found.sort(key=lambda way: way[0])
    return Found(tuple(choices for _, choices in found[:most]), found[0][0], {})


class _Greedy:
    """One feed, followed from bare contact to the depth."""

    def __init__(
        self, cutting: Cutting, steps: int, allowed_mm: float, feed: int, share: float
    ) -> None:
        self.cutting, self.steps, self.allowed_mm, self.feed = cutting, steps, allowed_mm, feed
        self.feed_mm_min = float(cutting.feeds_mm_min[feed])
        self.traverse_s = cutting.traverse_time_s(self.feed_mm_min)
        rough, finish = (
            math.floor(infeed / cutting.step_mm + WHOLE)
            for infeed in (cutting.rough_infeed_mm, cutting.finish_infeed_mm)
        )
        self.rough = min(rough, max(round(share * rough), 1))
        self.finish = min(finish, max(round(share * finish), 1))
        self.rough_until = max(steps - cutting.finish_steps, 0)
        most = max(self.rough, self.finish)
        infeeds_mm = (n * cutting.step_mm for n in range(most + 1))
        self.infeed_s = np.array([cutting.infeed_time_s(infeed) for infeed in infeeds_mm])
        """By steps."""
        self.state = None if cutting.heat is None else cutting.heat.cold()

    def run(self) -> tuple[float, tuple[Choice, ...]] | None:
        """Time and passes; None where it cannot be done."""
        cutting = self.cutting
        reached = np.zeros(len(cutting.stiffness.stations))
        at, spent = 0, 0.0
        choices: list[Choice] = []
        while at < self.steps or self.steps * cutting.step_mm - reached.min() > self.allowed_mm:
            if len(choices) >= MOST_PASSES:
                return None
            ahead = self._ahead(at)
            taken = self._largest(at, ahead, reached)
            if taken is None:
                return None
            infeed, pause_s, reached = taken
            at += infeed
            spent += pause_s + self.traverse_s + cutting.infeed_time_s(infeed * cutting.step_mm)
            choices.append(Choice(infeed, self.feed_mm_min))
        return spent, tuple(choices)

    def _ahead(self, at: int) -> np.ndarray:
        """Steps that the next pass may infeed, the most first; none at all comes last."""
        most = self.rough if at < self.rough_until else self.finish
        limit = self.rough_until if at < self.rough_until else self.steps
        return np.arange(min(most, limit - at), -1, -1)

    def _largest(
        self, at: int, ahead: np.ndarray, reached: np.ndarray
    ) -> tuple[int, float, np.ndarray] | None:
        cutting = self.cutting
        commanded = (at + ahead) * cutting.step_mm
        before = np.broadcast_to(reached, (len(ahead), len(reached)))
        cut = cutting.cut(commanded, before, np.full(len(ahead), self.feed_mm_min))
        power = cut.power_w.max(axis=-1)
        ok = (cut.normal_n.max(axis=-1) <= cutting.normal_force_limit_n) & (
            power <= cutting.power_limit_w
        )
        pause_s, after = np.zeros(len(ahead)), None
        heat = cutting.heat
        if heat is not None and self.state is not None:
            depth, feed = cut.reached_mm.max(axis=-1), np.full(len(ahead), self.feed)
            states = np.broadcast_to(self.state, (len(ahead), *self.state.shape[1:]))
            pause_s, after = heat.pause_s(states, depth, power, feed)
        infeed_s = self.infeed_s[ahead]
        # A pass without infeed comes on by what the machine had given way.
        onward = np.minimum(cut.reached_mm.min(axis=-1) - reached.min(), ahead * cutting.step_mm)
        if at == self.steps:
            onward = cut.reached_mm.min(axis=-1) - reached.min()
        rate = np.where(
            ok & np.isfinite(pause_s) & (onward > 1e-9),
            onward / (pause_s + self.traverse_s + infeed_s),
            -1.0,
        )
        best = int(np.argmax(rate))
        if rate[best] <= 0:
            return None
        if heat is not None and after is not None:
            one = slice(best, best + 1)
            self.state = heat.after(after[one], depth[one], power[one], feed[one], infeed_s[one])
        return int(ahead[best]), float(pause_s[best]), cut.reached_mm[best]


def _none(cutting: Cutting, steps: int) -> RefusedError:
    return RefusedError(
        [
            Refusal(
                "no-pass-light-enough",
                {
                    "reached_mm": 0.0,
                    "depth_mm": steps * cutting.step_mm,
                    "step_mm": cutting.step_mm,
                    "force_limit_n": cutting.normal_force_limit_n,
                    "power_limit_w": cutting.power_limit_w,
                },
                (WayOut("finer-axis"), WayOut("freer-wheel"), WayOut("stiffer-machine")),
            )
        ]
    )
