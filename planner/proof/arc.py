"""An edge along an arc that is turned under the wheel: what the proof makes of it.

From ``docs/edge-paths.md``: the axis of the turn is that of the bend or sweep, at a distance of the
path's radius from the edge; face A is the outside. The straight traverse stands at 0, the wheel's
middle plane over the axis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.inputs.blade_forms import Gouge
from planner.inputs.edge_paths import ArcEdge, SweepEdge
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.proof.forms import ImpossibleError, blade_side
from planner.proof.target import FaceName
from planner.proof.tool import crown_of, reach_along_edge_mm

_MOST_DIG_SHARE = 0.1


@dataclass(frozen=True)
class Turned:
    """How a turn takes the edge under the wheel."""

    index: int
    """Of the turn in a position."""
    mm_per_deg: float
    """Way of the edge for a degree in touch-frame sense: below 0 where the blade lies inside."""


def turned_path(job: Job, machine: Machine, name: FaceName) -> Turned | None:
    """The turn of an edge along an arc; None for a straight edge and a machine without that axis.

    Raises: ImpossibleError where the machine holds a row of blades.
    """
    edge = job.edge
    if not isinstance(edge, ArcEdge):
        return None
    roles = [axis.role for axis in machine.axes.values()]
    if "turn" not in roles:
        return None
    if machine.fixture.row is not None:
        raise ImpossibleError("a row of blades has no common axis to turn about")
    inside = -1.0 if name == "B" else 1.0
    return Turned(roles.index("turn"), inside * edge.radius_mm * math.pi / 180.0)


def curvature_per_mm(job: Job, name: FaceName) -> float:
    """Of what the wheel meets: outside of the edge, inside of what lies nearest to the axis."""
    edge = job.edge
    if not isinstance(edge, ArcEdge):
        return 0.0
    if name == "B":
        return 1.0 / (blade_side(job.blade.section, name).proud_mm - edge.radius_mm)
    return 1.0 / edge.radius_mm


def reach_inside_mm(job: Job, wheel: Wheel, deepest_mm: float) -> float | None:
    """How far along the edge a wheel touches on the inside of an arc, so deep in it.

    Across the edge two circles, the wheel's and that of what lies nearest to the axis, and the
    triangle of their middles and a place where they cross: the cosine rule. Along it the rim, of
    which a millimetre is as much more of the edge as that is nearer. None of a straight edge.
    """
    edge = job.edge
    if not isinstance(edge, ArcEdge):
        return None
    surface = edge.radius_mm - blade_side(job.blade.section, "B").proud_mm
    if wheel.contact != "across_edge":
        rim = reach_along_edge_mm(wheel, deepest_mm, -1.0 / surface)
        return rim * edge.radius_mm / surface
    radius = wheel.diameter_mm / 2.0
    apart = surface + deepest_mm - radius
    cosine = (apart * apart + surface * surface - radius * radius) / (2.0 * apart * surface)
    return edge.radius_mm * math.acos(min(max(cosine, -1.0), 1.0))


def check_thickness(job: Job, name: FaceName) -> None:
    """An arc must leave the blade its thickness, and a flat inside the edge land.

    Raises: ImpossibleError where it does not.
    """
    edge = job.edge
    if not isinstance(edge, ArcEdge):
        return
    if blade_side(job.blade.section, name).proud_mm >= edge.radius_mm:
        raise ImpossibleError("the blade is thicker than its arc is wide")
    _check_wall(job, edge)


def check_room_inside(
    job: Job, wheel: Wheel, name: FaceName, lean_rad: float, depth_tolerance_mm: float
) -> None:
    """The wheel and its spindle must find room on the inside of an arc that is turned.

    ``lean_rad`` is how far the tilt that there is leans a wheel across the edge to the axis.
    What stands nearest to that is as high before a bevel is ground as behind its shoulder.
    Raises: ImpossibleError where they do not.
    """
    edge = job.edge
    if not isinstance(edge, ArcEdge) or name != "B":
        return
    away = blade_side(job.blade.section, name).proud_mm
    inside, radius = edge.radius_mm - away, wheel.diameter_mm / 2.0
    if wheel.contact == "platen":
        raise ImpossibleError("the ends of a platen dig into the inside of the arc")
    if wheel.contact == "across_edge":
        # In the plane of the arc a wheel that leans to its axis is as much longer.
        if radius / math.cos(lean_rad) >= inside:
            raise ImpossibleError("the wheel is larger than the inside of the arc")
        return
    half = wheel.width_mm / 2.0
    dig = inside - math.sqrt(max(inside**2 - half**2, 0.0))
    crown = crown_of(wheel)
    if crown is not None:
        # The corner of a crown stands back by as much as its own circle rises there.
        dig -= crown * (1.0 - math.cos(math.asin(min(half / crown, 1.0))))
    rounder = crown is not None and crown <= inside
    dug = half > inside or dig > _MOST_DIG_SHARE * depth_tolerance_mm * (1.0 + 1e-9)
    if dug and not rounder:
        raise ImpossibleError("the corners of the rim dig into the inside of the arc")
    # The spindle runs along the tangent, R from the contact: a chord of the inside circle.
    if radius < 2.0 * inside:
        half_chord = math.sqrt(inside**2 - (inside - radius) ** 2)
        if edge.angle_deg > math.degrees(math.atan2(half_chord, inside - radius)) + 1e-9:
            raise ImpossibleError("the spindle meets the blade inside the arc")


def _check_wall(job: Job, edge: ArcEdge) -> None:
    """A flat inside must leave the edge land at the ends of a sweep.

    Raises: ImpossibleError where it does not.
    """
    form = job.blade.section
    if not (isinstance(form, Gouge) and isinstance(edge, SweepEdge) and form.inside == "flat"):
        return
    bevel = blade_side(form, "A").bevel_rad
    middle = edge.radius_mm - blade_side(form, "B").proud_mm
    half = math.radians(edge.angle_deg) / 2.0
    if half >= math.pi / 2.0:
        raise ImpossibleError("a flat inside comes through the outside of the gouge")
    # The facet touches the round inside in its middle; its end lies further from the axis.
    further = math.hypot(middle, middle * math.tan(half)) - middle
    if further >= form.thickness_mm:
        raise ImpossibleError("a flat inside comes through the outside of the gouge")
    lost = (further - form.inside_rise_mm) / math.sin(bevel)
    if job.relief.faces != "B" and lost > job.relief.land_tolerance_mm * (1.0 + 1e-9):
        raise ImpossibleError("a flat inside takes the edge land at the ends of the sweep")
