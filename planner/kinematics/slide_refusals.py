"""Why an edge cannot be ground by a wheel that follows it without turning."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.edge_path import (
    DIG_SHARE,
    corner_dig_mm,
    inside_radius_mm,
    room_refusals_of_arc,
)
from planner.kinematics.row import Row
from planner.kinematics.shape_refusals import flat_refusals
from planner.kinematics.slide_blocks import SlideBlocks
from planner.kinematics.slide_flats import FlatLeft
from planner.kinematics.slide_lines import LinesLeft
from planner.kinematics.slide_operations import (
    at_station,
    flat_on_path_refusals,
    left_all_along,
    lines_on_path_refusals,
    operation_refusals,
    turned_way,
)
from planner.kinematics.slide_path import SlidePath
from planner.kinematics.slide_stations import Left
from planner.kinematics.touch_frame import axis_letter
from planner.section.edge_course import path_name
from planner.section.spread import depth_tolerance_mm
from planner.section.wheel_shape import is_round, widest_chord_mm
from planner.section.work import FaceWork

MOST_ROUND_DEG = 85.0
"""Further round an arc the infeed no longer leads to the steel. Common practice, no source."""

_LOOKS = 401
"""Places of a pass, and of a rim, at which a lifted wheel is looked at."""

_CROSS_MM = 1e-6
"""A cross that would move less is not needed."""


def followed_refusals(
    job: Job, machine: Machine, work: FaceWork, path: SlidePath, row: Row
) -> list[Refusal]:
    """Every way in which the wheel cannot follow this edge, or leaves other lands than asked."""
    found = operation_refusals(job, machine, work)
    if work.operation != "relief" and not work.in_lines and is_round(work.wheel):
        return [*found, *flat_refusals(job, machine, work, path.frame)]
    edge = path.course.edge
    if isinstance(edge, ArcEdge):
        # A spindle that lies along the traverse is lowest over the anchor, in the arc's middle.
        found += room_refusals_of_arc(work, edge, edge.angle_deg / 2)
        # A wheel without room inside has no reach there, so nothing to end its run-off by.
        found += [] if found else _round_refusals(path, work, row)
    if found:
        return found
    found += _cross_refusals(machine, path, work, row)
    if isinstance(edge, ArcEdge) and work.face.face == "B":
        found += _lift_refusals(machine, path, edge, work, row)
    left = left_all_along(path, work)
    if isinstance(left, LinesLeft):
        found += lines_on_path_refusals(work, path, left)
        return [*found, *_rim_refusals(job, path, work, left)]
    unfit = np.nonzero(~left.fits)[0]
    if len(unfit):
        facts = at_station(path, work, left, int(unfit[0]))
        arc = isinstance(edge, ArcEdge)
        ways = (
            WayOut("smaller-wheel-follows"),
            WayOut("larger-arc" if arc else "gentler-hollow"),
        )
        return [*found, Refusal("wheel-over-path", facts, ways)]
    if isinstance(left, FlatLeft):
        return [*found, *flat_on_path_refusals(job, machine, work, path, left)]
    return [*found, *_rim_refusals(job, path, work, left), *_land_refusals(job, path, work, left)]


def wheel_refusals(
    job: Job, machine: Machine, work: FaceWork, path: SlidePath, row: Row, left: Left
) -> list[Refusal]:
    """Why a wheel of this size does not fit an edge that is followed, its lands apart.

    ``left`` is what it leaves at the stations that are looked at.
    """
    edge, found = path.course.edge, []
    if isinstance(edge, ArcEdge):
        found += room_refusals_of_arc(work, edge, edge.angle_deg / 2)
        if work.face.face == "B" and not found:
            found += _lift_refusals(machine, path, edge, work, row)
    unfit = np.nonzero(~left.fits)[0]
    if len(unfit):
        return [*found, Refusal("wheel-over-path", at_station(path, work, left, int(unfit[0])))]
    return [*found, *_rim_refusals(job, path, work, left)]


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
    # The same of each face and wheel, but for how far: so it is told once.
    facts: dict[str, Fact] = {"path": path_name(path.course.edge)}
    return [Refusal("path-needs-cross", facts, (WayOut("cross-axis"), *turned_way(path)))]


def _lift_refusals(
    machine: Machine, path: SlidePath, edge: ArcEdge, work: FaceWork, row: Row
) -> list[Refusal]:
    """Lifted twice over, for the air run, the wheel must not reach the other side of the arc."""
    lift = 2.0 * machine.fixture.clearance_mm + work.depth_mm
    inside, half = inside_radius_mm(edge, work), edge.angle_deg / 2
    wheel = path.wheel
    if wheel.across_edge:
        # As if the arc went all round. Its axis leans to that of the arc: an ellipse in the arc's
        # plane, longer by 1/cos.
        room = 2.0 * (inside - wheel.radius_mm / math.cos(work.face.angle_rad)) - lift
    else:
        rim = wheel.rim_radius_mm
        turned = path.course.heading_rad(path.length_mm(np.linspace(*row.ends_mm, _LOOKS)))
        reach = min(rim, work.wheel.width_mm / 2)
        room = least_over_arc_mm(inside, half, turned, rim, reach, lift)
    if room > 0.0:
        return []
    facts: dict[str, Fact] = {
        "path": path_name(edge),
        "wheel": work.wheel.name,
        "lift_mm": lift,
        "meets_mm": -room,
    }
    return [Refusal("no-room-to-lift", facts, (WayOut("less-clearance"), *turned_way(path)))]


def least_over_arc_mm(
    inside_mm: float,
    half_deg: float,
    turned_rad: NDArray[np.float64],
    rim_mm: float,
    reach_mm: float,
    lift_mm: float,
) -> float:
    r"""How far above the inside of an arc a rim is, lifted off it along its normal.

    .. math:: z - (\rho - \sqrt{\rho^2 - x^2}), \quad |x| \le \rho \sin\theta

    In the plane of the arc: ρ its inside, θ half of its angle, below half a turn, so that from
    above it is open everywhere and all of a wheel that stands over its rim is over the steel too.
    The rim is round to ``rim_mm``, or flat where that is infinite, and goes ``reach_mm`` to either
    side of its middle. ``turned_rad`` are its places, from the middle of the arc. Below 0 it meets
    the steel; infinite where it is beside all of it. Source: circle and right triangle.
    """
    side = np.linspace(-1.0, 1.0, _LOOKS) * reach_mm
    rise = np.zeros_like(side)
    if math.isfinite(rim_mm):
        rise = rim_mm - np.sqrt(np.maximum(rim_mm * rim_mm - side * side, 0.0))
    # The rim keeps its direction: its lowest line stands its own radius under its middle.
    over = lift_mm + (rim_mm if math.isfinite(rim_mm) else 0.0)
    sine, cosine = np.sin(turned_rad)[:, None], np.cos(turned_rad)[:, None]
    x = (inside_mm - over) * sine + side
    z = inside_mm - (inside_mm - over) * cosine - (over - lift_mm) + rise
    steel = np.abs(x) <= inside_mm * math.sin(math.radians(half_deg))
    if not steel.any():
        return math.inf
    ground = inside_mm - np.sqrt(inside_mm * inside_mm - x[steel] ** 2)
    return float((z[steel] - ground).min())


def _rim_refusals(
    job: Job, path: SlidePath, work: FaceWork, left: Left | LinesLeft
) -> list[Refusal]:
    width = work.wheel.width_mm
    if math.isfinite(path.wheel.rim_radius_mm):
        worst = int(np.argmax(left.on_rim_mm))
        half = widest_chord_mm(work.wheel) / 2 if path.wheel.across_edge else width / 2
        if left.on_rim_mm[worst] <= half:
            return []
        facts = at_station(path, work, left, worst)
        facts |= {"width_mm": width, "needed_mm": 2.0 * float(left.on_rim_mm[worst])}
        ways = (WayOut("wider-rim"), WayOut("shorter-edge"), *turned_way(path))
        return [Refusal("contact-off-rim", facts, ways)]
    deepest = path.point_yz_mm(work.depth_mm)
    bends = path.course.bends_per_mm(left.x_mm, path.plane, deepest)
    hollow = np.zeros_like(left.digs_mm)
    for n in np.nonzero(bends > 0.0)[0]:
        dug = corner_dig_mm(1.0 / float(bends[n]), width)
        hollow[n] = dug if math.isfinite(dug) else width / 2
    digs = left.digs_mm + hollow
    worst = int(np.argmax(digs))
    allowed = DIG_SHARE * depth_tolerance_mm(job, work)
    if digs[worst] <= allowed:
        return []
    facts = at_station(path, work, left, worst)
    facts |= {"width_mm": width, "dig_mm": float(digs[worst]), "allowed_mm": allowed}
    if hollow[worst] > left.digs_mm[worst]:
        facts["bend_mm"] = radius = 1.0 / float(bends[worst])
        most = min(allowed, radius)
        narrow = math.floor(200.0 * math.sqrt(most * (2.0 * radius - most))) / 100.0
        rim = WayOut("narrower-rim", {"width_mm": narrow})
        return [Refusal("rim-digs-in-hollow", facts, (rim, WayOut("form-across")))]
    ways = (WayOut("form-across"), WayOut("shorter-edge"), *turned_way(path))
    return [Refusal("rim-digs-on-path", facts, ways)]


def _land_refusals(job: Job, path: SlidePath, work: FaceWork, left: Left) -> list[Refusal]:
    tolerance = job.relief.land_tolerance_mm
    worst = left.worst
    error = float(left.land_error_mm[worst])
    if abs(error) <= tolerance:
        return []
    facts = at_station(path, work, left, worst)
    facts |= {
        "radius_mm": float(left.radius_mm[worst]),
        "square_radius_mm": work.section.wheel_radius_mm,
        "error_mm": error,
        "land_tolerance_mm": tolerance,
    }
    ways = (*_ball(path, work), WayOut("shorter-edge"), *turned_way(path))
    return [Refusal("path-lands", facts, ways)]


def _ball(path: SlidePath, work: FaceWork) -> tuple[WayOut, ...]:
    """A rim as round as the wheel itself, where one fits."""
    edge, radius = path.course.edge, path.wheel.radius_mm
    if (
        isinstance(edge, ArcEdge)
        and work.face.face == "B"
        and radius > inside_radius_mm(edge, work)
    ):
        return ()
    rim = path.wheel.across_edge
    return (WayOut("rim-as-wheel" if rim else "crown-as-wheel", {"radius_mm": radius}),)


def block_refusals(job: Job, work: FaceWork, blocks: SlideBlocks, step_mm: float) -> list[Refusal]:
    """Are the axes' steps fine enough to follow the edge? ``step_mm`` is one of the infeed."""
    allowed = DIG_SHARE * depth_tolerance_mm(job, work)
    finish = work.wheel.infeed.finish_mm - 2.0 * blocks.rounding_mm
    where: dict[str, Fact] = {"path": path_name(job.edge), "face": work.face.face}
    finer, found = (WayOut("finer-axes"),), []
    if blocks.rounding_mm > allowed or finish < step_mm * (1 - 1e-6):
        facts = where | {
            "rounding_mm": blocks.rounding_mm,
            "allowed_mm": allowed,
            "finish_mm": work.wheel.infeed.finish_mm,
        }
        found.append(Refusal("steps-too-coarse-for-path", facts, finer))
    of_land = DIG_SHARE * job.relief.land_tolerance_mm
    if blocks.beside_mm > of_land:
        facts = where | {"beside_mm": blocks.beside_mm, "allowed_mm": of_land}
        found.append(Refusal("steps-too-coarse-for-lands", facts, finer))
    return found
