"""A relief generated in parallel lines by a wheel smaller than its arc.

Every line is a pass of its own: the wheel touches the arc wanted from within at one place, and the
places lie so close that the ridges between them are no higher than the scallop asked for
(planner/formulas/contact.py). The arc is sunk in layers; in each the lines follow one another
across it. A circle that touches a larger one from within lies inside it, so no line ever cuts a
land. Each pass is followed on a grid of places across the face, its force in balance with the
spring, since what a line takes depends on its neighbours.
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
from planner.formulas.contact import spacing_for_scallop
from planner.passes.conditions import Cutting
from planner.passes.schedule import Pass, PassKind, Schedule
from planner.passes.worn import WornRun

Floats = NDArray[np.float64]
Order = Literal["across", "middle_out"]

ORDERS: tuple[Order, ...] = ("across", "middle_out")
"""Ways to go through the lines of a layer; the one with the shorter schedule wins."""

_PLACES = 1201
_HALVINGS = 40

MOST_LAYERS_AGAIN = 60
"""The last layer is repeated no more often than this. Common practice, no source."""


@dataclass(frozen=True)
class Line:
    """Where a line runs: beside the middle of the relief, and how far it stays back."""

    along_mm: float
    back_mm: float
    """How much less deep its lowest point lies than that of a line in the middle."""


def lines_of(
    arc_mm: float, wheel_mm: float, depth_mm: float, scallop_mm: float
) -> tuple[Line, ...]:
    """The lines that generate an arc of a depth, from the edge's side to the shoulder's.

    The outermost touch the arc where it meets the face. Raises: ValueError unless the wheel's
    radius is smaller than the arc's.
    """
    half = math.acos(1.0 - depth_mm / arc_mm)
    spacing = spacing_for_scallop(scallop_mm, wheel_mm, arc_mm)
    count = max(math.ceil(2 * half * arc_mm / spacing - 1e-9), 1) + 1
    angles = np.linspace(-half, half, count)
    off = arc_mm - wheel_mm
    return tuple(Line(off * math.sin(a), 2.0 * off * math.sin(a / 2) ** 2) for a in angles.tolist())


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


def generated_schedules(
    cutting: Cutting,
    lines: Sequence[Line],
    arc_mm: float,
    wheel_mm: float,
    depth_mm: float,
    allowed_mm: float,
    worn_by_mm: Callable[[float], float],
    earlier_mm3: float,
    edge_length_mm: float,
) -> list[Generated]:
    """Schedules at each feed and in each order, the quickest first; heat is not looked at.

    Raises: RefusedError when no feed is light enough at a step of infeed.
    """
    if depth_mm < cutting.step_mm:
        coarse: dict[str, Fact] = {"step_mm": cutting.step_mm, "depth_mm": depth_mm}
        raise RefusedError([Refusal("step-over-depth", coarse, (WayOut("finer-axis"),))])
    found = []
    for feed in cutting.feeds_mm_min.tolist():
        for order in ORDERS:
            ground = _Ground(cutting, lines, arc_mm, wheel_mm, depth_mm, feed, worn_by_mm,
                             earlier_mm3, edge_length_mm)  # fmt: skip
            made = ground.schedule(order, allowed_mm)
            if made is not None:
                found.append(made)
    if not found:
        facts: dict[str, Fact] = {
            "reached_mm": 0.0,
            "depth_mm": depth_mm,
            "step_mm": cutting.step_mm,
            "force_limit_n": cutting.normal_force_limit_n,
            "power_limit_w": cutting.power_limit_w,
        }
        ways = (WayOut("finer-axis"), WayOut("freer-wheel"), WayOut("stiffer-machine"))
        raise RefusedError([Refusal("no-pass-light-enough", facts, ways)])
    return sorted(found, key=lambda g: (g.passes_s, g.peak_share))


@dataclass
class _Ground:
    """The face at one feed, as the lines go over it; (s, n) for stations and places."""

    cutting: Cutting
    lines: Sequence[Line]
    arc_mm: float
    wheel_mm: float
    depth_mm: float
    feed_mm_min: float
    worn_by_mm: Callable[[float], float]
    removed_mm3: float
    edge_length_mm: float
    made_up_mm: float = 0.0
    passes: list[Pass] = field(default_factory=list)
    binding: list[str] = field(default_factory=list)
    made_up: list[float] = field(default_factory=list)
    worn: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        half = math.sqrt(self.depth_mm * (2 * self.arc_mm - self.depth_mm))
        self.places = np.linspace(-1.05 * half, 1.05 * half, _PLACES)
        self.width = float(self.places[1] - self.places[0])
        self.profile = np.zeros((len(self.cutting.stiffness.stations), _PLACES))

    @cached_property
    def _per_area(self) -> float:
        c = self.cutting
        per_s = c.specific_energy_j_mm3 * self.feed_mm_min / 60
        return per_s / (c.surface_speed_m_s * c.force_ratio)

    def schedule(self, order: Order, allowed_mm: float) -> Generated | None:
        """All layers, then the last one again until little enough deflection is left."""
        cutting = self.cutting
        depth, layer = 0.0, 0
        rough_until = max(self.depth_mm - cutting.finish_stock_mm, 0.0)
        while depth < self.depth_mm - 1e-9:
            rough = depth < rough_until - 1e-9
            most = cutting.rough_infeed_mm if rough else cutting.finish_infeed_mm
            limit = rough_until if rough else self.depth_mm
            infeed = min(most, limit - depth)
            bound = f"{'rough' if rough else 'finish'} infeed" if infeed == most else "depth left"
            kind: PassKind = "rough" if rough else "finish"
            while not (broken := self._layer(depth + infeed, order, layer, kind, bound)).holds:
                bound = broken.limit
                infeed = math.floor(infeed / 2 / cutting.step_mm + 1e-9) * cutting.step_mm
                if infeed < cutting.step_mm:
                    return None
            depth += infeed
            layer += 1
        for _ in range(MOST_LAYERS_AGAIN):
            if self._left_mm() <= allowed_mm:
                return self._made(order)
            if not self._layer(self.depth_mm, order, layer, "spark_out", "deflection left").holds:
                return None
            layer += 1
        return None

    def _layer(
        self, depth_mm: float, order: Order, layer: int, kind: PassKind, bound: str
    ) -> _Outcome:
        """Grind one layer; where a limit breaks, nothing has changed."""
        before = (self.profile.copy(), self.removed_mm3, self.made_up_mm, len(self.passes))
        for line in self._ordered(order, layer):
            low = math.floor((depth_mm - line.back_mm) / self.cutting.step_mm + 1e-9)
            if low < 1:
                continue
            limit = self._pass(line, low * self.cutting.step_mm, kind, bound)
            if limit:
                self.profile, self.removed_mm3, self.made_up_mm, kept = before
                for grown in (self.passes, self.binding, self.made_up, self.worn):
                    del grown[kept:]
                return _Outcome(limit)
        return _Outcome("")

    def _ordered(self, order: Order, layer: int) -> list[Line]:
        lines = list(self.lines)
        if order == "middle_out":
            return sorted(lines, key=lambda line: (abs(line.along_mm), line.along_mm))
        return lines if layer % 2 == 0 else lines[::-1]

    def _wheel(self, line: Line, low_mm: float) -> tuple[slice, Floats]:
        """Depth of the wheel's rim below the face, and the places that it is over."""
        reach = math.sqrt(max(low_mm, 0.0) * 2 * self.wheel_mm) + 2 * self.width
        first = int(np.searchsorted(self.places, line.along_mm - reach))
        last = int(np.searchsorted(self.places, line.along_mm + reach))
        offset = self.places[first:last] - line.along_mm
        rim = np.sqrt(np.maximum(self.wheel_mm**2 - offset**2, 0.0)) - (self.wheel_mm - low_mm)
        return slice(first, last), rim

    def _pass(self, line: Line, low_mm: float, kind: PassKind, bound: str) -> str:
        """Grind one line; the name of the limit that it breaks, or nothing."""
        cutting = self.cutting
        worn = self.worn_by_mm(self.removed_mm3)
        if kind != "spark_out":
            step = cutting.step_mm
            self.made_up_mm = math.floor(worn / step + 1e-9) * step
        where, rim = self._wheel(line, low_mm + self.made_up_mm - worn)
        ground = self.profile[:, where]
        overlap = rim - ground
        stiffness = cutting.stiffness.at(float(self.profile.max()))
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
        self.profile[:, where] = np.maximum(ground, rim - give[:, None])
        self.removed_mm3 += float(area[0]) * self.edge_length_mm
        self._note(line, low_mm, give, area, normal, tangential, power, cut, where, kind, bound)
        self.worn.append(worn)
        return ""

    def _give(self, overlap: Floats, stiffness: Floats) -> Floats:
        """How far each station gives way: k y = kappa A(y) + F_0, by halving. Shape: (s,)."""
        cutting = self.cutting
        touching = overlap.max(axis=1, initial=-1.0) > 0
        whole = np.maximum(overlap, 0.0).sum(axis=1) * self.width
        high = (self._per_area * whole + cutting.threshold_n) / stiffness
        low = np.zeros_like(high)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            area = np.maximum(overlap - middle[:, None], 0.0).sum(axis=1) * self.width
            over = self._per_area * area + cutting.threshold_n > stiffness * middle
            low, high = np.where(over, middle, low), np.where(over, high, middle)
        return np.where(touching, high, 0.0)

    def _note(self, line: Line, low_mm: float, give: Floats, area: Floats, normal: Floats,
              tangential: Floats, power: Floats, cut: Floats, where: slice, kind: PassKind,
              bound: str) -> None:  # fmt: skip
        cutting = self.cutting
        touched = np.nonzero(cut[0] > 0)[0]
        places = self.places[where]
        ends = (line.along_mm, line.along_mm)
        if len(touched):
            ends = (float(places[touched[0]]), float(places[touched[-1]]))
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
                section_depth_mm=float(self.profile[0].max()),
            )
        )
        self.binding.append(bound)
        self.made_up.append(self.made_up_mm)

    def _lows(self) -> list[tuple[Line, float]]:
        step = self.cutting.step_mm
        whole = [(x, math.floor((self.depth_mm - x.back_mm) / step + 1e-9)) for x in self.lines]
        return [(line, low * step) for line, low in whole if low >= 1]

    def _left_mm(self) -> float:
        return max(self._left_by_station())

    def _left_by_station(self) -> list[float]:
        """Greatest deflection left at any line, by station."""
        lag = self.worn[-1] - self.made_up_mm if self.worn else 0.0
        left = np.zeros(len(self.profile))
        for line, low in self._lows():
            where, rim = self._wheel(line, low - max(lag, 0.0))
            left = np.maximum(left, (rim - self.profile[:, where]).max(axis=1, initial=0.0))
        return [float(x) for x in left]

    def _made(self, order: Order) -> Generated:
        rounding = max(
            (self.depth_mm - line.back_mm - low for line, low in self._lows()),
            default=self.depth_mm,
        )
        commanded = self.depth_mm - rounding
        schedule = Schedule(
            passes=tuple(self.passes),
            stations=self.cutting.stiffness.stations,
            target_depth_mm=self.depth_mm,
            commanded_depth_mm=commanded,
            reached_mm=tuple(commanded - left for left in self._left_by_station()),
        )
        areas = [p.removed_area_mm2 for p in self.passes if p.kind != "spark_out"]
        worn = WornRun(
            tuple(self.made_up),
            tuple(self.worn),
            tuple(p.removed_area_mm2 for p in self.passes),
            tuple(p.reached_depth_mm for p in self.passes),
            "",
            1.0,
        )
        peak = max(areas) / (sum(areas) / len(areas)) if sum(areas) > 0 else 1.0
        return Generated(schedule, tuple(self.binding), worn, order, peak)


@dataclass(frozen=True)
class _Outcome:
    """Whether a layer held, or the limit that it broke."""

    limit: str

    @property
    def holds(self) -> bool:
        """Every pass kept its limits."""
        return not self.limit
