"""Schedules of deep work: every limit kept by other arithmetic, and no pass to spare."""

import math
from functools import cache
from typing import Any

import pytest
from scipy.optimize import brentq

from planner.inputs.steels import steel_of
from planner.section.target import section_for
from planner.section.works import works_for
from planner.setup_plan import plan_setups
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
    "blade__section__thickness": "1.8 mm",
    "blade__section__edge_thickness": "0.6 mm",
    "relief__edge_land": "0.8 mm",
    "relief__shoulder_land": "0.8 mm",
    "relief__faces": "A",
    "relief__land_tolerance": "0.3 mm",
    "operations": OPERATIONS,
}
BETA = math.radians(12.5)
SPEED = math.pi * 0.15 * 2850 / 60


SHOPS: dict[str, dict[str, Any]] = {
    "as it is": {},
    "soft": {"stiffness": "300 N/mm"},
    "light": {"limits__normal_force": "9 N"},
    "flooded": {"coolant": {"kind": "flood", "on": "M8", "off": "M9"}},
}


@cache
def bevel(shop="as it is"):
    """The first bevel alone: what follows it is planned as any other work."""
    machine = a_machine(rack=[MACHINE["rack"][0], FLAT], **SHOPS[shop])
    job = a_job(**BAR)
    works = works_for(job, section_for(job, 75.0), machine.rack[0], machine.rack)
    assert [w.name for w in works] == ["bevel-A", "bevel-B", "relief-A"]
    (setup,) = plan_setups(job, machine, steel_of("O1"), works[:1], 1)
    return setup


def area(depth):
    # By hand: a right triangle of height h over its hypotenuse, h^2 / (2 sin b cos b).
    return depth**2 / (2 * math.sin(BETA) * math.cos(BETA))


def test_the_depth_is_that_of_the_bevel():
    setup = bevel()
    # By hand: half of 1.8 mm less 0.6 mm, times cos 12.5 deg.
    assert setup.work.depth_mm == pytest.approx(0.6 * math.cos(BETA))
    assert setup.schedule.shortfall_mm <= 0.25 * setup.depth_tolerance_mm + 0.001


@pytest.mark.parametrize("shop", ["as it is", "soft", "light"])
def test_every_pass_keeps_its_limits_by_other_arithmetic(shop):
    setup = bevel(shop)
    k, limit = {"soft": 300.0}.get(shop, 2000.0), {"light": 9.0}.get(shop, 30.0)
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


def test_a_softer_machine_or_a_lower_force_is_no_quicker():
    # Five per cent: there is no look ahead, so like schedules differ by as much.
    base = bevel().heated.time_s
    assert bevel("soft").heated.time_s >= 0.95 * base
    assert bevel("light").heated.time_s >= 0.95 * base


def test_flood_is_quicker_than_mist():
    assert bevel("flooded").heated.time_s < bevel().heated.time_s


def test_no_pass_is_far_from_its_limits():
    # Property of taking all that holds: where a blade does not wait, its heat, force, power or
    # infeed is nearly used up; light passes are those before a stage's end.
    setup = bevel()
    slack = []
    for one, t in zip(setup.passes, setup.marched.passes, strict=True):
        shares = [
            (t.soak_c - 20) / (setup.marched.soak_limit_c - 20),
            (t.flash_c - 20) / (setup.marched.flash_limit_c - 20),
            one.normal_force_n / 30,
            one.power_w / 600,
        ]
        slack.append(max(shares))
    late = slack[len(slack) // 4 :]
    assert sum(late) / len(late) > 0.8
