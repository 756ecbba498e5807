"""What the wheel leaves in the section of one station: found place by place, as an envelope.

The wheel as the body that it is goes by, station by station along its path; under each place of
the face the deepest that any of these comes to is what it leaves.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from planner.proof.edge_line import Floats
from planner.proof.followed import Followed, WheelShape
from planner.proof.forms import ImpossibleError

_PLACES = 61
_POSITIONS = 161
_FINE = 33
_NEWTON = 40
_WIDER = 5
_BELOW_MM = 0.5
"""How far below the deepest the search for the wheel's surface begins."""


class LeftBy(NamedTuple):
    """The arc that has the same ends on the face and the same depth."""

    radius_mm: float
    aside_mm: float
    """How far its middle lies beside that of the relief."""
    deeper_mm: float
    """How much deeper it is than the wheel was sent: a corner that digs."""


def left_by(followed: Followed, s_mm: float, depth_mm: float, half_chord_mm: float) -> LeftBy:
    """The section that a pass at a depth leaves at a station.

    ``half_chord_mm`` is half of the chord to be expected, nearly. Raises: ImpossibleError where
    the wheel leaves no such arc: it is narrower, or its surface runs out of the face.
    """
    at = followed.line.at(np.array([s_mm]))
    normal, origin = followed.normals(at)[0], followed.bare_points(at)[0]
    along = at.directions(*followed.face.along)[0]
    for widen in (1.4, 2.2, 4.0):
        places = np.linspace(-widen, widen, _PLACES) * half_chord_mm
        depths = _envelope(followed, s_mm, depth_mm, origin + places[:, None] * along, normal)
        inside = np.flatnonzero(depths > 0.0)
        if len(inside) and inside[0] > 0 and inside[-1] < len(places) - 1:
            break
    else:
        raise ImpossibleError("the wheel leaves no arc on the face")
    first, last = int(inside[0]), int(inside[-1])
    low = _crossing(places, depths, first - 1)
    high = _crossing(places, depths, last)
    half = (high - low) / 2.0
    deepest = _highest(places, depths)
    radius = (half * half + deepest * deepest) / (2.0 * deepest)
    return LeftBy(radius, (low + high) / 2.0, deepest - depth_mm)


def _envelope(
    followed: Followed, s_mm: float, depth_mm: float, points: Floats, normal: Floats
) -> Floats:
    """Depth that the passing wheel comes to under each point of the face, shape (n,)."""
    span = math.sqrt(8.0 * depth_mm * followed.wheel.radius_mm)
    if followed.wheel.rim_mm is None:
        span = max(span, 1.1 * followed.wheel.half_width_mm)
    for _ in range(_WIDER):
        positions = s_mm + np.linspace(-span, span, _POSITIONS)
        depths = _depths(followed, positions[None, :], depth_mm, points, normal)
        best = depths.argmax(axis=1)
        if not np.any((best == 0) | (best == _POSITIONS - 1)):
            break
        span *= 2.0
    step = positions[1] - positions[0]
    near = positions[best][:, None] + np.linspace(-step, step, _FINE)
    fine = _depths(followed, near, depth_mm, points, normal)
    found: Floats = np.maximum(depths.max(axis=1), fine.max(axis=1))
    return found


def _depths(
    followed: Followed, s_mm: Floats, depth_mm: float, points: Floats, normal: Floats
) -> Floats:
    """The same of each position alone, shape (points, positions); minus infinity where none.

    Along the line below a point the wheel's surface is a convex function's zero: from outside,
    Newton's steps come to it from one side.
    """
    shape = np.broadcast_shapes(s_mm.shape, (len(points), 1))
    flat = np.broadcast_to(s_mm, (s_mm.shape[0], shape[1])).ravel()
    at = followed.line.at(flat)
    centres = followed.centres(at, depth_mm).reshape(s_mm.shape[0], -1, 3)
    axes = followed.axes(at).reshape(s_mm.shape[0], -1, 3)
    off = points[:, None, :] - centres
    wheel, lean, up = followed.wheel, axes @ normal, off @ normal
    across, square = (
        np.einsum("ijk,ijk->ij", off, d) for d in (np.broadcast_to(axes, off.shape), off)
    )
    below = np.full(shape, depth_mm + _BELOW_MM)
    for _ in range(_NEWTON):
        on_axis = across - below * lean
        from_axis = np.sqrt(np.maximum(square - 2.0 * below * up + below**2 - on_axis**2, 1e-12))
        rim, slope = _rim(wheel, on_axis)
        rate = (below - up + on_axis * lean) / from_axis + slope * lean
        step = (from_axis - rim) / np.where(rate > 1e-3, rate, math.inf)
        below = below - np.clip(step, -1.0, 5.0)
        if np.abs(step).max() < 1e-11:
            break
    met = (np.abs(across - below * lean) <= wheel.half_width_mm) & (np.abs(step) < 1e-8)
    met &= rate > 1e-3
    found: Floats = np.where(met, below, -math.inf)
    return found


def _rim(wheel: WheelShape, on_axis: Floats) -> tuple[Floats, Floats]:
    """Radius of the wheel at a place on its axis, and its slope there."""
    if wheel.rim_mm is None:
        return np.full_like(on_axis, wheel.radius_mm), np.zeros_like(on_axis)
    place = np.clip(on_axis, -0.99 * wheel.rim_mm, 0.99 * wheel.rim_mm)
    height = np.sqrt(wheel.rim_mm**2 - place**2)
    return wheel.radius_mm - wheel.rim_mm + height, -place / height


def _crossing(places: Floats, depths: Floats, before: int) -> float:
    """Where the depth passes through 0, between a place and the next."""
    first = min(max(before - 1, 0), len(places) - 4)
    near = slice(first, first + 4)
    if not np.all(np.isfinite(depths[near])):
        ends = depths[before], depths[before + 1]
        if not np.all(np.isfinite(ends)):
            raise ImpossibleError("the rim is narrower than the relief at some station")
        share = ends[0] / (ends[0] - ends[1])
        return float(places[before] + share * (places[before + 1] - places[before]))
    step = places[1] - places[0]
    cubic = np.polyfit((places[near] - places[before]) / step, depths[near], 3)
    low, high = 0.0, 1.0
    rising = depths[before] < depths[before + 1]
    for _ in range(60):
        half = (low + high) / 2.0
        below = (np.polyval(cubic, half) < 0.0) == rising
        low, high = (half, high) if below else (low, half)
    return float(places[before] + step * (low + high) / 2.0)


def _highest(places: Floats, depths: Floats) -> float:
    """The deepest of a smooth course, between the places too."""
    best = int(depths.argmax())
    if not 0 < best < len(places) - 1 or not np.all(np.isfinite(depths[best - 1 : best + 2])):
        return float(depths[best])
    left, middle, right = depths[best - 1 : best + 2]
    bend = left - 2.0 * middle + right
    return float(middle - (right - left) ** 2 / (8.0 * bend)) if bend < 0.0 else float(middle)
