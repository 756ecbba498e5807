"""A relief that is ground into a straight blank: what the bend afterwards makes of it.

The bend dishes the outside, face A, and crowns the inside, face B. A depth that the job asks for is
that of the bent blade, from the line over the two ends of the bevel face, where a stone lies; the
depth to grind is worked out from it (docs/edge-paths.md).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from planner.errors import Fact, Refusal, WayOut
from planner.formulas import anticlastic
from planner.inputs.edge_paths import BendEdge
from planner.inputs.job import Job
from planner.section.profile import BevelFace

_HALVINGS = 60
"""Of the range of depths; leaves less than the last bit of any of them."""


@dataclass(frozen=True)
class BendAfter:
    """The bend that a straight blank comes to."""

    radius_mm: float
    """Of the middle of the stock."""
    edge_radius_mm: float
    angle_deg: float
    poisson: float
    share: float
    """How much of the bound is made up for."""

    def curvature_per_mm(self, face: BevelFace) -> float:
        """That a face gets at the most."""
        return float(anticlastic.curvature_across(self.radius_mm, self.poisson, face.angle_rad))

    def deepens_mm(self, face: BevelFace, place_mm: float) -> float:
        """How much deeper the bend makes the face at a place, at the most; a crown below 0."""
        place = min(max(place_mm, 0.0), face.width_mm)
        dish = anticlastic.dish_at(place, face.width_mm, self.curvature_per_mm(face))
        return float(dish) if face.face == "A" else -float(dish)

    def counted_mm(self, face: BevelFace, place_mm: float) -> float:
        """The part of it that is made up for."""
        return self.share * self.deepens_mm(face, place_mm)


def bend_after(job: Job) -> BendAfter | None:
    """The bend that a blank comes to after it is ground; None of any other blade."""
    edge, share = job.blade.edge, job.relief.before_bend
    if share is None or not isinstance(edge, BendEdge):
        return None
    return BendAfter(
        radius_mm=edge.radius_mm + job.blade.section.middle_mm,
        edge_radius_mm=edge.radius_mm,
        angle_deg=edge.angle_deg,
        poisson=job.relief.poisson,
        share=share,
    )


def depth_to_grind(
    bend: BendAfter,
    face: BevelFace,
    asked_mm: float,
    most_mm: float,
    middle_mm: Callable[[float], float],
) -> float | Refusal:
    """Depth to grind into the blank so that the bent blade has the depth asked for.

    ``middle_mm`` gives the middle of the relief, along the face from where it begins, for a depth
    that is ground; ``most_mm`` is the deepest that the wheel goes.
    """

    def over(depth_mm: float) -> float:
        return depth_mm + bend.counted_mm(face, middle_mm(depth_mm)) - asked_mm

    dish = bend.counted_mm(face, face.width_mm / 2)
    if dish >= asked_mm:
        facts: dict[str, Fact] = {"face": face.face, "depth_mm": asked_mm, "dish_mm": dish}
        deeper = WayOut("deeper-than-dish", {"depth_mm": math.ceil(dish * 1e4) / 1e4})
        return Refusal("bend-dishes-enough", facts, (deeper, WayOut("ground-after-bend")))
    low, high = 0.0, min(asked_mm + max(-dish, 0.0), most_mm)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) < 0.0 else (low, middle)
    return high


def bent_away(bend: BendAfter, face: BevelFace, depth_mm: float, place_mm: float) -> Refusal | None:
    """The refusal of a hollow that the bend crowns away."""
    left = depth_mm + bend.counted_mm(face, place_mm)
    if left > 0.0:
        return None
    facts: dict[str, Fact] = {
        "face": face.face,
        "depth_mm": depth_mm,
        "crown_mm": depth_mm - left,
    }
    return Refusal(
        "bend-crowns-hollow", facts, (WayOut("smaller-wheel-deepens"), WayOut("ground-after-bend"))
    )
