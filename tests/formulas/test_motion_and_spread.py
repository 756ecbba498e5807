"""Move times against integrated motion; spread against scipy and sampling."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from planner.formulas import bevel, motion, spread


@given(distance=st.floats(0.01, 1000), speed=st.floats(0.1, 500), acceleration=st.floats(1, 5000))
def test_move_time_covers_the_distance(distance, speed, acceleration):
    """Property: integrating the speed over the time gives the distance."""
    total = motion.move_time(distance, speed, acceleration)

    def at(t: float) -> float:
        return float(min(acceleration * t, speed, acceleration * (total - t)))

    ramp = min(speed / acceleration, total / 2)
    covered = (
        quad(at, 0, ramp)[0] + quad(at, ramp, total - ramp)[0] + quad(at, total - ramp, total)[0]
    )
    assert covered == pytest.approx(distance, rel=1e-6)


def test_ramp_reaches_the_speed_of_the_move():
    # By hand: 66.667 mm/s at 400 mm/s2: 4444.4/800 = 5.556 mm.
    assert motion.ramp_distance(4000 / 60, 400) == pytest.approx(5.5556, rel=1e-4)


@given(
    sd=st.tuples(st.floats(0.05, 2), st.floats(0.05, 2)),
    rho=st.floats(-0.999, 0.999),
    mean=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
    limit=st.floats(0.1, 3),
)
def test_share_inside_both_matches_a_two_step_integral(sd, rho, mean, limit):
    """Rival: scipy's adaptive quadrature over the conditional distribution, with its own cdf."""
    cov = np.array([[sd[0] ** 2, rho * sd[0] * sd[1]], [rho * sd[0] * sd[1], sd[1] ** 2]])
    given_sd = sd[1] * np.sqrt(1 - rho**2)

    def inner(x: float) -> float:
        m = mean[1] + rho * sd[1] / sd[0] * (x - mean[0])
        two = stats.norm.cdf([(limit - m) / given_sd, (-limit - m) / given_sd])
        return float(stats.norm.pdf(x, mean[0], sd[0]) * (two[0] - two[1]))

    edges = (
        [
            mean[0] + rho_side / (rho * sd[1] / sd[0])
            for rho_side in (limit - mean[1], -limit - mean[1])
        ]
        if abs(rho) > 1e-3
        else []
    )
    points = [p for p in edges if -limit < p < limit] or None
    rival = quad(inner, -limit, limit, limit=400, points=points, epsabs=1e-9)[0]
    assert spread.share_inside_both(mean, cov, limit) == pytest.approx(rival, abs=2e-6)


def test_share_inside_both_matches_scipy_multivariate_normal():
    cov = np.array([[1.0, 0.7], [0.7, 2.0]])
    rival = stats.multivariate_normal((0.2, -0.1), cov).cdf([1.5, 1.5], lower_limit=[-1.5, -1.5])
    assert spread.share_inside_both((0.2, -0.1), cov, 1.5) == pytest.approx(rival, abs=1e-5)


def test_perfectly_tied_deviations_count_once():
    # By hand: two equal deviations lie within one sigma together as often as one does: 0.682689.
    cov = np.array([[1.0, 1.0], [1.0, 1.0]])
    assert spread.share_inside_both((0, 0), cov, 1.0) == pytest.approx(0.6826895, abs=1e-6)


def test_uniform_step_deviation():
    # Source: JCGM 100:2008, 4.3.7: half-width a gives a/sqrt(3); step 2a.
    assert spread.uniform_sd(2.0) == pytest.approx(1 / np.sqrt(3))


def test_impossible_covariance_is_refused():
    with pytest.raises(ValueError, match="covariance"):
        spread.share_inside_both((0, 0), np.array([[1.0, 2.0], [2.0, 1.0]]), 1.0)
    with pytest.raises(ValueError, match="limit"):
        spread.share_inside_both((0, 0), np.eye(2), 0.0)


def test_bevel_of_the_trade_example():
    # Source: trade figures for 14 deg, 2.5 mm stock: face 5.2, height 5.0 mm (half thickness 1.25
    # over sine and tangent; by hand 5.167 and 5.013).
    beta = np.radians(14.0)
    assert bevel.bevel_face_width(2.5, 0.0, beta) == pytest.approx(5.167, abs=5e-4)
    assert bevel.bevel_height(2.5, 0.0, beta) == pytest.approx(5.013, abs=5e-4)


def test_ground_face_is_the_flat_face_outside_the_relief():
    beta = np.radians(12.5)
    y = np.linspace(0, 10, 400)
    flat = np.minimum(y * np.tan(beta), 1.5)
    hollow = bevel.hollow_height(y, 0.0, beta, 75.0, 3.4, 0.03)
    ground = np.minimum(flat, hollow)
    half = np.sqrt(0.03 * (150 - 0.03))
    along = y / np.cos(beta)
    outside = (along < 3.4 - half - 1e-6) | (along > 3.4 + half + 1e-6)
    assert np.allclose(ground[outside], flat[outside], atol=1e-12)
    # By hand: at the middle of the relief the face is 0.03 lower along its normal.
    drop = (flat - ground) * np.cos(beta)
    assert drop.max() == pytest.approx(0.03, rel=1e-3)
