"""One set-up planned: frame, spread, passes with their heat, and what binds them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

from planner.errors import Refusal, RefusedError
from planner.formulas import motion
from planner.heat.choose import Heated, choose_schedule
from planner.heat.march import Marched
from planner.heat.model import HeatLimits, HeatModel, heat_model
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.steels import Steel
from planner.kinematics.clearance import Clearance
from planner.kinematics.edge_path import EdgeMotion
from planner.kinematics.edge_way import (
    EdgeWay,
    as_the_edge_sees_it,
    edge_way,
    rooms_of_way,
    stands_still,
    still_turn_refusals,
)
from planner.kinematics.in_the_way import full_depth_refusals
from planner.kinematics.room import Room, room_refusals
from planner.kinematics.row import Row, row_of, row_refusals
from planner.kinematics.shape_refusals import shape_refusals
from planner.kinematics.slide_blocks import SlideBlocks
from planner.kinematics.slide_flats import FlatLeft
from planner.kinematics.slide_operations import (
    AlongEdge,
    as_followed,
    left_all_along,
    left_at_told,
    reach_along_mm,
    worst_leans,
)
from planner.kinematics.slide_stations import Left
from planner.kinematics.sweep import Sweep, sweep_of
from planner.kinematics.sweep_refusals import step_refusals, uncovered_refusals
from planner.kinematics.sweep_spread import FacetSpread, rough_refusals, sweep_spread
from planner.kinematics.touch_frame import TouchFrame, axis_letter, linear_axis, touch_frame
from planner.kinematics.whole_steps import in_whole_steps
from planner.lines_plan import plan_lines
from planner.passes.binding import SPARK_OUT, binding_limits, relaxed
from planner.passes.blade_stiffness import stiffness_for
from planner.passes.conditions import Cutting, cutting_conditions, infeed_feed_mm_min
from planner.passes.schedule import Pass, Schedule
from planner.passes.worn import WornRun
from planner.section.spread import depth_tolerance_mm
from planner.section.sweep_work import SweepWork
from planner.section.target import FaceRelief
from planner.section.work import FaceWork
from planner.sweep_plan import plan_sweep
from planner.worn_plan import held_while_worn


@dataclass(frozen=True)
class Saving:
    """What a tenth more of a limit would save in this set-up."""

    limit: str
    seconds: float


@dataclass(frozen=True)
class Setup:
    """One clamping: one face, one tilt, one wheel, one program."""

    work: FaceWork
    shop: Machine
    """The machine as this set-up sees it: with a traverse that runs along the edge."""
    way: EdgeWay
    """How the edge comes under the wheel: turned, followed, or None for a straight one."""
    frame: TouchFrame
    row: Row
    heated: Heated
    limits: HeatLimits
    depth_tolerance_mm: float
    """How far the depth may be off before what the job asks of this operation is."""
    axes: dict[str, str]
    """Letter of each role the program moves."""
    binding: tuple[str, ...]
    """The limit that binds each pass."""
    savings: tuple[Saving, ...]
    time_s: float
    """The whole program, hands not counted but dips."""
    softest_n_mm: float
    worn: WornRun
    """The same passes with the wheel wearing."""
    followed_anew: Callable[[int], WornRun]
    """The same, the wheel changed and touched off anew before the pass with an index."""
    in_row: bool
    """Whether the fixture is a row, be it with one blade in it."""
    sweep: Sweep | None = None
    """Where each facet has the axes stand, of a set-up whose tilt is swept."""
    facet_spreads: tuple[FacetSpread, ...] = ()
    """How far each of them will stray."""
    clearances: tuple[Clearance, ...] = ()
    """The least distance of each part of the tool from each thing in the way, over every move of
    the program and of its air run; none until there are programs."""

    @property
    def turned(self) -> EdgeMotion | None:
        """How the turn takes an edge along an arc under the wheel."""
        return self.way if isinstance(self.way, EdgeMotion) else None

    @property
    def followed(self) -> SlideBlocks | None:
        """How the straight axes follow an edge that stands still."""
        return self.way if isinstance(self.way, SlideBlocks) else None

    @cached_property
    def stations_left(self) -> AlongEdge | None:
        """What the wheel leaves along an edge that is followed, at the stations that are told."""
        return None if self.followed is None else left_at_told(self.followed.path, self.work)

    @cached_property
    def _left(self) -> AlongEdge | None:
        return None if self.followed is None else left_all_along(self.followed.path, self.work)

    @cached_property
    def path_shortfalls_mm(self) -> tuple[float, ...]:
        """What keeping the direction of the wheel's axis comes to as depth, at its two worst.

        Of a flat what it leaves standing, the most first: of a relief beside it as much is missing.
        """
        if isinstance(self._left, Left):
            return float(self._left.shortfall_mm.min()), float(self._left.shortfall_mm.max())
        if isinstance(self._left, FlatLeft):
            return float(self._left.heights_mm.max()), float(self._left.heights_mm.min())
        return (0.0,) if self._left is None else (0.0, 0.0)

    @property
    def edge_off_mm(self) -> tuple[float, float]:
        """How much thicker the edge comes out by a flat that leans, at the least and the most."""
        if not isinstance(self._left, FlatLeft):
            return 0.0, 0.0
        off = self._left.edge_mm / math.cos(self.work.face.angle_rad)
        return float(off.min()), float(off.max())

    @property
    def jaw_clearance_mm(self) -> float | None:
        """The wheel's least distance from the jaws; None without jaws."""
        from_jaws = [
            c.distance_mm
            for c in self.clearances
            if c.obstacle.kind == "jaws" and c.part == "wheel"
        ]
        return min(from_jaws, default=None)

    @property
    def rooms(self) -> list[Room]:
        """The room of every axis that it moves."""
        if self.sweep is not None:
            return self.sweep.rooms(self.shop, self.row, self._sent)
        lines = [
            (p.commanded_depth_mm + more, p.along_mm)
            for p, more in zip(self.passes, self.compensation_mm, strict=True)
        ]
        return rooms_of_way(self.shop, self.way, self.frame, self.deepest_mm, self.row, lines)

    @property
    def _sent(self) -> list[tuple[int, float]]:
        """Facet and depth that each pass is sent to."""
        return [
            (p.facet or 0, p.commanded_depth_mm + more)
            for p, more in zip(self.passes, self.compensation_mm, strict=True)
        ]

    def position(self, one: Pass, depth_mm: float) -> tuple[float, float]:
        """Infeed and cross with the wheel where a pass has it, at a depth."""
        if self.sweep is not None:
            return self.sweep.position(one.facet, depth_mm)
        return self.frame.position(depth_mm, one.along_mm)

    @property
    def clear_mm(self) -> float:
        """Infeed at which the wheel is clear of the blade, beside a path that is followed."""
        fixture = self.shop.fixture
        return fixture.clearance_mm if self.sweep is None else self.sweep.clear_mm

    @property
    def name(self) -> str:
        """A or B, or operation and face."""
        return self.work.name

    @property
    def relief(self) -> FaceRelief:
        """The finished relief of the face."""
        return self.work.relief

    @property
    def program(self) -> str:
        """File name of the cutting program."""
        return f"setup-{self.name}{self.which_stations}.ngc"

    @property
    def which_stations(self) -> str:
        """What the file names say of the filled stations; empty for a fixture without a row."""
        if not self.in_row:
            return ""
        return "-stations-" + "-".join(str(n) for n in self.row.stations)

    @property
    def schedule(self) -> Schedule:
        """The passes and what they leave."""
        return self.heated.schedule

    @property
    def marched(self) -> Marched:
        """Temperatures and pauses."""
        return self.heated.marched

    @property
    def passes(self) -> tuple[Pass, ...]:
        """The passes, in order."""
        return self.schedule.passes

    @property
    def shortfalls_mm(self) -> tuple[float, ...]:
        """Target less reached depth at each station, wear that is not made up for included.

        Along an edge that is followed each of them with the least and the most that the wheel
        leaves otherwise than where it lies square, as the depth that would leave the same lands.
        """
        return tuple(
            short + self.worn.lag_mm + other
            for short in self.schedule.shortfalls_mm
            for other in self.path_shortfalls_mm
        )

    @property
    def deepest_mm(self) -> float:
        """Deepest commanded depth, wear made up for."""
        return max(
            p.commanded_depth_mm + more
            for p, more in zip(self.passes, self.compensation_mm, strict=True)
        )

    @property
    def compensation_mm(self) -> tuple[float, ...]:
        """How much further each pass is sent to make up for the wheel's wear."""
        return self.worn.made_up_mm

    @property
    def worn_before_mm(self) -> float:
        """Radius lost since the touch-off when this blade begins."""
        return self.worn.worn_mm[0]

    @property
    def aside_mm(self) -> float:
        """How much wider the edge land comes out than asked for, and narrower the shoulder land.

        With the drift at the deepest that the wheel is sent.
        """
        drift = self.frame.along_per_depth * self.deepest_mm
        return self.relief.land_share * (self.relief.off_middle_mm + drift)

    @property
    def uneven_depth_mm(self) -> float:
        """How much deeper the middle of the edge comes out than its ends."""
        short = self.schedule.shortfalls_mm
        return max(short) - min(short)


def plan_setups(
    job: Job,
    machine: Machine,
    steel: Steel,
    works: Sequence[FaceWork],
    blade: int,
    stations: tuple[int, ...] = (1,),
) -> list[Setup]:
    """Every set-up of a job, in the order they are ground, a blade in each of these stations.

    Raises: RefusedError with every reason found.
    """
    length = job.edge.length_mm
    refusals: list[Refusal] = still_turn_refusals(job, machine)
    ready = []
    for asked in works:
        work = asked
        frame = touch_frame(
            machine,
            work.zero_face,
            work.wheel_radius_mm or 0.0,
            work.zero_relief,
            length,
            work.flat_bares_mm,
        )
        reach, deepest = reach_along_mm(job, machine, work), work.deepest_mm
        row = row_of(machine, work.wheel, length, deepest, stations, work.curvature_per_mm, reach)
        way, refused = edge_way(job, machine, work, frame, row)
        if refused:
            refusals += refused
            continue
        if isinstance(way, SlideBlocks):
            work = as_followed(work, way.path)
        shop = as_the_edge_sees_it(machine, way)
        sweep = sweep_of(shop, frame, work)
        frame = frame if sweep is None else sweep.frame
        hops = tuple(_hop_s(shop, hop, deepest) for hop in row.hops_mm)
        row = replace(row, hops_s=hops)
        ready.append((work, shop, way, frame, row, sweep))
        refusals += row_refusals(row)
        refusals += shape_refusals(job, shop, work, frame)
        if sweep is None:
            rooms = rooms_of_way(shop, way, frame, deepest, row)
        else:
            rooms = sweep.rooms(shop, row)
            refusals += step_refusals(shop, sweep)
            refusals += uncovered_refusals(shop, sweep)
            refusals += rough_refusals(job, shop, sweep, row.blades)
        refusals += room_refusals(shop, frame, rooms)
        turned = way if isinstance(way, EdgeMotion) else None
        still = stands_still(way) is not None
        refusals += full_depth_refusals(shop, work, frame, row, turned, blade_alone=still)
    if refusals:
        raise RefusedError(worst_leans(refusals))
    planned = []
    for work, shop, way, frame, row, sweep in ready:
        try:
            setup = _plan_setup(job, shop, steel, work, frame, blade, row, way, sweep)
        except RefusedError as refused:
            raise RefusedError([of_work(r, work) for r in refused.refusals]) from refused
        planned.append(replace(setup, axes=_axes(machine, way)))
    # The lines of a relief, and wear that is made up for, take more than its depth in the middle.
    for setup in planned:
        refusals += room_refusals(setup.shop, setup.frame, setup.rooms)
    if refusals:
        raise RefusedError(refusals)
    return planned


def of_work(refusal: Refusal, work: FaceWork) -> Refusal:
    """Heat does not know whose passes it was asked about."""
    if refusal.rule != "too-hot":
        return refusal
    return replace(refusal, facts={"setup": work.name, "wheel": work.wheel.name, **refusal.facts})


def _axes(machine: Machine, way: EdgeWay) -> dict[str, str]:
    """Letter of each role that the programs move, or tell once to stand still."""
    turns = isinstance(way, EdgeMotion) or (
        isinstance(way, SlideBlocks) and way.path.turn is not None
    )
    roles = ("traverse", "infeed", "cross", "tilt", *(["turn"] if turns else []))
    return {role: letter for role in roles if (letter := axis_letter(machine, role)) is not None}


def _plan_setup(
    job: Job,
    machine: Machine,
    steel: Steel,
    work: FaceWork,
    frame: TouchFrame,
    blade: int,
    row: Row,
    way: EdgeWay,
    sweep: Sweep | None = None,
) -> Setup:
    length = job.edge.length_mm
    stiffness = stiffness_for(machine, work, length)
    followed = way if isinstance(way, SlideBlocks) else None
    # Off a path the wheel goes on up, over the whole blade, and comes down again.
    further_s = 0.0 if followed is None else _further_s(machine, followed.farthest_up_mm)
    if sweep is not None:
        further_s = _further_s(machine, sweep.clear_mm - machine.fixture.clearance_mm)
    tolerance = depth_tolerance_mm(job, work)
    cutting = cutting_conditions(machine, work, frame, length, stiffness, row, followed)
    model = heat_model(job, machine, steel, work, heel_first=frame.x_per_traverse > 0, row=row)
    allowed = job.relief.residual_share * tolerance
    # The blades of a row are dipped one after another.
    dips = machine.fixture.cooling == "dip" and steel.water_dip
    more_dips_s = (row.blades - 1) * machine.fixture.dip_pause_s if dips else 0.0
    setup = partial(
        Setup,
        work=work,
        shop=machine,
        way=way,
        row=row,
        in_row=machine.fixture.row is not None,
        frame=frame,
        limits=model.limits,
        depth_tolerance_mm=tolerance,
        axes={},
        sweep=sweep,
        facet_spreads=() if sweep is None else sweep_spread(job, machine, sweep, row.blades),
    )
    earlier = blade - 1 if machine.fixture.touch_off_each == "batch" else 0
    if work.in_lines:
        made = plan_lines(
            work,
            cutting,
            model,
            in_whole_steps(machine, frame),
            allowed,
            row,
            earlier,
            lambda depth: pause_overhead_s(machine, depth, further_s) + more_dips_s,
        )
        return setup(
            heated=made.heated,
            binding=made.binding,
            savings=(),
            time_s=_program_time_s(machine, made.heated) + further_s,
            worn=made.worn,
            followed_anew=made.followed_anew,
            softest_n_mm=stiffness.softest_n_mm,
        )
    if isinstance(work, SweepWork) and sweep is not None:
        swept = plan_sweep(
            job,
            machine,
            steel,
            work,
            sweep,
            row,
            earlier,
            lambda depth: pause_overhead_s(machine, depth, further_s) + more_dips_s,
        )
        return setup(
            heated=swept.heated,
            binding=swept.binding,
            savings=(),
            time_s=_program_time_s(machine, swept.heated) + further_s,
            worn=swept.worn,
            followed_anew=swept.followed_anew,
            softest_n_mm=swept.softest_n_mm,
        )

    def choose(
        conditions: Cutting = cutting,
        heat: HeatModel = model,
        deflection_mm: float = allowed,
        below_s: float = math.inf,
        deep_way: tuple[int, float] | None = None,
    ) -> Heated:
        return choose_schedule(
            conditions,
            heat,
            work.depth_mm,
            deflection_mm,
            lambda depth: pause_overhead_s(machine, depth, further_s) + more_dips_s,
            below_s,
            deep_way,
        )

    heated, followed_anew = held_while_worn(
        cutting, choose, work, row, lambda one_blade: earlier * one_blade, allowed
    )
    pauses = [p.seconds if p else 0.0 for p in heated.marched.pauses]
    binding = tuple(binding_limits(heated.cutting, heated.schedule.passes, pauses))
    again = partial(choose, below_s=heated.time_s, deep_way=heated.deep_way)
    easier: dict[str, Callable[[], Heated]] = {}
    for name in dict.fromkeys(binding):
        eased = relaxed(cutting, name)
        if eased is not None:
            easier[name] = partial(again, eased)
    if SPARK_OUT in binding:
        easier[SPARK_OUT] = partial(again, deflection_mm=1.1 * allowed)
    if heated.marched.pause_s > 0 or heated.cooler_passes:
        eased_limits = replace(model.limits, eased=1.1)
        easier["edge temperature"] = partial(again, heat=replace(model, limits=eased_limits))
    savings = [Saving(name, _saved_s(heated, eased_plan)) for name, eased_plan in easier.items()]
    return setup(
        heated=heated,
        binding=binding,
        savings=tuple(sorted(savings, key=lambda s: -s.seconds)),
        time_s=_program_time_s(machine, heated) + further_s,
        worn=followed_anew(None),
        followed_anew=followed_anew,
        softest_n_mm=stiffness.softest_n_mm,
    )


def _saved_s(heated: Heated, eased_plan: Callable[[], Heated]) -> float:
    try:
        return max(heated.time_s - eased_plan().time_s, 0.0)
    except RefusedError:  # nothing quicker than what there is
        return 0.0


def pause_overhead_s(machine: Machine, depth_mm: float, further_s: float = 0.0) -> float:
    """What a pause costs beside its own time.

    A dwell is taken where the wheel reverses, off the end of the blade, and costs nothing more; a
    stop for hands retracts, stops the wheel where the program can, and comes back; ``further_s``
    is what the way beyond clearance and back takes.
    """
    if machine.fixture.cooling == "air":
        return 0.0
    stopped = machine.spindle.control == "program"
    there = _retract_s(machine, depth_mm) + _approach_s(machine, depth_mm) + further_s
    return there + (machine.spindle.spin_up_s if stopped else 0.0)


def _further_s(machine: Machine, up_mm: float) -> float:
    """From clearance to the height over the whole blade, or that of any tilt, and down again."""
    infeed, way = linear_axis(machine, "infeed"), max(up_mm, 0.0)
    return 2.0 * motion.move_time(way, infeed.max_feed_mm_min / 60, infeed.acceleration_mm_s2)


def _hop_s(machine: Machine, distance_mm: float, depth_mm: float) -> float:
    """From rest beside one blade, over an empty station, to rest at the same depth beyond it."""
    traverse = linear_axis(machine, "traverse")
    across = motion.move_time(
        distance_mm, traverse.max_feed_mm_min / 60, traverse.acceleration_mm_s2
    )
    return _retract_s(machine, depth_mm) + across + _approach_s(machine, depth_mm)


def _retract_s(machine: Machine, depth_mm: float) -> float:
    infeed = linear_axis(machine, "infeed")
    distance = machine.fixture.clearance_mm + depth_mm
    return motion.move_time(distance, infeed.max_feed_mm_min / 60, infeed.acceleration_mm_s2)


def _approach_s(machine: Machine, depth_mm: float) -> float:
    infeed = linear_axis(machine, "infeed")
    distance = machine.fixture.clearance_mm + depth_mm
    return motion.move_time(distance, infeed_feed_mm_min(machine) / 60, infeed.acceleration_mm_s2)


def _program_time_s(machine: Machine, heated: Heated) -> float:
    """Spin-up, approach, passes and pauses, retract."""
    depth = heated.schedule.commanded_depth_mm
    return (
        machine.spindle.spin_up_s
        + _approach_s(machine, 0.0)
        + heated.time_s
        + _retract_s(machine, depth)
    )
