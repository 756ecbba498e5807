"""One plan on two profiles that differ in their dialect moves the wheel the same way."""

import math

import pytest

from planner.produce import programs_for
from planner.proof.prove import prove_program
from tests.canonical import HALF_DECIMAL, canonical_calls, needs_rs274
from tests.planning import DIGEST, planned
from tests.samples import GONE, a_job, a_machine

# What `small` forces: a tilt set by hand, and a coolant that is no mist code.
BOTH = {
    "axes__A": GONE,
    "fixture__hand_tilt": {"range": ["-95 deg", "95 deg"], "resolution": "0.5 deg"},
    "coolant": {"kind": "flood", "on": "M8", "off": "M9"},
    # A rate that both take, for each has its own.
    "controller__block_rate": "250 blocks/s",
}
PROFILES = {
    "four axes' worth": {},
    "without cross": {"axes__Y": GONE},
    "inch": {"controller__units": "inch", "controller__decimals": 5},
    "by hand": {"spindle__control": "by_hand"},
}
MOTION = ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED", "SET_FEED_RATE")


@pytest.fixture(params=list(PROFILES), scope="module")
def pair(request):
    """The programs of one job by dialect, with the machine that each is for."""
    found = {}
    for dialect in ("rs274ngc", "small"):
        machine = a_machine(**BOTH, **PROFILES[request.param], controller__dialect=dialect)
        found[dialect] = (programs_for(planned(a_job(), machine), DIGEST), machine)
    return found


def test_the_proof_sees_the_same_positions(pair):
    (full, full_machine), (small, small_machine) = pair["rs274ngc"], pair["small"]
    assert list(full) == list(small)
    for name, data in full.items():
        one = prove_program(data, a_job(), full_machine)
        other = prove_program(small[name], a_job(), small_machine)
        assert one.ok
        assert other.ok
        assert len(one.positions) > 5
        # Property: but for its line, each position is the same; so are the cuts and the lands.
        assert [_without_line(p) for p in one.positions] == [
            _without_line(p) for p in other.positions
        ]
        assert one.lands == other.lands
        assert [(c.reached_depth_mm, c.feed_mm_min, c.normal_force_n) for c in one.cuts] == [
            (c.reached_depth_mm, c.feed_mm_min, c.normal_force_n) for c in other.cuts
        ]


def _without_line(point):
    return (point.rapid, point.traverse_mm, point.cross_mm, point.infeed_mm, point.tilt_deg)


@needs_rs274
def test_rs274_moves_the_same_way(pair):
    for name, data in pair["rs274ngc"][0].items():
        one = [c for c in canonical_calls(data.decode()) if c[0] in MOTION]
        other = [c for c in canonical_calls(pair["small"][0][name].decode()) if c[0] in MOTION]
        # Source: the interpreter's own calls, of both programs.
        assert one == other


@needs_rs274
def test_rs274_and_the_proof_see_one_path(pair):
    """Positions of the proof, made program words again, are those of the other interpreter."""
    for dialect in ("rs274ngc", "small"):
        texts, machine = pair[dialect]
        unit_mm = 25.4 if machine.controller.units == "inch" else 1.0
        for data in texts.values():
            ours = prove_program(data, a_job(), machine).positions
            calls = canonical_calls(data.decode())
            theirs = [n for c, n in calls if c in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")]
            # The first move tells the infeed alone: not every position is known yet.
            first = len(theirs) - len(ours)
            assert 0 <= first <= 1
            for point, numbers in zip(ours, theirs[first:], strict=True):
                x, y, z = numbers[:3]
                at = (point.traverse_mm, point.cross_mm, point.infeed_mm)
                assert math.dist([a / unit_mm for a in at], (x, y, z)) < 2 * HALF_DECIMAL
