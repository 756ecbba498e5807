"""Whether a set-up fits: travels, the tilt, and the speed marked on the wheel."""

import pytest

from planner.errors import RefusedError
from planner.kinematics.room import room_refusals, rooms_needed
from planner.kinematics.row import row_of
from planner.kinematics.speeds import (
    marked_rpm,
    shaft_speed_rpm,
    speed_refusals,
    surface_speed_m_s,
)
from planner.kinematics.touch_frame import relief_frame
from planner.report.refusals import refusal_words, way_out_words
from planner.section.target import section_for
from tests.planning import planned, program_lines
from tests.samples import GONE, a_job, a_machine


def refusals(job=None, **changes):
    job, machine = job or a_job(), a_machine(**changes)
    wheel = machine.rack[0]
    section = section_for(job, wheel.diameter_mm / 2)
    length = job.blade.edge.length_mm
    found = []
    for relief in section.reliefs:
        frame = relief_frame(machine, section, relief, length)
        row = row_of(machine, wheel, length, relief.depth_mm)
        rooms = rooms_needed(machine, frame, relief.depth_mm, row)
        found += room_refusals(machine, frame, rooms)
    for refusal in found:
        assert refusal_words(refusal)
        assert all(way_out_words(w) for w in refusal.ways_out)
    return found


def test_the_test_machine_has_room():
    assert refusals() == []


def test_where_the_wheel_reverses():
    machine = a_machine(fixture__run_off="12 mm", rack__0__width="20 mm")
    # By hand: half the width and the run-off before the heel and past the tip.
    assert row_of(machine, machine.rack[0], 80, 0.05).ends_mm == (-22, 102)


# By hand, for run-off 10, width 20, edge 80: traverse -20 to 100; clearance 5 and the air run's
# own clearance above it: infeed -0.0313 to 10.0313.
@pytest.mark.parametrize(
    ("axis", "travel", "fits"),
    [
        ("X", ["-20 mm", "100 mm"], True),
        ("X", ["-19.9 mm", "250 mm"], False),
        ("X", ["-150 mm", "99.9 mm"], False),
        ("Z", ["-0.032 mm", "10.04 mm"], True),
        ("Z", ["-0.03 mm", "60 mm"], False),
        ("Z", ["-5 mm", "10.02 mm"], False),
        ("A", ["-45 deg", "12.5 deg"], True),
        ("A", ["-45 deg", "12.4 deg"], False),
        ("Y", ["0 mm", "40 mm"], True),
        ("Y", ["1 mm", "40 mm"], False),
    ],
)
def test_travels_from_a_zero_that_is_stated(axis, travel, fits):
    zero = "0 deg" if axis == "A" else "0 mm"
    found = refusals(**{f"axes__{axis}__travel": travel, f"axes__{axis}__zero_at": zero})
    if fits:
        assert found == []
        return
    assert {r.rule for r in found} == {"travel-too-short"}
    assert {r.facts["axis"] for r in found} == {axis}


# By hand: the same ways, wherever the zero stands: X 120, Z 10.0626 (air run included), Y none.
@pytest.mark.parametrize(
    ("axis", "travel", "fits"),
    [
        ("X", ["300 mm", "420 mm"], True),
        ("X", ["300 mm", "419.9 mm"], False),
        ("Z", ["20 mm", "30.063 mm"], True),
        ("Z", ["20 mm", "30.06 mm"], False),
        ("Y", ["1 mm", "1.1 mm"], True),
        # A tilt's zero is where the blade lies flat: it does not go with the touch-off.
        ("A", ["-45 deg", "12.4 deg"], False),
    ],
)
def test_travels_from_a_zero_that_is_not_known(axis, travel, fits):
    found = refusals(**{f"axes__{axis}__travel": travel})
    if fits:
        assert found == []
        return
    rule = "travel-too-short" if axis == "A" else "travel-span-too-short"
    assert {(r.rule, r.facts["axis"]) for r in found} == {(rule, axis)}
    # Property: a powered tilt takes no wedge.
    way = "powered-tilt" if axis == "A" else "less-way"
    assert {w.rule for r in found for w in r.ways_out} == {way}


@pytest.mark.parametrize("invert", [False, True])
def test_the_room_on_either_side_of_the_zero(invert):
    machine = a_machine(axes__X__invert=invert, axes__Z__zero_at="2 mm")
    section = section_for(a_job(), 75.0)
    frame = relief_frame(machine, section, section.reliefs[0], 80.0)
    row = row_of(machine, machine.rack[0], 80.0, 0.0313)
    rooms = rooms_needed(machine, frame, 0.0313, row)
    # By hand: as above; an inverted axis needs the room on the other side.
    assert "".join(r.letter for r in rooms) == "XYZA"
    ways = [(r.low, r.high) for r in rooms]
    traverse = (-100.0, 20.0) if invert else (-20.0, 100.0)
    assert ways == [traverse, (0.0, 0.0), pytest.approx((-0.0313, 10.0313)), (12.5, 12.5)]
    assert [r.zero_at for r in rooms] == [None, None, 2.0, 0.0]


LINES = {
    "relief__depth": "0.03 mm",
    "relief__scallop": "0.002 mm",
}
# By hand: between lands of 1.2 and 1.4 mm the relief is 6.93035 - 2.6 = 4.33035 mm wide (the face
# is 1.5 mm / sin 12.5 deg), so its arc has (2.165177^2 + 0.03^2) / 0.06 = 78.1479 mm of radius; its
# ends lie at asin(2.165177 / 78.1479) = 1.58766 deg, and of a wheel of 40 mm in radius, inside the
# arc and through them, the centre is 38.1479 sin(1.58766 deg) = 1.0569 mm aside.
REACH_MM = 1.0569


def lines_machine(**changes):
    return a_machine(rack__0__diameter="80 mm", rack__0__infeed__rough="0.006 mm", **changes)


def test_lines_take_room_on_the_cross():
    setup = planned(a_job(**LINES), lines_machine()).setups[0]
    (cross,) = [room for room in setup.rooms if room.role == "cross"]
    assert (cross.low, cross.high) == pytest.approx((-REACH_MM, REACH_MM), abs=0.002)
    # Property: so far the program goes, and no further.
    lines = program_lines(a_job(**LINES), lines_machine())
    words = [float(word[1:]) for line in lines for word in line.split() if word[0] == "Y"]
    assert (min(words), max(words)) == pytest.approx((cross.low, cross.high), abs=1e-4)


@pytest.mark.parametrize(
    ("changes", "rule", "way"),
    [
        ({"axes__Y__travel": ["0 mm", "2 mm"]}, "travel-span-too-short", "longer-cross"),
        ({"axes__Y__travel": ["0 mm", "2.2 mm"]}, "", ""),
        (
            {"axes__Y__travel": ["-1 mm", "9 mm"], "axes__Y__zero_at": "0 mm"},
            "travel-too-short",
            "move-cross",
        ),
        (
            {"axes__Y__travel": ["-1 mm", "1 mm"], "axes__Y__zero_at": "0 mm"},
            "travel-too-short",
            "longer-cross",
        ),
    ],
)
def test_lines_beyond_the_travel_of_the_cross_are_refused_in_planning(changes, rule, way):
    machine = lines_machine(**changes)
    if not rule:
        assert planned(a_job(**LINES), machine).setups
        return
    with pytest.raises(RefusedError) as caught:
        planned(a_job(**LINES), machine)
    assert {r.rule for r in caught.value.refusals} == {rule}
    for refusal in caught.value.refusals:
        assert refusal.facts["axis"] == "Y"
        assert [w.rule for w in refusal.ways_out] == [way]
        assert refusal_words(refusal)
        assert way_out_words(refusal.ways_out[0])


def test_a_zero_that_stands_elsewhere_shifts_the_travel():
    # By hand: program -20 to 100 with its zero at 40: 20 to 140.
    shifted = {"axes__X__zero_at": "40 mm"}
    assert refusals(axes__X__travel=["20 mm", "140 mm"], **shifted) == []
    assert refusals(axes__X__travel=["20.1 mm", "140 mm"], **shifted)
    # Inverted, then shifted: -100 to 20, so -60 to 60.
    assert refusals(axes__X__travel=["-60 mm", "60 mm"], axes__X__invert=True, **shifted) == []
    assert refusals(axes__X__travel=["-59.9 mm", "60 mm"], axes__X__invert=True, **shifted)


def test_a_travel_of_just_what_the_program_writes():
    # 1/3 mm wide, so the ends of the traverse are no whole decimals: what is written is.
    from planner.produce import produce  # noqa: PLC0415

    machine = a_machine(
        controller__decimals=3,
        rack__0__width="20.0012 mm",
        axes__X__travel=["-20.0006 mm", "100.0006 mm"],
        axes__X__zero_at="0 mm",
    )
    with pytest.raises(RefusedError) as caught:
        produce(planned(a_job(), machine), ())
    # -20.0006 is written as -20.001: past the end of the travel.
    assert caught.value.refusals[0].rule == "travel-too-short"


@pytest.mark.parametrize("flip", ["end_for_end", "over", "by_tilt"])
def test_a_tilt_out_of_reach(flip):
    hand = {"axes__A": GONE, "fixture__flip": flip}
    # The bevels of 12.5 deg need 12.5, -12.5 or 77.5: more than 5 deg from this scale's end.
    scale = {"range": ["-7 deg", "7 deg"], "resolution": "0.5 deg"}
    found = refusals(fixture__hand_tilt=scale, **hand)
    assert {r.rule for r in found} == {"tilt-out-of-reach"}
    wide = {"range": ["-80 deg", "80 deg"], "resolution": "0.5 deg"}
    assert refusals(fixture__hand_tilt=wide, **hand) == []


def test_no_tilt_at_all():
    assert {r.rule for r in refusals(axes__A=GONE)} == {"tilt-out-of-reach"}
    flat = a_job(blade__section__included_angle="9 deg", relief__min_steel_left="0 mm")
    assert refusals(flat, axes__A=GONE) == []


# --- speeds -----------------------------------------------------------------------------------


def test_speeds_of_a_wheel():
    machine = a_machine(rack__0__marked_speed="35 m/s")
    wheel = machine.rack[0]
    # By hand: pi 0.150 2850 / 60; 35 * 60 / (pi 0.150).
    assert surface_speed_m_s(wheel, machine) == pytest.approx(22.384, abs=1e-3)
    assert marked_rpm(wheel) == pytest.approx(4456.3, abs=0.1)
    assert speed_refusals(wheel, machine) == []


BELT = {"kind": "belt", "rack__0__diameter": "40 mm"}


def test_speeds_of_a_belt():
    drive = a_machine(**BELT, rack__0__belt={"thickness": "1 mm", "drive_diameter": "150 mm"})
    # By hand: pi 0.150 2850 / 60 m/s on a contact wheel of 40 mm: 2850 * 150 / 40 rpm.
    assert surface_speed_m_s(drive.rack[0], drive) == pytest.approx(22.384, abs=1e-3)
    assert shaft_speed_rpm(drive.rack[0], drive) == pytest.approx(10687.5)
    stated = a_machine(**BELT, rack__0__belt={"thickness": "1 mm", "speed": "12 m/s"})
    assert surface_speed_m_s(stated.rack[0], stated) == 12.0
    # By hand: 12 * 60 / (pi 0.040).
    assert shaft_speed_rpm(stated.rack[0], stated) == pytest.approx(5729.6, abs=0.1)
    plain = a_machine(**BELT, rack__0__belt={"thickness": "1 mm"})
    # By hand: pi 0.040 2850 / 60.
    assert surface_speed_m_s(plain.rack[0], plain) == pytest.approx(5.969, abs=1e-3)


@pytest.mark.parametrize(
    ("changes", "way"),
    [
        ({"rack__0__marked_speed": "2800 rpm"}, "spindle__speed"),
        ({"rack__0__marked_speed": "22 m/s"}, "spindle__speed"),
        (
            BELT | {"rack__0__belt": {"thickness": "1 mm", "drive_diameter": "150 mm"}},
            "spindle__speed",
        ),
        (
            BELT | {"rack__0__belt": {"thickness": "1 mm", "speed": "12 m/s"}},
            "rack__0__belt__speed",
        ),
    ],
    ids=["rpm", "surface", "driven belt", "belt of a stated speed"],
)
def test_a_wheel_over_its_mark_and_the_way_out(changes, way):
    machine = a_machine(**changes)
    (refusal,) = speed_refusals(machine.rack[0], machine)
    assert refusal.rule == "over-marked-speed"
    assert refusal_words(refusal)
    (found,) = refusal.ways_out
    (value,) = found.facts.values()
    unit = "rpm" if way == "spindle__speed" else "m/s"
    slower = a_machine(**changes, **{way: f"{value} {unit}"})
    assert speed_refusals(slower.rack[0], slower) == []
    # Property: it is not much slower than it has to be.
    faster = a_machine(**changes, **{way: f"{float(value) * 1.02} {unit}"})
    assert speed_refusals(faster.rack[0], faster)
