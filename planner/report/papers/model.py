"""What a paper is made of, before it is a page: words, tables and pictures, no layout.

In every text a part between two backticks is literal: an axis word, a file name, or what a user
wrote. Whoever renders a paper escapes all of it; nothing here is markup.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.report.papers.drawing import Drawing


@dataclass(frozen=True)
class Heading:
    """Opens a part of the paper."""

    text: str


@dataclass(frozen=True)
class Text:
    """One paragraph."""

    text: str


@dataclass(frozen=True)
class Facts:
    """Names and values, one a line."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Bullets:
    """Points in no order that matters."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Steps:
    """What is done in this order, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table; its header stands again on every page that it runs on to."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    """Shares of the page's width."""
    to_write_in: bool = False
    """Whether its cells are left open for a pen, so that rows must be high enough."""


@dataclass(frozen=True)
class Warned:
    """One caution as it stands on paper."""

    level: str
    topic: str
    text: str
    basis: str


@dataclass(frozen=True)
class Warnings:
    """The cautions that apply, the gravest first as they come."""

    items: tuple[Warned, ...]


@dataclass(frozen=True)
class Picture:
    """A drawing and what stands under it."""

    drawing: Drawing
    caption: str


@dataclass(frozen=True)
class Signatures:
    """Boxes to sign and date."""

    labels: tuple[str, ...]


Part = Heading | Text | Facts | Bullets | Steps | Table | Warnings | Picture | Signatures


@dataclass(frozen=True)
class Paper:
    """One paper."""

    stem: str
    """Of its file names."""
    title: str
    running: str
    """What stands at the foot of every page, to tell loose sheets apart."""
    parts: tuple[Part, ...]
    landscape: bool = False


def literal(text: str) -> str:
    """A user's text for a paper: printable, without the mark of a literal part, and marked.

    >>> literal("a `b`")
    '`a b`'
    """
    return f"`{plain(text)}`"


def plain(text: str) -> str:
    """The same, not marked."""
    return "".join(c for c in text if c.isprintable() and c != "`")


def spans(text: str) -> list[tuple[str, bool]]:
    """The parts of a text, and whether each is literal; none is empty.

    >>> spans("go to `Z1.0`.")
    [('go to ', False), ('Z1.0', True), ('.', False)]
    """
    parts = text.split("`")
    return [(part, number % 2 == 1) for number, part in enumerate(parts) if part]
