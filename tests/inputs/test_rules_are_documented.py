"""docs/input-errors.md has every rule of the code, and its examples do what it says."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from planner.errors import Problem

ROOT = Path(__file__).parents[2]
DOCS = (ROOT / "docs/input-errors.md").read_text()
SECTIONS = dict(re.findall(r"^### (\S+)\n(.*?)(?=^##|\Z)", DOCS, re.MULTILINE | re.DOTALL))
EXAMPLES = {
    rule: match.groups()
    for rule, text in SECTIONS.items()
    if (match := re.search(r"```yaml\n# bad\n(.*?)# mended\n(.*?)```", text, re.DOTALL))
}
# What makes a problem, and where its rule stands among the arguments.
MAKERS = {
    "rule_fault": 0,
    "problem": 0,
    "_refuse": 0,
    "QuantityError": 0,
    "_Words": 0,
    "Trap": 3,
}


def rules_in_code() -> Iterator[str]:
    """Every rule that is written as a literal where a problem or its words are made."""
    for file in sorted((ROOT / "planner/inputs").glob("*.py")):
        tree = ast.parse(file.read_text())
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                place = MAKERS.get(name)
                if place is not None and len(node.args) > place:
                    yield from words(node.args[place])
            elif isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
                targets = node.targets if isinstance(node, ast.Assign) else [node.target]
                names = [getattr(t, "id", "") for t in targets]
                if names == ["rule"]:
                    yield from words(node.value)
                elif names == ["_REASONS"]:
                    assert isinstance(node.value, ast.Dict)
                    for reason in node.value.values:
                        assert isinstance(reason, ast.Tuple)
                        yield from words(reason.elts[0])
                elif names == ["fallback"]:
                    assert isinstance(node.value, ast.Tuple)
                    yield from words(node.value.elts[0])


def words(node: ast.expr) -> Iterator[str]:
    for part in ast.walk(node):
        if isinstance(part, ast.Constant) and isinstance(part.value, str):
            yield part.value


def test_every_rule_of_the_code_has_its_section_and_no_other() -> None:
    rules = set(rules_in_code()) - {""}
    assert len(rules) > 40
    assert set(SECTIONS) == rules


def test_every_section_has_a_bad_and_a_mended_example() -> None:
    for rule, text in SECTIONS.items():
        assert rule in EXAMPLES or ("Bad: " in text and "Mended:" in text), rule


def test_head_example_is_what_the_program_says(
    texts: dict[str, str], problems_of: Callable[[str, str], list[Problem]]
) -> None:
    (problem,) = problems_of("job", texts["job"].replace("length: 80 mm", "length: 80"))
    assert problem.line == 9
    for said in (problem.excerpt, problem.given, problem.allowed, problem.mend):
        assert said in DOCS
    assert f":{problem.line}:{problem.column}: error [no-unit] {problem.key_path}\n" in DOCS


@pytest.mark.parametrize("rule", EXAMPLES)
def test_bad_example_breaks_the_rule_and_the_mended_one_does_not(
    rule: str, texts: dict[str, str], problems_of: Callable[[str, str], list[Problem]]
) -> None:
    bad, mended = EXAMPLES[rule]
    kinds = [kind for kind, text in texts.items() if text.count(mended) == 1]
    assert len(kinds) == 1, "the mended example is a piece of one of the good files"
    found = problems_of(kinds[0], texts[kinds[0]].replace(mended, bad))
    assert rule in {p.rule for p in found}
