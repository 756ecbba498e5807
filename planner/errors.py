"""Everything that can go wrong, as data. The words are made in ``planner.report``.

Three kinds, kept apart because their readers differ:

* ``Problem``: something in a file or on the command line is not valid (exit code 2).
* ``Refusal``: the inputs are valid, but the blade cannot be made safely or in tolerance (exit 1).
* ``Fault``: a program, read back, does not do what it must (exit 1).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

Fact = float | int | str
"""A number or a word that a message quotes; names of facts end in their unit."""


@dataclass(frozen=True, order=True)
class Problem:
    """One invalid thing in an input file. Lines and columns count from 1; 0 means none."""

    file: str
    line: int
    column: int
    rule: str
    key_path: str
    given: str
    allowed: str
    mend: str
    excerpt: str = ""
    """The line of the file itself, for the message; empty when there is none."""
    also_line: int = 0
    """The second line that takes part, when a fault lies between two keys; 0 when none."""


@dataclass(frozen=True)
class WayOut:
    """One thing the user may change so that a refused job becomes possible."""

    rule: str
    facts: Mapping[str, Fact] = field(default_factory=dict)


@dataclass(frozen=True)
class Refusal:
    """One reason why a valid job is not planned, with the numbers that say so."""

    rule: str
    facts: Mapping[str, Fact] = field(default_factory=dict)
    ways_out: tuple[WayOut, ...] = ()


@dataclass(frozen=True, order=True)
class Fault:
    """One thing wrong with a program; ``line`` counts from 1, 0 means the program as a whole."""

    line: int
    rule: str
    block: str = ""
    facts: Mapping[str, Fact] = field(default_factory=dict, compare=False)


class PlannerError(Exception):
    """Base of the errors that a command reports without a traceback."""


class InputError(PlannerError):
    """One or more ``Problem``; all of a file's problems come together, in line order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems))
        super().__init__("; ".join(f"{p.key_path}: {p.rule}" for p in self.problems))


class RefusedError(PlannerError):
    """One or more ``Refusal``; no program may be written."""

    def __init__(self, refusals: Iterable[Refusal]) -> None:
        # Two faces often meet the same wall: a reason is given once.
        unique: list[Refusal] = []
        for refusal in refusals:
            if refusal not in unique:
                unique.append(refusal)
        self.refusals = tuple(unique)
        super().__init__("; ".join(r.rule for r in self.refusals))
