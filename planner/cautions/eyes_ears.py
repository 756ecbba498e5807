"""Eyes, ears and lungs."""

from __future__ import annotations

from planner.cautions.caution import Caution, CautionFacts
from planner.cautions.words import once_each
from planner.inputs.tables import load_table


def eyes_and_ears(facts: CautionFacts) -> Caution:
    """Eye protection always; ear protection by the level of noise."""
    personal = load_table("safety_limits")["personal"]
    part = "belt" if facts.is_belt else "wheel"
    return Caution(
        "eyes_ears",
        "warning",
        f"Eye protection with side shields for everyone near the {part}; a face shield goes over "
        f"it, not in its place. Ears: {personal['ears_dba']} dBA over 8 h is the old legal limit, "
        f"from {personal['ears_action_dba']} dBA ears must be looked after. Measure it.",
        once_each([personal["eyes_basis"], personal["ears_basis"]]),
    )


def lungs(facts: CautionFacts) -> Caution | None:
    """A mask where dust or mist is in the air."""
    if facts.coolant == "flood":
        return None
    what = "dust and mist" if facts.coolant == "mist" else "dust"
    return Caution(
        "eyes_ears",
        "warning",
        f"Ground {'with mist' if facts.coolant == 'mist' else 'dry'}, {what} of "
        f"{facts.steel.designation} hangs in the air after the sparks stop. Where the exhaust does "
        "not catch it, wear a fitted mask for fine metal dust, chosen and fitted as the rule asks.",
        load_table("safety_limits")["personal"]["respirator_basis"],
    )
