"""The wheel's path as CSV: every move of a program as it was read back."""

from __future__ import annotations

import csv
import io
import math

from planner.proof.verdict import Verdict
from planner.report.drawings.shapes import wheel_at
from planner.setup_plan import Setup

HEADINGS = (
    "line",
    "feed move (1) or rapid (0)",
    "traverse (mm)",
    "cross (mm)",
    "infeed (mm)",
    "tilt (deg)",
    "along the edge from the heel (mm)",
    "wheel middle y (mm)",
    "wheel middle z (mm)",
    "depth below the face at zero (mm)",
)
_DECIMALS = 6


def path_csv(setup: Setup, verdict: Verdict) -> str:
    """Where the wheel stands after each move, in the touch frame and on the blade.

    Of a row, along the edge of its first station. Depth is normal to the face that is ground, below
    zero where the wheel is clear of it; where the tilt is swept, of the flat below the corner of
    the stock, normal to it as it then stands.
    """
    frame, face = setup.frame, setup.work.face
    side = 1.0 if face.face == "A" else -1.0
    normal = (-math.sin(face.angle_rad), side * math.cos(face.angle_rad))
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(HEADINGS)
    for at in verdict.positions:
        y, z = wheel_at(setup, at)
        away = (y - frame.origin_yz_mm[0]) * normal[0] + (z - frame.origin_yz_mm[1]) * normal[1]
        if setup.sweep is not None:
            away = -setup.sweep.below_stock_mm(at.tilt_deg, at.cross_mm, at.infeed_mm)
        figures = (
            at.traverse_mm,
            at.cross_mm,
            at.infeed_mm,
            at.tilt_deg,
            frame.x_at_zero_mm + frame.x_per_traverse * at.traverse_mm,
            y,
            z,
            -away,
        )
        table.writerow([at.line, int(not at.rapid), *(_figure(value) for value in figures)])
    return text.getvalue()


def _figure(value: float) -> str:
    return f"{round(value, _DECIMALS) + 0.0:.{_DECIMALS}f}"
