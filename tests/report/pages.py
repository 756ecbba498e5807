"""PDF pages looked at with poppler's programs: text with its places, sizes, pictures."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from xml.etree import ElementTree

import pytest

needs_poppler = pytest.mark.skipif(
    any(shutil.which(name) is None for name in ("pdfinfo", "pdftotext", "pdftoppm")),
    reason="pdfinfo, pdftotext, pdftoppm are not installed (Debian: poppler-utils)",
)


def call(*words: str, data: bytes) -> bytes:
    return subprocess.run(words, input=data, capture_output=True, check=True).stdout


@dataclass
class Page:
    """One page: its size and its words with their boxes, in points from the upper left."""

    width: float
    height: float
    words: list[tuple[str, float, float, float, float]]

    @property
    def text(self) -> str:
        return " ".join(word for word, *_ in self.words)


def pages_of(data: bytes) -> list[Page]:
    root = ElementTree.fromstring(call("pdftotext", "-bbox", "-", "-", data=data))
    pages = []
    for page in root.iter("{http://www.w3.org/1999/xhtml}page"):
        words = [_word(word) for word in page.iter("{http://www.w3.org/1999/xhtml}word")]
        pages.append(Page(float(page.attrib["width"]), float(page.attrib["height"]), words))
    return pages


def _word(word: ElementTree.Element) -> tuple[str, float, float, float, float]:
    left, top, right, bottom = (float(word.attrib[k]) for k in ("xMin", "yMin", "xMax", "yMax"))
    return word.text or "", left, top, right, bottom


def text_of(data: bytes) -> str:
    return call("pdftotext", "-layout", "-", "-", data=data).decode()


def paper_size(data: bytes) -> str:
    found = re.search(rb"Page size: *(.*)", call("pdfinfo", "-", data=data))
    assert found
    return found[1].decode()


def pixels_of(data: bytes, dpi: int = 40) -> list[bytes]:
    """Each page as bytes of red, green, blue."""
    raw = call("pdftoppm", "-r", str(dpi), "-", data=data)
    pages = []
    while raw:
        head = re.match(rb"P6\n(\d+) (\d+)\n255\n", raw)
        assert head
        size = int(head[1]) * int(head[2]) * 3
        pages.append(raw[head.end() : head.end() + size])
        raw = raw[head.end() + size :]
    return pages
