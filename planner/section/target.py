"""The finished section: from the blade and the relief asked for, for the wheel in hand.

Exact lines and arcs throughout; every refusal carries the numbers behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import bevel, segment
from planner.inputs.job import DoubleBevel, Job

CHORD_ERROR_MM = 1e-4
"""Largest distance between an arc and the polyline that stands for it in an outline."""

_TOUCHING_MM = 1e-9

FACES = ("A", "B")


@dataclass(frozen=True)
class BevelFace:
    """One flat bevel face of the unground blade."""

    face: str
    angle_deg: float
    height_mm: float
    width_mm: float

    @property
    def angle_rad(self) -> float:
        """Bevel angle to the centre plane."""
        return math.radians(self.angle_deg)


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

    @property
    def aside_mm(self) -> float:
        """How much wider than asked for the edge land comes out, and narrower the shoulder land."""
        return self.off_middle_mm + self.drift_mm

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
        return replace(
            self,
            middle_mm=self.middle_mm + off_middle_mm,
            edge_land_mm=self.edge_land_mm + off_middle_mm + drift_mm,
            shoulder_land_mm=self.shoulder_land_mm - off_middle_mm - drift_mm,
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


def bevel_faces(blade: DoubleBevel) -> tuple[BevelFace, BevelFace]:
    """The two flat faces of the stock. Shape: face A, then face B."""
    if blade.included_angle_deg is not None:
        angles = (blade.included_angle_deg / 2, blade.included_angle_deg / 2)
    else:
        assert blade.angle_a_deg is not None
        assert blade.angle_b_deg is not None
        angles = (blade.angle_a_deg, blade.angle_b_deg)
    args = (blade.thickness_mm, blade.edge_thickness_mm)
    first, second = (
        BevelFace(
            face=name,
            angle_deg=angle,
            height_mm=float(bevel.bevel_height(*args, math.radians(angle))),
            width_mm=float(bevel.bevel_face_width(*args, math.radians(angle))),
        )
        for name, angle in zip(FACES, angles, strict=True)
    )
    return first, second


def section_for(job: Job, wheel_radius_mm: float) -> Section:
    """The finished section for a wheel of this radius (a belt's thickness included).

    Raises: RefusedError with every reason why the section is not possible.
    """
    blade = job.blade.section
    faces = bevel_faces(blade)
    refusals = [
        Refusal(
            "bevel-past-spine",
            {"face": f.face, "bevel_height_mm": f.height_mm, "width_mm": blade.width_mm},
            (WayOut("wider-blade", {"width_mm": _up(f.height_mm, 2)}),),
        )
        for f in faces
        if f.height_mm > blade.width_mm
    ]
    wanted = FACES if job.relief.faces == "both" else (job.relief.faces,)
    reliefs: list[FaceRelief] = []
    for face in faces:
        if face.face in wanted:
            found = _relief_on(job, face, wheel_radius_mm)
            if isinstance(found, Refusal):
                refusals.append(found)
            else:
                reliefs.append(found)
    if refusals:
        raise RefusedError(refusals)
    return _with_steel_left(job, faces, tuple(reliefs), wheel_radius_mm)


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
    if abs(wanted[0].angle_deg - wanted[-1].angle_deg) > _SAME_ANGLE_DEG:
        facts: dict[str, Fact] = {f"angle_{f.face.lower()}_deg": f.angle_deg for f in wanted}
        raise RefusedError([Refusal("arcs-differ", facts, (WayOut("one-face"),))])
    chord = wanted[0].width_mm - edge - shoulder
    if chord <= 0:
        raise RefusedError([_lands_overlap(wanted[0], edge, shoulder)])
    if depth > chord / 2:
        half: dict[str, Fact] = {"depth_mm": depth, "chord_mm": chord}
        raise RefusedError([Refusal("deeper-than-wide", half, (WayOut("less-depth"),))])
    return float(segment.radius_for(chord, depth))


_SAME_ANGLE_DEG = 1e-9


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
    asked = job.relief
    if asked.depth_mm is None:
        edge_land, shoulder_land = asked.edge_land_mm or 0.0, asked.shoulder_land_mm or 0.0
        chord = face.width_mm - edge_land - shoulder_land
        if chord <= 0:
            return _lands_overlap(face, edge_land, shoulder_land)
        if chord >= 2 * radius_mm:
            return Refusal(
                "wheel-too-small",
                {"face": face.face, "chord_mm": chord, "diameter_mm": 2 * radius_mm},
                (WayOut("larger-wheel", {"diameter_mm": _up(chord, 2)}),),
            )
        depth = float(segment.depth_of_chord(radius_mm, chord))
    else:
        depth = asked.depth_mm
        if depth >= radius_mm:
            return Refusal(
                "wheel-too-small",
                {"face": face.face, "chord_mm": 2 * depth, "diameter_mm": 2 * radius_mm},
                (WayOut("larger-wheel", {"diameter_mm": _up(2 * depth, 2)}),),
            )
        chord = float(segment.chord_of_depth(radius_mm, depth))
        given = asked.edge_land_mm if asked.edge_land_mm is not None else asked.shoulder_land_mm
        assert given is not None
        other = face.width_mm - given - chord
        if asked.scallop_mm is not None:
            other = asked.shoulder_land_mm or 0.0  # all three are given, and the arc fits them
        if other < 0:
            return _too_large(face, given, chord, depth, radius_mm)
        edge_land, shoulder_land = (
            (given, other) if asked.edge_land_mm is not None else (other, given)
        )
    return FaceRelief(
        face=face.face,
        depth_mm=depth,
        chord_mm=chord,
        edge_land_mm=edge_land,
        shoulder_land_mm=shoulder_land,
        middle_mm=edge_land + chord / 2,
        removed_area_mm2=float(segment.segment_area(radius_mm, depth)),
        edge_angle_lost_deg=math.degrees(float(segment.edge_angle_lost(radius_mm, chord))),
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
    relief = section.relief(face)
    return np.asarray(
        bevel.ground_face_height(
            y_mm,
            section.edge_thickness_mm,
            section.thickness_mm / 2,
            section.face(face).angle_rad,
            section.wheel_radius_mm,
            relief.middle_at_mm(depth_mm) if relief else 0.0,
            depth_mm if relief else 0.0,
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
    flat_angle = faces[0].angle_deg + faces[1].angle_deg
    # A full hollow is one that is asked for: a setting a hair beside it is still one.
    lost = sum(r.edge_angle_lost_deg for r in reliefs if r.asked_edge_land_mm == 0)
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
        full_hollow=any(r.asked_edge_land_mm == 0 for r in reliefs),
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
        cosine = math.cos(section.face(relief.face).angle_rad)
        ends = (
            max(relief.edge_land_mm, 0.0) * cosine,
            (relief.edge_land_mm + relief.chord_mm) * cosine,
        )
        low, high = ends
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
    half, width = section.thickness_mm / 2, section.width_mm
    return [(0.0, half), (width, half), (width, -half), (0.0, -half)]


def _face_points(section: Section, face: str, depth_mm: float) -> list[tuple[float, float]]:
    flat = section.face(face)
    relief = section.relief(face)
    half_edge = section.edge_thickness_mm / 2
    corner, shoulder = (0.0, half_edge), (flat.height_mm, section.thickness_mm / 2)
    body = [corner, shoulder]
    if relief is not None and depth_mm > 0:
        radius = section.wheel_radius_mm
        chord = float(segment.chord_of_depth(radius, depth_mm))
        half_arc = math.asin(chord / (2 * radius))
        step = 2 * math.acos(1 - CHORD_ERROR_MM / radius)
        angles = np.linspace(-half_arc, half_arc, max(math.ceil(2 * half_arc / step), 2) + 1)
        sine, cosine = math.sin(flat.angle_rad), math.cos(flat.angle_rad)
        along = relief.middle_at_mm(depth_mm) + radius * np.sin(angles)
        inward = radius * (np.cos(angles) - 1) + depth_mm
        arc = list(
            zip(
                (along * cosine + inward * sine).tolist(),
                (half_edge + along * sine - inward * cosine).tolist(),
                strict=True,
            )
        )
        # A hollow that runs out ends in the corner itself, not a rounding error beside it.
        if relief.edge_land_mm - (chord - relief.chord_mm) / 2 <= _TOUCHING_MM:
            arc[:1] = []
        if relief.shoulder_land_mm - (chord - relief.chord_mm) / 2 <= _TOUCHING_MM:
            arc.pop()
        body = [corner, *arc, shoulder]
    return [*body, (section.width_mm, section.thickness_mm / 2)]
