"""What holds for the cautions of any job."""

from __future__ import annotations

import subprocess
import sys
from typing import get_args

from planner.cautions import CautionFacts, cautions_for
from planner.cautions.caution import Level, Topic

ORDER = ["danger", "warning", "note"]


def test_local_rules_close_every_list_and_stand_nowhere_else(
    many_facts: list[CautionFacts],
) -> None:
    for facts in many_facts:
        topics = [caution.topic for caution in cautions_for(facts)]
        assert topics[-1] == "local_rules"
        assert topics.count("local_rules") == 1


def test_every_caution_has_text_and_basis_and_known_words(many_facts: list[CautionFacts]) -> None:
    for facts in many_facts:
        for caution in cautions_for(facts):
            assert caution.topic in get_args(Topic)
            assert caution.level in get_args(Level)
            assert caution.text.endswith(".")
            assert "None" not in caution.text
            assert "  " not in caution.text
            assert len(caution.basis) > 8


def test_every_basis_is_a_clause_a_work_or_an_open_admission(
    many_facts: list[CautionFacts],
) -> None:
    marks = ("CFR", "from memory", "seen", "common practice, no source", "the steel table")
    for basis in {c.basis for facts in many_facts for c in cautions_for(facts)}:
        assert any(mark in basis for mark in marks), basis


def test_dangers_come_before_warnings_before_notes(many_facts: list[CautionFacts]) -> None:
    for facts in many_facts:
        ranks = [ORDER.index(caution.level) for caution in cautions_for(facts)[:-1]]
        assert ranks == sorted(ranks)


def test_no_caution_is_said_twice(many_facts: list[CautionFacts]) -> None:
    for facts in many_facts:
        texts = [caution.text for caution in cautions_for(facts)]
        assert len(texts) == len(set(texts))


def test_a_job_in_order_has_no_danger(many_facts: list[CautionFacts]) -> None:
    in_order = [
        facts
        for facts in many_facts
        if facts.shaft_speed_rpm <= facts.marked_rpm
        and facts.surface_speed_m_s <= 160
        and facts.dust_collector != "shared_with_wood"
        and (facts.edge_temperature_c or 0) <= facts.limit_c
        and (facts.work_rest_gap_mm or 0) <= 3.175
    ]
    assert len(in_order) > 100
    for facts in in_order:
        assert all(caution.level != "danger" for caution in cautions_for(facts))


def test_importing_the_cautions_loads_neither_yaml_nor_numbers() -> None:
    """Commands that print no caution should not pay for them."""
    code = (
        "import sys, planner.cautions;"
        "print([m for m in ('yaml', 'numpy', 'shapely', 'pydantic') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd="."
    )
    assert done.stdout.strip() == "[]"
