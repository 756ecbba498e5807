"""How the steel of a face that bulges stands to its arc, seen from the middle of that arc."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely

from planner.proof.forms import Side
from planner.proof.steel import Floats, rings_of
from planner.proof.target import FaceName

_ON_PLANE_MM = 1e-9
_INSIDE_RAD = 1e-9


class OverArc(NamedTuple):
    """How steel stands to the arc wanted, radially; mm, positive is too much steel."""

    highest_mm: float
    lowest_mm: float
    half_edge_mm: float
    """Height of the face's corner over that of the finished edge, across the blade."""


def over_arc(
    steel: shapely.Geometry, side: Side, name: FaceName, first_rad: float, last_rad: float
) -> OverArc:
    """How the outline of steel stands to a bulging face between two of its angles.

    The outline is of straight lines: seen from the middle of the arc it is farthest at a corner,
    and nearest there or at the foot of the perpendicular on a line.
    """
    (y, w), sign = side.centre, 1.0 if name == "A" else -1.0
    starts, ends = [], []
    for ring in rings_of(steel):
        out = (ring - np.array((y, sign * w))) * np.array((1.0, sign))
        starts.append(out[:-1])
        ends.append(out[1:])
    radius = side.radius_mm or 0.0
    if not starts:
        return OverArc(-radius, -radius, -radius)
    a, b = np.vstack(starts), np.vstack(ends)
    run = b - a
    length = np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-15)
    share = np.clip(-(a * run).sum(axis=1) / length**2, 0.0, 1.0)
    feet = a + share[:, None] * run
    asked = [_angles(a), _angles(feet), np.array([first_rad, last_rad])]
    angles = np.unique(np.concatenate(asked))
    angles = np.clip(angles, last_rad + _INSIDE_RAD, first_rad - _INSIDE_RAD)
    angles = np.unique(angles)
    found = _outermost(a, run, angles) - radius
    # Above the corner the ray from the middle of the arc is out of the steel already.
    at_end = a[np.abs(a[:, 0] + y) < _ON_PLANE_MM, 1] + w
    half_edge = float(found[-1]) / math.cos(first_rad)
    if len(at_end):
        half_edge = float(at_end.max()) - side.corner_mm
    return OverArc(float(found.max()), float(found.min()), half_edge)


def _outermost(starts: Floats, runs: Floats, angles_rad: Floats) -> Floats:
    """Distance from the origin to the last crossing of each ray, shape (m,); 0 where none is."""
    # Where the face has the angle t to the centre plane, its normal is (-sin t, cos t).
    y, w = -np.sin(angles_rad)[:, None], np.cos(angles_rad)[:, None]
    across_start = w * starts[:, 0] - y * starts[:, 1]
    across_run = w * runs[:, 0] - y * runs[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = -across_start / across_run
    crossed = (share >= -1e-12) & (share <= 1.0 + 1e-12)
    at = np.where(crossed, share, 0.0)
    along = y * (starts[:, 0] + at * runs[:, 0]) + w * (starts[:, 1] + at * runs[:, 1])
    found: Floats = np.where(crossed, along, 0.0).max(axis=1)
    return found


def _angles(points: Floats) -> Floats:
    found: Floats = np.arctan2(-points[:, 0], points[:, 1])
    return found
