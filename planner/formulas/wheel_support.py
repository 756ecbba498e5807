r"""Where a wheel of revolution stands over a surface that it touches, and how it curves there.

Symbols: R radius of the wheel about its axis, r radius across its rim in a plane through the axis
(R - r may be below 0: a rim flatter than the wheel is round), **w** direction of the axis, **n**
outward normal of the steel where the wheel touches it, n_w = **n**·**w**. **w** and **n** are unit
vectors in any one frame; curvatures count above 0 where a surface bends toward **n**, as a hollow
does.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require

Result = NDArray[np.float64]


def centre_over_contact(
    normal: ArrayLike, axis: ArrayLike, wheel_radius_mm: float, rim_radius_mm: float
) -> Result:
    r"""From the contact to the middle of the wheel.

    .. math:: \mathbf c = (R - r)\,\mathbf u + r\,\mathbf n, \quad
              \mathbf u = \frac{\mathbf n - n_w \mathbf w}{\sqrt{1 - n_w^2}}

    A flat rim (r infinite) touches with its corner where n_w is not 0; then R **u**, its middle
    over the contact. Range: R > 0, r > 0, abs(n_w) < 1. Shape: (..., 3), broadcast.
    Raises: ValueError. Source: the support of a torus: its tube, of radius r, about a circle of
    R - r (any book on the geometry of surfaces), from memory.

    >>> centre_over_contact([0, 0.6, 0.8], [0, 1, 0], 10.0, 4.0).round(9).tolist()  # by hand
    [0.0, 2.4, 9.2]
    """
    n, w = np.asarray(normal, float), np.asarray(axis, float)
    n_w = _across(n, w, wheel_radius_mm, rim_radius_mm)
    outward = (n - n_w[..., None] * w) / np.sqrt(1.0 - n_w * n_w)[..., None]
    if np.isinf(rim_radius_mm):
        return np.asarray(wheel_radius_mm * outward)
    return np.asarray((wheel_radius_mm - rim_radius_mm) * outward + rim_radius_mm * n)


class DeeperBySize(NamedTuple):
    """How much deeper a wheel goes for a millimetre of either of its radii."""

    per_wheel_radius: Result
    per_rim_radius: Result


def deeper_by_size(
    normal: ArrayLike, axis: ArrayLike, touched_normal: ArrayLike, infeed: ArrayLike
) -> DeeperBySize:
    r"""How much deeper a wheel larger than its program's goes where it was not touched off.

    .. math:: \frac{\partial d}{\partial R} = \mathbf u \cdot \mathbf n -
              \frac{\mathbf u_a \cdot \mathbf n_a}{\mathbf i \cdot \mathbf n_a}\,
              \mathbf i \cdot \mathbf n, \quad
              \frac{\partial d}{\partial r} = 1 - \mathbf u \cdot \mathbf n -
              \frac{1 - \mathbf u_a \cdot \mathbf n_a}{\mathbf i \cdot \mathbf n_a}\,
              \mathbf i \cdot \mathbf n

    **u** as in :func:`centre_over_contact`, **n**\_a the normal where the wheel is touched off, and
    **i** the infeed, along which touching off moves it until the depth there is right: to first
    order, and exactly in R and r where the axis lies square to **n**. A wheel d larger that is
    touched off in the middle of an arc across which its axis lies goes d (1 - cos a) too deep at
    the angle a from there. Range: abs(n_w) < 1, **i**·**n**\_a not 0. Shape: (..., 3), broadcast.
    Raises: ValueError. Source: the derivative of the support of a torus by its two radii, from
    memory.

    >>> middle, end, axis = [0, 0, 1], [0.8, 0, 0.6], [0, 1, 0]
    >>> deeper = deeper_by_size(end, axis, middle, middle)
    >>> round(float(deeper.per_wheel_radius), 9), float(deeper.per_rim_radius)  # by hand: 1 - 0.6
    (0.4, 0.0)
    """
    n, w, n_a = (np.asarray(v, float) for v in (normal, axis, touched_normal))
    i = np.asarray(infeed, float)
    # Both radii at least of 1 mm: u·n hangs on neither.
    round_it = np.sqrt(1.0 - _across(n, w, 1.0, 1.0) ** 2)
    touched = np.sqrt(1.0 - _across(n_a, w, 1.0, 1.0) ** 2)
    back = np.sum(i * n, axis=-1) / np.sum(i * n_a, axis=-1)
    return DeeperBySize(
        np.asarray(round_it - touched * back),
        np.asarray(1.0 - round_it - (1.0 - touched) * back),
    )


def along_rim(normal: ArrayLike, axis: ArrayLike, rim_radius_mm: float) -> Result:
    r"""Where on its rim the wheel touches, from the rim's middle: - r n_w along the axis.

    Range: r finite, above 0. Shape: (..., 3), broadcast. Raises: ValueError.
    Source: as :func:`centre_over_contact`: the contact lies - **c** from the middle.

    >>> round(float(along_rim([0, 0.6, 0.8], [0, 1, 0], 4.0)), 9)  # by hand
    -2.4
    """
    require("rim_radius_mm", rim_radius_mm, above=0.0)
    n_w = np.sum(np.asarray(normal, float) * np.asarray(axis, float), axis=-1)
    return np.asarray(-rim_radius_mm * n_w)


def flat_rim_digs(normal: ArrayLike, axis: ArrayLike, width_mm: float) -> Result:
    r"""How much deeper a corner of a flat rim of width W digs than its middle: W abs(n_w) / 2.

    To first order in n_w. Range: W >= 0. Shape: (..., 3), broadcast. Raises: ValueError.
    Source: right triangle.

    >>> float(flat_rim_digs([0.0, 0.6, 0.8], [0, 1, 0], 10.0))  # by hand
    3.0
    """
    require("width_mm", width_mm, low=0.0)
    n_w = np.sum(np.asarray(normal, float) * np.asarray(axis, float), axis=-1)
    return np.asarray(np.abs(n_w) * width_mm / 2.0)


class FlatFace(NamedTuple):
    """The section of what a flat rim leaves: its slope, and how it curves across the edge."""

    slope: Result
    curved_per_mm: Result


def flat_left(
    normal: ArrayLike, along: ArrayLike, across: ArrayLike, axis: ArrayLike, edge_per_mm: ArrayLike
) -> FlatFace:
    r"""What a flat rim leaves across an edge along which it goes without turning.

    .. math:: \tan\lambda = \frac{n_w}{\mathbf w \cdot \mathbf g}, \quad
              k_g = k_n \left(\frac{\mathbf w \cdot \mathbf t}{\mathbf w \cdot \mathbf g}\right)^2

    A rim that is moved and not turned leaves a surface of straight lines, all along its axis **w**.
    One of them and the edge's direction **t** span the plane that it touches: along **g**, across
    the edge in the face, this rises by n_w for **w**·**g**. Along **w** the surface does not curve,
    nor does its normal turn; so of its curvature k_n along the edge, above 0 where that bends to
    the wheel, a part is left along **g**. To the second order from the place under the rim's
    middle. Range: **w**·**g** not 0; **t** and **g** at right angles to **n** and to each other.
    Shape: (..., 3), broadcast. Raises: ValueError. Source: the second form of a cylinder (any book
    on the geometry of surfaces); the plane through two directions.

    >>> left = flat_left([0, 0, 1], [1, 0, 0], [0, 1, 0], [0.64, 0.6, 0.48], -0.009)
    >>> float(left.slope)  # by hand: 0.48 / 0.6
    0.8
    >>> round(float(left.curved_per_mm), 9)  # by hand: -0.009 (0.64 / 0.6)^2
    -0.01024
    """
    n, t, g, w = (np.asarray(v, float) for v in (normal, along, across, axis))
    level = np.asarray(np.sum(w * g, axis=-1))
    require("w_g", np.abs(level), above=0.0)
    aslant = np.sum(w * t, axis=-1) / level
    return FlatFace(
        np.asarray(np.sum(n * w, axis=-1) / level),
        np.asarray(edge_per_mm, float) * aslant * aslant,
    )


class CurvesThere(NamedTuple):
    """The wheel's second fundamental form at its contact, in two directions at right angles."""

    along_per_mm: Result
    both_per_mm: Result
    across_per_mm: Result


def wheel_curvature(
    normal: ArrayLike,
    along: ArrayLike,
    across: ArrayLike,
    axis: ArrayLike,
    wheel_radius_mm: float,
    rim_radius_mm: float,
) -> CurvesThere:
    r"""How a wheel curves at its contact, in the two directions **t** and **g** of its plane.

    .. math:: \frac{1}{r}\,(\mathbf p \cdot \mathbf a)(\mathbf p \cdot \mathbf b) +
              \frac{1}{R_q}\,(\mathbf q \cdot \mathbf a)(\mathbf q \cdot \mathbf b), \quad
              R_q = \frac{R - r}{\sqrt{1 - n_w^2}} + r

    **p** is the axis projected into the tangent plane and **q** across it: the principal
    directions of a surface of revolution. Of a flat rim, R / sqrt(1 - n_w²) round the wheel.
    Range: R > 0, r > 0, abs(n_w) < 1; **t** and **g** at right angles to **n**. Shape: (..., 3),
    broadcast. Raises: ValueError. Source: Meusnier's theorem; Euler's formula.

    >>> here = wheel_curvature([0, 0, 1], [1, 0, 0], [0, 1, 0], [0, 1, 0], 10.0, 4.0)
    >>> float(here.along_per_mm), float(here.both_per_mm), float(here.across_per_mm)  # by hand
    (0.1, 0.0, 0.25)
    """
    n, w = np.asarray(normal, float), np.asarray(axis, float)
    n_w = _across(n, w, wheel_radius_mm, rim_radius_mm)
    level = np.sqrt(1.0 - n_w * n_w)
    p = (w - n_w[..., None] * n) / level[..., None]
    q = np.cross(n, p)
    flat = np.isinf(rim_radius_mm)
    round_it = wheel_radius_mm / level
    if not flat:
        round_it = (wheel_radius_mm - rim_radius_mm) / level + rim_radius_mm
    k_p = 0.0 if flat else 1.0 / rim_radius_mm
    t, g = np.asarray(along, float), np.asarray(across, float)
    p_t, p_g, q_t, q_g = (np.sum(a * b, axis=-1) for a in (p, q) for b in (t, g))
    return CurvesThere(
        k_p * p_t * p_t + q_t * q_t / round_it,
        k_p * p_t * p_g + q_t * q_g / round_it,
        k_p * p_g * p_g + q_g * q_g / round_it,
    )


def curvature_left(wheel: CurvesThere, edge_per_mm: ArrayLike) -> Result:
    r"""How the steel curves across the edge where a wheel has gone along it without turning.

    .. math:: k_g = w_{gg} - \frac{w_{tg}^2}{w_{tt} - k_n}

    k_n is the normal curvature of the edge there, above 0 where it bends toward the wheel. The
    swept surface and the wheel touch along a line **c** and share their normal along it, so the
    difference of their forms takes **c** to nothing: its determinant is 0. The edge is a line of
    curvature of the swept surface. Exact to the second order from the middle. Range: w_tt > k_n
    (else the wheel does not fit: NaN; where a flat rim lies along a straight edge both are 0).
    Shape: broadcast. Source: the envelope of a moved surface
    (D. J. Struik, Lectures on Classical Differential Geometry, chapter 5, from memory).

    >>> w = CurvesThere(np.array(0.1), np.array(0.0), np.array(0.25))
    >>> float(curvature_left(w, 0.05))  # by hand: the rim's own where the wheel lies square
    0.25
    """
    room = wheel.along_per_mm - np.asarray(edge_per_mm, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        left = wheel.across_per_mm - wheel.both_per_mm**2 / room
    # A flat rim that lies along a straight edge touches it along a line.
    line = (room == 0.0) & (wheel.both_per_mm == 0.0)
    return np.where(line, wheel.across_per_mm, np.where(room > 0.0, left, np.nan))


def _across(n: Result, w: Result, wheel_radius_mm: float, rim_radius_mm: float) -> Result:
    require("wheel_radius_mm", wheel_radius_mm, above=0.0)
    if not np.isinf(rim_radius_mm):
        require("rim_radius_mm", rim_radius_mm, above=0.0)
    n_w = np.asarray(np.sum(n * w, axis=-1))
    require("n_w", np.abs(n_w), high=1.0 - 1e-9)
    return n_w
