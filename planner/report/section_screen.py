"""What ``section`` shows: the section, its lands, where their spread comes from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from planner.inputs.job import Job
from planner.plan import Plan, SectionFit
from planner.report.bend_words import bend_rows
from planner.report.curve_words import curve_rows
from planner.report.cut_words import use_parts
from planner.report.screen_table import screen_table
from planner.report.wall_words import wall_rows
from planner.report.wheel_words import size_words
from planner.section.spread import FaceSpread
from planner.section.target import Section

if TYPE_CHECKING:
    from rich.console import RenderableType


def section_parts(job: Job, fit: SectionFit) -> Iterable[RenderableType]:
    """What ``section`` shows."""
    yield Text(job.title, style="bold")
    chosen = (
        ""
        if job.relief_wheel
        else ", the first of the rack that its geometry allows; plan tries them all"
    )
    yield Text(f"wheel: {fit.wheel.name}, {size_words(fit.wheel)}{chosen}")
    yield Text("")
    yield from section_tables(fit.section, fit.spreads)
    yield from path_tables(job, fit)
    for spread in fit.spreads:
        yield causes_table(spread)
    yield Text(
        f"About {fit.share_in_tolerance:.0%} of the blades would have every land in tolerance if "
        "the depth came out right on average."
    )
    cause, share = fit.helpful[0]
    yield Text(f"What would help most: {cause}; without its error {share:.0%}.")
    yield Text("")
    yield from use_parts(job, fit.section)


def section_tables(section: Section, spreads: Sequence[FaceSpread]) -> Iterable[RenderableType]:
    """The section, its lands and the spread to expect."""
    shape = screen_table(
        "Section", ("", "left"), *((f"face {f.face}", "right") for f in section.faces)
    )
    rows: list[tuple[str, list[str]]] = [
        ("bevel angle, deg", [f"{f.angle_deg:.2f}" for f in section.faces]),
        ("bevel height, mm", [f"{f.height_mm:.3f}" for f in section.faces]),
        ("bevel face width, mm", [f"{f.width_mm:.3f}" for f in section.faces]),
    ]
    if any(f.bulge for f in section.faces):
        radii = ["-" if f.bulge is None else f"{f.bulge.radius_mm:.2f}" for f in section.faces]
        behind = any(f.micro_deg for f in section.faces)
        begins = "angle where it begins, deg" if behind else "angle where it meets the edge"
        rows.insert(1, (begins, _angles(section)))
        rows.insert(2, ("radius of the convex face, mm", radii))
    if any(f.micro_deg for f in section.faces):
        micro = ["-" if f.micro_deg is None else f"{f.micro_deg:.2f}" for f in section.faces]
        rows.append(("micro bevel, deg a side", micro))
    for label, key, digits in (
        ("edge land, mm", "edge_land_mm", 3),
        ("shoulder land, mm", "shoulder_land_mm", 3),
        ("relief width, mm", "chord_mm", 3),
        ("relief depth, mm", "depth_mm", 4),
        ("removed area, mm2", "removed_area_mm2", 4),
        ("middle from edge, mm", "middle_mm", 3),
    ):
        values = []
        for f in section.faces:
            relief = section.relief(f.face)
            values.append(f"{getattr(relief, key):.{digits}f}" if relief else "-")
        rows.append((label, values))
    for label, values in rows:
        shape.add_row(label, *values)
    yield shape
    facts = screen_table("Steel and tolerance", ("", "left"), ("", "right"))
    facts.add_row(
        "steel left", f"{section.steel_left_mm:.3f} mm at {section.steel_left_at_mm:.2f} mm"
    )
    angle = f"{section.edge_angle_deg:.1f} deg"
    if section.full_hollow:
        angle += f" (full hollow; flat bevels {section.flat_edge_angle_deg:.1f} deg)"
    facts.add_row("angle at the edge", angle)
    worst = max(spreads, key=lambda s: s.land_sd_mm)
    facts.add_row("a land moves, per mm of depth", f"{worst.land_change_per_depth:.1f} mm")
    facts.add_row("land tolerance", f"±{worst.land_tolerance_mm:.3f} mm")
    facts.add_row("so the depth tolerance", f"±{worst.depth_tolerance_mm:.4f} mm")
    facts.add_row("edge land spread, one sigma", f"{worst.edge_land_sd_mm:.3f} mm")
    facts.add_row("shoulder land spread, one sigma", f"{worst.shoulder_land_sd_mm:.3f} mm")
    facts.add_row("mostly from", worst.dominant.name)
    yield facts


def path_tables(job: Job, shown: Plan | SectionFit) -> Iterable[RenderableType]:
    """What an edge that is not straight adds: its curve, the wall of a gouge, a bend after."""
    told = [
        ("Curve of the edge", curve_rows(job.edge, shown.section, shown.spreads)),
        ("Wall around the sweep", wall_rows(shown.wall) if shown.wall else []),
        ("Ground straight and bent after", bend_rows(shown.bent) if shown.bent else []),
    ]
    for title, rows in told:
        if rows:
            table = screen_table(title, ("", "left"), ("", "right"))
            table.columns[0].no_wrap = True
            for row in rows:
                table.add_row(*row)
            yield table


def causes_table(spread: FaceSpread) -> Table:
    """Every error of one face and what it does to the lands."""
    table = screen_table(
        f"Where the spread of face {spread.face} comes from",
        ("cause", "left"),
        ("one sigma", "right"),
        ("edge land,\nmm", "right"),
        ("shoulder\nland, mm", "right"),
    )
    for cause in sorted(
        spread.causes, key=lambda c: -max(c.edge_land_sd_mm, c.shoulder_land_sd_mm)
    ):
        if cause.unit == "rad":
            sd = f"{cause.sd * 57.29577951308232:.3f} deg"
        else:
            sd = f"{cause.sd:.4f} mm"
        table.add_row(
            cause.name, sd, f"{cause.edge_land_sd_mm:.3f}", f"{cause.shoulder_land_sd_mm:.3f}"
        )
    return table


def _angles(section: Section) -> list[str]:
    return [f"{f.edge_angle_deg:.2f}" for f in section.faces]
