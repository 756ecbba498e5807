"""What a grinder would expect when one thing changes: plans move the right way.

Every test is a *Property*: it compares two plans that differ in one figure of the shop.
"""

import pytest

from planner.errors import RefusedError
from planner.passes.conditions import specific_energy_j_mm3
from planner.plan import Plan
from tests.planning import planned
from tests.samples import GONE, a_job, a_machine

SOFT = {"stiffness": "300 N/mm"}
HOT = {"temper": "120 degC"}
BELT = {
    "kind": "belt",
    "rack__0__belt": {"thickness": "1 mm", "length": "1800 mm", "life": "10 mm3/mm2"},
    "rack__0__g_ratio": GONE,
}
WIDE = {"relief__land_tolerance": "0.6 mm"}
LONG_BLADE = {"blade__edge__length": "300 mm"}
FEW_SLOW_PASSES = {
    "spindle__spin_up": "0 s",
    "axes__X__travel": ["-400 mm", "400 mm"],
    "axes__X__max_feed": "2000 mm/min",
    "axes__Z__resolution": "0.004 mm",
    "rack__0__infeed": {"rough": "0.012 mm", "finish": "0.004 mm"},
}


def hottest(plan: Plan) -> float:
    return plan.soak_c


def passes(plan: Plan) -> int:
    return plan.totals.passes


def test_a_dull_belt_is_dull_however_long_it_lasts():
    # By hand: half as much power again when it is due to be retired, its life stated or not.
    wheel = a_machine(**BELT, rack__0__belt__worn=1.0).rack[0]
    assert wheel.belt is not None
    unknown = wheel.model_copy(
        update={"belt": wheel.belt.model_copy(update={"life_mm3_mm2": None})}
    )
    for belt in (wheel, unknown):
        energy = specific_energy_j_mm3(belt)
        assert energy == pytest.approx(1.5 * wheel.specific_energy_j_mm3)


def test_a_dull_belt_pushes_harder_runs_hotter_and_is_no_quicker():
    sharp = planned(a_job(**WIDE), a_machine(**BELT))
    dull = planned(a_job(**WIDE), a_machine(**BELT, rack__0__belt__worn=1.0))
    assert dull.belt_wear is not None
    # By hand: a belt is retired at one and a half times its first energy, 40 J/mm3.
    assert dull.belt_wear.energy_now_j_mm3 == pytest.approx(60.0)
    assert hottest(dull) > hottest(sharp)
    assert dull.setups[0].passes[0].normal_force_n > sharp.setups[0].passes[0].normal_force_n
    assert dull.totals.time_s >= sharp.totals.time_s - 0.1


def test_a_contact_wheel_that_gives_is_in_series_with_the_machine():
    hard = planned(a_job(**WIDE), a_machine(**BELT))
    soft = planned(a_job(**WIDE), a_machine(**BELT, rack__0__belt__wheel_stiffness="500 N/mm"))
    # By hand: 2000 and 500 N/mm in series give 400.
    assert soft.setups[0].softest_n_mm == pytest.approx(400.0)
    assert hard.setups[0].softest_n_mm == pytest.approx(2000.0)
    assert soft.totals.time_s > hard.totals.time_s


def test_a_soft_machine_needs_more_time_and_more_spark_out():
    stiff, soft = planned(a_job(), a_machine()), planned(a_job(), a_machine(**SOFT))
    assert soft.totals.time_s > stiff.totals.time_s
    assert soft.totals.spark_out_passes >= stiff.totals.spark_out_passes
    assert passes(soft) > passes(stiff)


def test_flood_runs_cooler_than_mist_and_mist_than_dry():
    def with_coolant(kind):
        return planned(a_job(), a_machine(coolant={"kind": kind}))

    dry, mist, flood = (with_coolant(k) for k in ("dry", "mist", "flood"))
    assert hottest(flood) < hottest(mist) < hottest(dry)
    assert dry.totals.time_s >= flood.totals.time_s


def test_a_lower_temper_costs_time_and_never_passes_its_limit():
    easy, tight = planned(a_job(), a_machine()), planned(a_job(**HOT), a_machine())
    assert hottest(tight) <= 95.0 + 1e-6  # By hand: 120 less the margin of 25.
    assert tight.totals.time_s >= easy.totals.time_s
    assert any(s.heated.heat_cost_s > 0 for s in tight.setups) or hottest(easy) <= 95.0


def test_more_heat_into_the_blade_makes_it_hotter():
    less = planned(a_job(), a_machine(rack__0__heat_share=0.4))
    more = planned(a_job(), a_machine(rack__0__heat_share=0.8))
    assert hottest(more) > hottest(less)


def test_a_thinner_blade_gets_hotter():
    thick = planned(a_job(), a_machine())
    thin = planned(
        a_job(blade__section__thickness="2.0 mm", relief__edge_land="0.5 mm",
              relief__shoulder_land="0.5 mm", **WIDE),
        a_machine(),
    )  # fmt: skip
    assert hottest(thin) > hottest(thick)


def test_a_blade_without_a_stated_overhang_counts_as_rigid():
    plan = planned(a_job(), a_machine())
    assert plan.setups[0].schedule.stations == ("middle",)
    assert plan.setups[0].uneven_depth_mm == 0.0


def test_a_longer_overhang_gives_more_and_comes_out_less_even():
    short = planned(a_job(**WIDE), a_machine(fixture__overhang="9 mm"))
    long = planned(a_job(**WIDE), a_machine(fixture__overhang="14 mm"))
    assert long.setups[0].softest_n_mm < short.setups[0].softest_n_mm < 2000
    assert long.setups[0].schedule.stations == ("middle", "ends")
    # The ends give more than the middle, so they come out shallower.
    last = long.setups[0].passes[-1].reached_by_station_mm
    assert last[1] <= last[0]
    assert long.totals.time_s >= short.totals.time_s
    # What stays uneven counts in the share of blades in tolerance.
    rigid = planned(a_job(**WIDE), a_machine())
    assert long.share_in_tolerance <= rigid.share_in_tolerance


def test_a_threshold_force_leaves_its_own_residue_and_says_so():
    plan = planned(a_job(**WIDE), a_machine(rack__0__threshold_force="3 N"))
    left = plan.setups[0].schedule.deflection_left_mm
    assert left >= 3 / 2000 - 1e-9  # By hand: 3 N at 2000 N/mm.
    with pytest.raises(RefusedError) as refused:
        planned(a_job(), a_machine(rack__0__threshold_force="20 N"))
    assert refused.value.refusals[0].rule == "threshold-leaves-too-much"


def test_rubbing_counts_as_heat():
    free = planned(a_job(**WIDE), a_machine())
    rubs = planned(a_job(**WIDE), a_machine(rack__0__threshold_force="3 N"))
    assert hottest(rubs) > hottest(free)


def test_a_steel_that_must_not_be_quenched_is_never_dipped():
    # A pass over so long a blade takes longer than a pause, and few passes bring the depth: waiting
    # is worth more than lighter passes.
    tight = {"temper": "80 degC", "relief__land_tolerance": "0.6 mm", **LONG_BLADE}
    dip = {"fixture__cooling": "dip", "fixture__dip_pause": "1 s", **FEW_SLOW_PASSES}
    plan = planned(a_job(**tight), a_machine(**dip))
    kinds = {p.kind for s in plan.setups for p in s.marched.pauses if p}
    assert kinds == {"dip"}
    hss = planned(a_job(**tight, steel="M2"), a_machine(**dip))
    kinds = {p.kind for s in hss.setups for p in s.marched.pauses if p}
    assert kinds == {"air_pause"}
    assert any("no water" in line for line in _messages(hss))
    assert not any("dip" in line for line in _messages(hss))


def _messages(plan: Plan) -> list[str]:
    from planner.produce import programs_for  # noqa: PLC0415

    texts = programs_for(plan, "0" * 64).values()
    return [line for text in texts for line in text.decode().splitlines() if "message" in line]


def test_wear_drifts_a_batch_touched_off_once_and_not_one_touched_off_each_time():
    worn = {"rack__0__g_ratio": 1}
    each = planned(a_job(quantity=12), a_machine(**worn)).wheel_wear
    once = planned(
        a_job(quantity=12, **WIDE), a_machine(**worn, fixture__touch_off_each="batch")
    ).wheel_wear
    assert each is not None
    assert once is not None
    assert list(once.offsets_mm) == sorted(once.offsets_mm)
    assert once.land_growth_mm > 20 * each.land_growth_mm
    assert once.dress_after is not None
    assert each.dress_after is None


def test_a_larger_wheel_moves_its_lands_further():
    small = planned(a_job(**WIDE), a_machine(rack__0__diameter="100 mm"))
    large = planned(a_job(**WIDE), a_machine(rack__0__diameter="180 mm", spindle__speed="2300 rpm"))
    spread = [p.spreads[0].land_change_per_depth for p in (small, large)]
    assert spread[0] < spread[1]
    assert small.share_in_tolerance > large.share_in_tolerance
