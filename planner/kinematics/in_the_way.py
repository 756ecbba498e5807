"""Refusals where the tool would run into what stands in the way."""

from __future__ import annotations

from collections.abc import Iterable

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.kinematics.clearance import TOUCH_MM, Clearance, Stand, clearances
from planner.kinematics.edge_path import EdgeMotion
from planner.kinematics.obstacles import obstacles_for
from planner.kinematics.round_axis import pairs_for
from planner.kinematics.row import Row
from planner.kinematics.tool_body import tool_body
from planner.kinematics.touch_frame import TouchFrame
from planner.section.wheel_shape import section_radius_mm
from planner.section.work import FaceWork


def full_depth_refusals(
    machine: Machine,
    work: FaceWork,
    frame: TouchFrame,
    row: Row,
    motion: EdgeMotion | None = None,
    *,
    blade_alone: bool = False,
) -> list[Refusal]:
    """What one pass at full depth would run into, there and back.

    Known before the passes are, so that no time is spent on them in vain; their own moves are
    looked at when there is a program. With ``blade_alone`` nothing beside the blade is looked at:
    it does not lie beside a pass that is laid out straight.
    """
    low, high = row.ends_mm
    infeed, cross = frame.position(work.depth_mm)
    clear, tilt = machine.fixture.clearance_mm, frame.tilt_deg
    stands = [
        Stand(low, 0.0, clear, tilt),
        Stand(low, cross, infeed, tilt, feed=True),
        Stand(high, cross, infeed, tilt, feed=True),
        Stand(high, cross, clear, tilt),
    ]
    things = obstacles_for(machine, work, row)
    if blade_alone:
        things = tuple(thing for thing in things if thing.kind == "blade")
    body, pairs = tool_body(machine, work.wheel), pairs_for(motion, machine, work, frame)
    found = clearances(frame, body, things, stands, pairs)
    return way_refusals(found, machine, work.wheel, row)


def way_refusals(
    found: Iterable[Clearance], machine: Machine, wheel: Wheel, row: Row
) -> list[Refusal]:
    """A refusal for each part of the tool and each obstacle that run into each other."""
    return [_refusal(one, machine, wheel, row) for one in found if one.distance_mm < -TOUCH_MM]


def _refusal(one: Clearance, machine: Machine, wheel: Wheel, row: Row) -> Refusal:
    obstacle, overlap = one.obstacle, -one.distance_mm
    jaws = machine.fixture.jaws
    ways = []
    if obstacle.kind == "jaws":
        ways.append(WayOut("lower-jaws"))
    elif obstacle.kind == "obstacle":
        ways.append(WayOut("move-obstacle", {"obstacle": obstacle.name}))
        if obstacle.to_mm <= row.spans_mm[0][0] or obstacle.from_mm >= row.spans_mm[-1][1]:
            ways.append(WayOut("less-run-off", {"run_off_mm": machine.fixture.run_off_mm}))
    if one.part == "wheel":
        ways.append(WayOut("smaller-wheel-clears"))
    else:
        ways.append(WayOut("smaller-part", {"part": one.part}))
    if obstacle.kind == "jaws" and jaws is not None and one.part == "wheel":
        across = wheel.contact != "along_edge"
        facts: dict[str, Fact] = {
            "diameter_mm": wheel.diameter_mm if across else 2 * section_radius_mm(wheel),
            "overlap_mm": overlap,
            "from_edge_mm": jaws.from_edge_mm,
            "above_flank_mm": jaws.above_flank_mm,
        }
        return Refusal("wheel-meets-jaws", facts, tuple(ways))
    facts = {
        "part": one.part,
        "obstacle": obstacle.name,
        "overlap_mm": overlap,
        "move": "feed move" if one.at.feed else "rapid",
        "traverse_mm": one.at.traverse_mm,
        "cross_mm": one.at.cross_mm,
        "infeed_mm": one.at.infeed_mm,
    }
    return Refusal("tool-meets-obstacle", facts, tuple(ways))
