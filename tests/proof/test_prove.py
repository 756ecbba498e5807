"""The good programs prove, with the lands and loads that hand arithmetic gives."""

from __future__ import annotations

import hashlib
import math
import time

import pytest
from scipy.optimize import brentq

from planner.proof.rules import Rule

BEVEL = math.radians(12.5)
# By hand: the bevel face is 1.5 mm / sin 12.5 deg = 6.930339 mm wide; less 1.2 and 1.4 mm of land
# the chord is 4.330339 mm.
FACE_MM = 1.5 / math.sin(BEVEL)
CHORD_MM = FACE_MM - 2.6

# Radius mm, stiffness N/mm, N per mm2 removed and commanded depth of each pass.
# By hand, N per mm2 = u v_f / (v_s lambda):
#   mill 40 J/mm3 * 66.667 mm/s / (pi * 0.150 m * 47.5/s * 0.4)
#   belt 20 J/mm3 * 50 mm/s / (pi * 0.150 m * 23.333/s * 0.5): the drive wheel's rim
#   inch: F157.4 inch/min for four passes, then inverse time 33.3/min over 4.7244 inch
MILL_N_MM2 = 40 * (4000 / 60) / (math.pi * 0.150 * 2850 / 60 * 0.4)
BELT_N_MM2 = 20 * (3000 / 60) / (math.pi * 0.150 * 1400 / 60 * 0.5)
INCH_N_MM2 = MILL_N_MM2 / 4000 * 25.4
CASES = {
    "mill-A.ngc": (
        75.0,
        2000.0,
        [MILL_N_MM2] * 6,
        [0.0080, 0.0160, 0.0230, 0.0290, 0.0312, 0.0312],
    ),
    # The scale has 2 deg: the tilt is -12 deg, half a degree off, and there is no cross axis.
    "small-B.ngc": (
        21.0,
        500.0,
        [BELT_N_MM2] * 9,
        [
            z * math.cos(math.radians(0.5))
            for z in (0.019, 0.038, 0.055, 0.071, 0.086, 0.099, 0.111, 0.111, 0.111)
        ],
    ),
    "inch-B.ngc": (
        75.0,
        2000.0,
        [INCH_N_MM2 * 157.4] * 3 + [INCH_N_MM2 * 33.3 * (3.9370 + 0.7874)] * 3,
        [25.4 * z for z in (0.0003, 0.0006, 0.0009, 0.0012, 0.0012, 0.0012)],
    ),
}


def segment_area(radius: float, depth: float) -> float:
    """Circle segment, R^2/2 (theta - sin theta); theta^3/6 - theta^5/120 below 0.1 rad."""
    theta = 2 * math.acos(1 - depth / radius)
    if theta < 0.1:
        return radius**2 / 2 * (theta**3 / 6 - theta**5 / 120 + theta**7 / 5040)
    return radius**2 / 2 * (theta - math.sin(theta))


def reached_depths(radius, stiffness, newton_per_mm2, commanded):
    """Each pass's reached depth, from the circle's own formula and scipy's root finder."""
    reached = 0.0
    for depth, per_mm2 in zip(commanded, newton_per_mm2, strict=True):

        def out_of_balance(r, depth=depth, per_mm2=per_mm2, before=reached):
            area = segment_area(radius, r) - segment_area(radius, before)
            return stiffness * (depth - r) - per_mm2 * area

        reached = brentq(out_of_balance, reached, depth, xtol=1e-12)
        yield reached


def test_the_sample_programs_prove(prove, sample_name):
    verdict = prove(sample_name, prove.text(sample_name))
    assert verdict.faults == ()
    assert verdict.ok
    assert verdict.sha256 == hashlib.sha256(prove.text(sample_name).encode()).hexdigest()
    assert verdict.kind == ("air run" if "air" in sample_name else "cutting")
    assert verdict.face == verdict.setup == ("B" if "-B" in sample_name else "A")


@pytest.mark.parametrize("name", CASES)
def test_reached_depth_and_loads_are_those_of_the_circle_formulas(prove, name):
    radius, stiffness, per_mm2, commanded = CASES[name]
    cuts = prove(name, prove.text(name)).cuts
    reached = list(reached_depths(radius, stiffness, per_mm2, commanded))
    assert len(cuts) == len(commanded)
    # By hand: the formulas above. The polygon's chords are within 1e-6 mm of the circle, and a
    # depth error of that size is an area error of 4.3e-6 mm2.
    assert [cut.commanded_depth_mm for cut in cuts] == pytest.approx(commanded, abs=1e-9)
    assert [cut.reached_depth_mm for cut in cuts] == pytest.approx(reached, abs=2e-6)
    before = 0.0
    for cut, depth, newton in zip(cuts, reached, per_mm2, strict=True):
        area = segment_area(radius, depth) - segment_area(radius, before)
        assert cut.removed_area_mm2 == pytest.approx(area, abs=1e-5)
        assert cut.normal_force_n == pytest.approx(newton * area, abs=1e-5 * newton)
        # Property: the spring carries the cut's force.
        give = cut.commanded_depth_mm - cut.reached_depth_mm
        assert cut.normal_force_n == pytest.approx(stiffness * give, rel=2e-4, abs=1e-4)
        before = depth


def test_power_is_energy_times_removal_rate(prove):
    first = prove("mill-A.ngc", prove.text("mill-A.ngc")).cuts[0]
    # By hand: 40 J/mm3 * 0.0089027 mm2 * 66.667 mm/s = 23.74 W
    assert first.power_w == pytest.approx(23.74, abs=0.01)
    assert (first.first_line, first.last_line, first.feed_mm_min) == (23, 23, pytest.approx(4000))


@pytest.mark.parametrize("name", CASES)
def test_lands_are_those_of_the_reached_circle(prove, name):
    radius, stiffness, per_mm2, commanded = CASES[name]
    depth = list(reached_depths(radius, stiffness, per_mm2, commanded))[-1]
    chord = 2 * math.sqrt(depth * (2 * radius - depth))
    # By hand: both lands grow by half of what the chord lacks. Half a degree off the ideal tilt,
    # without a cross axis, the wheel comes down beside the middle by depth * tan 0.5 deg.
    aside = commanded[-1] * math.tan(math.radians(0.5)) if name.startswith("small") else 0.0
    edge, shoulder = 1.2 + (CHORD_MM - chord) / 2, 1.4 + (CHORD_MM - chord) / 2
    verdict = prove(name, prove.text(name))
    assert [lands.station for lands in verdict.lands] == [
        "heel", "quarter", "middle", "three quarters", "tip",
    ]  # fmt: skip
    assert [lands.x_mm for lands in verdict.lands] == [0.0, 20.0, 40.0, 60.0, 80.0]
    for lands in verdict.lands:
        # On face B `over`, -12 deg instead of -12.5 deg turns the infeed toward the edge.
        assert lands.edge_land_mm == pytest.approx(edge - aside, abs=1e-4)
        assert lands.shoulder_land_mm == pytest.approx(shoulder + aside, abs=1e-4)
        assert lands.depth_mm == pytest.approx(depth, abs=2e-6)


def test_positions_are_those_of_the_touch_frame(prove):
    points = prove("small-B.ngc", prove.text("small-B.ngc")).positions
    # By hand: Z is inverted; without cross and tilt axes these are 0 and the scale's -12 deg.
    first = points[0]
    assert (first.line, first.rapid) == (13, True)
    assert (first.traverse_mm, first.cross_mm, first.infeed_mm, first.tilt_deg) == (
        -27.5, 0.0, 8.0, -12.0,
    )  # fmt: skip
    assert points[1].infeed_mm == -0.019


def test_no_line_of_a_cutting_program_can_be_left_out(prove):
    lines = prove.text("mill-A.ngc").splitlines()
    optional = {
        "(bevelwright program)",
        "(title Straight carving knife)",
        "(plan 0123456789abcdef)",
        "(kind cutting)",
        "(zero wheel bares on face A, middle of relief, traverse 0 at heel)",
        "(units mm)",
        "(clear 5.0000)",
    }
    for number, line in enumerate(lines):
        rest = "\n".join(lines[:number] + lines[number + 1 :]) + "\n"
        # Property: nothing in the program is there for nothing.
        assert prove("mill-A.ngc", rest).ok == (line in optional), line


def test_a_pass_in_two_blocks_is_one_pass(prove):
    text = prove.text("mill-A.ngc")
    split = text.replace("G1 X100.0000 F4000.0\n", "G1 X41.0000 F4000.0\nG1 X100.0000\n")
    whole, parts = prove("mill-A.ngc", text), prove("mill-A.ngc", split)
    assert parts.ok
    # Property: cutting a block in two changes no depth, though the wheel stands over the middle
    # in both halves.
    assert [c.reached_depth_mm for c in parts.cuts] == [c.reached_depth_mm for c in whole.cuts]
    assert parts.cuts[0].last_line == parts.cuts[0].first_line + 1


def test_faults_come_in_line_order_and_name_their_block(prove):
    text = prove.text("mill-A.ngc").replace("G54\n", "G54\nM6\n").replace("G21\n", "G21 \t\n")
    faults = prove("mill-A.ngc", text).faults
    assert [fault.line for fault in faults] == sorted(fault.line for fault in faults)
    first = faults[0]
    assert (first.line, first.rule, first.block) == (10, Rule.CONTROL_CHARACTER, "G21 \\x09")


@pytest.mark.parametrize(
    ("job", "rule"),
    [
        pytest.param({"relief__edge_land": "6 mm"}, Rule.IMPOSSIBLE_GEOMETRY, id="lands-too-wide"),
        pytest.param(
            {"blade__section__width": "5 mm"}, Rule.IMPOSSIBLE_GEOMETRY, id="bevel-over-blade"
        ),
        pytest.param({"relief__faces": "B"}, Rule.CLAIM_CONTRADICTED, id="the-other-face"),
        pytest.param({"wheel": "coarse"}, Rule.CLAIM_CONTRADICTED, id="the-job's-wheel"),
        pytest.param({"relief__min_steel_left": "0.55 mm"}, Rule.STEEL_LEFT, id="steel-left"),
        pytest.param(
            {"relief__land_tolerance": "0.02 mm"}, Rule.LAND_OUT_OF_TOLERANCE, id="tolerance"
        ),
    ],
)
def test_a_job_that_the_program_does_not_fit_is_refused(prove, job, rule):
    verdict = prove("mill-A.ngc", prove.text("mill-A.ngc"), job=prove.job(**job))
    assert rule in [fault.rule for fault in verdict.faults]


def test_a_wheel_too_small_for_polygons_is_refused(prove):
    job = prove.job(relief__edge_land="3.4 mm", relief__shoulder_land="3.4 mm")
    # No file may ask for such a wheel; the proof does not lean on that.
    machine = prove.machine("mill-A.ngc", {})
    tiny = machine.rack[0].model_copy(update={"diameter_mm": 1.0})
    machine = machine.model_copy(update={"rack": [tiny]})
    verdict = prove("mill-A.ngc", prove.text("mill-A.ngc"), job=job, machine=machine)
    assert [fault.rule for fault in verdict.faults] == [Rule.IMPOSSIBLE_GEOMETRY]


def test_a_depth_in_place_of_a_land_gives_the_same_target(prove):
    text = prove.text("mill-A.ngc")
    # By hand: 75 - sqrt(75^2 - (4.330339 / 2)^2) = 0.03125958 mm is the depth of the chord.
    for gone in ("relief__edge_land", "relief__shoulder_land"):
        job = prove.job(**{gone: None, "relief__depth": "0.03125958 mm"})
        verdict = prove("mill-A.ngc", text, job=job)
        assert verdict.faults == ()
    deep = prove.job(relief__edge_land=None, relief__depth="0.5 mm")
    assert [f.rule for f in prove("mill-A.ngc", text, job=deep).faults] == ["impossible-geometry"]


def test_arguments_stand_in_for_the_claims(prove):
    text = prove.text("mill-A.ngc")
    bare = text.replace("(setup A face A)\n", "").replace("(wheel fine)\n", "")
    assert prove("mill-A.ngc", bare, setup="A", wheel="fine").ok
    assert not prove("mill-A.ngc", bare).ok
    assert not prove("mill-A.ngc", bare, setup="C", wheel="fine").ok
    assert not prove("mill-A.ngc", bare, setup="A", wheel="coarse").ok


def test_a_wheel_name_is_known_with_its_blanks_closed(prove):
    # A comment shows blanks in a row as one.
    text = prove.text("mill-A.ngc").replace("(wheel fine)", "(wheel no. 3 fine)")
    machine = prove.machine("mill-A.ngc", {"rack.0.name": "no.  3 fine"})
    assert prove("mill-A.ngc", text, machine=machine).ok


def test_a_touch_in_the_other_direction_of_the_frame_is_refused(prove):
    # The same text on a machine whose infeed counts the other way runs away from the steel.
    machine = prove.machine("small-B.ngc", {"axes.Z.invert": False})
    rules = [
        f.rule for f in prove("small-B.ngc", prove.text("small-B.ngc"), machine=machine).faults
    ]
    assert Rule.START_NOT_CLEAR in rules


def test_a_program_proves_well_within_the_time_a_user_notices(prove):
    text = prove.text("small-B.ngc")
    prove("small-B.ngc", text)
    start = time.process_time()
    prove("small-B.ngc", text)
    # Measured at 0.03 s; the limit leaves room for slow machines.
    assert time.process_time() - start < 0.5
