"""Proves a program: from its bytes, the job and the machine to a verdict.

Nothing of the planner is used here. ``docs/proof.md`` says what is proved and what is not.
"""

from __future__ import annotations

import hashlib
from typing import cast

from planner.inputs.job import Job
from planner.inputs.machine import Machine, Wheel
from planner.proof.case import Case, build_case, program_axes
from planner.proof.claims import (
    Claims,
    check_pass_claims,
    read_claims,
    read_pass_claims,
)
from planner.proof.dialects import DIALECTS
from planner.proof.faultlog import FaultLog
from planner.proof.interpreter import Interpreter
from planner.proof.judge import Judge
from planner.proof.rules import Rule
from planner.proof.second_reader import check_words
from planner.proof.target import FaceName, ImpossibleError
from planner.proof.tokens import read_blocks, split_lines
from planner.proof.verdict import AIR_RUN, Cut, Lands, PathPoint, Verdict
from planner.proof.wear import most_worn_before_mm

__all__ = ["Cut", "Lands", "PathPoint", "Verdict", "prove_program"]

_MM_PER_INCH = 25.4


def prove_program(
    data: bytes,
    job: Job,
    machine: Machine,
    *,
    setup: str | None = None,
    wheel: str | None = None,
) -> Verdict:
    """Whether the program grinds its face of the job's blade on this machine, and stays safe.

    ``setup`` (A or B) and ``wheel`` (a name in the rack) stand in for the header's claims. Never
    raises on any bytes: whatever is wrong with them is a fault in the verdict.
    """
    lines = split_lines(data)
    log = FaultLog(lines)
    blocks = read_blocks(lines, data.endswith(b"\n"), log)
    check_words(blocks, log)
    axes = {letter: axis.rotary for letter, axis in program_axes(machine).items()}
    interpreter = Interpreter(DIALECTS[machine.controller.dialect], axes, log)
    interpreter.run(blocks)
    claims = read_claims(blocks, log)
    face = _face(claims, setup, job, log)
    mounted = _wheel(claims, wheel, job, machine, log)
    _check_clear(claims, machine, log)
    case = _case(job, machine, face, mounted, log)
    judge = None
    if case is not None:
        most_worn = most_worn_before_mm(case)
        if claims.worn_mm > most_worn:
            by = f"at most {most_worn:.4f} mm by the job and the wheel's G ratio"
            claim = f"worn {claims.worn_mm:.4f} mm"
            log.add(claims.worn_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)
        judge = Judge(case, log, air_run=claims.kind == AIR_RUN, worn_mm=claims.worn_mm)
        judge.run(interpreter.events)
        if judge.finished and claims.kind != AIR_RUN:
            check_pass_claims(
                read_pass_claims(blocks, log),
                judge.cut_moves,
                2.0 * case.half_decimal_mm,
                log,
            )
    faults = log.in_line_order()
    return Verdict(
        ok=not faults,
        sha256=hashlib.sha256(data).hexdigest(),
        kind=claims.kind,
        setup=face,
        face=face,
        wheel="" if mounted is None else mounted.name,
        lands=tuple(judge.lands) if judge else (),
        cuts=tuple(judge.cuts) if judge else (),
        faults=faults,
        positions=tuple(judge.positions) if judge else (),
    )


def _face(claims: Claims, setup: str | None, job: Job, log: FaultLog) -> str:
    """The set-up's name, which is its face's; empty where it is not known."""
    name = claims.face if setup is None else setup
    if name not in ("A", "B"):
        if setup is not None:
            log.add(0, Rule.CLAIM_CONTRADICTED, claim=f"setup {setup}", by="set-ups A and B")
        elif claims.setup_line == 0:
            log.add(0, Rule.CLAIM_MISSING, claim="setup")
        return ""
    if claims.face not in ("", name):
        log.add(
            claims.setup_line,
            Rule.CLAIM_CONTRADICTED,
            claim=f"setup {claims.setup} face {claims.face}",
            by=f"set-up {name} asked for",
        )
    if job.relief.faces not in ("both", name):
        log.add(
            claims.setup_line, Rule.CLAIM_CONTRADICTED, claim=f"face {name}", by="the job's faces"
        )
    return name


def _wheel(
    claims: Claims, wheel: str | None, job: Job, machine: Machine, log: FaultLog
) -> Wheel | None:
    name = claims.wheel if wheel is None else wheel
    if not name:
        log.add(0, Rule.CLAIM_MISSING, claim="wheel")
        return None
    line = 0 if wheel is not None else claims.wheel_line
    if claims.wheel and _blanks_closed(claims.wheel) != _blanks_closed(name):
        by = f"wheel {name} asked for"
        log.add(claims.wheel_line, Rule.CLAIM_CONTRADICTED, claim=f"wheel {claims.wheel}", by=by)
    mounted = [w for w in machine.rack if _blanks_closed(w.name) == _blanks_closed(name)]
    if len(mounted) != 1:
        log.add(line, Rule.UNKNOWN_WHEEL, wheel=name, found=len(mounted))
        return None
    if job.wheel is not None and job.wheel != mounted[0].name:
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"wheel {name}", by=f"job: {job.wheel}")
    return mounted[0]


def _blanks_closed(name: str) -> str:
    """The name as a comment shows it: blanks in a row are one there."""
    return " ".join(name.split())


def _check_clear(claims: Claims, machine: Machine, log: FaultLog) -> None:
    if claims.clear_mm is None:
        return
    controller = machine.controller
    unit = 1.0 if controller.units == "mm" else _MM_PER_INCH
    least = machine.fixture.clearance_mm
    # The claim may be the axis's own number, so an inverted infeed shows it below zero.
    if abs(claims.clear_mm) < least - 0.5 * 10.0**-controller.decimals * unit - 1e-9:
        log.add(
            claims.clear_line,
            Rule.CLAIM_CONTRADICTED,
            claim=f"clear {claims.clear_mm:g} mm",
            by=f"fixture clearance {least:g} mm",
        )


def _case(job: Job, machine: Machine, face: str, wheel: Wheel | None, log: FaultLog) -> Case | None:
    if not face or wheel is None:
        return None
    try:
        return build_case(job, machine, cast("FaceName", face), wheel)
    except ImpossibleError as error:
        log.add(0, Rule.IMPOSSIBLE_GEOMETRY, reason=str(error))
    return None
