"""The wheel as the shape it is: in the section, and along the edge (docs/operations.md)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.contact import contact_length
from planner.formulas.segment import Result
from planner.inputs.rack import Wheel


def is_round(wheel: Wheel) -> bool:
    """Whether it leaves an arc in the section, and not a line."""
    return wheel.contact == "along_edge" or wheel.form_radius_mm is not None


def section_radius_mm(wheel: Wheel) -> float:
    """Radius of the arc that it leaves in the section; a belt's thickness is added to its wheel's.

    Raises: ValueError for a wheel that is flat in the section.
    """
    if wheel.contact == "along_edge":
        return wheel.diameter_mm / 2 + (wheel.belt.thickness_mm if wheel.belt else 0.0)
    if wheel.form_radius_mm is None:
        raise ValueError(f"wheel {wheel.name} is flat in the section")
    return wheel.form_radius_mm


def widest_chord_mm(wheel: Wheel, tilt_error_rad: float = 0.0) -> float:
    """Widest relief that its arc makes in one piece, held this far off the face's own angle.

    A form's arc ends where its rounded corners begin: a corner of radius q that touches the arc of
    radius r from within and the wall at half the width has its centre r - q from the arc's.
    """
    if wheel.contact == "along_edge":
        return 2 * section_radius_mm(wheel)
    radius, corner = section_radius_mm(wheel), wheel.corner_radius_mm
    ends = math.asin(min((wheel.width_mm / 2 - corner) / (radius - corner), 1.0))
    return 2 * radius * math.sin(max(ends - abs(tilt_error_rad), 0.0))


def flat_width_mm(wheel: Wheel) -> float:
    """Width of the straight line that a flat wheel or a platen grinds with."""
    return wheel.width_mm - 2 * wheel.corner_radius_mm


def crown_mm(wheel: Wheel) -> float | None:
    """Radius across the rim of a wheel along the edge, its belt included; None for a flat rim."""
    if wheel.contact != "along_edge" or wheel.crown_radius_mm is None:
        return None
    return wheel.crown_radius_mm + (wheel.belt.thickness_mm if wheel.belt else 0.0)


def crown_rise_mm(crown_radius_mm: float | None, off_middle_mm: float) -> float:
    r"""How far a rim's surface lies behind its middle, so far beside it: 0 for a flat rim.

    .. math:: r - \sqrt{r^2 - x^2}

    Range: \|x\| <= r. Shape: scalars. Source: Euclid, Elements III.35.

    >>> crown_rise_mm(5.0, 4.0)  # by hand: a 3-4-5 triangle
    2.0
    """
    if crown_radius_mm is None:
        return 0.0
    return off_middle_mm**2 / (crown_radius_mm + math.sqrt(crown_radius_mm**2 - off_middle_mm**2))


def rolling_diameter_mm(wheel: Wheel, curvature_per_mm: float = 0.0) -> float | None:
    """Diameter of the circle by which a wheel parts from a straight edge along it.

    Across the edge it is the wheel's own, along it twice the crown's radius, either as
    ``diameter_on_arc_mm`` has it; a flat rim and a platen are circles without end. None where it
    parts nowhere: these two on a straight edge and inside an arc, and a crown no rounder than the
    inside that it lies in; they touch over their length.
    """
    crown = crown_mm(wheel)
    across = wheel.diameter_mm if wheel.contact == "across_edge" else math.inf
    diameter = diameter_on_arc_mm(across if crown is None else 2 * crown, curvature_per_mm)
    return diameter if math.isfinite(diameter) or wheel.contact == "across_edge" else None


def diameter_on_arc_mm(diameter_mm: float, curvature_per_mm: float) -> float:
    r"""Diameter of a circle that touches a straight edge for as long as this one an arc.

    .. math:: 1/D_e = 1/D + \kappa/2

    κ is the curvature of the edge, above 0 outside, below 0 inside an arc. Source: the equivalent
    diameter of external and internal cylindrical grinding (S. Malkin & C. Guo, Grinding Technology,
    2nd ed. 2008, chapter 3, from memory). Endless where the circle is as large as the inside.
    """
    share = 1.0 / diameter_mm + curvature_per_mm / 2.0
    return 1.0 / share if share > 0.0 else math.inf


def half_reach_mm(wheel: Wheel, depth_mm: float, curvature_per_mm: float = 0.0) -> float:
    """How far it touches steel to either side of its middle along the edge, so deep in it."""
    longest = wheel.width_mm / 2 if wheel.platen is None else wheel.platen.length_mm / 2
    diameter = rolling_diameter_mm(wheel, curvature_per_mm)
    if diameter is None:
        return longest
    depth = min(max(depth_mm, 0.0), diameter / 2)
    reach = math.sqrt(depth * (diameter - depth))
    return reach if wheel.contact == "across_edge" else min(reach, longest)


def pressing_length_mm(wheel: Wheel, curvature_per_mm: float = 0.0) -> float:
    """Length of edge that it presses on: of a round one its arc at the rough infeed."""
    arc = arc_length_mm(wheel, wheel.infeed.rough_mm, curvature_per_mm)
    return wheel.width_mm if arc is None else float(arc)


def wearing_width_mm(wheel: Wheel, contact_width_mm: float, curvature_per_mm: float = 0.0) -> float:
    """Width of the rim that wears: all of it, or of a wheel across the edge the contact.

    Along the edge what touches at the rough infeed, to either side, for it travels both ways: of a
    flat rim all of it, but outside an arc.
    """
    if wheel.contact == "across_edge":
        return min(contact_width_mm, wheel.width_mm)
    if wheel.platen is not None:
        return wheel.width_mm
    return 2 * half_reach_mm(wheel, wheel.infeed.rough_mm, curvature_per_mm)


def arc_length_mm(
    wheel: Wheel, depth_of_cut_mm: ArrayLike, curvature_per_mm: float = 0.0
) -> Result | None:
    """Length of contact along the edge from the depth of cut: sqrt(a D) for a wheel across it.

    A crowned rim that travels along its own axis meets the steel as a wheel of the crown's radius
    rolling along the edge would, with the leading half of its width; so does a flat one outside an
    arc. A platen touches over its length, and outside an arc no further than the arc lets it; None
    for a flat rim on a straight edge or inside, where the depth of cut does not set it. Shape: any.
    """
    depth = np.asarray(depth_of_cut_mm, float)
    diameter = rolling_diameter_mm(wheel, curvature_per_mm)
    if diameter is None:
        return None if wheel.platen is None else np.full(depth.shape, wheel.platen.length_mm)
    arc = np.asarray(contact_length(depth, diameter))
    if wheel.platen is not None:
        return np.minimum(arc, wheel.platen.length_mm)
    return arc if wheel.contact == "across_edge" else np.minimum(arc, wheel.width_mm / 2)
