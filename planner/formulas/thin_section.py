r"""The steel behind an edge: thickness read from an outline, and its section modulus.

Lengths in mm; y from the edge to the spine, z across the thickness.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result


def thickness_between(
    y_mm: ArrayLike,
    one_y_mm: ArrayLike,
    one_z_mm: ArrayLike,
    other_y_mm: ArrayLike,
    other_z_mm: ArrayLike,
) -> Result:
    r"""Thickness across z between two faces given as polylines.

    Heights are straight between the points, so of an arc within its chord error. Range: the y of
    each face rise; stations between the first and the last. Shape: y (k,), faces (n,) and (m,) ->
    (k,). Raises: ValueError. Source: definition.

    >>> float(thickness_between(1.0, [0, 2], [0, 1], [0, 2], [0, -1]))  # by hand: 1/2 + 1/2
    1.0
    """
    y = np.asarray(y_mm, float)
    heights = []
    for name, ys, zs in (("one_y_mm", one_y_mm, one_z_mm), ("other_y_mm", other_y_mm, other_z_mm)):
        at, z = np.asarray(ys, float), np.asarray(zs, float)
        require(f"rise of {name}", np.diff(at), low=0.0)
        require("y_mm", y, low=float(at[0]) - 1e-9, high=float(at[-1]) + 1e-9)
        heights.append(np.interp(y, at, z))
    return np.asarray(heights[0] - heights[1])[()]


def section_modulus(thickness_mm: ArrayLike) -> Result:
    r"""Section modulus of a plate about its middle, for each mm of edge, in mm³/mm.

    .. math:: W = t^2 / 6

    A bending moment M on each mm of edge strains the surface to M/W. Range: t >= 0. Shape: any.
    Raises: ValueError. Source: rectangle of width 1 and height t, b h²/6; Timoshenko, Strength of
    Materials, part I, 3rd ed. 1955, bending stresses (from memory).

    >>> float(section_modulus(0.6))  # by hand: 0.36 / 6
    0.06
    """
    thickness = np.asarray(thickness_mm, float)
    require("thickness_mm", thickness, low=0.0)
    return np.asarray(thickness * thickness / 6.0)[()]
