"""Where a position of the program puts the wheel, and the way from one to the next."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from planner.proof.case import Case
from planner.proof.events import Position
from planner.proof.frame import KnownPlace
from planner.proof.tool import Stand

_TILT_PIECE_DEG = 1.0
_SWEPT_PIECE_DEG = 0.1
"""About an axis far from the wheel: at 100 mm a chord of it misses the arc by 0.04 um."""
_MOST_TILT_PIECES = 900
"""A quarter turn in the finest pieces; a longer one is cut coarser, for the sake of time."""


class Place(NamedTuple):
    """A position in the touch frame; None where the program has not told it yet."""

    traverse: float | None
    cross: float | None
    infeed: float | None
    tilt: float | None


class Piece(NamedTuple):
    """A stretch of a move over which the wheel goes straight in the section plane."""

    x_start: float
    x_end: float
    start: Stand
    end: Stand

    def stand_at(self, share: float) -> Stand:
        """Where the wheel stands after a share of the way."""
        return Stand(*(a + share * (b - a) for a, b in zip(self.start, self.end, strict=True)))

    @property
    def still_in_section(self) -> bool:
        """Whether the wheel moves along the edge only."""
        if self.start.tilt_deg != self.end.tilt_deg:
            return False
        return math.dist(self.start.centre, self.end.centre) < 1e-9


class Placing:
    """Tells from a position of the program where the wheel stands over the blade."""

    def __init__(self, case: Case) -> None:
        """For the axes and the frame of one set-up."""
        self._case = case
        self._axes = list(case.axes.values())
        self._places = _places(case)

    @property
    def at_first(self) -> Place:
        """The place before the program has said anything."""
        here = Place(None, 0.0, None, self._case.fixed_tilt_deg)
        if "cross" in self._case.by_role:
            here = here._replace(cross=None)
        if "tilt" in self._case.by_role:
            here = here._replace(tilt=None)
        return here

    def place(self, position: Position) -> Place:
        """Where a position of the axes is in the touch frame."""
        values = []
        for index, sign, otherwise in self._places:
            number = otherwise if index is None else position[index]
            values.append(None if number is None else sign * number)
        turned, traverse = self._case.turned, position[self._case.by_role["traverse"]]
        if turned is not None:
            # Of an arc the place along the edge is told by the turn, once both stand somewhere.
            axis, turn = self._axes[turned.index], position[turned.index]
            told = turn is not None and traverse is not None
            values[0] = axis.sign * turn * turned.mm_per_deg if told and turn is not None else None
        return Place(*values)

    def turn_deg(self, position: Position) -> float:
        """In touch-frame sense; one that is not told is taken to stand at 0."""
        index = self._case.by_role.get("turn")
        turn = None if index is None else position[index]
        return 0.0 if index is None or turn is None else self._axes[index].sign * turn

    def traverse_feed_mm_s(self, feeds: tuple[float, ...] | None) -> float:
        """How fast the edge passes the wheel at these rates a minute, None for a rapid."""
        turned = self._case.turned
        index = self._case.by_role["traverse"] if turned is None else turned.index
        unit_mm = 1.0 if turned is None else abs(turned.mm_per_deg)
        feed = self._axes[index].max_feed if feeds is None else feeds[index]
        return unit_mm * feed / 60.0

    def pieces(self, start: KnownPlace, end: KnownPlace, worn_mm: float) -> list[Piece]:
        """The straight stretches of a move: several while the tilt turns."""
        frame = self._case.frame
        piece_deg = _TILT_PIECE_DEG if frame.pivot is None else _SWEPT_PIECE_DEG
        count = math.ceil(abs(end.tilt - start.tilt) / piece_deg)
        count = min(max(count, 1), _MOST_TILT_PIECES)
        places = [start]
        for n in range(1, count):
            share = n / count
            places.append(
                KnownPlace(*(a + share * (b - a) for a, b in zip(start, end, strict=True)))
            )
        places.append(end)
        wheels = [(frame.x_mm(p.traverse), self.stand(p, worn_mm)) for p in places]
        return [Piece(a[0], b[0], a[1], b[1]) for a, b in pairwise(wheels)]

    def stand(self, place: KnownPlace, worn_mm: float) -> Stand:
        """Where the wheel as it was touched off stands, backed off by what has worn away."""
        y, z = self._case.frame.centre(place.cross, place.infeed, place.tilt)
        normal_y, normal_z = self._case.face.normal
        return Stand(y + worn_mm * normal_y, z + worn_mm * normal_z, place.tilt)


def known_place(place: Place) -> KnownPlace | None:
    """The place, once every coordinate of it is told."""
    traverse, cross, infeed, tilt = place
    if traverse is None or cross is None or infeed is None or tilt is None:
        return None
    return KnownPlace(traverse, cross, infeed, tilt)


def _places(case: Case) -> list[tuple[int | None, float, float]]:
    """For each coordinate of a place: its index in a position, its sign, its value without one."""
    axes = list(case.axes.values())
    places = []
    for role in Place._fields:
        index = case.by_role.get(role)
        sign = 1.0 if index is None else axes[index].sign
        places.append((index, sign, case.fixed_tilt_deg if role == "tilt" else 0.0))
    return places
