"""A row of blades in the proof: each filled station on its own, and what lies between them."""

from __future__ import annotations

import math

import pytest

from planner.proof.build_case import build_case
from planner.proof.prove import Before
from planner.proof.row import RowAround
from planner.report.faults import fault_words
from planner.report.verdicts import verdict_data, verdict_lines

ROW, MILL = "row-A.ngc", "mill-A.ngc"


def swapped(text: str, old: str, new: str) -> str:
    assert old in text
    return text.replace(old, new, 1)


def test_every_filled_station_leaves_what_the_single_blade_leaves(prove):
    row, single = prove(ROW, prove.text(ROW)), prove(MILL, prove.text(MILL))
    assert (row.ok, row.stations, single.stations) == (True, (1, 2, 4), ())
    # Property: the same passes at the same feeds on three blades of the same kind.
    for number in (1, 2, 4):
        lands = [at for at in row.lands if at.row_station == number]
        assert len(lands) == 5
        for one, other in zip(lands, single.lands, strict=True):
            assert one.station == other.station
            assert one.edge_land_mm == pytest.approx(other.edge_land_mm, abs=1e-9)
            assert one.depth_mm == pytest.approx(other.depth_mm, abs=1e-9)
    assert {at.row_station for at in single.lands} == {0}


@pytest.mark.parametrize(
    ("face", "flip", "station", "frame", "around"),
    [
        # By hand: blades of 80 mm at 0, 110 and 330 mm; forward x = traverse - position.
        ("A", "end_for_end", 2, (-110.0, 1.0), (-110.0, 300.0, (3, 110.0, 190.0))),
        ("A", "over", 4, (-330.0, 1.0), (-330.0, 80.0, (3, -110.0, -30.0))),
        ("B", "over", 1, (0.0, 1.0), (0.0, 410.0, (3, 220.0, 300.0))),
        # Turned end for end in its place: x = 80 + position - traverse; station 3, at 220 to 300 of
        # the traverse, is then at -30 to -110 of the blade in station 2.
        ("B", "end_for_end", 2, (190.0, -1.0), (-220.0, 190.0, (3, -110.0, -30.0))),
    ],
)
def test_the_frame_of_a_station_by_hand(prove, face, flip, station, frame, around):
    machine = prove.machine(ROW, {"fixture.flip": flip})
    case = build_case(prove.job(), machine, face, machine.rack[0], None, station, (1, 2, 4))
    assert (case.frame.x_at_zero_mm, case.frame.x_per_traverse) == frame
    low, high, empty = around
    assert case.row == RowAround(low, high, (empty,), 3)


def test_a_fault_names_the_stations_that_have_it(prove):
    text = swapped(prove.text(ROW), "G0 X310.0000\nG1 Z-0.0080 F400.0\n", "G0 X310.0000\n")
    found = {f.rule: f for f in prove(ROW, text).faults}
    assert "station 4 of the row: " in fault_words(found["claim-contradicted"])
    # Property: what is wrong for every blade names none of them.
    (left_on,) = prove(ROW, swapped(prove.text(ROW), "M5\n", "")).faults
    assert left_on.rule == "end-spindle-on"
    assert "row_station" not in left_on.facts


def test_the_wheel_wears_by_what_all_the_blades_lose(prove):
    # By hand: one pass at 0.008 mm takes 0.0089027 mm2 of each edge of 80 mm: 3 x 0.71222 mm3 from
    # three blades. G of 0.05: 42.733 mm3 of wheel, over pi 150 x 20 = 9424.8 mm2: 0.004534 mm.
    machine = prove.machine(ROW, {"rack.0.g_ratio": 0.05})
    cuts = prove(ROW, prove.text(ROW), machine=machine).cuts
    assert cuts[0].removed_area_mm2 == pytest.approx(0.0089027, rel=1e-4)
    worn = 3 * 0.0089027 * 80 / 0.05 / (math.pi * 150 * 20)
    # The second pass is sent to 0.016 mm and stands back by what has worn off.
    assert cuts[1].commanded_depth_mm == pytest.approx(0.016 - worn, abs=1e-6)


def test_the_clamp_of_an_empty_station_counts(prove):
    # By hand: at 260 mm of the traverse the clamps of the filled stations, 5 mm past the ends of
    # their edges, are 55 mm away; 3 mm deep the wheel is in a clamp, as in test_damages.
    dive = "G0 X260.0000\nG0 Z-3.0000\nG0 Z5.0000\nG0 X310.0000\n"
    faults = prove(ROW, swapped(prove.text(ROW), "G0 X310.0000\n", dive)).faults
    assert {f.rule for f in faults if f.line == 30} == {"jaws", "empty-station"}


def test_stations_may_be_said_beside_the_program(prove):
    text = "".join(
        line + "\n" for line in prove.text(ROW).splitlines() if not line.startswith("(station")
    )
    assert prove(ROW, text, stations=(4, 2, 1)).ok
    assert not prove(ROW, text, stations=(1, 2)).ok
    assert not prove(ROW, text, stations=(1, 2, 9)).ok
    assert not prove(ROW, prove.text(ROW), stations=(1, 2)).ok
    assert not prove(MILL, prove.text(MILL), stations=(1,)).ok


def test_a_row_goes_on_from_a_later_pass(prove):
    whole = prove.text(ROW)
    lines = whole.splitlines()
    opening = lines[: lines.index("(pass 1 of 6 rough depth 0.0080)")]
    opening.insert(13, "(from pass 3 of 6, zero stands)")
    at = lines.index("(pass 3 of 6 rough depth 0.0230)")
    rest = "\n".join(opening + lines[at:]) + "\n"
    pair = prove(ROW, rest, before=Before(whole.encode(), 2))
    assert (pair.faults, pair.faults_before) == ((), ())
    assert pair.lands == prove(ROW, whole).lands
    # Another station empty in the program before it; its blade would be ground from the face.
    other = swapped(whole, "(station 2 of 4 heel at 110.0000 mm)", "(station 2 of 4 empty)")
    wrong = prove(ROW, rest, before=Before(other.encode(), 2))
    assert "claim-contradicted" in {f.rule for f in wrong.faults}
    # A fault of the first program in one blade alone names its station.
    late = swapped(whole, "G0 X310.0000\nG1 Z-0.0080 F400.0\n", "G0 X310.0000\n")
    told = prove(ROW, rest, before=Before(late.encode(), 2)).faults_before
    assert {f.facts.get("row_station") for f in told} == {"4"}


def test_the_verdict_says_which_station(prove):
    verdict = prove(ROW, prove.text(ROW))
    lines = verdict_lines("row-A.ngc", verdict)
    assert "Stations of the row: 1, 2, 4." in " ".join(lines.split())
    assert "  4 three quarters " in lines
    data = verdict_data("row-A.ngc", verdict)
    assert data["stations"] == [1, 2, 4]
    assert [at["row_station"] for at in data["lands_mm"]] == [1] * 5 + [2] * 5 + [4] * 5
    single = verdict_data("mill-A.ngc", prove(MILL, prove.text(MILL)))
    assert "stations" not in single
    assert "row_station" not in single["lands_mm"][0]


def test_a_move_in_a_row_is_judged_by_distance_not_by_blocks(prove):
    # Property: cutting the leg in two in the gap, at one infeed, changes nothing.
    text = swapped(prove.text(ROW), "G1 X210.0000", "G1 X95.0000 F4000.0\nG1 X210.0000")
    assert prove(ROW, text).ok
