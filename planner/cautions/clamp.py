"""Holding and handling the blade."""

from __future__ import annotations

from planner.cautions.caution import PRACTICE, Caution, CautionFacts

SHARP_EDGE_MM = 0.5
"""A ground edge thinner than this is handled as sharp; common practice, no source."""


def _thickness(facts: CautionFacts) -> str:
    if facts.edge_thickness_mm < 0.01:
        return "ground to nothing"
    return f"{facts.edge_thickness_mm:.2g} mm thick"


def hold(facts: CautionFacts) -> Caution:
    """The clamp or magnet."""
    thin = ""
    if facts.edge_thickness_mm < SHARP_EDGE_MM:
        thin = (
            f" The edge is {_thickness(facts)} and bends away from the wheel: let as little of it "
            "stand out as can be."
        )
    return Caution(
        "clamp",
        "warning" if thin else "note",
        "Push and pull the clamped blade by hand before the wheel turns; it must not move. A "
        "magnet holds thin or tapered steel badly: put a stop in the way of the push, and "
        f"shim a bowed blade, do not pull it flat.{thin}",
        PRACTICE,
    )


def turning_the_blade(facts: CautionFacts) -> Caution:
    """Taking the blade out, or turning it to the other face."""
    how = {
        "end_for_end": "turn the blade end for end",
        "over": "turn the blade over",
        "by_tilt": "tilt to the other face and when you take the blade out",
    }[facts.flip]
    sharp = facts.edge_thickness_mm < SHARP_EDGE_MM
    why = (
        f"the edge is {_thickness(facts)}, sharp, and carries a burr"
        if sharp
        else "the edge carries a burr that cuts"
    )
    return Caution(
        "clamp",
        "warning" if sharp else "note",
        f"Wheel at rest and clear when you {how}: {why}. Hold it by the spine or the tang, and "
        "wipe grit and burr off the seats before you clamp it again.",
        PRACTICE,
    )


def fingers_and_gloves(facts: CautionFacts) -> Caution:
    """Hands, and what can be drawn in."""
    part = "belt" if facts.is_belt else "wheel"
    return Caution(
        "clamp",
        "warning",
        f"No gloves, loose sleeves, long hair or rings near the running {part}: it draws them in. "
        f"No fingers between blade and {part} for touch-off or to feel heat; stop it first.",
        PRACTICE,
    )
