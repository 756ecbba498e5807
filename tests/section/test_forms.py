"""The section forms: against closed forms, and against polygons cut by shapely."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.section.profile import CHORD_ERROR_MM, bevel_faces
from planner.section.target import outline, section_for, thickness_at
from tests.samples import GONE, a_job

QUICK = settings(max_examples=40, deadline=None, derandomize=True)

SINGLE = {"form": "single_bevel", "thickness": "2.5 mm", "width": "25 mm", "angle": "25 deg"}
CONVEX = {
    "form": "convex_bevel",
    "thickness": "3 mm",
    "width": "20 mm",
    "edge_angle": "40 deg",
    "shoulder_angle": "20 deg",
}
MICRO = {
    "form": "double_bevel",
    "thickness": "3 mm",
    "width": "20 mm",
    "included_angle": "25 deg",
    "micro_bevel": {"angle": "20 deg", "width": "0.5 mm"},
}
AXE = {
    "form": "axe",
    "thickness": "12 mm",
    "width": "60 mm",
    "included_angle": "30 deg",
    "bevel_thickness": "5 mm",
}
HOOK = {"form": "hook", "thickness": "2.5 mm", "width": "11 mm", "angle": "24 deg"}
GOUGE = {
    "form": "gouge",
    "thickness": "2.2 mm",
    "width": "40 mm",
    "outside_angle": "22 deg",
    "inside_angle": "6 deg",
    "inside_width": "1.5 mm",
}
FORMS = {
    "hook": {**HOOK, "back_radius": "1 mm"},
    "convex hook": {**HOOK, "radius": "60 mm"},
    "gouge": {**GOUGE, "thickness": "3 mm", "width": "20 mm"},
    "gouge without": {k: GOUGE[k] for k in ("form", "thickness", "width", "outside_angle")},
    "single": SINGLE,
    "convex": CONVEX,
    "micro": MICRO,
    "convex with micro": {**CONVEX, "micro_bevel": {"angle": "25 deg", "width": "0.4 mm"}},
    "axe": {**AXE, "cheeks": "flat"},
    "convex axe": {**AXE, "cheeks": "convex"},
}


def job_of(form, **relief):
    sizes = {"edge_land": "1.2 mm", "shoulder_land": "1.4 mm", "land_tolerance": "0.25 mm"}
    asked = {"faces": "both", "min_steel_left": "0 mm", **sizes, **relief}
    one_sided = form["form"] in ("single_bevel", "hook", "gouge")
    if one_sided and "faces" not in relief:
        asked["faces"] = "A"
    kept = {k: v for k, v in asked.items() if v is not GONE}
    return a_job(blade__section=form, relief=kept)


def relief_of(section, face="A"):
    found = section.relief(face)
    assert found is not None
    return found


def faces_of(form):
    return bevel_faces(job_of(form).blade.section)


def test_a_single_bevel_rises_from_its_back():
    # By hand: 2.5 / sin 25 = 5.9155 wide, 2.5 / tan 25 = 5.3613 high; the back is the whole width.
    front, back = faces_of(SINGLE)
    assert front.width_mm == pytest.approx(5.9155, abs=5e-5)
    assert front.height_mm == pytest.approx(5.3613, abs=5e-5)
    assert (back.angle_deg, back.width_mm, back.flank_mm) == (0.0, 25.0, 0.0)
    section = section_for(job_of(SINGLE), 75.0)
    assert section.edge_angle_deg == pytest.approx(25.0)


def test_a_micro_bevel_moves_the_bevel_along():
    # By hand: it ends at y = 0.5 cos 20 = 0.46985, z = 0.5 sin 20 = 0.17101; the face from there
    # to 1.5 is (1.5 - 0.17101) / sin 12.5 = 6.1402 wide.
    front, _ = faces_of(MICRO)
    assert front.start_yz_mm == pytest.approx((0.46985, 0.17101), abs=5e-6)
    assert front.width_mm == pytest.approx(6.1402, abs=5e-5)
    section = section_for(job_of(MICRO), 75.0)
    assert section.edge_angle_deg == pytest.approx(40.0)
    # Property: the lands and the relief between them are the face.
    relief = relief_of(section, "A")
    assert relief.edge_land_mm + relief.chord_mm + relief.shoulder_land_mm == pytest.approx(
        front.width_mm
    )


def test_a_hollow_of_the_back_reaches_the_edge_though_the_bevel_has_a_micro_bevel():
    # By hand: the back meets the micro bevel at 30 deg; a hollow 10 mm wide, from the edge to 2 mm
    # before the spine, takes asin(10 / 2 / 75) = 3.8226 deg of that.
    micro = {"micro_bevel": {"angle": "30 deg", "width": "0.4 mm"}}
    form = {**SINGLE, "width": "12 mm", **micro}
    sizes = {"edge_land": "0 mm", "shoulder_land": "2 mm", "min_steel_left": "0 mm"}
    section = section_for(job_of(form, faces="B", **sizes), 75.0)
    assert section.full_hollow
    assert section.edge_angle_deg == pytest.approx(30 - 3.8226, abs=1e-4)
    # Property: behind a micro bevel a hollow begins where that ends, and the edge stays as it is.
    sizes = {"edge_land": "0 mm", "shoulder_land": "1.4 mm"}
    kept = section_for(job_of(form, faces="A", **sizes), 75.0)
    assert not kept.full_hollow
    assert kept.edge_angle_deg == pytest.approx(30.0)


def test_a_convex_bevel_is_an_arc_through_edge_and_shoulder():
    # By hand: rise 1.5 = r (cos 10 - cos 20), r = 33.2483; 10 degrees of it are 5.8029 long; the
    # shoulder is at r (sin 20 - sin 10) = 5.5981.
    front, _ = faces_of(CONVEX)
    assert front.bulge.radius_mm == pytest.approx(33.2483, abs=5e-5)
    assert front.width_mm == pytest.approx(5.8029, abs=5e-5)
    assert front.height_mm == pytest.approx(5.5981, abs=5e-5)
    # Property: every two of the three sizes give the third.
    radius = f"{front.bulge.radius_mm} mm"
    by_edge = {k: v for k, v in CONVEX.items() if k != "shoulder_angle"} | {"radius": radius}
    by_shoulder = {k: v for k, v in CONVEX.items() if k != "edge_angle"} | {"radius": radius}
    for form in (by_edge, by_shoulder):
        other = faces_of(form)[0]
        assert other.width_mm == pytest.approx(front.width_mm, abs=1e-6)
        assert other.edge_angle_deg == pytest.approx(20.0, abs=1e-6)


def test_the_depth_in_a_bulge_is_counted_from_the_arc():
    # By hand: 5.8029 - 1.2 - 1.4 = 3.2029 of arc, half of it 1.60145 / 33.2483 = 0.048166 rad:
    # h = 1.60083, s = 33.2483 (1 - cos) = 0.03856; the wheel's s = 75 - sqrt(75^2 - h^2) = 0.01709.
    relief = relief_of(section_for(job_of(CONVEX), 75.0))
    assert relief.depth_mm == pytest.approx(0.03856 + 0.01709, abs=2e-5)
    assert relief.chord_mm == pytest.approx(2 * 1.60083, abs=2e-5)


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("radius_mm", [40.0, 75.0])
def test_the_section_is_the_blank_less_the_wheels(name, radius_mm):
    # Source: shapely (GEOS) cuts the outline of the blank with discs of 4 x 2000 sides.
    section = section_for(job_of(FORMS[name]), radius_mm)
    blank = shapely.Polygon(outline(section, 0.0, 0.0))
    assert blank.is_valid
    steel = blank
    depth = {r.face: r.depth_mm for r in section.reliefs}
    for relief in section.reliefs:
        face = section.face(relief.face)
        y, z = face.point(relief.middle_mm, relief.depth_mm - radius_mm)
        side = 1.0 if relief.face == "A" else -1.0
        wheel = shapely.buffer(shapely.Point(y, side * z), radius_mm, quad_segs=2000)
        cut = shapely.intersection(blank, wheel)
        assert cut.area == pytest.approx(
            relief.removed_area_mm2, abs=2 * CHORD_ERROR_MM * relief.chord_mm
        )
        steel = shapely.difference(steel, wheel)
    ground = shapely.Polygon(outline(section, depth.get("A", 0.0), depth.get("B", 0.0)))
    assert ground.is_valid
    apart = shapely.hausdorff_distance(ground.exterior, steel.exterior, densify=0.05)
    # Two polylines of the same arcs, each within its own chord error.
    assert apart < 2 * CHORD_ERROR_MM + radius_mm * (math.pi / 8000) ** 2
    # Property: the thickness is that of the outline.
    places = np.linspace(0.3, section.width_mm - 0.3, 41)
    found = thickness_at(section, places, depth.get("A", 0.0), depth.get("B", 0.0))
    for place, thickness in zip(places.tolist(), found.tolist(), strict=True):
        line = shapely.LineString([(place, -100.0), (place, 100.0)])
        across = shapely.intersection(line, ground).length
        assert across == pytest.approx(thickness, abs=4 * CHORD_ERROR_MM)


@QUICK
@given(
    thickness=st.floats(2.0, 6.0),
    edge=st.floats(25.0, 60.0),
    share=st.floats(0.1, 0.8),
    wheel=st.floats(60.0, 200.0),
    land=st.floats(0.3, 1.5),
)
def test_lands_of_a_bulging_face_are_lengths_of_its_arc(thickness, edge, share, wheel, land):
    # Property: two lands and the arc between them are the face, by depth as well as by lands.
    form = {
        **CONVEX,
        "thickness": f"{thickness} mm",
        "width": "60 mm",
        "edge_angle": f"{edge} deg",
        "shoulder_angle": f"{share * edge} deg",
    }
    arc = bevel_faces(job_of(form, faces="A").blade.section)[0]
    assume(2.5 * land < arc.width_mm < 2 * wheel and arc.height_mm < 60)
    by_lands = section_for(
        job_of(form, edge_land=f"{land} mm", shoulder_land=f"{land} mm", faces="A"), wheel
    )
    relief, lens = relief_of(by_lands, "A"), by_lands.lens("A")
    whole = by_lands.face("A").width_mm
    assert 2 * land + lens.along_face(relief.chord_mm) == pytest.approx(whole, abs=1e-9)
    depth = {
        "edge_land": f"{land} mm",
        "shoulder_land": GONE,
        "depth": f"{relief.depth_mm:.12f} mm",
    }
    by_depth = relief_of(section_for(job_of(form, faces="A", **depth), wheel))
    assert by_depth.shoulder_land_mm == pytest.approx(land, abs=1e-6)
    assert by_depth.middle_mm == pytest.approx(relief.middle_mm, abs=1e-6)


def test_the_back_of_a_single_bevel_has_sizes_of_its_own():
    # By hand: 2 sqrt(0.02 * 149.98) = 3.4639 wide, so the land along the spine is
    # 25 - 8 - 3.4639 = 13.5361.
    back = {"edge_land": "8 mm", "depth": "0.02 mm"}
    section = section_for(job_of(SINGLE, faces="both", face_b=back), 75.0)
    relief = relief_of(section, "B")
    assert relief.chord_mm == pytest.approx(3.4639, abs=5e-5)
    assert relief.shoulder_land_mm == pytest.approx(13.5361, abs=5e-5)
    assert relief_of(section, "A").edge_land_mm == 1.2


def test_the_wall_of_a_gouge_is_cut_from_both_sides():
    # By hand: the inside bevel rises 1.5 sin 6 = 0.15679 and runs 1.5 cos 6 = 1.49178; the outside
    # bevel rises the other 2.2 - 0.15679 = 2.04321: 2.04321 / sin 22 = 5.4543 wide.
    front, back = faces_of(GOUGE)
    assert back.flank_mm == pytest.approx(0.15679, abs=5e-6)
    assert back.height_mm == pytest.approx(1.49178, abs=5e-6)
    assert front.width_mm == pytest.approx(5.4543, abs=5e-5)
    assert front.flank_mm + back.flank_mm == pytest.approx(2.2)


def test_a_hook_bevel_bulges_to_its_radius():
    # By hand: cos s = cos 24 + 2.5 / 60 = 0.955212, s = 17.212 deg; 60 mm of 6.788 deg are 7.1084
    # long; the shoulder is at 60 (sin 24 - sin 17.212) = 6.6494.
    front, back = faces_of(FORMS["convex hook"])
    assert front.width_mm == pytest.approx(7.108, abs=2e-3)
    assert front.height_mm == pytest.approx(6.649, abs=2e-3)
    assert (back.angle_deg, back.width_mm) == (0.0, 11.0)


def test_a_rounded_back_is_a_quarter_of_a_circle_on_either_side():
    # By hand: 1 mm of each corner: the two faces end 10 mm from the edge, and the section loses
    # 2 (1 - pi/4) of its area.
    sharp = section_for(job_of(HOOK), 75.0)
    round_back = section_for(job_of(FORMS["hook"]), 75.0)
    assert round_back.face("B").width_mm == pytest.approx(10.0)
    areas = [shapely.Polygon(outline(s, 0.0, 0.0)).area for s in (sharp, round_back)]
    assert areas[0] - areas[1] == pytest.approx(2 * (1 - math.pi / 4), abs=5e-4)


def test_convex_cheeks_end_level_and_flat_ones_straight():
    # By hand: shoulders 2.5 / tan 15 = 9.3301 from the edge; 50.6699 on to the spine, rising 3.5:
    # r = (50.6699^2 + 3.5^2) / 7 = 368.53 for the arc; half way it stands 0.8739 below the spine,
    # the straight cheek 1.75.
    middle = np.array([9.3301 + 50.6699 / 2])
    arc = faces_of(FORMS["convex axe"])[0].heights(middle)[0]
    flat = faces_of(FORMS["axe"])[0].heights(middle)[0]
    assert 6.0 - arc == pytest.approx(50.6699**2 / 8 / 368.53, abs=2e-3)
    assert 6.0 - flat == pytest.approx(1.75, abs=1e-6)


@pytest.mark.parametrize(
    ("form", "relief", "rule"),
    [
        pytest.param({**CONVEX, "width": "5 mm"}, {}, "bevel-past-spine", id="arc past the spine"),
        pytest.param(
            {**HOOK, "width": "6.3 mm", "back_radius": "1 mm"}, {}, "bevel-past-spine", id="hook"
        ),
        pytest.param({**AXE, "width": "9 mm"}, {}, "bevel-past-spine", id="no room for cheeks"),
        pytest.param(
            CONVEX, {"edge_land": "3 mm", "shoulder_land": "3 mm"}, "lands-overlap", id="lands"
        ),
        pytest.param(
            CONVEX,
            {"shoulder_land": GONE, "depth": "0.5 mm"},
            "wheel-too-large",
            id="deeper than the face is wide",
        ),
        pytest.param(CONVEX, {"edge_land": "0 mm"}, "no-land-on-bulge", id="runs out"),
    ],
)
def test_what_cannot_be_is_refused(form, relief, rule):
    # By hand: each breaks the rule that it is named by.
    with pytest.raises(RefusedError) as caught:
        section_for(job_of(form, **relief), 75.0)
    assert {r.rule for r in caught.value.refusals} == {rule}
