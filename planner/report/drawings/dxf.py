"""The section as DXF: millimetres, true arcs, the same bytes for the same drawing."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from planner.report.drawings.shapes import (
    BLADE,
    CENTRE,
    PROVED,
    STOCK,
    Circle,
    Path,
    SectionDrawing,
)

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_MILLIMETRES = 4
"""Value of $INSUNITS; $MEASUREMENT 1 is metric."""
_NOTE_MM = 0.6
_LOOKS = {
    STOCK: ("DASHED", 8),
    BLADE: ("CONTINUOUS", 7),
    PROVED: ("CONTINUOUS", 3),
    CENTRE: ("CENTER", 8),
}
"""Line type and colour number of a layer."""


def section_dxf(drawing: SectionDrawing) -> bytes:
    """The drawing as a DXF file of release 2010, in UTF-8."""
    import ezdxf  # noqa: PLC0415
    from ezdxf.filemanagement import new  # noqa: PLC0415

    options = ezdxf.options  # type: ignore[attr-defined]
    kept = options.write_fixed_meta_data_for_testing
    # Else the file would hold the time and numbers drawn by lot.
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2010", setup=["linetypes"], units=_MILLIMETRES)
        document.header["$MEASUREMENT"] = 1
        _fill(document, drawing)
        text = io.StringIO()
        document.write(text)
    finally:
        options.write_fixed_meta_data_for_testing = kept
    return text.getvalue().encode(document.output_encoding, "dxfreplace")


def _fill(document: Document, drawing: SectionDrawing) -> None:
    space = document.modelspace()
    for layer in (*drawing.layers, "NOTES"):
        line, colour = _LOOKS.get(layer, ("CONTINUOUS", 5 if layer.startswith("WHEEL") else 7))
        document.layers.add(layer, color=colour, linetype=line)
    for shape in drawing.shapes:
        on: dict[str, Any] = {"layer": shape.layer}
        if isinstance(shape, Path):
            space.add_lwpolyline(
                [tuple(v) for v in shape.vertices], format="xyb", close=shape.closed, dxfattribs=on
            )
        elif isinstance(shape, Circle):
            space.add_circle(shape.centre, shape.radius_mm, dxfattribs=on)
        else:
            space.add_point(shape.place, dxfattribs=on)
    low = min(v.z_mm for s in drawing.shapes if s.layer == STOCK for v in _vertices(s))
    for number, note in enumerate(drawing.notes, 2):
        place = (0.0, low - 1.6 * number * _NOTE_MM)
        # Two percent signs begin a control code in a drawing's text; %%% is a sign by itself.
        plain = note.replace("%%", "%%%%%%")
        text = space.add_text(plain, height=_NOTE_MM, dxfattribs={"layer": "NOTES"})
        text.set_placement(place)


def _vertices(shape: object) -> tuple[Any, ...]:
    return shape.vertices if isinstance(shape, Path) else ()
