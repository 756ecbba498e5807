"""The proof's own wear: by hand, and what a program may claim of it."""

import math

import pytest

from planner.proof.case import build_case
from planner.proof.prove import prove_program
from planner.proof.wear import most_worn_before_mm, wear_mm
from tests.samples import a_job, a_machine

BATCH = {"fixture__touch_off_each": "batch", "rack__0__g_ratio": 2}


def _case(quantity: int, **machine):
    job, shop = a_job(quantity=quantity), a_machine(**machine)
    return build_case(job, shop, "A", shop.rack[0])


def test_wear_by_hand():
    # By hand: 94.248 mm3 over G 2 is 47.124 mm3 of wheel; pi 150 * 20 = 9424.8 mm2: 0.005 mm.
    assert wear_mm(_case(12, **BATCH), 30.0 * math.pi) == pytest.approx(0.005, rel=1e-9)


def test_a_belt_or_an_unknown_g_ratio_does_not_wear():
    from tests.samples import GONE  # noqa: PLC0415

    assert wear_mm(_case(12, rack__0__g_ratio=GONE), 100.0) == 0.0


def test_only_a_batch_touched_off_once_may_claim_wear():
    assert most_worn_before_mm(_case(12)) == 0.0
    assert most_worn_before_mm(_case(1, **BATCH)) == 0.0
    # By hand: 11 blades of 0.0902468 mm2 * 80 mm = 79.417 mm3, over 2 * 9424.8: 0.0042132 mm,
    # a twentieth and 0.1 um more.
    assert most_worn_before_mm(_case(12, **BATCH)) == pytest.approx(
        0.0042132 * 1.05 + 1e-4, rel=1e-3
    )


@pytest.mark.parametrize(
    ("claim", "refused"), [("0.0040", False), ("0.0060", True), ("nought", True)]
)
def test_a_claim_of_wear_is_checked(claim, refused):
    text = f"(setup A face A)\n(wheel fine)\n(worn {claim} mm since touch-off)\nG21\n"
    job, shop = a_job(quantity=12), a_machine(**BATCH)
    verdict = prove_program(text.encode(), job, shop)
    about_wear = [f for f in verdict.faults if f.line == 3]
    assert bool(about_wear) == refused
    assert all(f.rule == "claim-contradicted" for f in about_wear)
