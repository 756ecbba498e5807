"""What a flat wheel leaves at each station of an edge that it follows: how its face leans there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.formulas.wheel_support import flat_left, wheel_curvature
from planner.kinematics.slide_path import SlidePath
from planner.section.bulge_work import FacetWork
from planner.section.work import FaceWork

Floats = NDArray[np.float64]

_PLACES = 33
"""Places across the face at which it is looked at."""


@dataclass(frozen=True, eq=False)
class FlatLeft:
    """How the face comes out; every array has one figure a station, n of them.

    Heights are those over the plane that is wanted, above 0 where steel is left on.
    """

    x_mm: Floats
    heading_deg: Floats
    fits: NDArray[np.bool_]
    """Whether the wheel is less hollow than the edge, from the edge to the shoulder."""
    lean_deg: Floats
    """About the edge's direction: above 0 where it rises toward the shoulder."""
    heights_mm: Floats
    """(n, p): from the edge to the shoulder."""
    aslant: Floats
    """The axis's part along the edge for its part along the face."""

    @property
    def edge_mm(self) -> Floats:
        """Height at the edge."""
        return self.heights_mm[:, 0]

    @property
    def shoulder_mm(self) -> Floats:
        """Height at the shoulder."""
        return self.heights_mm[:, -1]

    @property
    def off_mm(self) -> Floats:
        """From the lowest to the highest place of the face."""
        return np.asarray(self.heights_mm.max(axis=1) - self.heights_mm.min(axis=1))

    @property
    def worst(self) -> int:
        """Where the face is furthest off."""
        return int(np.argmax(self.off_mm))


def flat_left_at(path: SlidePath, work: FaceWork, x_mm: Floats) -> FlatLeft:
    """What a flat leaves at stations, at the full depth. Shape: (n,)."""
    places = path.course.at(x_mm)
    along, normal = path.plane.directions(places)
    wheel, axis = path.wheel, path.wheel_axis(x_mm)
    there = wheel_curvature(normal, places.along, along, axis, wheel.radius_mm, wheel.rim_radius_mm)
    low, high = face_span_mm(path, work)
    ends = [
        path.course.bends_per_mm(x_mm, path.plane, path.point_yz_mm(work.depth_mm, beside))
        for beside in (low, 0.0, high)
    ]
    fits = np.all([there.along_per_mm > bend for bend in ends], axis=0)
    slope, curved = flat_left(normal, places.along, along, axis, ends[1])
    p = np.linspace(low, high, _PLACES)
    heights = path.above_mm + slope[:, None] * p + curved[:, None] * p * p / 2.0
    return FlatLeft(
        x_mm=x_mm,
        heading_deg=np.degrees(path.course.heading_rad(x_mm)),
        fits=fits,
        lean_deg=np.degrees(np.arctan(slope)),
        heights_mm=heights,
        aslant=np.abs(
            np.sum(axis * places.along, axis=-1) / np.sum(axis * along, axis=-1),
        ),
    )


def face_span_mm(path: SlidePath, work: FaceWork) -> tuple[float, float]:
    """From the edge to the shoulder of the face that is ground, from the flat's middle."""
    if isinstance(work, FacetWork):
        # Along its own plane it begins where the facet before it ends.
        edge = work.face.start_mm - work.place_mm
    else:
        lower = (work.before.outside_mm - work.after.outside_mm) * math.tan(work.face.angle_rad)
        edge = -lower - path.middle_mm
    return edge, edge + work.ground_width_mm
