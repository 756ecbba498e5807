"""When the lands asked for cannot be held: the numbers, and the cheapest ways out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from planner.errors import Refusal, RefusedError, WayOut
from planner.inputs.job import Job
from planner.inputs.machine import Machine, Wheel
from planner.section.spread import FaceSpread, face_spread, most_helpful, share_in_tolerance
from planner.section.target import Section, section_for


def cannot_hold(
    job: Job,
    machine: Machine,
    wheel: Wheel,
    section: Section,
    spreads: Sequence[FaceSpread],
    shortfalls: Sequence[Sequence[float]],
    share: float,
) -> Refusal:
    """The refusal of a job of which too few blades would come out in tolerance."""
    worst = max(spreads, key=lambda s: s.land_sd_mm)
    best_cause, best_share = most_helpful(spreads, shortfalls)[0]
    ways = []
    diameter = _largest_wheel_that_holds(job, machine, wheel, section)
    if diameter is not None:
        ways.append(WayOut("smaller-wheel-holds", {"diameter_mm": diameter}))
    ways.append(
        WayOut(
            "wider-tolerance",
            {"land_tolerance_mm": _tolerance_that_holds(job, spreads, shortfalls)},
        )
    )
    if machine.fixture.touch_off_each == "batch" and job.quantity > 1:
        ways.append(WayOut("touch-off-each-blade"))
    if best_share > share + 0.05:
        ways.append(WayOut("better-cause", {"cause": best_cause, "share": best_share}))
    ways.append(WayOut("finish-by-hand"))
    return Refusal(
        "cannot-hold-lands",
        {
            "share": share,
            "least_share": job.relief.share_in_tolerance,
            "land_tolerance_mm": job.relief.land_tolerance_mm,
            "land_sd_mm": worst.land_sd_mm,
            "land_change_per_depth": worst.land_change_per_depth,
            "depth_tolerance_mm": worst.depth_tolerance_mm,
            "diameter_mm": 2 * section.wheel_radius_mm,
            "dominant": worst.dominant.name,
        },
        tuple(ways),
    )


def _tolerance_that_holds(
    job: Job, spreads: Sequence[FaceSpread], shortfalls: Sequence[Sequence[float]]
) -> float:
    """Least land tolerance at which enough blades pass, to a hundredth upward."""

    def holds(tolerance_mm: float) -> bool:
        wider = [replace(s, land_tolerance_mm=tolerance_mm) for s in spreads]
        return share_in_tolerance(wider, shortfalls) >= job.relief.share_in_tolerance

    low = high = job.relief.land_tolerance_mm
    while not holds(high) and high < 1e3:
        low, high = high, high * 2
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return math.ceil(high * 100) / 100


def _largest_wheel_that_holds(
    job: Job, machine: Machine, wheel: Wheel, section: Section
) -> float | None:
    """Largest smaller diameter at which the same lands hold, to a millimetre; None if none."""
    if job.relief.depth_mm is not None:
        return None  # with the depth given, the wheel decides where the lands are

    def holds(diameter_mm: float) -> bool:
        try:
            tried = section_for(job, diameter_mm / 2)
        except RefusedError:
            return False
        spreads = [
            face_spread(job, machine, wheel, tried.face(r.face), r, diameter_mm / 2)
            for r in tried.reliefs
        ]
        residual = job.relief.residual_share
        shortfalls = [(residual * s.depth_tolerance_mm,) for s in spreads]
        return share_in_tolerance(spreads, shortfalls) >= job.relief.share_in_tolerance

    largest = math.floor(2 * section.wheel_radius_mm)
    smallest = math.ceil(max(float(r.chord_mm) for r in section.reliefs)) + 1
    candidates = list(range(largest - 1, smallest, -1))
    low, high = 0, len(candidates) - 1
    if not candidates:
        return None
    # Lands hold better as the wheel shrinks, until the deeper relief leaves too little steel.
    while low < high:
        middle = (low + high) // 2
        if holds(candidates[middle]):
            high = middle
        else:
            low = middle + 1
    return float(candidates[low]) if holds(candidates[low]) else None
