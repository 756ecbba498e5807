"""Passes that also hold while their wheel wears."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from planner.batch.wear import worn_by_mm
from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.heat.choose import Heated
from planner.kinematics.row import Row
from planner.passes.conditions import Cutting
from planner.passes.worn import WornRun, follow_worn
from planner.section.work import FaceWork

HEADROOM = (1.0, 0.85, 0.7, 0.5)
"""Shares of force and power that the schedule may use, the rest kept for steps of wear made up.
The first that holds is taken. Common practice, no source."""


def held_while_worn(
    cutting: Cutting,
    choose: Callable[[Cutting], Heated],
    work: FaceWork,
    row: Row,
    earlier_mm3: Callable[[float], float],
    deflection_allowed_mm: float,
) -> tuple[Heated, Callable[[int | None], WornRun]]:
    """The quickest schedule that also holds while its wheel wears, and a way to follow it.

    ``earlier_mm3`` gives what was ground since the touch-off, from what this grinds off one blade.
    Raises: RefusedError when none does.
    """
    worst: WornRun | None = None
    for share in HEADROOM:
        lighter = replace(
            cutting,
            normal_force_limit_n=share * cutting.normal_force_limit_n,
            power_limit_w=share * cutting.power_limit_w,
        )
        try:
            heated = choose(lighter)
        except RefusedError:
            if worst is None:
                raise
            break
        one_blade = sum(p.removed_area_mm2 for p in heated.schedule.passes) * row.edge_length_mm
        follow = partial(
            follow_worn,
            cutting,
            heated.schedule,
            partial(worn_by_mm, work.wheel, work.wearing_width_mm),
            row.edges_mm,
            earlier_mm3(one_blade),
            deflection_allowed_mm,
        )
        worn = follow()
        if not worn.over:
            return heated, follow
        worst = worst or worn
    assert worst is not None
    if cutting.decimal_mm > 0.0 and worst.made_up_mm[-1] == 0.0:
        rounded: dict[str, Fact] = {
            "step_mm": cutting.step_mm,
            "decimal_mm": cutting.decimal_mm,
            "limit": worst.over,
            "share": worst.over_share,
        }
        raise RefusedError([Refusal("rounded-too-far", rounded, (WayOut("more-decimals"),))])
    if cutting.uneven_mm > 0.0 and worst.made_up_mm[-1] == 0.0:
        uneven: dict[str, Fact] = {
            "uneven_mm": cutting.uneven_mm,
            "limit": worst.over,
            "share": worst.over_share,
        }
        raise RefusedError([Refusal("uneven-along-path", uneven, (WayOut("finer-axes"),))])
    facts: dict[str, Fact] = {
        "wheel": work.wheel.name,
        "limit": worst.over,
        "share": worst.over_share,
        "worn_mm": worst.worn_mm[-1] - worst.worn_mm[0],
        "step_mm": cutting.step_mm,
    }
    ways = (WayOut("harder-wheel"), WayOut("wider-wheel"), WayOut("finer-axis"))
    raise RefusedError([Refusal("wears-too-fast", facts, ways)])
