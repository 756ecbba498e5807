"""A relief in parallel lines inside a face that bulges: arc against arc."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.produce import produce
from planner.report.refusals import refusal_words, way_out_words
from planner.section.line_arcs import Arc
from tests.planning import planned
from tests.samples import GONE, a_job, a_machine

SECTION = {
    "form": "convex_bevel",
    "thickness": "2.6 mm",
    "width": "20 mm",
    "edge_angle": "36 deg",
    "shoulder_angle": "16 deg",
}
SMALL = {"rack__0__diameter": "40 mm", "rack__0__marked_speed": "9000 rpm"}
# By hand: the arc rises 1.3 between 18 and 8 deg; between lands of 1.2 and 1.4 mm it turns by the
# rest of its length over its radius.
RADIUS = 1.3 / (math.cos(math.radians(8)) - math.cos(math.radians(18)))
TURN = RADIUS * math.radians(10) - 2.6
HALF = RADIUS * math.sin(TURN / RADIUS / 2)
BULGE = RADIUS - math.sqrt(RADIUS**2 - HALF**2)


def asked(depth, **changes):
    sizes = {
        "blade__section": SECTION,
        "relief__edge_land": "1.2 mm",
        "relief__shoulder_land": "1.4 mm",
        "relief__depth": f"{depth:.5f} mm",
        "relief__scallop": "0.001 mm",
        "relief__land_tolerance": "0.3 mm",
        "relief__faces": "A",
        "relief__share_in_tolerance": 0,
    }
    return a_job(**{**sizes, **changes})


def test_the_arc_is_as_hollow_as_the_face_leaves_it():
    plan = planned(asked(BULGE + 0.03), a_machine(**SMALL))
    (setup,) = plan.setups
    # By hand: a hollow of 0.03 over the chord, (h^2 + s^2) / 2 s.
    arc = (HALF**2 + 0.03**2) / 0.06
    assert plan.section.wheel_radius_mm == pytest.approx(arc, rel=1e-4)
    assert setup.work.in_lines
    (relief,) = plan.section.reliefs
    assert (relief.edge_land_mm, relief.shoulder_land_mm) == pytest.approx((1.2, 1.4), abs=1e-6)
    # By polygons: what the passes take is the lens of the two discs, but for a ridge, a step and
    # the deflection left, over the chord.
    depth = BULGE + 0.03
    disc = shapely.Point(0.0, arc - depth).buffer(arc, 20000)
    face = shapely.Point(0.0, -RADIUS).buffer(RADIUS, 20000)
    lens = disc.intersection(face).area
    taken = sum(p.removed_area_mm2 for p in setup.passes)
    missing = (max(setup.shortfalls_mm) + 0.001 + 0.001) * 2 * HALF
    assert lens - missing < taken < lens * 1.001
    assert missing < 0.1 * lens
    files = produce(plan, ())
    assert all(v.ok for v in files.verdicts.values())
    for at in files.verdicts["setup-A.ngc"].lands:
        assert (at.edge_land_mm, at.shoulder_land_mm) == pytest.approx((1.2, 1.4), abs=0.05)


def test_lines_lie_inside_the_arc_and_end_on_the_bulge():
    arc = Arc(60.0, 20.0, 0.15, 0.001, RADIUS)
    half = arc.half_chord_mm
    # By hand: over half a chord h two arcs are sqrt(R^2 - h^2) and sqrt(r^2 - h^2) from middles.
    deep = 60.0 - math.sqrt(60.0**2 - half**2) + RADIUS - math.sqrt(RADIUS**2 - half**2)
    assert deep == pytest.approx(0.15, abs=1e-12)
    places = np.array([half])
    for line in arc.lines():
        up = (60.0 - 0.15) - (20.0 - (0.15 - line.back_mm))
        assert math.hypot(line.along_mm, up) == pytest.approx(40.0, abs=1e-9)
    last = arc.lines()[-1]
    low = 0.15 - last.back_mm
    rim = math.sqrt(20.0**2 - (half - last.along_mm) ** 2) - (20.0 - low)
    assert rim == pytest.approx(arc.surface_mm(places)[0], abs=1e-9)


@pytest.mark.parametrize(
    ("depth", "machine", "rule"),
    [
        (BULGE - 0.01, SMALL, "no-hollow-in-bulge"),
        (BULGE + 0.03, {**SMALL, "axes__Y": GONE}, "lines-need-cross"),
        (BULGE + 0.03, {**SMALL, "rack__0__diameter": "300 mm"}, "wheel-over-arc"),
    ],
)
def test_refused_with_the_numbers(depth, machine, rule):
    with pytest.raises(RefusedError) as refused:
        planned(asked(depth), a_machine(**machine))
    assert {r.rule for r in refused.value.refusals} == {rule}
    for refusal in refused.value.refusals:
        assert len(refusal_words(refusal)) > 20
        assert all(way_out_words(w) for w in refusal.ways_out)


@settings(max_examples=4, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.floats(26.0, 44.0),
    st.floats(0.1, 0.8),
    st.floats(0.02, 0.08),
    st.sampled_from(["20 mm", "60 mm"]),
    st.sampled_from(["A", "both"]),
)
def test_random_reliefs_in_lines_are_proved_or_refused_in_words(edge, share, hollow, wheel, faces):
    first, last = math.radians(edge / 2), math.radians(edge / 2 * share)
    radius = 1.3 / (math.cos(last) - math.cos(first))
    half = radius * math.sin(max(radius * (first - last) - 2.6, 0.1) / radius / 2)
    section = {**SECTION, "width": "40 mm", "edge_angle": f"{edge:.4f} deg",
               "shoulder_angle": f"{edge * share:.4f} deg"}  # fmt: skip
    depth = radius - math.sqrt(radius**2 - half**2) + hollow
    job = asked(depth, blade__section=section, relief__faces=faces, relief__scallop="0.002 mm")
    machine = a_machine(**{**SMALL, "rack__0__diameter": wheel}, stiffness="6000 N/mm")
    assert outcome(job, machine)


def outcome(job, machine):
    """Proved, or refused in words."""
    try:
        verdicts = produce(planned(job, machine), ()).verdicts
    except RefusedError as refused:
        return all(len(refusal_words(r)) > 20 for r in refused.refusals)
    return all(v.ok for v in verdicts.values())
