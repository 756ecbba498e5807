"""What a caution is, and the facts of a job that cautions follow from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

Topic = Literal[
    "dust", "guard", "temper", "quench", "wheel", "eyes_ears", "clamp", "fire", "local_rules"
]
Level = Literal["danger", "warning", "note"]


LIMIT_MARGIN_K = 25.0
"""Between a known temper and the limit of the edge; a design rule, from memory."""


@dataclass(frozen=True)
class Caution:
    """One thing to heed at this job, in plain sentences with the job's own numbers."""

    topic: Topic
    level: Level
    text: str
    basis: str
    """Clause or published source, or "common practice, no source", or "from memory"."""


class SteelFacts(Protocol):
    """What the cautions need to know of a steel."""

    @property
    def designation(self) -> str:
        """Name to print."""

    @property
    def family(self) -> str:
        """One of carbon, low_alloy, high_alloy, stainless, high_speed."""

    @property
    def composition(self) -> Mapping[str, tuple[float, float]]:
        """Element -> lowest and highest mass %; lowest 0 marks a residue, not an addition."""

    @property
    def water_dip(self) -> bool:
        """False where the steel must not be dipped in water while hot."""

    @property
    def tempering_range_c(self) -> tuple[float, float]:
        """Lowest and highest usual tempering temperature."""

    @property
    def default_edge_limit_c(self) -> float:
        """Temperature not to be passed when the blade's temper is unknown."""


@dataclass(frozen=True)
class CautionFacts:
    """The job and its plan, as far as cautions follow from them."""

    steel: SteelFacts
    temper_c: float | None
    wheel_name: str
    wheel_diameter_mm: float
    surface_speed_m_s: float
    shaft_speed_rpm: float
    """Of the wheel's shaft; for a belt, of its contact wheel, or where it bears on a platen of its
    drive wheel."""
    marked_rpm: float
    """Largest shaft speed that the mark allows at this diameter."""
    is_belt: bool
    coolant: Literal["dry", "mist", "flood"]
    removed_mass_g: float
    """Steel taken off one blade."""
    quantity: int
    edge_temperature_c: float | None
    """Predicted heat build-up at the edge; None where nothing was predicted."""
    flash_temperature_c: float | None
    """Predicted temperature of the skin under the wheel, for milliseconds."""
    edge_limit_c: float | None
    """Limit that the plan kept to; None takes the temper's or the steel's own."""
    work_rest_gap_mm: float | None
    """None where the machine has no work rest."""
    dust_collector: Literal["none", "steel_only", "shared_with_wood"]
    flip: Literal["end_for_end", "over", "by_tilt"]
    by_hand_spindle: bool
    edge_thickness_mm: float
    coated: bool
    """Abrasive coated on a backing (a belt, a disc), not bonded to a wheel."""
    over_platen: bool = False
    """Whether the belt bears on a platen, and the wheel only drives it."""

    @property
    def is_bonded_wheel(self) -> bool:
        """Whether the rules for bonded grinding wheels apply."""
        return not (self.is_belt or self.coated)

    @property
    def limit_c(self) -> float:
        """Temperature that the edge must stay below."""
        if self.edge_limit_c is not None:
            return self.edge_limit_c
        if self.temper_c is not None:
            return self.temper_c - LIMIT_MARGIN_K
        return self.steel.default_edge_limit_c


Rule = Callable[[CautionFacts], Caution | None]
"""One rule: the caution that follows from the facts, or None where it cannot apply."""

PRACTICE = "common practice, no source"
MEMORY = "from memory"
