"""`write --from-pass` and `prove --after` from the outside."""

import json
import math
import re
from pathlib import Path

import pytest

from planner.errors import RefusedError
from planner.inputs.load import LoadedFile
from planner.inputs.steels import steel_of
from planner.plan import plan_job
from planner.produce import produce, produce_from_pass
from planner.report.refusals import refusal_words, way_out_words
from planner.restart import restart_at
from tests.commands import EASY, QUICK, SHEET_ENDS, run
from tests.planning import planned
from tests.samples import a_job, a_machine


@pytest.fixture(scope="module")
def full(tmp_path_factory):
    folder = tmp_path_factory.mktemp("restart") / "full"
    assert run("write", QUICK, *EASY, "--out", folder).code == 0
    return folder


@pytest.fixture(scope="module")
def name(full):
    (setup,) = json.loads((full / "plan.json").read_text())["setups"]
    assert len(setup["passes"]) >= 3
    return setup["name"]


@pytest.fixture(scope="module", params=[(), ("--new-wheel",)], ids=["zero-stands", "new-wheel"])
def goes_on(request, full, name):
    folder = full.parent / f"goes-on{len(request.param)}"
    asked = ("--from-pass", 3, "--setup", name, *request.param)
    done = run("write", QUICK, *EASY, "--out", folder, *asked)
    assert (done.code, done.err) == (0, "")
    return folder, bool(request.param), done.out


def body(path, number):
    """The lines of a program from a pass to the end."""
    lines = path.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(f"(pass {number} of"))
    return lines[at:]


def test_the_files(goes_on, name):
    stem = f"setup-{name}-from-3"
    names = {
        f"{stem}.ngc",
        f"{stem}-air.ngc",
        "plan.json",
        "section.svg",
        "cut.svg",
        "preview.html",
    }
    names |= {f"{stem}{end}" for end in SHEET_ENDS}
    assert {p.name for p in goes_on[0].iterdir()} == names


def test_the_rest_is_that_of_the_whole_program(goes_on, full, name):
    file = goes_on[0] / f"setup-{name}-from-3.ngc"
    whole, part = body(full / f"setup-{name}.ngc", 3), body(file, 3)
    # Property: block for block; the first infeed comes from clearance.
    assert part == whole
    opening = file.read_text().splitlines()
    first_block = opening.index(next(line for line in opening if line in ("G20", "G21")))
    whole_lines = (full / f"setup-{name}.ngc").read_text().splitlines()
    first_whole = whole_lines.index(opening[first_block])
    until = next(i for i, line in enumerate(whole_lines) if line.startswith("(pass 1 of"))
    # By hand: pass 3 starts off the same end as pass 1.
    assert opening[first_block : -len(part)] == whole_lines[first_whole:until]


def test_an_even_pass_starts_off_the_other_end(full, name, tmp_path):
    asked = ("--from-pass", 2, "--setup", name)
    assert run("write", QUICK, *EASY, "--out", tmp_path / "out", *asked).code == 0
    part = (tmp_path / "out" / f"setup-{name}-from-2.ngc").read_text()
    whole = (full / f"setup-{name}.ngc").read_text()
    start = re.findall(r"G0 X(\S+)", part)
    ends = re.findall(r"G1 X(\S+)", whole)
    # Property: pass 2 starts where pass 1 ended.
    assert start == ends[:1]


def test_header_sheet_and_screen_say_whether_the_zero_stands(goes_on, name):
    folder, new, screen = goes_on
    header = (folder / f"setup-{name}-from-3.ngc").read_text()
    sheet = (folder / f"setup-{name}-from-3.md").read_text()
    data = json.loads((folder / "plan.json").read_text())["restart"]
    assert ("new wheel)" in header, "zero stands)" in header) == (new, not new)
    assert ("(touch " in header) == new
    assert ("Touch off inside the relief" in sheet, "Do not touch off" in sheet) == (new, not new)
    assert ("Touch off anew" in " ".join(screen.split())) == new
    assert (data["from_pass"], data["setup"], data["new_wheel"]) == (3, name, new)
    assert f"{data['bared_depth_mm']:.4f}" in (sheet if new else sheet.replace("Z-", ""))
    if new:
        assert f"at depth {data['bared_depth_mm']:.4f})" in header


def test_the_plan_is_that_of_the_whole_program(goes_on, full, name):
    plan = r"\(plan \w+\)"
    part = (goes_on[0] / f"setup-{name}-from-3.ngc").read_text()
    whole = (full / f"setup-{name}.ngc").read_text()
    assert re.findall(plan, part) == re.findall(plan, whole) != []


def prove(full, goes_on, name, *more):
    program = goes_on[0] / f"setup-{name}-from-3.ngc"
    return run("prove", program, "--job", QUICK, *EASY, *more)


def test_the_pair_proves_from_the_command_line(full, goes_on, name):
    first = full / f"setup-{name}.ngc"
    done = prove(full, goes_on, name, "--after", first, "--passes", 2)
    assert (done.code, done.err) == (0, "")
    assert "behind the first 2" in " ".join(done.out.split())


def test_alone_or_behind_another_number_of_passes_it_does_not(full, goes_on, name):
    first = full / f"setup-{name}.ngc"
    assert prove(full, goes_on, name).code == 1
    done = prove(full, goes_on, name, "--after", first, "--passes", 1)
    assert done.code == 1
    assert "claim-contradicted" in done.out


def test_a_fault_of_the_first_program_is_told_with_its_name(full, goes_on, name, tmp_path):
    first = tmp_path / "first.ngc"
    first.write_text((full / f"setup-{name}.ngc").read_text().replace("G54\n", "g54\n"))
    more = ("--after", first, "--passes", 2)
    done = prove(full, goes_on, name, *more)
    assert done.code == 1
    assert "first.ngc:" in done.out
    data = json.loads(prove(full, goes_on, name, *more, "--json").out)
    assert "lower-case" in [f["rule"] for f in data["faults_before"]]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("--from-pass", 1), "can go on from 2 to"),
        (("--from-pass", 99), "can go on from 2 to"),
        (("--from-pass", -3), "can go on from 2 to"),
        (("--from-pass", "two"), "not a valid integer"),
        (("--from-pass", 3, "--setup", "C"), "the job has set-up"),
        (("--new-wheel",), "go with --from-pass"),
        (("--setup", "A"), "go with --from-pass"),
    ],
)
def test_bad_values_are_usage_errors_that_say_what_is_allowed(asked, told, tmp_path):
    done = run("write", QUICK, *EASY, "--out", tmp_path / "out", *asked, columns=200)
    assert done.code == 2
    assert told in done.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("more", [("--after", "x.ngc"), ("--passes", 2)])
def test_after_and_passes_go_together(full, name, more):
    done = run("prove", full / f"setup-{name}.ngc", "--job", QUICK, *EASY, *more)
    assert done.code == 2
    assert "--after and --passes go together" in done.err


def test_a_set_up_must_be_named_where_there_are_two(tmp_path):
    from tests.commands import JOB  # noqa: PLC0415

    done = run("write", JOB, "--out", tmp_path / "out", "--from-pass", 2)
    assert done.code == 2
    assert "A, B" in done.err


# --- wear and zero ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def worn_plan():
    return planned(a_job(), a_machine(rack__0__g_ratio=0.2))


def test_a_new_wheel_has_worn_off_nothing(worn_plan):
    setup = worn_plan.setups[0]
    same = restart_at(worn_plan, setup, 3, new_wheel=False)
    new = restart_at(worn_plan, setup, 3, new_wheel=True)
    assert same.compensation_mm == setup.compensation_mm
    # Property: before its first pass there is nothing to make up for.
    assert new.compensation_mm[2] == 0.0 < same.compensation_mm[2]
    assert all(n <= s for n, s in zip(new.compensation_mm, same.compensation_mm, strict=True))


def test_every_pass_of_a_plan_can_be_gone_on_from(worn_plan):
    whole = produce(worn_plan, ())
    assert all(v.ok for v in whole.verdicts.values())
    for setup in worn_plan.setups:
        for number in range(2, len(setup.passes) + 1):
            for new in (False, True):
                restart = restart_at(worn_plan, setup, number, new_wheel=new)
                assert all(
                    v.ok for v in produce_from_pass(worn_plan, (), restart).verdicts.values()
                )


def test_in_a_batch_a_new_wheel_forgets_the_blades_before():
    # A wide tolerance, so that a batch is held at all with a wheel that wears fast.
    shop = a_machine(fixture__touch_off_each="batch", rack__0__g_ratio=3)
    job = a_job(quantity=12, relief__land_tolerance="0.6 mm")
    plan = plan_job(
        LoadedFile(job, Path("job.yaml"), "0" * 64),
        LoadedFile(shop, Path("machine.yaml"), "1" * 64),
        steel_of(job.steel),
        7,
    )
    setup = plan.setups[0]
    new = restart_at(plan, setup, 3, new_wheel=True)
    same = restart_at(plan, setup, 3, new_wheel=False)
    assert new.worn_before_mm == 0.0 < same.worn_before_mm == setup.worn_before_mm
    assert new.compensation_mm[2] < same.compensation_mm[2]
    for restart in (new, same):
        produced = produce_from_pass(plan, (), restart)
        assert f"(worn {restart.worn_before_mm:.4f} mm" in produced.files[restart.program].decode()
    assert "--blade 1" in produce_from_pass(plan, (), new).files["setup-A-from-3.md"].decode()


def test_a_larger_wheel_bares_on_the_rims(worn_plan):
    restart = restart_at(worn_plan, worn_plan.setups[0], 3, new_wheel=True)
    # By hand: c^2 / 8R for both, R 75 and 75.5 mm: the depths stand as 75 to 75.5.
    assert restart.bared_larger_mm == pytest.approx(restart.bared_depth_mm * 75 / 75.5, rel=1e-3)


@pytest.mark.parametrize("number", [1, 99])
def test_a_pass_that_cannot_be_gone_on_from_is_refused(worn_plan, number):
    with pytest.raises(ValueError, match=f"from_pass: {number} is not between 2 and"):
        restart_at(worn_plan, worn_plan.setups[0], number, new_wheel=False)


@pytest.mark.parametrize("flip", ["end_for_end", "over", "by_tilt"])
def test_beside_the_middle_the_wheel_bares_on_the_same_face(flip):
    # A tilt in whole degrees is half a degree beside the bevel's own.
    plan = planned(a_job(), a_machine(fixture__flip=flip, axes__A__resolution="1 deg"))
    for setup in plan.setups:
        frame, angle = setup.frame, math.radians(12.5)
        infeed, cross = frame.beside(2.0)
        away = [
            cross * c + infeed * i
            for c, i in zip(frame.cross_dir_yz, frame.infeed_dir_yz, strict=True)
        ]
        side = 1.0 if setup.relief.face == "A" else -1.0
        # By hand: 2 mm along the face, toward the shoulder.
        assert away == pytest.approx([2 * math.cos(angle), side * 2 * math.sin(angle)], abs=1e-9)


# --- a new wheel takes what the worn one stood back --------------------------------------------

ROW = {
    "fixture__row": {"positions": ["0 mm", "120 mm", "240 mm"], "seats": "0.001 mm"},
    "axes__X__travel": ["-200 mm", "600 mm"],
}


@pytest.fixture(scope="module")
def plan_at_the_force_limit():
    job = a_job(
        quantity=3, relief__land_tolerance="0.5 mm", relief__share_in_tolerance=0, relief__faces="A"
    )
    shop = a_machine(rack__0__g_ratio=0.2, limits__normal_force="6 N", **ROW)
    return planned(job, shop)


def test_a_new_wheel_goes_slower_where_it_would_press_too_hard(plan_at_the_force_limit):
    plan = plan_at_the_force_limit
    setup = plan.setups[0]
    slowed = []
    for number in range(2, len(setup.passes) + 1):
        restart = restart_at(plan, setup, number, new_wheel=True)
        verdict = produce_from_pass(plan, (), restart).verdicts[restart.program]
        assert verdict.ok
        planned_mm_min = [p.feed_mm_min for p in setup.passes]
        pairs = list(zip(restart.feeds_mm_min, planned_mm_min, strict=True))
        # Property: the passes before are those of the whole program, and none runs under 0.8.
        assert all(new == old for new, old in pairs[: number - 1])
        assert all(0.8 * old <= new <= old for new, old in pairs)
        slowed += [new for new, old in pairs if new < old]
        # By hand: 6 N is the limit, the proof's own two per cent beside.
        assert max(c.normal_force_n for c in verdict.cuts) <= 6 * 1.02
    assert slowed


def test_a_new_wheel_that_takes_too_much_is_refused_with_the_passes_that_do():
    # A soft grip: force follows the way that the wheel is sent, and hardly the feed.
    job = a_job(relief__faces="A", relief__land_tolerance="0.6 mm", relief__share_in_tolerance=0)
    shop = a_machine(rack__0__g_ratio=0.05, stiffness="250 N/mm", limits__normal_force="3 N", **ROW)
    plan = planned(job, shop)
    setup = plan.setups[0]
    refused = []
    for number in range(2, len(setup.passes) + 1):
        try:
            restart_at(plan, setup, number, new_wheel=True)
        except RefusedError as error:
            refused.append((number, error.refusals[0]))
    assert refused
    assert len(refused) < len(setup.passes) - 1
    for number, refusal in refused:
        assert refusal.rule == "new-wheel-too-heavy"
        assert "stood back" in refusal_words(refusal)
        others = refusal.ways_out[0].facts["passes"]
        for other in str(others).split(", "):
            assert int(other) != number
            restart = restart_at(plan, setup, int(other), new_wheel=True)
            assert produce_from_pass(plan, (), restart).verdicts[restart.program].ok
        assert "going on from pass" in way_out_words(refusal.ways_out[0])


def test_a_relief_in_lines_goes_on_with_a_new_wheel():
    lines = {"relief__depth": "0.0312 mm", "relief__scallop": "0.001 mm", "relief__faces": "A"}
    shop = a_machine(
        rack__0__diameter="80 mm",
        rack__0__marked_speed="8000 rpm",
        rack__0__g_ratio=0.2,
        axes__A__resolution="0.1 deg",
    )
    plan = planned(a_job(**lines, blade__section__included_angle="25.1 deg"), shop)
    setup = plan.setups[0]
    last = len(setup.passes)
    for number in (2, last // 2, last):
        restart = restart_at(plan, setup, number, new_wheel=True)
        assert produce_from_pass(plan, (), restart).verdicts[restart.program].ok


def test_the_last_pass_alone_leaves_what_the_whole_program_leaves():
    plan = planned(
        a_job(relief__faces="A", relief__residual_share=0.1, relief__share_in_tolerance=0),
        a_machine(rack__0__g_ratio=1, stiffness="800 N/mm", **ROW),
    )
    setup = plan.setups[0]
    whole = produce(plan, ()).verdicts[setup.program]
    assert setup.passes[-1].kind == "spark_out"
    restart = restart_at(plan, setup, len(setup.passes), new_wheel=False)
    pair = produce_from_pass(plan, (), restart).verdicts[restart.program]
    # Property: the same motion, the wheel as worn, in one program or in two.
    assert pair.lands == whole.lands
    assert pair.cuts[-1].commanded_depth_mm == pytest.approx(
        whole.cuts[-1].commanded_depth_mm, abs=1e-12
    )
