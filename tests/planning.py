"""From models to a plan and its programs, as the commands do it, without files."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from planner.cautions.caution import Caution
from planner.inputs.job import Job
from planner.inputs.load import LoadedFile
from planner.inputs.machine import Machine
from planner.inputs.steels import steel_of
from planner.plan import Plan, plan_job
from planner.produce import programs_for
from planner.proof.prove import prove_program
from planner.report.papers.markdown import markdown
from planner.report.papers.setup_sheet import setup_paper
from planner.report.papers.words import ReadBack
from planner.setup_plan import Setup

DIGEST = "0123456789abcdef" * 4


def planned(job: Job, machine: Machine, blade: int = 1, skip: tuple[int, ...] = ()) -> Plan:
    """The plan of two models."""
    return plan_job(
        LoadedFile(job, Path("job.yaml"), "0" * 64),
        LoadedFile(machine, Path("machine.yaml"), "1" * 64),
        steel_of(job.steel),
        blade,
        skip,
    )


def sheet_text(plan: Plan, setup: Setup, cautions: Sequence[Caution] = ()) -> str:
    """The sheet of one set-up as Markdown, made from programs that were read back."""
    names = (setup.program, setup.program.replace(".ngc", "-air.ngc"))
    made = programs_for(plan, DIGEST)
    wheel = setup.work.wheel.name
    job, machine = plan.job.model, plan.machine.model
    verdicts = [prove_program(made[name], job, machine, wheel=wheel) for name in names]
    return markdown(setup_paper(plan, setup, cautions, ReadBack(made[names[0]], *verdicts)))


def program_lines(job: Job, machine: Machine, name: str = "setup-A.ngc") -> list[str]:
    """The lines of one program of a plan."""
    return programs_for(planned(job, machine), DIGEST)[name].decode("ascii").splitlines()


@dataclass
class Block:
    """One line as these tests read it: its comment, its codes, its words, and where it leads."""

    number: int
    text: str
    comment: str = ""
    codes: list[str] = field(default_factory=list)
    words: dict[str, float] = field(default_factory=dict)
    moves: bool = False
    rapid: bool = False
    before: dict[str, float] = field(default_factory=dict)
    after: dict[str, float] = field(default_factory=dict)


def read_text(lines: list[str]) -> list[Block]:
    """A reading of a program that shares nothing with the project's own two readers.

    Only what these programs may hold is understood; anything else fails an assertion.
    """
    at: dict[str, float] = {}
    blocks = []
    for number, text in enumerate(lines, 1):
        block = Block(number, text, before=dict(at))
        if text.startswith("("):
            assert text.endswith(")")
            block.comment = text[1:-1]
        else:
            for word in text.split(" "):
                match = re.fullmatch(r"([A-Z])(-?\d+(?:\.\d+)?)", word)
                assert match, f"line {number}: {text}"
                letter, value = match[1], match[2]
                if letter in "GM":
                    block.codes.append(letter + value)
                else:
                    assert letter not in block.words, f"line {number}: {text}"
                    block.words[letter] = float(value)
            block.moves = "G0" in block.codes or "G1" in block.codes
            block.rapid = "G0" in block.codes
            if block.moves:
                at.update({k: v for k, v in block.words.items() if k in "XYZABC"})
        block.after = dict(at)
        blocks.append(block)
    return blocks
