"""What the set-up sheet says of bevels and lands: the touch-off, and what to measure after."""

from __future__ import annotations

from planner.inputs.edge_paths import ArcEdge
from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.by_hand import cross_words
from planner.report.papers.model import Part, Table, Text
from planner.report.path_words import anchor_words
from planner.report.ridge_words import about_ridges
from planner.section.bulge_work import BulgeWork, FacetWork
from planner.section.work import raised_lands_mm
from planner.setup_plan import Setup

STATIONS = ("heel", "middle", "tip")


def flat_touch_off(plan: Plan, setup: Setup) -> str:
    """How a flat wheel finds its zero."""
    work = setup.work
    if isinstance(work, BulgeWork):
        off = ""
        if isinstance(plan.job.model.edge, ArcEdge):
            off = "Where it is not, the axis of the arc does not stand on that of the turn. "
        return (
            "Touch off on the corner of the stock, with ink, the wheel turned by hand, by the "
            "smallest steps: the mark is a bright line along the corner, as wide at heel and tip. "
            f"{off}The wheel's lowest place must stand straight over the corner: find two crosses, "
            "one to either side, where it bares at the same infeed, set the cross half way between "
            "them, and touch off there."
        )
    cross = "cross" in setup.axes
    shift = "set the cross" if cross else "shift the blade in its stops"
    covers = (
        f"The flat must cover the whole bevel face, {work.face.width_mm:.2f} mm from edge to "
        f"shoulder: {shift} until its middle stands over the middle of the face"
    )
    if isinstance(work, FacetWork):
        beside = (work.facet.shoulder_side - work.facet.edge_side) * work.facet.depth_mm / 2
        covers = (
            f"The flat that is ground comes out {work.facet.width_mm:.2f} mm wide: {shift} until "
            f"the wheel's middle stands {abs(beside):.2f} mm beyond the corner that it bares on, "
            f"to the {'spine' if beside > 0 else 'edge'}, and the wheel covers both ends"
        )
    machine = plan.machine.model
    if machine.fixture.hand_cross is not None:
        covers = cross_words(machine, setup, lambda mm: f"{mm:.3f} mm").removesuffix(".")
    place = f"at the anchor, {anchor_words(setup)}, " if setup.followed is not None else ""
    if work.operation == "bevel" and not work.from_corner:
        where = (
            f"Touch off {place}on the bevel that is there, with ink, the wheel turned by hand, by "
            "the smallest steps: the whole face must mark"
        )
    elif work.before.flats:
        where = (
            f"Touch off {place}on the corner between the flat that was ground before and the "
            "flank, with ink, the wheel turned by hand, by the smallest steps: the mark is a "
            "bright line along it, as wide at heel and tip"
        )
    elif work.operation == "bevel" and setup.followed is not None:
        where = (
            f"Touch off {place}on the corner of the stock, with ink, the wheel turned by hand, by "
            "the smallest steps: the mark is a bright line along the corner"
        )
    elif work.operation == "bevel":
        where = (
            "Touch off on the corner of the stock, with ink, the wheel turned by hand, by the "
            "smallest steps: the mark is a bright line along the corner, as wide at heel and tip. "
            "Where it is not, "
        )
        if isinstance(plan.job.model.edge, ArcEdge):
            where += "the axis of the arc does not stand on that of the turn"
        else:
            where += "the blade or the wheel does not lie along the traverse"
    else:
        where = (
            f"Touch off {place}on the lands, with ink, the wheel turned by hand, by the smallest "
            "steps: both lands must mark. Where only one does, the tilt is off by the difference"
        )
    return f"{covers}. {where}."


def ground_so_far(setup: Setup) -> str:
    """What a set-up that was broken off has ground already, where a wheel can be brought down."""
    return {
        "relief": "the bottom of the hollow",
        "bevel": "the flat that is ground so far",
        "lands": "the lands",
    }[setup.work.operation]


def stage_parts(plan: Plan, setup: Setup, verdict: Verdict) -> list[Part]:
    """What to measure after this operation; nothing where it is the finished lands."""
    work = setup.work
    if work.operation == "bevel":
        # Of a swept tilt it stands with its facets (swept.py).
        told = isinstance(work, FacetWork | BulgeWork) and setup.sweep is None
        words = [Text(f"{_which_facet(plan, setup)}{about_ridges(setup)}")] if told else []
        return [*words, _edge_table(plan, setup, verdict)]
    if work.operation == "relief" and work.after.outside_mm > 0:
        edge, shoulder = raised_lands_mm(work)
        proved = [(at.edge_land_mm, at.shoulder_land_mm) for at in verdict.lands]
        lows, highs = (
            [min(x) for x in zip(*proved, strict=True)],
            [max(x) for x in zip(*proved, strict=True)],
        )
        return [
            Text(
                f"Before the lands are taken down by {work.after.outside_mm:.3f} mm they stand at "
                f"{edge:.2f} mm (edge) and {shoulder:.2f} mm (shoulder), with this much steel to "
                f"go. As proved, that steel taken off: edge land {lows[0]:.3f} to {highs[0]:.3f} "
                f"mm, shoulder land {lows[1]:.3f} to {highs[1]:.3f} mm."
            )
        ]
    return []


def _which_facet(plan: Plan, setup: Setup) -> str:
    if not isinstance(setup.work, FacetWork):
        return ""
    face = setup.work.relief.face
    of_face = [
        s.name for s in plan.setups if isinstance(s.work, FacetWork) and s.work.relief.face == face
    ]
    return f"Facet {of_face.index(setup.name) + 1} of {len(of_face)}. "


def edge_thickness_mm(plan: Plan, setup: Setup) -> float:
    """Thickness at the edge when a set-up is done."""
    section = plan.section
    half = {f.face: f.stock_mm for f in section.faces}
    for each in plan.setups[: plan.setups.index(setup) + 1]:
        half[each.work.face.face] = each.work.half_edge_mm
    return sum(half.values())


def _proved_words(setup: Setup, verdict: Verdict) -> str:
    """How the face stands: to its plane, or to the arc of one that bulges."""
    high = max(at.highest_mm for at in verdict.bevels)
    low = min(at.lowest_mm for at in verdict.bevels)
    ridges = [at.ridge_mm for at in verdict.bevels if at.ridge_mm is not None]
    text = f"face {low:+.4f} to {high:+.4f} of its plane"
    if isinstance(setup.work, BulgeWork):
        text = f"face {low:+.4f} to {high:+.4f} of its arc"
    if not ridges:
        return text
    text = f"{text}, ridges so far {max(ridges):.4f} over the arc"
    if isinstance(setup.work, BulgeWork | FacetWork):
        text += f" ({setup.work.ridge_reached_mm:.4f} by the plan, and what the passes leave)"
    return text


def _edge_table(plan: Plan, setup: Setup, verdict: Verdict) -> Table:
    assert plan.edge is not None
    done = [each.name.removeprefix("bevel-") for each in plan.setups]
    done = done[: plan.setups.index(setup) + 1]
    left, tolerance = edge_thickness_mm(plan, setup), plan.edge.tolerance_mm
    row = (
        f"ground so far: {', '.join(done)}",
        f"{left:.2f}",
        f"{max(left - tolerance, 0):.2f} to {left + tolerance:.2f}",
        _proved_words(setup, verdict),
    )
    return Table(
        ("thickness at the edge", "nominal, mm", "limits, mm", "as proved, mm", *STATIONS),
        ((*row, "", "", ""),),
        (16, 10, 13, 18, 11, 11, 11),
        to_write_in=True,
    )
