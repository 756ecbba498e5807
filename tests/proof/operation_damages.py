"""Damages to programs for other contacts and operations, each with the rule that must refuse it.

``docs/proof.md`` shows them in the table of all damages.
"""

# ruff: noqa: E501 - one damage a line is a table that can be read

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from planner.proof.rules import Rule
from tests.proof.bulge_by_hand import (
    BULGE_JOB,
    BULGE_LINES_JOB,
    FACETS_DEG,
    bulge_lines,
    facet,
)
from tests.proof.by_hand import (
    BEVEL_MM,
    LINES_JOB,
    OPERATIONS_JOB,
    PLATEN_MACHINE,
    RACK_MACHINE,
    RELIEF_MM,
    Pass,
    lines,
    program,
    straight_down,
    to_depth,
)


def flats(number: int, **changes: Any) -> str:
    """One facet of a convex bevel, counted from 1, on face A."""
    tilt, setup = FACETS_DEG[number - 1], f"bevel-A-{number}"
    return program(
        **{"setup": setup, "wheel": "flat", "passes": facet(number), "tilt_deg": tilt, **changes}
    )


def over_bulge(passes: list[Pass]) -> str:
    """A convex bevel in lines, on face A."""
    return program("bevel-A", "fine", passes, tilt_deg=15.0)


BULGE_WHEEL = {"rack.0.infeed.rough": "0.055 mm"}
BULGE_LINES = bulge_lines(4)
NOTHING: Mapping[str, Any] = MappingProxyType({})
BEVEL = straight_down(to_depth(0.05, BEVEL_MM, 1))
RELIEF = straight_down(to_depth(0.01, RELIEF_MM + 0.01, 2))
LANDS = straight_down(to_depth(0.005, 0.01, 1))
LAYERS = [0.008 * n for n in range(1, 8)] + [RELIEF_MM]
LINES = lines(0.25, LAYERS)
MIDDLE_MM = LINES[-6].cross_mm or 0.0
"""Cross of the middle line of the last layer's last round."""
PLATEN_JOB_CHANGES = {
    "operations.0.wheel": "platen belt",
    "operations.1.wheel": "contact wheel",
    "operations.2.wheel": "platen belt",
}
NOBODY_CHANGES = {"operations": [{"do": "relief"}, OPERATIONS_JOB["operations"][2]]}
NARROW_JOB_CHANGES = {"operations.0.wheel": "narrow"}


def good(name: str, **changes: Any) -> str:
    """One of the good programs by its set-up's name; ``lines`` is a relief in lines."""
    wheels = {"bevel": "flat", "relief": "form", "lands": "flat"}
    if name in ("small wheel", "small form"):
        return program(**{"setup": "A", "wheel": name, "passes": LINES, **changes})
    operation = name.partition("-")[0]
    passes = {"bevel": BEVEL, "relief": RELIEF, "lands": LANDS}[operation]
    return program(**{"setup": name, "wheel": wheels[operation], "passes": passes, **changes})


def _swap(text: str, old: str, new: str, count: int = 1) -> str:
    assert old in text, old
    return text.replace(old, new, count)


class OperationDamage(NamedTuple):
    """A spoiled program, what was done to it, and the rule that must refuse it."""

    what: str
    text: str
    rule: Rule
    job_changes: Mapping[str, Any] = NOTHING
    machine_changes: Mapping[str, Any] = NOTHING
    job: Mapping[str, Any] = OPERATIONS_JOB
    machine: Mapping[str, Any] = RACK_MACHINE


OPERATION_DAMAGES = [
    OperationDamage("a plain set-up of a job with operations", _swap(good("relief-A"), "setup relief-A", "setup A"), Rule.CLAIM_CONTRADICTED),
    OperationDamage("an operation that the job does not list", good("bevel-A"), Rule.CLAIM_CONTRADICTED, {"operations": [{"do": "relief", "wheel": "form"}]}),
    OperationDamage("a bevel claimed for the other face", _swap(good("bevel-A"), "face A", "face B"), Rule.CLAIM_CONTRADICTED),
    OperationDamage("zero of a bevel said to be in the relief", good("bevel-A", header="(zero wheel bares on face A, middle of relief, traverse 0 at heel)"), Rule.CLAIM_CONTRADICTED),
    OperationDamage("the relief's wheel on the bevel", good("bevel-A", wheel="form"), Rule.CLAIM_CONTRADICTED),
    OperationDamage("a form wheel asked to grind a bevel", good("bevel-A", wheel="form"), Rule.IMPOSSIBLE_GEOMETRY, {"operations.0.wheel": "form"}),
    OperationDamage("a form narrower than the relief", good("relief-A"), Rule.IMPOSSIBLE_GEOMETRY, NOTHING, {"rack.2.width": "3 mm"}),
    OperationDamage("lands beside a relief of a wheel that nobody names", good("lands-A"), Rule.CLAIM_MISSING, NOBODY_CHANGES),
    OperationDamage("lands beside the relief of another wheel than the job's", good("lands-A", header="(relief wheel fine)"), Rule.CLAIM_CONTRADICTED),
    OperationDamage("lands beside the relief of a wheel that is not in the rack", good("lands-A", header="(relief wheel coarse)"), Rule.UNKNOWN_WHEEL, NOBODY_CHANGES),
    OperationDamage("two last decimals below the bevel", good("bevel-A", passes=[*BEVEL[:-1], Pass(-0.9750, 0.9750)]), Rule.BELOW_TARGET),
    OperationDamage("a bevel without its last two steps", good("bevel-A", passes=BEVEL[:-3]), Rule.EDGE_OUT_OF_TOLERANCE),
    OperationDamage("a flat narrower than the bevel", good("bevel-A", wheel="narrow"), Rule.BEVEL_OUT_OF_TOLERANCE, NARROW_JOB_CHANGES),
    OperationDamage("a flat that stands a degree off the bevel", good("bevel-A", tilt_deg=9.0), Rule.BEVEL_OUT_OF_TOLERANCE, NOTHING, {"axes.A.resolution": "3 deg"}),
    OperationDamage("a bevel at a tilt that is not the nearest", good("bevel-A", tilt_deg=10.1), Rule.WRONG_TILT),
    OperationDamage("two steps of a bevel in one", good("bevel-A", passes=straight_down(to_depth(0.1, BEVEL_MM, 1))), Rule.BITE_TOO_LARGE),
    OperationDamage("a bevel that presses too hard", good("bevel-A"), Rule.FORCE_TOO_LARGE, NOTHING, {"limits.normal_force": "8 N"}),
    OperationDamage("a bevel by a slow wheel, and no spark-out", good("bevel-A", passes=BEVEL[:-1], spindle_rpm=500), Rule.MISSING_SPARK_OUT),
    OperationDamage("a reversal under the round of a wheel across the edge", good("bevel-A", out_mm=11.0), Rule.PASS_INCOMPLETE),
    OperationDamage("an infeed with half a platen over the end", good("bevel-A", wheel="platen belt", out_mm=20.0), Rule.PLUNGE, PLATEN_JOB_CHANGES, NOTHING, OPERATIONS_JOB, PLATEN_MACHINE),
    OperationDamage("a flat sent into the clamp", _swap(_swap(good("bevel-A"), "Y0.0000", "Y6.0000"), "G1 Z-0.0487", "G1 Z-1.5000"), Rule.JAWS),
    OperationDamage("a relief without the allowance of its lands, a step short", good("relief-A", passes=RELIEF[:-4]), Rule.LAND_OUT_OF_TOLERANCE),
    OperationDamage("a flat that misses the edge land", _swap(good("lands-A"), "Y0.0000", "Y6.0000"), Rule.LANDS_NOT_IN_ONE_PLANE),
    OperationDamage("a flat that leans so far that it reaches one land alone", good("lands-A", tilt_deg=9.8), Rule.LANDS_NOT_IN_ONE_PLANE, NOTHING, {"axes.A.resolution": "0.7 deg"}),
    OperationDamage("lands ground two allowances deep", good("lands-A", passes=straight_down(to_depth(0.005, 0.02, 1))), Rule.LAND_OUT_OF_TOLERANCE),
    OperationDamage("a line that cuts the land", good("small wheel", passes=[*LINES, Pass(-0.0200, 0.0200, 1.2)]), Rule.BELOW_TARGET, job=LINES_JOB),
    OperationDamage("a line below the arc", good("small form", passes=[*LINES, Pass(-0.0600, 0.0600, 0.3)]), Rule.BELOW_TARGET, job=LINES_JOB),
    OperationDamage("lines too far apart", good("small wheel", passes=lines(0.5, LAYERS)), Rule.RIDGES_TOO_HIGH, job=LINES_JOB),
    OperationDamage("a line left out", good("small wheel", passes=[p for p in LINES if p.cross_mm != MIDDLE_MM]), Rule.RIDGES_TOO_HIGH, job=LINES_JOB),
    OperationDamage("two layers of lines in one", good("small wheel", passes=lines(0.25, LAYERS[1::2])), Rule.BITE_TOO_LARGE, job=LINES_JOB),
    OperationDamage("lines by a wheel that gives way, and no spark-out", good("small wheel", passes=lines(0.25, LAYERS, spark_outs=0)), Rule.MISSING_SPARK_OUT, NOTHING, {"stiffness": "60 N/mm"}, LINES_JOB),
    OperationDamage("a digit of a line's cross", _swap(good("small wheel"), f"Y{MIDDLE_MM:.4f}", f"Y{MIDDLE_MM + 0.01:.4f}"), Rule.CLAIM_CONTRADICTED, job=LINES_JOB),
    OperationDamage("a line that does not claim its cross", _swap(good("small wheel"), f" cross {MIDDLE_MM:.4f}", ""), Rule.CLAIM_CONTRADICTED, job=LINES_JOB),
    OperationDamage("a cross claimed where there are no lines", _swap(good("relief-A"), "0.0724)", "0.0724 cross 0.0000)"), Rule.CLAIM_CONTRADICTED),
    OperationDamage("lines without a cross axis", good("small wheel"), Rule.IMPOSSIBLE_GEOMETRY, NOTHING, {"axes": {k: v for k, v in RACK_MACHINE["axes"].items() if k != "Y"}}, LINES_JOB),
    OperationDamage("lines by a wheel larger than the arc", good("small wheel", wheel="fine"), Rule.IMPOSSIBLE_GEOMETRY, job=LINES_JOB),
    OperationDamage("a facet of a convex bevel that the tilts do not ask for", flats(2, setup="bevel-A-4", tilt_deg=5.0), Rule.CLAIM_CONTRADICTED, job=BULGE_JOB),
    OperationDamage("a facet at the tilt of the next", flats(2, tilt_deg=10.0), Rule.WRONG_TILT, job=BULGE_JOB),
    OperationDamage("a facet a last decimal and more below its tangent", flats(2, passes=[*facet(2), *straight_down([0.2000])]), Rule.BELOW_TARGET, job=BULGE_JOB),
    OperationDamage("a facet that stops short, so that a ridge stands", flats(2, passes=facet(2, -0.0150)), Rule.RIDGES_TOO_HIGH, job=BULGE_JOB),
    OperationDamage("a first facet that leaves the edge too thick", flats(1, passes=facet(1, -0.1000)), Rule.EDGE_OUT_OF_TOLERANCE, job=BULGE_JOB),
    OperationDamage("a facet that leaves most of its face", flats(2, passes=facet(2, -0.0500)), Rule.BEVEL_OUT_OF_TOLERANCE, job=BULGE_JOB),
    OperationDamage("facets where no tilt is fine enough for the ridge", flats(1), Rule.IMPOSSIBLE_GEOMETRY, {"operations.0.ridge": "0.001 mm"}, job=BULGE_JOB),
    OperationDamage("a line that digs into a convex bevel", over_bulge(bulge_lines(4, more_mm=0.001)), Rule.BELOW_TARGET, NOTHING, BULGE_WHEEL, BULGE_LINES_JOB),
    OperationDamage("lines that cut into a convex bevel by more than its tolerance", over_bulge(bulge_lines(4, more_mm=0.03)), Rule.BEVEL_OUT_OF_TOLERANCE, NOTHING, BULGE_WHEEL, BULGE_LINES_JOB),
    OperationDamage("lines of a convex bevel too far apart", over_bulge(bulge_lines(3)), Rule.RIDGES_TOO_HIGH, NOTHING, BULGE_WHEEL, BULGE_LINES_JOB),
    OperationDamage("lines of a convex bevel that end a layer early", over_bulge([p for n, p in enumerate(BULGE_LINES) if n < len(BULGE_LINES) - 8]), Rule.RIDGES_TOO_HIGH, NOTHING, BULGE_WHEEL, BULGE_LINES_JOB),
    OperationDamage("a convex bevel in lines without a cross axis", over_bulge(BULGE_LINES), Rule.IMPOSSIBLE_GEOMETRY, NOTHING, {"axes": {k: v for k, v in RACK_MACHINE["axes"].items() if k != "Y"}}, BULGE_LINES_JOB),
]  # fmt: skip
