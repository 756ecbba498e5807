"""A schedule followed with a wheel that wears: how much further it is sent, and whether it holds.

The wheel is touched off once, then loses radius to what it removes. It is sent further by the
whole steps of the infeed axis that have worn off, so it is never sent deeper than its wear makes
good. It lags its schedule by less than a step until the spark-out, which infeeds nothing; that lag
is part of the shortfall. A step made up is infeed that the schedule did not count: force, power and
the deflection left are looked at again here, and so is what a program rounds to its last decimal.
Along an edge that is followed one block may be deeper than its pass, by whole steps of the axes:
force and power are those of such a block.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.passes.conditions import Cutting
from planner.passes.schedule import Schedule

_SLACK = 1e-9

SLOWEST = 0.8
"""Share of its feed that a pass may be slowed to for a new wheel: about a step from one feed to the
next, so that its heat is near what was followed. Common practice, no source."""
_HALVINGS = 20


@dataclass(frozen=True)
class WornRun:
    """Every pass of a schedule with the wheel as worn as it is by then."""

    made_up_mm: tuple[float, ...]
    """How much further each pass is sent."""
    worn_mm: tuple[float, ...]
    """Radius lost since the touch-off when each pass begins."""
    areas_mm2: tuple[float, ...]
    """What each pass removes at the middle of the edge."""
    reached_mm: tuple[float, ...]
    """Depth that each pass reaches at the middle of the edge."""
    feeds_mm_min: tuple[float, ...]
    """That of the schedule, but where a new wheel has to go slower."""
    over: str
    """The limit that a made-up step breaks first; empty when all hold."""
    over_share: float
    """By how much: 1 is the limit itself."""

    @property
    def lag_mm(self) -> float:
        """Wear that the last pass does not make good."""
        return max(self.worn_mm[-1] - self.made_up_mm[-1], 0.0)


def follow_worn(
    cutting: Cutting,
    schedule: Schedule,
    worn_by_mm: Callable[[float], float],
    edge_length_mm: float,
    earlier_mm3: float,
    deflection_allowed_mm: float,
    new_wheel_at: int | None = None,
) -> WornRun:
    """Follow a schedule with its wheel wearing.

    ``worn_by_mm`` gives the radius lost to a volume of steel, ``earlier_mm3`` what was removed
    between the touch-off and this blade. Spark-out passes infeed nothing, so they make up no more
    than the pass before them. ``new_wheel_at`` is the index of the pass before which the wheel is
    changed and touched off anew: it has lost nothing, and stands where the old one stood back. What
    it takes besides may then need a slower feed.
    """
    step = cutting.step_mm
    reached = np.zeros(len(cutting.stiffness.stations))
    removed, made_up, sent = earlier_mm3, 0.0, 0.0
    ups, worns, areas, depths, feeds = [], [], [], [], []
    over, over_share = "", 1.0
    for index, one in enumerate(schedule.passes):
        if index == new_wheel_at:
            removed, made_up = 0.0, 0.0
        worn = worn_by_mm(removed)
        if one.kind != "spark_out":
            made_up = math.floor(worn / step + _SLACK) * step
        sent = max(cutting.written_mm(one.commanded_depth_mm + made_up) - worn, 0.0)
        feed = one.feed_mm_min
        if new_wheel_at is not None and index >= new_wheel_at:
            feed *= _slowed(cutting, sent, reached, feed)
        cut = cutting.cut(np.array(sent), reached, feed)
        shares = _shares(cutting, sent, reached, feed)
        reached = cut.reached_mm
        for name, share in shares.items():
            if share > over_share + _SLACK:
                over, over_share = name, share
        ups.append(made_up)
        worns.append(worn)
        areas.append(float(cut.area_mm2[0]))
        depths.append(float(reached[0]))
        feeds.append(feed)
        removed += areas[-1] * edge_length_mm
    # A step made up late may still be in the spring in part.
    allowed = deflection_allowed_mm + (step if made_up >= step else 0.0)
    left = (sent - float(reached.min())) / allowed
    if left > over_share + _SLACK:
        over, over_share = "deflection left", left
    return WornRun(
        tuple(ups), tuple(worns), tuple(areas), tuple(depths), tuple(feeds), over, over_share
    )


def _slowed(
    cutting: Cutting, sent_mm: float, reached_mm: NDArray[np.float64], feed_mm_min: float
) -> float:
    """Share of a feed at which force and power keep their limits: 1 where they do so."""

    def holds(share: float) -> bool:
        return max(_shares(cutting, sent_mm, reached_mm, share * feed_mm_min).values()) <= 1.0

    if holds(1.0):
        return 1.0
    low, high = SLOWEST, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _shares(
    cutting: Cutting, sent_mm: float, reached_mm: NDArray[np.float64], feed_mm_min: float
) -> dict[str, float]:
    """How much of force and power the deepest block of a pass uses."""
    cut = cutting.cut(np.array(sent_mm + cutting.uneven_mm), reached_mm, feed_mm_min)
    return {
        "normal force": float(cut.normal_n.max()) / cutting.normal_force_limit_n,
        "power": float(cut.power_w.max()) / cutting.power_limit_w,
    }
