"""Collects the faults of one program and hands them out in line order."""

from __future__ import annotations

from collections.abc import Sequence

from planner.errors import Fact, Fault
from planner.proof.rules import Rule

_LONGEST_EXCERPT = 100


def printable(text: str) -> str:
    """The text with every control or non-ASCII character escaped, cut to a bearable length."""
    shown = "".join(c if " " <= c <= "~" else f"\\x{ord(c):02x}" for c in text)
    return shown if len(shown) <= _LONGEST_EXCERPT else shown[: _LONGEST_EXCERPT - 3] + "..."


class FaultLog:
    """The faults found so far. A rule is recorded once a line: the first occurrence stands."""

    def __init__(self, lines: Sequence[str]) -> None:
        self._lines = lines
        self._faults: dict[tuple[int, Rule], Fault] = {}

    def add(self, line: int, rule: Rule, **facts: Fact) -> None:
        """Record a fault; ``line`` counts from 1, 0 is the program as a whole."""
        if (line, rule) not in self._faults:
            block = printable(self._lines[line - 1]) if 1 <= line <= len(self._lines) else ""
            self._faults[line, rule] = Fault(line, rule.value, block, facts)

    def in_line_order(self) -> tuple[Fault, ...]:
        """All the faults; those of one line in the order of their rules' names."""
        return tuple(sorted(self._faults.values()))
