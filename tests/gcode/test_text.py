"""Numbers and comments: the two places where something becomes program text."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.gcode.comments import LONGEST_LINE, comment
from planner.gcode.numbers import LARGEST, number_text


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
