"""Programs of any number of blocks, from one planned set-up: its passes cut, or more of them."""

from __future__ import annotations

import re
from dataclasses import replace
from unittest import mock

from planner import produce
from planner.gcode.program import Move, Program, Step
from planner.gcode.render import program_text
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.plan import Plan
from tests.planning import DIGEST, planned
from tests.samples import a_job, a_machine


def slow_plan() -> Plan:
    """A set-up with passes so slow that a controller can read thousands of blocks in each."""
    job: Job = a_job(relief__faces="A")
    machine: Machine = a_machine(axes__X__max_feed="150 mm/min")
    return planned(job, machine)


def program_of(plan: Plan) -> Program:
    """The steps of a plan's first cutting program, as they are handed to be made text."""
    handed: list[Program] = []

    def listen(program: Program, machine: Machine) -> str:
        handed.append(program)
        return program_text(program, machine)

    with mock.patch.object(produce, "program_text", listen):
        produce.programs_for(plan, DIGEST)
    return handed[0]


def cut_into_blocks(program: Program, blocks: int) -> Program:
    """Every traverse cut into pieces of one length, about ``blocks`` in all.

    The cuts of no two passes fall together, so that no block is the text of another.
    """
    passes = [s for s in program.steps if _is_pass(s)]
    pieces = blocks // len(passes)
    steps: list[Step] = []
    at, number = 0.0, 0
    for step in program.steps:
        if isinstance(step, Move) and _is_pass(step):
            start, end = at, step.to["traverse"]
            shift = number / len(passes) / 2.0
            number += 1
            for n in range(1, pieces):
                share = (n + shift) / pieces
                steps.append(replace(step, to={"traverse": start + share * (end - start)}))
        steps.append(step)
        if isinstance(step, Move) and "traverse" in step.to:
            at = step.to["traverse"]
    return replace(program, steps=tuple(steps))


def with_more_passes(text: str, passes: int) -> str:
    """The text of a program with so many spark-out passes more after its last pass."""
    lines = text.splitlines()
    traverses = [n for n, line in enumerate(lines) if re.match(r"G1 X\S+ F", line)]
    claims = [line for line in lines if line.startswith("(pass ")]
    done, depth = len(claims), claims[-1].rpartition(" ")[2]
    both_ways = (lines[traverses[-2]], lines[traverses[-1]])
    more = []
    for n in range(passes):
        number = f"{done + 1 + n} of {done + passes}"
        more += [f"(pass {number} spark-out depth {depth}", both_ways[n % 2]]
    if passes % 2:
        raise ValueError("an even number of passes ends where the program did")
    lines[traverses[-1] + 1 : traverses[-1] + 1] = more
    return "\n".join(x.replace(f" of {done} ", f" of {done + passes} ") for x in lines) + "\n"


def _is_pass(step: Step) -> bool:
    return isinstance(step, Move) and step.feed_mm_min is not None and "traverse" in step.to
