"""What ``plan`` shows: section, set-ups, totals, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from planner.cautions.caution import Caution
from planner.inputs.rack import Wheel
from planner.plan import Plan
from planner.report.arc_wheel_words import arc_wheel_words
from planner.report.row_words import row_screen_lines
from planner.report.section_screen import path_tables, section_tables
from planner.report.setup_screen import setup_parts
from planner.report.totals_screen import totals_table, wear_table, wheels_table
from planner.report.wheel_words import crown_words, size_words
from planner.section.wheel_shape import section_radius_mm

if TYPE_CHECKING:
    from rich.console import RenderableType

_LEVEL_STYLES = {"danger": "bold red", "warning": "yellow", "note": ""}


def plan_parts(plan: Plan, cautions: Sequence[Caution], width: int) -> Iterable[RenderableType]:
    """The whole plan: section, passes, totals, cautions."""
    job, machine = plan.job.model, plan.machine.model
    yield Text(job.title, style="bold")
    yield Text(
        f"{plan.steel.designation}, on: {machine.title}, wheel: {plan.wheel.name} "
        f"({_size(plan.wheel)}, {plan.surface_speed_m_s:.1f} m/s)"
    )
    yield from (Text(line) for line in row_screen_lines(plan))
    yield Text("")
    yield from section_tables(plan.section, plan.spreads)
    yield from path_tables(plan.job.model, plan)
    for setup in plan.setups:
        yield from setup_parts(plan, setup, width)
        yield Text("")
    yield totals_table(plan)
    if plan.share_in_tolerance < 0.95:
        yield Text(
            f"warning: about {1 - plan.share_in_tolerance:.0%} of the blades would miss a land. "
            f"Measure every blade, and see `bevelwright section` for where the spread comes from.",
            style="yellow",
        )
        yield Text("")
    yield wear_table(plan)
    if len(plan.wheels_tried) > 1:
        yield wheels_table(plan)
        for words in arc_wheel_words(plan):
            yield Text(words)
            yield Text("")
    yield from caution_parts(cautions)


def caution_parts(cautions: Sequence[Caution]) -> Iterable[RenderableType]:
    """The cautions, each with its basis."""
    yield Text("Cautions", style="bold")
    shown = [c for c in cautions if c.level != "note" or c.topic == "local_rules"]
    quiet = len(cautions) - len(shown)
    if quiet:
        yield Text(f"  {quiet} more notes stand on the set-up sheets and in --json.", style="dim")
    for caution in shown:
        line = Text("  ")
        line.append(f"{caution.level} ({caution.topic}): ", style=_LEVEL_STYLES[caution.level])
        line.append(caution.text)
        line.append(f" [{caution.basis}]", style="dim")
        yield line


def _size(wheel: Wheel) -> str:
    """A circle's diameter and its crown; other shapes need their words."""
    if wheel.contact == "along_edge":
        return f"{2 * section_radius_mm(wheel):.1f} mm{crown_words(wheel)}"
    return size_words(wheel)
