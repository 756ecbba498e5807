"""How an edge curves in the plane of the blade, and how exact its points must be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from planner.inputs.edge_curve import CurveEdge

if TYPE_CHECKING:
    from planner.section.spread import FaceSpread
    from planner.section.target import Section

_LOOKS = 2001
_STRAIGHT_PER_MM = 1e-6
"""A place that bends less counts neither as belly nor as hollow."""


class Bend(NamedTuple):
    """A place of the edge, and how it bends there."""

    radius_mm: float
    x_mm: float
    """Along the edge from the heel."""


class CurveShape(NamedTuple):
    """What of a curve shows whether it is the one that was meant."""

    belly: Bend | None
    """The tightest; None where it bellies nowhere."""
    hollow: Bend | None
    inflections: int


def curve_shape(edge: CurveEdge) -> CurveShape:
    """The tightest places of a curve, and how often it goes over from belly to hollow or back."""
    places = np.linspace(0.0, edge.length_mm, _LOOKS)
    bends = np.asarray(edge.at(places).curvature_per_mm)
    sides = np.sign(bends[np.abs(bends) > _STRAIGHT_PER_MM])

    def tightest(side: float) -> Bend | None:
        n = int(np.argmax(side * bends))
        if side * bends[n] <= _STRAIGHT_PER_MM:
            return None
        return Bend(1.0 / abs(float(bends[n])), float(places[n]))

    return CurveShape(tightest(1.0), tightest(-1.0), int(np.count_nonzero(np.diff(sides))))


def curve_rows(
    edge: object, section: Section, spreads: Sequence[FaceSpread]
) -> list[tuple[str, str]]:
    """Rows for the screen; none for another edge.

    A point that is off by e across the edge takes the face with it, e sin β along its normal.
    """
    if not isinstance(edge, CurveEdge):
        return []
    shape = curve_shape(edge)
    rows = [
        ("radius of the tightest belly", _bend(shape.belly)),
        ("of the tightest hollow", _bend(shape.hollow)),
    ]
    rows.append(("from belly to hollow or back", times(shape.inflections)))
    if edge.points_mm is not None:
        allowed = [point_tolerance_mm(section, spread) for spread in spreads]
        rows.append(("each point exact to, by the depth", f"±{min(allowed):.3f} mm"))
    return rows


def point_tolerance_mm(section: Section, spread: FaceSpread) -> float:
    """How far a point of the edge may lie beside the blade's own, for the depth of a face."""
    sine = math.sin(section.face(spread.face).angle_rad)
    return spread.depth_tolerance_mm / sine if sine > 0.0 else math.inf


def shape_words(edge: CurveEdge) -> str:
    """The same in a sentence."""
    shape = curve_shape(edge)
    parts = [
        f"tightest {name} of radius {_bend(bend)}"
        for name, bend in (("belly", shape.belly), ("hollow", shape.hollow))
        if bend is not None
    ]
    return ", ".join([*parts, f"from belly to hollow or back {times(shape.inflections)}"])


def times(count: int) -> str:
    """How often.

    >>> times(0), times(1), times(8)
    ('never', 'once', '8 times')
    """
    return {0: "never", 1: "once"}.get(count, f"{count} times")


def _bend(bend: Bend | None) -> str:
    if bend is None:
        return "none"
    return f"{bend.radius_mm:.1f} mm, {bend.x_mm:.1f} mm from the heel"
