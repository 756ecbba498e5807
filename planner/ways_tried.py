"""The ways out of lands that cannot be held, each tried by a plan of its own before it is named.

What is reckoned beforehand (``planner/section/holding.py``) leaves out what only passes tell: wear,
whole steps along the edge, and every other reason to refuse.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from planner.errors import Refusal, WayOut
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.holding import MOST_TOLERANCE_MM

_WIDER = (1.0, 1.1, 1.25)
_SMALLER = (1.0, 0.9, 0.8)
"""Shares of what was reckoned that are tried, the first that does is named. Common practice, no
source."""

Holds = Callable[[Job, Machine, Wheel], bool]


def with_ways_tried(
    refusal: Refusal, job: Job, machine: Machine, wheel: Wheel, holds: Holds
) -> Refusal:
    """The refusal with those of its ways out that hold, at sizes that do.

    ``holds`` plans a job with a wheel on a machine. Other rules are left as they are.
    """
    if refusal.rule != "cannot-hold-lands":
        return refusal
    ways = []
    for way in refusal.ways_out:
        if way.rule == "wider-tolerance":
            ways += list(_first(_wider(way, job, machine, wheel, holds)))
        elif way.rule == "smaller-wheel-holds":
            ways += list(_first(_smaller(way, job, machine, wheel, holds)))
        elif way.rule == "touch-off-each-blade":
            fixture = machine.fixture.model_copy(update={"touch_off_each": "blade"})
            if holds(job, machine.model_copy(update={"fixture": fixture}), wheel):
                ways.append(way)
        else:
            ways.append(way)
    return replace(refusal, ways_out=tuple(ways))


def _first(ways: Iterator[WayOut]) -> Iterator[WayOut]:
    """The first of them, where there is any."""
    found = next(ways, None)
    if found is not None:
        yield found


def _wider(way: WayOut, job: Job, machine: Machine, wheel: Wheel, holds: Holds) -> Iterator[WayOut]:
    reckoned = float(way.facts["land_tolerance_mm"])
    for share in _WIDER:
        tolerance = math.ceil(round(share * reckoned * 100, 6)) / 100
        if tolerance > MOST_TOLERANCE_MM:
            return
        relief = job.relief.model_copy(update={"land_tolerance_mm": tolerance})
        if holds(job.model_copy(update={"relief": relief}), machine, wheel):
            yield WayOut("wider-tolerance", {"land_tolerance_mm": tolerance})


def _smaller(
    way: WayOut, job: Job, machine: Machine, wheel: Wheel, holds: Holds
) -> Iterator[WayOut]:
    reckoned = float(way.facts["diameter_mm"])
    for share in _SMALLER:
        diameter = float(math.floor(share * reckoned))
        if wheel.form_radius_mm is not None:
            size = {"form_radius_mm": diameter / 2}
            named = WayOut("smaller-form-holds", {"radius_mm": diameter / 2})
        else:
            belt = 2 * wheel.belt.thickness_mm if wheel.belt else 0.0
            size = {"diameter_mm": diameter - belt}
            named = WayOut("smaller-wheel-holds", {"diameter_mm": diameter})
        other = wheel.model_copy(update=size)
        rack = [other if each.name == wheel.name else each for each in machine.rack]
        if holds(job, machine.model_copy(update={"rack": rack}), other):
            yield named
