"""From a section or a plan to the faces whose blades are drawn."""

from __future__ import annotations

from collections.abc import Sequence

from planner.batch.wear import in_lines, wheel_wear_of, worn_by_mm
from planner.errors import Refusal, RefusedError
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.kinematics.row import filled_stations
from planner.plan import Plan, SectionFit, net_shortfalls
from planner.scatter.blades import FaceCase, lands_of
from planner.scatter.causes import Wearing, drawn_causes
from planner.scatter.linear import with_wear
from planner.scatter.scatter import Scatter, scatter
from planner.section.size_on_path import size_on_path
from planner.section.spread import FaceSpread, shoulder_moves, touching_of
from planner.section.target import Section
from planner.section.wheel_shape import wearing_width_mm
from planner.section.work import edge_curvature_per_mm

_SAME_MM = 1e-6


def scatter_of_fit(job: Job, machine: Machine, fit: SectionFit, blades: int, seed: int) -> Scatter:
    """Blades drawn about a section whose depth comes out right on average.

    Raises: RefusedError for a face that the geometry of the draws does not know.
    """
    exact = [(0.0, 0.0)] * len(fit.spreads)
    together = len(filled_stations(machine, job.quantity))
    return _scatter(
        job, machine, fit.wheel, fit.section, fit.spreads, exact, together, blades, seed
    )


def scatter_of_plan(plan: Plan, blades: int, seed: int) -> Scatter:
    """Blades drawn about what the passes of a plan reach along the edge.

    Raises: RefusedError for a face that the geometry of the draws does not know.
    """
    short = [net_shortfalls(plan.setups, r.face) for r in plan.section.reliefs]
    return _scatter(
        plan.job.model,
        plan.machine.model,
        plan.wheel,
        plan.section,
        plan.spreads,
        [(min(s), max(s)) for s in short],
        plan.totals.blades,
        blades,
        seed,
    )


def _scatter(
    job: Job,
    machine: Machine,
    wheel: Wheel,
    section: Section,
    spreads: Sequence[FaceSpread],
    shortfalls: Sequence[tuple[float, float]],
    together: int,
    blades: int,
    seed: int,
) -> Scatter:
    wearing = wearing_of(job, machine, wheel, section, together)
    cases = [
        FaceCase(
            face=section.face(relief.face),
            relief=relief,
            rise_per_thickness=shoulder_moves(
                section.face(relief.face), job.blade.section
            ).rise_per_thickness,
            radius_mm=section.wheel_radius_mm,
            touching=touching_of(job, machine, together),
            shortfalls_mm=short,
            land_tolerance_mm=job.relief.land_tolerance_mm,
            causes=drawn_causes(spread, wearing),
            wearing=wearing,
            size=size_on_path(job, machine, wheel, section.face(relief.face)),
        )
        for relief, spread, short in zip(section.reliefs, spreads, shortfalls, strict=True)
    ]
    # A face that the geometry of the draws does not know is refused, not taken for another.
    if not all(_as_meant(case) for case in cases):
        raise RefusedError([Refusal("scatter-of-form", {"form": section.form})])
    linear = [with_wear(spread, case) for spread, case in zip(spreads, cases, strict=True)]
    return scatter(cases, linear, blades, seed)


def _as_meant(case: FaceCase) -> bool:
    """Whether a blade without any error comes out with the lands of its section."""
    found = lands_of(case, {}, 0.0)
    meant = (case.relief.edge_land_mm, case.relief.shoulder_land_mm)
    return all(abs(float(f) - m) < _SAME_MM for f, m in zip(found[:2], meant, strict=True))


def wearing_of(
    job: Job, machine: Machine, wheel: Wheel, section: Section, together: int
) -> Wearing | None:
    """The wear of the relief's wheel through the batch, up to where it is dressed or set anew.

    None for a belt, and where no G ratio is stated. Volumes are those of the finished reliefs.
    """
    length = job.edge.length_mm
    volumes = [r.removed_area_mm2 * length for r in section.reliefs]
    worn = wheel_wear_of(job, machine, wheel, section, sum(volumes), volumes[0], together)
    if worn is None:
        return None
    count = min(job.quantity, worn.dress_after or job.quantity)
    relief = section.reliefs[0]
    width = wearing_width_mm(
        wheel,
        relief.chord_mm,
        edge_curvature_per_mm(job, section.face(relief.face), relief),
    )
    return Wearing(
        before_mm=worn.offsets_mm[:count],
        within_mm=worn_by_mm(wheel, width, volumes[0] * together),
        g_ratio_error=wheel.g_ratio_error,
        smaller=wheel.contact == "along_edge" and not in_lines(wheel, section),
        zero_kept=worn.touch_off == "batch",
    )
