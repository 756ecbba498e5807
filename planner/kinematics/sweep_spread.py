"""How far each facet of a swept tilt will stray from its tangent, all from one touch-off."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from planner.errors import Fact, Refusal, WayOut
from planner.formulas.spread import uniform_sd
from planner.formulas.swept_tilt import axis_error_sd
from planner.inputs.axes import LinearAxis, RotaryAxis
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.kinematics.sweep import FacetStand, Sweep
from planner.section.facets import MOST_FACETS, MOST_RIDGE_MM

_STEP_MM = 0.001
"""A higher ridge is named in whole micrometres."""
_TOLD_MM = 0.0001
"""The error of an axis is told to this."""


@dataclass(frozen=True)
class FacetSpread:
    """One facet's depth: its standard deviation, and what that is of."""

    facet: int
    tolerance_mm: float
    touch_mm: float
    """Of the touch-off, the infeed, and the seats of a row."""
    tilt_mm: float
    """Of the tilt at the touch-off and at the facet, by their levers about the axis."""
    axis_mm: float
    """Of the place of the axis."""

    @property
    def sd_mm(self) -> float:
        """All together."""
        return math.hypot(self.touch_mm, self.tilt_mm, self.axis_mm)

    @property
    def share(self) -> float:
        """Of blades, within the tolerance."""
        return _share(self.tolerance_mm, self.sd_mm)


def sweep_spread(
    job: Job, machine: Machine, sweep: Sweep, blades: int = 1
) -> tuple[FacetSpread, ...]:
    """Of every facet, the depth's errors propagated (docs/tolerance.md).

    The tilt that the wheel was touched off at is off by itself and once: a facet at the same tilt
    only feels how far its middle is from the corner; one at another feels both levers about the
    axis, that of the corner at the touch-off and its own.
    """
    axes = {a.role: a for a in machine.axes.values()}
    infeed, tilt, axis = axes["infeed"], axes["tilt"], machine.fixture.tilt_axis
    assert isinstance(infeed, LinearAxis)
    assert isinstance(tilt, RotaryAxis)
    assert axis is not None
    row = machine.fixture.row
    touch = math.hypot(
        uniform_sd(infeed.resolution_mm),
        infeed.repeatability_mm,
        machine.fixture.touch_off_mm,
        row.seats_mm if row is not None and blades > 1 else 0.0,
    )
    turned = math.radians(math.hypot(tilt.repeatability_deg, uniform_sd(tilt.resolution_deg)))
    found = []
    for number, (stand, levers) in enumerate(zip(sweep.stands, _levers_mm(sweep), strict=True)):
        turn = math.radians(sweep.turn_deg(number))
        found.append(
            FacetSpread(
                facet=number,
                tolerance_mm=facet_tolerance_mm(job, stand),
                touch_mm=touch,
                tilt_mm=turned * math.hypot(*levers),
                axis_mm=float(axis_error_sd(axis.error_mm, turn)),
            )
        )
    return tuple(found)


def facet_tolerance_mm(job: Job, stand: FacetStand) -> float:
    """How far a facet may lie off its tangent."""
    bevel = next(o for o in job.operations or () if o.do == "bevel")
    allowed = bevel.edge_thickness_tolerance_mm * math.cos(stand.work.face.angle_rad)
    return min(allowed, bevel.ridge_mm or math.inf)


def _levers_mm(sweep: Sweep) -> Iterator[tuple[float, ...]]:
    """What a radian of the tilt does to the depth in a facet's middle: at touch-off, and there."""
    frame = sweep.frame
    assert frame.axis_yz_mm is not None
    pivot = np.array(frame.axis_yz_mm)
    side = 1.0 if sweep.stands[0].work.relief.face == "A" else -1.0

    def ahead_mm(stand: FacetStand, yz: tuple[float, float]) -> float:
        angle = stand.work.face.angle_rad
        along = np.array([math.cos(angle), side * math.sin(angle)])
        return float((np.array([yz[0], side * yz[1]]) - pivot) @ along)

    first = sweep.stands[0]
    corner = ahead_mm(first, (0.0, first.work.face.stock_mm))
    for stand in sweep.stands:
        facet = stand.work.facet
        ends = (ahead_mm(stand, facet.first_yz_mm), ahead_mm(stand, facet.last_yz_mm))
        middle = sum(ends) / 2
        yield (middle - corner,) if stand is first else (corner, middle)


def rough_refusals(job: Job, machine: Machine, sweep: Sweep, blades: int = 1) -> list[Refusal]:
    """Where too few blades would have a facet in its tolerance, with ways out that do."""
    asked = job.relief.share_in_tolerance
    worst = min(sweep_spread(job, machine, sweep, blades), key=lambda s: s.share)
    if worst.share >= asked:
        return []
    stand = sweep.stands[worst.facet]
    axis = machine.fixture.tilt_axis
    assert axis is not None
    facts: dict[str, Fact] = {
        "face": stand.work.relief.face,
        "facet": worst.facet + 1,
        "tilt_deg": stand.tilt_deg,
        "sd_mm": worst.sd_mm,
        "touch_mm": worst.touch_mm,
        "tilt_mm": worst.tilt_mm,
        "axis_mm": worst.axis_mm,
        "tolerance_mm": worst.tolerance_mm,
        "share": worst.share,
        "asked": asked,
    }
    ways = []
    if _share(worst.tolerance_mm, math.hypot(worst.touch_mm, worst.tilt_mm)) > asked:
        per_mm = worst.axis_mm / axis.error_mm
        left = _most_sd(worst.tolerance_mm, asked) ** 2 - worst.touch_mm**2 - worst.tilt_mm**2
        # Rounded down as it is told, so that the figure that is read does hold.
        error = math.floor(math.sqrt(left) / per_mm / _TOLD_MM) * _TOLD_MM
        if error > 0.0:
            ways.append(WayOut("measure-tilt-axis", {"error_mm": error}))
    if len(sweep.stands) <= MOST_FACETS and _share(worst.tolerance_mm, worst.touch_mm) >= asked:
        ways.append(WayOut("no-tilt-axis"))
    higher = math.ceil(worst.sd_mm / _most_sd(1.0, asked) / _STEP_MM + 1e-9) * _STEP_MM
    if higher <= MOST_RIDGE_MM and higher <= _edge_mm(job, stand):
        ways.append(WayOut("higher-ridge", {"ridge_mm": higher}))
    ways.append(WayOut("finer-tilt"))
    return [Refusal("sweep-too-rough", facts, tuple(ways))]


def _edge_mm(job: Job, stand: FacetStand) -> float:
    """What the edge thickness allows a facet by itself."""
    bevel = next(o for o in job.operations or () if o.do == "bevel")
    return bevel.edge_thickness_tolerance_mm * math.cos(stand.work.face.angle_rad)


def _share(tolerance_mm: float, sd_mm: float) -> float:
    return math.erf(tolerance_mm / sd_mm / math.sqrt(2.0)) if sd_mm > 0.0 else 1.0


def _most_sd(tolerance_mm: float, share: float) -> float:
    """The largest standard deviation that keeps a share within a tolerance."""
    if share >= 1.0:
        return 0.0
    low, high = 0.0, 50.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if math.erf(middle / math.sqrt(2.0)) < share else (low, middle)
    return tolerance_mm / high
