"""The example machines, each doing the straight knife: planned, written, proved, read by rs274."""

import json
import math
import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from planner.inputs.edge_paths import ArcEdge
from planner.inputs.load import load_pair
from planner.proof.prove import prove_program
from tests.canonical import canonical_calls
from tests.commands import ROOT, run

KNIFE = ROOT / "jobs" / "straight-knife.yaml"
CONVEX_HOOK = ROOT / "jobs" / "convex-hook-knife.yaml"
WHITTLER = ROOT / "jobs" / "ground-whittler.yaml"

MACHINES: dict[str, dict[str, str]] = {
    "wheel-xyza": {},
    "wedge-xz": {},
    "row-xz": {},
    "form-xyz": {"wheel": "form 60"},
    # Its relief alone; bevels and lands on the platen come with the knife from the bar.
    "platen-xz": {"wheel": "P120 wheel", "relief.land_tolerance": "0.4 mm"},
    "inch-xyz": {"wheel": "six inch"},
    # Its one belt, and lands that so small a wheel can leave steel between.
    "belt-xz": {"wheel": "P120 on small wheel", "relief.edge_land": "1.8 mm",
                "relief.shoulder_land": "1.8 mm"},
    "light-xyz": {"wheel": "pencil 50", "relief.land_tolerance": "0.3 mm"},
    "turn-xyzc": {"wheel": "fine 100"},
    "sweep-xyza": {"wheel": "form 60"},
}  # fmt: skip
"""Each example machine, and what the knife must change to be ground on it."""
ELSEWHERE = {"turn-xzb"}
"""Example machines that grind no straight knife: no wedge of this one has its angle."""


CASES = {
    **{name: (KNIFE, name, changes) for name, changes in MACHINES.items()},
    "from the bar": (ROOT / "jobs" / "bar-knife.yaml", "platen-xz", {}),
    # Convex bevels in facets by a powered tilt, by one that is swept and by a scale, and in lines.
    "convex from the bar": (WHITTLER, "form-xyz", {}),
    # Thinner, for its hundreds of passes are all marched.
    "convex, the tilt swept": (
        WHITTLER,
        "sweep-xyza",
        {
            "blade.section.thickness": "1.2 mm",
            "relief.edge_land": "0.5 mm",
            "relief.shoulder_land": "0.5 mm",
        },
    ),
    "convex on a platen": (
        WHITTLER,
        "platen-xz",
        {
            "operations.0.wheel": "P80 platen",
            "operations.1.wheel": "P120 wheel",
            "operations.0.ridge": "0.02 mm",
            "relief.share_in_tolerance": "0.3",
        },
    ),
    "convex in lines": (
        WHITTLER,
        "wheel-xyza",
        {"operations.0.wheel": "small", "operations.1.wheel": "small"},
    ),
    "convex from the strip in lines": (
        CONVEX_HOOK,
        "turn-xyzc",
        # Half of the steel, and no second hollow: lines are many.
        {
            "operations[0].wheel": "fine 100",
            "blade.section.edge_thickness": "1.1 mm",
            "blade.section.radius": "25 mm",
            "relief.faces": "B",
        },
    ),
    "convex from the strip on wedges": (
        CONVEX_HOOK,
        "turn-xzb",
        {"wheel": "drum 24", "operations[0].wheel": "flat 50"},
    ),
    "from the strip on wedges": (
        ROOT / "jobs" / "strip-hook-knife.yaml",
        "turn-xzb",
        {"wheel": "drum 24", "operations[0].wheel": "flat 50", "operations[2].wheel": "flat 50"},
    ),
    **{
        f"{job} on {machine}": (ROOT / "jobs" / f"{job}.yaml", machine, {"wheel": wheel})
        for job, machine, wheel in (
            ("whittling-knife", "wheel-xyza", "small"),
            ("whittling-knife", "wedge-xz", "fine"),
            ("marking-knife", "inch-xyz", "six inch"),
            ("marking-knife", "form-xyz", "form 60"),
            ("own-outline", "wheel-xyza", "small"),
            ("drawn-outline", "wheel-xyza", "small"),
            ("carving-axe", "inch-xyz", "six inch"),
            ("carving-axe", "form-xyz", "form 60"),
            ("hook-knife", "turn-xyzc", "inside 20"),
            ("bent-gouge", "turn-xyzc", "fine 100"),
            ("hook-knife", "turn-xzb", "drum 24"),
            ("bent-gouge", "turn-xzb", "white 80"),
            ("blank-hook-knife", "turn-xyzc", "fine 100"),
            ("blank-hook-knife", "belt-xz", "P120 on small wheel"),
        )
    },
}
"""Job, machine and changes."""
FOLLOWED = {
    f"{job} on {machine}": (ROOT / "jobs" / f"{job}.yaml", machine, {"wheel": wheel})
    for job, machine, wheel in (
        ("belly-knife", "form-xyz", "round 60"),
        ("belly-knife", "turn-xyzc", "fine 100"),
        ("swept-knife", "form-xyz", "form 60"),
        ("hook-inside", "form-xyz", "inside 40"),
        ("hook-inside", "inch-xyz", "inside inch"),
    )
}
"""The same of edges that the straight axes follow; tests/test_slides.py has rs274 read these."""


@cache
def written(case):
    """Every file that ``write`` puts into its folder for a job on a machine."""
    job, name, changes = {**CASES, **FOLLOWED}[case]
    options = [o for key, value in changes.items() for o in ("--set", f"{key}={value}")]
    with TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        machine = ROOT / "machines" / f"{name}.yaml"
        done = run("write", job, "--machine", machine, *options, "--out", out)
        assert (done.code, done.err) == (0, "")
        return {path.name: path.read_bytes() for path in out.iterdir()}


def models(case):
    file, name, changes = CASES[case]
    overrides = [f"{key}={value}" for key, value in changes.items()]
    job, machine = load_pair(file, ROOT / "machines" / f"{name}.yaml", overrides)
    return job.model, machine.model


def test_every_example_machine_is_listed():
    files = {path.stem for path in (ROOT / "machines").glob("*.yaml")}
    assert files == set(MACHINES) | ELSEWHERE
    assert len(files) >= 8


@pytest.mark.parametrize("name", [*CASES, *FOLLOWED])
def test_a_knife_is_planned_written_and_proved(name):
    files = written(name)
    plan = json.loads(files["plan.json"])
    one = {"bent-gouge": {"A"}, "hook-inside": {"B"}}
    faces = one.get(name.partition(" on ")[0], {"A", "B"})
    assert {setup["face"] for setup in plan["setups"]} == faces
    proofs = plan["proof"]["programs"]
    assert len(proofs) == 2 * len(plan["setups"])
    assert all(proof["ok"] for proof in proofs)
    for setup in plan["setups"]:
        sheet = files[setup["program"].replace(".ngc", ".md")].decode("utf-8")
        # Where the zero is not known, the room is on the sheet, for every axis that moves.
        for room in setup["room"]:
            if room["zero_at"] is None and room["high"] > room["low"]:
                below = round(-room["low"], 3) + 0.0
                assert f"{room['axis']} {below:.3f} mm " in sheet
        for what in ("tilt", "cross"):
            if setup["settings"][what]["kind"] in ("scale", "settings", "fixed"):
                assert "What remains:" in sheet


def _along(point, text, mm_per_deg, unit_mm):
    """The number of the axis that runs along the edge, by hand from docs/edge-paths.md."""
    if not mm_per_deg:
        return point.traverse_mm / unit_mm
    inside = -1.0 if b"face B)" in text.split(b"\n(kind")[0] else 1.0
    return inside * point.traverse_mm / mm_per_deg


@pytest.mark.parametrize("name", CASES)
@pytest.mark.skipif(shutil.which("rs274") is None, reason="rs274 is not installed")
def test_rs274_goes_where_the_proof_goes(name):
    job, machine = models(name)
    signs = {a.role: (-1.0 if a.invert else 1.0) for a in machine.axes.values()}
    columns = {a.role: "XYZABC".index(letter) for letter, a in machine.axes.items()}
    edge = job.edge
    mm_per_deg = math.radians(edge.radius_mm) if isinstance(edge, ArcEdge) else 0.0
    unit_mm = 25.4 if machine.controller.units == "inch" else 1.0
    programs = {n: t for n, t in written(name).items() if n.endswith(".ngc")}
    assert len(programs) >= 2
    for text in programs.values():
        own = prove_program(text, job, machine).positions
        calls = canonical_calls(text.decode("ascii"))
        theirs = [n for call, n in calls if call in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
        # The proof tells no position before every axis has one.
        theirs = theirs[len(theirs) - len(own) :]
        assert len(own) > 5
        for point, numbers in zip(own, theirs, strict=True):
            for role, value in (
                ("turn" if mm_per_deg else "traverse", _along(point, text, mm_per_deg, unit_mm)),
                ("cross", point.cross_mm / unit_mm),
                ("infeed", point.infeed_mm / unit_mm),
                ("tilt", point.tilt_deg),
            ):
                if role in columns:
                    # Source: the interpreter's own output, to half of its last decimal.
                    found = signs[role] * numbers[columns[role]]
                    assert found == pytest.approx(value, abs=0.51e-4)
