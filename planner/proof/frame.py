"""Program positions to wheel positions: the proof's own forward frame.

From ``docs/frames.md``: the blade is held in an attitude and tilted; the infeed axis points away
from it and the cross axis is normal to that. The wheel's centre in the section plane is
``origin + cross * cross_dir + infeed * infeed_dir``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal, NamedTuple

from planner.proof.target import Face, FaceName, Vector

Flip = Literal["end_for_end", "over", "by_tilt"]


class KnownPlace(NamedTuple):
    """A position in the touch frame."""

    traverse: float
    cross: float
    infeed: float
    tilt: float


class Pivot(NamedTuple):
    """Where a tilt that is swept turns, in the section, and the tilt that zero is touched at."""

    at: Vector
    zero_tilt_deg: float


@dataclass(frozen=True)
class Frame:
    """The touch frame of one set-up, for any tilt."""

    face: Face
    flip: Flip
    origin: Vector
    """The wheel's centre where it bares on the unground face."""
    x_at_zero_mm: float
    x_per_traverse: float
    pivot: Pivot | None = None
    """None where one tilt holds all through: it is taken to turn about the origin."""

    @property
    def near_end(self) -> str:
        """The end of the blade that a rising traverse meets first."""
        return "heel" if self.x_per_traverse > 0 else "tip"

    @property
    def ideal_tilt_deg(self) -> float:
        """The tilt that lays the bevel face along the cross axis."""
        bevel_deg = math.degrees(self.face.bevel_rad)
        if self.flip == "by_tilt":
            return -(90.0 - bevel_deg) if self.face.name == "A" else 90.0 - bevel_deg
        if self.flip == "over" and self.face.name == "B":
            return -bevel_deg
        return bevel_deg

    def directions(self, tilt_deg: float) -> tuple[Vector, Vector]:
        """(cross_dir, infeed_dir) in the section frame.

        The machine's directions turned back by the attitude: (1, 0) and (0, 1) turned by the
        tilt, then by the inverse of how the blade is held.

        >>> from planner.proof.target import Face
        >>> face = Face("B", math.radians(30), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0), 1.0)
        >>> cross, infeed = Frame(face, "end_for_end", (0.0, 0.0), 80.0, -1.0).directions(30.0)
        >>> [round(v, 3) for v in (*cross, *infeed)]  # by hand: u and n of face B at 30 deg
        [0.866, -0.5, -0.5, -0.866]
        """
        return _directions(self.flip, self.face.name, tilt_deg)

    def centre(self, cross_mm: float, infeed_mm: float, tilt_deg: float) -> Vector:
        """The wheel's centre in the section plane."""
        cross_dir, infeed_dir = self.directions(tilt_deg)
        start = self.origin if self.pivot is None else self.pivot.at
        across, up = self.from_pivot_mm(cross_mm, infeed_mm)
        return (
            start[0] + across * cross_dir[0] + up * infeed_dir[0],
            start[1] + across * cross_dir[1] + up * infeed_dir[1],
        )

    def from_pivot_mm(self, cross_mm: float, infeed_mm: float) -> Vector:
        """How far across and up the wheel stands from the point that the tilt turns about."""
        across, up = self._zero_from_pivot_mm
        return across + cross_mm, up + infeed_mm

    @cached_property
    def _zero_from_pivot_mm(self) -> Vector:
        if self.pivot is None:
            return 0.0, 0.0
        (y, z), (pivot_y, pivot_z) = self.origin, self.pivot.at
        across, up = (
            (y - pivot_y) * along_y + (z - pivot_z) * along_z
            for along_y, along_z in self.directions(self.pivot.zero_tilt_deg)
        )
        return across, up

    def x_mm(self, traverse_mm: float) -> float:
        """Where the wheel's middle plane stands along the edge."""
        return self.x_at_zero_mm + self.x_per_traverse * traverse_mm


@lru_cache(maxsize=1000)
def _directions(flip: Flip, face: FaceName, tilt_deg: float) -> tuple[Vector, Vector]:
    # Asked for every block, and nearly always of the same tilt.
    tilt = math.radians(tilt_deg)
    cross = (math.cos(tilt), math.sin(tilt))
    infeed = (-math.sin(tilt), math.cos(tilt))
    return _unheld(flip, face, cross), _unheld(flip, face, infeed)


def _unheld(flip: Flip, face: FaceName, direction: Vector) -> Vector:
    y, z = direction
    if flip == "by_tilt":
        return (-z, y)  # a quarter turn from y to z undoes the attitude Rot(-90 deg)
    if face == "A":
        return (y, z)
    return (y, -z) if flip == "end_for_end" else (-y, -z)


def touch_frame(
    face: Face,
    flip: Flip,
    edge_length_mm: float,
    middle_mm: float,
    radius_mm: float,
    at_mm: float = 0.0,
) -> Frame:
    """The frame of a set-up whose zero is bare contact at the middle of the relief.

    ``at_mm`` is where along the traverse the blade's end stands that the traverse meets first: a
    blade of a row is turned in its own place.
    """
    backwards = face.name == "B" and flip == "end_for_end"
    return Frame(
        face=face,
        flip=flip,
        origin=face.point(middle_mm, -radius_mm),
        x_at_zero_mm=edge_length_mm + at_mm if backwards else -at_mm,
        x_per_traverse=-1.0 if backwards else 1.0,
    )


_TIE = 1e-6
"""Settings as near as each other within this are a tie, and the lower is taken."""


def nearest_of(value: float, settings: Sequence[float]) -> float:
    """The setting nearest to ``value``; of two as near, the lower.

    >>> nearest_of(12.5, (20.0, 15.0, 10.0))
    10.0
    """
    nearest, *others = sorted(settings)
    for setting in others:
        if abs(setting - value) < abs(nearest - value) - _TIE:
            nearest = setting
    return nearest


def nearest_multiple(value: float, step: float, low: float, high: float) -> float:
    """The multiple of ``step`` inside [low, high] that is nearest to ``value``.

    Of two as near, the lower. Where no multiple lies inside, the nearest end of the range.

    >>> nearest_multiple(12.26, 0.5, 0.0, 45.0), nearest_multiple(12.26, 0.5, 0.0, 10.2)
    (12.5, 10.0)
    """
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    if first > last:
        return min(max(value, low), high)
    below = math.floor(value / step)
    # The upper of the two neighbours only where it is the nearer.
    nearest = below if value - below * step <= (below + 1) * step - value + _TIE else below + 1
    return step * min(max(nearest, first), last)
