"""Programs for other contacts and operations, written from positions worked out by hand.

The positions come from ``docs/operations.md`` alone: nothing of the planner or of the proof.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from tests.proof.conftest import JOB, MILL, changed

FLAT: dict[str, Any] = {
    "name": "flat",
    "contact": "across_edge",
    "diameter": "150 mm",
    "width": "16 mm",
    "corner_radius": "0.5 mm",
    "marked_speed": "4500 rpm",
    "abrasive": "aluminium_oxide",
    "grit": "F60",
    "specific_energy": "20 J/mm3",
    "force_ratio": 0.4,
    "infeed": {"rough": "0.050 mm", "finish": "0.005 mm"},
}
FORM: dict[str, Any] = {
    **FLAT,
    "name": "form",
    "width": "8 mm",
    "form_radius": "20 mm",
    "specific_energy": "40 J/mm3",
    "infeed": {"rough": "0.010 mm", "finish": "0.003 mm"},
}
NARROW: dict[str, Any] = {**FLAT, "name": "narrow", "width": "5 mm", "corner_radius": "0 mm"}
SMALL_FORM: dict[str, Any] = {**FORM, "name": "small form", "width": "4 mm", "form_radius": "5 mm"}
SMALL_WHEEL: dict[str, Any] = {
    **FORM,
    "name": "small wheel",
    "contact": "along_edge",
    "diameter": "10 mm",
    "width": "8 mm",
    "marked_speed": "60000 rpm",
}
del SMALL_WHEEL["form_radius"], SMALL_WHEEL["corner_radius"]
RACK_MACHINE = changed(MILL, {"rack": [*MILL["rack"], FLAT, FORM, NARROW, SMALL_FORM, SMALL_WHEEL]})
PLATEN_MACHINE = changed(
    MILL,
    {
        "kind": "belt",
        "rack": [
            {
                **{k: v for k, v in FLAT.items() if k != "corner_radius"},
                "name": "platen belt",
                "contact": "platen",
                "platen": {"length": "60 mm"},
                "belt": {"thickness": "1.0 mm"},
            },
            {
                **{k: v for k, v in FORM.items() if k not in ("corner_radius", "form_radius")},
                "name": "contact wheel",
                "contact": "along_edge",
                "diameter": "38 mm",
                "belt": {"thickness": "1.0 mm"},
            },
        ],
    },
)

# The finished blade: both bevels at 10 deg from stock of 2.2 mm, 0.2 mm left at the edge.
BEVEL = math.radians(10.0)
OPERATIONS_JOB = changed(
    JOB,
    {
        "blade.section.included_angle": "20 deg",
        "blade.section.thickness": "2.2 mm",
        "blade.section.edge_thickness": "0.2 mm",
        "relief.land_tolerance": "0.15 mm",
        "operations": [
            {"do": "bevel", "wheel": "flat", "edge_thickness_tolerance": "0.05 mm"},
            {"do": "relief", "wheel": "form"},
            {"do": "lands", "wheel": "flat", "allowance": "0.01 mm"},
        ],
    },
)
# By hand: the face is 2.0 / (2 sin 10 deg) = 5.758770 mm wide, the chord 3.158770 mm; a circle of
# 20 mm is 20 - sqrt(20^2 - 1.579385^2) = 0.062459 mm deep there.
FACE_MM = 1.0 / math.sin(BEVEL)
CHORD_MM = FACE_MM - 2.6
RELIEF_MM = 20.0 - math.sqrt(400.0 - CHORD_MM**2 / 4.0)
# By hand: the stock's corner stands (2.2 - 0.2)/2 cos 10 deg = 0.984808 mm outside the finished
# face; 0.01 mm of it is left for the lands.
BEVEL_MM = math.cos(BEVEL) - 0.01

# The relief that a wheel of 5 mm generates: the arc of 20 mm, given by all three sizes.
LINES_JOB = changed(
    OPERATIONS_JOB,
    {"operations": None, "relief.depth": f"{RELIEF_MM:.9f} mm", "relief.scallop": "0.004 mm"},
)


class Pass(NamedTuple):
    """One pass: its infeed and cross in the touch frame, and the depth that it claims."""

    infeed_mm: float
    depth_mm: float
    cross_mm: float | None = None


def straight_down(depths_mm: Sequence[float]) -> list[Pass]:
    """Passes at one cross and the ideal tilt, rounded to 0.1 um."""
    return [Pass(-round(depth, 4), round(depth, 4)) for depth in depths_mm]


def to_depth(step_mm: float, depth_mm: float, spark_outs: int) -> list[float]:
    """Equal steps down to a depth, rounded down, and the last one over again."""
    last = math.floor(depth_mm * 1e4 + 1e-6) / 1e4
    count = math.ceil(last / step_mm - 1e-9)
    return [last * n / count for n in range(1, count + 1)] + [last] * spark_outs


def lines(
    spacing_mm: float, layers_mm: Sequence[float], wheel_mm: float = 5.0, spark_outs: int = 1
) -> list[Pass]:
    """Lines side by side, layer by layer, each inside the arc of 20 mm.

    A layer ``d`` deep is the arc's own circle of 20 mm, raised until it is so deep in the middle.
    By hand: the wheel's centre stays 20 - 5 mm from the middle of that circle, so that a line at
    cross t is sqrt(15^2 - t^2) below it. The outermost line is where the wheel touches the end of
    the layer's chord c: t = 15 c / 40.
    """
    radius = 20.0
    inner = radius - wheel_mm
    passes = []
    for depth in [*layers_mm, *[layers_mm[-1]] * spark_outs]:
        half_chord = math.sqrt(depth * (2.0 * radius - depth))
        widest = math.floor(inner * half_chord / radius * 1e4) / 1e4
        count = max(math.ceil(2.0 * widest / spacing_mm), 1)
        for n in range(count + 1):
            cross = round(-widest + 2.0 * widest * n / count, 4)
            # Rounded away from the steel.
            below = depth - radius + math.sqrt(inner * inner - cross * cross) + wheel_mm
            below = math.floor(below * 1e4 + 1e-6) / 1e4
            if below > 0.0:
                passes.append(Pass(-below, below, cross))
    return passes


def program(
    setup: str,
    wheel: str,
    passes: Sequence[Pass],
    *,
    feed_mm_min: float = 1000.0,
    tilt_deg: float = 10.0,
    out_mm: float = 40.0,
    spindle_rpm: int = 2850,
    header: str = "",
) -> str:
    """A whole program for the mill: passes to and fro, off the ends by ``out_mm``."""
    ends = (-out_mm, 80.0 + out_mm)
    lines = [
        "(bevelwright program)",
        f"(setup {setup} face {'A' if 'A' in setup else 'B'})",
        "(kind cutting)",
        f"(wheel {wheel})",
        *([header] if header else []),
        "(units mm)",
        "(clear 5.0000)",
        "G21",
        "G17 G90 G94",
        "G40 G49 G80",
        "G54",
        "G64 P0.0050",
        "G0 Z5.0000",
        f"G0 A{tilt_deg:.3f}",
        f"G0 X{ends[0]:.4f} Y{passes[0].cross_mm or 0.0:.4f}",
        f"S{spindle_rpm} M3",
        "G4 P5.0",
        "M7",
    ]
    for number, each in enumerate(passes, start=1):
        cross = "" if each.cross_mm is None else f" cross {each.cross_mm:.4f}"
        across = "" if each.cross_mm is None else f" Y{each.cross_mm:.4f}"
        lines += [
            f"(pass {number} of {len(passes)} rough depth {each.depth_mm:.4f}{cross})",
            f"G1 Z{each.infeed_mm:.4f}{across} F400.0",
            f"G1 X{ends[number % 2]:.4f} F{feed_mm_min:.1f}",
        ]
    return "\n".join([*lines, "G0 Z5.0000", "M9", "M5", "M2", ""])
