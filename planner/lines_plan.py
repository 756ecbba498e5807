"""An arc in parallel lines put together: lines, schedule, wear, and the heat of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from planner.batch.wear import worn_by_mm
from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.heat.choose import Heated
from planner.heat.march import march
from planner.heat.model import HeatModel
from planner.kinematics.row import Row
from planner.kinematics.whole_steps import Placing
from planner.passes.conditions import Cutting
from planner.passes.lines import Generated, Generating, followed_anew, generated_schedules
from planner.passes.worn import WornRun
from planner.section.work import FaceWork

LIGHTER = (1.0, 0.6, 0.35, 0.2)
"""Shares of the infeeds that are tried until one is cool enough. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class PlannedLines:
    """What a set-up in lines is made from."""

    followed_anew: Callable[[int], WornRun]
    """The passes, the wheel changed before the one with an index."""
    heated: Heated
    worn: WornRun
    binding: tuple[str, ...]


def plan_lines(
    work: FaceWork,
    cutting: Cutting,
    model: HeatModel,
    placed: Placing,
    allowed_mm: float,
    row: Row,
    earlier_blades: int,
    pause_overhead_s: Callable[[float], float],
) -> PlannedLines:
    """The quickest schedule of lines that keeps every limit, heat included.

    ``earlier_blades`` were ground since the wheel was touched off.
    Raises: RefusedError where none is light or cool enough.
    """
    assert work.line_arc is not None
    volume = float(work.removal.area_mm2(np.array(work.depth_mm))) * row.edge_length_mm
    task = Generating(
        arc=work.line_arc,
        placed=placed,
        most_bite_mm=cutting.rough_infeed_mm,
        allowed_mm=allowed_mm,
        worn_by_mm=partial(worn_by_mm, work.wheel, work.wearing_width_mm),
        wheel_name=work.wheel.name,
        earlier_mm3=earlier_blades * volume,
        edge_length_mm=row.edges_mm,
    )
    for share in LIGHTER:
        lighter = replace(
            cutting,
            rough_infeed_mm=max(share * cutting.rough_infeed_mm, cutting.step_mm),
            finish_infeed_mm=max(share * cutting.finish_infeed_mm, cutting.step_mm),
        )
        found = generated_schedules(cutting if share == 1.0 else lighter, task)
        best = _coolest(found, cutting, model, pause_overhead_s)
        if best is not None:
            heated, made = best
            again = partial(followed_anew, cutting, task, heated.schedule.passes)
            return PlannedLines(again, heated, made.worn, made.binding)
    facts: dict[str, Fact] = {
        "soak_c": model.limits.soak_limit_c,
        "flash_c": model.limits.flash_limit_c(1.0),
        "ambient_c": model.ambient_c,
        "heat_share": model.share,
    }
    ways = (WayOut("freer-wheel"), WayOut("finer-axis"), WayOut("more-coolant"))
    raise RefusedError([Refusal("too-hot", facts, ways)])


def _coolest(
    found: list[Generated],
    cutting: Cutting,
    model: HeatModel,
    pause_overhead_s: Callable[[float], float],
) -> tuple[Heated, Generated] | None:
    """The one that is quickest with its pauses."""
    best: tuple[Heated, Generated] | None = None
    for made in found:
        if best is not None and made.passes_s >= best[0].time_s:
            continue  # pauses only add to it
        marched = march(model, made.schedule)
        if marched is None:
            continue
        pauses = [
            p.seconds + pause_overhead_s(one.commanded_depth_mm)
            for one, p in zip(made.schedule.passes, marched.pauses, strict=True)
            if p
        ]
        time = made.passes_s + float(np.sum(pauses))
        if best is None or time < best[0].time_s:
            best = (
                Heated(cutting, made.schedule, marched, time, heat_cost_s=float(np.sum(pauses))),
                made,
            )
    return best
