"""Words that must not say more than is so: headings, times, changes, places."""

import io
import re
from types import SimpleNamespace
from typing import cast

import pytest
from rich.console import Console

from planner.compare.figures import OF_SECTION
from planner.compare.variants import Outcome
from planner.errors import Refusal
from planner.inputs.job import Job
from planner.inputs.load import load_pair
from planner.inputs.variations import Variant, read_variations
from planner.report.compare_screen import compare_parts, difference_parts
from planner.report.papers.drawing import Drawing
from planner.report.papers.markdown import markdown
from planner.report.papers.model import Heading, Paper, Picture, Text
from planner.report.refusals import refusal_words
from planner.report.setup_screen import below_target_words, setup_parts
from planner.report.totals_screen import totals_table
from planner.section.work import FaceWork
from planner.setup_plan import Setup, of_work
from tests.commands import ROOT, run
from tests.planning import planned
from tests.samples import JOB, a_job, a_machine, changed


def shown(parts, width=200):
    text = io.StringIO()
    console = Console(file=text, width=width)
    for part in parts:
        console.print(part)
    return text.getvalue()


def test_a_bevel_without_one_opposite_is_ground_in_one_turn():
    # By hand: a strip 2.2 mm thick with an edge of 0.3 mm loses 1.9 mm on face A alone: two
    # turns by the millimetre, and nothing to grind between them. A knife loses half on each side.
    hook = load_pair(ROOT / "jobs" / "strip-hook-knife.yaml", None, [])[0].model
    assert hook.bevel_stages == 1
    section = {"thickness": "4.0 mm", "edge_thickness": "0.3 mm"}
    paths = {f"blade.section.{key}": value for key, value in section.items()}
    bevel = {"do": "bevel", "wheel": "flat"}
    from_bar = changed(JOB, {**paths, "operations": [bevel, {"do": "relief"}]})
    assert Job.model_validate(from_bar).bevel_stages == 2


def test_a_heading_over_a_picture_alone_is_left_out_of_markdown():
    picture = Picture(Drawing(10.0, 10.0, "a picture"), "a caption")
    parts = (Heading("Seen"), picture, Heading("Said"), Text("words"), Heading("Last"), picture)
    # By hand: pictures stay out, so that of three headings one has something below it.
    text = markdown(Paper("sheet", "Sheet", "foot", parts))
    assert [line for line in text.splitlines() if line.startswith("## ")] == ["## Said"]


def test_dips_are_told_where_there_are_any():
    # Property: without a pause for cooling nothing is dipped.
    plan = planned(a_job(), a_machine())
    assert not any(p for s in plan.setups for p in s.marched.pauses if p and p.kind != "dwell")
    text = shown([totals_table(plan)])
    assert "time, hands not counted" in text
    assert "dips" not in text


def test_a_change_is_that_of_the_figures_shown():
    zeros = {kind.name: 0.0 for kind in OF_SECTION}
    first, second = {**zeros, "edge_angle_deg": 90.04}, {**zeros, "edge_angle_deg": 88.16}
    made = (Outcome(Variant(()), first), Outcome(Variant(()), second))
    text = shown(difference_parts(("one", "two"), [], made, OF_SECTION))
    # By hand: 88.2 - 90.0 = -1.8, and not -1.88 rounded.
    (row,) = (line for line in text.splitlines() if "included angle" in line)
    assert row.split()[-3:] == ["90.0", "88.2", "-1.8"]


def test_a_column_that_would_read_as_a_figure_has_a_longer_head():
    variations = read_variations(["blade.edge.land=60,70 deg"], 9)
    zeros = {kind.name: 0.0 for kind in OF_SECTION}
    made = [Outcome(Variant((("blade.edge.land", "60 deg"),)), zeros)]
    text = shown(compare_parts(made, variations, OF_SECTION, OF_SECTION[2], 200))
    # By hand: "edge land" is a figure, so that the key is told from "blade" on.
    assert "blade" in text


def test_a_key_of_the_machine_is_named_as_one():
    job = ROOT / "jobs" / "straight-knife.yaml"
    done = run("compare", job, "--vary", "fixture.run_off=4,5mm", "--section-only", columns=200)
    assert done.code == 2
    assert "machine.fixture with --set and --vary" in done.err


def test_heat_is_told_with_its_set_up_and_wheel():
    # By hand: what the search for cooler passes does not know is put beside it.
    facts = {"heat_share": 0.8, "ambient_c": 20.0, "soak_c": 165.0, "flash_c": 260.0}
    work = SimpleNamespace(name="bevel-A", wheel=SimpleNamespace(name="small"))
    told = of_work(Refusal("too-hot", facts), cast("FaceWork", work))
    start = "set-up bevel-A, wheel small: no pass is cool enough: with 80% of the heat"
    assert refusal_words(told).startswith(start)


def test_what_is_below_the_target_is_parted():
    # By hand: a last pass 2.4 µm short and an arc like 2.2 µm less depth: 4.6.
    setup = SimpleNamespace(
        shortfalls_mm=(0.0024, 0.0046),
        schedule=SimpleNamespace(shortfall_mm=0.0024),
        worn=SimpleNamespace(lag_mm=0.0),
    )
    assert below_target_words(cast("Setup", setup)) == (
        "Below the target in all: 4.6 µm (2.4 of the last pass, 2.2 of what the wheel leaves along "
        "the edge otherwise than lying square, told as depth)."
    )


def test_the_parts_below_the_target_add_up():
    # Property: to their last decimals, in a plan with wear.
    job, machine = load_pair(ROOT / "jobs" / "belly-knife.yaml", None, [])
    plan = planned(job.model, machine.model)
    for setup in plan.setups:
        text = " ".join(shown(setup_parts(plan, setup, 200)).split())
        assert f"{below_target_words(setup)} " in f"{text} "
        whole, *parts = (float(n) for n in re.findall(r"-?\d+\.\d", below_target_words(setup)))
        assert len(parts) >= 2
        assert sum(parts) == pytest.approx(whole, abs=0.05 * (len(parts) + 1) + 1e-9)
