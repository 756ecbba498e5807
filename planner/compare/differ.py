"""Two jobs with their machines side by side: which values of the files differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic.fields import FieldInfo

from planner.inputs.fields import FileModel, MarkedSpeed, Written
from planner.inputs.load import LoadedJob, LoadedMachine
from planner.inputs.survey import traits_of

GIVEN = "given"
"""Stands for a whole map, a wheel or an axis, that only one of the two has."""
_LIST_UNITS = ("mm", "deg")
"""Units of ranges and lists, told by the ends of their fields' names."""


@dataclass(frozen=True)
class Difference:
    """One key with its value in each of the two, unit included; empty where it has none."""

    key: str
    first: str
    second: str


def differences(
    first: tuple[LoadedJob, LoadedMachine], second: tuple[LoadedJob, LoadedMachine]
) -> list[Difference]:
    """Every key of job and machine whose value differs, defaults counted as values.

    Wheels, obstacles and other things that have a name are put side by side by it. Where the
    machine's file stands is no property of the grind, and left out.
    """
    jobs = [d for d in _of_models(first[0].model, second[0].model, "") if d.key != "machine"]
    return [*jobs, *_of_models(first[1].model, second[1].model, "machine.")]


def _of_models(one: FileModel, other: FileModel, before: str) -> Iterator[Difference]:
    first, second = (_keys(model) for model in (one, other))
    for key in {**first, **second}:
        (value, unit), (else_value, else_unit) = first.get(key, _NONE), second.get(key, _NONE)
        yield from _of_values(value, else_value, f"{before}{key}", unit or else_unit)


_NONE: tuple[Any, str] = (None, "")


def _keys(model: FileModel) -> dict[str, tuple[Any, str]]:
    """Each key of a map with its value and unit."""
    fields = type(model).model_fields
    return {
        field.alias or name: (getattr(model, name), _unit(name, field))
        for name, field in fields.items()
    }


def _unit(name: str, field: FieldInfo) -> str:
    notes = [n for n in field.metadata if isinstance(n, Written)]
    written = notes[0] if notes else traits_of(field.annotation).written
    if written is not None:
        return written.unit
    return next((unit for unit in _LIST_UNITS if name.endswith(f"_{unit}")), "")


def _of_values(one: Any, other: Any, path: str, unit: str) -> Iterator[Difference]:
    if one == other:
        return
    if isinstance(one, FileModel) and isinstance(other, FileModel):
        yield from _of_models(one, other, f"{path}.")
        return
    parts = [_parts(value) for value in (one, other)]
    if all(p is not None for p in parts):
        first, second = (p or {} for p in parts)
        for label in (*first, *(k for k in second if k not in first)):
            place = f"{path}.{label}" if isinstance(one, Mapping) else f"{path}[{label}]"
            yield from _of_values(first.get(label), second.get(label), place, unit)
        return
    yield Difference(path, _text(one, unit), _text(other, unit))


def _parts(value: Any) -> dict[Any, Any] | None:
    """The entries of a map or of a list of maps by name; None for a single value."""
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, list | tuple) and any(isinstance(v, FileModel) for v in value):
        return {_label(item, n): item for n, item in enumerate(value)}
    return None


def _label(item: FileModel, number: int) -> Any:
    return getattr(item, "name", None) or getattr(item, "do", None) or number


def _text(value: Any, unit: str) -> str:
    if value is None:
        return ""
    if isinstance(value, FileModel | Mapping) or _parts(value) is not None:
        return GIVEN
    if isinstance(value, list | tuple):
        return f"[{', '.join(_text(v, unit) for v in value)}]"
    if isinstance(value, MarkedSpeed):
        return f"{value.rpm:g} rpm" if value.rpm is not None else f"{value.m_s:g} m/s"
    if isinstance(value, float):
        return f"{value:.12g}{f' {unit}' if unit else ''}"
    return str(value).lower() if isinstance(value, bool) else str(value)
