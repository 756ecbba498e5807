"""What is measured after a set-up: asked for, what the proof measured, and room to write."""

from __future__ import annotations

from collections.abc import Sequence

from planner.plan import Plan
from planner.proof.verdict import Lands, Verdict
from planner.report.papers.model import Part, Table, Text
from planner.report.papers.operation_steps import STATIONS, stage_parts
from planner.setup_plan import Setup


def measure_parts(plan: Plan, setup: Setup, verdict: Verdict) -> list[Part]:
    """The table of the lands, or of the edge thickness, or what is still to come off."""
    stage = stage_parts(plan, setup, verdict)
    if stage:
        return stage
    relief, tolerance = setup.relief, plan.job.model.relief.land_tolerance_mm
    asked = (("edge", relief.asked_edge_land_mm), ("shoulder", relief.asked_shoulder_land_mm))
    rows = []
    for blade in setup.row.stations if setup.in_row else (0,):
        for name, value in asked:
            limits = f"{max(value - tolerance, 0):.2f} to {value + tolerance:.2f}"
            found = proved_lands(verdict.lands, name, blade)
            label = f"{blade} {name}" if blade else name
            rows.append((label, f"{value:.2f}", limits, found, "", "", ""))
    header = ("land", "nominal, mm", "limits, mm", "as proved, mm", *STATIONS)
    parts: list[Part] = [Table(header, tuple(rows), (14, 11, 15, 18, 14, 14, 14), to_write_in=True)]
    if abs(relief.aside_mm) >= 0.005:
        parts.append(
            Text(
                f"With the settings that there are: edge land {relief.edge_land_mm:.2f}, shoulder "
                f"land {relief.shoulder_land_mm:.2f} mm."
            )
        )
    return parts


def proved_lands(lands: Sequence[Lands], name: str, row_station: int = 0) -> str:
    """From least to most along the edge, as measured on the steel that the program leaves.

    ``row_station`` 0 takes every blade.
    """
    found = [
        at.edge_land_mm if name == "edge" else at.shoulder_land_mm
        for at in lands
        if row_station in (0, at.row_station)
    ]
    if not found:
        return ""
    low, high = f"{min(found):.3f}", f"{max(found):.3f}"
    return low if low == high else f"{low} to {high}"
