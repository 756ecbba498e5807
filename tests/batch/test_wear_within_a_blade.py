"""A wheel that loses whole steps of radius within one blade: kept inside the limits, or refused."""

from functools import cache

import pytest

from planner import worn_plan
from planner.errors import RefusedError
from planner.produce import produce
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import planned
from tests.samples import a_job, a_machine

LIMIT_N = 6.9
STEP_MM = 0.001


def shop(g_ratio, **changes):
    return a_machine(
        rack__0__g_ratio=g_ratio,
        limits__normal_force=f"{LIMIT_N} N",
        rack__0__infeed={"rough": "0.01 mm", "finish": "0.01 mm"},
        **changes,
    )


JOB = a_job(relief__faces="A", relief__share_in_tolerance=0, relief__land_tolerance="0.5 mm")


@cache
def plan_at(g_ratio):
    return planned(JOB, shop(g_ratio))


@pytest.mark.parametrize("g_ratio", [0.004, 0.02, 0.1, 1.0])
def test_made_up_in_whole_steps_and_never_by_more_than_has_worn_off(g_ratio):
    setup = plan_at(g_ratio).setups[0]
    infeeds = [k for k, p in enumerate(setup.passes) if p.kind != "spark_out"]
    assert len(infeeds) >= 2
    for k in infeeds:
        made_up, worn = setup.worn.made_up_mm[k], setup.worn.worn_mm[k]
        # Property: what is left is less than a step, and the wheel is never sent too deep.
        assert -1e-9 <= worn - made_up < STEP_MM
        assert made_up / STEP_MM == pytest.approx(round(made_up / STEP_MM), abs=1e-6)


def test_wear_is_volume_over_the_g_ratio_and_the_rim():
    setup = plan_at(0.02).setups[0]
    removed = 0.0
    for worn, area in zip(setup.worn.worn_mm, setup.worn.areas_mm2, strict=True):
        # By hand: a rim of 20 mm by pi 150 mm loses r mm where removed / G = 20 pi (150 - r) r.
        assert removed / 0.02 == pytest.approx(20 * 3.14159265 * (150 - worn) * worn, rel=1e-6)
        removed += area * 80
    assert setup.worn.worn_mm[-1] > 20 * STEP_MM


def test_force_is_kept_back_for_the_steps_made_up():
    # Property: with a wheel that hardly wears the schedule uses the limit; with one that loses
    # twenty steps it leaves room for them, and the programs prove at the same limit.
    hardly, much = plan_at(1000), plan_at(0.02)
    greatest = [max(p.normal_force_n for p in p.setups[0].passes) for p in (hardly, much)]
    assert greatest[0] > 0.95 * LIMIT_N
    assert greatest[1] <= 0.85 * LIMIT_N
    assert much.setups[0].compensation_mm[-1] >= 10 * STEP_MM
    assert all(verdict.ok for verdict in produce(much, ()).verdicts.values())


def test_where_no_room_can_be_kept_the_job_is_refused_with_the_numbers(monkeypatch):
    monkeypatch.setattr(worn_plan, "HEADROOM", (1.0,))
    with pytest.raises(RefusedError) as refused:
        planned(JOB, shop(0.02))
    (refusal,) = refused.value.refusals
    assert refusal.rule == "wears-too-fast"
    assert refusal.facts["limit"] == "normal force"
    assert float(refusal.facts["share"]) > 1
    assert float(refusal.facts["worn_mm"]) > 20 * STEP_MM
    words = refusal_words(refusal)
    assert "normal force" in words
    assert "0.0010 mm" in words
    assert {way.rule for way in refusal.ways_out} >= {"harder-wheel", "wider-wheel"}
    assert all(way_out_words(way) for way in refusal.ways_out)


def test_a_wheel_used_up_within_the_blade_is_refused():
    with pytest.raises(RefusedError) as refused:
        planned(JOB, shop(0.0002, rack__0__width="1 mm"))
    assert {r.rule for r in refused.value.refusals} == {"wheel-used-up"}
