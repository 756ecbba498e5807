"""A program that goes on from a later pass is proved behind the passes that were ground before."""

import pytest

from planner.proof.prove import Before, prove_program
from tests.samples import a_job, a_machine

FIRST = "mill-A.ngc"
LINES = 20
"""By hand: "(pass 1 of 6 ..." is line 21 of the sample."""


@pytest.fixture(scope="module")
def first(prove):
    return prove.text(FIRST)


@pytest.fixture(scope="module")
def rest(first):
    """Passes 4 to 6 of the sample behind its opening, off the end where pass 4 starts."""
    lines = first.splitlines()
    opening = [line.replace("X-20.0000", "X100.0000") for line in lines[:LINES]]
    opening.insert(9, "(from pass 4 of 6, zero stands)")
    at = lines.index("(pass 4 of 6 rough depth 0.0290)")
    return "\n".join(opening + lines[at:]) + "\n"


def new_wheel(rest, touch="0.0217"):
    told = f"new wheel)\n(touch wheel bares in middle of relief at depth {touch})"
    return rest.replace("zero stands)", told)


def broken_off(first):
    """The first program cut off where the belt tore: no end, no retract."""
    return first[: first.index("(pass 4 of 6")]


def before(text, passes=3):
    return Before(text.encode("latin-1"), passes)


def test_the_pair_leaves_what_the_whole_program_leaves(prove, first, rest):
    whole = prove(FIRST, first)
    pair = prove(FIRST, rest, before=before(first))
    assert (pair.faults, pair.faults_before, pair.ok) == ((), (), True)
    # Property: the same passes in two programs are the same passes.
    assert pair.lands == whole.lands
    assert [c.reached_depth_mm for c in pair.cuts[-3:]] == [
        c.reached_depth_mm for c in whole.cuts[-3:]
    ]


def test_the_first_program_needs_no_end(prove, first, rest):
    assert prove(FIRST, rest, before=before(broken_off(first))).ok


def test_what_stands_behind_the_whole_passes_is_not_judged(prove, first, rest):
    # Property: pass 5 of the first program was never run.
    wrong = first.replace("G1 Z-0.0312", "G1 Z-0.4000")
    assert not prove(FIRST, wrong).ok
    assert prove(FIRST, rest, before=before(wrong)).ok


def test_a_new_wheel_is_touched_off_at_the_depth_reached(prove, first, rest):
    reached = prove(FIRST, first).cuts[2].reached_depth_mm
    good = new_wheel(rest, f"{reached:.4f}")
    assert prove(FIRST, good, before=before(first)).ok


DAMAGES = {
    "no program before it": (lambda r: r, None, "claim-contradicted"),
    "one pass too few before it": (lambda r: r, lambda f: (f, 2), "claim-contradicted"),
    "one pass too many before it": (lambda r: r, lambda f: (f, 4), "claim-contradicted"),
    "no claim to go on": (
        lambda r: r.replace("(from pass 4 of 6, zero stands)\n", ""),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a claim to go on in other words": (
        lambda r: r.replace("zero stands", "zero somewhere"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a pass left out between the two": (
        lambda r: r.replace(
            "(pass 4 of 6 rough depth 0.0290)\nG1 Z-0.0290 F400.0\nG1 X-20.0000 F4000.0\n", ""
        ),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "two infeeds in one between the two": (
        lambda r: r.replace("0.0290", "0.0350"),
        lambda f: (f, 3),
        "bite-too-large",
    ),
    "no spark-out in the second": (
        lambda r: r.replace("(pass 6 of 6 spark-out depth 0.0312)\nG1 X-20.0000 F4000.0\n", ""),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "started off the wrong end": (
        lambda r: r.replace("X100.0000 Y0.0000", "X-20.0000 Y0.0000"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a new wheel and no depth to touch off at": (
        lambda r: r.replace("zero stands", "new wheel"),
        lambda f: (f, 3),
        "claim-missing",
    ),
    # By hand: the resolution of the sample's infeed is a thousandth; two are too many.
    "a new wheel touched off too deep": (
        lambda r: new_wheel(r, "0.0239"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a new wheel touched off as if on the face": (
        lambda r: new_wheel(r, "0.0000"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a new wheel touched off on what another operation leaves": (
        lambda r: new_wheel(r).replace("in middle of relief", "on bevel so far"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a depth to touch off at in other words": (
        lambda r: new_wheel(r, "about 0.02"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "a new wheel that has worn": (
        lambda r: new_wheel(r).replace("G21\n", "(worn 0.0010 mm)\nG21\n"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
    "another wear than the program before it": (
        lambda r: r.replace("G21\n", "(worn 0.0001 mm)\nG21\n"),
        lambda f: (f, 3),
        "claim-contradicted",
    ),
}


@pytest.mark.parametrize("name", DAMAGES)
def test_a_damaged_pair_is_refused(prove, first, rest, name):
    damage, first_of, rule = DAMAGES[name]
    text = damage(rest)
    assert text != rest or name.startswith(("no program", "one pass"))
    ahead = None if first_of is None else before(*first_of(first))
    verdict = prove(FIRST, text, before=ahead)
    assert not verdict.ok
    assert rule in {f.rule for f in verdict.faults}


FIRST_DAMAGES = {
    "the other face": ("(setup A face A)", "(setup B face B)", "claim-contradicted"),
    "another wheel": ("(wheel fine)", "(wheel coarse)", "claim-contradicted"),
    "an air run": ("(kind cutting)", "(kind air run)", "claim-contradicted"),
    "an infeed left out": ("G1 Z-0.0160 F400.0\n", "", "claim-contradicted"),
    "a pass left out": ("(pass 2 of 6 rough depth 0.0160)\n", "", "claim-contradicted"),
    "two rough infeeds in one": ("Z-0.0160", "Z-0.0260", "bite-too-large"),
    "no spin-up": ("G4 P5.0\n", "", "no-spin-up"),
    "a pass cut short": ("G1 Z-0.0230 F400.0\nG1 X100.0000", "G1 Z-0.0230 F400.0\nG1 X60.0000",
                         "pass-incomplete"),
    "a word in lower case": ("G54\n", "g54\n", "lower-case"),
    "no passes told": ("(pass", "(message pass", "claim-missing"),
}  # fmt: skip


@pytest.mark.parametrize("name", FIRST_DAMAGES)
def test_a_damage_of_the_first_program_is_told_as_its_own(prove, first, rest, name):
    find, put, rule = FIRST_DAMAGES[name]
    damaged = first.replace(find, put)
    assert damaged != first
    verdict = prove(FIRST, rest, before=before(damaged))
    assert not verdict.ok
    assert rule in {f.rule for f in verdict.faults_before}


def test_an_air_run_goes_on_without_the_program_before_it(prove):
    air = prove.text("mill-A-air.ngc")
    air = air.replace("(kind air run)", "(kind air run)\n(from pass 4 of 6, zero stands)")
    assert prove("mill-A-air.ngc", air).ok


@pytest.mark.parametrize("data", [b"", b"\xff\x00(", b"(pass 1 of 6 rough depth 0.0080)"])
def test_any_bytes_before_it_are_faults_and_no_crash(rest, data):
    verdict = prove_program(rest.encode(), a_job(), a_machine(), before=Before(data, 3))
    assert verdict.faults_before
