"""Bevels, lands and lines along an edge that the axes follow: held against wheels of points."""

import math
from functools import cache, partial

import numpy as np
import pytest
import shapely

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.kinematics.edge_way import edge_way
from planner.kinematics.row import row_of
from planner.kinematics.slide_flats import flat_left_at
from planner.kinematics.slide_lines import lines_left_at
from planner.kinematics.slide_operations import as_followed, reach_along_mm
from planner.kinematics.slide_stations import left_at
from planner.kinematics.touch_frame import held_angle_deg, touch_frame
from planner.plan import section_with
from planner.produce import produce_from_pass, programs_for
from planner.proof.prove import prove_program
from planner.report.path_words import header, worst_words
from planner.report.refusals import refusal_words, way_out_words
from planner.restart import restart_at
from planner.section.line_arcs import Arc, BulgeArc
from planner.section.swept import swept_length_mm
from planner.section.work import face_height_mm
from planner.section.works import works_for
from tests.canonical import canonical_calls, needs_rs274
from tests.commands import ROOT
from tests.followed_bench import Course, Face, reached_by_cylinders
from tests.planning import DIGEST, planned, read_text, sheet_text
from tests.torus import reaches

BELLY = {
    "gentle": (20.0, 120.0, -3.0, 40.0),
    "short": (10.0, 120.0, -3.0, 20.0),
    "steep": (20.0, 60.0, -3.0, 40.0),
}
"""Length of the straight heel, radius of the arc, heading, and length altogether."""


FLAT = "form: double_bevel, thickness: {} mm, included_angle: {} deg"
ROUND = "form: convex_bevel, thickness: {} mm, edge_angle: {} deg, shoulder_angle: 14 deg"


def files(
    tmp_path, shape, machine, operations, wheel, relief,
    thickness=0.9, more=(), angle=12.0, form=FLAT,
):  # fmt: skip
    """A job of its own, its edge straight and then an arc."""
    straight, radius, heading, length = BELLY[shape]
    text = f"""
title: Bench
steel: O1
temper: 190 degC
machine: {ROOT / "machines" / machine}.yaml
wheel: {wheel}
blade:
  edge:
    path: curve
    arcs: [{{length: {straight} mm}}, {{length: {length - straight} mm, radius: {radius} mm}}]
    heading: {heading} deg
  section: {{{form.format(thickness, angle)}, width: 14 mm, edge_thickness: 0.3 mm}}
relief: {{{relief}}}
"""
    if operations:
        text += f"operations: [{', '.join(operations)}]\n"
    path = tmp_path / "job.yaml"
    path.write_text(text)
    job, machine_file = load_pair(path, None, list(more))
    return job.model, machine_file.model


LANDS = "edge_land: 0.7 mm, shoulder_land: 0.7 mm, land_tolerance: 0.5 mm, share_in_tolerance: 0.2"
ALL = ("{do: bevel, wheel: flat coarse, edge_thickness_tolerance: 0.2 mm}", "{do: relief}")
TURNED = (
    "{do: bevel, wheel: flat 60}",
    "{do: relief}",
    "{do: lands, wheel: flat 60, allowance: 0.01 mm}",
)


def ways(job, machine):
    """Each work of a job with its frame and the way of its edge, no passes planned."""
    wheel = next(w for w in machine.rack if w.name == job.relief_wheel)
    section = section_with(job, machine, wheel)
    held = partial(held_angle_deg, machine)
    for work in works_for(job, section, wheel, machine.rack, lambda place: place, held):
        bares, length = work.flat_bares_mm, job.edge.length_mm
        radius = work.wheel_radius_mm or 0.0
        frame = touch_frame(
            machine, work.zero_face, radius, work.zero_relief, length, bares
        )  # fmt: skip
        reach = reach_along_mm(job, machine, work)
        row = row_of(machine, work.wheel, length, work.deepest_mm, (1,), reach_mm=reach)
        way, refused = edge_way(job, machine, work, frame, row)
        yield work, frame, way, refused


def course_of(job):
    first, arc = job.edge.arcs
    return Course(first.length_mm, arc.radius_mm, job.edge.heading_deg, job.edge.length_mm)


def centres_of(frame, work, stands):
    """The wheel's middle from what the axes are told: square over its place at the anchor."""
    side, angle = 1.0 if work.face.face == "A" else -1.0, math.radians(work.face.angle_deg)
    along = np.array([0.0, math.cos(angle), side * math.sin(angle)])
    out = np.array([0.0, -math.sin(angle), side * math.cos(angle)])
    place = work.zero_relief.middle_mm
    zero = np.array([0.0, 0.0, side * work.zero_face.at_edge_mm]) + place * along
    zero = zero + work.wheel.diameter_mm / 2 * out
    axes = np.array(
        [[frame.x_per_traverse, 0, 0], [0, *frame.cross_dir_yz], [0, *frame.infeed_dir_yz]]
    )
    return zero + stands @ axes


@pytest.mark.parametrize(
    ("shape", "within"),
    # What is of the third order grows with the turn: by 6 and by 16 degrees.
    [("gentle", 0.005), ("steep", 0.03)],
)
def test_a_flat_leaves_the_face_that_is_told(tmp_path, shape, within):
    # Property: rims of points along the planned way, cut by the section's own plane.
    wide = (ALL[0].replace("0.2 mm", "0.8 mm"), ALL[1])
    job, machine = files(tmp_path, shape, "form-xyz", wide, "round 60", LANDS, 2.0, angle=25.0)
    course = course_of(job)
    for work, frame, way, refused in ways(job, machine):
        assert not refused
        if work.operation != "bevel":
            continue
        path = way.path
        assert path.anchor_mm == pytest.approx(course.anchor, abs=1e-6)
        x = np.array([1.0, 12.0, 22.0, 30.0, 39.0])
        left = flat_left_at(path, work, x)
        # The finished face, this work's allowance or stage outside it.
        outside = work.after.outside_mm
        beta = math.radians(work.face.angle_deg)
        face = Face(
            course,
            1.0 if work.face.face == "A" else -1.0,
            work.face.angle_deg,
            0.15 + outside / math.cos(beta),
        )
        wide_mm = (1.0 - face.at_edge) / math.sin(beta)
        infeed, cross = frame.position(work.depth_mm)
        for n, s in enumerate(x):
            near = s + np.linspace(-6.0, 6.0, 2401)
            stands = path.stand(path.unrolled_mm(near), cross, infeed)
            centres = centres_of(frame, work, stands)
            corner, along, out = face.at(np.array(s))
            starts = corner + np.linspace(0.0, wide_mm, 9)[:, None] * along
            axis = np.array([0.0, *frame.cross_dir_yz])
            most = within * np.abs(left.heights_mm[n]).max() + 1e-7
            found = reached_by_cylinders(
                centres, axis, work.wheel.diameter_mm / 2, work.wheel.width_mm, starts, out
            )
            assert left.heights_mm[n, ::4] == pytest.approx(found, abs=most)
        # By hand: the tip is turned 6.07 or 15.1 deg; the face leans by sin b cos b (1 - cos).
        turned = float(course.heading(np.array(39.0)))
        lean = math.sin(beta) * math.cos(beta) * (1.0 - math.cos(turned))
        assert math.tan(math.radians(left.lean_deg[-1])) == pytest.approx(lean, rel=0.06)


@pytest.mark.parametrize("scallop", [0.002, 0.004])
def test_lines_touch_their_arc_everywhere_and_leave_the_ridges_that_are_told(tmp_path, scallop):
    # Property: wheels of points along every line, cut by the section's own plane.
    relief = f"edge_land: 0.6 mm, shoulder_land: 0.6 mm, depth: 0.03 mm, scallop: {scallop} mm"
    relief += ", land_tolerance: 0.5 mm"
    job, machine = files(
        tmp_path, "steep", "form-xyz", (), "inside 40", relief, thickness=2.6, angle=25.0
    )
    course = course_of(job)
    work, frame, way, refused = next(ways(job, machine))
    assert not refused
    work, path = as_followed(work, way.path), way.path
    arc, x = work.line_arc, np.array([22.0, 39.0])
    assert isinstance(arc, Arc)
    assert arc.sharpest_mm is not None
    assert 36.0 < arc.sharpest_mm < arc.wheel_mm == 40.0
    left = lines_left_at(path, work, x)
    half, radius = arc.half_chord_mm, arc.radius_mm
    p = np.linspace(-0.98 * half, 0.98 * half, 101)
    bed = radius - np.sqrt(radius**2 - p**2) - arc.depth_mm
    for n, s in enumerate(x):
        corner, along, out = Face(course, 1.0, 12.5, 0.15).at(np.array(s))
        starts = corner + (path.middle_mm + p)[:, None] * along
        reached = np.full(p.shape, 1.0)
        for line in arc.lines():
            infeed, cross = frame.position(arc.depth_mm - line.back_mm, line.along_mm)
            near = s + np.linspace(-1.5, 1.5, 101)
            centres = centres_of(frame, work, path.stand(path.unrolled_mm(near), cross, infeed))
            # The form's arc is about a place its own radius over its lowest point.
            axis = np.array([0.0, *frame.cross_dir_yz])
            low = reaches(centres, axis, work.wheel.diameter_mm / 2, 40.0, starts, out, 0.1)
            reached = np.minimum(reached, low - bed)
        # A line touches its arc, and none cuts it.
        assert reached.min() == pytest.approx(0.0, abs=2e-6)
        assert reached.max() == pytest.approx(left.ridge_mm[n], abs=8e-5)
        assert left.ridge_mm[n] <= scallop
    # Where the edge is turned the ridges stand higher, and the spacing is held to the highest.
    assert left.ridge_mm[1] > left.ridge_mm[0]


def test_what_a_turn_lays_along_the_traverse_is_ground_as_on_a_straight_edge(tmp_path):
    # Property: the very plane, at every station; the tip is turned 16 deg.
    job, machine = files(tmp_path, "steep", "turn-xyzc", TURNED, "fine 100", LANDS)
    for work, _, way, refused in ways(job, machine):
        assert not refused
        x = np.linspace(0.0, 40.0, 7)
        if work.operation == "relief":
            hollow = left_at(way.path, work, x)
            assert hollow.radius_mm == pytest.approx(50.0)
            assert np.abs(hollow.land_error_mm).max() < 1e-9
        else:
            assert np.abs(flat_left_at(way.path, work, x).heights_mm).max() < 1e-9


def polygon(section, face, state, top):
    y = np.linspace(0.0, section.width_mm, 6001)
    heights = face_height_mm(section, face, y, state)
    return shapely.Polygon([*zip(y, heights, strict=True), (y[-1], top), (0.0, top)])


def test_the_volume_is_the_area_along_the_way_of_its_own_middle(tmp_path):
    # Source: Pappus; areas and centroids by shapely. By hand: of what lies y from the edge the way
    # is shorter by y for every radian that the edge turns to the spine.
    job, machine = files(tmp_path, "steep", "turn-xyzc", TURNED, "fine 100", LANDS)
    turned = 20.0 / 60.0
    for work, _, _, _ in ways(job, machine):
        top = work.face.stock_mm + 1.0
        before = polygon(work.section, work.face, work.state(0.0), top)
        after = polygon(work.section, work.face, work.state(work.depth_mm), top)
        taken = after.difference(before)
        area = float(work.removal.area_mm2(np.array(work.depth_mm)))
        assert taken.area == pytest.approx(area, rel=2e-3)
        way = 40.0 - turned * taken.centroid.x
        assert swept_length_mm(job, work) == pytest.approx(way, rel=1e-5)


@cache
def made(which, folder):
    """A small knife from the bar, its plan and programs: where the wheel is turned with, or not."""
    if which == "still":
        operations = (*ALL, "{do: lands, wheel: flat coarse, allowance: 0.008 mm}")
        job, machine = files(
            folder, "gentle", "form-xyz", operations, "round 60", LANDS, 0.9,
            ("relief.faces=A", "machine.fixture.run_off=6 mm"),
        )  # fmt: skip
    else:
        job, machine = files(
            folder, "short", "turn-xyzc", TURNED, "fine 100", LANDS, 0.9, ("relief.faces=A",)
        )
    plan = planned(job, machine)
    return plan, programs_for(plan, DIGEST)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("follow")


@pytest.mark.parametrize("which", ["still", "turned"])
def test_a_knife_from_the_bar_is_written_and_proved(which, folder):
    plan, programs = made(which, folder)
    names = [s.name for s in plan.setups]
    assert names == ["bevel-A", "bevel-B", "relief-A", "lands-A"]
    job, machine = plan.job.model, plan.machine.model
    # The air run of one, and every set-up of face A.
    for name in ("setup-bevel-A", "setup-bevel-B-air", "setup-relief-A", "setup-lands-A"):
        text = programs[f"{name}.ngc"]
        verdict = prove_program(text, job, machine)
        assert verdict.ok, (name, verdict.faults)
    head = programs["setup-bevel-A.ngc"].decode("ascii").splitlines()[:12]
    anchor = course_of(job).anchor
    assert f"(zero wheel bares on face A, traverse 0 at {anchor:.4f} mm from heel)" in head


@needs_rs274
@pytest.mark.parametrize("which", ["still", "turned"])
def test_another_interpreter_reads_the_programs(which, folder):
    plan, programs = made(which, folder)
    letters = plan.setups[0].axes
    for name in ("setup-bevel-B.ngc", "setup-relief-A-air.ngc"):
        text = programs[name].decode("ascii")
        blocks = [b for b in read_text(text.splitlines()) if b.moves]
        calls = canonical_calls(text)
        theirs = [n for call, n in calls if call in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
        assert len(theirs) >= 50
        for block, numbers in zip(reversed(blocks), reversed(theirs), strict=False):
            for letter in letters.values():
                if letter in block.after:
                    found = numbers["XYZABC".index(letter)]
                    assert found == pytest.approx(block.after[letter], abs=0.51e-4)


def test_the_edge_that_leans_is_told_and_counted(folder):
    # By hand: at the edge each face is off by its lean times the way from its middle, over cos b.
    plan, _ = made("still", folder)
    bevels = [s for s in plan.setups if s.work.operation == "bevel"]
    low = sum(s.edge_off_mm[0] for s in bevels)
    beta, turned = math.radians(6.0), 20.0 / 120.0 - math.radians(3.0)
    lean = math.sin(beta) * math.cos(beta) * (1 - math.cos(turned))
    half = (0.45 - 0.15) / math.sin(beta) / 2.0
    assert low == pytest.approx(-2.0 * lean * half / math.cos(beta), rel=0.08)
    sheet = sheet_text(plan, plan.setups[0])
    assert "does not turn with the edge" in sheet
    assert "edge thickness, mm" in sheet
    even, _ = made("turned", folder)
    assert worst_words(even.setups[0]) == "The wheel leaves the same face all along the edge."


@pytest.mark.parametrize("new_wheel", [False, True])
def test_a_bevel_that_was_broken_off_goes_on(new_wheel, folder):
    plan, _ = made("still", folder)
    restart = restart_at(plan, plan.setups[0], 5, new_wheel=new_wheel)
    made_files = produce_from_pass(plan, (), restart)
    assert all(proof.ok for proof in made_files.verdicts.values())
    sheet = made_files.files[restart.program.replace(".ngc", ".md")].decode("utf-8")
    assert ("on the flat that is ground so far" in sheet) == new_wheel
    assert "at the anchor" in sheet or not new_wheel


def refusals_of(job, machine):
    found = [refusal for *_, refused in ways(job, machine) for refusal in refused]
    for refusal in found:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)
    return {r.rule: r for r in found}


def test_a_flat_that_leans_too_far_is_refused_with_ways_that_do(tmp_path):
    bevel = ("{do: bevel, wheel: flat coarse, edge_thickness_tolerance: 0.05 mm}", "{do: relief}")
    job, machine = files(tmp_path, "steep", "form-xyz", bevel, "round 60", LANDS)
    found = refusals_of(job, machine)["flat-leans-on-path"]
    # By hand: the tip, turned by 20 / 60 rad less 3 deg, over a face of 0.3 / sin b.
    beta, turned = math.radians(6.0), 20.0 / 60.0 - math.radians(3.0)
    off = math.cos(beta) * (1.0 - math.cos(turned)) * 0.3
    assert found.facts["x_mm"] == pytest.approx(40.0)
    assert found.facts["off_mm"] == pytest.approx(off, rel=0.08)
    assert found.facts["allowed_mm"] == pytest.approx(0.05 / 2 * math.cos(beta) / 4)
    ways_out = {way.rule: way.facts for way in found.ways_out}
    assert set(ways_out) >= {"turn-axis", "shorter-edge", "relief-alone"}
    tolerance = ways_out["edge-tolerance-for-lean"]["tolerance_mm"]
    wider = [bevel[0].replace("0.05", f"{tolerance}"), bevel[1]]
    job, machine = files(tmp_path, "steep", "form-xyz", wider, "round 60", LANDS)
    assert not refusals_of(job, machine)


def test_of_the_facets_that_lean_too_far_the_worst_is_told(tmp_path):
    bevel = RIDGE.format("flat coarse", 0.004)
    relief = "edge_land: 0.5 mm, shoulder_land: 0.5 mm, land_tolerance: 0.5 mm"
    job, machine = files(
        tmp_path, "steep", "form-xyz", (bevel, "{do: relief}"), "round 60", relief, 0.9,
        angle=24.0, form=ROUND,
    )  # fmt: skip
    each = [r for *_, refused in ways(job, machine) for r in refused]
    each = [r for r in each if r.rule == "flat-leans-on-path"]
    assert len(each) >= 4
    with pytest.raises(RefusedError) as caught:
        planned(job, machine)
    told = [r for r in caught.value.refusals if r.rule == "flat-leans-on-path"]
    assert [r.facts["face"] for r in told] == ["A", "B"]
    assert told[0].facts["off_mm"] == max(r.facts["off_mm"] for r in each)


def test_what_does_not_follow_an_edge_is_refused(tmp_path):
    # A wheel larger than a hollow, a platen, a round wheel for a flat.
    bevel = ("{do: bevel, wheel: flat 60}", "{do: relief}")
    job, machine = files(tmp_path, "steep", "turn-xyzc", bevel, "fine 100", LANDS, 1.4)
    first, arc = job.edge.arcs
    hollow = arc.model_copy(update={"radius_mm": -6.0, "length_mm": 3.0})
    edge = job.edge.model_copy(update={"arcs": [first, hollow]})
    blade = job.blade.model_copy(update={"edge": edge})
    found = refusals_of(job.model_copy(update={"blade": blade}), machine)
    assert "wheel-over-path" in found
    job, machine = files(
        tmp_path, "gentle", "platen-xz", ("{do: bevel, wheel: P80 platen}", "{do: relief}"),
        "P120 wheel", LANDS, 1.4,
    )  # fmt: skip
    assert "platen-on-path" in refusals_of(job, machine)
    for shop, wheel in (("wheel-xyza", "fine"), ("form-xyz", "round 60")):
        bevel = (f"{{do: bevel, wheel: {wheel}}}", "{do: relief}")
        job, machine = files(tmp_path, "gentle", shop, bevel, wheel, LANDS)
        assert "round-for-flat" in refusals_of(job, machine)


# --- bevels that bulge ----------------------------------------------------------------------------

RIDGE = "{{do: bevel, wheel: {}, ridge: {} mm, edge_thickness_tolerance: 0.2 mm}}"


@pytest.mark.parametrize("machine", ["form-xyz", "turn-xyzc"])
def test_the_facets_of_a_bevel_lean_as_is_told(tmp_path, machine):
    # Property: rims of points along the way of each facet, cut by the section's own plane.
    turned = machine == "turn-xyzc"
    bevel = RIDGE.format("flat 60" if turned else "flat coarse", 0.02)
    wheel = "inside 20" if turned else "round 60"
    relief = "edge_land: 0.5 mm, shoulder_land: 0.5 mm, land_tolerance: 0.5 mm"
    job, shop = files(
        tmp_path, "gentle", machine, (bevel, "{do: relief}"), wheel, relief, 1.2,
        angle=24.0, form=ROUND,
    )  # fmt: skip
    course, facets = course_of(job), 0
    for work, frame, way, refused in ways(job, shop):
        if work.operation != "bevel":
            continue
        assert not refused
        facets += 1
        x = np.array([1.0, 22.0, 39.0])
        left = flat_left_at(way.path, work, x)
        if turned:
            assert np.abs(left.heights_mm).max() < 1e-9
            continue
        facet = work.facet
        beta = math.degrees(facet.angle_rad)
        side = 1.0 if work.face.face == "A" else -1.0
        face = Face(course, side, beta, facet.at_edge_mm)
        (first, _), (last, _) = facet.first_yz_mm, facet.last_yz_mm
        infeed, cross = frame.position(work.depth_mm)
        for n, s in enumerate(x):
            near = s + np.linspace(-5.0, 5.0, 2001)
            stands = way.path.stand(way.path.unrolled_mm(near), cross, infeed)
            corner, along, out = face.at(np.array(s))
            across = np.linspace(first, last, 9) / math.cos(facet.angle_rad)
            found = reached_by_cylinders(
                centres_of(frame, work, stands), np.array([0.0, *frame.cross_dir_yz]),
                work.wheel.diameter_mm / 2, work.wheel.width_mm,
                corner + across[:, None] * along, out,
            )  # fmt: skip
            # The tilt is held to a thousandth of a degree: what it is off is in both.
            assert left.heights_mm[n, ::4] == pytest.approx(found, abs=1e-5)
    assert facets >= 4


def test_the_lines_of_a_bevel_touch_its_arc_everywhere(tmp_path):
    # Property: wheels of points along every line, cut by the section's own plane.
    bevel = RIDGE.format("inside 40", 0.01)
    relief = "edge_land: 0.5 mm, shoulder_land: 0.5 mm, land_tolerance: 0.5 mm"
    job, machine = files(
        tmp_path, "steep", "form-xyz", (bevel, "{do: relief}"), "round 60", relief, 1.2,
        angle=24.0, form=ROUND,
    )  # fmt: skip
    work, frame, way, refused = next(ways(job, machine))
    assert not refused
    work, path, course = as_followed(work, way.path), way.path, course_of(job)
    arc, x = work.line_arc, np.array([22.0, 39.0])
    left = lines_left_at(path, work, x)
    bulge = work.face.bulge
    assert isinstance(arc, BulgeArc)
    assert bulge is not None
    middle = np.array(bulge.centre_yz_mm)
    turns = np.linspace(math.radians(12.0) * 0.999, math.radians(7.0) * 1.001, 41)
    for n, s in enumerate(x):
        edge, _, spine = course.at(np.array(s))
        up = np.array([0.0, 0.0, 1.0])
        # Points of the arc wanted, and the ways out of it.
        outs = -np.sin(turns)[:, None] * spine + np.cos(turns)[:, None] * up
        points = edge + middle[0] * spine + middle[1] * up + bulge.radius_mm * outs
        reached = np.full(turns.shape, 1.0)
        for line in arc.lines():
            infeed, cross = frame.position(arc.depth_mm - line.back_mm, line.along_mm)
            near = s + np.linspace(-1.5, 1.5, 101)
            stands = path.stand(path.unrolled_mm(near), cross, infeed)
            centres = centres_of(frame, work, stands)
            axis = np.array([0.0, *frame.cross_dir_yz])
            for k in range(len(turns)):
                low = reaches(
                    centres, axis, work.wheel.diameter_mm / 2, 40.0, points[k : k + 1], outs[k], 0.1
                )
                reached[k] = min(reached[k], float(low[0]))
        assert reached.min() == pytest.approx(0.0, abs=3e-6)
        assert reached.max() == pytest.approx(left.ridge_mm[n], abs=3e-4)
        assert left.ridge_mm[n] <= 0.01


@pytest.mark.parametrize(
    ("shape", "machine", "bevel", "wheel"),
    [
        ("gentle", "form-xyz", "flat coarse", "round 60"),
        ("short", "form-xyz", "inside 40", "round 60"),
    ],
    ids=["facets", "lines"],
)
def test_a_bevel_that_bulges_is_written_and_proved(tmp_path, shape, machine, bevel, wheel):
    relief = "edge_land: 0.5 mm, shoulder_land: 0.5 mm, land_tolerance: 0.5 mm, faces: A"
    job, shop = files(
        tmp_path, shape, machine, (RIDGE.format(bevel, 0.02), "{do: relief}"), wheel,
        f"{relief}, share_in_tolerance: 0.1", 0.9, angle=24.0, form=ROUND,
    )  # fmt: skip
    plan = planned(job, shop)
    programs = programs_for(plan, DIGEST)
    for setup in plan.setups:
        if setup.relief.face == "A":
            verdict = prove_program(programs[setup.program], job, shop)
            assert verdict.ok, (setup.name, verdict.faults)
    lines = plan.setups[0].work.in_lines
    told = header(plan.setups[0])
    assert ("ridges up to, µm" in told) == lines
    assert ("edge thickness, mm" in told) != lines
