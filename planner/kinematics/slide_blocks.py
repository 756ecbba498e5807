"""How a followed edge becomes blocks: where they end, how fast they may go, how high is clear."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.inputs.axes import Axis, AxisLetter, LinearAxis
from planner.inputs.edge_curve import CurveEdge
from planner.inputs.machine import Machine
from planner.kinematics.room import Room, rooms_of
from planner.kinematics.row import Row
from planner.kinematics.slide_path import SlidePath
from planner.kinematics.touch_frame import last_decimal_mm, linear_axis, smallest_step_mm
from planner.section.profile import face_points
from planner.section.work import FaceWork

Floats = NDArray[np.float64]

CHORD_MM = 0.00025
"""Most that a straight block may leave its curve by, normal to the face: a quarter of an infeed
step of a micrometre. Common practice, no source."""
_CHORD_OF_STEP = 0.25
_ASIDE = 10.0
"""Along the face it may leave it by so many times as much: a land moves so far, not ten times."""
_WHOLE = 1e-6
_LOOKS = 2001
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
    safe_mm: float
    """Infeed at which the wheel is clear of the whole blade, wherever it stands."""
    off_mm: tuple[float, float]
    """Traverse at which the wheel is the run-off past either end of the blade."""
    chord_mm: float
    feed_mm_min: float
    """Fastest that the edge may pass the wheel, every axis within its feed and acceleration."""
    acceleration_mm_s2: float
    """With which it comes to that feed."""
    axis_feeds_mm_min: tuple[float, float, float]
    """Fastest that traverse, cross and infeed go; endless for one that there is not."""

    @property
    def farthest_up_mm(self) -> float:
        """From the run-off at the depth of the face up to the height over the whole blade."""
        ends = self.path.stand(np.array([self.ends_mm[0], self.ends_mm[-1]]), 0.0, 0.0)
        return self.safe_mm - float(ends[:, 2].min())

    @property
    def shortest_mm(self) -> float:
        """Length of edge of the shortest block."""
        return float(np.diff(self.ends_mm).min())

    def fastest_mm_min(self, ways_mm: Floats) -> Floats:
        """The fastest feed of moves that keeps every axis within its own. Shape: (n, 3) -> (n,)."""
        with np.errstate(divide="ignore"):
            most = np.array(self.axis_feeds_mm_min) / np.abs(ways_mm)
        return np.asarray(np.linalg.norm(ways_mm, axis=-1) * most.min(axis=-1))

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
    speeds, bends, places = _rates(path, low, high)
    feeds = [math.inf if a is None else a.max_feed_mm_min for a in straight]
    accelerations = [math.inf if a is None else a.acceleration_mm_s2 for a in straight]
    most_speed, most_bend = np.abs(speeds).max(axis=0), np.abs(bends).max(axis=0)
    with np.errstate(divide="ignore"):
        by_feed = float(np.min(np.array(feeds) / most_speed))
        by_bend = 60.0 * math.sqrt(float(np.min(np.array(accelerations) / most_bend)))
        starts = float(np.min(np.array(accelerations) / most_speed))
    decimal = last_decimal_mm(machine)
    moving = np.array([0.0 if math.isinf(s) else s + _beside(s, decimal) for s in steps])
    edge = np.linspace(0.0, path.course.edge.length_mm, _LOOKS)
    weights = np.abs(path.normal(edge) @ path.axes.T)
    return SlideBlocks(
        path=path,
        ends_mm=tuple(_block_ends(path, low, high, chord, bends, places).tolist()),
        steps_mm=(steps[0], steps[1] if math.isfinite(steps[1]) else 1.0, steps[2]),
        decimal_mm=decimal,
        rounding_mm=float((weights @ moving).max()) / 2.0,
        safe_mm=_safe_mm(machine, path, work, steps[2]),
        off_mm=_off_mm(path, row, steps[0]),
        chord_mm=chord,
        feed_mm_min=min(by_feed, by_bend),
        acceleration_mm_s2=starts,
        axis_feeds_mm_min=(feeds[0], feeds[1], feeds[2]),
    )


def _beside(step: float, decimal: float) -> float:
    """The rounding of a step to decimals that it is not a whole number of."""
    return 0.0 if abs(step / decimal - round(step / decimal)) < _WHOLE else decimal


def _rates(path: SlidePath, low: float, high: float) -> tuple[Floats, Floats, Floats]:
    """First and second derivative of the positions by the length along the edge, and where.

    Where the edge goes over from one arc into the next its curvature jumps: no second derivative
    is taken across such a place, for the axes then change their speed and not their place.
    """
    places = np.linspace(low, high, _LOOKS)
    joints = path.unrolled_mm(np.array(_joints(path)))
    near = np.abs(places[:, None] - joints).min(axis=1) <= _NEAR_MM if len(joints) else None
    before, here, after = (
        path.stand(places + step, 0.0, 0.0) for step in (-_NEAR_MM, 0.0, _NEAR_MM)
    )
    speeds = (after - before) / (2.0 * _NEAR_MM)
    bends = (before - 2.0 * here + after) / _NEAR_MM**2
    if near is not None:
        bends[near] = 0.0
    return speeds, bends, places


def _joints(path: SlidePath) -> list[float]:
    """Lengths along a curve at which its curvature may jump."""
    edge = path.course.edge
    if not isinstance(edge, CurveEdge):
        return []
    inner = np.cumsum([piece.length_mm for piece in edge.arcs or ()]).tolist()
    return [0.0, *inner, edge.length_mm]


def _block_ends(
    path: SlidePath, low: float, high: float, chord: float, bends: Floats, places: Floats
) -> Floats:
    """Ends of blocks, close together where the way bends much. A chord leaves its arc by
    bend * length² / 8."""
    s = path.length_mm(places)
    along, normal = path.plane.directions(path.course.at(s))
    bent = bends @ path.axes
    density = np.sqrt(
        np.maximum(
            np.abs(np.sum(bent * normal, axis=-1)) / (8.0 * chord),
            np.abs(np.sum(bent * along, axis=-1)) / (8.0 * _ASIDE * chord),
        )
    )
    # Never emptier than its neighbours within a block: the way there is not straight yet.
    density = np.maximum(density, 1.0 / (high - low))
    done = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(places))])
    count = max(math.ceil(done[-1]), 1)
    while True:
        ends = np.interp(np.linspace(0.0, done[-1], count + 1), done, places)
        middle = (ends[1:] + ends[:-1]) / 2
        at = path.stand(ends, 0.0, 0.0) @ path.axes
        off = path.stand(middle, 0.0, 0.0) @ path.axes - (at[1:] + at[:-1]) / 2
        along, normal = path.plane.directions(path.course.at(path.length_mm(middle)))
        left = max(
            float(np.abs(np.sum(off * normal, axis=-1)).max()),
            float(np.abs(np.sum(off * along, axis=-1)).max()) / _ASIDE,
        )
        if left <= chord * (1 + 1e-6):
            return ends
        count = math.ceil(count * min(max(math.sqrt(left / chord), 1.02), 2.0))


def _safe_mm(machine: Machine, path: SlidePath, work: FaceWork, step: float) -> float:
    """The wheel's lowest point stands its radius under its middle; below that no blade may be."""
    points = [
        (y, (1.0 if face.face == "A" else -1.0) * z)
        for face in work.section.faces
        for y, z in face_points(face)
    ]
    y, z = np.array(points).T
    places = path.course.at(np.linspace(0.0, path.course.edge.length_mm, _LOOKS // 4))
    up = path.axes[2]
    heights = (places.edge_mm @ up)[:, None] + np.outer(places.to_spine @ up, y)
    heights += np.outer(places.to_face_a @ up, z)
    clear = machine.fixture.clearance_mm
    lowest = float(path.zero_mm @ up) - path.wheel.radius_mm
    safe = max(float(heights.max()) - lowest, 0.0) + clear
    return math.ceil(safe / step - 1e-6) * step


def _off_mm(path: SlidePath, row: Row, step: float) -> tuple[float, float]:
    ends = path.course.at([0.0, path.course.edge.length_mm]).edge_mm @ path.axes[0]
    past = (float(ends.min()) - row.clear_mm, float(ends.max()) + row.clear_mm)
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
    return rooms_of(machine, spans)
