"""Arcs that a round wheel generates in parallel lines: a hollow, or a bevel that bulges.

Coordinates are those of the plane that the wheel bares on: ``along`` it, toward the shoulder, from
the place of program zero, and depth below it. An arc is sunk in layers, moved along the plane's
normal; a line stands less deep than its layer by ``back_mm``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from planner.formulas.contact import (
    outer_scallop_height,
    outer_spacing_for_scallop,
    scallop_height,
    spacing_for_scallop,
)
from planner.formulas.lens import Lens, sagitta

Floats = NDArray[np.float64]

_LEAST_GROUND = 2
_BESIDE = 0.05
"""How far the face is followed beyond the ends of the arc, as a share of half of it."""


@dataclass(frozen=True)
class Line:
    """Where a line runs: beside the place of zero, and how far it stays back."""

    along_mm: float
    back_mm: float
    """How much less deep its lowest point lies than the layer that it belongs to."""


@dataclass(frozen=True)
class Stand:
    """Where the wheel is sent: along the plane from zero, and its lowest point's depth."""

    along_mm: float
    low_mm: float


class LineArc(Protocol):
    """What the schedule of lines asks of an arc."""

    @property
    def radius_mm(self) -> float:
        """Of the arc itself."""

    @property
    def wheel_mm(self) -> float:
        """Radius of the wheel."""

    @property
    def depth_mm(self) -> float:
        """Of the layers altogether."""

    @property
    def scallop_mm(self) -> float:
        """Height that the ridges may have."""

    @property
    def span_mm(self) -> tuple[float, float]:
        """From where to where the face is followed."""

    def lines(self) -> tuple[Line, ...]:
        """The lines that generate it, from the edge's side to the shoulder's."""

    def back_mm(self, along_mm: float) -> float:
        """How much less deep than its layer the wheel stands there, touching the arc."""

    def surface_mm(self, along_mm: Floats) -> Floats:
        """Depth of the steel before the work. Shape: (n,) -> (n,)."""

    def foot_mm(self, along_mm: float, below_mm: float) -> float:
        """The place along the plane with the same y as a place below it."""

    def depth_of_mm(self, along_mm: Floats, profile_mm: Floats, surface_mm: Floats) -> float:
        """How deep the layers have come where the steel stands at a profile."""

    def short_mm(
        self,
        along_mm: Floats,
        profile_mm: Floats,
        surface_mm: Floats,
        left_mm: float,
        stands: Sequence[Stand],
    ) -> float:
        """How far whole steps leave the arc short, as depth of a layer.

        ``left_mm`` is the deflection left, which is not counted.
        """


@dataclass(frozen=True)
class Arc:
    """The hollow that a smaller wheel is to generate: in a flat face, or in one that bulges."""

    radius_mm: float
    wheel_mm: float
    depth_mm: float
    """Below the face, in the middle."""
    scallop_mm: float
    face_radius_mm: float = math.inf
    sharpest_mm: float | None = None
    """The smallest radius that the wheel leaves anywhere along an edge that it follows without
    turning; None where it leaves its own."""

    @cached_property
    def lens(self) -> Lens:
        """The arc in its face."""
        return Lens(self.radius_mm, self.face_radius_mm)

    @cached_property
    def half_chord_mm(self) -> float:
        """From its middle to where it meets the face."""
        return float(self.lens.chord_of_depth(self.depth_mm)) / 2

    @property
    def half_angle_rad(self) -> float:
        """Of the arc, from its middle to where it meets the face."""
        return math.asin(self.half_chord_mm / self.radius_mm)

    @property
    def span_mm(self) -> tuple[float, float]:
        """See ``LineArc``."""
        half = (1 + _BESIDE) * self.half_chord_mm
        return -half, half

    def lines(self) -> tuple[Line, ...]:
        """See ``LineArc``. The outermost touch the arc where it meets the face.

        Raises: ValueError unless the wheel's radius is smaller than the arc's.
        """
        half, sharpest = self.half_angle_rad, self.sharpest_mm or self.wheel_mm
        spacing = spacing_for_scallop(self.scallop_mm, sharpest, self.radius_mm)
        count = max(math.ceil(2 * half * self.radius_mm / spacing - 1e-9), 1) + 1
        angles = np.linspace(-half, half, count).tolist()
        off = self.radius_mm - self.wheel_mm
        return tuple(Line(off * math.sin(a), 2.0 * off * math.sin(a / 2) ** 2) for a in angles)

    def ridge_mm(self) -> float:
        """Height of the ridges between the lines as they lie, at the highest."""
        return float(self.ridge_of_mm(np.array(self.sharpest_mm or self.wheel_mm)))

    def ridge_of_mm(self, wheel_mm: Floats) -> Floats:
        """The same between lines of other radii in the same places. Shape: any."""
        spacing = 2 * self.half_angle_rad * self.radius_mm / (len(self.lines()) - 1)
        return np.asarray(scallop_height(spacing, wheel_mm, self.radius_mm))

    def back_mm(self, along_mm: float) -> float:
        """See ``LineArc``."""
        off = self.radius_mm - self.wheel_mm
        beside = min(abs(along_mm), off)
        return beside * beside / (off + math.sqrt(off * off - beside * beside))

    def surface_mm(self, along_mm: Floats) -> Floats:
        """See ``LineArc``."""
        return np.asarray(sagitta(self.face_radius_mm, np.abs(along_mm)))

    def foot_mm(self, along_mm: float, below_mm: float) -> float:
        """See ``LineArc``; a relief is taken to be no deeper than its plane."""
        return along_mm

    def depth_of_mm(self, along_mm: Floats, profile_mm: Floats, surface_mm: Floats) -> float:
        """See ``LineArc``."""
        return float((profile_mm - surface_mm).max())

    def short_mm(
        self,
        along_mm: Floats,
        profile_mm: Floats,
        surface_mm: Floats,
        left_mm: float,
        stands: Sequence[Stand],
    ) -> float:
        """See ``LineArc``. Each land ends where the deepest of the lines there leaves the face."""
        del stands
        ends = self._depth_of_ends(along_mm, profile_mm - surface_mm)
        return self.depth_mm - ends - left_mm

    def _depth_of_ends(self, along_mm: Floats, ground_mm: Floats) -> float:
        """Depth at which the arc meets the face where the nearer of the two ends is."""
        ground = np.nonzero(ground_mm > 0)[0]
        if len(ground) < _LEAST_GROUND:
            return 0.0
        width = float(along_mm[1] - along_mm[0])
        reach = []
        for end, before in ((ground[0], ground[1]), (ground[-1], ground[-2])):
            fall = float(ground_mm[before] - ground_mm[end])
            beyond = min(float(ground_mm[end]) / fall, 1.0) if fall > 0 else 0.0
            reach.append(abs(float(along_mm[end])) + beyond * width)
        return float(self.lens.depth_of_chord(2 * min(reach)))


@dataclass(frozen=True)
class BulgeArc:
    """The face of a bevel that bulges, out of the square corner of parallel stock.

    The wheel bares on the corner, and touches the arc from outside.
    """

    radius_mm: float
    wheel_mm: float
    scallop_mm: float
    """Height that the ridges may have."""
    centre_mm: tuple[float, float]
    """Of the arc: along the plane from the corner, and depth below it."""
    first_rad: float
    """Direction of the arc's beginning from its centre, at the edge: below 0 where that lies
    before the place where the arc is parallel to the plane."""
    last_rad: float
    """That of its end, at the shoulder."""
    plane_rad: float
    """Angle of the plane to the flank."""
    sharpest_mm: float | None = None
    """See ``Arc``."""

    @cached_property
    def depth_mm(self) -> float:
        """From the corner along the plane's normal to the arc."""
        return float(self._below(np.array(0.0)))

    @property
    def deepest_mm(self) -> float:
        """The deepest that a line stands below the plane."""
        return max(self.depth_mm - line.back_mm for line in self.lines())

    @property
    def span_mm(self) -> tuple[float, float]:
        """See ``LineArc``."""
        low, high = self._ends_mm
        beside = _BESIDE * (high - low) / 2
        return low - beside, high + beside

    @property
    def _ends_mm(self) -> tuple[float, float]:
        middle, radius = self.centre_mm[0], self.radius_mm
        return (
            middle + radius * math.sin(self.first_rad),
            middle + radius * math.sin(self.last_rad),
        )

    def lines(self) -> tuple[Line, ...]:
        """See ``LineArc``. The outermost touch the arc at the edge and at the shoulder."""
        turn, sharpest = self.last_rad - self.first_rad, self.sharpest_mm or self.wheel_mm
        spacing = outer_spacing_for_scallop(self.scallop_mm, sharpest, self.radius_mm)
        count = max(math.ceil(turn * self.radius_mm / spacing - 1e-9), 1) + 1
        angles = np.linspace(self.first_rad, self.last_rad, count)
        off = self.radius_mm + self.wheel_mm
        places = (self.centre_mm[0] + off * np.sin(angles)).tolist()
        return tuple(Line(place, self.back_mm(place)) for place in places)

    def ridge_mm(self) -> float:
        """Height of the ridges between the lines as they lie, at the highest."""
        return float(self.ridge_of_mm(np.array(self.sharpest_mm or self.wheel_mm)))

    def ridge_of_mm(self, wheel_mm: Floats) -> Floats:
        """The same between lines of other radii in the same places. Shape: any."""
        spacing = (self.last_rad - self.first_rad) * self.radius_mm / (len(self.lines()) - 1)
        return np.asarray(outer_scallop_height(spacing, wheel_mm, self.radius_mm))

    def back_mm(self, along_mm: float) -> float:
        """See ``LineArc``; below 0 where a line stands deeper than the arc below the corner."""
        off = self.radius_mm + self.wheel_mm
        beside = along_mm - self.centre_mm[0]
        low = self.centre_mm[1] - math.sqrt(max(off * off - beside * beside, 0.0)) + self.wheel_mm
        return self.depth_mm - low

    def surface_mm(self, along_mm: Floats) -> Floats:
        """See ``LineArc``: the flank to one side of the corner, the square end to the other."""
        slope = math.tan(self.plane_rad)
        return np.maximum(along_mm * slope, -along_mm / slope)

    def target_mm(self, along_mm: Floats) -> Floats:
        """Depth of the arc below the plane; below the edge and the shoulder there is none.

        Shape: (n,) -> (n,), minus infinity beyond the ends.
        """
        low, high = self._ends_mm
        inside = (along_mm >= low) & (along_mm <= high)
        return np.where(inside, self._below(np.clip(along_mm, low, high)), -math.inf)

    def foot_mm(self, along_mm: float, below_mm: float) -> float:
        """See ``LineArc``. Before the square end there is no steel: its place is the end."""
        return max(along_mm + below_mm * math.tan(self.plane_rad), 0.0)

    def depth_of_mm(self, along_mm: Floats, profile_mm: Floats, surface_mm: Floats) -> float:
        """See ``LineArc``."""
        del surface_mm
        left = float((self.target_mm(along_mm) - profile_mm).max())
        return min(max(self.depth_mm - left, 0.0), self.depth_mm)

    def short_mm(
        self,
        along_mm: Floats,
        profile_mm: Floats,
        surface_mm: Floats,
        left_mm: float,
        stands: Sequence[Stand],
    ) -> float:
        """See ``LineArc``: the most that a line of the last layer stays above its place."""
        del along_mm, profile_mm, surface_mm, left_mm
        return max(self.depth_mm - self.back_mm(s.along_mm) - s.low_mm for s in stands)

    def _below(self, along_mm: Floats) -> Floats:
        beside = along_mm - self.centre_mm[0]
        return np.asarray(self.centre_mm[1] - np.sqrt(self.radius_mm**2 - beside * beside))
