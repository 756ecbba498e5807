"""Contact relations and scallops against published examples and independent geometry."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from planner.formulas import contact


@pytest.mark.parametrize(
    ("depth", "diameter", "length"),
    # Source: l_c = sqrt(a d_e), computed; the last is a textbook's surface grinder, 250 mm wheel
    # and 0.05 mm infeed (Groover, Fundamentals of Modern Manufacturing, problem; answer computed).
    [(0.01, 200, 1.41421356), (0.02, 200, 2.0), (0.05, 250, 3.53553391)],
)
def test_contact_length(depth, diameter, length):
    assert contact.contact_length(depth, diameter) == pytest.approx(length, rel=1e-8)


def test_contact_length_is_the_chord_of_the_wheel_for_a_shallow_cut():
    # Property: a circle of diameter D cut a deep has sqrt(a (D - a)) on one side of its bottom.
    for depth in (0.001, 0.01, 0.1):
        exact = math.sqrt(depth * (200 - depth))
        assert contact.contact_length(depth, 200.0) == pytest.approx(exact, rel=depth / 200)


def test_equivalent_chip_thickness_of_a_worked_example():
    # Source: worked example citing Kalpakjian & Schmid, Manufacturing Engineering and Technology:
    # 0.02 mm, 200 mm/s, 30 m/s give a removal rate of 4 mm2/s and 0.13 um.
    found = contact.equivalent_chip_thickness_um(0.02, 200.0, 30.0)
    assert found == pytest.approx(0.13, abs=0.005)
    assert found * 30.0 == pytest.approx(4.0)


def test_speed_ratio_of_a_textbook_grinder():
    # By hand: pi 0.25 m 2600/60 s = 34.0339 m/s over 6 m/min = 0.1 m/s.
    assert contact.speed_ratio(34.0339, 100.0) == pytest.approx(340.339)


sizes = st.tuples(st.floats(1.0, 80.0), st.floats(1.02, 20.0), st.floats(0.01, 0.5)).map(
    lambda t: (t[0], t[0] * t[1], t[0] * t[2])
)


@given(sizes)
def test_the_ridge_is_where_the_two_circles_cross(size):
    r, arc, spacing = size
    half = spacing / 2 / arc
    centres = [
        np.array([(arc - r) * math.sin(s * half), -(arc - r) * math.cos(half)]) for s in (-1, 1)
    ]
    # By another way: the crossing below, from the half distance of the centres.
    x = (centres[1][0] - centres[0][0]) / 2
    crossing = centres[0][1] - math.sqrt(r * r - x * x)
    assert contact.scallop_height(spacing, r, arc) == pytest.approx(arc + crossing, abs=1e-9 * arc)


@given(sizes)
def test_spacing_is_the_inverse(size):
    r, arc, spacing = size
    scallop = float(contact.scallop_height(spacing, r, arc))
    if scallop > 1e-7:
        assert contact.spacing_for_scallop(scallop, r, arc) == pytest.approx(spacing, rel=1e-6)


def test_short_form_of_the_scallop():
    # Source: s^2/8 (1/r - 1/R), the scallop of ball-end milling on a hollow surface (from memory).
    for spacing in (0.01, 0.1, 0.5):
        short = spacing**2 / 8 * (1 / 10 - 1 / 75)
        assert contact.scallop_height(spacing, 10.0, 75.0) == pytest.approx(short, rel=5e-4)


def test_lines_leave_no_more_than_their_scallop():
    # By polygons: three circles of 6 mm inside an arc of 40 mm.
    r, arc, spacing = 6.0, 40.0, 0.8
    angles = (np.arange(3) - 1) * spacing / arc
    circles = [
        shapely.Point((arc - r) * math.sin(a), -(arc - r) * math.cos(a)).buffer(r, 4096)
        for a in angles
    ]
    union = shapely.union_all(circles)
    ray = [
        shapely.LineString([(0, 0), (2 * arc * math.sin(a), -2 * arc * math.cos(a))])
        for a in np.linspace(angles[0], angles[-1], 201)
    ]
    ends = [float(np.hypot(*np.array(union.intersection(line).coords)[-1])) for line in ray]
    left = arc - min(ends)
    assert left == pytest.approx(contact.scallop_height(spacing, r, arc), rel=2e-2)
    assert arc - max(ends) < 1e-5


outer_sizes = st.tuples(st.floats(2.0, 200.0), st.floats(2.0, 500.0), st.floats(0.01, 0.9)).map(
    lambda s: (s[0], s[1], s[2] * 2 * s[1] * math.asin(s[0] / (s[0] + s[1])))
)


@given(outer_sizes)
def test_outer_spacing_is_the_inverse(size):
    r, arc, spacing = size
    ridge = float(contact.outer_scallop_height(spacing, r, arc))
    if ridge > 1e-7:
        assert contact.outer_spacing_for_scallop(ridge, r, arc) == pytest.approx(spacing, rel=1e-6)


def test_short_form_of_the_outer_scallop():
    # Source: s^2/8 (1/r + 1/rho), the scallop of ball-end milling on a bulging surface (from
    # memory).
    for spacing in (0.01, 0.1, 0.5):
        short = spacing**2 / 8 * (1 / 75 + 1 / 20)
        assert contact.outer_scallop_height(spacing, 75.0, 20.0) == pytest.approx(short, rel=5e-4)


@pytest.mark.parametrize(("r", "arc", "spacing"), [(40.0, 20.0, 1.2), (5.0, 33.0, 0.6)])
def test_lines_from_outside_leave_no_more_than_their_ridge(r, arc, spacing):
    # By polygons: a disc of the arc's radius and more, cut by three circles that touch the arc.
    angles = (np.arange(3) - 1) * spacing / arc
    wheels = [
        shapely.Point((arc + r) * math.sin(a), (arc + r) * math.cos(a)).buffer(r, 8192)
        for a in angles
    ]
    steel = shapely.Point(0, 0).buffer(arc + 1.0, 8192).difference(shapely.union_all(wheels))
    ray = [
        shapely.LineString([(0, 0), (2 * arc * math.sin(a), 2 * arc * math.cos(a))])
        for a in np.linspace(angles[0], angles[-1], 201)
    ]
    ends = [float(np.hypot(*np.array(steel.intersection(line).coords)[-1])) for line in ray]
    assert max(ends) - arc == pytest.approx(contact.outer_scallop_height(spacing, r, arc), rel=2e-2)
    assert min(ends) - arc > -1e-5


@given(st.floats(1.0, 500.0), st.floats(1e-4, 1.0))
def test_flats_that_touch_an_arc_meet_so_high_over_it(arc, turn):
    ridge = float(contact.facet_ridge_height(turn, arc))
    # Property: the corner of two tangents, as two lines meet.
    a, b = -turn / 2, turn / 2
    lines = np.array([[math.sin(a), math.cos(a)], [math.sin(b), math.cos(b)]])
    corner = np.linalg.solve(lines, [arc, arc])
    assert ridge == pytest.approx(math.hypot(*corner) - arc, abs=1e-9 * arc)
    assert contact.facet_turn_rad(ridge, arc) == pytest.approx(turn, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: contact.outer_scallop_height(50.0, 2.0, 20.0), "spacing_mm"),
        (lambda: contact.outer_spacing_for_scallop(2.0, 2.0, 20.0), "scallop_mm"),
        (lambda: contact.facet_ridge_height(4.0, 20.0), "turn_rad"),
        (lambda: contact.facet_turn_rad(0.1, 0.0), "arc_mm"),
        (lambda: contact.contact_length(-0.1, 200), "depth_of_cut_mm"),
        (lambda: contact.speed_ratio(30, 0), "feed_mm_s"),
        (lambda: contact.scallop_height(1.0, 10.0, 10.0), "arc_mm"),
        (lambda: contact.scallop_height(50.0, 2.0, 20.0), "spacing_mm"),
        (lambda: contact.spacing_for_scallop(0.0, 2.0, 20.0), "scallop_mm"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, name):
    with pytest.raises(ValueError, match=name):
        call()
