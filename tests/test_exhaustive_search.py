"""The schedule found against exhaustive search over the same choices, by independent arithmetic."""

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from planner.formulas.removal import SegmentRemoval
from planner.passes.conditions import Cutting, Stiffness
from planner.passes.search import shortest_schedule

RADIUS = 75.0
STEP = 0.002


def conditions(
    stiffness: tuple[float, ...], force: float, power: float, feeds: tuple[float, ...]
) -> Cutting:
    return Cutting(
        removal=SegmentRemoval(RADIUS),
        surface_speed_m_s=22.0,
        specific_energy_j_mm3=40.0,
        force_ratio=0.4,
        threshold_n=0.0,
        stiffness=Stiffness(
            ("middle", "ends")[: len(stiffness)],
            np.array([0.0, 1.0]),
            np.array([stiffness, stiffness]),
        ),
        rough_infeed_mm=0.006,
        finish_infeed_mm=0.002,
        finish_stock_mm=0.004,
        step_mm=STEP,
        normal_force_limit_n=force,
        power_limit_w=power,
        feeds_mm_min=np.array(feeds),
        feed_limit="axis",
        traverse_length_mm=120.0,
        traverse_acceleration_mm_s2=400.0,
        infeed_feed_mm_min=200.0,
        infeed_acceleration_mm_s2=150.0,
    )


def _area(depth: float) -> float:
    # By hand: a segment of a circle, R^2 (a - sin a cos a), cos a = 1 - h/R.
    half = math.acos(1.0 - depth / RADIUS)
    return RADIUS**2 * (half - math.sin(half) * math.cos(half))


def _time(distance: float, speed: float, acceleration: float) -> float:
    if distance <= 0:
        return 0.0
    if distance < speed**2 / acceleration:
        return 2 * math.sqrt(distance / acceleration)
    return distance / speed + speed / acceleration


@cache
def _pass(commanded: float, reached: float, k: float, feed: float) -> tuple[float, float, float]:
    """Reached depth, normal force and power of a pass, by scipy."""
    per_area = 40.0 * feed / 60 / (22.0 * 0.4)
    if commanded <= reached:
        return reached, 0.0, 0.0
    start = _area(reached)

    def excess(r: float) -> float:
        return float(k * (commanded - r) - per_area * (_area(r) - start))

    r = float(brentq(excess, reached, commanded, xtol=1e-14))
    area = _area(r) - start
    return r, per_area * area, 40.0 * area * feed / 60


def exhaustive(cutting: Cutting, steps: int, allowed: float, most_time: float) -> float:
    """Least time over every sequence of steps and feeds no slower than ``most_time``."""
    ks = [float(k) for k in cutting.stiffness.n_mm[0]]
    rough_until = steps - round(0.004 / STEP)
    best = most_time
    fastest = _time(120.0, max(cutting.feeds_mm_min) / 60, 400.0)

    def go(at: int, reached: tuple[float, ...], spent: float) -> None:
        nonlocal best
        if at == steps and all(steps * STEP - r <= allowed for r in reached):
            best = min(best, spent)
            return
        for ahead in range(4):
            to = at + ahead
            most = 3 if to <= rough_until else 1
            if to > steps or ahead > most or (to == 0):
                continue
            for feed in cutting.feeds_mm_min.tolist():
                cost = _time(120.0, feed / 60, 400.0) + _time(ahead * STEP, 200 / 60, 150.0)
                ahead_still = 0 if to == steps else 1
                if spent + cost + ahead_still * fastest >= best - 1e-9:
                    continue
                cuts = [_pass(to * STEP, r, k, feed) for r, k in zip(reached, ks, strict=True)]
                if max(c[1] for c in cuts) > cutting.normal_force_limit_n:
                    continue
                if max(c[2] for c in cuts) > cutting.power_limit_w:
                    continue
                go(to, tuple(c[0] for c in cuts), spent + cost)

    go(0, (0.0,) * len(ks), 0.0)
    return best


CASES = [
    pytest.param((2000.0,), 30.0, 600.0, 8, 0.001, id="stiff"),
    pytest.param((500.0,), 30.0, 600.0, 7, 0.002, id="soft"),
    pytest.param((2000.0,), 4.0, 600.0, 6, 0.001, id="force binds"),
    pytest.param((2000.0,), 30.0, 30.0, 6, 0.001, id="power binds"),
    pytest.param((1500.0, 700.0), 30.0, 600.0, 7, 0.0015, id="ends give more"),
]


@pytest.mark.parametrize(("stiffness", "force", "power", "steps", "allowed"), CASES)
def test_schedule_is_within_two_percent_of_exhaustive_search(
    stiffness, force, power, steps, allowed
):
    cutting = conditions(stiffness, force, power, (4000.0, 2000.0))
    choices = shortest_schedule(cutting, steps, allowed)
    # The schedule again, by the arithmetic above: every limit is kept, the depth is reached.
    at, reached, spent = 0, [0.0] * len(stiffness), 0.0
    for choice in choices:
        at += choice.steps
        finish = at > steps - 2
        assert choice.steps * STEP <= (0.002 if finish else 0.006) + 1e-12
        cuts = [
            _pass(at * STEP, r, k, choice.feed_mm_min)
            for r, k in zip(reached, stiffness, strict=True)
        ]
        assert max(c[1] for c in cuts) <= force * (1 + 1e-6)
        assert max(c[2] for c in cuts) <= power * (1 + 1e-6)
        reached = [c[0] for c in cuts]
        spent += _time(120.0, choice.feed_mm_min / 60, 400.0)
        spent += _time(choice.steps * STEP, 200 / 60, 150.0)
    assert at == steps
    assert all(steps * STEP - r <= allowed + 1e-9 for r in reached)
    best = exhaustive(cutting, steps, allowed, spent + 1e-6)
    assert best <= spent + 1e-6
    assert spent <= 1.02 * best


def test_a_softer_spring_never_makes_the_schedule_shorter():
    def time_of(k: float) -> float:
        cutting = conditions((k,), 30.0, 600.0, (4000.0, 2000.0))
        return sum(
            _time(120.0, c.feed_mm_min / 60, 400.0) + _time(c.steps * STEP, 200 / 60, 150.0)
            for c in shortest_schedule(cutting, 8, 0.001)
        )

    times = [time_of(k) for k in (300.0, 600.0, 1200.0, 2400.0, 4800.0)]
    # Two per cent: what the search itself may be off by.
    assert all(soft >= stiff * 0.98 for soft, stiff in pairwise(times))


def test_a_limit_eased_is_never_slower():
    base = conditions((800.0,), 5.0, 60.0, (4000.0, 2000.0))
    eased = replace(base, normal_force_limit_n=6.0, power_limit_w=80.0)

    def total(cutting: Cutting) -> float:
        return sum(
            _time(120.0, c.feed_mm_min / 60, 400.0) for c in shortest_schedule(cutting, 8, 0.001)
        )

    assert total(eased) <= total(base) * 1.02


@pytest.mark.parametrize("seed", range(40))
def test_random_small_cases_are_within_two_percent(seed):
    draw = np.random.default_rng(seed)
    stations = int(draw.integers(1, 3))
    k = tuple(float(10 ** draw.uniform(2.6, 3.6)) for _ in range(stations))
    steps = int(draw.integers(5, 9))
    feeds = (4000.0, 2500.0, 1500.0)[: int(draw.integers(2, 4))]
    allowed = float(draw.uniform(0.0008, 0.003))
    cutting = conditions(k, float(draw.uniform(3, 20)), float(draw.uniform(20, 200)), feeds)
    choices = shortest_schedule(cutting, steps, allowed)
    spent = sum(
        _time(120.0, c.feed_mm_min / 60, 400.0) + _time(c.steps * STEP, 200 / 60, 150.0)
        for c in choices
    )
    assert spent <= 1.02 * exhaustive(cutting, steps, allowed, spent + 1e-6)
