"""Travel and feed of each axis, and what the path mode allows."""

from __future__ import annotations

import math

from planner.proof.case import Case
from planner.proof.events import Blend, Move
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule

_SLACK = 1e-6


def check_travel(move: Move, case: Case, log: FaultLog) -> None:
    """Fault a move that ends past a travel limit: straight moves are longest at their ends."""
    for axis, start, end in zip(case.axes.values(), move.start, move.end, strict=True):
        if end is None or start == end:
            continue
        value = end + axis.zero_at
        if not axis.low - _SLACK <= value <= axis.high + _SLACK:
            log.add(
                move.line,
                Rule.TRAVEL_LIMIT,
                axis=axis.letter,
                position=value,
                low=axis.low,
                high=axis.high,
                unit="deg" if axis.rotary else "mm",
            )


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
                unit="deg/min" if axis.rotary else "mm/min",
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
