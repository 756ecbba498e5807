r"""Where the lands of a face that bulges come out when things are not as they should be.

Symbols: ρ radius of the face's arc, R wheel radius, β_e, β_m, β_s angles of the face to the centre
plane at its edge, in the middle of the relief and at its shoulder, κ, D and the errors t, ε, τ as
in ``strayed``; p how far beside the middle the wheel stands. Lengths in mm, angles in radians.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result
from planner.formulas.strayed import Strayed, Touching


class BulgingFace(NamedTuple):
    """The face as it is meant."""

    radius_mm: float
    edge_rad: float
    middle_rad: float
    width_mm: float
    """Length of its arc."""
    rise_per_thickness: float
    flank_rad: float = 0.0


def strayed_bulge_lands(
    touching: Touching,
    face: BulgingFace,
    beside_mm: ArrayLike,
    wheel_radius_mm: ArrayLike,
    infeed_mm: ArrayLike,
    *,
    thickness_error_mm: ArrayLike = 0.0,
    bevel_error_rad: ArrayLike = 0.0,
    tilt_error_rad: ArrayLike = 0.0,
) -> Strayed:
    r"""Lands, along the arc, of a bulging face whose blade, wheel and place are a little off.

    In the frame of the plane that touches the nominal face in the middle of the relief, the arc's
    centre is C = (0, -ρ) and its edge end S lies at the angle θ_s = β_m - β_e from there. The face
    as it is is turned by δ = ε + τ about S (and with one blade touched off raised by t/2, as a
    flat one). Two circles touch with their centres R + ρ apart, so over a place p the wheel bares
    at

    .. math:: h = C_y + \sqrt{(R + \rho)^2 - (p - C_x)^2}

    and goes D down; with the mark it bares with its centre over p/ρ of the very face. With the two
    centres L apart in the direction θ from the face's normal, the circles cross at
    :math:`\theta \pm \alpha,\ \cos\alpha = (\rho^2 + L^2 - R^2) / (2 \rho L)`: edge land
    ρ (θ - α - θ_s), shoulder land w - ρ (θ + α - θ_s) with the length of the arc
    w = ρ (β_e + ε - β_s), :math:`\cos(\beta_s - \varphi) = \cos(\beta_e + \varepsilon - \varphi)
    + f/\rho`, f its rise square to the flank, which leans by φ and gains κ t cos φ.

    Range: ρ > 0, R > 0, 0 < β_e < π/2, w > 0. Shape: errors, place, radius, infeed broadcast.
    Raises: ValueError. Source: two circles; law of cosines (Euclid, Elements II.12-13).

    >>> face = BulgingFace(5.0, 0.9, 0.0 + 0.9 - 1.0, 10.0, 0.5)
    >>> found = strayed_bulge_lands("mark", face, 0.0, 5.0, 4.0)
    >>> # by hand: two circles of 5 with centres 6 apart cross at acos(3/5) = 0.9273 on either side;
    >>> # the face begins 1.0 before its middle: 5 (1 - 0.9273)
    >>> round(float(found.edge_land_mm), 4), round(float(found.depth_mm), 9)
    (0.3635, 4.0)
    """
    rho, edge, middle, width, kappa, flank = face
    radius, place = np.asarray(wheel_radius_mm, float), np.asarray(beside_mm, float)
    infeed, thicker = np.asarray(infeed_mm, float), np.asarray(thickness_error_mm, float)
    bevel, tilt = np.asarray(bevel_error_rad, float), np.asarray(tilt_error_rad, float)
    require("radius_mm", rho, above=0.0)
    require("wheel_radius_mm", radius, above=0.0)
    require("edge_rad", edge, above=0.0, high=np.pi / 2)
    require("width_mm", width, above=0.0)
    turn, both = bevel + tilt, radius + rho
    start = middle - edge
    if touching == "mark":
        there = place / rho
        across = both * np.sin(there) - infeed * np.sin(turn)
        up = both * np.cos(there) - infeed * np.cos(turn)
        toward = np.arctan2(across, up)
    else:
        centre_x, centre_y = _centre(rho, start, turn)
        bares_x, bares_y = (centre_x, centre_y) if touching == "stop" else _centre(rho, start, tilt)
        height = bares_y + np.sqrt(np.maximum(both * both - (place - bares_x) ** 2, 0.0)) - infeed
        if touching == "batch":
            centre_x = centre_x + thicker / 2 * np.sin(middle - tilt)
            centre_y = centre_y + thicker / 2 * np.cos(middle - tilt)
        across, up = place - centre_x, height - centre_y
        toward = np.arctan2(across, up) + turn
    apart = np.hypot(across, up)
    cosine = (rho * rho + apart * apart - radius * radius) / (2 * rho * apart)
    half = np.where(apart < both, np.arccos(np.clip(cosine, -1.0, 1.0)), 0.0)
    # Seen square to the flank, it is as a level one.
    whole = _width(rho, edge - flank, width, kappa * thicker * np.cos(flank), bevel)
    return Strayed(
        np.asarray(rho * (toward - half - start))[()],
        np.asarray(whole - rho * (toward + half - start))[()],
        np.asarray(both - apart)[()],
    )


def _centre(rho: float, start_rad: float, turn_rad: Result) -> tuple[Result, Result]:
    """Centre of the face's arc, the face turned about its edge end."""
    sine, cosine = np.sin(turn_rad), np.cos(turn_rad)
    end_x, end_y = rho * np.sin(start_rad), rho * np.cos(start_rad) - rho
    from_x, from_y = -end_x, -rho - end_y
    return (
        np.asarray(end_x + from_x * cosine - from_y * sine),
        np.asarray(end_y + from_x * sine + from_y * cosine),
    )


def _width(
    rho: float, edge_rad: float, width_mm: float, higher_mm: Result, bevel_error_rad: Result
) -> Result:
    """Length of the arc up to a flank so much higher; up to where it is level, if not that high."""
    rise = rho * (np.cos(edge_rad - width_mm / rho) - np.cos(edge_rad)) + higher_mm
    at_edge = edge_rad + bevel_error_rad
    return np.asarray(rho * (at_edge - np.arccos(np.clip(np.cos(at_edge) + rise / rho, -1.0, 1.0))))
