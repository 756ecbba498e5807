"""What the commands show on the screen: rich tables that fit 80 columns, in colour or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rich import box
from rich.table import Table
from rich.text import Text

from planner.cautions.caution import Caution
from planner.errors import Refusal
from planner.inputs.job import Job
from planner.inputs.rack import Wheel
from planner.plan import Plan, SectionFit
from planner.report.arc_wheel_words import arc_wheel_words
from planner.report.bend_words import bend_rows
from planner.report.by_hand import cross_words, is_set_by_hand, tilt_words
from planner.report.cut_words import use_parts
from planner.report.figures import time_text
from planner.report.papers.operation_steps import ground_so_far
from planner.report.path_words import NARROW_HEADER, path_sentence, station_rows, worst_words
from planner.report.refusals import refusal_words, way_out_words
from planner.report.ridge_words import about_ridges
from planner.report.row_words import row_screen_lines
from planner.report.wall_words import wall_rows
from planner.report.wheel_words import (
    contact_words,
    crown_words,
    size_words,
    sizes_that_hold_words,
)
from planner.restart import Restart
from planner.section.bulge_work import FacetWork
from planner.section.spread import FaceSpread
from planner.section.target import Section
from planner.section.wheel_shape import section_radius_mm
from planner.setup_plan import Setup

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console, RenderableType

    from planner.proof.prove import Verdict

_PASS_COLUMNS: tuple[tuple[str, str, int], ...] = (
    ("", "", 0),
    ("pass", "", 0),
    ("set to", "mm", 0),
    ("reach", "mm", 1),
    ("gives", "µm", 5),
    ("feed", "mm/min", 0),
    ("Fn", "N", 3),
    ("P", "W", 7),
    ("soak", "°C", 4),
    ("flash", "°C", 6),
    ("time", "s", 8),
    ("by", "", 2),
)
"""Name, unit, and rank: on a narrow screen the columns of the highest rank go first."""

_PASS_WIDTHS = (2, 9, 6, 6, 5, 6, 4, 3, 4, 5, 4, 6)

_BOUND = {
    "rough infeed": "infeed",
    "finish infeed": "infeed",
    "normal force": "force",
    "depth left": "depth",
    "deflection left": "spring",
    "wheel wear": "wear",
    "soak": "heat",
    "flash": "heat",
    "axis": "feed",
    "controller": "feed",
    "wheel": "feed",
}
"""Short words for the limit that binds a pass; others stand as they are."""

_EASED = {
    "axis": "traverse feed",
    "controller": "controller's blocks a second",
    "wheel": "wheel's own feed",
}
"""Limits whose short names would say nothing alone."""

_PAUSES = {"dwell": "wait", "dip": "dip", "air_pause": "stop"}

_LEVEL_STYLES = {"danger": "bold red", "warning": "yellow", "note": ""}


def _table(title: str, *columns: tuple[str, Any]) -> Table:
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_header=any(name for name, _ in columns),
    )
    for name, justify in columns:
        # A figure or a short word is never cut: the first column gives way first.
        table.add_column(name, justify=justify, no_wrap=justify == "right" or name == "pass")
    return table


def section_tables(section: Section, spreads: Sequence[FaceSpread]) -> Iterable[RenderableType]:
    """The section, its lands and the spread to expect."""
    shape = _table("Section", ("", "left"), *((f"face {f.face}", "right") for f in section.faces))
    rows: list[tuple[str, list[str]]] = [
        ("bevel angle, deg", [f"{f.angle_deg:.2f}" for f in section.faces]),
        ("bevel height, mm", [f"{f.height_mm:.3f}" for f in section.faces]),
        ("bevel face width, mm", [f"{f.width_mm:.3f}" for f in section.faces]),
    ]
    if any(f.bulge for f in section.faces):
        radii = ["-" if f.bulge is None else f"{f.bulge.radius_mm:.2f}" for f in section.faces]
        rows.insert(1, ("angle where it meets the edge", _angles(section)))
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
    facts = _table("Steel and tolerance", ("", "left"), ("", "right"))
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


def _path_tables(shown: Plan | SectionFit) -> Iterable[RenderableType]:
    """What an edge that is not straight adds: the wall of a gouge, a bend after the grind."""
    told = [
        ("Wall around the sweep", wall_rows(shown.wall) if shown.wall else []),
        ("Ground straight and bent after", bend_rows(shown.bent) if shown.bent else []),
    ]
    for title, rows in told:
        if rows:
            table = _table(title, ("", "left"), ("", "right"))
            table.columns[0].no_wrap = True
            for row in rows:
                table.add_row(*row)
            yield table


def _angles(section: Section) -> list[str]:
    return [f"{f.edge_angle_deg:.2f}" for f in section.faces]


def causes_table(spread: FaceSpread) -> Table:
    """Every error of one face and what it does to the lands."""
    table = _table(
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


def section_parts(job: Job, fit: SectionFit) -> Iterable[RenderableType]:
    """What ``section`` shows."""
    yield Text(job.title, style="bold")
    chosen = "" if job.relief_wheel else ", the first of the rack that can; plan tries them all"
    yield Text(f"wheel: {fit.wheel.name}, {size_words(fit.wheel)}{chosen}")
    yield Text("")
    yield from section_tables(fit.section, fit.spreads)
    yield from _path_tables(fit)
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


def written_parts(
    plan: Plan, files: Sequence[str], verdicts: Mapping[str, Verdict], folder: Path
) -> Iterable[RenderableType]:
    """What ``write`` shows once the files are in place."""
    table = _table("Proved programs", ("file", "left"), ("what", "left"), ("SHA-256", "left"))
    for name, verdict in verdicts.items():
        table.add_row(name, verdict.kind, verdict.sha256[:16])
    yield table
    others = [name for name in files if name not in verdicts]
    yield Text(f"also: {', '.join(others)}")
    yield Text(
        f"{len(files)} files in {folder}. "
        f"{plan.totals.passes} passes, {time_text(plan.totals.time_s)} a "
        f"{'clamping' if plan.totals.blades > 1 else 'blade'}; "
        f"about {plan.share_in_tolerance:.0%} of the blades in tolerance."
    )
    yield from (Text(line) for line in row_screen_lines(plan))
    yield Text("Run the air-run twin first, wheel off. Read the cautions on the set-up sheets.")


def restart_parts(
    restart: Restart, files: Sequence[str], verdicts: Mapping[str, Verdict], folder: Path
) -> Iterable[RenderableType]:
    """What ``write --from-pass`` shows once the files are in place."""
    table = _table("Proved programs", ("file", "left"), ("what", "left"), ("SHA-256", "left"))
    for name, verdict in verdicts.items():
        table.add_row(name, verdict.kind, verdict.sha256[:16])
    yield table
    others = [name for name in files if name not in verdicts]
    yield Text(f"also: {', '.join(others)}")
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


def _columns_that_fit(width: int) -> list[int]:
    """Indices of the columns of passes that a screen has room for."""
    shown = list(range(len(_PASS_COLUMNS)))
    while sum(_PASS_WIDTHS[i] + 1 for i in shown) > width:
        least = max(shown, key=lambda i: _PASS_COLUMNS[i][2])
        if _PASS_COLUMNS[least][2] == 0:
            break
        shown.remove(least)
    return shown


MANY_PASSES = 60
"""Of more passes than this the screen shows the first and the last; plan.json has them all."""

_FIRST, _LAST = 8, 12


def _left_out(count: int) -> range:
    """Numbers of the passes that the screen leaves out."""
    return range(_FIRST + 1, count - _LAST + 1) if count > MANY_PASSES else range(0)


def passes_table(setup: Setup, width: int) -> Table:
    """The passes of one set-up, in as many columns as a screen of this width has room for."""
    shown = _columns_that_fit(width)
    table = _table(
        f"Set-up {setup.name}: face {setup.relief.face}, tilt {setup.frame.tilt_deg:.2f} deg, "
        f"{setup.program}"
    )
    table.show_header = True
    table.padding, table.show_edge = 0, False
    for index in shown:
        name, _, _ = _PASS_COLUMNS[index]
        text = name in ("pass", "by")
        table.add_column(name, justify="left" if text else "right", no_wrap=True)

    def add(cells: Sequence[str], style: str = "") -> None:
        table.add_row(*(cells[index] for index in shown), style=style)

    add([unit for _, unit, _ in _PASS_COLUMNS], style="dim")
    rows = zip(setup.passes, setup.marched.passes, setup.marched.pauses, setup.binding, strict=True)
    left_out = _left_out(len(setup.passes))
    for p, heat, pause, bound in rows:
        if p.number in left_out:
            if p.number == left_out[0]:
                add(["", f"{len(left_out)} more", *[""] * (len(_PASS_COLUMNS) - 2)], style="dim")
            continue
        if pause is not None:
            wait = f"{_PAUSES[pause.kind]} {pause.seconds:.{0 if pause.seconds >= 10 else 1}f} s"
            add(["", wait, *[""] * 8, f"{pause.seconds:.1f}", "heat"])
        add(
            [
                str(p.number),
                p.kind.replace("_", "-"),
                f"{p.commanded_depth_mm:.4f}",
                f"{p.reached_depth_mm:.4f}",
                f"{p.deflection_mm * 1000:.1f}",
                f"{p.feed_mm_min:.0f}",
                f"{p.normal_force_n:.1f}",
                f"{p.power_w:.0f}",
                f"{heat.soak_c:.0f}",
                f"{heat.flash_c:.0f}",
                f"{p.time_s:.1f}",
                _BOUND.get(bound, bound),
            ]
        )
    return table


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
    yield from _path_tables(plan)
    for setup in plan.setups:
        yield passes_table(setup, width)
        if setup.work.wheel.name != plan.wheel.name:
            yield Text(f"Wheel: {setup.work.wheel.name}, {size_words(setup.work.wheel)}.")
        yield Text(_why_spark_out(plan, setup))
        if setup.work.in_lines or isinstance(setup.work, FacetWork):
            yield Text(about_ridges(setup))
        if setup.followed is not None:
            yield Text(f"{path_sentence(setup)} {worst_words(setup)}")
            yield _along_table(setup)
        if about := contact_words(setup):
            yield Text(about)
        yield Text(_about_heat(setup))
        yield Text(_about_savings(setup))
        if is_set_by_hand(machine):
            yield Text(_about_hands(plan, setup))
        yield Text("")
    yield _totals_table(plan)
    if plan.share_in_tolerance < 0.95:
        yield Text(
            f"warning: about {1 - plan.share_in_tolerance:.0%} of the blades would miss a land. "
            f"Measure every blade, and see `bevelwright section` for where the spread comes from.",
            style="yellow",
        )
        yield Text("")
    yield _wear_table(plan)
    if len(plan.wheels_tried) > 1:
        yield _wheels_table(plan)
        for words in arc_wheel_words(plan):
            yield Text(words)
            yield Text("")
    yield from caution_parts(cautions)


def _along_table(setup: Setup) -> Table:
    table = _table("Along the edge", *((name, "right") for name in NARROW_HEADER))
    table.show_header = True
    for row in station_rows(setup):
        table.add_row(*row)
    return table


def _size(wheel: Wheel) -> str:
    """A circle's diameter and its crown; other shapes need their words."""
    if wheel.contact == "along_edge":
        return f"{2 * section_radius_mm(wheel):.1f} mm{crown_words(wheel)}"
    return size_words(wheel)


def _why_spark_out(plan: Plan, setup: Setup) -> str:
    count = sum(p.kind == "spark_out" for p in setup.passes)
    allowed = plan.job.model.relief.residual_share * setup.depth_tolerance_mm
    infeed = [p for p in setup.passes if p.kind != "spark_out"][-1]
    left = setup.schedule.deflection_left_mm
    worst = infeed.commanded_depth_mm - min(infeed.reached_by_station_mm)
    text = (
        f"{count} spark-out: the last infeed pass leaves {worst * 1000:.1f} µm of "
        f"deflection at {setup.softest_n_mm:.0f} N/mm; {allowed * 1000:.1f} µm may "
        f"stay, {left * 1000:.1f} µm do. Below the target in all: "
        f"{max(setup.shortfalls_mm) * 1000:.1f} µm."
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


def _totals_table(plan: Plan) -> Table:
    totals, quantity = plan.totals, plan.job.model.quantity
    together = totals.blades
    of_what = f"one clamping of {together} blades" if together > 1 else "one blade"
    table = _table(f"Totals, {of_what}", ("", "left"), ("", "right"))
    table.add_row("passes", f"{totals.passes}, of them {totals.spark_out_passes} spark-out")
    table.add_row("time, dips counted, hands not", time_text(totals.time_s))
    if together > 1:
        table.add_row("time for each of them", time_text(totals.time_per_blade_s))
    table.add_row(
        "steel removed", f"{totals.removed_volume_mm3:.1f} mm3, {totals.removed_mass_g:.3f} g"
    )
    table.add_row("blades expected in tolerance", f"{plan.share_in_tolerance:.0%}")
    if plan.share_in_tolerance < 0.95 and plan.helpful:
        cause, share = plan.helpful[0]
        table.add_row("what would help most", f"{cause}: without its error {share:.0%}")
    if quantity > 1:
        most = "at most " if totals.in_last < together else ""
        batch = time_text(totals.time_s * totals.clampings)
        table.add_row(f"{quantity} blades", f"{most}{batch}")
    return table


def why_chosen(plan: Plan) -> str:
    """Why this wheel of the rack won."""
    rivals = [t for t in plan.wheels_tried if t.name != plan.wheel.name and t.share is not None]
    if not rivals:
        return "chosen: the only one that can"
    best = max(rivals, key=lambda t: (round(t.share or 0.0, 2), -(t.time_s or 0.0)))
    if round(plan.share_in_tolerance, 2) > round(best.share or 0.0, 2):
        return f"chosen: more in tolerance than {best.name}"
    if plan.totals.time_s < (best.time_s or 0.0) - 0.5:
        return f"chosen: as sure as {best.name}, and quicker"
    return f"chosen: cooler than {best.name}, else alike"


def _wear_table(plan: Plan) -> Table:
    table = _table("Wear and grit", ("", "left"), ("", "right"))
    wear, belt, grit = plan.wheel_wear, plan.belt_wear, plan.grit
    quantity = plan.job.model.quantity
    if wear is not None:
        table.add_row("radius lost to a blade", f"{wear.per_blade_mm * 1000:.2f} µm")
        if quantity > 1:
            table.add_row(
                f"lands of blade {quantity}, nothing made up for",
                f"+{wear.land_growth_mm:.3f} mm, {wear.tolerance_share:.0%} of the tolerance",
            )
        if wear.dress_after is None:
            table.add_row("dress for size", "not in this batch")
        else:
            table.add_row(
                f"dress after {wear.dress_after} blades, by {wear.dress_mm:.3f} mm",
                f"then {2 * wear.dressed_radius_mm:.2f} mm, depth {wear.dressed_depth_mm:.4f} mm",
            )
        sizes = sizes_that_hold_words(plan.wheel, wear.diameters_mm)
        table.add_row("these programs hold the lands with", sizes)
        # Two figures are more than a G ratio is known to.
        many = float(f"{wear.blades_per_wheel:.2g}")
        table.add_row("blades from one wheel, by wear alone", f"about {many:.0f}")
    if belt is not None:
        table.add_row(
            "specific energy, now and at the last blade",
            f"{belt.energy_now_j_mm3:.1f}, {belt.energy_last_j_mm3:.1f} J/mm3",
        )
        if belt.blades_left is not None:
            table.add_row(
                "blades left, and from a new belt",
                f"about {belt.blades_left} and {belt.blades_per_belt}",
            )
    if wear is None and belt is None:
        table.add_row("wear", "no G ratio stated")
    if grit is not None:
        table.add_row(f"grain of {grit.grit} ({grit.series})", f"{grit.mean_grain_um:.0f} µm")
        for step in grit.steps:
            table.add_row(
                f"to polish the relief, {step.grit} takes",
                f"{step.least_stock_mm * 1000:.0f} to {step.ample_stock_mm * 1000:.0f} µm",
            )
    return table


def _wheels_table(plan: Plan) -> Table:
    table = _table(
        "Wheels of the rack",
        ("wheel", "left"),
        ("in tolerance", "right"),
        ("time", "right"),
        ("soak", "right"),
        ("", "left"),
    )
    for tried in plan.wheels_tried:
        if tried.share is None or tried.time_s is None or tried.soak_c is None:
            table.add_row(tried.name, "-", "-", "-", refusal_words(tried.refused[0]))
        else:
            table.add_row(
                tried.name,
                f"{tried.share:.0%}",
                time_text(tried.time_s),
                f"{tried.soak_c:.0f} °C",
                why_chosen(plan) if tried.name == plan.wheel.name else "",
            )
    return table


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


def show_refusals(console: Console, refusals: Sequence[Refusal]) -> None:
    """Reasons and ways out; goes where errors go."""
    for refusal in refusals:
        console.print(Text(f"refused: {refusal_words(refusal)}.", style="bold"))
        if refusal.ways_out:
            console.print(Text("  ways out:"))
            for way in refusal.ways_out:
                console.print(Text(f"  - {way_out_words(way)}"))
    count = len(refusals)
    console.print(Text(f"{count} reason{'s' if count > 1 else ''}. No program was written."))
