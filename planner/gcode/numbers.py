"""The only place where a number becomes program text: fixed decimals, finite, no ``-0``."""

from __future__ import annotations

import math

LARGEST = 99_999.0
"""Some controllers compute in single precision: digits past the eighth are dropped."""


def number_text(value: float, decimals: int) -> str:
    """A number as program text.

    Raises: ValueError when the value is not finite or its size is over ``LARGEST``.

    >>> number_text(-0.00001, 3), number_text(12.5, 3), number_text(2850, 0)
    ('0.000', '12.500', '2850')
    """
    if not math.isfinite(value) or abs(value) > LARGEST:
        raise ValueError(f"{value!r} cannot stand in a program: finite, at most {LARGEST:g}")
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text
