"""Bevels that bulge from the bar: which wheels make them along arcs, what is refused, and any."""

import math
import os

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from planner.errors import RefusedError
from planner.inputs.from_bar import bevel_kinds, flat_turns, stock_rises_mm
from planner.produce import produce
from planner.report.refusals import refusal_words, way_out_words
from planner.section.bulge_work import BulgeWork, FacetWork
from tests.planning import planned
from tests.samples import GONE, a_machine
from tests.test_bulge_forms import (
    ARC_SHOP,
    BACK_A,
    BEND,
    HOOK,
    MIXED,
    RIDGE_MM,
    SHOP,
    SMALL_FLAT,
    SMALL_FORM,
    TWO,
    asked,
    bevels,
    operations,
    points,
)

CONVEX = {"form": "convex_bevel", "thickness": "1.2 mm", "width": "14 mm"}
CONVEX |= {"edge_thickness": "0.4 mm", "edge_angle": "40 deg", "shoulder_angle": "16 deg"}
SWEEP = {"path": "sweep", "radius": "40 mm", "angle": "44 deg"}
RIM = {k: v for k, v in SMALL_FORM.items() if k != "form_radius"}
RIM |= {"contact": "along_edge", "width": "0.6 mm", "diameter": "26 mm"}
CROWNED = {**RIM, "width": "8 mm", "crown_radius": "20 mm"}
BELT = {"belt": {"thickness": "1 mm"}}
PLATEN = {k: v for k, v in SMALL_FLAT.items() if k != "corner_radius"}
PLATEN |= {"contact": "platen", "platen": {"length": "60 mm"}, "diameter": "150 mm", **BELT}
PLATEN |= {"marked_speed": "60 m/s"}
BELTS = {**ARC_SHOP, "kind": "belt", "rack": [{**RIM, **BELT}, PLATEN]}


def with_rim(rim):
    return {**ARC_SHOP, "rack": [rim, SMALL_FLAT]}


@pytest.mark.parametrize(
    ("section", "edge", "wheel", "shop"),
    [
        (CONVEX, BEND, "flat", ARC_SHOP),
        (CONVEX, SWEEP, "fine", ARC_SHOP),
        (CONVEX, SWEEP, "fine", with_rim(RIM)),
        (CONVEX, SWEEP, "fine", with_rim(CROWNED)),
        (HOOK, BEND, "flat", BELTS),
    ],
    ids=["facets", "a form across", "a narrow rim", "a crowned rim", "a platen outside"],
)
def test_wheels_that_fit_an_arc_are_proved(section, edge, wheel, shop):
    job = asked("hook" if section is HOOK else "two", wheel, edge, blade__section=section)
    plan = planned(job, a_machine(**shop))
    kind = FacetWork if wheel == "flat" else BulgeWork
    assert all(isinstance(s.work, kind) for s in bevels(plan))
    files = produce(plan, ())
    assert all(v.ok for v in files.verdicts.values())
    for setup in bevels(plan):
        # Property: no ridge higher than asked for, but for a quarter of it and steps.
        found = files.verdicts[setup.program].bevels
        assert len(found) == 5
        assert all((at.ridge_mm or 0.0) <= 1.26 * RIDGE_MM + 0.0015 for at in found)


# By hand: behind face B stand 0.65 mm of stock, so the inside is 17.35 mm. Its facets lie between
# atan(0.35/3) ± asin(|[3, 0.35]| / 50) = 6.654 ± 3.463 deg.
STEEPEST_DEG, FLATTEST_DEG = 10.117, 3.191


@pytest.mark.parametrize(
    ("wheel", "shop", "rule", "set_ups"),
    [
        # What is alike at every set-up is told once.
        # A wheel that is an ellipse of 34.4 / 2 / cos 10.1 deg, 17.47 mm, at the first facet alone.
        ("flat", with_rim(SMALL_FORM) | {"rack__1__diameter": "34.4 mm"}, "wheel-over-inside", 1),
        # And at every one: 17.4 mm.
        ("flat", with_rim(SMALL_FORM) | {"rack__1__diameter": "34.8 mm"}, "wheel-over-inside", 3),
        # Lines are held at the mean, 6.654 deg: 17.35 cos = 17.233 mm.
        ("fine", with_rim(SMALL_FORM) | {"rack__0__diameter": "34.5 mm"}, "wheel-over-inside", 1),
        ("fine", with_rim({**RIM, "width": "8 mm", "diameter": "34 mm"}), "corners-dig", 1),
        ("flat", BELTS, "platen-inside-arc", 1),
        ("fine", with_rim({**SMALL_FORM, "width": "3 mm"}), "form-too-narrow", 2),
    ],
)
def test_what_does_not_fit_inside_is_refused_at_the_angle_that_it_is_held_at(
    wheel, shop, rule, set_ups
):
    with pytest.raises(RefusedError) as refused:
        planned(asked("two", wheel, BEND), a_machine(**shop))
    found = [r for r in refused.value.refusals if r.rule == rule]
    # That of the relief is told beside those of the bevel's set-ups.
    of_bevel = [r for r in found if r.facts.get("wheel") == wheel or rule == "form-too-narrow"]
    relief = 1 if wheel == "fine" and rule in ("wheel-over-inside", "corners-dig") else 0
    assert len(of_bevel) == set_ups + relief
    for refusal in refused.value.refusals:
        assert len(refusal_words(refusal)) > 20
        assert all(way_out_words(w) for w in refusal.ways_out)


def test_the_angles_by_hand():
    chord, half = math.atan2(0.35, 3.0), math.asin(math.hypot(3.0, 0.35) / 50.0)
    assert math.degrees(chord + half) == pytest.approx(STEEPEST_DEG, abs=1e-3)
    assert math.degrees(chord - half) == pytest.approx(FLATTEST_DEG, abs=1e-3)


def test_a_flat_bevel_beside_one_that_bulges_takes_a_flat_wheel():
    with pytest.raises(RefusedError) as refused:
        planned(asked("mixed", "fine"), a_machine(**SHOP))
    (refusal,) = [r for r in refused.value.refusals if r.rule == "lines-beside-flat"]
    assert refusal.facts["face"] == "B"
    assert "not at all" in refusal_words(refusal)
    # Too fine a ridge: lines are no way out, for they leave the flat face.
    fine = operations("flat", ridge="0.001 mm")
    coarse = a_machine(**SHOP, axes__A__resolution="2 deg")
    with pytest.raises(RefusedError) as refused:
        planned(asked("mixed", "flat", operations=fine), coarse)
    (refusal,) = refused.value.refusals
    assert refusal.rule == "facets-too-coarse"
    assert [w.rule for w in refusal.ways_out] == ["higher-ridge"]


AXE = {"form": "axe", "thickness": "8 mm", "width": "40 mm", "included_angle": "30 deg"}
AXE |= {"bevel_thickness": "3 mm"}
LANDS = [*operations("flat"), {"do": "lands", "wheel": "flat"}]


@pytest.mark.parametrize(
    ("section", "changes", "words"),
    [
        (AXE, {}, "cheeks open to the spine: no bar has such sides, it is forged"),
        ({**CONVEX, "micro_bevel": {"angle": "30 deg", "width": "0.1 mm"}}, {}, "with a micro"),
        ({**HOOK, "micro_bevel": {"angle": "40 deg", "width": "0.1 mm"}}, {}, "with a micro"),
        ({**TWO, "face_a": points((0, 0.3), (2.4, 0.75), (12, 0.77))}, {},
         "face A rises behind its bevel: no bar of one thickness has such a side"),
        ({**TWO, "face_b": points((0, 0.3), (3, 0.65), (12, 0.6))}, {}, "face B falls behind its"),
        ({**TWO, "face_a": points((0, 0.3), (2.4, 0.75), (6, 0.75), (12, 0.78))}, {},
         "face A stands higher further back"),
        (HOOK, {"operations": LANDS}, "no flat wheel brings two lands of an arc into one plane"),
        (MIXED, {"operations": LANDS}, "no flat wheel brings two lands of an arc into one plane"),
        (TWO, {"operations": operations("flat", ridge=GONE)}, "no ridge for a bevel that bulges"),
        (HOOK, {"operations": operations("flat", ridge=GONE)}, "no ridge for a bevel that bulges"),
        ({**BACK_A, "face_b_radius": GONE}, {}, "a ridge on the flat bevels of a outline"),
    ],
)  # fmt: skip
def test_what_does_not_come_from_the_bar_so_is_a_bad_file(section, changes, words):
    given_section = {k: v for k, v in section.items() if v is not GONE}
    changes = {**changes}
    if "operations" in changes:
        changes["operations"] = [
            {k: v for k, v in o.items() if v is not GONE} for o in changes["operations"]
        ]
    with pytest.raises(ValidationError) as refused:
        asked("hook", "flat", blade__section=given_section, **changes)
    assert words in str(refused.value)


def test_what_each_face_is_and_how_high_its_stock_stands():
    job = asked("mixed", "flat").blade.section
    assert bevel_kinds(job) == {"A": "bulging", "B": "flat"}
    assert stock_rises_mm(job) == pytest.approx({"A": 0.45, "B": 0.35})
    back = asked("back A", "flat").blade.section
    assert bevel_kinds(back) == {"A": "back", "B": "bulging"}
    assert stock_rises_mm(back) == pytest.approx({"A": 0.0, "B": 0.6})
    # By hand: nothing to grind between the turns of a lone bevel, and of arcs facets take turns.
    assert [flat_turns(f, None) for f in (job, back)] == [1, 1]
    hook = asked("hook", "flat").blade.section
    assert bevel_kinds(hook) == {"A": "bulging", "B": "back"}
    assert stock_rises_mm(hook) == pytest.approx({"A": 0.6, "B": 0.0})


def mm(value):
    return f"{value:.4f} mm"


@st.composite
def drawn_faces(draw):
    """A face of an outline: an arc, by its two angles and its rise, and a level side behind it."""
    rise, first = draw(st.floats(0.25, 0.45)), math.radians(draw(st.floats(10, 24)))
    last = draw(st.floats(0.1, 0.8)) * first
    radius = rise / (math.cos(last) - math.cos(first))
    width = radius * (math.sin(first) - math.sin(last))
    behind = [(15, 0.3 + rise)] if draw(st.booleans()) else [(12, 0.3 + rise), (15, 0.3)]
    places = [(0, 0.3), (round(width, 4), 0.3 + rise), *behind]
    return [[mm(y), mm(z)] for y, z in places], mm(radius * (1 + 1e-6)), width


@st.composite
def bulging_jobs(draw):
    edge = draw(st.sampled_from([None, "bend", "sweep"]))
    if edge is not None:
        angle = f"{draw(st.floats(20, 120)):.3f} deg"
        edge = {"path": edge, "radius": mm(draw(st.floats(16, 60))), "angle": angle}
    if draw(st.booleans()):
        rise, first = draw(st.floats(0.3, 0.7)), draw(st.floats(14, 34))
        last = draw(st.floats(0.1, 0.8)) * first
        radius = rise / (math.cos(math.radians(last)) - math.cos(math.radians(first)))
        section = {**HOOK, "thickness": mm(rise + 0.4), "angle": f"{first:.4f} deg"}
        section |= {"radius": mm(radius * (1 + 1e-4)), "width": "30 mm"}
        name = "hook"
    else:
        one, other = draw(drawn_faces()), draw(drawn_faces())
        section = {"form": "outline", "face_a": one[0], "face_a_radius": one[1]}
        section |= {"face_b": other[0]}
        if draw(st.integers(0, 2)):
            section["face_b_radius"] = other[1]
        name = "two"
    wheel = draw(st.sampled_from(["flat", "fine"]))
    ridge = draw(st.floats(0.006, 0.04))
    do = operations(wheel, ridge=mm(ridge))
    return asked(name, wheel, edge, blade__section=section, operations=do), edge


COUNTS = {"planned": 0}


def planned_or_refused(job, shop):
    try:
        return planned(job, shop), ()
    except RefusedError as refused:
        return None, refused.refusals


@settings(
    max_examples=int(os.environ.get("BEVELWRIGHT_THOROUGH_BULGES", "5")),
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(bulging_jobs(), st.sampled_from(["end_for_end", "over"]))
def proved_or_refused(asked_for, flip):
    job, edge = asked_for
    shop = a_machine(**(SHOP if edge is None else ARC_SHOP), fixture__flip=flip)
    plan, refusals = planned_or_refused(job, shop)
    assert all(len(refusal_words(r)) > 20 for r in refusals)
    assert all(way_out_words(w) for r in refusals for w in r.ways_out)
    if plan is None:
        return
    COUNTS["planned"] += 1
    files = produce(plan, ())
    assert all(v.ok for v in files.verdicts.values())
    for setup in bevels(plan):
        if not isinstance(setup.work, FacetWork | BulgeWork):
            continue
        # Property: the proved section lies on its arc or over it by no more than was asked for, a
        # quarter of that and a step.
        for at in files.verdicts[setup.program].bevels:
            assert at.ridge_mm <= 1.26 * job.bevel_ridge_mm + 0.0015
            assert at.gouge_mm < 1e-6


def test_any_bulging_face_from_the_bar_lies_within_its_ridge_of_the_arc():
    proved_or_refused()
    assert COUNTS["planned"] >= 2
