"""The figures by which variants are compared.

Of two faces the worse one counts: the deepest relief, the narrowest lands, the tightest depth.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from planner.plan import Plan, SectionFit
from planner.section.spread import FaceSpread
from planner.section.target import Section

Figure = float | int | str


class FigureKind(NamedTuple):
    """One figure: its name in files, in a table, its unit there, and its decimals."""

    name: str
    label: str
    unit: str
    decimals: int
    rank: int
    """On a narrow screen the figures of the highest rank go first."""


OF_SECTION = (
    FigureKind("wheel", "wheel", "", 0, 5),
    FigureKind("arc_diameter_mm", "arc diameter", "mm", 1, 6),
    FigureKind("depth_mm", "depth", "mm", 4, 1),
    FigureKind("chord_mm", "width", "mm", 2, 6),
    FigureKind("edge_land_mm", "edge land", "mm", 2, 7),
    FigureKind("shoulder_land_mm", "shoulder land", "mm", 2, 7),
    FigureKind("steel_left_mm", "steel left", "mm", 2, 2),
    FigureKind("edge_angle_deg", "included angle", "deg", 1, 8),
    FigureKind("removed_area_mm2", "area", "mm2", 3, 9),
    FigureKind("land_change_per_depth", "land per depth", "", 1, 4),
    FigureKind("depth_tolerance_mm", "depth tolerance", "mm", 4, 4),
)
OF_PLAN = (
    *OF_SECTION,
    FigureKind("land_sd_mm", "land spread", "mm", 3, 3),
    FigureKind("share_in_tolerance", "share", "%", 0, 0),
    FigureKind("passes", "passes", "", 0, 5),
    FigureKind("time_s", "time", "s", 0, 0),
    FigureKind("soak_c", "soak", "degC", 0, 2),
    FigureKind("flash_c", "flash", "degC", 0, 6),
    FigureKind("normal_force_n", "force", "N", 1, 6),
    FigureKind("power_w", "power", "W", 0, 8),
    FigureKind("removed_mass_g", "steel off", "g", 2, 9),
)
"""``time_s`` and ``removed_mass_g`` are those of one blade; force and power the greatest."""


def section_figures(
    section: Section, wheel: str, spreads: Sequence[FaceSpread]
) -> dict[str, Figure]:
    """The figures of a section by themselves."""
    tightest = max(spreads, key=lambda s: s.land_change_per_depth)
    return {
        "wheel": wheel,
        "arc_diameter_mm": 2 * section.wheel_radius_mm,
        "depth_mm": max(r.depth_mm for r in section.reliefs),
        "chord_mm": max(r.chord_mm for r in section.reliefs),
        "edge_land_mm": min(r.edge_land_mm for r in section.reliefs),
        "shoulder_land_mm": min(r.shoulder_land_mm for r in section.reliefs),
        "steel_left_mm": section.steel_left_mm,
        "edge_angle_deg": section.edge_angle_deg,
        "removed_area_mm2": sum(r.removed_area_mm2 for r in section.reliefs),
        "land_change_per_depth": tightest.land_change_per_depth,
        "depth_tolerance_mm": tightest.depth_tolerance_mm,
    }


def fit_figures(fit: SectionFit) -> dict[str, Figure]:
    """The figures of a section with its wheel."""
    return section_figures(fit.section, fit.wheel.name, fit.spreads)


def plan_figures(plan: Plan) -> dict[str, Figure]:
    """The figures of a plan."""
    passes = [p for s in plan.setups for p in s.passes]
    return {
        **section_figures(plan.section, plan.wheel.name, plan.spreads),
        "land_sd_mm": max(s.land_sd_mm for s in plan.spreads),
        "share_in_tolerance": plan.share_in_tolerance,
        "passes": plan.totals.passes,
        "time_s": plan.totals.time_per_blade_s,
        "soak_c": plan.soak_c,
        "flash_c": plan.flash_c,
        "normal_force_n": max(p.normal_force_n for p in passes),
        "power_w": max(p.power_w for p in passes),
        "removed_mass_g": plan.totals.mass_per_blade_g,
    }


def relief_figures(section: Section) -> list[dict[str, Figure]]:
    """Each relieved face by itself, for those who read the figures by machine."""
    return [
        {
            "face": r.face,
            "depth_mm": r.depth_mm,
            "chord_mm": r.chord_mm,
            "edge_land_mm": r.edge_land_mm,
            "shoulder_land_mm": r.shoulder_land_mm,
        }
        for r in section.reliefs
    ]


def sort_value(figures: Mapping[str, Figure], name: str) -> tuple[int, float, str]:
    """What a figure sorts by: numbers by size, then words, then none at all."""
    value = figures.get(name)
    if value is None:
        return (2, 0.0, "")
    return (1, 0.0, value) if isinstance(value, str) else (0, float(value), "")
