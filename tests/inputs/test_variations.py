"""``--vary``: lists and ranges of values, and what is wrong with one."""

from __future__ import annotations

import contextlib
import shutil
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import InputError, Problem
from planner.inputs.load import load_pair
from planner.inputs.quantities import LENGTH, parse_quantity
from planner.inputs.variations import read_variations, variants_of

DATA = Path(__file__).parent / "data"
JOB = DATA / "job.yaml"


# By hand: the values as they would be written out one by one.
@pytest.mark.parametrize(
    ("text", "values"),
    [
        pytest.param("a=0.8,1.0,1.2mm", ("0.8 mm", "1.0 mm", "1.2 mm"), id="one-unit"),
        pytest.param("a=0.8 mm, 1/32 in", ("0.8 mm", "1/32 in"), id="a-unit-each"),
        pytest.param("a=1 1/8, 1 1/4 in", ("1 1/8 in", "1 1/4 in"), id="fractions"),
        pytest.param("a=10,20 mm/min", ("10 mm/min", "20 mm/min"), id="unit-with-a-stroke"),
        pytest.param("a=20,80 %", ("20 %", "80 %"), id="shares"),
        pytest.param("a=both,A", ("both", "A"), id="words"),
        pytest.param("a=1,5,25", ("1", "5", "25"), id="counts"),
        pytest.param("a=[-5 mm, 5 mm],[0 mm, 9 mm]", ("[-5 mm, 5 mm]", "[0 mm, 9 mm]"), id="lists"),
        pytest.param("a={b: 1, c: 2}", ("{b: 1, c: 2}",), id="map"),
        pytest.param('a="x, y",z', ('"x, y"', "z"), id="quotes"),
        pytest.param("a=,1 mm", ("", "1 mm"), id="taken-out"),
        pytest.param("a=40:200:80mm", ("40 mm", "120 mm", "200 mm"), id="range"),
        pytest.param("a=0:1:0.4 mm", ("0 mm", "0.4 mm", "0.8 mm"), id="end-not-met"),
        pytest.param("a=1.3 mm:1.0 mm:0.1 mm", ("1.3 mm", "1.2 mm", "1.1 mm", "1 mm"), id="down"),
        pytest.param("a=-1:1:1 deg", ("-1 deg", "0 deg", "1 deg"), id="through-zero"),
        pytest.param("a=1/8:3/8:1/8 in", ("0.125 in", "0.25 in", "0.375 in"), id="in-eighths"),
        pytest.param("a=0:1:1/3 in", ("0 in", "1/3 in", "2/3 in", "1 in"), id="in-thirds"),
        pytest.param("a=5:5:1", ("5",), id="one"),
        pytest.param("a=0.05:0.1:0.05 mm", ("0.05 mm", "0.1 mm"), id="leading-zeros"),
        pytest.param("a=12:30", ("12:30",), id="not-a-range"),
    ],
)
def test_values_are_those_written_out(text: str, values: tuple[str, ...]) -> None:
    (found,) = read_variations([text])
    assert (found.key, found.values) == ("a", values)


def test_a_tenth_is_a_tenth_all_the_way() -> None:
    (found,) = read_variations(["a=0:1000:0.1 mm"])
    assert len(found.values) == 10_001
    # Property: no rounding error grows along the range.
    for n in (3, 7001, 10_000):
        assert parse_quantity(found.values[n], LENGTH) == float(Fraction(n, 10))


def problems(*texts: str, most: int = 1000) -> list[Problem]:
    with pytest.raises(InputError, match=r".") as caught:
        read_variations(texts, most)
    return list(caught.value.problems)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        pytest.param("a", "write it like", id="no-equals-sign"),
        pytest.param("=1,2", "write it like", id="no-key"),
        pytest.param("a=1\n2", "write it like", id="two-lines"),
        pytest.param("a=1:2:0", "a step above 0", id="no-step"),
        pytest.param("a=1:2:-1", "a step above 0", id="step-below-0"),
        pytest.param("a=1 mm:2 in:1 mm", "one unit", id="two-units"),
        pytest.param("a=1:2000:1", "a larger step", id="too-many"),
        pytest.param(f"a=0:{'9' * 41}:1", "at most 40", id="too-long"),
        pytest.param("a=1,2,1", "each value once", id="twice"),
    ],
)
def test_fault_says_how_to_mend(text: str, mend: str) -> None:
    (problem,) = problems("b=1", text)
    assert (problem.rule, problem.file, problem.line) == ("vary-form", "--vary", 2)
    assert mend in problem.mend


def test_key_is_varied_once() -> None:
    (problem,) = problems("a=1", "a=2")
    assert (problem.rule, problem.line) == ("vary-form", 2)


def test_all_combinations_are_counted_before_any_is_made() -> None:
    # By hand: 100 * 11 * 1 is more than 1000.
    (problem,) = problems("a=0:10:1", "b=1:100:1", "c=1")
    assert (problem.rule, problem.line, problem.key_path) == ("too-many-variants", 2, "b")
    assert "1100" in problem.given


def test_last_key_changes_fastest() -> None:
    found = list(variants_of(read_variations(["a=1,2", "b=x,y,z"])))
    assert [v.texts for v in found] == [(f"a={a}", f"b={b}") for a in "12" for b in "xyz"]


def test_no_key_is_one_variant() -> None:
    assert [v.texts for v in variants_of([])] == [()]


def test_values_are_read_like_those_of_set() -> None:
    with pytest.raises(InputError, match="no-unit") as caught:
        load_pair(JOB, varied=["quantity=2", "relief.edge_land=0.8"])
    (problem,) = caught.value.problems
    # By hand: the value stands in column 18 of the second text.
    assert (problem.file, problem.line, problem.column) == ("--vary", 2, 18)
    assert problem.key_path == "relief.edge_land"


# --- the named wheel --------------------------------------------------------------------------


@pytest.fixture
def two_wheels(tmp_path: Path) -> Path:
    for name in ("job.yaml", "machine.yaml"):
        shutil.copy(DATA / name, tmp_path / name)
    machine = tmp_path / "machine.yaml"
    text = machine.read_text()
    first = text[text.index("  - {name:") :]
    machine.write_text(text.rstrip() + "\n" + first.replace("name: fine", "name: other"))
    job = tmp_path / "job.yaml"
    job.write_text(job.read_text().replace("machine: machine.yaml", f"machine: {machine}"))
    return job


def diameters(job: Path, *overrides: str) -> list[float]:
    _, machine = load_pair(job, job.parent / "machine.yaml", overrides)
    return [wheel.diameter_mm for wheel in machine.model.rack]


def test_wheel_is_the_named_one_in_the_rack(two_wheels: Path) -> None:
    before = diameters(two_wheels)
    assert diameters(two_wheels, "wheel.diameter=99 mm") == [99.0, before[1]]
    assert diameters(two_wheels, "wheel=other", "wheel.diameter=99 mm") == [before[0], 99.0]


def test_wheel_of_the_relief_operation_is_the_named_one(two_wheels: Path) -> None:
    operation = "operations=[{do: relief, wheel: other}]"
    found = diameters(two_wheels, "wheel=", operation, "wheel.diameter=99 mm")
    assert found == [diameters(two_wheels)[0], 99.0]


def test_wheel_without_a_name_is_refused(two_wheels: Path) -> None:
    with pytest.raises(InputError, match="override-path") as caught:
        diameters(two_wheels, "wheel=", "wheel.diameter=99 mm")
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("--set", 2, 1)
    assert "machine.rack[0].diameter" in problem.mend


def test_wheel_that_is_not_there_is_one_problem(two_wheels: Path) -> None:
    with pytest.raises(InputError, match="unknown-wheel") as caught:
        diameters(two_wheels, "wheel=none", "wheel.diameter=99 mm")
    assert [p.rule for p in caught.value.problems] == ["unknown-wheel"]


def test_fault_in_a_value_of_the_wheel_keeps_its_columns(two_wheels: Path) -> None:
    with pytest.raises(InputError, match="no-unit") as caught:
        diameters(two_wheels, "wheel.diameter=99")
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("--set", 1, 16)
    assert problem.key_path == "rack[0].diameter"


@settings(deadline=None, max_examples=200)
@given(st.lists(st.text(alphabet="a.=[]{}:,'\"01 m/-+\n%", max_size=16), max_size=3))
def test_any_text_gives_variations_or_problems(texts: list[str]) -> None:
    found = []
    with contextlib.suppress(InputError):
        found = read_variations(texts, 100)
    # Property: what is accepted has values, each one text on one line.
    assert all(v.values and not any("\n" in value for value in v.values) for v in found)
