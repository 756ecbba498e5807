"""What each wheel of the rack does along an arc: two wheels there may be two different grinds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from planner.inputs.edge_paths import ArcEdge
from planner.inputs.rack import Wheel
from planner.kinematics.edge_path import (
    DIG_SHARE,
    inside_radius_mm,
    rim_dig_mm,
    spindle_angle_deg,
)
from planner.plan import Plan, WheelTried
from planner.report.wheel_words import heaviest_contact
from planner.section.edge_course import followed_course
from planner.section.wheel_shape import crown_mm, is_round, section_radius_mm
from planner.section.work import FaceWork
from planner.setup_plan import Setup


def arc_wheel_words(plan: Plan) -> Iterator[str]:
    """One paragraph for each wheel tried along an arc; none for a straight edge.

    What makes the hollow, what touches, what wears, and on the inside of the arc what keeps rim
    and spindle from the blade.
    """
    edge = plan.job.model.edge
    if not isinstance(edge, ArcEdge) or len(plan.wheels_tried) < 2:
        return
    rack = {wheel.name: wheel for wheel in plan.machine.model.rack}
    for tried in plan.wheels_tried:
        wheel = rack[tried.name]
        if not is_round(wheel):
            continue
        across = wheel.contact == "across_edge"
        words = [_hollow(plan, wheel), *_touching(tried)]
        inside = next((s.work for s in _reliefs(plan.setups) if s.relief.face == "B"), None)
        if inside is not None:
            radius = inside_radius_mm(edge, inside)
            # Followed, the spindle stays along the traverse and is lowest over the arc's middle.
            followed = followed_course(plan.job.model, plan.machine.model) is not None
            over = edge.angle_deg / 2 if followed else edge.angle_deg
            if across:
                words += _across_inside(wheel, radius, inside)
            else:
                words += _along_inside(wheel, radius, over)
            if tried.setups and not across and not followed:
                words += _rim_inside(tried, wheel, radius)
        way = "across the edge" if across else "along the edge"
        yield f"{wheel.name}, its axis {way}: {'; '.join(words)}."


def _reliefs(setups: Sequence[Setup]) -> list[Setup]:
    """Those in which the relief is ground: bevels and lands have wheels of their own."""
    return [s for s in setups if s.work.operation == "relief"]


def _hollow(plan: Plan, wheel: Wheel) -> str:
    radius = section_radius_mm(wheel)
    if plan.job.model.relief.scallop_mm is not None:
        return f"the hollow is made in lines by its {radius:.2f} mm radius"
    if wheel.contact == "across_edge":
        return f"the {radius:.2f} mm radius that its rim is dressed to makes the hollow"
    return f"its own radius of {radius:.2f} mm makes the hollow"


def _touching(tried: WheelTried) -> Iterator[str]:
    """Contact of the heaviest pass of each set-up, and wear."""
    if not tried.setups:
        return
    sizes = []
    for setup in _reliefs(tried.setups):
        contact = heaviest_contact(setup)
        sizes.append(f"{contact.along_mm:.2f} by {contact.across_mm:.2f} mm ({setup.name})")
    yield f"it touches {' and '.join(sizes)}, along the edge by across it"
    if tried.worn_mm is not None:
        yield f"it loses {tried.worn_mm * 1000:.2f} µm of radius to a blade"


def _across_inside(wheel: Wheel, inside_mm: float, work: FaceWork) -> Iterator[str]:
    # Its axis leans to that of the arc by the angle of the face: see planner/kinematics/edge_path.
    longer = wheel.diameter_mm / math.cos(work.face.angle_rad)
    room = 2 * inside_mm - longer
    if longer / 2 < inside_mm:
        yield (
            f"inside, its arbor lies along the arc's axis and its rim is {room:.1f} mm from the "
            "far side"
        )
    else:
        yield f"it does not fit into the inside of {inside_mm:.2f} mm radius"


def _along_inside(wheel: Wheel, inside_mm: float, over_deg: float) -> Iterator[str]:
    free = spindle_angle_deg(inside_mm, wheel.diameter_mm / 2)
    if free >= 180.0:
        yield "inside, its spindle passes outside the whole arc"
    elif over_deg > free:
        yield (
            f"inside, its spindle would meet the blade {free:.0f} deg from the contact, and the "
            f"arc goes {over_deg:.0f} deg round from there"
        )
    else:
        yield (
            f"inside, its spindle would meet the arc {free:.0f} deg from the contact, past its end "
            f"at {over_deg:.0f} deg"
        )


def _rim_inside(tried: WheelTried, wheel: Wheel, inside_mm: float) -> Iterator[str]:
    crown, dig = crown_mm(wheel), rim_dig_mm(inside_mm, wheel)
    setup = next(s for s in _reliefs(tried.setups) if s.relief.face == "B")
    if crown is not None and dig == 0.0:
        yield (
            f"its rim digs nowhere: a crown of {crown:.2f} mm is no flatter than the inside of "
            f"{inside_mm:.2f} mm"
        )
        return
    yield (
        f"its rim is narrow enough: the corners dig {dig:.4f} mm, "
        f"{DIG_SHARE * setup.depth_tolerance_mm:.4f} mm are allowed"
    )
