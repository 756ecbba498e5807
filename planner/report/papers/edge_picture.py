"""The drawing of an edge that is followed: its line as it is clamped, with the anchor and ends."""

from __future__ import annotations

import math

import numpy as np

from planner.inputs.edge_paths import ArcEdge
from planner.plan import Plan
from planner.report.papers.drawing import Drawing, Point
from planner.setup_plan import Setup

_WIDTH_MM = 182.0
_SIDE_MM, _ABOVE_MM, _BELOW_MM = 30.0, 9.0, 16.0
"""Room for words."""
_MOST_HIGH_MM = 42.0
_SCALES = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
_PLACES = 181
_TICK_MM = 1.8
_ARROW_MM = 14.0


def edge_picture(plan: Plan, setup: Setup) -> tuple[Drawing, float] | None:
    """The edge as the straight axes meet it, and its scale; None where it is not followed.

    The traverse runs to the right in the set-up's own sense, as the wheel goes. An arc is seen
    along the cross, the infeed upward; a curve along the infeed, the cross upward, a turn at 0.
    """
    followed, left = setup.followed, setup.stations_left
    if followed is None or left is None:
        return None
    path = followed.path
    edge = path.course.edge
    seen_up = 2 if isinstance(edge, ArcEdge) else 1

    def places(s_mm: np.ndarray) -> np.ndarray:
        found = path.course.at(s_mm).edge_mm @ path.axes.T
        return np.asarray(found[..., [0, seen_up]])

    line = places(np.linspace(0.0, edge.length_mm, _PLACES))
    low, high = line.min(axis=0), line.max(axis=0)
    fits = min(
        (_WIDTH_MM - 2 * _SIDE_MM) / (high[0] - low[0]),
        _MOST_HIGH_MM / max(float(high[1] - low[1]), 1e-6),
    )
    scale = max((s for s in _SCALES if s <= fits), default=fits)
    size = (high - low) * scale
    origin = np.array([(_WIDTH_MM - size[0]) / 2, _BELOW_MM]) - low * scale
    drawing = Drawing(
        _WIDTH_MM,
        float(size[1]) + _ABOVE_MM + _BELOW_MM,
        f"The edge of set-up {setup.name} as the axes follow it, from heel to tip",
    )

    def on_paper(s_mm: float) -> Point:
        x, y = (origin + places(np.array([s_mm]))[0] * scale).tolist()
        return x, y

    drawing.line([(x, y) for x, y in (origin + line * scale).tolist()], "thick")
    for s in left.x_mm.tolist():
        x, y = on_paper(s)
        drawing.line(((x, y - _TICK_MM / 2), (x, y + _TICK_MM / 2)))
    for name, s in (("heel", 0.0), ("tip", edge.length_mm)):
        x, y = on_paper(s)
        inward = x > _WIDTH_MM / 2
        at = (x + (2.0 if inward else -2.0), y - 0.9)
        drawing.word(at, name, "start" if inward else "end", bold=True)
    x, y = on_paper(path.anchor_mm)
    drawing.line(((x, y - 4.0), (x, y + 4.0)), "chain")
    drawing.word((x, y + 5.0), "anchor: zero", "middle", bold=True)
    _axes(drawing, plan, setup, seen_up)
    return drawing, scale


def _axes(drawing: Drawing, plan: Plan, setup: Setup, seen_up: int) -> None:
    """The two axes that lie in the drawing, the way that their words grow."""
    assert setup.followed is not None
    corner = (8.0, 4.0)
    for role, way in (("traverse", 0), (("cross", "infeed")[seen_up - 1], 1)):
        letter = setup.followed.path.letters.get(role)
        if letter is None:
            continue
        length = _ARROW_MM if way == 0 else 0.7 * _ARROW_MM
        far = (corner[0] + length, corner[1]) if way == 0 else (corner[0], corner[1] + length)
        inverted = plan.machine.model.axes[letter].invert
        drawing.arrow(*((far, corner) if inverted else (corner, far)))
        at = (far[0] + 1.5, far[1] - 0.9) if way == 0 else (far[0] + 1.5, far[1] - 1.5)
        drawing.word(at, f"{letter}+")


def chord_mm(setup: Setup) -> float:
    """From heel to tip straight across, as a rule laid over the clamped edge reads it."""
    assert setup.followed is not None
    course = setup.followed.path.course
    ends = course.at(np.array([0.0, course.edge.length_mm])).edge_mm
    return math.dist(*ends.tolist())
