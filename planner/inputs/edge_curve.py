"""An edge that curves in the plane of the blade, as a belly does (docs/edge-paths.md)."""

from __future__ import annotations

import math
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from planner.inputs.fields import Angle, FileModel, Length, PairOf, rule_fault

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.formulas.plane_curve import OnCurve

Points = list[tuple[float, float]]

_MOST_POINTS, _LONGEST_MM = 200, 2000.0
_MOST_HEADING_DEG = 60.0
"""An edge that runs more across the traverse than along it is clamped otherwise."""


class CurvePiece(FileModel):
    """An arc of the edge, or a straight piece; each goes on along the tangent of the one before."""

    length_mm: Annotated[Length, Field(alias="length", gt=0, le=_LONGEST_MM)]
    radius_mm: Annotated[Length | None, Field(alias="radius")] = None
    """Above 0 where the edge bellies away from the spine, below 0 where it is hollow; left out,
    straight."""

    @property
    def is_within_reason(self) -> bool:
        """Whether it bends no more than an edge can."""
        return self.radius_mm is None or 1.0 <= abs(self.radius_mm) <= 1e5

    @model_validator(mode="after")
    def _bends_within_reason(self) -> CurvePiece:
        if not self.is_within_reason:
            raise rule_fault(
                "curve-radius",
                key="radius",
                given=f"{self.radius_mm:g} mm",
                allowed="1 mm to 100 m, below 0 for a hollow edge",
                mend="leave radius out for a straight piece",
            )
        return self


def _rising(points: Points) -> Points:
    fault, at = "", 0
    if not 3 <= len(points) <= _MOST_POINTS:
        fault = f"{len(points)} points"
    for n, ((before, _), (after, y)) in enumerate(pairwise(points), 1):
        if not fault and not before + 0.01 <= after:
            fault, at = f"x = {after:g} mm after {before:g} mm", n
        if not fault and max(abs(after), abs(y)) > _LONGEST_MM:
            fault, at = f"a point at [{after:g} mm, {y:g} mm]", n
    if fault:
        raise rule_fault(
            "curve-points",
            key=f"[{at}]" if at else "",
            given=fault,
            allowed=f"three to {_MOST_POINTS} points [x, y]: x rises from heel to tip along the "
            "traverse by 0.01 mm or more, y counts toward the spine",
            mend="list them from heel to tip; a smooth curve needs few",
        )
    return points


CurvePoints = Annotated[
    list[Annotated[tuple[Length, Length], PairOf("[x, y]")]], AfterValidator(_rising)
]


class CurveEdge(FileModel):
    """An edge that curves in the plane of the blade: arcs, or a smooth curve through points.

    x runs along the traverse from heel to tip, as the blade is clamped, y from the edge toward the
    spine. Points are joined by a cubic spline y(x).
    """

    path: Literal["curve"]
    arcs: Annotated[list[CurvePiece] | None, Field(min_length=1, max_length=50)] = None
    heading_deg: Annotated[Angle | None, Field(alias="heading", ge=-60, le=60)] = None
    """Of the edge at the heel, beside ``arcs``: from the traverse toward the spine. Left out, heel
    and tip lie in one line along the traverse."""
    points_mm: Annotated[CurvePoints | None, Field(alias="points")] = None

    @cached_property
    def length_mm(self) -> float:
        """Length of the edge."""
        if self.arcs is not None:
            return sum(piece.length_mm for piece in self.arcs)
        from planner.formulas.plane_curve import spline_length  # noqa: PLC0415 (numpy is heavy)

        return spline_length(*self._coordinates)

    def at(self, s_mm: ArrayLike) -> OnCurve:
        """Places on the edge by the length from the heel; beyond its ends along the tangent."""
        from planner.formulas.plane_curve import (  # noqa: PLC0415 (numpy is heavy)
            along_arcs,
            along_spline,
        )

        if self.arcs is None:
            return along_spline(s_mm, *self._coordinates)
        lengths = [piece.length_mm for piece in self.arcs]
        bends = [0.0 if piece.radius_mm is None else 1 / piece.radius_mm for piece in self.arcs]
        if self.heading_deg is None:
            tip = along_arcs(sum(lengths), lengths, bends, 0.0)
            heading = -math.atan2(float(tip.y_mm), float(tip.x_mm))
        else:
            heading = math.radians(self.heading_deg)
        return along_arcs(s_mm, lengths, bends, heading)

    @property
    def _coordinates(self) -> tuple[list[float], list[float]]:
        points = self.points_mm or []
        return [x for x, _ in points], [y for _, y in points]

    @model_validator(mode="after")
    def _one_of_two(self) -> CurveEdge:
        both = self.arcs is not None and self.points_mm is not None
        if both or (self.arcs is None and self.points_mm is None):
            raise rule_fault(
                "arcs-or-points",
                key="points" if both else "path",
                other="arcs" if both else "",
                given="both arcs and points" if both else "neither arcs nor points",
                allowed="one of arcs and points",
                mend="take one of the two out"
                if both
                else "give points: [[0 mm, 0 mm], [30 mm, -1 mm], [60 mm, 0 mm]], or arcs",
            )
        if self.heading_deg is not None and self.arcs is None:
            raise rule_fault(
                "heading-of-points",
                key="heading",
                other="points",
                given="a heading beside points",
                allowed="a heading beside arcs",
                mend="leave heading out: the points say how the edge lies",
            )
        return self

    @model_validator(mode="after")
    def _lies_along_the_traverse(self) -> CurveEdge:
        # What is told elsewhere is told once.
        if (self.arcs is None) == (self.points_mm is None):
            return self
        if not all(piece.is_within_reason for piece in self.arcs or ()):
            return self
        length = self.length_mm
        places = [length * share / 1000 for share in range(1001)]
        steepest = math.degrees(abs(self.at(places).heading_rad).max())
        if length > _LONGEST_MM or steepest > _MOST_HEADING_DEG:
            raise rule_fault(
                "curve-across",
                key="arcs" if self.arcs is not None else "points",
                given=f"an edge {length:.1f} mm long that runs up to {steepest:.1f} deg across "
                "the traverse",
                allowed=f"at most {_LONGEST_MM:g} mm, and {_MOST_HEADING_DEG:g} deg anywhere",
                mend="clamp the blade so that its edge lies along the traverse",
            )
        return self
