"""How much of its radius a bonded wheel loses, by the proof's own arithmetic."""

from __future__ import annotations

import math

from planner.proof.case import Case

_CLAIM_SLACK_MM = 1e-4
_CLAIM_FACTOR = 1.05


def wear_mm(case: Case, removed_mm3: float) -> float:
    """Radius lost to a volume of steel: G = steel volume over wheel volume (its definition).

    A ring of the width that wears and of the lost radius, thin beside the wheel, holds
    pi D W r. A belt, or a wheel without a G ratio, keeps its radius.
    """
    wheel = case.wheel
    if wheel.g_ratio is None or wheel.belt is not None:
        return 0.0
    return removed_mm3 / (wheel.g_ratio * math.pi * wheel.diameter_mm * case.wearing_width_mm)


def most_worn_before_mm(case: Case) -> float:
    """The most that a program may claim to be worn off since the touch-off, before its blade.

    Nothing when each blade is touched off; else the wear of the batch's blades in all other
    clampings, a twentieth more allowed for the two ways of working it out.
    """
    quantity = case.job.quantity
    if quantity == 1 or case.machine.fixture.touch_off_each == "blade":
        return 0.0
    others = max(quantity - case.row.blades, 0) * case.removed_area_mm2 * case.edge_length_mm
    return _CLAIM_FACTOR * wear_mm(case, others) + _CLAIM_SLACK_MM
