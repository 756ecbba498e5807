"""One set-up on the screen: its passes, spark-out, heat, what is set by hand, what would save."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from planner.plan import Plan
from planner.report.by_hand import cross_words, is_set_by_hand, tilt_words
from planner.report.passes_screen import passes_table
from planner.report.path_words import (
    narrow_header,
    path_sentence,
    size_sentence,
    station_rows,
    worst_words,
)
from planner.report.ridge_words import about_ridges
from planner.report.screen_table import screen_table
from planner.report.wheel_words import contact_words, size_words
from planner.section.bulge_work import FacetWork
from planner.setup_plan import Setup

if TYPE_CHECKING:
    from rich.console import RenderableType

_NOTHING_MM = 5e-5
"""What is told as 0.0 µm."""
_FLATTER = "of what the wheel leaves along the edge otherwise than lying square, told as depth"
_EASED = {
    "axis": "traverse feed",
    "controller": "controller's blocks a second",
    "wheel": "wheel's own feed",
}
"""Limits whose short names would say nothing alone."""


def setup_parts(plan: Plan, setup: Setup, width: int) -> Iterable[RenderableType]:
    """One set-up: its passes, and what is to be said of them."""
    yield passes_table(setup, width)
    if setup.work.wheel.name != plan.wheel.name:
        yield Text(f"Wheel: {setup.work.wheel.name}, {size_words(setup.work.wheel)}.")
    yield Text(_why_spark_out(plan, setup))
    if setup.work.in_lines or isinstance(setup.work, FacetWork):
        yield Text(about_ridges(setup))
    if setup.followed is not None:
        yield Text(f"{path_sentence(setup)} {worst_words(setup)} {size_sentence(plan, setup)}")
        yield _along_table(plan, setup)
    if about := contact_words(setup):
        yield Text(about)
    yield Text(_about_heat(setup))
    yield Text(_about_savings(setup))
    if is_set_by_hand(plan.machine.model):
        yield Text(_about_hands(plan, setup))


def _along_table(plan: Plan, setup: Setup) -> Table:
    table = screen_table("Along the edge", *((name, "right") for name in narrow_header(setup)))
    table.show_header = True
    for row in station_rows(plan, setup):
        table.add_row(*row)
    return table


def below_target_words(setup: Setup) -> str:
    """What is missing in depth in the end, and what it is made of where that is more than one."""
    most = max(setup.shortfalls_mm)
    text = f"Below the target in all: {most * 1000:.1f} µm"
    parts = [
        (setup.schedule.shortfall_mm, "of the last pass"),
        (setup.worn.lag_mm, "of wear that is not made up for"),
        (most - setup.schedule.shortfall_mm - setup.worn.lag_mm, _FLATTER),
    ]
    told = [f"{part * 1000:.1f} {words}" for part, words in parts if abs(part) >= _NOTHING_MM]
    return f"{text} ({', '.join(told)})." if len(told) > 1 else f"{text}."


def _why_spark_out(plan: Plan, setup: Setup) -> str:
    count = sum(p.kind == "spark_out" for p in setup.passes)
    allowed = plan.job.model.relief.residual_share * setup.depth_tolerance_mm
    # The last of each facet where the tilt is swept, else the last of all.
    infeeds = {p.facet: p for p in setup.passes if p.kind != "spark_out"}.values()
    left = setup.schedule.deflection_left_mm
    worst = max(p.commanded_depth_mm - min(p.reached_by_station_mm) for p in infeeds)
    text = (
        f"{count} spark-out: the last infeed pass leaves {worst * 1000:.1f} µm of "
        f"deflection at {setup.softest_n_mm:.0f} N/mm; {allowed * 1000:.1f} µm may "
        f"stay, {left * 1000:.1f} µm do. {below_target_words(setup)}"
    )
    if len(setup.schedule.stations) > 1:
        text += (
            f" The blade bends: the ends of the edge come out "
            f"{setup.uneven_depth_mm * 1000:.1f} µm shallower than its middle."
        )
    threshold = setup.work.wheel.threshold_force_n
    if threshold > 0:
        residue = threshold / setup.softest_n_mm
        text += (
            f" Under its threshold force of {threshold:.1f} N the wheel only "
            f"rubs: {residue * 1000:.1f} µm stay whatever is done."
        )
    return text


def _about_hands(plan: Plan, setup: Setup) -> str:
    machine = plan.machine.model
    words = [tilt_words(machine, setup)] if machine.fixture.hand_tilt is not None else []
    if machine.fixture.hand_cross is not None:
        words.append(cross_words(machine, setup, lambda mm: f"{mm:.3f} mm"))
    return " ".join(words)


def _about_heat(setup: Setup) -> str:
    heated, marched = setup.heated, setup.marched
    soak, flash = (max(t.soak_c for t in marched.passes), max(t.flash_c for t in marched.passes))
    text = (
        f"Heat: at most {soak:.0f} °C build up "
        f"({marched.soak_limit_c:.0f} allowed) and {flash:.0f} °C "
        f"flash under the wheel ({marched.flash_limit_c:.0f} allowed)."
    )
    if heated.heat_cost_s > 0.05:
        how = []
        if heated.cooler_passes:
            how.append("cooler passes")
        if setup.marched.pause_s > 0:
            how.append(f"{setup.marched.pause_s:.1f} s of pauses")
        text += f" Keeping them costs {heated.heat_cost_s:.1f} s: {' and '.join(how)}."
    return text


def _about_savings(setup: Setup) -> str:
    worth = [s for s in setup.savings if s.seconds >= 0.05]
    if not worth:
        return "A tenth more of any limit that binds would save nothing."
    parts = ", ".join(f"{_EASED.get(s.limit, s.limit)} {s.seconds:.1f} s" for s in worth)
    return f"A tenth more of a limit would save: {parts}."
