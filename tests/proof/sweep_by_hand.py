"""Programs that sweep the tilt over a convex bevel, from rotations about a point, by hand.

The section is the complex plane, y + i z, and a tilt is a turn by its angle: nothing of the planner
or of the proof. The facets are those of ``docs/operations.md``.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from tests.proof.bulge_by_hand import BULGE_JOB, RADIUS_MM
from tests.proof.bulge_forms_by_hand import Arc
from tests.proof.by_hand import RACK_MACHINE, to_depth
from tests.proof.conftest import changed

AXIS_MM = (25.0, -30.0)
SWEEP_JOB = changed(BULGE_JOB, {"operations.0.ridge": "0.005 mm"})
SWEEP_MACHINE = changed(
    RACK_MACHINE, {"fixture.tilt_axis": {"at": ["25 mm", "-30 mm"], "error": "0.02 mm"}}
)
# By hand: 2.5 deg apart 19.949 (1 / cos 1.25 deg - 1) = 0.00475 mm; 3.33 deg would leave 0.0084 mm.
SWEPT_DEG = (20.0, 17.5, 15.0, 12.5, 10.0)
BULGE = Arc(RADIUS_MM, 0.1, 1.0, 20.0)
CORNER = 1.0j

_HELD: dict[tuple[str, str], Callable[[complex], complex]] = {
    ("end_for_end", "A"): lambda d: d,
    ("over", "A"): lambda d: d,
    ("end_for_end", "B"): lambda d: d.conjugate(),
    ("over", "B"): lambda d: -d,
    ("by_tilt", "A"): lambda d: d * 1j,
    ("by_tilt", "B"): lambda d: d * 1j,
}
"""A direction of the machine as the blade that is held has it, by the table in docs/frames.md."""


class Way(NamedTuple):
    """How a face is held: the way of turning the blade, where the axis is then, and the tilts."""

    flip: str
    face: str
    axis: complex
    tilts_deg: tuple[float, ...]


FACE_A = Way("end_for_end", "A", complex(*AXIS_MM), SWEPT_DEG)


class Facet(NamedTuple):
    """One facet on face A: the place over its middle in the stock's corner's plane, and depths."""

    over_middle: complex
    normal: complex
    begins_mm: float
    """Depth of the corner that it begins on, below that of the stock, along its normal."""
    depth_mm: float
    reaches: tuple[complex, complex]
    """Its two ends as it is ground, before the next one."""


class SweptPass(NamedTuple):
    """One pass in the touch frame, and what it claims."""

    tilt_deg: float
    cross_mm: float
    infeed_mm: float
    depth_mm: float
    claims_deg: float | None = None
    """Another tilt than its own, if any."""


def dot(one: complex, other: complex) -> float:
    """Of two vectors of the plane."""
    return (one.conjugate() * other).real


def facets(angles_deg: Sequence[float] = SWEPT_DEG, arc: Arc = BULGE) -> list[Facet]:
    """Tangents of an arc, each cut into the corner that the one before left."""
    stock = complex(0.0, arc.stock_mm)
    found, corner = [], stock
    edge_end: tuple[complex, float] | None = None
    for degrees in angles_deg:
        along = cmath.exp(1j * math.radians(degrees))
        normal = along * 1j
        # The line at the height h along its normal; on the flank z is that of the stock.
        height = dot(normal, complex(*arc.middle)) + arc.radius_mm
        flank = complex((normal.imag * arc.stock_mm - height) / -normal.real, arc.stock_mm)
        if edge_end is None:
            first = complex(0.0, height / normal.imag)
        else:
            # Two lines that meet: by the first normal's part along this one.
            before, at = edge_end
            share = (at - height * dot(normal, before)) / dot(along, before)
            first = height * normal + share * along
        deep = dot(normal, stock) - height
        middle = (first + flank) / 2.0 + deep * normal
        found.append(Facet(middle, normal, dot(normal, stock - corner), deep, (first, flank)))
        corner, edge_end = flank, (normal, height)
    return found


def swept_passes(
    way: Way = FACE_A,
    step_mm: float = 0.05,
    more_mm: Sequence[float] = (),
    spark_outs: int = 1,
    axis: complex | None = None,
    left_out: Sequence[int] = (),
    arc: Arc = BULGE,
) -> list[SweptPass]:
    """All facets of a face from the edge on; ``more_mm`` is sent deeper at each, from the first.

    ``axis`` is where the program takes the tilt's axis to be; a facet ``left_out`` counts from 0.
    """
    pivot = way.axis if axis is None else axis

    def in_section(point: complex) -> complex:
        return point if way.face == "A" else point.conjugate()

    def directions(tilt_deg: float) -> tuple[complex, complex]:
        turned = cmath.exp(1j * math.radians(tilt_deg))
        held = _HELD[way.flip, way.face]
        return held(turned), held(turned * 1j)

    angles = [90.0 - abs(tilt) if way.flip == "by_tilt" else abs(tilt) for tilt in way.tilts_deg]
    every = facets(angles, arc)
    cross_at_zero, up_at_zero = (
        dot(in_section(every[0].over_middle) - pivot, each) for each in directions(way.tilts_deg[0])
    )
    passes = []
    for number, (tilt, facet) in enumerate(zip(way.tilts_deg, every, strict=True)):
        if number in left_out:
            continue
        across, up = directions(tilt)
        over = in_section(facet.over_middle) - pivot
        cross = round(dot(over, across) - cross_at_zero, 4) + 0.0
        more = more_mm[number] if number < len(more_mm) else 0.0
        whole = facet.depth_mm + more - facet.begins_mm
        for down in to_depth(step_mm, whole, spark_outs):
            exact = dot(over, up) - up_at_zero - facet.begins_mm - down
            infeed = math.ceil(exact * 1e4 - 1e-6) / 1e4
            depth = dot(over, up) - up_at_zero - infeed
            passes.append(SweptPass(tilt, cross, infeed, depth))
    return passes


def swept_program(passes: Sequence[SweptPass], way: Way = FACE_A, **changes: Any) -> str:
    """A whole program for the mill: up and off the end before the tilt turns, to and fro."""
    said = {"clear_mm": 5.0, "turn_at_mm": 5.0, "out_mm": 40.0, "header": "", **changes}
    ends = (-said["out_mm"], 80.0 + said["out_mm"])
    lines = [
        "(bevelwright program)",
        f"(setup bevel-{way.face} face {way.face})",
        "(kind cutting)",
        "(wheel flat)",
        *([said["header"]] if said["header"] else []),
        "(units mm)",
        f"(clear {said['clear_mm']:.4f})",
        "G21",
        "G17 G90 G94",
        "G40 G49 G80",
        "G54",
        "G64 P0.0050",
        f"G0 Z{said['clear_mm']:.4f}",
        f"G0 A{passes[0].tilt_deg:.3f}",
        f"G0 X{ends[0]:.4f} Y{passes[0].cross_mm:.4f}",
        "S2850 M3",
        "G4 P5.0",
        "M7",
    ]
    at = passes[0]
    for number, each in enumerate(passes, start=1):
        if each.tilt_deg != at.tilt_deg:
            lines += [
                f"G0 Z{said['turn_at_mm']:.4f}",
                f"G0 A{each.tilt_deg:.3f}",
                f"G0 Y{each.cross_mm:.4f}",
            ]
        claimed = each.tilt_deg if each.claims_deg is None else each.claims_deg
        lines += [
            f"(pass {number} of {len(passes)} rough depth {each.depth_mm:.4f} tilt {claimed:.4f})",
            f"G1 Z{each.infeed_mm:.4f} F400.0",
            f"G1 X{ends[number % 2]:.4f} F1000.0",
        ]
        at = each
    return "\n".join([*lines, f"G0 Z{said['clear_mm']:.4f}", "M9", "M5", "M2", ""])
