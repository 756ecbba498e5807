r"""The shortest schedule of passes, by labels over whole steps of depth.

A state is the number of steps commanded so far and the depth reached at each station. A pass
commands 0 or more steps further at one of the feeds; it costs its time and must keep infeed,
force, power and flash. Of two ways to the same number of steps, the one that is no slower and has
reached no less is never worse: its later passes take no more steel and end no sooner short. So at
each number of steps only the ways on that front are kept (a label-setting shortest path with
dominance; R. K. Ahuja, T. L. Magnanti, J. B. Orlin, Network Flows, 1993, chapter 4, from memory).
Where more than ``MOST_WAYS`` are on it, they are thinned evenly over the depth reached: that is the
only approximation beside the choice of feeds, and tests hold it to 2 % of exhaustive search.

The whole front of a number of steps is followed at once, as arrays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.passes.conditions import Cutting

Floats = NDArray[np.float64]

MOST_WAYS = 60
"""Ways kept to each number of steps. With 60 the time is within 1 % of that with no thinning, on
200 random cases of 5 to 90 steps (docs/schedule.md)."""

EVENNESS = 0.005
"""Share of its own time that a pass at the full force or power limit counts extra, falling with
the square of its load: of schedules that are alike in time the one with even loads wins."""

MOST_SPARK_OUT = 300
"""More passes at one infeed than this are refused: no one waits for them. Common practice."""


@dataclass(frozen=True, eq=False)
class _Front:
    """Ways to one number of steps: cost, reached depth, and where each comes from."""

    cost_s: Floats
    reached_mm: Floats
    """(n, s)"""
    parent: NDArray[np.int64]
    """Index into the list of all labels; -1 is the start."""
    feed: NDArray[np.int64]


@dataclass(frozen=True)
class Choice:
    """One pass of the schedule found: steps of infeed and which feed."""

    steps: int
    feed_mm_min: float


def shortest_schedule(
    cutting: Cutting, steps: int, deflection_allowed_mm: float
) -> tuple[Choice, ...]:
    """The quickest passes from bare contact to ``steps`` with no more deflection left.

    Raises: RefusedError when no schedule keeps the limits, or the spring is too soft.
    """
    if cutting.threshold_n / cutting.stiffness.softest_n_mm > deflection_allowed_mm:
        raise _threshold_too_high(cutting, deflection_allowed_mm)
    if cutting.heat is not None:
        return _Search(cutting, steps, deflection_allowed_mm).run()
    # Both faces of a symmetric blade ask the same: the answer is kept.
    key = (*cutting.identity, steps, deflection_allowed_mm)
    if key not in _FOUND:
        if len(_FOUND) >= _MOST_FOUND:
            _FOUND.clear()
        _FOUND[key] = _Search(cutting, steps, deflection_allowed_mm).run()
    return _FOUND[key]


_FOUND: dict[tuple[object, ...], tuple[Choice, ...]] = {}
_MOST_FOUND = 64


class _Search:
    def __init__(self, cutting: Cutting, steps: int, allowed_mm: float) -> None:
        self.cutting, self.steps, self.allowed_mm = cutting, steps, allowed_mm
        self.feeds = cutting.feeds_mm_min
        self.traverse_s = np.array([cutting.traverse_time_s(f) for f in self.feeds])
        self.rough = math.floor(cutting.rough_infeed_mm / cutting.step_mm + 1e-9)
        self.finish = math.floor(cutting.finish_infeed_mm / cutting.step_mm + 1e-9)
        self.rough_until = max(steps - cutting.finish_steps, 0)
        most = min(max(self.rough, self.finish), steps)
        infeeds = (n * cutting.step_mm for n in range(most + 1))
        self.infeed_s = np.array([cutting.infeed_time_s(infeed) for infeed in infeeds])
        # All labels ever kept, for the way back: parent, steps infed, feed.
        self.parents: list[int] = []
        self.infed: list[int] = []
        self.fed: list[int] = []

    def run(self) -> tuple[Choice, ...]:
        stations = len(self.cutting.stiffness.stations)
        start = _Front(
            np.zeros(1), np.zeros((1, stations)), np.array([-1]), np.array([-1], dtype=np.int64)
        )
        arriving: dict[int, list[tuple[int, _Front]]] = {0: [(0, start)]}
        for at in range(self.steps):
            if at not in arriving:
                continue
            labels, front = self._keep(arriving.pop(at), at)
            # A pass without infeed lets a soft machine catch up before it goes on.
            if at > 0:
                repeated = self._passes(front, labels, at, [at]).get(at)
                labels, front = self._merge(labels, front, repeated, at)
            ahead = [to for to in range(at + 1, self.steps + 1) if to - at <= self._most(to)]
            for to, reached in self._passes(front, labels, at, ahead).items():
                arriving.setdefault(to, []).append((to - at, reached))
        if self.steps not in arriving:
            raise self._no_way(max(arriving, default=0))
        return self._spark_out(*self._keep(arriving.pop(self.steps), self.steps))

    def _most(self, to: int) -> int:
        """Steps that a pass to this depth may take."""
        return self.rough if to <= self.rough_until else self.finish

    def _passes(
        self, front: _Front, labels: NDArray[np.int64], at: int, ahead: list[int]
    ) -> dict[int, _Front]:
        """Every label of a front, at every feed, to each number of steps: what is allowed."""
        cutting = self.cutting
        if not ahead:
            return {}
        stations = front.reached_mm.shape[1]
        shape = (len(front.cost_s), len(ahead), len(self.feeds))
        before = np.broadcast_to(front.reached_mm[:, None, None, :], (*shape, stations))
        commanded = np.array(ahead)[:, None] * cutting.step_mm
        cut = cutting.cut(
            np.broadcast_to(commanded, shape), before, np.broadcast_to(self.feeds, shape)
        )
        force, power = cut.normal_n.max(axis=-1), cut.power_w.max(axis=-1)
        ok = (force <= cutting.normal_force_limit_n) & (power <= cutting.power_limit_w)
        if cutting.heat is not None:
            soak, flash = cutting.heat.share_of_limits(cut.reached_mm.max(axis=-1), power)
            ok &= (soak <= 1.0) & (flash <= 1.0)
        load = np.maximum(force / cutting.normal_force_limit_n, power / cutting.power_limit_w)
        time = self.infeed_s[np.array(ahead) - at][:, None] + self.traverse_s
        cost = front.cost_s[:, None, None] + time * (1 + EVENNESS * load**2)
        found = {}
        for column, to in enumerate(ahead):
            allowed = ok[:, column]
            if allowed.any():
                who, feed = np.nonzero(allowed)
                found[to] = _Front(
                    cost[:, column][allowed], cut.reached_mm[:, column][allowed], labels[who], feed
                )
        return found

    def _keep(
        self, arrivals: list[tuple[int, _Front]], at: int
    ) -> tuple[NDArray[np.int64], _Front]:
        """The front of all ways that arrive, put on record."""
        cost = np.concatenate([f.cost_s for _, f in arrivals])
        reached = np.concatenate([f.reached_mm for _, f in arrivals])
        parent = np.concatenate([f.parent for _, f in arrivals])
        feed = np.concatenate([f.feed for _, f in arrivals])
        infed = np.concatenate([np.full(len(f.cost_s), steps) for steps, f in arrivals])
        kept = self._front_of(cost, reached, at)
        first = len(self.parents)
        self.parents += parent[kept].tolist()
        self.infed += infed[kept].tolist()
        self.fed += feed[kept].tolist()
        labels = np.arange(first, first + len(kept))
        return labels, _Front(cost[kept], reached[kept], parent[kept], feed[kept])

    def _front_of(self, cost: Floats, reached: Floats, at: int) -> NDArray[np.int64]:
        """Indices of the ways that no other beats in both time and least reached depth."""
        least = reached.min(axis=-1)
        order = np.lexsort((-least, cost))
        deepest = np.maximum.accumulate(least[order])
        rises = np.concatenate([[True], deepest[1:] > deepest[:-1]])
        front = np.asarray(order[rises])
        if len(front) <= MOST_WAYS:
            return front
        # Of each equal share of the depths the quickest; a share begins where no more deflection
        # than allowed is left, so that a way that has just done enough is never thinned out.
        depth = least[front]
        share = (depth[-1] - depth[0]) / MOST_WAYS
        enough = at * self.cutting.step_mm - self.allowed_mm
        cell = np.floor((depth - enough) / share + 1e-9)
        return np.asarray(front[np.concatenate([[True], cell[1:] > cell[:-1]])])

    def _merge(
        self, labels: NDArray[np.int64], front: _Front, more: _Front | None, at: int
    ) -> tuple[NDArray[np.int64], _Front]:
        if more is None:
            return labels, front
        more_labels, more_kept = self._keep([(0, more)], at)
        cost = np.concatenate([front.cost_s, more_kept.cost_s])
        reached = np.concatenate([front.reached_mm, more_kept.reached_mm])
        parent = np.concatenate([front.parent, more_kept.parent])
        feed = np.concatenate([front.feed, more_kept.feed])
        both = np.concatenate([labels, more_labels])
        kept = self._front_of(cost, reached, at)
        return both[kept], _Front(cost[kept], reached[kept], parent[kept], feed[kept])

    def _spark_out(self, labels: NDArray[np.int64], front: _Front) -> tuple[Choice, ...]:
        """Passes at the last infeed until one way has little enough deflection left."""
        commanded = self.steps * self.cutting.step_mm
        best_cost, best_label = math.inf, -1
        for _ in range(MOST_SPARK_OUT):
            left = commanded - front.reached_mm.min(axis=-1)
            done = left <= self.allowed_mm
            if done.any():
                at = int(np.argmin(np.where(done, front.cost_s, math.inf)))
                if front.cost_s[at] < best_cost:
                    best_cost, best_label = float(front.cost_s[at]), int(labels[at])
            going = ~done & (front.cost_s + self.traverse_s.min() < best_cost)
            if not going.any():
                break
            front = _Front(
                front.cost_s[going],
                front.reached_mm[going],
                front.parent[going],
                front.feed[going],
            )
            more = self._passes(front, labels[going], self.steps, [self.steps]).get(self.steps)
            if more is None:
                break
            labels, front = self._keep([(0, more)], self.steps)
        if best_label < 0:
            raise self._endless(front, commanded)
        return self._way_back(best_label)

    def _way_back(self, label: int) -> tuple[Choice, ...]:
        choices = []
        while self.parents[label] >= 0:
            choices.append(Choice(self.infed[label], float(self.feeds[self.fed[label]])))
            label = self.parents[label]
        return tuple(reversed(choices))

    def _no_way(self, reached_steps: int) -> RefusedError:
        cutting = self.cutting
        if min(self.rough, self.finish) < 1:
            kind, infeed = (
                ("finish", cutting.finish_infeed_mm)
                if self.finish < 1
                else ("rough", cutting.rough_infeed_mm)
            )
            return RefusedError(
                [
                    Refusal(
                        "step-over-infeed",
                        {"step_mm": cutting.step_mm, "infeed_mm": infeed, "kind": kind},
                        (WayOut("larger-infeed"), WayOut("finer-axis")),
                    )
                ]
            )
        facts: dict[str, Fact] = {
            "reached_mm": reached_steps * cutting.step_mm,
            "depth_mm": self.steps * cutting.step_mm,
            "step_mm": cutting.step_mm,
            "force_limit_n": cutting.normal_force_limit_n,
            "power_limit_w": cutting.power_limit_w,
        }
        ways = (WayOut("finer-axis"), WayOut("freer-wheel"), WayOut("stiffer-machine"))
        return RefusedError([Refusal("no-pass-light-enough", facts, ways)])

    def _endless(self, front: _Front, commanded_mm: float) -> RefusedError:
        left = float((commanded_mm - front.reached_mm.min(axis=-1)).min())
        return RefusedError(
            [
                Refusal(
                    "spark-out-endless",
                    {
                        "passes": MOST_SPARK_OUT,
                        "deflection_mm": left,
                        "allowed_mm": self.allowed_mm,
                        "stiffness_n_mm": self.cutting.stiffness.softest_n_mm,
                    },
                    (
                        WayOut("stiffer-machine"),
                        WayOut("freer-wheel"),
                        WayOut("wider-tolerance-any"),
                    ),
                )
            ]
        )


def _threshold_too_high(cutting: Cutting, allowed_mm: float) -> RefusedError:
    return RefusedError(
        [
            Refusal(
                "threshold-leaves-too-much",
                {
                    "threshold_n": cutting.threshold_n,
                    "left_mm": cutting.threshold_n / cutting.stiffness.softest_n_mm,
                    "allowed_mm": allowed_mm,
                    "stiffness_n_mm": cutting.stiffness.softest_n_mm,
                },
                (WayOut("stiffer-machine"), WayOut("freer-wheel"), WayOut("wider-tolerance-any")),
            )
        ]
    )
