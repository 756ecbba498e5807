"""When the lands asked for cannot be held: the numbers, and the cheapest ways out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas.lens import Lens
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.spread import (
    EdgeSpread,
    FaceSpread,
    face_spread,
    lands_follow,
    most_helpful,
    share_in_tolerance,
)
from planner.section.target import FaceRelief, Section, section_for

MOST_TOLERANCE_MM = 10.0
"""The widest land tolerance that a job file may ask for."""

_SIZES = 40
"""Smaller wheels looked at, at most, before those beside the first that holds."""


def cannot_hold(
    job: Job,
    machine: Machine,
    wheel: Wheel,
    section: Section,
    spreads: Sequence[FaceSpread],
    shortfalls: Sequence[Sequence[float]],
    step_mm: float,
    share: float,
    blades: int = 1,
) -> Refusal:
    """The refusal of a job of which too few blades would come out in tolerance.

    ``step_mm`` is the depth of one step of the infeed axis: a depth falls short of its target by
    up to one. ``blades`` are ground together, one of them touched off.
    """
    worst = max(spreads, key=lambda s: s.land_sd_mm)
    best_cause, best_share = most_helpful(spreads, shortfalls)[0]
    ways = []
    diameter = _largest_wheel_that_holds(job, machine, wheel, section, step_mm, blades)
    if diameter is not None:
        ways.append(WayOut("smaller-wheel-holds", {"diameter_mm": diameter}))
    tolerance = _tolerance_that_holds(job, spreads, section, step_mm)
    if tolerance is not None:
        ways.append(WayOut("wider-tolerance", {"land_tolerance_mm": tolerance}))
    in_place = [replace(s, aside_mm=0.0) for s in spreads]
    if share_in_tolerance(in_place, shortfalls) >= job.relief.share_in_tolerance:
        ways += [
            WayOut("cross-setting", {"face": r.face, "place_mm": r.middle_mm - r.wheel_aside_mm})
            for r in section.reliefs
            if r.off_middle_mm
        ]
    if machine.fixture.touch_off_each == "batch" and job.quantity > 1 and blades == 1:
        ways.append(WayOut("touch-off-each-blade"))
    if blades > 1:
        ways.append(WayOut("one-blade-a-clamping"))
    if best_share >= job.relief.share_in_tolerance:
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


LEAST_RELIEF_MM = 2e-4
"""A relief less deep than this is none: twice the chord error of the sections."""


def edge_refusal(edge: EdgeSpread | None, least_share: float) -> Refusal | None:
    """The refusal of bevels whose edge thickness cannot be held."""
    if edge is None or edge.share >= least_share:
        return None
    return Refusal(
        "cannot-hold-edge",
        {
            "share": edge.share,
            "least_share": least_share,
            "sd_mm": edge.sd_mm,
            "tolerance_mm": edge.tolerance_mm,
        },
        (WayOut("wider-edge-tolerance"), WayOut("finer-axis")),
    )


def falls_short(
    job: Job, relief: FaceRelief, lens: Lens, shortfall_mm: float, aside_mm: float = 0.0
) -> Refusal | None:
    """The refusal of passes that leave the lands out of tolerance before anything strays.

    Whole steps and the deflection left end short of the depth; the lands come out wider by the
    difference of the half chords, which the straight line of the spread understates. A shortfall
    below zero is that of lands left standing above the relief, which come out narrower.
    ``aside_mm`` is how much wider the edge land comes out, and narrower the shoulder land, by the
    settings.
    """
    reached = max(relief.depth_mm - shortfall_mm, 0.0)
    if reached < LEAST_RELIEF_MM:
        # A wide tolerance may take in the whole relief; a face left as it was is still no relief.
        return Refusal(
            "nothing-is-ground",
            {"face": relief.face, "depth_mm": relief.depth_mm, "reached_mm": reached},
            (
                WayOut("stiffer-machine"),
                WayOut("finer-axis"),
                WayOut("less-residual", {"residual_share": job.relief.residual_share}),
                WayOut("smaller-wheel-deepens"),
            ),
        )
    chord = float(lens.chord_of_depth(reached))
    wider = float(lens.along_face(relief.chord_mm) - lens.along_face(chord)) / 2
    if abs(wider) + abs(aside_mm) <= job.relief.land_tolerance_mm:
        return None
    facts: dict[str, Fact] = {
        "face": relief.face,
        "depth_mm": relief.depth_mm,
        "shortfall_mm": shortfall_mm,
        "wider_mm": wider,
        "land_tolerance_mm": job.relief.land_tolerance_mm,
        "diameter_mm": 2 * lens.wheel_radius_mm,
    }
    if shortfall_mm < 0:
        above: dict[str, Fact] = {**facts, "left_mm": -shortfall_mm, "narrower_mm": -wider}
        finer = (
            WayOut("finer-axis"),
            WayOut("less-residual", {"residual_share": job.relief.residual_share}),
        )
        return Refusal("lands-left-standing", above, finer)
    ways = (
        WayOut("finer-axis"),
        WayOut("less-residual", {"residual_share": job.relief.residual_share}),
        WayOut("smaller-wheel-deepens"),
    )
    if wider > job.relief.land_tolerance_mm:
        return Refusal("lands-fall-short", facts, ways)
    facts |= {"land": "edge" if aside_mm > 0 else "shoulder", "aside_mm": abs(aside_mm)}
    place: dict[str, Fact] = {
        "face": relief.face,
        "place_mm": relief.middle_mm - relief.wheel_aside_mm,
    }
    setting = (WayOut("cross-setting", place),) if relief.off_middle_mm else ()
    return Refusal("lands-short-and-aside", facts, (*setting, *ways))


def _shortfall_mm(job: Job, spread: FaceSpread, rounding_mm: float) -> tuple[float, float]:
    """Range of depths that the passes may end short by: rounding, and the deflection allowed."""
    return rounding_mm, rounding_mm + job.relief.residual_share * spread.depth_tolerance_mm


def _enough_hold(job: Job, spreads: Sequence[FaceSpread], roundings_mm: Sequence[float]) -> bool:
    """Whether enough blades hold, however much of the deflection allowed the passes leave."""
    worst = [_shortfall_mm(job, s, r)[1:] for s, r in zip(spreads, roundings_mm, strict=True)]
    return share_in_tolerance(spreads, worst) >= job.relief.share_in_tolerance


def _tolerance_that_holds(
    job: Job, spreads: Sequence[FaceSpread], section: Section, step_mm: float
) -> float | None:
    """Least land tolerance at which enough blades pass, to a hundredth upward; None if none.

    A wider tolerance also lets more deflection stand, which is counted against it.
    """
    roundings = [math.fmod(r.depth_mm, step_mm) for r in section.reliefs]

    def holds(tolerance_mm: float) -> bool:
        wider = [
            replace(
                s,
                land_tolerance_mm=tolerance_mm,
                depth_tolerance_mm=tolerance_mm / s.land_change_per_depth,
            )
            for s in spreads
        ]
        return _enough_hold(job, wider, roundings)

    low = high = job.relief.land_tolerance_mm
    while not holds(high):
        if high >= MOST_TOLERANCE_MM:
            return None
        low, high = high, min(high * 2, MOST_TOLERANCE_MM)
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return math.ceil(high * 100) / 100


def _largest_wheel_that_holds(
    job: Job, machine: Machine, wheel: Wheel, section: Section, step_mm: float, blades: int
) -> float | None:
    """Largest smaller diameter at which the same lands hold; None if none.

    The belt's thickness, where there is one, is part of it. A smaller wheel holds better on the
    whole, but its depth may fall worse between two steps, so each size is looked at.
    """
    if job.relief.depth_mm is not None:
        return None  # with the depth given, the wheel decides where the lands are

    def holds(diameter: int) -> bool | None:
        """None where the relief is so deep that no section is left: smaller is worse still."""
        radius = diameter / 2
        try:
            tried = section_for(job, radius)
        except RefusedError:
            return None
        # The lands put the middle at the same place for every wheel; only the drift, which goes
        # with the depth, is another.
        aside = [
            r.land_share * (held.off_middle_mm + held.drift_mm * r.depth_mm / held.depth_mm)
            for held, r in zip(section.reliefs, tried.reliefs, strict=True)
        ]
        spreads = [
            replace(
                face_spread(
                    job,
                    machine,
                    wheel,
                    tried.face(r.face),
                    r,
                    radius,
                    blades,
                    lands_after=lands_follow(job, tried.face(r.face)),
                ),
                aside_mm=off,
            )
            for off, r in zip(aside, tried.reliefs, strict=True)
        ]
        roundings = [math.fmod(r.depth_mm, step_mm) for r in tried.reliefs]
        return _enough_hold(job, spreads, roundings)

    largest = math.floor(2 * section.wheel_radius_mm)
    smallest = math.ceil(max(r.chord_mm for r in section.reliefs)) + 1
    stride = max(largest // _SIZES, 1)
    for diameter in range(largest - stride, smallest, -stride):
        found = holds(diameter)
        if found is None:
            return None
        if found:
            between = range(diameter + stride - 1, diameter, -1)
            return float(next((d for d in between if holds(d)), diameter))
    return None
