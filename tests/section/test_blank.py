"""A relief ground into a straight blank and bent after: both sections, the bound, the refusals."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.errors import InputError, RefusedError
from planner.formulas.anticlastic import bent_points
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.proof.forms import FaceName, ImpossibleError
from planner.proof.target import blade_face, wanted_relief
from planner.report.bend_words import bend_data, bend_lines, bend_rows
from planner.report.refusals import refusal_words, way_out_words
from planner.section.target import outline, section_for
from tests.commands import ROOT, run

BLANK = ROOT / "jobs" / "blank-hook-knife.yaml"
TURNING = ROOT / "machines" / "turn-xyzc.yaml"
# By hand: the edge lies on the inside, the middle of 2.5 mm half of it further out.
MIDDLE = 31.25
BEVEL, FACE = math.radians(24), 2.5 / math.sin(math.radians(24))


def models(*changes):
    job, machine = load_pair(BLANK, TURNING, ["wheel=fine 100", *changes])
    return job.model, machine.model


def fit(*changes):
    return section_fit(*models(*changes))


def test_the_blank_is_as_long_as_the_arc_of_its_middle():
    # By hand: 31.25 mm and 110 deg; the edge itself, on 30 mm, is pressed together.
    job, _ = models()
    assert job.edge.path == "straight"
    assert job.edge.length_mm == pytest.approx(MIDDLE * math.radians(110))
    bent = fit().bent
    assert bent.edge_length_mm == pytest.approx(30 * math.radians(110))
    assert (bent.radius_mm, bent.edge_radius_mm) == (MIDDLE, 30.0)


def test_the_outside_is_ground_shallower_by_its_dish():
    # By hand: in the middle of the relief, place p along the face: kappa p (w - p) / 2.
    found = fit()
    relief, (bent, _) = found.section.relief("A"), found.bent.reliefs
    kappa = 0.3 * math.cos(BEVEL) / MIDDLE
    dish = kappa * relief.middle_mm * (FACE - relief.middle_mm) / 2
    assert relief.depth_mm == pytest.approx(0.1 - dish)
    assert (bent.correction_mm, bent.bent_mm) == pytest.approx((dish, 0.1))
    assert bent.bound_mm == pytest.approx(dish)
    assert bent.flow_bound_mm == pytest.approx(dish * 0.5 / 0.3)
    assert bent.across_face_mm == pytest.approx(FACE**2 * 0.3 * math.cos(BEVEL) / 8 / MIDDLE)
    # By hand: the other way about, of a circle: chord 2 sqrt(d (2 R - d)).
    chord = 2 * math.sqrt(relief.depth_mm * (100 - relief.depth_mm))
    assert relief.chord_mm == pytest.approx(chord)
    assert relief.edge_land_mm == 1.0


def test_the_inside_is_ground_deeper_by_its_crown():
    # By hand: the flat of the inside is 10 mm wide: 100 * 0.3 / 250 in its middle, 0.12 mm.
    found = fit()
    relief, (_, bent) = found.section.relief("B"), found.bent.reliefs
    crown = 0.3 / MIDDLE * relief.middle_mm * (10 - relief.middle_mm) / 2
    assert relief.depth_mm == pytest.approx(0.05 + crown)
    assert crown == pytest.approx(0.12, rel=0.02)
    assert (bent.correction_mm, bent.bent_mm) == pytest.approx((-crown, 0.05))
    assert bent.across_face_mm == pytest.approx(-0.12)


@pytest.mark.parametrize("face", ["A", "B"])
def test_the_bent_outline_has_the_depth_asked_for(face):
    # Source: the outline of the section, moved by the elastic field of a bent bar, and the distance
    # of its relief's middle from the line over the two ends of the face. The field turns the chord
    # of the face a little, which is second order: kappa w over 2, a few hundredths of the depth.
    found = fit()
    section, job = found.section, models()[0]
    relief, flat = section.relief(face), section.face(face)
    sign = 1.0 if face == "A" else -1.0
    places = np.array([flat.start_mm, relief.middle_mm, flat.start_mm + flat.width_mm])
    points = np.array([flat.point(p) for p in places])
    points[1] = flat.point(relief.middle_mm, relief.depth_mm)
    y, x = bent_points(points[:, 0], sign * points[:, 1] - 1.25, MIDDLE, 0.3)
    one, middle, other = np.stack([y, x], axis=1)
    depth = shapely.LineString([one, other]).distance(shapely.Point(middle))
    asked = 0.1 if face == "A" else 0.05
    assert depth == pytest.approx(asked, abs=0.003)
    # Property: the outline that is shown is the one that is ground, moved by the same field.
    assert job.relief.before_bend == 1.0


def test_the_bent_outline_is_the_ground_one_moved():
    # Property: no share, no bend; and of the whole share the area changes by nu times the strain,
    # which over the section's middle is small.
    none = fit("relief.before_bend=0 %", "relief.depth=0.05 mm")
    ground = shapely.Polygon(outline(none.section, 0.05, 0.05))
    assert shapely.Polygon(none.bent.outline_mm).area == pytest.approx(ground.area, abs=1e-6)
    assert [r.correction_mm for r in none.bent.reliefs] == [0.0, 0.0]
    assert none.section.relief("A").depth_mm == pytest.approx(0.05)
    whole = fit()
    depths = [whole.section.relief(f).depth_mm for f in "AB"]
    before = shapely.Polygon(outline(whole.section, *depths))
    assert shapely.Polygon(whole.bent.outline_mm).area == pytest.approx(before.area, rel=0.01)


def test_lands_that_are_given_keep_their_depth_in_the_blank():
    # By hand: 6.1465 - 1.3 - 1.5 = 3.3465 wide; 50 - sqrt(50^2 - 1.67324^2) = 0.028005 deep.
    job, machine = load_pair(BLANK, TURNING, ["wheel=fine 100"])
    relief = job.model.relief.model_copy(
        update={
            "faces": "A",
            "face_b": None,
            "edge_land_mm": 1.3,
            "shoulder_land_mm": 1.5,
            "depth_mm": None,
        }
    )
    found = section_fit(job.model.model_copy(update={"relief": relief}), machine.model)
    assert found.bent is not None
    (bent,) = found.bent.reliefs
    assert bent.ground_mm == pytest.approx(0.028005, abs=2e-6)
    assert bent.bent_mm == pytest.approx(bent.ground_mm + bent.correction_mm)


def refusals(*changes):
    with pytest.raises(RefusedError) as caught:
        fit(*changes)
    for refusal in caught.value.refusals:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)
    return {refusal.rule: refusal for refusal in caught.value.refusals}


def test_a_dish_deeper_than_asked_leaves_nothing_to_grind():
    # By hand: w^2 nu cos / 8 R = 37.78 * 0.3 * 0.91355 / 250 = 0.04142 mm.
    refusal = refusals("relief.depth=0.041 mm")["bend-dishes-enough"]
    assert refusal.facts["dish_mm"] == pytest.approx(0.041416, abs=2e-6)
    # Property: the way out leads out.
    deeper = refusal.ways_out[0].facts["depth_mm"]
    assert fit(f"relief.depth={deeper + 0.001} mm").section.relief("A").depth_mm > 0.001
    # Property: making up for less, there is something to grind.
    assert fit("relief.depth=0.041 mm", "relief.before_bend=50 %").section.relief("A")


def test_a_crown_deeper_than_the_hollow_is_refused():
    # By hand: lands of 3 mm on 10 mm leave 4 mm: 0.0400 mm deep by 50 mm, crowned by 0.12 mm.
    job, machine = models()
    sizes = job.relief.face_b.model_copy(
        update={"edge_land_mm": 3.0, "shoulder_land_mm": 3.0, "depth_mm": None}
    )
    relief = job.relief.model_copy(update={"face_b": sizes})
    with pytest.raises(RefusedError) as caught:
        section_fit(job.model_copy(update={"relief": relief}), machine)
    (refusal,) = caught.value.refusals
    assert refusal.rule == "bend-crowns-hollow"
    assert refusal.facts["crown_mm"] == pytest.approx(0.12)
    assert refusal.facts["depth_mm"] == pytest.approx(0.04, abs=2e-4)


@pytest.mark.parametrize(
    "change",
    [
        "blade.edge={path: straight, length: 60 mm}",
        "blade.edge={path: sweep, radius: 30 mm, angle: 60 deg}",
        "blade.section={form: hook, thickness: 2.5 mm, width: 11 mm, angle: 24 deg, radius: 40 mm}",
        "blade.edge={path: bend, radius: 3.7 mm, angle: 60 deg}",
    ],
)
def test_what_cannot_be_bent_after_is_refused_by_its_line(change):
    # Property: of docs/input-errors.md.
    with pytest.raises(InputError) as caught:
        load_pair(BLANK, TURNING, [change])
    assert "before-bend" in {problem.rule for problem in caught.value.problems}


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    bend=st.floats(12, 80), share=st.floats(0, 1), depth=st.floats(0.02, 0.3),
    land=st.floats(0.3, 2.0), radius=st.floats(15, 90), at_edge=st.booleans(),
)  # fmt: skip
def test_planner_and_proof_grind_the_same_depth(bend, share, depth, land, radius, at_edge):
    # Source: two ways to one number: halving the depth there, halving the half chord here.
    job, _ = models()
    sizes = {"edge_land_mm": land if at_edge else None,
             "shoulder_land_mm": None if at_edge else land}  # fmt: skip
    relief = job.relief.model_copy(
        update={"before_bend": share, "depth_mm": depth, "face_b": None, **sizes}
    )
    edge = job.blade.edge.model_copy(update={"radius_mm": bend})
    blade = job.blade.model_copy(update={"edge": edge})
    job = job.model_copy(update={"relief": relief, "blade": blade})
    faces: tuple[FaceName, ...] = ("A", "B")
    for face in faces:
        alone = job.model_copy(
            update={"relief": relief.model_copy(update={"faces": face, "min_steel_left_mm": 0.0})}
        )
        try:
            found = section_for(alone, radius).relief(face)
        except RefusedError as refused:
            rules = {r.rule for r in refused.refusals}
            if "bend-dishes-enough" in rules:
                with pytest.raises(ImpossibleError, match="bend alone"):
                    wanted_relief(alone, blade_face(alone, face), radius)
            assume(False)
        assert found is not None
        wanted = wanted_relief(alone, blade_face(alone, face), radius)
        assert wanted.depth_mm == pytest.approx(found.depth_mm, abs=1e-9)
        assert wanted.edge_land_mm == pytest.approx(found.edge_land_mm, abs=1e-6)


def test_a_blade_that_is_not_bent_after_has_one_section():
    # Property: of docs/edge-paths.md.
    job, machine = load_pair(ROOT / "jobs" / "straight-knife.yaml", None, [])
    assert section_fit(job.model, machine.model).bent is None
    assert bend_data(None) is None
    assert bend_lines(None, "A") == []


def test_both_sections_are_shown():
    # Property: ground and bent depth of each face stand in the words.
    bent = fit().bent
    text = " ".join(" ".join(row) for row in bend_rows(bent))
    for relief in bent.reliefs:
        assert f"face {relief.face}: ground depth {relief.ground_mm:.4f} mm" in text
        assert f"face {relief.face}: depth after the bend {relief.bent_mm:.4f} mm" in text
        assert f"{relief.ground_mm:.4f} mm deep in the blank" in bend_lines(bent, relief.face)[1]
    done = run("check", BLANK)
    assert done.code == 0
    assert "ground as a straight blank of 60.00 mm" in " ".join(done.out.split())
