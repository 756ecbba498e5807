r"""What bending a strip to an arc does across its width: the inside crowns, the outside dishes.

Bent along its length to the radius R, a strip stretches outside and is pressed together inside.
What is stretched draws in across the strip, what is pressed spreads: the section curves about a
second axis, with the curvature ν/R, the other way (anticlastic). In the section, y across and x
outward from the neutral layer, a point moves by

.. math:: u_y = -\nu x y / R, \qquad u_x = \nu (y^2 - x^2) / 2R

With ζ = y + i x this is i ν ζ²/2R: it keeps angles, and a straight line at the angle β to the width
becomes an arc of the curvature ν cos β / R.

Source: pure bending of a bar, S. Timoshenko & J. N. Goodier, Theory of Elasticity, 2nd ed. 1951,
chapter 10; anticlastic curvature of a strip, S. Timoshenko, Strength of Materials, part I (both
from memory). In steel that only springs ν is about 0.3; steel that flows keeps its volume, and ν
goes to 1/2. A strip that is wide for its thickness and radius, w² over R t, stays flatter but for
its edges, and a hot bend over a form may press it flat: so a dish by these formulas is the most
there is, and between 0 and it lies what a bend gives.

Lengths in mm, curvatures in 1/mm, angles in radians.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

POISSON_STEEL = 0.3
"""Of steel that springs; from memory."""
POISSON_FLOW = 0.5
"""Of a body that keeps its volume, as steel does when it flows; definition."""


def curvature_across(
    bend_radius_mm: ArrayLike, poisson: ArrayLike, angle_rad: ArrayLike = 0.0
) -> Result:
    r"""Curvature that a bend gives a straight line of the section.

    .. math:: \kappa = \nu \cos\beta / R

    R is the radius of the neutral layer, β the angle of the line to the width. Range: R > 0,
    0 <= ν <= 1/2, abs(β) <= π/2. Shape: broadcast. Raises: ValueError. Source: head of this module.

    >>> round(float(curvature_across(30.0, 0.3)), 12)  # by hand: a radius of 100
    0.01
    """
    radius, nu = np.asarray(bend_radius_mm, float), np.asarray(poisson, float)
    angle = np.asarray(angle_rad, float)
    require("bend_radius_mm", radius, above=0.0)
    require("poisson", nu, low=0.0, high=0.5)
    require("abs(angle_rad)", np.abs(angle), low=0.0, high=np.pi / 2)
    return np.asarray(nu * np.cos(angle) / radius)[()]


def dish_at(place_mm: ArrayLike, width_mm: ArrayLike, curvature_per_mm: ArrayLike) -> Result:
    r"""How far a face bent to a curvature lies under the line over its two ends.

    .. math:: \kappa\,p\,(w - p) / 2

    Of a crown, how far it lies over that line. Range: 0 <= p <= w, κ >= 0. Shape: broadcast.
    Raises: ValueError. Source: parabola through the two ends; an arc's sagitta to within (κ w)²/16
    of it.

    >>> float(dish_at(5.0, 10.0, 0.01))  # by hand: 0.01 * 5 * 5 / 2
    0.125
    """
    place, width = np.asarray(place_mm, float), np.asarray(width_mm, float)
    curvature = np.asarray(curvature_per_mm, float)
    require("width_mm", width, low=0.0)
    require("place_mm", place, low=0.0, high=width)
    require("curvature_per_mm", curvature, low=0.0)
    return np.asarray(curvature * place * (width - place) / 2.0)[()]


def deepest_dish(
    width_mm: ArrayLike, bend_radius_mm: ArrayLike, poisson: ArrayLike, angle_rad: ArrayLike = 0.0
) -> Result:
    r"""The most that a face of the section dishes or crowns, in its middle.

    .. math:: w^2 \nu \cos\beta / 8 R

    Range: w >= 0, and that of :func:`curvature_across`. Shape: broadcast. Raises: ValueError.
    Source: :func:`dish_at` in the middle.

    >>> round(float(deepest_dish(12.0, 25.0, 0.3)), 12)  # by hand: 144 * 0.3 / 200
    0.216
    """
    width = np.asarray(width_mm, float)
    curvature = curvature_across(bend_radius_mm, poisson, angle_rad)
    return dish_at(width / 2.0, width, curvature)


def bent_points(
    y_mm: ArrayLike, out_mm: ArrayLike, bend_radius_mm: ArrayLike, poisson: ArrayLike
) -> tuple[Result, Result]:
    r"""Where points of the section come to by the bend: (y, x), x outward from the neutral layer.

    .. math:: y' = y - \nu x y / R, \qquad x' = x + \nu (y^2 - x^2) / 2R

    y counts from the line that is to stay in place. For small strains. Range: R > 0, 0 <= ν <= 1/2.
    Shape: broadcast. Raises: ValueError. Source: head of this module.

    >>> y, x = bent_points(4.0, 0.0, 20.0, 0.25)  # by hand: 0.25 * 16 / 40
    >>> float(y), float(x)
    (4.0, 0.1)
    """
    y, out = np.asarray(y_mm, float), np.asarray(out_mm, float)
    require("y_mm", y)
    require("out_mm", out)
    curvature = np.asarray(curvature_across(bend_radius_mm, poisson))
    moved = y - curvature * out * y
    risen = out + curvature * (y * y - out * out) / 2.0
    return np.asarray(moved)[()], np.asarray(risen)[()]
