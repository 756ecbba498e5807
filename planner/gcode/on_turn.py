"""The steps of an edge along an arc: its traverse made by the turn that carries the blade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from planner.gcode.program import Move, Note, Program, Step
from planner.kinematics.edge_path import EdgeMotion


def on_the_turn(program: Program, motion: EdgeMotion | None) -> Program:
    """The same motion by the turn, each feed move told by its time; a straight edge's as it is.

    The straight traverse is told its place once, with the first turn, and then stands still.
    """
    if motion is None:
        return program
    steps: list[Step] = []
    at: float | None = None
    for step in program.steps:
        if not isinstance(step, Move) or "traverse" not in step.to:
            steps.append(_told(step) if isinstance(step, Note) else step)
            continue
        along = step.to["traverse"]
        rest = {role: value for role, value in step.to.items() if role != "traverse"}
        to: Mapping[str, float] = {"turn": motion.turn_deg(along), **rest}
        if step.feed_mm_min is None:
            steps.append(Move(to if at is not None else {"traverse": 0.0, **to}))
        elif at is None:
            raise ValueError("a feed move along the edge from a place that is not told")
        else:
            steps.append(Move(to, minutes=abs(along - at) / step.feed_mm_min))
        at = along
    return replace(program, steps=tuple(steps))


def _told(note: Note) -> Note:
    """What is at 0 where the end of the edge is under the wheel: the turn."""
    if note.first_word != "zero":
        return note
    return replace(note, text=note.text.replace(", traverse 0 at ", ", turn 0 at "))
