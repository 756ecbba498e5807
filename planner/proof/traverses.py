"""Passes along the edge: from off one end to off the other, without a turn on the way."""

from __future__ import annotations

from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule

_SLACK_MM = 1e-6


class Traverses:
    """Follows the wheel along the edge; x is where its middle plane stands.

    A blade in a row has neighbours: a pass then runs over all of them, from ``row_mm`` on one side
    to the other.
    """

    def __init__(
        self, edge_length_mm: float, reach_mm: float, log: FaultLog, row_mm: tuple[float, float]
    ) -> None:
        """``reach_mm`` is how far to either side of its middle the wheel touches the blade."""
        reach = reach_mm - _SLACK_MM
        self._low, self._high = -reach, edge_length_mm + reach
        self._row_low, self._row_high = row_mm[0] - reach, row_mm[1] + reach
        self._log = log
        self._from: str | None = None
        self._way = 0.0
        self._turned = False
        self._contact_line = 0

    def side(self, x_mm: float) -> str | None:
        """``heel`` or ``tip`` where the wheel is wholly past that end of the row, else None."""
        if x_mm <= self._row_low:
            return "heel"
        return "tip" if x_mm >= self._row_high else None

    def over_blade(self, x_mm: float) -> bool:
        """Whether some of the wheel's width is over the blade itself."""
        return self._low < x_mm < self._high

    def span_over_blade(self, start_mm: float, end_mm: float) -> tuple[float, float] | None:
        """Shares of a move between which the wheel is over the blade; None where it never is."""
        return span_within(start_mm, end_mm, self._low, self._high)

    def move(self, line: int, start_mm: float, end_mm: float, *, contact: bool) -> None:
        """Follow one move; ``contact`` is whether it touched steel."""
        start, end = self.side(start_mm), self.side(end_mm)
        way = (end_mm > start_mm) - (end_mm < start_mm)
        if start is not None:
            self._from, self._way, self._turned, self._contact_line = start, 0.0, False, 0
        if way:
            self._turned = self._turned or self._way not in (0.0, way)
            self._way = way
        if contact:
            self._contact_line = self._contact_line or line
        if end is not None:
            self._arrive(line, end)

    def _arrive(self, line: int, side: str) -> None:
        whole = self._from is not None and self._from != side and not self._turned
        if self._contact_line and not whole:
            self._log.add(line, Rule.PASS_INCOMPLETE, contact_line=self._contact_line)
        self._contact_line = 0

    def end(self, line: int) -> None:
        """Fault a pass that the program's end cuts short."""
        if self._contact_line:
            self._log.add(line, Rule.PASS_INCOMPLETE, contact_line=self._contact_line)


def span_within(start: float, end: float, low: float, high: float) -> tuple[float, float] | None:
    """Shares of the way from ``start`` to ``end`` at which the value is in [low, high].

    >>> span_within(-10.0, 30.0, 0.0, 20.0)
    (0.25, 0.75)
    >>> span_within(5.0, 5.0, 0.0, 20.0), span_within(25.0, 30.0, 0.0, 20.0)
    ((0.0, 1.0), None)
    """
    if start == end:
        return (0.0, 1.0) if low <= start <= high else None
    first, last = sorted(((low - start) / (end - start), (high - start) / (end - start)))
    first, last = max(first, 0.0), min(last, 1.0)
    return (first, last) if first <= last else None
