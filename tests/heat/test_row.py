"""The heat of a row of blades: each against a fin of the tests' own, and which is the hottest."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from planner.heat.march import march
from planner.heat.model import heat_model
from planner.kinematics.row import row_of
from tests.heat.rival import Fin
from tests.planning import planned
from tests.samples import a_job, a_machine

ROW = {
    "axes__X__travel": ["-400 mm", "700 mm"],
    "fixture__row": {"positions": ["0 mm", "130 mm", "260 mm"]},
    "rack__0__width": "40 mm",
}
EASY = {"relief__land_tolerance": "0.6 mm", "relief__share_in_tolerance": 0, "quantity": 12}


@cache
def hot(skip=(), temper="75 degC"):
    """A plan that cannot do without dwells, with three stations."""
    return planned(a_job(temper=temper, **EASY), a_machine(**ROW), skip=skip)


@pytest.mark.parametrize("skip", [(), (2,), (1,), (2, 3)])
def test_another_fin_gives_every_blade_the_same_temperatures_within_a_hundredth(skip):
    plan = hot(skip)
    for setup in plan.setups:
        fin = Fin(plan, setup)
        assert any(setup.marched.pauses) or not skip
        for blade in range(setup.row.blades):
            places = [fin.live(s, setup.marched.pauses, blade=blade).hottest_c for s in range(3)]
            rival = np.array(places).max(axis=0)
            ours = np.array([t.by_blade_c[blade] for t in setup.marched.passes])
            # Property: rivals agree; 1 % of the rise above ambient.
            assert np.abs(ours - rival).max() <= 0.01 * (rival - fin.ambient).max()


def test_the_blades_at_the_ends_are_the_hottest():
    for setup in hot().setups:
        # Property: the end where a pass has just turned back is hit again at once.
        for number, one in enumerate(setup.marched.passes[1:], start=1):
            first, middle, last = one.by_blade_c
            near, far = (last, first) if number % 2 else (first, last)
            assert near > far
            assert near > middle
        assert setup.marched.passes[-1].soak_c == max(setup.marched.passes[-1].by_blade_c)


@pytest.mark.parametrize("face", [0, 1])
def test_the_same_passes_need_no_more_pause_in_a_row_than_over_one_blade(face):
    plan = hot((2, 3))
    setup, shop, job = plan.setups[face], plan.machine.model, plan.job.model
    length, depth = job.blade.edge.length_mm, setup.work.depth_mm
    paused, soaks = [], []
    for stations in ((1,), (1, 2), (1, 2, 3)):
        row = row_of(shop, plan.wheel, length, depth, stations)
        # By hand: a pass over more blades takes as much longer as the way is longer at its feed.
        passes = [
            replace(p, time_s=p.time_s + (row.run_mm - length) / p.feed_mm_min * 60)
            for p in setup.passes
        ]
        model = heat_model(
            job, shop, plan.steel, setup.work, heel_first=setup.frame.x_per_traverse > 0, row=row
        )
        marched = march(model, replace(setup.schedule, passes=tuple(passes)))
        assert marched is not None
        paused.append(marched.pause_s)
        soaks.append(marched.passes[-1].soak_c)
    # Property: where the wheel turns back the times are alike, those to everywhere else longer.
    assert paused[0] > 0
    assert paused == sorted(paused, reverse=True)
    assert soaks == sorted(soaks, reverse=True)


def test_a_far_end_may_be_out_by_the_last_bit():
    # 6.79 + 3 - 6.79 is less than 3, as numbers in a computer go.
    assert 6.79 + 3 - 6.79 < 3
    small = {
        "fixture__row": {"positions": ["0 mm", "6.79 mm"]}, "rack__0__width": "2 mm",
        "fixture__run_off": "1 mm", "axes__Z__resolution": "0.005 mm",
        "rack__0__infeed": {"rough": "0.02 mm", "finish": "0.005 mm"},
    }  # fmt: skip
    plan = planned(a_job(blade__edge__length="3 mm", **EASY), a_machine(**small), skip=(1,))
    assert plan.setups[0].row.stations == (2,)


def test_a_blade_takes_less_time_in_a_row_than_by_itself():
    # Property: the wheel's run-off, reversals and pauses are shared.
    assert hot().totals.time_per_blade_s < hot((2, 3)).totals.time_per_blade_s


def test_the_search_knows_the_times_of_a_row():
    plan = hot((2,))
    setup = plan.setups[0]
    cutting = setup.heated.cutting
    assert cutting.heat is not None
    feed_s = cutting.feeds_mm_min[0] / 60
    # By hand: blades at 0 and 260 mm, 80 long; wheel 40, run-off 10. With the wheel down 80 to the
    # end of station 1, 60 of wheel and run-off, 80 over station 3; and one hop.
    down = (10 + 80 + 60 + 80) / feed_s
    contact = cutting.heat.before_s[0, 0] - 10 / feed_s
    hop = sum(cutting.hop_delays_s(cutting.feeds_mm_min[0]))
    assert cutting.heat.before_s[1, 0] == pytest.approx(down + contact + hop)
    # By hand: retract 5.03 mm and come back, across 260 - 80 - 60 = 120 mm at 4000 mm/min.
    across = 120 / (4000 / 60) + (4000 / 60) / 400
    lift = 5 + setup.relief.depth_mm
    up = lift / (800 / 60) + (800 / 60) / 150
    back = lift / (200 / 60) + (200 / 60) / 150
    assert cutting.hops_s == pytest.approx((across + up + back,))
