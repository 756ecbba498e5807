"""How the blade will cut and how it is kept sharp, as data for ``--json`` and ``plan.json``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from planner.inputs.cutting import Cut
from planner.inputs.job import Job
from planner.section.cutting import (
    FaceFit,
    GuidedRange,
    RoundedFit,
    Work,
    WorkFit,
    section_fits,
)
from planner.section.keeping_sharp import FaceHoning, SteelBehind, face_honings, steel_behind
from planner.section.target import Section

BASIS = "common practice, no source"


def use_data(job: Job, section: Section) -> dict[str, Any]:
    """What follows in use: the keys ``cut``, ``steel_behind_edge`` and ``honing``."""
    return {
        "cut": _cut_data(section_fits(section, job.cut), job.cut),
        "steel_behind_edge": [_steel_data(s) for s in steel_behind(section)],
        "honing": {
            "each_mm": job.honing.each_mm,
            "basis": BASIS,
            "faces": [_honing_data(h) for h in face_honings(section, job.honing)],
        },
    }


def _cut_data(fits: tuple[FaceFit, ...], cut: Cut) -> dict[str, Any]:
    return {
        "bowl_mm": cut.bowl_mm,
        "thresholds": {
            "guided_deg": cut.guided_deg,
            "digs_in_deg": cut.digs_in_deg,
            "lift_deg": cut.lift_deg,
            "give_mm": cut.give_mm,
            "basis": BASIS,
        },
        "faces": [
            {
                "face": fit.outline.face,
                "bevel_mm": fit.outline.shoulder_mm,
                "on": [_fit_data(one) for one in fit.fits],
                "guided": None if fit.guided is None else _range_data(fit.guided, cut),
                "rounded_over": None if fit.rounded is None else _rounded_data(fit.rounded),
            }
            for fit in fits
        ],
    }


def _fit_data(fit: WorkFit) -> dict[str, Any]:
    """One row; what does not fit has no figures."""
    data = {"work": fit.work.kind, "radius_mm": fit.work.radius_mm}
    figures = {k: v for k, v in asdict(fit).items() if k not in ("work", "verdict")}
    if fit.verdict == "does not fit":
        figures = dict.fromkeys(figures)
    return {**data, **figures, "verdict": fit.verdict}


def _range_data(guided: GuidedRange, cut: Cut) -> dict[str, Any]:
    ends = (Work(guided.least_per_mm), Work(guided.most_per_mm))
    return {
        name: {"work": end.kind, "radius_mm": end.radius_mm}
        for name, end in zip(("from", "to"), ends, strict=True)
    } | {"hollows_asked_mm": guided.hollows_of(cut.bowl_mm)}


def _rounded_data(rounded: RoundedFit) -> dict[str, Any]:
    return {
        "reach_mm": rounded.reach_mm,
        "radius_mm": rounded.radius_mm,
        "steeper_deg": rounded.steeper_deg,
        "edge_back_mm": rounded.edge_back_mm,
        "on_flat": _fit_data(rounded.fit),
    }


def _steel_data(steel: SteelBehind) -> dict[str, Any]:
    return asdict(steel) | {"modulus_share": steel.modulus_share}


def _honing_data(honing: FaceHoning) -> dict[str, Any]:
    return asdict(honing)
