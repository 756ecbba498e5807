"""How far the lands of one blade will stray from those asked for, and why.

Signs: a positive depth error is a deeper relief; the middle of the relief and the lands are
counted along the face, away from the edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.formulas import spread
from planner.formulas.lens import Lens
from planner.formulas.strayed import Touching
from planner.inputs.axes import LinearAxis, RotaryAxis
from planner.inputs.blade_forms import Form
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.edge_course import EdgeCourse, FacePlane, followed_course
from planner.section.profile import BevelFace
from planner.section.size_on_path import size_on_path
from planner.section.target import FaceRelief
from planner.section.wheel_shape import is_round, section_radius_mm
from planner.section.work import FaceWork


@dataclass(frozen=True)
class ErrorCause:
    """One source of error: its standard deviation and what a unit of it does to the lands."""

    name: str
    sd: float
    unit: str
    edge_land_per_unit: float
    shoulder_land_per_unit: float

    @property
    def edge_land_sd_mm(self) -> float:
        """Spread of the edge land from this cause alone."""
        return abs(self.edge_land_per_unit) * self.sd

    @property
    def shoulder_land_sd_mm(self) -> float:
        """Spread of the shoulder land from this cause alone."""
        return abs(self.shoulder_land_per_unit) * self.sd


@dataclass(frozen=True)
class FaceSpread:
    """Tolerance and predicted spread of one face's lands."""

    face: str
    land_tolerance_mm: float
    land_change_per_depth: float
    depth_tolerance_mm: float
    causes: tuple[ErrorCause, ...]
    aside_mm: float = 0.0
    """How much wider the edge land comes out, and narrower the shoulder land, by the settings
    that exist."""

    @property
    def edge_land_sd_mm(self) -> float:
        """Predicted standard deviation of the edge land."""
        return math.hypot(*(c.edge_land_sd_mm for c in self.causes))

    @property
    def shoulder_land_sd_mm(self) -> float:
        """Predicted standard deviation of the shoulder land."""
        return math.hypot(*(c.shoulder_land_sd_mm for c in self.causes))

    @property
    def land_sd_mm(self) -> float:
        """The larger of the two."""
        return max(self.edge_land_sd_mm, self.shoulder_land_sd_mm)

    @property
    def dominant(self) -> ErrorCause:
        """The cause that adds most to the wider-spread land."""
        edge = self.edge_land_sd_mm >= self.shoulder_land_sd_mm
        return max(self.causes, key=lambda c: c.edge_land_sd_mm if edge else c.shoulder_land_sd_mm)

    def without(self, cause: str) -> FaceSpread:
        """The same face with one cause removed."""
        return replace(self, causes=tuple(c for c in self.causes if c.name != cause))

    def share(self, shortfalls_mm: Sequence[float]) -> float:
        """Share of blades with both lands in tolerance all along the edge.

        ``shortfalls_mm`` are the depths by which stations along the edge fall short on average.
        All of them must hold at once, so their middle shifts the lands and their range narrows
        the tolerance. What the settings put aside shifts the two lands against each other.
        """
        least, most = min(shortfalls_mm), max(shortfalls_mm)
        wider = self.land_change_per_depth * (least + most) / 2
        room = self.land_tolerance_mm - self.land_change_per_depth * (most - least) / 2
        if room <= 0:
            return 0.0
        jacobian = np.array(
            [[c.edge_land_per_unit * c.sd, c.shoulder_land_per_unit * c.sd] for c in self.causes]
        )
        means = (wider + self.aside_mm, wider - self.aside_mm)
        return spread.share_inside_both(means, jacobian.T @ jacobian, room)


def depth_tolerance_mm(job: Job, work: FaceWork) -> float:
    """How far the depth of an operation may be off: the lands or the edge thickness decide.

    A bevel face that is d deeper takes d / cos β off the edge thickness, and each face may use half
    of its tolerance. One that bulges may be off by no more than its ridges may stand over it.
    """
    bevel = next((o for o in job.operations or () if o.do == "bevel"), None)
    if work.operation == "bevel" and bevel is not None:
        allowed = bevel.edge_thickness_tolerance_mm / 2 * math.cos(work.face.angle_rad)
        return min(allowed, work.ridge_mm or math.inf)
    g = work.section.lens(work.face.face).end_per_depth(work.relief.depth_mm)
    return float(job.relief.land_tolerance_mm / g)


@dataclass(frozen=True)
class EdgeSpread:
    """Spread of the edge thickness that the bevels leave."""

    thickness_mm: float
    tolerance_mm: float
    sd_mm: float
    share: float
    """Of the blades, in tolerance."""


def edge_spread(
    job: Job,
    machine: Machine,
    works: Sequence[FaceWork],
    blades: int = 1,
    off_mm: tuple[float, float] = (0.0, 0.0),
) -> EdgeSpread | None:
    """Propagate the errors of depth and stock to the edge thickness; None without a bevel.

    The wheel is touched off on the corner of the stock, so each face's depth error counts with
    1 / cos β and the stock's own thickness in full. Of ``blades`` in a row one is touched off, and
    the seats of the others do not stand at its height. An arc in lines goes aside with the cross.
    ``off_mm`` is how much thicker the edge comes out along it by flats that lean, at the least and
    the most: all of it must hold at once.
    """
    bevel = next((o for o in job.operations or () if o.do == "bevel"), None)
    if bevel is None:
        return None
    infeed = next(a for a in machine.axes.values() if a.role == "infeed")
    assert isinstance(infeed, LinearAxis)
    depth_sd = math.hypot(
        spread.uniform_sd(infeed.resolution_mm),
        infeed.repeatability_mm,
        machine.fixture.touch_off_mm,
        _seats_mm(machine, blades),
        _off_centre_mm(job, machine),
    )
    bevels = [w for w in works if w.operation == "bevel" and w.reaches_edge]
    aside_sd = machine.fixture.cross_setting_mm
    aside = (w.edge_per_aside * aside_sd for w in bevels)
    deep = (
        math.hypot(depth_sd, _off_the_path_mm(job, machine, w.wheel, w.face))
        / math.cos(w.face.angle_rad)
        for w in bevels
    )
    sd = math.hypot(job.spread.thickness_mm, *deep, *aside)
    left = works[0].section.edge_thickness_mm
    last = {w.face.face: w.edge_left_mm for w in bevels}
    left += sum(last.values())
    tolerance = bevel.edge_thickness_tolerance_mm
    rooms = tolerance - off_mm[1], tolerance + off_mm[0]
    share = 1.0 if min(rooms) > 0.0 else 0.0
    if sd > 0 and share:
        share = sum(math.erf(room / sd / math.sqrt(2)) for room in rooms) / 2.0
    return EdgeSpread(left, tolerance, sd, share)


def _off_centre_mm(job: Job, machine: Machine) -> float:
    """Standard deviation of the depth at the worst place of an arc off the axis of its turn.

    Touched off at one end, a place turned by a from there stands higher or lower by the
    difference of the two ways outward: 2 e sin(a/2), e in any direction. 0 on a straight edge.
    """
    if not isinstance(job.edge, ArcEdge):
        return 0.0
    widest = math.sin(math.radians(min(job.edge.angle_deg, 180.0)) / 2)
    return 2 * machine.fixture.turn_off_centre_mm * widest


def _seats_mm(machine: Machine, blades: int) -> float:
    """Standard deviation of a seat's height against that of the blade touched off."""
    row = machine.fixture.row
    return row.seats_mm if row is not None and blades > 1 else 0.0


def touching_of(job: Job, machine: Machine, blades: int = 1) -> Touching:
    """How the wheel finds the face and its middle; ``blades`` are ground together."""
    fixture = machine.fixture
    each_blade = (fixture.touch_off_each == "blade" or job.quantity == 1) and blades == 1
    if not each_blade:
        return "batch"
    by_mark = fixture.cross_set_by == "witness_mark" and fixture.hand_cross is None
    return "mark" if by_mark else "stop"


def lands_follow(job: Job, face: BevelFace) -> bool:
    """Whether lands are ground on a face after its relief: a flat back comes as it stays."""
    return face.edge_angle_deg > 0.0 and any(o.do == "lands" for o in job.operations or ())


def face_spread(
    job: Job,
    machine: Machine,
    wheel: Wheel,
    face: BevelFace,
    relief: FaceRelief,
    radius_mm: float,
    blades: int = 1,
    *,
    lands_after: bool = False,
) -> FaceSpread:
    """Propagate the stated errors of machine, wheel and stock to the two lands of one face.

    With g = d(half chord)/d(depth), R the wheel radius, p the middle of the relief, b the face
    width and β the bevel angle (see docs/tolerance.md for the derivations):

    * depth errors (resolution, repeatability, touch-off): each land changes by -g per mm;
    * wheel radius, at the depth that touch-off fixes: -d/(c/2) per mm;
    * the setting of the middle along the face: +1 and -1 per mm;
    * thickness: the shoulder moves by 1/(2 sin β) per mm where the flank is level (1/sin β with a
      single bevel, not at all in a flat back; else see ``shoulder_moves``); when only the first
      blade of a batch is touched off, the face itself also moves by cos β / 2 towards the wheel
      and by sin β / 2 along under it, for the blade lies on its lower flank;
    * the blade's own bevel angle: the shoulder moves by -b/tan β per radian (level flank); when
      the middle is not set by the witness mark of each blade (but from a stop, or a scale or stop
      of the cross itself), the wheel meets the turned face R further along it per radian, and when
      the blade is not touched off itself, p deeper per radian;
    * tilt: R further along per radian when the middle is not set by the witness mark;
    * a pass over the lands afterwards, where there is one: its own depth errors, +g per mm.

    Along an edge that the straight axes follow, a blade that lies off its place is touched off at
    the anchor and is off in depth where its face is turned from there: -g per mm. So it is with a
    wheel of another size, about its axis or across its rim: -g times what ``SizeOnPath`` has.

    Of ``blades`` in a row one is touched off, so it is with each of the others as with a batch
    touched off once; and their seats do not stand at one height: a depth error.
    """
    axes = {a.role: a for a in machine.axes.values()}
    infeed, cross, tilt = axes["infeed"], axes.get("cross"), axes.get("tilt")
    assert isinstance(infeed, LinearAxis)
    fixture = machine.fixture
    lens = Lens(radius_mm, face.bulge_radius_mm)
    g = float(lens.end_per_depth(relief.depth_mm))
    per_radius = float(lens.end_per_radius(relief.depth_mm))
    if section_radius_mm(wheel) < radius_mm - 1e-9:
        # In lines the arc is the axes'. A wheel larger by e in radius is touched off e further out,
        # and where it touches at the angle a from the middle it goes e (1 - cos a) too deep.
        off = math.sin(math.asin(relief.chord_mm / 2 / radius_mm) / 2) ** 2
        sd = wheel.form_radius_error_mm
        if wheel.contact == "along_edge":
            sd = wheel.diameter_error_mm / 2
        per = -g * (2 * off + size_on_path(job, machine, wheel, face).per_arc)
        size = ErrorCause("wheel radius", sd, "mm", per, per)
    elif wheel.contact == "along_edge":
        per = -(per_radius + g * size_on_path(job, machine, wheel, face).per_arc) / 2
        size = ErrorCause("wheel diameter", wheel.diameter_error_mm, "mm", per, per)
    else:
        per = -(per_radius + g * size_on_path(job, machine, wheel, face).per_arc)
        size = ErrorCause("form radius", wheel.form_radius_error_mm, "mm", per, per)
    sine, cosine = math.sin(face.angle_rad), math.cos(face.angle_rad)
    touching = touching_of(job, machine, blades)
    each_blade = touching != "batch"
    # How far the middle follows an angle, per radian. Turned, the face's centre of curvature goes
    # aside by its radius, and the line from there to the wheel's centre turns by that over the sum
    # of both radii: R of a flat face, R ρ / (R + ρ) of one that bulges.
    follow_mm = 0.0 if touching == "mark" else 1 / (1 / radius_mm + 1 / face.bulge_radius_mm)
    # How far it goes along the face for a millimetre beside: the mark is set on the face itself; a
    # wheel that stands beside meets a bulging face less far along.
    beside = 1.0 if touching == "mark" else follow_mm / radius_mm
    shoulder = shoulder_moves(face, job.blade.section)
    # Thicker stock lifts the blade off its seat by half, towards the wheel and along under it.
    thick_depth = 0.0 if each_blade else cosine / 2
    thick_along = 0.0 if each_blade else sine / 2
    angle_depth = 0.0 if each_blade else relief.middle_mm
    causes = [
        ErrorCause("infeed resolution", spread.uniform_sd(infeed.resolution_mm), "mm", -g, -g),
        ErrorCause("infeed repeatability", infeed.repeatability_mm, "mm", -g, -g),
        ErrorCause("touch-off", fixture.touch_off_mm, "mm", -g, -g),
        size,
        ErrorCause("cross setting", fixture.cross_setting_mm, "mm", beside, -beside),
        ErrorCause(
            "stock thickness",
            job.spread.thickness_mm,
            "mm",
            -g * thick_depth - thick_along,
            shoulder.per_thickness - g * thick_depth + thick_along,
        ),
        ErrorCause(
            "bevel angle",
            math.radians(job.spread.bevel_angle_deg),
            "rad",
            follow_mm - g * angle_depth,
            -follow_mm + shoulder.per_angle_mm - g * angle_depth,
        ),
    ]
    if lands_after:
        sd = _lands_pass_mm(job, machine, infeed, face)
        causes.append(ErrorCause("depth of the lands pass", sd, "mm", g, g))
    causes += _causes_of_path(job, machine, wheel, face, g)
    if fixture.hand_cross is not None:
        sd = fixture.hand_cross.repeatability_mm
        causes.append(ErrorCause("cross repeatability", sd, "mm", beside, -beside))
    if isinstance(cross, LinearAxis):
        sd = math.hypot(cross.repeatability_mm, spread.uniform_sd(cross.resolution_mm))
        causes.append(ErrorCause("cross repeatability", sd, "mm", beside, -beside))
    if blades > 1:
        causes.append(ErrorCause("seats of the row", _seats_mm(machine, blades), "mm", -g, -g))
    tilt_sd_deg = 0.0
    if isinstance(tilt, RotaryAxis):
        tilt_sd_deg = math.hypot(tilt.repeatability_deg, spread.uniform_sd(tilt.resolution_deg))
    elif fixture.hand_tilt is not None:
        tilt_sd_deg = fixture.hand_tilt.repeatability_deg
    causes.append(ErrorCause("tilt", math.radians(tilt_sd_deg), "rad", follow_mm, -follow_mm))
    return FaceSpread(
        face=face.face,
        land_tolerance_mm=job.relief.land_tolerance_mm,
        land_change_per_depth=g,
        depth_tolerance_mm=job.relief.land_tolerance_mm / g,
        causes=tuple(causes),
        aside_mm=relief.aside_mm,
    )


def _lands_pass_mm(job: Job, machine: Machine, infeed: LinearAxis, face: BevelFace) -> float:
    """Standard deviation of the depth of a pass over the lands: a clamping of its own, off the axis
    of a turn or off its path by itself."""
    named = next(o.wheel for o in job.operations or () if o.do == "lands")
    flat = next(wheel for wheel in machine.rack if wheel.name == named)
    return math.hypot(
        spread.uniform_sd(infeed.resolution_mm),
        infeed.repeatability_mm,
        machine.fixture.touch_off_mm,
        _off_centre_mm(job, machine),
        _off_the_path_mm(job, machine, flat, face),
    )


def _causes_of_path(
    job: Job, machine: Machine, wheel: Wheel, face: BevelFace, g: float
) -> list[ErrorCause]:
    edge, course = job.edge, followed_course(job, machine)
    if course is not None:
        plane = FacePlane(face.face, face.angle_rad, face.at_edge_mm)
        turn = next((a for a in machine.axes.values() if a.role == "turn"), None)
        if isinstance(turn, RotaryAxis):
            sd = _off_the_turn_mm(course, machine, turn, face)
            return [ErrorCause("turn off centre", sd, "mm", -g, -g)]
        sd = machine.fixture.path_off_mm * _depth_per_off(course, plane)
        # What makes the hollow is counted with it; here the other radius of the wheel.
        per = -g * size_on_path(job, machine, wheel, face).per_other
        size = ErrorCause("crown on the path", wheel.form_radius_error_mm, "mm", per, per)
        if wheel.contact == "across_edge":
            per /= 2
            size = ErrorCause("wheel diameter on the path", wheel.diameter_error_mm, "mm", per, per)
        off = ErrorCause("blade off its path", sd, "mm", -g, -g)
        return [off, size] if per else [off]
    if isinstance(edge, ArcEdge):
        return [ErrorCause("turn off centre", _off_centre_mm(job, machine), "mm", -g, -g)]
    return []


def _off_the_path_mm(job: Job, machine: Machine, wheel: Wheel, face: BevelFace) -> float:
    """Standard deviation of the depth of bevel or lands at the worst place of a followed edge.

    By a blade that lies off its path or off the axis of its turn, and by the wheel's own sizes.
    """
    course = followed_course(job, machine)
    if course is None:
        return 0.0
    turn = next((a for a in machine.axes.values() if a.role == "turn"), None)
    if isinstance(turn, RotaryAxis):
        return _off_the_turn_mm(course, machine, turn, face)
    plane = FacePlane(face.face, face.angle_rad, face.at_edge_mm)
    size = size_on_path(job, machine, wheel, face)
    return math.hypot(
        machine.fixture.path_off_mm * _depth_per_off(course, plane),
        size.per_wheel_radius * wheel.diameter_error_mm / 2,
        size.per_rim_radius * wheel.form_radius_error_mm if is_round(wheel) else 0.0,
    )


def _off_the_turn_mm(
    course: EdgeCourse, machine: Machine, turn: RotaryAxis, face: BevelFace
) -> float:
    """Depth error of a curve that a turn lays along the traverse, at the worst place of its edge.

    The axis of the turn stands e off the anchor: turned by a, the edge is 2 e sin(a/2) off, level;
    the part sin β of that is depth. An angle that is off moves a place x before or behind the
    anchor by as much times x across the traverse, and again sin β of it is depth.
    """
    s = np.linspace(0.0, course.edge.length_mm, _LOOKS)
    at_anchor = float(course.heading_rad(course.anchor_mm))
    turned = course.heading_rad(s) - at_anchor
    edge = course.at(s).edge_mm
    ahead = np.cos(turned) * edge[:, 0] + np.sin(turned) * edge[:, 1]
    angle = math.radians(math.hypot(turn.repeatability_deg, spread.uniform_sd(turn.resolution_deg)))
    off = np.hypot(
        2.0 * machine.fixture.turn_off_centre_mm * np.sin(np.abs(turned) / 2.0), angle * ahead
    )
    return math.sin(face.angle_rad) * float(off.max())


_LOOKS = 241


def _depth_per_off(course: EdgeCourse, plane: FacePlane) -> float:
    """What a blade off along traverse and cross, alike in each, is off in depth at the worst place
    of its edge: the part of the move in the normal there, less that where it is touched off."""
    places = np.append(np.linspace(0.0, course.edge.length_mm, _LOOKS), course.anchor_mm)
    normals = plane.directions(course.at(places))[1]
    turned = normals - normals[-1]
    cosine, sine = math.cos(plane.angle_rad), plane.side * math.sin(plane.angle_rad)
    return float(np.hypot(turned[:, 0], turned @ np.array([0.0, cosine, sine])).max())


@dataclass(frozen=True)
class ShoulderMoves:
    """How far the shoulder moves along the face, by what the blades differ in."""

    per_thickness: float
    per_angle_mm: float
    rise_per_thickness: float
    """How far the flank rises from the centre plane or the back for a millimetre of stock."""


def shoulder_moves(face: BevelFace, blade: Form) -> ShoulderMoves:
    r"""Of a flank that leans by φ to the centre plane, and moves parallel with the stock.

    The shoulder is where two lines meet. With h the flank's height over the edge at y = 0,
    :math:`b = h \cos\varphi / \sin(\beta - \varphi)`: a flank κ higher for each mm moves it by
    κ cos φ / sin(β - φ), and a face turned about its edge by -b / tan(β - φ) per radian.

    A face that bulges is flatter at its shoulder, σ, than at its edge, ε. Turned about its edge
    its length ρ (ε - σ) changes by ρ (1 - sin(ε - φ) / sin(σ - φ)) per radian.
    """
    if face.edge_angle_deg == 0.0:  # a flat back ends at the spine, whatever its thickness
        return ShoulderMoves(0.0, 0.0, 0.0)
    side = 1.0 if blade.form in ("single_bevel", "hook", "gouge") else 0.5
    if blade.form == "outline":  # each side by its share of the stock
        rise = face.flank_mm - face.corner_mm
        side = rise / (blade.thickness_mm - blade.edge_thickness_mm)
    flank = face.flank_rad
    angle = face.angle_rad - flank
    per_angle = -face.width_mm / math.tan(angle)
    if face.bulge is not None:
        angle = max(face.bulge.angle_rad(face.height_mm) - flank, math.radians(_FLATTEST_DEG))
        edge = math.radians(face.edge_angle_deg) - flank
        per_angle = face.bulge.radius_mm * (1 - math.sin(edge) / math.sin(angle))
    return ShoulderMoves(side * math.cos(flank) / math.sin(angle), per_angle, side)


_FLATTEST_DEG = 0.5
"""Where an arc runs out level into its flank, the shoulder has no place of its own; from here on
it is taken as sharp as a maker sees it. Common practice, no source."""


def share_in_tolerance(
    spreads: Sequence[FaceSpread], shortfalls_mm: Sequence[Sequence[float]]
) -> float:
    """Share of blades with every land in tolerance.

    The faces are touched off one by one, so they are taken as independent; what they share
    (thickness, wheel diameter) is small beside the depth errors.
    """
    return math.prod(s.share(short) for s, short in zip(spreads, shortfalls_mm, strict=True))


def most_helpful(
    spreads: Sequence[FaceSpread], shortfalls_mm: Sequence[Sequence[float]]
) -> list[tuple[str, float]]:
    """Each cause with the share in tolerance if it vanished, best first."""
    names = [c.name for c in spreads[0].causes]
    gains = [
        (name, share_in_tolerance([s.without(name) for s in spreads], shortfalls_mm))
        for name in names
    ]
    return sorted(gains, key=lambda item: -item[1])
