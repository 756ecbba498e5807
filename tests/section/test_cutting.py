"""How a section will cut: closed forms, the trade's words, and what a relief leaves unchanged."""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from rich.console import Console

from planner.errors import RefusedError
from planner.inputs.cutting import Cut
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.report.cut_picture import cut_svg
from planner.report.cut_words import use_parts
from planner.section.cutting import (
    Work,
    guided_range,
    rest_on,
    section_fits,
    verdict,
    works_to_show,
)
from planner.section.face_outline import FaceOutline, face_outlines, section_faces
from planner.section.target import section_for
from tests.commands import ROOT
from tests.samples import GONE, a_job

QUICK = settings(max_examples=40, deadline=None, derandomize=True)
CUT = Cut()

DEG = math.degrees(1)


def a_cut(**keys):
    """As the key ``cut`` of a job."""
    return Cut.model_validate(keys)


def shaped(points, flank_mm=2.0):
    """A symmetric blade whose face runs through points (y, z) to a level flank."""
    shoulder_mm, z = points[-1]
    upper = [*points, (shoulder_mm + flank_mm, z)]
    outline = [*upper, *((y, -z) for y, z in reversed(upper[1:]))]
    return face_outlines(outline, (shoulder_mm, shoulder_mm))[0]


def flat_face(width_mm, half_deg=12.5):
    angle = math.radians(half_deg)
    shoulder = (width_mm * math.cos(angle), width_mm * math.sin(angle))
    return shaped([(0.0, 0.0), shoulder])


def micro_face(micro_mm, more_deg, width_mm, half_deg=12.5, flank_mm=2.0):
    first, main = math.radians(half_deg + more_deg), math.radians(half_deg)
    knee = (micro_mm * math.cos(first), micro_mm * math.sin(first))
    shoulder = (knee[0] + width_mm * math.cos(main), knee[1] + width_mm * math.sin(main))
    return shaped([(0.0, 0.0), knee, shoulder], flank_mm)


def convex_face(radius_mm, turn_deg, half_deg=30.0, points=81):
    """An arc from ``half_deg`` at the edge to ``turn_deg`` less at the shoulder."""
    angles = np.radians(half_deg) - np.linspace(0, math.radians(turn_deg), points)
    y = radius_mm * (math.sin(math.radians(half_deg)) - np.sin(angles))
    z = radius_mm * (np.cos(angles) - math.cos(math.radians(half_deg)))
    return shaped(list(zip(y.tolist(), z.tolist(), strict=True)))


def on(face, curvature, cut=CUT):
    return rest_on(face, face, Work(curvature), cut)


# --- flat bevels ----------------------------------------------------------------------------------


@QUICK
@given(st.floats(2, 10), st.floats(60, 2000))
def test_a_flat_bevel_in_a_bowl(width, radius):
    # By hand: asin(b/2R) at the edge, the sagitta of b in its middle, edge and shoulder touching,
    # so nothing to lift.
    fit = on(flat_face(width), 1 / radius)
    assert fit.angle_deg == pytest.approx(DEG * math.asin(width / (2 * radius)), rel=1e-9)
    assert fit.support_from_mm == fit.support_to_mm == pytest.approx(width)
    sagitta = radius - math.sqrt(radius**2 - width**2 / 4)
    assert fit.gap_mm == pytest.approx(sagitta, rel=1e-6)
    assert fit.gap_at_mm == pytest.approx(width / 2, rel=1e-6)
    assert (fit.lift_deg, fit.edge_off_mm) == pytest.approx((0, 0), abs=1e-7)
    assert fit.bears_mm == pytest.approx(width)


@QUICK
@given(st.floats(2, 10), st.floats(20, 2000))
def test_a_flat_bevel_on_a_round(width, radius):
    # By hand: it touches at the edge alone, the shoulder sqrt(b^2 + R^2) - R off. On its shoulder
    # the edge is as far off, and the line from the round's centre to it leans by atan(b/R).
    # Within the give g it bears over sqrt((R + g)^2 - R^2).
    fit = on(flat_face(width), -1 / radius)
    assert fit.angle_deg == fit.support_to_mm == 0
    assert fit.gap_mm == pytest.approx(math.hypot(width, radius) - radius, rel=1e-6)
    assert fit.lift_deg == pytest.approx(DEG * math.atan(width / radius), rel=1e-9)
    assert fit.edge_off_mm == pytest.approx(math.hypot(width, radius) - radius, rel=1e-6)
    bears = min(math.sqrt((radius + 0.02) ** 2 - radius**2), width)
    assert fit.bears_mm == pytest.approx(bears, abs=width / 1000)
    assert fit.bears_lost_mm == pytest.approx(width - fit.bears_mm)


def test_a_flat_bevel_on_flat_work_lies_on():
    # By hand.
    fit = on(flat_face(6.0), 0.0)
    assert (fit.support_from_mm, fit.angle_deg, fit.gap_mm, fit.lift_deg) == pytest.approx(
        (0, 0, 0, 0), abs=1e-9
    )
    assert fit.support_to_mm == pytest.approx(6)
    assert fit.verdict == "guided"


@QUICK
@given(st.floats(2, 10))
def test_a_flat_bevel_is_guided_between_two_closed_forms(width):
    # By hand: asin(b/2R) = 3 deg and atan(b/R) = 5 deg.
    found = guided_range(flat_face(width), CUT)
    assert found is not None
    assert 1 / found.most_per_mm == pytest.approx(width / (2 * math.sin(3 / DEG)), rel=1e-6)
    assert -1 / found.least_per_mm == pytest.approx(width / math.tan(5 / DEG), rel=1e-6)
    low = width / (2 * math.sin(3 / DEG))
    assert found.hollows_of((low / 2, low * 3)) == pytest.approx((low, low * 3), rel=1e-6)
    assert found.hollows_of((low / 3, low / 2)) is None


def test_a_deep_bowl_is_met_by_the_spine_first():
    # By hand: 20 mm wide, 12.5 deg a side, 3 mm thick: the spine is 20.06 from the edge and
    # 12.5 - atan(1.5/20) = 8.21 deg above the bevel; in R 40 it asks for asin(20.06/80) - 8.21 =
    # 6.31 deg, the shoulder for asin(6.93/80) = 4.97.
    face = section_fits(section_for(a_job(), 75.0), a_cut(bowl=["40 mm", "41 mm"]))[0]
    fit = face.fits[-1]
    assert fit.angle_deg == pytest.approx(6.31, abs=0.01)
    assert fit.support_to_mm == pytest.approx(20.056, abs=0.001)
    assert fit.verdict == "digs in"


def test_a_bowl_narrower_than_the_blade_is_no_place_for_it():
    # By hand: the spine is more than 2 R = 20 from the edge.
    fit = section_fits(section_for(a_job(), 75.0), a_cut(bowl=["10 mm", "400 mm"]))[0].fits[-1]
    assert fit.verdict == "does not fit"


# --- micro bevels ---------------------------------------------------------------------------------


@QUICK
@given(st.floats(0.2, 1.5), st.floats(1, 8), st.floats(3, 8))
def test_a_micro_bevel_on_flat_work(micro, more, width):
    # By hand: the micro bevel lies on, its knee the last support; laid on the main bevel the edge
    # stands m sin(mu) off and the tool must be lifted by mu. Within the give g the main bevel bears
    # on to m + g / tan(mu).
    face = micro_face(micro, more, width)
    fit = on(face, 0.0)
    assert (fit.support_from_mm, fit.support_to_mm) == pytest.approx((0, micro))
    assert fit.angle_deg == pytest.approx(0, abs=1e-9)
    assert fit.lift_deg == pytest.approx(more, rel=1e-9)
    assert fit.edge_off_mm == pytest.approx(micro * math.sin(more / DEG), rel=1e-9)
    bears = math.hypot(micro + 0.02 / math.tan(more / DEG), 0.02)
    assert fit.bears_mm == pytest.approx(min(bears, face.shoulder_mm), abs=0.01)
    if abs(more - 5) > 1e-9:
        assert fit.verdict == ("slides off" if more > 5 else "guided")
    # By hand: the gap is widest at the shoulder.
    assert fit.gap_mm == pytest.approx(width * math.sin(more / DEG), rel=1e-9)


@QUICK
@given(st.floats(0.2, 1.0), st.floats(1, 8), st.floats(3, 8), st.floats(100, 3000))
def test_a_micro_bevel_in_a_bowl(micro, more, width, radius):
    # By hand: knee and shoulder each ask for their tangent-chord angle less their elevation; with
    # the shoulder touching too there is nothing to lift. Else, laid on knee and shoulder, the main
    # bevel is a chord: the knee's tangent leans asin(w/2R) from it, and the edge is lifted by what
    # the micro bevel's own chord then lacks.
    face = micro_face(micro, more, width)
    fit = on(face, 1 / radius)
    knee = math.asin(micro / (2 * radius))
    x, y = face.bevel()
    shoulder = math.asin(face.shoulder_mm / (2 * radius)) - math.atan2(y[-1], x[-1])
    assert fit.angle_deg == pytest.approx(DEG * max(knee, shoulder), abs=1e-9)
    assume(abs(knee - shoulder) > 1e-6)
    if shoulder > knee:
        assert fit.lift_deg == pytest.approx(0, abs=1e-6)
        assert fit.edge_off_mm == pytest.approx(0, abs=1e-7)
        return
    # The circle through knee and shoulder, from above: its centre by Pythagoras.
    dx, dy = x[-1] - x[-2], y[-1] - y[-2]
    half = math.hypot(dx, dy) / 2
    out = math.sqrt(radius**2 - half**2) / (2 * half)
    centre = ((x[-1] + x[-2]) / 2 - dy * out, (y[-1] + y[-2]) / 2 + dx * out)
    assert fit.edge_off_mm == pytest.approx(radius - math.hypot(*centre), abs=1e-8)
    lean = math.atan2(centre[0], centre[1])
    assert fit.lift_deg == pytest.approx(DEG * (knee - lean), abs=1e-6)


# --- convex bevels --------------------------------------------------------------------------------


@QUICK
@given(st.floats(20, 200), st.floats(3, 12), st.floats(1.05, 20))
def test_a_convex_bevel_in_a_larger_bowl_rests_without_its_shoulder(radius, turn, larger):
    # By hand: two circles that touch from within. Laid on its shoulder the tool stands turned by
    # the arc's angle less what the bowl turns: from the bowl's centre the edge is seen under the
    # angle of atan((R - r) sin(a) / (r + (R - r) cos(a))) against the face's own.
    face = convex_face(radius, turn)
    bowl = radius * larger
    fit = on(face, 1 / bowl)
    assert (fit.support_to_mm, fit.angle_deg) == (0, pytest.approx(0, abs=1e-6))
    lean = math.atan2(
        (bowl - radius) * math.sin(turn / DEG), radius + (bowl - radius) * math.cos(turn / DEG)
    )
    assert fit.lift_deg == pytest.approx(DEG * lean, abs=1e-3)


def test_a_convex_bevel_on_flat_work_rolls_through_its_whole_arc():
    # By hand: from the shoulder's tangent to the edge's; the shoulder r (1 - cos a) off; within the
    # give it bears over sqrt(2 r g).
    fit = on(convex_face(40, 10), 0.0)
    assert fit.lift_deg == pytest.approx(10, abs=1e-6)
    assert fit.gap_mm == pytest.approx(40 * (1 - math.cos(10 / DEG)), rel=1e-6)
    assert fit.bears_mm == pytest.approx(math.sqrt(2 * 40 * 0.02), abs=0.01)
    assert fit.verdict == "slides off"


def test_a_convex_bevel_is_guided_in_bowls_near_its_own_radius():
    # By hand: b = 2 r sin(a/2); at the small end asin(b/2R) - asin(b/2r) = 3 deg.
    radius, turn = 60.0, 8.0
    face = convex_face(radius, turn)
    found = guided_range(face, CUT)
    assert found is not None
    half = radius * math.sin(turn / 2 / DEG)
    least = half / math.sin((3 + turn / 2) / DEG)
    assert 1 / found.most_per_mm == pytest.approx(least, rel=1e-3)
    assert found.least_per_mm > 0  # by hand: on flat work it is lifted by 8 deg, more than 5
    assert 1 / found.most_per_mm < radius < 1 / found.least_per_mm


@pytest.mark.parametrize("face", [flat_face(6), micro_face(0.5, 3, 6), convex_face(50, 7)])
def test_the_angle_grows_and_the_lift_falls_with_the_curvature(face):
    # Property: what the search for the guided range rests on.
    fits = [on(face, k) for k in np.linspace(-0.1, 0.03, 53)]
    angles, lifts = [f.angle_deg for f in fits], [f.lift_deg for f in fits]
    assert all(a <= b + 1e-9 for a, b in pairwise(angles))
    assert all(a >= b - 0.02 for a, b in pairwise(lifts))
    found = guided_range(face, CUT)
    assert found is not None
    for k, fit in zip(np.linspace(-0.1, 0.03, 53), fits, strict=True):
        if min(abs(k - found.least_per_mm), abs(k - found.most_per_mm)) > 1e-4:
            inside = found.least_per_mm < k < found.most_per_mm
            assert (fit.verdict == "guided") == inside


@pytest.mark.parametrize("face", [flat_face(6), micro_face(0.5, 3, 6), convex_face(50, 7)])
def test_a_large_bowl_is_like_flat_work(face):
    # Property: every figure tends to the flat one.
    flat = on(face, 0.0)
    for curvature in (1e-9, -1e-9):
        near = on(face, curvature)
        for name in ("angle_deg", "gap_mm", "edge_off_mm", "lift_deg", "bears_mm"):
            assert getattr(near, name) == pytest.approx(getattr(flat, name), abs=0.01), name
        assert near.verdict == flat.verdict


# --- the words --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("angle", "lift", "held_by", "word"),
    [
        (3.0, 5.0, "shoulder", "guided"),
        (3.1, 0.0, "shoulder", "rides on the shoulder"),
        (0.1, 0.0, "spine", "rides on the spine"),
        (6.1, 0.0, "spine", "digs in"),
        (6.1, 0.0, "shoulder", "digs in"),
        (3.1, 0.0, "bevel", "digs in"),
        (0.0, 5.1, "bevel", "slides off"),
    ],
)
def test_the_trades_words(angle, lift, held_by, word):
    # By hand: the thresholds as stated, 3, 6 and 5 deg: common practice, no source.
    assert verdict(angle, lift, CUT, held_by=held_by) == word


def test_a_full_hollow_is_guided_by_rounds_of_about_its_own_radius():
    # By hand: a hollow of 40 across 8 points asin(0.1) = 5.74 deg into flat work; a round of 40
    # fills it. On a larger round R the edge points in by asin(0.1) - asin(4/R), 3 deg at 83.8.
    first = math.asin(0.1)
    angles = first - np.linspace(0, 2 * first, 41)
    x, y = 40 * (math.sin(first) - np.sin(angles)), 40 * (np.cos(angles) - math.cos(first))
    sine, cosine = math.sin(0.35), math.cos(0.35)
    points = zip((x * cosine + y * sine).tolist(), (x * sine - y * cosine).tolist(), strict=True)
    face = shaped(list(points))
    assert on(face, 0.0).angle_deg == pytest.approx(DEG * first, abs=1e-6)
    assert on(face, 0.0).verdict == "rides on the shoulder"
    found = guided_range(face, CUT)
    assert found is not None
    assert -1 / found.least_per_mm < 40 < -1 / found.most_per_mm
    larger = 4 / math.sin(first - 3 / DEG)
    assert -1 / found.most_per_mm == pytest.approx(larger, rel=1e-6)


def test_a_face_that_nothing_guides():
    # By hand: on its knee, 0.5 off, a micro bevel points in by asin(0.25/R): 0.01 deg at R 1432;
    # in that and on flatter work it must be lifted by nearly its 10 deg.
    face = micro_face(0.5, 10, 6)
    strict = a_cut(guided="0.01 deg", lift="1 deg")
    assert guided_range(face, strict) is None
    verdicts = {on(face, k, strict).verdict for k in np.linspace(-0.2, 0.1, 300)}
    assert "guided" not in verdicts
    assert "slides off" in verdicts


def test_the_works_of_a_job():
    # By hand: 40 to 320 in three even steps is a factor of 2 each.
    works = works_to_show(a_cut(bowl=["40 mm", "320 mm"]))
    assert [w.kind for w in works] == ["round", "flat", *["hollow"] * 4]
    assert [w.radius_mm for w in works] == [320, None, *map(pytest.approx, (320, 160, 80, 40))]


# --- rounding -----------------------------------------------------------------------------------


def test_a_rounded_edge_loses_nearly_all_support():
    # By hand: reach 0.5 and radius 10 at 25 deg: A = 0.5 cos 25 + 10 sin 25 = 4.67934; back t = A -
    # sqrt(A^2 - 0.25) = 0.02679; steeper by asin((0.5 - t cos 25)/10) = 2.7267 deg. The arc bears
    # over sqrt(2 * 10 * 0.02) = 0.632, a little more where it has run into the face at 0.476.
    fit = section_fits(section_for(a_job(), 75.0), CUT)[0].rounded
    assert fit is not None
    assert fit.edge_back_mm == pytest.approx(0.02679, abs=1e-5)
    assert fit.steeper_deg == pytest.approx(2.7267, abs=1e-4)
    assert fit.fit.lift_deg == pytest.approx(fit.steeper_deg, abs=1e-6)
    # By hand: 10 (1 - cos 2.7267 deg).
    assert fit.fit.edge_off_mm == pytest.approx(10 * (1 - math.cos(2.7267 / DEG)), abs=1e-6)
    # By hand: beyond the arc, 0.4757 along and 0.01132 off, the face leaves at 2.7267 deg:
    # 0.02 is reached 0.00868 / tan = 0.1822 on.
    assert fit.fit.bears_mm == pytest.approx(0.4757 + 0.1822, abs=0.005)


# --- a relief -----------------------------------------------------------------------------------


UNCHANGED = (
    "support_from_mm", "support_to_mm", "angle_deg", "gap_mm", "gap_at_mm", "bears_mm",
    "bears_lost_mm", "edge_off_mm", "lift_deg",
)  # fmt: skip


@st.composite
def jobs(draw):
    """A job with flat bevels, its relief, and a wheel."""
    lands = draw(st.floats(0.05, 2.0)), draw(st.floats(0.05, 2.0))
    job = a_job(
        blade__section__included_angle=f"{draw(st.floats(15, 40)):.6f} deg",
        blade__section__thickness=f"{draw(st.floats(2, 5)):.6f} mm",
        blade__section__width="40 mm",
        relief__edge_land=f"{lands[0]:.6f} mm",
        relief__shoulder_land=f"{lands[1]:.6f} mm",
        relief__min_steel_left="0 mm",
        relief__land_tolerance="0.01 mm",
    )
    return job, draw(st.floats(15, 300))


@QUICK
@given(jobs(), st.one_of(st.just(0.0), st.floats(-0.05, 0.04)))
def test_a_relief_that_leaves_both_lands_changes_none_of_it(made, curvature):
    # Property: supports, angle, gap, lift, edge off, bearing and verdict are those of the bevel.
    job, radius = made
    try:
        section = section_for(job, radius)
    except RefusedError:
        assume(False)
        return
    relieved, plain = section_faces(section)
    for with_relief, bare in zip(relieved, plain, strict=True):
        found = rest_on(with_relief, bare, Work(curvature), CUT)
        expected = rest_on(bare, bare, Work(curvature), CUT)
        assert found.verdict == expected.verdict
        for name in UNCHANGED:
            value = getattr(expected, name)
            assert getattr(found, name) == pytest.approx(value, abs=1e-7), name
        if expected.verdict != "does not fit":
            assert found.relief_gap_mm >= found.gap_mm - 1e-9
    ranges = [guided_range(f, CUT) for f in (relieved[0], plain[0])]
    assert ranges[0] == ranges[1] or all(
        getattr(ranges[0], name) == pytest.approx(getattr(ranges[1], name), abs=1e-7)
        for name in ("least_per_mm", "most_per_mm")
    )


FORMS: dict[str, dict[str, Any]] = {
    "double_bevel": {"included_angle": "25 deg"},
    "micro_bevel": {
        "form": "double_bevel",
        "included_angle": "24 deg",
        "micro_bevel": {"angle": "16 deg", "width": "0.4 mm"},
    },
    "single_bevel": {"angle": "25 deg"},
    "convex_bevel": {"radius": "60 mm", "edge_angle": "32 deg"},
    "axe": {"included_angle": "30 deg", "bevel_thickness": "3 mm", "cheeks": "convex"},
    "hook": {"angle": "24 deg", "back_radius": "1 mm"},
    "micro bevels of an outline": {
        "form": "outline",
        "first_piece": "micro_bevel",
        "face_a": [["0 mm", "0 mm"], ["0.4 mm", "0.2 mm"], ["7 mm", "1.6 mm"], ["20 mm", "1.5 mm"]],
        "face_b": [["0 mm", "0 mm"], ["0.4 mm", "0.3 mm"], ["6 mm", "1.5 mm"], ["20 mm", "1.4 mm"]],
        "face_b_radius": "80 mm",
    },
}


@pytest.mark.parametrize("name", FORMS)
def test_nor_does_one_in_any_form_of_section(name):
    # Property: as for flat bevels, with what the section itself knows of its faces.
    section_key = {"form": name, "thickness": "3 mm", "width": "20 mm", **FORMS[name]}
    if name == "axe":
        section_key["thickness"] = "6 mm"
    if section_key["form"] == "outline":
        del section_key["thickness"], section_key["width"]
    job = a_job(
        blade__section=section_key,
        blade__edge={"path": "bend", "radius": "30 mm", "angle": "90 deg"}
        if name == "hook"
        else {"path": "straight", "length": "80 mm"},
        relief__faces="A",
        relief__edge_land="0.6 mm",
        relief__shoulder_land="0.1 mm",
    )
    section = section_for(job, 75.0)
    (relieved, _), (plain, _) = section_faces(section)
    for curvature in (-1 / 40, -1 / 400, 0.0, 1 / 400, 1 / 100, 1 / 50, 1 / 25):
        found = rest_on(relieved, plain, Work(curvature), CUT)
        expected = rest_on(plain, plain, Work(curvature), CUT)
        for figure in UNCHANGED:
            # The true face's own chords differ where the relief has cut them.
            value = getattr(expected, figure)
            assert getattr(found, figure) == pytest.approx(value, abs=1e-5), figure
        assert found.verdict == expected.verdict


def test_a_convex_section_lifts_by_the_angles_of_the_job():
    # By hand: 36 deg at the edge and 16 at the shoulder, of both sides: 10 deg a side, whatever
    # short chords stand for the lands.
    job = a_job(
        blade__section={
            "form": "convex_bevel", "thickness": "2.6 mm", "width": "18 mm",
            "edge_angle": "36 deg", "shoulder_angle": "16 deg",
        },
        relief__edge_land="0.1 mm",
        relief__shoulder_land="0.1 mm",
        relief__min_steel_left="0 mm",
    )  # fmt: skip
    fit = section_fits(section_for(job, 75.0), CUT)[0].fits[1]
    assert fit.lift_deg == pytest.approx(10, abs=1e-9)
    assert fit.angle_deg == 0


def test_a_drawn_micro_bevel_takes_the_support_of_its_own_angle():
    # By hand: 0.5 mm at atan(0.3 / 0.4) = 36.8699 deg before a bevel of atan(1.26 / 6.3) = 11.3099:
    # 25.56 steeper. On flat work it lies on over 0.5 mm and bears, within a give of 0.02 mm,
    # to 0.5 + 0.02 / tan 25.56 = 0.54182 along and 0.02 off; on its shoulder the edge stands
    # 0.5 sin 25.56 = 0.21573 off. The other face has 0.5 mm at atan(0.2 / sqrt(0.21)) = 23.5782.
    root = math.sqrt(0.21)
    job = a_job(
        blade__section={
            "form": "outline",
            "first_piece": "micro_bevel",
            "face_a": [
                ["0 mm", "0 mm"], ["0.4 mm", "0.3 mm"], ["6.7 mm", "1.56 mm"], ["20 mm", "1.5 mm"],
            ],
            "face_b": [
                ["0 mm", "0 mm"], [f"{root:.9f} mm", "0.2 mm"],
                [f"{root + 6.3:.9f} mm", "1.46 mm"], ["20 mm", "1.4 mm"],
            ],
        },
        relief__min_steel_left="0 mm",
    )  # fmt: skip
    first, second = (f.fits[1] for f in section_fits(section_for(job, 75.0), CUT))
    assert (first.support_from_mm, first.support_to_mm) == pytest.approx((0, 0.5))
    # The bearing is told to a two-thousandth of the bevel, some 6.9 mm.
    assert first.bears_mm == pytest.approx(math.hypot(0.54182, 0.02), abs=6.93 / 2000)
    assert first.edge_off_mm == pytest.approx(0.21573, abs=1e-5)
    steeper = math.radians(23.5782 - 11.3099)
    assert second.bears_mm == pytest.approx(
        math.hypot(0.5 + 0.02 / math.tan(steeper), 0.02), abs=6.93 / 2000
    )
    assert second.edge_off_mm == pytest.approx(0.5 * math.sin(steeper), abs=1e-5)


def with_relief(points, first, last, radius_mm):
    """The points of a face with those between two indices replaced by the arc of a wheel."""
    (y1, z1), (y2, z2) = points[first], points[last]
    half = math.hypot(y2 - y1, z2 - z1) / 2
    slope, turn = math.atan2(z2 - z1, y2 - y1), math.asin(half / radius_mm)
    angles = np.linspace(-turn, turn, 61)
    along = half + radius_mm * np.sin(angles)
    below = radius_mm * (np.cos(angles) - math.cos(turn))
    y = y1 + along * math.cos(slope) + below * math.sin(slope)
    z = z1 + along * math.sin(slope) - below * math.cos(slope)
    arc = list(zip(y.tolist(), z.tolist(), strict=True))
    return [*points[: first + 1], *arc[1:-1], *points[last:]]


@QUICK
@given(
    st.sampled_from(["convex", "micro"]),
    st.floats(20, 200),
    st.floats(3, 12),
    st.floats(30, 200),
    st.one_of(st.just(0.0), st.floats(-0.05, 0.04)),
)
def test_nor_does_one_in_a_convex_face_or_behind_a_micro_bevel(
    kind, radius, turn, wheel, curvature
):
    # Property: as for flat bevels; the arc's own points stay where they are.
    if kind == "convex":
        face = convex_face(radius, turn, points=401)
        first, last = 60, 330
    else:
        face = micro_face(0.5, turn, 6)
        first, last = 2, 3
    y, z = face.in_section(*face.bevel())
    points = list(zip(y.tolist(), z.tolist(), strict=True))
    if kind == "micro":  # ends of two lands on the main bevel, at a quarter and at four fifths
        (y1, z1), (y2, z2) = points[1:]
        more = [(y1 + (y2 - y1) * s, z1 + (z2 - z1) * s) for s in (0.25, 0.8)]
        points = [*points[:2], *more, points[2]]
    bare, relieved = shaped(points), shaped(with_relief(points, first, last, wheel))
    found = rest_on(relieved, bare, Work(curvature), CUT)
    expected = rest_on(bare, bare, Work(curvature), CUT)
    assert relieved.direction_rad == pytest.approx(bare.direction_rad, abs=1e-12)
    for name in UNCHANGED:
        value = getattr(expected, name)
        assert getattr(found, name) == pytest.approx(value, abs=1e-7), name
    assert found.verdict == expected.verdict


def test_a_full_hollow_does_change_it():
    # By hand: with no edge land the hollow's tangent at the edge dips asin(c/2R) below the bevel,
    # and the shoulder alone holds: 5.53 wide on 75: 2.113 deg on flat work.
    section = section_for(a_job(relief__edge_land="0 mm"), 75.0)
    fit = section_fits(section, CUT)[0].fits[1]
    chord = section.reliefs[0].chord_mm
    assert fit.angle_deg == pytest.approx(DEG * math.asin(chord / 150), abs=1e-6)
    assert fit.angle_deg > 2
    assert fit.support_from_mm > chord - 0.01


def test_the_common_carving_knife_of_25_degrees():
    # Common practice, no source: a flat-bevel carving knife has about 25 deg included. The example
    # job has it, lies flat, and by hand is guided down to bowls of 6.930/(2 sin 3 deg) = 66.21 mm.
    section = section_for(a_job(), 75.0)
    assert section.flat_edge_angle_deg == pytest.approx(25)
    fits = section_fits(section, CUT)
    assert fits[0].fits == fits[1].fits
    assert fits[0].fits[1].verdict == "guided"
    assert fits[0].guided is not None
    assert 1 / fits[0].guided.most_per_mm == pytest.approx(66.21, abs=0.01)


def test_one_relieved_face_and_unequal_bevels_are_told_apart():
    # By hand: 14 deg on 3 mm is 6.20 wide, 10 deg 8.64.
    section = section_for(
        a_job(
            blade__section__included_angle=GONE,
            blade__section__angle_a="14 deg",
            blade__section__angle_b="10 deg",
            relief__faces="A",
        ),
        75.0,
    )
    first, second = section_fits(section, CUT)
    assert isinstance(first.outline, FaceOutline)
    assert first.fits[1].support_to_mm == pytest.approx(6.200, abs=1e-3)
    assert second.fits[1].support_to_mm == pytest.approx(8.638, abs=1e-3)
    assert second.fits[1].relief_gap_mm == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("job", "changes", "judged"),
    [
        pytest.param("hook-knife", [], "A", id="a hook's hollowed inside"),
        pytest.param("bent-gouge", [], "AB", id="a gouge with an inside bevel"),
        pytest.param(
            "bent-gouge",
            [
                "blade.section={form: gouge, thickness: 2.2 mm, width: 40 mm, "
                "outside_angle: 22 deg, inside: matched}"
            ],
            "A",
            id="a gouge with none",
        ),
        pytest.param("marking-knife", [], "AB", id="the flat back of a knife"),
    ],
)
def test_the_inside_of_a_hook_or_gouge_is_judged_by_its_bevel_alone(job, changes, judged):
    # By hand: the tool rests on its outside; an inside without a bevel is laid on nothing.
    loaded = load_pair(ROOT / "jobs" / f"{job}.yaml", None, changes)
    section = section_fit(loaded[0].model, loaded[1].model).section
    assert "".join(f.outline.face for f in section_fits(section, CUT)) == judged
    # The words of one face alone, and its picture, are made all the same.
    console = Console(width=80)
    with console.capture() as shown:
        for part in use_parts(loaded[0].model, section):
            console.print(part)
    assert ("has no bevel" in shown.get()) == (judged == "A")
    assert ("face B" in cut_svg(loaded[0].model, section)) == (judged == "AB")
