"""The face that a program grinds and the relief that the job asks for on it.

The proof's own geometry, from ``docs/frames.md`` and the job alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from planner.inputs.job import Job

FaceName = Literal["A", "B"]
Vector = tuple[float, float]
"""(y, z) in the section frame, mm or a direction."""


class ImpossibleError(ValueError):
    """The job asks for a section that does not exist; the text says which measure is wrong."""


@dataclass(frozen=True)
class Face:
    """One bevel face of the blank: corner at the edge, directions along it and out of it."""

    name: FaceName
    bevel_rad: float
    corner: Vector
    along: Vector
    normal: Vector
    width_mm: float

    def depth_mm(self, point: Vector) -> float:
        """How far the point lies below the face's plane; negative above it."""
        return -(
            (point[0] - self.corner[0]) * self.normal[0]
            + (point[1] - self.corner[1]) * self.normal[1]
        )

    def place_mm(self, point: Vector) -> float:
        """Where the point lies along the face, from the edge."""
        return (point[0] - self.corner[0]) * self.along[0] + (
            point[1] - self.corner[1]
        ) * self.along[1]

    def point(self, place_mm: float, depth_mm: float) -> Vector:
        """The point at a place along the face and a depth below it."""
        return (
            self.corner[0] + place_mm * self.along[0] - depth_mm * self.normal[0],
            self.corner[1] + place_mm * self.along[1] - depth_mm * self.normal[1],
        )

    def lifted(self, outward_mm: float) -> Face:
        """The parallel plane so far outside; places along it are those of this face."""
        return replace(self, corner=self.point(0.0, -outward_mm)) if outward_mm else self


@dataclass(frozen=True)
class Relief:
    """The relief wanted on one face by one wheel radius."""

    edge_land_mm: float
    shoulder_land_mm: float
    chord_mm: float
    depth_mm: float
    land_tolerance_mm: float
    depth_tolerance_mm: float
    """The depth error that moves a land by its tolerance."""
    arc_radius_mm: float
    """Radius of its arc: the wheel's, unless a smaller wheel generates it in lines."""

    @property
    def middle_mm(self) -> float:
        """The place of the relief's middle along the face."""
        return self.edge_land_mm + self.chord_mm / 2.0

    def moved(self, aside_mm: float) -> Relief:
        """The same relief further along the face, which leaves other lands beside it."""
        return replace(
            self,
            edge_land_mm=self.edge_land_mm + aside_mm,
            shoulder_land_mm=self.shoulder_land_mm - aside_mm,
        )


def blade_face(job: Job, name: FaceName) -> Face:
    """The named bevel face. Raises: ImpossibleError where the blade has no such face."""
    section = job.blade.section
    if section.included_angle_deg is not None:
        bevel_deg: float | None = section.included_angle_deg / 2.0
    else:
        bevel_deg = section.angle_a_deg if name == "A" else section.angle_b_deg
    if bevel_deg is None or not 0.0 < bevel_deg < 90.0:
        raise ImpossibleError(f"face {name} has no bevel angle between 0 and 90 deg")
    rise = section.thickness_mm - section.edge_thickness_mm
    bevel_rad = math.radians(bevel_deg)
    if rise <= 0.0:
        raise ImpossibleError("the edge is as thick as the blade")
    if rise / (2.0 * math.tan(bevel_rad)) >= section.width_mm:
        raise ImpossibleError("the bevel is wider than the blade")
    side = 1.0 if name == "A" else -1.0
    return Face(
        name=name,
        bevel_rad=bevel_rad,
        corner=(0.0, side * section.edge_thickness_mm / 2.0),
        along=(math.cos(bevel_rad), side * math.sin(bevel_rad)),
        normal=(-math.sin(bevel_rad), side * math.cos(bevel_rad)),
        width_mm=rise / (2.0 * math.sin(bevel_rad)),
    )


def wanted_relief(job: Job, face: Face, radius_mm: float) -> Relief:
    """The job's two measures and the third, for this wheel.

    Of a chord c and a depth d in a circle of radius R, (c/2)^2 = d (2 R - d) (Euclid, Elements
    III.35). Raises: ImpossibleError where no such circle exists on the face.
    """
    asked = job.relief
    edge, shoulder, depth = asked.edge_land_mm, asked.shoulder_land_mm, asked.depth_mm
    if edge is not None and shoulder is not None:
        chord = face.width_mm - edge - shoulder
        half = chord / 2.0
        if depth is not None:
            radius_mm = _generated_radius_mm(half, depth, radius_mm)
        elif not 0.0 < chord < 2.0 * radius_mm:
            raise ImpossibleError("the lands leave no chord that the wheel can grind")
        else:
            depth = half * half / (radius_mm + math.sqrt(radius_mm * radius_mm - half * half))
    else:
        if depth is None or (edge is None and shoulder is None):
            raise ImpossibleError("two of edge land, shoulder land and depth are needed")
        if not depth < radius_mm:
            raise ImpossibleError("the relief is as deep as the wheel's radius")
        chord = 2.0 * math.sqrt(depth * (2.0 * radius_mm - depth))
        if edge is None and shoulder is not None:
            edge = face.width_mm - chord - shoulder
        elif edge is not None:
            shoulder = face.width_mm - chord - edge
        if edge is None or shoulder is None or min(edge, shoulder) < 0.0:
            raise ImpossibleError("a relief of this depth is wider than the bevel face")
    return Relief(
        edge_land_mm=edge,
        shoulder_land_mm=shoulder,
        chord_mm=chord,
        depth_mm=depth,
        land_tolerance_mm=asked.land_tolerance_mm,
        depth_tolerance_mm=asked.land_tolerance_mm * (chord / 2.0) / (radius_mm - depth),
        arc_radius_mm=radius_mm,
    )


def _generated_radius_mm(half_chord_mm: float, depth_mm: float, wheel_radius_mm: float) -> float:
    """Radius of the arc through both lands at the depth, (h^2 + d^2) / (2 d): Euclid III.35."""
    if half_chord_mm <= 0.0 or depth_mm >= half_chord_mm:
        raise ImpossibleError("the lands and the depth leave no arc flatter than a half circle")
    radius = (half_chord_mm * half_chord_mm + depth_mm * depth_mm) / (2.0 * depth_mm)
    if wheel_radius_mm >= radius:
        raise ImpossibleError("a wheel larger than the relief's arc cannot generate it in lines")
    return radius
