"""Which sizes of wheel hold the lands with the programs of another, along an edge that curves.

A straight edge asks for no more than the arc of the section (``planner.batch.wear``). Along one
that is followed the way itself was reckoned for one size, the section left hangs on both radii of
the wheel, and inside an arc there must be room for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from planner.formulas.wheel_support import deeper_by_size
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.kinematics.edge_path import room_refusals_of_arc
from planner.kinematics.row import Row
from planner.kinematics.slide_path import SlidePath, turned
from planner.kinematics.slide_refusals import wheel_refusals
from planner.kinematics.slide_stations import chords_of, left_at
from planner.section.work import FaceWork

_LOOKS = 25
_HALVINGS = 14
_FARTHEST = 1.5
"""Sizes are looked for as far as so many times the planned one, up and down."""


@dataclass(frozen=True)
class SizesHeld:
    """What the wheel may measure, its other radius as planned; ranges of mm, belt counted."""

    radii_mm: tuple[float, float]
    """About its axis."""
    rim_radii_mm: tuple[float, float] | None
    """Across its rim; None for a flat one."""

    def both(self, other: SizesHeld) -> SizesHeld:
        """What holds on either of two faces."""
        rims = [r for r in (self.rim_radii_mm, other.rim_radii_mm) if r is not None]
        return SizesHeld(_common([self.radii_mm, other.radii_mm]), _common(rims) if rims else None)


def _common(ranges: list[tuple[float, float]]) -> tuple[float, float]:
    return max(low for low, _ in ranges), min(high for _, high in ranges)


def sizes_held_on_path(
    job: Job, machine: Machine, work: FaceWork, path: SlidePath, row: Row
) -> SizesHeld:
    """Of one face whose edge is followed, touched off anew at the anchor.

    To the first order of the difference in depth, and by the section left otherwise.
    """
    radius, rim = path.wheel.radius_mm, path.wheel.rim_radius_mm

    def holds(new_radius: float, new_rim: float) -> bool:
        return _holds(job, machine, work, path, row, new_radius, new_rim)

    rims = None if math.isinf(rim) else _range(rim, lambda new: holds(radius, new))
    return SizesHeld(_range(radius, lambda new: holds(new, rim)), rims)


def least_radius_on_turn(job: Job, work: FaceWork) -> float:
    """Least radius of a wheel along the edge whose spindle passes over the inside of an arc.

    Its belt not counted; 0 where nothing asks for one. From ``spindle_angle_deg``.
    """
    edge = job.edge
    if not isinstance(edge, ArcEdge) or work.wheel.contact != "along_edge":
        return 0.0

    def fits(radius_mm: float) -> bool:
        wheel = work.wheel.model_copy(update={"diameter_mm": 2 * radius_mm})
        return not room_refusals_of_arc(replace(work, wheel=wheel), edge, edge.angle_deg)

    radius = work.wheel.diameter_mm / 2
    return _last_that(fits, radius, 0.0)


def _holds(
    job: Job,
    machine: Machine,
    work: FaceWork,
    path: SlidePath,
    row: Row,
    radius: float,
    rim: float,
) -> bool:
    if path.wheel.across_edge and work.wheel.width_mm > 2 * rim:
        return False
    larger, rounder = radius - path.wheel.radius_mm, rim - path.wheel.rim_radius_mm
    round_it = "form_radius_mm" if path.wheel.across_edge else "crown_radius_mm"
    update = {"diameter_mm": work.wheel.diameter_mm + 2 * larger}
    if math.isfinite(rim):
        update[round_it] = (getattr(work.wheel, round_it) or 0.0) + rounder
    new_work = replace(work, wheel=work.wheel.model_copy(update=update))
    new_path = replace(path, wheel=replace(path.wheel, radius_mm=radius, rim_radius_mm=rim))
    places = np.append(np.linspace(0.0, path.course.edge.length_mm, _LOOKS), path.anchor_mm)
    left = left_at(new_path, new_work, places)
    if wheel_refusals(job, machine, new_work, new_path, row, left):
        return False
    back = -path.turned_rad(places)
    normals = turned(path.normal(places), back)
    axis = path.axes[1] if path.wheel.across_edge else np.array([1.0, 0.0, 0.0])
    deeper = deeper_by_size(normals, axis, normals[-1], path.axes[2])
    depths = work.depth_mm + larger * deeper.per_wheel_radius
    if math.isfinite(rim):
        depths = depths + rounder * deeper.per_rim_radius
    if depths.min() <= 0.0:
        return False
    lens, relief = work.section.lens(work.face.face), work.relief
    room = max(job.relief.land_tolerance_mm - abs(relief.aside_mm), 0.0)
    chords = chords_of(lens, left.radius_mm, depths)
    return float(np.abs(chords - relief.chord_mm).max()) / 2 * relief.land_share <= room


def _range(planned: float, holds: Callable[[float], bool]) -> tuple[float, float]:
    return (
        _last_that(holds, planned, planned / _FARTHEST),
        _last_that(holds, planned, planned * _FARTHEST),
    )


def _last_that(holds: Callable[[float], bool], good: float, far: float) -> float:
    """The last size on the way from one that holds to one that may not."""
    if holds(far):
        return far
    for _ in range(_HALVINGS):
        half = (good + far) / 2
        good, far = (half, far) if holds(half) else (good, half)
    return good


def sizes_held(
    job: Job, machine: Machine, grinds: Sequence[tuple[FaceWork, SlidePath | None, Row]]
) -> SizesHeld | None:
    """Of every face whose edge curves; None where the section alone says what holds.

    ``grinds`` are the reliefs, with their paths where the edge is followed, and their rows. On a
    turn only the room inside is looked at: the wheel lies square everywhere.
    """
    found = [
        sizes_held_on_path(job, machine, work, path, row)
        if path is not None
        else SizesHeld((least_radius_on_turn(job, work), math.inf), None)
        for work, path, row in grinds
    ]
    held = reduce(SizesHeld.both, found)
    return None if held.radii_mm == (0.0, math.inf) else held


def arc_diameters_mm(
    wheel: Wheel, diameters_mm: tuple[float, float], held: SizesHeld | None
) -> tuple[float, float]:
    """Twice the radius that makes the arc: what the section lets it be, and the edge; no belt."""
    across = wheel.contact == "across_edge"
    radii = None if held is None else held.rim_radii_mm if across else held.radii_mm
    if radii is None:
        return diameters_mm
    belt = 0.0 if wheel.belt is None else wheel.belt.thickness_mm
    return _common([diameters_mm, (2 * (radii[0] - belt), 2 * (radii[1] - belt))])
