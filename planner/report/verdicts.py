"""A proof's verdict as data and as lines."""

from __future__ import annotations

from typing import Any

from planner.proof.prove import Bevel, Lands, Verdict
from planner.report.faults import fault_data, fault_lines
from planner.report.plan_json import rounded
from planner.report.wrapping import wrapped


def verdict_data(name: str, verdict: Verdict) -> dict[str, Any]:
    """A verdict as it stands in plan.json and under ``prove --json``."""
    return dict(
        rounded(
            {
                "program": name,
                "sha256": verdict.sha256,
                "ok": verdict.ok,
                "kind": verdict.kind,
                "face": verdict.face,
                "wheel": verdict.wheel,
                "lands_mm": [
                    {
                        "station": at.station,
                        "x_mm": at.x_mm,
                        "edge_land_mm": at.edge_land_mm,
                        "shoulder_land_mm": at.shoulder_land_mm,
                        "depth_mm": at.depth_mm,
                    }
                    | ({"row_station": at.row_station} if at.row_station else {})
                    for at in verdict.lands
                ],
                **_bevels_data(verdict),
                "faults": [fault_data(f) for f in verdict.faults],
            }
            | ({"stations": list(verdict.stations)} if verdict.stations else {})
            | _before_data(verdict)
        )
    )


def _bevels_data(verdict: Verdict) -> dict[str, Any]:
    """The bevel measured at each station, where the program grinds one."""
    if not verdict.bevels:
        return {}
    return {
        "bevels_mm": [
            {
                "station": at.station,
                "x_mm": at.x_mm,
                "edge_thickness_mm": at.edge_thickness_mm,
                "highest_mm": at.highest_mm,
                "lowest_mm": at.lowest_mm,
            }
            | ({} if at.ridge_mm is None else {"ridge_mm": at.ridge_mm, "gouge_mm": at.gouge_mm})
            | ({"row_station": at.row_station} if at.row_station else {})
            for at in verdict.bevels
        ]
    }


def _before_data(verdict: Verdict) -> dict[str, Any]:
    """The faults of the program that was broken off, where there are any."""
    if not verdict.faults_before:
        return {}
    found = verdict.faults_before
    return {"faults_before": [fault_data(f) for f in found]}


def verdict_lines(
    name: str, verdict: Verdict, width: int = 100, *, after: str = "", passes: int = 0
) -> str:
    """A verdict for the screen: the first fault first, by line number.

    ``after`` names the program that was broken off, ``passes`` how many of its passes are whole.
    """
    found = [(after, f) for f in verdict.faults_before] + [(name, f) for f in verdict.faults]
    if found:
        lines = fault_lines(found)
        count = len(found)
        lines.append(f"{count} fault{'s' if count > 1 else ''}: do not run this program.")
        return "\n".join(wrapped(lines, width)) + "\n"
    if verdict.kind == "air run":
        lines = [f"{name}: a safe air run: nothing touches, wheel and coolant stay off."]
        return "\n".join(wrapped(lines, width)) + "\n"
    behind = f" behind the first {passes} of {after}" if after else ""
    row, wide = "", 14
    if verdict.stations:
        wide = 16
        row = f"Stations of the row: {', '.join(str(n) for n in verdict.stations)}. "
    lines = [
        f"{name}: proved{behind}. {row}Set-up {verdict.setup}, face {verdict.face}, "
        f"wheel {verdict.wheel}, {len(verdict.cuts)} passes over the steel.",
    ]
    lines += _bevel_lines(verdict, wide) if verdict.bevels else _land_lines(verdict, wide)
    lines.append(f"  SHA-256 {verdict.sha256}")
    return "\n".join(wrapped(lines, width)) + "\n"


def _land_lines(verdict: Verdict, wide: int) -> list[str]:
    return [
        f"  {'station':{wide}} {'edge land':>10} {'shoulder land':>14} {'depth':>8}   mm",
        *(
            f"  {_place(at):{wide}} {at.edge_land_mm:10.3f} {at.shoulder_land_mm:14.3f} "
            f"{at.depth_mm:8.4f}"
            for at in verdict.lands
        ),
    ]


def _bevel_lines(verdict: Verdict, wide: int) -> list[str]:
    bulges = verdict.bevels[0].ridge_mm is not None
    over = f" {'over arc':>10} {'below it':>10}" if bulges else ""
    return [
        f"  {'station':{wide}} {'edge thickness':>14} {'above plane':>12} {'below':>8}{over}   mm",
        *(
            f"  {_place(at):{wide}} {at.edge_thickness_mm:14.3f} {max(at.highest_mm, 0.0):12.4f} "
            f"{max(-at.lowest_mm, 0.0):8.4f}{_over_arc(at)}"
            for at in verdict.bevels
        ),
    ]


def _over_arc(at: Bevel) -> str:
    if at.ridge_mm is None:
        return ""
    return f" {max(at.ridge_mm, 0.0):10.4f} {at.gouge_mm:10.4f}"


def _place(at: Lands | Bevel) -> str:
    """Where it was measured; in a row with the number of the blade's station in front."""
    return f"{at.row_station} {at.station}" if at.row_station else at.station
