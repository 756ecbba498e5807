"""What parallel lines leave at each station of an edge that they follow: how round each is."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from planner.formulas.wheel_support import along_rim, curvature_left, wheel_curvature
from planner.kinematics.slide_path import SlideLines, SlidePath
from planner.section.line_arcs import Arc, BulgeArc
from planner.section.work import FaceWork

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LinesLeft:
    """How the lines come out; every array has one figure a station, n of them.

    Each line touches the arc at its own place all along the edge; what it leaves beside that place
    has another radius than where the wheel lies square.
    """

    x_mm: Floats
    heading_deg: Floats
    fits: NDArray[np.bool_]
    """Whether every line is less hollow along the edge than the edge itself, and touches the arc
    from within across it."""
    radius_mm: Floats
    """The smallest radius across the edge that any of the lines leaves."""
    ridge_mm: Floats
    """Height of the ridges between lines so round; NaN where they do not fit."""
    on_rim_mm: Floats
    """How far from the middle of a round rim its farthest contact lies; 0 of a flat one."""
    digs_mm: Floats
    """How far a flat rim's corner stands below its middle at the most."""

    @property
    def worst(self) -> int:
        """Where the ridges are highest."""
        return int(np.argmax(np.nan_to_num(self.ridge_mm, nan=-1.0)))


def slide_lines(work: FaceWork) -> SlideLines | None:
    """The places of an arc's lines as the path needs them; None for work in one piece."""
    arc = work.line_arc
    if not isinstance(arc, Arc | BulgeArc):
        return None
    lines = arc.lines()
    ends = lines[0].along_mm, lines[-1].along_mm
    if isinstance(arc, BulgeArc):
        return SlideLines(-arc.radius_mm - arc.wheel_mm, arc.wheel_mm, ends, arc.centre_mm[0])
    return SlideLines(arc.radius_mm - arc.wheel_mm, arc.wheel_mm, ends)


def lines_left_at(path: SlidePath, work: FaceWork, x_mm: Floats) -> LinesLeft:
    """What the lines of an arc leave at stations, at the full depth. Shape: (n,)."""
    arc, wheel, axis = work.line_arc, path.wheel, path.wheel_axis(x_mm)
    assert isinstance(arc, Arc | BulgeArc)
    assert path.lines is not None
    places = path.course.at(x_mm)
    along, normal = path.plane.directions(places)
    curves, on_rim, digs = [], [], []
    first, last = path.asides_mm[0], path.asides_mm[-1]
    for aside in np.linspace(first, last, _LINES).tolist():
        touched = path.touched(along, normal, np.full(x_mm.shape, aside))
        turn = math.asin((path.lines.level_mm - aside) / path.lines.off_mm)
        across = math.cos(turn) * along - math.sin(turn) * normal
        there = wheel_curvature(
            touched, places.along, across, axis, wheel.radius_mm, wheel.rim_radius_mm
        )
        # The arc's own face there is turned as the contact is.
        plane = replace(path.plane, angle_rad=path.plane.angle_rad - turn)
        beside = aside - arc.wheel_mm * math.sin(turn)
        lowest = arc.depth_mm - arc.back_mm(aside)
        depth = lowest - 2.0 * arc.wheel_mm * math.sin(turn / 2.0) ** 2
        bends = path.course.bends_per_mm(x_mm, plane, path.point_yz_mm(depth, beside))
        k_g = curvature_left(there, bends)
        if math.isinf(wheel.rim_radius_mm):
            # Whether its corners dig into a hollow edge is asked apart.
            square = np.abs(there.both_per_mm) < _SQUARE_PER_MM
            k_g = np.where(square, there.across_per_mm, k_g)
            level = np.abs(np.sum(touched * axis, axis=-1))
            digs.append(level * work.wheel.width_mm / 2.0)
            on_rim.append(np.zeros_like(k_g))
        else:
            digs.append(np.zeros_like(k_g))
            on_rim.append(np.abs(along_rim(touched, axis, wheel.rim_radius_mm)))
        curves.append(k_g)
    hollow = 1.0 / arc.radius_mm if isinstance(arc, Arc) else 0.0
    with np.errstate(invalid="ignore"):
        fit = np.all([k_g > hollow for k_g in curves], axis=0)
    radius = np.where(fit, 1.0 / np.max(np.where(fit, curves, 1.0), axis=0), np.nan)
    ridge = np.full_like(radius, np.nan)
    ridge[fit] = arc.ridge_of_mm(radius[fit])
    return LinesLeft(
        x_mm=x_mm,
        heading_deg=np.degrees(path.course.heading_rad(x_mm)),
        fits=fit,
        radius_mm=radius,
        ridge_mm=ridge,
        on_rim_mm=np.max(on_rim, axis=0),
        digs_mm=np.max(digs, axis=0),
    )


_LINES = 9
"""Places across the arc, from its first line to its last, at which one is looked at."""
_SQUARE_PER_MM = 1e-9
