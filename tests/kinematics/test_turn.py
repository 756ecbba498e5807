"""A turn about a bend, which a straight edge does not have: it stands at its zero."""

import pytest

from planner.errors import RefusedError
from planner.produce import produce
from planner.proof.prove import prove_program
from planner.report.refusals import refusal_words
from tests.planning import planned
from tests.samples import a_job, a_machine

JOB = a_job(relief__faces="A")


@pytest.mark.parametrize(
    "turn",
    [
        {"settings": ["0 deg"]},
        {"settings": ["-30 deg", "0 deg", "30 deg"]},
        {"range": ["-45 deg", "45 deg"], "resolution": "1 deg"},
    ],
)
def test_a_turn_set_by_hand_is_set_to_zero(turn):
    files = produce(planned(JOB, a_machine(fixture__hand_turn=turn)), ()).files
    assert "Set the turn to 0 deg by hand." in files["setup-A.md"].decode()


@pytest.mark.parametrize(
    "turn", [{"settings": ["15 deg"]}, {"range": ["10 deg", "45 deg"], "resolution": "1 deg"}]
)
def test_where_there_is_no_zero_the_job_is_refused_and_no_program_proves(turn):
    shop = a_machine(fixture__hand_turn=turn)
    with pytest.raises(RefusedError) as refused:
        planned(JOB, shop)
    (refusal,) = refused.value.refusals
    assert refusal.rule == "turn-off-zero"
    assert "0 deg" in refusal_words(refusal)
    program = produce(planned(JOB, a_machine()), ()).files["setup-A.ngc"]
    verdict = prove_program(program, JOB, shop)
    assert [f.rule for f in verdict.faults] == ["impossible-geometry"]


def test_a_powered_turn_is_left_where_it_is():
    axis = {
        "role": "turn",
        "travel": ["-180 deg", "180 deg"],
        "max_feed": "3600 deg/min",
        "acceleration": "300 deg/s2",
    }
    files = produce(planned(JOB, a_machine(axes__B=axis)), ()).files
    assert " B" not in files["setup-A.ngc"].decode().split("G21")[1]
    assert "Axis B turns the blade about a bend: bring it to 0" in files["setup-A.md"].decode()
