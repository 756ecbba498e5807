"""What a paper says of heat, pauses and the wear of the wheel."""

from __future__ import annotations

from planner.heat.march import Marched
from planner.plan import Plan
from planner.report.wheel_words import sizes_that_hold_words
from planner.setup_plan import Setup

_DIP_ROW = "the blades one after another, the one next to the wheel first, wipe them dry"


def heat_lines(plan: Plan, setup: Setup, from_pass: int = 1) -> list[str]:
    """The temperatures that are predicted, and each pause."""
    marched = setup.marched
    soak = max(t.soak_c for t in marched.passes)
    flash = max(t.flash_c for t in marched.passes)
    return [
        f"Predicted: {soak:.0f} °C build up ({marched.soak_limit_c:.0f} allowed), {flash:.0f} °C "
        f"for a moment under the wheel ({marched.flash_limit_c:.0f} allowed). Not measured on "
        "this machine: grind a scrap blade first and look for colour.",
        *_pause_lines(plan, setup, marched, from_pass),
    ]


def _pause_lines(plan: Plan, setup: Setup, marched: Marched, from_pass: int) -> list[str]:
    lines = []
    for one, pause in zip(setup.passes, marched.pauses, strict=True):
        number = one.number
        if pause is None or number < from_pass:
            continue
        if pause.kind == "dwell":
            lines.append(f"Before pass {number} the wheel waits {pause.seconds:.1f} s off its end.")
        elif pause.kind == "dip":
            lines.append(
                f"Before pass {number} the program stops: wait for the wheel to stand still, dip "
                f"{'the blade, wipe it dry' if setup.row.blades == 1 else _DIP_ROW}, resume."
            )
        else:
            water = "" if plan.steel.water_dip else ", never in water"
            lines.append(
                f"Before pass {number} the program stops: let the "
                f"blade{'s' if setup.row.blades > 1 else ''} cool in air for "
                f"{pause.seconds:.0f} s{water}, resume."
            )
    return lines


def wear_lines(plan: Plan, setup: Setup) -> list[str]:
    """When to dress or change what grinds the relief, and for which blade this is.

    Nothing on the sheet of another operation: its wheel is another, or another size decides.
    """
    if setup.work.operation != "relief":
        return []
    wear, belt = plan.wheel_wear, plan.belt_wear
    quantity = plan.job.model.quantity
    if wear is not None:
        sizes = sizes_that_hold_words(plan.wheel, wear.diameters_mm, plan.sizes_held)
        lines = [f"These programs hold the lands with {sizes}."]
        if wear.dress_after is not None:
            again = f"{2 * wear.dressed_radius_mm:.2f} mm (depth {wear.dressed_depth_mm:.4f} mm)"
            if setup.followed is not None:
                left = plan.wheel.diameter_mm - 2 * wear.dress_mm
                again = f"the diameter that it then has, about {left:.2f} mm"
            lines.append(
                f"After {wear.dress_after} blades dress {wear.dress_mm:.3f} mm off the radius, "
                f"touch off anew, and plan again for {again}."
            )
        if wear.touch_off == "batch" and quantity > 1:
            lines.append(
                f"This program is for blade {plan.blade} of {quantity}. Each blade wears "
                f"{wear.per_blade_mm * 1000:.2f} µm off the radius; write the programs of a later "
                "blade with --blade."
            )
        return lines
    if belt is not None and belt.blades_left is not None:
        return [f"The belt has about {belt.blades_left} blades left in it."]
    return []
