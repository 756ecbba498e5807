"""What each set-up grinds on its face: from which surface, how deep, and how much steel.

A face that stands a outside the finished one meets y = 0 at e/2 + a / cos β, and what lies p along
the finished face lies p - a tan β along it (docs/operations.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from planner.formulas import bevel, segment
from planner.formulas.lens import sagitta
from planner.formulas.removal import (
    CornerRemoval,
    LandsRemoval,
    LayerRemoval,
    LensRemoval,
    Removal,
    SegmentRemoval,
)
from planner.inputs.edge_curve import CurveEdge
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.rack import Wheel
from planner.section.edge_course import EdgeCourse
from planner.section.line_arcs import Arc, LineArc
from planner.section.profile import BevelFace
from planner.section.target import FaceRelief, Section
from planner.section.wheel_shape import wearing_width_mm

Floats = NDArray[np.float64]
OperationName = Literal["bevel", "relief", "lands"]


@dataclass(frozen=True)
class FaceState:
    """How far a face has come: its plane outside the finished one, its relief below that plane."""

    outside_mm: float
    """Infinite for a face of the stock itself, before anything is ground."""
    relief_mm: float
    flats: tuple[tuple[float, float], ...] = ()
    """Of a bevel in facets that are there so far: the angle of each (radians) and |z| at y = 0."""


@dataclass(frozen=True, eq=False)
class FaceWork:
    """One operation on one face."""

    name: str
    """Of the set-up."""
    operation: OperationName
    wheel: Wheel
    section: Section
    """The finished section, its relief by the relief's own wheel."""
    relief: FaceRelief
    """The finished relief of this face; a face without one has a depth of 0."""
    before: FaceState
    after: FaceState
    other: FaceState
    """The other face while this one is ground."""
    wheel_radius_mm: float | None
    """Radius of the arc of the wheel itself; None where it grinds a flat."""
    flat_place_mm: float
    """Where a flat wheel's middle stands, along the finished face from its edge."""
    curvature_per_mm: float = 0.0
    """Above 0 where the face is the outside of an arc: that of the edge. Below 0 inside: that of
    what lies nearest to the axis, where a wheel touches for longest. Of a curve in the plane of the
    blade that of the relief's middle, at the anchor."""
    ridge_mm: float | None = None
    """Height that the ridges between lines or facets may have; None where there are none."""
    sharpest_mm: float | None = None
    """See ``Arc``."""

    @property
    def place_mm(self) -> float:
        """Where the wheel's reference point stands, along the finished face from its edge."""
        return self.relief.middle_mm if self.operation == "relief" else self.flat_place_mm

    @property
    def asked_place_mm(self) -> float:
        """The place that would be right: the middle of the relief, or of the face."""
        if self.operation == "relief":
            return self.relief.asked_middle_mm
        return self.face.start_mm + self.face.width_mm / 2

    @property
    def face(self) -> BevelFace:
        """The face that is ground."""
        return self.section.face(self.relief.face)

    @property
    def depth_mm(self) -> float:
        """How deep the wheel goes below the surface that it bares on."""
        if self.operation == "relief":
            return self.after.relief_mm
        return self.before.outside_mm - self.after.outside_mm

    @property
    def deepest_mm(self) -> float:
        """The deepest that the wheel goes below the plane that it bares on."""
        return self.depth_mm

    @property
    def in_lines(self) -> bool:
        """Whether a round wheel generates the arc in parallel lines."""
        return self.line_arc is not None

    @cached_property
    def line_arc(self) -> LineArc | None:
        """The arc that is generated in lines: the relief's, by a wheel smaller than it."""
        radius = self.wheel_radius_mm
        if radius is None or radius >= self.section.wheel_radius_mm - 1e-9:
            return None
        assert self.ridge_mm is not None
        arc, bulge = self.section.wheel_radius_mm, self.face.bulge_radius_mm
        return Arc(arc, radius, self.depth_mm, self.ridge_mm, bulge, self.sharpest_mm)

    @property
    def ground_width_mm(self) -> float:
        """Width of the flat that a flat wheel leaves."""
        return self.face_width_mm(self.after.outside_mm)

    @property
    def edge_left_mm(self) -> float:
        """How much of the edge's thickness is left for later operations."""
        return self.after.outside_mm / math.cos(self.face.angle_rad)

    @property
    def edge_per_aside(self) -> float:
        """How much thicker the edge comes out for a millimetre that the wheel is set aside."""
        return 0.0

    @property
    def half_edge_mm(self) -> float:
        """|z| of the face at y = 0 when the work is done."""
        return self.face.raised(self.after.outside_mm).at_edge_mm

    @property
    def reaches_edge(self) -> bool:
        """Whether it decides how thick the edge comes out."""
        return self.operation != "relief"

    @cached_property
    def removal(self) -> Removal:
        """Area and width of what is taken at a depth."""
        if self.operation == "relief":
            if self.face.bulge is not None:
                return LensRemoval(self.section.lens(self.face.face))
            return SegmentRemoval(self.section.wheel_radius_mm)
        if self.operation == "bevel":
            # It grows so until the plane leaves the square end at its other corner.
            whole = 2 * self.face.stock_mm * math.cos(self.face.angle_rad)
            if self.from_corner:
                return CornerRemoval(self.face.angle_rad, whole)
            before = self.face_width_mm(self.before.outside_mm)
            return LayerRemoval(self.face.angle_rad, before, whole)
        return LandsRemoval(
            self.face.angle_rad,
            self.face_width_mm(self.before.outside_mm),
            self.section.wheel_radius_mm,
            self.before.relief_mm,
        )

    @property
    def wearing_width_mm(self) -> float:
        """Width of the wheel's rim that wears.

        In lines the arc turns the place of contact round the rim by as much as it turns itself.
        """
        width = float(self.removal.width_mm(np.array(self.depth_mm)))
        if self.wheel_radius_mm is not None and self.in_lines:
            width *= self.wheel_radius_mm / self.section.wheel_radius_mm
        return wearing_width_mm(self.wheel, width, self.curvature_per_mm)

    @property
    def from_corner(self) -> bool:
        """Whether a bevel begins on the square corner of the stock."""
        return self.operation == "bevel" and self.face_width_mm(self.before.outside_mm) < 1e-9

    def face_width_mm(self, outside_mm: float) -> float:
        """Width of the face, from the end of the stock to the flank, when it stands outside."""
        if outside_mm == 0.0:
            return self.face.width_mm
        return self.face.width_mm - outside_mm / (
            math.sin(self.face.angle_rad) * math.cos(self.face.angle_rad)
        )

    def state(self, depth_mm: float) -> FaceState:
        """The face with the wheel at a depth."""
        if self.operation == "relief":
            return FaceState(self.before.outside_mm, depth_mm)
        outside = self.before.outside_mm - depth_mm
        return FaceState(outside, max(self.before.relief_mm - depth_mm, 0.0))

    def thickness(self, y_mm: Floats, depth_mm: float) -> Floats:
        """Thickness across z with the wheel at a depth. Shape: (n,) -> (n,)."""
        other_face = "B" if self.face.face == "A" else "A"
        total = face_height_mm(self.section, self.face, y_mm, self.state(depth_mm))
        total = total + face_height_mm(
            self.section, self.section.face(other_face), y_mm, self.other
        )
        # Where a hollow runs out at a sharp edge the two meet, but for the last bit.
        return np.where((total < 0) & (total > -1e-9), 0.0, total)

    def plate_mm(self, depth_mm: Floats) -> Floats:
        """Thickness before the work under the middle of what is ground, for each depth.

        Shape: broadcasts with the depth.
        """
        low, high = self.contact_y_mm(np.array([self.depth_mm]))
        return np.asarray(self.thickness((low + high) / 2, 0.0)[0])

    def place_y_mm(self, along_mm: Floats) -> Floats:
        """y of places along the plane at zero, from where the wheel bares. Shape: any."""
        lower = self.before.outside_mm * math.tan(self.face.angle_rad)
        return (self.relief.middle_mm - lower + along_mm) * math.cos(self.face.angle_rad)

    def contact_y_mm(self, depth_mm: Floats) -> tuple[Floats, Floats]:
        """From where to where the wheel touches at a depth, as y. Shape: that of the depth."""
        cosine, tangent = math.cos(self.face.angle_rad), math.tan(self.face.angle_rad)
        if self.operation == "relief":
            half = self.removal.width_mm(depth_mm) / 2
            middle = self.relief.middle_mm - self.before.outside_mm * tangent
            # On a face that bulges the ends lie below the plane, and so nearer to the spine.
            below = sagitta(self.face.bulge_radius_mm, half) * math.sin(self.face.angle_rad)
            low = np.maximum((middle - half) * cosine + below, 0.0)
            return low, (middle + half) * cosine + below
        outside = self.before.outside_mm - depth_mm
        high = self.face.height_mm - outside / (cosine * tangent)
        return np.zeros_like(high), np.maximum(high, 1e-6)

    @property
    def flat_bares_mm(self) -> tuple[float, ...]:
        """Where a flat may bare, along the surface before: its corner, or its two ends."""
        if self.operation == "relief":
            return ()
        return (0.0,) if self.from_corner else (0.0, self.face_width_mm(self.before.outside_mm))

    @property
    def zero_face(self) -> BevelFace:
        """The plane that the wheel bares on."""
        return self.face.raised(self.before.outside_mm)

    @property
    def zero_relief(self) -> FaceRelief:
        """The place on that plane over which the wheel's reference point stands."""
        lower = self.before.outside_mm * math.tan(self.face.angle_rad)
        return replace(self.relief, middle_mm=self.place_mm - lower, depth_mm=self.depth_mm)


def face_height_mm(section: Section, face: BevelFace, y_mm: Floats, state: FaceState) -> Floats:
    """|z| of a face at each y. Shape: (n,) -> (n,)."""
    relief, raised = section.relief(face.face), face.raised(state.outside_mm)
    heights = raised.heights(y_mm)
    for angle, at_edge in state.flats:
        heights = np.minimum(heights, at_edge + y_mm * math.tan(angle))
    if relief is None or state.relief_mm == 0.0:
        return heights
    lower = state.outside_mm * math.tan(face.angle_rad)
    hollow = bevel.hollow_height(
        y_mm,
        raised.at_edge_mm,
        face.angle_rad,
        section.wheel_radius_mm,
        relief.middle_mm - lower,
        state.relief_mm,
    )
    return np.asarray(np.minimum(heights, hollow))


def edge_curvature_per_mm(job: Job, face: BevelFace, relief: FaceRelief | None) -> float:
    """Of what is ground: above 0 outside an arc, below 0 inside, 0 on a straight edge.

    Outside that of the edge; inside that of what lies nearest to the axis, where a wheel touches
    for longest. Of a curve in the plane of the blade that of the relief's middle, at the anchor.
    """
    edge = job.edge
    if isinstance(edge, CurveEdge):
        anchor = EdgeCourse(edge).anchor_mm
        turns = float(edge.at(anchor).curvature_per_mm)
        inside = (relief or no_relief(face)).middle_mm * math.cos(face.angle_rad)
        narrower = 1.0 - turns * inside
        return turns * math.sin(face.angle_rad) / narrower if narrower > 0.0 else 0.0
    if not isinstance(edge, ArcEdge):
        return 0.0
    if face.face == "A":
        return 1.0 / edge.radius_mm
    inside_mm = edge.radius_mm - face.flank_mm
    return -1.0 / inside_mm if inside_mm > 0.0 else -math.inf


def turned_rad(edge: CurveEdge) -> float:
    """How far its heading turns toward the spine from heel to tip."""
    heel, tip = edge.at([0.0, edge.length_mm]).heading_rad
    return float(tip - heel)


def no_relief(face: BevelFace) -> FaceRelief:
    """A face that stays flat, as a relief of no depth."""
    half = face.width_mm / 2
    return FaceRelief(face.face, 0.0, 0.0, half, half, face.start_mm + half, 0.0, 0.0)


def raised_lands_mm(work: FaceWork) -> tuple[float, float]:
    """Edge and shoulder land of a relief in the face that it is ground into."""
    state, relief = work.after, work.relief
    if state.outside_mm == 0.0:
        return relief.edge_land_mm, relief.shoulder_land_mm
    chord = float(segment.chord_of_depth(work.section.wheel_radius_mm, state.relief_mm))
    middle = relief.middle_mm - state.outside_mm * math.tan(work.face.angle_rad)
    edge = middle - chord / 2
    return edge, work.face_width_mm(state.outside_mm) - edge - chord
