"""The passes of a set-up on the screen: the columns that fit, the rows that are shown."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table

from planner.report.screen_table import screen_table
from planner.setup_plan import Setup

_PASS_COLUMNS: tuple[tuple[str, str, int], ...] = (
    ("", "", 0),
    ("pass", "", 0),
    ("set to", "mm", 0),
    ("reach", "mm", 1),
    ("gives", "µm", 5),
    ("feed", "mm/min", 0),
    ("Fn", "N", 3),
    ("P", "W", 7),
    ("soak", "°C", 4),
    ("flash", "°C", 6),
    ("time", "s", 8),
    ("by", "", 2),
)
"""Name, unit, and rank: on a narrow screen the columns of the highest rank go first."""

_PASS_WIDTHS = (2, 9, 6, 6, 5, 6, 4, 3, 4, 5, 4, 6)

_BOUND = {
    "rough infeed": "infeed",
    "finish infeed": "infeed",
    "normal force": "force",
    "depth left": "depth",
    "deflection left": "spring",
    "wheel wear": "wear",
    "soak": "heat",
    "flash": "heat",
    "axis": "feed",
    "controller": "feed",
    "wheel": "feed",
}
"""Short words for the limit that binds a pass; others stand as they are."""

_PAUSES = {"dwell": "wait", "dip": "dip", "air_pause": "stop"}

MANY_PASSES = 60
"""Of more passes than this the screen shows the first and the last; plan.json has them all."""

_FIRST, _LAST = 8, 12


def passes_table(setup: Setup, width: int) -> Table:
    """The passes of one set-up, in as many columns as a screen of this width has room for."""
    shown = _columns_that_fit(width)
    tilt = f"{setup.frame.tilt_deg:.2f}"
    if setup.sweep is not None and len(setup.sweep.stands) > 1:
        tilt += f" to {setup.sweep.stands[-1].tilt_deg:.2f}"
    table = screen_table(
        f"Set-up {setup.name}: face {setup.relief.face}, tilt {tilt} deg, {setup.program}"
    )
    table.show_header = True
    table.padding, table.show_edge = 0, False
    for index in shown:
        name, _, _ = _PASS_COLUMNS[index]
        text = name in ("pass", "by")
        table.add_column(name, justify="left" if text else "right", no_wrap=True)

    def add(cells: Sequence[str], style: str = "") -> None:
        table.add_row(*(cells[index] for index in shown), style=style)

    add([unit for _, unit, _ in _PASS_COLUMNS], style="dim")
    rows = zip(setup.passes, setup.marched.passes, setup.marched.pauses, setup.binding, strict=True)
    left_out = _left_out(len(setup.passes))
    facet: int | None = None
    for p, heat, pause, bound in rows:
        if p.number in left_out:
            if p.number == left_out[0]:
                add(["", f"{len(left_out)} more", *[""] * (len(_PASS_COLUMNS) - 2)], style="dim")
            continue
        if setup.sweep is not None and p.facet is not None and p.facet != facet:
            # Depths fall back where a facet begins; its row says why.
            facet = p.facet
            at = f"{setup.sweep.stands[facet].tilt_deg:.2f}°"
            add(["", f"facet {facet + 1}", at, *[""] * (len(_PASS_COLUMNS) - 3)], style="dim")
        if pause is not None:
            wait = f"{_PAUSES[pause.kind]} {pause.seconds:.{0 if pause.seconds >= 10 else 1}f} s"
            add(["", wait, *[""] * 8, f"{pause.seconds:.1f}", "heat"])
        add(
            [
                str(p.number),
                p.kind.replace("_", "-"),
                f"{p.commanded_depth_mm:.4f}",
                f"{p.reached_depth_mm:.4f}",
                f"{p.deflection_mm * 1000:.1f}",
                f"{p.feed_mm_min:.0f}",
                f"{p.normal_force_n:.1f}",
                f"{p.power_w:.0f}",
                f"{heat.soak_c:.0f}",
                f"{heat.flash_c:.0f}",
                f"{p.time_s:.1f}",
                _BOUND.get(bound, bound),
            ]
        )
    return table


def _columns_that_fit(width: int) -> list[int]:
    """Indices of the columns of passes that a screen has room for."""
    shown = list(range(len(_PASS_COLUMNS)))
    while sum(_PASS_WIDTHS[i] + 1 for i in shown) > width:
        least = max(shown, key=lambda i: _PASS_COLUMNS[i][2])
        if _PASS_COLUMNS[least][2] == 0:
            break
        shown.remove(least)
    return shown


def _left_out(count: int) -> range:
    """Numbers of the passes that the screen leaves out."""
    return range(_FIRST + 1, count - _LAST + 1) if count > MANY_PASSES else range(0)
