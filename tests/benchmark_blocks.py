"""What a program of many blocks costs to write and to prove, block for block, in one run. A script.

Side by side: a stand-alone RS274/NGC interpreter reading the same program, where it is installed.
No two blocks of the cut passes are alike; a program of many passes is the other extreme.

    python -m tests.benchmark_blocks [ROUNDS]
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from planner.gcode.render import program_text
from planner.proof.prove import prove_program
from tests.long_program import cut_into_blocks, program_of, slow_plan, with_more_passes

BLOCKS = (1_000, 10_000, 100_000)
T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """CPU of this process, and what came of it."""
    start = time.process_time()
    done = work()
    return time.process_time() - start, done


def interpreter_s(data: bytes) -> float:
    """CPU of the stand-alone interpreter; NaN where there is none."""
    if shutil.which("rs274") is None:
        return float("nan")
    with tempfile.TemporaryDirectory() as folder:
        for name in ("tool.tbl", "rs274.var"):
            (Path(folder) / name).touch()
        (Path(folder) / "program.ngc").write_bytes(data)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            ["rs274", "-g", "-t", "tool.tbl", "-v", "rs274.var", "program.ngc"],
            cwd=folder,
            env={"HOME": folder, "PATH": "/usr/bin:/bin"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=True,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Interleave the sizes, so that a busy machine slows all of them alike; print medians."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    plan = slow_plan()
    job, machine, program = plan.job.model, plan.machine.model, program_of(plan)
    plain = program_text(program, machine)
    # A pass more is a claim and a block.
    passes = {n: with_more_passes(plain, n // 2).encode() for n in BLOCKS}
    cut = {n: cut_into_blocks(program, n) for n in BLOCKS}
    columns = ("write", "prove", "rs274", "prove passes")
    spent: dict[tuple[str, int], list[float]] = {(c, n): [] for c in columns for n in BLOCKS}
    for _ in range(rounds):
        for n in BLOCKS:
            write_s, text = timed(lambda n=n: program_text(cut[n], machine))  # type: ignore[misc]
            data = text.encode("ascii")
            prove_s, verdict = timed(lambda data=data: prove_program(data, job, machine))  # type: ignore[misc]
            passes_s, other = timed(lambda n=n: prove_program(passes[n], job, machine))  # type: ignore[misc]
            if not (verdict.ok and other.ok):
                raise SystemExit(f"{n} blocks do not prove: {(*verdict.faults, *other.faults)[:3]}")
            for column, seconds in zip(
                columns, (write_s, prove_s, interpreter_s(data), passes_s), strict=True
            ):
                spent[column, n].append(seconds)
    middle = {key: statistics.median(values) for key, values in spent.items()}
    print("CPU s of a program, and microseconds a block; the last column: a pass each two lines")
    print(f"{'blocks':>8}" + "".join(f"{c:>20}" for c in columns))
    for n in BLOCKS:
        cells = (f"{middle[c, n]:9.3f} ({middle[c, n] / n * 1e6:6.1f})" for c in columns)
        print(f"{n:8d}" + "".join(f"{cell:>20}" for cell in cells))
    least, most = BLOCKS[1], BLOCKS[2]
    for c in columns:
        print(f"{c}: {middle[c, most] / middle[c, least]:.1f} times for {most // least} times")
    both = middle["write", most] + middle["prove", most]
    print(f"write and prove {most} blocks: {both:.1f} s, {most / both:.0f} blocks/s")


if __name__ == "__main__":
    main()
