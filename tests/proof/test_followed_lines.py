"""A relief in lines along an edge that is followed, by programs from closed forms."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.build_case import build_case
from planner.proof.left_by import LeftLines
from planner.proof.prove import prove_program
from planner.proof.verdict import Verdict
from tests.proof.by_hand import RELIEF_MM
from tests.proof.followed_damages import LINE_DAMAGES
from tests.proof.followed_flats import GENTLE, MIDDLING, STRONG
from tests.proof.followed_lines import (
    IN_LINES,
    LAID_IN_LINES,
    Lined,
    crowned,
    laid_in_lines,
    lines_job,
    relief_in_lines,
)
from tests.torus import depth_in_wheel

MAKES: dict[str, tuple[Callable[..., Lined], dict[str, Any], dict[str, Any]]] = {
    "form": (relief_in_lines, GENTLE, IN_LINES),
    "crowned": (crowned, GENTLE, IN_LINES),
    "laid": (laid_in_lines, STRONG, LAID_IN_LINES),
}


def proved(text: str, edge: dict[str, Any], machine: dict[str, Any]) -> Verdict:
    asked = Job.model_validate(lines_job(edge))
    return prove_program(text.encode("ascii"), asked, Machine.model_validate(machine))


@pytest.mark.parametrize("name", MAKES)
def test_a_good_program_is_proved(name):
    make, edge, machine = MAKES[name]
    verdict = proved(make().text(), edge, machine)
    assert not verdict.faults
    assert len(verdict.cuts) == len(make().lines)
    # By hand: at every station the outermost lines touch the arc where it meets the face, and the
    # chords and roundings of 0.3 um move a land by 13 times as much at the most.
    for lands in verdict.lands:
        assert lands.edge_land_mm == pytest.approx(1.2, abs=6e-3)
        assert lands.shoulder_land_mm == pytest.approx(1.4, abs=6e-3)
        # No line stands over the middle: between the two beside it, a ridge of 0.020 mm at most.
        assert RELIEF_MM - 0.0205 < lands.depth_mm < RELIEF_MM + 1e-4


@pytest.mark.parametrize("name", ["form", "crowned"])
@pytest.mark.parametrize("s", [0.0, 15.0, 60.0])
def test_what_a_line_leaves_is_the_deepest_of_its_wheels(name, s):
    make, edge, machine = MAKES[name]
    on = Machine.model_validate(machine)
    wheel = next(w for w in on.rack if w.name == make().wheel)
    case = build_case(Job.model_validate(lines_job(edge)), on, "A", wheel)
    left = case.left[round(s / 60.0 * 16)]
    assert isinstance(left, LeftLines)
    made = make()
    held = made.bevel_rad
    axis = np.array([0.0, math.cos(held), math.sin(held)])
    if made.along:
        axis = np.array([1.0, 0.0, 0.0])
    edge_at, _, y, z = (each[0] for each in made.sections(np.array([s])))
    up = -math.sin(held) * y + math.cos(held) * z
    over = math.cos(held) * y + math.sin(held) * z
    for cross, arc in zip(left.along_mm, left.arcs, strict=True):
        # By hand: its circle of 5 mm touches that of 20 mm at the angle of its place.
        sine = -cross / 15.0
        out = math.sqrt(1.0 - sine**2) * up + sine * over
        along = math.sqrt(1.0 - sine**2) * over - sine * up
        deep = RELIEF_MM - 20.0 + math.sqrt(225.0 - cross**2) + 5.0
        near = s + np.linspace(-3.0, 3.0, 801)
        centres = made.line_centre(near, np.full_like(near, cross), np.full_like(near, deep))
        touched = edge_at + 0.1 * z + (made.zero_mm + cross) * over - deep * up
        touched = touched + 5.0 * (up - out)
        places = np.linspace(-0.5, 0.5, 11)
        starts = touched + places[:, None] * along
        # By halving on each line, from 0.2 mm below the contact, outside, to 3 mm above it, inside.
        away = starts[None] - centres[:, None]
        low, high = np.full(away.shape[:2], -0.2), np.full(away.shape[:2], 3.0)
        for _ in range(40):
            half = (low + high) / 2.0
            points = away + half[..., None] * out
            inside = depth_in_wheel(points, axis, made.wheel_mm, made.rim_mm) > 0.0
            low, high = np.where(inside, low, half), np.where(inside, half, high)
        found = high.min(axis=0)
        # Source: the arc told, about its middle beside the contact; 0.2 um for what is no circle
        # of a strip a millimetre wide, most where the belly ends.
        told = arc.radius_mm - np.sqrt(arc.radius_mm**2 - (places - arc.aside_mm) ** 2)
        assert found == pytest.approx(told - arc.deeper_mm, abs=2e-4)


def test_the_way_back_from_a_line_is_the_way_there():
    # Property: a wheel put at a depth at a place beside the middle is found there.
    on = Machine.model_validate(IN_LINES)
    case = build_case(Job.model_validate(lines_job(MIDDLING)), on, "A", on.rack[2])
    followed = case.followed
    assert followed is not None
    s = np.linspace(-3.0, 63.0, 23)
    for along in (-1.1, 0.0, 0.7):
        there, turns = followed.positions(followed.line.at(s), 0.03, along)
        found = followed.unroll(there, turns)
        assert found.s_mm == pytest.approx(s, abs=1e-6)
        assert found.along_mm == pytest.approx(0.0 * s + along, abs=1e-8)
        assert found.depth_mm == pytest.approx(0.0 * s + 0.03, abs=1e-8)
        # Source: the same positions by the closed form of the programs.
        made = relief_in_lines(radius_mm=110.0)
        inside = (s >= 0.0) & (s <= 60.0)
        told = made.at_line(s, 0.0 * s + along, 0.0 * s + 0.03)
        assert there[inside] == pytest.approx(told[inside], abs=1e-7)


@pytest.mark.parametrize("what", LINE_DAMAGES)
def test_a_damage_is_found_by_the_rule_that_names_it(what):
    edge, machine, damaged, rule = LINE_DAMAGES[what]
    verdict = proved(damaged(), edge, machine)
    assert rule in {fault.rule for fault in verdict.faults}
