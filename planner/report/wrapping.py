"""Plain lines fitted to a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator


def wrapped(lines: Iterable[str], width: int, hanging: int = 4) -> Iterator[str]:
    """Break lines at blanks so that they fit; what follows a break is indented.

    A word that is longer than a line, a digest or a path, stands alone on its own.

    >>> list(wrapped(["axes     X 1 to 2; Y 3"], 16, hanging=9))
    ['axes     X 1 to', '         2; Y 3']
    """
    for line in lines:
        yield from textwrap.wrap(
            line,
            width,
            subsequent_indent=" " * hanging,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
