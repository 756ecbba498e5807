"""What a set-up asks a person to set: tilt, cross and room, in words for sheet and screen."""

from __future__ import annotations

import math
from collections.abc import Callable

from planner.inputs.machine import Machine
from planner.kinematics.room import Room
from planner.kinematics.settings import cross_kind, tilt_kind
from planner.kinematics.touch_frame import axis_letter
from planner.plan import Plan
from planner.setup_plan import Setup

Length = Callable[[float], str]
"""Words for a length in mm, as the controller shows it."""

_TILTED = {
    "axis": "set by the program",
    "scale": "set by hand on the scale",
    "settings": "set by hand: the wedge or stop of that angle",
    "fixed": "the one that the fixture has",
}
_CROSSED = {
    "scale": "Set the cross by hand on its scale",
    "settings": "Set the cross by hand against the stop",
    "fixed": "The cross is fixed",
}


def is_set_by_hand(machine: Machine) -> bool:
    """Whether a person sets the tilt or the cross to a figure."""
    return machine.fixture.hand_tilt is not None or machine.fixture.hand_cross is not None


def tilt_words(machine: Machine, setup: Setup) -> str:
    """The tilt, who sets it, which way, and what is left of an error."""
    frame, kind = setup.frame, tilt_kind(machine)
    text = f"Tilt {frame.tilt_deg + 0.0:.3f} deg, {_TILTED[kind]}"
    if kind != "axis" and machine.fixture.flip != "by_tilt" and frame.tilt_deg:
        right_way = frame.tilt_deg * frame.ideal_tilt_deg > 0.0
        text += f", the {'edge' if right_way else 'spine'} the higher"
    text += "."
    if setup.sweep is not None and len(setup.sweep.stands) > 1:
        last = setup.sweep.stands[-1].tilt_deg + 0.0
        text += (
            f" That is the tilt of the touch-off: from facet to facet the program turns it, to "
            f"{last:.3f} deg in the end, so hoses and cables must let it."
        )
    off = frame.tilt_deg - frame.ideal_tilt_deg
    if abs(off) > 1e-6:
        text += (
            f" The bevel itself is at {frame.ideal_tilt_deg:.3f} deg; the program allows for it."
        )
        if setup.relief.drift_mm:
            way = "shoulder" if setup.relief.drift_mm > 0 else "edge"
            text += (
                f" On its way down the wheel drifts {abs(setup.relief.drift_mm):.4f} mm to the "
                f"{way}, no cross axis making up for it."
            )
    hand = machine.fixture.hand_tilt
    if hand is not None:
        text += f" What remains: {hand.repeatability_deg:.3f} deg, one sigma."
    return text + turn_words(machine, setup)


def turn_words(machine: Machine, setup: Setup) -> str:
    """What to do with a turn: hold it still, or lay the axis of the bend or the edge on it."""
    motion, followed = setup.turned, setup.followed
    if followed is not None and followed.path.turn is not None:
        return (
            f" The program turns the blade on axis {followed.path.turn.letter}. Clamp it flat, the "
            "axis of the turn square to its middle plane and through the edge at the anchor."
        )
    if motion is not None:
        return (
            f" The program turns the blade on axis {motion.turn}, {motion.mm_per_deg:.4f} mm of "
            f"edge a degree. Clamp it with the axis of its arc on the axis of the turn, and bring "
            f"{motion.traverse} to 0 with the wheel's middle plane over that axis: it stays there."
        )
    letter = axis_letter(machine, "turn")
    if letter is not None:
        return (
            f" Axis {letter} turns the blade about a bend: bring it to 0 and leave it there, the "
            "program does not move it."
        )
    return " Set the turn to 0 deg by hand." if machine.fixture.hand_turn is not None else ""


def cross_words(machine: Machine, setup: Setup, length: Length) -> str:
    """Where the cross is set by hand, and what it does to the lands."""
    work, hand = setup.work, machine.fixture.hand_cross
    assert hand is not None
    bares = "the wheel bares" if work.operation == "relief" else "the flat's middle stands"
    text = f"{_CROSSED[cross_kind(machine)]}: {bares} {length(work.place_mm)} from the "
    text += f"edge along the face. What remains: {hand.repeatability_mm:.3f} mm, one sigma."
    off = work.place_mm - work.asked_place_mm
    if abs(off) > 5e-4 and work.operation != "relief":
        text += f" {length(work.asked_place_mm)} would be the middle of the face; it covers it so."
    elif abs(off) > 5e-4:
        wider, narrower = ("edge", "shoulder") if off > 0 else ("shoulder", "edge")
        text += (
            f" {length(work.asked_place_mm)} would be right: the program is for the place that "
            f"there is, and the {wider} land comes out {abs(off):.3f} mm wider, the {narrower} "
            "land as much narrower."
        )
    return text


def stop_check_words(setup: Setup, radius_mm: float) -> str:
    """A stop that was found at another tilt stands elsewhere; empty where the tilt is right."""
    off = abs(setup.frame.tilt_deg - setup.frame.ideal_tilt_deg)
    if off <= 1e-6:
        return ""
    elsewhere = radius_mm * math.sin(math.radians(off))
    return (
        f" The tilt is {off:.3f} deg off the bevel: a stop found with the bevel level bares "
        f"{elsewhere:.2f} mm elsewhere. Trust the mark."
    )


def room_words(plan: Plan, setup: Setup, length: Length) -> str:
    """The room that a set-up needs on either side of its zero, where the zero is not known."""
    rooms = [room for room in setup.rooms if room.zero_at is None and room.high > room.low]
    if not rooms:
        return ""
    needs = "; ".join(_room(room, length) for room in rooms)
    return (
        "Room: where this zero stands in the machine is not in its file, so the travel was not "
        f"tested. Look that every axis can go that far, air run included: {needs}. Where one "
        "cannot, do not run: move the fixture."
    )


def _room(room: Room, length: Length) -> str:
    below, above = max(-room.low, 0.0) + 0.0, max(room.high, 0.0) + 0.0
    whole = room.travel[1] - room.travel[0]
    return (
        f"{room.letter} {length(below)} below zero and {length(above)} above (travel "
        f"{length(whole)} in all)"
    )
