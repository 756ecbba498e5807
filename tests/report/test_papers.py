"""The papers beside the programs: what a user wrote cannot become markup, figures are sound."""

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import InputError
from planner.report.folder import put_folder
from planner.report.picture import section_svg
from planner.report.plan_json import json_text, rounded
from tests.planning import planned, sheet_text
from tests.samples import a_job, a_machine

NASTY = "a `b` <script>alert(1)</script> & ]]> # [x](y) **z** | é"
QUICK = settings(max_examples=20, deadline=None, derandomize=True)


@pytest.fixture(scope="module")
def plan():
    return planned(a_job(title=NASTY), a_machine(title=NASTY))


def test_a_title_cannot_become_markup_in_the_picture(plan):
    root = ElementTree.fromstring(section_svg(plan))
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags == {"svg", "title", "text", "polygon", "line"}
    (title,) = [e.text for e in root.iter() if e.tag.endswith("}title")]
    assert title == NASTY


def test_a_title_cannot_become_markup_on_the_sheet(plan):
    sheet = sheet_text(plan, plan.setups[0])
    lines = [x for x in sheet.splitlines() if "script" in x]
    assert len(lines) == 2
    for line in lines:
        # Between two backticks, and none inside; nothing that does not show.
        assert re.fullmatch(r"- \w+: `[^`]*`", line)
        assert all(c.isprintable() for c in line)


def test_the_sheet_is_a_page_of_markdown(plan):
    for setup in plan.setups:
        sheet = sheet_text(plan, setup)
        assert sheet.startswith(f"# Set-up {setup.name}: face {setup.relief.face}\n")
        assert sheet.endswith("\n")
        steps = re.findall(r"^(\d+)\. ", sheet, re.M)
        assert steps == [str(n) for n in range(1, len(steps) + 1)]
        assert len(steps) >= 8
        # By hand: 1.2 and 1.4 mm, 0.25 mm either way.
        assert "| edge | 1.20 | 0.95 to 1.45 |" in sheet
        assert "| shoulder | 1.40 | 1.15 to 1.65 |" in sheet
        # By hand: touch_off 3 um on a radius of 75: 2 sqrt(0.003 * 149.997) = 1.34.
        assert "1.34 mm wide" in sheet
        assert f"{setup.relief.middle_mm:.3f} mm from the edge" in sheet


@pytest.mark.parametrize("flip", ["end_for_end", "over", "by_tilt"])
def test_the_sheet_says_how_the_blade_lies(flip):
    turned = {"end_for_end": "end for end", "over": "about its length", "by_tilt": "tilts to the"}
    both = planned(a_job(), a_machine(fixture__flip=flip))
    sheets = [sheet_text(both, s) for s in both.setups]
    assert "Clamp the blade as it comes" in sheets[0]
    assert turned[flip] in sheets[1]
    # Face B alone: it does not lie as face A would, and zero may be at the tip.
    alone = planned(a_job(relief__faces="B"), a_machine(fixture__flip=flip))
    sheet = sheet_text(alone, alone.setups[0])
    assert "Clamp the blade as it comes" not in sheet
    assert turned[flip] in sheet
    assert ("over the tip" in sheet) == (flip == "end_for_end")


def test_the_picture_is_to_scale(plan):
    root = ElementTree.fromstring(section_svg(plan))
    polygons = [e for e in root.iter() if e.tag.endswith("}polygon")]
    points = [
        [tuple(map(float, p.split(","))) for p in e.get("points", "").split()] for e in polygons
    ]
    before, after = points[:2]
    for outline in (before, after):
        wide = max(x for x, _ in outline) - min(x for x, _ in outline)
        high = max(y for _, y in outline) - min(y for _, y in outline)
        # By hand: 20 mm by 3 mm.
        assert wide / high == pytest.approx(20 / 3, rel=1e-3)
    for x, y in (p for outline in points for p in outline):
        assert 0 <= x <= float(root.get("width", ""))
        assert 0 <= y <= float(root.get("height", ""))


@QUICK
@given(
    st.recursive(
        st.floats(allow_nan=False, allow_infinity=False) | st.integers() | st.text() | st.none(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=8,
    )
)
def test_figures_are_rounded_and_never_minus_zero(value):
    text = json_text({"value": rounded(value)})
    assert not re.search(r"(?<![\d\w])-0\.0(?![\d\w])", re.sub(r'"(?:[^"\\]|\\.)*"', "", text))
    # Property: rounding twice changes nothing.
    assert json_text({"value": rounded(rounded(value))}) == text


def test_what_is_no_number_is_not_written():
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_text({"value": float("nan")})


def test_a_folder_that_cannot_be_exchanged_is_left_alone(tmp_path, monkeypatch):
    out = tmp_path / "out"
    put_folder({"plan.json": b"old"}, out, replace=False)

    def refused(*_):
        raise OSError(38, "Function not implemented")

    monkeypatch.setattr("planner.report.folder._exchange", refused)
    with pytest.raises(InputError) as caught:
        put_folder({"plan.json": b"new"}, out, replace=True)
    assert caught.value.problems[0].rule == "cannot-write"
    assert (out / "plan.json").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
