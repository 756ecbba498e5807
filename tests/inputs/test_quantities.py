"""Text with a unit becomes a float of the project's own unit, and nothing else does."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.inputs import quantities
from planner.inputs.quantities import (
    ANGLE,
    ENERGY,
    LENGTH,
    LINEAR_FEED,
    SHARE,
    STIFFNESS,
    QuantityError,
    QuantityKind,
    parse_number,
    parse_quantity,
    quantity_pattern,
)

KINDS = {name: kind for name, kind in vars(quantities).items() if isinstance(kind, QuantityKind)}


# Source: the factors of A. Thompson & B. N. Taylor, Guide for the Use of the International System
# of Units, NIST Special Publication 811, 2008, appendix B.8 (from memory; the exact ones are the
# definitions of inch, pound, standard gravity and horsepower). The rest by hand, as written.
@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        ("LENGTH", "3.0 mm", 3.0),
        ("LENGTH", "0.125 in", 3.175),  # 25.4 / 8
        ("LENGTH", "1/8 in", 3.175),
        ("LENGTH", "1 1/8 in", 28.575),  # 25.4 * 9 / 8
        ("LENGTH", "-1-1/2 inch", -38.1),
        ("LENGTH", "2 ft", 609.6),
        ("LENGTH", "3 thou", 0.0762),
        ("LENGTH", "5 um", 0.005),
        ("LENGTH", "5 µm", 0.005),
        ("LENGTH", "5 μm", 0.005),
        ("LENGTH", "1.5cm", 15.0),
        ("LENGTH", ".5 m", 500.0),
        ("LENGTH", "-0 mm", 0.0),
        ("ANGLE", "25 deg", 25.0),
        ("ANGLE", "25°", 25.0),
        ("ANGLE", "30 arcmin", 0.5),
        ("LINEAR_FEED", "1200 mm/min", 1200.0),
        ("LINEAR_FEED", "20 mm/s", 1200.0),
        ("LINEAR_FEED", "1.2 m/min", 1200.0),
        ("LINEAR_FEED", "10 in/min", 254.0),
        ("ROTARY_FEED", "1200 deg/min", 1200.0),
        ("ROTARY_FEED", "20 deg/s", 1200.0),
        ("ROTARY_FEED", "2 rpm", 720.0),
        ("BLOCK_RATE", "250 blocks/s", 250.0),
        ("BLOCK_RATE", "250 1/s", 250.0),
        ("ACCELERATION", "0.4 m/s2", 400.0),
        ("ACCELERATION", "0.4 m/s^2", 400.0),
        ("ACCELERATION", "0.4 m / s²", 400.0),
        ("ANGULAR_ACCELERATION", "300 deg/s2", 300.0),
        ("SHAFT_SPEED", "2850 rpm", 2850.0),
        ("SHAFT_SPEED", "50 1/s", 3000.0),
        ("LINEAR_SPEED", "35 m/s", 35.0),
        ("LINEAR_SPEED", "5000 ft/min", 25.4),
        ("POWER", "0.75 kW", 750.0),
        ("POWER", "1 hp", 745.69987158227022),
        ("POWER", "1 PS", 735.49875),
        ("FORCE", "2 kgf", 19.6133),
        ("FORCE", "1 lbf", 4.4482216152605),
        ("STIFFNESS", "2 N/um", 2000.0),
        ("ENERGY", "40 J/mm3", 40.0),
        ("ENERGY", "40 GJ/m3", 40.0),
        ("TEMPERATURE", "190 degC", 190.0),
        ("TEMPERATURE", "374 degF", 190.0),  # (374 - 32) * 5 / 9
        ("TEMPERATURE", "-40 °F", -40.0),
        ("TEMPERATURE", "273.15 K", 0.0),
        ("TIME", "0.5 min", 30.0),
        ("DENSITY", "7.85 g/cm3", 7850.0),
        ("CONDUCTIVITY", "32 W/(m K)", 32.0),
        ("CONDUCTIVITY", "32 W/m·K", 32.0),
        ("SPECIFIC_HEAT", "0.46 kJ/kg.K", 460.0),
        ("SHARE", "50 %", 0.5),
    ],
)
def test_text_gives_its_value_in_the_canonical_unit(kind: str, text: str, value: float) -> None:
    assert parse_quantity(text, KINDS[kind]) == value
    assert math.copysign(1, parse_quantity(text, KINDS[kind])) == math.copysign(1, value)


def test_radian_and_horsepower_per_volume_agree_with_printed_factors() -> None:
    # Source: NIST SP 811, table 6 (1 rad = 57.2957795... deg); and 1 hp min/in3 = 2.7303 J/mm3,
    # by hand: 745.6999 W * 60 s / 16387.064 mm3; abs = half of the last digit.
    assert parse_quantity("1 rad", ANGLE) == pytest.approx(57.2957795, abs=5e-8)
    assert parse_quantity("1 hp.min/in3", ENERGY) == pytest.approx(2.7303, abs=5e-5)
    # Source: NIST SP 811, B.8, pound-force per inch: 1.751 268 E+02 N/m.
    assert parse_quantity("1000 lbf/in", STIFFNESS) == pytest.approx(175.1268, abs=5e-5)


@pytest.mark.parametrize(
    ("text", "rule", "mend"),
    [
        ("900", "no-unit", "write 900 mm/min"),
        ("1/8", "no-unit", "write 1/8 mm/min"),
        ("900 mm", "wrong-unit", "write it in mm/min"),
        ("900 MM/MIN", "wrong-unit", "write 900 mm/min"),
        ("900 kg", "wrong-unit", "write it in mm/min"),
        ("1,5 m/min", "not-a-quantity", "write 1.5 m/min"),
        ("1,500 mm/min", "not-a-quantity", "write it like 1200 mm/min"),
        ("1e3 mm/min", "not-a-quantity", "write 1000 mm/min"),
        ("1.5e-3 m/min", "not-a-quantity", "write 0.0015 m/min"),
        ("1e99 mm/min", "not-a-quantity", "write it like 1200 mm/min"),
        ("0900 mm/min", "not-a-quantity", "write 900 mm/min"),
        ("1_000 mm/min", "not-a-quantity", "write 1000 mm/min"),
        ("−5 mm/min", "not-a-quantity", "write -5 mm/min"),
        ("1/0 m/min", "not-a-quantity", "write it like 1200 mm/min"),
        ("1:30 mm/min", "not-a-quantity", "write it like 1200 mm/min"),
        ("", "not-a-quantity", "write it like 1200 mm/min"),
        ("mm/min", "not-a-quantity", "write it like 1200 mm/min"),
        ("9" * 41 + " mm/min", "not-a-quantity", "write it like 1200 mm/min"),
        ("9" * 60_000, "not-a-quantity", "write it like 1200 mm/min"),
        ("nan mm/min", "not-finite", "write a finite value, like 1200 mm/min"),
        ("-Infinity mm/min", "not-finite", "write a finite value, like 1200 mm/min"),
        ("inf", "not-finite", "write a finite value, like 1200 mm/min"),
    ],
)
def test_what_is_no_feed_says_what_to_write(text: str, rule: str, mend: str) -> None:
    with pytest.raises(QuantityError, match="a feed in mm/min, mm/s") as caught:
        parse_quantity(text, LINEAR_FEED)
    assert (caught.value.rule, caught.value.mend) == (rule, mend)


@pytest.mark.parametrize("text", ["", "1e3", "010", "1.2.3", "1/2/3", "٣", "+-1", "1" * 41])
def test_parse_number_refuses_with_a_value_error(text: str) -> None:
    with pytest.raises(ValueError, match=r"number|characters"):
        parse_number(text)


every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
NUMBERS = st.decimals(-99999, 99999, places=4).map(lambda d: format(d, "f"))


@every_kind
@given(data=st.data())
def test_value_goes_back_to_the_text_it_came_from(kind: QuantityKind, data: st.DataObject) -> None:
    """Property: a value written in any unit, and read, differs by rounding alone."""
    unit = data.draw(st.sampled_from(kind.units))
    spelling = data.draw(st.sampled_from(unit.spellings))
    number = data.draw(NUMBERS)
    # Without a blank, 5 and 1/min would run into 51/min.
    blank = data.draw(st.sampled_from([" ", "   ", *([] if spelling[0] == "1" else [""])]))
    value = parse_quantity(f"{number}{blank}{spelling}", kind)
    back = value / float(unit.factor) + float(unit.zero)
    assert back == pytest.approx(float(number), rel=1e-12, abs=1e-9)


@every_kind
def test_every_spelling_stands_for_one_unit(kind: QuantityKind) -> None:
    spellings = [s for unit in kind.units for s in unit.spellings]
    assert len(set(spellings)) == len(spellings)
    assert {kind.by_spelling[unit.name].name for unit in kind.units} == {
        unit.name for unit in kind.units
    }
    assert kind.units[0].factor == (Fraction(1, 100) if kind is SHARE else 1)
    assert parse_quantity(kind.example, kind) > 0


@given(text=st.one_of(st.text(max_size=30), st.text("0123456789.,/-+ eEminrf%_:°", max_size=12)))
def test_any_text_gives_a_finite_value_or_a_quantity_error(text: str) -> None:
    rule = ""
    value = 0.0
    try:
        value = parse_quantity(text, LENGTH)
    except QuantityError as error:
        rule = error.rule
    assert rule in {"", "no-unit", "wrong-unit", "not-finite", "not-a-quantity"}
    assert math.isfinite(value)
    assert rule or re.search(quantity_pattern(LENGTH), text)


@every_kind
@given(data=st.data())
def test_pattern_takes_what_the_reader_takes(kind: QuantityKind, data: st.DataObject) -> None:
    """Property: an editor with the JSON Schema marks no quantity that the reader takes."""
    spelling = data.draw(st.sampled_from([s for u in kind.units for s in u.spellings]))
    ways = {".": [".", "·", " ", " * "], "/": ["/", " / "], "2": ["2", "²", "^2"],
            "3": ["3", "³", "^3"], "µ": ["µ", "μ"]}  # fmt: skip
    typed = "".join(data.draw(st.sampled_from(ways.get(c, [c]))) for c in spelling)
    number = data.draw(st.one_of(NUMBERS, st.sampled_from(["1/8", "1 1/8", "-3/4", ".5", "2."])))
    text = f"{number} {typed}"
    parse_quantity(text, kind)
    assert re.search(quantity_pattern(kind), text)


@every_kind
@pytest.mark.parametrize("text", ["5", "5 furlong", "1e3 {unit}", "nan {unit}", "05 {unit}"])
def test_pattern_refuses_what_the_reader_refuses(kind: QuantityKind, text: str) -> None:
    text = text.format(unit=kind.canonical)
    with pytest.raises(QuantityError):
        parse_quantity(text, kind)
    assert not re.search(quantity_pattern(kind), text)
