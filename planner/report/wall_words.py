"""The wall of a gouge around its sweep, in words and as data."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from planner.section.wall import GougeWall, RimFit


def wall_rows(wall: GougeWall) -> list[tuple[str, str]]:
    """(what, figure) for a table on the screen."""
    ends = f"±{wall.half_sweep_deg:.1f} deg"
    rows = [("inside and outside radius", f"{wall.inside_mm:.3f}, {wall.outside_mm:.3f} mm")]
    if wall.uneven_mm == 0.0:
        rows.append(("wall, matched inside", f"{wall.least_mm:.3f} mm, even"))
    else:
        rows += [
            ("greatest wall, flat inside", f"{wall.greatest_mm:.3f} mm at 0 deg"),
            ("least wall", f"{wall.least_mm:.3f} mm at {ends}"),
            ("edge land lost at the ends", f"{wall.land_lost_mm:.3f} mm"),
        ]
    if wall.off_centre_mm > 0.0:
        rows.append(("turn off centre, one sigma", f"up to -{wall.thinned_mm:.4f} mm at one end"))
    rows.append(("nearest rim, no roll", rim_words(wall.rim)))
    return rows


def rim_words(rim: RimFit | None) -> str:
    """A rim and the unevenness that it leaves."""
    if rim is None:
        return "none in the rack fits"
    left = f"+{rim.uneven_mm:.3f} mm at the ends" if rim.uneven_mm else "even"
    return f"{rim.wheel}, {rim.rim_mm:.2f} mm: {left}"


def wall_line(wall: GougeWall | None) -> list[str]:
    """One line of the set-up sheet; none where there is no such wall."""
    if wall is None:
        return []
    if wall.uneven_mm == 0.0:
        told = f"{wall.least_mm:.2f} mm, even around the sweep"
    else:
        told = (
            f"{wall.greatest_mm:.2f} mm in the middle of the sweep, {wall.least_mm:.2f} mm at "
            f"±{wall.half_sweep_deg:.0f} deg"
        )
    if wall.off_centre_mm > 0.0:
        told += f"; the turn off centre may thin one end by {wall.thinned_mm:.3f} mm"
    return [f"- wall: {told}"]


def wall_data(wall: GougeWall | None) -> dict[str, Any] | None:
    """The wall as in plan.json."""
    return None if wall is None else {**asdict(wall), "uneven_mm": wall.uneven_mm}
