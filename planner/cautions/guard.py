"""Guards and gaps."""

from __future__ import annotations

from typing import Any

from planner.cautions.caution import PRACTICE, Caution, CautionFacts
from planner.cautions.words import once_each
from planner.inputs.tables import load_table


def _limits() -> dict[str, Any]:
    limits: dict[str, Any] = load_table("safety_limits")["guard"]
    return limits


def wheel_guard(facts: CautionFacts) -> Caution | None:
    """How far the guard of a bonded wheel may open."""
    if not facts.is_bonded_wheel:
        return None
    limits = _limits()
    surface, cylindrical, bench = (
        limits[kind] for kind in ("surface", "cylindrical", "bench_and_floor")
    )
    return Caution(
        "guard",
        "warning",
        f"Guard the {facts.wheel_diameter_mm:.0f} mm wheel all round but where it cuts. The "
        f"opening is {surface['exposure_deg']}° at most on a surface grinder, "
        f"{cylindrical['exposure_deg']}° on a cylindrical grinder, {bench['exposure_deg']}° on a "
        f"bench grinder and there not more than {bench['start_above_horizontal_deg']}° above the "
        "horizontal. The guard covers spindle end and nut, and its bolts are stronger than "
        "itself. A conversion must not open it further.",
        once_each([limits["openings_basis"], limits["covers_spindle_end"]["basis"]]),
    )


def belt_guard(facts: CautionFacts) -> Caution | None:
    """Guarding of belts and coated discs, which the rules for wheels leave out."""
    if facts.is_bonded_wheel:
        return None
    limits = _limits()
    if facts.is_belt:
        text = (
            f"Cover the belt of '{facts.wheel_name}' but for the strip that cuts, and above all "
            "the place where it runs on to each wheel."
        )
    else:
        text = f"Cover the disc '{facts.wheel_name}' but for the part that cuts."
    return Caution(
        "guard",
        "warning",
        f"{text} Sparks and pieces must fly into a hood, not to where someone stands.",
        once_each([limits["machine_guarding"]["basis"], limits["coated_excluded"]["basis"]]),
    )


def work_rest(facts: CautionFacts) -> Caution | None:
    """Gap between a bonded wheel and the work rest, where there is one."""
    if not facts.is_bonded_wheel or facts.work_rest_gap_mm is None:
        return None
    limit = _limits()["work_rest_gap"]
    gap = f"The work rest stands {facts.work_rest_gap_mm:g} mm from the wheel"
    most = f"{limit['max_mm']:g} mm ({limit['max_in']} in)"
    if facts.work_rest_gap_mm > limit["max_mm"]:
        return Caution(
            "guard",
            "danger",
            f"{gap}; {most} is the most. Work can be drawn into the gap and burst the wheel. Close "
            "the gap with the wheel at rest and clamp it before you start.",
            limit["basis"],
        )
    return Caution(
        "guard",
        "note",
        f"{gap}; {most} is the most. Check it as the wheel wears, and move the rest only while "
        "the wheel is at rest.",
        limit["basis"],
    )


def tongue(facts: CautionFacts) -> Caution | None:
    """Gap between a bonded wheel and the tongue of its guard."""
    if not facts.is_bonded_wheel:
        return None
    limit = _limits()["tongue_gap"]
    return Caution(
        "guard",
        "note",
        "Where someone stands before the opening, set the guard's tongue within "
        f"{limit['max_mm']:g} mm ({limit['max_in']} in) of the "
        f"{facts.wheel_diameter_mm:.0f} mm wheel, and again as it wears.",
        limit["basis"],
    )


def spindle_by_hand(facts: CautionFacts) -> Caution | None:
    """A program that cannot stop the wheel."""
    if not facts.by_hand_spindle:
        return None
    part = "belt" if facts.is_belt else "wheel"
    return Caution(
        "guard",
        "warning",
        f"The program cannot switch the {part}: it stops clear of the blade and waits for you. "
        f"Start the {part}, let it come to {facts.shaft_speed_rpm:.0f} rpm, then resume. At the "
        f"last stop switch it off, and wait until the {part} stands still before you reach for "
        "the blade.",
        once_each([PRACTICE, load_table("safety_limits")["personal"]["lockout_basis"]]),
    )
