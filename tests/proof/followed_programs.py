"""Programs for edges that the straight axes follow, from closed forms of the documented geometry.

Nothing of the planner or of the proof: an edge is one arc, about an axis along the blade's height
(a bend) or across its plane (a belly), and the wheel is a body of revolution.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.proof.by_hand import FORM
from tests.proof.conftest import JOB, MILL, changed

Floats = NDArray[np.float64]

BETA = math.radians(12.5)
BEND = {"path": "bend", "radius": "60 mm", "angle": "40 deg"}
BELLY = {"path": "curve", "arcs": [{"length": "70 mm", "radius": "180 mm"}]}
COARSE = {**FORM, "infeed": {"rough": "0.030 mm", "finish": "0.003 mm"}}
INSIDE = {**COARSE, "name": "inside", "diameter": "30 mm", "marked_speed": "30000 rpm"}
LOPSIDED = {"path": "curve", "arcs": [{"length": "70 mm", "radius": "180 mm"}], "heading": "-5 deg"}
AXES = {letter: copy.deepcopy(axis) for letter, axis in MILL["axes"].items() if letter != "C"}
MACHINE = changed(
    MILL,
    {
        "axes": AXES,
        "axes.Y.travel": ["-60 mm", "60 mm"],
        "axes.Z.travel": ["-60 mm", "60 mm"],
        "rack": [*MILL["rack"], COARSE, INSIDE],
        "fixture.jaws": None,
    },
)


TURNING = changed(MACHINE, {"axes.C": MILL["axes"]["C"], "controller.rotary_decimals": 4})
"""The same with a turn; in steps of a thousandth of a degree the tip would be 0.2 um off."""


def job(edge: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The sample's job on such an edge: both bevels at 12.5 deg, lands of 1.2 and 1.4 mm."""
    return changed(JOB, {"blade.edge": edge, "relief.faces": "A", **changes})


FACE_MM = 1.5 / math.sin(BETA)
CHORD_MM = FACE_MM - 2.6
MIDDLE_MM = 1.2 + CHORD_MM / 2.0
RIM_MM = 20.0
DEPTH_MM = RIM_MM - math.sqrt(RIM_MM**2 - CHORD_MM**2 / 4.0)
"""By hand: the chord in the circle of the form."""


@dataclass(frozen=True)
class Made:
    """A path for the form across the edge, ground on face A."""

    kind: str
    radius_mm: float
    length_mm: float
    run_off_mm: float = 12.0
    face: str = "A"
    wheel: str = "form"
    wheel_mm: float = 75.0
    anchor_mm: float | None = None
    """From the heel to where the edge runs along the traverse; left out, its middle."""
    passes: tuple[float, ...] = (0.010, 0.020, 0.030)
    chord_error_mm: float = 1.5e-4
    feed_mm_s: float = 8.0
    lift_mm: float = 5.0
    anchor_off_mm: float = 0.0
    spoil: Callable[[Floats, int], Floats] = field(default=lambda s, _: np.zeros_like(s))
    """Depth added at places along the edge in a pass."""
    safe_mm: float = 40.0
    turn_sign: float = 1.0
    setup: str = ""
    """Its name; left out, that of the face."""
    tilt_deg: float = 12.5
    turn: bool = False
    """Whether a turn lays each place of a belly along the traverse; blocks then tell their time."""

    @property
    def side(self) -> float:
        """+1 on face A, -1 on face B, which is turned end for end."""
        return 1.0 if self.face == "A" else -1.0

    @property
    def touched_mm(self) -> float:
        """Where the wheel is touched off."""
        return self.length_mm / 2.0 if self.anchor_mm is None else self.anchor_mm

    def sections(self, s: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Edge, tangent, y and z of the section, each (n, 3), from the middle of the edge."""
        angle = (s - self.touched_mm) / self.radius_mm
        zero, one = 0.0 * angle, 0.0 * angle + 1.0
        sine, cosine = np.sin(angle), np.cos(angle)
        rho = self.radius_mm
        if self.kind == "bend":
            return (
                np.stack([rho * sine, zero, rho * (cosine - 1.0)], 1),
                np.stack([cosine, zero, -sine], 1),
                np.stack([zero, one, zero], 1),
                np.stack([sine, zero, cosine], 1),
            )
        # A belly ends where the curve does: beyond, it goes on along its tangent.
        inside = np.clip(s, 0.0, self.length_mm)
        angle = (inside - self.touched_mm) / rho
        sine, cosine, past = np.sin(angle), np.cos(angle), s - inside
        return (
            np.stack([rho * sine + past * cosine, rho * (1.0 - cosine) + past * sine, zero], 1),
            np.stack([cosine, sine, zero], 1),
            np.stack([-sine, cosine, zero], 1),
            np.stack([zero, zero, one], 1),
        )

    def normal(self, s: Floats) -> Floats:
        """Out of the face."""
        _, _, y, z = self.sections(s)
        found: Floats = -math.sin(BETA) * y + self.side * math.cos(BETA) * z
        return found

    def centre(self, s: Floats, depth: Floats) -> Floats:
        """The wheel's middle, its axis along the cross of the machine."""
        edge, _, y, z = self.sections(s)
        n = self.normal(s)
        along = math.cos(BETA) * y + self.side * math.sin(BETA) * z
        w = np.array([[0.0, math.cos(BETA), self.side * math.sin(BETA)]])
        if self.turn:
            w = turned(w, self.heading(s))
        lean = np.sum(n * w, axis=1)[:, None]
        u = (n - lean * w) / np.sqrt(1.0 - lean**2)
        over = (self.wheel_mm - RIM_MM) * u + RIM_MM * n
        found: Floats = edge + MIDDLE_MM * along - depth[:, None] * n + over
        return found

    def heading(self, s: Floats) -> Floats:
        """Of a belly, from the traverse toward the spine."""
        return (np.clip(s, 0.0, self.length_mm) - self.touched_mm) / self.radius_mm

    def machine(self, s: Floats, depth: Floats) -> Floats:
        """(traverse, cross, infeed) of the program, shape (n, 3)."""
        anchor = np.array([self.touched_mm + self.anchor_off_mm])
        centre = self.centre(s, depth)
        if self.turn:
            centre = turned(centre, -self.heading(s))
        off = centre - self.centre(anchor, np.zeros(1))
        cosine, sine = math.cos(math.radians(self.tilt_deg)), math.sin(math.radians(self.tilt_deg))
        cross = np.array([0.0, cosine, self.side * sine])
        infeed = np.array([0.0, -sine, self.side * cosine])
        return np.stack([self.side * off[:, 0], off @ cross, off @ infeed], 1)

    def text(self, header: str = "", *, air_run: bool = False) -> str:
        """The whole program."""
        low, high = -self.run_off_mm, self.length_mm + self.run_off_mm
        # The middle of the wheel goes round the axis of a bend on a circle of its own.
        about = self.radius_mm
        if self.kind == "bend":
            about += self.side * self.wheel_mm
        step = math.sqrt(8.0 * self.chord_error_mm * about) * self.radius_mm / about
        count = math.ceil((high - low) / step)
        ways = [np.linspace(low, high, count + 1), np.linspace(high, low, count + 1)]
        kind = "air run" if air_run else "cutting"
        one = np.ones(1)

        def words(position: Floats, s: float) -> str:
            x, y, z = (round(float(v), 4) + 0.0 for v in position)
            return f"X{x:.4f} Y{y:.4f} Z{z:.4f}{angle(s)}"

        def angle(s: float) -> str:
            if not self.turn:
                return ""
            turn = math.degrees(float(self.heading(s * one)[0])) * self.side * self.turn_sign
            return f" C{round(turn, 4) + 0.0:.4f}"

        def over(s: float) -> str:
            x, y, _ = (round(float(v), 4) + 0.0 for v in self.machine(s * one, -5.0 * one)[0])
            return f"X{x:.4f} Y{y:.4f}{angle(s)}"

        lines = [
            "(bevelwright program)",
            f"(setup {self.setup or self.face} face {self.face})",
            f"(kind {kind})",
            f"(wheel {self.wheel})",
            *([header] if header else []),
            "(units mm)",
            "(clear 5.0000)",
            "G21",
            "G17 G90 G94",
            "G40 G49 G80",
            "G54",
            "G64 P0.0050",
            f"G0 Z{self.safe_mm:.4f}",
            f"G0 A{self.tilt_deg:.3f}",
            f"G0 {over(low)}",
        ]
        if not air_run:
            lines += ["S2850 M3", "G4 P5.0", "M7"]
        start = words(self.machine(low * one, -self.lift_mm * one)[0], low)
        lines.append(f"G0 {start}")
        total = len(self.passes)
        for number, depth in enumerate(self.passes, start=1):
            s = ways[(number + 1) % 2]
            deep = -5.0 if air_run else depth
            depths = deep + self.spoil(s, number)
            at = self.machine(s, depths)
            if not air_run:
                lines.append(f"(pass {number} of {total} rough depth {depth:.4f})")
            first = words(at[0], s[0]).split(" C")[0]
            lines.append(f"G1 {first} F200.0")
            edge_mm = abs(float(s[1] - s[0]))
            if self.turn:
                lines.append("G93")
            for (before, here), there in zip(pairwise(at), s[1:], strict=True):
                feed = float(np.linalg.norm(here - before)) / edge_mm * self.feed_mm_s * 60.0
                if self.turn:
                    feed = self.feed_mm_s / edge_mm * 60.0
                lines.append(f"G1 {words(here, there)} F{feed:.1f}")
            if self.turn:
                lines.append("G94")
        end = ways[(total + 1) % 2][-1]
        lines.append(f"G0 {words(self.machine(end * one, -self.lift_mm * one)[0], end)}")
        lines.append(f"G0 Z{self.safe_mm:.4f}")
        lines += ["M2"] if air_run else ["M9", "M5", "M2"]
        return "\n".join([*lines, ""])


def turned(vectors: Floats, angle: Floats) -> Floats:
    """Turned from X toward Y."""
    x, y, z = vectors[:, 0], vectors[:, 1], vectors[:, 2]
    sine, cosine = np.sin(angle), np.cos(angle)
    return np.stack([cosine * x - sine * y, sine * x + cosine * y, z + 0.0 * sine], 1)


def steps(depth_mm: float, rough_mm: float, again: int) -> tuple[float, ...]:
    """Equal steps to a depth, and the last over again."""
    last = math.floor(depth_mm * 1e4) / 1e4
    count = math.ceil(last / rough_mm)
    return (*(round(last * n / count, 4) for n in range(1, count + 1)), *([last] * again))


def bend(**changes: Any) -> Made:
    """A good program for the bend."""
    found = {"passes": steps(DEPTH_MM, 0.0295, 2), **changes}
    return Made("bend", 60.0, 60.0 * math.radians(40.0), **found)


def inside(**changes: Any) -> Made:
    """A good program for the inside of the bend."""
    found = {"passes": steps(DEPTH_MM, 0.0295, 2), "feed_mm_s": 4.0, **changes}
    length = 60.0 * math.radians(40.0)
    return Made("bend", 60.0, length, face="B", wheel="inside", wheel_mm=15.0, **found)


def lopsided(**changes: Any) -> Made:
    """A good program for a belly whose heel is the nearer to the anchor."""
    found = {"passes": steps(DEPTH_MM, 0.0295, 2), **changes}
    return Made("belly", 180.0, 70.0, anchor_mm=180.0 * math.radians(5.0), **found)


def turning(**changes: Any) -> Made:
    """The same belly, each place laid along the traverse by the turn."""
    return lopsided(**{"turn": True, **changes})


def belly(**changes: Any) -> Made:
    """A good program for the belly."""
    found = {"passes": steps(DEPTH_MM, 0.0295, 2), **changes}
    return Made("belly", 180.0, 70.0, **found)
