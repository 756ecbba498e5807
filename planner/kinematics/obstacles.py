"""What stands in the way of a set-up, in the blade's own section frame (docs/frames.md)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from planner.inputs.machine import Machine
from planner.kinematics.row import Row
from planner.section.profile import face_points
from planner.section.work import FaceWork

_FAR_MM = 1e4

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Obstacle:
    """An outline in the blade's section, and a span along the traverse in program coordinates."""

    name: str
    kind: Literal["jaws", "blade", "obstacle"]
    outline_yz_mm: Corners
    from_mm: float
    to_mm: float


def obstacles_for(
    machine: Machine, work: FaceWork, row: Row, lies_mm: tuple[float, float] | None = None
) -> tuple[Obstacle, ...]:
    """The jaws, the blade itself as it is before this work, and what else the file names.

    Along the edge everything is in the fixture's own coordinate, which is the traverse of the
    program in every set-up. An empty station of a row has its jaws too. A blade whose edge the
    axes follow ``lies_mm`` from where to where along the traverse: its zero is elsewhere, and it is
    not itself among the obstacles.
    """
    found = []
    jaws = machine.fixture.jaws
    above, below = (face.flank_mm for face in work.section.faces)
    blank = blank_outline(work)
    first, last = lies_mm or (0.0, row.edge_length_mm)
    for position in row.all_positions_mm:
        start, end = position + first, position + last
        if jaws is not None:
            proud = jaws.above_flank_mm
            block = _box(jaws.from_edge_mm, -below - proud, _FAR_MM, above + proud)
            past = jaws.past_ends_mm
            found.append(Obstacle("jaws", "jaws", block, start - past, end + past))
        if lies_mm is None and position in row.positions_mm:
            found.append(Obstacle("blade", "blade", blank, start, end))
    for thing in machine.fixture.obstacles or ():
        corners = tuple(
            as_held_yz(machine, work.relief.face, corner) for corner in thing.outline_mm
        )
        span = thing.from_mm + first, thing.to_mm + first
        found.append(Obstacle(thing.name, "obstacle", corners, *span))
    return tuple(found)


def blank_outline(work: FaceWork) -> Corners:
    """The blade before this work, its reliefs filled: from the edge along face A and back."""
    upper: dict[str, Corners] = {}
    for face in work.section.faces:
        state = work.before if face.face == work.relief.face else work.other
        if state.outside_mm == 0:
            upper[face.face] = tuple(face_points(face))
            continue
        if face.bulge is not None or math.isinf(state.outside_mm):
            # In facets or lines so far: the stock, which has more steel yet.
            upper[face.face] = face.flank
            continue
        corner = face.raised(state.outside_mm).at_edge_mm
        shoulder = face.height_mm - state.outside_mm / math.sin(face.angle_rad)
        behind = (p for p in face.flank if p[0] > shoulder)
        upper[face.face] = (0.0, corner), (shoulder, face.stock_mm), *behind
    below = tuple((y, -z) for y, z in reversed(upper["B"]))
    corners = (*upper["A"], *below)
    # Corners that fall together, at a sharp edge or an unground end, count once.
    return tuple(c for c, after in pairwise((*corners, corners[0])) if math.dist(c, after) > 1e-9)


def as_held_yz(machine: Machine, face: str, corner: tuple[float, float]) -> tuple[float, float]:
    """A place of the fixture, given for face A up, in the section of the blade as it lies now."""
    y, z = corner
    fixture = machine.fixture
    if face == "A" or fixture.flip == "by_tilt":
        return y, z
    if fixture.flip == "end_for_end":
        return y, -z
    return 2 * (fixture.turn_line_mm or 0.0) - y, -z


def _box(low_y: float, low_z: float, high_y: float, high_z: float) -> Corners:
    return (low_y, low_z), (high_y, low_z), (high_y, high_z), (low_y, high_z)
