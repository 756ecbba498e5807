"""A picture of the finished section resting on the work, the edge touching, to scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.etree import ElementTree as Xml

import numpy as np

from planner.inputs.cutting import Cut
from planner.inputs.job import Job
from planner.report.cut_words import grouped, support_words, work_words
from planner.report.svg import MARGIN, WIDTH, document, ends, sheet, text
from planner.section.cutting import FaceFit, GuidedRange, WorkFit, section_fits
from planner.section.face_outline import FaceOutline, Floats, section_faces
from planner.section.target import Section

_PANEL, _HIGH, _GAP = 330.0, 170.0, 20.0
_ROW = _HIGH + 60.0
_BAR = 70.0
_STEEL = "fill:#e4e4e4;stroke:#111;stroke-width:1"
_WOOD = "fill:#f3e3c8;stroke:#8a5a1a;stroke-width:1"
_THIN = "stroke:#777;stroke-dasharray:4 3"
_POINTS = 121


def cut_svg(job: Job, section: Section) -> str:
    """How each face rests on flat work, in hollows and on a round, and where it is guided."""
    fits = section_fits(section, job.cut)
    groups = grouped(fits)
    outlines, _ = section_faces(section)
    height = 60.0 + len(groups) * (24.0 + 2 * _ROW + _BAR)
    root = sheet(f"{job.title}: how it will cut", height)
    text(root, MARGIN, 24, job.title, weight="bold")
    text(root, MARGIN, 42, "laid on the work with the edge touching, to scale")
    top = 70.0
    for names, fit in groups:
        text(root, MARGIN, top, names, weight="bold")
        other = next(o for o in outlines if o.face != fit.outline.face)
        whole = _whole(fit.outline, other)
        shown = [fit.fits[i] for i in (1, 0, 3, -1)]
        for number, one in enumerate(shown):
            left = MARGIN + (number % 2) * (_PANEL + _GAP)
            _panel(root, fit.outline, whole, one, left, top + 12 + number // 2 * _ROW)
        _guided_bar(root, fit, job.cut, top + 24 + 2 * _ROW)
        top += 24.0 + 2 * _ROW + _BAR
    return document(root)


def _panel(
    root: Xml.Element,
    face: FaceOutline,
    whole: tuple[Floats, Floats],
    fit: WorkFit,
    left: float,
    top: float,
) -> None:
    """One work: wood below, the section turned as it rests, its supports, the work's tangent."""
    window = Xml.SubElement(
        root,
        "svg",
        {
            "x": f"{left:.2f}",
            "y": f"{top:.2f}",
            "width": f"{_PANEL:.2f}",
            "height": f"{_HIGH:.2f}",
        },
    )
    long = max(face.shoulder_mm, fit.support_to_mm)
    scale = 0.72 * _PANEL / long
    across, down = 0.14 * _PANEL, 0.78 * _HIGH

    def placed(x: Floats, y: Floats) -> str:
        return " ".join(
            f"{a:.2f},{b:.2f}"
            for a, b in zip((across + x * scale).tolist(), (down - y * scale).tolist(), strict=True)
        )

    x = np.linspace(-across / scale, (_PANEL - across) / scale, _POINTS)
    ground = _surface(x, fit.work.curvature_per_mm)
    low = np.full(2, -_HIGH / scale)
    wood = placed(np.append(x, x[[-1, 0]]), np.append(ground, low))
    Xml.SubElement(window, "polygon", {"points": wood, "style": _WOOD})
    told = f"{work_words(fit.work)}{' mm radius' if fit.work.radius_mm else ''}: {fit.verdict}"
    text(root, left, top + _HIGH + 16, told, weight="bold")
    if fit.verdict == "does not fit":
        return
    turn = math.radians(fit.angle_deg)
    outline = placed(*_turned(*whole, turn))
    Xml.SubElement(window, "polygon", {"points": outline, "style": _STEEL})
    Xml.SubElement(window, "line", ends(0, down, _PANEL, down) | {"style": _THIN})
    distance = np.hypot(face.x_mm, face.y_mm)
    for place in {0.0, fit.support_from_mm, fit.support_to_mm}:
        at = int(np.argmin(np.abs(distance - place)))
        px, py = _turned(face.x_mm[[at]], face.y_mm[[at]], turn)
        here = across + float(px[0]) * scale, down - float(py[0]) * scale
        mark = ends(here[0], here[1] + 3, here[0], here[1] + 15)
        Xml.SubElement(window, "line", mark | {"style": "stroke:#111;stroke-width:2"})
    text(
        root,
        left,
        top + _HIGH + 32,
        f"touches {support_words(fit)} mm behind; {fit.angle_deg:.2f} deg, gap {fit.gap_mm:.3f} mm",
    )


def _whole(face: FaceOutline, other: FaceOutline) -> tuple[Floats, Floats]:
    """The closed section in the frame of one of its faces."""
    y, z = other.in_section(other.x_mm, other.y_mm)
    x, inward = face.from_section(y, -z)
    return np.append(face.x_mm, x[::-1]), np.append(face.y_mm, inward[::-1])


def _turned(x: Floats, y: Floats, turn_rad: float) -> tuple[Floats, Floats]:
    sine, cosine = math.sin(turn_rad), math.cos(turn_rad)
    return x * cosine - y * sine, x * sine + y * cosine


def _surface(x: Floats, curvature: float) -> Floats:
    """Height of work that is level under the edge; beside a circle it stops at its side."""
    if curvature == 0:
        return np.zeros_like(x)
    inside = np.clip(x * curvature, -1.0, 1.0)
    return np.asarray((1.0 - np.sqrt(1.0 - inside * inside)) / curvature)


def _guided_bar(root: Xml.Element, fit: FaceFit, cut: Cut, top: float) -> None:
    """Rounds to the left, hollows to the right, flat in the middle, by curvature."""
    sharpest = 1.5 / cut.bowl_mm[0]
    middle, half = WIDTH / 2, WIDTH / 2 - MARGIN

    def place(curvature: float) -> float:
        return middle + half * min(max(curvature / sharpest, -1.0), 1.0)

    text(root, MARGIN, top, _bar_title(fit.guided))
    line = top + 16
    Xml.SubElement(root, "line", ends(MARGIN, line, WIDTH - MARGIN, line) | {"style": _THIN})
    if fit.guided is not None:
        bar = ends(place(fit.guided.least_per_mm), line, place(fit.guided.most_per_mm), line)
        Xml.SubElement(root, "line", bar | {"style": "stroke:#1a6b2f;stroke-width:8"})
    for curvature, name in _ticks(cut):
        x = place(curvature)
        Xml.SubElement(root, "line", ends(x, line - 5, x, line + 5) | {"style": "stroke:#111"})
        text(root, x, line + 19, name, anchor="middle")
    text(root, MARGIN, line + 19, "rounds")
    text(root, WIDTH - MARGIN, line + 19, "hollows", anchor="end")


def _bar_title(guided: GuidedRange | None) -> str:
    return "guided on nothing" if guided is None else "guided where thick; radii in mm"


def _ticks(cut: Cut) -> Sequence[tuple[float, str]]:
    radii = [cut.bowl_mm[0] * times for times in (1, 1.5, 2.5, 6)]
    sides = [(side / r, f"{r:.0f}") for side in (-1, 1) for r in radii]
    return [*sides, (0.0, "flat")]
