"""A drawing as SVG: inside a page, in millimetres, in the colours of the page around it."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

from planner.report.papers.drawing import LETTER_MM, Drawing, Label, Line

STYLE = {
    "thin": "stroke-width:.2",
    "thick": "stroke-width:.5",
    "dashed": "stroke-width:.25;stroke-dasharray:1.6 1",
    "chain": "stroke-width:.2;stroke-dasharray:4 .8 .8 .8",
}
FILL = {
    "none": "fill:none",
    "light": "fill:currentColor;fill-opacity:.13",
    "dark": "fill:currentColor",
}


def svg_element(drawing: Drawing) -> Xml.Element:
    """The drawing as an element to be put into a page."""
    root = Xml.Element(
        "svg",
        {
            "class": "drawing",
            "width": f"{drawing.width_mm:g}mm",
            "height": f"{drawing.height_mm:g}mm",
            "viewBox": f"0 0 {drawing.width_mm:g} {drawing.height_mm:g}",
            "role": "img",
            "aria-label": drawing.title,
        },
    )
    for line in drawing.lines:
        _line(root, drawing, line)
    for label in drawing.labels:
        _label(root, drawing, label)
    return root


def _line(root: Xml.Element, drawing: Drawing, line: Line) -> None:
    points = " ".join(f"{x:.3f},{drawing.height_mm - y:.3f}" for x, y in line.points)
    style = f"stroke:currentColor;stroke-linejoin:round;{STYLE[line.style]};{FILL[line.fill]}"
    Xml.SubElement(
        root, "polygon" if line.closed else "polyline", {"points": points, "style": style}
    )


def _label(root: Xml.Element, drawing: Drawing, label: Label) -> None:
    x, y = label.at[0], drawing.height_mm - label.at[1]
    where = {"x": f"{x:.2f}", "y": f"{y:.2f}", "text-anchor": label.anchor}
    if label.turned:
        where["transform"] = f"rotate(-90 {x:.2f} {y:.2f})"
    where["style"] = (
        f"font-size:{LETTER_MM}px;fill:currentColor;stroke:Canvas;stroke-width:.9;paint-order:stroke"
        + (";font-weight:bold" if label.bold else "")
    )
    Xml.SubElement(root, "text", where).text = label.text
