"""The set-up sheet: what the person at the machine does, in order, on one page of Markdown."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence

from planner.cautions.caution import Caution
from planner.formulas import segment
from planner.plan import Plan
from planner.report.figures import time_text
from planner.setup_plan import Setup

TOUCH_MARK_DEPTH_MM = 0.001
"""Depth of the light touch that the witness mark is given for; common practice, no source."""

_HELD = {
    "end_for_end": "turned end for end: the edge still points the same way, heel and tip exchanged",
    "over": "turned over about its length: the edge now points the other way",
    "by_tilt": "not turned: the fixture tilts to the other side",
}


def setup_sheet(plan: Plan, setup: Setup, cautions: Sequence[Caution], program: bytes) -> str:
    """The sheet of one set-up as Markdown.

    User text is put between backticks after every control and backtick character is dropped, so
    that it cannot become markup.
    """
    machine, relief, frame = plan.machine.model, setup.relief, setup.frame
    mark = float(
        segment.chord_of_depth(
            plan.section.wheel_radius_mm, min(TOUCH_MARK_DEPTH_MM, relief.depth_mm)
        )
    )
    held = _HELD[machine.fixture.flip]
    if relief.face == "A":
        held = "as it comes, edge away from the spine stop"
    elif setup is plan.setups[0]:
        held = f"as face A would lie, then {held}"
    by_hand = machine.spindle.control == "by_hand"
    tilt = "set by hand on the scale" if "tilt" not in setup.axes else "set by the program"
    ideal = ""
    if not math.isclose(frame.tilt_deg, frame.ideal_tilt_deg, abs_tol=1e-6):
        ideal = f" (the bevel itself: {frame.ideal_tilt_deg:.3f} deg; the program allows for it)"
    lines = [
        f"# Set-up {setup.name}: face {relief.face}",
        "",
        f"- job: {_plain(plan.job.model.title)}",
        f"- machine: {_plain(machine.title)}",
        f"- wheel: {_plain(plan.wheel.name)}, {2 * plan.section.wheel_radius_mm:.1f} mm over all, "
        f"{plan.surface_speed_m_s:.1f} m/s",
        f"- program: `{setup.program}`, SHA-256 `{hashlib.sha256(program).hexdigest()[:16]}`",
        f"- air run: `{setup.program.replace('.ngc', '-air.ngc')}`",
        f"- passes: {len(setup.passes)}, "
        f"time {time_text(sum(p.time_s for p in setup.passes))} without hands",
        "",
        "## In this order",
        "",
        f"1. Clamp the blade {held}. Nothing loose, no bow pulled flat by the clamp.",
        f"2. Tilt {frame.tilt_deg:.3f} deg, {tilt}{ideal}.",
        f"3. Dress the wheel, warm it up, and check its diameter: "
        f"{plan.wheel.diameter_mm:.2f} mm planned.",
        f"4. Touch off on face {relief.face} with ink, by the smallest steps: the mark stands with "
        f"its middle {relief.middle_mm:.3f} mm from the edge along the face, and a touch of "
        f"{TOUCH_MARK_DEPTH_MM:.3f} mm makes it {mark:.2f} mm wide. Shift the cross until the "
        "middle is right; a wider mark is a deeper touch.",
        f"5. Set the work zero (G54) there: infeed 0 at bare contact, cross 0, traverse 0 with the "
        f"wheel's middle over the {'heel' if frame.x_per_traverse > 0 else 'tip'}.",
        f"6. Retract to {machine.fixture.clearance_mm:.1f} mm and run the air-run twin, wheel off.",
        "7. "
        + ("Coolant on. " if machine.coolant.kind != "dry" and not machine.coolant.on else "")
        + ("The program stops for the wheel to be started by hand. " if by_hand else "")
        + "Run the program.",
        "8. Wheel stopped, blade out, read both lands at heel, middle and tip:",
        "",
        "| land | nominal, mm | limits, mm | heel | middle | tip |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    tolerance = setup.spread.land_tolerance_mm
    for name, value in (("edge", relief.edge_land_mm), ("shoulder", relief.shoulder_land_mm)):
        limits = f"{max(value - tolerance, 0):.2f} to {value + tolerance:.2f}"
        lines.append(f"| {name} | {value:.2f} | {limits} | | | |")
    lines += ["", "## Heat and wear", ""]
    lines += [f"- {line}" for line in (*_heat_lines(plan, setup), *_wear_lines(plan))]
    lines += ["", "## Cautions", ""]
    lines += [f"- **{c.level}** ({c.topic}): {c.text} [{c.basis}]" for c in cautions]
    lines += ["", "Set up by: ______________  checked by: ______________  date: ____________", ""]
    return "\n".join(lines)


def _heat_lines(plan: Plan, setup: Setup) -> list[str]:
    marched = setup.marched
    soak = max(t.soak_c for t in marched.passes)
    flash = max(t.flash_c for t in marched.passes)
    lines = [
        f"Predicted: {soak:.0f} °C build up ({marched.soak_limit_c:.0f} allowed), {flash:.0f} °C "
        f"for milliseconds under the wheel ({marched.flash_limit_c:.0f} allowed). Not measured on "
        "this machine: grind a scrap blade first and look for colour.",
    ]
    pauses = [
        (one.number, pause)
        for one, pause in zip(setup.passes, marched.pauses, strict=True)
        if pause is not None
    ]
    for number, pause in pauses:
        if pause.kind == "dwell":
            lines.append(
                f"Before pass {number} the wheel waits {pause.seconds:.1f} s, clear of it."
            )
        elif pause.kind == "dip":
            lines.append(
                f"Before pass {number} the program stops: wait for the wheel to stand still, dip "
                "the blade, wipe it dry, resume."
            )
        else:
            water = "" if plan.steel.water_dip else ", never in water"
            lines.append(
                f"Before pass {number} the program stops: let the blade cool in air for "
                f"{pause.seconds:.0f} s{water}, resume."
            )
    return lines


def _wear_lines(plan: Plan) -> list[str]:
    wear, belt = plan.wheel_wear, plan.belt_wear
    quantity = plan.job.model.quantity
    if wear is not None:
        low, high = wear.diameters_mm
        lines = [f"These programs hold the lands with a wheel of {low:.1f} to {high:.1f} mm."]
        if wear.dress_after is not None:
            lines.append(
                f"After {wear.dress_after} blades dress {wear.dress_mm:.3f} mm off the radius, "
                f"touch off anew, and plan again for {2 * wear.dressed_radius_mm:.2f} mm "
                f"(depth {wear.dressed_depth_mm:.4f} mm)."
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


def _plain(text: str) -> str:
    return "`" + "".join(c for c in text if c.isprintable() and c != "`") + "`"
