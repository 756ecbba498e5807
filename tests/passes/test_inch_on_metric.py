"""Inch words for an axis that steps in millimetres: what a program writes is what must hold."""

import numpy as np
import pytest

from planner.errors import RefusedError
from planner.produce import produce
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import planned, program_lines
from tests.samples import a_job, a_machine

DECIMAL_MM = 0.00254
"""By hand: the fourth decimal of an inch; no multiple of it is one of 0.005 mm that is coarse."""


def shop(force, **changes):
    inch = {"controller__units": "inch", "controller__decimals": 4}
    fine = {"rack__0__infeed": {"rough": "0.04 mm", "finish": "0.01 mm"}, "stiffness": "9000 N/mm"}
    coarse = {"axes__Z__resolution": "0.005 mm", "limits__normal_force": force}
    return a_machine(**{**inch, **fine, **coarse, **changes})


JOB = a_job(relief__land_tolerance="0.6 mm", relief__share_in_tolerance=0)


# Property: whatever binds, the programs of a plan prove, the force of their own words counted.
@pytest.mark.parametrize("force", ["2 N", "3 N", "4 N"])
@pytest.mark.parametrize("step", ["0.003 mm", "0.004 mm"])
def test_a_force_that_binds_holds_as_written(force, step):
    machine = shop(force, axes__Z__resolution=step, rack__0__g_ratio=500)
    try:
        plan = planned(JOB, machine)
    except RefusedError as refused:
        rules = {r.rule for r in refused.refusals}
        told = [refusal_words(r) for r in refused.refusals]
        ways = [way_out_words(w) for r in refused.refusals for w in r.ways_out]
    else:
        rules, told, ways = set(), ["made"], ["none"]
        assert produce(plan, ()).files
    assert rules <= {"rounded-too-far", "no-pass-light-enough"}
    assert all(told)
    assert all(ways)


def test_the_depths_followed_are_those_written():
    cutting = planned(JOB, shop("30 N")).setups[0].heated.cutting
    words = [
        25.4 * float(word[1:])
        for line in program_lines(JOB, shop("30 N"))
        if line.startswith("G1 Z-")
        for word in line.split()
        if word[0] == "Z"
    ]
    sent = [p.commanded_depth_mm for p in planned(JOB, shop("30 N")).setups[0].passes]
    written = [cutting.written_mm(depth) for depth in dict.fromkeys(sent)]
    # By hand: a tilt of 12.5 deg exactly, so depth is infeed; whole decimals of an inch.
    assert np.array(written) == pytest.approx(-np.array(words), abs=1e-9)
    assert [w / DECIMAL_MM for w in written] == pytest.approx(
        [round(w / DECIMAL_MM) for w in written]
    )


def test_steps_that_are_written_whole_are_left_alone():
    cutting = planned(a_job(), a_machine()).setups[0].heated.cutting
    assert cutting.decimal_mm == 0.0
    assert cutting.written_mm(0.01234567) == 0.01234567
