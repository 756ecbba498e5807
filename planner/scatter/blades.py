"""The lands of blades that are drawn, by exact geometry."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from planner.formulas.strayed import Strayed, Touching, strayed_lands
from planner.formulas.strayed_bulge import BulgingFace, strayed_bulge_lands
from planner.scatter.causes import Drawn, Floats, Wearing
from planner.section.profile import BevelFace
from planner.section.size_on_path import SizeOnPath
from planner.section.target import FaceRelief

_LEAST_MM, _LEAST_RAD = 1e-3, 1e-3


@dataclass(frozen=True)
class FaceCase:
    """One face as it is meant, and the errors that it is ground with."""

    face: BevelFace
    relief: FaceRelief
    rise_per_thickness: float
    """How far the shoulder rises from the centre plane or the back for a millimetre of stock."""
    radius_mm: float
    touching: Touching
    shortfalls_mm: tuple[float, float]
    """The least and the most by which stations along the edge fall short of the depth."""
    land_tolerance_mm: float
    causes: tuple[Drawn, ...]
    wearing: Wearing | None
    size: SizeOnPath
    """What a wheel of another size does where the edge is turned from the anchor."""

    @property
    def asked_mm(self) -> tuple[float, float]:
        """Edge and shoulder land of the job."""
        return self.relief.asked_edge_land_mm, self.relief.asked_shoulder_land_mm


def lands_of(case: FaceCase, drawn: Mapping[str, Floats], shortfall_mm: float) -> Strayed:
    """Both lands of every blade. An error that is not among those drawn is none. Shape: (n,)."""
    depth, radius, other, along, thickness, bevel, tilt, lands = (
        _sum(case.causes, drawn, on)
        for on in (
            "depth", "radius", "other radius", "along", "thickness", "bevel", "tilt", "lands"
        )
    )  # fmt: skip
    depth = depth + case.size.per_arc * radius + case.size.per_other * other
    if case.wearing is not None:
        deeper, lost = _worn(case.causes, case.wearing, drawn)
        depth = depth + deeper - case.size.per_wheel_radius * lost
        radius = radius - (lost if case.wearing.smaller else 0.0)
    relief = case.relief
    radius = np.maximum(case.radius_mm + radius, _LEAST_MM)
    infeed = relief.depth_mm - shortfall_mm + depth
    # Stock that is gone, a face that is none and a wheel of no size still give some land; it is
    # far out of any tolerance.
    thickness, bevel = np.maximum(thickness, _thinnest_mm(case)), _bevel_error(case, bevel)
    face = case.face
    if face.bulge is not None:
        return strayed_bulge_lands(
            case.touching,
            BulgingFace(
                face.bulge.radius_mm,
                math.radians(face.edge_angle_deg),
                face.angle_rad,
                face.width_mm,
                case.rise_per_thickness,
                face.flank_rad,
            ),
            relief.wheel_aside_mm + along,
            radius,
            infeed,
            thickness_error_mm=thickness,
            bevel_error_rad=bevel,
            tilt_error_rad=tilt,
        )
    return strayed_lands(
        case.touching,
        face.angle_rad,
        face.width_mm,
        case.rise_per_thickness,
        relief.middle_mm + relief.drift_mm + along,
        radius,
        infeed,
        thickness_error_mm=thickness,
        bevel_error_rad=bevel,
        tilt_error_rad=tilt,
        face_error_mm=lands,
        start_mm=face.start_mm,
        flank_rad=face.flank_rad,
    )


def _bevel_error(case: FaceCase, error_rad: Floats) -> Floats:
    """The error of the bevel angle, short of a face that is none."""
    angle = case.face.angle_rad
    if angle == 0.0:
        return error_rad
    # Nor does it lie in its flank.
    least = max(case.face.flank_rad, 0.0) + _LEAST_RAD
    return np.clip(error_rad, least - angle, math.pi / 2 - _LEAST_RAD - angle)


def _thinnest_mm(case: FaceCase) -> float:
    """The error of thickness at which the face is gone."""
    face = case.face
    flank = face.flank_rad
    rise = face.width_mm * math.sin(face.angle_rad - flank)
    if face.bulge is not None:
        rho, edge = face.bulge.radius_mm, math.radians(face.edge_angle_deg) - flank
        rise = rho * (math.cos(edge - face.width_mm / rho) - math.cos(edge))
    rise /= math.cos(flank)
    return -rise / case.rise_per_thickness if case.rise_per_thickness > 0 else -math.inf


def _sum(causes: Sequence[Drawn], drawn: Mapping[str, Floats], on: str) -> Floats:
    parts = [drawn[c.name] for c in causes if c.acts_on == on and c.name in drawn]
    return np.asarray(sum(parts, np.zeros(()))) if parts else np.zeros(())


def _worn(
    causes: Sequence[Drawn], wearing: Wearing, drawn: Mapping[str, Floats]
) -> tuple[Floats, Floats]:
    """How much deeper the wheel goes than it should, and what its radius has lost.

    It wears by F times what its stated G ratio has; the programs make up for what that has.
    """
    factor: Floats = np.ones(())
    before: Floats = np.zeros(())
    for cause in causes:
        if cause.acts_on == "g_ratio" and cause.name in drawn:
            factor = np.exp(-drawn[cause.name])
        elif cause.acts_on == "batch" and cause.name in drawn:
            before = np.asarray(wearing.before_mm)[drawn[cause.name].astype(int)]
    made_up = wearing.within_mm + (before if wearing.zero_kept else 0.0)
    return made_up * (1.0 - factor), before * factor


def in_tolerance(case: FaceCase, drawn: Mapping[str, Floats]) -> np.ndarray:
    """Which blades have both lands of a face in tolerance all along the edge. Shape: (n,)."""
    good = np.ones((), bool)
    for shortfall in dict.fromkeys(case.shortfalls_mm):
        found = lands_of(case, drawn, shortfall)
        for land, asked in zip(found[:2], case.asked_mm, strict=True):
            good = good & (np.abs(land - asked) <= case.land_tolerance_mm)
        good = good & (found.depth_mm > 0)
    return np.asarray(good)
