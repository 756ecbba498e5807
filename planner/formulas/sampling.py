r"""What a sample of blades says: the interval of a share, and the shares of a variance.

Symbols: n size of the sample, k blades that are good, z quantile of the standard normal
distribution; f a quantity reckoned from independent errors, A and B two independent draws of all of
them, A_B^i the draw A with error i taken from B.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

Z_95 = 1.959963984540054
"""The quantile that two-sided intervals of 95 % are made with."""


def wilson_interval(good: int, count: int, z: float = Z_95) -> tuple[float, float]:
    r"""Interval for a share of which a sample is seen.

    .. math:: \frac{k + z^2/2}{n + z^2} \pm
              \frac{z}{n + z^2} \sqrt{\frac{k (n - k)}{n} + \frac{z^2}{4}}

    Range: n >= 1, 0 <= k <= n, z >= 0. Shape: scalars. Raises: ValueError.
    Source: E. B. Wilson, Journal of the American Statistical Association 22, 1927, 209-212; from
    memory, held against scipy's in the tests.

    >>> [round(v, 4) for v in wilson_interval(0, 10, 2.0)]  # by hand: 0 to 4/14
    [0.0, 0.2857]
    """
    require("count", count, low=1)
    require("good", good, low=0, high=count)
    require("z", z, low=0.0)
    middle = (good + z * z / 2) / (count + z * z)
    half = z / (count + z * z) * math.sqrt(good * (count - good) / count + z * z / 4)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def first_order_part(f_a: ArrayLike, f_b: ArrayLike, f_a_with_b: ArrayLike) -> Result:
    r"""Sum over a sample of the estimator of the variance that one error explains by itself.

    .. math:: V_i = \frac{1}{n} \sum_j f(B)_j \left[f(A_B^i)_j - f(A)_j\right]

    The sum is returned, n times V_i, so that parts of a sample may be added up. The quantity is
    best counted from its expected value: that leaves V_i alone and makes the estimate steadier.
    Shape: (n,) each. Source: A. Saltelli and others, Computer Physics Communications 181, 2010,
    259-270, table 2, (b); from memory, held against closed forms in the tests.

    >>> float(first_order_part([1.0, -1.0], [2.0, 2.0], [2.0, 2.0]))  # by hand: 2 * 1 + 2 * 3
    8.0
    """
    return np.asarray(np.sum(np.asarray(f_b) * (np.asarray(f_a_with_b) - np.asarray(f_a))))[()]


def total_part(f_a: ArrayLike, f_a_with_b: ArrayLike) -> Result:
    r"""Sum over a sample of the estimator of the variance in which one error has any part.

    .. math:: V_{Ti} = \frac{1}{2 n} \sum_j \left[f(A)_j - f(A_B^i)_j\right]^2

    The sum is returned, n times V_Ti. Shape: (n,) each.
    Source: M. J. W. Jansen, Computer Physics Communications 117, 1999, 35-43, as in table 2, (f),
    of Saltelli and others, 2010; from memory, held against closed forms in the tests.

    >>> float(total_part([1.0, -1.0], [2.0, 2.0]))  # by hand: (1 + 9) / 2
    5.0
    """
    difference = np.asarray(f_a) - np.asarray(f_a_with_b)
    return np.asarray(np.sum(difference * difference) / 2)[()]
