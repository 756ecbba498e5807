"""What the header of a program claims: the set-up, the wheel, the kind, units and clearance.

A claim is a comment before the first block, behind a fixed first word (``docs/programs.md``).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tokens import Block
from planner.proof.verdict import AIR_RUN, CUTTING

_SETUP = re.compile(r"setup (\S+) face (\S+)")
_CLEAR = re.compile(r"(-?[0-9]{1,6}(?:\.[0-9]{0,6})?)(?: (mm|inch)\b)?")
_MM_PER_INCH = 25.4
_UNITS = {"mm": "G21", "inch": "G20"}


@dataclass(frozen=True)
class Claims:
    """The header's claims; empty or None where it makes none. Lines count from 1."""

    setup: str = ""
    face: str = ""
    setup_line: int = 0
    wheel: str = ""
    wheel_line: int = 0
    kind: str = CUTTING
    clear_mm: float | None = None
    """Infeed at which nothing touches; the sign may be that of an inverted axis."""
    clear_line: int = 0


def read_claims(blocks: Sequence[Block], log: FaultLog) -> Claims:
    """The claims of a header; a claim made twice in different words is a fault."""
    found: dict[str, tuple[str, int]] = {}
    code_at = len(blocks)
    for index, block in enumerate(blocks):
        if block.words:
            code_at = index
            break
        for comment in block.comments:
            text = " ".join(comment.split())
            word, _, claim = text.partition(" ")
            if word not in ("setup", "kind", "wheel", "units", "clear"):
                continue
            if word in found and found[word][0] != claim:
                log.add(block.line, Rule.CLAIM_CONTRADICTED, claim=text, by=found[word][0])
            found.setdefault(word, (claim, block.line))
    _check_units(found.get("units"), blocks[code_at:], log)
    setup, face, setup_line = _setup(found.get("setup"), log)
    wheel, wheel_line = found.get("wheel", ("", 0))
    clear, clear_line = found.get("clear", ("", 0))
    return Claims(
        setup=setup,
        face=face,
        setup_line=setup_line,
        wheel=wheel,
        wheel_line=wheel_line,
        kind=AIR_RUN if found.get("kind", ("", 0))[0] == AIR_RUN else CUTTING,
        clear_mm=_clear_mm(clear, found.get("units", ("mm", 0))[0]),
        clear_line=clear_line,
    )


def _setup(claim: tuple[str, int] | None, log: FaultLog) -> tuple[str, str, int]:
    if claim is None:
        return "", "", 0
    text, line = claim
    match = _SETUP.fullmatch(f"setup {text}")
    if match is None or match[1] != match[2] or match[2] not in ("A", "B"):
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"setup {text}", by="setup A face A or B")
        return "", "", line
    return match[1], match[2], line


def _check_units(claim: tuple[str, int] | None, blocks: Sequence[Block], log: FaultLog) -> None:
    if claim is None:
        return
    text, line = claim
    wanted = _UNITS.get(text)
    for block in blocks:
        for word in block.words:
            code = word.letter + word.text.lstrip("0")
            if code in _UNITS.values() and code != wanted:
                log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"units {text}", by=code)
                return


def _clear_mm(claim: str, units: str) -> float | None:
    """The number of ``5.0000 mm above zero``; without a unit it is in the program's."""
    match = _CLEAR.match(claim)
    if match is None:
        return None
    unit = match[2] or units
    return float(match[1]) * (_MM_PER_INCH if unit == "inch" else 1.0)


def comment_form(name: str) -> str:
    """A name as a comment may show it: allowed characters only, blanks left out.

    Two names are taken for the same where this is.
    """
    return re.sub(r"[^A-Za-z0-9.,:=_+-]", "", name)
