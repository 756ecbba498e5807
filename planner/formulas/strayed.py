r"""Where the lands of one face come out when things are not as they should be: exact geometry.

Symbols: β bevel angle to the centre plane, φ that of the flank, b face width, κ how far the flank
rises for a millimetre of thickness (1/2 with two bevels), R wheel radius, p place of the wheel
along the nominal face, D way of the infeed from bare contact. Errors: t of the thickness, ε of the
bevel angle, τ of the tilt. Lengths in mm, angles in radians.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

Touching = Literal["mark", "stop", "batch"]
"""``mark``: each blade touched off, the middle set by the mark that the touch leaves. ``stop``:
each blade touched off where a stop puts the wheel. ``batch``: one blade touched off, of nominal
size."""

_MOST_TURN_RAD = 1.5


class Strayed(NamedTuple):
    """Both lands, and how far the wheel is from bare contact. Shape: that of the errors."""

    edge_land_mm: Result
    shoulder_land_mm: Result
    depth_mm: Result
    """Of the relief, normal to the face as it is; below 0 where nothing is ground."""


def strayed_lands(
    touching: Touching,
    bevel_rad: float,
    face_width_mm: float,
    rise_per_thickness: float,
    place_mm: ArrayLike,
    wheel_radius_mm: ArrayLike,
    infeed_mm: ArrayLike,
    *,
    thickness_error_mm: ArrayLike = 0.0,
    bevel_error_rad: ArrayLike = 0.0,
    tilt_error_rad: ArrayLike = 0.0,
    face_error_mm: ArrayLike = 0.0,
    start_mm: float = 0.0,
    flank_rad: float = 0.0,
) -> Strayed:
    r"""Lands of a face whose blade, wheel and place are each a little off.

    The face as it is lies turned by δ = ε + τ against the nominal face as it is held. In the frame
    of the nominal face (u along it from the edge, n outward) the wheel's centre stands at (p, h):

    .. math:: h_{stop} = \frac{R}{\cos\delta} + p \tan\delta - D, \qquad
              h_{batch} = \frac{R}{\cos\tau} + p \tan\tau - D

    and in that of the face as it is, the blade raised from its seat by t/2 (batch only), which
    moves its edge by :math:`s = \tfrac{t}{2} (\sin(\beta - \tau), \cos(\beta - \tau))`,

    .. math:: x = (p - s_u) \cos\delta + (h - s_n) \sin\delta, \qquad
              y = -(p - s_u) \sin\delta + (h - s_n) \cos\delta

    With the mark the touch itself is at x = p, y = R of the face as it is, and the infeed takes
    D sin δ and D cos δ off them. The circle crosses the face at x plus and minus
    :math:`a = \sqrt{R^2 - y^2}`: edge land x - a, shoulder land b' - x - a with
    b' = (b sin(β - φ) + κ t cos φ) / sin(β + ε - φ), where the turned face meets a flank that is
    κ t higher; but b where the face is parallel to the centre plane. Where y > R nothing is ground,
    and a = 0.

    ``face_error_mm`` is how much too far a pass over the lands has taken the face down: y grows.
    ``start_mm`` is where the face begins behind a micro bevel; p is counted from y = 0 still.
    Range: R > 0, b > 0, 0 <= κ <= 1, 0 <= β < π/2, -π/2 < φ < β (φ = 0 with β = 0), angles of error
    within 1.5 in sum. Shape: the
    errors, place, radius and infeed broadcast. Raises: ValueError.
    Source: circle and line, derived here; docs/tolerance.md has its first derivatives.

    >>> exact = strayed_lands("mark", np.pi / 6, 8.0, 0.5, 5.0, 5.0, 2.0)
    >>> # by hand: a 3-4-5 triangle, half chord 4, about the place 5 of a face 8 wide
    >>> [round(float(v), 9) for v in exact]
    [1.0, -1.0, 2.0]
    """
    place, radius = np.asarray(place_mm, float), np.asarray(wheel_radius_mm, float)
    infeed, thicker = np.asarray(infeed_mm, float), np.asarray(thickness_error_mm, float)
    bevel_error, tilt = np.asarray(bevel_error_rad, float), np.asarray(tilt_error_rad, float)
    require("wheel_radius_mm", radius, above=0.0)
    require("face_width_mm", face_width_mm, above=0.0)
    require("rise_per_thickness", rise_per_thickness, low=0.0, high=1.0)
    require("bevel_rad", bevel_rad, low=0.0, high=np.pi / 2)
    require("flank_rad", flank_rad, above=-np.pi / 2)
    require("bevel over flank", bevel_rad - flank_rad, low=0.0)
    turn = bevel_error + tilt
    require("error of the angles", np.abs(turn), low=0.0, high=_MOST_TURN_RAD)
    sine, cosine = np.sin(turn), np.cos(turn)
    if touching == "mark":
        along, away = place - infeed * sine, radius - infeed * cosine
    elif touching == "stop":
        height = radius / cosine + place * sine / cosine - infeed
        along, away = place * cosine + height * sine, radius - infeed * cosine
    else:
        height = radius / np.cos(tilt) + place * np.tan(tilt) - infeed
        beside = place - thicker / 2 * np.sin(bevel_rad - tilt)
        above = height - thicker / 2 * np.cos(bevel_rad - tilt)
        along, away = beside * cosine + above * sine, above * cosine - beside * sine
    away = away + np.asarray(face_error_mm, float)
    half = np.sqrt(np.maximum(radius * radius - away * away, 0.0))
    half = np.where(away < radius, half, 0.0)
    width = np.asarray(face_width_mm)
    if bevel_rad > 0:
        over = bevel_rad - flank_rad
        away_mm = face_width_mm * np.sin(over) + rise_per_thickness * thicker * np.cos(flank_rad)
        width = np.asarray(away_mm / np.sin(over + bevel_error))
    return Strayed(
        np.asarray(along - half - start_mm)[()],
        np.asarray(start_mm + width - along - half)[()],
        np.asarray(radius - away)[()],
    )
