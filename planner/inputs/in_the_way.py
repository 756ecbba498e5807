"""What stands in the way of the wheel, and what moves with it: outlines and spans along the edge.

Frames: docs/frames.md, "What is in the way".
"""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Annotated

from pydantic import AfterValidator, Field, model_validator

from planner.inputs.fields import FileModel, Length, Name, PairOf, rule_fault

_MOST_CORNERS = 100
_LEAST_AREA_MM2 = 1e-3
_FARTHEST_MM = 5000

Corner = tuple[float, float]
Coordinate = Annotated[Length, Field(ge=-_FARTHEST_MM, le=_FARTHEST_MM)]


def _simple(corners: list[Corner]) -> list[Corner]:
    """Refuse what is no outline: too few corners, or sides that meet elsewhere than in a corner."""
    if not 3 <= len(corners) <= _MOST_CORNERS:
        raise rule_fault(
            "wrong-count",
            key="",
            given=f"{len(corners)} corners",
            allowed=f"3 to {_MOST_CORNERS} corners, in order round the outline",
            mend="give every corner once; the last is joined to the first",
        )
    crossing = _crossing(corners)
    if crossing is not None or abs(_area_mm2(corners)) < _LEAST_AREA_MM2:
        given = "an outline without area"
        if crossing is not None:
            given = f"a side from corner {crossing[0] + 1} meets the one from corner "
            given += f"{crossing[1] + 1}"
        raise rule_fault(
            "outline-crosses",
            key="",
            given=given,
            allowed="corners in order round the outline, each once, no side crossing another",
            mend="put the corners in the order in which you would draw them",
        )
    return corners


def _crossing(corners: list[Corner]) -> tuple[int, int] | None:
    """Two sides that share more than a corner, each by its first corner; None where none do."""
    sides = list(pairwise([*corners, corners[0]]))
    for (i, first), (j, second) in combinations(enumerate(sides), 2):
        if j == i + 1:
            bad = _turns_back(*first, second[1])
        elif (j + 1) % len(sides) == i:
            bad = _turns_back(*second, first[1])
        else:
            bad = _meet(*first, *second)
        if bad:
            return i, j
    return None


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    """Twice the area of a, b, c: above 0 where they turn from the first axis to the second."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _turns_back(a: Corner, b: Corner, c: Corner) -> bool:
    """Whether two sides a to b and b to c lie on each other, or one has no length."""
    ahead = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
    return b in (a, c) or (_turn(a, b, c) == 0 and ahead < 0)


def _meet(a: Corner, b: Corner, c: Corner, d: Corner) -> bool:
    """Whether the sides a to b and c to d share a point."""

    def within(p: Corner, q: Corner, r: Corner) -> bool:
        return all(min(p[k], q[k]) <= r[k] <= max(p[k], q[k]) for k in (0, 1))

    turns = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    touching = ((a, b, c), (a, b, d), (c, d, a), (c, d, b))
    return any(t == 0 and within(*on) for t, on in zip(turns, touching, strict=True))


def _area_mm2(corners: list[Corner]) -> float:
    return sum(a[0] * b[1] - a[1] * b[0] for a, b in pairwise([*corners, corners[0]])) / 2


SectionPlace = Annotated[tuple[Coordinate, Coordinate], PairOf("[y, z]")]
"""A place (y, z) in the section, for the blade as it is clamped with face A up."""
SectionOutline = Annotated[list[SectionPlace], AfterValidator(_simple)]
"""Corners (y, z) in the section, for the blade as it is clamped with face A up."""
WheelOutline = Annotated[
    list[Annotated[tuple[Coordinate, Coordinate], PairOf("[u, v]")]], AfterValidator(_simple)
]
"""Corners (u, v) from the wheel's axis: u along the cross axis, v away from the steel."""


class Span(FileModel):
    """From one place along the edge to another."""

    from_mm: Annotated[Coordinate, Field(alias="from")]
    to_mm: Annotated[Coordinate, Field(alias="to")]

    @model_validator(mode="after")
    def _lower_end_first(self) -> Span:
        if not self.from_mm < self.to_mm:
            raise rule_fault(
                "range-order",
                key="to",
                other="from",
                given=f"from {self.from_mm:g} to {self.to_mm:g} mm",
                allowed="the lower end first, then the higher",
                mend="exchange the two, or widen it",
            )
        return self


class Obstacle(Span):
    """Something of the fixture that nothing may run into: a stop, a magnet, a clamp.

    ``from`` and ``to`` are along the edge, from the heel toward the tip, with face A up.
    """

    name: Name
    outline_mm: Annotated[SectionOutline, Field(alias="outline")]
    """Corners [y, z] in the section of the blade as it is clamped with face A up."""


class Guard(Span):
    """The guard, which moves with the wheel.

    ``from`` and ``to`` are along the traverse, from the wheel's middle plane.
    """

    outline_mm: Annotated[WheelOutline, Field(alias="outline")]
    """Corners [u, v] from the wheel's axis (a platen: from the middle of its face), u along the
    cross axis, v away from the steel."""


class HeadPart(Guard):
    """Another part that moves with the wheel: the spindle's nose, its motor, a belt's strands."""

    name: Name


class Flange(FileModel):
    """The flanges that hold a wheel: a smaller, wider disc on its axis."""

    diameter_mm: Annotated[Length, Field(alias="diameter", gt=0, le=2000)]
    width_mm: Annotated[Length, Field(alias="width", gt=0, le=1000)]
    """Over both flanges, nuts and all, the wheel between them counted."""
