"""Sections a second on one core: as arrays, and one at a time, in one run. A script.

Run: python tests/benchmark_sections.py
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import statistics
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from planner.inputs.job import Job
from planner.section.many import Asked, section_figures
from planner.section.target import section_for
from tests.samples import a_job

MANY, FEW, ROUNDS = 1_000_000, 300, 5


def asked(count: int, *, equal: bool) -> dict[str, Any]:
    """Knives of many sizes, every one of them possible or not as it comes."""
    rng = np.random.default_rng(1)
    drawn = {
        "thickness_mm": rng.uniform(2.0, 4.0, count),
        "width_mm": np.full(count, 30.0),
        "bevel_a_deg": rng.uniform(9.0, 15.0, count),
        "edge_thickness_mm": rng.uniform(0.0, 0.3, count),
        "wheel_radius_mm": rng.uniform(20.0, 100.0, count),
        "edge_land_mm": rng.uniform(0.8, 1.4, count),
        "shoulder_land_mm": rng.uniform(0.8, 1.4, count),
    }
    if not equal:
        drawn["bevel_b_deg"] = rng.uniform(9.0, 15.0, count)
    return drawn


def one_at_a_time(drawn: dict[str, Any]) -> float:
    """Sections a second by the path of ``bevelwright section``, the models ready."""
    jobs: list[tuple[Job, float]] = []
    for n in range(FEW):
        of = {name: float(values[n]) for name, values in drawn.items()}
        jobs.append(
            (
                a_job(
                    blade__section__thickness=f"{of['thickness_mm']:.6f} mm",
                    blade__section__width="30 mm",
                    blade__section__included_angle=f"{2 * of['bevel_a_deg']:.6f} deg",
                    blade__section__edge_thickness=f"{of['edge_thickness_mm']:.6f} mm",
                    relief__edge_land=f"{of['edge_land_mm']:.6f} mm",
                    relief__shoulder_land=f"{of['shoulder_land_mm']:.6f} mm",
                ),
                of["wheel_radius_mm"],
            )
        )

    def work() -> None:
        for job, radius in jobs:
            section_for(job, radius)

    return rate(work, FEW)


def rate(work: Callable[[], object], count: int) -> float:
    """Sections a second of CPU."""
    start = time.process_time()
    work()
    return count / (time.process_time() - start)


def main() -> None:
    """Measure in turn, print medians and ratios."""
    equal, unequal = (asked(MANY, equal=True), asked(MANY, equal=False))
    rates: dict[str, list[float]] = {"equal bevels": [], "unequal bevels": []}
    section_figures(Asked(**{k: v[:10_000] for k, v in equal.items()}))
    singles: list[float] = []
    for _ in range(ROUNDS):
        singles.append(one_at_a_time(equal))
        for name, drawn in (("equal bevels", equal), ("unequal bevels", unequal)):
            rates[name].append(rate(partial(section_figures, Asked(**drawn)), MANY))
    one = statistics.median(singles)
    print(f"one at a time            {one:12,.0f} sections/s")
    for name, found in rates.items():
        middle = statistics.median(found)
        print(f"arrays, {name:16} {middle:12,.0f} sections/s, {middle / one:,.0f} times")


if __name__ == "__main__":
    main()
