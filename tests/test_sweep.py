"""A tilt swept from facet to facet: positions by rotation, steel by polygons, heat and wear."""

import csv
import json
import math
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.kinematics.sweep import is_swept, sweep_of
from planner.kinematics.sweep_refusals import uncovered_refusals
from planner.kinematics.sweep_spread import rough_refusals, sweep_spread
from planner.kinematics.touch_frame import held_angle_deg, touch_frame
from planner.plan import section_with
from planner.produce import produce, produce_from_pass, programs_for
from planner.report.drawings.path_csv import path_csv
from planner.report.drawings.shapes import Path, section_drawing
from planner.report.passes_screen import passes_table
from planner.report.refusals import refusal_words, way_out_words
from planner.report.ridge_words import about_ridges
from planner.restart import restart_at
from planner.section.sweep_work import SweepWork
from planner.section.works import works_for
from tests.planning import DIGEST, planned
from tests.samples import GONE
from tests.sweeps import AXIS, EDGE_DEG, HALF_EDGE, HALF_STOCK, SHOULDER_DEG, convex, shop
from tests.test_operations import FLAT, WHEEL

RIDGE_MM = 0.004
EDGE, SHOULDER = math.radians(EDGE_DEG), math.radians(SHOULDER_DEG)
# By hand: the arc rises by the stock's half less the edge's between its two angles.
RADIUS = (HALF_STOCK - HALF_EDGE) / (math.cos(SHOULDER) - math.cos(EDGE))
MIDDLE = np.array([RADIUS * math.sin(EDGE), HALF_EDGE - RADIUS * math.cos(EDGE)])


@cache
def made():
    plan = planned(convex(), shop())
    return plan, produce(plan, ())


def quick():
    """Fewer facets, one relief."""
    return convex("0.012 mm", relief__faces="A")


def swept(plan):
    return [s for s in plan.setups if s.sweep is not None]


def stands(setup):
    """Where each facet has the axes stand."""
    assert setup.sweep is not None
    return setup.sweep.stands


def directions(tilt_deg):
    """By hand, face A of a blade turned end for end: cross and infeed, seen from the blade."""
    tilt = math.radians(tilt_deg)
    return np.array([math.cos(tilt), math.sin(tilt)]), np.array([-math.sin(tilt), math.cos(tilt)])


def reference(told, tilt_deg, cross_mm, infeed_mm):
    """Where the flat's middle stands, by hand: a rotation of the blade about the axis."""
    pivot, origin = np.array(AXIS), np.array(told["touch_frame"]["origin_yz_mm"])
    c1, i1 = directions(told["tilt_deg"])
    c, i = directions(tilt_deg)
    a, b = (origin - pivot) @ c1, (origin - pivot) @ i1
    return pivot + (a + cross_mm) * c + (b + infeed_mm) * i


def test_one_set_up_a_face_and_every_program_is_proved():
    plan, files = made()
    assert [s.name for s in plan.setups] == ["bevel-A", "bevel-B", "relief-A", "relief-B"]
    assert all(v.ok for v in files.verdicts.values())
    for setup in swept(plan):
        verdict = files.verdicts[setup.program]
        assert all(at.ridge_mm <= RIDGE_MM * 1.25 + 0.001 for at in verdict.bevels)
        assert all(abs(at.edge_thickness_mm - 2 * HALF_EDGE) < 0.003 for at in verdict.bevels)
        # By hand: cos(d/2) = r / (r + h) makes d 4.43 deg here, and 12 deg take three of them.
        assert [round(s.tilt_deg, 9) for s in stands(setup)] == [24.0, 20.0, 16.0, 12.0]


def test_planes_of_all_facets_stand_on_their_tangents_as_a_rotation_has_them():
    data = json.loads(made()[1].files["plan.json"])
    told = data["setups"][0]
    for facet in told["facets"]:
        angle = math.radians(facet["tilt_deg"])
        at = reference(told, facet["tilt_deg"], facet["cross_mm"], facet["infeed_mm"])
        normal = np.array([-math.sin(angle), math.cos(angle)])
        # By hand: the tangent of the circle lies its radius from its middle.
        off = (at - MIDDLE) @ normal - RADIUS
        assert -1e-6 <= off < 0.001
        assert facet["off_tangent_mm"] == pytest.approx(off, abs=1e-6)
        corner = np.array([0.0, HALF_STOCK])
        assert facet["depth_mm"] == pytest.approx((corner - at) @ normal, abs=1e-6)


def outside(at, tilt_deg):
    """All beyond the flat's plane."""
    angle = math.radians(tilt_deg)
    along = np.array([math.cos(angle), math.sin(angle)])
    normal = np.array([-math.sin(angle), math.cos(angle)])
    ends = [at - 60 * along, at + 60 * along]
    return shapely.Polygon([*ends, ends[1] + 60 * normal, ends[0] + 60 * normal])


def test_the_whole_sweep_as_polygons_leaves_the_arc():
    plan, _ = made()
    data = json.loads(made()[1].files["plan.json"])
    told, setup = data["setups"][0], plan.setups[0]
    steel = shapely.box(0.0, -HALF_STOCK, 14.0, HALF_STOCK)
    taken, facet = 0.0, told["passes"][0]["tilt_deg"]
    for one, deep in zip(told["passes"], setup.passes, strict=True):
        # The flat as it is commanded, by the numbers that the program is written with.
        at = reference(told, one["tilt_deg"], one["cross_mm"], one["infeed_mm"])
        corner = np.array([0.0, HALF_STOCK])
        angle = math.radians(one["tilt_deg"])
        depth = (corner - at) @ np.array([-math.sin(angle), math.cos(angle)])
        assert depth == pytest.approx(deep.commanded_depth_mm, abs=1e-6)
        # By hand: as far as the tangent of the circle lies below that corner.
        tangent = (corner - MIDDLE) @ np.array([-math.sin(angle), math.cos(angle)]) - RADIUS
        assert one["target_depth_mm"] == pytest.approx(tangent, abs=1e-6)
        cut = outside(at, one["tilt_deg"])
        # Property: no pass takes more than a rough infeed off what a rigid wheel left.
        high = max((np.array(p) - at) @ np.array([-math.sin(angle), math.cos(angle)])
                   for p in steel.exterior.coords if p[1] > 0.0)  # fmt: skip
        assert high <= 0.03 + 0.001 + 1e-6
        taken += steel.intersection(cut).area
        steel = steel.difference(cut)
        facet = one["tilt_deg"]
    assert facet == pytest.approx(SHOULDER_DEG)
    end = MIDDLE[0] - RADIUS * math.sin(SHOULDER)
    face = [p for p in steel.exterior.coords if 1e-9 < p[0] < end and 0.05 < p[1] < HALF_STOCK]
    tips = [math.dist(p, MIDDLE) - RADIUS for p in face]
    assert len(tips) >= 3
    assert max(tips) <= RIDGE_MM + 0.001
    # Property: nothing is cut below the circle: no flat comes nearer to its middle than its radius.
    ring = shapely.Point(MIDDLE).buffer(RADIUS - 1e-6, 20000)
    assert shapely.box(0.0, 0.2, 3.0, HALF_STOCK).intersection(ring).difference(steel).area < 1e-9
    # What all the passes reach together is that, but for what the spring still holds back.
    assert sum(p.removed_area_mm2 for p in setup.passes) == pytest.approx(taken, rel=5e-3)


def test_the_program_tells_tilts_and_turns_it_clear_off_the_end():
    plan, files = made()
    setup = plan.setups[0]
    lines = files.files[setup.program].decode().splitlines()
    assert "(tilt swept, 4 facets, axis y 9.0000 z -11.0000 face A up)" in lines
    turns = [n for n, line in enumerate(lines) if line.startswith("G0 A")]
    assert len(turns) == 4
    for turn in turns[1:]:
        assert lines[turn - 1] == "G0 Z5.0000"
        assert lines[turn + 1].startswith("G0 Y")
        assert lines[turn + 2].endswith(f"tilt {float(lines[turn][4:]):.4f})")
    claims = [line for line in lines if line.startswith("(pass")]
    assert all(" tilt " in claim for claim in claims)
    relief = files.files["setup-relief-A.ngc"].decode()
    assert "tilt" not in relief.split("\nG21\n")[1]
    assert "swept" not in relief


def test_words_and_sheets_tell_the_sweep():
    plan, files = made()
    setup = plan.setups[0]
    words = about_ridges(setup)
    assert "4 flats at 24.000 to 12.000 deg" in words
    worst = max(setup.facet_spreads, key=lambda s: s.sd_mm)
    assert f"by {worst.sd_mm * 1000:.1f} µm in depth" in words
    sheet = files.files["setup-bevel-A.md"].decode()
    assert "| 4 | `A12.000` |" in sheet
    assert "swept to `12.000 deg`" in sheet
    # Property: what the summary tells is the least of all facets', told in plan.json one by one.
    told = json.loads(files.files["plan.json"])["setups"]
    facets = [f for one in told for f in one.get("facets", ())]
    least = min(f["share_in_tolerance"] for f in facets)
    assert plan.facet_share == pytest.approx(least, abs=1e-6)
    assert told[0]["target_depth_mm"] == max(p["target_depth_mm"] for p in told[0]["passes"])
    page = files.files["preview.html"].decode()
    assert '"tilt_deg":20' in page.replace(" ", "")


def test_the_table_of_passes_tells_where_each_facet_begins():
    plan, _ = made()
    cells = [list(column.cells) for column in passes_table(plan.setups[0], 80).columns]
    rows = list(zip(*cells, strict=True))
    begins = {row[2]: n for n, row in enumerate(rows) if str(row[1]).startswith("facet")}
    # By hand: the four tilts of the facets, told ahead of the first pass that is shown of each.
    assert list(begins) == ["24.00°", "20.00°", "16.00°", "12.00°"]
    first = {n: at for at, n in begins.items()}
    for passed in plan.setups[0].passes:
        n = next((n for n, row in enumerate(rows) if row[0] == str(passed.number)), None)
        if n is not None:
            at = first[max(begin for begin in first if begin < n)]
            assert at == f"{stands(plan.setups[0])[passed.facet].tilt_deg:.2f}°"


def test_the_path_as_csv_and_the_drawn_wheel_stand_where_a_rotation_has_them():
    plan, files = made()
    setup = plan.setups[0]
    told = json.loads(files.files["plan.json"])["setups"][0]
    verdict = files.verdicts[setup.program]
    rows = list(csv.DictReader(path_csv(setup, verdict).splitlines()))
    assert {row["tilt (deg)"] for row in rows} >= {"24.000000", "12.000000"}
    for row in rows:
        tilt, cross, infeed = (float(row[k]) for k in ("tilt (deg)", "cross (mm)", "infeed (mm)"))
        at = reference(told, tilt, cross, infeed)
        there = float(row["wheel middle y (mm)"]), float(row["wheel middle z (mm)"])
        # By hand: the rotation of ``reference``, and the corner's distance along the normal there.
        assert there == pytest.approx(tuple(at), abs=2e-6)
        depth = (np.array([0.0, HALF_STOCK]) - at) @ directions(tilt)[1]
        assert float(row["depth below the face at zero (mm)"]) == pytest.approx(depth, abs=2e-6)
    shapes = section_drawing(plan, files.verdicts).shapes
    (rim,) = (s for s in shapes if isinstance(s, Path) and s.layer == "WHEEL_bevel-A")
    low = [v for v in rim.vertices if abs((np.array([v.y_mm, v.z_mm]) - MIDDLE)
           @ directions(SHOULDER_DEG)[1] - RADIUS) < 0.002]  # fmt: skip
    # Property: the two ends of the flat lie on the last tangent, but for a step.
    assert len(low) == 2


@pytest.mark.parametrize("new_wheel", [False, True])
def test_goes_on_at_a_facets_first_pass_and_within_it(new_wheel):
    plan, _ = made()
    setup = plan.setups[0]
    first = next(p.number for p in setup.passes if p.facet == 2)
    for number in (first, first + 1):
        restart = restart_at(plan, setup, number, new_wheel=new_wheel)
        produced = produce_from_pass(plan, (), restart)
        assert all(v.ok for v in produced.verdicts.values())
        text = produced.files[restart.program].decode()
        assert "\nG0 A16.000\n" in text
        sheet = produced.files[restart.program.replace(".ngc", ".md")].decode()
        assert "with `A16.000` and `Y" in sheet
    # By hand: the corner that facet 2 left on the flank, r / sin 20 deg from that of the stock.
    reached = setup.worn.reached_mm[first - 2]
    restart = restart_at(plan, setup, first, new_wheel=new_wheel)
    by_hand = reached / math.sin(math.radians(20)) * math.sin(math.radians(16))
    assert restart.bared_depth_mm == pytest.approx(by_hand, rel=1e-9)


def test_a_known_axis_changes_nothing_where_no_tilt_is_swept():
    known, unknown = shop(), shop(fixture__tilt_axis=GONE)
    lines = convex("0.08 mm", "fine", relief__faces="A")
    made_with = [programs_for(planned(lines, machine), DIGEST) for machine in (known, unknown)]
    assert made_with[0] == made_with[1]
    assert is_swept(convex(), known)
    assert not is_swept(convex(), unknown)
    section = section_with(convex(), unknown, unknown.rack[0])
    works = works_for(convex(), section, unknown.rack[0], unknown.rack)
    assert [w.name for w in works[:8:2]] == [f"bevel-A-{n}" for n in range(1, 5)]


def test_wear_runs_on_from_facet_to_facet():
    rack = [WHEEL, {**FLAT, "infeed": {"rough": "0.03 mm", "finish": "0.006 mm"}, "g_ratio": 2}]
    plan = planned(quick(), shop(rack=rack))
    setup = plan.setups[0]
    worn, up = setup.worn.worn_mm, setup.compensation_mm
    assert all(b >= a for a, b in pairwise(worn))
    assert worn[-1] > 0.005
    # Property: never made up for more than is lost, and by less than a step, the last passes too.
    assert all(-1e-9 <= w - u < 0.001 + 1e-9 for w, u, p in
               zip(worn, up, setup.passes, strict=True) if p.kind != "spark_out")  # fmt: skip
    # By hand, facet by facet: volume over G pi D w, the width that each comes out with.
    total = 0.0
    for number, stand in enumerate(stands(setup)):
        areas = [a for a, p in zip(setup.worn.areas_mm2, setup.passes, strict=True)
                 if p.facet == number]  # fmt: skip
        total += sum(areas) * 80.0 / (2 * math.pi * 150.0 * stand.work.facet.width_mm)
    last = sum(a for a, p in zip(setup.worn.areas_mm2, setup.passes, strict=True)
               if p.number == len(setup.passes))  # fmt: skip
    width = stands(setup)[-1].work.facet.width_mm
    total -= last * 80.0 / (2 * math.pi * 150.0 * width)
    assert worn[-1] == pytest.approx(total, rel=1e-3)
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


def test_a_facet_begins_on_a_blade_that_is_warm():
    dry = shop(coolant={"kind": "dry"})
    setup = planned(quick(), dry).setups[0]
    firsts = [n for n, p in enumerate(setup.passes) if n and p.facet != setup.passes[n - 1].facet]
    cold = 20.0
    for first in firsts:
        before, here = (setup.marched.passes[n] for n in (first - 1, first))
        # Property: seconds after the last pass a dry blade is far from cold.
        assert here.soak_c > cold + 0.3 * (before.soak_c - cold)
    assert all(t.soak_c <= setup.marched.soak_limit_c + 1e-6 for t in setup.marched.passes)
    assert all(t.flash_c <= setup.marched.flash_limit_c + 1e-6 for t in setup.marched.passes)


@pytest.mark.parametrize(
    ("changes", "rule", "ways"),
    [
        ({"fixture__tilt_axis": {"at": ["9 mm", "-11 mm"], "error": "0.1 mm"}},
         "sweep-too-rough", {"measure-tilt-axis", "no-tilt-axis", "higher-ridge", "finer-tilt"}),
        ({"axes__A__repeatability": "0.05 deg"},
         "sweep-too-rough", {"no-tilt-axis", "higher-ridge", "finer-tilt"}),
        ({"axes__Y": GONE, "fixture__tilt_axis": {"at": ["60 mm", "-80 mm"], "error": "0 mm"}},
         "sweep-leaves-flat", {"wider-flat", "no-tilt-axis"}),
    ],
)  # fmt: skip
def test_refused_with_ways_out_that_do(changes, rule, ways):
    ridge: dict[str, Any] = {}
    if rule != "sweep-leaves-flat":
        ridge = {"relief__share_in_tolerance": 0.5}
    with pytest.raises(RefusedError) as refused:
        planned(convex(**ridge), shop(**changes))
    found = refused.value.refusals
    assert {r.rule for r in found} == {rule}
    for refusal in found:
        assert len(refusal_words(refusal)) > 20
        assert {w.rule for w in refusal.ways_out} == ways
        assert all(way_out_words(w) for w in refusal.ways_out)
        for way in refusal.ways_out:
            job, machine = convex(**ridge), shop(**changes)
            if way.rule == "measure-tilt-axis":
                # As the refusal tells it, to four decimals.
                error = f"{float(way.facts['error_mm']):.4f} mm"
                axis = {"at": ["9 mm", "-11 mm"], "error": error}
                machine = shop(**{**changes, "fixture__tilt_axis": axis})
            elif way.rule == "higher-ridge":
                job = convex(f"{way.facts['ridge_mm']} mm", **ridge)
            elif way.rule == "wider-flat":
                wide = {**FLAT, "width": f"{float(way.facts['width_mm']) + 1.001:.3f} mm"}
                machine = shop(**changes, rack=[WHEEL, wide])
            else:
                # Each with its own touch-off, the facets are those of any machine: few enough.
                assert way.rule == "finer-tilt" or len(sweeps(job, machine)[0].stands) <= 9
                continue
            found = sweeps(job, machine)
            assert not [r for s in found for r in rough_refusals(job, machine, s)]
            assert not [r for s in found for r in uncovered_refusals(machine, s)]


def sweeps(job, machine):
    """Those of both faces, before anything is scheduled."""
    section = section_with(job, machine, machine.rack[0])

    def held(face, angle):
        return held_angle_deg(machine, face, angle)

    works = works_for(job, section, machine.rack[0], machine.rack, held_deg=held, swept=True)
    found = []
    for work in works[:2]:
        assert isinstance(work, SweepWork)
        zero = work.zero_face, 0.0, work.zero_relief, 80.0, work.flat_bares_mm
        found.append(sweep_of(machine, touch_frame(machine, *zero), work))
    return found


def test_without_a_powered_cross_the_flat_covers_every_facet_from_where_it_stands():
    plan = planned(quick(), shop(axes__Y=GONE))
    setup = plan.setups[0]
    assert {s.cross_mm for s in stands(setup)} == {0.0}
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from(["end_for_end", "over", "by_tilt"]),
    st.floats(-80.0, 80.0),
    st.floats(-80.0, 80.0),
    st.floats(-20.0, 30.0),
)
def test_wherever_the_axis_lies_flats_stand_on_tangents_and_clear_of_the_stock(flip, y, z, line):
    changes = {
        "fixture__flip": flip,
        "fixture__tilt_axis": {"at": [f"{y:.3f} mm", f"{z:.3f} mm"], "error": "0.005 mm"},
    }
    if flip == "over":
        changes["fixture__turn_line"] = f"{line:.3f} mm"
    machine, job = shop(**changes), convex()
    for sweep in sweeps(job, machine):
        frame, face = sweep.frame, sweep.stands[0].work.relief.face
        side = 1.0 if face == "A" else -1.0
        pivot, origin = np.array(sweep.frame.axis_yz_mm), np.array(frame.origin_yz_mm)
        # By hand, docs/frames.md: where the axis lies when the blade is turned.
        if face == "A" or flip == "by_tilt":
            at = (y, z)
        else:
            at = (y, -z) if flip == "end_for_end" else (2 * line - y, -z)
        assert tuple(pivot) == pytest.approx(at, abs=2e-3)
        c1, i1 = np.array(frame.cross_dir_yz), np.array(frame.infeed_dir_yz)
        a, b = (origin - pivot) @ c1, (origin - pivot) @ i1
        corner, middle = np.array([0.0, side * HALF_STOCK]), MIDDLE * (1.0, side)
        tilts = [s.tilt_deg for s in sweep.stands]
        for tilt in np.linspace(min(tilts), max(tilts), 41):
            turn = math.radians(tilt - frame.tilt_deg)
            i = math.cos(turn) * i1 - math.sin(turn) * c1
            # Property: at every tilt the flat, sent to clearance, is so far above the stock.
            plane = pivot @ i + b + sweep.clear_mm
            assert plane - corner @ i >= machine.fixture.clearance_mm - 1e-9
        for stand in sweep.stands:
            turn = math.radians(stand.tilt_deg - frame.tilt_deg)
            c = math.cos(turn) * c1 + math.sin(turn) * i1
            i = math.cos(turn) * i1 - math.sin(turn) * c1
            there = pivot + (a + stand.cross_mm) * c + (b + stand.infeed_mm) * i
            # Property: its plane stands outside the circle's tangent by less than a step.
            assert -1e-7 <= (there - middle) @ i - RADIUS < 0.001
            facet = stand.work.facet
            ends = np.array([facet.first_yz_mm, facet.last_yz_mm]).mean(axis=0) * (1.0, side)
            # Property: its middle stands over that of the flat, but for steps of the axes.
            assert abs((there - ends) @ c) < 0.03
        spreads = sweep_spread(job, machine, sweep)
        for spread, stand in zip(spreads, sweep.stands, strict=True):
            # By hand: the chord of the turn, and levers no longer than the way to the axis.
            turn = math.radians(abs(stand.tilt_deg - frame.tilt_deg))
            assert spread.axis_mm == pytest.approx(2 * 0.005 * math.sin(turn / 2))
            reach = math.hypot(*(corner - pivot)) + 4.0
            assert spread.tilt_mm <= math.radians(0.0021) * math.sqrt(2) * reach
