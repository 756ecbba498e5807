"""What ``write`` shows once the files are in place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from planner.plan import Plan
from planner.report.figures import time_text
from planner.report.papers.operation_steps import ground_so_far
from planner.report.row_words import row_screen_lines
from planner.report.screen_table import screen_table
from planner.restart import Restart

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import RenderableType

    from planner.proof.prove import Verdict


def written_parts(
    plan: Plan, files: Sequence[str], verdicts: Mapping[str, Verdict], folder: Path
) -> Iterable[RenderableType]:
    """What ``write`` shows once the files are in place."""
    yield from _programs_and_others(files, verdicts)
    yield Text(
        f"{len(files)} files in {folder}. "
        f"{plan.totals.passes} passes, {time_text(plan.totals.time_s)} a "
        f"{'clamping' if plan.totals.blades > 1 else 'blade'}; "
        f"about {plan.share_in_tolerance:.0%} of the blades in tolerance{_facets(plan)}."
    )
    yield from (Text(line) for line in row_screen_lines(plan))
    yield Text("Run the air-run twin first, wheel off. Read the cautions on the set-up sheets.")


def restart_parts(
    restart: Restart, files: Sequence[str], verdicts: Mapping[str, Verdict], folder: Path
) -> Iterable[RenderableType]:
    """What ``write --from-pass`` shows once the files are in place."""
    yield from _programs_and_others(files, verdicts)
    setup, done = restart.setup, restart.from_pass - 1
    yield Text(
        f"{len(files)} files in {folder}. Passes {restart.from_pass} to {len(setup.passes)} of "
        f"set-up {setup.name}, {time_text(restart.time_s)}; proved behind the first {done} of "
        f"{setup.program}."
    )
    if restart.new_wheel:
        yield Text(
            "New wheel or belt: the zero is gone. Touch off anew, as the set-up sheet says, before "
            f"you run anything: on {ground_so_far(setup)} it bares {restart.bared_depth_mm:.4f} "
            "mm below the zero of the first program.",
            style="bold",
        )
    else:
        yield Text(
            "The blade still clamped and the zero of the first program stand: do not touch off. If "
            "the wheel or belt was changed, write again with --new-wheel."
        )
    yield Text("Run the air-run twin first, wheel off. Read the set-up sheet.")


def _programs_and_others(
    files: Sequence[str], verdicts: Mapping[str, Verdict]
) -> Iterable[RenderableType]:
    """The proved programs, and what else is there."""
    table = screen_table("Proved programs", ("file", "left"), ("what", "left"), ("SHA-256", "left"))
    for name, verdict in verdicts.items():
        table.add_row(name, verdict.kind, verdict.sha256[:16])
    yield table
    others = [name for name in files if name not in verdicts]
    yield Text(f"also: {', '.join(others)}")


def _facets(plan: Plan) -> str:
    share = plan.facet_share
    return "" if share is None else f", the facet that strays most in about {share:.0%}"
