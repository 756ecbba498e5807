"""What a program's header claims: set-up, wheel, kind, units, clearance, zero and what is set.

A claim is a comment behind a fixed first word (``docs/programs.md``); those of the set-up stand
before the first block. ``pass_claims.py`` has those of the passes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from planner.proof.faultlog import FaultLog
from planner.proof.operation import OperationName, read_setup_name
from planner.proof.rules import Rule
from planner.proof.tokens import Block
from planner.proof.verdict import AIR_RUN, CUTTING

_SETUP = re.compile(r"setup (\S+) face (\S+)")
_WORN = re.compile(r"([0-9]{1,3}\.[0-9]{1,6}) mm\b.*")
_FROM = re.compile(r"pass ([0-9]{1,6}) of [0-9]{1,6}, (zero stands|new wheel)")
_TOUCH = re.compile(
    r"wheel bares (in middle of relief|on bevel so far|on lands so far) at depth "
    r"([0-9]{1,3}\.[0-9]{1,6})"
)
_TOUCHED_BY: dict[str, OperationName] = {
    "in middle of relief": "relief",
    "on bevel so far": "bevel",
    "on lands so far": "lands",
}
_STATION = re.compile(
    r"station ([0-9]{1,3}) of ([0-9]{1,3}) (?:empty|(heel|tip) at ([0-9]{1,5}(?:\.[0-9]{1,6})?) mm)"
)
_SET = re.compile(
    r"(?:tilt (-?[0-9]{1,3}\.[0-9]{1,6}) deg, )?(?:cross (-?[0-9]{1,3}\.[0-9]{1,6}) mm, )?by hand"
)
_TILT = re.compile(
    r"swept, ([0-9]{1,2}) facets?, axis y (-?[0-9]{1,5}\.[0-9]{1,6}) z (-?[0-9]{1,5}\.[0-9]{1,6})"
    r" face A up"
)
_CLEAR = re.compile(r"(-?[0-9]{1,6}(?:\.[0-9]{0,6})?)(?: (mm|inch)\b)?")
_MM_PER_INCH = 25.4
_HEADER_WORDS = (
    "setup", "kind", "wheel", "units", "clear", "worn", "from", "touch", "relief", "set",
    "zero", "tilt",
)  # fmt: skip
_UNITS = {"mm": "G21", "inch": "G20"}


class StationClaim(NamedTuple):
    """``station 2 of 3 heel at 110.0000 mm``: which end of its blade, or none, stands where."""

    line: int
    text: str
    number: int
    total: int
    end: str
    """``heel`` or ``tip``; empty for a station without a blade."""
    at_mm: float


class SweepClaim(NamedTuple):
    """``tilt swept, 12 facets, axis y 25.0000 z -30.0000 face A up``: see ``sweep.py``."""

    line: int
    text: str
    facets: int
    axis_yz_mm: tuple[float, float]


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
    zero: str = ""
    """Where the wheel is said to bare at program zero, and what is at 0 along the edge there."""
    zero_line: int = 0
    worn_mm: float = 0.0
    """Radius that the wheel has lost since the touch-off, before this blade."""
    worn_line: int = 0
    from_pass: int = 1
    """The pass that the program goes on from; 1 for a program that does the whole set-up."""
    from_line: int = 0
    new_wheel: bool = False
    """Whether the wheel was changed before it, and the zero touched off anew."""
    touch_mm: float | None = None
    """Depth at which the new wheel is said to bare in the middle of the relief so far."""
    touch_operation: OperationName | None = None
    """The operation that leaves the place where it is said to bare."""
    touch_line: int = 0
    relief_wheel: str = ""
    """The wheel that ground the relief, of a program for the lands beside it."""
    relief_line: int = 0
    stations: tuple[StationClaim, ...] = ()
    """What is said of each station of a row."""
    set_tilt_deg: float | None = None
    """The tilt that a person is said to have set."""
    set_cross_mm: float | None = None
    """The distance from the edge at which a person is said to have set the cross."""
    set_line: int = 0
    sweep: SweepClaim | None = None
    """How many facets a tilt that is swept is said to grind, and about which axis."""


def read_claims(blocks: Sequence[Block], log: FaultLog) -> Claims:
    """The claims of a header; a claim made twice in different words is a fault."""
    found: dict[str, tuple[str, int]] = {}
    stations: list[StationClaim] = []
    code_at = len(blocks)
    for index, block in enumerate(blocks):
        if block.words:
            code_at = index
            break
        for comment in block.comments:
            text = " ".join(comment.split())
            word, _, claim = text.partition(" ")
            if word == "station":
                stations += _station(text, block.line, log)
            if word not in _HEADER_WORDS:
                continue
            if word in found and found[word][0] != claim:
                log.add(block.line, Rule.CLAIM_CONTRADICTED, claim=text, by=found[word][0])
            found.setdefault(word, (claim, block.line))
    _check_units(found.get("units"), blocks[code_at:], log)
    setup, face, setup_line = _setup(found.get("setup"), log)
    wheel, wheel_line = found.get("wheel", ("", 0))
    clear, clear_line = found.get("clear", ("", 0))
    from_pass, new_wheel = _from_pass(found.get("from"), log)
    touch_operation, touch_mm = _touch(found.get("touch"), log)
    set_tilt, set_cross = _set_by_hand(found.get("set"), log)
    return Claims(
        setup=setup,
        face=face,
        setup_line=setup_line,
        wheel=wheel,
        wheel_line=wheel_line,
        kind=AIR_RUN if found.get("kind", ("", 0))[0] == AIR_RUN else CUTTING,
        clear_mm=_clear_mm(clear, found.get("units", ("mm", 0))[0]),
        clear_line=clear_line,
        zero=found.get("zero", ("", 0))[0],
        zero_line=found.get("zero", ("", 0))[1],
        worn_mm=_worn_mm(found.get("worn"), log),
        worn_line=found.get("worn", ("", 0))[1],
        from_pass=from_pass,
        from_line=found.get("from", ("", 0))[1],
        new_wheel=new_wheel,
        touch_mm=touch_mm,
        touch_operation=touch_operation,
        touch_line=found.get("touch", ("", 0))[1],
        relief_wheel=_relief_wheel(found.get("relief"), log),
        relief_line=found.get("relief", ("", 0))[1],
        stations=tuple(stations),
        set_tilt_deg=set_tilt,
        set_cross_mm=set_cross,
        set_line=found.get("set", ("", 0))[1],
        sweep=_sweep(found.get("tilt"), log),
    )


def _setup(claim: tuple[str, int] | None, log: FaultLog) -> tuple[str, str, int]:
    if claim is None:
        return "", "", 0
    text, line = claim
    match = _SETUP.fullmatch(f"setup {text}")
    name = None if match is None else read_setup_name(match[1])
    if match is None or name is None or name.face != match[2]:
        by = "setup NAME face A or B, of one face"
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"setup {text}", by=by)
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


def _worn_mm(claim: tuple[str, int] | None, log: FaultLog) -> float:
    if claim is None:
        return 0.0
    text, line = claim
    match = _WORN.fullmatch(text)
    if match is None:
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"worn {text}", by="a number of mm")
        return 0.0
    return float(match[1])


def _from_pass(claim: tuple[str, int] | None, log: FaultLog) -> tuple[int, bool]:
    if claim is None:
        return 1, False
    text, line = claim
    match = _FROM.fullmatch(text)
    if match is None:
        by = "pass N of M, then zero stands or new wheel"
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"from {text}", by=by)
        return 1, False
    return int(match[1]), match[2] == "new wheel"


def _relief_wheel(claim: tuple[str, int] | None, log: FaultLog) -> str:
    if claim is None:
        return ""
    text, line = claim
    word, _, name = text.partition(" ")
    if word != "wheel" or not name:
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"relief {text}", by="relief wheel NAME")
        return ""
    return name


def _touch(
    claim: tuple[str, int] | None, log: FaultLog
) -> tuple[OperationName | None, float | None]:
    if claim is None:
        return None, None
    text, line = claim
    match = _TOUCH.fullmatch(text)
    if match is None:
        by = "wheel bares in middle of relief, or on bevel or lands so far, at depth N"
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"touch {text}", by=by)
        return None, None
    return _TOUCHED_BY[match[1]], float(match[2])


def _station(text: str, line: int, log: FaultLog) -> list[StationClaim]:
    match = _STATION.fullmatch(text)
    if match is None:
        by = "station N of M, then empty, or heel or tip at P mm"
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=text, by=by)
        return []
    at_mm = float(match[4] or 0.0)
    return [StationClaim(line, text, int(match[1]), int(match[2]), match[3] or "", at_mm)]


def _set_by_hand(claim: tuple[str, int] | None, log: FaultLog) -> tuple[float | None, float | None]:
    if claim is None:
        return None, None
    text, line = claim
    match = _SET.fullmatch(text)
    if match is None:
        by = "tilt N deg, cross N mm, by hand"
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"set {text}", by=by)
        return None, None
    tilt, cross = match[1], match[2]
    return (None if tilt is None else float(tilt)), (None if cross is None else float(cross))


def _sweep(claim: tuple[str, int] | None, log: FaultLog) -> SweepClaim | None:
    if claim is None:
        return None
    text, line = claim
    match = _TILT.fullmatch(text)
    if match is None:
        by = "tilt swept, N facets, axis y N z N face A up"
        log.add(line, Rule.CLAIM_CONTRADICTED, claim=f"tilt {text}", by=by)
        return None
    axis = float(match[2]), float(match[3])
    return SweepClaim(line, f"tilt {text}", int(match[1]), axis)


def _clear_mm(claim: str, units: str) -> float | None:
    """The number of ``5.0000 mm above zero``; without a unit it is in the program's."""
    match = _CLEAR.match(claim)
    if match is None:
        return None
    unit = match[2] or units
    return float(match[1]) * (_MM_PER_INCH if unit == "inch" else 1.0)
