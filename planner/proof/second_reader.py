"""A second opinion on the words of each block, from a library that shares nothing with ours.

The library is asked for the words only. It is known to accept text that no controller takes and
to turn open comments into program names, so it never judges: it can only disagree.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable
from typing import Any

from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tokens import Block


def check_words(blocks: Iterable[Block], log: FaultLog) -> None:
    """Fault each sound block whose words the second reader refuses or reads otherwise."""
    read_line = _second_reader()
    agreed: set[str] = set()
    for block in blocks:
        if not block.sound or block.text in agreed:
            continue
        if _agrees(read_line, block):
            agreed.add(block.text)
        else:
            log.add(block.line, Rule.READERS_DISAGREE)


def _second_reader() -> Any:
    with warnings.catch_warnings():
        # Its release is old; what its source says to newer compilers is not the user's concern.
        warnings.simplefilter("ignore")
        from pygcode import Line  # noqa: PLC0415 - heavy, and only this function needs it

    return Line


def _agrees(read_line: Any, block: Block) -> bool:
    try:
        theirs = [(word.letter, float(word.value)) for word in read_line(block.text).block.words]
    except Exception:  # whatever it raises, it could not read the block
        return False
    return theirs == [(word.letter, word.value) for word in block.words]
