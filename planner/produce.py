"""From a plan to proved files: programs, their air-run twins, plan.json, picture and sheets.

The programs are made in memory, those very bytes are proved, and only a whole set of proved
files is handed on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.cautions.caution import Caution
from planner.errors import Fault, PlannerError
from planner.gcode.program import Heading, air_run, cutting_program
from planner.gcode.render import program_text
from planner.passes.conditions import infeed_feed_mm_min
from planner.plan import Plan
from planner.proof.prove import Verdict, prove_program
from planner.report.plan_json import digest, json_text, plan_data
from planner.report.verdicts import verdict_data
from planner.setup_plan import Setup


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
    """The text of every program of a plan, cutting and air run, by file name."""
    files: dict[str, bytes] = {}
    machine = plan.machine.model
    for setup in plan.setups:
        heading = _heading(plan, setup, plan_digest)
        program = cutting_program(
            heading,
            machine,
            plan.wheel,
            setup.frame,
            setup.schedule,
            setup.marched.pauses,
            setup.compensation_mm,
            plan.job.model.blade.edge.length_mm,
            infeed_feed_mm_min(machine),
            water_dip=plan.steel.water_dip,
        )
        twin = air_run(heading, machine, program, setup.deepest_mm)
        for each in (program, twin):
            files[each.file_name] = program_text(each, machine).encode("ascii")
    return files


def _heading(plan: Plan, setup: Setup, plan_digest: str) -> Heading:
    return Heading(
        title=plan.job.model.title,
        digest=plan_digest,
        setup=setup.name,
        face=setup.relief.face,
        wheel=plan.wheel.name,
        worn_before_mm=setup.worn_before_mm,
        zero_end="heel" if setup.frame.x_per_traverse > 0 else "tip",
    )


def produce(plan: Plan, cautions: Sequence[Caution]) -> Produced:
    """Every file of a job, after its programs have been read back and proved.

    Raises: ProofError when any program does not prove.
    """
    from planner.report.picture import section_svg  # noqa: PLC0415
    from planner.report.setup_sheet import setup_sheet  # noqa: PLC0415

    data = plan_data(plan, cautions)
    programs = programs_for(plan, digest(data))
    verdicts = {
        name: prove_program(text, plan.job.model, plan.machine.model, wheel=plan.wheel.name)
        for name, text in programs.items()
    }
    faults = [ProgramFault(name, f) for name, v in verdicts.items() for f in v.faults]
    if faults or not all(v.ok for v in verdicts.values()):
        raise ProofError(faults)
    data["proof"] = {"programs": [verdict_data(name, v) for name, v in verdicts.items()]}
    files = {"plan.json": json_text(data).encode()}
    files |= programs
    for setup in plan.setups:
        sheet = setup_sheet(plan, setup, cautions, programs[setup.program])
        files[f"setup-{setup.name}.md"] = sheet.encode()
    files["section.svg"] = section_svg(plan).encode()
    return Produced(files, verdicts)
