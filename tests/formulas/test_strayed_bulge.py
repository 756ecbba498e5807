"""Lands of bulging faces, against arcs of points that are turned, shifted and looked through."""

import numpy as np
import pytest

from planner.formulas.strayed import strayed_lands
from planner.formulas.strayed_bulge import BulgingFace, strayed_bulge_lands

POINTS = 400_001


class Arc:
    """The face of one blade as points along its arc, in the frame of the nominal face's middle."""

    def __init__(self, face, thicker=0.0, bevel=0.0, tilt=0.0, *, on_seat=False):
        rho, edge, middle, width, kappa, flank = face
        end, slope = edge - width / rho, np.tan(flank)
        flank_at_edge = rho * (np.cos(end) - np.cos(edge))
        flank_at_edge -= slope * rho * (np.sin(edge) - np.sin(end))
        # From the edge on the face grows flatter, until it meets the flank.
        steep = np.linspace(edge + bevel, min(flank, 0.0), POINTS)
        height = rho * (np.cos(steep) - np.cos(edge + bevel))
        out = rho * (np.sin(edge + bevel) - np.sin(steep))
        room = flank_at_edge + kappa * thicker + slope * out - height
        last = int(np.flatnonzero(room < 0)[0])
        self.angles = steep[:last]
        meets = np.interp(0.0, room[[last, last - 1]], steep[[last, last - 1]])
        self.length = rho * (edge + bevel - meets)
        self.along = rho * (edge + bevel - self.angles)
        # In the blade's own frame y runs with the centre plane and z out of it.
        y = -rho * np.sin(self.angles) + rho * np.sin(edge + bevel)
        z = rho * np.cos(self.angles) - rho * np.cos(edge + bevel)
        points = (y + 1j * z) * np.exp(1j * (tilt - middle))
        # The edge of the nominal face, seen from the middle of its relief.
        corner = 1j * rho * (np.exp(-1j * (middle - edge)) - 1)
        seat = 1j * thicker / 2 * np.exp(1j * (tilt - middle)) if on_seat else 0.0
        self.points = points + corner + seat

    def bares_at(self, place, radius):
        """Height of a wheel that comes straight down over a place until it touches."""
        beside = self.points.real - place
        near = np.abs(beside) < radius
        up = self.points.imag[near] + np.sqrt(radius**2 - beside[near] ** 2)
        return up.max()

    def lands(self, centre, radius):
        """Along the arc, before the first and after the last point inside the wheel."""
        inside = np.flatnonzero(np.abs(self.points - centre) < radius)
        return self.along[inside[0]], self.length - self.along[inside[-1]]


@pytest.mark.parametrize("flank", [0.0, 0.03, -0.1])
@pytest.mark.parametrize("touching", ["mark", "stop", "batch"])
@pytest.mark.parametrize("seed", range(6))
def test_lands_are_where_the_wheel_cuts_the_arc(touching, seed, flank):
    rng = np.random.default_rng(seed)
    rho, edge = rng.uniform(20, 60), rng.uniform(0.3, 0.5)
    width = rng.uniform(0.5, 0.8) * rho * edge
    face = BulgingFace(rho, edge, edge - width / 2 / rho, width, rng.choice([0.5, 1.0]), flank)
    radius, infeed, beside = rng.uniform(10, 80), rng.uniform(0.1, 0.2), rng.uniform(-0.3, 0.3)
    thicker, bevel, tilt = rng.normal(0, 0.01), rng.normal(0, 0.004), rng.normal(0, 0.004)
    if flank > 0.0:  # a face that is further off runs out level before it meets this flank
        thicker, bevel = 0.3 * thicker, 0.3 * bevel
    batch = touching == "batch"
    blade = Arc(face, thicker, bevel, tilt, on_seat=batch)
    if touching == "mark":
        # The wheel is shifted until it bares where its mark is wanted on this very face.
        at = np.argmin(np.abs(blade.along - (width / 2 + beside)))
        normal = 1j * np.exp(1j * (blade.angles[at] + tilt - face.middle_rad))
        centre = blade.points[at] + radius * normal - 1j * infeed
    else:
        first = Arc(face, tilt=tilt) if batch else blade
        centre = beside + 1j * (first.bares_at(beside, radius) - infeed)
    expected = blade.lands(centre, radius)
    found = strayed_bulge_lands(
        touching, face, beside, radius, infeed,
        thickness_error_mm=thicker, bevel_error_rad=bevel, tilt_error_rad=tilt,
    )  # fmt: skip
    # Property: two constructions; the points stand 5e-5 mm apart.
    assert [float(v) for v in found[:2]] == pytest.approx(expected, abs=3e-4)


@pytest.mark.parametrize("touching", ["mark", "stop", "batch"])
def test_a_very_large_arc_is_a_flat_face(touching):
    rho, width = 1e6, 7.0
    errors = {"thickness_error_mm": 0.01, "bevel_error_rad": 0.001, "tilt_error_rad": -0.0005}
    # The edge lies half the width before the middle.
    edge = 0.22 + width / 2 / rho
    bulging = strayed_bulge_lands(
        touching, BulgingFace(rho, edge, 0.22, width, 0.5), 0.1, 50.0, 0.04, **errors
    )
    flat = strayed_lands(touching, 0.22, width, 0.5, width / 2 + 0.1, 50.0, 0.04, **errors)
    # Property: the limit.
    assert [float(v) for v in bulging] == pytest.approx([float(v) for v in flat], abs=2e-4)


def test_a_wheel_that_does_not_reach_leaves_no_relief():
    face = BulgingFace(40.0, 0.4, 0.3, 8.0, 0.5)
    found = strayed_bulge_lands("mark", face, 0.0, 50.0, -0.01)
    # By hand: the middle lies 40 * 0.1 along the arc.
    assert (found.edge_land_mm, found.shoulder_land_mm) == pytest.approx((4.0, 4.0))
    assert found.depth_mm == pytest.approx(-0.01)


@pytest.mark.parametrize(
    ("face", "name"),
    [
        (BulgingFace(0.0, 0.4, 0.3, 8.0, 0.5), "radius_mm"),
        (BulgingFace(40.0, 2.0, 0.3, 8.0, 0.5), "edge_rad"),
        (BulgingFace(40.0, 0.4, 0.3, 0.0, 0.5), "width_mm"),
    ],
)
def test_out_of_range_is_refused_by_name(face, name):
    with pytest.raises(ValueError, match=name):
        strayed_bulge_lands("mark", face, 0.0, 50.0, 0.01)
