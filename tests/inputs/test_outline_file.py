"""Sections drawn in DXF and SVG files: the points that were drawn, and what is refused."""

from __future__ import annotations

import hashlib
import io
import math
from pathlib import Path

import pytest
from ezdxf.filemanagement import new

from planner.errors import InputError
from planner.inputs.load import load_job
from planner.inputs.outline_file import DrawingError, drawn_faces

DATA = Path(__file__).parent / "data"
PLAIN = "{form: double_bevel, thickness: 3.0 mm, width: 20 mm, included_angle: 25 deg}"
UPPER = [(0.0, 0.1), (6.0, 1.5), (12.0, 1.6), (20.0, 1.2)]
LOWER = [(0.0, 0.1), (5.0, 0.9), (20.0, 1.0)]
RING = [*UPPER, *((y, -z) for y, z in reversed(LOWER))]


def dxf(draw, unit=4):
    document = new("R2000", units=unit)
    draw(document.modelspace())
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def ring(points=RING, scale=1.0, aside=(0.0, 0.0)):
    moved = [(scale * y + aside[0], scale * z + aside[1]) for y, z in points]
    return lambda space: space.add_lwpolyline(moved, close=True)


def svg(path, head='width="30mm" height="20mm" viewBox="0 -10 30 20"'):
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}><path d="{path}"/></svg>'.encode()


def lines(points=RING):
    def draw(space):
        # Each piece by itself, in a mixed order and every other one the wrong way round.
        pieces = list(zip(points, [*points[1:], points[0]], strict=True))
        for n in [*range(0, len(pieces), 2), *range(1, len(pieces), 2)]:
            start, end = pieces[n] if n % 2 else pieces[n][::-1]
            space.add_line(start, end)
        space.add_text("paring knife")

    return draw


SVG_RING = "M " + " L ".join(f"{y} {-z}" for y, z in RING) + " Z"
SAME = {
    "polyline": (dxf(ring()), "dxf"),
    "polyline the other way round": (dxf(ring(RING[::-1])), "dxf"),
    "begun in the middle": (dxf(ring(RING[3:] + RING[:3])), "dxf"),
    "elsewhere, in inches": (dxf(ring(scale=1 / 25.4, aside=(7.0, -3.0)), unit=1), "dxf"),
    "lines": (dxf(lines()), "dxf"),
    "svg": (svg(SVG_RING), "svg"),
    "svg in cm": (svg(SVG_RING, 'width="3cm" height="2cm" viewBox="0 -10 30 20"'), "svg"),
}


@pytest.mark.parametrize("name", SAME)
def test_the_points_are_those_that_were_drawn(name):
    # Property: one outline, written in many ways.
    data, ending = SAME[name]
    upper, lower = drawn_faces(data, f"knife.{ending}")
    for face, drawn in ((upper, UPPER), (lower, LOWER)):
        assert [x for p in face.points for x in p] == pytest.approx(
            [x for p in drawn for x in p], abs=2e-6
        )
        assert face.radius_mm is None


# By hand: from [0, 0] to [6, 1.3] with a radius of 60, the turn is 2 asin(sqrt(37.69) / 120).
TURN = 2 * math.asin(math.hypot(6, 1.3) / 120)
BULGE = math.tan(TURN / 4)


def arcs(space):
    half_line = (6.0, 1.3, -0.0), (18.0, 1.3, -math.tan(math.pi / 8)), (19.0, 0.3, 0.0)
    under = [(y, -z) for y, z, _ in half_line]
    # Rounded corners of 1 mm at the spine, a quarter turn; the bulge is that of the piece after.
    space.add_lwpolyline(
        [
            (0.0, 0.0, -BULGE),
            *half_line,
            (*under[2], -math.tan(math.pi / 8)),
            (*under[1], 0.0),
            (*under[0], -BULGE),
        ],
        format="xyb",
        close=True,
    )


SVG_ARCS = (
    "M0,0 A60,60 0 0 1 6,-1.3 L18,-1.3 A1,1 0 0 1 19,-0.3 V0.3 A1,1 0 0 1 18,1.3 L6,1.3 "
    "A60,60 0 0 1 0,0 Z"
)


@pytest.mark.parametrize(
    ("data", "ending"), [(dxf(arcs), "dxf"), (svg(SVG_ARCS), "svg")], ids=["dxf", "svg"]
)
def test_arcs_are_bevels_that_bulge_and_rounded_flanks(data, ending):
    for face in drawn_faces(data, f"knife.{ending}"):
        # By hand: the radius drawn; a quarter of a circle about [18, 0.3] behind a level flank.
        assert face.radius_mm == pytest.approx(60.0, abs=1e-4)
        assert [*face.points[1], *face.points[-1]] == pytest.approx([6, 1.3, 19, 0.3], abs=2e-6)
        corner = [p for p in face.points if p[0] > 17.999]
        assert len(corner) > 20
        for y, z in corner:
            assert math.hypot(y - 18, z - 0.3) == pytest.approx(1.0, abs=1e-5)


def test_a_job_takes_its_section_from_a_drawing(tmp_path):
    # Property: the drawing is the points; its digest is that of its bytes.
    text = (DATA / "job.yaml").read_text()
    data = dxf(arcs)
    (tmp_path / "knife.dxf").write_bytes(data)
    (tmp_path / "job.yaml").write_text(text.replace(PLAIN, "{form: outline, file: knife.dxf}"))
    loaded = load_job(tmp_path / "job.yaml")
    section = loaded.model.blade.section
    assert section.form == "outline"
    assert section.faces[0][1] == pytest.approx((6.0, 1.3), abs=1e-9)
    assert section.radii_mm == pytest.approx((60.0, 60.0), abs=1e-6)
    assert section.width_mm == pytest.approx(19.0)
    assert loaded.drawing == ("knife.dxf", hashlib.sha256(data).hexdigest())


# By hand: from [0, 0.1] to [0.4, 0.4], 0.5 mm at 36.87 deg; the bevel from there an arc of 60 mm to
# [6, 1.5], its half turn asin(hypot(5.6, 1.1) / 120); face B a flat back, or its own micro bevel.
MICRO_BULGE = math.tan(math.asin(math.hypot(5.6, 1.1) / 120) / 2)
MICRO_UPPER = [(0.0, 0.1), (0.4, 0.4), (6.0, 1.5), (20.0, 1.2)]


def micro(*under):
    def draw(space):
        bulges = [0.0, -MICRO_BULGE, 0.0, 0.0]
        over = [(*p, b) for p, b in zip(MICRO_UPPER, bulges, strict=True)]
        space.add_lwpolyline([*over, *((*p, 0.0) for p in under)], format="xyb", close=True)

    return draw


SVG_MICRO = "M0,-0.1 L0.4,-0.4 A60,60 0 0 1 6,-1.5 L20,-1.2 V1.2 L5,0.9 L0.6,0.3 L0,0.1 Z"
WITH_MICRO = {
    "dxf": (dxf(micro((20, -1.2), (5, -0.9), (0.6, -0.3), (0, -0.1))), "dxf"),
    "svg": (svg(SVG_MICRO), "svg"),
}


@pytest.mark.parametrize("name", WITH_MICRO)
def test_a_drawn_micro_bevel_has_its_bevel_behind_it(name):
    data, ending = WITH_MICRO[name]
    upper, lower = drawn_faces(data, f"knife.{ending}", micro=True)
    # By hand: the points drawn, and the radius of the second piece.
    under = [(0.0, 0.1), (0.6, 0.3), (5.0, 0.9), (20.0, 1.2)]
    for face, points in ((upper, MICRO_UPPER), (lower, under)):
        assert [x for p in face.points for x in p] == pytest.approx(
            [x for p in points for x in p], abs=2e-6
        )
    assert upper.radius_mm == pytest.approx(60.0, abs=1e-3)
    assert lower.radius_mm is None


def test_a_job_takes_its_micro_bevel_from_a_drawing(tmp_path):
    # By hand: as drawn, 0.5 mm at atan(0.3 / 0.4) on face A; face B, level from the edge, is a flat
    # back without one.
    under = [(20, -0.1), (12, -0.1), (0, -0.1)]
    (tmp_path / "knife.dxf").write_bytes(dxf(micro(*under)))
    said = "{form: outline, file: knife.dxf, first_piece: micro_bevel}"
    text = (DATA / "job.yaml").read_text().replace(PLAIN, said)
    (tmp_path / "job.yaml").write_text(text)
    section = load_job(tmp_path / "job.yaml").model.blade.section
    assert section.form == "outline"
    first, second = section.micro_bevels
    assert first == pytest.approx((math.degrees(math.atan(0.75)), 0.5), abs=1e-6)
    assert second is None
    assert section.radii_mm[0] == pytest.approx(60.0, abs=1e-3)
    assert section.radii_mm[1] is None
    # Property: without the key the same drawing is another blade, whose first piece is the bevel
    # and whose second, an arc, is chords of its flank.
    (tmp_path / "job.yaml").write_text(text.replace(", first_piece: micro_bevel", ""))
    plain = load_job(tmp_path / "job.yaml").model.blade.section
    assert plain.form == "outline"
    assert plain.micro_bevel is None
    assert plain.radii_mm == (None, None)
    assert len(plain.faces[0]) > 10


def test_a_job_may_choose_the_first_piece_from_the_command_line(tmp_path):
    # Property: the drawing is read after what the command line changes.
    (tmp_path / "knife.dxf").write_bytes(WITH_MICRO["dxf"][0])
    text = (DATA / "job.yaml").read_text().replace(PLAIN, "{form: outline, file: knife.dxf}")
    (tmp_path / "job.yaml").write_text(text)
    changes = ["blade.section.first_piece=micro_bevel"]
    section = load_job(tmp_path / "job.yaml", changes).model.blade.section
    assert section.form == "outline"
    assert section.micro_bevel is not None
    assert section.radii_mm[0] == pytest.approx(60.0, abs=1e-3)


@pytest.mark.parametrize(("side", "face"), [(1, "A"), (-1, "B")])
def test_a_drawn_micro_bevel_that_is_an_arc_is_refused(side, face):
    # By hand: the first piece of the face named is an arc.
    def draw(space):
        bent = [(0, 0, -0.05), (0.4, 0.3, 0), (6, 1.5, 0), (20, 1.5, 0)]
        other = [(20, -1.5, 0), (6, -1.5, 0), (0.4, -0.3, 0)]
        mirrored = [(y, side * z, side * bulge) for y, z, bulge in [*bent, *other]]
        space.add_lwpolyline(mirrored, format="xyb", close=True)

    with pytest.raises(DrawingError) as caught:
        drawn_faces(dxf(draw), "knife.dxf", micro=True)
    assert caught.value.rule == "drawing-outline"
    assert f"micro bevel of face {face} that is an arc" in caught.value.given
    # Property: as a bevel that bulges the same arc is read.
    read = drawn_faces(dxf(draw), "knife.dxf")
    assert [f.radius_mm is None for f in read] == [side < 0, side > 0]


def hollow(space):
    space.add_lwpolyline(
        [(0, 0, 0.05), (6, 1.3, 0), (20, 1.3, 0), (20, -1.3, 0), (6, -1.3, 0)],
        format="xyb",
        close=True,
    )


BROKEN = {
    "no dxf": (b"a knife\n", "knife.dxf", "drawing-format"),
    "cut short": (SAME["polyline"][0][:900], "knife.dxf", "drawing-format"),
    "nothing": (b"", "knife.dxf", "drawing-format"),
    "no unit": (dxf(ring(), unit=0), "knife.dxf", "drawing-format"),
    "no svg": (b"<html></html>", "knife.svg", "drawing-format"),
    "torn svg": (svg(SVG_RING)[:-9], "knife.svg", "drawing-format"),
    "svg without a size": (svg(SVG_RING, 'viewBox="0 -10 30 20"'), "knife.svg", "drawing-format"),
    "another kind": (b"", "knife.png", "drawing-format"),
    "empty": (dxf(lambda space: None), "knife.dxf", "drawing-outline"),
    "open": (dxf(lambda s: s.add_lwpolyline(RING)), "knife.dxf", "drawing-outline"),
    "crossing": (
        dxf(ring([(0, 0), (6, 1.5), (20, -1.5), (20, 1.5), (6, -1.5)])),
        "knife.dxf",
        "drawing-outline",
    ),
    "two outlines": (
        dxf(lambda s: (ring()(s), ring(aside=(40.0, 0.0))(s))),
        "knife.dxf",
        "drawing-outline",
    ),
    "circle": (dxf(lambda s: s.add_circle((0, 0), 5)), "knife.dxf", "drawing-outline"),
    "curve": (svg("M0,0 C 2,-1 4,-1.3 6,-1.3 L20,-1.3 V1.3 H6 Z"), "knife.svg", "drawing-outline"),
    "ellipse": (svg("M0,0 A60,40 0 0 1 6,-1.3 L20,-1.3 V1.3 H6 Z"), "knife.svg", "drawing-outline"),
    "pointed spine": (
        dxf(ring([(0, 0), (6, 1), (20, 0), (6, -1)])),
        "knife.dxf",
        "drawing-outline",
    ),
    "hollow": (dxf(hollow), "knife.dxf", "drawing-outline"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_drawing_that_is_no_section_is_refused(name):
    # By hand: each is broken as it is named.
    data, file, rule = BROKEN[name]
    with pytest.raises(DrawingError) as caught:
        drawn_faces(data, file)
    assert caught.value.rule == rule
    assert caught.value.mend


def test_other_faults_of_the_job_come_with_that_of_the_drawing(tmp_path):
    # By hand: the drawing on line 10, the land without a unit on line 13; nothing follows from it.
    text = (DATA / "job.yaml").read_text().replace(PLAIN, "{form: outline, file: knife.dxf}")
    (tmp_path / "job.yaml").write_text(text.replace("edge_land: 1.2 mm", "edge_land: 1.2"))
    (tmp_path / "knife.dxf").write_bytes(BROKEN["open"][0])
    with pytest.raises(InputError) as caught:
        load_job(tmp_path / "job.yaml")
    found = [(p.rule, p.key_path, p.line) for p in caught.value.problems]
    assert found == [
        ("drawing-outline", "blade.section.file", 10),
        ("no-unit", "relief.edge_land", 13),
    ]


def test_a_drawn_face_that_turns_back_is_told_at_the_file(tmp_path):
    # By hand: face A goes back from y = 8 to y = 7.
    back = [(0, 0), (8, 1.5), (7, 2.5), (20, 2.5), (20, -1.5), (8, -1.5)]
    text = (DATA / "job.yaml").read_text().replace(PLAIN, "{form: outline, file: knife.dxf}")
    (tmp_path / "job.yaml").write_text(text)
    (tmp_path / "knife.dxf").write_bytes(dxf(ring(back)))
    with pytest.raises(InputError) as caught:
        load_job(tmp_path / "job.yaml")
    assert [(p.rule, p.line) for p in caught.value.problems] == [("outline-points", 10)]
