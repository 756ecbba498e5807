"""A set-up whose tilt is swept from facet to facet: where each one has the axes stand.

All from one touch-off, that of the first facet on the corner of the stock (docs/frames.md, "A swept
tilt").
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from planner.formulas.swept_tilt import highest_rise, turned_directions
from planner.inputs.axes import LinearAxis
from planner.inputs.edge_paths import StraightEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.obstacles import as_held_yz
from planner.kinematics.room import Room, rooms_of
from planner.kinematics.row import Row
from planner.kinematics.touch_frame import (
    TouchFrame,
    axis_letter,
    ideal_tilt_deg,
    linear_axis,
    reachable_tilt_deg,
    smallest_step_mm,
)
from planner.kinematics.whole_steps import WHOLE
from planner.section.bulge_work import FacetWork
from planner.section.facets import Facet
from planner.section.sweep_work import SweepWork, below_stock_mm
from planner.section.work import FaceWork

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class FacetStand:
    """One facet, and the axes with the wheel on it in whole steps, no wear made up for."""

    work: FacetWork
    """The flat that is left so: its plane stands off the tangent by what the steps ask."""
    tilt_deg: float
    cross_mm: float
    infeed_mm: float
    depth_mm: float
    """Of that flat below the corner of the stock, along its normal."""
    off_tangent_mm: float
    """How far whole steps keep it outside the tangent."""


@dataclass(frozen=True)
class Sweep:
    """The facets of one set-up in the program's own zero."""

    frame: TouchFrame
    """That of the touch-off, at the tilt of the first facet, with the axis."""
    stands: tuple[FacetStand, ...]
    clear_mm: float
    """Infeed at which the wheel is clear of the blade at every tilt of the program."""

    def stand(self, facet: int | None) -> FacetStand:
        """That of a pass's facet."""
        assert facet is not None
        return self.stands[facet]

    def position(self, facet: int | None, depth_mm: float) -> tuple[float, float]:
        """Infeed and cross for a depth of a facet's plane below the corner of the stock."""
        stand = self.stand(facet)
        return stand.infeed_mm + stand.depth_mm - depth_mm, stand.cross_mm

    def directions(self, tilt_deg: float) -> tuple[Floats, Floats]:
        """(cross_dir, infeed_dir) at a tilt, in the section of the blade. Shape: (2,) each."""
        turn = math.radians(tilt_deg - self.frame.tilt_deg)
        return turned_directions(self.frame.cross_dir_yz, self.frame.infeed_dir_yz, turn)

    def stands_at(self, tilt_deg: float, cross_mm: float, infeed_mm: float) -> Floats:
        """The wheel's reference point in the section of the blade. Shape: (2,)."""
        frame, (cross_dir, infeed_dir) = self.frame, self.directions(tilt_deg)
        assert frame.axis_yz_mm is not None
        pivot = np.array(frame.axis_yz_mm)
        zero = np.array(frame.origin_yz_mm) - pivot
        along, above = zero @ frame.cross_dir_yz, zero @ frame.infeed_dir_yz
        return np.asarray(pivot + (along + cross_mm) * cross_dir + (above + infeed_mm) * infeed_dir)

    def below_stock_mm(self, tilt_deg: float, cross_mm: float, infeed_mm: float) -> float:
        """How far the flat lies below the corner of the stock, normal to itself."""
        face = self.stands[0].work.face
        corner = np.array([0.0, face.stock_mm if face.face == "A" else -face.stock_mm])
        away = corner - self.stands_at(tilt_deg, cross_mm, infeed_mm)
        return float(away @ self.directions(tilt_deg)[1])

    def turn_deg(self, facet: int) -> float:
        """How far the tilt stands from that of the touch-off."""
        return self.stands[facet].tilt_deg - self.stands[0].tilt_deg

    def rooms(
        self, machine: Machine, row: Row, sent: Sequence[tuple[int, float]] = ()
    ) -> list[Room]:
        """The room of every axis that the set-up and its air run move.

        ``sent`` are facets and the depths that their passes are sent to; without any their flats.
        """
        sent = sent or [(n, each.depth_mm) for n, each in enumerate(self.stands)]
        infeeds = [self.position(*one)[0] for one in sent]
        crosses, tilts = zip(*((s.cross_mm, s.tilt_deg) for s in self.stands), strict=True)
        lift = machine.fixture.clearance_mm + max(depth for _, depth in sent)
        return rooms_of(
            machine,
            {
                "traverse": row.ends_mm,
                "infeed": (min(infeeds), self.clear_mm + lift),
                "cross": (min(crosses), max(crosses)),
                "tilt": (min(tilts), max(tilts)),
            },
        )


def is_swept(job: Job, machine: Machine) -> bool:
    """Whether facets are ground one after the other in one set-up: the tilt's axis is known, and
    the edge is straight."""
    return machine.fixture.tilt_axis is not None and isinstance(job.edge, StraightEdge)


def sweep_of(machine: Machine, frame: TouchFrame, work: FaceWork) -> Sweep | None:
    """Where the facets of a swept set-up have the axes stand; None for any other set-up."""
    axis = machine.fixture.tilt_axis
    if not isinstance(work, SweepWork) or axis is None:
        return None
    face = work.relief.face
    frame = replace(frame, axis_yz_mm=as_held_yz(machine, face, axis.at_yz_mm))
    stands = _stands(machine, frame, work)
    side = 1.0 if face == "A" else -1.0
    corner = np.array([0.0, side * work.face.stock_mm]) - np.array(frame.axis_yz_mm)
    along, above = (float(corner @ d) for d in (frame.cross_dir_yz, frame.infeed_dir_yz))
    turns = [math.radians(each.tilt_deg - frame.tilt_deg) for each in stands]
    rise = highest_rise(along, above, min(turns), max(turns))
    return Sweep(frame, tuple(stands), machine.fixture.clearance_mm + max(rise, 0.0))


def _stands(machine: Machine, frame: TouchFrame, work: SweepWork) -> list[FacetStand]:
    assert frame.axis_yz_mm is not None
    side = 1.0 if work.relief.face == "A" else -1.0
    pivot = np.array(frame.axis_yz_mm)
    infeed_step = smallest_step_mm(machine, linear_axis(machine, "infeed"))
    cross_step = _cross_step_mm(machine)
    zero = [
        float((np.array(frame.origin_yz_mm) - pivot) @ np.array(direction))
        for direction in (frame.cross_dir_yz, frame.infeed_dir_yz)
    ]
    stands: list[FacetStand] = []
    before: FacetWork | None = None
    for facet in work.facets:
        flat = facet.face
        ideal = ideal_tilt_deg(machine.fixture.flip, flat.face, flat.angle_deg)
        tilt = reachable_tilt_deg(machine, ideal)
        turn = math.radians(tilt - frame.tilt_deg)
        cross_dir, infeed_dir = turned_directions(frame.cross_dir_yz, frame.infeed_dir_yz, turn)
        place = facet.flat_place_mm
        middle = np.array(
            [
                place * math.cos(flat.angle_rad),
                side * (flat.at_edge_mm + place * math.sin(flat.angle_rad)),
            ]
        )
        cross, exact = (
            float((middle - pivot) @ direction) - at
            for direction, at in zip((cross_dir, infeed_dir), zero, strict=True)
        )
        infeed = math.ceil(exact / infeed_step - WHOLE) * infeed_step
        cross = 0.0 if cross_step is None else round(cross / cross_step) * cross_step
        left = _left(facet, infeed - exact, before)
        stands.append(FacetStand(left, tilt, cross, infeed, below_stock_mm(left), infeed - exact))
        before = left
    return stands


def _left(facet: FacetWork, off_mm: float, before: FacetWork | None) -> FacetWork:
    """A facet as it is left by steps, on the corner that the one before it is left with."""
    one, stock = facet.facet, facet.face.stock_mm
    sine, cosine = math.sin(one.angle_rad), math.cos(one.angle_rad)
    corner = one.corner_yz_mm
    state = facet.before
    if before is not None:
        last = before.facet
        corner = ((stock - last.at_edge_mm) / math.tan(last.angle_rad), stock)
        state = before.state(last.depth_mm)
    at_edge = one.at_edge_mm + off_mm / cosine
    depth = (corner[1] - at_edge) * cosine - corner[0] * sine
    left = Facet(one.angle_rad, at_edge, one.before_rad, corner, depth)
    return replace(facet, facet=left, before=state)


def _cross_step_mm(machine: Machine) -> float | None:
    letter = axis_letter(machine, "cross")
    if letter is None:
        return None
    axis = machine.axes[letter]
    assert isinstance(axis, LinearAxis)
    return smallest_step_mm(machine, axis)
