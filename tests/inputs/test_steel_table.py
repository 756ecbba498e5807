"""Invariants of the packaged steel table."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest

from planner.inputs.tables import load_table

STEELS: dict[str, dict[str, Any]] = load_table("steels")["steels"]
every_steel = pytest.mark.parametrize("name", STEELS)

FIELDS = {
    "also",
    "family",
    "density_kg_m3",
    "conductivity_w_mk",
    "specific_heat_j_kgk",
    "composition",
    "tempering_range_c",
    "default_edge_limit_c",
    "hardness_after_temper",
    "water_dip",
    "sources",
}
# Property: what each family is by its definition, mass % of chromium. Stainless: at least 10.5
# (EN 10088-1). High-alloy tool steels: 5 class and 12 class. The rest below that.
CHROMIUM_BY_FAMILY = {
    "carbon": (0, 0.3),
    "low_alloy": (0, 2),
    "high_alloy": (4, 14),
    "stainless": (10.5, 20),
    "high_speed": (3, 5),
}


def band(hardness: float | list[float]) -> tuple[float, float]:
    low, high = hardness if isinstance(hardness, list) else (hardness, hardness)
    return low, high


def test_table_has_the_steels_that_carvers_and_toolmakers_use() -> None:
    wanted = {"1084", "1095", "W1", "W2", "O1", "O2", "52100", "80CrV2", "A2", "D2", "M2", "420"}
    assert wanted | {"440C"} <= set(STEELS)


@every_steel
def test_steel_has_every_field_and_no_other(name: str) -> None:
    assert set(STEELS[name]) == FIELDS


@every_steel
def test_every_group_of_figures_names_a_source_or_memory(name: str) -> None:
    sources = STEELS[name]["sources"]
    assert set(sources) == {"properties", "composition", "tempering", "edge_limit"}
    for group, source in sources.items():
        assert re.search(r"^\[[a-z0-9.-]+\] |^from memory: ", source), f"{group}: {source}"
        assert re.search(r"\bseen\b|from memory", source), f"{group} does not say how far: {source}"


@every_steel
def test_properties_lie_where_steels_lie(name: str) -> None:
    steel = STEELS[name]
    # Property: plain iron 7870 kg/m3 and 80 W/mK; tungsten steels are the heaviest, martensite with
    # much chromium conducts worst. Wide on purpose, to catch a slip of unit.
    assert 7500 <= steel["density_kg_m3"] <= 9000
    assert 15 <= steel["conductivity_w_mk"] <= 55
    assert 400 <= steel["specific_heat_j_kgk"] <= 500
    assert isinstance(steel["water_dip"], bool)


@every_steel
def test_composition_is_a_list_of_ranges_that_leave_room_for_iron(name: str) -> None:
    composition = STEELS[name]["composition"]
    for element, (low, high) in composition.items():
        assert re.fullmatch(r"[A-Z][a-z]?", element)
        assert 0 <= low < high, element
    assert sum(high for _, high in composition.values()) < 50
    assert composition["C"][0] > 0


@every_steel
def test_family_agrees_with_the_chromium(name: str) -> None:
    steel = STEELS[name]
    low, high = CHROMIUM_BY_FAMILY[steel["family"]]
    chromium = steel["composition"].get("Cr", [0, 0])
    assert low <= chromium[0] <= chromium[1] <= high


@every_steel
def test_high_speed_and_high_alloy_steels_take_no_water(name: str) -> None:
    if STEELS[name]["family"] in {"high_speed", "high_alloy"}:
        assert STEELS[name]["water_dip"] is False
    if STEELS[name]["family"] in {"carbon", "low_alloy"}:
        assert STEELS[name]["water_dip"] is True


@every_steel
def test_default_edge_limit_is_not_above_the_lowest_usual_temper(name: str) -> None:
    steel = STEELS[name]
    low, high = steel["tempering_range_c"]
    assert 100 <= steel["default_edge_limit_c"] <= low < high <= 700


@every_steel
def test_hardness_is_that_of_hardened_steel_in_rising_order_of_temper(name: str) -> None:
    table = STEELS[name]["hardness_after_temper"]
    assert len(table) >= 2
    assert list(table) == sorted(table)
    for hardness in table.values():
        low, high = band(hardness)
        assert 40 <= low <= high <= 70


@pytest.mark.parametrize(
    "name", [n for n, s in STEELS.items() if s["family"] in {"carbon", "low_alloy"}]
)
def test_hardness_falls_with_temper_for_carbon_and_low_alloy_steels(name: str) -> None:
    # Property: no secondary hardening without Mo, W or V in plenty.
    bands = [band(hardness) for hardness in STEELS[name]["hardness_after_temper"].values()]
    assert all(a[0] > b[0] and a[1] > b[1] for a, b in pairwise(bands))


def test_high_speed_steel_hardens_again_near_its_tempering_range() -> None:
    # Source: the double-temper table of [maker-m2]: 61-62 HRC at 427 C, 64-65.5 at 538 C, 51-55 at
    # 649 C. Property: a peak inside, so it is no monotonic table.
    table = {t: band(h) for t, h in STEELS["M2"]["hardness_after_temper"].items()}
    assert table[427] == (61, 62)
    assert table[538] == (64, 65.5)
    assert table[649] == (51, 55)


def test_no_name_belongs_to_two_steels() -> None:
    names = [n for steel, row in STEELS.items() for n in (steel, *row["also"])]
    assert all(isinstance(n, str) for n in names)
    folded = [n.casefold() for n in names]
    assert len(folded) == len(set(folded))


@pytest.mark.parametrize(
    ("name", "number"),
    # Source: EN material numbers of the notes on default edge limits; from memory.
    [
        ("1095", "1.1274"),
        ("O1", "1.2510"),
        ("O2", "1.2842"),
        ("52100", "1.3505"),
        ("80CrV2", "1.2235"),
        ("A2", "1.2363"),
        ("D2", "1.2379"),
        ("M2", "1.3343"),
        ("440C", "1.4125"),
        ("M35", "1.3243"),
        ("M42", "1.3247"),
    ],
)
def test_en_numbers_stand_with_their_steel(name: str, number: str) -> None:
    assert number in STEELS[name]["also"]


@pytest.mark.parametrize(
    ("name", "published_mm2_s", "half_digit"),
    # Source: [matdb] prints the diffusivity too, apart from its three factors: 1095 13, W1 13,
    # 420 7.3 mm2/s; abs = half of the last printed digit.
    [("1095", 13, 0.5), ("W1", 13, 0.5), ("420", 7.3, 0.05)],
)
def test_diffusivity_from_the_row_is_the_published_one(
    name: str, published_mm2_s: float, half_digit: float
) -> None:
    row = STEELS[name]
    diffusivity_m2_s = row["conductivity_w_mk"] / (
        row["density_kg_m3"] * row["specific_heat_j_kgk"]
    )
    assert diffusivity_m2_s * 1e6 == pytest.approx(published_mm2_s, abs=half_digit)


@pytest.mark.parametrize(
    ("name", "figures"),
    # Source: the sheets named in the rows' own sources, all seen: O1 [supplier-o1] at 350 to 600 F;
    # W2 [maker-w2] at 300 to 600 F; 440C [supplier-440c]; D2 [d2-reference] at 400 and 1000 F.
    [
        ("O1", {177: 62.5, 204: 62, 260: 60, 316: 57}),
        ("W2", {149: 65, 204: 62, 260: 59, 316: 55}),
        ("440C", {204: 59, 260: 57, 316: 56, 371: 56}),
        ("D2", {204: 61, 538: 54}),
    ],
)
def test_hardness_is_as_printed(name: str, figures: dict[int, float]) -> None:
    table = STEELS[name]["hardness_after_temper"]
    assert {temp: table[temp] for temp in figures} == figures


def test_cobalt_is_an_addition_only_in_the_cobalt_steels() -> None:
    # Property: D2 permits a residue (from 0), M35 and M42 are made with it.
    added = {n for n, s in STEELS.items() if s["composition"].get("Co", [0, 0])[0] > 0}
    assert added == {"M35", "M42"}
