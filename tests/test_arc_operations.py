"""Bevels, lands and lines along an arc on the turn: planned, written and proved, or refused."""

import math
import os
import re
from functools import cache

import pytest
import shapely
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from planner.errors import RefusedError
from planner.inputs.job import Job
from planner.plan import section_with
from planner.produce import produce
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from planner.report.faults import fault_words
from planner.report.refusals import refusal_words, way_out_words
from planner.section.swept import swept_length_mm
from planner.section.wheel_shape import arc_length_mm, half_reach_mm
from planner.section.works import works_for
from tests.planning import planned
from tests.samples import GONE, MACHINE, a_job, a_machine

WHEEL = {k: v for k, v in MACHINE["rack"][0].items() if k != "g_ratio"}
FORM = {
    **WHEEL,
    "name": "form",
    "contact": "across_edge",
    "form_radius": "20 mm",
    "diameter": "20 mm",
    "width": "9 mm",
    "marked_speed": "40000 rpm",
}
FLAT = {
    **{k: v for k, v in FORM.items() if k != "form_radius"},
    "name": "flat",
    "width": "16 mm",
    "corner_radius": "0.2 mm",
    "specific_energy": "20 J/mm3",
    "infeed": {"rough": "0.030 mm", "finish": "0.004 mm"},
}
PLATEN = {
    **{k: v for k, v in FLAT.items() if k != "corner_radius"},
    "name": "flat",
    "contact": "platen",
    "platen": {"length": "60 mm"},
    "diameter": "150 mm",
    "marked_speed": "60 m/s",
    "belt": {"thickness": "1 mm"},
}
ON_BELT = {
    **{k: v for k, v in FORM.items() if k != "form_radius"},
    "contact": "along_edge",
    "diameter": "38 mm",
    "width": "20 mm",
    "belt": {"thickness": "1 mm"},
}
TURN = {
    "role": "turn",
    "travel": ["-200 deg", "200 deg"],
    "max_feed": "7200 deg/min",
    "acceleration": "1500 deg/s2",
    "resolution": "0.005 deg",
}
SHOP = {"rack": [FORM, FLAT], "stiffness": "30000 N/mm", "axes__C": TURN}
BELTS = {**SHOP, "kind": "belt", "rack": [ON_BELT, PLATEN]}
FORMS = {
    "double_bevel": {"included_angle": "25 deg", "width": "14 mm", "thickness": "1.2 mm"},
    "hook": {"angle": "22 deg", "width": "11 mm", "thickness": "0.9 mm", "back_radius": "0.3 mm"},
    "gouge": {"outside_angle": "22 deg", "width": "30 mm", "thickness": "0.9 mm"},
}
ALL = [
    {"do": "bevel", "wheel": "flat"},
    {"do": "relief", "wheel": "form"},
    {"do": "lands", "wheel": "flat", "allowance": "0.006 mm"},
]


def a_bent_job(form, **changes):
    path = "sweep" if form == "gouge" else "bend"
    relief: dict[str, object] = {
        "edge_land": "0.4 mm",
        "shoulder_land": "0.4 mm",
        "land_tolerance": "0.3 mm",
    }
    relief |= {"faces": "A" if form == "gouge" else "both", "share_in_tolerance": 0}
    if form == "hook":
        relief["face_b"] = {"edge_land": "3 mm", "depth": "0.02 mm"}
    asked = {
        "blade__edge": {"path": path, "radius": "18 mm", "angle": "100 deg"},
        "blade__section": {"form": form, "edge_thickness": "0.3 mm", **FORMS[form]},
        "relief": relief,
        "wheel": GONE,
        "operations": ALL,
    }
    return a_job(**{**asked, **changes})


@cache
def made(form, kind="wheels"):
    shop = a_machine(**(SHOP if kind == "wheels" else BELTS))
    plan = planned(a_bent_job(form), shop)
    return plan, produce(plan, ())


@pytest.mark.parametrize(
    ("form", "names"),
    [
        ("double_bevel", "bevel-A bevel-B relief-A relief-B lands-A lands-B"),
        # By hand: the inside of a hook and of a gouge comes as it stays.
        ("hook", "bevel-A relief-A relief-B lands-A"),
        ("gouge", "bevel-A relief-A lands-A"),
    ],
)
def test_every_operation_is_proved_along_an_arc(form, names):
    plan, files = made(form)
    assert [s.name for s in plan.setups] == names.split()
    assert len(files.verdicts) == 2 * len(plan.setups)
    assert all(verdict.ok for verdict in files.verdicts.values())
    edge = plan.job.model.blade.edge
    for setup in plan.setups:
        found = files.verdicts[setup.program]
        stations = found.bevels if setup.work.operation == "bevel" else found.lands
        # By hand: five stations, the last at the end of the arc.
        assert [at.x_mm for at in stations] == pytest.approx(
            [n / 4 * edge.radius_mm * math.radians(edge.angle_deg) for n in range(5)]
        )


def test_a_platen_grinds_the_outside_and_no_inside():
    plan, files = made("gouge", "belts")
    assert [s.work.wheel.contact for s in plan.setups] == ["platen", "along_edge", "platen"]
    assert all(verdict.ok for verdict in files.verdicts.values())
    with pytest.raises(RefusedError) as refused:
        planned(a_bent_job("double_bevel"), a_machine(**BELTS))
    found = {r.rule: r for r in refused.value.refusals}
    assert "platen-inside-arc" in found
    assert "60 mm" not in refusal_words(found["platen-inside-arc"])
    assert "across_edge" in way_out_words(found["platen-inside-arc"].ways_out[0])


def test_a_platen_outside_touches_as_far_as_the_arc_lets_it():
    # Source: shapely, the flat laid h deep into a disc: half of the chord it cuts; on a wide arc
    # the platen's own half. And by hand: sqrt(0.03 * 36) = 1.039 mm of contact at a bite of 0.03.
    wheel = a_machine(**BELTS).rack[1]
    for radius, deep in ((18.0, 0.5), (300.0, 2.0), (5000.0, 2.0)):
        disc = shapely.Point(0, 0).buffer(radius, quad_segs=20_000)
        line = shapely.LineString([(-999, radius - deep), (999, radius - deep)])
        chord = min(shapely.intersection(disc, line).length, 60.0)
        assert half_reach_mm(wheel, deep, 1 / radius) == pytest.approx(chord / 2, rel=1e-5)
    assert arc_length_mm(wheel, 0.03, 1 / 18) == pytest.approx(1.0392, abs=1e-4)
    assert half_reach_mm(wheel, 0.5) == 30.0


def _stock(section):
    """The bar by hand: level flanks, square ends."""
    half = section.edge_thickness_mm / 2
    one_sided = section.form in ("hook", "gouge")
    low = half if one_sided else section.thickness_mm / 2
    return shapely.box(0.0, -low, section.width_mm, section.thickness_mm - low)


def _outside(work, outside_mm):
    """All that lies outside a plane parallel to the finished face."""
    face = work.face
    side = 1.0 if face.face == "A" else -1.0
    slope, far = math.tan(face.angle_rad), 40.0
    at = work.section.edge_thickness_mm / 2 + outside_mm / math.cos(face.angle_rad)
    points = [(-far, at - far * slope), (far, at + far * slope), (far, 99), (-far, 99)]
    return shapely.Polygon([(y, side * z) for y, z in points])


def _hollow(work):
    """The circle of the finished relief, by docs/frames.md."""
    face, relief = work.face, work.relief
    side, radius = 1.0 if face.face == "A" else -1.0, work.section.wheel_radius_mm
    sine, cosine = math.sin(face.angle_rad), math.cos(face.angle_rad)
    place, up = relief.edge_land_mm + relief.chord_mm / 2, radius - relief.depth_mm
    at = work.section.edge_thickness_mm / 2
    y, z = place * cosine - up * sine, at + place * sine + up * cosine
    return shapely.Point(y, side * z).buffer(radius, quad_segs=4000)


@pytest.mark.parametrize("form", FORMS)
def test_the_volume_of_every_operation_is_that_of_pappus(form):
    # Source: Pappus, Mathematical Collection VII: area times the way of the centroid, both by
    # shapely from half planes and circles.
    plan, _ = made(form)
    job, volume = plan.job.model, 0.0
    edge = job.blade.edge
    for setup in plan.setups:
        work = setup.work
        steel = _stock(job.blade.section) - _outside(work, work.before.outside_mm)
        if work.operation == "relief":
            taken = steel & _hollow(work)
        else:
            taken = steel & _outside(work, work.after.outside_mm)
            taken = taken - _hollow(work) if work.operation == "lands" else taken
        way = math.radians(edge.angle_deg) * (edge.radius_mm + taken.centroid.y)
        assert swept_length_mm(job, work) == pytest.approx(way, rel=1e-6)
        volume += sum(p.removed_area_mm2 for p in setup.passes) * way
    assert plan.totals.removed_volume_mm3 == pytest.approx(volume, rel=1e-6)


@pytest.mark.parametrize("name", ["outside", "inside", "inside along the edge"])
def test_lines_along_an_arc_are_proved(name):
    relief: dict[str, object] = {"edge_land": "2 mm", "shoulder_land": "4 mm", "depth": "0.06 mm"}
    relief |= {"scallop": "0.004 mm", "land_tolerance": "0.5 mm", "share_in_tolerance": 0}
    relief["faces"] = "A" if name == "outside" else "B"
    form = {"form": "hook", "thickness": "2.5 mm", "width": "12 mm", "angle": "15 deg"}
    rim = {**FORM, "contact": "along_edge", "width": "0.4 mm", "diameter": "26 mm"}
    del rim["form_radius"]
    rack = [rim if name == "inside along the edge" else FORM]
    edge = {"path": "bend", "radius": "40 mm", "angle": "44 deg"}
    changes = {"blade__edge": edge, "blade__section": form, "relief": relief, "operations": GONE}
    plan = planned(a_bent_job("hook", **changes), a_machine(**{**SHOP, "rack": rack}))
    assert plan.setups[0].work.in_lines
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


@pytest.mark.parametrize(
    ("form", "changes", "rule"),
    [
        # By hand: 18 - 0.6 mm inside, less by the cosine of 12.5 deg: 16.99 mm for a wheel of 17.1.
        ("double_bevel", {"rack__1__diameter": "34.2 mm"}, "wheel-over-inside"),
        ("double_bevel", {"rack__1__contact": "along_edge"}, "round-for-flat"),
        ("gouge", {"rack__1__form_radius": "500 mm"}, "round-for-flat"),
        ("hook", {"rack__1__width": "2 mm"}, "flat-too-narrow"),
    ],
)
def test_what_a_flat_cannot_do_on_an_arc_is_refused(form, changes, rule):
    if "rack__1__contact" in changes:
        changes = {**changes, "rack__1__corner_radius": GONE}
    with pytest.raises(RefusedError) as refused:
        planned(a_bent_job(form), a_machine(**{**SHOP, **changes}))
    assert rule in {r.rule for r in refused.value.refusals}
    for refusal in refused.value.refusals:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)


@pytest.mark.parametrize(
    ("form", "more"),
    [
        ("hook", {"radius": "40 mm"}),
        ("gouge", {"inside_angle": "6 deg", "inside_width": "0.5 mm"}),
        ("hook", {"micro_bevel": {"angle": "30 deg", "width": "0.2 mm"}}),
    ],
)
def test_bevels_that_no_flat_makes_are_a_bad_file(form, more):
    with pytest.raises(ValidationError, match="operations-and-form"):
        a_bent_job(form, **{f"blade__section__{key}": value for key, value in more.items()})


def test_a_hollow_back_has_no_lands_of_its_own():
    # Property: along a straight edge too the back comes as it stays, and only its hollow is ground.
    edge = {"path": "straight", "length": "40 mm"}
    section = {"form": "single_bevel", "thickness": "0.9 mm", "width": "14 mm", "angle": "22 deg"}
    job = a_bent_job(
        "hook", blade__edge=edge, blade__section={**section, "edge_thickness": "0.3 mm"}
    )
    plan = planned(job, a_machine(**SHOP))
    assert [s.name for s in plan.setups] == ["bevel-A", "relief-A", "relief-B", "lands-A"]
    back = next(s for s in plan.setups if s.name == "relief-B")
    # By hand: no allowance on it.
    assert back.work.depth_mm == pytest.approx(0.02)
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


DAMAGES = {
    "the bevel's last passes stop short of the tip": (
        "bevel-A",
        r"(Z-0\.546\d* F\S+\nG93\n)G1 C1\d\d\.\d+",
        r"\1G1 C60.000",
        Rule.PASS_INCOMPLETE,
    ),
    "the bevel too deep": ("bevel-A", r"Z-0\.5[0-9]+", "Z-0.6900", Rule.BELOW_TARGET),
    "the traverse moved under a bevel": ("bevel-A", r"X0\.0000", "X0.4000", Rule.TRAVERSE_MOVED),
    "the inside turned the outside's way": (
        "relief-B",
        r"G1 C-",
        "G1 C",
        Rule.LAND_OUT_OF_TOLERANCE,
    ),
    "the lands ground by twice their allowance": (
        "lands-A",
        r"Z-0\.00(\d+)",
        "Z-0.0120",
        Rule.BELOW_TARGET,
    ),
}


@pytest.mark.parametrize("what", DAMAGES)
def test_a_damaged_program_along_an_arc_is_found(what):
    # Property: each damage breaks the rule that it is named by.
    name, pattern, instead, rule = DAMAGES[what]
    plan, files = made("hook")
    text = files.files[f"setup-{name}.ngc"].decode("ascii")
    damaged, count = re.subn(pattern, instead, text)
    assert count
    verdict = prove_program(damaged.encode("ascii"), plan.job.model, plan.machine.model)
    assert rule in {fault.rule for fault in verdict.faults}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        # By hand: the inside is 18 - 0.6 mm; a wheel of 17.1 mm leaning 12.5 deg is 17.51 long.
        ({"rack__1__diameter": "34.2 mm"}, "larger than the inside"),
        ({**BELTS, "rack": [ON_BELT, PLATEN]}, "ends of a platen dig"),
        ({"rack__1__form_radius": "500 mm"}, "needs a flat wheel"),
    ],
)
def test_the_proof_knows_what_fits_inside(changes, words):
    # Property: a good program, held against a shop whose wheel cannot have ground it.
    plan, files = made("double_bevel")
    program = files.files["setup-bevel-B.ngc"]
    verdict = prove_program(program, plan.job.model, a_machine(**{**SHOP, **changes}))
    assert [fault.rule for fault in verdict.faults] == [Rule.IMPOSSIBLE_GEOMETRY]
    assert words in fault_words(verdict.faults[0])


def test_a_station_that_was_left_out_is_named():
    # By hand: no pass of the bevel goes further than 60 of the 100 deg: at the tip the whole corner
    # of the stock still stands, 0.9 mm of it instead of 0.3 and the allowance.
    plan, files = made("hook")
    text = files.files["setup-bevel-A.ngc"].decode("ascii")
    short = re.sub(r"G1 C1\d\d\.\d+", "G1 C60.000", text)
    verdict = prove_program(short.encode("ascii"), plan.job.model, plan.machine.model)
    fault = next(f for f in verdict.faults if f.rule == Rule.EDGE_OUT_OF_TOLERANCE)
    assert fault.facts["station"] in ("three quarters", "tip")
    assert verdict.bevels[-1].edge_thickness_mm == pytest.approx(0.9)
    assert verdict.bevels[0].edge_thickness_mm == pytest.approx(0.3 + 0.0065, abs=0.01)


@pytest.mark.parametrize("angle", ["59.181 deg", "31.4159 deg", "77.7777 deg"])
def test_a_turn_at_its_fastest_is_not_asked_for_more(angle):
    # By hand: F in inverse time is turns of the whole move a minute; times its degrees as written,
    # whose two ends are rounded, it is what the axis must do: no more than 600.
    relief = {"faces": "A", "edge_land": "0.4 mm", "shoulder_land": "0.4 mm"}
    edge = {"path": "bend", "radius": "48.5665 mm", "angle": angle}
    asked: dict[str, object] = {**relief, "share_in_tolerance": 0}
    job = a_bent_job("hook", blade__edge=edge, relief=asked, operations=GONE, wheel="form")
    slow: dict[str, object] = {**SHOP, "axes__C": {**TURN, "max_feed": "600 deg/min"}}
    text = produce(planned(job, a_machine(**slow)), ()).files["setup-A.ngc"].decode("ascii")
    at = float(re.findall(r"G0 .*C(-?\d+\.\d+)", text)[0])
    moves = re.findall(r"G1 C(-?\d+\.\d+) F(\S+)", text)
    feeds = []
    for turn, rate in moves:
        feeds.append(abs(float(turn) - at) * float(rate))
        at = float(turn)
    assert 590 < max(feeds) <= 600.0006


def test_a_stop_inside_the_bend_is_refused_and_found():
    # By hand: the inside lies 18 mm from the axis; a stop that stands 4 mm inside it, y from 6 to 9
    # mm, is in the way of a wheel 9 mm wide over the middle of the hollow.
    outline = [["6 mm", "4 mm"], ["9 mm", "4 mm"], ["9 mm", "-0.5 mm"], ["6 mm", "-0.5 mm"]]
    stop = {"name": "stop", "from": "10 mm", "to": "14 mm", "outline": outline}
    relief: dict[str, object] = {"faces": "B", "edge_land": "3 mm", "depth": "0.02 mm"}
    relief |= {"land_tolerance": "0.3 mm", "share_in_tolerance": 0}
    job = a_bent_job("hook", relief=relief, operations=GONE, wheel="form")
    free, blocked = a_machine(**SHOP), a_machine(**SHOP, fixture__obstacles=[stop])
    with pytest.raises(RefusedError) as refused:
        planned(job, blocked)
    (refusal,) = refused.value.refusals
    assert (refusal.rule, refusal.facts["part"]) == ("tool-meets-obstacle", "wheel")
    assert "into the stop" in refusal_words(refusal)
    program = produce(planned(job, free), ()).files["setup-B.ngc"]
    verdict = prove_program(program, job, blocked)
    assert {fault.rule for fault in verdict.faults} == {Rule.OBSTACLE}


def test_a_motor_inside_a_closed_hook_is_refused():
    # By hand: beside the wheel a motor begins 12 mm along the tangent, 4 to 30 mm over the contact
    # (10 mm under the axis): at 12 mm the inside of 18 stands 18 - sqrt(18^2 - 12^2) = 4.58 mm up.
    outline = [["-8 mm", "-6 mm"], ["8 mm", "-6 mm"], ["8 mm", "20 mm"], ["-8 mm", "20 mm"]]
    motor = {"name": "motor", "from": "12 mm", "to": "60 mm", "outline": outline}
    relief: dict[str, object] = {"faces": "B", "edge_land": "3 mm", "depth": "0.02 mm"}
    relief |= {"land_tolerance": "0.3 mm", "share_in_tolerance": 0}
    job = a_bent_job("hook", relief=relief, operations=GONE, wheel="form")
    with pytest.raises(RefusedError) as refused:
        planned(job, a_machine(**SHOP, head=[motor]))
    facts = [r.facts for r in refused.value.refusals]
    assert [(f["part"], f["obstacle"]) for f in facts] == [("motor", "blade")]


def mm(value):
    return f"{value:.4f} mm"


@st.composite
def bent_jobs(draw):
    form = draw(st.sampled_from(sorted(FORMS)))
    thickness = draw(st.floats(0.75, 1.4))
    section = {
        **FORMS[form],
        "form": form,
        "thickness": mm(thickness),
        "edge_thickness": mm(thickness - draw(st.floats(0.55, 0.65))),
    }
    steep = f"{draw(st.floats(14, 24)):.3f} deg"
    section[{"double_bevel": "included_angle", "hook": "angle", "gouge": "outside_angle"}[form]] = (
        steep
    )
    edge = {
        "path": draw(st.sampled_from(["bend", "sweep"])),
        "radius": mm(draw(st.floats(9, 60))),
        "angle": f"{draw(st.floats(20, 150)):.3f} deg",
    }
    names = draw(st.sampled_from([("bevel", "relief", "lands"), ("relief", "lands")]))
    operations = [o for o in ALL if o["do"] in names]
    return {"form": form, "blade__edge": edge, "blade__section": section, "operations": operations}


@st.composite
def shops(draw):
    rack = [
        {**FORM, "diameter": mm(draw(st.floats(8, 34)))},
        {**FLAT, "diameter": mm(draw(st.floats(8, 34)))},
    ]
    if draw(st.integers(0, 3)) == 0:
        return {**SHOP, "kind": "belt", "rack": [{**ON_BELT, "name": "form"}, PLATEN]}
    flip = draw(st.sampled_from(["end_for_end", "over", "by_tilt"]))
    travel = ["-200 deg", "200 deg"]
    shop = {**SHOP, "rack": rack, "fixture__flip": flip, "axes__A__travel": travel}
    if draw(st.booleans()):
        proud = mm(draw(st.floats(0, 3)))
        shop["fixture__jaws"] = {"from_edge": mm(draw(st.floats(7, 16))), "above_flank": proud}
    if draw(st.booleans()):
        high = draw(st.floats(-6, 6))
        corners = [(-7, high), (7, high), (7, high + 9), (-7, high + 9)]
        outline = [[mm(u), mm(v)] for u, v in corners]
        shop["guard"] = {"outline": outline, "from": mm(-draw(st.floats(1, 20))), "to": "9 mm"}
    return shop


COUNTS = {"planned": 0, "refused": 0}


@settings(
    max_examples=int(os.environ.get("BEVELWRIGHT_THOROUGH", "10")),
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(asked=bent_jobs(), shop=shops())
def planned_or_refused(asked, shop):
    job: Job = a_bent_job(**asked)
    try:
        plan = planned(job, a_machine(**shop))
    except RefusedError as refused:
        told = refused.refusals
    else:
        told = ()
    if told:
        COUNTS["refused"] += 1
        assert all(refusal_words(r) for r in told)
        assert all(way_out_words(w) for r in told for w in r.ways_out)
        return
    COUNTS["planned"] += 1
    # Property: what was planned is proved, by formulas of the proof's own.
    assert all(verdict.ok for verdict in produce(plan, ()).verdicts.values())


def test_any_arc_is_proved_or_refused():
    COUNTS.update(planned=0, refused=0)
    planned_or_refused()
    # Not an empty claim: a third must plan.
    assert COUNTS["planned"] >= COUNTS["refused"] / 2


def test_the_volume_of_a_relief_in_a_bulging_bevel_is_that_of_pappus():
    # Source: as above, by shapely from two discs: the wheel's, and that of the bevel itself.
    section = {"form": "hook", "thickness": "2 mm", "width": "14 mm", "angle": "30 deg"}
    relief = {"faces": "A", "edge_land": "0.8 mm", "shoulder_land": "1 mm"}
    section["radius"] = "40 mm"
    job = a_bent_job("hook", blade__section=section, operations=GONE, relief=relief)
    machine = a_machine(**SHOP)
    wheel = machine.rack[0]
    (work,) = works_for(job, section_with(job, machine, wheel), wheel, machine.rack)
    # By hand: the bevel's own middle lies 40 mm inward on the normal of its edge, at 30 deg.
    bevel = shapely.Point(20.0, -40 * math.cos(math.radians(30.0))).buffer(40.0, quad_segs=8000)
    # The wheel's lies outside, R + 40 - d from it through the middle of the relief.
    first, last = math.radians(30.0), math.acos(math.cos(math.radians(30.0)) + 2.0 / 40.0)
    width = 40.0 * (first - last)
    angle = first - (0.8 + (width - 1.8) / 2) / 40.0
    away = 20.0 + 40.0 - work.relief.depth_mm
    y, z = 20.0 - away * math.sin(angle), -40 * math.cos(first) + away * math.cos(angle)
    taken = bevel & shapely.Point(y, z).buffer(20.0, quad_segs=8000)
    way = math.radians(100.0) * (18.0 + taken.centroid.y)
    assert swept_length_mm(job, work) == pytest.approx(way, rel=1e-5)
