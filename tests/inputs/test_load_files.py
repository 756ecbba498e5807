"""Files that are there, that are not, and the pair of a job and its machine."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

from planner.errors import InputError, Problem
from planner.inputs.blade_forms import DoubleBevel
from planner.inputs.job import Job
from planner.inputs.load import load_either, load_job, load_machine, load_pair
from planner.inputs.machine import Machine

DATA = Path(__file__).parent / "data"
JOB = DATA / "job.yaml"
MACHINE = DATA / "machine.yaml"


def refused(*arguments: object) -> list[Problem]:
    load, *rest = arguments
    with pytest.raises(InputError, match=r".") as caught:
        load(*rest)  # type: ignore[operator]
    return list(caught.value.problems)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """jobs/job.yaml beside machines/machine.yaml, as in the shipped examples."""
    (tmp_path / "jobs").mkdir()
    (tmp_path / "machines").mkdir()
    (tmp_path / "machines/machine.yaml").write_text(MACHINE.read_text())
    text = JOB.read_text().replace("machine: machine.yaml", "machine: ../machines/machine.yaml")
    (tmp_path / "jobs/job.yaml").write_text(text)
    return tmp_path


def test_loaded_file_has_model_path_and_digest_of_the_bytes() -> None:
    job = load_job(JOB)
    assert job.path == JOB
    assert job.sha256 == hashlib.sha256(JOB.read_bytes()).hexdigest()
    assert isinstance(job.model, Job)
    # By hand: as data/job.yaml says.
    assert job.model.temper_c == 190.0
    section = job.model.blade.section
    assert isinstance(section, DoubleBevel)
    assert section.included_angle_deg == 25.0


def test_machine_is_sought_from_the_folder_of_the_job(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    job, machine = load_pair("jobs/job.yaml")
    assert job.path == Path("jobs/job.yaml")
    assert machine.path == Path("machines/machine.yaml")
    assert machine.model.rack[0].name == job.model.wheel == "fine"


def test_path_keeps_its_dots_where_a_link_would_change_their_meaning(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "elsewhere").mkdir()
    (folder / "elsewhere/link").symlink_to(folder / "jobs")
    monkeypatch.chdir(folder / "elsewhere")
    _, machine = load_pair("link/job.yaml")
    assert machine.path == Path("link/../machines/machine.yaml")


def test_machine_named_outside_goes_before_the_job_s_own(folder: Path) -> None:
    other = folder / "other.yaml"
    other.write_text(MACHINE.read_text().replace("Converted", "Another"))
    assert load_pair(folder / "jobs/job.yaml", other)[1].model.title == "Another surface grinder"


def test_job_and_machine_are_told_apart_by_their_keys() -> None:
    assert isinstance(load_either(JOB).model, Job)
    assert isinstance(load_either(MACHINE).model, Machine)


def test_spoilt_machine_is_reported_as_a_machine(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(MACHINE.read_text().replace("rack:", "rak:"))
    assert [(p.rule, p.key_path) for p in refused(load_either, path)] == [("unknown-key", "rak")]


@pytest.mark.parametrize("load", [load_job, load_machine, load_pair, load_either])
def test_file_that_is_not_there_is_a_problem_without_a_line(load: object, tmp_path: Path) -> None:
    path = tmp_path / "none.yaml"
    (problem,) = refused(load, path)
    assert (problem.file, problem.line, problem.rule) == (str(path), 0, "file-not-found")


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        pytest.param("jobs", "not-a-file", id="directory"),
        pytest.param("jobs/job.yaml/x", "file-not-found", id="below-a-file"),
        pytest.param("a\0b", "file-not-found", id="null-byte"),
        pytest.param("x" * 300, "file-not-readable", id="name-too-long"),
    ],
)
def test_path_that_names_no_file_is_a_problem(name: str, rule: str, folder: Path) -> None:
    (problem,) = refused(load_job, folder / name)
    assert problem.rule == rule


def test_pipe_is_refused_before_it_is_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (problem,) = refused(load_job, tmp_path / "pipe")
    assert problem.rule == "not-a-file"


def test_file_that_may_not_be_read_is_a_problem(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    # Stands in for the permissions, which do not bind the superuser.
    monkeypatch.setattr(Path, "open", refuse)
    (problem,) = refused(load_job, folder / "jobs/job.yaml")
    assert problem.rule == "file-not-readable"
    assert "not permitted" in problem.given


def test_machine_that_is_not_there_points_into_the_job(folder: Path) -> None:
    (folder / "machines/machine.yaml").unlink()
    (problem,) = refused(load_pair, folder / "jobs/job.yaml")
    assert (problem.rule, problem.key_path) == ("file-not-found", "machine")
    # By hand: the path is the value of line 6, from column 10.
    assert (Path(problem.file), problem.line, problem.column) == (folder / "jobs/job.yaml", 6, 10)


def test_a_machine_for_a_job_and_a_job_for_a_machine_are_one_problem_each(folder: Path) -> None:
    job, machine = folder / "jobs/job.yaml", folder / "machines/machine.yaml"
    # Property: whatever else its keys would say, it is one sentence.
    (problem,) = refused(load_pair, machine)
    assert (problem.rule, problem.file) == ("other-kind", str(machine))
    assert "is a machine, not a job" in problem.given
    with pytest.raises(InputError) as caught:
        load_pair(job, job)
    assert [p.rule for p in caught.value.problems] == ["other-kind"]
    assert "is a job, not a machine" in caught.value.problems[0].given


def test_a_machine_that_is_not_there_is_told_beside_other_errors(folder: Path) -> None:
    (folder / "machines/machine.yaml").unlink()
    path = folder / "jobs/job.yaml"
    path.write_text(path.read_text().replace("steel:", "stel:"))
    rules = {p.rule for p in refused(load_either, path)}
    # By hand: the key that is not known, which stands for the one that is missing, and the file.
    assert rules == {"unknown-key", "file-not-found"}


def test_job_without_a_machine_needs_one_from_outside(folder: Path) -> None:
    path = folder / "jobs/job.yaml"
    path.write_text(path.read_text().replace("machine: ../machines/machine.yaml\n", ""))
    (problem,) = refused(load_pair, path)
    assert (problem.rule, problem.key_path) == ("missing-key", "machine")
    assert load_pair(path, MACHINE)[1].path == MACHINE


def test_faults_of_both_files_come_together(folder: Path) -> None:
    for name, old, new in (
        ("jobs/job.yaml", "quantity: 1", "quantity: one"),
        ("machines/machine.yaml", "2000 N/mm", "2000"),
    ):
        path = folder / name
        path.write_text(path.read_text().replace(old, new))
    found = refused(load_pair, folder / "jobs/job.yaml")
    assert [(Path(p.file).name, p.rule) for p in found] == [
        ("job.yaml", "wrong-type"),
        ("machine.yaml", "no-unit"),
    ]


def test_wheel_that_is_not_in_the_rack_names_both_files(folder: Path) -> None:
    path = folder / "jobs/job.yaml"
    path.write_text(path.read_text().replace("wheel: fine", "wheel: coarse"))
    (problem,) = refused(load_pair, path)
    assert (problem.rule, problem.key_path) == ("unknown-wheel", "wheel")
    assert (problem.line, problem.column) == (7, 8)  # By hand: the value of line 7
    assert "machine.yaml" in problem.given
    assert "job.yaml" in problem.mend
    assert problem.allowed == "fine"
    assert load_job(path).model.wheel == "coarse"


def test_wheel_is_not_judged_where_the_rack_has_faults_in_its_names(folder: Path) -> None:
    path = folder / "machines/machine.yaml"
    path.write_text(path.read_text().replace("name: fine", "nam: fine"))
    assert [p.rule for p in refused(load_pair, folder / "jobs/job.yaml")] == ["unknown-key"]


def test_unknown_steel_names_near_ones_and_the_table(folder: Path) -> None:
    path = folder / "jobs/job.yaml"
    path.write_text(path.read_text().replace("steel: O1", "steel: 1059"))
    (problem,) = refused(load_pair, path)
    assert (problem.rule, problem.line, problem.column) == ("unknown-steel", 3, 8)
    assert "1095" in problem.mend
    assert "52100" in problem.allowed


def test_reading_without_a_fault_needs_no_translator() -> None:
    """The parts for messages and schemas are not loaded before there is a fault."""
    code = (
        "import sys; from planner.inputs.load import load_pair; load_pair(sys.argv[1]); "
        "print([m for m in ('planner.inputs.translate', 'planner.inputs.survey', "
        "'planner.inputs.json_schema', 'difflib') if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(JOB)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert run.stdout.strip() == "[]"
