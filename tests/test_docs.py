"""The documents: commands in them run, links lead somewhere, tables name what exists."""

import re
import shlex
import shutil

import pytest
import yaml

from planner.report.reference import formulas_markdown, keys_markdown
from tests.commands import ROOT, run, written

DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
README = (ROOT / "README.md").read_text()


def fenced(text):
    """The blocks between fences, as (language, body)."""
    return re.findall(r"^```(\w*)\n(.*?)^```", text, re.M | re.S)


def inline_commands():
    """Every `bevelwright ...` between backticks, with its document."""
    for document in DOCUMENTS:
        plain = re.sub(r"^```.*?^```", "", document.read_text(), flags=re.M | re.S)
        for command in re.findall(r"`(bevelwright [a-z][^`]*)`", plain):
            yield document.name, command


def test_the_documents_are_found():
    assert len(DOCUMENTS) > 8
    assert len(list(inline_commands())) >= 8


def test_the_readme_writes_its_example(tmp_path):
    commands = [body for language, body in fenced(README) if language == "sh"]
    assert len(commands) == 2
    # The installing is done by .ci/run; what comes after it is done here, into another folder.
    last = commands[0].strip().split("&&")[-1].strip()
    words = shlex.split(last)
    assert words[0].endswith("/bevelwright")
    at = words.index("--out") + 1
    names = words[at]
    words[at] = str(tmp_path / "out")
    words = [str(ROOT / w) if w.endswith(".yaml") else w for w in words]
    done = run(*words[1:])
    assert (done.code, done.err) == (0, "")
    assert f"`{names}` holds" in README
    assert {"plan.json", "setup-A.ngc", "setup-A-air.ngc"} <= {
        p.name for p in (tmp_path / "out").iterdir()
    }


def test_the_readme_tests_what_ci_tests():
    # .ci/run takes the tests' command from the README by its place: the third fence.
    second = [body for language, body in fenced(README) if language == "sh"][1]
    assert "pytest" in second
    script = (ROOT / ".ci" / "run").read_text()
    assert "README.md" in script
    fences = [line for line in README.splitlines() if line.startswith("```")]
    assert fences[2] == "```sh"


def test_the_job_in_the_readme_is_valid(tmp_path):
    (body,) = [body for language, body in fenced(README) if language == "yaml"]
    assert yaml.safe_load(body)["title"]
    job = tmp_path / "my-knife.yaml"
    job.write_text(body)
    done = run("section", job, "--machine", ROOT / "machines" / "wheel-xyza.yaml")
    assert (done.code, done.err) == (0, "")
    # Its machine's path is seen from the project's own folder.
    assert (ROOT / yaml.safe_load(body)["machine"]).is_file()


# What stands for a name of the reader's own, and what the tests put there.
WRONG = (["plan", "jobs"], ["plan", "machines/row-xz.yaml"])
STAND_INS = {
    "JOB": "jobs/straight-knife.yaml",
    "FILE...": "jobs/straight-knife.yaml machines/wheel-xyza.yaml",
    "jobs/knife.yaml": "jobs/straight-knife.yaml",
    "my-machine.yaml": "machines/wheel-xyza.yaml",
}


@pytest.fixture(scope="module")
def program():
    return written(ROOT / "jobs" / "straight-knife.yaml") / "setup-A.ngc"


@pytest.mark.parametrize(("document", "command"), list(inline_commands()))
def test_every_command_named_parses_and_runs(document, command, program, tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    words = shlex.split(command)[1:]
    swapped = [w for word in words for w in shlex.split(STAND_INS.get(word, word))]
    swapped = [str(tmp_path / "out") if w == "DIR" else w for w in swapped]
    swapped = [str(program) if w == "PROGRAM" else w for w in swapped]
    if len(words) == 1 and words[0] != "schema":
        # Only the command's name is mentioned.
        assert run(words[0], "--help").code == 0
        return
    done = run(*swapped)
    # The document of input errors also names commands that are wrong.
    expected = 2 if document == "input-errors.md" and words in WRONG else 0
    assert done.code == expected, done.err


WALKED = [p for p in DOCUMENTS if p.parent.name == "docs" and "```sh\n" in p.read_text()]


@pytest.mark.parametrize("document", WALKED, ids=lambda p: p.name)
def test_the_commands_of_a_walk_run_one_after_another(document, tmp_path, monkeypatch):
    """Files that a document shows, by the name in their first line, and its commands in order."""
    for folder in ("jobs", "machines"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    ran = 0
    for language, body in fenced(document.read_text()):
        name = re.match(r"# (\S+\.yaml)\n", body)
        if language == "yaml" and name:
            (tmp_path / name[1]).write_text(body)
        for line in body.splitlines() if language == "sh" else ():
            words = shlex.split(line, comments=True)
            assert words[0] == "bevelwright", line
            done = run(*words[1:])
            assert done.code == 0, (line, done.out, done.err)
            ran += 1
    assert ran


def test_the_reference_documents_are_as_made():
    # Pinned: made from schemas and docstrings by python -m planner.report.reference docs.
    assert (ROOT / "docs" / "keys.md").read_text() == keys_markdown()
    assert (ROOT / "docs" / "formulas.md").read_text() == formulas_markdown()


def test_every_key_of_the_examples_is_in_the_reference():
    # Property: by another way, from the example files: every key that they use has its row.
    told = set(re.findall(r"^\| `(\w+)` \|", (ROOT / "docs" / "keys.md").read_text(), re.M))

    def keys(value, parent=""):
        if isinstance(value, dict):
            for key, inner in value.items():
                # Axes are named by letters, and the steel's make-up by elements.
                if parent not in ("axes", "composition"):
                    # YAML 1.1 reads these two keys of a coolant as truths.
                    yield {True: "on", False: "off"}.get(key, key)
                yield from keys(inner, key)
        elif isinstance(value, list):
            for inner in value:
                yield from keys(inner, parent)

    used = set()
    for file in [*(ROOT / "jobs").glob("*.yaml"), *(ROOT / "machines").glob("*.yaml")]:
        used |= set(keys(yaml.safe_load(file.read_text())))
    assert len(used) > 60
    assert used <= told


def test_options_named_exist():
    named = set()
    for document in DOCUMENTS:
        named |= set(re.findall(r"`(--[a-z]+)", document.read_text()))
    known = " ".join(
        run(command, "--help").out
        for command in ("check", "section", "plan", "write", "prove", "compare", "schema")
    )
    assert len(named) >= 4
    assert all(option in known for option in named), named


LINKS = [
    (document.relative_to(ROOT).as_posix(), target)
    for document in DOCUMENTS
    for target in re.findall(r"\]\(([^)]+)\)", document.read_text())
]


@pytest.mark.parametrize(("document", "target"), LINKS)
def test_links_lead_somewhere(document, target):
    path, _, anchor = target.partition("#")
    found = (ROOT / document).parent / path if path else ROOT / document
    assert "://" not in target
    assert found.exists()
    if anchor:
        headings = re.findall(r"^#+ (.*)$", found.read_text(), re.M)
        slugs = [re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in headings]
        assert anchor in slugs


def test_every_document_is_linked_from_the_readme():
    linked = {target for document, target in LINKS if document == "README.md"}
    missing = {
        f"docs/{p.name}" for p in (ROOT / "docs").iterdir() if f"docs/{p.name}" not in linked
    }
    assert not missing


def test_paths_named_exist():
    """Paths of the project between backticks, in every document."""
    patterns = re.compile(r"`((?:planner|tests|docs|jobs|machines|\.ci)/[\w./*-]*)`")
    named = {m for document in DOCUMENTS for m in patterns.findall(document.read_text())}
    assert len(named) > 15
    for path in named:
        if "*" in path:
            assert list(ROOT.glob(path)), path
        else:
            assert (ROOT / path).exists() or path == "jobs/knife.yaml", path


def test_the_developers_table_names_every_part():
    text = (ROOT / "DEVELOPERS.md").read_text()
    parts = {
        f"planner/{p.name}{'/' if p.is_dir() else ''}"
        for p in (ROOT / "planner").iterdir()
        if not p.name.startswith("__")
    }
    missing = {part for part in parts if f"`{part}`" not in text}
    assert not missing
