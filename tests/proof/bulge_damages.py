"""Damages to bevels that bulge, of hooks and outlines and along arcs, each with its rule.

``docs/proof.md`` shows them in the table of all damages.
"""

# ruff: noqa: E501 - one damage a line is a table that can be read

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from planner.inputs.job import Job
from planner.proof.rules import Rule
from tests.proof.bulge_by_hand import BULGE_JOB
from tests.proof.bulge_forms_by_hand import (
    ARC_A,
    ARC_B,
    BEND,
    HOOK,
    HOOK_BEND,
    HOOK_LINES,
    TURN_MACHINE,
    facet_passes,
    ground_from_bar,
    hook_facet,
    hook_job,
    outline_section,
    turned,
)
from tests.proof.by_hand import FLAT, RACK_MACHINE, program, straight_down
from tests.proof.conftest import changed


class BulgeDamage(NamedTuple):
    """A spoiled program, its job and machine, and the rule that must refuse it."""

    text: str
    rule: Rule
    job: Job
    machine: Mapping[str, Any] = TURN_MACHINE


def _lines(passes: Any, wheel: str = "form") -> str:
    return turned(program("bevel-A", wheel, passes, tilt_deg=30.0))


def _bent(wheel: str = "flat") -> Job:
    return ground_from_bar(HOOK_BEND, wheel)


def _inside(wheel: str = "flat") -> Job:
    data = changed(BULGE_JOB, {"blade.edge": BEND, "operations": None})
    return ground_from_bar(data, wheel, 0.02)


def _outline(face_b: Any, wheel: str = "flat", behind_mm: tuple[float, float] = (0.0, 0.3)) -> Job:
    section = outline_section(face_b, behind_mm)
    return ground_from_bar(hook_job(blade__section=section, relief__faces="both"), wheel)


HOOK_JOB = ground_from_bar(hook_job())
FIRST_INSIDE = turned(program("bevel-B-1", "flat", facet_passes(0.5), tilt_deg=20.0), "B", 110.0)
FIRST = facet_passes(ARC_B.facet_depths_mm([ARC_B.first_deg])[0])
# By hand: a bar 0.9 mm high over a corner at 0.1 mm, at 15 deg: 0.8 cos 15 deg deep.
BESIDE_MM = 0.7727
PLATEN_RACK = [
    {
        **{key: value for key, value in FLAT.items() if key != "corner_radius"},
        "contact": "platen",
        "platen": {"length": "60 mm"},
        "belt": {"thickness": "1.0 mm"},
    }
]
# By hand: 28 mm / cos 20 deg = 29.80 mm, and the bar lies 29 mm from the axis.
TOO_LARGE = {"rack.1.diameter": "56 mm"}

BULGE_DAMAGES = {
    "a facet of a hook two last decimals below its tangent": BulgeDamage(hook_facet(3, 0.0003), Rule.BELOW_TARGET, HOOK_JOB, RACK_MACHINE),
    "a facet of a hook left out for the next": BulgeDamage(hook_facet(4, setup="bevel-A-3"), Rule.WRONG_TILT, HOOK_JOB, RACK_MACHINE),
    "a facet of a hook too many": BulgeDamage(hook_facet(5, setup="bevel-A-6"), Rule.CLAIM_CONTRADICTED, HOOK_JOB, RACK_MACHINE),
    "the flat inside of a hook taken for a bevel": BulgeDamage(hook_facet(1, setup="bevel-B-1"), Rule.CLAIM_CONTRADICTED, HOOK_JOB, RACK_MACHINE),
    "lands of a hook that bulges": BulgeDamage(program("lands-A", "flat", straight_down([0.01])), Rule.IMPOSSIBLE_GEOMETRY, ground_from_bar(hook_job(), lands="flat"), RACK_MACHINE),
    "a facet along an arc two last decimals below its tangent": BulgeDamage(turned(hook_facet(3, 0.0003)), Rule.BELOW_TARGET, _bent()),
    "a first facet along an arc that leaves the edge too thick": BulgeDamage(turned(hook_facet(1, -0.0600)), Rule.EDGE_OUT_OF_TOLERANCE, _bent()),
    "a turn that stops over a facet": BulgeDamage(turned(hook_facet(1), past_deg=-5.0), Rule.PASS_INCOMPLETE, _bent()),
    "a turn that reverses under the round of a wheel outside an arc": BulgeDamage(turned(hook_facet(1), past_deg=10.0), Rule.PASS_INCOMPLETE, _bent()),
    "a facet turned the inside's way": BulgeDamage(turned(hook_facet(1), "B"), Rule.PASS_INCOMPLETE, _bent()),
    "lines too far apart along an arc": BulgeDamage(_lines(HOOK.lines(4, 14, 20.0, 30.0)), Rule.RIDGES_TOO_HIGH, _bent("form")),
    "a line left out along an arc": BulgeDamage(_lines([line for line in HOOK_LINES if line.cross_mm != HOOK_LINES[-3].cross_mm]), Rule.RIDGES_TOO_HIGH, _bent("form")),
    "a line that digs into a hook along an arc": BulgeDamage(_lines(HOOK.lines(6, 14, 20.0, 30.0, 0.001)), Rule.BELOW_TARGET, _bent("form")),
    "a form too narrow for its outermost lines": BulgeDamage(_lines(HOOK_LINES), Rule.RIDGES_TOO_HIGH, _bent("form"), changed(TURN_MACHINE, {"rack.2.width": "8 mm"})),
    "a wheel larger than the inside of an arc at its facet's angle": BulgeDamage(FIRST_INSIDE, Rule.IMPOSSIBLE_GEOMETRY, _inside(), changed(TURN_MACHINE, TOO_LARGE)),
    "a platen inside an arc on a bevel that bulges": BulgeDamage(FIRST_INSIDE, Rule.IMPOSSIBLE_GEOMETRY, _inside(), changed(TURN_MACHINE, {"kind": "belt", "rack": PLATEN_RACK})),
    "corners of a rim that dig inside an arc in lines": BulgeDamage(turned(program("bevel-B", "fine", HOOK_LINES, tilt_deg=15.0), "B", 110.0), Rule.IMPOSSIBLE_GEOMETRY, _inside("fine")),
    "a bar whose flank falls from the shoulder on": BulgeDamage(program("bevel-B-1", "flat", FIRST, tilt_deg=24.0), Rule.IMPOSSIBLE_GEOMETRY, _outline(ARC_B, behind_mm=(0.1, 0.3)), RACK_MACHINE),
    "a facet at the tilt of the other face's": BulgeDamage(program("bevel-B-1", "flat", FIRST, tilt_deg=ARC_A.first_deg), Rule.WRONG_TILT, _outline(ARC_B), RACK_MACHINE),
    "a flat bevel beside an arc in lines": BulgeDamage(program("bevel-B", "fine", HOOK_LINES, tilt_deg=15.0), Rule.IMPOSSIBLE_GEOMETRY, _outline(0.9, "fine"), RACK_MACHINE),
    "a flat bevel beside one that bulges, two steps short": BulgeDamage(program("bevel-B", "flat", facet_passes(BESIDE_MM, -0.0700), tilt_deg=15.0), Rule.EDGE_OUT_OF_TOLERANCE, _outline(0.9), RACK_MACHINE),
}  # fmt: skip
