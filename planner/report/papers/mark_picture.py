"""The drawing of the mark that a light touch leaves, looking straight on to the face."""

from __future__ import annotations

from planner.report.papers.drawing import Drawing, Point, hatching
from planner.section.witness_mark import WitnessMark
from planner.setup_plan import Setup

_WIDTH_MM, _HEIGHT_MM = 182.0, 38.0
_LEFT_MM, _RIGHT_MM, _LOW_MM = 46.0, 46.0, 6.0
_FACE_HIGH_MM = 27.0
_LEAST_MM = 0.5
"""A band is drawn no narrower than this, or it would not be seen."""


def mark_picture(setup: Setup, mark: WitnessMark) -> Drawing | None:
    """The face from edge to shoulder with its mark; None for square stock, which has no face."""
    if mark.seen == "corner":
        return None
    drawing = Drawing(_WIDTH_MM, _HEIGHT_MM, "The mark of a light touch on the face")
    scale = _FACE_HIGH_MM / mark.face_mm
    left, right = _LEFT_MM, _WIDTH_MM - _RIGHT_MM

    def up(along_face_mm: float) -> float:
        return _LOW_MM + along_face_mm * scale

    drawing.area(_box(left, right, up(0.0), up(mark.face_mm)))
    drawing.line(((left, up(0.0)), (right, up(0.0))), "thick")
    middle = (left + right) / 2
    half = min(max(mark.along_mm * scale / 2, 6.0), (right - left) / 2 - 3.0)
    for low, high in _bands(mark):
        short = max(_LEAST_MM - (high - low) * scale, 0.0) / 2
        band = _box(middle - half, middle + half, up(low) - short, up(high) + short)
        drawing.area(band, "light")
        for ends in hatching(band, 1.2):
            drawing.line(ends)
    if mark.seen == "band":
        drawing.line(((left - 2, up(mark.middle_mm)), (right + 2, up(mark.middle_mm))), "chain")
        for place in _ends_of_relief(setup, mark.middle_mm):
            drawing.line(((left, up(place)), (right, up(place))), "dashed")
        foot = (left, up(0.0))
        drawing.dimension(foot, (left, up(mark.middle_mm)), f"{mark.middle_mm:.3f}", 5.0)
        start, end = (right, up(mark.from_mm)), (right, up(mark.to_mm))
        text = f"{mark.width_mm:.2f} wide, {mark.along_mm:.1f} long"
        drawing.dimension(start, end, text, -5.0)
    else:
        for low, high in _bands(mark):
            drawing.dimension((right, up(low)), (right, up(high)), f"{high - low:.2f} wide", -5.0)
    drawing.word((left + 2, up(0.0) - 3.6), "edge", bold=True)
    drawing.word((left + 2, up(mark.face_mm) + 1.2), "shoulder")
    drawing.word((right - 2, up(mark.face_mm) + 1.2), f"face {setup.relief.face}", "end")
    if mark.begins_mm > 0.0:
        drawing.line(((left, up(mark.begins_mm)), (right, up(mark.begins_mm))))
    if mark.seen == "band":
        drawing.word(
            (left + 2, up(_ends_of_relief(setup, mark.middle_mm)[1]) + 1.0),
            "edges of the relief, later",
        )
    return drawing


def _bands(mark: WitnessMark) -> list[tuple[float, float]]:
    if mark.seen == "lands":
        edge, shoulder = mark.lands_mm
        return [(0.0, edge), (mark.face_mm - shoulder, mark.face_mm)]
    return [(mark.from_mm, mark.to_mm)]


def _ends_of_relief(setup: Setup, middle_mm: float) -> tuple[float, float]:
    half = setup.relief.chord_mm / 2
    return middle_mm - half, middle_mm + half


def _box(left: float, right: float, low: float, high: float) -> list[Point]:
    return [(left, low), (right, low), (right, high), (left, high)]
