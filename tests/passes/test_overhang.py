"""Blades that stick out of their clamp in a way that no plate tells."""

import pytest

from planner.errors import RefusedError
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import planned
from tests.samples import a_job, a_machine


def refusal_of(job, machine):
    with pytest.raises(RefusedError) as refused:
        planned(job, machine)
    (refusal,) = refused.value.refusals
    assert all(way_out_words(way) for way in refusal.ways_out)
    return refusal


# Blunt, so that the relief ends nearer to the edge than the blade is thick.
STUB = {
    "form": "double_bevel",
    "thickness": "6 mm",
    "width": "20 mm",
    "included_angle": "80 deg",
}
SMALL = {
    "faces": "A",
    "edge_land": "0.8 mm",
    "depth": "0.01 mm",
    "land_tolerance": "0.5 mm",
    "share_in_tolerance": 0,
}


def test_a_stub_shorter_than_it_is_thick():
    job = a_job(blade__section=STUB, relief=SMALL)
    refusal = refusal_of(job, a_machine(fixture__overhang="4.0 mm"))
    assert refusal.rule == "overhang-under-thickness"
    # By hand: half of 6 mm over tan 40 deg is 3.58 mm: 4 mm from the edge it is 6 thick.
    assert refusal.facts["thickness_mm"] == pytest.approx(6.0)
    assert "4.00 mm" in refusal_words(refusal)
    assert {w.rule for w in refusal.ways_out} == {"longer-overhang", "no-overhang"}
    # Property: both ways out lead to a plan.
    assert planned(job, a_machine(fixture__overhang="6.5 mm"))
    assert planned(job, a_machine())


def test_a_clamp_over_the_relief():
    refusal = refusal_of(a_job(relief__faces="A"), a_machine(fixture__overhang="4 mm"))
    assert refusal.rule == "clamp-over-relief"
    assert planned(a_job(relief__faces="A"), a_machine(fixture__overhang="12 mm"))


def test_an_edge_too_short_for_its_overhang():
    job = a_job(relief__faces="A", blade__edge__length="3 mm", blade__section__width="60 mm")
    refusal = refusal_of(job, a_machine(fixture__overhang="50 mm"))
    assert refusal.rule == "edge-too-short"
    assert "50" in refusal_words(refusal)
