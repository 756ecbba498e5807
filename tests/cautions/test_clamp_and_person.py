"""Holding, handling, protecting oneself."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planner.cautions import CautionFacts, clamp, eyes_ears, local_rules

MakeFacts = Callable[..., CautionFacts]


def test_thin_edge_asks_for_little_overhang(make_facts: MakeFacts) -> None:
    thin = clamp.hold(make_facts(edge_thickness_mm=0.3))
    thick = clamp.hold(make_facts(edge_thickness_mm=0.5))
    assert (thin.level, thick.level) == ("warning", "note")
    assert "0.3 mm thick" in thin.text
    assert "stand out" not in thick.text


@pytest.mark.parametrize(
    ("flip", "says"),
    [("end_for_end", "end for end"), ("over", "turn the blade over"), ("by_tilt", "tilt to")],
)
def test_turning_is_told_as_this_fixture_does_it(
    make_facts: MakeFacts, flip: str, says: str
) -> None:
    assert says in clamp.turning_the_blade(make_facts(flip=flip)).text


def test_edge_at_zero_is_sharp_while_the_blade_is_turned(make_facts: MakeFacts) -> None:
    caution = clamp.turning_the_blade(make_facts(edge_thickness_mm=0.0))
    assert caution.level == "warning"
    assert "ground to nothing, sharp" in caution.text
    assert clamp.turning_the_blade(make_facts(edge_thickness_mm=0.8)).level == "note"


def test_hands_are_kept_from_what_turns(make_facts: MakeFacts) -> None:
    assert "running wheel" in clamp.fingers_and_gloves(make_facts()).text
    assert "running belt" in clamp.fingers_and_gloves(make_facts(is_belt=True, coated=True)).text


def test_eyes_ears_and_lungs_quote_their_clauses(make_facts: MakeFacts) -> None:
    both = eyes_ears.eyes_and_ears(make_facts())
    assert "1910.133" in both.basis
    assert "1910.95" in both.basis
    assert "90 dBA" in both.text  # Source: 29 CFR 1910.95; the 8 h row of 1926.52, table D-2.
    mask = eyes_ears.lungs(make_facts(coolant="mist"))
    assert mask is not None
    assert "1910.134" in mask.basis
    assert eyes_ears.lungs(make_facts(coolant="flood")) is None


def test_local_rules_put_codes_and_makers_first(make_facts: MakeFacts) -> None:
    text = local_rules.local_rules(make_facts()).text
    assert "come before everything said here" in text
    assert "qualified people" in text
    assert "makers of the wheel" in text
