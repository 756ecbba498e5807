"""``plan.json``: the plan as data, in a fixed order, the same bytes for the same inputs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from planner.cautions.caution import Caution
from planner.kinematics.settings import cross_kind, tilt_kind
from planner.kinematics.slide_flats import FlatLeft
from planner.kinematics.slide_lines import LinesLeft
from planner.kinematics.slide_operations import AlongEdge
from planner.passes.schedule import Pass
from planner.plan import Plan
from planner.report.bend_words import bend_data
from planner.report.cut_data import use_data
from planner.report.path_words import edge_along_mm
from planner.report.wall_words import wall_data
from planner.report.wheel_words import heaviest_contact, is_of_path
from planner.restart import Restart
from planner.section.bulge_work import BulgeWork, FacetWork
from planner.section.edge_course import path_name
from planner.section.spread import FaceSpread
from planner.section.target import Section, outline, outline_before
from planner.section.wheel_shape import crown_mm
from planner.setup_plan import Setup

FORMAT = "bevelwright-plan/1"


def rounded(value: Any) -> Any:
    """Floats to nine decimals all the way down, so that the bytes do not hang on the last bit."""
    if isinstance(value, float):
        return round(value, 9) + 0.0
    if isinstance(value, Mapping):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(v) for v in value]
    return value


def section_data(section: Section, *, from_the_bar: bool) -> dict[str, Any]:
    """The section as in plan.json; heights and widths at the top are those of face A."""
    depth = {r.face: r.depth_mm for r in section.reliefs}
    return {
        "form": section.form,
        "bevel_height_mm": section.faces[0].height_mm,
        "bevel_face_mm": section.faces[0].width_mm,
        "outline_before_mm": outline_before(section, from_the_bar=from_the_bar),
        "outline_after_mm": outline(section, depth.get("A", 0.0), depth.get("B", 0.0)),
        "reliefs": [
            {
                "face": r.face,
                "depth_mm": r.depth_mm,
                "chord_mm": r.chord_mm,
                "edge_land_mm": r.edge_land_mm,
                "shoulder_land_mm": r.shoulder_land_mm,
                "removed_area_mm2": r.removed_area_mm2,
                "middle_from_edge_mm": r.middle_mm,
            }
            for r in section.reliefs
        ],
        "steel_left_mm": section.steel_left_mm,
        "steel_left_at_mm": section.steel_left_at_mm,
        "full_hollow": section.full_hollow,
        "edge_angle_flat_deg": section.flat_edge_angle_deg,
        "edge_angle_deg": section.edge_angle_deg,
        "faces": [
            {
                "face": f.face,
                "bevel_deg": f.angle_deg,
                "bevel_height_mm": f.height_mm,
                "bevel_face_mm": f.width_mm,
                "edge_deg": f.edge_angle_deg,
                "micro_bevel_deg": f.micro_deg,
                "convex_radius_mm": None if f.bulge is None else f.bulge.radius_mm,
            }
            for f in section.faces
        ],
    }


def tolerance_data(
    spreads: Sequence[FaceSpread], share: float, helpful: Sequence[tuple[str, float]]
) -> dict[str, Any]:
    """The tolerance of the face whose lands spread most, then each face's causes."""
    worst = max(spreads, key=lambda s: s.land_sd_mm)
    return {
        "land_mm": worst.land_tolerance_mm,
        "depth_mm": worst.depth_tolerance_mm,
        "predicted_land_sd_mm": worst.land_sd_mm,
        "land_change_per_depth": worst.land_change_per_depth,
        "share_in_tolerance": share,
        "dominant": worst.dominant.name,
        "share_without": [{"cause": name, "share": value} for name, value in helpful],
        "faces": [
            {
                "face": s.face,
                "edge_land_sd_mm": s.edge_land_sd_mm,
                "shoulder_land_sd_mm": s.shoulder_land_sd_mm,
                "causes": [
                    {
                        "cause": c.name,
                        "sd": c.sd,
                        "unit": c.unit,
                        "edge_land_sd_mm": c.edge_land_sd_mm,
                        "shoulder_land_sd_mm": c.shoulder_land_sd_mm,
                    }
                    for c in s.causes
                ],
            }
            for s in spreads
        ],
    }


def _path_data(plan: Plan, setup: Setup) -> dict[str, Any] | None:
    """How the axes follow an edge that stands still, and what is left along it."""
    followed, left = setup.followed, setup.stations_left
    if followed is None or left is None:
        return None
    path = followed.path
    stands = path.at_depth(left.x_mm, 0.0)
    turns = None if path.turn is None else path.turn_deg(left.x_mm)
    return {
        "kind": path_name(plan.job.model.edge),
        "by": list(followed.path.letters),
        "anchor_x_mm": followed.path.anchor_mm,
        "safe_infeed_mm": followed.safe_mm,
        "blocks_a_pass": len(followed.ends_mm) - 1,
        "stations": [
            {
                "x_mm": float(left.x_mm[n]),
                "traverse_mm": float(stands[n, 0]),
                "cross_mm": float(stands[n, 1]),
                "infeed_mm": float(stands[n, 2]),
                **({} if turns is None else {"turn_deg": float(turns[n])}),
                "heading_deg": round(float(left.heading_deg[n]), 9) + 0.0,
                **_left_data(plan, setup, left, n),
            }
            for n in range(len(left.x_mm))
        ],
    }


def _left_data(plan: Plan, setup: Setup, left: AlongEdge, n: int) -> dict[str, float]:
    """What the wheel leaves at one station; of a flat heights over the face that is wanted."""
    if isinstance(left, FlatLeft):
        data = {
            "lean_deg": float(left.lean_deg[n]),
            "edge_error_mm": float(left.edge_mm[n]),
            "shoulder_error_mm": float(left.shoulder_mm[n]),
        }
        if setup.work.operation == "bevel":
            data["edge_thickness_mm"] = edge_along_mm(plan, setup)[n]
        return data
    if isinstance(left, LinesLeft):
        return {
            "least_radius_mm": float(left.radius_mm[n]),
            "ridge_mm": float(left.ridge_mm[n]),
        }
    return {
        "section_radius_mm": float(left.radius_mm[n]),
        "edge_land_error_mm": float(left.land_error_mm[n]),
        "shoulder_land_error_mm": float(left.land_error_mm[n]),
    }


def _setup_data(plan: Plan, setup: Setup) -> dict[str, Any]:
    frame = setup.frame
    return {
        "name": setup.name,
        "face": setup.relief.face,
        "program": setup.program,
        "operation": setup.work.operation,
        "wheel": setup.work.wheel.name,
        "contact": setup.work.wheel.contact,
        "wheel_radius_mm": setup.work.wheel_radius_mm,
        "crown_radius_mm": crown_mm(setup.work.wheel),
        "tilt_deg": frame.tilt_deg,
        "touch_frame": {
            "origin_yz_mm": frame.origin_yz_mm,
            "cross_dir_yz": frame.cross_dir_yz,
            "infeed_dir_yz": frame.infeed_dir_yz,
            "x_at_zero_mm": frame.x_at_zero_mm
            if setup.followed is None
            else setup.followed.path.anchor_mm,
            "x_per_traverse": frame.x_per_traverse,
            "turn_mm_per_deg": None
            if setup.turned is None
            else setup.turned.sign * setup.turned.mm_per_deg,
            **({} if frame.axis_yz_mm is None else {"axis_yz_mm": frame.axis_yz_mm}),
        },
        "axes": setup.axes,
        "path": _path_data(plan, setup),
        "settings": _settings_data(plan, setup),
        "room": [
            {
                "axis": room.letter,
                "role": room.role,
                "unit": room.unit,
                "low": room.low,
                "high": room.high,
                "zero_at": room.zero_at,
            }
            for room in setup.rooms
        ],
        "target_depth_mm": _target_mm(setup),
        "shortfall_mm": max(setup.shortfalls_mm),
        **_ridge_data(setup),
        **_sweep_data(setup),
        "passes": [
            {
                "n": p.number,
                "kind": p.kind,
                "infeed_mm": setup.position(p, p.commanded_depth_mm + more)[0],
                "cross_mm": setup.position(p, p.commanded_depth_mm + more)[1],
                **_tilt_data(setup, p),
                "wear_compensation_mm": more,
                "commanded_depth_mm": p.commanded_depth_mm,
                "reached_depth_mm": p.reached_depth_mm,
                "removed_area_mm2": p.removed_area_mm2,
                "feed_mm_min": p.feed_mm_min,
                "normal_force_n": p.normal_force_n,
                "power_w": p.power_w,
                "edge_temperature_c": t.edge_c,
                "soak_temperature_c": t.soak_c,
                "flash_temperature_c": t.flash_c,
                "temperature_by_station_c": t.by_station_c,
                "time_s": p.time_s,
                "pause_before_s": pause.seconds if pause else 0.0,
                "pause_kind": pause.kind if pause else None,
                "bound_by": bound,
            }
            for p, t, pause, bound, more in zip(
                setup.passes,
                setup.marched.passes,
                setup.marched.pauses,
                setup.binding,
                setup.compensation_mm,
                strict=True,
            )
        ],
        "heat": {
            "soak_limit_c": setup.marched.soak_limit_c,
            "flash_limit_c": setup.marched.flash_limit_c,
            "softening_share": setup.marched.softening_share,
            "cost_s": setup.heated.heat_cost_s,
            "cooler_passes": setup.heated.cooler_passes,
        },
        "jaw_clearance_mm": setup.jaw_clearance_mm,
        "clearances": [
            {
                "obstacle": one.obstacle.name,
                "kind": one.obstacle.kind,
                "part": one.part,
                "distance_mm": one.distance_mm,
                "traverse_mm": one.at.traverse_mm,
                "cross_mm": one.at.cross_mm,
                "infeed_mm": one.at.infeed_mm,
                "tilt_deg": one.at.tilt_deg,
            }
            for one in setup.clearances
        ],
        "stations": setup.schedule.stations,
        "uneven_depth_mm": setup.uneven_depth_mm,
        "time_s": setup.time_s,
        "a_tenth_more_saves_s": {s.limit: s.seconds for s in setup.savings},
    } | _row_data(setup)


def _ridge_data(setup: Setup) -> dict[str, Any]:
    """Of a bevel that bulges, how high its ridges stand over the arc; else nothing."""
    work = setup.work
    if not isinstance(work, FacetWork | BulgeWork):
        return {}
    return {
        "bulge": {
            "way": "lines" if isinstance(work, BulgeWork) else "facets",
            "ridge_mm": work.ridge_mm,
            "ridge_reached_mm": work.ridge_reached_mm,
            "at_edge_deg": work.face.edge_angle_deg,
            "bevel_deg": work.face.angle_deg,
        }
    }


def _target_mm(setup: Setup) -> float:
    """The depth that is wanted, of a swept tilt the deepest of its facets."""
    if setup.sweep is None:
        return setup.schedule.target_depth_mm
    return max(stand.depth_mm + stand.off_tangent_mm for stand in setup.sweep.stands)


def _tilt_data(setup: Setup, one: Pass) -> dict[str, Any]:
    """The tilt of a pass and the depth of its tangent, where a set-up has more than one."""
    if setup.sweep is None:
        return {}
    stand = setup.sweep.stand(one.facet)
    return {
        "tilt_deg": stand.tilt_deg,
        "target_depth_mm": stand.depth_mm + stand.off_tangent_mm,
    }


def _sweep_data(setup: Setup) -> dict[str, Any]:
    """The facets of a set-up whose tilt is swept; else nothing."""
    if setup.sweep is None:
        return {}
    return {
        "clear_mm": setup.sweep.clear_mm,
        "facets": [
            {
                "tilt_deg": stand.tilt_deg,
                "angle_deg": stand.work.face.angle_deg,
                "cross_mm": stand.cross_mm,
                "infeed_mm": stand.infeed_mm,
                "depth_mm": stand.depth_mm,
                "width_mm": stand.work.facet.width_mm,
                "off_tangent_mm": stand.off_tangent_mm,
                "depth_sd_mm": spread.sd_mm,
                "touch_sd_mm": spread.touch_mm,
                "tilt_sd_mm": spread.tilt_mm,
                "axis_sd_mm": spread.axis_mm,
                "tolerance_mm": spread.tolerance_mm,
                "share_in_tolerance": spread.share,
            }
            for stand, spread in zip(setup.sweep.stands, setup.facet_spreads, strict=True)
        ],
    }


def _row_data(setup: Setup) -> dict[str, Any]:
    """The filled stations of a row, each with its place along the traverse; else nothing."""
    if not setup.in_row:
        return {}
    frame, row = setup.frame, setup.row
    return {
        "row": [
            {
                "n": number,
                "position_mm": position,
                # x = x_at_zero + x_per_traverse * traverse, by station
                "x_at_zero_mm": frame.x_at_zero_mm - frame.x_per_traverse * position,
                "soak_temperature_c": max(t.by_blade_c[index] for t in setup.marched.passes),
            }
            for index, (number, position) in enumerate(
                zip(row.stations, row.positions_mm, strict=True)
            )
        ],
        "empty_stations": [
            n for n in range(1, len(row.all_positions_mm) + 1) if n not in row.stations
        ],
    }


def _clamping_data(plan: Plan) -> dict[str, Any]:
    """What a row adds to the totals, which are those of one clamping; else nothing."""
    totals = plan.totals
    if not plan.setups[0].in_row:
        return {}
    return {
        "blades_per_clamping": totals.blades,
        "clampings": totals.clampings,
        "blades_in_last_clamping": totals.in_last,
        "time_per_blade_s": totals.time_per_blade_s,
    }


def _settings_data(plan: Plan, setup: Setup) -> dict[str, Any]:
    """Who sets tilt and cross, to what, what would be right, and what that does to the lands."""
    machine, relief, frame = plan.machine.model, setup.relief, setup.frame
    return {
        "tilt": {
            "kind": tilt_kind(machine),
            "set_deg": frame.tilt_deg,
            "right_deg": frame.ideal_tilt_deg,
        },
        "cross": {
            "kind": cross_kind(machine),
            "from_edge_mm": setup.work.place_mm,
            "right_mm": setup.work.asked_place_mm,
        },
        "drift_mm": relief.drift_mm,
        "edge_land_asked_mm": relief.asked_edge_land_mm,
        "shoulder_land_asked_mm": relief.asked_shoulder_land_mm,
    }


def _wear_data(plan: Plan) -> dict[str, Any] | None:
    wear = plan.wheel_wear or plan.belt_wear
    if wear is None:
        return None
    data = asdict(wear)
    if plan.wheel.form_radius_mm is not None:
        # Of a form the size that is dressed and measured is its radius.
        low, high = data.pop("diameters_mm")
        data["form_radii_mm"] = [low / 2.0, high / 2.0]
    return data


def _sizes_data(plan: Plan) -> dict[str, Any] | None:
    """What the wheel may measure along an edge that is followed, without these programs failing."""
    held = plan.sizes_held
    if held is None or not is_of_path(held):
        return None
    rims = held.rim_radii_mm
    return {
        "diameters_over_all_mm": [2 * radius for radius in held.radii_mm],
        "rim_radii_mm": None if rims is None else list(rims),
    }


def _drawing_data(plan: Plan) -> dict[str, str]:
    if plan.job.drawing is None:
        return {}
    name, digest_of_it = plan.job.drawing
    return {"section_file": name, "section_sha256": digest_of_it}


def plan_data(plan: Plan, cautions: Sequence[Caution]) -> dict[str, Any]:
    """The whole plan without its proof."""
    data = {
        "format": FORMAT,
        "job": {
            "title": plan.job.model.title,
            "file": plan.job.path.name,
            "sha256": plan.job.sha256,
            **_drawing_data(plan),
        },
        "machine": {
            "title": plan.machine.model.title,
            "file": plan.machine.path.name,
            "sha256": plan.machine.sha256,
        },
        "section": section_data(plan.section, from_the_bar=plan.job.model.bevel_stages > 0),
        "tolerance": tolerance_data(plan.spreads, plan.share_in_tolerance, plan.helpful),
        "wall": wall_data(plan.wall),
        "bent": bend_data(plan.bent),
        **use_data(plan.job.model, plan.section),
        "setups": [_setup_data(plan, s) for s in plan.setups],
        "totals": {
            "passes": plan.totals.passes,
            "spark_out_passes": plan.totals.spark_out_passes,
            "time_s": plan.totals.time_s,
            "removed_volume_mm3": plan.totals.removed_volume_mm3,
            "removed_mass_g": plan.totals.removed_mass_g,
            "quantity": plan.job.model.quantity,
            "blade": plan.blade,
        }
        | _clamping_data(plan),
        "wear": _wear_data(plan),
        "sizes_held": _sizes_data(plan),
        "grit": asdict(plan.grit) if plan.grit else None,
        "wheels_tried": [
            {
                "wheel": t.name,
                "worn_mm": t.worn_mm,
                "contacts": [_contact_data(s) for s in t.setups],
                "soak_c": t.soak_c,
                "share_in_tolerance": t.share,
                "time_s": t.time_s,
                "refused": [r.rule for r in t.refused],
            }
            for t in plan.wheels_tried
        ],
        "cautions": [
            {"topic": c.topic, "level": c.level, "text": c.text, "basis": c.basis} for c in cautions
        ],
    }
    return dict(rounded(data))


def _contact_data(setup: Setup) -> dict[str, Any]:
    """What the heaviest pass touches at once."""
    one = heaviest_contact(setup)
    return {
        "name": setup.name,
        "pass": one.number,
        "along_edge_mm": one.along_mm,
        "across_edge_mm": one.across_mm,
    }


def restart_data(restart: Restart) -> dict[str, Any]:
    """From which pass the programs go on; stands beside the plan of the whole set-up."""
    data = {
        "setup": restart.setup.name,
        "from_pass": restart.from_pass,
        "program": restart.program,
        "new_wheel": restart.new_wheel,
        "worn_before_mm": restart.worn_before_mm,
        "bared_depth_mm": restart.bared_depth_mm,
        "wear_compensation_mm": restart.compensation_mm[restart.from_pass - 1 :],
        "feeds_mm_min": restart.feeds_mm_min[restart.from_pass - 1 :],
        "time_s": restart.time_s,
    }
    return dict(rounded(data))


def digest(data: Mapping[str, Any]) -> str:
    """SHA-256 of the plan's data; stands in the header of its programs."""
    return hashlib.sha256(json_text(data).encode()).hexdigest()


def json_text(data: Mapping[str, Any]) -> str:
    """JSON as it is written: UTF-8, two blanks of indent, a final newline."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
