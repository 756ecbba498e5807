"""The march of the heat and its pauses, against a fin of the tests' own (tests/heat/rival.py)."""

import math
import os
import random
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from planner.errors import RefusedError
from planner.formulas import fin_heat
from planner.heat.march import Pause
from planner.heat.model import active_width_mm, heat_model
from planner.inputs.load import load_pair
from planner.inputs.steels import steel_of
from planner.plan import plan_job
from tests.heat.rival import Fin
from tests.planning import planned
from tests.samples import GONE, a_job, a_machine

ROOT = Path(__file__).parent.parent.parent
THOROUGH = bool(os.environ.get("BEVELWRIGHT_THOROUGH"))
WIDE = {"relief__land_tolerance": "0.6 mm"}
DIPS = {
    "fixture__cooling": "dip",
    "fixture__dip_pause": "1 s",
    "spindle__spin_up": "0 s",
    "axes__X__travel": ["-400 mm", "400 mm"],
    "axes__X__max_feed": "2000 mm/min",
    "axes__Z__resolution": "0.004 mm",
    "rack__0__infeed": {"rough": "0.012 mm", "finish": "0.004 mm"},
}
"""Few and slow passes, so that a pause is worth it."""


@cache
def example(name):
    job, machine = load_pair(ROOT / "jobs" / f"{name}.yaml")
    return plan_job(job, machine, steel_of(job.model.steel))


@cache
def dipped(steel="O1"):
    job = a_job(temper="80 degC", steel=steel, blade__edge__length="300 mm", **WIDE)
    return planned(job, a_machine(**DIPS))


@cache
def waiting():
    """A plan that cannot do without dwells."""
    return planned(a_job(temper="75 degC", **WIDE), a_machine(rack__0__width="40 mm"))


def pauses_of(plan):
    return [p for s in plan.setups for p in s.marched.pauses if p]


@pytest.mark.parametrize(
    "plan",
    [
        pytest.param(lambda: example("straight-knife"), id="straight, faces A and B"),
        pytest.param(lambda: example("detail-knife"), id="detail, with spark-out"),
        pytest.param(dipped, id="dipped"),
        pytest.param(waiting, id="dwells"),
    ],
)
def test_another_fin_gives_the_same_temperatures_within_a_hundredth(plan):
    plan = plan()
    for setup in plan.setups:
        fin = Fin(plan, setup)
        for station in range(3):
            rival = np.array(fin.live(station, setup.marched.pauses).hottest_c)
            ours = np.array([t.by_station_c[station] for t in setup.marched.passes])
            # Property: rivals agree; 1 % of the rise above ambient.
            assert np.abs(ours - rival).max() <= 0.01 * (rival - fin.ambient).max()


def test_the_softening_share_is_the_rivals_history_summed_up():
    plan = example("detail-knife")
    setup = plan.setups[0]
    shares = []
    for station in range(3):
        lived = Fin(plan, setup).live(station, setup.marched.pauses, steps=60)
        kelvin, time = np.array(lived.highest_c) + 273.15, np.array(lived.time_s)
        limit = setup.marched.soak_limit_c + 273.15
        # Hollomon & Jaffe with C = 20: an hour at the limit has log t = 0.
        rate = 10 ** (20 * limit * (1 / limit - 1 / kelvin))
        shares.append(float(np.sum((rate[1:] + rate[:-1]) / 2 * np.diff(time))) / 3600)
    # The rate rises tenfold in some 25 K, so 1 % of the rise is 15 % of the rate.
    assert setup.marched.softening_share == pytest.approx(max(shares), rel=0.15)


def test_the_end_where_the_wheel_turns_back_is_hit_twice_in_a_row():
    first, second = example("straight-knife").setups
    # Turned end for end, the second face is first entered at the tip.
    assert (first.frame.x_per_traverse, second.frame.x_per_traverse) == (1, -1)
    heel, middle, tip = first.marched.passes[1].by_station_c
    assert tip > middle > heel
    heel, middle, tip = second.marched.passes[1].by_station_c
    assert heel > middle > tip


def test_spark_out_heats_the_blade():
    setup = example("detail-knife").setups[0]
    spark_out = [p for p in setup.passes if p.kind == "spark_out"]
    assert spark_out
    fin = Fin(example("detail-knife"), setup)
    lived = fin.live(1, setup.marched.pauses)
    # Property: in each of them the section is hotter than the moment before the wheel arrives.
    for one, t in zip(setup.passes, setup.marched.passes, strict=True):
        if one.kind == "spark_out":
            assert one.power_w > 0
            assert t.flash_c > t.soak_c > fin.ambient
    assert len(lived.hottest_c) == len(setup.passes)


def test_rubbing_is_as_much_power_as_force_times_speed():
    plan = planned(a_job(**WIDE), a_machine(rack__0__threshold_force="3 N"))
    last = plan.setups[0].passes[-1]
    # By hand: F_t v = 0.4 F_n v, cut or rubbed, v = pi 0.15 m 2850/60 s.
    speed = math.pi * 0.15 * 2850 / 60
    assert last.power_w == pytest.approx(0.4 * last.normal_force_n * speed, rel=1e-9)
    assert last.normal_force_n >= 3.0


def test_energy_is_kept_through_a_whole_schedule():
    plan = example("detail-knife")
    job, machine = plan.job.model, plan.machine.model
    setup, length = plan.setups[0], plan.job.model.blade.edge.length_mm
    model = heat_model(job, machine, plan.steel, setup.work)
    depth = np.array([p.reached_depth_mm for p in setup.passes])
    feed = np.array([p.feed_mm_min for p in setup.passes])
    power = np.array([p.power_w for p in setup.passes])
    active = active_width_mm(plan.wheel, machine, feed)
    operator, flux = model.operator(depth), model.flux(depth, power, active)
    pulses = fin_heat.pass_pulses(
        [0.0, length / 2, length], length, plan.wheel.width_mm, active,
        machine.fixture.run_off_mm, feed / 60, len(depth), pause_s=0.3,
    )  # fmt: skip
    heat = fin_heat.heat_of_passes(operator, flux, pulses)
    # By hand: the share 0.85 of the pass's power for as long as the active width covers a station.
    brought = 0.85 * power / (feed / 60)
    assert heat.heat_in_j_mm == pytest.approx(np.tile(brought[:, None], 3), rel=1e-9)
    following = np.concatenate([heat.before_k[1:], heat.end_k[None]])
    for number in range(len(depth)):
        section = operator.section(number)
        more = section.energy_j_mm(following[number]) - section.energy_j_mm(heat.before_k[number])
        lost = heat.film_loss_j_mm[number] + heat.clamp_loss_j_mm[number]
        # Property: heat in = heat held more + heat lost, to 1e-6.
        assert more + lost == pytest.approx(heat.heat_in_j_mm[number], rel=1e-6)


def test_pauses_are_the_shortest_that_hold():
    plan = waiting()
    assert pauses_of(plan)
    for setup in plan.setups:
        fin, pauses = Fin(plan, setup), setup.marched.pauses
        for number, pause in enumerate(pauses):
            if pause is None:
                continue
            assert pause.kind == "dwell"
            # Property: tenths of a second, and 0.2 s less would pass a limit; what 0.2 s is worth
            # is the rival's to say.
            assert pause.seconds * 10 == pytest.approx(round(pause.seconds * 10))
            shorter = list(pauses)
            less = max(pause.seconds - 0.2, 0.0)
            shorter[number] = Pause("dwell", less) if less else None
            gained = max(
                fin.live(s, shorter, steps=60).hottest_c[number]
                - fin.live(s, pauses, steps=60).hottest_c[number]
                for s in range(3)
            )
            heat = setup.marched.passes[number]
            assert gained > 0
            assert (
                heat.soak_c + gained > setup.marched.soak_limit_c
                or heat.flash_c + gained > setup.marched.flash_limit_c
            )


def test_a_steel_that_bears_water_is_dipped_and_one_that_does_not_waits():
    # 1095 and O1 may be dipped by the steel table, M2 may not.
    assert {p.kind for p in pauses_of(dipped())} == {"dip"}
    # By hand: the dip is as long as the profile says, a stop in air as long as it must be.
    assert {p.seconds for p in pauses_of(dipped())} == {1.0}
    assert {p.kind for p in pauses_of(dipped("M2"))} == {"air_pause"}
    assert all(p.seconds == round(p.seconds) >= 1 for p in pauses_of(dipped("M2")))


def _hot_jobs(seeds):
    """Jobs that heat holds back in all sorts of ways."""
    for seed in seeds:
        rng = random.Random(seed)
        dip = seed % 3 == 0
        machine = {
            "fixture__cooling": "dip" if dip else "air",
            "fixture__dip_pause": f"{rng.choice([0.5, 1, 3, 15])} s",
            "fixture__run_off": f"{rng.choice([4, 10])} mm",
            "spindle__spin_up": f"{rng.choice([0, 5])} s",
            "stiffness": f"{rng.choice([200, 400, 1000, 3000])} N/mm",
            "coolant": {"kind": rng.choice(["dry", "mist", "flood"])},
            "axes__Z__resolution": "0.002 mm",
            "axes__X__travel": ["-400 mm", "400 mm"],
            "limits__normal_force": "100 N",
            "rack__0__specific_energy": f"{rng.choice([30, 50, 80])} J/mm3",
            "rack__0__infeed": {"rough": "0.02 mm", "finish": "0.006 mm"},
            "rack__0__width": f"{rng.choice([8, 20, 40])} mm",
            "rack__0__active_width": rng.choice([GONE, "6 mm"]),
            "rack__0__diameter": f"{rng.choice([80, 150])} mm",
            "fixture__overhang": rng.choice([GONE, GONE, "9 mm"]),
        }
        job = {
            "steel": "O1" if dip else rng.choice(["O1", "M2"]),
            "temper": f"{rng.choice([65, 70, 80] if dip else [80, 100, 120, 150])} degC",
            "relief__shoulder_land": f"{rng.choice([0.6, 1.0, 1.6])} mm",
            "relief__edge_land": f"{rng.choice([0.4, 0.8, 1.2])} mm",
            "relief__min_steel_left": "0.05 mm",
            "blade__edge__length": f"{rng.choice([40, 150, 300])} mm",
        }
        yield a_job(**job, **WIDE), a_machine(**machine)


def test_no_plan_breaks_its_limits_of_heat():
    kinds: set[str] = set()
    for job, machine in _hot_jobs(range(200) if THOROUGH else (0, 2, 12, 15)):
        try:
            plan = planned(job, machine)
        except RefusedError:
            continue
        for setup in plan.setups:
            marched = setup.marched
            kinds |= {p.kind for p in marched.pauses if p}
            for t in marched.passes:
                assert t.soak_c <= marched.soak_limit_c + 1e-6
                assert t.flash_c <= marched.flash_limit_c + 1e-6
            fin = Fin(plan, setup)
            for station in range(3):
                rise = np.array(fin.live(station, marched.pauses).hottest_c) - fin.ambient
                # Another fin, 2 % of the rise for two meshes.
                assert rise.max() <= 1.02 * (marched.soak_limit_c - fin.ambient)
    assert kinds >= {"dip", "dwell"}
