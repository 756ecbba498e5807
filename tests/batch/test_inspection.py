"""Which blades are measured."""

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.batch.inspection import blades_to_measure, every_nth
from tests.samples import a_job


def test_the_job_says_how_often():
    assert every_nth(a_job(inspect_every=3), None) == 3
    # Also where wear would ask for more.
    assert every_nth(a_job(inspect_every=7), 2) == 7


def test_left_out_it_is_every_fifth_or_sooner_where_wear_asks():
    assert every_nth(a_job(), None) == 5
    assert every_nth(a_job(), 12) == 5
    assert every_nth(a_job(), 3) == 3
    assert every_nth(a_job(), 0) == 1


@settings(max_examples=100, deadline=None, derandomize=True)
@given(
    first=st.integers(1, 50), more=st.integers(0, 200), every=st.integers(1, 300),
    together=st.integers(1, 8),
)  # fmt: skip
def test_no_longer_run_goes_unmeasured(first, more, every, together):
    last = first + more
    found = blades_to_measure(first, last, every, together)
    # Property: first and last are in, all are blades of the batch, no gap is wider than asked.
    assert found == sorted(set(found))
    assert (found[0], found[-1]) == (first, last)
    assert all(b - a <= every for a, b in pairwise(found))
    assert set(range(first, min(first + together, last + 1))) <= set(found)
