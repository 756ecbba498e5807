"""The command from the outside: exit codes, which stream, widths, colours, pipes."""

import json
import os
import pty
import re
import subprocess
from collections import Counter
from functools import cache

import pytest

from tests.commands import EASY, JOB, JOBS, MACHINE, QUICK, ROOT, process, run

COMMANDS = ["check", "section", "plan", "write", "prove", "schema"]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The files of the quickest example job."""
    folder = tmp_path_factory.mktemp("cli") / "out"
    done = run("write", QUICK, *EASY, "--out", folder)
    assert (done.code, done.err) == (0, "")
    return folder


# --- exit codes and streams ---------------------------------------------------------------------


@pytest.mark.parametrize("command", [[], *([c] for c in COMMANDS)])
def test_help(command):
    done = run(*command, "--help")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("Usage:")
    assert all(len(line) <= 80 for line in done.out.splitlines())


def test_version():
    from planner import __version__  # noqa: PLC0415

    assert run("--version").out.strip().endswith(__version__)


@pytest.mark.parametrize(
    "arguments",
    [
        ["frobnicate"],
        ["plan"],
        ["plan", JOB, "--frobnicate"],
        ["write", JOB],
        ["check"],
        ["prove", "x.ngc"],
        ["schema", "knife"],
        ["plan", JOB, "--blade", "0"],
        # Bad input.
        ["plan", ROOT / "jobs" / "no-such.yaml"],
        ["check", ROOT / "README.md"],
        ["check", JOB, ROOT / "jobs" / "no-such.yaml"],
        ["section", JOB, "--machine", ROOT / "no-such.yaml"],
        ["section", JOB, "--set", "relief.edge_land=1.0"],
        ["section", JOB, "--set", "relief.edg_land=1.0 mm"],
        ["section", JOB, "--set", "nonsense"],
        ["prove", ROOT / "no-such.ngc", "--job", JOB],
        ["prove", ROOT, "--job", JOB],
    ],
)
def test_bad_usage_and_bad_input_are_2_and_speak_on_standard_error(arguments):
    done = run(*arguments)
    assert done.code == 2
    if arguments[:2] != ["check", JOB]:
        assert done.out == ""
    assert done.err
    assert "Traceback" not in done.err


REFUSED = ["--set", "relief.edge_land=6 mm"]


@pytest.mark.parametrize("command", ["section", "plan"])
def test_a_refusal_is_1_with_its_reason_on_standard_error(command):
    done = run(command, JOB, *REFUSED)
    assert (done.code, done.out) == (1, "")
    # By hand: lands of 6 and 1.4 on a face of 6.93 overlap by 0.47.
    assert "refused" in done.err
    assert "overlap by 0.47 mm" in " ".join(done.err.split())
    assert "ways out" in done.err


def test_a_refused_write_leaves_no_folder(tmp_path):
    done = run("write", JOB, "--out", tmp_path / "out", "--set", "relief.edge_land=6 mm")
    assert (done.code, done.out) == (1, "")
    assert "No program was written" in done.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("columns", [40, 60])
def test_a_long_path_stands_on_a_line_of_its_own(tmp_path, columns):
    folder = tmp_path / ("a-folder-with-a-long-name-" * 4)
    folder.mkdir()
    machine = folder / "machine.yaml"
    machine.write_bytes(MACHINE.read_bytes())
    typo = folder / "typo.yaml"
    typo.write_text(MACHINE.read_text().replace("power:", "pwoer:", 1))
    for file, code in ((machine, 0), (typo, 2)):
        done = run("check", file, columns=columns)
        assert done.code == code
        assert str(file) in done.out + done.err
        for line in (done.out + done.err).splitlines():
            assert len(line) <= columns or len(line.split()) == 1, line


def test_check_says_what_it_understood():
    done = run("check", JOB, MACHINE)
    assert (done.code, done.err) == (0, "")
    assert "straight-knife.yaml: a job, no errors" in " ".join(done.out.split())
    assert "wheel-xyza.yaml: a machine, no errors" in " ".join(done.out.split())


def test_every_example_file_is_valid():
    files = [*JOBS, *sorted((ROOT / "machines").glob("*.yaml"))]
    assert len(files) >= 6
    assert run("check", *files).code == 0


@pytest.mark.parametrize("what", ["job", "machine"])
def test_schema(what):
    done = run("schema", what)
    assert done.code == 0
    assert json.loads(done.out)["type"] == "object"


# --- figures as JSON ------------------------------------------------------------------------------


def no_constants(name):
    raise AssertionError(f"{name} is no JSON")


def parsed(text):
    return json.loads(text, parse_constant=no_constants)


def test_section_as_json():
    done = run("section", QUICK, "--json")
    assert (done.code, done.err) == (0, "")
    data = parsed(done.out)
    assert list(data) == [
        "wheel", "section", "tolerance", "wall", "bent", "cut", "steel_behind_edge", "honing",
    ]  # fmt: skip
    assert data["section"]["reliefs"][0]["face"] == "A"


def test_plan_as_json():
    done = run("plan", QUICK, *EASY, "--json")
    assert (done.code, done.err) == (0, "")
    data = parsed(done.out)
    assert data["format"] == "bevelwright-plan/1"
    assert "proof" not in data


def test_write_as_json_is_the_file_itself(tmp_path):
    done = run("write", QUICK, *EASY, "--out", tmp_path / "out", "--json")
    assert done.code == 0
    assert done.out == (tmp_path / "out" / "plan.json").read_text()
    assert parsed(done.out)["proof"]["programs"][0]["ok"] is True


def test_prove_as_json(written):
    done = run("prove", written / "setup-A.ngc", "--job", QUICK, *EASY, "--json")
    assert (done.code, done.err) == (0, "")
    data = parsed(done.out)
    assert data["ok"] is True
    assert data["faults"] == []


@pytest.mark.parametrize("command", ["section", "plan"])
def test_a_refusal_as_json(command):
    done = run(command, JOB, *REFUSED, "--json")
    assert done.code == 1
    refused = parsed(done.out)["refused"]
    assert all(r["rule"] and r["text"] for r in refused)
    assert "refused" in done.err


# --- overrides ----------------------------------------------------------------------------------


def test_set_changes_the_job_and_the_machine():
    plain = parsed(run("section", QUICK, "--json").out)
    changed = parsed(
        run(
            "section", QUICK, "--json",
            "--set", "relief.edge_land=0.8 mm",
            "--set", "machine.rack[0].diameter=40 mm",
        ).out
    )  # fmt: skip
    relief = changed["section"]["reliefs"][0]
    before = plain["section"]["reliefs"][0]
    assert relief["edge_land_mm"] == 0.8
    # By hand: 0.2 mm less land is 0.2 mm more chord.
    assert relief["chord_mm"] == pytest.approx(before["chord_mm"] + 0.2)
    # By hand: d = 20 - sqrt(400 - c^2/4).
    assert relief["depth_mm"] == pytest.approx(
        20 - (400 - relief["chord_mm"] ** 2 / 4) ** 0.5, abs=1e-8
    )


def test_another_machine():
    data = parsed(run("plan", QUICK, "--json", "--machine", MACHINE).out)
    assert data["machine"]["file"] == "wheel-xyza.yaml"
    assert data["setups"][0]["axes"]["tilt"] == "A"


# --- widths and colours -------------------------------------------------------------------------


def figures(text):
    return re.findall(r"\d+(?:\.\d+)?", text)


@cache
def on_a_wide_screen(*arguments):
    return run(*arguments, columns=300)


@pytest.mark.parametrize("columns", [60, 80])
@pytest.mark.parametrize(
    "arguments",
    [
        ["section", JOB],
        ["plan", JOB],
        ["plan", ROOT / "jobs" / "broad-knife.yaml"],
        ["plan", JOB, "--set", "wheel="],
        ["check", JOB, MACHINE],
        ["section", JOB, *REFUSED],
        ["section", JOB, "--set", "relief.edge_land=1.0", "--set", "blade.edge.lenght=8 mm"],
        ["plan", JOB, "--set", "relief.land_tolerance=0.02 mm"],
    ],
    ids=lambda a: " ".join(getattr(x, "name", x) for x in a),
)
def test_nothing_is_wider_than_the_terminal_and_no_figure_is_cut(arguments, columns):
    narrow, wide = run(*arguments, columns=columns), on_a_wide_screen(*arguments)
    assert narrow.code == wide.code
    for text in (narrow.out, narrow.err):
        for line in text.splitlines():
            # A path or a digest is one word; only such a word may stand out.
            assert len(line) <= columns or len(line.split()) == 1, line
        assert "…" not in text
    # Property: no figure is cut: each stands on the wide screen as well, and nothing is missing
    # but whole columns of the passes.
    on_narrow, on_wide = (Counter(figures(d.out + d.err)) for d in (narrow, wide))
    assert on_narrow - on_wide == Counter()
    if "pass " not in wide.out:
        assert on_narrow == on_wide
    assert "\x1b" not in narrow.out + narrow.err


@pytest.mark.parametrize("columns", [60, 80])
def test_a_verdict_fits(written, columns, monkeypatch):
    monkeypatch.chdir(written.parent)
    done = run("prove", "out/setup-A.ngc", "--job", QUICK, *EASY, columns=columns)
    assert done.code == 0
    for line in done.out.splitlines():
        assert len(line) <= columns or len(line.split()) == 1, line


def on_a_terminal(*arguments, **environment):
    """Everything that a process shows on a terminal of its own."""
    ours, theirs = pty.openpty()
    running = process(
        *arguments,
        stdout=theirs,
        stderr=theirs,
        env={"TERM": "xterm-256color", "COLUMNS": "80", **environment},
    )
    os.close(theirs)
    shown = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:  # the other end is closed
            break
        if not part:
            break
        shown += part
    os.close(ours)
    assert running.wait(timeout=30) == 0
    return shown.decode()


COLOUR = re.compile(r"\x1b\[[0-9;]*(?:3[0-7]|4[0-7]|9[0-7]|38|48)[0-9;]*m")


def test_no_color_takes_the_colour_out():
    coloured = on_a_terminal("plan", QUICK, *EASY)
    assert COLOUR.search(coloured)
    plain = on_a_terminal("plan", QUICK, *EASY, NO_COLOR="1")
    assert not COLOUR.search(plain)
    strip = re.compile(r"\x1b\[[0-9;]*m")
    assert strip.sub("", plain) == strip.sub("", coloured)


# --- pipes and prompts ----------------------------------------------------------------------------


@pytest.mark.parametrize("more", [[], ["--json"]], ids=["screen", "json"])
def test_a_closed_pipe_ends_the_command_quietly(more):
    running = process("plan", QUICK, *EASY, *more, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.close()
    assert running.stderr.read() == b""
    running.stderr.close()
    # Killed by the signal as other commands are; not 1 or 2, which mean something here.
    assert running.wait(timeout=30) not in (1, 2)


def test_a_full_disk_behind_the_output_is_told():
    with open("/dev/full", "wb") as full:
        running = process("check", JOB, stdout=full, stderr=subprocess.PIPE)
        assert running.stderr is not None
        error = running.stderr.read().decode()
        running.stderr.close()
    assert running.wait(timeout=30) == 2
    assert "output cannot be written" in error
    assert "Traceback" not in error


# --- prove --------------------------------------------------------------------------------------


def test_prove_says_what_it_proved(written):
    done = run("prove", written / "setup-A.ngc", "--job", QUICK, *EASY)
    assert (done.code, done.err) == (0, "")
    assert "proved" in done.out
    air = run("prove", written / "setup-A-air.ngc", "--job", QUICK, *EASY, columns=300)
    assert air.code == 0
    assert "safe air run" in air.out


@pytest.mark.parametrize(
    ("find", "put", "rule"),
    [
        ("M5\nM2", "M2", "end-spindle-on"),
        ("G17 G90 G94", "G17 G91 G94", "incremental"),
        ("(kind cutting)", "(kind cutting", "comment-unclosed"),
        ("G54\n", "G54\nG92 X0\n", "offset-code"),
    ],
)
def test_a_damaged_program_is_1_and_names_the_line_first(written, tmp_path, find, put, rule):
    text = (written / "setup-A.ngc").read_text()
    assert find in text
    bad = tmp_path / "bad.ngc"
    bad.write_text(text.replace(find, put, 1))
    done = run("prove", bad, "--job", QUICK, *EASY, columns=300)
    assert done.code == 1
    first = done.out.splitlines()[0]
    match = re.match(rf"{re.escape(str(bad))}:(\d+): \[([a-z-]+)\] ", first)
    assert match
    # Property: the first fault first, by line number, and the damage among them.
    numbers = [int(n) for n in re.findall(rf"^{re.escape(str(bad))}:(\d+): ", done.out, re.M)]
    assert numbers == sorted(numbers)
    assert f"[{rule}]" in done.out
    assert "do not run this program" in done.out
    as_json = run("prove", bad, "--job", QUICK, *EASY, "--json")
    assert as_json.code == 1
    assert parsed(as_json.out)["faults"][0]["line"] == numbers[0]


def test_a_program_without_a_header_needs_to_be_told(written, tmp_path):
    lines = (written / "setup-A.ngc").read_text().splitlines(keepends=True)
    bare = tmp_path / "bare.ngc"
    bare.write_text("".join(x for x in lines if not x.startswith("(")))
    assert run("prove", bare, "--job", QUICK, *EASY).code == 1
    told = run("prove", bare, "--job", QUICK, *EASY, "--setup", "A", "--wheel", "pencil 50")
    assert told.code == 0, told.out


def test_a_program_of_another_job_does_not_prove(written):
    done = run(
        "prove", written / "setup-A.ngc", "--job", QUICK, *EASY, "--set", "relief.edge_land=0.4 mm"
    )
    assert done.code == 1
