r"""Grains: which grits follow one another, how much each step must take, and the size of a chip.

Symbols: d_g mean grain size, a_e depth of cut, v_w speed of the work past the wheel, v_s wheel
speed, d_s and d_w diameters of wheel and work, d_e equivalent diameter, C cutting grains per area.

The chip figures are those of a wheel turning along the feed (surface and cylindrical grinding).
When the blade is fed along the wheel's axis the contact is the whole arc of the relief and the
removal is the swept section times the feed: l_c and h_eq then do not describe the cut.

Sizes are mean grain sizes in micrometres; a grit's name says nothing without its scale (P400 is
35 um, a plain 400 of another scale 23.6 um).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require
from planner.formulas.segment import Result

LARGEST_SIZE_RATIO = 2.0
"""Largest sensible ratio of successive mean grain sizes: common practice, no source."""

USUAL_SIZE_RATIO = 1.5
"""Usual ratio of successive mean grain sizes: common practice, no source."""

STOCK_PER_GRAIN = (0.3, 0.6)
"""Stock that a step takes, over the mean grain size of the step before: common practice, no
source."""

RZ_PER_RA = (5.0, 7.0)
"""Peak-to-valley over mean roughness of a ground surface: common practice, no source."""


@dataclass(frozen=True)
class GritStep:
    """One grit of a progression, after the coarser one before it."""

    mean_grain_um: float
    size_ratio: float
    """Mean grain size of the step before over this one's."""
    least_stock_mm: float
    """Stock that this step must take off, normal to the face, if the step before cut cleanly."""
    ample_stock_mm: float
    """Stock that takes off the deepest scratches of a coarse or dull step before."""

    @property
    def is_usual(self) -> bool:
        """Whether the step is no larger than the usual one."""
        return self.size_ratio <= USUAL_SIZE_RATIO

    @property
    def is_sensible(self) -> bool:
        """Whether the step is no larger than the largest sensible one."""
        return self.size_ratio <= LARGEST_SIZE_RATIO


def allowance_from_coarser(mean_grain_um: ArrayLike) -> tuple[Result, Result]:
    r"""Stock to leave for the next finer step, normal to the face: least and ample, in mm.

    .. math:: z = (0.3 \dots 0.6)\,d_g

    d_g is the mean grain size of the coarser step, whose scratches have to go.
    Range: 1 <= d_g <= 3000 um. Shape: broadcast. Raises: ValueError.
    Source: STOCK_PER_GRAIN (common practice); a factor of two either way, as is the roughness that
    published charts give for one grit.

    >>> least, ample = allowance_from_coarser(100.0)  # by hand
    >>> round(float(least), 6), round(float(ample), 6)
    (0.03, 0.06)
    """
    require("mean_grain_um", mean_grain_um, low=1.0, high=3000.0)
    size_mm = np.asarray(mean_grain_um, float) / 1000.0
    return np.asarray(STOCK_PER_GRAIN[0] * size_mm)[()], np.asarray(STOCK_PER_GRAIN[1] * size_mm)[
        ()
    ]


def scratch_depth(mean_roughness_ra_um: ArrayLike) -> tuple[Result, Result]:
    r"""Depth of the scratches of a ground surface from its mean roughness: low and high, in um.

    .. math:: R_z \approx (5 \dots 7)\,R_a

    Range: R_a >= 0. Shape: broadcast. Raises: ValueError. Source: RZ_PER_RA (common practice).

    >>> low, high = scratch_depth(0.8)  # by hand
    >>> round(float(low), 6), round(float(high), 6)
    (4.0, 5.6)
    """
    require("mean_roughness_ra_um", mean_roughness_ra_um, low=0.0)
    roughness = np.asarray(mean_roughness_ra_um, float)
    return np.asarray(RZ_PER_RA[0] * roughness)[()], np.asarray(RZ_PER_RA[1] * roughness)[()]


def removes_scratches(stock_mm: ArrayLike, mean_roughness_ra_um: ArrayLike) -> NDArray[np.bool_]:
    """Whether a stock is at least the scratch depth, taken high, of the step before.

    Range: stock >= 0, R_a >= 0. Shape: broadcast. Raises: ValueError. Source: scratch_depth.

    >>> bool(removes_scratches(0.006, 0.8)), bool(removes_scratches(0.005, 0.8))
    (True, False)
    """
    require("stock_mm", stock_mm, low=0.0)
    return np.asarray(np.asarray(stock_mm) * 1000.0 >= scratch_depth(mean_roughness_ra_um)[1])[()]


def check_progression(mean_grains_um: Sequence[float]) -> tuple[GritStep, ...]:
    """Judge every step of a progression after its first: ratios and the stock each must take.

    Shape: (n,), n >= 1, strictly falling, in the order of use; returns n - 1 steps.
    Raises: ValueError outside 1 to 3000 um, or when a size does not fall.
    Source: STOCK_PER_GRAIN, USUAL_SIZE_RATIO, LARGEST_SIZE_RATIO (common practice).

    >>> step, = check_progression([200.0, 80.0])  # by hand: 2.5 is more than 2
    >>> step.size_ratio, step.is_sensible, step.least_stock_mm
    (2.5, False, 0.06)
    """
    if not mean_grains_um:
        raise ValueError("mean_grains_um: need at least one size")
    require("mean_grains_um", mean_grains_um, low=1.0, high=3000.0)
    steps = []
    for coarser, finer in pairwise(mean_grains_um):
        if not finer < coarser:
            raise ValueError(f"mean_grains_um: {finer!r} after {coarser!r} is not finer")
        least, ample = allowance_from_coarser(coarser)
        steps.append(GritStep(float(finer), coarser / finer, float(least), float(ample)))
    return tuple(steps)


def grit_progression(
    mean_grains_um: Sequence[float], largest_ratio: float = LARGEST_SIZE_RATIO
) -> tuple[float, ...]:
    """Suggest the fewest steps from the coarsest to the finest of the sizes at hand.

    Each step goes to the finest size within ``largest_ratio`` of the last; where none is, to the
    next finer, and check_progression marks that step.

    Shape: (n,), n >= 1, any order; returns the sizes to use, coarse to fine. Range: 1 to 3000 um,
    ratio > 1. Raises: ValueError. Source: LARGEST_SIZE_RATIO (common practice). That always going
    as far as allowed gives the fewest steps holds because every step further leaves no fewer
    choices.

    >>> grit_progression([100, 400, 50, 25, 200])
    (400, 200, 100, 50, 25)
    >>> grit_progression([100, 400, 50, 25, 200], largest_ratio=4.0)
    (400, 100, 25)
    """
    if not mean_grains_um:
        raise ValueError("mean_grains_um: need at least one size")
    require("mean_grains_um", mean_grains_um, low=1.0, high=3000.0)
    require("largest_ratio", largest_ratio, above=1.0)
    left = sorted(set(mean_grains_um), reverse=True)
    chosen = [left.pop(0)]
    while left:
        reachable = [size for size in left if size * largest_ratio >= chosen[-1] * (1 - 1e-12)]
        chosen.append(reachable[-1] if reachable else left[0])
        left = left[left.index(chosen[-1]) + 1 :]
    return tuple(chosen)


def equivalent_diameter(
    wheel_diameter_mm: ArrayLike, work_diameter_mm: ArrayLike = math.inf, *, concave: bool = False
) -> Result:
    r"""Wheel that would have the same contact with flat work, in mm.

    .. math:: 1/d_e = 1/d_s \pm 1/d_w

    Plus for convex work, minus for work concave along the direction of motion, d_w infinite for
    flat work. Range: d_s > 0, d_w > 0 or infinite, concave d_w > d_s: as d_w nears d_s the contact
    conforms and the formula no longer describes it. Shape: broadcast. Raises: ValueError.
    Source: Malkin & Guo, Grinding Technology; Rowe, Principles of Modern Grinding Technology (from
    memory).

    >>> round(float(equivalent_diameter(200.0, 50.0)), 9)  # by hand: 1 / (0.005 + 0.02)
    40.0
    """
    require("wheel_diameter_mm", wheel_diameter_mm, above=0.0)
    wheel, work = np.asarray(wheel_diameter_mm, float), np.asarray(work_diameter_mm, float)
    least = wheel if concave else np.asarray(0.0)
    if not np.all(work > least):
        raise ValueError(
            f"work_diameter_mm = {float(np.min(work))!r} is outside ({float(np.max(least)):g}, inf]"
        )
    curvature = 1.0 / wheel + (-1.0 if concave else 1.0) / work
    return np.asarray(1.0 / curvature)[()]


def contact_length(depth_of_cut_mm: ArrayLike, equivalent_diameter_mm: ArrayLike) -> Result:
    r"""Geometric length of contact, in mm.

    .. math:: l_c = \sqrt{a_e d_e}

    Range: 0 <= a_e <= d_e / 10 (the arc is taken as its chord, 3 % at the limit), d_e > 0.
    Shape: broadcast. Raises: ValueError. Real contact is longer, 1.5 to 3 times (Rowe, from
    memory), on belts longer still.
    Source: Malkin & Guo, Grinding Technology; Rowe, Principles of Modern Grinding Technology (from
    memory).

    >>> float(contact_length(0.02, 200.0))  # by hand: sqrt 4
    2.0
    """
    require("equivalent_diameter_mm", equivalent_diameter_mm, above=0.0)
    diameter = np.asarray(equivalent_diameter_mm, float)
    require("depth_of_cut_mm", depth_of_cut_mm, low=0.0, high=diameter / 10.0)
    return np.asarray(np.sqrt(np.asarray(depth_of_cut_mm, float) * diameter))[()]


def speed_ratio(wheel_speed_m_s: ArrayLike, work_speed_mm_s: ArrayLike) -> Result:
    r"""Wheel speed over work speed.

    .. math:: q = v_s / v_w

    Range: v_s > 0, v_w > 0. Shape: broadcast. Raises: ValueError. Source: definition.

    >>> float(speed_ratio(30.0, 200.0))  # by hand: 30 000 / 200
    150.0
    """
    require("wheel_speed_m_s", wheel_speed_m_s, above=0.0)
    require("work_speed_mm_s", work_speed_mm_s, above=0.0)
    return np.asarray(
        1000.0 * np.asarray(wheel_speed_m_s, float) / np.asarray(work_speed_mm_s, float)
    )[()]


def specific_removal_rate(depth_of_cut_mm: ArrayLike, work_speed_mm_s: ArrayLike) -> Result:
    r"""Volume removed per second and millimetre of width, in mm3/(mm s).

    .. math:: Q'_w = a_e v_w

    Range: both >= 0. Shape: broadcast. Raises: ValueError. Source: definition (Malkin & Guo).

    >>> float(specific_removal_rate(0.02, 200.0))  # by hand
    4.0
    """
    require("depth_of_cut_mm", depth_of_cut_mm, low=0.0)
    require("work_speed_mm_s", work_speed_mm_s, low=0.0)
    return np.asarray(np.asarray(depth_of_cut_mm, float) * np.asarray(work_speed_mm_s, float))[()]


def equivalent_chip_thickness(
    depth_of_cut_mm: ArrayLike, work_speed_mm_s: ArrayLike, wheel_speed_m_s: ArrayLike
) -> Result:
    r"""Thickness of the layer of steel that leaves at wheel speed, in um.

    .. math:: h_{eq} = a_e v_w / v_s

    Range: a_e >= 0, v_w >= 0, v_s > 0. Shape: broadcast. Raises: ValueError.
    Source: definition (Malkin & Guo; Rowe, from memory).

    >>> round(float(equivalent_chip_thickness(0.02, 200.0, 30.0)), 4)  # by hand: 4 / 30 um
    0.1333
    """
    require("wheel_speed_m_s", wheel_speed_m_s, above=0.0)
    rate = specific_removal_rate(depth_of_cut_mm, work_speed_mm_s)
    return np.asarray(rate / np.asarray(wheel_speed_m_s, float))[()]  # mm2/s over m/s is um


def chips_per_second(
    wheel_speed_m_s: ArrayLike, width_mm: ArrayLike, grains_per_mm2: ArrayLike
) -> Result:
    r"""Chips cut in a second over a width of cut, one a cutting grain.

    .. math:: n_c = v_s w C

    Range: all > 0. Shape: broadcast. Raises: ValueError. Take the width in cut, not the wheel's.
    Source: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on grinding (from memory).

    >>> float(chips_per_second(25.0, 2.0, 0.5))  # by hand: 25 000 * 2 * 0.5
    25000.0
    """
    require("wheel_speed_m_s", wheel_speed_m_s, above=0.0)
    require("width_mm", width_mm, above=0.0)
    require("grains_per_mm2", grains_per_mm2, above=0.0)
    swept = 1000.0 * np.asarray(wheel_speed_m_s, float) * np.asarray(width_mm, float)
    return np.asarray(swept * np.asarray(grains_per_mm2, float))[()]


def mean_chip_volume(
    depth_of_cut_mm: ArrayLike,
    work_speed_mm_s: ArrayLike,
    wheel_speed_m_s: ArrayLike,
    grains_per_mm2: ArrayLike,
) -> Result:
    r"""Mean volume of a chip, in mm3.

    .. math:: V_c = \frac{a_e v_w w}{v_s w C} = \frac{a_e v_w}{v_s C}

    Range: as chips_per_second and specific_removal_rate. Shape: broadcast. Raises: ValueError.
    Source: removal rate over chips per second (Groover, as chips_per_second).

    >>> round(float(mean_chip_volume(0.02, 200.0, 30.0, 0.5)), 9)  # by hand: 4 / 15 000
    0.000266667
    """
    rate = specific_removal_rate(depth_of_cut_mm, work_speed_mm_s)
    return np.asarray(rate / chips_per_second(wheel_speed_m_s, 1.0, grains_per_mm2))[()]


def mean_chip_thickness(
    depth_of_cut_mm: ArrayLike,
    work_speed_mm_s: ArrayLike,
    wheel_speed_m_s: ArrayLike,
    equivalent_diameter_mm: ArrayLike,
    grains_per_mm2: ArrayLike,
    width_per_thickness: ArrayLike = 15.0,
) -> Result:
    r"""Mean thickness of an uncut chip, half its greatest, in um.

    .. math::
        \bar h = \tfrac12 h_m, \qquad
        h_m = \left[\frac{4}{C r}\,\frac{v_w}{v_s}\sqrt{\frac{a_e}{d_e}}\right]^{1/2}

    r is the width of a chip over its thickness, 10 to 20. The chip is a long triangle of volume
    h_m · r h_m · l_c / 4: this is mean_chip_volume over its length l_c.
    Range: a_e > 0, v_w > 0, r >= 1, the rest as its parts. Shape: broadcast. Raises: ValueError.
    Source: Kalpakjian & Schmid, Manufacturing Engineering and Technology, undeformed chip
    thickness in surface grinding; Malkin & Guo (both from memory). C and r are known to a factor
    of two, the result to about 1.5.

    >>> h = mean_chip_thickness(0.01, 100.0, 25.0, 100.0, 2.0, 20.0)
    >>> round(float(h), 4)  # by hand: 1/2 sqrt(0.1 * 0.004 * 0.01) = 0.001 mm
    1.0
    """
    require("depth_of_cut_mm", depth_of_cut_mm, above=0.0)
    require("width_per_thickness", width_per_thickness, low=1.0)
    length = contact_length(depth_of_cut_mm, equivalent_diameter_mm)
    volume = mean_chip_volume(depth_of_cut_mm, work_speed_mm_s, wheel_speed_m_s, grains_per_mm2)
    greatest = np.sqrt(4.0 * volume / (np.asarray(width_per_thickness, float) * length))
    return np.asarray(1000.0 * greatest / 2.0)[()]
