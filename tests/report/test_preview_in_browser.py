"""The preview driven in a real browser: Debian's Chromium, headless, off the net.

Start-up. `apt-get install chromium` brings `/usr/bin/chromium`. Playwright (a test dependency)
starts that binary in its headless mode and talks to it over a pipe; no browser of Playwright's
own is fetched, and none of its `install` commands is run. `--no-sandbox` because these tests also
run as root in a container, where Chromium's own sandbox does not start; the page is our own file.
Each test opens the file from the disk in a context that is set offline, and afterwards the console
must have said nothing and the file itself be the only address that was asked for.
"""

import json
import re
import shutil
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest
from playwright.sync_api import sync_playwright

from planner.inputs.load import load_machine
from tests.commands import ROOT, run, written

CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(
    CHROMIUM is None, reason="no chromium here: apt-get install chromium"
)

STRAIGHT = ROOT / "jobs" / "straight-knife.yaml"
JOBS: dict[str, tuple[Any, ...]] = {
    "straight-knife": (STRAIGHT,),
    "bar-knife": (ROOT / "jobs" / "bar-knife.yaml",),
    "row": (STRAIGHT, "--machine", str(ROOT / "machines" / "row-xz.yaml")),
}
WIDTHS = {"phone": 390, "laptop": 1366}
KINDS = {"rough": "rough", "finish": "finish", "spark_out": "spark-out"}
NASTY = "</script><img src=x onerror=\"document.title='ran'\"><b>&amp; ' é"


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(params=JOBS, scope="module")
def of_job(request):
    """The folder of a job, and its plan.json."""
    folder = written(*JOBS[request.param])
    return folder, json.loads((folder / "plan.json").read_text())


@dataclass
class Heard:
    """What the browser said while a page was open."""

    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


@contextmanager
def opened(browser, folder, width=1366, scheme="light"):
    """The page of a folder; it must keep quiet and stay at home."""
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True
    )
    heard = Heard()
    page = context.new_page()
    page.on("console", lambda message: heard.said.append(message.text))
    page.on("pageerror", lambda error: heard.said.append(str(error)))
    page.on("dialog", lambda dialog: heard.said.append(dialog.message))
    page.on("request", lambda request: heard.asked.append(request.url))
    address = (folder / "preview.html").as_uri()
    try:
        page.goto(address)
        yield page
        assert heard.said == []
        assert heard.asked == [address]
    finally:
        context.close()


def steps(plan):
    """Every pass of every set-up, in order."""
    return [(s, p) for s in plan["setups"] for p in s["passes"]]


def shown(page):
    """Each figure on the page: its whole value and what is read."""
    return page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll("#figures dd")].map((dd) => {
            const data = dd.querySelector("data");
            return [dd.dataset.figure, data ? [Number(data.value), data.textContent] : null];
        }))"""
    )


def check_figures(page, setup, planned):
    """The figures on the page against one pass of plan.json."""
    found = shown(page)
    expected = {
        "force": (planned["normal_force_n"], 1, 2, "N"),
        "reached depth": (planned["reached_depth_mm"], 1, 4, "mm"),
        "deflection": (
            planned["commanded_depth_mm"] - planned["reached_depth_mm"], 1000, 2, "µm",
        ),
        "edge temperature": (planned["edge_temperature_c"], 1, 0, "°C"),
        "under the wheel": (planned["flash_temperature_c"], 1, 0, "°C"),
        "steel taken": (planned["removed_area_mm2"], 1, 4, "mm²"),
        "feed": (planned["feed_mm_min"], 1, 0, "mm/min"),
    }  # fmt: skip
    for name, (value, scale, digits, unit) in expected.items():
        whole, text = found[name]
        assert whole == pytest.approx(value, abs=1e-12), name
        number, _, unit_there = text.partition(" ")
        assert unit_there == unit
        # Property: what is read is the value to its last digit.
        assert float(number) == pytest.approx(value * scale, abs=0.5000001 * 10**-digits)
        assert len(number.partition(".")[2]) == digits
    count = setup["passes"][-1]["n"]
    kind = KINDS[planned["kind"]]
    where = page.inner_text("#where")
    assert where == f"Set-up {setup['name']}, pass {planned['n']} of {count}, {kind}"


def test_scrubbing_shows_the_figures_of_every_pass(browser, of_job):
    folder, plan = of_job
    with opened(browser, folder) as page:
        every = steps(plan)
        assert page.get_attribute("#scrub", "max") == str(len(every))
        elapsed = 0.0
        for number, (setup, planned) in enumerate(every):
            if number:
                page.keyboard.press("ArrowRight")
            check_figures(page, setup, planned)
            assert page.get_attribute("#scrub", "aria-valuetext") == page.inner_text("#where")
            assert page.locator('tbody tr[aria-current="true"]').count() == 1
            # Property: time only goes on.
            now, _ = shown(page)["elapsed"]
            assert now > elapsed
            elapsed = now
        # Nothing beyond the last.
        page.keyboard.press("ArrowRight")
        check_figures(page, *every[-1])


def test_the_elapsed_time_is_the_plans(browser, of_job):
    # Property: read back from the programs, with what a person does left out: the plan has the last
    # retract beside it, and the spin-up of a wheel that is started by hand.
    folder, plan = of_job
    machine = load_machine(ROOT / "machines" / plan["machine"]["file"]).model
    spindle, most_s = machine.spindle, plan["totals"]["time_s"]
    if spindle.control == "by_hand":
        most_s -= spindle.spin_up_s * len(plan["setups"])
    retract_s = 2.0
    with opened(browser, folder) as page:
        page.focus("#scrub")
        page.keyboard.press("End")
        now_s, _ = shown(page)["elapsed"]
        assert most_s - retract_s < now_s < most_s


def test_everything_works_by_keyboard(browser, of_job):
    folder, plan = of_job
    every = steps(plan)
    with opened(browser, folder) as page:
        reached = []
        for _ in range(8):
            page.keyboard.press("Tab")
            here = page.evaluate("document.activeElement.id")
            reached.append(here)
            # Property: what has the focus shows it.
            assert page.evaluate(
                "getComputedStyle(document.activeElement).outlineStyle !== 'none'"
            ), here
        assert reached[:6] == ["setup", "factor", "whole", "back", "scrub", "next"]
        page.focus("#scrub")
        page.keyboard.press("End")
        check_figures(page, *every[-1])
        page.keyboard.press("ArrowLeft")
        check_figures(page, *every[-2])
        page.keyboard.press("Home")
        check_figures(page, *every[0])
        page.focus("#next")
        page.keyboard.press("Enter")
        check_figures(page, *every[1])
        page.focus("#back")
        page.keyboard.press("Space")
        page.keyboard.press("Space")
        check_figures(page, *every[0])
        # The focus is still there at the end of the row.
        assert page.evaluate("document.activeElement.id") == "back"
        page.focus("#setup")
        page.keyboard.press("ArrowDown")
        setup = plan["setups"][1]
        check_figures(page, setup, setup["passes"][0])
        page.focus("#whole")
        before = page.locator("#along .picture").get_attribute("viewBox")
        page.keyboard.press("Space")
        assert page.locator("#along .picture").get_attribute("viewBox") != before


def heights(page):
    """Height and width of the steel taken, as drawn."""
    return page.evaluate(
        """() => {
            const box = document.querySelector("#flat .outline.cut").getBBox();
            return [box.height, box.width];
        }"""
    )


def test_the_depth_is_drawn_as_many_times_larger_as_it_says(browser, of_job):
    folder, _ = of_job
    with opened(browser, folder) as page:
        page.select_option("#factor", "1")
        true_height, true_width = heights(page)
        assert "to scale" in page.inner_text("#flat figcaption")
        for factor in (10, 50):
            page.select_option("#factor", str(factor))
            height, width = heights(page)
            # Property: depths grow, widths stay; a coordinate is written to 0.005.
            assert height == pytest.approx(factor * true_height, abs=0.02 * factor)
            assert width == pytest.approx(true_width, abs=0.02)
            assert f"{factor} times larger" in page.inner_text("#flat figcaption")


def test_the_section_is_to_scale(browser, of_job):
    folder, plan = of_job
    outline = plan["section"]["outline_before_mm"]
    wide = max(p[0] for p in outline) - min(p[0] for p in outline)
    high = max(p[1] for p in outline) - min(p[1] for p in outline)
    with opened(browser, folder) as page:
        box = page.evaluate(
            """() => { const b = document.querySelector("#section .before").getBBox();
                       return [b.width, b.height]; }"""
        )
        # By hand: a drawn box has the section's own proportion.
        assert box[0] / box[1] == pytest.approx(wide / high, rel=2e-3)


TEXTS = """() => [...document.querySelectorAll("svg")].filter((s) => !s.parentNode.closest("svg"))
  .map((svg) => {
    const frame = svg.getBoundingClientRect();
    const boxes = [...svg.querySelectorAll("text")].map((t) => {
      const r = t.getBoundingClientRect();
      return [t.textContent, r.left - frame.left, r.top - frame.top,
              r.right - frame.left, r.bottom - frame.top];
    });
    const name = svg.getAttribute("aria-label") || svg.textContent.slice(0, 40);
    return [name, frame.width, frame.height, boxes];
  })"""


@pytest.mark.parametrize("size", WIDTHS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_is_cut_off_or_overlaps(browser, of_job, size, scheme):
    folder, plan = of_job
    last = len(steps(plan))
    with opened(browser, folder, WIDTHS[size], scheme) as page:
        for step in (1, last // 2, last):
            page.evaluate(
                """(n) => { const s = document.getElementById("scrub");
                            s.value = n; s.dispatchEvent(new Event("input")); }""",
                step,
            )
            assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[size]
            for name, wide, high, texts in page.evaluate(TEXTS):
                for text, left, top, right, bottom in texts:
                    assert left > -1, (name, text)
                    assert top > -1, (name, text)
                    assert right < wide + 1, (name, text)
                    assert bottom < high + 1, (name, text)
                for n, one in enumerate(texts):
                    for other in texts[n + 1 :]:
                        across = min(one[3], other[3]) - max(one[1], other[1])
                        down = min(one[4], other[4]) - max(one[2], other[2])
                        # Boxes of text have some empty room above and below.
                        assert across < 1 or down < 6, (name, one[0], other[0])


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(browser, of_job, scheme):
    # Source: WCAG 2.1, 1.4.3 (contrast of text at least 4.5 to 1) and its relative luminance.
    folder, _ = of_job
    with opened(browser, folder, scheme=scheme) as page:
        pairs = page.evaluate(
            """() => {
                const ground = getComputedStyle(document.body).backgroundColor;
                const inks = "body .note dt figcaption small td text .level".split(" ");
                return inks.map((name) => {
                    const style = getComputedStyle(document.querySelector(name));
                    return [name, name === "text" ? style.fill : style.color, ground];
                });
            }"""
        )

    def luminance(colour):
        parts = [int(c) / 255 for c in re.findall(r"\d+", colour)[:3]]
        linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for name, ink, paper in pairs:
        low, high = sorted((luminance(ink), luminance(paper)))
        assert (high + 0.05) / (low + 0.05) >= 4.5, (name, ink, paper)
    ground = luminance(pairs[0][2])
    assert (ground < 0.1) == (scheme == "dark")


def test_nothing_is_told_by_colour_alone(browser, of_job):
    folder, _ = of_job
    with opened(browser, folder) as page:
        # Property: each material has a hatch of its own, and every line its own dashes.
        hatches = page.evaluate(
            """() => Object.fromEntries(["steel", "cut", "wheel"].map((name) => [name,
                 document.querySelector("#flat pattern[id$=" + name + "]").innerHTML]))"""
        )
        assert len(set(hatches.values())) == 3
        fills = page.evaluate(
            """() => [...document.querySelectorAll("#flat .outline, #along .outline")]
                 .map((e) => [e.getAttribute("class").split(" ")[1], e.getAttribute("fill")])"""
        )
        assert {material for material, _ in fills} >= {"steel", "cut", "wheel"}
        assert all(fill.endswith(f"-{material})") for material, fill in fills)
        dashes = page.evaluate(
            """() => [...document.querySelectorAll("#charts figure:nth-child(2) [data-mark=line]")]
                 .map((e) => e.getAttribute("stroke-dasharray"))"""
        )
        assert len(dashes) == len(set(dashes)) == 3
        for svg in page.locator("main svg[role=img]").all():
            assert svg.get_attribute("aria-label") or svg.locator("title").count()


def test_the_limits_are_drawn(browser, of_job):
    folder, plan = of_job
    with opened(browser, folder) as page:
        setup = plan["setups"][0]
        charts = page.inner_text("#charts")
        assert f"limit of blade and edge {setup['heat']['soak_limit_c']:.0f} °C" in charts
        assert f"limit under the wheel {setup['heat']['flash_limit_c']:.0f} °C" in charts
        assert f"target {setup['target_depth_mm']:.4f} mm" in charts
        assert re.search(r"limit \d+ N", charts)
        assert page.locator("#charts .limit").count() == 4
        assert page.locator("#lands .limit").count() == 2
        assert page.locator("#cautions li").count() == len(plan["cautions"])


def test_what_a_user_wrote_is_only_ever_text(browser, tmp_path):
    out = tmp_path / "out"
    titles = json.dumps(NASTY), json.dumps(f"machine {NASTY}")
    done = run(
        "write", STRAIGHT, "--out", out,
        "--set", f"title={titles[0]}", "--set", f"machine.title={titles[1]}",
    )  # fmt: skip
    assert (done.code, done.err) == (0, "")
    with opened(browser, out) as page:
        assert page.inner_text("#title") == NASTY
        assert page.title().endswith(": preview")
        assert page.locator("img, b, iframe").count() == 0
        assert NASTY[:20] in page.inner_text("#about")
        # Nothing of it runs, and the page steps on.
        page.keyboard.press("ArrowRight")
        assert "pass 2 of 5" in page.inner_text("#where")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints(browser, of_job, paper, tmp_path):
    folder, _ = of_job
    with opened(browser, folder, scheme="dark") as page:
        data = page.pdf(format=paper, print_background=True)
        assert data.startswith(b"%PDF")
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", data)) >= 3
        # Dark ink on white paper, whatever the screen has; and what only works on a screen is gone.
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == (
            "rgb(255, 255, 255)"
        )
        assert not page.is_visible("#scrub")
        assert page.is_visible("#where")
