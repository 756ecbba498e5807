"""What the grit of the wheel or belt leaves, and the finer steps that take it out again."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from planner.formulas import abrasive_grain
from planner.inputs.rack import Wheel
from planner.inputs.tables import load_table

FINEST_UM = 18.3
"""Where a progression ends: P1000, before the hone. Common practice, no source."""


@dataclass(frozen=True)
class GritStep:
    """One finer grit, and the stock that it must take: the scratches of the one before.

    The two figures are the shallow and the deep end of what roughness charts give; between the
    grits that the charts name, a share of the coarser grain stands in.
    """

    grit: str
    mean_grain_um: float
    least_stock_mm: float
    ample_stock_mm: float


@dataclass(frozen=True)
class GritPlan:
    """A grit in its FEPA series, and the steps after it down to the hone."""

    grit: str
    series: str
    mean_grain_um: float
    steps: tuple[GritStep, ...]


def grit_plan(wheel: Wheel) -> GritPlan | None:
    """The grit by its FEPA size; None where the tables do not have it (F and P only)."""
    tables = load_table("abrasives")
    for key, series in (("fepa_p", "FEPA P"), ("fepa_f", "FEPA F")):
        sizes: dict[str, float] = tables[key]["mean_grain_um"]
        if wheel.grit.upper() in sizes:
            name = wheel.grit.upper()
            return GritPlan(name, series, float(sizes[name]), _steps(name, series))
    return None


def _steps(name: str, series: str) -> tuple[GritStep, ...]:
    """Finer belts or papers (P series) after this grit, fewest steps; a wheel is honed on."""
    tables = load_table("abrasives")
    start = float(tables["fepa_p" if series == "FEPA P" else "fepa_f"]["mean_grain_um"][name])
    finer = {
        grit: float(size)
        for grit, size in tables["fepa_p"]["mean_grain_um"].items()
        if FINEST_UM <= size < start
    }
    if not finer:
        return ()
    by_size = {size: grit for grit, size in finer.items()}
    sizes = abrasive_grain.grit_progression([start, *sorted(by_size, reverse=True)])
    steps = []
    names = {start: name, **by_size}
    for coarser, size in pairwise(sizes):
        least, ample = _scratches_mm(names[coarser], coarser)
        steps.append(GritStep(by_size[size], size, least, ample))
    return tuple(steps)


def _scratches_mm(grit: str, mean_grain_um: float) -> tuple[float, float]:
    """How deep the scratches of a grit are: from roughness charts, or from its grain."""
    number = int(grit[1:])
    for band in load_table("abrasives")["roughness_ra"]["bands"]:
        first, last = band["grits"]
        if first <= number <= last:
            low, high = band["ra_um"]
            shallow, _ = abrasive_grain.scratch_depth(low)
            _, deep = abrasive_grain.scratch_depth(high)
            return float(shallow) / 1000, float(deep) / 1000
    least, ample = abrasive_grain.allowance_from_coarser(mean_grain_um)
    return float(least), float(ample)
