"""Programs for bevels and lands by a flat that follows an edge, from closed forms.

Nothing of the planner or of the proof. The blade is that of ``by_hand``: bevels at 10 deg from
stock of 2.2 mm, lands of 1.2 and 1.4 mm beside a relief by a form of 20 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.proof.by_hand import BEVEL, BEVEL_MM, FACE_MM, FLAT, OPERATIONS_JOB, to_depth
from tests.proof.conftest import changed
from tests.proof.followed_programs import MACHINE, TURNING, Floats, Made, turned

WIDE: dict[str, Any] = {
    **FLAT,
    "width": "20 mm",
    "infeed": {"rough": "0.35 mm", "finish": "0.005 mm"},
}
RACK = [MACHINE["rack"][0], {**MACHINE["rack"][1], "name": "form"}, WIDE]
STILL = changed(MACHINE, {"rack": RACK, "limits.normal_force": "120 N"})
LAID = changed(TURNING, {"rack": RACK, "limits.normal_force": "120 N"})
WHEEL_MM = 75.0
GENTLE = {"path": "curve", "arcs": [{"length": "60 mm", "radius": "180 mm"}]}
MIDDLING = {"path": "curve", "arcs": [{"length": "60 mm", "radius": "110 mm"}]}
LEANING = {"path": "curve", "arcs": [{"length": "60 mm", "radius": "85 mm"}]}
STRONG = {"path": "curve", "arcs": [{"length": "60 mm", "radius": "62 mm"}]}
BEVEL_PASSES = tuple(round(each, 4) for each in to_depth(0.33, BEVEL_MM, 1))
LANDS_PASSES = tuple(round(each, 4) for each in to_depth(0.005, 0.01, 1))


def flat_job(edge: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The blade of ``by_hand`` on such an edge."""
    return changed(OPERATIONS_JOB, {"blade.edge": edge, **changes})


@dataclass(frozen=True)
class Flat(Made):
    """A path for a flat across the edge, its middle over that of the finished face."""

    setup: str = "bevel-A"
    high_mm: float = BEVEL_MM + 0.01
    """Of the plane at zero over the finished face."""
    middle_mm: float = FACE_MM / 2.0
    bevel_rad: float = BEVEL
    edge_off: float = 0.0
    """Over 0.1 mm, where the face as it is wanted meets y = 0."""

    def centre(self, s: Floats, depth: Floats) -> Floats:
        """The wheel's middle: a radius over the place, square to the axis."""
        edge, _, y, z = self.sections(s)
        cosine, sine = math.cos(self.bevel_rad), math.sin(self.bevel_rad)
        n = -sine * y + self.side * cosine * z
        along = cosine * y + self.side * sine * z
        held = math.radians(self.tilt_deg)
        w = np.array([[0.0, math.cos(held), self.side * math.sin(held)]])
        if self.turn:
            w = turned(w, self.heading(s))
        lean = np.sum(n * w, axis=1)[:, None]
        u = (n - lean * w) / np.sqrt(1.0 - lean**2)
        corner = edge + self.side * (0.1 + self.edge_off) * z
        touched = corner + self.middle_mm * along + (self.high_mm - depth)[:, None] * n
        found: Floats = touched + WHEEL_MM * u
        return found


def lean(heading_rad: float) -> float:
    """By hand: the face's normal along the wheel's axis over the face's own way along it."""
    n = math.sin(BEVEL) * math.cos(BEVEL) * (1.0 - math.cos(heading_rad))
    along = math.cos(BEVEL) ** 2 * math.cos(heading_rad) + math.sin(BEVEL) ** 2
    return n / along


def bevel(**changes: Any) -> Flat:
    """A good program for the bevel of the gentle belly."""
    return Flat(
        **{
            "kind": "belly",
            "radius_mm": 180.0,
            "length_mm": 60.0,
            "wheel": "flat",
            "passes": BEVEL_PASSES,
            "run_off_mm": 20.0,
            "tilt_deg": 10.0,
            **changes,
        }
    )


def lands(**changes: Any) -> Flat:
    """A good program for its lands."""
    return bevel(
        **{
            "setup": "lands-A",
            "high_mm": 0.01,
            "run_off_mm": 12.0,
            "passes": LANDS_PASSES,
            **changes,
        }
    )


def laid(made: Flat) -> Flat:
    """The same with a turn, along a stronger belly."""
    return replace(made, radius_mm=62.0, turn=True)
