"""Numbers and comments: the two places where something becomes program text."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.gcode.comments import LONGEST_LINE, comment
from planner.gcode.numbers import LARGEST, limit_text, number_text


@given(st.floats(-LARGEST, LARGEST), st.integers(0, 5))
def test_number_text_is_plain_fixed_decimals(value, decimals):
    text = number_text(value, decimals)
    assert re.fullmatch(r"-?\d+(\.\d+)?", text)
    assert len(text.partition(".")[2]) == decimals
    assert abs(float(text) - value) <= 0.5 * 10**-decimals * (1 + 1e-9) + 1e-9
    assert not (text.startswith("-") and float(text) == 0)


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        # By hand. Small values must not turn into exponents or a signed zero.
        (-1e-5, 3, "0.000"),
        (1e-5, 4, "0.0000"),
        (-0.0, 3, "0.000"),
        (1234.56789, 4, "1234.5679"),
        (2850.0, 0, "2850"),
    ],
)
def test_number_text_cases(value, decimals, text):
    assert number_text(value, decimals) == text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e6])
def test_number_text_refuses_what_cannot_stand_in_a_program(value):
    with pytest.raises(ValueError, match="cannot stand in a program"):
        number_text(value, 4)


@given(st.floats(1e-9, LARGEST), st.integers(0, 5), st.integers(1, 4))
def test_limit_text_never_passes_the_limit_and_never_is_zero(value, decimals, digits):
    text = limit_text(value, decimals, digits)
    # Property: plain, not above the value, and short of it by less than its last decimal.
    assert re.fullmatch(r"\d+(\.\d+)?", text)
    last = 10.0 ** -len(text.partition(".")[2])
    assert 0 < float(text) <= value * (1 + 2e-12)
    assert value - float(text) < last * (1 + 1e-9)
    assert len(text.partition(".")[2]) >= decimals
    assert float(text) >= value * (1 - 10.0 ** (1 - digits)) - 1e-15


@pytest.mark.parametrize(
    ("value", "decimals", "digits", "text"),
    [
        # By hand.
        (198.269, 1, 3, "198.2"),
        (4000.0, 1, 3, "4000.0"),
        (4000 / 25.4, 3, 3, "157.480"),
        (0.005, 4, 2, "0.0050"),
        (0.005 / 25.4, 3, 2, "0.00019"),
        (740.835, 0, 3, "740"),
        # An error in the last bit of the arithmetic does not cost a decimal.
        (0.1 * 3 - 1e-16, 1, 1, "0.3"),
    ],
)
def test_limit_text_cases(value, decimals, digits, text):
    assert limit_text(value, decimals, digits) == text


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf"), 1e6])
def test_limit_text_refuses_what_is_no_limit(value):
    with pytest.raises(ValueError, match="cannot stand in a program"):
        limit_text(value, 1)


@given(st.text())
def test_comment_lets_only_a_short_list_of_characters_pass(text):
    line = comment("title", text)
    assert re.fullmatch(r"\(title [A-Za-z0-9 .,:=_+\-]*\)", line)
    assert len(line) <= LONGEST_LINE
    assert line.isascii()


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a) M3 (b", "(title a M3 b)"),
        ("MSG, hello! ~ ?", "(title MSG, hello)"),
        ("kniv på 25°", "(title kniv p 25)"),
        ("x" * 200, "(title " + "x" * 62 + ")"),
        ("two\nlines\rG1 X5", "(title two lines G1 X5)"),
    ],
)
def test_comment_cases(text, line):
    assert comment("title", text) == line
