"""A row of blades: what is filled, and what may happen between one blade and the next.

Each filled station is judged on its own, in the x of its own edge; the rest of the row lies beyond
the ends of that edge.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from planner.errors import Fault
from planner.inputs.machine import Machine
from planner.proof.claims import Claims
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.traverses import span_within

_SLACK_MM = 1e-6
_HALF_DECIMAL_MM = 0.5e-4
"""Half a last decimal of the positions in the header."""


@dataclass(frozen=True)
class RowAround:
    """The row as seen from one of its blades, in the x of that blade's edge."""

    low_mm: float
    """Where the row's blades begin, as far as stations are filled."""
    high_mm: float
    empty: tuple[tuple[int, float, float], ...] = ()
    """Each empty station: its number, and from where to where a blade would stand in it."""
    blades: int = 1


class Section(NamedTuple):
    """Where the wheel stands in the section plane, in the touch frame."""

    cross: float
    infeed: float
    tilt: float


def row_around(
    machine: Machine,
    edge_length_mm: float,
    station: int,
    filled: Sequence[int],
    x_at_zero_mm: float,
    x_per_traverse: float,
) -> RowAround:
    """The row from one filled station, whose own edge runs from x = 0 to its length."""
    row = machine.fixture.row
    positions = [0.0] if row is None else row.positions_mm

    def span(first: int, last: int) -> tuple[float, float]:
        ends = (positions[first - 1], positions[last - 1] + edge_length_mm)
        low, high = sorted(x_at_zero_mm + x_per_traverse * end for end in ends)
        return low, high

    empty = [n for n in range(1, len(positions) + 1) if n not in filled]
    if station not in filled:
        raise ValueError(f"station: {station} is not filled")
    return RowAround(
        *span(filled[0], filled[-1]), tuple((n, *span(n, n)) for n in empty), len(filled)
    )


class RowWatch:
    """Watches what one blade does not see: the empty stations, and the way between blades."""

    def __init__(self, row: RowAround, reach_mm: float, clear_mm: float, log: FaultLog):
        self._row = row
        self._reach_mm = reach_mm - _SLACK_MM
        self._clear_mm = clear_mm
        self._log = log
        self._down: Section | None = None
        """Where the wheel has been in this pass along the row, below clearance."""

    def move(self, line: int, x_mm: tuple[float, float], start: Section, end: Section) -> None:
        """Follow one move from a place to another; it is straight in x and in the section."""
        for number, low, high in self._row.empty:
            shares = self._shares_over(x_mm, low, high)
            if shares is None:
                continue
            lowest = min(start.infeed + s * (end.infeed - start.infeed) for s in shares)
            if lowest < self._clear_mm:
                self._log.add(line, Rule.EMPTY_STATION, station=number, infeed_mm=lowest)
        if self._row.blades > 1:
            self._along(line, x_mm, start, end)

    def _along(self, line: int, x_mm: tuple[float, float], start: Section, end: Section) -> None:
        """All blades of a pass at one place in the section, but for hops at clearance."""
        low, high = self._row.low_mm - self._reach_mm, self._row.high_mm + self._reach_mm
        if not low < x_mm[0] < high:
            self._down = None  # off an end of the row
        if x_mm[0] == x_mm[1] or self._shares_over(x_mm, *self._ends) is None:
            return
        if min(start.infeed, end.infeed) >= self._clear_mm:
            return
        before = self._down or start
        if math.dist(before, end) > _SLACK_MM or math.dist(before, start) > _SLACK_MM:
            self._log.add(line, Rule.ROW_UNEVEN, before_mm=before.infeed, infeed_mm=end.infeed)
        self._down = end

    @property
    def _ends(self) -> tuple[float, float]:
        return self._row.low_mm, self._row.high_mm

    def _shares_over(
        self, x_mm: tuple[float, float], low: float, high: float
    ) -> tuple[float, float] | None:
        return span_within(*x_mm, low - self._reach_mm, high + self._reach_mm)


def filled_by_claims(
    claims: Claims,
    machine: Machine,
    near_end: str,
    asked: Sequence[int] | None,
    least_gap_mm: float,
    edge_length_mm: float,
    log: FaultLog,
) -> tuple[int, ...]:
    """The stations that hold a blade, by the header or as ``asked``; empty where none is known.

    Each station of the machine file must be claimed once, in its place, by the end of the blade
    that the traverse meets first (``near_end``, heel or tip). A fixture without a row holds one.
    """
    row = machine.fixture.row
    line = claims.stations[0].line if claims.stations else 0
    if row is None:
        for claim in claims.stations:
            by = "a fixture that holds one blade"
            log.add(claim.line, Rule.CLAIM_CONTRADICTED, claim=claim.text, by=by)
        if asked is not None:
            by = "a fixture that holds one blade"
            log.add(0, Rule.CLAIM_CONTRADICTED, claim="stations asked for", by=by)
        return (1,)
    _check_gaps(row.positions_mm, least_gap_mm, edge_length_mm, line, log)
    filled = _claimed(claims, row.positions_mm, near_end, log)
    if asked is None:
        if not filled:
            log.add(line, Rule.CLAIM_MISSING, claim="stations")
        return filled
    count = len(row.positions_mm)
    wanted = tuple(sorted({n for n in asked if 1 <= n <= count}))
    words = f"stations {_listed(asked)} asked for"
    if len(wanted) != len(set(asked)):
        log.add(0, Rule.CLAIM_CONTRADICTED, claim=words, by=f"{count} stations in the machine file")
    elif claims.stations and wanted != filled:
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=words, by=f"stations {_listed(filled)}")
    return wanted


def _claimed(
    claims: Claims, positions_mm: Sequence[float], near_end: str, log: FaultLog
) -> tuple[int, ...]:
    count = len(positions_mm)
    ends: dict[int, str] = {}
    for claim in claims.stations:
        by = ""
        if claim.total != count or not 1 <= claim.number <= count:
            by = f"{count} stations in the machine file"
        elif claim.number in ends:
            by = "another line for the same station"
        elif claim.end:
            at = positions_mm[claim.number - 1]
            if claim.end != near_end or abs(claim.at_mm - at) > _HALF_DECIMAL_MM + 1e-9:
                by = f"{near_end} at {at:.4f} mm"
        if by:
            log.add(claim.line, Rule.CLAIM_CONTRADICTED, claim=claim.text, by=by)
        ends[claim.number] = claim.end
    untold = [n for n in range(1, count + 1) if n not in ends]
    if claims.stations and untold:
        log.add(0, Rule.CLAIM_MISSING, claim=f"stations, {_listed(untold)} among them,")
    return tuple(n for n in range(1, count + 1) if ends.get(n))


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(n) for n in numbers)


def _check_gaps(
    positions_mm: Sequence[float], least_mm: float, length_mm: float, line: int, log: FaultLog
) -> None:
    """Fault neighbours between which the wheel is not in air for as long as the run-off."""
    for before, after in pairwise(positions_mm):
        gap = after - before - length_mm
        if gap < least_mm - _SLACK_MM:
            log.add(line, Rule.ROW_TOO_CLOSE, gap_mm=gap, least_mm=least_mm)


def told_by_station(found: Mapping[int, Sequence[Fault]], log: FaultLog) -> None:
    """Put what each blade's judge found into one log.

    A fault that not every blade has says which have it.
    """
    stations: dict[tuple[int, str], list[int]] = {}
    first: dict[tuple[int, str], Fault] = {}
    for number, faults in found.items():
        for fault in faults:
            key = (fault.line, fault.rule)
            stations.setdefault(key, []).append(number)
            first.setdefault(key, fault)
    for key, fault in first.items():
        facts = dict(fault.facts)
        if len(stations[key]) < len(found):
            facts["row_station"] = _listed(stations[key])
        log.add(fault.line, Rule(fault.rule), **facts)
