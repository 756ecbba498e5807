"""The inspection sheet: what to measure on which blades, with what, within which limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.batch.inspection import blades_to_measure, every_nth
from planner.formulas.lens import sagitta
from planner.inputs.edge_paths import ArcEdge
from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.papers.batch import batch_facts, program_table
from planner.report.papers.model import (
    Bullets,
    Facts,
    Heading,
    Paper,
    Part,
    Signatures,
    Table,
    Text,
)
from planner.report.papers.operation_steps import STATIONS
from planner.section.profile import BevelFace
from planner.setup_plan import Setup

_COLUMNS = 5
"""Measured blades side by side."""
_MOST_BLADES = 60
"""More measured blades than this are not numbered beforehand."""
_STOCK_SIGMAS = 3.0
_BOW_SHARE = 0.002
"""Bow over the length that is let pass: 0.2 mm over 100 mm. Common practice, no source."""


@dataclass(frozen=True)
class _Check:
    """One thing that is measured."""

    what: str
    tool: str
    nominal: str
    limits: str
    proved: str = ""


def inspection_paper(plan: Plan, verdicts: Mapping[str, Verdict]) -> Paper:
    """The sheet for the batch."""
    wear = plan.wheel_wear
    quantity = plan.job.model.quantity
    every = every_nth(plan.job.model, wear.dress_after if wear else None)
    measured = blades_to_measure(plan.blade, quantity, every, plan.totals.blades)
    numbered = [str(n) for n in measured[:_MOST_BLADES]]
    parts: list[Part] = [
        Facts((*batch_facts(plan), ("measured", _which_text(plan, measured, every)))),
        Heading("Before the first set-up"),
        _sheet_table(_stock_checks(plan), []),
        Heading("Finished blades"),
    ]
    checks = _finished_checks(plan, verdicts)
    if len(measured) > _MOST_BLADES:
        numbered = [*numbered, *[""] * _COLUMNS]
        parts.append(
            Text(
                f"Blades {measured[_MOST_BLADES]} to {measured[-1]}: copy the last table, and "
                "write the numbers over its columns."
            )
        )
    for start in range(0, len(numbered), _COLUMNS):
        parts.append(_sheet_table(checks, numbered[start : start + _COLUMNS]))
    parts += [
        Bullets(_how_to(plan)),
        Heading("Programs"),
        program_table(plan, verdicts),
        Signatures(("Measured by", "instruments checked", "released by", "date")),
    ]
    running = f"Inspection · {plan.job.model.title} · job {plan.job.sha256[:16]}"
    return Paper("inspection", "Inspection sheet", running, tuple(parts), landscape=True)


def _which_text(plan: Plan, measured: Sequence[int], every: int) -> str:
    quantity = plan.job.model.quantity
    if quantity == 1:
        return "the one blade"
    why = "the job's `inspect_every`"
    if plan.job.model.inspect_every is None:
        why = "common practice"
        if plan.wheel_wear and plan.wheel_wear.dress_after == every:
            why = "so many blades use up the wear that is let pass"
    nth = f"then one in every {every}" if every > 1 else "then every one"
    article = f"blade {measured[0]}, the first article, before the second is ground"
    if plan.totals.blades > 1:
        article = "every blade of the first clamping, before the second is begun"
    again = "the first after each dressing, new belt or restart"
    return f"{article}; {nth} ({why}); the last; and {again}"


def _sheet_table(checks: Sequence[_Check], blades: Sequence[str]) -> Table:
    blanks = [f"blade {n}" if n else "blade ____" for n in blades] or ["found"] * 3
    header = ("what", "with", "nominal, mm", "limits, mm", "as proved, mm", *blanks)
    rows = [(c.what, c.tool, c.nominal, c.limits, c.proved, *[""] * len(blanks)) for c in checks]
    wide = 12.0 * _COLUMNS / len(blanks)
    return Table(header, tuple(rows), (30, 26, 11, 17, 11, *[wide] * len(blanks)), to_write_in=True)


def _stock_checks(plan: Plan) -> list[_Check]:
    """What the plan counts on in the blades as they come."""
    job, section = plan.job.model, plan.section
    spread = _STOCK_SIGMAS * job.spread.thickness_mm
    checks = [
        _Check(
            "thickness of the stock",
            "micrometer",
            f"{section.thickness_mm:.2f}",
            f"{section.thickness_mm - spread:.3f} to {section.thickness_mm + spread:.3f}",
        )
    ]
    if job.bevel_stages:
        return checks
    angle = _STOCK_SIGMAS * job.spread.bevel_angle_deg
    return checks + [_angle_check(face, angle) for face in section.faces if face.angle_deg > 0.0]


def _angle_check(face: BevelFace, off_deg: float) -> _Check:
    """The bevel's angle to the centre plane, or the radius of a face that bulges."""
    if face.bulge is not None:
        radius = f"{face.bulge.radius_mm:.2f}"
        return _Check(f"bulge of face {face.face}", "radius gauge", radius, "")
    return _Check(
        f"bevel angle, face {face.face}",
        "bevel protractor or angle cube",
        f"{face.angle_deg:.2f} deg",
        f"{face.angle_deg - off_deg:.2f} to {face.angle_deg + off_deg:.2f} deg",
    )


def _finished_checks(plan: Plan, verdicts: Mapping[str, Verdict]) -> list[_Check]:
    checks: list[_Check] = []
    tolerance = plan.job.model.relief.land_tolerance_mm
    for relief in plan.section.reliefs:
        setup = _last_setup(plan, relief.face)
        lands = verdicts[setup.program].lands
        asked = (("edge", relief.asked_edge_land_mm), ("shoulder", relief.asked_shoulder_land_mm))
        for name, nominal in asked:
            for station in STATIONS:
                found = [
                    at.edge_land_mm if name == "edge" else at.shoulder_land_mm
                    for at in lands
                    if at.station == station
                ]
                checks.append(
                    _Check(
                        f"face {relief.face}, {name} land at {station}",
                        _land_tool(tolerance),
                        f"{nominal:.2f}",
                        f"{max(nominal - tolerance, 0.0):.2f} to {nominal + tolerance:.2f}",
                        _from_to(found),
                    )
                )
        checks.append(_depth_check(plan, setup, verdicts))
    return [*checks, *_whole_blade_checks(plan, verdicts)]


def _depth_check(plan: Plan, setup: Setup, verdicts: Mapping[str, Verdict]) -> _Check:
    relief, face = setup.relief, setup.work.face
    off = setup.depth_tolerance_mm
    # A bar lies on the inner ends of the lands: a face that bulges stands up between them.
    over = float(sagitta(face.bulge_radius_mm, relief.chord_mm / 2.0))
    depth = relief.depth_mm - over
    depths = [at.depth_mm - over for at in verdicts[setup.program].lands]
    return _Check(
        f"face {relief.face}, relief depth in the middle",
        "dial gauge on a straight bar across the lands",
        f"{depth:.4f}",
        f"{max(depth - off, 0.0):.4f} to {depth + off:.4f}",
        _from_to(depths, 4),
    )


def _whole_blade_checks(plan: Plan, verdicts: Mapping[str, Verdict]) -> list[_Check]:
    job, section = plan.job.model, plan.section
    least = job.relief.min_steel_left_mm
    if section.full_hollow:
        least = min(least, section.edge_thickness_mm)
    checks = [
        _Check(
            f"steel left, {section.steel_left_at_mm:.1f} mm from the edge",
            "micrometer with ball tips",
            f"{section.steel_left_mm:.3f}",
            f"at least {least:.2f}",
        )
    ]
    if plan.edge is not None:
        edge, off = section.edge_thickness_mm, plan.edge.tolerance_mm
        checks += [
            _Check(
                f"thickness at the edge, {station}",
                "micrometer with narrow tips",
                f"{edge:.2f}",
                f"{max(edge - off, 0.0):.2f} to {edge + off:.2f}",
            )
            for station in STATIONS
        ]
    bow = _BOW_SHARE * job.blade.edge.length_mm
    form = _Check("bow along the edge", "surface plate and feeler", "0", f"at most {bow:.2f}")
    if isinstance(job.blade.edge, ArcEdge):
        radius = f"{job.blade.edge.radius_mm:.2f}"
        form = _Check("radius of the edge", "template and feeler", radius, "")
    return [
        *checks,
        form,
        _Check("colour of the ground faces", "eye, bright light", "none", "none"),
    ]


def _last_setup(plan: Plan, face: str) -> Setup:
    """The set-up that leaves the lands of a face as they stay."""
    return [s for s in plan.setups if s.relief.face == face and s.work.operation != "bevel"][-1]


def _land_tool(tolerance_mm: float) -> str:
    """A rule of thumb: the reading a tenth of the whole tolerance. Common practice, no source."""
    return "loupe, 0.1 mm scale" if tolerance_mm >= 0.5 else (
        "measuring loupe, 0.05 mm" if tolerance_mm >= 0.2 else "measuring microscope"
    )  # fmt: skip


def _from_to(values: Sequence[float], decimals: int = 3) -> str:
    if not values:
        return ""
    low, high = f"{min(values):.{decimals}f}", f"{max(values):.{decimals}f}"
    return low if low == high else f"{low} to {high}"


def _how_to(plan: Plan) -> tuple[str, ...]:
    ratio = max(s.land_change_per_depth for s in plan.spreads)
    return (
        "Lands: ink the face, draw a fine stone flat along it once, and read the bright strips.",
        f"A land moves about {ratio:.0f} times as far as the depth does: where both lands are off "
        "the same way, correct the depth by that part of it; where one is wide and the other "
        "narrow, shift cross or stop by half the difference. Correct half of what one blade shows.",
        "Limits of the stock are three standard deviations of `spread` in the job file; those of "
        "the depth keep the lands within theirs; bow and how often one measures are common "
        "practice, no source.",
    )
