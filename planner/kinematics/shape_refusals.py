"""Is the wheel of the shape that its operation needs, and wide enough for it?"""

from __future__ import annotations

import math

from planner.errors import Fact, Refusal, WayOut
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.kinematics.touch_frame import TouchFrame, axis_letter
from planner.section.bulge_work import BulgeWork
from planner.section.spread import depth_tolerance_mm
from planner.section.wheel_shape import flat_width_mm, is_round, section_radius_mm, widest_chord_mm
from planner.section.work import FaceWork, raised_lands_mm

FLAT_SIGMAS = 3.0
"""A flat wheel covers the face at three standard deviations of its cross setting. Common
practice, no source."""


def round_refusals(wheel: Wheel) -> list[Refusal]:
    """A relief is an arc: a wheel that is flat in the section cannot grind one."""
    if is_round(wheel):
        return []
    return [
        Refusal(
            "flat-for-relief",
            {"wheel": wheel.name, "contact": wheel.contact},
            (WayOut("round-wheel"),),
        )
    ]


def line_refusals(machine: Machine, wheel: Wheel, arc_mm: float) -> list[Refusal]:
    """Why this wheel on this machine cannot generate an arc in lines."""
    found = []
    if axis_letter(machine, "cross") is None:
        found.append(Refusal("lines-need-cross", {"wheel": wheel.name}, (WayOut("no-scallop"),)))
    if section_radius_mm(wheel) >= arc_mm:
        facts: dict[str, Fact] = {
            "wheel": wheel.name,
            "radius_mm": section_radius_mm(wheel),
            "arc_mm": arc_mm,
        }
        ways = (WayOut("smaller-wheel", {"diameter_mm": 2 * arc_mm}), WayOut("no-scallop"))
        found.append(Refusal("wheel-over-arc", facts, ways))
    return found


def shape_refusals(job: Job, machine: Machine, work: FaceWork, frame: TouchFrame) -> list[Refusal]:
    """Every way in which the wheel does not suit its operation."""
    if work.operation == "relief":
        return [*_narrow_form(work, frame), *_no_lands_left(work)]
    if isinstance(work, BulgeWork):
        return _bulge_refusals(machine, work, frame)
    return flat_refusals(job, machine, work, frame)


def flat_refusals(
    job: Job, machine: Machine, work: FaceWork, frame: TouchFrame, aslant: float = 1.0
) -> list[Refusal]:
    """Is the wheel flat, held at the face's angle, and as wide as it?

    ``aslant`` is the length of rim over the face for a millimetre of it, where the rim lies aslant
    to an edge that it follows.
    """
    wheel = work.wheel
    if is_round(wheel):
        facts: dict[str, Fact] = {"wheel": wheel.name, "operation": work.operation}
        if work.operation == "bevel" and job.bevel_ridge_mm is not None:
            facts = {"wheel": wheel.name, "face": work.face.face}
            return [Refusal("lines-beside-flat", facts, (WayOut("flat-for-bulge"),))]
        return [Refusal("round-for-flat", facts, (WayOut("flat-wheel"),))]
    tilted = _tilted_flat(job, work, frame)
    needed = (
        aslant * work.ground_width_mm
        + 2 * FLAT_SIGMAS * machine.fixture.cross_setting_mm
        + 2 * abs(work.place_mm - work.asked_place_mm)
    )
    if flat_width_mm(wheel) >= needed:
        return tilted
    facts = {
        "wheel": wheel.name,
        "face": work.face.face,
        "flat_mm": flat_width_mm(wheel),
        "needed_mm": needed,
    }
    ways = [WayOut("wider-flat", {"width_mm": needed})]
    if work.place_mm != work.asked_place_mm:
        place: dict[str, Fact] = {"face": work.face.face, "place_mm": work.asked_place_mm}
        ways.append(WayOut("cross-setting", place))
    return [Refusal("flat-too-narrow", facts, tuple(ways)), *tilted]


TILT_SHARE = 0.25
"""Share of the depth tolerance that a flat may stand off by at the edge of the face. Common
practice, no source."""


def lean_allowed_mm(job: Job, work: FaceWork) -> float:
    """How far a flat may stand off its face at the end of it, or beside both lands."""
    allowed = TILT_SHARE * depth_tolerance_mm(job, work)
    return min(allowed, work.depth_mm / 2) if work.operation == "lands" else allowed


def _tilted_flat(job: Job, work: FaceWork, frame: TouchFrame) -> list[Refusal]:
    """A flat held beside the face's own angle grinds one end of it deeper than the other."""
    turned = math.tan(math.radians(abs(frame.tilt_deg - frame.ideal_tilt_deg)))
    off = turned * work.ground_width_mm
    allowed = lean_allowed_mm(job, work)
    if work.operation == "lands":
        # The middle comes out right, and each land is off by half; both must be ground.
        off = off / 2 + turned * abs(work.place_mm - work.asked_place_mm)
    if off <= allowed:
        return []
    facts: dict[str, Fact] = {
        "face": work.face.face,
        "has_deg": frame.tilt_deg,
        "wanted_deg": frame.ideal_tilt_deg,
        "off_mm": off,
        "allowed_mm": allowed,
    }
    return [Refusal("tilt-off-for-flat", facts, (WayOut("wedge", facts),))]


def _bulge_refusals(machine: Machine, work: BulgeWork, frame: TouchFrame) -> list[Refusal]:
    """Why a round wheel cannot make a bevel that bulges in lines."""
    wheel = work.wheel
    if axis_letter(machine, "cross") is None:
        facts: dict[str, Fact] = {"wheel": wheel.name, "ridge_mm": work.ridge_mm or 0.0}
        return [Refusal("bulge-needs-cross", facts, (WayOut("flat-for-bulge"),))]
    if wheel.contact == "along_edge":
        return []
    # The place of contact goes round the form as the arc turns, and beside it half a spacing more.
    assert work.wheel_radius_mm is not None
    arc = work.line_arc
    turn = (arc.last_rad - arc.first_rad) / 2
    places = len(arc.lines()) - 1
    ends = min(turn * (1 + (1 + arc.radius_mm / work.wheel_radius_mm) / places), math.pi / 2)
    chord = 2 * work.wheel_radius_mm * math.sin(ends)
    widest = widest_chord_mm(wheel, math.radians(frame.tilt_deg - frame.ideal_tilt_deg))
    if chord <= widest:
        return []
    facts = {
        "wheel": wheel.name,
        "face": work.face.face,
        "chord_mm": chord,
        "widest_mm": widest,
        "width_mm": wheel.width_mm,
    }
    ways = (WayOut("wider-form"), WayOut("flat-for-bulge"))
    return [Refusal("form-too-narrow", facts, ways)]


def _narrow_form(work: FaceWork, frame: TouchFrame) -> list[Refusal]:
    off = math.radians(frame.tilt_deg - frame.ideal_tilt_deg)
    widest, chord = widest_chord_mm(work.wheel, off), 2 * _half_chord_mm(work)
    if work.in_lines:
        # The place of contact goes round the rim by as much as the arc turns.
        assert work.wheel_radius_mm is not None
        chord *= work.wheel_radius_mm / work.section.wheel_radius_mm
    if chord <= widest:
        return []
    facts: dict[str, Fact] = {
        "wheel": work.wheel.name,
        "face": work.face.face,
        "chord_mm": chord,
        "widest_mm": widest,
        "width_mm": work.wheel.width_mm,
    }
    return [Refusal("form-too-narrow", facts, (WayOut("wider-form"), WayOut("wider-lands")))]


def _half_chord_mm(work: FaceWork) -> float:
    edge, shoulder = raised_lands_mm(work)
    return (work.face_width_mm(work.after.outside_mm) - edge - shoulder) / 2


def _no_lands_left(work: FaceWork) -> list[Refusal]:
    """The relief is cut deeper where lands are taken down later: it must stay inside its face."""
    edge, shoulder = raised_lands_mm(work)
    if work.after.outside_mm == 0 or min(edge, shoulder) > 0:
        return []
    facts: dict[str, Fact] = {
        "face": work.face.face,
        "allowance_mm": work.after.outside_mm,
        "edge_land_mm": edge,
        "shoulder_land_mm": shoulder,
    }
    return [
        Refusal("allowance-too-large", facts, (WayOut("less-allowance"), WayOut("wider-lands")))
    ]
