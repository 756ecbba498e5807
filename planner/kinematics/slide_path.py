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
class SlideLines:
    """What the places of parallel lines have in common."""

    off_mm: float
    """From the arc's centre to the wheel's, in the section: a wheel that stands beside the middle
    touches the arc as much nearer to that side, by the angle whose sine is the one over the
    other. Above 0 in a hollow, where that is on the wheel's own side; below 0 on a bulge."""
    wheel_mm: float
    """Radius of the wheel in the section."""
    asides_mm: tuple[float, float]
    """The outermost lines, from the place of zero."""
    level_mm: float = 0.0
    """Where the arc lies as the plane of the face does, from the place of zero."""


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
    above_mm: float = 0.0
    """How high over its plane the middle of a flat stands at zero, held beside the face's angle."""
    lines: SlideLines | None = None
    """Of an arc in parallel lines: each touches it at its own angle."""

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

    def point_yz_mm(self, depth_mm: float, beside_mm: float = 0.0) -> Floats:
        """The deepest point of the relief at a depth, or one beside it, in the section."""
        sine, cosine = math.sin(self.plane.angle_rad), math.cos(self.plane.angle_rad)
        place = self.middle_mm + beside_mm
        out = self.plane.at_edge_mm + place * sine - depth_mm * cosine
        return np.array([place * cosine + depth_mm * sine, self.plane.side * out])

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

        In lines the place that it touches lies further beside, at its own angle. In the clamp
        frame. Shape: the three alike, (..., 3).
        """
        places, aside = self.course.at(s_mm), np.asarray(aside_mm, float)
        below = np.asarray(below_mm, float) - self.above_mm
        contact = self.plane.points(places, self.middle_mm + aside, below)
        along, normal = self.plane.directions(places)
        wheel, touched = self.wheel, normal
        if self.lines is not None:
            touched = self.touched(along, normal, aside)
            contact = contact + self.lines.wheel_mm * (normal - touched)
        return contact + centre_over_contact(
            touched, self.wheel_axis(s_mm), wheel.radius_mm, wheel.rim_radius_mm
        )

    def touched(self, along: Floats, normal: Floats, aside_mm: ArrayLike) -> Floats:
        """Outward normal where a wheel that stands beside the middle touches. Shape: (..., 3)."""
        if self.lines is None:
            return normal
        sine = (self.lines.level_mm - np.asarray(aside_mm, float)) / self.lines.off_mm
        cosine = np.sqrt(np.maximum(1.0 - sine * sine, 0.0))
        return np.asarray(cosine[..., None] * normal + sine[..., None] * along)

    @property
    def asides_mm(self) -> tuple[float, ...]:
        """Where the wheel stands beside the middle: the outermost places, or the middle alone."""
        return (0.0,) if self.lines is None else self.lines.asides_mm

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

    def off_between(self, ends_mm: Floats, aside_mm: float = 0.0) -> tuple[Floats, Floats]:
        """How far blocks are off their path half way, out of the face and along it.

        ``ends_mm`` are the unrolled ends, (n, 2); all axes go evenly. Shape: (n,) each.
        """
        middle = self.length_mm(ends_mm.mean(axis=-1))
        lengths = self.length_mm(ends_mm)
        beside = np.full_like(lengths, aside_mm)
        ends = self.centre_mm(lengths, beside, np.zeros_like(lengths))
        at = turned(ends, -self.turned_rad(lengths)) - self.zero_mm
        turn = self.turned_rad(lengths).mean(axis=-1)
        there = turned(self.zero_mm + (at @ self.axes.T).mean(axis=-2) @ self.axes, turn)
        zero = np.zeros_like(middle)
        off = there - self.centre_mm(middle, zero + aside_mm, zero)
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
