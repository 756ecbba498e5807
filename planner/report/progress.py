"""A bar on standard error for work that takes over a second."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

QUIET_S = 1.0


@contextmanager
def slow_progress(console: Console, what: str, total: int) -> Iterator[Callable[[], None]]:
    """Yield a function to call after each piece of work; the bar appears after a second.

    Where standard error is no terminal there is no bar.
    """
    bars: list[Progress] = []
    start, done = time.monotonic(), 0

    def advance() -> None:
        nonlocal done
        done += 1
        if not console.is_terminal or time.monotonic() - start < QUIET_S:
            return
        if not bars:
            bars.append(_bar(console))
            bars[0].add_task(what, total=total)
            bars[0].start()
        bars[0].update(bars[0].task_ids[0], completed=done)

    try:
        yield advance
    finally:
        for bar in bars:
            bar.stop()


def _bar(console: Console) -> Progress:
    from rich.progress import (  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
    )
