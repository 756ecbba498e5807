"""What the set-up sheet says of bevels and lands: the touch-off, and what to measure after."""

from __future__ import annotations

from planner.plan import Plan
from planner.report.by_hand import cross_words
from planner.section.work import raised_lands_mm
from planner.setup_plan import Setup


def flat_touch_off(plan: Plan, setup: Setup) -> str:
    """How a flat wheel finds its zero."""
    work = setup.work
    cross = "cross" in setup.axes
    shift = "set the cross" if cross else "shift the blade in its stops"
    covers = (
        f"The flat must cover the whole bevel face, {work.face.width_mm:.2f} mm from edge to "
        f"shoulder: {shift} until its middle stands over the middle of the face"
    )
    machine = plan.machine.model
    if machine.fixture.hand_cross is not None:
        covers = cross_words(machine, setup, lambda mm: f"{mm:.3f} mm").removesuffix(".")
    if work.operation == "bevel" and not work.from_corner:
        where = (
            "Touch off on the bevel that is there, with ink, the wheel turned by hand, by the "
            "smallest steps: the whole face must mark"
        )
    elif work.operation == "bevel":
        where = (
            "Touch off on the corner of the stock, with ink, the wheel turned by hand, by the "
            "smallest steps: the mark is a bright line along the corner, as wide at heel and tip. "
            "Where it is not, the blade or the wheel does not lie along the traverse"
        )
    else:
        where = (
            "Touch off on the lands, with ink, the wheel turned by hand, by the smallest steps: "
            "both lands must mark. Where only one does, the tilt is off by the difference"
        )
    return f"{covers}. {where}."


def stage_table(plan: Plan, setup: Setup) -> list[str]:
    """What to measure after this operation, as rows of a table; empty where it is the lands."""
    work = setup.work
    if work.operation == "bevel":
        return _edge_rows(plan, setup)
    if work.operation == "relief" and work.after.outside_mm > 0:
        edge, shoulder = raised_lands_mm(work)
        return [
            f"Before the lands are taken down by {work.after.outside_mm:.3f} mm they stand at "
            f"{edge:.2f} mm (edge) and {shoulder:.2f} mm (shoulder), with this much steel to go."
        ]
    return []


def _edge_rows(plan: Plan, setup: Setup) -> list[str]:
    assert plan.edge is not None
    section = plan.section
    half = {f.face: f.stock_mm for f in section.faces}
    done: list[str] = []
    for each in plan.setups[: plan.setups.index(setup) + 1]:
        face, outside = each.work.face, each.work.after.outside_mm
        half[face.face] = face.raised(outside).at_edge_mm
        done.append(each.name.removeprefix("bevel-"))
    left, tolerance = sum(half.values()), plan.edge.tolerance_mm
    return [
        "| thickness at the edge | nominal, mm | limits, mm | heel | middle | tip |",
        "| --- | --- | --- | --- | --- | --- |",
        f"| ground so far: {', '.join(done)} | {left:.2f} | {max(left - tolerance, 0):.2f} to "
        f"{left + tolerance:.2f} | | | |",
    ]
