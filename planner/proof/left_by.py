"""What the wheel leaves in the section of one station: found place by place, as an envelope.

The wheel as the body that it is goes by, station by station along its path; under each place of
the face the deepest that any of these comes to is what it leaves.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from planner.proof.edge_line import Floats
from planner.proof.followed import Followed, Lines, WheelShape
from planner.proof.forms import ImpossibleError

_PLACES = 61
_FLAT_PLACES = 97
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


class LeftLines(NamedTuple):
    """What the lines of an arc leave, told of three places along the face, shape (3,)."""

    along_mm: tuple[float, ...]
    arcs: tuple[LeftBy, ...]

    def at(self, along_mm: float) -> LeftBy:
        """That of a place between, by the parabola through the three."""
        x = (along_mm - self.along_mm[1]) / (self.along_mm[2] - self.along_mm[1])
        x = min(max(x, -1.0), 1.0)
        weights = np.array([x * (x - 1.0) / 2.0, 1.0 - x * x, x * (x + 1.0) / 2.0])
        return LeftBy(*(weights @ np.array(self.arcs)).tolist())


class LeftFlat(NamedTuple):
    """What a flat leaves: places along the face from where its middle stands, and how much deeper
    than that it is there; rising, shape (n,) each."""

    places_mm: tuple[float, ...]
    deeper_mm: tuple[float, ...]

    def deepest_mm(self, low_mm: float, high_mm: float) -> float:
        """The most between two places, as far as the flat reaches."""
        places, deeper = np.array(self.places_mm), np.array(self.deeper_mm)
        ends = np.clip([low_mm, high_mm], places[0], places[-1])
        within = deeper[(places > ends[0]) & (places < ends[1])]
        return float(np.max(np.concatenate([within, np.interp(ends, places, deeper)])))


Left = LeftBy | LeftFlat | LeftLines


def left_by_flat(followed: Followed, s_mm: float, depth_mm: float) -> LeftFlat:
    """The section that a flat leaves at a station at a depth.

    Raises: ImpossibleError where it comes to no place of the face.
    """
    at = followed.line.at(np.array([s_mm]))
    origin, normal = followed.bare_points(at)[0], followed.normals(at)[0]
    plane = Plane(origin, at.directions(*followed.face.along)[0], normal)
    half = followed.wheel.half_width_mm
    places = np.linspace(-half, half, _FLAT_PLACES)
    deeper = _envelope(followed, s_mm, Stand(depth_mm, 0.0, depth_mm), plane, places)
    deeper -= depth_mm
    met = np.flatnonzero(np.isfinite(deeper))
    if len(met) < 2:
        raise ImpossibleError("the flat leaves no face")
    kept = slice(met[0], met[-1] + 1)
    if not np.all(np.isfinite(deeper[kept])):
        raise ImpossibleError("the flat leaves no face")
    return LeftFlat(tuple(places[kept].tolist()), tuple(deeper[kept].tolist()))


def left_by_lines(
    followed: Followed, lines: Lines, s_mm: float, ends_mm: tuple[float, float], apart_mm: float
) -> LeftLines:
    """The arcs that lines leave at a station, between two places along the face.

    ``apart_mm`` is how wide a strip each is asked for. Raises: ImpossibleError where the wheel
    leaves none.
    """
    places = ends_mm[0], sum(ends_mm) / 2.0, ends_mm[1]
    high = apart_mm**2 / (8.0 * lines.section_mm)
    return LeftLines(
        places,
        tuple(_left_by_line(followed, lines, s_mm, each, high, apart_mm / 2.0) for each in places),
    )


def _left_by_line(
    followed: Followed, lines: Lines, s_mm: float, along_mm: float, high_mm: float, half_mm: float
) -> LeftBy:
    """Of a line beside that at zero; its depth is counted from a plane so high over it."""
    at = followed.line.at(np.array([s_mm]))
    sine = lines.sine(np.array([along_mm]))
    depth = lines.depth_mm(along_mm)
    touched, normals = followed.touched(at, depth, along_mm, sine)
    upright, level = followed.normals(at)[0], at.directions(*followed.face.along)[0]
    along = math.sqrt(1.0 - sine[0] ** 2) * level - sine[0] * upright
    origin = touched[0] + high_mm * normals[0]
    stand = Stand(depth, along_mm, high_mm)
    return _arc(followed, s_mm, stand, Plane(origin, along, normals[0]), half_mm)


def left_by(followed: Followed, s_mm: float, depth_mm: float, half_chord_mm: float) -> LeftBy:
    """The section that a pass at a depth leaves at a station.

    ``half_chord_mm`` is half of the chord to be expected, nearly. Raises: ImpossibleError where
    the wheel leaves no such arc: it is narrower, or its surface runs out of the face.
    """
    at = followed.line.at(np.array([s_mm]))
    origin, normal = followed.bare_points(at)[0], followed.normals(at)[0]
    plane = Plane(origin, at.directions(*followed.face.along)[0], normal)
    return _arc(followed, s_mm, Stand(depth_mm, 0.0, depth_mm), plane, half_chord_mm)


class Stand(NamedTuple):
    """Where a pass goes: its depth and place along the face, and how deep that is in a plane."""

    depth_mm: float
    along_mm: float
    below_mm: float


class Plane(NamedTuple):
    """Through a station: a point of it, along it and out of it, each shape (3,)."""

    origin: Floats
    along: Floats
    normal: Floats


def _arc(
    followed: Followed, s_mm: float, stand: Stand, plane: Plane, half_chord_mm: float
) -> LeftBy:
    for widen in (1.4, 2.2, 4.0):
        places = np.linspace(-widen, widen, _PLACES) * half_chord_mm
        depths = _envelope(followed, s_mm, stand, plane, places)
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
    return LeftBy(radius, (low + high) / 2.0, deepest - stand.below_mm)


def _envelope(
    followed: Followed, s_mm: float, stand: Stand, plane: Plane, places_mm: Floats
) -> Floats:
    """Depth that the passing wheel comes to under each place of a plane, shape (n,)."""
    points = plane.origin + places_mm[:, None] * plane.along
    span = math.sqrt(8.0 * stand.below_mm * followed.wheel.radius_mm)
    if followed.wheel.rim_mm is None:
        span = max(span, 1.1 * followed.wheel.half_width_mm)
    for _ in range(_WIDER):
        positions = s_mm + np.linspace(-span, span, _POSITIONS)
        depths = _depths(followed, positions[None, :], stand, points, plane.normal)
        best = depths.argmax(axis=1)
        if not np.any((best == 0) | (best == _POSITIONS - 1)):
            break
        span *= 2.0
    step = positions[1] - positions[0]
    near = positions[best][:, None] + np.linspace(-step, step, _FINE)
    fine = _depths(followed, near, stand, points, plane.normal)
    found: Floats = np.maximum(depths.max(axis=1), fine.max(axis=1))
    return found


def _depths(
    followed: Followed, s_mm: Floats, stand: Stand, points: Floats, normal: Floats
) -> Floats:
    """The same of each position alone, shape (points, positions); minus infinity where none.

    Along the line below a point the wheel's surface is a convex function's zero: from outside,
    Newton's steps come to it from one side.
    """
    shape = np.broadcast_shapes(s_mm.shape, (len(points), 1))
    flat = np.broadcast_to(s_mm, (s_mm.shape[0], shape[1])).ravel()
    at = followed.line.at(flat)
    centres = followed.centres(at, stand.depth_mm, stand.along_mm)
    centres = centres.reshape(s_mm.shape[0], -1, 3)
    axes = followed.axes(at).reshape(s_mm.shape[0], -1, 3)
    off = points[:, None, :] - centres
    wheel, lean, up = followed.wheel, axes @ normal, off @ normal
    across, square = (
        np.einsum("ijk,ijk->ij", off, d) for d in (np.broadcast_to(axes, off.shape), off)
    )
    below = np.full(shape, stand.below_mm + _BELOW_MM)
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
