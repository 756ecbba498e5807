"""The proof's own wear: by hand, and what a program may claim of it."""

import math

import pytest

from planner.proof.build_case import build_case
from planner.proof.case import infeed_step_mm
from planner.proof.prove import prove_program
from planner.proof.wear import most_worn_before_mm, wear_mm
from tests.samples import GONE, a_job, a_machine

BATCH = {"fixture__touch_off_each": "batch", "rack__0__g_ratio": 2}


def _case(quantity: int, **machine):
    job, shop = a_job(quantity=quantity), a_machine(**machine)
    return build_case(job, shop, "A", shop.rack[0])


def test_wear_by_hand():
    # By hand: 94.248 mm3 over G 2 is 47.124 mm3 of wheel, 20 mm wide: pi 20 r (150 - r), so
    # r (150 - r) = 0.75 and r = 0.75 / 149.995 = 0.0050001667 mm.
    case = _case(12, **BATCH)
    assert wear_mm(case, 30.0 * math.pi) == pytest.approx(0.0050001667, rel=1e-8)
    # By hand: 15 mm of radius gone before, 120 mm left: r (120 - r) = 0.75, r = 0.0062503255 mm.
    assert wear_mm(case, 30.0 * math.pi, 15.0) == pytest.approx(0.0062503255, rel=1e-8)


def test_a_wheel_that_is_all_gone_has_lost_its_radius():
    assert wear_mm(_case(12, **BATCH), 1e9) == 75.0
    assert wear_mm(_case(12, **BATCH), 1.0, 80.0) == 0.0


def test_a_belt_or_an_unknown_g_ratio_does_not_wear():
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
    ("units", "resolution_mm", "step_mm"),
    [
        # By hand: whole steps of the axis that are whole in 0.0001 mm: 2 x 0.00125 is 0.0025,
        # 5 x 0.00022 is 0.0011; a step of 0.02 um is finer than what is written.
        ("mm", "0.001 mm", 0.001),
        ("mm", "0.00125 mm", 0.0025),
        ("mm", "0.00022 mm", 0.0011),
        ("mm", "0.00002 mm", 0.0001),
        # By hand: 0.0001 in is 0.00254 mm; no ten of it are whole in 0.001 mm but 50: the coarser.
        ("inch", "0.001 mm", 0.00254),
    ],
)
def test_the_step_is_whole_on_the_axis_and_on_paper(units, resolution_mm, step_mm):
    case = _case(1, axes__Z__resolution=resolution_mm, controller__units=units)
    assert infeed_step_mm(case) == pytest.approx(step_mm, rel=1e-9)


def _passes(*commanded_mm: float, claimed_mm: tuple[float, ...] = ()) -> str:
    lines = ["(setup A face A)", "(wheel fine)", "G21", "G17 G90 G94", "G40 G49 G80", "G54"]
    lines += ["G64 P0.005", "G0 Z5", "G0 A12.5", "G0 X-20 Y0", "S2850 M3", "G4 P5", "M7"]
    for n, depth in enumerate(commanded_mm):
        claim = (claimed_mm or commanded_mm)[n]
        lines.append(f"(pass {n + 1} of {len(commanded_mm)} rough depth {claim:.4f})")
        lines += [f"G1 Z-{depth:.4f} F200", f"G1 X{(100, -20)[n % 2]} F4000"]
    return "\n".join([*lines, "G0 Z5", "M9", "M5", "M2", ""])


def _rules(text: str, **machine) -> list[tuple[int, str]]:
    found = prove_program(text.encode(), a_job(), a_machine(**machine)).faults
    return [(f.line, f.rule) for f in found if f.rule in ("claim-contradicted", "bite-too-large")]


def test_a_lost_infeed_of_one_last_decimal_is_found():
    # Property: three decimals, steps of one of them: without its infeed the last pass stands one
    # short of its claim, which no rounding explains.
    coarse = {"controller__decimals": 3, "rack__0__g_ratio": GONE}
    text = _passes(0.010, 0.020, 0.021)
    assert _rules(text, **coarse) == []
    lost = text.replace("G1 Z-0.0210 F200\n", "")
    assert _rules(lost, **coarse) == [(20, "claim-contradicted")]


def test_a_little_wear_excuses_no_step_too_deep():
    # Property: a G ratio of 20 wears the wheel by under 0.1 um, far from a step of 1 um.
    assert _rules(_passes(0.01, 0.02), rack__0__g_ratio=20) == []
    deeper = _rules(_passes(0.01, 0.021, claimed_mm=(0.01, 0.02)), rack__0__g_ratio=20)
    assert deeper == [(17, "claim-contradicted"), (19, "bite-too-large")]


def test_a_worn_step_is_made_up_for_by_a_whole_one():
    # By hand: at 4000 mm/min the first pass takes about 0.012 mm2 of 80 mm: 1 mm3; a G ratio of
    # 0.05 makes that 20 mm3 of wheel, over 9424.8 mm2: 0.002 mm of radius, two steps.
    worn = {"rack__0__g_ratio": 0.05}
    assert _rules(_passes(0.01, 0.021, claimed_mm=(0.01, 0.02)), **worn) == []
    assert _rules(_passes(0.01, 0.020), **worn) != []


def test_every_pass_at_one_infeed_wears_the_wheel():
    # Property: what a spark-out pass takes wears the wheel as well. The next one stands back by as
    # much, and after them the same number is a shallower pass than without them.
    def cuts(*commanded_mm: float) -> list[float]:
        machine = a_machine(rack__0__g_ratio=0.1, stiffness="300 N/mm")
        verdict = prove_program(_passes(*commanded_mm).encode(), a_job(), machine)
        return [cut.commanded_depth_mm for cut in verdict.cuts]

    once, again = cuts(0.01, 0.02), cuts(0.01, 0.01, 0.01, 0.02)
    assert again[0] > again[1] > again[2]
    assert again[0] == pytest.approx(0.01)
    assert again[-1] < once[-1] - 0.0002


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
