"""A table on the screen that fits 80 columns, in colour or none."""

from __future__ import annotations

from typing import Any

from rich import box
from rich.table import Table


def screen_table(title: str, *columns: tuple[str, Any]) -> Table:
    """An empty table; of each column its name, which may be empty, and how it is justified."""
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_header=any(name for name, _ in columns),
    )
    for name, justify in columns:
        # A figure or a short word is never cut: the first column gives way first.
        table.add_column(name, justify=justify, no_wrap=justify == "right" or name == "pass")
    return table
