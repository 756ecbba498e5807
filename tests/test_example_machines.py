"""The example machines, each doing the straight knife: planned, written, proved, read by rs274."""

import json
import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from planner.inputs.load import load_pair
from planner.proof.prove import prove_program
from tests.canonical import canonical_calls
from tests.commands import ROOT, run

KNIFE = ROOT / "jobs" / "straight-knife.yaml"

MACHINES: dict[str, dict[str, str]] = {
    "wheel-xyza": {},
    "wedge-xz": {},
    "row-xz": {},
    "form-xyz": {"wheel": "form 60"},
    # Its relief alone: bevels and lands on the platen are tested with the operations.
    "platen-xz": {"wheel": "P120 wheel", "relief.land_tolerance": "0.4 mm"},
    # Its one belt, and lands that so small a wheel can leave steel between.
    "belt-xz": {"wheel": "P120 on small wheel", "relief.edge_land": "1.8 mm",
                "relief.shoulder_land": "1.8 mm"},
    "light-xyz": {"wheel": "pencil 50", "relief.land_tolerance": "0.3 mm"},
}  # fmt: skip
"""Each example machine, and what the knife must change to be ground on it."""
ELSEWHERE: set[str] = set()
"""Example machines that grind no straight knife; tested by name in another file."""


@cache
def written(name):
    """Every file that ``write`` puts into its folder for the knife on a machine."""
    options = [o for key, value in MACHINES[name].items() for o in ("--set", f"{key}={value}")]
    with TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        machine = ROOT / "machines" / f"{name}.yaml"
        done = run("write", KNIFE, "--machine", machine, *options, "--out", out)
        assert (done.code, done.err) == (0, "")
        return {path.name: path.read_bytes() for path in out.iterdir()}


def models(name):
    overrides = [f"{key}={value}" for key, value in MACHINES[name].items()]
    job, machine = load_pair(KNIFE, ROOT / "machines" / f"{name}.yaml", overrides)
    return job.model, machine.model


def test_every_example_machine_is_listed():
    files = {path.stem for path in (ROOT / "machines").glob("*.yaml")}
    assert files == set(MACHINES) | ELSEWHERE


@pytest.mark.parametrize("name", MACHINES)
def test_the_straight_knife_is_planned_written_and_proved(name):
    files = written(name)
    plan = json.loads(files["plan.json"])
    assert {setup["face"] for setup in plan["setups"]} == {"A", "B"}
    proofs = plan["proof"]["programs"]
    assert len(proofs) == 4
    assert all(proof["ok"] for proof in proofs)
    for setup in plan["setups"]:
        sheet = files[setup["program"].replace(".ngc", ".md")].decode("utf-8")
        # Where the zero is not known, the room is on the sheet, for every axis that moves.
        for room in setup["room"]:
            if room["zero_at"] is None and room["high"] > room["low"]:
                assert f"{room['axis']} {-room['low']:.3f} mm below zero" in sheet
        for what in ("tilt", "cross"):
            if setup["settings"][what]["kind"] in ("scale", "settings", "fixed"):
                assert "What remains:" in sheet


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.skipif(shutil.which("rs274") is None, reason="rs274 is not installed")
def test_rs274_goes_where_the_proof_goes(name):
    job, machine = models(name)
    signs = {a.role: (-1.0 if a.invert else 1.0) for a in machine.axes.values()}
    columns = {a.role: "XYZABC".index(letter) for letter, a in machine.axes.items()}
    unit_mm = 25.4 if machine.controller.units == "inch" else 1.0
    programs = {n: t for n, t in written(name).items() if n.endswith(".ngc")}
    assert len(programs) == 4
    for text in programs.values():
        own = prove_program(text, job, machine).positions
        calls = canonical_calls(text.decode("ascii"))
        theirs = [n for call, n in calls if call in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
        # The proof tells no position before every axis has one.
        theirs = theirs[len(theirs) - len(own) :]
        assert len(own) > 5
        for point, numbers in zip(own, theirs, strict=True):
            for role, value in (
                ("traverse", point.traverse_mm / unit_mm),
                ("cross", point.cross_mm / unit_mm),
                ("infeed", point.infeed_mm / unit_mm),
                ("tilt", point.tilt_deg),
            ):
                if role in columns:
                    # Source: the interpreter's own output, to half of its last decimal.
                    found = signs[role] * numbers[columns[role]]
                    assert found == pytest.approx(value, abs=0.51e-4)
