"""Programs for arcs in lines along an edge that is followed, from closed forms.

Nothing of the planner or of the proof: each line of a straight edge's program is laid along a
belly so that the wheel touches the arc at the angle of its own place.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from tests.proof.by_hand import (
    BEVEL,
    CHORD_MM,
    FORM,
    LINES_JOB,
    RELIEF_MM,
    SMALL_FORM,
    SMALL_WHEEL,
    Pass,
    lines,
)
from tests.proof.conftest import changed
from tests.proof.followed_programs import MACHINE, TURNING, Floats, Made, turned


@dataclass(frozen=True)
class Lined(Made):
    """Lines over an arc that lies level over a place along the face."""

    lines: Sequence[Pass] = ()
    bevel_rad: float = 0.0
    edge_mm: float = 0.0
    """Half of the finished edge's thickness where the face at zero meets y = 0."""
    zero_mm: float = 0.0
    """Along the face at zero from there: where the wheel bares."""
    level_mm: float = 0.0
    """From zero to the place over which the arc lies level."""
    apart_mm: float = 0.0
    """From the arc's middle to that of a wheel touching it: below 0 where the wheel lies inside."""
    section_mm: float = 0.0
    """Radius of the wheel in the section."""
    rim_mm: float = 0.0
    along: bool = False
    """Whether the wheel's axis lies along the traverse."""
    cross_off: Callable[[Floats, int], Floats] = field(default=lambda s, _: np.zeros_like(s))
    """Added to the cross at places along the edge in a pass."""

    def at_line(self, s: Floats, cross: Floats, depth: Floats) -> Floats:
        """(traverse, cross, infeed) of the program for a line, shape (n, 3)."""
        centre = self.line_centre(s, cross, depth)
        if self.turn:
            centre = turned(centre, -self.heading(s))
        one, none = np.array([self.touched_mm]), np.zeros(1)
        off = centre - self.line_centre(one, none, none)
        held = math.radians(self.tilt_deg)
        cross_dir = np.array([0.0, math.cos(held), self.side * math.sin(held)])
        infeed_dir = np.array([0.0, -math.sin(held), self.side * math.cos(held)])
        return np.stack([self.side * off[:, 0], off @ cross_dir, off @ infeed_dir], 1)

    def line_centre(self, s: Floats, cross: Floats, depth: Floats) -> Floats:
        """The wheel's middle, its lowest point so far along the face at zero, and below it."""
        edge, _, y, z = self.sections(s)
        cosine, sine = math.cos(self.bevel_rad), math.sin(self.bevel_rad)
        n, g = -sine * y + self.side * cosine * z, cosine * y + self.side * sine * z
        lean = (cross - self.level_mm) / self.apart_mm
        touching = np.sqrt(1.0 - lean**2)[:, None] * n + lean[:, None] * g
        middle = edge + self.side * self.edge_mm * z + (self.zero_mm + cross)[:, None] * g
        middle = middle + (self.section_mm - depth)[:, None] * n
        contact = middle - self.section_mm * touching
        held = math.radians(self.tilt_deg)
        w = np.array([[0.0, math.cos(held), self.side * math.sin(held)]])
        if self.along:
            w = np.array([[1.0, 0.0, 0.0]])
        if self.turn:
            w = turned(w, self.heading(s))
        on_axis = np.sum(touching * w, axis=1)[:, None]
        u = (touching - on_axis * w) / np.sqrt(1.0 - on_axis**2)
        found: Floats = contact + (self.wheel_mm - self.rim_mm) * u + self.rim_mm * touching
        return found

    def text(self, header: str = "", *, air_run: bool = False) -> str:
        """The whole program."""
        assert not air_run
        head = re.split(r"\nG0 A", Made.text(self, header))[0].split("\n")
        low, high = -self.run_off_mm, self.length_mm + self.run_off_mm
        step = math.sqrt(8.0 * self.chord_error_mm * self.radius_mm)
        way = np.linspace(low, high, math.ceil((high - low) / step) + 1)
        text = [*head, f"G0 A{self.tilt_deg:.3f}"]
        text += [f"G0 {self._words(way[:1], self._at(way[:1], -self.lift_mm, 0.0), 'XY')[0]}"]
        text += ["S2850 M3", "G4 P5.0", "M7"]
        for number, each in enumerate(self.lines, start=1):
            s = way if number % 2 else way[::-1]
            cross, depth = each.cross_mm or 0.0, each.depth_mm
            depths = depth + self.spoil(s, number)
            at = self.at_line(s, cross + self.cross_off(s, number), depths)
            total = len(self.lines)
            text.append(f"(pass {number} of {total} rough depth {depth:.4f} cross {cross:.4f})")
            words = self._words(s, at)
            text.append(f"G1 {words[0].split(' C')[0]} F200.0")
            edge_mm = abs(float(s[1] - s[0]))
            text += ["G93"] if self.turn else []
            for (before, here), there in zip(pairwise(at), words[1:], strict=True):
                feed = float(np.linalg.norm(here - before)) / edge_mm * self.feed_mm_s * 60.0
                feed = self.feed_mm_s / edge_mm * 60.0 if self.turn else feed
                text.append(f"G1 {there} F{feed:.1f}")
            text += ["G94"] if self.turn else []
        text += [f"G0 Z{self.safe_mm:.4f}", "M9", "M5", "M2"]
        return "\n".join([*text, ""])

    def _at(self, s: Floats, depth: float, cross: float) -> Floats:
        return self.at_line(s, np.full_like(s, cross), np.full_like(s, depth))

    def _words(self, s: Floats, at: Floats, letters: str = "XYZ") -> list[str]:
        words = [
            " ".join(
                f"{a}{round(float(v), 4) + 0.0:.4f}"
                for a, v in zip("XYZ", row, strict=True)
                if a in letters
            )
            for row in at
        ]
        if not self.turn:
            return words
        turns = np.degrees(self.heading(s)) * self.side * self.turn_sign
        return [f"{w} C{round(float(c), 4) + 0.0:.4f}" for w, c in zip(words, turns, strict=True)]


RIDGE = "0.020 mm"
SMALL = {**SMALL_FORM, "infeed": {"rough": "0.040 mm", "finish": "0.003 mm"}}
CROWNED = {
    **SMALL_WHEEL,
    "crown_radius": "30 mm",
    "infeed": {"rough": "0.040 mm", "finish": "0.003 mm"},
}
_RACK = {
    "rack": [*MACHINE["rack"][:1], FORM, SMALL, CROWNED],
    "limits.normal_force": "120 N",
    "stiffness": "20000 N/mm",
}
IN_LINES = changed(MACHINE, _RACK)
LAID_IN_LINES = changed(TURNING, _RACK)


def lines_job(edge: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The relief of an arc of 20 mm in lines by a wheel of 5 mm, on such an edge."""
    return changed(LINES_JOB, {"blade.edge": edge, "relief.scallop": RIDGE, **changes})


def relief_in_lines(**changes: Any) -> Lined:
    """A good program for the gentle belly, by the small form across the edge."""
    return Lined(
        **{
            "kind": "belly",
            "radius_mm": 180.0,
            "length_mm": 60.0,
            "wheel": "small form",
            "tilt_deg": 10.0,
            "lines": lines(1.0, [0.035, RELIEF_MM], spark_outs=0),
            "bevel_rad": BEVEL,
            "edge_mm": 0.1,
            "zero_mm": 1.2 + CHORD_MM / 2.0,
            "apart_mm": -15.0,
            "section_mm": 5.0,
            "rim_mm": 5.0,
            **changes,
        }
    )


def crowned(**changes: Any) -> Lined:
    """The same by the small wheel along the edge, its rim crowned."""
    return relief_in_lines(
        **{"wheel": "small wheel", "along": True, "wheel_mm": 5.0, "rim_mm": 30.0, **changes}
    )


def laid_in_lines(**changes: Any) -> Lined:
    """The same as the first along a stronger belly, laid along the traverse by the turn."""
    return relief_in_lines(**{"turn": True, "radius_mm": 62.0, **changes})
