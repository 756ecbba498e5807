"""The packaged tables of ``planner/inputs/data``: steels, colours, abrasives, limits.

A table is read when it is first asked for, and once.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any, Literal, get_args

TableName = Literal[
    "abrasives",
    "film_coefficients",
    "safety_limits",
    "steels",
    "temper_colours",
    "wheel_speed_classes",
]
TABLE_NAMES: tuple[str, ...] = get_args(TableName)


@cache
def load_table(name: TableName) -> dict[str, Any]:
    """One packaged table, as plain mappings, lists, numbers and words.

    Shape: as the head comment of the table's own file says; units are in the keys. All callers
    share one mapping: read it, never change it.
    Raises: ValueError for a name that is not in ``TABLE_NAMES``.
    Source: each figure's is beside it in the file; the works are listed in docs/sources.md.

    >>> load_table("wheel_speed_classes")["stripes"]["blue"]["speed_m_s"]
    50
    """
    if name not in TABLE_NAMES:
        raise ValueError(f"table {name!r} is not one of {', '.join(TABLE_NAMES)}")
    import yaml  # noqa: PLC0415  # start-up stays light for commands that read no table

    # The loader in C is ten times quicker; a build of PyYAML without it still works.
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    text = files("planner.inputs").joinpath("data", f"{name}.yaml").read_text(encoding="utf-8")
    table: dict[str, Any] = yaml.load(text, Loader=loader)
    return table
