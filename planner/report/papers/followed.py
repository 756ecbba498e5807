"""What a set-up sheet says of an edge that the straight axes follow."""

from __future__ import annotations

from planner.plan import Plan
from planner.report.papers.clamping import scale_words
from planner.report.papers.edge_picture import chord_mm, edge_picture
from planner.report.papers.model import Heading, Part, Picture, Table, Text
from planner.report.papers.words import written_word
from planner.report.path_words import header, path_sentence, station_rows, worst_words
from planner.setup_plan import Setup

_ROLES = ("traverse", "cross", "infeed")


def followed_parts(plan: Plan, setup: Setup) -> list[Part]:
    """How the axes follow the edge, where the wheel bares on it, and what is left along it."""
    followed, left = setup.followed, setup.stations_left
    if followed is None or left is None:
        return []
    stands = followed.stands(followed.path.unrolled_mm(left.x_mm), 0.0, 0.0)
    rows = [
        (
            row[0],
            " ".join(
                written_word(plan, setup, role, float(at))
                for role, at in zip((*_ROLES, "turn"), stand, strict=True)
                if role in followed.path.letters
            ),
            *row[1:],
        )
        for row, stand in zip(station_rows(plan, setup), stands, strict=True)
    ]
    names = header(setup)
    widths = (1.2, 2.6, *(1.0 for _ in names[1:]))
    return [
        Heading("Along the edge"),
        Text(f"{path_sentence(setup)} {worst_words(setup)}"),
        *_edge_drawn(plan, setup),
        Table((names[0], "the wheel bares at", *names[1:]), tuple(rows), widths),
        Text(
            "After touch-off and before the first pass, wheel turned by hand: come down on places "
            "of this table from above and see that it bares there. Where it does not, the edge "
            "lies otherwise than the job says."
        ),
    ]


def _edge_drawn(plan: Plan, setup: Setup) -> list[Part]:
    drawn = edge_picture(plan, setup)
    if drawn is None:
        return []
    drawing, scale = drawn
    return [
        Picture(
            drawing,
            f"The edge as it is clamped, {scale_words(scale)}; ticks at the places of the table. "
            f"From heel to tip straight across: {chord_mm(setup):.2f} mm. The arrows show which "
            "way the wheel goes where a word of the program grows.",
        )
    ]
