"""The spring between the commanded and the reached wheel: machine, contact wheel and blade."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from planner.proof.bending import plate_compliances_mm_n, strip_points
from planner.proof.case import Case
from planner.proof.steel import Floats, blank_section, thickness_at, wheel_below_face
from planner.proof.target import Face, Relief

_DEPTHS = 3


class Stiffness:
    """Normal stiffness at each station as the relief deepens; springs in series."""

    def __init__(self, case: Case, stations_x_mm: Sequence[float]) -> None:
        machine, belt = case.machine, case.wheel.belt
        held_mm_n = 1.0 / machine.stiffness_n_mm
        if belt is not None and belt.wheel_stiffness_n_mm is not None:
            held_mm_n += 1.0 / belt.wheel_stiffness_n_mm
        self._depths = np.linspace(0.0, case.relief.depth_mm, _DEPTHS)
        table = np.full((_DEPTHS, len(stations_x_mm)), held_mm_n)
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

    The load is spread over the chord and over the part of the wheel's width that is on the blade.
    The relief of face A is there when face B is ground; face A is ground first.
    """
    face, relief = case.face, case.relief
    length, half_width = case.edge_length_mm, case.wheel.width_mm / 2.0
    # The two halves of the edge mirror each other: each load is worked out once.
    mirrored = [min(x, length - x) for x in stations_x_mm]
    distinct = sorted(set(mirrored))
    loads_x = [(max(x - half_width, 0.0), min(x + half_width, length)) for x in distinct]
    steel: shapely.Geometry = blank_section(case.job)
    if face.name == "B" and case.other_relief is not None:
        done = case.other_relief
        steel = _ground(steel, case.other_face, done, case.radius_mm, done.depth_mm)
    y, _ = strip_points(overhang_mm)
    # Force and deflection are along the face's normal, the plate bends along z.
    share = math.cos(face.bevel_rad) ** 2
    rows = []
    for depth in depths_mm.tolist():
        ground = _ground(steel, face, relief, case.radius_mm, depth)
        # Bare contact is a line; the chord of a quarter of the depth stands for it.
        pressed = max(depth, relief.depth_mm / 4.0)
        half_chord = math.sqrt(pressed * (2.0 * case.radius_mm - pressed))
        low = max((relief.middle_mm - half_chord) * math.cos(face.bevel_rad), 0.0)
        high = min((relief.middle_mm + half_chord) * math.cos(face.bevel_rad), overhang_mm)
        if low >= high:
            rows.append([0.0] * len(stations_x_mm))
            continue
        full = case.job.blade.section.thickness_mm
        thickness = np.where(y < case.job.blade.section.width_mm, thickness_at(ground, y), full)
        found = plate_compliances_mm_n(thickness, overhang_mm, length, (low, high), loads_x)
        rows.append([share * float(found[distinct.index(x)]) for x in mirrored])
    return np.array(rows)


def _ground(
    steel: shapely.Geometry, face: Face, relief: Relief, radius_mm: float, depth_mm: float
) -> shapely.Geometry:
    wheel = wheel_below_face(face, radius_mm, face.point(relief.middle_mm, depth_mm - radius_mm))
    return shapely.difference(steel, shapely.Polygon(wheel)) if len(wheel) else steel
