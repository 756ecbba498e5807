"""One side of a section's outline as the work or a stone meets it: from the edge to the spine.

A face needs nothing of a section but its outline and where the shoulders are; where the section
knows the directions of its arcs they are taken from it, else from the outline's chords.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from planner.formulas.edge_rounding import rounded_edge
from planner.section.profile import BevelFace
from planner.section.target import Section, outline

Floats = NDArray[np.float64]
Points = Sequence[tuple[float, float]]

_ALIKE = 1e-6
_ROUNDING_POINTS = 65


@dataclass(frozen=True, eq=False)
class FaceOutline:
    """One face seen from its edge: x along it where it begins, y into the steel.

    The edge is at (0, 0); both arrays run to the spine.
    """

    face: str
    x_mm: Floats
    y_mm: Floats
    shoulder: int
    """Index of the shoulder's point."""
    edge_yz_mm: tuple[float, float]
    """The edge in the section, z counted outward on this side."""
    direction_rad: float
    """Angle of the face to the centre plane where it begins."""
    shoulder_arc_rad: float | None = None
    """Angle to the centre plane with which an arc ends at the shoulder, where that is known."""

    @property
    def shoulder_mm(self) -> float:
        """Straight from the edge to the shoulder."""
        return math.hypot(self.x_mm[self.shoulder], self.y_mm[self.shoulder])

    @cached_property
    def back_from_shoulder(self) -> tuple[float, bool]:
        """Direction from the shoulder towards the edge, x reversed, and whether an arc begins."""
        if self.shoulder_arc_rad is not None:
            return self.shoulder_arc_rad - self.direction_rad, True
        x, y = self.bevel()
        return direction_at_start(
            list(zip((-x[::-1][:4]).tolist(), y[::-1][:4].tolist(), strict=True))
        )

    def is_like(self, other: FaceOutline) -> bool:
        """Whether it has the same points, seen from its own edge."""
        return (
            self.x_mm.shape == other.x_mm.shape
            and self.shoulder == other.shoulder
            and bool(np.allclose(self.x_mm, other.x_mm, rtol=0, atol=1e-9))
            and bool(np.allclose(self.y_mm, other.y_mm, rtol=0, atol=1e-9))
        )

    def bevel(self) -> tuple[Floats, Floats]:
        """The points from edge to shoulder. Shape: (n,), (n,)."""
        end = self.shoulder + 1
        return self.x_mm[:end], self.y_mm[:end]

    def in_section(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """Points of this frame as y and outward z of the section. Shape: (n,) each."""
        sine, cosine = math.sin(self.direction_rad), math.cos(self.direction_rad)
        y, z = self.edge_yz_mm
        return y + x_mm * cosine + y_mm * sine, z + x_mm * sine - y_mm * cosine

    def from_section(self, y_mm: Floats, z_mm: Floats) -> tuple[Floats, Floats]:
        """Points of the section, z outward on this side, in this frame. Shape: (n,) each."""
        sine, cosine = math.sin(self.direction_rad), math.cos(self.direction_rad)
        along, outward = y_mm - self.edge_yz_mm[0], z_mm - self.edge_yz_mm[1]
        return along * cosine + outward * sine, along * sine - outward * cosine


def section_faces(
    section: Section,
) -> tuple[tuple[FaceOutline, FaceOutline], tuple[FaceOutline, FaceOutline]]:
    """The faces of a section as finished, and without their reliefs in the same frames."""
    depth = {r.face: r.depth_mm for r in section.reliefs}
    shoulders = [f.height_mm for f in section.faces]
    found = face_outlines(
        outline(section, depth.get("A", 0.0), depth.get("B", 0.0)),
        shoulders,
        directions=[_known_direction(section, f) for f in section.faces],
    )
    first, second = (
        replace(face, shoulder_arc_rad=_known_arc(section, known))
        for face, known in zip(found, section.faces, strict=True)
    )
    bare = face_outlines(outline(section, 0.0, 0.0), shoulders, like=(first, second))
    return (first, second), bare


def _known_direction(section: Section, face: BevelFace) -> float | None:
    """With which angle a face meets the edge; None where a hollow runs out there."""
    if face.micro_deg is not None:
        return math.radians(face.micro_deg)
    relief = section.relief(face.face)
    reaches = relief is not None and relief.edge_land_mm <= 1e-9
    return None if reaches else math.radians(face.edge_angle_deg)


def _known_arc(section: Section, face: BevelFace) -> float | None:
    relief = section.relief(face.face)
    if face.bulge is None or (relief is not None and relief.shoulder_land_mm <= 1e-9):
        return None
    return face.bulge.angle_rad(face.height_mm)


def face_outlines(
    points: Points,
    shoulders_mm: Sequence[float],
    *,
    directions: Sequence[float | None] = (None, None),
    like: Sequence[FaceOutline] | None = None,
) -> tuple[FaceOutline, FaceOutline]:
    """Both faces of an outline: from the edge along A to the spine and back along B, (y, z) in mm.

    ``shoulders_mm`` are the y of the shoulders of A and B, ``directions`` the angles of the faces
    to the centre plane at the edge where they are known. With ``like`` the frames are those of
    other faces, whose edges must be the same.
    """
    far = max(y for y, _ in points) - 1e-9
    spine = [i for i, (y, _) in enumerate(points) if y >= far]
    first, last = spine[0], spine[-1]
    lower = [(y, -z) for y, z in reversed(points[last:])]
    if lower[0][0] > points[0][0] + 1e-12:  # a sharp edge stands in the outline once
        lower.insert(0, (points[0][0], -points[0][1]))
    sides = ([*points[: first + 1]], lower)
    if like is not None:
        directions = [face.direction_rad for face in like]
    one, other = (
        _seen_from_edge(face, side, shoulder, direction)
        for face, side, shoulder, direction in zip(
            "AB", sides, shoulders_mm, directions, strict=True
        )
    )
    if like is not None:
        one = replace(one, shoulder_arc_rad=like[0].shoulder_arc_rad)
        other = replace(other, shoulder_arc_rad=like[1].shoulder_arc_rad)
    return one, other


def rounded_over(
    face: FaceOutline, included_rad: float, reach_mm: float, radius_mm: float
) -> FaceOutline | None:
    """The face with a small arc towards the edge, tangent to it so far from the edge.

    None where there is nothing to round so: no flat stretch as long as the reach, or an arc that
    the wedge cannot hold.
    """
    straight = _straight_mm(face)
    if reach_mm > straight + 1e-9 or reach_mm > radius_mm * math.tan(included_rad / 2):
        return None
    back, turned = rounded_edge(reach_mm, radius_mm, included_rad)
    angles = np.linspace(float(turned), 0.0, _ROUNDING_POINTS)
    beyond = face.x_mm > reach_mm + 1e-9
    x = np.concatenate([reach_mm - radius_mm * np.sin(angles), face.x_mm[beyond]])
    y = np.concatenate([radius_mm * (1 - np.cos(angles)), face.y_mm[beyond]])
    edge_x, edge_y = float(back * math.cos(included_rad)), float(back * math.sin(included_rad))
    turn = float(turned)
    sine, cosine = math.sin(turn), math.cos(turn)
    x, y = x - edge_x, y - edge_y
    edge_y_mm, edge_z_mm = face.in_section(np.array([edge_x]), np.array([edge_y]))
    return FaceOutline(
        face=face.face,
        # Seen along the new edge's own tangent, from which the arc falls away into the steel.
        x_mm=_from_zero(x * cosine - y * sine),
        y_mm=_from_zero(x * sine + y * cosine),
        shoulder=face.shoulder - int(np.count_nonzero(~beyond)) + _ROUNDING_POINTS,
        edge_yz_mm=(float(edge_y_mm[0]), float(edge_z_mm[0])),
        direction_rad=face.direction_rad + turn,
        shoulder_arc_rad=face.shoulder_arc_rad,
    )


def direction_at_start(points: Points) -> tuple[float, bool]:
    """Direction of a polyline where it begins, in radians, and whether an arc begins there.

    An arc stands in an outline as chords of one length that turn by one angle; its tangent is half
    such a turn before its first chord.
    """
    (x0, y0), (x1, y1) = points[:2]
    first = math.atan2(y1 - y0, x1 - x0)
    if len(points) < 4:
        return first, False
    steps = [(x2 - x1, y2 - y1) for (x1, y1), (x2, y2) in pairwise(points[:4])]
    lengths = [math.hypot(*step) for step in steps]
    ways = [math.atan2(dy, dx) for dx, dy in steps]
    turns = [math.remainder(b - a, math.tau) for a, b in pairwise(ways)]
    alike = max(lengths) - min(lengths) <= _ALIKE * lengths[0]
    if not alike or abs(turns[0]) < 1e-9 or abs(turns[1] - turns[0]) > 1e-3 * abs(turns[0]):
        return first, False
    return first - turns[0] / 2, True


def _seen_from_edge(
    face: str, side: list[tuple[float, float]], shoulder_mm: float, direction_rad: float | None
) -> FaceOutline:
    """``side``: (y, outward z) from the edge to the spine."""
    kept = [side[0]]
    for point in side[1:]:
        if math.dist(point, kept[-1]) > 1e-9:
            kept.append(point)
    direction = direction_at_start(kept)[0] if direction_rad is None else direction_rad
    along, outward = np.array(kept).T
    nearest = int(np.argmin(np.abs(along - shoulder_mm)))
    empty = FaceOutline(face, along, outward, max(nearest, 1), kept[0], direction)
    x, y = empty.from_section(along, outward)
    return replace(empty, x_mm=x, y_mm=y)


def _straight_mm(face: FaceOutline) -> float:
    """How far the face runs straight from the edge."""
    off = np.flatnonzero(np.abs(face.y_mm) > 1e-9)
    end = len(face.x_mm) - 1 if not off.size else max(int(off[0]) - 1, 0)
    return float(face.x_mm[end])


def _from_zero(values: Floats) -> Floats:
    return np.asarray(values - values[0])
