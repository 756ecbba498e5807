"""The sheet of a program that goes on from a later pass."""

from __future__ import annotations

from collections.abc import Sequence

from planner.cautions.caution import Caution
from planner.plan import Plan
from planner.report.figures import time_text
from planner.report.papers.model import Facts, Heading, Paper, Part, Steps
from planner.report.papers.operation_steps import ground_so_far
from planner.report.papers.setup_sheet import after_the_steps, closing_steps, facts_of, sheet
from planner.report.papers.words import ReadBack, axis_word, length, of_which_blade, tilt_word
from planner.report.path_words import anchor_words, size_sentence
from planner.restart import Restart
from planner.setup_plan import Setup


def restart_paper(
    plan: Plan, restart: Restart, cautions: Sequence[Caution], read_back: ReadBack
) -> Paper:
    """The sheet of a program that goes on."""
    setup, done = restart.setup, restart.from_pass - 1
    what = "with a new wheel or belt" if restart.new_wheel else "the zero stands"
    zero = _new_zero_steps(plan, restart) if restart.new_wheel else _old_zero_steps(plan, restart)
    steps = [
        f"Wheel stopped, retracted, and off the end of the blade. Passes 1 to {done} of "
        f"`{setup.program}` must be whole. Pass {restart.from_pass} may have been begun: it is "
        "ground again from its start.",
        "Leave the blade clamped as it is. If it has moved or was taken out, do not go on: nothing "
        "here finds it again.",
        *zero,
        *closing_steps(plan, setup, restart.from_pass),
    ]
    facts = [
        *facts_of(plan, setup, restart.program, read_back),
        (
            f"goes on from `{setup.program}` of the same plan",
            "the line `(plan ...)` must be the same in both",
        ),
        (
            "passes",
            f"{restart.from_pass} to {len(setup.passes)}, time {time_text(restart.time_s)}, "
            "spin-up and pauses counted, your own hands not",
        ),
    ]
    parts: list[Part] = [
        Facts(tuple(facts)),
        Heading("In this order"),
        Steps(tuple(steps)),
        *after_the_steps(plan, setup, cautions, read_back, restart.from_pass),
    ]
    title = f"Set-up {setup.name}, face {setup.relief.face}, from pass {restart.from_pass}: {what}"
    return sheet(plan, title, restart.program, read_back, parts)


def _old_zero_steps(plan: Plan, restart: Restart) -> list[str]:
    at = "" if restart.setup.sweep is None else f", {_swept_at(plan, restart)}"
    return [
        "Do not touch off, and do not dress the wheel: the zero of the first program stands, and "
        f"{_worn_text(restart)}. If the machine lost its position, home it and call the same work "
        f"offset back; then turn the wheel by hand down to "
        f"{ground_so_far(restart.setup)}{at}: it must bare at "
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
    planned = f"{2 * radius:.1f} mm over all"
    keep = f"{low:.1f} to {high:.1f} mm over all keep"
    larger = "A wheel 1 mm larger in diameter"
    if wheel.form_radius_mm is not None:
        radius_text = length(machine, wheel.form_radius_mm)
        size = "Measure what the new wheel is dressed to"
        planned = f"a radius of {radius_text} is planned"
        keep = f"radii of {low / 2:.2f} to {high / 2:.2f} mm keep"
        larger = "A form dressed 0.5 mm larger in radius"
    elif belt is None:
        size = f"Measure the new wheel: {length(machine, wheel.diameter_mm)} is planned"
        if wheel.crown_radius_mm is not None:
            size += f", its rim crowned to a radius of {length(machine, wheel.crown_radius_mm)}"
    else:
        size = (
            "Measure the new belt, a thicker or thinner one changes the radius: "
            f"{length(machine, belt.thickness_mm)} thick on a contact wheel of "
            f"{length(machine, wheel.diameter_mm)} is planned"
        )
    of_path = size_sentence(plan, setup)
    steps = [
        of_path.replace("These programs", "Measure the new wheel. These programs")
        + " With a size beyond that do not go on with this program."
        if of_path
        else f"{size}, {planned}: these programs are proved with that size. "
        f"By reckoning, {keep} the lands too, if the depth is "
        "right. With a size beyond that do not go on with this program.",
        "The traverse zero stands if the wheel's middle sits where the old one's did: look. "
        f"{'The cross zero stands. ' if 'cross' in setup.axes else ''}The infeed zero is gone, and "
        "the face that it was touched off on is ground away.",
        f"Touch off inside the relief{_cross_for(plan, restart)}, with ink, the wheel turned by "
        f"hand, by the smallest steps, {_where(setup)}{of_which_blade(setup)}. Set the "
        f"work zero (G54) so that bare contact there reads "
        f"{_axis_value(plan, restart, restart.bared_depth_mm)}: the first "
        f"{restart.from_pass - 1} passes have reached {restart.bared_depth_mm:.4f} mm below the "
        "unground face. That depth is reckoned, not measured, from the stiffness and the specific "
        "energy in your files: an error in it is an error in the depth of the relief."
        + (
            ""
            if setup.work.in_lines
            else f" {larger} bares on the two rims of the hollow, at "
            f"{_axis_value(plan, restart, restart.bared_larger_mm)}."
        ),
    ]
    if "cross" in setup.axes:
        infeed, cross = setup.frame.beside(restart.shoulder_land_from_middle_mm)
        steps.append(
            "Check it on steel that is not ground, if jaws and cross travel allow: with "
            f"{axis_word(plan, setup, 'cross', cross)} the wheel stands over the middle of the "
            f"shoulder land and bares at {axis_word(plan, setup, 'infeed', infeed)}, whatever was "
            "reckoned. Where the two do not agree, trust the land.",
        )
    if machine.fixture.touch_off_each == "batch" and plan.job.model.quantity > plan.blade:
        steps.append(
            "This zero is for this blade. Touch the next one off on its unground face, and count "
            "the blades from there: it is `--blade 1`."
        )
    return steps


def _where(setup: Setup) -> str:
    if setup.followed is not None:
        return f"at the anchor ({anchor_words(setup)})"
    return "at the middle of the edge"


def _new_flat_zero(plan: Plan, restart: Restart) -> str:
    place = "on the flat that is ground so far"
    cross = restart.position(restart.bared_depth_mm)[1]
    if restart.setup.sweep is not None:
        place += f", {_swept_at(plan, restart)}"
    if restart.setup.work.in_lines:
        at = axis_word(plan, restart.setup, "cross", cross)
        place = f"on the line that is deepest so far, with {at}"
    return (
        f"The infeed zero is gone. Touch off {place}, with ink, the wheel "
        f"turned by hand, by the smallest steps, {_where(restart.setup)}. Set the work zero (G54) "
        f"so that bare contact there reads {_axis_value(plan, restart, restart.bared_depth_mm)}: "
        f"the first {restart.from_pass - 1} passes have reached {restart.bared_depth_mm:.4f} mm. "
        "That depth is reckoned, not measured."
    )


def _swept_at(plan: Plan, restart: Restart) -> str:
    """Where the tilt and the cross stand for the facet that it goes on with."""
    words = [tilt_word(plan, restart.setup, restart.tilt_deg)]
    if "cross" in restart.setup.axes:
        cross = restart.position(restart.bared_depth_mm)[1]
        words.append(axis_word(plan, restart.setup, "cross", cross))
    return f"with {' and '.join(words)} as the facet of pass {restart.from_pass} has them"


def _cross_for(plan: Plan, restart: Restart) -> str:
    if "cross" not in restart.setup.axes:
        return ", in its middle"
    cross = restart.position(restart.bared_depth_mm)[1]
    where = "in its middle" if restart.bared_along_mm == 0 else "where it is deepest so far"
    return f", {where}, with {axis_word(plan, restart.setup, 'cross', cross)}"


def _axis_value(plan: Plan, restart: Restart, depth_mm: float) -> str:
    infeed, _ = restart.position(depth_mm)
    return axis_word(plan, restart.setup, "infeed", infeed)
