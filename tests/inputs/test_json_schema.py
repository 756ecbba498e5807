"""The JSON Schemas agree with the reader on the good files, and on one slip of each kind."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from planner.inputs.fields import FileModel, keys_of
from planner.inputs.job import Job
from planner.inputs.json_schema import job_schema, machine_schema
from planner.inputs.load import load_either
from planner.inputs.machine import Machine
from planner.inputs.yaml_nodes import NodeMap, Scalar, is_true, read_bytes

SCHEMAS = {"job": job_schema(), "machine": machine_schema()}
ROOT = Path(__file__).parents[2]
SHIPPED = sorted([*ROOT.glob("jobs/*.yaml"), *ROOT.glob("machines/*.yaml")])


def plain(node: object) -> Any:
    """What an editor's YAML 1.2 reader makes of our tree."""
    if isinstance(node, NodeMap):
        return {key: plain(value) for key, value in node.items()}
    if isinstance(node, list):
        return [plain(item) for item in node]
    assert isinstance(node, Scalar)
    if node.kind == "number":
        return float(node) if "." in node else int(node)
    if node.kind == "null":
        return None
    return is_true(node) if node.kind == "bool" else str(node)


def faults(kind: str, text: str) -> list[str]:
    root = read_bytes(text.encode(), kind).root
    return [e.message for e in Draft202012Validator(SCHEMAS[kind]).iter_errors(plain(root))]


@pytest.mark.parametrize("kind", SCHEMAS)
def test_schema_is_valid_and_takes_the_good_file(kind: str, texts: dict[str, str]) -> None:
    Draft202012Validator.check_schema(SCHEMAS[kind])
    assert SCHEMAS[kind]["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert faults(kind, texts[kind]) == []


@pytest.mark.parametrize("path", SHIPPED, ids=[p.name for p in SHIPPED])
def test_shipped_files_fit_the_schema_and_the_reader(path: Path) -> None:
    kind = "job" if path.parent.name == "jobs" else "machine"
    assert faults(kind, path.read_text()) == []
    assert isinstance(load_either(path).model, Job if kind == "job" else Machine)


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        pytest.param("job", "temper:", "tempr:", id="unknown-key"),
        pytest.param("job", "edge_land:", "edge_lnd:", id="unknown-key-below"),
        pytest.param("machine", "diameter:", "diametr:", id="unknown-key-in-list"),
        pytest.param("job", "190 degC", "190", id="no-unit"),
        pytest.param("job", "190 degC", "190 mm", id="wrong-unit"),
        pytest.param("job", "faces: both", "faces: bot", id="choice"),
        pytest.param("job", "quantity: 1", "quantity: 0", id="range"),
        pytest.param("machine", "force_ratio: 0.4", "force_ratio: 0", id="open-range"),
        pytest.param("machine", "force_ratio: 0.4", "force_ratio: 0.4 N", id="number-with-unit"),
        pytest.param("machine", "role: tilt", "role: tild", id="role"),
        pytest.param("machine", "1200 deg/min", "1200 mm/min", id="rotary-feed"),
        pytest.param("machine", "  A: {role", "  Q: {role", id="axis-letter"),
        pytest.param("machine", "4500 rpm", "4500", id="marked-speed"),
        pytest.param("machine", "name: fine", "name: fine!", id="name"),
        pytest.param("machine", "[-150 mm, 250 mm]", "[-150 mm]", id="one-end"),
        pytest.param("job", "title: Straight carving knife", "title: null", id="null"),
    ],
)
def test_schema_marks_a_slip(kind: str, old: str, new: str, texts: dict[str, str]) -> None:
    assert texts[kind].count(old) == 1
    assert faults(kind, texts[kind].replace(old, new))


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("job", "steel: O1", "steel: 1.2510"),
        ("job", "steel: O1", "steel: 1095"),
        ("job", "3.0 mm", "1/8 in"),
        ("machine", "4500 rpm", "35 m/s"),
        ("machine", "400 mm/s2", "0.4 m/s²"),
        ("job", "faces: both", "faces: both\n  residual_share: 20 %"),
        ("job", "steel: O1", "steel: {family: carbon, density: 7850 kg/m3, conductivity: 45 W/m K,"
         " specific_heat: 470 J/kg.K, composition: {C: 1}}"),
    ],
)  # fmt: skip
def test_schema_takes_every_way_of_writing(
    kind: str, old: str, new: str, texts: dict[str, str]
) -> None:
    assert texts[kind].count(old) == 1
    assert faults(kind, texts[kind].replace(old, new)) == []


def models(schema: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    return [(schema["title"], schema), *schema["$defs"].items()]


def all_models(model: type[FileModel] = FileModel) -> dict[str, type[FileModel]]:
    return {
        name: sub
        for child in model.__subclasses__()
        for name, sub in {child.__name__: child, **all_models(child)}.items()
    }


@pytest.mark.parametrize("kind", SCHEMAS)
def test_keys_are_the_file_s_and_each_map_is_described(kind: str) -> None:
    known = all_models()
    for name, schema in models(SCHEMAS[kind]):
        assert set(schema["properties"]) == set(keys_of(known[name]))
        assert schema["description"]
        assert schema["additionalProperties"] is False


@pytest.mark.parametrize("kind", SCHEMAS)
def test_quantities_say_unit_range_and_default_as_text(kind: str) -> None:
    quantities = [
        entry
        for _, schema in models(SCHEMAS[kind])
        for entry in schema["properties"].values()
        if entry.get("type") == "string" and "examples" in entry
    ]
    assert len(quantities) >= 10
    for entry in quantities:
        assert " in " in entry["description"]
        default = entry.get("default")
        assert default is None or re.search(entry["pattern"], default)


def test_description_joins_docstring_and_bounds() -> None:
    entry = job_schema()["$defs"]["Relief"]["properties"]["min_steel_left"]
    assert entry["description"].startswith("Default 0.15 mm: a hardened web thinner than this")
    assert entry["description"].endswith("at least 0 mm, at most 10 mm.")
    assert entry["default"] == "0.15 mm"
