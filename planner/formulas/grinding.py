r"""Speeds, forces and power of a grinding pass.

Symbols: d diameter, n shaft speed, v_s wheel surface speed, u specific grinding energy, a area of
the section removed in the pass, v_f traverse feed, λ force ratio F_t/F_n.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result


def surface_speed(diameter_mm: ArrayLike, shaft_speed_rpm: ArrayLike) -> Result:
    r"""Surface speed of a wheel, or of a belt on its drive wheel, in m/s.

    .. math:: v_s = \pi d n / 60000

    Range: d > 0, n >= 0. Shape: broadcast. Raises: ValueError. Assumes: no slip.
    Source: definition; printed in surface-speed charts (6 in at 1000 rev/min: 1570 ft/min).

    >>> round(float(surface_speed(152.4, 1000)) * 196.850394)  # by hand: 500 pi ft/min
    1571
    """
    require("diameter_mm", diameter_mm, above=0.0)
    require("shaft_speed_rpm", shaft_speed_rpm, low=0.0)
    return np.asarray(np.pi * np.asarray(diameter_mm) * np.asarray(shaft_speed_rpm) / 60_000)[()]


def shaft_speed(diameter_mm: ArrayLike, surface_speed_m_s: ArrayLike) -> Result:
    r"""Shaft speed in rev/min at which a wheel has a surface speed.

    .. math:: n = 60000 v_s / (\pi d)

    Range: d > 0, v_s >= 0. Shape: broadcast. Raises: ValueError. Source: definition.

    >>> round(float(shaft_speed(200.0, 50.0)), 1)  # by hand: 3 000 000 / 628.3185
    4774.6
    """
    require("diameter_mm", diameter_mm, above=0.0)
    require("surface_speed_m_s", surface_speed_m_s, low=0.0)
    return np.asarray(60_000 * np.asarray(surface_speed_m_s) / (np.pi * np.asarray(diameter_mm)))[
        ()
    ]


def grinding_power(
    specific_energy_j_mm3: ArrayLike, area_mm2: ArrayLike, feed_mm_s: ArrayLike
) -> Result:
    r"""Power at the wheel, in W.

    .. math:: P = u\,a\,v_f

    Range: all >= 0. Shape: broadcast. Raises: ValueError.
    Source: definition of specific energy, P = u MRR (Kalpakjian & Schmid, Manufacturing
    Engineering and Technology, surface-grinding example).

    >>> float(grinding_power(40.0, 0.05, 60.0))  # by hand: 40 * 0.05 * 60
    120.0
    """
    require("specific_energy_j_mm3", specific_energy_j_mm3, low=0.0)
    require("area_mm2", area_mm2, low=0.0)
    require("feed_mm_s", feed_mm_s, low=0.0)
    return np.asarray(
        np.asarray(specific_energy_j_mm3) * np.asarray(area_mm2) * np.asarray(feed_mm_s)
    )[()]


def tangential_force(power_w: ArrayLike, surface_speed_m_s: ArrayLike) -> Result:
    r"""Tangential force, in N.

    .. math:: F_t = P / v_s = u\,a\,v_f / v_s

    Range: P >= 0, v_s > 0. Shape: broadcast. Raises: ValueError.
    Source: power is force times speed (same worked example).

    >>> float(tangential_force(120.0, 24.0))  # by hand
    5.0
    """
    require("power_w", power_w, low=0.0)
    require("surface_speed_m_s", surface_speed_m_s, above=0.0)
    return np.asarray(np.asarray(power_w, float) / np.asarray(surface_speed_m_s, float))[()]


def normal_force(tangential_force_n: ArrayLike, force_ratio: ArrayLike) -> Result:
    r"""Normal force, in N.

    .. math:: F_n = F_t / \lambda

    Range: F_t >= 0, λ > 0. Shape: broadcast. Raises: ValueError.
    Source: definition of the force ratio; F_n/F_t is 1.3 in the surface-grinding example of
    Kalpakjian & Schmid, 1.5 to 3 for wheels on hardened steel (Malkin & Guo, from memory).

    >>> float(normal_force(5.0, 0.4))  # by hand
    12.5
    """
    require("tangential_force_n", tangential_force_n, low=0.0)
    require("force_ratio", force_ratio, above=0.0)
    return np.asarray(np.asarray(tangential_force_n, float) / np.asarray(force_ratio, float))[()]


def normal_force_per_area(
    specific_energy_j_mm3: float, feed_mm_s: float, surface_speed_m_s: float, force_ratio: float
) -> float:
    r"""Normal force per section area removed in one pass, in N/mm2.

    .. math:: F_n / a = u\,v_f / (v_s \lambda)

    Range: as its parts. Shape: scalars. Raises: ValueError.
    Source: the three relations above, put together.

    >>> normal_force_per_area(40.0, 60.0, 24.0, 0.4)  # by hand: 2400 / 9.6
    250.0
    """
    power = grinding_power(specific_energy_j_mm3, 1.0, feed_mm_s)
    return float(normal_force(tangential_force(power, surface_speed_m_s), force_ratio))
