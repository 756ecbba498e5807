"""The figures of many sections at once: arrays in, arrays out, no words.

The same figures as ``planner.section.target`` one at a time, by the same formulas; only the least
thickness is in closed form here and searched for there, so that each checks the other. A section
that is not possible is only marked: why, ``section_for`` says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas import bevel, segment, web
from planner.formulas.segment import Result

CHUNK = 8192
"""Sections worked on together: their arrays stay in a core's own cache."""

_TOUCHING_MM = 1e-9


@dataclass(frozen=True)
class Asked:
    """Sections of two flat bevels as they are asked for; each field a number or one a section.

    Exactly two of the lands and the depth are given. Equal bevels are given by ``bevel_b_deg``
    left out: then half the work is done.
    """

    thickness_mm: ArrayLike
    width_mm: ArrayLike
    bevel_a_deg: ArrayLike
    bevel_b_deg: ArrayLike | None = field(kw_only=True, default=None)
    edge_thickness_mm: ArrayLike = 0.0
    wheel_radius_mm: ArrayLike = 0.0
    edge_land_mm: ArrayLike | None = None
    shoulder_land_mm: ArrayLike | None = None
    depth_mm: ArrayLike | None = None
    min_steel_left_mm: ArrayLike = 0.15
    min_edge_angle_deg: ArrayLike = 15.0
    faces: str = field(kw_only=True, default="both")
    """both, A or B."""

    def __post_init__(self) -> None:
        sizes = (self.edge_land_mm, self.shoulder_land_mm, self.depth_mm)
        if sum(size is not None for size in sizes) != 2:
            raise ValueError("exactly two of edge_land_mm, shoulder_land_mm and depth_mm")


@dataclass(frozen=True)
class FaceFigures:
    """One relieved face of many sections; not a number where the section is not possible."""

    bevel_height_mm: Result
    bevel_face_mm: Result
    depth_mm: Result
    chord_mm: Result
    edge_land_mm: Result
    shoulder_land_mm: Result
    removed_area_mm2: Result
    edge_angle_lost_deg: Result
    land_change_per_depth: Result


@dataclass(frozen=True)
class Figures:
    """Many sections; not a number where the section is not possible. Shape: (n,) each."""

    possible: NDArray[np.bool_]
    faces: dict[str, FaceFigures]
    """Of the faces that are relieved. Equal faces share one set of figures."""
    steel_left_mm: Result
    steel_left_at_mm: Result
    edge_angle_deg: Result


def section_figures(asked: Asked) -> Figures:
    """The figures of every section. Shape: the fields broadcast to (n,)."""
    numbers = {
        f.name: np.asarray(value, float)
        for f in fields(asked)
        if f.name != "faces" and (value := getattr(asked, f.name)) is not None
    }
    (count,) = np.broadcast_shapes((1,), *(a.shape for a in numbers.values()))
    parts = [_chunk(asked.faces, cut) for cut in _cuts(numbers, count)]
    return Figures(
        possible=np.concatenate([p.possible for p in parts]),
        faces=_joined_faces([p.faces for p in parts]),
        **{
            name: np.concatenate([getattr(p, name) for p in parts])
            for name in ("steel_left_mm", "steel_left_at_mm", "edge_angle_deg")
        },
    )


def _cuts(numbers: dict[str, Result], count: int) -> Iterator[dict[str, Result]]:
    whole = {name: np.broadcast_to(a, (count,)) if a.size > 1 else a for name, a in numbers.items()}
    for start in range(0, count, CHUNK):
        size = min(CHUNK, count - start)
        yield {
            name: a[start : start + size] if a.size > 1 else np.broadcast_to(a.reshape(-1), (size,))
            for name, a in whole.items()
        }


def _joined_faces(parts: list[dict[str, FaceFigures]]) -> dict[str, FaceFigures]:
    joined: dict[str, FaceFigures] = {}
    for name, first in parts[0].items():
        twin = next((n for n in joined if parts[0][n] is first), None)
        joined[name] = (
            joined[twin]
            if twin is not None
            else FaceFigures(
                **{
                    f.name: np.concatenate([getattr(p[name], f.name) for p in parts])
                    for f in fields(FaceFigures)
                }
            )
        )
    return joined


def _chunk(faces: str, cut: dict[str, Result]) -> Figures:
    thickness, edge, radius = (
        cut[name] for name in ("thickness_mm", "edge_thickness_mm", "wheel_radius_mm")
    )
    equal = "bevel_b_deg" not in cut
    angles = {"A": cut["bevel_a_deg"], "B": cut["bevel_a_deg" if equal else "bevel_b_deg"]}
    # Where a formula does not hold, a section that is in every range stands in.
    sound = (edge >= 0) & (edge < thickness) & (radius > 0)
    for angle in angles.values():
        sound &= (angle > 0) & (angle < 90)
    thickness, edge = np.where(sound, thickness, 1.0), np.where(sound, edge, 0.0)
    radius = np.where(sound, radius, 1.0)
    possible, wanted = sound, "AB" if faces == "both" else faces
    found: dict[str, FaceFigures] = {}
    webs: dict[str, web.ReliefFace] = {}
    for name, given in angles.items():
        if equal and name == "B" and len(webs) == 1 and faces == "both":
            found["B"], webs["B"] = found["A"], webs["A"]
            continue
        bevel_rad = np.radians(np.where(sound, given, 45.0))
        height = bevel.bevel_height(thickness, edge, bevel_rad)
        face_width = bevel.bevel_face_width(thickness, edge, bevel_rad)
        possible = possible & (height <= cut["width_mm"])
        if name not in wanted:
            webs[name] = web.ReliefFace(bevel_rad, 0.0, 0.0)
            continue
        fits, figures = _relief(cut, radius, height, face_width)
        possible = possible & fits
        found[name] = figures
        middle = figures.edge_land_mm + figures.chord_mm / 2
        webs[name] = web.ReliefFace(bevel_rad, middle, figures.depth_mm)
    least, at = web.least_thickness(thickness, edge, radius, webs["A"], webs["B"])
    least = np.where((least < 0) & (least > -_TOUCHING_MM), 0.0, least)
    hollow = np.zeros(len(radius), bool)
    angle_left = angles["A"] + angles["B"]
    for figures in found.values():
        runs_out = figures.edge_land_mm == 0
        hollow = hollow | runs_out
        angle_left = angle_left - np.where(runs_out, figures.edge_angle_lost_deg, 0.0)
    possible = possible & _holds(cut, edge, least, angle_left, hollow)
    nowhere = ~possible
    if nowhere.any():
        least, at, angle_left = (np.where(nowhere, np.nan, a) for a in (least, at, angle_left))
        blanks = {
            id(f): FaceFigures(
                **{n.name: np.where(nowhere, np.nan, getattr(f, n.name)) for n in fields(f)}
            )
            for f in found.values()
        }
        found = {name: blanks[id(f)] for name, f in found.items()}
    return Figures(possible, found, least, at, angle_left)


def _relief(
    cut: dict[str, Result], radius: Result, height: Result, face_width: Result
) -> tuple[NDArray[np.bool_], FaceFigures]:
    """One face's relief, and where there is one."""
    edge, shoulder, depth = (
        cut.get(name) for name in ("edge_land_mm", "shoulder_land_mm", "depth_mm")
    )
    if depth is None:
        assert edge is not None
        assert shoulder is not None
        chord = face_width - edge - shoulder
        fits = (chord > 0) & (chord < 2 * radius)
        chord = np.where(fits, chord, radius)
        deep = segment.depth_of_chord(radius, chord)
    else:
        fits = (depth > 0) & (depth < radius)
        deep = np.where(fits, depth, radius / 2)
        chord = segment.chord_of_depth(radius, deep)
        given = shoulder if edge is None else edge
        assert given is not None
        other = face_width - given - chord
        fits = fits & (other >= 0)
        edge, shoulder = (other, given) if edge is None else (given, other)
    assert edge is not None
    assert shoulder is not None
    return fits, FaceFigures(
        bevel_height_mm=height,
        bevel_face_mm=face_width,
        depth_mm=deep,
        chord_mm=chord,
        edge_land_mm=edge,
        shoulder_land_mm=shoulder,
        removed_area_mm2=segment.unchecked_area(radius, deep),
        edge_angle_lost_deg=np.degrees(np.arcsin(chord / (2 * radius))),
        land_change_per_depth=(radius - deep) / (chord / 2),
    )


def _holds(
    cut: dict[str, Result],
    edge: Result,
    least: Result,
    angle_left: Result,
    hollow: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Whether enough steel is left, and a full hollow leaves enough angle at the edge."""
    asked = cut["min_steel_left_mm"]
    needed = np.where(hollow, np.minimum(asked, edge) - _TOUCHING_MM, asked)
    apart = np.where(hollow, least >= -_TOUCHING_MM, least > 0)
    steep = ~hollow | (angle_left >= cut["min_edge_angle_deg"])
    return np.asarray(apart & steep & (least >= needed))
