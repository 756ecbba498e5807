"""An edge that the straight axes follow: the blade stands still, and the wheel goes along it.

The set-up is planned as that of a straight edge as long; its places are then put where the edge
really is (docs/edge-paths.md). The wheel keeps the direction of its axis all along.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.wheel_support import centre_over_contact
from planner.inputs.axes import AxisLetter
from planner.kinematics.touch_frame import TouchFrame
from planner.section.edge_course import EdgeCourse, FacePlane

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Sliding:
    """What the wheel is, as far as its way depends on it."""

    radius_mm: float
    """About its axis."""
    rim_radius_mm: float
    """Across its rim, in a plane through the axis; infinite for a flat one."""
    across_edge: bool
    """Whether its axis lies along the cross, or else along the traverse."""


@dataclass(frozen=True)
class SlideTurn:
    """A turn about the section's z at the anchor, that lays each place along the traverse."""

    letter: AxisLetter
    sign: float
    """1 for face A; turned to its other face the blade turns the other way: -1."""
    step_deg: float
    max_feed_deg_min: float
    acceleration_deg_s2: float


@dataclass(frozen=True)
class SlidePath:
    """The wheel's way over one face, in the places of the unrolled set-up and in the real ones.

    An unrolled place is (traverse, cross, infeed) as if the edge were straight, the traverse
    counted from the end that is met first; a real one is what the axes are told. Both are the
    set-up's own figures, before any ``invert``.
    """

    course: EdgeCourse
    plane: FacePlane
    wheel: Sliding
    middle_mm: float
    """Where the wheel bares, along the face from its edge."""
    frame: TouchFrame
    """Of the unrolled set-up."""
    letters: dict[str, AxisLetter]
    """Of the axes that follow the edge, by role, that of the turn too."""
    turn: SlideTurn | None = None
    """Where one keeps the edge along the traverse, the wheel lies square to it everywhere."""

    @property
    def anchor_mm(self) -> float:
        """Where on the edge program zero is, from the heel."""
        return self.course.anchor_mm

    @cached_property
    def axes(self) -> Floats:
        """Directions of traverse, cross and infeed in the clamp frame, as rows."""
        return np.array(
            [
                [self.frame.x_per_traverse, 0.0, 0.0],
                [0.0, *self.frame.cross_dir_yz],
                [0.0, *self.frame.infeed_dir_yz],
            ]
        )

    def turned_rad(self, s_mm: ArrayLike) -> Floats:
        """How far the turn has laid the blade back for a place, from the anchor. Shape: any."""
        s = np.asarray(s_mm, float)
        if self.turn is None:
            return np.zeros_like(s)
        return self.course.heading_rad(s) - float(self.course.heading_rad(self.anchor_mm))

    def turn_deg(self, s_mm: ArrayLike) -> Floats:
        """What the turn is told for a place. Shape: any."""
        sign = 0.0 if self.turn is None else self.turn.sign
        return np.asarray(sign * np.degrees(self.turned_rad(s_mm)))

    def wheel_axis(self, s_mm: ArrayLike) -> Floats:
        """Direction of the wheel's axis over a place, in the clamp frame. Shape: (..., 3)."""
        axis = self.axes[1] if self.wheel.across_edge else np.array([1.0, 0.0, 0.0])
        return turned(axis, self.turned_rad(s_mm))

    def point_yz_mm(self, depth_mm: float) -> Floats:
        """The deepest point of the relief at a depth, in the section."""
        sine, cosine = math.sin(self.plane.angle_rad), math.cos(self.plane.angle_rad)
        out = self.plane.at_edge_mm + self.middle_mm * sine - depth_mm * cosine
        return np.array([self.middle_mm * cosine + depth_mm * sine, self.plane.side * out])

    @property
    def _face_in_section(self) -> tuple[Floats, Floats]:
        """Along the face and outward, (y, z) of the section."""
        side, angle = self.plane.side, self.plane.angle_rad
        along = np.array([math.cos(angle), side * math.sin(angle)])
        return along, np.array([-math.sin(angle), side * math.cos(angle)])

    def length_mm(self, traverse_mm: ArrayLike) -> Floats:
        """The length along the edge, from the heel, of an unrolled place. Shape: any."""
        return self.frame.x_at_zero_mm + self.frame.x_per_traverse * np.asarray(traverse_mm, float)

    def unrolled_mm(self, s_mm: ArrayLike) -> Floats:
        """The unrolled traverse of a length along the edge. Shape: any."""
        return (np.asarray(s_mm, float) - self.frame.x_at_zero_mm) * self.frame.x_per_traverse

    def normal(self, s_mm: ArrayLike) -> Floats:
        """Outward normal of the face there, in the clamp frame. Shape: (..., 3)."""
        return self.plane.directions(self.course.at(s_mm))[1]

    def centre_mm(self, s_mm: ArrayLike, aside_mm: ArrayLike, below_mm: ArrayLike) -> Floats:
        """The wheel's middle over a contact so far beside the middle and below the face.

        In the clamp frame. Shape: the three alike, (..., 3).
        """
        places, aside = self.course.at(s_mm), np.asarray(aside_mm, float)
        contact = self.plane.points(places, self.middle_mm + aside, below_mm)
        normal = self.plane.directions(places)[1]
        wheel = self.wheel
        return contact + centre_over_contact(
            normal, self.wheel_axis(s_mm), wheel.radius_mm, wheel.rim_radius_mm
        )

    @cached_property
    def zero_mm(self) -> Floats:
        """The wheel's middle at program zero, in the clamp frame."""
        return self.centre_mm(self.anchor_mm, 0.0, 0.0)

    def beside_and_below(self, cross_mm: ArrayLike, infeed_mm: ArrayLike) -> tuple[Floats, Floats]:
        """How far an unrolled place lies along the face from its middle, and below it."""
        along, outward = self._face_in_section
        cross_dir, infeed_dir = (
            np.array(self.frame.cross_dir_yz),
            np.array(self.frame.infeed_dir_yz),
        )
        cross, infeed = np.asarray(cross_mm, float), np.asarray(infeed_mm, float)
        way = cross[..., None] * cross_dir + infeed[..., None] * infeed_dir
        return way @ along, -(way @ outward)

    def stand(self, traverse_mm: ArrayLike, cross_mm: ArrayLike, infeed_mm: ArrayLike) -> Floats:
        """Traverse, cross and infeed of unrolled places, the turn at that of the place.

        Shape: the three alike, (..., 3).
        """
        t, cross, infeed = np.broadcast_arrays(
            *(np.asarray(v, float) for v in (traverse_mm, cross_mm, infeed_mm))
        )
        aside, below = self.beside_and_below(cross, infeed)
        s = self.length_mm(t)
        centre = turned(self.centre_mm(s, aside, below), -self.turned_rad(s))
        return np.asarray((centre - self.zero_mm) @ self.axes.T)

    def off_between(self, ends_mm: Floats) -> tuple[Floats, Floats]:
        """How far blocks are off their path half way, out of the face and along it.

        ``ends_mm`` are the unrolled ends, (n, 2); all axes go evenly. Shape: (n,) each.
        """
        middle = self.length_mm(ends_mm.mean(axis=-1))
        at = self.stand(ends_mm, 0.0, 0.0).mean(axis=-2)
        turn = self.turned_rad(self.length_mm(ends_mm)).mean(axis=-1)
        there = turned(self.zero_mm + at @ self.axes, turn)
        zero = np.zeros_like(middle)
        off = there - self.centre_mm(middle, zero, zero)
        along, outward = self.plane.directions(self.course.at(middle))
        return np.sum(off * outward, axis=-1), np.sum(off * along, axis=-1)

    def at_depth(self, s_mm: ArrayLike, depth_mm: float) -> Floats:
        """Traverse, cross and infeed for a depth in the middle of the relief. Shape: (..., 3)."""
        infeed, cross = self.frame.position(depth_mm)
        return self.stand(self.unrolled_mm(s_mm), cross, infeed)


def turned(vectors: Floats, angle_rad: ArrayLike) -> Floats:
    """Vectors turned from X toward Y. Shape: (..., 3) and (...), broadcast."""
    sine, cosine = np.sin(angle_rad), np.cos(angle_rad)
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    there = np.broadcast_arrays(cosine * x - sine * y, sine * x + cosine * y, z)
    return np.stack(there, axis=-1)
