"""What ``compare`` shows: a table of the variants, bars of one figure, and why some are refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from rich import box
from rich.padding import Padding
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from planner.compare.differ import Difference
from planner.compare.figures import OF_PLAN, Figure, FigureKind
from planner.compare.variants import Outcome
from planner.inputs.variations import Variation
from planner.report.compare_words import reason_lines, values_text

if TYPE_CHECKING:
    from rich.console import JustifyMethod, RenderableType

MOST_ROWS = 200
MOST_BARS = 40


def figure_text(kind: FigureKind, value: Figure | None) -> str:
    """One figure as it stands in a table."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    return f"{value * 100:.0f}" if kind.unit == "%" else f"{value:.{kind.decimals}f}"


def _table(title: str) -> Table:
    return Table(
        title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False
    )


def compare_parts(
    outcomes: Sequence[Outcome],
    variations: Sequence[Variation],
    kinds: Sequence[FigureKind],
    charted: FigureKind,
    width: int,
) -> Iterable[RenderableType]:
    """The variants that can be made, a bar for each, and those that are refused, with reasons."""
    made = [o for o in outcomes if o.figures is not None]
    refused = [o for o in outcomes if o.figures is None]
    if made:
        yield _variants_table(made[:MOST_ROWS], variations, kinds, width)
        if len(made) > MOST_ROWS:
            yield Text(f"{len(made) - MOST_ROWS} more are in what --csv and --json give.\n")
        if len(made) > 1 and any(isinstance((o.figures or {})[charted.name], str) for o in made):
            yield Text(f"{charted.name} is a word: it has no bars.")
        elif len(made) > 1:
            yield _bars(made[:MOST_BARS], variations, charted, width)
    if refused:
        yield Text(f"Refused: {len(refused)} of {len(outcomes)}", style="bold")
        for outcome in refused[:MOST_ROWS]:
            yield Text(f"  {values_text(outcome.variant)}")
            for line in reason_lines(outcome):
                yield Padding(Text(line), (0, 0, 0, 4))
        if len(refused) > MOST_ROWS:
            yield Text(f"  {len(refused) - MOST_ROWS} more are in what --csv and --json give.")


def _variants_table(
    made: Sequence[Outcome],
    variations: Sequence[Variation],
    kinds: Sequence[FigureKind],
    width: int,
) -> Table:
    heads = [_heading(v.key) for v in variations]
    given = [[value for _, value in o.variant.values] for o in made]
    shown = list(kinds)
    while True:
        columns = [
            [_head(k), *(figure_text(k, (o.figures or {}).get(k.name)) for o in made)]
            for k in shown
        ]
        varied = [[head, *(row[n] for row in given)] for n, head in enumerate(heads)]
        needed = sum(_width_of(c) + 3 for c in [*varied, *columns])
        if needed <= width or len(shown) <= 2:
            break
        shown.remove(max(reversed(shown), key=lambda k: k.rank))
    table = _table("Variants")
    for head in heads:
        table.add_column(head, justify="right", vertical="bottom")
    for kind in shown:
        side: JustifyMethod = "left" if kind.name == "wheel" else "right"
        table.add_column(_head(kind), justify=side, no_wrap=True, vertical="bottom")
    for n, row in enumerate(given, start=1):
        table.add_row(*row, *(c[n] for c in columns))
    return table


def _head(kind: FigureKind) -> str:
    """A figure's words, one below the other, over its unit."""
    return "\n".join([*kind.label.split(" "), kind.unit])


def _heading(key: str) -> str:
    """The last two parts of a key path, one below the other; three where a figure is named so."""
    parts = key.split(".")
    named = any(" ".join(parts[-2:]) == kind.label for kind in OF_PLAN)
    return "\n".join(parts[-3 if named else -2 :])


def _width_of(cells: Sequence[str]) -> int:
    return max(len(line) for cell in cells for line in cell.split("\n"))


def _bars(
    made: Sequence[Outcome], variations: Sequence[Variation], charted: FigureKind, width: int
) -> Table:
    """A bar for each variant; they begin at 0 and the longest fills the line."""
    figures = [(o.figures or {})[charted.name] for o in made]
    numbers = [max(f, 0.0) for f in figures if not isinstance(f, str)]
    most = 1.0 if charted.unit == "%" else max(numbers) or 1.0
    table = _table(f"{charted.label}{f', {charted.unit}' if charted.unit else ''}")
    for variation in variations:
        table.add_column(_heading(variation.key), justify="right", no_wrap=True)
    table.add_column("", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    given = sum(3 + _width_of([_heading(v.key), *v.values]) for v in variations)
    room = max(width - 12 - given, 8)
    for outcome, number in zip(made, numbers, strict=True):
        table.add_row(
            *(value for _, value in outcome.variant.values),
            figure_text(charted, number),
            ProgressBar(total=most, completed=number, width=room),
        )
    return table


def difference_parts(
    names: tuple[str, str],
    found: Sequence[Difference],
    outcomes: tuple[Outcome, Outcome],
    kinds: Sequence[FigureKind],
) -> Iterable[RenderableType]:
    """What differs between two jobs, in what is asked and in what comes of it."""
    if found:
        table = _table("What differs in the files")
        table.add_column("key", no_wrap=True)
        for head in names:
            table.add_column(head, overflow="fold")
        for each in found:
            table.add_row(each.key, each.first or "-", each.second or "-")
        yield table
    else:
        yield Text("Nothing differs in the files.")
    first, second = (o.figures for o in outcomes)
    if first is not None and second is not None:
        yield from _figures_side_by_side(names, first, second, kinds)
        return
    for name, outcome in zip(names, outcomes, strict=True):
        if outcome.figures is None:
            yield Text(f"{name} is refused:", style="bold")
            for line in reason_lines(outcome):
                yield Padding(Text(line), (0, 0, 0, 2))
        else:
            yield Text(f"{name} can be made:", style="bold")
            for kind in kinds:
                unit = f" {kind.unit}" if kind.unit else ""
                yield Text(f"  {kind.label} {figure_text(kind, outcome.figures[kind.name])}{unit}")


def _figures_side_by_side(
    names: tuple[str, str],
    first: Mapping[str, Figure],
    second: Mapping[str, Figure],
    kinds: Sequence[FigureKind],
) -> Iterable[RenderableType]:
    table = _table("What differs in the result")
    table.add_column("figure", overflow="fold")
    for head in (*names, "change"):
        table.add_column(head, justify="right", overflow="fold")
    for kind in kinds:
        one, other = first[kind.name], second[kind.name]
        if one == other:
            continue
        change = "-"
        if not isinstance(one, str) and not isinstance(other, str):
            # Of the figures as they are shown: the reader takes one from the other.
            shown = [Decimal(figure_text(kind, value)) for value in (one, other)]
            change = f"{shown[1] - shown[0]}"
            change = change if change.startswith("-") else f"+{change}"
        table.add_row(
            f"{kind.label}{f', {kind.unit}' if kind.unit else ''}",
            figure_text(kind, one),
            figure_text(kind, other),
            change,
        )
    if table.row_count:
        yield table
    else:
        yield Text("Nothing differs in the result.")
