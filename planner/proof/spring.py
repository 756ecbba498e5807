"""How far the machine lets the wheel go: commanded depth against reached depth of a pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from planner.proof.steel import Floats
from planner.proof.target import Vector

NO_AREA_MM2 = 1e-12
_LEAST_STEP_MM = 1e-8
_SHARE = 1e-4
"""The deflection is found to this share of its upper bound, or to ``_LEAST_STEP_MM``."""
_MOST_STEPS = 60


@dataclass(frozen=True)
class Balance:
    """A pass in balance. ``removed`` is the wheel's polygon where it comes to rest."""

    deflection_mm: float
    removed_area_mm2: float
    wheel: shapely.Polygon


def balance(
    steel: shapely.Geometry,
    wheel: Floats,
    normal: Vector,
    stiffness_n_mm: float,
    force_n_per_mm2: float,
    threshold_n: float = 0.0,
) -> Balance:
    """Where spring and cutting force are equal: ``k y = f a(y) + F_0``.

    y is the deflection along the face's normal, k ``stiffness_n_mm``, f ``force_n_per_mm2`` (the
    normal force for each mm2 of section removed), a(y) the area of steel inside the wheel when it
    stands back by y, and F_0 ``threshold_n``, with which the wheel only rubs. ``wheel`` is the
    commanded wheel below the face, shape (n, 2). The left side rises with y and the right side
    falls, so there is one root, between 0 and (f a(0) + F_0) / k. Where no steel is inside
    the wheel at the root, the wheel rests on the steel without cutting.

    From statics alone: the force of a linear spring, and F_n = u a v_f / (v_s lambda) from the
    cutting power u a v_f = F_t v_s with F_t = lambda F_n. The threshold: R. S. Hahn & R. P.
    Lindsay, Principles of grinding, Machinery, 1971 (from memory).
    """
    commanded = shapely.Polygon(wheel)
    inside = shapely.intersection(steel, commanded)
    most = float(inside.area)
    high = (force_n_per_mm2 * most + threshold_n) / stiffness_n_mm
    if most < NO_AREA_MM2 or high < _LEAST_STEP_MM:
        return Balance(0.0, most, commanded)
    outward = np.array(normal)

    def out_of_balance_n(deflection_mm: float) -> float:
        backed_off = shapely.polygons(wheel + deflection_mm * outward)
        area = float(shapely.area(shapely.intersection(inside, backed_off)))
        return stiffness_n_mm * deflection_mm - force_n_per_mm2 * area - threshold_n

    deflection = _root(
        out_of_balance_n,
        high,
        -high * stiffness_n_mm,
        stiffness_n_mm * max(_LEAST_STEP_MM, _SHARE * high),
    )
    rest = shapely.Polygon(wheel + deflection * outward)
    return Balance(deflection, float(shapely.intersection(inside, rest).area), rest)


def _root(rising: Callable[[float], float], high: float, at_zero: float, enough: float) -> float:
    """Where a rising function, below 0 at 0 and not at ``high``, is within ``enough`` of 0.

    False position with the Illinois rule: an end that stays twice counts half, so that the
    bracket closes from both sides (M. Dowell & P. Jarratt, BIT 11, 1971, from memory).

    >>> round(_root(lambda x: x * x - 2.0, 2.0, -2.0, 1e-9), 6)
    1.414214
    """
    low, at_low, at_high = 0.0, at_zero, rising(high)
    if at_high <= enough:
        return high
    stayed = 0
    for _ in range(_MOST_STEPS):
        middle = low - at_low * (high - low) / (at_high - at_low)
        value = rising(middle)
        if abs(value) <= enough:
            break
        if value < 0.0:
            low, at_low = middle, value
            at_high = at_high / 2.0 if stayed < 0 else at_high
            stayed = -1
        else:
            high, at_high = middle, value
            at_low = at_low / 2.0 if stayed > 0 else at_low
            stayed = 1
    return middle
