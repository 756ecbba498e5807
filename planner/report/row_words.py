"""What screen and set-up sheet say of a row of blades; nothing for a fixture that holds one."""

from __future__ import annotations

from collections.abc import Sequence

from planner.plan import Plan
from planner.setup_plan import Setup


def listed(numbers: Sequence[int]) -> str:
    """Numbers as a person says them.

    >>> listed([1]), listed([1, 3]), listed([1, 2, 3])
    ('1', '1 and 3', '1, 2 and 3')
    """
    texts = [str(number) for number in numbers]
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"


def touched_station(setup: Setup) -> int:
    """The station whose blade is touched off: the middle one, so that a slope of the row halves."""
    stations = setup.row.stations
    return stations[(len(stations) - 1) // 2]


def empty_stations(setup: Setup) -> list[int]:
    """The stations that hold no blade."""
    row = setup.row
    return [n for n in range(1, len(row.all_positions_mm) + 1) if n not in row.stations]


def filled_text(setup: Setup) -> str:
    """Which stations are filled and which are not."""
    stations, empty = setup.row.stations, empty_stations(setup)
    text = f"station{'s' if len(stations) > 1 else ''} {listed(stations)} of "
    text += f"{len(setup.row.all_positions_mm)} filled"
    if empty:
        stay = "stay" if len(empty) > 1 else "stays"
        text += f", {listed(empty)} {stay} empty"
    return text


def _blades_text(plan: Plan) -> str:
    quantity = plan.job.model.quantity
    return f"{quantity} blade{'s' if quantity > 1 else ''}"


def clampings_text(plan: Plan) -> str:
    """How many clampings the batch takes, and what the last one needs."""
    totals = plan.totals
    text = f"{totals.clampings} clamping{'s' if totals.clampings > 1 else ''}"
    if totals.in_last < totals.blades:
        skips = empty_stations(plan.setups[0])
        if plan.machine.model.fixture.touch_off_each == "batch":
            # The first of its blades tells how many are left, and what has worn off by then.
            options = [f"--blade {plan.job.model.quantity - totals.in_last + 1}"]
        else:
            options, skips = [], sorted([*skips, *plan.setups[0].row.stations[totals.in_last :]])
        options += [f"--skip {n}" for n in skips]
        text += f", the last of {totals.in_last}: write its programs with `{' '.join(options)}`"
    return text


def row_screen_lines(plan: Plan) -> list[str]:
    """For ``plan`` and ``write``."""
    setup = plan.setups[0]
    if not setup.in_row:
        return []
    lines = [f"Row: {filled_text(setup)}. {_blades_text(plan)}: {clampings_text(plan)}."]
    if setup.row.blades > 1:
        lines.append(
            f"One of them is touched off (station {touched_station(setup)}): thickness, angle and "
            "seat of the others go into their depth."
        )
    return lines
