"""What a program makes the machine do, in order: the interpreter's answer to the judge.

Positions are in program coordinates, in mm and degrees, one number for each of the machine's
axes in the order given to the interpreter; ``None`` is a position that the text does not tell.
"""

from __future__ import annotations

from typing import NamedTuple

Position = tuple[float | None, ...]


class Move(NamedTuple):
    """A straight move. ``feed`` is in mm/min, or deg/min where no straight axis moves."""

    line: int
    rapid: bool
    start: Position
    end: Position
    feed: float | None
    """None for a rapid, and for a feed move whose F is missing (a fault already)."""
    minutes: float | None
    """The time of an inverse-time move; None otherwise."""


class Dwell(NamedTuple):
    """The machine waits."""

    line: int
    seconds: float


class Stop(NamedTuple):
    """M0 or M1."""

    line: int
    code: str
    waits: bool
    """Whether every controller of the class waits there for the operator."""
    leaves_wheel_turning: bool


class Spindle(NamedTuple):
    """The spindle's state after the block: M3 is clockwise, M4 counterclockwise, None off."""

    line: int
    direction: str | None
    speed_rpm: float | None


class Coolant(NamedTuple):
    """The coolant codes that are in force after the block."""

    line: int
    on: frozenset[str]


class Blend(NamedTuple):
    """How far the controller may leave the path at a corner; 0 for exact."""

    line: int
    tolerance_mm: float


class End(NamedTuple):
    """M2 or M30."""

    line: int


class Lost(NamedTuple):
    """From here on the machine's state is not known; nothing after it can be judged."""

    line: int


Event = Move | Dwell | Stop | Spindle | Coolant | Blend | End | Lost
