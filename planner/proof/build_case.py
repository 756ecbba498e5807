"""Makes the case of a set-up from the job, the machine and the wheel, or says why there is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.proof.arc import Turned, check_room_inside, check_thickness, turned_path
from planner.proof.axes import fixed_tilt_deg, program_axes
from planner.proof.axes import held_tilt_deg as axes_held_tilt_deg
from planner.proof.bulge import (
    BulgeGoal,
    FlatGoal,
    bulge_before,
    bulge_goal,
    held_rad,
    is_swept,
    ridge_mm,
    swept_goals,
)
from planner.proof.case import Case, held_tilt_deg, middle_mm
from planner.proof.edge_line import EdgeLine, edge_line
from planner.proof.following import following
from planner.proof.forms import blade_side
from planner.proof.frame import touch_frame
from planner.proof.operation import (
    SetupName,
    allowance_mm,
    bevel_height_mm,
    bevel_operation,
    bevel_rise_mm,
    read_setup_name,
    stock_before,
)
from planner.proof.row import row_around
from planner.proof.set_by_hand import aside_mm, check_turn_by_hand, held_relief
from planner.proof.steel import blank_section, in_face, surface_depths_mm
from planner.proof.sweep import Facet, swept
from planner.proof.target import (
    Face,
    FaceName,
    ImpossibleError,
    Relief,
    blade_face,
    touched_in_middle,
    wanted_relief,
)
from planner.proof.tool import RimTool, Stand, Tool, tool_of
from planner.proof.wheel_at_speed import wheel_at_speed

_MM_PER_INCH = 25.4
_LEAST_RADIUS_MM = 1.0
"""Below it the polygons of a wheel are too coarse. Ours, for the arithmetic."""


def build_case(
    job: Job,
    machine: Machine,
    setup_name: str,
    wheel: Wheel,
    ground_by: Wheel | None = None,
    station: int = 1,
    filled: Sequence[int] = (1,),
    *,
    turns: bool = False,
) -> Case:
    """Everything about one set-up, for the blade in one of the filled stations.

    ``ground_by`` is the wheel of the relief that lands are beside; ``turns`` is whether the program
    moves the turn, which lays a curve along the traverse then.

    Raises: ImpossibleError where there is no such set-up, where the job's section does not exist
    for this wheel, and where the wheel is too small for the arithmetic of polygons.
    """
    setup = read_setup_name(setup_name)
    if setup is None:
        raise ImpossibleError(f"a set-up {setup_name}")
    turned, line = _path(job, machine, setup)
    axes = program_axes(machine)
    at_speed = wheel_at_speed(machine, wheel)
    by_role = {axis.role: index for index, axis in enumerate(axes.values())}
    name = setup.face
    other: FaceName = "B" if name == "A" else "A"
    finished, other_face = blade_face(job, name), blade_face(job, other)
    allowance = allowance_mm(job, name)
    reliefs: dict[FaceName, Relief | None] = {"A": None, "B": None}
    if setup.operation != "bevel":
        radius_mm = _arc_radius_mm(machine, wheel if setup.operation == "relief" else ground_by)
        reliefs[name] = wanted_relief(job, finished, radius_mm)
        if job.relief.faces == "both":
            reliefs[other] = wanted_relief(job, other_face, radius_mm)
    relief = reliefs[name]
    bulge = bulge_goal(job, machine, setup, wheel, tool_radius_mm(wheel, at_speed.radius_mm))
    finished = touched_in_middle(job, finished, relief) if bulge is None else bulge.plane
    other_face = touched_in_middle(job, other_face, reliefs[other])
    generates = isinstance(bulge, BulgeGoal)
    generates |= setup.operation == "relief" and job.relief.scallop_mm is not None
    if generates and "cross" not in by_role:
        raise ImpossibleError("lines side by side need a cross axis that the program moves")
    above, lift, depth, depth_tolerance = _heights(job, setup, finished, relief, bulge)
    check_thickness(job, name)
    if turned is not None:
        held = held_rad(machine, name, finished.bevel_rad)
        check_room_inside(job, wheel, name, held, depth_tolerance)
    face = finished.lifted(above)
    placed = {
        of: each and each.moved(aside_mm(machine, each.middle_mm)) for of, each in reliefs.items()
    }
    middle = middle_mm(finished, setup, relief, bulge)
    aside = aside_mm(machine, middle)
    middle += aside
    length = job.edge.length_mm
    at_mm = _stands_at_mm(machine, station)
    frame = touch_frame(face, machine.fixture.flip, length, middle, 0.0, at_mm)
    tool = tool_of(wheel, frame, at_speed.radius_mm)
    _check_shape(tool, setup, relief, allowance, generates=generates)
    controller = machine.controller
    unit = 1.0 if controller.units == "mm" else _MM_PER_INCH
    blank = _blank(job, machine, setup, placed, {name: finished, other: other_face})
    case = Case(
        job=job,
        machine=machine,
        setup=setup,
        finished=finished,
        face=face,
        lift_mm=lift,
        other_face=other_face,
        relief=relief,
        other_relief=held_relief(job, machine, axes, other_face, reliefs[other]),
        aside_mm=aside,
        held_relief=placed[name],
        blank=blank,
        depth_mm=depth,
        depth_tolerance_mm=depth_tolerance,
        wheel=wheel,
        at_speed=at_speed,
        tool=tool,
        bare_mm=tool.bare_mm,
        generates=generates,
        frame=frame,
        axes=axes,
        by_role=by_role,
        fixed_tilt_deg=fixed_tilt_deg(machine, frame),
        set_cross_mm=None if machine.fixture.hand_cross is None else middle,
        half_decimal_mm=0.5 * 10.0**-controller.decimals * unit,
        turned=turned,
        followed=None,
        skin=None,
        left=(),
        row=row_around(machine, length, station, filled, frame.x_at_zero_mm, frame.x_per_traverse),
        bulge=bulge,
    )
    bare = tool.bare_mm
    if isinstance(tool, RimTool) and tool.form_radius_mm is None:
        bare = _bare_flat_mm(case, tool)
    frame = touch_frame(face, machine.fixture.flip, length, middle, bare, at_mm)
    case = replace(case, frame=frame, bare_mm=bare)
    return _of_its_way(case, line, turns=turns)


def grinds_relief(job: Job, machine: Machine, wheel: Wheel) -> bool:
    """Whether the wheel can grind the job's relief on each face that has one."""
    faces: list[FaceName] = ["A", "B"] if job.relief.faces == "both" else [job.relief.faces]
    for name in faces:
        try:
            build_case(job, machine, f"relief-{name}", wheel)
        except ImpossibleError:
            return False
    return True


def _of_its_way(case: Case, line: EdgeLine | None, *, turns: bool) -> Case:
    """The same with what a tilt that is swept adds, or an edge that the straight axes follow."""
    if isinstance(case.bulge, FlatGoal) and is_swept(case.job, case.machine):
        return _swept(case)
    return case if line is None else following(case, line, turns=turns)


def _swept(case: Case) -> Case:
    """The same of a first facet with those behind it, the tilt turned between them."""
    job, machine, setup = case.job, case.machine, case.setup
    facets = []
    for goal, steel in swept_goals(job, machine, setup):
        tolerance = _heights(job, setup, goal.plane, None, goal)[3]
        ideal = touch_frame(goal.plane, machine.fixture.flip, 1.0, 0.0, 0.0)
        facets.append(Facet(goal, steel, tolerance, axes_held_tilt_deg(machine, ideal)))
    return swept(case, facets, blade_side(job.blade.section, setup.face).stock_mm)


def _path(job: Job, machine: Machine, setup: SetupName) -> tuple[Turned | None, EdgeLine | None]:
    """How an edge that is not straight is turned, and its line where nothing turns it."""
    turned, line = turned_path(job, machine, setup.face), edge_line(job.edge)
    if turned is None:
        check_turn_by_hand(machine)
    if line is None:
        return None, None
    if machine.fixture.row is not None:
        raise ImpossibleError("a row of blades whose edges are not straight")
    if turned is not None:
        return turned, None
    return None, line


def _heights(
    job: Job,
    setup: SetupName,
    finished: Face,
    relief: Relief | None,
    bulge: FlatGoal | BulgeGoal | None,
) -> tuple[float, float, float, float]:
    """Face before and after over the finished one, depth, and its tolerance."""
    allowance = allowance_mm(job, setup.face)
    if bulge is not None:
        bevel = bevel_operation(job)
        assert bevel is not None
        tolerance = bevel.edge_thickness_tolerance_mm * math.cos(finished.bevel_rad)
        rise = bulge.rise_mm if isinstance(bulge, BulgeGoal) else bulge.depth_mm
        return rise, 0.0, bulge.depth_mm, min(tolerance, bevel.ridge_mm or math.inf)
    if relief is None:
        after = bevel_height_mm(job, finished, setup.stage)
        before = bevel_rise_mm(job, finished)
        if setup.stage > 1:
            before = bevel_height_mm(job, finished, setup.stage - 1)
        bevel = bevel_operation(job)
        assert bevel is not None
        tolerance = bevel.edge_thickness_tolerance_mm * math.cos(finished.bevel_rad)
        return before, after, before - after, tolerance
    if setup.operation == "relief":
        return allowance, allowance, relief.depth_mm + allowance, relief.depth_tolerance_mm
    if finished.radius_mm is not None or ridge_mm(job) is not None:
        raise ImpossibleError("lands of a blade that bulges, which lie in no plane")
    return allowance, 0.0, allowance, relief.depth_tolerance_mm


def _blank(
    job: Job,
    machine: Machine,
    setup: SetupName,
    reliefs: dict[FaceName, Relief | None],
    faces: dict[FaceName, Face],
) -> shapely.Geometry:
    """The section before the set-up, every one before it at its target."""
    if setup.operation == "bevel" and ridge_mm(job) is not None:
        return bulge_before(job, machine, setup.text)
    return (
        blank_section(job) if job.operations is None else stock_before(job, setup, reliefs, faces)
    )


def _stands_at_mm(machine: Machine, station: int) -> float:
    """Where a blade of a row stands along the traverse; 0 where there is none."""
    row = machine.fixture.row
    return 0.0 if row is None else row.positions_mm[station - 1]


def _arc_radius_mm(machine: Machine, wheel: Wheel | None) -> float:
    if wheel is None or wheel.contact == "platen":
        raise ImpossibleError("a flat wheel grinds no relief")
    if wheel.contact == "across_edge":
        radius = wheel.form_radius_mm
        if radius is None:
            raise ImpossibleError("a flat wheel grinds no relief")
    else:
        radius = wheel_at_speed(machine, wheel).radius_mm
    if radius < _LEAST_RADIUS_MM:
        raise ImpossibleError(f"a wheel of under {_LEAST_RADIUS_MM:g} mm radius")
    return radius


def _bare_flat_mm(case: Case, tool: RimTool) -> float:
    """How high over the plane at zero a flat's middle stands where it bares on the stock.

    Both outlines are of straight lines, so that they meet at a corner of the one or the other.
    """
    face = case.face
    stand = Stand(*face.point(case.middle_mm, 0.0), held_tilt_deg(case))
    stock = in_face(shapely.get_coordinates(case.blank), face)[0]
    places = np.concatenate([stock, in_face(tool.corners(stand), face)[0]])
    rise = tool.profile_mm(face, places, stand) - surface_depths_mm(case.blank, face, places)
    return float(rise.max())


def _check_shape(
    tool: Tool, setup: SetupName, relief: Relief | None, allowance: float, *, generates: bool
) -> None:
    if setup.operation != "relief":
        if tool.arc_radius_mm is not None and not generates:
            raise ImpossibleError(f"{setup.operation} needs a flat wheel")
        return
    if relief is None or generates or not isinstance(tool, RimTool):
        return
    depth = relief.depth_mm + allowance
    if relief.chord_at_mm(depth) / 2.0 > tool.arc_half_width_mm:
        raise ImpossibleError("the form is narrower than the relief's chord")


def tool_radius_mm(wheel: Wheel, circle_mm: float) -> float | None:
    """Radius of the arc that a wheel grinds with; None of a flat one."""
    return circle_mm if wheel.contact == "along_edge" else wheel.form_radius_mm
