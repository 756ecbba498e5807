"""All rules in one list, and the order in which their cautions come."""

from __future__ import annotations

from planner.cautions import (
    clamp,
    dust,
    eyes_ears,
    fire,
    guard,
    local_rules,
    quench,
    temper,
    wheel,
)
from planner.cautions.caution import Caution, CautionFacts, Level, Rule

RULES: tuple[Rule, ...] = (
    wheel.speed_against_mark,
    wheel.speed_class,
    wheel.ring_test,
    wheel.flanges,
    wheel.side_grinding,
    wheel.belt_joint,
    guard.wheel_guard,
    guard.belt_guard,
    guard.work_rest,
    guard.tongue,
    guard.spindle_by_hand,
    fire.sparks_and_wood_dust,
    fire.light_metals,
    dust.steel_dust,
    dust.alloy_dust,
    dust.breathed_mist,
    temper.edge_temperature,
    temper.skin_flash,
    temper.temper_unknown,
    temper.temper_unusual,
    temper.colours,
    temper.scrap_blade_first,
    quench.cooling_kind,
    quench.water_dip,
    clamp.hold,
    clamp.turning_the_blade,
    clamp.fingers_and_gloves,
    eyes_ears.eyes_and_ears,
    eyes_ears.lungs,
)
"""Every rule but the one that always comes last."""

_ORDER: dict[Level, int] = {"danger": 0, "warning": 1, "note": 2}


def cautions_for(facts: CautionFacts) -> tuple[Caution, ...]:
    """The cautions of one job: dangers first, then warnings, then notes, local rules last.

    Within a level they keep the order of ``RULES``. A rule that cannot apply says nothing.
    """
    said = [caution for rule in RULES if (caution := rule(facts)) is not None]
    said.sort(key=lambda caution: _ORDER[caution.level])
    return (*said, local_rules.local_rules(facts))
