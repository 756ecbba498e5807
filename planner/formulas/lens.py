r"""A wheel's circle in a face that bulges: a relief in a convex bevel, arc against arc.

Symbols: R wheel radius, ρ radius of the face (infinite: flat), h half of the straight chord between
the ends of the relief, d depth below the face, normal to it in the middle, all mm. On the chord the
wheel's arc stands s(R) below and the face's s(ρ) above, s(r) = r - sqrt(r^2 - h^2), so d is the sum
of the two. φ and ψ are the angles of the two arcs at their ends, sin φ = h / R, sin ψ = h / ρ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result, unchecked_area


def sagitta(radius_mm: ArrayLike, half_chord_mm: ArrayLike) -> Result:
    r"""Height of an arc over its chord.

    .. math:: s = r - \sqrt{r^2 - h^2}

    Range: r > 0 (infinite: 0), 0 <= h <= r. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35. Coded as h^2 / (r + sqrt(r^2 - h^2)).

    >>> float(sagitta(5.0, 4.0)), float(sagitta(np.inf, 4.0))  # by hand: a 3-4-5 triangle
    (2.0, 0.0)
    """
    radius, half = np.asarray(radius_mm, float), np.asarray(half_chord_mm, float)
    require("radius_mm", np.where(np.isinf(radius), 1.0, radius), above=0.0)
    require("half_chord_mm", half, low=0.0, high=np.minimum(radius, 1e9))
    square = half * half
    return np.asarray(square / (radius + np.sqrt(radius * radius - square)))[()]


@dataclass(frozen=True)
class Lens:
    """The relief of one wheel in one face; the flat face is that of infinite radius.

    Every method takes floats or arrays, shape any, and returns floats for floats.
    Range: R > 0, ρ > 0. Raises: ValueError.
    """

    wheel_radius_mm: float
    face_radius_mm: float = np.inf

    def __post_init__(self) -> None:
        require("wheel_radius_mm", self.wheel_radius_mm, above=0.0)
        if not np.isinf(self.face_radius_mm):
            require("face_radius_mm", self.face_radius_mm, above=0.0)

    @property
    def deepest_mm(self) -> float:
        """Depth at which the smaller of the two circles is cut at its widest."""
        small = min(self.wheel_radius_mm, self.face_radius_mm)
        return float(sagitta(self.wheel_radius_mm, small) + sagitta(self.face_radius_mm, small))

    def depth_of_chord(self, chord_mm: ArrayLike) -> Result:
        r"""Depth of a relief by its straight chord.

        .. math:: d = s(R) + s(\rho)

        Range: 0 <= c <= 2 min(R, ρ). Source: Euclid, Elements III.35, for each arc.

        >>> float(Lens(5.0, 5.0).depth_of_chord(8.0))  # by hand: twice 5 - 3
        4.0
        """
        half = np.asarray(chord_mm, float) / 2.0
        both = sagitta(self.wheel_radius_mm, half) + sagitta(self.face_radius_mm, half)
        return np.asarray(both)[()]

    def chord_of_depth(self, depth_mm: ArrayLike) -> Result:
        r"""Straight chord of a relief by its depth: where two circles meet.

        .. math:: h = \frac{\sqrt{d (2R - d)(2\rho - d)(2R + 2\rho - d)}}{2 (R + \rho - d)}

        Range: 0 <= d <= ``deepest_mm``. Source: Heron's formula for the triangle of the two
        centres, R + ρ - d apart, and the point where the circles meet (Heron, Metrica I.8).

        >>> float(Lens(5.0, 5.0).chord_of_depth(4.0))  # by hand, see above
        8.0
        """
        depth = np.asarray(depth_mm, float)
        require("depth_mm", depth, low=0.0, high=self.deepest_mm)
        return np.asarray(self.unchecked_chord(depth))[()]

    def area_of_depth(self, depth_mm: ArrayLike) -> Result:
        r"""Area between the two arcs, the sum of their segments over one chord.

        Range: 0 <= d <= ``deepest_mm``. Source: planner/formulas/segment.py.
        """
        depth = np.asarray(depth_mm, float)
        require("depth_mm", depth, low=0.0, high=self.deepest_mm)
        return np.asarray(self.unchecked_area(depth))[()]

    def unchecked_chord(self, depth_mm: Result) -> Result:
        """``chord_of_depth`` without its range check."""
        radius, face, depth = self.wheel_radius_mm, self.face_radius_mm, depth_mm
        if np.isinf(face):
            return np.asarray(2.0 * np.sqrt(depth * (2.0 * radius - depth)))
        product = depth * (2.0 * radius - depth) * (2.0 * face - depth)
        product = product * (2.0 * radius + 2.0 * face - depth)
        return np.asarray(np.sqrt(product) / (radius + face - depth))

    def unchecked_area(self, depth_mm: Result) -> Result:
        """``area_of_depth`` without its range check."""
        if np.isinf(self.face_radius_mm):
            return unchecked_area(self.wheel_radius_mm, depth_mm)
        half = self.unchecked_chord(depth_mm) / 2.0
        radius, face = self.wheel_radius_mm, self.face_radius_mm
        return np.asarray(
            unchecked_area(radius, sagitta(radius, half))
            + unchecked_area(face, sagitta(face, half))
        )

    def end_per_depth(self, depth_mm: ArrayLike) -> Result:
        r"""How far each end of the relief moves along the face per millimetre of depth.

        .. math:: \frac{1}{(\tan\varphi + \tan\psi) \cos\psi}

        Range: 0 < d < ``deepest_mm``. Source: derivative of d(h), and h = ρ sin ψ along the arc;
        for a flat face (R - d) / h.

        >>> round(float(Lens(5.0).end_per_depth(2.0)), 12)  # by hand: (5 - 2) / 4
        0.75
        """
        wheel, face = self._end_angles(depth_mm)
        return np.asarray(1.0 / ((np.tan(wheel) + np.tan(face)) * np.cos(face)))[()]

    def end_per_radius(self, depth_mm: ArrayLike) -> Result:
        r"""How far each end moves along the face per millimetre of wheel radius, at one depth.

        .. math:: \frac{1/\cos\varphi - 1}{(\tan\varphi + \tan\psi) \cos\psi}

        Range: 0 < d < ``deepest_mm``. Source: derivative of d(h, R) = const; for a flat face d / h.

        >>> round(float(Lens(5.0).end_per_radius(2.0)), 12)  # by hand: 2 / 4
        0.5
        """
        wheel, _ = self._end_angles(depth_mm)
        return np.asarray((1.0 / np.cos(wheel) - 1.0) * self.end_per_depth(depth_mm))[()]

    def angle_lost_rad(self, chord_mm: ArrayLike) -> Result:
        r"""Angle between the two arcs where they meet: φ + ψ.

        What a hollow that runs out at the edge takes off the bevel angle of its side.
        Range: 0 <= c <= 2 min(R, ρ). Source: tangent-chord angles, Euclid, Elements III.32.
        """
        half = np.asarray(chord_mm, float) / 2.0
        require("chord_mm", 2.0 * half, low=0.0, high=2.0 * min(self.wheel_radius_mm, self._face))
        return np.asarray(np.arcsin(half / self.wheel_radius_mm) + np.arcsin(half / self._face))[()]

    def along_face(self, chord_mm: ArrayLike) -> Result:
        """Length of the face over a straight chord: the chord itself, or its arc 2 ρ ψ.

        Range: 0 <= c <= 2 ρ. Source: arc length.
        """
        chord = np.asarray(chord_mm, float)
        if np.isinf(self.face_radius_mm):
            return chord[()]
        require("chord_mm", chord, low=0.0, high=2.0 * self._face)
        return np.asarray(2.0 * self._face * np.arcsin(chord / (2.0 * self._face)))[()]

    @property
    def _face(self) -> float:
        return min(self.face_radius_mm, 1e300)

    def _end_angles(self, depth_mm: ArrayLike) -> tuple[Result, Result]:
        depth = np.asarray(depth_mm, float)
        require("depth_mm", depth, above=0.0, high=self.deepest_mm)
        half = self.unchecked_chord(depth) / 2.0
        return np.arcsin(half / self.wheel_radius_mm), np.arcsin(half / self._face)
