"""What each pass of a program claims of itself, held against the pass that follows."""

from __future__ import annotations

import math
import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tokens import Block

_PASS = re.compile(
    r"pass ([0-9]{1,6}) of ([0-9]{1,6}) \S+ depth ([0-9]{1,6}(?:\.[0-9]{1,6})?)"
    r"(?: cross (-?[0-9]{1,6}(?:\.[0-9]{1,6})?))?"
    r"(?: tilt (-?[0-9]{1,3}(?:\.[0-9]{1,6})?))?"
)
_TILT_SLACK_DEG = 1e-9


class PassClaim(NamedTuple):
    """``pass 3 of 9 finish depth 0.0180``, and by how much a written number may be rounded.

    In a relief that is generated in lines `` cross 1.2000`` follows, where the tilt is swept
    `` tilt 12.5000``, both in the touch frame.
    """

    line: int
    text: str
    depth_mm: float
    rounding_mm: float
    cross_mm: float | None
    cross_rounding_mm: float
    tilt_deg: float | None = None
    tilt_rounding_deg: float = 0.0


def read_pass_claims(
    blocks: Sequence[Block], log: FaultLog, first: int = 1, last: int | None = None
) -> list[PassClaim]:
    """The claims of the passes; numbers that do not run from ``first`` to their total are a fault.

    With ``last`` the passes after it are not read: the program was broken off there.
    """
    claims: list[PassClaim] = []
    total = "0"
    for block in blocks:
        for comment in block.comments:
            match = _PASS.fullmatch(comment)
            if match is None or (last is not None and len(claims) == last):
                continue
            cross, tilt = match[4] or "", match[5] or ""
            claims.append(
                PassClaim(
                    line=block.line,
                    text=comment,
                    depth_mm=float(match[3]),
                    rounding_mm=_rounding_mm(match[3]),
                    cross_mm=float(cross) if cross else None,
                    cross_rounding_mm=_rounding_mm(cross),
                    tilt_deg=float(tilt) if tilt else None,
                    tilt_rounding_deg=_rounding_mm(tilt),
                )
            )
            total = match[2] if len(claims) == 1 else total
            number = first - 1 + len(claims)
            if (int(match[1]), match[2]) != (number, total):
                by = f"{number} of {total} would be next"
                log.add(block.line, Rule.CLAIM_CONTRADICTED, claim=comment, by=by)
    if last is None and claims and first - 1 + len(claims) < int(total):
        by = f"only {len(claims)} passes follow"
        log.add(claims[0].line, Rule.CLAIM_CONTRADICTED, claim=claims[0].text, by=by)
    return claims


def is_pass_claim(comment: str) -> bool:
    """Whether a comment claims a pass."""
    return _PASS.fullmatch(comment) is not None


def _rounding_mm(written: str) -> float:
    return 0.5 * 10.0 ** -len(written.partition(".")[2])


class CutMove(NamedTuple):
    """A feed move along the edge below the unground face, and how far wear may leave it behind,
    or two ways of working wear out have it ahead."""

    line: int
    depth_mm: float
    behind_mm: float
    ahead_mm: float
    cross_mm: float
    tilt_deg: float


def check_pass_claims(
    claims: Sequence[PassClaim],
    moves: Sequence[CutMove],
    slack_mm: float,
    log: FaultLog,
    *,
    in_lines: bool = False,
    swept: bool = False,
    cross_slack_mm: float = 0.0,
) -> None:
    """Fault each claim that is not followed by a move in contact at the depth it says.

    ``moves`` are in line order; ``slack_mm`` is for their own rounding. Of a relief generated
    ``in_lines`` each pass claims its cross too, of a bevel whose tilt is ``swept`` its tilt, and of
    no other; ``cross_slack_mm`` is how far more a cross may be off.
    """
    lines = [move.line for move in moves]
    for index, claim in enumerate(claims):
        until = claims[index + 1].line if index + 1 < len(claims) else math.inf
        here = moves[bisect_right(lines, claim.line) : bisect_left(lines, until)]
        most = claim.rounding_mm + slack_mm
        wrong = [
            m
            for m in here
            if not -most - m.behind_mm <= m.depth_mm - claim.depth_mm <= most + m.ahead_mm
        ]
        if wrong or not here:
            by = f"a pass at {wrong[0].depth_mm:.4f} mm" if wrong else "no pass in contact"
            log.add(claim.line, Rule.CLAIM_CONTRADICTED, claim=claim.text, by=by)
        _check_cross(claim, here, slack_mm + cross_slack_mm, log, in_lines=in_lines)
        _check_tilt(claim, here, log, swept=swept)


def _check_tilt(claim: PassClaim, moves: Sequence[CutMove], log: FaultLog, *, swept: bool) -> None:
    if claim.tilt_deg is None:
        by = "a tilt that is swept: each pass tells its own" if swept else ""
    elif not swept:
        by = "a set-up that stays at one tilt"
    else:
        most = claim.tilt_rounding_deg + _TILT_SLACK_DEG
        wrong = [move.tilt_deg for move in moves if abs(move.tilt_deg - claim.tilt_deg) > most]
        by = f"a pass at tilt {wrong[0]:.4f} deg" if wrong else ""
    if by:
        log.add(claim.line, Rule.CLAIM_CONTRADICTED, claim=claim.text, by=by)


def _check_cross(
    claim: PassClaim, moves: Sequence[CutMove], slack_mm: float, log: FaultLog, *, in_lines: bool
) -> None:
    if claim.cross_mm is None:
        by = "a relief in lines: each pass tells its cross" if in_lines else ""
    elif not in_lines:
        by = "a set-up that stays at one cross"
    else:
        most = claim.cross_rounding_mm + slack_mm
        wrong = [move.cross_mm for move in moves if abs(move.cross_mm - claim.cross_mm) > most]
        by = f"a pass at cross {wrong[0]:.4f} mm" if wrong else ""
    if by:
        log.add(claim.line, Rule.CLAIM_CONTRADICTED, claim=claim.text, by=by)
