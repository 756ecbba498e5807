"""What the passes of a set-up depend on: one wheel, one face, one machine."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas import grinding, motion, spring, wheel_wear
from planner.formulas.removal import Removal
from planner.formulas.segment import Result
from planner.inputs.axes import LinearAxis
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.kinematics.row import Row, row_of
from planner.kinematics.slide_blocks import SlideBlocks
from planner.kinematics.speeds import surface_speed_m_s
from planner.kinematics.touch_frame import (
    TouchFrame,
    last_decimal_mm,
    linear_axis,
    smallest_step_mm,
)
from planner.kinematics.whole_steps import WHOLE
from planner.passes.blade_heat import BladeHeat
from planner.section.work import FaceWork

INFEED_FEED_MM_MIN = 200.0
"""Feed of the infeed moves, where the axis can: off the steel, so only their end matters.
Common practice, no source."""

FEED_SHARES = np.array([1.0, 0.8, 0.63, 0.5, 0.4, 0.25, 0.16, 0.1])
"""Traverse feeds that a schedule may choose from, as shares of the largest: steps of about a
fifth of a decade. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Stiffness:
    """Normal stiffness by station as the relief deepens; a rigid blade has one station."""

    stations: tuple[str, ...]
    depth_mm: NDArray[np.float64]
    """(g,) rising."""
    n_mm: NDArray[np.float64]
    """(g, s): machine, contact wheel and blade in series."""

    def at(self, depth_mm: ArrayLike) -> Result:
        """Stiffness with the relief at a depth. Shape: any -> (..., s)."""
        depth = np.asarray(depth_mm, float)
        columns = [np.interp(depth, self.depth_mm, column) for column in self.n_mm.T]
        return np.stack(columns, axis=-1)

    @property
    def softest_n_mm(self) -> float:
        """The least stiffness at the full depth."""
        return float(self.n_mm[-1].min())


@dataclass(frozen=True, eq=False)
class Cutting:
    """All that the passes of one set-up depend on."""

    removal: Removal
    surface_speed_m_s: float
    specific_energy_j_mm3: float
    force_ratio: float
    threshold_n: float
    stiffness: Stiffness
    rough_infeed_mm: float
    finish_infeed_mm: float
    finish_stock_mm: float
    step_mm: float
    """Depth of one whole step of the infeed axis."""
    normal_force_limit_n: float
    power_limit_w: float
    feeds_mm_min: NDArray[np.float64]
    """(f,): traverse feeds to choose from, falling."""
    feed_limit: str
    """What keeps the largest feed where it is: axis, wheel, run-off or controller."""
    traverse_length_mm: float
    traverse_acceleration_mm_s2: float
    infeed_feed_mm_min: float
    infeed_acceleration_mm_s2: float
    hops_s: tuple[float, ...] = ()
    """Over the empty stations of a row, from rest to rest: up, across and down again."""
    decimal_mm: float = 0.0
    """Depth of a last decimal that its steps are no multiples of, as between inches and
    millimetres: programs round to it. 0 where each step is written exactly."""
    uneven_mm: float = 0.0
    """How much deeper than its pass a block along an edge that is followed may be, by whole steps
    of the axes: 0 where one infeed holds for the whole edge."""
    heat: BladeHeat | None = None

    @property
    def identity(self) -> tuple[object, ...]:
        """Equal for conditions that allow the same passes, heat left aside.

        Infeeds count in whole steps: a tenth more is often no step more.
        """
        apart = ("heat", "stiffness", "rough_infeed_mm", "finish_infeed_mm", "finish_stock_mm")
        values = (getattr(self, f.name) for f in fields(self) if f.name not in apart)
        return (
            *(v.tobytes() if isinstance(v, np.ndarray) else v for v in values),
            self.rough_steps,
            self.finish_infeed_steps,
            self.finish_steps,
            self.stiffness.stations,
            self.stiffness.depth_mm.tobytes(),
            self.stiffness.n_mm.tobytes(),
        )

    @property
    def rough_steps(self) -> int:
        """Most whole steps of a rough infeed."""
        return math.floor(self.rough_infeed_mm / self.step_mm + WHOLE)

    @property
    def finish_infeed_steps(self) -> int:
        """Most whole steps of a finish infeed."""
        return math.floor(self.finish_infeed_mm / self.step_mm + WHOLE)

    @property
    def finish_steps(self) -> int:
        """Steps of depth kept for finish passes."""
        return math.ceil(self.finish_stock_mm / self.step_mm - WHOLE)

    def written_mm(self, depth_mm: float) -> float:
        """The depth that a program writes for a commanded one."""
        if self.decimal_mm == 0.0:
            return depth_mm
        return round(depth_mm / self.decimal_mm) * self.decimal_mm

    def traverse_time_s(self, feed_mm_min: float) -> float:
        """Time of one traverse, from rest to rest."""
        whole = motion.move_time(
            self.traverse_length_mm, feed_mm_min / 60, self.traverse_acceleration_mm_s2
        )
        return whole + sum(self.hop_delays_s(feed_mm_min))

    def hop_delays_s(self, feed_mm_min: float) -> tuple[float, ...]:
        """What each hop costs: its own time, and coming to rest before it and to speed again.

        The run-off lets the wheel come to speed on either side, so that is feed over acceleration.
        """
        rest_s = feed_mm_min / 60 / self.traverse_acceleration_mm_s2
        return tuple(hop + rest_s for hop in self.hops_s)

    def infeed_time_s(self, infeed_mm: float) -> float:
        """Time of the infeed at a reversal."""
        return motion.move_time(
            max(infeed_mm, 0.0), self.infeed_feed_mm_min / 60, self.infeed_acceleration_mm_s2
        )

    def cut(self, commanded_mm: ArrayLike, reached_mm: ArrayLike, feed_mm_min: ArrayLike) -> Cut:
        """One pass from a reached depth towards a commanded one.

        Shape: ``reached_mm`` (..., s); the others broadcast to its shape without s.
        """
        before = np.asarray(reached_mm, float)
        feed_s = np.asarray(feed_mm_min, float)[..., None] / 60
        stiffness = self.stiffness.at(before.max(axis=-1))
        per_area = self.specific_energy_j_mm3 * feed_s / (self.surface_speed_m_s * self.force_ratio)
        commanded = np.maximum(np.asarray(commanded_mm, float)[..., None], 0.0)
        after, area = spring.reached_depth(
            commanded, before, stiffness, per_area, self.removal, self.threshold_n
        )
        power = np.asarray(grinding.grinding_power(self.specific_energy_j_mm3, area, feed_s))
        tangential = power / self.surface_speed_m_s
        # Pressed without cutting, or beside cutting, the wheel rubs with its threshold force.
        pressed = np.minimum(stiffness * np.maximum(commanded - before, 0.0), self.threshold_n)
        rubbing = pressed * self.force_ratio
        return Cut(
            reached_mm=after,
            area_mm2=area,
            tangential_n=tangential + rubbing,
            normal_n=tangential / self.force_ratio + pressed,
            power_w=power + rubbing * self.surface_speed_m_s,
        )


@dataclass(frozen=True, eq=False)
class Cut:
    """What one pass does, at each station (the last axis)."""

    reached_mm: Result
    area_mm2: Result
    tangential_n: Result
    normal_n: Result
    power_w: Result


def cutting_conditions(
    machine: Machine,
    work: FaceWork,
    frame: TouchFrame,
    edge_length_mm: float,
    stiffness: Stiffness,
    row: Row | None = None,
    followed: SlideBlocks | None = None,
) -> Cutting:
    """What the passes depend on, from the profile and the frame; heat comes later.

    Without a ``row`` one blade is ground. Along an edge that is ``followed`` the positions are
    rounded on both sides of a bite, and an infeed keeps as much less.
    """
    wheel = work.wheel
    infeed, traverse = linear_axis(machine, "infeed"), linear_axis(machine, "traverse")
    row = row or row_of(machine, wheel, edge_length_mm, work.depth_mm)
    # The feed must be even over the steel, so the axis gets to speed within the run-off.
    reachable = 60 * math.sqrt(2 * traverse.acceleration_mm_s2 * machine.fixture.run_off_mm)
    # A pass is one block a leg, or many: none over sooner than the controller has read the next.
    legs = [high - low for low, high in row.legs_mm]
    shortest = min(legs) if followed is None else followed.shortest_mm
    readable = 60 * machine.controller.blocks_per_s * shortest
    rounded = 0.0 if followed is None else 2.0 * followed.rounding_mm
    limits = {"axis": traverse.max_feed_mm_min, "run-off": reachable, "controller": readable}
    if wheel.feed_mm_min is not None:
        limits["wheel"] = wheel.feed_mm_min
    feed_limit = min(limits, key=lambda name: limits[name])
    feeds = np.floor(limits[feed_limit] * FEED_SHARES)
    finish = wheel.infeed.finish_mm - rounded
    stock = wheel.infeed.finish_stock_mm
    return Cutting(
        removal=work.removal,
        surface_speed_m_s=surface_speed_m_s(wheel, machine),
        specific_energy_j_mm3=specific_energy_j_mm3(wheel),
        force_ratio=wheel.force_ratio,
        threshold_n=wheel.threshold_force_n,
        stiffness=stiffness,
        rough_infeed_mm=_rough_infeed_mm(machine, wheel, frame) - rounded,
        finish_infeed_mm=finish,
        finish_stock_mm=2 * wheel.infeed.finish_mm if stock is None else stock,
        step_mm=smallest_step_mm(machine, infeed) / abs(frame.infeed_per_depth),
        decimal_mm=0.0
        if _steps_are_written_whole(machine)
        else last_decimal_mm(machine) / abs(frame.infeed_per_depth),
        normal_force_limit_n=machine.limits.normal_force_n,
        power_limit_w=machine.spindle.power_w * machine.spindle.efficiency,
        # A very slow machine has one feed: its largest, not rounded.
        feeds_mm_min=np.unique(feeds[feeds >= 1.0])[::-1]
        if feeds[0] >= 1.0
        else np.array([limits[feed_limit]]),
        feed_limit=feed_limit,
        traverse_length_mm=sum(legs),
        traverse_acceleration_mm_s2=traverse.acceleration_mm_s2,
        infeed_feed_mm_min=infeed_feed_mm_min(machine),
        infeed_acceleration_mm_s2=infeed.acceleration_mm_s2,
        hops_s=row.hops_s,
        uneven_mm=rounded,
    )


def _rough_infeed_mm(machine: Machine, wheel: Wheel, frame: TouchFrame) -> float:
    """The wheel's limit as depth: where the wheel drifts, a pass bites more than it deepens.

    Whole last decimals leave half a decimal free of rounding, which a bite may be over.
    """
    rough = wheel.infeed.rough_mm
    free = last_decimal_mm(machine) / 2 if _steps_are_written_whole(machine) else 0.0
    return min(rough, (rough + free) / frame.bite_per_depth)


def _steps_are_written_whole(machine: Machine) -> bool:
    steps = smallest_step_mm(machine, linear_axis(machine, "infeed")) / last_decimal_mm(machine)
    return abs(steps - round(steps)) < WHOLE


def infeed_feed_mm_min(machine: Machine) -> float:
    """Feed of the infeed moves, which a cross axis takes part in where the tilt is off.

    Where the infeed's own part rounds to nothing, the cross has to make it alone.
    """
    most = [
        axis.max_feed_mm_min
        for axis in machine.axes.values()
        if isinstance(axis, LinearAxis) and axis.role in ("infeed", "cross")
    ]
    return min(INFEED_FEED_MM_MIN, *most)


def specific_energy_j_mm3(wheel: Wheel) -> float:
    """Energy to remove a cubic millimetre, a belt's wear so far taken in."""
    if wheel.belt is None:
        return wheel.specific_energy_j_mm3
    # How worn it is is a share of its life, however long that is.
    life = wheel.belt.life_mm3_mm2 or 1.0
    # Retired at one and a half times its first power, it would double at twice that volume.
    return float(
        wheel_wear.belt_specific_energy(
            wheel.specific_energy_j_mm3, wheel.belt.worn * life, 2.0 * life
        )
    )
