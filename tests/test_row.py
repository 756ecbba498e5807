"""A row of blades from the outside: planned, written, proved, one left out, gone on from."""

import json
import math
from functools import cache

import pytest

from planner.errors import RefusedError
from planner.inputs.load import load_pair
from planner.inputs.steels import steel_of
from planner.kinematics.row import filled_stations, row_of
from planner.plan import plan_job
from planner.produce import produce, produce_from_pass, programs_for
from planner.proof.prove import prove_program
from planner.report.plan_json import plan_data
from planner.report.refusals import refusal_words, way_out_words
from planner.restart import restart_at
from tests.canonical import HALF_DECIMAL, canonical_calls, needs_rs274
from tests.commands import EASY, JOB, ROOT, run
from tests.planning import DIGEST, planned, read_text, sheet_text
from tests.samples import MACHINE as MACHINE_DATA
from tests.samples import a_job, a_machine

MACHINE = ROOT / "machines" / "row-xz.yaml"
MOMENT = [
    *EASY,
    "--set", "machine.rack[0].infeed.finish=0.005 mm", "--set", "relief.share_in_tolerance=0",
]  # fmt: skip
"""Changes to the example machine with which its plan is found in a moment."""
SKIPS = {(): "1-2-3", (2,): "1-3", (1,): "2-3", (3,): "1-2", (1, 3): "2"}


@cache
def example(skip=(), *, quick=True):
    """The example job on the example machine; quick with changes that plan it in a moment."""
    job, machine = load_pair(JOB, MACHINE, MOMENT[1::2] if quick else [])
    return plan_job(job, machine, steel_of(job.model.steel), 1, skip)


def easy(quantity=12, positions=("0 mm", "115 mm", "230 mm"), skip=(), blade=1, **machine):
    """Few steps, quickly planned; travels of a metre."""
    job = a_job(
        quantity=quantity, relief__land_tolerance="0.9 mm", relief__share_in_tolerance=0,
    )  # fmt: skip
    shop = a_machine(
        axes__Z__resolution="0.005 mm",
        axes__X__travel=["-500 mm", "1000 mm"],
        stiffness="20000 N/mm",
        rack__0__specific_energy="5 J/mm3",
        rack__0__infeed={"rough": "0.02 mm", "finish": "0.005 mm"},
        fixture__row={"positions": list(positions)},
        **machine,
    )
    return planned(job, shop, blade, skip)


# --- the motion -----------------------------------------------------------------------------------


@pytest.mark.parametrize("skip", SKIPS, ids=SKIPS.values())
def test_the_example_machine_writes_programs_that_prove(skip):
    produced = produce(example(skip, quick=skip != ()), ())
    stem = f"stations-{SKIPS[skip]}"
    names = {f"setup-{f}-{stem}{air}.ngc" for f in "AB" for air in ("", "-air")}
    assert {n for n in produced.files if n.endswith(".ngc")} == names
    filled = tuple(n for n in (1, 2, 3) if n not in skip)
    for name in names:
        assert produced.verdicts[name].ok
        assert produced.verdicts[name].stations == filled
    assert f"setup-A-{stem}.md" in produced.files


@pytest.mark.parametrize(
    ("skip", "legs"),
    [
        # By hand: 80 mm edges at 0, 110, 220; half the wheel 6.5 and run-off 10 beyond each leg.
        ((), [(-16.5, 316.5)]),
        ((2,), [(-16.5, 96.5), (203.5, 316.5)]),
        ((1,), [(93.5, 316.5)]),
        ((3,), [(-16.5, 206.5)]),
    ],
)
def test_a_pass_runs_over_the_row_and_the_next_comes_back(skip, legs):
    plan = example(skip)
    for setup in plan.setups:
        text = programs_for(plan, DIGEST)[setup.program].decode("ascii")
        blocks = read_text(text.splitlines())
        runs = [(b.before["X"], b.after["X"], b.after["Z"]) for b in blocks if "X" in b.words
                and b.moves and not b.rapid]  # fmt: skip
        back = [(high, low) for low, high in reversed(legs)]
        wanted = [leg for n in range(len(setup.passes)) for leg in (back if n % 2 else legs)]
        assert [run[:2] for run in runs] == wanted
        # Property: one infeed for all the legs of a pass.
        depths = [run[2] for run in runs]
        assert [len(set(depths[i : i + len(legs)])) for i in range(0, len(depths), len(legs))] == [
            1
        ] * len(setup.passes)
        # Property: all that lies between two legs is crossed at clearance.
        for block in blocks:
            if block.rapid and block.moves and "X" in block.words:
                assert block.after["Z"] == 5.0


@needs_rs274
@pytest.mark.parametrize("skip", [(), (2,)])
def test_another_interpreter_moves_to_the_same_places(skip):
    plan = example(skip)
    for setup in plan.setups:
        data = programs_for(plan, DIGEST)[setup.program]
        calls = [c for c in canonical_calls(data.decode("ascii")) if c[0].startswith("STRAIGHT")]
        verdict = prove_program(data, plan.job.model, plan.machine.model)
        theirs = [tuple(numbers[i] for i in (0, 2)) for _, numbers in calls]
        ours = [(p.traverse_mm, p.infeed_mm) for p in verdict.positions]
        # Source: the interpreter's canonical output; the first move is of the infeed alone.
        assert len(theirs) == len(ours) + 1
        for their, our in zip(theirs[1:], ours, strict=True):
            assert their == pytest.approx(our, abs=HALF_DECIMAL)


def test_frames_of_the_stations_by_hand():
    first, second = (s["row"] for s in plan_data(example((2,)), ())["setups"])
    # By hand: x = traverse - position; turned end for end in its place 80 + position - traverse.
    assert [(r["n"], r["position_mm"], r["x_at_zero_mm"]) for r in first] == [
        (1, 0.0, 0.0), (3, 220.0, -220.0),
    ]  # fmt: skip
    assert [(r["n"], r["x_at_zero_mm"]) for r in second] == [(1, 80.0), (3, 300.0)]
    data = plan_data(example((2,)), ())["setups"][0]
    assert data["empty_stations"] == [2]
    single = plan_data(planned(a_job(), a_machine()), ())
    # Property: nothing is added for a fixture that holds one blade.
    assert "row" not in single["setups"][0]
    assert "clampings" not in single["totals"]


# --- what is refused ------------------------------------------------------------------------------


@pytest.mark.parametrize(("second", "fits"), [("110.0 mm", True), ("109.9 mm", False)])
def test_neighbours_stand_wheel_and_run_off_apart(second, fits):
    # By hand: edge 80, wheel 20, run-off 10.
    if fits:
        assert easy(positions=("0 mm", second)).totals.blades == 2
        return
    with pytest.raises(RefusedError) as refused:
        easy(positions=("0 mm", second))
    (refusal,) = refused.value.refusals
    assert refusal.rule == "row-too-close"
    assert "29.90 mm between two blades" in refusal_words(refusal)
    ways = " | ".join(way_out_words(w) for w in refusal.ways_out)
    assert "at least 110.00 mm apart" in ways
    assert "run-off of at most 9.90 mm" in ways
    assert "touches at most 19.90 mm along" in ways


def test_an_empty_station_keeps_its_neighbours_away_too():
    with pytest.raises(RefusedError) as refused:
        easy(positions=("0 mm", "90 mm", "230 mm"), skip=(2,))
    assert {r.rule for r in refused.value.refusals} == {"row-too-close"}


def test_the_travel_is_that_of_the_row():
    # By hand: -20 to 230 + 80 + 20 = 330.
    reach = {"axes__X__travel": ["-20 mm", "330 mm"], "axes__X__zero_at": "0 mm"}
    job = a_job(quantity=3, relief__share_in_tolerance=0, relief__land_tolerance="0.9 mm")
    shop = a_machine(fixture__row={"positions": ["0 mm", "115 mm", "230 mm"]}, **reach)
    assert planned(job, shop).totals.blades == 3
    short = a_machine(
        fixture__row={"positions": ["0 mm", "115 mm", "230 mm"]},
        axes__X__travel=["-20 mm", "329.9 mm"],
        axes__X__zero_at="0 mm",
    )
    with pytest.raises(RefusedError) as refused:
        planned(job, short)
    assert {r.rule for r in refused.value.refusals} == {"travel-too-short"}
    # Property: left out at an end, a station needs no travel.
    assert planned(job, short, skip=(3,)).totals.blades == 2


@pytest.mark.parametrize(
    ("left", "skip", "filled"),
    [
        (12, (), (1, 2, 3)), (12, (2,), (1, 3)), (2, (), (1, 2)), (1, (1,), (2,)),
        (1, (), (1,)), (2, (1,), (2, 3)),
    ],
)  # fmt: skip
def test_stations_are_filled_while_there_are_blades(left, skip, filled):
    shop = a_machine(fixture__row={"positions": ["0 mm", "115 mm", "230 mm"]})
    assert filled_stations(shop, left, skip) == filled


@pytest.mark.parametrize("skip", [(4,), (0,), (1, 2, 3)])
def test_stations_that_do_not_exist_or_all_of_them_cannot_be_skipped(skip):
    shop = a_machine(fixture__row={"positions": ["0 mm", "115 mm", "230 mm"]})
    with pytest.raises(ValueError, match="skip"):
        filled_stations(shop, 12, skip)


def test_the_way_of_a_pass_by_hand():
    shop = a_machine(fixture__row={"positions": ["0 mm", "115 mm", "230 mm", "345 mm"]})
    row = row_of(shop, shop.rack[0], 80.0, 0.03, (1, 3, 4))
    # By hand: two legs, 0 to 80 and 230 to 425, each 20 longer at either end.
    assert row.legs_mm == ((-20.0, 100.0), (210.0, 445.0))
    assert row.hops_mm == (110.0,)
    # 80 + 20 + 20 + 195 with the wheel down; the heel of station 4 is 80 + 40 + 115 along.
    assert row.run_mm == 315.0
    assert [row.run_to_mm(i) for i in range(3)] == [(0.0, 0), (120.0, 1), (235.0, 1)]


# --- wear, spread and totals ----------------------------------------------------------------------


def test_totals_of_a_clamping_and_of_a_blade():
    row, single = easy(), easy(skip=(2, 3))
    assert (row.totals.blades, row.totals.clampings, row.totals.in_last) == (3, 4, 3)
    assert (single.totals.blades, single.totals.clampings) == (1, 12)
    # Property: each blade loses what a blade by itself loses, given the same passes.
    assert row.totals.passes == single.totals.passes
    assert row.totals.removed_mass_g == pytest.approx(3 * single.totals.removed_mass_g)
    assert row.totals.mass_per_blade_g == pytest.approx(single.totals.removed_mass_g)
    # By hand: a pass is 230 mm longer.
    for one, other in zip(row.setups[0].passes, single.setups[0].passes, strict=True):
        assert one.time_s - other.time_s == pytest.approx(230 / one.feed_mm_min * 60)
    assert row.totals.time_per_blade_s == pytest.approx(row.totals.time_s / 3)


def test_the_last_clamping_of_ten_holds_one():
    plan = easy(quantity=10)
    assert (plan.totals.clampings, plan.totals.in_last) == (4, 1)
    once = easy(quantity=10, fixture__touch_off_each="batch")
    last = easy(quantity=10, blade=10, fixture__touch_off_each="batch")
    assert [p.setups[0].row.stations for p in (plan, once, last)] == [(1, 2, 3), (1, 2, 3), (1,)]
    assert (last.totals.clampings, last.totals.in_last) == (4, 1)


def test_the_wheel_wears_by_all_the_blades_of_a_pass():
    soft = {"rack__0__g_ratio": 0.05, "axes__Z__resolution": "0.001 mm", "limits__normal_force":
            "300 N"}  # fmt: skip
    plan = planned(
        a_job(quantity=12, relief__land_tolerance="0.9 mm", relief__share_in_tolerance=0),
        a_machine(
            axes__X__travel=["-500 mm", "1000 mm"],
            fixture__row={"positions": ["0 mm", "115 mm", "230 mm"]},
            **soft,
        ),
    )
    worn = plan.setups[0].worn
    # By hand: G 0.05 and a ring of pi 150 x 20 mm2: area x 3 edges of 80 mm / 0.05 / 9424.8 mm2.
    for number in range(1, len(worn.worn_mm)):
        removed = sum(worn.areas_mm2[:number]) * 3 * 80
        assert worn.worn_mm[number] == pytest.approx(
            removed / 0.05 / (math.pi * 150 * 20), rel=1e-3
        )
    assert max(worn.made_up_mm) > 0
    # Property: the proof counts the same; every blade comes out within its tolerance.
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


def test_the_wear_before_a_clamping_is_that_of_the_blades_before_it():
    batch = {"fixture__touch_off_each": "batch", "rack__0__g_ratio": 2}
    first, third = easy(blade=1, **batch), easy(blade=7, **batch)
    one = sum(p.removed_area_mm2 for p in third.setups[0].passes) * 80
    # By hand: six blades before, G 2, a ring of pi 150 x 20 mm2.
    worn = 6 * one / 2 / (math.pi * 150 * 20)
    assert first.setups[0].worn_before_mm == 0.0
    assert third.setups[0].worn_before_mm == pytest.approx(worn, rel=1e-3)
    assert all(v.ok for v in produce(third, ()).verdicts.values())


def test_one_touch_off_for_the_row_lets_thickness_angle_and_seats_into_the_depth():
    row, alone = easy(), easy(skip=(2, 3))
    batch = planned(
        a_job(quantity=12, relief__land_tolerance="0.9 mm", relief__share_in_tolerance=0),
        a_machine(fixture__touch_off_each="batch"),
    )

    def causes(plan):
        return {c.name: c for c in plan.spreads[0].causes}

    for name in ("stock thickness", "bevel angle", "tilt"):
        # Property: as with a batch that is touched off once, though each clamping is.
        ours, theirs = causes(row)[name], causes(batch)[name]
        assert ours.edge_land_per_unit == pytest.approx(theirs.edge_land_per_unit)
        assert ours.shoulder_land_per_unit == pytest.approx(theirs.shoulder_land_per_unit)
    seats = causes(row)["seats of the row"]
    assert (seats.sd, seats.edge_land_per_unit) == (0.005, -row.spreads[0].land_change_per_depth)
    assert "seats of the row" not in causes(alone)
    assert row.share_in_tolerance < alone.share_in_tolerance


def test_a_row_that_cannot_hold_its_lands_may_be_ground_blade_by_blade():
    shop = a_machine(
        axes__X__travel=["-500 mm", "1000 mm"],
        fixture__row={"positions": ["0 mm", "115 mm", "230 mm"]},
    )
    with pytest.raises(RefusedError) as refused:
        planned(a_job(quantity=12), shop)
    ways = [w.rule for r in refused.value.refusals for w in r.ways_out]
    assert "one-blade-a-clamping" in ways
    assert planned(a_job(quantity=12), shop, skip=(1, 3)).share_in_tolerance > 0.5


FORM = {
    "contact": "across_edge", "form_radius": "60 mm", "diameter": "180 mm", "width": "13 mm",
}  # fmt: skip


def test_a_form_across_the_edge_needs_less_room_between_blades():
    wheel = {
        **MACHINE_DATA["rack"][0],
        **FORM,
        "infeed": {"rough": "0.02 mm", "finish": "0.005 mm"},
    }
    job = a_job(quantity=12, relief__land_tolerance="0.9 mm", relief__share_in_tolerance=0)
    shop = a_machine(
        axes__X__travel=["-500 mm", "1000 mm"],
        axes__Z__resolution="0.005 mm",
        fixture__row={"positions": ["0 mm", "98 mm", "196 mm"]},
        rack=[wheel],
    )
    plan = planned(job, shop, skip=(2,))
    row, depth = plan.setups[0].row, plan.setups[0].work.depth_mm
    # By hand: of a wheel of 180 mm, depth d deep, sqrt(d (180 - d)) touches to either side.
    assert row.reach_mm == pytest.approx(math.sqrt(depth * (180 - depth)))
    assert 80 + 2 * row.reach_mm + 10 < 98
    verdicts = produce(plan, ()).verdicts
    assert all(v.ok and v.stations == (1, 3) for v in verdicts.values())


# --- going on, papers, commands -------------------------------------------------------------------


@pytest.mark.parametrize("new_wheel", [False, True])
def test_a_row_goes_on_from_a_later_pass(new_wheel):
    plan = example((2,))
    for setup in plan.setups:
        restart = restart_at(plan, setup, 4, new_wheel=new_wheel)
        produced = produce_from_pass(plan, (), restart)
        name = f"setup-{setup.name}-stations-1-3-from-4.ngc"
        assert name in produced.files
        assert all(v.ok for v in produced.verdicts.values())
        sheet = produced.files[name.replace(".ngc", ".md")].decode()
        assert ("of the blade in station 1" in sheet) == new_wheel


@pytest.mark.parametrize("skip", [(), (2,)])
def test_the_sheet_tells_where_the_blades_stand_and_which_is_touched_off(skip):
    plan = example(skip)
    first, second = (sheet_text(plan, s) for s in plan.setups)
    # By hand: heel at the position, tip 80 further; on face B, end for end, exchanged.
    assert "| 3 | yes | `X220.0000` | `X300.0000` |" in first
    assert "| 3 | yes | `X300.0000` | `X220.0000` |" in second
    touched = 1 if skip else 2
    assert f"Touch off on face A of the blade in station {touched}" in first
    at = "0.0000" if skip else "110.0000"
    assert f"traverse `X{at}` with the wheel's middle over the heel of that blade" in first
    assert "over the tip of that blade" in second
    assert "Set the blades in line" in first
    assert "ground twice in a row" in first
    crossed = "Station 2 must be empty, nothing left in its clamp: the wheel crosses it 5.000 mm"
    assert (crossed in first) == bool(skip)
    assert "| 2 | none | | |" in first if skip else "| 2 | yes |" in first
    assert "| 1 edge | 1.20 |" in first
    assert "Clamp every blade" in first


def test_dips_are_one_after_another_and_take_their_time():
    wet = {
        "fixture__cooling": "dip", "fixture__dip_pause": "0.5 s", "spindle__spin_up": "0 s",
        "axes__Z__resolution": "0.002 mm",
        "fixture__row": {"positions": ["0 mm", "130 mm", "260 mm"]},
        "axes__X__travel": ["-500 mm", "1000 mm"],
    }  # fmt: skip
    job = a_job(temper="65 degC", relief__faces="A", relief__land_tolerance="0.6 mm", quantity=12,
                relief__share_in_tolerance=0)  # fmt: skip
    plan = planned(job, a_machine(**wet))
    setup = plan.setups[0]
    dips = [p for p in setup.marched.pauses if p]
    assert dips
    text = programs_for(plan, DIGEST)[setup.program].decode()
    assert text.count("dip blades in water") == len(dips)
    sheet = sheet_text(plan, setup)
    assert "dip the blades one after another, the one next to the wheel first" in sheet
    # By hand: passes, and for each dip three of 0.5 s, a retract and a return.
    one = setup.schedule.commanded_depth_mm
    way = 5 + one
    there = way / (800 / 60) + (800 / 60) / 150 + way / (200 / 60) + (200 / 60) / 150
    passes = sum(p.time_s for p in setup.passes)
    assert setup.heated.time_s == pytest.approx(passes + len(dips) * (1.5 + there), abs=0.1)


def test_the_commands(tmp_path):
    folder = tmp_path / "out"
    asked = ("write", JOB, "--machine", MACHINE, *MOMENT, "--skip", "1,2", "--out", folder)
    done = run(*asked)
    assert (done.code, done.err) == (0, "")
    assert "Row: station 3 of 3 filled, 1 and 2 stay empty." in done.out
    (air, cutting) = sorted(p.name for p in folder.glob("setup-A*.ngc"))
    assert (air, cutting) == ("setup-A-stations-3-air.ngc", "setup-A-stations-3.ngc")
    program = folder / cutting
    proved = run("prove", program, "--job", JOB, "--machine", MACHINE, *MOMENT)
    assert proved.code == 0
    assert "Stations of the row: 3." in proved.out
    bare = tmp_path / "bare.ngc"
    lines = program.read_text().splitlines(keepends=True)
    bare.write_text("".join(line for line in lines if not line.startswith("(station")))
    options = ("--job", JOB, "--machine", MACHINE, *MOMENT)
    assert run("prove", bare, *options).code == 1
    assert run("prove", bare, *options, "--stations", "3").code == 0
    told = run("prove", bare, *options, "--stations", "1,2", "--json")
    assert told.code == 1
    assert json.loads(told.out)["stations"] == [1, 2]


@pytest.mark.parametrize("skip", ["4", "0", "x", "1,2,3", "", "-1", "1,,2"])
@pytest.mark.parametrize("command", ["plan", "write"])
def test_a_station_that_cannot_be_skipped_is_bad_usage(tmp_path, command, skip):
    where = ("--out", tmp_path / "out") if command == "write" else ()
    done = run(command, JOB, "--machine", MACHINE, f"--skip={skip}", *where)
    assert (done.code, done.out) == (2, "")
    assert "--skip" in done.err
    assert list(tmp_path.iterdir()) == []


def test_a_fixture_without_a_row_has_no_station_to_skip():
    done = run("plan", JOB, "--skip", "1")
    assert done.code == 2
    assert "one blade, not a row" in " ".join(done.err.split())


def test_the_plan_on_the_screen():
    done = run("plan", JOB, "--machine", MACHINE, *MOMENT, "--set", "quantity=10")
    said = " ".join(done.out.split())
    assert "stations 1, 2 and 3 of 3 filled. 10 blades: 4 clampings, the last of 1" in said
    assert "`--skip 2 --skip 3`" in said
    assert "One of them is touched off (station 2)" in said
    assert "Totals, one clamping of 3 blades" in said
    assert "at most" in said
    batch = ("--set", "quantity=10", "--set", "machine.fixture.touch_off_each=batch")
    once = run("plan", JOB, "--machine", MACHINE, *MOMENT, *batch)
    assert "`--blade 10`" in " ".join(once.out.split())


def test_a_row_of_one_is_a_blade_with_its_station_told():
    plan = easy(positions=("0 mm",))
    setup = plan.setups[0]
    assert setup.program == "setup-A-stations-1.ngc"
    text = programs_for(plan, DIGEST)[setup.program].decode()
    assert "(station 1 of 1 heel at 0.0000 mm)\n" in text
    assert all(v.ok for v in produce(plan, ()).verdicts.values())
