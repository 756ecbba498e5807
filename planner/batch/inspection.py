"""Which blades of a batch are measured."""

from __future__ import annotations

from planner.inputs.job import Job

EVERY = 5
"""Every so many blades one is measured, where neither job nor wear says otherwise. Common practice,
no source."""


def every_nth(job: Job, dress_after: int | None) -> int:
    """How often a blade is measured: as the job says, or every fifth, or before each dressing.

    ``dress_after`` is how many blades use up the drift that wear may take of the tolerance.
    """
    if job.inspect_every is not None:
        return job.inspect_every
    return EVERY if dress_after is None else min(EVERY, max(dress_after, 1))


def blades_to_measure(first: int, quantity: int, every: int, together: int = 1) -> list[int]:
    """The first article, every n-th blade counted from the first of the batch, and the last.

    Of a row the first article is the whole first clamping, ``together`` blades.

    >>> blades_to_measure(1, 12, 5)
    [1, 5, 10, 12]
    >>> blades_to_measure(7, 12, 5)
    [7, 10, 12]
    >>> blades_to_measure(1, 12, 5, 3)
    [1, 2, 3, 5, 10, 12]
    """
    begins = first + (-first) % every
    articles = range(first, min(first + together, quantity + 1))
    return sorted({*articles, *range(begins, quantity + 1, every), quantity})
