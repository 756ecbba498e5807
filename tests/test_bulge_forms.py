"""Bevels that bulge on a hook and on outlines, straight and along arcs: polygons, closed forms."""

import json
import math
from functools import cache

import numpy as np
import pytest
import shapely
from pydantic import ValidationError

from planner.kinematics.edge_path import inside_radius_mm
from planner.produce import produce
from planner.report.papers.operation_steps import edge_thickness_mm, flat_touch_off
from planner.report.ridge_words import about_ridges
from planner.section.bulge_work import BulgeWork, FacetWork
from planner.section.swept import swept_length_mm
from planner.section.target import outline_before
from tests.planning import planned, sheet_text
from tests.samples import GONE, a_job, a_machine
from tests.test_arc_operations import FORM, TURN
from tests.test_operations import FLAT, WHEEL

RIDGE_MM = 0.02
LIGHT = {"infeed": {"rough": "0.05 mm", "finish": "0.008 mm"}}
SHOP = {
    "rack": [{**WHEEL, **LIGHT}, {**FLAT, **LIGHT}],
    "stiffness": "30000 N/mm",
    "coolant": {"kind": "flood", "on": "M8", "off": "M9"},
}
# Under a turn: a form for lines inside and outside, and a flat that fits inside.
SMALL_FLAT = {**FLAT, **LIGHT, "diameter": "20 mm", "marked_speed": "40000 rpm"}
SMALL_FORM = {**FORM, **LIGHT, "name": "fine", "specific_energy": "20 J/mm3"}
ARC_SHOP = {**SHOP, "rack": [SMALL_FORM, SMALL_FLAT], "axes__C": TURN}
BEND = {"path": "bend", "radius": "18 mm", "angle": "100 deg"}


def points(*places):
    return [[f"{y} mm", f"{z} mm"] for y, z in places]


HOOK = {"form": "hook", "thickness": "1.0 mm", "width": "11 mm", "edge_thickness": "0.4 mm"}
HOOK |= {"angle": "26 deg", "radius": "14 mm", "back_radius": "0.3 mm"}
TWO = {"form": "outline", "face_a_radius": "12 mm", "face_b_radius": "25 mm"}
TWO |= {"face_a": points((0, 0.3), (2.4, 0.75), (10, 0.75), (12, 0.5))}
TWO |= {"face_b": points((0, 0.3), (3, 0.65), (12, 0.65))}
MIXED = {key: value for key, value in TWO.items() if key != "face_b_radius"}
# Its bevel on face B: face A is a flat back that falls away at the spine.
BACK_A = {"form": "outline", "face_a": points((0, 0.3), (9, 0.3), (12, -0.1))}
BACK_A |= {"face_b": points((0, 0.3), (2.4, 0.9), (12, 0.9)), "face_b_radius": "12 mm"}
SECTIONS = {"hook": HOOK, "two": TWO, "mixed": MIXED, "back A": BACK_A}
FACES = {"hook": "A", "two": "both", "mixed": "both", "back A": "B"}


def operations(wheel, **bevel):
    do = {"do": "bevel", "wheel": wheel, "ridge": f"{RIDGE_MM} mm", **bevel}
    return [do, {"do": "relief", "wheel": "fine"}]


def asked(name, wheel, edge=None, **changes):
    relief: dict[str, object] = {"faces": FACES[name], "edge_land": "0.6 mm", "depth": "0.008 mm"}
    relief |= {"land_tolerance": "0.5 mm", "share_in_tolerance": 0}
    job = {
        "blade__edge": edge or {"path": "straight", "length": "30 mm"},
        "blade__section": SECTIONS[name],
        "relief": relief,
        "wheel": GONE,
        "operations": operations(wheel),
    }
    return a_job(**{**job, **changes})


@cache
def made(name, wheel, bent=False):
    job = asked(name, wheel, BEND if bent else None)
    plan = planned(job, a_machine(**(ARC_SHOP if bent else SHOP)))
    return plan, produce(plan, ())


CASES = [
    ("hook", "flat", False),
    ("hook", "fine", False),
    ("two", "flat", False),
    ("two", "fine", False),
    ("mixed", "flat", False),
    ("back A", "flat", False),
    ("hook", "flat", True),
    ("hook", "fine", True),
    ("two", "flat", True),
    ("two", "fine", True),
]
IN_FACETS = [case for case in CASES if case[1] == "flat"]
BENT = [case for case in CASES if case[2]]


def arc_of(name, face):
    """Radius, middle (y, |z|) and the angles at edge and shoulder, by hand from the figures."""
    if name == "hook":
        radius, first, corner = 14.0, math.radians(26), 0.2
        last = math.acos(math.cos(first) + 0.6 / radius)
    else:
        key = f"face_{face.lower()}"
        radius = float(SECTIONS[name][f"{key}_radius"].split()[0])
        # A chord of an arc lies half way between its two tangents (Euclid, Elements III.32).
        (_, corner), (y, z) = ([float(v.split()[0]) for v in p] for p in SECTIONS[name][key][:2])
        half = math.asin(math.hypot(y, z - corner) / 2 / radius)
        chord = math.atan2(z - corner, y)
        first, last = chord + half, chord - half
    middle = np.array([radius * math.sin(first), corner - radius * math.cos(first)])
    return radius, middle, first, last


def stock(name):
    """The bar by hand: level sides over the bevels, and what is there of backs."""
    if name == "hook":
        bar = shapely.box(0, -0.2, 11, 0.8)
        for low, z in ((-0.2, 0.1), (0.8, 0.5)):
            corner = shapely.box(10.7, min(low, z), 11, max(low, z))
            bar = bar - (corner - shapely.Point(10.7, z).buffer(0.3, 4000))
        return bar
    if name == "back A":
        return shapely.Polygon([(0, 0.3), (9, 0.3), (12, -0.1), (12, -0.9), (0, -0.9)])
    return shapely.Polygon([(0, 0.75), (10, 0.75), (12, 0.5), (12, -0.65), (0, -0.65)])


def mirrored(face, places):
    return [(y, z if face == "A" else -z) for y, z in places]


def beyond(face, foot, angle):
    """All on the outer side of a line at an angle through a place of a face."""
    along = np.array([math.cos(angle), math.sin(angle)])
    out = np.array([-math.sin(angle), math.cos(angle)])
    ends = [foot - 60 * along, foot + 60 * along]
    corners = [*ends, ends[1] + 60 * out, ends[0] + 60 * out]
    return shapely.Polygon(mirrored(face, [tuple(p) for p in corners]))


def tangent(name, face, angle):
    radius, middle, _, _ = arc_of(name, face)
    foot = middle + radius * np.array([-math.sin(angle), math.cos(angle)])
    return beyond(face, foot, angle)


def outside_arc(name, face):
    """All over the arc from its end at the edge to its end at the shoulder."""
    radius, middle, first, last = arc_of(name, face)
    turns = np.linspace(first, last, 4001)
    arc = middle + radius * np.column_stack([-np.sin(turns), np.cos(turns)])
    ends = [(arc[-1][0], 50.0), (-50.0, 50.0), (-50.0, arc[0][1])]
    return shapely.Polygon(mirrored(face, [*map(tuple, arc.tolist()), *ends]))


def bevels(plan):
    return [s for s in plan.setups if s.work.operation == "bevel"]


@pytest.mark.parametrize(("name", "wheel", "bent"), CASES)
def test_each_is_proved_and_no_ridge_is_higher_than_asked_for(name, wheel, bent):
    plan, files = made(name, wheel, bent)
    assert all(v.ok for v in files.verdicts.values())
    told = {s["name"]: s for s in json.loads(files.files["plan.json"])["setups"]}
    for setup in bevels(plan):
        verdict = files.verdicts[setup.program]
        if not isinstance(setup.work, FacetWork | BulgeWork):
            assert (name, setup.name) == ("mixed", "bevel-B")
            assert "bulge" not in told[setup.name]
            continue
        assert isinstance(setup.work, BulgeWork) == (wheel == "fine")
        assert told[setup.name]["bulge"]["ridge_reached_mm"] <= RIDGE_MM
        assert "µm over the arc" in about_ridges(setup)
        # Half a micrometre of whole steps, and a quarter of the ridge of deflection.
        assert all(at.ridge_mm <= RIDGE_MM * 1.25 + 0.001 for at in verdict.bevels)
        assert all(at.gouge_mm < 1e-6 for at in verdict.bevels)
    last = bevels(plan)[-1]
    # By hand: twice the first z of the outlines.
    thick = 0.4 if name == "hook" else 0.6
    for at in files.verdicts[last.program].bevels:
        assert at.edge_thickness_mm == pytest.approx(thick, abs=0.01)
    assert edge_thickness_mm(plan, last) == pytest.approx(thick, abs=1e-3)


@pytest.mark.parametrize(("name", "wheel", "bent"), IN_FACETS)
def test_facets_stand_over_their_own_arc_by_the_closed_form(name, wheel, bent):
    plan, _ = made(name, wheel, bent)
    works = [s.work for s in bevels(plan) if isinstance(s.work, FacetWork)]
    for face in sorted({w.relief.face for w in works}):
        of_face = [w for w in works if w.relief.face == face]
        radius, _, first, last = arc_of(name, face)
        angles = np.array([w.facet.angle_rad for w in of_face])
        # By hand: evenly from the edge to the shoulder, to half the last decimal of the tilt.
        wanted = np.linspace(first, last, len(angles))
        assert angles == pytest.approx(wanted, abs=math.radians(0.0051))
        most = float((angles[:-1] - angles[1:]).max())
        ridge = radius / math.cos(most / 2) - radius
        assert of_face[0].ridge_reached_mm == pytest.approx(ridge, rel=1e-9)
        assert ridge <= RIDGE_MM
        # By hand: one facet fewer would leave more than was asked for.
        fewer = (first - last) / (len(angles) - 2) if len(angles) > 2 else math.inf
        assert fewer == math.inf or radius / math.cos(fewer / 2) - radius > RIDGE_MM


@pytest.mark.parametrize(("name", "wheel", "bent"), IN_FACETS)
def test_facets_take_what_lies_outside_their_tangents(name, wheel, bent):
    plan, _ = made(name, wheel, bent)
    steel = stock(name)
    bar = shapely.Polygon(outline_before(plan.section, from_the_bar=True))
    assert shapely.area(bar ^ steel) < 1e-3
    for setup in bevels(plan):
        work, face = setup.work, setup.work.relief.face
        short = work.depth_mm - setup.passes[-1].reached_depth_mm
        if isinstance(work, FacetWork):
            angle = work.facet.angle_rad
            cut = tangent(name, face, angle)
        else:
            # By hand: the flat one rises from [0, 0.3] to [3, 0.65].
            angle = math.atan2(0.35, 3.0)
            cut = beyond(face, np.array([0.0, 0.3]), angle)
        ((y, z),) = mirrored(face, [(-math.sin(angle), math.cos(angle))])
        moved = shapely.affinity.translate(cut, short * y, short * z)
        # By polygons: what of the steel so far lies outside the flat, as deep as it got.
        taken = steel.intersection(moved).area
        assert sum(p.removed_area_mm2 for p in setup.passes) == pytest.approx(taken, rel=1e-4)
        steel = steel - cut
    for face in {s.work.relief.face for s in bevels(plan) if isinstance(s.work, FacetWork)}:
        radius, middle, _, last = arc_of(name, face)
        ring = np.array(mirrored(face, shapely.get_coordinates(steel.exterior).tolist()))
        shoulder = middle[0] - radius * math.sin(last)
        within = (ring[:, 0] > 1e-6) & (ring[:, 0] < shoulder + 1e-6) & (ring[:, 1] > 0.0)
        over = np.hypot(*(ring[within] - middle).T) - radius
        # Property: the corners of the steel lie on the arc or over it by no more than was asked.
        assert len(over) >= 1
        assert over.min() > -1e-9
        assert over.max() <= RIDGE_MM * (1 + 1e-9)


@pytest.mark.parametrize(("name", "bent"), [("hook", False), ("two", False), ("two", True)])
def test_lines_touch_their_own_arc_from_outside(name, bent):
    plan, _ = made(name, "fine", bent)
    for setup in bevels(plan):
        work, frame, face = setup.work, setup.frame, setup.work.relief.face
        radius, middle, first, last = arc_of(name, face)
        wheel = 20.0 if bent else 75.0
        origin, u, n = (
            np.array(v) for v in (frame.origin_yz_mm, frame.cross_dir_yz, frame.infeed_dir_yz)
        )
        for one in setup.passes[-len(work.line_arc.lines()) :]:
            infeed, cross = frame.position(one.commanded_depth_mm, one.along_mm)
            centre = np.array(mirrored(face, [tuple(origin + cross * u + infeed * n)])[0])
            # By hand: both radii apart, but for less than a step of infeed and cross.
            assert -1e-9 <= math.dist(centre, middle) - radius - wheel < 0.0012
        # By polygons: all that lies outside the arc, but for ridges and what is left.
        wanted = stock(name).intersection(outside_arc(name, face)).area
        taken = sum(p.removed_area_mm2 for p in setup.passes)
        assert wanted - 1.5 * RIDGE_MM * radius * (first - last) < taken < wanted + 1e-3


@pytest.mark.parametrize(("name", "wheel", "bent"), BENT)
def test_the_volume_along_an_arc_is_that_of_the_solid_summed_up(name, wheel, bent):
    plan, _ = made(name, wheel, bent)
    job = plan.job.model
    edge, steel = job.blade.edge, stock(name)
    for setup in bevels(plan):
        work, face = setup.work, setup.work.relief.face
        facet = isinstance(work, FacetWork)
        cut = tangent(name, face, work.facet.angle_rad) if facet else outside_arc(name, face)
        taken = steel & cut
        # Source: the solid itself, rings of thin layers about the axis, each as long as its radius.
        low, high = taken.bounds[1], taken.bounds[3]
        layers = np.linspace(low, high, 1001)
        heights = (layers[:-1] + layers[1:]) / 2
        lines = [shapely.LineString([(-9, z), (99, z)]) for z in heights]
        widths = shapely.length(shapely.intersection(taken, lines))
        rings = widths * (high - low) / 1000 * (edge.radius_mm + heights)
        solid = math.radians(edge.angle_deg) * rings.sum()
        assert swept_length_mm(job, work) * taken.area == pytest.approx(solid, rel=2e-4)
        steel = steel - cut
    volumes = (
        sum(p.removed_area_mm2 for p in s.passes) * swept_length_mm(job, s.work)
        for s in plan.setups
    )
    assert plan.totals.removed_volume_mm3 == pytest.approx(sum(volumes), rel=1e-9)


def test_turns_go_from_face_to_face():
    def names(name, wheel, bent):
        return [s.name for s in bevels(made(name, wheel, bent)[0])]

    assert names("two", "fine", False) == ["bevel-A", "bevel-B"]
    assert names("hook", "fine", True) == ["bevel-A"]
    # By hand: a third of a millimetre is one turn of the flat face, after a facet of the other.
    assert names("mixed", "flat", False)[:3] == ["bevel-A-1", "bevel-B", "bevel-A-2"]
    assert names("two", "flat", False)[:3] == ["bevel-A-1", "bevel-B-1", "bevel-A-2"]
    assert all(n.startswith("bevel-B") for n in names("back A", "flat", False))


def test_along_an_arc_every_work_counts_its_curvature():
    plan, _ = made("two", "flat", True)
    edge = plan.job.model.blade.edge
    for setup in bevels(plan):
        # By hand: outside 1/18; inside the stock of face B stands 0.65 nearer to the axis.
        inside = setup.work.relief.face == "B"
        assert setup.work.curvature_per_mm == pytest.approx(-1 / 17.35 if inside else 1 / 18)
        if inside:
            assert inside_radius_mm(edge, setup.work) == pytest.approx(17.35)


@pytest.mark.parametrize("wheel", ["flat", "fine"])
def test_the_touch_off_along_an_arc_says_what_a_slanting_mark_means(wheel):
    bent, straight = (made("hook", wheel, b)[0] for b in (True, False))
    told = "the axis of the arc does not stand on that of the turn"
    assert told in flat_touch_off(bent, bent.setups[0])
    assert told not in flat_touch_off(straight, straight.setups[0])


def test_stages_are_those_of_the_flat_face():
    assert asked("mixed", "flat").bevel_stages == 1
    in_two = operations("flat", stages=2)
    plan = planned(asked("mixed", "flat", operations=in_two), a_machine(**SHOP))
    assert [s.name for s in bevels(plan)][:4] == [
        "bevel-A-1",
        "bevel-B-1",
        "bevel-A-2",
        "bevel-B-2",
    ]
    # By hand: half way down, half of 0.35 cos atan(0.35/3) is left.
    half = next(s for s in plan.setups if s.name == "bevel-B-1").work.after
    assert half.outside_mm == pytest.approx(0.175 * math.cos(math.atan2(0.35, 3.0)))
    with pytest.raises(ValidationError, match="stages on a bevel that bulges"):
        asked("two", "flat", operations=in_two)


@pytest.mark.parametrize("wheel", ["flat", "fine"])
def test_what_begins_on_the_square_end_touches_from_the_edge_itself(wheel):
    # Property: rounding leaves no strip of steel between the edge and the contact: the heat model
    # had a cell of 4e-17 mm there, whose heat went nowhere, and called a cool pass too hot.
    for name, bent in (("hook", False), ("hook", True), ("two", False)):
        for setup in bevels(made(name, wheel, bent)[0]):
            low, high = setup.work.contact_y_mm(np.linspace(0.1, 1.0, 9) * setup.work.depth_mm)
            assert np.all((low == 0.0) | (low > 1e-6))
            assert np.all(low < high)


@pytest.mark.parametrize("wheel", ["flat", "fine"])
def test_the_sheet_says_which_facet_it_is_and_how_high_ridges_may_stand(wheel):
    plan, _ = made("hook", wheel, True)
    setups = bevels(plan)
    for number, setup in enumerate(setups, 1):
        sheet = sheet_text(plan, setup)
        assert about_ridges(setup) in sheet
        assert "20.0 µm may" in sheet
        assert (f"Facet {number} of {len(setups)}. A flat" in sheet) == (wheel == "flat")
