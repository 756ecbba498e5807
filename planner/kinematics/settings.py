"""What a person sets by hand, tilt and cross: the nearest setting that exists."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from planner.errors import Refusal, WayOut
from planner.inputs.fixture import HandCross, HandTilt
from planner.inputs.machine import Machine

SHIM_BASE_MM = 100.0
"""Length of the base that the height of a shim is given for: easily scaled to any other."""

Kind = Literal["axis", "scale", "settings", "fixed", "free"]
"""How a tilt or a cross is set. ``fixed`` is the one setting that there is; ``free`` is shifted
until the mark of a light touch stands right."""

TILT_REACH_DEG = 5.0
"""A tilt further off the bevel's own angle is another fixture altogether."""

_ALIKE = 1e-6
"""Two settings whose distances differ by less are as near as each other."""


def tilt_kind(machine: Machine) -> Kind:
    """How the blade is tilted; where nothing tilts it, it lies flat: fixed at 0."""
    if any(axis.role == "tilt" for axis in machine.axes.values()):
        return "axis"
    return "fixed" if machine.fixture.hand_tilt is None else _kind(machine.fixture.hand_tilt)


def cross_kind(machine: Machine) -> Kind:
    """How the wheel is brought over the middle of the relief."""
    if any(axis.role == "cross" for axis in machine.axes.values()):
        return "axis"
    return "free" if machine.fixture.hand_cross is None else _kind(machine.fixture.hand_cross)


def _kind(hand: HandTilt | HandCross) -> Kind:
    settings = hand.settings_deg if isinstance(hand, HandTilt) else hand.settings_mm
    if settings is None:
        return "scale"
    return "fixed" if len(settings) == 1 else "settings"


def nearest_setting(wanted: float, settings: Sequence[float]) -> float:
    """The nearest of a list; of two as near as each other, the lower.

    >>> nearest_setting(11.0, [5.0, 12.5, 10.0]), nearest_setting(7.5, [10.0, 5.0])
    (10.0, 5.0)
    """
    best = min(abs(s - wanted) for s in settings)
    return min(s for s in settings if abs(s - wanted) <= best + _ALIKE)


def nearest_mark(wanted: float, resolution: float, ends: tuple[float, float]) -> float:
    """The nearest multiple of ``resolution`` in a range that has one; of two, the lower.

    >>> nearest_mark(12.3, 0.5, (0.0, 45.0)), nearest_mark(12.25, 0.5, (0.0, 45.0))
    (12.5, 12.0)
    """
    low = math.ceil(ends[0] / resolution - 1e-9)
    high = math.floor(ends[1] / resolution + 1e-9)
    nearest = math.ceil((wanted - _ALIKE) / resolution - 0.5)
    return min(max(nearest, low), high) * resolution


MOST_TURN_DEG = 0.01
"""A straight edge turned by more than this no longer lies along the traverse."""


def turn_refusals(machine: Machine) -> list[Refusal]:
    """A straight edge stands at the turn's zero: is there such a setting?"""
    hand = machine.fixture.hand_turn
    if hand is None:
        return []
    if hand.settings_deg is not None:
        nearest = nearest_setting(0.0, hand.settings_deg)
    else:
        assert hand.range_deg is not None
        nearest = nearest_mark(0.0, hand.resolution_deg, hand.range_deg)
    if abs(nearest) <= MOST_TURN_DEG:
        return []
    return [Refusal("turn-off-zero", {"has_deg": nearest}, (WayOut("turn-stop"),))]


def hand_tilt_deg(machine: Machine, wanted_deg: float) -> float:
    """The tilt that is set for one that is wanted; 0 where nothing tilts the blade."""
    hand = machine.fixture.hand_tilt
    if hand is None:
        return 0.0
    if hand.settings_deg is not None:
        return nearest_setting(wanted_deg, hand.settings_deg)
    assert hand.range_deg is not None
    return nearest_mark(wanted_deg, hand.resolution_deg, hand.range_deg)


def hand_cross_mm(machine: Machine, wanted_mm: float) -> float:
    """Where along the face the wheel bares for a middle that is wanted; there, where it is free."""
    hand = machine.fixture.hand_cross
    if hand is None:
        return wanted_mm
    if hand.settings_mm is not None:
        return nearest_setting(wanted_mm, hand.settings_mm)
    assert hand.range_mm is not None
    return nearest_mark(wanted_mm, hand.resolution_mm, hand.range_mm)


def wedge_ways(wanted_deg: float, has_deg: float) -> tuple[WayOut, ...]:
    """The wedge or stop that is right, and what makes the one that there is right.

    A wedge of the other sign is turned round; for others a shim.
    A shim under one end of a base tilts it by the angle whose sine is height over length, as on
    a sine bar.
    """
    if math.isclose(wanted_deg, -has_deg, abs_tol=_ALIKE):
        turned = {"has_deg": has_deg, "wanted_deg": wanted_deg}
        return WayOut("wedge", {"wanted_deg": wanted_deg}), WayOut("turned-wedge", turned)
    shim = SHIM_BASE_MM * math.sin(math.radians(abs(wanted_deg - has_deg)))
    facts = {"shim_mm": shim, "base_mm": SHIM_BASE_MM, "has_deg": has_deg, "wanted_deg": wanted_deg}
    return WayOut("wedge", {"wanted_deg": wanted_deg}), WayOut("shim", facts)
