"""A relief in parallel lines, against polygons and by hand."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from planner.errors import RefusedError
from planner.passes.lines import Generating, generated_schedules
from planner.produce import produce
from planner.report.refusals import refusal_words, way_out_words
from planner.section.line_arcs import Arc
from tests.planning import planned
from tests.samples import a_job, a_machine

ARC, WHEEL, DEPTH, SCALLOP = 75.0, 40.0, 0.03, 0.001
GIVEN = Arc(ARC, WHEEL, DEPTH, SCALLOP)
HALF = math.sqrt(DEPTH * (2 * ARC - DEPTH))


def test_lines_lie_inside_the_arc_and_touch_it():
    lines = GIVEN.lines()
    for line in lines:
        # By hand: the wheel's centre lies WHEEL above its lowest point, the arc's ARC above its
        # own; inside and touching means that the two lie ARC - WHEEL apart.
        up = (ARC - DEPTH) - (WHEEL - (DEPTH - line.back_mm))
        assert math.hypot(line.along_mm, up) == pytest.approx(ARC - WHEEL, abs=1e-9)
    places = [line.along_mm for line in lines]
    assert places == sorted(places)
    assert places == pytest.approx([-p for p in reversed(places)], abs=1e-12)


def test_the_ends_of_the_outermost_lines_are_the_lands():
    first = GIVEN.lines()[0]
    low = DEPTH - first.back_mm
    # By hand: where that circle meets the face on the outside.
    reach = math.sqrt(low * (2 * WHEEL - low))
    assert first.along_mm - reach == pytest.approx(-HALF, abs=1e-9)


def surface(lines):
    """The face under all lines, by polygons: depth at places across it."""
    rims = [
        shapely.Point(line.along_mm, WHEEL - (DEPTH - line.back_mm)).buffer(WHEEL, 4096)
        for line in lines
    ]
    ground = shapely.union_all(rims)
    places = np.linspace(-1.1 * HALF, 1.1 * HALF, 801)
    low = []
    for x in places:
        below = ground.intersection(shapely.LineString([(x, 0.0), (x, -1.0)]))
        low.append(0.0 if below.is_empty else -below.bounds[1])
    return places, np.array(low)


@pytest.mark.parametrize("scallop", [0.0005, 0.002, 0.01])
def test_the_relief_is_within_the_scallop_of_the_arc_and_no_land_is_cut(scallop):
    places, depth = surface(replace(GIVEN, scallop_mm=scallop).lines())
    inside = np.abs(places) <= HALF
    ideal = np.sqrt(ARC**2 - places[inside] ** 2) - (ARC - DEPTH)
    short = ideal - depth[inside]
    # Property: never deeper than the arc, nor shallower by more than the ridge. Measured along
    # the face's normal; 0.2 um for the polygons' chords.
    assert short.min() >= -2e-4
    assert short.max() <= scallop + 2e-4
    assert depth[~inside].max() <= 2e-4


def test_fewer_lines_than_these_would_stand_higher():
    lines = GIVEN.lines()
    wider = [line for n, line in enumerate(lines) if n % 2 == 0]
    _, close = surface(lines)
    places, apart = surface(wider)
    assert len(lines) >= 5
    middle = np.abs(places) < abs(lines[0].along_mm)
    assert (close - apart)[middle].max() > SCALLOP


GENERATED = {
    "relief__edge_land": "1.2 mm",
    "relief__shoulder_land": "1.4 mm",
    "relief__depth": "0.0312 mm",
    "relief__scallop": "0.001 mm",
    "relief__faces": "A",
    "relief__land_tolerance": "0.3 mm",
}
SMALL = {"rack__0__diameter": "80 mm", "rack__0__marked_speed": "8000 rpm"}


@cache
def generated_plan():
    return planned(a_job(**GENERATED), a_machine(**SMALL))


def test_a_plan_in_lines_keeps_infeed_force_and_power():
    plan = generated_plan()
    (setup,) = plan.setups
    machine, wheel = plan.machine.model, setup.work.wheel
    assert setup.work.in_lines
    # By hand: the arc through 4.25 mm between lands 0.0312 deep has a radius of about 72.
    assert plan.section.wheel_radius_mm == pytest.approx(
        (plan.section.reliefs[0].chord_mm ** 2 / 4 + 0.0312**2) / 2 / 0.0312
    )
    places = sorted({round(p.along_mm, 9) for p in setup.passes})
    assert len(places) >= 4
    for one in setup.passes:
        assert one.normal_force_n <= machine.limits.normal_force_n
        assert one.power_w <= machine.spindle.power_w * machine.spindle.efficiency
        # By hand: F_n = u A v_f / (v_s lambda) at the middle of the edge.
        force = 40 * one.removed_area_mm2 * one.feed_mm_min / 60
        force /= setup.heated.cutting.surface_speed_m_s * 0.4
        assert one.normal_force_n == pytest.approx(force, rel=1e-9, abs=1e-12)
        # By hand: the spring, 2000 N/mm.
        assert one.deflection_mm * 2000 == pytest.approx(force, rel=1e-3, abs=1e-4)
    for place in places:
        depths = [p.commanded_depth_mm for p in setup.passes if abs(p.along_mm - place) < 1e-9]
        steps = np.diff([0.0, *depths])
        assert steps.max() <= wheel.infeed.rough_mm + 1e-9
        assert steps.min() >= -1e-12


def test_what_the_lines_take_adds_up_to_the_relief():
    plan = generated_plan()
    (setup,) = plan.setups
    taken = sum(p.removed_area_mm2 for p in setup.passes)
    radius = plan.section.wheel_radius_mm
    # By hand: the segment of the arc, R^2 (a - sin a cos a), less what rounding, spring and ridges
    # leave: no more than their depths over the chord.
    half = math.acos(1 - 0.0312 / radius)
    whole = radius**2 * (half - math.sin(half) * math.cos(half))
    left = (setup.schedule.shortfall_mm + 0.001) * plan.section.reliefs[0].chord_mm
    assert whole - left <= taken <= whole * (1 + 1e-3)


def test_on_a_rigid_machine_every_line_reaches_what_it_is_sent_to():
    plan = planned(a_job(**GENERATED), a_machine(**SMALL, stiffness="900000 N/mm"))
    for one in plan.setups[0].passes:
        assert one.deflection_mm < 1e-4
    assert all(p.kind != "spark_out" for p in plan.setups[0].passes)


def test_a_soft_machine_goes_over_the_last_layer_again():
    soft = planned(a_job(**GENERATED), a_machine(**SMALL, stiffness="250 N/mm"))
    (setup,) = soft.setups
    again = [p for p in setup.passes if p.kind == "spark_out"]
    assert again
    assert setup.schedule.deflection_left_mm <= 0.25 * setup.depth_tolerance_mm + 1e-9
    assert len(setup.passes) > len(generated_plan().setups[0].passes)


def test_a_force_limit_makes_thinner_layers():
    base = generated_plan().setups[0]
    most = max(p.normal_force_n for p in base.passes)
    limited = planned(
        a_job(**GENERATED), a_machine(**SMALL, limits__normal_force=f"{most / 2:.3f} N")
    )
    (setup,) = limited.setups
    assert max(p.normal_force_n for p in setup.passes) <= most / 2
    assert (
        "normal force" in setup.binding or setup.passes[0].feed_mm_min < base.passes[0].feed_mm_min
    )


def test_the_order_that_wins_is_never_slower():
    cutting = generated_plan().setups[0].heated.cutting
    cutting = replace(cutting, feeds_mm_min=cutting.feeds_mm_min[:1])
    task = Generating(
        arc=GIVEN,
        placed=lambda along, depth_at: (along, depth_at(along)),
        most_bite_mm=0.01,
        allowed_mm=0.002,
        worn_by_mm=lambda removed: 0.0,
        wheel_name="fine",
        earlier_mm3=0.0,
        edge_length_mm=80.0,
    )
    found = generated_schedules(cutting, task)
    assert {g.order for g in found} == {"across", "middle_out"}
    times = [g.passes_s for g in found]
    assert times == sorted(times)


@pytest.mark.parametrize(
    ("job", "machine", "rule"),
    [
        ({}, {"axes__Y": None}, "lines-need-cross"),
        (
            {},
            {"rack__0__diameter": "160 mm", "rack__0__marked_speed": "8000 rpm"},
            "wheel-over-arc",
        ),
        ({"relief__shoulder_land": "6 mm"}, {}, "lands-overlap"),
        ({"relief__depth": "3 mm"}, {}, "deeper-than-wide"),
        (
            {
                "relief__faces": "both",
                "blade__section": {
                    "form": "double_bevel",
                    "thickness": "3 mm",
                    "width": "20 mm",
                    "angle_a": "12 deg",
                    "angle_b": "13 deg",
                },
            },
            {},
            "arcs-differ",
        ),
        ({}, {"limits__normal_force": "0.01 N"}, "no-pass-light-enough"),
    ],
)
def test_what_cannot_be_generated_is_refused_in_words(job, machine, rule):
    changes = {**SMALL, **machine}
    without = changes.pop("axes__Y", 0) is None
    shop = a_machine(**changes)
    if without:
        shop = shop.model_copy(update={"axes": {k: a for k, a in shop.axes.items() if k != "Y"}})
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**{**GENERATED, **job}), shop)
    rules = [r.rule for r in refused.value.refusals]
    assert rules == [rule]
    assert len(refusal_words(refused.value.refusals[0])) > 20
    assert all(way_out_words(w) for w in refused.value.refusals[0].ways_out)


def test_lands_beside_lines_that_are_shallower_than_a_step_are_counted():
    # By hand: the outermost lines come 0.0078 * 49 / 258 = 0.0015 mm deep, less than a step.
    few = {
        "relief__depth": "0.0078 mm",
        "relief__scallop": "0.008 mm",
        "relief__edge_land": "2.3 mm",
        "relief__shoulder_land": "0.62 mm",
        "relief__land_tolerance": "0.632 mm",
        "relief__share_in_tolerance": 0,
    }
    coarse = {**SMALL, "rack__0__diameter": "98 mm", "axes__Z__resolution": "0.0025 mm"}
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**{**GENERATED, **few}), a_machine(**coarse))
    (refusal,) = refused.value.refusals
    assert refusal.rule == "lands-fall-short"
    # By hand: all steps but one are lost in the middle line, at +-1.3 mm, 0.0075 deep: it meets the
    # face sqrt(0.0050 * 98) beside itself, and the relief should begin 2.0 mm from its middle.
    assert refusal.facts["wider_mm"] == pytest.approx(0.8, abs=0.1)


def test_the_lands_that_whole_steps_leave_are_those_of_the_proof():
    job = a_job(**{**GENERATED, "relief__share_in_tolerance": 0})
    shop = {**SMALL, "rack__0__diameter": "10 mm", "rack__0__marked_speed": "30000 rpm"}
    plan = planned(job, a_machine(**shop, axes__Z__resolution="0.0025 mm"))
    (setup,) = plan.setups
    arc = plan.section.wheel_radius_mm
    produced = produce(plan, ())
    (lands,) = {
        (land.edge_land_mm, land.shoulder_land_mm)
        for land in produced.verdicts["setup-A.ngc"].lands
    }
    # Against the proof's polygons: the relief is as wide as the arc so much less deep.
    reached = 0.0312 - max(setup.shortfalls_mm)
    wider = plan.section.reliefs[0].chord_mm / 2 - math.sqrt(reached * (2 * arc - reached))
    worst = max(lands[0] - 1.2, lands[1] - 1.4)
    assert worst <= wider + 1e-4
    assert worst >= wider - 0.02


def test_wear_is_made_up_for_in_the_layers_gone_over_again_too():
    plan = planned(
        a_job(**{**GENERATED, "relief__residual_share": 0.05}),
        a_machine(
            **SMALL, stiffness="250 N/mm", rack__0__g_ratio=0.1, axes__Z__resolution="0.0005 mm"
        ),
    )
    (setup,) = plan.setups
    again = [n for n, p in enumerate(setup.passes) if p.kind == "spark_out"]
    step = setup.heated.cutting.step_mm
    assert setup.worn.made_up_mm[-1] > setup.worn.made_up_mm[again[0] - 1]
    for worn, made_up in zip(setup.worn.worn_mm, setup.worn.made_up_mm, strict=True):
        # Property: no pass lags a step, and none is sent deeper than has worn off.
        assert -1e-12 <= worn - made_up < step
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


@pytest.mark.parametrize(
    "machine",
    [
        {"axes__A__resolution": "0.05 deg"},
        {"axes__A__resolution": "0.05 deg", "axes__Y__resolution": "0.01 mm"},
        {"axes__A__resolution": "0.5 deg", "controller__decimals": 3},
    ],
)
def test_no_line_bites_more_than_the_rough_infeed_and_a_ridge(machine):
    # 12.35 deg is held at 12.35 or 12.5; a rough infeed of two steps and a quarter.
    job = {
        "blade__section__included_angle": "24.7 deg",
        "relief__scallop": "0.0005 mm",
        "relief__depth": "0.03 mm",
        "relief__share_in_tolerance": 0,
    }
    shop = {
        **SMALL,
        "rack__0__diameter": "24 mm",
        "rack__0__marked_speed": "30000 rpm",
        "rack__0__infeed": {"rough": "0.0045 mm", "finish": "0.003 mm"},
        "axes__Z__resolution": "0.002 mm",
    }
    plan = planned(a_job(**{**GENERATED, **job}), a_machine(**{**shop, **machine}))
    (setup,) = plan.setups
    for one in setup.passes:
        infeed, _ = setup.frame.position(one.commanded_depth_mm, one.along_mm)
        # Property: the axis is sent to whole steps.
        assert infeed / 0.002 == pytest.approx(round(infeed / 0.002), abs=1e-6)
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


def test_a_wheel_that_loses_more_than_a_step_in_each_pass_is_refused():
    with pytest.raises(RefusedError) as refused:
        planned(
            a_job(**GENERATED),
            a_machine(**SMALL, rack__0__g_ratio=0.005, axes__Z__resolution="0.0005 mm"),
        )
    (refusal,) = refused.value.refusals
    assert refusal.rule == "wears-step-a-pass"
    assert float(refusal.facts["worn_mm"]) > float(refusal.facts["step_mm"])
    assert "more than the step" in refusal_words(refusal)
