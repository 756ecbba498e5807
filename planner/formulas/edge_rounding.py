r"""A bevel rounded over towards the edge by strop or stone: a small arc tangent to its face.

The face is the x axis from the sharp edge at (0, 0), y goes into the steel, and the other face
leaves the edge at the included angle β. The arc of radius ρ leaves the face at x = w, its centre
(w, ρ), and runs to the other face, where the new edge is. Lengths in mm, angles in radians.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result


class RoundedEdge(NamedTuple):
    """Where the new edge is and how the rounded face meets it."""

    edge_back_mm: Result
    """How far the edge has gone back, along the other face."""
    turned_rad: Result
    """How much steeper the face is at the new edge."""


def rounded_edge(reach_mm: ArrayLike, radius_mm: ArrayLike, included_rad: ArrayLike) -> RoundedEdge:
    r"""New edge of a face that is rounded over.

    .. math::
        A = w \cos\beta + \rho \sin\beta, \quad t = A - \sqrt{A^2 - w^2}, \quad
        \sin\gamma = (w - t \cos\beta) / \rho

    Range: 0 < w <= ρ tan(β/2): a longer reach would need a smaller arc than the wedge can hold;
    0 < β < π. Shape: broadcast. Raises: ValueError.
    Source: circle and line; at w = ρ tan(β/2) the arc is tangent to both faces.
    Coded as t = w^2 / (A + sqrt(A^2 - w^2)).

    >>> back, turned = rounded_edge(1.0, 1.0, np.pi / 2)  # by hand: the arc is tangent to both
    >>> round(float(back), 12), round(float(np.degrees(turned)), 9)
    (1.0, 90.0)
    """
    reach, radius = np.asarray(reach_mm, float), np.asarray(radius_mm, float)
    included = np.asarray(included_rad, float)
    require("included_rad", included, above=0.0, high=np.pi - 1e-9)
    require("radius_mm", radius, above=0.0)
    require("reach_mm", reach, above=0.0, high=radius * np.tan(included / 2.0) * (1 + 1e-12))
    a = reach * np.cos(included) + radius * np.sin(included)
    back = reach * reach / (a + np.sqrt(np.maximum((a - reach) * (a + reach), 0.0)))
    sine = (reach - back * np.cos(included)) / radius
    across = 1.0 - back * np.sin(included) / radius
    return RoundedEdge(back[()], np.asarray(np.arctan2(sine, across))[()])
