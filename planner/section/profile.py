"""The two faces of the unground blade, from each section form (docs/section-forms.md).

Every face is the lowest of a few simple lines: its bevel (a plane, or an arc that bulges), a micro
bevel at the edge, and the flank behind the shoulder. A face that bulges is worked from the plane
that touches it where the relief has its middle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from planner.formulas import bevel
from planner.inputs.blade_forms import (
    Axe,
    BladeForm,
    ConvexBevel,
    DoubleBevel,
    Form,
    Gouge,
    Hook,
    SingleBevel,
)
from planner.inputs.outline_form import Outline

Floats = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]

CHORD_ERROR_MM = 1e-4
"""Largest distance between an arc and the polyline that stands for it in an outline."""

FACES = ("A", "B")


@dataclass(frozen=True)
class Bulge:
    """The arc of a convex face; its centre lies on the other side of the face's steel."""

    radius_mm: float
    centre_yz_mm: tuple[float, float]

    def angle_rad(self, y_mm: float) -> float:
        """Angle of the face to the centre plane at y."""
        return math.asin((self.centre_yz_mm[0] - y_mm) / self.radius_mm)

    def point(self, angle_rad: float) -> tuple[float, float]:
        """(y, |z|) where the face has this angle to the centre plane."""
        return (
            self.centre_yz_mm[0] - self.radius_mm * math.sin(angle_rad),
            self.centre_yz_mm[1] + self.radius_mm * math.cos(angle_rad),
        )


@dataclass(frozen=True)
class BevelFace:
    """One bevel face of the unground blade; |z| is counted outward from the centre plane."""

    face: str
    angle_deg: float
    """Of its plane to the centre plane; of a face that bulges, of the plane that touches it where
    the relief has its middle."""
    height_mm: float
    """The shoulder, as y."""
    width_mm: float
    """Length of the face in the section, from the edge or the micro bevel to the shoulder."""
    at_edge_mm: float
    """|z| at which the plane meets y = 0."""
    start_yz_mm: tuple[float, float]
    """Where the face begins: the corner of the edge, or the end of the micro bevel."""
    flank: Points
    """(y, |z|) from y = 0 to the spine: the flank, prolonged to the edge."""
    corner_mm: float
    """|z| of the edge's own corner: half of the edge thickness."""
    edge_angle_deg: float
    """Angle to the centre plane where the face begins."""
    micro_deg: float | None = None
    """Angle of the micro bevel to the centre plane."""
    bulge: Bulge | None = None

    @property
    def angle_rad(self) -> float:
        """Bevel angle to the centre plane."""
        return math.radians(self.angle_deg)

    @property
    def bulge_radius_mm(self) -> float:
        """Radius of the face itself; infinite for a flat one."""
        return math.inf if self.bulge is None else self.bulge.radius_mm

    @property
    def start_mm(self) -> float:
        """Where a flat face begins, along its plane from y = 0."""
        return self.start_yz_mm[0] / math.cos(self.angle_rad)

    @property
    def flank_mm(self) -> float:
        """Greatest |z| of the flank."""
        return max(z for _, z in self.flank)

    @property
    def stock_mm(self) -> float:
        """|z| of the flank prolonged to the edge: where parallel stock would end.

        A face without a bevel is that of the stock itself.
        """
        return self.flank[0][1] if self.edge_angle_deg > 0.0 else self.at_edge_mm

    @property
    def flank_rad(self) -> float:
        """Angle to the centre plane of the flank at the shoulder, above 0 where it still rises."""
        pieces = list(pairwise(self.flank))
        reaching = (p for p in pieces if p[1][0] > self.height_mm + 1e-9)
        (y1, z1), (y2, z2) = next(reaching, pieces[-1])
        return math.atan2(z2 - z1, y2 - y1)

    def raised(self, outside_mm: float) -> BevelFace:
        """The parallel plane so far outside it; an arc is moved along the plane's normal."""
        if outside_mm == 0.0:
            return self
        at_edge = self.at_edge_mm + outside_mm / math.cos(self.angle_rad)
        bulge = self.bulge
        if bulge is not None and math.isfinite(outside_mm):
            y, z = bulge.centre_yz_mm
            y -= outside_mm * math.sin(self.angle_rad)
            z += outside_mm * math.cos(self.angle_rad)
            bulge = Bulge(bulge.radius_mm, (y, z))
        # Endlessly far out is the stock: the plane alone, above every flank.
        return replace(self, at_edge_mm=at_edge, bulge=None if math.isinf(outside_mm) else bulge)

    def heights(self, y_mm: Floats) -> Floats:
        """|z| of the face at each y, no relief taken. Shape: (n,) -> (n,)."""
        ys, zs = np.array(self.flank).T
        found = np.interp(y_mm, ys, zs)
        if self.bulge is None:
            found = np.minimum(self.at_edge_mm + y_mm * math.tan(self.angle_rad), found)
        else:
            centre_y, centre_z = self.bulge.centre_yz_mm
            radius = self.bulge.radius_mm
            # Ahead of a micro bevel's end the circle may run under it: there is none of the face.
            first_y = -math.inf if self.micro_deg is None else self.start_yz_mm[0]
            before = np.clip(np.maximum(y_mm, first_y) - centre_y, -radius, 0.0)
            found = np.minimum(centre_z + np.sqrt(radius * radius - before * before), found)
        if self.micro_deg is not None:
            steeper = self.corner_mm + y_mm * math.tan(math.radians(self.micro_deg))
            found = np.minimum(steeper, found)
        return np.asarray(found)

    def point(self, along_mm: float, below_mm: float = 0.0) -> tuple[float, float]:
        """(y, |z|) so far along the plane from y = 0, and below it."""
        sine, cosine = math.sin(self.angle_rad), math.cos(self.angle_rad)
        return (
            along_mm * cosine + below_mm * sine,
            self.at_edge_mm + along_mm * sine - below_mm * cosine,
        )

    def between_lands(self, edge_land_mm: float, shoulder_land_mm: float) -> tuple[float, float]:
        """Straight chord between the ends of two lands, and the angle of the face in its middle.

        The chord of overlapping lands is below 0. Returns mm and radians.
        """
        between = self.width_mm - edge_land_mm - shoulder_land_mm
        if self.bulge is None:
            return between, self.angle_rad
        radius = self.bulge.radius_mm
        first = math.radians(self.edge_angle_deg) - edge_land_mm / radius
        return 2 * radius * math.sin(between / 2 / radius), first - between / 2 / radius

    def touched_at(self, angle_rad: float) -> BevelFace:
        """A face that bulges, worked from the plane that touches it where it has this angle."""
        if self.bulge is None:
            return self
        y, z = self.bulge.point(angle_rad)
        return replace(
            self, angle_deg=math.degrees(angle_rad), at_edge_mm=z - y * math.tan(angle_rad)
        )

    def surface(self, first_y_mm: float, last_y_mm: float) -> list[tuple[float, float]]:
        """Points (y, |z|) of the face itself between two y, both ends with it."""
        if self.bulge is None:
            return [self.point(y / math.cos(self.angle_rad)) for y in (first_y_mm, last_y_mm)]
        first, last = self.bulge.angle_rad(first_y_mm), self.bulge.angle_rad(last_y_mm)
        step = 2 * math.acos(1 - CHORD_ERROR_MM / self.bulge.radius_mm)
        count = max(math.ceil(abs(first - last) / step), 1) + 1
        return [self.bulge.point(angle) for angle in np.linspace(first, last, count).tolist()]


def face_points(face: BevelFace) -> list[tuple[float, float]]:
    """Points (y, |z|) of a face without a relief, from the edge to the spine."""
    points = [(0.0, face.corner_mm)]
    if face.micro_deg is not None:
        points.append(face.start_yz_mm)
    points += face.surface(points[-1][0], face.height_mm)[1:]
    return [*points, *(p for p in face.flank if p[0] > face.height_mm + 1e-9)]


def bevel_faces(blade: Form) -> tuple[BevelFace, BevelFace]:
    """The two faces of the stock, face A, then face B; a face without a bevel has an angle of 0.

    Only what the model of the file has let through; whether the shoulders lie on the blade is for
    the section to say.
    """
    level = _level(blade.thickness_mm / 2, blade.width_mm)
    if isinstance(blade, DoubleBevel):
        half = (blade.included_angle_deg or 0.0) / 2
        angles = blade.angle_a_deg or half, blade.angle_b_deg or half
        pair = _flat(blade, "A", angles[0], level), _flat(blade, "B", angles[1], level)
    elif isinstance(blade, ConvexBevel):
        pair = _convex(blade, "A", level), _convex(blade, "B", level)
    elif isinstance(blade, Axe):
        cheeks, half = _cheeks(blade), blade.included_angle_deg / 2
        pair = _flat(blade, "A", half, cheeks), _flat(blade, "B", half, cheeks)
    elif isinstance(blade, SingleBevel):
        flank = _level(blade.thickness_mm - blade.edge_thickness_mm / 2, blade.width_mm)
        pair = _flat(blade, "A", blade.angle_deg, flank), _back(blade, 0.0)
    elif isinstance(blade, Hook):
        pair = _hook_outside(blade), _back(blade, blade.back_radius_mm)
    elif isinstance(blade, Outline):
        pair = _drawn(blade, 0), _drawn(blade, 1)
    else:
        pair = _gouge_wall(blade)
    return pair


def _drawn(blade: Outline, index: int) -> BevelFace:
    """A face of the maker's own outline: a micro bevel, the bevel, and the rest as the flank."""
    face, points, radius = FACES[index], blade.faces[index], blade.radii_mm[index]
    micro = blade.micro_bevels[index]
    first, (y, z), *behind = points if micro is None else points[1:]
    begin = _Begin(points[0][1], first, None if micro is None else micro.angle_deg)
    slope = (behind[0][1] - z) / (behind[0][0] - y) if behind else 0.0
    flank = (0.0, z - slope * y), *(behind or [(y, z)])
    run, rise = y - first[0], z - first[1]
    chord, width = math.atan2(rise, run), math.hypot(run, rise)
    if radius is not None:
        turn = math.asin(width / 2 / radius)
        return _bulging(begin, face, flank, radius, chord + turn, chord - turn)
    return BevelFace(
        face=face,
        angle_deg=math.degrees(chord),
        height_mm=y,
        width_mm=width,
        at_edge_mm=begin.yz_mm[1] - begin.yz_mm[0] * rise / run,
        start_yz_mm=begin.yz_mm,
        flank=flank,
        corner_mm=begin.corner_mm,
        edge_angle_deg=math.degrees(chord),
        micro_deg=begin.micro_deg,
    )


def _gouge_wall(blade: Gouge) -> tuple[BevelFace, BevelFace]:
    half_edge = blade.edge_thickness_mm / 2
    outside = blade.thickness_mm - half_edge - blade.inside_rise_mm
    front = _flat(blade, "A", blade.outside_angle_deg, _level(outside, blade.width_mm))
    if blade.inside_angle_deg == 0.0:
        return front, _back(blade, 0.0)
    inside = _level(half_edge + blade.inside_rise_mm, blade.width_mm)
    bare = blade.model_copy(update={"micro_bevel": None})
    return front, _flat(bare, "B", blade.inside_angle_deg, inside)


def _back(blade: BladeForm, rounded_mm: float) -> BevelFace:
    """A side without a bevel: flat from the edge to the spine, or to where that is rounded."""
    half_edge, flat = blade.edge_thickness_mm / 2, blade.width_mm - rounded_mm
    return BevelFace(
        face="B",
        angle_deg=0.0,
        height_mm=flat,
        width_mm=flat,
        at_edge_mm=half_edge,
        start_yz_mm=(0.0, half_edge),
        flank=_rounded(half_edge, blade.width_mm, rounded_mm),
        corner_mm=half_edge,
        edge_angle_deg=0.0,
    )


def _rounded(height_mm: float, width_mm: float, radius_mm: float) -> Points:
    """A level flank whose corner at the spine is rounded."""
    if radius_mm == 0.0:
        return _level(height_mm, width_mm)
    step = 2 * math.acos(1 - CHORD_ERROR_MM / radius_mm)
    turns = np.linspace(0.0, math.pi / 2, max(math.ceil(math.pi / 2 / step), 1) + 1)
    arc = [
        (width_mm - radius_mm * (1 - math.sin(a)), height_mm - radius_mm * (1 - math.cos(a)))
        for a in turns.tolist()
    ]
    return (0.0, height_mm), *arc


def _hook_outside(blade: Hook) -> BevelFace:
    flank = _rounded(
        blade.thickness_mm - blade.edge_thickness_mm / 2, blade.width_mm, blade.back_radius_mm
    )
    if blade.radius_mm is None:
        return _flat(blade, "A", blade.angle_deg, flank)
    edge = math.radians(blade.angle_deg)
    begin = _begin(blade)
    shoulder = _arc_cosine(math.cos(edge) + (flank[0][1] - begin.yz_mm[1]) / blade.radius_mm)
    return _bulging(begin, "A", flank, blade.radius_mm, edge, shoulder)


def _level(height_mm: float, width_mm: float) -> Points:
    return (0.0, height_mm), (width_mm, height_mm)


class _Begin(NamedTuple):
    """Where a bevel face begins, and what is ahead of it."""

    corner_mm: float
    """Half of the edge thickness."""
    yz_mm: tuple[float, float]
    """The corner itself, or the end of the micro bevel."""
    micro_deg: float | None


def _begin(blade: BladeForm) -> _Begin:
    corner, micro = blade.edge_thickness_mm / 2, blade.micro_bevel
    if micro is None:
        return _Begin(corner, (0.0, corner), None)
    angle = math.radians(micro.angle_deg)
    end = micro.width_mm * math.cos(angle), corner + micro.width_mm * math.sin(angle)
    return _Begin(corner, end, micro.angle_deg)


def _flat(blade: BladeForm, face: str, angle_deg: float, flank: Points) -> BevelFace:
    begin = _begin(blade)
    y, z = begin.yz_mm
    angle = math.radians(angle_deg)
    at_edge = z - y * math.tan(angle)
    shoulder_y, shoulder_z = _meets_flank(at_edge, math.tan(angle), flank)
    return BevelFace(
        face=face,
        angle_deg=angle_deg,
        height_mm=shoulder_y,
        width_mm=float(bevel.bevel_face_width(2 * shoulder_z, 2 * z, angle)),
        at_edge_mm=at_edge,
        start_yz_mm=begin.yz_mm,
        flank=flank,
        corner_mm=begin.corner_mm,
        edge_angle_deg=angle_deg,
        micro_deg=begin.micro_deg,
    )


def _meets_flank(at_edge_mm: float, slope: float, flank: Points) -> tuple[float, float]:
    """Where a plane meets the flank: on the blade, or the last piece of the flank prolonged."""
    found = math.inf, flank[-1][1]
    for (y1, z1), (y2, z2) in pairwise(flank):
        rise = (z2 - z1) / (y2 - y1)
        if slope > rise:
            y = (z1 - at_edge_mm - rise * y1) / (slope - rise)
            found = y, z1 + rise * (y - y1)
            if y <= y2:
                break
    return found


def _convex(blade: ConvexBevel, face: str, flank: Points) -> BevelFace:
    begin = _begin(blade)
    return _bulging(begin, face, flank, *convex_sizes(blade, flank[-1][1] - begin.yz_mm[1]))


def _bulging(
    begin: _Begin, face: str, flank: Points, radius: float, edge: float, shoulder: float
) -> BevelFace:
    y, z = begin.yz_mm
    centre = y + radius * math.sin(edge), z - radius * math.cos(edge)
    bulge = Bulge(radius, centre)
    whole = BevelFace(
        face=face,
        angle_deg=math.degrees(edge),
        height_mm=bulge.point(shoulder)[0],
        width_mm=radius * (edge - shoulder),
        at_edge_mm=z,
        start_yz_mm=begin.yz_mm,
        flank=flank,
        corner_mm=begin.corner_mm,
        edge_angle_deg=math.degrees(edge),
        micro_deg=begin.micro_deg,
        bulge=bulge,
    )
    return whole.touched_at((edge + shoulder) / 2)


def convex_sizes(blade: ConvexBevel, rise_mm: float) -> tuple[float, float, float]:
    r"""Radius (mm) of a bulging face, and its angles at edge and shoulder (radians, one side).

    With a rise f from the edge to the flank, :math:`f = \rho (\cos\sigma - \cos\varepsilon)`.
    An angle that does not exist for the radius comes out NaN.
    """
    edge = None if blade.edge_angle_deg is None else math.radians(blade.edge_angle_deg / 2)
    shoulder = (
        None if blade.shoulder_angle_deg is None else math.radians(blade.shoulder_angle_deg / 2)
    )
    radius = blade.radius_mm
    if radius is None:
        assert edge is not None
        assert shoulder is not None
        radius = rise_mm / (math.cos(shoulder) - math.cos(edge))
    elif edge is None:
        assert shoulder is not None
        edge = _arc_cosine(math.cos(shoulder) - rise_mm / radius)
    else:
        shoulder = _arc_cosine(math.cos(edge) + rise_mm / radius)
    return radius, edge, shoulder


def _arc_cosine(value: float) -> float:
    return math.acos(value) if -1.0 <= value <= 1.0 else math.nan


def _cheeks(blade: Axe) -> Points:
    """From where they would meet y = 0 over the shoulder to the spine."""
    half, at_shoulder = blade.thickness_mm / 2, blade.bevel_thickness_mm / 2
    start_y, start_z = _begin(blade).yz_mm
    slope = math.tan(math.radians(blade.included_angle_deg / 2))
    shoulder = start_y + (at_shoulder - start_z) / slope
    run, rise = blade.width_mm - shoulder, half - at_shoulder
    if run <= 0.0:
        return _level(at_shoulder, blade.width_mm)  # the section refuses it: no room for the bevel
    if blade.cheeks == "flat" or rise <= 0.0:
        return (0.0, at_shoulder - rise / run * shoulder), (blade.width_mm, half)
    # An arc that ends level at the spine: run^2 + (r - rise)^2 = r^2.
    radius = (run * run + rise * rise) / (2 * rise)
    first = math.asin(run / radius)
    count = max(math.ceil(first / (2 * math.acos(1 - CHORD_ERROR_MM / radius))), 1) + 1
    arc = [
        (blade.width_mm - radius * math.sin(a), half - radius * (1 - math.cos(a)))
        for a in np.linspace(first, 0.0, count).tolist()
    ]
    (y1, z1), (y2, z2) = arc[:2]
    before = (0.0, z1 - (z2 - z1) / (y2 - y1) * y1)
    return before, *((y, z) for y, z in arc)
