"""The blade's heat as the search of the schedule sees it: a few modes at the two ends of the edge.

The ends are hit twice in a row by two-way traverse, so they are hotter than the middle; one of the
two is *near*, where the next pass enters, and one *far*. Each keeps the amplitudes of the slowest
modes of the section at one depth, so that a pass, a pause and a dip are a few products for any
number of ways at once. What a schedule really reaches is marched afterwards with the whole section
of each pass (planner/heat/march.py).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_NEWTON = 4
"""Steps to the length of a pause; the logarithm of a sum of decays is nearly straight."""


@dataclass(frozen=True, eq=False)
class BladeHeat:
    """What passes add to the blade and what it keeps; g depths, f feeds, p points, k modes.

    A *state* (..., 2, k) holds the amplitudes at near and far end when a pass starts.
    """

    depth_mm: Floats
    """(g,) rising."""
    rise_k_w: Floats
    """(g, f, p): rise of the points at the end of a contact, for each watt, of a cold blade."""
    face_k_w: Floats
    """(g, f): the ground face over the mean through the thickness."""
    left_w: Floats
    """(g, f, k): amplitudes at the end of a contact, for each watt."""
    points: Floats
    """(p, k): rise of the points for each unit of amplitude."""
    rates_per_s: Floats
    """(k,)"""
    before_s: Floats
    """(2, f): from the start of a pass to the end of the contact, near and far."""
    after_s: Floats
    """(2, f): from there to the start of the next pass."""
    soak_allowed_k: float
    flash_allowed_k: float
    overhead_s: float
    """To draw back for a pause and return."""
    dip_s: float | None
    """What one dip takes; None where the blade waits in air."""
    dipped: Floats | None
    """(k, k): amplitudes after a dip."""

    def cold(self) -> Floats:
        """State of a blade at ambient. Shape: (1, 2, k)."""
        return np.zeros((1, 2, len(self.rates_per_s)))

    def tightened(self, share: float) -> BladeHeat:
        """The same with a share of each limit."""
        return replace(
            self,
            soak_allowed_k=share * self.soak_allowed_k,
            flash_allowed_k=share * self.flash_allowed_k,
        )

    def price_s_k(self) -> float:
        """Seconds that cooling by a kelvin takes, half way up to the limit."""
        return float(2.0 / (self.rates_per_s[0] * self.soak_allowed_k))

    def hottest_k(self, state: Floats) -> Floats:
        """What is left at the hottest point when the quickest pass meets it.

        Shape: (..., 2, k) -> (...).
        """
        met = state * np.exp(-self.rates_per_s * self.before_s[:, :1])
        return np.asarray((met @ self.points.T).max(axis=(-2, -1)))

    def shares(
        self, state: Floats, depth_mm: Floats, power_w: Floats, feed: Indices
    ) -> tuple[Floats, Floats]:
        """Soak and flash of passes as shares of what is allowed.

        Shape: state (m, 2, k), the others (m,) -> (m,) twice.
        """
        rise, face = self._rise(depth_mm, power_w, feed)
        soak = (self._kept(state, feed) + rise[:, np.newaxis]).max(axis=(-2, -1))
        return np.asarray(soak / self.soak_allowed_k), np.asarray(
            (soak + face) / self.flash_allowed_k
        )

    def pause_s(
        self, state: Floats, depth_mm: Floats, power_w: Floats, feed: Indices
    ) -> tuple[Floats, Floats]:
        """Shortest pause before each pass, infinite where none helps, and the state after it.

        Shape: state (m, 2, k), the others (m,) -> (m,) and (m, 2, k).
        """
        rise, face = self._rise(depth_mm, power_w, feed)
        allowed = np.minimum(self.soak_allowed_k, self.flash_allowed_k - face)
        room = allowed[:, np.newaxis] - rise
        over = self._kept(state, feed) - room[:, np.newaxis]
        pause = np.where(room.min(axis=-1) > 0, 0.0, np.inf)
        hot = np.nonzero((over.max(axis=(-2, -1)) > 0) & (pause == 0))[0]
        state = state.copy()
        if len(hot) == 0:
            return pause, state
        if self.dip_s is not None:
            assert self.dipped is not None
            wet = state[hot] @ self.dipped
            holds = (self._kept(wet, feed[hot]) <= room[hot, np.newaxis]).all(axis=(-2, -1))
            pause[hot] = np.where(holds, self.dip_s + self.overhead_s, np.inf)
            state[hot] = wet
            return pause, state
        # The point that is furthest over sets the pause, found on the logarithm of its decay.
        worst = over[hot].reshape(len(hot), -1).argmax(axis=-1)
        end, point = np.divmod(worst, len(self.points))
        reach = np.exp(-self.rates_per_s * self.before_s[end, feed[hot]][:, np.newaxis])
        parts = state[hot, end] * reach * self.points[point]
        wanted = np.log(room[hot, point])
        seconds = np.zeros(len(hot))
        for _ in range(_NEWTON):
            fading = parts * np.exp(-self.rates_per_s * seconds[:, np.newaxis])
            level = np.maximum(fading.sum(axis=-1), 1e-9)
            slope = np.maximum((fading * self.rates_per_s).sum(axis=-1) / level, 1e-9)
            seconds = np.maximum(seconds + (np.log(level) - wanted) / slope, 0.0)
        seconds = np.ceil(seconds * 10) / 10
        pause[hot] = seconds + self.overhead_s
        state[hot] *= np.exp(-self.rates_per_s * seconds[:, np.newaxis])[:, np.newaxis]
        return pause, state

    def waited(self, state: Floats, seconds: float) -> Floats:
        """State after a pause of this length, or after a dip where the blade is dipped."""
        if self.dipped is not None:
            return np.asarray(state @ self.dipped)
        return np.asarray(state * np.exp(-self.rates_per_s * seconds))

    def after(
        self, state: Floats, depth_mm: Floats, power_w: Floats, feed: Indices, extra_s: Floats
    ) -> Floats:
        """State when the next pass starts. Shapes as ``pause_s``; ``extra_s`` (m,) at the turn."""
        left = self._between(self.left_w, depth_mm, feed) * power_w[:, np.newaxis]
        met = state * np.exp(-self.rates_per_s * self.before_s[:, feed].T[..., np.newaxis])
        rest = self.after_s[:, feed].T + extra_s[:, np.newaxis]
        gone = (met + left[:, np.newaxis]) * np.exp(-self.rates_per_s * rest[..., np.newaxis])
        return np.asarray(gone[:, ::-1])  # the next pass enters where this one has left

    def _rise(self, depth_mm: Floats, power_w: Floats, feed: Indices) -> tuple[Floats, Floats]:
        rise = self._between(self.rise_k_w, depth_mm, feed) * power_w[:, np.newaxis]
        face = self._between(self.face_k_w[..., np.newaxis], depth_mm, feed)[:, 0] * power_w
        return rise, face

    def _between(self, table: Floats, depth_mm: Floats, feed: Indices) -> Floats:
        """A row of a table (g, f, ...), straight between its depths."""
        last = len(self.depth_mm) - 1
        at = np.interp(depth_mm, self.depth_mm, np.arange(last + 1.0))
        low = np.minimum(at.astype(int), last - 1)
        share = (at - low)[:, np.newaxis]
        return np.asarray(table[low, feed] * (1 - share) + table[low + 1, feed] * share)

    def _kept(self, state: Floats, feed: Indices) -> Floats:
        """What is left of earlier passes at the end of the contact. Shape: (m, 2, p)."""
        met = state * np.exp(-self.rates_per_s * self.before_s[:, feed].T[..., np.newaxis])
        return np.asarray(met @ self.points.T)
