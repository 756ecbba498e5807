"""``--vary key.path=values``: the values that one key takes in turn.

Each value becomes the text of an override, so it is read, bounded and reported as one.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from planner.errors import InputError, Problem
from planner.inputs.quantities import FRACTION_PATTERN, NUMBER_PATTERN, parse_number
from planner.inputs.yaml_nodes import Mark, Source, shown

SOURCE_NAME = "--vary"
MOST_VARIANTS = 1_000_000
_NUMBER = rf"(?P<number>{FRACTION_PATTERN}|{NUMBER_PATTERN})"
_SIZE = re.compile(rf" *{_NUMBER} *(?P<unit>[^\s0-9.,:;/+-][^,:]*)? *")
_KEY = re.compile(r"[^.\[\]\s=]+(?:\.[^.\[\]\s=]+|\[[0-9]+\])*")
_PAIRS = {"[": "]", "{": "}", "(": ")"}


@dataclass(frozen=True)
class Variation:
    """One key and the values it takes, as they would stand in the file."""

    key: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class Variant:
    """One value for each key that is varied, in the keys' order."""

    values: tuple[tuple[str, str], ...]

    @property
    def texts(self) -> tuple[str, ...]:
        """As ``key.path=value``, one for each ``--vary``."""
        return tuple(f"{key}={value}" for key, value in self.values)


class _FormError(ValueError):
    """What is wrong with the values of a key, and how to mend it."""


def read_variations(texts: Iterable[str], most: int = MOST_VARIANTS) -> list[Variation]:
    """Read the texts of all ``--vary``, and count what they come to.

    ``relief.edge_land=0.8,1.0,1.2 mm`` lists values, ``wheel.diameter=40:200:20 mm`` counts from 40
    up to 200 by 20; a unit after the last number holds for those that have none.
    Raises: InputError with every problem, the number of the ``--vary`` as its line.

    >>> read_variations(["wheel.diameter=40:80:20mm"])[0].values
    ('40 mm', '60 mm', '80 mm')
    """
    found: list[Variation] = []
    problems: list[Problem] = []
    for number, text in enumerate(texts, 1):
        mark = Mark(Source(SOURCE_NAME, (text,), first_line=number), number, 1)
        key, equals, values = text.partition("=")
        key = key.strip()
        try:
            if not equals or "\n" in text or "\r" in text or not _KEY.fullmatch(key):
                raise _FormError("write it like wheel.diameter=40:200:20 mm")
            if any(v.key == key for v in found):
                raise _FormError(f"{key} is varied already: put all its values into one --vary")
            found.append(Variation(key, _values(values, most)))
        except _FormError as fault:
            problems.append(
                mark.problem(
                    "vary-form",
                    given=shown(text),
                    allowed="key.path=first,second,… or key.path=from:to:step, a unit at the end",
                    mend=str(fault),
                    key_path=key if equals else "",
                )
            )
    count = math.prod(len(v.values) for v in found)
    if not problems and count > most:
        longest = max(found, key=lambda v: len(v.values))
        number = found.index(longest) + 1
        problems.append(
            Mark(Source(SOURCE_NAME, ()), number, 1).problem(
                "too-many-variants",
                given=f"{count} variants in all",
                allowed=f"at most {most}",
                mend=f"a larger step, or fewer values of {longest.key}",
                key_path=longest.key,
            )
        )
    if problems:
        raise InputError(problems)
    return found


def variants_of(variations: Iterable[Variation]) -> Iterator[Variant]:
    """Every combination, the last key's values changing fastest.

    >>> two = read_variations(["a=1,2", "b=3,4"])
    >>> [v.texts for v in variants_of(two)][1]
    ('a=1', 'b=4')
    """
    lists = [[(v.key, value) for value in v.values] for v in variations]
    return (Variant(values) for values in itertools.product(*lists))


def _values(text: str, most: int) -> tuple[str, ...]:
    items = _items(text)
    if len(items) == 1 and ":" in items[0]:
        sizes = [_SIZE.fullmatch(part) for part in items[0].split(":")]
        if len(sizes) == 3 and all(sizes):
            return _range([s for s in sizes if s], most)
    sizes = [_SIZE.fullmatch(item) for item in items]
    last = sizes[-1]
    if last is not None and last["unit"] is not None:
        unit = last["unit"].strip()
        items = [
            item if size is None else f"{size['number']} {(size['unit'] or unit).strip()}"
            for item, size in zip(items, sizes, strict=True)
        ]
    if len(set(items)) < len(items):
        raise _FormError("give each value once")
    return tuple(items)


def _items(text: str) -> list[str]:
    """Part a text at its commas, but for those in brackets or quotes."""
    items, open_until, start = [], "", 0
    for at, sign in enumerate(text):
        if open_until and sign == open_until[-1]:
            open_until = open_until[:-1]
        elif open_until[-1:] in ("'", '"'):
            continue
        elif sign in _PAIRS or sign in ("'", '"'):
            open_until += _PAIRS.get(sign, sign)
        elif sign == "," and not open_until:
            items.append(text[start:at])
            start = at + 1
    return [item.strip() for item in [*items, text[start:]]]


def _range(sizes: list[re.Match[str]], most: int) -> tuple[str, ...]:
    units = {s["unit"].strip() for s in sizes if s["unit"]}
    if len(units) > 1:
        raise _FormError(f"one unit for all three, not {' and '.join(sorted(units))}")
    try:
        first, last, step = (parse_number(s["number"]) for s in sizes)
    except ValueError:
        raise _FormError("numbers of at most 40 characters") from None
    if step <= 0:
        raise _FormError("a step above 0; the order of from and to gives the direction")
    count = abs(last - first) // step + 1
    if count > most:
        raise _FormError(f"a larger step: this one gives {count} values, {most} are allowed")
    toward = step if last >= first else -step
    unit = f" {units.pop()}" if units else ""
    return tuple(f"{_decimal(first + n * toward)}{unit}" for n in range(int(count)))


def _decimal(value: Fraction) -> str:
    """A number as it may stand in a file: a decimal where it ends, a fraction where not.

    >>> _decimal(Fraction("0.1") * 3), _decimal(Fraction(1, 3))
    ('0.3', '1/3')
    """
    places = 0
    while places < 30 and (value * 10**places).denominator != 1:
        places += 1
    whole = value * 10**places
    if whole.denominator != 1:
        return str(value)
    if places == 0:
        return str(whole)
    sign, digits = ("-" if whole < 0 else ""), str(abs(whole.numerator)).rjust(places + 1, "0")
    return f"{sign}{digits[:-places]}.{digits[-places:]}"
