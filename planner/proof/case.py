"""One set-up as plain numbers: what the judge needs of the job, the machine and the wheel."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.proof.arc import (
    Turned,
    check_room_inside,
    check_thickness,
    curvature_per_mm,
    reach_inside_mm,
    turned_path,
)
from planner.proof.axes import ProgramAxis, fixed_tilt_deg, program_axes, reachable_tilt_deg
from planner.proof.bulge import BulgeGoal, FlatGoal, bulge_before, bulge_goal, ridge_mm
from planner.proof.edge_line import EdgeLine, edge_line
from planner.proof.followed import CHORD_MM, Followed, WheelShape
from planner.proof.frame import Frame, nearest_multiple, nearest_of, touch_frame
from planner.proof.left_by import LeftBy, left_by
from planner.proof.operation import (
    SetupName,
    above_plane,
    allowance_mm,
    bevel_height_mm,
    bevel_operation,
    bevel_rise_mm,
    read_setup_name,
    stock_before,
)
from planner.proof.pierced import Skin
from planner.proof.row import RowAround, row_around
from planner.proof.steel import blank_section, in_face, surface_depths_mm, wheel_below_face
from planner.proof.target import (
    Face,
    FaceName,
    ImpossibleError,
    Relief,
    Vector,
    blade_face,
    touched_in_middle,
    wanted_relief,
)
from planner.proof.tool import RimTool, Stand, Tool, crown_of, reach_along_edge_mm, tool_of

_MM_PER_INCH = 25.4
_LEAST_RADIUS_MM = 1.0
_TURN_SLACK_DEG = 0.01
_MOST_STEPS = 10
_SECTIONS = 17
"""A section at each of the blade's five stations, and three between each two."""
_WHOLE = 1e-6


@dataclass(frozen=True)
class WheelAtSpeed:
    """What follows from the wheel and the spindle's speed."""

    radius_mm: float
    width_mm: float
    contact_diameter_mm: float
    belt_mm_s: float | None
    """Stated belt speed at the spindle's own speed; None where it follows from a diameter."""
    driven_diameter_mm: float
    """Diameter whose rim moves at the surface speed, on the spindle."""
    spindle_rpm: float
    marked_rpm: float | None
    marked_m_s: float | None

    def surface_mm_s(self, speed_rpm: float) -> float:
        """Surface speed: pi d n, or the stated belt speed in proportion to the spindle's."""
        if self.belt_mm_s is not None:
            return self.belt_mm_s * speed_rpm / self.spindle_rpm
        return math.pi * self.driven_diameter_mm * speed_rpm / 60.0

    def over_mark(self, speed_rpm: float) -> tuple[float, float, str] | None:
        """(speed, mark, unit) where the wheel would turn faster than it is marked for."""
        surface = self.surface_mm_s(speed_rpm)
        turns_rpm = surface * 60.0 / (math.pi * self.contact_diameter_mm)
        slack = 1.0 + 1e-9
        if self.marked_rpm is not None and turns_rpm > self.marked_rpm * slack:
            return turns_rpm, self.marked_rpm, "rpm"
        if self.marked_m_s is not None and surface > self.marked_m_s * 1000.0 * slack:
            return surface / 1000.0, self.marked_m_s, "m/s"
        return None


@dataclass(frozen=True)
class Case:
    """One set-up: the face, what is ground into it, the wheel, the frame and every limit.

    Places along the three planes of a face are those of the finished one.
    """

    job: Job
    machine: Machine
    setup: SetupName
    finished: Face
    """The face as the job wants it."""
    face: Face
    """The plane that the wheel bares on at program zero; depths count from it."""
    lift_mm: float
    """How far the face stands outside the finished one when the program is done."""
    other_face: Face
    """The other face, finished."""
    relief: Relief | None
    """The finished relief; None of a bevel, which does not know it."""
    other_relief: Relief | None
    """That of the other face, where its settings put it; None where only this face is relieved,
    and of a bevel."""
    aside_mm: float
    """How far beyond the place asked for, toward the shoulder, a cross set by hand puts it."""
    held_relief: Relief | None
    """The finished relief where the setting of the cross puts it; None of a bevel."""
    blank: shapely.Geometry
    """The section before the program."""
    depth_mm: float
    """From the plane at zero to the target."""
    depth_tolerance_mm: float
    wheel: Wheel
    at_speed: WheelAtSpeed
    tool: Tool
    bare_mm: float
    """Height of the wheel's reference point over the plane at zero."""
    generates: bool
    """Whether a smaller wheel makes the relief in parallel lines."""
    frame: Frame
    axes: Mapping[str, ProgramAxis]
    """By letter, in the machine's order."""
    by_role: Mapping[str, int]
    """Role to index in a position."""
    fixed_tilt_deg: float
    """What a person sets where no axis tilts; 0 where nothing does."""
    set_cross_mm: float | None
    """Where a person sets the cross, from the edge along the face; None where nobody does."""
    half_decimal_mm: float
    """Half of the last decimal that the machine's programs are written with."""
    turned: Turned | None
    """How an edge along an arc is turned under the wheel; None where nothing turns it."""
    followed: Followed | None
    """How the straight axes follow an edge that is not straight."""
    skin: Skin | None
    """That of the blade on such an edge."""
    left: tuple[LeftBy, ...]
    """What the wheel leaves in evenly spaced sections of such an edge, heel to tip; else empty."""
    row: RowAround
    """The row that this blade stands in; by itself where there is none."""
    bulge: FlatGoal | BulgeGoal | None
    """What is left of a bevel that bulges; None of any other set-up."""

    @property
    def ridge_mm(self) -> float:
        """How high the ridges may stand that the program leaves; 0 where it leaves none."""
        if self.bulge is not None:
            return ridge_mm(self.job) or 0.0
        return (self.job.relief.scallop_mm or 0.0) if self.generates else 0.0

    @property
    def set_tilt_deg(self) -> float | None:
        """The tilt that a person sets; None where nobody does."""
        return None if self.machine.fixture.hand_tilt is None else self.fixed_tilt_deg

    @property
    def edge_length_mm(self) -> float:
        """Length of the edge."""
        return self.job.edge.length_mm

    @property
    def specific_energy_j_mm3(self) -> float:
        """The wheel's; a belt's rises in a straight line, by half until it is retired."""
        belt = self.wheel.belt
        worn = 0.0 if belt is None else belt.worn
        return self.wheel.specific_energy_j_mm3 * (1.0 + worn / 2.0)

    @property
    def middle_mm(self) -> float:
        """The place over which the wheel stands at cross 0."""
        return middle_mm(self.finished, self.setup, self.relief, self.bulge) + self.aside_mm

    @property
    def wanted(self) -> Relief:
        """The finished relief, of a set-up that has one."""
        assert self.relief is not None
        return self.relief

    def depth_at_mm(self, reference: Vector) -> float:
        """How far the wheel is below the plane at zero, its reference point standing there."""
        return self.bare_mm + self.face.depth_mm(reference)

    @property
    def reach_mm(self) -> float:
        """How far from its middle plane the wheel touches along the edge, at its deepest."""
        deepest = self.depth_mm + self.half_decimal_mm
        if self.followed is not None:
            return self.followed.reach_mm(deepest)
        if self.setup.face == "B":
            inside = reach_inside_mm(self.job, self.wheel, deepest)
            if inside is not None:
                return inside
        return reach_along_edge_mm(self.wheel, deepest, self.curvature_per_mm)

    @cached_property
    def off_mm(self) -> float:
        """How far the whole steps of the axes may put a wheel that follows off its depth."""
        if self.followed is None:
            return 0.0
        straight = [role for role in self.by_role if role in ("traverse", "cross", "infeed")]
        steps = {role: step_mm(self, role) for role in straight}
        if self.followed.turn_sign is not None:
            axis = list(self.axes.values())[self.by_role["turn"]]
            steps["turn"] = max(10.0**-self.machine.controller.rotary_decimals, axis.resolution)
        return self.followed.across_mm(steps)

    @property
    def uneven_mm(self) -> float:
        """By how much a pass that follows is uneven: rounding to both sides, and chords."""
        return 0.0 if self.followed is None else 2.0 * self.off_mm + CHORD_MM

    @property
    def curvature_per_mm(self) -> float:
        """Of the edge along its path, as the wheel meets it."""
        if self.followed is not None:
            return self.followed.falls_away_per_mm
        return curvature_per_mm(self.job, self.setup.face)

    @property
    def wearing_width_mm(self) -> float:
        """Width of the rim that wears: all of it, or across the edge what touches at the target.

        Of a crown what the rough infeed puts below the surface.
        """
        width = self.wheel.width_mm
        if self.wheel.contact == "along_edge":
            rough = self.wheel.infeed.rough_mm
            return 2.0 * reach_along_edge_mm(self.wheel, rough, self.curvature_per_mm)
        if self.wheel.contact != "across_edge":
            return width
        if isinstance(self.bulge, BulgeGoal):
            # The place of contact goes round the rim by as much as the arc turns.
            turn = self.bulge.first_rad - self.bulge.last_rad
            return min(self.bulge.wheel_mm * turn, width)
        if self.setup.operation == "bevel":
            bevel = self.finished.bevel_rad
            cut_off = self.lift_mm / (math.sin(bevel) * math.cos(bevel))
            return min(self.finished.width_mm - cut_off, width)
        if self.setup.operation == "lands":
            return min(self.wanted.edge_land_mm + self.wanted.shoulder_land_mm, width)
        radius = self.wanted.arc_radius_mm
        chord = self.wanted.chord_at_mm(self.depth_mm)
        # In lines the place of contact goes round the rim by as much as the arc turns.
        return min(chord * (self.tool.arc_radius_mm or radius) / radius, width)

    def goal(self, depth_mm: float) -> shapely.Geometry:
        """What the program takes away down to a depth below the plane at zero."""
        if isinstance(self.bulge, BulgeGoal):
            return self.bulge.above(depth_mm)
        if self.setup.operation != "relief":
            return above_plane(self.face, depth_mm)
        radius = self.wanted.arc_radius_mm
        centre = self.face.point(self.middle_mm, depth_mm - radius)
        return shapely.Polygon(wheel_below_face(self.face, radius, centre))

    @cached_property
    def removed_area_mm2(self) -> float:
        """Section that the program takes."""
        if self.setup.operation == "relief":
            return self.wanted.area_at_mm2(self.depth_mm)
        return float(shapely.intersection(self.blank, self.goal(self.depth_mm)).area)


def middle_mm(
    finished: Face, setup: SetupName, relief: Relief | None, bulge: FlatGoal | BulgeGoal | None
) -> float:
    """The middle of the relief, of the whole face for a flat wheel, the corner for lines."""
    if isinstance(bulge, BulgeGoal):
        return bulge.corner_mm
    if setup.operation == "relief" and relief is not None:
        return relief.middle_mm
    return finished.start_mm + finished.width_mm / 2.0


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
    at_speed = _wheel_at_speed(machine, wheel)
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
        check_room_inside(job, wheel, name, depth_tolerance)
    face = finished.lifted(above)
    placed = {
        of: each and each.moved(_aside_mm(machine, each.middle_mm)) for of, each in reliefs.items()
    }
    middle = middle_mm(finished, setup, relief, bulge)
    aside = _aside_mm(machine, middle)
    middle += aside
    length = job.edge.length_mm
    at_mm = _stands_at_mm(machine, station)
    frame = touch_frame(face, machine.fixture.flip, length, middle, 0.0, at_mm)
    tool = tool_of(wheel, frame, at_speed.radius_mm)
    _check_shape(tool, setup, relief, allowance, generates=generates)
    controller = machine.controller
    unit = 1.0 if controller.units == "mm" else _MM_PER_INCH
    blank = _blank(job, machine, setup, placed, {name: finished, other: other_face}, bulge)
    case = Case(
        job=job,
        machine=machine,
        setup=setup,
        finished=finished,
        face=face,
        lift_mm=lift,
        other_face=other_face,
        relief=relief,
        other_relief=_held_relief(job, machine, axes, other_face, reliefs[other]),
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
    return case if line is None else _following(case, line, turns=turns)


def _following(case: Case, line: EdgeLine, *, turns: bool) -> Case:
    """The same with straight axes that follow the edge.

    Raises: ImpossibleError where they cannot.
    """
    wheel, tool = case.wheel, case.tool
    along = wheel.contact == "along_edge"
    shape = WheelShape(
        radius_mm=case.at_speed.radius_mm if along else wheel.diameter_mm / 2.0,
        rim_mm=crown_of(wheel) if along else wheel.form_radius_mm,
        half_width_mm=wheel.width_mm / 2.0 if along else tool.arc_half_width_mm,
        along_edge=along,
    )
    tilt = held_tilt_deg(case)
    followed = Followed(line, case.face, case.middle_mm, case.frame, tilt, shape, case.blank)
    if turns:
        followed = replace(followed, turn_sign=1.0 if case.setup.face == "A" else -1.0)
    followed.check_room(case.depth_mm)
    skin = Skin.of(followed, wheel.width_mm)
    skin.check_room(case.depth_mm)
    half = case.wanted.chord_at_mm(case.depth_mm) / 2.0
    places = [line.length_mm * n / (_SECTIONS - 1) for n in range(_SECTIONS)]
    left = tuple(left_by(followed, s, case.depth_mm, half) for s in places)
    return replace(case, followed=followed, skin=skin, left=left)


def _stands_at_mm(machine: Machine, station: int) -> float:
    """Where a blade of a row stands along the traverse; 0 where there is none."""
    row = machine.fixture.row
    return 0.0 if row is None else row.positions_mm[station - 1]


def _blank(
    job: Job,
    machine: Machine,
    setup: SetupName,
    reliefs: dict[FaceName, Relief | None],
    faces: dict[FaceName, Face],
    bulge: FlatGoal | BulgeGoal | None,
) -> shapely.Geometry:
    """The section before the set-up, every one before it at its target."""
    if bulge is not None:
        return bulge_before(job, machine, setup.text)
    return (
        blank_section(job) if job.operations is None else stock_before(job, setup, reliefs, faces)
    )


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
    return allowance, 0.0, allowance, relief.depth_tolerance_mm


def _path(job: Job, machine: Machine, setup: SetupName) -> tuple[Turned | None, EdgeLine | None]:
    """How an edge that is not straight is turned, and its line where nothing turns it."""
    turned, line = turned_path(job, machine, setup.face), edge_line(job.edge)
    if turned is None:
        _check_turn(machine)
    if line is None:
        return None, None
    if machine.fixture.row is not None:
        raise ImpossibleError("a row of blades whose edges are not straight")
    if turned is not None:
        return turned, None
    if setup.operation != "relief" or job.relief.scallop_mm is not None:
        raise ImpossibleError("an edge that slides follow takes a relief in one piece alone")
    return None, line


def _check_turn(machine: Machine) -> None:
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


def grinds_relief(job: Job, machine: Machine, wheel: Wheel) -> bool:
    """Whether the wheel can grind the job's relief on each face that has one."""
    faces: list[FaceName] = ["A", "B"] if job.relief.faces == "both" else [job.relief.faces]
    for name in faces:
        try:
            build_case(job, machine, f"relief-{name}", wheel)
        except ImpossibleError:
            return False
    return True


def held_tilt_deg(case: Case) -> float:
    """The tilt that the blade is ground at: the one nearest to the ideal that exists."""
    index = case.by_role.get("tilt")
    if index is None:
        return case.fixed_tilt_deg
    axis = list(case.axes.values())[index]
    return reachable_tilt_deg(case.machine, case.frame, axis)[0]


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


def tool_radius_mm(wheel: Wheel, circle_mm: float) -> float | None:
    """Radius of the arc that a wheel grinds with; None of a flat one."""
    return circle_mm if wheel.contact == "along_edge" else wheel.form_radius_mm


def _arc_radius_mm(machine: Machine, wheel: Wheel | None) -> float:
    if wheel is None or wheel.contact == "platen":
        raise ImpossibleError("a flat wheel grinds no relief")
    if wheel.contact == "across_edge":
        radius = wheel.form_radius_mm
        if radius is None:
            raise ImpossibleError("a flat wheel grinds no relief")
    else:
        radius = _wheel_at_speed(machine, wheel).radius_mm
    if radius < _LEAST_RADIUS_MM:
        raise ImpossibleError(f"a wheel of under {_LEAST_RADIUS_MM:g} mm radius")
    return radius


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


def infeed_step_mm(case: Case) -> float:
    """The infeed that both the axis can make and the program can write.

    Ten of the coarser of the two are looked at; where none is whole in the other, the coarser.
    """
    return step_mm(case, "infeed")


def step_mm(case: Case, role: str) -> float:
    """The same of the straight axis with a role."""
    resolution = list(case.axes.values())[case.by_role[role]].resolution
    finer, coarser = sorted((resolution, 2.0 * case.half_decimal_mm))
    for count in range(1, _MOST_STEPS + 1):
        parts = count * coarser / finer
        if abs(parts - round(parts)) < _WHOLE:
            return count * coarser
    return coarser


def _aside_mm(machine: Machine, place_mm: float) -> float:
    """How far from a place on the face the nearest setting of a cross by hand stands."""
    hand = machine.fixture.hand_cross
    if hand is None:
        return 0.0
    if hand.settings_mm is not None:
        return nearest_of(place_mm, hand.settings_mm) - place_mm
    low, high = hand.range_mm or (0.0, 0.0)
    return nearest_multiple(place_mm, hand.resolution_mm, low, high) - place_mm


def _held_relief(
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
    return relief.moved(_aside_mm(machine, relief.middle_mm) + drift)


def _wheel_at_speed(machine: Machine, wheel: Wheel) -> WheelAtSpeed:
    belt = wheel.belt
    radius = wheel.diameter_mm / 2.0
    driven = wheel.diameter_mm
    belt_mm_s = None
    if belt is not None:
        radius += belt.thickness_mm
        if belt.speed_m_s is not None:
            belt_mm_s = belt.speed_m_s * 1000.0
        elif belt.drive_diameter_mm is not None:
            driven = belt.drive_diameter_mm
    return WheelAtSpeed(
        radius_mm=radius,
        width_mm=wheel.width_mm,
        contact_diameter_mm=wheel.diameter_mm,
        belt_mm_s=belt_mm_s,
        driven_diameter_mm=driven,
        spindle_rpm=machine.spindle.speed_rpm,
        marked_rpm=wheel.marked_speed.rpm,
        marked_m_s=wheel.marked_speed.m_s,
    )
