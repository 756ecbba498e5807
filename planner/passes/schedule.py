"""The passes of one set-up: the schedule found, followed pass by pass.

All depths are below the unground face, normal to it; all commanded depths are whole steps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.errors import Refusal, RefusedError, WayOut
from planner.kinematics.whole_steps import WHOLE
from planner.passes.conditions import Cutting
from planner.passes.deep import MANY_STEPS, deep_schedules
from planner.passes.search import Choice, Found, shortest_schedules

PassKind = Literal["rough", "finish", "spark_out"]


@dataclass(frozen=True)
class Pass:
    """One traverse of the whole edge; force, power and area are the greatest of the stations."""

    number: int
    kind: PassKind
    commanded_depth_mm: float
    reached_depth_mm: float
    """At the middle of the edge."""
    reached_by_station_mm: tuple[float, ...]
    removed_area_mm2: float
    """At the middle of the edge."""
    feed_mm_min: float
    normal_force_n: float
    tangential_force_n: float
    power_w: float
    time_s: float
    along_mm: float = 0.0
    """Where the wheel stands along the face, from the middle of the relief."""
    band_mm: tuple[float, float] | None = None
    """From where to where it touches, likewise; None where the depth alone says it."""
    section_depth_mm: float | None = None
    """How deep the section is by then, where that is not the depth reached."""
    facet: int | None = None
    """Which facet it grinds where the tilt is swept; its depths then count from the corner of the
    stock, normal to that facet."""
    least_pause_s: float = 0.0
    """What to wait before it at least, where more is worth it than the pass alone needs."""

    @property
    def deflection_mm(self) -> float:
        """How far machine, wheel and blade give way at the middle of the edge."""
        return self.commanded_depth_mm - self.reached_depth_mm


@dataclass(frozen=True)
class Schedule:
    """All passes of a set-up, and what is left when they are done."""

    passes: tuple[Pass, ...]
    stations: tuple[str, ...]
    target_depth_mm: float
    commanded_depth_mm: float
    reached_mm: tuple[float, ...]
    """What is reached in the end at each station."""

    @property
    def deflection_left_mm(self) -> float:
        """Greatest deflection of any station after the last pass."""
        return self.commanded_depth_mm - min(self.reached_mm)

    @property
    def shortfalls_mm(self) -> tuple[float, ...]:
        """Target less reached depth at each station: rounding to steps, and deflection left."""
        return tuple(self.target_depth_mm - r for r in self.reached_mm)

    @property
    def shortfall_mm(self) -> float:
        """The greatest of them."""
        return max(self.shortfalls_mm)


def plan_passes(cutting: Cutting, target_depth_mm: float, deflection_allowed_mm: float) -> Schedule:
    """The quickest passes from bare contact to a depth that keep every limit.

    The commanded depth is the target rounded down to whole steps: size is never chased by infeeding
    past it. Spark-out repeats the last infeed until no station has more than
    ``deflection_allowed_mm`` of deflection left.

    Raises: RefusedError when a step is too coarse, a limit too low, or the spring too soft.
    """
    choices = find_passes(cutting, target_depth_mm, deflection_allowed_mm).schedules[0]
    return followed(cutting, choices, target_depth_mm)


def find_passes(
    cutting: Cutting,
    target_depth_mm: float,
    deflection_allowed_mm: float,
    most: int = 1,
    without_heat: Found | None = None,
    below_s: float = math.inf,
    rough_look: bool = False,
) -> Found:
    """The same as choices that are not yet followed; see ``search.shortest_schedules``."""
    steps = math.floor(target_depth_mm / cutting.step_mm + WHOLE)
    if steps < 1:
        raise RefusedError(
            [
                Refusal(
                    "step-over-depth",
                    {"step_mm": cutting.step_mm, "depth_mm": target_depth_mm},
                    (WayOut("smaller-wheel-deepens"), WayOut("finer-axis")),
                )
            ]
        )
    if steps > MANY_STEPS:
        return deep_schedules(cutting, steps, deflection_allowed_mm, most)
    return shortest_schedules(
        cutting, steps, deflection_allowed_mm, most, without_heat, below_s, rough_look
    )


def followed(cutting: Cutting, choices: Sequence[Choice], target_depth_mm: float) -> Schedule:
    """Follow a sequence of choices pass by pass."""
    total = sum(c.steps for c in choices)
    reached = np.zeros(len(cutting.stiffness.stations))
    at = 0
    passes = []
    for number, choice in enumerate(choices, start=1):
        at += choice.steps
        commanded = at * cutting.step_mm
        cut = cutting.cut(np.array(commanded), reached, choice.feed_mm_min)
        reached = cut.reached_mm
        passes.append(
            Pass(
                number=number,
                kind=_kind(cutting, choice, at, total),
                commanded_depth_mm=commanded,
                reached_depth_mm=float(reached[0]),
                reached_by_station_mm=tuple(float(r) for r in reached),
                removed_area_mm2=float(cut.area_mm2[0]),
                feed_mm_min=choice.feed_mm_min,
                normal_force_n=float(cut.normal_n.max()),
                tangential_force_n=float(cut.tangential_n.max()),
                power_w=float(cut.power_w.max()),
                time_s=cutting.traverse_time_s(choice.feed_mm_min)
                + cutting.infeed_time_s(choice.steps * cutting.step_mm),
                least_pause_s=choice.pause_s,
            )
        )
    return Schedule(
        passes=tuple(passes),
        stations=cutting.stiffness.stations,
        target_depth_mm=target_depth_mm,
        commanded_depth_mm=total * cutting.step_mm,
        reached_mm=tuple(float(r) for r in reached),
    )


def _kind(cutting: Cutting, choice: Choice, at: int, total: int) -> PassKind:
    if at == total and choice.steps == 0:
        return "spark_out"
    return "rough" if at <= total - cutting.finish_steps else "finish"
