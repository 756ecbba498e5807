"""The command ``compare``: variants of one job, or two jobs side by side."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from planner.cli_parts import (
    INTERRUPTED,
    REFUSED,
    machine_option,
    print_json,
    reports_errors,
    set_option,
    show,
    terminal,
)
from planner.errors import InputError

if TYPE_CHECKING:
    from planner.compare.figures import FigureKind
    from planner.compare.variants import Outcome, Reader
    from planner.inputs.variations import Variation

MOST_PLANS, MOST_SECTIONS = 100_000, 1_000_000


class _Asked(NamedTuple):
    """How the variants are to be shown."""

    order: tuple[str, ...]
    figure: str | None
    csv: Path | None
    chart: Path | None
    as_json: bool
    section_only: bool


@click.command()
@click.argument(
    "jobs", metavar="JOB [JOB]", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--vary",
    "varied",
    metavar="KEY.PATH=VALUES",
    multiple=True,
    help="A key and its values: 0.8,1.0,1.2mm or from:to:step, as 40:200:20mm. May be repeated: "
    "all combinations are planned. 'wheel.' is the job's wheel in the rack.",
)
@click.option(
    "--wheels",
    metavar="all|NAME,...",
    help="Vary the wheel: all of the rack, or those named.",
)
@click.option("--section-only", is_flag=True, help="Sections alone, without passes: quick.")
@click.option(
    "--sort",
    "order",
    metavar="FIGURE",
    multiple=True,
    help="Sort by a figure or a varied key, with - before it from the largest down.",
)
@click.option("--figure", metavar="FIGURE", help="Which figure the bars and the chart show.")
@click.option(
    "--csv", metavar="FILE", type=click.Path(path_type=Path), help="Also write a table as CSV."
)
@click.option(
    "--chart",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Also draw a chart: .svg, .pdf or .png.",
)
@machine_option
@set_option
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@reports_errors
def compare(
    jobs: tuple[Path, ...],
    varied: tuple[str, ...],
    wheels: str | None,
    section_only: bool,
    order: tuple[str, ...],
    figure: str | None,
    csv: Path | None,
    chart: Path | None,
    machine_file: Path | None,
    overrides: tuple[str, ...],
    as_json: bool,
) -> None:
    """Compare variants of a job, or two jobs. Writes nothing but what --csv and --chart name.

    Exit code 1 where every variant is refused; 130 where Ctrl-C ended it early: what was done by
    then is shown and written.
    """
    from planner.compare.figures import OF_PLAN, OF_SECTION  # noqa: PLC0415
    from planner.compare.variants import reader_of  # noqa: PLC0415

    kinds = OF_SECTION if section_only else OF_PLAN
    by = tuple(name.strip() for text in order for name in text.split(","))
    asked = _Asked(by, figure, csv, chart, as_json, section_only)
    readers = [reader_of(job, machine_file, overrides) for job in jobs]
    if len(jobs) == 2:
        if varied or wheels or csv or chart or order or figure:
            raise click.UsageError("two jobs are compared as they are: give only one to vary it")
        names = (jobs[0].name, jobs[1].name)
        if names[0] == names[1]:
            names = (str(jobs[0]), str(jobs[1]))
        _two_jobs(names, (readers[0], readers[1]), kinds, asked)
        return
    if len(jobs) != 1:
        raise click.UsageError("give one job, or two")
    variations = _variations(varied, wheels, readers[0], section_only=section_only)
    _one_job(str(jobs[0]), variations, readers[0], kinds, asked)


def _variations(
    varied: Sequence[str], wheels: str | None, read: Reader, *, section_only: bool
) -> list[Variation]:
    from planner.compare.variants import wheels_varied  # noqa: PLC0415
    from planner.inputs.variations import read_variations  # noqa: PLC0415

    if not varied and wheels is None:
        raise click.UsageError("nothing to compare: give --vary, --wheels, or a second job")
    variations = read_variations(varied, MOST_SECTIONS if section_only else MOST_PLANS)
    if wheels is None:
        return variations
    if any(v.key == "wheel" for v in variations):
        raise click.UsageError("--wheels and --vary wheel= are two words for one thing")
    names = None if wheels.strip() == "all" else [name.strip() for name in wheels.split(",")]
    return [wheels_varied(names, read, variations), *variations]


def _charted(figure: str | None, kinds: Sequence[FigureKind]) -> FigureKind:
    if figure is None:
        wanted = {"share_in_tolerance", "depth_mm"}
        return next(k for k in reversed(kinds) if k.name in wanted)
    found = next((k for k in kinds if k.name == figure), None)
    if found is None:
        raise click.BadParameter(
            f"{figure} is none of {', '.join(k.name for k in kinds)}", param_hint="--figure"
        )
    return found


def _one_job(
    job: str,
    variations: Sequence[Variation],
    read: Reader,
    kinds: Sequence[FigureKind],
    asked: _Asked,
) -> None:
    from planner.compare.variants import (  # noqa: PLC0415
        UnknownFigureError,
        check_order,
        in_order,
        problems_of,
    )
    from planner.report.compare_words import compare_csv, compare_data  # noqa: PLC0415
    from planner.report.one_file import put_file  # noqa: PLC0415

    charted = _charted(asked.figure, kinds)
    try:
        check_order(asked.order, variations, [k.name for k in kinds])
    except UnknownFigureError as unknown:
        known = [*(v.key for v in variations), *(k.name for k in kinds)]
        raise click.BadParameter(
            f"{unknown} is none of {', '.join(known)}", param_hint="--sort"
        ) from None
    _check_files(asked)
    done, total = _outcomes(variations, read, section_only=asked.section_only)
    outcomes = in_order(done, variations, asked.order)
    if len(done) == total and all(o.problems for o in outcomes):
        raise InputError(problems_of(outcomes))
    if asked.csv is not None:
        put_file(asked.csv, compare_csv(outcomes, variations, kinds).encode(), "--csv")
    if asked.chart is not None:
        from planner.report.compare_chart import chart_bytes  # noqa: PLC0415

        suffix = asked.chart.suffix.lower()
        image = chart_bytes(job, outcomes, variations, charted, suffix)
        put_file(asked.chart, image, "--chart")
    if asked.as_json:
        print_json(compare_data(job, outcomes, variations, total))
    else:
        from planner.report.compare_screen import compare_parts  # noqa: PLC0415

        width = terminal().width
        show(compare_parts(outcomes, variations, kinds, charted, width))
    if len(done) < total:
        click.echo(f"Interrupted: {len(done)} of {total} variants are done.", err=True)
        sys.exit(INTERRUPTED)
    if all(o.figures is None for o in outcomes):
        sys.exit(REFUSED)


def _check_files(asked: _Asked) -> None:
    """Can everything be written in the end? Better said before an hour of planning."""
    from planner.report.one_file import check_file  # noqa: PLC0415

    files = [path.resolve() for path in (asked.csv, asked.chart) if path is not None]
    if len(set(files)) < len(files):
        raise click.UsageError("--csv and --chart name the same file")
    if asked.csv is not None:
        check_file(asked.csv, "--csv")
    if asked.chart is not None:
        from planner.report.compare_chart import SUFFIXES, check_chart_library  # noqa: PLC0415

        check_file(asked.chart, "--chart", SUFFIXES)
        check_chart_library()


def _outcomes(
    variations: Sequence[Variation], read: Reader, *, section_only: bool
) -> tuple[list[Outcome], int]:
    """What came of every variant, or of those that were done when Ctrl-C came; and how many."""
    import math  # noqa: PLC0415

    from planner.compare.section_only import each_fitted  # noqa: PLC0415
    from planner.compare.variants import each_planned  # noqa: PLC0415
    from planner.inputs.variations import variants_of  # noqa: PLC0415
    from planner.report.progress import slow_progress  # noqa: PLC0415

    total = math.prod(len(v.values) for v in variations)
    if section_only:
        work = each_fitted(variations, read)
    else:
        work = each_planned(variants_of(variations), read)
    done: list[Outcome] = []
    try:
        with slow_progress(terminal(stderr=True), "variants", total) as advance:
            for outcome in work:
                done.append(outcome)
                advance()
    except KeyboardInterrupt:
        pass  # what is done is kept, and the caller says how much that is
    return done, total


def _two_jobs(
    names: tuple[str, str],
    readers: tuple[Reader, Reader],
    kinds: Sequence[FigureKind],
    asked: _Asked,
) -> None:
    from planner.compare.differ import differences  # noqa: PLC0415
    from planner.compare.variants import fitted, planned  # noqa: PLC0415
    from planner.inputs.variations import Variant  # noqa: PLC0415

    same = Variant(())
    problems, pairs = [], []
    for read in readers:
        try:
            pairs.append(read(same))
        except InputError as error:
            problems += [p for p in error.problems if p not in problems]
    if problems:
        raise InputError(problems)
    found = differences(pairs[0], pairs[1])
    work = fitted if asked.section_only else planned
    outcomes = (work(same, readers[0]), work(same, readers[1]))
    if asked.as_json:
        from planner.report.compare_words import difference_data  # noqa: PLC0415

        print_json(difference_data(names, found, outcomes))
    else:
        from planner.report.compare_screen import difference_parts  # noqa: PLC0415

        show(difference_parts(names, found, outcomes, kinds))
    if all(o.figures is None for o in outcomes):
        sys.exit(REFUSED)
