"""A bevel that bulges, ground in facets by a tilt that is swept: every facet a case of its own.

From ``docs/frames.md`` and ``docs/operations.md``: one set-up, one touch-off, and an axis whose
place beside the blade is known. A facet is a flat bevel whose depths count from the corner of the
stock, along its own normal; it begins on what the facet before it left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import shapely

from planner.inputs.machine import Machine
from planner.proof.frame import Flip, Frame, Pivot
from planner.proof.target import FaceName, ImpossibleError, Vector
from planner.proof.tool import RimTool

if TYPE_CHECKING:
    from planner.proof.bulge import FlatGoal
    from planner.proof.case import Case

MOST_SWEPT = 60
"""More facets than this nobody sweeps over one face. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """All the facets of one program."""

    facets: tuple[Case, ...]
    """From the edge to the shoulder, each at its tilt."""
    tilts_deg: tuple[float, ...]
    rises_mm: float
    """How far the corner of the stock comes up while the tilt turns from the first facet to the
    last, over where it is at program zero; never below 0."""

    def nearest(self, tilt_deg: float) -> int:
        """Index of the facet whose tilt is nearest."""
        off = [abs(tilt_deg - tilt) for tilt in self.tilts_deg]
        return off.index(min(off))

    def at_tilt(self, tilt_deg: float) -> Case:
        """The facet whose tilt is nearest."""
        return self.facets[self.nearest(tilt_deg)]


@dataclass(frozen=True, eq=False)
class Facet:
    """What a facet asks, and the section that it begins on."""

    goal: FlatGoal
    steel: shapely.Geometry
    tolerance_mm: float
    tilt_deg: float


def swept(case: Case, facets: Sequence[Facet], stock_mm: float) -> Case:
    """The case of a first facet made that of the whole sweep.

    ``stock_mm`` is the height of the stock's corner over the centre plane.
    Raises: ImpossibleError where the axis is not known in this set-up.
    """
    machine, name = case.machine, case.setup.face
    pivot = Pivot(pivot_at(machine, name), facets[0].tilt_deg)
    origin, flip = case.frame.origin, machine.fixture.flip
    corner = (0.0, stock_mm if name == "A" else -stock_mm)
    cases = []
    for facet in facets:
        plane = facet.goal.plane
        deep = -plane.depth_mm(corner)
        face = plane.lifted(deep)
        frame = replace(case.frame, face=face, pivot=pivot)
        assert isinstance(case.tool, RimTool)
        cases.append(
            replace(
                case,
                finished=plane,
                face=face,
                bulge=facet.goal,
                blank=facet.steel,
                depth_mm=deep,
                begins_mm=deep - facet.goal.depth_mm,
                depth_tolerance_mm=facet.tolerance_mm,
                frame=frame,
                tool=replace(case.tool, frame=frame),
                bare_mm=0.0,
            )
        )
    tilts = tuple(facet.tilt_deg for facet in facets)
    from_axis = corner[0] - pivot.at[0], corner[1] - pivot.at[1]
    turning = Frame(cases[0].face, flip, origin, 0.0, 1.0)
    return replace(cases[0], sweep=Sweep(tuple(cases), tilts, rises_mm(turning, from_axis, tilts)))


def pivot_at(machine: Machine, face: FaceName) -> Vector:
    """Where the tilt's axis crosses the section of the blade as it is clamped in a set-up.

    It goes with what holds the blade, as obstacles do.
    """
    fixture = machine.fixture
    if fixture.tilt_axis is None:
        raise ImpossibleError("an axis of the tilt whose place is not told")
    y, z = fixture.tilt_axis.at_yz_mm
    flip: Flip = fixture.flip
    if face == "A" or flip == "by_tilt":
        return y, z
    if flip == "end_for_end":
        return y, -z
    if fixture.turn_line_mm is None:
        raise ImpossibleError("the tilt's axis on face B: the line that the blade is turned about")
    return 2.0 * fixture.turn_line_mm - y, -z


def rises_mm(frame: Frame, from_axis: Vector, tilts_deg: Sequence[float]) -> float:
    """How far a point of the blade comes up over its height at the first tilt, at any between.

    Turned by d from the first tilt, a point u along the cross and v up from the axis stands at
    v cos d - u sin d: at most hypot(u, v), where tan d = -u / v.
    """
    u, v = (from_axis[0] * y + from_axis[1] * z for y, z in frame.directions(tilts_deg[0]))
    turned = [math.radians(tilt - tilts_deg[0]) for tilt in tilts_deg]
    heights = [v * math.cos(d) - u * math.sin(d) for d in turned]
    top = math.atan2(-u, v)
    if min(turned) <= top <= max(turned):
        heights.append(math.hypot(u, v))
    return max(heights) - v
