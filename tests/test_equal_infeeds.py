"""The table of docs/schedule.md, worked out again: equal infeeds against the chosen schedule."""

import re
from pathlib import Path

import pytest

from planner.heat.march import march
from planner.heat.model import heat_model
from planner.inputs.load import load_pair
from planner.inputs.steels import steel_of
from planner.kinematics.touch_frame import relief_frame
from planner.passes.blade_stiffness import stiffness_for
from planner.passes.conditions import cutting_conditions
from planner.passes.schedule import followed
from planner.passes.search import Choice
from planner.plan import plan_job
from planner.section.target import section_for
from planner.section.wheel_shape import section_radius_mm
from planner.section.works import works_for
from planner.setup_plan import pause_overhead_s

ROOT = Path(__file__).parent.parent
JOBS = ("straight-knife", "broad-knife", "detail-knife")


def times_of(name: str) -> tuple[float, float]:
    """Passes and pauses of set-up A, in s: equal infeeds, and the schedule chosen.

    Equal infeeds: one infeed for all rough passes, one for all finish passes, one feed, then
    spark-out to the same deflection; of all such plans that keep infeed, force and power the
    quickest, with pauses by the same rule.
    """
    job, machine = load_pair(ROOT / "jobs" / f"{name}.yaml")
    steel = steel_of(job.model.steel)
    plan = plan_job(job, machine, steel)
    chosen = plan.setups[0].heated.time_s
    shop, wheel, length = machine.model, plan.wheel, job.model.blade.edge.length_mm
    section = section_for(job.model, section_radius_mm(wheel))
    work = works_for(job.model, section, wheel, shop.rack)[0]
    relief = section.reliefs[0]
    frame = relief_frame(shop, section, relief, length)
    cutting = cutting_conditions(shop, work, frame, length, stiffness_for(shop, work, length))
    model = heat_model(job.model, shop, steel, work)
    allowed = job.model.relief.residual_share * plan.setups[0].depth_tolerance_mm
    total = int(relief.depth_mm / cutting.step_mm + 1e-9)
    rough_until = max(total - cutting.finish_steps, 0)
    best = float("inf")
    for feed in cutting.feeds_mm_min.tolist():
        for rough in range(1, int(cutting.rough_infeed_mm / cutting.step_mm + 1e-9) + 1):
            for finish in range(1, int(cutting.finish_infeed_mm / cutting.step_mm + 1e-9) + 1):
                choices, at = [], 0
                while at < total:
                    limit, ahead = (rough_until, rough) if at < rough_until else (total, finish)
                    choices.append(Choice(min(ahead, limit - at), feed))
                    at += choices[-1].steps
                schedule = followed(cutting, choices, relief.depth_mm)
                while schedule.deflection_left_mm > allowed and len(choices) < 200:
                    choices.append(Choice(0, feed))
                    schedule = followed(cutting, choices, relief.depth_mm)
                if (
                    any(
                        p.normal_force_n > cutting.normal_force_limit_n
                        or p.power_w > cutting.power_limit_w
                        for p in schedule.passes
                    )
                    or len(choices) >= 200
                ):
                    continue
                spent = sum(p.time_s for p in schedule.passes)
                if spent >= best:
                    continue
                marched = march(model, schedule)
                if marched is not None:
                    overhead = sum(
                        pause_overhead_s(shop, one.commanded_depth_mm)
                        for one, pause in zip(schedule.passes, marched.pauses, strict=True)
                        if pause
                    )
                    best = min(best, spent + marched.pause_s + overhead)
    return best, chosen


@pytest.mark.parametrize("name", JOBS)
def test_table_of_the_example_jobs_is_true(name):
    text = (ROOT / "docs" / "schedule.md").read_text(encoding="utf-8")
    row = re.search(rf"\| `{name}` \| ([0-9.]+) \| ([0-9.]+) \|", text)
    assert row is not None
    equal, chosen = times_of(name)
    assert chosen <= equal + 1e-6
    # Half of the last printed digit, and a little for other arithmetic.
    assert equal == pytest.approx(float(row[1]), abs=0.06)
    assert chosen == pytest.approx(float(row[2]), abs=0.06)
