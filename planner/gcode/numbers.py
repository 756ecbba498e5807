"""The only place where a number becomes program text: fixed decimals, finite, no ``-0``."""

from __future__ import annotations

import math
from decimal import ROUND_FLOOR, Decimal

LARGEST = 999_999.0
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


def limit_text(value: float, decimals: int, digits: int = 3) -> str:
    """A feed, speed or tolerance as program text: rounded down, for it is the most that may be.

    Small values get more decimals, so that ``digits`` of them count: a tolerance rounded to zero
    is none on some controllers, and a feed of zero stops the program.

    Raises: ValueError when the value is not above zero, or over ``LARGEST``.

    >>> limit_text(198.269, 1), limit_text(4000.0, 1), limit_text(0.00002, 4, digits=2)
    ('198.2', '4000.0', '0.000020')
    """
    if not 0 < value <= LARGEST:
        raise ValueError(f"{value!r} cannot stand in a program: above 0, at most {LARGEST:g}")
    decimals = max(decimals, digits - 1 - math.floor(math.log10(value)))
    # What is a last decimal but for the error of its own arithmetic counts as that decimal.
    exact = Decimal(value) * (1 + Decimal("1e-12"))
    return f"{exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_FLOOR):f}"
