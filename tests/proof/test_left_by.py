"""The geometry of an edge that is followed: its line, the way back, and what the wheel leaves."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from planner.inputs.edge_curve import CurveEdge
from planner.proof.edge_line import BentLine, CurvedLine, edge_line
from planner.proof.followed import Followed, WheelShape
from planner.proof.frame import touch_frame
from planner.proof.left_by import left_by
from planner.proof.target import Face

CURVES: list[dict[str, Any]] = [
    {"path": "curve", "points": [["0 mm", "4 mm"], ["30 mm", "0 mm"], ["60 mm", "-1 mm"],
                                 ["90 mm", "2 mm"], ["110 mm", "9 mm"]]},
    {"path": "curve", "points": [["0 mm", "0 mm"], ["30 mm", "-3 mm"], ["70 mm", "1 mm"]]},
    {"path": "curve", "arcs": [{"length": "40 mm"}, {"length": "50 mm", "radius": "120 mm"},
                               {"length": "10 mm", "radius": "-60 mm"}]},
]  # fmt: skip


@pytest.mark.parametrize("curve", CURVES)
def test_the_line_is_that_of_the_job_worked_out_otherwise(curve):
    # Source: the same curve by second derivatives, Gauss's rule and Newton's, in the inputs.
    edge = CurveEdge.model_validate(curve)
    line = edge_line(edge)
    assert line is not None
    s = np.linspace(-10.0, edge.length_mm + 10.0, 57)
    other, anchor, mine = edge.at(s), edge.at(line.anchor_mm), line.at(s)
    assert line.length_mm == pytest.approx(edge.length_mm, abs=1e-9)
    assert mine.edge[:, 0] == pytest.approx(other.x_mm - anchor.x_mm, abs=1e-9)
    assert mine.edge[:, 1] == pytest.approx(other.y_mm - anchor.y_mm, abs=1e-9)
    heading = np.arctan2(mine.tangent[:, 1], mine.tangent[:, 0])
    assert heading == pytest.approx(other.heading_rad, abs=1e-10)
    # Property: nowhere does it lie nearer to the traverse than at its anchor.
    assert abs(float(anchor.heading_rad)) <= np.abs(other.heading_rad).min() + 1e-9


def test_of_a_straight_stretch_the_middle_most_place_is_the_anchor():
    # By hand: straight from 0 to 60 mm, a belly after it; the middle of 90 mm is on the stretch.
    pieces = [{"length": "60 mm"}, {"length": "30 mm", "radius": "80 mm"}]
    edge = CurveEdge.model_validate({"path": "curve", "arcs": pieces, "heading": "0 deg"})
    line = edge_line(edge)
    assert line is not None
    assert line.anchor_mm == pytest.approx(45.0, abs=0.02)


def test_the_anchor_may_be_the_end_of_a_straight_stretch():
    # By hand: the stretch lies at -3.36 deg, beyond it the edge turns away; its end, 9.51 mm from
    # the heel, is nearer to the middle at 9.58 mm than any other place of it.
    pieces = [{"length": "9.51 mm"}, {"length": "9.65 mm", "radius": "-355.5 mm"}]
    curve = {"path": "curve", "arcs": pieces, "heading": "-3.36 deg"}
    line = edge_line(CurveEdge.model_validate(curve))
    assert line is not None
    assert line.anchor_mm == pytest.approx(9.51, abs=1e-6)


def face_of(side: int, beta_deg: float) -> Face:
    b = math.radians(beta_deg)
    return Face(
        "A" if side > 0 else "B",
        b,
        (0.0, side * 0.1),
        (math.cos(b), side * math.sin(b)),
        (-math.sin(b), side * math.cos(b)),
        6.0,
    )


def following(line: BentLine | CurvedLine, face: Face, wheel: WheelShape) -> Followed:
    bare = wheel.radius_mm if wheel.along_edge else wheel.rim_mm or 0.0
    frame = touch_frame(face, "end_for_end", line.length_mm, 2.5, bare)
    blank = shapely.box(0.0, -1.0, 20.0, 1.0)
    return Followed(line, face, 2.5, frame, frame.ideal_tilt_deg, wheel, blank)


def radius_by_formula(followed: Followed, s: float, normal_bend: float) -> float:
    """Source: docs/edge-paths.md: k_g = w_gg - w_tg^2 / (w_tt - k_n), second order."""
    at = followed.line.at(np.array([s]))
    n = followed.normals(at)[0]
    t = at.tangent[0]
    g = at.directions(*followed.face.along)[0]
    w, radius, rim = followed.axis, followed.wheel.radius_mm, followed.wheel.rim_mm
    assert rim is not None
    lean = float(n @ w)
    p = (w - lean * n) / math.sqrt(1.0 - lean**2)
    q = np.cross(n, p)
    about = (radius - rim) / math.sqrt(1.0 - lean**2) + rim

    def form(a, b):
        return (a @ p) * (b @ p) / rim + (a @ q) * (b @ q) / about

    return float(1.0 / (form(g, g) - form(t, g) ** 2 / (form(t, t) - normal_bend)))


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    "wheel",
    [
        pytest.param(WheelShape(12.0, 40.0, 8.0, False), id="across"),
        pytest.param(WheelShape(10.0, 8.0, 6.0, True), id="crowned"),
    ],
)
def test_the_envelope_on_a_bend_is_that_of_the_formula(side, wheel):
    # Source: the formula of docs/edge-paths.md, by another route; a shallow cut, so that what is
    # beyond the second order is small.
    line = BentLine(30.0, 30.0 * math.radians(70.0))
    face = face_of(side, 12.0)
    followed = following(line, face, wheel)
    round_mm = 30.0 + face.point(2.5, 0.0)[1]
    for share in (0.0, 0.2, 0.5, 0.9):
        s = share * line.length_mm
        formula = radius_by_formula(followed, s, -side * math.cos(face.bevel_rad) / round_mm)
        found = left_by(followed, s, 0.001, math.sqrt(0.002 * formula))
        assert found.radius_mm == pytest.approx(formula, rel=1e-3)
        assert abs(found.deeper_mm) < 1e-9


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    "wheel",
    [
        pytest.param(WheelShape(75.0, 40.0, 8.0, False), id="across"),
        pytest.param(WheelShape(75.0, 30.0, 10.0, True), id="crowned"),
    ],
)
def test_the_envelope_on_a_belly_is_that_of_the_formula(side, wheel):
    # Source: as above.
    edge = CurveEdge.model_validate(CURVES[0])
    line = edge_line(edge)
    assert isinstance(line, CurvedLine)
    face = face_of(side, 12.0)
    followed = following(line, face, wheel)
    place = face.point(2.5, 0.0)[0]
    for share in (0.1, 0.4, 0.5, 0.9):
        s = share * line.length_mm
        bend = float(edge.at(s).curvature_per_mm)
        normal_bend = -bend / (1.0 - bend * place) * math.sin(face.bevel_rad)
        formula = radius_by_formula(followed, s, normal_bend)
        found = left_by(followed, s, 0.002, math.sqrt(0.004 * formula))
        assert found.radius_mm == pytest.approx(formula, rel=1e-3)


def test_a_round_wheel_leaves_its_own_circle_at_any_heading():
    # By hand: a ball leaves its own radius in every section, whichever way it goes.
    line = edge_line(CurveEdge.model_validate(CURVES[0]))
    assert isinstance(line, CurvedLine)
    followed = following(line, face_of(1, 12.0), WheelShape(20.0, 20.0, 19.0, False))
    for s in (0.0, 30.0, 90.0):
        found = left_by(followed, s, 0.01, 0.6)
        assert found.radius_mm == pytest.approx(20.0, rel=2e-4)


def test_the_way_back_from_a_position_is_the_way_there():
    # Property: a wheel put at a depth at a place is found there, whichever the path.
    lines = [BentLine(30.0, 35.0), edge_line(CurveEdge.model_validate(CURVES[0]))]
    for line in lines:
        assert line is not None
        for side in (1, -1):
            wheel = WheelShape(12.0, 40.0, 5.0, False)
            followed = following(line, face_of(side, 12.0), wheel)  # type: ignore[arg-type]
            s = np.linspace(-4.0, line.length_mm + 4.0, 31)
            for depth in (0.05, 0.0, -5.0):
                there = (followed.centres(line.at(s), depth) - followed.zero) @ followed.dirs.T
                found = followed.unroll(there)
                assert found.s_mm == pytest.approx(s, abs=1e-6)
                assert found.along_mm == pytest.approx(0.0 * s, abs=1e-8)
                assert found.depth_mm == pytest.approx(0.0 * s + depth, abs=1e-9)
