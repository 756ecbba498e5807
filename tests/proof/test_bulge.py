"""Convex bevels from the bar, facets and lines, against hand arithmetic and polygons."""

import math

import numpy as np
import pytest
import shapely

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.build_case import build_case
from planner.proof.bulge import bulge_setups
from planner.proof.forms import blade_side
from planner.proof.over_arc import over_arc
from planner.proof.prove import prove_program
from tests.proof.bulge_by_hand import (
    BULGE_JOB,
    BULGE_LINES_JOB,
    FACET_DEPTHS_MM,
    FACET_RIDGE_MM,
    FACETS_DEG,
    MIDDLE,
    RADIUS_MM,
)
from tests.proof.by_hand import RACK_MACHINE, Pass, program
from tests.proof.conftest import changed
from tests.proof.operation_damages import BULGE_LINES, BULGE_WHEEL, flats, over_bulge

JOB, LINES_JOB = Job.model_validate(BULGE_JOB), Job.model_validate(BULGE_LINES_JOB)
MACHINE = Machine.model_validate(RACK_MACHINE)
COARSE = Machine.model_validate(changed(RACK_MACHINE, BULGE_WHEEL))


def test_the_set_ups_are_a_facet_each_or_one_for_lines():
    # By hand: three facets, turn by turn, the edge's first.
    facets = [f"bevel-{face}-{turn}" for turn in (1, 2, 3) for face in "AB"]
    assert bulge_setups(JOB, MACHINE) == [*facets, "relief-A", "relief-B"]
    assert bulge_setups(LINES_JOB, MACHINE) == ["bevel-A", "bevel-B", "relief-A", "relief-B"]


@pytest.mark.parametrize("number", [1, 2, 3])
def test_each_facet_proves_on_those_before_it(number):
    verdict = prove_program(flats(number).encode(), JOB, MACHINE)
    assert verdict.faults == ()
    angle, depth = math.radians(FACETS_DEG[number - 1]), FACET_DEPTHS_MM[number - 1]
    # By hand: a corner cut off h deep has the area h^2 (cot a + cot b) / 2.
    before = math.radians((90.0, *FACETS_DEG)[number - 1])
    wide = 1 / math.tan(before - angle) + 1 / math.tan(angle)
    reached = verdict.cuts[-1].reached_depth_mm
    taken = sum(cut.removed_area_mm2 for cut in verdict.cuts)
    assert taken == pytest.approx(wide * reached**2 / 2, abs=2e-6)
    (at, *_) = verdict.bevels
    short = depth - reached
    assert at.highest_mm == pytest.approx(short, abs=1e-6)
    assert at.gouge_mm == pytest.approx(0.0, abs=1e-9)
    if number == 1:
        assert at.edge_thickness_mm == pytest.approx(0.2 + short / math.cos(angle), abs=1e-6)
    else:
        # By hand: where two lines 5 deg apart meet, one of them short stands by / sin 5 deg along
        # the other: a ridge at the foot x from the touch, sqrt(r^2 + x^2) from the middle.
        along = RADIUS_MM * math.tan(math.radians(2.5)) + short / math.sin(math.radians(5.0))
        ridge = math.hypot(RADIUS_MM, along) - RADIUS_MM
        assert at.ridge_mm is not None
        assert at.ridge_mm == pytest.approx(ridge, abs=1e-6)
        assert FACET_RIDGE_MM <= at.ridge_mm < FACET_RIDGE_MM + 0.003


def test_lines_prove_and_their_ridges_are_those_of_two_circles():
    verdict = prove_program(over_bulge(BULGE_LINES).encode(), LINES_JOB, COARSE)
    assert verdict.faults == ()
    # By hand: four lines, 10/3 deg apart: on the line between two the wheels' circles end at
    # (r + R) cos - sqrt(R^2 - (r + R)^2 sin^2) from the middle of the arc.
    apart, half = RADIUS_MM + 75.0, math.radians(10.0 / 6.0)
    ridge = apart * math.cos(half) - math.sqrt(75.0**2 - (apart * math.sin(half)) ** 2) - RADIUS_MM
    (at, *_) = verdict.bevels
    assert at.ridge_mm is not None
    left = max(c.commanded_depth_mm - c.reached_depth_mm for c in verdict.cuts[-4:])
    assert ridge - 1e-6 <= at.ridge_mm < ridge + left + 2e-4
    assert at.gouge_mm == pytest.approx(0.0, abs=1e-6)


def test_heights_over_the_arc_are_seen_from_its_middle():
    side = blade_side(JOB.blade.section, "B")
    # By hand: a square corner 0.3 mm outside the arc on the ray at 15 deg, and a flat 0.1 inside.
    rays = np.radians([20.0, 17.0, 15.0, 13.0, 10.0])
    out = np.array([-0.1, -0.1, 0.3, -0.1, -0.1]) + RADIUS_MM
    points = [
        (MIDDLE[0] - r * math.sin(a), -(MIDDLE[1] + r * math.cos(a)))
        for a, r in zip(rays, out, strict=True)
    ]
    steel = shapely.Polygon([*points, (10.0, 5.0), (-1.0, 5.0)])
    found = over_arc(steel, side, "B", math.radians(20.0), math.radians(10.0))
    assert found.highest_mm == pytest.approx(0.3, abs=1e-9)
    # Between two of the lower points the straight line sags by r (1 - cos 1.5 deg).
    sag = (RADIUS_MM - 0.1) * (1.0 - math.cos(math.radians(1.5)))
    assert found.lowest_mm == pytest.approx(-0.1 - sag, abs=1e-9)


@pytest.mark.parametrize(
    ("flip", "tilt"), [("over", -15.0), ("by_tilt", 75.0), ("end_for_end", 15.0)]
)
def test_every_way_of_turning_the_blade_grinds_the_same_facet(flip, tilt):
    changes = {"fixture.flip": flip, "axes.A.travel": ["-95 deg", "95 deg"]}
    machine = Machine.model_validate(changed(RACK_MACHINE, changes))
    usual = prove_program(flats(2).encode(), JOB, MACHINE)
    turned = prove_program(flats(2, setup="bevel-B-2", tilt_deg=tilt).encode(), JOB, machine)
    assert turned.faults == ()
    # Property: at the same depth the same is taken, however the blade is held.
    assert [c.removed_area_mm2 for c in turned.cuts] == pytest.approx(
        [c.removed_area_mm2 for c in usual.cuts], abs=1e-7
    )


def test_a_relief_begins_on_the_arc_itself():
    text = program("relief-A", "form", [Pass(-0.005, 0.005)], tilt_deg=15.0)
    verdict = prove_program(text.encode(), JOB, MACHINE)
    (cut,) = verdict.cuts
    # By hand: two circles of 20 and 19.95 mm overlap by h: half a chord sqrt(2 h / (1/R + 1/r)).
    h = cut.reached_depth_mm
    half = math.sqrt(2 * h / (1 / 20.0 + 1 / RADIUS_MM))
    assert cut.removed_area_mm2 == pytest.approx(4 / 3 * half * h, rel=2e-3)


def test_the_second_relief_stands_on_what_the_first_left():
    machine = Machine.model_validate(changed(RACK_MACHINE, {"fixture.jaws": None}))
    wheel = next(w for w in machine.rack if w.name == "form")
    case = build_case(JOB, machine, "relief-B", wheel)
    # By hand: between lands of 0.9 mm the wheel's circle of 20 mm is gone from face A, at the
    # angle half way, and face B is whole.
    width = RADIUS_MM * math.radians(10.0)
    lean = math.radians(20.0) - width / 2.0 / RADIUS_MM
    half = RADIUS_MM * math.sin((width - 1.8) / 2.0 / RADIUS_MM)
    apart = math.sqrt(20.0**2 - half**2) + math.sqrt(RADIUS_MM**2 - half**2)
    centre = (MIDDLE[0] - apart * math.sin(lean), MIDDLE[1] + apart * math.cos(lean))
    assert shapely.distance(shapely.Point(centre), case.blank) == pytest.approx(20.0, abs=2e-6)
    outside = shapely.box(-1.0, -2.0, 20.0, 0.0)
    arc = shapely.Point(MIDDLE[0], -MIDDLE[1]).buffer(RADIUS_MM, 20000)
    left = case.blank.intersection(outside).difference(arc)
    # Of the lower half nothing is missing but what lies outside its own arc and flank.
    assert left.intersection(shapely.box(0.0, -2.0, 3.0, 0.0)).area < 1e-4
    assert case.blank.contains(shapely.Point(0.01, -0.05))
