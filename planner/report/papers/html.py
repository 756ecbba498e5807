"""A paper as one HTML page: no script, nothing fetched, good on a screen and from a printer."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

from planner.report.papers.model import (
    Bullets,
    Facts,
    Heading,
    Paper,
    Part,
    Picture,
    Signatures,
    Steps,
    Table,
    Text,
    Warnings,
    plain,
    spans,
)
from planner.report.papers.svg import svg_element

_STYLE = """
:root { color-scheme: light dark; }
body { font: 15px/1.45 system-ui, "DejaVu Sans", sans-serif; max-width: 60rem;
  margin: 1rem auto; padding: 0 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.4rem; } h2 { font-size: 1.1rem; margin: 1.3rem 0 .4rem; }
code { font-family: ui-monospace, "DejaVu Sans Mono", monospace; font-weight: 600; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .15rem 1rem; }
dd { margin: 0; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { border: 1px solid; padding: .15rem .4rem; text-align: left; vertical-align: top; }
th, td { overflow-wrap: break-word; }
.pen td { height: 1.8rem; }
.wide { overflow-x: auto; }
ol { list-style: none; padding: 0; counter-reset: step; }
ol li { counter-increment: step; display: grid; grid-template-columns: 1.4rem 2rem 1fr;
  margin: .3rem 0; }
ol li::before { content: "\\2610"; font-size: 1.1rem; line-height: 1.2; }
.number::before { content: counter(step) "."; }
.cautions p { margin: .35rem 0; } .basis { opacity: .8; font-size: .85em; }
figure { margin: .6rem 0; } svg { max-width: 100%; height: auto; }
figcaption { font-size: .9em; }
.sign { display: flex; flex-wrap: wrap; gap: .6rem; }
.sign div { border: 1px solid; flex: 1 1 12rem; height: 3.4rem; padding: .15rem .4rem;
  font-size: .85em; }
@page { margin: 12mm; }
@media print {
  :root { color-scheme: light; } body { font-size: 9.5pt; max-width: none; margin: 0; padding: 0; }
  .cautions { font-size: 8pt; } h1 { font-size: 14pt; } h2 { font-size: 11pt; break-after: avoid; }
  thead { display: table-header-group; } tr, li, figure, .sign { break-inside: avoid; }
}
"""
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def html_page(paper: Paper) -> str:
    """The whole page."""
    root = Xml.Element("html", {"lang": "en"})
    head = Xml.SubElement(root, "head")
    Xml.SubElement(head, "meta", {"charset": "utf-8"})
    Xml.SubElement(head, "meta", {"http-equiv": "Content-Security-Policy", "content": _POLICY})
    Xml.SubElement(
        head, "meta", {"name": "viewport", "content": "width=device-width, initial-scale=1"}
    )
    Xml.SubElement(head, "title").text = f"{paper.title}: {plain(paper.running)}"
    style = Xml.SubElement(head, "style")
    page = "@page { size: landscape; }\n" if paper.landscape else ""
    style.text = f"{_STYLE}{page}"
    body = Xml.SubElement(root, "body")
    _said(Xml.SubElement(body, "h1"), paper.title)
    for part in paper.parts:
        _add(body, part)
    Xml.indent(root)
    return "<!doctype html>\n" + Xml.tostring(root, "unicode", method="html") + "\n"


def _said(element: Xml.Element, text: str) -> Xml.Element:
    """Put a text into an element, its literal parts as code."""
    last: Xml.Element | None = None
    for words, is_literal in spans(text):
        if is_literal:
            last = Xml.SubElement(element, "code")
            last.text = words
        elif last is None:
            element.text = words
        else:
            last.tail = words
    return element


def _add(body: Xml.Element, part: Part) -> None:
    match part:
        case Heading():
            _said(Xml.SubElement(body, "h2"), part.text)
        case Text():
            _said(Xml.SubElement(body, "p"), part.text)
        case Facts():
            facts = Xml.SubElement(body, "dl")
            for name, value in part.rows:
                _said(Xml.SubElement(facts, "dt"), name)
                _said(Xml.SubElement(facts, "dd"), value)
        case Bullets():
            points = Xml.SubElement(body, "ul")
            for item in part.items:
                _said(Xml.SubElement(points, "li"), item)
        case Steps():
            steps = Xml.SubElement(body, "ol")
            for item in part.items:
                step = Xml.SubElement(steps, "li")
                Xml.SubElement(step, "span", {"class": "number"})
                _said(Xml.SubElement(step, "span"), item)
        case _:
            _add_framed(body, part)


def _add_framed(body: Xml.Element, part: Part) -> None:
    match part:
        case Table():
            _table(body, part)
        case Warnings():
            box = Xml.SubElement(body, "div", {"class": "cautions"})
            for item in part.items:
                line = Xml.SubElement(box, "p")
                lead = Xml.SubElement(line, "strong")
                lead.text = f"{item.level} ({item.topic}): "
                lead.tail = f"{item.text} "
                Xml.SubElement(line, "span", {"class": "basis"}).text = f"[{item.basis}]"
        case Picture():
            figure = Xml.SubElement(body, "figure")
            figure.append(svg_element(part.drawing))
            _said(Xml.SubElement(figure, "figcaption"), part.caption)
        case Signatures():
            row = Xml.SubElement(body, "div", {"class": "sign"})
            for label in part.labels:
                Xml.SubElement(row, "div").text = label


def _table(body: Xml.Element, part: Table) -> None:
    box = Xml.SubElement(body, "div", {"class": "wide"})
    table = Xml.SubElement(box, "table", {"class": "pen"} if part.to_write_in else {})
    columns = Xml.SubElement(table, "colgroup")
    for width in part.widths:
        share = f"width: {100 * width / sum(part.widths):.2f}%"
        Xml.SubElement(columns, "col", {"style": share})
    row = Xml.SubElement(Xml.SubElement(table, "thead"), "tr")
    for cell in part.header:
        _said(Xml.SubElement(row, "th", {"scope": "col"}), cell)
    rest = Xml.SubElement(table, "tbody")
    for cells in part.rows:
        row = Xml.SubElement(rest, "tr")
        for cell in cells:
            _said(Xml.SubElement(row, "td"), cell)
