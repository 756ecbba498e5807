"""Things in the way of the test job's set-ups, placed by hand a tenth of a millimetre off."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from planner.inputs.machine import Machine
from tests.samples import a_job, a_machine

JOB = a_job()
RADIUS, BEVEL = 75.0, math.radians(12.5)
# By hand: the bevel face is 3 / (2 sin 12.5) = 6.930 mm wide, its relief 1.2 mm from the edge and
# 1.4 mm from the shoulder: its middle is 1.2 + (6.930 - 2.6) / 2 from the edge.
MIDDLE = 1.2 + (1.5 / math.sin(BEVEL) - 2.6) / 2
DEEP = 0.0313
# Once round: down off the heel, past the tip, up; then a rapid one millimetre further.
ROUND = [(-20.0, 5.0), (-20.0, -DEEP), (100.0, -DEEP), (100.0, 5.0), (101.0, 5.0)]
RAPID = [True, False, False, True, True]
FLIPS = ["end_for_end", "over", "by_tilt"]
TURN_LINE = 7.0

FLANGE = {"diameter": "80 mm", "width": "32 mm"}
GUARD_UV = [(-85, 60), (85, 60), (85, 90), (-85, 90)]


def mm(value: float) -> str:
    return f"{value:.9f} mm"


def corners(points: Any) -> list[list[str]]:
    return [[mm(a), mm(b)] for a, b in points]


GUARD = {"outline": corners(GUARD_UV), "from": "-14 mm", "to": "14 mm"}


@dataclass(frozen=True)
class Way:
    """A box in the way of one part: a corner of it, along u, v or x, touches the part's path."""

    part: str
    along: str
    """``section`` or ``edge``."""
    move: int
    """Which of the places of ``ROUND`` is the end of the move that comes nearest."""
    u: tuple[float, float]
    v: tuple[float, float]
    x: tuple[float, float]
    into: tuple[float, float, float]
    """The way toward the part, in u, v and x."""

    @property
    def places(self) -> list[tuple[float, float, bool]]:
        """(traverse, infeed, rapid) of the moves looked at: the last rapid only where it counts."""
        moves = [(*place, rapid) for place, rapid in zip(ROUND, RAPID, strict=True)]
        return moves if self.move == 4 else moves[:4]

    @property
    def id(self) -> str:
        return f"{self.part}-{'rapid' if RAPID[self.move] else 'feed'}-along-{self.along}"


# By hand, from ROUND: the wheel reaches 10 mm along the edge to either side, its flanges 16, the
# guard 14; deepest -0.0313, highest 5. Each box just touches what the part covers.
WAYS = [
    Way("wheel", "section", 2, (-1, 1), (-80, -75 - DEEP), (30, 50), (0, 1, 0)),
    Way("flange", "section", 2, (-1, 1), (-45, -40 - DEEP), (111.5, 114), (0, 1, 0)),
    Way("guard", "section", 2, (78, 84), (55, 60 - DEEP), (30, 50), (0, 1, 0)),
    Way("wheel", "section", 0, (-1, 1), (80, 99), (-29, -25), (0, -1, 0)),
    Way("flange", "section", 0, (-1, 1), (45, 60), (-35, -31), (0, -1, 0)),
    Way("guard", "section", 0, (-1, 1), (95, 99), (-29, -25), (0, -1, 0)),
    Way("wheel", "edge", 2, (-5, 5), (-70, -30), (110, 130), (0, 0, -1)),
    Way("flange", "edge", 2, (-5, 5), (-38, -30), (116, 130), (0, 0, -1)),
    Way("guard", "edge", 2, (0, 5), (61, 64), (114, 130), (0, 0, -1)),
    Way("wheel", "edge", 4, (-5, 5), (20, 60), (111, 130), (0, 0, -1)),
    Way("flange", "edge", 4, (-5, 5), (20, 30), (117, 130), (0, 0, -1)),
    Way("guard", "edge", 4, (0, 5), (80, 85), (115, 130), (0, 0, -1)),
]


def directions(flip: str, face: str) -> tuple[tuple[float, float], tuple[float, float]]:
    """cross_dir and infeed_dir at the ideal tilt, from the table of docs/frames.md."""
    side = 1.0 if face == "A" else -1.0
    along = (math.cos(BEVEL), side * math.sin(BEVEL))
    normal = (-math.sin(BEVEL), side * math.cos(BEVEL))
    if face == "B" and flip in ("over", "by_tilt"):
        along = (-along[0], -along[1])
    return along, normal


def in_section(flip: str, face: str, points: Any) -> list[tuple[float, float]]:
    """Places (u, v) about the wheel's centre at program zero, as (y, z) of the blade as it lies."""
    cross, infeed = directions(flip, face)
    side = 1.0 if face == "A" else -1.0
    origin = (
        MIDDLE * math.cos(BEVEL) - RADIUS * math.sin(BEVEL),
        side * (MIDDLE * math.sin(BEVEL) + RADIUS * math.cos(BEVEL)),
    )
    return [
        (
            origin[0] + u * cross[0] + v * infeed[0],
            origin[1] + u * cross[1] + v * infeed[1],
        )
        for u, v in points
    ]


def as_given(flip: str, face: str, points: Any) -> list[tuple[float, float]]:
    """The same places as a machine file gives them: for the blade as it lies with face A up."""
    if face == "A" or flip == "by_tilt":
        return list(points)
    if flip == "end_for_end":
        return [(y, -z) for y, z in points]
    return [(2 * TURN_LINE - y, -z) for y, z in points]


def box(way: Way, by_mm: float, flip: str, face: str) -> dict[str, Any]:
    """The obstacle, moved by so much toward the part."""
    du, dv, dx = (by_mm * part for part in way.into)
    (u0, u1), (v0, v1), (x0, x1) = way.u, way.v, way.x
    uv = [(u + du, v + dv) for u, v in ((u0, v0), (u1, v0), (u1, v1), (u0, v1))]
    outline = as_given(flip, face, in_section(flip, face, uv))
    return {"name": "stop", "outline": corners(outline), "from": mm(x0 + dx), "to": mm(x1 + dx)}


def machine_with(way: Way, by_mm: float, flip: str, face: str, **changes: Any) -> Machine:
    """The test machine with the obstacle, and with the part that it is about."""
    if way.part == "flange":
        changes["rack__0__flange"] = FLANGE
    if way.part == "guard":
        changes["guard"] = GUARD
    if flip == "over":
        changes["fixture__turn_line"] = mm(TURN_LINE)
    obstacles = [box(way, by_mm, flip, face)]
    return a_machine(fixture__flip=flip, fixture__obstacles=obstacles, **changes)
