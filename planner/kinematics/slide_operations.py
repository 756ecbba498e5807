"""Why bevels, lands or parallel lines cannot be ground along an edge that is followed."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.edge_curve import CurveEdge
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.edge_path import reach_inside_mm
from planner.kinematics.shape_refusals import flat_refusals, lean_allowed_mm
from planner.kinematics.slide_flats import FlatLeft, flat_left_at
from planner.kinematics.slide_lines import LinesLeft, lines_left_at
from planner.kinematics.slide_path import SlidePath
from planner.kinematics.slide_stations import Left, left_at
from planner.section.edge_course import (
    FacePlane,
    along_the_traverse,
    followed_course,
    path_name,
)
from planner.section.wheel_shape import half_reach_mm
from planner.section.work import FaceWork

_LOOKS = 241
"""Stations among which the worst is looked for."""

_ALIKE = 1e-6
"""Radii that differ by less are one."""

AlongEdge = Left | FlatLeft | LinesLeft
"""What is left at stations along the edge: of a relief in one piece, of a flat, of lines."""


class Stations(Protocol):
    """What any of these tells of its stations."""

    @property
    def x_mm(self) -> NDArray[np.float64]:
        """From the heel along the edge."""

    @property
    def heading_deg(self) -> NDArray[np.float64]:
        """How far the edge is turned there."""


def left_by(path: SlidePath, work: FaceWork, x_mm: NDArray[np.float64]) -> AlongEdge:
    """What the work leaves at stations, at its full depth. Shape: (n,)."""
    if work.in_lines:
        return lines_left_at(path, work, x_mm)
    flat = work.operation != "relief"
    return flat_left_at(path, work, x_mm) if flat else left_at(path, work, x_mm)


def left_all_along(path: SlidePath, work: FaceWork) -> AlongEdge:
    """From heel to tip, among many stations the anchor."""
    length = path.course.edge.length_mm
    places = np.append(np.linspace(0.0, length, _LOOKS), path.anchor_mm)
    return left_by(path, work, np.sort(places))


def left_at_told(path: SlidePath, work: FaceWork) -> AlongEdge:
    """At heel, quarter points, tip and anchor: the stations that are told."""
    length = path.course.edge.length_mm
    places = [*np.linspace(0.0, length, 5), path.anchor_mm]
    return left_by(path, work, np.unique(np.round(places, 9)))


def as_followed(work: FaceWork, path: SlidePath) -> FaceWork:
    """The work with its lines close enough for the sharpest that they leave along the edge."""
    left = left_all_along(path, work)
    if not isinstance(left, LinesLeft) or work.wheel_radius_mm is None:
        return work
    sharpest = float(left.radius_mm.min())
    return replace(work, sharpest_mm=sharpest) if sharpest < work.wheel_radius_mm - _ALIKE else work


def at_station(path: SlidePath, work: FaceWork, left: Stations, n: int) -> dict[str, Fact]:
    """What every refusal of a place along the edge says."""
    return {
        "path": path_name(path.course.edge),
        "face": work.face.face,
        "wheel": work.wheel.name,
        "x_mm": float(left.x_mm[n]),
        "heading_deg": float(left.heading_deg[n]),
    }


def flat_on_path_refusals(
    job: Job, machine: Machine, work: FaceWork, path: SlidePath, left: FlatLeft
) -> list[Refusal]:
    """Does a flat that keeps its direction leave the face that is wanted, and cover it?"""
    widest = math.sqrt(1.0 + float(left.aslant.max()) ** 2)
    found = flat_refusals(job, machine, work, path.frame, widest)
    # Beside a tilt that is too far off already, a lean would say the same again.
    worst, allowed = left.worst, lean_allowed_mm(job, work)
    off = float(left.off_mm[worst]) / (2.0 if work.operation == "lands" else 1.0)
    if off <= allowed or any(r.rule == "tilt-off-for-flat" for r in found):
        return found
    facts = at_station(path, work, left, worst)
    facts |= {
        "operation": work.operation,
        "lean_deg": float(left.lean_deg[worst]),
        "off_mm": off,
        "allowed_mm": allowed,
    }
    ways = [WayOut("turn-axis")] if path.turn is None else []
    ways += [WayOut("shorter-edge"), *_wider(job, work, off, allowed), WayOut("relief-alone")]
    return [*found, Refusal("flat-leans-on-path", facts, tuple(ways))]


def worst_leans(refusals: list[Refusal]) -> list[Refusal]:
    """Of the facets or turns of a face that lean too far the one that is furthest off, the rest as
    they are: each would say the same."""
    worst: dict[tuple[Fact, Fact], Refusal] = {}
    for one in refusals:
        if one.rule == "flat-leans-on-path":
            key = one.facts["face"], one.facts["operation"]
            if key not in worst or _off_mm(one) > _off_mm(worst[key]):
                worst[key] = one
    told = list(worst.values())
    return [r for r in refusals if r.rule != "flat-leans-on-path" or any(r is w for w in told)]


def _off_mm(refusal: Refusal) -> float:
    return float(refusal.facts["off_mm"])


def _wider(job: Job, work: FaceWork, off: float, allowed: float) -> list[WayOut]:
    """A tolerance that the lean is small enough for, where it alone decides."""
    bevel = next((o for o in job.operations or () if o.do == "bevel"), None)
    if work.operation != "bevel" or bevel is None or bevel.ridge_mm is not None:
        return []
    tolerance = math.ceil(100.0 * bevel.edge_thickness_tolerance_mm * off / allowed) / 100.0
    return [WayOut("edge-tolerance-for-lean", {"tolerance_mm": tolerance})]


def lines_on_path_refusals(work: FaceWork, path: SlidePath, left: LinesLeft) -> list[Refusal]:
    """Does every line touch its arc from within, and are the ridges low enough everywhere?"""
    unfit = np.nonzero(~left.fits)[0]
    if not len(unfit):
        return []
    facts = at_station(path, work, left, int(unfit[0]))
    facts["arc_mm"] = work.line_arc.radius_mm if work.line_arc else 0.0
    ways = [WayOut("smaller-wheel-follows"), WayOut("shorter-edge")]
    return [Refusal("lines-over-path", facts, tuple(ways))]


def reach_along_mm(job: Job, machine: Machine, work: FaceWork) -> float | None:
    """How far along the edge a wheel reaches at its deepest; None where it is as on a straight one.

    Of a flat that follows its edge the place counts where the edge is most hollow, and, where the
    wheel keeps its direction, how far its face reaches along the edge by lying aslant to it.
    """
    inside = reach_inside_mm(job, work)
    course = followed_course(job, machine)
    if course is None or work.operation == "relief":
        return inside
    plane = FacePlane(work.face.face, work.face.angle_rad, work.zero_face.at_edge_mm)
    s = np.linspace(0.0, course.edge.length_mm, _LOOKS)
    reach = inside
    if isinstance(job.edge, CurveEdge):
        ends = [(0.0, 0.0), (work.face.height_mm, 0.0)]
        bends = [course.bends_per_mm(s, plane, np.array(end)) for end in ends]
        most = float(np.nan_to_num(np.max(bends, axis=0), nan=math.inf).max())
        reach = half_reach_mm(work.wheel, work.deepest_mm, -most)
    elif reach is None:
        reach = half_reach_mm(work.wheel, work.deepest_mm, work.curvature_per_mm)
    if not math.isfinite(reach):
        return None
    if any(axis.role == "turn" for axis in machine.axes.values()):
        return reach
    along, _ = plane.directions(course.at(s))
    level, _ = plane.directions(along_the_traverse())
    aslant = np.abs(course.at(s).along @ level) / np.abs(along @ level)
    return reach + float(aslant.max()) * work.wheel.width_mm / 2.0


def turned_way(path: SlidePath) -> tuple[WayOut, ...]:
    """An arc may be turned under the wheel instead."""
    return (WayOut("turn-axis"),) if isinstance(path.course.edge, ArcEdge) else ()


def operation_refusals(job: Job, machine: Machine, work: FaceWork) -> list[Refusal]:
    """What is not planned along an edge that is followed."""
    facts: dict[str, Fact] = {"path": path_name(job.edge), "face": work.face.face}
    found = []
    if machine.fixture.row is not None:
        found.append(Refusal("row-on-path", facts, (WayOut("one-blade-a-clamping"),)))
    if work.wheel.contact == "platen":
        facts = facts | {"wheel": work.wheel.name}
        found.append(Refusal("platen-on-path", facts, (WayOut("flat-across"),)))
    return found
