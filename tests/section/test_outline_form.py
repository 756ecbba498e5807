"""The maker's own outline: the section of the form that it draws, and what is refused."""

import math

import numpy as np
import pytest
import shapely
from pydantic import ValidationError

from planner.inputs.cutting import Cut, Honing
from planner.proof.forms import blade_side
from planner.section.cutting import section_fits
from planner.section.keeping_sharp import face_honings
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


def drawn(face_a, face_b=None, radius=None, micro=False):
    form = {"form": "outline", "face_a": points(*face_a)}
    if micro:
        form["first_piece"] = "micro_bevel"
    if face_b is not None:
        form["face_b"] = points(*face_b)
    return form if radius is None else {**form, "face_a_radius": f"{radius:.9f} mm"}


MICRO_END = 0.4 * math.cos(math.radians(26)), 0.4 * math.sin(math.radians(26))
"""By hand: where a micro bevel of 26 deg, 0.4 mm wide, ends."""
MICRO = {"micro_bevel": {"angle": "26 deg", "width": "0.4 mm"}}
MICRO_SHOULDER = MICRO_END[0] + (1.5 - MICRO_END[1]) / math.tan(math.radians(12.5))
"""By hand: from there at 12.5 deg to the flank of stock of 3 mm."""
MICRO_ARC = (1.5 - MICRO_END[1]) / (math.cos(math.radians(10)) - math.cos(math.radians(20)))
"""By hand: the radius of an arc that rises from there to the flank, from 20 deg to 10."""
MICRO_ARC_SHOULDER = MICRO_END[0] + MICRO_ARC * (
    math.sin(math.radians(20)) - math.sin(math.radians(10))
)


def behind_micro(angle_deg):
    """By hand: behind an edge of 0.2 mm and the micro bevel, a bevel to the flank of 3 mm."""
    run = (1.4 - MICRO_END[1]) / math.tan(math.radians(angle_deg))
    begin = MICRO_END[0], 0.1 + MICRO_END[1]
    return [(0, 0.1), begin, (begin[0] + run, 1.5), (20, 1.5)]


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
    "double bevel, micro": (
        {
            "form": "double_bevel",
            "thickness": "3 mm",
            "width": "20 mm",
            "included_angle": "25 deg",
            **MICRO,
        },
        drawn([(0, 0), MICRO_END, (MICRO_SHOULDER, 1.5), (20, 1.5)], micro=True),
    ),
    "unequal, with an edge, micro": (
        {
            "form": "double_bevel",
            "thickness": "3 mm",
            "width": "20 mm",
            "angle_a": "10 deg",
            "angle_b": "15 deg",
            "edge_thickness": "0.2 mm",
            **MICRO,
        },
        drawn(behind_micro(10), behind_micro(15), micro=True),
    ),
    "single bevel, micro": (
        {
            "form": "single_bevel",
            "thickness": "2.5 mm",
            "width": "25 mm",
            "angle": "25 deg",
            **MICRO,
        },
        drawn(
            [
                (0, 0),
                MICRO_END,
                (MICRO_END[0] + (2.5 - MICRO_END[1]) / math.tan(math.radians(25)), 2.5),
                (25, 2.5),
            ],
            [(0, 0), (25, 0)],
            micro=True,
        ),
    ),
    "convex bevel, micro": (
        {
            "form": "convex_bevel",
            "thickness": "3 mm",
            "width": "20 mm",
            "edge_angle": "40 deg",
            "shoulder_angle": "20 deg",
            **MICRO,
        },
        drawn(
            [(0, 0), MICRO_END, (MICRO_ARC_SHOULDER, 1.5), (20, 1.5)],
            radius=MICRO_ARC,
            micro=True,
        ),
    ),
    "axe, micro": (
        {
            "form": "axe",
            "thickness": "12 mm",
            "width": "60 mm",
            "included_angle": "30 deg",
            "bevel_thickness": "5 mm",
            **MICRO,
        },
        drawn(
            [
                (0, 0),
                MICRO_END,
                (MICRO_END[0] + (2.5 - MICRO_END[1]) / math.tan(math.radians(15)), 2.5),
                (60, 6),
            ],
            micro=True,
        ),
    ),
}
TAPERED = drawn([(0, 0), (6.2, 1.35), (12, 1.5), (20, 1.2)])
LOPSIDED = drawn([(0, 0), (7, 1.9), (20, 1.9)], [(0, 0), (5, 0.8), (20, 0.9)], radius=60.0)
TWO_MICROS = drawn(
    [(0, 0.05), (0.4, 0.35), (7, 1.9), (20, 1.9)],
    [(0, 0.05), (0.8, 0.2), (5, 0.8), (20, 0.9)],
    radius=60.0,
    micro=True,
)
"""On face A 0.5 mm wide and steep before an arc, on face B wider, little steeper than a plane."""
OWN = {"tapered": TAPERED, "lopsided": LOPSIDED, "two micro bevels": TWO_MICROS}


def job_of(form, **relief):
    sizes = {"edge_land": "1.2 mm", "shoulder_land": "1.4 mm", "land_tolerance": "0.25 mm"}
    asked = {"faces": "both", "min_steel_left": "0 mm", **sizes, **relief}
    return a_job(blade__section=form, relief={k: v for k, v in asked.items() if v is not GONE})


@pytest.mark.parametrize("name", LIKE)
def test_an_outline_is_the_section_of_the_form_it_draws(name):
    # Property: the same blade, said in two ways; the points are given to nine decimals.
    form, own = LIKE[name]
    faces = "A" if name.startswith("single bevel") else "both"
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
    use = [
        (
            [f.gone_mm for f in face_honings(s, Honing())],
            [(w.bears_mm, w.edge_off_mm, w.lift_deg) for w in section_fits(s, Cut())[0].fits],
        )
        for s in (one, other)
    ]
    assert use[1][0] == pytest.approx(use[0][0], abs=1e-6)
    for was, now in zip(use[0][1], use[1][1], strict=True):
        assert now == pytest.approx(was, abs=1e-4)
    sections = [job_of(f, faces=faces).blade.section for f in (form, own)]
    assert sections[1].middle_mm == pytest.approx(sections[0].middle_mm, abs=1e-7)
    for was, now in zip(*map(bevel_faces, sections), strict=True):
        for figure in ("angle_deg", "edge_angle_deg", "height_mm", "width_mm", "start_yz_mm"):
            # An arc's angles follow from a chord whose ends are rounded to a millionth.
            assert getattr(now, figure) == pytest.approx(getattr(was, figure), abs=1e-6)
        assert now.micro_deg == pytest.approx(was.micro_deg, abs=1e-6)
        assert now.at_edge_mm == pytest.approx(was.at_edge_mm, abs=1e-7)
        moves = [shoulder_moves(f, s) for f, s in zip((was, now), sections, strict=True)]
        assert moves[1].rise_per_thickness == pytest.approx(moves[0].rise_per_thickness, abs=1e-6)


@pytest.mark.parametrize("form", OWN.values(), ids=OWN)
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


@pytest.mark.parametrize("form", OWN.values(), ids=OWN)
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


def test_a_drawn_micro_bevel_is_its_first_piece():
    # By hand: A from 0.05 to 0.35 over 0.4 mm: 0.5 mm at atan(0.3 / 0.4) = 36.8699 deg; the chord
    # from [0.4, 0.35] to [7, 1.9] is hypot(6.6, 1.55) = 6.77957 long, at 13.2163 deg; half of its
    # turn is asin(6.77957 / 120) = 3.2387 deg, the arc 60 x 2 x 3.2387 deg = 6.78317 mm long.
    # B from 0.05 to 0.2 over 0.8 mm: 0.81394 mm at atan(0.15 / 0.8) = 10.6197 deg; its bevel from
    # there to [5, 0.8] hypot(4.2, 0.6) = 4.24264 long at atan(1 / 7) = 8.1301 deg, and prolonged
    # to the edge it stands at 0.2 - 0.8 / 7 = 0.085714.
    blade = job_of(TWO_MICROS).blade.section
    assert [x for micro in blade.micro_bevels for x in micro] == pytest.approx(
        [36.8699, 0.5, 10.6197, 0.81394], abs=5e-5
    )
    assert blade.micro_bevel == blade.micro_bevels[0]
    first, second = bevel_faces(blade)
    assert (first.start_yz_mm, second.start_yz_mm) == ((0.4, 0.35), (0.8, 0.2))
    assert (first.corner_mm, second.corner_mm) == (0.05, 0.05)
    assert (first.height_mm, second.height_mm) == pytest.approx((7, 5))
    assert (first.width_mm, second.width_mm) == pytest.approx((6.78317, 4.24264), abs=5e-5)
    assert (first.edge_angle_deg, second.edge_angle_deg) == pytest.approx(
        (13.2163 + 3.2387, 8.1301), abs=1e-4
    )
    assert second.at_edge_mm == pytest.approx(0.085714, abs=1e-6)
    # By hand: the edge has both micro bevels' angles, and the lands begin behind them.
    section = section_for(job_of(TWO_MICROS), 75.0)
    assert section.edge_angle_deg == pytest.approx(36.8699 + 10.6197, abs=1e-4)
    relief = section.relief("B")
    assert relief is not None
    ends = relief.middle_mm - relief.chord_mm / 2, relief.middle_mm + relief.chord_mm / 2
    begin = math.hypot(0.8, 0.8 / 7)
    assert ends == pytest.approx((begin + 1.2, begin + 4.24264 - 1.4), abs=5e-5)


def test_the_circle_of_a_bevel_is_none_of_its_micro_bevel():
    # By hand: a micro bevel from [0, 0] to [4, 2], at 26.57 deg, before an arc of 8 mm that begins
    # at 25.2 deg: its circle is 2 x 8 sin(1.4 deg) = 0.4 mm on under the micro bevel again, which
    # is straight all the same.
    chord = 8 * math.radians(20)
    mean = math.radians(25.2) - math.radians(20) / 2
    length = 16 * math.sin(chord / 16)
    end = 4 + length * math.cos(mean), 2 + length * math.sin(mean)
    form = drawn([(0, 0), (4, 2), end, (20, end[1])], radius=8.0, micro=True)
    front = bevel_faces(job_of(form).blade.section)[0]
    assert front.edge_angle_deg == pytest.approx(25.2)
    ys = np.linspace(0.0, 4.0, 41)
    assert front.heights(ys) == pytest.approx(ys / 2, abs=1e-12)


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
        pytest.param(
            drawn([(0, 0), (20, 1.5)], micro=True), "outline-micro-bevel", id="a micro bevel alone"
        ),
        pytest.param(
            drawn([(0, 0), (1, 0.2), (6, 1.5), (20, 1.5)], micro=True),
            "outline-micro-bevel",
            id="flatter than its bevel",
        ),
        pytest.param(
            drawn([(0, 0), (1, 0.25), (6, 1.5), (20, 1.5)], micro=True),
            "outline-micro-bevel",
            id="in line with its bevel",
        ),
        pytest.param(
            # By hand: 16.7 deg; the chord rises at 11.3, its arc first asin(5.1 / 40) = 7.3 more.
            drawn([(0, 0), (1, 0.3), (6, 1.3), (20, 1.3)], radius=20.0, micro=True),
            "outline-micro-bevel",
            id="flatter than its arc",
        ),
        pytest.param(
            drawn([(0, 0), (0.1, 0.4), (6, 1.5), (20, 1.5)], micro=True),
            "outline-micro-bevel",
            id="as steep as 76 deg",
        ),
        pytest.param(
            drawn([(0, 0), (9, 4.5), (16, 5), (20, 5)], micro=True),
            "outline-micro-bevel",
            id="10.06 mm wide",
        ),
        pytest.param(
            drawn([(0, 0.5), (1, 0.4), (6, 1.5), (20, 1.5)], micro=True),
            "outline-micro-bevel",
            id="a micro bevel that falls",
        ),
        pytest.param(
            drawn([(0, 0), (0.4, 0.2), (20, 0.2)], micro=True), "outline-bevel", id="of a back"
        ),
        pytest.param(
            drawn([(0, 0), (0.4, 0.2), (6, 0.25), (20, 0.25)], micro=True),
            "outline-bevel",
            id="a bevel of half a degree",
        ),
        pytest.param(
            drawn([(0, 0), (0.4, 0.2), (6, 1.5), (20, 5)], micro=True),
            "outline-hollow",
            id="no corner behind a micro bevel",
        ),
        pytest.param(
            drawn([(0, 0), (0.4, 0.3), (6, 1.5), (20, 4)], radius=60.0, micro=True),
            "outline-hollow",
            id="over the arc behind a micro bevel",
        ),
        pytest.param(
            drawn([(0, 0), (0.4, 0.3), (6, 1.5), (20, 1.5)], radius=2.0, micro=True),
            "arc-of-bevel",
            id="an arc that does not reach",
        ),
    ],
)
def test_what_cannot_be_is_refused(form, rule):
    # By hand: each breaks the rule that it is named by.
    with pytest.raises(ValidationError) as caught:
        job_of(form)
    assert rule in {error["ctx"]["rule"] for error in caught.value.errors()}


@pytest.mark.parametrize(
    "operations",
    [
        [{"do": "bevel", "wheel": "fine"}, {"do": "relief"}],
        [{"do": "relief"}, {"do": "lands", "wheel": "fine"}],
    ],
    ids=["bevel", "lands"],
)
def test_no_bevel_and_no_lands_are_ground_on_an_outline_with_a_micro_bevel(operations):
    # Property: as on every other form with one.
    with pytest.raises(ValidationError) as caught:
        a_job(blade__section=TWO_MICROS, operations=operations, wheel=GONE)
    (fault,) = [e["ctx"] for e in caught.value.errors() if "rule" in e["ctx"]]
    assert fault["rule"] == "operations-and-form"
    assert fault["given"].endswith("outline with a micro bevel")
