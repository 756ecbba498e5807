"""What a file may ask for that this version does not plan yet: refused, never passed over."""

from __future__ import annotations

from planner.errors import Refusal
from planner.inputs.job import Job
from planner.inputs.machine import Wheel


def not_planned(job: Job, wheel: Wheel) -> list[Refusal]:
    """A refusal for each thing asked for that would otherwise be left out."""
    asked: list[str] = []
    return [Refusal("not-planned-yet", {"what": what}, ()) for what in asked]
