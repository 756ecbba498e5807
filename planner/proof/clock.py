"""How long a program takes, as read back: the proof's own clock.

A straight move runs from rest to rest, with the feed of the text and the feed and acceleration of
every axis that moves. What a person does at a stop takes no time here, nor does a move whose
beginning the text does not tell.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence

from planner.inputs.axes import LinearAxis
from planner.proof.case import Case
from planner.proof.events import Dwell, Event, Move


class Clock:
    """Seconds since the start of a program, by line."""

    def __init__(self, events: Iterable[Event], case: Case) -> None:
        machine = case.machine
        axes = list(machine.axes.values())
        self._straight = [isinstance(axis, LinearAxis) for axis in axes]
        self._most = [
            (axis.max_feed_mm_min / 60.0, axis.acceleration_mm_s2)
            if isinstance(axis, LinearAxis)
            else (axis.max_feed_deg_min / 60.0, axis.acceleration_deg_s2)
            for axis in axes
        ]
        self._lines: list[int] = []
        self._seconds: list[float] = []
        now = 0.0
        for event in events:
            match event:
                case Move():
                    now += self._move_s(event)
                case Dwell():
                    now += event.seconds
                case _:
                    continue
            self._lines.append(event.line)
            self._seconds.append(now)

    @property
    def whole_s(self) -> float:
        """The whole program."""
        return self._seconds[-1] if self._seconds else 0.0

    def after_line(self, line: float) -> float:
        """Seconds from the start until the block of this line, or the last before it, is done."""
        index = bisect_right(self._lines, line)
        return self._seconds[index - 1] if index else 0.0

    def _move_s(self, move: Move) -> float:
        way = [
            0.0 if start is None or end is None else abs(end - start)
            for start, end in zip(move.start, move.end, strict=True)
        ]
        if not any(way):
            return 0.0
        # As shares of the whole way: no axis may pass its own speed or acceleration.
        shares = [(d, v, a) for d, (v, a) in zip(way, self._most, strict=True) if d > 0.0]
        speed = min(v / d for d, v, _ in shares)
        acceleration = min(a / d for d, _, a in shares)
        if not move.rapid:
            speed = min(speed, self._fed(move, way))
        return rest_to_rest_s(1.0, speed, acceleration)

    def _fed(self, move: Move, way: Sequence[float]) -> float:
        """Share of the way that the feed covers in a second.

        A feed a minute is along the path of the straight axes, or of the rotary ones where only
        those move.
        """
        if move.minutes is not None:
            return 1.0 / (60.0 * move.minutes) if move.minutes > 0.0 else math.inf
        if move.feed is None:
            return math.inf
        straight = math.hypot(*(d for d, s in zip(way, self._straight, strict=True) if s))
        return move.feed / 60.0 / (straight or math.hypot(*way))


def rest_to_rest_s(way: float, speed: float, acceleration: float) -> float:
    """Time of a way that is begun and ended at rest: ramps, and a stretch at speed if it is long.

    A way too short for the speed is ramps alone, 2 sqrt(s/a). Any one unit of length. Constant
    acceleration, elementary kinematics.

    >>> rest_to_rest_s(20.0, 10.0, 10.0)  # by hand: 2 ramps of 5 in 1 s each, 10 more in 1 s
    3.0
    >>> rest_to_rest_s(4.9, 9.8, 9.8)  # by hand: 2 sqrt(1/2)
    1.4142135623730951
    """
    ramps = speed * speed / acceleration
    if way <= ramps:
        return 2.0 * math.sqrt(way / acceleration)
    return 2.0 * speed / acceleration + (way - ramps) / speed
