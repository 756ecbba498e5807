"""Lands of blades that are a little off, against a blade and a wheel moved about in the plane.

Here a blade is a line from a corner, turned and shifted by complex numbers; where the wheel touches
and crosses it is found by a search. Nothing of the formula's algebra is used.
"""

import numpy as np
import pytest
from scipy import optimize

from planner.formulas.strayed import strayed_lands


class Bench:
    """The plane: the nominal face lies along the real axis, its edge at 0, steel below it."""

    def __init__(self, beta, rise, rise_per_thickness, flank=0.0):
        self.beta, self.rise, self.rise_per_thickness = beta, rise, rise_per_thickness
        self.flank = flank

    def blade(self, thicker=0.0, bevel=0.0, tilt=0.0, *, on_seat=False, lower=0.0):
        """Corner, direction and length of the face of one blade as it is held."""
        # In the blade's own frame the centre plane is real; its nominal face lies at beta to it.
        to_bench = np.exp(1j * (tilt - self.beta))
        rise = thicker / 2 * 1j if on_seat else 0.0
        # The corner of the nominal blade is the bench's zero; edges are alike.
        corner = rise * to_bench
        direction = np.exp(1j * (self.beta + bevel)) * to_bench
        corner = corner - lower * 1j * direction
        rise = self.rise + self.rise_per_thickness * thicker
        return corner, direction, self.length(rise, bevel)

    def length(self, rise, bevel):
        """From the corner to where the face meets the flank, that high over it; searched for."""

        def room(s):
            on_face = s * np.exp(1j * (self.beta + bevel))
            return rise + np.tan(self.flank) * on_face.real - on_face.imag

        return optimize.brentq(room, 0.0, 200.0, xtol=1e-12)


def distance(centre, corner, direction):
    """From the wheel's centre to the face's line, outward positive."""
    return ((centre - corner) * np.conj(direction)).imag


def lands(centre, radius, corner, direction, length):
    """Where the circle crosses the face, searched for to either side of the foot."""
    foot = ((centre - corner) * np.conj(direction)).real

    def outside(s):
        return abs(corner + s * direction - centre) - radius

    if outside(foot) >= 0:
        return foot, length - foot
    first = optimize.brentq(outside, foot - 2 * radius, foot, xtol=1e-12)
    last = optimize.brentq(outside, foot, foot + 2 * radius, xtol=1e-12)
    return first, length - last


def touched(bench, place, radius, blade):
    """Height over the nominal face at which the wheel bares, straight down over a place."""

    def gap(height):
        return distance(place + 1j * height, *blade[:2]) - radius

    return optimize.brentq(gap, -radius, 3 * radius, xtol=1e-12)


@pytest.mark.parametrize("flank", [0.0, 0.07, -0.1])
@pytest.mark.parametrize("touching", ["mark", "stop", "batch"])
@pytest.mark.parametrize("seed", range(12))
def test_lands_are_where_the_circle_crosses(touching, seed, flank):
    rng = np.random.default_rng(seed)
    beta, rise, kappa = rng.uniform(0.15, 0.5), rng.uniform(1, 2), rng.choice([0.5, 1.0])
    bench = Bench(beta, rise, kappa, flank)
    radius, infeed = rng.uniform(10, 100), rng.uniform(0.01, 0.2)
    place = rng.uniform(2, 4)
    thicker, bevel, tilt = rng.normal(0, 0.05), rng.normal(0, 0.01), rng.normal(0, 0.01)
    lower = rng.choice([0.0, 0.004])
    batch = touching == "batch"
    whole = bench.blade(thicker, bevel, tilt, on_seat=batch)
    if touching == "mark":
        # The wheel is shifted until it bares at the place on this very face.
        corner, direction, _ = whole
        centre = corner + (place + 1j * radius) * direction - 1j * infeed
    else:
        first = bench.blade(tilt=tilt) if batch else whole
        centre = place + 1j * (touched(bench, place, radius, first) - infeed)
    ground = bench.blade(thicker, bevel, tilt, on_seat=batch, lower=lower)
    expected = lands(centre, radius, *ground)
    width = bench.length(rise, 0.0)
    found = strayed_lands(
        touching, beta, width, kappa, place, radius, infeed,
        thickness_error_mm=thicker, bevel_error_rad=bevel, tilt_error_rad=tilt,
        face_error_mm=lower, flank_rad=flank,
    )  # fmt: skip
    # Property: two constructions of one figure.
    assert [float(v) for v in found[:2]] == pytest.approx(expected, abs=1e-9)
    assert found.depth_mm == pytest.approx(radius - distance(centre, *ground[:2]), abs=1e-9)


def test_a_wheel_that_does_not_reach_leaves_no_relief():
    found = strayed_lands("mark", 0.2, 8.0, 0.5, 4.0, 50.0, np.array([-0.01, 0.0, 0.01]))
    # By hand: no chord, so both lands meet at 4; below it the chord is 2 sqrt(0.01 * 99.99).
    assert found.edge_land_mm == pytest.approx([4.0, 4.0, 4.0 - np.sqrt(0.9999)])
    assert found.depth_mm == pytest.approx([-0.01, 0.0, 0.01])


def test_a_face_behind_a_micro_bevel_begins_later():
    whole = strayed_lands("mark", 0.2, 8.0, 0.5, 4.0, 50.0, 0.01)
    behind = strayed_lands("mark", 0.2, 7.3, 0.5, 4.0, 50.0, 0.01, start_mm=0.7)
    # By hand: the edge land begins 0.7 later, the shoulder is where it was.
    assert behind.edge_land_mm == pytest.approx(whole.edge_land_mm - 0.7)
    assert behind.shoulder_land_mm == pytest.approx(whole.shoulder_land_mm)


def test_a_face_parallel_to_the_centre_plane_keeps_its_width():
    found = strayed_lands(
        "mark", 0.0, 8.0, 0.0, 4.0, 5.0, 2.0, thickness_error_mm=[0.0, 0.1], bevel_error_rad=0.0
    )
    # By hand: a 3-4-5 triangle about the middle of 8; a flat back ends at the spine.
    assert np.broadcast_to(found.edge_land_mm, (2,)) == pytest.approx([0.0, 0.0])
    assert np.broadcast_to(found.shoulder_land_mm, (2,)) == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"wheel_radius_mm": 0.0}, "wheel_radius_mm"),
        ({"bevel_rad": 2.0}, "bevel_rad"),
        ({"face_width_mm": 0.0}, "face_width_mm"),
        ({"rise_per_thickness": 2.0}, "rise_per_thickness"),
        ({"bevel_error_rad": 1.0, "tilt_error_rad": 1.0}, "error of the angles"),
    ],
)
def test_out_of_range_is_refused_by_name(change, name):
    sound = {
        "touching": "mark", "bevel_rad": 0.2, "face_width_mm": 8.0, "rise_per_thickness": 0.5,
        "place_mm": 4.0, "wheel_radius_mm": 50.0, "infeed_mm": 0.01,
    }  # fmt: skip
    with pytest.raises(ValueError, match=name):
        strayed_lands(**{**sound, **change})
