"""Bevels and lands by a flat that follows an edge: programs from closed forms, good and damaged."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.build_case import build_case
from planner.proof.left_by import LeftFlat, left_by_flat
from planner.proof.prove import prove_program
from planner.proof.verdict import Verdict
from tests.proof.by_hand import BEVEL, BEVEL_MM, CHORD_MM, FACE_MM, RELIEF_MM
from tests.proof.conftest import changed
from tests.proof.followed_damages import FLAT_DAMAGES
from tests.proof.followed_flats import (
    GENTLE,
    LAID,
    STILL,
    STRONG,
    WHEEL_MM,
    Flat,
    bevel,
    flat_job,
    laid,
    lands,
    lean,
)

MAKES: dict[str, tuple[Callable[[], Flat], dict[str, Any], dict[str, Any]]] = {
    "bevel": (bevel, GENTLE, STILL),
    "bevel B": (lambda: bevel(setup="bevel-B", face="B"), GENTLE, STILL),
    "lands": (lands, GENTLE, STILL),
    "bevel laid": (lambda: laid(bevel()), STRONG, LAID),
    "lands laid": (lambda: laid(lands()), STRONG, LAID),
}


def proved(name: str, text: str, **changes: Any) -> Verdict:
    _, edge, machine = MAKES[name]
    on = Machine.model_validate(changed(machine, changes))
    return prove_program(text.encode("ascii"), Job.model_validate(flat_job(edge)), on)


@pytest.mark.parametrize("name", MAKES)
def test_a_good_program_is_proved(name):
    made, _, _ = MAKES[name]
    verdict = proved(name, made().text())
    assert not verdict.faults
    give = verdict.cuts[-1].commanded_depth_mm - verdict.cuts[-1].reached_depth_mm
    where = range(5) if "laid" in name else (2,)
    for n in where:
        # By hand: as on a straight edge, at the anchor or all along it. 0.25 um of the chords and
        # a rounding of 0.1 um; a land moves 12.6 times as much.
        if "bevel" in name:
            at = verdict.bevels[n]
            thickness = 0.2 + (0.02 + give) / math.cos(BEVEL)
            assert at.edge_thickness_mm == pytest.approx(thickness, abs=4e-4)
            assert at.highest_mm == pytest.approx(give, abs=4e-4)
        else:
            land = verdict.lands[n]
            assert land.edge_land_mm == pytest.approx(1.2, abs=5e-3)
            assert land.shoulder_land_mm == pytest.approx(1.4, abs=5e-3)
            assert land.depth_mm == pytest.approx(RELIEF_MM, abs=4e-4)


def test_a_flat_that_cannot_yaw_leaves_a_face_that_leans():
    verdict = proved("bevel", bevel().text())
    middle = verdict.bevels[2].highest_mm
    for n, heading in ((0, 30.0 / 180.0), (1, 15.0 / 180.0), (3, 15.0 / 180.0), (4, 30.0 / 180.0)):
        at, off = verdict.bevels[n], lean(heading)
        # By hand: from the middle of the face to the shoulder, 0.01 mm up the finished one; 0.25 um
        # of the chords, and as much for the bend of the face.
        beside = FACE_MM / 2.0 - 0.01 / math.tan(BEVEL)
        assert at.highest_mm == pytest.approx(middle + off * beside, abs=4e-4)
        # By hand: to the edge it is 2.8776 mm; there the blade is as much thinner.
        low = FACE_MM / 2.0 - 0.01 * math.tan(BEVEL)
        assert at.lowest_mm == pytest.approx(middle - off * low, abs=4e-4)
        assert at.edge_thickness_mm == pytest.approx(
            verdict.bevels[2].edge_thickness_mm - off * low / math.cos(BEVEL), abs=4e-4
        )


def test_lands_lean_with_the_flat_that_grinds_them():
    at = proved("lands", lands().text()).lands[4]
    off = lean(30.0 / 180.0)

    # By hand: along the face from its middle the plane stands off (p - middle) above it; it meets
    # the circle of 20 mm beside the relief's middle, and the edge and the flank above or below it.
    def height(place: float) -> float:
        return off * (place - FACE_MM / 2.0)

    middle = 1.2 + CHORD_MM / 2.0
    half = [
        math.sqrt((RELIEF_MM + height(end)) * (40.0 - RELIEF_MM)) for end in (1.2, FACE_MM - 1.4)
    ]
    edge = (middle - half[0]) - height(0.0) * math.tan(BEVEL)
    shoulder = (FACE_MM - height(FACE_MM) / math.tan(BEVEL)) - (middle + half[1])
    assert at.edge_land_mm == pytest.approx(edge, abs=5e-3)
    assert at.shoulder_land_mm == pytest.approx(shoulder, abs=5e-3)


@pytest.mark.parametrize("s", [0.0, 15.0, 30.0, 60.0])
@pytest.mark.parametrize("depth", [0.01, BEVEL_MM])
def test_what_a_flat_leaves_is_the_deepest_of_its_cylinders(s, depth):
    job, machine = Job.model_validate(flat_job(STRONG)), Machine.model_validate(STILL)
    case = build_case(job, machine, "bevel-A", machine.rack[2])
    followed = case.followed
    assert followed is not None
    found = left_by_flat(followed, s, depth)
    # By hand: the line down from a place p, x = o + p g - d N, meets the cylinder about an axis w
    # where |x - c - ((x - c) w) w| = R: a quadratic of d.
    made = bevel(radius_mm=62.0)
    s_near = s + np.linspace(-12.0, 12.0, 6001)
    c = made.centre(s_near, np.full_like(s_near, depth))
    w = np.array([0.0, math.cos(BEVEL), math.sin(BEVEL)])
    edge, _, y, z = (each[0] for each in made.sections(np.array([s])))
    n = -math.sin(BEVEL) * y + math.cos(BEVEL) * z
    g = math.cos(BEVEL) * y + math.sin(BEVEL) * z
    touched = edge + 0.1 * z + (FACE_MM / 2.0) * g + (BEVEL_MM + 0.01) * n
    for place in (-4.0, -2.5, -1.0, 0.0, 1.0, 2.5, 4.0):
        off = touched + place * g - c
        across = off - (off @ w)[:, None] * w
        down = -(n - (n @ w) * w)
        a, b = down @ down, across @ down
        root = b * b - a * (np.sum(across**2, axis=1) - WHEEL_MM**2)
        deepest = np.max((-b + np.sqrt(np.maximum(root, 0.0))) / a)
        there = np.interp(place, found.places_mm, found.deeper_mm)
        # Straight between places 0.2 mm apart, where the face bends by 1 / m.
        assert there == pytest.approx(deepest - depth, abs=1e-5)


def test_a_tilt_beside_the_ideal_leans_at_the_anchor_too():
    # By hand: 0.2 deg; at the shoulder of the face so far, as on a straight edge.
    text = bevel(tilt_deg=10.2).text()
    at = proved("bevel", text, **{"axes.A.resolution": "3.4 deg"}).bevels[2]
    touched = math.sin(BEVEL) + BEVEL_MM * math.sin(math.radians(0.2))
    beside = FACE_MM - 0.01 / math.tan(BEVEL) - touched
    assert at.highest_mm == pytest.approx(beside * math.tan(math.radians(0.2)), abs=3e-3)


@pytest.mark.parametrize("what", FLAT_DAMAGES)
def test_a_damage_is_found_by_the_rule_that_names_it(what):
    edge, machine, damaged, rule = FLAT_DAMAGES[what]
    job, on = Job.model_validate(flat_job(edge)), Machine.model_validate(machine)
    verdict = prove_program(damaged().encode("ascii"), job, on)
    assert rule in {fault.rule for fault in verdict.faults}


def test_a_flat_leans_alike_to_both_sides_of_the_anchor():
    job, machine = Job.model_validate(flat_job(STRONG)), Machine.model_validate(STILL)
    left = build_case(job, machine, "bevel-A", machine.rack[2]).left
    assert len(left) == 17
    # Property: the belly mirrors itself, and leans the more the further from the anchor.
    for one, other in zip(left, reversed(left), strict=True):
        assert isinstance(one, LeftFlat)
        assert isinstance(other, LeftFlat)
        assert one.deepest_mm(-2.0, 2.0) == pytest.approx(other.deepest_mm(-2.0, 2.0), abs=1e-7)
    leans = [each.deepest_mm(-2.0, 2.0) for each in left if isinstance(each, LeftFlat)]
    assert all(np.diff(leans[8:]) > 0.0)
