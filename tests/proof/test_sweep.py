"""A tilt that is swept from facet to facet, against a rotation about a point and polygons."""

from __future__ import annotations

import cmath
import math
import re

import numpy as np
import pytest
import shapely

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.build_case import build_case
from planner.proof.bulge import bulge_setups
from planner.proof.frame import Frame, Pivot
from planner.proof.prove import Before, prove_program
from planner.proof.seen import look
from planner.proof.sweep import rises_mm
from planner.proof.target import Face
from planner.report.faults import fault_words
from tests.proof.bulge_by_hand import MIDDLE, RADIUS_MM
from tests.proof.bulge_forms_by_hand import (
    ARC_A,
    ARC_B,
    HOOK,
    HOOK_DEG,
    HOOK_RIDGE_MM,
    ground_from_bar,
    hook_job,
    outline_section,
)
from tests.proof.conftest import changed
from tests.proof.sweep_by_hand import (
    CORNER,
    SWEEP_JOB,
    SWEEP_MACHINE,
    SWEPT_DEG,
    Way,
    dot,
    facets,
    swept_passes,
    swept_program,
)
from tests.proof.sweep_damages import AXIS_LINE, SWEEP_DAMAGES

JOB, MACHINE = Job.model_validate(SWEEP_JOB), Machine.model_validate(SWEEP_MACHINE)
FLAT = next(wheel for wheel in MACHINE.rack if wheel.name == "flat")
FACETS, PASSES = facets(), swept_passes()
GOOD = swept_program(PASSES)
LYING = Face("A", 0.0, (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), 1.0)


def proved(text, machine=MACHINE, job=JOB, **options):
    return prove_program(text.encode(), job, machine, **options)


def turned(machine, **changes):
    return Machine.model_validate(changed(machine, changes))


@pytest.mark.parametrize(
    ("tilt", "cross", "infeed", "wanted"),
    [
        # By hand, 50 mm straight above the axis at tilt 0.
        (0.0, 0.0, 0.0, (25.0, 20.0)),
        (90.0, 0.0, 0.0, (-25.0, -30.0)),
        (90.0, 3.0, 4.0, (-29.0, -27.0)),
        (
            30.0,
            3.0,
            4.0,
            (25.0 + 3.0 * math.sqrt(0.75) - 27.0, -30.0 + 1.5 + 54.0 * math.sqrt(0.75)),
        ),
        (-30.0, 0.0, 10.0, (55.0, -30.0 + 60.0 * math.sqrt(0.75))),
    ],
)
def test_the_wheel_goes_round_the_axis_as_the_blade_has_it(tilt, cross, infeed, wanted):
    frame = Frame(LYING, "end_for_end", (25.0, 20.0), 0.0, 1.0, Pivot((25.0, -30.0), 0.0))
    assert frame.centre(cross, infeed, tilt) == pytest.approx(wanted, abs=1e-12)


def test_the_origin_is_where_the_wheel_bares_at_the_first_tilt():
    frame = Frame(LYING, "over", (1.0, 2.0), 0.0, 1.0, Pivot((25.0, -30.0), 20.0))
    assert frame.centre(0.0, 0.0, 20.0) == pytest.approx((1.0, 2.0), abs=1e-12)
    # By hand: turned on by 90 deg about the axis, (-24, 32) from it is (-32, -24) from it.
    assert frame.centre(0.0, 0.0, 110.0) == pytest.approx((-7.0, -54.0), abs=1e-12)


@pytest.mark.parametrize(
    ("from_axis", "tilts", "rise"),
    [
        # By hand: 3 to the side of the axis and 4 up is 5 away; straight up at tan d = -3/4.
        ((3.0, 4.0), (0.0, -90.0), 1.0),
        ((3.0, 4.0), (0.0, 90.0), 0.0),
        ((3.0, 4.0), (0.0, -30.0), 4.0 * math.sqrt(0.75) + 1.5 - 4.0),
        (
            (-3.0, 4.0),
            (0.0, 5.0, 10.0),
            4 * math.cos(math.radians(10)) + 3 * math.sin(math.radians(10)) - 4,
        ),
    ],
)
def test_a_corner_rises_about_the_axis(from_axis, tilts, rise):
    frame = Frame(LYING, "end_for_end", (0.0, 0.0), 0.0, 1.0)
    assert rises_mm(frame, from_axis, tilts) == pytest.approx(rise, abs=1e-12)


def test_one_set_up_a_face_holds_the_facets_of_the_rule():
    assert bulge_setups(JOB, MACHINE) == ["bevel-A", "bevel-B", "relief-A", "relief-B"]
    case = build_case(JOB, MACHINE, "bevel-A", FLAT)
    assert case.sweep is not None
    assert case.sweep.tilts_deg == pytest.approx(SWEPT_DEG, abs=1e-9)
    for found, wanted in zip(case.sweep.facets, FACETS, strict=True):
        assert found.depth_mm == pytest.approx(wanted.depth_mm, abs=1e-9)
        assert found.begins_mm == pytest.approx(wanted.begins_mm, abs=1e-9)
    # By hand: a ridge of 0.0005 mm wants facets acos(1 / (1 + h/R)) = 0.4057 deg to either side of
    # it: 10 / 0.8113 = 12.3 steps, so 13 of them.
    fine = Job.model_validate(changed(SWEEP_JOB, {"operations.0.ridge": "0.0005 mm"}))
    sweep = build_case(fine, MACHINE, "bevel-B", FLAT).sweep
    assert sweep is not None
    assert len(sweep.facets) == 14
    # Without an axis that is told, each facet is a set-up, nine at most.
    alone = turned(SWEEP_MACHINE, **{"fixture.tilt_axis": None})
    assert bulge_setups(JOB, alone)[:3] == ["bevel-A-1", "bevel-B-1", "bevel-A-2"]


def test_a_whole_sweep_proves_and_leaves_the_tangents_of_the_arc():
    verdict = proved(swept_program(PASSES, header=AXIS_LINE))
    assert verdict.faults == ()
    assert [cut.commanded_depth_mm for cut in verdict.cuts] == pytest.approx(
        [each.depth_mm for each in PASSES], abs=1e-9
    )
    # By hand: nothing of the proof in these polygons. The stock, less all above each tangent as
    # far as its last pass was sent.
    wanted = shapely.box(0.0, -1.0, 20.0, 1.0)
    for tilt, facet in zip(SWEPT_DEG, FACETS, strict=True):
        sent = max(each.depth_mm for each in PASSES if each.tilt_deg == tilt)
        along = cmath.exp(1j * math.radians(tilt))
        at = CORNER - sent * facet.normal
        far = [at - 50 * along, at + 50 * along, at + (50 + 50j) * along, at + (-50 + 50j) * along]
        wanted = wanted.difference(shapely.Polygon([(p.real, p.imag) for p in far]))
    left = verdict.cuts[-1].after
    short = max(c.commanded_depth_mm - c.reached_depth_mm for c in verdict.cuts[-1:])
    assert short < 1e-4
    assert left.symmetric_difference(wanted).area < 0.0003 * 3.4
    assert wanted.difference(left).area < 1e-9
    # Seen from the arc's middle: of straight lines the corners are highest.
    out = shapely.get_coordinates(left) - np.array(MIDDLE)
    turned_by = np.degrees(np.arctan2(-out[:, 0], out[:, 1]))
    over = np.hypot(out[:, 0], out[:, 1])[(turned_by > 10.0) & (turned_by < 20.0)] - RADIUS_MM
    (at, *_) = verdict.bevels
    assert at.ridge_mm is not None
    assert at.ridge_mm == pytest.approx(over.max(), abs=1e-9)
    arc = shapely.Point(MIDDLE).buffer(RADIUS_MM, quad_segs=20000)
    wedge = [MIDDLE, *(_on_arc(angle, 2.0) for angle in (20.0, 10.0))]
    upper = arc.intersection(shapely.Polygon(wedge)).intersection(shapely.box(0, 0, 20, 1))
    assert upper.difference(left).area < 1e-6
    assert at.gouge_mm < 1e-6
    # By hand: the ridge of two tangents 2.5 deg apart, and what the spring leaves.
    ridge = RADIUS_MM * (1 / math.cos(math.radians(1.25)) - 1)
    assert ridge - 1e-6 < at.ridge_mm < ridge + 0.001
    assert at.edge_thickness_mm == pytest.approx(0.2, abs=0.0005)


def _on_arc(degrees, radii):
    angle, far = math.radians(degrees), radii * RADIUS_MM
    return MIDDLE[0] - far * math.sin(angle), MIDDLE[1] + far * math.cos(angle)


@pytest.mark.parametrize(
    ("way", "changes"),
    [
        # By hand, by the table for what goes with the holder: (y, -z), (2 t - y, -z) and (y, z).
        (Way("end_for_end", "B", 25 + 30j, SWEPT_DEG), {}),
        (
            Way("over", "B", -5 + 30j, tuple(-tilt for tilt in SWEPT_DEG)),
            {"fixture.flip": "over", "fixture.turn_line": "10 mm"},
        ),
        (
            Way("by_tilt", "A", 25 - 30j, tuple(tilt - 90 for tilt in SWEPT_DEG)),
            {"fixture.flip": "by_tilt", "axes.A.travel": ["-95 deg", "95 deg"]},
        ),
        (
            Way("by_tilt", "B", 25 - 30j, tuple(90 - tilt for tilt in SWEPT_DEG)),
            {"fixture.flip": "by_tilt", "axes.A.travel": ["-95 deg", "95 deg"]},
        ),
    ],
)
def test_every_way_of_turning_the_blade_sweeps_the_same_facets(way, changes):
    machine = turned(SWEEP_MACHINE, **changes)
    text = swept_program(swept_passes(way), way, clear_mm=8.0, turn_at_mm=8.0)
    verdict = proved(text, machine)
    assert verdict.faults == ()
    usual = proved(GOOD)
    # Property: the same is taken at each facet, but for the rounding of each infeed.
    assert sum(c.removed_area_mm2 for c in verdict.cuts) == pytest.approx(
        sum(c.removed_area_mm2 for c in usual.cuts), abs=1e-3
    )


def test_a_corner_that_rises_asks_for_more_clearance():
    way = Way("over", "B", -5 + 30j, tuple(-tilt for tilt in SWEPT_DEG))
    machine = turned(SWEEP_MACHINE, **{"fixture.flip": "over", "fixture.turn_line": "10 mm"})
    # By hand: the corner (0, -1) lies (5, -31) from the axis, 31 cos - 5 sin up at the tilt t: at
    # -20 deg 30.841, at -10 deg 31.397; up is -z there, and y goes the other way.
    across, up = 5.0, 31.0
    heights = [
        up * math.cos(math.radians(t)) - across * math.sin(math.radians(t)) for t in (20, 10)
    ]
    other = [up * math.cos(math.radians(t)) + across * math.sin(math.radians(t)) for t in (20, 10)]
    rise = max(heights[1] - heights[0], other[1] - other[0])
    sweep = build_case(JOB, machine, "bevel-B", FLAT).sweep
    assert sweep is not None
    assert sweep.rises_mm == pytest.approx(rise, abs=1e-9)
    for clear, rules in ((5.0 + rise + 1e-3, set()), (5.0 + rise - 1e-3, {"tilt-not-clear"})):
        text = swept_program(swept_passes(way), way, clear_mm=9.0, turn_at_mm=round(clear, 4))
        assert {fault.rule for fault in proved(text, machine).faults} == rules


def test_what_the_tool_meets_while_the_tilt_turns_is_met_about_the_real_axis():
    # By hand: before the last turn the cross stands at its fourth place, 5 mm clear.
    before = PASSES[-3]
    zero = FACETS[0].over_middle - complex(25, -30)
    first = cmath.exp(1j * math.radians(20.0))
    across, up = dot(zero, first) + before.cross_mm, dot(zero, first * 1j) + 5.0

    def flat_end(tilt):
        held = cmath.exp(1j * math.radians(tilt))
        return complex(25, -30) + (across + 8.0) * held + up * held * 1j

    # The end of the flat swings outward, away from the edge, all the way.
    ends = [flat_end(tilt) for tilt in (12.5, 10.0)]
    assert ends[1].real > ends[0].real + 1.0
    for y, rules in ((ends[1].real - 0.05, {"obstacle"}), (ends[1].real + 0.05, set())):
        post = {
            "name": "post",
            "outline": [
                [f"{a:.4f} mm", f"{b} mm"] for a, b in ((y, 8), (y + 1, 8), (y + 1, 14), (y, 14))
            ],
            "from": "-60 mm",
            "to": "140 mm",
        }
        machine = turned(SWEEP_MACHINE, **{"fixture.obstacles": [post]})
        verdict = proved(GOOD, machine)
        assert {fault.rule for fault in verdict.faults} == rules
        # The cross then sets out from where the turn has put the wheel.
        assert [fault.block for fault in verdict.faults][:1] == ["G0 A10.000"] * len(rules)


def test_a_machine_without_a_cross_sweeps_where_the_flat_covers_the_facets():
    axes = {letter: axis for letter, axis in SWEEP_MACHINE["axes"].items() if letter != "Y"}
    text = re.sub(r" Y-?[0-9.]+", "", re.sub(r"G0 Y-?[0-9.]+\n", "", GOOD))
    # Property: the cross goes along each facet, so the infeeds are the same without it.
    assert proved(text, turned(SWEEP_MACHINE, axes=axes)).faults == ()
    narrow = changed(SWEEP_JOB, {"operations.0.wheel": "narrow"})
    text = text.replace("(wheel flat)", "(wheel narrow)")
    rules = {
        f.rule
        for f in proved(text, turned(SWEEP_MACHINE, axes=axes), Job.model_validate(narrow)).faults
    }
    assert rules & {"bevel-out-of-tolerance", "ridges-too-high"}


def _from_pass(number, how, touch_mm=None):
    """The passes from one on, numbered as before, and what the header says of them."""
    header = f"(from pass {number} of {len(PASSES)}, {how})"
    if touch_mm is not None:
        header += f"\n(touch wheel bares on bevel so far at depth {touch_mm:.4f})"
    text = swept_program(PASSES[number - 1 :], header=header)
    count = iter(range(number, len(PASSES) + 1))
    return re.sub(r"\(pass \d+ of \d+", lambda _: f"(pass {next(count)} of {len(PASSES)}", text)


@pytest.mark.parametrize("number", [5, 19, 20, 28])
def test_a_sweep_goes_on_from_any_pass(number):
    before = Before(GOOD.encode(), number - 1)
    verdict = proved(_from_pass(number, "zero stands"), before=before)
    assert (verdict.faults, verdict.faults_before) == ((), ())
    assert verdict.bevels == proved(GOOD).bevels


def test_a_new_wheel_bares_on_the_corner_that_the_facet_before_left():
    # By hand: pass 19 is the first of the second facet.
    assert [each.tilt_deg for each in PASSES[17:19]] == [20.0, 17.5]
    before = Before(GOOD.encode(), 18)
    for touch, rules in (
        (FACETS[1].begins_mm, set()),
        (FACETS[0].depth_mm, {"claim-contradicted"}),
    ):
        verdict = proved(_from_pass(19, "new wheel", touch), before=before)
        assert {fault.rule for fault in verdict.faults} == rules


def test_what_a_first_program_leaves_wrong_is_told_of_it():
    short = swept_passes(more_mm=(-0.12,))
    before = Before(swept_program(short).encode(), 18)
    verdict = proved(_from_pass(19, "zero stands"), before=before)
    assert "edge-out-of-tolerance" in [fault.rule for fault in verdict.faults_before]


def test_a_wheel_wears_over_the_width_of_each_facet():
    case = build_case(JOB, MACHINE, "bevel-A", FLAT)
    assert case.sweep is not None
    for found, facet in zip(case.sweep.facets, FACETS, strict=True):
        first, last = facet.reaches
        assert found.wearing_width_mm == pytest.approx(abs(last - first), abs=1e-9)


def test_every_blade_of_a_row_is_swept_alike():
    changes = {
        "axes.X.travel": ["-150 mm", "450 mm"],
        "fixture.row": {"positions": ["0 mm", "140 mm"]},
    }
    stations = "\n".join(f"(station {n} of 2 heel at {at}.0000 mm)" for n, at in ((1, 0), (2, 140)))
    text = swept_program(PASSES, header=stations).replace("X120.0000", "X260.0000")
    verdict = proved(text, turned(SWEEP_MACHINE, **changes))
    assert verdict.faults == ()
    one, two = verdict.bevels[:5], verdict.bevels[5:]
    assert [at.ridge_mm for at in one] == [at.ridge_mm for at in two]


def test_an_air_run_of_a_sweep_stays_above_the_blade():
    lifted = re.sub(r"Z(-?[0-9.]+)", lambda z: f"Z{float(z[1]) + 10:.4f}", GOOD)
    air = lifted.replace("kind cutting", "kind air run").replace("S2850 M3\nG4 P5.0\nM7\n", "")
    assert proved(air).faults == ()
    low = air.replace(f"Z{PASSES[18].infeed_mm + 10:.4f}", f"Z{PASSES[18].infeed_mm:.4f}")
    assert {fault.rule for fault in proved(low).faults} == {"air-run-touches"}


def test_the_wheel_is_drawn_where_it_stands_at_each_tilt():
    (seen,) = look([proved(GOOD)])
    for drawn, each in zip(seen.passes, PASSES, strict=True):
        angle = math.radians(each.tilt_deg)
        assert drawn.cross_dir_yz == pytest.approx((math.cos(angle), math.sin(angle)), abs=1e-9)
        assert drawn.commanded_mm == pytest.approx(each.depth_mm, abs=1e-9)


def test_a_hook_is_swept_over_its_outside_alone():
    job = ground_from_bar(hook_job())
    assert bulge_setups(job, MACHINE) == ["bevel-A", "relief-A"]
    way = Way("end_for_end", "A", 25 - 30j, HOOK_DEG)
    passes = swept_passes(way, arc=HOOK)
    # By hand: the corner, 25 mm beside the axis and 32.1 mm over it, is highest between two tilts.
    first, highest = _up(40.0), math.hypot(25.0, 32.1)
    assert highest > max(first, _up(20.0))
    clear = math.ceil((5.0 + highest - first) * 1e4) / 1e4
    low = proved(swept_program(passes, way, clear_mm=clear, turn_at_mm=clear - 1e-3), job=job)
    assert {fault.rule for fault in low.faults} == {"tilt-not-clear"}
    verdict = proved(swept_program(passes, way, clear_mm=clear, turn_at_mm=clear), job=job)
    assert verdict.faults == ()
    (at, *_) = verdict.bevels
    assert at.ridge_mm == pytest.approx(HOOK_RIDGE_MM, abs=1e-3)


def _up(degrees):
    angle = math.radians(degrees)
    return 25.0 * math.sin(angle) + 32.1 * math.cos(angle)


@pytest.mark.parametrize(("face", "arc"), [("A", ARC_A), ("B", ARC_B)])
def test_each_face_of_an_outline_is_swept_over_its_own_arc(face, arc):
    data = hook_job(blade__section=outline_section(ARC_B), relief__faces="both")
    job = ground_from_bar(data, ridge_mm=0.016)
    assert bulge_setups(job, MACHINE) == ["bevel-A", "bevel-B", "relief-A", "relief-B"]
    # By hand: 6 deg apart, see test_bulge_forms.py.
    tilts = (30.0, 24.0, 18.0, 12.0) if face == "A" else (24.0, 18.0, 12.0)
    way = Way("end_for_end", face, complex(25, -30 if face == "A" else 30), tilts)
    verdict = proved(swept_program(swept_passes(way, arc=arc), way), job=job)
    assert verdict.faults == ()
    (at, *_) = verdict.bevels
    ridge = arc.radius_mm * (1 / math.cos(math.radians(3.0)) - 1)
    assert at.ridge_mm == pytest.approx(ridge, abs=1e-3)


def test_a_flat_bevel_beside_a_sweep_keeps_its_turns_face_by_face():
    thick = hook_job(blade__section=outline_section(2.6), relief__faces="both")
    job = ground_from_bar(thick, ridge_mm=0.016)
    assert job.bevel_stages > 1
    turns = [f"bevel-B-{n + 1}" for n in range(job.bevel_stages)]
    assert bulge_setups(job, MACHINE) == ["bevel-A", *turns, "relief-A", "relief-B"]


@pytest.mark.parametrize("damage", SWEEP_DAMAGES, ids=[d.what for d in SWEEP_DAMAGES])
def test_a_damaged_sweep_is_refused_by_the_rule_that_names_it(damage):
    job = Job.model_validate(changed(dict(damage.job), dict(damage.job_changes)))
    machine = Machine.model_validate(changed(dict(damage.machine), dict(damage.machine_changes)))
    verdict = prove_program(damage.text.encode(), job, machine)
    assert damage.rule in [fault.rule for fault in verdict.faults]
    for fault in verdict.faults:
        assert fault_words(fault).startswith(f"[{fault.rule}] ")
