"""Every rule has words, a line in the documentation, and a place that raises it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import planner.proof
from planner.errors import Fault
from planner.proof.rules import Rule
from planner.report.faults import TEMPLATES, fault_words

DOCS = Path(__file__).parents[2] / "docs" / "proof.md"
SOURCES = Path(planner.proof.__file__).parent


def test_every_rule_has_words_and_no_words_lack_a_rule():
    assert set(TEMPLATES) == {rule.value for rule in Rule}


def test_every_rule_is_in_the_documentation():
    text = DOCS.read_text(encoding="utf-8")
    section = text[text.index("## Rules") : text.index("## Damages")]
    rows = re.findall(r"^\| `(.+?)` \| .+ \|$", section, flags=re.MULTILINE)
    assert rows == [rule.value for rule in Rule]


def test_every_rule_is_raised_somewhere():
    code = "\n".join(p.read_text() for p in SOURCES.glob("*.py") if p.name != "rules.py")
    assert {rule.name for rule in Rule} == set(re.findall(r"Rule\.([A-Z_]+)", code))


def test_words_name_their_rule_and_round_millimetres():
    fault = Fault(7, "steel-left", "G1 X1", {"left_mm": 0.123456, "least_mm": 0.15})
    # By hand
    assert fault_words(fault) == (
        "[steel-left] 0.1235 mm of steel would be left, 0.1500 mm at least"
    )
    with pytest.raises(KeyError, match="no-such-rule"):
        fault_words(Fault(1, "no-such-rule"))
