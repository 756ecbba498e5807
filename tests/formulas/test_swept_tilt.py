"""Rotations about a known axis, against complex numbers, searches and drawn errors."""

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.formulas.swept_tilt import (
    axis_error_sd,
    highest_rise,
    rise_of_turn,
    turned_directions,
)


@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0))
def test_directions_turn_as_complex_numbers_do(start, turn):
    first = cmath.exp(1j * start), 1j * cmath.exp(1j * start)
    cross, infeed = ((c.real, c.imag) for c in first)
    found = turned_directions(cross, infeed, turn)
    # Source: multiplication by exp(i phi) turns both.
    for one, before in zip(found, first, strict=True):
        there = before * cmath.exp(1j * turn)
        assert tuple(one) == pytest.approx((there.real, there.imag), abs=1e-12)


@given(
    st.floats(-60.0, 60.0),
    st.floats(-60.0, 60.0),
    st.floats(-1.5, 1.5),
    st.floats(0.0, 1.5),
)
def test_the_highest_rise_is_that_of_a_search(along, above, low, more):
    turns = np.linspace(low, low + more, 4001)
    found = highest_rise(along, above, low, low + more)
    rises = rise_of_turn(along, above, turns)
    # Property: no turn is higher, and one of the grid is as high but for what a step may hide.
    reach = math.hypot(along, above)
    assert float(rises.max()) <= found + 1e-9
    assert found <= float(rises.max()) + reach * (more / 4000) ** 2 + 1e-9


def test_a_place_before_the_axis_rises_when_its_end_is_lifted():
    # By hand: 40 before the axis, level with it; turned by 10 deg toward it, 40 sin 10 = 6.946.
    assert highest_rise(-40.0, 0.0, 0.0, math.radians(10)) == pytest.approx(6.945927, abs=1e-6)
    # By hand: turned the other way it falls, so the start is the highest.
    assert highest_rise(-40.0, 0.0, math.radians(-10), 0.0) == 0.0


def test_errors_of_the_axis_drawn_and_reckoned_through():
    rng = np.random.default_rng(7)
    error, first, turn = 0.02, math.radians(20), math.radians(-13)
    off = rng.normal(0.0, error, (200_000, 2))

    def up(tilt):
        return np.array([-math.sin(tilt), math.cos(tilt)])

    # By drawing: what is reckoned with the axis told and what is so with the one that there is.
    drawn = off @ up(first + turn) - off @ up(first)
    assert float(axis_error_sd(error, turn)) == pytest.approx(drawn.std(), rel=0.01)
    # By hand: 2 * 0.02 * sin 6.5 deg.
    assert float(axis_error_sd(error, turn)) == pytest.approx(0.04 * 0.1132032, rel=1e-6)


@pytest.mark.parametrize("bad", [-0.1, math.nan])
def test_out_of_range_by_name(bad):
    with pytest.raises(ValueError, match="error_mm"):
        axis_error_sd(bad, 0.1)
    with pytest.raises(ValueError, match="low_rad"):
        highest_rise(1.0, 1.0, 0.5, 0.4)
