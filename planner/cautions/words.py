"""How the cautions write amounts."""

from __future__ import annotations

from collections.abc import Sequence


def grams(mass_g: float) -> str:
    """A mass in two or three digits, never as 0.

    >>> grams(12.345), grams(0.1234), grams(0.0004)
    ('12.3 g', '0.12 g', 'less than 0.01 g')
    """
    if mass_g < 0.01:
        return "less than 0.01 g"
    return f"{mass_g:.1f} g" if mass_g >= 1 else f"{mass_g:.2f} g"


def listed(parts: Sequence[str]) -> str:
    """Parts joined as in a sentence.

    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])
    ('a', 'a and b', 'a, b and c')
    """
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"


def blades(quantity: int) -> str:
    """A count of blades.

    >>> blades(1), blades(10)
    ('1 blade', '10 blades')
    """
    return "1 blade" if quantity == 1 else f"{quantity} blades"


def once_each(bases: Sequence[str]) -> str:
    """Several bases as one, each named once, in their order.

    >>> once_each(["a; seen", "b", "a; seen"])
    'a; seen. b'
    """
    return ". ".join(dict.fromkeys(bases))
