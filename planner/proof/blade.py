"""The blade as the program leaves it: five stations along the edge, each with its own steel."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import shapely

from planner.proof.case import Case
from planner.proof.followed import Lines
from planner.proof.leaning import LeaningTool
from planner.proof.left_by import Left, LeftBy, LeftFlat, LeftLines
from planner.proof.spring import NO_AREA_MM2, balance
from planner.proof.steel import Floats, in_face, rings_of, surface_depths_mm
from planner.proof.stiffness import Stiffness
from planner.proof.target import Face
from planner.proof.tool import RimTool, RoundTool, Stand, Tool

STATION_NAMES = ("heel", "quarter", "middle", "three quarters", "tip")
MIDDLE_STATION = 2
NEAR_MM = 1e-4
"""A wheel nearer to the steel than this touches it: what the polygons may be out by."""
_HAIR_MM = 1e-3
"""How far inside the ends of the edge the first and the last station stand."""
_PROFILE_POINTS = 257
_SAME_MM = 1e-9
"""Two infeeds that differ by less are one."""


@dataclass(frozen=True, eq=False)
class Steel:
    """The section at a station after some passes, and how deep the wheel was sent and came."""

    polygon: shapely.Geometry
    commanded: shapely.Geometry
    """What a rigid wheel would have left; only where lines or facets make the face together."""
    commanded_profile: Floats
    """Deepest commanded surface below the face at evenly spaced places along it, mm."""
    commanded_mm: float
    """How deep the wheel stands at the deepest that it was sent, its wear since then taken off."""
    reached_mm: float
    worn_mm: float = 0.0
    """What the wheel had lost since its touch-off when it stood there."""


@dataclass(frozen=True)
class Bite:
    """What one pass did at one station."""

    steel: Steel
    commanded_mm: float
    reached_mm: float
    step_mm: float
    """How much deeper than every pass before the wheel was sent, at the worst place."""
    removed_area_mm2: float
    normal_force_n: float
    power_w: float


@dataclass
class Contact:
    """The wheel over a station at one infeed and cross, from its first block to its last."""

    stand: Stand
    first_line: int
    last_line: int
    feed_mm_s: float
    surface_mm_s: float
    infeed_line: int
    """The block that sent the wheel to this infeed."""
    worn_mm: float
    """What the wheel has lost of its radius since its touch-off."""


class Meets(NamedTuple):
    """An outline, and where it stands in the section."""

    tool: Tool
    stand: Stand


@dataclass(frozen=True, eq=False)
class Met:
    """What a station meets of the wheel: its own outline, or the arc that it leaves there."""

    tool: Tool
    face: Face
    left: Left | None = None
    """Left out, the wheel's own outline."""
    lines: Lines | None = None
    """Of arcs that lines leave."""
    middle_mm: float = 0.0
    """Place along the face at zero."""

    @property
    def deeper_mm(self) -> float:
        """How much deeper an arc is than where the wheel is sent."""
        return self.left.deeper_mm if isinstance(self.left, LeftBy) else 0.0

    @property
    def arc_radius_mm(self) -> float | None:
        """Of the arc that is met, in the middle of many; None of a flat."""
        if isinstance(self.left, LeftLines):
            return self.left.arcs[1].radius_mm
        return self.left.radius_mm if isinstance(self.left, LeftBy) else self.tool.arc_radius_mm

    def at(self, stand: Stand) -> Meets:
        """What is met, and where, while the wheel stands there."""
        if isinstance(self.left, LeftFlat) or self.left is None:
            return Meets(self.tool, stand)
        left, along, out = self.left, self.face.along, self.face.normal
        if isinstance(left, LeftLines):
            assert self.lines is not None
            beside = self.face.place_mm(stand.centre) - self.middle_mm
            # Rounded, so that the blocks of a pass meet one outline: it changes little beside.
            left = left.at(round(beside, 3))
            sine = float(self.lines.sine(np.array([beside]))[0])
            cosine = math.sqrt(1.0 - sine * sine)
            along, out = (
                (cosine * along[0] - sine * out[0], cosine * along[1] - sine * out[1]),
                (cosine * out[0] + sine * along[0], cosine * out[1] + sine * along[1]),
            )
        tool, bare = _arc_tool(self.tool, left.radius_mm), self.tool.bare_mm
        further = left.radius_mm - bare - left.deeper_mm
        y, z = (
            at + left.aside_mm * a + further * n
            for at, a, n in zip(stand.centre, along, out, strict=True)
        )
        return Meets(tool, Stand(y, z, stand.tilt_deg))


def _arc_tool(tool: Tool, radius_mm: float) -> Tool:
    """The same wheel with another radius in the section."""
    return _rim(tool, radius_mm) if isinstance(tool, RimTool) else RoundTool(radius_mm)


@lru_cache(maxsize=1000)
def _rim(tool: RimTool, radius_mm: float) -> RimTool:
    width = min(tool.width_mm, 2.0 * radius_mm)
    return replace(tool, form_radius_mm=radius_mm, width_mm=width)


@dataclass(eq=False)
class Station:
    """One place along the edge."""

    name: str
    nominal_x_mm: float
    x_mm: float
    steel: Steel
    met: Met
    contact: Contact | None = None
    fastest_mm_s: float = 0.0
    """Of the feeds of a pass about it, where that has many."""
    last_contact_line: int = 0


_PassKey = tuple[Stand, float, float, float]
"""Stand, feed, surface speed and wear."""


@dataclass
class Blade:
    """All the stations of the face that the program grinds."""

    case: Case
    stations: list[Station]
    blank: shapely.Geometry
    near_mm: float
    """A wheel nearer to the steel than this counts as touching it."""
    _places: Floats
    facet: int = -1
    """Which facet of a sweep depths and places count from; none yet below 0."""
    # Stations with the same history share one Steel and the work of finding the next.
    _bites: dict[tuple[int, int, _PassKey, float], Bite] = field(default_factory=dict)
    _touches: dict[tuple[int, int, Stand], bool] = field(default_factory=dict)
    _kept: list[Steel] = field(default_factory=list)
    _springs: dict[int, Stiffness] = field(default_factory=dict)
    _turned_to: dict[tuple[int, int], Steel] = field(default_factory=dict)

    @property
    def stiffness(self) -> Stiffness:
        """The spring at each station; an air run never asks for it."""
        if self.facet not in self._springs:
            stations = [station.nominal_x_mm for station in self.stations]
            self._springs[self.facet] = Stiffness(self.case, stations)
        return self._springs[self.facet]

    def another(self, case: Case) -> Blade:
        """Another blade of the row, unground. What the two have in common is worked out once."""
        unground = self._kept[0]
        stations = [Station(s.name, s.nominal_x_mm, s.x_mm, unground, s.met) for s in self.stations]
        return replace(self, case=case, stations=stations, facet=-1)

    def turn_to(self, case: Case, facet: int) -> None:
        """Go on with another facet: from here on depths and places count from its own plane."""
        self.case, self.facet = case, facet
        self._places = _places_mm(case)
        for station in self.stations:
            key = (id(station.steel), facet)
            if key not in self._turned_to:
                self._turned_to[key] = self._keep(_turned(station.steel, case, self._places))
            station.steel = self._turned_to[key]

    def distinct_steels(self) -> list[Steel]:
        """Each different section once, in the stations' order."""
        return list({id(station.steel): station.steel for station in self.stations}.values())

    def touches(self, start: Stand, end: Stand) -> bool:
        """Whether the rigid wheel, moved between two stands, comes to the steel anywhere.

        Every station's steel is asked: between stations the section is that of a neighbour.
        """
        if start == end:
            # Remembered: asked of every piece of a long pass.
            return any(self.touches_at(station, start, end) for station in self.stations)
        distinct = {(id(s.steel), id(s.met)): s for s in self.stations}.values()
        return any(self.touches_at(station, start, end) for station in distinct)

    def touches_at(self, station: Station, start: Stand, end: Stand) -> bool:
        """Whether the rigid wheel, moved between two stands, comes to one station's steel."""
        key = (id(station.steel), id(station.met), start)
        if start == end and key in self._touches:
            return self._touches[key]
        first, last = station.met.at(start), station.met.at(end)
        steel = station.steel.polygon
        touches = first.tool.within_reach(first.stand, last.stand, steel, self.near_mm)
        if start == end:
            self._touches[key] = touches
        return touches

    def bite(self, station: Station, contact: Contact) -> Bite:
        """What a pass takes from a station, the machine's give included; changes the station."""
        stiffness = self.stiffness.at(self.stations.index(station), station.steel.reached_mm)
        pass_key = (contact.stand, contact.feed_mm_s, contact.surface_mm_s, contact.worn_mm)
        key = (id(station.steel), id(station.met), pass_key, stiffness)
        if key not in self._bites:
            self._bites[key] = self._new_bite(station, contact, stiffness)
        bite = self._bites[key]
        station.steel = bite.steel
        station.last_contact_line = contact.last_line
        return bite

    def _new_bite(self, station: Station, contact: Contact, stiffness_n_mm: float) -> Bite:
        case, steel, met = self.case, station.steel, station.met
        face, (tool, stand) = case.face, met.at(contact.stand)
        commanded = case.depth_at_mm(contact.stand.centre) + met.deeper_mm
        profile = tool.profile_mm(face, self._places, stand)
        step = float(np.max(profile - steel.commanded_profile, initial=0.0))
        wheel = tool.below(face, stand)
        power_per_mm2 = case.specific_energy_j_mm3 * contact.feed_mm_s
        surface_m_s = contact.surface_mm_s / 1000.0
        ratio, threshold = case.wheel.force_ratio, case.wheel.threshold_force_n
        # A wheel that stands still is refused elsewhere; it is taken to go where it is sent.
        force_per_mm2 = power_per_mm2 / surface_m_s / ratio if surface_m_s > 0.0 else 0.0
        reached, area, polygon = commanded, 0.0, steel.polygon
        left = steel.commanded
        if len(wheel):
            if case.generates or case.swept:
                left = shapely.difference(left, shapely.Polygon(wheel))
            rest = balance(
                steel.polygon, wheel, face.normal, stiffness_n_mm, force_per_mm2, threshold
            )
            reached, area = commanded - rest.deflection_mm, rest.removed_area_mm2
            if area > NO_AREA_MM2:
                polygon = shapely.difference(steel.polygon, rest.wheel)
            else:
                reached = min(max(reached, steel.reached_mm), commanded)
        # Rubbing carries the threshold's force, or all of a lighter one. Beside a deeper line
        # nothing tells how deep the steel stands, and the threshold's is taken.
        rubbing = min(threshold, stiffness_n_mm * max(commanded - steel.reached_mm, 0.0))
        if case.generates:
            rubbing = threshold
        # Sent as deep as before, a wheel that has worn since stands less deep by that: what it
        # lacks is wear, and no deflection.
        deepest, worn = steel.commanded_mm, steel.worn_mm
        if commanded + max(contact.worn_mm - worn, 0.0) >= deepest - _SAME_MM:
            deepest, worn = commanded, contact.worn_mm
        after = Steel(
            polygon,
            left,
            np.maximum(profile, steel.commanded_profile),
            deepest,
            max(reached, steel.reached_mm),
            worn,
        )
        # A pass that finds nothing left leaves the very same steel: the next is known already.
        after = steel if _same(after, steel) else self._keep(after)
        return Bite(
            steel=after,
            commanded_mm=commanded,
            reached_mm=reached,
            step_mm=step,
            removed_area_mm2=area,
            normal_force_n=force_per_mm2 * area + rubbing,
            power_w=power_per_mm2 * area + rubbing * ratio * surface_m_s,
        )

    def sweep(self, station: Station, start: Stand, end: Stand, line: int) -> None:
        """Take away all that the rigid wheel sweeps: a move that is refused already."""
        case, old = self.case, station.steel
        first, last = station.met.at(start), station.met.at(end)
        wheel = first.tool.swept(case.face, first.stand, last.stand)
        depth = max(case.depth_at_mm(start.centre), case.depth_at_mm(end.centre))
        station.steel = self._keep(
            Steel(
                shapely.difference(old.polygon, wheel),
                old.commanded,
                old.commanded_profile,
                max(depth, old.commanded_mm),
                max(depth, old.reached_mm),
                old.worn_mm,
            )
        )
        station.last_contact_line = line

    def _keep(self, steel: Steel) -> Steel:
        # Identities are keys above: a Steel must not be freed and its identity used again.
        self._kept.append(steel)
        return steel


def _same(one: Steel, other: Steel) -> bool:
    return (
        one.polygon is other.polygon
        and one.commanded is other.commanded
        and one.commanded_mm == other.commanded_mm
        and one.worn_mm == other.worn_mm
        and one.reached_mm == other.reached_mm
        and np.array_equal(one.commanded_profile, other.commanded_profile)
    )


def new_blade(case: Case, near_mm: float) -> Blade:
    """The unground blade."""
    blank = case.blank
    places = _places_mm(case)
    surface: Floats = np.zeros_like(places)
    if case.setup.operation != "relief" or case.generates:
        surface = surface_depths_mm(blank, case.face, places)
    steel = Steel(blank, blank, surface, 0.0, 0.0)
    length = case.edge_length_mm
    hair = min(_HAIR_MM, length / 100.0)
    stations = []
    wheel = Met(case.tool, case.face)
    # Of an edge that is followed the case knows what is left at places between too.
    every = (len(case.left) - 1) // (len(STATION_NAMES) - 1)
    for index, name in enumerate(STATION_NAMES):
        nominal = length * index / (len(STATION_NAMES) - 1)
        x = min(max(nominal, hair), length - hair)
        met = met_of(case, case.left[index * every]) if case.left else wheel
        stations.append(Station(name, nominal, x, steel, met))
    return Blade(case, stations, blank, near_mm, places, _kept=[steel])


def _places_mm(case: Case) -> Floats:
    """Evenly along the plane, as far as the face itself reaches under it."""
    low, high = (case.face.place_mm(end) for end in case.face.ends)
    return np.linspace(low, high, _PROFILE_POINTS)


def _turned(steel: Steel, case: Case, places_mm: Floats) -> Steel:
    """The same steel as another facet finds it: nothing of that is ground yet."""
    begins = [
        min((float(in_face(ring, case.face)[1].min()) for ring in rings_of(section)), default=0.0)
        for section in (steel.commanded, steel.polygon)
    ]
    surface = surface_depths_mm(steel.commanded, case.face, places_mm)
    return Steel(steel.polygon, steel.commanded, surface, begins[0], begins[1], steel.worn_mm)


def met_of(case: Case, left: Left) -> Met:
    """What a section meets of a wheel that follows the edge."""
    tool, lines = case.tool, None if case.followed is None else case.followed.lines
    if isinstance(left, LeftFlat):
        assert isinstance(tool, RimTool)
        size = tool.frame, tool.width_mm, tool.corner_mm, None, tool.height_mm
        tool = LeaningTool(*size, face=case.face, left=left)
    return Met(tool, case.face, left, lines, case.middle_mm)
