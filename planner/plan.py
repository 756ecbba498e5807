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
from planner.kinematics.shape_refusals import round_refusals
from planner.kinematics.speeds import speed_refusals, surface_speed_m_s
from planner.not_planned import not_planned
from planner.section.holding import cannot_hold, edge_refusal, falls_short
from planner.section.spread import (
    EdgeSpread,
    FaceSpread,
    edge_spread,
    face_spread,
    most_helpful,
    share_in_tolerance,
)
from planner.section.target import Section, section_for
from planner.section.wheel_shape import section_radius_mm
from planner.section.work import works_for
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
    spreads: tuple[FaceSpread, ...]
    """Of the lands of each relieved face."""
    edge: EdgeSpread | None
    """Of the edge thickness, where the bevels are ground."""
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
        refusals += (left_out := [*not_planned(job, wheel), *round_refusals(wheel)])
        if left_out:
            continue
        try:
            section = section_for(job, section_radius_mm(wheel))
        except RefusedError as refused:
            refusals += [
                Refusal(r.rule, {**r.facts, "wheel": wheel.name}, r.ways_out)
                for r in refused.refusals
            ]
            continue
        spreads = spreads_for(job, machine, wheel, section)
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
    refusals += round_refusals(wheel)
    if refusals:
        raise RefusedError(refusals)
    section = section_for(job.model, section_radius_mm(wheel))
    edge_length = job.model.blade.edge.length_mm
    works = works_for(job.model, section, wheel, shop.rack)
    setups = plan_setups(job.model, shop, steel, works, blade)
    spreads = spreads_for(job.model, shop, wheel, section)
    shortfalls = [_net_shortfalls(setups, r.face) for r in section.reliefs]
    share = share_in_tolerance(spreads, shortfalls)
    if share < job.model.relief.share_in_tolerance:
        step = max(s.heated.cutting.step_mm for s in setups)
        raise RefusedError(
            [cannot_hold(job.model, shop, wheel, section, spreads, shortfalls, step, share)]
        )
    short = [
        falls_short(job.model, relief, section.wheel_radius_mm, max(shortfall))
        for relief, shortfall in zip(section.reliefs, shortfalls, strict=True)
    ]
    edge = edge_spread(job.model, shop, works)
    short.append(edge_refusal(edge, job.model.relief.share_in_tolerance))
    refusals = [refusal for refusal in short if refusal is not None]
    if refusals:
        raise RefusedError(refusals)
    volumes = [sum(p.removed_area_mm2 for p in s.passes) * edge_length for s in setups]
    volume = sum(volumes)
    of_reliefs = [v for v, s in zip(volumes, setups, strict=True) if s.work.operation == "relief"]
    return Plan(
        job=job,
        machine=machine,
        steel=steel,
        wheel=wheel,
        blade=blade,
        surface_speed_m_s=surface_speed_m_s(wheel, shop),
        section=section,
        setups=tuple(setups),
        spreads=spreads,
        edge=edge,
        share_in_tolerance=share,
        helpful=tuple(most_helpful(spreads, shortfalls)),
        totals=Totals(
            passes=sum(len(s.passes) for s in setups),
            spark_out_passes=sum(p.kind == "spark_out" for s in setups for p in s.passes),
            time_s=sum(s.time_s for s in setups),
            removed_volume_mm3=volume,
            removed_mass_g=volume * steel.density_kg_m3 * 1e-6,
        ),
        wheel_wear=wheel_wear_of(job.model, shop, wheel, section, sum(of_reliefs), of_reliefs[0]),
        belt_wear=belt_wear_of(job.model, wheel, sum(of_reliefs), section.reliefs[0].chord_mm),
        grit=grit_plan(wheel),
        wheels_tried=(),
    )


def spreads_for(
    job: Job, machine: Machine, wheel: Wheel, section: Section
) -> tuple[FaceSpread, ...]:
    """Spread of the lands of each relieved face."""
    lands_after = any(o.do == "lands" for o in job.operations or ())
    return tuple(
        face_spread(
            job,
            machine,
            wheel,
            section.face(relief.face),
            relief,
            section.wheel_radius_mm,
            lands_after=lands_after,
        )
        for relief in section.reliefs
    )


def _net_shortfalls(setups: list[Setup], face: str) -> tuple[float, ...]:
    """By how much the finished relief falls short: lands that are not taken down deepen it."""
    of = {s.work.operation: s.shortfalls_mm for s in setups if s.relief.face == face}
    above = of.get("lands", (0.0,) * len(of["relief"]))
    return tuple(short - left for short, left in zip(of["relief"], above, strict=True))
