"""What the header says of program zero, held against the zero that the program is judged from.

Nobody sets up by the blocks of a program: the wheel is touched off where the header says. A header
that names another place, end or face is as bad as a wrong infeed.
"""

from __future__ import annotations

import re

from planner.proof.bulge import BulgeGoal, FlatGoal
from planner.proof.case import Case
from planner.proof.claims import Claims
from planner.proof.faultlog import FaultLog
from planner.proof.operation import SetupName
from planner.proof.rules import Rule

_ANCHOR = re.compile(r"traverse 0 at ([0-9]{1,5}\.[0-9]{1,6}) mm from heel")
_AXIS_MM = 0.5e-4 + 1e-9
"""Half of the header's last decimal."""
_ANCHOR_MM = 1e-3
"""The header's fourth decimal, and an anchor that both sides find by steps of their own."""


def check_zero(claims: Claims, case: Case, log: FaultLog) -> None:
    """Fault a claim of zero at another place, or at another end or anchor, than the proof's."""
    if not claims.zero:
        return
    places = ["wheel bares on " + where for where in _bares_on(case)]
    along = _along(case)
    claimed_place, _, claimed_along = claims.zero.rpartition(", ")
    if claimed_place in places and _is_at(claimed_along, along, case):
        return
    claim, by = f"zero {claims.zero}", f"zero {places[0]}, {along}"
    log.add(claims.zero_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)


def check_sweep(claims: Claims, case: Case, log: FaultLog) -> None:
    """Fault a claim of a tilt that is swept from other facets, or about another axis."""
    claim, sweep, axis = claims.sweep, case.sweep, case.machine.fixture.tilt_axis
    if claim is None:
        return
    if sweep is None or axis is None:
        by = "a set-up of one tilt"
    else:
        off = [abs(a - b) for a, b in zip(claim.axis_yz_mm, axis.at_yz_mm, strict=True)]
        if claim.facets == len(sweep.facets) and max(off) <= _AXIS_MM:
            return
        y, z = axis.at_yz_mm
        by = f"{len(sweep.facets)} facets about y {y:.4f} z {z:.4f}"
    log.add(claim.line, Rule.CLAIM_CONTRADICTED, claim=claim.text, by=by)


def _bares_on(case: Case) -> list[str]:
    """The place on the blade over which the frame of the proof has its origin, in its words.

    Of an edge that is followed the anchor's length is told, and there the face may be enough.
    """
    face = case.setup.face
    place = _place(case.setup, case.bulge).format(face=face)
    return [place] if case.followed is None else [f"face {face}", place]


def _place(setup: SetupName, bulge: FlatGoal | BulgeGoal | None) -> str:
    if setup.operation == "relief":
        return "face {face}, middle of relief"
    if setup.operation == "lands":
        return "lands of face {face}"
    if setup.stage <= 1:
        return "corner of stock, face {face}"
    # A flat begins on the corner that the one before left, a turn of a bevel on its whole face.
    return "shoulder so far, face {face}" if bulge else "bevel of face {face} so far"


def _along(case: Case) -> str:
    if case.followed is not None:
        return f"traverse 0 at {case.followed.line.anchor_mm:.4f} mm from heel"
    carried_by = "traverse" if case.turned is None else "turn"
    return f"{carried_by} 0 at {case.frame.near_end}"


def _is_at(claimed: str, wanted: str, case: Case) -> bool:
    if case.followed is None:
        return claimed == wanted
    match = _ANCHOR.fullmatch(claimed)
    return match is not None and abs(float(match[1]) - case.followed.line.anchor_mm) <= _ANCHOR_MM
