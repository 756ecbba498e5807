"""What moves with the wheel, as outlines across the edge and spans along it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.wheel_shape import section_radius_mm

SLABS = 24
"""A disc that lies along the edge is taken as this many slabs of equal height."""
_ARC_STEP_RAD = math.radians(2.0)

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Part:
    """A part of the tool: a disc or an outline in the section, and a span along the traverse.

    All from the wheel's reference point and middle plane (docs/operations.md): u along the cross
    axis, v away from the steel, in mm.
    """

    name: str
    x_from_mm: float
    x_to_mm: float
    centre_uv_mm: tuple[float, float] = (0.0, 0.0)
    radius_mm: float = 0.0
    """Of a disc; 0 for an outline."""
    outline_uv_mm: Corners = ()
    """Of an outline; none for a disc."""
    disc: tuple[float, float] | None = None
    """Of a slab of a disc that lies across the edge: height of the disc's axis, and its radius."""

    @property
    def farthest_mm(self) -> float:
        """Of any of its points from the reference point."""
        if self.outline_uv_mm:
            return max(math.hypot(*corner) for corner in self.outline_uv_mm)
        return math.hypot(*self.centre_uv_mm) + self.radius_mm


def tool_body(machine: Machine, wheel: Wheel) -> tuple[Part, ...]:
    """The wheel first, then its flanges, the guard, and the other parts of the head.

    Where only the machine file's outlines are known the body is no smaller than the real one:
    the corners of a rim are taken as sharp, and a platen as a block as high as its drive wheel.
    """
    half = wheel.width_mm / 2
    axis_v_mm = 0.0
    if wheel.contact == "along_edge":
        parts = [Part("wheel", -half, half, radius_mm=section_radius_mm(wheel))]
    elif wheel.contact == "across_edge":
        form = wheel.form_radius_mm or 0.0
        axis_v_mm = wheel.diameter_mm / 2 - form
        parts = _lying("wheel", _rim(wheel), axis_v_mm, wheel.diameter_mm / 2)
    else:
        assert wheel.platen is not None
        reach = wheel.platen.length_mm / 2
        block = _box(half, 0.0, wheel.diameter_mm)
        parts = [Part("wheel", -reach, reach, outline_uv_mm=block)]
    if wheel.flange is not None:
        radius, beside = wheel.flange.diameter_mm / 2, wheel.flange.width_mm / 2
        if wheel.contact == "along_edge":
            parts.append(Part("flange", -beside, beside, radius_mm=radius))
        else:
            disc = _box(beside, axis_v_mm - radius, axis_v_mm + radius)
            parts += _lying("flange", disc, axis_v_mm, radius)
    around = [] if machine.guard is None else [("guard", machine.guard)]
    around += [(part.name, part) for part in machine.head or ()]
    for name, part in around:
        outline = tuple((u, v + axis_v_mm) for u, v in part.outline_mm)
        parts.append(Part(name, part.from_mm, part.to_mm, outline_uv_mm=outline))
    return tuple(parts)


def _box(half_mm: float, low_mm: float, high_mm: float) -> Corners:
    return (-half_mm, low_mm), (half_mm, low_mm), (half_mm, high_mm), (-half_mm, high_mm)


def _rim(wheel: Wheel) -> Corners:
    """A wheel that lies across the edge, from side to side; its form's arc lies within."""
    half, form = wheel.width_mm / 2, wheel.form_radius_mm or 0.0
    if form == 0.0:
        return _box(half, 0.0, wheel.diameter_mm)
    end = math.asin(min(half / form, 1.0))
    steps = max(math.ceil(2 * end / _ARC_STEP_RAD), 1)
    step = 2 * end / steps
    # Corners where tangents meet: the polygon holds the whole arc.
    outside = form / math.cos(step / 2)
    angles = [-end, *(-end + (n + 0.5) * step for n in range(steps)), end]
    radii = [form, *[outside] * steps, form]
    arc = [(r * math.sin(a), -r * math.cos(a)) for a, r in zip(angles, radii, strict=True)]
    top = wheel.diameter_mm - form
    return (*arc, (half, top), (-half, top))


def _lying(name: str, outline: Corners, axis_v_mm: float, radius_mm: float) -> list[Part]:
    """A disc whose axis lies in the section, in slabs: each as long as it is at its longest."""
    low, high = axis_v_mm - radius_mm, axis_v_mm + radius_mm
    levels = [low + (high - low) * n / SLABS for n in range(SLABS + 1)]
    parts = []
    for bottom, top in pairwise(levels):
        off_axis = max(bottom - axis_v_mm, axis_v_mm - top, 0.0)
        reach = math.sqrt(max(radius_mm**2 - off_axis**2, 0.0))
        slab = _between(outline, bottom, top)
        if len(slab) > 2:
            disc = axis_v_mm, radius_mm
            parts.append(Part(name, -reach, reach, outline_uv_mm=slab, disc=disc))
    return parts


def _between(outline: Corners, bottom_mm: float, top_mm: float) -> Corners:
    """The part of a convex outline between two heights (Sutherland and Hodgman's clipping)."""
    for level, sign in ((bottom_mm, 1.0), (top_mm, -1.0)):
        kept: list[tuple[float, float]] = []
        for a, b in pairwise((*outline, *outline[:1])):
            in_a, in_b = sign * (a[1] - level), sign * (b[1] - level)
            if in_a >= 0:
                kept.append(a)
            if in_a * in_b < 0:
                share = in_a / (in_a - in_b)
                kept.append((a[0] + share * (b[0] - a[0]), level))
        outline = tuple(kept)
    return outline
