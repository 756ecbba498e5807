"""How an edge comes under the wheel: straight along the traverse, turned, or followed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.errors import Refusal
from planner.inputs.axes import RotaryAxis
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.edge_path import (
    EdgeMotion,
    along_the_edge,
    edge_motion,
    on_turn,
    turned_refusals,
)
from planner.kinematics.room import Room, rooms_needed
from planner.kinematics.row import Row
from planner.kinematics.settings import turn_refusals
from planner.kinematics.slide_blocks import (
    SlideBlocks,
    along_the_path,
    slide_blocks,
    slide_rooms,
)
from planner.kinematics.slide_lines import slide_lines
from planner.kinematics.slide_path import SlidePath, SlideTurn, Sliding
from planner.kinematics.slide_refusals import block_refusals, followed_refusals
from planner.kinematics.touch_frame import TouchFrame, axis_letter, linear_axis, smallest_step_mm
from planner.section.edge_course import FacePlane, followed_course
from planner.section.wheel_shape import crown_mm
from planner.section.work import FaceWork

_LEVEL_MM = 1e-9

EdgeWay = EdgeMotion | SlideBlocks | None
"""Turned, followed, or straight."""


def stands_still(way: EdgeWay) -> SlideBlocks | None:
    """How an edge is followed while the blade itself does not move; None for any other."""
    return way if isinstance(way, SlideBlocks) and way.path.turn is None else None


def still_turn_refusals(job: Job, machine: Machine) -> list[Refusal]:
    """An edge that is not turned stands at the turn's zero: is there such a setting?"""
    turned = isinstance(job.edge, ArcEdge) and axis_letter(machine, "turn") is not None
    return [] if turned else turn_refusals(machine)


def edge_way(
    job: Job, machine: Machine, work: FaceWork, frame: TouchFrame, row: Row
) -> tuple[EdgeWay, list[Refusal]]:
    """The way of one face's edge under the wheel, or every reason why there is none."""
    course = followed_course(job, machine)
    if course is None:
        refused = turned_refusals(job, machine, work)
        return (None, refused) if refused else (edge_motion(job, machine, work.face.face), [])
    turn = _turn(machine, work.face.face)
    path = SlidePath(
        course=course,
        plane=FacePlane(work.face.face, work.face.angle_rad, work.zero_face.at_edge_mm),
        wheel=_sliding(work),
        middle_mm=work.zero_relief.middle_mm,
        frame=frame,
        letters={
            role: letter
            for role in ("traverse", "cross", "infeed", *(["turn"] if turn else []))
            if (letter := axis_letter(machine, role)) is not None
        },
        turn=turn,
        above_mm=_above_mm(work, frame),
        lines=slide_lines(work),
    )
    if refused := followed_refusals(job, machine, work, path, row):
        return None, refused
    blocks = slide_blocks(machine, path, work, row)
    step = smallest_step_mm(machine, linear_axis(machine, "infeed")) / abs(frame.infeed_per_depth)
    refused = block_refusals(job, work, blocks, step)
    return (None, refused) if refused else (blocks, [])


def _above_mm(work: FaceWork, frame: TouchFrame) -> float:
    """How high over its plane a flat's middle stands at zero, held beside the face's angle."""
    if work.wheel_radius_mm is not None:
        return 0.0
    (y, z), side = frame.origin_yz_mm, 1.0 if work.face.face == "A" else -1.0
    angle = work.face.angle_rad
    # Across the plane, from the corner at y = 0; along it the middle stands where it should.
    out = side * z - work.zero_face.at_edge_mm
    above = out * math.cos(angle) - y * math.sin(angle)
    return above if abs(above) > _LEVEL_MM else 0.0


def _turn(machine: Machine, face: str) -> SlideTurn | None:
    """The turn that lays a curve along the traverse; an arc that it could turn is not followed."""
    letter = axis_letter(machine, "turn")
    if letter is None:
        return None
    axis = machine.axes[letter]
    assert isinstance(axis, RotaryAxis)
    return SlideTurn(
        letter=letter,
        sign=1.0 if face == "A" else -1.0,
        step_deg=max(axis.resolution_deg, 10.0**-machine.controller.rotary_decimals),
        max_feed_deg_min=axis.max_feed_deg_min,
        acceleration_deg_s2=axis.acceleration_deg_s2,
    )


def _sliding(work: FaceWork) -> Sliding:
    wheel = work.wheel
    across = wheel.contact == "across_edge"
    belt = wheel.belt.thickness_mm if wheel.belt else 0.0
    rim = wheel.form_radius_mm if across else crown_mm(wheel)
    return Sliding(wheel.diameter_mm / 2 + belt, rim or math.inf, across)


def as_the_edge_sees_it(machine: Machine, way: EdgeWay) -> Machine:
    """The machine with a traverse that runs along the edge."""
    if isinstance(way, SlideBlocks):
        return along_the_path(machine, way)
    return along_the_edge(machine, way)


def rooms_of_way(
    machine: Machine,
    way: EdgeWay,
    frame: TouchFrame,
    depth_mm: float,
    row: Row,
    lines: Sequence[tuple[float, float]] = (),
) -> list[Room]:
    """The room of every axis that the set-up moves; ``machine`` as the edge sees it."""
    rooms = rooms_needed(machine, frame, depth_mm, row, lines)
    if isinstance(way, SlideBlocks):
        return slide_rooms(machine, way, rooms)
    return on_turn(rooms, way)
