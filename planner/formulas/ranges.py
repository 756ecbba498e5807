"""Range checks shared by the formulas: a value outside its range is an error that names both."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike


def require(
    name: str,
    value: ArrayLike,
    *,
    above: float | None = None,
    low: float | None = None,
    high: ArrayLike = math.inf,
) -> None:
    """Check that every element lies in [low, high], or in (above, high]; NaN never does.

    Infinity is refused unless ``high`` is left at infinity and the caller means it to pass: a
    value must be finite. Shape: broadcast. Raises: ValueError naming value and range.

    >>> require("depth_mm", -1.0, low=0.0)
    Traceback (most recent call last):
    ValueError: depth_mm = -1.0 is outside [0, inf)
    """
    if isinstance(value, float) and isinstance(high, float | int):
        # Most values are single floats, and most of them in range: no array for these.
        above_low = (above is None or value > above) and (low is None or value >= low)
        if above_low and math.isfinite(value) and value <= high:
            return
    array = np.asarray(value, float)
    ok = np.isfinite(array) & (array <= high)
    if above is not None:
        ok &= array > above
    if low is not None:
        ok &= array >= low
    if not bool(np.all(ok)):
        worst = float(np.broadcast_to(array, ok.shape)[~ok].flat[0])
        left = f"({above:g}" if above is not None else f"[{low:g}" if low is not None else "(-inf"
        top = float(np.min(np.asarray(high, float)))
        right = f"{top:g}]" if math.isfinite(top) else "inf)"
        raise ValueError(f"{name} = {worst!r} is outside {left}, {right}")
