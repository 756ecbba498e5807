"""One plan: a job on a machine with a wheel, put together from the layers above it."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import cycle

from planner.batch.grit import GritPlan, grit_plan
from planner.batch.wear import BeltWear, WheelWear, belt_wear_of, used_up_refusals, wheel_wear_of
from planner.errors import Refusal, RefusedError
from planner.formulas.lens import Lens
from planner.inputs.job import Job
from planner.inputs.load import LoadedFile
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.inputs.steels import Steel
from planner.kinematics.held import as_held
from planner.kinematics.row import filled_stations
from planner.kinematics.settings import hand_cross_mm
from planner.kinematics.shape_refusals import line_refusals, round_refusals
from planner.kinematics.sizes_held import SizesHeld, arc_diameters_mm, sizes_held
from planner.kinematics.speeds import speed_refusals, surface_speed_m_s
from planner.kinematics.sweep import is_swept
from planner.kinematics.touch_frame import held_angle_deg
from planner.section.bent import BentSection, bent_section
from planner.section.bulge_work import FacetWork
from planner.section.form_refusals import of_form
from planner.section.holding import cannot_hold, edge_refusal, falls_short
from planner.section.spread import (
    EdgeSpread,
    FaceSpread,
    edge_spread,
    face_spread,
    lands_follow,
    most_helpful,
    share_in_tolerance,
)
from planner.section.swept import swept_length_mm
from planner.section.target import FaceRelief, Section, generated_arc_mm, section_for
from planner.section.wall import GougeWall, gouge_wall
from planner.section.wheel_shape import is_round, section_radius_mm
from planner.section.works import works_for
from planner.setup_plan import Setup, plan_setups
from planner.setup_programs import with_clearances
from planner.ways_tried import with_ways_tried


@dataclass(frozen=True)
class Totals:
    """What one run of all the programs comes to: one blade, or one row of blades."""

    passes: int
    spark_out_passes: int
    time_s: float
    removed_volume_mm3: float
    removed_mass_g: float
    blades: int = 1
    """How many are ground together."""
    clampings: int = 1
    """How many runs the batch takes, each station that is not skipped filled while there are
    blades."""
    in_last: int = 1
    """How many blades are left for the last run."""

    @property
    def time_per_blade_s(self) -> float:
        """Time of one run shared by its blades."""
        return self.time_s / self.blades

    @property
    def mass_per_blade_g(self) -> float:
        """Steel taken from one blade."""
        return self.removed_mass_g / self.blades


@dataclass(frozen=True)
class WheelTried:
    """A wheel of the rack that the planner tried, and what came of it."""

    name: str
    share: float | None
    time_s: float | None
    soak_c: float | None
    refused: tuple[Refusal, ...] = ()
    setups: tuple[Setup, ...] = ()
    """Those planned with it; none where it was refused."""
    worn_mm: float | None = None
    """Radius that a bonded wheel loses to a blade."""


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
    wall: GougeWall | None = None
    """Of a gouge along a sweep."""
    bent: BentSection | None = None
    """Of a blank that is bent after the grind."""
    sizes_held: SizesHeld | None = None
    """Of an edge that is followed: the sizes of wheel that these very programs hold the lands
    with."""

    @property
    def facet_share(self) -> float | None:
        """Of blades, with the facet that strays most in tolerance; None where no tilt is swept."""
        shares = [spread.share for s in self.setups for spread in s.facet_spreads]
        return min(shares, default=None)

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
    wall: GougeWall | None = None
    """Of a gouge along a sweep."""
    bent: BentSection | None = None
    """Of a blank that is bent after the grind."""


def section_fit(job: Job, machine: Machine) -> SectionFit:
    """The section for the job's wheel, or for the first of the rack that its geometry allows.

    The share in tolerance is that of a grind with no depth short; a plan knows better.

    Raises: RefusedError with the reasons of every wheel tried.
    """
    rack = [w for w in machine.rack if job.relief_wheel in (None, w.name)]
    blades = len(filled_stations(machine, job.quantity))
    refusals: list[Refusal] = []
    for wheel in rack:
        if flat := round_refusals(wheel):
            refusals += flat
            continue
        try:
            section = as_held(job, machine, section_with(job, machine, wheel))
            wall = gouge_wall(job, machine, section)
        except RefusedError as refused:
            refusals += [_with_wheel(r, wheel) for r in of_form(refused.refusals, wheel)]
            continue
        spreads = spreads_for(job, machine, wheel, section, blades)
        exact = [(0.0,)] * len(spreads)
        return SectionFit(
            wheel=wheel,
            section=section,
            spreads=spreads,
            share_in_tolerance=share_in_tolerance(spreads, exact),
            helpful=tuple(most_helpful(spreads, exact)),
            wall=wall,
            bent=bent_section(job, section),
        )
    raise RefusedError(refusals)


def plan_job(
    job: LoadedFile[Job],
    machine: LoadedFile[Machine],
    steel: Steel,
    blade: int = 1,
    skip: Collection[int] = (),
) -> Plan:
    """Plan a job, with its wheel or with the best of the rack.

    ``blade`` counts from 1: in a batch that is touched off once, its programs make up for the
    wear of the blades before it. In a row it is the first of the clamping. ``skip`` are stations
    of the row that hold no blade, beside those that no blade is left for.

    Raises: RefusedError with every reason found; ValueError for stations that do not exist.
    """
    left = job.model.quantity - blade + 1
    stations = filled_stations(machine.model, left, skip)
    room = 1 if machine.model.fixture.row is None else len(machine.model.fixture.row.positions_mm)
    room -= len(set(skip))
    rack = machine.model.rack
    named = job.model.relief_wheel
    if named is not None:
        rack = [next(w for w in rack if w.name == named)]

    def plan_with(job_: Job, machine_: Machine, wheel_: Wheel) -> Plan:
        return _plan_with(
            replace(job, model=job_),
            replace(machine, model=machine_),
            steel,
            wheel_,
            blade,
            stations,
            room,
        )

    tried: list[WheelTried] = []
    plans: list[Plan] = []
    for wheel in rack:
        try:
            plan = plan_with(job.model, machine.model, wheel)
        except RefusedError as refused:
            reasons = of_form(refused.refusals, wheel)
            tried.append(WheelTried(wheel.name, None, None, None, reasons))
        else:
            plans.append(plan)
            worn = plan.wheel_wear.per_blade_mm if plan.wheel_wear else None
            tried.append(
                WheelTried(
                    wheel.name,
                    plan.share_in_tolerance,
                    plan.totals.time_s,
                    plan.soak_c,
                    setups=plan.setups,
                    worn_mm=worn,
                )
            )
    if not plans:
        raise RefusedError(_reasons(job.model, machine.model, rack, tried, plan_with))
    if named is not None:
        return _with_sizes(plans[0])
    # Shares within a hundredth are alike: then the quicker wheel wins, then the cooler one.
    best = max(
        plans,
        key=lambda p: (round(p.share_in_tolerance, 2), -round(p.totals.time_s), -p.soak_c),
    )
    return _with_sizes(replace(best, wheels_tried=tuple(tried)))


def _plan_with(
    job: LoadedFile[Job],
    machine: LoadedFile[Machine],
    steel: Steel,
    wheel: Wheel,
    blade: int,
    stations: tuple[int, ...],
    room: int,
) -> Plan:
    """Plan with one wheel; ``room`` is how many blades a whole clamping takes."""
    shop = machine.model
    named = {wheel.name, *(o.wheel for o in job.model.operations or () if o.do != "relief")}
    mounted = [w for w in shop.rack if w.name in named]
    refusals = [refusal for each in mounted for refusal in speed_refusals(each, shop)]
    refusals += round_refusals(wheel)
    if refusals:
        raise RefusedError(refusals)
    section = as_held(job.model, shop, section_with(job.model, shop, wheel))
    wall = gouge_wall(job.model, shop, section)
    works = works_for(
        job.model,
        section,
        wheel,
        shop.rack,
        partial(hand_cross_mm, shop),
        partial(held_angle_deg, shop),
        swept=is_swept(job.model, shop),
    )
    blades = len(stations)
    setups = [
        with_clearances(job.model, shop, wheel, steel, setup)
        for setup in plan_setups(job.model, shop, steel, works, blade, stations)
    ]
    spreads = spreads_for(job.model, shop, wheel, section, blades)
    shortfalls = [net_shortfalls(setups, r.face) for r in section.reliefs]
    share = share_in_tolerance(spreads, shortfalls)
    if share < job.model.relief.share_in_tolerance:
        step = max(s.heated.cutting.step_mm for s in setups)
        raise RefusedError(
            [cannot_hold(job.model, shop, wheel, section, spreads, shortfalls, step, share, blades)]
        )
    short = [
        _falls_short(job.model, relief, section.lens(relief.face), setups)
        for relief in section.reliefs
    ]
    edge = edge_spread(job.model, shop, works, blades, _edge_off_mm(setups))
    short.append(edge_refusal(edge, job.model.relief.share_in_tolerance))
    refusals = [refusal for refusal in short if refusal is not None]
    if refusals:
        raise RefusedError(refusals)
    volumes = [
        sum(p.removed_area_mm2 for p in s.passes) * swept_length_mm(job.model, s.work)
        for s in setups
    ]
    refusals = used_up_refusals(
        job.model.quantity, [(s.work, v) for s, v in zip(setups, volumes, strict=True)]
    )
    if refusals:
        raise RefusedError(refusals)
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
            removed_volume_mm3=volume * blades,
            removed_mass_g=volume * blades * steel.density_kg_m3 * 1e-6,
            blades=blades,
            clampings=math.ceil(job.model.quantity / room),
            in_last=(job.model.quantity - 1) % room + 1,
        ),
        wheel_wear=wheel_wear_of(
            job.model, shop, wheel, section, sum(of_reliefs), of_reliefs[0], blades
        ),
        belt_wear=belt_wear_of(job.model, wheel, sum(of_reliefs), section.reliefs[0].chord_mm),
        grit=grit_plan(wheel),
        wheels_tried=(),
        wall=wall,
        bent=bent_section(job.model, section),
    )


def _with_sizes(plan: Plan) -> Plan:
    """The plan that is carried out, with what its wheel may measure along an edge that curves."""
    reliefs = [s for s in plan.setups if s.work.operation == "relief"]
    # In lines the axes make the arc: any wheel that fits into it would.
    paths = [
        (s.work, None if s.followed is None or s.work.in_lines else s.followed.path, s.row)
        for s in reliefs
    ]
    held = sizes_held(plan.job.model, plan.machine.model, paths)
    wear = plan.wheel_wear
    if wear is not None:
        sizes = arc_diameters_mm(plan.wheel, wear.diameters_mm, held)
        wear = replace(wear, diameters_mm=sizes)
    return replace(plan, sizes_held=held, wheel_wear=wear)


def _with_wheel(refusal: Refusal, wheel: Wheel) -> Refusal:
    """A reason told of the wheel that was tried for the relief, but where it names another."""
    return replace(refusal, facts={"wheel": wheel.name, **refusal.facts})


def _reasons(
    job: Job,
    machine: Machine,
    rack: Sequence[Wheel],
    tried: Sequence[WheelTried],
    plan_with: Callable[[Job, Machine, Wheel], Plan],
) -> list[Refusal]:
    """Why no wheel does, with ways out that do.

    What is so whichever wheel is taken is told of none, and that a flat wheel makes no relief only
    where there is no other.
    """

    def holds(other_job: Job, other_machine: Machine, wheel: Wheel) -> bool:
        try:
            plan_with(other_job, other_machine, wheel)
        except RefusedError:
            return False
        return True

    if len(rack) == 1:
        return [with_ways_tried(r, job, machine, rack[0], holds) for r in tried[0].refused]
    could = [(w, t) for w, t in zip(rack, tried, strict=True) if is_round(w)]
    could = could or list(zip(rack, tried, strict=True))
    return [
        reason
        if len(could) > 1 and all(reason in t.refused for _, t in could)
        else _with_wheel(with_ways_tried(reason, job, machine, wheel, holds), wheel)
        for wheel, one in could
        for reason in one.refused
    ]


def section_with(job: Job, machine: Machine, wheel: Wheel) -> Section:
    """The finished section by a wheel: its own arc, or the arc that its lines generate.

    Raises: RefusedError with every reason why the section is not possible.
    """
    if job.relief.scallop_mm is None:
        return section_for(job, section_radius_mm(wheel))
    arc = generated_arc_mm(job)
    refusals = line_refusals(machine, wheel, arc)
    if refusals:
        raise RefusedError(refusals)
    return section_for(job, arc)


def spreads_for(
    job: Job, machine: Machine, wheel: Wheel, section: Section, blades: int
) -> tuple[FaceSpread, ...]:
    """Spread of the lands of each relieved face, so many blades ground together."""
    return tuple(
        face_spread(
            job,
            machine,
            wheel,
            section.face(relief.face),
            relief,
            section.wheel_radius_mm,
            blades,
            lands_after=lands_follow(job, section.face(relief.face)),
        )
        for relief in section.reliefs
    )


def _falls_short(job: Job, relief: FaceRelief, lens: Lens, setups: list[Setup]) -> Refusal | None:
    """The refusal of a relief, or of the lands beside it, that comes out of tolerance.

    Each is judged by itself, the other at its target, and both together.
    """
    of = {s.work.operation: s for s in setups if s.relief.face == relief.face}
    aside = of["relief"].aside_mm
    alone = max(of["relief"].shortfalls_mm)
    each = [alone, max(net_shortfalls(setups, relief.face))]
    each += [-max(of["lands"].shortfalls_mm)] if "lands" in of else []
    found = (falls_short(job, relief, lens, short, aside) for short in each)
    return next((refusal for refusal in found if refusal is not None), None)


def _edge_off_mm(setups: Sequence[Setup]) -> tuple[float, float]:
    """How much thicker the edge comes out where flats lean that follow it: least and most."""
    # A bevel in turns is as the last of them leaves it.
    last = {s.relief.face: s for s in setups if s.work.operation == "bevel" and s.work.reaches_edge}
    each = [setup.edge_off_mm for setup in last.values()]
    return sum(low for low, _ in each), sum(high for _, high in each)


def net_shortfalls(setups: Sequence[Setup], face: str) -> tuple[float, ...]:
    """By how much the finished relief falls short: what stands beside it deepens it.

    That is lands which are not taken down, or a bevel whose flat leans along a followed edge.
    """
    of = {s.work.operation: s for s in setups if s.relief.face == face}
    short = of["relief"].shortfalls_mm
    above: tuple[float, ...] = (0.0,)
    if "lands" in of:
        above = of["lands"].shortfalls_mm
    elif "bevel" in of:
        # Of a bevel in turns the last counts, of facets each.
        facets = [s for s in setups if isinstance(s.work, FacetWork) and s.relief.face == face]
        leans = [s.path_shortfalls_mm for s in facets or [of["bevel"]]]
        above = (max(map(max, leans)), min(map(min, leans)))
    return tuple(missing - left for missing, left in zip(short, cycle(above), strict=False))
