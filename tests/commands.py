"""The command, run inside the test's own process or as a process of its own."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from click.testing import CliRunner

from planner.cli import main

ROOT = Path(__file__).parent.parent
JOBS = sorted((ROOT / "jobs").glob("*.yaml"))
JOB = ROOT / "jobs" / "straight-knife.yaml"
MACHINE = ROOT / "machines" / "wheel-xyza.yaml"
QUICK = ROOT / "jobs" / "detail-knife.yaml"
"""The example job that has one set-up."""

EASY = [
    option
    for value in (
        "machine.axes.Z.resolution=0.005 mm",
        "machine.stiffness=20000 N/mm",
        "machine.rack[0].specific_energy=5 J/mm3",
        "machine.rack[0].infeed.rough=0.02 mm",
    )
    for option in ("--set", value)
]
"""Changes to ``QUICK`` with which its plan is found in a moment."""

PAGE_ENDS = (".html", "-a4.pdf", "-letter.pdf")
"""What the names of a paper's pages end in."""
SHEET_ENDS = (".md", *PAGE_ENDS)
"""The same of a set-up sheet."""


class Done(NamedTuple):
    """What a command said."""

    code: int
    out: str
    err: str


def run(*arguments: object, columns: int = 80, **environment: str) -> Done:
    """Run the command in this process; output is no terminal."""
    variables: dict[str, str | None] = {"COLUMNS": str(columns), **environment}
    settings: dict[str, Any] = {}
    if "mix_stderr" in CliRunner.__init__.__code__.co_varnames:
        settings["mix_stderr"] = False  # click before 8.2
    result = CliRunner(**settings).invoke(main, [str(a) for a in arguments], env=variables)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Done(result.exit_code, result.stdout, result.stderr)


@cache
def written(job: Path, *options: str) -> Path:
    """The folder that ``write`` makes of a job: once for all tests, which only look at it."""
    around = Path(tempfile.mkdtemp(prefix="bevelwright-tests-"))
    atexit.register(shutil.rmtree, around, ignore_errors=True)
    done = run("write", job, *options, "--out", around / "out")
    assert (done.code, done.err) == (0, "")
    return around / "out"


def process(*arguments: object, **settings: Any) -> subprocess.Popen[bytes]:
    """Start the command as a process of its own, nothing on its input."""
    return subprocess.Popen(
        [sys.executable, "-m", "planner", *map(str, arguments)],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        env={**os.environ, **settings.pop("env", {})},
        # A shell starts what runs in the background deaf to Ctrl-C, and children inherit that.
        preexec_fn=_hear_interrupts,  # noqa: PLW1509 - one thread, and it only sets a handler
        **settings,
    )


def _hear_interrupts() -> None:
    signal.signal(signal.SIGINT, signal.default_int_handler)
