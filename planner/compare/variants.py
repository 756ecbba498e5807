"""Each variant of a job read, planned, and put beside the others."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from planner.compare.figures import (
    Figure,
    fit_figures,
    plan_figures,
    relief_figures,
    sort_value,
)
from planner.errors import InputError, Problem, Refusal, RefusedError
from planner.inputs.load import LoadedJob, LoadedMachine, load_pair
from planner.inputs.steels import steel_of
from planner.inputs.variations import Variant, Variation
from planner.plan import plan_job, section_fit


@dataclass(frozen=True)
class Outcome:
    """What came of one variant: its figures, or why there are none."""

    variant: Variant
    figures: Mapping[str, Figure] | None = None
    reliefs: Sequence[Mapping[str, Figure]] = ()
    refused: tuple[Refusal, ...] = ()
    problems: tuple[Problem, ...] = ()


MOST_LISTED = 6
"""Values that a message lists before it counts the rest."""

_PLAIN_NAME = re.compile(r"[A-Za-z][A-Za-z0-9 _+-]*[A-Za-z0-9]")
_NO_TEXT = ("yes", "no", "on", "off", "true", "false", "null")
"""Words that YAML readers take for something else than words."""

Pair = tuple[LoadedJob, LoadedMachine]
Reader = Callable[[Variant], Pair]


def reader_of(job: Path, machine: Path | None, overrides: Sequence[str]) -> Reader:
    """How a variant's two files are read: with what is set for all, then with its own values."""
    return lambda variant: load_pair(job, machine, overrides, variant.texts)


def planned(variant: Variant, read: Reader) -> Outcome:
    """One variant planned in full."""

    def plan(job: LoadedJob, machine: LoadedMachine) -> Outcome:
        made = plan_job(job, machine, steel_of(job.model.steel))
        return Outcome(variant, plan_figures(made), relief_figures(made.section))

    return _tried(variant, read, plan)


def fitted(variant: Variant, read: Reader) -> Outcome:
    """One variant's section, without its passes."""

    def fit(job: LoadedJob, machine: LoadedMachine) -> Outcome:
        found = section_fit(job.model, machine.model)
        return Outcome(variant, fit_figures(found), relief_figures(found.section))

    return _tried(variant, read, fit)


def _tried(
    variant: Variant, read: Reader, work: Callable[[LoadedJob, LoadedMachine], Outcome]
) -> Outcome:
    try:
        return work(*read(variant))
    except InputError as error:
        return Outcome(variant, problems=error.problems)
    except RefusedError as error:
        return Outcome(variant, refused=error.refusals)


def problems_of(outcomes: Iterable[Outcome]) -> list[Problem]:
    """Every problem of the variants once, with the values that it is of."""
    alike: dict[Problem, list[Problem]] = {}
    for problem in dict.fromkeys(p for o in outcomes for p in o.problems):
        same = replace(problem, given="", mend="", excerpt="")
        alike.setdefault(same, []).append(problem)
    return [_joined(same) for same in alike.values()]


def _joined(same: Sequence[Problem]) -> Problem:
    """Several that differ in the value alone as one."""
    if len(same) == 1:
        return same[0]
    key, *_ = same[0].excerpt.partition("=")
    values = (p.excerpt.partition("=")[2] for p in same)
    return replace(
        same[0],
        given=_listed((p.given for p in same), "; "),
        mend=_listed((p.mend for p in same), "; "),
        excerpt=f"{key}={_listed(values, ', ')}",
    )


def _listed(texts: Iterable[str], between: str) -> str:
    """Each once, the first few of many."""
    found = list(dict.fromkeys(texts))
    more = len(found) - MOST_LISTED
    return between.join(found[:MOST_LISTED]) + (f"{between}and {more} more" if more > 0 else "")


def each_planned(variants: Iterable[Variant], read: Reader) -> Iterator[Outcome]:
    """Every variant planned in full, in order."""
    return (planned(variant, read) for variant in variants)


def wheels_varied(
    names: Sequence[str] | None, read: Reader, variations: Sequence[Variation]
) -> Variation:
    """The wheels of the rack as a key that varies: those named, or all.

    Raises: InputError where the files cannot be read, neither as they are nor with the first value
    of every other key.
    """
    try:
        job, machine = read(Variant(()))
    except InputError:
        job, machine = read(Variant(tuple((v.key, v.values[0]) for v in variations)))
    if names is None:
        names = [wheel.name for wheel in machine.model.rack]
    at = next(
        (n for n, o in enumerate(job.model.operations or ()) if o.do == "relief" and o.wheel), None
    )
    key = "wheel" if at is None else f"operations[{at}].wheel"
    # A name is text whatever it looks like, so it is quoted where YAML would take it otherwise.
    return Variation(key, tuple(_as_text(name) for name in names))


def _as_text(name: str) -> str:
    plain = _PLAIN_NAME.fullmatch(name) is not None and name.lower() not in _NO_TEXT
    return name if plain else f'"{name}"'


class UnknownFigureError(ValueError):
    """A table is to be sorted by something that it does not have."""


def in_order(
    outcomes: Iterable[Outcome], variations: Sequence[Variation], order: Sequence[str]
) -> list[Outcome]:
    """Outcomes sorted by figures or varied keys, the first counting most; refused ones last.

    A name with ``-`` before it sorts from the largest down. Without names the order stays.
    Raises: UnknownFigureError.
    """
    found = list(outcomes)
    places = {v.key: {value: n for n, value in enumerate(v.values)} for v in variations}
    for name in reversed(order):
        key = name.removeprefix("-")
        down = name.startswith("-")
        if key in places:
            found.sort(key=lambda o, k=key: places[k][dict(o.variant.values)[k]], reverse=down)  # type: ignore[misc]
        else:
            found.sort(key=lambda o, k=key: sort_value(o.figures or {}, k), reverse=down)  # type: ignore[misc]
    found.sort(key=lambda o: o.figures is None)
    return found


def check_order(
    order: Sequence[str], variations: Sequence[Variation], figures: Sequence[str]
) -> None:
    """Can the table be sorted by these?

    Raises: UnknownFigureError naming the first that is not there.
    """
    known = {*figures, *(v.key for v in variations)}
    for name in order:
        if name.removeprefix("-") not in known:
            raise UnknownFigureError(name.removeprefix("-"))
