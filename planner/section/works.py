"""Every set-up's work in order, for all operations of a job."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

from planner.inputs.job import Job
from planner.inputs.rack import Wheel
from planner.section.bulge_work import BulgeWork, FacetWork, bulge_arc, half_way
from planner.section.facets import MOST_FACETS, MOST_SWEPT, Facet, facets_of, ridge_reached_mm
from planner.section.profile import BevelFace
from planner.section.sweep_work import with_sweeps
from planner.section.target import FaceRelief, Section
from planner.section.wheel_shape import is_round, section_radius_mm
from planner.section.work import (
    FaceState,
    FaceWork,
    OperationName,
    edge_curvature_per_mm,
    no_relief,
)

STOCK = FaceState(math.inf, 0.0)
"""A side of the stock before a bevel that bulges."""

Held = Callable[[str, float], float]
"""From a face and an angle wanted of it to the one that it can be held at, degrees."""


def works_for(
    job: Job,
    section: Section,
    relief_wheel: Wheel,
    rack: list[Wheel],
    stands_at_mm: Callable[[float], float] = lambda place: place,
    held_deg: Held = lambda face, angle: angle,
    *,
    swept: bool = False,
) -> list[FaceWork]:
    """Every set-up's work in order: operation by operation, face A before face B.

    ``stands_at_mm`` gives where a flat wheel can stand for a place that is wanted. Where the tilt
    is ``swept``, all facets of a face are one set-up.
    A bevel that takes much off its side is ground in turns with the other, and so are facets.
    Raises: RefusedError where no facets stand for a bevel that bulges.
    """
    operations = job.operations or ()
    allowance = next((o.allowance_mm for o in operations if o.do == "lands"), 0.0)
    by_name = {wheel.name: wheel for wheel in rack}
    stock = {f.face: _stock_outside_mm(f) for f in section.faces}
    begins_flat = any(o.do == "bevel" for o in operations)
    # A flat back comes as it stays: nothing is left on it, and no lands are ground there.
    backs = {f.face for f in section.faces if f.edge_angle_deg == 0.0}
    left = {f: allowance if section.relief(f) and f not in backs else 0.0 for f in stock}
    states = {f: FaceState(stock[f] if begins_flat else left[f], 0.0) for f in stock}
    works: list[FaceWork] = []
    if begins_flat and job.bevel_ridge_mm is not None:
        bevel = next(by_name[o.wheel] for o in operations if o.do == "bevel")
        works += _bulge_works(job, section, bevel, stands_at_mm, held_deg, swept)
        operations = [o for o in operations if o.do != "bevel"]
        states = dict.fromkeys(stock, FaceState(0.0, 0.0))
    wheels: list[tuple[OperationName, Wheel]] = [
        (o.do, relief_wheel if o.do == "relief" else by_name[o.wheel]) for o in operations
    ]
    turns: list[tuple[OperationName, Wheel, int]] = []
    for do, wheel in wheels or [("relief", relief_wheel)]:
        stages = job.bevel_stages if do == "bevel" else 1
        turns += [(do, wheel, stage) for stage in range(1, stages + 1)]
    for do, wheel, stage in turns:
        for face in section.faces:
            relief = section.relief(face.face)
            if relief is None and do != "bevel":
                continue
            if do != "relief" and face.face in backs:
                continue
            deep = relief.depth_mm if relief else 0.0
            remaining = 1 - stage / max(job.bevel_stages, 1)
            after = {
                "bevel": FaceState(
                    left[face.face] + remaining * (stock[face.face] - left[face.face]), 0.0
                ),
                "relief": FaceState(states[face.face].outside_mm, deep + left[face.face]),
                "lands": FaceState(0.0, deep),
            }[do]
            name = face.face if job.operations is None else f"{do}-{face.face}"
            if do == "bevel" and job.bevel_stages > 1:
                name += f"-{stage}"
            works.append(
                FaceWork(
                    name=name,
                    operation=do,
                    wheel=wheel,
                    section=section,
                    relief=relief or no_relief(face),
                    before=states[face.face],
                    after=after,
                    other=states["B" if face.face == "A" else "A"],
                    wheel_radius_mm=section_radius_mm(wheel) if do == "relief" else None,
                    flat_place_mm=stands_at_mm(face.start_mm + face.width_mm / 2),
                    curvature_per_mm=edge_curvature_per_mm(job, face, relief),
                    ridge_mm=job.relief.scallop_mm if do == "relief" else None,
                )
            )
            states[face.face] = after
    return works


def _bulge_works(
    job: Job,
    section: Section,
    wheel: Wheel,
    stands_at_mm: Callable[[float], float],
    held_deg: Held,
    swept: bool,
) -> list[FaceWork]:
    """Bevels out of the bar of which one bulges at least, a flat back left as it comes.

    In lines face by face; by a flat wheel turn by turn, the facets of one that bulges and the
    turns of a flat one. Where the tilt is swept face by face too.
    """
    if is_round(wheel):
        return _line_works(job, section, wheel, stands_at_mm)
    assert job.bevel_ridge_mm is not None
    states = _bar_states(section)
    most = MOST_SWEPT if swept else MOST_FACETS
    all_bulge = all(f.bulge for f in _bevelled(section))
    facets = {
        f.face: facets_of(
            f, job.bevel_ridge_mm, partial(held_deg, f.face), most=most, or_lines=all_bulge
        )
        for f in section.faces
        if f.bulge is not None
    }
    counts = {
        f.face: len(facets[f.face]) if f.bulge else job.bevel_stages for f in _bevelled(section)
    }
    works: list[FaceWork] = []
    turns, faces = range(max(counts.values())), _bevelled(section)
    order = [(turn, face) for turn in turns for face in faces]
    for turn, face in sorted(order, key=lambda one: one[1].face) if swept else order:
        count = counts[face.face]
        if turn >= count:
            continue
        name = f"bevel-{face.face}" + (
            f"-{turn + 1}" if count > 1 and not (swept and face.bulge) else ""
        )
        if face.bulge is None:
            work = _flat_work(job, face, section, wheel, stands_at_mm, states, name, turn)
        else:
            found, before = facets[face.face], states[face.face]
            flats = (*before.flats, (found[turn].angle_rad, found[turn].at_edge_mm))
            work = FacetWork(
                name=name,
                operation="bevel",
                wheel=wheel,
                section=section,
                relief=_relief_of(section, face.face),
                before=before,
                after=FaceState(0.0, 0.0) if turn == count - 1 else FaceState(math.inf, 0.0, flats),
                other=states[_other(face)],
                wheel_radius_mm=None,
                flat_place_mm=stands_at_mm(_middle_mm(found[turn])),
                curvature_per_mm=edge_curvature_per_mm(job, face, section.relief(face.face)),
                ridge_mm=job.bevel_ridge_mm,
                facet=found[turn],
                ridge_reached_mm=ridge_reached_mm(face, [f.angle_rad for f in found]),
            )
        works.append(work)
        states[face.face] = work.after
    return with_sweeps(works) if swept else works


def _bevelled(section: Section) -> list[BevelFace]:
    """The faces that have a bevel: a flat back comes as it stays."""
    return [face for face in section.faces if face.edge_angle_deg > 0.0]


def _other(face: BevelFace) -> str:
    return "B" if face.face == "A" else "A"


def _bar_states(section: Section) -> dict[str, FaceState]:
    """Each face as it comes, before anything is ground."""
    states = {face.face: FaceState(0.0, 0.0) for face in section.faces}
    for face in _bevelled(section):
        states[face.face] = STOCK if face.bulge else FaceState(_stock_outside_mm(face), 0.0)
    return states


def _stock_outside_mm(face: BevelFace) -> float:
    """How far outside a flat face the plane through the corner of its stock lies."""
    return (face.stock_mm - face.at_edge_mm) * math.cos(face.angle_rad)


def _flat_work(
    job: Job,
    face: BevelFace,
    section: Section,
    wheel: Wheel,
    stands_at_mm: Callable[[float], float],
    states: dict[str, FaceState],
    name: str,
    turn: int,
) -> FaceWork:
    """One turn of a flat bevel beside one that bulges: no lands follow, so nothing is left."""
    left = 1 - (turn + 1) / job.bevel_stages
    return FaceWork(
        name=name,
        operation="bevel",
        wheel=wheel,
        section=section,
        relief=_relief_of(section, face.face),
        before=states[face.face],
        after=FaceState(left * _stock_outside_mm(face), 0.0),
        other=states[_other(face)],
        wheel_radius_mm=None,
        flat_place_mm=stands_at_mm(face.start_mm + face.width_mm / 2),
        curvature_per_mm=edge_curvature_per_mm(job, face, section.relief(face.face)),
    )


def _middle_mm(facet: Facet) -> float:
    """Of the ground flat, along its plane from y = 0."""
    (first, _), (last, _) = facet.first_yz_mm, facet.last_yz_mm
    return (first + last) / 2 / math.cos(facet.angle_rad)


def _line_works(
    job: Job, section: Section, wheel: Wheel, stands_at_mm: Callable[[float], float]
) -> list[FaceWork]:
    """Each bevel that bulges in lines; of a flat one its turns, which a round wheel cannot make."""
    assert job.bevel_ridge_mm is not None
    radius = section_radius_mm(wheel)
    states = _bar_states(section)
    works: list[FaceWork] = []
    for face in _bevelled(section):
        name = f"bevel-{face.face}"
        if face.bulge is None:
            work = _flat_work(job, face, section, wheel, stands_at_mm, states, name, 0)
        else:
            plane = half_way(face)
            arc = bulge_arc(plane, radius, job.bevel_ridge_mm)
            work = BulgeWork(
                name=name,
                operation="bevel",
                wheel=wheel,
                section=section,
                relief=_relief_of(section, face.face),
                before=FaceState(arc.depth_mm, 0.0),
                after=FaceState(0.0, 0.0),
                other=states[_other(face)],
                wheel_radius_mm=radius,
                flat_place_mm=0.0,
                curvature_per_mm=edge_curvature_per_mm(job, face, section.relief(face.face)),
                ridge_mm=job.bevel_ridge_mm,
                plane=plane,
            )
        works.append(work)
        states[face.face] = FaceState(0.0, 0.0)
    return works


def _relief_of(section: Section, face: str) -> FaceRelief:
    return section.relief(face) or no_relief(section.face(face))
