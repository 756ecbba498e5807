"""What goes into the air: steel, its alloying elements, coolant."""

from __future__ import annotations

from typing import Any

from planner.cautions.caution import PRACTICE, Caution, CautionFacts, Level
from planner.cautions.words import blades, grams, listed, once_each
from planner.inputs.tables import load_table

HAZARD_ELEMENTS = ("Cr", "Ni", "Co", "V", "W", "Mo")
WARNING_SHARE_PERCENT = 1.0
"""An addition of this much makes it more than plain steel dust; common practice, no source."""

MM_PER_INCH = 25.4
M3_H_PER_CFM = 0.3048**3 * 60.0


def _exhaust(facts: CautionFacts) -> tuple[str, str]:
    """Least exhaust of this machine in words, and its basis."""
    exhaust: dict[str, Any] = load_table("safety_limits")["exhaust"]
    if facts.is_belt:
        row = exhaust["belts"][0]
        size, basis = f"a belt up to {row['width_in']} in wide", exhaust["belt_basis"]
    else:
        wheels = exhaust["wheels"]
        diameter_in = facts.wheel_diameter_mm / MM_PER_INCH
        row = next((row for row in wheels if row["diameter_in"] >= diameter_in), wheels[-1])
        size = f"a wheel up to {row['diameter_in']} in by {row['width_in']} in"
        basis = exhaust["wheel_basis"]
    flow_cfm = row["flow_cfm"]
    return f"{flow_cfm * M3_H_PER_CFM:.0f} m³/h ({flow_cfm} ft³/min) for {size}", basis


def steel_dust(facts: CautionFacts) -> Caution:
    """Mass of the dust, the exhaust it asks for, and the limits of plain dust."""
    exposure = load_table("safety_limits")["exposure"]
    total, fine, oxide = (
        exposure[kind] for kind in ("total_dust", "respirable_dust", "iron_oxide")
    )
    mass = grams(facts.removed_mass_g * facts.quantity)
    made = f"{blades(facts.quantity)} of {facts.steel.designation} make {mass} of steel dust"
    if facts.quantity == 1:
        made = f"One blade of {facts.steel.designation} makes {mass} of steel dust"
    limits = (
        f"Old legal limits (29 CFR 1910.1000), as 8 h means: {total['limit_mg_m3']:g} mg/m³ of "
        f"dust in all, {fine['limit_mg_m3']:g} respirable, {oxide['limit_mg_m3']:g} of "
        "iron oxide fume."
    )
    bases = [exposure[kind]["basis"] for kind in ("total_dust", "iron_oxide")]
    if facts.coolant == "flood":
        text = f"{made}, besides grit. The flood holds most of it: filter it, and never let the "
        text += "sludge dry where it can be stirred up."
        return Caution("dust", "note", f"{text} {limits}", once_each([*bases, PRACTICE]))
    flow, flow_basis = _exhaust(facts)
    direction_basis = load_table("safety_limits")["exhaust"]["direction_basis"]
    return Caution(
        "dust",
        "warning",
        f"{made}, besides grit. Draw it off at the cut, away from the face: at least {flow}, more "
        "in proportion where it is larger or wider. "
        f"Do not sweep dry or blow it about. {limits}",
        once_each([flow_basis, direction_basis, *bases]),
    )


def alloy_dust(facts: CautionFacts) -> Caution | None:
    """Grams of the alloying elements that have limits of their own."""
    steel = facts.steel
    middle_percent = {
        element: (steel.composition[element][0] + steel.composition[element][1]) / 2
        for element in HAZARD_ELEMENTS
        # A range from 0 is a permitted residue, not an addition.
        if steel.composition.get(element, (0.0, 0.0))[0] > 0
    }
    if not middle_percent:
        return None
    exposure = load_table("safety_limits")["exposure"]
    mass_g = facts.removed_mass_g * facts.quantity
    amounts = [
        f"{grams(mass_g * percent / 100)} is {exposure[element]['name']}"
        for element, percent in middle_percent.items()
    ]
    limits = [_limit_in_words(exposure[element]) for element in middle_percent]
    level: Level = "note"
    advice = ""
    if max(middle_percent.values()) >= WARNING_SHARE_PERCENT:
        level = "warning"
        advice = " Keep it out of lungs and off hands and food."
    return Caution(
        "dust",
        level,
        f"Of the {grams(mass_g)} of {steel.designation} dust, {listed(amounts)}, each at the "
        f"middle of its range.{advice} Old legal limits in the air (29 CFR 1910.1000), "
        f"as 8 h means: {'; '.join(limits)}. Newer recommendations ask for less.",
        once_each(
            [
                *(f"{exposure[e]['name']}: {exposure[e]['basis']}" for e in middle_percent),
                "composition: the steel table, or the job where it gives the steel itself",
            ]
        ),
    )


def _limit_in_words(row: dict[str, Any]) -> str:
    limit, recommended = row["limit_mg_m3"], row.get("recommended_mg_m3")
    words = f"{row['name']} " + ("none" if limit is None else f"{limit:g} mg/m³")
    extra = [row["note"]] if "note" in row else []
    if recommended is not None:
        extra.append(f"NIOSH recommends {recommended:g}")
    return f"{words} ({', '.join(extra)})" if extra else words


def breathed_mist(facts: CautionFacts) -> Caution | None:
    """A mist nozzle lays dust and is itself breathed."""
    if facts.coolant != "mist":
        return None
    row = load_table("safety_limits")["exposure"]["oil_mist"]
    return Caution(
        "dust",
        "warning",
        "The mist lays some of the dust, and you breathe the mist. Use as little as cools, draw it "
        f"off with the dust, keep the fluid fresh. Old legal limit {row['limit_mg_m3']:g} mg/m³ of "
        f"mineral oil mist; {row['recommended_mg_m3']:g} is recommended for metalworking fluids.",
        row["basis"],
    )
