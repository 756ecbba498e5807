"""How the blade will cut, how strong its edge is, and how often it can be honed, for the screen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from rich import box
from rich.table import Table
from rich.text import Text

from planner.inputs.cutting import Cut
from planner.inputs.job import Job
from planner.section.cutting import (
    SMALLEST_ROUND_MM,
    FaceFit,
    GuidedRange,
    RoundedFit,
    Work,
    WorkFit,
    rests,
    section_fits,
)
from planner.section.keeping_sharp import FaceHoning, SteelBehind, face_honings, steel_behind
from planner.section.target import Section

if TYPE_CHECKING:
    from rich.console import RenderableType

_ALIKE_PER_MM = 1e-9


def use_parts(job: Job, section: Section) -> Iterable[RenderableType]:
    """What ``section`` shows of a finished section in use."""
    fits = section_fits(section, job.cut)
    for names, fit in grouped(fits):
        yield _fit_table(f"How {names} will cut", fit)
        yield Text(guided_words(fit.guided, job.cut))
        yield from (Text(line) for line in _support_lines(fit))
        if fit.rounded is not None:
            yield Text(_rounded_words(fit.rounded))
        yield Text("")
    if not rests(section, "B"):
        yield Text(
            "Face B, the inside, has no bevel: the tool rests on its outside, and how the inside "
            "would lie is not asked."
        )
        yield Text("")
    yield Text(_threshold_words(job.cut), style="dim")
    yield Text("")
    yield _steel_table(steel_behind(section))
    honings = face_honings(section, job.honing)
    if honings:
        yield _honing_table(honings)
        yield Text(
            f"Honed on both lands, {job.honing.each_mm * 1000:g} µm off a face each time "
            "(common practice, no source)."
        )
        yield from (Text(line) for line in edge_words(honings))


def edge_words(honings: Sequence[FaceHoning]) -> Iterable[str]:
    """What is to be done about an edge that the stone on both lands does not reach in time."""
    late = [h for h in honings if not h.reaches_edge]
    alike = len({(h.reaches_edge_after, h.honings, h.edge_angle_deg) for h in late}) == 1
    for told in [late] if alike else [[h] for h in late]:
        one, names = told[0], " and ".join(h.face for h in told)
        yield (
            f"Face{'s' if len(told) > 1 else ''} {names}: on both lands the stone would reach the "
            f"edge after {one.reaches_edge_after} honings, and the relief is ground again after "
            f"{one.honings}. Till then it hones the lands and leaves the edge as it is, "
            f"{one.edge_angle_deg:.1f} deg: bring the edge up by itself, rolled up to it on the "
            "stone or stropped."
        )


def work_words(work: Work) -> str:
    """What the bevel is laid on.

    >>> work_words(Work(0.0)), work_words(Work(1 / 40)), work_words(Work(-1 / 400))
    ('flat', 'hollow 40.0', 'round 400.0')
    """
    return work.kind if work.radius_mm is None else f"{work.kind} {work.radius_mm:.1f}"


def support_words(fit: WorkFit) -> str:
    """From where to where behind the edge the face touches, in mm."""
    if fit.verdict == "does not fit":
        return "-"
    if fit.support_to_mm - fit.support_from_mm < 0.005:
        return f"{fit.support_to_mm:.2f}"
    return f"{fit.support_from_mm:.2f} to {fit.support_to_mm:.2f}"


def guided_words(guided: GuidedRange | None, cut: Cut) -> str:
    """Over which work a face is guided, and how much of what was asked for that is."""
    if guided is None:
        return "Guided on nothing: lay it on and see what is asked of the hand."
    parts = []
    least, most = guided.least_per_mm, guided.most_per_mm
    if most > _ALIKE_PER_MM:
        far = f" to {1 / least:.1f} mm" if least > _ALIKE_PER_MM else " and wider"
        near = f"{1 / most:.1f}" + (" mm radius" if far.endswith("wider") else "")
        parts.append(f"in hollows of {near}{far}" + ("" if far.endswith("wider") else " radius"))
    if least <= _ALIKE_PER_MM and most >= -_ALIKE_PER_MM:
        parts.append("on flat work")
    if least < -_ALIKE_PER_MM:
        every = -least >= 1 / SMALLEST_ROUND_MM - _ALIKE_PER_MM
        near = "" if every else f" of {-1 / least:.1f} mm radius and wider"
        if most < -_ALIKE_PER_MM:
            near = f" of {-1 / least:.1f} to {-1 / most:.1f} mm radius"
        parts.append(f"on {'all ' if every and not near else ''}rounds{near}")
    words = f"Guided {', '.join(parts)}. "
    low, high = cut.bowl_mm
    asked = f"Of hollows of {low:g} to {high:g} mm radius it is guided in "
    found = guided.hollows_of(cut.bowl_mm)
    if found is None:
        return f"{words}{asked}none."
    if found[0] - low < 0.05 and high - found[1] < 0.05:
        return f"{words}{asked}all."
    return f"{words}{asked}those of {found[0]:.1f} to {found[1]:.1f} mm."


def grouped(fits: Sequence[FaceFit]) -> list[tuple[str, FaceFit]]:
    """Faces that rest alike are told once."""
    if len(fits) == 1:
        return [(f"face {fits[0].outline.face}", fits[0])]
    first, second = fits
    if first.fits == second.fits and first.guided == second.guided:
        return [("faces A and B", first)]
    return [("face A", first), ("face B", second)]


def _fit_table(title: str, fit: FaceFit) -> Table:
    table = _table(
        title,
        ("on, mm radius", "left"),
        ("touches,\nmm behind", "right"),
        ("angle,\ndeg", "right"),
        ("gap,\nmm", "right"),
        ("lift,\ndeg", "right"),
        ("", "left"),
    )
    for one in fit.fits:
        figures = (
            ["-"] * 3
            if one.verdict == "does not fit"
            else [f"{one.angle_deg:.2f}", f"{one.gap_mm:.3f}", f"{one.lift_deg:.2f}"]
        )
        table.add_row(work_words(one.work), support_words(one), *figures, one.verdict)
    return table


def _support_lines(fit: FaceFit) -> Iterable[str]:
    """What a micro or a convex bevel loses on flat work against a flat one."""
    flat = next(f for f in fit.fits if f.work.kind == "flat")
    if flat.bears_lost_mm > 0.01:
        yield (
            f"On flat work it bears over {flat.bears_mm:.2f} mm, {flat.bears_lost_mm:.2f} mm less "
            f"than a flat bevel; laid on its shoulder the edge stands off by "
            f"{flat.edge_off_mm:.3f} mm."
        )


def _rounded_words(rounded: RoundedFit) -> str:
    fit = rounded.fit
    return (
        f"Rounded over from {rounded.reach_mm:g} mm on ({rounded.radius_mm:g} mm radius, "
        f"{rounded.steeper_deg:.1f} deg steeper), on flat work: it bears over {fit.bears_mm:.2f} "
        f"mm and loses {fit.bears_lost_mm:.2f} mm of support; laid on its bevel the edge stands "
        f"off by {fit.edge_off_mm:.3f} mm, and engages when lifted by {fit.lift_deg:.1f} deg: "
        f"{fit.verdict}."
    )


def _threshold_words(cut: Cut) -> str:
    return (
        f"Guided: the edge points into the work by at most {cut.guided_deg:g} deg and engages "
        f"within {cut.lift_deg:g} deg of lift off the shoulder. Beyond that angle it rides on the "
        f"shoulder, beyond {cut.digs_in_deg:g} deg it digs in; beyond that lift it slides off. "
        "Common practice, no source."
    )


def _steel_table(steel: Sequence[SteelBehind]) -> Table:
    table = _table(
        "Steel behind the edge, straight back from it (not along the face)",
        ("", "left"),
        ("from edge,\nmm", "right"),
        ("thick,\nmm", "right"),
        ("unrelieved,\nmm", "right"),
        ("section\nmodulus", "right"),
    )
    for one in steel:
        table.add_row(
            f"deepest of {' and '.join(one.deepest_of)}" if one.deepest_of else "",
            f"{one.from_edge_mm:.2f}",
            f"{one.thickness_mm:.3f}",
            f"{one.full_thickness_mm:.3f}",
            f"{one.modulus_share:.0%}",
        )
    return table


def _honing_table(honings: Sequence[FaceHoning]) -> Table:
    table = _table("Honing", ("", "left"), *((f"face {h.face}", "right") for h in honings))
    rows: list[tuple[str, list[str]]] = [
        ("edge angle, deg", [f"{h.edge_angle_deg:.1f}" for h in honings]),
        ("stone reaches the edge after, µm", [_um(h.reaches_edge_after_mm) for h in honings]),
        ("that is, honings", [_reached(h) for h in honings]),
        ("edge angle from then on, deg", [f"{h.honed_angle_deg:.1f}" for h in honings]),
        (
            "edge land honed alone, deg each time",
            ["-" if h.alone_deg is None else f"+{h.alone_deg:.2f}" for h in honings],
        ),
        ("honings until it is ground again", [str(h.honings) for h in honings]),
        ("because of the", [h.first for h in honings]),
        ("edge land then, mm", [_of(h.edge_land_mm, h.edge_land_limit_mm) for h in honings]),
        (
            "shoulder land then, mm",
            [_of(h.shoulder_land_mm, h.shoulder_land_limit_mm) for h in honings],
        ),
        ("relief left then, mm", [f"{h.depth_left_mm:.4f}" for h in honings]),
    ]
    for label, values in rows:
        table.add_row(label, *values)
    return table


def _um(mm: float) -> str:
    return f"{mm * 1000:.1f}"


def _reached(honing: FaceHoning) -> str:
    late = "" if honing.reaches_edge else ", too late"
    return f"{honing.reaches_edge_after}{late}"


def _of(land_mm: float, limit_mm: float) -> str:
    return f"{land_mm:.2f} of {limit_mm:.2f}"


def _table(title: str, *columns: tuple[str, Any]) -> Table:
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_header=any(name for name, _ in columns),
    )
    for name, justify in columns:
        table.add_column(name, justify=justify, no_wrap=justify == "right")
    return table
