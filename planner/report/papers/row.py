"""The set-up sheet's part on a row of blades; nothing for a fixture that holds one."""

from __future__ import annotations

from collections.abc import Callable

from planner.plan import Plan
from planner.report.papers.model import Bullets, Heading, Part, Table
from planner.report.row_words import clampings_text, empty_stations, touched_station
from planner.setup_plan import Setup


def row_sheet_parts(
    plan: Plan, setup: Setup, traverse_word: Callable[[float], str], length: Callable[[float], str]
) -> list[Part]:
    """The sheet's part on the row: where each blade stands, how they are set, how they cool."""
    if not setup.in_row:
        return []
    row, frame = setup.row, setup.frame
    forward = frame.x_per_traverse > 0
    rows = []
    for number, low in enumerate(row.all_positions_mm, start=1):
        if number not in row.stations:
            rows.append((f"{number}", "none", "", ""))
            continue
        ends = (low, low + row.edge_length_mm)
        heel, tip = ends if forward else ends[::-1]
        rows.append((f"{number}", "yes", traverse_word(heel), traverse_word(tip)))
    lines = [
        "Set the blades in line: every edge against one straight stop along the traverse, every "
        f"{'heel' if forward else 'tip'} against its own stop. Run an indicator over the seats "
        "with the traverse before the first clamping: they must stand at one height.",
    ]
    if row.blades > 1:
        touched = touched_station(setup)
        lines.append(
            f"Touch off on the blade in station {touched} alone. Then turn the wheel by hand "
            "over each of the others, as far along: where it bares much higher or lower, seat or "
            "blade is wrong. What is left of it goes into the depth of that blade."
        )
        hottest = [max(t.by_blade_c[i] for t in setup.marched.passes) for i in range(row.blades)]
        temperatures = ", ".join(
            f"station {n} {c:.0f} °C" for n, c in zip(row.stations, hottest, strict=True)
        )
        lines.append(
            "A pass runs over the whole row, the next one comes back: each blade cools while the "
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
        lines.append(f"Station {number} must be empty, nothing left in its clamp: {what}.")
    lines.append(f"{plan.job.model.quantity} blades take {clampings_text(plan)}.")
    return [
        Heading("The row"),
        Table(("station", "blade", "heel at", "tip at"), tuple(rows), (1, 1, 2, 2)),
        Bullets(tuple(lines)),
    ]
