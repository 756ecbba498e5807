"""Whatever the bytes, the proof answers; and what it calls good is good by other reckoning."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.proof.rules import Rule
from planner.report.faults import fault_words

QUICK = settings(
    deadline=None, max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
CODES = ["G0", "G1", "G4", "G20", "G21", "G80", "G90", "G91", "G92", "G93", "G94", "M0", "M2"]
CODES += ["M3", "M4", "M5", "M7", "M8", "M9", "M30", "G2", "G28", "G54", "G64", "O1"]
NUMBERS = st.one_of(
    st.floats(-200, 200).map(lambda v: f"{v:.4f}"),
    st.sampled_from(["0", "-0", ".", "-", "1E3", "99999999999999999999", "#1", "[1]", "NAN"]),
)
WORDS = st.one_of(
    st.sampled_from(CODES), st.tuples(st.sampled_from("XYZACFSPNQR"), NUMBERS).map("".join)
)
BLOCKS = st.lists(st.lists(WORDS, max_size=4).map(" ".join), max_size=12).map("\n".join)


def answered(verdict):
    assert verdict.ok == (not verdict.faults)
    for fault in verdict.faults:
        assert Rule(fault.rule)
        assert fault.block.isascii()
        assert fault_words(fault)


@QUICK
@given(st.binary(max_size=300))
def test_random_bytes_are_answered_and_refused(prove, data):
    verdict = prove("mill-A.ngc", data)
    answered(verdict)
    assert not verdict.ok


@QUICK
@given(BLOCKS, st.integers(0, 40))
def test_random_blocks_in_a_good_program_are_answered(prove, blocks, at):
    lines = prove.text("mill-A.ngc").splitlines()
    lines[at:at] = blocks.split("\n")
    answered(prove("mill-A.ngc", "\n".join(lines) + "\n"))


@QUICK
@given(st.data())
def test_random_edits_are_refused_or_harmless(prove, sample_name, data):
    text = bytearray(prove.text(sample_name).encode())
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text) - 1))
        edit = data.draw(st.sampled_from(["replace", "insert", "delete", "digit"]))
        if edit == "delete":
            del text[at]
        elif edit == "digit":
            digits = [i for i, byte in enumerate(text) if 48 <= byte <= 57]
            text[data.draw(st.sampled_from(digits))] = data.draw(st.integers(48, 57))
        else:
            byte = data.draw(st.integers(0, 255))
            text[at : at + (edit == "replace")] = bytes([byte])
    verdict = prove(sample_name, bytes(text))
    answered(verdict)
    if verdict.ok and verdict.kind == "cutting":
        # By hand: the target's depth is 75 - sqrt(75^2 - 2.16517^2) = 0.03126 mm, and for the
        # belt 21 - sqrt(21^2 - 2.16517^2) = 0.11192 mm; a land is 0.25 mm wrong at most.
        deepest = 0.1125 if sample_name.startswith("small") else 0.0326
        assert max(cut.commanded_depth_mm for cut in verdict.cuts) < deepest
        for lands in verdict.lands:
            assert math.isclose(lands.edge_land_mm, 1.2, abs_tol=0.2501)
            assert math.isclose(lands.shoulder_land_mm, 1.4, abs_tol=0.2501)


@QUICK
@given(st.integers(1, 60))
def test_a_program_cut_off_anywhere_is_refused(prove, sample_name, share):
    text = prove.text(sample_name)
    cut = text[: len(text) * share // 61]
    assert not prove(sample_name, cut).ok
