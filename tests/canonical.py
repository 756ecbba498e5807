"""The canonical output of a stand-alone RS274/NGC interpreter, where one is installed."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

needs_rs274 = pytest.mark.skipif(
    shutil.which("rs274") is None,
    reason="rs274 is not installed (Debian: linuxcnc-uspace); nothing to compare with",
)
HALF_DECIMAL = 0.5e-4 + 1e-9
"""Canonical positions have four decimals of the program's unit."""


def canonical_calls(text: str) -> list[tuple[str, list[float]]]:
    """The canonical calls of a program text as (name, numbers); its errors fail an assertion."""
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        (here / "tool.tbl").touch()
        (here / "rs274.var").touch()
        (here / "program.ngc").write_text(text, encoding="ascii")
        done = subprocess.run(
            ["rs274", "-g", "-t", "tool.tbl", "-v", "rs274.var", "program.ngc"],
            cwd=here,
            env={"HOME": folder, "PATH": "/usr/bin:/bin"},
            capture_output=True,
            text=True,
            check=False,
            timeout=20,
        )
    assert done.returncode == 0, done.stderr
    calls = re.findall(r"N\.+ ([A-Z_]+)\(([^)]*)\)", done.stdout)
    return [
        (name, [float(n) for n in re.findall(r"-?[0-9]+\.[0-9]+", arguments)])
        for name, arguments in calls
    ]


def feeds_of(calls: list[tuple[str, list[float]]]) -> list[tuple[list[float], float]]:
    """Each feed move's end, and the rate a minute in force."""
    rate, feeds = 0.0, []
    for name, numbers in calls:
        rate = numbers[0] if name == "SET_FEED_RATE" else rate
        if name == "STRAIGHT_FEED":
            feeds.append((numbers, rate))
    return feeds
