"""``compare``: variants of one job, and two jobs side by side."""

import csv
import io
import itertools
import json
import math
import os
import pty
import re
import signal
import time
import xml.etree.ElementTree as ET

import pytest

from planner.compare import variants
from planner.compare.figures import OF_PLAN, OF_SECTION
from planner.inputs.variations import read_variations
from tests.commands import EASY, JOB, JOBS, MACHINE, QUICK, ROOT, process, run

BOTH = ("--vary", "wheel.diameter=40:80:20mm", "--vary", "relief.edge_land=0.8,1.0,6.2mm")


def compared(*arguments, code=0):
    done = run("compare", *arguments, "--json")
    assert done.code == code, done.err
    return json.loads(done.out)


def figures(data):
    return {tuple(v["values"].values()): v["figures"] for v in data["variants"]}


# --- values and figures -----------------------------------------------------------------------


def test_every_combination_is_there_in_order_with_its_reason_where_refused():
    data = compared(JOB, *BOTH, "--section-only")
    assert data["format"] == "bevelwright-compare/1"
    assert (data["total"], data["interrupted"]) == (9, False)
    wheels, lands = ("40 mm", "60 mm", "80 mm"), ("0.8 mm", "1.0 mm", "6.2 mm")
    asked = list(itertools.product(wheels, lands))
    # The refused ones stand last, the order is otherwise that of the keys.
    assert list(figures(data)) == sorted(asked, key=lambda v: v[1] == "6.2 mm")
    for variant in data["variants"]:
        # By hand: 6.2 and 1.4 mm of land are more than the face of 1.5 / sin 12.5 = 6.93 mm.
        too_wide = variant["values"]["relief.edge_land"] == "6.2 mm"
        assert (variant["figures"] is None) == too_wide
        if too_wide:
            assert {r["rule"] for r in variant["refused"]} == {"lands-overlap"}


def test_sections_are_the_circle_s_own():
    data = compared(JOB, *BOTH, "--section-only")
    for (wheel, land), found in figures(data).items():
        if found is None:
            continue
        # Source: Euclid III.35, by the height of a chord: h = R - sqrt(R^2 - (c/2)^2).
        radius, edge = float(wheel.split()[0]) / 2, float(land.split()[0])
        chord = 1.5 / math.sin(math.radians(12.5)) - edge - 1.4
        depth = radius - math.sqrt(radius**2 - chord**2 / 4)
        assert found["depth_mm"] == pytest.approx(depth, abs=1e-8)
        assert found["chord_mm"] == pytest.approx(chord, abs=1e-8)
        assert found["land_change_per_depth"] == pytest.approx((radius - depth) / (chord / 2))
        assert found["depth_tolerance_mm"] == pytest.approx(
            0.25 * (chord / 2) / (radius - depth), abs=1e-8
        )
        # By hand: the web is thinnest at the relief's edge, 2 E sin 12.5.
        assert found["steel_left_mm"] == pytest.approx(
            2 * edge * math.sin(math.radians(12.5)), abs=1e-8
        )


def test_a_plan_s_figures_are_those_of_plan():
    land = "relief.edge_land=1.1 mm"
    (variant,) = compared(QUICK, *EASY, "--vary", land)["variants"]
    plan = json.loads(run("plan", QUICK, *EASY, "--set", land, "--json").out)
    found = variant["figures"]
    assert list(found) == [k.name for k in OF_PLAN]
    # Property: the same plan by two commands.
    totals, tolerance, section = plan["totals"], plan["tolerance"], plan["section"]
    assert found["passes"] == totals["passes"]
    assert found["time_s"] == pytest.approx(totals["time_s"])
    assert found["removed_mass_g"] == pytest.approx(totals["removed_mass_g"])
    assert found["share_in_tolerance"] == pytest.approx(tolerance["share_in_tolerance"])
    assert found["land_sd_mm"] == pytest.approx(tolerance["predicted_land_sd_mm"])
    assert found["depth_tolerance_mm"] == pytest.approx(tolerance["depth_mm"])
    assert found["steel_left_mm"] == pytest.approx(section["steel_left_mm"])
    passes = [p for s in plan["setups"] for p in s["passes"]]
    assert found["normal_force_n"] == pytest.approx(max(p["normal_force_n"] for p in passes))
    for mine, one in zip(variant["reliefs"], section["reliefs"], strict=True):
        assert mine.items() <= one.items()


@pytest.mark.parametrize(
    "varied",
    [
        ("wheel.diameter=4:200:28mm", "relief.edge_land=0:2:0.5mm"),
        ("blade.section.thickness=0.2,1,3mm", "blade.section.edge_thickness=0,0.4,1.5mm"),
        ("blade.section.included_angle=8:60:4deg", "relief.min_steel_left=0.1,0.5mm"),
        ("relief.land_tolerance=0.1,0.2mm", "machine.rack[0].diameter=40,80mm"),
        ("blade.section.width=5:25:5mm", "machine.stiffness=100,2000N/mm"),
        ("relief.faces=both,A,B",),
        ("wheel=fine,small", "relief.edge_land=1,2mm"),
    ],
)
def test_sections_together_are_the_sections_one_by_one(varied):
    read = variants.reader_of(JOB, None, ())
    variations = read_variations(varied)
    from planner.compare.section_only import each_fitted  # noqa: PLC0415
    from planner.inputs.variations import variants_of  # noqa: PLC0415

    found = list(each_fitted(variations, read))
    assert len(found) == math.prod(len(v.values) for v in variations)
    for outcome, variant in zip(found, variants_of(variations), strict=True):
        one = variants.fitted(variant, read)
        # Property: two paths to the same figures, refusals and problems.
        assert outcome.variant == variant
        assert outcome.refused == one.refused
        assert outcome.problems == one.problems
        assert (outcome.figures is None) == (one.figures is None)
        if outcome.figures is not None and one.figures is not None:
            assert outcome.figures["wheel"] == one.figures["wheel"]
            for kind in OF_SECTION[1:]:
                mine, other = outcome.figures[kind.name], one.figures[kind.name]
                assert mine == pytest.approx(other, rel=1e-7, abs=1e-8), kind.name
            assert len(outcome.reliefs) == len(one.reliefs)


def test_sizes_alone_are_read_once_a_value(monkeypatch):
    calls = []
    read = variants.reader_of(JOB, None, ())

    def counted(variant):
        calls.append(variant)
        return read(variant)

    from planner.compare.section_only import each_fitted  # noqa: PLC0415

    varied = ("wheel.diameter=60:160:1mm", "relief.edge_land=0.8:1.2:0.01mm")
    found = list(each_fitted(read_variations(varied), counted))
    # By hand: 101 * 41 variants, none refused; the first, then each value of each key.
    assert (len(found), len(calls)) == (4141, 1 + 101 + 41)


def test_wheels_of_the_rack():
    data = compared(JOB, "--wheels", "all", "--section-only")
    rack = [m[1] for m in re.finditer(r"\{name: (\w+)", MACHINE.read_text())]
    assert [v["values"]["wheel"] for v in data["variants"]] == rack
    assert [v["figures"]["wheel"] for v in data["variants"]] == rack
    one = compared(JOB, "--wheels", "small", "--section-only", "--vary", "wheel.diameter=70,90mm")
    assert [f["arc_diameter_mm"] for f in figures(one).values()] == [70.0, 90.0]


def test_wheels_of_a_job_with_operations():
    job = ROOT / "jobs" / "bar-knife.yaml"
    data = compared(job, "--wheels", "P120 wheel", "--section-only")
    (variant,) = data["variants"]
    assert variant["values"] == {"operations[1].wheel": "P120 wheel"}
    assert variant["figures"]["wheel"] == "P120 wheel"
    # A flat wheel in the relief's place is a variant that is refused.
    (flat,) = compared(job, "--wheels", "P80 platen", "--section-only", code=1)["variants"]
    assert [r["rule"] for r in flat["refused"]] == ["flat-for-relief"]


# --- order ------------------------------------------------------------------------------------


def test_sorted_by_figures_and_keys_refused_last():
    data = compared(JOB, *BOTH, "--section-only", "--sort", "relief.edge_land,-depth_mm")
    order = [tuple(v["values"].values()) for v in data["variants"]]
    # By hand: a smaller wheel is deeper; the widest land cannot be made.
    made = [(w, e) for e in ("0.8 mm", "1.0 mm") for w in ("40 mm", "60 mm", "80 mm")]
    assert order[:6] == made
    assert {e for _, e in order[6:]} == {"6.2 mm"}


def test_unknown_figures_are_named_with_those_there_are():
    for option in ("--sort", "--figure"):
        done = run("compare", JOB, *BOTH, option, "colour")
        assert done.code == 2
        assert "colour" in done.err
        assert "share_in_tolerance" in done.err


# --- words ------------------------------------------------------------------------------------


@pytest.mark.parametrize("columns", [60, 80, 200])
def test_table_fits_the_terminal(columns):
    done = run("compare", JOB, *BOTH, "--section-only", columns=columns)
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert max(len(line.rstrip()) for line in lines) <= columns
    assert "…" not in done.out
    assert "Refused: 3 of 9" in done.out
    assert "overlap by 0.67 mm" in done.out.replace("\n    ", " ")
    # By hand: h at 40 mm and 0.8 mm: c = 4.73034, 20 - sqrt(400 - 5.59403).
    assert "0.1403" in done.out


def test_bars_are_as_long_as_the_figure():
    out = run("compare", JOB, *BOTH, "--section-only").out
    bars = [line.count("━") for line in out.splitlines() if "━" in line]
    # By hand: the depth at 40 mm is about twice that at 80 mm.
    assert len(bars) == 6
    assert bars[0] == max(bars)
    assert bars[4] == pytest.approx(bars[0] / 2, abs=1)


def test_long_tables_end_and_say_so(tmp_path):
    done = run("compare", JOB, "--vary", "wheel.diameter=40:340:1mm", "--section-only")
    assert "101 more are in what --csv and --json give." in done.out


def test_csv_holds_the_table_and_the_reasons(tmp_path):
    file = tmp_path / "table.csv"
    done = run("compare", JOB, *BOTH, "--section-only", "--csv", file)
    assert done.code == 0
    rows = list(csv.DictReader(io.StringIO(file.read_text())))
    data = compared(JOB, *BOTH, "--section-only")
    assert len(rows) == 9
    for row, variant in zip(rows, data["variants"], strict=True):
        assert row["wheel.diameter"] == variant["values"]["wheel.diameter"]
        if variant["figures"] is None:
            assert row["depth_mm"] == ""
            assert row["refused"].startswith("with wheel fine: the lands of face A")
        else:
            assert float(row["depth_mm"]) == variant["figures"]["depth_mm"]
            assert row["refused"] == ""


# --- charts -----------------------------------------------------------------------------------


def test_chart_holds_every_variant_and_only_text_of_ours(tmp_path):
    file = tmp_path / "chart.svg"
    assert run("compare", JOB, *BOTH, "--section-only", "--chart", file).code == 0
    picture = file.read_text()
    root = ET.fromstring(picture)
    texts = ["".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")]
    for said in ("wheel.diameter, mm", "depth_mm", "relief.edge_land=0.8 mm", "refused", "60"):
        assert said in texts
    assert not list(root.iter("{http://www.w3.org/2000/svg}script"))
    # Property: the same bytes for the same inputs.
    assert run("compare", JOB, *BOTH, "--section-only", "--chart", file).code == 0
    assert file.read_text() == picture


def test_chart_of_words_and_of_signs_that_mean_something_elsewhere(tmp_path):
    job = tmp_path / "a $job$ & <more>.yaml"
    job.write_text(JOB.read_text().replace("../machines", str(ROOT / "machines")))
    file = tmp_path / "chart.svg"
    varied = ("--vary", "wheel=fine,small", "--vary", 'title="a $x_$","<script>"')
    assert run("compare", job, *varied, "--section-only", "--chart", file).code == 0
    root = ET.parse(file).getroot()
    texts = ["".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any("a $job$ & <more>.yaml" in text for text in texts)
    assert any('title="<script>"' in text for text in texts)
    assert "fine" in texts


@pytest.mark.parametrize("suffix", ["png", "pdf"])
def test_chart_as_another_picture(tmp_path, suffix):
    file = tmp_path / f"chart.{suffix}"
    done = run("compare", JOB, *BOTH, "--section-only", "--chart", file, "--figure", "chord_mm")
    assert done.code == 0
    assert file.read_bytes()[:5] in (b"\x89PNG\r", b"%PDF-")


def test_chart_without_its_library_is_an_error_before_the_work(tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "matplotlib", None)
    done = run("compare", JOB, *BOTH, "--section-only", "--chart", tmp_path / "chart.svg")
    assert (done.code, done.out) == (2, "")
    assert "no-chart-library" in done.err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("option", "name", "rule"),
    [
        ("--chart", "chart.doc", "unknown-suffix"),
        ("--chart", "none/chart.svg", "cannot-write"),
        ("--csv", "none/table.csv", "cannot-write"),
        ("--csv", "", "cannot-write"),
        ("--csv", "job.yaml", "cannot-write"),
        ("--csv", "/dev/null", "cannot-write"),
    ],
)
def test_files_that_cannot_be_are_errors_before_the_work(tmp_path, option, name, rule):
    done = run("compare", JOB, *BOTH, "--section-only", option, tmp_path / name)
    assert (done.code, done.out) == (2, "")
    assert f"[{rule}]" in done.err


# --- bad input --------------------------------------------------------------------------------


def test_a_value_that_is_bad_in_every_variant_is_bad_input():
    done = run("compare", JOB, "--vary", "relief.edge_land=0.8,1.0", "--section-only")
    assert (done.code, done.out) == (2, "")
    assert "--vary:1:18: error [no-unit] relief.edge_land" in done.err
    # Said once, with the values that it is of.
    assert done.err.count("error [") == 1
    assert "relief.edge_land=0.8, 1.0" in done.err
    assert "write 0.8 mm; write 1.0 mm" in done.err


def test_a_misspelt_key_is_told_once_however_many_values_it_has():
    done = run("compare", JOB, "--vary", "wheel.diamter=60:100:2mm", "--section-only")
    assert done.code == 2
    assert done.err.count("error [unknown-key]") == 1
    # By hand: 21 values, six told.
    assert "60 mm, 62 mm, 64 mm, 66 mm, 68 mm, 70 mm, and 15 more" in done.err


def test_two_keys_that_are_bad_are_told_once_each():
    done = run(
        "compare", JOB, "--vary", "wheel.diamter=60,80mm", "--vary", "relief.edge_lnd=1,2mm",
        "--section-only",
    )  # fmt: skip
    assert done.err.count("error [unknown-key]") == 2


def test_a_value_that_is_bad_in_some_variants_is_a_reason():
    data = compared(JOB, "--vary", "relief.edge_land=1.0,900 mm", "--section-only")
    good, bad = data["variants"]
    assert good["figures"]
    assert [p["rule"] for p in bad["problems"]] == ["out-of-range"]
    assert "at most 100 mm" in run(
        "compare", JOB, "--vary", "relief.edge_land=1.0,900 mm", "--section-only"
    ).out.replace("\n    ", " ")


def test_nothing_that_can_be_made_is_exit_code_1():
    done = run("compare", JOB, "--vary", "relief.edge_land=6,7mm", "--section-only")
    assert done.code == 1
    assert "Refused: 2 of 2" in done.out


@pytest.mark.parametrize(
    "arguments",
    [
        (JOB,),
        (JOB, JOB, JOB),
        (JOB, JOB, "--vary", "quantity=1,2"),
        (JOB, "--wheels", "all", "--vary", "wheel=fine"),
    ],
)
def test_what_cannot_be_asked_is_a_usage_error(arguments):
    done = run("compare", *arguments)
    assert done.code == 2
    assert done.err.startswith("Usage:")


def test_unknown_wheel_is_bad_input():
    done = run("compare", JOB, "--wheels", "none", "--section-only")
    assert done.code == 2
    assert "[unknown-wheel]" in done.err


# --- two jobs ---------------------------------------------------------------------------------


def test_two_jobs_differ_in_what_was_changed_and_in_nothing_else(tmp_path):
    other = tmp_path / "other.yaml"
    text = JOB.read_text().replace("../machines", str(ROOT / "machines"))
    other.write_text(
        text.replace("edge_land: 1.2 mm", "edge_land: 1/16 in").replace("quantity: 12\n", "")
    )
    done = run("compare", JOB, other, "--section-only", "--json")
    data = json.loads(done.out)
    # By hand: 25.4 / 16 = 1.5875; the default of quantity is 1.
    assert data["differs"] == [
        {"key": "quantity", "first": "12", "second": "1"},
        {"key": "relief.edge_land", "first": "1.2 mm", "second": "1.5875 mm"},
    ]
    first, second = (r["figures"] for r in data["results"])
    assert second["edge_land_mm"] - first["edge_land_mm"] == pytest.approx(0.3875)
    shown = run("compare", JOB, other, "--section-only").out
    assert "1.5875 mm" in shown
    assert "+0.39" in shown


def test_two_machines_differ_by_whole_wheels_and_axes():
    data = json.loads(
        run("compare", JOB, ROOT / "jobs" / "broad-knife.yaml", "--section-only", "--json").out
    )
    differs = {d["key"]: (d["first"], d["second"]) for d in data["differs"]}
    assert differs["machine.axes.Y"] == ("given", "")
    assert differs["machine.rack[fine]"] == ("given", "")
    assert differs["machine.axes.X.travel"] == ("[-150 mm, 250 mm]", "[-120 mm, 260 mm]")
    assert not any(key.startswith("machine.rack[fine].") for key in differs)
    assert "machine" not in differs


@pytest.mark.parametrize("job", JOBS, ids=[j.stem for j in JOBS])
def test_a_job_does_not_differ_from_itself(job):
    out = run("compare", job, job, "--section-only").out
    assert out == "Nothing differs in the files.\nNothing differs in the result.\n"


def test_one_of_two_jobs_refused(tmp_path):
    other = tmp_path / "other.yaml"
    text = JOB.read_text().replace("../machines", str(ROOT / "machines"))
    other.write_text(text.replace("edge_land: 1.2 mm", "edge_land: 6.2 mm"))
    done = run("compare", JOB, other, "--section-only")
    assert done.code == 0
    assert "other.yaml is refused:" in done.out
    assert "straight-knife.yaml can be made:" in done.out
    assert run("compare", other, other, "--section-only").code == 1


def test_bad_input_of_both_jobs_comes_together(tmp_path):
    for name in ("a", "b"):
        (tmp_path / f"{name}.yaml").write_text(f"title: {name}\n")
    done = run("compare", tmp_path / "a.yaml", tmp_path / "b.yaml")
    assert done.code == 2
    assert "a.yaml:" in done.err
    assert "b.yaml:" in done.err


# --- time -------------------------------------------------------------------------------------


def read_terminal(handle, until, seconds=120):
    """What a terminal shows until a pattern stands there."""
    seen, end = "", time.monotonic() + seconds
    while not re.search(until, seen):
        assert time.monotonic() < end, seen
        try:
            seen += os.read(handle, 65536).decode(errors="replace")
        except OSError:  # the other end was closed
            break
    return seen


def test_interrupt_keeps_what_is_done(tmp_path):
    table = tmp_path / "table.csv"
    ours, theirs = pty.openpty()
    child = process(
        "compare", JOB, "--vary", "wheel.diameter=40:140:0.5mm", "--json", "--csv", table,
        stdout=-1, stderr=theirs, env={"COLUMNS": "80", "TERM": "xterm"},
    )  # fmt: skip
    os.close(theirs)
    assert child.stdout is not None
    try:
        # The bar comes after a second, and says how many are done.
        shown = read_terminal(ours, r"variants.* [1-9][0-9]*/201")
        assert "variants" in shown
        child.send_signal(signal.SIGINT)
        out = child.stdout.read()
        said = read_terminal(ours, r"Interrupted: [0-9]+ of 201 variants are done")
        assert child.wait(60) == 130
    finally:
        child.stdout.close()
        os.close(ours)
        if child.poll() is None:
            child.kill()
            child.wait()
    data = json.loads(out)
    assert data["interrupted"] is True
    assert 0 < len(data["variants"]) < data["total"] == 201
    assert f"Interrupted: {len(data['variants'])} of 201" in said
    assert len(table.read_text().splitlines()) == 1 + len(data["variants"])
    assert data["variants"][0]["figures"]["passes"] > 0


def test_interrupt_before_anything_is_done_says_so(monkeypatch):
    def stopped(variant, read):
        raise KeyboardInterrupt

    monkeypatch.setattr(variants, "planned", stopped)
    done = run("compare", JOB, *BOTH)
    assert done.code == 130
    assert "Interrupted: 0 of 9 variants are done." in done.err


def test_no_bar_where_there_is_no_terminal(monkeypatch):
    # Late enough for a bar from the first variant on.
    monkeypatch.setattr("planner.report.progress.QUIET_S", 0.0)
    done = run("compare", JOB, "--vary", "wheel.diameter=40:400:1mm", "--section-only", "--json")
    assert (done.code, done.err) == (0, "")
