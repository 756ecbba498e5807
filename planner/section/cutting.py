"""How a face will cut: laid on the work with the edge touching, and lowered onto its shoulder.

docs/how-it-will-cut.md has the formulas; the verdict's thresholds are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from planner.formulas.work_contact import (
    Rest,
    bridge,
    fits_in,
    gap_to_work,
    largest_gap,
    normal_under,
    surface_angle,
    turn_to_rest,
)
from planner.inputs.cutting import Cut
from planner.section.face_outline import (
    FaceOutline,
    rounded_over,
    section_faces,
)
from planner.section.target import Section

Verdict = Literal[
    "guided",
    "digs in",
    "slides off",
    "rides on the shoulder",
    "rides on the spine",
    "does not fit",
]

SMALLEST_ROUND_MM = 1.0
"""Rounds smaller than this are not looked at."""

_STATIONS = 2001  # along the bevel: the bearing is told to a two-thousandth of it
_TOUCHING_MM = 1e-6
_HALVINGS = 34  # of at most 1/mm: a radius of 100 mm to a thousandth


@dataclass(frozen=True)
class Work:
    """What the bevel is laid on."""

    curvature_per_mm: float
    """1/R in a hollow, 0 on flat work, -1/R on a round."""

    @property
    def kind(self) -> Literal["hollow", "flat", "round"]:
        """The trade's word for it."""
        if self.curvature_per_mm == 0:
            return "flat"
        return "hollow" if self.curvature_per_mm > 0 else "round"

    @property
    def radius_mm(self) -> float | None:
        """None for flat work."""
        return None if self.curvature_per_mm == 0 else 1 / abs(self.curvature_per_mm)


@dataclass(frozen=True)
class WorkFit:
    """How a face rests on one work, the edge touching it."""

    work: Work
    support_from_mm: float
    """From the edge to where the face first touches behind it; 0 where it lies on at the edge."""
    support_to_mm: float
    """From the edge to where it last touches."""
    angle_deg: float
    """Between face and work at the edge: so far the edge points into the work."""
    gap_mm: float
    """Largest between the bevel face and the work, the relief not counted."""
    gap_at_mm: float
    """Where that is, from the edge along the face."""
    relief_gap_mm: float
    """Largest with the relief."""
    bears_mm: float
    """From the edge to the last place where the face is within the give of the work."""
    bears_lost_mm: float
    """How much of the bevel, edge to shoulder, lies beyond that."""
    edge_off_mm: float
    """How far the edge stands off the work when the tool lies on its shoulder."""
    lift_deg: float
    """By how much it must be lifted from there until the edge engages."""
    verdict: Verdict


@dataclass(frozen=True)
class GuidedRange:
    """The curvatures of work over which a face is guided, all between the two."""

    least_per_mm: float
    most_per_mm: float

    def hollows_of(self, bowl_mm: tuple[float, float]) -> tuple[float, float] | None:
        """The part of a range of hollows, by radius, that is guided; None for none of it."""
        low, high = bowl_mm
        low = max(low, 1 / self.most_per_mm) if self.most_per_mm > 0 else math.inf
        high = min(high, 1 / self.least_per_mm) if self.least_per_mm > 0 else high
        return (low, high) if low <= high else None


@dataclass(frozen=True)
class FaceFit:
    """One face on all the work asked for."""

    outline: FaceOutline
    fits: tuple[WorkFit, ...]
    guided: GuidedRange | None
    """None where it is guided on nothing."""
    rounded: RoundedFit | None
    """None where the face cannot be rounded so."""


@dataclass(frozen=True)
class RoundedFit:
    """A face rounded over by strop or stone, on flat work."""

    reach_mm: float
    radius_mm: float
    steeper_deg: float
    """How much steeper it meets the edge than before."""
    edge_back_mm: float
    fit: WorkFit


def works_to_show(cut: Cut) -> list[Work]:
    """Flat work, hollows spread over the range asked for, and a round as large as the largest."""
    low, high = cut.bowl_mm
    radii = [low * (high / low) ** (i / 3) for i in (3, 2, 1, 0)]
    return [Work(-1 / high), Work(0.0), *(Work(1 / r) for r in radii)]


def rests(section: Section, face: str) -> bool:
    """Whether a face rests on the work: not the inside of a hook or a gouge without a bevel.

    Such a tool rests on its outside. Of the inside only a bevel is ever laid on.
    """
    inside = section.form in ("hook", "gouge") and face == "B"
    return not inside or section.face(face).edge_angle_deg > 0.0


def section_fits(section: Section, cut: Cut) -> tuple[FaceFit, ...]:
    """The faces of a finished section that rest on the work, on that of the job."""
    faces, plain = section_faces(section)
    included = sum(f.direction_rad for f in faces)
    works = works_to_show(cut)
    found: list[FaceFit] = []
    for face, bare in zip(faces, plain, strict=True):
        if not rests(section, face.face):
            continue
        if found and face.is_like(faces[0]):
            found.append(replace(found[0], outline=face))
            continue
        sharp = section.edge_thickness_mm == 0
        found.append(
            FaceFit(
                outline=face,
                fits=tuple(rest_on(face, bare, work, cut) for work in works),
                guided=guided_range(face, cut),
                rounded=_rounded_fit(bare, included, cut) if sharp else None,
            )
        )
    return tuple(found)


def rest_on(face: FaceOutline, bare: FaceOutline, work: Work, cut: Cut) -> WorkFit:
    """Lay a face on the work; ``bare`` is the same face without its relief, in the same frame."""
    curvature = work.curvature_per_mm
    if not fits_in(face.x_mm, face.y_mm, curvature):
        return _does_not_fit(work)
    rest = turn_to_rest(face.x_mm, face.y_mm, curvature)
    normal = (math.sin(rest.turn_rad), math.cos(rest.turn_rad))
    gap = largest_gap(*bare.bevel(), normal, curvature)
    fits_closely = gap.gap_mm < _TOUCHING_MM
    edge_off, lift = _lift(face, curvature, rest.turn_rad)
    bears = _bears_mm(bare, normal, curvature, cut.give_mm)
    angle, lift_deg = math.degrees(rest.turn_rad), math.degrees(lift)
    return WorkFit(
        work=work,
        support_from_mm=rest.nearest_mm,
        support_to_mm=rest.farthest_mm,
        angle_deg=angle,
        gap_mm=max(gap.gap_mm, 0.0),
        gap_at_mm=0.0 if fits_closely else gap.x_mm,
        relief_gap_mm=largest_gap(*face.bevel(), normal, curvature).gap_mm,
        bears_mm=bears,
        bears_lost_mm=max(bare.shoulder_mm - bears, 0.0),
        edge_off_mm=edge_off,
        lift_deg=lift_deg,
        verdict=verdict(angle, lift_deg, cut, held_by=_held_by(face, rest)),
    )


def verdict(angle_deg: float, lift_deg: float, cut: Cut, *, held_by: str) -> Verdict:
    """The trade's word for how a bevel behaves. Thresholds: common practice, no source.

    * digs in: the edge points into the work by more than ``cut.digs_in``, or by more than
      ``cut.guided`` with nothing but the bevel to hold it;
    * rides on the shoulder: by more than ``cut.guided``, edge and shoulder alone touching;
    * rides on the spine: edge and spine alone touch, so the bevel guides nothing;
    * slides off: laid on its shoulder the edge is off the work, and engages only when the tool is
      lifted by more than ``cut.lift``;
    * guided: none of these.
    """
    if angle_deg > cut.digs_in_deg:
        return "digs in"
    if held_by == "spine":
        return "rides on the spine"
    if angle_deg > cut.guided_deg:
        return "rides on the shoulder" if held_by == "shoulder" else "digs in"
    return "slides off" if lift_deg > cut.lift_deg else "guided"


def _held_by(face: FaceOutline, rest: Rest) -> str:
    """The last that touches: the bevel, its shoulder, or the spine (or flank) behind it."""
    beyond = rest.farthest_mm - face.shoulder_mm
    if beyond > _TOUCHING_MM:
        return "spine"
    return "shoulder" if beyond > -_TOUCHING_MM else "bevel"


def guided_range(face: FaceOutline, cut: Cut) -> GuidedRange | None:
    """From which curvature to which a face is guided.

    The angle grows and the lift falls with the curvature, and the spine once touching stays so: it
    is one range, found by halving.
    """
    reach = float(np.hypot(face.x_mm, face.y_mm).max())
    low, high = -1 / SMALLEST_ROUND_MM, 2 / reach * (1 - 1e-12)

    def angle_keeps(curvature: float) -> bool:
        rest = turn_to_rest(face.x_mm, face.y_mm, curvature)
        held = _held_by(face, rest) != "spine"
        return held and math.degrees(rest.turn_rad) <= cut.guided_deg

    def lift_is_too_much(curvature: float) -> bool:
        turn = turn_to_rest(face.x_mm, face.y_mm, curvature).turn_rad
        return math.degrees(_lift(face, curvature, turn)[1]) > cut.lift_deg

    most = _last(angle_keeps, low, high)
    least = _last(lift_is_too_much, low, high)
    if most is None:
        return None
    least = low if least is None else least
    return GuidedRange(least, most) if least < most else None


def _last(holds: Callable[[float], bool], low: float, high: float) -> float | None:
    """The end of the curvatures from ``low`` on over which something holds."""
    if not holds(low):
        return None
    if holds(high):
        return high
    # Flat work is tried by itself: it is what a range most often ends or begins with.
    if low < 0.0 < high:
        low, high = (0.0, high) if holds(0.0) else (low, 0.0)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _lift(face: FaceOutline, curvature: float, edge_turn_rad: float) -> tuple[float, float]:
    """Edge's distance from the work with the tool on its shoulder, and the turn to engage it."""
    place, normal = _on_shoulder(face, curvature)
    x, y = -place[0], -place[1]
    edge_off = max(float(gap_to_work(x, y, normal, curvature)), 0.0)
    in_centre = abs(edge_off * curvature - 1.0) < 1e-6  # the work is alike on all sides of it
    under = normal if in_centre else normal_under(x, y, normal, curvature)
    return edge_off, max(edge_turn_rad - math.atan2(under[0], under[1]), 0.0)


def _on_shoulder(
    face: FaceOutline, curvature: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """A point that touches with the tool as low as its bevel lets it lie, and the normal there."""
    x, y, at = face.x_mm, face.y_mm, face.shoulder
    from_shoulder, is_arc = face.back_from_shoulder
    if curvature >= 0:
        pair = bridge(x, y, at, curvature)
        if pair is not None and not (is_arc and pair == (at - 1, at)):
            i, j = pair
            dx, dy = float(x[j] - x[i]), float(y[j] - y[i])
            angle = float(surface_angle(math.hypot(dx, dy), curvature)) - math.atan2(dy, dx)
            return (float(x[i]), float(y[i])), (math.sin(angle), math.cos(angle))
    # The shoulder alone: the tool turns about it, edge down, until the face touches.
    sine, cosine = math.sin(from_shoulder), math.cos(from_shoulder)
    px, py = x[at] - x[at::-1], y[at::-1] - y[at]
    turn = (
        turn_to_rest(px * cosine + py * sine, py * cosine - px * sine, curvature).turn_rad
        - from_shoulder
    )
    return (float(x[at]), float(y[at])), (-math.sin(turn), math.cos(turn))


def _bears_mm(
    bare: FaceOutline, normal: tuple[float, float], curvature: float, give_mm: float
) -> float:
    """Farthest place of the bevel that is within the give of the work."""
    x, y = bare.bevel()
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    places = np.union1d(np.linspace(0.0, along[-1], _STATIONS), along)
    px, py = np.interp(places, along, x), np.interp(places, along, y)
    near = np.asarray(gap_to_work(px, py, normal, curvature)) <= give_mm
    last = int(np.flatnonzero(near)[-1])
    return math.hypot(px[last], py[last])


def _rounded_fit(bare: FaceOutline, included_rad: float, cut: Cut) -> RoundedFit | None:
    asked = cut.rounded_over
    face = rounded_over(bare, included_rad, asked.reach_mm, asked.radius_mm)
    if face is None:
        return None
    return RoundedFit(
        reach_mm=asked.reach_mm,
        radius_mm=asked.radius_mm,
        steeper_deg=math.degrees(face.direction_rad - bare.direction_rad),
        edge_back_mm=math.dist(face.edge_yz_mm, bare.edge_yz_mm),
        fit=rest_on(face, face, Work(0.0), cut),
    )


def _does_not_fit(work: Work) -> WorkFit:
    return WorkFit(work, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, "does not fit")
