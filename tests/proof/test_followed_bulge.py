"""A convex bevel from the bar along an edge that is followed, in facets and in lines."""

from __future__ import annotations

import math

import pytest

from planner.inputs.machine import Machine
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from planner.proof.verdict import Verdict
from tests.proof.bulge_by_hand import FACET_RIDGE_MM, FACETS_DEG, RADIUS_MM
from tests.proof.followed_bulge import (
    ON,
    bulge_in_lines,
    bulge_job,
    facet_span_mm,
    followed_facet,
)
from tests.proof.followed_damages import hill


def proved(text: str, wheel: str) -> Verdict:
    return prove_program(text.encode("ascii"), bulge_job(wheel), Machine.model_validate(ON))


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_facet_leans_with_the_flat_that_cannot_yaw(number):
    verdict = proved(followed_facet(number).text(), "flat")
    assert verdict.faults == ()
    # By hand: at the ends of the bend, 60/2 of 400 mm round, the normal leans to the axis by
    # sin cos (1 - cos), and the face lies sin^2 cos + cos^2 along it.
    angle, round_rad = math.radians(FACETS_DEG[number - 1]), 30.0 / 400.0
    n = math.sin(angle) * math.cos(angle) * (math.cos(round_rad) - 1.0)
    along = math.sin(angle) ** 2 * math.cos(round_rad) + math.cos(angle) ** 2
    low, high = facet_span_mm(number)
    off = (high - low) / math.cos(angle) * abs(n) / along
    for at in (verdict.bevels[0], verdict.bevels[4]):
        # The chords leave 0.15 um at the most, and a flank or an edge is cut as much sooner.
        assert at.highest_mm - at.lowest_mm == pytest.approx(off, rel=0.03, abs=2e-4)
    middle = verdict.bevels[2]
    assert middle.highest_mm == pytest.approx(middle.lowest_mm, abs=1e-6)
    if number > 1:
        assert middle.ridge_mm == pytest.approx(FACET_RIDGE_MM, abs=3e-4)


def test_lines_over_a_bulge_leave_their_ridges():
    verdict = proved(bulge_in_lines().text(), "form")
    assert verdict.faults == ()
    # By hand: wheels of 20 mm, their middles 10/3 deg apart on a circle of both radii, cross so far
    # over the arc; the chords and what is rounded up add 0.5 um.
    apart, half = RADIUS_MM + 20.0, math.radians(10.0 / 3.0) / 2.0
    ridge = apart * math.cos(half) - math.sqrt(400.0 - (apart * math.sin(half)) ** 2) - RADIUS_MM
    for at in verdict.bevels:
        assert at.ridge_mm == pytest.approx(ridge, abs=8e-4)
        assert at.gouge_mm < 5e-4
        assert at.edge_thickness_mm == pytest.approx(0.2, abs=6e-4)


@pytest.mark.parametrize(
    ("text", "wheel", "rule"),
    [
        pytest.param(
            lambda: followed_facet(2, spoil=hill(45.0, 0.03, 6.0, 1)).text(),
            "flat",
            Rule.BEVEL_OUT_OF_TOLERANCE,
            id="a facet deeper at one place",
        ),
        pytest.param(
            lambda: followed_facet(2, spoil=hill(60.0, -0.02, 6.0, 1)).text(),
            "flat",
            Rule.RIDGES_TOO_HIGH,
            id="a facet that stands at the tip",
        ),
        pytest.param(
            lambda: bulge_in_lines(3).text(), "form", Rule.RIDGES_TOO_HIGH, id="lines too far apart"
        ),
        pytest.param(
            lambda: bulge_in_lines(spoil=hill(45.0, 0.01, 6.0, len(bulge_in_lines().lines))).text(),
            "form",
            Rule.BELOW_TARGET,
            id="a line deeper at one place",
        ),
    ],
)
def test_a_damage_along_the_bend_is_found(text, wheel, rule):
    assert rule in {fault.rule for fault in proved(text(), wheel).faults}
