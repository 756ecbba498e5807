"""A swept tilt put together: each facet's passes, wear that runs on, and the heat of them all.

Every facet is scheduled as a set-up of its own would be, from the corner that the one before
really left. The wheel wears on from one to the next, and the temperatures are followed through the
whole program, the tilt's own moves counted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from planner.batch.wear import volume_for_wear_mm3, worn_by_mm
from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import motion
from planner.formulas.removal import TipRemoval
from planner.heat.choose import Heated, choose_schedule
from planner.heat.march import Marched, Pause, march
from planner.heat.model import HeatModel, heat_model
from planner.inputs.axes import LinearAxis, RotaryAxis
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.steels import Steel
from planner.kinematics.row import Row
from planner.kinematics.sweep import FacetStand, Sweep
from planner.kinematics.whole_steps import WHOLE
from planner.passes.binding import binding_limits
from planner.passes.blade_stiffness import stiffness_for
from planner.passes.conditions import Cutting, cutting_conditions, infeed_feed_mm_min
from planner.passes.schedule import Pass, Schedule
from planner.passes.worn import WornRun, follow_worn
from planner.section.bulge_work import FacetWork
from planner.section.spread import depth_tolerance_mm
from planner.section.sweep_work import SweepWork, below_stock_mm, course_of
from planner.worn_plan import held_while_worn

ROUNDS = ((0.0, 1.0), (1.1, 1.0), (1.3, 0.97), (1.6, 0.9), (2.0, 0.8))
"""What each facet by itself is planned for, until all of them hold one after the other: a factor on
the time that all contacts came to at first, which lowers the flash limit, and a share of the rise
above ambient. Common practice, no source."""

_LEAST_MM = 1e-6


@dataclass(frozen=True, eq=False)
class PlannedSweep:
    """What a set-up with a swept tilt is made from."""

    heated: Heated
    worn: WornRun
    binding: tuple[str, ...]
    followed_anew: Callable[[int], WornRun]
    """The passes, the wheel changed before the one with an index."""
    softest_n_mm: float


@dataclass(frozen=True, eq=False)
class _Planned:
    """One facet's own passes; its depths count from ``gap_mm`` above the corner."""

    stand: FacetStand
    cutting: Cutting
    heated: Heated
    gap_mm: float
    allowed_mm: float
    edges_mm: float

    @property
    def passes(self) -> tuple[Pass, ...]:
        """By its own depths."""
        return self.heated.schedule.passes

    @property
    def shift_mm(self) -> float:
        """From its own depths to those below the corner of the stock."""
        return self.stand.depth_mm - self.heated.schedule.commanded_depth_mm

    @property
    def left_mm(self) -> float:
        """Deflection that is left at the worst station."""
        return self.heated.schedule.deflection_left_mm

    def worn_by_mm(self, removed_mm3: float) -> float:
        """Radius that the wheel loses over the width of this facet."""
        return worn_by_mm(self.stand.work.wheel, self.stand.work.wearing_width_mm, removed_mm3)

    def earlier_mm3(self, worn_mm: float) -> float:
        """What would wear so much off over that width."""
        work = self.stand.work
        return volume_for_wear_mm3(work.wheel, work.wearing_width_mm, worn_mm)

    def follow(self, worn_mm: float, new_wheel_at: int | None = None) -> WornRun:
        """Its passes with a wheel that has lost so much when they begin."""
        return follow_worn(
            self.cutting,
            self.heated.schedule,
            self.worn_by_mm,
            self.edges_mm,
            self.earlier_mm3(worn_mm),
            self.allowed_mm,
            new_wheel_at,
        )

    def worn_after_mm(self, run: WornRun, new_wheel_at: int = 0) -> float:
        """What the wheel has lost when its passes are done."""
        before = self.earlier_mm3(run.worn_mm[new_wheel_at])
        return self.worn_by_mm(before + sum(run.areas_mm2[new_wheel_at:]) * self.edges_mm)


def plan_sweep(
    job: Job,
    machine: Machine,
    steel: Steel,
    work: SweepWork,
    sweep: Sweep,
    row: Row,
    earlier_blades: int,
    pause_overhead_s: Callable[[float], float],
) -> PlannedSweep:
    """The passes of all facets of one face, every limit kept from the first to the last.

    ``earlier_blades`` were ground since the wheel was touched off.
    Raises: RefusedError where none does.
    """
    task = _Task(job, machine, steel, work, sweep, row, earlier_blades, pause_overhead_s)
    course = course_of(work, [stand.work for stand in sweep.stands])
    heel_first = sweep.frame.x_per_traverse > 0
    model = heat_model(job, machine, steel, course, heel_first=heel_first, row=row)
    contacts_s = 0.0
    for factor, eased in ROUNDS:
        facets = task.facets(factor * contacts_s, eased)
        schedule = task.schedule(facets, course.begins_mm)
        if not contacts_s:
            contacts_s = model.contacts_s(np.array([p.feed_mm_min for p in schedule.passes]))
        marched = march(model, schedule)
        if marched is not None:
            return task.planned(facets, schedule, marched)
    limits = model.limits
    facts = {
        "soak_c": limits.soak_limit_c,
        "flash_c": limits.flash_limit_c(1.0),
        "ambient_c": model.ambient_c,
        "heat_share": model.share,
    }
    ways = (WayOut("freer-wheel"), WayOut("finer-axis"), WayOut("more-coolant"))
    raise RefusedError([Refusal("too-hot", facts, ways)])


@dataclass(frozen=True, eq=False)
class _Task:
    job: Job
    machine: Machine
    steel: Steel
    work: SweepWork
    sweep: Sweep
    row: Row
    earlier_blades: int
    pause_overhead_s: Callable[[float], float]

    @property
    def worn_before_mm(self) -> float:
        """What the blades before this one have taken off the wheel, as their facets come out."""
        each = []
        for stand in self.sweep.stands:
            facet = stand.work
            volume = float(facet.removal.area_mm2(np.array(facet.depth_mm))) * self.row.edges_mm
            each.append(worn_by_mm(facet.wheel, facet.wearing_width_mm, volume))
        return self.earlier_blades * sum(each)

    def facets(self, contacts_s: float, eased: float) -> list[_Planned]:
        """Every facet by itself, the blade cold, on what the one before it leaves."""
        planned: list[_Planned] = []
        worn, standing = self.worn_before_mm, 0.0
        for stand in self.sweep.stands:
            if planned:
                before = planned[-1].stand.work.facet
                # The corner on the flank goes toward the edge, so it stands up by this share.
                standing *= math.sin(stand.work.facet.angle_rad) / math.sin(before.angle_rad)
            one = self._facet(stand, standing, worn, (contacts_s, eased))
            run = one.follow(worn)
            if high := self._stands_high(one, run):
                raise RefusedError([high])
            worn = one.worn_after_mm(run)
            standing = one.left_mm + max(worn - run.made_up_mm[-1], 0.0)
            planned.append(one)
        return planned

    def _stands_high(self, one: _Planned, run: WornRun) -> Refusal | None:
        """A facet that is left too far over its tangent."""
        stand, tolerance = one.stand, depth_tolerance_mm(self.job, one.stand.work)
        high = stand.off_tangent_mm + one.left_mm + run.lag_mm
        if high <= tolerance:
            return None
        facts: dict[str, Fact] = {
            "facet": self.sweep.stands.index(stand) + 1,
            "face": stand.work.relief.face,
            "high_mm": high,
            "off_mm": stand.off_tangent_mm,
            "spring_mm": one.left_mm,
            "lag_mm": run.lag_mm,
            "tolerance_mm": tolerance,
        }
        ways = (WayOut("finer-axis"), WayOut("higher-ridge-alone"))
        return Refusal("facet-stands-high", facts, ways)

    def _facet(
        self, stand: FacetStand, standing_mm: float, worn_mm: float, limits: tuple[float, float]
    ) -> _Planned:
        job, machine, work, row = self.job, self.machine, stand.work, self.row
        length = job.edge.length_mm
        frame = self.sweep.frame
        stiffness = stiffness_for(machine, work, length)
        cutting = cutting_conditions(machine, work, frame, length, stiffness, row)
        real = work.depth_mm + standing_mm
        whole = math.ceil(real / cutting.step_mm - WHOLE) * cutting.step_mm
        facet, gap = work.facet, max(whole - real, 0.0)
        tip = TipRemoval(facet.edge_side + facet.shoulder_side, 2 * max(whole, real), gap)
        cutting = replace(cutting, removal=tip)
        allowed = job.relief.residual_share * depth_tolerance_mm(job, work)
        model = self._own_heat(work, *limits)

        def choose(conditions: Cutting) -> Heated:
            return choose_schedule(conditions, model, whole, allowed, self.pause_overhead_s)

        before = volume_for_wear_mm3(work.wheel, work.wearing_width_mm, worn_mm)
        heated, _ = held_while_worn(cutting, choose, work, row, lambda _: before, allowed)
        return _Planned(stand, cutting, heated, gap, allowed, row.edges_mm)

    def _own_heat(self, work: FacetWork, beside_s: float, eased: float) -> HeatModel:
        model = heat_model(
            self.job,
            self.machine,
            self.steel,
            work,
            heel_first=self.sweep.frame.x_per_traverse > 0,
            row=self.row,
        )
        return replace(model, limits=replace(model.limits, eased=eased, beside_s=beside_s))

    def schedule(self, facets: Sequence[_Planned], begins_mm: Sequence[float]) -> Schedule:
        """All passes one after the other, their depths below the corner of the stock."""
        passes: list[Pass] = []
        for number, (one, begin) in enumerate(zip(facets, begins_mm, strict=True)):
            deep = one.stand.work.depth_mm
            for p in one.passes:
                own = min(max(p.reached_depth_mm - one.gap_mm, _LEAST_MM), deep)
                passes.append(
                    replace(
                        p,
                        number=len(passes) + 1,
                        commanded_depth_mm=p.commanded_depth_mm + one.shift_mm,
                        reached_depth_mm=p.reached_depth_mm + one.shift_mm,
                        reached_by_station_mm=tuple(
                            r + one.shift_mm for r in p.reached_by_station_mm
                        ),
                        section_depth_mm=begin + own,
                        facet=number,
                    )
                )
            if number + 1 < len(facets):
                passes[-1] = replace(
                    passes[-1], time_s=passes[-1].time_s + self._turn_s(number, passes[-1])
                )
        worst = max(facets, key=self._short_mm)
        return Schedule(
            passes=tuple(passes),
            stations=worst.heated.schedule.stations,
            target_depth_mm=self._target_mm(worst),
            commanded_depth_mm=worst.stand.depth_mm,
            reached_mm=tuple(r + worst.shift_mm for r in worst.heated.schedule.reached_mm),
        )

    def _target_mm(self, one: _Planned) -> float:
        """Of the tangent below the corner of the stock."""
        return below_stock_mm(self.work.facets[self.sweep.stands.index(one.stand)])

    def _short_mm(self, one: _Planned) -> float:
        return one.stand.off_tangent_mm + one.left_mm

    def _turn_s(self, number: int, last: Pass) -> float:
        """Up from a facet's last pass, the tilt and the cross to the next, and down again."""
        sweep, machine = self.sweep, self.machine
        axes = {axis.role: axis for axis in machine.axes.values()}
        infeed, tilt, cross = axes["infeed"], axes["tilt"], axes.get("cross")
        assert isinstance(infeed, LinearAxis)
        assert isinstance(tilt, RotaryAxis)
        here, there = sweep.stands[number], sweep.stands[number + 1]
        up = sweep.clear_mm - sweep.position(number, last.commanded_depth_mm)[0]
        down = sweep.clear_mm - there.infeed_mm
        fast, slow = infeed.max_feed_mm_min / 60, infeed_feed_mm_min(machine) / 60
        seconds = motion.move_time(up, fast, infeed.acceleration_mm_s2)
        seconds += motion.move_time(down, slow, infeed.acceleration_mm_s2)
        turn = abs(there.tilt_deg - here.tilt_deg)
        seconds += motion.move_time(turn, tilt.max_feed_deg_min / 60, tilt.acceleration_deg_s2)
        if isinstance(cross, LinearAxis):
            way = abs(there.cross_mm - here.cross_mm)
            seconds += motion.move_time(way, cross.max_feed_mm_min / 60, cross.acceleration_mm_s2)
        return seconds

    def planned(self, facets: list[_Planned], schedule: Schedule, marched: Marched) -> PlannedSweep:
        """Everything of the set-up."""
        bare = sum(p.time_s for p in schedule.passes)
        waits = zip(schedule.passes, marched.pauses, strict=True)
        paused = sum(
            p.seconds + self.pause_overhead_s(one.commanded_depth_mm) for one, p in waits if p
        )
        heated = Heated(
            facets[0].heated.cutting,
            schedule,
            marched,
            bare + paused,
            heat_cost_s=paused,
            cooler_passes=any(one.heated.cooler_passes for one in facets),
        )
        return PlannedSweep(
            heated=heated,
            worn=self._follow(facets, None),
            binding=tuple(_bindings(facets, marched.pauses)),
            followed_anew=partial(self._follow, facets),
            softest_n_mm=min(one.cutting.stiffness.softest_n_mm for one in facets),
        )

    def _follow(self, facets: Sequence[_Planned], new_wheel_at: int | None) -> WornRun:
        """The passes of all facets with the wheel wearing, or changed before one of them."""
        runs: list[WornRun] = []
        worn, first = self.worn_before_mm, 0
        for one in facets:
            inside = new_wheel_at is not None and first <= new_wheel_at < first + len(one.passes)
            at = new_wheel_at - first if inside and new_wheel_at is not None else None
            run = one.follow(worn, at)
            worn = one.worn_after_mm(run, at or 0)
            first += len(one.passes)
            shift = one.shift_mm
            runs.append(replace(run, reached_mm=tuple(r + shift for r in run.reached_mm)))
            if run.over:
                break
        return WornRun(
            tuple(x for run in runs for x in run.made_up_mm),
            tuple(x for run in runs for x in run.worn_mm),
            tuple(x for run in runs for x in run.areas_mm2),
            tuple(x for run in runs for x in run.reached_mm),
            tuple(x for run in runs for x in run.feeds_mm_min),
            runs[-1].over,
            runs[-1].over_share,
        )


def _bindings(facets: Sequence[_Planned], pauses: Sequence[Pause | None]) -> list[str]:
    found, first = [], 0
    for one in facets:
        own = pauses[first : first + len(one.passes)]
        waited = [p.seconds if p else 0.0 for p in own]
        found += binding_limits(one.heated.cutting, one.passes, waited)
        first += len(one.passes)
    return found
