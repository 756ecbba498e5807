"""A wheel as a torus of points, and what many of them leave in one plane: for tests alone.

Nothing of the planner's formulas is used: a point is inside the wheel where its distance from the
circle of the rim's middles says so, and the surface left is the lowest that any wheel reaches.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def depth_in_wheel(points: Floats, axis: Floats, radius_mm: float, rim_mm: float) -> Floats:
    """How far points, counted from the wheel's middle, lie inside its surface; below 0 outside.

    The rim is an arc of ``rim_mm`` about a point ``radius_mm`` - ``rim_mm`` from the axis.
    """
    out = points @ axis
    from_axis = np.linalg.norm(points - out[..., None] * axis, axis=-1)
    return np.asarray(rim_mm - np.hypot(from_axis - (radius_mm - rim_mm), out))


def reaches(
    centres: Floats,
    axis: Floats,
    radius_mm: float,
    rim_mm: float,
    starts: Floats,
    up: Floats,
    deepest_mm: float,
) -> Floats:
    """How low along lines the wheels reach: the least height of each line that is inside one.

    Halved down between ``deepest_mm`` below the start of the line (outside) and the height at
    which the wheel is thickest there. The least over the wheels is that of the parabola through
    the lowest and its two neighbours. Shape: centres (n, 3), starts (m, 3) -> (m,).
    """
    away = starts[None] - centres[:, None]
    low = np.full(away.shape[:2], -deepest_mm)
    # The way up to where the line is nearest to the wheel's own middle plane of the rim.
    high = -(away @ up)
    meets = depth_in_wheel(away + high[..., None] * up, axis, radius_mm, rim_mm) > 0.0
    for _ in range(60):
        half = (low + high) / 2
        inside = depth_in_wheel(away + half[..., None] * up, axis, radius_mm, rim_mm) > 0.0
        low, high = np.where(inside, low, half), np.where(inside, half, high)
    heights = np.where(meets & (high > -deepest_mm), (low + high) / 2, 1e3)
    lowest = np.clip(heights.argmin(axis=0), 1, len(centres) - 2)
    columns = np.arange(len(starts))
    a, b, c = (heights[lowest + k, columns] for k in (-1, 0, 1))
    bend = a - 2.0 * b + c
    return np.asarray(b - np.where(bend > 0.0, (c - a) ** 2 / (8.0 * np.maximum(bend, 1e-300)), 0))


def ends_of(places: Floats, heights: Floats, level: float) -> tuple[float, float]:
    """Where a hollow meets a level: by a parabola through three places around each crossing."""
    found = []
    for n in np.nonzero(np.diff(np.sign(heights - level)))[0]:
        k = min(max(int(n), 1), len(places) - 2)
        fit = np.polyfit(places[k - 1 : k + 3], heights[k - 1 : k + 3] - level, 3)
        roots = np.roots(fit)
        roots = roots[np.abs(roots.imag) < 1e-9].real
        found.append(float(roots[np.argmin(np.abs(roots - places[n]))]))
    low, high = found
    return low, high
