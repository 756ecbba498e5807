"""Programs for a convex bevel from the bar, from positions worked out by hand.

The positions come from ``docs/operations.md`` alone: nothing of the planner or of the proof.
"""

from __future__ import annotations

import math

from tests.proof.by_hand import OPERATIONS_JOB, Pass, straight_down, to_depth
from tests.proof.conftest import changed

RIDGE_MM = 0.02
BULGE_JOB = changed(
    OPERATIONS_JOB,
    {
        "blade.section": {
            "form": "convex_bevel",
            "thickness": "2.0 mm",
            "width": "20 mm",
            "edge_thickness": "0.2 mm",
            "edge_angle": "40 deg",
            "shoulder_angle": "20 deg",
        },
        "relief.edge_land": "0.9 mm",
        "relief.shoulder_land": "0.9 mm",
        "operations": [
            {"do": "bevel", "wheel": "flat", "ridge": "0.02 mm"},
            {"do": "relief", "wheel": "form"},
        ],
    },
)
BULGE_LINES_JOB = changed(BULGE_JOB, {"operations.0.wheel": "fine"})

# By hand: the arc rises 1.0 - 0.1 between 20 and 10 deg; its middle lies a radius below the edge
# along the normal there. y from the edge, w from the middle of the blade.
RADIUS_MM = 0.9 / (math.cos(math.radians(10.0)) - math.cos(math.radians(20.0)))
MIDDLE = (
    RADIUS_MM * math.sin(math.radians(20.0)),
    0.1 - RADIUS_MM * math.cos(math.radians(20.0)),
)
# By hand: facets 5 deg apart leave 19.949 (1 / cos 2.5 deg - 1) = 0.0190 mm, 10 deg 0.0762 mm.
FACETS_DEG = (20.0, 15.0, 10.0)
FACET_RIDGE_MM = RADIUS_MM * (1.0 / math.cos(math.radians(2.5)) - 1.0)


def facet_depths_mm() -> list[float]:
    """How far each facet lies below the corner that it begins on, the one before it done."""
    corner, depths = (0.0, 1.0), []
    for degrees in FACETS_DEG:
        angle = math.radians(degrees)
        normal = (-math.sin(angle), math.cos(angle))
        plane = MIDDLE[0] * normal[0] + MIDDLE[1] * normal[1] + RADIUS_MM
        depths.append(corner[0] * normal[0] + corner[1] * normal[1] - plane)
        # Where it comes out on the flank, 1.0 mm from the middle.
        corner = ((normal[1] - plane) / -normal[0], 1.0)
    return depths


FACET_DEPTHS_MM = facet_depths_mm()


def facet(number: int, more_mm: float = 0.0, spark_outs: int = 1) -> list[Pass]:
    """Passes of one facet, counted from 1."""
    return straight_down(to_depth(0.05, FACET_DEPTHS_MM[number - 1] + more_mm, spark_outs))


def bulge_lines(
    count: int, layers: int = 18, wheel_mm: float = 75.0, more_mm: float = 0.0
) -> list[Pass]:
    """Lines side by side at 15 deg, layer by layer, each outside the arc.

    The wheel's centre stays both radii from the middle of the arc, which is moved along the normal.
    """
    angle = math.radians(15.0)
    along = MIDDLE[0] * math.cos(angle) + (MIDDLE[1] - 1.0) * math.sin(angle)
    up = -MIDDLE[0] * math.sin(angle) + (MIDDLE[1] - 1.0) * math.cos(angle)
    apart = RADIUS_MM + wheel_mm
    # Straight below the corner the arc is so deep.
    deep = -up - math.sqrt(RADIUS_MM**2 - along**2)
    passes = []
    for layer in [*range(1, layers + 1), layers]:
        raised = deep * (layers - layer) / layers - (more_mm if layer == layers else 0.0)
        for n in range(count):
            lean = math.radians(-5.0 + 10.0 * n / (count - 1))
            cross = round(along + apart * math.sin(lean), 4)
            high = up + raised + math.sqrt(apart**2 - (cross - along) ** 2) - wheel_mm
            depth = math.floor(-high * 1e4 + 1e-6) / 1e4
            if depth > 0.0:
                passes.append(Pass(-depth, depth, cross))
    return passes
