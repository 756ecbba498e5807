"""What is drawn: each stated error with its distribution, and what it acts on."""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from planner.section.spread import ErrorCause, FaceSpread

Floats = NDArray[np.float64]
ActsOn = Literal[
    "depth",
    "radius",
    "other radius",
    "along",
    "thickness",
    "bevel",
    "tilt",
    "lands",
    "g_ratio",
    "batch",
]
Distribution = Literal["normal", "uniform", "lognormal", "each blade alike"]


@dataclass(frozen=True)
class Drawn:
    """One error as it is drawn."""

    name: str
    acts_on: ActsOn
    distribution: Distribution
    sd: float
    """Standard deviation, in the unit of what it acts on; of the logarithm for ``lognormal``."""
    shared: bool
    """Whether it is the same for both faces of a blade."""
    count: int = 1
    """Blades of the batch, for ``each blade alike``."""


_KNOWN: dict[str, tuple[ActsOn, Distribution, bool, float]] = {
    "infeed resolution": ("depth", "uniform", False, 1.0),
    "infeed repeatability": ("depth", "normal", False, 1.0),
    "touch-off": ("depth", "normal", False, 1.0),
    "seats of the row": ("depth", "normal", True, 1.0),
    "turn off centre": ("depth", "normal", False, 1.0),
    "blade off its path": ("depth", "normal", False, 1.0),
    "depth of the lands pass": ("lands", "normal", False, 1.0),
    "wheel diameter": ("radius", "normal", True, 0.5),
    "wheel radius": ("radius", "normal", True, 1.0),
    "wheel diameter on the path": ("other radius", "normal", True, 0.5),
    "crown on the path": ("other radius", "normal", True, 1.0),
    "form radius": ("radius", "normal", True, 1.0),
    "cross setting": ("along", "normal", False, 1.0),
    "cross repeatability": ("along", "normal", False, 1.0),
    "stock thickness": ("thickness", "normal", True, 1.0),
    "bevel angle": ("bevel", "normal", False, 1.0),
    "tilt": ("tilt", "normal", False, 1.0),
}
"""Causes of ``planner.section.spread`` by name: what each acts on, how it is distributed, whether
both faces share it, and how much of its unit acts. One rounding is uniform; where a rounding is
only a part of a cause (cross, tilt, lands) the sum is drawn as normal."""


def drawn_cause(cause: ErrorCause) -> Drawn:
    """One stated error as it is drawn.

    Raises: KeyError for a cause that is not known here.
    """
    acts_on, distribution, shared, share = _KNOWN[cause.name]
    return Drawn(cause.name, acts_on, distribution, cause.sd * share, shared)


@dataclass(frozen=True)
class Wearing:
    """The wear of a wheel through the batch, as its stated G ratio has it."""

    before_mm: tuple[float, ...]
    """Radius lost before each blade since the wheel was last dressed or its zero set anew."""
    within_mm: float
    """Radius lost within one set-up of a blade."""
    g_ratio_error: float
    """Relative standard deviation of the G ratio."""
    smaller: bool
    """Whether the arc grows smaller with the wheel."""
    zero_kept: bool
    """Whether the zero is kept through the batch, and the wear before each blade made up for."""

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of G: that of a lognormal of this relative one."""
        return math.sqrt(math.log1p(self.g_ratio_error**2))


G_RATIO, IN_BATCH = "G ratio", "wear through the batch"


def drawn_causes(spread: FaceSpread, wearing: Wearing | None) -> tuple[Drawn, ...]:
    """Every error of a face that is not nothing, in the order of the spread's."""
    drawn = [drawn_cause(c) for c in spread.causes if c.sd > 0]
    if wearing is not None:
        if wearing.log_sd > 0:
            drawn.append(Drawn(G_RATIO, "g_ratio", "lognormal", wearing.log_sd, shared=True))
        if len(wearing.before_mm) > 1:
            count = len(wearing.before_mm)
            drawn.append(
                Drawn(IN_BATCH, "batch", "each blade alike", 0.0, shared=True, count=count)
            )
    return tuple(drawn)


class Streams:
    """Random numbers of every error, each from a stream of its own.

    A stream hangs on the seed, the error's name, the face where it is not shared, and ``copy``; so
    it is the same whatever other errors there are, and however the blades are parted into chunks.
    """

    def __init__(self, seed: int, copy: int) -> None:
        self._seed, self._copy = seed, copy
        self._open: dict[tuple[str, str], np.random.Generator] = {}

    def draw(self, cause: Drawn, face: str, count: int) -> Floats:
        """The next values of an error. Shape: (count,)."""
        key = (cause.name, "" if cause.shared else face)
        if key not in self._open:
            spawn = (self._copy, zlib.crc32(cause.name.encode()), *key[1].encode())
            sequence = np.random.SeedSequence(self._seed, spawn_key=spawn)
            self._open[key] = np.random.Generator(np.random.PCG64(sequence))
        random = self._open[key]
        if cause.distribution == "uniform":
            reach = math.sqrt(3.0) * cause.sd
            return random.uniform(-reach, reach, count)
        if cause.distribution == "each blade alike":
            return random.integers(0, cause.count, count).astype(float)
        return random.normal(0.0, cause.sd, count)


def shared_names(causes: Sequence[Drawn]) -> set[str]:
    """Errors that both faces have in common."""
    return {c.name for c in causes if c.shared}
