"""The section and the wheels as lines and true arcs, on layers named in the trade's words.

Everything in the section frame (docs/frames.md): y from edge to spine, z with face A up, in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from planner.inputs.rack import Wheel
from planner.plan import Plan
from planner.proof.verdict import PathPoint, Verdict
from planner.section.target import Section, outline_before, relief_ends
from planner.section.wheel_shape import section_radius_mm
from planner.setup_plan import Setup

Point = tuple[float, float]

_TOUCHING_MM = 1e-9


class Vertex(NamedTuple):
    """A corner, and how the way to the next one bulges.

    The bulge is the tangent of a quarter of the arc's angle, counterclockwise above zero (as in
    DXF); 0 is a straight line.
    """

    y_mm: float
    z_mm: float
    bulge: float = 0.0

    @property
    def place(self) -> Point:
        """The corner alone."""
        return self.y_mm, self.z_mm


@dataclass(frozen=True)
class Path:
    """Lines and arcs one after another."""

    layer: str
    vertices: tuple[Vertex, ...]
    closed: bool


@dataclass(frozen=True)
class Circle:
    """A whole circle."""

    layer: str
    centre: Point
    radius_mm: float


@dataclass(frozen=True)
class Mark:
    """A single place."""

    layer: str
    place: Point


Shape = Path | Circle | Mark

STOCK = "STOCK"
BLADE = "BLADE"
PROVED = "BLADE_AS_PROVED"
CENTRE = "CENTRE_PLANE"


@dataclass(frozen=True)
class SectionDrawing:
    """All shapes, and what is said beside them."""

    shapes: tuple[Shape, ...]
    notes: tuple[str, ...]

    @property
    def layers(self) -> tuple[str, ...]:
        """Each layer once, in the order in which it is drawn."""
        return tuple(dict.fromkeys(shape.layer for shape in self.shapes))


def section_drawing(plan: Plan, verdicts: Mapping[str, Verdict]) -> SectionDrawing:
    """Stock, finished blade, the blade as proved, and each set-up's wheel after its last pass."""
    section = plan.section
    shapes: list[Shape] = [
        _stock(plan),
        Path(BLADE, section_path(section, {r.face: r.depth_mm for r in section.reliefs}), True),
        Path(PROVED, section_path(section, proved_depths_mm(plan, verdicts)), True),
        Path(CENTRE, (Vertex(0.0, 0.0), Vertex(section.width_mm, 0.0)), False),
        *_lands(section),
    ]
    for setup in plan.setups:
        shapes += _wheel(setup, verdicts[setup.program])
    return SectionDrawing(tuple(shapes), _notes(plan, verdicts))


def proved_depths_mm(plan: Plan, verdicts: Mapping[str, Verdict]) -> dict[str, float]:
    """Depth of each relief as the proof measured it in the middle of the edge."""
    depths = {}
    for setup in plan.setups:
        for at in verdicts[setup.program].lands:
            if at.station == "middle" and at.row_station in (0, setup.row.stations[0]):
                depths[setup.relief.face] = at.depth_mm
    return depths


def section_path(section: Section, depths_mm: Mapping[str, float]) -> tuple[Vertex, ...]:
    """The outline with its reliefs at these depths: along face A to the spine, back along B."""
    upper, lower = (_face(section, face, depths_mm.get(face, 0.0)) for face in ("A", "B"))
    # Mirrored an arc turns the other way, and walked back it turns again.
    back = [
        Vertex(here.y_mm, -here.z_mm, before.bulge)
        for here, before in zip(reversed(lower), [*reversed(lower[:-1]), Vertex(0, 0)], strict=True)
    ]
    vertices = [*upper, *back]
    if math.dist(vertices[0].place, vertices[-1].place) <= _TOUCHING_MM:
        vertices.pop()
    return tuple(vertices)


def _face(section: Section, face: str, depth_mm: float) -> list[Vertex]:
    """From the edge to the spine, as face A lies."""
    flat, relief = section.face(face), section.relief(face)
    way = [Vertex(0.0, flat.corner_mm)]
    if flat.micro_deg is not None:
        way.append(Vertex(*flat.start_yz_mm))
    shoulder = flat.surface(way[-1].y_mm, flat.height_mm)[-1]
    if relief is not None and depth_mm > 0.0:
        first, last = relief_ends(section, relief, depth_mm)
        # Where the hollow runs out it begins or ends in the corner itself.
        if first[0] - way[-1].y_mm > _TOUCHING_MM:
            _go_on(way, first, -flat.bulge_radius_mm)
        _go_on(way, min(last, shoulder), section.wheel_radius_mm)
        if shoulder[0] - last[0] > _TOUCHING_MM:
            _go_on(way, shoulder, -flat.bulge_radius_mm)
    else:
        _go_on(way, shoulder, -flat.bulge_radius_mm)
    behind = [Vertex(*p) for p in flat.flank if p[0] > flat.height_mm + _TOUCHING_MM]
    return [*way, *behind]


def _go_on(way: list[Vertex], to: Point, radius_mm: float) -> None:
    """Add a place, on an arc that turns counterclockwise, or clockwise with a radius below 0.

    A wheel stands outside, so that from edge to spine its arc turns counterclockwise; a face that
    bulges turns the other way.
    """
    half = math.dist(way[-1].place, to) / 2.0
    bulge = math.tan(math.asin(min(half / abs(radius_mm), 1.0)) / 2.0)
    way[-1] = way[-1]._replace(bulge=math.copysign(bulge, radius_mm) if bulge else 0.0)
    way.append(Vertex(*to))


def _stock(plan: Plan) -> Path:
    section = plan.section
    if plan.job.model.bevel_stages == 0:
        return Path(STOCK, section_path(section, {}), True)
    corners = outline_before(section, from_the_bar=True)
    return Path(STOCK, tuple(Vertex(y, z) for y, z in corners), True)


def _lands(section: Section) -> Iterable[Path]:
    """The lands as lines of their own."""
    for relief in section.reliefs:
        side = 1.0 if relief.face == "A" else -1.0
        flat = section.face(relief.face)
        first, last = relief_ends(section, relief, relief.depth_mm)
        shoulder = flat.surface(flat.start_yz_mm[0], flat.height_mm)[-1]
        ends = {
            "EDGE_LAND": (flat.start_yz_mm, first, relief.edge_land_mm),
            "SHOULDER_LAND": (last, shoulder, relief.shoulder_land_mm),
        }
        for name, (begin, end, width) in ends.items():
            if width > _TOUCHING_MM:
                way = [Vertex(*begin)]
                _go_on(way, end, -flat.bulge_radius_mm)
                line = tuple(Vertex(v.y_mm, side * v.z_mm, side * v.bulge) for v in way)
                yield Path(f"{name}_{relief.face}", line, False)


def wheel_at(setup: Setup, at: PathPoint) -> Point:
    """The wheel's reference point in the section frame (docs/operations.md)."""
    frame = setup.frame
    if setup.sweep is not None:
        y, z = setup.sweep.stands_at(at.tilt_deg, at.cross_mm, at.infeed_mm).tolist()
        return y, z
    return (
        frame.origin_yz_mm[0]
        + at.cross_mm * frame.cross_dir_yz[0]
        + at.infeed_mm * frame.infeed_dir_yz[0],
        frame.origin_yz_mm[1]
        + at.cross_mm * frame.cross_dir_yz[1]
        + at.infeed_mm * frame.infeed_dir_yz[1],
    )


def last_stand(verdict: Verdict) -> PathPoint:
    """Where the wheel stands at the end of the last pass in contact, as read back."""
    line = verdict.cuts[-1].last_line
    return [at for at in verdict.positions if at.line <= line][-1]


def _wheel(setup: Setup, verdict: Verdict) -> Iterable[Shape]:
    layer = f"WHEEL_{setup.name}"
    at = last_stand(verdict)
    centre, wheel = wheel_at(setup, at), setup.work.wheel
    if wheel.contact == "along_edge":
        yield Circle(layer, centre, section_radius_mm(wheel))
    else:
        yield Path(layer, tuple(_placed(setup, at, centre, _rim(wheel))), True)
    yield Mark(f"WHEEL_MIDDLE_{setup.name}", centre)


def _rim(wheel: Wheel) -> list[Vertex]:
    """A wheel across the edge, or a platen, by its reference point; rounded corners as arcs."""
    half, top, corner = wheel.width_mm / 2, wheel.diameter_mm, wheel.corner_radius_mm
    if wheel.form_radius_mm is None:
        low = [Vertex(-half, corner), Vertex(-half + corner, 0.0)]
        low += [Vertex(half - corner, 0.0), Vertex(half, corner)]
        if corner <= _TOUCHING_MM:
            return [Vertex(-half, 0.0), Vertex(half, 0.0), Vertex(half, top), Vertex(-half, top)]
        turn = math.tan(math.pi / 8)
        low = [low[0]._replace(bulge=turn), low[1], low[2]._replace(bulge=turn), low[3]]
        return [*low, Vertex(half, top), Vertex(-half, top)]
    form = wheel.form_radius_mm
    end = math.asin(min((half - corner) / (form - corner), 1.0)) if form > corner else math.pi / 2
    meet = (form * math.sin(end), -form * math.cos(end))
    up, turn = top - form, math.tan((math.pi / 2 - end) / 4)
    arc = math.tan(end / 2)
    if corner <= _TOUCHING_MM:
        low = [Vertex(-meet[0], meet[1], arc), Vertex(*meet)]
    else:
        wall = -(form - corner) * math.cos(end)
        low = [
            Vertex(-half, wall, turn),
            Vertex(-meet[0], meet[1], arc),
            Vertex(*meet, turn),
            Vertex(half, wall),
        ]
    return [*low, Vertex(half, up), Vertex(-half, up)]


def _placed(setup: Setup, at: PathPoint, centre: Point, rim: Sequence[Vertex]) -> Iterable[Vertex]:
    """From the wheel's own axes to the section frame, which may look from the other end."""
    across, up = setup.frame.cross_dir_yz, setup.frame.infeed_dir_yz
    if setup.sweep is not None:
        across, up = (tuple(d.tolist()) for d in setup.sweep.directions(at.tilt_deg))
    turned = math.copysign(1.0, across[0] * up[1] - across[1] * up[0])
    for u, v, bulge in rim:
        yield Vertex(
            centre[0] + u * across[0] + v * up[0],
            centre[1] + u * across[1] + v * up[1],
            turned * bulge,
        )


def _notes(plan: Plan, verdicts: Mapping[str, Verdict]) -> tuple[str, ...]:
    lines = [
        plan.job.model.title,
        "lengths in mm; section frame: edge at 0, spine to the right, face A up",
        "wheels as they stand after the last pass, read back from the programs",
    ]
    for setup in plan.setups:
        verdict = verdicts[setup.program]
        at = last_stand(verdict)
        lines.append(
            f"set-up {setup.name}: wheel {setup.work.wheel.name}, tilt {at.tilt_deg:.3f} deg, "
            f"{setup.program} SHA-256 {verdict.sha256[:16]}"
        )
    return tuple(lines)
