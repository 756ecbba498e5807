"""What the proof says of one program, as data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from planner.errors import Fault

if TYPE_CHECKING:
    import shapely

    from planner.proof.case import Case
    from planner.proof.events import Event
    from planner.proof.pass_claims import PassClaim
    from planner.proof.tool import Stand

CUTTING = "cutting"
AIR_RUN = "air run"


@dataclass(frozen=True)
class Before:
    """A program of the same set-up that was broken off, and how many of its passes are whole."""

    data: bytes
    passes: int


@dataclass(frozen=True)
class Lands:
    """The lands measured at one station on the steel that the program leaves."""

    station: str
    x_mm: float
    edge_land_mm: float
    shoulder_land_mm: float
    depth_mm: float
    row_station: int = 0
    """Which station of the row holds the blade; 0 where there is no row."""


@dataclass(frozen=True)
class Bevel:
    """The bevel face measured at one station on the steel that the program leaves."""

    station: str
    x_mm: float
    edge_thickness_mm: float
    """With the other face at its target."""
    highest_mm: float
    """The most that the face stands above the plane wanted."""
    lowest_mm: float
    """The least; below zero where steel is missing."""
    ridge_mm: float | None = None
    """Of a bevel that bulges, how high the highest ridge so far stands over the arc."""
    gouge_mm: float = 0.0
    """How deep its steel is missing below the arc, anywhere so far."""
    row_station: int = 0
    """Which station of the row holds the blade; 0 where there is no row."""


@dataclass(frozen=True)
class Cut:
    """One pass in contact, at the middle of the edge; of a row, of its first blade.

    Depths are positive into the steel.
    """

    first_line: int
    last_line: int
    commanded_depth_mm: float
    reached_depth_mm: float
    removed_area_mm2: float
    feed_mm_min: float
    normal_force_n: float
    power_w: float
    stand: Stand
    """Where the rigid wheel stands; it gives way along the face's normal."""
    before: shapely.Geometry
    """The section that the pass finds, and below the one that it leaves."""
    after: shapely.Geometry


class Trail(NamedTuple):
    """What the proof went by, for those who want to look: see ``seen.py``."""

    case: Case
    passes: Sequence[PassClaim]
    first_pass: int
    """Number of the first of them."""
    events: Sequence[Event]
    blank: shapely.Geometry
    """The section that the program begins on."""


@dataclass(frozen=True)
class PathPoint:
    """Where the wheel stands after a block, in the touch frame."""

    line: int
    rapid: bool
    traverse_mm: float
    cross_mm: float
    infeed_mm: float
    tilt_deg: float


@dataclass(frozen=True)
class Verdict:
    """Whether a program makes the blade and stays safe.

    ``kind`` is ``cutting`` or ``air run``; ok means of an air run that it touches nothing with
    nothing switched on. ``setup`` is the set-up's name (``A``, or ``bevel-A`` of a job with
    operations); it, ``face`` and ``wheel`` are empty where they are not known.
    """

    ok: bool
    sha256: str
    kind: str
    setup: str
    face: str
    wheel: str
    lands: tuple[Lands, ...]
    cuts: tuple[Cut, ...]
    faults: tuple[Fault, ...]
    positions: tuple[PathPoint, ...]
    faults_before: tuple[Fault, ...] = ()
    """Of the program that was broken off, as far as it ran; its own lines."""
    bevels: tuple[Bevel, ...] = ()
    """In place of lands where the program grinds a bevel."""
    stations: tuple[int, ...] = ()
    """The filled stations of a row; empty where there is none, or they are not known."""
    trail: Trail | None = field(default=None, compare=False, repr=False)
    """Of the first blade; None of an air run, and where the program was not followed to its end."""
