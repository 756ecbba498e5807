"""Speed, wheel, belt, guard."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planner.cautions import CautionFacts, cautions_for, guard, wheel
from planner.cautions.caution import Rule

MakeFacts = Callable[..., CautionFacts]

BONDED_ONLY: list[Rule] = [
    wheel.speed_class,
    wheel.ring_test,
    wheel.flanges,
    wheel.side_grinding,
    guard.wheel_guard,
    guard.work_rest,
    guard.tongue,
]


def test_shaft_above_the_mark_is_a_danger_with_both_speeds(make_facts: MakeFacts) -> None:
    caution = wheel.speed_against_mark(make_facts(shaft_speed_rpm=4600.0))
    assert caution.level == "danger"
    assert "4600 rpm" in caution.text
    assert "4500 rpm" in caution.text
    assert cautions_for(make_facts(shaft_speed_rpm=4600.0))[0] == caution


def test_shaft_at_the_mark_is_no_danger(make_facts: MakeFacts) -> None:
    assert wheel.speed_against_mark(make_facts(shaft_speed_rpm=4500.0)).level == "note"


def test_belt_is_judged_by_its_contact_wheel(make_facts: MakeFacts) -> None:
    caution = wheel.speed_against_mark(make_facts(is_belt=True, coated=True, marked_rpm=2000.0))
    assert caution.level == "danger"
    assert "contact wheel" in caution.text


def test_a_platen_s_belt_is_judged_by_its_drive_wheel(make_facts: MakeFacts) -> None:
    caution = wheel.speed_against_mark(make_facts(is_belt=True, coated=True, over_platen=True))
    # Property: a platen has no contact wheel.
    assert "drive wheel" in caution.text
    assert "contact wheel" not in caution.text


@pytest.mark.parametrize(
    ("speed_m_s", "says"),
    # Source: EN 12413, steps 25, 32, 50, 63 m/s; stripes blue 50, yellow 63.
    [
        (22.4, "for 25 m/s or more."),
        (25.0, "for 25 m/s or more."),
        (25.1, "for 32 m/s or more."),
        (46.0, "for 50 m/s or more (blue stripe)."),
        (50.1, "for 63 m/s or more (yellow stripe)."),
    ],
)
def test_speed_asks_for_the_next_class_up(
    make_facts: MakeFacts, speed_m_s: float, says: str
) -> None:
    caution = wheel.speed_class(make_facts(surface_speed_m_s=speed_m_s))
    assert caution is not None
    assert caution.level == "note"
    assert says in caution.text


def test_speed_above_the_last_class_is_a_danger(make_facts: MakeFacts) -> None:
    caution = wheel.speed_class(make_facts(surface_speed_m_s=161.0))
    assert caution is not None
    assert caution.level == "danger"


@pytest.mark.parametrize(("diameter_mm", "least_mm"), [(150.0, 50), (160.0, 54), (180.0, 60)])
def test_flanges_measure_a_third_rounded_up(
    make_facts: MakeFacts, diameter_mm: float, least_mm: int
) -> None:
    # By hand: 150/3 = 50; 160/3 = 53.3, up to 54; 180/3 = 60.
    caution = wheel.flanges(make_facts(wheel_diameter_mm=diameter_mm))
    assert caution is not None
    assert f"at least {least_mm} mm" in caution.text


@pytest.mark.parametrize("rule", BONDED_ONLY, ids=lambda rule: rule.__name__)
@pytest.mark.parametrize("is_belt", [True, False], ids=["belt", "disc"])
def test_rules_for_bonded_wheels_are_silent_for_coated_abrasives(
    make_facts: MakeFacts, rule: Rule, is_belt: bool
) -> None:
    facts = make_facts(is_belt=is_belt, coated=True, work_rest_gap_mm=9.0)
    assert rule(facts) is None
    assert rule(make_facts(work_rest_gap_mm=9.0)) is not None


def test_belt_has_no_tongue_and_no_ring_test_in_the_whole_list(make_facts: MakeFacts) -> None:
    texts = " ".join(c.text for c in cautions_for(make_facts(is_belt=True, coated=True)))
    assert "tongue" not in texts
    assert "rings clear" not in texts
    assert "Flanges" not in texts


def test_belt_comes_under_the_general_rule_of_guarding(make_facts: MakeFacts) -> None:
    caution = guard.belt_guard(make_facts(is_belt=True, coated=True))
    assert caution is not None
    assert "1910.212" in caution.basis
    assert guard.belt_guard(make_facts()) is None
    assert wheel.belt_joint(make_facts()) is None


def test_guard_openings_are_quoted(make_facts: MakeFacts) -> None:
    caution = guard.wheel_guard(make_facts())
    assert caution is not None
    # Source: 29 CFR 1910.215(b)(3) to (b)(5), figures of WAC 296-806-40506, table 405-1.
    assert "150° at most on a surface grinder" in caution.text
    assert "180° on a cylindrical grinder" in caution.text
    assert "90° on a bench grinder" in caution.text


@pytest.mark.parametrize(
    ("gap_mm", "level"),
    # Source: 29 CFR 1910.215(a)(4), 1/8 in = 3.175 mm.
    [(3.0, "note"), (3.175, "note"), (3.2, "danger")],
)
def test_work_rest_is_judged_by_an_eighth_of_an_inch(
    make_facts: MakeFacts, gap_mm: float, level: str
) -> None:
    caution = guard.work_rest(make_facts(work_rest_gap_mm=gap_mm))
    assert caution is not None
    assert caution.level == level
    assert f"{gap_mm:g} mm" in caution.text
    assert "1/8 in" in caution.text


def test_machine_without_a_rest_has_no_caution_for_one(make_facts: MakeFacts) -> None:
    assert guard.work_rest(make_facts(work_rest_gap_mm=None)) is None


def test_spindle_switched_by_hand_is_said_only_then(make_facts: MakeFacts) -> None:
    caution = guard.spindle_by_hand(make_facts(by_hand_spindle=True))
    assert caution is not None
    assert "cannot switch the wheel" in caution.text
    assert guard.spindle_by_hand(make_facts()) is None
