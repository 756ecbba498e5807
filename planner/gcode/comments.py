"""The only place where text becomes a program comment.

Controllers act on some comments and on some bytes inside comments, so a comment starts with a
fixed word of ours and lets only a short list of characters pass.
"""

from __future__ import annotations

import re
from typing import Literal

FirstWord = Literal[
    "bevelwright", "title", "plan", "setup", "kind", "wheel", "zero", "units", "clear", "worn",
    "pass", "message", "cool", "from", "touch", "station", "relief", "set", "tilt",
]  # fmt: skip

LONGEST_LINE = 70

_REFUSED = re.compile(r"[^A-Za-z0-9 .,:=_+\-]")
_BLANKS = re.compile(r" +")


def comment(first_word: FirstWord, text: str) -> str:
    """A whole comment line: first word, then the text with every other character made a blank.

    Shape: never longer than ``LONGEST_LINE``, cut at the end.

    >>> comment("title", "50% off) M3 (!")
    '(title 50 off M3)'
    """
    passed = _BLANKS.sub(" ", _REFUSED.sub(" ", text)).strip()
    room = LONGEST_LINE - len(first_word) - 3
    return f"({first_word} {passed[:room].rstrip()})"
