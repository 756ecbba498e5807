"""A wheel in words: its size as the setter measures it, and its contact as the designer asks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.formulas import contact
from planner.heat.model import contact_length_mm
from planner.inputs.rack import Wheel
from planner.kinematics.sizes_held import SizesHeld
from planner.section.wheel_shape import crown_mm, section_radius_mm
from planner.setup_plan import Setup


def size_words(wheel: Wheel) -> str:
    """What tells it from another of the rack."""
    if wheel.contact == "along_edge":
        return f"{2 * section_radius_mm(wheel):.1f} mm over all{crown_words(wheel)}"
    if wheel.platen is not None:
        return f"{wheel.width_mm:.1f} mm wide over a platen {wheel.platen.length_mm:.1f} mm long"
    rim = f"{wheel.diameter_mm:.1f} mm, rim {wheel.width_mm:.1f} mm wide"
    if wheel.form_radius_mm is None:
        return f"{rim}, dressed flat"
    return f"{rim}, dressed to a radius of {wheel.form_radius_mm:.2f} mm"


def crown_words(wheel: Wheel) -> str:
    """What follows the size of a wheel whose rim is crowned; nothing for others."""
    crown = crown_mm(wheel)
    if crown is None:
        return ""
    return f", rim {wheel.width_mm:.1f} mm wide, crowned to a radius of {crown:.2f} mm"


def with_belt_words(wheel: Wheel) -> str:
    """What follows the planned size of a wheel that runs a belt: the size over all."""
    return f", {2 * section_radius_mm(wheel):.1f} mm over all" if wheel.belt is not None else ""


def sizes_that_hold_words(
    wheel: Wheel, diameters_mm: tuple[float, float], held: SizesHeld | None
) -> str:
    """The sizes that keep the lands, as the setter measures them: of a form the dressed radius.

    ``diameters_mm`` are twice the radius in the section, without its belt. Along an edge that is
    followed both radii of the wheel count, each while the other is as planned.
    """
    low, high = diameters_mm
    if held is not None and is_of_path(held):
        return held_words(wheel, held)
    if wheel.form_radius_mm is not None:
        return f"a rim of {low / 2:.1f} to {high / 2:.1f} mm radius"
    over = " with its belt" if wheel.belt is not None else ""
    return f"a wheel of {low:.1f} to {high:.1f} mm{over}"


def is_of_path(held: SizesHeld) -> bool:
    """Whether a way was reckoned for one size, and not only the room inside looked at."""
    return math.isfinite(held.radii_mm[1])


def held_words(wheel: Wheel, held: SizesHeld) -> str:
    """Both sizes of a wheel along an edge that is followed, rounded to the safe side."""
    over = " over all" if wheel.belt is not None else ""
    words = f"a wheel of {_inward(*(2 * r for r in held.radii_mm))} mm{over}"
    if held.rim_radii_mm is None:
        return words
    how = "dressed" if wheel.contact == "across_edge" else "crowned"
    return f"{words}, its rim {how} to a radius of {_inward(*held.rim_radii_mm)} mm"


def _inward(low: float, high: float) -> str:
    return f"{math.ceil(low * 100 - 1e-6) / 100:.2f} to {math.floor(high * 100 + 1e-6) / 100:.2f}"


@dataclass(frozen=True)
class Contact:
    """What the heaviest pass of a set-up touches at once."""

    number: int
    along_mm: float
    across_mm: float
    cut_mm: float
    """How deep, on average over the width."""
    feed_mm_s: float


def heaviest_contact(setup: Setup) -> Contact:
    """Contact of the pass that takes most."""
    work = setup.work
    heaviest = max(setup.passes, key=lambda p: p.removed_area_mm2)
    width = float(work.removal.width_mm(np.array(heaviest.reached_depth_mm)))
    cut = heaviest.removed_area_mm2 / width if width > 0 else 0.0
    feed = heaviest.feed_mm_min
    along = contact_length_mm(work.wheel, setup.shop, feed, cut, work.curvature_per_mm)
    return Contact(heaviest.number, float(along), width, cut, feed / 60)


def contact_words(setup: Setup) -> str:
    """Length of contact, chip and speeds of the heaviest pass; empty for a flat rim along the edge.

    Along the edge the wheel meets fresh steel with its side, and chip and speeds are not those of
    surface grinding; a crowned rim's contact is told.
    """
    wheel = setup.work.wheel
    if wheel.contact == "along_edge" and crown_mm(wheel) is None:
        return ""
    one = heaviest_contact(setup)
    words = (
        f"Contact: {one.along_mm:.2f} mm along the edge and {one.across_mm:.2f} mm across at pass "
        f"{one.number}, the heaviest, {one.cut_mm * 1000:.1f} µm deep on average"
    )
    if wheel.contact == "along_edge":
        return f"{words}; it is the crown's leading half."
    speed = setup.heated.cutting.surface_speed_m_s
    chip = float(contact.equivalent_chip_thickness_um(one.cut_mm, one.feed_mm_s, speed))
    ratio = float(contact.speed_ratio(speed, one.feed_mm_s))
    return f"{words}; equivalent chip thickness {chip:.3f} µm, speed ratio {ratio:.0f}."
