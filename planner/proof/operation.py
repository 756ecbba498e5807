"""Which operation a set-up is, and the section as it stands before and after each of them.

The proof's own geometry, from ``docs/operations.md`` and the job alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, cast

import shapely

from planner.inputs.job import BevelOperation, Job, LandsOperation
from planner.proof.forms import Point, Side, blade_side
from planner.proof.steel import wheel_below_face
from planner.proof.target import Face, FaceName, ImpossibleError, Relief, blade_face

OperationName = Literal["bevel", "relief", "lands"]
FACES: tuple[FaceName, ...] = ("A", "B")
_ORDER: tuple[OperationName, ...] = ("bevel", "relief", "lands")
_SETUP = re.compile(r"(?:(bevel|relief|lands)-)?([AB])(?:-([1-9]))?")
_FAR_MM = 1e3
_MOST_ALLOWANCE_MM = 1.0
_LEVEL_MM = 1e-6


@dataclass(frozen=True)
class SetupName:
    """``bevel-A`` … of a job with operations, plain ``A`` or ``B`` of one without."""

    text: str
    operation: OperationName
    face: FaceName
    stated: bool
    """Whether the name tells its operation."""
    stage: int = 0
    """Which turn of a bevel that is ground in turns; 0 where it is ground in one."""


def read_setup_name(text: str) -> SetupName | None:
    """The set-up of a name; None where it is none.

    >>> read_setup_name("bevel-B").operation, read_setup_name("A").operation
    ('bevel', 'relief')
    >>> read_setup_name("bevel-C") is None
    True
    """
    match = _SETUP.fullmatch(text)
    if match is None or (match[3] is not None and match[1] != "bevel"):
        return None
    operation = cast("OperationName", match[1] or "relief")
    return SetupName(
        text, operation, cast("FaceName", match[2]), match[1] is not None, int(match[3] or 0)
    )


def setup_names(job: Job, flats: Mapping[FaceName, int] | None = None) -> list[str]:
    """The names of a job's set-ups, in the order in which they are ground.

    ``flats`` are how many each face of a bevel that bulges is ground in, turn by turn.
    """
    relieved: list[str] = ["A", "B"] if job.relief.faces == "both" else [job.relief.faces]
    if job.operations is None:
        return relieved
    sloped = [name for name in FACES if has_bevel(job, name)]
    faces: dict[str, list[str]] = {
        "bevel": list(sloped),
        "relief": relieved,
        "lands": [name for name in relieved if name in sloped],
    }
    done = {operation.do for operation in job.operations}
    turns = [""] if job.bevel_stages < 2 else [f"-{n + 1}" for n in range(job.bevel_stages)]
    in_flats = (
        [
            f"bevel-{face}" + (f"-{turn}" if count > 1 else "")
            for turn in range(1, 1 + max(flats.values(), default=0))
            for face, count in flats.items()
            if turn <= count
        ]
        if flats
        else []
    )
    return in_flats + [
        f"{name}-{face}{turn}"
        for name in _ORDER
        if name in done and not (flats and name == "bevel")
        for turn in (turns if name == "bevel" else [""])
        for face in faces[name]
    ]


def bar_section(job: Job, *finished: FaceName) -> shapely.Polygon:
    """Parallel stock with some faces finished; a level face comes as it stays.

    Raises: ImpossibleError where no stock of one thickness has such a back.
    """
    form, chains = job.blade.section, []
    for name in FACES:
        side, sign = blade_side(form, name), 1.0 if name == "A" else -1.0
        stays = name in finished or not has_bevel(job, name)
        outline = side.outline if stays else _bar_side(side, form.width_mm)
        chains.append([(y, sign * w) for y, w in outline])
    return shapely.Polygon([*chains[0], *reversed(chains[1])])


def _bar_side(side: Side, width_mm: float) -> list[Point]:
    """A side of parallel stock: level as far as the shoulder; what lies behind is there already.

    Raises: ImpossibleError where that is not level, or stands higher, and of a micro bevel.
    """
    if side.start[0] > 0.0:
        raise ImpossibleError("a micro bevel, which no bevel out of the bar leaves")
    behind = list(side.beyond) or [(width_mm, side.stock_mm)]
    heights = [w for _, w in behind]
    if abs(heights[0] - side.stock_mm) > _LEVEL_MM or max(heights) > side.stock_mm + _LEVEL_MM:
        raise ImpossibleError("a flank that is not level: no stock of one thickness")
    return [(0.0, side.stock_mm), *behind]


def bevel_height_mm(job: Job, face: Face, stage: int) -> float:
    """How far a bevel stands outside the finished face after one of its turns, the last with 0.

    Every turn takes as much: 1 - k/n of what there was is left.
    """
    count = max(job.bevel_stages, 1)
    least = allowance_mm(job, face.name)
    done = count if stage == 0 else stage
    return least + (bevel_rise_mm(job, face) - least) * (count - done) / count


def has_bevel(job: Job, name: FaceName) -> bool:
    """Whether a face slopes to the edge: a flat back comes as it stays, and no flat grinds it."""
    return blade_side(job.blade.section, name).bevel_rad > 0.0


def bevel_operation(job: Job) -> BevelOperation | None:
    """The job's bevel operation."""
    return next((o for o in job.operations or () if isinstance(o, BevelOperation)), None)


def allowance_mm(job: Job, face: FaceName) -> float:
    """How far the face stands outside the finished one until its lands are ground."""
    if job.relief.faces not in ("both", face) or not has_bevel(job, face):
        return 0.0
    lands = (o for o in job.operations or () if isinstance(o, LandsOperation))
    return next((o.allowance_mm for o in lands), 0.0)


def bevel_rise_mm(job: Job, face: Face) -> float:
    """How far the stock's corner stands outside the finished face: of a double bevel of thickness
    T with an edge of e, (T - e)/2 cos beta."""
    side = blade_side(job.blade.section, face.name)
    return (side.stock_mm - side.corner_mm) * math.cos(face.bevel_rad)


def stock_before(
    job: Job,
    setup: SetupName,
    reliefs: dict[FaceName, Relief | None],
    faces: dict[FaceName, Face],
) -> shapely.Geometry:
    """The section before a set-up, every set-up before it at its target.

    ``reliefs`` is the finished relief of each face, in the plane of ``faces``; they are asked for
    behind a relief only.
    """
    names = setup_names(job)
    done = names[: names.index(setup.text)]
    bevels = bevel_operation(job) is not None
    heights: dict[FaceName, float] = {}
    for name in FACES:
        turns = sum(each.startswith(f"bevel-{name}") for each in done)
        if not has_bevel(job, name):
            heights[name] = 0.0
        elif bevels and not turns:
            heights[name] = math.inf
        elif bevels and turns < job.bevel_stages:
            heights[name] = bevel_height_mm(job, blade_face(job, name), turns)
        elif f"lands-{name}" in done:
            heights[name] = 0.0
        else:
            heights[name] = allowance_mm(job, name)
    steel: shapely.Geometry = flat_section(job, heights)
    for name in FACES:
        relief = reliefs[name]
        if f"relief-{name}" in done and relief is not None:
            steel = shapely.difference(steel, relief_wheel(faces[name], relief))
    return steel


def flat_section(job: Job, heights_mm: dict[FaceName, float]) -> shapely.Polygon:
    """Flat faces so far outside the finished ones; an infinite height leaves parallel stock.

    Raises: ImpossibleError where an allowance leaves nothing of a bevel.
    """
    form = job.blade.section
    upper: list[tuple[float, float]] = []
    lower: list[tuple[float, float]] = []
    for name, chain in zip(FACES, (upper, lower), strict=True):
        side, height = blade_side(form, name), heights_mm[name]
        sign = 1.0 if name == "A" else -1.0
        outline = side.outline
        if height > 0.0:
            outline = _bar_side(side, form.width_mm)
        if 0.0 < height < math.inf:
            at_edge = side.corner_mm + height / math.cos(side.bevel_rad)
            if at_edge >= side.stock_mm:
                raise ImpossibleError("the allowance of the lands is as high as the bevel")
            shoulder = (side.stock_mm - at_edge) / math.tan(side.bevel_rad)
            outline[:1] = [(0.0, at_edge), (shoulder, side.stock_mm)]
        chain += [(y, sign * w) for y, w in reversed(outline)]
    return shapely.Polygon([*upper, *reversed(lower)])


def relief_wheel(face: Face, relief: Relief) -> shapely.Polygon:
    """The wheel at the finished relief's place, wide enough above the face for any allowance."""
    centre = face.point(relief.middle_mm, relief.depth_mm - relief.arc_radius_mm)
    # The fine part of the circle ends at the plane that it is asked for: any allowance is below it.
    wheel = wheel_below_face(face.lifted(_MOST_ALLOWANCE_MM), relief.arc_radius_mm, centre)
    return shapely.Polygon(wheel)


def above_plane(face: Face, depth_mm: float) -> shapely.Polygon:
    """Everything outside a plane parallel to the face and so deep: what an endless flat takes."""
    far = _FAR_MM
    return shapely.Polygon(
        [
            face.point(-far, depth_mm),
            face.point(far, depth_mm),
            face.point(far, -far),
            face.point(-far, -far),
        ]
    )
