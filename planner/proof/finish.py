"""What a program has left at its end, measured at every station and held against the job."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple
from typing import NamedTuple

import shapely

from planner.proof.between import lands_between, ridges_grow, sections_between, steel_between
from planner.proof.blade import Blade, Station, Steel
from planner.proof.bulge import BulgeGoal, FlatGoal
from planner.proof.case import Case, infeed_step_mm, step_mm
from planner.proof.faultlog import FaultLog
from planner.proof.followed import ALONG_MM
from planner.proof.forms import CHORD_ERROR_MM, blade_side
from planner.proof.measure import (
    GroundLands,
    MeasuredBevel,
    measure_bevel,
    measure_ground_lands,
    ridge_mm,
)
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
        off_planes = [(off_plane[id(s.steel)], s.name) for s in self._blade.stations]
        between = []
        for place in sections_between(self._case, self._blade.stations):
            near = self._blade.stations[place.near]
            lands_there = lands_between(self._case, place, near, self.lands[place.near])
            if (steel := steel_between(self._case, place, near)) is not None:
                ground = self._ground_lands(steel)
                off_planes.append((ground.off_plane_mm, place.name))
                lands_there = Lands(place.name, place.x_mm, *astuple(ground.lands))
            if lands_there is not None:
                between.append(lands_there)
        self._check_lands(self._case.wanted, [*self.lands, *between])
        off, name = max(off_planes, key=lambda each: each[0])
        if off > _PLANE_MM:
            self._log.add(
                self._line,
                Rule.LANDS_NOT_IN_ONE_PLANE,
                station=name,
                off_mm=off,
                most_mm=_PLANE_MM,
            )

    def _lands_of(self, station: Station) -> tuple[MeasuredLands, float]:
        """The lands on the finished blade, and how far they are from one plane."""
        case, steel = self._case, station.steel
        if case.setup.operation == "lands":
            ground = self._ground_lands(steel.polygon)
            return ground.lands, ground.off_plane_mm
        radius = station.met.arc_radius_mm or case.wanted.arc_radius_mm
        before, after = self._finished(self._blade.blank), self._finished(steel.polygon)
        return measure_lands(after, before, case.finished, radius), 0.0

    def _ground_lands(self, steel: shapely.Geometry) -> GroundLands:
        case = self._case
        return measure_ground_lands(steel, case.finished, case.held_relief or case.wanted)

    def _finished(self, steel: shapely.Geometry) -> shapely.Geometry:
        """A section with what is left for later operations taken off."""
        if self._case.job.operations is None:
            return steel
        return shapely.intersection(steel, blank_section(self._case.job))

    def _check_lands(self, relief: Relief, measured: Sequence[Lands]) -> None:
        worst: tuple[float, Lands, str, float, float] | None = None
        for lands in measured:
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

        def measured_bevel(name: str, x_mm: float, found: MeasuredBevel) -> Bevel:
            edge_mm = wanted + found.edge_mm / cosine
            return Bevel(name, x_mm, edge_mm, found.highest_mm, found.lowest_mm)

        measured = {
            id(steel): measure_bevel(steel.polygon, finished, case.lift_mm, width)
            for steel in self._blade.distinct_steels()
        }
        stations = self._blade.stations
        for station in stations:
            found = measured[id(station.steel)]
            self.bevels.append(measured_bevel(station.name, station.nominal_x_mm, found))
        all_bevels = list(self.bevels)
        for place in sections_between(case, stations):
            steel_there = steel_between(case, place, stations[place.near])
            if steel_there is not None:
                found = measure_bevel(steel_there, finished, case.lift_mm, width)
                all_bevels.append(measured_bevel(place.name, place.x_mm, found))
        self._check_edge_thickness(wanted, bevel.edge_thickness_tolerance_mm, all_bevels)
        self._check_bevel_plane([(at, at.highest_mm, at.lowest_mm) for at in all_bevels])

    def _measure_bulges(self, goal: FlatGoal | BulgeGoal) -> None:
        case = self._case
        bevel, edge = bevel_operation(case.job), case.job.blade.section.edge_thickness_mm
        assert bevel is not None

        def bulge(name: str, x_mm: float, found: tuple[MeasuredBevel, OverArc]) -> Bevel:
            face, over = found
            # A flat that comes later leaves the edge alone.
            off = over.half_edge_mm if goal.makes_edge else 0.0
            return Bevel(
                station=name,
                x_mm=x_mm,
                edge_thickness_mm=edge + off,
                highest_mm=face.highest_mm,
                lowest_mm=face.lowest_mm,
                ridge_mm=over.highest_mm,
                gouge_mm=max(-over.lowest_mm, 0.0),
            )

        measured = {id(s): self._bulge_of(s.polygon, goal) for s in self._blade.distinct_steels()}
        stations = self._blade.stations
        for station in stations:
            found = measured[id(station.steel)]
            self.bevels.append(bulge(station.name, station.nominal_x_mm, found))
        all_bevels = list(self.bevels)
        for place in sections_between(case, stations):
            if (there := steel_between(case, place, stations[place.near])) is not None:
                all_bevels.append(bulge(place.name, place.x_mm, self._bulge_of(there, goal)))
        self._check_edge_thickness(edge, bevel.edge_thickness_tolerance_mm, all_bevels)
        # What stands over an arc in lines are its ridges: they have a check of their own.
        self._check_bevel_plane(
            [
                (at, 0.0 if case.generates else at.highest_mm, min(at.lowest_mm, -at.gouge_mm))
                for at in all_bevels
            ]
        )
        for at in all_bevels[len(stations) :]:
            self._check_bulge_ridges(None, at.ridge_mm or 0.0)
        for steel in self._blade.distinct_steels():
            wanted = None
            if case.generates:
                wanted = self._ridge_of(steel.commanded, goal) * self._ridges_grow(steel)
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
        slack = self._steps_mm() + 2.0 * CHORD_ERROR_MM + self._behind.worn_mm
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

    def _steps_mm(self) -> float:
        """What whole steps may move a line across the arc."""
        case = self._case
        if case.followed is not None:
            return case.uneven_mm + case.steepest * (ALONG_MM + 2.0 * case.beside_mm)
        across = case.steepest * step_mm(case, "cross") if case.steepest > 0.0 else 0.0
        return infeed_step_mm(case) + across

    def _check_edge_thickness(
        self, wanted_mm: float, tolerance_mm: float, bevels: Sequence[Bevel]
    ) -> None:
        worst = max(bevels, key=lambda at: abs(at.edge_thickness_mm - wanted_mm))
        if abs(worst.edge_thickness_mm - wanted_mm) > tolerance_mm + _LAND_SLACK_MM:
            self._log.add(
                self._line,
                Rule.EDGE_OUT_OF_TOLERANCE,
                station=worst.station,
                found_mm=worst.edge_thickness_mm,
                wanted_mm=wanted_mm,
                tolerance_mm=tolerance_mm,
            )

    def _check_bevel_plane(self, counted: Sequence[tuple[Bevel, float, float]]) -> None:
        """``counted`` are bevels with the highest and the lowest of each that count."""
        most = self._case.depth_tolerance_mm
        worst, highest, lowest = max(counted, key=lambda each: max(each[1], -each[2]))
        if max(highest, -lowest) > most + _LAND_SLACK_MM:
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
        slack = self._steps_mm() + 2.0 * CHORD_ERROR_MM + self._behind.worn_mm
        wanted = self._ridge_mm(steel.commanded) * self._ridges_grow(steel)
        if wanted > scallop + slack:
            self._log.add(self._line, Rule.RIDGES_TOO_HIGH, ridge_mm=wanted, most_mm=scallop)
            return
        most = case.job.relief.residual_share * case.depth_tolerance_mm
        residual = self._ridge_mm(steel.polygon) - scallop
        if residual > most * ALLOWANCE + slack + self._behind.made_up_mm:
            self._log.add(self._line, Rule.MISSING_SPARK_OUT, residual_mm=residual, most_mm=most)

    def _ridges_grow(self, steel: Steel) -> float:
        stations = self._blade.stations
        here = [n for n, station in enumerate(stations) if station.steel is steel]
        return max(ridges_grow(self._case, n, len(stations)) for n in here)

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
