"""Judges a program that turns its tilt from facet to facet: each as a flat bevel of its own.

The steel, the wheel's wear and the switches go on from one facet to the next; depths, tolerances
and what is measured are those of the facet whose tilt is nearest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from planner.proof.case import Case
from planner.proof.events import Move
from planner.proof.faultlog import FaultLog
from planner.proof.finish import Finish
from planner.proof.judge import Begun, Judge
from planner.proof.sweep import Sweep
from planner.proof.verdict import Bevel


def judge_of(case: Case, log: FaultLog, **options: Any) -> Judge:
    """The judge of a case; ``options`` are those of ``Judge``."""
    return (Judge if case.sweep is None else SweepJudge)(case, log, **options)


class SweepJudge(Judge):
    """A judge that holds each facet of a sweep when the tilt leaves it, and the arc at the end."""

    def __init__(self, case: Case, log: FaultLog, **options: Any) -> None:
        """See ``Judge``; the case is that of the whole sweep."""
        super().__init__(case, log, **options)
        assert case.sweep is not None
        self._sweep: Sweep = case.sweep
        begun: Begun | None = options.get("begun")
        self._found = [] if begun is None else list(begun.bevels)
        """Of the facets done, each station's worst."""
        self._hold_to_facet(max(self._blade.facet, 0))

    def break_off(self) -> Begun:
        """See ``Judge``."""
        return super().break_off()._replace(bevels=tuple(self._found))

    def turn_to(self, tilt_deg: float) -> None:
        """Leave every facet before that of a tilt behind, measured."""
        facet = self._sweep.nearest(tilt_deg)
        if facet == self._blade.facet:
            return
        if not self._air_run:
            self._traverses.end(self._last_line)
            self._grinding.close_all()
            self._measure(range(self._blade.facet, max(facet, self._blade.facet + 1)))
        self._hold_to_facet(facet)

    def _move(self, move: Move) -> None:
        start, end = self._here, self._placing.place(move.end)
        super()._move(move)
        if end.tilt is not None and end.tilt != start.tilt:
            self._last_line = self._last_line or move.line
            self.turn_to(end.tilt)

    def _finish(self, line: int) -> Finish:
        """Measure the facet that the program ends in, and those that it never came to."""
        self._last_line = line
        finish = self._measure(range(self._blade.facet, len(self._sweep.facets)))
        finish.bevels = self._found
        return finish

    def _measure(self, facets: Sequence[int]) -> Finish:
        """Hold one facet after another to what its own program would have to leave."""
        for facet in facets:
            self._hold_to_facet(facet)
            finish = super()._finish(self._last_line)
            self._found = _worst(finish.bevels, self._found)
        return finish

    def _hold_to_facet(self, facet: int) -> None:
        case = self._sweep.facets[facet]
        if self._blade.facet != facet:
            self._blade.turn_to(case, facet)
        self._hold_to(case)
        self._grinding.hold_to(case)


def _worst(now: Sequence[Bevel], before: Sequence[Bevel]) -> list[Bevel]:
    """The edge and the arc as they are now; of all facets, the most over and under their planes."""
    if not before:
        return list(now)
    return [
        replace(
            at,
            highest_mm=max(at.highest_mm, was.highest_mm),
            lowest_mm=min(at.lowest_mm, was.lowest_mm),
        )
        for at, was in zip(now, before, strict=True)
    ]
