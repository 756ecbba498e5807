"""What a set-up sheet says of a tilt that is swept from facet to facet."""

from __future__ import annotations

from planner.plan import Plan
from planner.report.papers.model import Heading, Part, Table, Text
from planner.report.papers.words import axis_word, tilt_word
from planner.report.ridge_words import about_ridges
from planner.setup_plan import Setup


def swept_parts(plan: Plan, setup: Setup) -> list[Part]:
    """Where each facet has the axes stand, and how far it strays; nothing where none is swept."""
    if setup.sweep is None:
        return []
    header = [
        "facet",
        "tilt",
        "infeed",
        "depth, mm",
        "wide until the next, mm",
        "strays, µm (one sigma)",
    ]
    crosses = "cross" in setup.axes
    if crosses:
        header.insert(2, "cross")
    rows = []
    for number, (stand, spread) in enumerate(
        zip(setup.sweep.stands, setup.facet_spreads, strict=True), 1
    ):
        row = [
            f"{number}",
            tilt_word(plan, setup, stand.tilt_deg),
            axis_word(plan, setup, "infeed", stand.infeed_mm),
            f"{stand.depth_mm:.4f}",
            f"{stand.work.facet.width_mm:.3f}",
            f"{spread.sd_mm * 1000:.1f}",
        ]
        if crosses:
            row.insert(2, axis_word(plan, setup, "cross", stand.cross_mm))
        rows.append(tuple(row))
    return [
        Heading("The facets"),
        Text(about_ridges(setup)),
        Table(tuple(header), tuple(rows), (1.0,) * len(header)),
        Text(
            "Infeeds without what is made up for wear. Depths are those of the flat below the "
            "corner of the stock, normal to it. Tilts, crosses and infeeds hold only if the axis "
            "of the tilt lies where the machine file says: grind a scrap blade first, and look "
            "whether the ridges come out even."
        ),
    ]
