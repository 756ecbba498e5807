"""A steel is found under any of its names, or described by the job itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.errors import Problem
from planner.inputs.load import load_job
from planner.inputs.steels import (
    Steel,
    SteelProperties,
    _tidy,
    find_steel,
    load_steels,
    near_steels,
    steel_of,
)

OWN = (
    "{name: my bar, family: carbon, density: 7.85 g/cm3, conductivity: 45 W/m.K, "
    "specific_heat: 470 J/kg.K, composition: {C: 0.95, Mn: 0.4}}"
)


def test_table_becomes_steels_with_ranges_as_pairs() -> None:
    steels = load_steels()
    assert all(isinstance(s, Steel) and s.designation == name for name, s in steels.items())
    for steel in steels.values():
        assert all(low <= high for low, high in steel.composition.values())
        assert all(low <= high for low, high in steel.hardness_after_temper.values())
        assert steel.tempering_range_c[0] < steel.tempering_range_c[1]
        assert steel.sources


def test_every_name_in_the_table_finds_its_own_steel() -> None:
    names = [(s, n) for s in load_steels().values() for n in (s.designation, *s.also)]
    tidied = [_tidy(name) for _, name in names]
    assert len(set(tidied)) == len(tidied)
    for steel, name in names:
        assert find_steel(name) is steel


@pytest.mark.parametrize(
    ("typed", "designation"),
    [
        ("O1", "O1"),
        ("o-1", "O1"),
        ("AISI O1", "O1"),
        ("1.2510", "O1"),
        ("100 MnCrW 4", "O1"),
        ("aisi 1095", "1095"),
        ("EN 1.2379", "D2"),
        ("80crv2", "80CrV2"),
    ],
)
def test_case_blanks_hyphens_and_standard_do_not_matter(typed: str, designation: str) -> None:
    assert find_steel(typed).designation == designation


@pytest.mark.parametrize("typed", ["", " ", "-", "AISI", "O", "1.251", "mild", "O1x", "🔪"])
def test_unknown_designation_is_a_lookup_error(typed: str) -> None:
    with pytest.raises(LookupError, match="not in the table"):
        find_steel(typed)


def test_near_names_are_those_of_the_table() -> None:
    assert "1095" in near_steels("1059")
    assert near_steels("zzzzzz") == []


def test_tables_cannot_be_changed_by_a_caller() -> None:
    with pytest.raises(TypeError):
        load_steels()["O1"] = load_steels()["D2"]  # type: ignore[index]
    with pytest.raises(TypeError):
        load_steels()["O1"].composition["C"] = (0, 0)  # type: ignore[index]


def job_with(steel: str, texts: dict[str, str], folder: Path) -> str | SteelProperties:
    path = folder / "job.yaml"
    path.write_text(texts["job"].replace("steel: O1", f"steel: {steel}"))
    return load_job(path).model.steel


def test_job_s_own_steel_becomes_the_same_kind_of_steel(
    texts: dict[str, str], tmp_path: Path
) -> None:
    steel = steel_of(job_with(OWN, texts, tmp_path))
    # By hand: as OWN says; 7.85 g/cm3 = 7850 kg/m3.
    assert (steel.designation, steel.family) == ("my bar", "carbon")
    assert steel.density_kg_m3 == 7850.0
    assert (steel.conductivity_w_mk, steel.specific_heat_j_kgk) == (45.0, 470.0)
    assert dict(steel.composition) == {"C": (0.95, 0.95), "Mn": (0.4, 0.4)}
    assert steel.water_dip is True
    assert dict(steel.hardness_after_temper) == {}


def test_own_steel_without_a_tempering_range_takes_its_family_s(
    texts: dict[str, str], tmp_path: Path
) -> None:
    steel = steel_of(job_with(OWN, texts, tmp_path))
    kin = [s for s in load_steels().values() if s.family == "carbon"]
    # Property: no relative is hotter at its limit, none reaches outside the range.
    assert all(steel.default_edge_limit_c <= s.default_edge_limit_c for s in kin)
    assert all(
        steel.tempering_range_c[0] <= s.tempering_range_c[0]
        and s.tempering_range_c[1] <= steel.tempering_range_c[1]
        for s in kin
    )


def test_own_steel_s_limit_is_not_above_its_own_tempering_range(
    texts: dict[str, str], tmp_path: Path
) -> None:
    given = OWN.replace("family: carbon", "family: carbon, tempering_range: [120 degC, 248 degF]")
    given = given.replace("248 degF", "428 degF")
    steel = steel_of(job_with(given, texts, tmp_path))
    # By hand: (428 - 32) * 5 / 9 = 220; 120 is below every carbon steel's limit in the table.
    assert steel.tempering_range_c == (120.0, 220.0)
    assert steel.default_edge_limit_c == 120.0


def test_every_family_of_the_model_has_a_steel_in_the_table(
    texts: dict[str, str], tmp_path: Path
) -> None:
    for family in ("carbon", "low_alloy", "high_alloy", "stainless", "high_speed"):
        choice = job_with(OWN.replace("carbon", family), texts, tmp_path)
        assert steel_of(choice).family == family


@pytest.mark.parametrize(
    ("old", "new", "rule", "key_path"),
    [
        ("7.85 g/cm3", "7850", "no-unit", "steel.density"),
        ("7.85 g/cm3", "785 kg/m3", "out-of-range", "steel.density"),
        ("45 W/m.K", "45 W", "wrong-unit", "steel.conductivity"),
        ("family: carbon", "family: carbn", "not-a-choice", "steel.family"),
        ("family: carbon, ", "", "missing-key", "steel.family"),
        ("Mn: 0.4", "Fe: 98", "unknown-key", "steel.composition.Fe"),
        ("Mn: 0.4", "Mn: 0.4 %", "wrong-type", "steel.composition.Mn"),
        ("Mn: 0.4", "Mn: 101", "out-of-range", "steel.composition.Mn"),
        ("Mn: 0.4", "Mn: 99.5", "composition-total", "steel.composition"),
        ("name: my bar", "name: my bar, tempering_range: [300 degC, 200 degC]", "range-order",
         "steel.tempering_range"),
    ],
)  # fmt: skip
def test_fault_in_a_job_s_own_steel(
    old: str,
    new: str,
    rule: str,
    key_path: str,
    texts: dict[str, str],
    problems_of: Callable[[str, str], list[Problem]],
) -> None:
    assert OWN.count(old) == 1
    text = texts["job"].replace("steel: O1", f"steel: {OWN.replace(old, new)}")
    found = problems_of("job", text)
    assert [(p.rule, p.key_path) for p in found] == [(rule, key_path)]
    assert found[0].line == 3  # By hand: the line of steel in data/job.yaml
