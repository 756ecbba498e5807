"""A wheel in words: its size as the setter measures it, and its contact as the designer asks."""

from __future__ import annotations

import numpy as np

from planner.formulas import contact
from planner.inputs.rack import Wheel
from planner.section.wheel_shape import arc_length_mm, crown_mm, section_radius_mm
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


def sizes_that_hold_words(wheel: Wheel, diameters_mm: tuple[float, float]) -> str:
    """The sizes that keep the lands, as the setter measures them: of a form the dressed radius.

    ``diameters_mm`` are twice the radius in the section, belt counted.
    """
    low, high = diameters_mm
    if wheel.form_radius_mm is not None:
        return f"a rim of {low / 2:.1f} to {high / 2:.1f} mm radius"
    over = " with its belt" if wheel.belt is not None else ""
    return f"a wheel of {low:.1f} to {high:.1f} mm{over}"


def contact_words(setup: Setup) -> str:
    """Length of contact, chip and speeds of the heaviest pass; empty for a wheel along the edge.

    There the wheel meets fresh steel with its side, and these relations do not hold.
    """
    wheel = setup.work.wheel
    heaviest = max(setup.passes, key=lambda p: p.removed_area_mm2)
    width = float(setup.work.removal.width_mm(np.array(heaviest.reached_depth_mm)))
    cut = heaviest.removed_area_mm2 / width if width > 0 else 0.0
    arc = arc_length_mm(wheel, cut, setup.work.curvature_per_mm)
    if arc is None:
        return ""
    speed, feed = setup.heated.cutting.surface_speed_m_s, heaviest.feed_mm_min / 60
    chip = float(contact.equivalent_chip_thickness_um(cut, feed, speed))
    return (
        f"Contact: {float(arc):.2f} mm along the edge and {width:.2f} mm across at pass "
        f"{heaviest.number}, the heaviest, {cut * 1000:.1f} µm deep on average; equivalent chip "
        f"thickness {chip:.3f} µm, speed ratio {float(contact.speed_ratio(speed, feed)):.0f}."
    )
