"""Proves a program: from its bytes, the job and the machine to a verdict.

Nothing of the planner is used here. ``docs/proof.md`` says what is proved and what is not.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from planner.errors import Fault
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.proof.axes import program_axes
from planner.proof.blade import MIDDLE_STATION, Blade
from planner.proof.build_case import build_case, grinds_relief
from planner.proof.bulge import MOST_FLATS, bulge_setups
from planner.proof.case import Case, infeed_step_mm
from planner.proof.claims import Claims, read_claims
from planner.proof.dialects import DIALECTS
from planner.proof.events import End, Event, Move
from planner.proof.faultlog import FaultLog
from planner.proof.interpreter import Interpreter
from planner.proof.judge import Begun, Judge
from planner.proof.operation import FACES, SetupName, read_setup_name, setup_names
from planner.proof.pass_claims import check_pass_claims, is_pass_claim, read_pass_claims
from planner.proof.row import filled_by_claims, told_by_station
from planner.proof.rules import Rule
from planner.proof.second_reader import check_words
from planner.proof.sweep_judge import SweepJudge, judge_of
from planner.proof.target import ImpossibleError
from planner.proof.tokens import Block, read_blocks, split_lines
from planner.proof.verdict import AIR_RUN, Before, Bevel, Cut, Lands, PathPoint, Trail, Verdict
from planner.proof.wear import most_worn_before_mm
from planner.proof.zero_line import check_sweep, check_zero

__all__ = ["Before", "Bevel", "Cut", "Lands", "PathPoint", "Verdict", "prove_program"]

_MM_PER_INCH = 25.4
_WRITTEN = 0.5e-4 + 1e-6
"""Half of the last decimal that a setting made by hand is written with."""


def prove_program(
    data: bytes,
    job: Job,
    machine: Machine,
    *,
    setup: str | None = None,
    wheel: str | None = None,
    stations: Sequence[int] | None = None,
    before: Before | None = None,
) -> Verdict:
    """Whether the program grinds its face of the job's blade on this machine, and stays safe.

    ``setup`` (A, bevel-A …), ``wheel`` (a name in the rack) and ``stations`` (those of a row that
    hold a blade) stand in for the header's claims. Of a row each filled station is judged on its
    own.
    ``before`` is the program that this one goes on from: both together are to make the blade, and
    the faults of the first, as far as it ran, are in ``faults_before``. Never raises on any
    bytes: whatever is wrong with them is a fault in the verdict.
    """
    log, blocks, events = _read(data, machine)
    claims = read_claims(blocks, log)
    _check_goes_on(claims, before, log)
    named = _setup_name(claims, setup, job, machine, log)
    mounted = _wheel(claims, wheel, named, job, machine, log)
    _check_clear(claims, machine, log)
    found: list[_Judged] = []
    filled: tuple[int, ...] = ()
    turns = _turns(machine, events)
    one = _case(job, machine, claims, named, mounted, 1, (1,), log, turns=turns)
    if one is not None and named is not None:
        least_gap_mm = 2.0 * one.reach_mm + machine.fixture.run_off_mm
        near_end = one.frame.near_end
        filled = filled_by_claims(
            claims, machine, near_end, stations, least_gap_mm, one.edge_length_mm, log
        )
        program = _Program(claims, blocks, events, split_lines(data))
        for number in filled:
            case = _case(job, machine, claims, named, mounted, number, filled, log, turns=turns)
            if case is None:
                break
            found.append(_judged(program, case, before, found[0] if found else None))
    faults_before = _told({n: j.faults_before for n, j in zip(filled, found, strict=False)}, before)
    told_by_station({n: j.faults for n, j in zip(filled, found, strict=False)}, log)
    faults = log.in_line_order()
    in_row = machine.fixture.row is not None
    return Verdict(
        ok=not faults and not faults_before,
        sha256=hashlib.sha256(data).hexdigest(),
        kind=claims.kind,
        setup="" if named is None else named.text,
        face="" if named is None else named.face,
        wheel="" if mounted is None else mounted.name,
        lands=tuple(
            replace(lands, row_station=number if in_row else 0)
            for number, judged in zip(filled, found, strict=False)
            for lands in judged.judge.lands
        ),
        cuts=tuple(found[0].judge.cuts) if found else (),
        faults=faults,
        positions=tuple(found[0].judge.positions) if found else (),
        faults_before=faults_before,
        stations=filled if in_row else (),
        bevels=tuple(
            replace(bevel, row_station=number if in_row else 0)
            for number, judged in zip(filled, found, strict=False)
            for bevel in judged.judge.bevels
        ),
        trail=found[0].trail if found else None,
    )


class _Program(NamedTuple):
    """One program as read."""

    claims: Claims
    blocks: list[Block]
    events: list[Event]
    lines: list[str]


class _Judged(NamedTuple):
    """What the judge of one blade has seen and found."""

    judge: Judge
    faults: tuple[Fault, ...]
    faults_before: tuple[Fault, ...]
    trail: Trail | None


def _judged(program: _Program, case: Case, before: Before | None, like: _Judged | None) -> _Judged:
    """Judge one blade, behind the passes ground ``before``; ``like`` is another of the row."""
    claims, log = program.claims, FaultLog(program.lines)
    _check_worn(claims, case, log)
    _check_set(claims, case, log)
    check_zero(claims, case, log)
    check_sweep(claims, case, log)
    begun, worn_mm = None, claims.worn_mm
    faults_before: tuple[Fault, ...] = ()
    another = None if like is None else like.judge.blade
    air_run = claims.kind == AIR_RUN
    # An air run is held off the blade as it was at first: more steel than there is now.
    if before is not None and not air_run:
        tilt_deg = next((c.tilt_deg for c in read_pass_claims(program.blocks, FaultLog([]))), None)
        begun, faults_before = _begun(before, claims, tilt_deg, case, log, another)
        worn_mm = claims.worn_mm if claims.new_wheel else begun.worn_mm
    judge = judge_of(case, log, air_run=air_run, worn_mm=worn_mm, begun=begun, like=another)
    blank = judge.blade.stations[MIDDLE_STATION].steel.polygon
    judge.run(program.events)
    trail = None
    if judge.finished and not air_run:
        first = 1 if before is None else before.passes + 1
        passes = read_pass_claims(program.blocks, log, first)
        check_pass_claims(
            passes,
            judge.cut_moves,
            judge.rounding_mm,
            log,
            in_lines=case.generates,
            swept=case.swept,
            cross_slack_mm=judge.beside_mm,
        )
        trail = Trail(case, passes, first, program.events, blank)
    return _Judged(judge, log.in_line_order(), faults_before, trail)


def _told(found: dict[int, tuple[Fault, ...]], before: Before | None) -> tuple[Fault, ...]:
    """The faults of the program that was broken off, as every blade of the row saw it."""
    if before is None:
        return ()
    log = FaultLog(split_lines(before.data))
    told_by_station(found, log)
    return log.in_line_order()


def _read(data: bytes, machine: Machine) -> tuple[FaultLog, list[Block], list[Event]]:
    lines = split_lines(data)
    log = FaultLog(lines)
    blocks = read_blocks(lines, data.endswith(b"\n"), log)
    check_words(blocks, log)
    axes = {letter: axis.rotary for letter, axis in program_axes(machine).items()}
    interpreter = Interpreter(DIALECTS[machine.controller.dialect], axes, log)
    interpreter.run(blocks)
    return log, blocks, interpreter.events


def _check_goes_on(claims: Claims, before: Before | None, log: FaultLog) -> None:
    """A program that goes on from a pass must be proved behind just the passes before it."""
    asked = 1 if before is None else before.passes + 1
    if claims.from_pass == asked or (claims.kind == AIR_RUN and before is None):
        return
    if before is None:
        by = "no program before it: all passes would start on the unground blade"
    else:
        by = f"{before.passes} passes before it"
    claim = f"from pass {claims.from_pass}"
    log.add(claims.from_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)


def _check_set(claims: Claims, case: Case, log: FaultLog) -> None:
    """What the header says is set by hand must be the setting that the proof counts on."""
    by_hand = (
        ("tilt", "deg", claims.set_tilt_deg, case.set_tilt_deg),
        ("cross", "mm", claims.set_cross_mm, case.set_cross_mm),
    )
    for what, unit, claimed, right in by_hand:
        if claimed is None:
            continue
        if right is None:
            by = f"a machine without a {what} that is set by hand"
        elif abs(claimed - right) > _WRITTEN:
            by = f"{what} {right:.4f} {unit}, the nearest that there is"
        else:
            continue
        claim = f"set {what} {claimed:.4f} {unit}"
        log.add(claims.set_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)


def _check_worn(claims: Claims, case: Case, log: FaultLog) -> None:
    most_worn = 0.0 if claims.new_wheel else most_worn_before_mm(case)
    if claims.worn_mm > most_worn:
        by = f"at most {most_worn:.4f} mm by the job and the wheel's G ratio"
        if claims.new_wheel:
            by = "a new wheel, touched off anew"
        claim = f"worn {claims.worn_mm:.4f} mm"
        log.add(claims.worn_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)


def _begun(
    before: Before,
    goes_on: Claims,
    goes_on_tilt_deg: float | None,
    case: Case,
    goes_on_log: FaultLog,
    like: Blade | None,
) -> tuple[Begun, tuple[Fault, ...]]:
    """The blade after the whole passes of a program that was broken off, and that part's faults.

    Of a sweep the facets before that of the tilt that it goes on at are measured.
    All behind its last whole pass is left out: neither the rest nor the end was run.
    """
    log, blocks, events = _read(before.data, case.machine)
    claims = read_claims(blocks, log)
    passes = read_pass_claims(blocks, log, last=before.passes)
    until = _line_of_pass(blocks, before.passes + 1)
    _check_same_setup(claims, goes_on, case, log, goes_on_log)
    if len(passes) < before.passes:
        claim = f"pass {len(passes) + 1} of the {before.passes} that were ground"
        log.add(0, Rule.CLAIM_MISSING, claim=claim)
    _check_worn(claims, case, log)
    check_zero(claims, case, log)
    judge = judge_of(case, log, air_run=False, worn_mm=claims.worn_mm, like=like)
    judge.run(event for event in events if event.line < until and not isinstance(event, End))
    if isinstance(judge, SweepJudge) and goes_on_tilt_deg is not None:
        judge.turn_to(goes_on_tilt_deg)
    begun = judge.break_off()
    check_pass_claims(
        passes,
        judge.cut_moves,
        judge.rounding_mm,
        log,
        in_lines=case.generates,
        swept=case.swept,
        cross_slack_mm=judge.beside_mm,
    )
    reached = begun.blade.stations[MIDDLE_STATION].steel.reached_mm
    if goes_on.new_wheel:
        _check_touch(goes_on, case.setup, reached, infeed_step_mm(case), goes_on_log)
    ran = [f for f in log.in_line_order() if f.line < until and f.rule != Rule.NO_END.value]
    return begun, tuple(ran)


def _line_of_pass(blocks: list[Block], number: int) -> float:
    """The line of the claim that comes ``number``-th; endless where there are fewer."""
    lines = [b.line for b in blocks for comment in b.comments if is_pass_claim(comment)]
    return lines[number - 1] if number <= len(lines) else math.inf


def _check_same_setup(
    first: Claims, goes_on: Claims, case: Case, log: FaultLog, goes_on_log: FaultLog
) -> None:
    """The first program must be a cutting program of the same face, wheel and touch-off."""
    if first.kind == AIR_RUN:
        log.add(0, Rule.CLAIM_CONTRADICTED, claim="kind air run", by="a blade that was ground")
    if first.setup not in ("", case.setup.text):
        by = f"set-up {case.setup.text} of the program that goes on"
        log.add(first.setup_line, Rule.CLAIM_CONTRADICTED, claim=f"setup {first.setup}", by=by)
    if first.wheel and _blanks_closed(first.wheel) != _blanks_closed(case.wheel.name):
        by = f"wheel {case.wheel.name} of the program that goes on"
        log.add(first.wheel_line, Rule.CLAIM_CONTRADICTED, claim=f"wheel {first.wheel}", by=by)
    if not goes_on.new_wheel and first.worn_mm != goes_on.worn_mm:
        claim = f"worn {goes_on.worn_mm:.4f} mm"
        by = f"worn {first.worn_mm:.4f} mm in the program before it, at the same touch-off"
        goes_on_log.add(goes_on.worn_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)
    told = [(c.number, c.end) for c in first.stations]
    for claim_of, other in zip(goes_on.stations, told, strict=False):
        if (claim_of.number, claim_of.end) != other:
            by = f"station {other[0]} {other[1] or 'empty'} in the program before it"
            goes_on_log.add(claim_of.line, Rule.CLAIM_CONTRADICTED, claim=claim_of.text, by=by)


def _check_touch(
    goes_on: Claims, setup: SetupName, reached_mm: float, step_mm: float, log: FaultLog
) -> None:
    """A new wheel's zero hangs on the depth that it bares at: it must be the depth reached."""
    if goes_on.touch_mm is None:
        log.add(0, Rule.CLAIM_MISSING, claim="depth at which the new wheel bares")
    elif goes_on.touch_operation != setup.operation:
        claim = f"touch on what {goes_on.touch_operation} leaves"
        log.add(goes_on.touch_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=f"set-up {setup.text}")
    elif abs(goes_on.touch_mm - reached_mm) > step_mm:
        claim = f"touch at depth {goes_on.touch_mm:.4f} mm"
        by = f"{reached_mm:.4f} mm reached by the passes before"
        log.add(goes_on.touch_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=by)


def _set_up_names(job: Job, machine: Machine) -> list[str]:
    """Those of the job; where its bevel cannot be ground, any that may be: the case says why."""
    try:
        return bulge_setups(job, machine)
    except ImpossibleError:
        counts = (1, MOST_FLATS)
        return [name for n in counts for name in setup_names(job, dict.fromkeys(FACES, n))]


def _setup_name(
    claims: Claims, setup: str | None, job: Job, machine: Machine, log: FaultLog
) -> SetupName | None:
    """The set-up that the program is for; None where it is not known."""
    text = claims.setup if setup is None else setup
    named = read_setup_name(text)
    names = _set_up_names(job, machine)
    if named is None:
        if setup is not None:
            by = f"set-ups {', '.join(names)}"
            log.add(0, Rule.CLAIM_CONTRADICTED, claim=f"setup {setup}", by=by)
        elif claims.setup_line == 0:
            log.add(0, Rule.CLAIM_MISSING, claim="setup")
        return None
    if claims.setup not in ("", text):
        log.add(
            claims.setup_line,
            Rule.CLAIM_CONTRADICTED,
            claim=f"setup {claims.setup} face {claims.face}",
            by=f"set-up {text} asked for",
        )
    if text not in names:
        by = f"the job's set-ups: {', '.join(names)}"
        log.add(claims.setup_line, Rule.CLAIM_CONTRADICTED, claim=f"setup {text}", by=by)
        # A plain face can still be judged where the job only does not ask for it.
        return None if named.stated or job.operations is not None else named
    return named


def _wheel(
    claims: Claims,
    wheel: str | None,
    setup: SetupName | None,
    job: Job,
    machine: Machine,
    log: FaultLog,
) -> Wheel | None:
    name = claims.wheel if wheel is None else wheel
    if not name:
        log.add(0, Rule.CLAIM_MISSING, claim="wheel")
        return None
    line = 0 if wheel is not None else claims.wheel_line
    if claims.wheel and _blanks_closed(claims.wheel) != _blanks_closed(name):
        by = f"wheel {name} asked for"
        log.add(claims.wheel_line, Rule.CLAIM_CONTRADICTED, claim=f"wheel {claims.wheel}", by=by)
    mounted = _in_rack(name, machine)
    if len(mounted) != 1:
        log.add(line, Rule.UNKNOWN_WHEEL, wheel=name, found=len(mounted))
        return None
    asked = _asked_wheel(job, setup)
    if asked is not None and asked != mounted[0].name:
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"wheel {name}", by=f"job: {asked}")
    return mounted[0]


def _in_rack(name: str, machine: Machine) -> list[Wheel]:
    return [w for w in machine.rack if _blanks_closed(w.name) == _blanks_closed(name)]


def _asked_wheel(job: Job, setup: SetupName | None) -> str | None:
    """The wheel that the job names for the set-up's operation."""
    if setup is None or setup.operation == "relief":
        return job.relief_wheel
    return next(o.wheel for o in job.operations or () if o.do == setup.operation)


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


def _turns(machine: Machine, events: Sequence[Event]) -> bool:
    """Whether a program moves the turn away from its zero."""
    roles = [axis.role for axis in machine.axes.values()]
    if "turn" not in roles:
        return False
    index = roles.index("turn")
    return any(isinstance(e, Move) and e.end[index] not in (None, 0.0) for e in events)


def _case(
    job: Job,
    machine: Machine,
    claims: Claims,
    setup: SetupName | None,
    wheel: Wheel | None,
    station: int,
    filled: Sequence[int],
    log: FaultLog,
    *,
    turns: bool,
) -> Case | None:
    if setup is None or wheel is None:
        return None
    ground_by = None
    if setup.operation == "lands":
        ground_by = _ground_by(job, machine, claims, log)
        if ground_by is None:
            return None
    try:
        return build_case(job, machine, setup.text, wheel, ground_by, station, filled, turns=turns)
    except ImpossibleError as error:
        log.add(0, Rule.IMPOSSIBLE_GEOMETRY, reason=str(error))
    return None


def _ground_by(job: Job, machine: Machine, claims: Claims, log: FaultLog) -> Wheel | None:
    """The wheel that ground the relief between the lands."""
    name = job.relief_wheel or claims.relief_wheel
    if not name:
        round_ones = [wheel for wheel in machine.rack if grinds_relief(job, machine, wheel)]
        if len(round_ones) == 1:
            return round_ones[0]
        log.add(0, Rule.CLAIM_MISSING, claim="wheel of the relief")
        return None
    if claims.relief_wheel and _blanks_closed(claims.relief_wheel) != _blanks_closed(name):
        claim = f"relief wheel {claims.relief_wheel}"
        log.add(claims.relief_line, Rule.CLAIM_CONTRADICTED, claim=claim, by=f"job: {name}")
    found = _in_rack(name, machine)
    if len(found) != 1:
        log.add(claims.relief_line, Rule.UNKNOWN_WHEEL, wheel=name, found=len(found))
        return None
    return found[0]
