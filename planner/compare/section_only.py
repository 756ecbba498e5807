"""Sections of many variants at once, where only sizes of the section are varied.

Each value is read once, the sizes that it sets are put into arrays, and all combinations are
reckoned together. What does not fit that way, and what is refused, goes one at a time.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from planner.compare.figures import Figure
from planner.compare.variants import Outcome, Reader, fitted
from planner.errors import InputError
from planner.inputs.job import Job
from planner.inputs.load import LoadedJob, LoadedMachine
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.inputs.variations import Variant, Variation, variants_of
from planner.kinematics.settings import cross_kind
from planner.section.many import CHUNK, Asked, Figures, section_figures
from planner.section.wheel_shape import is_round, section_radius_mm

Sizes = dict[str, float]

_TOLERANCE = "land_tolerance_mm"
_SIZE_KEYS = re.compile(
    r"blade\.section\.(thickness|width|edge_thickness|included_angle|angle_[ab])"
    r"|relief\.(edge_land|shoulder_land|depth|land_tolerance|min_steel_left|min_edge_angle)"
    r"|(wheel|machine\.rack(\.[0-9]+|\[[0-9]+\]))\.diameter"
)
"""Keys whose values are sizes of the section and nothing else."""
_BLADE_KEYS = {
    "form", "thickness_mm", "width_mm", "included_angle_deg", "angle_a_deg", "angle_b_deg",
    "edge_thickness_mm",
}  # fmt: skip
_RELIEF_KEYS = {
    "faces", "edge_land_mm", "shoulder_land_mm", "depth_mm", "land_tolerance_mm",
    "min_steel_left_mm", "min_edge_angle_deg", "share_in_tolerance", "residual_share",
}  # fmt: skip
"""What the arrays know of a blade and its relief; with anything else given, one at a time."""


@dataclass(frozen=True)
class _Alike:
    """What must be the same in every variant for them to be reckoned together."""

    faces: str
    wheel: str
    given: tuple[str, ...]


def each_fitted(variations: Sequence[Variation], read: Reader) -> Iterator[Outcome]:
    """The section of every variant, in order."""
    together = _together(variations, read)
    if together is None:
        yield from (fitted(variant, read) for variant in variants_of(variations))
        return
    alike, base, by_value = together
    variants = variants_of(variations)
    while chunk := list(itertools.islice(variants, CHUNK)):
        sizes = {
            name: np.fromiter((_size(v, name, base, by_value) for v in chunk), float, len(chunk))
            for name in base
        }
        tolerance = sizes.pop(_TOLERANCE)
        found = section_figures(Asked(faces=alike.faces, **sizes))
        for n, variant in enumerate(chunk):
            if found.possible[n]:
                radius = float(sizes["wheel_radius_mm"][n])
                yield _outcome(variant, alike, radius, float(tolerance[n]), found, n)
            else:
                yield fitted(variant, read)


def _size(
    variant: Variant, name: str, base: Sizes, by_value: dict[tuple[str, str], Sizes]
) -> float:
    for value in variant.values:
        if name in by_value[value]:
            return by_value[value][name]
    return base[name]


def _together(
    variations: Sequence[Variation], read: Reader
) -> tuple[_Alike, Sizes, dict[tuple[str, str], Sizes]] | None:
    """What is alike, the sizes of the first variant, and those that each value changes.

    None where the variants differ in more than sizes, or two keys change one size.
    """
    if not all(_SIZE_KEYS.fullmatch(v.key) for v in variations):
        return None
    first = [(v.key, v.values[0]) for v in variations]
    try:
        found = _sizes(*read(Variant(tuple(first))))
        if found is None:
            return None
        alike, base = found
        by_value: dict[tuple[str, str], Sizes] = {}
        changed_by: dict[str, str] = {}
        for n, variation in enumerate(variations):
            for value in variation.values:
                one = (variation.key, value)
                found = _sizes(*read(Variant((*first[:n], one, *first[n + 1 :]))))
                if found is None or found[0] != alike or found[1].keys() != base.keys():
                    return None
                by_value[one] = {k: s for k, s in found[1].items() if s != base[k]}
                for name in by_value[one]:
                    if changed_by.setdefault(name, variation.key) != variation.key:
                        return None
    except InputError:
        return None  # a value that does not suit the first of another key may suit the next
    else:
        # A value that leaves a size as it was must still say so where its key changes that size.
        for (key, _), sizes in by_value.items():
            for name, changer in changed_by.items():
                if changer == key:
                    sizes.setdefault(name, base[name])
        return alike, base, by_value


def _sizes(job: LoadedJob, machine: LoadedMachine) -> tuple[_Alike, Sizes] | None:
    """The sizes of a section, where the arrays know all that bears on it."""
    made, shop = job.model, machine.model
    wheel = _known_wheel(made, shop)
    blade, relief = made.blade.section, made.relief
    known = blade.model_fields_set <= _BLADE_KEYS and relief.model_fields_set <= _RELIEF_KEYS
    if wheel is None or not known or blade.form != "double_bevel" or cross_kind(shop) != "axis":
        return None
    sizes = {
        "thickness_mm": blade.thickness_mm,
        "width_mm": blade.width_mm,
        "edge_thickness_mm": blade.edge_thickness_mm,
        "wheel_radius_mm": section_radius_mm(wheel),
        "min_steel_left_mm": relief.min_steel_left_mm,
        "min_edge_angle_deg": relief.min_edge_angle_deg,
        _TOLERANCE: relief.land_tolerance_mm,
    }
    if blade.included_angle_deg is not None:
        sizes["bevel_a_deg"] = blade.included_angle_deg / 2
    elif blade.angle_a_deg is not None and blade.angle_b_deg is not None:
        sizes |= {"bevel_a_deg": blade.angle_a_deg, "bevel_b_deg": blade.angle_b_deg}
    asked = {
        "edge_land_mm": relief.edge_land_mm,
        "shoulder_land_mm": relief.shoulder_land_mm,
        "depth_mm": relief.depth_mm,
    }
    given = {name: size for name, size in asked.items() if size is not None}
    alike = _Alike(relief.faces, wheel.name, tuple(given))
    return alike, sizes | given


def _known_wheel(job: Job, machine: Machine) -> Wheel | None:
    """The wheel that the job names, where it leaves an arc."""
    found = next((w for w in machine.rack if w.name == job.relief_wheel), None)
    return found if found is not None and is_round(found) else None


def _outcome(
    variant: Variant,
    alike: _Alike,
    radius_mm: float,
    tolerance_mm: float,
    found: Figures,
    n: int,
) -> Outcome:
    reliefs: list[dict[str, Figure]] = [
        {
            "face": name,
            **{
                size: float(getattr(face, size)[n])
                for size in ("depth_mm", "chord_mm", "edge_land_mm", "shoulder_land_mm")
            },
        }
        for name, face in found.faces.items()
    ]
    faces = found.faces.values()
    slope = max(float(f.land_change_per_depth[n]) for f in faces)
    figures: dict[str, Figure] = {
        "wheel": alike.wheel,
        "arc_diameter_mm": 2 * radius_mm,
        "depth_mm": max(float(f.depth_mm[n]) for f in faces),
        "chord_mm": max(float(f.chord_mm[n]) for f in faces),
        "edge_land_mm": min(float(f.edge_land_mm[n]) for f in faces),
        "shoulder_land_mm": min(float(f.shoulder_land_mm[n]) for f in faces),
        "steel_left_mm": float(found.steel_left_mm[n]),
        "edge_angle_deg": float(found.edge_angle_deg[n]),
        "removed_area_mm2": sum(float(f.removed_area_mm2[n]) for f in faces),
        "land_change_per_depth": slope,
        "depth_tolerance_mm": tolerance_mm / slope,
    }
    return Outcome(variant, figures, reliefs)
