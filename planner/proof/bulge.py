"""A bevel that bulges, ground from the bar: what each of its set-ups has to leave.

The proof's own geometry, from ``docs/operations.md`` and the job alone. A flat wheel leaves the
tangents of the arc at the tilts that exist; a round one lines that touch it from outside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.proof.axes import held_tilt_deg
from planner.proof.forms import Side, arc_points, blade_side
from planner.proof.frame import touch_frame
from planner.proof.operation import (
    FACES,
    SetupName,
    above_plane,
    bar_section,
    bevel_height_mm,
    has_bevel,
    setup_names,
)
from planner.proof.steel import Floats
from planner.proof.sweep import MOST_SWEPT
from planner.proof.target import Face, FaceName, ImpossibleError, blade_face, bulging_plane

MOST_FLATS = 9
"""More clampings than this nobody makes for one face. Common practice, no source."""
_ALIKE_RAD = 1e-9
_NO_STEEL_MM = 1e-6
_ON_PLANE_MM = 1e-9
_FAR_MM = 1e3


@dataclass(frozen=True, eq=False)
class FlatGoal:
    """One of the tangents that stand for the arc."""

    plane: Face
    """As far as it is ground, before the next one."""
    depth_mm: float
    """From the corner of the steel before it."""
    first_rad: float
    """Angles to the centre plane of the edge and of this flat: between them the arc is done, or
    to the shoulder if this is the last."""
    last_rad: float
    makes_edge: bool


@dataclass(frozen=True, eq=False)
class BulgeGoal:
    """The whole arc in lines."""

    plane: Face
    """The plane that touches the arc half way between its two angles."""
    rise_mm: float
    """From it to the corner of the stock."""
    depth_mm: float
    """From the corner to the lowest point of the wheel where it comes deepest."""
    corner_mm: float
    """Place of the corner along the plane."""
    first_rad: float
    last_rad: float
    makes_edge: bool
    """Always: its first line touches the edge."""
    finished: shapely.Geometry
    """The section with this face done."""
    side: Side
    wheel_mm: float

    def above(self, depth_mm: float) -> shapely.Polygon:
        """Everything outside the arc when the wheel has come so deep: moved along the normal."""
        raised = self.depth_mm - depth_mm
        (y, w), sign = self.side.centre, _sign(self.plane.name)
        radius = self.plane.radius_mm or 0.0
        up = self.plane.normal
        ends = (math.pi / 2.0 + self.first_rad, math.pi / 2.0 + self.last_rad)
        arc = arc_points((y, w), radius, *ends)
        # Prolonged at both ends by its tangents.
        before, beyond = self.first_rad, self.last_rad
        arc.insert(0, _ahead(arc[0], before, -_FAR_MM))
        arc.append(_ahead(arc[-1], beyond, _FAR_MM))
        moved = [(a + raised * up[0], sign * b + raised * up[1]) for a, b in arc]
        far = 10.0 * _FAR_MM
        over = [(a + far * up[0], b + far * up[1]) for a, b in (moved[-1], moved[0])]
        return shapely.Polygon([*moved, *over])

    def beyond_mm(self, centre: tuple[float, float]) -> float:
        """How far the wheel's circle comes into the steel that must stay; below 0 outside it."""
        return self.wheel_mm - float(shapely.distance(shapely.Point(centre), self.finished))


def ridge_mm(job: Job) -> float | None:
    """Height that the ridges over a bulging bevel may have; None where none is ground."""
    return next((o.ridge_mm for o in job.operations or () if o.do == "bevel"), None)


def bulge_setups(job: Job, machine: Machine) -> list[str]:
    """The names of a job's set-ups; every flat of a bevel that bulges is one.

    Raises: ImpossibleError where no flats stand for the arc.
    """
    if ridge_mm(job) is None:
        return setup_names(job)
    names = setup_names(job, {name: len(_turns(job, machine, name)) for name in FACES})
    if is_swept(job, machine):
        # Face by face: the tilt goes over one of them in one program.
        names.sort(key=lambda name: name[6] if name.startswith("bevel-") else "C")
    return names


def bulge_goal(
    job: Job, machine: Machine, setup: SetupName, wheel: Wheel, radius_mm: float | None
) -> FlatGoal | BulgeGoal | None:
    """What a set-up has to leave of a bevel that bulges; None of any other, a flat one beside it.

    ``radius_mm`` is that of the wheel's arc in the section; None of a flat one.
    Raises: ImpossibleError where the wheel or the machine cannot.
    """
    ridge, name = ridge_mm(job), setup.face
    side = blade_side(job.blade.section, name)
    if ridge is None or setup.operation != "bevel" or side.radius_mm is None:
        return None
    if _is_flat(wheel) != _is_flat(_bevel_wheel(job, machine)):
        raise ImpossibleError("the bevel is planned for a wheel of another shape")
    steel = bulge_before(job, machine, setup.text)
    if radius_mm is not None:
        return _in_lines(job, name, steel, radius_mm)
    flats = _flats(job, machine, name)
    index = max(setup.stage, 1) - 1
    if index >= len(flats):
        raise ImpossibleError(f"a flat {index + 1} of {len(flats)}")
    return _flat_goal(side, name, flats, index, steel)


def swept_goals(
    job: Job, machine: Machine, setup: SetupName
) -> list[tuple[FlatGoal, shapely.Polygon]]:
    """Every flat of a face whose tilt is swept, and the section that it begins on."""
    steel, name = bulge_before(job, machine, setup.text), setup.face
    side, flats = blade_side(job.blade.section, name), _flats(job, machine, name)
    found = []
    for index in range(len(flats)):
        goal = _flat_goal(side, name, flats, index, steel)
        found.append((replace(goal, makes_edge=index in (0, len(flats) - 1)), steel))
        steel = shapely.difference(steel, above_plane(goal.plane, 0.0))
    return found


def is_swept(job: Job, machine: Machine) -> bool:
    """Whether one program turns the tilt from flat to flat about an axis whose place is known."""
    tilts = any(axis.role == "tilt" for axis in machine.axes.values())
    flat = ridge_mm(job) is not None and _is_flat(_bevel_wheel(job, machine))
    along = job.blade.edge.path == "straight"
    return machine.fixture.tilt_axis is not None and tilts and flat and along


def _flat_goal(
    side: Side, name: FaceName, flats: Sequence[float], index: int, steel: shapely.Polygon
) -> FlatGoal:
    """One of a face's flats, ground into what those before it left."""
    assert side.radius_mm is not None
    first, last = side.bevel_rad, side.bevel_rad - side.width_mm / side.radius_mm
    plane = _tangent(side, name, flats[index])
    depth = -_shallowest_mm(steel, plane)
    left = shapely.difference(steel, above_plane(plane, 0.0))
    places = _on_plane(left, plane)
    if len(places) < 2:
        raise ImpossibleError("a flat that leaves no face")
    low, high = float(places.min()), float(places.max())
    ends = plane.point(low, 0.0), plane.point(high, 0.0)
    done = last if index == len(flats) - 1 else flats[index]
    return FlatGoal(
        replace(plane, width_mm=high - low, start_mm=low, ends=ends),
        depth,
        first,
        done,
        makes_edge=index == 0,
    )


def bulge_before(job: Job, machine: Machine, setup: str) -> shapely.Polygon:
    """The section before a set-up of a bevel that bulges, every one before it at its target."""
    names = bulge_setups(job, machine)
    if setup not in names:
        raise ImpossibleError(f"a set-up {setup}")
    before = names[: names.index(setup)]
    finished: list[FaceName] = []
    begun: list[Face] = []
    for name in FACES:
        turns = _turns(job, machine, name)
        done = sum(each.startswith(f"bevel-{name}") for each in before)
        if done == len(turns):
            finished.append(name)
        else:
            begun += [plane for plane in turns[:done] if plane is not None]
    steel: shapely.Geometry = bar_section(job, *finished)
    for plane in begun:
        steel = shapely.difference(steel, above_plane(plane, 0.0))
    assert isinstance(steel, shapely.Polygon)
    return steel


def _turns(job: Job, machine: Machine, name: FaceName) -> tuple[Face | None, ...]:
    """The plane that each set-up of a face's bevel leaves; None where one leaves the whole arc.

    Raises: ImpossibleError where no such planes are.
    """
    side, flat = blade_side(job.blade.section, name), _is_flat(_bevel_wheel(job, machine))
    if not has_bevel(job, name):
        return ()
    if side.radius_mm is not None:
        if not flat or is_swept(job, machine):
            return (None,)
        return tuple(_tangent(side, name, angle) for angle in _flats(job, machine, name))
    if not flat:
        raise ImpossibleError("a flat bevel beside one in lines, by the same wheel")
    face, count = blade_face(job, name), max(job.bevel_stages, 1)
    heights = [bevel_height_mm(job, face, stage) for stage in range(1, count + 1)]
    return tuple(face.lifted(height) for height in heights)


def _flats(job: Job, machine: Machine, name: FaceName) -> tuple[float, ...]:
    """Angles to the centre plane of a face's flats: the fewest whose ridges are low enough.

    Evenly turned from edge to shoulder, each at the nearest tilt that exists.
    """
    side, ridge = blade_side(job.blade.section, name), ridge_mm(job)
    assert side.radius_mm is not None
    assert ridge is not None
    first, last = side.bevel_rad, side.bevel_rad - side.width_mm / side.radius_mm
    most = ridge * (1.0 + 1e-9)
    count_most = MOST_SWEPT if is_swept(job, machine) else MOST_FLATS
    for count in range(2, count_most + 1):
        even = [first + (last - first) * n / (count - 1) for n in range(count)]
        held: list[float] = []
        for angle in even:
            nearest = held_rad(machine, name, angle)
            if nearest > _ALIKE_RAD and not (held and held[-1] - nearest < _ALIKE_RAD):
                held.append(nearest)
        if held and _highest_mm(held, first, last, side.radius_mm) <= most:
            return _cutting(job, side, name, held)
    raise ImpossibleError(f"no {count_most} flats at tilts that exist keep the ridges low enough")


def _highest_mm(flats: Sequence[float], first: float, last: float, radius_mm: float) -> float:
    """The highest that tangents at these angles stand over the arc between its two angles."""
    corners = [(a - b) / 2.0 for a, b in pairwise(flats)]
    shoulder = abs(flats[-1] - last)
    if abs(last) < _ALIKE_RAD:
        # The flank touches the arc where that runs out level.
        shoulder = min(shoulder, flats[-1] / 2.0)
    widest = max(*corners, abs(flats[0] - first), shoulder)
    return radius_mm / math.cos(widest) - radius_mm


def _cutting(job: Job, side: Side, name: FaceName, flats: Sequence[float]) -> tuple[float, ...]:
    """Those of the flats that find steel, each after those before it."""
    steel: shapely.Geometry = bar_section(job)
    found = []
    for angle in flats:
        plane = _tangent(side, name, angle)
        if -_shallowest_mm(steel, plane) >= _NO_STEEL_MM:
            found.append(angle)
            steel = shapely.difference(steel, above_plane(plane, 0.0))
    return tuple(found)


def _tangent(side: Side, name: FaceName, angle_rad: float) -> Face:
    """The plane at an angle to the centre plane that is the radius away from the arc's middle."""
    (y, w), sign = side.centre, _sign(name)
    at_edge = w - y * math.tan(angle_rad) + (side.radius_mm or 0.0) / math.cos(angle_rad)
    return Face(
        name=name,
        bevel_rad=angle_rad,
        corner=(0.0, sign * at_edge),
        along=(math.cos(angle_rad), sign * math.sin(angle_rad)),
        normal=(-math.sin(angle_rad), sign * math.cos(angle_rad)),
        width_mm=0.0,
    )


def _in_lines(job: Job, name: FaceName, steel: shapely.Polygon, wheel_mm: float) -> BulgeGoal:
    side = blade_side(job.blade.section, name)
    radius = side.radius_mm or 0.0
    first, last = side.bevel_rad, side.bevel_rad - side.width_mm / radius
    plane = bulging_plane(side, name, (first + last) / 2.0)
    corner = (0.0, _sign(name) * side.stock_mm)
    rise = -plane.depth_mm(corner)
    # The middle of the arc lies a radius below the plane that touches it. The wheel comes deepest
    # where its own middle does: at one of the ends, or straight over the arc's.
    turned = max(first - last, 0.0) / 2.0
    deepest = rise + (radius + wheel_mm) * (1.0 - math.cos(turned))
    return BulgeGoal(
        plane=plane,
        rise_mm=rise,
        depth_mm=deepest,
        corner_mm=plane.place_mm(corner),
        first_rad=first,
        last_rad=last,
        makes_edge=True,
        finished=shapely.intersection(bar_section(job, name), steel),
        side=side,
        wheel_mm=wheel_mm,
    )


def held_rad(machine: Machine, name: FaceName, angle_rad: float) -> float:
    """The angle of the face that the tilt nearest to its own lays along the cross."""

    def frame_of(bevel_rad: float) -> tuple[float, float]:
        face = Face(name, bevel_rad, (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), 1.0)
        frame = touch_frame(face, machine.fixture.flip, 1.0, 0.0, 0.0)
        return frame.ideal_tilt_deg, held_tilt_deg(machine, frame)

    ideal, held = frame_of(angle_rad)
    more = frame_of(angle_rad + math.radians(1.0))[0] - ideal
    return angle_rad + math.radians((held - ideal) / more)


def _shallowest_mm(steel: shapely.Geometry, plane: Face) -> float:
    """Least depth of the steel below a plane; below 0 above it."""
    points = shapely.get_coordinates(steel) - np.array(plane.corner)
    return float((-(points @ np.array(plane.normal))).min())


def _on_plane(steel: shapely.Geometry, plane: Face) -> Floats:
    """Places along a plane of the corners that lie on it, shape (n,)."""
    points = shapely.get_coordinates(steel) - np.array(plane.corner)
    on = np.abs(points @ np.array(plane.normal)) < _ON_PLANE_MM
    found: Floats = (points @ np.array(plane.along))[on]
    return found


def _bevel_wheel(job: Job, machine: Machine) -> Wheel:
    name = next(o.wheel for o in job.operations or () if o.do == "bevel")
    wheel = next((w for w in machine.rack if w.name == name), None)
    if wheel is None:
        raise ImpossibleError(f"a wheel {name} in the rack")
    return wheel


def _is_flat(wheel: Wheel) -> bool:
    return wheel.contact != "along_edge" and wheel.form_radius_mm is None


def _sign(name: FaceName) -> float:
    return 1.0 if name == "A" else -1.0


def _ahead(point: tuple[float, float], angle_rad: float, by_mm: float) -> tuple[float, float]:
    return point[0] + by_mm * math.cos(angle_rad), point[1] + by_mm * math.sin(angle_rad)
