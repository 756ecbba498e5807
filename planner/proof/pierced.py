"""Whether the wheel as a body comes into the blade as it is clamped, anywhere: point by point.

Told apart from where the wheel is tangent to the face: this looks at all of the blade's skin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from planner.proof.edge_line import Floats
from planner.proof.followed import Followed
from planner.proof.forms import ImpossibleError

_STATIONS = 97
_APART_MM = 0.5
_NEXT_MM = 0.5
_MOST_PLACES = 400
TOLD_MM = 2e-3
"""What a point must lie inside the wheel to count: more than rounding, less than an infeed."""


@dataclass(frozen=True, eq=False)
class Skin:
    """Points on the unground blade's skin, as it is clamped, and the wheel's width."""

    followed: Followed
    points: Floats
    half_width_mm: float

    @classmethod
    def of(cls, followed: Followed, width_mm: float) -> Skin:
        """The skin at sections close to each other."""
        s = np.linspace(0.0, followed.line.length_mm, _STATIONS)
        at = followed.line.at(s)
        outline = shapely.segmentize(shapely.simplify(followed.blank, 1e-4), _APART_MM)
        points = [at.points(y, z) for y, z in shapely.get_coordinates(outline)]
        return cls(followed, np.vstack(points), width_mm / 2.0)

    def inside_mm(self, positions: Floats, turns_deg: Floats) -> float:
        """How far some point comes inside the wheel at positions, shape (n, 3), and turns, (n,)."""
        followed = self.followed
        radius, rim = followed.wheel.radius_mm, followed.wheel.rim_mm
        deepest = -math.inf
        seen = followed.seen_from_blade(positions, turns_deg)
        for centre, axis in zip(*seen, strict=True):
            off = self.points - centre
            on_axis = off @ axis
            square = np.einsum("ij,ij->i", off, off) - on_axis**2
            near = (np.abs(on_axis) < self.half_width_mm) & (square < radius * radius)
            if not near.any():
                continue
            from_axis = np.sqrt(np.maximum(square[near], 0.0))
            inside = radius - from_axis
            if rim is not None:
                # Square to the rim, which leans where the wheel does not stand square to the edge.
                out = from_axis - (radius - rim)
                inside = np.where(out > 0.0, rim - np.hypot(out, on_axis[near]), inside)
            deepest = max(deepest, float(inside.max()))
        return deepest

    def pierced_mm(self, start: Floats, end: Floats, turns_deg: tuple[float, float]) -> float:
        """The same of a straight move from one position to another, each shape (3,)."""
        length = float(np.linalg.norm(end - start)) + abs(turns_deg[1] - turns_deg[0])
        count = math.ceil(length / _NEXT_MM)
        shares = np.linspace(0.0, 1.0, min(max(count, 1), _MOST_PLACES) + 1)
        turns = turns_deg[0] + shares * (turns_deg[1] - turns_deg[0])
        return self.inside_mm(start + shares[:, None] * (end - start), turns)

    def check_room(
        self,
        depth_mm: float,
        more_mm: float = 0.0,
        along_mm: float = 0.0,
        at_mm: float | None = None,
    ) -> None:
        """At its depth the wheel must come to nothing but what it is to take.

        ``more_mm`` is how much deeper than in its middle it may be, ``along_mm`` how far along the
        face it stands, ``at_mm`` the depth there. Raises: ImpossibleError where it comes to more.
        """
        followed = self.followed
        s = np.linspace(0.0, followed.line.length_mm, 9)
        at = depth_mm if at_mm is None else at_mm
        there = followed.positions(followed.line.at(s), at, along_mm)
        if self.inside_mm(*there) > depth_mm * (1.0 + TOLD_MM) + TOLD_MM + more_mm:
            raise ImpossibleError("the wheel runs into the blade beside the relief")
