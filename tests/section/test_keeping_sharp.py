"""Steel behind the edge and honing: hand arithmetic, exact circles, polygons honed by shapely."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.inputs.cutting import Honing
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.report.cut_words import edge_words
from planner.section.keeping_sharp import face_honings, steel_behind
from planner.section.target import outline, section_for, thickness_at
from tests.commands import ROOT
from tests.samples import GONE, a_job

QUICK = settings(max_examples=25, deadline=None, derandomize=True)
POLYLINE_MM = 0.02
"""What a chord error of 0.0001 mm makes of a land where the relief is shallow: 72 to 200 times."""


def honing(**keys):
    """As the key ``honing`` of a job."""
    return Honing.model_validate(keys)


def test_the_steel_behind_the_edge_of_the_example():
    # By hand: 2 y tan 12.5 deg = 0.443389 y where no relief is yet: 0.25, 0.5 and 1 mm lie before
    # 1.2 cos 12.5 = 1.17 mm. W = t^2 / 6.
    found = {round(s.from_edge_mm, 4): s for s in steel_behind(section_for(a_job(), 75.0))}
    assert list(found)[:4] == [0.25, 0.5, 1.0, 2.0]
    for y in (0.25, 0.5, 1.0):
        assert found[y].thickness_mm == pytest.approx(0.443389 * y, abs=1e-6)
        assert found[y].modulus_mm2 == pytest.approx((0.443389 * y) ** 2 / 6, rel=1e-5)
        assert found[y].modulus_share == pytest.approx(1)
        assert found[y].deepest_of == ""
    # By hand: the middle of the relief is 1.2 + 4.330/2 = 3.365 along: y = 3.292 less... the
    # deepest point lies 0.0313 sin 12.5 further from the spine's side: 3.365 cos + 0.0313 sin.
    deepest = [s for s in found.values() if s.deepest_of]
    (one,) = deepest
    assert one.deepest_of == "AB"
    assert one.from_edge_mm == pytest.approx(3.365 * 0.97630 + 0.0313 * 0.21644, abs=1e-3)
    # By hand: each side loses the depth over cos 12.5.
    lost = 2 * 0.03126 / 0.97630
    assert one.full_thickness_mm - one.thickness_mm == pytest.approx(lost, abs=3e-4)
    assert one.modulus_share == pytest.approx((one.thickness_mm / one.full_thickness_mm) ** 2)


@QUICK
@given(st.floats(0.2, 2), st.floats(0.2, 2), st.floats(20, 300), st.floats(18, 40))
def test_thickness_from_the_outline_is_that_of_lines_and_arcs(edge, shoulder, radius, angle):
    # Property: against the exact lines and arcs; the outline's chords are within 0.0001 mm a side.
    job = a_job(
        relief__edge_land=f"{edge:.6f} mm",
        relief__shoulder_land=f"{shoulder:.6f} mm",
        relief__min_steel_left="0 mm",
        blade__section__included_angle=f"{angle:.6f} deg",
    )
    try:
        section = section_for(job, radius)
    except RefusedError:
        assume(False)
        return
    found = steel_behind(section)
    y = np.array([s.from_edge_mm for s in found])
    depths = [r.depth_mm for r in section.reliefs]
    exact = thickness_at(section, y, depths[0], depths[1])
    assert [s.thickness_mm for s in found] == pytest.approx(exact, abs=3e-4)
    full = thickness_at(section, y, 0.0, 0.0)
    assert [s.full_thickness_mm for s in found] == pytest.approx(full, abs=1e-9)
    assert [s.from_edge_mm for s in found] == sorted(s.from_edge_mm for s in found)


def test_a_narrow_blade_has_fewer_stations():
    # By hand: 1.9 mm wide ends before 2 mm.
    job = a_job(
        blade__section__thickness="0.5 mm",
        blade__section__width="1.9 mm",
        relief__edge_land="0.2 mm",
        relief__shoulder_land="0.2 mm",
        relief__min_steel_left="0 mm",
    )
    places = [s.from_edge_mm for s in steel_behind(section_for(job, 75.0)) if not s.deepest_of]
    assert places == [0.25, 0.5, 1.0]


# --- honing -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("each", "times"), [("0.002 mm", 12), ("0.004 mm", 6), ("0.001 mm", 24)])
def test_honings_of_the_example_until_a_land_has_doubled(each, times):
    # By hand: D 150, chord 6.930 - 2.6 = 4.330, depth 0.03126. With h gone the chord is 2 sqrt((d -
    # h)(150 - d + h)); the shoulder land gains half the loss and h / tan 12.5 deg, the edge land
    # gains half of it less h / tan 12.5. At h = 0.0244: chord 2 sqrt(0.00686 * 149.99) = 2.029,
    # half the loss 1.151, h/tan = 0.110: shoulder land 2.661, edge land 2.241. At 0.0260: chord
    # 1.776, 1.277, 0.117: 2.794 and 2.360. The limit of 2.8 is met at 0.0261: 13 times 0.002 is
    # 0.0260, but for the 0.0001 mm of the outline.
    first, second = face_honings(section_for(a_job(), 75.0), honing(each=each))
    assert first.honings in (times, times + 1)
    assert second.honings == first.honings
    assert first.first == "shoulder land"
    assert (first.edge_land_limit_mm, first.shoulder_land_limit_mm) == pytest.approx((2.4, 2.8))
    gone = first.honings * float(each.split()[0])
    assert first.gone_mm == pytest.approx(gone)
    chord = 2 * math.sqrt((0.031258 - gone) * (150 - 0.031258 + gone))
    half = (4.33034 - chord) / 2
    back = gone / math.tan(math.radians(12.5))
    assert first.edge_land_mm == pytest.approx(1.2 + half - back, abs=POLYLINE_MM)
    assert first.shoulder_land_mm == pytest.approx(1.4 + half + back, abs=POLYLINE_MM)
    assert first.edge_back_mm == pytest.approx(back)
    assert first.depth_left_mm == pytest.approx(0.031258 - gone, abs=1e-4)


def test_honing_both_lands_keeps_the_angle_and_one_alone_does_not():
    # By hand: parallel layers keep 25 deg; 0.002 over a land of 1.2 is 0.0955 deg.
    first = face_honings(section_for(a_job(), 75.0), honing())[0]
    assert first.edge_angle_deg == pytest.approx(25)
    assert first.honed_angle_deg == pytest.approx(25)
    assert first.reaches_edge_after_mm == 0
    assert first.alone_deg == pytest.approx(0.0955, abs=1e-4)


def test_a_full_hollow_is_honed_back_to_the_angle_of_its_bevels():
    # By hand: chord 5.530 on D 150: 25 - 2 asin(5.530/150) = 20.77 deg at the edge; a stone on edge
    # and shoulder land lies along the flat bevels, 25 deg. No edge land to hone alone.
    first = face_honings(section_for(a_job(relief__edge_land="0 mm"), 75.0), honing())[0]
    assert first.edge_angle_deg == pytest.approx(20.774, abs=1e-3)
    assert first.honed_angle_deg == pytest.approx(25)
    assert first.alone_deg is None
    assert first.edge_land_limit_mm == 0.5
    assert first.first == "edge land"
    # Property: at its end the land is within its limit, and one honing more is past it.
    assert first.edge_land_mm <= 0.5


def test_a_limit_of_your_own():
    # By hand: a limit below the land asks for a regrind at once; one beyond the face is never met,
    # and the relief is honed away instead: 0.03126 mm in 15 steps of 0.002.
    section = section_for(a_job(), 75.0)
    at_once = face_honings(section, honing(land_limit="1.3 mm"))[0]
    assert (at_once.honings, at_once.first) == (0, "shoulder land")
    never = face_honings(section, honing(land_limit="50 mm"))[0]
    assert (never.honings, never.first) == (15, "relief")
    assert never.depth_left_mm == pytest.approx(0.03126 - 0.030, abs=1e-4)


def test_a_face_without_a_relief_is_not_honed_here():
    # By hand: only A is relieved; B stays, so the edge goes back by h cos(b)/sin(b) on A.
    found = face_honings(section_for(a_job(relief__faces="A"), 75.0), honing(land_limit="2 mm"))
    (only,) = found
    assert only.face == "A"
    back = only.gone_mm / math.tan(math.radians(25))
    assert only.edge_back_mm == pytest.approx(back, rel=1e-6)


def test_unequal_bevels_and_a_blunt_edge():
    # By hand: 14 and 10 deg make 24; a blunt edge of 0.25 is not reached by the honed edge at once,
    # so the edge land begins at its corner.
    job = a_job(
        blade__section__included_angle=GONE,
        blade__section__angle_a="14 deg",
        blade__section__angle_b="10 deg",
        blade__section__edge_thickness="0.25 mm",
    )
    first, second = face_honings(section_for(job, 75.0), honing())
    assert first.edge_angle_deg == second.edge_angle_deg == pytest.approx(24)
    assert first.honed_angle_deg == pytest.approx(24)
    assert first.edge_back_mm == 0
    assert first.edge_land_mm > 1.2


def test_the_edge_stays_until_the_stone_reaches_it():
    # By hand: on a blunt edge of 0.25 mm, both bevels 12.5 deg, the stones meet 0.125/sin 12.5 =
    # 0.5775 mm before the corner; h / tan 12.5 catches up after h = 0.125 cos 12.5 = 0.122 mm, more
    # than the relief is deep.
    section = section_for(a_job(blade__section__edge_thickness="0.25 mm"), 75.0)
    found = face_honings(section, honing(land_limit="40 mm"))[0]
    assert found.gone_mm < 0.122
    assert found.edge_back_mm == 0


@QUICK
@given(st.floats(0.3, 1.5), st.floats(0.3, 1.5), st.floats(30, 200), st.floats(0.1, 0.8))
def test_lands_after_honing_are_those_of_the_polygon(edge, shoulder, radius, share):
    # Property: the outline's polygon cut by two half planes with shapely; the lands are what lies
    # on the cut.
    job = a_job(
        relief__edge_land=f"{edge:.6f} mm",
        relief__shoulder_land=f"{shoulder:.6f} mm",
        relief__min_steel_left="0 mm",
    )
    try:
        section = section_for(job, radius)
    except RefusedError:
        assume(False)
        return
    depth = section.reliefs[0].depth_mm
    gone = share * depth
    assume(gone < 0.09)
    # A limit just above the lands then makes one honing of that much the last.
    found = face_honings(section, honing(each=f"{gone:.9f} mm", land_limit="40 mm"))[0]
    gone = found.gone_mm
    # With the last of the relief gone both lands are one.
    assume(found.honings >= 1 and found.depth_left_mm > 1e-6)
    polygon = shapely.Polygon(outline(section, depth, depth))
    half = math.radians(12.5)
    for side in (1, -1):
        along = np.array([math.cos(half), side * math.sin(half)])
        inward = np.array([math.sin(half), -side * math.cos(half)])
        start = gone * inward - 50 * along
        box = [start, start + 100 * along, start + 100 * along + 50 * inward, start + 50 * inward]
        polygon = polygon.intersection(shapely.Polygon([tuple(p) for p in box]))
    along = np.array([math.cos(half), math.sin(half)])
    inward = np.array([math.sin(half), -math.cos(half)])
    ring = shapely.get_coordinates(polygon.exterior)
    on_cut = np.abs(ring @ inward - gone) < 1e-9
    lengths = [
        float(np.linalg.norm(b - a))
        for a, b, p, q in zip(ring[:-1], ring[1:], on_cut[:-1], on_cut[1:], strict=True)
        if p and q
    ]
    expected = sorted((found.edge_land_mm, found.shoulder_land_mm))
    assert sorted(lengths) == pytest.approx(expected, abs=1e-6)


def test_a_convex_face_needs_more_honings_to_its_edge_than_its_relief_bears():
    # Source: shapely's hull, whose longest side on a face is the stone's line. It meets the centre
    # plane before the edge; moved in by h, h / sin(angle) further back: so it comes to the edge.
    job, shop = load_pair(ROOT / "jobs" / "whittling-knife.yaml", None, [])
    section = section_fit(job.model, shop.model).section
    first, second = face_honings(section, job.model.honing)
    reach, each = first.reaches_edge_after_mm, job.model.honing.each_mm
    assert first.reaches_edge_after == math.ceil(reach / each) > first.honings
    assert not first.reaches_edge
    depths = [r.depth_mm for r in section.reliefs]
    upper = shapely.Polygon(outline(section, *depths))
    hull = upper.convex_hull
    # The longest straight side of the hull above the centre plane bridges the relief.
    ring = shapely.get_coordinates(hull.exterior)
    sides = [(a, b) for a, b in pairwise(ring) if min(a[1], b[1]) > 0.01]
    face = section.faces[0]
    sides = [(a, b) for a, b in sides if max(a[0], b[0]) < face.height_mm]
    a, b = max(sides, key=lambda s: float(np.hypot(*(s[1] - s[0]))))
    a, b = sorted((a, b), key=lambda p: float(p[0]))
    slope = (b[1] - a[1]) / (b[0] - a[0])
    angle = math.atan(slope)
    assert math.degrees(2 * angle) == pytest.approx(first.honed_angle_deg, abs=0.02)
    before = -(a[1] - slope * a[0]) / slope
    assert reach == pytest.approx(-before * math.sin(angle), rel=0.02)
    words = " ".join(edge_words((first, second)))
    assert words.startswith("Faces A and B: on both lands")
    assert f"after {first.reaches_edge_after} honings" in words
    assert f"ground again after {first.honings}" in words


def test_nothing_is_said_where_the_stone_reaches_the_edge():
    # By hand: flat bevels, lands in line with the edge: at once.
    honings = face_honings(section_for(a_job(), 75.0), honing())
    assert [h.reaches_edge_after for h in honings] == [0, 0]
    assert list(edge_words(honings)) == []
