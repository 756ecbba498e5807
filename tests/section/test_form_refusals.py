"""Refusals of a section told of a form wheel, by the radius that it is dressed to."""

import pytest

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.plan import section_fit
from planner.report.refusals import refusal_words, way_out_words
from tests.commands import ROOT


def refused(wheel, **sizes):
    form = {"relief.depth": "0.2 mm", "relief.shoulder_land": "", **sizes}
    changes = [f"{key}={value}" for key, value in form.items()]
    pair = load_pair(
        ROOT / "jobs" / "straight-knife.yaml",
        ROOT / "machines" / "form-xyz.yaml",
        [f"wheel={wheel}", *changes],
    )
    with pytest.raises(RefusedError) as caught:
        section_fit(pair[0].model, pair[1].model)
    return caught.value.refusals


def test_a_form_is_told_by_its_radius():
    for refusal in refused("form 60", **{"relief.depth": "0.9 mm"}):
        facts = refusal.facts
        assert refusal.rule == "wheel-too-large"
        assert (facts["form_radius_mm"], "diameter_mm" in facts) == (60.0, False)
        # By hand: h = 0.9 mm in the room w takes R = (w^2 / 4 + h^2) / (2 h).
        radius = (facts["room_mm"] ** 2 / 4 + 0.81) / 1.8
        assert facts["largest_form_radius_mm"] == pytest.approx(radius, abs=0.011)
        words = refusal_words(refusal)
        assert "a form of 60.00 mm radius opens" in words
        assert f"the largest form radius that fits is {radius - 0.004:.1f}" in words
        assert "120" not in words
        ways = [way_out_words(way) for way in refusal.ways_out]
        assert ways[0].startswith("a form radius of at most ")
        assert not any("belt" in way for way in ways)
