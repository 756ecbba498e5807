"""What ``--scatter`` shows, and its data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from rich import box
from rich.table import Table
from rich.text import Text

from planner.scatter.scatter import LandScatter, Scatter

if TYPE_CHECKING:
    from rich.console import RenderableType

METHOD = (
    "first_order: V(E(land | cause)) / V(land), Saltelli and others 2010; total: E(V(land | all "
    "other causes)) / V(land), Jansen 1999; share_without: the same blades with the cause frozen "
    "at nothing"
)
_LEAST_PART = 0.0005


def _table(title: str, *columns: tuple[str, bool]) -> Table:
    table = Table(
        title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False
    )
    for name, figures in columns:
        side = "right" if figures else "left"
        table.add_column(name, justify=side, no_wrap=figures, vertical="bottom")  # type: ignore[arg-type]
    return table


def scatter_parts(found: Scatter) -> Iterable[RenderableType]:
    """The spread of every land, which error matters, and the share of blades in tolerance."""
    yield _lands_table(found)
    yield _causes_table(found)
    low, high = found.interval
    yield Text(
        f"{found.share:.1%} of {found.blades} blades drawn (seed {found.seed}) have every land in "
        f"tolerance; so many blades fix that to {low:.1%} to {high:.1%}. By the straight line it "
        f"is {found.linear_share:.1%}."
    )
    if found.matters_most:
        best, share = found.without[0]
        yield Text(
            f"Most of the spread comes from: {found.matters_most}. What would help most: {best}; "
            f"without its error {share:.1%}."
        )
    for line in _warnings(found):
        yield Text(line)


def _lands_table(found: Scatter) -> Table:
    table = _table(
        "Lands of the blades drawn, mm",
        ("", False),
        *((name, True) for name in ("asked", "mean", "sigma", "sigma by the\nstraight line")),
        ("95 % of them", True),
    )
    for land in found.lands:
        table.add_row(
            f"face {land.face}, {land.land} land",
            f"{land.asked_mm:.3f}",
            f"{land.mean_mm:.3f}",
            f"{land.sd_mm:.3f}",
            f"{land.linear_sd_mm:.3f}",
            f"{land.low_mm:.3f} to {land.high_mm:.3f}",
        )
    return table


def _causes_table(found: Scatter) -> Table:
    """Of the face with the land that spreads most."""
    face = found.widest.face
    lands = [land for land in found.lands if land.face == face]
    table = _table(
        f"Which error matters, face {face}",
        ("cause", False),
        ("drawn as", False),
        *((f"% of\n{land.land}\nland's\nvariance", True) for land in lands),
        ("% in\ntolerance\nwithout it", True),
    )
    parts = [_parts_of(land) for land in lands]
    without = dict(found.without)
    for name in sorted(parts[0], key=lambda n: -max(p[n] for p in parts)):
        if max(p[name] for p in parts) >= _LEAST_PART:
            table.add_row(
                name,
                found.distributions[name],
                *(f"{max(p[name], 0.0) * 100:.1f}" for p in parts),
                f"{without[name] * 100:.1f}",
            )
    return table


def _parts_of(land: LandScatter) -> dict[str, float]:
    return {part.name: part.first_order for part in land.parts}


def _warnings(found: Scatter) -> Iterable[str]:
    if not found.straight_line_holds:
        yield (
            "The straight line does not hold here: the errors are not small beside the relief. "
            "Go by the blades drawn."
        )
    if found.not_ground:
        yield f"{found.not_ground} of them have a face that the wheel does not reach at all."
    if found.edge_gone:
        yield (
            f"{found.edge_gone} of them have a relief so wide that it takes the edge itself back; "
            "such a land counts as below 0."
        )


def scatter_data(found: Scatter) -> dict[str, Any]:
    """The scatter as data."""
    return {
        "blades": found.blades,
        "seed": found.seed,
        "share_in_tolerance": found.share,
        "share_95_from": found.interval[0],
        "share_95_to": found.interval[1],
        "linear_share_in_tolerance": found.linear_share,
        "straight_line_holds": found.straight_line_holds,
        "matters_most": found.matters_most,
        "not_ground": found.not_ground,
        "edge_gone": found.edge_gone,
        "method": METHOD,
        "lands": [
            {
                "face": land.face,
                "land": land.land,
                "asked_mm": land.asked_mm,
                "mean_mm": land.mean_mm,
                "sd_mm": land.sd_mm,
                "linear_sd_mm": land.linear_sd_mm,
                "from_95_mm": land.low_mm,
                "to_95_mm": land.high_mm,
                "causes": [
                    {"cause": p.name, "first_order": p.first_order, "total": p.total}
                    for p in land.parts
                ],
            }
            for land in found.lands
        ],
        "causes": [
            {"cause": name, "drawn_as": found.distributions[name], "share_without": share}
            for name, share in found.without
        ],
    }
