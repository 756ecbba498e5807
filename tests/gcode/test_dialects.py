"""The writer's tables: what they let pass, and that nothing but they tells the dialects apart."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

import planner
from planner.gcode.allowed import NotInDialectError, check_lines
from planner.gcode.dialects import DIALECTS
from planner.gcode.program import Coolant, Dwell, Move, Program, Spindle, Stop
from planner.gcode.render import program_text
from planner.inputs.controllers import CONTROLLERS
from planner.proof.dialects import DIALECTS as PROOF_DIALECTS
from planner.proof.dialects import counted_characters, keeps
from tests.samples import GONE, a_machine

SMALL_MACHINE = {
    "axes__A": GONE,
    "coolant": {"kind": "dry"},
    "controller__dialect": "small",
}


def text_of(steps, machine=None, dialect=None):
    machine = machine or a_machine()
    if dialect is not None:
        # As if the machine file had been let through: the writer must refuse by itself.
        machine = machine.model_copy(
            update={"controller": machine.controller.model_copy(update={"dialect": dialect})}
        )
    return program_text(Program("setup-A.ngc", "A", tuple(steps)), machine)


# --- no branches --------------------------------------------------------------------------------


def test_no_line_of_code_asks_for_a_dialect_by_its_name():
    tables = {"gcode/dialects.py", "proof/dialects.py", "inputs/controllers.py"}
    root = Path(planner.__file__).parent
    named = re.compile(r"""["'](?:rs274ngc|small)["']""")
    found = [
        (str(file.relative_to(root)), line.strip())
        for file in sorted(root.rglob("*.py"))
        for line in file.read_text().splitlines()
        if named.search(line) and str(file.relative_to(root)) not in tables
    ]
    # The one place left is the type of the key in the machine file.
    assert found == [("inputs/machine.py", 'dialect: Literal["rs274ngc", "small"]')]
    for table in tables:
        text = (root / table).read_text()
        branches = re.findall(r"^\s*(?:el)?if .*(?:name|dialect)\s*(?:==|!=|in)\b.*$", text, re.M)
        assert branches == []


def test_every_table_has_both_dialects():
    assert set(DIALECTS) == set(PROOF_DIALECTS) == set(CONTROLLERS) == {"rs274ngc", "small"}
    for name in DIALECTS:
        ours, theirs = DIALECTS[name], PROOF_DIALECTS[name]
        assert ours.name == theirs.name == name
        # Property: two tables, made apart, of which the writer's allows nothing beyond the proof's.
        assert ours.codes <= set(theirs.codes)
        assert ours.axis_letters == theirs.straight_letters | theirs.rotary_letters
        assert ours.value_letters <= theirs.value_letters
        assert ours.longest_line <= theirs.longest_line
        assert (ours.path_mode is not None) == theirs.blends


# --- what the tables let pass ---------------------------------------------------------------------


# Source: docs/controllers.md: what each class takes.
@pytest.mark.parametrize(
    ("dialect", "line"),
    [
        ("small", "G64 P0.0050"),
        ("small", "M7"),
        ("small", "G0 A12.500"),
        ("small", "G1 X1.0000 B1.000 F5.0"),
        # By hand: 2^-16 = 0.0000153 between numbers of 24 bits from 128 to 256.
        ("small", "G0 X150.12345"),
        # By hand: 2^-13 = 0.000122 between them from 1024 to 2048.
        ("small", "G0 X1500.1234"),
        ("rs274ngc", "G0 U1.0000"),
        ("rs274ngc", "G2 X1.0000"),
        ("rs274ngc", "G0 G1 X1.0000"),
        ("rs274ngc", "G0 X1.0000 X2.0000"),
        ("rs274ngc", "X1.0000"),
        ("rs274ngc", "G0"),
        ("rs274ngc", "G0 X-0.0000"),
        ("rs274ngc", "g0 X1.0000"),
        ("rs274ngc", "G0 X1e-05"),
        ("rs274ngc", "G0 X1.0000 (beside)"),
        ("rs274ngc", "G53 G0 Z1.0000"),
        ("rs274ngc", "N10 G21"),
        ("rs274ngc", "M6"),
        ("rs274ngc", "M1"),
        ("rs274ngc", "(MSG stop)"),
        ("rs274ngc", "(title a) M3 (b)"),
        ("rs274ngc", "(title " + "x" * 70 + ")"),
        ("rs274ngc", ""),
    ],
)
def test_what_is_not_in_the_table_is_no_line(dialect, line):
    with pytest.raises(NotInDialectError):
        check_lines([line], DIALECTS[dialect])


@pytest.mark.parametrize(
    ("dialect", "line"),
    [
        ("rs274ngc", "G64 P0.0050"),
        ("rs274ngc", "M7"),
        ("rs274ngc", "G1 X1.0000 A12.500 F0.500000"),
        ("rs274ngc", "G0 X150.12345"),
        # By hand: 2^-17 = 0.0000076 between numbers of 24 bits from 64 to 128.
        ("small", "G0 X100.12345"),
        # By hand: 2^-14 = 0.000061 from 512 to 1024.
        ("small", "G0 X1000.1234"),
        ("small", "G93"),
        ("small", "(title a b)"),
    ],
)
def test_what_is_in_the_table_passes(dialect, line):
    check_lines([line], DIALECTS[dialect])


def test_a_line_is_counted_as_the_controller_counts_it():
    # By hand: 20 characters, 18 without the blanks; a comment counts with one and not the other.
    line, note = "G0 X123.4567 Y1.0000", "(title " + "x" * 40 + ")"
    narrow = replace(DIALECTS["small"], longest_line=18)
    check_lines([line, note], narrow)
    with pytest.raises(NotInDialectError, match="too long"):
        check_lines([line], replace(narrow, longest_line=17))
    with pytest.raises(NotInDialectError, match="too long"):
        check_lines([line], replace(DIALECTS["rs274ngc"], longest_line=19))
    with pytest.raises(NotInDialectError, match="too long"):
        check_lines([note], replace(DIALECTS["rs274ngc"], longest_line=19))
    assert counted_characters(PROOF_DIALECTS["small"], line) == 18
    assert counted_characters(PROOF_DIALECTS["small"], note) == 0
    assert counted_characters(PROOF_DIALECTS["rs274ngc"], line) == 20


def test_the_proof_knows_which_numbers_single_precision_keeps():
    # By hand: from 128 to 256 the kept numbers are 2^-16 apart: 150.00001 lies 1e-5 from 150 and
    # 5.3e-6 from 150 + 2^-16 = 150.00001526, over the half decimal 5e-6. 150 itself is kept.
    assert not keeps(PROOF_DIALECTS["small"], "150.00001", 150.00001)
    assert keeps(PROOF_DIALECTS["small"], "150.00000", 150.0)
    assert keeps(PROOF_DIALECTS["small"], "100.12345", 100.12345)
    assert keeps(PROOF_DIALECTS["rs274ngc"], "150.00001", 150.00001)


# --- nothing is written around the tables --------------------------------------------------------


UP = Move({"infeed": 5.0})


@pytest.mark.parametrize(
    ("step", "dialect", "said"),
    [
        (Coolant("M7"), "small", "M7"),
        (Coolant("M3"), "rs274ngc", "M3"),
        (Move({"tilt": 3.0}), "small", "A word"),
        (Move({"tilt": 3.0, "traverse": 1.0}, minutes=0.5), "small", "A word"),
    ],
)
def test_the_writer_refuses_by_its_table(step, dialect, said):
    with pytest.raises(NotInDialectError, match=said):
        text_of([UP, step], dialect=dialect)


def test_a_form_that_a_table_changes_changes_the_text(monkeypatch):
    other = replace(
        DIALECTS["rs274ngc"],
        dwell_units_a_second=1000,
        dwell_decimals=0,
        stop=("M0", "{message}"),
        stop_leaves_wheel_turning=False,
        end="M30",
        codes=DIALECTS["rs274ngc"].codes | {"M30"},
        path_mode=None,
    )
    monkeypatch.setitem(DIALECTS, "rs274ngc", other)
    text = text_of([UP, Spindle(2850.0), Dwell(0.25), Stop("look")])
    # By hand: a quarter of a second is 250 ms.
    assert text.splitlines()[4:] == [
        "G0 Z5.0000", "S2850 M3", "G4 P250", "M0", "(message look)", "M30",
    ]  # fmt: skip


# --- stops ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("dialect", list(DIALECTS))
@pytest.mark.parametrize(
    "before",
    [
        (),
        (UP, Move({"infeed": -0.01}, 200.0)),
        (UP, Move({"infeed": 4.99}, 200.0)),
        (UP, Move({"infeed": -0.01}, 200.0), Move({"traverse": 100.0}, 1000.0)),
    ],
)
def test_a_stop_before_the_retract_is_no_program(dialect, before):
    machine = a_machine(**(SMALL_MACHINE if dialect == "small" else {}))
    with pytest.raises(ValueError, match="before the wheel is retracted"):
        text_of([*before, Stop("look")], machine)
    assert text_of([*before, UP, Stop("look")], machine).endswith("(message look)\nM0\nM2\n")


@pytest.mark.parametrize("dialect", list(DIALECTS))
def test_a_stop_that_leaves_the_wheel_turning_is_no_program(dialect):
    machine = a_machine(**(SMALL_MACHINE if dialect == "small" else {}))
    with pytest.raises(ValueError, match="leaves the wheel turning"):
        text_of([UP, Spindle(2850.0), Stop("look")], machine)
    assert "M5\n(message" in text_of([UP, Spindle(2850.0), Spindle(None), Stop("look")], machine)
