"""Passes of straight axes that follow an edge: their feed at the edge, and when two are one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from planner.inputs.axes import LinearAxis
from planner.proof.case import Case
from planner.proof.events import Move
from planner.proof.followed import ALONG_MM, Followed
from planner.proof.tool import Stand


def feed_at_edge_mm_s(move: Move, feeds: Sequence[float], along_mm: float) -> float:
    """How fast the edge passes the wheel while the axes go at these rates a minute.

    A move takes the time of the axis that goes furthest.
    """
    far, a_minute = max(
        (abs(end - start), feed)
        for start, end, feed in zip(move.start, move.end, feeds, strict=True)
        if start is not None and end is not None
    )
    return along_mm / far * a_minute / 60.0 if far > 0.0 else 0.0


def same_stand(case: Case, one: Stand, other: Stand) -> bool:
    """Whether two blocks of a pass stand at one depth; rounding parts those that follow."""
    if case.followed is None or one == other:
        return one == other
    depths = [case.face.depth_mm(stand.centre) for stand in (one, other)]
    places = [case.face.place_mm(stand.centre) for stand in (one, other)]
    return (
        abs(depths[0] - depths[1]) <= case.uneven_mm
        and abs(places[0] - places[1]) <= ALONG_MM + 2.0 * case.beside_mm
        and one.tilt_deg == other.tilt_deg
    )


def most_followed_mm_s(case: Case, followed: Followed) -> float:
    """The largest feed at the edge that each straight axis, and the block rate, can hold."""
    first, second = (np.abs(rates).max(axis=0).tolist() for rates in followed.rates)
    most = case.machine.controller.blocks_per_s * followed.block_mm
    for n, role in enumerate(("traverse", "cross", "infeed")):
        axis = next((a for a in case.machine.axes.values() if a.role == role), None)
        if isinstance(axis, LinearAxis):
            most = min(most, axis.max_feed_mm_min / 60.0 / max(first[n], 1e-9))
            most = min(most, math.sqrt(axis.acceleration_mm_s2 / max(second[n], 1e-9)))
    turn = next((a for a in case.machine.axes.values() if a.role == "turn"), None)
    if followed.turn_sign is not None and turn is not None and not isinstance(turn, LinearAxis):
        most = min(most, turn.max_feed_deg_min / 60.0 / max(followed.turn_rate, 1e-9))
    return most
