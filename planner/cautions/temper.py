"""The temper of the edge, and how to see that it is kept."""

from __future__ import annotations

from planner.cautions.caution import MEMORY, PRACTICE, Caution, CautionFacts, Level
from planner.cautions.words import once_each
from planner.inputs.tables import load_table

NEAR_LIMIT_K = 25.0
"""Nearer to the limit than this a prediction is a warning; common practice, no source."""


RANGE_BASIS = "range: the steel table, or the job where it gives the steel itself"


def _limit_in_words(facts: CautionFacts) -> str:
    if facts.temper_c is None:
        return f"{facts.limit_c:.0f} °C ({facts.steel.designation}, temper unknown)"
    return f"{facts.limit_c:.0f} °C ({facts.steel.designation} tempered at {facts.temper_c:.0f} °C)"


def edge_temperature(facts: CautionFacts) -> Caution:
    """Predicted temperature of the edge against its limit."""
    limit = _limit_in_words(facts)
    basis = f"limit: design rule, {MEMORY}; dull wheel: Malkin & Guo, Grinding Technology, {MEMORY}"
    if facts.edge_temperature_c is None:
        return Caution(
            "temper",
            "warning",
            f"No temperature was predicted for this edge. It must stay below {limit}.",
            basis,
        )
    level: Level = "note"
    verdict = "A dull or loaded wheel makes several times the heat: dress it, or change the belt."
    if facts.edge_temperature_c > facts.limit_c:
        level = "danger"
        verdict = "The edge will lose its hardness. Take less at a pass or wait between passes."
    elif facts.edge_temperature_c > facts.limit_c - NEAR_LIMIT_K:
        level = "warning"
    return Caution(
        "temper",
        level,
        f"Predicted at the edge: {facts.edge_temperature_c:.0f} °C. It must stay below {limit}. "
        f"{verdict}",
        basis,
    )


def skin_flash(facts: CautionFacts) -> Caution | None:
    """Predicted temperature of the skin under the wheel."""
    if facts.flash_temperature_c is None:
        return None
    above = facts.flash_temperature_c > facts.limit_c
    verdict = (
        f"That is above the {facts.limit_c:.0f} °C of the edge. Milliseconds soften less than an "
        "hour does, but they add up: keep the wheel sharp and the infeed small."
        if above
        else f"That is below the {facts.limit_c:.0f} °C of the edge."
    )
    return Caution(
        "temper",
        "warning" if above else "note",
        f"The skin under the wheel flashes to about {facts.flash_temperature_c:.0f} °C for "
        f"milliseconds. {verdict}",
        f"tempering parameter of Hollomon & Jaffe, 1945, {MEMORY}",
    )


def temper_unknown(facts: CautionFacts) -> Caution | None:
    """A job that does not say how its blade was tempered."""
    if facts.temper_c is not None:
        return None
    low, high = facts.steel.tempering_range_c
    return Caution(
        "temper",
        "warning",
        f"The job does not say at what temperature the blade was tempered. {facts.limit_c:.0f} °C "
        f"is taken as its limit; {facts.steel.designation} is usually tempered at {low:.0f} to "
        f"{high:.0f} °C. Ask whoever hardened it: a lower temper needs a lower limit.",
        f"design rule, {MEMORY}; {RANGE_BASIS}",
    )


def temper_unusual(facts: CautionFacts) -> Caution | None:
    """A temper outside the steel's usual range."""
    low, high = facts.steel.tempering_range_c
    if facts.temper_c is None or low <= facts.temper_c <= high:
        return None
    return Caution(
        "temper",
        "warning",
        f"A temper of {facts.temper_c:.0f} °C is unusual for {facts.steel.designation}: {low:.0f} "
        f"to {high:.0f} °C is the usual range. Check the figure and its unit.",
        RANGE_BASIS,
    )


def colours(facts: CautionFacts) -> Caution:
    """What the temper colours say of this blade, or that they say nothing."""
    table = load_table("temper_colours")
    steel = facts.steel.designation
    if facts.steel.family not in table["holds_for_families"]:
        return Caution(
            "temper",
            "warning",
            f"Colours prove nothing on {steel}: high-alloy steels take the same colours at higher "
            "temperatures than carbon steel. A bright edge may be soft, a straw one sound. Test "
            "the hardness instead.",
            "notes on tempering colours, seen in two encyclopaedia pages",
        )
    rows = table["tables"]["average"]["colours"]
    first = rows[0]
    reached = [row for row in rows if row["temp_c"] <= facts.limit_c]
    if reached:
        says = (
            f"The last colour below the limit of {facts.limit_c:.0f} °C is {reached[-1]['colour']} "
            f"({reached[-1]['temp_c']:.0f} °C); anything darker means that the edge was too hot"
        )
    else:
        says = (
            f"The first colour, {first['colour']}, shows at about {first['temp_c']:.0f} °C and the "
            f"limit is {facts.limit_c:.0f} °C: any colour at all means that the edge was too hot"
        )
    return Caution(
        "temper",
        "warning",
        f"{says}. Tables differ by {table['spread_k']} K and more, and colour grows with time, so "
        "no colour is no proof either. Grind a coloured edge back behind the colour, 0.5 to "
        "1.5 mm, and cut both bevels anew.",
        once_each(
            [
                "table of tempering colours on carbon steels, mean of five, seen",
                f"grinding back: {PRACTICE}",
            ]
        ),
    )


def scrap_blade_first(facts: CautionFacts) -> Caution:
    """Prove heat and touch-off on a scrap blade before the first good one."""
    by_colour = facts.steel.family in load_table("temper_colours")["holds_for_families"]
    look = (
        "look for colour under a bright light and try its edge with a file"
        if by_colour
        else "test the hardness of its edge; do not go by colour"
    )
    good = f"the {facts.quantity} good blades" if facts.quantity > 1 else "the good blade"
    return Caution(
        "temper",
        "note",
        f"Before {good}, grind a scrap blade of {facts.steel.designation} of the same thickness "
        f"and temper: measure its lands, and {look}. The predictions were not measured on this "
        "machine.",
        PRACTICE,
    )
