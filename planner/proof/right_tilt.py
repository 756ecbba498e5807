"""Whether the blade is ground at the tilt that it should be."""

from __future__ import annotations

from planner.proof.axes import reachable_tilt_deg
from planner.proof.case import Case, held_tilt_deg
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tool import RimTool

_TILT_SLACK_DEG = 1e-9


class RightTilt:
    """Holds the tilt in the cut against the nearest to the ideal that exists."""

    def __init__(self, case: Case, log: FaultLog) -> None:
        """For one set-up."""
        self._case = case
        self._log = log
        self._tilts_deg = _right_tilts_deg(case)

    def check(self, line: int, tilt_deg: float) -> None:
        """Fault a tilt that is off by more than half its last decimal."""
        half_decimal = 0.5 * 10.0**-self._case.machine.controller.rotary_decimals
        off = [abs(tilt_deg - right) for right in self._tilts_deg]
        if off and min(off) > half_decimal + _TILT_SLACK_DEG:
            self._log.add(line, Rule.WRONG_TILT, tilt_deg=tilt_deg, right_deg=self._tilts_deg[0])


def _right_tilts_deg(case: Case) -> tuple[float, ...]:
    """The reachable tilt nearest to the ideal: two where it lies half way between them."""
    index = case.by_role.get("tilt")
    if index is None:
        return ()
    axis = list(case.axes.values())[index]
    nearest, step = reachable_tilt_deg(case.machine, case.frame, axis)
    if isinstance(case.tool, RimTool):
        # The zero of a rim hangs on the way that it leans: it has one tilt.
        return (held_tilt_deg(case),)
    other = 2.0 * case.frame.ideal_tilt_deg - nearest
    half_way = abs(abs(other - nearest) - step) < _TILT_SLACK_DEG
    return (nearest, other) if half_way else (nearest,)
