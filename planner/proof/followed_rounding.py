"""How far along the face whole steps of the axes may put a wheel that follows an edge."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from planner.proof.followed import Followed

_EVEN = 241


def beside_mm(followed: Followed, steps: Mapping[str, float]) -> float:
    """The most that half a step of each axis by role moves the wheel along the face; mm, deg.

    Each axis is moved by itself at places all along the edge, and where the wheel then stands is
    found as of any position: it is tangent a little further on too, where the face lies otherwise.
    """
    s = np.linspace(0.0, followed.line.length_mm, _EVEN)
    places, turns = followed.positions(followed.line.at(s))
    still = followed.unroll(places, turns).along_mm
    off = np.zeros_like(s)
    for n, role in enumerate(("traverse", "cross", "infeed")):
        half = np.zeros(3)
        half[n] = steps.get(role, 0.0) / 2.0
        off += np.abs(followed.unroll(places + half, turns).along_mm - still)
    half_turn = steps.get("turn", 0.0) / 2.0
    off += np.abs(followed.unroll(places, turns + half_turn).along_mm - still)
    return float(off.max())
