"""Where no whole step is allowed, the job is refused in words and nothing crashes."""

import pytest

from planner.errors import RefusedError
from planner.report.refusals import refusal_words
from tests.planning import planned
from tests.samples import a_job, a_machine


@pytest.mark.parametrize(
    "infeed",
    [
        pytest.param({"rough": "0.010 mm", "finish": "0.0005 mm"}, id="finish under one step"),
        pytest.param({"rough": "0.0005 mm", "finish": "0.0005 mm"}, id="both under one step"),
    ],
)
def test_an_infeed_finer_than_one_axis_step_is_refused(infeed):
    with pytest.raises(RefusedError) as refused:
        planned(a_job(), a_machine(rack__0__infeed=infeed))
    assert [r.rule for r in refused.value.refusals] == ["step-over-infeed"]
    # By hand: the axis step is 0.001 mm, twice the infeed of 0.0005 mm.
    assert "0.0010 mm" in refusal_words(refused.value.refusals[0])
    assert "0.0005 mm" in refusal_words(refused.value.refusals[0])
