"""The touch frame against its table in docs/frames.md, and the wheel's final position."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.kinematics.touch_frame import (
    linear_axis,
    reachable_tilt_deg,
    relief_frame,
    smallest_step_mm,
)
from planner.section.target import section_for
from tests.samples import GONE, a_job, a_machine

QUICK = settings(max_examples=80, deadline=None, derandomize=True)

LENGTH = 80.0


def scale(resolution="0.1 deg", low=-95, high=95):
    """A machine without a tilt axis, tilted on a scale by hand."""
    tilt = {"range": [f"{low} deg", f"{high} deg"], "resolution": resolution}
    return {"axes__A": GONE, "fixture__hand_tilt": tilt}


def framed(face, job=None, **machine):
    job = job or a_job(
        blade__section__included_angle=GONE,
        blade__section__angle_a="11 deg",
        blade__section__angle_b="14 deg",
        blade__section__edge_thickness="0.2 mm",
    )
    section = section_for(job, 75.0)
    relief = section.relief(face)
    assert relief is not None
    frame = relief_frame(a_machine(**machine), section, relief, LENGTH)
    return section, relief, frame


def face_vectors(face, angle_deg):
    """Along the face, edge to shoulder, and its outward normal (docs/frames.md)."""
    side = 1 if face == "A" else -1
    angle = math.radians(angle_deg)
    return (
        np.array([math.cos(angle), side * math.sin(angle)]),
        np.array([-math.sin(angle), side * math.cos(angle)]),
    )


def middle_of_relief(face, section, relief):
    side = 1 if face == "A" else -1
    along, _ = face_vectors(face, section.face(face).angle_deg)
    return np.array([0, side * section.edge_thickness_mm / 2]) + relief.middle_mm * along


# Source: docs/frames.md, table of the touch frame: flip, face, ideal tilt, sign of cross_dir
# along u, x at zero, x per traverse; bevels of 11 and 14 deg.
TABLE = [
    ("end_for_end", "A", 11.0, +1, 0.0, +1),
    ("over", "A", 11.0, +1, 0.0, +1),
    ("end_for_end", "B", 14.0, +1, LENGTH, -1),
    ("over", "B", -14.0, -1, 0.0, +1),
    ("by_tilt", "A", -79.0, +1, 0.0, +1),
    ("by_tilt", "B", 76.0, -1, 0.0, +1),
]


@pytest.mark.parametrize(("flip", "face", "tilt", "sign", "x_at_zero", "x_per"), TABLE)
def test_the_table_of_frames(flip, face, tilt, sign, x_at_zero, x_per):
    section, relief, frame = framed(face, fixture__flip=flip)
    along, normal = face_vectors(face, section.face(face).angle_deg)
    assert frame.ideal_tilt_deg == pytest.approx(tilt)
    assert frame.tilt_deg == pytest.approx(tilt)
    assert frame.cross_dir_yz == pytest.approx(sign * along, abs=1e-12)
    assert frame.infeed_dir_yz == pytest.approx(normal, abs=1e-12)
    assert (frame.x_at_zero_mm, frame.x_per_traverse) == (x_at_zero, x_per)
    # The origin: the wheel bares on the unground face, its radius out along the normal.
    wanted = middle_of_relief(face, section, relief) + 75.0 * normal
    assert frame.origin_yz_mm == pytest.approx(wanted, abs=1e-12)
    assert frame.position(0.02) == pytest.approx((-0.02, 0.0), abs=1e-12)


def in_the_machine(flip, face, point, tilt_deg):
    """Where a point of the section stands in the machine: turned as the person does it.

    Cross axis and "up", away from the blade. Written from the words of docs/frames.md.
    """
    y, z = point
    if flip == "by_tilt":
        # The edge points straight at the wheel: up is towards the edge, and face A, at +z, is
        # on the side of the positive cross axis.
        cross, up = z, -y
    elif face == "A":
        cross, up = y, z
    elif flip == "end_for_end":
        # Turned about the height: heel and tip exchanged, face B up, the edge where it was.
        cross, up = y, -z
    else:
        # Turned about the length: face B up, the edge at the other side.
        cross, up = -y, -z
    turn = math.radians(tilt_deg)
    # The fixture tilts the blade back by the tilt, so that the directions turn by it the other way.
    return (
        cross * math.cos(turn) + up * math.sin(turn),
        -cross * math.sin(turn) + up * math.cos(turn),
    )


@pytest.mark.parametrize(("flip", "face", "tilt", "sign", "x_at_zero", "x_per"), TABLE)
def test_a_point_set_up_by_hand_stands_where_the_frame_says(
    flip, face, tilt, sign, x_at_zero, x_per
):
    section, relief, frame = framed(face, fixture__flip=flip)
    along, _ = face_vectors(face, section.face(face).angle_deg)
    # Property: the bevel face lies along the cross axis and faces up to the wheel.
    start, end = (
        in_the_machine(flip, face, middle_of_relief(face, section, relief) + s * along, tilt)
        for s in (0.0, 1.0)
    )
    assert end[0] - start[0] == pytest.approx(sign)
    assert end[1] - start[1] == pytest.approx(0.0, abs=1e-12)
    inside = in_the_machine(flip, face, (section.width_mm / 2, 0.0), tilt)
    assert inside[1] < start[1]
    # Property: a step of cross or infeed is that step in the machine.
    for direction, step in ((frame.cross_dir_yz, (1, 0)), (frame.infeed_dir_yz, (0, 1))):
        here, there = (
            in_the_machine(flip, face, p, tilt)
            for p in (frame.origin_yz_mm, np.add(frame.origin_yz_mm, direction))
        )
        assert np.subtract(there, here) == pytest.approx(step, abs=1e-12)


flips = st.sampled_from(["end_for_end", "over", "by_tilt"])


@QUICK
@given(
    flip=flips,
    face=st.sampled_from(["A", "B"]),
    bevels=st.tuples(st.floats(8, 30), st.floats(8, 30)),
    step_deg=st.sampled_from(["0.1 deg", "1 deg", "3 deg", "5 deg"]),
    cross=st.booleans(),
    edge=st.sampled_from(["0 mm", "0.3 mm"]),
)
def test_the_wheel_ends_at_its_depth_whatever_tilt_exists(
    flip, face, bevels, step_deg, cross, edge
):
    job = a_job(
        blade__section__included_angle=GONE,
        blade__section__angle_a=f"{bevels[0]:.6f} deg",
        blade__section__angle_b=f"{bevels[1]:.6f} deg",
        blade__section__thickness="4 mm",
        blade__section__edge_thickness=edge,
        relief__edge_land="0.5 mm",
        relief__shoulder_land="0.4 mm",
        relief__min_steel_left="0 mm",
    )
    without = {} if cross else {"axes__Y": GONE}
    section, relief, frame = framed(face, job, fixture__flip=flip, **scale(step_deg), **without)
    _, normal = face_vectors(face, section.face(face).angle_deg)
    assert abs(frame.tilt_deg - frame.ideal_tilt_deg) <= float(step_deg.split()[0]) / 2 + 1e-9
    for depth in (0.0, relief.depth_mm / 3, relief.depth_mm):
        infeed, at_cross = frame.position(depth)
        centre = (
            np.array(frame.origin_yz_mm)
            + at_cross * np.array(frame.cross_dir_yz)
            + infeed * np.array(frame.infeed_dir_yz)
        )
        away = centre - middle_of_relief(face, section, relief)
        # Property: the circle stands R - d from the face; with a cross axis over the middle too.
        assert away @ normal == pytest.approx(75.0 - depth, abs=1e-9)
        if cross:
            assert centre == pytest.approx(
                middle_of_relief(face, section, relief) + (75.0 - depth) * normal, abs=1e-9
            )
        else:
            assert at_cross == 0.0


@QUICK
@given(
    flip=flips,
    face=st.sampled_from(["A", "B"]),
    step_deg=st.sampled_from(["0.1 deg", "5 deg"]),
    place=st.tuples(st.floats(-100, 100), st.floats(-40, 40), st.floats(-5, 60)),
)
def test_inverse_then_forward_returns_the_point(flip, face, step_deg, place):
    _, _, frame = framed(face, fixture__flip=flip, **scale(step_deg))
    traverse, cross, infeed = place
    x = frame.x_at_zero_mm + frame.x_per_traverse * traverse
    centre = (
        np.array(frame.origin_yz_mm)
        + cross * np.array(frame.cross_dir_yz)
        + infeed * np.array(frame.infeed_dir_yz)
    )
    # Back again, by projecting: the directions are at right angles and of length one.
    away = centre - np.array(frame.origin_yz_mm)
    assert away @ np.array(frame.cross_dir_yz) == pytest.approx(cross, abs=1e-9)
    assert away @ np.array(frame.infeed_dir_yz) == pytest.approx(infeed, abs=1e-9)
    assert (x - frame.x_at_zero_mm) / frame.x_per_traverse == pytest.approx(traverse, abs=1e-9)
    # Property: the blade is turned, never mirrored.
    (a, b), (c, d) = frame.cross_dir_yz, frame.infeed_dir_yz
    assert (a * d - b * c) * frame.x_per_traverse == pytest.approx(1.0)


def test_a_tilt_that_is_off_costs_the_infeed_its_cosine():
    # By hand: bevel 12.5 deg, scale in steps of 5 deg: 10 or 15, 2.5 deg off either way.
    _, _, frame = framed("A", a_job(), **scale("5 deg"))
    assert abs(frame.tilt_deg - 12.5) == pytest.approx(2.5)
    infeed, cross = frame.position(1.0)
    assert infeed == pytest.approx(-math.cos(math.radians(2.5)))
    assert abs(cross) == pytest.approx(math.sin(math.radians(2.5)))
    # Without a cross axis the infeed alone goes the slanting way, which is longer.
    _, _, frame = framed("A", a_job(), **scale("5 deg"), axes__Y=GONE)
    assert frame.position(1.0) == (pytest.approx(-1 / math.cos(math.radians(2.5))), 0.0)


@pytest.mark.parametrize(
    ("machine", "wanted", "found"),
    [
        # By hand: the coarser of axis and last written decimal.
        ({"axes__A__resolution": "0.5 deg"}, 12.3, 12.5),
        ({"axes__A__resolution": "0.001 deg", "controller__rotary_decimals": 2}, 12.346, 12.35),
        ({"axes__A__resolution": "0.0001 deg"}, -12.3456, -12.346),
        # By hand, docs/frames.md: of two as near as each other the lower.
        ({"axes__A__resolution": "0.1 deg"}, 12.55, 12.5),
        ({"axes__A__resolution": "0.5 deg"}, -12.25, -12.5),
        (scale("0.25 deg", 0, 30), 12.3, 12.25),
        # The scale's own range, and only whole divisions inside it.
        (scale("0.5 deg", 0, 30), -14.0, 0.0),
        (scale("2 deg", -11, 11), 14.0, 10.0),
        ({"axes__A": GONE}, 12.5, 0.0),
    ],
)
def test_the_tilt_that_exists(machine, wanted, found):
    assert reachable_tilt_deg(a_machine(**machine), wanted) == pytest.approx(found, abs=1e-12)


@pytest.mark.parametrize(
    ("controller", "resolution", "step"),
    [
        # By hand: the least common multiple of the axis's step and the last written decimal.
        ({"decimals": 4}, "0.001 mm", 0.001),
        ({"decimals": 3}, "0.001 mm", 0.001),
        ({"decimals": 3}, "0.0025 mm", 0.005),
        ({"decimals": 4}, "0.00125 mm", 0.0025),
        ({"decimals": 5}, "0.00125 mm", 0.00125),
        ({"decimals": 3}, "0.0001 mm", 0.001),
        ({"decimals": 4, "units": "inch"}, "0.0001 in", 0.00254),
        ({"decimals": 4, "units": "inch"}, "0.0254 mm", 0.0254),
        # Between inch and mm no step of a useful size is exact: the coarser of the two.
        ({"decimals": 4, "units": "inch"}, "0.001 mm", 0.00254),
        ({"decimals": 4, "units": "inch"}, "0.003 mm", 0.003),
        # An axis finer than anything that is written.
        ({"decimals": 5}, "0.00000001 mm", 0.00001),
    ],
)
def test_the_smallest_step(controller, resolution, step):
    changes = {f"controller__{k}": v for k, v in controller.items()}
    machine = a_machine(axes__Z__resolution=resolution, **changes)
    found = smallest_step_mm(machine, linear_axis(machine, "infeed"))
    assert found == pytest.approx(step, rel=1e-12)


@QUICK
@given(decimals=st.integers(3, 5), ticks=st.integers(1, 4000), inch=st.booleans())
def test_whole_steps_are_written_exactly(decimals, ticks, inch):
    resolution = ticks * 5e-6
    machine = a_machine(
        controller__decimals=decimals,
        controller__units="inch" if inch else "mm",
        axes__Z__resolution=f"{resolution:.6f} mm",
    )
    step = smallest_step_mm(machine, linear_axis(machine, "infeed"))
    written = 10.0**-decimals * (25.4 if inch else 1.0)
    # Property: at least both; exact where both divide it.
    assert step >= max(written, resolution) * (1 - 1e-9)
    exact = all(abs(step / s - round(step / s)) < 1e-6 for s in (written, resolution))
    assume(not exact)
    assert step == pytest.approx(max(written, resolution))
