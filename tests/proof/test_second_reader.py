"""The second reader reads the words of every block, and each set of words that stand together."""

from planner.proof import second_reader
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule
from planner.proof.tokens import read_blocks

PASS = ["G1 X1.5 F100", "G1 X2.5 F100", "G1 X3.5 F100", "G1 X2.5 F100", "G0 X3.5"]


def faulted_lines(lines, monkeypatch=None, readers=None):
    if readers is not None:
        monkeypatch.setattr(second_reader, "_second_reader", lambda: readers)
    log = FaultLog(lines)
    second_reader.check_words(read_blocks(lines, True, log), log)
    assert {f.rule for f in log.in_line_order()} <= {Rule.READERS_DISAGREE}
    return [f.line for f in log.in_line_order()]


def test_the_words_of_every_block_are_read_and_each_shape_once_as_a_whole(monkeypatch):
    read_line, read_words = second_reader._second_reader()
    asked: list[tuple[str, str]] = []

    def line(text):
        asked.append(("line", text))
        return read_line(text)

    def words(text):
        asked.append(("words", text))
        return read_words(text)

    assert faulted_lines(PASS, monkeypatch, (line, words)) == []
    # By hand: the first of each code is read as a line; the fourth is the second again.
    assert asked == [
        ("line", "G1 X1.5 F100"),
        ("words", "G1 X2.5 F100"),
        ("words", "G1 X3.5 F100"),
        ("line", "G0 X3.5"),
    ]


def test_a_number_read_otherwise_is_found_in_a_block_of_a_known_shape(monkeypatch):
    read_line, read_words = second_reader._second_reader()

    def words(text):
        return read_words(text.replace("3.5", "3.6"))

    assert faulted_lines(PASS, monkeypatch, (read_line, words)) == [3]


def test_words_that_may_not_stand_together_are_refused_each_time():
    # By hand: G0 and G1 are of one modal group, whatever the position; G1 alone is not refused.
    lines = ["G1 X1", "G0 G1 X1", "G0 G1 X2", "G1 X2", "(pass) G0 G1 X3", "(pass) G1 X3"]
    assert faulted_lines(lines) == [2, 3, 5]
