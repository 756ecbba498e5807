"""Drawings as lines, areas and words, in millimetres of paper, y upward from the lower left."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

Point = tuple[float, float]
Style = Literal["thin", "thick", "dashed", "chain"]
Fill = Literal["none", "light", "dark"]
Anchor = Literal["start", "middle", "end"]

LETTER_MM = 2.6
"""Height of a drawing's letters, as font size."""
_LETTER_WIDTH = 0.56
"""Of its size, on average, with the font of the papers; from memory."""
_ARROW_MM = 1.6
_ARROW_SLOPE = 0.22


@dataclass(frozen=True)
class Line:
    """Straight pieces one after another."""

    points: tuple[Point, ...]
    style: Style = "thin"
    closed: bool = False
    fill: Fill = "none"
    """Only of a closed one."""


@dataclass(frozen=True)
class Label:
    """Words at a place."""

    at: Point
    text: str
    anchor: Anchor = "start"
    bold: bool = False
    turned: bool = False
    """Whether it reads from below to above."""


@dataclass
class Drawing:
    """What is drawn, on an area of paper of this size."""

    width_mm: float
    height_mm: float
    title: str
    """In words, for those who do not see it."""
    lines: list[Line] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def line(self, points: Iterable[Point], style: Style = "thin") -> None:
        """Draw an open line."""
        self.lines.append(Line(tuple(points), style))

    def area(self, points: Iterable[Point], fill: Fill = "none", style: Style = "thin") -> None:
        """Draw a closed line, filled."""
        self.lines.append(Line(tuple(points), style, closed=True, fill=fill))

    def word(
        self,
        at: Point,
        text: str,
        anchor: Anchor = "start",
        *,
        bold: bool = False,
        turned: bool = False,
    ) -> None:
        """Write words; those that would leave the area are moved inside."""
        if not turned:
            wide = text_width_mm(text)
            left = {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
            low, high = left, self.width_mm - wide + left
            at = (min(max(at[0], low), max(high, low)), at[1])
        self.labels.append(Label(at, text, anchor, bold, turned))

    def arrow(self, tail: Point, head: Point, style: Style = "thin") -> None:
        """A line with a filled head."""
        self.line((tail, head), style)
        self.area(_head(tail, head), "dark")

    def dimension(self, start: Point, end: Point, text: str, beside_mm: float = 0.0) -> None:
        """A length between two points, its line moved to its left by ``beside_mm``."""
        length = math.dist(start, end)
        if length < 1e-6:
            return
        way = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
        off = (-way[1] * beside_mm, way[0] * beside_mm)
        a, b = (start[0] + off[0], start[1] + off[1]), (end[0] + off[0], end[1] + off[1])
        over = math.copysign(1.0, beside_mm) if beside_mm else 0.0
        for foot, top in ((start, a), (end, b)):
            self.line((foot, (top[0] - way[1] * over, top[1] + way[0] * over)))
        if length > 3 * _ARROW_MM:
            self.line((a, b))
            heads = ((b, a), (a, b))
        else:  # no room between: the arrows come from outside
            out = 2.5 * _ARROW_MM
            before = (a[0] - way[0] * out, a[1] - way[1] * out)
            behind = (b[0] + way[0] * out, b[1] + way[1] * out)
            self.line((before, behind))
            heads = ((before, a), (behind, b))
        for tail, head in heads:
            self.area(_head(tail, head), "dark")
        steep = abs(way[1]) > abs(way[0])
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        if steep:
            left = off[0] < 0
            at = (middle[0] + (-1.2 if left else 1.2), middle[1] - LETTER_MM / 3)
            self.word(at, text, "end" if left else "start")
        else:
            up = off[1] >= 0
            at = (middle[0], middle[1] + (1.0 if up else -1.0 - 0.75 * LETTER_MM))
            self.word(at, text, "middle")

    def arc(
        self, centre: Point, radius: float, start_deg: float, end_deg: float, style: Style = "thin"
    ) -> list[Point]:
        """An arc as straight pieces; returns them."""
        steps = max(int(abs(end_deg - start_deg) / 3), 4)
        angles = [
            math.radians(start_deg + (end_deg - start_deg) * n / steps) for n in range(steps + 1)
        ]
        points = [
            (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles
        ]
        self.line(points, style)
        return points


def text_width_mm(text: str) -> float:
    """Width of words in a drawing, near enough to keep them inside."""
    return len(text) * LETTER_MM * _LETTER_WIDTH


def _head(tail: Point, head: Point) -> tuple[Point, Point, Point]:
    length = math.dist(tail, head) or 1.0
    x, y = (head[0] - tail[0]) / length, (head[1] - tail[1]) / length
    back = (head[0] - x * _ARROW_MM, head[1] - y * _ARROW_MM)
    wide = _ARROW_MM * _ARROW_SLOPE
    return head, (back[0] - y * wide, back[1] + x * wide), (back[0] + y * wide, back[1] - x * wide)


def hatching(outline: Sequence[Point], gap_mm: float = 1.6) -> list[tuple[Point, Point]]:
    """Lines at 45 degrees inside an outline, as cut material is drawn."""
    import shapely  # noqa: PLC0415

    area = shapely.Polygon(outline)
    if not area.is_valid or area.area <= 0:
        return []
    low_x, low_y, high_x, high_y = area.bounds
    step = gap_mm * math.sqrt(2.0)
    first, last = math.floor((low_y - high_x) / step), math.ceil((high_y - low_x) / step)
    pieces = []
    for number in range(first, last + 1):
        rise = number * step
        cut = area.intersection(
            shapely.LineString([(low_x - 1, low_x - 1 + rise), (high_x + 1, high_x + 1 + rise)])
        )
        for piece in getattr(cut, "geoms", [cut]):
            if piece.geom_type == "LineString" and len(piece.coords) == 2:
                start, end = piece.coords
                pieces.append(((start[0], start[1]), (end[0], end[1])))
    return pieces
