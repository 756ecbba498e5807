"""No pass asks for more blocks a second than the controller takes."""

import pytest

from planner.produce import programs_for
from planner.proof.prove import prove_program
from tests.planning import DIGEST, planned
from tests.samples import GONE, a_job, a_machine

SHORT = {
    # By hand: an edge of 4 mm, a wheel of 1 mm and a run-off of 0.5 mm: a pass of 6 mm.
    "fixture__run_off": "0.5 mm",
    "rack__0__width": "1 mm",
    "axes__X__acceleration": "5000 mm/s2",
}


def plan_with(**changes):
    job = a_job(blade__edge__length="4 mm", relief__faces="A")
    return planned(job, a_machine(**SHORT, **changes))


def test_a_short_edge_at_a_high_feed_is_slowed_to_the_block_rate():
    plan = plan_with(controller__block_rate="5 blocks/s")
    # By hand: 6 mm in a fifth of a second are 30 mm/s, 1800 mm/min; the axis does 4000, and
    # sqrt(2 x 5000 x 0.5) = 70.7 mm/s, 4243 mm/min, within the run-off.
    cutting = plan.setups[0].heated.cutting
    assert cutting.feed_limit == "controller"
    assert cutting.feeds_mm_min[0] == 1800.0
    assert max(p.feed_mm_min for p in plan.setups[0].passes) <= 1800.0
    for data in programs_for(plan, DIGEST).values():
        assert prove_program(data, plan.job.model, plan.machine.model).ok


def test_the_proof_refuses_the_feed_that_a_quicker_controller_would_get():
    plan = plan_with()
    cutting = plan.setups[0].heated.cutting
    assert cutting.feed_limit == "axis"
    data = programs_for(plan, DIGEST)["setup-A.ngc"]
    assert prove_program(data, plan.job.model, plan.machine.model).ok
    # By hand: at the feed of the quickest pass, 4000 mm/min, 6 mm last 0.09 s: 11.1 a second.
    slow = a_machine(**SHORT, controller__block_rate="11 blocks/s")
    rules = {f.rule for f in prove_program(data, plan.job.model, slow).faults}
    quickest = max(p.feed_mm_min for p in plan.setups[0].passes)
    assert rules == ({"block-rate"} if quickest > 3960.0 else set())
    assert quickest == 4000.0


@pytest.mark.parametrize(
    ("dialect", "rate", "most"),
    [
        # Source: docs/controllers.md, the rates where the file says none.
        ("rs274ngc", GONE, 500.0),
        ("small", GONE, 250.0),
        ("small", "400 blocks/s", 400.0),
    ],
)
def test_the_rate_is_the_stated_one_or_the_dialects(dialect, rate, most):
    changes = {"axes__A": GONE, "coolant": {"kind": "dry"}, "controller__dialect": dialect}
    machine = a_machine(**changes, controller__block_rate=rate)
    assert machine.controller.blocks_per_s == most
