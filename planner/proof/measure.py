"""What the operations beside a plain relief are measured by, on the steel that a program leaves.

Bevels, lands that were ground themselves, and a relief generated in lines. A relief by one wheel
is measured by ``steel.measure_lands``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from planner.proof.forms import CHORD_ERROR_MM
from planner.proof.operation import relief_wheel
from planner.proof.steel import (
    Floats,
    MeasuredLands,
    in_face,
    rings_of,
    surface_depths_mm,
)
from planner.proof.target import Face, Relief

_HAIR_MM = 1e-9
_NO_AREA_MM2 = 1e-9


@dataclass(frozen=True)
class MeasuredBevel:
    """A bevel face that was ground, against the plane wanted; mm, positive is too much steel."""

    edge_mm: float
    """At the edge."""
    highest_mm: float
    lowest_mm: float


def measure_bevel(
    steel: shapely.Geometry, finished: Face, lift_mm: float, width_mm: float
) -> MeasuredBevel:
    """How a ground bevel stands to the plane ``lift_mm`` outside the finished face.

    ``width_mm`` is that plane's from the edge to the shoulder. The outline is of straight lines,
    so it is farthest off the plane at a vertex or at an end.
    """
    wanted = finished.lifted(lift_mm)
    low = finished.start_mm + lift_mm * math.tan(finished.bevel_rad)
    high = low + width_mm
    points: list[tuple[float, float]] = []
    corners: list[float] = []
    for ring in rings_of(steel):
        place, depth = in_face(ring, wanted)
        inside = place[(place > low) & (place < high)]
        asked = np.array([low + _HAIR_MM, *inside, high - _HAIR_MM])
        surface = surface_depths_mm(steel, wanted, asked)
        there = np.isfinite(surface)
        points += zip(asked[there].tolist(), (-surface[there]).tolist(), strict=True)
        # On the end of the stock, y = 0, the ground face's corner stands above or at the plane.
        outer = finished.normal[1] * ring[:, 1] >= -_HAIR_MM
        corners += (-depth[(np.abs(ring[:, 0]) < _HAIR_MM) & outer]).tolist()
    points.sort()
    if len(points) < 2:
        return MeasuredBevel(-math.inf, -math.inf, -math.inf)
    edge = points[0][1]
    if points[0][0] > low + 2.0 * _HAIR_MM:
        # Ground past a sharp edge: the face is prolonged to where the edge should be.
        (first, height), (second, other) = points[0], points[1]
        edge = height - (first - low) * (other - height) / max(second - first, _HAIR_MM)
    heights = [height for _, height in points]
    return MeasuredBevel(max([edge, *corners]), max(heights), min(heights))


@dataclass(frozen=True)
class GroundLands:
    """Lands that were ground themselves, and how far they are from one plane."""

    lands: MeasuredLands
    off_plane_mm: float


def measure_ground_lands(steel: shapely.Geometry, finished: Face, relief: Relief) -> GroundLands:
    """Widths and flatness of two lands beside a relief that was there before.

    The relief's arc is known: what of the outline lies on it is the relief, and the outline beside
    it, as far as the end of the blade and the flank, is the lands. Off the plane is the largest
    distance of any of their corners from the line through the outermost two. The depth is from
    the line through the lands' inner ends.
    """
    wheel = relief_wheel(finished, relief)
    arc: list[tuple[float, float]] = []
    lands: list[tuple[float, float]] = []
    width = finished.width_mm
    for ring in rings_of(steel):
        place, depth = in_face(ring, finished)
        on_arc = shapely.distance(shapely.points(ring), wheel.exterior) < 2.0 * CHORD_ERROR_MM
        on_arc &= depth > -relief.arc_radius_mm / 2.0
        arc += zip(place[on_arc].tolist(), depth[on_arc].tolist(), strict=True)
        # The spine, the other face and the far end of the flank lie well below the face.
        surface = depth <= surface_depths_mm(steel, finished, place) + _HAIR_MM
        outer = finished.normal[1] * ring[:, 1] >= -_HAIR_MM
        near = surface & outer & (place < 1.5 * width) & ~on_arc
        # Of the end of the blade, y = 0, the upper corner alone belongs to the land.
        at_end = outer & (np.abs(ring[:, 0]) < _HAIR_MM)
        near &= ~at_end | (depth <= depth[at_end].min(initial=math.inf) + _HAIR_MM)
        # Where the flank begins the thickness is that of the stock: beyond is no land.
        flank = finished.normal[1] * ring[:, 1]
        near &= (flank < flank.max() - _HAIR_MM) | (place <= _shoulder(place, flank))
        lands += zip(place[near].tolist(), depth[near].tolist(), strict=True)
    if not arc or not lands:
        return GroundLands(MeasuredLands(width, width, 0.0), 0.0)
    first, last = min(arc), max(arc)
    left = sorted(p for p in lands if p[0] < first[0])
    right = sorted(p for p in lands if p[0] > last[0])
    outline = np.array([*left, first, last, *right])
    ends = outline[[0, -1]]
    run = max(float(ends[1, 0] - ends[0, 0]), _HAIR_MM)
    slope = float(ends[1, 1] - ends[0, 1]) / run
    off = np.abs(outline[:, 1] - ends[0, 1] - slope * (outline[:, 0] - ends[0, 0]))
    lean = math.sqrt(1.0 + slope * slope)
    across = (last[1] - first[1]) / max(last[0] - first[0], _HAIR_MM)
    deepest = max(d - first[1] - across * (p - first[0]) for p, d in arc)
    measured = MeasuredLands(
        edge_land_mm=lean * (first[0] - left[0][0]) if left else 0.0,
        shoulder_land_mm=lean * (right[-1][0] - last[0]) if right else 0.0,
        depth_mm=deepest / math.sqrt(1.0 + across * across),
    )
    return GroundLands(measured, float(off.max()) / lean)


def _shoulder(place: Floats, height: Floats) -> float:
    """Where the flank begins: the least place of those as high as the stock."""
    return float(place[height >= height.max() - _HAIR_MM].min())


def arc_centre(face: Face, relief: Relief) -> shapely.Point:
    """The middle of the circle of a relief."""
    return shapely.Point(face.point(relief.middle_mm, relief.depth_mm - relief.arc_radius_mm))


def ridge_mm(steel: shapely.Geometry, finished: Face, relief: Relief) -> float:
    """How high the highest ridge stands above the arc wanted, radially; below zero where none.

    Exact: steel outside the arc's circle touches it or lies beyond, and a ridge comes nearer to its
    middle. The lands lie outside the circle.
    """
    return relief.arc_radius_mm - float(shapely.distance(arc_centre(finished, relief), steel))
