"""docs/cautions.md names every rule, when it speaks and how loudly."""

from __future__ import annotations

import importlib
import inspect
import re
from pathlib import Path
from typing import get_args

from planner.cautions import CautionFacts
from planner.cautions.caution import Rule, Topic
from planner.cautions.local_rules import local_rules
from planner.cautions.rules import RULES

DOCS = Path(__file__).parents[2] / "docs" / "cautions.md"
ROW = re.compile(r"^\| `(?P<rule>[\w.]+)` \| (?P<levels>[^|]+) \| (?P<when>[^|]+) \|", re.MULTILINE)
ALL_RULES: tuple[Rule, ...] = (*RULES, local_rules)


def name_of(rule: Rule) -> str:
    return f"{rule.__module__.rpartition('.')[2]}.{rule.__name__}"


def documented() -> dict[str, tuple[set[str], str]]:
    rows = ROW.finditer(DOCS.read_text(encoding="utf-8"))
    return {row["rule"]: (set(row["levels"].split(", ")), row["when"]) for row in rows}


def test_every_rule_has_its_row_and_no_row_is_left_over() -> None:
    assert list(documented()) == [name_of(rule) for rule in ALL_RULES]


def test_no_rule_of_a_topic_was_forgotten_in_the_list() -> None:
    """Every public function that takes the facts and gives a caution is in the list."""
    found = set()
    for topic in get_args(Topic):
        module = importlib.import_module(f"planner.cautions.{topic}")
        for name, function in inspect.getmembers(module, inspect.isfunction):
            gives = inspect.signature(function).return_annotation
            ours = function.__module__ == module.__name__ and not name.startswith("_")
            if ours and gives in {"Caution", "Caution | None"}:
                found.add(name_of(function))
    assert found == {name_of(rule) for rule in ALL_RULES}


def test_rules_speak_at_just_the_levels_that_are_documented(
    many_facts: list[CautionFacts],
) -> None:
    said: dict[str, set[str]] = {name_of(rule): set() for rule in ALL_RULES}
    for facts in many_facts:
        for rule in ALL_RULES:
            caution = rule(facts)
            if caution is not None:
                said[name_of(rule)].add(caution.level)
    assert said == {rule: levels for rule, (levels, _) in documented().items()}


def test_rules_said_to_appear_always_do_and_the_others_do_not(
    many_facts: list[CautionFacts],
) -> None:
    for rule in ALL_RULES:
        _, when = documented()[name_of(rule)]
        always = all(rule(facts) is not None for facts in many_facts)
        assert always is (when in {"always", "always, last"}), name_of(rule)


def test_topic_is_the_file_that_the_rule_stands_in(many_facts: list[CautionFacts]) -> None:
    for rule in ALL_RULES:
        topics = {c.topic for facts in many_facts if (c := rule(facts)) is not None}
        assert topics == {name_of(rule).partition(".")[0]}
