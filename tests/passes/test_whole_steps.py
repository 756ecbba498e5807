"""Whole steps of a tilt that is a hair beside its ideal."""

import itertools

from planner.inputs.load import load_pair
from tests.commands import ROOT
from tests.planning import planned


def test_a_hair_of_tilt_does_not_cost_a_step_of_every_infeed():
    # By hand: 13.094 for 13.0905 deg makes a step 1 + 2e-9 times the axis's 0.001 mm, and twelve of
    # them are still the rough infeed of 0.012 mm.
    job, machine = load_pair(ROOT / "jobs" / "whittling-knife.yaml", None, [])
    plan = planned(job.model, machine.model)
    frame = plan.setups[0].frame
    assert 0.0 < abs(frame.tilt_deg - frame.ideal_tilt_deg) < 0.01
    depths = [0.0, *(p.commanded_depth_mm for p in plan.setups[0].passes)]
    assert max(b - a for a, b in itertools.pairwise(depths)) > 0.0119
