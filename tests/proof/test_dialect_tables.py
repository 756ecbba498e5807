"""The proof goes by its own table of a dialect: another table, another judgement."""

from dataclasses import replace

import pytest

from planner.proof.dialects import DIALECTS, Group
from planner.proof.rules import Rule


def rules_with(prove, monkeypatch, sample, text, **changes):
    name = "small" if sample.startswith("small") else "rs274ngc"
    monkeypatch.setitem(DIALECTS, name, replace(DIALECTS[name], **changes))
    return {fault.rule for fault in prove(sample, text).faults}


# By hand: each change takes away one thing that the sample has.
@pytest.mark.parametrize(
    ("sample", "changes", "rules"),
    [
        ("mill-A.ngc", {}, set()),
        ("small-B.ngc", {}, set()),
        # "(zero wheel bares on face B, ...)" is a comment of more than 60 characters.
        ("mill-A.ngc", {"longest_line": 60, "blanks_and_comments_count": False}, set()),
        ("small-B.ngc", {"longest_line": 18, "blanks_and_comments_count": False}, set()),
        # "G1 X107.500 F3000.0" is 19 characters, 17 without its blanks.
        ("small-B.ngc", {"longest_line": 16}, {Rule.LINE_TOO_LONG}),
        ("small-B.ngc", {"longest_line": 18, "blanks_and_comments_count": True},
         {Rule.LINE_TOO_LONG}),
        ("mill-A.ngc", {"value_letters": frozenset("FP")},
         {Rule.UNKNOWN_WORD, Rule.SPINDLE_SPEED_UNSET, Rule.SPINDLE_OFF}),
        # A dwell of 5 ms is no spin-up.
        ("mill-A.ngc", {"dwell_unit_s": 0.001}, {Rule.NO_SPIN_UP}),
        ("mill-A.ngc", {"coolant_off": "M8"}, {Rule.END_COOLANT_ON}),
        ("mill-A.ngc", {"spindle_codes": {"M3": "counterclockwise", "M4": "clockwise", "M5": None}},
         {Rule.SPINDLE_REVERSED}),
        # M0 is passed over: nobody has started the belt.
        ("small-B.ngc", {"waiting_stops": frozenset()}, {Rule.SPINDLE_OFF}),
    ],
)  # fmt: skip
def test_the_table_decides(prove, monkeypatch, sample, changes, rules):
    found = rules_with(prove, monkeypatch, sample, prove.text(sample), **changes)
    assert rules <= found
    assert bool(rules) == bool(found)


def test_a_stop_that_stops_the_wheel_may_stand_before_m5(prove, monkeypatch):
    text = prove.text("mill-A.ngc").replace("M9\nM5\n", "M9\nM0\nM5\n")
    assert Rule.STOP_SPINDLE_ON in {f.rule for f in prove("mill-A.ngc", text).faults}
    found = rules_with(prove, monkeypatch, "mill-A.ngc", text, stop_leaves_wheel_turning=False)
    assert found == set()


def test_every_code_of_a_table_has_its_group():
    for dialect in DIALECTS.values():
        stops = {c for c, group in dialect.codes.items() if group is Group.STOP}
        assert dialect.ends | dialect.waiting_stops <= stops
        assert set(dialect.spindle_codes) == {
            c for c, group in dialect.codes.items() if group is Group.SPINDLE
        }
        assert dialect.codes[dialect.coolant_off] is Group.COOLANT
        assert dialect.blends == (dialect.blend_code in dialect.codes)


def test_stop_needs_clearance_in_every_dialect(prove):
    for sample in ("mill-A.ngc", "small-B.ngc"):
        text = prove.text(sample)
        infeed = next(line for line in text.splitlines() if line.startswith("G1 Z"))
        spoilt = text.replace(infeed, infeed + "\nM0", 1)
        assert Rule.STOP_NOT_CLEAR in {f.rule for f in prove(sample, spoilt).faults}
