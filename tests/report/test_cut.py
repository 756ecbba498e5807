"""How it will cut, in words, figures and a picture."""

import json
import math
import re
from xml.etree import ElementTree

import pytest

from planner.inputs.cutting import Cut
from planner.report.cut_data import use_data
from planner.report.cut_picture import cut_svg
from planner.report.cut_words import guided_words
from planner.section.cutting import GuidedRange
from planner.section.target import section_for
from tests.commands import JOB, QUICK, run
from tests.samples import a_job

CUT = Cut()
"""By hand: hollows of 40 to 400 mm."""


@pytest.mark.parametrize(
    ("least", "most", "words"),
    [
        pytest.param(
            -1 / 80, 1 / 66,
            "Guided in hollows of 66.0 mm radius and wider, on flat work, on rounds of 80.0 mm "
            "radius and wider. Of hollows of 40 to 400 mm radius it is guided in those of 66.0 to "
            "400.0 mm.",
            id="flat-bevel",
        ),
        pytest.param(
            1 / 300, 1 / 50,
            "Guided in hollows of 50.0 to 300.0 mm radius. Of hollows of 40 to 400 mm radius it is "
            "guided in those of 50.0 to 300.0 mm.",
            id="convex-bevel",
        ),
        pytest.param(
            -1 / 40, -1 / 80,
            "Guided on rounds of 40.0 to 80.0 mm radius. Of hollows of 40 to 400 mm radius it is "
            "guided in none.",
            id="full-hollow",
        ),
        pytest.param(
            -1.0, 1 / 20,
            "Guided in hollows of 20.0 mm radius and wider, on flat work, on all rounds. Of "
            "hollows of 40 to 400 mm radius it is guided in all.",
            id="narrow",
        ),
    ],
)  # fmt: skip
def test_a_range_in_words(least, most, words):
    # By hand.
    assert guided_words(GuidedRange(least, most), CUT) == words


def test_nothing_in_words():
    # By hand.
    assert guided_words(None, CUT).startswith("Guided on nothing")


def test_the_figures_of_the_example():
    # By hand: b = 1.5 / sin 12.5 deg = 6.930; asin(6.930/800) = 0.496 deg in a bowl of 400.
    data = use_data(a_job(), section_for(a_job(), 75.0))
    assert list(data) == ["cut", "steel_behind_edge", "honing"]
    first, second = data["cut"]["faces"]
    assert (first["face"], second["face"]) == ("A", "B")
    assert first["bevel_mm"] == pytest.approx(6.9303, abs=1e-4)
    in_bowl = next(r for r in first["on"] if r["work"] == "hollow")
    assert in_bowl["radius_mm"] == pytest.approx(400)
    assert in_bowl["angle_deg"] == pytest.approx(0.4964, abs=1e-4)
    assert in_bowl["verdict"] == "guided"
    assert data["cut"]["thresholds"]["basis"] == "common practice, no source"
    assert first["guided"]["to"]["work"] == "hollow"
    # By hand: 6.9303 / (2 sin 3 deg).
    assert first["guided"]["hollows_asked_mm"] == pytest.approx((66.21, 400), abs=0.01)
    assert data["honing"]["each_mm"] == 0.002
    # Property: figures only, so that they can be written.
    json.dumps(data, allow_nan=False)


def test_what_does_not_fit_has_no_figures():
    # By hand: 20 mm do not go into a hollow 16 mm across.
    job = a_job(cut={"bowl": ["8 mm", "100 mm"]})
    last = use_data(job, section_for(job, 75.0))["cut"]["faces"][0]["on"][-1]
    assert last["verdict"] == "does not fit"
    assert last["angle_deg"] is None
    assert "does not fit" in cut_svg(job, section_for(job, 75.0))


def test_the_bowls_of_the_command_line():
    # By hand: 30, 64.6, 139.2 and 300: a factor of the cube root of ten.
    done = run("section", JOB, "--bowl", "30 mm, 300 mm", "--json")
    assert (done.code, done.err) == (0, "")
    rows = json.loads(done.out)["cut"]["faces"][0]["on"]
    hollows = [r["radius_mm"] for r in rows if r["work"] == "hollow"]
    assert hollows == pytest.approx([300, 300 / 10 ** (1 / 3), 30 * 10 ** (1 / 3), 30])
    done = run("section", JOB, "--bowl", "30:300mm", columns=200)
    assert "Of hollows of 30 to 300 mm radius it is guided in those of 66.2 to 300.0" in done.out


@pytest.mark.parametrize(
    "bowl", ["30", "30 mm", "300 mm, 30 mm", "0 mm, 30 mm", "x], y: [", "30:300", "a:b mm"]
)
def test_bowls_that_are_none_are_bad_input(bowl):
    # By hand: no unit, one alone, falling, no radius, no list.
    done = run("section", JOB, "--bowl", bowl)
    assert (done.code, done.out) == (2, "")
    # The option is named, and not the key that it stands for.
    assert done.err.startswith("--bowl:1:1: error [")
    assert "cut.bowl" not in done.err
    assert "--set" not in done.err


def test_a_bowl_without_a_unit_is_answered_with_one():
    done = run("section", JOB, "--bowl", "30:300")
    assert "write 30:300mm" in done.err
    assert done.err.count("error [") == 1


def test_what_is_wrong_beside_the_bowl_keeps_its_name():
    done = run("section", JOB, "--bowl", "300:30mm", "--set", "relief.edge_land=-1 mm")
    assert "--bowl:1:1: error [range-order]" in done.err
    assert "--set:1:18: error [out-of-range] relief.edge_land" in done.err


def test_what_section_says():
    # By hand: see the figures above; the marks of what has no source.
    text = " ".join(run("section", QUICK).out.split())
    assert "How face A will cut" in text
    assert "How face B will cut" in text
    assert text.count("ommon practice, no source") == 2
    assert "rides on the spine" in text or "digs in" in text
    assert re.search(r"honings until it is ground again \d+", text)


def test_the_picture_is_to_scale_and_inside():
    # By hand: 1.5 / sin 12.5 deg = 6.930 from edge to shoulder takes 0.72 of a panel of 330 px.
    job = a_job(title="a <b> & c")
    root = ElementTree.fromstring(cut_svg(job, section_for(job, 75.0)))
    assert root.findtext("{*}title") == "a <b> & c: how it will cut"
    panels = [e for e in root.iter() if e.tag.endswith("}svg")][1:]
    assert len(panels) == 4
    steel = panels[0].findall("{*}polygon")[1].get("points", "").split()
    corners = [tuple(map(float, p.split(","))) for p in steel]
    edge = corners[0]
    scale = 0.72 * 330 / 6.9303
    shoulder = min(corners, key=lambda p: abs(math.dist(p, edge) - 6.9303 * scale))
    assert math.dist(shoulder, edge) == pytest.approx(0.72 * 330, abs=0.1)
    # By hand: on flat work the shoulder is as high as the edge.
    assert shoulder[1] == pytest.approx(edge[1], abs=0.02)
    for panel in panels:
        assert float(panel.get("x", "")) + 330 <= 720
    assert "nan" not in cut_svg(job, section_for(job, 75.0))


def test_unequal_faces_are_drawn_each():
    # By hand: two groups of four.
    job = a_job(relief__faces="A")
    root = ElementTree.fromstring(cut_svg(job, section_for(job, 75.0)))
    panels = [e for e in root.iter() if e.tag.endswith("}svg")][1:]
    assert len(panels) == 8
