"""The files of ``draw``."""

from __future__ import annotations

from collections.abc import Mapping

from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.drawings.dxf import section_dxf
from planner.report.drawings.path_csv import path_csv
from planner.report.drawings.shapes import section_drawing
from planner.report.drawings.to_scale import section_svg_to_scale


def drawing_files(plan: Plan, verdicts: Mapping[str, Verdict]) -> dict[str, bytes]:
    """Section as DXF and SVG, and a path for each set-up."""
    drawing = section_drawing(plan, verdicts)
    files = {
        "section.dxf": section_dxf(drawing),
        "section.svg": section_svg_to_scale(drawing).encode(),
    }
    for setup in plan.setups:
        name = setup.program.removesuffix(".ngc").replace("setup-", "path-", 1)
        files[f"{name}.csv"] = path_csv(setup, verdicts[setup.program]).encode("ascii")
    return files
