"""What each set-up grinds on its face: from which surface, how deep, and how much steel.

A face that stands a outside the finished one meets y = 0 at e/2 + a / cos β, and what lies p along
the finished face lies p - a tan β along it (docs/operations.md).
"""

from __future__ import annotations

import math
from collections.abc import Callable
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
from planner.section.profile import BevelFace
from planner.section.target import FaceRelief, Section
from planner.section.wheel_shape import section_radius_mm, wearing_width_mm

Floats = NDArray[np.float64]
OperationName = Literal["bevel", "relief", "lands"]


@dataclass(frozen=True)
class FaceState:
    """How far a face has come: its plane outside the finished one, its relief below that plane."""

    outside_mm: float
    relief_mm: float


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
    def in_lines(self) -> bool:
        """Whether a wheel smaller than the relief generates it in parallel lines."""
        radius = self.wheel_radius_mm
        return radius is not None and radius < self.section.wheel_radius_mm - 1e-9

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
        if self.in_lines:
            assert self.wheel_radius_mm is not None
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
        total = _height(self.section, self.face, y_mm, self.state(depth_mm)) + _height(
            self.section, self.section.face(other_face), y_mm, self.other
        )
        # Where a hollow runs out at a sharp edge the two meet, but for the last bit.
        return np.where((total < 0) & (total > -1e-9), 0.0, total)

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


def _height(section: Section, face: BevelFace, y_mm: Floats, state: FaceState) -> Floats:
    relief, raised = section.relief(face.face), face.raised(state.outside_mm)
    heights = raised.heights(y_mm)
    if relief is None:
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


def works_for(
    job: Job,
    section: Section,
    relief_wheel: Wheel,
    rack: list[Wheel],
    stands_at_mm: Callable[[float], float] = lambda place: place,
) -> list[FaceWork]:
    """Every set-up's work in order: operation by operation, face A before face B.

    ``stands_at_mm`` gives where a flat wheel can stand for a place that is wanted.
    A bevel that takes much off its side is ground in turns with the other.
    """
    operations = job.operations or ()
    allowance = next((o.allowance_mm for o in operations if o.do == "lands"), 0.0)
    by_name = {wheel.name: wheel for wheel in rack}
    stock = {f.face: (f.stock_mm - f.at_edge_mm) * math.cos(f.angle_rad) for f in section.faces}
    begins_flat = any(o.do == "bevel" for o in operations)
    # A flat back comes as it stays: nothing is left on it, and no lands are ground there.
    backs = {f.face for f in section.faces if f.edge_angle_deg == 0.0}
    left = {f: allowance if section.relief(f) and f not in backs else 0.0 for f in stock}
    states = {f: FaceState(stock[f] if begins_flat else left[f], 0.0) for f in stock}
    wheels: list[tuple[OperationName, Wheel]] = [
        (o.do, relief_wheel if o.do == "relief" else by_name[o.wheel]) for o in operations
    ]
    turns: list[tuple[OperationName, Wheel, int]] = []
    for do, wheel in wheels or [("relief", relief_wheel)]:
        stages = job.bevel_stages if do == "bevel" else 1
        turns += [(do, wheel, stage) for stage in range(1, stages + 1)]
    works: list[FaceWork] = []
    for do, wheel, stage in turns:
        for face in section.faces:
            relief = section.relief(face.face)
            if relief is None and do != "bevel":
                continue
            if do == "bevel" and stock[face.face] == 0.0:
                continue
            if do == "lands" and face.face in backs:
                continue
            deep = relief.depth_mm if relief else 0.0
            remaining = 1 - stage / max(job.bevel_stages, 1)
            after = {
                "bevel": FaceState(
                    left[face.face] + remaining * (stock[face.face] - left[face.face]), 0.0
                ),
                "relief": FaceState(states[face.face].outside_mm, deep + left[face.face]),
                "lands": FaceState(0.0, deep),
            }[do]
            name = face.face if job.operations is None else f"{do}-{face.face}"
            if do == "bevel" and job.bevel_stages > 1:
                name += f"-{stage}"
            works.append(
                FaceWork(
                    name=name,
                    operation=do,
                    wheel=wheel,
                    section=section,
                    relief=relief or no_relief(face),
                    before=states[face.face],
                    after=after,
                    other=states["B" if face.face == "A" else "A"],
                    wheel_radius_mm=section_radius_mm(wheel) if do == "relief" else None,
                    flat_place_mm=stands_at_mm(face.start_mm + face.width_mm / 2),
                    curvature_per_mm=edge_curvature_per_mm(job, face, relief),
                )
            )
            states[face.face] = after
    return works


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
