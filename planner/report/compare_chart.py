"""A chart of a comparison as a file, drawn by matplotlib where that is installed."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from planner.compare.figures import FigureKind
from planner.compare.variants import Outcome
from planner.errors import InputError, Problem
from planner.inputs.quantities import FRACTION_PATTERN, NUMBER_PATTERN, parse_number
from planner.inputs.variations import Variation

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SUFFIXES = (".svg", ".pdf", ".png")
MOST_LINES = 24
"""Lines that a legend can still tell apart: eight markers by three strokes."""
_MARKERS = "os^Dv*Ph"
_STROKES = ("-", "--", ":")
_SIZE = re.compile(rf"({FRACTION_PATTERN}|{NUMBER_PATTERN}) *(.*)")
_SETTINGS: Any = {
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    "svg.fonttype": "none",
    "svg.hashsalt": "bevelwright",
    "font.size": 10,
}


def check_chart_library() -> None:
    """Can a chart be drawn?

    Raises: InputError where matplotlib is not installed.
    """
    try:
        import matplotlib  # noqa: F401, PLC0415
    except ImportError:
        raise InputError(
            [
                Problem(
                    file="--chart",
                    line=0,
                    column=0,
                    rule="no-chart-library",
                    key_path="--chart",
                    given="matplotlib is not installed",
                    allowed="a chart where matplotlib is installed",
                    mend="pip install 'bevelwright[chart]', or leave --chart out: the terminal "
                    "shows bars",
                )
            ]
        ) from None


def chart_bytes(
    title: str,
    outcomes: Sequence[Outcome],
    variations: Sequence[Variation],
    kind: FigureKind,
    suffix: str,
) -> bytes:
    """One figure over the values of one key, a line for each combination of the others.

    The key with the most numbers lies along the chart. Refused variants are crosses at its foot.
    """
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    along = _along(variations)
    with mpl.rc_context(_SETTINGS), warnings.catch_warnings():
        # A letter that the font lacks is drawn as a box.
        warnings.filterwarnings("ignore", message="Glyph", category=UserWarning)
        figure = Figure(figsize=(8, 5), layout="constrained")
        axes = figure.add_subplot()
        _draw(axes, outcomes, variations, along, kind)
        axes.set_title(title, loc="left", fontsize=10)
        image = io.BytesIO()
        metadata = {"Date": None} if suffix == ".svg" else None
        if suffix == ".pdf":
            metadata = {"CreationDate": None}
        figure.savefig(image, format=suffix.removeprefix("."), dpi=150, metadata=metadata)
    return image.getvalue()


def _along(variations: Sequence[Variation]) -> int:
    """Which key lies along the chart: of those whose values are numbers, the one with most."""
    counts = [len(v.values) if _numbers(v) is not None else 0 for v in variations]
    return counts.index(max(counts)) if max(counts) > 0 else 0


def _numbers(variation: Variation) -> tuple[list[float], str] | None:
    """The values as numbers of one unit; None where they are not."""
    found = [_SIZE.fullmatch(value) for value in variation.values]
    sizes = [f for f in found if f is not None]
    units = {size[2] for size in sizes}
    if len(sizes) < len(found) or len(units) != 1:
        return None
    try:
        return [float(parse_number(size[1])) for size in sizes], units.pop()
    except ValueError:
        return None


def _draw(
    axes: Axes,
    outcomes: Sequence[Outcome],
    variations: Sequence[Variation],
    along: int,
    kind: FigureKind,
) -> None:
    key = variations[along]
    numbers = _numbers(key)
    places = numbers[0] if numbers is not None else [float(n) for n in range(len(key.values))]
    place_of = dict(zip(key.values, places, strict=True))
    order = {(v.key, value): n for v in variations for n, value in enumerate(v.values)}
    lines: dict[tuple[tuple[str, str], ...], list[tuple[float, float]]] = {}
    refused: list[float] = []
    scale = 100.0 if kind.unit == "%" else 1.0
    for outcome in outcomes:
        values = list(outcome.variant.values)
        place = place_of[values.pop(along)[1]]
        figure = None if outcome.figures is None else outcome.figures[kind.name]
        if figure is None or isinstance(figure, str):
            refused.append(place)
        else:
            lines.setdefault(tuple(values), []).append((place, figure * scale))
    in_turn = sorted(lines, key=lambda values: [order[value] for value in values])
    for n, values_of_line in enumerate(in_turn):
        points = lines[values_of_line]
        axes.plot(
            *zip(*sorted(points), strict=True),
            marker=_MARKERS[n % len(_MARKERS)],
            linestyle=_STROKES[n // len(_MARKERS) % len(_STROKES)] if numbers else "",
            label=", ".join(f"{k}={v}" for k, v in values_of_line) or kind.label,
        )
    if refused:
        axes.plot(
            sorted(set(refused)),
            [0.02] * len(set(refused)),
            linestyle="",
            marker="x",
            color="black",
            label="refused",
            transform=axes.get_xaxis_transform(),
        )
    if numbers is None:
        axes.set_xticks(places, key.values)
    axes.set_xlabel(f"{key.key}{f', {numbers[1]}' if numbers and numbers[1] else ''}")
    axes.set_ylabel(f"{kind.name}{', %' if kind.unit == '%' else ''}")
    axes.grid(visible=True, alpha=0.3)
    handles, labels = axes.get_legend_handles_labels()
    if len(handles) > 1:
        shown = [*zip(handles, labels, strict=True)]
        if len(shown) > MOST_LINES:
            shown = shown[:MOST_LINES]
            axes.annotate(
                f"{len(handles) - MOST_LINES} more lines have no name here",
                (1, 1.01),
                xycoords="axes fraction",
                ha="right",
            )
        axes.legend(*zip(*shown, strict=True), fontsize=8)
