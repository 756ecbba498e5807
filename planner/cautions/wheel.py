"""Speed against the mark, and the wheel or belt itself."""

from __future__ import annotations

import math

from planner.cautions.caution import MEMORY, PRACTICE, Caution, CautionFacts
from planner.cautions.words import once_each
from planner.inputs.tables import load_table


def speed_against_mark(facts: CautionFacts) -> Caution:
    """Shaft speed against the largest one that the mark allows."""
    part = "wheel"
    if facts.is_belt:
        part = "drive wheel of the platen belt" if facts.over_platen else "contact wheel"
    basis = load_table("safety_limits")["mounting"]["ring_test_basis"]
    if facts.is_belt:
        basis = once_each([PRACTICE, f"as for wheels in {basis}"])
    turns = f"The {part} '{facts.wheel_name}' turns at {facts.shaft_speed_rpm:.0f} rpm"
    if facts.shaft_speed_rpm > facts.marked_rpm:
        return Caution(
            "wheel",
            "danger",
            f"{turns}; its mark allows {facts.marked_rpm:.0f} rpm at most. It may burst. "
            "Do not start it.",
            basis,
        )
    return Caution(
        "wheel",
        "note",
        f"{turns}; the machine file gives {facts.marked_rpm:.0f} rpm as the most that its mark "
        f"allows. Read the mark on the {part} itself before you mount it.",
        basis,
    )


def speed_class(facts: CautionFacts) -> Caution | None:
    """The speed step that a bonded wheel must be marked for."""
    if not facts.is_bonded_wheel:
        return None
    table = load_table("wheel_speed_classes")
    speeds = table["classes"]["speed_m_s"]
    basis = f"EN 12413, {MEMORY}; stripes: a page on operating speeds of grinding tools, seen"
    surface = f"The surface of wheel '{facts.wheel_name}' runs at {facts.surface_speed_m_s:.1f} m/s"
    enough = [speed for speed in speeds if speed >= facts.surface_speed_m_s]
    if not enough:
        return Caution(
            "wheel",
            "danger",
            f"{surface}: above {speeds[-1]} m/s, the last step of EN 12413. Do not start it.",
            basis,
        )
    stripes = {row["speed_m_s"]: colour for colour, row in table["stripes"].items()}
    stripe = f" ({stripes[enough[0]]} stripe)" if enough[0] in stripes else ""
    return Caution(
        "wheel",
        "note",
        f"{surface}: it must be marked for {enough[0]} m/s or more{stripe}. The number printed on "
        "the wheel rules, not the stripe.",
        basis,
    )


def ring_test(facts: CautionFacts) -> Caution | None:
    """Look at a bonded wheel, tap it, let it run up."""
    if not facts.is_bonded_wheel:
        return None
    return Caution(
        "wheel",
        "note",
        f"Cut off the power before you mount wheel '{facts.wheel_name}'. Look for cracks and tap "
        "it with a light piece that is not metal: a vitrified wheel rings clear; one that sounds "
        "dead must not be used. Then stand aside for a minute while it runs behind its guard.",
        once_each(
            [
                load_table("safety_limits")["mounting"]["ring_test_basis"],
                load_table("safety_limits")["personal"]["lockout_basis"],
                f"the minute: {MEMORY}",
            ]
        ),
    )


def flanges(facts: CautionFacts) -> Caution | None:
    """Least diameter of the flanges of a bonded wheel."""
    if not facts.is_bonded_wheel:
        return None
    mounting = load_table("safety_limits")["mounting"]
    least_mm = math.ceil(facts.wheel_diameter_mm / mounting["wheel_per_flange"])
    return Caution(
        "wheel",
        "note",
        f"The flanges of wheel '{facts.wheel_name}' measure at least {least_mm} mm, a third of its "
        f"{facts.wheel_diameter_mm:.0f} mm; both of one size, with blotters.",
        mounting["flange_basis"],
    )


def side_grinding(facts: CautionFacts) -> Caution | None:
    """No load on the side of a straight wheel."""
    if not facts.is_bonded_wheel:
        return None
    return Caution(
        "wheel",
        "note",
        f"Grind with the face of wheel '{facts.wheel_name}', never with its side: a straight wheel "
        "breaks under a load from the side. That goes for clearing a shoulder by hand too.",
        load_table("safety_limits")["mounting"]["side_grinding_basis"],
    )


def belt_joint(facts: CautionFacts) -> Caution | None:
    """A belt's joint, its arrow and its tracking."""
    if not facts.is_belt:
        return None
    return Caution(
        "wheel",
        "warning",
        f"Belt on '{facts.wheel_name}': look at the joint, mount it with the arrow the way it "
        "runs, track it by hand first. Stand out of its plane at the start; at "
        f"{facts.surface_speed_m_s:.1f} m/s a torn belt whips. A free edge must never meet the "
        "joint edge first.",
        PRACTICE,
    )
