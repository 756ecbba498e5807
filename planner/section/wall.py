"""The wall of a gouge around its sweep: how even it is, and which rim would make it so.

The section's thickness is the wall in the middle of the sweep (docs/edge-paths.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import wall
from planner.inputs.blade_forms import Gouge
from planner.inputs.edge_paths import SweepEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.target import Section, relief_ends, thickness_at


@dataclass(frozen=True)
class RimFit:
    """What a rim leaves that grinds the inside without a roll about the sweep."""

    wheel: str
    rim_mm: float
    """Its radius in the plane of the sweep."""
    dressed: bool
    """Whether that is the radius the rim is dressed to, and not half of the diameter."""
    uneven_mm: float
    """How much thicker the wall stays at the ends of the sweep than in its middle."""


@dataclass(frozen=True)
class GougeWall:
    """The wall around the sweep; angles are from its middle, alike to both sides."""

    inside: str
    inside_mm: float
    """Radius of the inside; of a flat inside, its distance from the axis."""
    outside_mm: float
    half_sweep_deg: float
    least_mm: float
    least_at_deg: float
    greatest_mm: float
    greatest_at_deg: float
    off_centre_mm: float
    """How far the roll axis stands off the sweep's centre: one standard deviation."""
    thinned_mm: float
    """The most that this takes from the wall, at the end that is not touched off."""
    land_lost_mm: float
    """By how much a flat inside shortens the edge land at the ends of the sweep."""
    rim: RimFit | None
    """Of the rack, that comes nearest to an even wall; None where none fits."""

    @property
    def uneven_mm(self) -> float:
        """Greatest less least wall."""
        return self.greatest_mm - self.least_mm


def gouge_wall(job: Job, machine: Machine, section: Section) -> GougeWall | None:
    """The wall of a gouge along a sweep; None of any other blade.

    Raises: RefusedError where a flat inside leaves too little of it.
    """
    blade, edge = job.blade.section, job.blade.edge
    if not isinstance(blade, Gouge) or not isinstance(edge, SweepEdge):
        return None
    front, back = section.faces
    inside, outside = edge.radius_mm - back.flank_mm, edge.radius_mm + front.flank_mm
    if inside <= 0.0:
        return None  # no room for a wheel either: the set-up says so
    half = math.radians(edge.angle_deg) / 2
    middle = outside - inside
    least = middle if blade.inside == "matched" else _flat_least_mm(inside, outside, half)
    lost = max(middle - least - blade.inside_rise_mm, 0.0) / math.sin(front.angle_rad)
    if blade.inside == "flat":
        _check_flat(job, section, middle, least, lost)
    rolls = any(axis.role == "turn" for axis in machine.axes.values())
    off = machine.fixture.turn_off_centre_mm if rolls else 0.0
    return GougeWall(
        inside=blade.inside,
        inside_mm=inside,
        outside_mm=outside,
        half_sweep_deg=edge.angle_deg / 2,
        least_mm=least,
        least_at_deg=0.0 if least == middle else edge.angle_deg / 2,
        greatest_mm=middle,
        greatest_at_deg=0.0,
        off_centre_mm=off,
        # Beyond half a turn the other end is the nearer one.
        thinned_mm=float(wall.thinned_by_axis(off, min(2 * half, math.pi))),
        land_lost_mm=lost,
        rim=nearest_rim(machine.rack, inside, outside, half),
    )


def _flat_least_mm(inside_mm: float, outside_mm: float, half_rad: float) -> float:
    """Wall at the ends of a flat inside that touches the round one in its middle.

    Raises: RefusedError where the facet comes through the outside.
    """
    through = float(wall.facet_comes_through(inside_mm, outside_mm))
    if half_rad >= through:
        facts: dict[str, Fact] = {
            "through_deg": math.degrees(through),
            "half_deg": math.degrees(half_rad),
        }
        narrower = WayOut("narrower-sweep", {"angle_deg": math.floor(2 * math.degrees(through))})
        raise RefusedError(
            [Refusal("flat-inside-comes-through", facts, (WayOut("matched-inside"), narrower))]
        )
    return float(wall.wall_over_facet(half_rad, inside_mm, outside_mm))


def _check_flat(
    job: Job, section: Section, middle_mm: float, least_mm: float, lost_mm: float
) -> None:
    ways = WayOut("matched-inside"), WayOut("narrower-sweep-any")
    found = []
    left = _steel_over_facet_mm(section, middle_mm - least_mm)
    facts: dict[str, Fact] = {"least_mm": least_mm, "middle_mm": middle_mm}
    if left < job.relief.min_steel_left_mm:
        more: dict[str, Fact] = {"left_mm": left, "allowed_mm": job.relief.min_steel_left_mm}
        found.append(Refusal("flat-inside-too-thin", {**facts, **more}, ways))
    if section.relief("A") is not None and lost_mm > job.relief.land_tolerance_mm:
        lands: dict[str, Fact] = {
            "lost_mm": lost_mm,
            "land_tolerance_mm": job.relief.land_tolerance_mm,
        }
        found.append(Refusal("flat-inside-takes-land", {**facts, **lands}, ways))
    if found:
        raise RefusedError(found)


def _steel_over_facet_mm(section: Section, taken_mm: float) -> float:
    """Least thickness under a relief at the ends of the sweep, where the facet takes so much.

    The inside bevel lies outside the inside already, and so loses less.
    """
    depth, back = {r.face: r.depth_mm for r in section.reliefs}, section.face("B")
    found = math.inf
    for relief in section.reliefs:
        (first, _), (last, _) = relief_ends(section, relief, relief.depth_mm)
        y = np.linspace(max(first, 0.0), last, 513)
        whole = thickness_at(section, y, depth.get("A", 0.0), depth.get("B", 0.0))
        lost = np.maximum(taken_mm - (back.flank_mm - back.heights(y)), 0.0)
        found = min(found, float((whole - lost).min()))
    return found


def nearest_rim(
    rack: list[Wheel], inside_mm: float, outside_mm: float, half_rad: float
) -> RimFit | None:
    """The rim of the rack that leaves the least unevenness, none larger than the inside.

    A rim dressed to a radius runs along the gouge, its spindle across it; a wheel across the edge
    stands with its spindle along the gouge. Rims that do not reach the ends of the sweep are out.
    """
    fits = []
    for wheel in rack:
        if wheel.contact == "across_edge":
            fits.append(_fit(wheel, wheel.diameter_mm / 2, inside_mm, outside_mm, half_rad))
        if wheel.form_radius_mm is not None:
            reach = wheel.width_mm / 2 - wheel.corner_radius_mm
            fits.append(_fit(wheel, wheel.form_radius_mm, inside_mm, outside_mm, half_rad, reach))
    return min((f for f in fits if f is not None), key=lambda f: f.uneven_mm, default=None)


def _fit(
    wheel: Wheel,
    rim_mm: float,
    inside_mm: float,
    outside_mm: float,
    half_rad: float,
    reach_mm: float | None = None,
) -> RimFit | None:
    off = inside_mm - rim_mm
    if off < 0.0 or half_rad > math.pi / 2 or off * math.sin(half_rad) > rim_mm:
        return None
    if reach_mm is not None and reach_mm < float(wall.rim_half_width(half_rad, rim_mm, inside_mm)):
        return None
    ends = float(wall.wall_under_rim(half_rad, rim_mm, inside_mm, outside_mm))
    uneven = ends - (outside_mm - inside_mm)
    return RimFit(wheel.name, rim_mm, reach_mm is not None, max(uneven, 0.0))
