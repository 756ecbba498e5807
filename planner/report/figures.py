"""Figures as a person says them."""

from __future__ import annotations


def time_text(seconds: float) -> str:
    """Seconds as a person says them.

    >>> time_text(47.2), time_text(312.0)
    ('47 s', '5 min 12 s')
    """
    whole = round(seconds)
    return f"{whole} s" if whole < 60 else f"{whole // 60} min {whole % 60} s"
