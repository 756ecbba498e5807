"""Jobs that a machine cannot hold: the numbers of the refusal, and ways out that really work."""

import math

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from planner.errors import RefusedError
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import planned
from tests.samples import a_job, a_machine

# Few steps and an easy cut, so that a plan is found in a moment.
COARSE = {
    "rack__0__specific_energy": "5 J/mm3",
    "limits__normal_force": "200 N",
    "spindle__power": "5 kW",
    "axes__Z__resolution": "0.004 mm",
    "rack__0__infeed": {"rough": "0.012 mm", "finish": "0.004 mm"},
}


def refusal_of(job, machine):
    with pytest.raises(RefusedError) as caught:
        planned(job, machine)
    (refusal,) = caught.value.refusals
    return refusal


def wide_bevel(**changes):
    """Lands of 0.62 mm beside a chord of 8 mm. By hand: 2 sin 12.5 deg (8 + 1.24) = 4.0."""
    return a_job(
        blade__section__thickness="4.0 mm",
        relief__edge_land="0.62 mm",
        relief__shoulder_land="0.62 mm",
        **{"relief__land_tolerance": "0.10 mm", "relief__faces": "A", **changes},
    )


def large_wheel(**changes):
    return a_machine(**{"rack__0__diameter": "200 mm", **COARSE, **changes})


def test_a_land_moves_25_mm_per_mm_of_depth_on_a_200_mm_wheel():
    refusal = refusal_of(wide_bevel(), large_wheel())
    assert refusal.rule == "cannot-hold-lands"
    # By hand: (R - d) / half chord = (100 - 0.08) / 4.0006 = 24.98.
    assert refusal.facts["land_change_per_depth"] == pytest.approx(24.98, abs=0.02)
    # By hand: 0.10 / 24.98.
    assert refusal.facts["depth_tolerance_mm"] == pytest.approx(0.0040, abs=1e-5)
    # By hand, for the shoulder land: 3 um each of repeatability and touch-off and 4 / sqrt 12 of
    # a step are 4.40 um of depth, 0.110 mm of land; beside it 0.05 of setting, 0.023 of stock
    # (0.01 / (2 sin 12.5 deg)) and 0.073 of bevel angle (0.1 deg of 9.24 / tan 12.5 deg): 0.143.
    assert refusal.facts["land_sd_mm"] == pytest.approx(0.143, abs=1e-3)
    assert refusal.facts["dominant"] in ("infeed repeatability", "touch-off")
    assert refusal.facts["share"] < 0.5
    words = refusal_words(refusal)
    assert "cannot hold" in words
    assert "25.0 mm for every mm" in words


def ways_out(refusal):
    ways = {way.rule: way.facts for way in refusal.ways_out}
    for way in refusal.ways_out:
        assert way_out_words(way)
    return ways


def test_the_ways_out_of_the_large_wheel_hold():
    ways = ways_out(refusal_of(wide_bevel(), large_wheel()))
    diameter = ways["smaller-wheel-holds"]["diameter_mm"]
    assert planned(wide_bevel(), large_wheel(rack__0__diameter=f"{diameter} mm"))
    # Property: near to the largest; the search only allows for all the deflection that may stay.
    for larger in (1.15, 1.3, 1.5):
        refusal_of(wide_bevel(), large_wheel(rack__0__diameter=f"{diameter * larger:.3f} mm"))
    tolerance = ways["wider-tolerance"]["land_tolerance_mm"]
    assert planned(wide_bevel(relief__land_tolerance=f"{tolerance} mm"), large_wheel())
    refusal_of(wide_bevel(relief__land_tolerance=f"{tolerance - 0.02:.4f} mm"), large_wheel())


def test_touching_off_each_blade_is_a_way_out_of_a_batch():
    job = wide_bevel(quantity=10, relief__land_tolerance="0.16 mm")
    once = large_wheel(fixture__touch_off_each="batch")
    assert "touch-off-each-blade" in ways_out(refusal_of(job, once))
    assert planned(job, large_wheel(fixture__touch_off_each="blade"))
    # Property: where it alone does not do it is not named.
    narrow = wide_bevel(quantity=10, relief__land_tolerance="0.12 mm")
    assert "touch-off-each-blade" not in ways_out(refusal_of(narrow, once))
    assert refusal_of(narrow, large_wheel(fixture__touch_off_each="blade"))
    assert "touch-off-each-blade" not in ways_out(
        refusal_of(wide_bevel(), large_wheel(fixture__touch_off_each="batch"))
    )


def test_the_cause_that_would_help_most():
    machine = large_wheel(axes__Z__repeatability="0.010 mm")
    # Without that error too few would still be in tolerance: then it is no way out.
    assert "better-cause" not in ways_out(refusal_of(wide_bevel(), machine))
    machine = large_wheel(axes__Z__repeatability="0.010 mm", fixture__touch_off="0 mm")
    way = ways_out(refusal_of(wide_bevel(), machine))["better-cause"]
    assert way["cause"] == "infeed repeatability"
    better = large_wheel(axes__Z__repeatability="0 mm", fixture__touch_off="0 mm")
    share = planned(wide_bevel(relief__share_in_tolerance=0), better).share_in_tolerance
    assert way["share"] == pytest.approx(share, abs=0.03)


@settings(max_examples=3, deadline=None, derandomize=True)
@given(
    diameter=st.floats(60, 400),
    stiffness=st.floats(200, 5000),
    decimals=st.sampled_from([3, 4]),
    repeatability=st.floats(0.001, 0.012),
    thickness=st.floats(2.0, 4.0),
    tolerance=st.floats(0.03, 0.4),
    faces=st.sampled_from(["A", "both"]),
    least_steel=st.floats(0.05, 0.4),
)
@example(
    # The wheel must be small to hold the lands, but a very small one leaves too little steel.
    diameter=300,
    stiffness=2000,
    decimals=4,
    repeatability=0.003,
    thickness=3.0,
    tolerance=0.15,
    faces="both",
    least_steel=0.4,
)
def test_ways_out_hold(
    diameter, stiffness, decimals, repeatability, thickness, tolerance, faces, least_steel
):
    asked = {
        "blade__section__thickness": f"{thickness:.3f} mm",
        "relief__faces": faces,
        "relief__land_tolerance": f"{tolerance:.4f} mm",
        "relief__min_steel_left": f"{least_steel:.4f} mm",
    }
    built = {
        "rack__0__diameter": f"{diameter:.2f} mm",
        "rack__0__marked_speed": "20000 rpm",
        "stiffness": f"{stiffness:.0f} N/mm",
        "controller__decimals": decimals,
        "axes__Z__repeatability": f"{repeatability:.5f} mm",
        **COARSE,
    }
    try:
        planned(a_job(**asked), a_machine(**built))
    except RefusedError as refused:
        (refusal,) = refused.refusals
    else:
        assume(False)
    assume(refusal.rule == "cannot-hold-lands")
    ways = ways_out(refusal)
    if "smaller-wheel-holds" in ways:
        smaller = f"{ways['smaller-wheel-holds']['diameter_mm']} mm"
        assert planned(a_job(**asked), a_machine(**{**built, "rack__0__diameter": smaller}))
    wider = f"{ways['wider-tolerance']['land_tolerance_mm']} mm"
    assert planned(a_job(**{**asked, "relief__land_tolerance": wider}), a_machine(**built))


def test_a_smaller_wheel_is_found_between_one_too_large_and_one_that_leaves_no_steel():
    job = wide_bevel(relief__min_steel_left="0.25 mm")
    ways = ways_out(refusal_of(job, large_wheel(rack__0__diameter="400 mm")))
    diameter = ways["smaller-wheel-holds"]["diameter_mm"]
    assert 20 < diameter < 400
    assert planned(job, large_wheel(rack__0__diameter=f"{diameter} mm"))


def test_lands_that_fall_short_before_anything_strays():
    # 0.0254 mm steps, and any share of the blades will do: the proof must not be the one to say.
    job = a_job(relief__share_in_tolerance=0, relief__faces="A", relief__land_tolerance="0.10 mm")
    machine = a_machine(
        axes__Z__resolution="0.0127 mm",
        rack__0__infeed={"rough": "0.03 mm", "finish": "0.02 mm"},
    )
    refusal = refusal_of(job, machine)
    assert refusal.rule == "lands-fall-short"
    # By hand: the depth 0.03126 holds two steps, 0.0254; the half chord of that on a radius of 75
    # is sqrt(0.0254 * 149.9746) = 1.95176, of the depth itself 2.16517.
    assert refusal.facts["depth_mm"] == pytest.approx(0.03126, abs=1e-5)
    assert float(refusal.facts["wider_mm"]) >= 2.16517 - 1.95176 - 1e-4
    assert math.isclose(float(refusal.facts["diameter_mm"]), 150)
    assert "too wide" in refusal_words(refusal)


def test_a_relief_that_stays_in_the_spring_is_none_however_wide_the_tolerance():
    # A soft machine and a dull wheel: 0.09 N lie in 30 N/mm as 0.003 mm, the relief is 0.0031.
    job = a_job(
        relief={
            "faces": "A",
            "edge_land": "2.6 mm",
            "depth": "0.0031 mm",
            "land_tolerance": "0.3 mm",
            "min_steel_left": "0.1 mm",
            "share_in_tolerance": 0,
            "residual_share": 1,
        }
    )
    machine = a_machine(
        stiffness="30 N/mm",
        rack__0__diameter="12 mm",
        rack__0__threshold_force="0.09 N",
        rack__0__marked_speed="9000 rpm",
    )
    refusal = refusal_of(job, machine)
    assert refusal.rule == "nothing-is-ground"
    # By hand: no pass reaches deeper than 0.0031 - 0.09 / 30 = 0.0001 mm.
    assert 0 <= float(refusal.facts["reached_mm"]) <= 0.0001 + 1e-9
    assert "as it is" in refusal_words(refusal)


def test_a_tolerance_over_what_a_file_may_ask_for_is_not_named():
    # By hand: an angle off by 20 deg moves a shoulder 9.24 mm from the edge by 14.5 mm and more.
    job = wide_bevel(spread__bevel_angle="5 deg", relief__share_in_tolerance=0.999999)
    assert "wider-tolerance" not in ways_out(refusal_of(job, large_wheel()))


def test_the_form_of_a_form_wheel_is_what_is_named():
    form = {"rack__0__contact": "across_edge", "rack__0__form_radius": "100 mm"}
    machine = large_wheel(**form, rack__0__width="20 mm")
    job = wide_bevel()
    ways = ways_out(refusal_of(job, machine))
    assert "smaller-wheel-holds" not in ways
    radius = ways["smaller-form-holds"]["radius_mm"]
    # Property: made so, it holds.
    held = large_wheel(**{**form, "rack__0__form_radius": f"{radius} mm"}, rack__0__width="20 mm")
    assert planned(job, held)
