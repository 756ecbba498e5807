"""One set-up as plain numbers: what the judge needs of the job, the machine and the wheel."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import shapely

from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.proof.arc import Turned, curvature_per_mm, reach_inside_mm
from planner.proof.axes import ProgramAxis, reachable_tilt_deg
from planner.proof.bulge import BulgeGoal, FlatGoal, ridge_mm
from planner.proof.followed import CHORD_MM, Followed
from planner.proof.followed_rounding import beside_mm
from planner.proof.frame import Frame
from planner.proof.left_by import Left, LeftFlat
from planner.proof.operation import SetupName, above_plane
from planner.proof.pierced import Skin
from planner.proof.row import RowAround
from planner.proof.steel import wheel_below_face
from planner.proof.sweep import Sweep
from planner.proof.target import Face, Relief, Vector
from planner.proof.tool import Tool, reach_along_edge_mm
from planner.proof.wheel_at_speed import WheelAtSpeed

_MOST_STEPS = 10
_WHOLE = 1e-6


@dataclass(frozen=True)
class Case:
    """One set-up: the face, what is ground into it, the wheel, the frame and every limit.

    Places along the three planes of a face are those of the finished one.
    """

    job: Job
    machine: Machine
    setup: SetupName
    finished: Face
    """The face as the job wants it."""
    face: Face
    """The plane that the wheel bares on at program zero; depths count from it."""
    lift_mm: float
    """How far the face stands outside the finished one when the program is done."""
    other_face: Face
    """The other face, finished."""
    relief: Relief | None
    """The finished relief; None of a bevel, which does not know it."""
    other_relief: Relief | None
    """That of the other face, where its settings put it; None where only this face is relieved,
    and of a bevel."""
    aside_mm: float
    """How far beyond the place asked for, toward the shoulder, a cross set by hand puts it."""
    held_relief: Relief | None
    """The finished relief where the setting of the cross puts it; None of a bevel."""
    blank: shapely.Geometry
    """The section before the program."""
    depth_mm: float
    """From the plane at zero to the target."""
    depth_tolerance_mm: float
    wheel: Wheel
    at_speed: WheelAtSpeed
    tool: Tool
    bare_mm: float
    """Height of the wheel's reference point over the plane at zero."""
    generates: bool
    """Whether a smaller wheel makes the relief in parallel lines."""
    frame: Frame
    axes: Mapping[str, ProgramAxis]
    """By letter, in the machine's order."""
    by_role: Mapping[str, int]
    """Role to index in a position."""
    fixed_tilt_deg: float
    """What a person sets where no axis tilts; 0 where nothing does."""
    set_cross_mm: float | None
    """Where a person sets the cross, from the edge along the face; None where nobody does."""
    half_decimal_mm: float
    """Half of the last decimal that the machine's programs are written with."""
    turned: Turned | None
    """How an edge along an arc is turned under the wheel; None where nothing turns it."""
    followed: Followed | None
    """How the straight axes follow an edge that is not straight."""
    skin: Skin | None
    """That of the blade on such an edge."""
    left: tuple[Left, ...]
    """What the wheel leaves in evenly spaced sections of such an edge, heel to tip; else empty."""
    row: RowAround
    """The row that this blade stands in; by itself where there is none."""
    bulge: FlatGoal | BulgeGoal | None
    """What is left of a bevel that bulges; None of any other set-up."""
    begins_mm: float = 0.0
    """Depth below the plane at zero at which the program's steel begins."""
    sweep: Sweep | None = None
    """All the facets of a tilt that is swept, of which this is the first."""

    @property
    def ridge_mm(self) -> float:
        """How high the ridges may stand that the program leaves; 0 where it leaves none."""
        if self.bulge is not None:
            return ridge_mm(self.job) or 0.0
        return (self.job.relief.scallop_mm or 0.0) if self.generates else 0.0

    @property
    def swept(self) -> bool:
        """Whether this is a facet of a tilt that is swept, or all of them."""
        return self.frame.pivot is not None

    @property
    def set_tilt_deg(self) -> float | None:
        """The tilt that a person sets; None where nobody does."""
        return None if self.machine.fixture.hand_tilt is None else self.fixed_tilt_deg

    @property
    def edge_length_mm(self) -> float:
        """Length of the edge."""
        return self.job.edge.length_mm

    @property
    def specific_energy_j_mm3(self) -> float:
        """The wheel's; a belt's rises in a straight line, by half until it is retired."""
        belt = self.wheel.belt
        worn = 0.0 if belt is None else belt.worn
        return self.wheel.specific_energy_j_mm3 * (1.0 + worn / 2.0)

    @property
    def middle_mm(self) -> float:
        """The place over which the wheel stands at cross 0."""
        return middle_mm(self.finished, self.setup, self.relief, self.bulge) + self.aside_mm

    @property
    def wanted(self) -> Relief:
        """The finished relief, of a set-up that has one."""
        assert self.relief is not None
        return self.relief

    def depth_at_mm(self, reference: Vector) -> float:
        """How far the wheel is below the plane at zero, its reference point standing there."""
        return self.bare_mm + self.face.depth_mm(reference)

    @cached_property
    def reach_mm(self) -> float:
        """How far from its middle plane the wheel touches along the edge, at its deepest."""
        if self.sweep is not None:
            return max(facet.reach_mm for facet in self.sweep.facets)
        deepest = self.depth_mm - self.begins_mm + self.half_decimal_mm
        if self.followed is not None:
            return self.followed.reach_mm(deepest)
        if self.setup.face == "B":
            inside = reach_inside_mm(self.job, self.wheel, deepest)
            if inside is not None:
                return inside
        return reach_along_edge_mm(self.wheel, deepest, self.curvature_per_mm)

    @cached_property
    def off_mm(self) -> float:
        """How far the whole steps of the axes may put a wheel that follows off its depth."""
        return 0.0 if self.followed is None else self.followed.across_mm(self._followed_steps)

    @cached_property
    def beside_mm(self) -> float:
        """The same along the face."""
        return 0.0 if self.followed is None else beside_mm(self.followed, self._followed_steps)

    @property
    def _followed_steps(self) -> dict[str, float]:
        """The steps of the axes that follow, by role; mm, deg."""
        assert self.followed is not None
        straight = [role for role in self.by_role if role in ("traverse", "cross", "infeed")]
        steps = {role: step_mm(self, role) for role in straight}
        if self.followed.turn_sign is not None:
            axis = list(self.axes.values())[self.by_role["turn"]]
            steps["turn"] = max(10.0**-self.machine.controller.rotary_decimals, axis.resolution)
        return steps

    @property
    def uneven_mm(self) -> float:
        """By how much a pass that follows is uneven: rounding to both sides, and chords."""
        return 0.0 if self.followed is None else 2.0 * self.off_mm + CHORD_MM

    @cached_property
    def leans_mm(self) -> float:
        """How much deeper than in its middle a flat that follows comes anywhere on the face."""
        low, high = (
            self.finished.start_mm + share * self.finished.width_mm - self.middle_mm
            for share in (0.0, 1.0)
        )
        flats = [each for each in self.left if isinstance(each, LeftFlat)]
        return max([each.deepest_mm(low, high) for each in flats], default=0.0)

    @property
    def hollow_per_mm(self) -> float:
        """Curvature of the arc that lines make; below 0 where it bulges."""
        if isinstance(self.bulge, BulgeGoal):
            return -1.0 / (self.bulge.plane.radius_mm or math.inf)
        return 1.0 / self.wanted.arc_radius_mm

    @property
    def steepest(self) -> float:
        """The steepest that an arc in lines slopes to its middle; 0 of no such arc."""
        if isinstance(self.bulge, BulgeGoal):
            return math.tan((self.bulge.first_rad - self.bulge.last_rad) / 2.0)
        if not self.generates:
            return 0.0
        return self.wanted.chord_mm / 2.0 / self.wanted.arc_radius_mm

    @property
    def curvature_per_mm(self) -> float:
        """Of the edge along its path, as the wheel meets it."""
        if self.followed is not None:
            return self.followed.falls_away_per_mm
        return curvature_per_mm(self.job, self.setup.face)

    @property
    def wearing_width_mm(self) -> float:
        """Width of the rim that wears: all of it, or across the edge what touches at the target.

        Of a crown what the rough infeed puts below the surface.
        """
        width = self.wheel.width_mm
        if self.wheel.contact == "along_edge":
            rough = self.wheel.infeed.rough_mm
            return 2.0 * reach_along_edge_mm(self.wheel, rough, self.curvature_per_mm)
        if self.wheel.contact != "across_edge":
            return width
        if isinstance(self.bulge, BulgeGoal):
            # The place of contact goes round the rim by as much as the arc turns.
            turn = self.bulge.first_rad - self.bulge.last_rad
            return min(self.bulge.wheel_mm * turn, width)
        if self.setup.operation == "bevel":
            bevel = self.finished.bevel_rad
            cut_off = self.lift_mm / (math.sin(bevel) * math.cos(bevel))
            return min(self.finished.width_mm - cut_off, width)
        if self.setup.operation == "lands":
            return min(self.wanted.edge_land_mm + self.wanted.shoulder_land_mm, width)
        radius = self.wanted.arc_radius_mm
        chord = self.wanted.chord_at_mm(self.depth_mm)
        # In lines the place of contact goes round the rim by as much as the arc turns.
        return min(chord * (self.tool.arc_radius_mm or radius) / radius, width)

    def goal(self, depth_mm: float) -> shapely.Geometry:
        """What the program takes away down to a depth below the plane at zero."""
        if isinstance(self.bulge, BulgeGoal):
            return self.bulge.above(depth_mm)
        if self.setup.operation != "relief":
            return above_plane(self.face, depth_mm)
        radius = self.wanted.arc_radius_mm
        centre = self.face.point(self.middle_mm, depth_mm - radius)
        return shapely.Polygon(wheel_below_face(self.face, radius, centre))

    @cached_property
    def removed_area_mm2(self) -> float:
        """Section that the program takes."""
        if self.sweep is not None:
            return sum(facet.removed_area_mm2 for facet in self.sweep.facets)
        if self.setup.operation == "relief":
            return self.wanted.area_at_mm2(self.depth_mm)
        return float(shapely.intersection(self.blank, self.goal(self.depth_mm)).area)


def middle_mm(
    finished: Face, setup: SetupName, relief: Relief | None, bulge: FlatGoal | BulgeGoal | None
) -> float:
    """The middle of the relief, of the whole face for a flat wheel, the corner for lines."""
    if isinstance(bulge, BulgeGoal):
        return bulge.corner_mm
    if setup.operation == "relief" and relief is not None:
        return relief.middle_mm
    return finished.start_mm + finished.width_mm / 2.0


def held_tilt_deg(case: Case) -> float:
    """The tilt that the blade is ground at: the one nearest to the ideal that exists."""
    index = case.by_role.get("tilt")
    if index is None:
        return case.fixed_tilt_deg
    axis = list(case.axes.values())[index]
    return reachable_tilt_deg(case.machine, case.frame, axis)[0]


def infeed_step_mm(case: Case) -> float:
    """The infeed that both the axis can make and the program can write.

    Ten of the coarser of the two are looked at; where none is whole in the other, the coarser.
    """
    return step_mm(case, "infeed")


def step_mm(case: Case, role: str) -> float:
    """The same of the straight axis with a role."""
    resolution = list(case.axes.values())[case.by_role[role]].resolution
    finer, coarser = sorted((resolution, 2.0 * case.half_decimal_mm))
    for count in range(1, _MOST_STEPS + 1):
        parts = count * coarser / finer
        if abs(parts - round(parts)) < _WHOLE:
            return count * coarser
    return coarser
