"""Holds every line against the table of its dialect: the last gate before there is a program."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from planner.gcode.comments import LONGEST_LINE
from planner.gcode.dialects import Dialect

_COMMENT = re.compile(r"\([a-z]+ [A-Za-z0-9 .,:=_+\-]*\)")
_BLOCK = re.compile(r"[A-Z]-?[0-9]+(?:\.[0-9]+)?(?: [A-Z]-?[0-9]+(?:\.[0-9]+)?)*")
_WORD = re.compile(r"([A-Z])((-?)[0-9]+\.?([0-9]*))")
_INSIDE_COMMENTS = re.compile(r"\([^)]*\)")


class NotInDialectError(ValueError):
    """A line that the controller cannot be told."""


def check_lines(lines: Iterable[str], dialect: Dialect) -> None:
    """Let only lines pass that stand in the table, one comment or one block of plain words each.

    Raises: NotInDialectError naming the line and what is not allowed.
    """
    passed: set[str] = set()
    for line in lines:
        if line in passed:
            continue
        if len(line) > LONGEST_LINE or _counted(line, dialect) > dialect.longest_line:
            raise NotInDialectError(f"line too long or not ASCII: {line!r}")
        if _BLOCK.fullmatch(line):
            _check_block(line, dialect)
        elif not _COMMENT.fullmatch(line):
            raise NotInDialectError(f"neither a comment nor a block: {line!r}")
        passed.add(line)


def _counted(line: str, dialect: Dialect) -> int:
    if dialect.counted == "every character":
        return len(line)
    return len(_INSIDE_COMMENTS.sub("", line).replace(" ", ""))


def _check_block(line: str, dialect: Dialect) -> None:
    moving = 0
    letters: set[str] = set()
    for letter, number, minus, decimals in _WORD.findall(line):
        if letter in "GM":
            code = letter + number
            if code not in dialect.codes:
                raise NotInDialectError(f"{code} is not told to {dialect.name}: {line!r}")
            moving += code in (dialect.rapid, dialect.feed)
            continue
        if letter not in dialect.axis_letters and letter not in dialect.value_letters:
            raise NotInDialectError(f"no {letter} word is told to {dialect.name}: {line!r}")
        if letter in letters:
            raise NotInDialectError(f"{letter} twice: {line!r}")
        letters.add(letter)
        value = float(number)
        if minus and value == 0.0:
            raise NotInDialectError(f"zero with a minus: {line!r}")
        if not _is_held(value, len(decimals), dialect.significand_bits):
            raise NotInDialectError(f"{letter}{number} has digits that are lost: {line!r}")
    axes = letters & dialect.axis_letters
    if moving > 1 or (moving == 1) != bool(axes):
        raise NotInDialectError(f"not one motion: {line!r}")


def _is_held(value: float, decimals: int, significand_bits: int) -> bool:
    """Whether numbers of so many bits stand no further apart here than the last decimal."""
    exponent = math.frexp(value)[1]
    return math.ldexp(1.0, exponent - significand_bits) <= 10.0**-decimals * (1 + 1e-9)
