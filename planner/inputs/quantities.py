"""A quantity is text with a unit: from ``1/8 in`` to a float in the project's own unit.

The value is worked out as a fraction and rounded once, so ``1/8 in``, ``0.125 in`` and
``3.175 mm`` are the same float.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

NUMBER_PATTERN = r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)"
"""A decimal number: no power of ten, no leading zero, no grouping."""
FRACTION_PATTERN = r"[-+]?(?:(?:0|[1-9][0-9]*)[ -])?(?:0|[1-9][0-9]*)/[1-9][0-9]*"
"""``1/8``, ``1 1/8`` or ``1-1/8``."""
_NUMBER = re.compile(NUMBER_PATTERN)
_FRACTION = re.compile(FRACTION_PATTERN)
_NOT_FINITE = re.compile(r"(?i:[-+]?\.?(?:inf(?:inity)?|nan))(?![a-z])")
_SPLIT = re.compile(rf"({FRACTION_PATTERN}|{NUMBER_PATTERN}) *(.*)", re.DOTALL)
_LONGEST_NUMBER = 40
_LONGEST_QUANTITY = 100
_POWER_LIMIT = 12


class QuantityError(ValueError):
    """Text that is not a quantity of the kind asked for, with the words for a Problem."""

    def __init__(self, rule: str, given: str, allowed: str, mend: str) -> None:
        super().__init__(f"{given}; allowed: {allowed}")
        self.rule = rule
        self.given = given
        self.allowed = allowed
        self.mend = mend


@dataclass(frozen=True)
class Unit:
    """One unit: ``canonical = (value - zero) * factor``; ``also`` are other spellings."""

    name: str
    factor: Fraction
    also: tuple[str, ...] = ()
    zero: Fraction = Fraction(0)

    @property
    def spellings(self) -> tuple[str, ...]:
        """Every spelling, the one to show first."""
        return (self.name, *self.also)


@dataclass(frozen=True)
class QuantityKind:
    """A kind of quantity; the first unit is the canonical one, in which values are kept."""

    what: str
    units: tuple[Unit, ...]
    example: str

    @property
    def canonical(self) -> str:
        """Name of the unit that values are kept in."""
        return self.units[0].name

    @cached_property
    def by_spelling(self) -> Mapping[str, Unit]:
        """Each spelling, tidied, to its unit."""
        return {_tidy_unit(s): unit for unit in self.units for s in unit.spellings}

    @cached_property
    def allowed(self) -> str:
        """What may be written, for a message.

        >>> TIME.allowed
        'a time in s, ms, min or h'
        """
        *most, last = [unit.name for unit in self.units]
        return f"{self.what} in {', '.join(most)} or {last}" if most else f"{self.what} in {last}"


# Each way of typing one sign of a unit, as a pattern; _tidy_unit brings them together.
_VARIANTS = {
    "µ": "[µμ]",
    "°": "[°º]",
    "2": r"(?:\^?2|²)",
    "3": r"(?:\^?3|³)",
    ".": "(?: *[.·⋅*] *| )",
    "/": " */ *",
    "(": r"\(",
    ")": r"\)",
}


def _tidy_unit(text: str) -> str:
    """Bring the ways of typing one unit together: micro signs, powers, dots, blanks."""
    plain = text.strip(" ").translate(str.maketrans("μº²³·⋅*", "µ°23...")).replace("^", "")
    return re.sub(r" *([./]) *", r"\1", plain).replace(" ", ".")


def quantity_pattern(kind: QuantityKind) -> str:
    """Return a regular expression, as JSON Schema takes it, for all that is read as ``kind``.

    >>> re.search(quantity_pattern(ACCELERATION), "400 mm/s²") is not None
    True
    """
    spellings = [spelling for unit in kind.units for spelling in unit.spellings]
    units = "|".join("".join(_VARIANTS.get(sign, sign) for sign in s) for s in spellings)
    return f"^ *(?:{FRACTION_PATTERN}|{NUMBER_PATTERN}) *(?:{units}) *$"


def _near(text: str, choices: Mapping[str, Unit]) -> Unit | None:
    from difflib import get_close_matches  # noqa: PLC0415 - only for messages

    lowered = {spelling.lower(): unit for spelling, unit in choices.items()}
    if text.lower() in lowered:
        return lowered[text.lower()]
    close = get_close_matches(text.lower(), lowered, n=1, cutoff=0.7)
    return lowered[close[0]] if close else None


def parse_number(text: str) -> Fraction:
    """Return a decimal number or a fraction as it is written.

    Raises: ValueError for anything else, and for more than 40 characters.

    >>> parse_number("1 1/8")
    Fraction(9, 8)
    """
    if len(text) > _LONGEST_NUMBER:
        raise ValueError(f"number {text[:20]!r}… has more than {_LONGEST_NUMBER} characters")
    if _NUMBER.fullmatch(text):
        return Fraction(text if not text.endswith(".") else text[:-1])
    if not _FRACTION.fullmatch(text):
        raise ValueError(f"{text!r} is neither a decimal number nor a fraction")
    sign = -1 if text.startswith("-") else 1
    whole, _, fraction = text.lstrip("+-").replace("-", " ").rpartition(" ")
    return sign * (Fraction(whole or 0) + Fraction(fraction))


def parse_quantity(text: str, kind: QuantityKind) -> float:
    """Return the value of ``text`` in the kind's canonical unit.

    Raises: QuantityError with rule ``no-unit``, ``wrong-unit``, ``not-finite`` or
    ``not-a-quantity``.

    >>> parse_quantity("1/8 in", LENGTH)
    3.175
    >>> parse_quantity("374 degF", TEMPERATURE)
    190.0
    """
    text = text.strip(" ")
    if len(text) > _LONGEST_QUANTITY:
        raise QuantityError("not-a-quantity", text, kind.allowed, _like(kind))
    if _NOT_FINITE.match(text):
        raise QuantityError(
            "not-finite", text, kind.allowed, f"write a finite value, like {kind.example}"
        )
    split = _SPLIT.fullmatch(text)
    unit = kind.by_spelling.get(_tidy_unit(split[2])) if split else None
    if split is None or len(split[1]) > _LONGEST_NUMBER:
        raise QuantityError("not-a-quantity", text, kind.allowed, _mend(text, kind))
    number, unit_text = split[1], split[2].strip()
    if unit is not None:
        return float((parse_number(number) - unit.zero) * unit.factor)
    if not unit_text:
        raise QuantityError(
            "no-unit", f"{text}, without a unit", kind.allowed, f"write {text} {kind.canonical}"
        )
    if re.match(r"[0-9.,/:_+-]|[eE][-+]?[0-9]", unit_text):
        # The number does not end where ours do: 1,5 mm, 010 mm, 1e3 mm, 1/0 in.
        raise QuantityError("not-a-quantity", text, kind.allowed, _mend(text, kind))
    near = _near(_tidy_unit(unit_text), kind.by_spelling)
    mend = f"write {number} {near.name}" if near else f"write it in {kind.canonical}"
    raise QuantityError("wrong-unit", text, kind.allowed, mend)


def _like(kind: QuantityKind) -> str:
    return f"write it like {kind.example}"


def _mend(text: str, kind: QuantityKind) -> str:
    """Say what a near miss was probably meant to be; otherwise give the kind's example."""
    tidied = text.replace("−", "-").replace("_", "")
    tidied = re.sub(r"^([-+]?[0-9]+),([0-9]{1,2}|[0-9]{4,})(?![0-9,])", r"\1.\2", tidied)
    tidied = re.sub(r"^([-+]?)0+(?=[0-9])", r"\1", tidied)
    power = re.match(r"([-+]?[0-9]+\.?[0-9]*|[-+]?\.[0-9]+)[eE]([-+]?[0-9]{1,2})(?![0-9])", tidied)
    if power and abs(int(power[2])) <= _POWER_LIMIT:
        value = Fraction(power[1]) * Fraction(10) ** int(power[2])
        digits = f"{float(value):.12f}".rstrip("0").rstrip(".")
        tidied = f"{digits} {tidied[power.end() :].strip()}"
    if tidied != text:
        try:
            parse_quantity(tidied, kind)
        except QuantityError as error:
            if error.rule == "no-unit":
                return error.mend
        else:
            return f"write {tidied}"
    return _like(kind)


# --- the kinds --------------------------------------------------------------------------------
# Exact by definition: inch 25.4 mm, pound 0.45359237 kg, standard gravity 9.80665 m/s2
# (NIST Special Publication 811, appendix B); hence lbf, kgf, hp = 550 ft lbf/s, PS = 75 kgf m/s.

_INCH = Fraction("25.4")
_FOOT = 12 * _INCH
_KGF = Fraction("9.80665")
_LBF = Fraction("0.45359237") * _KGF
_HP = 550 * _FOOT / 1000 * _LBF
_PS = 75 * _KGF
_PI = Fraction("3.14159265358979323846264338327950288")
_DEG_PER_RAD = 180 / _PI


def _unit(name: str, factor: Fraction | int | str, *also: str, zero: str = "0") -> Unit:
    return Unit(name, Fraction(factor), also, Fraction(zero))


LENGTH = QuantityKind(
    "a length",
    (
        _unit("mm", 1),
        _unit("cm", 10),
        _unit("m", 1000),
        _unit("um", "0.001", "µm"),
        _unit("in", _INCH, "inch"),
        _unit("thou", _INCH / 1000),
        _unit("ft", _FOOT),
    ),
    "3.0 mm",
)
ANGLE = QuantityKind(
    "an angle",
    (
        _unit("deg", 1, "°", "degree", "degrees"),
        _unit("arcmin", Fraction(1, 60)),
        _unit("rad", _DEG_PER_RAD),
    ),
    "25 deg",
)
LINEAR_FEED = QuantityKind(
    "a feed",
    (
        _unit("mm/min", 1),
        _unit("mm/s", 60),
        _unit("m/min", 1000),
        _unit("m/s", 60_000),
        _unit("in/min", _INCH, "ipm"),
        _unit("in/s", 60 * _INCH),
        _unit("ft/min", _FOOT),
    ),
    "1200 mm/min",
)
ROTARY_FEED = QuantityKind(
    "a rotary feed",
    (
        _unit("deg/min", 1, "°/min"),
        _unit("deg/s", 60, "°/s"),
        _unit("rpm", 360, "1/min", "rev/min"),
        _unit("rad/s", 60 * _DEG_PER_RAD),
    ),
    "1200 deg/min",
)
ACCELERATION = QuantityKind(
    "an acceleration",
    (_unit("mm/s2", 1), _unit("m/s2", 1000), _unit("in/s2", _INCH)),
    "400 mm/s2",
)
ANGULAR_ACCELERATION = QuantityKind(
    "an angular acceleration",
    (_unit("deg/s2", 1, "°/s2"), _unit("rad/s2", _DEG_PER_RAD)),
    "300 deg/s2",
)
SHAFT_SPEED = QuantityKind(
    "a shaft speed",
    (_unit("rpm", 1, "1/min", "rev/min", "r/min"), _unit("1/s", 60, "rev/s")),
    "2850 rpm",
)
LINEAR_SPEED = QuantityKind(
    "a speed",
    (
        _unit("m/s", 1),
        _unit("m/min", Fraction(1, 60)),
        _unit("mm/s", "0.001"),
        _unit("ft/s", _FOOT / 1000),
        _unit("ft/min", _FOOT / 60_000, "sfpm", "sfm"),
    ),
    "25 m/s",
)
POWER = QuantityKind(
    "a power",
    (_unit("W", 1), _unit("kW", 1000), _unit("hp", _HP), _unit("PS", _PS)),
    "0.75 kW",
)
FORCE = QuantityKind(
    "a force",
    (_unit("N", 1), _unit("kN", 1000), _unit("kgf", _KGF), _unit("lbf", _LBF)),
    "30 N",
)
STIFFNESS = QuantityKind(
    "a stiffness",
    (
        _unit("N/mm", 1),
        _unit("N/um", 1000, "N/µm"),
        _unit("kN/mm", 1000),
        _unit("N/m", "0.001"),
        _unit("kgf/mm", _KGF),
        _unit("lbf/in", _LBF / _INCH),
    ),
    "2000 N/mm",
)
ENERGY = QuantityKind(
    "an energy per volume",
    (
        _unit("J/mm3", 1, "W.s/mm3"),
        _unit("kJ/cm3", 1),
        _unit("GJ/m3", 1),
        _unit("hp.min/in3", 60 * _HP / _INCH**3),
    ),
    "40 J/mm3",
)
TEMPERATURE = QuantityKind(
    "a temperature",
    (
        _unit("degC", 1, "°C", "C"),
        _unit("degF", Fraction(5, 9), "°F", "F", zero="32"),
        _unit("K", 1, zero="273.15"),
    ),
    "190 degC",
)
TIME = QuantityKind(
    "a time", (_unit("s", 1), _unit("ms", "0.001"), _unit("min", 60), _unit("h", 3600)), "5 s"
)
DENSITY = QuantityKind(
    "a density", (_unit("kg/m3", 1), _unit("g/cm3", 1000, "kg/dm3")), "7850 kg/m3"
)
CONDUCTIVITY = QuantityKind(
    "a thermal conductivity", (_unit("W/m.K", 1, "W/(m.K)", "W/m/K", "W/mK"),), "32 W/m.K"
)
SPECIFIC_HEAT = QuantityKind(
    "a specific heat",
    (
        _unit("J/kg.K", 1, "J/(kg.K)", "J/kg/K", "J/kgK"),
        _unit("kJ/kg.K", 1000, "kJ/(kg.K)", "kJ/kg/K", "J/g.K", "J/(g.K)"),
    ),
    "460 J/kg.K",
)
FILM = QuantityKind(
    "a film or contact coefficient",
    (
        _unit("W/m2.K", 1, "W/(m2.K)", "W/m2/K", "W/m2K"),
        _unit("kW/m2.K", 1000, "kW/(m2.K)", "kW/m2/K", "kW/m2K"),
    ),
    "50 W/m2.K",
)
TEMPERATURE_STEP = QuantityKind("a temperature difference", (_unit("K", 1),), "25 K")
BLOCK_RATE = QuantityKind("a block rate", (_unit("blocks/s", 1, "1/s"),), "250 blocks/s")
VOLUME_PER_AREA = QuantityKind("a volume per area", (_unit("mm3/mm2", 1),), "10 mm3/mm2")
SHARE = QuantityKind("a share", (_unit("%", "0.01"),), "50 %")
