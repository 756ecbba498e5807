"""What the proof saw, to be drawn: of each pass the wheel, the steel taken, the section, the time.

All of it comes from the bytes of the programs, through the interpreter and the steel removal of
the proof. Nothing here decides anything.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely

from planner.proof.case import Case
from planner.proof.clock import Clock
from planner.proof.obstacles import Body, bodies_of, things_of
from planner.proof.steel import Floats, rings_of
from planner.proof.target import Face, Vector
from planner.proof.tool import RoundTool, Tool, crown_of
from planner.proof.verdict import Cut, PathPoint, Trail, Verdict

Ring = tuple[Vector, ...]
"""Corners of an outline in order; the last is joined to the first."""

DRAWN_MM = 5e-5
"""How far a drawn outline may be off the one that was measured."""
_NO_AREA_MM2 = 1e-8
_WHISKER_MM = 1e-6
"""Where two sections have a side in common, rounding leaves whiskers thinner than this."""
_AROUND_MM = 100.0
"""How far round the blade what stands in the way is drawn."""
_FINE_MM = 3.0
"""How high over its lowest point a round wheel is drawn finely."""
_COARSE = 12
_ROUND_POINTS = 96
_CROWN_POINTS = 17


@dataclass(frozen=True)
class SeenPass:
    """One pass over the middle of the edge; of a row, of its first blade."""

    number: int
    commanded_mm: float
    reached_mm: float | None
    """Below the plane at zero; None where it finds no steel."""
    normal_force_n: float
    removed_area_mm2: float
    wheel_yz_mm: Vector
    """Where the wheel's reference point stands, what gives way taken off."""
    cross_dir_yz: Vector
    infeed_dir_yz: Vector
    cut: tuple[Ring, ...]
    """The steel that it takes."""
    left: tuple[Ring, ...]
    """The section that it leaves, every set-up before taken off too."""
    traverse_mm: tuple[float, float]
    """From where to where the wheel's middle plane goes."""
    begins_s: float
    ends_s: float
    """Since the start of the program; what a person does at a stop takes no time."""


@dataclass(frozen=True)
class SeenPart:
    """A part of the tool about its reference point, seen along the edge and across it."""

    name: str
    along_edge_uv_mm: tuple[Ring, ...]
    across_edge_xv_mm: tuple[Ring, ...]


@dataclass(frozen=True)
class SeenThing:
    """What a part of the tool may not run into, and from where to where along the traverse."""

    name: str
    outline_yz_mm: tuple[Ring, ...]
    traverse_mm: tuple[float, float]


@dataclass(frozen=True)
class Seen:
    """One cutting program."""

    setup: str
    face: Face
    """The finished face, to lay the section flat on."""
    origin_yz_mm: Vector
    """The wheel's reference point at program zero."""
    reach_mm: float
    """How far from its middle plane the wheel touches along the edge."""
    x_at_zero_mm: float
    x_per_traverse: float
    laid_straight: bool
    """Whether the edge runs along an arc; its places along the traverse are then along that arc."""
    wheel_uv_mm: Ring
    """The wheel's own outline."""
    before: tuple[Ring, ...]
    passes: tuple[SeenPass, ...]
    parts: tuple[SeenPart, ...]
    things: tuple[SeenThing, ...]
    whole_s: float
    """The whole program."""
    wanted_lands_mm: tuple[float, float] | None
    """Edge land and shoulder land wanted; None of a bevel."""
    land_tolerance_mm: float


def look(verdicts: Sequence[Verdict]) -> list[Seen]:
    """What was seen of each cutting program, in the order in which they are ground.

    Each set-up is proved on the steel that those before it have to leave. Here it stands on what
    they did leave.
    """
    found: list[Seen] = []
    so_far: shapely.Geometry | None = None
    for verdict in verdicts:
        if verdict.trail is None:
            continue
        found.append(_seen(verdict, verdict.trail, so_far))
        last = verdict.cuts[-1].after if verdict.cuts else verdict.trail.blank
        so_far = _with(last, so_far)
    return found


def _with(steel: shapely.Geometry, so_far: shapely.Geometry | None) -> shapely.Geometry:
    return steel if so_far is None else shapely.intersection(steel, so_far)


class _Read(NamedTuple):
    """One pass as read back."""

    number: int
    line: int
    cuts: Sequence[Cut]
    way: Sequence[PathPoint]
    """Where it starts, and where each of its blocks along the edge ends."""
    after: shapely.Geometry


def _seen(verdict: Verdict, trail: Trail, so_far: shapely.Geometry | None) -> Seen:
    case, clock = trail.case, Clock(trail.events, trail.case)
    wanted = case.relief
    return Seen(
        setup=verdict.setup,
        face=case.finished,
        origin_yz_mm=case.frame.origin,
        reach_mm=case.reach_mm,
        x_at_zero_mm=case.frame.x_at_zero_mm,
        x_per_traverse=case.frame.x_per_traverse,
        laid_straight=case.turned is not None or case.followed is not None,
        wheel_uv_mm=_drawn(case.tool),
        before=outlines(_with(trail.blank, so_far)),
        passes=tuple(_pass(case, clock, read, so_far) for read in _reads(verdict, trail)),
        parts=tuple(_parts(case)),
        things=tuple(_things(case)),
        whole_s=clock.whole_s,
        wanted_lands_mm=(wanted.edge_land_mm, wanted.shoulder_land_mm) if wanted else None,
        land_tolerance_mm=case.job.relief.land_tolerance_mm,
    )


def _reads(verdict: Verdict, trail: Trail) -> Iterator[_Read]:
    """Every pass with what of the program's motion and contacts stands below its claim."""
    lines = [claim.line for claim in trail.passes]
    cuts: list[list[Cut]] = [[] for _ in lines]
    for cut in verdict.cuts:
        if (index := bisect_right(lines, cut.first_line) - 1) >= 0:
            cuts[index].append(cut)
    ways: list[list[PathPoint]] = [[] for _ in lines]
    for here, there in pairwise(verdict.positions):
        index = bisect_right(lines, there.line) - 1
        if index >= 0 and not there.rapid and here.traverse_mm != there.traverse_mm:
            ways[index] += [there] if ways[index] else [here, there]
    after = trail.blank
    for index, line in enumerate(lines):
        if cuts[index]:
            after = cuts[index][-1].after
        yield _Read(trail.first_pass + index, line, cuts[index], ways[index], after)


def _pass(case: Case, clock: Clock, read: _Read, so_far: shapely.Geometry | None) -> SeenPass:
    if case.sweep is not None and read.way:
        case = case.sweep.at_tilt(read.way[-1].tilt_deg)
    wheel, tilt_deg, commanded = _stand(case, read)
    cross_dir, infeed_dir = case.frame.directions(tilt_deg)
    taken = [shapely.difference(cut.before, cut.after) for cut in read.cuts]
    ends = read.way[-1].line if read.way else read.line
    return SeenPass(
        number=read.number,
        commanded_mm=commanded,
        reached_mm=read.cuts[-1].reached_depth_mm if read.cuts else None,
        normal_force_n=max((cut.normal_force_n for cut in read.cuts), default=0.0),
        removed_area_mm2=sum(cut.removed_area_mm2 for cut in read.cuts),
        wheel_yz_mm=wheel,
        cross_dir_yz=cross_dir,
        infeed_dir_yz=infeed_dir,
        cut=outlines(_with(shapely.union_all(taken), so_far)) if taken else (),
        left=outlines(_with(read.after, so_far)),
        traverse_mm=(read.way[0].traverse_mm, read.way[-1].traverse_mm) if read.way else (0.0, 0.0),
        begins_s=clock.after_line(read.line),
        ends_s=clock.after_line(ends),
    )


def _stand(case: Case, read: _Read) -> tuple[Vector, float, float]:
    """Where the wheel stands, its tilt, and how deep it was sent.

    One that finds no steel stands where it was sent.
    """
    if read.cuts:
        cut = read.cuts[-1]
        back = max(cut.commanded_depth_mm - cut.reached_depth_mm, 0.0)
        (y, z), (normal_y, normal_z) = cut.stand.centre, case.face.normal
        wheel = (y + back * normal_y, z + back * normal_z)
        return wheel, cut.stand.tilt_deg, cut.commanded_depth_mm
    if not read.way:
        return case.frame.origin, case.fixed_tilt_deg, 0.0
    last = read.way[-1]
    wheel = case.frame.centre(last.cross_mm, last.infeed_mm, last.tilt_deg)
    return wheel, last.tilt_deg, case.depth_at_mm(wheel)


def outlines(shape: shapely.Geometry) -> tuple[Ring, ...]:
    """The outer ring of each part of a shape, within ``DRAWN_MM``; slivers are left out."""
    found = []
    for part in shapely.get_parts(shapely.set_precision(shape, _WHISKER_MM)):
        if part.geom_type != "Polygon" or part.area < _NO_AREA_MM2:
            continue
        simpler = shapely.simplify(part, DRAWN_MM)
        found += [_ring(ring) for ring in rings_of(simpler)]
    return tuple(found)


def _ring(points: Floats) -> Ring:
    """Corners without the last, which is the first again."""
    return tuple((float(a), float(b)) for a, b in points[:-1])


def _drawn(tool: Tool) -> Ring:
    """The wheel's outline; of a round one the far side in longer chords."""
    points = tool.outline_uv_mm(DRAWN_MM)
    if isinstance(tool, RoundTool):
        near = points[:, 1] < points[:, 1].min() + _FINE_MM
        points = points[near | (np.arange(len(points)) % _COARSE == 0)]
    return tuple((float(u), float(v)) for u, v in points)


def _parts(case: Case) -> list[SeenPart]:
    """Every part of the tool once, its slices put together."""
    bodies: dict[str, list[Body]] = {}
    for body in bodies_of(case):
        bodies.setdefault(body.name, []).append(body)
    return [
        SeenPart(
            name,
            outlines(shapely.union_all([_seen_along(body) for body in slices])),
            _seen_across(case, slices),
        )
        for name, slices in bodies.items()
    ]


def _seen_along(body: Body) -> shapely.Geometry:
    if body.shape is not None:
        return body.shape
    return shapely.Polygon(_circle(0.0, body.radius_mm))


def _seen_across(case: Case, slices: Sequence[Body]) -> tuple[Ring, ...]:
    """Its silhouette from the side: (x, v), x from the wheel's middle plane."""
    heights = [_heights(body) for body in slices]
    low, high = min(h[0] for h in heights), max(h[1] for h in heights)
    if case.wheel.contact == "across_edge" and slices[0].name in ("wheel", "flange"):
        return (_circle((low + high) / 2.0, (high - low) / 2.0),)
    left, right = min(b.low_mm for b in slices), max(b.high_mm for b in slices)
    if slices[0].name == "wheel" and (crown := crown_of(case.wheel)) is not None:
        return (_crowned(crown, right, high),)
    return (((left, low), (right, low), (right, high), (left, high)),)


def _crowned(crown_mm: float, half_mm: float, radius_mm: float) -> Ring:
    """A wheel along the edge from the side: its rim an arc below and above."""
    angles = np.linspace(-1.0, 1.0, _CROWN_POINTS) * math.asin(half_mm / crown_mm)
    x, up = crown_mm * np.sin(angles), radius_mm - crown_mm * (1.0 - np.cos(angles))
    above, below = zip(x, up, strict=True), zip(x[::-1], -up[::-1], strict=True)
    return tuple((float(a), float(v)) for a, v in (*above, *below))


def _heights(body: Body) -> tuple[float, float]:
    if body.shape is None:
        return -body.radius_mm, body.radius_mm
    _, low, _, high = shapely.bounds(body.shape)
    return float(low), float(high)


def _circle(middle: float, radius: float) -> Ring:
    turns = (2.0 * math.pi * n / _ROUND_POINTS for n in range(_ROUND_POINTS))
    return tuple((radius * math.sin(a), middle - radius * math.cos(a)) for a in turns)


def _things(case: Case) -> list[SeenThing]:
    """What lies beside the wheel; with an edge that is followed as it is laid straight."""
    low_y, low_z, high_y, high_z = shapely.bounds(case.blank)
    around = shapely.box(
        low_y - _AROUND_MM, low_z - _AROUND_MM, high_y + _AROUND_MM, high_z + _AROUND_MM
    )
    return [
        SeenThing(
            thing.name,
            outlines(shapely.intersection(thing.shape, around)),
            (thing.low_mm, thing.high_mm),
        )
        for thing in things_of(replace(case, followed=None))
    ]
