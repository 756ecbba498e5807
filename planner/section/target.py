"""The finished section: from the blade and the relief asked for, for the wheel in hand.

Exact lines and arcs throughout; every refusal carries the numbers behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import bevel, segment
from planner.formulas.lens import Lens, sagitta
from planner.inputs.blade_forms import Hook
from planner.inputs.job import Job, ReliefSizes
from planner.section.blank import BendAfter, bend_after, bent_away, depth_to_grind
from planner.section.profile import CHORD_ERROR_MM, FACES, BevelFace, bevel_faces, face_points

_TOUCHING_MM = 1e-9


@dataclass(frozen=True)
class FaceRelief:
    """The relief of one face, as it will be ground: lands are those that the settings leave."""

    face: str
    depth_mm: float
    chord_mm: float
    edge_land_mm: float
    shoulder_land_mm: float
    middle_mm: float
    """From the edge along the face to where the wheel is touched off."""
    removed_area_mm2: float
    edge_angle_lost_deg: float
    off_middle_mm: float = 0.0
    """How far a cross set by hand puts the middle beyond the one asked for, to the shoulder."""
    drift_mm: float = 0.0
    """How much further along the infeed takes it by the full depth, no cross making up for it."""
    land_share: float = 1.0
    """How far the ends go along the face for a millimetre that the wheel is aside: on a face that
    bulges the chord turns about the middle of its arc, by rho / (R + rho - d)."""

    @property
    def wheel_aside_mm(self) -> float:
        """How far beyond its place the wheel stands, to the shoulder, along the plane."""
        return self.off_middle_mm + self.drift_mm

    @property
    def aside_mm(self) -> float:
        """How much wider than asked for the edge land comes out, and narrower the shoulder land."""
        return self.land_share * self.wheel_aside_mm

    @property
    def asked_edge_land_mm(self) -> float:
        """The edge land of the job."""
        return self.edge_land_mm - self.aside_mm

    @property
    def asked_shoulder_land_mm(self) -> float:
        """The shoulder land of the job."""
        return self.shoulder_land_mm + self.aside_mm

    @property
    def asked_middle_mm(self) -> float:
        """Where the middle of the relief would have both lands as asked for."""
        return self.middle_mm - self.off_middle_mm

    def middle_at_mm(self, depth_mm: float) -> float:
        """Where the middle stands with the wheel at a depth."""
        share = depth_mm / self.depth_mm if self.drift_mm else 0.0
        return self.middle_mm + self.drift_mm * share

    def moved(self, off_middle_mm: float, drift_mm: float) -> FaceRelief:
        """The same relief, asked for at its right place, as settings beside that will leave it."""
        lands = self.land_share * (off_middle_mm + drift_mm)
        return replace(
            self,
            middle_mm=self.middle_mm + off_middle_mm,
            edge_land_mm=self.edge_land_mm + lands,
            shoulder_land_mm=self.shoulder_land_mm - lands,
            off_middle_mm=off_middle_mm,
            drift_mm=drift_mm,
        )


@dataclass(frozen=True)
class Section:
    """A section that is known to be possible."""

    form: str
    thickness_mm: float
    width_mm: float
    edge_thickness_mm: float
    wheel_radius_mm: float
    faces: tuple[BevelFace, ...]
    reliefs: tuple[FaceRelief, ...]
    steel_left_mm: float
    steel_left_at_mm: float
    """Where the least thickness lies, as y."""
    full_hollow: bool
    flat_edge_angle_deg: float
    edge_angle_deg: float
    """Included angle at the very edge, full hollows taken."""

    def face(self, name: str) -> BevelFace:
        """The bevel face of a name."""
        return self.faces[FACES.index(name)]

    def relief(self, name: str) -> FaceRelief | None:
        """The relief of a face, where it has one."""
        return next((r for r in self.reliefs if r.face == name), None)

    def lens(self, name: str) -> Lens:
        """The relief's arc in the face of a name."""
        return Lens(self.wheel_radius_mm, self.face(name).bulge_radius_mm)


def section_for(job: Job, wheel_radius_mm: float) -> Section:
    """The finished section for a wheel of this radius (a belt's thickness included).

    Raises: RefusedError with every reason why the section is not possible.
    """
    blade = job.blade.section
    faces = bevel_faces(blade)
    # Of a hook the bevel ends before the rounding of its back begins.
    room = blade.width_mm - (blade.back_radius_mm if isinstance(blade, Hook) else 0.0)
    refusals = [
        Refusal(
            "bevel-past-spine",
            {"face": f.face, "bevel_height_mm": f.height_mm, "width_mm": room},
            (WayOut("wider-blade", {"width_mm": _up(f.height_mm, 2)}),),
        )
        for f in faces
        if not f.height_mm <= room
    ]
    wanted = FACES if job.relief.faces == "both" else (job.relief.faces,)
    reliefs: list[FaceRelief] = []
    worked: list[BevelFace] = []
    for face in faces:
        found = None
        if face.face in wanted and math.isfinite(face.height_mm):
            found = _relief_on(job, face, wheel_radius_mm)
        if isinstance(found, FaceRelief):
            reliefs.append(found)
            lands = found.edge_land_mm, found.shoulder_land_mm
            worked.append(face.touched_at(face.between_lands(*lands)[1]))
        else:
            worked.append(face)
            refusals += [found] if found else []
    if refusals:
        raise RefusedError(refusals)
    first, second = worked
    return _with_steel_left(job, (first, second), tuple(reliefs), wheel_radius_mm)


def with_reliefs(job: Job, section: Section, reliefs: tuple[FaceRelief, ...]) -> Section:
    """The section with its reliefs moved.

    Raises: RefusedError where too little steel is left.
    """
    return _with_steel_left(job, section.faces, reliefs, section.wheel_radius_mm)


def _with_steel_left(
    job: Job, faces: tuple[BevelFace, ...], reliefs: tuple[FaceRelief, ...], radius_mm: float
) -> Section:
    section = _measured(job, faces, reliefs, radius_mm)
    _check_steel(job, section)
    return section


def generated_arc_mm(job: Job) -> float:
    """Radius of the arc through both lands at the depth asked for, the same on every face.

    Raises: RefusedError where there is none.
    """
    asked, faces = job.relief, bevel_faces(job.blade.section)
    wanted = [f for f in faces if asked.faces in ("both", f.face)]
    edge, shoulder, depth = asked.edge_land_mm, asked.shoulder_land_mm, asked.depth_mm
    assert edge is not None
    assert shoulder is not None
    assert depth is not None
    arcs = [_generated_on(face, edge, shoulder, depth) for face in wanted]
    if abs(arcs[0] - arcs[-1]) > _SAME_ARC * arcs[0]:
        facts: dict[str, Fact] = {f"angle_{f.face.lower()}_deg": f.angle_deg for f in wanted}
        raise RefusedError([Refusal("arcs-differ", facts, (WayOut("one-face"),))])
    return arcs[0]


def _generated_on(face: BevelFace, edge_mm: float, shoulder_mm: float, depth_mm: float) -> float:
    """On one face: over the chord between the lands it is as deep as the face does not stand out.

    Raises: RefusedError where there is no hollow arc.
    """
    chord = face.between_lands(edge_mm, shoulder_mm)[0]
    if chord <= 0:
        raise RefusedError([_lands_overlap(face, edge_mm, shoulder_mm)])
    bulges = float(sagitta(face.bulge_radius_mm, chord / 2))
    facts: dict[str, Fact] = {"depth_mm": depth_mm, "chord_mm": chord}
    if depth_mm - bulges > chord / 2:
        raise RefusedError([Refusal("deeper-than-wide", facts, (WayOut("less-depth"),))])
    if depth_mm - bulges <= CHORD_ERROR_MM and face.bulge is not None:
        facts |= {"face": face.face, "bulge_mm": bulges}
        deeper = WayOut("more-depth", {"depth_mm": _up(bulges + 2 * CHORD_ERROR_MM, 3)})
        raise RefusedError([Refusal("no-hollow-in-bulge", facts, (deeper, WayOut("wider-lands")))])
    return float(segment.radius_for(chord, depth_mm - bulges))


_SAME_ARC = 1e-9


def _lands_overlap(face: BevelFace, edge_land_mm: float, shoulder_land_mm: float) -> Refusal:
    return Refusal(
        "lands-overlap",
        {
            "face": face.face,
            "edge_land_mm": edge_land_mm,
            "shoulder_land_mm": shoulder_land_mm,
            "face_width_mm": face.width_mm,
            "overlap_mm": edge_land_mm + shoulder_land_mm - face.width_mm,
        },
        (WayOut("narrower-lands", {"room_mm": _down(face.width_mm, 2)}),),
    )


def _relief_on(job: Job, face: BevelFace, radius_mm: float) -> FaceRelief | Refusal:
    """The relief as it is ground: into the blade as it is, or into the blank to be bent."""
    asked, bend = job.relief.on(face.face), bend_after(job)
    if bend is None:
        return _relief_of(job, asked, face, radius_mm)
    if asked.depth_mm is not None:
        ground = _depth_in_blank(bend, asked, face, radius_mm)
        if isinstance(ground, Refusal):
            return ground
        asked = asked.model_copy(update={"depth_mm": ground})
    found = _relief_of(job, asked, face, radius_mm)
    if isinstance(found, Refusal):
        return found
    place = found.middle_mm - face.start_mm
    return bent_away(bend, face, found.depth_mm, place) or found


def _depth_in_blank(
    bend: BendAfter, asked: ReliefSizes, face: BevelFace, radius_mm: float
) -> float | Refusal:
    """Depth to grind beside the land that is given, for the depth asked of the bent blade."""
    lens = Lens(radius_mm, face.bulge_radius_mm)
    land, shoulder = asked.edge_land_mm, asked.shoulder_land_mm
    assert asked.depth_mm is not None

    def middle_mm(depth_mm: float) -> float:
        half = float(lens.chord_of_depth(depth_mm)) / 2
        return land + half if land is not None else face.width_mm - (shoulder or 0.0) - half

    return depth_to_grind(bend, face, asked.depth_mm, radius_mm, middle_mm)


def _relief_of(
    job: Job, asked: ReliefSizes, face: BevelFace, radius_mm: float
) -> FaceRelief | Refusal:
    lens = Lens(radius_mm, face.bulge_radius_mm)
    if asked.depth_mm is None:
        edge_land, shoulder_land = asked.edge_land_mm or 0.0, asked.shoulder_land_mm or 0.0
        chord, angle = face.between_lands(edge_land, shoulder_land)
        if chord <= 0:
            return _lands_overlap(face, edge_land, shoulder_land)
        if chord >= 2 * radius_mm:
            return Refusal(
                "wheel-too-small",
                {"face": face.face, "chord_mm": chord, "diameter_mm": 2 * radius_mm},
                (WayOut("larger-wheel", {"diameter_mm": _up(chord, 2)}),),
            )
        depth = float(lens.depth_of_chord(chord))
    else:
        depth = asked.depth_mm
        if depth >= min(radius_mm, lens.deepest_mm):
            return Refusal(
                "wheel-too-small",
                {"face": face.face, "chord_mm": 2 * depth, "diameter_mm": 2 * radius_mm},
                (WayOut("larger-wheel", {"diameter_mm": _up(2 * depth, 2)}),),
            )
        chord = float(lens.chord_of_depth(depth))
        given = asked.edge_land_mm if asked.edge_land_mm is not None else asked.shoulder_land_mm
        assert given is not None
        other = face.width_mm - given - float(lens.along_face(chord))
        if job.relief.scallop_mm is not None:
            other = asked.shoulder_land_mm or 0.0  # all three are given, and the arc fits them
        if other < 0:
            return _too_large(face, given, chord, depth, radius_mm)
        edge_land, shoulder_land = (
            (given, other) if asked.edge_land_mm is not None else (other, given)
        )
        angle = face.between_lands(edge_land, shoulder_land)[1]
    if face.bulge is None:
        middle = face.start_mm + edge_land + chord / 2
    elif min(edge_land, shoulder_land) <= 0:
        facts: dict[str, Fact] = {
            "face": face.face,
            "edge_land_mm": edge_land,
            "shoulder_land_mm": shoulder_land,
        }
        return Refusal("no-land-on-bulge", facts, (WayOut("leave-both-lands"),))
    else:
        middle = face.bulge.point(angle)[0] / math.cos(angle)
    return FaceRelief(
        face=face.face,
        depth_mm=depth,
        chord_mm=chord,
        edge_land_mm=edge_land,
        shoulder_land_mm=shoulder_land,
        middle_mm=middle,
        removed_area_mm2=float(lens.area_of_depth(depth)),
        edge_angle_lost_deg=math.degrees(float(lens.angle_lost_rad(chord))),
        land_share=1.0
        if face.bulge is None
        else face.bulge.radius_mm / (radius_mm + face.bulge.radius_mm - depth),
    )


def _too_large(
    face: BevelFace, given_land_mm: float, chord_mm: float, depth_mm: float, radius_mm: float
) -> Refusal:
    room = face.width_mm - given_land_mm
    facts: dict[str, Fact] = {
        "face": face.face,
        "diameter_mm": 2 * radius_mm,
        "depth_mm": depth_mm,
        "chord_mm": chord_mm,
        "room_mm": max(room, 0.0),
    }
    if room <= 2 * depth_mm:
        # Even half a disc of the smallest wheel is wider than the room beside the land.
        return Refusal("no-room-for-depth", facts, (WayOut("less-depth"), WayOut("narrower-land")))
    largest = _down(2 * float(segment.radius_for(room, depth_mm)), 2)
    fitting_depth = _down(float(segment.depth_of_chord(radius_mm, room)), 4)
    return Refusal(
        "wheel-too-large",
        {**facts, "largest_diameter_mm": largest},
        (
            WayOut("smaller-wheel", {"diameter_mm": largest}),
            WayOut("less-depth-of", {"depth_mm": fitting_depth}),
        ),
    )


def _down(value: float, decimals: int) -> float:
    """The most that a message may name: rounded down, so that what it names is possible."""
    return math.floor(value * 10.0**decimals + 1e-9) / 10.0**decimals


def _up(value: float, decimals: int) -> float:
    """The least that a message may name."""
    return math.ceil(value * 10.0**decimals - 1e-9) / 10.0**decimals


def face_heights(section: Section, face: str, y_mm: np.ndarray, depth_mm: float) -> np.ndarray:
    """|z| of one face at stations y with its relief at a depth. Shape: (n,) -> (n,)."""
    relief, flat = section.relief(face), section.face(face)
    heights = flat.heights(y_mm)
    if relief is None:
        return heights
    return np.asarray(np.minimum(heights, wheel_heights(section, relief, y_mm, depth_mm)))


def wheel_heights(
    section: Section, relief: FaceRelief, y_mm: np.ndarray, depth_mm: float
) -> np.ndarray:
    """|z| of the lower arc of the wheel at a depth; infinite beside it. Shape: (n,) -> (n,)."""
    flat = section.face(relief.face)
    return np.asarray(
        bevel.hollow_height(
            y_mm,
            flat.at_edge_mm,
            flat.angle_rad,
            section.wheel_radius_mm,
            relief.middle_at_mm(depth_mm),
            depth_mm,
        )
    )


def thickness_at(
    section: Section, y_mm: np.ndarray, depth_a_mm: float, depth_b_mm: float
) -> np.ndarray:
    """Thickness across z with the two reliefs at these depths. Shape: (n,) -> (n,)."""
    upper = face_heights(section, "A", y_mm, depth_a_mm)
    lower = face_heights(section, "B", y_mm, depth_b_mm)
    total = np.asarray(upper + lower)
    # Where a hollow runs out at a sharp edge the two meet, but for the last bit.
    return np.where((total < 0) & (total > -_TOUCHING_MM), 0.0, total)


def _measured(
    job: Job, faces: tuple[BevelFace, ...], reliefs: tuple[FaceRelief, ...], radius_mm: float
) -> Section:
    blade = job.blade.section
    flat_angle = sum(f.edge_angle_deg if f.micro_deg is None else f.micro_deg for f in faces)
    # A full hollow is one that is asked for: a setting a hair beside it is still one. Behind a
    # micro bevel a hollow does not reach the edge; in the back of a bevel that has one it does.
    to_edge = {f.face for f in faces if f.micro_deg is None}
    hollows = [
        r for r in reliefs if r.face in to_edge and abs(r.asked_edge_land_mm) <= _TOUCHING_MM
    ]
    lost = sum(r.edge_angle_lost_deg for r in hollows)
    draft = Section(
        form=blade.form,
        thickness_mm=blade.thickness_mm,
        width_mm=blade.width_mm,
        edge_thickness_mm=blade.edge_thickness_mm,
        wheel_radius_mm=radius_mm,
        faces=faces,
        reliefs=reliefs,
        steel_left_mm=math.inf,
        steel_left_at_mm=0.0,
        full_hollow=bool(hollows),
        flat_edge_angle_deg=flat_angle,
        edge_angle_deg=flat_angle - lost,
    )
    least, at = _least_thickness(draft)
    return Section(**{**draft.__dict__, "steel_left_mm": least, "steel_left_at_mm": at})


def _least_thickness(section: Section) -> tuple[float, float]:
    """Least thickness over the width of any relief, and its y: a grid, then a finer one."""
    depth = {r.face: r.depth_mm for r in section.reliefs}
    best, best_y = math.inf, 0.0
    for relief in section.reliefs:
        (first, _), (last, _) = relief_ends(section, relief, relief.depth_mm)
        low, high = max(first, 0.0), last
        for _ in range(2):
            y = np.linspace(low, high, 513)
            t = thickness_at(section, y, depth.get("A", 0.0), depth.get("B", 0.0))
            at = int(np.argmin(t))
            low, high = float(y[max(at - 1, 0)]), float(y[min(at + 1, len(y) - 1)])
        if t[at] < best:
            best, best_y = float(t[at]), float(y[at])
    return best, best_y


def _check_steel(job: Job, section: Section) -> None:
    asked = job.relief
    facts = {
        "steel_left_mm": section.steel_left_mm,
        "at_mm": section.steel_left_at_mm,
        "least_mm": asked.min_steel_left_mm,
        "diameter_mm": 2 * section.wheel_radius_mm,
    }
    ways = (WayOut("larger-wheel-flatter"), WayOut("wider-lands"), WayOut("thicker-stock"))
    # A full hollow ends in the edge itself, where the thickness is that of the edge: there the
    # edge angle decides, and the web need only be no thinner than the edge.
    meets = section.steel_left_mm < -1e-9 if section.full_hollow else section.steel_left_mm <= 0
    if meets:
        rule = "reliefs-meet" if len(section.reliefs) == 2 else "breaks-through"
        raise RefusedError([Refusal(rule, facts, ways)])
    if section.full_hollow and section.edge_angle_deg < asked.min_edge_angle_deg:
        raise RefusedError(
            [
                Refusal(
                    "edge-angle-too-small",
                    {
                        "edge_angle_deg": section.edge_angle_deg,
                        "flat_angle_deg": section.flat_edge_angle_deg,
                        "least_deg": asked.min_edge_angle_deg,
                        "diameter_mm": 2 * section.wheel_radius_mm,
                    },
                    (WayOut("larger-wheel-flatter"), WayOut("leave-edge-land")),
                )
            ]
        )
    needed = asked.min_steel_left_mm
    if section.full_hollow:
        needed = min(needed, section.edge_thickness_mm) - 1e-9
    if section.steel_left_mm < needed:
        raise RefusedError([Refusal("too-little-steel", facts, ways)])


def outline(section: Section, depth_a_mm: float, depth_b_mm: float) -> list[tuple[float, float]]:
    """The section's outline with the reliefs at these depths: points (y, z) in mm.

    From the edge along face A to the spine and back along face B, closed by the edge; arcs as
    polylines whose chord error is at most ``CHORD_ERROR_MM``.
    """
    upper = _face_points(section, "A", depth_a_mm)
    lower = _face_points(section, "B", depth_b_mm)
    points = [*upper, *((y, -z) for y, z in reversed(lower))]
    if points[0] == (points[-1][0], points[-1][1]):
        points.pop()
    return points


def outline_before(section: Section, *, from_the_bar: bool) -> list[tuple[float, float]]:
    """The outline before anything is ground: flat bevels, or parallel stock."""
    if not from_the_bar:
        return outline(section, 0.0, 0.0)
    # A face without a bevel is that of the stock.
    upper, lower = (f.flank if f.edge_angle_deg > 0.0 else face_points(f) for f in section.faces)
    return [*upper, *((y, -z) for y, z in reversed(lower))]


def relief_ends(
    section: Section, relief: FaceRelief, depth_mm: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """(y, |z|) of both ends of a relief at a depth, the face prolonged where it runs out."""
    flat, lens = section.face(relief.face), section.lens(relief.face)
    half = float(lens.chord_of_depth(depth_mm)) / 2
    below = float(sagitta(flat.bulge_radius_mm, half))
    middle = relief.middle_at_mm(depth_mm)
    return flat.point(middle - half, below), flat.point(middle + half, below)


def _face_points(section: Section, face: str, depth_mm: float) -> list[tuple[float, float]]:
    flat = section.face(face)
    relief = section.relief(face)
    if relief is None or depth_mm == 0:
        return face_points(flat)
    body = [(0.0, flat.corner_mm)]
    if flat.micro_deg is not None:
        body.append(flat.start_yz_mm)
    start, shoulder = body[-1][0], flat.height_mm
    (first, _), (last, _) = relief_ends(section, relief, depth_mm)
    arc = _hollow_points(section, relief, depth_mm)
    # A hollow that runs out ends in the corner itself, not a rounding error beside it.
    if first - start > _TOUCHING_MM:
        body += flat.surface(start, first)[1:-1]
    else:
        arc = arc[1:]
    body += arc if shoulder - last > _TOUCHING_MM else arc[:-1]
    body += flat.surface(max(last, start), shoulder)[1:]
    return [*body, *(p for p in flat.flank if p[0] > shoulder + _TOUCHING_MM)]


def _hollow_points(
    section: Section, relief: FaceRelief, depth_mm: float
) -> list[tuple[float, float]]:
    """(y, |z|) along the arc of a relief, both ends with it."""
    flat, radius = section.face(relief.face), section.wheel_radius_mm
    chord = float(section.lens(relief.face).chord_of_depth(depth_mm))
    half_arc = math.asin(chord / (2 * radius))
    step = 2 * math.acos(1 - CHORD_ERROR_MM / radius)
    angles = np.linspace(-half_arc, half_arc, max(math.ceil(2 * half_arc / step), 2) + 1)
    along = relief.middle_at_mm(depth_mm) + radius * np.sin(angles)
    below = radius * (np.cos(angles) - 1) + depth_mm
    return [flat.point(a, b) for a, b in zip(along.tolist(), below.tolist(), strict=True)]
