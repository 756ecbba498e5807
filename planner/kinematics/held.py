"""The section as the settings made by hand leave it, and the refusal of those that do not do."""

from __future__ import annotations

import math
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
_SHOWN_MM = 1e-3
_WHOLE = 1e-6


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
        pairs = list(zip(reliefs, frames, strict=True))
        ways = [way for r, f in pairs for way in _ways(machine, r, f, drift_decides=True)]
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
        "drift_mm": relief.drift_mm if abs(relief.drift_mm) >= _SHOWN_MM / 2 else 0.0,
        "tilt_deg": frame.tilt_deg,
        "asked_tilt_deg": frame.ideal_tilt_deg,
    }
    level = replace(
        relief,
        edge_land_mm=relief.edge_land_mm - relief.drift_mm,
        shoulder_land_mm=relief.shoulder_land_mm + relief.drift_mm,
        drift_mm=0.0,
    )
    ways = _ways(machine, relief, frame, drift_decides=not _misses(job, level))
    return Refusal("lands-out-of-place", facts, tuple(ways))


def _ways(
    machine: Machine, relief: FaceRelief, frame: TouchFrame, *, drift_decides: bool
) -> list[WayOut]:
    """The settings that would bring the relief to its place.

    ``drift_decides`` is whether it would do so to take the drift alone out.
    """
    ways: list[WayOut] = []
    if relief.off_middle_mm and cross_kind(machine) != "free":
        ways.append(
            WayOut(
                "cross-setting",
                {"face": relief.face, "place_mm": stop_mm(relief)},
            )
        )
    if relief.drift_mm and drift_decides and tilt_kind(machine) != "axis":
        ways += wedge_ways(frame.ideal_tilt_deg, frame.tilt_deg)
    return ways


def stop_mm(relief: FaceRelief) -> float:
    """The stop that would have both lands as asked for, the drift counted.

    Beside a land of nothing it is told to the last decimal on the side where no end is ground away.
    """
    place = (relief.asked_middle_mm - relief.drift_mm) / _SHOWN_MM
    if relief.asked_edge_land_mm < _SHOWN_MM:
        return math.ceil(place - _WHOLE) * _SHOWN_MM
    if relief.asked_shoulder_land_mm < _SHOWN_MM:
        return math.floor(place + _WHOLE) * _SHOWN_MM
    return place * _SHOWN_MM
