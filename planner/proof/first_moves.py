"""What a program may do before it has told every axis where it stands."""

from __future__ import annotations

from planner.proof.faultlog import FaultLog
from planner.proof.placing import Place
from planner.proof.rules import Rule


class FirstMoves:
    """Holds the moves before the program has told every axis where it stands."""

    def __init__(self, clear_mm: float, log: FaultLog) -> None:
        """``clear_mm`` is the infeed at which the wheel is clear of everything."""
        self._clear_mm = clear_mm
        self._log = log
        self._unknown_told = False

    def check(self, line: int, start: Place, end: Place) -> None:
        """Before all axes are told, the wheel must be clear: the infeed alone moves first."""
        if start.infeed is None:
            if end.infeed is None or end._replace(infeed=None) != start:
                self.unknown(line, start)
            elif end.infeed < self._clear_mm:
                self._log.add(line, Rule.START_NOT_CLEAR, infeed_mm=end.infeed)
        elif end.infeed is not None and min(start.infeed, end.infeed) < self._clear_mm:
            self.unknown(line, start)

    def unknown(self, line: int, start: Place) -> None:
        """Fault, once, what moves or ends while a place is not known."""
        if not self._unknown_told:
            self._unknown_told = True
            unknown = [role for role, at in zip(Place._fields, start, strict=True) if at is None]
            self._log.add(line, Rule.UNKNOWN_POSITION, axes=", ".join(unknown))
