"""The programs of one set-up as steps, and whether their moves keep clear of what is in the way."""

from __future__ import annotations

from dataclasses import replace

from planner.errors import RefusedError
from planner.gcode.on_slides import on_the_slides
from planner.gcode.path import written_stands
from planner.gcode.program import Heading, Program, air_run, cutting_program
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.inputs.steels import Steel
from planner.kinematics.clearance import Clearance, clearances
from planner.kinematics.edge_way import stands_still
from planner.kinematics.in_the_way import way_refusals
from planner.kinematics.obstacles import Obstacle, obstacles_for
from planner.kinematics.round_axis import pairs_for
from planner.kinematics.slide_blocks import span_mm
from planner.kinematics.tool_body import tool_body
from planner.passes.conditions import infeed_feed_mm_min
from planner.setup_plan import Setup

_ZERO = {
    "bevel": "corner of stock, face {face}",
    "relief": "face {face}, middle of relief",
    "lands": "lands of face {face}",
}


def _zero_at(setup: Setup) -> str:
    if setup.work.before.flats:
        return "shoulder so far, face {face}"
    if setup.work.operation == "bevel" and not setup.work.from_corner:
        return "bevel of face {face} so far"
    return _ZERO[setup.work.operation]


def setup_programs(steel: Steel, setup: Setup, heading: Heading) -> tuple[Program, Program]:
    """The cutting program of a set-up and its air run, with a traverse along the edge."""
    machine = setup.shop
    program = cutting_program(
        heading,
        machine,
        setup.row,
        setup.frame,
        setup.schedule,
        setup.marched.pauses,
        setup.compensation_mm,
        infeed_feed_mm_min(machine),
        water_dip=steel.water_dip,
        in_lines=setup.work.in_lines,
        sweep=setup.sweep,
    )
    deepest, clear = setup.deepest_mm, setup.clear_mm
    return program, air_run(heading, machine, setup.row, program, deepest, clear)


def setup_heading(
    job: Job, machine: Machine, setup: Setup, relief_wheel: Wheel, plan_digest: str
) -> Heading:
    """What the header of a set-up's programs says."""
    return Heading(
        title=job.title,
        digest=plan_digest,
        setup=setup.name,
        face=setup.relief.face,
        wheel=setup.work.wheel.name,
        worn_before_mm=setup.worn_before_mm,
        relief_wheel=relief_wheel.name if setup.work.operation == "lands" else None,
        zero_at=_zero_at(setup).format(face=setup.relief.face),
        zero_end="heel" if setup.frame.x_per_traverse > 0 else "tip",
        passes=len(setup.passes),
        file_name=setup.program,
        in_row=setup.in_row,
        set_by_hand=_set_by_hand(machine, setup),
        swept=_swept(machine, setup),
    )


def _swept(machine: Machine, setup: Setup) -> str:
    axis, sweep = machine.fixture.tilt_axis, setup.sweep
    if axis is None or sweep is None:
        return ""
    y, z = axis.at_yz_mm
    facets = len(sweep.stands)
    count = "1 facet" if facets == 1 else f"{facets} facets"
    return f"swept, {count}, axis y {y + 0.0:.4f} z {z + 0.0:.4f} face A up"


def _set_by_hand(machine: Machine, setup: Setup) -> tuple[str, ...]:
    settings = []
    if machine.fixture.hand_tilt is not None:
        settings.append(f"tilt {setup.frame.tilt_deg + 0.0:.4f} deg")
    if machine.fixture.hand_cross is not None:
        settings.append(f"cross {setup.work.place_mm:.4f} mm")
    return tuple(settings)


def with_clearances(
    job: Job, machine: Machine, relief_wheel: Wheel, steel: Steel, setup: Setup
) -> Setup:
    """The set-up with the clearances of its programs.

    Raises: RefusedError where one of their moves runs into something.
    """
    heading = setup_heading(job, machine, setup, relief_wheel, "")
    programs = setup_programs(steel, setup, heading)
    return replace(setup, clearances=kept_clear(setup, programs))


def kept_clear(setup: Setup, programs: tuple[Program, ...]) -> tuple[Clearance, ...]:
    """The least distance of each part of the tool from each thing in the way, over every move.

    Raises: RefusedError where one runs into another.
    """
    wheel, machine = setup.work.wheel, setup.shop
    body = tool_body(machine, wheel)
    pairs = pairs_for(setup.turned, machine, setup.work, setup.frame)
    least: dict[tuple[Obstacle, str], Clearance] = {}
    for things, moves in _met(setup, programs):
        for program in moves:
            stands = written_stands(program, machine, setup.frame.tilt_deg)
            for one in clearances(setup.frame, body, things, stands, pairs):
                key = one.obstacle, one.part
                if key not in least or one.distance_mm < least[key].distance_mm:
                    least[key] = one
    refusals = way_refusals(least.values(), machine, wheel, setup.row)
    if refusals:
        raise RefusedError(refusals)
    return tuple(least.values())


def _met(
    setup: Setup, programs: tuple[Program, ...]
) -> list[tuple[tuple[Obstacle, ...], tuple[Program, ...]]]:
    """What stands in the way, and the moves that it is met on.

    A blade that its edge is followed on is met along the edge laid straight; what stands beside it
    where the axes really go.
    """
    machine, work, row = setup.shop, setup.work, setup.row
    things = obstacles_for(machine, work, row)
    still = stands_still(setup.way)
    if still is None:
        return [(things, programs)]
    beside = obstacles_for(machine, work, row, span_mm(still.path))
    clear = machine.fixture.clearance_mm
    found = [(tuple(thing for thing in things if thing.kind == "blade"), programs)]
    if beside:
        found.append((beside, tuple(on_the_slides(one, still, clear) for one in programs)))
    return found
