"""The section that the bend makes of the one that is ground into a straight blank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.formulas import anticlastic
from planner.inputs.job import Job
from planner.section.blank import BendAfter, bend_after
from planner.section.profile import BevelFace
from planner.section.target import FaceRelief, Section, outline

_STEP_MM = 0.25
"""Longest straight piece of an outline that is bent point by point."""


@dataclass(frozen=True)
class BentRelief:
    """One relief before and after the bend; depths of the bent one from the line over its face."""

    face: str
    ground_mm: float
    """Depth in the blank."""
    correction_mm: float
    """What the bend is taken to add, below 0 what it takes."""
    bent_mm: float
    """Depth after the bend, if it does what is made up for."""
    bound_mm: float
    """The most that the bend adds, below 0 takes: the depth after it lies between."""
    flow_bound_mm: float
    """The same for steel that flows and keeps its volume."""
    across_face_mm: float
    """The most that the whole face dishes, below 0 crowns: w² ν cos β / 8R."""
    edge_land_falls_mm: float
    """How far the end of the edge land at the relief comes to lie under that line."""
    shoulder_land_falls_mm: float


@dataclass(frozen=True)
class BentSection:
    """The blank and what comes of it."""

    radius_mm: float
    """Of the bend, at the middle of the stock."""
    edge_radius_mm: float
    angle_deg: float
    poisson: float
    share: float
    blank_length_mm: float
    """Of the straight edge that is ground."""
    edge_length_mm: float
    """Of the edge after the bend, pressed together inside the middle of the stock."""
    reliefs: tuple[BentRelief, ...]
    outline_mm: tuple[tuple[float, float], ...]
    """Of the bent section, (y, z), the reliefs taken."""


def bent_section(job: Job, section: Section) -> BentSection | None:
    """What the bend makes of the section; None of a blade that is not bent after the grind."""
    bend = bend_after(job)
    if bend is None:
        return None
    return BentSection(
        radius_mm=bend.radius_mm,
        edge_radius_mm=bend.edge_radius_mm,
        angle_deg=bend.angle_deg,
        poisson=bend.poisson,
        share=bend.share,
        blank_length_mm=job.edge.length_mm,
        edge_length_mm=job.blade.edge.length_mm,
        reliefs=tuple(_bent(bend, section.face(r.face), r) for r in section.reliefs),
        outline_mm=_bent_outline(job, bend, section),
    )


def _bent(bend: BendAfter, face: BevelFace, relief: FaceRelief) -> BentRelief:
    place, half = relief.middle_mm - face.start_mm, relief.chord_mm / 2
    flow = anticlastic.POISSON_FLOW / bend.poisson if bend.poisson > 0 else 0.0
    bound = bend.deepens_mm(face, place)
    return BentRelief(
        face=face.face,
        ground_mm=relief.depth_mm,
        correction_mm=bend.counted_mm(face, place),
        bent_mm=relief.depth_mm + bend.counted_mm(face, place),
        bound_mm=bound,
        flow_bound_mm=bound * flow,
        across_face_mm=bend.deepens_mm(face, face.width_mm / 2),
        edge_land_falls_mm=bend.counted_mm(face, place - half),
        shoulder_land_falls_mm=bend.counted_mm(face, place + half),
    )


def _bent_outline(job: Job, bend: BendAfter, section: Section) -> tuple[tuple[float, float], ...]:
    depth = {r.face: r.depth_mm for r in section.reliefs}
    points = outline(section, depth.get("A", 0.0), depth.get("B", 0.0))
    dense: list[tuple[float, float]] = []
    for one, other in zip(points, [*points[1:], points[0]], strict=True):
        count = max(math.ceil(math.dist(one, other) / _STEP_MM), 1)
        shares = np.arange(count) / count
        dense += [
            (one[0] + s * (other[0] - one[0]), one[1] + s * (other[1] - one[1]))
            for s in shares.tolist()
        ]
    y, z = np.array(dense).T
    across, layer = section.width_mm / 2, job.blade.section.middle_mm
    nu = bend.share * bend.poisson
    moved, out = anticlastic.bent_points(y - across, z - layer, bend.radius_mm, nu)
    return tuple(zip((moved + across).tolist(), (out + layer).tolist(), strict=True))
