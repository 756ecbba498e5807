"""The programs as text: order of the parts, rules of the text, and what moves where."""

import re
from functools import cache

import pytest

from planner.gcode.program import Program, Stop
from planner.gcode.render import program_text
from planner.produce import produce, programs_for
from tests.planning import DIGEST, planned, read_text
from tests.samples import GONE, a_job, a_machine

HAND = {
    "axes__A": GONE,
    "fixture__hand_tilt": {"range": ["-95 deg", "95 deg"], "resolution": "0.5 deg"},
}
DRY = {"coolant": {"kind": "dry"}}
SMALL = HAND | DRY | {"controller__dialect": "small"}
INCH = {"controller__units": "inch", "controller__decimals": 5, "axes__Z__resolution": "0.00005 in"}
BELT = {
    "kind": "belt",
    "rack__0__diameter": "80 mm",
    "rack__0__belt": {"thickness": "1 mm", "speed": "18 m/s"},
}
INVERTED = {f"axes__{a}__invert": True for a in "XYZA"} | {
    "axes__X__travel": ["-250 mm", "150 mm"],
    "axes__Z__travel": ["-60 mm", "5 mm"],
}

HOT = {
    "coolant": {"kind": "mist", "on": "M7", "off": "M9"},
    "coolant__film": "20 W/(m2 K)",
    "axes__Z__resolution": "0.002 mm",
    "rack__0__infeed": {"rough": "0.010 mm", "finish": "0.004 mm"},
}
DIP = {"fixture__cooling": "dip", "fixture__dip_pause": "1 s", "spindle__spin_up": "0 s"}
HOT_SMALL = HOT | {"coolant": {"kind": "mist", "on": "M8", "off": "M9"}}

MACHINES = {
    "as it is": {},
    "small": SMALL,
    "small without cross": SMALL | {"axes__Y": GONE},
    "switched by hand": {"spindle__control": "by_hand"},
    "inch": INCH,
    "three decimals": {"controller__decimals": 3},
    "five decimals": {"controller__decimals": 5, "controller__rotary_decimals": 5},
    "all inverted": INVERTED,
    "turned over": {"fixture__flip": "over"},
    "by tilt": {"fixture__flip": "by_tilt"},
    "flood": {"coolant": {"kind": "flood", "on": "M8", "off": "M9"}},
    "reversed spindle": {"spindle__direction": "counterclockwise"},
    "belt": BELT,
    "soft, so that it sparks out": {"stiffness": "150 N/mm"},
    "waits to cool": HOT,
    "dips to cool": HOT | DIP,
    "small, dips to cool": SMALL | HOT_SMALL | DIP,
    "small, dips, switched by hand": SMALL | HOT_SMALL | DIP | {"spindle__control": "by_hand"},
    "dips, switched by hand": HOT | DIP | {"spindle__control": "by_hand"},
}
COOL_JOB = {
    # Tempered so low that the blade must cool between passes.
    "temper": "80 degC",
    "relief__faces": "A",
    "relief__land_tolerance": "0.5 mm",
}


def programs(changes=None, job=None):
    machine = a_machine(**(changes or {}))
    plan = planned(job or a_job(), machine)
    return {n: text.decode("ascii") for n, text in programs_for(plan, DIGEST).items()}, plan


def cool_job(changes):
    """A job that must be cooled, where the machine is one that is to cool."""
    if "coolant__film" not in changes:
        return None
    return a_job(**COOL_JOB | ({"temper": "70 degC"} if DIP.items() <= changes.items() else {}))


@cache
def programs_of(name):
    """The programs of one of the machines, and their plan."""
    return programs(MACHINES[name], cool_job(MACHINES[name]))


@pytest.fixture(params=list(MACHINES), scope="module")
def made(request):
    texts, plan = programs_of(request.param)
    return texts, plan, plan.machine.model


def letters(machine):
    """Axis letter of each role."""
    return {axis.role: letter for letter, axis in machine.axes.items()}


def blocks_of(text):
    return read_text(text.splitlines())


def unit_mm(machine):
    return 25.4 if machine.controller.units == "inch" else 1.0


def clear_of(blocks, machine):
    """Clearance that the header states, in the program's numbers and sign."""
    (line,) = [b.comment for b in blocks if b.comment.startswith("clear ")]
    value = float(line.split()[1]) / unit_mm(machine)
    return -value if machine.axes[letters(machine)["infeed"]].invert else value


def is_clear(value, clear, tolerance=6e-5):
    return value <= clear + tolerance if clear < 0 else value >= clear - tolerance


# --- the text ---------------------------------------------------------------------------------


def test_rules_of_the_text(made):
    texts, plan, machine = made
    assert sorted(texts) == sorted(
        name for s in plan.setups for name in (f"setup-{s.name}.ngc", f"setup-{s.name}-air.ngc")
    )
    linear = machine.controller.decimals
    rotary = machine.controller.rotary_decimals
    for text in texts.values():
        assert text.isascii()
        assert "\r" not in text
        assert text.endswith("\nM2\n")
        for line in text.splitlines():
            assert 0 < len(line) <= 70
            if line.startswith("("):
                # Source: docs/programs.md; what some controllers act on may not stand in it.
                assert re.fullmatch(r"\([a-z]+ [A-Za-z0-9 .,:=_+-]*\)", line)
                continue
            assert re.fullmatch(r"([A-Z]-?\d+(\.\d+)?)( [A-Z]-?\d+(\.\d+)?)*", line), line
            assert not line.startswith("N")
            for letter, value in re.findall(r"([A-Z])(-?[\d.]+)", line):
                assert not (value.startswith("-") and float(value) == 0)
                if letter in "XYZ":
                    assert len(value.partition(".")[2]) == linear
                if letter in "ABC":
                    assert len(value.partition(".")[2]) == rotary
            assert sum(c in ("G0", "G1", "G4") for c in line.split()) <= 1


@pytest.mark.parametrize("without", [{}, {"axes__Y": GONE}])
def test_a_small_controller_gets_only_what_it_knows(without):
    texts, _ = programs(SMALL | without)
    for text in texts.values():
        words = " ".join(x for x in text.splitlines() if not x.startswith("("))
        # Source: docs/controllers.md: no fourth axis, no path tolerance, no mist as built.
        assert not re.search(r"[ABCUVW]-?\d|G64|M7\b|G43|G28|G53", words)


# --- the order of the parts ---------------------------------------------------------------------


def test_order_of_the_parts(made):
    texts, _, machine = made
    by_role = letters(machine)
    by_hand = machine.spindle.control == "by_hand"
    for name, text in texts.items():
        air = name.endswith("-air.ngc")
        blocks = blocks_of(text)
        first = next(b.number for b in blocks if not b.comment)
        words = [b.comment.split()[0] for b in blocks[: first - 1]]
        assert words[:5] == ["bevelwright", "title", "plan", "setup", "kind"]
        assert set(words[5:]) >= {"wheel", "zero", "units", "clear"}
        comments = {b.comment.split()[0]: b.comment.partition(" ")[2] for b in blocks[: first - 1]}
        assert comments["plan"] == DIGEST[:16]
        assert comments["kind"] == ("air run" if air else "cutting")
        assert comments["units"] == machine.controller.units

        rest = [b for b in blocks[first - 1 :] if not b.comment]
        modal = ["G20" if unit_mm(machine) > 1 else "G21", "G17 G90 G94", "G40 G49 G80", "G54"]
        assert [b.text for b in rest[:4]] == modal
        rest = rest[4:]
        if machine.controller.dialect == "rs274ngc":
            path = rest.pop(0)
            assert path.codes == ["G64"]
            limit = machine.controller.path_tolerance_mm
            assert 0 < path.words["P"] * unit_mm(machine) <= limit * (1 + 1e-9)

        clear = rest.pop(0)
        assert clear.rapid
        assert list(clear.words) == [by_role["infeed"]]
        if "tilt" in by_role:
            tilt = rest.pop(0)
            assert tilt.rapid
            assert list(tilt.words) == [by_role["tilt"]]
        along = rest.pop(0)
        assert along.rapid
        assert set(along.words) == {by_role[r] for r in ("traverse", "cross") if r in by_role}
        last = rest.pop()
        assert last.text == "M2"
        if air:
            assert all(b.moves for b in rest)
            assert rest[-1].rapid
            assert rest[-1].after[by_role["infeed"]] == clear.after[by_role["infeed"]]
            continue
        if by_hand:
            assert rest.pop(0).text == rest.pop().text == "M0"
        else:
            start = rest.pop(0)
            code = "M3" if machine.spindle.direction == "clockwise" else "M4"
            assert start.text == f"S2850 {code}"
            wait = rest.pop(0)
            assert wait.codes == ["G4"]
            assert wait.words["P"] >= machine.spindle.spin_up_s
            assert rest.pop().text == "M5"
        if machine.coolant.on:
            assert rest.pop(0).text == machine.coolant.on
            assert rest.pop().text == machine.coolant.off
        retract = rest.pop()
        assert retract.rapid
        assert list(retract.words) == [by_role["infeed"]]
        assert retract.after[by_role["infeed"]] == clear.after[by_role["infeed"]]


def test_the_listing_in_the_docs_has_the_same_parts():
    from pathlib import Path  # noqa: PLC0415

    listing = (Path(__file__).parents[2] / "docs" / "programs.md").read_text().split("```")[1]
    shown = [re.split(r"  +", line)[0] for line in listing.strip().splitlines()]
    text = programs()[0]["setup-A.ngc"]

    def shape(line):
        return re.sub(r"-?[\d.]+|[0-9a-f]{16}", "#", re.sub(r"^(\(\w+ ).*", r"\1", line))

    parts = [shape(x) for x in text.splitlines()]
    head = [shape(x) for x in shown[: shown.index("...")]]
    tail = [shape(x) for x in shown[shown.index("...") + 1 :]]
    # The listing shows one pass and the comment of the next.
    assert parts[: len(head)] == head
    assert parts[-len(tail) :] == tail


# --- the motion -------------------------------------------------------------------------------


def test_each_pass_says_its_depth_and_runs_the_whole_edge(made):
    texts, plan, machine = made
    by_role = letters(machine)
    inverted = {r: -1.0 if machine.axes[a].invert else 1.0 for r, a in by_role.items()}
    half = 0.5 * 10.0**-machine.controller.decimals * unit_mm(machine) + 1e-9
    length = plan.job.model.blade.edge.length_mm
    clear_of_edge = plan.wheel.width_mm / 2 + machine.fixture.run_off_mm
    for setup in plan.setups:
        blocks = blocks_of(texts[setup.program])
        starts = [i for i, b in enumerate(blocks) if b.comment.startswith("pass ")]
        assert len(starts) == len(setup.passes)
        ends = [*starts[1:], len(blocks)]
        side = None
        for done, start, end in zip(setup.passes, starts, ends, strict=True):
            comment = blocks[start].comment
            assert comment == (
                f"pass {done.number} of {len(setup.passes)} {done.kind.replace('_', '-')} "
                f"depth {done.commanded_depth_mm:.4f}"
            )
            moves = [b for b in blocks[start:end] if b.moves and not b.rapid]
            along = [b for b in moves if by_role["traverse"] in b.words]
            (traverse,) = along
            assert set(traverse.words) == {by_role["traverse"], "F"}
            assert traverse.words["F"] * unit_mm(machine) == pytest.approx(
                done.feed_mm_min, rel=1e-3
            )
            at = {
                role: inverted[role] * traverse.after[letter] * unit_mm(machine)
                for role, letter in by_role.items()
                if role in ("traverse", "cross", "infeed")
            }
            x = setup.frame.x_at_zero_mm + setup.frame.x_per_traverse * at["traverse"]
            assert x == pytest.approx(-clear_of_edge if x < 0 else length + clear_of_edge, abs=half)
            # From one end to the other, never twice the same way.
            assert side != (x < 0)
            side = x < 0
            infeed, cross = setup.frame.position(done.commanded_depth_mm)
            # The test wheel wears too little for a step.
            assert at["infeed"] == pytest.approx(infeed, abs=half)
            if "cross" in at:
                assert at["cross"] == pytest.approx(cross, abs=half)
            # Infeed and cross first, off the end; then the traverse.
            assert moves[-1] is traverse
            for other in moves[:-1]:
                assert by_role["traverse"] not in other.words


def test_infeed_cross_and_tilt_change_only_off_the_ends(made):
    texts, plan, machine = made
    by_role = letters(machine)
    watched = [by_role[r] for r in ("infeed", "cross", "tilt") if r in by_role]
    length = plan.job.model.blade.edge.length_mm
    for setup in plan.setups:
        for name in (setup.program, setup.program.replace(".ngc", "-air.ngc")):
            blocks = blocks_of(texts[name])
            clear = clear_of(blocks, machine)
            for block in blocks:
                changed = [a for a in watched if block.before.get(a) != block.after.get(a)]
                traverse = block.after.get(by_role["traverse"])
                if not changed or traverse is None:
                    continue
                sign = -1.0 if machine.axes[by_role["traverse"]].invert else 1.0
                along = sign * traverse * unit_mm(machine)
                x = setup.frame.x_at_zero_mm + setup.frame.x_per_traverse * along
                # Property: the whole wheel is past an end, run-off and all but half a decimal.
                free = machine.fixture.run_off_mm + plan.wheel.width_mm / 2 - 2e-3
                assert x <= -free or x >= length + free
                assert block.before.get(by_role["traverse"], traverse) == traverse or is_clear(
                    block.before[by_role["infeed"]], clear
                )


def test_below_clearance_everything_along_the_edge_is_a_feed_move(made):
    texts, _, machine = made
    by_role = letters(machine)
    for text in texts.values():
        blocks = blocks_of(text)
        clear = clear_of(blocks, machine)
        for block in blocks:
            if not block.rapid or by_role["traverse"] not in block.words:
                continue
            assert is_clear(block.before[by_role["infeed"]], clear)
            assert is_clear(block.after[by_role["infeed"]], clear)


def test_every_stop_and_wait_is_retracted_and_off_the_end(made):
    texts, plan, machine = made
    by_role = letters(machine)
    length = plan.job.model.blade.edge.length_mm
    for setup in plan.setups:
        blocks = blocks_of(texts[setup.program])
        clear = clear_of(blocks, machine)
        stops = [b for b in blocks if {"M0", "G4", "M3", "M4", "M5"} & set(b.codes)]
        assert len(stops) >= 2
        for block in stops:
            # A wait to cool is taken where the wheel reverses, off the end and out of contact.
            cooling = block.codes == ["G4"] and blocks[block.number - 2].comment.startswith("cool ")
            assert cooling or is_clear(block.after[by_role["infeed"]], clear)
            sign = -1.0 if machine.axes[by_role["traverse"]].invert else 1.0
            along = sign * block.after[by_role["traverse"]] * unit_mm(machine)
            x = setup.frame.x_at_zero_mm + setup.frame.x_per_traverse * along
            assert not -plan.wheel.width_mm / 2 <= x <= length + plan.wheel.width_mm / 2
            if block.codes == ["M0"]:
                message = blocks[block.number - 2].comment
                assert message.startswith("message ")
                # Whole: nothing of what the person is to do is cut off.
                assert message.endswith("resume")
                assert_everything_off(blocks[: block.number], machine)


def assert_everything_off(blocks, machine):
    """At a stop hands go near: wheel and coolant are off, or the message says wheel off."""
    codes = [c for b in blocks for c in b.codes]
    switches = [c for c in codes if c in ("M3", "M4", "M5")]
    assert switches[-1:] in ([], ["M5"])
    coolant = [c for c in codes if c in ("M7", "M8", "M9")]
    assert coolant[-1:] in ([], ["M9"])
    if machine.spindle.control == "by_hand":
        assert re.search(r"wheel off|start the wheel|switch the wheel off", blocks[-2].comment)


def test_the_air_run_is_the_same_motion_lifted_clear(made):
    texts, plan, machine = made
    by_role = letters(machine)
    sign = -1.0 if machine.axes[by_role["infeed"]].invert else 1.0
    for setup in plan.setups:
        cutting = [b for b in blocks_of(texts[setup.program]) if b.moves]
        text = texts[setup.program.replace(".ngc", "-air.ngc")]
        air = [b for b in blocks_of(text) if b.moves]
        # Neither wheel nor coolant nor a wait: the modes, the moves and the end.
        codes = {c for b in blocks_of(text) for c in b.codes}
        modes = {"G17", "G20", "G21", "G40", "G49", "G54", "G64", "G80", "G90", "G94"}
        assert codes <= modes | {"G0", "G1", "M2"}
        assert not any("S" in b.words for b in blocks_of(text))
        assert len(cutting) == len(air) > 4
        lifts = set()
        for one, other in zip(cutting, air, strict=True):
            assert one.rapid == other.rapid
            assert one.words.get("F") == other.words.get("F")
            for letter in one.after:
                if letter == by_role["infeed"]:
                    lift = sign * (other.after[letter] - one.after[letter]) * unit_mm(machine)
                    lifts.add(round(lift, 3))
                else:
                    assert other.after[letter] == one.after[letter]
        # One lift for all of it, but for the rounding of each value.
        assert max(lifts) - min(lifts) <= 0.003
        lowest = min(sign * b.after[by_role["infeed"]] for b in air) * unit_mm(machine)
        assert lowest >= machine.fixture.clearance_mm - 1e-3


@pytest.mark.parametrize("name", [n for n in MACHINES if "cool" in n or "dips" in n])
def test_the_machines_that_are_to_cool_do_cool(name):
    texts, _ = programs_of(name)
    # Property: else nothing above has looked at such a stop.
    assert ("dip blade" if "dips" in name else "(cool air") in texts["setup-A.ngc"]


def test_a_message_that_would_lose_its_end_is_no_program():
    machine = a_machine()
    program = Program("setup-A.ngc", "A", (Stop("wheel off, " + "wait, " * 9 + "resume"),))
    with pytest.raises(ValueError, match="lose its end"):
        program_text(program, machine)


# --- what one setting changes, and nothing else ---------------------------------------------------


def moves_of(text):
    return [(b.rapid, b.words) for b in blocks_of(text) if b.moves]


def test_inverted_axes_negate_their_words_and_nothing_else():
    plain, _ = programs()
    inverted, _ = programs(INVERTED)
    for name, text in plain.items():
        expected = [
            (rapid, {k: v if k == "F" else -v for k, v in words.items()})
            for rapid, words in moves_of(text)
        ]
        assert moves_of(inverted[name]) == expected


def test_an_inch_controller_moves_as_a_metric_one():
    # A step of 0.00127 mm, 0.00005 in, is exact in both.
    metric, _ = programs({"controller__decimals": 5, "axes__Z__resolution": "0.00127 mm"})
    inch, _ = programs(INCH)
    for name, text in metric.items():
        ours, theirs = moves_of(text), moves_of(inch[name])
        assert len(ours) == len(theirs)
        for (rapid, words), (rapid_inch, words_inch) in zip(ours, theirs, strict=True):
            assert (rapid, list(words)) == (rapid_inch, list(words_inch))
            for letter, value in words.items():
                scale = 1.0 if letter == "A" else 25.4
                # By hand: half a last decimal of either, 0.5e-5 in = 0.00013 mm; feeds 0.001 in.
                slack = 0.03 if letter == "F" else 1.4e-4
                if letter == "F":
                    slack = max(slack, 0.1)
                assert words_inch[letter] * scale == pytest.approx(value, abs=slack)


def test_both_dialects_move_the_same_way():
    full, _ = programs(HAND | DRY)
    small, _ = programs(SMALL)
    assert list(full) == list(small)
    for name, text in full.items():
        assert moves_of(text) == moves_of(small[name])


def test_an_unequal_tilt_is_made_good_by_the_cross_axis():
    coarse = {"range": ["-95 deg", "95 deg"], "resolution": "5 deg"}
    texts, plan = programs(HAND | DRY | {"fixture__hand_tilt": coarse})
    for setup in plan.setups:
        lowest = {
            letter: min(
                (
                    b.after[letter]
                    for b in blocks_of(texts[setup.program])
                    if b.moves and letter in b.after
                ),
                key=lambda v: -abs(v) if letter == "Y" else v,
            )
            for letter in "YZ"
        }
        deepest = setup.passes[-1].commanded_depth_mm
        # By hand: 2.5 deg off: the depth's cosine in infeed, its sine across, 0.0436 of it.
        assert lowest["Z"] == pytest.approx(-deepest * 0.99905, abs=6e-5)
        assert abs(lowest["Y"]) == pytest.approx(deepest * 0.04362, abs=6e-5)


def test_a_slow_cross_axis_slows_the_infeed_moves_that_it_takes_part_in():
    machine = a_machine(
        axes__A=GONE,
        fixture__hand_tilt={"range": ["-30 deg", "30 deg"], "resolution": "1 deg"},
        axes__Y__max_feed="60 mm/min",
    )
    verdicts = produce(planned(a_job(), machine), ()).verdicts
    assert all(v.ok for v in verdicts.values())
    text = programs_for(planned(a_job(), machine), DIGEST)["setup-A.ngc"].decode()
    # Property: no infeed move asks more than the slower of the two axes can.
    downs = [line for line in text.split("\n") if line.startswith("G1") and "X" not in line]
    assert downs
    assert set(re.findall(r"F(\S+)", " ".join(downs))) == {"60.0"}
