"""How the axes follow an edge that stands still, and what is left along it, in words and rows."""

from __future__ import annotations

from planner.inputs.edge_curve import CurveEdge
from planner.plan import Plan
from planner.report.wheel_words import held_words
from planner.section.size_on_path import size_on_path
from planner.setup_plan import Setup

HEADER = ("from the heel, mm", "turned, deg", "section radius, mm", "each land off by, mm")
"""On paper; a screen has less room."""
_NOTHING = 1e-3
"""A tenth of a millimetre is then a tenth of a micrometre of depth: not told."""
NARROW_HEADER = ("from the\nheel, mm", "turned,\ndeg", "section\nradius, mm", "lands off\nby, mm")


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
    job, machine, wheel = plan.job.model, plan.machine.model, setup.work.wheel
    held = plan.sizes_held
    if setup.followed is None or held is None:
        return ""
    size = size_on_path(job, machine, wheel, setup.work.face)
    planned = setup.followed.path.wheel
    words = f"These programs were written for a wheel of {2 * planned.radius_mm:.3f} mm over all"
    if held.rim_radii_mm is not None:
        words += f", its rim of {planned.rim_radius_mm:.3f} mm radius"
    words += ". "
    if size.per_wheel_radius >= _NOTHING:
        words += (
            "Touched off at the anchor, a wheel 0.1 mm larger in diameter goes up to "
            f"{50 * size.per_wheel_radius:.1f} µm too deep along this edge, and a smaller one as "
            "much too shallow. "
        )
    if size.per_rim_radius >= _NOTHING:
        words += (
            "A rim whose radius is 0.1 mm larger goes up to "
            f"{100 * size.per_rim_radius:.1f} µm too deep. "
        )
    return f"{words}By reckoning the lands hold with {held_words(wheel, held)}."


def station_rows(setup: Setup) -> list[tuple[str, ...]]:
    """What the wheel leaves at each station that is told; none where the edge is not followed."""
    left = setup.stations_left
    if left is None:
        return []
    return [
        (
            f"{x:.2f}",
            f"{heading + 0.0:.2f}",
            f"{radius:.2f}",
            f"{round(error, 3) + 0.0:+.3f}" if round(error, 3) else "0.000",
        )
        for x, heading, radius, error in zip(
            left.x_mm.tolist(),
            left.heading_deg.round(2).tolist(),
            left.radius_mm.tolist(),
            left.land_error_mm.tolist(),
            strict=True,
        )
    ]


def worst_words(setup: Setup) -> str:
    """Where the lands come out most otherwise than where the wheel lies square."""
    left = setup.stations_left
    if left is None:
        return ""
    n = left.worst
    error = float(left.land_error_mm[n])
    if abs(error) < 5e-4:
        return "The wheel leaves the same lands all along the edge."
    return (
        f"The wheel does not turn with the edge: {left.x_mm[n]:.1f} mm from the heel each land "
        f"comes out {abs(error):.3f} mm {'wider' if error > 0 else 'narrower'} than at the anchor."
    )
