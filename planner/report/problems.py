"""Problems of input files as plain text, each starting with ``file:line:column``."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Iterator

from planner.errors import Problem

_NARROWEST = 30
_INDENT = "    "
_LABEL_WIDTH = 10
_TOKEN = re.compile(
    r'"(?:[^"\\]|\\.)*"?' r"|'(?:[^']|'')*'?" r"|[^\s,\[\]{}:#](?:[^,\[\]{}:#]|:(?=\S)|(?<=\S)#)*"
)


def problem_lines(problems: Iterable[Problem], width: int = 100) -> str:
    """Return the text of all problems and a last line that counts them.

    Lines are at most ``width`` wide (30 at least), but for a path or a word that cannot be
    broken. The text holds no colour codes and no control characters but line feeds.
    """
    width = max(width, _NARROWEST)
    every = list(problems)
    lines = [line for problem in every for line in _one(problem, width)]
    count = "1 error" if len(every) == 1 else f"{len(every)} errors"
    return "\n".join([*lines, f"{count}. Nothing was written.", ""])


def _one(problem: Problem, width: int) -> Iterator[str]:
    place = problem.file
    if problem.line:
        place = f"{place}:{problem.line}:{problem.column}"
    head = f"{_harmless(place)}: error [{problem.rule}]"
    if len(head) > width:
        yield f"{_harmless(place)}:"
        head = f"{_INDENT}error [{problem.rule}]"
    key_path = _harmless(problem.key_path)
    if len(head) + 1 + len(key_path) > width and key_path:
        yield head
        yield f"{_INDENT}{key_path}"
    else:
        yield f"{head} {key_path}".rstrip()
    if problem.excerpt.strip():
        yield from _excerpt(problem, width)
    yield from _labelled("given", problem.given, width)
    if problem.also_line not in (0, problem.line):
        yield from _labelled("see also", f"line {problem.also_line}", width)
    yield from _labelled("allowed", problem.allowed, width)
    yield from _labelled("to mend", problem.mend, width)


def _labelled(label: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        _harmless(text),
        width,
        initial_indent=f"{_INDENT}{label:<{_LABEL_WIDTH}}",
        subsequent_indent=_INDENT + " " * _LABEL_WIDTH,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _excerpt(problem: Problem, width: int) -> Iterator[str]:
    """Yield the line of the file, cut to the width about the column, and carets under it."""
    line = "".join(c if c.isprintable() else " " if c == "\t" else "\N{REPLACEMENT CHARACTER}"
                   for c in problem.excerpt)  # fmt: skip
    start = min(max(problem.column - 1, 0), len(line))
    token = _TOKEN.match(line, start)
    carets = max(len(token[0].rstrip()) if token else 1, 1)
    gutter = f"{_INDENT}{problem.line} | "
    room = width - len(gutter)
    first = 0
    if len(line) > room:
        first = min(max(start - room // 3, 0), len(line) - room)
        carets = max(min(carets, room - (start - first)), 1)
        cut = line[first : first + room]
        line = (
            f"{'…' if first else cut[0]}{cut[1:-1]}{'…' if first + room < len(line) else cut[-1]}"
        )
    yield f"{gutter}{line}".rstrip()
    before = sum(_columns(c) for c in line[: start - first])
    under = sum(_columns(c) for c in line[start - first : start - first + carets]) or 1
    yield f"{' ' * (len(gutter) - 2)}| {' ' * before}{'^' * under}"


def _columns(character: str) -> int:
    """Return how many columns of a terminal a character takes."""
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def _harmless(text: str) -> str:
    """Write what a terminal might act on as its escape."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
