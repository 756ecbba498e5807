"""The traveller: it goes with the batch, blades down the page and operations across."""

from __future__ import annotations

from collections.abc import Mapping

from planner.batch.inspection import blades_to_measure, every_nth
from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.papers.batch import batch_facts, program_table
from planner.report.papers.model import Facts, Heading, Paper, Part, Signatures, Table, Text
from planner.report.row_words import listed

_MOST_ROWS = 200
"""More blades than this are not numbered beforehand."""
_BLANK_ROWS = 20


def traveller_paper(plan: Plan, verdicts: Mapping[str, Verdict]) -> Paper:
    """The paper for the batch."""
    quantity = plan.job.model.quantity
    last = min(quantity, plan.blade + _MOST_ROWS - 1)
    parts: list[Part] = [
        Facts(batch_facts(plan)),
        program_table(plan, verdicts),
        Heading("Blades"),
        Text(
            "Initials and date when an operation is done; a blade that fails gets the reason and "
            "goes no further. A blade marked * is measured, on the inspection sheet."
        ),
        _blades(plan, range(plan.blade, last + 1)),
    ]
    if last < quantity:
        parts += [
            Text(
                f"Blades {last + 1} to {quantity}: copy the next table as often as it takes, and "
                "number its rows."
            ),
            _blades(plan, range(0), _BLANK_ROWS),
        ]
    parts.append(Signatures(("Batch begun", "batch closed", "good blades", "rejected")))
    running = f"Traveller · {plan.job.model.title} · job {plan.job.sha256[:16]}"
    return Paper("traveller", "Traveller of the batch", running, tuple(parts), landscape=True)


def _blades(plan: Plan, numbers: range, blank: int = 0) -> Table:
    in_row = plan.setups[0].in_row
    header = ["blade", *(["clamping, station"] if in_row else [])]
    header += [f"{s.name}" for s in plan.setups]
    header += ["measured", "honed", "remarks"]
    measured = _measured(plan)
    rows = []
    for number in numbers:
        place = [_place(plan, number - plan.blade)] if in_row else []
        mark = f"{number} *" if number in measured else f"{number}"
        rows.append((mark, *place, *[""] * (len(header) - len(place) - 1)))
    rows += [("",) * len(header)] * blank
    widths = [7.0, *([11.0] if in_row else []), *[10.0] * len(plan.setups), 10.0, 10.0, 20.0]
    return Table(tuple(header), tuple(rows), tuple(widths), to_write_in=True)


def _measured(plan: Plan) -> set[int]:
    wear = plan.wheel_wear
    every = every_nth(plan.job.model, wear.dress_after if wear else None)
    quantity, together = plan.job.model.quantity, plan.totals.blades
    return set(blades_to_measure(plan.blade, quantity, every, together))


def _place(plan: Plan, behind_first: int) -> str:
    """In which run of the row a blade is ground, and in which station."""
    stations = plan.setups[0].row.stations
    run, place = divmod(behind_first, len(stations))
    return f"{run + 1}, {listed([stations[place]])}"
