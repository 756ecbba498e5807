"""A bevel on the work: closed forms for lines and arcs, and a search that turns the tool."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.formulas import segment
from planner.formulas.work_contact import (
    bridge,
    fits_in,
    gap_to_work,
    largest_gap,
    normal_under,
    surface_angle,
    turn_to_rest,
)

QUICK = settings(max_examples=60, deadline=None, derandomize=True)

WIDTHS, RADII = st.floats(0.5, 20), st.floats(25, 2000)


def arc_face(width_mm, radius_mm, points=401):
    """A convex face whose tangent at the edge is the x axis, to the chord ``width_mm``."""
    turn = 2 * math.asin(width_mm / (2 * radius_mm))
    angles = np.linspace(0, turn, points)
    return radius_mm * np.sin(angles), radius_mm * (1 - np.cos(angles))


def micro_face(micro_mm, micro_deg, width_mm):
    """A micro bevel along the x axis, then the main bevel, the shoulder at ``width_mm`` of it."""
    angle = math.radians(micro_deg)
    return (
        np.array([0, micro_mm, micro_mm + width_mm * math.cos(angle)]),
        np.array([0, 0, width_mm * math.sin(angle)]),
    )


# --- a flat bevel -------------------------------------------------------------------------------


@given(WIDTHS, RADII)
def test_a_flat_bevel_meets_a_hollow_at_asin_b_over_2r(width, radius):
    # By hand: a chord of the circle and its tangent (Euclid, Elements III.32); the gap is the
    # chord's sagitta, in its middle.
    rest = turn_to_rest([0, width], [0, 0], 1 / radius)
    assert rest.turn_rad == pytest.approx(math.asin(width / (2 * radius)), rel=1e-12)
    assert (rest.nearest_mm, rest.farthest_mm) == (width, width)
    normal = (math.sin(rest.turn_rad), math.cos(rest.turn_rad))
    gap = largest_gap([0, width], [0, 0], normal, 1 / radius)
    assert gap.gap_mm == pytest.approx(segment.depth_of_chord(radius, width), rel=1e-9)
    assert gap.x_mm == pytest.approx(width / 2, rel=1e-9)
    assert gap_to_work(width, 0.0, normal, 1 / radius) == pytest.approx(0, abs=1e-12)


def test_a_hook_bevel_of_6_in_a_bowl_of_35():
    # By hand: asin(3/35) = 4.917 deg; 35 - sqrt(35^2 - 9) = 0.1288.
    rest = turn_to_rest([0, 6], [0, 0], 1 / 35)
    assert math.degrees(rest.turn_rad) == pytest.approx(4.917, abs=5e-4)
    normal = (math.sin(rest.turn_rad), math.cos(rest.turn_rad))
    assert largest_gap([0, 6], [0, 0], normal, 1 / 35).gap_mm == pytest.approx(0.1288, abs=5e-5)


@given(WIDTHS)
def test_a_flat_bevel_lies_on_flat_work_and_touches_a_round_at_the_edge(width):
    # By hand: two straight lines; a tangent to a circle.
    assert turn_to_rest([0, width], [0, 0], 0.0) == (0.0, 0.0, width)
    assert turn_to_rest([0, width], [0, 0], -1 / 50) == (0.0, 0.0, 0.0)
    # By hand: sqrt(b^2 + R^2) - R off the round at the shoulder.
    gap = largest_gap([0, width], [0, 0], (0.0, 1.0), -1 / 50)
    assert gap.gap_mm == pytest.approx(math.hypot(width, 50) - 50, rel=1e-9)
    assert gap.x_mm == width


FACES = {
    "flat": (np.array([0.0, 6.0]), np.zeros(2)),
    "convex": arc_face(6, 40),
    "micro": micro_face(0.5, 4, 6),
}


@pytest.mark.parametrize("face", FACES)
def test_as_the_hollow_flattens_the_answer_tends_to_the_flat_one(face):
    # Property: the turn falls to that on flat work, no more above it than asin(b/2R).
    x, y = FACES[face]
    flat, before = turn_to_rest(x, y, 0.0).turn_rad, math.inf
    for radius in (20, 50, 100, 1e3, 1e4, 1e6, 1e9):
        turn = turn_to_rest(x, y, 1 / radius).turn_rad
        assert flat <= turn <= before
        assert turn - flat <= math.asin(math.hypot(x[-1], y[-1]) / (2 * radius)) + 1e-15
        before = turn
    assert before == pytest.approx(flat, abs=1e-8)


# --- a convex bevel -----------------------------------------------------------------------------


@QUICK
@given(st.floats(1, 12), st.floats(12, 200), st.floats(1.02, 10))
def test_a_convex_bevel_smaller_than_the_bowl_touches_without_the_shoulder(width, radius, larger):
    # By hand: circles that touch from within, the smaller inside; the shoulder is clear by the
    # difference of the two.
    x, y = arc_face(width, radius)
    bowl = radius * larger
    rest = turn_to_rest(x, y, 1 / bowl)
    assert rest == (0.0, 0.0, 0.0)
    off = bowl - math.hypot(x[-1], bowl - y[-1])
    assert off > 0
    assert gap_to_work(x[-1], y[-1], (0.0, 1.0), 1 / bowl) == pytest.approx(off, abs=1e-9)


@QUICK
@given(st.floats(1, 12), st.floats(40, 400), st.floats(0.2, 0.98))
def test_a_convex_bevel_larger_than_the_bowl_rests_on_edge_and_shoulder(width, radius, smaller):
    # By hand: both circles have the chord b; their tangents at its end differ by asin(b/2R) -
    # asin(b/2r).
    bowl = radius * smaller
    x, y = arc_face(width, radius)
    rest = turn_to_rest(x, y, 1 / bowl)
    assert rest.turn_rad == pytest.approx(
        math.asin(width / (2 * bowl)) - math.asin(width / (2 * radius)), abs=1e-12
    )
    assert rest.farthest_mm == pytest.approx(width)


# --- a micro bevel ------------------------------------------------------------------------------


@given(st.floats(0.1, 1.5), st.floats(0.5, 10), st.floats(3, 15), RADII)
def test_a_micro_bevel_rests_on_its_knee_or_on_the_shoulder(micro, angle, width, radius):
    # By hand: the greater of two tangent-chord angles, that of the shoulder less its elevation.
    x, y = micro_face(micro, angle, width)
    knee = math.asin(micro / (2 * radius))
    far = math.hypot(x[-1], y[-1])
    shoulder = math.asin(far / (2 * radius)) - math.atan2(y[-1], x[-1])
    rest = turn_to_rest(x, y, 1 / radius)
    assert rest.turn_rad == pytest.approx(max(knee, shoulder), abs=1e-12)
    if abs(knee - shoulder) > 1e-8:
        assert rest.farthest_mm == pytest.approx(far if shoulder > knee else micro)


@pytest.mark.parametrize(("radius", "on"), [(20, 6.5), (90, 6.5), (120, 0.5)])
def test_a_micro_bevel_changes_over_from_shoulder_to_knee(radius, on):
    # By hand: a micro bevel 0.5 wide, 2 deg, main bevel 6: shoulder at 6.5, elevation 1.847 deg.
    # In R 20: asin(6.5/40) = 9.35 less 1.85 is 7.50 deg, against asin(0.5/40) = 0.72 deg;
    # in R 90: 2.07 less 1.85 is 0.22, against 0.16; in R 120: 1.55 less 1.85, against 0.12.
    x, y = micro_face(0.5, 2, 6)
    assert turn_to_rest(x, y, 1 / radius).farthest_mm == pytest.approx(on, abs=2e-3)


def test_a_micro_bevel_on_flat_work_is_borne_over_its_own_width_alone():
    # By hand: the main bevel leaves the work at the knee.
    x, y = micro_face(0.5, 2, 6)
    assert turn_to_rest(x, y, 0.0) == (0.0, 0.0, 0.5)


# --- a full hollow ------------------------------------------------------------------------------


def test_a_full_hollow_points_into_flat_work_by_its_tangent():
    # By hand: the hollow's tangent at the edge dips asin(c/2R) below the chord.
    x, y = arc_face(6, 75)
    rest = turn_to_rest(x, -y, 0.0)
    assert rest.turn_rad == pytest.approx(math.asin(6 / 150), rel=1e-9)
    assert rest.farthest_mm == pytest.approx(6)


def test_a_round_touches_a_straight_piece_between_its_ends():
    # By hand: the line through (0.6, 0.8) along (0.8, -0.6) is 1 from the pivot. A round of 5
    # through the pivot touches it sqrt(1 * (2 * 5 - 1)) = 3 further on, in (3, -1), sqrt 10 off,
    # with its centre straight below the pivot. Drawn 0.2 rad lower, the turn is 0.2.
    x = np.array([0, 0.6 + 0.8, 0.6 + 4.8])
    y = np.array([0, 0.8 - 0.6, 0.8 - 3.6])
    cosine, sine = math.cos(0.2), math.sin(0.2)
    rest = turn_to_rest(x * cosine + y * sine, y * cosine - x * sine, -1 / 5)
    assert rest.turn_rad == pytest.approx(0.2, abs=1e-12)
    assert rest.farthest_mm == pytest.approx(math.sqrt(10))


# --- against a search ---------------------------------------------------------------------------


@st.composite
def profiles(draw):
    """Random polylines that run away from the pivot, straight, bent in and bent out."""
    count = draw(st.integers(1, 6))
    x, y, angle = [0.0], [0.0], 0.0
    for _ in range(count):
        length = draw(st.floats(0.2, 4))
        x.append(x[-1] + length * math.cos(angle))
        y.append(y[-1] + length * math.sin(angle))
        angle = min(max(angle + draw(st.floats(-0.3, 0.4)), -0.6), 1.0)
    return np.array(x), np.array(y)


def deepest(x, y, turn, curvature):
    """How deep the densely sampled profile is in the work, the tool turned up about the pivot."""
    share = np.linspace(0, 1, 400)
    px = np.concatenate([x[:-1, None] + np.diff(x)[:, None] * share]).ravel()
    py = np.concatenate([y[:-1, None] + np.diff(y)[:, None] * share]).ravel()
    cosine, sine = math.cos(turn), math.sin(turn)
    px, py = px * cosine - py * sine, px * sine + py * cosine
    if curvature == 0:
        return float(-py.min())
    radius = 1 / abs(curvature)
    if curvature > 0:
        return float(np.hypot(px, py - radius).max() - radius)
    return float(radius - np.hypot(px, py + radius).min())


@QUICK
@given(profiles(), st.sampled_from([1.0, -1.0, 0.0]), st.floats(15, 500))
def test_the_turn_is_the_least_at_which_nothing_is_in_the_work(profile, sign, radius):
    # Property: a little less turn and some point is in the work; at it none is. The search turns
    # the sampled tool and measures from the circle's centre.
    x, y = profile
    curvature = sign / radius
    rest = turn_to_rest(x, y, curvature)
    assert deepest(x, y, rest.turn_rad, curvature) <= 1e-9
    if rest.turn_rad > 1e-3:
        assert deepest(x, y, rest.turn_rad - 1e-3, curvature) > 0
        assert rest.nearest_mm > 0
    normal = (math.sin(rest.turn_rad), math.cos(rest.turn_rad))
    assert np.min(gap_to_work(x, y, normal, curvature)) >= -1e-9


@QUICK
@given(profiles(), st.floats(-0.02, 0.04))
def test_the_gap_is_the_distance_from_the_circle(profile, curvature):
    # Property: the coded form against the plain one, with the centre.
    x, y = profile
    turn = 0.3
    normal = np.array([math.sin(turn), math.cos(turn)])
    found = gap_to_work(x, y, (float(normal[0]), float(normal[1])), curvature)
    if abs(curvature) < 1e-4:
        assert found == pytest.approx(x * normal[0] + y * normal[1], abs=0.02)
        return
    cx, cy = normal / curvature
    plain = np.hypot(x - cx, y - cy)
    expected = 1 / curvature - plain if curvature > 0 else plain + 1 / curvature
    assert found == pytest.approx(expected, abs=1e-9)
    share = np.linspace(0, 1, 200)
    px = (x[:-1, None] + np.diff(x)[:, None] * share).ravel()
    py = (y[:-1, None] + np.diff(y)[:, None] * share).ravel()
    widest = float(np.max(gap_to_work(px, py, (float(normal[0]), float(normal[1])), curvature)))
    gap = largest_gap(x, y, (float(normal[0]), float(normal[1])), curvature)
    assert widest - 1e-12 <= gap.gap_mm <= widest + 1e-4


@QUICK
@given(st.floats(-0.02, 0.04), st.floats(-5, 5), st.floats(0, 5))
def test_the_normal_under_a_point_leads_to_it(curvature, x, y):
    # Property: from the point its gap along that normal ends on the work.
    normal = (0.6, 0.8)
    gap = float(gap_to_work(x, y, normal, curvature))
    nx, ny = normal_under(x, y, normal, curvature)
    assert gap_to_work(x - gap * nx, y - gap * ny, normal, curvature) == pytest.approx(0, abs=1e-9)


@QUICK
@given(profiles(), st.integers(1, 5), st.one_of(st.just(0.0), st.floats(1e-4, 0.03)))
def test_a_bridge_leaves_everything_else_clear(profile, split, curvature):
    # Property: both points lie on the work and no other is in it.
    x, y = profile
    split = min(split, len(x) - 1)
    found = bridge(x, y, split, curvature)
    assert found is not None
    i, j = found
    assert i < split <= j
    dx, dy = x[j] - x[i], y[j] - y[i]
    turn = surface_angle(math.hypot(dx, dy), curvature) - math.atan2(dy, dx)
    normal = (math.sin(turn), math.cos(turn))
    gaps = np.asarray(gap_to_work(x - x[i], y - y[i], normal, curvature))
    assert gaps[j] == pytest.approx(0, abs=1e-9)
    assert gaps.min() >= -1e-7


def test_a_bridge_across_a_hollow_between_two_lands_is_the_flat_face():
    # By hand: the lands lie on y = 0.
    x, y = [0, 1, 2, 3, 4, 5.0], [0, 0, 0.02, 0.02, 0, 0.0]
    found = bridge(x, y, 3, 0.0)
    assert found is not None
    assert [y[i] for i in found] == [0, 0]
    assert bridge([0, 3], [0, 0], 1, 1.0) is None  # by hand: 3 is more than the diameter, 2


# --- a relief between two lands -----------------------------------------------------------------


@QUICK
@given(
    st.floats(0.1, 2),
    st.floats(0.1, 2),
    st.floats(1, 8),
    st.floats(15, 200),
    st.sampled_from([1.0, -1.0, 0.0]),
    st.floats(15, 2000),
)
def test_a_relief_that_leaves_both_lands_changes_nothing(
    edge_land, shoulder_land, chord, wheel, sign, radius
):
    # Property: the issue of fit; the hollow lies inside the steel, so nothing of it touches.
    width = edge_land + chord + shoulder_land
    half = math.asin(chord / (2 * wheel))
    angles = np.linspace(-half, half, 101)
    x = edge_land + chord / 2 + wheel * np.sin(angles)
    y = wheel * (np.cos(angles) - math.cos(half))
    x = np.concatenate([[0], x, [width]])
    y = np.concatenate([[0], y, [0]])
    flat = turn_to_rest([0, width], [0, 0], sign / radius)
    relieved = turn_to_rest(x, y, sign / radius)
    assert relieved.turn_rad == pytest.approx(flat.turn_rad, abs=1e-12)
    assert relieved.nearest_mm == pytest.approx(flat.nearest_mm, abs=1e-9)
    assert relieved.farthest_mm == pytest.approx(flat.farthest_mm, abs=1e-9)


# --- ranges -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: surface_angle(3.0, 1.0), "half the chord in radii = 1.5"),
        (lambda: surface_angle(-1.0, 0.1), "distance_mm = -1.0"),
        (lambda: turn_to_rest([0.0], [0.0], 0.0), "number of points = 1"),
        (lambda: turn_to_rest([0.0, 0.0], [0.0, 0.0], 0.0), "length of a piece = 0.0"),
        (lambda: turn_to_rest([1.0, 2.0], [0.0, 0.0], 0.0), "distance of the pivot"),
        (lambda: turn_to_rest([0.0, math.nan], [0.0, 0.0], 0.0), "x_mm = nan"),
        (lambda: turn_to_rest([0.0, 3.0], [0.0, 0.0], 1.0), "half the chord in radii = 1.5"),
        (lambda: gap_to_work(1.0, 0.0, (1.0, 1.0), 0.0), "length of the normal"),
        (lambda: normal_under(0.0, 5.0, (0.0, 1.0), 0.2), "distance from the centre"),
        (lambda: bridge([0, 1, 2], [0, 0, 0], 3, 0.0), "split = 3.0"),
        (lambda: bridge([0, 1, 2], [0, 0, 0], 1, -0.1), "curvature_per_mm = -0.1"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, message):
    with pytest.raises(ValueError, match=message.replace(".", r"\.")):
        call()


@pytest.mark.parametrize("curvature", [5e-324, -5e-324, 1e-300, -1e-13])
def test_the_least_of_curvatures_is_flat(curvature):
    # Property: as flat work, and no figure runs over.
    x, y = micro_face(0.5, 4, 6)
    assert turn_to_rest(x, y, curvature) == pytest.approx(turn_to_rest(x, y, 0.0), abs=1e-9)
    gap = largest_gap(x, y, (0.0, 1.0), curvature)
    assert gap == pytest.approx(largest_gap(x, y, (0.0, 1.0), 0.0), abs=1e-9)


def test_a_profile_wider_than_the_hollow_does_not_fit():
    # By hand: 2 R = 6.
    assert fits_in([0, 6], [0, 0], 1 / 3)
    assert not fits_in([0, 6.01], [0, 0], 1 / 3)
    assert fits_in([0, 600], [0, 0], -1 / 3)
