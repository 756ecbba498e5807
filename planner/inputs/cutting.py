"""What the blade is to cut and how it is kept sharp: keys ``cut`` and ``honing`` of a job.

They change no program: ``section``, ``plan.json`` and a picture tell what follows from them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated

from pydantic import Field, model_validator

from planner.errors import InputError, Problem
from planner.inputs.fields import Angle, FileModel, Length, RadiusRange, rule_fault
from planner.inputs.overrides import SOURCE_NAME

BOWL = "--bowl"
_FROM_TO = re.compile(r" *([^:,]*?[0-9]) *: *([^:,]*?[0-9]) *([A-Za-z]+) *")
_LIST = re.compile(r" *\[[^\[\]]*\] *")
_NO_UNIT = re.compile(r" *[0-9.]+ *: *[0-9.]+ *")


def bowl_override(text: str) -> str:
    """The option ``--bowl`` as the key that it sets; what it does not understand the key refuses.

    >>> bowl_override("40:400mm"), bowl_override("40 mm, 400 mm")
    ('cut.bowl=[40 mm, 400 mm]', 'cut.bowl=[40 mm, 400 mm]')

    Raises: InputError for a text that is neither a range with a unit nor a list.
    """
    found = _FROM_TO.fullmatch(text)
    if found is not None:
        low, high, unit = found.groups()
        return f"cut.bowl=[{low} {unit}, {high} {unit}]"
    if "," in text:
        return f"cut.bowl={text}" if _LIST.fullmatch(text) else f"cut.bowl=[{text}]"
    like = "40:400mm"
    if _NO_UNIT.fullmatch(text):
        like = f"{text.replace(' ', '')}mm"
    raise InputError([_of_bowl("override-form", text, "FROM:TO and one unit", f"write {like}")])


def told_of_bowl(problems: Iterable[Problem], number: int, text: str) -> list[Problem]:
    """What is wrong with the key that ``--bowl`` set as the last of so many, told of the option."""

    def plain(words: str) -> str:
        return words.replace("[", "").replace("]", "")

    return [
        _of_bowl(p.rule, plain(p.given), plain(p.allowed), plain(p.mend), text)
        if (p.file, p.line) == (SOURCE_NAME, number)
        else p
        for p in problems
    ]


def _of_bowl(rule: str, given: str, allowed: str, mend: str, text: str = "") -> Problem:
    return Problem(BOWL, 1, 1, rule, "", given, allowed, mend, excerpt=text or given)


class RoundedOver(FileModel):
    """A bevel rounded over towards the edge: an arc tangent to it."""

    reach_mm: Annotated[Length, Field(alias="reach", gt=0, le=20)] = 0.5
    """How far from the edge the arc leaves the face. Default 0.5 mm: what a soft strop reaches;
    common practice, no source."""
    radius_mm: Annotated[Length, Field(alias="radius", gt=0, le=1000)] = 10.0
    """Default 10 mm: with that reach about 3 deg at the edge; common practice, no source."""


class Cut(FileModel):
    """The work that the blade is for, and from when on it is called guided.

    The thresholds are common practice, no source: move them to what your hand says.
    """

    bowl_mm: Annotated[RadiusRange, Field(alias="bowl")] = (40.0, 400.0)
    """Radii of the hollows it is to cut in, square to the edge. Default 40 to 400 mm, from a small
    bowl to a shallow tray; common practice, no source."""
    rounded_over: RoundedOver = RoundedOver()
    guided_deg: Annotated[Angle, Field(alias="guided", gt=0, lt=45)] = 3.0
    """Most that the edge may point into the work. Default 3 deg: common practice, no source."""
    digs_in_deg: Annotated[Angle, Field(alias="digs_in", gt=0, lt=90)] = 6.0
    """Beyond this it digs in, shoulder or no. Default 6 deg: common practice, no source."""
    lift_deg: Annotated[Angle, Field(alias="lift", gt=0, lt=90)] = 5.0
    """Most that the tool may have to be lifted off its shoulder until the edge engages. Default 5
    deg: common practice, no source."""
    give_mm: Annotated[Length, Field(alias="give", gt=0, le=1)] = 0.02
    """How much the wood gives under a bevel: what is nearer bears. Default 0.02 mm: common
    practice, no source."""

    @model_validator(mode="after")
    def _thresholds_are_in_order(self) -> Cut:
        if self.digs_in_deg < self.guided_deg:
            raise rule_fault(
                "digs-in-below-guided",
                key="digs_in",
                other="guided",
                given=f"digs_in {self.digs_in_deg:g} deg, guided {self.guided_deg:g} deg",
                allowed="digs_in no smaller than guided",
                mend="make digs_in larger, or guided smaller",
            )
        return self


class Honing(FileModel):
    """How the blade is kept sharp: laid on both lands on a flat stone."""

    each_mm: Annotated[Length, Field(alias="each", gt=0, le=0.1)] = 0.002
    """What one honing takes off each relieved face, square to it. Default 0.002 mm: a fine stone
    until a burr is felt; common practice, no source."""
    land_limit_mm: Annotated[Length | None, Field(alias="land_limit", gt=0, le=100)] = None
    """Width of a land at which the relief is ground again. Left out, twice its width when ground;
    common practice, no source."""
