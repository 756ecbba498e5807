"""docs/keys.md and docs/formulas.md, made from the schemas and the formulas' own docstrings.

``python -m planner.report.reference docs`` writes both; a test holds the files to what it makes.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import planner.formulas
from planner.inputs.json_schema import job_schema, machine_schema

_KEYS_HEAD = """# Every key of both files

Made from the same models that read the files (`bevelwright schema job` and
`bevelwright schema machine`). A key without a default is needed where "needed" stands, and left
out freely elsewhere. Units are written with the value.
"""

_FORMULAS_HEAD = """# Every formula

Made from the docstrings of `planner/formulas/`, where each stands with its code. A value out of
range is refused by name. "From memory" means that the source was not at hand when the formula was
written down; the tests hold it against what they name.
"""


def keys_markdown() -> str:
    """docs/keys.md."""
    parts = [_KEYS_HEAD]
    for title, schema in (("The job file", job_schema()), ("The machine file", machine_schema())):
        parts.append(f"## {title}\n\n{_table(schema, schema)}")
        parts += [
            f"### {title.split()[1]}: {_shown_name(name)}\n\n{_about(one)}{_table(one, schema)}"
            for name, one in schema.get("$defs", {}).items()
            if one.get("properties")
        ]
    return "\n".join(parts)


def _shown_name(name: str) -> str:
    """``StraightEdge`` as words."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower()


def _about(one: dict[str, Any]) -> str:
    return f"{_in_a_cell(one['description'])}\n\n" if one.get("description") else ""


def _table(one: dict[str, Any], schema: dict[str, Any]) -> str:
    needed = set(one.get("required", ()))
    rows = ["| key | default | what it is |", "| --- | --- | --- |"]
    for key, value in one.get("properties", {}).items():
        default = value.get("default")
        shown = "needed" if key in needed else "" if default is None else f"`{default}`"
        rows.append(f"| `{key}` | {shown} | {_in_a_cell(_what(value, schema))} |")
    return "\n".join(rows) + "\n"


def _what(value: dict[str, Any], schema: dict[str, Any]) -> str:
    words = [str(value["description"])] if value.get("description") else []
    kinds = list(dict.fromkeys(_kinds(value)))
    if kinds:
        words.append(f"Map: {' or '.join(kinds)}.")
    choices = value.get("enum", [value["const"]] if "const" in value else [])
    if choices:
        words.append("One of " + ", ".join(f"`{c}`" for c in choices) + ".")
    return " ".join(words) or str(value.get("type", ""))


def _kinds(value: Any) -> Iterator[str]:
    """The maps that a value may be, by name."""
    if isinstance(value, dict):
        if "$ref" in value:
            yield _shown_name(value["$ref"].rpartition("/")[2])
        for key, inner in value.items():
            if key != "discriminator":
                yield from _kinds(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _kinds(inner)


def _in_a_cell(text: str) -> str:
    return " ".join(text.replace("``", "`").replace("|", "\\|").split())


def formulas_markdown() -> str:
    """docs/formulas.md."""
    parts = [_FORMULAS_HEAD]
    for found in pkgutil.iter_modules(planner.formulas.__path__):
        module = importlib.import_module(f"planner.formulas.{found.name}")
        rows = [_formula(name, each) for name, each in _public(module)]
        if rows:
            head = inspect.cleandoc(module.__doc__ or "").split("\n\n")[0]
            parts.append(f"## {found.name}\n\n{_in_a_cell(head)}\n\n" + "\n".join(rows))
    return "\n".join(parts)


def _public(module: ModuleType) -> Iterator[tuple[str, Any]]:
    """Functions and classes of a module, methods too, that tell a formula, in its order."""
    for name, each in vars(module).items():
        if name.startswith("_") or getattr(each, "__module__", None) != module.__name__:
            continue
        if inspect.isclass(each):
            yield name, each
            for inner, method in vars(each).items():
                if inspect.isfunction(method) and not inner.startswith("_"):
                    yield f"{name}.{inner}", method
        elif inspect.isfunction(each):
            yield name, each


def _formula(name: str, each: Any) -> str:
    text = inspect.cleandoc(each.__doc__ or "")
    paragraphs = text.split("\n\n")
    lines = [f"### `{name}`\n", _in_a_cell(paragraphs[0]) + "\n"]
    lines += [f"```math\n{math}\n```\n" for math in _math(text)]
    for label in ("Range", "Source"):
        told = re.search(
            rf"\b{label}: (.+?)(?=\n\n|\b(?:Range|Source|Shape|Raises): |\Z)", text, re.S
        )
        if told:
            lines.append(f"{label}: {_in_a_cell(told[1]).rstrip(' .')}.\n")
    return "\n".join(lines)


def _math(text: str) -> Iterator[str]:
    """The formulas of a docstring, one after another."""
    for block in re.finditer(r"^\.\. math::([^\n]*)((?:\n+    [^\n]+)*)", text, re.M):
        yield " ".join((block[1] + block[2]).split())


def main(folder: Path) -> None:
    """Write both documents."""
    (folder / "keys.md").write_text(keys_markdown(), encoding="utf-8")
    (folder / "formulas.md").write_text(formulas_markdown(), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
