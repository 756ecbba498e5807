"""The straight line beside the draws: the same errors, wear among them, as first derivatives."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from planner.formulas import segment
from planner.scatter.blades import FaceCase
from planner.scatter.causes import G_RATIO, IN_BATCH
from planner.section.spread import ErrorCause, FaceSpread


def with_wear(spread: FaceSpread, case: FaceCase) -> FaceSpread:
    """The spread of a face with what wear adds to it (docs/tolerance.md).

    A wheel that wears F times what its G ratio has goes (1 - F) times what is made up for too
    deep; the spread of F about 1 is that of the logarithm. Its radius is smaller by what it has
    lost before this blade.
    """
    wearing = case.wearing
    if wearing is None:
        return spread
    before = np.asarray(wearing.before_mm)
    made_up = wearing.within_mm + (before if wearing.zero_kept else 0.0 * before)
    g = spread.land_change_per_depth
    depth_sd = wearing.log_sd * math.sqrt(float(np.mean(made_up * made_up)))
    more = [ErrorCause(G_RATIO, depth_sd, "mm", -g, -g)]
    slope = _per_radius_lost(case)
    if slope:
        more.append(ErrorCause(IN_BATCH, float(before.std()), "mm", slope, slope))
    return replace(spread, causes=(*spread.causes, *more))


def linear_shortfalls(case: FaceCase) -> tuple[float, float]:
    """The depths that stations fall short by, what the wheel has lost on average among them."""
    shift = 0.0
    if case.wearing is not None and (slope := _per_radius_lost(case)):
        g = float(segment.half_chord_per_depth(case.radius_mm, case.relief.depth_mm))
        shift = slope * float(np.mean(case.wearing.before_mm)) / g
    least, most = case.shortfalls_mm
    return least + shift, most + shift


def _per_radius_lost(case: FaceCase) -> float:
    """How much wider each land is per millimetre of radius lost, the depth kept at the touch."""
    assert case.wearing is not None
    depth = case.relief.depth_mm
    g = float(segment.half_chord_per_depth(case.radius_mm, depth))
    shrinks = float(segment.half_chord_per_radius(case.radius_mm, depth))
    return g * case.size.per_wheel_radius + (shrinks if case.wearing.smaller else 0.0)
