"""The folders import only what stands above them; the prover shares nothing with the planner."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "planner"

PLANNING = ("errors", "formulas", "inputs", "section", "kinematics", "passes", "heat", "batch")

ALLOWED = {
    "errors": set(),
    "formulas": {"formulas"},
    # An edge that curves has its length from its points.
    "inputs": {"errors", "formulas", "inputs"},
    "section": {"errors", "formulas", "inputs", "section"},
    "kinematics": {"errors", "formulas", "inputs", "section", "kinematics"},
    "passes": {"errors", "formulas", "inputs", "section", "kinematics", "passes"},
    "heat": {"errors", "formulas", "inputs", "section", "kinematics", "passes", "heat"},
    "batch": {"errors", "formulas", "inputs", "section", "batch"},
    "lines_plan": {*PLANNING},
    "worn_plan": {*PLANNING},
    "sweep_plan": {*PLANNING, "worn_plan"},
    "setup_plan": {*PLANNING, "lines_plan", "worn_plan", "sweep_plan"},
    "setup_programs": {*PLANNING, "setup_plan", "gcode"},
    "ways_tried": {"errors", "inputs", "section"},
    "plan": {*PLANNING, "setup_plan", "setup_programs", "ways_tried"},
    "compare": {*PLANNING, "plan", "compare"},
    "scatter": {*PLANNING, "plan", "scatter"},
    "gcode": {"inputs", "kinematics", "passes", "heat", "gcode"},
    "cautions": {"errors", "formulas", "inputs", "kinematics", "plan", "setup_plan", "cautions"},
    "proof": {"errors", "inputs", "proof"},
}


def _imports(file: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            if node.module == "planner":
                found |= {alias.name for alias in node.names}
            elif node.module.startswith("planner."):
                found.add(node.module.split(".")[1])
        elif isinstance(node, ast.ImportFrom):
            raise AssertionError(f"{file}: relative import")
        elif isinstance(node, ast.Import):
            found |= {a.name.split(".")[1] for a in node.names if a.name.startswith("planner.")}
    return found - {"__version__"}


FILES = [
    (part, file)
    for part in ALLOWED
    for file in (
        sorted((ROOT / part).rglob("*.py")) if (ROOT / part).is_dir() else [ROOT / f"{part}.py"]
    )
]


def test_the_walk_sees_the_files():
    assert len(FILES) > 20
    assert {p.name for p in ROOT.iterdir() if p.is_dir() and p.name != "__pycache__"} <= {
        *ALLOWED,
        "report",
    }


@pytest.mark.parametrize(("part", "file"), FILES, ids=[str(f.relative_to(ROOT)) for _, f in FILES])
def test_imports_go_one_way(part, file):
    assert _imports(file) <= ALLOWED[part]
