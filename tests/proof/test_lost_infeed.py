"""An infeed that is left out is noticed, down to one of a single last decimal."""

import itertools

import pytest

from planner.proof.prove import prove_program
from tests.planning import program_lines
from tests.samples import GONE, a_job, a_machine

MM = {"controller__decimals": 3, "axes__Z__resolution": "0.001 mm"}
INCH = {
    "controller__units": "inch",
    "controller__decimals": 4,
    "axes__Z__resolution": "0.0001 in",
}
# An infeed of one step: 1 um, and a ten-thousandth of an inch.
WHEELS = {
    "mm": {"rough": "0.004 mm", "finish": "0.001 mm"},
    "inch": {"rough": "0.006 mm", "finish": "0.0026 mm"},
}


@pytest.mark.parametrize("cross", [True, False])
@pytest.mark.parametrize(("units", "controller"), [("mm", MM), ("inch", INCH)])
@pytest.mark.parametrize("g_ratio", [GONE, 300])
def test_each_infeed_left_out_is_a_fault(units, controller, cross, g_ratio):
    changes = {} if cross else {"axes__Y": GONE}
    machine = a_machine(
        **controller, **changes, rack__0__infeed=WHEELS[units], rack__0__g_ratio=g_ratio
    )
    job = a_job(relief__share_in_tolerance=0, relief__land_tolerance="0.8 mm")
    lines = program_lines(job, machine)
    infeeds = [n for n, line in enumerate(lines) if line.startswith("G1 Z-")]
    steps = [float(lines[n].split()[1][1:]) for n in infeeds]
    decimal = 0.001 if units == "mm" else 0.0001
    # Property: there are infeeds of a single last decimal among them.
    assert min(a - b for a, b in itertools.pairwise(steps)) == pytest.approx(decimal)
    assert prove_program("\n".join([*lines, ""]).encode(), job, machine).ok
    for left_out in infeeds:
        kept = [line for n, line in enumerate(lines) if n != left_out]
        verdict = prove_program("\n".join([*kept, ""]).encode(), job, machine)
        assert "claim-contradicted" in {fault.rule for fault in verdict.faults}, lines[left_out]
