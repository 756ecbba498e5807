"""How problems look: place first, excerpt with carets, what to write, and a count."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import InputError, Problem
from planner.inputs.load import load_job
from planner.report.problems import problem_lines

NO_UNIT = Problem(
    file="machines/shop-belt.yaml",
    line=14,
    column=15,
    rule="no-unit",
    key_path="axes.A.max_feed",
    given="900, without a unit",
    allowed="a rotary feed in deg/min or deg/s, above 0 deg/min",
    mend="write 900 deg/min",
    excerpt="    max_feed: 900",
)
UNKNOWN = Problem(
    file="machines/shop-belt.yaml",
    line=9,
    column=3,
    rule="unknown-key",
    key_path="rack[0].diametr",
    given="diametr",
    allowed="contact, diameter, width",
    mend="did you mean diameter?",
)


def test_each_problem_starts_with_its_place_and_ends_with_what_to_write() -> None:
    # By hand: the carets stand under columns 15 to 17 of the line, which starts after the bar.
    assert problem_lines([UNKNOWN, NO_UNIT]) == (
        "machines/shop-belt.yaml:9:3: error [unknown-key] rack[0].diametr\n"
        "    given     diametr\n"
        "    allowed   contact, diameter, width\n"
        "    to mend   did you mean diameter?\n"
        "machines/shop-belt.yaml:14:15: error [no-unit] axes.A.max_feed\n"
        "    14 |     max_feed: 900\n"
        "       |               ^^^\n"
        "    given     900, without a unit\n"
        "    allowed   a rotary feed in deg/min or deg/s, above 0 deg/min\n"
        "    to mend   write 900 deg/min\n"
        "2 errors. Nothing was written.\n"
    )


def test_one_error_is_counted_in_the_singular() -> None:
    assert problem_lines([UNKNOWN]).endswith("\n1 error. Nothing was written.\n")


def test_file_as_a_whole_has_no_line() -> None:
    text = problem_lines([replace(UNKNOWN, line=0, column=0, key_path="", rule="file-not-found")])
    assert text.startswith("machines/shop-belt.yaml: error [file-not-found]\n")


def test_second_line_of_a_fault_between_two_keys_is_named() -> None:
    assert "    see also  line 3\n" in problem_lines([replace(NO_UNIT, also_line=3)])
    assert "see also" not in problem_lines([replace(NO_UNIT, also_line=14)])


@pytest.mark.parametrize(
    ("excerpt", "column", "carets"),
    [
        pytest.param("speed: 900", 8, 3, id="to-the-end"),
        pytest.param("{speed: 900, power: 5 W}", 9, 3, id="to-the-comma"),
        pytest.param("{speed: 900 rad}", 9, 7, id="to-the-bracket"),
        pytest.param("speed: 900 rad  # fast", 8, 7, id="to-the-comment"),
        pytest.param("speed: 900#1", 8, 5, id="no-comment-without-a-blank"),
        pytest.param('title: "a, b: c" # x', 8, 9, id="quoted"),
        pytest.param("title: 'it''s'", 8, 7, id="quote-in-quotes"),
        pytest.param("diametr: 150 mm", 1, 7, id="a-key"),
        pytest.param("at: 12:30", 5, 5, id="colon-inside"),
        pytest.param("x: [", 4, 1, id="a-bracket"),
        pytest.param("x: ", 4, 1, id="past-the-end"),
        pytest.param("x: 3", 90, 1, id="far-past-the-end"),
    ],
)
def test_carets_cover_the_word_at_the_column(excerpt: str, column: int, carets: int) -> None:
    text = problem_lines([replace(NO_UNIT, excerpt=excerpt, column=column)])
    under = text.split("\n")[2]
    start = min(column, len(excerpt) + 1)
    # By hand: the gutter of line 14 is nine characters, '    14 | '.
    assert under == "       | " + " " * (start - 1) + "^" * carets


def test_carets_stand_under_wide_characters() -> None:
    text = problem_lines([replace(NO_UNIT, excerpt="刃: 900", column=4)])
    # By hand: 刃 takes two columns of the terminal, then colon and blank.
    assert "       |     ^^^\n" in text


@pytest.mark.parametrize("width", [30, 40, 60, 80, 100])
@pytest.mark.parametrize("column", [1, 60, 150, 299])
def test_text_keeps_to_the_width_and_shows_the_place(width: int, column: int) -> None:
    letters = "abcdefghijklmnopqrstuvwxyz"
    line = "".join(letters[n % 26] if n % 7 else " " for n in range(300))
    problem = replace(
        NO_UNIT,
        file="m.yaml",
        excerpt=line,
        column=column + (line[column - 1] == " "),
        allowed="one of the many things that may be written here " * 5,
    )
    lines = problem_lines([problem], width).split("\n")
    assert max(map(len, lines)) <= width
    bar = next(n for n, text in enumerate(lines) if text.startswith("    14 | "))
    caret = lines[bar + 1].index("^")
    assert lines[bar][caret] == line[problem.column - 1]


def test_key_path_goes_below_where_the_line_is_too_narrow() -> None:
    lines = problem_lines([NO_UNIT], 50).split("\n")
    assert lines[:2] == ["machines/shop-belt.yaml:14:15: error [no-unit]", "    axes.A.max_feed"]


def test_nothing_in_a_file_reaches_the_terminal_as_a_command() -> None:
    evil = "a\x1b[31mb\x07\u202e\r\n"
    problem = Problem(evil, 1, 1, "rule", evil, evil, evil, evil, evil)
    for line in problem_lines([problem]).split("\n"):
        assert line.isprintable()


@given(
    st.builds(
        Problem,
        file=st.text(max_size=20),
        line=st.integers(0, 99),
        column=st.integers(0, 99),
        rule=st.just("no-unit"),
        key_path=st.text(max_size=50),
        given=st.text(max_size=50),
        allowed=st.text(max_size=50),
        mend=st.text(max_size=50),
        excerpt=st.text(max_size=120),
        also_line=st.integers(0, 99),
    ),
    st.integers(-5, 120),
)
def test_any_problem_can_be_told(problem: Problem, width: int) -> None:
    text = problem_lines([problem], width)
    assert text.endswith("1 error. Nothing was written.\n")
    assert all(line.isprintable() for line in text.split("\n"))


def test_problems_of_a_real_file_read_as_told(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("told") / "job.yaml"
    path.write_text("title: Knife: small\n")
    with pytest.raises(InputError, match="yaml-syntax") as caught:
        load_job(path)
    text = problem_lines(caught.value.problems)
    assert re.search(r"job\.yaml:1:13: error \[yaml-syntax\]\n    1 \| title: Knife: small\n", text)
    assert "to mend   put a text that holds" in text
