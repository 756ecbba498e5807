"""A section drawn in a DXF or SVG file -> the points of its two faces (docs/section-forms.md).

The blade lies along x with the edge at its left end and face A above. Lines and circular arcs are
read, in millimetres; they must make one closed outline.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NoReturn

Point = tuple[float, float]

MAX_BYTES = 4 * 1024 * 1024
"""A drawing of one section is far smaller, whatever else its program writes."""
CHORD_ERROR_MM = 1e-4
"""Largest distance between an arc of a flank and the polyline that stands for it."""
_JOINED_MM = 1e-3
"""Ends of pieces that lie closer are one corner: drawings are rounded to about as much."""
_MOST_PIECES = 2000
_STRAIGHT = 1e-9
_LEVEL_MM = 1e-9
_WRITING = ("TEXT", "MTEXT", "DIMENSION", "POINT", "VIEWPORT")


class DrawingError(ValueError):
    """A drawing that gives no section: its rule, what was found, and how to mend it."""

    def __init__(self, rule: str, given: str, mend: str) -> None:
        super().__init__(f"{rule}: {given}")
        self.rule, self.given, self.mend = rule, given, mend


def _refuse(rule: str, given: str, mend: str) -> NoReturn:
    raise DrawingError(rule, given, mend)


@dataclass(frozen=True)
class Piece:
    """A line or an arc: ``bulge`` is the tangent of a quarter of its turn, above 0 to the left."""

    start: Point
    end: Point
    bulge: float = 0.0

    def turned(self) -> Piece:
        """The other way round."""
        return Piece(self.end, self.start, -self.bulge)

    @property
    def radius_mm(self) -> float:
        """Of an arc."""
        return math.dist(self.start, self.end) * (1 + self.bulge**2) / 4 / abs(self.bulge)

    def points(self) -> list[Point]:
        """Points of it, both ends with it."""
        if abs(self.bulge) < _STRAIGHT:
            return [self.start, self.end]
        turn = 4 * math.atan(self.bulge)
        count = math.ceil(abs(turn) / 2 / math.acos(1 - min(CHORD_ERROR_MM / self.radius_mm, 1)))
        x, y = self.end[0] - self.start[0], self.end[1] - self.start[1]
        # A chord from the start to a point of the arc, by the angle between tangent and chord.
        found = [self.start]
        for n in range(1, count):
            part = turn * n / count
            long = math.sin(part / 2) / math.sin(turn / 2)
            aside = part / 2 - turn / 2
            found.append(
                (
                    self.start[0] + long * (x * math.cos(aside) - y * math.sin(aside)),
                    self.start[1] + long * (x * math.sin(aside) + y * math.cos(aside)),
                )
            )
        return [*found, self.end]


@dataclass(frozen=True)
class DrawnFace:
    """A face as a job would give it: points (y, z outward) and the radius of its bevel."""

    points: list[Point]
    radius_mm: float | None


def drawn_faces(data: bytes, name: str, *, micro: bool = False) -> tuple[DrawnFace, DrawnFace]:
    """Face A and face B of a drawing, told by the ending of its name.

    ``micro``: each face that is no flat back begins with a micro bevel, its bevel behind that.

    Raises: DrawingError with what is wrong.
    """
    ending = name.rpartition(".")[2].lower()
    if ending not in ("dxf", "svg"):
        _refuse("drawing-format", f"a file {name}", "name a file that ends in .dxf or .svg")
    if len(data) > MAX_BYTES:
        _refuse("drawing-format", "over 4 MB", "give a file with the outline alone")
    try:
        pieces = _dxf_pieces(data) if ending == "dxf" else _svg_pieces(data)
    except DrawingError:
        raise
    except Exception as error:  # whatever a library stumbles over is a broken file
        said = type(error).__name__
        _refuse("drawing-format", f"no {ending.upper()} file ({said})", "save the drawing anew")
    return _faces(_closed([p for p in pieces if math.dist(p.start, p.end) > 1e-9]), micro)


# --- the two kinds of file --------------------------------------------------------------------


def _dxf_pieces(data: bytes) -> list[Piece]:
    # Slow to load, and only for a drawn section.
    from ezdxf.enums import InsertUnits  # noqa: PLC0415
    from ezdxf.filemanagement import read  # noqa: PLC0415
    from ezdxf.units import conversion_factor  # noqa: PLC0415

    document = read(io.StringIO(data.decode("utf-8", errors="replace")))
    unit = int(document.header.get("$INSUNITS", 0))
    if unit == 0:
        _refuse("drawing-format", "a DXF file without a unit", "set the drawing's units to mm")
    scale = conversion_factor(InsertUnits(unit), InsertUnits.Millimeters)
    return [
        Piece(
            (p.start[0] * scale, p.start[1] * scale), (p.end[0] * scale, p.end[1] * scale), p.bulge
        )
        for entity in document.modelspace()
        for p in _of_entity(entity)
    ]


def _of_entity(entity: Any) -> Iterator[Piece]:
    kind = entity.dxftype()
    if kind == "LINE":
        start, end = entity.dxf.start, entity.dxf.end
        yield Piece((start.x, start.y), (end.x, end.y))
    elif kind == "ARC":
        turn = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0)
        side = -1.0 if entity.dxf.extrusion.z < 0 else 1.0
        start, end = entity.start_point, entity.end_point
        yield Piece((start.x, start.y), (end.x, end.y), side * math.tan(turn / 4))
    elif kind in ("LWPOLYLINE", "POLYLINE"):
        for inner in entity.virtual_entities():
            yield from _of_entity(inner)
    elif kind not in _WRITING:
        _refuse("drawing-outline", f"a {kind}", "draw the outline with lines, polylines and arcs")


def _svg_pieces(data: bytes) -> list[Piece]:
    import svgelements as svg  # noqa: PLC0415 - slow to load, and only for a drawn section

    head = re.search(rb"<svg\b[^>]*>", data)
    if head is None:
        _refuse("drawing-format", "a file without <svg>", "save the drawing anew")
    if not re.search(rb"\swidth\s*=\s*[\"']\s*[0-9.eE+-]+\s*(mm|cm|in)\s*[\"']", head[0]):
        _refuse(
            "drawing-format",
            "an SVG file whose width has no unit",
            'give it its size, such as width="25mm", and a viewBox in the same unit',
        )
    mm = 1 / float(svg.Length("1mm").value(ppi=96))  # the library's own millimetre
    pieces: list[Piece] = []
    for shape in svg.SVG.parse(io.BytesIO(data), ppi=96).elements():
        if isinstance(shape, svg.Shape):
            for segment in svg.Path(shape):
                pieces += _of_segment(segment, svg, mm)
    return pieces


def _of_segment(segment: Any, svg: Any, mm: float) -> list[Piece]:
    if isinstance(segment, svg.Move):
        return []
    kind = type(segment).__name__
    start, end = ((p.x * mm, -p.y * mm) for p in (segment.start, segment.end))
    if isinstance(segment, svg.Line | svg.Close):
        return [Piece(start, end)]
    if isinstance(segment, svg.Arc) and abs(segment.rx - segment.ry) < 1e-6 * abs(segment.rx):
        # SVG counts y downward: what turns left here has a sweep below 0 there.
        return [Piece(start, end, -math.tan(segment.sweep / 4))]
    _refuse("drawing-outline", f"a curve ({kind})", "draw the outline with lines and circular arcs")


# --- the outline ------------------------------------------------------------------------------


def _closed(pieces: list[Piece]) -> list[Piece]:
    """The pieces in order round the outline, turning left."""
    if len(pieces) > _MOST_PIECES:
        _refuse("drawing-outline", f"{len(pieces)} pieces", f"draw at most {_MOST_PIECES}")
    if not pieces:
        _refuse("drawing-outline", "no lines and no arcs", "draw the outline of the section")
    chain, left = [pieces[0]], pieces[1:]
    while left:
        at = chain[-1].end
        n, found = min(
            enumerate([q for p in left for q in (p, p.turned())]),
            key=lambda each: math.dist(each[1].start, at),
        )
        if math.dist(found.start, at) > _JOINED_MM:
            break
        del left[n // 2]
        chain.append(Piece(at, found.end, found.bulge))
    first, last = chain[0].start, chain[-1].end
    if left or len(chain) < 2 or math.dist(first, last) > _JOINED_MM:
        _refuse(
            "drawing-outline",
            f"an outline that does not close at [{last[0]:.4g} mm, {last[1]:.4g} mm]"
            if math.dist(first, last) > _JOINED_MM
            else "more than one outline",
            "draw one closed outline, of pieces that meet within 0.001 mm, and nothing else",
        )
    chain[-1] = Piece(chain[-1].start, first, chain[-1].bulge)
    return _turning_left(chain)


def _turning_left(chain: list[Piece]) -> list[Piece]:
    import shapely  # noqa: PLC0415 - slow to load, and only for a drawn section

    ring = shapely.LinearRing([p for piece in chain for p in piece.points()[:-1]])
    if not ring.is_simple:
        _refuse("drawing-outline", "an outline that crosses itself", "draw it without crossings")
    return chain if ring.is_ccw else [piece.turned() for piece in reversed(chain)]


def _faces(chain: list[Piece], micro: bool) -> tuple[DrawnFace, DrawnFace]:
    """Split at the edge and at the spine: turning left from the edge, face B comes first."""
    left = min(p.start[0] for p in chain)
    right = max(p.start[0] for p in chain)
    if right - left < 10 * _JOINED_MM:
        _refuse("drawing-outline", "an outline without width", "draw the section, in its units")
    # Turned so that the outline begins with face B, at the last corner of the edge.
    at_edge = [abs(p.start[0] - left) < _JOINED_MM for p in chain]
    begin = next(n for n in range(len(chain)) if at_edge[n] and not at_edge[(n + 1) % len(chain)])
    chain = chain[begin:] + chain[:begin]
    past = [abs(p.end[0] - right) < _JOINED_MM for p in chain]
    turn = past.index(True) + 1
    lower, upper = chain[:turn], chain[turn:]
    spine, edge = upper[:1], upper[-1:]
    if not spine or abs(spine[0].end[0] - right) > _JOINED_MM or spine[0].bulge != 0.0:
        _refuse(
            "drawing-outline",
            "a spine that is no straight end",
            "end the section square at the right, with one line from face to face",
        )
    upper = upper[1:]
    corner = chain[0].start
    if edge and abs(edge[0].start[0] - left) < _JOINED_MM:
        if edge[0].bulge != 0.0:
            _refuse(
                "drawing-outline",
                "a rounded edge",
                "end the section at the left in a sharp "
                "corner, or in one straight line across the edge",
            )
        upper = upper[:-1]
        corner = left, (edge[0].start[1] + edge[0].end[1]) / 2
    if not upper:
        _refuse("drawing-outline", "one face alone", "draw the section with both faces")
    return (
        _face([p.turned() for p in reversed(upper)], corner, right, 1.0, micro),
        _face(lower, corner, right, -1.0, micro),
    )


def _face(pieces: list[Piece], corner: Point, right: float, side: float, micro: bool) -> DrawnFace:
    """A face from the edge to the spine; ``side`` is 1 for face A."""
    ahead: list[Piece] = []
    if micro and not _is_level(pieces[0]):
        if abs(pieces[0].bulge) >= _STRAIGHT:
            _refuse(
                "drawing-outline",
                f"a micro bevel of face {'A' if side > 0.0 else 'B'} that is an arc",
                "draw the micro bevel as one straight line; where the first piece is the bevel "
                "itself, leave first_piece out",
            )
        ahead, pieces = (pieces[:1], pieces[1:]) if len(pieces) > 1 else ([], pieces)
    first = pieces[0]
    bulge = -side * first.bulge
    radius = None
    if abs(bulge) >= _STRAIGHT:
        if not 0.0 < bulge < 1.0:
            _refuse(
                "drawing-outline",
                "a bevel that is hollow" if bulge < 0.0 else "a bevel of more than half a circle",
                "draw the bevel before its relief: a line, or an arc that bulges outward",
            )
        radius = first.radius_mm
    points = [*(p.start for p in ahead), first.start, first.end]
    for piece in pieces[1:]:
        points += piece.points()[1:]
    placed = [(y - corner[0], side * (z - corner[1])) for y, z in points]
    # Edge and spine are square, however the drawing was rounded.
    inner, last = placed[1:-1], placed[-1][1]
    return DrawnFace([(0.0, placed[0][1]), *inner, (right - corner[0], last)], radius)


def _is_level(piece: Piece) -> bool:
    """Whether it is the beginning of a flat back, to the decimals that a job would give."""
    return abs(piece.bulge) < _STRAIGHT and abs(piece.end[1] - piece.start[1]) < _LEVEL_MM
