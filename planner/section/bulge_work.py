"""A bevel that bulges, out of parallel stock: facets by a flat wheel, or lines by a round one.

See docs/operations.md, "A bevel that bulges".
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from planner.formulas.removal import ArcRemoval, Removal, TipRemoval
from planner.section.facets import Facet
from planner.section.line_arcs import BulgeArc
from planner.section.profile import BevelFace
from planner.section.target import FaceRelief
from planner.section.wheel_shape import wearing_width_mm
from planner.section.work import FaceState, FaceWork, Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class FacetWork(FaceWork):
    """One of the flats that stand for the arc. Its depths count from the corner that it takes."""

    facet: Facet
    ridge_reached_mm: float
    """Of all the facets of its face, over the arc."""

    @property
    def face(self) -> BevelFace:
        """The plane of the flat, as far as it is ground."""
        facet, whole = self.facet, self.section.face(self.relief.face)
        return replace(
            whole,
            angle_deg=math.degrees(facet.angle_rad),
            height_mm=facet.last_yz_mm[0],
            width_mm=facet.width_mm,
            at_edge_mm=facet.at_edge_mm,
            start_yz_mm=facet.first_yz_mm,
            bulge=None,
        )

    @property
    def depth_mm(self) -> float:
        """From the corner to the flat."""
        return self.facet.depth_mm

    @property
    def asked_place_mm(self) -> float:
        """The middle of the flat as it is ground."""
        return self.face.start_mm + self.facet.width_mm / 2

    @property
    def ground_width_mm(self) -> float:
        """Of the flat as it is ground."""
        return self.facet.width_mm

    @property
    def reaches_edge(self) -> bool:
        """The first flat makes the edge."""
        return not self.before.flats

    @property
    def edge_left_mm(self) -> float:
        """Nothing: the first flat makes the edge as it stays."""
        return 0.0

    @property
    def half_edge_mm(self) -> float:
        """The first flat makes it."""
        return min(at_edge for _, at_edge in self.state(self.depth_mm).flats)

    @property
    def from_corner(self) -> bool:
        """Every flat begins on a corner."""
        return True

    @cached_property
    def removal(self) -> Removal:
        """A corner is cut off down to the depth."""
        widening = self.facet.edge_side + self.facet.shoulder_side
        return TipRemoval(widening, 2 * self.facet.depth_mm)

    def face_width_mm(self, outside_mm: float) -> float:
        """Its own: outside counts to the arc, and not to a flat."""
        return self.facet.width_mm

    def state(self, depth_mm: float) -> FaceState:
        """The face with the wheel at a depth."""
        facet = self.facet
        at_edge = facet.at_edge_mm + (facet.depth_mm - depth_mm) / math.cos(facet.angle_rad)
        return replace(self.before, flats=(*self.before.flats, (facet.angle_rad, at_edge)))

    def place_y_mm(self, along_mm: Floats) -> Floats:
        """See ``FaceWork``."""
        return (self.zero_relief.middle_mm + along_mm) * math.cos(self.facet.angle_rad)

    def contact_y_mm(self, depth_mm: Floats) -> tuple[Floats, Floats]:
        """From where to where the wheel touches at a depth, as y. Shape: that of the depth."""
        facet = self.facet
        sine, cosine = math.sin(facet.angle_rad), math.cos(facet.angle_rad)
        foot = facet.corner_yz_mm[0] + depth_mm * sine
        low = foot - depth_mm * facet.edge_side * cosine
        high = foot + depth_mm * facet.shoulder_side * cosine
        return _from_edge(low), np.maximum(high, 1e-6)

    @property
    def flat_bares_mm(self) -> tuple[float, ...]:
        """On the corner, along the plane through it."""
        return (self.facet.corner_along_mm,)

    @property
    def zero_face(self) -> BevelFace:
        """The plane through the corner."""
        return self.face.raised(self.facet.depth_mm)

    @property
    def zero_relief(self) -> FaceRelief:
        """The place on that plane over which the wheel's middle stands."""
        lower = self.facet.depth_mm * math.tan(self.facet.angle_rad)
        place = self.place_mm - lower
        return replace(self.relief, middle_mm=place, depth_mm=self.facet.depth_mm)


@dataclass(frozen=True, eq=False, kw_only=True)
class BulgeWork(FaceWork):
    """The arc in lines. Its depths count from the corner of the stock, along one normal."""

    plane: BevelFace
    """The face by the plane that touches it half way between its two angles."""

    @property
    def face(self) -> BevelFace:
        """The face by that plane."""
        return self.plane

    @property
    def place_mm(self) -> float:
        """The corner of the stock: its place on the plane of the face."""
        return (self.face.stock_mm - self.face.at_edge_mm) * math.sin(self.face.angle_rad)

    @property
    def asked_place_mm(self) -> float:
        """The corner is where it is."""
        return self.place_mm

    @property
    def edge_per_aside(self) -> float:
        """The arc goes with the wheel: at the edge it leans from the way of the cross."""
        edge = math.radians(self.face.edge_angle_deg)
        return math.sin(edge - self.face.angle_rad) / math.cos(edge)

    @property
    def half_edge_mm(self) -> float:
        """That of the blade."""
        return self.face.corner_mm

    @property
    def ridge_reached_mm(self) -> float:
        """Between the lines as they lie."""
        return self.line_arc.ridge_mm()

    @property
    def from_corner(self) -> bool:
        """It begins on the square corner of the stock."""
        return True

    @property
    def deepest_mm(self) -> float:
        """The deepest that a line stands below the corner."""
        return max(self.depth_mm, self.line_arc.deepest_mm)

    @cached_property
    def line_arc(self) -> BulgeArc:
        """The arc seen from the corner."""
        assert self.wheel_radius_mm is not None
        assert self.ridge_mm is not None
        arc = bulge_arc(self.plane, self.wheel_radius_mm, self.ridge_mm)
        return replace(arc, sharpest_mm=self.sharpest_mm)

    @cached_property
    def removal(self) -> Removal:
        """What lies between the stock and the arc, moved along the normal."""
        arc = self.line_arc
        places = np.linspace(*arc.span_mm, _PLACES)
        gaps = arc.target_mm(places) - arc.surface_mm(places)
        return ArcRemoval(tuple(gaps.tolist()), float(places[1] - places[0]))

    @property
    def wearing_width_mm(self) -> float:
        """The place of contact goes round the rim by as much as the arc turns."""
        assert self.wheel_radius_mm is not None
        turn = self.line_arc.last_rad - self.line_arc.first_rad
        return wearing_width_mm(self.wheel, self.wheel_radius_mm * turn, self.curvature_per_mm)

    def face_width_mm(self, outside_mm: float) -> float:
        """The arc's own, however far outside it stands."""
        return self.face.width_mm

    def place_y_mm(self, along_mm: Floats) -> Floats:
        """See ``FaceWork``: from the corner, which stands at y = 0."""
        return along_mm * math.cos(self.face.angle_rad)

    def contact_y_mm(self, depth_mm: Floats) -> tuple[Floats, Floats]:
        """From where to where the arc, moved, lies in the stock, as y. Shape: the depth's."""
        arc, depth = self.line_arc, np.asarray(depth_mm, float)
        places = np.linspace(*arc.span_mm, _PLACES)
        gaps = arc.target_mm(places) - arc.surface_mm(places)
        left = arc.depth_mm - np.minimum(depth, arc.depth_mm)
        inside = gaps >= left[..., np.newaxis] - 1e-12
        low = places[np.argmax(inside, axis=-1)]
        high = places[-1 - np.argmax(inside[..., ::-1], axis=-1)]
        # Its own y: along the plane, and so much nearer to the spine as it lies below it.
        cosine, sine = math.cos(self.face.angle_rad), math.sin(self.face.angle_rad)
        ends = (low * cosine + arc.surface_mm(low) * sine, high * cosine)
        high_y = ends[1] + arc.surface_mm(high) * sine
        return _from_edge(ends[0]), np.maximum(high_y, 1e-6)

    @property
    def flat_bares_mm(self) -> tuple[float, ...]:
        """A round wheel bares on the corner at any tilt."""
        return ()

    @property
    def zero_face(self) -> BevelFace:
        """The plane through the corner of the stock."""
        return replace(self.face, at_edge_mm=self.face.stock_mm, bulge=None)

    @property
    def zero_relief(self) -> FaceRelief:
        """The corner, over which the wheel stands."""
        return replace(self.relief, middle_mm=0.0, depth_mm=self.depth_mm)


_PLACES = 2001


def _from_edge(y_mm: Floats) -> Floats:
    """Places on the square end are at 0 itself: a rounding beside it would be a strip of steel."""
    return np.where(y_mm < _ON_END_MM, 0.0, y_mm)


_ON_END_MM = 1e-9


def bulge_arc(plane: BevelFace, wheel_mm: float, ridge_mm: float) -> BulgeArc:
    """The arc of a face as it is seen from the corner of the stock."""
    bulge = plane.bulge
    assert bulge is not None
    (y, z), angle = bulge.centre_yz_mm, plane.angle_rad
    z -= plane.stock_mm
    along = y * math.cos(angle) + z * math.sin(angle)
    below = y * math.sin(angle) - z * math.cos(angle)
    first = math.radians(plane.edge_angle_deg)
    # Where two wheels side by side only touch each other a ridge is as high as it can be.
    most = math.sqrt(bulge.radius_mm * (bulge.radius_mm + 2 * wheel_mm)) - bulge.radius_mm
    return BulgeArc(
        radius_mm=bulge.radius_mm,
        wheel_mm=wheel_mm,
        scallop_mm=min(ridge_mm, 0.9 * most),
        centre_mm=(along, below),
        first_rad=angle - first,
        last_rad=angle - bulge.angle_rad(plane.height_mm),
        plane_rad=angle,
    )


def half_way(face: BevelFace) -> BevelFace:
    """A face that bulges, by the plane that touches it half way between its two angles."""
    assert face.bulge is not None
    first, last = math.radians(face.edge_angle_deg), face.bulge.angle_rad(face.height_mm)
    return face.touched_at((first + last) / 2)
