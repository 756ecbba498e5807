"""CPU of the whole plan of each example job beside the bare imports, in one run. A script.

Run: python tests/benchmark_schedule.py
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

from planner.inputs.load import load_pair
from planner.inputs.steels import steel_of
from planner.passes import search
from planner.plan import plan_job

ROOT = Path(__file__).parent.parent
ROUNDS = 5


def imports_s() -> float:
    """CPU of one process that imports numpy, shapely and yaml."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", "import numpy, shapely, yaml"], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def plan_s(name: str) -> float:
    """CPU of sections, heat, schedules and what binds of one job, nothing remembered."""
    job, machine = load_pair(ROOT / "jobs" / f"{name}.yaml")
    steel = steel_of(job.model.steel)
    search._FOUND.clear()
    start = time.process_time()
    plan_job(job, machine, steel)
    return time.process_time() - start


def main() -> None:
    """Measure in turn, print medians and ratios."""
    names = ("straight-knife", "broad-knife", "detail-knife")
    for name in names:
        plan_s(name)
    floors: list[float] = []
    plans: dict[str, list[float]] = {name: [] for name in names}
    for _ in range(ROUNDS):
        floors.append(imports_s())
        for name in names:
            plans[name].append(plan_s(name))
    floor = statistics.median(floors)
    print(f"imports          {floor:.3f} s")
    for name, times in plans.items():
        middle = statistics.median(times)
        print(f"{name:16} {middle:.3f} s, {middle / floor:.1f} times the imports")


if __name__ == "__main__":
    main()
