"""Sections between the stations of an edge that straight axes follow: as deep as the nearest one,
with what the wheel leaves there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import shapely

from planner.proof.blade import Station, met_of
from planner.proof.case import Case
from planner.proof.left_by import LeftBy, LeftFlat, LeftLines
from planner.proof.tool import Stand
from planner.proof.verdict import Lands


class Between(NamedTuple):
    """One such section."""

    name: str
    x_mm: float
    section: int
    """In ``Case.left``."""
    near: int
    """The station nearest to it, and below that one's index in ``Case.left``."""
    near_section: int


def sections_between(case: Case, stations: Sequence[Station]) -> list[Between]:
    """Every section that is no station's; none where nothing is followed."""
    count = len(case.left)
    if not count:
        return []
    every = (count - 1) // (len(stations) - 1)
    found = []
    for n in range(count):
        near = min(round(n / every), len(stations) - 1)
        x = case.edge_length_mm * n / (count - 1)
        if n != near * every:
            found.append(Between(f"place {x:.1f} mm from the heel", x, n, near, near * every))
    return found


def steel_between(case: Case, between: Between, near: Station) -> shapely.Geometry | None:
    """What a flat leaves there of the section before the program; None of another wheel."""
    left = case.left[between.section]
    if not isinstance(left, LeftFlat):
        return None
    depth = near.steel.reached_mm - case.bare_mm
    stand = Stand(*case.face.point(case.middle_mm, depth), 0.0)
    wheel = met_of(case, left).tool.below(case.face, stand)
    if not len(wheel):
        return case.blank
    return shapely.difference(case.blank, shapely.Polygon(wheel))


def lands_between(case: Case, between: Between, near: Station, lands: Lands) -> Lands | None:
    """The lands beside a relief in one piece there; ``lands`` are those of the nearest station."""
    here, there = case.left[between.section], case.left[between.near_section]
    if not (isinstance(here, LeftBy) and isinstance(there, LeftBy)):
        return None
    reached = near.steel.reached_mm - there.deeper_mm - case.lift_mm
    halves = [half_chord_mm(each.radius_mm, reached + each.deeper_mm) for each in (here, there)]
    wider, aside = halves[0] - halves[1], here.aside_mm - there.aside_mm
    return Lands(
        station=between.name,
        x_mm=between.x_mm,
        edge_land_mm=lands.edge_land_mm - wider + aside,
        shoulder_land_mm=lands.shoulder_land_mm - wider - aside,
        depth_mm=reached + here.deeper_mm,
    )


def ridges_grow(case: Case, station: int, stations: int) -> float:
    """How many times higher ridges may stand in a section whose nearest station this is.

    Between two lines a ridge stands s^2 (1/r - 1/R) / 8 high, r the radius that they leave and R
    that of their arc, which has its middle on the other side of a bulge.
    """
    every = (len(case.left) - 1) // (stations - 1) if case.left else 1
    arc = case.hollow_per_mm
    there = case.left[station * every] if case.left else None
    near = [n for n in range(len(case.left)) if min(round(n / every), stations - 1) == station]
    grown = 1.0
    for n in near:
        here = case.left[n]
        if isinstance(here, LeftLines) and isinstance(there, LeftLines):
            for one, other in zip(here.arcs, there.arcs, strict=True):
                grown = max(grown, (1.0 / one.radius_mm - arc) / (1.0 / other.radius_mm - arc))
    return grown


def half_chord_mm(radius_mm: float, depth_mm: float) -> float:
    """Of a circle's segment: Euclid III.35.

    >>> half_chord_mm(5.0, 1.0)  # by hand: a 3-4-5 triangle
    3.0
    """
    return math.sqrt(max(depth_mm * (2.0 * radius_mm - depth_mm), 0.0))
