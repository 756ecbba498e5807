"""What a wheel may measure where the programs hold the lands: against wheels of points, by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.inputs.edge_paths import ArcEdge
from planner.inputs.load import load_pair
from planner.kinematics.sizes_held import SizesHeld, least_radius_on_turn
from planner.report.path_words import size_sentence
from planner.report.plan_json import plan_data
from planner.report.wheel_words import sizes_that_hold_words
from tests.commands import ROOT
from tests.planning import planned, sheet_text
from tests.test_slides import Bench, made
from tests.torus import ends_of


def worst_land_mm(plan, radius, rim):
    """How far a land is off at the worst of five stations, either way, with another wheel."""
    (setup,) = plan.setups
    bench, path, depth = Bench(plan.job.model, setup), setup.followed.path, setup.work.depth_mm
    up = bench.directions[2]
    # The inside of this hook lies square to the infeed: touched off, its middle is so much higher.
    zero = bench.zero + (radius - bench.radius) * up
    bench.radius, bench.rim = radius, rim
    asked, off = setup.relief.chord_mm / 2, []
    for s in (0.0, bench.length / 4, bench.anchor, bench.length):
        near = s + np.linspace(-4.0, 4.0, 801)
        centres = zero + path.at_depth(near, depth) @ bench.directions
        across = np.linspace(-1.4 * asked, 1.4 * asked, 81)
        low, high = ends_of(across, bench.section_left(centres, s, across), 0.0)
        off.append((high - low) / 2 - asked)
    return max(off, key=abs)


def test_the_ends_of_the_range_leave_lands_at_their_tolerance():
    # Property: a torus of that size on the very way of the planned one. The depth is reckoned to
    # the first order of the difference in size: within a hundredth of the tolerance here.
    plan, _ = made("hook inside")
    held, tolerance = plan.sizes_held, plan.job.model.relief.land_tolerance_mm
    small, large = held.radii_mm
    assert worst_land_mm(plan, large, 40.0) == pytest.approx(tolerance, rel=0.01)
    assert worst_land_mm(plan, small, 40.0) == pytest.approx(-tolerance, rel=0.01)
    flat, flatter = held.rim_radii_mm
    assert worst_land_mm(plan, 20.0, flat) == pytest.approx(-tolerance, rel=0.01)
    assert worst_land_mm(plan, 20.0, flatter) == pytest.approx(tolerance, rel=0.01)


def test_a_rim_as_the_finding_had_it_is_no_longer_said_to_hold():
    # By hand: sqrt(d (2 r - d)) of the rim alone; along a belly what is left at its ends counts
    # too, so the range is no wider than that of a straight edge.
    plan, _ = made("belly, another form")
    relief = plan.setups[0].relief
    half, depth = relief.chord_mm / 2, relief.depth_mm
    tolerance = plan.job.model.relief.land_tolerance_mm
    least, most = (((half + e) ** 2 / depth + depth) / 2 for e in (-tolerance, tolerance))
    low, high = plan.sizes_held.rim_radii_mm
    assert least - 0.01 <= low < 60.0 < high <= most + 0.01
    assert high - low < most - least - 0.5


def test_a_spindle_along_the_edge_asks_for_a_larger_wheel():
    # By hand: it stands R over the inside and leaves it at arccos((ρ - R)/ρ): R = ρ (1 - cos 70).
    files = ROOT / "jobs" / "hook-knife.yaml", ROOT / "machines" / "turn-xyzc.yaml"
    changes = ["blade.edge.angle=70 deg", "relief.faces=B"]
    job = load_pair(*files, changes)[0].model
    plan, _ = made("hook inside")
    (setup,) = plan.setups
    wheel = setup.work.wheel.model_copy(
        update={"contact": "along_edge", "diameter_mm": 58.0, "form_radius_mm": None}
    )
    work = replace(setup.work, wheel=wheel)
    assert isinstance(job.edge, ArcEdge)
    inside = job.edge.radius_mm - setup.work.face.flank_mm
    found = least_radius_on_turn(job, work)
    assert found == pytest.approx(inside * (1 - math.cos(math.radians(70))), abs=0.002)


def test_two_faces_hold_what_both_hold():
    # By hand.
    one = SizesHeld((1.0, 5.0), (2.0, 9.0))
    two = SizesHeld((2.0, 6.0), (1.0, 8.0))
    assert one.both(two) == SizesHeld((2.0, 5.0), (2.0, 8.0))


def test_it_is_told_on_sheet_plan_and_in_the_data():
    # By hand: 50 µm more of radius, (1 - cos 50) of it.
    plan, _ = made("hook inside")
    deeper = f"up to {50 * (1 - math.cos(math.radians(50))):.1f} µm too deep"
    told = size_sentence(plan, plan.setups[0])
    assert deeper in told
    assert "written for a wheel of 40.000 mm over all" in told
    sheet = " ".join(sheet_text(plan, plan.setups[0]).split())
    assert "Measure the wheel as it is now" in sheet
    assert deeper in sheet
    low, high = plan_data(plan, ())["sizes_held"]["diameters_over_all_mm"]
    assert 39.9 < low < 40.0 < high < 40.12
    words = sizes_that_hold_words(plan.wheel, plan.wheel_wear.diameters_mm, plan.sizes_held)
    # Rounded to the safe side.
    assert words.startswith(f"a wheel of {math.ceil(low * 100) / 100:.2f} to ")


def test_a_straight_edge_says_nothing_of_it():
    files = ROOT / "jobs" / "straight-knife.yaml", ROOT / "machines" / "wheel-xyza.yaml"
    loaded = load_pair(*files, [])
    plan = planned(loaded[0].model, loaded[1].model)
    assert plan.sizes_held is None
    assert size_sentence(plan, plan.setups[0]) == ""
    assert plan_data(plan, ())["sizes_held"] is None
