"""Edges that the straight axes follow: programs from closed forms, good ones and damaged ones."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from planner.proof.verdict import Verdict
from planner.report.faults import fault_words
from tests.proof.conftest import changed
from tests.proof.followed_damages import FOLLOWED_DAMAGES, hill
from tests.proof.followed_programs import (
    BELLY,
    BEND,
    DEPTH_MM,
    LOPSIDED,
    MACHINE,
    TURNING,
    Made,
    belly,
    bend,
    inside,
    job,
    lopsided,
    turning,
)

MAKES: dict[str, tuple[Callable[..., Made], dict[str, Any]]] = {
    "bend": (bend, BEND),
    "inside": (inside, BEND),
    "belly": (belly, BELLY),
    "lopsided": (lopsided, LOPSIDED),
    "turning": (turning, LOPSIDED),
    "turning B": (lambda **c: turning(face="B", **c), LOPSIDED),
}


def proved(name: str, text: str, **changes: Any) -> Verdict:
    make, edge = MAKES[name]
    on = TURNING if name.startswith("turning") else MACHINE
    machine = Machine.model_validate(changed(on, changes))
    asked = Job.model_validate(job(edge, **{"relief.faces": make().face}))
    return prove_program(text.encode("ascii"), asked, machine)


# -- good programs ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", MAKES)
def test_a_good_program_is_proved(name):
    make, _ = MAKES[name]
    verdict = proved(name, make().text())
    assert not verdict.faults
    # By hand: at the anchor the section is the form's own circle. 0.25 um of the chords and a
    # rounding of 0.1 um move a land by 9.2 times as much.
    # Turned, every section is that of the anchor.
    there = verdict.lands if name.startswith("turning") else verdict.lands[2:3]
    for lands in there if name != "lopsided" else ():
        assert lands.edge_land_mm == pytest.approx(1.2, abs=3.5e-3)
        assert lands.shoulder_land_mm == pytest.approx(1.4, abs=3.5e-3)
    for lands in verdict.lands:
        assert lands.depth_mm == pytest.approx(DEPTH_MM, abs=4e-4)


@pytest.mark.parametrize("name", MAKES)
def test_its_air_run_is_proved(name):
    make, _ = MAKES[name]
    assert not proved(name, make(passes=(0.01, 0.02)).text(air_run=True)).faults


def test_the_feed_is_that_of_the_edge():
    # By hand: the middle of the wheel goes (60 + 75) / 60 as far as the edge of the bend.
    cut = proved("bend", bend().text()).cuts[0]
    assert cut.feed_mm_min == pytest.approx(480.0, rel=1e-3)


# -- damages ------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", FOLLOWED_DAMAGES)
def test_a_damage_is_found_by_the_rule_that_names_it(what):
    name, damaged, rule = FOLLOWED_DAMAGES[what]
    verdict = proved(name, damaged())
    assert rule in {fault.rule for fault in verdict.faults}
    for fault in verdict.faults:
        assert fault_words(fault).startswith(f"[{fault.rule}] ")


@pytest.mark.parametrize("written", ["20.9440", "20.9449"])
def test_the_anchor_in_the_header_is_taken_to_its_thousandth(written):
    # By hand: the middle of 60 mm x 40 deg, 60 pi / 9 = 20.94395 mm from the heel.
    zero = f"(zero wheel bares on face A, traverse 0 at {written} mm from heel)\n"
    assert proved("bend", zero + bend().text()).ok


def test_one_quick_block_between_two_stations_is_felt():
    # Property: a limit that the good program keeps by a third is passed by a block seven times as
    # fast, at 56 mm, between the stations at 52.5 and 70 mm.
    text = belly().text()
    most = max(cut.normal_force_n for cut in proved("belly", text).cuts)
    limit = {"limits.normal_force": f"{1.3 * most:.2f} N"}
    lines = text.split("\n")
    at = next(i for i, line in enumerate(lines) if line.startswith("(pass 2 ")) + 60
    feed = lines[at].split("F")[1]
    lines[at] = lines[at].replace(f"F{feed}", f"F{7 * float(feed):.1f}")
    assert "X21." in lines[at]
    assert not proved("belly", text, **limit).faults
    found = {fault.rule for fault in proved("belly", "\n".join(lines), **limit).faults}
    assert found == {Rule.FORCE_TOO_LARGE}


def test_the_place_out_of_tolerance_is_named():
    # Property: hollow too little about the tip, the tip or a section near it is told.
    verdict = proved("belly", belly(spoil=hill(70.0, -0.05, 3.0, 1)).text())
    fault = next(f for f in verdict.faults if f.rule == Rule.LAND_OUT_OF_TOLERANCE)
    assert "tip" in str(fault.facts["station"]) or "6" in str(fault.facts["station"])


def test_a_cross_of_coarse_steps_stays_in_its_pass():
    # By hand: written to 0.01 mm the cross puts the wheel 0.005 cos 12.5 along the face to either
    # side, 0.0098 mm between two blocks: more than the 0.005 mm for chords.
    coarse = re.sub(r" Y(-?[\d.]+)", lambda y: f" Y{float(y[1]):.2f}", belly().text())
    assert Rule.PLUNGE in {fault.rule for fault in proved("belly", coarse).faults}
    assert not proved("belly", coarse, **{"axes.Y.resolution": "0.01 mm"}).faults
    # By hand: five steps apart, it may be 0.049 mm.
    coarser = re.sub(r" Y(-?[\d.]+)", lambda y: f" Y{round(float(y[1]) / 0.05) * 0.05:.2f}", coarse)
    faults = proved("belly", coarser, **{"axes.Y.resolution": "0.01 mm"}).faults
    assert Rule.PLUNGE in {fault.rule for fault in faults}


def test_an_obstacle_stands_where_the_traverse_says():
    # By hand: x of the file counts from the heel, program zero is at the anchor, 20.5 mm from it
    # along the traverse; the wheel reaches 75 mm either way and turns 12 mm past the ends.
    stop = {
        "name": "stop",
        "outline": [["-30 mm", "-9 mm"], ["30 mm", "-9 mm"], ["30 mm", "4 mm"], ["-30 mm", "4 mm"]],
        "from": "90 mm",
        "to": "100 mm",
    }
    found = proved("bend", bend().text(), **{"fixture.obstacles": [stop]})
    assert Rule.OBSTACLE in {fault.rule for fault in found.faults}
    far = {**stop, "from": "200 mm", "to": "210 mm"}
    assert not proved("bend", bend().text(), **{"fixture.obstacles": [far]}).faults


# -- what does not go ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("edge", "wheel", "changes", "why"),
    [
        pytest.param(
            {"path": "bend", "radius": "10 mm", "angle": "80 deg"},
            "inside",
            {},
            "larger than the inside",
            id="a wheel larger than the inside",
        ),
        pytest.param(
            {"path": "bend", "radius": "20 mm", "angle": "175 deg"},
            "form",
            {"relief.faces": "A"},
            "too far round",
            id="an arc too long",
        ),
        pytest.param(
            BELLY, "fine", {"relief.faces": "A"}, "runs into the blade", id="a flat rim on a belly"
        ),
    ],
)
def test_what_does_not_fit_is_impossible(edge, wheel, changes, why):
    # By hand: each is far beyond what fits.
    face = changes.get("relief.faces", "B")
    text = bend().text().replace("setup A face A", f"setup {face} face {face}")
    text = text.replace("(wheel form)", f"(wheel {wheel})")
    asked = Job.model_validate(job(edge, **{"relief.faces": face, **changes}))
    verdict = prove_program(text.encode("ascii"), asked, Machine.model_validate(MACHINE))
    reasons = [str(f.facts.get("reason")) for f in verdict.faults]
    assert any(why in reason for reason in reasons)
