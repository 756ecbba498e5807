"""What is on the preview, as data: drawn from what the proof saw, figures from ``plan.json``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from planner.plan import Plan
from planner.proof.prove import Verdict
from planner.proof.seen import Ring, Seen, SeenPass, look
from planner.report.plan_json import rounded

_PLACES = 5
"""Decimals of a drawn millimetre."""
_PLANNED = (
    "n",
    "kind",
    "commanded_depth_mm",
    "reached_depth_mm",
    "removed_area_mm2",
    "feed_mm_min",
    "normal_force_n",
    "power_w",
    "edge_temperature_c",
    "soak_temperature_c",
    "flash_temperature_c",
    "time_s",
    "pause_before_s",
    "pause_kind",
    "bound_by",
)
"""Keys of a pass in plan.json that the page shows as they are."""
_SWEPT = ("tilt_deg", "target_depth_mm")
"""Likewise, of a pass whose set-up has more than one tilt."""


def page_data(
    plan: Plan, plan_data: Mapping[str, Any], verdicts: Mapping[str, Verdict]
) -> dict[str, Any]:
    """Everything on the page; ``plan_data`` is plan.json, ``verdicts`` by program in its order."""
    cutting = {name: verdict for name, verdict in verdicts.items() if verdict.trail is not None}
    seen = look(list(cutting.values()))
    setups = []
    before_s = 0.0
    for (program, verdict), one in zip(cutting.items(), seen, strict=True):
        planned = next(s for s in plan_data["setups"] if s["name"] == verdict.setup)
        setups.append(_setup(plan, planned, program, verdict, one) | {"before_s": before_s})
        before_s += one.whole_s
    return {
        "title": plan_data["job"]["title"],
        "job": plan_data["job"],
        "machine": plan_data["machine"],
        "section": {
            "before": _rings(seen[0].before),
            "after": _rings(seen[-1].passes[-1].left if seen[-1].passes else seen[-1].before),
        },
        "setups": rounded(setups),
        "totals": plan_data["totals"],
        "tolerance": plan_data["tolerance"],
        "restart": plan_data.get("restart"),
        "cautions": plan_data["cautions"],
        "programs": [
            {"program": name, "kind": verdict.kind, "sha256": verdict.sha256}
            for name, verdict in verdicts.items()
        ],
    }


def _setup(
    plan: Plan, planned: Mapping[str, Any], program: str, verdict: Verdict, seen: Seen
) -> dict[str, Any]:
    machine = plan.machine.model
    face = seen.face
    passes = {p["n"]: p for p in planned["passes"]}
    return {
        "name": planned["name"],
        "face": planned["face"],
        "operation": planned["operation"],
        "wheel": planned["wheel"],
        "contact": planned["contact"],
        "program": program,
        "target_depth_mm": planned["target_depth_mm"],
        "limits": {
            "normal_force_n": machine.limits.normal_force_n,
            "soak_c": planned["heat"]["soak_limit_c"],
            "flash_c": planned["heat"]["flash_limit_c"],
        },
        "face_frame": {
            "corner": face.corner,
            "along": face.along,
            "normal": face.normal,
            "width_mm": face.width_mm,
        },
        "origin": seen.origin_yz_mm,
        "reach_mm": seen.reach_mm,
        "laid_straight": seen.laid_straight,
        "x_per_traverse": seen.x_per_traverse,
        "before": _rings(seen.before),
        "wheel_uv": _ring(seen.wheel_uv_mm),
        "parts": [
            {
                "name": part.name,
                "along_edge": _rings(part.along_edge_uv_mm),
                "across_edge": _rings(part.across_edge_xv_mm),
            }
            for part in seen.parts
        ],
        "things": [
            {
                "name": thing.name,
                "outline": _rings(thing.outline_yz_mm),
                "traverse": thing.traverse_mm,
            }
            for thing in seen.things
        ],
        "whole_s": seen.whole_s,
        "lands": _lands(plan, verdict, seen),
        "bevels": [
            {
                "station": _station(at.station, at.row_station),
                "edge_thickness_mm": at.edge_thickness_mm,
                "highest_mm": at.highest_mm,
                "lowest_mm": at.lowest_mm,
            }
            | ({} if at.ridge_mm is None else {"ridge_mm": at.ridge_mm})
            for at in verdict.bevels
        ],
        "passes": [
            {"plan": _planned(passes[p.number]), "read": _read_back(p)}
            for p in seen.passes
            if p.number in passes
        ],
    }


def _planned(one: Mapping[str, Any]) -> dict[str, Any]:
    """What the plan says of a pass."""
    return {key: one[key] for key in (*_PLANNED, *(k for k in _SWEPT if k in one))}


def _read_back(seen: SeenPass) -> dict[str, Any]:
    """What the proof read back of one pass."""
    return {
        "commanded_depth_mm": seen.commanded_mm,
        "reached_depth_mm": seen.reached_mm,
        "normal_force_n": seen.normal_force_n,
        "removed_area_mm2": seen.removed_area_mm2,
        "begins_s": seen.begins_s,
        "ends_s": seen.ends_s,
        "wheel": seen.wheel_yz_mm,
        "cross_dir": seen.cross_dir_yz,
        "infeed_dir": seen.infeed_dir_yz,
        "traverse": seen.traverse_mm,
        "cut": _rings(seen.cut),
        "left": _rings(seen.left),
    }


def _lands(plan: Plan, verdict: Verdict, seen: Seen) -> dict[str, Any] | None:
    """The lands wanted, their tolerance and expected spread, and what was measured."""
    if seen.wanted_lands_mm is None or not verdict.lands:
        return None
    spread = next(s for s in plan.spreads if s.face == verdict.face)
    return {
        "edge_land_mm": seen.wanted_lands_mm[0],
        "shoulder_land_mm": seen.wanted_lands_mm[1],
        "tolerance_mm": seen.land_tolerance_mm,
        "edge_land_sd_mm": spread.edge_land_sd_mm,
        "shoulder_land_sd_mm": spread.shoulder_land_sd_mm,
        "measured": [
            {
                "station": _station(at.station, at.row_station),
                "edge_land_mm": at.edge_land_mm,
                "shoulder_land_mm": at.shoulder_land_mm,
                "depth_mm": at.depth_mm,
            }
            for at in verdict.lands
        ],
    }


def _station(name: str, row_station: int) -> str:
    return f"{row_station} {name}" if row_station else name


def _ring(ring: Ring) -> list[list[float]]:
    return [[round(a, _PLACES) + 0.0, round(b, _PLACES) + 0.0] for a, b in ring]


def _rings(rings: Sequence[Ring]) -> list[list[list[float]]]:
    return [_ring(ring) for ring in rings]
