"""What the commands share: consoles, common options, and errors turned into exit codes."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec

import click

from planner.errors import InputError, PlannerError, RefusedError

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

P = ParamSpec("P")

REFUSED, BAD_INPUT, INTERRUPTED = 1, 2, 130


def terminal(*, stderr: bool = False) -> Console:
    """Standard output or standard error as a console."""
    from rich.console import Console  # noqa: PLC0415

    # rich assumes 80 columns where there is no terminal, and honours NO_COLOR and COLUMNS.
    return Console(stderr=stderr, highlight=False, markup=False, emoji=False)


def terminal_width() -> int:
    """Columns of the terminal, or 80 where there is none, as the tables take it."""
    return shutil.get_terminal_size((80, 24)).columns


def show(parts: Iterable[RenderableType]) -> None:
    """Print what a screen is made of."""
    console = terminal()
    for part in parts:
        console.print(part)


def print_json(data: Any) -> None:
    """Print data as JSON."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def reports_errors(command: Callable[P, None]) -> Callable[P, None]:
    """Turn the project's errors into words on standard error, and into exit codes."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except InputError as error:
            from planner.report.problems import problem_lines  # noqa: PLC0415

            click.echo(problem_lines(error.problems, terminal_width()), err=True, nl=False)
            sys.exit(BAD_INPUT)
        except RefusedError as error:
            if kwargs.get("as_json"):
                from planner.report.refusals import refusal_data  # noqa: PLC0415

                print_json({"refused": [refusal_data(r) for r in error.refusals]})
            from planner.report.refused_screen import show_refusals  # noqa: PLC0415

            show_refusals(terminal(stderr=True), error.refusals)
            sys.exit(REFUSED)
        except PlannerError as error:
            from planner.produce import ProofError  # noqa: PLC0415

            if not isinstance(error, ProofError):
                raise
            from planner.report.faults import fault_data, fault_lines  # noqa: PLC0415

            if kwargs.get("as_json"):
                told = [{"program": f.program, **fault_data(f.fault)} for f in error.faults]
                print_json({"faults": told})
            found = [(each.program, each.fault) for each in error.faults]
            for line in fault_lines(found, blocks=False):
                click.echo(line, err=True)
            click.echo("The programs do not prove. Nothing was written.", err=True)
            sys.exit(REFUSED)

    return run


job_argument = click.argument("job_file", metavar="JOB", type=click.Path(path_type=Path))
machine_option = click.option(
    "--machine",
    "machine_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Machine file to use instead of the one the job names.",
)
set_option = click.option(
    "--set",
    "overrides",
    metavar="KEY.PATH=VALUE",
    multiple=True,
    help="Override one value of the job, or of the machine with a leading 'machine.'.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
