"""The drawing of a clamping shows the blade as the facets that are there so far leave it."""

import math
from types import SimpleNamespace
from typing import Any

import pytest

from planner.report.papers.clamping import _less_facets
from planner.section.work import FaceState

STOCK = ((0.0, 1.2), (18.0, 1.2), (18.0, -1.2), (0.0, -1.2))
"""A bar 2.4 mm thick, its end square."""


def clamped(face, before, other):
    faces = [SimpleNamespace(face="A"), SimpleNamespace(face="B")]
    work: Any = SimpleNamespace(
        section=SimpleNamespace(faces=faces),
        relief=SimpleNamespace(face=face),
        before=FaceState(math.inf, 0.0, before),
        other=FaceState(math.inf, 0.0, other),
    )
    return {(round(y, 4), round(z, 4)) for y, z in _less_facets(work, STOCK)}


def test_the_bar_stays_as_it_is_before_the_first_facet():
    assert clamped("A", (), ()) == set(STOCK)


@pytest.mark.parametrize(("face", "side"), [("A", 1.0), ("B", -1.0)])
def test_the_facets_of_a_face_are_taken_off_it(face, side):
    # By hand: 0.2 mm at the edge and a slope of 1 in 2 meet the flank at y = 2; 0.4 mm and 1 in
    # 4 cross that line at y = 0.8, z = 0.6, and meet the flank at 3.2.
    flats = ((math.atan(0.5), 0.2), (math.atan(0.25), 0.4))
    upper = {(0.0, 0.2), (0.8, 0.6), (3.2, 1.2), (18.0, 1.2)}
    lower = {(18.0, -1.2), (0.0, -1.2)}
    assert clamped(face, flats, ()) == {(y, side * z) for y, z in upper | lower}


def test_what_the_other_face_has_lost_is_gone_too():
    # By hand: each of the two like the first facet above.
    flat = ((math.atan(0.5), 0.2),)
    corners = {(0.0, 0.2), (2.0, 1.2), (18.0, 1.2), (18.0, -1.2), (2.0, -1.2), (0.0, -0.2)}
    assert clamped("A", flat, flat) == corners
