"""The job and machine file that the tests of this folder spoil, one place at a time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.errors import InputError, Problem
from planner.inputs.load import load_job, load_machine

DATA = Path(__file__).parent / "data"
MARK = "▸"

Spoil = Callable[[str, str, str], tuple[list[Problem], list[tuple[int, int]]]]


@pytest.fixture(scope="session")
def texts() -> dict[str, str]:
    """The good files, by kind."""
    return {kind: (DATA / f"{kind}.yaml").read_text() for kind in ("job", "machine")}


@pytest.fixture
def problems_of(tmp_path: Path) -> Callable[[str, str | bytes], list[Problem]]:
    """Write a text to a file, load it as a kind, and return its problems."""

    def load(kind: str, text: str | bytes) -> list[Problem]:
        path = tmp_path / f"{kind}.yaml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        found: list[Problem] = []
        try:
            load_job(path) if kind == "job" else load_machine(path)
        except InputError as error:
            found = list(error.problems)
        assert {p.file for p in found} <= {str(path)}
        return found

    return load


@pytest.fixture
def spoil(
    texts: dict[str, str], problems_of: Callable[[str, str | bytes], list[Problem]]
) -> Callable[[str, str, str], tuple[list[Problem], list[tuple[int, int]]]]:
    """Replace one piece of a good file; return the problems and the marked places.

    Each ``▸`` in the new piece stands before the character that a problem must point at. The
    marks are counted here, by hand as it were, and taken out before the file is read.
    """

    def run(kind: str, old: str, new: str) -> tuple[list[Problem], list[tuple[int, int]]]:
        good = texts[kind]
        assert good.count(old) == 1, f"{old!r} must stand once in the {kind}"
        marked = good.replace(old, new)
        places = []
        for number, line in enumerate(marked.split("\n"), 1):
            for n in range(line.count(MARK)):
                places.append((number, _nth(line, n) - n + 1))
        return problems_of(kind, marked.replace(MARK, "")), places

    return run


def _nth(line: str, n: int) -> int:
    at = -1
    for _ in range(n + 1):
        at = line.index(MARK, at + 1)
    return at
