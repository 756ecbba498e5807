"""The touch frame of a set-up: how the program's positions stand to the blade (docs/frames.md)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from planner.inputs.axes import AxisLetter, LinearAxis, RotaryAxis
from planner.inputs.machine import Machine
from planner.kinematics.settings import hand_tilt_deg
from planner.section.profile import BevelFace
from planner.section.target import FaceRelief, Section

INCH_MM = 25.4

_NO_DRIFT = 1e-12

_ALIKE_DEG = 1e-6
"""Two tilts whose distances differ by less are as near as each other."""

_ATTITUDES = {
    # attitude of the blade before it is tilted, as a matrix on (y, z)
    "flat": np.array([[1.0, 0.0], [0.0, 1.0]]),
    "end_for_end": np.array([[1.0, 0.0], [0.0, -1.0]]),
    "over": np.array([[-1.0, 0.0], [0.0, -1.0]]),
    "edge_up": np.array([[0.0, 1.0], [-1.0, 0.0]]),
}


@dataclass(frozen=True)
class TouchFrame:
    """Program positions to blade positions, for one set-up as it is really held."""

    origin_yz_mm: tuple[float, float]
    cross_dir_yz: tuple[float, float]
    infeed_dir_yz: tuple[float, float]
    x_at_zero_mm: float
    x_per_traverse: int
    tilt_deg: float
    ideal_tilt_deg: float
    infeed_per_depth: float
    """Infeed for a millimetre of depth; below zero."""
    cross_per_depth: float
    along_per_depth: float
    """How far the wheel goes along the face, to the shoulder, for a millimetre of depth: nothing
    but where the tilt is off and no cross axis makes up for it."""
    bite_per_depth: float
    """The largest bite anywhere on the arc for a millimetre of depth: more where it drifts."""
    axis_yz_mm: tuple[float, float] | None = None
    """Where the axis lies about which the tilt is swept; None where it stays as it is set."""

    def position(self, depth_mm: float, along_mm: float = 0.0) -> tuple[float, float]:
        """Infeed and cross at which the wheel stands at a depth in the face.

        ``along_mm`` is beside the middle along the face, positive toward the shoulder; only for a
        frame with a cross axis.
        """
        infeed, cross = self.infeed_per_depth * depth_mm, self.cross_per_depth * depth_mm
        if along_mm == 0.0:
            return infeed, cross
        beside = self.beside(along_mm)
        return infeed + beside[0], cross + beside[1]

    def beside(self, distance_mm: float) -> tuple[float, float]:
        """Infeed and cross at which the wheel bares on the unground face beside the middle.

        ``distance_mm`` is along the face, positive toward the shoulder. Only for a frame with a
        cross axis, whose two directions are at right angles.
        """
        # The way into the face, as infeed and cross; the face lies at right angles to it.
        infeed, cross = self.infeed_per_depth, self.cross_per_depth
        toward_spine = cross * self.infeed_dir_yz[0] - infeed * self.cross_dir_yz[0]
        way = distance_mm if toward_spine > 0.0 else -distance_mm
        return cross * way, -infeed * way


def linear_axis(machine: Machine, role: str) -> LinearAxis:
    """The straight axis with a role that every machine has: traverse or infeed."""
    axis = next(a for a in machine.axes.values() if a.role == role)
    assert isinstance(axis, LinearAxis)
    return axis


def smallest_step_mm(machine: Machine, axis: LinearAxis) -> float:
    """The finest step that a program can write exactly and the axis can take.

    That is the least common multiple of the axis resolution and the last written decimal; where
    it would be coarse (over ten times either, as between inches and millimetres) the coarser of
    the two, and the rounding to it is part of the spread.
    """
    written = _last_decimal_mm(machine)
    # The decimal that was written, not the binary fraction beside it.
    resolution = Fraction(repr(axis.resolution_mm))
    common = Fraction(
        math.lcm(written.numerator, resolution.numerator),
        math.gcd(written.denominator, resolution.denominator),
    )
    coarser = max(written, resolution)
    return float(common if common <= 10 * coarser else coarser)


def last_decimal_mm(machine: Machine) -> float:
    """What the last decimal of a straight axis's word stands for."""
    return float(_last_decimal_mm(machine))


def _last_decimal_mm(machine: Machine) -> Fraction:
    decimal = Fraction(1, 10**machine.controller.decimals)
    return decimal * Fraction(254, 10) if machine.controller.units == "inch" else decimal


def axis_letter(machine: Machine, role: str) -> AxisLetter | None:
    """The letter of the axis with a role, where the machine has one."""
    return next((k for k, a in machine.axes.items() if a.role == role), None)


def ideal_tilt_deg(flip: str, face: str, bevel_deg: float) -> float:
    """The tilt at which a bevel face lies parallel to the cross axis (docs/frames.md)."""
    if flip == "by_tilt":
        return -(90.0 - bevel_deg) if face == "A" else 90.0 - bevel_deg
    return -bevel_deg if (flip, face) == ("over", "B") else bevel_deg


def reachable_tilt_deg(machine: Machine, wanted_deg: float) -> float:
    """The nearest tilt that exists on this machine; travel limits are looked at elsewhere."""
    letter = axis_letter(machine, "tilt")
    if letter is not None:
        axis = machine.axes[letter]
        assert isinstance(axis, RotaryAxis)
        step = max(axis.resolution_deg, 10.0**-machine.controller.rotary_decimals)
        # Of two as near as each other the lower, as with settings made by hand.
        return math.ceil((wanted_deg - _ALIKE_DEG / 2) / step - 0.5) * step
    return hand_tilt_deg(machine, wanted_deg)


def held_angle_deg(machine: Machine, face: str, wanted_deg: float) -> float:
    """The angle to the centre plane at which a face lies along the cross, of the nearest tilt."""
    flip = machine.fixture.flip
    tilt = reachable_tilt_deg(machine, ideal_tilt_deg(flip, face, wanted_deg))
    if flip == "by_tilt":
        return 90.0 + tilt if face == "A" else 90.0 - tilt
    return -tilt if (flip, face) == ("over", "B") else tilt


def relief_frame(
    machine: Machine, section: Section, relief: FaceRelief, edge_length_mm: float
) -> TouchFrame:
    """The frame of a relief that its own wheel grinds into the finished face."""
    face = section.face(relief.face)
    return touch_frame(machine, face, section.wheel_radius_mm, relief, edge_length_mm)


def touch_frame(
    machine: Machine,
    flat: BevelFace,
    wheel_radius_mm: float,
    relief: FaceRelief,
    edge_length_mm: float,
    flat_bares_mm: tuple[float, ...] = (),
) -> TouchFrame:
    """The frame of the set-up that grinds one relief, the wheel baring on the plane of a face.

    ``flat_bares_mm`` are the places along the face, from its edge, of which a flat wheel bares on
    the higher: held aside, its middle then stands above the plane.
    """
    flip, face = machine.fixture.flip, relief.face
    side = 1.0 if face == "A" else -1.0
    along = np.array([math.cos(flat.angle_rad), side * math.sin(flat.angle_rad)])
    normal = np.array([-math.sin(flat.angle_rad), side * math.cos(flat.angle_rad)])
    corner = np.array([0.0, side * flat.at_edge_mm])
    origin = corner + relief.middle_mm * along + wheel_radius_mm * normal
    ideal = ideal_tilt_deg(flip, face, flat.angle_deg)
    tilt = reachable_tilt_deg(machine, ideal)
    if flip == "by_tilt":
        attitude = _ATTITUDES["edge_up"]
    else:
        attitude = _ATTITUDES["flat" if face == "A" else flip]
    turn = math.radians(tilt)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    directions = np.linalg.inv(attitude) @ rotation
    cross_dir, infeed_dir = directions[:, 0], directions[:, 1]
    slope_of_flat = float(cross_dir @ normal) / float(cross_dir @ along)
    rises = [(relief.middle_mm - place) * slope_of_flat for place in flat_bares_mm]
    origin = origin + max(rises, default=0.0) * normal
    if axis_letter(machine, "cross") is not None:
        cross_per_depth, infeed_per_depth = np.linalg.solve(
            np.column_stack([cross_dir, infeed_dir]), -normal
        )
    else:
        cross_per_depth, infeed_per_depth = 0.0, -1.0 / float(infeed_dir @ normal)
    drift = float((infeed_per_depth * infeed_dir + cross_per_depth * cross_dir) @ along)
    along_per_depth = drift if abs(drift) > _NO_DRIFT else 0.0
    # Where the arc meets the face it is steepest, and a step aside is depth by this slope.
    half, radius = relief.chord_mm / 2, wheel_radius_mm
    slope = half / math.sqrt(radius * radius - half * half) if radius > half else 0.0
    reversed_traverse = (flip, face) == ("end_for_end", "B")
    return TouchFrame(
        origin_yz_mm=(float(origin[0]), float(origin[1])),
        cross_dir_yz=(float(cross_dir[0]), float(cross_dir[1])),
        infeed_dir_yz=(float(infeed_dir[0]), float(infeed_dir[1])),
        x_at_zero_mm=edge_length_mm if reversed_traverse else 0.0,
        x_per_traverse=-1 if reversed_traverse else 1,
        tilt_deg=tilt,
        ideal_tilt_deg=ideal,
        infeed_per_depth=float(infeed_per_depth),
        cross_per_depth=float(cross_per_depth),
        along_per_depth=along_per_depth,
        bite_per_depth=1.0 + abs(along_per_depth) * slope,
    )
