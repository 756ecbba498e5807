"""Invariants of the other packaged tables, and of their loader."""

from __future__ import annotations

import math
import re
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any, cast

import pytest
import yaml

from planner.inputs.tables import TABLE_NAMES, TableName, load_table

DATA = Path(str(files("planner.inputs"))) / "data"
SOURCES = Path(__file__).parents[2] / "docs" / "sources.md"
every_table = pytest.mark.parametrize("name", TABLE_NAMES)


def test_every_data_file_can_be_loaded_by_name() -> None:
    assert {path.stem for path in DATA.glob("*.yaml")} == set(TABLE_NAMES)


def test_table_is_read_once() -> None:
    assert load_table("steels") is load_table("steels")


def test_unknown_table_is_refused_with_the_names() -> None:
    with pytest.raises(ValueError, match=r"'metals' is not one of abrasives, .*steels"):
        load_table(cast(TableName, "metals"))


@every_table
def test_no_key_stands_twice_in_a_mapping(name: str) -> None:
    def walk(node: yaml.Node | None) -> None:
        assert node is not None
        if isinstance(node, yaml.MappingNode):
            keys = [key.value for key, _ in node.value]
            assert len(keys) == len(set(keys)), f"line {node.start_mark.line + 1}: {keys}"
            for _, value in node.value:
                walk(value)
        elif isinstance(node, yaml.SequenceNode):
            for value in node.value:
                walk(value)

    text = (DATA / f"{name}.yaml").read_text(encoding="utf-8")
    walk(yaml.compose(text, Loader=yaml.SafeLoader))


@every_table
def test_no_key_or_value_fell_into_a_trap_of_yaml(name: TableName) -> None:
    """A designation such as 1.2510 or 420 must stay text; so must an element such as N or Y."""

    def walk(value: Any, path: str) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                number_allowed = path.endswith("hardness_after_temper")
                assert isinstance(key, int if number_allowed else str), f"{path}: {key!r}"
                walk(inner, f"{path}.{key}")
        elif isinstance(value, list):
            for inner in value:
                walk(inner, path)
        elif isinstance(value, bool):
            assert path.endswith("water_dip"), path
        elif isinstance(value, float):
            assert math.isfinite(value), path

    walk(load_table(name), name)


def test_every_source_key_quoted_in_a_table_is_in_the_bibliography() -> None:
    listed = set(re.findall(r"\*\*\[([a-z0-9.-]+)\]\*\*", SOURCES.read_text(encoding="utf-8")))
    quoted = {
        key
        for path in DATA.glob("*.yaml")
        for key in re.findall(r"\[([a-z][a-z0-9.-]*)\] ", path.read_text(encoding="utf-8"))
        if key != "key"  # the head comment's own example
    }
    assert len(quoted) > 20
    assert quoted <= listed


@pytest.mark.parametrize("scale", ["fepa_p", "fepa_f"])
def test_grains_get_strictly_smaller_as_the_number_rises(scale: str) -> None:
    grains = load_table("abrasives")[scale]["mean_grain_um"]
    numbers = [int(grit[1:]) for grit in grains]
    assert numbers == sorted(numbers)
    assert len(set(numbers)) == len(numbers)
    assert all(a > b for a, b in pairwise(grains.values()))


def test_p_and_f_scales_differ_at_every_shared_number() -> None:
    table = load_table("abrasives")
    p, f = table["fepa_p"]["mean_grain_um"], table["fepa_f"]["mean_grain_um"]
    shared = {grit[1:] for grit in p} & {grit[1:] for grit in f}
    assert len(shared) > 10
    assert all(p[f"P{n}"] != f[f"F{n}"] for n in shared)
    # Property: beyond 240 an F grain is the finer by far, and a plain 400 is neither of the two.
    assert all(f[f"F{n}"] < 0.8 * p[f"P{n}"] for n in shared if int(n) >= 240)
    assert f["F400"] < table["plain_grit"]["mean_grain_um"]["400"] < p["P400"]


def test_p_grains_are_those_of_the_standard() -> None:
    # Source: FEPA 43 / ISO 6344, table of mean grain sizes, rows as reprinted.
    grains = load_table("abrasives")["fepa_p"]["mean_grain_um"]
    printed = {"P12": 1815, "P36": 538, "P80": 201, "P120": 125, "P240": 58.5, "P400": 35}
    printed |= {"P600": 25.8, "P1200": 15.3, "P2500": 8.4}
    assert {grit: grains[grit] for grit in printed} == printed
    assert len(grains) == 28


def test_rows_from_memory_are_rows_of_the_table() -> None:
    table = load_table("abrasives")["fepa_p"]
    assert set(table["from_memory"]) < set(table["mean_grain_um"])


def test_roughness_bands_are_wide_and_enclose_the_charts() -> None:
    bands = load_table("abrasives")["roughness_ra"]["bands"]
    assert all(a["grits"][1] < b["grits"][0] for a, b in pairwise(bands))
    # Source: [ra-charts] second chart 80-120: 6.3 to 3.2, 150-220: 3.2 to 1.6, 240-320: 1.6 to 0.8,
    # 400-600: 0.8 to 0.4; third chart 80: 1.65, 180: 0.62, 320: 0.25.
    points = [(80, 6.3), (120, 3.2), (150, 3.2), (220, 1.6), (240, 1.6), (320, 0.8), (400, 0.8)]
    points += [(600, 0.4), (80, 1.65), (180, 0.62), (320, 0.25)]
    for grit, ra_um in points:
        (band,) = (b for b in bands if b["grits"][0] <= grit <= b["grits"][1])
        assert band["ra_um"][0] <= ra_um <= band["ra_um"][1]


@pytest.mark.parametrize("name", load_table("temper_colours")["tables"])
def test_temper_colours_follow_each_other(name: str) -> None:
    table = load_table("temper_colours")["tables"][name]
    temperatures = [row["temp_c"] for row in table["colours"]]
    assert all(a < b for a, b in pairwise(temperatures))
    assert len({row["colour"] for row in table["colours"]}) == len(table["colours"])
    # Property: published tables for carbon steel begin near 200 C and end below 400 C.
    assert 170 <= temperatures[0] < temperatures[-1] <= 380


@pytest.mark.parametrize(
    ("table", "fahrenheit"),
    # Source: [colours-average] and [dooley], printed in F; C = (F - 32)/1.8, rounded to 0.1.
    [
        ("average", [430, 458, 478, 523, 551, 572, 603, 627]),
        ("dooley", [430, 460, 480, 500, 520, 530, 550, 570, 610, 630]),
    ],
)
def test_temper_colours_are_the_printed_fahrenheit(table: str, fahrenheit: list[int]) -> None:
    rows = load_table("temper_colours")["tables"][table]["colours"]
    for row, printed_f in zip(rows, fahrenheit, strict=True):
        assert row["temp_c"] == pytest.approx((printed_f - 32) / 1.8, abs=0.05 + 1e-9)


def test_film_coefficients_lie_in_their_ranges_and_in_order() -> None:
    films = load_table("film_coefficients")["films"]
    assert list(films) == ["still_air", "moved_air", "mist", "flood"]
    for film in films.values():
        low, high = film["range_w_m2k"]
        assert 0 < low <= film["typical_w_m2k"] <= high
        assert "from memory" in film["source"]
    typical = [film["typical_w_m2k"] for film in films.values()]
    assert all(a < b for a, b in pairwise(typical))


def test_speed_classes_rise_and_hold_every_stripe() -> None:
    table = load_table("wheel_speed_classes")
    speeds = table["classes"]["speed_m_s"]
    assert all(a < b for a, b in pairwise(speeds))
    # Source: [stripe-page]: blue 50, yellow 63, red 80, green 100 m/s.
    stripes = {colour: row["speed_m_s"] for colour, row in table["stripes"].items()}
    assert stripes == {"blue": 50, "yellow": 63, "red": 80, "green": 100}
    assert set(stripes.values()) < set(speeds)


def test_gaps_are_their_fractions_of_an_inch() -> None:
    # By hand: 25.4/8 = 3.175 mm, 25.4/4 = 6.35 mm.
    guard = load_table("safety_limits")["guard"]
    assert guard["work_rest_gap"]["max_mm"] == 25.4 / 8
    assert guard["tongue_gap"]["max_mm"] == 25.4 / 4


def test_guard_openings_are_those_of_the_rule() -> None:
    # Source: WAC 296-806-40506, table 405-1, equal in substance to 29 CFR 1910.215(b).
    guard = load_table("safety_limits")["guard"]
    kinds = ("bench_and_floor", "cylindrical", "surface", "top_grinding")
    assert [guard[kind]["exposure_deg"] for kind in kinds] == [90, 180, 150, 60]


def test_exhaust_grows_with_the_wheel_and_the_belt() -> None:
    exhaust = load_table("safety_limits")["exhaust"]
    for rows, size in ((exhaust["wheels"], "diameter_in"), (exhaust["belts"], "width_in")):
        assert all(a[size] < b[size] and a["flow_cfm"] < b["flow_cfm"] for a, b in pairwise(rows))
    # Source: 29 CFR 1910.94(b)(3)(ii), table G-4, first and last row.
    assert exhaust["wheels"][0]["flow_cfm"] == 220
    assert exhaust["wheels"][-1]["flow_cfm"] == 1200


def test_every_exposure_limit_has_its_clause_and_says_how_far_it_was_checked() -> None:
    for element, row in load_table("safety_limits")["exposure"].items():
        assert "29 CFR 1910.1000" in row["basis"], element
        assert re.search("seen|from memory", row["basis"]), element
        recommended = row.get("recommended_mg_m3")
        if recommended is not None and row["limit_mg_m3"] is not None:
            assert recommended < row["limit_mg_m3"], element
