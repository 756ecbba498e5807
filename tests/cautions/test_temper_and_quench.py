"""Heat at the edge, colours, cooling."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planner.cautions import CautionFacts, cautions_for, quench, temper
from planner.inputs.tables import load_table

MakeFacts = Callable[..., CautionFacts]


@pytest.mark.parametrize(
    ("edge_c", "level"),
    # By hand: limit 165, margin 25: a note up to 140, a warning up to 165, a danger above.
    [(140.0, "note"), (140.5, "warning"), (165.0, "warning"), (165.5, "danger")],
)
def test_predicted_edge_is_judged_by_its_limit(
    make_facts: MakeFacts, edge_c: float, level: str
) -> None:
    caution = temper.edge_temperature(make_facts(edge_temperature_c=edge_c))
    assert caution.level == level
    assert "below 165 °C (O1 tempered at 190 °C)" in caution.text


def test_edge_without_a_prediction_is_a_warning(make_facts: MakeFacts) -> None:
    caution = temper.edge_temperature(make_facts(edge_temperature_c=None))
    assert caution.level == "warning"
    assert "No temperature was predicted" in caution.text


def test_unknown_temper_takes_the_steels_own_limit_and_says_so(make_facts: MakeFacts) -> None:
    facts = make_facts(temper_c=None, edge_limit_c=None)
    caution = temper.temper_unknown(facts)
    assert caution is not None
    # Source: the steel table, O1: default limit 175, range 177 to 260.
    assert "175 °C is taken as its limit" in caution.text
    assert "177 to 260 °C" in caution.text
    assert "temper unknown" in temper.edge_temperature(facts).text
    assert temper.temper_unknown(make_facts()) is None


@pytest.mark.parametrize(
    ("temper_c", "speaks"), [(176.0, True), (177.0, False), (260.0, False), (374.0, True)]
)
def test_temper_outside_the_usual_range_is_questioned(
    make_facts: MakeFacts, temper_c: float, speaks: bool
) -> None:
    # Source: the steel table, O1: 177 to 260 C. 374 is 190 C given in F by mistake.
    assert (temper.temper_unusual(make_facts(temper_c=temper_c)) is not None) is speaks


def test_known_temper_without_a_planned_limit_gives_its_own(make_facts: MakeFacts) -> None:
    # By hand: 190 - 25 = 165, below the steel's default of 175; 160 - 25 = 135.
    assert make_facts(temper_c=190.0, edge_limit_c=None).limit_c == 165
    assert make_facts(temper_c=160.0, edge_limit_c=None).limit_c == 135
    assert make_facts(temper_c=None, edge_limit_c=None).limit_c == 175
    assert make_facts(temper_c=None, edge_limit_c=150.0).limit_c == 150


def test_flash_is_said_only_where_it_was_predicted(make_facts: MakeFacts) -> None:
    assert temper.skin_flash(make_facts(flash_temperature_c=None)) is None
    above = temper.skin_flash(make_facts(flash_temperature_c=310.0))
    below = temper.skin_flash(make_facts(flash_temperature_c=165.0))
    assert above is not None
    assert below is not None
    assert (above.level, below.level) == ("warning", "note")


def test_limit_below_the_first_colour_makes_any_colour_a_fault(make_facts: MakeFacts) -> None:
    # Source: [colours-average], faint yellow 430 F = 221.1 C.
    text = temper.colours(make_facts(edge_limit_c=165.0)).text
    assert "faint yellow, shows at about 221 °C" in text
    assert "any colour at all" in text


def test_limit_above_the_first_colour_names_the_last_one_allowed(make_facts: MakeFacts) -> None:
    # Source: [colours-average]: dark straw 247.8 C, reddish purple 272.8 C.
    text = temper.colours(make_facts(steel="1095", edge_limit_c=260.0)).text
    assert "dark straw (248 °C)" in text
    assert "purple" not in text


@pytest.mark.parametrize("name", ["A2", "D2", "M2", "420", "440C"])
def test_colours_prove_nothing_on_high_alloy_steel(make_facts: MakeFacts, name: str) -> None:
    text = temper.colours(make_facts(steel=name)).text
    assert "Colours prove nothing" in text
    assert "yellow" not in text
    assert "look for colour" not in temper.scrap_blade_first(make_facts(steel=name)).text


def test_scrap_blade_comes_before_the_batch(make_facts: MakeFacts) -> None:
    assert "the 20 good blades" in temper.scrap_blade_first(make_facts(quantity=20)).text
    assert "the good blade," in temper.scrap_blade_first(make_facts()).text
    assert "look for colour" in temper.scrap_blade_first(make_facts()).text


@pytest.mark.parametrize(
    "name", [n for n, s in load_table("steels")["steels"].items() if s["family"] == "high_speed"]
)
@pytest.mark.parametrize("coolant", ["dry", "mist", "flood"])
def test_high_speed_steel_gets_no_water_and_is_told_why(
    make_facts: MakeFacts, name: str, coolant: str
) -> None:
    facts = make_facts(steel=name, coolant=coolant)
    caution = quench.water_dip(facts)
    assert caution is not None
    assert caution.level == "warning"
    assert "no dip in water" in caution.text
    assert "cracks" in caution.text
    assert not any(f"Dip the {name}" in c.text for c in cautions_for(facts))


def test_carbon_steel_is_dipped_before_it_shows_colour(make_facts: MakeFacts) -> None:
    caution = quench.water_dip(make_facts(steel="1095"))
    assert caution is not None
    assert caution.level == "note"
    assert "Dip the 1095 blade" in caution.text
    assert "has shown colour" in caution.text


def test_flood_needs_no_dip_for_a_steel_that_may_be_dipped(make_facts: MakeFacts) -> None:
    assert quench.water_dip(make_facts(coolant="flood")) is None


def test_dry_mist_and_flood_are_told_apart(make_facts: MakeFacts) -> None:
    texts = {kind: quench.cooling_kind(make_facts(coolant=kind)).text for kind in ("dry", "mist")}
    texts["flood"] = quench.cooling_kind(make_facts(coolant="flood")).text
    assert len(set(texts.values())) == 3
    assert texts["mist"].startswith("Mist cools far less than flood")
