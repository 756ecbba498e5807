"""Travel and feed of each axis, which of them must stand, and what the path mode allows."""

from __future__ import annotations

import math

from planner.proof.axes import ProgramAxis
from planner.proof.case import Case
from planner.proof.events import Blend, Move
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule

_SLACK = 1e-6


class Travel:
    """Holds every position of a program against the travel of its axis.

    Where the program's zero stands is known: against the ends. Where it is not: the way from the
    lowest position to the highest must be within the whole travel, for the zero can then be put
    where it fits.
    """

    def __init__(self, case: Case, log: FaultLog) -> None:
        self._axes = list(case.axes.values())
        self._log = log
        self._spans: list[tuple[float, float] | None] = [None] * len(self._axes)

    def check(self, move: Move) -> None:
        """Fault a move that ends past a limit: straight moves are longest at their ends."""
        for index, (axis, start, end) in enumerate(
            zip(self._axes, move.start, move.end, strict=True)
        ):
            if end is None or start == end:
                continue
            if axis.zero_at is None:
                self._check_span(index, axis, end, move.line)
            else:
                self._check_ends(axis, end + axis.zero_at, move.line)

    def _check_ends(self, axis: ProgramAxis, value: float, line: int) -> None:
        if axis.low - _SLACK <= value <= axis.high + _SLACK:
            return
        self._log.add(
            line,
            Rule.TRAVEL_LIMIT,
            axis=axis.letter,
            position=value,
            low=axis.low,
            high=axis.high,
            unit=_unit(axis),
        )

    def _check_span(self, index: int, axis: ProgramAxis, end: float, line: int) -> None:
        low, high = self._spans[index] or (end, end)
        self._spans[index] = low, high = min(low, end), max(high, end)
        if high - low > axis.high - axis.low + _SLACK:
            self._log.add(
                line,
                Rule.TRAVEL_SPAN,
                axis=axis.letter,
                low=low,
                high=high,
                most=axis.high - axis.low,
                unit=_unit(axis),
            )


def _unit(axis: ProgramAxis) -> str:
    return "deg" if axis.rotary else "mm"


def axis_feeds(move: Move, case: Case) -> tuple[float, ...] | None:
    """The rate of each axis a minute, signs dropped; None where the text does not tell it.

    Within one move every axis takes the same time. A feed a minute is along the path of the
    straight axes, or of the rotary axes where only those move.
    """
    if move.rapid:
        return None
    distances = _distances(move)
    if distances is None:
        return None
    if move.minutes is not None:
        return tuple(distance / move.minutes for distance in distances)
    path = math.hypot(*distances)
    if move.feed is None:
        return None
    if path == 0.0:
        return tuple(distances)
    return tuple(distance / path * move.feed for distance in distances)


def _distances(move: Move) -> list[float] | None:
    """How far each axis moves; None where the text does not tell from where."""
    distances = []
    for start, end in zip(move.start, move.end, strict=True):
        if start is None and end is not None:
            return None
        distances.append(0.0 if start is None or end is None else abs(end - start))
    return distances


def check_feed(move: Move, feeds: tuple[float, ...] | None, case: Case, log: FaultLog) -> None:
    """Fault a feed move that asks more of an axis than it can do.

    Controllers slow such a move down without a word: the wheel stays longer in one place.
    """
    for axis, feed in zip(case.axes.values(), feeds or (), strict=False):
        if feed > axis.max_feed * (1.0 + _SLACK):
            log.add(
                move.line,
                Rule.FEED_LIMIT,
                axis=axis.letter,
                feed=feed,
                most=axis.max_feed,
                unit=f"{_unit(axis)}/min",
            )


def check_block_rate(move: Move, case: Case, log: FaultLog) -> None:
    """Fault a feed move that is over before the controller has read the next block.

    It then halts, over the blade, until it has. Off the blade a halt does no harm.
    """
    most = case.machine.controller.blocks_per_s
    distances = _distances(move)
    if move.minutes is not None:
        lasts_s = 60.0 * move.minutes
    elif move.feed is not None and distances is not None:
        # A last decimal more, for both ends are rounded.
        lasts_s = 60.0 * (math.hypot(*distances) + 2.0 * case.half_decimal_mm) / move.feed
    else:
        return
    if lasts_s * most < 1.0 - _SLACK:
        log.add(move.line, Rule.BLOCK_RATE, asked_per_s=1.0 / lasts_s, most_per_s=most)


def check_blend(blend: Blend, case: Case, log: FaultLog) -> None:
    """Fault a path tolerance above the machine file's."""
    most = case.machine.controller.path_tolerance_mm + 2.0 * case.half_decimal_mm
    if blend.tolerance_mm > most:
        log.add(blend.line, Rule.PATH_MODE, tolerance_mm=blend.tolerance_mm, most_mm=most)


def check_turn(move: Move, case: Case, log: FaultLog) -> None:
    """Fault a turn that moves over a straight edge, and a traverse that moves along an arc."""
    followed = case.followed
    if followed is not None and followed.turn_sign is not None:
        return
    if case.turned is not None:
        if move.end[case.by_role["traverse"]] not in (None, 0.0):
            log.add(move.line, Rule.TRAVERSE_MOVED)
        return
    index = case.by_role.get("turn")
    if index is not None and move.end[index] not in (None, 0.0):
        log.add(move.line, Rule.TURN_MOVED)
