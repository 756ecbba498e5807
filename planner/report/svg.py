"""What the pictures share: the sheet, lines and text of an SVG document."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

WIDTH = 760.0
MARGIN = 40.0
_FONT = "font-family:sans-serif;font-size:12px"


def sheet(title: str, height: float) -> Xml.Element:
    """An empty picture of the usual width, with its title for those who cannot see it."""
    root = Xml.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{WIDTH:.0f}",
            "height": f"{height:.0f}",
            "viewBox": f"0 0 {WIDTH:.0f} {height:.0f}",
            "role": "img",
            "style": "background:#fff;color:#111",
        },
    )
    Xml.SubElement(root, "title").text = title
    return root


def document(root: Xml.Element) -> str:
    """The picture as the text of a file."""
    Xml.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, "unicode") + "\n"


def ends(x1: float, y1: float, x2: float, y2: float) -> dict[str, str]:
    """Attributes of a line."""
    return {"x1": f"{x1:.2f}", "y1": f"{y1:.2f}", "x2": f"{x2:.2f}", "y2": f"{y2:.2f}"}


def text(
    root: Xml.Element,
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    weight: str = "normal",
) -> None:
    """Words on the picture."""
    Xml.SubElement(
        root,
        "text",
        {
            "x": f"{x:.2f}",
            "y": f"{y:.2f}",
            "text-anchor": anchor,
            "style": f"{_FONT};font-weight:{weight}",
        },
    ).text = words
