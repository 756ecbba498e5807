"""One plain job that the tests change a fact or two of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planner.cautions import CautionFacts
from planner.inputs.steels import load_steels

MakeFacts = Callable[..., CautionFacts]


@pytest.fixture
def make_facts() -> MakeFacts:
    """Facts of a bonded 150 mm wheel on one O1 blade, dry, all in order; changes by name."""

    def make(**changes: Any) -> CautionFacts:
        facts: dict[str, Any] = {
            "steel": "O1",
            "temper_c": 190.0,
            "wheel_name": "fine",
            "wheel_diameter_mm": 150.0,
            "surface_speed_m_s": 22.4,
            "shaft_speed_rpm": 2850.0,
            "marked_rpm": 4500.0,
            "is_belt": False,
            "coolant": "dry",
            "removed_mass_g": 0.5,
            "quantity": 1,
            "edge_temperature_c": 90.0,
            "flash_temperature_c": None,
            "edge_limit_c": 165.0,
            "work_rest_gap_mm": None,
            "dust_collector": "steel_only",
            "flip": "end_for_end",
            "by_hand_spindle": False,
            "edge_thickness_mm": 0.3,
            "coated": False,
        } | changes
        if isinstance(facts["steel"], str):
            facts["steel"] = load_steels()[facts["steel"]]
        return CautionFacts(**facts)

    return make


@pytest.fixture
def many_facts(make_facts: MakeFacts) -> list[CautionFacts]:
    """Jobs that between them reach every rule at every level."""
    abrasives = [
        {"is_belt": False, "coated": False},
        {"is_belt": True, "coated": True},
        {"is_belt": False, "coated": True},
    ]
    shops: list[dict[str, Any]] = [
        {},
        {"dust_collector": "shared_with_wood", "by_hand_spindle": True, "work_rest_gap_mm": 5.0},
        {"dust_collector": "none", "work_rest_gap_mm": 2.0, "edge_thickness_mm": 0.8},
        {"marked_rpm": 2000.0, "flip": "over", "flash_temperature_c": 400.0},
        {"surface_speed_m_s": 170.0, "flip": "by_tilt", "flash_temperature_c": 120.0},
        {"temper_c": None, "edge_limit_c": None, "edge_temperature_c": None},
        {"temper_c": 90.0, "edge_temperature_c": 150.0, "quantity": 20},
        {"edge_temperature_c": 600.0, "edge_thickness_mm": 0.0},
    ]
    return [
        make_facts(steel=name, coolant=coolant, **abrasive, **shop)
        for name in load_steels()
        for coolant in ("dry", "mist", "flood")
        for abrasive in abrasives
        for shop in shops
    ]
