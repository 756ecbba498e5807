"""Settings made by hand: planner and proof choose the same; every profile's way there and back."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.kinematics.held import as_held
from planner.kinematics.settings import (
    cross_kind,
    hand_cross_mm,
    hand_tilt_deg,
    nearest_mark,
    nearest_setting,
    tilt_kind,
    wedge_ways,
)
from planner.kinematics.touch_frame import relief_frame
from planner.proof.build_case import build_case
from planner.proof.case import held_tilt_deg
from planner.proof.frame import nearest_multiple, nearest_of
from planner.section.spread import face_spread
from planner.section.target import section_for
from tests.samples import GONE, a_job, a_machine

QUICK = settings(max_examples=120, deadline=None, derandomize=True)


@pytest.mark.parametrize(
    ("changes", "tilt", "cross"),
    [
        ({}, "axis", "axis"),
        ({"axes__A": GONE, "axes__Y": GONE}, "fixed", "free"),
        (
            {
                "axes__A": GONE,
                "axes__Y": GONE,
                "fixture__hand_tilt": {"range": ["0 deg", "9 deg"]},
                "fixture__hand_cross": {"range": ["0 mm", "9 mm"]},
            },
            "scale",
            "scale",
        ),
        (
            {
                "axes__A": GONE,
                "axes__Y": GONE,
                "fixture__hand_tilt": {"settings": ["5 deg", "9 deg"]},
                "fixture__hand_cross": {"settings": ["5 mm"]},
            },
            "settings",
            "fixed",
        ),
    ],
)
def test_how_tilt_and_cross_are_set(changes, tilt, cross):
    machine = a_machine(**changes)
    assert (tilt_kind(machine), cross_kind(machine)) == (tilt, cross)


@pytest.mark.parametrize(
    ("wanted", "resolution", "ends", "found"),
    [
        # By hand: multiples of the resolution inside the range; half way the lower is taken.
        (12.3, 0.5, (0, 45), 12.5),
        (12.25, 0.5, (0, 45), 12.0),
        (-12.25, 0.5, (-45, 45), -12.5),
        (12.25 + 1e-9, 0.5, (0, 45), 12.0),
        (50.0, 0.5, (0, 45.2), 45.0),
        (-3.0, 0.7, (1, 9), 1.4),
    ],
)
def test_the_nearest_mark(wanted, resolution, ends, found):
    assert nearest_mark(wanted, resolution, ends) == pytest.approx(found, abs=1e-9)
    # Property: the proof's own arithmetic finds the same.
    assert nearest_multiple(wanted, resolution, *ends) == pytest.approx(found, abs=1e-9)


@pytest.mark.parametrize(
    ("wanted", "there", "found"),
    [
        (12.5, [20.0, 10.0, 15.0], 10.0),
        (13.0, [20.0, 10.0, 15.0], 15.0),
        (12.5 + 1e-8, [15.0, 10.0], 10.0),
        (-80.0, [5.0], 5.0),
    ],
)
def test_the_nearest_wedge_or_stop(wanted, there, found):
    # By hand: the least distance; of two as near the lower.
    assert nearest_setting(wanted, there) == nearest_of(wanted, there) == found


@QUICK
@given(
    wanted=st.floats(-100, 100),
    settings_mm=st.lists(st.floats(-100, 100), min_size=1, max_size=20),
    resolution=st.sampled_from([0.01, 0.1, 0.25, 0.5, 1.0, 5.0]),
)
def test_planner_and_proof_choose_the_same(wanted, settings_mm, resolution):
    found = nearest_setting(wanted, settings_mm)
    assert abs(nearest_of(wanted, settings_mm) - wanted) <= abs(found - wanted) + 2e-6
    # Property: nothing that exists is nearer.
    assert abs(found - wanted) <= min(abs(s - wanted) for s in settings_mm) + 2e-6
    mark = nearest_mark(wanted, resolution, (-100.0, 100.0))
    assert abs(mark - wanted) <= resolution / 2 + 2e-6
    assert mark == pytest.approx(nearest_multiple(wanted, resolution, -100.0, 100.0), abs=1e-9)


def test_a_machine_sets_what_is_nearest():
    machine = a_machine(
        axes__A=GONE,
        axes__Y=GONE,
        fixture__hand_tilt={"settings": ["10 deg", "15 deg"]},
        fixture__hand_cross={"range": ["0 mm", "9 mm"], "resolution": "0.5 mm"},
    )
    assert hand_tilt_deg(machine, 12.6) == 15.0
    assert hand_cross_mm(machine, 3.37) == 3.5
    # Free: wherever it is wanted.
    assert hand_cross_mm(a_machine(), 3.37) == 3.37


def test_a_shim_is_that_of_a_sine_bar():
    wedge, shim = wedge_ways(12.5, 10.0)
    assert wedge.facts == {"wanted_deg": 12.5}
    # By hand: 100 sin 2.5 = 4.3619 mm.
    assert shim.facts["shim_mm"] == pytest.approx(4.3619, abs=1e-4)
    assert shim.facts["base_mm"] == 100.0


def test_a_wedge_of_the_other_sign_is_turned_round():
    wedge, turned = wedge_ways(-12.5, 12.5)
    assert wedge.facts == {"wanted_deg": -12.5}
    # Source: docs/describe-your-machine.md: a wedge that may be turned round is listed twice.
    assert (turned.rule, turned.facts) == ("turned-wedge", {"has_deg": 12.5, "wanted_deg": -12.5})


def test_a_stop_lets_angles_in_and_counts_its_own_error():
    job = a_job()
    hand = {"settings": ["3.4 mm"], "repeatability": "0.04 mm"}
    for machine, follows in (
        (a_machine(axes__Y=GONE), 0.0),
        (a_machine(axes__Y=GONE, fixture__hand_cross=hand), 75.0),
    ):
        section = as_held(job, machine, section_for(job, 75.0))
        relief = section.reliefs[0]
        spread = face_spread(job, machine, machine.rack[0], section.faces[0], relief, 75.0)
        causes = {c.name: c for c in spread.causes}
        # Source: docs/tolerance.md: R along the face per radian from a stop, nothing by the mark.
        assert causes["tilt"].edge_land_per_unit == follows
        if follows:
            assert causes["cross repeatability"].sd == 0.04
            # By hand: 3.4 less the middle of 3.3652.
            assert spread.aside_mm == pytest.approx(0.0348, abs=1e-4)
        else:
            assert "cross repeatability" not in causes
            assert spread.aside_mm == 0.0


kinds = st.fixed_dictionaries(
    {
        "flip": st.sampled_from(["end_for_end", "over", "by_tilt"]),
        "face": st.sampled_from(["A", "B"]),
        "tilt": st.sampled_from(["powered", "scale", "wedges"]),
        "cross": st.sampled_from(["powered", "scale", "stops", "free"]),
        "invert": st.sets(st.sampled_from("XYZA")),
        "units": st.sampled_from(["mm", "inch"]),
        "edge": st.sampled_from(["0 mm", "0.3 mm"]),
    }
)


def profile(kind):
    tilts = {
        "powered": {"axes__A__resolution": "0.7 deg"},
        "scale": {"axes__A": GONE, "fixture__hand_tilt": {
            "range": ["-90 deg", "90 deg"], "resolution": "2 deg"}},
        "wedges": {"axes__A": GONE, "fixture__hand_tilt": {
            "settings": ["-79 deg", "-12 deg", "10 deg", "12 deg", "75 deg"]}},
    }[kind["tilt"]]  # fmt: skip
    crosses = {
        "powered": {},
        "scale": {"axes__Y": GONE, "fixture__hand_cross": {
            "range": ["0 mm", "9 mm"], "resolution": "0.2 mm"}},
        "stops": {"axes__Y": GONE, "fixture__hand_cross": {"settings": ["3.2 mm", "3.5 mm"]}},
        "free": {"axes__Y": GONE},
    }[kind["cross"]]  # fmt: skip
    there = {"X", "Z"} | ({"Y"} if kind["cross"] == "powered" else set())
    there |= {"A"} if kind["tilt"] == "powered" else set()
    inverts = {f"axes__{letter}__invert": True for letter in kind["invert"] & there}
    return a_machine(
        controller__units=kind["units"], fixture__flip=kind["flip"], **tilts, **crosses, **inverts
    )


@QUICK
@given(kind=kinds, share=st.tuples(*[st.floats(0, 1)] * 3))
def test_inverse_then_forward_returns_the_point_over_the_whole_travel(kind, share):
    """From program words through the proof's frame to the blade, and back through the planner's."""
    machine = profile(kind)
    job = a_job(blade__section__edge_thickness=kind["edge"])
    section = as_held(job, machine, section_for(job, 75.0))
    relief = section.relief(kind["face"])
    assert relief is not None
    frame = relief_frame(machine, section, relief, 80.0)
    case = build_case(job, machine, kind["face"], machine.rack[0])
    assert held_tilt_deg(case) == pytest.approx(frame.tilt_deg, abs=1e-9)
    words = {}
    for (letter, axis), at in zip(
        ((k, a) for k, a in machine.axes.items() if a.role != "tilt"), share, strict=False
    ):
        low, high = axis.travel_mm
        words[axis.role] = (letter, low + at * (high - low), -1.0 if axis.invert else 1.0)
    touch = {role: sign * value for role, (_, value, sign) in words.items()}
    x_mm = case.frame.x_mm(touch["traverse"])
    cross = touch.get("cross", 0.0)
    centre = np.array(case.frame.centre(cross, touch["infeed"], held_tilt_deg(case)))
    # Back: the two directions are at right angles and of length one.
    away = centre - np.array(frame.origin_yz_mm)
    back = {
        "traverse": (x_mm - frame.x_at_zero_mm) / frame.x_per_traverse,
        "infeed": float(away @ np.array(frame.infeed_dir_yz)),
        "cross": float(away @ np.array(frame.cross_dir_yz)),
    }
    for role, (_, value, sign) in words.items():
        assert sign * back[role] == pytest.approx(value, abs=1e-9)
    if "cross" not in words:
        assert back["cross"] == pytest.approx(0.0, abs=1e-9)


@QUICK
@given(kind=kinds)
def test_the_wheel_ends_at_its_depth_where_the_settings_put_it(kind):
    machine = profile(kind)
    job = a_job(blade__section__edge_thickness=kind["edge"])
    section = as_held(job, machine, section_for(job, 75.0))
    relief = section.relief(kind["face"])
    assert relief is not None
    frame = relief_frame(machine, section, relief, 80.0)
    case = build_case(job, machine, kind["face"], machine.rack[0])
    for depth in (0.0, relief.depth_mm / 2, relief.depth_mm):
        infeed, cross = frame.position(depth)
        centre = case.frame.centre(cross, infeed, held_tilt_deg(case))
        # Property: the proof finds the wheel at that depth, over the place that the plan tells.
        assert case.face.depth_mm(centre) == pytest.approx(depth - 75.0, abs=1e-9)
        assert case.face.place_mm(centre) == pytest.approx(relief.middle_at_mm(depth), abs=1e-9)
    # By hand: what the settings put aside is on one land and off the other.
    lands = relief.edge_land_mm, relief.shoulder_land_mm
    aside = relief.middle_at_mm(relief.depth_mm) - relief.asked_middle_mm
    assert lands == pytest.approx((1.2 + aside, 1.4 - aside), abs=1e-9)
    drift = relief.depth_mm * math.tan(math.radians(abs(frame.tilt_deg - frame.ideal_tilt_deg)))
    wanted = 0.0 if kind["cross"] == "powered" else drift
    assert abs(relief.drift_mm) == pytest.approx(wanted, abs=1e-9)
