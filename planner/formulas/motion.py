r"""Time and distance of moves with limited acceleration."""

from __future__ import annotations

import math

from planner.formulas.ranges import require


def move_time(distance_mm: float, speed_mm_s: float, acceleration_mm_s2: float) -> float:
    r"""Time of one move from rest to rest, in s: trapezoidal, or triangular when short.

    .. math::
        t = s/v + v/a \;\;(s \ge v^2/a), \qquad t = 2\sqrt{s/a} \;\;(s < v^2/a)

    Range: s >= 0, v > 0, a > 0. Shape: scalars; also degrees and seconds. Raises: ValueError.
    Source: constant acceleration (elementary kinematics).

    >>> move_time(100.0, 10.0, 10.0)  # by hand: 10 s at speed + 1 s for both ramps
    11.0
    >>> move_time(2.5, 10.0, 10.0)  # by hand: 2 sqrt(0.25)
    1.0
    """
    require("distance_mm", distance_mm, low=0.0)
    require("speed_mm_s", speed_mm_s, above=0.0)
    require("acceleration_mm_s2", acceleration_mm_s2, above=0.0)
    if distance_mm < speed_mm_s**2 / acceleration_mm_s2:
        return 2.0 * math.sqrt(distance_mm / acceleration_mm_s2)
    return distance_mm / speed_mm_s + speed_mm_s / acceleration_mm_s2


def ramp_distance(speed_mm_s: float, acceleration_mm_s2: float) -> float:
    r"""Distance in which an axis comes from rest to a speed, in mm.

    .. math:: s = v^2 / (2 a)

    Range: v >= 0, a > 0. Shape: scalars. Raises: ValueError. Source: constant acceleration.

    >>> ramp_distance(10.0, 10.0)
    5.0
    """
    require("speed_mm_s", speed_mm_s, low=0.0)
    require("acceleration_mm_s2", acceleration_mm_s2, above=0.0)
    return speed_mm_s**2 / (2.0 * acceleration_mm_s2)
