"""The flats that stand for the arc of a bevel that bulges: which, and where each one lies.

They are ground from the edge to the shoulder, each by a flat wheel held at its own tilt. Each
touches the arc, the first where it begins at the edge and the last where it ends at the shoulder,
so that the edge's angle and thickness and the place of the shoulder are those of the arc; between
two of them a ridge stands over it (planner/formulas/contact.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas.contact import facet_ridge_height, facet_turn_rad
from planner.section.profile import BevelFace

MOST_FACETS = 9
"""On one face: each is a set-up of its own, with its own tilt and touch-off. Common practice."""
MOST_SWEPT = 60
"""On one face where the tilt is swept from one to the next. Common practice, no source."""
_ALIKE_RAD = 1e-9
_LEAST_MM = 1e-6
"""A flat that lies less deep than this in the steel is none."""
MOST_RIDGE_MM = 0.5
"""The highest ridge that a job may ask for."""


@dataclass(frozen=True)
class Facet:
    """One flat, and the corner of the steel that a flat wheel bares on before it is ground."""

    angle_rad: float
    """To the centre plane."""
    at_edge_mm: float
    """|z| at which its plane meets y = 0."""
    before_rad: float
    """Angle to the centre plane of what lies before the corner: the flat before, or the end."""
    corner_yz_mm: tuple[float, float]
    """The corner, on the flank."""
    depth_mm: float
    """From the corner to its plane."""

    @property
    def edge_side(self) -> float:
        """How much wider it grows toward the edge for a millimetre of depth."""
        return 1.0 / math.tan(self.before_rad - self.angle_rad)

    @property
    def shoulder_side(self) -> float:
        """The same toward the shoulder, down the flank."""
        return 1.0 / math.tan(self.angle_rad)

    @property
    def width_mm(self) -> float:
        """Of the flat when it is ground, the next one not yet."""
        return self.depth_mm * (self.edge_side + self.shoulder_side)

    @property
    def corner_along_mm(self) -> float:
        """Of the corner, along the plane from y = 0 on the plane through the corner."""
        return self.corner_yz_mm[0] / math.cos(self.angle_rad)

    @property
    def first_yz_mm(self) -> tuple[float, float]:
        """Where the ground flat begins, toward the edge."""
        return self._point(-self.depth_mm * self.edge_side)

    @property
    def last_yz_mm(self) -> tuple[float, float]:
        """Where the ground flat ends, on the flank."""
        return self._point(self.depth_mm * self.shoulder_side)

    def _point(self, beside_mm: float) -> tuple[float, float]:
        """Of the plane, so far beside the foot of the corner."""
        sine, cosine = math.sin(self.angle_rad), math.cos(self.angle_rad)
        y, z = self.corner_yz_mm
        return (
            y + self.depth_mm * sine + beside_mm * cosine,
            z - self.depth_mm * cosine + beside_mm * sine,
        )


def facets_of(
    face: BevelFace,
    ridge_mm: float,
    held_deg: Callable[[float], float],
    *,
    most: int = MOST_FACETS,
    or_lines: bool = True,
) -> tuple[Facet, ...]:
    """The flats of one face, from the edge to the shoulder.

    ``held_deg`` gives the angle that the blade can be held at for one that is wanted,
    ``or_lines`` whether a round wheel could make the blade's bevels instead.
    Raises: RefusedError where no ``most`` of these leave ridges low enough.
    """
    assert face.bulge is not None
    first, last = _ends_rad(face)
    radius, turn = face.bulge.radius_mm, float(facet_turn_rad(ridge_mm, face.bulge.radius_mm))
    lowest = math.inf
    for count in range(2, most + 1):
        angles = _held(first, last, count, held_deg)
        found = ridge_reached_mm(face, angles)
        if found <= ridge_mm * (1 + 1e-9):
            return _placed(face, angles)
        lowest = min(lowest, found)
    facts: dict[str, Fact] = {
        "face": face.face,
        "ridge_mm": ridge_mm,
        "radius_mm": radius,
        "turn_deg": math.degrees(turn),
        "most": most,
        "lowest_mm": lowest,
    }
    ways = [WayOut("lines-for-bulge")] if or_lines else []
    if lowest <= MOST_RIDGE_MM:
        ways.insert(0, WayOut("higher-ridge", {"ridge_mm": math.ceil(lowest * 1000) / 1000}))
    raise RefusedError([Refusal("facets-too-coarse", facts, tuple(ways))])


def ridge_reached_mm(face: BevelFace, angles_rad: Sequence[float]) -> float:
    """Height of the highest ridge over the arc, the ends of the arc counted.

    Infinite without a flat.
    """
    assert face.bulge is not None
    if not angles_rad:
        return math.inf
    first, last = _ends_rad(face)
    # Below its first flat an end of the arc lies as deep as the ridge of two such angles.
    turns = [a - b for a, b in pairwise(angles_rad)]
    turns += [2 * abs(angles_rad[0] - first), _last_turn(angles_rad[-1], last)]
    return float(facet_ridge_height(max(turns), face.bulge.radius_mm))


def _last_turn(angle_rad: float, shoulder_rad: float) -> float:
    """At the shoulder the flank itself is a flat, where the arc runs out level."""
    beside = 2 * abs(angle_rad - shoulder_rad)
    return min(beside, angle_rad) if shoulder_rad < _ALIKE_RAD else beside


def _ends_rad(face: BevelFace) -> tuple[float, float]:
    """Angles of the arc to the centre plane, at the edge and at the shoulder."""
    assert face.bulge is not None
    return math.radians(face.edge_angle_deg), face.bulge.angle_rad(face.height_mm)


def _held(
    first_rad: float, last_rad: float, count: int, held_deg: Callable[[float], float]
) -> tuple[float, ...]:
    """Evenly turned flats, each at the nearest setting; a level one is the flank itself."""
    found: list[float] = []
    for number in range(count):
        wanted = first_rad + (last_rad - first_rad) * number / (count - 1)
        angle = math.radians(held_deg(math.degrees(wanted)))
        again = found and found[-1] - angle < _ALIKE_RAD
        if angle > _ALIKE_RAD and not again:
            found.append(angle)
    return tuple(found)


def _placed(face: BevelFace, angles_rad: Sequence[float]) -> tuple[Facet, ...]:
    assert face.bulge is not None
    stock = face.stock_mm
    corner, before = (0.0, stock), math.pi / 2
    found = []
    for angle in angles_rad:
        y, z = face.bulge.point(angle)
        at_edge = z - y * math.tan(angle)
        depth = (corner[1] - at_edge) * math.cos(angle) - corner[0] * math.sin(angle)
        if depth < _LEAST_MM:
            continue
        found.append(Facet(angle, at_edge, before, corner, depth))
        corner, before = ((stock - at_edge) / math.tan(angle), stock), angle
    return tuple(found)
