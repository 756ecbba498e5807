"""Things that go round the axis of an arc, in planes beside the section.

From ``docs/edge-paths.md``: the axis lies at z = -rho in the section, and blade, jaws and obstacles
are turned about it. A plane across the tangent, x from the section, cuts what has the radius r at
the height r cos(a), sin(a) = x / r. A part of the tool is looked at in planes of its own, from one
of its ends to the other, each against what it finds there: nothing is taken for more than it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import shapely

from planner.inputs.edge_paths import ArcEdge
from planner.proof.case import Case

_APART_MM = 0.5
_MOST_PLANES = 48
_PIECE_MM = 0.25
_MOST_PIECES = 200


@dataclass(frozen=True)
class Plane:
    """Where a plane beside the section stands, and what it finds of a thing."""

    beside_mm: float
    shape: shapely.Geometry
    low_mm: float
    high_mm: float
    """From where to where along the edge what it finds there is, from the section."""
    beyond: bool
    """Whether that is on the other side of the axis."""


def axis_below_mm(case: Case) -> float | None:
    """How far below the edge the axis of its turn lies; None of an edge that is not turned."""
    edge = case.job.edge
    return edge.radius_mm if case.turned is not None and isinstance(edge, ArcEdge) else None


def places_mm(low_mm: float, high_mm: float) -> list[float]:
    """Planes of a part from one of its ends to the other, the section among them."""
    count = min(max(math.ceil((high_mm - low_mm) / _APART_MM), 2), _MOST_PLANES)
    places = {low_mm + (high_mm - low_mm) * n / count for n in range(count + 1)}
    return sorted(places | ({0.0} if low_mm < 0.0 < high_mm else set()))


def planes(shape: shapely.Geometry, below_mm: float, beside_mm: float) -> Iterator[Plane]:
    """What a plane finds of a thing, on this side of the axis and beyond it."""
    _, low, _, high = shapely.bounds(shape)
    inner, outer = max(below_mm + low, 0.0), below_mm + high
    if outer <= abs(beside_mm):
        return
    ends = sorted(below_mm * _angle(beside_mm, radius) for radius in (inner, outer))
    rings = [_ring(part, below_mm, beside_mm) for part in shapely.get_parts(shape)]
    near, far = (
        shapely.union_all(
            [
                shapely.buffer(shapely.Polygon([(y, side * h - below_mm) for y, h in ring]), 0.0)
                for ring in rings
            ]
        )
        for side in (1.0, -1.0)
    )
    yield Plane(beside_mm, near, ends[0], ends[1], beyond=False)
    half = math.pi * below_mm
    for turned in (half, -half):
        yield Plane(beside_mm, far, turned - ends[1], turned - ends[0], beyond=True)


def _angle(beside_mm: float, radius_mm: float) -> float:
    along = math.sqrt(max(radius_mm * radius_mm - beside_mm * beside_mm, 0.0))
    return math.atan2(beside_mm, along)


def _ring(part: shapely.Geometry, below_mm: float, beside_mm: float) -> list[tuple[float, float]]:
    """(y, height over the axis) of an outline in the plane, sides that rise in small pieces."""
    corners = shapely.get_coordinates(part.exterior).tolist()
    found = []
    for (y, z), (to_y, to_z) in pairwise(corners):
        count = min(max(math.ceil(abs(to_z - z) / _PIECE_MM), 1), _MOST_PIECES)
        for n in range(count):
            radius = below_mm + z + (to_z - z) * n / count
            height = (
                radius * math.cos(math.asin(beside_mm / radius)) if radius > abs(beside_mm) else 0.0
            )
            found.append((y + (to_y - y) * n / count, height))
    return found
