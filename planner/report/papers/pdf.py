"""A paper as PDF, A4 or US Letter: black on white, the same bytes for the same paper."""

from __future__ import annotations

import io
from typing import Any

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    TableStyle,
)
from reportlab.platypus import Table as Grid

from planner.report.papers.drawing import LETTER_MM, Drawing, Label
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
)
from planner.report.papers.pdf_text import BOLD, FONT, cut_to, markup, register_fonts, shown

SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216 A4; 8 1/2 by 11 inches."""
MARGIN_MM = 13.0
_FOOT_MM = 6.0
_FOOT_SIZE = 7.0
_KEPT_ROWS = 8
"""A table of no more rows is not parted."""
_INK = 0.2 * mm

_BODY = ParagraphStyle("body", fontName=FONT, fontSize=8.6, leading=10.8, splitLongWords=1)
_STYLES = {
    "title": ParagraphStyle("title", _BODY, fontName=BOLD, fontSize=14, leading=17, spaceAfter=3),
    "heading": ParagraphStyle(
        "heading", _BODY, fontName=BOLD, fontSize=10.5, leading=13, spaceBefore=7, spaceAfter=3
    ),
    "body": _BODY,
    "cell": ParagraphStyle("cell", _BODY, fontSize=8, leading=9.6),
    "head": ParagraphStyle("head", _BODY, fontName=BOLD, fontSize=8, leading=9.6),
    "name": ParagraphStyle("name", _BODY, fontName=BOLD),
    "caution": ParagraphStyle("caution", _BODY, fontSize=7.3, leading=8.8, spaceAfter=2),
    "caption": ParagraphStyle("caption", _BODY, fontSize=7.8, leading=9.4, spaceAfter=3),
}
_DASHES = {"thin": (), "thick": (), "dashed": (1.6 * mm, 1.0 * mm), "chain": (4 * mm, 0.8 * mm) * 2}
_WIDTHS = {"thin": 0.2, "thick": 0.5, "dashed": 0.25, "chain": 0.2}
_GREY = {"light": 0.87, "dark": 0.0}


def pdf_page(paper: Paper, size: str) -> bytes:
    """The paper on pages of ``size``, a name in ``SIZES_MM``."""
    register_fonts()
    wide, high = SIZES_MM[size]
    if paper.landscape:
        wide, high = high, wide
    inner = (wide - 2 * MARGIN_MM) * mm
    frame = Frame(
        MARGIN_MM * mm,
        (MARGIN_MM + _FOOT_MM) * mm,
        inner,
        (high - 2 * MARGIN_MM - _FOOT_MM) * mm,
        0, 0, 0, 0,
    )  # fmt: skip
    made = io.BytesIO()
    document = BaseDocTemplate(
        made,
        pagesize=(wide * mm, high * mm),
        title=f"{plain(paper.title)}: {plain(paper.running)}",
        author="bevelwright",
        invariant=1,
        lang="en",
    )
    document.addPageTemplates(PageTemplate(frames=[frame]))
    story: list[Any] = [_paragraph(paper.title, "title")]
    for part, after in zip(paper.parts, (*paper.parts[1:], None), strict=True):
        if isinstance(part, Heading):
            story.append(CondPageBreak(_room_for(after)))
        story += _flowables(part, inner)

    def canvas(*arguments: Any, **options: Any) -> _Numbered:
        return _Numbered(paper.running, wide * mm, *arguments, **options)

    document.build(story, canvasmaker=canvas)
    return made.getvalue()


class _Numbered(Canvas):
    """Writes the foot of each page at the end, when their number is known."""

    def __init__(self, running: str, wide: float, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._running = running
        self._wide = wide
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802
        """Keep the page for later."""
        self._pages.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]

    def save(self) -> None:
        """Write every page with its foot."""
        for number, page in enumerate(self._pages, 1):
            self.__dict__.update(page)
            self._foot(f"page {number} of {len(self._pages)}")
            super().showPage()
        super().save()

    def _foot(self, number: str) -> None:
        left, right, low = MARGIN_MM * mm, self._wide - MARGIN_MM * mm, MARGIN_MM * mm
        self.setLineWidth(_INK)
        self.line(left, low + 3.2 * mm, right, low + 3.2 * mm)
        self.setFont(FONT, _FOOT_SIZE)
        self.drawRightString(right, low, number)
        room = right - left - 25 * mm
        self.drawString(left, low, cut_to(plain(self._running), room, _FOOT_SIZE))


class _Drawn(Flowable):
    """A drawing on the page."""

    def __init__(self, drawing: Drawing, room: float) -> None:
        super().__init__()
        self._drawing = drawing
        self._scale = min(room / (drawing.width_mm * mm), 1.0)
        self.width = drawing.width_mm * mm * self._scale
        self.height = drawing.height_mm * mm * self._scale

    def draw(self) -> None:
        """Lines first, words over them."""
        canvas = self.canv
        canvas.scale(self._scale, self._scale)
        canvas.setLineJoin(1)
        for line in self._drawing.lines:
            canvas.setLineWidth(_WIDTHS[line.style] * mm)
            canvas.setDash(list(_DASHES[line.style]))
            path = canvas.beginPath()
            path.moveTo(line.points[0][0] * mm, line.points[0][1] * mm)
            for x, y in line.points[1:]:
                path.lineTo(x * mm, y * mm)
            if line.closed:
                path.close()
                canvas.setFillGray(_GREY.get(line.fill, 1.0))
            canvas.drawPath(path, stroke=1, fill=int(line.closed and line.fill != "none"))
        for label in self._drawing.labels:
            _write(canvas, label)


def _write(canvas: Canvas, label: Label) -> None:
    """A drawing's words on white, so that no line runs through them."""
    font, size, text = BOLD if label.bold else FONT, LETTER_MM * mm, shown(label.text)
    wide = canvas.stringWidth(text, font, size)
    left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[label.anchor]
    canvas.saveState()
    canvas.translate(label.at[0] * mm, label.at[1] * mm)
    canvas.rotate(90 if label.turned else 0)
    canvas.setFillGray(1.0)
    canvas.rect(left - 0.3 * mm, -0.22 * size, wide + 0.6 * mm, size, stroke=0, fill=1)
    canvas.setFillGray(0.0)
    canvas.setFont(font, size)
    canvas.drawString(left, 0, text)
    canvas.restoreState()


def _room_for(part: Part | None) -> float:
    """What must still fit on a page under a heading, or both go to the next."""
    if isinstance(part, Picture):
        return (part.drawing.height_mm + 18.0) * mm
    if isinstance(part, Table) and len(part.rows) <= _KEPT_ROWS:
        return (14.0 + len(part.rows) * (9.0 if part.to_write_in else 5.0)) * mm
    return 28.0 * mm


def _paragraph(text: str, style: str) -> Paragraph:
    return Paragraph(markup(text), _STYLES[style])


def _flowables(part: Part, room: float) -> list[Any]:
    match part:
        case Heading():
            return [_paragraph(part.text, "heading")]
        case Text():
            return [_paragraph(part.text, "body"), Spacer(0, 3)]
        case Facts():
            rows = [[_paragraph(n, "name"), _paragraph(v, "body")] for n, v in part.rows]
            return [_bare(rows, [0.19 * room, 0.81 * room]), Spacer(0, 3)]
        case Bullets():
            rows = [[_paragraph("–", "body"), _paragraph(item, "body")] for item in part.items]
            return [_bare(rows, [4 * mm, room - 4 * mm])] if rows else []
        case Steps():
            rows = [
                [_paragraph("☐", "body"), _paragraph(f"{n}.", "body"), _paragraph(item, "body")]
                for n, item in enumerate(part.items, 1)
            ]
            return [_bare(rows, [5 * mm, 6 * mm, room - 11 * mm], 1.6)]
        case _:
            return _framed(part, room)


def _framed(part: Part, room: float) -> list[Any]:
    match part:
        case Table():
            grid = _grid(part, room)
            whole = len(part.rows) <= _KEPT_ROWS
            return [KeepTogether([grid]) if whole else grid, Spacer(0, 4)]
        case Warnings():
            said = [
                Paragraph(
                    f'<font name="{BOLD}">{markup(f"{c.level} ({c.topic}):")}</font> '
                    f'{markup(plain(c.text))} <font size="6">[{markup(plain(c.basis))}]</font>',
                    _STYLES["caution"],
                )
                for c in part.items
            ]
            return [KeepTogether([each]) for each in said]
        case Picture():
            drawn = _Drawn(part.drawing, room)
            return [KeepTogether([drawn, Spacer(0, 2), _paragraph(part.caption, "caption")])]
        case Signatures():
            cells = [[_paragraph(label, "cell") for label in part.labels]]
            grid = Grid(cells, [room / len(part.labels)] * len(part.labels), [12 * mm])
            grid.setStyle(TableStyle([("GRID", (0, 0), (-1, -1), _INK, colors.black),
                                      ("VALIGN", (0, 0), (-1, -1), "TOP")]))  # fmt: skip
            return [Spacer(0, 6), grid]
    return []


def _bare(rows: list[list[Any]], widths: list[float], below: float = 0.4) -> Grid:
    grid = Grid(rows, widths)
    grid.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 2),
                ("TOPPADDING", (0, 0), (-1, -1), 0.4),
                ("BOTTOMPADDING", (0, 0), (-1, -1), below),
            ]
        )
    )
    return grid


def _grid(part: Table, room: float) -> Grid:
    whole = sum(part.widths)
    rows = [[_paragraph(cell, "head") for cell in part.header]]
    rows += [[_paragraph(cell, "cell") for cell in row] for row in part.rows]
    grid = Grid(rows, [w / whole * room for w in part.widths], repeatRows=1)
    space = 5.5 if part.to_write_in else 1.2
    grid.setStyle(
        TableStyle(
            [
                ("GRID", (0, 0), (-1, -1), _INK, colors.black),
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE" if part.to_write_in else "TOP"),
                ("BACKGROUND", (0, 0), (-1, 0), colors.Color(0.9, 0.9, 0.9)),
                ("LEFTPADDING", (0, 0), (-1, -1), 2.5),
                ("RIGHTPADDING", (0, 0), (-1, -1), 2.5),
                ("TOPPADDING", (0, 1), (-1, -1), space),
                ("BOTTOMPADDING", (0, 1), (-1, -1), space),
                ("TOPPADDING", (0, 0), (-1, 0), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, 0), 1.5),
            ]
        )
    )
    return grid
