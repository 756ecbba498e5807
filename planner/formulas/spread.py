r"""How stated errors add up, and the share of blades in tolerance.

All errors are taken as small, independent and normal (resolution as uniform); their effects are
linear. The forms are those of JCGM 100:2008, Guide to the Expression of Uncertainty in
Measurement (5.1.2 law of propagation, 4.3.7 uniform distribution).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require

_ROOT_HALF = math.sqrt(0.5)


def uniform_sd(full_width: float) -> float:
    r"""Standard deviation of a value rounded to steps of a width.

    .. math:: s = w / \sqrt{12}

    Range: w >= 0. Shape: scalar. Raises: ValueError. Source: JCGM 100:2008, 4.3.7.

    >>> round(uniform_sd(0.012), 6)  # by hand: 0.012 / 3.4641
    0.003464
    """
    require("full_width", full_width, low=0.0)
    return full_width / math.sqrt(12.0)


def combined_sd(sensitivities: ArrayLike, sds: ArrayLike) -> NDArray[np.float64]:
    r"""Standard deviation of quantities that depend linearly on independent errors.

    .. math:: s_i = \sqrt{\sum_j (J_{ij} s_j)^2}

    Shape: sensitivities (m, n) or (n,), sds (n,); returns (m,) or a scalar. Raises: ValueError
    for a negative deviation. Source: JCGM 100:2008, 5.1.2.

    >>> float(combined_sd([3.0, 4.0], [1.0, 1.0]))  # by hand: 3-4-5
    5.0
    """
    require("sds", sds, low=0.0)
    parts = np.asarray(sensitivities, float) * np.asarray(sds, float)
    return np.asarray(np.sqrt(np.sum(parts * parts, axis=-1)))[()]


def normal_cdf(z: float) -> float:
    """Standard normal distribution function, from the error function of the C library.

    >>> normal_cdf(0.0)
    0.5
    """
    return 0.5 * math.erfc(-z * _ROOT_HALF)


def share_inside_both(
    means: tuple[float, float],
    covariance: NDArray[np.float64],
    limit: float,
) -> float:
    r"""Probability that two jointly normal deviations both lie within plus or minus a limit.

    .. math::
        P = \int_{-l}^{l} \varphi(x; m_1, s_1)
            \left[\Phi\!\left(\tfrac{l - m(x)}{s}\right) - \Phi\!\left(\tfrac{-l - m(x)}{s}\right)
            \right] dx

    with m(x) and s the mean and deviation of the second given the first. Integrated by
    Gauss-Legendre, 16 points a panel, over the part of [-l, l] within 9 deviations of the mean,
    with panels that end where the second deviation crosses its own limits; error below 1e-6
    (tests hold it against an independent integral).

    Shape: covariance (2, 2), symmetric, not negative. Range: limit > 0. Raises: ValueError.
    Source: the definition of conditional normal distributions (any text on multivariate
    statistics).

    >>> round(share_inside_both((0.0, 0.0), np.diag([1.0, 1.0]), 1.0), 6)  # by hand: 0.682689^2
    0.466065
    """
    require("limit", limit, above=0.0)
    var_1, var_2, cov = float(covariance[0, 0]), float(covariance[1, 1]), float(covariance[0, 1])
    if min(var_1, var_2) < 0 or cov * cov > var_1 * var_2 * (1 + 1e-9):
        raise ValueError("covariance is not that of two real quantities")
    sd_1 = math.sqrt(var_1)
    if sd_1 == 0.0:
        return _inside(means[1], math.sqrt(var_2), limit) if abs(means[0]) <= limit else 0.0
    sd_given = math.sqrt(max(var_2 - cov * cov / var_1, 0.0))
    low = max(-limit, means[0] - 9 * sd_1)
    high = min(limit, means[0] + 9 * sd_1)
    if low >= high:
        return 0.0
    nodes, weights = np.polynomial.legendre.leggauss(16)
    slope = cov / var_1
    borders = np.linspace(low, high, 17)
    if abs(slope) > 1e-9:
        # Where the second deviation crosses its limits the integrand steps; the panels end there.
        crossing = means[0] + (np.array([-limit, limit]) - means[1]) / slope
        blur = sd_given / abs(slope) * np.array([-6.0, -2.0, 0.0, 2.0, 6.0])
        steps = (crossing[:, None] + blur).ravel()
        borders = np.unique(np.concatenate([borders, steps[(steps > low) & (steps < high)]]))
    half = (borders[1:] - borders[:-1]) / 2.0
    x = ((borders[1:] + borders[:-1]) / 2.0)[:, None] + half[:, None] * nodes
    density = np.exp(-0.5 * ((x - means[0]) / sd_1) ** 2) / (sd_1 * math.sqrt(2 * math.pi))
    mean_given = means[1] + slope * (x - means[0])
    inside = np.array([_inside(m, sd_given, limit) for m in mean_given.ravel()]).reshape(x.shape)
    return float(min(np.sum(half[:, None] * weights * density * inside), 1.0))


def _inside(mean: float, sd: float, limit: float) -> float:
    if sd == 0.0:
        return 1.0 if abs(mean) <= limit else 0.0
    return normal_cdf((limit - mean) / sd) - normal_cdf((-limit - mean) / sd)
