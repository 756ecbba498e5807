r"""A face honed on a flat stone: what the stone takes, how the lands grow, where the edge goes.

The stone's line is y = 0 at first, y goes into the steel, x from the edge to the spine; after h of
steel is gone the stone lies at y = h, and touches the profile wherever that has y <= h. The other
face's stone meets the line at the honed edge. Lengths in mm, angles in radians.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result, chord_of_depth

Span = tuple[float, float]


def touching_spans(x_mm: ArrayLike, y_mm: ArrayLike, gone_mm: float) -> list[Span]:
    r"""Where along the stone a profile touches it, with so much gone: from and to, in order.

    Exact for a polyline. Range: x rises, h >= 0. Shape: (n,), (n,). Raises: ValueError.
    Source: definition.

    >>> touching_spans([0, 1, 2, 3, 4], [0, 0, 1, 0, 0], 0.5)  # by hand: halfway down and up
    [(0.0, 1.5), (2.5, 4.0)]
    """
    x, y = np.asarray(x_mm, float), np.asarray(y_mm, float) - gone_mm
    require("rise of x_mm", np.diff(x), low=0.0)
    require("gone_mm", gone_mm, low=0.0)
    spans: list[Span] = []
    inside = y <= 0
    start = float(x[0]) if inside[0] else None
    for i in np.flatnonzero(inside[1:] != inside[:-1]).tolist():
        place = float(x[i] + (x[i + 1] - x[i]) * y[i] / (y[i] - y[i + 1]))
        if start is None:
            start = place
        else:
            spans.append((start, place))
            start = None
    return spans if start is None else [*spans, (start, float(x[-1]))]


def honed_edge(gone_mm: ArrayLike, other_gone_mm: ArrayLike, included_rad: ArrayLike) -> Result:
    r"""Where along its stone a face ends after h is gone from it and k from the other face.

    .. math:: x = (k + h \cos\beta) / \sin\beta

    x is counted from the sharp edge as it was; with k = h it is h / tan(β/2). Range: h, k >= 0, 0 <
    β < π. Shape: broadcast. Raises: ValueError. Source: two lines parallel to the faces.

    >>> round(float(honed_edge(1.0, 1.0, np.pi / 2)), 12)  # by hand: a square corner goes back by 1
    1.0
    """
    gone, other = np.asarray(gone_mm, float), np.asarray(other_gone_mm, float)
    included = np.asarray(included_rad, float)
    require("gone_mm", gone, low=0.0)
    require("other_gone_mm", other, low=0.0)
    require("included_rad", included, above=0.0, high=np.pi - 1e-9)
    return np.asarray((other + gone * np.cos(included)) / np.sin(included))[()]


def relief_left(radius_mm: ArrayLike, depth_mm: ArrayLike, gone_mm: ArrayLike) -> Result:
    r"""Width that is left of a relief of one radius in a flat face after h is gone.

    .. math:: c = 2 \sqrt{(d - h)(2 R - d + h)}

    Range: 0 <= h <= d <= R. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35.

    >>> float(relief_left(5.0, 3.0, 1.0))  # by hand: 2 deep on 5: 8
    8.0
    """
    depth, gone = np.asarray(depth_mm, float), np.asarray(gone_mm, float)
    require("gone_mm", gone, low=0.0, high=depth)
    return np.asarray(chord_of_depth(radius_mm, depth - gone))[()]


def turn_of_one_land(gone_mm: ArrayLike, land_mm: ArrayLike) -> Result:
    r"""Angle by which a land honed alone turns: so much gone at one end, nothing at the other.

    .. math:: \delta = \arctan(h / a)

    Range: h >= 0, a > 0. Shape: broadcast. Raises: ValueError. Source: right triangle.

    >>> round(float(np.degrees(turn_of_one_land(0.002, 1.2))), 3)  # by hand: 1/600 of a radian
    0.095
    """
    gone, land = np.asarray(gone_mm, float), np.asarray(land_mm, float)
    require("gone_mm", gone, low=0.0)
    require("land_mm", land, above=0.0)
    return np.asarray(np.arctan(gone / land))[()]
