"""The papers' own font, and what it does not hold."""

from __future__ import annotations

from functools import cache
from importlib.resources import as_file, files
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from planner.report.papers.model import spans

FONT, BOLD = "PapersSans", "PapersSans-Bold"
_FILES = {FONT: "DejaVuSansCondensed.ttf", BOLD: "DejaVuSansCondensed-Bold.ttf"}


@cache
def register_fonts() -> frozenset[int]:
    """Make the two fonts known, once a process; returns the letters that both of them hold.

    They lie in the package, with their licence.
    """
    letters = []
    for name, file in _FILES.items():
        with as_file(files("planner.report.papers") / "fonts" / file) as path:
            font = TTFont(name, str(path))
        pdfmetrics.registerFont(font)
        letters.append(frozenset(font.face.charToGlyph))
    return frozenset.intersection(*letters)


def shown(text: str) -> str:
    """The text with each letter that the font lacks as its number, never as an empty box.

    >>> shown("Löffel 刀")
    'Löffel [U+5200]'
    """
    letters = register_fonts()
    if all(ord(c) in letters for c in text):
        return text
    return "".join(c if ord(c) in letters else f"[U+{ord(c):04X}]" for c in text)


def markup(text: str) -> str:
    """A paper's text for the page maker: escaped, its literal parts bold."""
    parts = []
    for words, is_literal in spans(text):
        safe = escape(shown(words))
        parts.append(f'<font name="{BOLD}">{safe}</font>' if is_literal else safe)
    return "".join(parts)


def cut_to(text: str, width: float, size: float) -> str:
    """A text on one line: what does not fit is left out, and dots say so."""
    wide = pdfmetrics.stringWidth
    text = shown(text)
    if wide(text, FONT, size) <= width:
        return text
    while text and wide(f"{text}…", FONT, size) > width:
        text = text[:-1]
    return f"{text}…"
