r"""The wall of a gouge around its sweep, between the inside and the outside.

θ is the angle about the sweep's axis from the middle of the sweep, ρ the radius of the inside, R
that of the outside, t = R - ρ the wall in the middle. Along a radius of the outside the wall is the
least distance of a point of the inside from the outside.

Lengths in mm, angles in radians.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result


def wall_between_arcs(
    angle_rad: ArrayLike,
    inside_mm: ArrayLike,
    outside_mm: ArrayLike,
    off_mm: ArrayLike = 0.0,
    toward_rad: ArrayLike = 0.0,
) -> Result:
    r"""Wall along a radius of the inside, the outside's centre off that of the inside.

    .. math:: T = e \cos(\theta - \delta) + \sqrt{R^2 - e^2 \sin^2(\theta - \delta)} - \rho

    e is how far the centres lie apart, δ where the outside's lies from the inside's. Concentric
    arcs (e = 0) leave the same wall everywhere. Below 0 where the arcs have crossed. Range: ρ > 0,
    R > 0, 0 <= e < R. Shape: broadcast. Raises: ValueError. Source: cosine rule in the triangle of
    the two centres and a point of the outside.

    >>> float(round(wall_between_arcs(np.pi / 2, 3.0, 5.0, 4.0), 12))  # by hand: 3-4-5
    0.0
    """
    inside, outside = np.asarray(inside_mm, float), np.asarray(outside_mm, float)
    off = np.asarray(off_mm, float)
    turned = np.asarray(angle_rad, float) - np.asarray(toward_rad, float)
    require("inside_mm", inside, above=0.0)
    require("outside_mm", outside, above=0.0)
    require("off_mm", off, low=0.0)
    require("off_mm over outside_mm", off / outside, low=0.0, high=1.0 - 1e-12)
    require("angle_rad", turned)
    across = off * np.sin(turned)
    # R - sqrt(R^2 - a^2) without the difference of nearly equal numbers.
    below = across * across / (outside + np.sqrt(outside * outside - across * across))
    return np.asarray((outside - inside) + off * np.cos(turned) - below)[()]


def wall_of_equal_radii(angle_rad: ArrayLike, radius_mm: ArrayLike, wall_mm: ArrayLike) -> Result:
    r"""Wall between two arcs of one radius, the outside moved outward by the wall.

    .. math:: T = t \cos\theta - (R - \sqrt{R^2 - t^2 \sin^2\theta})

    Nearly t cos θ: half of the wall at 60 degrees. Range: 0 <= t < R. Shape: broadcast. Raises:
    ValueError. Source: :func:`wall_between_arcs` with ρ = R, e = t.

    >>> float(wall_of_equal_radii(0.0, 12.0, 2.0))  # by hand: the wall itself
    2.0
    """
    wall = np.asarray(wall_mm, float)
    require("wall_mm", wall, low=0.0)
    return wall_between_arcs(angle_rad, radius_mm, radius_mm, wall)


def wall_over_facet(angle_rad: ArrayLike, facet_mm: ArrayLike, outside_mm: ArrayLike) -> Result:
    r"""Wall from a flat facet to a round outside, along a radius of the sweep.

    .. math:: T = R - p / \cos\theta

    p is the facet's distance from the axis. A point x along the facet from its middle lies at
    tan θ = x / p, so a facet of width w ends at atan(w / 2p). The wall is least at the ends; below
    0 the facet has come through. Range: p > 0, R > 0, abs(θ) < π/2. Shape: broadcast.
    Raises: ValueError. Source: right triangle.

    >>> float(round(wall_over_facet(np.pi / 3, 2.5, 6.0), 12))  # by hand: 2.5 / (1/2)
    1.0
    """
    facet, outside = np.asarray(facet_mm, float), np.asarray(outside_mm, float)
    angle = np.asarray(angle_rad, float)
    require("facet_mm", facet, above=0.0)
    require("outside_mm", outside, above=0.0)
    require("abs(angle_rad)", np.abs(angle), low=0.0, high=np.pi / 2 - 1e-9)
    return np.asarray(outside - facet / np.cos(angle))[()]


def facet_comes_through(facet_mm: ArrayLike, outside_mm: ArrayLike) -> Result:
    r"""Angle from the middle at which a flat facet meets the outside.

    .. math:: \theta = \arccos(p / R)

    Range: 0 < p <= R. Shape: broadcast. Raises: ValueError. Source: right triangle.

    >>> float(round(np.degrees(facet_comes_through(3.0, 6.0)), 9))  # by hand: half
    60.0
    """
    facet, outside = np.asarray(facet_mm, float), np.asarray(outside_mm, float)
    require("outside_mm", outside, above=0.0)
    require("facet_mm", facet, above=0.0, high=outside)
    return np.asarray(np.arccos(facet / outside))[()]


def wall_under_rim(
    angle_rad: ArrayLike, rim_mm: ArrayLike, inside_mm: ArrayLike, outside_mm: ArrayLike
) -> Result:
    r"""Wall where the inside is ground by a rim of a smaller radius that touches in its middle.

    .. math:: T = R - k \cos\theta - \sqrt{r^2 - k^2 \sin^2\theta}, \qquad k = \rho - r

    Along a radius of the sweep. In the middle it is R - ρ; toward the ends a smaller rim leaves
    more. Range: 0 < r <= ρ <= R, abs(θ) <= π/2, and the rim reaches: k sin abs(θ) <= r. Shape:
    broadcast. Raises: ValueError. Source: cosine rule, as :func:`wall_between_arcs`.

    >>> float(round(wall_under_rim(np.pi / 2, 5.0, 8.0, 10.0), 12))  # by hand: 3-4-5, 10 - 4
    6.0
    """
    rim, inside = np.asarray(rim_mm, float), np.asarray(inside_mm, float)
    outside, angle = np.asarray(outside_mm, float), np.asarray(angle_rad, float)
    require("outside_mm", outside, above=0.0)
    require("inside_mm", inside, above=0.0, high=outside)
    require("rim_mm", rim, above=0.0, high=inside)
    require("abs(angle_rad)", np.abs(angle), low=0.0, high=np.pi / 2)
    k = inside - rim
    across = k * np.sin(angle)
    require("way of the rim's centre, across", np.abs(across), low=0.0, high=rim)
    return np.asarray(outside - k * np.cos(angle) - np.sqrt(rim * rim - across * across))[()]


def rim_half_width(angle_rad: ArrayLike, rim_mm: ArrayLike, inside_mm: ArrayLike) -> Result:
    r"""How far from its middle plane a rim must reach to grind out to an angle of the sweep.

    .. math:: x = \sin\theta\,(k \cos\theta + \sqrt{r^2 - k^2 \sin^2\theta}), \qquad k = \rho - r

    Range: as :func:`wall_under_rim`. Shape: broadcast. Raises: ValueError.
    Source: the point of the rim on that radius.

    >>> float(round(rim_half_width(np.pi / 6, 8.0, 8.0), 12))  # by hand: 8 sin 30
    4.0
    """
    inside = np.asarray(inside_mm, float)
    out = inside - wall_under_rim(angle_rad, rim_mm, inside, inside)
    return np.asarray(np.abs(np.sin(np.asarray(angle_rad, float))) * out)[()]


def thinned_by_axis(off_mm: ArrayLike, turned_rad: ArrayLike) -> Result:
    r"""Most that a roll axis off the sweep's centre takes from the wall, at a turn from the zero.

    .. math:: 2 e \sin(\alpha / 2)

    The wheel is touched off where α is 0; e lies in the worst direction, across the half of the
    turn. Less e²/R. Range: e >= 0, 0 <= α <= 2π. Shape: broadcast. Raises: ValueError.
    Source: chord of a circle of radius e, which the sweep's centre goes on about the axis.

    >>> float(round(thinned_by_axis(0.01, np.pi / 3), 12))  # by hand: 2 * 0.01 * 1/2
    0.01
    """
    off, turned = np.asarray(off_mm, float), np.asarray(turned_rad, float)
    require("off_mm", off, low=0.0)
    require("turned_rad", turned, low=0.0, high=2 * np.pi)
    return np.asarray(2.0 * off * np.sin(turned / 2.0))[()]
