"""Bevels, reliefs and lands by wheels across the edge and on a platen, against hand arithmetic."""

from __future__ import annotations

import math
import time

import pytest

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.build_case import build_case
from planner.proof.operation import setup_names
from planner.proof.prove import Before, prove_program
from planner.proof.rules import Rule
from planner.proof.wear import wear_mm
from planner.report.faults import fault_words
from planner.report.verdicts import verdict_data, verdict_lines
from tests.proof.by_hand import (
    BEVEL_MM,
    CHORD_MM,
    FACE_MM,
    LINES_JOB,
    OPERATIONS_JOB,
    PLATEN_MACHINE,
    RACK_MACHINE,
    RELIEF_MM,
    Pass,
    lines,
    program,
    straight_down,
    to_depth,
)
from tests.proof.conftest import changed
from tests.proof.operation_damages import (
    LAYERS,
    LINES,
    OPERATION_DAMAGES,
    PLATEN_JOB_CHANGES,
    good,
)
from tests.proof.test_prove import segment_area

MACHINE = Machine.model_validate(RACK_MACHINE)
JOB = Job.model_validate(OPERATIONS_JOB)
IN_LINES = Job.model_validate(LINES_JOB)
TEN = math.radians(10.0)
# By hand, N per mm2 = u v_f / (v_s lambda): flat 20 J/mm3, form 40 J/mm3, at 1000 mm/min and
# pi * 0.150 m * 47.5/s = 22.3838 m/s.
FLAT_N_MM2 = 20 * (1000 / 60) / (math.pi * 0.150 * 2850 / 60 * 0.4)
FORM_N_MM2 = 2 * FLAT_N_MM2


def proved(text, job=JOB, machine=MACHINE):
    return prove_program(text.encode(), job, machine)


def in_balance(areas, newton_per_mm2, commanded):
    """Each pass's reached depth, by bisection on k (d - r) = f (area(r) - area before)."""
    reached = 0.0
    for depth in commanded:
        low, high = reached, depth
        for _ in range(60):
            middle = (low + high) / 2
            pull = 2000 * (depth - middle) - newton_per_mm2 * (areas(middle) - areas(reached))
            low, high = (middle, high) if pull > 0 else (low, middle)
        reached = low
        yield reached


@pytest.mark.parametrize(
    "name", ["bevel-A", "bevel-B", "relief-A", "relief-B", "lands-A", "lands-B"]
)
def test_each_operation_proves_on_the_stock_of_the_one_before(name):
    verdict = proved(good(name))
    assert verdict.faults == ()
    assert (verdict.ok, verdict.setup, verdict.face) == (True, name, name[-1])


@pytest.mark.parametrize("face", ["A", "B"])
def test_a_bevel_takes_the_triangle_off_the_stock_s_corner(face):
    depths = [p.depth_mm for p in straight_down(to_depth(0.05, BEVEL_MM, 1))]
    verdict = proved(good(f"bevel-{face}"))

    # By hand: h below the corner of a square end the plane cuts h / sin 10 deg off the flank and
    # h / cos 10 deg off the end: a right triangle of h^2 / (2 sin cos) = h^2 / sin 20 deg.
    def triangle(h):
        return h * h / math.sin(2 * TEN)

    reached = list(in_balance(triangle, FLAT_N_MM2, depths))
    assert [c.commanded_depth_mm for c in verdict.cuts] == pytest.approx(depths, abs=1e-9)
    assert [c.reached_depth_mm for c in verdict.cuts] == pytest.approx(reached, abs=2e-6)
    removed = sum(cut.removed_area_mm2 for cut in verdict.cuts)
    assert removed == pytest.approx(triangle(reached[-1]), abs=1e-5)
    # By hand: 0.2 mm wanted and 0.01 mm of allowance on either face, 0.01 / cos 10 deg each; what
    # was not reached is 1 / cos 10 deg as much across the edge.
    short = (BEVEL_MM - reached[-1]) / math.cos(TEN)
    for bevel in verdict.bevels:
        assert bevel.edge_thickness_mm == pytest.approx(
            0.2 + 0.02 / math.cos(TEN) + short, abs=3e-6
        )
        assert bevel.highest_mm == pytest.approx(BEVEL_MM - reached[-1], abs=2e-6)
        assert bevel.lowest_mm == pytest.approx(0.0, abs=1e-6)
    assert verdict.lands == ()


def test_a_form_grinds_the_relief_as_a_wheel_of_its_radius_would():
    depths = [p.depth_mm for p in straight_down(to_depth(0.01, RELIEF_MM + 0.01, 2))]
    verdict = proved(good("relief-A"))
    reached = list(in_balance(lambda d: segment_area(20.0, d), FORM_N_MM2, depths))
    assert [c.reached_depth_mm for c in verdict.cuts] == pytest.approx(reached, abs=3e-6)
    # By hand: with the allowance of 0.01 mm off again, the chord is 2 sqrt(d (40 - d)).
    depth = reached[-1] - 0.01
    half = math.sqrt(depth * (40.0 - depth))
    for lands in verdict.lands:
        assert lands.edge_land_mm == pytest.approx(1.2 + CHORD_MM / 2 - half, abs=1e-4)
        assert lands.shoulder_land_mm == pytest.approx(1.4 + CHORD_MM / 2 - half, abs=1e-4)
        assert lands.depth_mm == pytest.approx(depth, abs=3e-6)


@pytest.mark.parametrize("face", ["A", "B"])
def test_lands_are_two_strips_of_the_allowance(face):
    verdict = proved(good(f"lands-{face}"))

    # By hand: h below the raised face the flat has taken, on either side of the relief, a strip
    # from the end of the stock to the arc and one from the arc to the flank. The whole is h times
    # the mean width of the face, less the part of the relief's segment above the plane.
    def strips(h):
        whole = 0.01 - h
        wide, narrow = (FACE_MM - each / (math.sin(TEN) * math.cos(TEN)) for each in (0.01, whole))
        segments = segment_area(20.0, RELIEF_MM + 0.01) - segment_area(20.0, RELIEF_MM + whole)
        return h * (wide + narrow) / 2 - segments

    depths = [0.005, 0.01, 0.01]
    reached = list(in_balance(strips, FLAT_N_MM2, depths))
    assert [c.reached_depth_mm for c in verdict.cuts] == pytest.approx(reached, abs=2e-6)
    assert sum(c.removed_area_mm2 for c in verdict.cuts) == pytest.approx(
        strips(reached[-1]), abs=1e-5
    )
    # By hand: h high, the edge is h tan 10 deg up the face, the shoulder h / tan 10 deg down it,
    # and the arc is as much wider as its circle is h higher.
    high = 0.01 - reached[-1]
    half = math.sqrt((RELIEF_MM + high) * (40.0 - RELIEF_MM - high))
    for lands in verdict.lands:
        edge = 1.2 + CHORD_MM / 2 - half - high * math.tan(TEN)
        shoulder = 1.4 + CHORD_MM / 2 - half - high / math.tan(TEN)
        assert lands.edge_land_mm == pytest.approx(edge, abs=1e-4)
        assert lands.shoulder_land_mm == pytest.approx(shoulder, abs=1e-4)
        assert lands.depth_mm == pytest.approx(RELIEF_MM + high, abs=3e-6)


def test_a_platen_grinds_what_a_flat_wheel_grinds():
    job = Job.model_validate(changed(OPERATIONS_JOB, PLATEN_JOB_CHANGES))
    machine = Machine.model_validate(PLATEN_MACHINE)
    for name in ("bevel-A", "bevel-B", "lands-A"):
        flat = proved(good(name))
        platen = proved(good(name, wheel="platen belt"), job, machine)
        assert platen.faults == ()
        # Property: in the section both are one line; only their corners and length differ. The
        # belt's speed is that of a drive wheel of the same 150 mm.
        assert [c.removed_area_mm2 for c in platen.cuts] == pytest.approx(
            [c.removed_area_mm2 for c in flat.cuts], abs=1e-6
        )


@pytest.mark.parametrize(("tilt", "step"), [(9.8, "0.7 deg"), (10.5, "2.1 deg")])
def test_a_flat_off_its_tilt_cuts_another_plane(tilt, step):
    machine = Machine.model_validate(changed(RACK_MACHINE, {"axes.A.resolution": step}))
    verdict = proved(good("bevel-A", tilt_deg=tilt), machine=machine)
    last, bevel = verdict.cuts[-1], verdict.bevels[0]
    lean = math.radians(tilt - 10.0)
    # By hand: the flat bares on the stock's corner, 1 mm sin 10 deg up the finished face, and goes
    # 0.9748 mm from there along the leaning infeed: cos of the lean as much into the face, and sin
    # as much along it. Through that point the plane leans by what the tilt is off.
    touched = math.sin(TEN) + 0.9748 * math.sin(lean)
    give = last.commanded_depth_mm - last.reached_depth_mm
    short = BEVEL_MM - 0.9748 * math.cos(lean) + give
    # The wanted plane, 0.01 mm outside the finished face, from the edge to the shoulder.
    low, high = 0.01 * math.tan(TEN), FACE_MM - 0.01 / math.tan(TEN)
    at_edge, at_shoulder = (short + math.tan(lean) * (place - touched) for place in (low, high))
    assert bevel.edge_thickness_mm == pytest.approx(
        0.2 + 0.02 / math.cos(TEN) + at_edge / math.cos(TEN), abs=2e-6
    )
    # By hand: to 5.702 mm, 0.0191 mm lower at 0.2 deg and 0.0482 mm higher at 0.5 deg: both are
    # inside 0.05 cos 10 deg = 0.0492 mm. Where the plane is high, flank and face meet sooner.
    assert bevel.lowest_mm == pytest.approx(min(at_edge, at_shoulder), abs=2e-5)
    assert bevel.highest_mm == pytest.approx(max(at_edge, at_shoulder), abs=3e-3)
    assert verdict.faults == ()


def test_names_and_order_of_the_set_ups():
    # Source: docs/operations.md
    assert setup_names(JOB) == ["bevel-A", "bevel-B", "relief-A", "relief-B", "lands-A", "lands-B"]
    one = Job.model_validate(changed(OPERATIONS_JOB, {"relief.faces": "B"}))
    assert setup_names(one) == ["bevel-A", "bevel-B", "relief-B", "lands-B"]
    assert setup_names(IN_LINES) == ["A", "B"]


def test_stock_is_what_the_set_ups_before_have_left():
    flat, form = MACHINE.rack[1], MACHINE.rack[2]
    cases = [
        build_case(JOB, MACHINE, name, form if "relief" in name else flat, form)
        for name in setup_names(JOB)
    ]
    areas = [case.blank.area for case in cases]
    # By hand: 2.2 mm by 20 mm; then a triangle, a segment and the strips off each face in turn.
    triangle = BEVEL_MM**2 / math.sin(2 * TEN)
    segment = segment_area(20.0, RELIEF_MM + 0.01)
    raised = FACE_MM - 0.01 / (math.sin(TEN) * math.cos(TEN))
    strips = 0.01 * (FACE_MM + raised) / 2 - (segment - segment_area(20.0, RELIEF_MM))
    left = 44.0
    for area, gone in zip(areas, [triangle] * 2 + [segment] * 2 + [strips] * 2, strict=True):
        assert area == pytest.approx(left, abs=2e-5)
        left -= gone
    assert [case.removed_area_mm2 for case in cases] == pytest.approx(
        [triangle] * 2 + [segment] * 2 + [strips] * 2, abs=1e-5
    )


@pytest.mark.parametrize("wheel", ["small wheel", "small form"])
def test_a_small_wheel_generates_the_relief_in_lines(wheel):
    verdict = proved(good(wheel), IN_LINES)
    assert verdict.faults == ()
    assert len(verdict.cuts) == len(LINES)
    # By hand: the middle line is rounded up by less than 0.0001 mm, and the spring leaves little.
    assert verdict.lands[0].depth_mm == pytest.approx(RELIEF_MM, abs=4e-4)
    for lands in verdict.lands:
        # By hand: the outermost lines touch the arc at its very ends, rounded inward by 0.0001 mm
        # of cross and of infeed; there a circle of 5 mm meets the face at asin(1.1845 / 15): 1 um
        # of height is 13 um of land.
        assert 1.2 <= lands.edge_land_mm < 1.205
        assert 1.4 <= lands.shoulder_land_mm < 1.405


def test_ridges_stand_as_high_as_circles_that_cross():
    apart = lines(0.5, LAYERS)
    # By hand: wheels of 5 mm, their middles e apart on a circle of 15 mm about the arc's middle,
    # cross at 15 cos a + sqrt(25 - (15 sin a)^2) from it, sin a = e / 30; the arc is at 20. The
    # outermost two of six lines to 1.1845 mm are farthest apart, from asin(0.7107 / 15) to
    # asin(1.1845 / 15).
    angle = (math.asin(1.1845 / 15) - math.asin(0.7107 / 15)) / 2
    ridge = 20 - 15 * math.cos(angle) - math.sqrt(25 - (15 * math.sin(angle)) ** 2)
    # By hand: w^2/8 (1/5 - 1/20), w = 0.4738 * 20/15 = 0.6317 mm: a chord's height on each circle.
    assert ridge == pytest.approx(0.00748, abs=1e-4)
    # The steps of infeed and cross are 0.001 mm, and the ridge may stand one higher.
    for scallop, ok in ((ridge, True), (ridge - 1.2e-3, False)):
        job = Job.model_validate(changed(LINES_JOB, {"relief.scallop": f"{scallop:.6f} mm"}))
        rules = [fault.rule for fault in proved(good("small wheel", passes=apart), job).faults]
        assert (Rule.RIDGES_TOO_HIGH in rules) is not ok


def test_lines_may_come_in_any_order():
    layers = [lines(0.25, [depth], spark_outs=0) for depth in [*LAYERS, LAYERS[-1]]]
    mixed = [each for layer in layers for each in [*layer[::2], *layer[1::2]]]
    backwards = [each for layer in layers for each in reversed(layer)]
    for passes in (mixed, backwards):
        # Property: what is left is the union of all lines, in whatever order.
        verdict = proved(good("small form", passes=passes), IN_LINES)
        assert verdict.faults == ()


@pytest.mark.parametrize("damage", OPERATION_DAMAGES, ids=[d.what for d in OPERATION_DAMAGES])
def test_a_damaged_program_is_refused_by_the_rule_that_names_it(damage):
    job = Job.model_validate(changed(dict(damage.job), dict(damage.job_changes)))
    machine = Machine.model_validate(changed(dict(damage.machine), dict(damage.machine_changes)))
    verdict = proved(damage.text, job, machine)
    assert not verdict.ok
    # Property: every damage is found by the rule that is meant to find it, and has its words.
    assert damage.rule in [fault.rule for fault in verdict.faults]
    for fault in verdict.faults:
        assert fault_words(fault).startswith(f"[{fault.rule}] ")


def test_the_only_wheel_that_can_have_ground_the_relief_is_taken():
    operations = [{"do": "relief"}, OPERATIONS_JOB["operations"][2]]
    job = Job.model_validate(changed(OPERATIONS_JOB, {"operations": operations}))
    machine = Machine.model_validate(changed(RACK_MACHINE, {"rack": RACK_MACHINE["rack"][1:3]}))
    assert proved(good("lands-A"), job, machine).ok
    named = good("lands-A", header="(relief wheel form)")
    assert proved(named, job, MACHINE).ok


def test_a_bevel_of_many_passes_proves_in_a_blink():
    passes = straight_down(to_depth(0.005, BEVEL_MM, 1))
    assert len(passes) > 190
    start = time.process_time()
    assert proved(program("bevel-A", "flat", passes)).ok
    # Measured at 0.4 s; the limit leaves room for slow machines.
    assert time.process_time() - start < 4.0


def test_an_air_run_is_held_off_the_unground_stock():
    high = [Pass(5.0, 0.0)]
    text = program("bevel-A", "flat", high)
    for gone in ("S2850 M3\n", "G4 P5.0\n", "M7\n", "(pass 1 of 1 rough depth 0.0000)\n"):
        text = text.replace(gone, "")
    air = text.replace("(kind cutting)", "(kind air run)")
    assert proved(air).ok
    # By hand: half the clearance is 2.5 mm above the stock's corner.
    low = air.replace("Z5.0000 Y", "Z2.4000 Y").replace("G1 Z5.0000", "G1 Z2.4000")
    assert [f.rule for f in proved(low).faults] == [Rule.AIR_RUN_TOUCHES]


@pytest.mark.parametrize(
    ("name", "wheel", "width"),
    [
        # By hand: the bevel is 0.974808 / (sin 10 deg cos 10 deg) wide; the chord of 0.072459 mm in
        # a circle of 20 mm is 2 sqrt(0.07245897 * 39.92754103); the lands are 1.2 and 1.4 mm.
        ("bevel-A", "flat", 5.700294),
        ("relief-A", "form", 3.401828),
        ("lands-A", "flat", 2.6),
    ],
)
def test_a_wheel_across_the_edge_wears_over_what_touches(name, wheel, width):
    rack = [{**item, "g_ratio": 20} for item in RACK_MACHINE["rack"]]
    machine = Machine.model_validate(changed(RACK_MACHINE, {"rack": rack}))
    wheels = {item.name: item for item in machine.rack}
    case = build_case(JOB, machine, name, wheels[wheel], wheels["form"])
    assert case.wearing_width_mm == pytest.approx(width, abs=1e-5)
    # By hand: 1 mm3 of steel is 1/20 mm3 of a ring pi * 150 mm long and so wide.
    assert wear_mm(case, 1.0) == pytest.approx(1 / 20 / (math.pi * 150 * width), rel=1e-5)


def test_a_bevel_s_verdict_says_edge_and_plane():
    verdict = proved(good("bevel-A"))
    data = verdict_data("setup-bevel-A.ngc", verdict)
    # By hand: no lands yet; five stations, each with the edge that the bevel has left.
    assert data["lands_mm"] == []
    assert [at["station"] for at in data["bevels_mm"]] == [b.station for b in verdict.bevels]
    assert data["bevels_mm"][0]["edge_thickness_mm"] == pytest.approx(0.2208, abs=1e-4)
    text = verdict_lines("setup-bevel-A.ngc", verdict)
    assert "Set-up bevel-A, face A, wheel flat, 21 passes" in text
    assert "  heel                    0.221       0.0005   0.0000" in text
    # Property: a relief's verdict has no bevels.
    assert "bevels_mm" not in verdict_data("setup-relief-A.ngc", proved(good("relief-A")))


def test_a_bevel_goes_on_behind_the_passes_before_it():
    whole = good("bevel-A")
    head, tail = whole[: whole.index("(pass 1 ")], whole[whole.index("(pass 11 ") :]
    header = head.replace("(units", "(from pass 11 of 21, zero stands)\n(units")
    rest = (header + tail).encode()
    before = Before(whole.encode(), 10)
    pair = prove_program(rest, JOB, MACHINE, before=before)
    assert (pair.faults, pair.faults_before) == ((), ())
    # Property: the pair leaves what the whole program leaves.
    assert pair.bevels == proved(whole).bevels
    # By hand: the other face's program is not the one before it.
    other = Before(good("bevel-B").encode(), 10)
    refused = prove_program(rest, JOB, MACHINE, before=other)
    assert Rule.CLAIM_CONTRADICTED in [fault.rule for fault in refused.faults_before]


def test_lands_beside_a_sharp_edge_are_in_one_plane():
    # No thickness at the edge and no relief on face B: the end of the blade is a strip no higher
    # than what is left of the allowance, and its lower corner is none of the land's.
    job = Job.model_validate(
        changed(OPERATIONS_JOB, {"blade.section.edge_thickness": "0 mm", "relief.faces": "A"})
    )
    machine = Machine.model_validate(changed(RACK_MACHINE, {"stiffness": "200 N/mm"}))
    verdict = proved(good("lands-A", passes=straight_down([0.005, 0.008])), job, machine)
    # By hand: 0.002 mm above the finished face; the edge 0.002 tan 10 deg up it.
    give = verdict.cuts[-1].commanded_depth_mm - verdict.cuts[-1].reached_depth_mm
    high = 0.002 + give
    face = 1.1 / math.sin(TEN)
    middle, half_chord = 1.2 + (face - 2.6) / 2, (face - 2.6) / 2
    deep = 20.0 - math.sqrt(400.0 - half_chord**2)
    half = math.sqrt((deep + high) * (40.0 - deep - high))
    assert verdict.lands[0].edge_land_mm == pytest.approx(
        middle - half - high * math.tan(TEN), abs=1e-4
    )
    assert Rule.LANDS_NOT_IN_ONE_PLANE not in [fault.rule for fault in verdict.faults]


@pytest.mark.parametrize(
    ("flip", "name", "tilt"),
    [
        # Source: docs/frames.md, the table of set-ups at a bevel of 10 deg.
        ("over", "A", 10.0),
        ("over", "B", -10.0),
        ("by_tilt", "A", -80.0),
        ("by_tilt", "B", 80.0),
    ],
)
def test_every_way_of_turning_the_blade_grinds_the_same(flip, name, tilt):
    changes = {"fixture.flip": flip, "axes.A.travel": ["-95 deg", "95 deg"]}
    machine = Machine.model_validate(changed(RACK_MACHINE, changes))
    flipped = {key: good(f"{key}-{name}", tilt_deg=tilt) for key in ("bevel", "relief", "lands")}
    for key, text in flipped.items():
        verdict, usual = proved(text, machine=machine), proved(good(f"{key}-{name}"))
        assert verdict.faults == ()
        # Property: at the same depth the same is taken, however the blade is held.
        assert [c.removed_area_mm2 for c in verdict.cuts] == pytest.approx(
            [c.removed_area_mm2 for c in usual.cuts], abs=1e-7
        )


@pytest.mark.parametrize(("flip", "tilt", "sign"), [("end_for_end", 10.0, 1), ("over", -10.0, -1)])
def test_over_reverses_the_cross_of_lines(flip, tilt, sign):
    machine = Machine.model_validate(changed(RACK_MACHINE, {"fixture.flip": flip}))
    # The lines on the edge's side alone, of face B: cross below zero, and over it where the blade
    # was turned about its length.
    half = [p for p in LINES if (p.cross_mm or 0.0) <= 0.0]
    turned = [Pass(p.infeed_mm, p.depth_mm, sign * (p.cross_mm or 0.0) + 0.0) for p in half]
    text = good("small form", setup="B", passes=turned, tilt_deg=tilt)
    lands = proved(text, IN_LINES, machine).lands[0]
    # By hand: the land of the edge is ground to its end; the shoulder's reaches to where the circle
    # of the middle line of 5 mm comes up: sqrt(0.0624 * 9.9376) = 0.7875 mm past the middle.
    assert lands.edge_land_mm == pytest.approx(1.2, abs=0.005)
    assert lands.shoulder_land_mm == pytest.approx(1.4 + CHORD_MM / 2 - 0.7875, abs=0.005)
