r"""Where the wheel stops: the spring balance of one pass, and spark-out.

The machine, the wheel and the blade give way by y = x - r, commanded depth less reached depth.
Symbols: k stiffness, κ normal force per area removed (N/mm2), A(r) area removed down to depth r,
k_c cutting stiffness (normal force per mm of true depth in one pass).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.removal import Removal
from planner.formulas.segment import Result

_STEPS = 60
"""Newton steps at most; five or six are usual."""


def reached_depth(
    commanded_mm: ArrayLike,
    last_reached_mm: ArrayLike,
    stiffness_n_mm: ArrayLike,
    force_per_area_n_mm2: ArrayLike,
    removal: Removal,
    threshold_n: float = 0.0,
) -> tuple[Result, Result]:
    r"""Depth at which cutting force and spring balance in one pass, and the area removed.

    .. math:: k (x - r) = F_0 + \kappa\,[A(r) - A(r_0)]

    ======  ====================  =====  =====================
    symbol  argument              unit   range
    ======  ====================  =====  =====================
    x       commanded_mm          mm     0 <= x <= D
    r_0     last_reached_mm       mm     0 <= r_0 <= D
    k       stiffness_n_mm        N/mm   k > 0
    κ       force_per_area_n_mm2  N/mm2  κ >= 0
    A, D    removal               mm2    its area, and the deepest that it holds for
    F_0     threshold_n           N      F_0 >= 0
    r       (returned)            mm     r_0 <= r <= x
    ======  ====================  =====  =====================

    A wheel that presses with no more than its threshold force cuts nothing. Over r the balance is
    rising and hollow upwards, so Newton's step from above never passes the solution. It ends when
    no element has moved by more than 1e-9 mm: the next step would be of the order of its square.
    Shape: broadcast. Raises: ValueError outside the ranges.
    Source: force balance of system and cutting stiffness, as in Rowe, Principles of Modern
    Grinding Technology (from memory), with the exact area in place of a constant width;
    threshold force: Hahn and Lindsay's wear and removal relations, in Malkin & Guo, Grinding
    Technology (from memory).

    >>> from planner.formulas.removal import SegmentRemoval
    >>> r, area = reached_depth(0.02, 0.0, 1e12, 250.0, SegmentRemoval(75.0))
    >>> round(float(r), 9)  # a rigid machine reaches it
    0.02
    """
    require("commanded_mm", commanded_mm, low=0.0, high=removal.deepest_mm)
    require("last_reached_mm", last_reached_mm, low=0.0, high=removal.deepest_mm)
    require("stiffness_n_mm", stiffness_n_mm, above=0.0)
    require("force_per_area_n_mm2", force_per_area_n_mm2, low=0.0)
    require("threshold_n", threshold_n, low=0.0)
    stiffness = np.asarray(stiffness_n_mm, float)
    ratio = np.asarray(force_per_area_n_mm2, float) / stiffness
    effective, start = np.broadcast_arrays(
        np.asarray(commanded_mm, float) - threshold_n / stiffness,
        np.asarray(last_reached_mm, float),
    )
    # Newton's step from where the last pass ended, where nothing is removed yet, lands above.
    chord = removal.width_mm(start)
    reached = start + np.maximum(effective - start, 0.0) / (ratio * chord + 1.0)
    start_area = removal.area_mm2(start)
    for _ in range(_STEPS):
        excess = ratio * (removal.area_mm2(reached) - start_area) - (effective - reached)
        step = excess / (ratio * removal.width_mm(reached) + 1.0)
        following = np.maximum(reached - step, start)
        moved = float(np.max(np.abs(following - reached), initial=0.0))
        reached = following
        if moved < 1e-9:
            break
    area = np.maximum(removal.area_mm2(reached) - start_area, 0.0)
    return reached[()], np.asarray(area)[()]


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
