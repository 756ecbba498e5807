"""The mark that a light touch leaves on a face: how wide, and how far from the edge."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.formulas.lens import Lens
from planner.formulas.segment import chord_of_depth
from planner.section.wheel_shape import half_reach_mm
from planner.section.work import FaceWork

Seen = Literal["band", "corner", "face", "lands"]


@dataclass(frozen=True)
class WitnessMark:
    """A mark, measured along the face as it is before the work, from the blade's edge."""

    seen: Seen
    """A band of a round wheel; of a flat one a line along the corner of the stock, the whole face,
    or both lands."""
    depth_mm: float
    """Of the touch."""
    from_mm: float
    to_mm: float
    middle_mm: float
    """Of the wheel; also of the mark, unless the mark is cut short by an end of the face."""
    begins_mm: float
    """Where the face begins: 0, or behind a micro bevel."""
    face_mm: float
    """Where it ends, at the shoulder."""
    along_mm: float
    """How long it is along the edge, the wheel standing still."""
    lands_mm: tuple[float, float] = (0.0, 0.0)
    """Edge and shoulder land as a flat wheel marks them."""

    @property
    def width_mm(self) -> float:
        """Across the face."""
        return self.to_mm - self.from_mm

    @property
    def cut_short(self) -> bool:
        """Whether it runs out at an end of the face."""
        return self.seen == "band" and (
            self.from_mm <= self.begins_mm or self.to_mm >= self.face_mm
        )


def witness_mark(work: FaceWork, depth_mm: float) -> WitnessMark:
    r"""The mark of a touch to a depth e on the face as it is before the work.

    A round wheel of radius r leaves a band around its lowest point, cut where the face ends:

    .. math:: w = 2 \sqrt{2 r e - e^2}

    and narrower on a face that bulges, where two circles meet (planner/formulas/lens.py). A flat
    marks all that it bares on: the corner of square stock :math:`e / (\sin β \cos β)` wide, a bevel
    from edge to shoulder, or both lands. Along the edge the mark is as long as the wheel is wide
    there (on the outside of an arc of radius ρ, and with a crown of it, the chord), as its platen,
    or :math:`2 \sqrt{D e - e^2}` with a wheel of diameter D across the edge.

    Distances are from the edge: on a flat face along it, on one that bulges straight.

    Range: 0 <= e, taken as no deeper than the work itself goes. Raises: ValueError below 0.
    Source: Euclid, Elements III.35, intersecting chords; the corner is a right triangle.
    """
    if not depth_mm >= 0.0:
        raise ValueError(f"depth_mm: {depth_mm} is below 0")
    depth = min(depth_mm, work.depth_mm)
    face = work.face_width_mm(work.before.outside_mm)
    along = 2.0 * half_reach_mm(work.wheel, depth, work.curvature_per_mm)
    if work.operation == "relief":
        return _band(work, depth, along)
    if work.from_corner:
        wide = float(work.removal.width_mm(np.array(depth)))
        return WitnessMark("corner", depth, 0.0, wide, wide / 2.0, 0.0, 0.0, along)
    if work.operation == "bevel":
        return WitnessMark("face", depth, 0.0, face, face / 2.0, 0.0, face, along)
    lands = _lands(work, face)
    return WitnessMark("lands", depth, 0.0, face, face / 2.0, 0.0, face, along, lands)


def _band(work: FaceWork, depth: float, along: float) -> WitnessMark:
    assert work.wheel_radius_mm is not None
    face, outside = work.face, work.before.outside_mm
    edge = (0.0, face.corner_mm if outside == 0.0 else work.zero_face.at_edge_mm)
    start = edge if outside else face.start_yz_mm
    middle = math.dist(edge, work.zero_face.point(work.zero_relief.middle_mm))
    begins = math.dist(edge, start)
    if face.bulge is None:
        ends = begins + work.face_width_mm(outside)
    else:
        ends = math.dist(edge, face.surface(start[0], face.height_mm)[-1])
    lens = Lens(work.wheel_radius_mm, face.bulge_radius_mm)
    half = float(lens.chord_of_depth(depth)) / 2.0
    low, high = max(middle - half, begins), min(middle + half, ends)
    return WitnessMark("band", depth, low, high, middle, begins, ends, along)


def _lands(work: FaceWork, face_mm: float) -> tuple[float, float]:
    """Both lands of the face before they are taken down."""
    chord = float(chord_of_depth(work.section.wheel_radius_mm, work.before.relief_mm))
    middle = work.relief.middle_mm - work.before.outside_mm * math.tan(work.face.angle_rad)
    edge = middle - chord / 2.0
    return edge, face_mm - edge - chord
