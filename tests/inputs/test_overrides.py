"""``--set`` replaces one value, reports its own faults, and takes a key out when left empty."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import InputError, Problem
from planner.inputs.load import load_job, load_machine, load_pair

DATA = Path(__file__).parent / "data"
JOB = DATA / "job.yaml"
MACHINE = DATA / "machine.yaml"


def problems(*overrides: str, path: Path = JOB) -> list[Problem]:
    load = load_job if path == JOB else load_machine
    with pytest.raises(InputError, match=r".") as caught:
        load(path, overrides)
    return list(caught.value.problems)


def test_values_are_replaced_at_any_depth() -> None:
    job = load_job(
        JOB,
        [
            "relief.edge_land=1.0 mm",
            "blade.section={form: double_bevel, thickness: 1/8 in, width: 20 mm, angle_a: 10 deg,"
            " angle_b: 15 deg}",
            "spread.thickness=0.02 mm",  # a map that the file does not have
            'title="no"',
        ],
    ).model
    assert job.relief.edge_land_mm == 1.0
    assert job.blade.section.thickness_mm == 3.175  # By hand: 25.4 / 8
    assert job.spread.thickness_mm == 0.02
    assert job.title == "no"


def test_items_of_a_list_are_counted_from_0_in_either_form() -> None:
    dotted = load_machine(MACHINE, ["rack.0.diameter=120 mm"]).model
    bracketed = load_machine(MACHINE, ["rack[0].diameter=120 mm", "axes.X.travel[1]=90 mm"]).model
    assert dotted.rack[0].diameter_mm == bracketed.rack[0].diameter_mm == 120.0
    assert bracketed.axes["X"].travel_mm == (-150.0, 90.0)  # type: ignore[union-attr]


def test_last_of_two_for_one_key_holds_and_mends_a_repeated_key(tmp_path: Path) -> None:
    path = tmp_path / "job.yaml"
    path.write_text(JOB.read_text())
    assert load_job(path, ["quantity=2", "quantity=3"]).model.quantity == 3


def test_empty_value_takes_the_key_out() -> None:
    relief = load_job(JOB, ["relief.edge_land=", "relief.depth=0.03 mm"]).model.relief
    assert (relief.edge_land_mm, relief.depth_mm) == (None, 0.03)
    assert load_job(JOB, ["wheel=null"]).model.wheel is None
    assert load_job(JOB, ["wheel= # none"]).model.wheel is None
    assert load_job(JOB, ["temper=", "spread.thickness="]).model.temper_c is None


def test_digest_is_of_the_file_alone() -> None:
    assert load_job(JOB).sha256 == load_job(JOB, ["quantity=2"]).sha256


# By hand: the column is counted in the override's own text, the line is its number.
@pytest.mark.parametrize(
    ("text", "rule", "key_path", "column"),
    [
        pytest.param("relief.edge_land=1.0", "no-unit", "relief.edge_land", 18, id="bare-number"),
        pytest.param("relief.edge_land= 5 m", "out-of-range", "relief.edge_land", 19, id="range"),
        pytest.param("relif.depth=1 mm", "unknown-key", "relif", 1, id="unknown-map"),
        pytest.param("relief.hue=1 mm", "unknown-key", "relief.hue", 8, id="unknown-key"),
        pytest.param("quantity=010", "yaml-trap", "quantity", 10, id="trap"),
        pytest.param("steel=O99", "unknown-steel", "steel", 7, id="steel"),
        pytest.param("relief.depth=0.03 mm", "two-of-three", "relief.edge_land", 0, id="file"),
        pytest.param("title.text=x", "override-path", "text", 7, id="below-a-text"),
        pytest.param("title", "override-form", "", 1, id="no-equals-sign"),
        pytest.param("=5", "override-form", "", 1, id="no-key"),
        pytest.param("a..b=5", "override-form", "", 1, id="empty-key"),
        pytest.param("title=a\nsteel: b", "override-form", "", 1, id="two-lines"),
        pytest.param("title=[a", "yaml-syntax", "title", 9, id="not-yaml"),
        pytest.param("title=*a", "yaml-feature", "title", 7, id="alias"),
        pytest.param("title=a\tb", "tab", "title", 8, id="tab"),
        pytest.param("title=a\x1bb", "control-character", "title", 8, id="escape"),
    ],
)
def test_fault_points_into_the_text_of_the_set(
    text: str, rule: str, key_path: str, column: int
) -> None:
    (problem,) = problems("quantity=2", text)
    assert (problem.rule, problem.key_path) == (rule, key_path)
    if column:
        assert (problem.file, problem.line, problem.column) == ("--set", 2, column)
        assert problem.excerpt == text
    else:
        # By hand: edge_land is line 13 of the job file; the third of three came from outside.
        assert (Path(problem.file), problem.line) == (JOB, 13)


def test_item_that_is_not_there_names_the_numbers_there_are() -> None:
    (problem,) = problems("rack.1.diameter=120 mm", path=MACHINE)
    assert (problem.rule, problem.key_path, problem.column) == ("override-path", "1", 6)
    assert problem.allowed == "a number from 0 to 0"


def test_missing_key_of_a_map_from_outside_points_at_the_set() -> None:
    (problem,) = problems("fixture.jaws.from_edge=8 mm", path=MACHINE)
    assert (problem.rule, problem.key_path) == ("missing-key", "fixture.jaws.above_flank")
    assert (problem.file, problem.column) == ("--set", 9)  # By hand: where jaws stands


def test_faults_of_file_and_sets_come_together(tmp_path: Path) -> None:
    path = tmp_path / "job.yaml"
    path.write_text(JOB.read_text().replace("quantity: 1", "quantity: none"))
    with pytest.raises(InputError, match="quantity") as caught:
        load_job(path, ["relief.edge_land=1"])
    assert [p.rule for p in caught.value.problems] == ["no-unit", "wrong-type"]


def test_sets_are_reported_though_the_file_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="file-not-found") as caught:
        load_job(tmp_path / "none.yaml", ["nothing"])
    assert {p.rule for p in caught.value.problems} == {"override-form", "file-not-found"}


def test_pair_sends_each_set_to_its_file() -> None:
    job, machine = load_pair(
        JOB, overrides=["machine.spindle.speed=2000 rpm", "quantity=5", "machine.rack.0.grit=F60"]
    )
    assert job.model.quantity == 5
    assert machine.model.spindle.speed_rpm == 2000.0
    assert machine.model.rack[0].grit == "F60"


def test_pair_takes_another_machine_from_a_set(tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    other.write_text(MACHINE.read_text().replace("title: Converted", "title: Another"))
    _, machine = load_pair(JOB, overrides=[f"machine={other}"])
    assert machine.model.title == "Another surface grinder"


def test_fault_in_a_set_for_the_machine_keeps_its_columns() -> None:
    with pytest.raises(InputError, match="no-unit") as caught:
        load_pair(JOB, overrides=["machine.spindle.speed=2000"])
    (problem,) = caught.value.problems
    # By hand: the value starts in column 23 of the text.
    assert (problem.file, problem.line, problem.column) == ("--set", 1, 23)
    assert problem.key_path == "spindle.speed"


PATHS = st.sampled_from(
    ["title", "relief.depth", "blade", "blade.section", "rack.0", "machine.rack[0].name",
     "machine.axes.X", "machine.axes", "machine", "", "a.b.c", "steel", "steel.name", "wheel"]
)  # fmt: skip
VALUES = st.one_of(
    st.text(max_size=20),
    st.sampled_from(["{}", "[]", "{a: 1, a: 2}", "null", "*a", "&a 1", "1e3", "O1", "[[[", "5 mm"]),
)


@settings(deadline=None, max_examples=100)
@given(st.lists(st.tuples(PATHS, VALUES), max_size=3))
def test_any_set_gives_a_pair_or_problems(pairs: list[tuple[str, str]]) -> None:
    found: tuple[Problem, ...] = ()
    loaded = None
    try:
        loaded = load_pair(JOB, overrides=[f"{path}={value}" for path, value in pairs])
    except InputError as error:
        found = error.problems
    assert (loaded is None) == bool(found)
