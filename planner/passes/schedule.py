"""The passes of one set-up: infeeds chosen by load, then spark-out until the spring is slack.

The state of a set-up is two depths below the unground face, normal to it: the one the program
has commanded and the one the wheel has reached. All commanded depths are whole steps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from planner.errors import Refusal, RefusedError, WayOut
from planner.formulas import grinding, motion, segment, spring

PassKind = Literal["rough", "finish", "spark_out"]

MOST_PASSES = 500
"""A plan longer than this is refused: no one waits for it, and the drift of a long run is not
in the spread. Common practice, no source."""


@dataclass(frozen=True)
class Cutting:
    """What one wheel does to one face on one machine: all that the passes depend on."""

    wheel_radius_mm: float
    surface_speed_m_s: float
    specific_energy_j_mm3: float
    force_ratio: float
    stiffness_n_mm: float
    rough_infeed_mm: float
    finish_infeed_mm: float
    finish_stock_mm: float
    step_mm: float
    """Depth of one whole step of the infeed axis."""
    normal_force_limit_n: float
    power_limit_w: float
    largest_feed_mm_min: float
    traverse_length_mm: float
    traverse_acceleration_mm_s2: float
    infeed_feed_mm_min: float
    infeed_acceleration_mm_s2: float

    def force_per_area(self, feed_mm_min: float) -> float:
        """Normal force per area removed, N/mm2."""
        return grinding.normal_force_per_area(
            self.specific_energy_j_mm3, feed_mm_min / 60, self.surface_speed_m_s, self.force_ratio
        )


@dataclass(frozen=True)
class Pass:
    """One traverse of the whole edge."""

    number: int
    kind: PassKind
    commanded_depth_mm: float
    reached_depth_mm: float
    removed_area_mm2: float
    feed_mm_min: float
    normal_force_n: float
    tangential_force_n: float
    power_w: float
    time_s: float

    @property
    def deflection_mm(self) -> float:
        """How far machine, wheel and blade give way in this pass."""
        return self.commanded_depth_mm - self.reached_depth_mm


@dataclass(frozen=True)
class Schedule:
    """All passes of a set-up, and what is left when they are done."""

    passes: tuple[Pass, ...]
    target_depth_mm: float
    commanded_depth_mm: float
    deflection_left_mm: float
    feed_mm_min: float

    @property
    def shortfall_mm(self) -> float:
        """Target less reached depth: the rounding to whole steps and the deflection left."""
        return self.target_depth_mm - self.passes[-1].reached_depth_mm


def plan_passes(cutting: Cutting, target_depth_mm: float, deflection_allowed_mm: float) -> Schedule:
    """Choose the passes from bare contact to a depth.

    The number of infeed passes is the least that keeps each within infeed limit, normal force and
    power; among plans of that number the one with the lowest greatest force is taken, so that
    infeeds shrink as the contact widens. Spark-out repeats the last infeed until the deflection
    left is no more than ``deflection_allowed_mm``; the target is never passed.

    Raises: RefusedError when a step is too coarse, a limit too low, or the spring too soft.
    """
    steps = math.floor(target_depth_mm / cutting.step_mm + 1e-9)
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
    feed = _feed(cutting, steps)
    finish_steps = min(math.ceil(cutting.finish_stock_mm / cutting.step_mm - 1e-9), steps)
    stages: list[tuple[PassKind, int, float]] = [
        ("rough", steps - finish_steps, cutting.rough_infeed_mm),
        ("finish", steps, cutting.finish_infeed_mm),
    ]
    passes: list[Pass] = []
    for kind, until, infeed_limit in stages:
        passes += _infeed_passes(cutting, feed, passes, kind, until, infeed_limit)
    passes += _spark_out(cutting, feed, passes, deflection_allowed_mm)
    return Schedule(
        passes=tuple(passes),
        target_depth_mm=target_depth_mm,
        commanded_depth_mm=steps * cutting.step_mm,
        deflection_left_mm=passes[-1].deflection_mm,
        feed_mm_min=feed,
    )


def _feed(cutting: Cutting, steps: int) -> float:
    """Largest traverse feed at which one step at full width keeps force and power."""
    deepest = steps * cutting.step_mm
    area = float(
        segment.segment_area(cutting.wheel_radius_mm, deepest)
        - segment.segment_area(cutting.wheel_radius_mm, deepest - cutting.step_mm)
    )
    feed = cutting.largest_feed_mm_min
    force = cutting.force_per_area(feed) * area
    power = float(grinding.grinding_power(cutting.specific_energy_j_mm3, area, feed / 60))
    share = max(force / cutting.normal_force_limit_n, power / cutting.power_limit_w, 1.0)
    if share > 1.0:
        feed = math.floor(feed / share)
    if feed < 1.0:
        raise RefusedError(
            [
                Refusal(
                    "one-step-too-heavy",
                    {
                        "step_mm": cutting.step_mm,
                        "force_n": force,
                        "force_limit_n": cutting.normal_force_limit_n,
                        "power_w": power,
                        "power_limit_w": cutting.power_limit_w,
                    },
                    (WayOut("finer-axis"), WayOut("freer-wheel")),
                )
            ]
        )
    return feed


def _next_pass(
    cutting: Cutting, feed: float, done: list[Pass], kind: PassKind, commanded_mm: float
) -> Pass:
    before = done[-1].reached_depth_mm if done else 0.0
    last = done[-1].commanded_depth_mm if done else 0.0
    reached, area = spring.reached_depth(
        commanded_mm,
        before,
        cutting.stiffness_n_mm,
        cutting.force_per_area(feed),
        cutting.wheel_radius_mm,
    )
    power = cutting.specific_energy_j_mm3 * area * feed / 60
    tangential = power / cutting.surface_speed_m_s
    return Pass(
        number=len(done) + 1,
        kind=kind,
        commanded_depth_mm=commanded_mm,
        reached_depth_mm=reached,
        removed_area_mm2=area,
        feed_mm_min=feed,
        normal_force_n=tangential / cutting.force_ratio,
        tangential_force_n=tangential,
        power_w=power,
        time_s=pass_time_s(cutting, feed, commanded_mm - last),
    )


def pass_time_s(cutting: Cutting, feed_mm_min: float, infeed_mm: float) -> float:
    """Time of one pass: the infeed at the reversal, then the traverse."""
    traverse = motion.move_time(
        cutting.traverse_length_mm, feed_mm_min / 60, cutting.traverse_acceleration_mm_s2
    )
    return traverse + motion.move_time(
        max(infeed_mm, 0.0), cutting.infeed_feed_mm_min / 60, cutting.infeed_acceleration_mm_s2
    )


def _infeed_passes(
    cutting: Cutting,
    feed: float,
    before: list[Pass],
    kind: PassKind,
    until_steps: int,
    infeed_limit_mm: float,
) -> list[Pass]:
    """Passes from the last commanded depth to ``until_steps``, least in number, evenest in load."""
    greedy = _greedy(cutting, feed, before, kind, until_steps, infeed_limit_mm, 1.0)
    if len(greedy) < 2:
        return greedy
    # The lowest share of the force and power limits at which no pass has to be added.
    low, high, best = 0.0, 1.0, greedy
    for _ in range(20):
        share = (low + high) / 2
        tried = _greedy(
            cutting, feed, before, kind, until_steps, infeed_limit_mm, share, len(greedy)
        )
        if tried and len(tried) <= len(greedy):
            high, best = share, tried
        else:
            low = share
    return best


def _greedy(
    cutting: Cutting,
    feed: float,
    before: list[Pass],
    kind: PassKind,
    until_steps: int,
    infeed_limit_mm: float,
    share: float,
    most: int = MOST_PASSES,
) -> list[Pass]:
    """The largest whole-step infeed that keeps the limits, pass after pass; empty when too many."""
    done = list(before)
    start = len(before)
    at = round(done[-1].commanded_depth_mm / cutting.step_mm) if done else 0
    most_steps = math.floor(infeed_limit_mm / cutting.step_mm + 1e-9)
    if most_steps < 1 and at < until_steps:
        raise RefusedError(
            [
                Refusal(
                    "step-over-infeed",
                    {"step_mm": cutting.step_mm, "infeed_mm": infeed_limit_mm, "kind": kind},
                    (WayOut("larger-infeed"), WayOut("finer-axis")),
                )
            ]
        )
    while at < until_steps:
        # Zero steps is a pass at the same infeed: it lets a soft machine catch up.
        for steps in range(min(most_steps, until_steps - at), -1, -1):
            tried = _next_pass(cutting, feed, done, kind, (at + steps) * cutting.step_mm)
            if (
                tried.normal_force_n <= share * cutting.normal_force_limit_n
                and tried.power_w <= share * cutting.power_limit_w
            ):
                break
        done.append(tried)
        at += steps
        if len(done) - start > most:
            if most < MOST_PASSES:
                return []
            raise RefusedError(
                [
                    Refusal(
                        "too-many-passes",
                        {"passes": MOST_PASSES, "depth_mm": until_steps * cutting.step_mm},
                        (WayOut("larger-infeed"), WayOut("freer-wheel")),
                    )
                ]
            )
    return done[start:]


def _spark_out(
    cutting: Cutting, feed: float, before: list[Pass], deflection_allowed_mm: float
) -> list[Pass]:
    done = list(before)
    commanded = done[-1].commanded_depth_mm
    while done[-1].deflection_mm > deflection_allowed_mm:
        done.append(_next_pass(cutting, feed, done, "spark_out", commanded))
        if len(done) > MOST_PASSES:
            raise RefusedError(
                [
                    Refusal(
                        "spark-out-endless",
                        {
                            "passes": MOST_PASSES,
                            "deflection_mm": done[-1].deflection_mm,
                            "allowed_mm": deflection_allowed_mm,
                            "stiffness_n_mm": cutting.stiffness_n_mm,
                        },
                        (WayOut("stiffer-machine"), WayOut("slower-feed"), WayOut("freer-wheel")),
                    )
                ]
            )
    return done[len(before) :]
