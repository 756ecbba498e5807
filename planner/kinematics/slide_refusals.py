"""Why an edge cannot be ground by a wheel that follows it without turning."""

from __future__ import annotations

import math

import numpy as np

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.edge_path import DIG_SHARE, corner_dig_mm, room_refusals_of_arc
from planner.kinematics.row import Row
from planner.kinematics.slide_blocks import SlideBlocks
from planner.kinematics.slide_path import SlidePath
from planner.kinematics.slide_stations import Left, all_along
from planner.kinematics.touch_frame import axis_letter
from planner.section.edge_course import path_name
from planner.section.spread import depth_tolerance_mm
from planner.section.wheel_shape import widest_chord_mm
from planner.section.work import FaceWork

MOST_ROUND_DEG = 85.0
"""Further round an arc the infeed no longer leads to the steel. Common practice, no source."""

_CROSS_MM = 1e-6
"""A cross that would move less is not needed."""


def followed_refusals(
    job: Job, machine: Machine, work: FaceWork, path: SlidePath, row: Row
) -> list[Refusal]:
    """Every way in which the wheel cannot follow this edge, or leaves other lands than asked."""
    found = _unplanned_refusals(job, machine, work)
    edge = path.course.edge
    if isinstance(edge, ArcEdge):
        # A spindle that lies along the traverse is lowest over the anchor, in the arc's middle.
        found += room_refusals_of_arc(work, edge, edge.angle_deg / 2)
        found += _round_refusals(path, work, row)
    if found:
        return found
    found += _cross_refusals(machine, path, work, row)
    if isinstance(edge, ArcEdge) and work.face.face == "B":
        found += _lift_refusals(machine, path, work)
    left = all_along(path, work)
    unfit = np.nonzero(np.isnan(left.radius_mm))[0]
    if len(unfit):
        facts = _at(path, work, left, int(unfit[0]))
        ways = (WayOut("smaller-wheel-follows"), WayOut("larger-arc"))
        return [*found, Refusal("wheel-over-path", facts, ways)]
    return [*found, *_rim_refusals(job, path, work, left), *_land_refusals(job, path, work, left)]


def _unplanned_refusals(job: Job, machine: Machine, work: FaceWork) -> list[Refusal]:
    facts: dict[str, Fact] = {"path": path_name(job.edge), "face": work.face.face}
    found = []
    if machine.fixture.row is not None:
        found.append(Refusal("row-on-path", facts, (WayOut("one-blade-a-clamping"),)))
    if work.in_lines or work.operation != "relief":
        found.append(Refusal("relief-alone-on-path", facts, (WayOut("relief-alone"),)))
    return found


def _round_refusals(path: SlidePath, work: FaceWork, row: Row) -> list[Refusal]:
    ends = path.course.heading_rad(path.length_mm(np.array(row.ends_mm)))
    end = math.degrees(float(np.abs(ends).max()))
    if end < MOST_ROUND_DEG:
        return []
    facts: dict[str, Fact] = {
        "path": path_name(path.course.edge),
        "face": work.face.face,
        "end_deg": end,
        "most_deg": MOST_ROUND_DEG,
    }
    return [Refusal("path-too-far-round", facts, (WayOut("turn-axis"), WayOut("shorter-edge")))]


def _cross_refusals(machine: Machine, path: SlidePath, work: FaceWork, row: Row) -> list[Refusal]:
    if axis_letter(machine, "cross") is not None:
        return []
    ends = np.linspace(*row.ends_mm, 101)
    moved = float(np.abs(path.at_depth(path.length_mm(ends), work.depth_mm)[:, 1]).max())
    if moved <= _CROSS_MM:
        return []
    facts: dict[str, Fact] = {
        "path": path_name(path.course.edge),
        "face": work.face.face,
        "cross_mm": moved,
    }
    return [Refusal("path-needs-cross", facts, (WayOut("cross-axis"), *_turned(path)))]


def _lift_refusals(machine: Machine, path: SlidePath, work: FaceWork) -> list[Refusal]:
    """Lifted twice over, for the air run, the wheel must not reach the other side of the arc."""
    edge = path.course.edge
    assert isinstance(edge, ArcEdge)
    lift = 2.0 * machine.fixture.clearance_mm + work.depth_mm
    room = 2.0 * (edge.radius_mm - work.face.flank_mm - path.wheel.radius_mm)
    if lift < room:
        return []
    facts: dict[str, Fact] = {
        "path": path_name(edge),
        "wheel": work.wheel.name,
        "lift_mm": lift,
        "room_mm": room,
    }
    return [Refusal("no-room-to-lift", facts, (WayOut("less-clearance"), *_turned(path)))]


def _rim_refusals(job: Job, path: SlidePath, work: FaceWork, left: Left) -> list[Refusal]:
    width = work.wheel.width_mm
    if math.isfinite(path.wheel.rim_radius_mm):
        worst = int(np.argmax(left.on_rim_mm))
        half = widest_chord_mm(work.wheel) / 2 if path.wheel.across_edge else width / 2
        if left.on_rim_mm[worst] <= half:
            return []
        facts = _at(path, work, left, worst)
        facts |= {"width_mm": width, "needed_mm": 2.0 * float(left.on_rim_mm[worst])}
        ways = (WayOut("wider-rim"), WayOut("shorter-edge"), *_turned(path))
        return [Refusal("contact-off-rim", facts, ways)]
    deepest = path.point_yz_mm(work.depth_mm)
    bends = path.course.bends_per_mm(left.x_mm, path.plane, deepest)
    digs = left.digs_mm.copy()
    for n in np.nonzero(bends > 0.0)[0]:
        dug = corner_dig_mm(1.0 / float(bends[n]), width)
        digs[n] += dug if math.isfinite(dug) else width / 2
    worst = int(np.argmax(digs))
    allowed = DIG_SHARE * depth_tolerance_mm(job, work)
    if digs[worst] <= allowed:
        return []
    facts = _at(path, work, left, worst)
    facts |= {"width_mm": width, "dig_mm": float(digs[worst]), "allowed_mm": allowed}
    ways = (WayOut("form-across"), WayOut("shorter-edge"), *_turned(path))
    return [Refusal("rim-digs-on-path", facts, ways)]


def _land_refusals(job: Job, path: SlidePath, work: FaceWork, left: Left) -> list[Refusal]:
    tolerance = job.relief.land_tolerance_mm
    worst = left.worst
    error = float(left.land_error_mm[worst])
    if abs(error) <= tolerance:
        return []
    facts = _at(path, work, left, worst)
    facts |= {
        "radius_mm": float(left.radius_mm[worst]),
        "square_radius_mm": work.section.wheel_radius_mm,
        "error_mm": error,
        "land_tolerance_mm": tolerance,
    }
    like = {"radius_mm": path.wheel.radius_mm}
    ways = (WayOut("rim-as-wheel", like), WayOut("shorter-edge"), *_turned(path))
    return [Refusal("path-lands", facts, ways)]


def block_refusals(job: Job, work: FaceWork, blocks: SlideBlocks, step_mm: float) -> list[Refusal]:
    """Are the axes' steps fine enough to follow the edge? ``step_mm`` is one of the infeed."""
    allowed = DIG_SHARE * depth_tolerance_mm(job, work)
    finish = work.wheel.infeed.finish_mm - 2.0 * blocks.rounding_mm
    if blocks.rounding_mm <= allowed and finish >= step_mm * (1 - 1e-6):
        return []
    facts: dict[str, Fact] = {
        "path": path_name(job.edge),
        "face": work.face.face,
        "rounding_mm": blocks.rounding_mm,
        "allowed_mm": allowed,
        "finish_mm": work.wheel.infeed.finish_mm,
    }
    return [Refusal("steps-too-coarse-for-path", facts, (WayOut("finer-axes"),))]


def _at(path: SlidePath, work: FaceWork, left: Left, n: int) -> dict[str, Fact]:
    return {
        "path": path_name(path.course.edge),
        "face": work.face.face,
        "wheel": work.wheel.name,
        "x_mm": float(left.x_mm[n]),
        "heading_deg": float(left.heading_deg[n]),
    }


def _turned(path: SlidePath) -> tuple[WayOut, ...]:
    """An arc may be turned under the wheel instead."""
    return (WayOut("turn-axis"),) if isinstance(path.course.edge, ArcEdge) else ()
