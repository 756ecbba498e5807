"""The spring balance against the classical geometric decay, a published example and an ODE."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from planner.formulas import segment, spring
from planner.formulas.removal import SegmentRemoval

# Source: force balance k_c a = k y, worked pass by pass for k 400 and k_c 600 N/mm, ten infeeds
# of 0.010 mm and eight spark-out passes; columns: infeed, depth, deflection, force. Recomputed
# by two routes.
WORKED = [
    (0.01, 0.004, 0.006, 2.4),
    (0.01, 0.0104, 0.0096, 3.84),
    (0.01, 0.01824, 0.01176, 4.704),
    (0.01, 0.026944, 0.013056, 5.2224),
    (0.01, 0.0361664, 0.0138336, 5.53344),
    (0.01, 0.04569984, 0.01430016, 5.720064),
    (0.01, 0.055419904, 0.014580096, 5.8320384),
    (0.01, 0.0652519424, 0.0147480576, 5.89922304),
    (0.01, 0.0751511654, 0.0148488346, 5.93953382),
    (0.01, 0.0850906993, 0.0149093007, 5.96372029),
    (0.0, 0.0910544196, 0.00894558044, 3.57823218),
    (0.0, 0.0946326517, 0.00536734826, 2.14693931),
    (0.0, 0.096779591, 0.00322040896, 1.28816358),
    (0.0, 0.0980677546, 0.00193224538, 0.77289815),
    (0.0, 0.0988406528, 0.00115934723, 0.46373889),
    (0.0, 0.0993043917, 0.000695608335, 0.278243334),
    (0.0, 0.099582635, 0.000417365001, 0.166946),
    (0.0, 0.099749581, 0.000250419001, 0.1001676),
]


def _reach(*args: float, **more: float) -> tuple[float, float]:
    commanded, last, stiffness, per_area, radius = args
    reached, area = spring.reached_depth(
        commanded, last, stiffness, per_area, SegmentRemoval(radius), **more
    )
    return float(reached), float(area)


def _strip(kappa_width: float) -> tuple[float, float, float]:
    """A wheel so large, and a start so deep, that the chord is constant over the passes.

    The segment's width at the start depth is the strip's width: with R = 1e7 mm and a start at
    5 mm the chord changes by 1 % over the 0.1 mm of the example, and by 1e-6 of that over 1e-7.
    """
    radius, start = 1.0e7, 5.0
    chord = float(segment.chord_of_depth(radius, start))
    return radius, start, kappa_width / chord


def test_strip_of_constant_width_falls_to_the_worked_example():
    # The depths are scaled by 1e-4, so the chord is constant to 1e-6 over the example.
    scale = 1e-4
    radius, start, kappa = _strip(600.0)
    commanded = reached = start
    for infeed, depth, deflection, force in WORKED:
        commanded += infeed * scale
        reached, area = _reach(commanded, reached, 400.0, kappa, radius)
        assert (reached - start) / scale == pytest.approx(depth, rel=2e-5)
        assert (commanded - reached) / scale == pytest.approx(deflection, rel=2e-5)
        assert area * kappa / scale == pytest.approx(force, rel=1e-4)


def test_spark_out_of_a_strip_is_the_geometric_decay():
    radius, start, kappa = _strip(600.0)
    mu = spring.deflection_kept_per_pass(400.0, 600.0)
    commanded, reached = start + 1e-6, start
    for n in range(1, 9):
        reached, _ = _reach(commanded, reached, 400.0, kappa, radius)
        # Source: y_n = mu^n y_0; the passes start with the whole infeed as deflection.
        assert commanded - reached == pytest.approx(1e-6 * mu**n, rel=1e-3)


@pytest.mark.parametrize(
    ("mu", "to_5_percent", "to_1_percent"),
    [(0.2, 2, 3), (0.4, 4, 6), (0.5, 5, 7), (0.6, 6, 10), (0.8, 14, 21)],
)
def test_spark_out_passes_match_the_closed_form_table(mu, to_5_percent, to_1_percent):
    # Source: n = ceil(ln f / ln mu), recomputed.
    assert spring.spark_out_passes(1.0, 0.05, mu) == to_5_percent
    assert spring.spark_out_passes(1.0, 0.01, mu) == to_1_percent


def test_trade_rule_of_thumb_for_five_percent():
    # Source: trade figures for k_c 2.6 N/um: passes to 5 % at k 0.5, 1, 2, 5 N/um: 17, 10, 6, 3
    # (calculated there from the same residue k_c/(k + k_c); arithmetic checked here).
    for k, passes in ((500, 17), (1000, 10), (2000, 6), (5000, 3)):
        mu = spring.deflection_kept_per_pass(k, 2600)
        assert spring.spark_out_passes(1.0, 0.05, mu) == pytest.approx(passes, abs=1)


def test_balance_is_the_limit_of_many_thin_slices_solved_as_an_ode():
    """A pass split into n equal sub-passes with 1/n of the force each tends to an ODE.

    With the force shared over n slices, each slice removes what its own balance allows:
    dr/ds = k (x - r) / (kappa c(r)), s from 0 to 1. That is another machine than the single pass,
    and the slices must meet scipy's solution of it.
    """
    k, kappa, radius, x, r0 = 500.0, 300.0, 75.0, 0.02, 0.002
    n = 4000
    reached = r0
    for _ in range(n):
        reached, _ = _reach(x, reached, k / n, kappa, radius)
    ode = solve_ivp(
        lambda _s, r: k * (x - r) / (kappa * segment.chord_of_depth(radius, r)),
        (0.0, 1.0), [r0], rtol=1e-10, atol=1e-14,
    )  # fmt: skip
    assert reached == pytest.approx(float(ode.y[0, -1]), rel=1e-4)


@given(
    radius=st.floats(10, 500),
    k=st.floats(10, 1e5),
    kappa=st.floats(0.1, 1e4),
    start=st.floats(0, 0.1),
    infeed=st.floats(1e-6, 0.05),
)
def test_balance_agrees_with_scipy_and_conserves_force(radius, k, kappa, start, infeed):
    x = start + infeed
    reached, area = _reach(x, start, k, kappa, radius)

    def excess(r: float) -> float:
        taken = float(segment.segment_area(radius, r) - segment.segment_area(radius, start))
        return float(k * (x - r) - kappa * taken)

    rival = brentq(excess, start, x, xtol=1e-15)
    assert reached == pytest.approx(rival, abs=2e-11)
    assert start <= reached <= x
    assert k * (x - reached) == pytest.approx(kappa * area, abs=k * 1e-10 + 1e-9)


def test_threshold_force_leaves_its_own_residue():
    # By hand: 2 N at 500 N/mm is 0.004 mm that no number of passes takes.
    reached = 0.0
    for _ in range(200):
        reached, _ = _reach(0.03, reached, 500.0, 300.0, 75.0, threshold_n=2.0)
    assert 0.03 - reached == pytest.approx(0.004, abs=1e-9)


def test_arrays_broadcast_as_their_elements_do():
    k = np.array([100.0, 1000.0])
    depths = np.array([[0.01], [0.02]])
    reached, area = spring.reached_depth(depths, 0.0, k, 300.0, SegmentRemoval(75.0))
    assert reached.shape == area.shape == (2, 2)
    alone, _ = spring.reached_depth(0.02, 0.0, 1000.0, 300.0, SegmentRemoval(75.0))
    assert reached[1, 1] == pytest.approx(float(alone), abs=1e-12)


def test_wheel_commanded_no_deeper_than_it_has_been_cuts_nothing():
    assert _reach(0.01, 0.01, 100.0, 100.0, 75.0) == (0.01, 0.0)


def test_symbol_trap_mu_is_not_exp_of_the_ratio():
    # Source: mu = 1/(1 + k/k_c) = 0.20 at k/k_c = 4, while exp(-4) = 0.0183.
    assert spring.deflection_kept_per_pass(4.0, 1.0) == pytest.approx(0.2)
    assert abs(spring.deflection_kept_per_pass(4.0, 1.0) - math.exp(-4)) > 0.18


def test_stiffer_machine_needs_no_more_passes():
    ks = np.geomspace(50, 50_000, 30)
    passes = [
        spring.spark_out_passes(0.01, 0.001, spring.deflection_kept_per_pass(float(k), 1000.0))
        for k in ks
    ]
    assert passes == sorted(passes, reverse=True)


def test_values_out_of_range_are_refused_by_name():
    with pytest.raises(ValueError, match="stiffness_n_mm"):
        spring.reached_depth(0.01, 0.0, 0.0, 1.0, SegmentRemoval(75.0))
    with pytest.raises(ValueError, match="commanded_mm"):
        spring.reached_depth(80.0, 0.0, 1.0, 1.0, SegmentRemoval(75.0))
    with pytest.raises(ValueError, match="kept_per_pass"):
        spring.spark_out_passes(1.0, 0.1, 1.0)
