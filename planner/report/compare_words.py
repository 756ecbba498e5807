"""Words and data of a comparison: JSON, CSV, and the reasons in one line each."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from planner.compare.differ import Difference
from planner.compare.figures import FigureKind
from planner.compare.variants import Outcome
from planner.errors import Problem
from planner.inputs.variations import Variant, Variation
from planner.report.plan_json import rounded
from planner.report.refusals import refusal_data, refusal_words

FORMAT = "bevelwright-compare/1"


def values_text(variant: Variant) -> str:
    """The values of a variant in one line."""
    return ", ".join(f"{key}={value}" for key, value in variant.values)


def problem_words(problem: Problem) -> str:
    """One problem of an input in one line."""
    words = f"{problem.key_path}: {problem.given}; allowed: {problem.allowed}; {problem.mend}"
    return words.removeprefix(": ")


def reason_lines(outcome: Outcome) -> list[str]:
    """Why a variant has no figures, a line a reason."""
    return [
        *(refusal_words(r) for r in outcome.refused),
        *(problem_words(p) for p in outcome.problems),
    ]


def compare_data(
    job: str,
    outcomes: Sequence[Outcome],
    variations: Sequence[Variation],
    total: int,
) -> dict[str, Any]:
    """The comparison as data, in the order of the table."""
    return {
        "format": FORMAT,
        "job": job,
        "varied": [{"key": v.key, "values": list(v.values)} for v in variations],
        "total": total,
        "interrupted": len(outcomes) < total,
        "variants": [_outcome_data(o) for o in outcomes],
    }


def _outcome_data(outcome: Outcome) -> dict[str, Any]:
    data: dict[str, Any] = {"values": dict(outcome.variant.values), **result_data(outcome)}
    return data


def result_data(outcome: Outcome) -> dict[str, Any]:
    """What came of a variant, without its values."""
    data: dict[str, Any] = {
        "figures": rounded(dict(outcome.figures)) if outcome.figures is not None else None,
        "reliefs": rounded([dict(r) for r in outcome.reliefs]),
    }
    if outcome.figures is None:
        data["refused"] = [refusal_data(r) for r in outcome.refused]
        data["problems"] = [asdict(p) for p in outcome.problems]
    return data


def compare_csv(
    outcomes: Sequence[Outcome], variations: Sequence[Variation], kinds: Sequence[FigureKind]
) -> str:
    """The comparison as CSV, a line a variant; the last column says why one is refused."""
    text = io.StringIO()
    varied = {v.key for v in variations}
    kinds = [kind for kind in kinds if kind.name not in varied]  # the wheel is told once
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(v.key for v in variations), *(k.name for k in kinds), "refused"])
    for outcome in outcomes:
        figures: Mapping[str, Any] = rounded(dict(outcome.figures or {}))
        writer.writerow(
            [
                *(value for _, value in outcome.variant.values),
                *(figures.get(k.name, "") for k in kinds),
                " | ".join(reason_lines(outcome)),
            ]
        )
    return text.getvalue()


def difference_data(
    names: tuple[str, str], found: Sequence[Difference], outcomes: tuple[Outcome, Outcome]
) -> dict[str, Any]:
    """Two jobs side by side as data."""
    return {
        "format": FORMAT,
        "jobs": list(names),
        "differs": [asdict(d) for d in found],
        "results": [result_data(o) for o in outcomes],
    }
