"""Sparks, and what must not lie in their way."""

from __future__ import annotations

from planner.cautions.caution import PRACTICE, Caution, CautionFacts
from planner.cautions.words import once_each
from planner.inputs.tables import load_table


def sparks_and_wood_dust(facts: CautionFacts) -> Caution:
    """Steel sparks and wood dust in one collector."""
    basis = load_table("safety_limits")["fire"]["wood_dust_basis"]
    if facts.dust_collector == "shared_with_wood":
        return Caution(
            "fire",
            "danger",
            f"The dust collector also takes wood dust. A spark of {facts.steel.designation} sets "
            "wood dust on fire and can make it explode, perhaps hours later. Do not grind on this "
            "collector: give the steel one of its own.",
            basis,
        )
    if facts.dust_collector == "steel_only":
        return Caution(
            "fire",
            "note",
            "Keep the collector for steel alone: no wood dust, no rags, no paper in it. Sparks can "
            "glow in the filter for a long while; look again before you leave.",
            once_each([basis, f"the glow: {PRACTICE}"]),
        )
    return Caution(
        "fire",
        "note",
        "The machine has no dust collector. If one is added it takes steel alone, never wood "
        "dust. Clear wood dust, rags and oil from where the sparks fly.",
        once_each([basis, f"clearing: {PRACTICE}"]),
    )


def light_metals(facts: CautionFacts) -> Caution:
    """Aluminium, titanium and magnesium on a machine that grinds steel."""
    fire = load_table("safety_limits")["fire"]
    wet = (
        "" if facts.coolant == "dry" else f" Wetted by the {facts.coolant}, it gives off hydrogen."
    )
    return Caution(
        "fire",
        "warning",
        f"After {facts.steel.designation}, never grind aluminium, titanium or magnesium on this "
        f"machine, nor the other way round. Their dust burns in steel's sparks.{wet}",
        once_each([fire["light_metals_basis"], fire["combustible_dust_basis"]]),
    )
