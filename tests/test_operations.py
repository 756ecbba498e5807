"""Other contacts and operations, from the files to proved programs."""

import json
import math
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import shapely

from planner.errors import RefusedError
from planner.produce import produce, produce_from_pass
from planner.report.refusals import refusal_words, way_out_words
from planner.report.wheel_words import contact_words
from planner.restart import restart_at
from tests.planning import planned
from tests.samples import GONE, MACHINE, a_job, a_machine

WHEEL = {k: v for k, v in MACHINE["rack"][0].items() if k != "g_ratio"}
FORM = {**WHEEL, "contact": "across_edge", "form_radius": "60 mm", "width": "13 mm"}
FLAT = {
    **WHEEL,
    "name": "flat",
    "contact": "across_edge",
    "corner_radius": "0.5 mm",
    "specific_energy": "20 J/mm3",
    "infeed": {"rough": "0.010 mm", "finish": "0.004 mm"},
}
BELT = {k: v for k, v in WHEEL.items() if k != "marked_speed"}
PLATEN = {
    **BELT,
    "name": "flat",
    "marked_speed": "60 m/s",
    "contact": "platen",
    "platen": {"length": "50 mm"},
    "width": "40 mm",
    "specific_energy": "12 J/mm3",
    "belt": {"thickness": "1 mm"},
    "infeed": {"rough": "0.030 mm", "finish": "0.010 mm"},
}
ON_BELT = {
    **BELT,
    "marked_speed": "60 m/s",
    "diameter": "58 mm",
    "specific_energy": "15 J/mm3",
    "belt": {"thickness": "1 mm", "drive_diameter": "150 mm"},
}
BAR = {
    "blade__section__thickness": "1.6 mm",
    "blade__section__edge_thickness": "0.5 mm",
    "relief__edge_land": "0.6 mm",
    "relief__shoulder_land": "0.6 mm",
    "relief__land_tolerance": "0.5 mm",
    "relief__share_in_tolerance": 0,
}
ALL = [
    {"do": "bevel", "wheel": "flat"},
    {"do": "relief"},
    {"do": "lands", "wheel": "flat", "allowance": "0.004 mm"},
]


def shop(kind):
    if kind == "wheels":
        return a_machine(rack=[{**FORM, "form_radius": "30 mm"}, FLAT], stiffness="6000 N/mm")
    return a_machine(kind="belt", rack=[ON_BELT, PLATEN], stiffness="6000 N/mm")


@cache
def made(kind):
    plan = planned(a_job(**BAR, operations=ALL), shop(kind))
    return plan, produce(plan, ())


def section_before(plan, setup):
    """The section by hand: thickness, edge and flats as docs/operations.md says."""
    section = plan.job.model.blade.section
    beta = math.radians(12.5)
    half, edge = section.thickness_mm / 2, section.edge_thickness_mm / 2
    tops = {}
    for face in "AB":
        done = [
            s.work.operation
            for s in plan.setups[: plan.setups.index(setup)]
            if s.work.face.face == face
        ]
        if "bevel" not in done:
            tops[face] = [(0.0, half)]
        else:
            raised = 0.0 if "lands" in done else 0.004 / math.cos(beta)
            at = edge + raised
            tops[face] = [(0.0, at), ((half - at) / math.tan(beta), half)]
    upper = [*tops["A"], (section.width_mm, half)]
    lower = [(y, -z) for y, z in [*tops["B"], (section.width_mm, half)]]
    return shapely.Polygon([*upper, *reversed(lower)])


@pytest.mark.parametrize("kind", ["wheels", "belts"])
def test_every_setup_is_proved(kind):
    plan, files = made(kind)
    names = [s.name for s in plan.setups]
    assert names == ["bevel-A", "bevel-B", "relief-A", "relief-B", "lands-A", "lands-B"]
    assert len([n for n in files.files if n.endswith(".ngc")]) == 12
    assert all(v.ok for v in files.verdicts.values())
    data = json.loads(files.files["plan.json"])
    assert [s["operation"] for s in data["setups"]] == [n.split("-")[0] for n in names]
    assert [s["wheel"] for s in data["setups"]] == ["flat", "flat", "fine", "fine", "flat", "flat"]


@pytest.mark.parametrize("kind", ["wheels", "belts"])
def test_a_wheel_is_mounted_as_seldom_as_the_order_allows(kind):
    plan, _ = made(kind)
    wheels = [s.work.wheel.name for s in plan.setups]
    changes = sum(a != b for a, b in pairwise(wheels))
    # By hand: flat, fine, flat.
    assert changes == 2


@pytest.mark.parametrize("kind", ["wheels", "belts"])
def test_what_a_bevel_takes_is_the_steel_outside_its_plane(kind):
    plan, _ = made(kind)
    beta = math.radians(12.5)
    for setup in plan.setups[:2]:
        steel = section_before(plan, setup)
        side = 1.0 if setup.work.face.face == "A" else -1.0
        reached = setup.passes[-1].reached_depth_mm
        normal = (-math.sin(beta), side * math.cos(beta))
        corner = (0.0, side * 0.8)
        foot = [c - reached * n for c, n in zip(corner, normal, strict=True)]
        along = (math.cos(beta), side * math.sin(beta))
        ends = [[f + s * 50 * a for f, a in zip(foot, along, strict=True)] for s in (-1, 1)]
        outside = shapely.Polygon(
            [*ends, *([e + 50 * n for e, n in zip(end, normal, strict=True)] for end in ends[::-1])]
        )
        # By polygons: all that lies outside the plane reached.
        cut = steel.intersection(outside).area
        assert sum(p.removed_area_mm2 for p in setup.passes) == pytest.approx(cut, rel=1e-6)


@pytest.mark.parametrize("kind", ["wheels", "belts"])
def test_the_thickness_that_heat_and_spring_see_is_that_section(kind):
    plan, _ = made(kind)
    for setup in plan.setups[:3]:
        steel = section_before(plan, setup)
        for y in (0.05, 0.6, 1.9, 4.0):
            line = shapely.LineString([(y, -5), (y, 5)])
            by_polygon = steel.intersection(line).length
            found = setup.work.thickness(np.array([y]), 0.0)[0]
            assert found == pytest.approx(by_polygon, abs=1e-9)


def test_contact_relations_of_a_wheel_across_the_edge():
    plan, _ = made("wheels")

    setup = plan.setups[2]
    words = contact_words(setup)
    heaviest = max(setup.passes, key=lambda p: p.removed_area_mm2)
    chord = 2 * math.sqrt(heaviest.reached_depth_mm * (60 - heaviest.reached_depth_mm))
    cut = heaviest.removed_area_mm2 / chord
    # By hand: sqrt(a D); a v_w / v_s; v_s / v_w with v_s = pi 0.15 m 2850/60 s.
    speed, feed = math.pi * 0.15 * 47.5, heaviest.feed_mm_min / 60
    assert f"{math.sqrt(cut * 150):.2f} mm along the edge" in words
    assert f"chip thickness {cut * feed / speed:.3f} µm" in words
    assert f"speed ratio {1000 * speed / feed:.0f}" in words


def test_a_form_makes_the_relief_of_its_own_radius():
    plan = planned(a_job(), a_machine(rack=[FORM]))
    for relief in plan.section.reliefs:
        # By hand: depth of a chord on the form's 60 mm.
        sag = 60 - math.sqrt(60**2 - relief.chord_mm**2 / 4)
        assert relief.depth_mm == pytest.approx(sag)
    # Across the edge the wheel leaves the steel sqrt(h (D - h)) beyond its middle.
    text = produce(plan, ()).files["setup-A.ngc"].decode()
    reach = math.sqrt(relief.depth_mm * (150 - relief.depth_mm))
    assert f"G0 X-{reach + 10:.4f}" in text


@pytest.mark.parametrize(
    ("job", "machine", "rule"),
    [
        ({}, {"rack": [{**FLAT, "name": "fine"}]}, "flat-for-relief"),
        ({}, {"rack": [{**FORM, "width": "4 mm"}]}, "form-too-narrow"),
        (
            {"operations": [{"do": "bevel", "wheel": "fine"}, {"do": "relief"}]},
            {},
            "round-for-flat",
        ),
        (
            {"operations": [{"do": "bevel", "wheel": "flat"}, {"do": "relief"}]},
            {"rack": [FORM, {**FLAT, "width": "5 mm"}]},
            "flat-too-narrow",
        ),
        (
            {
                **BAR,
                "relief__edge_land": "0.05 mm",
                "relief__min_steel_left": "0 mm",
                "operations": [
                    {"do": "relief"},
                    {"do": "lands", "wheel": "flat", "allowance": "0.3 mm"},
                ],
            },
            {"rack": [FORM, FLAT]},
            "allowance-too-large",
        ),
        (
            {"operations": [{"do": "bevel", "wheel": "flat"}, {"do": "relief"}], **BAR},
            {
                "rack": [FORM, FLAT],
                "axes__A": GONE,
                "fixture__hand_tilt": {"range": ["-45 deg", "45 deg"], "resolution": "2 deg"},
            },
            "tilt-off-for-flat",
        ),
        (
            {
                **BAR,
                "relief__share_in_tolerance": 0.9,
                "spread": {"thickness": "0.2 mm"},
                "operations": [{"do": "bevel", "wheel": "flat"}, {"do": "relief"}],
            },
            {"rack": [FORM, FLAT], "stiffness": "6000 N/mm"},
            None,
        ),
    ],
)
def test_refused_with_the_numbers(job, machine, rule):
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**job), a_machine(**machine))
    found = refused.value.refusals
    if rule:
        assert {r.rule for r in found} == {rule}
    for refusal in found:
        assert len(refusal_words(refusal)) > 20
        assert all(way_out_words(w) for w in refusal.ways_out)


def test_thick_stock_is_ground_in_turns():
    job = a_job(
        **{**BAR, "blade__section__thickness": "2.8 mm", "relief__faces": "A"},
        operations=ALL[:2],
    )
    assert job.bevel_stages == 2
    plan = planned(job, shop("belts"))
    names = [s.name for s in plan.setups]
    assert names == ["bevel-A-1", "bevel-B-1", "bevel-A-2", "bevel-B-2", "relief-A"]
    whole = (2.8 - 0.5) / 2 * math.cos(math.radians(12.5))
    for setup in plan.setups[:4]:
        # By hand: each turn takes half of what comes off a side.
        assert setup.work.depth_mm == pytest.approx(whole / 2)
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


def test_one_turn_may_be_asked_for():
    bevel = {"do": "bevel", "wheel": "flat", "stages": 1}
    thick = {**BAR, "blade__section__thickness": "2.8 mm"}
    assert a_job(**thick, operations=[bevel, {"do": "relief"}]).bevel_stages == 1


def test_a_flat_held_aside_bares_on_the_corner():
    # A scale of tenths: 12.53 deg is held at 12.5.
    job = a_job(
        **{
            **BAR,
            "blade__section__included_angle": "25.06 deg",
            "operations": [{"do": "bevel", "wheel": "flat"}, {"do": "relief"}],
        }
    )
    hand = {"range": ["-45 deg", "45 deg"], "resolution": "0.1 deg"}
    machine = a_machine(
        rack=[{**FORM, "form_radius": "30 mm"}, FLAT],
        axes__A=GONE,
        fixture__hand_tilt=hand,
        stiffness="6000 N/mm",
    )
    plan = planned(job, machine)
    frame = plan.setups[0].frame
    assert (frame.tilt_deg, frame.ideal_tilt_deg) == pytest.approx((12.5, 12.53))
    # By hand: the line through the middle of the flat, along cross_dir, meets the corner (0, 0.8).
    (y, z), (u_y, u_z) = frame.origin_yz_mm, frame.cross_dir_yz
    assert z + (0.0 - y) * u_z / u_y == pytest.approx(0.8, abs=1e-9)
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


def test_the_drawing_begins_with_the_bar():
    _, files = made("belts")
    before = json.loads(files.files["plan.json"])["section"]["outline_before_mm"]
    # By hand: parallel stock, 1.6 mm thick and 20 wide.
    assert shapely.Polygon(before).area == pytest.approx(1.6 * 20)
    assert shapely.Polygon(before).bounds == pytest.approx((0, -0.8, 20, 0.8))


@pytest.mark.parametrize("new_wheel", [False, True])
@pytest.mark.parametrize("name", ["bevel-A", "relief-B", "lands-A"])
def test_every_operation_goes_on_from_its_last_pass(name, new_wheel):
    plan, _ = made("wheels")
    setup = next(s for s in plan.setups if s.name == name)
    last = len(setup.passes)
    if last < 2:
        pytest.skip("one pass alone: nothing to go on from")
    restart = restart_at(plan, setup, last, new_wheel=new_wheel)
    produced = produce_from_pass(plan, (), restart)
    assert all(v.ok for v in produced.verdicts.values())
    header = produced.files[restart.program].decode()
    place = {"bevel-A": "on bevel so far", "lands-A": "on lands so far"}.get(name)
    place = place or "in middle of relief"
    # Property: the header says where the sheet sends the wheel, and nothing where it stays.
    assert (f"(touch wheel bares {place} at depth " in header) == new_wheel
    assert ("(touch " in header) == new_wheel
    sheet = produced.files[restart.program.replace(".ngc", ".md")].decode()
    assert ("on the flat that is ground so far" in sheet) == (new_wheel and name != "relief-B")


@pytest.mark.parametrize(
    ("depth", "tilt"),
    # By hand: under a step of 0.001 mm; and a step of depth, but 12.5 deg held at 10, where the
    # lines' infeeds are no whole steps and are rounded away from the steel.
    [("0.0008 mm", "0.001 deg"), ("0.00102 mm", "5 deg")],
)
def test_lines_shallower_than_a_step_are_refused(depth, tilt):
    asked = {"relief__depth": depth, "relief__scallop": "0.0002 mm", "relief__faces": "A"}
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**asked), a_machine(axes__A__resolution=tilt))
    assert [r.rule for r in refused.value.refusals] == ["step-over-depth"]


@pytest.mark.parametrize(
    ("edge_land", "allowance", "rule"),
    # By hand: a chord of 1.341 mm on a radius of 30 is 0.0075 mm deep, less a hair: with 0.005 of
    # allowance the relief ends a step of 0.0025 short and the lands do not. A chord of 1.351 mm is
    # 0.0076 deep: with 0.0049 the lands end a step short and the relief does not. A step of depth
    # is 0.11 mm of land.
    [("0.60 mm", "0.0050 mm", "lands-fall-short"), ("0.59 mm", "0.0049 mm", "lands-left-standing")],
)
def test_relief_and_lands_are_each_held_to_the_tolerance(edge_land, allowance, rule):
    lands = {"do": "lands", "wheel": "flat", "allowance": allowance}
    sizes = {"relief__edge_land": edge_land, "relief__land_tolerance": "0.08 mm"}
    machine = a_machine(
        rack=[{**FORM, "form_radius": "30 mm"}, FLAT],
        stiffness="60000 N/mm",
        axes__Z__resolution="0.0025 mm",
    )
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**{**BAR, **sizes, "operations": [{"do": "relief"}, lands]}), machine)
    assert [r.rule for r in refused.value.refusals] == [rule] * 2
    assert all(len(refusal_words(r)) > 20 for r in refused.value.refusals)


@pytest.mark.parametrize("do", ["bevel", "lands"])
def test_the_flat_wheel_s_mark_is_looked_at_too(do):
    slow = {**FLAT, "marked_speed": "1000 rpm"}
    one = {"do": do, "wheel": "flat"}
    asked = [one, {"do": "relief"}] if do == "bevel" else [{"do": "relief"}, one]
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**BAR, operations=asked), a_machine(rack=[FORM, slow]))
    (refusal,) = refused.value.refusals
    assert (refusal.rule, refusal.facts["wheel"]) == ("over-marked-speed", "flat")
    # By hand: 2850 rpm where 1000 are allowed.
    assert refusal.ways_out[0].facts == {"speed_rpm": 1000}


def test_a_flat_that_is_too_narrow_is_called_by_its_own_name():
    narrow = {**FLAT, "name": "narrow", "width": "2 mm"}
    asked = [{"do": "bevel", "wheel": "narrow"}, {"do": "relief"}]
    with pytest.raises(RefusedError) as refused:
        planned(a_job(**BAR, wheel=GONE, operations=asked), a_machine(rack=[FORM, narrow]))
    narrow_ones = [r for r in refused.value.refusals if r.rule == "flat-too-narrow"]
    assert narrow_ones
    assert {r.facts["wheel"] for r in narrow_ones} == {"narrow"}
