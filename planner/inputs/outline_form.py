"""The section form whose two faces are the maker's own points (docs/section-forms.md)."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Literal, NamedTuple

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from planner.inputs.fields import FileModel, Length, PairOf, PathText, rule_fault

Points = list[tuple[float, float]]

_MOST_POINTS = 2000
_WIDEST_MM, _THICKEST_MM = 500, 50
_LEAST_STEP_MM = 1e-6
_FLATTEST_DEG, _STEEPEST_DEG = 1.0, 75.0
_WIDEST_MICRO_MM = 10.0
"""As wide as the sized forms may have theirs."""
_SAME_MM = 1e-6


def _one_face(points: Points) -> Points:
    """Points that run from the edge to the spine; nothing about the other face."""
    fault = ""
    at = 0
    if not 2 <= len(points) <= _MOST_POINTS:
        fault = f"{len(points)} points"
    elif points[0][0] != 0.0 or points[0][1] < 0.0:
        fault = f"a first point at [{points[0][0]:g} mm, {points[0][1]:g} mm]"
    for n, (before, after) in enumerate(pairwise(points), 1):
        if not fault and after[0] - before[0] < _LEAST_STEP_MM:
            fault, at = f"y = {after[0]:g} mm after {before[0]:g} mm", n
        if not fault and (after[0] > _WIDEST_MM or abs(after[1]) > _THICKEST_MM):
            fault, at = f"a point at [{after[0]:g} mm, {after[1]:g} mm]", n
    if fault:
        raise rule_fault(
            "outline-points",
            key=f"[{at}]" if at else "",
            given=fault,
            allowed=f"two to {_MOST_POINTS} points [y, z]: y rises from 0 at the edge to at most "
            f"{_WIDEST_MM} mm at the spine, z counts outward from the centre plane",
            mend="begin at the edge, [0 mm, 0 mm], and go on toward the spine",
        )
    return points


FacePoints = Annotated[
    list[Annotated[tuple[Length, Length], PairOf("[y, z]")]], AfterValidator(_one_face)
]
FaceRadius = Annotated[Length | None, Field(gt=0, le=10_000)]


class MicroPiece(NamedTuple):
    """A drawn micro bevel, as one that is given by its sizes."""

    angle_deg: float
    """To the centre plane."""
    width_mm: float
    """Its length in the section."""


class Outline(FileModel):
    """The maker's own outline: each face as points from the edge to the spine.

    A point is [y, z]: y from the edge, z outward from the plane through it. The first piece of
    a face is its bevel, all behind it the flank; ``first_piece`` may say that a micro bevel comes
    before the bevel. ``face_b`` left out is like ``face_a``.
    """

    form: Literal["outline"]
    first_piece: Literal["bevel", "micro_bevel"] = "bevel"
    """What the first piece of each face that has a bevel is. After a micro bevel, which is straight
    and steeper, the second piece is the bevel."""
    file: PathText | None = None
    """A DXF or SVG file with the outline instead of the points, seen from the job's folder."""
    face_a: FacePoints | None = None
    face_b: FacePoints | None = None
    face_a_radius_mm: Annotated[FaceRadius, Field(alias="face_a_radius")] = None
    """Of the arc that the bevel of face A is, bulging outward; left out, it is flat."""
    face_b_radius_mm: Annotated[FaceRadius, Field(alias="face_b_radius")] = None
    """The same of face B, where ``face_b`` is given."""

    @property
    def micro_bevels(self) -> tuple[MicroPiece | None, MicroPiece | None]:
        """Of face A and of face B; None where the face begins with its bevel, or is a flat back."""
        first, second = self.faces
        return self._micro_piece(first), self._micro_piece(second)

    @property
    def micro_bevel(self) -> MicroPiece | None:
        """That of face A, or of face B where A is a flat back; None of an outline without one."""
        return next((micro for micro in self.micro_bevels if micro is not None), None)

    @property
    def faces(self) -> tuple[Points, Points]:
        """Points (y, z outward) of face A and of face B, mm."""
        assert self.face_a is not None, "the points of a file are put in as it is loaded"
        return self.face_a, self.face_a if self.face_b is None else self.face_b

    @property
    def radii_mm(self) -> tuple[float | None, float | None]:
        """Of the two bevels' arcs; None of a flat one."""
        first = self.face_a_radius_mm
        return first, first if self.face_b is None else self.face_b_radius_mm

    @property
    def bulges(self) -> bool:
        """Whether a bevel is an arc."""
        return any(radius is not None for radius in self.radii_mm)

    @property
    def width_mm(self) -> float:
        """From the edge to the spine."""
        return self.faces[0][-1][0]

    @property
    def edge_thickness_mm(self) -> float:
        """At the edge, which lies in the middle of it."""
        return 2 * self.faces[0][0][1]

    @property
    def thickness_mm(self) -> float:
        """The greatest across the section."""
        return max(thickness for _, thickness in self.thicknesses())

    @property
    def middle_mm(self) -> float:
        """How far the middle of the stock lies from the edge's, toward face A."""
        first, second = (max(z for _, z in face) for face in self.faces)
        return (first - second) / 2

    def thicknesses(self) -> Points:
        """(y, thickness) wherever one of the faces has a corner, arcs by their chords."""
        first, second = self.faces
        places = sorted({y for y, _ in (*first, *second)})
        return [(y, _height(first, y) + _height(second, y)) for y in places]

    @model_validator(mode="after")
    def _faces_belong_together(self) -> Outline:
        if self.face_a is None:
            raise rule_fault(
                "outline-source",
                key="",
                given="an outline without points",
                allowed="a file, or the points of face_a",
                mend="add face_a: [[0 mm, 0 mm], [6 mm, 1.5 mm], [20 mm, 1.5 mm]]",
            )
        first, second = self.faces
        fault, key = "", "face_b"
        if self.face_b is None and self.face_b_radius_mm is not None:
            fault, key = "a radius of face B without its points", "face_b_radius"
        elif abs(first[0][1] - second[0][1]) > _SAME_MM:
            fault = f"an edge at z = {first[0][1]:g} mm on face A, {second[0][1]:g} mm on face B"
        elif abs(first[-1][0] - second[-1][0]) > _SAME_MM:
            fault = f"a spine at y = {first[-1][0]:g} mm of face A, {second[-1][0]:g} mm of face B"
        else:
            thin = [y for y, thick in self.thicknesses()[1:] if thick <= _SAME_MM]
            fault = f"no steel between the faces at y = {thin[0]:g} mm" if thin else ""
            key = "face_b" if self.face_b is not None else "face_a"
        if fault:
            raise rule_fault(
                "outline-faces",
                key=key,
                other="" if key == "face_a" else "face_a",
                given=fault,
                allowed="two faces that begin at the same z and end at the same y, with steel "
                "between them all the way",
                mend="let both faces begin at half of the edge's thickness and end at the width; "
                "face_b left out is like face_a",
            )
        return self

    @model_validator(mode="after")
    def _bevels_are_bevels(self) -> Outline:
        if self.face_a is None:
            return self
        self._check_bevel("face_a", self.face_a, self.face_a_radius_mm)
        if self.face_b is not None:
            self._check_bevel("face_b", self.face_b, self.face_b_radius_mm)
        if all(_is_level(face) for face in self.faces):
            raise _no_bevel("face_a", 0, "two faces without a bevel")
        return self

    def _micro_piece(self, points: Points) -> MicroPiece | None:
        """The first piece of a face that it begins with, before its bevel."""
        if self.first_piece == "bevel" or _is_level(points):
            return None
        (_, corner), (y, z) = points[:2]
        return MicroPiece(math.degrees(math.atan2(z - corner, y)), math.hypot(y, z - corner))

    def _check_bevel(self, key: str, points: Points, radius_mm: float | None) -> None:
        micro = self._micro_piece(points)
        first = 0 if micro is None else 1
        if micro is not None and len(points) < 3:
            raise _no_micro_bevel(key, "two points, a micro bevel without its bevel")
        (start, corner), (y, z) = points[first : first + 2]
        chord_rad = math.atan2(z - corner, y - start)
        edge_rad = shoulder_rad = chord_rad
        if radius_mm is not None:
            half = math.hypot(y - start, z - corner) / 2 / radius_mm
            turn = math.asin(half) if half < 1.0 else math.inf
            edge_rad, shoulder_rad = chord_rad + turn, chord_rad - turn
            if not (math.degrees(edge_rad) < _STEEPEST_DEG and shoulder_rad >= -1e-9):
                raise rule_fault(
                    "arc-of-bevel",
                    key=f"{key}_radius",
                    other=key,
                    given=f"{radius_mm:g} mm for a bevel from [{start:g} mm, {corner:g} mm] to "
                    f"[{y:g} mm, {z:g} mm]",
                    allowed=f"an arc of less than {_STEEPEST_DEG:g} deg where it begins, that "
                    "still rises at the shoulder",
                    mend="give a larger radius, or leave it out for a flat bevel",
                )
        elif not (first == 0 and _is_level(points)) and not (
            _FLATTEST_DEG < math.degrees(chord_rad) < _STEEPEST_DEG
        ):
            raise _no_bevel(key, first, f"a bevel at {math.degrees(chord_rad):.3g} deg")
        if micro is not None:
            _check_micro(key, micro, edge_rad)
        self._check_flank(key, points[first:], edge_rad, shoulder_rad, radius_mm, first)

    @staticmethod
    def _check_flank(
        key: str,
        points: Points,
        edge_rad: float,
        shoulder_rad: float,
        radius_mm: float | None,
        before: int,
    ) -> None:
        """The flank stays under the bevel prolonged: a wheel in the bevel must not cut into it.

        ``points`` begin with those of the bevel, ``before`` of the face are ahead of them.
        """
        (start, corner), (y, z) = points[:2]
        for n, (there, high) in enumerate(points[2:], before + 2):
            most = z + (there - y) * math.tan(shoulder_rad)
            if radius_mm is not None:
                run = radius_mm * math.sin(edge_rad) - (there - start)
                most = corner - radius_mm * math.cos(edge_rad)
                most += math.sqrt(radius_mm**2 - max(run, 0.0) ** 2)
            # A bevel that its flank carries on has no shoulder; an arc may run out into its flank,
            # and a flat back go on as one.
            flat_bevel = radius_mm is None and edge_rad > 0.0
            if high > most + (-_SAME_MM if flat_bevel else _SAME_MM):
                raise rule_fault(
                    "outline-hollow",
                    key=f"{key}[{n}]",
                    given=f"a flank at z = {high:g} mm, where the bevel prolonged is at {most:.6g}",
                    allowed="a flank below its bevel prolonged, so that there is a shoulder",
                    mend="let the face turn inward at the end of its bevel; a hollow in it is "
                    "what the relief is for",
                )


def _is_level(points: Points) -> bool:
    """Whether a face begins as a flat back."""
    return points[1][1] == points[0][1]


def _no_bevel(key: str, before: int, given: str) -> PydanticCustomError:
    """``before``: how many pieces of the face are ahead of what should be its bevel."""
    rises = f"rises at {_FLATTEST_DEG:g} to {_STEEPEST_DEG:g} deg"
    return rule_fault(
        "outline-bevel",
        key=f"{key}[{before + 1}]",
        given=given,
        allowed=f"a second piece that {rises}, behind the micro bevel"
        if before
        else f"a first piece that {rises}, or, on one face, a level one: a flat back",
        mend=f"let the {'third' if before else 'second'} point be the shoulder, where the bevel "
        "meets the flank",
    )


def _check_micro(key: str, micro: MicroPiece, bevel_rad: float) -> None:
    """``bevel_rad`` is the angle of the bevel where the two meet."""
    given = f"{micro.width_mm:.4g} mm at {micro.angle_deg:.4g} deg"
    fits = _FLATTEST_DEG < micro.angle_deg < _STEEPEST_DEG and micro.width_mm <= _WIDEST_MICRO_MM
    # Told by how far the bevel prolonged to the edge stands over it: points are rounded.
    over = micro.width_mm * math.sin(math.radians(micro.angle_deg) - bevel_rad)
    if not fits or over <= _SAME_MM:
        on = f" on a bevel of {math.degrees(bevel_rad):.4g} deg" if fits else ""
        raise _no_micro_bevel(f"{key}[1]", given + on)


def _no_micro_bevel(key: str, given: str) -> PydanticCustomError:
    return rule_fault(
        "outline-micro-bevel",
        key=key,
        given=given,
        allowed=f"a first piece of {_FLATTEST_DEG:g} to {_STEEPEST_DEG:g} deg, at most "
        f"{_WIDEST_MICRO_MM:g} mm long, steeper than the bevel where that begins, and the bevel "
        "behind it",
        mend="let the second point be the end of the micro bevel and the third the shoulder, or "
        "leave first_piece out: then the first piece is the bevel",
    )


def _height(points: Points, y_mm: float) -> float:
    """Z of a polyline at a y."""
    for (y1, z1), (y2, z2) in pairwise(points):
        if y_mm <= y2:
            return z1 + (z2 - z1) * (y_mm - y1) / (y2 - y1)
    return points[-1][1]
