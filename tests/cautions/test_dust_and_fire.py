"""Dust, mist, sparks."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from planner.cautions import CautionFacts, cautions_for, dust, fire
from planner.inputs.steels import load_steels

MakeFacts = Callable[..., CautionFacts]


def test_d2_names_chromium_with_its_grams_and_its_limit(make_facts: MakeFacts) -> None:
    caution = dust.alloy_dust(make_facts(steel="D2", removed_mass_g=1.25, quantity=8))
    assert caution is not None
    assert caution.level == "warning"
    # By hand: 8 · 1.25 g = 10 g; Cr 11-13 %, middle 12 %: 1.2 g; Mo 0.95 %: 0.095 g;
    # V 0.8 %: 0.08 g.
    assert "10.0 g of D2 dust" in caution.text
    assert "1.2 g is chromium" in caution.text
    assert re.search(r"0\.(09|10) g is molybdenum", caution.text)
    assert "0.08 g is vanadium" in caution.text
    # Source: 29 CFR 1910.1000, table Z-1.
    assert "chromium 1 mg/m³" in caution.text
    assert "Old legal limits" in caution.text
    assert "29 CFR 1910.1000, table Z-1" in caution.basis


def test_d2_does_not_name_its_permitted_residue_of_cobalt(make_facts: MakeFacts) -> None:
    assert make_facts(steel="D2").steel.composition["Co"] == (0, 1.0)
    assert not any("cobalt" in c.text for c in cautions_for(make_facts(steel="D2")))


@pytest.mark.parametrize("name", ["1084", "1095", "W1"])
def test_plain_carbon_steel_names_no_alloying_element(make_facts: MakeFacts, name: str) -> None:
    facts = make_facts(steel=name)
    assert dust.alloy_dust(facts) is None
    assert not any("chromium" in caution.text for caution in cautions_for(facts))


@pytest.mark.parametrize(
    ("name", "elements"),
    [
        ("W2", ["vanadium"]),
        ("O1", ["chromium", "tungsten"]),
        ("52100", ["chromium"]),
        ("A2", ["chromium", "vanadium", "molybdenum"]),
        ("M2", ["chromium", "vanadium", "tungsten", "molybdenum"]),
        ("M42", ["chromium", "cobalt", "vanadium", "tungsten", "molybdenum"]),
        ("440C", ["chromium"]),
    ],
)
def test_alloy_dust_names_just_the_additions(
    make_facts: MakeFacts, name: str, elements: list[str]
) -> None:
    caution = dust.alloy_dust(make_facts(steel=name))
    assert caution is not None
    assert re.findall(r" g is (\w+)", caution.text) == elements


def test_small_additions_are_a_note_large_ones_a_warning(make_facts: MakeFacts) -> None:
    small, large = (dust.alloy_dust(make_facts(steel=name)) for name in ("O1", "52100"))
    assert small is not None
    assert large is not None
    # Property: O1 adds 0.5 % of chromium and of tungsten, 52100 1.5 % of chromium.
    assert (small.level, large.level) == ("note", "warning")


def test_cobalt_quotes_the_limit_and_the_lower_recommendation(make_facts: MakeFacts) -> None:
    caution = dust.alloy_dust(make_facts(steel="M35"))
    assert caution is not None
    # Source: 29 CFR 1910.1000, table Z-1, cobalt 0.1 mg/m3; NIOSH 0.05.
    assert "cobalt 0.1 mg/m³ (NIOSH recommends 0.05)" in caution.text


def test_nickel_of_a_steel_that_the_job_describes_is_named(make_facts: MakeFacts) -> None:
    described = replace(
        load_steels()["1095"],
        designation="saw steel",
        composition={"C": (0.75, 0.75), "Ni": (2, 2)},
    )
    caution = dust.alloy_dust(make_facts(steel=described, removed_mass_g=5.0))
    assert caution is not None
    # By hand: 2 % of 5 g = 0.10 g. Source: 29 CFR 1910.1000, table Z-1, nickel 1; NIOSH 0.015.
    assert "0.10 g is nickel" in caution.text
    assert "nickel 1 mg/m³ (NIOSH recommends 0.015)" in caution.text


def test_exhaust_follows_the_size_of_the_wheel(make_facts: MakeFacts) -> None:
    # Source: 29 CFR 1910.94(b)(3)(ii), table G-4: to 9 in 220, to 16 in 390 ft3/min.
    # By hand: 220 · 0.3048^3 · 60 = 373.8 m3/h.
    assert "374 m³/h (220 ft³/min)" in dust.steel_dust(make_facts(wheel_diameter_mm=228.6)).text
    assert "(390 ft³/min)" in dust.steel_dust(make_facts(wheel_diameter_mm=230.0)).text
    assert "(1200 ft³/min)" in dust.steel_dust(make_facts(wheel_diameter_mm=2000.0)).text
    assert "belt up to 3 in" in dust.steel_dust(make_facts(is_belt=True, coated=True)).text


def test_mass_of_the_batch_is_the_mass_of_its_blades(make_facts: MakeFacts) -> None:
    # By hand: 12 · 0.5 g = 6.0 g.
    assert "12 blades of O1 make 6.0 g" in dust.steel_dust(make_facts(quantity=12)).text
    assert "One blade of O1 makes 0.50 g" in dust.steel_dust(make_facts()).text


def test_mist_is_breathed_and_dry_and_flood_are_not(make_facts: MakeFacts) -> None:
    caution = dust.breathed_mist(make_facts(coolant="mist"))
    assert caution is not None
    assert "you breathe the mist" in caution.text
    assert dust.breathed_mist(make_facts(coolant="dry")) is None
    assert dust.breathed_mist(make_facts(coolant="flood")) is None


def test_collector_shared_with_wood_is_a_danger(make_facts: MakeFacts) -> None:
    caution = fire.sparks_and_wood_dust(make_facts(dust_collector="shared_with_wood"))
    assert (caution.topic, caution.level) == ("fire", "danger")
    assert "wood dust" in caution.text


@pytest.mark.parametrize("collector", ["none", "steel_only"])
def test_other_collectors_are_a_note(make_facts: MakeFacts, collector: str) -> None:
    caution = fire.sparks_and_wood_dust(make_facts(dust_collector=collector))
    assert caution.level == "note"
    assert "wood dust" in caution.text


def test_hydrogen_is_named_only_where_the_dust_gets_wet(make_facts: MakeFacts) -> None:
    assert "hydrogen" not in fire.light_metals(make_facts(coolant="dry")).text
    assert "hydrogen" in fire.light_metals(make_facts(coolant="flood")).text
    for metal in ("aluminium", "titanium", "magnesium"):
        assert metal in fire.light_metals(make_facts()).text
