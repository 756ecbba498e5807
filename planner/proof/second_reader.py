"""A second opinion on the words of each block, from a library that shares nothing with ours.

The library is asked for the words only. It is known to accept text that no controller takes and
to turn open comments into program names, so it never judges: it can only disagree.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable
from typing import Any

from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tokens import Block


def check_words(blocks: Iterable[Block], log: FaultLog) -> None:
    """Fault each sound block whose words the second reader refuses or reads otherwise.

    Every block's words are read. Which words may stand together hangs on letters and codes alone,
    so that is asked of one block for each set of them.
    """
    read_line, read_words = _second_reader()
    agreed: set[str] = set()
    together: set[tuple[object, ...]] = set()
    for block in blocks:
        if not block.sound or block.text in agreed:
            continue
        shape = tuple(
            (word.letter, word.value) if word.letter in "GM" else word.letter
            for word in block.words
        )
        known = shape in together and "(" not in block.text
        if _agrees(read_words if known else read_line, block):
            agreed.add(block.text)
            together.add(shape)
        else:
            log.add(block.line, Rule.READERS_DISAGREE)


ReadWords = Callable[[str], Iterable[Any]]


def _second_reader() -> tuple[ReadWords, ReadWords]:
    """Its reader of a whole line, and of nothing but the words of one without a comment."""
    with warnings.catch_warnings():
        # Its release is old; what its source says to newer compilers is not the user's concern.
        warnings.simplefilter("ignore")
        from pygcode import Line  # noqa: PLC0415 - heavy, and only this function needs it
        from pygcode.words import text2words  # noqa: PLC0415

    return lambda text: Line(text).block.words, text2words


def _agrees(read: ReadWords, block: Block) -> bool:
    try:
        theirs = [(word.letter, float(word.value)) for word in read(block.text)]
    except Exception:  # whatever it raises, it could not read the block
        return False
    return theirs == [(word.letter, word.value) for word in block.words]
