"""What a wheel that keeps its direction leaves at each station of an edge that it follows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.lens import Lens
from planner.formulas.segment import chord_of_depth
from planner.formulas.wheel_support import (
    along_rim,
    curvature_left,
    flat_rim_digs,
    wheel_curvature,
)
from planner.kinematics.slide_path import SlidePath
from planner.section.work import FaceWork

Floats = NDArray[np.float64]

_SQUARE_PER_MM = 1e-9
_FLATTEST_PER_MM = 1e-5
"""A hollow flatter than this is told as one of this curvature: it is refused whatever it is."""


@dataclass(frozen=True, eq=False)
class Left:
    """What is left at stations along the edge; every array has one figure a station."""

    x_mm: Floats
    heading_deg: Floats
    radius_mm: Floats
    """Of the section; NaN where the wheel does not fit the edge."""
    land_error_mm: Floats
    """How much wider each land comes out than where the wheel lies square."""
    shortfall_mm: Floats
    """By how much less depth, square, would leave the same lands."""
    on_rim_mm: Floats
    """How far from the middle of the rim its farthest contact lies; 0 of a flat rim."""
    digs_mm: Floats
    """How much deeper a flat rim's corner goes than its middle."""

    @property
    def fits(self) -> NDArray[np.bool_]:
        """Whether the wheel is less hollow along the edge than the edge itself."""
        return np.asarray(np.isfinite(self.radius_mm))

    @property
    def worst(self) -> int:
        """Where the lands are furthest off."""
        return int(np.argmax(np.abs(self.land_error_mm)))


def left_at(path: SlidePath, work: FaceWork, x_mm: Floats) -> Left:
    """What is left at stations, at the full depth. Shape: (n,)."""
    places = path.course.at(x_mm)
    along, normal = path.plane.directions(places)
    wheel, axis, depth = path.wheel, path.wheel_axis(x_mm), work.depth_mm
    there = wheel_curvature(normal, places.along, along, axis, wheel.radius_mm, wheel.rim_radius_mm)
    bends = path.course.bends_per_mm(x_mm, path.plane, path.point_yz_mm(depth))
    k_g = curvature_left(there, bends)
    if math.isinf(wheel.rim_radius_mm):
        # Whether its corners dig into a hollow edge is asked apart.
        square = np.abs(there.both_per_mm) < _SQUARE_PER_MM
        k_g = np.where(square, there.across_per_mm, k_g)
    radius = 1.0 / np.maximum(k_g, _FLATTEST_PER_MM)
    lens = work.section.lens(work.face.face)
    chord = float(lens.chord_of_depth(depth))
    chords = np.full_like(radius, chord)
    shortfall = np.zeros_like(radius)
    fits = np.isfinite(radius)
    chords[fits] = chords_of(lens, radius[fits], depth)
    widest = 2.0 * min(lens.wheel_radius_mm, lens.face_radius_mm)
    shortfall[fits] = depth - np.asarray(lens.depth_of_chord(np.minimum(chords[fits], widest)))
    if math.isinf(wheel.rim_radius_mm):
        on_rim = np.zeros_like(radius)
        digs = flat_rim_digs(normal, axis, work.wheel.width_mm)
    else:
        beside = np.abs(along_rim(normal, axis, wheel.rim_radius_mm))
        on_rim = beside + chords / 2 * np.abs(np.sum(along * axis, axis=-1))
        digs = np.zeros_like(radius)
    return Left(
        x_mm=x_mm,
        heading_deg=np.degrees(path.course.heading_rad(x_mm)),
        radius_mm=radius,
        land_error_mm=work.relief.land_share * (chord - chords) / 2,
        shortfall_mm=shortfall,
        on_rim_mm=on_rim,
        digs_mm=digs,
    )


def chords_of(lens: Lens, radii_mm: Floats, depths_mm: ArrayLike) -> Floats:
    """Chords of hollows of other radii than the lens's, and other depths. Shape: (n,)."""
    depths = np.broadcast_to(np.asarray(depths_mm, float), radii_mm.shape)
    if math.isinf(lens.face_radius_mm):
        deep = np.minimum(depths, radii_mm)
        return np.asarray(chord_of_depth(radii_mm, deep))
    found = [
        float(here.chord_of_depth(min(depth, here.deepest_mm)))
        for radius, depth in zip(radii_mm.tolist(), depths.tolist(), strict=True)
        for here in (replace(lens, wheel_radius_mm=radius),)
    ]
    return np.array(found)
