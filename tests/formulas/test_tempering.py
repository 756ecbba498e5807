"""Tempering parameter, added-up passes, and the two limits."""

from __future__ import annotations

import numpy as np
import pytest

from planner.formulas import tempering

KELVIN = 273.15


# Source: Hollomon and Jaffe (1945), P = T (C + log10 t), evaluated for 1 h at 200 C, C = 20,
# to the printed 0.01 K; and 341 C for 1 s with C = 15.5, to the printed kelvin.
@pytest.mark.parametrize(("time_s", "expected"), [(0.1, 339.59), (1.0, 302.33), (10.0, 269.34)])
def test_short_heating_equivalent_to_an_hour_at_200(time_s: float, expected: float) -> None:
    found = tempering.equivalent_temperature(200.0, 3600.0, time_s)
    assert found == pytest.approx(expected, abs=0.005)


def test_lower_constant_gives_the_higher_temperature_for_short_times() -> None:
    found = tempering.equivalent_temperature(200.0, 3600.0, 1.0, 15.5)
    assert found == pytest.approx(341.0, abs=0.5)
    assert found > tempering.equivalent_temperature(200.0, 3600.0, 1.0, 20.0)


def test_equivalent_temperature_there_and_back_returns() -> None:
    # Property: round trip over an array of times.
    times = np.geomspace(1e-3, 1e5, 20)
    there = tempering.equivalent_temperature(190.0, 7200.0, times)
    np.testing.assert_allclose(
        tempering.equivalent_temperature(there, times, 7200.0), 190.0, rtol=1e-12
    )
    assert np.all(np.diff(there) < 0.0)


def test_parameter_by_hand() -> None:
    # By hand: (300 + 273.15) (20 + log10(36/3600)) = 573.15 * 18
    assert tempering.hollomon_jaffe(300.0, 36.0) == pytest.approx(10316.7)


@pytest.mark.parametrize("hotter_c", [150.0, 200.0, 260.0, 400.0, 700.0])
@pytest.mark.parametrize("constant", [15.0, 20.0])
def test_one_hold_that_reaches_the_limit_counts_as_the_reference_time(
    hotter_c: float, constant: float
) -> None:
    # Property: at the limit the added-up time and the parameter say the same. The hold at the
    # hotter temperature that reaches P* is 10^(P*/T - C) hours.
    limit = (180.0 + KELVIN) * (constant + np.log10(2.0))
    hold_s = 3600.0 * 10.0 ** (limit / (hotter_c + KELVIN) - constant)
    worth = tempering.equivalent_time([0.0, hold_s], [hotter_c, hotter_c], 180.0, 7200.0, constant)
    assert worth == pytest.approx(7200.0, rel=1e-9)


def test_cutting_a_hold_in_pieces_does_not_change_its_worth() -> None:
    # Property: additive in time, which the parameter itself is not.
    whole = tempering.equivalent_time([0.0, 4.0], [250.0, 250.0], 175.0)
    pieces = tempering.equivalent_time(np.linspace(0.0, 4.0, 401), np.full(401, 250.0), 175.0)
    assert pieces == pytest.approx(whole, rel=1e-12)
    parameter_of_half_twice = 2.0 * 10.0 ** (
        tempering.hollomon_jaffe(250.0, 2.0) / (175.0 + KELVIN) - 20.0
    )
    parameter_of_whole = 10.0 ** (tempering.hollomon_jaffe(250.0, 4.0) / (175.0 + KELVIN) - 20.0)
    assert parameter_of_half_twice < 0.95 * parameter_of_whole


def test_many_warm_passes_add_up_at_every_station() -> None:
    # Property: n equal passes are n times one; the hotter station counts for more.
    one = np.array([20.0, 180.0, 60.0, 30.0])
    time = np.array([0.0, 0.5, 2.0, 20.0])
    passes = np.concatenate([time + 20.0 * n for n in range(12)])
    history = np.stack([np.tile(one, 12), np.tile(one * 1.2, 12)])
    worth = tempering.equivalent_time(passes, history, 175.0)
    single = tempering.equivalent_time(time, np.stack([one, one * 1.2]), 175.0)
    assert worth.shape == (2,)
    # Between passes the samples coincide in time (zero step), so nothing else is added.
    np.testing.assert_allclose(worth, 12.0 * single, rtol=1e-12)
    assert worth[1] > 3.0 * worth[0]


def test_trapezoid_over_a_cooling_curve_is_on_the_safe_side_and_converges() -> None:
    # Property: the integral of the rate over an exponential cooling, by a fine rival sum.
    def curve(count: int) -> float:
        time = np.linspace(0.0, 60.0, count)
        return float(tempering.equivalent_time(time, 20.0 + 160.0 * np.exp(-time / 15.0), 175.0))

    fine = curve(20_001)
    coarse = np.array([curve(31), curve(61), curve(121)])
    assert np.all(coarse > fine)
    rate = np.log2((coarse[:-1] - fine) / (coarse[1:] - fine))
    np.testing.assert_allclose(rate, 2.0, atol=0.1)


def test_cold_time_counts_for_nothing() -> None:
    # By hand: P* = 448.15 * 20 = 8963; 10^(8963 (1/448.15 - 1/293.15)) = 10^-10.575
    assert tempering.softening_rate(20.0, 175.0) == pytest.approx(2.66e-11, rel=0.01)


def test_soak_limit_is_below_the_temper_or_the_steels_own_figure() -> None:
    # By hand. Source of the defaults that a steel table gives: design rule, from memory.
    assert tempering.soak_limit(190.0, 175.0) == 165.0
    assert tempering.soak_limit(550.0, 500.0, margin_k=30.0) == 520.0
    assert tempering.soak_limit(None, 150.0) == 150.0


def test_flash_limit_rises_as_the_time_shortens_up_to_its_cap() -> None:
    times = np.geomspace(1e-3, 3600.0, 50)
    limits = tempering.flash_limit(175.0, times)
    # Property: falls with time, ends at the soak limit.
    assert np.all(np.diff(limits) < 0.0)
    assert limits[-1] == pytest.approx(175.0)
    # By hand: 448.15 * 20 / (20 + log10(0.1/3600)) = 8963/15.4437 = 580.366 K
    assert tempering.flash_limit(175.0, 0.1) == pytest.approx(580.366 - KELVIN, abs=0.01)


def test_flash_limit_stays_below_the_lower_critical_temperature_and_the_cap() -> None:
    # By hand: high-speed steel's 500 C would give 773.15 * 20/14.4437 = 1070.6 K = 797 C at
    # 10 ms; 727 - 50 = 677 stands.
    assert tempering.flash_limit(500.0, 0.01) == 677.0
    assert tempering.flash_limit(500.0, 0.01, lower_critical_c=810.0) == 760.0
    assert tempering.flash_limit(175.0, 0.01, cap_c=300.0) == 300.0
    np.testing.assert_array_equal(
        tempering.flash_limit([175.0, 500.0], 0.01, cap_c=300.0), [300.0, 300.0]
    )


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: tempering.hollomon_jaffe(200.0, 0.0), r"time_s = 0.0 is outside \[0.0001"),
        (lambda: tempering.hollomon_jaffe(2000.0, 1.0), "temperature_c = 2000.0"),
        (
            lambda: tempering.hollomon_jaffe(200.0, 1.0, 9.0),
            r"constant = 9.0 is outside \[10, 30\]",
        ),
        (lambda: tempering.equivalent_temperature(200.0, 1.0, 1e8), "other_time_s"),
        (lambda: tempering.equivalent_time([0.0, 2.0, 1.0], [20.0] * 3, 175.0), "time_s step = -1"),
        (lambda: tempering.equivalent_time([0.0], [20.0], 175.0), "at least 2"),
        (lambda: tempering.equivalent_time([0.0, 1.0], [20.0] * 3, 175.0), "one last axis"),
        (lambda: tempering.equivalent_time([0.0, 1.0], [20.0, np.nan], 175.0), "temperature_c"),
        (lambda: tempering.soak_limit(40.0, 175.0), r"temper_c = 40.0 is outside \[50, 700\]"),
        (lambda: tempering.flash_limit(175.0, 3601.0), "contact_s = 3601.0"),
        (lambda: tempering.flash_limit(175.0, 1.0, cap_c=np.nan), "cap_c = nan"),
        (lambda: tempering.flash_limit(175.0, 1.0, lower_critical_c=500.0), "lower_critical_c"),
    ],
)
def test_values_out_of_range_are_named(call: object, message: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=message):
        call()
