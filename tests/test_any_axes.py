"""Every way of turning the blade, tilting it and setting the cross: planned, written and proved."""

import math
import os
import re
from itertools import product

import pytest

from planner.errors import RefusedError
from planner.inputs.machine import Machine
from planner.produce import produce
from planner.proof.prove import prove_program
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import planned
from tests.samples import GONE, MACHINE, a_job, a_machine

EASY = {
    "stiffness": "20000 N/mm",
    "axes__Z__resolution": "0.0025 mm",
    "rack__0__specific_energy": "5 J/mm3",
    "rack__0__infeed": {"rough": "0.02 mm", "finish": "0.005 mm"},
}
"""Few steps and an easy cut: planned in a moment."""

UNEVEN = {
    "blade__section__included_angle": GONE,
    "blade__section__angle_a": "12.3 deg",
    "blade__section__angle_b": "11.4 deg",
}
# By hand: thickness 3, edge 0: face widths 1.5 / sin 12.3 and 1.5 / sin 11.4; lands 1.2 and 1.4:
# middles at 1.2 + (b - 2.6) / 2.
MIDDLES = {
    "A": 1.2 + (1.5 / math.sin(math.radians(12.3)) - 2.6) / 2,  # 3.4207
    "B": 1.2 + (1.5 / math.sin(math.radians(11.4)) - 2.6) / 2,  # 3.6944
}
BEVELS = {"A": 12.3, "B": 11.4}
FLIPS = ("end_for_end", "over", "by_tilt")


def ideal(flip, face):
    """Source: docs/frames.md, the table of set-ups."""
    if flip == "by_tilt":
        return -(90 - BEVELS[face]) if face == "A" else 90 - BEVELS[face]
    return -BEVELS[face] if (flip, face) == ("over", "B") else BEVELS[face]


def tilted(kind, flip, face):
    """The machine's tilt, and the setting that it must come to for a face."""
    right = ideal(flip, face)
    if kind == "powered":
        return {"axes__A__invert": True}, right
    if kind == "scale":
        # By hand: marks each 0.5 deg: 12.5 and 11.5, by_tilt -77.5 and 78.5.
        to = {("A", 12.3): 12.5, ("B", 11.4): 11.5, ("B", -11.4): -11.5}
        found = to.get((face, right), -77.5 if face == "A" else 78.5)
        hand = {"range": ["-90 deg", "90 deg"], "resolution": "0.5 deg"}
        return {"axes__A": GONE, "fixture__hand_tilt": hand}, found
    if kind == "wedges":
        settings = ["-80 deg", "-78 deg", "-10 deg", "0 deg", "10 deg", "15 deg", "80 deg"]
        # By hand: nearest to 12.3, 11.4, -11.4, -77.7 and 78.6.
        found = {12.3: 10.0, 11.4: 10.0, -11.4: -10.0}.get(right, -78.0 if right < 0 else 80.0)
        return {"axes__A": GONE, "fixture__hand_tilt": {"settings": settings}}, found
    # A fixture with one tilt, half a degree off what this face needs.
    return {
        "axes__A": GONE,
        "fixture__hand_tilt": {"settings": [f"{right + 0.5:.3f} deg"]},
    }, right + 0.5


def crossed(kind, face):
    """The machine's cross, and where the wheel must then bare."""
    middle = MIDDLES[face]
    if kind == "powered":
        return {"axes__Y__invert": True}, middle
    if kind == "scale":
        # By hand: marks each 0.25 mm: 3.5 and 3.75.
        hand = {"range": ["0 mm", "10 mm"], "resolution": "0.25 mm"}
        return {"axes__Y": GONE, "fixture__hand_cross": hand}, {"A": 3.5, "B": 3.75}[face]
    if kind == "stops":
        hand = {"settings": ["3 mm", "3.52 mm", "4 mm"], "repeatability": "0.01 mm"}
        return {"axes__Y": GONE, "fixture__hand_cross": hand}, 3.52
    if kind == "fixed":
        place = round(middle, 1)
        return {"axes__Y": GONE, "fixture__hand_cross": {"settings": [f"{place} mm"]}}, place
    return {"axes__Y": GONE}, middle


def a_plan(flip, tilt, cross, face, **more):
    tilts, _ = tilted(tilt, flip, face)
    crosses, _ = crossed(cross, face)
    machine = a_machine(**EASY, fixture__flip=flip, **tilts, **crosses, **more)
    job = a_job(**UNEVEN, relief__faces=face, relief__share_in_tolerance=0)
    return planned(job, machine)


TILTS = ("powered", "scale", "wedges", "fixed")
CROSSES = ("powered", "scale", "stops", "fixed", "free")


# Each pair of two kinds once at least, and with BEVELWRIGHT_THOROUGH all three together.
KINDS = [
    (flip, tilt, cross)
    for (i, flip), (j, tilt), (k, cross) in product(*map(enumerate, (FLIPS, TILTS, CROSSES)))
    if (i + j + k) % 3 == 0 or os.environ.get("BEVELWRIGHT_THOROUGH")
]


@pytest.mark.parametrize(("flip", "tilt", "cross"), KINDS)
def test_every_kind_of_axes_is_planned_written_and_proved(flip, tilt, cross):
    for face in "AB":
        plan = a_plan(flip, tilt, cross, face)
        (setup,) = plan.setups
        _, tilt_deg = tilted(tilt, flip, face)
        _, place_mm = crossed(cross, face)
        # The setting that exists, not the ideal one.
        assert setup.frame.tilt_deg == pytest.approx(tilt_deg, abs=1e-9)
        assert setup.relief.middle_mm == pytest.approx(place_mm, abs=1e-9)
        produced = produce(plan, ())
        verdict = produced.verdicts[f"setup-{face}.ngc"]
        assert verdict.ok
        (at, *others) = verdict.lands
        assert all(o.edge_land_mm == pytest.approx(at.edge_land_mm) for o in others)
        # By hand: what the place is off goes on one land and off the other; beside it the tilt
        # lets the wheel drift by depth times tan, where no cross axis makes up for it.
        off = place_mm - MIDDLES[face]
        lean = math.tan(math.radians(tilt_deg - ideal(flip, face)))
        drift = 0.0 if cross == "powered" else abs(lean) * plan.section.reliefs[0].depth_mm
        short = (at.edge_land_mm - 1.2 + at.shoulder_land_mm - 1.4) / 2
        assert 0 <= short < 0.1
        found = (at.edge_land_mm - 1.2 - (at.shoulder_land_mm - 1.4)) / 2
        # A cross word is rounded to half a decimal; the last step may be short, and its drift.
        slack = 6e-5 if cross == "powered" else 0.0025 * abs(lean) + 1e-6
        assert min(abs(found - off - drift), abs(found - off + drift)) < slack
        # The plan foretells the lands that the proof measures, short by whole steps and spring.
        (relief,) = plan.section.reliefs
        assert at.edge_land_mm - short == pytest.approx(relief.edge_land_mm, abs=slack)
        assert at.shoulder_land_mm - short == pytest.approx(relief.shoulder_land_mm, abs=slack)
        text = produced.files[f"setup-{face}.ngc"].decode("ascii")
        assert ("by hand)" in text) == (tilt != "powered" or cross in ("scale", "stops", "fixed"))


@pytest.mark.parametrize("flip", FLIPS)
@pytest.mark.parametrize("cross", ["powered", "free"])
def test_both_faces_of_one_job(flip, cross):
    crosses, _ = crossed(cross, "A")
    machine = a_machine(**EASY, fixture__flip=flip, **crosses)
    produced = produce(planned(a_job(**UNEVEN), machine), ())
    assert [v.ok for v in produced.verdicts.values()] == [True] * 4


def test_wedges_that_may_be_turned_round_serve_both_faces_turned_over():
    one_way = {"settings": ["5 deg", "10 deg", "12.5 deg"]}
    machine = {**EASY, "axes__A": GONE, "fixture__flip": "over"}
    job = a_job()
    with pytest.raises(RefusedError) as caught:
        planned(job, a_machine(**machine, fixture__hand_tilt=one_way))
    (refusal,) = caught.value.refusals
    # By hand: face B turned over needs -12.5 deg; the nearest wedge, 5 deg, is far off.
    assert refusal.rule == "tilt-out-of-reach"
    assert (refusal.facts["wanted_deg"], refusal.facts["has_deg"]) == (-12.5, 5.0)
    both_ways = {"settings": [*one_way["settings"], "-12.5 deg"]}
    plan = planned(job, a_machine(**machine, fixture__hand_tilt=both_ways))
    assert [s.frame.tilt_deg for s in plan.setups] == [12.5, -12.5]
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


# --- refused, with the setting that would do ---------------------------------------------------


def refused(**machine):
    with pytest.raises(RefusedError) as caught:
        planned(a_job(relief__faces="A"), a_machine(**EASY, **machine))
    for refusal in caught.value.refusals:
        assert len(refusal_words(refusal)) > 20
        assert all(len(way_out_words(w)) > 5 for w in refusal.ways_out)
    return caught.value.refusals


def test_a_stop_too_far_off_is_refused_and_the_one_named_does():
    gone = {"axes__Y": GONE}
    # By hand: face width 1.5 / sin 12.5 = 6.9305, middle 1.2 + 4.3305 / 2 = 3.3652; a stop at
    # 3.7 is 0.3348 off, over the tolerance of 0.25; one at 3.5 is not.
    (refusal,) = refused(**gone, fixture__hand_cross={"settings": ["3.7 mm", "9 mm"]})
    assert refusal.rule == "lands-out-of-place"
    facts = refusal.facts
    assert facts["edge_land_mm"] == pytest.approx(1.5348, abs=1e-4)
    assert facts["shoulder_land_mm"] == pytest.approx(1.0652, abs=1e-4)
    assert facts["place_mm"] == 3.7
    (way,) = refusal.ways_out
    assert way.rule == "cross-setting"
    # By hand: 3.3652, to a micrometre.
    assert way.facts["place_mm"] == 3.365
    stop = f"{way.facts['place_mm']:.3f} mm"
    plan = planned(
        a_job(relief__faces="A"),
        a_machine(**EASY, **gone, fixture__hand_cross={"settings": ["3.7 mm", stop]}),
    )
    assert plan.section.reliefs[0].edge_land_mm == pytest.approx(1.2, abs=1e-3)


def test_a_wedge_out_of_reach_names_the_wedge_and_the_shim():
    hand = {"settings": ["5 deg", "20 deg"]}
    (refusal,) = refused(axes__A=GONE, fixture__hand_tilt=hand)
    assert refusal.rule == "tilt-out-of-reach"
    wedge, shim = refusal.ways_out
    assert (wedge.rule, wedge.facts["wanted_deg"]) == ("wedge", 12.5)
    # By hand: from 5 to 12.5 deg or from 20 down: 7.5 deg, 100 sin 7.5 = 13.053 mm under 100 mm.
    assert shim.rule == "shim"
    assert shim.facts["shim_mm"] == pytest.approx(13.0526, abs=1e-4)
    hand["settings"].append(f"{wedge.facts['wanted_deg']} deg")
    machine = a_machine(**EASY, axes__A=GONE, fixture__hand_tilt=hand)
    assert planned(a_job(relief__faces="A"), machine).setups[0].frame.tilt_deg == 12.5


def test_a_drift_over_the_tolerance_names_the_wedge():
    # By hand: a belt of 30 mm over all, lands 1.2 and 1.4: chord 4.3305, depth
    # 15 - sqrt(225 - 4.6883) = 0.1571; at 16.5 deg, 4 deg off, it drifts 0.1571 tan 4 = 0.01099.
    belt: dict[str, object] = {"kind": "belt", "rack__0__diameter": "28 mm"}
    belt |= {"rack__0__marked_speed": "20000 rpm"}
    belt |= {"rack__0__belt": {"thickness": "1 mm"}, "rack__0__g_ratio": GONE}
    job = a_job(relief__faces="A", relief__land_tolerance="0.0109 mm", relief__share_in_tolerance=0)
    hand = {"settings": ["16.5 deg"]}
    machine = {**EASY, **belt, "axes__A": GONE, "axes__Y": GONE}
    with pytest.raises(RefusedError) as caught:
        planned(job, a_machine(**machine, fixture__hand_tilt=hand))
    (refusal,) = caught.value.refusals
    assert refusal.rule == "lands-out-of-place"
    assert abs(float(refusal.facts["drift_mm"])) == pytest.approx(0.01099, abs=1e-5)
    assert [w.rule for w in refusal.ways_out] == ["wedge", "shim"]
    assert refusal.ways_out[0].facts["wanted_deg"] == 12.5


def test_a_wedge_is_no_way_out_where_the_stop_alone_is_off():
    # By hand: as above, a stop 0.3348 mm off. On a wedge 0.5 deg off the relief, 0.0313 mm deep,
    # drifts 0.0313 tan 0.5 deg = 0.0003 mm: no wedge takes the 0.3348 mm away.
    (refusal,) = refused(
        axes__A=GONE,
        axes__Y=GONE,
        fixture__hand_tilt={"settings": ["12 deg"]},
        fixture__hand_cross={"settings": ["3.7 mm"]},
    )
    assert [way.rule for way in refusal.ways_out] == ["cross-setting"]
    words = refusal_words(refusal)
    assert "drifts" not in words
    assert "-0.000" not in words


def test_a_stop_that_would_grind_the_edge_back_is_refused():
    hollow = a_job(
        relief__faces="A",
        relief__edge_land="0 mm",
        relief__min_edge_angle="5 deg",
        relief__share_in_tolerance=0,
    )
    # By hand: chord 6.9305 - 1.4 = 5.5305, middle 2.7653; 2.7 takes the edge back, 2.8 does not.
    machine = {**EASY, "axes__Y": GONE}
    with pytest.raises(RefusedError) as caught:
        planned(hollow, a_machine(**machine, fixture__hand_cross={"settings": ["2.7 mm"]}))
    assert [r.rule for r in caught.value.refusals] == ["lands-out-of-place"]
    # Property: the stop named does, made just as it is told: no micrometre of the edge is lost.
    (way,) = caught.value.refusals[0].ways_out
    stop = f"{way.facts['place_mm']:.3f} mm"
    assert planned(hollow, a_machine(**machine, fixture__hand_cross={"settings": [stop]})).setups
    plan = planned(hollow, a_machine(**machine, fixture__hand_cross={"settings": ["2.8 mm"]}))
    assert plan.section.full_hollow
    assert all(v.ok for v in produce(plan, ()).verdicts.values())


FLAT = {
    **MACHINE["rack"][0],
    "name": "flat",
    "contact": "across_edge",
    "specific_energy": "5 J/mm3",
    "infeed": {"rough": "0.02 mm", "finish": "0.005 mm"},
}
FORM = {**FLAT, "name": "fine", "form_radius": "30 mm", "width": "13 mm"}
FROM_THE_BAR = {
    "blade__section__thickness": "1.6 mm",
    "blade__section__edge_thickness": "0.5 mm",
    "relief__edge_land": "0.6 mm",
    "relief__shoulder_land": "0.6 mm",
    "relief__land_tolerance": "0.5 mm",
    "relief__share_in_tolerance": 0,
    "operations": [
        {"do": "bevel", "wheel": "flat"},
        {"do": "relief"},
        {"do": "lands", "wheel": "flat", "allowance": "0.01 mm"},
    ],
}


def bar_shop(hand, **changes):
    rack = [FORM, {**FLAT, **changes}]
    return a_machine(axes__Y=GONE, fixture__hand_cross=hand, rack=rack, stiffness="20000 N/mm")


@pytest.mark.parametrize(
    ("hand", "stands"),
    # By hand: the face is 0.55 / sin 12.5 = 2.5411 mm wide and its middle, which is the relief's
    # too, at 1.2706: the nearest of each.
    [
        ({"range": ["0 mm", "9 mm"], "resolution": "0.1 mm"}, 1.3),
        ({"settings": ["1.1 mm", "2 mm"]}, 1.1),
    ],
)
def test_every_operation_stands_at_a_setting_that_exists(hand, stands):
    plan = planned(a_job(**FROM_THE_BAR), bar_shop(hand))
    produced = produce(plan, ())
    assert len(plan.setups) == 6
    for setup in plan.setups:
        assert setup.work.place_mm == pytest.approx(stands)
        text = produced.files[setup.program].decode()
        assert f"(set cross {stands:.4f} mm, by hand)" in text
        assert produced.verdicts[setup.program].ok
        sheet = produced.files[setup.program.replace(".ngc", ".md")].decode()
        assert f"{stands:.3f} mm from the edge along the face" in sheet
    lands = produced.verdicts["setup-lands-A.ngc"].lands[0]
    # By hand: the relief was ground so far aside, the lands' two widths differ by twice that.
    aside = 2 * (stands - 0.55 / math.sin(math.radians(12.5)) / 2)
    assert lands.edge_land_mm - lands.shoulder_land_mm == pytest.approx(aside, abs=0.01)


def test_a_flat_that_covers_the_face_from_no_stop_is_refused_with_the_stop():
    with pytest.raises(RefusedError) as caught:
        planned(a_job(**FROM_THE_BAR), bar_shop({"settings": ["1 mm"]}, width="3 mm"))
    narrow = caught.value.refusals[0]
    assert narrow.rule == "flat-too-narrow"
    # By hand: 0.2706 mm off the middle asks for 0.541 mm more than the face, and the setting's own.
    assert float(narrow.facts["needed_mm"]) > 2.5411 + 0.541
    ways = {w.rule: w.facts for w in narrow.ways_out}
    assert ways["cross-setting"]["place_mm"] == pytest.approx(1.2706, abs=1e-4)


def test_a_wedge_is_named_only_where_it_brings_the_lands_to_their_place():
    # By hand: 3.42 mm would be right; at 3 mm no wedge helps, whatever the drift of 0.2 deg.
    wedges = {"settings": ["12.7 deg", "-12.7 deg"]}
    machine = {**EASY, "axes__Y": GONE, "axes__A": GONE, "fixture__hand_tilt": wedges}
    job = a_job(relief__faces="A", relief__land_tolerance="0.1 mm")
    with pytest.raises(RefusedError) as caught:
        planned(job, a_machine(**machine, fixture__hand_cross={"settings": ["3 mm"]}))
    (refusal,) = caught.value.refusals
    assert refusal.rule == "lands-out-of-place"
    assert [w.rule for w in refusal.ways_out] == ["cross-setting"]
    assert "drifts -0.000" not in refusal_words(refusal)


@pytest.mark.parametrize(
    ("edge_land", "shoulder_land"), [("0 mm", "1.0351 mm"), ("1.03 mm", "0 mm")]
)
def test_the_stop_named_for_a_relief_that_runs_out_is_one_that_does(edge_land, shoulder_land):
    job = a_job(relief__faces="A", relief__edge_land=edge_land, relief__shoulder_land=shoulder_land)
    machine = {**EASY, "axes__Y": GONE}
    with pytest.raises(RefusedError) as caught:
        planned(job, a_machine(**machine, fixture__hand_cross={"settings": ["2 mm"]}))
    (way,) = [w for w in caught.value.refusals[0].ways_out if w.rule == "cross-setting"]
    named = f"{way.facts['place_mm']:.3f} mm"
    # Property: what a refusal names has to do.
    assert planned(job, a_machine(**machine, fixture__hand_cross={"settings": [named]})).setups


def test_lines_need_a_cross_that_the_program_moves():
    lines = {"relief__depth": "0.03 mm", "relief__scallop": "0.001 mm", "relief__faces": "A"}
    small = {"rack__0__diameter": "80 mm", "rack__0__marked_speed": "8000 rpm"}
    with pytest.raises(RefusedError) as caught:
        planned(
            a_job(**lines, operations=[{"do": "relief"}]),
            a_machine(**small, axes__Y=GONE, fixture__hand_cross={"settings": ["3.4 mm"]}),
        )
    assert [r.rule for r in caught.value.refusals] == ["lines-need-cross"]


def test_a_stop_that_leaves_too_few_in_tolerance_is_named():
    # 0.2 mm off of 0.25 mm: what strays takes the rest.
    job = a_job(relief__faces="A", relief__share_in_tolerance=0.7, spread__bevel_angle="0.01 deg")
    stops = ["3.565 mm"]
    hand = {"settings": stops, "repeatability": "0.02 mm"}
    machine = {**EASY, "axes__Y": GONE, "fixture__hand_cross": hand}
    with pytest.raises(RefusedError) as caught:
        planned(job, a_machine(**machine, axes__A__repeatability="0.01 deg"))
    (refusal,) = caught.value.refusals
    assert refusal.rule == "cannot-hold-lands"
    # By hand: middle 1.2 + 4.3305 / 2.
    (way,) = [w for w in refusal.ways_out if w.rule == "cross-setting"]
    assert way.facts["place_mm"] == pytest.approx(3.3652, abs=1e-4)
    stops.append(f"{way.facts['place_mm']:.3f} mm")
    plan = planned(job, a_machine(**machine, axes__A__repeatability="0.01 deg"))
    assert plan.share_in_tolerance >= 0.7


# --- inverted axes, moving tables, inches, decimals --------------------------------------------


def words_of(text, letter):
    return [float(w) for w in re.findall(rf"\b{letter}(-?[0-9.]+)", text)]


def motion(text):
    return [line for line in text.splitlines() if not line.startswith("(")]


def programs(machine: Machine, job=None):
    produced = produce(planned(job or a_job(), machine), ())
    return {n: t.decode("ascii") for n, t in produced.files.items() if n.endswith(".ngc")}


@pytest.mark.parametrize("letter", "XYZA")
@pytest.mark.parametrize("flip", FLIPS)
def test_a_table_that_moves_gets_the_mirrored_words(flip, letter):
    plain = programs(a_machine(**EASY, fixture__flip=flip))
    moved = a_machine(**EASY, fixture__flip=flip, **{f"axes__{letter}__invert": True})
    for name, text in programs(moved).items():
        assert words_of(text, letter) == [0.0 - w for w in words_of(plain[name], letter)]
        for other in set("XYZAFSP") - {letter}:
            assert words_of(text, other) == words_of(plain[name], other)
        # Property: the wheel goes the same way over the blade, so the blade comes out the same.
        here = prove_program(text.encode(), a_job(), moved)
        there = prove_program(plain[name].encode(), a_job(), a_machine(**EASY, fixture__flip=flip))
        assert here.ok
        assert here.positions == there.positions
        assert here.lands == there.lands
        # A program for the wheel that moves does not do for the table that does.
        if any(words_of(text, letter)) and "air" not in name:
            assert not prove_program(plain[name].encode(), a_job(), moved).ok


def test_a_mirrored_profile_gives_the_mirrored_blade():
    """Face B turned over is face A seen in a mirror: cross and tilt run the other way."""
    mirrored = {
        **UNEVEN,
        "blade__section__angle_a": "11.4 deg",
        "blade__section__angle_b": "12.3 deg",
    }
    scale = {"range": ["-90 deg", "90 deg"], "resolution": "2 deg"}
    for held in (
        {},
        {"axes__A__resolution": "2 deg"},
        {"axes__A": GONE, "fixture__hand_tilt": scale},
    ):
        plain = a_machine(**EASY, **held, fixture__flip="over")
        inverted = {"axes__Y__invert": True}
        if "axes__A" not in held:
            inverted["axes__A__invert"] = True
        other = a_machine(**EASY, **held, fixture__flip="over", **inverted)
        one = planned(a_job(**UNEVEN, relief__faces="A"), plain)
        two = planned(a_job(**mirrored, relief__faces="B"), other)
        here, there = produce(one, ()), produce(two, ())
        texts = here.files["setup-A.ngc"].decode(), there.files["setup-B.ngc"].decode()
        # Property: word for word the same motion on the mirrored profile ...
        assert motion(texts[0]) == motion(texts[1])
        # ... and the mirrored blade: z is exchanged, the lands are the same.
        lands = here.verdicts["setup-A.ngc"].lands, there.verdicts["setup-B.ngc"].lands
        for a, b in zip(*lands, strict=True):
            assert (a.edge_land_mm, a.shoulder_land_mm) == pytest.approx(
                (b.edge_land_mm, b.shoulder_land_mm), abs=1e-9
            )
        (y, z), (y_mirrored, z_mirrored) = (p.setups[0].frame.origin_yz_mm for p in (one, two))
        assert (y, z) == pytest.approx((y_mirrored, -z_mirrored))


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("decimals", [3, 4, 5])
def test_inches_and_decimals_with_settings_by_hand(units, decimals):
    machine = a_machine(
        stiffness="20000 N/mm",
        rack__0__specific_energy="5 J/mm3",
        controller__units=units,
        controller__decimals=decimals,
        axes__Z__resolution="0.001 in" if units == "inch" and decimals == 3 else "0.0025 mm",
        axes__X__invert=True,
        axes__A=GONE,
        axes__Y=GONE,
        fixture__flip="over",
        fixture__hand_tilt={"settings": ["-12 deg", "12 deg"]},
        fixture__hand_cross={"settings": ["1/8 in", "3.4 mm"]},
        rack__0__diameter="40 mm",
        rack__0__marked_speed="15000 rpm",
        rack__0__infeed={"rough": "0.03 mm", "finish": "0.03 mm"},
    )
    job = a_job(relief__land_tolerance="0.5 mm", relief__share_in_tolerance=0)
    for name, text in programs(machine, job).items():
        assert f"(units {units})" in text
        tilt = "12.0000" if "-A" in name else "-12.0000"
        assert f"(set tilt {tilt} deg, cross 3.4000 mm, by hand)" in text
        digits = {len(w.partition(".")[2]) for w in re.findall(r"\b[XZ](-?[0-9.]+)", text)}
        assert digits == {decimals}


def test_the_proof_refuses_a_program_for_another_wedge_or_stop():
    fixture = {"axes__A": GONE, "axes__Y": GONE}
    wedges = {"settings": ["10 deg", "15 deg"]}
    made = a_machine(
        **EASY,
        **fixture,
        fixture__hand_tilt=wedges,
        fixture__hand_cross={"settings": ["3.3 mm"]},
    )
    job = a_job(relief__faces="A", relief__share_in_tolerance=0)
    text = programs(made, job)["setup-A.ngc"].encode()
    assert prove_program(text, job, made).ok
    for change in (
        {
            "fixture__hand_tilt": {"settings": ["12.5 deg"]},
            "fixture__hand_cross": {"settings": ["3.3 mm"]},
        },
        {"fixture__hand_tilt": wedges, "fixture__hand_cross": {"settings": ["3.4 mm"]}},
    ):
        verdict = prove_program(text, job, a_machine(**EASY, **fixture, **change))
        assert [f.rule for f in verdict.faults] == ["claim-contradicted"]
