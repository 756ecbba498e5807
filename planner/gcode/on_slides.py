"""The steps of an edge that the straight axes follow: each pass cut into blocks along it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from planner.gcode.program import Move, Note, Program, Step, Stop
from planner.kinematics.slide_blocks import SlideBlocks

_ROLES = ("traverse", "cross", "infeed")
_AXES = (*_ROLES, "turn")


def on_the_slides(program: Program, blocks: SlideBlocks, clearance_mm: float) -> Program:
    """The same motion along the edge where it really is.

    From the end of a run-off the wheel is lifted along the normal of the face there, goes on
    straight up until it is clear of the whole blade, over it, and down the same way. Each block of
    a pass has the feed with which the edge goes by at the feed of the pass. Where somebody is to
    reach in, the wheel goes on past the end of the blade.
    """
    along = _Along(blocks, clearance_mm)
    steps: list[Step] = []
    for step in program.steps:
        if isinstance(step, Move):
            steps += along.moves(step)
            continue
        if isinstance(step, Stop):
            steps += along.off_the_blade()
        steps.append(step)
    steps = [_told(s, blocks, along.highest_mm) if isinstance(s, Note) else s for s in steps]
    return replace(program, steps=tuple(steps), path_tolerance_mm=blocks.chord_mm)


def _told(note: Note, blocks: SlideBlocks, highest_mm: float) -> Note:
    """Where zero and what is clear are along a followed edge."""
    if note.first_word == "zero":
        touched = f"wheel bares on face {blocks.path.plane.face}"
        at = f"traverse 0 at {blocks.path.anchor_mm:.4f} mm from heel"
        return replace(note, text=f"{touched}, {at}")
    if note.first_word == "clear":
        decimals = len(note.text.partition(" ")[0].partition(".")[2])
        return replace(note, text=f"{highest_mm:.{decimals}f} mm above zero")
    return note


class _Along:
    """Where the unrolled program stands, and whether the wheel is up over the whole blade."""

    def __init__(self, blocks: SlideBlocks, clearance_mm: float) -> None:
        self._blocks = blocks
        self._clearance_mm = clearance_mm
        self._traverse: float | None = None
        self._cross, self._infeed = 0.0, 0.0
        self._up = False
        self._off = False
        """Whether the wheel stands past the end of the blade, for a stop."""
        self.highest_mm = blocks.safe_mm

    def moves(self, move: Move) -> Iterator[Move]:
        """The moves that one of the unrolled program becomes."""
        apart = {role: value for role, value in move.to.items() if role not in _ROLES}
        if apart:
            yield Move(apart, move.feed_mm_min, move.minutes)
        if not set(_ROLES) & set(move.to):
            return
        if move.feed_mm_min is None:
            yield from self._rapid(move)
            return
        if self._traverse is None:
            raise ValueError("a feed move from a place that is not told")
        if self._up:
            yield from self._over()
            yield Move({"infeed": self._stand()["infeed"]})
            self._up = False
        if "traverse" in move.to:
            yield from self._pass(move.to["traverse"], move.feed_mm_min)
            return
        self._tell(move)
        feed = min(move.feed_mm_min, self._blocks.infeed_feed_mm_min)
        yield Move(self._straight(), feed)

    def _rapid(self, move: Move) -> Iterator[Move]:
        """Up and away, or over the blade; never down."""
        if "infeed" in move.to:
            lifted = self._traverse is not None and not self._up
            self._tell(move)
            if lifted:
                yield Move(self._straight())
            lift = self._infeed - self._clearance_mm
            self._up, self.highest_mm = True, self._blocks.safe_mm + lift
            yield Move({"infeed": self.highest_mm})
        if "traverse" in move.to or "cross" in move.to:
            if not self._up:
                raise ValueError("a rapid along the edge with the wheel down")
            self._tell(move)
            self._off = True
            yield from self._over()

    def _over(self) -> Iterator[Move]:
        """Over the lifted place at the end of a run-off, where the wheel is not there."""
        if self._off:
            stand = self._stand()
            yield Move({role: stand[role] for role in stand if role != "infeed"})
        self._off = False

    def off_the_blade(self) -> Iterator[Move]:
        """Up over the blade the wheel may stand over its middle: from there past its end."""
        assert self._traverse is not None
        at, ends = self._stand()["traverse"], self._blocks.ends_mm
        low, high = self._blocks.off_mm
        first = self._traverse < (ends[0] + ends[-1]) / 2.0
        away = min(at, low) if first else max(at, high)
        if away != at:
            self._off = True
            yield Move({"traverse": away})

    def _pass(self, to_mm: float, feed_mm_min: float) -> Iterator[Move]:
        assert self._traverse is not None
        ends = np.array(self._blocks.ends_mm)
        low, high = sorted((self._traverse, to_mm))
        between = ends[(ends > low + 1e-9) & (ends < high - 1e-9)]
        places = np.array([low, *between, high])
        if to_mm < self._traverse:
            places = places[::-1]
        blocks = self._blocks
        written = blocks.stands(places, self._cross, self._infeed)
        # A block so short that its axes are told the same again is left out.
        goes = np.any(np.diff(written, axis=0) != 0.0, axis=-1)
        kept = np.concatenate([[True], goes])
        places, written = places[kept], written[kept]
        edge = np.abs(np.diff(places))
        # Rounded, a short block may ask a little more of an axis than the way that it stands for,
        # or be over a little sooner.
        moved = np.diff(written, axis=0)
        least = blocks.least_minutes(moved)
        minutes = np.maximum(edge / feed_mm_min, least)
        ways = np.diff(blocks.path.stand(places, self._cross, self._infeed), axis=0)
        wanted = np.linalg.norm(ways, axis=-1) * feed_mm_min / edge
        feeds = np.minimum(wanted, np.linalg.norm(moved[:, :3], axis=-1) / least)
        for stand, feed, lasts in zip(written[1:], feeds.tolist(), minutes.tolist(), strict=True):
            to = self._by_role(stand)
            # A turn is told by its time: controllers differ on the speed of such a move.
            yield Move(to, minutes=lasts) if "turn" in to else Move(to, feed)
        self._traverse = to_mm

    def _tell(self, move: Move) -> None:
        self._traverse = move.to.get("traverse", self._traverse)
        self._cross = move.to.get("cross", self._cross)
        self._infeed = move.to.get("infeed", self._infeed)

    def _stand(self) -> dict[str, float]:
        assert self._traverse is not None
        at = self._blocks.stands(np.array([self._traverse]), self._cross, self._infeed)
        return self._by_role(at[0])

    def _straight(self) -> dict[str, float]:
        """Without the turn, which stands."""
        return {role: value for role, value in self._stand().items() if role != "turn"}

    def _by_role(self, stand: NDArray[np.float64]) -> dict[str, float]:
        letters = self._blocks.path.letters
        values = zip(_AXES, stand.tolist(), strict=True)
        return {role: value for role, value in values if role in letters}
