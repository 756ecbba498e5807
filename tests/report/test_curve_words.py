"""How an edge curves, in words: by hand."""

import math

import pytest

from planner.inputs.edge_curve import CurveEdge
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.report.curve_words import curve_rows, curve_shape, point_tolerance_mm, shape_words
from planner.report.understood import edge_words
from tests.commands import ROOT, run


def curve(**given):
    return CurveEdge.model_validate({"path": "curve", **given})


def test_bends_of_arcs_are_those_of_the_file():
    # By hand: the figures of the arcs; each is first met where it begins.
    edge = curve(
        arcs=[
            {"length": "20 mm", "radius": "90 mm"},
            {"length": "10 mm"},
            {"length": "20 mm", "radius": "-60 mm"},
            {"length": "20 mm", "radius": "120 mm"},
        ]
    )
    shape = curve_shape(edge)
    assert shape.belly is not None
    assert shape.hollow is not None
    assert shape.belly.radius_mm == pytest.approx(90.0)
    assert shape.belly.x_mm == pytest.approx(0.0, abs=20.0)
    assert shape.hollow.radius_mm == pytest.approx(60.0)
    assert 30.0 <= shape.hollow.x_mm <= 50.0
    # A straight piece between belly and hollow is one change, not two.
    assert shape.inflections == 2
    assert "tightest hollow of radius 60.0 mm" in shape_words(edge)
    assert "from belly to hollow or back 2 times" in shape_words(edge)


def test_a_parabola_is_one_belly_and_a_cubic_turns_once():
    # By hand: y = x²/400 through three points bends 1/200 in its middle, not-a-knot's parabola.
    points = [[f"{x} mm", f"{x * x / 400} mm"] for x in (-20, 0, 20)]
    shape = curve_shape(curve(points=points))
    assert shape.belly is not None
    assert shape.belly.radius_mm == pytest.approx(200.0, rel=1e-4)
    assert shape.hollow is None
    assert shape.inflections == 0
    # By hand: y = x³/40000 bends either way and is straight at 0; a not-a-knot spline is the cubic.
    points = [[f"{x} mm", f"{x**3 / 40000} mm"] for x in (-20, -10, 0, 10, 20)]
    shape = curve_shape(curve(points=points))
    assert shape.inflections == 1
    assert shape.belly is not None
    assert shape.hollow is not None
    steepest = 6 * 20 / 40000 / (1 + (3 * 400 / 40000) ** 2) ** 1.5
    assert shape.belly.radius_mm == pytest.approx(1 / steepest, rel=1e-3)
    assert shape.hollow.x_mm == pytest.approx(0.0, abs=0.05)


def test_how_exact_points_must_be():
    # By hand: the depth tolerance over the sine of the bevel angle.
    files = ROOT / "jobs" / "swept-knife.yaml", ROOT / "machines" / "form-xyz.yaml"
    loaded = load_pair(*files, [])
    job, machine = loaded[0].model, loaded[1].model
    fit = section_fit(job, machine)
    spread = fit.spreads[0]
    angle = math.radians(fit.section.faces[0].angle_deg)
    allowed = job.relief.land_tolerance_mm / spread.land_change_per_depth / math.sin(angle)
    assert point_tolerance_mm(fit.section, spread) == pytest.approx(allowed)
    told = [" ".join(row) for row in curve_rows(job.edge, fit.section, fit.spreads)]
    assert any("each point exact to, by the depth ±" in row for row in told)
    # Arcs are given by their figures, not by points.
    belly = load_pair(ROOT / "jobs" / "belly-knife.yaml", files[1], [])[0].model
    told = [" ".join(row) for row in curve_rows(belly.edge, fit.section, fit.spreads)]
    assert told
    assert not any("exact to" in row for row in told)


def test_check_and_section_tell_it():
    job = ROOT / "jobs" / "swept-knife.yaml"
    belly = load_pair(job, ROOT / "machines" / "form-xyz.yaml", [])[0].model
    assert "tightest" in edge_words(belly)
    assert "Curve of the edge" in run("section", str(job)).out
