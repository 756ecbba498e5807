r"""A bevel laid on the work: where it touches, how it stands to it, and the gap between.

Everything lies in the plane normal to the edge. The profile of a face is a polyline from a pivot
(the edge, at the origin) to the spine: x along the face's own direction at the pivot, y into the
steel. The work is below it, and passes through the pivot or another point of the profile with the
normal n, which points from the work to the steel. Its curvature κ is 1/R in a hollow of radius R, 0
on flat work and -1/R on a round of radius R.

* A chord d of the hollow rises from its tangent by asin(κ d/2) (Euclid, Elements III.32). A point
  at the distance d and the elevation ε is clear of work through the pivot when the tool is turned
  up about it by at least asin(κ d/2) - ε. The greatest of these over the profile is the turn at
  which it rests, the point that asks for it is the support.
* In a hollow and on flat work a straight piece is clear when its ends are (disc and half plane are
  convex); on a round a straight piece may touch between its ends, in the tangent point, which is
  added. So the result is exact for a polyline.
* Where a polyline stands for an arc of radius r within the chord error e, gaps are within e, and
  an angle that hangs on the last chord beside a support is within sqrt(2 e/r).

Lengths in mm, curvature in 1/mm, angles in radians.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

ALIKE_RAD = 1e-9
"""Turns that differ by less than this touch at once; the rounding of a straight face."""

FLAT_PER_MM = 1e-12
"""Work of less curvature has no tangent point or widest place between the ends of a piece: over a
metre it departs from flat by a ten-thousandth of a micrometre."""

_MOST_STEPS = 100


class Rest(NamedTuple):
    """How a profile rests on work through its pivot."""

    turn_rad: float
    """Angle between the profile's direction at the pivot and the work's, 0 or more: so far the
    pivot's end points into the work."""
    nearest_mm: float
    """From the pivot to the support nearest to it; 0 where the profile lies on at the pivot."""
    farthest_mm: float
    """From the pivot to the support farthest from it."""


class Gap(NamedTuple):
    """The widest place between a profile and the work."""

    gap_mm: float
    x_mm: float
    """Where, along the profile."""


def surface_angle(distance_mm: ArrayLike, curvature_per_mm: ArrayLike) -> Result:
    r"""Angle between the work's tangent and its chord of a length.

    .. math:: a = \arcsin(\kappa d / 2)

    Range: d >= 0, abs(κ) d <= 2. Shape: broadcast. Raises: ValueError.
    Source: tangent-chord angle, Euclid, Elements III.32.

    >>> round(float(np.degrees(surface_angle(6.0, 1 / 35))), 2)  # by hand: asin(3/35)
    4.92
    """
    distance, curvature = np.asarray(distance_mm, float), np.asarray(curvature_per_mm, float)
    require("distance_mm", distance, low=0.0)
    require("curvature_per_mm", curvature)
    require("half the chord in radii", np.abs(curvature) * distance / 2.0, low=0.0, high=1.0)
    return np.asarray(np.arcsin(curvature * distance / 2.0))[()]


def fits_in(x_mm: ArrayLike, y_mm: ArrayLike, curvature_per_mm: float) -> bool:
    """Whether every point of the profile is within the hollow's diameter of the pivot.

    Range: finite. Shape: (n,), (n,). Raises: ValueError. Source: definition of a chord.

    >>> fits_in([0, 8], [0, 0], 1 / 4), fits_in([0, 8.1], [0, 0], 1 / 4)  # by hand: 2 R = 8
    (True, False)
    """
    x, y = _profile(x_mm, y_mm)
    return curvature_per_mm * float(np.hypot(x, y).max()) <= 2.0


def turn_to_rest(x_mm: ArrayLike, y_mm: ArrayLike, curvature_per_mm: float) -> Rest:
    r"""Turn at which the profile rests on work through its pivot, and where.

    .. math:: \omega = \max(0, \max_i [\arcsin(\kappa d_i / 2) - \varepsilon_i])

    Range: at least two points, the first the pivot at (0, 0); d <= 2 R in a hollow. On a round a
    point farther off than 2 R is clear at any turn. Shape: (n,), (n,), scalar. Raises: ValueError.
    Source: Euclid, Elements III.32; see the head of this module.

    >>> rest = turn_to_rest([0.0, 6.0], [0.0, 0.0], 1 / 35)
    >>> round(float(np.degrees(rest.turn_rad)), 2), rest.farthest_mm  # by hand: asin(3/35)
    (4.92, 6.0)
    """
    x, y = _profile(x_mm, y_mm)
    require("curvature_per_mm", curvature_per_mm)
    if curvature_per_mm < -FLAT_PER_MM:
        more = _tangent_points(x, y, -1.0 / curvature_per_mm)
        x, y = np.concatenate([x, more[0]]), np.concatenate([y, more[1]])
    distance = np.hypot(x, y)
    off = distance > 1e-12
    if curvature_per_mm < 0:
        off &= distance * -curvature_per_mm <= 2.0
    distance, elevation = distance[off], np.arctan2(y[off], x[off])
    asked = surface_angle(distance, curvature_per_mm) - elevation
    turn = max(float(asked.max(initial=0.0)), 0.0)
    touching = distance[asked >= turn - ALIKE_RAD]
    farthest = float(touching.max(initial=0.0))
    lies_on = turn <= ALIKE_RAD
    return Rest(turn, 0.0 if lies_on else float(touching.min(initial=farthest)), farthest)


def gap_to_work(
    x_mm: ArrayLike, y_mm: ArrayLike, normal_xy: tuple[float, float], curvature_per_mm: float
) -> Result:
    r"""Distance from points to work that passes through (0, 0), negative inside it.

    .. math:: g = \frac{2 u \cdot n - \kappa u^2}{1 + \sqrt{1 - 2 \kappa u \cdot n + \kappa^2 u^2}}

    In a hollow it is R - abs(p - c), on a round abs(p - c) - R, coded without the difference of
    nearly equal numbers. Range: n a unit vector. Shape: (n,), (n,) -> (n,). Raises: ValueError.
    Source: distance from a circle.

    >>> float(gap_to_work(3.0, 1.0, (0.0, 1.0), 1 / 5))  # by hand: c (0, 5), 5 - abs((3, -4))
    0.0
    """
    x, y = np.asarray(x_mm, float), np.asarray(y_mm, float)
    require("x_mm", x)
    require("y_mm", y)
    require("length of the normal", np.hypot(*normal_xy), low=1 - 1e-9, high=1 + 1e-9)
    require("curvature_per_mm", curvature_per_mm)
    out, square = x * normal_xy[0] + y * normal_xy[1], x * x + y * y
    root = np.sqrt(
        np.maximum(1.0 - 2.0 * curvature_per_mm * out + curvature_per_mm**2 * square, 0.0)
    )
    return np.asarray((2.0 * out - curvature_per_mm * square) / (1.0 + root))[()]


def normal_under(
    x_mm: float, y_mm: float, normal_xy: tuple[float, float], curvature_per_mm: float
) -> tuple[float, float]:
    r"""Normal of the work at its point nearest to (x, y); the work passes through (0, 0).

    .. math:: (n - \kappa u) / |n - \kappa u|

    Range: the point is not the hollow's centre. Shape: scalars. Raises: ValueError.
    Source: a circle's normals pass through its centre.

    >>> nx, ny = normal_under(3.0, 1.0, (0.0, 1.0), 1 / 5)  # by hand: to c = (0, 5), (-3, 4)/5
    >>> round(nx, 12), round(ny, 12)
    (-0.6, 0.8)
    """
    x = normal_xy[0] - curvature_per_mm * x_mm
    y = normal_xy[1] - curvature_per_mm * y_mm
    length = float(np.hypot(x, y))
    require("distance from the centre in radii", length, above=1e-9)
    return x / length, y / length


def largest_gap(
    x_mm: ArrayLike, y_mm: ArrayLike, normal_xy: tuple[float, float], curvature_per_mm: float
) -> Gap:
    r"""Widest gap between a profile and work that passes through (0, 0), and its x.

    In a hollow the widest place of a straight piece is where it comes nearest to the centre, else
    one of its ends. Range: at least two points. Shape: (n,), (n,). Raises: ValueError.
    Source: distance from a circle.

    >>> gap = largest_gap([0.0, 6.0], [0.0, 0.0], (0.6, 0.8), 1 / 5)
    >>> round(gap.gap_mm, 12), round(gap.x_mm, 12)  # by hand: a chord of 6 on 5: 5 - 4, at 3
    (1.0, 3.0)
    """
    x, y = _profile(x_mm, y_mm, through_origin=False)
    if curvature_per_mm > FLAT_PER_MM:
        centre = np.array(normal_xy) / curvature_per_mm
        dx, dy = np.diff(x), np.diff(y)
        share = ((centre[0] - x[:-1]) * dx + (centre[1] - y[:-1]) * dy) / (dx * dx + dy * dy)
        share = np.clip(share, 0.0, 1.0)
        x = np.concatenate([x, x[:-1] + share * dx])
        y = np.concatenate([y, y[:-1] + share * dy])
    gaps = np.asarray(gap_to_work(x, y, normal_xy, curvature_per_mm))
    at = int(np.argmax(gaps))
    return Gap(float(gaps[at]), float(x[at]))


def bridge(
    x_mm: ArrayLike, y_mm: ArrayLike, split: int, curvature_per_mm: float
) -> tuple[int, int] | None:
    r"""The two points, before and from index ``split``, that the work touches at once.

    Laid across ``split``, the profile rests on these two; all others are clear. None where no
    hollow of this radius takes both. Range: κ >= 0, 0 < split < n. Shape: (n,), (n,).
    Raises: ValueError. Source: common tangent of two convex chains, found by going from one to the
    other until neither moves.

    >>> bridge([0, 1, 5], [0.2, 0, 0.5], 2, 0.0)  # by hand: the line from (1, 0) to (5, 0.5)
    (1, 2)
    """
    x, y = _profile(x_mm, y_mm, through_origin=False)
    require("curvature_per_mm", curvature_per_mm, low=0.0)
    require("split", split, low=1, high=len(x) - 1)
    after = split
    for _ in range(_MOST_STEPS):
        back = _asked_from(x, y, after, slice(0, split), -1.0, curvature_per_mm)
        before = int(np.argmax(back))
        ahead = _asked_from(x, y, before, slice(split, len(x)), 1.0, curvature_per_mm)
        if not (np.isfinite(back[before]) and np.isfinite(ahead).all()):
            return None
        found = split + int(np.argmax(ahead))
        if found == after or ahead[found - split] <= ahead[after - split] + ALIKE_RAD:
            return before, after
        after = found
    raise ValueError("the profile has no two points that the work touches at once")


def _asked_from(
    x: Result, y: Result, pivot: int, others: slice, sign: float, curvature: float
) -> Result:
    """Turn that each of the others asks for about a pivot, x counted with a sign."""
    dx, dy = sign * (x[others] - x[pivot]), y[others] - y[pivot]
    half = curvature * np.hypot(dx, dy) / 2.0
    angle = np.arcsin(np.minimum(half, 1.0)) - np.arctan2(dy, dx)
    return np.where(half <= 1.0, angle, np.inf)


def _tangent_points(x: Result, y: Result, radius: float) -> tuple[Result, Result]:
    """Where a round through the pivot touches the line of a piece, within the piece.

    With the pivot Q below the line (on the work's side), its centre R below: X^2 = Q (2 R - Q).
    """
    dx, dy = np.diff(x), np.diff(y)
    length = np.hypot(dx, dy)
    ex, ey = dx / length, dy / length
    below = -ex * y[:-1] + ey * x[:-1]  # (0, 0) lies so far from the line, into the steel
    foot = -(x[:-1] * ex + y[:-1] * ey)
    under = -below * (2.0 * radius + below)
    reach = np.sqrt(np.maximum(under, 0.0))
    places = [np.clip(foot + way * reach, 0.0, length)[under > 0] for way in (-1.0, 1.0)]
    starts = (np.tile(x[:-1][under > 0], 2), np.tile(y[:-1][under > 0], 2))
    ways = (np.tile(ex[under > 0], 2), np.tile(ey[under > 0], 2))
    place = np.concatenate(places)
    return starts[0] + place * ways[0], starts[1] + place * ways[1]


def _profile(
    x_mm: ArrayLike, y_mm: ArrayLike, *, through_origin: bool = True
) -> tuple[Result, Result]:
    x, y = np.asarray(x_mm, float), np.asarray(y_mm, float)
    require("x_mm", x)
    require("y_mm", y)
    require("number of points", len(x), low=2)
    require("length of a piece", np.hypot(np.diff(x), np.diff(y)), above=0.0)
    if through_origin:
        require("distance of the pivot from (0, 0)", np.hypot(x[0], y[0]), low=0.0, high=1e-9)
    return x, y
