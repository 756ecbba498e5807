"""The sides of the unground blade, from each section form: the proof's own outlines.

A side is given as (y, w), w outward from the centre plane: from the corner of the edge over a micro
bevel and the bevel face to the flank and the spine. Arcs are polylines with their vertices on the
circle and chords within ``CHORD_ERROR_MM`` of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from planner.inputs.blade_forms import (
    Axe,
    ConvexBevel,
    DoubleBevel,
    Form,
    Gouge,
    Hook,
    SingleBevel,
)
from planner.inputs.outline_form import Outline

FaceName = Literal["A", "B"]
Point = tuple[float, float]

CHORD_ERROR_MM = 1e-6
"""Largest distance of a polyline from its circle where a land is measured."""


class ImpossibleError(ValueError):
    """The job asks for a section that does not exist; the text says which measure is wrong."""


@dataclass(frozen=True)
class Side:
    """One side of the blade."""

    corner_mm: float
    """w of the edge's own corner."""
    start: Point
    """Where the bevel face begins."""
    bevel_rad: float
    """Its angle to the centre plane where it begins."""
    shoulder: Point
    """Where it ends: on the flank, or at the spine of a side without a bevel."""
    radius_mm: float | None
    """Of a face that bulges."""
    beyond: tuple[Point, ...]
    """The flank behind the shoulder, to the spine."""
    stock_mm: float
    """w of parallel stock at the edge."""

    @property
    def centre(self) -> Point:
        """The middle of the circle of a face that bulges, on the normal at its beginning."""
        radius = self.radius_mm or 0.0
        return (
            self.start[0] + radius * math.sin(self.bevel_rad),
            self.start[1] - radius * math.cos(self.bevel_rad),
        )

    @property
    def width_mm(self) -> float:
        """Length of the bevel face, along its arc where it has one."""
        chord = math.dist(self.start, self.shoulder)
        if self.radius_mm is None:
            return chord
        return 2.0 * self.radius_mm * math.asin(chord / (2.0 * self.radius_mm))

    @property
    def proud_mm(self) -> float:
        """Greatest w of the side."""
        return max(w for _, w in self.outline)

    @property
    def outline(self) -> list[Point]:
        """From the corner of the edge to the spine."""
        points = [(0.0, self.corner_mm)]
        if self.start[0] > 0.0:
            points.append(self.start)
        if self.radius_mm is not None:
            turned = self.width_mm / self.radius_mm
            first = math.pi / 2.0 + self.bevel_rad
            arc = arc_points(self.centre, self.radius_mm, first, first - turned)
            points += arc[1:-1]
        return [*points, self.shoulder, *self.beyond]


def arc_points(centre: Point, radius_mm: float, first_rad: float, last_rad: float) -> list[Point]:
    """Points of a circle between two directions, both with it."""
    step = 2.0 * math.acos(1.0 - CHORD_ERROR_MM / radius_mm)
    count = max(math.ceil(abs(last_rad - first_rad) / step), 1)
    angles = [first_rad + (last_rad - first_rad) * n / count for n in range(count + 1)]
    return [
        (centre[0] + radius_mm * math.cos(a), centre[1] + radius_mm * math.sin(a)) for a in angles
    ]


def blade_side(form: Form, name: FaceName) -> Side:
    """One side of a blade. Raises: ImpossibleError where there is no such side."""
    if isinstance(form, Outline):
        return _as_drawn(form, name)
    corner = form.edge_thickness_mm / 2.0
    start = (0.0, corner)
    if form.micro_bevel is not None:
        micro = math.radians(form.micro_bevel.angle_deg)
        length = form.micro_bevel.width_mm
        start = (length * math.cos(micro), corner + length * math.sin(micro))
    if isinstance(form, ConvexBevel):
        return _bulging(form, corner, start)
    if isinstance(form, DoubleBevel):
        whole = form.included_angle_deg
        angle = form.angle_a_deg if name == "A" else form.angle_b_deg
        angle = whole / 2.0 if whole is not None else angle
        if angle is None:
            raise ImpossibleError(f"face {name} has no bevel angle between 0 and 90 deg")
        return _flat(corner, start, angle, form.thickness_mm / 2.0, form.width_mm)
    if isinstance(form, Axe):
        return _axe(form, corner, start)
    return _one_sided(form, name, corner, start)


def _as_drawn(form: Outline, name: FaceName) -> Side:
    """The points of the job themselves: a micro bevel if there is one, the bevel, the flank."""
    side = 0 if name == "A" else 1
    points, radius = form.faces[side], form.radii_mm[side]
    corner = points[0][1]
    # A face that leaves the edge level is a flat back, and has no micro bevel.
    ahead = 1 if form.first_piece == "micro_bevel" and points[1][1] != corner else 0
    if len(points) < ahead + 2:
        raise ImpossibleError(f"face {name} has a micro bevel and no bevel")
    start, shoulder, beyond = points[ahead], points[ahead + 1], tuple(points[ahead + 2 :])
    bevel = math.atan((shoulder[1] - start[1]) / (shoulder[0] - start[0]))
    if radius is not None:
        # The tangent at an end of a chord leaves it by half of the arc.
        half = math.dist(start, shoulder) / 2.0
        if half >= radius:
            raise ImpossibleError("no such arc reaches from the edge to the flank")
        bevel += math.atan2(half, math.sqrt(radius * radius - half * half))
    return Side(corner, start, bevel, shoulder, radius, beyond, shoulder[1])


def _one_sided(
    form: SingleBevel | Hook | Gouge, name: FaceName, corner: float, start: Point
) -> Side:
    """Of a section whose other side is flat, or nearly: the edge lies near that side."""
    width = form.width_mm
    if isinstance(form, Hook):
        return _hook(form, name, corner, start)
    inside = form.inside_rise_mm if isinstance(form, Gouge) else 0.0
    if name == "B":
        if isinstance(form, Gouge) and inside > 0.0:
            return _flat(corner, (0.0, corner), form.inside_angle_deg, corner + inside, width)
        return Side(corner, (0.0, corner), 0.0, (width, corner), None, (), corner)
    angle = form.outside_angle_deg if isinstance(form, Gouge) else form.angle_deg
    return _flat(corner, start, angle, form.thickness_mm - corner - inside, width)


def _hook(form: Hook, name: FaceName, corner: float, start: Point) -> Side:
    width, back = form.width_mm, form.back_radius_mm
    flank = corner if name == "B" else form.thickness_mm - corner
    rounded: tuple[Point, ...] = ((width, flank),)
    if back > 0.0:
        arc = arc_points((width - back, flank - back), back, math.pi / 2.0, 0.0)
        rounded = tuple(arc)
    if name == "B":
        return Side(corner, (0.0, corner), 0.0, rounded[0], None, rounded[1:], corner)
    if form.radius_mm is None:
        side = _flat(corner, start, form.angle_deg, flank, width - back)
        return replace(side, beyond=rounded if back > 0.0 else side.beyond)
    first, radius = math.radians(form.angle_deg), form.radius_mm
    cosine = math.cos(first) + (flank - start[1]) / radius
    if cosine > 1.0:
        raise ImpossibleError("no such arc reaches from the edge to the flank")
    run = radius * (math.sin(first) - math.sqrt(1.0 - cosine * cosine))
    if start[0] + run > width - back:
        raise ImpossibleError("the bevel is wider than the blade")
    return Side(corner, start, first, (start[0] + run, flank), radius, rounded, flank)


def _flat(corner: float, start: Point, angle_deg: float, flank: float, width: float) -> Side:
    if not 0.0 < angle_deg < 90.0:
        raise ImpossibleError("a bevel angle is not between 0 and 90 deg")
    if flank <= start[1]:
        raise ImpossibleError("the edge is as thick as the blade")
    angle = math.radians(angle_deg)
    shoulder = (start[0] + (flank - start[1]) / math.tan(angle), flank)
    if shoulder[0] > width:
        raise ImpossibleError("the bevel is wider than the blade")
    beyond = ((width, flank),) if shoulder[0] < width else ()
    return Side(corner, start, angle, shoulder, None, beyond, flank)


def _bulging(form: ConvexBevel, corner: float, start: Point) -> Side:
    """The arc from where the face begins to the flank."""
    flank = form.thickness_mm / 2.0
    rise = flank - start[1]
    at_edge, at_flank, radius = form.edge_angle_deg, form.shoulder_angle_deg, form.radius_mm
    first = None if at_edge is None else math.radians(at_edge / 2.0)
    last = None if at_flank is None else math.radians(at_flank / 2.0)
    try:
        if radius is None:
            assert first is not None
            assert last is not None
            # The chord stands at the mean of the two angles and spans their difference.
            chord = rise / math.sin((first + last) / 2.0)
            radius = chord / (2.0 * math.sin((first - last) / 2.0))
        elif first is None:
            assert last is not None
            first = math.acos(math.cos(last) - rise / radius)
        else:
            last = math.acos(math.cos(first) + rise / radius)
    except (ValueError, ZeroDivisionError) as error:
        raise ImpossibleError("no such arc reaches from the edge to the flank") from error
    run = radius * (math.sin(first) - math.sin(last))
    shoulder = (start[0] + run, flank)
    if rise <= 0.0 or shoulder[0] > form.width_mm:
        raise ImpossibleError("the bevel is wider than the blade")
    return Side(corner, start, first, shoulder, radius, ((form.width_mm, flank),), flank)


def _axe(form: Axe, corner: float, start: Point) -> Side:
    side = _flat(
        corner, start, form.included_angle_deg / 2.0, form.bevel_thickness_mm / 2.0, form.width_mm
    )
    spine = (form.width_mm, form.thickness_mm / 2.0)
    run, rise = spine[0] - side.shoulder[0], spine[1] - side.shoulder[1]
    if run <= 0.0:
        raise ImpossibleError("the bevel is wider than the blade")
    if form.cheeks == "flat" or rise <= 0.0:
        slope = rise / run
        stock = spine[1] - slope * spine[0]
        beyond: tuple[Point, ...] = (spine,)
    else:
        # Level at the spine: the tangent there and the chord differ by half of the arc.
        half = math.atan2(rise, run)
        radius = math.hypot(run, rise) / (2.0 * math.sin(half))
        first = math.pi / 2.0 + 2.0 * half
        arc = arc_points((spine[0], spine[1] - radius), radius, first, math.pi / 2.0)
        beyond, stock = tuple(arc[1:]), side.shoulder[1]
    return Side(corner, start, side.bevel_rad, side.shoulder, None, beyond, stock)
