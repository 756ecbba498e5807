"""The set-up and the wheel that a caller asks for stand beside those of the header."""

import pytest

SAMPLE = "mill-A.ngc"


@pytest.mark.parametrize(
    ("asked", "line"),
    # By hand: "(setup A face A)" is line 4 of the sample, "(wheel fine)" line 6.
    [({"setup": "B"}, 4), ({"wheel": "coarse"}, 6)],
)
def test_a_header_that_says_otherwise_is_contradicted(prove, asked, line):
    verdict = prove(SAMPLE, prove.text(SAMPLE), **asked)
    assert (line, "claim-contradicted") in [(f.line, f.rule) for f in verdict.faults]


def test_a_header_that_says_the_same_stands(prove):
    assert prove(SAMPLE, prove.text(SAMPLE), setup="A", wheel="fine").ok
