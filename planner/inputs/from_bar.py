"""Which faces of a section form are ground out of the bar, and how (docs/operations.md)."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Literal

from planner.inputs.blade_forms import Axe, ConvexBevel, Form, Gouge, Hook
from planner.inputs.outline_form import Outline, Points

BevelKind = Literal["back", "flat", "bulging"]
"""A face that comes as it stays, a flat bevel, or one that is an arc."""

_SAME_MM = 1e-6
_MOST_TURNS = 4


def bevel_kinds(form: Form) -> dict[str, BevelKind]:
    """How each face of a form would be ground, whether it can come from the bar or not."""
    if isinstance(form, Outline):
        kinds = [
            _drawn_kind(face, radius)
            for face, radius in zip(form.faces, form.radii_mm, strict=True)
        ]
        return dict(zip("AB", kinds, strict=True))
    if isinstance(form, ConvexBevel):
        return {"A": "bulging", "B": "bulging"}
    if isinstance(form, Hook):
        return {"A": "flat" if form.radius_mm is None else "bulging", "B": "back"}
    if form.form == "single_bevel" or (isinstance(form, Gouge) and form.inside_angle_deg == 0.0):
        return {"A": "flat", "B": "back"}
    return {"A": "flat", "B": "flat"}


def stock_rises_mm(form: Form) -> dict[str, float]:
    """How far the stock of each face stands over its corner at the edge; 0 of one that stays."""
    kinds = bevel_kinds(form)
    if isinstance(form, Outline):
        rises = {
            face: points[1][1] - points[0][1] for face, points in zip("AB", form.faces, strict=True)
        }
    else:
        whole = form.thickness_mm - form.edge_thickness_mm
        rises = dict.fromkeys("AB", whole if "back" in kinds.values() else whole / 2)
    return {face: 0.0 if kinds[face] == "back" else rise for face, rise in rises.items()}


def not_from_bar(form: Form) -> str:
    """What of a form stands against bevels out of parallel stock, in words; nothing if it can."""
    if form.micro_bevel is not None:
        return " with a micro bevel"
    if isinstance(form, Axe):
        return " whose cheeks open to the spine: no bar has such sides, it is forged"
    if isinstance(form, Gouge) and form.inside_angle_deg > 0.0:
        return " with an inside bevel"
    if isinstance(form, Outline):
        kinds = bevel_kinds(form)
        for face, points in zip("AB", form.faces, strict=True):
            if kinds[face] != "back" and (found := _not_level(points)):
                return f" whose face {face} {found}: no bar of one thickness has such a side"
    return ""


def _drawn_kind(points: Points, radius_mm: float | None) -> BevelKind:
    if radius_mm is not None:
        return "bulging"
    return "back" if points[1][1] == points[0][1] else "flat"


def _not_level(points: Points) -> str:
    """Of a face of the maker's own: what behind its shoulder is no side of parallel stock."""
    shoulder = points[1][1]
    pieces = list(pairwise(points[1:]))
    if pieces and abs(pieces[0][1][1] - shoulder) > _SAME_MM:
        return "rises behind its bevel" if pieces[0][1][1] > shoulder else "falls behind its bevel"
    if any(high > shoulder + _SAME_MM for _, high in points[2:]):
        return "stands higher further back than behind its bevel"
    return ""


def flat_turns(form: Form, stages: int | None) -> int:
    """In how many turns each flat bevel is ground; 1 where every bevel bulges."""
    kinds = list(bevel_kinds(form).values())
    if "flat" not in kinds:
        return 1
    if "back" in kinds:
        return stages or 1  # no other bevel could be ground between turns
    rises = stock_rises_mm(form)
    side = max(rise for face, rise in rises.items() if bevel_kinds(form)[face] == "flat")
    return stages or min(max(math.ceil(side - 1e-9), 1), _MOST_TURNS)
