"""An edge along an arc: the blade turns about the arc's axis, and the wheel stays over it.

Every station of the edge comes to the same place under the wheel, so the set-up is planned as that
of a straight edge as long as the arc, on a traverse that runs along it; the programs then turn the
blade by the angle of each length (docs/edge-paths.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.axes import Axis, AxisLetter, LinearAxis, RotaryAxis
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.kinematics.room import Room
from planner.kinematics.settings import TILT_REACH_DEG
from planner.kinematics.touch_frame import held_angle_deg
from planner.section.spread import depth_tolerance_mm
from planner.section.wheel_shape import crown_mm, crown_rise_mm, half_reach_mm
from planner.section.work import FaceWork


@dataclass(frozen=True)
class EdgeMotion:
    """How the turn takes the edge under the wheel."""

    turn: AxisLetter
    traverse: AxisLetter
    """The straight axis that stands still, the wheel's middle plane over the turn's axis."""
    mm_per_deg: float
    """Length of the edge itself for a degree."""
    angle_deg: float
    """Of the arc, which every pass turns through."""
    sign: float
    """1 outside; inside the blade lies on the other side of the axis, and the same turn takes it
    the other way: -1."""
    travel_deg: tuple[float, float]
    zero_at_deg: float
    inverted: bool

    def turn_deg(self, along_mm: float) -> float:
        """The turn for a place along the edge, as the traverse of a straight edge counts it."""
        return self.sign * along_mm / self.mm_per_deg


def on_turn(rooms: list[Room], motion: EdgeMotion | None) -> list[Room]:
    """The rooms of a set-up, that along an arc as an angle of the turn."""
    if motion is None:
        return rooms
    return [_as_angle(room, motion) if room.role == "traverse" else room for room in rooms]


def _as_angle(room: Room, motion: EdgeMotion) -> Room:
    sign = -motion.sign if motion.inverted else motion.sign
    low, high = sorted(sign * v / motion.mm_per_deg for v in (room.low, room.high))
    return replace(
        room,
        role="turn",
        unit="deg",
        low=low,
        high=high,
        travel=motion.travel_deg,
        zero_at=motion.zero_at_deg,
    )


def edge_motion(job: Job, machine: Machine, face: str) -> EdgeMotion | None:
    """The motion of an edge along an arc; None for a straight one, or without a turn axis."""
    edge = job.edge
    turn = next((k for k, a in machine.axes.items() if a.role == "turn"), None)
    if not isinstance(edge, ArcEdge) or turn is None:
        return None
    axis = machine.axes[turn]
    assert isinstance(axis, RotaryAxis)
    traverse = next(k for k, a in machine.axes.items() if a.role == "traverse")
    per_deg = math.radians(edge.radius_mm)
    return EdgeMotion(
        turn=turn,
        traverse=traverse,
        mm_per_deg=per_deg,
        angle_deg=edge.angle_deg,
        sign=1.0 if face == "A" else -1.0,
        travel_deg=axis.travel_deg,
        zero_at_deg=axis.zero_at_deg,
        inverted=axis.invert,
    )


def along_the_edge(machine: Machine, motion: EdgeMotion | None) -> Machine:
    """The machine as the edge sees it: its turn as a traverse that runs along the arc."""
    if motion is None:
        return machine
    turn = machine.axes[motion.turn]
    assert isinstance(turn, RotaryAxis)
    # Both ends of a pass are rounded: its angle as written may be a last decimal more.
    written = motion.angle_deg / (motion.angle_deg + 10.0**-machine.controller.rotary_decimals)
    ends = sorted(motion.sign * end * motion.mm_per_deg for end in turn.travel_deg)
    along = LinearAxis.model_construct(
        role="traverse",
        travel_mm=(ends[0], ends[1]),
        max_feed_mm_min=turn.max_feed_deg_min * motion.mm_per_deg * written,
        acceleration_mm_s2=turn.acceleration_deg_s2 * motion.mm_per_deg,
        resolution_mm=turn.resolution_deg * motion.mm_per_deg,
        repeatability_mm=turn.repeatability_deg * motion.mm_per_deg,
        invert=False,
        zero_at_mm=None,
    )
    axes: dict[AxisLetter, Axis] = {
        letter: along if letter == motion.turn else axis
        for letter, axis in machine.axes.items()
        if letter != motion.traverse
    }
    return machine.model_copy(update={"axes": axes})


DIG_SHARE = 0.1
"""Share of the depth tolerance that the corners of a flat rim may dig deeper than its middle, on
the inside of an arc. Common practice, no source."""


def turned_refusals(job: Job, machine: Machine, work: FaceWork) -> list[Refusal]:
    """Every way in which an arc that is turned under this wheel cannot be ground by it."""
    edge = job.edge
    if not isinstance(edge, ArcEdge):
        return []
    facts: dict[str, Fact] = {"path": edge.path_name, "face": work.face.face}
    found = []
    if machine.fixture.row is not None:
        found.append(Refusal("row-on-turn", facts, (WayOut("one-blade-a-clamping"),)))
    angle_deg = work.face.angle_deg
    held_deg = held_angle_deg(machine, work.face.face, angle_deg)
    if abs(held_deg - angle_deg) > TILT_REACH_DEG:
        held_deg = angle_deg  # refused by itself
    found += room_refusals_of_arc(work, edge, edge.angle_deg, held_deg)
    if work.face.face == "B" and work.wheel.contact == "along_edge":
        found += _rim_refusals(job, work, edge)
    return found


def room_refusals_of_arc(
    work: FaceWork, edge: ArcEdge, spindle_over_deg: float, lean_deg: float | None = None
) -> list[Refusal]:
    """Is there room around the arc for blade, wheel and a spindle that lies along the edge?

    ``spindle_over_deg`` is how far the arc goes round from the contact, at most; ``lean_deg`` the
    angle at which the wheel is held, where that is not the face's own.
    """
    facts: dict[str, Fact] = {"path": edge.path_name, "face": work.face.face}
    inside, wheel = inside_radius_mm(edge, work), work.wheel
    if inside <= 0:
        return [Refusal("thicker-than-arc", facts, (WayOut("larger-arc"),))]
    if work.face.face == "A":
        return []
    facts = {**facts, "wheel": wheel.name, "inside_mm": inside}
    if wheel.contact == "platen":
        return [Refusal("platen-inside-arc", facts, (WayOut("wheel-across"),))]
    if wheel.contact == "across_edge":
        # A wheel whose axis leans to that of the arc is an ellipse in its plane, longer by 1/cos.
        lean = work.face.angle_rad if lean_deg is None else math.radians(lean_deg)
        room = inside * math.cos(lean)
        facts["diameter_mm"] = wheel.diameter_mm
        way = WayOut("smaller-wheel", {"diameter_mm": math.floor(20 * room * 0.95) / 10})
        over = Refusal("wheel-over-inside", facts, (way,))
        return [over] if wheel.diameter_mm / 2 >= room else []
    free = spindle_angle_deg(inside, wheel.diameter_mm / 2)
    facts |= {"free_deg": free, "angle_deg": edge.angle_deg}
    # Followed, the arc lies to both sides of its middle, over which the spindle is lowest.
    shorter = math.floor(free * edge.angle_deg / spindle_over_deg)
    larger = 2.0 * inside * (1.0 - math.cos(math.radians(min(spindle_over_deg, 180.0))))
    ways = (
        WayOut("shorter-arc", {"angle_deg": shorter}),
        WayOut("larger-wheel-inside", {"diameter_mm": math.ceil(larger * 10.0) / 10.0}),
        WayOut("wheel-across"),
    )
    return [Refusal("spindle-meets-arc", facts, ways)] if spindle_over_deg > free else []


def inside_radius_mm(edge: ArcEdge, work: FaceWork) -> float:
    """Least radius of the inside: that of what stands nearest to the axis."""
    return edge.radius_mm - work.face.flank_mm


def reach_inside_mm(job: Job, work: FaceWork) -> float | None:
    r"""How far along the edge a wheel reaches inside an arc at its deepest; None outside.

    None too where the wheel finds no room inside, which is refused by itself.

    .. math:: 2 \rho \arcsin \frac{\sqrt{h (2 R - h)}}{2 \sqrt{e \rho_b}}, \quad e = \rho_b + h - R

    h the depth, R the wheel across the edge, ρ the radius of the edge, ρ_b that of what stands
    nearest to the axis. Source: law of cosines for the two circles, 1 - cos written as a half
    angle. Along the edge it is the rim's own reach, as the turn of ρ_b takes the edge.
    """
    edge = job.edge
    if not isinstance(edge, ArcEdge) or work.face.face == "A":
        return None
    inside, wheel, deep = inside_radius_mm(edge, work), work.wheel, work.deepest_mm
    if inside <= 0.0:
        return None
    if wheel.contact != "across_edge":
        reach = half_reach_mm(wheel, deep, work.curvature_per_mm)
        return reach * edge.radius_mm / inside
    radius = wheel.diameter_mm / 2
    deep = min(deep, radius)
    half = math.sqrt(deep * (2 * radius - deep))
    apart = inside + deep - radius
    if apart <= 0.0:
        return None
    share = half / (2 * math.sqrt(apart * inside))
    return 2 * edge.radius_mm * math.asin(min(share, 1.0))


def corner_dig_mm(inside_mm: float, width_mm: float) -> float:
    r"""How much deeper the corners of a flat rim dig than its middle, on the inside of an arc.

    .. math:: \rho - \sqrt{\rho^2 - W^2/4}

    Range: 0 <= W <= 2 ρ; NaN beyond. Source: Euclid, Elements III.35.

    >>> corner_dig_mm(5.0, 8.0)  # by hand: a 3-4-5 triangle
    2.0
    """
    half = width_mm / 2
    if half > inside_mm:
        return math.nan
    return half * half / (inside_mm + math.sqrt(inside_mm * inside_mm - half * half))


def rim_dig_mm(inside_mm: float, wheel: Wheel) -> float:
    """The same of a rim along the edge, flat or crowned; 0 for a crown no flatter than the inside.

    Both circles touch at the middle of the rim: what the inside rises there less what the crown
    does grows with the distance from it, so it is greatest at the corners. Of a crown as round as
    the inside or rounder the whole circle lies within that of the inside.
    """
    crown = crown_mm(wheel)
    if crown is not None and crown <= inside_mm:
        return 0.0
    return corner_dig_mm(inside_mm, wheel.width_mm) - crown_rise_mm(crown, wheel.width_mm / 2)


def _rim_refusals(job: Job, work: FaceWork, edge: ArcEdge) -> list[Refusal]:
    """Do the corners of a rim along the edge dig into the inside of the arc?"""
    inside, wheel = inside_radius_mm(edge, work), work.wheel
    if inside <= 0:
        return []
    dig, allowed = rim_dig_mm(inside, wheel), DIG_SHARE * depth_tolerance_mm(job, work)
    if dig <= allowed:
        return []
    facts: dict[str, Fact] = {
        "path": edge.path_name,
        "face": work.face.face,
        "wheel": wheel.name,
        "inside_mm": inside,
        "width_mm": wheel.width_mm,
        "allowed_mm": allowed,
        "dig_mm": dig if math.isfinite(dig) else inside,
    }
    widest = 2 * math.sqrt(allowed * (2 * inside - allowed))
    ways = [WayOut("narrower-rim", {"width_mm": math.floor(widest * 100) / 100})]
    if wheel.width_mm <= 2 * inside:
        ways.append(WayOut("crowned-rim", {"radius_mm": math.floor(inside * 100) / 100}))
    ways.append(WayOut("wheel-across"))
    return [Refusal("corners-dig", facts, tuple(ways))]


def spindle_angle_deg(inside_mm: float, wheel_radius_mm: float) -> float:
    r"""Angle from the contact at which a spindle along the tangent passes through the inside.

    .. math:: \arccos\frac{\rho - R}{\rho}

    180 where the wheel is as large as the inside or larger across. Shape: scalars.
    Source: right triangle of the axis, the spindle's line and the inside circle.

    >>> round(spindle_angle_deg(20.0, 10.0), 9)  # by hand: half the radius away, 60 degrees
    60.0
    """
    share = (inside_mm - wheel_radius_mm) / inside_mm
    return math.degrees(math.acos(min(max(share, -1.0), 1.0)))
