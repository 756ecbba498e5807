"""A knife whose edge is straight and then one arc, and the wheels that follow it: for tests alone.

By hand from the figures of a job: nothing of the planner's formulas is used. X along the traverse,
Y toward the spine, Z to face A, from the edge at the anchor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Course:
    """``straight`` mm at the heading, then an arc of the radius that turns to the spine."""

    straight: float
    radius: float
    heading_deg: float
    length: float

    @property
    def anchor(self) -> float:
        """Where it lies along the traverse."""
        return self.straight - math.radians(self.heading_deg) * self.radius

    def heading(self, s: Floats) -> Floats:
        """Radians; beyond its ends it goes straight on."""
        arc = np.clip(s, self.straight, self.length) - self.straight
        return math.radians(self.heading_deg) + arc / self.radius

    def _from_joint(self, s: Floats) -> Floats:
        first = math.radians(self.heading_deg)
        psi = self.heading(s)
        x = self.radius * (np.sin(psi) - math.sin(first))
        y = self.radius * (math.cos(first) - np.cos(psi))
        before, after = np.minimum(s - self.straight, 0.0), np.maximum(s - self.length, 0.0)
        x = x + before * math.cos(first) + after * np.cos(psi)
        y = y + before * math.sin(first) + after * np.sin(psi)
        return np.stack([x, y, np.zeros_like(x)], axis=-1)

    def at(self, s: Floats) -> tuple[Floats, Floats, Floats]:
        """Edge, direction along it, and toward the spine. Shape: (n,) -> (n, 3) each."""
        s = np.asarray(s, float)
        psi, zero = self.heading(s), np.zeros_like(s)
        edge = self._from_joint(s) - self._from_joint(np.array(self.anchor))
        along = np.stack([np.cos(psi), np.sin(psi), zero], axis=-1)
        return edge, along, np.stack([-np.sin(psi), np.cos(psi), zero], axis=-1)


@dataclass(frozen=True)
class Face:
    """One bevel face of a double bevel: its half of the edge's thickness, and its angle."""

    course: Course
    side: float
    beta_deg: float
    at_edge: float

    def at(self, s: Floats) -> tuple[Floats, Floats, Floats]:
        """Where it meets the middle plane's edge, along it to the shoulder, and outward."""
        edge, _, spine = self.course.at(s)
        up = np.array([0.0, 0.0, self.side])
        sine, cosine = math.sin(math.radians(self.beta_deg)), math.cos(math.radians(self.beta_deg))
        return edge + self.at_edge * up, cosine * spine + sine * up, cosine * up - sine * spine


def reached_by_cylinders(
    centres: Floats, axis: Floats, radius: float, width: float, starts: Floats, up: Floats
) -> Floats:
    """How low flat rims reach along lines: where each line goes into any, from below.

    A point is inside a rim where its distance from the axis is less than the radius, and along the
    axis less than half the width. Shape: centres (n, 3), starts (m, 3) -> (m,).
    """
    away = starts[None] - centres[:, None]
    along = away @ axis
    flat, rise = away - along[..., None] * axis, up - (up @ axis) * axis
    a, b, c = rise @ rise, flat @ rise, (flat**2).sum(-1) - radius * radius
    meets = b * b - a * c
    heights = np.where(meets > 0.0, (-b - np.sqrt(np.maximum(meets, 0.0))) / a, 1e3)
    on_rim = np.abs(along + heights * (up @ axis)) <= width / 2
    heights = np.where(on_rim, heights, 1e3)
    lowest = np.clip(heights.argmin(axis=0), 1, len(centres) - 2)
    columns = np.arange(len(starts))
    one, two, three = (heights[lowest + k, columns] for k in (-1, 0, 1))
    bend = one - 2.0 * two + three
    dip = (three - one) ** 2 / (8.0 * np.maximum(bend, 1e-300))
    return np.asarray(two - np.where((bend > 0.0) & (bend < 1.0), dip, 0.0))
