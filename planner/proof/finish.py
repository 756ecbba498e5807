"""What a program has left at its end, measured at every station and held against the job."""

from __future__ import annotations

import math
from typing import NamedTuple

import shapely

from planner.proof.blade import Blade, Station, Steel
from planner.proof.bulge import BulgeGoal, FlatGoal
from planner.proof.case import Case, infeed_step_mm, step_mm
from planner.proof.faultlog import FaultLog
from planner.proof.forms import CHORD_ERROR_MM, blade_side
from planner.proof.measure import MeasuredBevel, measure_bevel, measure_ground_lands, ridge_mm
from planner.proof.operation import allowance_mm, bevel_operation
from planner.proof.over_arc import OverArc, over_arc
from planner.proof.rules import Rule
from planner.proof.steel import (
    MeasuredLands,
    blank_section,
    measure_lands,
    steel_left_mm,
)
from planner.proof.target import Relief
from planner.proof.verdict import Bevel, Lands

ALLOWANCE = 1.02
"""Force, power and the deflection left may pass their limits by this factor: the wheel is a
polygon here, and its plan was made with another model of the same circle."""
_LAND_SLACK_MM = 1e-6
_PLANE_MM = 1e-3
"""Lands that differ by no more than this lie in one plane."""


class Behind(NamedTuple):
    """What wear may leave at the end."""

    made_up_mm: float
    """A step made up for wear late in the program may still be in the spring in part."""
    worn_mm: float
    """How far wear may leave the last passes behind their places."""


class Finish:
    """Measures the stations' steel; faults go to the log at one line."""

    def __init__(self, case: Case, blade: Blade, log: FaultLog, line: int, behind: Behind) -> None:
        self.lands: list[Lands] = []
        self.bevels: list[Bevel] = []
        self._case = case
        self._blade = blade
        self._log = log
        self._line = line
        self._behind = behind
        if case.bulge is not None:
            self._measure_bulges(case.bulge)
        elif case.setup.operation == "bevel":
            self._measure_bevels()
        else:
            self._measure_lands()
        for steel in blade.distinct_steels():
            if not case.generates:
                self._check_depth_reached(steel)
            elif case.bulge is None:
                self._check_ridges(steel)
            self._check_steel_left(steel)

    def _measure_lands(self) -> None:
        off_plane: dict[int, float] = {}
        measured = {}
        for station in self._blade.stations:
            if id(station.steel) not in measured:
                found = self._lands_of(station)
                measured[id(station.steel)], off_plane[id(station.steel)] = found
        for station in self._blade.stations:
            lands = measured[id(station.steel)]
            self.lands.append(
                Lands(
                    station=station.name,
                    x_mm=station.nominal_x_mm,
                    edge_land_mm=lands.edge_land_mm,
                    shoulder_land_mm=lands.shoulder_land_mm,
                    depth_mm=lands.depth_mm,
                )
            )
        self._check_lands(self._case.wanted)
        off, station = max(
            ((off_plane[id(s.steel)], s) for s in self._blade.stations), key=lambda each: each[0]
        )
        if off > _PLANE_MM:
            self._log.add(
                self._line,
                Rule.LANDS_NOT_IN_ONE_PLANE,
                station=station.name,
                off_mm=off,
                most_mm=_PLANE_MM,
            )

    def _lands_of(self, station: Station) -> tuple[MeasuredLands, float]:
        """The lands on the finished blade, and how far they are from one plane."""
        case, steel = self._case, station.steel
        relief = case.wanted
        if case.setup.operation == "lands":
            beside = case.held_relief or relief
            ground = measure_ground_lands(steel.polygon, case.finished, beside)
            return ground.lands, ground.off_plane_mm
        radius = station.met.tool.arc_radius_mm or relief.arc_radius_mm
        before, after = self._finished(self._blade.blank), self._finished(steel.polygon)
        return measure_lands(after, before, case.finished, radius), 0.0

    def _finished(self, steel: shapely.Geometry) -> shapely.Geometry:
        """A section with what is left for later operations taken off."""
        if self._case.job.operations is None:
            return steel
        return shapely.intersection(steel, blank_section(self._case.job))

    def _check_lands(self, relief: Relief) -> None:
        worst: tuple[float, Lands, str, float, float] | None = None
        for lands in [*self.lands, *self._lands_between()]:
            for land, found, wanted in (
                ("edge land", lands.edge_land_mm, relief.edge_land_mm),
                ("shoulder land", lands.shoulder_land_mm, relief.shoulder_land_mm),
            ):
                error = abs(found - wanted)
                if worst is None or error > worst[0] + _LAND_SLACK_MM:
                    worst = (error, lands, land, found, wanted)
        if worst is None or worst[0] <= relief.land_tolerance_mm + _LAND_SLACK_MM:
            return
        _, lands, land, found, wanted = worst
        self._log.add(
            self._line,
            Rule.LAND_OUT_OF_TOLERANCE,
            land=land,
            station=lands.station,
            found_mm=found,
            wanted_mm=wanted,
            tolerance_mm=relief.land_tolerance_mm,
        )

    def _lands_between(self) -> list[Lands]:
        """The same in the sections between the stations of an edge that the straight axes follow.

        As deep as at the station nearest to it, with the arc that the wheel leaves there.
        """
        left = self._case.left
        if not left:
            return []
        found = []
        stations = self._blade.stations
        every = (len(left) - 1) // (len(stations) - 1)
        for n, here in enumerate(left):
            near = min(round(n / every), len(stations) - 1)
            if n == near * every:
                continue
            there, lands = left[near * every], self.lands[near]
            reached = stations[near].steel.reached_mm - there.deeper_mm
            halves = [
                half_chord_mm(each.radius_mm, reached + each.deeper_mm) for each in (here, there)
            ]
            wider, aside = halves[0] - halves[1], here.aside_mm - there.aside_mm
            x = self._case.edge_length_mm * n / (len(left) - 1)
            found.append(
                Lands(
                    station=f"place {x:.1f} mm from the heel",
                    x_mm=x,
                    edge_land_mm=lands.edge_land_mm - wider + aside,
                    shoulder_land_mm=lands.shoulder_land_mm - wider - aside,
                    depth_mm=reached + here.deeper_mm,
                )
            )
        return found

    def _measure_bevels(self) -> None:
        case = self._case
        finished, bevel = case.finished, bevel_operation(case.job)
        assert bevel is not None
        cosine, sine = math.cos(finished.bevel_rad), math.sin(finished.bevel_rad)
        other = allowance_mm(case.job, case.other_face.name) / math.cos(case.other_face.bevel_rad)
        edge = case.job.blade.section.edge_thickness_mm
        wanted = edge + case.lift_mm / cosine + other
        # A plane outside the finished face meets a thicker edge, and the flank sooner.
        width = finished.width_mm - case.lift_mm / (sine * cosine)
        measured = {
            id(steel): measure_bevel(steel.polygon, finished, case.lift_mm, width)
            for steel in self._blade.distinct_steels()
        }
        for station in self._blade.stations:
            found = measured[id(station.steel)]
            self.bevels.append(
                Bevel(
                    station=station.name,
                    x_mm=station.nominal_x_mm,
                    edge_thickness_mm=wanted + found.edge_mm / cosine,
                    highest_mm=found.highest_mm,
                    lowest_mm=found.lowest_mm,
                )
            )
        self._check_edge_thickness(wanted, bevel.edge_thickness_tolerance_mm)
        self._check_bevel_plane({id(at): (at.highest_mm, at.lowest_mm) for at in self.bevels})

    def _measure_bulges(self, goal: FlatGoal | BulgeGoal) -> None:
        case = self._case
        bevel, edge = bevel_operation(case.job), case.job.blade.section.edge_thickness_mm
        assert bevel is not None
        measured = {id(s): self._bulge_of(s.polygon, goal) for s in self._blade.distinct_steels()}
        for station in self._blade.stations:
            face, over = measured[id(station.steel)]
            # A flat that comes later leaves the edge alone.
            off = over.half_edge_mm if goal.makes_edge else 0.0
            self.bevels.append(
                Bevel(
                    station=station.name,
                    x_mm=station.nominal_x_mm,
                    edge_thickness_mm=edge + off,
                    highest_mm=face.highest_mm,
                    lowest_mm=face.lowest_mm,
                    ridge_mm=over.highest_mm,
                    gouge_mm=max(-over.lowest_mm, 0.0),
                )
            )
        self._check_edge_thickness(edge, bevel.edge_thickness_tolerance_mm)
        # What stands over an arc in lines are its ridges: they have a check of their own.
        heights = {id(at): 0.0 if case.generates else at.highest_mm for at in self.bevels}
        self._check_bevel_plane(
            {id(at): (heights[id(at)], min(at.lowest_mm, -at.gouge_mm)) for at in self.bevels}
        )
        for steel in self._blade.distinct_steels():
            wanted = self._ridge_of(steel.commanded, goal) if case.generates else None
            self._check_bulge_ridges(wanted, measured[id(steel)][1].highest_mm)

    def _bulge_of(
        self, steel: shapely.Geometry, goal: FlatGoal | BulgeGoal
    ) -> tuple[MeasuredBevel, OverArc]:
        """A flat against its plane, an arc in lines against itself; and the arc so far."""
        case = self._case
        side = blade_side(case.job.blade.section, case.face.name)
        over = over_arc(steel, side, case.face.name, goal.first_rad, goal.last_rad)
        if isinstance(goal, BulgeGoal):
            return MeasuredBevel(over.half_edge_mm, over.highest_mm, over.lowest_mm), over
        return measure_bevel(steel, goal.plane, 0.0, goal.plane.width_mm), over

    def _ridge_of(self, steel: shapely.Geometry, goal: FlatGoal | BulgeGoal) -> float:
        return self._bulge_of(steel, goal)[1].highest_mm

    def _check_bulge_ridges(self, wanted_mm: float | None, found_mm: float) -> None:
        """Over the arc: what the program wants, and what the spring adds to it."""
        case = self._case
        most = case.ridge_mm
        # Positions are whole steps; the cross moves the wheel off the arc by its slope there.
        steps = infeed_step_mm(case)
        if isinstance(case.bulge, BulgeGoal):
            turn = (case.bulge.first_rad - case.bulge.last_rad) / 2.0
            steps += math.tan(turn) * step_mm(case, "cross")
        slack = steps + 2.0 * CHORD_ERROR_MM + self._behind.worn_mm
        if wanted_mm is not None and wanted_mm > most + slack:
            self._log.add(self._line, Rule.RIDGES_TOO_HIGH, ridge_mm=wanted_mm, most_mm=most)
            return
        left = case.job.relief.residual_share * case.depth_tolerance_mm
        residual = found_mm - most
        if residual <= left * ALLOWANCE + slack + self._behind.made_up_mm:
            return
        if wanted_mm is None:
            self._log.add(self._line, Rule.RIDGES_TOO_HIGH, ridge_mm=found_mm, most_mm=most)
        else:
            self._log.add(self._line, Rule.MISSING_SPARK_OUT, residual_mm=residual, most_mm=left)

    def _check_edge_thickness(self, wanted_mm: float, tolerance_mm: float) -> None:
        worst = max(self.bevels, key=lambda at: abs(at.edge_thickness_mm - wanted_mm))
        if abs(worst.edge_thickness_mm - wanted_mm) > tolerance_mm + _LAND_SLACK_MM:
            self._log.add(
                self._line,
                Rule.EDGE_OUT_OF_TOLERANCE,
                station=worst.station,
                found_mm=worst.edge_thickness_mm,
                wanted_mm=wanted_mm,
                tolerance_mm=tolerance_mm,
            )

    def _check_bevel_plane(self, ends_mm: dict[int, tuple[float, float]]) -> None:
        """``ends_mm`` are the highest and the lowest that count, by the identity of a bevel."""
        most = self._case.depth_tolerance_mm
        off = {id(at): max(ends_mm[id(at)][0], -ends_mm[id(at)][1]) for at in self.bevels}
        worst = max(self.bevels, key=lambda at: off[id(at)])
        if off[id(worst)] > most + _LAND_SLACK_MM:
            highest, lowest = ends_mm[id(worst)]
            self._log.add(
                self._line,
                Rule.BEVEL_OUT_OF_TOLERANCE,
                station=worst.station,
                highest_mm=highest,
                lowest_mm=lowest,
                tolerance_mm=most,
            )

    def _check_depth_reached(self, steel: Steel) -> None:
        most = self._case.job.relief.residual_share * self._case.depth_tolerance_mm
        # Of an edge that is followed a pass goes as deep as its deepest block.
        residual = steel.commanded_mm - steel.reached_mm - self._case.uneven_mm
        if residual > most * ALLOWANCE + self._behind.made_up_mm:
            self._log.add(self._line, Rule.MISSING_SPARK_OUT, residual_mm=residual, most_mm=most)

    def _check_ridges(self, steel: Steel) -> None:
        """The ridges that the program wants and those that the spring adds, above the arc."""
        case = self._case
        scallop = case.job.relief.scallop_mm or 0.0
        # Positions are whole steps; the cross moves the wheel across the arc by its slope there.
        slope = case.wanted.chord_mm / 2.0 / case.wanted.arc_radius_mm
        steps = infeed_step_mm(case) + slope * step_mm(case, "cross")
        slack = steps + 2.0 * CHORD_ERROR_MM + self._behind.worn_mm
        wanted = self._ridge_mm(steel.commanded)
        if wanted > scallop + slack:
            self._log.add(self._line, Rule.RIDGES_TOO_HIGH, ridge_mm=wanted, most_mm=scallop)
            return
        most = case.job.relief.residual_share * case.depth_tolerance_mm
        residual = self._ridge_mm(steel.polygon) - scallop
        if residual > most * ALLOWANCE + slack + self._behind.made_up_mm:
            self._log.add(self._line, Rule.MISSING_SPARK_OUT, residual_mm=residual, most_mm=most)

    def _ridge_mm(self, steel: shapely.Geometry) -> float:
        return ridge_mm(self._finished(steel), self._case.finished, self._case.wanted)

    def _check_steel_left(self, steel: Steel) -> None:
        case = self._case
        least = case.job.relief.min_steel_left_mm
        if case.relief is None or case.relief.edge_land_mm <= 0.0 or case.held_relief is None:
            return
        left = steel_left_mm(
            self._finished(steel.polygon),
            case.finished,
            case.held_relief,
            case.other_face,
            case.other_relief,
            case.relief.arc_radius_mm,
        )
        if left < least:
            self._log.add(self._line, Rule.STEEL_LEFT, left_mm=left, least_mm=least)


def half_chord_mm(radius_mm: float, depth_mm: float) -> float:
    """Of a circle's segment: Euclid III.35.

    >>> half_chord_mm(5.0, 1.0)  # by hand: a 3-4-5 triangle
    3.0
    """
    return math.sqrt(max(depth_mm * (2.0 * radius_mm - depth_mm), 0.0))
