"""How an edge runs that the straight axes follow, the blade clamped still (docs/edge-paths.md).

The clamp frame: X along the traverse from heel to tip, Y toward the spine, Z to face A, its origin
at the edge at the anchor: the place where the edge lies along the traverse, and where the wheel
bares at program zero. Lengths along the edge count from the heel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.inputs.edge_curve import CurveEdge
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine

Floats = NDArray[np.float64]

_LOOKS = 4001
"""Places of a curve among which its anchor is looked for; each crossing is then halved down."""
_HALVINGS = 60
_ALIKE_RAD = 1e-9
"""Headings that differ by less are as near to the traverse as each other."""


class Places(NamedTuple):
    """Sections along the edge, in the clamp frame; the last axis is (X, Y, Z)."""

    edge_mm: Floats
    along: Floats
    """Unit vectors: along the edge to the tip, and the section's own y and z."""
    to_spine: Floats
    to_face_a: Floats


@dataclass(frozen=True)
class FacePlane:
    """The plane of one bevel face, as it stands in every section."""

    face: str
    angle_rad: float
    at_edge_mm: float
    """|z| at which it meets y = 0."""

    @property
    def side(self) -> float:
        """1 for face A, -1 for face B."""
        return 1.0 if self.face == "A" else -1.0

    def directions(self, places: Places) -> tuple[Floats, Floats]:
        """From edge to spine along the face, and outward from it. Shape: (..., 3) each."""
        cosine, sine = math.cos(self.angle_rad), math.sin(self.angle_rad)
        out = self.side * places.to_face_a
        return cosine * places.to_spine + sine * out, cosine * out - sine * places.to_spine

    def points(self, places: Places, along_mm: ArrayLike, below_mm: ArrayLike) -> Floats:
        """Points so far along the face from y = 0, and below it. Shape: (..., 3)."""
        along, outward = self.directions(places)
        corner = places.edge_mm + self.side * self.at_edge_mm * places.to_face_a
        way, below = np.asarray(along_mm, float), np.asarray(below_mm, float)
        return np.asarray(corner + way[..., None] * along - below[..., None] * outward)


@dataclass(frozen=True)
class EdgeCourse:
    """The run of one edge."""

    edge: ArcEdge | CurveEdge

    @cached_property
    def anchor_mm(self) -> float:
        """Where the edge lies along the traverse, or nearest to it; of such places the one nearest
        to its middle."""
        edge = self.edge
        middle = edge.length_mm / 2
        if isinstance(edge, ArcEdge):
            return middle
        joints = np.cumsum([0.0, *(piece.length_mm for piece in edge.arcs or ())])
        places = np.unique(np.concatenate([np.linspace(0.0, edge.length_mm, _LOOKS), joints]))
        places = places[places <= edge.length_mm]
        headings = np.asarray(edge.at(places).heading_rad)
        turns = np.nonzero(headings[:-1] * headings[1:] < 0.0)[0]
        low, high = places[turns], places[turns + 1]
        rising = headings[turns + 1] > 0.0
        for _ in range(_HALVINGS if len(turns) else 0):
            half = (low + high) / 2
            before = (np.asarray(edge.at(half).heading_rad) < 0.0) == rising
            low, high = np.where(before, half, low), np.where(before, high, half)
        places = np.concatenate([places, (low + high) / 2])
        off = np.concatenate([np.abs(headings), np.zeros(len(turns))])
        nearest = places[off <= off.min() + _ALIKE_RAD]
        return float(nearest[np.argmin(np.abs(nearest - middle))])

    def at(self, s_mm: ArrayLike) -> Places:
        """Sections by the length from the heel: beyond its ends an arc goes round, a curve on
        along its tangent. Shape: any, with (X, Y, Z) after it."""
        s = np.asarray(s_mm, float)
        zero, one = np.zeros_like(s), np.ones_like(s)
        edge = self.edge
        if isinstance(edge, ArcEdge):
            turned = (s - self.anchor_mm) / edge.radius_mm
            sine, cosine = np.sin(turned), np.cos(turned)
            half = np.sin(turned / 2)
            return Places(
                edge.radius_mm * np.stack([sine, zero, -2.0 * half * half], axis=-1),
                np.stack([cosine, zero, -sine], axis=-1),
                np.stack([zero, one, zero], axis=-1),
                np.stack([sine, zero, cosine], axis=-1),
            )
        here, anchor = edge.at(s), edge.at(self.anchor_mm)
        sine, cosine = np.sin(here.heading_rad), np.cos(here.heading_rad)
        return Places(
            np.stack([here.x_mm - anchor.x_mm, here.y_mm - anchor.y_mm, zero], axis=-1),
            np.stack([cosine, sine, zero], axis=-1),
            np.stack([-sine, cosine, zero], axis=-1),
            np.stack([zero, zero, one], axis=-1),
        )

    def heading_rad(self, s_mm: ArrayLike) -> Floats:
        """How far the edge is turned there from where it lies along the traverse: of a curve from
        the traverse toward the spine, of an arc about its axis. Shape: any."""
        s = np.asarray(s_mm, float)
        if isinstance(self.edge, ArcEdge):
            return np.asarray((s - self.anchor_mm) / self.edge.radius_mm)
        return np.asarray(self.edge.at(s).heading_rad)

    def bends_per_mm(self, s_mm: ArrayLike, plane: FacePlane, point_yz: Floats) -> Floats:
        r"""Normal curvature of the line along the face through a point of the section.

        Above 0 where the steel bends up toward the wheel, as inside an arc. Of an arc
        -side cos(β) / ρ, ρ the radius there; of a curve -κ sin(β) / (1 - κ y). NaN where the line
        has no length, past the middle of the curvature. Shape: s any, point (2,). Source: the
        normal curvature of a line of curvature (Rodrigues' formula, dn = -k dx).
        """
        s = np.asarray(s_mm, float)
        if isinstance(self.edge, ArcEdge):
            radius = self.edge.radius_mm + float(point_yz[1])
            bend = -plane.side * math.cos(plane.angle_rad) / radius if radius > 0.0 else math.nan
            return np.full_like(s, bend)
        turns = self.edge.at(s).curvature_per_mm
        narrower = 1.0 - turns * float(point_yz[0])
        with np.errstate(divide="ignore", invalid="ignore"):
            found = -turns * math.sin(plane.angle_rad) / narrower
        return np.where(narrower > 0.0, found, np.nan)


def along_the_traverse() -> Places:
    """A section whose edge lies along the traverse: cross and infeed are held to it everywhere."""
    return Places(np.zeros(3), *np.eye(3))


def followed_course(job: Job, machine: Machine) -> EdgeCourse | None:
    """The course of an edge that the straight axes follow; None where it lies straight or a turn
    takes it under the wheel."""
    edge = job.edge
    if isinstance(edge, CurveEdge):
        return EdgeCourse(edge)
    turns = any(axis.role == "turn" for axis in machine.axes.values())
    return EdgeCourse(edge) if isinstance(edge, ArcEdge) and not turns else None


def path_name(edge: object) -> str:
    """The word of the file for a path."""
    return str(getattr(edge, "path", ""))
