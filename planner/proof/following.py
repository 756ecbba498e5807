"""A case whose straight axes follow the edge: the wheel as a body, and what it leaves everywhere.

A relief in one piece leaves an arc in each section, a flat a face that may lean and bend.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from planner.proof.bulge import BulgeGoal
from planner.proof.case import Case, held_tilt_deg
from planner.proof.edge_line import EdgeLine
from planner.proof.followed import Followed, Lines, WheelShape
from planner.proof.forms import ImpossibleError
from planner.proof.left_by import left_by, left_by_flat, left_by_lines
from planner.proof.pierced import Skin
from planner.proof.tool import crown_of

_SECTIONS = 17
"""A section at each of the blade's five stations, and three between each two."""


def following(case: Case, line: EdgeLine, *, turns: bool) -> Case:
    """The same with straight axes that follow the edge.

    ``turns`` is whether a turn lays each place of a curve along the traverse.
    Raises: ImpossibleError where they cannot.
    """
    wheel, tool = case.wheel, case.tool
    if wheel.contact == "platen":
        raise ImpossibleError("a platen along an edge that straight axes follow")
    along = wheel.contact == "along_edge"
    shape = WheelShape(
        radius_mm=case.at_speed.radius_mm if along else wheel.diameter_mm / 2.0,
        rim_mm=crown_of(wheel) if along else wheel.form_radius_mm,
        half_width_mm=wheel.width_mm / 2.0 if along else tool.arc_half_width_mm,
        along_edge=along,
    )
    flat = tool.arc_radius_mm is None
    followed = Followed(
        line=line,
        face=case.face,
        middle_mm=case.middle_mm,
        bare_mm=case.bare_mm if flat else 0.0,
        frame=case.frame,
        tilt_deg=held_tilt_deg(case),
        wheel=shape,
        blank=case.blank,
    )
    if turns:
        followed = replace(followed, turn_sign=1.0 if case.setup.face == "A" else -1.0)
    skin = Skin.of(followed, wheel.width_mm)
    places = [line.length_mm * n / (_SECTIONS - 1) for n in range(_SECTIONS)]
    if case.generates:
        return _in_lines(case, followed, places)
    followed.check_room(case.depth_mm)
    if flat:
        flats = tuple(left_by_flat(followed, s, case.depth_mm) for s in places)
        found = replace(case, followed=followed, skin=skin, left=flats)
        skin.check_room(case.depth_mm, found.leans_mm)
        return found
    skin.check_room(case.depth_mm)
    half = case.wanted.chord_at_mm(case.depth_mm) / 2.0
    arcs = tuple(left_by(followed, s, case.depth_mm, half) for s in places)
    return replace(case, followed=followed, skin=skin, left=arcs)


def _in_lines(case: Case, followed: Followed, places_mm: Sequence[float]) -> Case:
    (lines, ends), arc_per_mm = _lines_of(case), case.hollow_per_mm
    followed = replace(followed, lines=lines)
    # Between two lines that leave the ridge allowed lies about this, of two near circles.
    apart = math.sqrt(8.0 * case.ridge_mm / (1.0 / lines.section_mm - arc_per_mm))
    left = tuple(left_by_lines(followed, lines, s, ends, apart) for s in places_mm)
    if any(arc.radius_mm * arc_per_mm >= 1.0 for each in left for arc in each.arcs):
        raise ImpossibleError("the wheel leaves a flatter arc somewhere than the relief's")
    skin = Skin.of(followed, case.wheel.width_mm)
    for along in (ends[0], lines.level_mm, ends[1]):
        depth = lines.depth_mm(along)
        followed.check_room(depth, along)
        skin.check_room(case.depth_mm, along_mm=along, at_mm=depth)
    return replace(case, followed=followed, skin=skin, left=left)


def _lines_of(case: Case) -> tuple[Lines, tuple[float, float]]:
    """The arc in lines, and the places along the face of its outermost."""
    radius = case.tool.arc_radius_mm
    assert radius is not None
    if isinstance(case.bulge, BulgeGoal):
        goal, arc = case.bulge, case.bulge.plane.radius_mm or 0.0
        middle = case.face.place_mm(goal.plane.middle_of_arc) - case.middle_mm
        out = arc + radius
        half = out * math.sin((goal.first_rad - goal.last_rad) / 2.0)
        lines = Lines(middle, 1.0 / out, radius, goal.rise_mm)
        return lines, (middle - half, middle + half)
    arc = case.wanted.arc_radius_mm
    inner = arc - radius
    half = inner * case.wanted.chord_at_mm(case.depth_mm) / 2.0 / arc
    middle = case.wanted.middle_mm - case.middle_mm
    lines = Lines(middle, -1.0 / inner, radius, case.depth_mm)
    return lines, (middle - half, middle + half)
