"""The wheel as the shape that it is in the section: a circle, or a rim with corners and walls.

In its own axes u runs along the frame's ``cross_dir`` and v along ``infeed_dir``, away from the
steel, with the reference point of ``docs/operations.md`` at (0, 0). Every shape is convex. A
circle is kept as a centre and a radius, and no polygon stands for it where contact is asked. A
rim is a polygon with its vertices on its arcs and chords within ``CHORD_ERROR_MM`` of them, of
``TOUCH_ERROR_MM`` where contact is asked; straight parts are exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np
import shapely

from planner.inputs.rack import Wheel
from planner.proof.forms import CHORD_ERROR_MM
from planner.proof.frame import Frame
from planner.proof.steel import Floats, swept_wheel, wheel_below_face
from planner.proof.target import Face, Vector

TOUCH_ERROR_MM = 1e-5
"""Largest distance of a rim's polygon from its arcs where only contact is asked."""
_MARGIN_MM = 1e-3
"""How far above the face's plane the polygon of a rim's lower part may be closed."""


class Stand(NamedTuple):
    """Where the wheel's reference point is in the section, and the tilt that turns its axes."""

    y: float
    z: float
    tilt_deg: float

    @property
    def centre(self) -> Vector:
        """The reference point."""
        return (self.y, self.z)


class Tool(Protocol):
    """What the judge asks of a wheel's shape."""

    @property
    def bare_mm(self) -> float:
        """Height of the reference point over a face parallel to the cross axis that it bares on."""

    @property
    def arc_radius_mm(self) -> float | None:
        """Radius of the arc that it grinds with; None for a flat."""

    @property
    def arc_half_width_mm(self) -> float:
        """Half the width of that arc, corners left out; of a flat's straight line."""

    def within_reach(
        self, start: Stand, end: Stand, steel: shapely.Geometry, reach_mm: float
    ) -> bool:
        """Whether the wheel, moved between two stands, comes nearer than ``reach_mm``."""

    def below(self, face: Face, stand: Stand) -> Floats:
        """Vertices of the part below a face's plane, shape (n, 2); (0, 2) where there is none."""

    def swept(self, face: Face, start: Stand, end: Stand) -> shapely.Geometry:
        """All that the wheel covers between two stands."""

    def profile_mm(self, face: Face, places_mm: Floats, stand: Stand) -> Floats:
        """Depth of its lower outline below the face at each place, shape (n,)."""

    def outline_uv_mm(self, error_mm: float) -> Floats:
        """Corners (u, v) of the whole shape, each once, chords within an error, shape (n, 2)."""


@dataclass(frozen=True)
class RoundTool:
    """A wheel whose axis is parallel to the edge: a circle about its reference point."""

    radius_mm: float

    @property
    def bare_mm(self) -> float:
        """See ``Tool``."""
        return self.radius_mm

    @property
    def arc_radius_mm(self) -> float:
        """See ``Tool``."""
        return self.radius_mm

    @property
    def arc_half_width_mm(self) -> float:
        """See ``Tool``."""
        return self.radius_mm

    def within_reach(
        self, start: Stand, end: Stand, steel: shapely.Geometry, reach_mm: float
    ) -> bool:
        """See ``Tool``. The distance from the path of the centre is exact."""
        path = _path(start.centre, end.centre)
        # It is not a number, and so not less, where no steel is left.
        return bool(shapely.distance(path, steel) < self.radius_mm + reach_mm)

    def below(self, face: Face, stand: Stand) -> Floats:
        """See ``Tool``."""
        return wheel_below_face(face, self.radius_mm, stand.centre)

    def swept(self, face: Face, start: Stand, end: Stand) -> shapely.Geometry:
        """See ``Tool``."""
        return swept_wheel(face, self.radius_mm, start.centre, end.centre)

    def profile_mm(self, face: Face, places_mm: Floats, stand: Stand) -> Floats:
        """See ``Tool``; 0 where the circle is above the face."""
        radius = self.radius_mm
        commanded = radius + face.depth_mm(stand.centre)
        offset = places_mm - face.place_mm(stand.centre)
        under = np.maximum(radius * radius - offset * offset, 0.0)
        return np.maximum(np.sqrt(under) - (radius - commanded), 0.0)

    def outline_uv_mm(self, error_mm: float) -> Floats:
        """See ``Tool``."""
        around = _arc((0.0, 0.0), self.radius_mm, 0.0, 2.0 * math.pi, error_mm)
        return around[:-1]


@dataclass(frozen=True)
class RimTool:
    """A wheel across the edge, or a platen: a line or an arc, two corners and two walls."""

    frame: Frame
    width_mm: float
    corner_mm: float
    form_radius_mm: float | None
    height_mm: float

    @property
    def bare_mm(self) -> float:
        """See ``Tool``."""
        return self.form_radius_mm or 0.0

    @property
    def arc_radius_mm(self) -> float | None:
        """See ``Tool``."""
        return self.form_radius_mm

    @property
    def arc_half_width_mm(self) -> float:
        """See ``Tool``. A corner's arc touches the form's where both have one direction."""
        flank = self.width_mm / 2.0 - self.corner_mm
        radius, corner = self.form_radius_mm, self.corner_mm
        if radius is None:
            return flank
        return flank if corner >= radius else radius * flank / (radius - corner)

    @cached_property
    def _fine(self) -> Floats:
        return self.outline_uv_mm(CHORD_ERROR_MM)

    @cached_property
    def _coarse(self) -> Floats:
        return self.outline_uv_mm(TOUCH_ERROR_MM)

    def outline_uv_mm(self, error_mm: float) -> Floats:
        """See ``Tool``; counterclockwise from the left wall's foot."""
        half, corner, radius = self.width_mm / 2.0, self.corner_mm, self.form_radius_mm
        flank = half - corner
        if radius is None:
            corner_v, lean = corner, 0.0
            right = [np.array([[flank, 0.0]])]
        else:
            inner = radius - corner
            corner_v = -math.sqrt(max(inner * inner - flank * flank, 0.0))
            # Where the form's arc ends, counted from straight down.
            lean = math.atan2(flank, -corner_v) if inner > 0.0 else 0.0
            right = [_arc((0.0, 0.0), radius, 0.0, lean, error_mm)]
        if corner > 0.0:
            right.append(_arc((flank, corner_v), corner, lean, math.pi / 2.0, error_mm))
        foot = corner_v if corner > 0.0 else float(right[-1][-1, 1])
        top = max(self.height_mm - self.bare_mm, foot + 1.0)
        right.append(np.array([[half, foot]]))
        chain = np.vstack(right)
        left = chain[::-1] * np.array([-1.0, 1.0])
        outline = np.vstack([left, chain, [[half, top], [-half, top]]])
        kept = np.ones(len(outline), dtype=bool)
        kept[1:] = np.any(np.abs(np.diff(outline, axis=0)) > 1e-12, axis=1)
        found: Floats = outline[kept]
        return found

    def corners(self, stand: Stand) -> Floats:
        """Every vertex of the wheel standing there, shape (n, 2)."""
        return self._placed(self._fine, stand)

    def _placed(self, outline: Floats, stand: Stand) -> Floats:
        cross_dir, infeed_dir = self.frame.directions(stand.tilt_deg)
        placed: Floats = np.array(stand.centre) + outline @ np.array([cross_dir, infeed_dir])
        return placed

    def within_reach(
        self, start: Stand, end: Stand, steel: shapely.Geometry, reach_mm: float
    ) -> bool:
        """See ``Tool``; within ``TOUCH_ERROR_MM`` where an arc or a corner touches."""
        return bool(shapely.distance(self._hull(start, end), steel) < reach_mm)

    def _hull(self, start: Stand, end: Stand) -> shapely.Geometry:
        first = self._placed(self._coarse, start)
        if start == end:
            return shapely.Polygon(first)
        return shapely.MultiPoint(np.vstack([first, self._placed(self._coarse, end)])).convex_hull

    def below(self, face: Face, stand: Stand) -> Floats:
        """See ``Tool``. Of the rest, what is far above the plane is cut off by a chord."""
        placed = self._placed(self._fine, stand)
        depth = (np.array(face.corner) - placed) @ np.array(face.normal)
        if depth.max() <= 0.0:
            return np.empty((0, 2))
        low = depth > -_MARGIN_MM
        # The shape is convex: what is kept is one run of vertices and a neighbour at either end.
        part: Floats = placed[low | np.roll(low, 1) | np.roll(low, -1)]
        return part

    def swept(self, face: Face, start: Stand, end: Stand) -> shapely.Geometry:
        """See ``Tool``."""
        del face
        return self._hull(start, end)

    def profile_mm(self, face: Face, places_mm: Floats, stand: Stand) -> Floats:
        """See ``Tool``; minus infinity beside the rim."""
        offset = self._placed(self._fine, stand) - np.array(face.corner)
        place, depth = offset @ np.array(face.along), -(offset @ np.array(face.normal))
        count = len(place)
        # Axes turned by any attitude: the lower outline runs between the two outermost vertices,
        # on the side that has the deepest. Of two equally far out, the deeper is taken.
        far = np.lexsort((-depth, place))
        first, last = int(far[0]), int(np.lexsort((-depth, -place))[0])
        ways = [
            [(first + step * n) % count for n in range((step * (last - first)) % count + 1)]
            for step in (1, -1)
        ]
        lower = max(ways, key=lambda way: float(depth[way].mean()))
        found: Floats = np.interp(
            places_mm, place[lower], depth[lower], left=-math.inf, right=-math.inf
        )
        return found


def tool_of(wheel: Wheel, frame: Frame, circle_radius_mm: float) -> Tool:
    """The shape of a wheel; ``circle_radius_mm``, belt included, is for ``along_edge`` alone."""
    if wheel.contact == "along_edge":
        return RoundTool(circle_radius_mm)
    return RimTool(
        frame=frame,
        width_mm=wheel.width_mm,
        corner_mm=wheel.corner_radius_mm,
        form_radius_mm=wheel.form_radius_mm,
        height_mm=wheel.diameter_mm,
    )


def reach_along_edge_mm(wheel: Wheel, deepest_mm: float, curvature_per_mm: float = 0.0) -> float:
    """How far from its middle plane the wheel reaches along the edge, ``deepest_mm`` down.

    A wheel across the edge of diameter D: sqrt(h (D - h)) (Euclid, Elements III.35). A crown of
    radius r: r sin(a), where r (1 - cos(a)) is the depth, and no further than its rim.

    >>> from types import SimpleNamespace
    >>> wheel = SimpleNamespace(contact="across_edge", diameter_mm=10.0, platen=None)
    >>> reach_along_edge_mm(wheel, 1.0)  # by hand: a 3-4-5 triangle
    3.0
    """
    if wheel.platen is not None:
        half = wheel.platen.length_mm / 2.0
        if curvature_per_mm <= 0.0:
            return half
        # Outside an arc the flat is a chord of it.
        return min(half, math.sqrt(deepest_mm * (2.0 / curvature_per_mm - deepest_mm)))
    if wheel.contact == "across_edge":
        diameter = _alike_diameter_mm(wheel.diameter_mm, curvature_per_mm)
        deep = min(deepest_mm, diameter / 2.0)
        return math.sqrt(deep * (diameter - deep))
    half = wheel.width_mm / 2.0
    radius = rounding_along_edge_mm(wheel, curvature_per_mm)
    if radius is None:
        return half
    return min(radius * math.sin(math.acos(max(1.0 - deepest_mm / radius, 0.0))), half)


def crown_of(wheel: Wheel) -> float | None:
    """Radius across the rim of a crowned wheel along the edge, its belt on it; None for others."""
    if wheel.contact != "along_edge" or wheel.crown_radius_mm is None:
        return None
    return wheel.crown_radius_mm + (0.0 if wheel.belt is None else wheel.belt.thickness_mm)


def rounding_along_edge_mm(wheel: Wheel, curvature_per_mm: float) -> float | None:
    """Radius by which a rim along the edge parts from a straight edge as it does from a curved one.

    A flat rim is a crown of no curvature. None where the edge is as hollow as the crown is round,
    or more, and for any other wheel.
    """
    if wheel.contact != "along_edge":
        return None
    crown = crown_of(wheel)
    apart = (0.0 if crown is None else 1.0 / crown) + curvature_per_mm
    return 1.0 / apart if apart > 0.0 else None


def _alike_diameter_mm(diameter_mm: float, curvature_per_mm: float) -> float:
    """Of the wheel that parts from a straight edge as this one from a curved one.

    Near the contact the gap grows with x^2 / D + curvature x^2 / 2.
    """
    return 2.0 / (2.0 / diameter_mm + curvature_per_mm)


def contact_along_edge_mm(wheel: Wheel, curvature_per_mm: float = 0.0) -> float:
    """Half the length along the edge that the wheel presses on.

    Across the edge it is half of sqrt(a D), the length of contact in surface grinding (S. Malkin
    & C. Guo, Grinding Technology, 2nd ed. 2008, chapter 3, from memory), a the rough infeed. A
    crowned rim cuts with its leading half, from its middle to where it comes out of the steel: to
    first order sqrt(2 a r).
    """
    infeed = wheel.infeed.rough_mm
    if wheel.contact == "across_edge":
        diameter = _alike_diameter_mm(wheel.diameter_mm, curvature_per_mm)
        return math.sqrt(infeed * diameter) / 2.0
    radius = rounding_along_edge_mm(wheel, curvature_per_mm)
    if radius is not None:
        return min(math.sqrt(2.0 * infeed * radius), wheel.width_mm / 2.0) / 2.0
    if wheel.platen is not None and curvature_per_mm > 0.0:
        # It parts from the arc with x^2 / 2 of its radius.
        return min(math.sqrt(2.0 * infeed / curvature_per_mm), wheel.platen.length_mm) / 2.0
    return reach_along_edge_mm(wheel, 0.0)


def _arc(centre: Vector, radius: float, first: float, last: float, error_mm: float) -> Floats:
    """Points of an arc, angles from straight down, at multiples of one step and at both ends."""
    step = 2.0 * math.acos(max(1.0 - error_mm / radius, 0.0))
    inner = np.arange(math.floor(first / step) + 1, math.ceil(last / step)) * step
    angles = np.concatenate([[first], inner, [last]]) if last > first else np.array([first])
    points: Floats = np.column_stack(
        [centre[0] + radius * np.sin(angles), centre[1] - radius * np.cos(angles)]
    )
    return points


def _path(start: Vector, end: Vector) -> shapely.Geometry:
    return shapely.Point(start) if start == end else shapely.LineString([start, end])
