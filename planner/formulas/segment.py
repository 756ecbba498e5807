r"""A circle cut by a line: the relief that a wheel leaves in a flat face.

Symbols: R wheel radius, c chord (width of the relief across the face), h depth, θ central
angle, all lengths in mm. Every function takes floats or arrays that broadcast together and
returns floats for floats.

The forms with a difference of nearly equal numbers, such as :math:`R - \sqrt{R^2 - c^2/4}`,
lose digits when the depth is hundredths of a millimetre on a wheel of a hundred; each is coded
in a form that does not, and says so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require

Result = NDArray[np.float64]


def depth_of_chord(wheel_radius_mm: ArrayLike, chord_mm: ArrayLike) -> Result:
    r"""Depth of the segment under a chord.

    .. math:: h = R - \sqrt{R^2 - c^2/4}

    Range: R > 0, 0 <= c <= 2 R, finite. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35, intersecting chords: (c/2)^2 = h (2 R - h).
    Coded as (c^2/4) / (R + sqrt(R^2 - c^2/4)).

    >>> float(depth_of_chord(5.0, 8.0))  # by hand: a 3-4-5 triangle, 5 - 3
    2.0
    """
    radius, chord = np.asarray(wheel_radius_mm, float), np.asarray(chord_mm, float)
    require("wheel_radius_mm", radius, above=0.0)
    require("chord_mm", chord, low=0.0, high=2.0 * radius)
    quarter = chord * chord / 4.0
    return np.asarray(quarter / (radius + np.sqrt(radius * radius - quarter)))[()]


def chord_of_depth(wheel_radius_mm: ArrayLike, depth_mm: ArrayLike) -> Result:
    r"""Chord at a depth.

    .. math:: c = 2 \sqrt{h (2 R - h)}

    Range: R > 0, 0 <= h <= R. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35.

    >>> float(chord_of_depth(5.0, 2.0))  # by hand: 2 sqrt(2 * 8)
    8.0
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    require("wheel_radius_mm", radius, above=0.0)
    require("depth_mm", depth, low=0.0, high=radius)
    return np.asarray(unchecked_chord(radius, depth))[()]


def segment_area(wheel_radius_mm: ArrayLike, depth_mm: ArrayLike) -> Result:
    r"""Area between a chord and its arc.

    .. math:: A = \tfrac{1}{2} R^2 (\theta - \sin\theta), \quad \cos(\theta/2) = 1 - h/R

    Range: R > 0, 0 <= h <= R. Shape: broadcast. Raises: ValueError.
    Source: exact; the quantity of "Segments of Circles for Radius = 1" in handbook tables.
    Coded with θ/2 = 2 asin(sqrt(h / 2R)), and below θ = 0.05 by the series
    θ^3/6 - θ^5/120 + θ^7/5040 of θ - sin θ, whose first dropped term is under 2e-11 of it.

    >>> round(float(segment_area(1.0, 1.0)), 6)  # by hand: half a disc, pi/2
    1.570796
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    require("wheel_radius_mm", radius, above=0.0)
    require("depth_mm", depth, low=0.0, high=radius)
    return np.asarray(unchecked_area(radius, depth))[()]


def centroid_below_chord(wheel_radius_mm: ArrayLike, depth_mm: ArrayLike) -> Result:
    r"""How far the centroid of a segment lies below its chord.

    .. math:: \bar h = \frac{c^3}{12 A} - (R - h)

    c chord, A area of the segment; two fifths of h where it is shallow. Range: R > 0, 0 < h <= R.
    Shape: broadcast. Raises: ValueError. Source: first moment of the segment about the diameter
    that is parallel to its chord, the integral of 2 y sqrt(R^2 - y^2) from R - h to R.

    >>> round(float(centroid_below_chord(1.0, 1.0)), 6)  # by hand: half a disc, 4 / (3 pi)
    0.424413
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    require("depth_mm", depth, above=0.0)
    area = np.asarray(segment_area(radius, depth))
    return np.asarray(chord_of_depth(radius, depth) ** 3 / (12.0 * area) - (radius - depth))[()]


def unchecked_chord(radius_mm: Result | float, depth_mm: Result) -> Result:
    """``chord_of_depth`` without its range checks, for loops that have made them once."""
    return np.asarray(2.0 * np.sqrt(depth_mm * (2.0 * radius_mm - depth_mm)))


def unchecked_area(radius_mm: Result | float, depth_mm: Result) -> Result:
    """``segment_area`` without its range checks, for loops that have made them once."""
    theta = 4.0 * np.arcsin(np.sqrt(depth_mm / (2.0 * radius_mm)))
    square = theta * theta
    series = theta * square * (1 / 6 - square * (1 / 120 - square / 5040))
    difference = np.where(theta < 0.05, series, theta - np.sin(theta))
    return np.asarray(0.5 * radius_mm * radius_mm * difference)


def half_chord_per_depth(wheel_radius_mm: ArrayLike, depth_mm: ArrayLike) -> Result:
    r"""How far each end of the relief moves per millimetre of depth.

    .. math:: \frac{d(c/2)}{dh} = \frac{R - h}{c/2}

    Range: R > 0, 0 < h <= R. Shape: broadcast. Raises: ValueError.
    Source: derivative of Euclid III.35; 25 for D 200, c 8 (by hand: 100/4).

    >>> float(half_chord_per_depth(5.0, 2.0))  # by hand: (5 - 2) / 4
    0.75
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    require("depth_mm", depth, above=0.0)  # a wheel at bare contact has no chord
    return np.asarray((radius - depth) / (chord_of_depth(radius, depth) / 2.0))[()]


def half_chord_per_radius(wheel_radius_mm: ArrayLike, depth_mm: ArrayLike) -> Result:
    r"""How far each end of the relief moves per millimetre of wheel radius, at one depth.

    .. math:: \frac{d(c/2)}{dR} = \frac{h}{c/2}

    Range: R > 0, 0 < h <= R. Shape: broadcast. Raises: ValueError.
    Source: derivative of Euclid III.35.

    >>> float(half_chord_per_radius(5.0, 2.0))  # by hand: 2 / 4
    0.5
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    require("depth_mm", depth, above=0.0)  # a wheel at bare contact has no chord
    return np.asarray(depth / (chord_of_depth(radius, depth) / 2.0))[()]


def edge_angle_lost(wheel_radius_mm: ArrayLike, chord_mm: ArrayLike) -> Result:
    r"""Angle in radians between the chord and the arc where they meet.

    A hollow that runs out at the edge takes this off the bevel angle of its side.

    .. math:: \psi = \arcsin(c / 2R)

    Range: R > 0, 0 <= c <= 2 R. Shape: broadcast. Raises: ValueError.
    Source: tangent-chord angle, Euclid, Elements III.32.

    >>> round(float(np.degrees(edge_angle_lost(100.0, 12.0))), 4)  # by hand: asin(0.06)
    3.4398
    """
    radius, chord = np.asarray(wheel_radius_mm, float), np.asarray(chord_mm, float)
    require("wheel_radius_mm", radius, above=0.0)
    require("chord_mm", chord, low=0.0, high=2.0 * radius)
    return np.asarray(np.arcsin(chord / (2.0 * radius)))[()]


def radius_for(chord_mm: ArrayLike, depth_mm: ArrayLike) -> Result:
    r"""Radius of the wheel whose segment has this chord and depth.

    .. math:: R = \frac{c^2}{8 h} + \frac{h}{2}

    Range: c > 0, 0 < h <= c/2 (the segment is no more than half a disc). Shape: broadcast.
    Raises: ValueError. Source: Euclid, Elements III.35.

    >>> float(radius_for(8.0, 2.0))  # by hand: 64/16 + 1
    5.0
    """
    chord, depth = np.asarray(chord_mm, float), np.asarray(depth_mm, float)
    require("chord_mm", chord, above=0.0)
    require("depth_mm", depth, above=0.0, high=chord / 2.0)
    return np.asarray(chord * chord / (8.0 * depth) + depth / 2.0)[()]
