"""Every wheel that a job uses is asked: that of the relief, and those of its bevels and lands."""

import math

import numpy as np
import pytest

from planner.errors import RefusedError
from planner.produce import produce
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import planned
from tests.samples import GONE, MACHINE, a_job, a_machine
from tests.test_operations import ALL, BAR, FLAT, FORM

TWO_FORMS = [{**FORM, "form_radius": "30 mm"}, {**FORM, "name": "other", "form_radius": "28 mm"}]


def refused(job, machine):
    with pytest.raises(RefusedError) as caught:
        planned(job, machine)
    for refusal in caught.value.refusals:
        assert refusal_words(refusal)
        assert all(way_out_words(way) for way in refusal.ways_out)
    return caught.value.refusals


def shop(flat=FLAT, **changes):
    rack = [*TWO_FORMS, flat]
    return a_machine(rack=rack, stiffness="6000 N/mm", **changes)


def bar(**changes):
    return a_job(**{**BAR, "operations": ALL, "wheel": GONE, **changes})


# Property: a wheel over its mark is never planned, be it for the bevels or for the lands alone.
@pytest.mark.parametrize("operations", [ALL[:2], ALL[1:], ALL])
def test_a_flat_wheel_over_its_mark_is_refused(operations):
    fast = shop({**FLAT, "marked_speed": "1000 rpm"})
    found = refused(bar(operations=operations), fast)
    # Property: told once, whichever wheel is tried for the relief.
    assert [(r.rule, r.facts["wheel"]) for r in found] == [("over-marked-speed", "flat")]
    (way,) = found[0].ways_out
    # By hand: the flat is on the spindle itself, so at most its own mark.
    assert (way.rule, way.facts) == ("slower-spindle", {"speed_rpm": 1000})


def test_a_wheel_that_no_operation_uses_may_be_over_its_mark():
    idle = {**FLAT, "name": "idle", "marked_speed": "1000 rpm"}
    machine = a_machine(rack=[TWO_FORMS[0], FLAT, idle], stiffness="6000 N/mm")
    assert planned(bar(wheel="fine"), machine).setups


def test_a_flat_wheel_that_is_used_up_is_refused():
    # By hand: of a flat 20 mm wide and 150 mm in diameter, that is thrown away at 100 mm, so much
    # of its side goes: pi/4 (150^2 - 100^2) mm2, times the G ratio times the width of its contact.
    plan = planned(bar(wheel="fine"), shop({**FLAT, "g_ratio": 100}))
    lost = sum(
        sum(p.removed_area_mm2 for p in s.passes)
        * 80.0
        / min(float(s.work.removal.width_mm(np.array(s.work.depth_mm))), 20.0)
        for s in plan.setups
        if s.work.wheel.name == "flat"
    )
    least = lost / (math.pi / 4 * (150.0**2 - 100.0**2))
    enough = {**FLAT, "g_ratio": 1.01 * 100_000 * least}
    assert planned(bar(wheel="fine", quantity=100_000), shop(enough)).setups
    (refusal,) = refused(
        bar(wheel="fine", quantity=100_000), shop({**FLAT, "g_ratio": 0.99 * 100_000 * least})
    )
    assert refusal.rule == "wheel-used-up"
    assert refusal.facts["wheel"] == "flat"
    assert "fewer-blades" in {way.rule for way in refusal.ways_out}


def test_a_reason_names_the_wheel_that_it_is_about():
    # Property: the bevel's flat is the narrow one, whichever form is tried for the relief.
    found = refused(bar(), shop({**FLAT, "width": "2 mm"}))
    narrow = [r for r in found if r.rule == "flat-too-narrow"]
    assert {r.facts["wheel"] for r in narrow} == {"flat"}
    assert "wheel flat grinds 1.00 mm flat" in refusal_words(narrow[0])


def test_a_reason_that_hangs_on_no_wheel_is_told_once_and_of_none():
    fine = a_machine().rack[0].name
    rack = [MACHINE["rack"][0], {**MACHINE["rack"][0], "name": "other", "diameter": "140 mm"}]
    found = refused(a_job(wheel=GONE), a_machine(rack=rack, axes__A__travel=["-45 deg", "12 deg"]))
    # By hand: both bevels of 12.5 deg stand at one tilt, and no wheel changes that.
    assert [r.rule for r in found] == ["travel-too-short"]
    assert fine not in refusal_words(found[0])


COARSE = {"controller__decimals": 4, "axes__Z__repeatability": "0 mm", "fixture__touch_off": "0 mm"}

# By hand: a relief 0.0175 mm deep with its allowance takes two steps of 0.006 or of 0.007 mm and
# ends 0.0055 or 0.0035 mm short; 0.15 mm of land are 0.0030 mm here (0.0075 mm deep, radius 30 mm:
# a depth of d has a chord of 2 sqrt(60 d)). The lands end short by 0.004 and 0.003 mm: the net
# would do.
FALLS_SHORT = {"0.006 mm", "0.007 mm"}


@pytest.mark.parametrize("step", ["0.004 mm", "0.005 mm", "0.006 mm", "0.007 mm"])
def test_a_relief_before_its_lands_is_held_by_itself(step):
    # Property: a plan's programs prove. The relief's own is judged with the allowance taken off,
    # and its lands may not make up for what its whole steps leave.
    operations = [{"do": "relief"}, {"do": "lands", "wheel": "flat", "allowance": "0.01 mm"}]
    flat = {**FLAT, "infeed": {"rough": "0.02 mm", "finish": "0.01 mm"}}
    form = {**FORM, "form_radius": "30 mm", "infeed": {"rough": "0.02 mm", "finish": "0.01 mm"}}
    changes = {"rack": [form, flat], "axes__Z__resolution": step, "stiffness": "60000 N/mm"}
    job = a_job(**{**BAR, "relief__land_tolerance": "0.15 mm"}, operations=operations)
    machine = a_machine(**COARSE, **changes)
    if step in FALLS_SHORT:
        assert {r.rule for r in refused(job, machine)} == {"lands-fall-short"}
    else:
        assert produce(planned(job, machine), ()).files
