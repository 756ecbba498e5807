"""A paper as Markdown, for those who read it in a terminal; pictures stay out."""

from __future__ import annotations

from itertools import zip_longest

from planner.report.papers.model import (
    Bullets,
    Facts,
    Heading,
    Paper,
    Part,
    Signatures,
    Steps,
    Table,
    Text,
    Warnings,
)


def markdown(paper: Paper) -> str:
    """The whole paper; literal parts keep their backticks, so that they cannot become markup."""
    lines = [f"# {paper.title}", ""]
    shown = [part for part in paper.parts if _lines(part)]
    for part, after in zip_longest(shown, shown[1:]):
        # A heading whose part is a picture alone would stand over nothing.
        if not (isinstance(part, Heading) and (after is None or isinstance(after, Heading))):
            lines += _lines(part)
    return "\n".join(lines) + "\n"


def _lines(part: Part) -> list[str]:
    lines: list[str] = []
    match part:
        case Heading():
            lines = [f"## {part.text}"]
        case Text():
            lines = [part.text]
        case Facts():
            lines = [f"- {name}: {value}" for name, value in part.rows]
        case Bullets():
            lines = [f"- {item}" for item in part.items]
        case Steps():
            lines = [f"{number}. {item}" for number, item in enumerate(part.items, 1)]
        case Table():
            lines = [_row(part.header), _row(("---",) * len(part.header)), *map(_row, part.rows)]
        case Warnings():
            lines = [f"- **{c.level}** ({c.topic}): {c.text} [{c.basis}]" for c in part.items]
        case Signatures():
            lines = ["  ".join(f"{label}: ______________" for label in part.labels)]
    return [*lines, ""] if lines else []


def _row(cells: tuple[str, ...]) -> str:
    return f"| {' | '.join(cells)} |".replace("|  |", "| |").replace("|  |", "| |")
