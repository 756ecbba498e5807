"""The spring between the commanded and the reached wheel: machine, contact wheel and blade."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from planner.proof.bending import plate_compliances_mm_n, strip_points
from planner.proof.case import Case
from planner.proof.operation import relief_wheel
from planner.proof.steel import Floats, thickness_at
from planner.proof.tool import contact_along_edge_mm

_DEPTHS = 3
_BEVEL_DEPTHS = 17
"""A bevel takes most of the section away, so that its spring changes more on the way."""


class Stiffness:
    """Normal stiffness at each station as the relief deepens; springs in series."""

    def __init__(self, case: Case, stations_x_mm: Sequence[float]) -> None:
        machine, belt = case.machine, case.wheel.belt
        held_mm_n = 1.0 / machine.stiffness_n_mm
        if belt is not None and belt.wheel_stiffness_n_mm is not None:
            held_mm_n += 1.0 / belt.wheel_stiffness_n_mm
        deep = case.setup.operation == "bevel" and not case.begins_mm
        count = _BEVEL_DEPTHS if deep else _DEPTHS
        self._depths = np.linspace(case.begins_mm, case.depth_mm, count)
        table = np.full((count, len(stations_x_mm)), held_mm_n)
        overhang = machine.fixture.overhang_mm
        if overhang is not None:
            table += _blade_mm_n(case, self._depths, stations_x_mm, overhang)
        self._stiffness: Floats = 1.0 / table

    def at(self, station: int, depth_mm: float) -> float:
        """Stiffness at a station with the relief at a depth, N/mm."""
        return float(np.interp(depth_mm, self._depths, self._stiffness[:, station]))


def _blade_mm_n(
    case: Case, depths_mm: Floats, stations_x_mm: Sequence[float], overhang_mm: float
) -> Floats:
    """Compliance of the blade along the face's normal, shape (depths, stations).

    The load is spread over the chord, or over the whole strip that a flat has ground, and over the
    part of the wheel's length of contact that is on the blade. What earlier set-ups have ground is
    gone: face A is ground first.
    """
    length, half_width = (
        case.edge_length_mm,
        contact_along_edge_mm(case.wheel, case.curvature_per_mm),
    )
    # The two halves of the edge mirror each other: each load is worked out once.
    mirrored = [min(x, length - x) for x in stations_x_mm]
    distinct = sorted(set(mirrored))
    loads_x = [(max(x - half_width, 0.0), min(x + half_width, length)) for x in distinct]
    steel: shapely.Geometry = case.blank
    if case.job.operations is None and case.face.name == "B" and case.other_relief is not None:
        steel = shapely.difference(steel, relief_wheel(case.other_face, case.other_relief))
    y, _ = strip_points(overhang_mm)
    # Force and deflection are along the face's normal, the plate bends along z.
    share = math.cos(case.face.bevel_rad) ** 2
    rows = []
    for depth in depths_mm.tolist():
        ground = shapely.difference(steel, case.goal(depth)) if depth > 0.0 else steel
        low, high = _loaded_mm(case, depth)
        low, high = max(low, 0.0), min(high, overhang_mm)
        if low >= high:
            rows.append([0.0] * len(stations_x_mm))
            continue
        full = case.job.blade.section.thickness_mm
        thickness = np.where(y < case.job.blade.section.width_mm, thickness_at(ground, y), full)
        found = plate_compliances_mm_n(thickness, overhang_mm, length, (low, high), loads_x)
        rows.append([share * float(found[distinct.index(x)]) for x in mirrored])
    return np.array(rows)


def _loaded_mm(case: Case, depth_mm: float) -> tuple[float, float]:
    """(low, high) in y of the strip that the wheel presses on."""
    # Bare contact is a line; the strip of a quarter of the depth stands for it.
    begins = case.begins_mm
    pressed = max(depth_mm, begins + (case.depth_mm - begins) / 4.0)
    face, relief = case.face, case.relief
    if case.bulge is not None:
        taken = shapely.intersection(case.blank, case.goal(pressed))
        low, _, high, _ = shapely.bounds(taken)
        return (0.0, 0.0) if shapely.is_empty(taken) else (float(low), float(high))
    if case.setup.operation == "bevel":
        # A triangle off the stock's corner: its leg along the flank.
        return 0.0, pressed / math.sin(face.bevel_rad)
    if case.setup.operation == "lands" or relief is None:
        return 0.0, case.finished.ends[1][0]
    # A smaller wheel that generates the relief is taken to press in its middle.
    radius = case.tool.arc_radius_mm or relief.arc_radius_mm
    arc = replace(relief, arc_radius_mm=radius)
    half_chord = arc.chord_at_mm(pressed) / 2.0 if pressed < radius else radius
    return (
        face.point(case.middle_mm - half_chord, 0.0)[0],
        face.point(case.middle_mm + half_chord, 0.0)[0],
    )
