"""One plan: a job on a machine with a wheel, put together from the layers above it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.batch.grit import GritPlan, grit_plan
from planner.batch.wear import BeltWear, WheelWear, belt_wear_of, wheel_wear_of
from planner.errors import Refusal, RefusedError
from planner.inputs.job import Job
from planner.inputs.load import LoadedFile
from planner.inputs.machine import Machine, Wheel
from planner.inputs.steels import Steel
from planner.kinematics.speeds import speed_refusals, surface_speed_m_s, wheel_radius_mm
from planner.not_planned import not_planned
from planner.section.holding import cannot_hold, falls_short
from planner.section.spread import FaceSpread, face_spread, most_helpful, share_in_tolerance
from planner.section.target import Section, section_for
from planner.setup_plan import Setup, plan_setups


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
    soak_c: float | None
    refused: tuple[Refusal, ...] = ()


@dataclass(frozen=True)
class Plan:
    """Everything that the programs, the screen and the papers are made from."""

    job: LoadedFile[Job]
    machine: LoadedFile[Machine]
    steel: Steel
    wheel: Wheel
    blade: int
    """Which blade of the batch the programs are for; 1 unless asked otherwise."""
    surface_speed_m_s: float
    section: Section
    setups: tuple[Setup, ...]
    share_in_tolerance: float
    helpful: tuple[tuple[str, float], ...]
    totals: Totals
    wheel_wear: WheelWear | None
    belt_wear: BeltWear | None
    grit: GritPlan | None
    wheels_tried: tuple[WheelTried, ...]

    @property
    def soak_c(self) -> float:
        """Highest temperature that builds up in the blade."""
        return max(t.soak_c for s in self.setups for t in s.marched.passes)

    @property
    def flash_c(self) -> float:
        """Highest temperature of the face under the wheel."""
        return max(t.flash_c for s in self.setups for t in s.marched.passes)


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
    rack = [w for w in machine.rack if job.relief_wheel in (None, w.name)]
    refusals: list[Refusal] = []
    for wheel in rack:
        radius = wheel_radius_mm(wheel)
        refusals += (left_out := not_planned(job, wheel))
        if left_out:
            continue
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
        exact = [(0.0,)] * len(spreads)
        return SectionFit(
            wheel=wheel,
            section=section,
            spreads=spreads,
            share_in_tolerance=share_in_tolerance(spreads, exact),
            helpful=tuple(most_helpful(spreads, exact)),
        )
    raise RefusedError(refusals)


def plan_job(
    job: LoadedFile[Job], machine: LoadedFile[Machine], steel: Steel, blade: int = 1
) -> Plan:
    """Plan a job, with its wheel or with the best of the rack.

    ``blade`` counts from 1: in a batch that is touched off once, its programs make up for the
    wear of the blades before it.

    Raises: RefusedError with every reason found.
    """
    rack = machine.model.rack
    named = job.model.relief_wheel
    if named is not None:
        wheel = next(w for w in rack if w.name == named)
        return _plan_with(job, machine, steel, wheel, blade)
    tried: list[WheelTried] = []
    plans: list[Plan] = []
    for wheel in rack:
        try:
            plan = _plan_with(job, machine, steel, wheel, blade)
        except RefusedError as refused:
            tried.append(WheelTried(wheel.name, None, None, None, refused.refusals))
        else:
            plans.append(plan)
            tried.append(
                WheelTried(wheel.name, plan.share_in_tolerance, plan.totals.time_s, plan.soak_c)
            )
    if not plans:
        raise RefusedError(
            Refusal(r.rule, {**r.facts, "wheel": t.name}, r.ways_out)
            for t in tried
            for r in t.refused
        )
    # Shares within a hundredth are alike: then the quicker wheel wins, then the cooler one.
    best = max(
        plans,
        key=lambda p: (round(p.share_in_tolerance, 2), -round(p.totals.time_s), -p.soak_c),
    )
    return Plan(**{**best.__dict__, "wheels_tried": tuple(tried)})


def _plan_with(
    job: LoadedFile[Job], machine: LoadedFile[Machine], steel: Steel, wheel: Wheel, blade: int
) -> Plan:
    shop = machine.model
    refusals = [*not_planned(job.model, wheel), *speed_refusals(wheel, shop)]
    if refusals:
        raise RefusedError(refusals)
    section = section_for(job.model, wheel_radius_mm(wheel))
    edge_length = job.model.blade.edge.length_mm
    setups = plan_setups(job.model, shop, wheel, steel, section, blade)
    spreads = [s.spread for s in setups]
    shortfalls = [s.shortfalls_mm for s in setups]
    share = share_in_tolerance(spreads, shortfalls)
    if share < job.model.relief.share_in_tolerance:
        step = max(s.heated.cutting.step_mm for s in setups)
        raise RefusedError(
            [cannot_hold(job.model, shop, wheel, section, spreads, shortfalls, step, share)]
        )
    short = [
        falls_short(job.model, s.relief, section.wheel_radius_mm, max(s.shortfalls_mm))
        for s in setups
    ]
    refusals = [refusal for refusal in short if refusal is not None]
    if refusals:
        raise RefusedError(refusals)
    volumes = [sum(p.removed_area_mm2 for p in s.passes) * edge_length for s in setups]
    volume, of_setup = sum(volumes), volumes[0]
    return Plan(
        job=job,
        machine=machine,
        steel=steel,
        wheel=wheel,
        blade=blade,
        surface_speed_m_s=surface_speed_m_s(wheel, shop),
        section=section,
        setups=tuple(setups),
        share_in_tolerance=share,
        helpful=tuple(most_helpful(spreads, shortfalls)),
        totals=Totals(
            passes=sum(len(s.passes) for s in setups),
            spark_out_passes=sum(p.kind == "spark_out" for s in setups for p in s.passes),
            time_s=sum(s.time_s for s in setups),
            removed_volume_mm3=volume,
            removed_mass_g=volume * steel.density_kg_m3 * 1e-6,
        ),
        wheel_wear=wheel_wear_of(job.model, shop, wheel, section, volume, of_setup),
        belt_wear=belt_wear_of(job.model, wheel, volume, section.reliefs[0].chord_mm),
        grit=grit_plan(wheel),
        wheels_tried=(),
    )
