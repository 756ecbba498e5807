"""How near the tool comes to what stands in the way, over every move of a program.

The tool does not turn while the tilt stands, so a part meets an obstacle just where the path of its
reference point meets the obstacle grown by the part: for a disc the obstacle within its radius,
for an outline the Minkowski sum of the obstacle and the outline turned to its opposite
(Lozano-Pérez, Spatial planning: a configuration space approach, IEEE Transactions on Computers
C-32, 1983). Along the edge both are spans, and the path is cut to where they overlap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from planner.kinematics.obstacles import Obstacle
from planner.kinematics.round_axis import Pairs, as_they_stand
from planner.kinematics.tool_body import Part
from planner.kinematics.touch_frame import TouchFrame

if TYPE_CHECKING:
    import shapely

Floats = NDArray[np.float64]
Point = tuple[float, float]

TILT_BOUND_MM = 0.005
"""Within this a clearance is known while the tilt turns; what is nearer counts as touching."""
_NUMBER_BOUND_MM = 1e-3
"""Within this the figure of an overlap is known; whether there is one is known exactly."""
_MOST_STEPS = 4000
_MOST_INSIDE = 64
"""Of so many moves that run into an obstacle the deepest is looked for."""
TOUCH_MM = 5e-7
"""A part that is not further than this in an obstacle touches it: rounding in the last bits."""


class Stand(NamedTuple):
    """Where a program has the tool stand, in touch-frame values; ``feed`` is how it got there."""

    traverse_mm: float
    cross_mm: float
    infeed_mm: float
    tilt_deg: float
    feed: bool = False


@dataclass(frozen=True)
class Clearance:
    """The least distance of a part of the tool from one obstacle, over all moves looked at."""

    obstacle: Obstacle
    part: str
    distance_mm: float
    """Below zero, how far the part runs in: by the shortest way out, along the edge or across."""
    at: Stand
    """Where on its move it is nearest; of a move that turns the tilt or goes along the edge and
    across it at once, where the move ends."""


def clearances(
    frame: TouchFrame,
    body: Sequence[Part],
    obstacles: Sequence[Obstacle],
    stands: Sequence[Stand],
    pairs: Pairs = as_they_stand,
) -> list[Clearance]:
    """The least clearance of each part of the tool from each obstacle, in the order given.

    ``stands`` are the places of a program in order: each pair is a straight move, and a single
    place is a move of no length. ``pairs`` says what a part meets of an obstacle: along a straight
    edge the two themselves; the wheel itself may come to the blade, and that pair is left out.
    """
    if not stands:
        return []
    moves = _Moves(frame, stands)
    found: dict[tuple[int, str], Clearance] = {}
    for index, obstacle in enumerate(obstacles):
        for part in body:
            for one, other in pairs(part, obstacle):
                nearest = _nearest(moves, one, other)
                key = (index, part.name)
                if key not in found or nearest.distance_mm < found[key].distance_mm:
                    found[key] = replace(nearest, obstacle=obstacle)
    return list(found.values())


class _Moves:
    """Every move of a program, as arrays of starts and ends."""

    def __init__(self, frame: TouchFrame, stands: Sequence[Stand]) -> None:
        self.frame = frame
        self.stands = [stands[0], *stands]
        places = np.array([stand[:4] for stand in self.stands], dtype=float)
        self.x: Floats = places[:, 0]
        self.tilt_deg: Floats = places[:, 3]
        self.turns: NDArray[np.bool_] = np.diff(self.tilt_deg) != 0.0
        self.pivot: Floats = np.array(frame.axis_yz_mm or frame.origin_yz_mm)
        """About which the tool turns, seen from the blade."""
        zero = np.array(frame.origin_yz_mm) - self.pivot
        self.at_zero = float(zero @ frame.cross_dir_yz), float(zero @ frame.infeed_dir_yz)
        """The reference point at zero, from there along cross and infeed."""
        self.centres: Floats = np.array([self.centre(*place[1:]) for place in places])

    def directions(self, tilt_deg: float) -> tuple[Floats, Floats]:
        """(cross_dir, infeed_dir) at a tilt: those of the set-up, turned by what is more."""
        more = math.radians(tilt_deg - self.frame.tilt_deg)
        cross, infeed = np.array(self.frame.cross_dir_yz), np.array(self.frame.infeed_dir_yz)
        return (
            math.cos(more) * cross + math.sin(more) * infeed,
            math.cos(more) * infeed - math.sin(more) * cross,
        )

    def centre(self, cross_mm: float, infeed_mm: float, tilt_deg: float) -> Floats:
        """The reference point in the blade's section, at a tilt."""
        cross_dir, infeed_dir = self.directions(tilt_deg)
        along, above = self.at_zero
        there: Floats = (
            self.pivot + (along + cross_mm) * cross_dir + (above + infeed_mm) * infeed_dir
        )
        return there

    def from_pivot_mm(self, cross_mm: float, infeed_mm: float) -> float:
        """How far the reference point stands from where the tool turns."""
        return math.hypot(self.at_zero[0] + cross_mm, self.at_zero[1] + infeed_mm)


class _Grown:
    """An obstacle grown by a part of the tool at one tilt, seen from the part's reference point."""

    def __init__(self, moves: _Moves, part: Part, obstacle: Obstacle, tilt_deg: float) -> None:
        import shapely  # noqa: PLC0415

        cross_dir, infeed_dir = moves.directions(tilt_deg)
        axes = np.array([cross_dir, infeed_dir])
        here = shapely.Polygon(obstacle.outline_yz_mm)
        self.radius_mm = part.radius_mm
        self.shift: Floats = np.zeros(2)
        """From the reference point to the place that is compared with the shape."""
        if part.outline_uv_mm:
            turned = np.array(part.outline_uv_mm) @ axes
            self.shape = _minkowski(here, shapely.Polygon(-turned))
        else:
            self.shape = here
            self.shift = np.array(part.centre_uv_mm) @ axes
        shapely.prepare(self.shape)

    @cached_property
    def inner(self) -> shapely.Geometry:
        """The shape without a skin of ``TOUCH_MM``."""
        import shapely  # noqa: PLC0415

        return shapely.buffer(self.shape, -TOUCH_MM, join_style="mitre")

    @cached_property
    def rim(self) -> shapely.Geometry:
        """The outline alone."""
        return self.shape.boundary

    def away(self, starts: Floats, ends: Floats) -> Floats:
        """Distance of each path (n, 2) to (n, 2) from touching; 0 less the radius where inside."""
        import shapely  # noqa: PLC0415

        lines = shapely.linestrings(np.stack([starts + self.shift, ends + self.shift], axis=1))
        distance: Floats = shapely.distance(lines, self.shape) - self.radius_mm
        return distance

    def meets(self, path: _Path) -> bool:
        """Whether a path runs in by more than a touch."""
        import shapely  # noqa: PLC0415

        line = shapely.LineString([path.start + self.shift, path.end + self.shift])
        if self.radius_mm > 0.0:
            return bool(shapely.distance(line, self.shape) < self.radius_mm - TOUCH_MM)
        return bool(shapely.intersects(line, self.inner))

    def deepest(self, path: _Path, away_mm: float) -> float:
        """How far a path across the edge runs in, below zero; ``away_mm`` as ``away`` has it."""
        if away_mm > -self.radius_mm:
            return away_mm
        figure = _lowest(lambda share: self.signed(path.at(share)), path.across_mm)
        return min(figure, -2 * TOUCH_MM) if self.meets(path) else max(figure, 0.0)

    def nearest_share(self, path: _Path) -> float:
        """The share of the way after which a path is nearest to the shape, or first in it."""
        import shapely  # noqa: PLC0415

        if path.across_mm == 0.0:
            return 1.0
        line = shapely.LineString([path.start + self.shift, path.end + self.shift])
        there = shapely.get_point(shapely.shortest_line(line, self.shape), 0)
        return float(shapely.line_locate_point(line, there, normalized=True))

    def signed(self, place: Floats) -> float:
        """Distance of one place from touching; below zero, the shortest way out."""
        import shapely  # noqa: PLC0415

        point = shapely.Point(place + self.shift)
        outside = float(shapely.distance(point, self.shape))
        if outside > 0.0:
            return outside - self.radius_mm
        return -float(shapely.distance(point, self.rim)) - self.radius_mm


def _minkowski(first: shapely.Polygon, second: shapely.Polygon) -> shapely.Geometry:
    """The sum of every point of the one and of the other."""
    import shapely  # noqa: PLC0415

    sums = []
    for one in _convex_pieces(first):
        for other in _convex_pieces(second):
            corners = (one[:, None, :] + other[None, :, :]).reshape(-1, 2)
            sums.append(shapely.convex_hull(shapely.MultiPoint(corners)))
    return shapely.union_all(sums)


def _convex_pieces(shape: shapely.Polygon) -> list[Floats]:
    import shapely  # noqa: PLC0415

    hull = shapely.convex_hull(shape)
    if shapely.area(hull) <= shapely.area(shape) * (1 + 1e-12):
        return [shapely.get_coordinates(hull)]
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
    return [shapely.get_coordinates(piece) for piece in pieces]


def _nearest(moves: _Moves, part: Part, obstacle: Obstacle) -> Clearance:
    """The nearest that a part comes to an obstacle over all the moves."""
    best, at = math.inf, moves.stands[-1]
    for tilt_deg in np.unique(moves.tilt_deg):
        still = np.nonzero(~moves.turns & (moves.tilt_deg[:-1] == tilt_deg))[0]
        if len(still) == 0:
            continue
        grown = _Grown(moves, part, obstacle, float(tilt_deg))
        nearest = _straight(moves, still, grown, part, obstacle, best)
        if nearest is not None:
            best, at = nearest
    for move in np.nonzero(moves.turns)[0]:
        distance_mm = _turning(moves, int(move), part, obstacle, best)
        if distance_mm < best:
            best, at = distance_mm, moves.stands[move + 1]
    return Clearance(obstacle, part.name, best, at)


def _gaps(x: Floats, part: Part, obstacle: Obstacle) -> Floats:
    """How far apart the spans are along the edge; below zero, the shortest way out."""
    ahead: Floats = np.maximum(
        x + part.x_from_mm - obstacle.to_mm, obstacle.from_mm - x - part.x_to_mm
    )
    return ahead


def _both(along: float, across: float) -> float:
    """The distance of two prisms that are so far apart along the edge and across it."""
    if along > 0.0 or across > 0.0:
        return math.hypot(max(along, 0.0), max(across, 0.0))
    return max(along, across)


def _straight(
    moves: _Moves,
    still: NDArray[np.intp],
    grown: _Grown,
    part: Part,
    obstacle: Obstacle,
    best: float,
) -> tuple[float, Stand] | None:
    """The nearest of the moves at one tilt, and where; None where none is nearer than ``best``."""
    starts, ends = moves.centres[still], moves.centres[still + 1]
    x_start, x_end = moves.x[still], moves.x[still + 1]
    across = grown.away(starts, ends)
    middle = (obstacle.from_mm + obstacle.to_mm - part.x_from_mm - part.x_to_mm) / 2
    closest = np.clip(middle, np.minimum(x_start, x_end), np.maximum(x_start, x_end))
    along = _gaps(closest, part, obstacle)
    least = np.hypot(np.maximum(along, 0), np.maximum(across, 0))
    least[(along <= 0) & (across <= 0)] = -math.inf
    found, inside = None, 0
    for n in np.argsort(least, kind="stable"):
        if least[n] >= best or inside >= _MOST_INSIDE:
            break
        distance = float(least[n])
        path = _Path(starts[n], ends[n], float(x_start[n]), float(x_end[n]))
        oblique = path.across_mm > 0.0 and path.along_mm > 0.0
        if oblique:
            distance = _oblique(path, grown, part, obstacle)
        elif distance == -math.inf:
            # Nearest along the edge and nearest across it are the same moment.
            distance = _both(float(along[n]), grown.deepest(path, float(across[n])))
        inside += int(distance < 0.0)
        if distance < best:
            best = distance
            before, after = moves.stands[still[n]], moves.stands[still[n] + 1]
            share = 1.0 if oblique else grown.nearest_share(path)
            at = after._replace(
                cross_mm=before.cross_mm + share * (after.cross_mm - before.cross_mm),
                infeed_mm=before.infeed_mm + share * (after.infeed_mm - before.infeed_mm),
            )
            if not oblique:
                at = at._replace(traverse_mm=float(closest[n]))
            found = best, at
    return found


class _Path(NamedTuple):
    """The way of the reference point over one move."""

    start: Floats
    end: Floats
    x_start: float
    x_end: float

    def at(self, share: float) -> Floats:
        """The reference point in the section after a share of the way."""
        there: Floats = self.start + share * (self.end - self.start)
        return there

    def x_at(self, share: float) -> float:
        """The middle plane along the edge after a share of the way."""
        return self.x_start + share * (self.x_end - self.x_start)

    def cut(self, first: float, last: float) -> _Path:
        """The part between two shares of the way."""
        return _Path(self.at(first), self.at(last), self.x_at(first), self.x_at(last))

    @property
    def across_mm(self) -> float:
        """Length in the section."""
        return math.dist(self.start, self.end)

    @property
    def along_mm(self) -> float:
        """Length along the edge."""
        return abs(self.x_end - self.x_start)


def _oblique(path: _Path, grown: _Grown, part: Part, obstacle: Obstacle) -> float:
    """The nearest of a move that goes along the edge and across it at once."""

    def distance(share: float) -> float:
        along = float(_gaps(np.array(path.x_at(share)), part, obstacle))
        return _both(along, grown.signed(path.at(share)))

    figure = _lowest(distance, math.hypot(path.across_mm, path.along_mm))
    ends = (
        obstacle.from_mm - part.x_to_mm + TOUCH_MM,
        obstacle.to_mm - part.x_from_mm - TOUCH_MM,
    )
    shares = sorted((end - path.x_start) / (path.x_end - path.x_start) for end in ends)
    first, last = max(shares[0], 0.0), min(shares[1], 1.0)
    if first < last and grown.meets(path.cut(first, last)):
        return min(figure, -2 * TOUCH_MM)
    return max(figure, 0.0)


def _lowest(distance: Callable[[float], float], length_mm: float) -> float:
    """The least of a distance over shares 0 to 1 of a way, to ``_NUMBER_BOUND_MM``.

    A distance changes no faster than the place moves: between two places it stays above the mean
    of theirs less half the way between them. Halves that cannot hold the least are dropped.
    """
    at_start, at_end = distance(0.0), distance(1.0)
    best = min(at_start, at_end)
    open_ends = [(0.0, at_start, 1.0, at_end)]
    for _ in range(_MOST_STEPS):
        if not open_ends:
            break
        first, at_first, last, at_last = open_ends.pop()
        floor = (at_first + at_last - length_mm * (last - first)) / 2
        if floor >= best - _NUMBER_BOUND_MM:
            continue
        middle = (first + last) / 2
        at_middle = distance(middle)
        best = min(best, at_middle)
        halves = [(first, at_first, middle, at_middle), (middle, at_middle, last, at_last)]
        open_ends += sorted(halves, key=lambda h: -(h[1] + h[3]))
    return best


def _turning(moves: _Moves, move: int, part: Part, obstacle: Obstacle, best: float) -> float:
    """The nearest of a move that turns the tilt, on the safe side by ``TILT_BOUND_MM``.

    Over a turn by an angle no point of the tool goes further than the angle times its distance
    from the place about which the frame turns, and what the axes move beside. Of a clearance that
    is large a twentieth is near enough.
    """
    start, end = np.array(moves.stands[move][:4]), np.array(moves.stands[move + 1][:4])
    step = np.abs(end - start)
    farthest = part.farthest_mm + max(moves.from_pivot_mm(*at[1:3]) for at in (start, end))
    length = float(step[0] + step[1] + step[2] + math.radians(step[3]) * farthest)
    open_ends, seen, floor = [(0.0, 1.0)], best, best
    while open_ends:
        first, last = open_ends.pop()
        here = _at_rest(moves, start + (first + last) / 2 * (end - start), part, obstacle)
        reach = (last - first) / 2 * length
        if here - reach >= seen - TILT_BOUND_MM:
            continue
        seen = min(seen, here)
        near_enough = max(TILT_BOUND_MM, here / 20)
        if here <= 0.0 or reach <= near_enough:
            floor = min(floor, here - min(reach, near_enough))
        else:
            middle = (first + last) / 2
            open_ends += [(first, middle), (middle, last)]
    return min(floor, seen - TILT_BOUND_MM) if seen < best else floor


def _at_rest(moves: _Moves, place: Floats, part: Part, obstacle: Obstacle) -> float:
    """Distance at one place, each shape where it is; below zero, the shortest way out."""
    import shapely  # noqa: PLC0415

    along = float(_gaps(place[0], part, obstacle))
    centre = moves.centre(*place[1:])
    if part.outline_uv_mm:
        there = np.array(part.outline_uv_mm) @ np.array(moves.directions(place[3])) + centre
        shape = shapely.Polygon(obstacle.outline_yz_mm)
        across = float(shapely.distance(shapely.Polygon(there), shape))
        if across > 0.0:
            return _both(along, across)
    return _both(along, _Grown(moves, part, obstacle, float(place[3])).signed(centre))
