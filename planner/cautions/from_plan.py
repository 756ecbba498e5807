"""The facts of a plan that its cautions follow from."""

from __future__ import annotations

from dataclasses import replace

from planner.cautions.caution import Caution, CautionFacts
from planner.cautions.rules import cautions_for
from planner.kinematics.speeds import marked_rpm, shaft_speed_rpm, surface_speed_m_s
from planner.plan import Plan
from planner.setup_plan import Setup


def caution_facts(plan: Plan) -> CautionFacts:
    """Gather them; temperatures are None where nothing was predicted."""
    job, machine, wheel = plan.job.model, plan.machine.model, plan.wheel
    return CautionFacts(
        steel=plan.steel,
        temper_c=job.temper_c,
        wheel_name=wheel.name,
        wheel_diameter_mm=wheel.diameter_mm,
        surface_speed_m_s=plan.surface_speed_m_s,
        shaft_speed_rpm=shaft_speed_rpm(wheel, machine),
        marked_rpm=marked_rpm(wheel),
        is_belt=wheel.belt is not None,
        coolant=machine.coolant.kind,
        removed_mass_g=plan.totals.mass_per_blade_g,
        quantity=job.quantity,
        edge_temperature_c=plan.soak_c,
        flash_temperature_c=plan.flash_c,
        edge_limit_c=plan.setups[0].limits.soak_c,
        work_rest_gap_mm=machine.work_rest_gap_mm,
        dust_collector=machine.dust_collector,
        flip=machine.fixture.flip,
        by_hand_spindle=machine.spindle.control == "by_hand",
        edge_thickness_mm=job.blade.section.edge_thickness_mm,
        coated=wheel.belt is not None,
        over_platen=wheel.platen is not None,
    )


def cautions_of(plan: Plan) -> tuple[Caution, ...]:
    """All cautions of a plan: those of each wheel that it mounts, each said once."""
    facts = caution_facts(plan)
    found = dict.fromkeys(cautions_for(facts))
    for setup in plan.setups:
        found |= dict.fromkeys(cautions_of_setup(plan, setup))
    return tuple(found)


def cautions_of_setup(plan: Plan, setup: Setup) -> tuple[Caution, ...]:
    """The cautions of a plan with the wheel of one set-up."""
    wheel, machine = setup.work.wheel, plan.machine.model
    of_wheel = replace(
        caution_facts(plan),
        wheel_name=wheel.name,
        wheel_diameter_mm=wheel.diameter_mm,
        surface_speed_m_s=surface_speed_m_s(wheel, machine),
        shaft_speed_rpm=shaft_speed_rpm(wheel, machine),
        marked_rpm=marked_rpm(wheel),
        is_belt=wheel.belt is not None,
        coated=wheel.belt is not None,
        over_platen=wheel.platen is not None,
    )
    return cautions_for(of_wheel)
