"""Pydantic's errors in a tree -> problems with rule, place, and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Literal, NamedTuple, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from planner.errors import Problem
from planner.inputs.fields import FileModel, PairOf, Written, in_words, keys_of
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.survey import (
    Place,
    Survey,
    model_of,
    notes_of,
    survey,
    tags_of,
    traits_of,
)
from planner.inputs.yaml_nodes import Keys, Node, NodeList, NodeMap, Scalar, path_of, shown, trap_of

_A_MAP = "a map, key: value"
_SHAPES = {
    "model_type": _A_MAP,
    "dict_type": _A_MAP,
    "list_type": "a list, - item or [a, b]",
    "tuple_type": "a list of two",
}
_BOUNDS = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")


def problems_in(model: type[FileModel], root: Node, refused: ValidationError) -> list[Problem]:
    """Return the problems of a tree that ``model`` refused, each once.

    Empty only where the reader of the tree has reported the cause already: an alias, say.
    """
    errors = refused.errors(include_url=False)
    found = survey(model, root, errors)
    return list(dict.fromkeys(_all(found, errors)))


def _all(found: Survey, errors: Iterable[ErrorDetails]) -> Iterator[Problem]:
    """Yield pydantic's own errors first: what they name needs no word from a check."""
    for error in errors:
        problem = _one(found, error)
        if problem:
            yield problem
    for place, context in found.faults:
        problem = _fault(place, context)
        if problem:
            yield problem


def _one(found: Survey, error: ErrorDetails) -> Problem | None:
    loc: Keys = error["loc"]
    kind = error["type"]
    context: Mapping[str, Any] = error.get("ctx", {})
    if kind == "missing":
        return _missing(found, found.place(loc[:-1]), loc[-1])
    if kind == "extra_forbidden":
        return _unknown_key(found, found.place(loc[:-1]), str(loc[-1]))
    if loc and loc[-1] == "[key]":
        return _unknown_entry(found.place(loc[:-1]), _choices(context["expected"]))
    place = found.place(loc)
    if kind == "rule_fault":
        # The survey has run the checks between keys again, on what is valid.
        return None if model_of(place) else _fault(place, context)
    if kind.startswith("union_tag"):
        return _tag(place, context["discriminator"].strip("'"))
    return _value(place, _words(place, error))


# --- keys -------------------------------------------------------------------------------------


def _unknown_key(found: Survey, place: Place, key: str) -> Problem:
    model = model_of(place)
    node = place.node
    assert model is not None
    assert isinstance(node, NodeMap)
    meant = found.meant[id(node)].get(key)
    if model is Job and key in keys_of(Machine):
        mend = f"it is a key of the machine file: machine.{key} with --set and --vary"
    elif meant is None:
        mend = "take the key out"
    elif meant in node:
        mend = f"take the key out: {meant} is given on line {node.key_marks[meant].line}"
    elif key.startswith(f"{meant}:"):
        mend = f"set a blank after the colon: {meant}: {shown(key[len(meant) + 1 :])}"
    else:
        mend = f"did you mean {meant}?"
    return node.key_marks[key].problem(
        "unknown-key",
        key_path=path_of((*place.keys, key)),
        given=shown(key),
        allowed=", ".join(keys_of(model)),
        mend=mend,
    )


def _unknown_entry(place: Place, allowed: list[str]) -> Problem:
    key = str(place.keys[-1])
    return place.key_mark.problem(
        "unknown-key",
        key_path=place.path,
        given=shown(key),
        allowed=", ".join(allowed),
        mend=_did_you_mean(key, allowed) or "give one of these names",
    )


def _missing(found: Survey, place: Place, key: str | int) -> Problem | None:
    node = place.node
    if isinstance(node, NodeList):
        return place.mark.problem(
            "wrong-count",
            key_path=place.path,
            given=f"{len(node)} of two values",
            allowed=f"two values, {_pair(place)}",
            mend="give both",
        )
    model = model_of(place)
    assert model is not None
    assert isinstance(node, NodeMap)
    if node.incomplete or key in found.meant[id(node)].values():
        return None
    key = str(key)
    allowed, example = _wanted(keys_of(model)[key].rebuild_annotation())
    return _absent(place, key, allowed, example)


def _tag(place: Place, key: str) -> Problem | None:
    """Report the key that says which kind of map it is: absent, or with a wrong word."""
    if not isinstance(place.node, NodeMap):
        return _value(place, _shape_words("model_type"))
    below = place.below(key)
    choices = tags_of(place.declared)
    if below is not None:
        return _value(below, _choice_words(below.node, choices))
    near = get_close_matches(key, place.node, n=1)
    if near:
        return place.node.key_marks[near[0]].problem(
            "unknown-key",
            key_path=path_of((*place.keys, near[0])),
            given=shown(near[0]),
            allowed=f"{key}: {', '.join(choices)}",
            mend=f"did you mean {key}?",
        )
    return None if place.node.incomplete else _absent(place, key, ", ".join(choices), "")


def _absent(place: Place, key: str, allowed: str, example: str) -> Problem:
    return place.mark.problem(
        "missing-key",
        key_path=path_of((*place.keys, key)),
        given="nothing",
        allowed=allowed,
        mend=f"add {key}: {example}".rstrip(),
    )


def _wanted(declared: Any) -> tuple[str, str]:
    """Return what a field takes, in words, and an example of it."""
    traits = traits_of(declared)
    if traits.written:
        bounds = f", {traits.bounds}" if traits.bounds else ""
        return f"{traits.written.allowed}{bounds}", traits.written.example
    base = traits.base
    if get_origin(base) is Literal:
        words = [str(word) for word in get_args(base)]
        return ", ".join(words), words[0] if len(words) == 1 else ""
    if isinstance(base, type) and issubclass(base, FileModel):
        return f"a map with {', '.join(keys_of(base))}", ""
    if get_origin(base) is list:
        return _SHAPES["list_type"], ""
    return (_A_MAP, "") if get_origin(base) is dict else ("a word, or a map", "")


# --- values -----------------------------------------------------------------------------------


class _Words(NamedTuple):
    rule: str
    given: str
    allowed: str
    mend: str


def _words(place: Place, error: ErrorDetails) -> _Words:
    """Find the words for an error of pydantic's own about one value."""
    kind = error["type"]
    context: Mapping[str, Any] = error.get("ctx", {})
    if kind in _BOUNDS:
        return _bound_words(place)
    if kind == "literal_error":
        return _choice_words(place.node, _choices(context["expected"]))
    if kind == "too_short":
        return _Words("wrong-count", "an empty list", "at least one item", "add an item")
    if kind == "too_long":
        given = f"{context['actual_length']} values"
        mend = "take out what is too much"
        return _Words("wrong-count", given, f"two values, {_pair(place)}", mend)
    words = _shape_words(kind)._replace(given=in_words(place.node))
    if kind == "tuple_type":
        words = words._replace(allowed=f"{words.allowed}, {_pair(place)}")
    return words


def _pair(place: Place) -> str:
    """What the two values of a pair are: the ends of a range, unless its type says otherwise."""
    pairs = (note for note in notes_of(place.declared) if isinstance(note, PairOf))
    return next((pair.words for pair in pairs), "[lower, higher]")


def _bound_words(place: Place) -> _Words:
    _, written, bounds = traits_of(place.declared)
    assert written is not None
    given = in_words(place.node)
    if written.unit and not given.endswith(written.unit):
        given = f"{given}, which is {written.read(place.node):.6g} {written.unit}"
    mend = f"the value must be {bounds}"
    return _Words("out-of-range", given, f"{written.allowed}, {bounds}", mend)


def _choice_words(node: Node, choices: list[str]) -> _Words:
    given = in_words(node)
    mend = _did_you_mean(given, choices) or "give one of these words"
    rule = "not-a-choice" if isinstance(node, Scalar) else "wrong-type"
    return _Words(rule, given, ", ".join(choices), mend)


def _shape_words(kind: str) -> _Words:
    allowed = _SHAPES.get(kind, "a value of another kind")
    mend = "write its keys and values" if allowed == _A_MAP else "write a list in brackets"
    return _Words("wrong-type", "", allowed, mend)


def _value(place: Place, words: _Words) -> Problem | None:
    node = place.node
    if isinstance(node, Scalar):
        if node.kind == "refused":
            return None
        words = _by_kind(node, words, traits_of(place.declared).written)
    words = words if words.given else words._replace(given=in_words(node))
    return place.mark.problem(key_path=place.path, **words._asdict())


def _by_kind(node: Scalar, words: _Words, written: Written | None) -> _Words:
    """Put what YAML itself makes of a plain scalar before what the field makes of it."""
    if node.kind == "null":
        mend = "give a value, or take the key out"
        return _Words("no-value", "a key without a value", words.allowed, mend)
    trap = trap_of(node) if node.kind == "trap" else None
    if trap is None:
        return words
    mend = words.mend
    if written and written.holds == "text":
        mend = f'write "{shown(node)}", in quotes'
    elif written and written.holds == trap.holds:
        mend = trap.mend
    given = f"{shown(node)}, which YAML readers may take as {trap.read_as}"
    return _Words(trap.rule, given, words.allowed, mend)


def _fault(place: Place, context: Mapping[str, Any]) -> Problem | None:
    """Place a ``rule_fault`` at the key it names, or as near above it as the file has it."""
    words = _Words(*(context[name] for name in _Words._fields))
    keys = _keys(context["key"])
    at = place.deepest(keys)
    if not keys and isinstance(at.node, Scalar):
        if at.node.kind == "refused":
            return None
        _, written, bounds = traits_of(at.declared)
        if bounds:
            words = words._replace(allowed=f"{words.allowed}, {bounds}")
        words = _by_kind(at.node, words, written)
    also_line = 0
    if context["other"]:
        other = place.deepest(_keys(context["other"])).mark
        if other.source == at.mark.source:
            also_line = other.line
    return at.mark.problem(
        key_path=path_of((*place.keys, *keys)), also_line=also_line, **words._asdict()
    )


def _keys(path: str) -> Keys:
    parts = re.findall(r"\[(\d+)\]|([^.\[\]]+)", path)
    return tuple(int(index) if index else key for index, key in parts)


def _choices(expected: str) -> list[str]:
    """Take pydantic's list of choices, ``'a', 'b' or 'c'``, apart."""
    return re.findall(r"'([^']*)'", expected)


def _did_you_mean(text: str, choices: list[str]) -> str:
    lowered = {choice.lower(): choice for choice in choices}
    close = get_close_matches(text.lower(), lowered, n=1)
    return f"did you mean {lowered[close[0]]}?" if close else ""
