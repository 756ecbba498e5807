"""The steel of one station as a polygon: taken away by the wheel, and measured.

The wheel is a polygon with its vertices on its circle and chords that leave the circle by at most
``CHORD_ERROR_MM``. Where the arc crosses the bevel face at the angle phi (sin phi = chord / 2R),
the crossing is misplaced by at most ``CHORD_ERROR_MM / sin phi``: 0.03 um for a chord of 4.3 mm
and a wheel of 150 mm. Only the part of the wheel below the plane of the bevel face gets fine
vertices: the blank is convex, so none of its steel lies above that plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from planner.inputs.job import Job
from planner.proof.forms import CHORD_ERROR_MM, blade_side
from planner.proof.target import Face, Relief, Vector

SWEEP_ERROR_MM = 1e-4
"""The same for the swept wheel of a move that is refused already."""
ON_ARC_MM = 2e-6
"""The same for a face that bulges: its polygon leaves the circle by half of this."""
ON_FACE_MM = 1e-8
"""A vertex nearer than this to the plane of the bevel face lies on it."""
_MARGIN_MM = 1e-3
"""How far above the face's plane the polygon of the wheel's lower part is closed."""

Floats = NDArray[np.floating]


@dataclass(frozen=True)
class MeasuredLands:
    """What is left of a bevel face, mm. A land is negative where the wheel ran past that end."""

    edge_land_mm: float
    shoulder_land_mm: float
    depth_mm: float


def blank_section(job: Job) -> shapely.Polygon:
    """The unground blade: from the edge over both sides to the spine."""
    form = job.blade.section
    upper, lower = blade_side(form, "A").outline, blade_side(form, "B").outline
    return shapely.Polygon([*((y, -w) for y, w in lower), *reversed(upper)])


def wheel_below_face(face: Face, radius_mm: float, centre: Vector) -> Floats:
    """Vertices of the part of the wheel below the face's plane, shape (n, 2).

    Empty, shape (0, 2), where the wheel stays above the plane.
    """
    depth = radius_mm + face.depth_mm(centre)
    if depth <= 0.0:
        return np.empty((0, 2))
    step = 2.0 * math.acos(1.0 - CHORD_ERROR_MM / radius_mm)
    cosine = (radius_mm - depth - _MARGIN_MM) / radius_mm
    count = math.ceil(math.acos(max(cosine, -1.0)) / step)
    if count * step >= math.pi:
        return _around(face, radius_mm, centre, np.arange(math.ceil(2.0 * math.pi / step)) * step)
    # The angles are multiples of one step, so a deeper wheel covers a shallower one exactly.
    return _around(face, radius_mm, centre, np.arange(-count, count + 1) * step)


def _around(face: Face, radius_mm: float, centre: Vector, angles_rad: Floats) -> Floats:
    inward = -np.array(face.normal)
    along = np.array(face.along)
    rim: Floats = (
        np.array(centre)
        + radius_mm * np.cos(angles_rad)[:, None] * inward
        + radius_mm * np.sin(angles_rad)[:, None] * along
    )
    return rim


def swept_wheel(face: Face, radius_mm: float, start: Vector, end: Vector) -> shapely.Geometry:
    """The whole wheel moved from one centre to another: the convex hull of its two discs."""
    step = 2.0 * math.acos(1.0 - SWEEP_ERROR_MM / radius_mm)
    angles = np.arange(math.ceil(2.0 * math.pi / step)) * step
    discs = [_around(face, radius_mm, centre, angles) for centre in (start, end)]
    return shapely.MultiPoint(np.vstack(discs)).convex_hull


def measure_lands(
    steel: shapely.Geometry, blank: shapely.Geometry, face: Face, radius_mm: float
) -> MeasuredLands:
    """The lands that are left on a face and the depth between them.

    The outline's vertices are taken in face coordinates. Two neighbours on the face's plane
    bound a strip of the original face; the strips that reach the edge and the shoulder are the
    lands. Their inner ends are the points where the overlay crossed the wheel's polygon with the
    face's line, exact to rounding. Where no strip reaches an end, the wheel ran past it: the
    land is then minus the distance from that end to where the ground surface, prolonged on the
    wheel's circle, would meet the face's plane.
    """
    strips: list[tuple[float, float]] = []
    for ring in rings_of(steel):
        place, depth = face.land_places(ring)
        on_face = np.abs(depth) < (ON_FACE_MM if face.radius_mm is None else ON_ARC_MM)
        pairs = on_face[:-1] & on_face[1:]
        low = np.minimum(place[:-1], place[1:])[pairs]
        high = np.maximum(place[:-1], place[1:])[pairs]
        strips += zip(low.tolist(), high.tolist(), strict=True)
    merged = _merged(sorted(strips))
    width = face.width_mm
    removed_depth = 0.0
    removed = shapely.difference(blank, steel)
    for ring in rings_of(removed):
        removed_depth = max(removed_depth, float(in_face(ring, face)[1].max()))
    if removed_depth == 0.0:
        return MeasuredLands(width, width, 0.0)
    edge_ends = [high for low, high in merged if low < ON_FACE_MM]
    shoulder_ends = [low for low, high in merged if high > width - ON_FACE_MM]
    if face.radius_mm is not None and not (edge_ends and shoulder_ends):
        # A relief that runs off a face that bulges has no land there, and no plane to measure by.
        ends = (edge_ends or [-width])[0], (shoulder_ends or [2.0 * width])[-1]
        return MeasuredLands(ends[0], width - ends[1], removed_depth)
    edge_land = edge_ends[0] if edge_ends else _run_out(steel, blank, face, radius_mm, at_edge=True)
    if shoulder_ends:
        shoulder_land = width - shoulder_ends[-1]
    else:
        shoulder_land = width - _run_out(steel, blank, face, radius_mm, at_edge=False)
    return MeasuredLands(edge_land, shoulder_land, removed_depth)


def _merged(strips: list[tuple[float, float]]) -> list[tuple[float, float]]:
    merged: list[tuple[float, float]] = []
    for low, high in strips:
        if merged and low <= merged[-1][1] + ON_FACE_MM:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return merged


def _run_out(
    steel: shapely.Geometry,
    blank: shapely.Geometry,
    face: Face,
    radius_mm: float,
    *,
    at_edge: bool,
) -> float:
    """Place where the ground surface, prolonged past an end of the face, meets its plane.

    The two ground vertices nearest to that end lie on one circle of the wheel's radius, whose
    centre is on the open side of the face.
    """
    place, depth = _ground_vertices(steel, blank, face)
    end = 0.0 if at_edge else face.width_mm
    if len(place) < 2:
        return end
    first, second = np.argsort(place)[:2] if at_edge else np.argsort(-place)[:2]
    run, rise = place[second] - place[first], depth[second] - depth[first]
    chord = math.hypot(run, rise)
    if chord == 0.0 or chord >= 2.0 * radius_mm:
        return end
    back_off = math.sqrt(radius_mm * radius_mm - chord * chord / 4.0) / chord
    # The chord's normal that points out of the face, which is toward less depth.
    centre_place = (place[first] + place[second]) / 2.0 + back_off * rise * math.copysign(1.0, run)
    centre_depth = (depth[first] + depth[second]) / 2.0 - back_off * abs(run)
    half = radius_mm * radius_mm - centre_depth * centre_depth
    if half <= 0.0:
        return end
    if at_edge:
        return min(float(centre_place) - math.sqrt(half), end)
    return max(float(centre_place) + math.sqrt(half), end)


def _ground_vertices(
    steel: shapely.Geometry, blank: shapely.Geometry, face: Face
) -> tuple[Floats, Floats]:
    rings = rings_of(steel)
    if not rings:
        return np.empty(0), np.empty(0)
    vertices = np.vstack(rings)
    inside = shapely.distance(shapely.points(vertices), shapely.boundary(blank)) > ON_FACE_MM
    return face.land_places(vertices[inside])


def steel_left_mm(
    steel: shapely.Geometry,
    face: Face,
    relief: Relief,
    other_face: Face,
    other_relief: Relief | None,
    radius_mm: float,
) -> float:
    """Least thickness across z over the width of the reliefs.

    The other face's relief is taken at its target. The outline is of straight lines, so the
    least thickness is at one of its vertices.
    """
    spans = [(face, relief)]
    if other_relief is not None:
        spans.append((other_face, other_relief))
        centre = other_face.point(other_relief.middle_mm, other_relief.depth_mm - radius_mm)
        other_wheel = shapely.Polygon(wheel_below_face(other_face, radius_mm, centre))
        steel = shapely.difference(steel, other_wheel)
    ends = [
        span_face.point(span.middle_mm + side * span.chord_mm / 2.0, _fall_mm(span))[0]
        for span_face, span in spans
        for side in (-1.0, 1.0)
    ]
    low, high = min(ends), max(ends)
    vertices = shapely.get_coordinates(steel)[:, 0]
    within = vertices[(vertices > low) & (vertices < high)]
    return float(thickness_at(steel, np.array([low, high, *within])).min())


def _fall_mm(relief: Relief) -> float:
    """How far the ends of a relief lie below the plane that touches a bulging face between them."""
    radius = relief.face_radius_mm
    if radius is None:
        return 0.0
    return radius * (1.0 - math.cos(math.asin(relief.chord_mm / 2.0 / radius)))


def surface_depths_mm(steel: shapely.Geometry, face: Face, places_mm: Floats) -> Floats:
    """Depth below the face at which steel begins at each place, shape (n,); inf where none is."""
    found = np.full(len(places_mm), math.inf)
    for ring in rings_of(steel):
        place, depth = in_face(ring, face)
        run = np.diff(place)
        sloped = run != 0.0
        start, rise = depth[:-1][sloped], np.diff(depth)[sloped]
        share = (places_mm[:, None] - place[:-1][sloped]) / run[sloped]
        crossed = (share >= 0.0) & (share <= 1.0)
        found = np.minimum(found, np.where(crossed, start + share * rise, math.inf).min(axis=1))
    return found


def thickness_at(steel: shapely.Geometry, y: Floats) -> Floats:
    """Height of the section across z at each y, shape (n,); 0 where there is no steel."""
    rings = rings_of(steel)
    if not rings:
        return np.zeros_like(y)
    ring = max(rings, key=len)
    start, end = ring[:-1], ring[1:]
    sloped = start[:, 0] != end[:, 0]
    start, end = start[sloped], end[sloped]
    share = (y[:, None] - start[:, 0]) / (end[:, 0] - start[:, 0])
    z = start[:, 1] + share * (end[:, 1] - start[:, 1])
    crossed = (share >= 0.0) & (share <= 1.0)
    highest = np.where(crossed, z, -np.inf).max(axis=1)
    lowest = np.where(crossed, z, np.inf).min(axis=1)
    return np.where(crossed.any(axis=1), highest - lowest, 0.0)


def rings_of(steel: shapely.Geometry) -> list[Floats]:
    """The outer ring of each part, each shape (n, 2), its last point the first again."""
    return [
        shapely.get_coordinates(part.exterior)
        for part in shapely.get_parts(steel)
        if part.geom_type == "Polygon" and not part.is_empty
    ]


def in_face(points: Floats, face: Face) -> tuple[Floats, Floats]:
    """(place along the face, depth below it) of each point, each shape (n,)."""
    offset = points - np.array(face.corner)
    return offset @ np.array(face.along), -(offset @ np.array(face.normal))
