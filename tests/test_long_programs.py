"""A program of many blocks costs no more a block than a short one."""

from __future__ import annotations

import sys
import time
from types import FrameType
from typing import Any

import pytest

from planner.gcode.render import program_text
from planner.proof.prove import prove_program
from tests.long_program import cut_into_blocks, program_of, slow_plan, with_more_passes

SMALL = 600


@pytest.fixture(scope="module")
def plan():
    return slow_plan()


@pytest.fixture(scope="module")
def work(plan):
    """Writing and proving a program of so many blocks, as functions that say whether it proves."""
    job, machine, program = plan.job.model, plan.machine.model, program_of(plan)
    plain = program_text(program, machine)

    def write_and_prove(blocks):
        text = program_text(cut_into_blocks(program, blocks), machine)
        # By hand: the header and the opening are some thirty lines.
        assert blocks * 0.95 < text.count("\n") < blocks + 60
        return prove_program(text.encode(), job, machine).ok

    def prove_passes(blocks):
        text = with_more_passes(plain, 2 * (blocks // 4))
        assert blocks * 0.95 < text.count("\n") < blocks + 60
        return prove_program(text.encode(), job, machine).ok

    return {"cut passes": write_and_prove, "many passes": prove_passes}


def calls_of(function: Any, blocks: int) -> int:
    """How many functions are called, our own and the built-in ones."""
    count = 0

    def counting(_frame: FrameType, event: str, _argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counting)
    try:
        assert function(blocks)
    finally:
        sys.setprofile(before)
    return count


@pytest.mark.parametrize("shape", ["cut passes", "many passes"])
def test_each_block_more_calls_as_many_functions_as_the_one_before(work, shape):
    function = work[shape]
    assert function(SMALL)
    one, two, four = (calls_of(function, n * SMALL) for n in (1, 2, 4))
    # Property: of linear work, twice as many blocks more cost twice as much more.
    assert (four - two) / (two - one) == pytest.approx(2.0, rel=0.1)


@pytest.mark.parametrize("shape", ["cut passes", "many passes"])
def test_eight_times_the_blocks_take_no_more_than_twice_eight_times_the_work(work, shape):
    function = work[shape]

    def least_s(blocks):
        spent = []
        for _ in range(3):
            start = time.process_time()
            assert function(blocks)
            spent.append(time.process_time() - start)
        return min(spent)

    # Property: linear work is 8 times, quadratic 64: a wide margin, in one run, for a busy machine.
    assert least_s(8 * SMALL) < 16 * least_s(SMALL)


def test_a_cut_pass_grinds_what_the_whole_one_grinds(plan):
    job, machine, program = plan.job.model, plan.machine.model, program_of(plan)
    whole = prove_program(program_text(program, machine).encode(), job, machine)
    cut = cut_into_blocks(program, 200)
    pieces = prove_program(program_text(cut, machine).encode(), job, machine)
    assert whole.ok
    assert pieces.ok
    assert len(pieces.positions) > 150 > 30 > len(whole.positions)
    # Property: the same lands and cuts, but for the lines.
    assert pieces.lands == whole.lands
    assert [c.reached_depth_mm for c in pieces.cuts] == [c.reached_depth_mm for c in whole.cuts]
