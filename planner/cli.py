"""The command ``bevelwright``: arguments, exit codes, and which screen goes where.

Exit codes: 0 done; 1 refused, or a proof failed; 2 bad input or usage. Figures go to standard
output, errors to standard error. Heavy parts are imported where a command needs them.
"""

from __future__ import annotations

import io
import os
import signal
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

# The matrices here are small: threads in the linear algebra would only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import click

from planner import __version__
from planner.cli_compare import compare
from planner.cli_parts import (
    BAD_INPUT,
    REFUSED,
    job_argument,
    json_option,
    machine_option,
    print_json,
    reports_errors,
    set_option,
    show,
    terminal,
    terminal_width,
)
from planner.errors import InputError, Problem

if TYPE_CHECKING:
    from planner.cautions.caution import Caution
    from planner.plan import Plan
    from planner.restart import Restart
    from planner.scatter.scatter import Scatter


def _numbers(texts: Iterable[str], option: str) -> tuple[int, ...]:
    """Whole numbers from 1, each given by itself or in a list parted by commas."""
    numbers = [part.strip() for text in texts for part in text.split(",")]
    for number in numbers:
        if not (number.isascii() and number.isdigit() and 0 < int(number[:9]) == int(number)):
            raise click.BadParameter(
                f"{number or 'nothing'} is not the number of a station", param_hint=option
            )
    return tuple(sorted({int(number) for number in numbers}))


_out_option = click.option(
    "--out",
    "folder",
    metavar="DIR",
    required=True,
    type=click.Path(path_type=Path),
    help="Folder for the files; made new, or replaced with --replace.",
)
_scatter_option = click.option(
    "--scatter",
    "drawn",
    metavar="N",
    type=click.IntRange(100, 1_000_000),
    help="Draw N blades with the stated errors: spread of every land, and which error matters.",
)
_seed_option = click.option(
    "--seed",
    metavar="S",
    type=click.IntRange(0, 2**63 - 1),
    default=1,
    show_default=True,
    help="With --scatter: the same seed draws the same blades.",
)
_blade_option = click.option(
    "--blade",
    metavar="N",
    type=click.IntRange(1, 100_000),
    default=1,
    help="Which blade of a batch touched off once: its programs make up for the wheel's wear.",
)
_skip_option = click.option(
    "--skip",
    metavar="N",
    multiple=True,
    callback=lambda _context, _option, texts: _numbers(texts, "--skip"),
    help="A station of the row that holds no blade; may be repeated, or a list like 2,3.",
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="bevelwright")
def main() -> None:
    """Plan, write and prove the hollow relief of edge tools on converted grinders."""


def _planned(
    job_file: Path,
    machine_file: Path | None,
    overrides: tuple[str, ...],
    blade: int,
    skip: tuple[int, ...],
) -> tuple[Plan, tuple[Caution, ...]]:
    from planner.cautions.from_plan import cautions_of  # noqa: PLC0415
    from planner.inputs.load import load_pair  # noqa: PLC0415
    from planner.inputs.steels import steel_of  # noqa: PLC0415
    from planner.plan import plan_job  # noqa: PLC0415

    job, machine = load_pair(job_file, machine_file, overrides)
    most = job.model.quantity if machine.model.fixture.touch_off_each == "batch" else 1
    if blade > most:
        raise click.BadParameter(
            f"{blade}: the batch touched off once has {most} blade{'s' if most > 1 else ''}"
            + ("" if most > 1 else "; fixture.touch_off_each or quantity makes it more"),
            param_hint="--blade",
        )
    row = machine.model.fixture.row
    count = 1 if row is None else len(row.positions_mm)
    if skip and (skip[-1] > count or len(skip) == count):
        has = f"a row of {count}" if row is not None else "one blade, not a row"
        raise click.BadParameter(
            f"{', '.join(str(n) for n in skip)}: the fixture holds {has}, and one station at least "
            "must be filled",
            param_hint="--skip",
        )
    plan = plan_job(job, machine, steel_of(job.model.steel), blade, skip)
    return plan, cautions_of(plan)


@main.command()
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@reports_errors
def check(files: tuple[Path, ...]) -> None:
    """Read jobs and machines and print every error, or what was understood."""
    from planner.inputs.job import Job  # noqa: PLC0415
    from planner.inputs.load import load_either, load_pair  # noqa: PLC0415
    from planner.report.understood import understood_lines  # noqa: PLC0415

    problems: list[Problem] = []
    for file in files:
        try:
            loaded = load_either(file)
            if isinstance(loaded.model, Job) and loaded.model.machine is not None:
                # The job's machine and its rack are part of what can be wrong with the job.
                load_pair(file)
        except InputError as error:
            problems += [p for p in error.problems if p not in problems]
        else:
            click.echo(understood_lines(loaded, terminal_width()), nl=False)
    if problems:
        raise InputError(problems)


@main.command()
@job_argument
@click.option(
    "--bowl",
    metavar="FROM:TO",
    help="Radii of the hollows to lay the bevel in, as 40:400mm; else those of the job's cut.bowl.",
)
@machine_option
@set_option
@_scatter_option
@_seed_option
@json_option
@reports_errors
def section(
    job_file: Path,
    bowl: str | None,
    machine_file: Path | None,
    overrides: tuple[str, ...],
    drawn: int | None,
    seed: int,
    as_json: bool,
) -> None:
    """Print the section's figures: lands, steel left, tolerance, how it will cut and keep."""
    from planner.inputs.load import load_pair  # noqa: PLC0415
    from planner.plan import section_fit  # noqa: PLC0415
    from planner.report.bend_words import bend_data  # noqa: PLC0415
    from planner.report.cut_data import use_data  # noqa: PLC0415
    from planner.report.plan_json import rounded, section_data, tolerance_data  # noqa: PLC0415
    from planner.report.wall_words import wall_data  # noqa: PLC0415

    if bowl is None:
        job, machine = load_pair(job_file, machine_file, overrides)
    else:
        from planner.inputs.cutting import bowl_override, told_of_bowl  # noqa: PLC0415

        overrides = (*overrides, bowl_override(bowl))
        try:
            job, machine = load_pair(job_file, machine_file, overrides)
        except InputError as error:
            raise InputError(told_of_bowl(error.problems, len(overrides), bowl)) from None
    fit = section_fit(job.model, machine.model)
    found = None
    if drawn is not None:
        from planner.scatter.cases import scatter_of_fit  # noqa: PLC0415

        found = scatter_of_fit(job.model, machine.model, fit, drawn, seed)
    if as_json:
        data = {
            "wheel": fit.wheel.name,
            "section": section_data(fit.section, from_the_bar=job.model.bevel_stages > 0),
            "tolerance": tolerance_data(fit.spreads, fit.share_in_tolerance, fit.helpful),
            "wall": wall_data(fit.wall),
            "bent": bend_data(fit.bent),
            **use_data(job.model, fit.section),
        }
        print_json(rounded({**data, **_scatter_data(found)}))
        return
    from planner.report.section_screen import section_parts  # noqa: PLC0415

    show(section_parts(job.model, fit))
    _show_scatter(found)


def _scatter_data(found: Scatter | None) -> dict[str, Any]:
    if found is None:
        return {}
    from planner.report.scatter_words import scatter_data  # noqa: PLC0415

    return {"scatter": scatter_data(found)}


def _show_scatter(found: Scatter | None) -> None:
    if found is None:
        return
    from planner.report.scatter_words import scatter_parts  # noqa: PLC0415

    show(scatter_parts(found))


@main.command()
@job_argument
@machine_option
@set_option
@_blade_option
@_skip_option
@_scatter_option
@_seed_option
@json_option
@reports_errors
def plan(
    job_file: Path,
    machine_file: Path | None,
    overrides: tuple[str, ...],
    blade: int,
    skip: tuple[int, ...],
    drawn: int | None,
    seed: int,
    as_json: bool,
) -> None:
    """Plan the grind: passes, forces, time, steel removed, cautions. Writes nothing."""
    made, cautions = _planned(job_file, machine_file, overrides, blade, skip)
    found = None
    if drawn is not None:
        from planner.scatter.cases import scatter_of_plan  # noqa: PLC0415

        found = scatter_of_plan(made, drawn, seed)
    if as_json:
        from planner.report.plan_json import plan_data, rounded  # noqa: PLC0415

        print_json({**plan_data(made, cautions), **rounded(_scatter_data(found))})
        return
    from planner.report.plan_screen import plan_parts  # noqa: PLC0415

    show(plan_parts(made, cautions, terminal().width))
    _show_scatter(found)


@main.command()
@job_argument
@_out_option
@click.option("--replace", is_flag=True, help="Replace an earlier plan's folder, in one step.")
@click.option(
    "--from-pass",
    metavar="N",
    type=int,
    help="Go on from this pass of a set-up that was broken off; writes that program alone.",
)
@click.option("--setup", metavar="NAME", help="The set-up that goes on, with --from-pass.")
@click.option(
    "--new-wheel",
    is_flag=True,
    help="With --from-pass: wheel or belt was changed, so the zero is touched off anew.",
)
@machine_option
@set_option
@_blade_option
@_skip_option
@json_option
@reports_errors
def write(
    job_file: Path,
    folder: Path,
    replace: bool,
    from_pass: int | None,
    setup: str | None,
    new_wheel: bool,
    machine_file: Path | None,
    overrides: tuple[str, ...],
    blade: int,
    skip: tuple[int, ...],
    as_json: bool,
) -> None:
    """Plan, write the programs, read them back, prove them, and only then put them in DIR."""
    from planner.produce import produce, produce_from_pass  # noqa: PLC0415
    from planner.report.folder import check_target, put_folder  # noqa: PLC0415

    if from_pass is None and (setup is not None or new_wheel):
        raise click.UsageError("--setup and --new-wheel go with --from-pass")
    check_target(folder, replace=replace)
    made, cautions = _planned(job_file, machine_file, overrides, blade, skip)
    restart = None if from_pass is None else _restart(made, from_pass, setup, new_wheel)
    if restart is None:
        produced = produce(made, cautions)
    else:
        produced = produce_from_pass(made, cautions, restart)
    put_folder(produced.files, folder, replace=replace)
    if as_json:
        click.echo(produced.files["plan.json"].decode(), nl=False)
        return
    from planner.report.written_screen import restart_parts, written_parts  # noqa: PLC0415

    if restart is not None:
        show(restart_parts(restart, list(produced.files), produced.verdicts, folder))
        return
    show(written_parts(made, list(produced.files), produced.verdicts, folder))


def _restart(made: Plan, from_pass: int, name: str | None, new_wheel: bool) -> Restart:
    from planner.restart import restart_at  # noqa: PLC0415

    names = [s.name for s in made.setups]
    if name is None and len(names) > 1:
        raise click.UsageError(f"--from-pass needs --setup with one of {', '.join(names)}")
    found = [s for s in made.setups if name in (None, s.name)]
    if not found:
        raise click.BadParameter(
            f"{name}: the job has set-up{'s' if len(names) > 1 else ''} {', '.join(names)}",
            param_hint="--setup",
        )
    most = len(found[0].passes)
    if not 2 <= from_pass <= most:
        raise click.BadParameter(
            f"{from_pass}: set-up {found[0].name} has {most} passes and can go on from 2 to {most}",
            param_hint="--from-pass",
        )
    return restart_at(made, found[0], from_pass, new_wheel=new_wheel)


@main.command()
@job_argument
@_out_option
@click.option("--replace", is_flag=True, help="Replace earlier drawings, in one step.")
@machine_option
@set_option
@_blade_option
@_skip_option
@reports_errors
def draw(
    job_file: Path,
    folder: Path,
    replace: bool,
    machine_file: Path | None,
    overrides: tuple[str, ...],
    blade: int,
    skip: tuple[int, ...],
) -> None:
    """Draw section and wheels as DXF and SVG, the wheel's path as CSV, as the proof read them."""
    from planner.produce import produce_drawings  # noqa: PLC0415
    from planner.report.folder import check_target, is_of_draw, put_folder  # noqa: PLC0415

    check_target(folder, replace=replace, ours=is_of_draw)
    made, cautions = _planned(job_file, machine_file, overrides, blade, skip)
    produced = produce_drawings(made, cautions)
    put_folder(produced.files, folder, replace=replace, ours=is_of_draw)
    click.echo(f"{len(produced.files)} files in {folder}: {', '.join(produced.files)}")


@main.command()
@click.argument("program", type=click.Path(path_type=Path))
@click.option(
    "--job", "job_file", metavar="JOB", required=True, type=click.Path(path_type=Path),
    help="The job that the program is to make.",
)  # fmt: skip
@click.option("--setup", metavar="NAME", help="Set-up, where the program's header does not say.")
@click.option(
    "--after",
    metavar="FIRST",
    type=click.Path(path_type=Path),
    help="The program of the same set-up that was broken off, which this one goes on from.",
)
@click.option(
    "--passes",
    metavar="N",
    type=click.IntRange(1),
    help="How many passes of FIRST are whole.",
)
@click.option("--wheel", metavar="NAME", help="Wheel, where the program's header does not say.")
@click.option(
    "--stations",
    metavar="LIST",
    multiple=True,
    callback=lambda _context, _option, texts: _numbers(texts, "--stations"),
    help="Filled stations of the row, like 1,3, where the program's header does not say.",
)
@machine_option
@set_option
@json_option
@reports_errors
def prove(
    program: Path,
    job_file: Path,
    setup: str | None,
    after: Path | None,
    passes: int | None,
    wheel: str | None,
    stations: tuple[int, ...],
    machine_file: Path | None,
    overrides: tuple[str, ...],
    as_json: bool,
) -> None:
    """Read any program back and say whether it makes the blade and stays safe."""
    from planner.inputs.load import load_pair  # noqa: PLC0415
    from planner.inputs.program_file import read_program  # noqa: PLC0415
    from planner.proof.prove import Before, prove_program  # noqa: PLC0415

    if (after is None) != (passes is None):
        raise click.UsageError("--after and --passes go together")
    job, machine = load_pair(job_file, machine_file, overrides)
    data = read_program(program)
    before = None
    if after is not None and passes is not None:
        before = Before(read_program(after), passes)
    verdict = prove_program(
        data,
        job.model,
        machine.model,
        setup=setup,
        wheel=wheel,
        stations=stations or None,
        before=before,
    )
    if as_json:
        from planner.report.verdicts import verdict_data  # noqa: PLC0415

        print_json(verdict_data(program.name, verdict))
    else:
        from planner.report.verdicts import verdict_lines  # noqa: PLC0415

        first = "" if after is None else str(after)
        lines = verdict_lines(
            str(program), verdict, terminal_width(), after=first, passes=passes or 0
        )
        click.echo(lines, nl=False)
    if not verdict.ok:
        sys.exit(REFUSED)


main.add_command(compare)


@main.command()
@click.argument("what", type=click.Choice(["job", "machine"]))
@reports_errors
def schema(what: str) -> None:
    """Print the JSON Schema of a job or machine file, for editors."""
    from planner.inputs.json_schema import job_schema, machine_schema  # noqa: PLC0415

    print_json(job_schema() if what == "job" else machine_schema())


def run() -> None:
    """Entry point. A reader that closes its pipe ends the command quietly, as it ends others."""
    if hasattr(signal, "SIGPIPE"):
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    for stream in (sys.stdout, sys.stderr):
        # A terminal without a degree sign still gets the figures.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        main()
    except OSError as fault:
        # Files are reported where they are read and written: this is the output itself.
        click.echo(f"bevelwright: the output cannot be written: {fault.strerror}", err=True)
        sys.exit(BAD_INPUT)
