"""Bevels that bulge of other forms and along arcs, from positions worked out by hand.

The positions come from ``docs/operations.md`` and ``docs/edge-paths.md`` alone: nothing of the
planner or of the proof.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from planner.inputs.job import BevelOperation, Job, LandsOperation, ReliefOperation
from tests.proof.by_hand import (
    OPERATIONS_JOB,
    RACK_MACHINE,
    Pass,
    program,
    straight_down,
    to_depth,
)
from tests.proof.conftest import changed


class Arc(NamedTuple):
    """A face that bulges, in (y, w): w outward from the middle of the edge."""

    radius_mm: float
    edge_mm: float
    """w of the edge's corner."""
    stock_mm: float
    """w of the bar."""
    first_deg: float

    @property
    def middle(self) -> tuple[float, float]:
        """A radius below the edge, along the normal there."""
        first = math.radians(self.first_deg)
        return (
            self.radius_mm * math.sin(first),
            self.edge_mm - self.radius_mm * math.cos(first),
        )

    @property
    def last_deg(self) -> float:
        """Where the arc is as high as the bar."""
        return math.degrees(math.acos(min((self.stock_mm - self.middle[1]) / self.radius_mm, 1.0)))

    @property
    def shoulder(self) -> tuple[float, float]:
        """Where it is as high as the bar."""
        last = math.radians(self.last_deg)
        return self.middle[0] - self.radius_mm * math.sin(last), self.stock_mm

    def facet_depths_mm(self, angles_deg: Sequence[float]) -> list[float]:
        """How far each tangent lies below the corner that it begins on, the one before it done."""
        corner, depths = (0.0, self.stock_mm), []
        for degrees in angles_deg:
            normal = (-math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))
            plane = self.middle[0] * normal[0] + self.middle[1] * normal[1] + self.radius_mm
            depths.append(corner[0] * normal[0] + corner[1] * normal[1] - plane)
            corner = ((normal[1] * self.stock_mm - plane) / -normal[0], self.stock_mm)
        return depths

    def lines(
        self, count: int, layers: int, wheel_mm: float, tilt_deg: float, more_mm: float = 0.0
    ) -> list[Pass]:
        """Lines side by side at a tilt, layer by layer and the last once more.

        The wheel's centre stays both radii from the middle of the arc, which is moved along the
        normal of the tilt; cross 0 is where the wheel's lowest point bares on the corner.
        """
        tilt = math.radians(tilt_deg)
        y, w = self.middle[0], self.middle[1] - self.stock_mm
        along, up = y * math.cos(tilt) + w * math.sin(tilt), w * math.cos(tilt) - y * math.sin(tilt)
        apart = self.radius_mm + wheel_mm
        # Straight below the corner the arc is so deep.
        deep = -up - math.sqrt(self.radius_mm**2 - along**2)
        passes = []
        for layer in [*range(1, layers + 1), layers]:
            raised = deep * (layers - layer) / layers - (more_mm if layer == layers else 0.0)
            for n in range(count):
                share = n / (count - 1)
                angle = self.first_deg + (self.last_deg - self.first_deg) * share
                cross = round(along + apart * math.sin(math.radians(tilt_deg - angle)), 4)
                high = up + raised + math.sqrt(apart**2 - (cross - along) ** 2) - wheel_mm
                depth = math.floor(-high * 1e4 + 1e-6) / 1e4
                if depth > 0.0:
                    passes.append(Pass(-depth, depth, cross))
        return passes


# By hand: a strip of 2.2 mm, 0.2 mm left at the edge, so face A lies 0.1 and 2.1 mm from the
# middle of the edge; its arc goes from 40 to 20 deg.
HOOK = Arc(2.0 / (math.cos(math.radians(20.0)) - math.cos(math.radians(40.0))), 0.1, 2.1, 40.0)
# By hand: facets 5 deg apart leave 11.5175 (1 / cos 2.5 deg - 1) = 0.01097 mm, 6.667 deg 0.0195 mm.
HOOK_DEG = (40.0, 35.0, 30.0, 25.0, 20.0)
HOOK_RIDGE_MM = HOOK.radius_mm * (1.0 / math.cos(math.radians(2.5)) - 1.0)
HOOK_SECTION = {
    "form": "hook",
    "thickness": "2.2 mm",
    "width": "12 mm",
    "angle": "40 deg",
    "radius": f"{HOOK.radius_mm:.12f} mm",
    "edge_thickness": "0.2 mm",
    "back_radius": "0.6 mm",
}
BEND = {"path": "bend", "radius": "30 mm", "angle": "60 deg"}
MM_PER_DEG = 30.0 * math.pi / 180.0
TURN_MACHINE = changed(
    RACK_MACHINE,
    {
        "axes.C.travel": ["-200 deg", "200 deg"],
        "axes.C.max_feed": "7200 deg/min",
        "stiffness": "20000 N/mm",
        "rack.0.infeed.rough": "0.120 mm",
        "rack.2.infeed.rough": "0.120 mm",
        "rack.2.width": "10 mm",
        "limits.normal_force": "80 N",
        "fixture.jaws": None,
    },
)


def hook_job(**changes: Any) -> Mapping[str, Any]:
    """A job for the hook, its operations left out; ``__`` stands for the dot of a path."""
    paths = {key.replace("__", "."): value for key, value in changes.items()}
    return changed(
        OPERATIONS_JOB,
        {
            "blade.section": HOOK_SECTION,
            "relief.faces": "A",
            "relief.edge_land": "1.2 mm",
            "relief.shoulder_land": "1.2 mm",
            "relief.land_tolerance": "0.15 mm",
            "operations": None,
            **paths,
        },
    )


def ground_from_bar(
    data: Mapping[str, Any], wheel: str = "flat", ridge_mm: float | None = 0.012, lands: str = ""
) -> Job:
    """The job with its bevel from the bar, put in past what the rules of a job file ask of it."""
    operations: list[BevelOperation | ReliefOperation | LandsOperation] = [
        BevelOperation.model_validate(
            {
                "do": "bevel",
                "wheel": wheel,
                "edge_thickness_tolerance": "0.05 mm",
                "ridge": None if ridge_mm is None else f"{ridge_mm} mm",
            }
        ),
        ReliefOperation.model_validate({"do": "relief", "wheel": "form"}),
    ]
    if lands:
        operations.append(LandsOperation.model_validate({"do": "lands", "wheel": lands}))
    return Job.model_validate(dict(data)).model_copy(update={"operations": operations})


HOOK_BEND = hook_job(blade__edge=BEND)
# By hand: two circles of 20 and 11.5175 mm that are 4 deg apart leave 0.0111 mm, 5 deg 0.0174 mm.
HOOK_LINES = HOOK.lines(6, 14, 20.0, 30.0)
# By hand: an arc of 30 deg at the edge that is level with the bar at 12 deg on face A, one of
# 24 deg that is at 12 deg on face B; a flat of 15 deg that rises as far.
ARC_A = Arc(0.9 / (math.cos(math.radians(12.0)) - math.cos(math.radians(30.0))), 0.1, 1.0, 30.0)
ARC_B = Arc(0.7 / (math.cos(math.radians(12.0)) - math.cos(math.radians(24.0))), 0.1, 0.8, 24.0)
FLAT_DEG = 15.0


def outline_section(
    face_b: Arc | float | None, behind_mm: tuple[float, float] = (0.0, 0.3)
) -> dict[str, Any]:
    """An outline: ``ARC_A`` on face A; on face B an arc, the bar's height of a flat, or a back.

    Behind each shoulder it falls by ``behind_mm`` to y = 14 and 18 mm.
    """

    def points(shoulder: tuple[float, float]) -> list[list[str]]:
        (y, w), (first, second) = shoulder, behind_mm
        corners = [(0.0, 0.1), (y, w), (14.0, w - first), (18.0, w - second)]
        return [[f"{a:.12f} mm", f"{b:.12f} mm"] for a, b in corners]

    section: dict[str, Any] = {"form": "outline", "face_a_radius": f"{ARC_A.radius_mm:.12f} mm"}
    section["face_a"] = points(ARC_A.shoulder)
    if face_b is None:
        section["face_b"] = [["0 mm", "0.1 mm"], ["18 mm", "0.1 mm"]]
    elif isinstance(face_b, Arc):
        section["face_b"] = points(face_b.shoulder)
        section["face_b_radius"] = f"{face_b.radius_mm:.12f} mm"
    else:
        run = (face_b - 0.1) / math.tan(math.radians(FLAT_DEG))
        section["face_b"] = points((run, face_b))
    return section


def facet_passes(depth_mm: float, more_mm: float = 0.0) -> list[Pass]:
    """Passes of one facet."""
    return straight_down(to_depth(0.05, depth_mm + more_mm, 1))


def hook_facet(number: int, more_mm: float = 0.0, **changes: Any) -> str:
    """One facet of the hook on a straight edge, counted from 1."""
    passes = facet_passes(HOOK.facet_depths_mm(HOOK_DEG)[number - 1], more_mm)
    setup, tilt = f"bevel-A-{number}", HOOK_DEG[number - 1]
    asked = {"setup": setup, "wheel": "flat", "passes": passes, "tilt_deg": tilt}
    return program(**{**asked, **changes})


def turned(text: str, face: str = "A", past_deg: float = 50.0, arc_deg: float = 60.0) -> str:
    """The same program with the edge turned under the wheel: the traverse told once, and 0.

    Face A from heel to tip is 0 to the arc's angle, face B, end for end, tip to heel 0 to minus it.
    """
    ends = (-past_deg, arc_deg + past_deg) if face == "A" else (past_deg, -arc_deg - past_deg)
    minutes = abs(ends[1] - ends[0]) * MM_PER_DEG / 1000.0
    lines, there = [], False
    for line in text.split("\n"):
        if line.startswith("G0 X"):
            cross = line.split(" ")[2]
            lines += [f"G0 X0.0000 {cross} C{ends[0]:.3f}"]
        elif line.startswith("G1 X"):
            there = not there
            lines += [f"G93 G1 C{ends[there]:.3f} F{1.0 / minutes:.4f}"]
        elif line.startswith("G1 Z"):
            lines += [f"G94 {line}"]
        else:
            lines.append(line)
    return "\n".join(lines)
