"""One plan: a job on a machine with a wheel, put together from the layers above it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.errors import Refusal, RefusedError
from planner.formulas import motion
from planner.inputs.job import Job
from planner.inputs.load import LoadedFile
from planner.inputs.machine import Machine, Wheel
from planner.inputs.steels import Steel
from planner.kinematics.room import room_refusals
from planner.kinematics.speeds import speed_refusals, surface_speed_m_s, wheel_radius_mm
from planner.kinematics.touch_frame import TouchFrame, axis_letter, linear_axis, touch_frame
from planner.passes.conditions import cutting_conditions, infeed_feed_mm_min, rigid_blade
from planner.passes.schedule import Pass, Schedule, plan_passes
from planner.section.holding import cannot_hold
from planner.section.spread import FaceSpread, face_spread, most_helpful, share_in_tolerance
from planner.section.target import FaceRelief, Section, section_for


@dataclass(frozen=True)
class Setup:
    """One clamping: one face, one tilt, one wheel, one program."""

    name: str
    relief: FaceRelief
    frame: TouchFrame
    schedule: Schedule
    spread: FaceSpread
    axes: dict[str, str]
    """Letter of each role the program moves."""

    @property
    def program(self) -> str:
        """File name of the cutting program."""
        return f"setup-{self.name}.ngc"

    @property
    def passes(self) -> tuple[Pass, ...]:
        """The passes, in order."""
        return self.schedule.passes


@dataclass(frozen=True)
class Totals:
    """What the whole job comes to, one blade."""

    passes: int
    spark_out_passes: int
    time_s: float
    removed_volume_mm3: float
    removed_mass_g: float


@dataclass(frozen=True)
class WheelTried:
    """A wheel of the rack that the planner tried, and what came of it."""

    name: str
    share: float | None
    time_s: float | None
    refused: tuple[Refusal, ...] = ()


@dataclass(frozen=True)
class Plan:
    """Everything that the programs, the screen and the papers are made from."""

    job: LoadedFile[Job]
    machine: LoadedFile[Machine]
    steel: Steel
    wheel: Wheel
    surface_speed_m_s: float
    section: Section
    setups: tuple[Setup, ...]
    share_in_tolerance: float
    helpful: tuple[tuple[str, float], ...]
    totals: Totals
    wheels_tried: tuple[WheelTried, ...]


@dataclass(frozen=True)
class SectionFit:
    """What ``section`` shows: the section for one wheel, and what to expect of it."""

    wheel: Wheel
    section: Section
    spreads: tuple[FaceSpread, ...]
    share_in_tolerance: float
    helpful: tuple[tuple[str, float], ...]


def section_fit(job: Job, machine: Machine) -> SectionFit:
    """The section for the job's wheel, or for the first of the rack that can make it.

    The share in tolerance is that of a grind with no depth short; a plan knows better.

    Raises: RefusedError with the reasons of every wheel tried.
    """
    rack = [w for w in machine.rack if job.wheel in (None, w.name)]
    refusals: list[Refusal] = []
    for wheel in rack:
        radius = wheel_radius_mm(wheel)
        try:
            section = section_for(job, radius)
        except RefusedError as refused:
            refusals += [
                Refusal(r.rule, {**r.facts, "wheel": wheel.name}, r.ways_out)
                for r in refused.refusals
            ]
            continue
        spreads = tuple(
            face_spread(job, machine, wheel, section.face(r.face), r, radius)
            for r in section.reliefs
        )
        exact = [0.0] * len(spreads)
        return SectionFit(
            wheel=wheel,
            section=section,
            spreads=spreads,
            share_in_tolerance=share_in_tolerance(spreads, exact),
            helpful=tuple(most_helpful(spreads, exact)),
        )
    raise RefusedError(refusals)


def plan_job(job: LoadedFile[Job], machine: LoadedFile[Machine], steel: Steel) -> Plan:
    """Plan a job, with its wheel or with the best of the rack.

    Raises: RefusedError with every reason found.
    """
    rack = machine.model.rack
    if job.model.wheel is not None:
        wheel = next(w for w in rack if w.name == job.model.wheel)
        return _plan_with(job, machine, steel, wheel)
    tried: list[WheelTried] = []
    plans: list[Plan] = []
    for wheel in rack:
        try:
            plan = _plan_with(job, machine, steel, wheel)
        except RefusedError as refused:
            tried.append(WheelTried(wheel.name, None, None, refused.refusals))
        else:
            plans.append(plan)
            tried.append(WheelTried(wheel.name, plan.share_in_tolerance, plan.totals.time_s))
    if not plans:
        raise RefusedError(
            Refusal(r.rule, {**r.facts, "wheel": t.name}, r.ways_out)
            for t in tried
            for r in t.refused
        )
    # Shares within a hundredth are alike: then the quicker wheel wins.
    best = max(plans, key=lambda p: (round(p.share_in_tolerance, 2), -p.totals.time_s))
    return Plan(**{**best.__dict__, "wheels_tried": tuple(tried)})


def _plan_with(
    job: LoadedFile[Job], machine: LoadedFile[Machine], steel: Steel, wheel: Wheel
) -> Plan:
    shop = machine.model
    refusals = speed_refusals(wheel, shop)
    if refusals:
        raise RefusedError(refusals)
    section = section_for(job.model, wheel_radius_mm(wheel))
    edge_length = job.model.blade.edge.length_mm
    setups: list[Setup] = []
    for relief in section.reliefs:
        frame = touch_frame(shop, section, relief, edge_length)
        refusals += room_refusals(shop, wheel, section, frame, relief.depth_mm, edge_length)
        spread = face_spread(
            job.model, shop, wheel, section.face(relief.face), relief, section.wheel_radius_mm
        )
        if refusals:
            continue
        blade = rigid_blade(shop.stiffness_n_mm, relief.depth_mm)
        cutting = cutting_conditions(shop, wheel, frame, edge_length, blade)
        allowed = job.model.relief.residual_share * spread.depth_tolerance_mm
        schedule = plan_passes(cutting, relief.depth_mm, allowed)
        setups.append(
            Setup(
                name=relief.face,
                relief=relief,
                frame=frame,
                schedule=schedule,
                spread=spread,
                axes={
                    role: letter
                    for role in ("traverse", "infeed", "cross", "tilt")
                    if (letter := axis_letter(shop, role)) is not None
                },
            )
        )
    if refusals:
        raise RefusedError(refusals)
    spreads = [s.spread for s in setups]
    shortfalls = [s.schedule.shortfall_mm for s in setups]
    share = share_in_tolerance(spreads, shortfalls)
    if share < job.model.relief.share_in_tolerance:
        raise RefusedError(
            [cannot_hold(job.model, shop, wheel, section, spreads, shortfalls, share)]
        )
    volume = sum(p.removed_area_mm2 for s in setups for p in s.passes) * edge_length
    return Plan(
        job=job,
        machine=machine,
        steel=steel,
        wheel=wheel,
        surface_speed_m_s=surface_speed_m_s(wheel, shop),
        section=section,
        setups=tuple(setups),
        share_in_tolerance=share,
        helpful=tuple(most_helpful(spreads, shortfalls)),
        totals=Totals(
            passes=sum(len(s.passes) for s in setups),
            spark_out_passes=sum(p.kind == "spark_out" for s in setups for p in s.passes),
            time_s=sum(_setup_time_s(shop, s) for s in setups),
            removed_volume_mm3=volume,
            removed_mass_g=volume * steel.density_kg_m3 * 1e-6,
        ),
        wheels_tried=(),
    )


def _setup_time_s(machine: Machine, setup: Setup) -> float:
    """Time of one program: spin-up, approach, passes, retract; hands not counted."""
    infeed = linear_axis(machine, "infeed")
    clear = machine.fixture.clearance_mm
    at = infeed.acceleration_mm_s2
    approach = motion.move_time(clear, infeed_feed_mm_min(machine) / 60, at)
    retract = motion.move_time(
        clear + setup.schedule.commanded_depth_mm, infeed.max_feed_mm_min / 60, at
    )
    return machine.spindle.spin_up_s + approach + sum(p.time_s for p in setup.passes) + retract
