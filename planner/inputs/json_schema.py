"""JSON Schema of the job and the machine file, for editors that complete and check YAML."""

from __future__ import annotations

import ast
import inspect
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from planner.inputs.fields import FileModel, keys_of
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.survey import traits_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def job_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a job file.

    >>> job_schema()["properties"]["machine"]["description"].partition(".")[0]
    "Path of the machine file, seen from the job file's folder"
    """
    return _schema_of(Job)


def machine_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a machine file.

    >>> "rack" in machine_schema()["required"]
    True
    """
    return _schema_of(Machine)


def _schema_of(model: type[FileModel]) -> dict[str, Any]:
    schema = model.model_json_schema(schema_generator=_Generator)
    _tidy_bounds(schema)
    return {"$schema": DIALECT, **schema}


class _Generator(GenerateJsonSchema):
    """Describes what stands in a file: no null, defaults with their unit, fields explained."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Leave null out: a key is given a value, or left out."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """Leave the default to ``model_schema``, which knows its unit."""
        return self.generate_inner(schema["schema"])

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        """Add to each key its docstring, its bounds in words, and its default with the unit."""
        json = super().model_schema(schema)
        model = schema["cls"]
        notes = _attribute_docstrings(model)
        for name, (key, field) in zip(model.model_fields, keys_of(model).items(), strict=True):
            entry = json["properties"][key]
            _, written, bounds = traits_of(field.rebuild_annotation())
            texts = [notes[name]] if name in notes else []
            if written:
                words = f"{written.allowed}, {bounds}" if bounds else written.allowed
                texts.append(f"{words[0].upper()}{words[1:]}.")
            if texts:
                entry["description"] = " ".join(texts)
            default = field.default
            if not (field.is_required() or default is None or isinstance(default, BaseModel)):
                unit = written.unit if written else ""
                entry["default"] = f"{default:g} {unit}" if unit else default
        return json


_BOUNDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}


def _tidy_bounds(schema: Any) -> None:
    """Name bounds on numbers as JSON Schema does; take them off text, where words tell them.

    Pydantic leaves its own names of bounds where it does not see that a number comes out.
    """
    if isinstance(schema, dict):
        for ours, theirs in _BOUNDS.items():
            bound = schema.pop(ours, None)
            if bound is not None and schema.get("type") in ("number", "integer"):
                schema[theirs] = bound
    for below in schema.values() if isinstance(schema, dict) else schema:
        if isinstance(below, dict | list):
            _tidy_bounds(below)


def _attribute_docstrings(model: type[BaseModel]) -> dict[str, str]:
    """Return the docstrings under a model's fields.

    Pydantic can do this as it makes the models, but that costs every command 20 ms.
    """
    body = ast.parse(inspect.getsource(model)).body[0]
    assert isinstance(body, ast.ClassDef)
    found = {}
    for line, after in zip(body.body, body.body[1:], strict=False):
        if (
            isinstance(line, ast.AnnAssign)
            and isinstance(line.target, ast.Name)
            and isinstance(after, ast.Expr)
            and isinstance(after.value, ast.Constant)
        ):
            found[line.target.id] = " ".join(str(after.value.value).split())
    return found
