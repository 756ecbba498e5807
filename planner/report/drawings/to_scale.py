"""The section as SVG to scale: one unit is one millimetre, and so it prints."""

from __future__ import annotations

import math
from xml.etree import ElementTree as Xml

from planner.report.drawings.shapes import (
    CENTRE,
    STOCK,
    Circle,
    Mark,
    Path,
    SectionDrawing,
    Shape,
)

_MARGIN_MM = 5.0
_NOTE_MM = 1.8
_LINE_MM = 0.08
_DIGITS = 7
_MARK_MM = 0.4


def section_svg_to_scale(drawing: SectionDrawing) -> str:
    """The drawing at its true size; the wheels are cut by the picture's edge."""
    stock = next(s for s in drawing.shapes if s.layer == STOCK)
    assert isinstance(stock, Path)
    ys, zs = [v.y_mm for v in stock.vertices], [v.z_mm for v in stock.vertices]
    left, right = min(ys) - _MARGIN_MM, max(ys) + _MARGIN_MM
    low, high = min(zs) - _MARGIN_MM, max(zs) + _MARGIN_MM
    notes = 1.5 * _NOTE_MM * (len(drawing.notes) + 1)
    right = max(right, left + max(len(n) for n in drawing.notes) * _NOTE_MM * 0.6)
    wide, tall = right - left, high - low + notes
    root = Xml.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{_number(wide)}mm",
            "height": f"{_number(tall)}mm",
            "viewBox": f"{_number(left)} {_number(-high)} {_number(wide)} {_number(tall)}",
        },
    )
    Xml.SubElement(root, "title").text = drawing.notes[0]
    seen = Xml.SubElement(Xml.SubElement(root, "defs"), "clipPath", {"id": "seen"})
    corner = {"x": _number(left), "y": _number(-high)}
    Xml.SubElement(seen, "rect", {**corner, "width": _number(wide), "height": _number(high - low)})
    cut = Xml.SubElement(root, "g", {"clip-path": "url(#seen)"})
    upward = Xml.SubElement(
        cut, "g", {"transform": "scale(1,-1)", "fill": "none", "stroke": "#000"}
    )
    for layer in drawing.layers:
        style = {"id": layer, "stroke-width": _number(_LINE_MM)}
        if layer in (STOCK, CENTRE):
            style["stroke-dasharray"] = "0.6 0.3"
        group = Xml.SubElement(upward, "g", style)
        for shape in drawing.shapes:
            if shape.layer == layer:
                _add(group, shape)
    text = Xml.SubElement(root, "g", {"id": "NOTES", "font-size": _number(_NOTE_MM)})
    for number, note in enumerate(drawing.notes, 1):
        at = {"x": _number(left + 1.0), "y": _number(-low + 1.5 * _NOTE_MM * number)}
        Xml.SubElement(text, "text", {**at, "font-family": "sans-serif"}).text = note
    Xml.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, "unicode") + "\n"


def _add(group: Xml.Element, shape: Shape) -> None:
    if isinstance(shape, Circle):
        y, z = shape.centre
        there = {"cx": _number(y), "cy": _number(z), "r": _number(shape.radius_mm)}
        Xml.SubElement(group, "circle", there)
    elif isinstance(shape, Mark):
        y, z = shape.place
        cross = (
            f"M{_number(y - _MARK_MM)} {_number(z)}H{_number(y + _MARK_MM)}"
            f"M{_number(y)} {_number(z - _MARK_MM)}V{_number(z + _MARK_MM)}"
        )
        Xml.SubElement(group, "path", {"d": cross})
    else:
        Xml.SubElement(group, "path", {"d": _way(shape)})


def _way(path: Path) -> str:
    ends = [*path.vertices[1:], *([path.vertices[0]] if path.closed else [])]
    parts = [f"M{_number(path.vertices[0].y_mm)} {_number(path.vertices[0].z_mm)}"]
    for start, end in zip(path.vertices, ends, strict=False):
        place = f"{_number(end.y_mm)} {_number(end.z_mm)}"
        if start.bulge == 0.0:
            parts.append(f"L{place}")
            continue
        # Chord over 2 sin of half the angle, whose quarter's tangent the bulge is.
        angle = 4.0 * math.atan(abs(start.bulge))
        radius = _number(math.dist(start.place, end.place) / (2.0 * math.sin(angle / 2.0)))
        large, sweep = int(angle > math.pi), int(start.bulge > 0)
        parts.append(f"A{radius} {radius} 0 {large} {sweep} {place}")
    return "".join(parts) + ("Z" if path.closed else "")


def _number(value: float) -> str:
    return f"{round(value, _DIGITS) + 0.0:.{_DIGITS}f}".rstrip("0").rstrip(".")
