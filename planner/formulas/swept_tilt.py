r"""A tilt whose axis is known: where the axes bring the tool at any tilt, and what errors do there.

Symbols: P the axis, in the section of the blade, about which the blade turns; c(τ), i(τ) the
directions of cross and infeed at the tilt τ, seen from the blade, at right angles; O the tool's
reference point at program zero, τ_1 the tilt there, and (a, b) the components of O - P along
c(τ_1) and i(τ_1). Lengths in mm, angles in radians.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result


def turned_directions(
    cross_dir: ArrayLike, infeed_dir: ArrayLike, turn_rad: ArrayLike
) -> tuple[Result, Result]:
    r"""Directions of cross and infeed in the blade's section after a turn of the tilt.

    .. math:: c' = c \cos\varphi + i \sin\varphi, \quad i' = i \cos\varphi - c \sin\varphi

    Range: any. Shape: directions (2,), the turn () or (n,) -> (2,) or (n, 2) twice. Source:
    rotation of two axes at right angles.

    >>> c, i = turned_directions((1.0, 0.0), (0.0, 1.0), math.pi / 2)
    >>> [round(float(x), 9) + 0.0 for x in (*c, *i)]  # by hand: a quarter from y towards z
    [0.0, 1.0, -1.0, 0.0]
    """
    turn = np.asarray(turn_rad, float)[..., np.newaxis]
    cross, infeed = np.asarray(cross_dir, float), np.asarray(infeed_dir, float)
    sine, cosine = np.sin(turn), np.cos(turn)
    return cosine * cross + sine * infeed, cosine * infeed - sine * cross


def rise_of_turn(along_mm: ArrayLike, above_mm: ArrayLike, turn_rad: ArrayLike) -> Result:
    r"""How much higher, along the infeed, a place of the blade stands after a turn of the tilt.

    .. math:: \Delta = v (\cos\varphi - 1) - u \sin\varphi

    u and v are the components of the place less P along c and i before the turn; of it
    :math:`(K - P) \cdot i(\tau + \varphi) - (K - P) \cdot i(\tau)`. Range: any. Shape: broadcast.
    Source: ``turned_directions``.

    >>> round(float(rise_of_turn(-30.0, 0.0, math.radians(30))), 9)  # by hand: 30 sin 30 deg
    15.0
    """
    turn = np.asarray(turn_rad, float)
    u, v = np.asarray(along_mm, float), np.asarray(above_mm, float)
    return np.asarray(v * (np.cos(turn) - 1.0) - u * np.sin(turn))[()]


def highest_rise(along_mm: float, above_mm: float, low_rad: float, high_rad: float) -> float:
    r"""The most of ``rise_of_turn`` over all turns from ``low_rad`` to ``high_rad``.

    Its slope :math:`-v \sin\varphi - u \cos\varphi` is 0 where the place stands straight over the
    axis, :math:`\varphi_0 = \operatorname{atan2}(-u, v)`, and highest there; else an end is.

    Range: low <= high, both within half a turn. Shape: scalars. Raises: ValueError.
    Source: derived, from the slope.

    >>> round(highest_rise(-3.0, 4.0, 0.0, 1.5), 9)  # by hand: 5 from the axis, 4 above it before
    1.0
    """
    require("low_rad", low_rad, low=-math.pi, high=high_rad)
    require("high_rad", high_rad, high=math.pi)
    turns = [low_rad, high_rad]
    over = math.atan2(-along_mm, above_mm)
    if low_rad < over < high_rad:
        turns.append(over)
    return float(np.max(rise_of_turn(along_mm, above_mm, np.array(turns))))


def axis_error_sd(error_mm: ArrayLike, turn_rad: ArrayLike) -> Result:
    r"""Standard deviation of a depth by an axis that is not quite where it is said to be.

    .. math:: s = 2 e \sin\frac{|\varphi|}{2}

    Told off by the vector ε, the axis is at P + ε. Touched off at τ_1, the numbers a, b are off by
    -ε·c(τ_1), -ε·i(τ_1), and what is reckoned from them at τ_1 + φ by
    :math:`\varepsilon \cdot i(\tau_1 + \varphi) - \varepsilon \cdot i(\tau_1)` in depth. The two
    directions are the ends of a chord, :math:`2 \sin(\varphi/2)` long, so that of an ε whose
    deviation is e in any direction the chord's share is left.

    Range: e >= 0. Shape: broadcast. Raises: ValueError. Source: derived; chord of a circle.

    >>> round(float(axis_error_sd(0.02, math.radians(60))), 9)  # by hand: 2 * 0.02 * sin 30 deg
    0.02
    """
    require("error_mm", error_mm, low=0.0)
    turn = np.abs(np.asarray(turn_rad, float))
    return np.asarray(2.0 * np.asarray(error_mm, float) * np.sin(turn / 2.0))[()]
