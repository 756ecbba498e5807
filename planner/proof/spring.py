"""How far the machine lets the wheel go: commanded depth against reached depth of a pass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from planner.proof.steel import Floats
from planner.proof.target import Vector

_NO_AREA_MM2 = 1e-12
_LEAST_STEP_MM = 1e-8
_SHARE = 1e-4
"""The deflection is found to this share of its upper bound, or to ``_LEAST_STEP_MM``."""


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
) -> Balance:
    """Where spring and cutting force are equal: ``k y = f a(y)``.

    y is the deflection along the face's normal, k ``stiffness_n_mm``, f ``force_n_per_mm2`` (the
    normal force for each mm2 of section removed) and a(y) the area of steel inside the wheel
    when it stands back by y. ``wheel`` is the commanded wheel below the face, shape (n, 2). The
    left side rises with y and the right side falls, so there is one root, between 0 and
    f a(0) / k; it is found by bisection. From statics alone: the force of a linear spring, and
    F_n = u a v_f / (v_s lambda) from the cutting power u a v_f = F_t v_s with F_t = lambda F_n.
    """
    commanded = shapely.Polygon(wheel)
    inside = shapely.intersection(steel, commanded)
    most = float(inside.area)
    high = force_n_per_mm2 * most / stiffness_n_mm
    if most < _NO_AREA_MM2 or high < _LEAST_STEP_MM:
        return Balance(0.0, most, commanded)
    outward = np.array(normal)
    low = 0.0
    step = max(_LEAST_STEP_MM, _SHARE * high)
    while high - low > step:
        middle = (low + high) / 2.0
        backed_off = shapely.polygons(wheel + middle * outward)
        area = float(shapely.area(shapely.intersection(inside, backed_off)))
        if stiffness_n_mm * middle < force_n_per_mm2 * area:
            low = middle
        else:
            high = middle
    deflection = (low + high) / 2.0
    rest = shapely.Polygon(wheel + deflection * outward)
    return Balance(deflection, float(shapely.intersection(inside, rest).area), rest)
