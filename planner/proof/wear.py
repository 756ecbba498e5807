"""How much of its radius a bonded wheel loses, by the proof's own arithmetic."""

from __future__ import annotations

import math

from planner.proof.case import Case

_CLAIM_SLACK_MM = 1e-4
_CLAIM_FACTOR = 1.05


def wear_mm(case: Case, removed_mm3: float, worn_mm: float = 0.0) -> float:
    """Radius lost to a volume of steel: G = steel volume over wheel volume (its definition).

    A ring of the width W that wears, r thick around what is left of a wheel of the diameter D that
    has lost ``worn_mm`` of its radius before, holds pi W r (D - r). A wheel that is all gone has
    lost its radius. A belt, or a wheel without a G ratio, keeps it.
    """
    wheel = case.wheel
    if wheel.g_ratio is None or wheel.belt is not None:
        return 0.0
    lost = removed_mm3 / (wheel.g_ratio * math.pi * case.wearing_width_mm)
    diameter = max(wheel.diameter_mm - 2.0 * worn_mm, 0.0)
    left = math.sqrt(max(diameter * diameter - 4.0 * lost, 0.0))
    # Half of (diameter - left), without the difference of two near numbers.
    return 2.0 * lost / (diameter + left) if left > 0.0 else diameter / 2.0


def most_worn_before_mm(case: Case) -> float:
    """The most that a program may claim to be worn off since the touch-off, before its blade.

    Nothing when each blade is touched off; else the wear of the batch's blades in all other
    clampings, a twentieth more allowed for the two ways of working it out.
    """
    quantity = case.job.quantity
    if quantity == 1 or case.machine.fixture.touch_off_each == "blade":
        return 0.0
    edges_mm = max(quantity - case.row.blades, 0) * case.edge_length_mm
    parts = (case,) if case.sweep is None else case.sweep.facets
    worn = sum(wear_mm(part, part.removed_area_mm2 * edges_mm) for part in parts)
    return _CLAIM_FACTOR * worn + _CLAIM_SLACK_MM
