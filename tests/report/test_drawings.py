"""Drawings and paths, read back with other libraries: GDAL's DXF, svgelements, numpy."""

import io
import json
import math
import re
from typing import Any, NamedTuple

import numpy as np
import pyogrio
import pytest
import shapely
import svgelements
from pyogrio.raw import read

from planner.inputs.load import load_pair
from planner.inputs.steels import steel_of
from planner.plan import Plan, plan_job
from planner.produce import produce_drawings
from planner.proof.verdict import Verdict
from planner.section.target import outline, relief_ends
from tests.commands import EASY, JOB, QUICK, ROOT, run
from tests.planning import read_text

CASES = {
    "straight": ("straight-knife", None, ()),
    "from the bar": ("bar-knife", None, ()),
    "one face": ("detail-knife", None, ()),
    "belt": ("broad-knife", None, ()),
    "row": ("straight-knife", "row-xz", ()),
    "wedges": ("straight-knife", "wedge-xz", ()),
    "inches": ("straight-knife", "inch-xyz", ("wheel=six inch",)),
    "form": ("straight-knife", "form-xyz", ("wheel=form 60",)),
    "convex": ("whittling-knife", None, ()),
    "single bevel": ("marking-knife", None, ()),
    "axe": ("carving-axe", None, ()),
    "outline": ("own-outline", None, ()),
    "outline with micro bevels": (
        "own-outline",
        None,
        (
            "blade.section={form: outline, first_piece: micro_bevel, "
            "face_a: [[0 mm, 0 mm], [0.35 mm, 0.17 mm], [6.2 mm, 1.35 mm], [20 mm, 1.2 mm]], "
            "face_b: [[0 mm, 0 mm], [0.5 mm, 0.3 mm], [6.2 mm, 1.35 mm], [20 mm, 1.2 mm]], "
            "face_b_radius: 80 mm}",
            "relief.land_tolerance=0.4 mm",
        ),
    ),
    "hook": ("hook-knife", None, ()),
    "gouge": ("bent-gouge", None, ()),
}


class Drawn(NamedTuple):
    plan: Plan
    verdicts: dict[str, Verdict]
    files: dict[str, bytes]
    layers: dict[str, list[Any]]


def dxf_layers(data, tmp_path):
    """Every shape of a DXF file by layer, as GDAL reads it."""
    path = tmp_path / "section.dxf"
    path.write_bytes(data)
    # Arcs in steps of 0.01 degrees: 5e-7 mm off at a radius of 150 mm.
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.01"})
    meta, _, shapes, fields = read(path)
    names = list(meta["fields"])
    layers: dict[str, list[Any]] = {}
    for shape, layer in zip(shapely.from_wkb(shapes), fields[names.index("Layer")], strict=True):
        layers.setdefault(layer, []).append(shape)
    return layers


@pytest.fixture(params=CASES, scope="module")
def drawn(request, tmp_path_factory):
    job, machine, changes = CASES[request.param]
    path = None if machine is None else ROOT / "machines" / f"{machine}.yaml"
    loaded = load_pair(ROOT / "jobs" / f"{job}.yaml", path, changes)
    plan = plan_job(*loaded, steel_of(loaded[0].model.steel))
    made = produce_drawings(plan, ())
    layers = dxf_layers(made.files["section.dxf"], tmp_path_factory.mktemp("drawn"))
    return Drawn(plan, made.verdicts, made.files, layers)


# --- DXF ------------------------------------------------------------------------------------------


def test_the_layers_are_named_in_the_trades_words(drawn):
    reliefs = [r.face for r in drawn.plan.section.reliefs]
    names = {"STOCK", "BLADE", "BLADE_AS_PROVED", "CENTRE_PLANE", "NOTES"}
    names |= {f"{land}_LAND_{face}" for land in ("EDGE", "SHOULDER") for face in reliefs}
    for setup in drawn.plan.setups:
        names |= {f"WHEEL_{setup.name}", f"WHEEL_MIDDLE_{setup.name}"}
    assert set(drawn.layers) == names


def test_the_header_says_millimetres(drawn):
    # Source: DXF reference, header section: $INSUNITS 4 is millimetres, $MEASUREMENT 1 metric.
    pairs = [line.strip() for line in drawn.files["section.dxf"].decode().splitlines()]
    for name, value in (("$INSUNITS", "4"), ("$MEASUREMENT", "1"), ("$ACADVER", "AC1024")):
        at = pairs.index(name)
        assert pairs[at + 2] == value


def area(layers, name):
    (line,) = layers[name]
    shape = shapely.Polygon(line)
    assert shape.is_valid, shapely.is_valid_reason(shape)
    return shape.area


def test_stock_less_blade_is_the_steel_of_the_reliefs(drawn):
    section = drawn.plan.section
    taken = sum(r.removed_area_mm2 for r in section.reliefs)
    if drawn.plan.job.model.bevel_stages:
        # By hand: square stock, and on each face a right triangle beside the edge.
        half = (section.thickness_mm - section.edge_thickness_mm) / 2
        assert section.form == "double_bevel"
        taken += sum(half * half / math.tan(f.angle_rad) / 2 for f in section.faces)
        assert area(drawn.layers, "STOCK") == pytest.approx(section.thickness_mm * section.width_mm)
    # By hand: what is round behind the shoulder is a polyline in both.
    left = area(drawn.layers, "STOCK") - area(drawn.layers, "BLADE")
    assert left == pytest.approx(taken, abs=2e-5)


def test_the_blade_is_the_outline_of_the_plan(drawn):
    section = drawn.plan.section
    depth = {r.face: r.depth_mm for r in section.reliefs}
    points = outline(section, depth.get("A", 0.0), depth.get("B", 0.0))
    (line,) = drawn.layers["BLADE"]
    # Property: two ways to the same line, one of them a polyline within 1e-4 mm of its arcs.
    assert shapely.hausdorff_distance(line, shapely.LinearRing(points)) < 1.1e-4


def test_the_hollows_are_arcs_of_the_wheel(drawn):
    """Property: every point of the blade in a relief lies on a circle of the section's radius."""
    section = drawn.plan.section
    (line,) = drawn.layers["BLADE"]
    points = shapely.get_coordinates(line)
    for relief in section.reliefs:
        face = section.face(relief.face)
        side = 1.0 if relief.face == "A" else -1.0
        along = np.array([math.cos(face.angle_rad), side * math.sin(face.angle_rad)])
        normal = np.array([-math.sin(face.angle_rad), side * math.cos(face.angle_rad)])
        middle = relief.middle_at_mm(relief.depth_mm)
        centre = np.array([0.0, side * face.at_edge_mm]) + middle * along
        centre = centre + (section.wheel_radius_mm - relief.depth_mm) * normal
        on_arc = np.abs(np.hypot(*(points - centre).T) - section.wheel_radius_mm) < 1e-6
        # By hand: the reader parts the arc into steps of at most 0.01 degrees.
        (first, _), (last, _) = relief_ends(section, relief, relief.depth_mm)
        angle = 2 * math.asin(relief.chord_mm / 2 / section.wheel_radius_mm)
        assert on_arc.sum() >= math.degrees(angle) / 0.01
        assert points[on_arc, 0].min() == pytest.approx(max(first, 0.0), abs=1e-6)
        assert points[on_arc, 0].max() == pytest.approx(last, abs=1e-6)


def test_the_lands_of_the_blade_as_proved_are_those_that_the_proof_measured(drawn):
    section = drawn.plan.section
    if section.form != "double_bevel":
        pytest.skip("lands read here along flat bevels without a micro bevel")
    (line,) = drawn.layers["BLADE_AS_PROVED"]
    points = shapely.get_coordinates(line)
    for setup in drawn.plan.setups:
        later = [s for s in drawn.plan.setups if s.relief.face == setup.relief.face][-1]
        if setup is not later:
            continue
        face = section.face(setup.relief.face)
        side = 1.0 if face.face == "A" else -1.0
        along = np.array([math.cos(face.angle_rad), side * math.sin(face.angle_rad)])
        normal = np.array([-math.sin(face.angle_rad), side * math.cos(face.angle_rad)])
        away = points - np.array([0.0, side * section.edge_thickness_mm / 2])
        on_face = np.sort((away @ along)[(np.abs(away @ normal) < 1e-7) & (away @ along > -1e-9)])
        on_face = on_face[on_face < face.width_mm + 1e-9]
        measured = next(at for at in drawn.verdicts[setup.program].lands if at.station == "middle")
        places = np.unique(np.round(on_face, 6))
        gap = int(np.argmax(np.diff(places)))
        # By hand: a face that is ground last may stand 0.002 mm off its plane, and so its shoulder
        # up to 0.002 / (sin 12.5 deg cos 12.5 deg) = 0.0095 mm aside.
        near = 0.0095 if setup.work.operation == "lands" else 2e-3
        assert places[gap] == pytest.approx(measured.edge_land_mm, abs=near)
        shoulder = face.width_mm - places[gap + 1]
        assert shoulder == pytest.approx(measured.shoulder_land_mm, abs=near)


def test_each_wheel_stands_as_deep_as_its_last_pass_was_sent(drawn):
    for setup in drawn.plan.setups:
        (wheel,) = drawn.layers[f"WHEEL_{setup.name}"]
        (middle,) = drawn.layers[f"WHEEL_MIDDLE_{setup.name}"]
        solid = shapely.Polygon(wheel)
        assert solid.is_valid
        face, work = setup.work.face, setup.work
        side = 1.0 if face.face == "A" else -1.0
        normal = np.array([-math.sin(face.angle_rad), side * math.cos(face.angle_rad)])
        corner = np.array([0.0, side * face.at_edge_mm]) + work.before.outside_mm * normal
        cut = drawn.verdicts[setup.program].cuts[-1]
        # Property: its lowest place is the commanded depth below the face that it bared on; a flat
        # that is held along the face is so everywhere.
        points = shapely.get_coordinates(wheel)
        lowest = ((points - corner) @ normal).min()
        assert -lowest == pytest.approx(cut.commanded_depth_mm, abs=2e-3)
        size = setup.work.wheel
        if size.contact == "along_edge":
            radii = np.hypot(points[:, 0] - middle.x, points[:, 1] - middle.y)
            belt = size.belt.thickness_mm if size.belt else 0.0
            assert radii == pytest.approx(size.diameter_mm / 2 + belt, abs=1e-6)
        else:
            high = size.diameter_mm - 0.0
            assert solid.minimum_rotated_rectangle.area == pytest.approx(
                size.width_mm * high, rel=1e-6
            )


def test_a_rim_with_rounded_corners_is_rounded(tmp_path):
    changes = ("wheel=form 60", "machine.rack[0].corner_radius=1.5 mm")
    loaded = load_pair(JOB, ROOT / "machines" / "form-xyz.yaml", changes)
    plan = plan_job(*loaded, steel_of(loaded[0].model.steel))
    layers = dxf_layers(produce_drawings(plan, ()).files["section.dxf"], tmp_path)
    wheel = plan.wheel
    solid = shapely.Polygon(layers["WHEEL_A"][0])
    # Property: an opening by a disc of the corners' radius leaves a rounded rim as it is, but for
    # the two square corners far up; the same rim left sharp would lose more.
    opened = solid.buffer(-1.499, quad_segs=400).buffer(1.499, quad_segs=400)
    lost = solid.area - opened.area
    assert lost == pytest.approx(2 * (1 - math.pi / 4) * 1.499**2, abs=0.01)
    assert wheel.corner_radius_mm == 1.5


# --- SVG ------------------------------------------------------------------------------------------


def test_the_svg_is_the_same_drawing_in_millimetres(drawn):
    text = drawn.files["section.svg"].decode()
    size = r'width="([\d.]+)mm" height="([\d.]+)mm"'
    head = re.search(size + r' viewBox="(\S+) (\S+) (\S+) (\S+)"', text)
    assert head
    wide, high, left, top, box_wide, box_high = map(float, head.groups())
    # Property: a unit is a millimetre.
    assert (wide, high) == (box_wide, box_high)
    picture = svgelements.SVG.parse(io.StringIO(text), ppi=25.4, reify=True)
    found: dict[str, list[Any]] = {}
    for group in picture.select(lambda e: isinstance(e, svgelements.Group) and e.id):
        for shape in group:
            if isinstance(shape, svgelements.Path | svgelements.Circle):
                found.setdefault(group.id, []).append(svgelements.Path(shape))
    names = set(drawn.layers) - {"NOTES"}
    assert set(found) >= names
    for name in names:
        if "WHEEL" in name:
            continue
        (ours,), (theirs,) = found[name], drawn.layers[name]
        points = [ours.point(t) for t in np.linspace(0, 1, 1501)]
        line = shapely.LineString([(p.x + left, -(p.y + top)) for p in points])
        # By hand: the reader's millimetre is 5e-7 of itself long; points are 0.04 mm apart.
        for point in shapely.get_coordinates(line):
            assert shapely.Point(point).distance(theirs) < 1e-4


# --- CSV ------------------------------------------------------------------------------------------


def test_the_path_is_that_of_the_program(drawn):
    from planner.produce import programs_for  # noqa: PLC0415
    from planner.report.plan_json import digest, plan_data  # noqa: PLC0415

    programs = programs_for(drawn.plan, digest(plan_data(drawn.plan, ())))
    machine = drawn.plan.machine.model
    unit = 25.4 if machine.controller.units == "inch" else 1.0
    for setup in drawn.plan.setups:
        name = setup.program.replace("setup-", "path-").replace(".ngc", ".csv")
        text = drawn.files[name].decode("ascii")
        headings = text.splitlines()[0].split(",")
        assert headings[2:6] == ["traverse (mm)", "cross (mm)", "infeed (mm)", "tilt (deg)"]
        assert all(re.search(r"\((mm|deg)\)$", h) for h in headings[2:])
        table = np.loadtxt(io.StringIO(text), delimiter=",", skiprows=1, ndmin=2)
        moves = [b for b in read_text(programs[setup.program].decode().splitlines()) if b.moves]
        wanted = []
        for block in moves:
            row = [float(block.number), float(not block.rapid)]
            for role in ("traverse", "cross", "infeed"):
                letter = setup.axes.get(role)
                sign = -unit if letter and machine.axes[letter].invert else unit
                row.append(sign * block.after.get(letter, 0.0) if letter else 0.0)
            if setup.turned is not None:
                # By hand: the way along the arc is radius times angle, inside the other way.
                arc = math.radians(drawn.plan.job.model.blade.edge.radius_mm)
                row[2] = block.after.get("C", 0.0) * arc * (1 if setup.relief.face == "A" else -1)
            wanted.append(row)
        wanted = [w for w in wanted if w[0] in table[:, 0]]
        # Degrees are written with three decimals.
        near = 1e-6 if setup.turned is None else 5e-4
        # The places before all axes are told are not known, and are not in the file.
        assert len(wanted) == len(table) > len(setup.passes)
        assert table[:, :5] == pytest.approx(np.array(wanted), abs=near)
        # The wheel's middle, from plan.json's own frame.
        frame = setup.frame
        middle = (
            np.array(frame.origin_yz_mm)
            + np.outer(table[:, 3], frame.cross_dir_yz)
            + np.outer(table[:, 4], frame.infeed_dir_yz)
        )
        assert table[:, 7:9] == pytest.approx(middle, abs=2e-6)
        # The depths that the program's own comments tell, with four decimals, and the steps by
        # which passes are sent deeper for what has worn off.
        text = programs[setup.program].decode()
        told = [float(d) for d in re.findall(r"^\(pass .* depth ([\d.]+)", text, re.M)]
        more = table[:, 9].max() - max(told)
        assert -1e-4 <= more <= max(setup.compensation_mm) + 1e-4


# --- the command ----------------------------------------------------------------------------------


def draw(*options):
    return run("draw", QUICK, *EASY, *options)


def contents(folder):
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


def test_draw_writes_its_files_twice_alike(tmp_path):
    done = draw("--out", tmp_path / "one")
    assert (done.code, done.err) == (0, "")
    files = contents(tmp_path / "one")
    assert set(files) == {"section.dxf", "section.svg", "path-A.csv"}
    assert draw("--out", tmp_path / "two").code == 0
    assert contents(tmp_path / "two") == files


def test_draw_replaces_drawings_alone_and_only_when_asked(tmp_path):
    out = tmp_path / "out"
    assert draw("--out", out).code == 0
    before = contents(out)
    done = draw("--out", out, "--set", "title=Another")
    assert (done.code, done.out) == (2, "")
    assert "--replace" in done.err
    assert contents(out) == before
    assert draw("--out", out, "--set", "title=Another", "--replace").code == 0
    assert b"Another" in contents(out)["section.dxf"]
    (out / "notes.txt").write_text("mine")
    assert draw("--out", out, "--replace").code == 2
    assert (out / "notes.txt").read_text() == "mine"


def test_neither_command_replaces_what_the_other_wrote(tmp_path):
    assert run("write", QUICK, *EASY, "--out", tmp_path / "written").code == 0
    assert draw("--out", tmp_path / "drawn").code == 0
    before = [contents(tmp_path / name) for name in ("written", "drawn")]
    assert draw("--out", tmp_path / "written", "--replace").code == 2
    assert run("write", QUICK, *EASY, "--out", tmp_path / "drawn", "--replace").code == 2
    assert [contents(tmp_path / name) for name in ("written", "drawn")] == before


def test_a_proof_that_fails_draws_nothing(tmp_path, monkeypatch):
    from planner.gcode.render import program_text  # noqa: PLC0415

    def sabotaged(program, machine):
        return program_text(program, machine).replace("M5\n", "")

    monkeypatch.setattr("planner.produce.program_text", sabotaged)
    done = draw("--out", tmp_path / "out")
    assert (done.code, done.out) == (1, "")
    assert "end-spindle-on" in done.err
    assert list(tmp_path.iterdir()) == []


def test_a_title_cannot_become_markup_or_a_group_code(tmp_path):
    title = "0 & <b> ]]> é 刀 ENDSEC"
    assert draw("--out", tmp_path / "out", "--set", f"title={json.dumps(title)}").code == 0
    files = contents(tmp_path / "out")
    assert b"<b>" not in files["section.svg"]
    layers = dxf_layers(files["section.dxf"], tmp_path)
    assert len(layers["NOTES"]) == 4
    assert title in files["section.dxf"].decode()


def test_a_title_cannot_become_a_control_code(tmp_path):
    # By hand: two percent signs begin a code (%%d is a degree sign), three are a percent sign.
    assert draw("--out", tmp_path / "out", "--set", 'title="5 %%d wide"').code == 0
    text = (tmp_path / "out" / "section.dxf").read_text()
    assert "5 %%%%%%d wide" in text
