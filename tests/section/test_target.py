"""The finished section, held against hand arithmetic and against polygons cut by shapely."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.report.refusals import refusal_words, way_out_words
from planner.section.profile import CHORD_ERROR_MM
from planner.section.target import outline, section_for, thickness_at
from tests.samples import GONE, a_job

QUICK = settings(max_examples=60, deadline=None, derandomize=True)


def section(diameter_mm, **changes):
    return section_for(a_job(**changes), diameter_mm / 2)


def refused(diameter_mm, **changes):
    with pytest.raises(RefusedError) as caught:
        section(diameter_mm, **changes)
    (refusal,) = caught.value.refusals
    assert refusal_words(refusal)
    assert all(way_out_words(w) for w in refusal.ways_out)
    return refusal


def lands(edge_mm, shoulder_mm, **more):
    """A relief by its lands, with no least steel or angle unless asked."""
    relief = {
        "faces": "both",
        "edge_land": f"{edge_mm:.9f} mm",
        "shoulder_land": f"{shoulder_mm:.9f} mm",
        "land_tolerance": "0.25 mm",
        "min_steel_left": "0 mm",
        "min_edge_angle": "0 deg",
        **more,
    }
    return {"relief": {k: v for k, v in relief.items() if v is not GONE}}


def stock(thickness_mm, width_mm, edge_mm=0.0, **angles):
    return {
        "blade__section": {
            "form": "double_bevel",
            "thickness": f"{thickness_mm:.9f} mm",
            "width": f"{width_mm:.9f} mm",
            "edge_thickness": f"{edge_mm:.9f} mm",
            **{k: f"{v:.9f} deg" for k, v in angles.items()},
        }
    }


# --- bevels -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "heights", "widths"),
    [
        # By hand: 1.5 / tan 12.5 deg = 1.5 / 0.2216947, 1.5 / sin 12.5 deg = 1.5 / 0.2164396.
        (stock(3, 20, included_angle=25), (6.76606, 6.76606), (6.93034, 6.93034)),
        # By hand: half of 3.0 - 0.4 is 1.3; 1.3 / 0.2216947, 1.3 / 0.2164396.
        (stock(3, 20, 0.4, included_angle=25), (5.86392, 5.86392), (6.00630, 6.00630)),
        # By hand: 1 / tan 9 deg = 1 / 0.1583844, 1 / tan 14 deg = 1 / 0.2493280; sines 0.1564345,
        # 0.2419219.
        (stock(2, 14, angle_a=9, angle_b=14), (6.31375, 4.01078), (6.39245, 4.13357)),
        # By hand: 45 degrees, half of 2 - 1: height 0.5, face 0.5 sqrt 2.
        (stock(2, 14, 1.0, included_angle=90), (0.5, 0.5), (0.70711, 0.70711)),
    ],
)
def test_height_and_width_of_the_bevels(changes, heights, widths):
    found = section(400, **changes, **lands(0.1, 0.1, faces="A"))
    assert [f.height_mm for f in found.faces] == pytest.approx(heights, abs=6e-6)
    assert [f.width_mm for f in found.faces] == pytest.approx(widths, abs=6e-6)


def test_a_relief_from_a_right_triangle():
    # By hand: face 10 / (2 sin 30 deg) = 10; lands of 1 leave a chord of 8; radius 5: 3-4-5, so
    # the depth is 5 - 3 = 2. The segment: half angle asin 0.8, area 25 (0.927295 - 0.8 * 0.6).
    found = section(10, **stock(10, 30, included_angle=60), **lands(1, 1, faces="A"))
    (relief,) = found.reliefs
    assert relief.face == "A"
    assert relief.chord_mm == pytest.approx(8)
    assert relief.depth_mm == pytest.approx(2)
    assert relief.middle_mm == pytest.approx(5)
    assert relief.removed_area_mm2 == pytest.approx(25 * (0.9272952180 - 0.48))
    assert found.relief("B") is None
    assert found.edge_angle_deg == pytest.approx(60)
    assert not found.full_hollow


def test_a_belt_adds_its_thickness_to_the_radius():
    from planner.section.wheel_shape import section_radius_mm  # noqa: PLC0415
    from tests.samples import a_machine  # noqa: PLC0415

    belt = {"thickness": "1.2 mm"}
    machine = a_machine(kind="belt", rack__0__belt=belt, rack__0__diameter="40 mm")
    # By hand: 40 / 2 + 1.2.
    assert section_radius_mm(machine.rack[0]) == pytest.approx(21.2)


@QUICK
@given(
    st.floats(0.5, 2.5),
    st.floats(0.5, 2.5),
    st.floats(30, 400),
)
def test_any_two_of_the_three_give_the_third(edge, shoulder, diameter):
    # Property: whichever two are given, the same relief comes out.
    by_lands = section(diameter, **lands(edge, shoulder)).reliefs
    depth = f"{by_lands[0].depth_mm:.15f} mm"
    for missing in ("edge_land", "shoulder_land"):
        again = section(diameter, **lands(edge, shoulder, depth=depth, **{missing: GONE})).reliefs
        for one, other in zip(by_lands, again, strict=True):
            assert other.edge_land_mm == pytest.approx(one.edge_land_mm, abs=1e-8)
            assert other.shoulder_land_mm == pytest.approx(one.shoulder_land_mm, abs=1e-8)
            assert other.chord_mm == pytest.approx(one.chord_mm, abs=1e-8)
            assert other.depth_mm == pytest.approx(one.depth_mm, abs=1e-12)
            assert other.middle_mm == pytest.approx(one.edge_land_mm + one.chord_mm / 2)


def test_unequal_bevels_get_the_same_lands_and_their_own_depths():
    found = section(40, **stock(2, 14, angle_a=9, angle_b=14), **lands(1.0, 1.0))
    # By hand: chords 6.39245 - 2 and 4.13357 - 2 on a radius of 20: 20 - sqrt(400 - c^2/4).
    assert [r.chord_mm for r in found.reliefs] == pytest.approx([4.39245, 2.13357], abs=6e-6)
    assert [r.depth_mm for r in found.reliefs] == pytest.approx([0.120952, 0.028471], abs=2e-6)


# --- full hollows -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("half_deg", "chord", "diameter", "left_deg"),
    [
        # Source: tangent-chord angle (Euclid, Elements III.32): 2 (phi - asin(c/D)).
        pytest.param(12.5, 12, 100, 11.2157948, id="25-deg-c12-D100"),
        pytest.param(12.5, 10, 150, 17.3548925, id="25-deg-c10-D150"),
        pytest.param(15.0, 20, 300, 22.3548925, id="30-deg-c20-D300"),
    ],
)
def test_edge_angle_of_a_full_hollow(half_deg, chord, diameter, left_deg):
    thickness = 2 * chord * math.sin(math.radians(half_deg))
    found = section(diameter, **stock(thickness, 60, included_angle=2 * half_deg), **lands(0, 0))
    assert found.full_hollow
    assert found.flat_edge_angle_deg == pytest.approx(2 * half_deg)
    assert found.edge_angle_deg == pytest.approx(left_deg, abs=1e-6)
    # The arc itself, measured: the section's rise over the first micrometre from the edge.
    depth = found.reliefs[0].depth_mm
    (rise,) = thickness_at(found, np.array([1e-3]), depth, depth)
    assert math.degrees(2 * math.atan(rise / 2e-3)) == pytest.approx(left_deg, abs=0.01)


def test_a_full_hollow_of_an_eight_millimetre_bevel():
    # A worked figure of the trade, from memory: 200 mm wheel on the 8 mm bevels of a 3 mm blade:
    # 0.08 deep, 1.34 of steel at mid-bevel, 0.30 one millimetre from the edge where the flat
    # bevels have 0.375, 10.8 deg a side down to 8.5. Each figure fits hollows over the whole of
    # both bevels, distances counted along the face: sin(beta) = 1.5 / 8.
    beta = math.degrees(math.asin(1.5 / 8))
    found = section(200, **stock(3, 20, included_angle=2 * beta), **lands(0, 0))
    depth = found.reliefs[0].depth_mm
    assert round(beta, 1) == 10.8
    assert round(depth, 2) == 0.08
    assert round(found.edge_angle_deg / 2, 1) == 8.5
    along = np.array([1.0, 4.0]) * math.cos(math.radians(beta))
    near, middle = thickness_at(found, along, depth, depth)
    assert round(float(middle), 2) == 1.34
    assert round(float(near), 2) == 0.30
    assert round(float(thickness_at(found, along[:1], 0, 0)[0]), 3) == 0.375


@QUICK
@given(st.floats(3, 30), st.floats(0.2, 12), st.floats(0.02, 0.4))
def test_a_full_hollow_is_nowhere_thinner_than_nothing(half_deg, face_mm, curl):
    # Property: at the edge itself the thickness is zero, never below it by a rounding error.
    blade = stock(2 * face_mm * math.sin(math.radians(half_deg)), 200, included_angle=2 * half_deg)
    try:
        found = section(face_mm / curl, **blade, **lands(0, 0))
    except RefusedError:
        assume(False)
    depth = found.reliefs[0].depth_mm
    along = np.linspace(0, found.faces[0].height_mm, 201)
    assert thickness_at(found, along, depth, depth).min() >= 0.0


def test_the_same_bevel_on_small_wheels():
    # The same figure: 1.6 deg a side on a 50 mm wheel, and on a 40 mm wheel it is through.
    beta = math.degrees(math.asin(1.5 / 8))
    blade = stock(3, 20, included_angle=2 * beta)
    assert round(section(50, **blade, **lands(0, 0)).edge_angle_deg / 2, 1) == 1.6
    assert refused(40, **blade, **lands(0, 0)).rule == "reliefs-meet"


# --- refusals ---------------------------------------------------------------------------------


def test_lands_that_overlap():
    with pytest.raises(RefusedError) as caught:
        section(150, **lands(4.0, 3.5))
    # By hand: 7.5 - 6.93034. Both faces say so, each for itself.
    assert [r.rule for r in caught.value.refusals] == ["lands-overlap"] * 2
    assert [r.facts["face"] for r in caught.value.refusals] == ["A", "B"]
    assert caught.value.refusals[0].facts["overlap_mm"] == pytest.approx(0.56966, abs=1e-5)
    # Rounded down: what is named must really be possible.
    assert caught.value.refusals[0].ways_out[0].facts["room_mm"] == 6.93


def test_a_bevel_past_the_spine():
    refusal = refused(150, **stock(3, 6, angle_a=12.5, angle_b=20), **lands(1, 1))
    assert refusal.rule == "bevel-past-spine"
    # By hand: 1.5 / tan 12.5 deg; face B, 1.5 / tan 20 deg = 4.12, fits.
    assert refusal.facts["face"] == "A"
    assert refusal.facts["bevel_height_mm"] == pytest.approx(6.76606, abs=1e-5)
    (way,) = refusal.ways_out
    wide_enough = stock(3, float(way.facts["width_mm"]), angle_a=12.5, angle_b=20)
    assert section(150, **wide_enough, **lands(1, 1))


@pytest.mark.parametrize("given_land", ["edge_land", "shoulder_land"])
def test_the_largest_wheel_named_fits_and_one_per_cent_more_does_not(given_land):
    missing = "shoulder_land" if given_land == "edge_land" else "edge_land"
    asked = lands(2.0, 2.0, faces="A", depth="0.1 mm", **{missing: GONE})
    refusal = refused(400, **asked)
    assert refusal.rule == "wheel-too-large"
    largest = float(refusal.facts["largest_diameter_mm"])
    # By hand: room 6.93034 - 2; D = room^2 / (4 h) + h = 24.30825 / 0.4 + 0.1.
    assert largest == 60.87
    fits = section(largest, **asked)
    assert fits.reliefs[0].edge_land_mm == pytest.approx(
        2.0 if given_land == "edge_land" else 0.0, abs=2e-3
    )
    assert refused(largest * 1.01, **asked).rule == "wheel-too-large"


def test_the_depth_named_for_a_wheel_too_large_fits():
    asked = lands(2.0, 2.0, faces="A", shoulder_land=GONE)
    asked["relief"]["depth"] = "0.1 mm"
    ways = {w.rule: w.facts for w in refused(400, **asked).ways_out}
    shallow = float(ways["less-depth-of"]["depth_mm"])
    asked["relief"]["depth"] = f"{shallow} mm"
    assert section(400, **asked).reliefs[0].shoulder_land_mm > 0
    asked["relief"]["depth"] = f"{shallow * 1.01:.9f} mm"
    assert refused(400, **asked).rule == "wheel-too-large"


def test_no_wheel_has_room_for_the_depth():
    asked = lands(6.5, 0, faces="A", shoulder_land=GONE, depth="0.3 mm")
    refusal = refused(400, **asked)
    # By hand: 0.43 mm of room, and half a disc 0.3 deep is 0.6 wide.
    assert refusal.rule == "no-room-for-depth"
    assert refusal.facts["room_mm"] == pytest.approx(0.43034, abs=1e-5)


def test_a_wheel_too_small_for_the_chord_or_the_depth():
    # By hand: the chord is 6.93034 - 2.
    refusal = refused(4, **lands(1, 1, faces="A"))
    assert (refusal.rule, refusal.facts["face"]) == ("wheel-too-small", "A")
    assert refusal.facts["chord_mm"] == pytest.approx(4.93034, abs=1e-5)
    assert float(refusal.ways_out[0].facts["diameter_mm"]) == 4.94
    deep = lands(1, 1, faces="A", shoulder_land=GONE, depth="2.5 mm")
    assert refused(4, **deep).rule == "wheel-too-small"


def test_a_relief_that_breaks_through():
    # One face: at the middle of the relief, 3.47 mm from the edge, the blade is 1.5 mm thick.
    # By hand: depth of a 4.93 mm chord on a radius of 2.6: 2.6 - sqrt(6.76 - 6.07705) = 1.774.
    refusal = refused(5.2, **lands(1, 1, faces="A"))
    assert refusal.rule == "breaks-through"
    assert float(refusal.facts["steel_left_mm"]) < 0


def test_reliefs_that_meet_though_each_alone_would_not():
    alone = section(6.8, **lands(1, 1, faces="A"))
    assert alone.steel_left_mm > 0
    refusal = refused(6.8, **lands(1, 1))
    assert refusal.rule == "reliefs-meet"
    assert float(refusal.facts["steel_left_mm"]) < 0


def test_too_little_steel_names_what_is_left_and_where():
    asked = lands(1, 1, min_steel_left="0.50 mm")
    refusal = refused(30, **asked)
    assert refusal.rule == "too-little-steel"
    least, at = least_by_shapely(30, lands(1, 1))
    assert refusal.facts["steel_left_mm"] == pytest.approx(least, abs=2e-4)
    assert refusal.facts["at_mm"] == pytest.approx(at, abs=0.02)
    asked["relief"]["min_steel_left"] = f"{least - 1e-3:.6f} mm"
    assert section(30, **asked).steel_left_mm == pytest.approx(least, abs=2e-4)


def test_an_edge_angle_too_small():
    beta = math.degrees(math.asin(1.5 / 8))
    blade = stock(3, 20, included_angle=2 * beta)
    refusal = refused(100, **blade, **lands(0, 0, min_edge_angle="15 deg"))
    assert refusal.rule == "edge-angle-too-small"
    # By hand: 2 (asin(1.5/8) - asin(8/100)) = 2 (10.80693 - 4.58856).
    assert refusal.facts["edge_angle_deg"] == pytest.approx(12.43673, abs=1e-4)
    assert section(100, **blade, **lands(0, 0, min_edge_angle="12.4 deg")).full_hollow


# --- polygons as a rival ----------------------------------------------------------------------


def blank_polygon(job):
    """The unground section from its own corners."""
    blade = job.blade.section
    half, edge = blade.thickness_mm / 2, blade.edge_thickness_mm / 2
    pair = (blade.angle_a_deg, blade.angle_b_deg)
    if blade.included_angle_deg is not None:
        pair = (blade.included_angle_deg / 2,) * 2
    top, bottom = ((half - edge) / math.tan(math.radians(a)) for a in pair)
    corners = [(0, edge), (top, half), (blade.width_mm, half), (blade.width_mm, -half)]
    corners += [(bottom, -half), (0, -edge)]
    return shapely.Polygon(corners), {"A": math.radians(pair[0]), "B": math.radians(pair[1])}


def wheel_polygon(job, radius, face, angle, relief):
    """A sector of the wheel with more than the arc that cuts; its centre found from the chord.

    Its 10 000 vertices stand on the circle, and no side is further inside it than 1e-8 mm.
    """
    side = 1 if face == "A" else -1
    along = np.array([math.cos(angle), side * math.sin(angle)])
    normal = np.array([-math.sin(angle), side * math.cos(angle)])
    corner = np.array([0, side * job.blade.section.edge_thickness_mm / 2])
    half_chord = relief.chord_mm / 2
    out = math.sqrt(radius**2 - half_chord**2)
    centre = corner + along * (relief.edge_land_mm + half_chord) + normal * out
    half_arc = min(math.asin(half_chord / radius) * 1.1 + 0.01, math.pi * 0.6)
    turn = np.linspace(-half_arc, half_arc, 10_000)[:, None]
    rim = centre + radius * (np.sin(turn) * along - np.cos(turn) * normal)
    # The flat blank lies on one side of the face, so what is behind the centre cuts nothing.
    back = centre + 2 * radius * np.array([-along + normal, along + normal])
    return shapely.Polygon(np.concatenate([rim, back[::-1]]))


def ground_polygon(job, diameter, found):
    blank, angles = blank_polygon(job)
    steel = blank
    for relief in found.reliefs:
        wheel = wheel_polygon(job, diameter / 2, relief.face, angles[relief.face], relief)
        steel = steel.difference(wheel)
    return blank, steel


def least_by_shapely(diameter, relief, **blade):
    """Least thickness over the reliefs, along z, and where."""
    job = a_job(**blade, **relief)
    found = section_for(job, diameter / 2)
    _, steel = ground_polygon(job, diameter, found)
    least = (math.inf, 0.0)
    for each in found.reliefs:
        cosine = math.cos(found.face(each.face).angle_rad)
        low = each.edge_land_mm * cosine
        high = low + each.chord_mm * cosine
        for y in np.linspace(low + 1e-9, high - 1e-9, 200):
            cut = steel.intersection(shapely.LineString([(y, -99), (y, 99)]))
            least = min(least, (cut.length, float(y)))
    return least


@pytest.mark.parametrize("edge", [0.0, 0.3])
@pytest.mark.parametrize("faces", ["both", "A", "B"])
@pytest.mark.parametrize("diameter", [12, 30, 200])
def test_area_and_steel_left_against_polygons(diameter, faces, edge):
    blade = stock(3, 20, edge, angle_a=11, angle_b=14)
    asked = lands(1.1, 0.7, faces=faces)
    job = a_job(**blade, **asked)
    found = section_for(job, diameter / 2)
    blank, steel = ground_polygon(job, diameter, found)
    removed = sum(r.removed_area_mm2 for r in found.reliefs)
    assert removed == pytest.approx(blank.area - steel.area, abs=1e-6)
    least, at = least_by_shapely(diameter, asked, **blade)
    assert found.steel_left_mm == pytest.approx(least, abs=1e-3)
    assert found.steel_left_mm <= least + 1e-9
    assert found.steel_left_at_mm == pytest.approx(at, abs=0.05)


@QUICK
@given(
    thickness=st.floats(0.5, 12),
    edge=st.sampled_from([0.0, 0.1, 0.4]),
    angle_a=st.floats(3, 55),
    angle_b=st.floats(3, 55),
    lands_share=st.tuples(st.floats(0, 0.48), st.floats(0, 0.48)),
    curl=st.floats(0.005, 0.999),
    faces=st.sampled_from(["A", "B", "both"]),
)
def test_outline_and_area_of_any_section(
    thickness, edge, angle_a, angle_b, lands_share, curl, faces
):
    blade = stock(thickness, 400, edge * thickness, angle_a=angle_a, angle_b=angle_b)
    # Faces of their own widths: the narrower one sets the lands, the wider one the wheel.
    widths = [(1 - edge) * thickness / 2 / math.sin(math.radians(a)) for a in (angle_a, angle_b)]
    wide = max(widths) if faces == "both" else widths["AB".index(faces)]
    first, second = (share * min(widths) for share in lands_share)
    diameter = (wide - first - second) / curl
    job = a_job(**blade, **lands(first, second, faces=faces))
    try:
        found = section_for(job, diameter / 2)
    except RefusedError:
        assume(False)
    blank, steel = ground_polygon(job, diameter, found)
    depth = {r.face: r.depth_mm for r in found.reliefs}
    before = shapely.Polygon(outline(found, 0, 0))
    after = shapely.Polygon(outline(found, depth.get("A", 0), depth.get("B", 0)))
    # Property: both outlines are simple, and enclose what polygons cut by shapely enclose.
    assert before.is_valid
    assert after.is_valid, shapely.is_valid_reason(after)
    assert before.area == pytest.approx(blank.area, rel=1e-9)
    length = sum(r.chord_mm * 2 for r in found.reliefs)
    assert after.area == pytest.approx(steel.area, abs=length * CHORD_ERROR_MM + 1e-9 * diameter**2)
    assert shapely.symmetric_difference(after, steel).area < 2 * length * CHORD_ERROR_MM + 1e-6


@pytest.mark.parametrize("diameter", [8, 40, 150, 400])
def test_chord_error_of_the_outline_is_measured(diameter):
    found = section(diameter, **lands(1.2, 1.4, faces="A"))
    (relief,) = found.reliefs
    points = np.array(outline(found, relief.depth_mm, 0))
    angle, radius = found.faces[0].angle_rad, diameter / 2
    along = np.array([math.cos(angle), math.sin(angle)])
    normal = np.array([-math.sin(angle), math.cos(angle)])
    centre = relief.middle_mm * along + (radius - relief.depth_mm) * normal
    on_arc = np.abs(np.linalg.norm(points - centre, axis=1) - radius) < 1e-9
    # Property: every vertex between the lands is on the circle, and so near to the next one that
    # the circle stands no further than the chord error from the middle of the line between them.
    arc = points[on_arc]
    assert len(arc) >= 3
    assert np.linalg.norm(arc[-1] - arc[0]) == pytest.approx(relief.chord_mm, abs=1e-9)
    middles = (arc[1:] + arc[:-1]) / 2
    assert np.max(radius - np.linalg.norm(middles - centre, axis=1)) <= CHORD_ERROR_MM * 1.0001
