"""All the faults of a file come at once: in line order, each once, and nothing that follows."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import InputError, Problem
from planner.inputs.job import Job
from planner.inputs.load import load_job
from planner.inputs.machine import Machine
from planner.inputs.translate import problems_in
from planner.inputs.yaml_nodes import NodeMap, Source, read_bytes, read_text

ProblemsOf = Callable[[str, str | bytes], list[Problem]]

MANY = """\
title: Grinder with many faults
kind: weel
controller: {dialect: rs274ngc, decimals: 1e1}
axes:
  X: {role: traverse, travel: [-150 mm, 250], max_feed: 900, acceleration: 400 mm/s2}
  Y: {role: traverse, travel: [-40 mm, 40 mm], max_feed: 1500 mm/min, acceleration: 0 mm/s2}
  Z: {role: infeed, travel: [60 mm, -5 mm], max_feed: 800 mm/min, acceleration: .inf}
spindle: {speed: 2850 rpm, power: 0.75 kW, control: program, spin_up: }
stiffness: 2000 N/mm
coolant: {kind: mist, on: M7}
fixture: {flip: by_tilt, run_of: 10 mm, touch_off: 3 um, touch_off: 5 um}
limits: {normal_force: &force 30 N}
rack:
  - {name: fine, contact: along_edge, diametr: 150 mm, width: 20 mm, marked_speed: 4500 rpm,
     abrasive: cbn, grit: F80, specific_energy: 40 J/mm3, force_ratio: 0.4,
     infeed: {rough: 0.010 mm, finish: 0.03 mm}}
  - {name: fine, contact: along_edge, diameter: 150 mm, width: 20 mm, marked_speed: 4500,
     abrasive: *force, grit: F80, specific_energy: 40 J/mm3, force_ratio: 0.4,
     infeed: {rough: 0.010 mm, finish: 0.003 mm}}
"""
# By hand: line and rule of each fault written into MANY, in the order of the file.
MANY_FAULTS = [
    (2, "not-a-choice", "kind"),
    (3, "yaml-trap", "controller.decimals"),
    (5, "no-unit", "axes.X.travel[1]"),
    (5, "no-unit", "axes.X.max_feed"),
    (6, "axis-roles", "axes.Y.role"),
    (6, "out-of-range", "axes.Y.acceleration"),
    (7, "range-order", "axes.Z.travel"),
    (7, "not-finite", "axes.Z.acceleration"),
    (8, "no-value", "spindle.spin_up"),
    (10, "coolant-codes", "coolant.on"),
    (11, "flip-needs-tilt", "fixture.flip"),
    (11, "unknown-key", "fixture.run_of"),
    (11, "repeated-key", "fixture.touch_off"),
    (12, "yaml-feature", "limits.normal_force"),
    (14, "unknown-key", "rack[0].diametr"),
    (16, "finish-over-rough", "rack[0].infeed.finish"),
    (17, "repeated-name", "rack[1].name"),
    (17, "no-unit", "rack[1].marked_speed"),
    (18, "yaml-feature", "rack[1].abrasive"),
]


def test_every_fault_comes_once_and_in_line_order(problems_of: ProblemsOf) -> None:
    found = problems_of("machine", MANY)
    assert [(p.line, p.rule, p.key_path) for p in found] == MANY_FAULTS
    places = [(p.line, p.column) for p in found]
    assert places == sorted(places)


def test_excerpt_is_the_line_of_the_file(problems_of: ProblemsOf) -> None:
    lines = MANY.split("\n")
    for problem in problems_of("machine", MANY):
        assert problem.excerpt == lines[problem.line - 1]


@pytest.mark.parametrize(
    ("old", "new", "line", "also_line"),
    [
        pytest.param("wheel: fine", "wheel: fine\nwheel: coarse", 8, 7, id="repeated-key"),
        pytest.param(
            "20 mm, included_angle: 25 deg",
            "20 mm, included_angle: 25 deg,\n    edge_thickness: 3 mm",
            11,
            10,
            id="edge-too-thick",
        ),
    ],
)
def test_fault_between_two_keys_names_both_lines(
    old: str, new: str, line: int, also_line: int, texts: dict[str, str], problems_of: ProblemsOf
) -> None:
    (problem,) = problems_of("job", texts["job"].replace(old, new))
    assert (problem.line, problem.also_line) == (line, also_line)  # By hand: lines of data/job.yaml


def test_repeated_name_names_the_line_of_the_first(
    texts: dict[str, str], problems_of: ProblemsOf
) -> None:
    rack = texts["machine"].split("rack:\n")[1]
    (problem,) = problems_of("machine", texts["machine"] + rack)
    # By hand: the rack's first item starts on line 17, a second of three lines on line 20.
    assert (problem.rule, problem.line, problem.also_line) == ("repeated-name", 20, 17)


def test_machine_with_an_empty_map_of_axes_lacks_two(
    texts: dict[str, str], problems_of: ProblemsOf
) -> None:
    head, rest = texts["machine"].split("axes:\n")
    found = problems_of("machine", f"{head}axes: {{}}\nspindle:{rest.split('spindle:')[1]}")
    assert [(p.rule, p.line, p.given) for p in found] == [
        ("axis-roles", 5, "no infeed axis"),
        ("axis-roles", 5, "no traverse axis"),
    ]


# --- nothing that follows -----------------------------------------------------------------------

FOLLOWING = [
    # A misspelt key is not also missing, and what hangs on it is not judged.
    pytest.param("job", "edge_land:", "edge_lnd:", ["unknown-key"], id="misspelt-land"),
    pytest.param("job", "blade:", "balde:", ["unknown-key"], id="misspelt-map"),
    pytest.param("machine", "on: M7", "onn: M7", ["unknown-key"], id="misspelt-coolant-code"),
    pytest.param("machine", "role: infeed", "role: infed", ["not-a-choice"], id="misspelt-role"),
    pytest.param("machine", "role: infeed", "rol: infeed", ["unknown-key"],
                 id="misspelt-key-of-role"),
    pytest.param("machine", "  Z: {role", "  Q: {role", ["unknown-key"], id="misspelt-letter"),
    pytest.param("machine", "  Z: {role", "  A: {role", ["repeated-key"], id="repeated-letter"),
    # What an alias or a merge key would have brought is not missing.
    pytest.param("job", "{path: straight, length: 80 mm}", "*edge", ["yaml-feature"],
                 id="alias-of-nothing"),
    pytest.param("job", "{path: straight, length: 80 mm}", "{<<: {path: straight}}",
                 ["yaml-feature"], id="merge-key"),
    pytest.param("machine", "{kind: mist, on: M7, off: M9}", "{<<: {on: M7}, off: M9}",
                 ["yaml-feature"], id="merge-key-before-a-check"),
    # A value that is not valid is not compared.
    pytest.param("machine", "finish: 0.003 mm", "finish: 3", ["no-unit"], id="bare-infeed"),
    pytest.param("machine", "kind: wheel", "kind: whel", ["not-a-choice"], id="kind-and-rack"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "old", "new", "rules"), FOLLOWING)
def test_one_slip_brings_no_problem_after_it(
    kind: str, old: str, new: str, rules: list[str], texts: dict[str, str], problems_of: ProblemsOf
) -> None:
    assert texts[kind].count(old) == 1
    found = problems_of(kind, texts[kind].replace(old, new))
    assert sorted(p.rule for p in found) == rules


@pytest.mark.parametrize(
    ("old", "new", "rules"),
    [
        pytest.param(
            "  edge_land: 1.2 mm",
            "  edge_land: 1.2\n  depth: 0.05 mm",
            ["no-unit", "two-of-three"],
            id="a-bare-number-among-three-of-three",
        ),
        pytest.param(
            "included_angle: 25 deg",
            "included_angle: 25 deg, angle_a: 12, edge_thickness: 4 mm, colour: blue",
            ["angles", "edge-too-thick", "no-unit", "unknown-key"],
            id="two-checks-beside-two-faults",
        ),
    ],
)
def test_checks_between_keys_run_beside_other_faults(
    old: str, new: str, rules: list[str], texts: dict[str, str], problems_of: ProblemsOf
) -> None:
    found = problems_of("job", texts["job"].replace(old, new))
    assert sorted(p.rule for p in found) == rules


# --- whatever the text --------------------------------------------------------------------------

BOUNDED = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
PIECES = st.sampled_from(
    [
        *("title", "steel", "blade", "edge", "path", "straight", "length", "relief", "role"),
        *(": ", ":", "- ", "\n", "\n  ", "\n    ", "{", "}", "[", "]", ", ", "#", "'", '"'),
        *("80 mm", "25 deg", "1e3", "010", "0x1F", "1:30", "no", "on", ".inf", "~", "&a ", "*a"),
        *("<<", "!!int ", "---\n", "%", "\t", "\u00e9", "\u2028", "\x00", "?", "|", ">", "@"),
        *("axes", "X", "rack", "O1", "1.2510", "both", "1/8 in", "-1", "", "null"),
    ]
)
TEXTS = st.one_of(
    st.binary(max_size=200),
    st.text(max_size=200).map(str.encode),
    st.lists(PIECES, max_size=40).map(lambda pieces: "".join(pieces).encode()),
)


@BOUNDED
@given(data=TEXTS)
def test_any_bytes_give_a_problem_and_never_an_exception(
    data: bytes, problems_of: ProblemsOf
) -> None:
    # No such text is a whole job: it lacks the required keys.
    found = problems_of("job", data)
    assert found
    assert all(p.rule and p.allowed and p.mend and p.line >= 1 and p.column >= 1 for p in found)


def _scalars() -> st.SearchStrategy[str]:
    return st.one_of(
        st.sampled_from(
            [
                *("80 mm", "25 deg", "900 mm/min", "30 N", "5 s", "9", "1e3", "no", "~", ""),
                *("both", "traverse", "tilt", "wheel", "belt", "small", "by_tilt", "*a", "&a 1"),
                *("[1 mm, 2 mm]", "[]", "{}", "{a: b}", "'x'", ".nan", "true", "[[1]]"),
            ]
        ),
        st.integers(-5, 5).map(str),
        st.text("abXYZ0123456789. -_/%", max_size=8).map(lambda t: f'"{t}"'),
    )


@BOUNDED
@given(st.data())
def test_spoilt_machine_gives_a_model_or_problems(
    texts: dict[str, str], data: st.DataObject
) -> None:
    """Whatever value is put for another: pydantic refuses exactly when there is a problem."""
    kind = data.draw(st.sampled_from(["job", "machine"]))
    source = Source("text", tuple(texts[kind].split("\n")))
    root = read_text(texts[kind], source).root
    assert isinstance(root, NodeMap)
    for _ in range(data.draw(st.integers(1, 4))):
        node: Any = root
        while True:
            keys = list(node) if isinstance(node, NodeMap) else list(range(len(node)))
            key = data.draw(st.sampled_from(keys)) if keys else None
            inner = node[key] if key is not None else None
            if isinstance(inner, NodeMap | list) and inner and data.draw(st.booleans()):
                node = inner
                continue
            break
        if key is not None:
            value = read_text(data.draw(_scalars()), source).root
            if value is not None:
                node[key] = value
    model = Job if kind == "job" else Machine
    try:
        model.model_validate(root)
    except ValueError as refused:
        problems = problems_in(model, root, refused)  # type: ignore[arg-type]
        assert problems or "refused" in _kinds(root)


def _kinds(node: object) -> set[str]:
    if isinstance(node, NodeMap):
        return set().union(*map(_kinds, node.values()))
    if isinstance(node, list):
        return set().union(*map(_kinds, node))
    return {getattr(node, "kind", "")}


# --- guards ---------------------------------------------------------------------------------------

GUARDS = [
    pytest.param(b"", "empty-file", 1, 1, id="empty"),
    pytest.param(b"# only a comment\n", "empty-file", 1, 1, id="comment-only"),
    pytest.param(b"---\n", "empty-file", 1, 1, id="bare-document"),
    pytest.param(b"title: caf\xe9\n", "not-utf-8", 1, 11, id="latin-1"),
    pytest.param("title: x".encode("utf-16"), "not-utf-8", 1, 1, id="utf-16"),
    pytest.param(b"a: 1\nb: \xff\n", "not-utf-8", 2, 4, id="bad-byte-on-line-2"),
    pytest.param(b"x" * 65537, "too-large", 1, 1, id="one-byte-too-large"),
    pytest.param(b"a: " + b"[" * 40 + b"]" * 40, "too-deep", 1, 20, id="deep-lists"),
    pytest.param(b"[" * 500, "too-deep", 1, 18, id="brackets-only"),
    pytest.param(b"- a\n- b\n", "wrong-type", 1, 1, id="list-at-root"),
    pytest.param(b"just words\n", "wrong-type", 1, 1, id="text-at-root"),
    pytest.param(b"010\n", "yaml-trap", 1, 1, id="number-at-root"),
]


@pytest.mark.parametrize(("data", "rule", "line", "column"), GUARDS)
def test_file_that_is_no_map_of_keys(
    data: bytes, rule: str, line: int, column: int, problems_of: ProblemsOf
) -> None:
    # Expected places by hand: counted in the bytes; 16 levels are allowed below the root.
    found = problems_of("job", data)
    assert [(p.rule, p.line, p.column) for p in found] == [(rule, line, column)]


def test_brackets_deeper_than_the_scanner_goes_are_too_deep(problems_of: ProblemsOf) -> None:
    assert [p.rule for p in problems_of("job", b"[" * 60_000)] == ["too-deep"]


def test_byte_order_mark_is_one_problem_and_the_rest_is_read(
    texts: dict[str, str], problems_of: ProblemsOf
) -> None:
    spoilt = texts["job"].replace("quantity: 1", "quantity: none")
    found = problems_of("job", b"\xef\xbb\xbf" + spoilt.encode())
    # By hand: quantity is line 5 of data/job.yaml, its value in column 11.
    assert [(p.rule, p.line, p.column) for p in found] == [
        ("byte-order-mark", 1, 1),
        ("wrong-type", 5, 11),
    ]


def test_every_alias_is_refused_before_it_can_multiply(problems_of: ProblemsOf) -> None:
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]" for n in range(1, 200)]
    found = problems_of("job", "\n".join(lines))
    # By hand: 200 anchors and 2 aliases on each of 199 lines.
    assert sum(p.rule == "yaml-feature" for p in found) == 200 + 2 * 199


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("{" + ",".join(f"edg{n}" for n in range(8000)) + "}", id="unknown-keys"),
        pytest.param("title: " + "1" * 60_000, id="digits-as-text"),
        pytest.param("temper: " + "1" * 60_000, id="digits-as-quantity"),
        pytest.param("quantity: 1" + ":30" * 20_000, id="base-60"),
        pytest.param("{" + "a: 1, " * 10_000 + "}", id="one-key-repeated"),
    ],
)
def test_hostile_file_takes_no_long_time(text: str, problems_of: ProblemsOf) -> None:
    start = time.process_time()
    assert problems_of("job", text)
    # Property: time grows in proportion to the text; in proportion to its square it is minutes.
    assert time.process_time() - start < 5


def test_crlf_and_cr_line_ends_count_as_one(texts: dict[str, str], problems_of: ProblemsOf) -> None:
    spoilt = texts["job"].replace("quantity: 1", "quantity: none")
    for end in ("\r\n", "\r"):
        (problem,) = problems_of("job", spoilt.replace("\n", end))
        assert (problem.line, problem.column, problem.excerpt) == (5, 11, "quantity: none")


def test_columns_count_characters_not_bytes(problems_of: ProblemsOf) -> None:
    found = problems_of("job", "title: Käfermesser\nrelief: {größe: 1 mm}\n")
    unknown = next(p for p in found if p.rule == "unknown-key")
    assert (unknown.key_path, unknown.line, unknown.column) == ("relief.größe", 2, 10)


def test_comments_may_hold_tabs(texts: dict[str, str], problems_of: ProblemsOf) -> None:
    text = texts["job"].replace("quantity: 1", "quantity: 1  #\tone\n#\tonly a comment")
    assert problems_of("job", text) == []


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("1095", "1095"),
        ("1.2510", "1.2510"),
        ('"1.2510"', "1.2510"),
        ("'52100'", "52100"),
        ("o-1", "o-1"),
    ],
)
def test_steel_keeps_its_source_text(
    written: str, read: str, texts: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "job.yaml"
    path.write_text(texts["job"].replace("steel: O1", f"steel: {written}"))
    steel = load_job(path).model.steel
    assert steel == read
    assert type(steel) is str


def test_values_of_a_model_are_plain_not_nodes(texts: dict[str, str]) -> None:
    root = read_bytes(texts["machine"].encode(), "machine.yaml").root
    machine = Machine.model_validate(root)
    assert type(machine.axes) is dict
    assert {type(letter) for letter in machine.axes} == {str}
    assert type(machine.axes["X"].role) is str
    assert type(machine.title) is str
    assert type(machine.rack) is list
    assert type(machine.rack[0].grit) is str


def test_input_error_holds_at_least_one_problem(tmp_path: Path) -> None:
    path = tmp_path / "job.yaml"
    path.write_text("title: x\n")
    with pytest.raises(InputError, match="missing-key") as caught:
        load_job(path)
    # By hand: a job must also have steel, blade and relief.
    assert [p.key_path for p in caught.value.problems] == ["blade", "relief", "steel"]
