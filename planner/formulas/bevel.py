r"""A bevel face on flat stock, and the web between two reliefs.

Symbols: T thickness, e edge thickness, β bevel angle to the centre plane (radians), b bevel face
width, s distance from the edge along the face. Lengths in mm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

QUARTER_TURN_RAD = np.pi / 2


def bevel_height(
    thickness_mm: ArrayLike, edge_thickness_mm: ArrayLike, bevel_rad: ArrayLike
) -> Result:
    r"""Height of a bevel, edge to shoulder, along the centre plane.

    .. math:: H = (T - e) / (2 \tan\beta)

    Range: 0 <= e < T, 0 < β < π/2. Shape: broadcast. Raises: ValueError.
    Source: right triangle.

    >>> round(float(bevel_height(2.0, 0.0, np.pi / 4)), 12)  # by hand: half of 2 at 45 degrees
    1.0
    """
    return np.asarray(_rise(thickness_mm, edge_thickness_mm, bevel_rad) / np.tan(bevel_rad))[()]


def bevel_face_width(
    thickness_mm: ArrayLike, edge_thickness_mm: ArrayLike, bevel_rad: ArrayLike
) -> Result:
    r"""Length of a bevel face in the section.

    .. math:: b = (T - e) / (2 \sin\beta)

    Range: 0 <= e < T, 0 < β < π/2. Shape: broadcast. Raises: ValueError.
    Source: right triangle.

    >>> round(float(bevel_face_width(2.0, 0.0, np.pi / 6)), 12)  # by hand: 1 / sin 30
    2.0
    """
    return np.asarray(_rise(thickness_mm, edge_thickness_mm, bevel_rad) / np.sin(bevel_rad))[()]


def _rise(thickness_mm: ArrayLike, edge_thickness_mm: ArrayLike, bevel_rad: ArrayLike) -> Result:
    thickness, edge = np.asarray(thickness_mm, float), np.asarray(edge_thickness_mm, float)
    require("thickness_mm", thickness, above=0.0)
    require("edge_thickness_mm", edge, low=0.0, high=thickness)
    require("bevel_rad", bevel_rad, above=0.0, high=QUARTER_TURN_RAD)
    return np.asarray((thickness - edge) / 2.0)


def hollow_height(
    y_mm: ArrayLike,
    at_edge_mm: float,
    bevel_rad: float,
    wheel_radius_mm: float,
    middle_mm: float,
    depth_mm: ArrayLike,
) -> Result:
    r"""Height |z| over the centre plane of the lower arc of a wheel; infinite beside it.

    The face's plane is the line z = a + y tan β. The wheel's circle has its centre on its normal
    through the middle of the relief, R - d outside it; its lower arc is
    z_c - sqrt(R^2 - (y - y_c)^2).

    Range: R > 0, 0 <= d <= 2 R. Shape: y (n,), depth scalar or (m, 1). Raises: ValueError.
    Source: circle and line.

    >>> float(hollow_height(0.0, 0.0, 0.0, 5.0, 4.0, 5.0))  # by hand: centre (4, 0), 3 below it
    -3.0
    """
    y, depth = np.asarray(y_mm, float), np.asarray(depth_mm, float)
    require("wheel_radius_mm", wheel_radius_mm, above=0.0)
    require("depth_mm", depth, low=0.0, high=2.0 * wheel_radius_mm)
    sine, cosine = np.sin(bevel_rad), np.cos(bevel_rad)
    centre_y = middle_mm * cosine - (wheel_radius_mm - depth) * sine
    centre_z = at_edge_mm + middle_mm * sine + (wheel_radius_mm - depth) * cosine
    under_root = wheel_radius_mm**2 - (y - centre_y) ** 2
    arc = centre_z - np.sqrt(np.maximum(under_root, 0.0))
    return np.asarray(np.where(under_root > 0, arc, np.inf))[()]
