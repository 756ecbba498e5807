"""Every reason the planner can give has words, every word has a reason, and they hold together."""

import ast
import re
import string

import pytest

from planner.errors import Fact, Fault, Refusal, WayOut
from planner.report.faults import TEMPLATES, fault_lines
from planner.report.refusals import REFUSALS, WAYS_OUT, refusal_data, refusal_words, way_out_words
from tests.commands import ROOT

SOURCES = sorted((ROOT / "planner").rglob("*.py"))


def calls(name):
    """Every call of a name in the planner: first argument and keys of a dict beside it."""
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text())):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id == name
                and node.args
            ):
                yield path, node


def rules_of(argument):
    """The rules that a first argument may name: a word, or one of two."""
    if isinstance(argument, ast.Constant):
        return {argument.value}
    if isinstance(argument, ast.IfExp):
        return rules_of(argument.body) | rules_of(argument.orelse)
    return set()


def fields(template):
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


@pytest.mark.parametrize(("kind", "words"), [("Refusal", REFUSALS), ("WayOut", WAYS_OUT)])
def test_rules_and_words_match(kind, words):
    used = set()
    for path, node in calls(kind):
        named = rules_of(node.args[0])
        if not named:
            # A rule that is handed on, or chosen just before.
            text = ast.unparse(node.args[0])
            assert text in ("r.rule", "rule"), f"{path}:{node.lineno}: {text}"
            source = path.read_text()
            named = {w for w in words if f'"{w}"' in source} if text == "rule" else set()
        used |= named
    assert used - set(words) == set()
    # Words that nothing says are dead.
    said = {
        w
        for w in words
        if any(f'"{w}"' in p.read_text() for p in SOURCES if p.name != "refusals.py")
    }
    assert set(words) - said == set()


def test_facts_given_are_those_that_the_words_quote():
    for path, node in calls("WayOut"):
        for rule in rules_of(node.args[0]):
            where = f"{path}:{node.lineno}: {rule}"
            if len(node.args) < 2:
                assert fields(WAYS_OUT[rule]) == set(), where
            elif isinstance(node.args[1], ast.Dict):
                given = {k.value for k in node.args[1].keys if isinstance(k, ast.Constant)}
                assert fields(WAYS_OUT[rule]) <= given, where


@pytest.mark.parametrize("words", [REFUSALS, WAYS_OUT, TEMPLATES], ids=["refusal", "way", "fault"])
def test_words_read_as_sentences(words):
    for rule, template in words.items():
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule)
        assert template == template.strip()
        assert "  " not in template
        assert not template.endswith("."), rule


def test_the_wheel_that_was_tried_is_named():
    facts: dict[str, Fact] = {"step_mm": 0.001, "depth_mm": 0.0005, "wheel": "fine"}
    refusal = Refusal("step-over-depth", facts, (WayOut("finer-axis"),))
    assert refusal_words(refusal).startswith("with wheel fine: the relief is 0.0005 mm deep")
    data = refusal_data(refusal)
    assert data["facts"] == facts
    assert data["ways_out"][0]["text"] == way_out_words(WayOut("finer-axis"))


def test_words_that_would_say_nothing_are_left_out():
    facts: dict[str, Fact] = {"wheel": "flat", "contact": "platen"}
    # The wheel is named once.
    assert refusal_words(Refusal("flat-for-relief", facts)).startswith("wheel flat is flat")
    stand: dict[str, Fact] = dict.fromkeys(("needs_from", "needs_to"), -77.5)
    stand |= {"axis": "A", "role": "tilt", "unit": "deg", "has_from": -45.0, "has_to": 45.0}
    # By hand: it goes nowhere, and so it does not go from there to there.
    words = "axis A (tilt) must stand at -77.500 deg; its travel is -45.000 to 45.000 deg"
    assert refusal_words(Refusal("travel-too-short", stand)) == words
    assert "from -77.500 to 5.000" in refusal_words(
        Refusal("travel-too-short", stand | {"needs_to": 5.0})
    )
    # By hand: what rounds to nothing has no sign.
    tiny = dict.fromkeys(("needs_from", "needs_to"), -1e-6) | {"has_from": -0.0004, "has_to": -1.0}
    words = refusal_words(Refusal("travel-too-short", stand | tiny))
    assert words == "axis A (tilt) must stand at 0.000 deg; its travel is 0.000 to -1.000 deg"
    names = fields(REFUSALS["lands-out-of-place"]) - {"face"}
    aside: dict[str, Fact] = {"face": "A", **dict.fromkeys(names, 10.0)}
    assert refusal_words(Refusal("lands-out-of-place", aside)).endswith("10.000 mm would be right")
    assert refusal_words(Refusal("lands-out-of-place", aside | {"tilt_deg": 12.5})).endswith(
        "at a tilt of 12.500 deg instead of 10.000 deg it drifts 10.000 mm on the way down"
    )


def test_of_many_faults_alike_the_first_are_told_and_the_rest_are_counted():
    many = [Fault(n, "turn-moved", f"G1 A{n}") for n in range(1, 8)]
    other = Fault(9, "comment-nested", "G1 C1")
    lines = fault_lines([*(("a.ngc", f) for f in many), ("a.ngc", other), ("b.ngc", many[0])])
    # Property: in order, three of a rule and a program, each with its block, then how many more.
    assert [line.partition(" [")[0] for line in lines] == [
        "a.ngc:1:",
        "    1 | G1 A1",
        "a.ngc:2:",
        "    2 | G1 A2",
        "a.ngc:3:",
        "    3 | G1 A3",
        "    and 4 more like it",
        "a.ngc:9:",
        "    9 | G1 C1",
        "b.ngc:1:",
        "    1 | G1 A1",
    ]
    assert fault_lines([("a.ngc", f) for f in many[:3]], blocks=False)[-1].startswith("a.ngc:3:")
