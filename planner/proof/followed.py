"""An edge that the straight axes follow: where the wheel stands, told in the blade's own frame.

From ``docs/edge-paths.md``. The blade stands still, the wheel keeps the direction of its axis, and
it comes to each station in another attitude; or a turn about z of the section at the anchor lays
each station of a curve along the traverse. The wheel is always seen from the blade: a position of
the machine is told as the length along the edge at which the wheel stands tangent to the plane of
the face, and how far along the face and below it that is. From there on a straight edge of the same
length is judged.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely

from planner.proof.edge_line import BentLine, EdgeLine, Floats, Sections
from planner.proof.forms import ImpossibleError
from planner.proof.frame import Frame, KnownPlace
from planner.proof.target import Face

CHORD_MM = 5e-4
"""How far a straight block may leave the depth of its ends and still count as at one depth."""
ALONG_MM = 5e-3
"""The same along the face, where the wheel is as good as still."""
_BETWEEN_MM = 1e-4
"""Between two looks at a block it leaves a straight line by no more than this."""
_MOST_LOOKS = 20_000
_MOST_AT_ONCE = 500_000
"""So many pairs of a position and a place are looked at together, for the sake of memory."""
_ROOT_STEPS = 12
_EVEN = 241
_SLICES = 16
_NEARLY_MM = 0.01
"""A highest point may lie between two of the places that are looked at."""
_STEEPEST_DEG = 85.0
"""Further round an arc the infeed leads past the steel. Common practice, no source."""
_FIT_MM = 2e-4
_LINE_STEPS = 20
"""Newton's steps toward the place and the lean at which a line touches: near it each doubles the
digits, and those it takes to come near are few."""
_NUDGE = 1e-6
"""mm, and as much of the sine: by so little each is moved for the rates."""
_LEAST_RATE = 0.05
"""Of the determinant of those rates: below it the two cannot be told apart, and no step is taken.
Common practice, no source."""
_MOST_STEP_MM = 10.0
"""One step goes no further along the edge, so that it stays near. Common practice, no source."""


class WheelShape(NamedTuple):
    """A wheel as a body of revolution."""

    radius_mm: float
    """About its axis, in the middle of its rim."""
    rim_mm: float | None
    """Radius across the rim; None where it is flat."""
    half_width_mm: float
    """Of what of the rim has this shape."""
    along_edge: bool
    """Whether its axis lies along the traverse, or along the cross."""


class Lines(NamedTuple):
    """An arc that a round wheel makes in lines: each touches it at its own angle.

    A circle of the wheel's radius in the section, its middle so far along the face, touches the
    arc where that leans by an angle of the sine (way from the arc's middle) * ``sine_per_mm``.
    """

    level_mm: float
    """Place along the face, from that at zero, over which the arc lies level."""
    sine_per_mm: float
    """Below 0 in a hollow, where the circle lies inside the arc; above 0 over a bulge."""
    section_mm: float
    """Radius of the wheel in the section, as planned."""
    level_depth_mm: float
    """How deep its lowest point comes there."""

    def sine(self, along_mm: Floats) -> Floats:
        """Of the lean toward the shoulder, at places along the face, shape (n,)."""
        found: Floats = np.clip(self.sine_per_mm * (along_mm - self.level_mm), -0.9, 0.9)
        return found

    def depth_mm(self, along_mm: float) -> float:
        """Of the wheel's lowest point where its circle touches the arc."""
        sine = float(self.sine(np.array([along_mm]))[0])
        return self.level_depth_mm + (1.0 - math.sqrt(1.0 - sine * sine)) / self.sine_per_mm


class Unrolled(NamedTuple):
    """Where the wheel stands on the edge laid straight, each shape (n,)."""

    s_mm: Floats
    along_mm: Floats
    """Along the face, beside the middle of the relief."""
    depth_mm: Floats
    """Below the plane at zero."""


class Moved(NamedTuple):
    """A straight move of the machine, and the turn at its ends."""

    start: KnownPlace
    end: KnownPlace
    turns_deg: tuple[float, float] = (0.0, 0.0)


class Way(NamedTuple):
    """A move in the frame of the blade."""

    places: Unrolled
    level: bool
    """Whether it stays at one depth and one place across the edge, as near as a chord can."""
    clear: bool
    """Whether it stays above all of the blade."""


@dataclass(frozen=True, eq=False)
class Followed:
    """One set-up of such an edge, at the tilt that its program is held at."""

    line: EdgeLine
    face: Face
    middle_mm: float
    frame: Frame
    tilt_deg: float
    wheel: WheelShape
    blank: shapely.Geometry
    bare_mm: float = 0.0
    """Height over the plane at which the wheel of program zero bares: of a flat that leans."""
    turn_sign: float | None = None
    """+1 where a turn in touch-frame sense is the heading that it lays along the traverse, -1 where
    it is minus that; None where nothing turns."""
    lines: Lines | None = None
    """Of an arc that is made in lines."""

    # -- forward: where the wheel has to be ---------------------------------------------------

    @cached_property
    def dirs(self) -> Floats:
        """Traverse, cross and infeed as the blade is clamped, shape (3, 3)."""
        cross, infeed = self.frame.directions(self.tilt_deg)
        return np.array([[self.frame.x_per_traverse, 0.0, 0.0], [0.0, *cross], [0.0, *infeed]])

    @cached_property
    def axis(self) -> Floats:
        """Direction of the wheel's axis at the anchor, shape (3,)."""
        return np.array([1.0, 0.0, 0.0]) if self.wheel.along_edge else self.dirs[1]

    def axes(self, at: Sections) -> Floats:
        """The same as it is seen from the blade while the wheel is over each place, (n, 3)."""
        if self.turn_sign is None:
            return np.broadcast_to(self.axis, at.tangent.shape)
        return _turned(self.axis, self.turned_rad(at))

    def turned_rad(self, at: Sections) -> Floats:
        """How far the heading of each place is from that of the anchor, shape (n,)."""
        heading = np.arctan2(at.tangent[:, 1], at.tangent[:, 0])
        anchor = self.line.at(np.array([self.line.anchor_mm])).tangent[0]
        found: Floats = heading - math.atan2(anchor[1], anchor[0])
        return found

    def seen_from_blade(self, positions: Floats, turns_deg: Floats) -> tuple[Floats, Floats]:
        """The wheel's middle and axis at machine positions, each shape (n, 3)."""
        centres = self.zero + positions @ self.dirs
        if self.turn_sign is None:
            return centres, np.broadcast_to(self.axis, centres.shape)
        turned = np.radians(turns_deg) * self.turn_sign
        return _turned(centres, turned), _turned(self.axis, turned)

    def positions(
        self, at: Sections, depth_mm: float = 0.0, along_mm: float = 0.0
    ) -> tuple[Floats, Floats]:
        """Machine positions, shape (n, 3), and turns in deg, (n,), of the wheel over places."""
        centres = self.centres(at, depth_mm, along_mm)
        turned: Floats = np.zeros(len(at.edge))
        if self.turn_sign is not None:
            turned = self.turned_rad(at)
            centres = _turned(centres, -turned)
        found: Floats = (centres - self.zero) @ self.dirs.T
        return found, np.degrees(turned) * (self.turn_sign or 0.0)

    def normals(self, at: Sections) -> Floats:
        """Out of the face, shape (n, 3)."""
        return at.directions(*self.face.normal)

    def bare_points(self, at: Sections) -> Floats:
        """What the wheel is over at program zero, in its middle, shape (n, 3)."""
        return at.points(*self.face.point(self.middle_mm, -self.bare_mm))

    def centres(self, at: Sections, depth_mm: float = 0.0, along_mm: float = 0.0) -> Floats:
        """The wheel's middle where it touches that point, or so far below it, shape (n, 3).

        ``along_mm`` is how far along the face beside it, in lines.
        """
        sine = np.zeros(1) if self.lines is None else self.lines.sine(np.array([along_mm]))
        touched, normals = self.touched(at, depth_mm, along_mm, sine)
        axes = self.axes(at)
        lean = np.einsum("ij,ij->i", normals, axes)
        radial = normals - lean[:, None] * axes
        radial /= np.sqrt(1.0 - lean**2)[:, None]
        radius, rim = self.wheel.radius_mm, self.wheel.rim_mm
        # Of a rim that is round the middle of its arc lies out along the radius.
        over = radius * radial if rim is None else (radius - rim) * radial + rim * normals
        found: Floats = touched + over
        return found

    def touched(
        self, at: Sections, depth_mm: float, along_mm: float, sine: Floats
    ) -> tuple[Floats, Floats]:
        """Where the wheel touches the section and the normal there, each shape (n, 3)."""
        upright, along = self.normals(at), at.directions(*self.face.along)
        normals = _leaned(upright, along, sine)
        lowest = self.bare_points(at) + along_mm * along - depth_mm * upright
        section = 0.0 if self.lines is None else self.lines.section_mm
        return lowest + section * (upright - normals), normals

    @cached_property
    def zero(self) -> Floats:
        """The wheel's middle at program zero: bare at the anchor, shape (3,)."""
        found: Floats = self.centres(self.line.at(np.array([self.line.anchor_mm])))[0]
        return found

    # -- backward: what a position is -----------------------------------------------------------

    @cached_property
    def _looks(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Places, tangents, normals, and the shares of the bare points along both."""
        s = self.line.looks_mm
        at = self.line.at(s)
        normals, bare = self.normals(at), self.bare_points(at)
        return (
            s,
            at.tangent,
            normals,
            np.einsum("ij,ij->i", bare, at.tangent),
            np.einsum("ij,ij->i", bare, normals),
        )

    def unroll(self, positions: Floats, turns_deg: Floats | None = None) -> Unrolled:
        """Machine positions (traverse, cross, infeed), shape (n, 3), on the edge laid straight.

        ``turns_deg`` is the turn at each, in touch-frame sense, shape (n,); left out, at 0.

        Where the wheel is tangent at several places, that at which it is deepest; past all of them
        the last, or the end of the blade that it comes to.
        """
        turns = np.zeros(len(positions)) if turns_deg is None else turns_deg
        at_once = max(_MOST_AT_ONCE // len(self.line.looks_mm), 1)
        if len(positions) > at_once:
            parts = [
                self.unroll(positions[n : n + at_once], turns[n : n + at_once])
                for n in range(0, len(positions), at_once)
            ]
            return Unrolled(*(np.concatenate(column) for column in zip(*parts, strict=True)))
        centres, axes = self.seen_from_blade(positions, turns)
        s, tangents, normals, bare_along, bare_up = self._looks
        # How far the wheel's middle lies from its lowest point: along the edge, and up.
        lean, rim = axes @ normals.T, self.wheel.rim_mm or 0.0
        upright, out = np.sqrt(1.0 - lean**2), self.wheel.radius_mm - rim
        up = out * upright + rim
        ahead = centres @ tangents.T - bare_along + out * lean * (axes @ tangents.T) / upright
        deep = bare_up + up - centres @ normals.T
        # Ahead of a place it is tangent further on, behind it further back.
        feet = (ahead[:, :-1] >= 0.0) & (ahead[:, 1:] < 0.0)
        best = np.where(feet, np.maximum(deep[:, :-1], deep[:, 1:]), -math.inf).argmax(axis=1)
        rows = np.arange(len(positions))
        found = feet[rows, best]
        low, high = s[best], s[best + 1]
        at_low, at_high = ahead[rows, best], ahead[rows, best + 1]
        past = np.where(np.abs(ahead[:, 0]) < np.abs(ahead[:, -1]), s[0], s[-1])
        # Lifted past the middle of an arc it is tangent nowhere, and may still come to an end.
        ends = np.clip(np.searchsorted(s, (0.0, self.line.length_mm)), 0, len(s) - 1)
        round_to = self.wheel.rim_mm if self.wheel.along_edge else None
        room = 2.0 * (round_to or self.wheel.radius_mm) - deep[:, ends]
        met = np.where(ahead[:, ends] ** 2 < room * deep[:, ends], deep[:, ends], -math.inf)
        at_end = np.where(met[:, 0] > met[:, 1], 0.0, self.line.length_mm)
        past = np.where(met.max(axis=1) > 0.0, at_end, past)
        place = low.copy()
        stayed = np.zeros(len(s[best]))
        for _ in range(_ROOT_STEPS):
            apart = np.where(at_low == at_high, 1.0, at_low - at_high)
            place = np.where(found, low + (high - low) * at_low / apart, past)
            off = self._off(centres, axes, place)[0]
            before = off > 0.0
            # False position by the Illinois rule: an end that stays twice counts half.
            at_high = np.where(before & (stayed > 0), at_high / 2.0, at_high)
            at_low = np.where(~before & (stayed < 0), at_low / 2.0, at_low)
            low, at_low = np.where(before, place, low), np.where(before, off, at_low)
            high, at_high = np.where(before, high, place), np.where(before, at_high, off)
            stayed = np.where(before, 1.0, -1.0)
            if np.all(np.abs(off[found]) < 1e-9):
                break
        if self.lines is not None:
            return self._in_lines(self.lines, centres, axes, place)
        _, along, depth = self._off(centres, axes, place)
        return Unrolled(place, along, depth)

    def _in_lines(self, lines: Lines, centres: Floats, axes: Floats, s: Floats) -> Unrolled:
        """The same where the wheel touches at the angle of its line, from the place upright."""
        # Past the ends of an arc nothing is asked.
        low, high = self.line.looks_mm[[0, -1]]
        sine = np.zeros_like(s)

        def off(s: Floats, sine: Floats) -> tuple[Floats, Floats, Floats, Floats]:
            ahead, along, depth = self._off(centres, axes, s, sine)
            return ahead, sine - lines.sine(along), along, depth

        for _ in range(_LINE_STEPS):
            ahead, turned, along, depth = off(s, sine)
            if max(np.abs(ahead).max(), np.abs(turned).max()) < 1e-10:
                break
            # Newton's steps in both, each moved by a little for the rates.
            further, steeper = (
                [
                    (then - now) / _NUDGE
                    for then, now in zip(moved[:2], (ahead, turned), strict=True)
                ]
                for moved in (off(s + _NUDGE, sine), off(s, sine + _NUDGE))
            )
            both = further[0] * steeper[1] - further[1] * steeper[0]
            both = np.where(np.abs(both) > _LEAST_RATE, both, math.inf)
            on = (steeper[0] * turned - steeper[1] * ahead) / both
            more = (further[1] * ahead - further[0] * turned) / both
            s = np.clip(s + np.clip(on, -_MOST_STEP_MM, _MOST_STEP_MM), low, high)
            sine = np.clip(sine + np.clip(more, -0.3, 0.3), -0.9, 0.9)
        return Unrolled(s, along, depth)

    def _off(
        self, centres: Floats, axes: Floats, s: Floats, sine: Floats | None = None
    ) -> tuple[Floats, Floats, Floats]:
        """How far a wheel stands off the bare one at a place: ahead, along the face, below.

        ``sine`` is that of the lean at which it touches in lines, shape (n,).
        """
        at = self.line.at(s)
        upright, along = self.normals(at), at.directions(*self.face.along)
        normals = upright if sine is None else _leaned(upright, along, sine)
        lean = np.einsum("ij,ij->i", axes, normals)
        out, rim = self.wheel.radius_mm - (self.wheel.rim_mm or 0.0), self.wheel.rim_mm or 0.0
        radial = (normals - lean[:, None] * axes) / np.sqrt(1.0 - lean**2)[:, None]
        touched = centres - out * radial - rim * normals
        if sine is not None and self.lines is not None:
            touched = touched + self.lines.section_mm * (normals - upright)
        off = touched - self.bare_points(at)
        return (
            np.einsum("ij,ij->i", off, at.tangent),
            np.einsum("ij,ij->i", off, along),
            -np.einsum("ij,ij->i", off, upright),
        )

    def way(self, move: Moved, level_mm: float, beside_mm: float, seen: Unrolled | None) -> Way:
        """A straight move of the machine; ``seen`` is what ``looks`` at it unroll to.

        ``level_mm`` is what rounding may move it across the face, ``beside_mm`` along it.
        """
        places = self.unroll(*self.looks(move)) if seen is None else seen
        above = min(move.start.infeed, move.end.infeed) - self.safe_infeed_mm
        clear = above >= 0.0
        if clear:
            # Over the whole blade it may be tangent to a face that is not there; it is clear by
            # as much as it stands over the highest place.
            places = places._replace(depth_mm=np.minimum(places.depth_mm, -above))
        level = bool(
            np.ptp(places.depth_mm) <= CHORD_MM + 2.0 * level_mm
            and np.ptp(places.along_mm) <= ALONG_MM + 2.0 * beside_mm
        )
        return Way(places, level, clear)

    def looks(self, move: Moved) -> tuple[Floats, Floats]:
        """Positions on the way of a move, shape (n, 3), and the turn at each, (n,)."""
        first, last = np.array(move.start[:3]), np.array(move.end[:3])
        clear = min(move.start.infeed, move.end.infeed) >= self.safe_infeed_mm
        turns_deg = move.turns_deg
        turned_mm = math.radians(abs(turns_deg[1] - turns_deg[0])) * self._lever_mm
        length = math.dist(move.start[:3], move.end[:3]) + turned_mm
        looks = 1 if clear else min(math.ceil(length / self._look_mm), _MOST_LOOKS)
        looks = looks if looks <= 1 else looks + looks % 2
        if looks == 1 and not clear and length > 0.0:
            looks = 2
        shares = np.linspace(0.0, 1.0, looks + 1)[:, None] if length > 0.0 else np.zeros((1, 1))
        turns = turns_deg[0] + shares[:, 0] * (turns_deg[1] - turns_deg[0])
        return first + shares * (last - first), turns

    def unroll_all(self, moves: Sequence[Moved]) -> list[Unrolled]:
        """What each of many moves unrolls to, looked at all at once."""
        looks = [self.looks(move) for move in moves]
        if not looks:
            return []
        ends = np.cumsum([len(turns) for _, turns in looks])[:-1]
        positions = np.concatenate([each for each, _ in looks])
        found = self.unroll(positions, np.concatenate([turns for _, turns in looks]))
        columns = [np.split(column, ends) for column in found]
        return [Unrolled(*parts) for parts in zip(*columns, strict=True)]

    def laid_straight(self, places: Unrolled, tilt_deg: float) -> list[KnownPlace]:
        """The positions of the same wheel over a straight edge."""
        cross, infeed = self.frame.directions(tilt_deg)
        along, normal = self.face.along, self.face.normal
        in_cross = [_dot(along, cross), -_dot(normal, cross)]
        in_infeed = [_dot(along, infeed), -_dot(normal, infeed)]
        across = np.column_stack([places.along_mm, places.depth_mm])
        traverse = (places.s_mm - self.frame.x_at_zero_mm) * self.frame.x_per_traverse
        columns = traverse, across @ in_cross, across @ in_infeed
        return [
            KnownPlace(t, c, i, tilt_deg)
            for t, c, i in zip(*(column.tolist() for column in columns), strict=True)
        ]

    # -- what follows from the path ---------------------------------------------------------------

    @cached_property
    def _even(self) -> tuple[Floats, Sections, Floats]:
        """Evenly spaced places on the edge, and the bare wheel there."""
        s = np.linspace(0.0, self.line.length_mm, _EVEN)
        at = self.line.at(s)
        return s, at, self.centres(at)

    @cached_property
    def rates(self) -> tuple[Floats, Floats]:
        """How far each axis goes for a millimetre of edge, and how that changes, shape (n, 3)."""
        s, at, _ = self._even
        first = np.gradient(self.positions(at)[0], s, axis=0)
        return first, np.gradient(first, s, axis=0)

    @cached_property
    def turn_rate(self) -> float:
        """The most that the turn goes for a millimetre of edge, deg."""
        s, at, _ = self._even
        return float(np.abs(np.gradient(self.positions(at)[1], s)).max())

    @cached_property
    def _lever_mm(self) -> float:
        """The farthest that the wheel stands from the axis of the turn, over the edge."""
        if self.turn_sign is None:
            return 0.0
        return float(np.linalg.norm(self._even[2], axis=1).max())

    @cached_property
    def _look_mm(self) -> float:
        s, _, bare = self._even
        first = np.gradient(bare, s, axis=0)
        second = np.gradient(first, s, axis=0)
        speed = np.linalg.norm(first, axis=1)
        bend = np.linalg.norm(np.cross(first, second), axis=1) / np.maximum(speed, 1e-6) ** 3
        return math.sqrt(8.0 * _BETWEEN_MM / max(float(bend[2:-2].max()), 1e-6))

    @property
    def block_mm(self) -> float:
        """Length of a block that leaves the path by a quarter of a micrometre."""
        return self._look_mm * math.sqrt(2.5e-4 / _BETWEEN_MM)

    @cached_property
    def clear_of_mm(self) -> float:
        """The highest infeed at which the wheel may meet the blade: bare on the edge somewhere, or
        over the blade's highest point."""
        bare = float(self.positions(self._even[1])[0][:, 2].max())
        return max(bare, self.safe_infeed_mm - _NEARLY_MM)

    @cached_property
    def safe_infeed_mm(self) -> float:
        """Infeed from which the wheel is above all of the blade, wherever it stands."""
        return self._highest_mm + self.wheel.radius_mm - float(self.zero @ self.dirs[2])

    @cached_property
    def _highest_mm(self) -> float:
        """The highest point of the blade along the infeed, however it is turned."""
        _, at, _ = self._even
        corners = shapely.get_coordinates(shapely.convex_hull(self.blank))
        points = np.vstack([at.points(y, z) for y, z in corners])
        if self.turn_sign is None:
            return float((points @ self.dirs[2]).max())
        turned = self.turned_rad(at)
        turns = np.linspace(turned.min(), turned.max(), 17)
        return max(float((_turned(points, -turn) @ self.dirs[2]).max()) for turn in turns)

    @cached_property
    def traverse_span_mm(self) -> tuple[float, float]:
        """Where along the machine's traverse the edge begins and ends."""
        ends = (self.line.at(np.array([0.0, self.line.length_mm])).edge @ self.dirs[0]).tolist()
        return min(ends), max(ends)

    def across_mm(self, steps: Mapping[str, float]) -> float:
        """How far off its depth half a step of each axis by role may put the wheel; mm, deg."""
        at = self._even[1]
        normals, touched = self.normals(at), self.bare_points(at)
        if self.turn_sign is not None:
            turned = -self.turned_rad(at)
            normals, touched = _turned(normals, turned), _turned(touched, turned)
        halves = np.array([steps.get(r, 0.0) / 2.0 for r in ("traverse", "cross", "infeed")])
        off = np.abs(normals @ self.dirs.T) @ halves
        lever = touched[:, 0] * normals[:, 1] - touched[:, 1] * normals[:, 0]
        off += np.abs(lever) * math.radians(steps.get("turn", 0.0) / 2.0)
        return float(off.max())

    def reach_mm(self, deepest_mm: float) -> float:
        """How far from where it is tangent the wheel touches along the edge.

        Near there the gap to the edge opens as x^2 / 2 R does, R found from two near sections.
        """
        if self.wheel.rim_mm is None and self.wheel.along_edge:
            return self.wheel.half_width_mm
        opens = max(float(self._alike_mm.max()), 1e-6)
        deep = min(deepest_mm, opens)
        return math.sqrt(deep * (2.0 * opens - deep))

    @cached_property
    def _alike_mm(self) -> Floats:
        """Radius of the wheel that parts from a straight edge as this one does from its path.

        Where the contact goes on by ds, the middle of the wheel goes on by (1 + R k) ds, R the
        wheel's own radius there and k how the path falls away: the sum of the two curvatures is
        (the middle's way / the contact's) / R.
        """
        s, at, bare = self._even
        touched = self.bare_points(at)
        # The section that the tangent cuts out of the wheel.
        axes = self.axes(at)
        lean, turn = (np.einsum("ij,ij->i", d, axes) for d in (self.normals(at), at.tangent))
        radius, rim = self.wheel.radius_mm, self.wheel.rim_mm or math.inf
        about = (radius - rim) / np.sqrt(1.0 - lean**2) + rim if rim < math.inf else radius
        share = turn**2 / (1.0 - lean**2)
        own = share / rim + (1.0 - share) / about
        ways = [
            np.einsum("ij,ij->i", np.gradient(each, s, axis=0), at.tangent)
            for each in (bare, touched)
        ]
        ratio = ways[0] / np.maximum(ways[1], 1e-9)
        found: Floats = 1.0 / np.maximum(own * ratio, 1e-9)
        return found

    def slices(self) -> list[tuple[shapely.Geometry, float, float]]:
        """The blade as it is clamped, slice by slice: shape (y, z), and from where to where.

        Each slice is the hull of two sections near each other.
        """
        at = self.line.at(np.linspace(0.0, self.line.length_mm, _SLICES + 1))
        corners = shapely.get_coordinates(shapely.convex_hull(self.blank))
        points = np.stack([at.points(y, z) for y, z in corners], axis=1)
        found = []
        for one, other in pairwise(points):
            both = np.vstack([one, other])
            ends = both[:, 0] * self.frame.x_per_traverse
            hull = shapely.convex_hull(shapely.MultiPoint(both[:, 1:]))
            found.append((hull, float(ends.min()), float(ends.max())))
        return found

    @property
    def falls_away_per_mm(self) -> float:
        """Curvature of the edge's path as the wheel meets it at the anchor; hollow below 0."""
        near = int(np.abs(self._even[0] - self.line.anchor_mm).argmin())
        rim = self.wheel.rim_mm
        across = 0.0 if rim is None else 1.0 / rim
        return 1.0 / float(self._alike_mm[near]) - (
            across if self.wheel.along_edge else 1.0 / self.wheel.radius_mm
        )

    def check_room(self, depth_mm: float, along_mm: float = 0.0) -> None:
        """The wheel must fit everywhere and meet the edge nowhere but where it is to.

        Raises: ImpossibleError where it does not.
        """
        if isinstance(self.line, BentLine):
            half = self.line.length_mm / self.line.radius_mm / 2.0
            if math.degrees(half) >= _STEEPEST_DEG:
                raise ImpossibleError("the edge goes too far round for straight axes")
        s, at, bare = self._even
        if np.any(np.einsum("ij,ij->i", np.diff(bare, axis=0), at.tangent[1:]) <= 0.0):
            raise ImpossibleError("the wheel is larger than the inside of the path")
        found = self.unroll(*self.positions(at, depth_mm, along_mm))
        if np.abs(found.depth_mm - depth_mm).max() > _FIT_MM or np.abs(found.s_mm - s).max() > 1e-3:
            raise ImpossibleError("the wheel meets the edge at a second place")
        inside = isinstance(self.line, BentLine) and self.face.name == "B"
        lowest = float((self.centres(at, depth_mm, along_mm) @ self.dirs[2]).min())
        if self.wheel.along_edge and inside and lowest < self._highest_mm:
            raise ImpossibleError("the spindle meets the blade inside the arc")


def _leaned(upright: Floats, along: Floats, sine: Floats) -> Floats:
    """Normals turned toward a direction along the face, shape (n, 3)."""
    found: Floats = np.sqrt(1.0 - sine**2)[:, None] * upright + sine[:, None] * along
    return found


def _turned(vectors: Floats, angles_rad: Floats | float) -> Floats:
    """Vectors turned from X toward Y, shape (n, 3)."""
    sine, cosine = np.sin(angles_rad), np.cos(angles_rad)
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    turned = (cosine * x - sine * y, sine * x + cosine * y, z + 0.0 * sine)
    return np.stack(np.broadcast_arrays(*turned), axis=-1)


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return one[0] * other[0] + one[1] * other[1]
