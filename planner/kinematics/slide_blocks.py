"""How a followed edge becomes blocks: where they end, how fast they may go, how high is clear."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.inputs.axes import Axis, AxisLetter, LinearAxis
from planner.inputs.edge_curve import CurveEdge
from planner.inputs.machine import Machine
from planner.kinematics.obstacles import blank_outline
from planner.kinematics.room import Room, rooms_of
from planner.kinematics.row import Row
from planner.kinematics.slide_path import SlidePath, turned
from planner.kinematics.touch_frame import last_decimal_mm, linear_axis, smallest_step_mm
from planner.section.work import FaceWork

Floats = NDArray[np.float64]

CHORD_MM = 0.00025
"""Most that a straight block may leave its curve by, normal to the face: a quarter of an infeed
step of a micrometre. Common practice, no source."""
_CHORD_OF_STEP = 0.25
_ASIDE = 10.0
"""Along the face it may leave it by so many times as much: a land moves so far, not ten times."""
_WHOLE = 1e-6
_TURNS = 17
_LOOKS = 2001
_PROBE_MM = 0.1
_NEAR_MM = 0.005
"""Half of the way over which a path's rates of change are taken."""


@dataclass(frozen=True, eq=False)
class SlideBlocks:
    """The blocks of one pass and what the axes make of them."""

    path: SlidePath
    ends_mm: tuple[float, ...]
    """Unrolled traverse of the ends of the blocks, rising."""
    steps_mm: tuple[float, float, float]
    """Smallest step of traverse, cross and infeed."""
    decimal_mm: float
    """What the last decimal of a word stands for: as between inches and millimetres, a step need
    not be so many of them."""
    rounding_mm: float
    """Most that rounding to them puts the depth off by."""
    beside_mm: float
    """Most that it puts the relief off along the face."""
    safe_mm: float
    """Infeed at which the wheel is clear of the whole blade, wherever it stands."""
    off_mm: tuple[float, float]
    """Traverse at which the wheel is the run-off past either end of the blade."""
    chord_mm: float
    feed_mm_min: float
    """Fastest that the edge may pass the wheel, every axis within its feed and acceleration."""
    acceleration_mm_s2: float
    """With which it comes to that feed."""
    axis_feeds: tuple[float, float, float, float]
    """Fastest that traverse, cross, infeed (mm/min) and turn (deg/min) go; endless for one that
    there is not."""
    read_s: float
    """What the controller takes to read a block: none may be over sooner."""

    @property
    def farthest_up_mm(self) -> float:
        """From the run-off at the depth of the face up to the height over the whole blade."""
        ends = self.path.stand(np.array([self.ends_mm[0], self.ends_mm[-1]]), 0.0, 0.0)
        return self.safe_mm - float(ends[:, 2].min())

    @property
    def shortest_mm(self) -> float:
        """Length of edge of the shortest block."""
        return float(np.diff(self.ends_mm).min())

    def least_minutes(self, ways: Floats) -> Floats:
        """The least time of moves that keeps every axis within its feed, and is read in time.

        ``ways`` are mm of the straight axes and degrees of the turn. Shape: (n, 4) -> (n,).
        """
        by_axes = (np.abs(ways) / np.array(self.axis_feeds)).max(axis=-1)
        return np.asarray(np.maximum(by_axes, self.read_s / 60.0))

    @property
    def infeed_feed_mm_min(self) -> float:
        """Fastest that every straight axis goes."""
        return min(self.axis_feeds[:3])

    def stands(self, traverse_mm: ArrayLike, cross_mm: float, infeed_mm: float) -> Floats:
        """What the axes are told for unrolled places: whole steps, as they are written.

        Traverse, cross, infeed and turn; the turn in degrees. Shape: (n,) -> (n, 4).
        """
        path = self.path
        straight = self.rounded(path.stand(traverse_mm, cross_mm, infeed_mm))
        turns = path.turn_deg(path.length_mm(traverse_mm))
        if path.turn is not None:
            turns = np.round(turns / path.turn.step_deg) * path.turn.step_deg
        return np.concatenate([straight, turns[..., None]], axis=-1)

    def rounded(self, stand_mm: Floats) -> Floats:
        """Positions in whole steps of each axis, as they are written. Shape: (..., 3)."""
        steps = np.array(self.steps_mm)
        stepped = np.round(stand_mm / steps) * steps
        return np.asarray(np.round(stepped / self.decimal_mm) * self.decimal_mm)


def slide_blocks(machine: Machine, path: SlidePath, work: FaceWork, row: Row) -> SlideBlocks:
    """The blocks of every pass: each ends where the one before, whichever way it runs."""
    axes = [
        next((a for a in machine.axes.values() if a.role == role), None)
        for role in ("traverse", "cross", "infeed")
    ]
    straight = [a if isinstance(a, LinearAxis) else None for a in axes]
    steps = [math.inf if a is None else smallest_step_mm(machine, a) for a in straight]
    low, high = row.ends_mm
    chord = min(CHORD_MM, _CHORD_OF_STEP * steps[2])
    speeds, bends = _rates(path, low, high)
    turn = path.turn
    feeds = [math.inf if a is None else a.max_feed_mm_min for a in straight]
    feeds.append(math.inf if turn is None else turn.max_feed_deg_min)
    accelerations = [math.inf if a is None else a.acceleration_mm_s2 for a in straight]
    accelerations.append(math.inf if turn is None else turn.acceleration_deg_s2)
    most_speed, most_bend = np.abs(speeds).max(axis=0), np.abs(bends).max(axis=0)
    with np.errstate(divide="ignore"):
        by_feed = float(np.min(np.array(feeds) / most_speed))
        by_bend = 60.0 * math.sqrt(float(np.min(np.array(accelerations) / most_bend)))
        starts = float(np.min(np.array(accelerations) / most_speed))
    decimal = last_decimal_mm(machine)
    moving = np.array([0.0 if math.isinf(s) else s + _of_decimals(s, decimal) for s in steps])
    rounding = _rounding_mm(path, moving)
    return SlideBlocks(
        path=path,
        ends_mm=tuple(_block_ends(path, low, high, chord).tolist()),
        steps_mm=(steps[0], steps[1] if math.isfinite(steps[1]) else 1.0, steps[2]),
        decimal_mm=decimal,
        rounding_mm=rounding,
        beside_mm=_beside_mm(path, moving),
        safe_mm=_safe_mm(machine, path, work, steps[2]),
        off_mm=_off_mm(path, row, steps[0]),
        chord_mm=chord,
        feed_mm_min=min(by_feed, by_bend),
        acceleration_mm_s2=starts,
        axis_feeds=(feeds[0], feeds[1], feeds[2], feeds[3]),
        read_s=1.0 / machine.controller.blocks_per_s,
    )


def _of_decimals(step: float, decimal: float) -> float:
    """The rounding of a step to decimals that it is not a whole number of."""
    return 0.0 if abs(step / decimal - round(step / decimal)) < _WHOLE else decimal


def _rounding_mm(path: SlidePath, steps: Floats) -> float:
    """Most that half a step of each axis puts the wheel off its depth, over the edge."""
    edge = np.linspace(0.0, path.course.edge.length_mm, _LOOKS)
    back = -path.turned_rad(edge)
    normals = turned(path.normal(edge), back)
    off = np.abs(normals @ path.axes.T) @ steps / 2.0
    if path.turn is not None:
        zero = np.zeros_like(edge)
        touched = path.plane.points(path.course.at(edge), path.middle_mm + zero, zero)
        at = turned(touched, back)
        lever = np.abs(normals[:, 1] * at[:, 0] - normals[:, 0] * at[:, 1])
        off = off + lever * math.radians(path.turn.step_deg) / 2.0
    return float(off.max())


def _beside_mm(path: SlidePath, steps: Floats) -> float:
    """Most that half a step of each axis moves the relief along the face, over the edge.

    Out of its place by d, the wheel touches where the edge is further on by t . d / t . c', c' the
    way of its middle for a millimetre of edge; over that way it goes a . c' along the face by
    itself. What is left is d . (a - t (a . c') / (t . c')), a along the face, t along the edge.
    """
    edge = np.linspace(0.0, path.course.edge.length_mm, _LOOKS)
    zero = np.zeros_like(edge)
    ways = path.centre_mm(edge + _NEAR_MM, zero, zero) - path.centre_mm(edge - _NEAR_MM, zero, zero)
    places = path.course.at(edge)
    along = path.plane.directions(places)[0]
    aside = np.sum(along * ways, axis=-1) / np.sum(places.along * ways, axis=-1)
    back = -path.turned_rad(edge)
    moved = turned(along - aside[:, None] * places.along, back)
    off = np.abs(moved @ path.axes.T) @ steps / 2.0
    if path.turn is not None:
        at = turned(path.centre_mm(edge, zero, zero), back)
        lever = np.abs(moved[:, 1] * at[:, 0] - moved[:, 0] * at[:, 1])
        off = off + lever * math.radians(path.turn.step_deg) / 2.0
    return float(off.max())


def _rates(path: SlidePath, low: float, high: float) -> tuple[Floats, Floats]:
    """First and second derivative of the positions by the length along the edge, (n, 4) each.

    Where the edge goes over from one arc into the next its curvature jumps: no second derivative
    is taken across such a place, for the axes then change their speed and not their place.
    """
    places = np.linspace(low, high, _LOOKS)
    joints = path.unrolled_mm(np.array(_joints(path)))
    before, here, after = (
        np.column_stack([path.stand(at, 0.0, 0.0), path.turn_deg(path.length_mm(at))])
        for at in (places + step for step in (-_NEAR_MM, 0.0, _NEAR_MM))
    )
    speeds = (after - before) / (2.0 * _NEAR_MM)
    bends = (before - 2.0 * here + after) / _NEAR_MM**2
    if len(joints):
        bends[np.abs(places[:, None] - joints).min(axis=1) <= _NEAR_MM] = 0.0
    return speeds, bends


def _joints(path: SlidePath) -> list[float]:
    """Lengths along a curve at which its curvature may jump."""
    edge = path.course.edge
    if not isinstance(edge, CurveEdge):
        return []
    inner = np.cumsum([piece.length_mm for piece in edge.arcs or ()]).tolist()
    return [0.0, *inner, edge.length_mm]


def _block_ends(path: SlidePath, low: float, high: float, chord: float) -> Floats:
    """Ends of blocks, close together where the way bends much: what a block leaves its path by
    goes with its length squared."""

    def off(ends: Floats) -> Floats:
        found = [path.off_between(ends, aside) for aside in path.asides_mm]
        each = [np.maximum(np.abs(out), np.abs(along) / _ASIDE) for out, along in found]
        return np.asarray(np.max(each, axis=0))

    places = np.linspace(low, high, _LOOKS)
    probes = np.stack([places - _PROBE_MM, places + _PROBE_MM], axis=-1)
    density = np.sqrt(off(probes) / chord) / (2.0 * _PROBE_MM)
    # Never one block for nothing: it ends somewhere.
    density = np.maximum(density, 1.0 / (high - low))
    done = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(places))])
    count = max(math.ceil(done[-1]), 1)
    while True:
        ends = np.interp(np.linspace(0.0, done[-1], count + 1), done, places)
        left = float(off(np.stack([ends[:-1], ends[1:]], axis=-1)).max())
        if left <= chord * (1 + 1e-6):
            return ends
        count = math.ceil(count * min(max(math.sqrt(left / chord), 1.02), 2.0))


def _safe_mm(machine: Machine, path: SlidePath, work: FaceWork, step: float) -> float:
    """The wheel's lowest point stands its radius under its middle; below that no blade may be."""
    y, z = np.array(blank_outline(work)).T
    places = path.course.at(np.linspace(0.0, path.course.edge.length_mm, _LOOKS // 4))
    up = path.axes[2]
    corners = places.edge_mm[:, None] + places.to_spine[:, None] * y[:, None]
    corners = corners + places.to_face_a[:, None] * z[:, None]
    # Over the blade the turn goes from one end of its way to the other.
    turns = path.turned_rad(np.linspace(0.0, path.course.edge.length_mm, _LOOKS // 4))
    ways = np.linspace(float(turns.min()), float(turns.max()), 1 if path.turn is None else _TURNS)
    heights = np.stack([turned(corners, -way) @ up for way in ways])
    clear = machine.fixture.clearance_mm
    lowest = float(path.zero_mm @ up) - path.wheel.radius_mm
    safe = max(float(heights.max()) - lowest, 0.0) + clear
    return math.ceil(safe / step - 1e-6) * step


def span_mm(path: SlidePath) -> tuple[float, float]:
    """From where to where the edge itself lies along the traverse, as it is at the anchor."""
    ends = path.course.at([0.0, path.course.edge.length_mm]).edge_mm @ path.axes[0]
    return float(ends.min()), float(ends.max())


def _off_mm(path: SlidePath, row: Row, step: float) -> tuple[float, float]:
    first, last = span_mm(path)
    past = first - row.clear_mm, last + row.clear_mm
    return math.floor(past[0] / step) * step, math.ceil(past[1] / step) * step


def along_the_path(machine: Machine, blocks: SlideBlocks) -> Machine:
    """The machine as the edge sees it: its traverse runs along the edge, as fast as all follow."""
    letter = blocks.path.letters["traverse"]
    real = linear_axis(machine, "traverse")
    along = real.model_copy(
        update={
            "max_feed_mm_min": blocks.feed_mm_min,
            "acceleration_mm_s2": blocks.acceleration_mm_s2,
        }
    )
    axes: dict[AxisLetter, Axis] = {
        key: along if key == letter else axis for key, axis in machine.axes.items()
    }
    return machine.model_copy(update={"axes": axes})


def slide_rooms(machine: Machine, blocks: SlideBlocks, unrolled: list[Room]) -> list[Room]:
    """The rooms of a set-up that follows its edge, from those of the unrolled one.

    The unrolled rooms say how deep and how far aside the wheel goes, and how high it is lifted.
    """
    path = blocks.path
    at = {room.role: (room.low, room.high) for room in unrolled}
    # The unrolled rooms are in the program's own figures, where an axis may be turned round.
    signs = {a.role: (-1.0 if a.invert else 1.0) for a in machine.axes.values()}
    infeeds = [signs["infeed"] * v for v in at["infeed"]]
    crosses = [signs["cross"] * v for v in at["cross"]] if "cross" in at else [0.0]
    places = np.linspace(blocks.ends_mm[0], blocks.ends_mm[-1], _LOOKS)
    # Zero itself is gone to as well, when the wheel is touched off.
    stands = np.concatenate(
        [
            np.zeros((1, 3)),
            *(path.stand(places, cross, infeed) for cross in crosses for infeed in infeeds),
        ]
    )
    lift = max(infeeds) - machine.fixture.clearance_mm
    spans = {
        role: (float(stands[:, k].min()), float(stands[:, k].max()))
        for k, role in enumerate(("traverse", "cross", "infeed"))
    }
    if machine.spindle.control == "by_hand" or machine.fixture.cooling == "dip":
        ends = (*spans["traverse"], *blocks.off_mm)
        spans["traverse"] = (min(ends), max(ends))
    spans["infeed"] = (spans["infeed"][0], max(spans["infeed"][1], blocks.safe_mm + lift))
    spans["tilt"] = (path.frame.tilt_deg, path.frame.tilt_deg)
    if path.turn is not None:
        turns = blocks.stands(places, 0.0, 0.0)[:, 3]
        spans["turn"] = (min(float(turns.min()), 0.0), max(float(turns.max()), 0.0))
    return rooms_of(machine, spans)
