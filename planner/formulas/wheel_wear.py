r"""How a wheel or belt wears through a batch, and what that does to the relief.

Symbols: V volume of steel removed per blade, G grinding ratio (volume of steel removed over volume
of wheel worn), D and R = D/2 wheel diameter and radius, W the width of the wheel that does the
wearing, r radial wear, d relief depth, a half the relief's chord, a² = d (2R - d).

A relief is symmetric about its middle, so each of its two lands grows by what half the chord
loses. The wear is taken as even over W; a wheel fed along its axis wears first at its leading
corner, so give the width that really wears, not the width of the wheel.

Two ways of keeping size: with a touch-off for each ``"blade"`` the depth stays and only the
radius shrinks; with one touch-off for the ``"batch"`` the surface also draws back from the work,
and the depth falls by the radial wear.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require
from planner.formulas.segment import Result, chord_of_depth, depth_of_chord, radius_for

TouchOff = Literal["blade", "batch"]

RETIRE_POWER_RATIO = 1.5
"""Retire a belt when the same removal takes half as much power again: common practice, no
source."""


def radial_wear(
    removed_volume_mm3: ArrayLike,
    g_ratio: ArrayLike,
    wheel_diameter_mm: ArrayLike,
    active_width_mm: ArrayLike,
) -> Result:
    r"""Radius that a wheel loses while it removes a volume of steel, in mm.

    .. math:: \pi W [R^2 - (R - r)^2] = V / G \quad\Rightarrow\quad r \approx V / (G \pi D W)

    Range: V >= 0, G > 0, D > 0, W > 0, and the volume worn no more than the wheel's own.
    Shape: broadcast. Raises: ValueError.
    Source: definition of G (Malkin & Guo, Grinding Technology, from memory) and the volume of an
    annulus. Coded as x / (R + sqrt(R² - x)), x = V / (π G W): no digits are lost when r << R.

    >>> round(float(radial_wear(126.0, 30.0, 58.0, 4.0)), 5)  # by hand: 126 / 21865.5 = 0.00576
    0.00576
    """
    radius = np.asarray(wheel_diameter_mm, float) / 2.0
    worn = _worn_square(removed_volume_mm3, g_ratio, active_width_mm)
    require("wheel_diameter_mm", wheel_diameter_mm, above=0.0)
    require("worn area of the wheel's side, over pi, mm2", worn, low=0.0, high=radius**2)
    return np.asarray(worn / (radius + np.sqrt(radius**2 - worn)))[()]


def volume_for_wear(
    radial_wear_mm: ArrayLike,
    g_ratio: ArrayLike,
    wheel_diameter_mm: ArrayLike,
    active_width_mm: ArrayLike,
) -> Result:
    r"""Volume of steel that takes so much off a wheel's radius, in mm3: ``radial_wear`` backwards.

    .. math:: V = \pi G W (D - r) r

    Range: 0 <= r <= D/2, G > 0, D > 0, W > 0. Shape: broadcast. Raises: ValueError.
    Source: as ``radial_wear``.

    >>> round(float(volume_for_wear(1.0, 2.0, 10.0, 3.0)) / math.pi, 9)  # by hand: 2 * 3 * 9
    54.0
    """
    diameter = np.asarray(wheel_diameter_mm, float)
    require("radial_wear_mm", radial_wear_mm, low=0.0, high=diameter / 2.0)
    require("g_ratio", g_ratio, above=0.0)
    require("wheel_diameter_mm", wheel_diameter_mm, above=0.0)
    require("active_width_mm", active_width_mm, above=0.0)
    worn = np.asarray(radial_wear_mm, float)
    ratio, width = np.asarray(g_ratio, float), np.asarray(active_width_mm, float)
    return np.asarray(math.pi * ratio * width * (diameter - worn) * worn)[()]


@dataclass(frozen=True)
class BatchWear:
    """Diameters of the wheel through a batch, in mm, each (n,): one entry a blade."""

    start_mm: NDArray[np.float64]
    """When the blade is begun, dressed if it was time."""
    end_mm: NDArray[np.float64]
    """When the blade is finished, before any dressing."""

    @property
    def wear_mm(self) -> NDArray[np.float64]:
        """Radial wear by each blade, (n,): the extra infeed that each takes to hold its depth."""
        return np.asarray((self.start_mm - self.end_mm) / 2.0)

    @property
    def compensation_mm(self) -> NDArray[np.float64]:
        """Infeed to add to the first blade's program at the start of each blade, (n,).

        Wear and dressing of all blades before it, when the zero is found once for the batch.
        """
        return np.asarray((self.start_mm[0] - self.start_mm) / 2.0)


def wear_through_batch(
    quantity: int,
    wheel_diameter_mm: float,
    removed_volume_mm3: float,
    g_ratio: float,
    active_width_mm: float,
    *,
    dress_every: int | None = None,
    dress_depth_mm: float = 0.0,
) -> BatchWear:
    r"""Diameters blade by blade, with a dressing after every ``dress_every`` blades.

    .. math:: D_j^2 = D_0^2 - 4 j V / (\pi G W), \qquad D \to D - 2 q \text{ at a dressing}

    Range: quantity >= 1, dress_every >= 1 or None, q = dress_depth_mm >= 0 (radial); the rest as
    radial_wear. Shape: scalars in, (quantity,) out. Raises: ValueError, also when the wheel is used
    up before the last blade. Source: annulus volume, as radial_wear.

    >>> batch = wear_through_batch(2, 10.0, 11 * np.pi, 1.0, 1.0)  # by hand: 100 - 44, 56 - 44
    >>> [round(float(d) ** 2, 9) for d in batch.end_mm]
    [56.0, 12.0]
    """
    require("quantity", quantity, low=1)
    require("wheel_diameter_mm", wheel_diameter_mm, above=0.0)
    require("dress_depth_mm", dress_depth_mm, low=0.0)
    if dress_every is not None:
        require("dress_every", dress_every, low=1)
    step = 4.0 * float(_worn_square(removed_volume_mm3, g_ratio, active_width_mm))
    run = quantity if dress_every is None else dress_every
    start, end = np.empty(quantity), np.empty(quantity)
    diameter = wheel_diameter_mm
    for first in range(0, quantity, run):
        count = min(run, quantity - first)
        squares = diameter**2 - step * np.arange(count + 1)
        if not diameter > 0.0 or squares[-1] < 0.0:
            raise ValueError(
                f"wheel_diameter_mm = {wheel_diameter_mm!r} is used up between blades {first + 1}"
                f" and {first + count} of {quantity}"
            )
        diameters = np.sqrt(squares)
        start[first : first + count], end[first : first + count] = diameters[:-1], diameters[1:]
        diameter = float(diameters[-1]) - 2.0 * dress_depth_mm
    return BatchWear(start, end)


def blades_per_wheel(
    new_diameter_mm: float,
    least_diameter_mm: float,
    removed_volume_mm3: float,
    g_ratio: float,
    active_width_mm: float,
    *,
    dress_every: int | None = None,
    dress_depth_mm: float = 0.0,
) -> int:
    r"""Whole blades that a wheel grinds before it falls below its least diameter.

    .. math:: j = \lfloor (D_0^2 - D_1^2)\,\pi G W / 4 V \rfloor

    between dressings. Range: 0 < least < new, V > 0, else as wear_through_batch. Shape: scalars.
    Raises: ValueError. Source: annulus volume, as radial_wear.

    >>> blades_per_wheel(10.0, 6.0, 11 * np.pi, 1.0, 1.0)  # by hand: (100 - 36) / 44 = 1.45
    1
    """
    require("new_diameter_mm", new_diameter_mm, above=0.0)
    require("least_diameter_mm", least_diameter_mm, above=0.0)
    require("least_diameter_mm", least_diameter_mm, high=math.nextafter(new_diameter_mm, 0.0))
    require("removed_volume_mm3", removed_volume_mm3, above=0.0)
    require("dress_depth_mm", dress_depth_mm, low=0.0)
    if dress_every is not None:
        require("dress_every", dress_every, low=1)
    step = 4.0 * float(_worn_square(removed_volume_mm3, g_ratio, active_width_mm))
    blades, diameter = 0, new_diameter_mm
    while diameter >= least_diameter_mm:
        possible = _whole((diameter**2 - least_diameter_mm**2) / step)
        if dress_every is None or dress_depth_mm == 0.0 or possible < dress_every:
            return blades + possible
        blades += dress_every
        diameter = math.sqrt(diameter**2 - step * dress_every) - 2.0 * dress_depth_mm
    return blades


def land_growth(
    wheel_radius_mm: ArrayLike,
    depth_mm: ArrayLike,
    radial_wear_mm: ArrayLike,
    touch_off: TouchOff,
) -> Result:
    r"""How much wider each land comes out after a radial wear that nobody makes up for, in mm.

    .. math::
        \Delta = a(R, d) - a(R - r,\, d) \;(\text{touch-off each blade}), \qquad
        \Delta = a(R, d) - a(R - r,\, d - r) \;(\text{once a batch})

    with a = 0 once r reaches d. To first order Δ = (d/a) r and (R/a) r: with c = 2a, D r / c per
    land. R and d are those at the last touch-off or setting.

    Range: R > 0, 0 < d <= R, 0 <= r <= R - d. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35 (intersecting chords).

    >>> worn = land_growth(29.0, 0.35, 0.00576, "batch")
    >>> round(float(worn), 3)  # by hand: 29 * 0.00576 / sqrt(0.35 * 57.65)
    0.037
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    wear = np.asarray(radial_wear_mm, float)
    require("depth_mm", depth, above=0.0)
    require("radial_wear_mm", wear, low=0.0, high=np.maximum(radius - depth, 0.0))
    left = depth if touch_off == "blade" else np.maximum(depth - wear, 0.0)
    new, old = chord_of_depth(radius, depth) / 2.0, chord_of_depth(radius - wear, left) / 2.0
    return np.asarray(new - old)[()]


def wear_for_land_growth(
    wheel_radius_mm: ArrayLike,
    depth_mm: ArrayLike,
    land_growth_mm: ArrayLike,
    touch_off: TouchOff,
) -> Result:
    r"""Radial wear at which each land has grown by an amount: the inverse of land_growth, in mm.

    .. math::
        r = \frac{a^2 - a_1^2}{2 d} \;(\text{each blade}), \qquad
        r = \frac{a^2 - a_1^2}{R + \sqrt{R^2 - (a^2 - a_1^2)}} \;(\text{once a batch}), \qquad
        a_1 = a - \Delta

    Range: R > 0, 0 < d <= R, 0 <= Δ <= a, and once each blade a_1 >= d (a segment of no more than
    half the wheel). Shape: broadcast. Raises: ValueError.
    Source: a_1² = d (2R - 2r - d), and a_1² = (d - r)(2R - d - r), solved for r.

    >>> worn = wear_for_land_growth(5.0, 2.0, 1.0, "blade")  # by hand: (16 - 9) / 4
    >>> float(worn)
    1.75
    """
    radius, depth = np.asarray(wheel_radius_mm, float), np.asarray(depth_mm, float)
    require("depth_mm", depth, above=0.0)
    half_chord = chord_of_depth(radius, depth) / 2.0
    least = depth if touch_off == "blade" else np.zeros_like(depth)
    require("land_growth_mm", land_growth_mm, low=0.0, high=np.maximum(half_chord - least, 0.0))
    lost = half_chord**2 - (half_chord - np.asarray(land_growth_mm, float)) ** 2
    if touch_off == "blade":
        return np.asarray(lost / (2.0 * depth))[()]
    return np.asarray(lost / (radius + np.sqrt(radius**2 - lost)))[()]


def tolerance_share(land_growth_mm: ArrayLike, land_tolerance_mm: ArrayLike) -> Result:
    """Share of a land's tolerance that its growth takes; above 1 the land is out.

    Range: growth >= 0, tolerance > 0. Shape: broadcast. Raises: ValueError. Source: definition.

    >>> float(tolerance_share(0.05, 0.2))
    0.25
    """
    require("land_growth_mm", land_growth_mm, low=0.0)
    require("land_tolerance_mm", land_tolerance_mm, above=0.0)
    return np.asarray(np.asarray(land_growth_mm, float) / np.asarray(land_tolerance_mm, float))[()]


def blades_within_share(
    wheel_diameter_mm: float,
    removed_volume_mm3: float,
    g_ratio: float,
    active_width_mm: float,
    *,
    depth_mm: float,
    land_tolerance_mm: float,
    share: float,
    touch_off: TouchOff,
) -> int:
    """Blades, none compensated, until wear has taken a share of the land tolerance.

    Counts whole blades at whose end the growth of each land is still within ``share`` of the
    tolerance, starting from a wheel of the given diameter and no dressing.

    Range: 0 < share <= 1, V > 0, the rest as its parts; a share wider than the relief itself counts
    as the whole relief. Shape: scalars. Raises: ValueError.
    Source: wear_for_land_growth and the annulus volume, as radial_wear.

    >>> blades_within_share(  # by hand: each land +0.037 a blade, 0.2 / 0.037 = 5.4
    ...     58.0, 126, 30, 4, depth_mm=0.35, land_tolerance_mm=0.2, share=1.0, touch_off="batch"
    ... )
    5
    """
    require("share", share, above=0.0, high=1.0)
    require("land_tolerance_mm", land_tolerance_mm, above=0.0)
    require("removed_volume_mm3", removed_volume_mm3, above=0.0)
    radius = wheel_diameter_mm / 2.0
    require("depth_mm", depth_mm, above=0.0, high=radius)
    widest = float(chord_of_depth(radius, depth_mm)) / 2.0
    if touch_off == "blade":
        widest -= depth_mm
    growth = min(share * land_tolerance_mm, max(widest, 0.0))
    wear = float(wear_for_land_growth(radius, depth_mm, growth, touch_off))
    step = float(_worn_square(removed_volume_mm3, g_ratio, active_width_mm))
    return _whole(wear * (2.0 * radius - wear) / step)


def diameters_for_fixed_depth(
    wheel_diameter_mm: ArrayLike, depth_mm: ArrayLike, land_tolerance_mm: ArrayLike
) -> tuple[Result, Result]:
    r"""Wheel diameters between which the lands stay in tolerance at one depth, in mm.

    .. math:: 2R = a_1^2 / d + d, \qquad a_1 = a \pm \text{tolerance}

    The lands are right at the given diameter; the lower end is no less than a half disc, 2 d.
    Range: D > 0, 0 < d <= D/2, tolerance > 0. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35.

    >>> low, high = diameters_for_fixed_depth(10.0, 2.0, 1.0)  # by hand: 9/2 + 2 and 25/2 + 2
    >>> float(low), float(high)
    (6.5, 14.5)
    """
    depth = np.asarray(depth_mm, float)
    require("depth_mm", depth, above=0.0)
    require("land_tolerance_mm", land_tolerance_mm, above=0.0)
    tolerance = np.asarray(land_tolerance_mm, float)
    half_chord = chord_of_depth(np.asarray(wheel_diameter_mm, float) / 2.0, depth) / 2.0
    low = 2.0 * radius_for(2.0 * np.maximum(half_chord - tolerance, depth), depth)
    return np.asarray(low)[()], np.asarray(2.0 * radius_for(2 * (half_chord + tolerance), depth))[
        ()
    ]


def diameters_for_fixed_chord(
    wheel_diameter_mm: ArrayLike, chord_mm: ArrayLike, depth_tolerance_mm: ArrayLike
) -> tuple[Result, Result]:
    r"""Wheel diameters for which a depth computed anew keeps both lands, and the depth, in mm.

    .. math:: 2R = c^2 / 4 d_1 + d_1, \qquad d_1 = d \pm \text{tolerance}

    With the depth computed anew for each diameter the lands do not move at all; what moves is the
    depth. The lower end is no less than the half disc of the chord, the upper end is infinite when
    the tolerance is as large as the depth.

    Range: D > 0, 0 < c <= D, tolerance > 0. Shape: broadcast. Raises: ValueError.
    Source: Euclid, Elements III.35.

    >>> low, high = diameters_for_fixed_chord(10.0, 8.0, 1.0)  # by hand: 16/3 + 3 and 16/1 + 1
    >>> round(float(low), 4), float(high)
    (8.3333, 17.0)
    """
    chord = np.asarray(chord_mm, float)
    require("chord_mm", chord, above=0.0)
    require("depth_tolerance_mm", depth_tolerance_mm, above=0.0)
    tolerance = np.asarray(depth_tolerance_mm, float)
    depth = depth_of_chord(np.asarray(wheel_diameter_mm, float) / 2.0, chord)
    deepest, shallowest = np.minimum(depth + tolerance, chord / 2.0), depth - tolerance
    bounded = shallowest > 0.0
    high = 2.0 * radius_for(chord, np.where(bounded, shallowest, chord / 2.0))
    return (
        np.asarray(2.0 * radius_for(chord, deepest))[()],
        np.asarray(np.where(bounded, high, np.inf))[()],
    )


def belt_specific_energy(
    sharp_energy_j_mm3: ArrayLike, removed_mm3_mm2: ArrayLike, doubling_mm3_mm2: ArrayLike
) -> Result:
    r"""Specific energy of a belt that has removed a volume per area of its face, in J/mm3.

    .. math:: u = u_0\,(1 + v / v_2)

    v_2 is the volume per belt area after which the energy has doubled: a figure to be measured from
    the motor's power on the first and a late blade, v_2 = v / (P/P_0 - 1). A belt has no wheel-type
    G ratio; its grains dull and its cut rate at one power falls as u_0/u.

    Range: u_0 > 0, v >= 0, v_2 > 0. Shape: broadcast. Raises: ValueError.
    Source: a straight line is the simplest law that rises; common practice, no source. Good to a
    factor of two between measured points.

    >>> float(belt_specific_energy(10.0, 3.0, 12.0))  # by hand: 10 * 1.25
    12.5
    """
    require("sharp_energy_j_mm3", sharp_energy_j_mm3, above=0.0)
    require("removed_mm3_mm2", removed_mm3_mm2, low=0.0)
    require("doubling_mm3_mm2", doubling_mm3_mm2, above=0.0)
    dulling = np.asarray(removed_mm3_mm2, float) / np.asarray(doubling_mm3_mm2, float)
    return np.asarray(np.asarray(sharp_energy_j_mm3, float) * (1.0 + dulling))[()]


def blades_per_belt(
    removed_volume_mm3: float,
    belt_area_mm2: float,
    doubling_mm3_mm2: float,
    *,
    retire_power_ratio: float = RETIRE_POWER_RATIO,
) -> int:
    r"""Whole blades that a belt grinds before the same removal takes too much power.

    .. math:: n = \lfloor (\rho - 1)\,v_2 A / V \rfloor

    A is the belt's length times the width of it that grinds, ρ the power ratio at which it is
    retired. Range: V > 0, A > 0, v_2 > 0, ρ > 1. Shape: scalars. Raises: ValueError.
    Source: belt_specific_energy solved for v; the ratio 1.5 is common practice, no source.

    >>> blades_per_belt(100.0, 2000.0, 2.0)  # by hand: 0.5 * 2 * 2000 / 100
    20
    """
    require("removed_volume_mm3", removed_volume_mm3, above=0.0)
    require("belt_area_mm2", belt_area_mm2, above=0.0)
    require("doubling_mm3_mm2", doubling_mm3_mm2, above=0.0)
    require("retire_power_ratio", retire_power_ratio, above=1.0)
    life = (retire_power_ratio - 1.0) * doubling_mm3_mm2 * belt_area_mm2
    return _whole(life / removed_volume_mm3)


def _worn_square(
    removed_volume_mm3: ArrayLike, g_ratio: ArrayLike, active_width_mm: ArrayLike
) -> Result:
    """V / (π G W): by how much a blade lowers the square of the radius, in mm2."""
    require("removed_volume_mm3", removed_volume_mm3, low=0.0)
    require("g_ratio", g_ratio, above=0.0)
    require("active_width_mm", active_width_mm, above=0.0)
    width = np.asarray(active_width_mm, float)
    return np.asarray(
        np.asarray(removed_volume_mm3, float) / (np.pi * np.asarray(g_ratio, float) * width)
    )


def _whole(number: float) -> int:
    """Floor that forgives rounding: 4.9999999999 blades are 5."""
    return math.floor(number * (1.0 + 1e-12) + 1e-12)
