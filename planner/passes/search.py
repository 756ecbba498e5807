r"""The shortest schedule of passes, by labels over whole steps of depth.

A state is the number of steps commanded so far and the depth reached at each station. A pass
commands 0 or more steps further at one of the feeds; it costs its time and must keep infeed,
force, power and flash. Of two ways to the same number of steps, the one that is no slower and has
reached no less is never worse: its later passes take no more steel and end no sooner short. So at
each number of steps only the ways on that front are kept (a label-setting shortest path with
dominance; R. K. Ahuja, T. L. Magnanti, J. B. Orlin, Network Flows, 1993, chapter 4, from memory).
Where more than ``MOST_WAYS`` are on it, they are thinned evenly over the depth reached.

Where heat counts, a state also holds the blade's (planner/passes/blade_heat.py): a pass waits first
where it would be too hot, and a pass without infeed may be worth it for the cooling alone, again
and again. Ways are told apart by levels of warmth, and a way is beaten only by one that is no
warmer. The choice of feeds, the thinning and the levels are the approximations; tests hold both
kinds of search to 2 % of exhaustive search.

The whole front of a number of steps is followed at once, as arrays.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.passes.blade_heat import BladeHeat
from planner.passes.conditions import Cutting

Floats = NDArray[np.float64]

MOST_WAYS = 60
"""Ways kept to each number of steps. With 60 the time is within 1 % of that with no thinning, on
200 random cases of 5 to 90 steps (docs/schedule.md)."""

MOST_WARM_WAYS = 20
"""The same for each level of warmth, where heat counts."""

FINEST, COARSEST, LEVELS_WORK = 400, 12, 4000
"""Levels of warmth that ways are told apart by, as parts of the soak allowed: so many that steps
times feeds times levels come to ``LEVELS_WORK``, between the coarsest and the finest."""

MANY_LEVELS = 100
"""With so many or more, as many ways are kept for each as without heat."""

ROUGH_LEVELS, ROUGH_WAYS = 4, 8
"""The same two for a rough look, whose result bounds the search that follows."""

EVENNESS = 0.005
"""Share of its own time that a pass at the full force or power limit counts extra, falling with
the square of its load: of schedules that are alike in time the one with even loads wins."""

MOST_REPEATS = 8
"""Passes in a row at one infeed, before the last, that a schedule may choose."""

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
    heat: Floats
    """(n, 2, k): state of the blade when the next pass starts; no modes where heat is left out."""
    longer_s: Floats
    """(n,): the pause before the pass where it is longer than it must be; else 0."""

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> _Front:
        """Some of the ways."""
        return _Front(*(getattr(self, f.name)[which] for f in fields(self)))

    @classmethod
    def joined(cls, fronts: Sequence[_Front]) -> _Front:
        """The ways of several fronts."""
        columns = ([getattr(one, f.name) for one in fronts] for f in fields(cls))
        return cls(*(np.concatenate(column) for column in columns))


@dataclass(frozen=True)
class Choice:
    """One pass of the schedule found: steps of infeed, which feed, and how long to wait before."""

    steps: int
    feed_mm_min: float
    pause_s: float = 0.0
    """The least pause before it, where more is worth it than the pass alone needs."""


@dataclass(frozen=True, eq=False)
class Found:
    """The quickest schedules, the quickest first, and what the search came by."""

    schedules: tuple[tuple[Choice, ...], ...]
    cost_s: float
    """Of the first."""
    fronts: Mapping[int, tuple[Floats, Floats]]
    """By steps commanded: costs of the ways there, rising, and the depths that they reach."""

    def cost_to(self, steps: int, reached_mm: Floats) -> Floats:
        """Least cost to have reached a depth with these steps commanded. Shape: any."""
        cost, depth = self.fronts[steps]
        return np.append(cost, np.inf)[np.searchsorted(depth, reached_mm)]


def shortest_schedule(
    cutting: Cutting, steps: int, deflection_allowed_mm: float
) -> tuple[Choice, ...]:
    """The quickest passes from bare contact to ``steps`` with no more deflection left.

    Raises: RefusedError when no schedule keeps the limits, or the spring is too soft.
    """
    return shortest_schedules(cutting, steps, deflection_allowed_mm).schedules[0]


def shortest_schedules(
    cutting: Cutting,
    steps: int,
    deflection_allowed_mm: float,
    most: int = 1,
    without_heat: Found | None = None,
    below_s: float = math.inf,
    rough_look: bool = False,
) -> Found:
    """The quickest schedules, at most ``most`` of them; raises as ``shortest_schedule``.

    ``without_heat`` is what was found for the same conditions without heat, ``below_s`` a time that
    is known to do with it. No way can be worth following that is later than the quickest one to the
    same depth by more than the two lie apart. A ``rough_look`` with heat tells few ways apart.
    """
    if cutting.threshold_n / cutting.stiffness.softest_n_mm > deflection_allowed_mm:
        raise _threshold_too_high(cutting, deflection_allowed_mm)
    if cutting.heat is not None:
        search = _Search(cutting, steps, deflection_allowed_mm)
        if rough_look:
            search.levels, search.most_ways = ROUGH_LEVELS, ROUGH_WAYS
        if without_heat is not None and math.isfinite(below_s):
            search.guide, search.most_s = without_heat, below_s * (1 + EVENNESS)
            search.slack_s = search.most_s - without_heat.cost_s
        return search.run(most)
    # Both faces of a symmetric blade ask the same: the answer is kept.
    key = (*cutting.identity, steps, deflection_allowed_mm, most)
    if key not in _FOUND:
        if len(_FOUND) >= _MOST_FOUND:
            _FOUND.clear()
        _FOUND[key] = _Search(cutting, steps, deflection_allowed_mm).run(most)
    return _FOUND[key]


_FOUND: dict[tuple[object, ...], Found] = {}
_MOST_FOUND = 64


class _Search:
    def __init__(self, cutting: Cutting, steps: int, allowed_mm: float) -> None:
        self.cutting, self.steps, self.allowed_mm = cutting, steps, allowed_mm
        self.feeds = cutting.feeds_mm_min
        self.traverse_s = np.array([cutting.traverse_time_s(f) for f in self.feeds])
        self.rough, self.finish = cutting.rough_steps, cutting.finish_infeed_steps
        self.rough_until = max(steps - cutting.finish_steps, 0)
        most = min(max(self.rough, self.finish), steps)
        infeeds = (n * cutting.step_mm for n in range(most + 1))
        self.infeed_s = np.array([cutting.infeed_time_s(infeed) for infeed in infeeds])
        work = max(steps * len(self.feeds), 1)
        self.levels = min(max(LEVELS_WORK // work, COARSEST), FINEST)
        all_ways = cutting.heat is None or self.levels >= MANY_LEVELS
        self.most_ways = MOST_WAYS if all_ways else MOST_WARM_WAYS
        self.guide: Found | None = None
        self.slack_s = self.most_s = math.inf
        self.least_s = self._least_s()
        self.fronts: dict[int, tuple[Floats, Floats]] = {}
        # All labels ever kept, for the way back: parent, steps infed, feed, longer pause.
        self.parents: list[int] = []
        self.infed: list[int] = []
        self.fed: list[int] = []
        self.waited: list[float] = []

    def _least_s(self) -> Floats:
        """Least time from each number of steps on, infeeds being the only limit. (steps + 1,)"""
        least = np.zeros(self.steps + 1)
        for at in range(self.steps - 1, -1, -1):
            ahead = [to for to in range(at + 1, self.steps + 1) if to - at <= self._most(to)]
            on = [self.infeed_s[to - at] + least[to] for to in ahead]
            least[at] = min(on, default=math.inf) + self.traverse_s.min()
        return least

    def run(self, most: int) -> Found:
        stations = len(self.cutting.stiffness.stations)
        heat = self.cutting.heat
        start = _Front(
            cost_s=np.zeros(1),
            reached_mm=np.zeros((1, stations)),
            parent=np.array([-1]),
            feed=np.array([-1]),
            heat=np.zeros((1, 2, 0)) if heat is None else heat.cold(),
            longer_s=np.zeros(1),
        )
        arriving: dict[int, list[tuple[int, _Front]]] = {0: [(0, start)]}
        for at in range(self.steps):
            if at not in arriving:
                continue
            labels, front = self._keep(arriving.pop(at), at)
            self._record(at, front)
            known = front
            ahead = [to for to in range(at + 1, self.steps + 1) if to - at <= self._most(to)]
            for _ in range(MOST_REPEATS):
                found, limited = self._passes(front, labels, at, ahead)
                for to, reached in found.items():
                    arriving.setdefault(to, []).append((to - at, reached))
                # A pass without infeed lets a soft machine catch up, or the blade cool. Where no
                # limit holds the next pass back it is a waste: infeed sooner reaches as deep.
                if at == 0 or not limited:
                    break
                labels, front, known = self._repeated(labels, front, known, at)
                if not len(labels):
                    break
        if self.steps not in arriving:
            raise self._no_way(max(arriving, default=0))
        return self._spark_out(arriving.pop(self.steps), most)

    def _repeated(
        self, labels: NDArray[np.int64], front: _Front, known: _Front, at: int
    ) -> tuple[NDArray[np.int64], _Front, _Front]:
        """Ways with a pass without infeed more that are on the front, and the whole front."""
        more, _ = self._passes(front, labels, at, [at])
        if at not in more:
            return labels[:0], front, known
        whole = _Front.joined([known, more[at]])
        kept = self._front_of(whole, at)
        new = kept[kept >= len(known.cost_s)]
        labels, front = self._put_on_record(whole.take(new), np.zeros(len(new), int))
        return labels, front, whole.take(kept)

    def _record(self, at: int, front: _Front) -> None:
        """Costs and depths of the ways to ``at``, both rising; those on the front by time alone."""
        if self.cutting.heat is None:
            order = np.argsort(front.cost_s)
            self.fronts[at] = front.cost_s[order], front.reached_mm.min(axis=-1)[order]

    def _most(self, to: int) -> int:
        """Steps that a pass to this depth may take."""
        return self.rough if to <= self.rough_until else self.finish

    def _passes(
        self, front: _Front, labels: NDArray[np.int64], at: int, ahead: list[int]
    ) -> tuple[dict[int, _Front], bool]:
        """Every label of a front, at every feed, to each number of steps: what is allowed.

        Also whether a limit of force, power or heat has forbidden any, or made it wait.
        """
        if not ahead:
            return {}, False
        cutting = self.cutting
        infeed_s = self.infeed_s[np.array(ahead) - at]
        time = infeed_s[:, None] + self.traverse_s
        # Those that would be too late anyway need not be cut.
        soonest = front.cost_s[:, None, None] + time + self.least_s[ahead][:, None]
        who, column, feed = np.nonzero(soonest <= self.most_s)
        commanded = np.array(ahead)[column] * cutting.step_mm
        cut = cutting.cut(commanded, front.reached_mm[who], self.feeds[feed])
        force, power = cut.normal_n.max(axis=-1), cut.power_w.max(axis=-1)
        ok = (force <= cutting.normal_force_limit_n) & (power <= cutting.power_limit_w)
        load = np.maximum(force / cutting.normal_force_limit_n, power / cutting.power_limit_w)
        cost = front.cost_s[who] + time[column, feed] * (1 + EVENNESS * load**2)
        limited = not ok.all()
        if self.guide is not None:
            for i, to in enumerate(ahead):
                there = column == i
                quickest = self.guide.cost_to(to, cut.reached_mm[there].min(axis=-1))
                ok[there] &= cost[there] <= quickest + self.slack_s
        who, column, feed = who[ok], column[ok], feed[ok]
        found = _Front(
            cost[ok], cut.reached_mm[ok], labels[who], feed, front.heat[who], np.zeros(len(who))
        )
        if cutting.heat is not None and len(who):
            found, which = self._cooled(found, cutting.heat, power[ok], infeed_s[column])
            limited |= len(which) != len(column) or bool((found.cost_s > cost[ok][which]).any())
            column = column[which]
        return {ahead[c]: found.take(column == c) for c in np.unique(column).tolist()}, limited

    def _cooled(
        self, ways: _Front, heat: BladeHeat, power_w: Floats, infeed_s: Floats
    ) -> tuple[_Front, NDArray[np.int64]]:
        """The ways with every pause before the pass, and which of them each is."""
        depth = ways.reached_mm.max(axis=-1)
        fronts, all_which = [], []
        for longer_s, cost_s, waited in heat.pauses(ways.heat, depth, power_w, ways.feed):
            which = np.nonzero(np.isfinite(cost_s))[0]
            state = heat.after(
                waited[which], depth[which], power_w[which], ways.feed[which], infeed_s[which]
            )
            paused = ways.take(which)
            cost = paused.cost_s + cost_s[which]
            fronts.append(replace(paused, cost_s=cost, heat=state, longer_s=longer_s[which]))
            all_which.append(which)
        return _Front.joined(fronts), np.concatenate(all_which)

    def _keep(
        self, arrivals: list[tuple[int, _Front]], at: int
    ) -> tuple[NDArray[np.int64], _Front]:
        """The front of all ways that arrive, put on record."""
        all_ways = _Front.joined([front for _, front in arrivals])
        infed = np.concatenate([np.full(len(f.cost_s), steps) for steps, f in arrivals])
        kept = self._front_of(all_ways, at)
        return self._put_on_record(all_ways.take(kept), infed[kept])

    def _put_on_record(
        self, front: _Front, infed: NDArray[np.int64]
    ) -> tuple[NDArray[np.int64], _Front]:
        first = len(self.parents)
        self.parents += front.parent.tolist()
        self.infed += infed.tolist()
        self.fed += front.feed.tolist()
        self.waited += front.longer_s.tolist()
        return np.arange(first, first + len(infed)), front

    def _front_of(self, ways: _Front, at: int) -> NDArray[np.int64]:
        """Indices of the ways that no other beats in both time and least reached depth.

        Where heat counts, they are those that no other beats that is no warmer, to a level.
        """
        least = ways.reached_mm.min(axis=-1)
        if self.cutting.heat is None:
            return self._thinned(ways.cost_s, least, at)
        warmth = self.cutting.heat.hottest_k(ways.heat) / self.cutting.heat.soak_allowed_k
        level = np.floor(np.clip(warmth, 0.0, 1.0) * self.levels).astype(int)
        fronts = []
        for warmest in np.unique(level).tolist():
            which = np.nonzero(level <= warmest)[0]
            fronts.append(which[self._thinned(ways.cost_s[which], least[which], at)])
        return np.unique(np.concatenate(fronts))

    def _thinned(self, cost: Floats, least: Floats, at: int) -> NDArray[np.int64]:
        order = np.argsort(cost)
        deepest = np.maximum.accumulate(least[order])
        rises = np.concatenate([[True], deepest[1:] > deepest[:-1]])
        front = np.asarray(order[rises])
        if len(front) <= self.most_ways:
            return front
        # Of each equal share of the depths the quickest; a share begins where no more deflection
        # than allowed is left, so that a way that has just done enough is never thinned out.
        depth = least[front]
        share = (depth[-1] - depth[0]) / self.most_ways
        enough = at * self.cutting.step_mm - self.allowed_mm
        cell = np.floor((depth - enough) / share + 1e-9)
        return np.asarray(front[np.concatenate([[True], cell[1:] > cell[:-1]])])

    def _spark_out(self, arrivals: list[tuple[int, _Front]], most: int) -> Found:
        """Passes at the last infeed until the quickest ways have little enough deflection left."""
        enough = self.steps * self.cutting.step_mm - self.allowed_mm
        done: list[tuple[float, int]] = []
        for number in range(MOST_SPARK_OUT):
            done = sorted(done + self._done(arrivals, enough, most))[:most]
            labels, front = self._keep(arrivals, self.steps)
            if number == 0:
                self._record(self.steps, front)
            worst = done[-1][0] if len(done) == most else math.inf
            going = front.reached_mm.min(axis=-1) < enough
            going &= front.cost_s + self.traverse_s.min() < worst
            more, _ = self._passes(front.take(going), labels[going], self.steps, [self.steps])
            if not more:
                break
            arrivals = [(0, more[self.steps])]
        if not done:
            raise self._endless(front, self.steps * self.cutting.step_mm)
        ways = tuple(self._way_back(label) for _, label in done)
        return Found(ways, done[0][0], self.fronts)

    def _done(
        self, arrivals: list[tuple[int, _Front]], enough_mm: float, most: int
    ) -> list[tuple[float, int]]:
        """The quickest ways that are deep enough, beaten ones too: cost and label of each."""
        done: list[tuple[float, int]] = []
        for infed, ways in arrivals:
            ends = np.nonzero(ways.reached_mm.min(axis=-1) >= enough_mm)[0]
            quickest = ends[np.argsort(ways.cost_s[ends], kind="stable")[:most]]
            labels, _ = self._put_on_record(ways.take(quickest), np.full(len(quickest), infed))
            done += zip(ways.cost_s[quickest].tolist(), labels.tolist(), strict=True)
        return done

    def _way_back(self, label: int) -> tuple[Choice, ...]:
        choices = []
        while self.parents[label] >= 0:
            feed = float(self.feeds[self.fed[label]])
            choices.append(Choice(self.infed[label], feed, self.waited[label]))
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
