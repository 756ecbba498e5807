"""A blank that is bent after the grind, from the job to proved programs: what the proof finds."""

import pytest

from planner.inputs.load import load_pair
from planner.produce import produce
from planner.proof.prove import prove_program
from planner.proof.rules import Rule
from tests.commands import ROOT
from tests.planning import planned

JOB = ROOT / "jobs" / "blank-hook-knife.yaml"
MACHINE = ROOT / "machines" / "turn-xyzc.yaml"


def models(*changes):
    job, machine = load_pair(JOB, MACHINE, ["wheel=fine 100", *changes])
    return job.model, machine.model


@pytest.fixture(scope="module")
def made():
    plan = planned(*models())
    return plan, produce(plan, ()).files


def test_the_blank_lies_along_the_traverse(made):
    # By hand: 31.25 mm of radius and 110 deg are 59.9957 mm; the turn stands still.
    plan, files = made
    for setup in plan.setups:
        assert setup.turned is None
        text = files[setup.program].decode("ascii")
        assert "G93" not in text
        verdict = prove_program(files[setup.program], plan.job.model, plan.machine.model)
        assert verdict.ok
        assert verdict.lands[-1].x_mm == pytest.approx(59.9957, abs=1e-4)


def test_a_grind_that_forgets_the_bend_is_found():
    # Property: outside the dish is then not left out, and the wheel goes too deep; inside the crown
    # is not made up for, and the hollow stays short.
    plan = planned(*models("relief.before_bend=0 %", "relief.depth=0.05 mm"))
    files = produce(plan, ()).files
    for name, rule in (("A", Rule.BELOW_TARGET), ("B", Rule.LAND_OUT_OF_TOLERANCE)):
        verdict = prove_program(files[f"setup-{name}.ngc"], *models("relief.depth=0.05 mm"))
        assert rule in {fault.rule for fault in verdict.faults}


def test_the_sheet_says_that_it_is_a_blank(made):
    # Property: both depths and the bend stand on the sheet of their face.
    plan, files = made
    for setup, bent in zip(plan.setups, plan.bent.reliefs, strict=True):
        sheet = files[setup.program.replace(".ngc", ".md")].decode()
        assert "- a straight blank, 60.00 mm of edge; bend it afterwards to 30.0 mm" in sheet
        assert f"- relief {bent.ground_mm:.4f} mm deep in the blank" in sheet
        assert f"{bent.bent_mm:.4f} mm if it does 100% of its bound" in sheet
