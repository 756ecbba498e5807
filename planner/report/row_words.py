"""What screen and set-up sheet say of a row of blades; nothing for a fixture that holds one."""

from __future__ import annotations

from collections.abc import Callable, Sequence

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
    lines = [
        f"Row: {filled_text(setup)}. {plan.job.model.quantity} blades: {clampings_text(plan)}."
    ]
    if setup.row.blades > 1:
        lines.append(
            f"One of them is touched off (station {touched_station(setup)}): thickness, angle and "
            "seat of the others go into their depth."
        )
    return lines


def row_sheet_lines(
    plan: Plan, setup: Setup, traverse_word: Callable[[float], str], length: Callable[[float], str]
) -> list[str]:
    """The sheet's part on the row: where each blade stands, how they are set, how they cool."""
    if not setup.in_row:
        return []
    row, frame = setup.row, setup.frame
    forward = frame.x_per_traverse > 0
    lines = [
        "## The row",
        "",
        "| station | blade | heel at | tip at |",
        "| --- | --- | --- | --- |",
    ]
    for number, low in enumerate(row.all_positions_mm, start=1):
        if number not in row.stations:
            lines.append(f"| {number} | none | | |")
            continue
        ends = (low, low + row.edge_length_mm)
        heel, tip = ends if forward else ends[::-1]
        lines.append(f"| {number} | yes | {traverse_word(heel)} | {traverse_word(tip)} |")
    lines += [
        "",
        "- Set the blades in line: every edge against one straight stop along the traverse, every "
        f"{'heel' if forward else 'tip'} against its own stop. Run an indicator over the seats "
        "with the traverse before the first clamping: they must stand at one height.",
    ]
    if row.blades > 1:
        touched = touched_station(setup)
        lines.append(
            f"- Touch off on the blade in station {touched} alone. Then turn the wheel by hand "
            "over each of the others, as far along: where it bares much higher or lower, seat or "
            "blade is wrong. What is left of it goes into the depth of that blade."
        )
        hottest = [max(t.by_blade_c[i] for t in setup.marched.passes) for i in range(row.blades)]
        temperatures = ", ".join(
            f"station {n} {c:.0f} °C" for n, c in zip(row.stations, hottest, strict=True)
        )
        lines.append(
            "- A pass runs over the whole row, the next one comes back: each blade cools while the "
            "others are ground. The two at the ends are ground twice in a row and are the hottest. "
            f"Predicted: {temperatures}. Look for colour there first."
        )
    for number in empty_stations(setup):
        within = row.stations[0] < number < row.stations[-1]
        what = (
            f"the wheel crosses it {length(plan.machine.model.fixture.clearance_mm)} above the zero"
            if within
            else "the wheel does not go there"
        )
        lines.append(f"- Station {number} must be empty, nothing left in its clamp: {what}.")
    lines += [f"- {plan.job.model.quantity} blades take {clampings_text(plan)}.", ""]
    return lines
