"""The section as the settings made by hand leave it, and the refusal of those that do not do."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.settings import (
    TILT_REACH_DEG,
    cross_kind,
    hand_cross_mm,
    tilt_kind,
    wedge_ways,
)
from planner.kinematics.touch_frame import TouchFrame, relief_frame
from planner.section.target import FaceRelief, Section, with_reliefs

_NO_LAND_MM = 1e-9
_EXACT = 1e-6
"""What a whole micrometre may miss one by."""


def as_held(job: Job, machine: Machine, section: Section) -> Section:
    """The section with each relief where the settings that exist will put it.

    A cross set by hand stands at the nearest of its settings; a tilt that is off lets the wheel
    drift along the face with the infeed where no cross axis makes up for it.

    Raises: RefusedError where a land misses its tolerance or too little steel is left, with the
    setting that would do.
    """
    length = job.edge.length_mm
    reliefs: list[FaceRelief] = []
    frames: list[TouchFrame] = []
    for relief in section.reliefs:
        frame = relief_frame(machine, section, relief, length)
        off = hand_cross_mm(machine, relief.middle_mm) - relief.middle_mm
        # A tilt out of reach is refused by itself: what it would do to the lands is no matter.
        held = abs(frame.tilt_deg - frame.ideal_tilt_deg) <= TILT_REACH_DEG
        drift = frame.along_per_depth * relief.depth_mm if held else 0.0
        reliefs.append(relief.moved(off, drift))
        frames.append(frame)
    if not any(r.aside_mm for r in reliefs):
        return section
    refusals = [
        _out_of_place(job, machine, relief, frame)
        for relief, frame in zip(reliefs, frames, strict=True)
        if _misses(job, relief)
    ]
    if refusals:
        raise RefusedError(refusals)
    try:
        return with_reliefs(job, section, tuple(reliefs))
    except RefusedError as refused:

        def possible(changed: Sequence[FaceRelief]) -> bool:
            try:
                with_reliefs(job, section, tuple(changed))
            except RefusedError:
                return False
            return not any(_misses(job, relief) for relief in changed)

        ways = _ways(machine, reliefs, frames, possible)
        raise RefusedError(
            Refusal(r.rule, r.facts, (*ways, *r.ways_out)) for r in refused.refusals
        ) from None


def _misses(job: Job, relief: FaceRelief) -> bool:
    """Whether a land is out before anything strays, or the setting would take an end back."""
    off = relief.off_middle_mm
    least = min(relief.asked_edge_land_mm + off, relief.asked_shoulder_land_mm - off)
    return abs(relief.aside_mm) > job.relief.land_tolerance_mm or (
        off != 0.0 and least < -_NO_LAND_MM
    )


def _out_of_place(job: Job, machine: Machine, relief: FaceRelief, frame: TouchFrame) -> Refusal:
    facts: dict[str, Fact] = {
        "face": relief.face,
        "edge_land_mm": relief.edge_land_mm,
        "shoulder_land_mm": relief.shoulder_land_mm,
        "asked_edge_land_mm": relief.asked_edge_land_mm,
        "asked_shoulder_land_mm": relief.asked_shoulder_land_mm,
        "land_tolerance_mm": job.relief.land_tolerance_mm,
        "place_mm": relief.middle_mm,
        "asked_place_mm": relief.asked_middle_mm,
        "drift_mm": relief.drift_mm,
        "tilt_deg": frame.tilt_deg,
        "asked_tilt_deg": frame.ideal_tilt_deg,
    }

    def holds(changed: Sequence[FaceRelief]) -> bool:
        return not any(_misses(job, other) for other in changed)

    ways = _ways(machine, [relief], [frame], holds)
    return Refusal("lands-out-of-place", facts, tuple(ways))


def _ways(
    machine: Machine,
    reliefs: Sequence[FaceRelief],
    frames: Sequence[TouchFrame],
    holds: Callable[[Sequence[FaceRelief]], bool],
) -> list[WayOut]:
    """The settings that bring the reliefs to their place: stops alone, wedges alone, or both.

    ``holds`` says of reliefs as other settings would leave them whether they do.
    """
    stops, wedges = cross_kind(machine) != "free", tilt_kind(machine) != "axis"
    ways: list[WayOut] = []
    if stops and holds([_put(r, stop_mm(r, r.drift_mm), r.drift_mm) for r in reliefs]):
        ways += _stops(reliefs, [r.drift_mm for r in reliefs])
    if wedges and holds([_put(r, r.middle_mm, 0.0) for r in reliefs]):
        ways += _wedges(reliefs, frames)
    if not ways and stops and wedges and holds([_put(r, stop_mm(r, 0.0), 0.0) for r in reliefs]):
        ways = [*_stops(reliefs, [0.0] * len(reliefs)), *_wedges(reliefs, frames)]
    return ways


def _stops(reliefs: Sequence[FaceRelief], drifts_mm: Sequence[float]) -> list[WayOut]:
    return [
        WayOut("cross-setting", {"face": relief.face, "place_mm": stop_mm(relief, drift)})
        for relief, drift in zip(reliefs, drifts_mm, strict=True)
        if relief.off_middle_mm or drift
    ]


def _wedges(reliefs: Sequence[FaceRelief], frames: Sequence[TouchFrame]) -> list[WayOut]:
    return [
        way
        for relief, frame in zip(reliefs, frames, strict=True)
        if relief.drift_mm
        for way in wedge_ways(frame.ideal_tilt_deg, frame.tilt_deg)
    ]


def _put(relief: FaceRelief, place_mm: float, drift_mm: float) -> FaceRelief:
    """The relief with its cross set at another place, and another drift."""
    asked = replace(
        relief,
        middle_mm=relief.asked_middle_mm,
        edge_land_mm=relief.asked_edge_land_mm,
        shoulder_land_mm=relief.asked_shoulder_land_mm,
    )
    return asked.moved(place_mm - relief.asked_middle_mm, drift_mm)


def stop_mm(relief: FaceRelief, drift_mm: float) -> float:
    """The stop that would have both lands as asked for, the drift counted, to a micrometre.

    Rounded so that no end of the face is ground away.
    """
    middle = relief.asked_middle_mm
    low, high = middle - relief.asked_edge_land_mm, middle + relief.asked_shoulder_land_mm
    least, most = math.ceil(low * 1000 - _EXACT), math.floor(high * 1000 + _EXACT)
    return min(max(round((middle - drift_mm) * 1000), least), most) / 1000
