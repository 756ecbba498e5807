"""A flat that follows an edge, as the section of a station meets it: leaning, and bent a little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.proof.left_by import LeftFlat
from planner.proof.steel import Floats
from planner.proof.target import Face
from planner.proof.tool import RimTool, Stand


@dataclass(frozen=True)
class LeaningTool(RimTool):
    """The outline that passes under a place: its face as it was found, the rim's corners beside.

    Its own axes lie along the face and out of it, whatever the tilt.
    """

    face: Face
    left: LeftFlat

    def outline_uv_mm(self, error_mm: float) -> Floats:
        """See ``Tool``; counterclockwise from the left wall's foot."""
        lower = np.column_stack([self.left.places_mm, -np.array(self.left.deeper_mm)])
        rim, flank = super().outline_uv_mm(error_mm), self.width_mm / 2.0 - self.corner_mm
        # The rim's own line ends where its corners begin: they are moved to the ends of the face.
        below, above = rim[:-2], rim[-2:]
        right = below[below[:, 0] > flank + 1e-12] - [flank, 0.0] + lower[-1]
        beside = below[below[:, 0] < -flank - 1e-12] + [flank, 0.0] + lower[0]
        high = above[0, 1]
        top = [[lower[-1, 0] + self.corner_mm, high], [lower[0, 0] - self.corner_mm, high]]
        found: Floats = np.vstack([beside, lower, right, top])
        return found

    def _placed(self, outline: Floats, stand: Stand) -> Floats:
        axes = np.array([self.face.along, self.face.normal])
        placed: Floats = np.array(stand.centre) + outline @ axes
        return placed
