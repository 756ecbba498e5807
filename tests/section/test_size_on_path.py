"""A wheel of another size than its programs': by hand, against wheels of points, and drawn."""

import math

import numpy as np
import pytest
from scipy import stats

from planner.formulas.wheel_support import deeper_by_size
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.scatter.cases import scatter_of_fit
from planner.section.size_on_path import size_on_path
from tests.commands import ROOT
from tests.test_slides import Bench, made, models

FOLLOWED = ("hook inside", "hook outside", "belly", "belly, another form", "swept")


def cause_of(plan, name):
    return next(c for c in plan.spreads[0].causes if c.name == name)


def test_inside_a_bend_by_hand():
    # By hand: the inside of this hook lies level, its wheel turns in the plane of the arc: of a
    # wheel e larger, touched off in the middle, e of the way out is e cos 50 at the end, and it
    # digs e there: e (1 - cos 50), half of that for its diameter. A rim touches with its middle.
    plan, _ = made("hook inside")
    cause = cause_of(plan, "wheel diameter on the path")
    per = plan.spreads[0].land_change_per_depth * (1 - math.cos(math.radians(50))) / 2
    assert cause.edge_land_per_unit == pytest.approx(-per)
    assert cause.shoulder_land_per_unit == pytest.approx(-per)
    assert cause.sd == pytest.approx(0.02)
    size = size_on_path(plan.job.model, plan.machine.model, plan.wheel, plan.setups[0].work.face)
    assert size.per_rim_radius == 0.0


def test_along_the_edge_it_is_the_crown_that_counts():
    # By hand: an axis along the traverse, a level face in an arc: the crown's circle lies in the
    # plane of the arc, and its middle stands R - r straight over it whatever R is.
    middle, axis = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
    for degrees in (20, 40, 60):
        a = math.radians(degrees)
        deeper = deeper_by_size([math.sin(a), 0.0, math.cos(a)], axis, middle, middle)
        assert deeper.per_wheel_radius == pytest.approx(0.0, abs=1e-12)
        assert deeper.per_rim_radius == pytest.approx(1 - math.cos(a))


@pytest.mark.parametrize("case", FOLLOWED)
@pytest.mark.parametrize(("larger", "rounder"), [(0.01, 0.0), (-0.01, 0.0), (0.0, 0.01)])
def test_a_wheel_of_points_of_another_size(case, larger, rounder):
    # Property: the very way of the planned wheel, gone by a torus of another size that touching
    # off at the anchor has put at the right depth there. What is of the second order, where the
    # contact moves along the edge, is e² sin² 50 / 2 (30 - 20) at most: 3 nm of e = 10 µm.
    plan, _ = made(case)
    for setup in plan.setups:
        bench, path, depth = Bench(plan.job.model, setup), setup.followed.path, setup.work.depth_mm
        bench.radius, bench.rim = bench.radius + larger, bench.rim + rounder
        off = {}
        infeed = bench.directions[2]
        for s in (bench.anchor, 0.0, bench.length / 3, bench.length):
            near = s + np.linspace(-3.0, 3.0, 601)
            stands = path.at_depth(near, depth)
            centres = bench.face(bench.anchor)[0] + (bench.radius - larger) * bench.face(
                bench.anchor)[2] + larger * infeed + stands @ bench.directions  # fmt: skip
            heights = bench.section_left(centres, s, np.linspace(-0.2, 0.2, 5))
            off[s] = -heights.min() - depth
        assert off[bench.anchor] == pytest.approx(0.0, abs=2e-6)
        size = size_on_path(plan.job.model, plan.machine.model, plan.wheel, setup.work.face)
        worst = abs(larger) * size.per_wheel_radius + abs(rounder) * size.per_rim_radius
        up = bench.face(bench.anchor)[2]
        for s, found in off.items():
            normal = bench.face(s)[2]
            deeper = deeper_by_size(normal, bench.axis, up, infeed)
            expected = larger * deeper.per_wheel_radius + rounder * deeper.per_rim_radius
            assert found == pytest.approx(float(expected), abs=2e-6)
            assert abs(found) <= worst + 2e-6
        ends = max(abs(off[0.0]), abs(off[bench.length]))
        assert ends == pytest.approx(worst, abs=2e-6)


def the_hook(*changes):
    loaded = load_pair(
        ROOT / "jobs" / "hook-inside.yaml", ROOT / "machines" / "form-xyz.yaml", list(changes)
    )
    return loaded[0].model, loaded[1].model


def test_blades_drawn_with_a_wheel_of_another_size_alone():
    # By hand, and scipy's normal law: at the end a wheel e larger in diameter goes
    # e (1 - cos 50)/2 deeper, and half a chord is sqrt(d (2r - d)).
    nothing = [f"machine.fixture.{k}=0 mm" for k in ("touch_off", "cross_setting", "path_off")]
    nothing += ["machine.axes.Z.repeatability=0 mm", "spread.thickness=0 mm"]
    nothing += ["spread.bevel_angle=0 deg", "quantity=1"]
    job, machine = the_hook(*nothing)
    fit = section_fit(job, machine)
    (wheel,) = [w for w in machine.rack if w.name == fit.wheel.name]
    wheel = wheel.model_copy(update={"diameter_error_mm": 0.06, "form_radius_error_mm": 0.0})
    still = {
        "Y": {"repeatability_mm": 0.0, "resolution_mm": 1e-6},
        "Z": {"resolution_mm": 1e-6},
        "A": {"repeatability_deg": 0.0, "resolution_deg": 1e-6},
    }
    axes = {k: a.model_copy(update=still.get(k, {})) for k, a in machine.axes.items()}
    machine = machine.model_copy(update={"rack": [wheel], "axes": axes})
    fit = section_fit(job, machine)
    found = scatter_of_fit(job, machine, fit, 20_000, 1)
    d, r, tolerance = 0.05, 40.0, 0.35
    half = math.sqrt(d * (2 * r - d))
    high = r - math.sqrt(r * r - (half + tolerance) ** 2) - d
    low = r - math.sqrt(r * r - (half - tolerance) ** 2) - d
    sd = 0.06 / 2 * (1 - math.cos(math.radians(50)))
    expected = stats.norm.cdf(high / sd) - stats.norm.cdf(low / sd)
    assert 0.8 < expected < 0.99
    assert found.share == pytest.approx(
        expected, abs=4 * math.sqrt(expected * (1 - expected) / 20_000)
    )
    assert found.matters_most == "wheel diameter on the path"


def test_the_straight_line_and_the_draws_agree_on_the_hook():
    # Property: with the wheel measured to 0.02 mm both tell the same; with a caliper, 0.2 mm, so
    # shallow a relief is often not ground at all, and both tell that it cannot be held.
    job, machine = the_hook()
    fit = section_fit(job, machine)
    found = scatter_of_fit(job, machine, fit, 10_000, 1)
    assert found.straight_line_holds
    rack = [w.model_copy(update={"diameter_error_mm": 0.2}) for w in machine.rack]
    coarse = machine.model_copy(update={"rack": rack})
    fit = section_fit(job, coarse)
    found = scatter_of_fit(job, coarse, fit, 10_000, 1)
    assert fit.share_in_tolerance < 0.5
    assert found.share < 0.5


def test_wear_leaves_the_ends_too_shallow():
    # By hand: touched off at the anchor for each blade, a wheel that has lost w about its axis
    # goes w (1 - cos 50) less deep at the ends.
    job, _ = models("hook inside")
    plan, _ = made("hook inside")
    wear = plan.wheel_wear
    assert job.quantity == 4
    per = plan.spreads[0].land_change_per_depth * (1 - math.cos(math.radians(50)))
    assert wear.land_growth_mm == pytest.approx(per * wear.at_last_mm, rel=1e-9)
    assert wear.at_last_mm > 0
