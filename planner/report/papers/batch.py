"""What the papers of a batch have in common."""

from __future__ import annotations

from collections.abc import Mapping

from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.figures import time_text
from planner.report.papers.model import Table, literal
from planner.report.row_words import clampings_text


def batch_facts(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Job, machine, steel and how many."""
    job, machine = plan.job, plan.machine
    temper = ""
    if job.model.temper_c is not None:
        temper = f", tempered at {job.model.temper_c:.0f} °C"
    blades = f"{job.model.quantity}"
    if plan.setups[0].in_row:
        blades += f", in {clampings_text(plan)}"
    return (
        ("job", f"{literal(job.model.title)}, SHA-256 `{job.sha256[:16]}`"),
        ("machine", f"{literal(machine.model.title)}, SHA-256 `{machine.sha256[:16]}`"),
        ("steel", f"{literal(plan.steel.designation)}{temper}"),
        ("blades", blades),
    )


def program_table(plan: Plan, verdicts: Mapping[str, Verdict]) -> Table:
    """Every set-up, its program and what was read back from it."""
    header = ("set-up", "face", "wheel or belt", "program", "SHA-256", "passes", "time")
    rows = tuple(
        (
            s.name,
            s.relief.face,
            literal(s.work.wheel.name),
            f"`{s.program}`",
            f"`{verdicts[s.program].sha256[:16]}`",
            f"{len(s.passes)}",
            time_text(s.time_s),
        )
        for s in plan.setups
    )
    return Table(header, rows, (9, 4, 14, 22, 15, 6, 9))
