"""How the axes follow an edge that stands still, and what is left along it, in words and rows."""

from __future__ import annotations

import math

import numpy as np

from planner.inputs.edge_curve import CurveEdge
from planner.kinematics.slide_flats import FlatLeft
from planner.kinematics.slide_lines import LinesLeft
from planner.plan import Plan
from planner.report.wheel_words import held_words
from planner.section.size_on_path import size_on_path
from planner.setup_plan import Setup

_HEADERS = {
    "relief": ("section radius, mm", "each land off by, mm"),
    "lines": ("least radius, mm", "ridges up to, µm"),
    "bevel": ("edge high by, mm", "shoulder high by, mm", "edge thickness, mm"),
    "lands": ("edge high by, mm", "shoulder high by, mm"),
}
"""What is told of each station, by what is ground."""
_NOTHING = 1e-3
"""A tenth of a millimetre is then a tenth of a micrometre of depth: not told."""


def _kind(setup: Setup) -> str:
    return "lines" if setup.work.in_lines else setup.work.operation


def header(setup: Setup) -> tuple[str, ...]:
    """What stands over ``station_rows``."""
    return ("from the heel, mm", "turned, deg", *_HEADERS[_kind(setup)])


def narrow_header(setup: Setup) -> tuple[str, ...]:
    """The same on two lines each, for a screen."""
    return tuple(_on_two_lines(words) for words in header(setup))


def _on_two_lines(words: str) -> str:
    """Broken in the middle."""
    before = words.rfind(" ", 0, len(words) // 2 + 3)
    return f"{words[:before]}\n{words[before + 1 :]}"


def anchor_words(setup: Setup) -> str:
    """Where on the edge program zero is; only for an edge that is followed."""
    assert setup.followed is not None
    path = setup.followed.path
    where = "the middle of its arc"
    if isinstance(path.course.edge, CurveEdge):
        where = "where it lies along the traverse"
    return f"{path.anchor_mm:.3f} mm from the heel along the edge, {where}"


def path_sentence(setup: Setup) -> str:
    """How the edge is followed; empty where it is not."""
    followed = setup.followed
    if followed is None:
        return ""
    letters = list(followed.path.letters.values())
    axes = f"{', '.join(letters[:-1])} and {letters[-1]}"
    how = "the blade standing still and the wheel keeping the direction of its axis"
    if followed.path.turn is not None:
        how = f"{followed.path.turn.letter} laying each place of it along the traverse"
    return (
        f"Axes {axes} follow the edge in {len(followed.ends_mm) - 1} blocks a pass, {how}. "
        f"Program zero is {anchor_words(setup)}. Feeds are those at the edge."
    )


def size_sentence(plan: Plan, setup: Setup) -> str:
    """What a wheel of another size does along an edge that is followed; empty where it is not."""
    followed, wheel = setup.followed, setup.work.wheel
    if followed is None:
        return ""
    in_one_piece = setup.work.operation == "relief" and not setup.work.in_lines
    held = plan.sizes_held if in_one_piece else None
    size = size_on_path(plan.job.model, plan.machine.model, wheel, setup.work.face)
    planned, does = followed.path.wheel, ""
    if size.per_wheel_radius >= _NOTHING:
        does += (
            "Touched off at the anchor, a wheel 0.1 mm larger in diameter goes up to "
            f"{50 * size.per_wheel_radius:.1f} µm too deep along this edge, and a smaller one as "
            "much too shallow. "
        )
    if size.per_rim_radius >= _NOTHING:
        does += (
            "A rim whose radius is 0.1 mm larger goes up to "
            f"{100 * size.per_rim_radius:.1f} µm too deep. "
        )
    if held is not None:
        does += f"By reckoning the lands hold with {held_words(wheel, held)}."
    if not does:
        return ""
    words = f"These programs were written for a wheel of {2 * planned.radius_mm:.3f} mm over all"
    if math.isfinite(planned.rim_radius_mm):
        words += f", its rim of {planned.rim_radius_mm:.3f} mm radius"
    return f"{words}. {does}".rstrip()


def station_rows(plan: Plan, setup: Setup) -> list[tuple[str, ...]]:
    """What the wheel leaves at each station that is told; none where the edge is not followed."""
    left = setup.stations_left
    if left is None:
        return []
    turned = left.heading_deg.round(2).tolist()
    places = [
        (f"{x:.2f}", f"{h + 0.0:.2f}") for x, h in zip(left.x_mm.tolist(), turned, strict=True)
    ]
    if isinstance(left, FlatLeft):
        edges = [f"{edge:.3f}" for edge in edge_along_mm(plan, setup)]
        told = [[_off(v) for v in left.edge_mm], [_off(v) for v in left.shoulder_mm], edges]
        told = told[: len(_HEADERS[setup.work.operation])]
    elif isinstance(left, LinesLeft):
        told = [[f"{r:.2f}" for r in left.radius_mm], [f"{h * 1000:.1f}" for h in left.ridge_mm]]
    else:
        told = [[f"{r:.2f}" for r in left.radius_mm], [_off(v) for v in left.land_error_mm]]
    return [(*place, *row) for place, *row in zip(places, *told, strict=True)]


def _off(error_mm: float) -> str:
    return f"{round(error_mm, 3) + 0.0:+.3f}" if round(error_mm, 3) else "0.000"


def edge_along_mm(plan: Plan, setup: Setup) -> list[float]:
    """Thickness of the edge at the told stations when a bevel is done, so far as its wheels go."""
    left = setup.stations_left
    assert isinstance(left, FlatLeft)
    so_far = plan.setups[: plan.setups.index(setup) + 1]
    # A bevel in stages, or a face ground anew, counts as it was left last.
    last = {s.relief.face: s for s in so_far if s.work.reaches_edge}
    half = {f.face: f.stock_mm for f in plan.section.faces}
    edge = 0.0 * left.edge_mm
    for face, stock in half.items():
        done = last.get(face)
        if done is None:
            edge = edge + stock
            continue
        there, edge = done.stations_left, edge + done.work.half_edge_mm
        if isinstance(there, FlatLeft):
            edge = edge + there.edge_mm / math.cos(done.work.face.angle_rad)
    return [float(mm) for mm in edge]


def worst_words(setup: Setup) -> str:
    """Where the work comes out most otherwise than where the wheel lies square."""
    left = setup.stations_left
    if left is None:
        return ""
    n = left.worst
    if isinstance(left, FlatLeft):
        return _worst_of_flat(left, n)
    if isinstance(left, LinesLeft):
        return _worst_of_lines(left, n)
    error = float(left.land_error_mm[n])
    if abs(error) < 5e-4:
        return "The wheel leaves the same lands all along the edge."
    return (
        f"The wheel does not turn with the edge: {left.x_mm[n]:.1f} mm from the heel each land "
        f"comes out {abs(error):.3f} mm {'wider' if error > 0 else 'narrower'} than at the anchor."
    )


def _higher(left: FlatLeft, n: int) -> str:
    if left.edge_mm[n] > left.shoulder_mm[n]:
        return "higher at the edge than at the shoulder"
    return "higher at the shoulder than at the edge"


def _worst_of_flat(left: FlatLeft, n: int) -> str:
    if float(left.off_mm[n]) < 5e-4:
        return "The wheel leaves the same face all along the edge."
    return (
        f"The wheel does not turn with the edge: {left.x_mm[n]:.1f} mm from the heel its face "
        f"leans {abs(float(left.lean_deg[n])):.3f} deg and comes out {left.off_mm[n]:.3f} mm "
        f"{_higher(left, n)}."
    )


def _worst_of_lines(left: LinesLeft, n: int) -> str:
    if float(np.ptp(left.radius_mm)) < 5e-3:
        return "The wheel leaves the same lines all along the edge."
    return (
        f"The wheel does not turn with the edge: each line touches its own place everywhere, "
        f"but {left.x_mm[n]:.1f} mm from the heel it leaves a radius of down to "
        f"{left.radius_mm[n]:.2f} mm, and ridges of up to {left.ridge_mm[n] * 1000:.1f} µm."
    )
