"""Refusals of a section told of a form wheel: its size there is the radius that it is dressed to.

The section counts every wheel as a circle. Twice the radius of a form is no diameter that anybody
could measure, and not the diameter of the wheel that carries it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.rack import Wheel

_OF_SECTION = {
    "wheel-too-small",
    "wheel-too-large",
    "wheel-over-arc",
    "no-room-for-depth",
    "reliefs-meet",
    "breaks-through",
    "too-little-steel",
    "edge-angle-too-small",
    "lands-fall-short",
    "lands-short-and-aside",
    "cannot-hold-lands",
}
_RADII = {"diameter_mm": "form_radius_mm", "largest_diameter_mm": "largest_form_radius_mm"}
_WAYS = {"larger-wheel": "larger-form", "smaller-wheel": "smaller-form"}


def of_form(refusals: Iterable[Refusal], wheel: Wheel) -> tuple[Refusal, ...]:
    """The refusals of a wheel; of a form with its radius in place of the circle's diameter."""
    if wheel.form_radius_mm is None:
        return tuple(refusals)
    return tuple(_told(r) if r.rule in _OF_SECTION else r for r in refusals)


def _told(refusal: Refusal) -> Refusal:
    facts: dict[str, Fact] = {}
    for name, value in refusal.facts.items():
        radius = _RADII.get(name)
        facts[radius or name] = float(value) / 2.0 if radius else value
    return replace(refusal, facts=facts, ways_out=tuple(_way(w) for w in refusal.ways_out))


def _way(way: WayOut) -> WayOut:
    rule = _WAYS.get(way.rule)
    if rule is None:
        return way
    return WayOut(rule, {"radius_mm": float(way.facts["diameter_mm"]) / 2.0})
