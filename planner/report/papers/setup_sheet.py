"""The set-up sheet: what the person at the machine does, in order."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from planner.cautions.caution import Caution
from planner.inputs.machine import Machine
from planner.kinematics.clearance import Clearance
from planner.kinematics.edge_way import stands_still
from planner.kinematics.settings import cross_kind, tilt_kind
from planner.plan import Plan
from planner.report.bend_words import bend_lines
from planner.report.by_hand import tilt_words
from planner.report.figures import time_text
from planner.report.papers.clamping import clamping, scale_words
from planner.report.papers.followed import followed_parts
from planner.report.papers.heat_and_wear import heat_lines, wear_lines
from planner.report.papers.how_it_lies import lies_words
from planner.report.papers.mark_picture import mark_picture
from planner.report.papers.measure import measure_parts
from planner.report.papers.model import (
    Bullets,
    Facts,
    Heading,
    Paper,
    Part,
    Picture,
    Signatures,
    Steps,
    Table,
    Text,
    Warned,
    Warnings,
    literal,
)
from planner.report.papers.passes import passes_table, read_passes
from planner.report.papers.row import row_sheet_parts
from planner.report.papers.swept import swept_parts
from planner.report.papers.touch_off import deeper_marks, light_touch, touch_off_steps, why_so_deep
from planner.report.papers.words import (
    ReadBack,
    axis_word,
    blade_or_row,
    later_in_batch,
    length,
    which_blades,
    written_word,
)
from planner.report.path_words import size_sentence
from planner.report.wall_words import wall_line
from planner.report.wheel_words import size_words
from planner.setup_plan import Setup

NEAR_MM = 1.0
"""What passes something nearer than this is worth a look. Common practice, no source."""

_ROLES = ("traverse", "cross", "infeed")

_TILT_BY = {
    "axis": "set by the program",
    "scale": "set by hand on the scale",
    "settings": "the wedge or stop of that angle, set by hand",
    "fixed": "as the fixture has it",
}
_CROSS_BY = {
    "axis": "where the cross is set to 0",
    "scale": "set by hand on the scale",
    "settings": "set by hand against that stop",
    "fixed": "as the fixture has it",
    "free": "the blade shifted until the mark stands there",
}
_GROWS = {
    "band": "Four times as deep a touch makes a mark twice as wide.",
    "face": "It is as wide however deep the touch.",
    "lands": "They are as wide however deep the touch.",
}
_HELD = {
    "end_for_end": "turned end for end: the edge still points the same way, heel and tip exchanged",
    "over": "turned over about its length: the edge now points the other way",
    "by_tilt": "not turned: the fixture tilts to the other side",
}


def setup_paper(
    plan: Plan, setup: Setup, cautions: Sequence[Caution], read_back: ReadBack
) -> Paper:
    """The sheet of one set-up."""
    machine = plan.machine.model
    tilted = f"Clamp {'every' if setup.in_row else 'the'} blade {_how_held(plan, setup)}."
    steps = [
        f"Wheel stopped, retracted, and off the end of the {blade_or_row(setup)}. {tilted} "
        f"{lies_words(setup, partial(axis_word, plan, setup, 'traverse'))} "
        f"Nothing loose, no bow pulled flat by the clamp.{_about_jaws(machine, setup)}",
        tilt_words(machine, setup),
        _about_wheel(plan, setup),
        *_measure_wheel(plan, setup),
        *touch_off_steps(plan, setup),
        *closing_steps(plan, setup),
    ]
    passes = f"{len(read_passes(read_back))}, time {time_text(setup.time_s)}, spin-up and pauses "
    facts = [
        *facts_of(plan, setup, setup.program, read_back),
        ("passes", f"{passes}counted, your own hands not"),
    ]
    parts: list[Part] = [
        Facts(tuple(facts)),
        *_about_shape(plan, setup),
        *followed_parts(plan, setup),
        *swept_parts(plan, setup),
        *_row(plan, setup),
        *_clamped(plan, setup),
        Heading("In this order"),
        Steps(tuple(steps)),
        *_mark(plan, setup),
        *after_the_steps(plan, setup, cautions, read_back),
    ]
    title = f"Set-up {setup.name}: face {setup.relief.face}{which_blades(plan)}"
    return sheet(plan, title, setup.program, read_back, parts)


def sheet(
    plan: Plan, title: str, program: str, read_back: ReadBack, parts: Sequence[Part]
) -> Paper:
    """A paper that belongs to a program."""
    running = f"{program} {read_back.program.sha256[:16]} · {plan.job.model.title}"
    return Paper(program.removesuffix(".ngc"), title, running, tuple(parts))


def facts_of(plan: Plan, setup: Setup, program: str, read_back: ReadBack) -> list[tuple[str, str]]:
    """Job, machine, wheel and the two programs, by what was read back from them."""
    wheel, speed = setup.work.wheel, setup.heated.cutting.surface_speed_m_s
    air = program.replace(".ngc", "-air.ngc")
    return [
        ("job", literal(plan.job.model.title)),
        ("machine", literal(plan.machine.model.title)),
        ("wheel", f"{literal(wheel.name)}, {size_words(wheel)}, {speed:.1f} m/s"),
        *settings_of(plan, setup),
        ("program", f"`{program}`, SHA-256 `{read_back.program.sha256[:16]}`"),
        ("air run", f"`{air}`, SHA-256 `{read_back.air_run.sha256[:16]}`"),
    ]


def settings_of(plan: Plan, setup: Setup) -> list[tuple[str, str]]:
    """What tilt and cross stand at, and who sets them."""
    machine, frame = plan.machine.model, setup.frame
    tilt = f"`{frame.tilt_deg + 0.0:.3f} deg`, {_TILT_BY[tilt_kind(machine)]}"
    if setup.sweep is not None:
        last = setup.sweep.stands[-1].tilt_deg + 0.0
        tilt += f", swept to `{last:.3f} deg`"
    rows = [("tilt", tilt)]
    if setup.work.operation == "relief" or machine.fixture.hand_cross is not None:
        relief = setup.work.operation == "relief"
        at = light_touch(plan, setup).middle_mm if relief else setup.work.place_mm
        place = length(machine, at)
        rows.append(("cross", f"`{place}` from the edge, {_CROSS_BY[cross_kind(machine)]}"))
    return rows


def closing_steps(plan: Plan, setup: Setup, from_pass: int = 1) -> list[str]:
    """From the air run to the measuring."""
    machine, followed = plan.machine.model, setup.followed
    up = setup.clear_mm if followed is None else followed.safe_mm
    clear = length(machine, up)
    return [
        f"Retract to {clear} above the zero and go off the end of the {blade_or_row(setup)}. Run "
        "the air-run twin, wheel off, feed override at 100 %.",
        _about_running(plan, setup, from_pass),
        _measure(setup),
    ]


def after_the_steps(
    plan: Plan,
    setup: Setup,
    cautions: Sequence[Caution],
    read_back: ReadBack,
    from_pass: int = 1,
) -> list[Part]:
    """What is measured, the passes, what is in the way, heat and wear, cautions, boxes to sign."""
    wear = wear_lines(plan, setup) if from_pass == 1 else []
    parts: list[Part] = [
        Heading("To measure"),
        *measure_parts(plan, setup, read_back.program),
        Heading("Passes, as read back from the program"),
        passes_table(plan, setup, read_back),
        _about_depths(setup),
        *_in_the_way(plan, setup),
        Heading("Heat and wear"),
        Bullets((*heat_lines(plan, setup, from_pass), *wear)),
    ]
    told = tuple(Warned(c.level, c.topic, c.text, c.basis) for c in cautions)
    parts += [Heading("Cautions"), Warnings(told)] if told else []
    return [*parts, Signatures(("Set up by", "air run seen by", "checked by", "date"))]


def _about_depths(setup: Setup) -> Text:
    """Why an infeed goes further than the depth beside it."""
    lines = "Depths are normal to the face, below where the wheel bared."
    if setup.sweep is not None:
        lines = "Depths are normal to the facet that is ground, below the corner of the stock."
    if setup.followed is not None:
        lines += " The infeed of the program changes from block to block along the edge."
    elif setup.worn.worn_mm[-1] > 0.0:
        lines += " The depth set is less than the infeed by what has worn off the wheel by then."
    return Text(lines)


def _how_held(plan: Plan, setup: Setup) -> str:
    machine = plan.machine.model
    if setup.relief.face == "A":
        return "as it comes, edge away from the spine stop"
    held = _HELD[machine.fixture.flip]
    if machine.fixture.turn_line_mm is not None:
        shift = 2 * machine.fixture.turn_line_mm
        held += f", {length(machine, abs(shift))} {'beyond' if shift >= 0 else 'before'} where it "
        held += "lay on face A"
    return f"as face A would lie, then {held}" if setup is plan.setups[0] else held


def _row(plan: Plan, setup: Setup) -> list[Part]:
    machine = plan.machine.model
    return row_sheet_parts(
        plan,
        setup,
        lambda mm: axis_word(plan, setup, "traverse", mm),
        lambda mm: length(machine, mm),
    )


def _about_shape(plan: Plan, setup: Setup) -> list[Part]:
    """The wall of a gouge around its sweep, and what is bent after the grind."""
    lines = [*wall_line(plan.wall), *bend_lines(plan.bent, setup.relief.face)]
    return [Bullets(tuple(line.removeprefix("- ") for line in lines))] if lines else []


def _measure_wheel(plan: Plan, setup: Setup) -> list[str]:
    """Along an edge that is followed the wheel's own size decides the depth."""
    about = size_sentence(plan, setup)
    if not about or later_in_batch(plan):
        return []
    return [
        f"Measure the wheel as it is now, after dressing and after wear. {about} With another size "
        "write the measured one into the machine file and plan again."
    ]


def _clamped(plan: Plan, setup: Setup) -> list[Part]:
    drawing, scale = clamping(plan, setup)
    return [
        Picture(
            drawing,
            f"The section in the fixture, {scale_words(scale)}, lengths in mm. What holds the "
            "blade is drawn as a sketch; jaws and obstacles as the machine file has them.",
        )
    ]


def _mark(plan: Plan, setup: Setup) -> list[Part]:
    if later_in_batch(plan):
        return []
    mark = light_touch(plan, setup)
    drawing = mark_picture(setup, mark)
    if drawing is None:
        return []
    parts: list[Part] = [
        Heading("The mark of a light touch"),
        Picture(
            drawing,
            "The face as one looks on to it, lengths in mm: edge to shoulder to scale, along the "
            f"edge only part. Touched {mark.depth_mm:.4f} mm deep, {why_so_deep(plan)}. "
            f"{_GROWS[mark.seen]}",
        ),
    ]
    rows = deeper_marks(plan, setup)
    if rows:
        header = ("touched, mm", "mark is wide, mm", "and lies from the edge, mm")
        parts.append(Table(header, tuple(rows), (1, 1, 1)))
    return parts


def _measure(setup: Setup) -> str:
    what = "read both lands"
    if setup.work.operation == "bevel":
        what = "measure the thickness at the edge"
    blades = "blades" if setup.row.blades > 1 else "blade"
    return f"Wheel stopped, {blades} out, {what} at heel, middle and tip."


def _about_jaws(machine: Machine, setup: Setup) -> str:
    jaws = machine.fixture.jaws
    if jaws is None or setup.jaw_clearance_mm is None:
        return ""
    near = " Very little: check it by hand." if setup.jaw_clearance_mm < NEAR_MM else ""
    return (
        f" The jaws begin {length(machine, jaws.from_edge_mm)} from the edge and stand at most "
        f"{length(machine, jaws.above_flank_mm)} proud; the wheel then clears them by "
        f"{setup.jaw_clearance_mm:.2f} mm.{near}"
    )


def _in_the_way(plan: Plan, setup: Setup) -> list[Part]:
    """The least clearance from each thing in the way, and where the tool then stands."""
    nearest: dict[str, Clearance] = {}
    for one in setup.clearances:
        known = nearest.get(one.obstacle.name)
        if known is None or one.distance_mm < known.distance_mm:
            nearest[one.obstacle.name] = one
    if not nearest:
        return []
    lines = []
    for one in nearest.values():
        words = _stand_words(plan, setup, one)
        near = " Very little: check it by hand." if one.distance_mm < NEAR_MM else ""
        name = one.obstacle.name if one.obstacle.kind == "obstacle" else f"the {one.obstacle.kind}"
        lines.append(
            f"{literal(name)}: nearest is {literal(one.part)}, "
            f"{length(plan.machine.model, max(one.distance_mm, 0.0))} away, at "
            f"{' '.join(words)}.{near}"
        )
    return [
        Heading("What is in the way"),
        Bullets(tuple(lines)),
        Text(
            "Reckoned for every move of the program and of its air run, from the outlines in the "
            "machine file; the way from where the machine stands to the first place of the program "
            f"is yours{', the tilt before it too' if 'tilt' in setup.axes else ''}."
        ),
    ]


def _stand_words(plan: Plan, setup: Setup, one: Clearance) -> list[str]:
    at = one.at
    there = (at.traverse_mm, at.cross_mm, at.infeed_mm)
    if setup.followed is None:
        roles = zip(_ROLES, there, strict=True)
        return [axis_word(plan, setup, role, at) for role, at in roles if role in setup.axes]
    if stands_still(setup.way) is None or one.obstacle.kind == "blade":
        # Met along the edge laid straight.
        there = tuple(setup.followed.path.stand(*there).tolist())
    real = zip(_ROLES, there, strict=True)
    return [written_word(plan, setup, role, at) for role, at in real if role in setup.axes]


def _about_wheel(plan: Plan, setup: Setup) -> str:
    wheel, machine = setup.work.wheel, plan.machine.model
    diameter = length(machine, wheel.diameter_mm)
    if wheel.platen is not None:
        return (
            "Belt tracked and warm over its platen; the platen true along the edge and across it: "
            "check both with a straight-edge, wheel stopped."
        )
    if wheel.belt is not None:
        crown = wheel.crown_radius_mm
        crowned = "" if crown is None else f" crowned to a radius of {length(machine, crown)}"
        return (
            f"Belt tracked and warm on its contact wheel of {diameter}{crowned}, belt "
            f"{length(machine, wheel.belt.thickness_mm)} thick: check both."
        )
    if later_in_batch(plan):
        return "Do not dress the wheel and do not touch off: the zero of the first blade stands."
    rim = ""
    if wheel.contact == "across_edge":
        shape = "flat"
        if wheel.form_radius_mm is not None:
            shape = f"to a radius of {length(machine, wheel.form_radius_mm)}"
        rim = f" Its rim is dressed {shape} over {length(machine, wheel.width_mm)}."
    elif wheel.crown_radius_mm is not None:
        rim = (
            f" Its rim is crowned to a radius of {length(machine, wheel.crown_radius_mm)} over "
            f"{length(machine, wheel.width_mm)}: its middle, the highest, is what grinds."
        )
    return (
        f"Dress the wheel if it is loaded or out of true, warm it up, and check its diameter: "
        f"{diameter} planned.{rim}"
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
        often = "once" if stops == 1 else f"{stops} times"
        parts.append(
            f"It stops {often} for the blade to be cooled (below). At each stop wait until "
            "the wheel stands still before you reach in; the screen may not show why it stopped."
        )
    return " ".join(parts)
