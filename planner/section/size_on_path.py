"""A wheel of another size than its programs were written for, along an edge that is followed.

The straight axes take the middle of the wheel where one of the stated size belongs. Touched off at
the anchor, another is at the right depth there, and off wherever the face is turned from there
(docs/edge-paths.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.formulas.wheel_support import deeper_by_size
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.section.edge_course import FacePlane, along_the_traverse, followed_course
from planner.section.profile import BevelFace
from planner.section.wheel_shape import crown_mm

_LOOKS = 241
_NOTHING = 1e-9


@dataclass(frozen=True)
class SizeOnPath:
    """What a millimetre of radius too much does to the depth, at the worst place of the edge."""

    per_wheel_radius: float
    """Of the radius about the wheel's axis."""
    per_rim_radius: float
    """Of the radius across its rim; 0 for a flat one."""
    across_edge: bool

    @property
    def per_arc(self) -> float:
        """Of the radius that makes the hollow."""
        return self.per_rim_radius if self.across_edge else self.per_wheel_radius

    @property
    def per_other(self) -> float:
        """Of the other one."""
        return self.per_wheel_radius if self.across_edge else self.per_rim_radius


def size_on_path(job: Job, machine: Machine, wheel: Wheel, face: BevelFace) -> SizeOnPath:
    """Both are 0 where the edge is not followed, and where a turn keeps the wheel square to it.

    The tilt is taken to lay the face level, as it does but for its own error.
    """
    across = wheel.contact == "across_edge"
    course = followed_course(job, machine)
    if course is None or any(axis.role == "turn" for axis in machine.axes.values()):
        return SizeOnPath(0.0, 0.0, across)
    plane = FacePlane(face.face, face.angle_rad, face.at_edge_mm)
    _, normal = plane.directions(
        course.at(np.append(np.linspace(0.0, course.edge.length_mm, _LOOKS), course.anchor_mm))
    )
    # Where the edge lies nowhere along the traverse, cross and infeed still do not turn with it.
    level, up = plane.directions(along_the_traverse())
    axis = level if across else np.array([1.0, 0.0, 0.0])
    deeper = deeper_by_size(normal, axis, normal[-1], up)
    flat = not across and crown_mm(wheel) is None
    worst = [float(np.abs(per).max()) for per in deeper]
    worst = [0.0 if one < _NOTHING else one for one in worst]
    return SizeOnPath(worst[0], 0.0 if flat else worst[1], across)
