"""Many blades drawn: the spread of every land, the share in tolerance, and which error matters.

Errors are drawn from their stated distributions and go through the exact geometry (JCGM 101:2008,
propagation of distributions by a Monte Carlo method); nothing here is a straight line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.formulas.sampling import first_order_part, total_part, wilson_interval
from planner.scatter.blades import FaceCase, in_tolerance, lands_of
from planner.scatter.causes import Floats, Streams
from planner.scatter.linear import linear_shortfalls
from planner.section.spread import FaceSpread, share_in_tolerance

CHUNK = 20_000
LANDS = ("edge", "shoulder")
_NEAR_SD, _NEAR_SHARE = 0.05, 0.02
"""How far the straight line may be off and still be said to hold; common practice, no source."""
_SIGMAS = 3.0


@dataclass(frozen=True)
class CausePart:
    """What one error adds to the variance of one land."""

    name: str
    first_order: float
    """Share of the variance that it explains by itself."""
    total: float
    """Share of the variance in which it has any part."""


@dataclass(frozen=True)
class LandScatter:
    """One land of one face over all the blades."""

    face: str
    land: str
    asked_mm: float
    mean_mm: float
    sd_mm: float
    low_mm: float
    """95 % of the blades lie from here …"""
    high_mm: float
    """… to here."""
    linear_sd_mm: float
    """One sigma by the straight line."""
    parts: tuple[CausePart, ...]


@dataclass(frozen=True)
class Scatter:
    """What came of the draws."""

    blades: int
    seed: int
    share: float
    interval: tuple[float, float]
    """95 % interval of the share, from the size of the sample alone."""
    linear_share: float
    lands: tuple[LandScatter, ...]
    without: tuple[tuple[str, float], ...]
    """Share in tolerance with each error taken away, the same blades otherwise; best first."""
    not_ground: int
    """Blades with a face that the wheel does not reach."""
    edge_gone: int
    """Blades with a relief so wide that it takes the edge itself back."""
    distributions: Mapping[str, str] = field(default_factory=dict)

    @property
    def widest(self) -> LandScatter:
        """The land that spreads most."""
        return max(self.lands, key=lambda land: land.sd_mm)

    @property
    def matters_most(self) -> str:
        """The error that explains most of the land that spreads most; empty without errors."""
        parts = self.widest.parts
        return max(parts, key=lambda p: p.first_order).name if parts else ""

    @property
    def straight_line_holds(self) -> bool:
        """Whether spread and share by the straight line are those of the draws, nearly."""
        room = _NEAR_SHARE + (self.interval[1] - self.interval[0])
        # A standard deviation of n blades is itself known to one part in sqrt(2 n).
        near = _NEAR_SD + _SIGMAS / math.sqrt(2 * self.blades)
        return abs(self.share - self.linear_share) <= room and all(
            abs(land.sd_mm - land.linear_sd_mm) <= near * land.linear_sd_mm + 1e-9
            for land in self.lands
        )


@dataclass
class _Sums:
    """Running sums of one land: deviations from what is asked, of the draws A and B."""

    causes: int
    a: list[Floats] = field(default_factory=list)
    total: float = 0.0
    squares: float = 0.0
    first: Floats = field(init=False)
    any_part: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.first, self.any_part = np.zeros(self.causes), np.zeros(self.causes)

    def variance(self, count: int) -> float:
        """Of both draws together."""
        mean = self.total / (2 * count)
        return max(self.squares / (2 * count) - mean * mean, 0.0)


def scatter(
    cases: Sequence[FaceCase], linear: Sequence[FaceSpread], blades: int, seed: int
) -> Scatter:
    """Draw blades and reckon what they come to.

    ``linear`` are the spreads of the same faces by the straight line, the same errors in them.
    Shape: one case and one spread for each relieved face.
    """
    runs = [Streams(seed, copy) for copy in (0, 1)]
    names = list(dict.fromkeys(c.name for case in cases for c in case.causes))
    sums = [[_Sums(len(case.causes)) for _ in LANDS] for case in cases]
    good, not_ground, edge_gone = 0, 0, 0
    good_without = dict.fromkeys(names, 0)
    for start in range(0, blades, CHUNK):
        count = min(CHUNK, blades - start)
        drawn = [_draw(cases, streams, count) for streams in runs]
        inside = np.ones(count, bool)
        reached, kept = np.ones(count, bool), np.ones(count, bool)
        for n, case in enumerate(cases):
            inside &= in_tolerance(case, drawn[0][n])
            found = _add_up(case, drawn[0][n], drawn[1][n], sums[n], count)
            reached &= found[0]
            kept &= found[1]
        good += int(inside.sum())
        not_ground += int((~reached).sum())
        edge_gone += int((~kept).sum())
        for name in names:
            without = np.ones(count, bool)
            for n, case in enumerate(cases):
                left = {k: v for k, v in drawn[0][n].items() if k != name}
                without &= in_tolerance(case, left)
            good_without[name] += int(without.sum())
    shares = sorted(((k, v / blades) for k, v in good_without.items()), key=lambda item: -item[1])
    return Scatter(
        blades=blades,
        seed=seed,
        share=good / blades,
        interval=wilson_interval(good, blades),
        linear_share=share_in_tolerance(linear, [linear_shortfalls(case) for case in cases]),
        lands=tuple(
            _land(case, spread, which, sums[n][which], blades)
            for n, (case, spread) in enumerate(zip(cases, linear, strict=True))
            for which in range(len(LANDS))
        ),
        without=tuple(shares),
        not_ground=not_ground,
        edge_gone=edge_gone,
        distributions={c.name: c.distribution for case in cases for c in case.causes},
    )


def _draw(cases: Sequence[FaceCase], streams: Streams, count: int) -> list[dict[str, Floats]]:
    """One value of every error for every blade; what the faces share is drawn once."""
    shared: dict[str, Floats] = {}
    found = []
    for case in cases:
        drawn: dict[str, Floats] = {}
        for cause in case.causes:
            if cause.shared and cause.name in shared:
                drawn[cause.name] = shared[cause.name]
            else:
                drawn[cause.name] = streams.draw(cause, case.face.face, count)
                if cause.shared:
                    shared[cause.name] = drawn[cause.name]
        found.append(drawn)
    return found


def _add_up(
    case: FaceCase,
    a: Mapping[str, Floats],
    b: Mapping[str, Floats],
    sums: Sequence[_Sums],
    count: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Add a chunk to the sums. Returns which blades are ground at all, and keep their edge."""
    middle = sum(case.shortfalls_mm) / 2
    runs = [lands_of(case, drawn, middle) for drawn in (a, b)]
    swapped = [lands_of(case, {**a, c.name: b[c.name]}, middle) for c in case.causes]
    for which, asked in enumerate(case.asked_mm):
        of_a, of_b = (np.broadcast_to(run[which] - asked, (count,)) for run in runs)
        one = sums[which]
        one.a.append(np.array(of_a))
        one.total += float(of_a.sum() + of_b.sum())
        one.squares += float((of_a * of_a).sum() + (of_b * of_b).sum())
        for n, run in enumerate(swapped):
            with_b = run[which] - asked
            one.first[n] += float(first_order_part(of_a, of_b, with_b))
            one.any_part[n] += float(total_part(of_a, with_b))
    gone = np.broadcast_to(runs[0].edge_land_mm < -1e-9, (count,))
    return np.broadcast_to(runs[0].depth_mm > 0, (count,)), ~gone


def _land(case: FaceCase, spread: FaceSpread, which: int, sums: _Sums, blades: int) -> LandScatter:
    asked = case.asked_mm[which]
    deviations = np.concatenate(sums.a)
    low, high = np.quantile(deviations, [0.025, 0.975])
    variance = sums.variance(blades)
    parts = [
        CausePart(
            cause.name,
            float(sums.first[n] / blades / variance) if variance > 0 else 0.0,
            float(sums.any_part[n] / blades / variance) if variance > 0 else 0.0,
        )
        for n, cause in enumerate(case.causes)
    ]
    return LandScatter(
        face=case.face.face,
        land=LANDS[which],
        asked_mm=asked,
        mean_mm=asked + float(deviations.mean()),
        sd_mm=float(deviations.std()),
        low_mm=asked + float(low),
        high_mm=asked + float(high),
        linear_sd_mm=(spread.edge_land_sd_mm, spread.shoulder_land_sd_mm)[which],
        parts=tuple(sorted(parts, key=lambda p: -p.first_order)),
    )
