"""The papers as they come out of a printer: nothing cut off, nothing lost, black on white."""

import hashlib
import json
import re
from functools import cache

import numpy as np
import pytest

from planner.cautions.from_plan import cautions_of
from planner.produce import produce, produce_from_pass
from planner.report.papers.html import html_page
from planner.report.papers.model import Facts, Heading, Paper, Table, Text
from planner.report.papers.pdf import MARGIN_MM, SIZES_MM, pdf_page
from planner.report.papers.pdf_text import shown
from planner.restart import restart_at
from tests.commands import ROOT, written
from tests.planning import planned
from tests.report.pages import needs_poppler, pages_of, paper_size, pixels_of, text_of
from tests.samples import MACHINE, a_job, a_machine

CASES = {
    "straight": ("straight-knife", []),
    "from the bar": ("bar-knife", []),
    "small controller": ("detail-knife", []),
    "row": ("detail-knife", ["--machine", ROOT / "machines" / "row-xz.yaml"]),
    "hook": ("hook-knife", []),
    "convex": ("whittling-knife", []),
    "wedges": ("straight-knife", ["--machine", ROOT / "machines" / "wedge-xz.yaml"]),
}
POINTS = 72 / 25.4


@pytest.fixture(params=CASES, scope="module")
def papers(request):
    job, options = CASES[request.param]
    folder = written(ROOT / "jobs" / f"{job}.yaml", *map(str, options))
    files = {p.name: p.read_bytes() for p in folder.iterdir()}
    return files, json.loads(files["plan.json"])


def pdfs(files):
    return {name: data for name, data in files.items() if name.endswith(".pdf")}


def check_no_word_is_cut_off(data):
    for page in pages_of(data):
        for word, left, top, right, bottom in page.words:
            margin = (MARGIN_MM - 1) * POINTS
            assert margin <= left, word
            assert right <= page.width - margin, word
            assert margin <= top, word
            assert bottom <= page.height - margin, word


# --- what poppler sees ----------------------------------------------------------------------------


@needs_poppler
def test_every_word_is_inside_the_margins(papers):
    for data in pdfs(papers[0]).values():
        check_no_word_is_cut_off(data)


@needs_poppler
def test_the_pages_are_a4_and_letter_and_numbered(papers):
    # Source: ISO 216, 210 by 297 mm; 8 1/2 by 11 in, in points of 1/72 in.
    sizes = {"a4": "595.276 x 841.89 pts (A4)", "letter": "612 x 792 pts (letter)"}
    for name, data in pdfs(papers[0]).items():
        wanted = sizes[name.removesuffix(".pdf").rpartition("-")[2]]
        found = paper_size(data)
        if name.startswith("setup-"):
            assert found == wanted
        else:
            high, wide = re.findall(r"[\d.]+", wanted)[:2]
            assert found.startswith(f"{wide} x {high} pts")
        pages = pages_of(data)
        for number, page in enumerate(pages, 1):
            assert page.text.endswith(f"page {number} of {len(pages)}") or (
                f"page {number} of {len(pages)}" in page.text
            )


@needs_poppler
def test_they_print_in_black_and_white(papers):
    for name, data in pdfs(papers[0]).items():
        for page in pixels_of(data):
            colours = np.frombuffer(page, np.uint8).reshape(-1, 3).astype(int)
            # Property: red, green and blue are the same everywhere, and there is ink and paper.
            assert np.ptp(colours, axis=1).max() == 0, name
            assert colours.min() < 100
            assert colours.max() == 255


@needs_poppler
def test_every_pass_pause_and_caution_is_on_the_sheet(papers):
    files, plan = papers
    for setup in plan["setups"]:
        stem = setup["program"].removesuffix(".ngc")
        for size in SIZES_MM:
            text = text_of(files[f"{stem}-{size}.pdf"])
            rows = re.findall(r"^ *(\d+) +(rough|finish|spark out) ", text, re.M)
            assert rows == [(str(p["n"]), p["kind"].replace("_", " ")) for p in setup["passes"]]
            assert hashlib.sha256(files[setup["program"]]).hexdigest()[:16] in text
            flat = " ".join(text.split())
            for caution in cautions_told(files, setup):
                assert caution in flat
            for box in ("Set up by", "checked by", "air run seen by"):
                assert box in text


def cautions_told(files, setup):
    """What the Markdown sheet says, without its marks."""
    sheet = files[setup["program"].replace(".ngc", ".md")].decode()
    found = re.findall(r"^- \*\*(\w+)\*\* (\(\w+\): .*?) \[.*\]$", sheet, re.M)
    assert len(found) > 10
    return [f"{level} {rest}" for level, rest in found]


@needs_poppler
def test_the_passes_are_those_of_the_program(papers):
    """The infeed words on paper stand in the program, in that order."""
    files, plan = papers
    for setup in plan["setups"]:
        letter = setup["axes"]["infeed"]
        text = text_of(files[setup["program"].replace(".ngc", "-a4.pdf")])
        told = re.findall(rf"(?:rough|finish|spark out) +({letter}-?[\d.]+)", text)
        body = files[setup["program"]].decode().partition("(pass 1 of")[2]
        stands, at, found = [], "", re.split(r"^\(pass .*\)$", body, flags=re.M)
        for part in found:
            fed = re.findall(rf"^G1.* ?({letter}-?[\d.]+)", part, re.M)
            at = fed[0] if fed else at
            stands.append(at)
        assert told == stands


# --- inspection and traveller ---------------------------------------------------------------------


@needs_poppler
def test_the_inspection_sheet_asks_for_every_land_with_limits(papers):
    files, plan = papers
    tolerance = plan["tolerance"]["land_mm"]
    proofs = {p["program"]: p for p in plan["proof"]["programs"]}
    for size in SIZES_MM:
        flat = " ".join(text_of(files[f"inspection-{size}.pdf"]).split())
        for setup in plan["setups"]:
            if setup["operation"] == "bevel" or any(
                s["operation"] == "lands" and s["face"] == setup["face"] and s is not setup
                for s in plan["setups"]
            ):
                continue
            for name in ("edge", "shoulder"):
                asked = setup["settings"][f"{name}_land_asked_mm"]
                limits = f"{asked:.2f} {asked - tolerance:.2f} to {asked + tolerance:.2f}"
                lands = proofs[setup["program"]]["lands_mm"]
                for station in ("heel", "middle", "tip"):
                    low = min(a[f"{name}_land_mm"] for a in lands if a["station"] == station)
                    row = rf"face {setup['face']}, {name} land at {station} .*? {limits} {low:.3f}"
                    assert re.search(row, flat), row
        assert f"{plan['section']['steel_left_mm']:.3f} at least" in flat
        for proof in plan["proof"]["programs"]:
            if proof["kind"] == "cutting":
                assert proof["sha256"][:16] in flat


@needs_poppler
def test_the_traveller_has_every_blade_and_every_operation(papers):
    files, plan = papers
    for size in SIZES_MM:
        text = text_of(files[f"traveller-{size}.pdf"])
        below = text.partition("on the inspection sheet.")[2]
        numbers = [int(n) for n in re.findall(r"^ *(\d+)(?: ?\*)?(?: +\d+, \d+)?$", below, re.M)]
        assert numbers == list(range(1, plan["totals"]["quantity"] + 1))
        for setup in plan["setups"]:
            assert setup["name"] in below
            assert setup["program"] in text


# --- awkward papers -------------------------------------------------------------------------------

LONG = "Löffelmesser Łódź Ωμέγα Нож " + "x" * 60 + " & <b>not bold</b> ]]> 刀 %"


@cache
def awkward():
    job = a_job(title=LONG[:120], quantity=340, inspect_every=4)
    plan = planned(job, a_machine(title=LONG[:120], fixture__flip="by_tilt"))
    return produce(plan, cautions_of(plan)).files


@needs_poppler
def test_long_titles_wrap_and_no_letter_is_lost():
    files = awkward()
    for name, data in pdfs(files).items():
        check_no_word_is_cut_off(data)
        first = pages_of(data)[0].text
        for word in ("Löffelmesser", "Łódź", "Ωμέγα", "Нож", "<b>not", "[U+5200]"):
            assert word in first, name


@needs_poppler
def test_a_table_over_pages_has_its_header_on_each():
    pages = pages_of(awkward()["traveller-a4.pdf"])
    assert len(pages) > 5
    for page in pages[:-1]:
        assert "blade A B measured honed remarks" in page.text
    # By hand: 200 are numbered, the rest is said and has a table to copy.
    assert "Blades 201 to 340" in " ".join(p.text for p in pages)


def check_passes(data, setup, first=1):
    rows = re.findall(r"^ *(\d+) +(rough|finish|spark out) ", text_of(data), re.M)
    wanted = [(str(p.number), p.kind.replace("_", " ")) for p in setup.passes[first - 1 :]]
    assert rows == wanted


@needs_poppler
def test_a_relief_in_lines_has_every_line_with_its_cross():
    rack = [{**MACHINE["rack"][0], "diameter": "40 mm", "marked_speed": "9000 rpm"}]
    asked = {"relief__depth": "0.05 mm", "relief__scallop": "0.002 mm", "relief__faces": "A",
             "relief__land_tolerance": "1 mm", "relief__share_in_tolerance": 0}  # fmt: skip
    plan = planned(a_job(**asked), a_machine(rack=rack))
    files = produce(plan, cautions_of(plan)).files
    data = files["setup-A-a4.pdf"]
    check_passes(data, plan.setups[0])
    crosses = re.findall(r"(?:rough|finish|spark out) +Z\S+ +(Y-?[\d.]+)", text_of(data))
    # Property: those of the program, pass by pass.
    body = files["setup-A.ngc"].decode().partition("(pass 1 of")[2]
    words, at = [], "Y0.0000"
    for part in re.split(r"^\(pass .*\)$", body, flags=re.M):
        fed = re.findall(r"^G1.* ?(Y-?[\d.]+)", part, re.M)
        at = fed[0] if fed else at
        words.append(at)
    assert len(crosses) == len(plan.setups[0].passes) > 20
    assert crosses == words


@needs_poppler
@pytest.mark.parametrize("new_wheel", [False, True])
def test_the_sheet_of_a_program_that_goes_on_has_the_rest_of_the_passes(new_wheel):
    plan = planned(a_job(), a_machine())
    restart = restart_at(plan, plan.setups[0], 3, new_wheel=new_wheel)
    files = produce_from_pass(plan, cautions_of(plan), restart).files
    for size in SIZES_MM:
        data = files[f"setup-A-from-3-{size}.pdf"]
        check_no_word_is_cut_off(data)
        check_passes(data, plan.setups[0], 3)


def test_without_an_error_of_the_touch_off_the_mark_is_that_of_a_light_touch():
    plan = planned(a_job(relief__faces="A"), a_machine(fixture__touch_off="0 mm"))
    sheet = produce(plan, ()).files["setup-A.md"].decode()
    # By hand: 2 sqrt(2 * 75 * 0.001 - 1e-6) = 0.77.
    assert "a touch of 0.0010 mm makes it 0.77 mm wide" in sheet


def test_html_holds_no_markup_of_the_users_and_fetches_nothing():
    for name, data in awkward().items():
        if not name.endswith(".html") or name == "preview.html":
            continue
        page = data.decode()
        assert "<b>" not in page
        assert "&lt;b&gt;not bold" in page
        assert "<script" not in page
        assert not re.search(r"(?:src|href)=|url\(", page)
        assert "default-src 'none'" in page


def test_a_letter_that_the_font_lacks_is_told_by_its_number():
    assert shown("刀") == "[U+5200]"
    assert shown("Ą €½ °µ–☐") == "Ą €½ °µ–☐"
    # Property: every letter of the Latin, Greek and Cyrillic blocks that Unicode names is there.
    common = [chr(n) for n in range(0x20, 0x500) if chr(n).isalpha()]
    assert sum(shown(c) != c for c in common) == 0


@needs_poppler
@pytest.mark.parametrize("size", SIZES_MM)
def test_a_cell_too_long_for_its_column_wraps(size):
    words = "a" * 300
    paper = Paper("x", "T" * 200, "r" * 500, (
        Facts((("n" * 80, words),)), Heading("h" * 150), Text(words),
        Table(("one", "two"), ((words, "b"), ("c" * 90, words)), (1, 5)),
    ))  # fmt: skip
    data = pdf_page(paper, size)
    check_no_word_is_cut_off(data)
    letters = "".join(p.text for p in pages_of(data)).replace(" ", "")
    assert letters.count("a") >= 4 * 300
    assert "…" in letters
    assert "T" * 200 in html_page(paper)


def test_the_same_paper_is_the_same_bytes():
    paper = Paper("x", "title", "running", (Text("some `literal` words"),))
    assert pdf_page(paper, "a4") == pdf_page(paper, "a4")
    assert b"/CreationDate (D:2000" in pdf_page(paper, "a4")
