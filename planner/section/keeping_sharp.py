"""How strong the steel behind the edge is, and how the lands grow as the blade is honed.

Everything is taken from the outlines, finished and without the reliefs: docs/how-it-will-cut.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.formulas.honing import Span, honed_edge, touching_spans, turn_of_one_land
from planner.formulas.thin_section import section_modulus, thickness_between
from planner.formulas.work_contact import bridge
from planner.inputs.cutting import Honing
from planner.section.face_outline import FaceOutline, Floats, section_faces
from planner.section.target import Section

STATIONS_MM = (0.25, 0.5, 1.0, 2.0)
"""Distances behind the edge at which a maker looks; common practice, no source."""

LAND_GROWTH = 2.0
"""Where no limit is given: a land this many times as wide as ground is at its end. Common practice,
no source."""

LEAST_LIMIT_MM = 0.5
"""No such limit is narrower than this; common practice, no source."""

First = Literal["edge land", "shoulder land", "relief"]

_HALVINGS = 50
_TOUCHING_MM = 1e-9


@dataclass(frozen=True)
class SteelBehind:
    """The section at one distance behind the edge."""

    from_edge_mm: float
    deepest_of: str
    """The faces whose relief is deepest here: A, B, AB or none."""
    thickness_mm: float
    full_thickness_mm: float
    """Without the reliefs."""
    modulus_mm2: float
    """Section modulus of each mm of edge."""
    full_modulus_mm2: float

    @property
    def modulus_share(self) -> float:
        """Of the full section's."""
        return self.modulus_mm2 / self.full_modulus_mm2


@dataclass(frozen=True)
class FaceHoning:
    """What honing on both lands does to one face."""

    face: str
    edge_angle_deg: float
    """Included, as ground."""
    honed_angle_deg: float
    """Included, once the stone that lies on both lands has reached the edge."""
    reaches_edge_after_mm: float
    """How much is gone from the lands by then."""
    alone_deg: float | None
    """How much steeper one honing leaves the edge land when it is honed alone; None without one."""
    edge_land_limit_mm: float
    shoulder_land_limit_mm: float
    honings: int
    """How many both lands bear until one is past its limit."""
    gone_mm: float
    """How much is gone from the face after that many."""
    edge_land_mm: float
    """Then."""
    shoulder_land_mm: float
    depth_left_mm: float
    edge_back_mm: float
    """How far the edge has gone back along the face."""
    first: First
    """What is at its end first."""
    reaches_edge_after: int
    """How many honings until the stone has reached the edge."""

    @property
    def reaches_edge(self) -> bool:
        """Whether the stone reaches the edge before the relief must be ground again."""
        return self.reaches_edge_after <= self.honings


@dataclass(frozen=True)
class _Line:
    """A stone's line in the section: through a point, z outward on its side, at an angle."""

    at_yz_mm: tuple[float, float]
    angle_rad: float
    """To the centre plane."""
    before: int
    after: int
    """Indices of the points of the face that it touches."""


@dataclass(frozen=True, eq=False)
class _OnStone:
    """A face lying on the stone: x along it from where the stones of both faces meet."""

    x_mm: Floats
    y_mm: Floats
    before: int
    after: int
    """Indices of the two points that touch first, on the edge land and on the shoulder land."""
    included_rad: float
    other_is_honed: bool

    def edge_mm(self, gone_mm: float) -> float:
        """Where the honed edge is."""
        other = gone_mm if self.other_is_honed else 0.0
        return float(honed_edge(gone_mm, other, self.included_rad))

    def lands(self, gone_mm: float) -> tuple[Span, Span]:
        """Edge land and shoulder land with so much gone; one and the same where they have met."""
        spans = touching_spans(self.x_mm, self.y_mm, gone_mm + _TOUCHING_MM)
        at = [float(self.x_mm[self.before]), float(self.x_mm[self.after])]
        edge, shoulder = (
            next(s for s in spans if s[0] - _TOUCHING_MM <= place <= s[1] + _TOUCHING_MM)
            for place in at
        )
        start = max(edge[0], self.edge_mm(gone_mm))
        return (start, edge[1]), (max(shoulder[0], start), shoulder[1])

    @property
    def depth_mm(self) -> float:
        """How deep the relief lies below the stone."""
        return float(self.y_mm[self.before : self.after + 1].max())


def steel_behind(section: Section) -> tuple[SteelBehind, ...]:
    """The steel at the usual distances and where each relief is deepest, from the edge on."""
    finished, full = section_faces(section)
    places = {y: "" for y in STATIONS_MM if y < section.width_mm}
    for face, bare in zip(finished, full, strict=True):
        if section.relief(face.face) is not None:
            y, _ = face.in_section(face.x_mm, face.y_mm)
            place = round(float(y[_deepest(face, bare)]), 9)
            places[place] = places.get(place, "") + face.face
    y = np.array(sorted(places))
    whole = _thickness(full, y)
    left = np.minimum(_thickness(finished, y), whole)  # arcs may be cut into other chords
    moduli = section_modulus(left), section_modulus(whole)
    return tuple(
        SteelBehind(place, places[place], *(float(v[i]) for v in (left, whole, *moduli)))
        for i, place in enumerate(y.tolist())
    )


def face_honings(section: Section, asked: Honing) -> tuple[FaceHoning, ...]:
    """Every relieved face honed on both its lands, the other with it where it has a relief too."""
    finished, full = section_faces(section)
    lines = {
        face.face: _stone_line(face, bare)
        for face, bare in zip(finished, full, strict=True)
        if section.relief(face.face) is not None
    }
    found = []
    for face, other in (finished, finished[::-1]):
        if face.face in lines:
            on_stone = _laid(face, lines[face.face], other, lines.get(other.face))
            included = face.direction_rad + other.direction_rad
            found.append(_honing(section, face.face, on_stone, included, asked))
    return tuple(found)


def _honing(
    section: Section, face: str, stone: _OnStone, included_rad: float, asked: Honing
) -> FaceHoning:
    relief = section.relief(face)
    assert relief is not None
    lands = relief.edge_land_mm, relief.shoulder_land_mm
    limits = [asked.land_limit_mm or max(LAND_GROWTH * land, LEAST_LIMIT_MM) for land in lands]

    def past(gone_mm: float) -> list[bool]:
        return [
            end - start > limit + 1e-9
            for (start, end), limit in zip(stone.lands(gone_mm), limits, strict=True)
        ]

    most = _last_within(past, stone.depth_mm)
    honings = math.floor(most / asked.each_mm + 1e-9)
    gone = honings * asked.each_mm
    edge, shoulder = stone.lands(gone)
    alone, reaches = None, _reaches_edge_mm(stone)
    if relief.edge_land_mm > _TOUCHING_MM:
        alone = math.degrees(float(turn_of_one_land(asked.each_mm, relief.edge_land_mm)))
    return FaceHoning(
        face=face,
        edge_angle_deg=math.degrees(included_rad),
        honed_angle_deg=math.degrees(stone.included_rad),
        reaches_edge_after_mm=reaches,
        alone_deg=alone,
        edge_land_limit_mm=limits[0],
        shoulder_land_limit_mm=limits[1],
        honings=honings,
        gone_mm=gone,
        edge_land_mm=edge[1] - edge[0],
        shoulder_land_mm=shoulder[1] - shoulder[0],
        depth_left_mm=max(stone.depth_mm - gone, 0.0),
        edge_back_mm=max(stone.edge_mm(gone) - float(stone.x_mm[0]), 0.0),
        first=_first_past(past, most, stone.depth_mm),
        reaches_edge_after=math.ceil(reaches / asked.each_mm - 1e-9),
    )


def _first_past(past: Callable[[float], list[bool]], most_mm: float, depth_mm: float) -> First:
    """Which of them ends it; when the relief goes, both lands are one."""
    just_beyond = most_mm + depth_mm * 1e-6
    if just_beyond >= depth_mm:
        return "relief"
    return "edge land" if past(just_beyond)[0] else "shoulder land"


def _last_within(past: Callable[[float], list[bool]], depth_mm: float) -> float:
    low, high = 0.0, depth_mm * (1 - 1e-9)
    if any(past(low)):
        return 0.0
    if not any(past(high)):
        return high
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if any(past(middle)) else (middle, high)
    return low


def _reaches_edge_mm(stone: _OnStone) -> float:
    """How much is gone when the edge land ends at the edge itself."""

    def reaches(gone_mm: float) -> bool:
        spans = touching_spans(stone.x_mm, stone.y_mm, gone_mm + _TOUCHING_MM)
        place = float(stone.x_mm[stone.before])
        start = next(a for a, b in spans if a - _TOUCHING_MM <= place <= b + _TOUCHING_MM)
        return start <= max(stone.edge_mm(gone_mm), float(stone.x_mm[0])) + _TOUCHING_MM

    low, high = 0.0, max(float(stone.y_mm[0]), 0.0)
    if reaches(low):
        return 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if reaches(middle) else (middle, high)
    return high


def _deepest(face: FaceOutline, bare: FaceOutline) -> int:
    """Index of the bevel's point that lies farthest inside the face without its relief."""
    x, y = face.bevel()
    inside = y - np.interp(x, bare.x_mm, bare.y_mm)
    return int(np.argmax(inside[1:-1])) + 1


def _thickness(faces: tuple[FaceOutline, FaceOutline], y_mm: Floats) -> Floats:
    sides = [f.in_section(f.x_mm, f.y_mm) for f in faces]
    (y, z), (other_y, other_z) = ((np.maximum.accumulate(y), z) for y, z in sides)
    return np.asarray(thickness_between(y_mm, y, z, other_y, -other_z))


def _stone_line(face: FaceOutline, bare: FaceOutline) -> _Line:
    """The line of a stone that lies on both lands."""
    x, y = face.bevel()
    pair = bridge(x, y, _deepest(face, bare), 0.0)
    assert pair is not None  # flat work takes any two points
    before, after = pair
    rise = math.atan2(float(y[after] - y[before]), float(x[after] - x[before]))
    (at_y, _), (at_z, _) = face.in_section(x[[before, after]], y[[before, after]])
    return _Line((float(at_y), float(at_z)), face.direction_rad - rise, before, after)


def _laid(face: FaceOutline, line: _Line, other: FaceOutline, other_line: _Line | None) -> _OnStone:
    """The face in the frame of its stone, x from where it meets the other face or its stone."""
    second = other_line or _Line(other.edge_yz_mm, other.direction_rad, 0, 0)
    included = line.angle_rad + second.angle_rad
    sine, cosine = math.sin(line.angle_rad), math.cos(line.angle_rad)
    # From a point of the line to one of the other's, z outward on this side.
    dy, dz = second.at_yz_mm[0] - line.at_yz_mm[0], -second.at_yz_mm[1] - line.at_yz_mm[1]
    meet = (dy * math.sin(second.angle_rad) + dz * math.cos(second.angle_rad)) / math.sin(included)
    y, z = face.in_section(face.x_mm, face.y_mm)
    y, z = y - line.at_yz_mm[0], z - line.at_yz_mm[1]
    along = y * cosine + z * sine - meet
    turns_back = np.flatnonzero(np.diff(along) < 0)
    end = int(turns_back[0]) + 1 if turns_back.size else len(along)
    return _OnStone(
        x_mm=along[:end],
        y_mm=(y * sine - z * cosine)[:end],
        before=line.before,
        after=line.after,
        included_rad=included,
        other_is_honed=other_line is not None,
    )
