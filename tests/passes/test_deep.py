"""Schedules of deep work: every limit kept by other arithmetic, and no pass to spare."""

import math
from functools import cache

import pytest
from scipy.optimize import brentq

from tests.planning import planned
from tests.samples import MACHINE, a_job, a_machine

FLAT = {
    **{k: v for k, v in MACHINE["rack"][0].items() if k != "g_ratio"},
    "name": "flat",
    "contact": "across_edge",
    "width": "20 mm",
    "infeed": {"rough": "0.020 mm", "finish": "0.005 mm"},
}
OPERATIONS = [{"do": "bevel", "wheel": "flat"}, {"do": "relief"}]
BAR = {
    "blade__section__edge_thickness": "0.6 mm",
    "relief__faces": "A",
    "relief__land_tolerance": "0.3 mm",
    "operations": OPERATIONS,
}
BETA = math.radians(12.5)
SPEED = math.pi * 0.15 * 2850 / 60


@cache
def bevel(**changes):
    plan = planned(a_job(**BAR), a_machine(rack=[MACHINE["rack"][0], FLAT], **changes))
    assert [s.name for s in plan.setups] == ["bevel-A", "bevel-B", "relief-A"]
    return plan.setups[0]


def area(depth):
    # By hand: a right triangle of height h over its hypotenuse, h^2 / (2 sin b cos b).
    return depth**2 / (2 * math.sin(BETA) * math.cos(BETA))


def test_the_depth_is_that_of_the_bevel():
    setup = bevel()
    # By hand: half of 3 mm less 0.6 mm, times cos 12.5 deg.
    assert setup.work.depth_mm == pytest.approx(1.2 * math.cos(BETA))
    assert setup.schedule.shortfall_mm <= 0.25 * setup.depth_tolerance_mm + 0.001


@pytest.mark.parametrize(
    "changes", [{}, {"stiffness": "300 N/mm"}, {"limits__normal_force": "9 N"}]
)
def test_every_pass_keeps_its_limits_by_other_arithmetic(changes):
    setup = bevel(**changes)
    k = float(changes.get("stiffness", "2000 N/mm").split()[0])
    limit = float(changes.get("limits__normal_force", "30 N").split()[0])
    reached = 0.0
    last = 0.0
    for one in setup.passes:
        per_area = 40 * one.feed_mm_min / 60 / (SPEED * 0.4)

        def excess(r, to=one.commanded_depth_mm, begun=reached, per=per_area):
            return k * (to - r) - per * (area(r) - area(begun))

        r = brentq(excess, reached, one.commanded_depth_mm, xtol=1e-14)
        force = per_area * (area(r) - area(reached))
        assert one.reached_depth_mm == pytest.approx(r, abs=1e-9)
        assert one.normal_force_n == pytest.approx(force, rel=1e-6, abs=1e-9)
        assert force <= limit * (1 + 1e-9)
        assert 40 * (area(r) - area(reached)) * one.feed_mm_min / 60 <= 600 * (1 + 1e-9)
        infeed = one.commanded_depth_mm - last
        assert infeed <= (0.020 if one.kind == "rough" else 0.005) + 1e-9
        reached, last = r, one.commanded_depth_mm
    for t in setup.marched.passes:
        assert t.soak_c <= setup.marched.soak_limit_c + 1e-6
        assert t.flash_c <= setup.marched.flash_limit_c + 1e-6


def test_a_step_more_would_break_something():
    setup = bevel()
    # Property of a greedy schedule: each pass names what held it back.
    assert len(setup.binding) == len(setup.passes)
    assert all(setup.binding)
