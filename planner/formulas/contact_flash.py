r"""The rise of the face under the wheel: a moving band on a thick body, a plate, a wedge.

The wheel's axis lies along the edge and the wheel is fed along its own axis, so the heat source
moves along the edge. Its length in the direction of motion is the active width of the wheel (the
leading corner cuts, the rest of that width rubs); its extent across the face is the chord of the
contact, and heat that leaves it sideways is not counted.

Symbols: q heat flux into the face, l_c length of the band in the direction of motion (the FULL
length), v speed of the band, k conductivity, ρ density, c specific heat, α = k/(ρc) diffusivity,
L = v l_c/(4α) Péclet number with the half length, b thickness, t time of contact, Fo = α t/b².

Sources, all three: J. C. Jaeger, Moving sources of heat and the temperature at sliding contacts,
Journal and Proceedings of the Royal Society of New South Wales 76 (1942) 203-224; H. S. Carslaw
and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), paragraphs 3.8 and 10.7; formulas
from memory, each checked against its own differential equation or integral in the tests.
Properties are constant; a solid with k falling and c rising with temperature differs by some ten
per cent at 200 K (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.grinding import grinding_power
from planner.formulas.ranges import require
from planner.formulas.segment import Result

PECLET_RANGE = (1e-4, 1e5)
HIGH_PECLET_FROM = 5.0
"""From here up the high-Péclet limit is at most 4.2 % above the exact maximum."""


# --- material numbers


def thermal_diffusivity(
    conductivity_w_mk: ArrayLike, density_kg_m3: ArrayLike, specific_heat_j_kgk: ArrayLike
) -> Result:
    r"""Diffusivity, in mm2/s.

    .. math:: \alpha = k / (\rho c)

    Range: all > 0. Shape: broadcast. Raises: ValueError. Source: definition.

    >>> round(float(thermal_diffusivity(48.0, 7800.0, 470.0)), 4)  # by hand: 48e6 / 3.666e6
    13.0933
    """
    k, volumetric = _conductivity_and_volumetric_heat(
        conductivity_w_mk, density_kg_m3, specific_heat_j_kgk
    )
    return np.asarray(k / volumetric)[()]


def thermal_effusivity(
    conductivity_w_mk: ArrayLike, density_kg_m3: ArrayLike, specific_heat_j_kgk: ArrayLike
) -> Result:
    r"""Effusivity (thermal contact coefficient), in J/(m2 K s^0.5).

    .. math:: \beta = \sqrt{k \rho c}

    Range: all > 0. Shape: broadcast. Raises: ValueError. Source: definition.

    >>> float(thermal_effusivity(50.0, 8000.0, 450.0))  # by hand: sqrt(180e6)
    13416.407864998739
    """
    _conductivity_and_volumetric_heat(conductivity_w_mk, density_kg_m3, specific_heat_j_kgk)
    product = np.asarray(conductivity_w_mk, float) * np.asarray(density_kg_m3, float)
    return np.asarray(np.sqrt(product * np.asarray(specific_heat_j_kgk, float)))[()]


def _conductivity_and_volumetric_heat(
    conductivity_w_mk: ArrayLike, density_kg_m3: ArrayLike, specific_heat_j_kgk: ArrayLike
) -> tuple[Result, Result]:
    """Conductivity in W/(mm K) and heat capacity in J/(mm3 K)."""
    require("conductivity_w_mk", conductivity_w_mk, above=0.0)
    require("density_kg_m3", density_kg_m3, above=0.0)
    require("specific_heat_j_kgk", specific_heat_j_kgk, above=0.0)
    density = np.asarray(density_kg_m3, float) * 1e-9
    return np.asarray(conductivity_w_mk, float) * 1e-3, density * np.asarray(specific_heat_j_kgk)


# --- where the heat goes


class ShareRange(NamedTuple):
    """Share of the grinding energy that enters the work: least, to plan with, most."""

    low: float
    planned: float
    high: float


WORK_SHARES: Mapping[str, ShareRange] = MappingProxyType(
    {
        "conventional_shallow": ShareRange(0.6, 0.85, 0.9),
        "conventional_creep_feed_flooded": ShareRange(0.03, 0.05, 0.05),
        "cbn_flooded": ShareRange(0.2, 0.4, 0.4),
    }
)
"""Share of the energy into the work, from memory of S. Malkin and C. Guo, Thermal Analysis of
Grinding, CIRP Annals 56 (2007) 760-782. Planned: the upper end, except 0.85 for conventional
abrasives in shallow cuts, dry or with mist; 1.0 bounds every case."""


def grain_work_share(
    grain_conductivity_w_mk: ArrayLike,
    work_effusivity_j_m2ks05: ArrayLike,
    grain_contact_radius_mm: ArrayLike,
    wheel_speed_m_s: ArrayLike,
) -> Result:
    r"""Share of the heat of a grain's contact that enters the work rather than the grain.

    .. math:: R_{ws} = \frac{1}{1 + \dfrac{k_g}{\beta_w \sqrt{r_0 v_s}}}

    =======  ==========================  =============  =======================================
    symbol   argument                    unit           range; usual values (from memory)
    =======  ==========================  =============  =======================================
    k_g      grain_conductivity_w_mk     W/(m K)        0 < k_g <= 2500; Al2O3 35, SiC 100,
                                                        CBN 240 to 1300
    β_w      work_effusivity_j_m2ks05    J/(m2 K s^.5)  > 0; steels 7000 to 15000
    r_0      grain_contact_radius_mm     mm             0.001 to 0.2; sharp 0.015, blunt 0.05
    v_s      wheel_speed_m_s             m/s            1 to 200
    =======  ==========================  =============  =======================================

    Shape: broadcast. Raises: ValueError. Assumes: all the heat arises at grain and work, none
    goes with the chips or into a fluid; so it bounds the share from above.
    Source: grain model of R. S. Hahn (1962) in the form of W. B. Rowe, Principles of Modern
    Grinding Technology; from memory.

    >>> round(float(grain_work_share(40.0, 10_000.0, 0.016, 25.0)), 4)  # by hand: 1/(1 + 40/200)
    0.8333
    """
    require("grain_conductivity_w_mk", grain_conductivity_w_mk, above=0.0, high=2500.0)
    require("work_effusivity_j_m2ks05", work_effusivity_j_m2ks05, above=0.0)
    require("grain_contact_radius_mm", grain_contact_radius_mm, low=0.001, high=0.2)
    require("wheel_speed_m_s", wheel_speed_m_s, low=1.0, high=200.0)
    radius_m = np.asarray(grain_contact_radius_mm, float) * 1e-3
    root = np.sqrt(radius_m * np.asarray(wheel_speed_m_s, float))
    into_grain = np.asarray(grain_conductivity_w_mk, float) / (
        np.asarray(work_effusivity_j_m2ks05, float) * root
    )
    return np.asarray(1.0 / (1.0 + into_grain))[()]


def band_flux(
    work_share: ArrayLike,
    specific_energy_j_mm3: ArrayLike,
    area_mm2: ArrayLike,
    feed_mm_s: ArrayLike,
    active_width_mm: ArrayLike,
    contact_arc_mm: ArrayLike,
) -> Result:
    r"""Heat flux into the face under the active width of the wheel, in W/mm2.

    .. math:: q = R_w\,u\,a\,v_f / (w_a\,s)

    =====  ======================  ======  =====================================
    R_w    work_share              -       0 to 1
    u      specific_energy_j_mm3   J/mm3   >= 0
    a      area_mm2                mm2     >= 0; section area removed in the pass
    v_f    feed_mm_s               mm/s    >= 0; traverse feed
    w_a    active_width_mm         mm      > 0; along the edge
    s      contact_arc_mm          mm      > 0; across the face
    =====  ======================  ======  =====================================

    Shape: broadcast. Raises: ValueError. Assumes: uniform over the contact. The leading corner
    takes more, so the true peak is nearer to that corner and the value here is a mean.
    Source: energy balance.

    >>> float(band_flux(0.5, 40.0, 0.05, 60.0, 6.0, 5.0))  # by hand: 60 W over 30 mm2
    2.0
    """
    require("work_share", work_share, low=0.0, high=1.0)
    require("active_width_mm", active_width_mm, above=0.0)
    require("contact_arc_mm", contact_arc_mm, above=0.0)
    power = grinding_power(specific_energy_j_mm3, area_mm2, feed_mm_s)
    area = np.asarray(active_width_mm, float) * np.asarray(contact_arc_mm, float)
    return np.asarray(np.asarray(work_share, float) * power / area)[()]


# --- Bessel functions that the moving band needs


def scaled_bessel_k(argument: ArrayLike) -> tuple[Result, Result]:
    r"""The modified Bessel functions :math:`e^x K_0(x)` and :math:`e^x K_1(x)`.

    Up to x = 2 the ascending series

    .. math::
        K_0 = \sum_{j \ge 0} \frac{z^j}{(j!)^2} (H_j - \gamma - \ln\tfrac{x}{2}), \quad
        K_1 = \frac{1}{x} + \frac{x}{2} \sum_{j \ge 0} \frac{z^j}{j!\,(j+1)!}
        \left(\ln\tfrac{x}{2} + \gamma - \tfrac{1}{2} (H_j + H_{j+1})\right)

    with z = x²/4 and H_j the harmonic numbers, 16 terms. Above x = 2 the integral
    :math:`e^x K_\nu = \int_0^\infty e^{-x(\cosh t - 1)} \cosh \nu t \, dt`, with
    u² = x (cosh t - 1), by the trapezoidal rule, which for such integrands converges
    exponentially (E. T. Goodwin, Proceedings of the Cambridge Philosophical Society 45 (1949)
    241-245). Relative error of either below 1e-13 over the whole range.

    Range: 1e-12 <= x <= 1e12. Shape: any. Raises: ValueError.
    Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 9.6.13,
    9.6.11, 9.6.24. Its short polynomials 9.8.5 to 9.8.8 are good to 2e-7 only.

    >>> k0, k1 = scaled_bessel_k(1.0)  # Source: the same handbook, table 9.8: K0(1), K1(1)
    >>> round(float(k0 / np.e), 8), round(float(k1 / np.e), 8)
    (0.42102444, 0.60190723)
    """
    require("argument", argument, low=1e-12, high=1e12)
    x = np.asarray(argument, float)
    small_0, small_1 = _bessel_k_series(np.minimum(x, 2.0))
    large_0, large_1 = _scaled_bessel_k_integral(np.maximum(x, 2.0))
    is_small = x <= 2.0
    scale = np.exp(np.minimum(x, 2.0))
    return (
        np.asarray(np.where(is_small, scale * small_0, large_0))[()],
        np.asarray(np.where(is_small, scale * small_1, large_1))[()],
    )


def _bessel_k_series(x: Result) -> tuple[Result, Result]:
    log_half = np.log(x / 2.0) + np.euler_gamma
    quarter = x * x / 4.0
    power = np.ones_like(x)  # z^j / (j!)^2
    harmonic = 0.0
    k0 = np.zeros_like(x)
    k1 = 1.0 / x
    for j in range(16):
        next_harmonic = harmonic + 1.0 / (j + 1)
        k0 = k0 + power * (harmonic - log_half)
        k1 = k1 + x / 2.0 * power / (j + 1) * (log_half - (harmonic + next_harmonic) / 2.0)
        power = power * quarter / (j + 1) ** 2
        harmonic = next_harmonic
    return k0, k1


def _scaled_bessel_k_integral(x: Result) -> tuple[Result, Result]:
    step = 0.2
    u_squared = (step * np.arange(32)) ** 2
    weight = step * np.exp(-u_squared)
    weight[0] /= 2.0
    ratio = u_squared / x[..., np.newaxis]
    kernel = weight / np.sqrt(1.0 + ratio / 2.0)
    front = np.sqrt(2.0 / x)
    return front * kernel.sum(axis=-1), front * (kernel * (1.0 + ratio)).sum(axis=-1)


# --- the moving band on a thick body


def peclet_number(
    speed_mm_s: ArrayLike, band_length_mm: ArrayLike, diffusivity_mm2_s: ArrayLike
) -> Result:
    r"""Péclet number of a band, with its HALF length.

    .. math:: L = \frac{v\,(l_c/2)}{2 \alpha} = \frac{v\,l_c}{4 \alpha}

    Range: v >= 0, l_c > 0, α > 0. Shape: broadcast. Raises: ValueError.
    Source: Jaeger (1942).

    >>> float(peclet_number(52.0, 10.0, 13.0))  # by hand: 520 / 52
    10.0
    """
    require("speed_mm_s", speed_mm_s, low=0.0)
    require("band_length_mm", band_length_mm, above=0.0)
    require("diffusivity_mm2_s", diffusivity_mm2_s, above=0.0)
    path = np.asarray(speed_mm_s, float) * np.asarray(band_length_mm, float)
    return np.asarray(path / (4.0 * np.asarray(diffusivity_mm2_s, float)))[()]


def band_rise_at(peclet: ArrayLike, position: ArrayLike) -> Result:
    r"""Surface rise at a place under a uniform moving band, as :math:`\theta k / (q l_c)`.

    .. math::
        \theta(X) = \frac{2 q \alpha}{\pi k v} \int_{X-L}^{X+L} e^{-w} K_0(|w|)\,dw, \qquad
        \frac{\theta k}{q\,l_c} = \frac{F(X + L) - F(X - L)}{2 \pi L}

    with F(w) = w e^-w (K0(w) - K1(w)) + 1 for w > 0 and F(-s) = -(s e^s (K0(s) + K1(s)) - 1).

    Range: peclet 1e-4 to 1e5; position -1 (trailing end) to 1 (leading end of the band), so
    X = position L. Shape: broadcast. Raises: ValueError. Assumes: a thick body (no back face), a
    steady state, heat leaving only into the body. Source: Jaeger (1942); from memory.

    >>> bool(band_rise_at(5.0, -0.9) > band_rise_at(5.0, 0.9))  # property: it trails
    True
    """
    require("peclet", peclet, low=PECLET_RANGE[0], high=PECLET_RANGE[1])
    require("position", position, low=-1.0, high=1.0)
    number = np.asarray(peclet, float)
    from_trailing = number * (1.0 + np.asarray(position, float))
    return np.asarray(_rise_from_trailing_end(number, from_trailing))[()]


def jaeger_band_maximum(peclet: ArrayLike) -> Result:
    r"""Highest surface rise under a uniform moving band, as :math:`\theta k / (q l_c)`.

    The maximum is where e^-a K0(a) = e^s K0(s), a = X + L, s = L - X (the derivative of the
    integral in ``band_rise_at``); the left side falls and the right side rises with a, so the
    root is single and is bisected to the last digit.

    Range: 1e-4 <= peclet <= 1e5. Shape: any. Raises: ValueError. Assumes: as ``band_rise_at``.
    Source: Jaeger (1942). Relative error below 1e-9.

    >>> round(float(jaeger_band_maximum(1e5) / (2 / np.sqrt(np.pi) / np.sqrt(4e5))), 3)  # limit
    1.0
    """
    require("peclet", peclet, low=PECLET_RANGE[0], high=PECLET_RANGE[1])
    number = np.asarray(peclet, float)
    low = np.zeros_like(number)
    # e^-2a k(a) = k(2 L - a), k = e^x K0, has its root below 20: at a = 20 the left side is
    # under e^-40, the right one above 1e-3 for any L in range.
    high = np.minimum(2.0 * number, 20.0)
    for _ in range(60):
        middle = (low + high) / 2.0
        ahead, _ = scaled_bessel_k(np.maximum(middle, 1e-12))
        behind, _ = scaled_bessel_k(np.maximum(2.0 * number - middle, 1e-12))
        too_far = np.exp(-2.0 * middle) * ahead < behind
        high = np.where(too_far, middle, high)
        low = np.where(too_far, low, middle)
    return np.asarray(_rise_from_trailing_end(number, (low + high) / 2.0))[()]


def jaeger_band_mean(peclet: ArrayLike) -> Result:
    r"""Mean surface rise under a uniform moving band, as :math:`\theta k / (q l_c)`.

    .. math::
        \bar\theta = \frac{1}{2 \pi L} \cdot \frac{1}{2 L} \int_{-L}^{L} [F(X+L) - F(X-L)]\,dX

    in closed form with
    ∫ w e^-w K0 dw = e^-w [w² K0 - (w² + w) K1]/3 + 1/3 from 0 to w, and
    ∫ s e^s K0 ds = e^s [s² K0 + (s² - s) K1]/3 + 1/3 from 0 to s (by parts; differentiate to see).

    Range: 1e-4 <= peclet <= 1e5. Shape: any. Raises: ValueError. Assumes: as ``band_rise_at``.
    Source: Jaeger (1942). Relative error below 1e-8.

    >>> bool(jaeger_band_mean(1.0) < jaeger_band_maximum(1.0))
    True
    """
    require("peclet", peclet, low=PECLET_RANGE[0], high=PECLET_RANGE[1])
    number = np.asarray(peclet, float)
    x = 2.0 * number
    k0, k1 = scaled_bessel_k(x)
    fall = np.exp(-2.0 * x)
    first_moment_ahead = fall * (x * x * k0 - (x * x + x) * k1) / 3.0 + 1.0 / 3.0
    first_moment_behind = (x * x * k0 + (x * x - x) * k1) / 3.0 + 1.0 / 3.0
    both = _ahead(x) + _behind(x) - (first_moment_ahead + first_moment_behind) / x
    return np.asarray(both / (2.0 * np.pi * number))[()]


def high_peclet_maximum(peclet: ArrayLike) -> Result:
    r"""High-speed limit of the maximum, as :math:`\theta k / (q l_c)`.

    .. math::
        \theta = \frac{2}{\sqrt\pi} \frac{q}{k} \sqrt{\frac{\alpha\,l_c}{v}}, \qquad
        \frac{\theta k}{q\,l_c} = \frac{1}{\sqrt{\pi L}}

    with l_c the FULL length of the band; in terms of the half length the factor is 1.596.
    It is too high by 4.1 % at L = 5, 1.4 % at L = 20, 0.4 % at L = 100.

    Range: peclet >= 5 (below it use ``jaeger_band_maximum``). Shape: any. Raises: ValueError.
    Source: limit of Jaeger (1942); equally a half-space under the flux for the time l_c/v.

    >>> round(float(high_peclet_maximum(5.0)), 5)  # by hand: 1/sqrt(15.70796)
    0.25231
    """
    require("peclet", peclet, low=HIGH_PECLET_FROM)
    return np.asarray(1.0 / np.sqrt(np.pi * np.asarray(peclet, float)))[()]


def _rise_from_trailing_end(number: Result, from_trailing: Result) -> Result:
    to_leading = 2.0 * number - from_trailing
    both = _ahead(np.asarray(from_trailing)) + _behind(np.asarray(to_leading))
    return np.asarray(both / (2.0 * np.pi * number))


def _ahead(w: Result) -> Result:
    """Integral of e^-w K0(w) from 0 to w."""
    positive = np.maximum(w, 1e-12)
    k0, k1 = scaled_bessel_k(positive)
    closed = positive * np.exp(-2.0 * positive) * (k0 - k1) + 1.0
    return np.where(w > 1e-12, closed, 0.0)


def _behind(s: Result) -> Result:
    """Integral of e^s K0(s) from 0 to s."""
    positive = np.maximum(s, 1e-12)
    k0, k1 = scaled_bessel_k(positive)
    return np.where(s > 1e-12, positive * (k0 + k1) - 1.0, 0.0)


# --- what a thin section adds


def plate_heated_face(fourier: ArrayLike) -> Result:
    r"""Heated face of a plate with an insulated back, as :math:`\theta k / (q b)`.

    .. math::
        \frac{\theta k}{q b} = Fo + \frac{1}{3}
        - \frac{2}{\pi^2} \sum_{n \ge 1} \frac{e^{-n^2 \pi^2 Fo}}{n^2}

    Below Fo = 0.02 it is the half-space, 2 sqrt(Fo/π), to the last digit (the first image of the
    source in the back face adds under e^-50).

    Range: Fo >= 0. Shape: any. Raises: ValueError. Assumes: uniform flux from t = 0 on, one
    dimension, no loss. Source: Carslaw and Jaeger, paragraph 3.8; from memory.

    >>> round(float(plate_heated_face(1.0)), 4)  # by hand: 4/3 less 2e-5/2
    1.3333
    """
    require("fourier", fourier, low=0.0)
    number = np.asarray(fourier, float)
    n = np.arange(1, 17)
    terms = np.exp(-(n**2) * np.pi**2 * np.maximum(number, 0.02)[..., np.newaxis]) / n**2
    series = number + 1.0 / 3.0 - 2.0 / np.pi**2 * terms.sum(axis=-1)
    return np.asarray(np.where(number < 0.02, 2.0 * np.sqrt(number / np.pi), series))[()]


def plate_back_face(fourier: ArrayLike) -> Result:
    r"""Insulated back of a plate under flux on the other face, as :math:`\theta k / (q b)`.

    .. math::
        \frac{\theta k}{q b} = Fo - \frac{1}{6}
        - \frac{2}{\pi^2} \sum_{n \ge 1} \frac{(-1)^n e^{-n^2 \pi^2 Fo}}{n^2}

    Below Fo = 0.005 it is 0 (less than 1e-20).

    Range: Fo >= 0. Shape: any. Raises: ValueError. Assumes: as ``plate_heated_face``.
    Source: Carslaw and Jaeger, paragraph 3.8; from memory.

    >>> round(float(plate_back_face(1.0)), 4)  # by hand: 5/6 and 2e-5/2
    0.8333
    """
    require("fourier", fourier, low=0.0)
    number = np.asarray(fourier, float)
    n = np.arange(1, 33)
    sign = np.where(n % 2 == 0, 1.0, -1.0)
    terms = sign * np.exp(-(n**2) * np.pi**2 * np.maximum(number, 0.005)[..., np.newaxis]) / n**2
    series = number - 1.0 / 6.0 - 2.0 / np.pi**2 * terms.sum(axis=-1)
    return np.asarray(np.where(number < 0.005, 0.0, np.maximum(series, 0.0)))[()]


def plate_face_excess(fourier: ArrayLike) -> Result:
    r"""Heated face above the mean through the thickness, as :math:`\theta k / (q b)`.

    .. math:: \frac{(\theta - \bar\theta) k}{q b} = \frac{\theta k}{q b} - Fo

    It grows as 2 sqrt(Fo/π) - Fo and settles at 1/3 from about Fo = 0.5. This is what is to be
    added to a rise that is already a mean through the thickness, such as that of a thin fin.

    Range: Fo >= 0. Shape: any. Raises: ValueError. Source: as ``plate_heated_face``; the mean is
    the heat balance, q t / (ρ c b).

    >>> round(float(plate_face_excess(3.0)), 6)
    0.333333
    """
    return np.asarray(plate_heated_face(fourier) - np.asarray(fourier, float))[()]


def wedge_multiplier(included_angle_rad: ArrayLike) -> Result:
    r"""Rise in a wedge over that in a half-space, for the same heat along its tip.

    .. math:: \pi / \beta

    Range: 0 < β <= π. Shape: any. Raises: ValueError. Assumes: the heat enters along the tip
    itself, where the flow is radial for any β; a source that lies along one face at a distance
    from the tip has less, and needs images (whole numbers π/β only).
    Source: Carslaw and Jaeger, line sources and images; from memory.

    >>> round(float(wedge_multiplier(np.pi / 2)), 12)  # by hand: a square corner doubles it
    2.0
    """
    require("included_angle_rad", included_angle_rad, above=0.0, high=np.pi)
    return np.asarray(np.pi / np.asarray(included_angle_rad, float))[()]


def wedge_radial_drop(
    line_heat_w_mm: ArrayLike,
    near_mm: ArrayLike,
    far_mm: ArrayLike,
    included_angle_rad: ArrayLike,
    conductivity_w_mk: ArrayLike,
) -> Result:
    r"""Steady difference of temperature between two distances from a heated tip, in K.

    .. math:: \Delta\theta = \frac{Q' \ln(r_2/r_1)}{k \beta}

    Range: Q' >= 0, 0 < r_1 <= r_2, 0 < β <= π, k > 0. Shape: broadcast. Raises: ValueError.
    Assumes: no loss from the faces. Source: radial flow, Carslaw and Jaeger, paragraph 7.2.

    >>> round(float(wedge_radial_drop(0.048, 1.0, np.e, 1.0, 48.0)), 12)  # by hand: ln e
    1.0
    """
    require("line_heat_w_mm", line_heat_w_mm, low=0.0)
    require("near_mm", near_mm, above=0.0, high=far_mm)
    require("included_angle_rad", included_angle_rad, above=0.0, high=np.pi)
    require("conductivity_w_mk", conductivity_w_mk, above=0.0)
    spread = np.log(np.asarray(far_mm, float) / np.asarray(near_mm, float))
    conduction = np.asarray(conductivity_w_mk, float) * 1e-3 * np.asarray(included_angle_rad)
    return np.asarray(np.asarray(line_heat_w_mm, float) * spread / conduction)[()]


@dataclass(frozen=True, eq=False)
class FlashRise:
    """Rise of the face under the wheel; all arrays of the broadcast shape of the inputs."""

    rise_k: Result
    """The larger of the two models: what to hold against a limit when nothing else is added."""
    excess_k: Result
    """The plate's heated face above its mean through the thickness: what to add to a rise that
    already holds the heat in the section, such as that of the fin."""
    half_space_k: Result
    """The moving band on a thick body."""
    plate_k: Result
    """The plate of the local thickness, heated for the time of contact."""
    contact_s: Result
    peclet: Result
    fourier: Result


def flash_rise(
    flux_w_mm2: ArrayLike,
    band_length_mm: ArrayLike,
    speed_mm_s: ArrayLike,
    thickness_mm: ArrayLike,
    conductivity_w_mk: ArrayLike,
    density_kg_m3: ArrayLike,
    specific_heat_j_kgk: ArrayLike,
) -> FlashRise:
    r"""Rise of the ground face, the larger of the moving band and the plate.

    .. math::
        \theta = \max\left(
        \frac{q\,l_c}{k}\,J(L),\; \frac{q\,b}{k}\,P(Fo)\right), \quad
        L = \frac{v\,l_c}{4\alpha}, \quad Fo = \frac{\alpha\,l_c}{v\,b^2}

    J is ``jaeger_band_maximum``, P is ``plate_heated_face``. The band lets heat run ahead of the
    wheel and into a thick body; the plate lets it do neither, so the plate is the larger one for
    every L and Fo: by at most 4.3 % when the section is thick (Fo below 0.2) and L is above 5,
    and without bound as the section thins or the feed slows. Both are returned, so that
    the distance between them shows how thin the section is. Below L of about 1 the plate
    exaggerates: heat runs along the edge as fast as the wheel.

    ======================  ========  ============================================
    flux_w_mm2              W/mm2     >= 0
    band_length_mm          mm        > 0; active width of the wheel
    speed_mm_s              mm/s      > 0; traverse feed; L must be 1e-4 to 1e5
    thickness_mm            mm        > 0; local thickness, through to the other face
    conductivity_w_mk       W/(m K)   > 0
    density_kg_m3           kg/m3     > 0
    specific_heat_j_kgk     J/(kg K)  > 0
    ======================  ========  ============================================

    Shape: broadcast. Raises: ValueError. Assumes: uniform flux, the back face insulated,
    no heat along the section. Source: Jaeger (1942); Carslaw and Jaeger, paragraph 3.8.

    >>> rise = flash_rise(2.0, 6.0, 60.0, 0.5, 48.0, 7800.0, 470.0)
    >>> round(float(rise.plate_k - rise.excess_k), 2)  # by hand: 2 * 0.1 / (3.666e-3 * 0.5)
    109.11
    """
    require("flux_w_mm2", flux_w_mm2, low=0.0)
    require("speed_mm_s", speed_mm_s, above=0.0)
    require("thickness_mm", thickness_mm, above=0.0)
    diffusivity = thermal_diffusivity(conductivity_w_mk, density_kg_m3, specific_heat_j_kgk)
    peclet = peclet_number(speed_mm_s, band_length_mm, diffusivity)
    length, thickness = np.asarray(band_length_mm, float), np.asarray(thickness_mm, float)
    contact = length / np.asarray(speed_mm_s, float)
    fourier = diffusivity * contact / thickness**2
    per_length = np.asarray(flux_w_mm2, float) / (np.asarray(conductivity_w_mk, float) * 1e-3)
    half_space = per_length * length * jaeger_band_maximum(peclet)
    plate = per_length * thickness * plate_heated_face(fourier)
    excess = per_length * thickness * plate_face_excess(fourier)
    arrays = np.broadcast_arrays(
        np.maximum(half_space, plate), excess, half_space, plate, contact, peclet, fourier
    )
    return FlashRise(*(np.asarray(array)[()] for array in arrays))
