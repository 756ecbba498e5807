"""Thickness read from outlines, and the section modulus of a plate."""

import math

import numpy as np
import pytest

from planner.formulas.thin_section import section_modulus, thickness_between


def test_a_wedge_of_25_degrees():
    # By hand: 2 y tan 12.5 deg; tan is 0.2216947.
    y = np.array([0.25, 0.5, 1.0, 2.0])
    half = math.tan(math.radians(12.5)) * 7
    found = thickness_between(y, [0, 7], [0, half], [0, 7], [0, -half])
    assert found == pytest.approx([0.110847, 0.221695, 0.443389, 0.886779], abs=1e-6)


def test_faces_with_points_of_their_own():
    # By hand: at 1.5 the upper is 0.75, the lower -(0.2 + 0.15).
    assert thickness_between(1.5, [0, 2], [0, 1], [0, 1, 2], [0, -0.2, -0.5]) == pytest.approx(1.1)


def test_the_modulus_goes_with_the_square():
    # By hand: 0.3^2/6; a web half as thick has a quarter.
    assert section_modulus(0.3) == pytest.approx(0.015)
    assert section_modulus(0.15) / section_modulus(0.3) == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: thickness_between(3.0, [0, 2], [0, 1], [0, 2], [0, -1]), "y_mm = 3.0"),
        (lambda: thickness_between(1.0, [0, 2, 1], [0, 1, 1], [0, 2], [0, -1]), "rise of one_y_mm"),
        (lambda: thickness_between(1.0, [0, 2], [0, 1], [0, 2, 1], [0, 0, 0]), "rise of other_y"),
        (lambda: section_modulus(-0.1), "thickness_mm = -0.1"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, message):
    # By hand: outside the ranges of the docstrings.
    with pytest.raises(ValueError, match=message.replace(".", r"\.")):
        call()
