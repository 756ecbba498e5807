r"""The least thickness of a section over its reliefs, in closed form.

Symbols: T thickness, e edge thickness, R wheel radius, and for each face its bevel angle β to the
centre plane (radians), the middle p of its relief from the edge along the face, its depth d. y runs
from the edge along the centre plane. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require
from planner.formulas.segment import Result, unchecked_chord

_QUARTER_TURN_RAD = np.pi / 2


class ReliefFace(NamedTuple):
    """One face: bevel angle, middle and depth of its relief; a depth of 0 is a flat face."""

    bevel_rad: ArrayLike
    middle_mm: ArrayLike
    depth_mm: ArrayLike


class _Face(NamedTuple):
    """One face as arrays: its line, its circle, and from where to where in y the arc goes."""

    sine: Result
    tangent: Result
    centre_y: Result
    centre_z: Result
    low: Result
    high: Result
    shoulder: Result
    there: NDArray[np.bool_]


def least_thickness(
    thickness_mm: ArrayLike,
    edge_thickness_mm: ArrayLike,
    wheel_radius_mm: ArrayLike,
    face_a: ReliefFace,
    face_b: ReliefFace,
) -> tuple[Result, Result]:
    r"""Least thickness across z over the width of any relief, and the y where it lies.

    Each face is e/2 + y tan β up to the flank at T/2, and between the ends of its relief the lower
    arc :math:`z_c - \sqrt{R^2 - (y - y_c)^2}` of the wheel, y_c = p cos β - (R - d) sin β. The
    thickness is the sum of the two. On each stretch where neither face changes from line to arc it
    is convex, so its least lies where the slopes cancel, or at the end of the stretch nearest to
    that place:

    * arc over arc: (y - y_a)/root = -(y - y_b)/root, and both circles have the radius R, so
      y = (y_a + y_b)/2;
    * arc over line: y = y_a - R sin β_b;
    * arc over flank: y = y_a.

    Range: R > 0, 0 <= e < T, 0 < β < π/2, 0 <= d <= R; the reliefs end within their faces. Where
    no face has a relief the result is infinite, at 0. Shape: broadcast. Raises: ValueError.
    Source: derived here from the circle's slope; tests hold it against a search over a grid.

    >>> one = ReliefFace(0.2, 5.0, 0.1)
    >>> least, at = least_thickness(3.0, 0.5, 50.0, one, one)
    >>> # by hand: the lowest point of both circles, y_c = 5 cos 0.2 - 49.9 sin 0.2 = -5.01, lies
    >>> # short of the relief, so it is least at the relief's end: y = (5 - 3.1607) cos 0.2 = 1.8026
    >>> round(float(at), 4), round(float(least), 4)  # 0.5 + 2 * 1.8026 tan 0.2
    (1.8026, 1.2308)
    """
    thickness, edge = np.asarray(thickness_mm, float), np.asarray(edge_thickness_mm, float)
    radius = np.asarray(wheel_radius_mm, float)
    require("thickness_mm", thickness, above=0.0)
    require("edge_thickness_mm", edge, low=0.0, high=thickness)
    require("wheel_radius_mm", radius, above=0.0)
    first = _face(thickness, edge, radius, face_a)
    same = face_a is face_b
    second = first if same else _face(thickness, edge, radius, face_b)
    best, best_y = np.asarray(np.inf), np.asarray(0.0)
    for one, other in ((first, second),) if same else ((first, second), (second, first)):
        for y in _candidates(radius, one, other, same=same):
            here = _height(y, thickness, edge, radius, one)
            opposite = here if same else _height(y, thickness, edge, radius, other)
            total = np.where(one.there, here + opposite, np.inf)
            best_y = np.where(total < best, y, best_y)
            best = np.minimum(total, best)
    return np.asarray(best)[()], np.asarray(best_y)[()]


def _face(thickness: Result, edge: Result, radius: Result, face: ReliefFace) -> _Face:
    bevel = np.asarray(face.bevel_rad, float)
    middle, depth = np.asarray(face.middle_mm, float), np.asarray(face.depth_mm, float)
    require("bevel_rad", bevel, above=0.0, high=_QUARTER_TURN_RAD)
    require("depth_mm", depth, low=0.0, high=radius)
    sine, cosine = np.sin(bevel), np.cos(bevel)
    tangent = sine / cosine
    half = unchecked_chord(radius, depth) / 2
    return _Face(
        sine=sine,
        tangent=tangent,
        centre_y=middle * cosine - (radius - depth) * sine,
        centre_z=edge / 2 + middle * sine + (radius - depth) * cosine,
        low=np.maximum(middle - half, 0.0) * cosine,
        high=(middle + half) * cosine,
        shoulder=(thickness - edge) / 2 / tangent,
        there=depth > 0,
    )


def _candidates(radius: Result, one: _Face, other: _Face, *, same: bool) -> Sequence[Result]:
    """Stations in one face's relief among which the least lies: one a stretch of the other face.

    A stretch that is not there gives some station of the relief, which does no harm.
    """
    if same:
        return [_into(one.centre_y, one.low, one.high)]
    begins = np.where(other.there, other.low, 0.0)
    ends = np.where(other.there, other.high, 0.0)
    over_line = one.centre_y - radius * other.sine
    stretches = (
        (over_line, one.low, np.minimum(begins, one.high)),
        ((one.centre_y + other.centre_y) / 2, np.maximum(begins, one.low), ends),
        (over_line, np.maximum(ends, one.low), np.minimum(other.shoulder, one.high)),
        (one.centre_y, np.maximum(other.shoulder, one.low), one.high),
    )
    return [_into(_into(y, low, high), one.low, one.high) for y, low, high in stretches]


def _into(y: Result, low: Result, high: Result) -> Result:
    return np.asarray(np.minimum(np.maximum(y, low), high))


def _height(y: Result, thickness: Result, edge: Result, radius: Result, face: _Face) -> Result:
    flat = np.minimum(edge / 2 + y * face.tangent, thickness / 2)
    away = y - face.centre_y
    arc = face.centre_z - np.sqrt(np.maximum(radius * radius - away * away, 0.0))
    inside = face.there & (np.abs(away) < radius)
    return np.asarray(np.where(inside, np.minimum(flat, arc), flat))
