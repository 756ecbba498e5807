"""Whose word comes first. This caution closes every list."""

from __future__ import annotations

from planner.cautions.caution import PRACTICE, Caution, CautionFacts


def local_rules(facts: CautionFacts) -> Caution:
    """Local codes, makers' instructions and qualified people come before this plan."""
    abrasive = "belt" if facts.is_belt else "wheel"
    return Caution(
        "local_rules",
        "warning",
        "The codes of the place where the machine stands, and the instructions of the makers of "
        f"the {abrasive} and of the machine, come before everything said here. Only qualified "
        "people set up, guard and run a converted machine. These cautions do not make it lawful.",
        PRACTICE,
    )
