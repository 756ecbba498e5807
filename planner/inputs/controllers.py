"""The classes of controller, as far as a machine file depends on them. Facts: docs/controllers.md.

What a program may hold stands in two further tables, the writer's (``planner/gcode/dialects.py``)
and the proof's own (``planner/proof/dialects.py``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class ControllerClass:
    """One class of controller."""

    axis_letters: tuple[str, ...]
    coolant_codes: tuple[str, ...]
    """That switch a coolant on, as the controller is built."""
    significand_bits: int
    """Of the floating-point numbers that it counts in."""
    blocks_per_s: float
    """Blocks a second that it takes, unless the machine file says otherwise."""

    def largest_held(self, decimals: int) -> float:
        """Below this, the numbers it counts in stand no further apart than the last decimal.

        Numbers of p bits stand 2^(e + 1 - p) apart from 2^e up to 2^(e + 1): a power of two is
        the bound. Source: IEEE Std 754-2019, table 3.1 (24 bits in binary32, 53 in binary64).

        >>> CONTROLLERS["small"].largest_held(4), CONTROLLERS["small"].largest_held(5)
        (1024.0, 128.0)
        """
        return 2.0 ** (math.floor(-decimals * math.log2(10.0)) + self.significand_bits)


CONTROLLERS: Mapping[str, ControllerClass] = {
    "rs274ngc": ControllerClass(
        axis_letters=("X", "Y", "Z", "A", "B", "C"),
        coolant_codes=("M7", "M8"),
        significand_bits=53,
        # Its trajectory is followed in steps of about a millisecond, and a block cannot be
        # shorter than a step: half of that. From memory.
        blocks_per_s=500.0,
    ),
    "small": ControllerClass(
        axis_letters=("X", "Y", "Z"),
        coolant_codes=("M8",),
        significand_bits=24,
        # Users of eight-bit controllers report 250 to 400 (no published source): the least.
        blocks_per_s=250.0,
    ),
}
