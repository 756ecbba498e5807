"""Steels: the packaged table by designation, and the properties that a job may give itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from planner.inputs.fields import (
    Conductivity,
    Density,
    FileModel,
    Flag,
    Number,
    SpecificHeat,
    TemperatureRange,
    Word,
    rule_fault,
)
from planner.inputs.tables import load_table

Family = Literal["carbon", "low_alloy", "high_alloy", "stainless", "high_speed"]
Element = Literal[
    "C", "Si", "Mn", "P", "S", "Cr", "Mo", "W", "V", "Co", "Ni", "Cu", "Al", "N", "Nb", "Ti", "Pb"
]
"""Alloying elements that a steel's sheet names; iron is the balance."""


class SteelProperties(FileModel):
    """A steel that the table does not hold, by its properties at room temperature."""

    name: Word = "the job's own steel"
    family: Family
    density_kg_m3: Annotated[Density, Field(alias="density", ge=5000, le=12_000)]
    conductivity_w_mk: Annotated[Conductivity, Field(alias="conductivity", gt=5, le=100)]
    specific_heat_j_kgk: Annotated[SpecificHeat, Field(alias="specific_heat", ge=200, le=1000)]
    composition: dict[Element, Annotated[Number, Field(ge=0, le=100)]]
    """Mass percent of each alloying element; iron is the balance."""
    tempering_range_c: Annotated[TemperatureRange | None, Field(alias="tempering_range")] = None
    """Usual tempering temperatures; left out, the widest of the table's steels of its family."""
    water_dip: Flag = True
    """Whether the hot steel may be dipped in water."""

    @model_validator(mode="after")
    def _leaves_room_for_iron(self) -> SteelProperties:
        total = sum(self.composition.values())
        if total > 100:
            raise rule_fault(
                "composition-total",
                key="composition",
                given=f"{total:g} % in all",
                allowed="at most 100 % together; iron is the balance",
                mend="give mass percent, and leave iron out",
            )
        return self


def _steel_form(value: object) -> str:
    return "properties" if isinstance(value, dict | SteelProperties) else "designation"


SteelChoice = Annotated[
    Annotated[Word, Tag("designation")] | Annotated[SteelProperties, Tag("properties")],
    Discriminator(_steel_form),
]
"""A designation from the table, or a map with the properties themselves."""


@dataclass(frozen=True)
class Steel:
    """What the plan needs to know of a steel, at room temperature."""

    designation: str
    family: str
    density_kg_m3: float
    conductivity_w_mk: float
    specific_heat_j_kgk: float
    composition: Mapping[str, tuple[float, float]]
    """Element -> lowest and highest mass %; lowest 0 marks a permitted residue."""
    tempering_range_c: tuple[float, float]
    default_edge_limit_c: float
    """Not to be passed at the edge when the blade's own temper is unknown."""
    hardness_after_temper: Mapping[float, tuple[float, float]]
    """Tempering temperature in degC -> lowest and highest HRC; empty where unknown."""
    water_dip: bool
    """False where the hot steel must not be dipped in water."""
    sources: Mapping[str, str]
    also: tuple[str, ...] = field(default=())
    """Other AISI and EN designations of the same steel."""


@cache
def load_steels() -> Mapping[str, Steel]:
    """Return the packaged steels by canonical designation, in the order of the table.

    Read once, when first asked for. Source: each figure's is in ``Steel.sources``.

    >>> load_steels()["O1"].also[1]
    '1.2510'
    """
    rows = load_table("steels")["steels"]
    return MappingProxyType({name: _from_row(name, row) for name, row in rows.items()})


def _from_row(designation: str, row: Mapping[str, Any]) -> Steel:
    low, high = row["tempering_range_c"]
    return Steel(
        designation=designation,
        family=row["family"],
        density_kg_m3=float(row["density_kg_m3"]),
        conductivity_w_mk=float(row["conductivity_w_mk"]),
        specific_heat_j_kgk=float(row["specific_heat_j_kgk"]),
        composition=MappingProxyType({k: _pair(v) for k, v in row["composition"].items()}),
        tempering_range_c=(float(low), float(high)),
        default_edge_limit_c=float(row["default_edge_limit_c"]),
        hardness_after_temper=MappingProxyType(
            {float(t): _pair(hrc) for t, hrc in row["hardness_after_temper"].items()}
        ),
        water_dip=row["water_dip"],
        sources=MappingProxyType(dict(row["sources"])),
        also=tuple(row["also"]),
    )


def _pair(value: float | list[float]) -> tuple[float, float]:
    low, high = value if isinstance(value, list) else (value, value)
    return float(low), float(high)


def _tidy(designation: str) -> str:
    """Drop what people write differently: case, blanks, hyphens, the standards' own names."""
    tidied = re.sub(r"[\s_-]", "", designation).upper()
    return re.sub(r"^(AISI|SAE|EN|DIN|UNS|W\.?NR\.?)(?=.)", "", tidied)


@cache
def _by_tidied() -> Mapping[str, Steel]:
    return {
        _tidy(name): steel
        for steel in load_steels().values()
        for name in (*steel.also, steel.designation)
    }


def find_steel(designation: str) -> Steel:
    """Return the steel of an AISI or EN designation, whatever its case, blanks and hyphens.

    Raises: LookupError for a designation that is not in the table.

    >>> find_steel("aisi o-1").designation
    'O1'
    """
    steel = _by_tidied().get(_tidy(designation))
    if steel is None:
        raise LookupError(f"steel {designation!r} is not in the table")
    return steel


def near_steels(designation: str) -> list[str]:
    """Return up to three designations of the table that look like this one, nearest first."""
    from difflib import get_close_matches  # noqa: PLC0415 - only for messages

    known = {
        _tidy(name): name
        for steel in load_steels().values()
        for name in (*steel.also, steel.designation)
    }
    return [known[n] for n in get_close_matches(_tidy(designation), known, n=3, cutoff=0.6)]


def steel_of(choice: str | SteelProperties) -> Steel:
    """Return the steel that a job names or describes.

    A described steel has no measured limit: it takes the lower of its tempering range's low end
    and the lowest default of the table's steels of its family (the design rule of the table:
    the lowest usual tempering temperature, at most; from memory).
    Raises: LookupError for a designation that is not in the table.
    """
    if isinstance(choice, str):
        return find_steel(choice)
    relatives = [s for s in load_steels().values() if s.family == choice.family]
    tempering_range_c = choice.tempering_range_c or (
        min(s.tempering_range_c[0] for s in relatives),
        max(s.tempering_range_c[1] for s in relatives),
    )
    lowest_default_c = min(s.default_edge_limit_c for s in relatives)
    given = "as the job gives it"
    kin = f"from the table's {choice.family} steels"
    return Steel(
        designation=choice.name,
        family=choice.family,
        density_kg_m3=choice.density_kg_m3,
        conductivity_w_mk=choice.conductivity_w_mk,
        specific_heat_j_kgk=choice.specific_heat_j_kgk,
        composition=MappingProxyType({k: (v, v) for k, v in choice.composition.items()}),
        tempering_range_c=tempering_range_c,
        default_edge_limit_c=min(lowest_default_c, tempering_range_c[0]),
        hardness_after_temper=MappingProxyType({}),
        water_dip=choice.water_dip,
        sources=MappingProxyType(
            {
                "properties": given,
                "composition": given,
                "tempering": given if choice.tempering_range_c else kin,
                "edge_limit": f"the lower of its tempering range and the lowest {kin}",
            }
        ),
    )
