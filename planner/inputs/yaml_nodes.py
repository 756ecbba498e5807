"""YAML text -> one tree of maps, lists and scalars, each knowing where it stands.

The tree is read from the parser's events, not from its values: a scalar stays the text that
was written (``1.2510`` keeps its zero, ``no`` stays a word) and carries its kind, so that no
reader's table of implicit types decides what a word of the shop means. What YAML offers beyond
plain maps, lists and scalars (anchors, merge keys, tags, further documents) is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import yaml

from planner.errors import Problem

try:
    from yaml import CSafeLoader as _Loader
except ImportError:  # PyYAML built without libyaml
    from yaml import SafeLoader as _Loader  # type: ignore[assignment]

MAX_BYTES = 64 * 1024
"""A machine with fifty wheels is about 15 kB."""
MAX_DEPTH = 16
"""The deepest key of our own files is at depth 4."""
_SHOWN = 60


@dataclass(frozen=True)
class Source:
    """A text being read: its name in messages, and its lines for the excerpts."""

    name: str
    lines: tuple[str, ...]
    first_line: int = 1


class Mark(NamedTuple):
    """A place in a source; line and column count from 1."""

    source: Source
    line: int
    column: int

    def problem(
        self,
        rule: str,
        *,
        given: str,
        allowed: str,
        mend: str,
        key_path: str = "",
        also_line: int = 0,
    ) -> Problem:
        """Return the Problem that stands at this mark, with the line as its excerpt."""
        index = self.line - self.source.first_line
        lines = self.source.lines
        return Problem(
            file=self.source.name,
            line=self.line,
            column=self.column,
            rule=rule,
            key_path=key_path,
            given=given,
            allowed=allowed,
            mend=mend,
            excerpt=lines[index] if 0 <= index < len(lines) else "",
            also_line=also_line,
        )


Keys = tuple[str | int, ...]
"""Keys of maps and indices of lists, from the root down."""


def path_of(keys: Keys) -> str:
    """Write keys as a path, indices in brackets.

    >>> path_of(("rack", 0, "name"))
    'rack[0].name'
    """
    text = ""
    for key in keys:
        text += f"[{key}]" if isinstance(key, int) else f".{shown(key)}" if text else shown(key)
    return text


Kind = Literal["text", "number", "bool", "null", "trap", "refused"]
"""``trap``: a plain scalar that YAML readers take differently. ``refused``: already reported."""


class Scalar(str):
    """The text of a scalar, as written, with its kind and its mark."""

    __slots__ = ("kind", "mark")
    kind: Kind
    mark: Mark

    def __new__(cls, text: str, kind: Kind, mark: Mark) -> Scalar:
        """Return ``text`` with its kind and mark."""
        scalar = super().__new__(cls, text)
        scalar.kind = kind
        scalar.mark = mark
        return scalar


class NodeMap(dict[str, "Node"]):
    """A map in the order of the file; of a repeated key the first value is kept."""

    __slots__ = ("incomplete", "key_marks", "mark", "repeated")

    def __init__(self, mark: Mark) -> None:
        super().__init__()
        self.mark = mark
        self.key_marks: dict[str, Mark] = {}
        self.repeated: set[str] = set()
        self.incomplete = False
        """Something in it was refused, so a key that is absent may have been meant."""


class NodeList(list["Node"]):
    """A list with its mark."""

    __slots__ = ("mark",)

    def __init__(self, mark: Mark) -> None:
        super().__init__()
        self.mark = mark


Node = NodeMap | NodeList | Scalar


class Reading(NamedTuple):
    """What came of a text: the tree, None when there is none, and what was refused."""

    root: Node | None
    problems: list[Problem]


def shown(text: str) -> str:
    """Return a user's text for a message, cut to a readable length.

    >>> shown("")
    'nothing'
    """
    if not text:
        return "nothing"
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


# --- kinds of plain scalars -------------------------------------------------------------------

_NULL = frozenset({"", "~", "null", "Null", "NULL"})
_TRUE = frozenset({"true", "True", "TRUE"})
_FALSE = frozenset({"false", "False", "FALSE"})
_NUMBER = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)")


class Trap(NamedTuple):
    """Why a plain scalar is refused: how others read it, and what to write where that is meant."""

    holds: Literal["truth", "number"]
    read_as: str
    mend: str
    rule: str = "yaml-trap"


def _base_60(text: str) -> Trap:
    total = 0.0
    for part in text.lstrip("+-").replace("_", "").split(":"):
        total = total * 60 + float(part)
    sign = "-" if text.startswith("-") else ""
    return Trap("number", f"{sign}{total:g}, in base 60", "write a plain number")


def _leading_zero(text: str) -> Trap:
    sign = "-" if text.startswith("-") else ""
    digits = text.replace("_", "").lstrip("+-").lstrip("0")
    plain = digits if digits[:1].isdigit() else f"0{digits}"
    return Trap("number", "a number in base 8 or 10", f"write {sign}{plain}")


def _traps() -> Iterator[tuple[str, Callable[[str], Trap]]]:
    """Yield the patterns; the readings are those of YAML 1.1 (its bool, int and float)."""
    yield r"(?i:yes|on)", lambda text: Trap("truth", "true", "write true")
    yield r"(?i:no|off)", lambda text: Trap("truth", "false", "write false")
    yield (
        r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)",
        lambda text: Trap(
            "number", "one that is not finite", "write a finite number", "not-finite"
        ),
    )
    yield r"[-+]?[0-9][0-9_]*(?::[0-5]?[0-9])+(?:\.[0-9_]*)?", _base_60
    yield (
        r"[-+]?(?:[0-9][0-9_]*\.?[0-9_]*|\.[0-9_]+)[eE][-+]?[0-9]+",
        lambda text: Trap("number", "text or a number", "write it without a power of ten"),
    )
    yield (
        r"[-+]?0(?:[xX][0-9a-fA-F_]+|[bB][01_]+|[oO][0-7_]+)",
        lambda text: Trap("number", "a number in another base", "write a decimal number"),
    )
    yield r"[-+]?0[0-9_]+(?:\.[0-9_]*)?", _leading_zero
    yield (
        r"[-+]?[0-9]+_[0-9_]*(?:\.[0-9_]*)?|[-+]?[0-9]+\.[0-9]*_[0-9_]*",
        lambda text: Trap("number", "a number", f"write {text.replace('_', '')}"),
    )


_LONGEST_TRAP = 100


def trap_of(text: str) -> Trap | None:
    """Return what YAML readers make of a plain scalar, when they do not agree with the eye.

    >>> trap_of("1:30").read_as
    '90, in base 60'
    """
    # Most words of a file are no trap by their first letter: no pattern is made for them.
    if not text or text[0] not in "yYnNoO+-.0123456789" or " " in text or len(text) > _LONGEST_TRAP:
        return None
    for pattern, trap in _traps():
        if re.fullmatch(pattern, text):
            return trap(text)
    return None


def _kind_of_plain(text: str) -> Kind:
    if text in _NULL:
        return "null"
    if text in _TRUE or text in _FALSE:
        return "bool"
    if _NUMBER.fullmatch(text):
        return "number"
    return "trap" if trap_of(text) else "text"


def is_true(scalar: Scalar) -> bool:
    """Return the value of a scalar of kind ``bool``."""
    return scalar in _TRUE


# --- bytes to text ----------------------------------------------------------------------------

# What YAML 1.1 lets through, less the line ends that an editor does not count as one
# (U+0085, U+2028, U+2029): they would put every later line number wrong.
_UNPRINTABLE = (
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
_LINE_END = re.compile(r"\r\n|\r|\n")
_TAB_BEFORE_COMMENT = re.compile(r"[^#\t]*(\t)")


def read_bytes(data: bytes, name: str) -> Reading:
    """Read one YAML document from the bytes of the file called ``name``.

    Never raises for any bytes: what is wrong is in the returned problems.
    """
    nowhere = Mark(Source(name, ()), 1, 1)
    if len(data) > MAX_BYTES:
        problem = nowhere.problem(
            "too-large",
            given=f"more than {MAX_BYTES} bytes",
            allowed=f"a file of at most {MAX_BYTES} bytes",
            mend="give a job or a machine file; one job or one machine a file",
        )
        return Reading(None, [problem])
    problems = []
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
        problems.append(
            nowhere.problem(
                "byte-order-mark",
                given="a byte order mark before the first character",
                allowed="UTF-8 without a byte order mark",
                mend="save the file as UTF-8 without BOM",
            )
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        lines = _LINE_END.split(before)
        mark = Mark(Source(name, ()), len(lines), len(lines[-1]) + 1)
        problem = mark.problem(
            "not-utf-8",
            given=f"the byte 0x{data[error.start]:02X}, which is not UTF-8 here",
            allowed="text in UTF-8",
            mend="save the file as UTF-8",
        )
        return Reading(None, [*problems, problem])
    source = Source(name, tuple(_LINE_END.split(text)))
    root, found = read_text(text, source)
    if not found and (root is None or (isinstance(root, Scalar) and root.kind == "null")):
        root = None
        empty = Mark(source, 1, 1).problem(
            "empty-file",
            given="no keys",
            allowed="a job or a machine: key: value on each line",
            mend="write the keys, or name another file",
        )
        found = [empty]
    return Reading(root, problems + found)


def read_text(text: str, source: Source) -> Reading:
    """Read one YAML document from ``text``, whose lines are those of ``source``.

    The root is None, without a problem, where there is nothing but blanks and comments.
    """
    bad = list(_bad_characters(source))
    if bad:
        return Reading(None, bad)
    tabs = list(_tabs(source))
    if any(not p.excerpt[: p.column - 1].strip() for p in tabs):
        # Nobody can know what the indentation was meant to be: anything more would be noise.
        return Reading(None, tabs)
    builder = _Builder(source)
    root = builder.read(text.replace("\t", " ") if tabs else text)
    return Reading(root, tabs + builder.problems)


def _bad_characters(source: Source) -> Iterator[Problem]:
    for number, line in enumerate(source.lines, source.first_line):
        # The pattern is costly to make, and hardly ever needed.
        found = None if line.isprintable() else re.search(_UNPRINTABLE, line)
        if found:
            yield Mark(source, number, found.start() + 1).problem(
                "control-character",
                given=f"the character U+{ord(found[0]):04X}",
                allowed="printable text",
                mend="take the character out",
            )


def _tabs(source: Source) -> Iterator[Problem]:
    for number, line in enumerate(source.lines, source.first_line):
        found = _TAB_BEFORE_COMMENT.match(line)
        if found:
            yield Mark(source, number, found.start(1) + 1).problem(
                "tab",
                given="a tab",
                allowed="blanks; YAML does not let a tab indent",
                mend="replace the tab with blanks",
            )


# --- events to tree ---------------------------------------------------------------------------

_SYNTAX_MENDS = (
    ("mapping values are not allowed", 'put a text that holds ": " in quotes; check the indent'),
    ("cannot start any token", "put a text that starts with this character in quotes"),
    ("could not find expected ':'", "write key: value, with a blank after the colon"),
    ("end of stream", "close the quotes"),
    ("escape", "write the text in single quotes"),
    ("',' or", "set a comma between the items, and close the bracket"),
    ("node content", "close the bracket, or give the value"),
)
# Faults whose own mark is where the parser gave up, not where the slip was made.
_LATE = ("while scanning a simple key", "while scanning a quoted scalar")


class _Stop(Exception):  # noqa: N818 - a way out, not an error
    """The rest of the text is not read; the reason has been reported."""


class _Builder:
    """Builds the tree of one document and collects what it refuses."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.problems: list[Problem] = []

    def read(self, text: str) -> Node | None:
        """Return the root; None when there is none, or the text cannot be read to its end."""
        root: Node | None = None
        try:
            self.events = iter(yaml.parse(text, Loader=_Loader))
            for event in self.events:
                if isinstance(event, yaml.DocumentStartEvent):
                    self._start(event, second=root is not None)
                    root = self._node(next(self.events), ())
        except _Stop:
            return root
        except yaml.MarkedYAMLError as error:
            self._syntax(error)
            return None
        return root

    def _refuse(
        self, rule: str, mark: Mark, *, given: str, allowed: str, mend: str, key_path: str = ""
    ) -> None:
        self.problems.append(
            mark.problem(rule, given=given, allowed=allowed, mend=mend, key_path=key_path)
        )

    def _mark(self, mark: Any) -> Mark:
        return Mark(self.source, mark.line + self.source.first_line, mark.column + 1)

    def _start(self, event: Any, *, second: bool) -> None:
        mark = self._mark(event.start_mark)
        if second:
            self._refuse(
                "several-documents",
                mark,
                given="a second document",
                allowed="one job or one machine a file",
                mend="move what follows to a file of its own",
            )
            raise _Stop
        if event.version or event.tags:
            self._refuse(
                "yaml-feature",
                mark,
                given="a % directive",
                allowed="plain maps, lists and scalars",
                mend="take the line out",
            )

    def _node(self, event: Any, keys: Keys) -> Node:
        mark = self._mark(event.start_mark)
        if len(keys) > MAX_DEPTH:
            self._too_deep(mark, keys)
            raise _Stop
        if isinstance(event, yaml.AliasEvent):
            self._feature(mark, keys, f"the alias *{event.anchor}", "write the value out here")
            return Scalar("", "refused", mark)
        if event.anchor is not None:
            self._feature(mark, keys, f"the anchor &{event.anchor}", "take the anchor out")
        if event.tag is not None:
            self._feature(mark, keys, "a ! tag", "take the tag out")
        if isinstance(event, yaml.ScalarEvent):
            plain = not event.style
            return Scalar(event.value, _kind_of_plain(event.value) if plain else "text", mark)
        if isinstance(event, yaml.SequenceStartEvent):
            items = NodeList(mark)
            for item in self._until(yaml.SequenceEndEvent):
                items.append(self._node(item, (*keys, len(items))))
            return items
        return self._map(mark, keys)

    def _until(self, end: type[yaml.Event]) -> Iterator[Any]:
        for event in self.events:
            if isinstance(event, end):
                return
            yield event

    def _map(self, mark: Mark, keys: Keys) -> NodeMap:
        result = NodeMap(mark)
        for event in self._until(yaml.MappingEndEvent):
            key = self._node(event, (*keys, "?"))
            key_mark = self._mark(event.start_mark)
            name = str(key) if isinstance(key, Scalar) else "?"
            value = self._node(next(self.events), (*keys, name))
            if not isinstance(key, Scalar):
                self._feature(key_mark, keys, "a list or a map as a key", "write a word as the key")
                result.incomplete = True
            elif key.kind == "refused":
                result.incomplete = True
            elif key == "<<" and not event.style:
                self._feature(key_mark, keys, "the merge key <<", "write the keys out here")
                result.incomplete = True
            elif name in result:
                result.repeated.add(name)
                self.problems.append(
                    key_mark.problem(
                        "repeated-key",
                        key_path=path_of((*keys, name)),
                        given=f"{shown(name)} a second time",
                        allowed="each key once",
                        mend="keep one of the two",
                        also_line=result.key_marks[name].line,
                    )
                )
            else:
                result[name] = value
                result.key_marks[name] = key_mark
        return result

    def _too_deep(self, mark: Mark, keys: Keys) -> None:
        self._refuse(
            "too-deep",
            mark,
            given=f"more than {MAX_DEPTH} levels",
            allowed=f"at most {MAX_DEPTH} levels",
            mend="look for a bracket or an indent too many",
            key_path=path_of(keys),
        )

    def _feature(self, mark: Mark, keys: Keys, given: str, mend: str) -> None:
        self._refuse(
            "yaml-feature",
            mark,
            given=given,
            allowed="plain maps, lists and scalars",
            mend=mend,
            key_path=path_of(keys),
        )

    def _syntax(self, error: yaml.MarkedYAMLError) -> None:
        what = error.problem or "this text is not YAML"
        place = error.problem_mark
        context = error.context_mark
        if context is not None and (place is None or error.context in _LATE):
            place = context
        mark = self._mark(place) if place else Mark(self.source, self.source.first_line, 1)
        last = self.source.first_line + len(self.source.lines) - 1
        if mark.line > last:
            # The parser counts a line end that a text without one does not have.
            mark = Mark(self.source, last, len(self.source.lines[-1]) + 1)
        opened = self._mark(context).line if context is not None else 0
        mend = next((m for words, m in _SYNTAX_MENDS if words in what), "check indent and brackets")
        if "nesting depth" in what:
            self._too_deep(mark, ())
            return
        self.problems.append(
            mark.problem(
                "yaml-syntax",
                given=f"text that YAML cannot read: {what}",
                allowed="key: value, - item, [a, b] or {key: value}",
                mend=mend,
                also_line=opened,
            )
        )
