"""How long a program takes, as read back: the proof's own clock.

A straight move runs from rest to rest, with the feed of the text and the feed and acceleration of
every axis that moves. Where the controller may leave the path at a corner, feed moves that go on
nearly straight are one: they are gone through at speed, and only the first and the last ramp. What
a person does at a stop takes no time here, nor does a move whose beginning the text does not tell.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from planner.inputs.axes import LinearAxis
from planner.proof.case import Case
from planner.proof.events import Blend, Dwell, Event, Move

_GOES_ON_COS = 0.9
"""Moves whose directions differ by less than about 26 degrees do not stop between each other.
Common practice, no source."""


class _Timed(NamedTuple):
    """One move: at rest at both ends, and what of it is at speed and what is a ramp."""

    line: int
    rest_to_rest_s: float
    at_speed_s: float
    ramp_s: float
    """What coming to speed from rest, or to rest from it, adds."""
    way: tuple[float, ...]
    """Signed, of each axis."""
    joins: bool
    """Whether it may go on from the one before without a stop."""


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
        for line, seconds in self._spans(events):
            self._lines.append(line)
            self._seconds.append(self.whole_s + seconds)

    def _spans(self, events: Iterable[Event]) -> Iterator[tuple[int, float]]:
        run: list[_Timed] = []
        blends = False
        for event in events:
            if isinstance(event, Blend):
                blends = event.tolerance_mm > 0.0
                continue
            timed = self._timed(event) if isinstance(event, Move) else None
            if timed is not None and blends and timed.joins:
                if run and not _goes_on(run[-1].way, timed.way):
                    yield from _through(run)
                    run = []
                run.append(timed)
                continue
            yield from _through(run)
            run = []
            if timed is not None:
                yield timed.line, timed.rest_to_rest_s
            elif isinstance(event, Dwell):
                yield event.line, event.seconds
        yield from _through(run)

    @property
    def whole_s(self) -> float:
        """The whole program."""
        return self._seconds[-1] if self._seconds else 0.0

    def after_line(self, line: float) -> float:
        """Seconds from the start until the block of this line, or the last before it, is done."""
        index = bisect_right(self._lines, line)
        return self._seconds[index - 1] if index else 0.0

    def _timed(self, move: Move) -> _Timed:
        signed = tuple(
            0.0 if start is None or end is None else end - start
            for start, end in zip(move.start, move.end, strict=True)
        )
        way = [abs(d) for d in signed]
        if not any(way):
            return _Timed(move.line, 0.0, 0.0, 0.0, signed, joins=False)
        # As shares of the whole way: no axis may pass its own speed or acceleration.
        shares = [(d, v, a) for d, (v, a) in zip(way, self._most, strict=True) if d > 0.0]
        speed = min(v / d for d, v, _ in shares)
        acceleration = min(a / d for d, _, a in shares)
        if not move.rapid:
            speed = min(speed, self._fed(move, way))
        return _Timed(
            move.line,
            rest_to_rest_s(1.0, speed, acceleration),
            1.0 / speed,
            speed / acceleration / 2.0,
            signed,
            joins=not move.rapid,
        )

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


def _goes_on(before: Sequence[float], after: Sequence[float]) -> bool:
    """Whether a move goes on nearly as the one before; degrees count as millimetres."""
    along = sum(a * b for a, b in zip(before, after, strict=True))
    return along >= _GOES_ON_COS * math.hypot(*before) * math.hypot(*after)


def _through(run: Sequence[_Timed]) -> Iterator[tuple[int, float]]:
    """Moves that are gone through without a stop: line and seconds of each."""
    if len(run) == 1:
        yield run[0].line, run[0].rest_to_rest_s
        return
    for n, one in enumerate(run):
        ramps = (n == 0) + (n == len(run) - 1)
        yield one.line, one.at_speed_s + ramps * one.ramp_s


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
