"""Edges that the straight axes follow: planned and written, held against a torus of points."""

import csv
import math
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.kinematics.slide_refusals import least_over_arc_mm
from planner.produce import programs_for, programs_from_pass
from planner.proof.prove import prove_program
from planner.proof.seen import look
from planner.report.drawings.path_csv import path_csv
from planner.report.papers.edge_picture import chord_mm, edge_picture
from planner.report.papers.passes import passes_table
from planner.report.papers.words import ReadBack, axis_word, written_word
from planner.report.refusals import refusal_words, way_out_words
from planner.restart import restart_at
from tests.canonical import canonical_calls, needs_rs274
from tests.commands import ROOT
from tests.planning import DIGEST, planned, read_text
from tests.torus import depth_in_wheel, ends_of, reaches

CASES = {
    "belly": ("belly-knife", "form-xyz", ()),
    "belly, another form": ("belly-knife", "form-xyz", ("wheel=form 60",)),
    "swept": ("swept-knife", "form-xyz", ()),
    "hook inside": ("hook-inside", "form-xyz", ()),
    "hook inside, inches": ("hook-inside", "inch-xyz", ("wheel=inside inch",)),
    "hook outside": (
        "hook-inside",
        "form-xyz",
        ("wheel=round 60", "relief.faces=A", "relief.edge_land=1.3 mm", "blade.edge.angle=70 deg",
         "relief.depth=0.03 mm", "machine.rack[1].diameter_error=0.02 mm"),
    ),
}  # fmt: skip


TURNED = {
    "belly, flat rim": ("belly-knife", "turn-xyzc", ("wheel=fine 100",)),
    "swept, form": ("swept-knife", "turn-xyzc", ("wheel=inside 20",)),
}
"""Curves that a turn lays along the traverse."""


def models(case):
    job, machine, changes = {**CASES, **TURNED}[case]
    files = ROOT / "jobs" / f"{job}.yaml", ROOT / "machines" / f"{machine}.yaml"
    loaded = load_pair(*files, list(changes))
    return loaded[0].model, loaded[1].model


@cache
def made(case):
    plan = planned(*models(case))
    return plan, programs_for(plan, DIGEST)


def refusals(case, *changes, job=None, machine=None):
    name, shop, before = CASES[case]
    files = ROOT / "jobs" / f"{job or name}.yaml", ROOT / "machines" / f"{machine or shop}.yaml"
    loaded = load_pair(*files, [*before, *changes])
    with pytest.raises(RefusedError) as caught:
        planned(loaded[0].model, loaded[1].model)
    for refusal in caught.value.refusals:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)
    return {refusal.rule: refusal.facts for refusal in caught.value.refusals}


def ways_of(case, *changes):
    """The ways out of each rule."""
    name, shop, before = CASES[case]
    files = ROOT / "jobs" / f"{name}.yaml", ROOT / "machines" / f"{shop}.yaml"
    loaded = load_pair(*files, [*before, *changes])
    with pytest.raises(RefusedError) as caught:
        planned(loaded[0].model, loaded[1].model)
    return {r.rule: {way.rule for way in r.ways_out} for r in caught.value.refusals}


class Bench:
    """The blade and the wheel by hand, from the job and the set-up's frame alone.

    X along the traverse, Y to the spine, Z to face A, from the edge at the anchor.
    """

    def __init__(self, job, setup):
        frame, wheel = setup.frame, setup.work.wheel
        self.side = 1.0 if setup.relief.face == "A" else -1.0
        self.beta = setup.work.face.angle_rad
        self.at_edge = setup.work.face.at_edge_mm
        self.middle = setup.relief.middle_mm
        self.directions = np.array(
            [
                [frame.x_per_traverse, 0, 0],
                [0, *frame.cross_dir_yz],
                [0, *frame.infeed_dir_yz],
            ]
        )
        self.axis = self.directions[1]
        self.radius, self.rim = wheel.diameter_mm / 2, wheel.form_radius_mm
        self.anchor = setup.followed.path.anchor_mm
        self.length = job.edge.length_mm
        edge = job.edge
        # Places along the edge by adding up small steps, headings by hand from the job's figures.
        s = np.linspace(0, self.length, 40001)
        if edge.path == "bend":
            self.arc = edge.radius_mm
            return
        self.arc = None
        if edge.arcs is not None:
            psi, begins = np.full(s.shape, math.radians(edge.heading_deg)), 0.0
            for piece in edge.arcs:
                turn = 0.0 if piece.radius_mm is None else 1 / piece.radius_mm
                psi += turn * np.clip(s - begins, 0.0, piece.length_mm)
                begins += piece.length_mm
        else:
            x, y = np.array(edge.points_mm).T
            fine = np.linspace(x[0], x[-1], 200001)
            spline = CubicSpline(x, y, bc_type="not-a-knot")
            slope = spline(fine, 1)
            along = np.concatenate([[0], np.cumsum(
                np.hypot(1, (slope[1:] + slope[:-1]) / 2) * np.diff(fine))])  # fmt: skip
            psi = np.interp(s, along, np.arctan(slope))
        steps = np.diff(s)
        mid = (psi[1:] + psi[:-1]) / 2
        x = np.concatenate([[0], np.cumsum(np.cos(mid) * steps)])
        y = np.concatenate([[0], np.cumsum(np.sin(mid) * steps)])
        x -= np.interp(self.anchor, s, x)
        y -= np.interp(self.anchor, s, y)
        self.table = s, x, y, psi

    def section(self, s):
        """Edge, tangent, and the section's y and z at a place."""
        if self.arc:
            turned = (s - self.anchor) / self.arc
            c, n = math.cos(turned), math.sin(turned)
            z = np.array([n, 0, c])
            return self.arc * (z - [0, 0, 1]), np.array([c, 0, -n]), np.array([0.0, 1, 0]), z
        x, y, psi = (np.interp(s, self.table[0], t) for t in self.table[1:])
        c, n = math.cos(psi), math.sin(psi)
        t, to_spine = np.array([c, n, 0]), np.array([-n, c, 0])
        return np.array([x, y, 0.0]), t, to_spine, np.array([0.0, 0, 1])

    def face(self, s):
        """Middle of the relief on the face, along the face, and outward."""
        edge, _, y, z = self.section(s)
        c, n = math.cos(self.beta), math.sin(self.beta)
        along, out = c * y + n * self.side * z, c * self.side * z - n * y
        return edge + self.side * self.at_edge * z + self.middle * along, along, out

    @property
    def zero(self):
        """The wheel's middle at program zero: square over the contact at the anchor."""
        at, _, out = self.face(self.anchor)
        return at + self.radius * out

    def centres(self, stands):
        """Of the wheel, from traverse, cross and infeed."""
        return self.zero + np.asarray(stands) @ self.directions

    def section_left(self, centres, s, across):
        """Heights over the face of what is left at places across it."""
        at, along, out = self.face(s)
        starts = at + across[:, None] * along
        return reaches(centres, self.axis, self.radius, self.rim, starts, out, 1.0)


@pytest.mark.parametrize("case", CASES)
def test_the_section_left_is_that_of_the_plan(case):
    # Property: the envelope of a torus at the planned places, cut by the section's own plane.
    plan, _ = made(case)
    for setup in plan.setups:
        bench, path, left = Bench(plan.job.model, setup), setup.followed.path, setup.stations_left
        depth = setup.work.depth_mm
        for n in range(len(left.x_mm)):
            near = left.x_mm[n] + np.linspace(-4.0, 4.0, 801)
            centres = bench.centres(path.at_depth(near, depth))
            half = math.sqrt(depth * (2 * left.radius_mm[n] - depth))
            across = np.linspace(-1.2 * half, 1.2 * half, 81)
            heights = bench.section_left(centres, left.x_mm[n], across)
            assert heights.min() == pytest.approx(-depth, abs=2e-6)
            low, high = ends_of(across, heights, 0.0)
            # A micrometre at either end.
            assert (high - low) / 2 == pytest.approx(half, abs=1e-3)
            square = math.sqrt(depth * (2 * bench.rim - depth))
            assert left.land_error_mm[n] == pytest.approx(square - (high - low) / 2, abs=1e-3)
            # What is of the third order puts both ends a little to one side.
            assert (low + high) / 2 == pytest.approx(0.0, abs=2e-3)


def stands_of(text, machine):
    """Line, rapid, traverse, cross, infeed and feed of each move, by a reading of its own."""
    letters = {a.role: (k, -1.0 if a.invert else 1.0) for k, a in machine.axes.items()}
    unit = 25.4 if machine.controller.units == "inch" else 1.0
    found, feed, note = [], 0.0, ""
    for block in read_text(text.decode("ascii").splitlines()):
        note = block.comment or note
        feed = block.words.get("F", feed)
        if not block.moves or any(letters[r][0] not in block.after for r in ("traverse", "infeed")):
            continue
        stand = [
            unit * sign * block.after.get(letter, 0.0)
            for letter, sign in (
                letters.get(r, ("-", 1.0)) for r in ("traverse", "cross", "infeed")
            )
        ]
        found.append((block.number, block.rapid, np.array(stand), unit * feed, note))
    return found


def between(moves, step_mm=0.05):
    """Places along the moves, each cut small: of a block its middle too."""
    places = []
    for before, after in pairwise(moves):
        count = max(2, math.ceil(float(np.linalg.norm(after[2] - before[2])) / step_mm))
        shares = np.arange(count) / count
        places.append(before[2] + shares[:, None] * (after[2] - before[2]))
    return np.concatenate(places)


@pytest.mark.parametrize("case", CASES)
def test_the_program_leaves_the_depth_that_it_says(case):
    # Property: the wheel at every place of the last pass as it is written, cut small; the depth at
    # stations is that of the pass within what its rounding and its chords may do.
    plan, programs = made(case)
    for setup in plan.setups:
        bench, blocks = Bench(plan.job.model, setup), setup.followed
        moves = stands_of(programs[setup.program], plan.machine.model)
        last = max(n for n, m in enumerate(moves) if m[4].startswith("pass") and not m[1])
        note = moves[last][4]
        first = next(n for n, m in enumerate(moves) if m[4] == note and not m[1])
        centres = bench.centres(between(moves[first : last + 1]))
        depth = float(note.rpartition("depth ")[2])
        within = blocks.rounding_mm + blocks.chord_mm
        assert within < 0.0018
        for s in np.linspace(0.0, bench.length, 7):
            heights = bench.section_left(centres, s, np.linspace(-0.2, 0.2, 3))
            assert -heights.min() == pytest.approx(depth, abs=within + 1e-6)


@pytest.mark.parametrize("case", CASES)
def test_the_edge_goes_by_at_the_feed_of_the_plan(case):
    # By hand: the contact lies the wheel's radius under its middle; so much edge in the time of
    # the block. Positions are rounded, so that many blocks are taken together.
    plan, programs = made(case)
    machine = plan.machine.model
    axes = {a.role: a for a in machine.axes.values()}
    roles = [r for r in ("traverse", "cross", "infeed") if r in axes]
    for setup in plan.setups:
        moves = stands_of(programs[setup.program], machine)
        for done in setup.passes:
            note = f"pass {done.number} of "
            part = [m for m in moves if m[4].startswith(note) and not m[1]]
            ways = np.diff([m[2] for m in part], axis=0)
            feeds = np.array([m[3] for m in part[1:]])
            minutes = np.linalg.norm(ways, axis=-1) / feeds
            row = setup.row
            edge = row.ends_mm[1] - row.ends_mm[0]
            assert edge / minutes.sum() == pytest.approx(done.feed_mm_min, rel=2e-3)
            # Every axis within its own feed, but for the rounding of short blocks.
            for k, role in enumerate(("traverse", "cross", "infeed")):
                if role in roles:
                    asked = np.abs(ways[:, k]) - setup.followed.steps_mm[k]
                    assert np.all(asked / minutes <= axes[role].max_feed_mm_min * (1 + 1e-6))
            assert np.all(minutes * 60 * machine.controller.blocks_per_s >= 1 - 1e-6)


@pytest.mark.parametrize("rate", [20.0, 60.0])
def test_no_block_is_over_before_the_next_is_read(rate):
    # By hand: the way of a block as it is written, over its F. Unrounded, the shortest block would
    # last 1 / rate to the letter at the fastest feed; rounded, half of them are a little shorter.
    job, machine = ROOT / "jobs" / "belly-knife.yaml", ROOT / "machines" / "form-xyz.yaml"
    changes = ["relief.faces=A", f"machine.controller.block_rate={rate} blocks/s"]
    loaded = load_pair(job, machine, changes)
    plan = planned(loaded[0].model, loaded[1].model)
    (setup,) = plan.setups
    assert setup.followed is not None
    shortest = float(np.diff(setup.followed.ends_mm).min())
    fastest = max(p.feed_mm_min for p in setup.passes)
    assert fastest == math.floor(60.0 * rate * shortest)
    text = programs_for(plan, DIGEST)[setup.program]
    blocks = 0
    for before, after in pairwise(stands_of(text, loaded[1].model)):
        if after[4].startswith("pass") and not after[1] and after[4] == before[4]:
            lasts_s = 60.0 * float(np.linalg.norm(after[2] - before[2])) / after[3]
            assert lasts_s * rate >= 1.0 - 1e-6
            blocks += 1
    assert blocks >= len(setup.passes) * (len(setup.followed.ends_mm) - 2)
    assert prove_program(text, loaded[0].model, loaded[1].model).ok


@pytest.mark.parametrize("case", CASES)
def test_no_rapid_comes_near_the_blade(case):
    # Property: the wheel as a torus, points of the unground blade all along; the air run never
    # nearer than its clearance, which is all it does.
    plan, programs = made(case)
    clear = plan.machine.model.fixture.clearance_mm
    for setup in plan.setups:
        bench = Bench(plan.job.model, setup)
        # Points of the face that is ground, from its edge to its shoulder, and the other side.
        points = []
        thick = plan.job.model.blade.section.thickness_mm
        for s in np.linspace(0, bench.length, 41):
            at, along, out = bench.face(s)
            face = setup.work.face
            for way in np.linspace(0.0, face.width_mm, 5):
                points += [at + (way - bench.middle) * along]
            points += [at - bench.middle * along - 0.5 * thick * out]
        blade = np.array(points)
        for name in (setup.program, setup.program.replace(".ngc", "-air.ngc")):
            moves = stands_of(programs[name], plan.machine.model)
            air = "-air" in name
            for before, after in pairwise(moves):
                if not (after[1] or air):
                    continue
                count = max(2, math.ceil(float(np.linalg.norm(after[2] - before[2])) / 2.0))
                shares = np.linspace(0, 1, count)[:, None]
                centres = bench.centres(before[2] + shares * (after[2] - before[2]))
                away = blade[None] - centres[:, None]
                inside = depth_in_wheel(away, bench.axis, bench.radius, bench.rim)
                # From the run-off a rapid begins or ends beside the blade, not over it.
                assert inside.max() < (-0.9 * clear if air else 0.0), (name, after[0])


@needs_rs274
@pytest.mark.parametrize("case", CASES)
def test_another_interpreter_reads_the_programs(case):
    plan, programs = made(case)
    unit = 25.4 if plan.machine.model.controller.units == "inch" else 1.0
    for name, text in programs.items():
        ours = stands_of(text, plan.machine.model)
        calls = canonical_calls(text.decode("ascii"))
        theirs = [n for call, n in calls if call in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
        assert len(theirs) >= len(ours) > 50, name
        signs = [1.0, 1.0, 1.0]
        for axis in plan.machine.model.axes.values():
            if axis.role in ("traverse", "cross", "infeed") and axis.invert:
                signs[("traverse", "cross", "infeed").index(axis.role)] = -1.0
        for move, numbers in zip(reversed(ours), reversed(theirs), strict=False):
            assert np.array(signs) * move[2] / unit == pytest.approx(numbers[:3], abs=0.51e-4)


def test_the_wheel_is_up_before_it_goes_over_the_blade():
    # By hand: a hook's inside, its ends 30 (1 - cos 50) = 10.72 mm above its middle.
    plan, programs = made("hook inside")
    (setup,) = plan.setups
    moves = stands_of(programs[setup.program], plan.machine.model)
    safe = setup.followed.safe_mm
    assert safe == pytest.approx(30 * (1 - math.cos(math.radians(50))) + 6.0, abs=1e-3)
    levels = [m[2][2] for m in moves]
    assert levels[-1] == pytest.approx(safe)
    text = programs[setup.program].decode("ascii")
    assert f"(clear {safe:.4f} mm above zero)" in text
    assert "(zero wheel bares on face B, traverse 0 at 26.1799 mm from heel)" in text


def test_an_arc_square_to_the_face_needs_no_cross():
    # Property: of docs/edge-paths.md. A hook's inside lies square to the infeed, its bevel not.
    job, machine = models("hook inside")
    axes = {k: a for k, a in machine.axes.items() if a.role != "cross"}
    two = machine.model_copy(update={"axes": axes})
    plan = planned(job, two)
    assert set(plan.setups[0].axes) == {"traverse", "infeed", "tilt"}
    assert "Y" not in programs_for(plan, DIGEST)["setup-B.ngc"].decode("ascii").split("M2")[0][400:]
    outside, _ = models("hook outside")
    with pytest.raises(RefusedError) as caught:
        planned(outside, two)
    assert "path-needs-cross" in {r.rule for r in caught.value.refusals}


def test_a_bevel_that_stands_askew_costs_depth_where_the_blade_lies_off():
    # By hand: an arc of 100 degrees, touched off in its middle: its ends stand 50 degrees round,
    # and a move along the traverse and one along the face's normal count sin 50 and the cross
    # nothing; 0.005 mm of each by default.
    plan, _ = made("hook inside")
    cause = next(c for c in plan.spreads[0].causes if c.name == "blade off its path")
    assert cause.sd == pytest.approx(0.005 * math.sin(math.radians(50)))
    assert cause.edge_land_per_unit == -plan.spreads[0].land_change_per_depth


def test_what_the_wheel_leaves_counts_in_the_share():
    # Property: with the wheel's own radius on its rim nothing strays; with another the lands do,
    # and the shortfalls span it.
    plan, _ = made("belly, another form")
    setup = plan.setups[0]
    spread = max(setup.shortfalls_mm) - min(setup.shortfalls_mm)
    # By hand: the tip's lands are 0.0345 mm narrower; over 27.7 mm a mm of depth.
    assert spread == pytest.approx(0.0345 / 27.7, rel=0.02)
    even, _ = made("belly")
    short = even.setups[0].shortfalls_mm
    assert max(short) - min(short) < 1e-6


def test_refusals_name_the_station():
    found = refusals("belly, another form", "relief.land_tolerance=0.03 mm")
    assert found["path-lands"]["x_mm"] == pytest.approx(70.0)
    assert found["path-lands"]["error_mm"] == pytest.approx(-0.0345, abs=1e-3)
    found = refusals("belly", "wheel=fine", machine="wheel-xyza")
    # By hand: (W/2) sin(12.5) sin(15.5) = 10 * 0.2164 * 0.2672.
    assert found["rim-digs-on-path"]["dig_mm"] == pytest.approx(0.5784, abs=1e-3)
    found = refusals("hook outside", "blade.edge.angle=95 deg")
    assert "contact-off-rim" in found
    found = refusals("hook inside", "blade.edge.angle=140 deg")
    # By hand: 70 degrees, and 12 mm of run-off and the reach on a radius of 30.
    assert found["path-too-far-round"]["end_deg"] > 70 + math.degrees(12 / 30)
    found = refusals("hook inside", "wheel=round 60")
    assert found["wheel-over-inside"]["diameter_mm"] == 120.0


def test_a_lift_inside_an_arc_is_looked_at_as_far_as_the_arc_goes():
    # By hand: a rim of 3 lifted 4 off the bottom of an inside of 10 has its lowest at 4. Off 60
    # degrees, 6 lifts it to 1 from the axis: middle at sin 60 and 10 - cos 60, 3 less is 6.5.
    # Under that, at x = sin 60, the inside has 10 - sqrt(100 - 0.75) = 0.0376.
    at = np.array([0.0])
    assert least_over_arc_mm(10.0, 1.0, at, 3.0, 0.001, 4.0) == pytest.approx(4.0, abs=1e-3)
    at = np.radians([60.0])
    found = least_over_arc_mm(10.0, 60.0, at, 3.0, 1e-6, 6.0)
    assert found == pytest.approx(6.5 - (10 - math.sqrt(99.25)), abs=1e-4)
    # Of a circle as round as the inside, moved 2 along 45 degrees, the far corner comes in.
    assert least_over_arc_mm(10.0, 60.0, np.radians([45.0]), 10.0, 9.99, 2.0) < 0.0
    assert least_over_arc_mm(10.0, 60.0, np.radians([45.0]), 5.0, 4.99, 2.0) > 0.0


def test_a_crowned_wheel_follows_the_inside_of_an_open_arc():
    # By hand: 2 (26 - 30) is less than nothing, the far side of a ring; this one spans 95 degrees.
    # Its proof is that nothing of the wheel as a body comes into the blade.
    crown = (
        "machine.rack[2]={name: crown 60, contact: along_edge, diameter: 60 mm, width: 32 mm,"
        " crown_radius: 20 mm, form_radius_error: 0.01 mm, marked_speed: 12000 rpm,"
        " abrasive: aluminium_oxide, grit: F80,"
        " specific_energy: 40 J/mm3, force_ratio: 0.4, g_ratio: 30,"
        " infeed: {rough: 0.010 mm, finish: 0.004 mm}}"
    )
    edge = ["blade.edge.radius=26 mm", "blade.edge.angle=90 deg", "wheel=crown 60"]
    files = ROOT / "jobs" / "hook-inside.yaml", ROOT / "machines" / "form-xyz.yaml"
    job, machine = load_pair(*files, [crown, *edge])
    programs = programs_for(planned(job.model, machine.model), DIGEST)
    for text in programs.values():
        assert not prove_program(text, job.model, machine.model, wheel="crown 60").faults


def test_a_run_off_without_end_is_not_told():
    # Property: a wheel that does not fit inside reaches nowhere; the words hold figures only.
    found = refusals("hook inside", "wheel=round 60", "blade.edge.angle=170 deg")
    assert list(found) == ["wheel-over-inside"]
    assert all(math.isfinite(v) for f in found.values() for v in f.values() if type(v) is float)


def test_a_flat_rim_in_a_hollow_is_told_the_hollow():
    # By hand: turned along the traverse, the rim digs by the hollow alone: an edge hollow to 120,
    # 3.29 mm nearer the spine 123.29, bends up to the wheel with 123.29 / sin 12.5 = 569.6, and
    # 10 to either side dig 569.6 - sqrt(569.6^2 - 100) = 0.0878.
    job, machine, changes = TURNED["belly, flat rim"]
    files = ROOT / "jobs" / f"{job}.yaml", ROOT / "machines" / f"{machine}.yaml"
    edge = "blade.edge.arcs=[{length: 50 mm, radius: -120 mm}]"
    width = next(
        w.width_mm for w in load_pair(*files, list(changes))[1].model.rack if w.name == "fine 100"
    )
    loaded = load_pair(*files, [*changes, edge, "blade.edge.heading=10 deg"])
    with pytest.raises(RefusedError) as caught:
        planned(loaded[0].model, loaded[1].model)
    found = {r.rule: r for r in caught.value.refusals}["rim-digs-in-hollow"]
    bend = float(found.facts["bend_mm"])
    assert bend == pytest.approx(569.6, rel=3e-3)
    dig = bend - math.sqrt(bend**2 - width**2 / 4)
    assert found.facts["dig_mm"] == pytest.approx(dig)
    (narrow,) = (w.facts["width_mm"] for w in found.ways_out if w.rule == "narrower-rim")
    allowed = float(found.facts["allowed_mm"])
    assert bend - math.sqrt(bend**2 - float(narrow) ** 2 / 4) == pytest.approx(allowed, rel=0.01)


def test_ways_out_fit_the_edge():
    # Property: a curve has no arc to be larger.
    found = ways_of("belly", "blade.edge.arcs=[{length: 4 mm, radius: -9 mm}]",
                    "blade.edge.heading=12 deg")  # fmt: skip
    assert "gentler-hollow" in found["wheel-over-path"]
    assert "larger-arc" not in found["wheel-over-path"]


def test_a_missing_cross_is_told_once():
    # Property: the same of both faces and of every wheel.
    job, machine = models("belly")
    axes = {k: a for k, a in machine.axes.items() if a.role != "cross"}
    with pytest.raises(RefusedError) as caught:
        planned(job, machine.model_copy(update={"axes": axes}))
    assert [r.rule for r in caught.value.refusals].count("path-needs-cross") == 1


def test_the_bare_places_are_whole_steps_everywhere():
    # Property: the table of the sheet and its steps write one word for one place.
    plan, _ = made("belly")
    setup = plan.setups[0]
    heel = float(setup.followed.path.unrolled_mm(0.0))
    stand = float(setup.followed.stands([heel], 0.0, 0.0)[0, 0])
    assert axis_word(plan, setup, "traverse", heel) == written_word(plan, setup, "traverse", stand)


def test_above_the_blade_the_path_is_above_it_too():
    # By hand: the drawing's first row is a rapid at the height over the whole blade; it was told
    # deep in steel that lies elsewhere.
    plan, programs = made("hook inside")
    job, machine = models("hook inside")
    verdict = prove_program(programs["setup-B.ngc"], job, machine, wheel="inside 40")
    rows = list(csv.reader(path_csv(plan.setups[0], verdict).splitlines()))[1:]
    rapids = [float(row[-1]) for row in rows if row[1] == "0"]
    assert rapids
    assert max(rapids) < 0.0


def test_the_edge_is_drawn_as_it_is_clamped():
    # By hand: 100 degrees of an arc of 30 mm span 60 sin 50 = 45.96 mm, to 2 : 1 91.93 of paper,
    # and rise 30 (1 - cos 50) = 10.72 mm, 21.43 of paper, at both ends alike.
    plan, _ = made("hook inside")
    drawn = edge_picture(plan, plan.setups[0])
    assert drawn is not None
    drawing, scale = drawn
    line = np.array(next(one.points for one in drawing.lines if one.style == "thick"))
    assert scale == 2.0
    assert np.ptp(line, axis=0) == pytest.approx([91.93, 21.43], abs=0.01)
    assert line[0, 1] == pytest.approx(line[-1, 1])
    assert chord_mm(plan.setups[0]) == pytest.approx(45.96, abs=5e-3)
    words = {one.text: one.at for one in drawing.labels}
    assert {"heel", "tip", "anchor: zero", "X+", "Z+"} <= set(words)
    # Face B lies end for end: its heel is where the traverse grows to.
    assert words["heel"][0] > words["anchor: zero"][0] > words["tip"][0]


def test_the_passes_of_a_followed_edge_name_no_infeed():
    # Property: its infeed changes from block to block; no word of the program stands for a pass.
    plan, programs = made("hook inside")
    job, machine = models("hook inside")
    text, air = programs["setup-B.ngc"], programs["setup-B-air.ngc"]
    verdicts = [prove_program(t, job, machine, wheel="inside 40") for t in (text, air)]
    table = passes_table(plan, plan.setups[0], ReadBack(text, *verdicts))
    assert "infeed" not in table.header
    assert all(len(row) == len(table.header) == len(table.widths) for row in table.rows)


def test_a_hollow_edge_needs_a_wheel_that_fits():
    # By hand: where the relief has its middle, 3.29 mm nearer to the spine, a hollow edge of 9 mm
    # radius has one of 12.29 mm, and bends up sin(12.5) / 12.29 = 1/56.8 toward the wheel of 60.
    edge = "blade.edge.arcs=[{length: 4 mm, radius: -9 mm}]"
    found = refusals("belly", edge, "blade.edge.heading=12 deg")
    assert "wheel-over-path" in found
    edge = "blade.edge.arcs=[{length: 4 mm, radius: -11 mm}]"
    loaded = load_pair(
        ROOT / "jobs" / "belly-knife.yaml",
        ROOT / "machines" / "form-xyz.yaml",
        [edge, "blade.edge.heading=10 deg"],
    )
    assert planned(loaded[0].model, loaded[1].model).setups


def test_a_row_is_not_followed():
    row = refusals("belly", "machine.fixture.row.positions=[0 mm, 120 mm]")
    assert "row-on-path" in row


def test_coarse_axes_are_refused():
    found = refusals("belly", "machine.axes.Z.resolution=0.01 mm")
    assert found["steps-too-coarse-for-path"]["rounding_mm"] > 0.004


@pytest.mark.parametrize("case", ["belly", "swept, form"])
def test_the_deepest_block_of_a_pass_keeps_force_and_power(case):
    # Property: one block may stand half a step of every axis deeper than its pass, and the pass
    # before it as much less deep.
    for setup in made(case)[0].setups:
        cutting, reached = setup.heated.cutting, np.zeros(len(setup.schedule.reached_mm))
        uneven = 2.0 * setup.followed.rounding_mm
        assert uneven > 0.0
        for one, more in zip(setup.passes, setup.compensation_mm, strict=True):
            sent = one.commanded_depth_mm + more
            deepest = cutting.cut(np.array(sent + uneven), reached, one.feed_mm_min)
            assert deepest.normal_n.max() <= setup.shop.limits.normal_force_n + 1e-6
            reached = cutting.cut(np.array(sent), reached, one.feed_mm_min).reached_mm


def test_passes_that_differ_by_less_than_the_rounding_are_two_passes():
    # Property: the last passes of this set-up go one step deeper each, less than rounding may make
    # of one pass; taken for one, the slower of two would press with the feed of the quicker.
    job, machine = models("swept, form")
    plan, programs = made("swept, form")
    for setup in plan.setups:
        depths = np.diff([one.commanded_depth_mm for one in setup.passes])
        assert depths.min() < 2.0 * setup.followed.rounding_mm
        verdict = prove_program(programs[setup.program], job, machine)
        assert verdict.faults == ()
        assert len(verdict.cuts) == len(setup.passes)


def test_a_cross_coarse_along_the_face_moves_the_lands():
    # By hand: the cross lies in the plane of the blade, the infeed square to it, the face 12.5
    # degrees from it. Half a step of the cross moves the relief 0.005 cos 12.5 along the face, one
    # of the infeed 0.0005 sin 12.5; one of the traverse nothing at the anchor, 0.0005 at most.
    job, machine = ROOT / "jobs" / "belly-knife.yaml", ROOT / "machines" / "form-xyz.yaml"
    changes = ["relief.faces=A", "machine.axes.Y.resolution=0.01 mm"]
    loaded = load_pair(job, machine, changes)
    plan = planned(loaded[0].model, loaded[1].model)
    (setup,) = plan.setups
    bevel = math.radians(12.5)
    straight = 0.005 * math.cos(bevel) + 0.0005 * math.sin(bevel)
    assert setup.followed is not None
    assert straight - 1e-9 <= setup.followed.beside_mm <= straight + 0.0005
    text = programs_for(plan, DIGEST)[setup.program]
    assert prove_program(text, loaded[0].model, loaded[1].model).ok
    # By hand: 0.3 mm of land tolerance allow 0.03; half of 0.07 mm comes to 0.0342.
    found = refusals("belly", "relief.faces=A", "machine.axes.Y.resolution=0.07 mm")
    facts = found["steps-too-coarse-for-lands"]
    assert facts["allowed_mm"] == pytest.approx(0.03)
    assert 0.0342 < facts["beside_mm"] < 0.0342 + 0.001


def test_a_program_goes_on_from_a_later_pass():
    # Property: from pass 5 on the two programs are the same to the letter.
    plan, programs = made("belly")
    setup = plan.setups[0]
    restart = restart_at(plan, setup, 5, new_wheel=False)
    later = programs_from_pass(plan, DIGEST, restart)[restart.program].decode("ascii")
    whole = programs[setup.program].decode("ascii")
    rest = whole[whole.index("(pass 5 of") :]
    tail = later[later.index("(pass 5 of") :]
    # The first goes down from above, the other stands at depth already.
    assert tail.splitlines()[3:] == rest.splitlines()[2:]
    assert tail.splitlines()[1].startswith("G0 Z")


# --- a turn that lays the edge along the traverse ------------------------------------------------


def turned_back(vectors, degrees):
    """From the machine's directions into those of the blade, by hand: turned from X toward Y."""
    turn = np.radians(degrees)[:, None]
    x, y, z = vectors[:, :1], vectors[:, 1:2], vectors[:, 2:]
    cosine, sine = np.cos(turn), np.sin(turn)
    return np.concatenate([cosine * x - sine * y, sine * x + cosine * y, z], axis=1)


@pytest.mark.parametrize("case", TURNED)
def test_a_turn_lays_every_place_along_the_traverse(case):
    # Property: seen from the blade the wheel goes along the edge with its axis square to it, and
    # under every place it is as deep as the pass says. Its own radius is left everywhere.
    plan, programs = made(case)
    for setup in plan.setups:
        job, blocks = plan.job.model, setup.followed
        side = 1.0 if setup.relief.face == "A" else -1.0
        lines = programs[setup.program].decode("ascii").splitlines()
        moves = [b for b in read_text(lines) if b.moves and set("XYZC") <= set(b.after)]
        last = [b for b in moves if b.number > max(i for i, t in enumerate(lines) if "pass" in t)]
        cut = [b for b in last if not b.rapid]
        stands = np.array([[b.after[k] for k in "XYZ"] for b in cut])
        turns = np.array([side * b.after["C"] for b in cut])
        shares = (np.arange(60) / 60)[:, None, None]
        stands = (stands[:-1] + shares * np.diff(stands, axis=0)).reshape(-1, 3)
        turns = (turns[:-1] + shares[..., 0] * np.diff(turns)).reshape(-1)
        bench = Bench(job, setup)
        flat = setup.work.wheel.contact == "along_edge"
        depth = float(
            lines[max(i for i, t in enumerate(lines) if "pass" in t)].split("depth ")[1][:6]
        )
        for s in np.linspace(0.0, bench.length, 7):
            at, _, out = bench.face(s)
            # The place so deep, as the machine sees it, lies on the wheel and never in it.
            deep = np.broadcast_to(at - depth * out, stands.shape)
            away = turned_back(deep, -turns) - (bench.zero + stands @ bench.directions)
            if flat:
                level = np.hypot(away[:, 1], away[:, 2])
                inside = np.where(np.abs(away[:, 0]) < 5.0, bench.radius - level, -1.0)
            else:
                inside = depth_in_wheel(away, bench.axis, bench.radius, bench.rim)
            within = blocks.rounding_mm + blocks.chord_mm
            assert float(inside.max()) == pytest.approx(0.0, abs=within)
        left = setup.stations_left
        assert left.radius_mm == pytest.approx(np.full(len(left.x_mm), setup.work.wheel_radius_mm))
        assert left.land_error_mm == pytest.approx(np.zeros(len(left.x_mm)), abs=1e-9)
        # By hand: the turn is the heading, the other way on the other face.
        stations = blocks.stands(blocks.path.unrolled_mm(left.x_mm), 0.0, 0.0)
        assert stations[:, 3] == pytest.approx(side * left.heading_deg, abs=3e-3)


def test_a_turn_off_the_anchor_costs_depth():
    # By hand: 12.5 degrees of bevel; e = 0.005 mm and the heel turned by 3 degrees; the angle of
    # the turn, good to 0.02 degrees and in steps of 0.005, moves the heel, 38.37 mm behind.
    plan, _ = made("belly, flat rim")
    cause = next(c for c in plan.spreads[0].causes if c.name == "turn off centre")
    bevel = math.sin(math.radians(12.5))
    off = 2 * 0.005 * math.sin(math.radians(3.0 / 2)) * bevel
    angle = math.radians(math.hypot(0.02, 0.005 / math.sqrt(12))) * 38.37 * bevel
    assert cause.sd == pytest.approx(math.hypot(off, angle), rel=1e-3)
    assert not any(c.name == "blade off its path" for c in plan.spreads[0].causes)


def test_jaws_are_met_where_the_axes_go():
    # By hand: the belly's tip is 3.98 mm nearer to jaws that stand straight along the traverse.
    crown = ("wheel=small", "machine.rack[1].crown_radius=80 mm")
    found = refusals("belly", *crown, "machine.fixture.jaws.from_edge=14 mm", machine="wheel-xyza")
    assert "wheel-meets-jaws" in found
    files = ROOT / "jobs" / "belly-knife.yaml", ROOT / "machines" / "wheel-xyza.yaml"
    job, machine = load_pair(*files, [*crown, "machine.fixture.jaws.from_edge=18 mm"])
    plan = planned(job.model, machine.model)
    clear = [s.jaw_clearance_mm for s in plan.setups]
    assert all(c is not None and c > 0 for c in clear)


def test_the_preview_lays_blade_and_way_straight():
    # By hand: unrolled, the blade lies from 0 to its length, and a pass goes past both its ends.
    _, programs = made("hook inside")
    job, machine = models("hook inside")
    verdict = prove_program(programs["setup-B.ngc"], job, machine, wheel="inside 40")
    (seen,) = look([verdict])
    assert seen.laid_straight
    (blade,) = [thing for thing in seen.things if thing.name == "blade"]
    assert blade.traverse_mm == pytest.approx((0.0, 30 * math.radians(100)))
    for one in seen.passes:
        assert min(one.traverse_mm) < -12.0
        assert max(one.traverse_mm) > 30 * math.radians(100) + 12.0
