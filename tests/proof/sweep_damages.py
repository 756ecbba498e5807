"""Damages to programs that sweep the tilt, each with the rule that must refuse it.

``docs/proof.md`` shows them in the table of all damages.
"""

# ruff: noqa: E501 - one damage a line is a table that can be read

from __future__ import annotations

from typing import Any

from planner.proof.rules import Rule
from tests.proof.operation_damages import OperationDamage
from tests.proof.sweep_by_hand import (
    SWEEP_JOB,
    SWEEP_MACHINE,
    swept_passes,
    swept_program,
)

PASSES = swept_passes()
GOOD = swept_program(PASSES)
AXIS_LINE = "(tilt swept, 5 facets, axis y 25.0000 z -30.0000 face A up)"
"""What the header may say of it."""


def _changed(old: str, new: str, text: str = GOOD) -> str:
    assert old in text, old
    return text.replace(old, new)


def _of(what: str, text: str, rule: Rule, **changes: Any) -> OperationDamage:
    return OperationDamage(what, text, rule, job=SWEEP_JOB, machine=SWEEP_MACHINE, **changes)


SWEEP_DAMAGES = [
    _of("a tilt left out of a sweep", _changed("G0 A15.000\n", ""), Rule.BELOW_TARGET),
    _of("a tilt of a sweep a step off", _changed("A15.000", "A15.001"), Rule.WRONG_TILT),
    _of("a digit of a tilt in what a pass claims", _changed("tilt 15.0000", "tilt 15.0010"), Rule.CLAIM_CONTRADICTED),
    _of("a pass of a sweep that does not claim its tilt", _changed(" tilt 15.0000", ""), Rule.CLAIM_CONTRADICTED),
    _of("a tilt claimed where there is one alone", _changed("(tilt", "(pass 1 of 1 rough depth 0.0500 tilt 20.0000)\n(tilt", swept_program(PASSES, header=AXIS_LINE)), Rule.CLAIM_CONTRADICTED, machine_changes={"fixture.tilt_axis": None}),
    _of("a sweep made for an axis above the blade", swept_program(swept_passes(axis=complex(25, 30))), Rule.BELOW_TARGET),
    _of("a sweep made for an axis before the edge", swept_program(swept_passes(axis=complex(-25, -30))), Rule.CLAIM_CONTRADICTED),
    _of("a sweep said to be about another axis", swept_program(PASSES, header=AXIS_LINE.replace("z -30", "z 30")), Rule.CLAIM_CONTRADICTED),
    _of("more facets said to be swept than there are", swept_program(PASSES, header=AXIS_LINE.replace("5 facets", "6 facets")), Rule.CLAIM_CONTRADICTED),
    _of("a facet left out of a sweep", swept_program(swept_passes(left_out=[2])), Rule.RIDGES_TOO_HIGH),
    _of("the first facet of a sweep left out", swept_program(swept_passes(left_out=[0])), Rule.EDGE_OUT_OF_TOLERANCE),
    _of("the last facet of a sweep left out", swept_program(swept_passes(left_out=[4])), Rule.BEVEL_OUT_OF_TOLERANCE),
    _of("a facet of a sweep a step too deep", swept_program(swept_passes(more_mm=(0, 0, 0, 0.0002))), Rule.BELOW_TARGET),
    _of("a first facet of a sweep too shallow for the edge", swept_program(swept_passes(more_mm=(-0.12,))), Rule.EDGE_OUT_OF_TOLERANCE),
    _of("a facet of a sweep that stops short", swept_program(swept_passes(more_mm=(0, 0, -0.008))), Rule.RIDGES_TOO_HIGH),
    _of("two steps of a facet in one", swept_program(swept_passes(step_mm=0.06)), Rule.BITE_TOO_LARGE),
    _of("facets of a sweep without spark-out", swept_program(swept_passes(spark_outs=0)), Rule.MISSING_SPARK_OUT),
    _of("a tilt that turns below clearance", swept_program(PASSES, turn_at_mm=4.0), Rule.TILT_NOT_CLEAR),
    _of("a tilt that turns over the blade", _changed("G0 A15.000", "G0 X40.0000\nG0 A15.000"), Rule.TILT_NOT_CLEAR),
    _of("a tilt that turns in the steel", _changed("G0 Z5.0000\nG0 A15.000", "G1 X40.0000\nG1 A15.000 F100.0"), Rule.PLUNGE),
    _of("a sweep finer than so many facets are", GOOD, Rule.IMPOSSIBLE_GEOMETRY, job_changes={"operations.0.ridge": "0.00002 mm"}),
]  # fmt: skip
