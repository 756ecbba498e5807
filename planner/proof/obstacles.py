"""What no move may run into: the tool's own shapes swept along each move against each obstacle.

The proof's own arithmetic, from ``docs/frames.md`` and the files alone: the shape that a part
covers over a move is built and laid on the obstacle. A disc covers what lies within its radius of
its path; an outline, what lies in it at the start, at the end, or on the way of one of its sides.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely.affinity import affine_transform

from planner.inputs.in_the_way import Guard
from planner.proof.around import axis_below_mm, places_mm, planes
from planner.proof.case import Case
from planner.proof.faultlog import FaultLog
from planner.proof.forms import blade_side
from planner.proof.frame import KnownPlace
from planner.proof.operation import FACES
from planner.proof.rules import Rule
from planner.proof.target import Vector
from planner.proof.traverses import span_within

_SLACK_MM = 1e-6
"""What an overlap must pass: rounding in the last bits of a polygon."""
_FAR_MM = 1e4
_TURN_STEP_MM = 0.004
"""While the tilt turns, no point of the tool goes further than this between two looks; an overlap
of half as much may be passed over."""
_MOST_LOOKS = 20_000
"""A turn that grazes an obstacle for longer than this counts as running in."""
_SLICES = 48
_ARC_SEGMENTS = 64


@dataclass(frozen=True, eq=False)
class Thing:
    """An obstacle: its shape in the blade's section, and its span along the traverse."""

    name: str
    shape: shapely.Geometry
    low_mm: float
    high_mm: float
    rule: Rule
    wheel_may_touch: bool = False

    @cached_property
    def inner(self) -> shapely.Geometry:
        """The shape without a skin of the slack."""
        return shapely.buffer(self.shape, -_SLACK_MM, join_style="mitre")


@dataclass(frozen=True, eq=False)
class Body:
    """A part of the tool: a shape (u, v) about its reference point, or a disc about it."""

    name: str
    shape: shapely.Geometry | None
    radius_mm: float
    low_mm: float
    high_mm: float
    axis_mm: float | None = None
    """Of a whole disc across the edge: the height of its axis."""

    def cut(self, beside_mm: float) -> Body | None:
        """What a plane across the tangent, so far from the section, finds of it."""
        if self.axis_mm is None:
            return self
        half = math.sqrt(max(self.high_mm**2 - beside_mm**2, 0.0))
        low, high = self.axis_mm - half, self.axis_mm + half
        found = shapely.intersection(self.shape, shapely.box(-_FAR_MM, low, _FAR_MM, high))
        return replace(self, shape=found) if shapely.area(found) > 0.0 else None

    @cached_property
    def reach_mm(self) -> float:
        """Of its farthest point from the reference point."""
        if self.shape is None:
            return self.radius_mm
        return float(np.max(np.hypot(*shapely.get_coordinates(self.shape).T)))


class InTheWay:
    """Looks at every move of a program; what runs into something goes to the log."""

    def __init__(self, case: Case, log: FaultLog) -> None:
        self._case = case
        self._log = log
        bodies = bodies_of(case, whole=axis_below_mm(case) is not None)
        self._pairs = [
            pair for thing in things_of(case) for body in bodies for pair in _met(case, body, thing)
        ]
        self._turned: dict[tuple[Body, float], shapely.Geometry] = {}
        self._free: dict[tuple[Body, Thing], tuple[float, Vector, float]] = {}
        """Of each pair: a tilt, a place, and how far from there nothing is met at that tilt."""

    def move(self, line: int, start: KnownPlace, end: KnownPlace) -> None:
        """Fault a move on which a part of the tool enters an obstacle."""
        turns = start.tilt != end.tilt
        for body, thing in self._pairs:
            low = thing.low_mm - body.high_mm + _SLACK_MM
            high = thing.high_mm - body.low_mm - _SLACK_MM
            span = span_within(start.traverse, end.traverse, low, high)
            if span is None:
                continue
            if turns:
                overlap = self._over_turn(body, thing, start, end)
            else:
                centres = self._centre(start), self._centre(end)
                first, last = (_between(*centres, share) for share in span)
                overlap = self._over_straight(body, thing, first, last, end.tilt)
            if overlap is None:
                continue
            along = max(
                min(thing.high_mm - x - body.low_mm, x + body.high_mm - thing.low_mm)
                for x in (_mix(start.traverse, end.traverse, share) for share in (*span, 0.5))
            )
            self._log.add(
                line,
                thing.rule,
                obstacle=thing.name,
                part=body.name,
                overlap_mm=min(overlap, along) if along > 0 else overlap,
            )

    def _centre(self, place: KnownPlace) -> Vector:
        return self._case.frame.centre(place.cross, place.infeed, place.tilt)

    def _turned_anew(self, body: Body, tilt_deg: float) -> shapely.Geometry:
        """The shape of a part in the section at a tilt, its reference point at (0, 0)."""
        (a, d), (b, e) = self._case.frame.directions(tilt_deg)
        return affine_transform(body.shape, (a, b, d, e, 0.0, 0.0))

    def _at_rest(self, body: Body, tilt_deg: float) -> shapely.Geometry:
        """The same for a tilt that holds over a move: programs use few of them."""
        if (body, tilt_deg) not in self._turned:
            self._turned = {k: v for k, v in self._turned.items() if k[1] == tilt_deg}
            self._turned[body, tilt_deg] = self._turned_anew(body, tilt_deg)
        return self._turned[body, tilt_deg]

    def _over_straight(
        self, body: Body, thing: Thing, first: Vector, last: Vector, tilt_deg: float
    ) -> float | None:
        """How far a part runs in while it goes straight across the edge; None where it does not."""
        tilt, place, free = self._free.get((body, thing), (math.nan, first, 0.0))
        if tilt == tilt_deg and max(math.dist(place, first), math.dist(place, last)) < free:
            return None
        overlap = self._run_in(body, thing, first, last, tilt_deg)
        if overlap is None:
            free = self._away(body, thing, last, tilt_deg) - _SLACK_MM
            self._free[body, thing] = (tilt_deg, last, free)
        return overlap

    def _away(self, body: Body, thing: Thing, centre: Vector, tilt_deg: float) -> float:
        """Distance of a part from an obstacle, both at rest."""
        if body.shape is None:
            return float(shapely.distance(shapely.Point(centre), thing.shape)) - body.radius_mm
        there = affine_transform(self._at_rest(body, tilt_deg), (1.0, 0.0, 0.0, 1.0, *centre))
        return float(shapely.distance(there, thing.shape))

    def _run_in(
        self, body: Body, thing: Thing, first: Vector, last: Vector, tilt_deg: float
    ) -> float | None:
        path = shapely.LineString([first, last]) if first != last else shapely.Point(first)
        distance = float(shapely.distance(path, thing.shape))
        if distance >= body.reach_mm - _SLACK_MM:
            return None
        if body.shape is None:
            return body.radius_mm - distance
        shape = self._at_rest(body, tilt_deg)
        low_y, low_z, high_y, high_z = shapely.bounds(shape)
        ends_y, ends_z = sorted((first[0], last[0])), sorted((first[1], last[1]))
        box = shapely.box(
            ends_y[0] + low_y, ends_z[0] + low_z, ends_y[1] + high_y, ends_z[1] + high_z
        )
        if not shapely.intersects(box, thing.shape):
            return None
        return _shared(_swept(shape, first, last), thing)

    def _over_turn(
        self, body: Body, thing: Thing, start: KnownPlace, end: KnownPlace
    ) -> float | None:
        """The same of a move that turns the tilt, by steps as long as the way left free allows.

        The frame turns about its pivot, so no point of the tool goes further than the angle
        times its distance from there, and what the axes move beside.
        """
        from_pivot = self._case.frame.from_pivot_mm
        reach = body.reach_mm + max(
            math.hypot(*from_pivot(p.cross, p.infeed)) for p in (start, end)
        )
        length = math.radians(abs(end.tilt - start.tilt)) * reach + sum(
            abs(b - a) for a, b in zip(start[:3], end[:3], strict=True)
        )
        share = 0.0
        for _ in range(_MOST_LOOKS):
            place = KnownPlace(*(_mix(a, b, share) for a, b in zip(start, end, strict=True)))
            apart = max(
                place.traverse + body.low_mm - thing.high_mm,
                thing.low_mm - place.traverse - body.high_mm,
            )
            centre = self._centre(place)
            if body.shape is None:
                across = float(shapely.distance(shapely.Point(centre), thing.shape))
                across -= body.radius_mm
                if apart < -_SLACK_MM and across < -_SLACK_MM:
                    return -across
            else:
                shape = self._turned_anew(body, place.tilt)
                there = affine_transform(shape, (1.0, 0.0, 0.0, 1.0, *centre))
                across = float(shapely.distance(there, thing.shape))
                if apart < -_SLACK_MM and across == 0.0:
                    shared = _shared(there, thing)
                    if shared is not None:
                        return shared
            if share >= 1.0:
                return None
            share = min(share + max(across, apart, _TURN_STEP_MM) / length, 1.0)
        return 0.0


def _met(case: Case, body: Body, thing: Thing) -> Iterator[tuple[Body, Thing]]:
    """A part and a thing as they stand along the edge; round an axis, plane by plane beside it."""
    allowed, below = thing.wheel_may_touch and body.name == "wheel", axis_below_mm(case)
    if below is None:
        if not allowed:
            yield body, thing
        return
    for beside in places_mm(body.low_mm, body.high_mm):
        cut = body.cut(beside)
        if cut is None:
            continue
        for plane in planes(thing.shape, below, beside):
            if allowed and not plane.beyond:
                continue
            there = replace(thing, shape=plane.shape)
            yield replace(cut, low_mm=plane.low_mm, high_mm=plane.high_mm), there


def _mix(start: float, end: float, share: float) -> float:
    return start + share * (end - start)


def _between(start: Vector, end: Vector, share: float) -> Vector:
    if start == end:
        return end
    return _mix(start[0], end[0], share), _mix(start[1], end[1], share)


def _swept(shape: shapely.Geometry, first: Vector, last: Vector) -> shapely.Geometry:
    """All that an outline covers on a straight way without turning."""
    at_first = affine_transform(shape, (1.0, 0.0, 0.0, 1.0, *first))
    if first == last:
        return at_first
    at_last = affine_transform(shape, (1.0, 0.0, 0.0, 1.0, *last))
    corners = shapely.get_coordinates(shape)
    covered = [at_first, at_last]
    for one, other in pairwise(corners):
        ends = [one + first, other + first, one + last, other + last]
        covered.append(shapely.convex_hull(shapely.MultiPoint(ends)))
    return shapely.union_all([c for c in covered if shapely.area(c) > 0.0])


def _shared(covered: shapely.Geometry, thing: Thing) -> float | None:
    """Width of what two shapes have in common; None where that is nothing but a touch."""
    if not shapely.intersects(covered, thing.inner):
        return None
    around = shapely.oriented_envelope(shapely.intersection(covered, thing.shape))
    corners = shapely.get_coordinates(around)
    sides = [math.dist(a, b) for a, b in pairwise(corners[:3])]
    return max(min(sides, default=0.0), _SLACK_MM)


# -- what stands there ---------------------------------------------------------------------------


def things_of(case: Case) -> Iterator[Thing]:
    """Jaws and blades lie with the blades; everything else stays where the fixture has it."""
    fixture, length = case.machine.fixture, case.edge_length_mm
    jaws = fixture.jaws
    empty = {number for number, _, _ in case.row.empty}
    positions = [0.0] if fixture.row is None else fixture.row.positions_mm
    first, last = 0.0, length
    followed = case.followed
    if followed is not None and followed.turn_sign is not None:
        followed = None
    if followed is not None:
        # The zero of the traverse is at the anchor.
        first, last = followed.traverse_span_mm
    for number, position in enumerate(positions, start=1):
        low, high = position + first, position + last
        if jaws is not None:
            # An empty station has its clamp too.
            flanks = [blade_side(case.job.blade.section, name).proud_mm for name in FACES]
            above, below = (flank + jaws.above_flank_mm for flank in flanks)
            block = shapely.box(jaws.from_edge_mm, -below, _FAR_MM, above)
            past = jaws.past_ends_mm
            yield Thing("jaws", block, low - past, high + past, Rule.JAWS)
        if followed is not None:
            for shape, begins, ends in followed.slices():
                yield Thing("blade", shape, begins, ends, Rule.OBSTACLE, wheel_may_touch=True)
        elif number not in empty:
            yield Thing("blade", case.blank, low, high, Rule.OBSTACLE, wheel_may_touch=True)
    if case.face.name == "A" or fixture.flip == "by_tilt":
        turned = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    elif fixture.flip == "end_for_end":
        turned = (1.0, 0.0, 0.0, -1.0, 0.0, 0.0)
    else:
        turned = (-1.0, 0.0, 0.0, -1.0, 2.0 * (fixture.turn_line_mm or 0.0), 0.0)
    for named in fixture.obstacles or ():
        shape = affine_transform(shapely.Polygon(named.outline_mm), turned)
        span = named.from_mm + first, named.to_mm + first
        yield Thing(named.name, shape, *span, Rule.OBSTACLE)


# -- what moves ------------------------------------------------------------------------------------


def bodies_of(case: Case, *, whole: bool = False) -> list[Body]:
    """The wheel, its flanges, the guard, and what else the machine file names of the head."""
    machine, wheel = case.machine, case.wheel
    half, flange = wheel.width_mm / 2.0, wheel.flange
    axis = 0.0
    bodies: list[Body] = []
    if wheel.contact == "along_edge":
        bodies.append(Body("wheel", None, case.at_speed.radius_mm, -half, half))
        if flange is not None:
            beside = flange.width_mm / 2.0
            bodies.append(Body("flange", None, flange.diameter_mm / 2.0, -beside, beside))
    elif wheel.contact == "across_edge":
        form, radius = wheel.form_radius_mm or 0.0, wheel.diameter_mm / 2.0
        axis = radius - form
        rim = shapely.box(-half, -form, half, axis + radius)
        if form > 0.0:
            arc = shapely.buffer(shapely.Point(0.0, 0.0), form, quad_segs=_ARC_SEGMENTS)
            above = shapely.box(-form, 0.0, form, axis + radius)
            rim = shapely.intersection(rim, shapely.union(arc, above))
        bodies += _disc("wheel", rim, axis, radius, whole=whole)
        if flange is not None:
            beside, radius = flange.width_mm / 2.0, flange.diameter_mm / 2.0
            disc = shapely.box(-beside, axis - radius, beside, axis + radius)
            bodies += _disc("flange", disc, axis, radius, whole=whole)
    elif wheel.platen is not None:
        block = shapely.box(-half, 0.0, half, wheel.diameter_mm)
        bodies.append(
            Body("wheel", block, 0.0, -wheel.platen.length_mm / 2.0, wheel.platen.length_mm / 2.0)
        )
    carried: list[tuple[str, Guard]] = [(part.name, part) for part in machine.head or ()]
    if machine.guard is not None:
        carried.insert(0, ("guard", machine.guard))
    for name, part in carried:
        shape = shapely.Polygon([(u, v + axis) for u, v in part.outline_mm])
        bodies.append(Body(name, shape, 0.0, part.from_mm, part.to_mm))
    return bodies


def _disc(
    name: str, shape: shapely.Geometry, axis: float, radius: float, *, whole: bool
) -> Iterator[Body]:
    """A disc whose axis lies in the section, slice by slice, each as long as at its longest."""
    if whole:
        yield Body(name, shape, 0.0, -radius, radius, axis)
        return
    for n in range(_SLICES):
        low, high = (axis + radius * (2.0 * k / _SLICES - 1.0) for k in (n, n + 1))
        nearest = max(low - axis, axis - high, 0.0)
        reach = math.sqrt(max(radius * radius - nearest * nearest, 0.0))
        slab = shapely.intersection(shape, shapely.box(-_FAR_MM, low, _FAR_MM, high))
        if shapely.area(slab) > 0.0:
            yield Body(name, slab, 0.0, -reach, reach)
