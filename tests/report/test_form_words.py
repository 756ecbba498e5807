"""A section in the words of `check`: what of an outline's first pieces it understood."""

import pytest

from planner.report.understood import form_words
from tests.samples import a_job

ALIKE = [["0 mm", "0 mm"], ["0.4 mm", "0.3 mm"], ["6 mm", "1.5 mm"], ["20 mm", "1.5 mm"]]
OTHER = [["0 mm", "0 mm"], ["0.8 mm", "0.6 mm"], ["6 mm", "1.5 mm"], ["20 mm", "1.5 mm"]]
BACK = [["0 mm", "0 mm"], ["20 mm", "0 mm"]]


@pytest.mark.parametrize(
    ("faces", "said"),
    [
        ({"face_a": ALIKE}, "4 and 4 points, micro bevel 0.5 mm at 36.87 deg a side"),
        (
            {"face_a": ALIKE, "face_b": OTHER},
            "4 and 4 points, micro bevel of face A 0.5 mm at 36.87 deg, "
            "micro bevel of face B 1 mm at 36.87 deg",
        ),
        (
            {"face_a": BACK, "face_b": ALIKE},
            "2 and 4 points, micro bevel of face B 0.5 mm at 36.87 deg",
        ),
        (
            {"face_a": ALIKE, "face_a_radius": "60 mm"},
            "4 and 4 points, bulging bevels, micro bevel 0.5 mm at 36.87 deg a side",
        ),
    ],
    ids=["alike", "unequal", "a flat back", "before an arc"],
)
def test_the_micro_bevels_of_an_outline_are_told(faces, said):
    # By hand: hypot(0.4, 0.3) = 0.5 at atan(0.75) = 36.87 deg, and twice that.
    form = {"form": "outline", "first_piece": "micro_bevel", **faces}
    words = form_words(a_job(blade__section=form).blade.section)
    assert words.endswith(f"own outline of {said}")
