"""The wall of a gouge around its sweep: what is shown of it, refused, and chosen."""

import json
import math

import numpy as np
import pytest
import shapely

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.proof.prove import prove_program
from planner.report.refusals import refusal_words, way_out_words
from planner.report.wall_words import rim_words, wall_data, wall_line, wall_rows
from planner.section.wall import nearest_rim
from tests.commands import ROOT, run

GOUGE = ROOT / "jobs" / "bent-gouge.yaml"
FLAT = ("blade.section.inside=flat", "blade.edge.angle=20 deg")


def models(*changes):
    job, machine = load_pair(GOUGE, None, list(changes))
    return job.model, machine.model


def wall_of(*changes):
    return section_fit(*models(*changes)).wall


def refusals(*changes):
    with pytest.raises(RefusedError) as caught:
        section_fit(*models(*changes))
    for refusal in caught.value.refusals:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)
    return {refusal.rule: refusal.facts for refusal in caught.value.refusals}


def test_a_matched_inside_leaves_no_thin_place():
    # By hand: the wall is 2.2 mm; the inside bevel lifts the edge 1.5 sin 6 deg off the inside.
    found = wall_of()
    rise = 1.5 * math.sin(math.radians(6))
    assert (found.least_mm, found.greatest_mm) == pytest.approx((2.2, 2.2))
    assert (found.uneven_mm, found.land_lost_mm) == (0.0, 0.0)
    assert (found.inside_mm, found.outside_mm) == pytest.approx((14 - rise, 16.2 - rise))


def test_an_inside_bevel_of_zero_is_allowed():
    # By hand: without one the edge lies on the inside.
    job, machine = load_pair(GOUGE, None, [])
    section = job.model.blade.section.model_copy(
        update={"inside_angle_deg": 0.0, "inside_width_mm": None}
    )
    blade = job.model.blade.model_copy(update={"section": section})
    found = section_fit(job.model.model_copy(update={"blade": blade}), machine.model).wall
    assert found is not None
    assert found.inside_mm == pytest.approx(14.0)
    assert found.uneven_mm == 0.0


def test_a_flat_inside_leaves_a_thin_place_at_the_ends():
    # Source: shapely, the least distance of the facet's points from the outside circle.
    found = wall_of(*FLAT)
    half = math.radians(10)
    outside = shapely.Point(0, 0).buffer(found.outside_mm, quad_segs=5_000).exterior
    along = found.inside_mm * np.tan(np.linspace(-half, half, 81))
    points = shapely.points(along, np.full(81, found.inside_mm))
    distances = shapely.distance(points, outside)
    assert found.least_mm == pytest.approx(distances.min(), abs=1e-6)
    assert found.greatest_mm == pytest.approx(distances.max(), abs=1e-6)
    assert abs(found.least_at_deg) == 10.0
    assert found.greatest_at_deg == 0.0
    # By hand: beyond what the inside bevel has in hand, over the sine of 22 deg.
    lost = (found.uneven_mm - 1.5 * math.sin(math.radians(6))) / math.sin(math.radians(22))
    assert found.land_lost_mm == pytest.approx(lost)


def test_a_flat_inside_that_leaves_too_little_is_refused():
    # By hand: arccos(inside / outside) is 30.4 deg.
    inside = 14 - 1.5 * math.sin(math.radians(6))
    facts = refusals("blade.section.inside=flat")["flat-inside-comes-through"]
    assert facts["through_deg"] == pytest.approx(math.degrees(math.acos(inside / (inside + 2.2))))
    # Property: each limit has a reason of its own.
    found = refusals("blade.section.inside=flat", "blade.edge.angle=30 deg")
    assert found["flat-inside-takes-land"]["lost_mm"] > 0.3
    # By hand: a limit between the steel in the middle of a sweep of 20 deg and at its ends.
    steel = section_fit(*models(FLAT[1])).section.steel_left_mm
    thin = refusals(*FLAT, f"relief.min_steel_left={steel - 0.01} mm")
    assert set(thin) == {"flat-inside-too-thin"}
    # By hand: where the inside bevel lies over it the facet takes the wall lost less its rise.
    least = thin["flat-inside-too-thin"]
    assert steel - 0.22 < least["left_mm"] < steel - 0.01


def test_the_proof_refuses_a_flat_inside_by_itself():
    # Property: the proof needs no plan to know, and is content with a narrower sweep.
    job, machine = models("blade.section.inside=flat", "blade.edge.angle=30 deg")
    verdict = prove_program(b"M2\n", job, machine, setup="A", wheel="fine 100")
    assert any("flat inside" in str(fault.facts) for fault in verdict.faults)
    job, machine = models(*FLAT)
    verdict = prove_program(b"M2\n", job, machine, setup="A", wheel="fine 100")
    assert not any("flat inside" in str(fault.facts) for fault in verdict.faults)


def test_the_error_of_the_turn_is_that_of_the_profile():
    # By hand: 2 * 0.02 * sin 50 deg.
    found = wall_of("machine.fixture.turn_off_centre=0.02 mm", "relief.share_in_tolerance=0")
    assert found.off_centre_mm == 0.02
    assert found.thinned_mm == pytest.approx(0.04 * math.sin(math.radians(50)))


def test_the_nearest_rim_is_never_larger_than_the_inside():
    # By hand: of rims of 9, 12 and 14 mm on an inside of 13.8 mm 12 is the nearest that fits.
    _, machine = models()
    wheel = next(w for w in machine.rack if w.contact == "across_edge")
    rack = [
        wheel.model_copy(
            update={
                "name": f"r{r}",
                "form_radius_mm": r,
                "width_mm": 2 * r,
                "diameter_mm": 120.0,
                "corner_radius_mm": 0.0,
            }
        )
        for r in (9.0, 14.0, 12.0)
    ]
    half = math.radians(50)
    found = nearest_rim(rack, 13.8, 16.0, half)
    assert found is not None
    assert (found.wheel, found.rim_mm, found.dressed) == ("r12.0", 12.0, True)
    # Source: shapely, where a ray meets the circle of the rim.
    circle = shapely.Point(0, 13.8 - 12).buffer(12.0, quad_segs=5_000).exterior
    ray = shapely.LineString([(0, 0), (99 * math.sin(half), 99 * math.cos(half))])
    inside = shapely.Point(0, 0).distance(shapely.intersection(ray, circle))
    assert found.uneven_mm == pytest.approx(13.8 - inside, abs=1e-5)
    # Property: none where all are too large, or too narrow for the sweep.
    assert nearest_rim(rack[1:2], 13.8, 16.0, half) is None
    narrow = [rack[2].model_copy(update={"width_mm": 14.0})]
    assert nearest_rim(narrow, 13.8, 16.0, half) is None
    # Property: a rim of the inside's radius leaves nothing uneven.
    exact = nearest_rim([rack[1]], 14.0, 16.0, half)
    assert exact is not None
    assert exact.uneven_mm == pytest.approx(0.0, abs=1e-9)
    assert rim_words(None)


def test_a_blade_that_is_no_gouge_has_no_such_wall():
    # Property: of docs/edge-paths.md.
    job, machine = load_pair(ROOT / "jobs" / "straight-knife.yaml", None, [])
    assert section_fit(job.model, machine.model).wall is None
    assert wall_data(None) is None
    assert wall_line(None) == []


def test_what_is_shown_is_what_was_found():
    # Property: least, greatest and where stand in the words and in the data.
    found = wall_of(*FLAT)
    text = " ".join(" ".join(row) for row in wall_rows(found))
    assert f"{found.least_mm:.3f} mm at ±10.0 deg" in text
    assert f"{found.greatest_mm:.3f} mm at 0 deg" in text
    (line,) = wall_line(found)
    assert f"{found.least_mm:.2f} mm at ±10 deg" in line
    done = run("section", GOUGE, "--json", "--set", FLAT[0], "--set", FLAT[1])
    data = json.loads(done.out)["wall"]
    assert data["least_mm"] == pytest.approx(found.least_mm)
    assert data["rim"]["wheel"] == found.rim.wheel
