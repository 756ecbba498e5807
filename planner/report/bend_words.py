"""A blank that is bent after the grind: both its sections, in words and as data."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from planner.section.bent import BentRelief, BentSection


def bend_rows(bent: BentSection) -> list[tuple[str, str]]:
    """(what, figure) for a table on the screen."""
    rows = [
        ("straight edge that is ground", f"{bent.blank_length_mm:.2f} mm"),
        ("edge after the bend", f"{bent.edge_length_mm:.2f} mm on {bent.edge_radius_mm:.2f} mm"),
        ("bend, middle of the stock", f"{bent.radius_mm:.2f} mm, {bent.angle_deg:.0f} deg"),
        ("made up for, of the bound", f"{bent.share:.0%}, Poisson's ratio {bent.poisson:.2f}"),
    ]
    for relief in bent.reliefs:
        what = "dish" if relief.face == "A" else "crown"
        rows += [
            (f"face {relief.face}: ground depth", f"{relief.ground_mm:.4f} mm"),
            (f"face {relief.face}: depth after the bend", f"{relief.bent_mm:.4f} mm"),
            (f"face {relief.face}: it may come out", _between(relief)),
            (f"face {relief.face}: bound on its {what}", f"{abs(relief.bound_mm):.4f} mm"),
            ("the same, if the steel flows", f"{abs(relief.flow_bound_mm):.4f} mm"),
        ]
    return rows


def _between(relief: BentRelief) -> str:
    low, high = sorted((relief.ground_mm, relief.ground_mm + relief.bound_mm))
    return f"{low:.4f} to {high:.4f} mm"


def bend_lines(bent: BentSection | None, face: str) -> list[str]:
    """Lines of a set-up sheet; none where the blade is not bent afterwards."""
    if bent is None:
        return []
    lines = [
        f"- a straight blank, {bent.blank_length_mm:.2f} mm of edge; bend it afterwards to "
        f"{bent.edge_radius_mm:.1f} mm at the edge, {bent.angle_deg:.0f} deg, face A outside"
    ]
    relief = next((r for r in bent.reliefs if r.face == face), None)
    if relief is not None:
        lines.append(
            f"- relief {relief.ground_mm:.4f} mm deep in the blank; {_between(relief)} after the "
            f"bend, {relief.bent_mm:.4f} mm if it does {bent.share:.0%} of its bound"
        )
    return lines


def bend_data(bent: BentSection | None) -> dict[str, Any] | None:
    """Both sections as in plan.json; the one that is ground stands under ``section``."""
    return None if bent is None else asdict(bent)
