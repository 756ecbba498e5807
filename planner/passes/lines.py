"""An arc generated in parallel lines: a relief by a smaller wheel, a bevel that bulges by any.

Every line is a pass of its own: the wheel touches the arc wanted at one place, from within that of
a relief and from outside that of a bevel, and the places lie so close that the ridges between them
are no higher than asked for (planner/formulas/contact.py). The arc is sunk in layers
(planner/section/line_arcs.py); in each the lines follow one another across it. A circle that
touches another from outside, or a larger one from within, stays clear of it elsewhere, so no line
ever cuts a land or digs into a bevel.
Each pass is followed on a grid of places across the face, its force in balance with the spring,
since what a line takes depends on its neighbours.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.kinematics.whole_steps import WHOLE as _WHOLE
from planner.kinematics.whole_steps import Placing
from planner.passes.conditions import Cutting
from planner.passes.deep import FEEDS, MANY_STEPS
from planner.passes.schedule import Pass, PassKind, Schedule
from planner.passes.worn import WornRun
from planner.section.line_arcs import Line, LineArc, Stand

Floats = NDArray[np.float64]
Order = Literal["across", "middle_out"]

ORDERS: tuple[Order, ...] = ("across", "middle_out")
"""Ways to go through the lines of a layer; the one with the shorter schedule wins."""

_PLACES = 1201
_MOST_STEPS = 60
_NO_STEP_MM = 1e-14
_BITE = "rough infeed"
_WEAR = "wheel wear"
_SLACK_MM = 1e-9

KEPT = 4
"""Schedules that are kept for their heat to be followed. Common practice, no source."""

MOST_LAYERS_AGAIN = 60
"""The last layer is repeated no more often than this. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Generated:
    """A schedule of lines, what binds each of its passes, and the same with the wheel wearing."""

    schedule: Schedule
    binding: tuple[str, ...]
    worn: WornRun
    order: Order
    peak_share: float
    """Largest removal of a pass over the mean of those that infeed."""

    @property
    def passes_s(self) -> float:
        """Time of all passes."""
        return sum(p.time_s for p in self.schedule.passes)


@dataclass(frozen=True)
class Generating:
    """What all schedules of a set-up in lines have in common."""

    arc: LineArc
    placed: Placing
    """Where the wheel can be sent."""
    most_bite_mm: float
    """The wheel's rough infeed, however much lighter the layers are."""
    allowed_mm: float
    """Deflection that may be left."""
    worn_by_mm: Callable[[float], float]
    """Radius lost to a volume of steel."""
    wheel_name: str
    earlier_mm3: float
    """Steel taken between the touch-off and this blade."""
    edge_length_mm: float


def generated_schedules(cutting: Cutting, task: Generating) -> list[Generated]:
    """The quickest of each feed and order, the quickest first; heat is not looked at.

    Raises: RefusedError when no feed is light enough at a step of infeed.
    """
    depth, step = task.arc.depth_mm, cutting.step_mm
    if depth < step:
        coarse: dict[str, Fact] = {"step_mm": step, "depth_mm": depth}
        raise RefusedError([Refusal("step-over-depth", coarse, (WayOut("finer-axis"),))])
    for kind, infeed in (("finish", cutting.finish_infeed_mm), ("rough", cutting.rough_infeed_mm)):
        if infeed < step * (1 - _WHOLE):
            over: dict[str, Fact] = {"step_mm": step, "infeed_mm": infeed, "kind": kind}
            ways = (WayOut("larger-infeed"), WayOut("finer-axis"))
            raise RefusedError([Refusal("step-over-infeed", over, ways)])
    lines = task.arc.lines()
    found: list[Generated] = []
    grounds: list[_Ground] = []
    feeds = cutting.feeds_mm_min.tolist()
    if depth / step > MANY_STEPS:
        feeds = [feed for index, feed in enumerate(feeds) if index in FEEDS]
    for feed in feeds:
        for order in ORDERS:
            grounds.append(_Ground(cutting, task, lines, feed))
            slowest_s = found[KEPT - 1].passes_s if len(found) >= KEPT else math.inf
            made = grounds[-1].schedule(order, slowest_s)
            if made is not None:
                found = sorted([*found, made], key=lambda g: (g.passes_s, g.peak_share))[:KEPT]
    if not found:
        raise RefusedError([_none_found(cutting, task, grounds)])
    return found


def _none_found(cutting: Cutting, task: Generating, grounds: Sequence[_Ground]) -> Refusal:
    if not grounds[0].last_layer:
        # Rounded away from the steel, no line comes a step deep.
        coarse: dict[str, Fact] = {"step_mm": cutting.step_mm, "depth_mm": task.arc.depth_mm}
        return Refusal("step-over-depth", coarse, (WayOut("finer-axis"),))
    wears = [ground.wears_mm for ground in grounds]
    if min(wears) > 0:
        worn: dict[str, Fact] = {
            "wheel": task.wheel_name,
            "worn_mm": min(wears),
            "step_mm": cutting.step_mm,
        }
        return Refusal("wears-step-a-pass", worn, (WayOut("harder-wheel"), WayOut("wider-wheel")))
    facts: dict[str, Fact] = {
        "reached_mm": 0.0,
        "depth_mm": task.arc.depth_mm,
        "step_mm": cutting.step_mm,
        "force_limit_n": cutting.normal_force_limit_n,
        "power_limit_w": cutting.power_limit_w,
    }
    freer = (WayOut("finer-axis"), WayOut("freer-wheel"), WayOut("stiffer-machine"))
    return Refusal("no-pass-light-enough", facts, freer)


def followed_anew(
    cutting: Cutting, task: Generating, passes: Sequence[Pass], new_wheel_at: int
) -> WornRun:
    """Passes in lines, followed with the wheel changed before the one with this index.

    Where one breaks a limit the run ends before it.
    """
    ground = _Ground(cutting, task, task.arc.lines(), passes[0].feed_mm_min)
    return ground.follow(passes, new_wheel_at)


@dataclass
class _Ground:
    """The face at one feed, as the lines go over it; (s, n) for stations and places."""

    cutting: Cutting
    task: Generating
    lines: Sequence[Line]
    feed_mm_min: float
    made_up_mm: float = 0.0
    wears_mm: float = 0.0
    """What a pass would wear off that was given up for it."""
    passes: list[Pass] = field(default_factory=list)
    binding: list[str] = field(default_factory=list)
    made_up: list[float] = field(default_factory=list)
    worn: list[float] = field(default_factory=list)
    reached: list[float] = field(default_factory=list)
    stood_back_mm: float = 0.0
    """How far a wheel that was changed stood back when it was taken off."""

    def __post_init__(self) -> None:
        self.arc = self.task.arc
        self.removed_mm3 = self.task.earlier_mm3
        self.places = np.linspace(*self.arc.span_mm, _PLACES)
        self.width = float(self.places[1] - self.places[0])
        self.surface = self.arc.surface_mm(self.places)
        """Depth of the face before, below the plane that the wheel bares on."""
        self.profile = np.tile(self.surface, (len(self.cutting.stiffness.stations), 1))
        self.sent = self.surface.copy()
        """What a rigid wheel would have left."""

    @cached_property
    def last_layer(self) -> list[Stand]:
        """Where the wheel stands for each line at the whole depth."""
        return self._stands(self.lines, self.arc.depth_mm)

    @cached_property
    def _per_area(self) -> float:
        c = self.cutting
        per_s = c.specific_energy_j_mm3 * self.feed_mm_min / 60
        return per_s / (c.surface_speed_m_s * c.force_ratio)

    def schedule(self, order: Order, slowest_s: float = math.inf) -> Generated | None:
        """All layers, then the last one again until little enough deflection is left.

        None where a limit breaks, or where it comes out slower than ``slowest_s``.
        """
        cutting = self.cutting
        if not self.last_layer:
            return None
        depth, layer = 0.0, 0
        rough_until = max(self.arc.depth_mm - cutting.finish_stock_mm, 0.0)
        while depth < self.arc.depth_mm - 1e-9:
            rough = depth < rough_until - 1e-9
            most = self._whole(cutting.rough_infeed_mm if rough else cutting.finish_infeed_mm)
            limit = rough_until if rough else self.arc.depth_mm
            infeed = min(most, limit - depth)
            bound = f"{'rough' if rough else 'finish'} infeed" if infeed == most else "depth left"
            kind: PassKind = "rough" if rough else "finish"
            while not (broken := self._layer(depth + infeed, order, layer, kind, bound)).holds:
                bound = broken.limit
                # A bite is too deep by a step of rounding, a force by any share.
                less = infeed - cutting.step_mm if bound == _BITE else infeed / 2
                infeed = self._whole(less)
                if infeed < cutting.step_mm:
                    return None
            if self.time_s > slowest_s:
                return None
            depth += infeed
            layer += 1
        for _ in range(MOST_LAYERS_AGAIN):
            if self._left_mm() <= self.task.allowed_mm:
                return self._made(order)
            if not self._layer(
                self.arc.depth_mm, order, layer, "spark_out", "deflection left"
            ).holds:
                return None
            layer += 1
        return None

    @property
    def time_s(self) -> float:
        """Of all passes so far."""
        return sum(p.time_s for p in self.passes)

    def _whole(self, infeed_mm: float) -> float:
        return math.floor(infeed_mm / self.cutting.step_mm + _WHOLE) * self.cutting.step_mm

    def _layer(
        self, depth_mm: float, order: Order, layer: int, kind: PassKind, bound: str
    ) -> _Outcome:
        """Grind one layer; where a limit breaks, nothing has changed."""
        before = (self.profile.copy(), self.sent.copy(), self.removed_mm3, self.made_up_mm)
        kept = len(self.passes)
        for line in self._stands(self._ordered(order, layer), depth_mm):
            limit = self._pass(line, kind, bound) if self._touches(line) else ""
            if limit:
                self.profile, self.sent, self.removed_mm3, self.made_up_mm = before
                grown_lists = (self.passes, self.binding, self.made_up, self.worn, self.reached)
                for grown in grown_lists:
                    del grown[kept:]
                return _Outcome(limit)
        return _Outcome("")

    def _ordered(self, order: Order, layer: int) -> list[Line]:
        lines = list(self.lines)
        if order == "middle_out":
            middle = (lines[0].along_mm + lines[-1].along_mm) / 2
            return sorted(lines, key=lambda line: (abs(line.along_mm - middle), line.along_mm))
        return lines if layer % 2 == 0 else lines[::-1]

    def _stands(self, lines: Sequence[Line], depth_mm: float) -> list[Stand]:
        """Where the wheel is sent for each line of a layer, those under a step left out."""

        def depth_at(along_mm: float) -> float:
            return depth_mm - self.arc.back_mm(along_mm)

        stands = [Stand(*self.task.placed(line.along_mm, depth_at)) for line in lines]
        least = self.cutting.step_mm * (1 - _WHOLE)
        return [s for s in stands if self._bite_mm(s) >= least]

    def _bite_mm(self, stand: Stand) -> float:
        """How deep a stand is in the face as it was before the work."""
        here = float(self.arc.surface_mm(np.array([stand.along_mm]))[0])
        where, rim = self._wheel(stand, stand.low_mm)
        return float((rim - self.surface[where]).max(initial=stand.low_mm - here))

    def _wheel(self, line: Stand, low_mm: float) -> tuple[slice, Floats]:
        """Depth of the wheel's rim below the face, and the places that it is over."""
        reach = math.sqrt(max(low_mm, 0.0) * 2 * self.arc.wheel_mm) + 2 * self.width
        first = int(np.searchsorted(self.places, line.along_mm - reach))
        last = int(np.searchsorted(self.places, line.along_mm + reach))
        offset = self.places[first:last] - line.along_mm
        rim = np.sqrt(np.maximum(self.arc.wheel_mm**2 - offset**2, 0.0)) - (
            self.arc.wheel_mm - low_mm
        )
        return slice(first, last), rim

    def _touches(self, line: Stand) -> bool:
        """Whether it finds steel: where its neighbours have taken all there is no pass."""
        lag = self.task.worn_by_mm(self.removed_mm3)
        step = self.cutting.step_mm
        lag -= math.floor(lag / step + 1e-9) * step
        where, rim = self._wheel(line, line.low_mm - lag)
        return bool((rim > self.profile[:, where]).any())

    def _pass(self, line: Stand, kind: PassKind, bound: str) -> str:
        """Grind one line; the name of the limit that it breaks, or nothing."""
        cutting, low_mm = self.cutting, line.low_mm
        worn = self.task.worn_by_mm(self.removed_mm3)
        # Each line is its own infeed, the last layer's repeated ones too.
        self.made_up_mm = math.floor(worn / cutting.step_mm + 1e-9) * cutting.step_mm
        where, rim = self._wheel(line, low_mm + self.made_up_mm - worn)
        if self._bites_too_deep(rim, where, worn):
            return _BITE
        ground = self.profile[:, where]
        overlap = rim - ground
        stiffness = cutting.stiffness.at(self._depth_mm())
        give = self._give(overlap, stiffness)
        cut = np.maximum(overlap - give[:, None], 0.0)
        area = cut.sum(axis=1) * self.width
        deepest = np.maximum(overlap.max(axis=1, initial=0.0), 0.0)
        pressed = np.minimum(stiffness * deepest, cutting.threshold_n)
        power = cutting.specific_energy_j_mm3 * area * self.feed_mm_min / 60
        tangential = power / cutting.surface_speed_m_s + pressed * cutting.force_ratio
        normal = self._per_area * area + pressed
        power = tangential * cutting.surface_speed_m_s
        if float(normal.max()) > cutting.normal_force_limit_n:
            return "normal force"
        if float(power.max()) > cutting.power_limit_w:
            return "power"
        removed = self.removed_mm3 + float(area[0]) * self.task.edge_length_mm
        if (wears := self.task.worn_by_mm(removed) - worn) > cutting.step_mm:
            self.wears_mm = wears
            return _WEAR
        self.profile[:, where] = np.maximum(ground, rim - give[:, None])
        self.sent[where] = np.maximum(self.sent[where], rim)
        self.removed_mm3 = removed
        self._note(line, give, area, normal, tangential, power, cut, where, rim, kind, bound)
        self.worn.append(worn)
        self.reached.append(low_mm + self.made_up_mm - worn - float(give[0]))
        return ""

    def _bites_too_deep(self, rim: Floats, where: slice, worn_mm: float) -> bool:
        """Beside an infeed, a pass may take the ridges before it and make up a step of wear."""
        step = self.cutting.step_mm
        most = self.task.most_bite_mm + self.arc.scallop_mm
        most += step if worn_mm >= step else self.stood_back_mm
        return float((rim - self.sent[where]).max(initial=0.0)) > most + _SLACK_MM

    def _give(self, overlap: Floats, stiffness: Floats) -> Floats:
        """How far each station gives way: k y = kappa A(y) + F_0. Shape: (s,).

        By Newton's rule from below: A falls ever less steeply, so that no step goes too far.
        """
        cutting = self.cutting
        touching = overlap.max(axis=1, initial=-1.0) > 0
        # Most of a large wheel hangs over steel that is gone: what does not touch never will.
        overlap = overlap[:, (overlap > 0).any(axis=0)]
        give = np.full(len(overlap), cutting.threshold_n) / stiffness
        for _ in range(_MOST_STEPS):
            rest = overlap - give[:, None]
            left = self._per_area * self.width * np.maximum(rest, 0.0).sum(axis=1)
            slope = stiffness + self._per_area * self.width * (rest > 0).sum(axis=1)
            more = (left + cutting.threshold_n - stiffness * give) / slope
            give = give + more
            if float(np.abs(more).max()) < _NO_STEP_MM:
                break
        return np.where(touching, give, 0.0)

    def _note(self, line: Stand, give: Floats, area: Floats, normal: Floats,
              tangential: Floats, power: Floats, cut: Floats, where: slice, rim: Floats,
              kind: PassKind, bound: str) -> None:  # fmt: skip
        cutting, low_mm = self.cutting, line.low_mm
        touched = np.nonzero(cut[0] > 0)[0]
        places = self.places[where]
        ends = [self.arc.foot_mm(line.along_mm, low_mm)] * 2
        if len(touched):
            at = touched[[0, -1]]
            below = zip(places[at].tolist(), rim[at].tolist(), strict=True)
            ends = [self.arc.foot_mm(place, depth) for place, depth in below]
        last = self.passes[-1] if self.passes else None
        moved = max(
            abs(low_mm - (last.commanded_depth_mm if last else 0.0)),
            abs(line.along_mm - (last.along_mm if last else 0.0)),
        )
        self.passes.append(
            Pass(
                number=len(self.passes) + 1,
                kind=kind,
                commanded_depth_mm=low_mm,
                reached_depth_mm=low_mm - float(give[0]),
                reached_by_station_mm=tuple(low_mm - float(g) for g in give),
                removed_area_mm2=float(area[0]),
                feed_mm_min=self.feed_mm_min,
                normal_force_n=float(normal.max()),
                tangential_force_n=float(tangential.max()),
                power_w=float(power.max()),
                time_s=cutting.traverse_time_s(self.feed_mm_min) + cutting.infeed_time_s(moved),
                along_mm=line.along_mm,
                band_mm=(ends[0] - self.width, ends[1] + self.width),
                section_depth_mm=self._depth_mm(0),
            )
        )
        self.binding.append(bound)
        self.made_up.append(self.made_up_mm)

    def _left_mm(self) -> float:
        return max(self._left_by_station())

    def _left_by_station(self) -> list[float]:
        """Greatest deflection left at any line, by station."""
        lag = self.worn[-1] - self.made_up_mm if self.worn else 0.0
        left = np.zeros(len(self.profile))
        for line in self.last_layer:
            where, rim = self._wheel(line, line.low_mm - max(lag, 0.0))
            left = np.maximum(left, (rim - self.profile[:, where]).max(axis=1, initial=0.0))
        return [float(x) for x in left]

    def _rounding_mm(self) -> float:
        """How far whole steps leave the arc short; deflection and wear have their own part."""
        lag = self.worn[-1] - self.made_up_mm if self.worn else 0.0
        short = [
            self.arc.short_mm(self.places, profile, self.surface, left, self.last_layer)
            for profile, left in zip(self.profile, self._left_by_station(), strict=True)
        ]
        return max(max(short) - lag, 0.0)

    def _depth_mm(self, station: int | None = None) -> float:
        """How deep the layers have come, at one station or at the deepest."""
        profile = self.profile.max(axis=0) if station is None else self.profile[station]
        return self.arc.depth_of_mm(self.places, profile, self.surface)

    def _made(self, order: Order) -> Generated:
        commanded = self.arc.depth_mm - self._rounding_mm()
        schedule = Schedule(
            passes=tuple(self.passes),
            stations=self.cutting.stiffness.stations,
            target_depth_mm=self.arc.depth_mm,
            commanded_depth_mm=commanded,
            reached_mm=tuple(commanded - left for left in self._left_by_station()),
        )
        areas = [p.removed_area_mm2 for p in self.passes if p.kind != "spark_out"]
        peak = max(areas) / (sum(areas) / len(areas)) if sum(areas) > 0 else 1.0
        return Generated(schedule, tuple(self.binding), self.worn_run(""), order, peak)

    def worn_run(self, over: str) -> WornRun:
        """The passes so far with the wheel wearing, and the limit that the next one breaks."""
        areas = tuple(p.removed_area_mm2 for p in self.passes)
        made_up, worn, reached = (tuple(x) for x in (self.made_up, self.worn, self.reached))
        feeds = tuple(p.feed_mm_min for p in self.passes)
        return WornRun(made_up, worn, areas, reached, feeds, over, 1.0)

    def follow(self, passes: Sequence[Pass], new_wheel_at: int) -> WornRun:
        """Grind passes that were planned, the wheel changed and touched off before one of them."""
        for index, one in enumerate(passes):
            if index == new_wheel_at:
                lag = self.task.worn_by_mm(self.removed_mm3) - self.made_up_mm
                self.stood_back_mm = max(min(lag, self.cutting.step_mm), 0.0)
                self.removed_mm3 = 0.0
            limit = self._pass(Stand(one.along_mm, one.commanded_depth_mm), one.kind, "")
            if limit:
                return self.worn_run(limit)
        left = self._left_mm() - self.task.allowed_mm
        return self.worn_run("deflection left" if left > _SLACK_MM else "")


@dataclass(frozen=True)
class _Outcome:
    """Whether a layer held, or the limit that it broke."""

    limit: str

    @property
    def holds(self) -> bool:
        """Every pass kept its limits."""
        return not self.limit
