"""The kinds of value that a file may hold: how each is read, bounded and described.

A reader takes the scalar as it was written and raises ``rule_fault``; pydantic adds the bounds
of the field. Nothing is coerced: ``yes`` is no truth value and ``900`` is no feed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationError,
)
from pydantic.fields import FieldInfo
from pydantic_core import InitErrorDetails, PydanticCustomError, core_schema

from planner.inputs import quantities
from planner.inputs.quantities import (
    QuantityError,
    QuantityKind,
    parse_number,
    parse_quantity,
    quantity_pattern,
)
from planner.inputs.yaml_nodes import Scalar, is_true, shown


class FileModel(BaseModel):
    """A map of a job or machine file: frozen, no unknown keys, filled by the file's keys only."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


def keys_of(model: type[FileModel]) -> dict[str, FieldInfo]:
    """Return the fields of a model by the keys that stand in the file."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def rule_fault(
    rule: str, *, key: str, given: str, allowed: str, mend: str, other: str = ""
) -> PydanticCustomError:
    """Return the error of one broken rule, to be raised by a reader or a model validator.

    ``key`` is the path, from the model's own map, of the key at fault, such as ``rack[1].name``;
    empty means the value itself. ``other`` is the path of the second key that takes part.
    """
    return PydanticCustomError(
        "rule_fault",
        "{rule}: {given}; allowed: {allowed}; {mend}",
        {
            "rule": rule,
            "key": key,
            "given": given,
            "allowed": allowed,
            "mend": mend,
            "other": other,
        },
    )


def raise_faults(faults: list[PydanticCustomError]) -> None:
    """Raise all the faults that one model validator found; none, and nothing happens."""
    if faults:
        raise ValidationError.from_exception_data(
            "faults", [InitErrorDetails(type=fault, input=None) for fault in faults]
        )


@dataclass(frozen=True)
class Written:
    """How the values of a field are written: reader, words for messages, JSON Schema."""

    read: Callable[[object], object]
    allowed: str
    holds: Literal["quantity", "number", "text", "truth"]
    unit: str = ""
    """Unit of the field's bounds; empty for a plain number or text."""
    example: str = ""
    json: Callable[[], dict[str, Any]] = dict

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Run the reader before pydantic's own check of the type and the bounds."""
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe the text; the bounds of a quantity are the field's, and told in words."""
        json = self.json()
        if json.get("type") in ("number", "integer", "boolean"):
            return {**handler(schema), **json}
        return json


def bounds_in_words(
    above: float | None, least: float | None, below: float | None, most: float | None, unit: str
) -> str:
    """Say a range; empty when there is none.

    >>> bounds_in_words(0, None, None, 50, "mm")
    'above 0 mm, at most 50 mm'
    """
    blank = " " if unit else ""
    parts = [
        f"{words} {value:.12g}{blank}{unit}"
        for words, value in (
            ("above", above),
            ("at least", least),
            ("below", below),
            ("at most", most),
        )
        if value is not None
    ]
    return ", ".join(parts)


# --- readers ----------------------------------------------------------------------------------


def _wrong_type(value: object, allowed: str, mend: str) -> PydanticCustomError:
    return rule_fault("wrong-type", key="", given=in_words(value), allowed=allowed, mend=mend)


def in_words(value: object) -> str:
    """Say what a value of the wrong type is."""
    if isinstance(value, dict):
        return "a map"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, Scalar) and value.kind == "bool":
        return f"{value}, a truth value"
    return shown(str(value))


def _is_text(value: object) -> bool:
    """Whether a value may be taken as text: a number may, by what stands in the file."""
    if isinstance(value, Scalar):
        return value.kind in ("text", "number")
    return isinstance(value, str)


def _number_text(value: object) -> str | None:
    """Return the text of a plain number; None for anything else."""
    if isinstance(value, Scalar):
        return str(value) if value.kind == "number" else None
    if isinstance(value, int | float) and not isinstance(value, bool):
        return format(value)
    return None


def _quantity(kind: QuantityKind) -> Written:
    def read(value: object) -> float:
        if isinstance(value, str) and not (isinstance(value, Scalar) and value.kind == "bool"):
            text = str(value)
        else:
            number = _number_text(value)
            if number is None:
                raise _wrong_type(value, kind.allowed, f"write it like {kind.example}")
            text = number
        try:
            return parse_quantity(text, kind)
        except QuantityError as error:
            raise _from_quantity(error) from None

    def json() -> dict[str, Any]:
        return {"type": "string", "pattern": quantity_pattern(kind), "examples": [kind.example]}

    return Written(read, kind.allowed, "quantity", kind.canonical, kind.example, json)


def _from_quantity(error: QuantityError) -> PydanticCustomError:
    return rule_fault(
        error.rule, key="", given=shown(error.given), allowed=error.allowed, mend=error.mend
    )


def _text(what: str, longest: int, allowed: str, pattern: str = "") -> Written:
    letters = re.compile(pattern or r".+", re.DOTALL)

    def read(value: object) -> str:
        if not _is_text(value):
            mend = f'write it in quotes: "{value}"' if isinstance(value, Scalar) else f"give {what}"
            raise _wrong_type(value, allowed, mend)
        text = str(value)
        if not text.strip():
            raise rule_fault(
                "bad-text", key="", given="blanks only", allowed=allowed, mend=f"give {what}"
            )
        if len(text) > longest:
            raise rule_fault(
                "bad-text",
                key="",
                given=f"{len(text)} characters",
                allowed=allowed,
                mend=f"take {len(text) - longest} characters out",
            )
        if not (text.isprintable() and letters.fullmatch(text)):
            odd = next(c for c in text if not (c.isprintable() and letters.fullmatch(c)))
            name = odd if odd.isprintable() else f"the hidden character U+{ord(odd):04X}"
            raise rule_fault(
                "bad-text",
                key="",
                given=f"{name} in {shown(text)}" if odd.isprintable() else name,
                allowed=allowed,
                mend="take the character out",
            )
        return text

    def json() -> dict[str, Any]:
        limits = {"type": ["string", "number"], "minLength": 1, "maxLength": longest}
        return {**limits, "pattern": f"^{pattern}$"} if pattern else limits

    return Written(read, allowed, "text", json=json)


def _plain_number() -> Written:
    allowed = "a plain number, without a unit"

    def read(value: object) -> float:
        text = _number_text(value)
        if text is None:
            raise _wrong_type(value, allowed, "write it like 0.5")
        try:
            return float(parse_number(text))
        except ValueError:
            raise _wrong_type(value, allowed, "write it like 0.5") from None

    return Written(read, allowed, "number", json=lambda: {"type": "number"})


def _count() -> Written:
    allowed = "a whole number"

    def read(value: object) -> int:
        text = _number_text(value)
        if text is None or not re.fullmatch(r"[-+]?[0-9]{1,40}", text):
            raise _wrong_type(value, allowed, "write it like 4")
        return int(text)

    return Written(read, allowed, "number", json=lambda: {"type": "integer"})


def _share() -> Written:
    allowed = "a share, plain or in %"

    def read(value: object) -> float:
        text = _number_text(value)
        try:
            if text is not None:
                return float(parse_number(text))
            if _is_text(value):
                return parse_quantity(str(value), quantities.SHARE)
        except QuantityError as error:
            raise rule_fault(
                error.rule,
                key="",
                given=shown(error.given),
                allowed=allowed,
                mend="write it like 0.5 or 50 %",
            ) from None
        except ValueError:
            pass
        raise _wrong_type(value, allowed, "write it like 0.5 or 50 %")

    def json() -> dict[str, Any]:
        types = {"type": ["number", "string"], "minimum": 0, "maximum": 1}
        return {**types, "pattern": quantity_pattern(quantities.SHARE)}

    return Written(read, allowed, "number", json=json)


def _flag() -> Written:
    allowed = "true or false"

    def read(value: object) -> bool:
        if isinstance(value, bool):
            return value
        if isinstance(value, Scalar) and value.kind == "bool":
            return is_true(value)
        raise _wrong_type(value, allowed, "write true or false, without quotes")

    return Written(read, allowed, "truth", json=lambda: {"type": "boolean"})


# --- the types of fields ----------------------------------------------------------------------

Length = Annotated[float, _quantity(quantities.LENGTH)]
Angle = Annotated[float, _quantity(quantities.ANGLE)]
LinearFeed = Annotated[float, _quantity(quantities.LINEAR_FEED)]
RotaryFeed = Annotated[float, _quantity(quantities.ROTARY_FEED)]
Acceleration = Annotated[float, _quantity(quantities.ACCELERATION)]
AngularAcceleration = Annotated[float, _quantity(quantities.ANGULAR_ACCELERATION)]
ShaftSpeed = Annotated[float, _quantity(quantities.SHAFT_SPEED)]
LinearSpeed = Annotated[float, _quantity(quantities.LINEAR_SPEED)]
Power = Annotated[float, _quantity(quantities.POWER)]
Force = Annotated[float, _quantity(quantities.FORCE)]
Stiffness = Annotated[float, _quantity(quantities.STIFFNESS)]
Energy = Annotated[float, _quantity(quantities.ENERGY)]
Temperature = Annotated[float, _quantity(quantities.TEMPERATURE)]
Time = Annotated[float, _quantity(quantities.TIME)]
Density = Annotated[float, _quantity(quantities.DENSITY)]
Conductivity = Annotated[float, _quantity(quantities.CONDUCTIVITY)]
SpecificHeat = Annotated[float, _quantity(quantities.SPECIFIC_HEAT)]
Film = Annotated[float, _quantity(quantities.FILM)]
TemperatureStep = Annotated[float, _quantity(quantities.TEMPERATURE_STEP)]
VolumePerArea = Annotated[float, _quantity(quantities.VOLUME_PER_AREA)]
BlockRate = Annotated[float, _quantity(quantities.BLOCK_RATE)]

Number = Annotated[float, _plain_number()]
Count = Annotated[int, _count()]
Share = Annotated[float, _share(), Field(ge=0, le=1)]
Flag = Annotated[bool, _flag()]

Name = Annotated[
    str,
    _text(
        "a name",
        40,
        "letters, digits, blank and . , = _ + -, at most 40 characters",
        "[A-Za-z0-9 .,=_+-]+",
    ),
]
Title = Annotated[str, _text("a title", 120, "text on one line, at most 120 characters")]
Word = Annotated[str, _text("a word", 80, "text on one line, at most 80 characters")]
PathText = Annotated[
    str, _text("a path", 500, "a path, seen from this file, at most 500 characters")
]


def _rising(unit: str) -> AfterValidator:
    def check(ends: tuple[float, float]) -> tuple[float, float]:
        low, high = ends
        if not low < high:
            raise rule_fault(
                "range-order",
                key="",
                given=f"from {low:g} to {high:g} {unit}",
                allowed="the lower end first, then the higher",
                mend=f"write [{high:g} {unit}, {low:g} {unit}]" if low > high else "widen it",
            )
        return ends

    return AfterValidator(check)


@dataclass(frozen=True)
class PairOf:
    """Beside a pair that is no range: what its two values are, for messages."""

    words: str


LengthRange = Annotated[tuple[Length, Length], _rising("mm")]
_Radius = Annotated[Length, Field(gt=0, le=100_000)]
RadiusRange = Annotated[tuple[_Radius, _Radius], _rising("mm")]
AngleRange = Annotated[tuple[Angle, Angle], _rising("deg")]
TemperatureRange = Annotated[tuple[Temperature, Temperature], _rising("degC")]


_MARK_BOUNDS: dict[str, tuple[QuantityKind, float]] = {
    # Wider than any wheel: only slips of the unit are to be caught here.
    "rpm": (quantities.SHAFT_SPEED, 200_000),
    "m_s": (quantities.LINEAR_SPEED, 500),
}


@dataclass(frozen=True)
class MarkedSpeed:
    """The largest speed printed on a wheel or belt: of the shaft or of the surface, not both."""

    rpm: float | None = None
    m_s: float | None = None

    written: ClassVar[Written]

    @classmethod
    def __get_pydantic_core_schema__(
        cls, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Read the text; a ready value passes."""
        return core_schema.no_info_plain_validator_function(_read_marked_speed)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe both ways of writing it."""
        return cls.written.json()


def _read_marked_speed(value: object) -> MarkedSpeed:
    if isinstance(value, MarkedSpeed):
        return value
    allowed = MarkedSpeed.written.allowed
    mend = "write it like 4500 rpm or 35 m/s"
    text = str(value) if _is_text(value) else _number_text(value)
    if text is None:
        raise _wrong_type(value, allowed, mend)
    refused: list[QuantityError] = []
    for unit, (kind, most) in _MARK_BOUNDS.items():
        try:
            speed = parse_quantity(text, kind)
        except QuantityError as error:
            refused.append(error)
            continue
        if not 0 < speed <= most:
            bounds = bounds_in_words(0, None, None, most, kind.canonical)
            raise rule_fault(
                "out-of-range",
                key="",
                given=shown(text),
                allowed=f"{kind.allowed}, {bounds}",
                mend="give the number printed on the wheel, with its unit",
            )
        return MarkedSpeed(**{unit: speed})
    if refused[0].rule == "no-unit":
        mend = f"write {text} rpm or {text} m/s"
    raise rule_fault(
        refused[0].rule, key="", given=shown(refused[0].given), allowed=allowed, mend=mend
    )


def _marked_speed_json() -> dict[str, Any]:
    return {
        "type": "string",
        "anyOf": [{"pattern": quantity_pattern(kind)} for kind, _ in _MARK_BOUNDS.values()],
        "examples": ["4500 rpm", "35 m/s"],
    }


MarkedSpeed.written = Written(
    _read_marked_speed,
    f"{quantities.SHAFT_SPEED.allowed}, or {quantities.LINEAR_SPEED.allowed}",
    "quantity",
    example="4500 rpm",
    json=_marked_speed_json,
)
