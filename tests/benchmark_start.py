"""What `plan` and `write` cost as whole processes, beside the bare import of what they stand on.

A script, no test: times depend on the machine, so only ratios taken in the same run mean anything.

    python tests/benchmark_start.py [ROUNDS]
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
JOBS = sorted((ROOT / "jobs").glob("*.yaml"))


class Cost(NamedTuple):
    """One process: CPU seconds, user and system, and the most memory it held."""

    cpu_s: float
    peak_mb: float


def cost_of(arguments: list[str]) -> Cost:
    """Run one Python process to its end."""
    process = subprocess.Popen(
        [sys.executable, *arguments], cwd=ROOT, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL
    )
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{' '.join(arguments)}: exit code {process.returncode}")
    return Cost(usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def main() -> None:
    """Interleave the processes, so that a busy machine slows all of them alike."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    with tempfile.TemporaryDirectory() as folder:
        runs = {
            "bare import": ["-c", "import numpy, shapely, yaml"],
            "no command": ["-m", "planner", "--version"],
        }
        for job in JOBS:
            runs[f"plan {job.stem}"] = ["-m", "planner", "plan", str(job)]
            out = str(Path(folder) / job.stem)
            runs[f"write {job.stem}"] = ["-m", "planner", "write", str(job), "--out", out]
            runs[f"write {job.stem}"].append("--replace")
        found: dict[str, list[Cost]] = {name: [] for name in runs}
        for arguments in runs.values():
            cost_of(arguments)  # the first run compiles and fills the caches
        for _ in range(rounds):
            for name, arguments in runs.items():
                found[name].append(cost_of(arguments))
    bare = statistics.median(cost.cpu_s for cost in found["bare import"])
    print(f"{'':24} {'CPU s':>7} {'of bare':>8} {'peak MB':>8}   median of {rounds}")
    for name, costs in found.items():
        cpu = statistics.median(cost.cpu_s for cost in costs)
        peak = max(cost.peak_mb for cost in costs)
        print(f"{name:24} {cpu:7.3f} {cpu / bare:8.2f} {peak:8.0f}")


if __name__ == "__main__":
    main()
