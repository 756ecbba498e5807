"""Where the edge runs, and how the section stands on it: the proof's own arcs and spline.

From ``docs/edge-paths.md``: the blade lies as it is clamped, X along the traverse from heel to tip,
Y toward the spine, Z out of face A, all from the edge at its anchor. There the edge runs along the
traverse: in the middle of an arc, where the heading of a curve is least.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from planner.inputs.edge_curve import CurveEdge
from planner.inputs.edge_paths import ArcEdge

Floats = NDArray[np.floating]

_STEPS = 200
"""Each piece of a spline is measured in so many steps, by Simpson's rule."""
_LOOKS = 4000
_AS_LOW_RAD = 1e-9
"""Headings that differ by less are one: of a straight stretch its middle-most place is taken."""


class Sections(NamedTuple):
    """The section's frame at places along the edge, each shape (n, 3)."""

    edge: Floats
    """The middle of the edge."""
    tangent: Floats
    """Heel to tip."""
    spine: Floats
    """y of the section."""
    out: Floats
    """z of the section: out of face A."""

    def points(self, y_mm: float, z_mm: float) -> Floats:
        """A point of the section at every place, shape (n, 3)."""
        found: Floats = self.edge + y_mm * self.spine + z_mm * self.out
        return found

    def directions(self, y: float, z: float) -> Floats:
        """A direction of the section at every place, shape (n, 3)."""
        found: Floats = y * self.spine + z * self.out
        return found


class EdgeLine(Protocol):
    """An edge as it is clamped."""

    @property
    def length_mm(self) -> float:
        """From heel to tip."""

    @property
    def anchor_mm(self) -> float:
        """From the heel to the place at which the wheel is touched off."""

    @property
    def looks_mm(self) -> Floats:
        """Places along it between which it hardly bends, past its ends too, rising, shape (n,)."""

    def at(self, s_mm: Floats) -> Sections:
        """The section's frame at lengths along the edge, shape (n,)."""


def edge_line(edge: object) -> EdgeLine | None:
    """The line of an edge along an arc or a curve; None of a straight one."""
    if isinstance(edge, ArcEdge):
        return BentLine(edge.radius_mm, edge.length_mm)
    if isinstance(edge, CurveEdge):
        return CurvedLine.of(edge)
    return None


@dataclass(frozen=True)
class BentLine:
    """About an axis parallel to Y, below face A: the outside is up. Past its ends it goes on."""

    radius_mm: float
    length_mm: float

    @property
    def anchor_mm(self) -> float:
        """See ``EdgeLine``."""
        return self.length_mm / 2.0

    @property
    def looks_mm(self) -> Floats:
        """See ``EdgeLine``: 89 deg to either side, past which a wheel's other side would count."""
        half = math.radians(89.0) * self.radius_mm
        return self.anchor_mm + np.linspace(-half, half, 221)

    def at(self, s_mm: Floats) -> Sections:
        """See ``EdgeLine``."""
        angle = (np.asarray(s_mm, float) - self.anchor_mm) / self.radius_mm
        zero, one = np.zeros_like(angle), np.ones_like(angle)
        sine, cosine = np.sin(angle), np.cos(angle)
        # 1 - cos, without the difference of near numbers.
        fall = 2.0 * np.sin(angle / 2.0) ** 2
        return Sections(
            np.column_stack([self.radius_mm * sine, zero, -self.radius_mm * fall]),
            np.column_stack([cosine, zero, -sine]),
            np.column_stack([zero, one, zero]),
            np.column_stack([sine, zero, cosine]),
        )


@dataclass(frozen=True)
class CurvedLine:
    """In the plane of the blade. Past its ends it goes on along its tangent."""

    plane: _Plane
    length_mm: float
    anchor_mm: float
    anchor_xy: tuple[float, float]

    @classmethod
    def of(cls, edge: CurveEdge) -> CurvedLine:
        """That of a job."""
        plane: _Plane = _Chain.of(edge) if edge.arcs is not None else _Spline.of(edge)
        length = plane.length_mm
        anchor = _flattest_mm(plane)
        (x, y), _ = plane.at(np.array([anchor]))
        return cls(plane, length, anchor, (float(x[0]), float(y[0])))

    @property
    def looks_mm(self) -> Floats:
        """See ``EdgeLine``. Along the tangents two places are as good as many."""
        inner = np.linspace(0.0, self.length_mm, max(round(self.length_mm / 0.5), 60) + 1)
        past = 3000.0
        return np.concatenate([[-past], inner, [self.length_mm + past]])

    def at(self, s_mm: Floats) -> Sections:
        """See ``EdgeLine``."""
        s = np.asarray(s_mm, float)
        inside = np.clip(s, 0.0, self.length_mm)
        (x, y), heading = self.plane.at(inside)
        zero, one = np.zeros_like(s), np.ones_like(s)
        sine, cosine = np.sin(heading), np.cos(heading)
        past = s - inside
        return Sections(
            np.column_stack(
                [
                    x - self.anchor_xy[0] + past * cosine,
                    y - self.anchor_xy[1] + past * sine,
                    zero,
                ]
            ),
            np.column_stack([cosine, sine, zero]),
            np.column_stack([-sine, cosine, zero]),
            np.column_stack([zero, zero, one]),
        )

    def headings_rad(self, s_mm: Floats) -> Floats:
        """From the traverse toward the spine, shape (n,)."""
        return self.plane.at(np.clip(np.asarray(s_mm, float), 0.0, self.length_mm))[1]


class _Plane(Protocol):
    @property
    def length_mm(self) -> float: ...

    @property
    def joints_mm(self) -> Floats:
        """Where one piece goes over into the next, and both ends, rising."""

    def at(self, s_mm: Floats) -> tuple[tuple[Floats, Floats], Floats]:
        """((x, y), heading) at lengths from the heel, inside the curve."""


def _flattest_mm(plane: _Plane) -> float:
    """Where the heading is least, whichever its sign; of several such places the middle-most."""
    middle = plane.length_mm / 2.0
    # A straight stretch ends at a joint, and there the place that is nearest to the middle may be.
    even = np.linspace(0.0, plane.length_mm, _LOOKS + 1)
    s = np.unique(np.concatenate([even, plane.joints_mm, [middle]]))
    heading = plane.at(s)[1]
    places = list(s[np.abs(heading) <= np.abs(heading).min() + _AS_LOW_RAD])
    for n in np.flatnonzero(heading[:-1] * heading[1:] < 0.0):
        low, high, rising = s[n], s[n + 1], heading[n] < 0.0
        for _ in range(60):
            half = (low + high) / 2.0
            below = (plane.at(np.array([half]))[1][0] < 0.0) == rising
            low, high = (half, high) if below else (low, half)
        places.append(half)
    crossings = [p for p in places if abs(plane.at(np.array([p]))[1][0]) <= _AS_LOW_RAD]
    return float(min(crossings or places, key=lambda p: abs(p - middle)))


@dataclass(frozen=True)
class _Chain:
    """Arcs that follow one another, each about its own middle."""

    starts: Floats
    """Length, x, y and heading at each joint, and at the tip, shape (n + 1, 4)."""
    bends: Floats

    @classmethod
    def of(cls, edge: CurveEdge) -> _Chain:
        pieces = edge.arcs or []
        bends = np.array([0.0 if p.radius_mm is None else 1.0 / p.radius_mm for p in pieces])
        lengths = [p.length_mm for p in pieces]
        if edge.heading_deg is not None:
            return cls._from(lengths, bends, math.radians(edge.heading_deg))
        tip = cls._from(lengths, bends, 0.0).starts[-1]
        return cls._from(lengths, bends, -math.atan2(tip[2], tip[1]))

    @classmethod
    def _from(cls, lengths: list[float], bends: Floats, heading: float) -> _Chain:
        rows = [np.array([0.0, 0.0, 0.0, heading])]
        for length, bend in zip(lengths, bends, strict=True):
            x, y, after = _along(rows[-1], float(bend), np.array([length]))
            rows.append(np.array([rows[-1][0] + length, x[0], y[0], after[0]]))
        return cls(np.array(rows), bends)

    @property
    def length_mm(self) -> float:
        return float(self.starts[-1, 0])

    @property
    def joints_mm(self) -> Floats:
        return self.starts[:, 0]

    def at(self, s_mm: Floats) -> tuple[tuple[Floats, Floats], Floats]:
        x, y, heading = (np.empty_like(s_mm) for _ in range(3))
        piece = np.searchsorted(self.starts[1:-1, 0], s_mm, side="right")
        for n in range(len(self.bends)):
            here = piece == n
            if here.any():
                run = s_mm[here] - self.starts[n, 0]
                x[here], y[here], heading[here] = _along(self.starts[n], float(self.bends[n]), run)
        return (x, y), heading


def _along(start: Floats, bend: float, run: Floats) -> tuple[Floats, Floats, Floats]:
    """(x, y, heading) on a circle about its middle, or on a straight line."""
    _, x, y, heading = start
    if bend == 0.0:
        return x + run * math.cos(heading), y + run * math.sin(heading), np.full_like(run, heading)
    after = heading + bend * run
    middle = x - math.sin(heading) / bend, y + math.cos(heading) / bend
    return middle[0] + np.sin(after) / bend, middle[1] - np.cos(after) / bend, after


@dataclass(frozen=True)
class _Spline:
    """A cubic y(x) in each piece, told by the slopes at its two points."""

    x: Floats
    y: Floats
    slopes: Floats
    lengths: Floats
    """Of the curve at places along x close to each other."""
    places: Floats

    @classmethod
    def of(cls, edge: CurveEdge) -> _Spline:
        points = np.array(edge.points_mm)
        x, y = points[:, 0], points[:, 1]
        slopes = _slopes(x, y)
        share = np.linspace(0.0, 1.0, 2 * _STEPS + 1)
        lengths, places, so_far = [np.zeros(1)], [x[:1]], 0.0
        for n in range(len(x) - 1):
            at = x[n] + (x[n + 1] - x[n]) * share
            rate = np.hypot(1.0, _hermite(x, y, slopes, at, np.full(len(at), n))[1])
            step = (at[2] - at[0]) / 6.0
            grown = so_far + np.cumsum(step * (rate[:-2:2] + 4.0 * rate[1:-1:2] + rate[2::2]))
            so_far = float(grown[-1])
            lengths.append(grown)
            places.append(at[2::2])
        return cls(x, y, slopes, np.concatenate(lengths), np.concatenate(places))

    @property
    def length_mm(self) -> float:
        return float(self.lengths[-1])

    @property
    def joints_mm(self) -> Floats:
        return self.lengths[[0, -1]]

    def at(self, s_mm: Floats) -> tuple[tuple[Floats, Floats], Floats]:
        # Between two places near each other x(s) is a cubic with the slopes cos(heading).
        n = np.clip(np.searchsorted(self.lengths, s_mm, side="right") - 1, 0, len(self.places) - 2)
        ends = self.places[n], self.places[n + 1]
        rates = [1.0 / np.hypot(1.0, self._graph(end)[1]) for end in ends]
        way = self.lengths[n + 1] - self.lengths[n]
        share = (s_mm - self.lengths[n]) / way
        x = _cubic(share, ends[0], ends[1], rates[0] * way, rates[1] * way)
        y, slope = self._graph(x)
        return (x, y), np.arctan(slope)

    def _graph(self, at: Floats) -> tuple[Floats, Floats]:
        piece = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, len(self.x) - 2)
        return _hermite(self.x, self.y, self.slopes, at, piece)


def _cubic(share: Floats, first: Floats, last: Floats, leaves: Floats, comes: Floats) -> Floats:
    """Hermite's cubic over a way of 1."""
    rest = 1.0 - share
    found: Floats = (
        first * (1.0 + 2.0 * share) * rest**2
        + leaves * share * rest**2
        + last * share**2 * (3.0 - 2.0 * share)
        - comes * share**2 * rest
    )
    return found


def _hermite(
    x: Floats, y: Floats, slopes: Floats, at: Floats, piece: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Value and slope of the spline in given pieces."""
    way = x[piece + 1] - x[piece]
    share = (at - x[piece]) / way
    left, right = slopes[piece] * way, slopes[piece + 1] * way
    value = _cubic(share, y[piece], y[piece + 1], left, right)
    rise = y[piece + 1] - y[piece]
    slope = 6.0 * share * (1.0 - share) * rise + left * (1.0 - share) * (1.0 - 3.0 * share)
    slope = slope + right * share * (3.0 * share - 2.0)
    return value, slope / way


def _slopes(x: Floats, y: Floats) -> Floats:
    """Slopes at the points, so that curvature does not jump, nor its rate at the outermost two.

    Of three points the one parabola.
    """
    way, chord = np.diff(x), np.diff(y) / np.diff(x)
    count = len(x)
    matrix, right = np.zeros((count, count)), np.zeros(count)
    for n in range(1, count - 1):
        before, after = 1.0 / way[n - 1], 1.0 / way[n]
        matrix[n, n - 1 : n + 2] = before, 2.0 * (before + after), after
        right[n] = 3.0 * (chord[n - 1] * before + chord[n] * after)
    for row, (one, other) in ((0, (0, 1)), (count - 1, (count - 3, count - 2))):
        # The rate of the curvature of a piece is 6 (m + m' - 2 chord) / way^2.
        if count == 3:
            piece = 0 if row == 0 else 1
            matrix[row, piece : piece + 2] = 1.0
            right[row] = 2.0 * chord[piece]
            continue
        for piece, sign in ((one, 1.0), (other, -1.0)):
            matrix[row, piece : piece + 2] += sign / way[piece] ** 2
            right[row] += sign * 2.0 * chord[piece] / way[piece] ** 2
    found: Floats = np.linalg.solve(matrix, right)
    return found
