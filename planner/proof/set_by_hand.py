"""Where the settings of a fixture put what no axis of the program moves."""

from __future__ import annotations

from collections.abc import Mapping

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.proof.axes import ProgramAxis, fixed_tilt_deg, reachable_tilt_deg
from planner.proof.frame import nearest_multiple, nearest_of, touch_frame
from planner.proof.target import Face, ImpossibleError, Relief

_TURN_SLACK_DEG = 0.01


def aside_mm(machine: Machine, place_mm: float) -> float:
    """How far from a place on the face the nearest setting of a cross by hand stands."""
    hand = machine.fixture.hand_cross
    if hand is None:
        return 0.0
    if hand.settings_mm is not None:
        return nearest_of(place_mm, hand.settings_mm) - place_mm
    low, high = hand.range_mm or (0.0, 0.0)
    return nearest_multiple(place_mm, hand.resolution_mm, low, high) - place_mm


def held_relief(
    job: Job,
    machine: Machine,
    axes: Mapping[str, ProgramAxis],
    face: Face,
    relief: Relief | None,
) -> Relief | None:
    """The relief where the settings put it: beside its middle by the cross, further by the drift.

    Without a cross axis the infeed goes the way of the tilt that there is, and takes the wheel
    along the face as it goes down.
    """
    if relief is None:
        return None
    by_role = {axis.role: axis for axis in axes.values()}
    drift = 0.0
    if "cross" not in by_role:
        flip, length = machine.fixture.flip, job.edge.length_mm
        frame = touch_frame(face, flip, length, relief.middle_mm, 0.0)
        if "tilt" in by_role:
            tilt, _ = reachable_tilt_deg(machine, frame, by_role["tilt"])
        else:
            tilt = fixed_tilt_deg(machine, frame)
        _, (y, z) = frame.directions(tilt)
        down = y * face.normal[0] + z * face.normal[1]
        if down > 0.0:
            drift = -relief.depth_mm * (y * face.along[0] + z * face.along[1]) / down
    return relief.moved(aside_mm(machine, relief.middle_mm) + drift)


def check_turn_by_hand(machine: Machine) -> None:
    """A straight edge lies along the traverse only with the turn at its zero."""
    hand = machine.fixture.hand_turn
    if hand is None:
        return
    if hand.settings_deg is not None:
        at_zero = min(abs(setting) for setting in hand.settings_deg) <= _TURN_SLACK_DEG
    else:
        low, high = hand.range_deg or (0.0, 0.0)
        at_zero = low <= _TURN_SLACK_DEG and high >= -_TURN_SLACK_DEG
    if not at_zero:
        raise ImpossibleError("a straight edge asks for a turn of 0 deg, which the fixture has not")
