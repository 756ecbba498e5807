"""Paths of the edge: straight, an arc about the axis of a bend or sweep, a curve in the blade."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from planner.inputs.edge_curve import CurveEdge
from planner.inputs.fields import Angle, FileModel, Length

Radius = Annotated[Length, Field(alias="radius", gt=0, le=2000)]


class StraightEdge(FileModel):
    """A straight cutting edge."""

    path: Literal["straight"]
    length_mm: Annotated[Length, Field(alias="length", gt=0, le=2000)]


class ArcEdge(FileModel):
    """An edge along an arc; face A is the outside, face B the inside.

    ``radius`` is that of the edge itself about the axis, ``angle`` from heel to tip.
    """

    radius_mm: Radius
    angle_deg: Annotated[Angle, Field(alias="angle", gt=0, le=330)]

    @property
    def path_name(self) -> str:
        """The word of the file for it."""
        return str(getattr(self, "path", ""))

    @property
    def length_mm(self) -> float:
        """Length of the edge."""
        return self.radius_mm * math.radians(self.angle_deg)


class BendEdge(ArcEdge):
    """A strip bent across its thickness, as a hook knife is: the axis is that of the bend."""

    path: Literal["bend"]


class SweepEdge(ArcEdge):
    """The edge of a gouge: the axis is that of its sweep."""

    path: Literal["sweep"]


EdgePath = Annotated[StraightEdge | BendEdge | SweepEdge | CurveEdge, Field(discriminator="path")]
