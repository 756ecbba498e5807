"""The way that the middle of what a set-up grinds goes along the edge, for its volume."""

from __future__ import annotations

import math

import numpy as np

from planner.formulas import segment
from planner.inputs.edge_curve import CurveEdge
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.section.work import FaceWork, face_height_mm, turned_rad

_STRIPS = 4001


def swept_length_mm(job: Job, work: FaceWork) -> float:
    """Length of the way of the middle of what is ground, for its volume.

    Of an edge along an arc the middle of what is ground lies outside or inside the edge (Pappus:
    the volume of a turned section is its area times the way of its centroid). Of a curve in the
    plane of the blade it lies nearer to the spine, and its way is shorter where the edge bellies.
    """
    edge = job.edge
    if isinstance(edge, CurveEdge):
        return edge.length_mm - turned_rad(edge) * _centroid_mm(work)[0]
    if not isinstance(edge, ArcEdge):
        return edge.length_mm
    side = 1.0 if work.face.face == "A" else -1.0
    return edge.length_mm * (1.0 + side * _centroid_mm(work)[1] / edge.radius_mm)


def _centroid_mm(work: FaceWork) -> tuple[float, float]:
    """y and |z| of the centroid of all that a work takes from its face."""
    if type(work) is not FaceWork or work.face.bulge is not None:
        return _by_strips_mm(work)
    if work.operation == "relief":
        return _hollow_moment(work, work.depth_mm)[1:]
    after, before = (_corner_moment(work, s.outside_mm) for s in (work.after, work.before))
    parts = [(1.0, after), (-1.0, before)]
    if work.operation == "lands":
        # Nothing is taken where the hollow is; what of it stays lies below the finished face.
        parts.append((-1.0, _hollow_moment(work, work.before.relief_mm)))
        if work.after.relief_mm > 0.0:
            parts.append((1.0, _hollow_moment(work, work.after.relief_mm)))
    area = sum(sign * part[0] for sign, part in parts)
    y, z = (sum(sign * part[0] * part[k] for sign, part in parts) / area for k in (1, 2))
    return y, z


def _by_strips_mm(work: FaceWork) -> tuple[float, float]:
    """The same where an arc bulges or flats stand for one: strips across y, summed up."""
    last = float(work.contact_y_mm(np.array(work.depth_mm))[1])
    y = np.linspace(0.0, min(1.2 * last, work.section.width_mm), _STRIPS)
    before, after = (
        face_height_mm(work.section, work.face, y, work.state(depth))
        for depth in (0.0, work.depth_mm)
    )
    taken = np.sum(before - after)
    height = float(np.sum(before**2 - after**2) / taken) / 2.0
    return float(np.sum(y * (before - after)) / taken), height


def _corner_moment(work: FaceWork, outside_mm: float) -> tuple[float, float, float]:
    """Area and centroid (y, |z|) of the corner between square end, flank and a plane outside."""
    rise = work.face.stock_mm - work.face.raised(outside_mm).at_edge_mm
    along = rise / math.tan(work.face.angle_rad)
    return rise * along / 2.0, along / 3.0, work.face.stock_mm - rise / 3.0


def _hollow_moment(work: FaceWork, depth_mm: float) -> tuple[float, float, float]:
    """The same of the relief's circle, so deep below a plane parallel to the face."""
    radius = work.section.wheel_radius_mm
    # The deepest point is where it is, whichever plane the depth is counted from.
    deepest = work.relief.depth_mm
    below = deepest - depth_mm + float(segment.centroid_below_chord(radius, depth_mm))
    area = float(segment.segment_area(radius, depth_mm))
    y, z = work.face.point(work.relief.middle_mm, below)
    return area, y, z
