"""Blades of every section form: a job that is planned is proved, and the lands are measured."""

import math
import os
import re

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.produce import produce
from planner.proof.forms import blade_side
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from planner.report.refusals import refusal_words, way_out_words
from planner.section.profile import bevel_faces
from tests.planning import planned
from tests.samples import MACHINE, a_job, a_machine

SHOP = {"stiffness": "6000 N/mm", "coolant": {"kind": "flood", "on": "M8", "off": "M9"}}
CONVEX = {
    "form": "convex_bevel",
    "thickness": "3 mm",
    "width": "20 mm",
    "edge_angle": "40 deg",
    "shoulder_angle": "20 deg",
}


@st.composite
def outlines(draw, angle):
    """Points of two faces, their bevels flat or bulging, the flanks anywhere below them.

    Alike, or with a micro bevel each of its own size.
    """
    first, edge = draw(st.floats(4.0, 12.0)), draw(st.sampled_from([0.0, 0.05, 0.15]))
    slope, bulges = math.tan(math.radians(angle / 2)), draw(st.booleans())
    points = [(0.0, edge), (first, edge + slope * first)]
    chord = math.hypot(first, slope * first)
    for y in (30.0, 60.0):
        (y0, z0), turn = points[-1], draw(st.floats(-0.02, 0.0 if bulges else 0.5))
        points.append((y, z0 + turn * slope * (y - y0)))
    form: dict[str, object] = {"form": "outline"}
    # Still rising at the shoulder, over a flank that does not.
    turn = draw(st.floats(0.1, 0.9)) * math.radians(angle / 2) if bulges else 0.0
    faces = {"face_a": points}
    if draw(st.booleans()):
        # The bevel moved along behind a micro bevel that is steeper than it where it begins.
        form["first_piece"] = "micro_bevel"
        micros = {}
        for face in ("face_a", "face_b"):
            steep = math.radians(angle / 2 + draw(st.floats(1.0, 10.0))) + turn
            width = draw(st.floats(0.1, 0.5))
            micros[face] = width * math.cos(steep), width * math.sin(steep)
        spine = points[-1][0] + max(y for y, _ in micros.values())
        faces = {
            face: [
                (0.0, edge),
                *((micro[0] + y, micro[1] + z) for y, z in points[:-1]),
                (spine, micro[1] + points[-1][1]),
            ]
            for face, micro in micros.items()
        }
    for face, there in faces.items():
        form[face] = [[f"{y:.6f} mm", f"{z:.6f} mm"] for y, z in there]
        if bulges:
            form[f"{face}_radius"] = f"{chord / 2 / math.sin(turn):.6f} mm"
    return form


@st.composite
def forms(draw):
    """A section of any form, of a size that a bench has."""
    thickness = draw(st.floats(2.0, 8.0))
    angle = draw(st.floats(14.0, 45.0))
    if draw(st.sampled_from(range(7))) == 0:
        return draw(outlines(angle))
    form: dict[str, object] = {
        "thickness": f"{thickness:.4f} mm",
        "width": "60 mm",
        "edge_thickness": f"{draw(st.sampled_from([0.0, 0.05, 0.3])):.2f} mm",
    }
    kinds = ["double_bevel", "single_bevel", "convex_bevel", "axe", "hook", "gouge"]
    kind = draw(st.sampled_from(kinds))
    if kind == "double_bevel":
        form["included_angle"] = f"{angle:.4f} deg"
    elif kind == "single_bevel":
        form["angle"] = f"{angle:.4f} deg"
    elif kind == "hook":
        form["angle"] = f"{angle:.4f} deg"
        form["back_radius"] = f"{draw(st.floats(0.0, 0.45)) * thickness:.4f} mm"
        if draw(st.booleans()):
            form["radius"] = f"{draw(st.floats(30.0, 120.0)) * thickness:.4f} mm"
    elif kind == "gouge":
        form["outside_angle"] = f"{angle:.4f} deg"
        if draw(st.booleans()):
            form["inside_angle"] = f"{draw(st.floats(2.0, 10.0)):.4f} deg"
            form["inside_width"] = f"{draw(st.floats(0.5, 2.0)):.4f} mm"
    elif kind == "convex_bevel":
        form["edge_angle"] = f"{angle:.4f} deg"
        form["shoulder_angle"] = f"{draw(st.floats(0.1, 0.8)) * angle:.4f} deg"
    else:
        form["included_angle"] = f"{angle:.4f} deg"
        form["bevel_thickness"] = f"{draw(st.floats(0.4, 1.0)) * thickness:.4f} mm"
        form["cheeks"] = draw(st.sampled_from(["flat", "convex"]))
    if draw(st.booleans()):
        side = angle if kind in ("single_bevel", "hook", "gouge") else angle / 2
        form["micro_bevel"] = {
            "angle": f"{side + draw(st.floats(1.0, 10.0)):.4f} deg",
            "width": f"{draw(st.floats(0.1, 0.5)):.4f} mm",
        }
    return {"form": kind, **form}


@st.composite
def reliefs(draw, kind):
    sizes = draw(
        st.sampled_from(
            [
                {"edge_land": "1.0 mm", "shoulder_land": "1.2 mm"},
                {"edge_land": "1.5 mm", "depth": "0.03 mm"},
                {"shoulder_land": "0.8 mm", "depth": "0.05 mm"},
            ]
        )
    )
    faces = draw(st.sampled_from(["both", "A", "B"]))
    asked = {"faces": faces, "land_tolerance": "0.4 mm", "share_in_tolerance": 0, **sizes}
    if kind in ("single_bevel", "hook", "gouge"):
        # The back is wide: its hollow has a size of its own.
        asked["face_b"] = {"edge_land": "6 mm", "depth": "0.04 mm"}
        if faces == "A":
            del asked["face_b"]
    return asked


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(14.0, 45.0).flatmap(outlines))
def test_planner_and_proof_read_the_same_faces_of_any_outline(form):
    # Property: two sets of formulas, one outline; the micro bevel drawn is the one that is read.
    section = a_job(blade__section=form).blade.section
    micros = form.get("first_piece") == "micro_bevel"
    for face in bevel_faces(section):
        side = blade_side(section, "A" if face.face == "A" else "B")
        assert (face.micro_deg is not None) == micros == (side.start[0] > 0.0)
        assert face.start_yz_mm == pytest.approx(side.start, abs=1e-12)
        assert face.width_mm == pytest.approx(side.width_mm, abs=1e-8)
        assert math.radians(face.edge_angle_deg) == pytest.approx(side.bevel_rad, abs=1e-9)
        ys, ws = np.array(side.outline).T
        assert face.heights(ys) == pytest.approx(ws, abs=1e-6)


@st.composite
def jobs(draw):
    form = draw(forms())
    return a_job(blade__section=form, relief=draw(reliefs(form["form"])), wheel="fine")


FLIPS = ["end_for_end", "over", "by_tilt"]
COUNTS = {"planned": 0, "refused": 0}


@settings(
    max_examples=int(os.environ.get("BEVELWRIGHT_THOROUGH", "8")),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(
    job=jobs(), flip=st.sampled_from(["end_for_end", "over", "by_tilt"]), wheel=st.floats(40, 160)
)
def planned_or_refused(job, flip, wheel):
    rack = [{**MACHINE["rack"][0], "diameter": f"{wheel:.3f} mm"}]
    machine = a_machine(**SHOP, rack=rack, fixture__flip=flip)
    try:
        plan = planned(job, machine)
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
    # Property: the proof, which has outlines of its own, measures the lands that were planned.
    made = produce(plan, ())
    for setup in plan.setups:
        verdict = prove_program(made.files[setup.program], job, machine)
        assert verdict.ok
        for lands in verdict.lands:
            assert lands.edge_land_mm == pytest.approx(setup.relief.edge_land_mm, abs=0.4)
            assert lands.shoulder_land_mm == pytest.approx(setup.relief.shoulder_land_mm, abs=0.4)


def test_any_form_is_proved_or_refused():
    COUNTS.update(planned=0, refused=0)
    planned_or_refused()
    # Not an empty claim: of random sizes that fit no shop by design, a third must still plan.
    assert COUNTS["planned"] >= COUNTS["refused"] / 2


@pytest.mark.parametrize("face", ["A", "B"])
def test_a_bulging_face_ground_too_deep_is_found(face):
    # By hand: half the chord goes with the root of the depth (both arcs are flat): 0.0556 mm and
    # 1.601 mm become 0.0856 mm and 1.601 sqrt(0.0856 / 0.0556) = 1.987 mm, 0.386 mm more, which is
    # over the tolerance of 0.25 mm; a micrometre or two less to begin with makes it 0.39 mm.
    relief = {"edge_land": "1.2 mm", "shoulder_land": "1.4 mm", "land_tolerance": "0.25 mm"}
    job = a_job(blade__section=CONVEX, relief={"faces": "both", **relief}, wheel="fine")
    machine = a_machine(**SHOP)
    plan = planned(job, machine)
    program = produce(plan, ()).files[f"setup-{face}.ngc"]
    good = prove_program(program, job, machine)
    assert good.ok
    deeper = re.sub(rb"Z-(\d\.\d+)", lambda word: b"Z-%.4f" % (float(word[1]) + 0.03), program)
    found = prove_program(deeper, job, machine)
    rules = {fault.rule for fault in found.faults}
    assert Rule.LAND_OUT_OF_TOLERANCE in rules
    assert found.lands[0].edge_land_mm == pytest.approx(
        good.lands[0].edge_land_mm - 0.386, abs=0.015
    )


def test_a_blade_of_another_form_is_not_that_blade():
    # Property: a program for flat bevels does not make convex ones.
    flat = a_job(wheel="fine")
    bulging = a_job(blade__section=CONVEX, wheel="fine")
    machine = a_machine(**SHOP)
    program = produce(planned(flat, machine), ()).files["setup-A.ngc"]
    assert prove_program(program, flat, machine).ok
    assert not prove_program(program, bulging, machine).ok


def test_a_wheel_beside_a_bulge_moves_its_lands_by_less():
    # By hand: two circles whose middles are D = 75 + 33.25 - 0.056 apart; the wheel 0.3 mm aside
    # turns their line by 0.3 / D, and the ends of the relief by 33.25 of that: 0.092 mm, not 0.3.
    relief = {"edge_land": "1.2 mm", "shoulder_land": "1.4 mm", "land_tolerance": "0.25 mm"}
    asked = {"faces": "A", **relief, "share_in_tolerance": 0}
    job = a_job(blade__section=CONVEX, relief=asked, wheel="fine")
    middle = planned(job, a_machine(**SHOP)).section.reliefs[0].middle_mm
    axes = {k: v for k, v in MACHINE["axes"].items() if k != "Y"}
    stops = {"settings": [f"{middle + 0.3:.6f} mm"], "repeatability": "0.01 mm"}
    machine = a_machine(**SHOP, axes=axes, fixture__hand_cross=stops)
    plan = planned(job, machine)
    found = plan.section.reliefs[0]
    assert found.edge_land_mm == pytest.approx(1.2 + 0.3 * 33.25 / 108.19, abs=1e-3)
    verdict = prove_program(produce(plan, ()).files["setup-A.ngc"], job, machine)
    # The passes end a little short of the depth, which leaves both lands wider alike.
    measured = verdict.lands[2]
    difference = measured.edge_land_mm - measured.shoulder_land_mm
    assert difference == pytest.approx(found.edge_land_mm - found.shoulder_land_mm, abs=2e-3)


MICRO = {"micro_bevel": {"angle": "28 deg", "width": "0.4 mm"}}
MICRO_END = 0.4 * math.cos(math.radians(28)), 0.4 * math.sin(math.radians(28))


def arc_of(rise):
    """By hand: the radius of an arc that rises so from 20 deg to 10 deg, and how far it runs."""
    edge, shoulder = math.radians(20), math.radians(10)
    radius = rise / (math.cos(shoulder) - math.cos(edge))
    return radius, radius * (math.sin(edge) - math.sin(shoulder))


FLAT = {"form": "double_bevel", "thickness": "3 mm", "width": "20 mm", "included_angle": "25 deg"}
SLOPE = math.tan(math.radians(12.5))
RADIUS, RUN = arc_of(1.5 - MICRO_END[1])
DRAWN = {
    "flat": (FLAT, [(1.5 / SLOPE, 1.5)], {}),
    "flat, micro bevel": (
        {**FLAT, **MICRO},
        [MICRO_END, (MICRO_END[0] + (1.5 - MICRO_END[1]) / SLOPE, 1.5)],
        {"first_piece": "micro_bevel"},
    ),
    "bulging, micro bevel": (
        {**CONVEX, **MICRO},
        [MICRO_END, (MICRO_END[0] + RUN, 1.5)],
        {"first_piece": "micro_bevel", "face_a_radius": f"{RADIUS:.9f} mm"},
    ),
}


@pytest.mark.parametrize("name", DRAWN)
def test_an_outline_is_planned_and_proved_as_the_form_that_it_draws(name):
    # Property: the same blade said in two ways has the same passes, to the last decimal written,
    # and the proof of the one is that of the other.
    plain, middle, more = DRAWN[name]
    points = [(0, 0), *middle, (20, 1.5)]
    face = [[f"{y:.9f} mm", f"{z:.9f} mm"] for y, z in points]
    own = {"form": "outline", "face_a": face, **more}
    machine = a_machine(**SHOP)
    any_share = {"relief__share_in_tolerance": 0, "wheel": "fine"}
    jobs = [a_job(blade__section=s, **any_share) for s in (plain, own)]
    one, other = (planned(job, machine) for job in jobs)
    assert len(one.setups) == 2
    assert [setup.program for setup in one.setups] == [setup.program for setup in other.setups]
    for setup in one.setups:
        programs = [produce(p, ()).files[setup.program] for p in (one, other)]
        moves = [[n for n in text.splitlines() if n[:1] != b"("] for text in programs]
        assert len(moves[0]) > 20
        assert moves[0] == moves[1]
        crossed = [prove_program(programs[0], job, machine) for job in jobs]
        assert all(verdict.ok for verdict in crossed)
        for at, drawn in zip(*(verdict.lands for verdict in crossed), strict=True):
            assert drawn.edge_land_mm == pytest.approx(at.edge_land_mm, abs=2e-6)
            assert drawn.shoulder_land_mm == pytest.approx(at.shoulder_land_mm, abs=2e-6)
            assert drawn.depth_mm == pytest.approx(at.depth_mm, abs=1e-6)


def test_a_program_for_one_micro_bevel_is_none_for_another():
    # By hand: the drawn micro bevel 0.9 mm wide instead of 0.4 at the same angle moves the bevel by
    # 0.5 sin(28 - 12.5) = 0.134 mm outward, and more than all of the relief is air.
    machine, programs = a_machine(**SHOP), {}
    for width in (0.4, 0.9):
        end = width * math.cos(math.radians(28)), width * math.sin(math.radians(28))
        points = [(0, 0), end, (end[0] + (1.5 - end[1]) / SLOPE, 1.5), (20, 1.5)]
        face = [[f"{y:.9f} mm", f"{z:.9f} mm"] for y, z in points]
        form = {"form": "outline", "first_piece": "micro_bevel", "face_a": face}
        job = a_job(blade__section=form, relief__share_in_tolerance=0, wheel="fine")
        programs[width] = job, produce(planned(job, machine), ()).files["setup-A.ngc"]
    job, program = programs[0.4]
    assert prove_program(program, job, machine).ok
    assert not prove_program(programs[0.9][1], job, machine).ok
    assert not prove_program(program, programs[0.9][0], machine).ok
