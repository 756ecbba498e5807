"""The drawing of a clamping: the blade in the fixture, tilted, the wheel over it, seen along the
edge, the cross axis to the right and the infeed axis upward."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from planner.inputs.rack import Wheel
from planner.kinematics.obstacles import obstacles_for
from planner.kinematics.settings import tilt_kind
from planner.plan import Plan
from planner.report.papers.drawing import Anchor, Drawing, Point, hatching
from planner.section.wheel_shape import crown_mm, section_radius_mm
from planner.section.witness_mark import witness_mark
from planner.section.work import FaceWork
from planner.setup_plan import Setup

_WIDTH_MM, _HEIGHT_MM = 182.0, 82.0
_SIDE_MM = 36.0
"""Room for words at either side."""
_ABOVE_MM, _BELOW_MM = 26.0, 6.0
"""Room for the wheel, and for words under what holds the blade."""
_SOLE_MM = 3.0
_BEHIND_SHARE = 0.9
_PAST_SHARE = 1.08
"""How far what holds the blade is drawn, of the blade's width."""
_SCALES = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
_ARC_STEPS = 360
_SMALL_TILT_DEG = 1.0
_STEEP_DEG = 45.0


@dataclass(frozen=True)
class _View:
    """From the section frame to the paper: where program zero bares is ``zero``."""

    setup: Setup
    scale: float
    zero: Point

    def at(self, y_mm: float, z_mm: float) -> Point:
        """A place of the section frame on paper."""
        frame = self.setup.frame
        off_y = y_mm - frame.origin_yz_mm[0]
        off_z = z_mm - frame.origin_yz_mm[1]
        across = off_y * frame.cross_dir_yz[0] + off_z * frame.cross_dir_yz[1]
        up = off_y * frame.infeed_dir_yz[0] + off_z * frame.infeed_dir_yz[1]
        return self.by_wheel(across, up)

    def by_wheel(self, across_mm: float, up_mm: float) -> Point:
        """A place given from the wheel's reference point, its lowest place its radius below."""
        low = -(self.setup.work.wheel_radius_mm or 0.0)
        return (
            self.zero[0] + across_mm * self.scale,
            self.zero[1] + (up_mm - low) * self.scale,
        )


def scale_words(scale: float) -> str:
    """A drawing's scale.

    >>> scale_words(5.0), scale_words(0.5)
    ('5 : 1', '1 : 2')
    """
    return f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"


def clamping(plan: Plan, setup: Setup) -> tuple[Drawing, float]:
    """The drawing, and its scale."""
    outline = _blade(setup)
    holding = _holding(plan, setup)
    rough = [_View(setup, 1.0, (0.0, 0.0)).at(*corner) for corner in (*outline, *holding)]
    wide = max(x for x, _ in rough) - min(x for x, _ in rough)
    high = max(0.0, *(y for _, y in rough)) - min(y for _, y in rough)
    room_x, room_y = _WIDTH_MM - 2 * _SIDE_MM, _HEIGHT_MM - _ABOVE_MM - _BELOW_MM - _SOLE_MM
    fits = min(room_x / wide, room_y / high)
    scale = max((s for s in _SCALES if s <= fits), default=fits)
    left = min(x for x, _ in rough) * scale
    low = min(y for _, y in rough) * scale
    zero = (_SIDE_MM + (room_x - wide * scale) / 2 - left, _BELOW_MM + _SOLE_MM - low)
    drawing = Drawing(
        _WIDTH_MM,
        max(zero[1], zero[1] + max(y for _, y in rough) * scale) + _ABOVE_MM,
        f"Section of set-up {setup.name} as it is clamped, tilt {setup.frame.tilt_deg:.3f} deg",
    )
    view = _View(setup, scale, zero)
    _draw_wheel(drawing, view, setup.work.wheel)
    _draw_obstacles(drawing, plan, view)
    _draw_holding(drawing, plan, view)
    drawing.area([view.at(*corner) for corner in outline], "light", "thick")
    _draw_tilt(drawing, view)
    _name_blade(drawing, view, setup.work)
    _draw_axes(drawing, plan, setup)
    return drawing, scale


def _blade(setup: Setup) -> tuple[Point, ...]:
    """The blade before this work, in the section frame."""
    found = obstacles_for(setup.shop, setup.work, setup.row)
    outline = next(each.outline_yz_mm for each in found if each.kind == "blade")
    return _less_facets(setup.work, outline)


def _less_facets(work: FaceWork, outline: tuple[Point, ...]) -> tuple[Point, ...]:
    """Without what the facets so far took: as an obstacle the stock stands for it."""
    far = 2.0 * max(abs(place) for corner in outline for place in corner)
    steel = shapely.Polygon(outline)
    for face in work.section.faces:
        state = work.before if face.face == work.relief.face else work.other
        side = 1.0 if face.face == "A" else -1.0
        for angle, at_edge in state.flats:
            shoulder = side * (at_edge + far * math.tan(angle))
            kept = [(0.0, side * at_edge), (far, shoulder), (far, -side * far), (0.0, -side * far)]
            steel = steel.intersection(shapely.Polygon(kept))
    if steel.equals(shapely.Polygon(outline)):
        return outline
    return tuple((float(y), float(z)) for y, z in steel.exterior.coords[:-1])


def wheel_outline(wheel: Wheel) -> tuple[Point, ...]:
    """The wheel in the section, from its reference point (docs/operations.md); its corners sharp.

    Shape: across, up; closed.
    """
    if wheel.contact == "along_edge":
        angles = np.linspace(-math.pi / 2, 1.5 * math.pi, _ARC_STEPS * 4 + 1)[:-1]
        radius = section_radius_mm(wheel)
        return tuple((radius * math.cos(a), radius * math.sin(a)) for a in angles.tolist())
    half, top = wheel.width_mm / 2, wheel.diameter_mm
    if wheel.form_radius_mm is None:
        return (-half, 0.0), (half, 0.0), (half, top), (-half, top)
    form = wheel.form_radius_mm
    end = math.asin(min(half / form, 1.0))
    arc = np.linspace(-end, end, _ARC_STEPS + 1).tolist()
    return (
        *((form * math.sin(a), -form * math.cos(a)) for a in arc),
        (half, top - form),
        (-half, top - form),
    )


def _draw_wheel(drawing: Drawing, view: _View, wheel: Wheel) -> None:
    outline = [view.by_wheel(*corner) for corner in wheel_outline(wheel)]
    low, high = view.zero[1], drawing.height_mm - 9.0
    window = shapely.box(_SIDE_MM / 2, low - 1.0, _WIDTH_MM - _SIDE_MM / 2, high)
    seen = shapely.line_merge(shapely.LinearRing(outline).intersection(window))
    for piece in getattr(seen, "geoms", [seen]):
        if piece.geom_type == "LineString":
            drawing.line([(x, y) for x, y in piece.coords], "thick")
    drawing.line([(view.zero[0], low), (view.zero[0], high + 2.0)], "chain")
    kind = "belt" if wheel.belt is not None else "wheel"
    drawing.word((view.zero[0] + 2.0, high + 4.0), f"{kind} {wheel.name}, {_size(wheel)}")
    drawing.word((view.zero[0] + 2.0, high + 0.5), "drawn where it bares: program zero")


def _size(wheel: Wheel) -> str:
    if wheel.contact == "along_edge":
        crown = crown_mm(wheel)
        crowned = "" if crown is None else f", {wheel.width_mm:.1f} wide, crown radius {crown:.2f}"
        return f"radius {section_radius_mm(wheel):.2f}{crowned}"
    if wheel.form_radius_mm is not None:
        return f"dressed to radius {wheel.form_radius_mm:.2f}, {wheel.width_mm:.1f} wide"
    return f"flat, {wheel.width_mm:.1f} wide"


@dataclass(frozen=True)
class _Held:
    """What holds the blade, along y, and how far from the centre plane."""

    from_mm: float
    to_mm: float
    flanks_mm: tuple[float, float]
    """z of face A's flank and of face B's."""
    proud_mm: float
    """How far the jaws stand beyond them."""

    def outside_mm(self, sign: float) -> float:
        """z of the outside of what holds, on face A's side (1) or face B's (-1)."""
        return self.flank_mm(sign) + sign * self.proud_mm

    def flank_mm(self, sign: float) -> float:
        """z of the blade's flank there."""
        return self.flanks_mm[0] if sign > 0 else self.flanks_mm[1]


def _held(plan: Plan, setup: Setup) -> _Held:
    section, jaws = setup.work.section, plan.machine.model.fixture.jaws
    if jaws is None:
        return _lies_on(plan, setup)
    begins = min(jaws.from_edge_mm, section.width_mm)
    past = section.width_mm * _PAST_SHARE
    return _Held(begins, past, _flanks(setup), jaws.above_flank_mm)


def _flanks(setup: Setup) -> tuple[float, float]:
    above, below = (face.flank_mm for face in setup.work.section.faces)
    return above, -below


def _lies_on(plan: Plan, setup: Setup) -> _Held:
    """Where the fixture carries the blade: under the jaws, or under the flank where they only stand
    behind the spine."""
    section, jaws = setup.work.section, plan.machine.model.fixture.jaws
    if jaws is not None and jaws.from_edge_mm < _BEHIND_SHARE * section.width_mm:
        return _held(plan, setup)
    shoulders = [f.height_mm for f in section.faces if f.angle_deg > 0.0]
    begins = min(max(shoulders, default=0.0) * 1.05, 0.95 * section.width_mm)
    return _Held(begins, section.width_mm * _PAST_SHARE, _flanks(setup), 0.0)


def _holding(plan: Plan, setup: Setup) -> list[Point]:
    """The corners of what is drawn of the holding."""
    held = _held(plan, setup)
    most = setup.work.section.width_mm / 3
    return [
        (y, held.flank_mm(sign) + sign * min(held.proud_mm, most))
        for y in (held.from_mm, held.to_mm)
        for sign in (1.0, -1.0)
    ]


def _draw_holding(drawing: Drawing, plan: Plan, view: _View) -> None:
    """Jaws or spine stop, and the wedge or tilting plate under the blade."""
    setup = view.setup
    held, width = _held(plan, setup), setup.work.section.width_mm
    lies = _lies_on(plan, setup)
    window = shapely.box(2.0, 4.5, _WIDTH_MM - 2.0, drawing.height_mm - 12.0)
    blade = shapely.Polygon([view.at(*corner) for corner in _blade(setup)])
    down = -1.0 if setup.frame.infeed_dir_yz[1] > 0 else 1.0
    steep = abs(setup.frame.infeed_dir_yz[1]) < math.sin(math.radians(_STEEP_DEG))
    if not steep:
        _draw_wedge(drawing, plan, view, (lies.from_mm, lies.to_mm, lies.outside_mm(down)), window)
    if held.proud_mm > 0.0:
        for sign in (1.0, -1.0):
            ends = held.flank_mm(sign), held.outside_mm(sign)
            block = _block(held.from_mm, held.to_mm, *ends)
            _hatched(drawing, [view.at(*c) for c in block], window, blade)
        middle = (held.flank_mm(-down) + held.outside_mm(-down)) / 2
        beside = view.at((held.from_mm + held.to_mm) / 2, middle)
        drawing.word((beside[0], beside[1] - 0.9), "jaw", "middle")
    else:
        stop = _block(width, held.to_mm, held.flank_mm(-1.0), held.flank_mm(1.0))
        _hatched(drawing, [view.at(*c) for c in stop], window, blade)
        at = _beside(view.at(held.to_mm, held.flank_mm(down)), view)
        drawing.word(at, "stop", _outward(view))


def _block(low_y: float, high_y: float, low_z: float, high_z: float) -> list[Point]:
    return [(low_y, low_z), (high_y, low_z), (high_y, high_z), (low_y, high_z)]


def _draw_wedge(
    drawing: Drawing, plan: Plan, view: _View, lies: tuple[float, float, float], window: object
) -> None:
    """What the blade lies on: its top along the clamped side, its sole along the cross axis."""
    begins, past, z = lies
    first, last = view.at(begins, z), view.at(past, z)
    sole = min(first[1], last[1]) - _SOLE_MM
    _hatched(drawing, [first, last, (last[0], sole), (first[0], sole)], window, None)
    tilt = f"{view.setup.frame.tilt_deg + 0.0:.3f}°"
    words = {
        "settings": f"wedge or stop {tilt}",
        "fixed": "fixture",
        "scale": f"tilting plate, scale at {tilt}",
        "axis": "tilting plate",
    }
    name = words[tilt_kind(plan.machine.model)]
    drawing.word(((first[0] + last[0]) / 2, sole - 3.4), name, "middle")


def _draw_obstacles(drawing: Drawing, plan: Plan, view: _View) -> None:
    """Outlines of what else is named in the machine file, wherever it stands along the edge."""
    setup = view.setup
    window = shapely.box(3.0, 8.0, _WIDTH_MM - 3.0, drawing.height_mm - 14.0)
    for thing in obstacles_for(plan.machine.model, setup.work, setup.row):
        if thing.kind == "obstacle":
            ring = shapely.Polygon([view.at(*corner) for corner in thing.outline_yz_mm])
            shape = ring.intersection(window)
            for piece in getattr(shape, "geoms", [shape]):
                if piece.geom_type == "Polygon" and not piece.is_empty:
                    corners = [(x, y) for x, y in piece.exterior.coords[:-1]]
                    drawing.area(corners, style="dashed")
                    top = max(corners, key=lambda c: (c[1], c[0]))
                    drawing.word((top[0], top[1] + 1.0), thing.name, "middle")


def _hatched(drawing: Drawing, outline: list[Point], window: object, without: object) -> bool:
    """Draw cut material where it lies in the window; whether anything does."""
    shape = shapely.Polygon(outline).intersection(window)
    if without is not None:
        shape = shape.difference(without)
    drawn = False
    for piece in getattr(shape, "geoms", [shape]):
        if piece.geom_type == "Polygon" and not piece.is_empty:
            corners = [(x, y) for x, y in piece.exterior.coords[:-1]]
            drawing.area(corners)
            for ends in hatching(corners):
                drawing.line(ends)
            drawn = True
    return drawn


def _draw_tilt(drawing: Drawing, view: _View) -> None:
    """The centre plane of the blade, where it would lie untilted, and the angle between."""
    frame = view.setup.frame
    edge = view.at(0.0, 0.0)
    reach = view.setup.work.section.width_mm * view.scale
    now = math.degrees(math.atan2(frame.infeed_dir_yz[0], frame.cross_dir_yz[0]))
    level = now + frame.tilt_deg
    long, radius = 1.2 * reach, 1.15 * reach
    if abs(frame.tilt_deg) > _STEEP_DEG:  # untilted it would leave the picture
        radius = min(0.6 * reach, edge[1] - _BELOW_MM)
        long = 1.05 * radius

    def from_edge(distance: float, angle_deg: float) -> Point:
        angle = math.radians(angle_deg)
        return edge[0] + distance * math.cos(angle), edge[1] + distance * math.sin(angle)

    drawing.line((edge, from_edge(max(long, 1.06 * reach), now)), "chain")
    if abs(frame.tilt_deg) < _SMALL_TILT_DEG:
        return
    drawing.line((edge, from_edge(long, level)), "dashed")
    arc = drawing.arc(edge, radius, level, now)
    drawing.arrow(arc[-2], arc[-1])
    at = from_edge(radius, (level + now) / 2)
    right = at[0] >= edge[0]
    drawing.word(
        (at[0] + (1.5 if right else -1.5), at[1] - 0.9),
        f"tilt {frame.tilt_deg:.3f}°",
        "start" if right else "end",
        bold=True,
    )


def _name_blade(drawing: Drawing, view: _View, work: FaceWork) -> None:
    side = 1.0 if work.face.face == "A" else -1.0
    edge, spine = view.at(0.0, 0.0), view.at(work.section.width_mm, 0.0)
    right = spine[0] >= edge[0]
    drawing.word(
        (edge[0] + (-2.0 if right else 2.0), edge[1] - 0.9), "edge", "end" if right else "start",
        bold=True,
    )  # fmt: skip
    place = min(work.face.height_mm + 0.1 * work.section.width_mm, 0.6 * work.section.width_mm)
    high = float(work.face.heights(np.array(place)))
    flank, inside = view.at(place, side * high), view.at(place, side * high * 0.5)
    drawing.line((inside, (flank[0] + 2.5, flank[1] + 4.0)))
    drawing.word((flank[0] + 3.0, flank[1] + 4.0), f"face {work.face.face}", bold=True)
    if work.operation == "relief":
        corner = work.face.corner_mm
        if work.before.outside_mm:
            corner = work.zero_face.at_edge_mm
        start = view.at(0.0, side * corner)
        text = f"{witness_mark(work, 0.0).middle_mm:.3f}"
        drawing.dimension(start, view.zero, text, 6.0 if right else -6.0)


def _draw_axes(drawing: Drawing, plan: Plan, setup: Setup) -> None:
    """Which way each axis counts, and from which end one looks."""
    machine, frame, start = plan.machine.model, setup.frame, (8.0, 12.0)
    for role, way in (("cross", (12.0, 0.0)), ("infeed", (0.0, 12.0))):
        letter = setup.axes.get(role)
        if letter is None:
            continue
        sign = -1.0 if machine.axes[letter].invert else 1.0  # type: ignore[index]
        head = (start[0] + way[0], start[1] + way[1])
        ends = (start, head) if sign > 0 else (head, start)
        drawing.arrow(*ends)
        drawing.word((head[0] + 1.0, head[1] + 0.6), f"{letter}+" if sign > 0 else f"{letter}−")
    cross, infeed = frame.cross_dir_yz, frame.infeed_dir_yz
    from_tip = cross[0] * infeed[1] - cross[1] * infeed[0] > 0
    drawing.word((2.0, 3.0), f"seen along the edge from the {'tip' if from_tip else 'heel'}")


def _outward(view: _View) -> Anchor:
    return "start" if view.setup.frame.cross_dir_yz[0] >= 0 else "end"


def _beside(at: Point, view: _View) -> Point:
    return (at[0] + (1.5 if view.setup.frame.cross_dir_yz[0] >= 0 else -1.5), at[1] - 0.9)
