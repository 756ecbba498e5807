"""Deliberate damages to programs whose straight axes follow the edge, by what they spoil.

``docs/proof.md`` shows this list as part of its table.
"""

# ruff: noqa: E501 - one damage a line is a table that can be read

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np

from planner.proof.rules import Rule
from tests.proof.followed_flats import GENTLE, LAID, LEANING, STILL, STRONG, bevel, laid, lands
from tests.proof.followed_lines import IN_LINES, crowned, relief_in_lines
from tests.proof.followed_programs import belly, bend, inside, lopsided, turning


def hill(at_mm: float, high_mm: float, wide_mm: float, first: int) -> Any:
    """Depth added about a place, from a pass on."""
    return lambda s, n: high_mm * np.exp(-(((s - at_mm) / wide_mm) ** 2)) * (n >= first)


def without(text: str, count: int, number: int = 3) -> str:
    """So many blocks left out in the middle of a pass."""
    lines = text.split("\n")
    first, after = (
        next(i for i, line in enumerate(lines) if line.startswith(f"(pass {n} "))
        for n in (number, number + 1)
    )
    middle = (first + after) // 2
    return "\n".join(lines[: middle - count // 2] + lines[middle + count - count // 2 :])


def before(text: str, mark: str, *lines: str) -> str:
    """Lines put in front of the first with a mark."""
    at = text.index(mark)
    return text[:at] + "".join(f"{line}\n" for line in lines) + text[at:]


def mirrored(text: str) -> str:
    """The sign of the traverse exchanged."""
    text = re.sub(r"X(-?)(\d)", lambda m: "X" + ("" if m[1] else "-") + m[2], text)
    return text.replace("X-0.0000", "X0.0000")


def lifted(text: str) -> str:
    """The lifted place over the end at which the passes begin."""
    return next(line for line in text.split("\n") if re.match(r"G0 X\S+ Y\S+ Z", line))


def in_the_middle(text: str, *lines: str) -> str:
    """Lines put into the middle of the third pass."""
    all_lines = text.split("\n")
    at = next(i for i, line in enumerate(all_lines) if line.startswith("(pass 3 "))
    after = next(i for i, line in enumerate(all_lines) if line.startswith("(pass 4 "))
    middle = (at + after) // 2
    return "\n".join([*all_lines[:middle], *lines, *all_lines[middle:]])


def half_way(text: str) -> str:
    """Turned back in the middle of the third pass."""
    lines = text.split("\n")
    at = next(i for i, line in enumerate(lines) if line.startswith("(pass 3 "))
    after = next(i for i, line in enumerate(lines) if line.startswith("(pass 4 "))
    middle = (at + after) // 2
    return "\n".join([*lines[:middle], *reversed(lines[at + 1 : middle]), *lines[after:]])


FOLLOWED_DAMAGES: dict[str, tuple[str, Callable[[], str], Rule]] = {
    "one place ground deeper": (
        "belly",
        lambda: belly(spoil=hill(52.5, 0.05, 6.0, 4)).text(),
        Rule.LAND_OUT_OF_TOLERANCE,
    ),
    "the tip left standing": (
        "belly",
        lambda: belly(spoil=hill(70.0, -0.05, 8.0, 1)).text(),
        Rule.LAND_OUT_OF_TOLERANCE,
    ),
    "four blocks left out on a bend": ("bend", lambda: without(bend().text(), 4), Rule.PLUNGE),
    "forty blocks left out on a belly": ("belly", lambda: without(belly().text(), 40), Rule.PLUNGE),
    "forty blocks left out in a bend": ("inside", lambda: without(inside().text(), 40), Rule.PLUNGE),
    "one depth written for another": (
        "bend",
        lambda: bend().text().replace("(pass 3 of 6 rough depth 0.0881", "(pass 3 of 6 rough depth 0.0900"),
        Rule.CLAIM_CONTRADICTED,
    ),
    "zero said to be beside the anchor": (
        "bend",
        lambda: before(bend().text(), "G21", "(zero wheel bares on face A, traverse 0 at 21.9440 mm from heel)"),
        Rule.CLAIM_CONTRADICTED,
    ),
    "touched off beside the anchor of a bend": (
        "bend",
        lambda: bend(anchor_off_mm=3.0).text(),
        Rule.BELOW_TARGET,
    ),
    "touched off beside the anchor of a belly": (
        "lopsided",
        lambda: lopsided(anchor_off_mm=3.0).text(),
        Rule.PLUNGE,
    ),
    "the sign of the traverse": ("lopsided", lambda: mirrored(lopsided().text()), Rule.PLUNGE),
    "a rapid through the hump": (
        "bend",
        lambda: before(bend().text(), "(pass 2 ", lifted(bend().text())),
        Rule.RAPID_IN_STEEL,
    ),
    "a rapid in place of blocks": (
        "belly",
        lambda: re.sub(r"(\(pass 3 .*\n)((?:.*\n){60})G1", r"\1\2G0", belly().text()),
        Rule.RAPID_IN_STEEL,
    ),
    "a rapid from arm to arm inside a bend": (
        "inside",
        lambda: before(inside().text(), "G0 Z40.0000\nM9", "G0 Z0.5000", "G0 X35.0000"),
        Rule.RAPID_IN_STEEL,
    ),
    "lifted too little at the end inside a bend": (
        "inside",
        lambda: inside().text().replace("G0 Z40.0000\nM9", "G0 Z5.0000\nM9"),
        Rule.END_NOT_RETRACTED,
    ),
    "opened too low inside a bend": (
        "inside",
        lambda: inside().text().replace("G0 Z40.0000\nG0 A", "G0 Z5.0000\nG0 A"),
        Rule.START_NOT_CLEAR,
    ),
    "an air run straight across": (
        "bend",
        lambda: before(bend(passes=(0.01,)).text(air_run=True), "M2", lifted(bend().text()), "G0 X50.0000"),
        Rule.AIR_RUN_TOUCHES,
    ),
    "faster than an axis goes": ("bend", lambda: bend(feed_mm_s=24.0).text(), Rule.FEED_LIMIT),
    "more feed at the edge than the spring stands": (
        "belly",
        lambda: belly(feed_mm_s=60.0, passes=belly().passes[:-2]).text(),
        Rule.MISSING_SPARK_OUT,
    ),
    "slower than grinds": ("bend", lambda: bend(feed_mm_s=0.1).text(), Rule.CREEP),
    "two infeeds in one": (
        "bend",
        lambda: bend(passes=bend().passes[1:]).text(),
        Rule.BITE_TOO_LARGE,
    ),
    "an infeed over the blade": (
        "bend",
        lambda: re.sub(r"(\(pass 3 .*\n(?:.*\n){180})", lambda m: m[1] + "G91\nG1 Z-0.01\nG90\n", bend().text()),
        Rule.INCREMENTAL,
    ),
    "a wait in the cut": (
        "belly",
        lambda: in_the_middle(belly().text(), "G4 P1.0"),
        Rule.DWELL_IN_CONTACT,
    ),
    "a stop in the cut": ("belly", lambda: in_the_middle(belly().text(), "M0"), Rule.STOP_IN_CONTACT),
    "turned back half way": ("bend", lambda: half_way(bend().text()), Rule.PASS_INCOMPLETE),
    "the sign of the turn": ("turning", lambda: turning(turn_sign=-1.0).text(), Rule.PLUNGE),
    "a turn left out": ("turning", lambda: re.sub(r" C\S+", "", turning().text()), Rule.PLUNGE),
    "no spin-up on a belly": ("belly", lambda: belly().text().replace("G4 P5.0\n", ""), Rule.NO_SPIN_UP),
}  # fmt: skip


FLAT_DAMAGES: dict[str, tuple[dict[str, Any], dict[str, Any], Callable[[], str], Rule]] = {
    "one place of a followed bevel deeper": (
        GENTLE, STILL, lambda: bevel(spoil=hill(45.0, 0.06, 6.0, 3)).text(), Rule.BEVEL_OUT_OF_TOLERANCE
    ),
    "one place of a followed bevel left standing": (
        GENTLE, STILL, lambda: bevel(spoil=hill(0.0, -0.06, 6.0, 1)).text(), Rule.EDGE_OUT_OF_TOLERANCE
    ),
    "followed lands deeper at the tip": (
        GENTLE, STILL, lambda: lands(spoil=hill(60.0, 0.02, 6.0, 2)).text(), Rule.LAND_OUT_OF_TOLERANCE
    ),
    "a belly on which a flat that cannot yaw leans too far": (
        STRONG, STILL, lambda: bevel(radius_mm=62.0).text(), Rule.BEVEL_OUT_OF_TOLERANCE
    ),
    "lands on a belly on which a flat that cannot yaw leans too far": (
        STRONG, STILL, lambda: lands(radius_mm=62.0).text(), Rule.LAND_OUT_OF_TOLERANCE
    ),
    "a bevel for another belly": (
        GENTLE,
        STILL,
        lambda: bevel(radius_mm=170.0).text(),
        Rule.CLAIM_CONTRADICTED,
    ),
    "the sign of the turn along a bevel's belly": (
        STRONG,
        LAID,
        lambda: laid(lands(turn_sign=-1.0, passes=(0.005,), chord_error_mm=3e-3)).text(),
        Rule.PLUNGE,
    ),
    "a step more than a flat may bite that leans on a belly": (
        LEANING,
        STILL,
        lambda: bevel(radius_mm=85.0, passes=(0.33, 0.705, *bevel().passes[-2:])).text(),
        Rule.BITE_TOO_LARGE,
    ),
    "a bevel along a belly that stops a step short": (
        GENTLE, STILL, lambda: bevel(passes=bevel().passes[:-2]).text(), Rule.EDGE_OUT_OF_TOLERANCE
    ),
    "a bevel along a belly below its depth": (
        GENTLE, STILL, lambda: bevel(passes=(*bevel().passes[:-1], 0.9765)).text(), Rule.BELOW_TARGET
    ),
}  # fmt: skip


def aside(at_mm: float, far_mm: float, wide_mm: float, number: int) -> Any:
    """Cross added about a place in one pass."""
    return lambda s, n: far_mm * np.exp(-(((s - at_mm) / wide_mm) ** 2)) * (n == number)


_LAST = len(relief_in_lines().lines)

LINE_DAMAGES: dict[str, tuple[dict[str, Any], dict[str, Any], Callable[[], str], Rule]] = {
    "a line left out along a belly": (
        GENTLE,
        IN_LINES,
        lambda: relief_in_lines(
            lines=[p for n, p in enumerate(relief_in_lines().lines) if n != _LAST - 2]
        ).text(),
        Rule.RIDGES_TOO_HIGH,
    ),
    "a line's cross off at one place of a belly": (
        GENTLE,
        IN_LINES,
        lambda: relief_in_lines(cross_off=aside(45.0, 0.3, 6.0, _LAST - 1)).text(),
        Rule.CLAIM_CONTRADICTED,
    ),
    "a line too deep at one place of a belly": (
        GENTLE,
        IN_LINES,
        lambda: crowned(spoil=hill(45.0, 0.01, 6.0, _LAST)).text(),
        Rule.BELOW_TARGET,
    ),
    "lines for another belly": (
        GENTLE,
        IN_LINES,
        lambda: relief_in_lines(radius_mm=120.0, lines=relief_in_lines().lines[:1]).text(),
        Rule.CLAIM_CONTRADICTED,
    ),
    "lines that all touch where the face lies level": (
        STRONG,
        IN_LINES,
        lambda: crowned(radius_mm=62.0, apart_mm=-1e6, lines=crowned().lines[-4:]).text(),
        Rule.CLAIM_CONTRADICTED,
    ),
}
