"""What a refused file still says: where pydantic's errors stand, and the checks between keys.

Pydantic names an error by its ``loc``, which holds the keys of the file but also the tags of
unions; and it skips the checks between the keys of a map that has any other error. The survey
walks the models and the tree together. It notes the place of each ``loc``, and runs each check
on a map that is filled as far as it is valid; a check that needs a value which is not valid
says nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from types import UnionType
from typing import Annotated, Any, NamedTuple, NoReturn, Union, get_args, get_origin

from pydantic import Discriminator, Tag, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails, PydanticCustomError

from planner.inputs.fields import FileModel, Written, bounds_in_words, keys_of
from planner.inputs.yaml_nodes import Keys, Mark, Node, NodeList, NodeMap, Scalar, path_of


class UnknownValueError(Exception):
    """A check asked for a value that is not valid, and so cannot tell."""


def _refuse(*_: object) -> NoReturn:
    raise UnknownValueError


class _Unknown:
    """Stands for a value that is given but not valid: it is not None, and nothing else."""

    def __getattr__(self, name: str) -> NoReturn:
        # What Python asks of any object, such as __wrapped__, is simply not there.
        raise AttributeError(name) if name.startswith("__") else UnknownValueError

    __eq__ = __ne__ = __lt__ = __le__ = __gt__ = __ge__ = _refuse
    __bool__ = __hash__ = __len__ = __iter__ = __contains__ = __getitem__ = _refuse
    __format__ = __str__ = __float__ = __int__ = __index__ = _refuse
    __neg__ = __abs__ = __add__ = __sub__ = __mul__ = __truediv__ = __pow__ = _refuse
    __radd__ = __rsub__ = __rmul__ = __rtruediv__ = __rpow__ = _refuse


UNKNOWN: Any = _Unknown()


@dataclass(frozen=True)
class Place:
    """Where something stands: keys from the root, node, key's mark, and its declared type."""

    keys: Keys
    node: Node
    key_mark: Mark
    declared: Any
    """A type or an ``Annotated`` type."""

    @property
    def mark(self) -> Mark:
        """Where to point: at a scalar itself, at the key of anything larger or empty."""
        if isinstance(self.node, Scalar) and self.node.kind != "null":
            return self.node.mark
        return self.key_mark

    @property
    def path(self) -> str:
        """The key path for a message."""
        return path_of(self.keys)

    def below(self, key: str | int) -> Place | None:
        """Return the place of an entry of a map or list; None when there is none."""
        declared = _entry_type(self.declared, key)
        if isinstance(self.node, NodeMap) and isinstance(key, str) and key in self.node:
            key_mark = self.node.key_marks[key]
            return Place((*self.keys, key), self.node[key], key_mark, declared)
        if isinstance(self.node, NodeList) and isinstance(key, int) and key < len(self.node):
            node = self.node[key]
            return Place((*self.keys, key), node, node.mark, declared)
        return None

    def deepest(self, keys: Iterable[str | int]) -> Place:
        """Follow ``keys`` as far as the file has them."""
        place = self
        for key in keys:
            next_place = place.below(key)
            if next_place is None:
                break
            place = next_place
        return place


class Traits(NamedTuple):
    """What a declared type says: itself without annotations, how written, bounds in words."""

    base: Any
    written: Written | None
    bounds: str


def traits_of(declared: Any) -> Traits:
    """Return how a value of a declared type is written, and within which bounds."""
    base, notes = _unwrap(declared)
    written = next((n for n in notes if isinstance(n, Written)), getattr(base, "written", None))

    def limit(name: str) -> float | None:
        return next((getattr(n, name) for n in notes if hasattr(n, name)), None)

    unit = written.unit if written else ""
    bounds = bounds_in_words(limit("gt"), limit("ge"), limit("lt"), limit("le"), unit)
    return Traits(base, written, bounds)


def notes_of(declared: Any) -> list[Any]:
    """Return what stands beside a declared type in its ``Annotated``."""
    return _unwrap(declared)[1]


def model_of(place: Place) -> type[FileModel] | None:
    """Return the model that the map at a place is declared, or chooses, to be."""
    base, notes = _unwrap(place.declared)
    if _is_model(base):
        return base  # type: ignore[no-any-return]
    _, branch = _branch(base, notes, place.node)
    return _unwrap(branch)[0] if branch is not None and _is_model(_unwrap(branch)[0]) else None


@dataclass(frozen=True)
class Survey:
    """The places by pydantic's ``loc``, and the faults of the checks between keys."""

    places: Mapping[Keys, Place]
    faults: tuple[tuple[Place, dict[str, str]], ...]
    """Place of the map that was checked, and the context of its ``rule_fault``."""
    meant: Mapping[int, dict[str, str]]
    """By the ``id`` of a map: for each unknown key, the key that it was probably meant to be."""

    def place(self, loc: Keys) -> Place:
        """Return the place of a ``loc``, or of as much of it as the file has."""
        known = len(loc)
        while loc[:known] not in self.places:
            known -= 1
        return self.places[loc[:known]].deepest(loc[known:])


def survey(model: type[FileModel], root: Node, errors: Iterable[ErrorDetails]) -> Survey:
    """Walk ``root`` as a ``model`` that pydantic refused with ``errors``."""
    walk = _Walk({error["loc"] for error in errors})
    walk.value((), Place((), root, root.mark, model))
    return Survey(walk.places, tuple(walk.faults), walk.meant)


_MOST_GUESSES = 50
"""A map with more unknown keys than this is no slip of typing, and guesses take time."""


def _meant_keys(model: type[FileModel], node: NodeMap) -> dict[str, str]:
    """Guess what the unknown keys of a map were meant to be.

    Python's field name counts as near its key (``length_mm``), and so does a key that ran into
    its value (``length:80 mm``).
    """
    keys = keys_of(model)
    names = zip(model.model_fields, keys, strict=True)
    known = {**dict(names), **{key: key for key in keys}}
    found = {}
    unknown = [key for key in node if key not in keys]
    for key in unknown[:_MOST_GUESSES]:
        close = get_close_matches(key.partition(":")[0], known, n=1)
        if close:
            found[key] = known[close[0]]
    return found


class _Walk:
    def __init__(self, bad: set[Keys]) -> None:
        self.above_bad = {loc[:n] for loc in bad for n in range(len(loc) + 1)}
        self.meant: dict[int, dict[str, str]] = {}
        self.places: dict[Keys, Place] = {}
        self.faults: list[tuple[Place, dict[str, str]]] = []

    def value(self, loc: Keys, place: Place) -> Any:
        """Note the places at and under a value; return it as far as it is valid."""
        self.places[loc] = place
        base, notes = _unwrap(place.declared)
        node = place.node
        if _is_model(base):
            return self._model(base, loc, place)
        tag, branch = _branch(base, notes, node)
        if branch is not None:
            return self.value((*loc, tag), Place(place.keys, node, place.key_mark, branch))
        entries = {
            key: self.value((*loc, key), below)
            for key in _entry_keys(base, node)
            if (below := place.below(key)) is not None
        }
        if get_origin(base) is dict and isinstance(node, NodeMap):
            return UNKNOWN if node.repeated or node.incomplete else entries
        if get_origin(base) is list and isinstance(node, NodeList):
            return list(entries.values())
        return UNKNOWN

    def _model(self, model: type[FileModel], loc: Keys, place: Place) -> Any:
        node = place.node
        if not isinstance(node, NodeMap):
            return UNKNOWN
        guesses = self.meant[id(node)] = _meant_keys(model, node)
        meant = set(guesses.values())
        partial = model.model_construct()
        for name, (key, field) in zip(model.model_fields, keys_of(model).items(), strict=True):
            below = place.below(key)
            value: Any = UNKNOWN
            if below is not None:
                value = self._field(model, name, (*loc, key), below)
                if key in node.repeated:
                    value = UNKNOWN
            elif not (field.is_required() or node.incomplete or key in meant):
                value = field.get_default(call_default_factory=True)
            partial.__dict__[name] = value
        self._check(model, partial, place)
        return partial

    def _field(self, model: type[FileModel], name: str, loc: Keys, place: Place) -> Any:
        if _holds_models(place.declared):
            return self.value(loc, place)
        self.places[loc] = place
        if loc in self.above_bad:
            return UNKNOWN
        return _adapter(model, name).validate_python(place.node)

    def _check(self, model: type[FileModel], partial: FileModel, place: Place) -> None:
        for check in _checks(model):
            try:
                check(partial)
            except UnknownValueError:
                continue
            except PydanticCustomError as fault:
                self.faults.append((place, dict(fault.context or {})))
            except ValidationError as several:
                self.faults += [(place, dict(error["ctx"])) for error in several.errors()]


@cache
def _adapter(model: type[FileModel], name: str) -> TypeAdapter[Any]:
    return TypeAdapter(model.model_fields[name].rebuild_annotation())


@cache
def _checks(model: type[FileModel]) -> tuple[Any, ...]:
    decorators = model.__pydantic_decorators__.model_validators.values()
    return tuple(d.func for d in decorators if d.info.mode == "after")


# --- reading the declared types ---------------------------------------------------------------


def _unwrap(declared: Any) -> tuple[Any, list[Any]]:
    """Take ``Annotated`` and ``| None`` off a type; return it with its annotations."""
    notes: list[Any] = []
    while True:
        if get_origin(declared) is Annotated:
            declared, *more = get_args(declared)
            for note in more:
                notes.append(note)
                notes += note.metadata if isinstance(note, FieldInfo) else []
            continue
        choices = [a for a in get_args(declared) if a is not type(None)]
        if get_origin(declared) in (Union, UnionType) and len(choices) == 1:
            declared = choices[0]
            continue
        return declared, notes


def _is_model(base: Any) -> bool:
    return isinstance(base, type) and issubclass(base, FileModel)


def _holds_models(declared: Any) -> bool:
    base, _ = _unwrap(declared)
    return _is_model(base) or any(_holds_models(a) for a in get_args(base) if a is not Ellipsis)


def _discriminator(base: Any, notes: list[Any]) -> Any:
    """Return the key, or the function, that tells the branches of a union apart."""
    if get_origin(base) not in (Union, UnionType):
        return None
    key = next((n.discriminator for n in notes if getattr(n, "discriminator", None)), None)
    return key.discriminator if isinstance(key, Discriminator) else key


def _branches(base: Any, key: Any) -> dict[str, Any]:
    """Return each branch of a tagged union by its tags."""
    branches = {}
    for choice in get_args(base):
        model, notes = _unwrap(choice)
        if callable(key):
            tags = [note.tag for note in notes if isinstance(note, Tag)]
        else:
            tags = list(get_args(keys_of(model)[key].annotation))
        branches.update(dict.fromkeys(tags, choice))
    return branches


def tags_of(declared: Any) -> list[str]:
    """Return the words that tell the branches of a tagged union apart."""
    base, notes = _unwrap(declared)
    return list(_branches(base, _discriminator(base, notes)))


def _branch(base: Any, notes: list[Any], node: Node) -> tuple[str, Any]:
    """Return tag and type of the branch that ``node`` chooses; the type is None for none."""
    key = _discriminator(base, notes)
    if key is None:
        return "", None
    chosen = key(node) if callable(key) else node.get(key) if isinstance(node, NodeMap) else ""
    tag = str(chosen) if isinstance(chosen, str) else ""
    return tag, _branches(base, key).get(tag)


def _entry_type(declared: Any, key: str | int) -> Any:
    """Return the declared type of an entry of a map, list or pair; Any when it has none."""
    base, _ = _unwrap(declared)
    arguments = get_args(base)
    if _is_model(base):
        field = keys_of(base).get(str(key))
        if field is None:
            return Any
        declared = field.rebuild_annotation()
        # Pydantic keeps what tells the branches of a union apart beside the annotation.
        return Annotated[declared, field] if field.discriminator else declared
    if get_origin(base) is dict:
        return arguments[1]
    if get_origin(base) is list:
        return arguments[0]
    if get_origin(base) is tuple and isinstance(key, int) and key < len(arguments):
        return arguments[key]
    return Any


def _entry_keys(base: Any, node: Node) -> Iterable[str | int]:
    if get_origin(base) is dict and isinstance(node, NodeMap):
        return list(node)
    if get_origin(base) is list and isinstance(node, NodeList):
        return range(len(node))
    return ()
