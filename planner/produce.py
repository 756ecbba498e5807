"""From a plan to proved files: programs, their air-run twins, plan.json, picture, preview, sheets.

The programs are made in memory, those very bytes are proved, and only a whole set of proved
files is handed on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from planner.cautions.caution import Caution
from planner.cautions.from_plan import cautions_of_setup
from planner.errors import Fault, PlannerError
from planner.gcode.on_way import on_the_way
from planner.gcode.program import Heading
from planner.gcode.render import program_text
from planner.plan import Plan
from planner.proof.prove import Before, Verdict, prove_program
from planner.report.plan_json import digest, json_text, plan_data, restart_data
from planner.report.verdicts import verdict_data
from planner.restart import Restart
from planner.setup_plan import Setup
from planner.setup_programs import kept_clear, setup_heading, setup_programs


@dataclass(frozen=True)
class ProgramFault:
    """A fault in one of the programs."""

    program: str
    fault: Fault


class ProofError(PlannerError):
    """A program that was written does not prove; nothing is handed on."""

    def __init__(self, faults: Sequence[ProgramFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{f.program}:{f.fault.line}: {f.fault.rule}" for f in faults))


@dataclass(frozen=True)
class Produced:
    """All files of one job, proved."""

    files: dict[str, bytes]
    verdicts: dict[str, Verdict]


def programs_for(plan: Plan, plan_digest: str) -> dict[str, bytes]:
    """The text of every program of a plan, cutting and air run, by file name.

    Raises: RefusedError where a move would run into something.
    """
    files: dict[str, bytes] = {}
    for setup in plan.setups:
        files |= _program_and_twin(plan, setup, _heading(plan, setup, plan_digest))
    return files


_TOUCH_PLACE = {
    "bevel": "on bevel so far",
    "relief": "in middle of relief",
    "lands": "on lands so far",
}


def programs_from_pass(plan: Plan, plan_digest: str, restart: Restart) -> dict[str, bytes]:
    """The text of the program that goes on from a later pass, and of its air run.

    Raises: RefusedError where a move would run into something.
    """
    setup = restart.setup
    heading = replace(
        _heading(plan, setup, plan_digest),
        worn_before_mm=restart.worn_before_mm,
        from_pass=restart.from_pass,
        file_name=restart.program,
        touch_depth_mm=restart.bared_depth_mm if restart.new_wheel else None,
        touch_place=_TOUCH_PLACE[setup.work.operation],
    )
    passes = tuple(
        replace(one, feed_mm_min=feed)
        for one, feed in zip(setup.passes, restart.feeds_mm_min, strict=True)
    )
    goes_on = replace(
        setup,
        worn=replace(setup.worn, made_up_mm=restart.compensation_mm),
        heated=replace(setup.heated, schedule=replace(setup.schedule, passes=passes)),
    )
    return _program_and_twin(plan, goes_on, heading)


def _program_and_twin(plan: Plan, setup: Setup, heading: Heading) -> dict[str, bytes]:
    machine = plan.machine.model
    programs = setup_programs(plan.steel, setup, heading)
    kept_clear(setup, programs)
    clear = machine.fixture.clearance_mm
    return {
        each.file_name: program_text(on_the_way(each, setup.way, clear), machine).encode("ascii")
        for each in programs
    }


def _heading(plan: Plan, setup: Setup, plan_digest: str) -> Heading:
    return setup_heading(plan.job.model, plan.machine.model, setup, plan.wheel, plan_digest)


def produce(plan: Plan, cautions: Sequence[Caution]) -> Produced:
    """Every file of a job, after its programs have been read back and proved.

    Raises: ProofError when any program does not prove.
    """
    from planner.report.papers.files import paper_files  # noqa: PLC0415

    data = plan_data(plan, cautions)
    programs = programs_for(plan, digest(data))
    verdicts = _proved(plan, programs, None)
    of_setups = {s.name: cautions_of_setup(plan, s) if cautions else () for s in plan.setups}
    papers = paper_files(plan, of_setups, programs, verdicts)
    return _produced(plan, data, programs, verdicts, papers)


def produce_drawings(plan: Plan, cautions: Sequence[Caution]) -> Produced:
    """Section and paths as other programs take them, from programs that are made and proved alike.

    Raises: ProofError when any program does not prove.
    """
    from planner.report.drawings.files import drawing_files  # noqa: PLC0415

    verdicts = _proved(plan, programs_for(plan, digest(plan_data(plan, cautions))), None)
    return Produced(drawing_files(plan, verdicts), verdicts)


def produce_from_pass(plan: Plan, cautions: Sequence[Caution], restart: Restart) -> Produced:
    """The files that go on from a later pass, proved behind the passes of the first program.

    Raises: ProofError when any program does not prove.
    """
    from planner.report.papers.files import restart_files  # noqa: PLC0415

    data = plan_data(plan, cautions)
    plan_digest = digest(data)
    first = programs_for(plan, plan_digest)[restart.setup.program]
    programs = programs_from_pass(plan, plan_digest, restart)
    data["restart"] = restart_data(restart)
    before = Before(first, restart.from_pass - 1)
    verdicts = _proved(plan, programs, before, restart.setup.program)
    papers = restart_files(plan, restart, cautions, programs, verdicts)
    return _produced(plan, data, programs, verdicts, papers)


def _proved(
    plan: Plan, programs: Mapping[str, bytes], before: Before | None, first: str = ""
) -> dict[str, Verdict]:
    """Prove the programs; ``first`` names the one that ``before`` is."""
    job, machine = plan.job.model, plan.machine.model
    # Names begin with those of their set-ups: setup-lands-A.ngc, setup-A-from-3-air.ngc.
    wheels = {s.program.removesuffix(".ngc"): s.work.wheel.name for s in plan.setups}
    verdicts = {
        name: prove_program(
            text,
            job,
            machine,
            wheel=next(
                w for stem, w in wheels.items() if name.startswith((f"{stem}.", f"{stem}-"))
            ),
            before=before,
        )
        for name, text in programs.items()
    }
    faults = [ProgramFault(name, f) for name, v in verdicts.items() for f in v.faults]
    # The program that was broken off is in the plan's own folder, by its own name.
    faults += [ProgramFault(first, f) for v in verdicts.values() for f in v.faults_before]
    if faults or not all(v.ok for v in verdicts.values()):
        raise ProofError(faults)
    return verdicts


def _produced(
    plan: Plan,
    data: dict[str, Any],
    programs: Mapping[str, bytes],
    verdicts: dict[str, Verdict],
    papers: Mapping[str, bytes],
) -> Produced:
    from planner.report.cut_picture import cut_svg  # noqa: PLC0415
    from planner.report.picture import section_svg  # noqa: PLC0415
    from planner.report.preview.page import preview_html  # noqa: PLC0415

    data["proof"] = {"programs": [verdict_data(name, v) for name, v in verdicts.items()]}
    files = {"plan.json": json_text(data).encode(), **programs, **papers}
    files["section.svg"] = section_svg(plan).encode()
    files["cut.svg"] = cut_svg(plan.job.model, plan.section).encode()
    files["preview.html"] = preview_html(plan, data, verdicts)
    return Produced(files, verdicts)
