"""What every command shows of a job that is refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from planner.errors import Refusal
from planner.report.refusals import refusal_words, way_out_words

if TYPE_CHECKING:
    from rich.console import Console


def show_refusals(console: Console, refusals: Sequence[Refusal]) -> None:
    """Reasons and ways out; goes where errors go."""
    for refusal in refusals:
        console.print(Text(f"refused: {refusal_words(refusal)}.", style="bold"))
        if refusal.ways_out:
            console.print(Text("  ways out:"))
            for way in refusal.ways_out:
                console.print(Text(f"  - {way_out_words(way)}"))
    count = len(refusals)
    console.print(Text(f"{count} reason{'s' if count > 1 else ''}. No program was written."))
