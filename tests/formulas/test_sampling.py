"""Interval of a share and shares of a variance, against scipy and closed forms."""

import numpy as np
import pytest
from scipy import stats

from planner.formulas.sampling import first_order_part, total_part, wilson_interval


@pytest.mark.parametrize("count", [1, 2, 17, 1000, 100_000])
@pytest.mark.parametrize("part", [0.0, 0.003, 0.5, 0.97, 1.0])
def test_interval_is_that_of_scipy(count, part):
    good = round(part * count)
    # Source: scipy.stats, binomtest(...).proportion_ci(method="wilson").
    expected = stats.binomtest(good, count).proportion_ci(0.95, method="wilson")
    found = wilson_interval(good, count)
    assert found == pytest.approx((expected.low, expected.high), abs=1e-12)


def test_interval_holds_the_share_as_often_as_it_says():
    rng = np.random.default_rng(5)
    inside = 0
    for good in rng.binomial(400, 0.83, 4000):
        low, high = wilson_interval(int(good), 400)
        inside += low <= 0.83 <= high
    # Property: 95 %; three standard deviations of 4000 trials are 1 %, the steps of k another half.
    assert inside / 4000 == pytest.approx(0.95, abs=0.015)


@pytest.mark.parametrize(("good", "count"), [(0, 0), (-1, 5), (6, 5)])
def test_interval_refuses_what_is_no_share(good, count):
    with pytest.raises(ValueError, match=r"count|good"):
        wilson_interval(good, count)


def indices(function, columns, count=400_000, seed=3):
    """First-order and total indices of a function of independent columns."""
    rng = np.random.default_rng(seed)
    a, b = columns(rng, count), columns(rng, count)
    f_a, f_b = function(a), function(b)
    both = np.concatenate([f_a, f_b])
    variance, middle = both.var(), both.mean()
    found = []
    for n in range(a.shape[1]):
        swapped = a.copy()
        swapped[:, n] = b[:, n]
        f_s = function(swapped)
        first = first_order_part(f_a - middle, f_b - middle, f_s - middle)
        found.append((first / count / variance, total_part(f_a, f_s) / count / variance))
    return np.array(found)


def test_indices_of_a_sum_are_the_squares():
    weights = np.array([3.0, 2.0, 1.0, 0.0])
    found = indices(lambda x: x @ weights, lambda rng, n: rng.normal(size=(n, 4)))
    # By hand: 9, 4, 1 and 0 of 14, no error acting with another.
    expected = weights**2 / 14
    assert found[:, 0] == pytest.approx(expected, abs=0.01)
    assert found[:, 1] == pytest.approx(expected, abs=0.01)


def test_indices_of_a_product_are_all_together():
    found = indices(lambda x: x[:, 0] * x[:, 1], lambda rng, n: rng.normal(size=(n, 2)))
    # By hand: E(xy | x) = 0, so nothing by itself and everything together.
    assert found[:, 0] == pytest.approx(0.0, abs=0.01)
    assert found[:, 1] == pytest.approx(1.0, abs=0.01)


def test_indices_of_ishigami_s_function():
    # Source: Ishigami & Homma, 1990: sin x1 + a sin^2 x2 + b x3^4 sin x1 on (-pi, pi), a 7, b 0.1.
    # By hand: V1 = (1 + b pi^4/5)^2 / 2, V2 = a^2/8, V13 = b^2 pi^8 (1/18 - 1/50).
    a, b = 7.0, 0.1
    v1, v2 = (1 + b * np.pi**4 / 5) ** 2 / 2, a * a / 8
    v13 = b * b * np.pi**8 * (1 / 18 - 1 / 50)
    total = v1 + v2 + v13
    found = indices(
        lambda x: np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0]),
        lambda rng, n: rng.uniform(-np.pi, np.pi, size=(n, 3)),
    )
    assert found[:, 0] == pytest.approx(np.array([v1, v2, 0]) / total, abs=0.015)
    assert found[:, 1] == pytest.approx(np.array([v1 + v13, v2, v13]) / total, abs=0.015)
