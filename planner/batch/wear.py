"""Wear of the wheel or belt, blade by blade, and what to do about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import wheel_wear
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.size_on_path import size_on_path
from planner.section.target import FaceRelief, Section
from planner.section.wheel_shape import section_radius_mm, wearing_width_mm
from planner.section.work import FaceWork, edge_curvature_per_mm

LEAST_DIAMETER_SHARE = 2 / 3
"""Diameter at which a wheel is thrown away, where the rack does not say. Common practice."""

_LEAST_TOLERANCE_MM = 1e-6
"""Stands for a tolerance that the settings have used up."""

MOST_BLADES = 100_000
"""Blades are not counted further than this."""


@dataclass(frozen=True)
class WheelWear:
    """A bonded wheel through the batch; lands and depths are those of the first relief."""

    per_blade_mm: float
    """Radius lost to the first blade."""
    at_last_mm: float
    """Radius lost before the last blade of the batch, nothing dressed."""
    land_growth_mm: float
    """How much wider each land of the last blade would come out, nothing made up for."""
    tolerance_share: float
    touch_off: Literal["blade", "batch"]
    dress_after: int | None
    """Blades until the drift uses its share of the tolerance; None when the batch does not."""
    dress_mm: float
    dressed_radius_mm: float
    dressed_depth_mm: float
    """Depth that gives the same lands after one dressing."""
    diameters_mm: tuple[float, float]
    """Diameters of the arc (the wheel's, or twice its form radius) that these very programs may be
    run with, lands in tolerance."""
    blades_per_wheel: int
    offsets_mm: tuple[float, ...]
    """Radius lost before each blade of the batch."""


@dataclass(frozen=True)
class BeltWear:
    """A belt through the batch."""

    energy_now_j_mm3: float
    energy_last_j_mm3: float
    """At the last blade of the batch, or when the belt is retired before it."""
    blades_left: int | None
    """Blades until it is retired; None when its life or length is not stated."""
    blades_per_belt: int | None


def wheel_wear_of(
    job: Job,
    machine: Machine,
    wheel: Wheel,
    section: Section,
    blade_volume_mm3: float,
    setup_volume_mm3: float,
    together: int = 1,
) -> WheelWear | None:
    """Wear of a bonded wheel; None where no G ratio is stated or the wheel carries a belt.

    ``together`` blades are ground in one clamping: the wheel is dressed between two of these.

    A batch touched off once is ground set-up by set-up, so the drift of a set-up comes from what it
    takes off itself; touched off each blade, the wheel's radius counts all that went before.
    """
    if wheel.g_ratio is None or wheel.belt is not None:
        return None
    relief = section.reliefs[0]
    touch = machine.fixture.touch_off_each
    if job.quantity == 1:
        touch = "blade"
    volume = blade_volume_mm3 if touch == "blade" else setup_volume_mm3
    # In lines the place of contact goes round the rim by as much as the arc turns.
    turns = section_radius_mm(wheel) / section.wheel_radius_mm
    curved = edge_curvature_per_mm(job, section.face(relief.face), relief)
    width = wearing_width_mm(wheel, min(turns, 1.0) * relief.chord_mm, curved)
    size = (wheel.diameter_mm, volume, wheel.g_ratio, width)
    least = _least_mm(wheel)
    worn_square = 4 * job.quantity * volume / (math.pi * wheel.g_ratio * width)
    if wheel.diameter_mm**2 - worn_square < least**2:
        raise RefusedError([used_up(wheel, job.quantity)])
    batch = wheel_wear.wear_through_batch(job.quantity, *size)
    before = [float(w) for w in (wheel.diameter_mm - batch.start_mm) / 2]
    per_blade = float(wheel_wear.radial_wear(volume, wheel.g_ratio, *size[::3]))
    room = machine.limits.drift_share * job.relief.land_tolerance_mm
    lens = section.lens(relief.face)
    dressed_arc = wheel.contact == "across_edge" or in_lines(wheel, section)
    on_path = max(
        size_on_path(job, machine, wheel, section.face(r.face)).per_wheel_radius
        for r in section.reliefs
    )
    if dressed_arc or on_path or not math.isinf(lens.face_radius_mm):
        # The form is dressed, or the axes make the arc: only a zero that is kept falls behind, and
        # the ends of an edge that is followed. There and in a face that bulges the growth is taken
        # as straight, and the wheel's own radius counts. With a zero that is kept the whole wheel
        # stands back, nowhere by more than where it was touched off.
        per_depth = float(lens.end_per_depth(relief.depth_mm))
        falls = per_depth * (1.0 if touch == "batch" else on_path)
        falls += 0.0 if dressed_arc else float(lens.end_per_radius(relief.depth_mm))
        growth = falls * before[-1]
        within = math.floor(room / (falls * per_blade)) if falls > 0 else MOST_BLADES
    else:
        growth = float(
            wheel_wear.land_growth(section.wheel_radius_mm, relief.depth_mm, before[-1], touch)
        )
        within = wheel_wear.blades_within_share(
            *size,
            depth_mm=relief.depth_mm,
            land_tolerance_mm=job.relief.land_tolerance_mm,
            share=machine.limits.drift_share,
            touch_off=touch,
        )
    dressed, deep = section.wheel_radius_mm, relief.depth_mm
    if not dressed_arc:
        dressed = section.wheel_radius_mm - wheel.dress_mm
        deep = float(replace(lens, wheel_radius_mm=dressed).depth_of_chord(relief.chord_mm))
    whole = max(within // together, 1) * together
    dress_after = whole if within < job.quantity else None
    return WheelWear(
        per_blade_mm=per_blade,
        at_last_mm=before[-1],
        land_growth_mm=growth,
        tolerance_share=float(wheel_wear.tolerance_share(growth, job.relief.land_tolerance_mm)),
        touch_off=touch,
        dress_after=dress_after,
        dress_mm=wheel.dress_mm,
        dressed_radius_mm=dressed,
        dressed_depth_mm=deep,
        diameters_mm=diameters_that_hold(wheel, section, relief, job.relief.land_tolerance_mm),
        blades_per_wheel=_blades_per_wheel(wheel, width, least, blade_volume_mm3, dress_after),
        offsets_mm=tuple(before),
    )


def in_lines(wheel: Wheel, section: Section) -> bool:
    """Whether the wheel is smaller than the relief's arc, and generates it in lines."""
    return section_radius_mm(wheel) < section.wheel_radius_mm - 1e-9


def worn_by_mm(wheel: Wheel, width_mm: float, removed_mm3: float) -> float:
    """Radius lost over a width to a volume of steel; none for a belt, or with no G ratio stated."""
    if wheel.g_ratio is None or wheel.belt is not None:
        return 0.0
    most = wheel.g_ratio * math.pi * (wheel.diameter_mm / 2) ** 2 * width_mm
    if removed_mm3 >= most:
        raise RefusedError([used_up(wheel, 1)])
    return float(wheel_wear.radial_wear(removed_mm3, wheel.g_ratio, wheel.diameter_mm, width_mm))


def volume_for_wear_mm3(wheel: Wheel, width_mm: float, worn_mm: float) -> float:
    """The volume of steel for which ``worn_by_mm`` gives so much; 0 where nothing wears."""
    if wheel.g_ratio is None or wheel.belt is not None:
        return 0.0
    if worn_mm >= wheel.diameter_mm / 2:
        raise RefusedError([used_up(wheel, 1)])
    return float(wheel_wear.volume_for_wear(worn_mm, wheel.g_ratio, wheel.diameter_mm, width_mm))


def used_up(wheel: Wheel, quantity: int) -> Refusal:
    """The refusal of a job that wears its wheel away."""
    facts: dict[str, Fact] = {
        "wheel": wheel.name,
        "quantity": quantity,
        "g_ratio": wheel.g_ratio or 0.0,
        "least_mm": _least_mm(wheel),
    }
    fewer = (WayOut("fewer-blades"),) if quantity > 1 else ()
    return Refusal("wheel-used-up", facts, (*fewer, WayOut("harder-wheel"), WayOut("wider-wheel")))


def used_up_refusals(quantity: int, grinds: Sequence[tuple[FaceWork, float]]) -> list[Refusal]:
    """Every wheel that wears away within so many blades, all that it grinds on each counted.

    ``grinds`` is each set-up's work with the volume (mm3) that it takes off one blade.
    """
    wheels: dict[str, Wheel] = {}
    lost_mm2: dict[str, float] = {}
    for work, volume in grinds:
        wheel = work.wheel
        if wheel.g_ratio is None or wheel.belt is not None:
            continue
        wheels[wheel.name] = wheel
        # So much of the wheel's side, as an area, goes for one blade.
        lost_mm2[wheel.name] = lost_mm2.get(wheel.name, 0.0) + volume / (
            wheel.g_ratio * work.wearing_width_mm
        )
    return [
        used_up(wheel, quantity)
        for name, wheel in wheels.items()
        if math.pi / 4 * (wheel.diameter_mm**2 - _least_mm(wheel) ** 2) < quantity * lost_mm2[name]
    ]


def _least_mm(wheel: Wheel) -> float:
    return wheel.least_diameter_mm or LEAST_DIAMETER_SHARE * wheel.diameter_mm


def diameters_that_hold(
    wheel: Wheel, section: Section, relief: FaceRelief, tolerance_mm: float
) -> tuple[float, float]:
    """Least and greatest diameter that keep the lands, touched off anew; no belt counted.

    What the settings put the lands aside takes its part of the tolerance.

    In lines the axes make the arc: a wheel larger by e in radius goes e (1 - cos a) too deep where
    it touches at the angle a, and must stay smaller than the arc; a smaller one leaves higher
    ridges.
    """
    belt = 2 * wheel.belt.thickness_mm if wheel.belt else 0.0
    if in_lines(wheel, section):
        arc, radius = section.wheel_radius_mm, section_radius_mm(wheel)
        slope = float(section.lens(relief.face).end_per_depth(relief.depth_mm))
        at_ends = 2 * math.sin(math.asin(relief.chord_mm / 2 / arc) / 2) ** 2
        more = tolerance_mm / slope / at_ends
        return 2 * radius - belt, 2 * min(radius + more, arc) - belt
    room = max(tolerance_mm - abs(relief.aside_mm), _LEAST_TOLERANCE_MM)
    lens = section.lens(relief.face)
    if not math.isinf(lens.face_radius_mm):  # taken as straight
        most = 2 * room / float(lens.end_per_radius(relief.depth_mm))
        diameter = 2 * section.wheel_radius_mm
        return max(diameter - most, relief.chord_mm) - belt, diameter + most - belt
    low, high = wheel_wear.diameters_for_fixed_depth(
        2 * section.wheel_radius_mm, relief.depth_mm, room
    )
    return float(low) - belt, float(high) - belt


def _blades_per_wheel(
    wheel: Wheel, width_mm: float, least_mm: float, volume_mm3: float, dress_after: int | None
) -> int:
    assert wheel.g_ratio is not None
    if least_mm >= wheel.diameter_mm:
        return 0
    return min(
        wheel_wear.blades_per_wheel(
            wheel.diameter_mm,
            least_mm,
            volume_mm3,
            wheel.g_ratio,
            width_mm,
            dress_every=dress_after,
            dress_depth_mm=wheel.dress_mm if dress_after else 0.0,
        ),
        MOST_BLADES,
    )


def belt_wear_of(job: Job, wheel: Wheel, volume_mm3: float, contact_mm: float) -> BeltWear | None:
    """Wear of a belt; None for a bonded wheel. ``contact_mm``: width of belt that grinds."""
    belt = wheel.belt
    if belt is None:
        return None
    if belt.life_mm3_mm2 is None or belt.length_mm is None:
        u = wheel.specific_energy_j_mm3
        return BeltWear(u, u, None, None)
    doubling = 2.0 * belt.life_mm3_mm2
    area = belt.length_mm * contact_mm
    whole = wheel_wear.blades_per_belt(volume_mm3, area, doubling)
    left = math.floor((1.0 - belt.worn) * belt.life_mm3_mm2 * area / volume_mm3)
    per_blade = volume_mm3 / area
    start = belt.worn * belt.life_mm3_mm2
    last = min(start + per_blade * min(job.quantity, max(left, 1)), belt.life_mm3_mm2)
    now, then = (
        float(wheel_wear.belt_specific_energy(wheel.specific_energy_j_mm3, v, doubling))
        for v in (start, last)
    )
    return BeltWear(now, then, blades_left=left, blades_per_belt=whole)
