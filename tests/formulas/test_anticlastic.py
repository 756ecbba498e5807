"""The bend across a strip: closed forms, elasticity by differences, and the energy of a plate."""

import re

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from planner.formulas import anticlastic


def test_the_dish_of_a_strip():
    # By hand: 12 mm wide on R 25: 144 nu / 200; nu 0.3 gives 0.216, nu 0.5 gives 0.36.
    found = anticlastic.deepest_dish(12.0, 25.0, [0.3, 0.5])
    assert found == pytest.approx([0.216, 0.36])
    # Property: of nothing at the ends, and alike from either.
    ends = anticlastic.dish_at([0.0, 12.0, 3.0, 9.0], 12.0, 0.012)
    assert ends == pytest.approx([0.0, 0.0, 0.162, 0.162])


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.5])
def test_a_plate_of_least_energy_curves_so(poisson):
    # Source: energy of a bent plate, k1^2 + k2^2 + 2 nu k1 k2 on each area (Timoshenko &
    # Woinowsky-Krieger, Theory of Plates and Shells, from memory), least over the second curvature.
    bent = 1 / 30.0
    least = minimize_scalar(
        lambda k: bent**2 + k * k + 2 * poisson * k * bent, bounds=(-1, 1), method="bounded",
        options={"xatol": 1e-12},
    )  # fmt: skip
    found = anticlastic.curvature_across(30.0, poisson)
    assert found == pytest.approx(-least.x, abs=1e-6)


def test_the_field_leaves_the_sides_free_of_stress():
    # Source: Hooke's law with the strains of the field by differences: x/R along the strip, and
    # across it what leaves no stress in any direction of the section.
    radius, nu, step = 30.0, 0.3, 1e-4
    y, x = (a.ravel() for a in np.meshgrid(np.linspace(-5, 5, 7), np.linspace(-1.2, 1.2, 5)))

    def moved(dy, dx):
        ny, nx = anticlastic.bent_points(y + dy, x + dx, radius, nu)
        return np.array([ny - y - dy, nx - x - dx])

    by_y = (moved(step, 0) - moved(-step, 0)) / (2 * step)
    by_x = (moved(0, step) - moved(0, -step)) / (2 * step)
    across, through, shear = by_y[0], by_x[1], by_y[1] + by_x[0]
    total = across + through + x / radius
    for strain in (across, through):
        assert (1 - 2 * nu) * strain + nu * total == pytest.approx(0.0, abs=1e-8)
    assert shear == pytest.approx(0.0, abs=1e-8)


@pytest.mark.parametrize("degrees", [0, 12, 24, 60])
def test_a_line_at_an_angle_curves_by_the_cosine(degrees):
    # Source: a parabola fitted to the moved points of the line, in its own direction.
    radius, nu, angle = 200.0, 0.3, np.radians(degrees)
    along = np.linspace(-3, 3, 61)
    y, x = anticlastic.bent_points(along * np.cos(angle), -along * np.sin(angle), radius, nu)
    out = x * np.cos(angle) + y * np.sin(angle)
    place = y * np.cos(angle) - x * np.sin(angle)
    curvature = 2 * np.polyfit(place, out, 2)[0]
    expected = anticlastic.curvature_across(radius, nu, angle)
    assert curvature == pytest.approx(expected, rel=2e-2)


def test_the_outside_dishes_and_the_inside_crowns():
    # Property: outward the middle of the outside lies under its ends, that of the inside over them.
    y = np.array([-5.0, 0.0, 5.0])
    for side in (1.25, -1.25):
        _, out = anticlastic.bent_points(y, side, 30.0, 0.3)
        middle_under_ends = out[0] - out[1]
        assert middle_under_ends == pytest.approx(anticlastic.deepest_dish(10.0, 30.0, 0.3))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: anticlastic.curvature_across(0.0, 0.3), "bend_radius_mm = 0.0"),
        (lambda: anticlastic.curvature_across(1.0, 0.6), "poisson = 0.6"),
        (lambda: anticlastic.curvature_across(1.0, 0.3, 2.0), "abs(angle_rad) = 2.0"),
        (lambda: anticlastic.dish_at(3.0, 2.0, 0.1), "place_mm = 3.0"),
        (lambda: anticlastic.dish_at(1.0, 2.0, -0.1), "curvature_per_mm = -0.1"),
        (lambda: anticlastic.bent_points(np.nan, 0.0, 1.0, 0.3), "y_mm = nan"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, message):
    # By hand: outside the ranges of the docstrings.
    with pytest.raises(ValueError, match=re.escape(message)):
        call()
