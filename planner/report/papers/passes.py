"""The passes as they were read back from the program, with the pauses before them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.heat.march import Pause
from planner.plan import Plan
from planner.proof.verdict import Cut, PathPoint
from planner.report.papers.model import Table
from planner.report.papers.words import ReadBack, axis_word, tilt_word
from planner.setup_plan import Setup

_PAUSES = {"dwell": "wait", "dip": "dip", "air_pause": "stop and cool"}
_PASS = re.compile(r"\(pass (\d+) of \d+ (\S+) depth ")
_END = 10**9


@dataclass(frozen=True)
class ReadPass:
    """One pass of a program."""

    number: int
    kind: str
    at: PathPoint
    """Where the wheel stands at its end."""
    cut: Cut | None
    """What it takes at the middle of the edge; None where it meets no steel there."""


def read_passes(read_back: ReadBack) -> list[ReadPass]:
    """Every pass that the program's comments name, with what the proof saw between them."""
    lines = read_back.text.decode("ascii").splitlines()
    named = [(n, found) for n, line in enumerate(lines, 1) if (found := _PASS.match(line))]
    passes = []
    for (line, found), (until, _) in pairwise([*named, (_END, None)]):
        assert found is not None
        cuts = [c for c in read_back.program.cuts if line < c.first_line < until]
        passes.append(
            ReadPass(
                number=int(found[1]),
                kind=found[2].replace("-", " "),
                at=_last_feed(read_back.program.positions, line, until),
                cut=cuts[-1] if cuts else None,
            )
        )
    return passes


def passes_table(plan: Plan, setup: Setup, read_back: ReadBack) -> Table:
    """One row a pass; infeed, depths, feed and force are those that the proof found."""
    header = ["pass", "kind", "infeed", "depth set, mm", "reached, mm", "feed, mm/min",
              "force, N", "time, s", "pause before"]  # fmt: skip
    widths = [4.0, 8.0, 9.0, 9.0, 9.0, 8.0, 6.0, 6.0, 12.0]
    passes = read_passes(read_back)
    crosses = (
        setup.followed is None
        and "cross" in setup.axes
        and len({one.at.cross_mm for one in passes}) > 1
    )
    if crosses:
        header.insert(3, "cross")
        widths.insert(3, 9.0)
    if setup.sweep is not None:
        header.insert(2, "tilt")
        widths.insert(2, 8.0)
    if setup.followed is not None:
        # The infeed goes on changing all along such an edge: no one word stands for a pass.
        del header[2], widths[2]
    rows = []
    for one in passes:
        planned, pause = setup.passes[one.number - 1], setup.marched.pauses[one.number - 1]
        row = [
            f"{one.number}",
            one.kind,
            axis_word(plan, setup, "infeed", one.at.infeed_mm),
            *_taken(one.cut),
            f"{planned.time_s:.1f}",
            _pause_words(pause),
        ]
        if crosses:
            row.insert(3, axis_word(plan, setup, "cross", one.at.cross_mm))
        if setup.sweep is not None:
            row.insert(2, tilt_word(plan, setup, one.at.tilt_deg))
        if setup.followed is not None:
            del row[2]
        rows.append(tuple(row))
    return Table(tuple(header), tuple(rows), tuple(widths))


def _taken(cut: Cut | None) -> tuple[str, str, str, str]:
    if cut is None:
        return ("–", "–", "–", "–")
    return (
        f"{cut.commanded_depth_mm:.4f}",
        f"{cut.reached_depth_mm:.4f}",
        f"{cut.feed_mm_min:.0f}",
        f"{cut.normal_force_n:.1f}",
    )


def _pause_words(pause: Pause | None) -> str:
    if pause is None:
        return ""
    return f"{_PAUSES[pause.kind]} {pause.seconds:.{0 if pause.seconds >= 10 else 1}f} s"


def _last_feed(positions: Sequence[PathPoint], line: int, until: int) -> PathPoint:
    return [at for at in positions if line < at.line < until and not at.rapid][-1]
