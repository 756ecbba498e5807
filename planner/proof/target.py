"""The face that a program grinds and the relief that the job asks for on it.

The proof's own geometry, from ``docs/frames.md`` and the job alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from planner.inputs.edge_paths import BendEdge
from planner.inputs.job import Job
from planner.proof.forms import FaceName, ImpossibleError, Side, blade_side

__all__ = ["Face", "FaceName", "ImpossibleError", "Relief", "Vector", "blade_face"]

Floats = NDArray[np.floating]
Vector = tuple[float, float]
"""(y, z) in the section frame, mm or a direction."""


@dataclass(frozen=True)
class Face:
    """One bevel face of the blank: corner at the edge, directions along it and out of it.

    Of a face that bulges this is a plane that touches it.
    """

    name: FaceName
    bevel_rad: float
    corner: Vector
    """Where the plane meets y = 0."""
    along: Vector
    normal: Vector
    width_mm: float
    """Of the bevel face itself, along its arc where it has one."""
    start_mm: float = 0.0
    """Where a flat face begins along its plane: behind a micro bevel, above 0."""
    radius_mm: float | None = None
    """Of a face that bulges."""
    middle_of_arc: Vector = (0.0, 0.0)
    """The middle of that circle."""
    first_rad: float = 0.0
    """Angle of the face to the centre plane where it begins."""
    ends: tuple[Vector, Vector] = ((0.0, 0.0), (0.0, 0.0))
    """The two ends of the face."""

    def land_places(self, points: Floats) -> tuple[Floats, Floats]:
        """(length along the face from where it begins, depth below it) of points, each (n,)."""
        side = 1.0 if self.name == "A" else -1.0
        if self.radius_mm is None:
            offset = points - np.array(self.corner)
            places = offset @ np.array(self.along) - self.start_mm
            return places, -(offset @ np.array(self.normal))
        out = (points - np.array(self.middle_of_arc)) * np.array([1.0, side])
        # Straight outward, where the face is parallel to the centre plane, the angle is 0.
        angles = np.arctan2(-out[:, 0], out[:, 1])
        distances = np.hypot(out[:, 0], out[:, 1])
        return self.radius_mm * (self.first_rad - angles), self.radius_mm - distances

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
    middle_mm: float
    """The place of the relief's middle along the plane of the face."""
    face_radius_mm: float | None = None
    """Of a face that bulges."""

    def chord_at_mm(self, depth_mm: float) -> float:
        """Straight chord of the arc at a depth: of two circles, by the cosine rule."""
        radius, face = self.arc_radius_mm, self.face_radius_mm
        if face is None:
            return 2.0 * math.sqrt(max(depth_mm * (2.0 * radius - depth_mm), 0.0))
        apart = radius + face - depth_mm
        # 1 - cos of the angle at the wheel's middle, free of the difference of near numbers.
        versine = depth_mm * (2.0 * face - depth_mm) / (2.0 * radius * apart)
        return 2.0 * radius * math.sqrt(max(versine * (2.0 - versine), 0.0))

    def area_at_mm2(self, depth_mm: float) -> float:
        """Section between the arc and the face: a segment of each circle."""
        half = self.chord_at_mm(depth_mm) / 2.0
        if self.face_radius_mm is None:
            return _segment_mm2(self.arc_radius_mm, math.acos(1.0 - depth_mm / self.arc_radius_mm))
        angles = [math.asin(half / r) for r in (self.arc_radius_mm, self.face_radius_mm)]
        return _segment_mm2(self.arc_radius_mm, angles[0]) + _segment_mm2(
            self.face_radius_mm, angles[1]
        )

    def moved(self, aside_mm: float) -> Relief:
        """The same relief further along the face, which leaves other lands beside it."""
        along = aside_mm
        if self.face_radius_mm is not None:
            # The line of the two middles turns about that of the face's arc.
            apart = self.arc_radius_mm + self.face_radius_mm - self.depth_mm
            along = self.face_radius_mm * math.atan2(aside_mm, apart)
        return replace(
            self,
            edge_land_mm=self.edge_land_mm + along,
            shoulder_land_mm=self.shoulder_land_mm - along,
            middle_mm=self.middle_mm + aside_mm,
        )


def _segment_mm2(radius_mm: float, half_angle_rad: float) -> float:
    return radius_mm**2 * (half_angle_rad - math.sin(half_angle_rad) * math.cos(half_angle_rad))


def blade_face(job: Job, name: FaceName) -> Face:
    """The named bevel face; one that bulges by the plane that touches it where it begins.

    Raises: ImpossibleError where the blade has no such face.
    """
    side = blade_side(job.blade.section, name)
    return _plane(side, name, side.start, side.bevel_rad)


def _plane(side: Side, name: FaceName, touched: Vector, bevel_rad: float) -> Face:
    """The plane through a point of a side at an angle to the centre plane."""
    sign = 1.0 if name == "A" else -1.0
    at_edge = touched[1] - touched[0] * math.tan(bevel_rad)
    return Face(
        name=name,
        bevel_rad=bevel_rad,
        corner=(0.0, sign * at_edge),
        along=(math.cos(bevel_rad), sign * math.sin(bevel_rad)),
        normal=(-math.sin(bevel_rad), sign * math.cos(bevel_rad)),
        width_mm=side.width_mm,
        start_mm=side.start[0] / math.cos(bevel_rad),
        radius_mm=side.radius_mm,
        middle_of_arc=(side.centre[0], sign * side.centre[1]),
        first_rad=side.bevel_rad,
        ends=((side.start[0], sign * side.start[1]), (side.shoulder[0], sign * side.shoulder[1])),
    )


def touched_in_middle(job: Job, face: Face, relief: Relief | None) -> Face:
    """A face that bulges by the plane that touches it in the middle of its relief."""
    if face.radius_mm is None or relief is None:
        return face
    from_start = (
        relief.edge_land_mm + (face.width_mm - relief.edge_land_mm - relief.shoulder_land_mm) / 2.0
    )
    angle = face.first_rad - from_start / face.radius_mm
    return bulging_plane(blade_side(job.blade.section, face.name), face.name, angle)


def bulging_plane(side: Side, name: FaceName, angle_rad: float) -> Face:
    """A face that bulges by the plane that touches it where it has an angle to the centre plane."""
    (y, w), radius = side.centre, side.radius_mm or 0.0
    touched = y - radius * math.sin(angle_rad), w + radius * math.cos(angle_rad)
    return _plane(side, name, touched, angle_rad)


def _bent_curvature_per_mm(job: Job, face: Face) -> float:
    """What a bend after the grind makes up of a curve across the face: above 0 hollows it.

    A strip bent to R at its middle curves the other way by nu / R (Timoshenko), a line that leans
    by the bevel's angle by nu cos / R; the outside, face A, is dished, the inside crowned.
    """
    edge, share = job.blade.edge, job.relief.before_bend
    if share is None or not isinstance(edge, BendEdge):
        return 0.0
    form = job.blade.section
    outward = blade_side(form, "A").proud_mm - blade_side(form, "B").proud_mm
    curve = share * job.relief.poisson * math.cos(face.bevel_rad)
    curve /= edge.radius_mm + outward / 2.0
    return curve if face.name == "A" else -curve


def _ground_depth_mm(job: Job, face: Face, radius_mm: float) -> float | None:
    """The depth asked for, less what the bend after the grind will add in the relief's middle.

    Found in half of the chord, by halving. Raises: ImpossibleError where the bend does it all.
    """
    asked = job.relief.on(face.name)
    curve, depth, width = _bent_curvature_per_mm(job, face), asked.depth_mm, face.width_mm
    land = asked.edge_land_mm if asked.edge_land_mm is not None else asked.shoulder_land_mm
    if depth is None or land is None or curve == 0.0:
        return depth
    if depth <= curve * width * width / 8.0:
        raise ImpossibleError("the bend alone makes the face as hollow as the job asks")

    def sagitta(half: float) -> float:
        return half * half / (radius_mm + math.sqrt(radius_mm * radius_mm - half * half))

    # The dish is the same whichever end of the face its place is counted from.
    low, high = 0.0, min((width - land) / 2.0, radius_mm)
    for _ in range(80):
        half = (low + high) / 2.0
        place = land + half
        hollow = sagitta(half) + curve * place * (width - place) / 2.0
        low, high = (half, high) if hollow < depth else (low, half)
    return sagitta((low + high) / 2.0)


def wanted_relief(job: Job, face: Face, radius_mm: float) -> Relief:
    """The job's two measures and the third, for this wheel.

    Of a chord c and a depth d in a circle of radius R, (c/2)^2 = d (2 R - d) (Euclid, Elements
    III.35). Raises: ImpossibleError where no such circle exists on the face.
    """
    if face.radius_mm is not None:
        return _wanted_in_bulge(job, face, face.radius_mm, radius_mm)
    asked = job.relief.on(face.name)
    edge, shoulder = asked.edge_land_mm, asked.shoulder_land_mm
    depth = _ground_depth_mm(job, face, radius_mm)
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
        edge, shoulder = _two_lands(face.width_mm - chord, edge, shoulder)
    tolerance = job.relief.land_tolerance_mm
    return Relief(
        edge_land_mm=edge,
        shoulder_land_mm=shoulder,
        chord_mm=chord,
        depth_mm=depth,
        land_tolerance_mm=tolerance,
        depth_tolerance_mm=tolerance * (chord / 2.0) / (radius_mm - depth),
        arc_radius_mm=radius_mm,
        middle_mm=face.start_mm + edge + chord / 2.0,
    )


def _two_lands(
    room_mm: float, edge_mm: float | None, shoulder_mm: float | None
) -> tuple[float, float]:
    """Both lands, of one and the room of the two."""
    if edge_mm is None:
        edge_mm = room_mm - (shoulder_mm or 0.0)
    else:
        shoulder_mm = room_mm - edge_mm
    assert shoulder_mm is not None
    if min(edge_mm, shoulder_mm) < 0.0:
        raise ImpossibleError("a relief of this depth is wider than the bevel face")
    return edge_mm, shoulder_mm


def _wanted_in_bulge(job: Job, face: Face, bulge_mm: float, radius_mm: float) -> Relief:
    """The same on a face that bulges: the depth is that of both arcs over one chord."""
    asked = job.relief.on(face.name)
    edge, shoulder, depth = asked.edge_land_mm, asked.shoulder_land_mm, asked.depth_mm
    if depth is not None and edge is not None and shoulder is not None:
        # All three: what the face itself does not stand out is the hollow's own.
        turned = (face.width_mm - edge - shoulder) / (2.0 * bulge_mm)
        half = bulge_mm * math.sin(turned)
        hollow = depth - bulge_mm * (1.0 - math.cos(turned))
        if hollow <= 0.0:
            raise ImpossibleError("the face stands out further than the relief is deep")
        radius_mm = _generated_radius_mm(half, hollow, radius_mm)
    elif depth is None:
        if edge is None or shoulder is None:
            raise ImpossibleError("two of edge land, shoulder land and depth are needed")
        turned = (face.width_mm - edge - shoulder) / (2.0 * bulge_mm)
        half = bulge_mm * math.sin(turned)
        if not 0.0 < half < radius_mm:
            raise ImpossibleError("the lands leave no chord that the wheel can grind")
        depth = bulge_mm * (1.0 - math.cos(turned)) + radius_mm - math.sqrt(radius_mm**2 - half**2)
    else:
        if depth >= min(radius_mm, bulge_mm):
            raise ImpossibleError("the relief is as deep as a radius")
        probe = Relief(0.0, 0.0, 0.0, depth, 0.0, 0.0, radius_mm, 0.0, bulge_mm)
        half = probe.chord_at_mm(depth) / 2.0
        along = 2.0 * bulge_mm * math.asin(half / bulge_mm)
        edge, shoulder = _two_lands(face.width_mm - along, edge, shoulder)
    wheel, steel = math.asin(half / radius_mm), math.asin(half / bulge_mm)
    tolerance = job.relief.land_tolerance_mm
    middle = face.first_rad - (edge + bulge_mm * steel) / bulge_mm
    return Relief(
        edge_land_mm=edge,
        shoulder_land_mm=shoulder,
        chord_mm=2.0 * half,
        depth_mm=depth,
        land_tolerance_mm=tolerance,
        depth_tolerance_mm=tolerance * (math.tan(wheel) + math.tan(steel)) * math.cos(steel),
        arc_radius_mm=radius_mm,
        middle_mm=(face.middle_of_arc[0] - bulge_mm * math.sin(middle)) / math.cos(middle),
        face_radius_mm=bulge_mm,
    )


def _generated_radius_mm(half_chord_mm: float, depth_mm: float, wheel_radius_mm: float) -> float:
    """Radius of the arc through both lands at the depth, (h^2 + d^2) / (2 d): Euclid III.35."""
    if half_chord_mm <= 0.0 or depth_mm >= half_chord_mm:
        raise ImpossibleError("the lands and the depth leave no arc flatter than a half circle")
    radius = (half_chord_mm * half_chord_mm + depth_mm * depth_mm) / (2.0 * depth_mm)
    if wheel_radius_mm >= radius:
        raise ImpossibleError("a wheel larger than the relief's arc cannot generate it in lines")
    return radius
