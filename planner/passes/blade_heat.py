"""The blade's heat as the search of the schedule sees it: a few modes at the two ends of the edge.

The ends are hit twice in a row by two-way traverse, so they are hotter than the middle; one of the
two is *near*, where the next pass enters, and one *far*. Each keeps the amplitudes of the slowest
modes of the section at one depth, so that a pass, a pause and a dip are a few products for any
number of ways at once. What a schedule really reaches is marched afterwards with the whole section
of each pass (planner/heat/march.py).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

LONGER = (0.4, 1.0)
"""How much longer than it must a stop may be that is taken anyway, as shares of what another one
costs beside its own time: a stop that saves one may be longer by that."""

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
    """(g, p, k): rise of the points for each unit of amplitude; they follow the contact."""
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
    unit_s: float
    """A pause is a whole number of these."""
    dip_s: float | None
    """What one dip takes; None where the blade waits in air."""
    dipped: Floats | None
    """(k, k): amplitudes after a dip."""

    def cold(self) -> Floats:
        """State of a blade at ambient. Shape: (1, 2, k)."""
        return np.zeros((1, 2, len(self.rates_per_s)))

    def limited(self, soak_allowed_k: float, flash_allowed_k: float) -> BladeHeat:
        """The same under other limits."""
        return replace(self, soak_allowed_k=soak_allowed_k, flash_allowed_k=flash_allowed_k)

    def hottest_k(self, state: Floats) -> Floats:
        """What is left at the hottest point when the quickest pass meets it.

        Shape: (..., 2, k) -> (...).
        """
        met = state * np.exp(-self.rates_per_s * self.before_s[:, :1])
        return np.asarray((met @ self.points[-1].T).max(axis=(-2, -1)))

    def shares(
        self, state: Floats, depth_mm: Floats, power_w: Floats, feed: Indices
    ) -> tuple[Floats, Floats]:
        """Soak and flash of passes as shares of what is allowed.

        Shape: state (m, 2, k), the others (m,) -> (m,) twice.
        """
        rise, face = self._rise(depth_mm, power_w, feed)
        kept = self._kept(state, self._between(self.points, depth_mm), feed)
        soak = (kept + rise[:, np.newaxis]).max(axis=(-2, -1))
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
        points = self._between(self.points, depth_mm)
        over = self._kept(state, points, feed) - room[:, np.newaxis]
        pause = np.where(room.min(axis=-1) > 0, 0.0, np.inf)
        hot = np.nonzero((over.max(axis=(-2, -1)) > 0) & (pause == 0))[0]
        state = state.copy()
        if len(hot) == 0:
            return pause, state
        if self.dip_s is not None:
            assert self.dipped is not None
            wet = state[hot] @ self.dipped
            holds = (self._kept(wet, points[hot], feed[hot]) <= room[hot, np.newaxis]).all(
                axis=(-2, -1)
            )
            pause[hot] = np.where(holds, self.dip_s + self.overhead_s, np.inf)
            state[hot] = wet
            return pause, state
        # The point that is furthest over sets the pause, found on the logarithm of its decay.
        worst = over[hot].reshape(len(hot), -1).argmax(axis=-1)
        end, point = np.divmod(worst, points.shape[1])
        reach = np.exp(-self.rates_per_s * self.before_s[end, feed[hot]][:, np.newaxis])
        parts = state[hot, end] * reach * points[hot, point]
        wanted = np.log(room[hot, point])
        seconds = np.zeros(len(hot))
        for _ in range(_NEWTON):
            fading = parts * np.exp(-self.rates_per_s * seconds[:, np.newaxis])
            level = np.maximum(fading.sum(axis=-1), 1e-9)
            slope = np.maximum((fading * self.rates_per_s).sum(axis=-1) / level, 1e-9)
            seconds = np.maximum(seconds + (np.log(level) - wanted) / slope, 0.0)
        seconds = np.ceil(seconds / self.unit_s - 1e-9) * self.unit_s
        pause[hot] = seconds + self.overhead_s
        state[hot] *= np.exp(-self.rates_per_s * seconds[:, np.newaxis])[:, np.newaxis]
        return pause, state

    def pauses(
        self, state: Floats, depth_mm: Floats, power_w: Floats, feed: Indices
    ) -> Iterator[tuple[Floats, Floats, Floats]]:
        """Pauses that may be worth it before each pass, the shortest first.

        Each time: the pause that is meant to be kept, 0 where it is just as long as it must be;
        what it costs, infinite where there is none such; the state after it.
        Shape: as ``pause_s``; (m,), (m,) and (m, 2, k).
        A wait in air is best taken as late as it can be, for a blade sheds heat faster the hotter
        it is; but a dip cools by so much and no more, and hands that have stopped the wheel may
        wait longer, so as not to stop it again.
        """
        cost_s, waited = self.pause_s(state, depth_mm, power_w, feed)
        yield np.where(cost_s > 0, self.dip_s or 0.0, 0.0), cost_s, waited
        if self.dip_s is not None:
            wet = self.waited(state, self.dip_s)
            again, _ = self.pause_s(wet, depth_mm, power_w, feed)
            early = np.where((cost_s == 0) & (again == 0), self.dip_s + self.overhead_s, np.inf)
            yield np.full(len(cost_s), self.dip_s), early, wet
        elif self.overhead_s > 0:
            stops = (cost_s > 0) & np.isfinite(cost_s)
            for share in LONGER:
                more = math.ceil(share * self.overhead_s / self.unit_s) * self.unit_s
                cooler = self.waited(waited, more)
                yield (
                    cost_s - self.overhead_s + more,
                    np.where(stops, cost_s + more, np.inf),
                    cooler,
                )

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

    def _between(self, table: Floats, depth_mm: Floats, feed: Indices | None = None) -> Floats:
        """A row of a table (g, ...) or, with feeds, (g, f, ...), straight between its depths."""
        last = len(self.depth_mm) - 1
        # The heat of a watt goes with the width of the contact, and that with the root of depth.
        root = np.sqrt(np.maximum(depth_mm, 0.0))
        at = np.interp(root, np.sqrt(self.depth_mm), np.arange(last + 1.0))
        low = np.minimum(at.astype(int), last - 1)
        shallow, deep = (table[i] if feed is None else table[i, feed] for i in (low, low + 1))
        share = (at - low).reshape(-1, *(1,) * (shallow.ndim - 1))
        return np.asarray(shallow + (deep - shallow) * share)

    def _kept(self, state: Floats, points: Floats, feed: Indices) -> Floats:
        """What is left of earlier passes at the end of the contact. Shape: (m, 2, p)."""
        met = state * np.exp(-self.rates_per_s * self.before_s[:, feed].T[..., np.newaxis])
        return np.asarray(met @ np.swapaxes(points, -1, -2))
