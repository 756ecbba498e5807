"""How the zero of a set-up is found, and the mark by which it is checked."""

from __future__ import annotations

from functools import partial
from math import cos, sin

from planner.plan import Plan
from planner.report.by_hand import cross_words, room_words, stop_check_words
from planner.report.papers.operation_steps import flat_touch_off
from planner.report.papers.words import (
    axis_word,
    later_in_batch,
    length,
    of_which_blade,
    on_which_blade,
)
from planner.report.path_words import anchor_words
from planner.report.row_words import touched_station
from planner.section.witness_mark import WitnessMark, witness_mark
from planner.setup_plan import Setup

_LIGHT_MM = 0.001
"""Where the machine file has bare contact found without any error. Common practice, no source."""
_DEEPER = (1, 2, 4)
"""Touches as multiples of the light one, for the table of marks."""


def light_touch(plan: Plan, setup: Setup) -> WitnessMark:
    """The mark of a touch as deep as bare contact is found within, one sigma."""
    return witness_mark(setup.work, plan.machine.model.fixture.touch_off_mm or _LIGHT_MM)


def why_so_deep(plan: Plan) -> str:
    """What the depth of the light touch rests on."""
    if plan.machine.model.fixture.touch_off_mm > 0.0:
        return "as finely as this machine finds bare contact (`touch_off`)"
    return "a light touch, as `touch_off` is 0"


def touch_off_steps(plan: Plan, setup: Setup) -> list[str]:
    """Two steps: the touch, and what to set."""
    machine, relief = plan.machine.model, setup.relief
    if later_in_batch(plan):
        return [
            "Put the blade against the same stops as the first one.",
            f"Leave the work zero as it is. The program makes up for "
            f"{setup.worn_before_mm * 1000:.1f} µm of wear since the touch-off.",
        ]
    mark = light_touch(plan, setup)
    if setup.work.operation != "relief":
        flat = f"{flat_touch_off(plan, setup)}{_flat_mark(setup, mark)}"
        return [f"{on_which_blade(setup)}{flat}", _zero_words(plan, setup)]
    cross = "cross" in setup.axes
    shift = "Shift the cross" if cross else "Shift the blade in its stops"
    if setup.in_row and not cross:
        shift = "Shift the whole row in its stops"
    first, until = "", f"{shift} until the middle is right; a wider mark is a deeper touch."
    if machine.fixture.hand_cross is not None:
        first = cross_words(machine, setup, partial(length, machine)) + " "
        until = (
            "A wider mark is a deeper touch. Where its middle stands elsewhere, the scale or stop "
            "is not where the machine file says: mend the file and plan again."
            + stop_check_words(setup, plan.section.wheel_radius_mm)
        )
    where = "anywhere along the edge"
    if setup.followed is not None:
        where = f"at the anchor ({anchor_words(setup)})"
    return [
        f"{first}Touch off on face {relief.face}{of_which_blade(setup)}, {where}, "
        "with ink, the wheel turned by hand, by the smallest steps: the mark stands with its "
        f"middle {length(machine, mark.middle_mm)} from the edge along the face, and a touch of "
        f"{mark.depth_mm:.4f} mm makes it {mark.width_mm:.2f} mm wide and {mark.along_mm:.1f} mm "
        f"long.{_cut_short(mark)} {until}",
        _zero_words(plan, setup),
    ]


def deeper_marks(plan: Plan, setup: Setup) -> list[tuple[str, str, str]]:
    """Depth of a touch, width of its mark, and what the depth of the relief is then off by."""
    if setup.work.operation != "relief" or later_in_batch(plan):
        return []
    base = light_touch(plan, setup).depth_mm
    # A touch is no deeper than the work: what would be deeper is the same mark again.
    marks = dict.fromkeys(witness_mark(setup.work, base * times) for times in _DEEPER)
    return [
        (f"{m.depth_mm:.4f}", f"{m.width_mm:.2f}", f"{m.from_mm:.2f} to {m.to_mm:.2f}")
        for m in marks
    ]


def _cut_short(mark: WitnessMark) -> str:
    if not mark.cut_short:
        return ""
    return " It runs out at an end of the face, so its own middle is not the wheel's."


def _flat_mark(setup: Setup, mark: WitnessMark) -> str:
    """What is seen where a flat wheel touches, in figures."""
    frame = setup.frame
    off = frame.tilt_deg - frame.ideal_tilt_deg
    if mark.seen == "corner":
        return (
            f" A touch of {mark.depth_mm:.4f} mm makes it {mark.width_mm:.3f} mm wide and "
            f"{mark.along_mm:.1f} mm long."
        )
    seen = f" The mark is {mark.along_mm:.1f} mm long along the edge"
    if mark.seen == "lands":
        edge, shoulder = mark.lands_mm
        seen += f", {edge:.2f} mm wide on the edge land and {shoulder:.2f} mm on the shoulder land"
    else:
        seen += f" and {mark.width_mm:.2f} mm wide"
    seen += "; a flat's mark does not grow with its depth, so stop at the first ink that is cut."
    if abs(off) > 1e-6:
        seen += (
            f" The tilt is {abs(off):.3f} deg off the face: at first it marks on the "
            f"{_first_side(setup)} side alone."
        )
    return seen


def _first_side(setup: Setup) -> str:
    """Where a flat that is held off the face's angle bares first."""
    frame, face = setup.frame, setup.work.face
    side = 1.0 if face.face == "A" else -1.0
    normal = (-sin(face.angle_rad), side * cos(face.angle_rad))
    along = (cos(face.angle_rad), side * sin(face.angle_rad))
    rise = frame.cross_dir_yz[0] * normal[0] + frame.cross_dir_yz[1] * normal[1]
    run = frame.cross_dir_yz[0] * along[0] + frame.cross_dir_yz[1] * along[1]
    return "edge" if rise / run > 0 else "shoulder"


def _zero_words(plan: Plan, setup: Setup) -> str:
    traverse, whose, machine = "0", "", plan.machine.model
    if setup.in_row:
        position = setup.row.all_positions_mm[touched_station(setup) - 1]
        traverse, whose = axis_word(plan, setup, "traverse", position), " of that blade"
    end = "heel" if setup.frame.x_per_traverse > 0 else "tip"
    along = f"traverse {traverse} with the wheel's middle over the {end}{whose}"
    if setup.followed is not None:
        along = f"traverse 0 with the wheel's middle over the anchor, {anchor_words(setup)}"
    if setup.turned is not None:
        along = f"{setup.turned.turn} 0 with the {end} under the wheel's middle plane"
    return (
        f"Set the work zero (G54) there: infeed 0 at bare contact, "
        f"{'cross 0, ' if 'cross' in setup.axes else ''}{along}."
        + (f" {room}" if (room := room_words(plan, setup, partial(length, machine))) else "")
    )
