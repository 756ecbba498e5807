"""The maker's own outline: the section of the form that it draws, and what is refused."""

import math

import numpy as np
import pytest
import shapely
from pydantic import ValidationError

from planner.proof.forms import blade_side
from planner.section.profile import CHORD_ERROR_MM, bevel_faces
from planner.section.spread import shoulder_moves
from planner.section.target import outline, section_for
from tests.samples import GONE, a_job

SHOULDER = 1.5 / math.tan(math.radians(12.5))
"""By hand: where bevels of 12.5 deg meet the flanks of stock of 3 mm."""
ARC = 1.5 / (math.cos(math.radians(10)) - math.cos(math.radians(20)))
"""By hand: the radius of a face that rises 1.5 mm from 20 deg at the edge to 10 deg."""
ARC_SHOULDER = ARC * (math.sin(math.radians(20)) - math.sin(math.radians(10)))


def points(*pairs):
    return [[f"{y:.9f} mm", f"{z:.9f} mm"] for y, z in pairs]


def drawn(face_a, face_b=None, radius=None):
    form = {"form": "outline", "face_a": points(*face_a)}
    if face_b is not None:
        form["face_b"] = points(*face_b)
    return form if radius is None else {**form, "face_a_radius": f"{radius:.9f} mm"}


LIKE = {
    "double bevel": (
        {"form": "double_bevel", "thickness": "3 mm", "width": "20 mm", "included_angle": "25 deg"},
        drawn([(0, 0), (SHOULDER, 1.5), (20, 1.5)]),
    ),
    "unequal, with an edge": (
        {
            "form": "double_bevel",
            "thickness": "3 mm",
            "width": "20 mm",
            "angle_a": "10 deg",
            "angle_b": "15 deg",
            "edge_thickness": "0.2 mm",
        },
        drawn(
            [(0, 0.1), (1.4 / math.tan(math.radians(10)), 1.5), (20, 1.5)],
            [(0, 0.1), (1.4 / math.tan(math.radians(15)), 1.5), (20, 1.5)],
        ),
    ),
    "single bevel": (
        {"form": "single_bevel", "thickness": "2.5 mm", "width": "25 mm", "angle": "25 deg"},
        drawn([(0, 0), (2.5 / math.tan(math.radians(25)), 2.5), (25, 2.5)], [(0, 0), (25, 0)]),
    ),
    "convex bevel": (
        {
            "form": "convex_bevel",
            "thickness": "3 mm",
            "width": "20 mm",
            "edge_angle": "40 deg",
            "shoulder_angle": "20 deg",
        },
        drawn([(0, 0), (ARC_SHOULDER, 1.5), (20, 1.5)], radius=ARC),
    ),
    "axe": (
        {
            "form": "axe",
            "thickness": "12 mm",
            "width": "60 mm",
            "included_angle": "30 deg",
            "bevel_thickness": "5 mm",
        },
        drawn([(0, 0), (2.5 / math.tan(math.radians(15)), 2.5), (60, 6)]),
    ),
}
TAPERED = drawn([(0, 0), (6.2, 1.35), (12, 1.5), (20, 1.2)])
LOPSIDED = drawn([(0, 0), (7, 1.9), (20, 1.9)], [(0, 0), (5, 0.8), (20, 0.9)], radius=60.0)


def job_of(form, **relief):
    sizes = {"edge_land": "1.2 mm", "shoulder_land": "1.4 mm", "land_tolerance": "0.25 mm"}
    asked = {"faces": "both", "min_steel_left": "0 mm", **sizes, **relief}
    return a_job(blade__section=form, relief={k: v for k, v in asked.items() if v is not GONE})


@pytest.mark.parametrize("name", LIKE)
def test_an_outline_is_the_section_of_the_form_it_draws(name):
    # Property: the same blade, said in two ways; the points are given to nine decimals.
    form, own = LIKE[name]
    faces = "A" if name == "single bevel" else "both"
    one, other = (section_for(job_of(f, faces=faces), 75.0) for f in (form, own))
    for figure in ("thickness_mm", "width_mm", "edge_thickness_mm", "steel_left_mm"):
        assert getattr(other, figure) == pytest.approx(getattr(one, figure), abs=1e-7)
    assert other.edge_angle_deg == pytest.approx(one.edge_angle_deg, abs=1e-6)
    for first, second in zip(one.reliefs, other.reliefs, strict=True):
        assert second.depth_mm == pytest.approx(first.depth_mm, abs=1e-7)
        assert second.middle_mm == pytest.approx(first.middle_mm, abs=1e-7)
    depths = [{r.face: r.depth_mm for r in s.reliefs} for s in (one, other)]
    shapes = [
        shapely.Polygon(outline(s, d.get("A", 0.0), d.get("B", 0.0)))
        for s, d in zip((one, other), depths, strict=True)
    ]
    apart = shapely.hausdorff_distance(shapes[0].exterior, shapes[1].exterior, densify=0.05)
    assert apart < 2 * CHORD_ERROR_MM
    sections = [job_of(f, faces=faces).blade.section for f in (form, own)]
    assert sections[1].middle_mm == pytest.approx(sections[0].middle_mm, abs=1e-7)
    for was, now in zip(*map(bevel_faces, sections), strict=True):
        moves = [shoulder_moves(f, s) for f, s in zip((was, now), sections, strict=True)]
        assert moves[1].rise_per_thickness == pytest.approx(moves[0].rise_per_thickness, abs=1e-6)


@pytest.mark.parametrize("form", [TAPERED, LOPSIDED], ids=["tapered", "lopsided"])
def test_planner_and_proof_read_the_same_faces(form):
    # Property: two sets of formulas, one outline.
    section = job_of(form).blade.section
    for face in bevel_faces(section):
        side = blade_side(section, "A" if face.face == "A" else "B")
        assert face.width_mm == pytest.approx(side.width_mm, abs=1e-9)
        assert math.radians(face.edge_angle_deg) == pytest.approx(side.bevel_rad, abs=1e-9)
        ys, ws = np.array(side.outline).T
        assert face.heights(ys) == pytest.approx(ws, abs=1e-6)


def test_the_thickness_is_the_greatest_across():
    # By hand: 2 x 1.5 at y = 12; of the lopsided one 1.9 + 0.9 at the spine, its middle
    # (1.9 - 0.9) / 2 off the edge's.
    assert job_of(TAPERED).blade.section.thickness_mm == pytest.approx(3.0)
    lopsided = job_of(LOPSIDED).blade.section
    assert lopsided.thickness_mm == pytest.approx(2.8)
    assert lopsided.middle_mm == pytest.approx(0.5)
    # By hand: 19/28 of what the stock is thicker goes to face A.
    moves = shoulder_moves(bevel_faces(lopsided)[0], lopsided)
    assert moves.rise_per_thickness == pytest.approx(1.9 / 2.8)


@pytest.mark.parametrize("form", [TAPERED, LOPSIDED], ids=["tapered", "lopsided"])
def test_the_section_is_the_blank_less_the_wheels(form):
    # Source: shapely (GEOS) cuts the outline of the blank with discs of 4 x 2000 sides.
    section = section_for(job_of(form), 75.0)
    steel = blank = shapely.Polygon(outline(section, 0.0, 0.0))
    for relief in section.reliefs:
        y, z = section.face(relief.face).point(relief.middle_mm, relief.depth_mm - 75.0)
        centre = shapely.Point(y, z if relief.face == "A" else -z)
        wheel = shapely.buffer(centre, 75.0, quad_segs=2000)
        # The wheel takes the relief and nothing of the flank.
        cut = shapely.intersection(blank, wheel)
        assert cut.area == pytest.approx(
            relief.removed_area_mm2, abs=2 * CHORD_ERROR_MM * relief.chord_mm
        )
        steel = shapely.difference(steel, wheel)
    depth = {r.face: r.depth_mm for r in section.reliefs}
    ground = shapely.Polygon(outline(section, depth["A"], depth["B"]))
    assert ground.is_valid
    apart = shapely.hausdorff_distance(ground.exterior, steel.exterior, densify=0.05)
    assert apart < 2 * CHORD_ERROR_MM + 75.0 * (math.pi / 8000) ** 2


@pytest.mark.parametrize(
    ("form", "rule"),
    [
        pytest.param(drawn([(0, 0), (6, 1), (20, 4)]), "outline-hollow", id="hollow corner"),
        pytest.param(drawn([(0, 0), (6, 1.5), (20, 5)]), "outline-hollow", id="no corner"),
        pytest.param(
            drawn([(0, 0), (6, 1.5), (8, 1.5), (20, 6)]), "outline-hollow", id="flares out behind"
        ),
        pytest.param(
            drawn([(0, 0), (6, 1.5), (20, 4)], radius=60.0), "outline-hollow", id="over the arc"
        ),
        pytest.param(drawn([(0, 0), (20, 0)]), "outline-faces", id="no steel"),
        pytest.param(drawn([(0, 1), (20, 1)]), "outline-bevel", id="no bevel"),
        pytest.param(
            drawn([(0, 0), (6, 1.5), (20, 1.5)], [(0, 0), (20, -2)]), "outline-faces", id="crosses"
        ),
    ],
)
def test_what_cannot_be_is_refused(form, rule):
    # By hand: each breaks the rule that it is named by.
    with pytest.raises(ValidationError) as caught:
        job_of(form)
    assert rule in {error["ctx"]["rule"] for error in caught.value.errors()}
