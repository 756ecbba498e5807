"""Cooling the blade without cracking it."""

from __future__ import annotations

from planner.cautions.caution import MEMORY, PRACTICE, Caution, CautionFacts

HAND_HOT_C = 50
"""As hot as a bare finger bears; common practice, no source."""


def cooling_kind(facts: CautionFacts) -> Caution:
    """What this machine's coolant does, and what it does not."""
    if facts.coolant == "flood":
        text = (
            "The flood must reach the whole edge before the wheel does and stay on until the wheel "
            "is clear. A jet that fails halfway is worse than none: stop the program, back off."
        )
    elif facts.coolant == "mist":
        text = (
            "Mist cools far less than flood: count on its air, not on its water. Feel the spine "
            "with the wheel at rest between set-ups; a blade too hot to hold waits."
        )
    else:
        text = (
            "Ground dry, a thin blade keeps its heat for tens of seconds, so passes add up. Feel "
            "the spine with the wheel at rest; a blade that is too hot to hold waits or is cooled "
            "before the next set-up."
        )
    return Caution("quench", "note", text, PRACTICE)


def water_dip(facts: CautionFacts) -> Caution | None:
    """Whether this steel may be dipped."""
    steel = facts.steel.designation
    if not facts.steel.water_dip:
        instead = (
            "Have the flood on from the first touch, never turn it on to a hot blade."
            if facts.coolant == "flood"
            else "Let it cool in air, or keep the mist steady."
            if facts.coolant == "mist"
            else "Let it cool in air or in an air jet."
        )
        return Caution(
            "quench",
            "warning",
            f"Do not quench {steel} hot: no dip in water. It conducts heat badly, so the skin "
            f"shrinks on a hot core and the hard steel cracks, often unseen. {instead}",
            f"{PRACTICE}; {MEMORY}",
        )
    if facts.coolant == "flood":
        return None
    back = "the belt" if facts.is_belt else "the wheel"
    return Caution(
        "quench",
        "note",
        f"Dip the {steel} blade before it is too hot to hold, about {HAND_HOT_C} °C; wheel clear "
        "and at rest. Never dip an edge that has shown colour: the harm is done and the shock can "
        f"crack it. Dry the blade before it goes back to {back}; wet steel dust cakes.",
        f"{PRACTICE}; {MEMORY}",
    )
