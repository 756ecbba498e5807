r"""Where the wheel stops: the spring balance of one pass, and spark-out.

The machine, the wheel and the blade give way by y = x - r, commanded depth less reached depth.
Symbols: k stiffness, κ normal force per area removed (N/mm2), A(r) area of the relief at depth r,
R wheel radius, k_c cutting stiffness (normal force per mm of true depth in one pass).
"""

from __future__ import annotations

import math

from planner.formulas.ranges import require

_SERIES_BELOW_RAD = 0.05


def _segment_area(radius_mm: float, depth_mm: float) -> float:
    # The scalar twin of segment.segment_area, without numpy's overhead: the balance is solved
    # thousands of times in a plan. tests/formulas hold the two against each other.
    theta = 4.0 * math.asin(math.sqrt(depth_mm / (2.0 * radius_mm)))
    if theta < _SERIES_BELOW_RAD:
        square = theta * theta
        difference = theta * square * (1 / 6 - square * (1 / 120 - square / 5040))
    else:
        difference = theta - math.sin(theta)
    return 0.5 * radius_mm * radius_mm * difference


def reached_depth(
    commanded_mm: float,
    last_reached_mm: float,
    stiffness_n_mm: float,
    force_per_area_n_mm2: float,
    wheel_radius_mm: float,
) -> tuple[float, float]:
    r"""Depth at which cutting force and spring balance in one pass, and the area removed.

    .. math:: k (x - r) = \kappa\,[A(r) - A(r_0)], \quad A(r) = \tfrac12 R^2(\theta - \sin\theta)

    ======  ====================  =====  =====================
    symbol  argument              unit   range
    ======  ====================  =====  =====================
    x       commanded_mm          mm     0 <= x <= R
    r_0     last_reached_mm       mm     0 <= r_0 <= R
    k       stiffness_n_mm        N/mm   k > 0
    κ       force_per_area_n_mm2  N/mm2  κ >= 0
    R       wheel_radius_mm       mm     R > 0
    r       (returned)            mm     r_0 <= r <= x
    ======  ====================  =====  =====================

    A wheel commanded no deeper than it has been cuts nothing. The left side falls and the right
    side rises with r, so there is one solution; Newton's step, kept inside a bracket, finds it to
    1e-13 mm. Shape: scalars. Raises: ValueError outside the ranges.
    Source: force balance of system and cutting stiffness, as in Rowe, Principles of Modern
    Grinding Technology (from memory), with the exact segment area in place of a constant width.

    >>> r, area = reached_depth(0.02, 0.0, 1e12, 250.0, 75.0)  # a rigid machine reaches it
    >>> round(r, 9)
    0.02
    """
    require("wheel_radius_mm", wheel_radius_mm, above=0.0)
    require("commanded_mm", commanded_mm, low=0.0, high=wheel_radius_mm)
    require("last_reached_mm", last_reached_mm, low=0.0, high=wheel_radius_mm)
    require("stiffness_n_mm", stiffness_n_mm, above=0.0)
    require("force_per_area_n_mm2", force_per_area_n_mm2, low=0.0)
    if commanded_mm <= last_reached_mm:
        return last_reached_mm, 0.0
    ratio = force_per_area_n_mm2 / stiffness_n_mm
    start_area = _segment_area(wheel_radius_mm, last_reached_mm)
    low, high = last_reached_mm, commanded_mm
    reached = (low + high) / 2.0
    for _ in range(100):
        excess = ratio * (_segment_area(wheel_radius_mm, reached) - start_area) - (
            commanded_mm - reached
        )
        if excess > 0:
            high = reached
        else:
            low = reached
        chord = 2.0 * math.sqrt(reached * (2.0 * wheel_radius_mm - reached))
        step = reached - excess / (ratio * chord + 1.0)
        following = step if low < step < high else (low + high) / 2.0
        if abs(following - reached) < 1e-13:
            reached = following
            break
        reached = following
    return reached, _segment_area(wheel_radius_mm, reached) - start_area


def deflection_kept_per_pass(stiffness_n_mm: float, cutting_stiffness_n_mm: float) -> float:
    r"""Share of the deflection that one spark-out pass leaves, for a strip of constant width.

    .. math:: \mu = k_c / (k + k_c), \quad y_n = \mu^n y_0

    Range: k > 0, k_c >= 0. Shape: scalars. Raises: ValueError.
    Source: force balance k_c a = k y of one pass; the same form as the stiffness factor in Rowe,
    Principles of Modern Grinding Technology (from memory; that book writes k_s for the cutting
    stiffness).

    >>> deflection_kept_per_pass(400.0, 600.0)  # by hand: 600 / 1000
    0.6
    """
    require("stiffness_n_mm", stiffness_n_mm, above=0.0)
    require("cutting_stiffness_n_mm", cutting_stiffness_n_mm, low=0.0)
    return cutting_stiffness_n_mm / (stiffness_n_mm + cutting_stiffness_n_mm)


def spark_out_passes(deflection_mm: float, target_mm: float, kept_per_pass: float) -> int:
    r"""Spark-out passes until the deflection is no more than a target, constant width.

    .. math:: n = \lceil \ln(y / y_0) / \ln\mu \rceil

    Range: y_0 >= 0, target > 0, 0 < μ < 1. Shape: scalars. Raises: ValueError.
    Source: y_n = μ^n y_0 (see deflection_kept_per_pass).

    >>> spark_out_passes(0.015, 0.001, 0.6)  # by hand: ln(1/15)/ln 0.6 = 5.30
    6
    """
    require("deflection_mm", deflection_mm, low=0.0)
    require("target_mm", target_mm, above=0.0)
    require("kept_per_pass", kept_per_pass, above=0.0, high=math.nextafter(1.0, 0.0))
    if deflection_mm <= target_mm:
        return 0
    return math.ceil(math.log(target_mm / deflection_mm) / math.log(kept_per_pass))
