"""The blades of one clamping along the traverse, and the wheel's way over them.

All positions are program positions of the wheel's middle plane, or of a blade's end that a set-up
meets first (docs/frames.md, "A row of blades"). A fixture without a row holds one blade at 0.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from planner.errors import Refusal, WayOut
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.wheel_shape import half_reach_mm


@dataclass(frozen=True)
class Row:
    """The filled stations of a fixture, and where the wheel is down among them."""

    stations: tuple[int, ...]
    """Numbers of the filled stations, rising; the first of the fixture is 1."""
    all_positions_mm: tuple[float, ...]
    """Where each station of the fixture stands, empty ones too."""
    edge_length_mm: float
    reach_mm: float
    """How far to either side of its middle the wheel touches steel."""
    run_off_mm: float
    hops_s: tuple[float, ...] = ()
    """What each hop takes, from rest to rest: up, across and down again."""

    @property
    def clear_mm(self) -> float:
        """From a blade's end to the wheel's middle where the wheel is the run-off clear of it."""
        return self.reach_mm + self.run_off_mm

    @property
    def blades(self) -> int:
        """How many are ground together."""
        return len(self.stations)

    @property
    def positions_mm(self) -> tuple[float, ...]:
        """Where each filled station stands."""
        return tuple(self.all_positions_mm[n - 1] for n in self.stations)

    @property
    def edges_mm(self) -> float:
        """Length of all the edges together."""
        return self.blades * self.edge_length_mm

    @cached_property
    def spans_mm(self) -> tuple[tuple[float, float], ...]:
        """From first to last blade of each stretch that no empty station breaks."""
        spans = [[p, p + self.edge_length_mm] for p in self.positions_mm[:1]]
        for (before, _), (number, low) in pairwise(
            zip(self.stations, self.positions_mm, strict=True)
        ):
            if number > before + 1:
                spans.append([low, low])
            spans[-1][1] = low + self.edge_length_mm
        return tuple((low, high) for low, high in spans)

    @property
    def legs_mm(self) -> tuple[tuple[float, float], ...]:
        """Where the wheel goes down and up again in a pass that runs along the traverse."""
        return tuple((low - self.clear_mm, high + self.clear_mm) for low, high in self.spans_mm)

    @property
    def ends_mm(self) -> tuple[float, float]:
        """Where a pass reverses."""
        legs = self.legs_mm
        return legs[0][0], legs[-1][1]

    @property
    def hops_mm(self) -> tuple[float, ...]:
        """How far the wheel goes at clearance over the empty stations between two legs."""
        return tuple(after[0] - before[1] for before, after in pairwise(self.legs_mm))

    @property
    def run_mm(self) -> float:
        """The way of one pass with the wheel down, from its first blade's end to its last's.

        Hops are left out, the run-off beside them counts.
        """
        between = 2.0 * self.clear_mm * (len(self.spans_mm) - 1)
        return sum(high - low for low, high in self.spans_mm) + between

    def run_to_mm(self, index: int) -> tuple[float, int]:
        """How far a filled station's near end is along that way, and how many hops before it."""
        at, position = 0.0, self.positions_mm[index]
        for hops, (low, high) in enumerate(self.spans_mm):
            if position < high:
                return at + position - low, hops
            at += high - low + 2.0 * self.clear_mm
        raise ValueError(f"index: {index} is not among {self.blades} blades")


def filled_stations(
    machine: Machine, blades_left: int, skip: Collection[int] = ()
) -> tuple[int, ...]:
    """The stations that hold a blade: those not skipped, as many as there are blades left.

    Raises: ValueError when a skipped station does not exist, or none is left.
    """
    row = machine.fixture.row
    count = 1 if row is None else len(row.positions_mm)
    for number in skip:
        if not 1 <= number <= count:
            raise ValueError(f"skip: {number} is not between 1 and {count}")
    filled = [n for n in range(1, count + 1) if n not in skip]
    if not filled:
        raise ValueError(f"skip: no station of {count} would be left")
    return tuple(filled[:blades_left])


def row_of(
    machine: Machine,
    wheel: Wheel,
    edge_length_mm: float,
    depth_mm: float,
    stations: tuple[int, ...] = (1,),
    curvature_per_mm: float = 0.0,
    reach_mm: float | None = None,
) -> Row:
    """The filled stations as this wheel meets them.

    ``depth_mm`` is the deepest of the set-up: a wheel across the edge leaves the steel there last.
    ``reach_mm`` is how far it then reaches along the edge, where that is not as on a straight one.
    """
    row = machine.fixture.row
    return Row(
        stations=stations,
        all_positions_mm=(0.0,) if row is None else tuple(row.positions_mm),
        edge_length_mm=edge_length_mm,
        reach_mm=half_reach_mm(wheel, depth_mm, curvature_per_mm) if reach_mm is None else reach_mm,
        run_off_mm=machine.fixture.run_off_mm,
    )


def row_refusals(row: Row) -> list[Refusal]:
    """Neighbours so near that the wheel meets one before it is the run-off clear of the other.

    Between two blades the wheel is in air while it moves on by the gap less its own reach. That
    must be the run-off: then it also goes up and down beside an empty station without standing
    over it, and never bears on two blades at once. Empty stations count, a blade may be there.
    """
    reach = 2 * row.reach_mm
    least = reach + row.run_off_mm
    for number, (before, after) in enumerate(pairwise(row.all_positions_mm), start=1):
        gap = after - before - row.edge_length_mm
        if gap < least - 1e-9:
            apart = row.edge_length_mm + least
            facts = {
                "station": number,
                "next_station": number + 1,
                "apart_mm": after - before,
                "edge_length_mm": row.edge_length_mm,
                "gap_mm": gap,
                "reach_mm": reach,
                "run_off_mm": row.run_off_mm,
            }
            ways = [WayOut("stations-apart", {"apart_mm": apart})]
            if gap > reach:
                ways.append(WayOut("shorter-run-off", {"run_off_mm": gap - reach}))
            if gap > row.run_off_mm:
                ways.append(WayOut("narrower-wheel", {"reach_mm": gap - row.run_off_mm}))
            return [Refusal("row-too-close", facts, tuple(ways))]
    return []
