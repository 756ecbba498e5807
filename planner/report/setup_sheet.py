"""The set-up sheet: what the person at the machine does, in order, on one page of Markdown."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import partial

from planner.cautions.caution import Caution
from planner.formulas import segment
from planner.gcode.numbers import number_text
from planner.inputs.machine import Machine
from planner.kinematics.clearance import Clearance
from planner.plan import Plan
from planner.report.bend_words import bend_lines
from planner.report.by_hand import cross_words, room_words, stop_check_words, tilt_words
from planner.report.figures import time_text
from planner.report.operation_steps import flat_touch_off, stage_table
from planner.report.row_words import row_sheet_lines, touched_station
from planner.report.wall_words import wall_line
from planner.report.wheel_words import size_words
from planner.restart import Restart
from planner.setup_plan import Setup

TOUCH_MARK_DEPTH_MM = 0.001
"""Depth of the light touch that the witness mark is given for; common practice, no source."""

NEAR_MM = 1.0
"""What passes something nearer than this is worth a look. Common practice, no source."""

INCH_MM = 25.4

_DIP_ROW = "the blades one after another, the one next to the wheel first, wipe them dry"

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
    machine, relief = plan.machine.model, setup.relief
    mark = float(
        segment.chord_of_depth(
            setup.work.wheel_radius_mm or plan.section.wheel_radius_mm,
            min(TOUCH_MARK_DEPTH_MM, relief.depth_mm),
        )
    )
    held = _HELD[machine.fixture.flip]
    if machine.fixture.turn_line_mm is not None:
        shift = 2 * machine.fixture.turn_line_mm
        held += f", {_length(machine, abs(shift))} {'beyond' if shift >= 0 else 'before'} where it "
        held += "lay on face A"
    if relief.face == "A":
        held = "as it comes, edge away from the spine stop"
    elif setup is plan.setups[0]:
        held = f"as face A would lie, then {held}"
    lines = [
        f"# Set-up {setup.name}: face {relief.face}{_which_blade(plan)}",
        "",
        f"- job: {_plain(plan.job.model.title)}",
        f"- machine: {_plain(machine.title)}",
        _wheel_line(setup),
        f"- program: `{setup.program}`, SHA-256 `{hashlib.sha256(program).hexdigest()[:16]}`",
        f"- air run: `{setup.program.replace('.ngc', '-air.ngc')}`",
        f"- passes: {len(setup.passes)}, time {time_text(setup.time_s)}, spin-up and pauses "
        "counted, your own hands not",
        *wall_line(plan.wall),
        *bend_lines(plan.bent, relief.face),
        "",
        *_row_lines(plan, setup),
        "## In this order",
        "",
        f"1. Wheel stopped, retracted, and off the end of the {_blade(setup)}. Clamp "
        f"{'every' if setup.in_row else 'the'} blade {held}. "
        f"Nothing loose, no bow pulled flat by the clamp.{_about_jaws(machine, setup)}",
        f"2. {tilt_words(machine, setup)}",
        f"3. {_about_wheel(plan, setup)}",
        *_touch_off_steps(plan, setup, mark),
        f"6. Retract to {_length(machine, machine.fixture.clearance_mm)} above the zero and go off "
        f"the end of the {_blade(setup)}. Run the air-run twin, wheel off, feed override at 100 %.",
        f"7. {_about_running(plan, setup)}",
        f"8. {_measure(setup)}",
        "",
    ]
    lines += [*_land_table(plan, setup), *_in_the_way(plan, setup), "", "## Heat and wear", ""]
    lines += [f"- {line}" for line in (*_heat_lines(plan, setup), *_wear_lines(plan))]
    lines += _closing(cautions)
    return "\n".join(lines)


def restart_sheet(plan: Plan, restart: Restart, cautions: Sequence[Caution], program: bytes) -> str:
    """The sheet of a program that goes on from a later pass, as Markdown."""
    machine, setup = plan.machine.model, restart.setup
    done = restart.from_pass - 1
    clear = _length(machine, machine.fixture.clearance_mm)
    what = "with a new wheel or belt" if restart.new_wheel else "the zero stands"
    zero = _new_zero_steps(plan, restart) if restart.new_wheel else _old_zero_steps(plan, restart)
    steps = [
        f"Wheel stopped, retracted, and off the end of the blade. Passes 1 to {done} of "
        f"`{setup.program}` must be whole. Pass {restart.from_pass} may have been begun: it is "
        "ground again from its start.",
        "Leave the blade clamped as it is. If it has moved or was taken out, do not go on: nothing "
        "here finds it again.",
        *zero,
        f"Retract to {clear} above the zero and go off the end of the blade. Run the air-run twin, "
        "wheel off, feed override at 100 %.",
        _about_running(plan, setup, restart.from_pass),
        _measure(setup),
    ]
    lines = [
        f"# Set-up {setup.name}, face {setup.relief.face}, from pass {restart.from_pass}: {what}",
        "",
        f"- job: {_plain(plan.job.model.title)}",
        f"- machine: {_plain(machine.title)}",
        _wheel_line(setup),
        f"- program: `{restart.program}`, SHA-256 `{hashlib.sha256(program).hexdigest()[:16]}`",
        f"- air run: `{restart.program.replace('.ngc', '-air.ngc')}`",
        f"- goes on from `{setup.program}` of the same plan: the line `(plan ...)` must be the "
        "same in both",
        f"- passes: {restart.from_pass} to {len(setup.passes)}, time {time_text(restart.time_s)}, "
        "spin-up and pauses counted, your own hands not",
        "",
        "## In this order",
        "",
        *(f"{number}. {step}" for number, step in enumerate(steps, 1)),
        "",
        *_land_table(plan, setup),
        *_in_the_way(plan, setup),
        "",
        "## Heat and wear",
        "",
        *(f"- {line}" for line in _heat_lines(plan, setup, restart.from_pass)),
        *_closing(cautions),
    ]
    return "\n".join(lines)


def _blade(setup: Setup) -> str:
    return "row" if setup.in_row else "blade"


def _which(setup: Setup) -> str:
    """Which blade of a row is touched off."""
    return f" of the blade in station {touched_station(setup)}" if setup.in_row else ""


def _on_which(setup: Setup) -> str:
    return f"On the blade in station {touched_station(setup)}: " if setup.in_row else ""


def _row_lines(plan: Plan, setup: Setup) -> list[str]:
    machine = plan.machine.model
    return row_sheet_lines(
        plan,
        setup,
        lambda mm: _word(plan, setup, "traverse", mm),
        lambda mm: _length(machine, mm),
    )


def _old_zero_steps(plan: Plan, restart: Restart) -> list[str]:
    return [
        "Do not touch off, and do not dress the wheel: the zero of the first program stands, and "
        f"{_worn_text(restart)}. If the machine lost its position, home it and call the same work "
        f"offset back; then turn the wheel by hand into the hollow: it must bare at "
        f"{_axis_value(plan, restart, restart.bared_depth_mm)}, a few micrometres either way. If "
        "the wheel or belt was changed, write these programs again with `--new-wheel`."
    ]


def _worn_text(restart: Restart) -> str:
    wheel = restart.setup.work.wheel
    if wheel.belt is None and wheel.g_ratio is not None:
        return "what has worn off the wheel is made up for as in the first program"
    return "no wear is made up for, as in the first program"


def _new_zero_steps(plan: Plan, restart: Restart) -> list[str]:
    """How the zero is found again though the face at the middle of the relief is ground away."""
    machine, setup, wheel = plan.machine.model, restart.setup, restart.setup.work.wheel
    if setup.work.operation != "relief":
        return [_new_flat_zero(plan, restart)]
    belt, radius = wheel.belt, setup.work.wheel_radius_mm or plan.section.wheel_radius_mm
    low, high = restart.diameters_mm
    if wheel.form_radius_mm is not None:
        radius_text = _length(machine, wheel.form_radius_mm)
        size = f"Measure what the new wheel is dressed to: a radius of {radius_text} is planned"
    elif belt is None:
        size = f"Measure the new wheel: {_length(machine, wheel.diameter_mm)} is planned"
    else:
        size = (
            "Measure the new belt, a thicker or thinner one changes the radius: "
            f"{_length(machine, belt.thickness_mm)} thick on a contact wheel of "
            f"{_length(machine, wheel.diameter_mm)} is planned"
        )
    steps = [
        f"{size}, {2 * radius:.1f} mm over all: these programs are proved with that size. "
        f"By reckoning, {low:.1f} to {high:.1f} mm over all keep the lands too, if the depth is "
        "right. With a size beyond that do not go on with this program.",
        "The traverse zero stands if the wheel's middle sits where the old one's did: look. "
        f"{'The cross zero stands. ' if 'cross' in setup.axes else ''}The infeed zero is gone, and "
        "the face that it was touched off on is ground away.",
        f"Touch off inside the relief{_cross_for(plan, restart)}, with ink, the wheel turned by "
        f"hand, by the smallest steps, at the middle of the edge{_which(setup)}. Set the work zero "
        f"(G54) so that bare contact there reads "
        f"{_axis_value(plan, restart, restart.bared_depth_mm)}: the first "
        f"{restart.from_pass - 1} passes have reached {restart.bared_depth_mm:.4f} mm below the "
        "unground face. That depth is reckoned, not measured, from the stiffness and the specific "
        "energy in your files: an error in it is an error in the depth of the relief."
        + (
            ""
            if setup.work.in_lines
            else " A wheel 1 mm larger in diameter bares on the two rims of the hollow, at "
            f"{_axis_value(plan, restart, restart.bared_larger_mm)}."
        ),
    ]
    if "cross" in setup.axes:
        infeed, cross = setup.frame.beside(restart.shoulder_land_from_middle_mm)
        steps.append(
            "Check it on steel that is not ground, if jaws and cross travel allow: with "
            f"{_word(plan, setup, 'cross', cross)} the wheel stands over the middle of the "
            f"shoulder land and bares at {_word(plan, setup, 'infeed', infeed)}, whatever was "
            "reckoned. Where the two do not agree, trust the land.",
        )
    if machine.fixture.touch_off_each == "batch" and plan.job.model.quantity > plan.blade:
        steps.append(
            "This zero is for this blade. Touch the next one off on its unground face, and count "
            "the blades from there: it is `--blade 1`."
        )
    return steps


def _new_flat_zero(plan: Plan, restart: Restart) -> str:
    return (
        "The infeed zero is gone. Touch off on the flat that is ground so far, with ink, the wheel "
        "turned by hand, by the smallest steps, at the middle of the edge. Set the work zero (G54) "
        f"so that bare contact there reads {_axis_value(plan, restart, restart.bared_depth_mm)}: "
        f"the first {restart.from_pass - 1} passes have reached {restart.bared_depth_mm:.4f} mm. "
        "That depth is reckoned, not measured."
    )


def _cross_for(plan: Plan, restart: Restart) -> str:
    if "cross" not in restart.setup.axes:
        return ", in its middle"
    cross = restart.setup.frame.position(restart.bared_depth_mm, restart.bared_along_mm)[1]
    where = "in its middle" if restart.bared_along_mm == 0 else "where it is deepest so far"
    return f", {where}, with {_word(plan, restart.setup, 'cross', cross)}"


def _axis_value(plan: Plan, restart: Restart, depth_mm: float) -> str:
    infeed, _ = restart.setup.frame.position(depth_mm, restart.bared_along_mm)
    return _word(plan, restart.setup, "infeed", infeed)


def _word(plan: Plan, setup: Setup, role: str, value_mm: float) -> str:
    """An axis word as the programs write it: sign, units and decimals of the controller."""
    machine = plan.machine.model
    letter = setup.axes[role]
    scale = INCH_MM if machine.controller.units == "inch" else 1.0
    value = -value_mm if machine.axes[letter].invert else value_mm  # type: ignore[index]
    return f"`{letter}{number_text(value / scale, machine.controller.decimals)}`"


def _wheel_line(setup: Setup) -> str:
    wheel, speed = setup.work.wheel, setup.heated.cutting.surface_speed_m_s
    return f"- wheel: {_plain(wheel.name)}, {size_words(wheel)}, {speed:.1f} m/s"


def _measure(setup: Setup) -> str:
    what = "read both lands"
    if setup.work.operation == "bevel":
        what = "measure the thickness at the edge"
    blades = "blades" if setup.row.blades > 1 else "blade"
    return f"Wheel stopped, {blades} out, {what} at heel, middle and tip:"


def _land_table(plan: Plan, setup: Setup) -> list[str]:
    stage = stage_table(plan, setup)
    if stage:
        return stage
    relief, tolerance = setup.relief, plan.job.model.relief.land_tolerance_mm
    lines = [
        "| land | nominal, mm | limits, mm | heel | middle | tip |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    asked = (("edge", relief.asked_edge_land_mm), ("shoulder", relief.asked_shoulder_land_mm))
    for blade in [f"{n} " for n in setup.row.stations] if setup.in_row else [""]:
        for name, value in asked:
            limits = f"{max(value - tolerance, 0):.2f} to {value + tolerance:.2f}"
            lines.append(f"| {blade}{name} | {value:.2f} | {limits} | | | |")
    if abs(relief.aside_mm) >= 0.005:
        lines += [
            "",
            f"With the settings that there are: edge land {relief.edge_land_mm:.2f}, shoulder land "
            f"{relief.shoulder_land_mm:.2f} mm.",
        ]
    return lines


def _closing(cautions: Sequence[Caution]) -> list[str]:
    lines = ["", "## Cautions", ""]
    lines += [f"- **{c.level}** ({c.topic}): {c.text} [{c.basis}]" for c in cautions]
    return [
        *lines, "", "Set up by: ______________  checked by: ______________  date: ____________", "",
    ]  # fmt: skip


def _length(machine: Machine, millimetres: float) -> str:
    """A length as the controller shows it: on an inch machine in both."""
    if machine.controller.units == "inch":
        return f"{millimetres:.3f} mm ({millimetres / INCH_MM:.4f} in)"
    return f"{millimetres:.3f} mm"


def _later_in_batch(plan: Plan) -> bool:
    return plan.machine.model.fixture.touch_off_each == "batch" and plan.blade > 1


def _which_blade(plan: Plan) -> str:
    quantity = plan.job.model.quantity
    together = plan.totals.blades
    if plan.machine.model.fixture.touch_off_each == "batch" and quantity > 1:
        if together > 1:
            return f", blades {plan.blade} to {plan.blade + together - 1} of {quantity}"
        return f", blade {plan.blade} of {quantity}"
    return f", {together} blades" if together > 1 else ""


def _about_jaws(machine: Machine, setup: Setup) -> str:
    jaws = machine.fixture.jaws
    if jaws is None or setup.jaw_clearance_mm is None:
        return ""
    near = " Very little: check it by hand." if setup.jaw_clearance_mm < NEAR_MM else ""
    return (
        f" The jaws begin {_length(machine, jaws.from_edge_mm)} from the edge and stand at most "
        f"{_length(machine, jaws.above_flank_mm)} proud; the wheel then clears them by "
        f"{setup.jaw_clearance_mm:.2f} mm.{near}"
    )


def _in_the_way(plan: Plan, setup: Setup) -> list[str]:
    """The least clearance from each thing in the way, and where the tool then stands."""
    nearest: dict[str, Clearance] = {}
    for one in setup.clearances:
        known = nearest.get(one.obstacle.name)
        if known is None or one.distance_mm < known.distance_mm:
            nearest[one.obstacle.name] = one
    if not nearest:
        return []
    lines = ["", "## What is in the way", ""]
    for one in nearest.values():
        there = zip(
            ("traverse", "cross", "infeed"),
            (one.at.traverse_mm, one.at.cross_mm, one.at.infeed_mm),
            strict=True,
        )
        words = [_word(plan, setup, role, at) for role, at in there if role in setup.axes]
        near = " Very little: check it by hand." if one.distance_mm < NEAR_MM else ""
        name = one.obstacle.name if one.obstacle.kind == "obstacle" else f"the {one.obstacle.kind}"
        lines.append(
            f"- {_plain(name)}: nearest is {_plain(one.part)}, "
            f"{_length(plan.machine.model, max(one.distance_mm, 0.0))} away, at "
            f"{' '.join(words)}.{near}"
        )
    lines += [
        "",
        "Reckoned for every move of the program and of its air run, from the outlines in the "
        "machine file; the way from where the machine stands to the first place of the program is "
        f"yours{', the tilt before it too' if 'tilt' in setup.axes else ''}.",
    ]
    return lines


def _about_wheel(plan: Plan, setup: Setup) -> str:
    wheel, machine = setup.work.wheel, plan.machine.model
    diameter = _length(machine, wheel.diameter_mm)
    if wheel.platen is not None:
        return (
            "Belt tracked and warm over its platen; the platen true along the edge and across it: "
            "check both with a straight-edge, wheel stopped."
        )
    if wheel.belt is not None:
        return (
            f"Belt tracked and warm on its contact wheel of {diameter}, belt "
            f"{_length(machine, wheel.belt.thickness_mm)} thick: check both."
        )
    if _later_in_batch(plan):
        return "Do not dress the wheel and do not touch off: the zero of the first blade stands."
    rim = ""
    if wheel.contact == "across_edge":
        shape = "flat"
        if wheel.form_radius_mm is not None:
            shape = f"to a radius of {_length(machine, wheel.form_radius_mm)}"
        rim = f" Its rim is dressed {shape} over {_length(machine, wheel.width_mm)}."
    return (
        f"Dress the wheel if it is loaded or out of true, warm it up, and check its diameter: "
        f"{diameter} planned.{rim}"
    )


def _touch_off_steps(plan: Plan, setup: Setup, mark_mm: float) -> list[str]:
    machine, relief = plan.machine.model, setup.relief
    if _later_in_batch(plan):
        return [
            "4. Put the blade against the same stops as the first one.",
            f"5. Leave the work zero as it is. The program makes up for "
            f"{setup.worn_before_mm * 1000:.1f} µm of wear since the touch-off.",
        ]
    cross = "cross" in setup.axes
    if setup.work.operation != "relief":
        return [
            f"4. {_on_which(setup)}{flat_touch_off(plan, setup)}",
            f"5. {_zero_words(plan, setup)}",
        ]
    shift = "Shift the cross" if cross else "Shift the blade in its stops"
    if setup.in_row and not cross:
        shift = "Shift the whole row in its stops"
    first, until = "", f"{shift} until the middle is right; a wider mark is a deeper touch."
    if machine.fixture.hand_cross is not None:
        first = cross_words(machine, setup, partial(_length, machine)) + " "
        until = (
            "A wider mark is a deeper touch. Where its middle stands elsewhere, the scale or stop "
            "is not where the machine file says: mend the file and plan again."
            + stop_check_words(setup, plan.section.wheel_radius_mm)
        )
    return [
        f"4. {first}Touch off on face {relief.face}{_which(setup)}, anywhere along the edge, with "
        f"ink, the wheel turned by hand, by the smallest steps: the mark stands with its middle "
        f"{_length(machine, relief.middle_mm)} from the edge along the face, and a touch of "
        f"{TOUCH_MARK_DEPTH_MM:.3f} mm makes it {mark_mm:.2f} mm wide. {until}",
        f"5. {_zero_words(plan, setup)}",
    ]


def _zero_words(plan: Plan, setup: Setup) -> str:
    traverse, whose, machine = "0", "", plan.machine.model
    if setup.in_row:
        position = setup.row.all_positions_mm[touched_station(setup) - 1]
        traverse, whose = _word(plan, setup, "traverse", position), " of that blade"
    end = "heel" if setup.frame.x_per_traverse > 0 else "tip"
    along = f"traverse {traverse} with the wheel's middle over the {end}{whose}"
    if setup.motion is not None:
        along = f"{setup.motion.turn} 0 with the {end} under the wheel's middle plane"
    return (
        f"Set the work zero (G54) there: infeed 0 at bare contact, "
        f"{'cross 0, ' if 'cross' in setup.axes else ''}{along}."
        + (f" {room}" if (room := room_words(plan, setup, partial(_length, machine))) else "")
    )


def _about_running(plan: Plan, setup: Setup, from_pass: int = 1) -> str:
    machine = plan.machine.model
    parts = []
    if machine.coolant.kind != "dry" and not machine.coolant.on:
        parts.append("Coolant on.")
    if machine.spindle.control == "by_hand":
        parts.append("The program stops for you to start the wheel, and again to switch it off.")
    stops = sum(p is not None and p.kind != "dwell" for p in setup.marched.pauses[from_pass - 1 :])
    parts.append("Run the program.")
    if stops:
        parts.append(
            f"It stops {stops} times for the blade to be cooled (below). At each stop wait until "
            "the wheel stands still before you reach in; the screen may not show why it stopped."
        )
    return " ".join(parts)


def _heat_lines(plan: Plan, setup: Setup, from_pass: int = 1) -> list[str]:
    marched = setup.marched
    soak = max(t.soak_c for t in marched.passes)
    flash = max(t.flash_c for t in marched.passes)
    lines = [
        f"Predicted: {soak:.0f} °C build up ({marched.soak_limit_c:.0f} allowed), {flash:.0f} °C "
        f"for a moment under the wheel ({marched.flash_limit_c:.0f} allowed). Not measured on "
        "this machine: grind a scrap blade first and look for colour.",
    ]
    pauses = [
        (one.number, pause)
        for one, pause in zip(setup.passes, marched.pauses, strict=True)
        if pause is not None and one.number >= from_pass
    ]
    for number, pause in pauses:
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
