"""The papers of a plan as files: HTML, and PDF in both sizes of paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from planner.cautions.caution import Caution
from planner.plan import Plan
from planner.proof.verdict import Verdict
from planner.report.papers.html import html_page
from planner.report.papers.inspection import inspection_paper
from planner.report.papers.markdown import markdown
from planner.report.papers.model import Paper
from planner.report.papers.restart_sheet import restart_paper
from planner.report.papers.setup_sheet import setup_paper
from planner.report.papers.traveller import traveller_paper
from planner.report.papers.words import ReadBack
from planner.restart import Restart

CautionsOf = Mapping[str, Sequence[Caution]]
"""Cautions of each set-up, by its name."""


def paper_files(
    plan: Plan,
    cautions: CautionsOf,
    programs: Mapping[str, bytes],
    verdicts: Mapping[str, Verdict],
) -> dict[str, bytes]:
    """A set-up sheet a set-up, the inspection sheet and the traveller."""
    sheets = [
        setup_paper(plan, s, cautions.get(s.name, ()), read_back(programs, verdicts, s.program))
        for s in plan.setups
    ]
    batch = [inspection_paper(plan, verdicts), traveller_paper(plan, verdicts)]
    return _sheet_files(sheets) | _page_files(batch)


def restart_files(
    plan: Plan,
    restart: Restart,
    cautions: Sequence[Caution],
    programs: Mapping[str, bytes],
    verdicts: Mapping[str, Verdict],
) -> dict[str, bytes]:
    """The sheet of a program that goes on; the batch's papers are with the first program."""
    sheet = restart_paper(plan, restart, cautions, read_back(programs, verdicts, restart.program))
    return _sheet_files([sheet])


def read_back(
    programs: Mapping[str, bytes], verdicts: Mapping[str, Verdict], program: str
) -> ReadBack:
    """What the proof says of a program and its air run."""
    return ReadBack(
        programs[program], verdicts[program], verdicts[program.replace(".ngc", "-air.ngc")]
    )


def _sheet_files(papers: Iterable[Paper]) -> dict[str, bytes]:
    made = list(papers)
    as_text = {f"{p.stem}.md": markdown(p).encode() for p in made}
    return as_text | _page_files(made)


def _page_files(papers: Iterable[Paper]) -> dict[str, bytes]:
    from planner.report.papers.pdf import SIZES_MM, pdf_page  # noqa: PLC0415

    files: dict[str, bytes] = {}
    for paper in papers:
        files[f"{paper.stem}.html"] = html_page(paper).encode()
        for size in SIZES_MM:
            files[f"{paper.stem}-{size}.pdf"] = pdf_page(paper, size)
    return files
