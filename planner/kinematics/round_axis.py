"""What stands round the axis of an arc, as the parts of a tool beside the contact meet it.

Blade, jaws and obstacles go round the axis and the tool does not: a place of the tool that stands x
beside the section plane, along the tangent, is √((ρ + z)² + x²) from the axis and not ρ + z. In the
plane beside the section, at x, what has the radius r in the section stands at √(r² - x²): on the
inside it is nearer to the tool by r - √(r² - x²), outside it falls away by as much (intersecting
chords, Euclid, Elements III.35). It is looked at slice by slice of x, and again beyond the axis.

A disc across the edge needs no slices on the inside. In a plane across the axis, its middle e from
the axis, none of its places is further from the axis than e + r, and that is the place at the
contact's own station: the section plane tells all. Only a disc that leans to the axis reaches out
further on its side towards the edge: a place n above its lowest, t = √(2 r n - n²) beside the
section, stands √(a² + t²) - a further out than a, what it would be from the axis in the section.
That is worked out with the wheel at the contact and at its highest lift.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from planner.inputs.machine import Machine
from planner.kinematics.edge_path import EdgeMotion
from planner.kinematics.obstacles import Obstacle
from planner.kinematics.tool_body import Corners, Part
from planner.kinematics.touch_frame import TouchFrame
from planner.section.work import FaceWork

Pairs = Callable[[Part, Obstacle], Iterator[tuple[Part, Obstacle]]]
"""What a part is to be kept clear of, for one obstacle: pairs as if all went straight along."""
Span = tuple[float, float]

_STEP_MM = 0.05
"""How much nearer a slice of x may take things than they are."""
_MOST_SLICES = 24
_LONGEST_MM = 0.25
"""Sides that rise are cut into pieces so long, so that their images are straight."""
_MOST_PIECES = 200


def as_they_stand(part: Part, obstacle: Obstacle) -> Iterator[tuple[Part, Obstacle]]:
    """Along a straight edge: the two themselves; the wheel may come to the blade."""
    if part.name != "wheel" or obstacle.kind != "blade":
        yield part, obstacle


def pairs_for(
    motion: EdgeMotion | None, machine: Machine, work: FaceWork, frame: TouchFrame
) -> Pairs:
    """What the parts of a set-up's tool meet, along its edge."""
    if motion is None:
        return as_they_stand
    radius = math.degrees(motion.mm_per_deg)
    outward = frame.cross_dir_yz[1], frame.infeed_dir_yz[1]
    lift = 2.0 * machine.fixture.clearance_mm + work.depth_mm
    reference = radius + frame.origin_yz_mm[1]
    return RoundAxis(
        radius_mm=radius,
        inside=motion.sign < 0.0,
        outward_uv=outward,
        contact_mm=radius - work.face.flank_mm,
        leans=work.face.angle_rad > 0.0,
        reference_mm=reference,
        lifted_mm=reference + min(lift * outward[1], 0.0),
    ).pairs


@dataclass(frozen=True)
class RoundAxis:
    """An axis, and how a tool stands to it."""

    radius_mm: float
    """Of the edge: the axis lies at z = -radius in the section."""
    inside: bool
    outward_uv: tuple[float, float]
    """The direction away from the axis, in the tool's own u and v."""
    contact_mm: float
    """From the axis to the lowest place of a wheel at the contact, on the inside."""
    leans: bool
    reference_mm: float
    """From the axis to the wheel's reference point at program zero."""
    lifted_mm: float
    """The same as near to the axis as the programs lift it."""

    def pairs(self, part: Part, obstacle: Obstacle) -> Iterator[tuple[Part, Obstacle]]:
        """See ``Pairs``."""
        touching = part.name == "wheel" and obstacle.kind == "blade"
        heights = [z + self.radius_mm for _, z in obstacle.outline_yz_mm]
        low, high = max(min(heights), 0.0), max(heights)
        # A disc lifted over the axis comes nearer to what is nearer to it than its own radius.
        flat_disc = self.inside and part.disc is not None and low >= part.disc[1]
        if part.disc is not None and flat_disc and not touching:
            # Where it reaches the same radius further on, its rim is higher up: at most a tangent.
            whole = -part.disc[1], part.disc[1]
            yield self._turned(part, whole, low, high), obstacle
            if self.leans:
                yield self._turned(self._leaning(part), whole, low, high), obstacle
        # Beyond the axis there is nothing to meet where the tool does not reach it.
        reaches = self._nearest_axis_mm(part) < self.contact_mm / 2.0
        if not reaches and (touching or flat_disc):
            return
        for span in _slices(part, low):
            first = 0.0 if span[0] <= 0.0 <= span[1] else min(abs(x) for x in span)
            last = max(abs(x) for x in span)
            if first >= high:
                continue
            shape = _beside(obstacle, self.radius_mm, first, min(last, high))
            there = self._turned(part, span, low, high)
            if not touching and not flat_disc:
                yield there, shape
            if reaches:
                # The same stands upside down there, half a turn on to either side.
                far = replace(shape, outline_yz_mm=_upside_down(shape, self.radius_mm))
                for half in (math.pi * self.radius_mm, -math.pi * self.radius_mm):
                    ends = half - there.x_to_mm, half - there.x_from_mm
                    yield replace(part, x_from_mm=ends[0], x_to_mm=ends[1]), far

    def _nearest_axis_mm(self, part: Part) -> float:
        """How far from the axis the part ends that way, in the section, at its highest lift."""
        u, v = self.outward_uv
        if part.outline_uv_mm:
            return self.lifted_mm + min(a * u + b * v for a, b in part.outline_uv_mm)
        return self.lifted_mm + part.centre_uv_mm[0] * u + part.centre_uv_mm[1] * v - part.radius_mm

    def _turned(self, part: Part, span: Span, low_mm: float, high_mm: float) -> Part:
        """A part whose span is that of the edge that turns past it, between two radii."""
        first, last = span
        return replace(
            part,
            x_from_mm=self._along(first, low_mm if first < 0.0 else high_mm),
            x_to_mm=self._along(last, low_mm if last > 0.0 else high_mm),
        )

    def _along(self, beside_mm: float, from_axis_mm: float) -> float:
        share = (
            beside_mm / from_axis_mm
            if from_axis_mm > abs(beside_mm)
            else math.copysign(1.0, beside_mm)
        )
        return self.radius_mm * math.asin(share)

    def _leaning(self, part: Part) -> Part:
        """How far a slab of a leaning disc reaches out on its side, its wall with it."""
        assert part.disc is not None
        axis, radius = part.disc
        u, v = self.outward_uv
        heights = [corner[1] for corner in part.outline_uv_mm]
        us = [corner[0] for corner in part.outline_uv_mm]
        wall = min(us) if u < 0.0 else max(us)
        points = []
        for height in (min(heights), max(heights)):
            up = height - (axis - radius)
            beside = math.sqrt(max(2.0 * radius * up - up * up, 0.0))
            points.append((wall, height))
            for reference in (self.reference_mm, self.lifted_mm):
                flat = max(reference + wall * u + height * v, 0.0)
                out = math.hypot(flat, beside) - flat
                points.append((wall + out * u, height + out * v))
        return replace(part, outline_uv_mm=_hull(points))


def _hull(points: list[tuple[float, float]]) -> Corners:
    import shapely  # noqa: PLC0415

    hull = shapely.buffer(shapely.MultiPoint(points).convex_hull, 1e-9, join_style="mitre")
    ring = shapely.get_coordinates(hull.exterior)[:-1].tolist()
    return tuple((u, v) for u, v in ring)


def _slices(part: Part, low_mm: float) -> Iterator[Span]:
    """The span of a part along the tangent, cut where what is beside comes nearer by a step."""
    first, last = part.x_from_mm, part.x_to_mm
    if first < 0.0 < last and part.disc is None and first != -last:
        yield from _slices(replace(part, x_to_mm=0.0), low_mm)
        yield from _slices(replace(part, x_from_mm=0.0), low_mm)
        return
    inner = 0.0 if first <= 0.0 <= last else min(abs(first), abs(last))
    outer = max(abs(first), abs(last))
    nearer = (outer * outer - inner * inner) / 2.0 / max(low_mm, 1.0)
    # A slab of a disc is solid, and as long as at its longest.
    count = 1 if part.disc is not None else min(max(math.ceil(nearer / _STEP_MM), 1), _MOST_SLICES)
    squares = [inner**2 + (outer**2 - inner**2) * n / count for n in range(count + 1)]
    for low, high in pairwise(math.sqrt(square) for square in squares):
        if first < 0.0 < last:
            if low == 0.0:
                yield -high, high
            else:
                yield -high, -low
                yield low, high
        else:
            yield (low, high) if last > 0.0 else (-high, -low)


@lru_cache(maxsize=512)
def _beside(obstacle: Obstacle, radius_mm: float, first_mm: float, last_mm: float) -> Obstacle:
    """All that an obstacle is in the planes from one distance beside the section to another."""
    import shapely  # noqa: PLC0415

    if last_mm == 0.0:
        return obstacle
    corners = _cut_small(obstacle.outline_yz_mm)

    def image(beside_mm: float) -> list[tuple[float, float]]:
        return [
            (y, math.sqrt(max((radius_mm + z) ** 2 - beside_mm**2, 0.0)) - radius_mm)
            for y, z in corners
            for z in [max(z, -radius_mm)]
        ]

    one, other = image(first_mm), image(last_mm)
    pieces = [shapely.buffer(shapely.Polygon(ring), 0.0) for ring in (one, other)]
    sides = zip(pairwise([*one, one[0]]), pairwise([*other, other[0]]), strict=True)
    for (a, b), (c, d) in sides:
        pieces.append(shapely.convex_hull(shapely.MultiPoint([a, b, c, d])))
    whole = shapely.union_all([p for p in pieces if shapely.area(p) > 0.0])
    outer = max(shapely.get_parts(whole), key=shapely.area).exterior
    ring = shapely.get_coordinates(outer)[:-1].tolist()
    return replace(obstacle, outline_yz_mm=tuple((y, z) for y, z in ring))


def _cut_small(corners: Corners) -> Corners:
    """The same outline with every side that rises in pieces."""
    points = []
    for (y, z), (to_y, to_z) in pairwise([*corners, corners[0]]):
        count = min(max(math.ceil(abs(to_z - z) / _LONGEST_MM), 1), _MOST_PIECES)
        points += [(y + (to_y - y) * n / count, z + (to_z - z) * n / count) for n in range(count)]
    return tuple(points)


def _upside_down(obstacle: Obstacle, radius_mm: float) -> Corners:
    return tuple((y, -2.0 * radius_mm - z) for y, z in obstacle.outline_yz_mm)
