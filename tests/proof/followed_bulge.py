"""Programs for a convex bevel from the bar along a followed bend, from closed forms.

The blade is that of ``bulge_by_hand``; nothing of the planner or of the proof.
"""

from __future__ import annotations

import math
from typing import Any

from planner.inputs.job import Job
from tests.proof.bulge_by_hand import (
    BULGE_JOB,
    FACET_DEPTHS_MM,
    FACETS_DEG,
    MIDDLE,
    RADIUS_MM,
    RIDGE_MM,
    bulge_lines,
)
from tests.proof.bulge_forms_by_hand import ground_from_bar
from tests.proof.by_hand import FORM, to_depth
from tests.proof.conftest import changed
from tests.proof.followed_flats import WIDE, Flat, bevel
from tests.proof.followed_lines import Lined
from tests.proof.followed_programs import MACHINE

_FORM = {**FORM, "infeed": {"rough": "0.25 mm", "finish": "0.003 mm"}}
ON = changed(
    MACHINE,
    {
        "rack": [MACHINE["rack"][0], WIDE, _FORM],
        "limits.normal_force": "120 N",
        "stiffness": "20000 N/mm",
    },
)
WIDE_BEND = {"path": "bend", "radius": "400 mm", "angle": f"{math.degrees(0.15):.9f} deg"}
BEND_MM = 400.0


def bulge_job(wheel: str) -> Job:
    """That of the convex blade on the bend, ground by a wheel."""
    data = changed(BULGE_JOB, {"blade.edge": WIDE_BEND, "operations": None})
    return ground_from_bar(data, wheel, RIDGE_MM)


def _plane(number: int) -> tuple[float, float]:
    """Slope, and where a facet's plane meets y = 0."""
    angle = math.radians(FACETS_DEG[number - 1])
    out = -MIDDLE[0] * math.sin(angle) + MIDDLE[1] * math.cos(angle) + RADIUS_MM
    return math.tan(angle), out / math.cos(angle)


def facet_span_mm(number: int) -> tuple[float, float]:
    """Where a facet begins and ends in y as it is ground, before the next one."""
    slope, height = _plane(number)
    low = 0.0
    if number > 1:
        before, above = _plane(number - 1)
        low = (height - above) / (before - slope)
    return low, (1.0 - height) / slope


def followed_facet(number: int, **changes: Any) -> Flat:
    """A good program for one facet, counted from 1."""
    angle, depth = math.radians(FACETS_DEG[number - 1]), FACET_DEPTHS_MM[number - 1]
    return bevel(
        **{
            "kind": "bend",
            "radius_mm": BEND_MM,
            "setup": f"bevel-A-{number}",
            "high_mm": depth,
            "middle_mm": sum(facet_span_mm(number)) / 2.0 / math.cos(angle),
            "bevel_rad": angle,
            "tilt_deg": FACETS_DEG[number - 1],
            "passes": tuple(round(each, 4) for each in to_depth(0.33, depth, 1)),
            "edge_off": _plane(number)[1] - 0.1,
            **changes,
        }
    )


_ANGLE = math.radians(15.0)


def bulge_in_lines(count: int = 4, **changes: Any) -> Lined:
    """A good program for the arc in lines by the form of 20 mm across the edge."""
    return Lined(
        **{
            "kind": "bend",
            "radius_mm": BEND_MM,
            "length_mm": 60.0,
            "wheel": "form",
            "setup": "bevel-A",
            "tilt_deg": 15.0,
            "lines": bulge_lines(count, layers=4, wheel_mm=20.0),
            "bevel_rad": _ANGLE,
            "edge_mm": 1.0,
            "level_mm": MIDDLE[0] * math.cos(_ANGLE) + (MIDDLE[1] - 1.0) * math.sin(_ANGLE),
            "apart_mm": RADIUS_MM + 20.0,
            "section_mm": 20.0,
            "rim_mm": 20.0,
            "run_off_mm": 20.0,
            "chord_error_mm": 3e-4,
            **changes,
        }
    )
