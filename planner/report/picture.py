"""One picture of the section, before and after, to scale, with an inset of exaggerated depth."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

import numpy as np

from planner.formulas.lens import sagitta
from planner.plan import Plan
from planner.report.svg import MARGIN as _MARGIN
from planner.report.svg import WIDTH as _WIDTH
from planner.report.svg import document, sheet
from planner.report.svg import ends as _ends
from planner.report.svg import text as _text
from planner.report.wheel_words import size_words
from planner.section.target import FaceRelief, Section, outline, outline_before

_INSET_DEPTH_PX = 70.0


def section_svg(plan: Plan) -> str:
    """The picture as an SVG document; lengths in mm stand on it as text."""
    section = plan.section
    scale = (_WIDTH - 2 * _MARGIN) / section.width_mm
    top = 60.0
    section_height = section.thickness_mm * scale
    insets = section.reliefs
    height = top + section_height + 90 + len(insets) * 190
    root = sheet(plan.job.model.title, height)
    _text(root, _MARGIN, 24, plan.job.model.title, weight="bold")
    _text(
        root,
        _MARGIN,
        42,
        f"section to scale, {scale:.1f} px a mm; wheel {size_words(plan.wheel)}",
    )
    middle = top + section_height / 2
    depth = {r.face: r.depth_mm for r in section.reliefs}
    for points, style in (
        (
            outline_before(section, from_the_bar=plan.job.model.bevel_stages > 0),
            "fill:none;stroke:#777;stroke-dasharray:4 3;stroke-width:1",
        ),
        (
            outline(section, depth.get("A", 0.0), depth.get("B", 0.0)),
            "fill:#e4e4e4;stroke:#111;stroke-width:1",
        ),
    ):
        Xml.SubElement(
            root,
            "polygon",
            {
                "points": " ".join(
                    f"{_MARGIN + y * scale:.2f},{middle - z * scale:.2f}" for y, z in points
                ),
                "style": style,
            },
        )
    below = top + section_height
    _text(root, _MARGIN, below + 16, "edge")
    _text(root, _WIDTH - _MARGIN, below + 16, "spine", anchor="end")
    _text(
        root,
        _MARGIN,
        below + 36,
        f"thickness {section.thickness_mm:.2f} mm, bevel {section.faces[0].height_mm:.2f} mm high,"
        f" edge {section.edge_angle_deg:.1f} deg, steel left {section.steel_left_mm:.3f} mm",
    )
    offset = below + 70
    for relief in insets:
        _inset(root, section, relief, offset)
        offset += 190
    return document(root)


def _inset(root: Xml.Element, section: Section, relief: FaceRelief, top: float) -> None:
    """One face laid flat: along the face to scale, the depth exaggerated, with dimensions."""
    face = section.face(relief.face)
    along = (_WIDTH - 2 * _MARGIN) / face.width_mm
    deep = _INSET_DEPTH_PX / relief.depth_mm
    _text(
        root,
        _MARGIN,
        top,
        f"face {relief.face}, laid flat: depth drawn {deep / along:.0f} times larger",
        weight="bold",
    )
    line = top + 46
    chord, radius = relief.chord_mm, section.wheel_radius_mm
    # Along the face: of one that bulges the arc over the chord, as long within the line's width.
    middle = (
        relief.edge_land_mm + (face.width_mm - relief.edge_land_mm - relief.shoulder_land_mm) / 2
    )
    across = np.linspace(-chord / 2, chord / 2, 49)
    half = np.abs(across)
    fall = sagitta(radius, half) + sagitta(face.bulge_radius_mm, half)
    bottom = relief.depth_mm - fall
    arc = [
        (_MARGIN + (middle + a) * along, line + b * deep)
        for a, b in zip(across.tolist(), bottom.tolist(), strict=True)
    ]
    left, right = _MARGIN, _MARGIN + face.width_mm * along
    floor = line + _INSET_DEPTH_PX + 30
    shape = [(left, line), *arc, (right, line), (right, floor), (left, floor)]
    Xml.SubElement(
        root,
        "polygon",
        {
            "points": " ".join(f"{x:.2f},{y:.2f}" for x, y in shape),
            "style": "fill:#e4e4e4;stroke:#111;stroke-width:1",
        },
    )
    Xml.SubElement(
        root,
        "line",
        _ends(left, line, right, line) | {"style": "stroke:#777;stroke-dasharray:4 3"},
    )
    start, end = arc[0][0], arc[-1][0]
    _dimension(root, left, start, line - 14, f"edge land {relief.edge_land_mm:.3f}")
    _dimension(root, start, end, line - 14, f"relief {chord:.3f}")
    _dimension(root, end, right, line - 14, f"shoulder land {relief.shoulder_land_mm:.3f}")
    centre = _MARGIN + middle * along
    Xml.SubElement(
        root,
        "line",
        _ends(centre, line, centre, line + _INSET_DEPTH_PX) | {"style": "stroke:#111"},
    )
    _text(root, centre + 6, line + _INSET_DEPTH_PX / 2, f"depth {relief.depth_mm:.4f} mm")
    _text(root, left, floor + 16, "edge")
    _text(
        root,
        right,
        floor + 16,
        f"shoulder; a land moves "
        f"{float(section.lens(relief.face).end_per_depth(relief.depth_mm)):.1f} mm per mm of depth",
        anchor="end",
    )


def _dimension(root: Xml.Element, x1: float, x2: float, y: float, text: str) -> None:
    if x2 - x1 < 0.5:
        return
    Xml.SubElement(root, "line", _ends(x1, y, x2, y) | {"style": "stroke:#111"})
    for x in (x1, x2):
        Xml.SubElement(root, "line", _ends(x, y - 4, x, y + 14) | {"style": "stroke:#111"})
    _text(root, (x1 + x2) / 2, y - 5, text, anchor="middle")
