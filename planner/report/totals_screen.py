"""The totals of a plan on the screen: time and steel, wear and grit, the wheels of the rack."""

from __future__ import annotations

from rich.table import Table

from planner.plan import Plan
from planner.report.figures import time_text
from planner.report.refusals import refusal_words
from planner.report.screen_table import screen_table
from planner.report.wheel_words import sizes_that_hold_words


def _dips(plan: Plan) -> bool:
    """Whether a blade is dipped or laid aside to cool, which the time counts."""
    pauses = (pause for setup in plan.setups for pause in setup.marched.pauses)
    return any(pause is not None and pause.kind != "dwell" for pause in pauses)


def totals_table(plan: Plan) -> Table:
    """Passes, time, steel and the blades to expect, of one clamping and of the batch."""
    totals, quantity = plan.totals, plan.job.model.quantity
    together = totals.blades
    of_what = f"one clamping of {together} blades" if together > 1 else "one blade"
    table = screen_table(f"Totals, {of_what}", ("", "left"), ("", "right"))
    table.add_row("passes", f"{totals.passes}, of them {totals.spark_out_passes} spark-out")
    dips = ", dips counted, hands not" if _dips(plan) else ", hands not counted"
    table.add_row(f"time{dips}", time_text(totals.time_s))
    if together > 1:
        table.add_row("time for each of them", time_text(totals.time_per_blade_s))
    table.add_row(
        "steel removed", f"{totals.removed_volume_mm3:.1f} mm3, {totals.removed_mass_g:.3f} g"
    )
    table.add_row("blades expected in tolerance", f"{plan.share_in_tolerance:.0%}")
    if plan.facet_share is not None:
        table.add_row("facet that strays most, in tolerance", f"{plan.facet_share:.0%}")
    if plan.share_in_tolerance < 0.95 and plan.helpful:
        cause, share = plan.helpful[0]
        table.add_row("what would help most", f"{cause}: without its error {share:.0%}")
    if quantity > 1:
        most = "at most " if totals.in_last < together else ""
        batch = time_text(totals.time_s * totals.clampings)
        table.add_row(f"{quantity} blades", f"{most}{batch}")
    return table


def wear_table(plan: Plan) -> Table:
    """What the batch wears off wheel or belt, and what grit comes next."""
    table = screen_table("Wear and grit", ("", "left"), ("", "right"))
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
        sizes = sizes_that_hold_words(plan.wheel, wear.diameters_mm, plan.sizes_held)
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


def wheels_table(plan: Plan) -> Table:
    """The wheels that were tried, and why this one was chosen."""
    table = screen_table(
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
