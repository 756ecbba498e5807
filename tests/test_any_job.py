"""Any valid job on any valid machine is refused in words, or its programs prove.

`BEVELWRIGHT_THOROUGH=1` in the environment tries a thousand of each; another number, so many.
"""

import math
import os
import re
from functools import cache

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from planner.errors import RefusedError
from planner.inputs.fixture import Row
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.produce import produce, programs_for
from planner.proof.prove import prove_program
from planner.report.refusals import refusal_words, way_out_words
from tests.planning import DIGEST, planned
from tests.samples import GONE, MACHINE, a_job, a_machine

THOROUGH = int(os.environ.get("BEVELWRIGHT_THOROUGH", "0"))
if THOROUGH == 1:
    THOROUGH = 1000


def examples(usual):
    return settings(
        max_examples=THOROUGH or usual,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow],
        derandomize=not THOROUGH,
    )


def number(value):
    """A figure as a file may write it: no power of ten."""
    return f"{value:.7f}"


def between(low, high):
    """Log-uniform, so that small and large values are tried alike; six digits, as people write."""
    exponents = st.integers(0, 1000)
    return exponents.map(lambda n: float(f"{low * (high / low) ** (n / 1000):.6g}"))


def quantity(low, high, unit):
    return between(low, high).map(lambda v: f"{number(v)} {unit}")


def mostly(value, other):
    return st.integers(0, 7).flatmap(lambda n: other if n == 7 else st.just(value))


@st.composite
def jobs(draw, machine, fits):
    """A job; its reliefs are mostly of a size that the machine's first wheel can make.

    Where it ``fits``, it asks for what most shops can do.
    """
    wheel = machine.rack[0]
    radius_mm = wheel.form_radius_mm or wheel.diameter_mm / 2
    operations = draw(operation_lists(machine))
    from_the_bar = any(o["do"] == "bevel" for o in operations or ())
    in_lines = draw(st.integers(0, 5)) == 5
    # Depth in steps sets how long the search for passes takes.
    most_mm = draw(st.integers(3, 60)) * max(machine.axes["Z"].resolution_mm, 5e-4)
    thickness = draw(between(0.8, 1.6 if from_the_bar else 8))
    angles = [draw(between(10, 16) if fits else between(4, 40))] * 2
    if draw(st.booleans()):
        written = {"included_angle": f"{number(2 * angles[0])} deg"}
    else:
        angles[1] *= draw(between(0.8, 1.25))
        written = {f"angle_{f}": f"{number(a)} deg" for f, a in zip("ab", angles, strict=True)}
    edge = draw(mostly(0.0, st.floats(0.01, 0.5))) * thickness
    tangent, sine = math.tan(math.radians(min(angles))), math.sin(math.radians(max(angles)))
    height, face = (thickness - edge) / 2 / tangent, (thickness - edge) / 2 / sine
    edge_land = draw(st.integers(10 if fits else 0, 48)) / 100 * face
    chord = (face - edge_land) * draw(st.integers(40, 80 if fits else 105)) / 100
    chord = min(chord, math.sqrt(8 * radius_mm * most_mm))
    shoulder_land = max(face - edge_land - chord, 0.0)
    depth = chord**2 / 8 / radius_mm + 1e-4
    if in_lines:
        depth /= draw(between(1.1, 6) if fits else between(0.9, 30))
    sizes = {"edge_land": edge_land, "shoulder_land": shoulder_land, "depth": min(depth, 9.9)}
    if in_lines:
        sizes["scallop"] = draw(between(0.0005, 0.02))
    else:
        del sizes[draw(st.sampled_from(["depth", "edge_land", "shoulder_land"]))]
    spread = {
        "thickness": draw(quantity(0.001, 0.05, "mm")),
        "bevel_angle": draw(quantity(0.01, 0.5, "deg")),
    }
    return a_job(
        quantity=draw(st.sampled_from([1, 1, 12])),
        wheel=draw(st.sampled_from(["fine", GONE])),
        operations=operations or GONE,
        spread=spread,
        blade__edge__length=draw(quantity(3, 400, "mm")),
        blade__section={
            "form": "double_bevel",
            "thickness": f"{number(thickness)} mm",
            "width": f"{number(height * draw(mostly(1.5, st.floats(0.9, 1.1))))} mm",
            "edge_thickness": f"{number(edge)} mm",
            **written,
        },
        relief={
            "faces": draw(st.sampled_from(["both", "A", "B"])),
            **{key: f"{number(size)} mm" for key, size in sizes.items()},
            "land_tolerance": draw(quantity(0.3 if fits else 0.03, 1, "mm")),
            "min_steel_left": draw(quantity(0.001, 0.05 if fits else 0.3, "mm")),
            "share_in_tolerance": 0 if fits else draw(st.sampled_from([0, 0.1, 0.5])),
            "residual_share": draw(st.sampled_from([0.25, 0.1, 1])),
        },
    )


@st.composite
def operation_lists(draw, machine):
    """None for the relief alone, or with bevel or lands by the flat wheel where there is one."""
    if machine.rack[-1].name != "flat" or draw(st.booleans()):
        return None
    # A flat seldom covers the face from a setting made for the relief.
    if machine.fixture.hand_cross is not None and draw(st.integers(0, 7)) < 7:
        return None
    found = [{"do": "relief"}]
    if draw(st.integers(0, 3)) == 3:
        found.insert(0, {"do": "bevel", "wheel": "flat"})
    if draw(st.booleans()):
        allowance = f"{number(draw(between(0.002, 0.03)))} mm"
        found.append({"do": "lands", "wheel": "flat", "allowance": allowance})
    return found


@st.composite
def shapes(draw, kind, width, *, flat):
    """Contact and shape of a wheel in the section."""
    if kind == "belt":
        if not flat:
            return {"contact": "along_edge"}
        return {"contact": "platen", "platen": {"length": draw(quantity(5, 100, "mm"))}}
    corner = {"corner_radius": f"{number(width * draw(st.integers(0, 20)) / 100)} mm"}
    if flat:
        return {"contact": "across_edge", **draw(mostly({}, st.just(corner)))}
    if draw(st.integers(0, 2)) < 2:
        return {"contact": "along_edge"}
    radius = {"form_radius": f"{number(draw(between(max(width / 2, 1), 300 + width)) + 1e-6)} mm"}
    return {"contact": "across_edge", **radius, **draw(mostly({}, st.just(corner)))}


@st.composite
def wheels(draw, name, kind, speed_rpm, flat=False):
    finish = draw(between(0.003, 0.03))
    diameter = draw(between(12, 400))
    width = draw(between(8, 60) if flat else between(1, 60))
    belt = {"thickness": draw(quantity(0.3, 2, "mm"))}
    belt |= draw(mostly({}, quantity(50, 5000, "N/mm").map(lambda k: {"wheel_stiffness": k})))
    belt |= draw(
        st.sampled_from([{}, {"speed": "15 m/s"}, {"drive_diameter": f"{number(diameter)} mm"}])
    )
    flange = {
        "diameter": f"{number(diameter * draw(st.floats(0.2, 0.97)))} mm",
        "width": f"{number(width * draw(st.floats(1.1, 3)))} mm",
    }
    flanged = not (kind == "belt" and flat)
    infeed = {
        "rough": f"{number(finish * draw(st.integers(1, 8)))} mm",
        "finish": f"{number(finish)} mm",
    }
    if draw(st.booleans()):
        infeed["finish_stock"] = f"{number(finish * draw(st.integers(0, 5)))} mm"
    return {
        **{k: v for k, v in MACHINE["rack"][0].items() if k != "g_ratio"},
        **draw(st.sampled_from([{}, {"g_ratio": 0.5}, {"g_ratio": 5}, {"g_ratio": 30}])),
        **draw(mostly({}, quantity(0.05, 2, "N").map(lambda f: {"threshold_force": f}))),
        "name": name,
        **draw(shapes(kind, width, flat=flat)),
        "diameter": f"{number(diameter)} mm",
        "diameter_error": draw(quantity(0.01, 1, "mm")),
        "width": f"{number(width)} mm",
        "marked_speed": f"{number(speed_rpm * draw(mostly(30, st.sampled_from([0.9, 1, 2]))))} rpm",
        "specific_energy": draw(quantity(3, 120, "J/mm3")),
        "force_ratio": draw(between(0.1, 1)),
        "infeed": infeed,
        **({"belt": belt} if kind == "belt" else {}),
        **({"flange": flange} if flanged and draw(st.integers(0, 3)) == 3 else {}),
        **({"feed": draw(quantity(50, 5000, "mm/min"))} if draw(st.booleans()) else {}),
    }


@st.composite
def linear_axes(draw, role, reach):
    tight = draw(mostly(1.0, st.sampled_from([0.3, 0.01])))
    step = mostly("0.001", st.sampled_from(["0.0005", "0.00125", "0.0025", "0.01", "0.003175"]))
    return {
        "role": role,
        "travel": [f"{number(-reach * tight)} mm", f"{number(reach * tight)} mm"],
        "max_feed": draw(quantity(100, 30000, "mm/min")),
        "acceleration": draw(quantity(5, 5000, "mm/s2")),
        "resolution": f"{draw(step)} mm",
        "repeatability": draw(quantity(0.0001, 0.02, "mm")),
        "invert": draw(st.booleans()),
        **draw(st.sampled_from([{}, {"zero_at": f"{number(draw(st.floats(-5, 5)))} mm"}])),
    }


degrees = st.integers(-900, 900).map(lambda n: f"{number(n / 10)} deg")
places = st.integers(0, 1500).map(lambda n: f"{number(n / 100)} mm")


@st.composite
def hand_tilts(draw, flip):
    """A scale, or wedges; mostly one of them within reach of usual bevels."""
    if draw(st.booleans()):
        steps = st.sampled_from(["0.1 deg", "0.5 deg", "2 deg", "5 deg"])
        return {"range": ["-90 deg", "90 deg"], "resolution": draw(steps)}
    usual = (78, -78) if flip == "by_tilt" else (12, -12)
    some = [f"{number(n + draw(st.integers(-30, 30)) / 10)} deg" for n in usual]
    return {"settings": [*some, *draw(st.lists(degrees, max_size=3))]}


@st.composite
def hand_crosses(draw, fits):
    """A scale, or stops."""
    hand = {"repeatability": draw(quantity(0.001, 0.2, "mm"))}
    if draw(st.booleans()):
        steps = ["0.01 mm", "0.1 mm"] + ([] if fits else ["0.25 mm", "1 mm"])
        return {**hand, "range": ["0 mm", "60 mm"], "resolution": draw(st.sampled_from(steps))}
    if not fits and draw(st.booleans()):
        return {**hand, "settings": draw(st.lists(places, min_size=1, max_size=4))}
    step = draw(st.integers(5, 30)) / 100
    return {**hand, "settings": [f"{number(n * step)} mm" for n in range(1, 150)]}


def controllers(dialect):
    """Units and decimals; a metre in millimetres and five decimals is more than 24 bits hold."""
    written = [{"units": u, "decimals": d} for u in ("mm", "inch") for d in (5, 4, 3)]
    if dialect == "small":
        written.remove({"units": "mm", "decimals": 5})
    return st.sampled_from(written)


@st.composite
def things(draw, far):
    """An outline somewhere about the blade or the wheel; far away, where most are out of reach."""
    away = 600.0 if far else 0.0
    low, high = sorted(draw(st.tuples(st.floats(-80, 80), st.floats(81, 160))))
    y, z = draw(st.floats(-80, 80)) - away, draw(st.floats(-80, 80)) - away
    w, h = draw(between(0.5, 80)), draw(between(0.5, 80))
    points = [(y, z), (y + w, z), (y + w, z + h), (y, z + h)]
    if draw(st.booleans()):
        points.append((y + 0.4 * w, z + 0.5 * h))
    return {
        "outline": [[f"{number(a)} mm", f"{number(b)} mm"] for a, b in points],
        "from": f"{number(low)} mm",
        "to": f"{number(high)} mm",
    }


@st.composite
def machines(draw, fits):
    dialect = draw(st.sampled_from(["rs274ngc", "small"]))
    kind = draw(st.sampled_from(["wheel", "belt"]))
    speed_rpm = draw(between(200, 6000))
    axes = {
        "X": draw(linear_axes("traverse", 1000)),
        "Z": draw(linear_axes("infeed", 200)),
    }
    if fits:
        axes["Z"]["resolution"] = "0.0005 mm"
    cross = draw(st.sampled_from(["powered", "powered", "free", "hand"]))
    if cross == "powered":
        axes["Y"] = draw(linear_axes("cross", 100))
    held = "powered" if dialect == "rs274ngc" and draw(st.booleans()) else "scale"
    tilt = draw(mostly(held, st.sampled_from(["scale", "none"])))
    flips = ["end_for_end", "over"] + (["by_tilt"] if tilt != "none" else [])
    fixture = {
        "flip": draw(st.sampled_from(flips)),
        "run_off": draw(quantity(0.5, 40, "mm")),
        "clearance": draw(quantity(0.2, 30, "mm")),
        "touch_off": draw(quantity(0.0005, 0.03, "mm")),
        "touch_off_each": draw(st.sampled_from(["blade", "batch"])),
        "cross_setting": draw(quantity(0.001, 0.3, "mm")),
        "cross_set_by": draw(st.sampled_from(["witness_mark", "witness_mark", "stop"])),
    }
    fixture |= draw(mostly({}, quantity(3, 40, "mm").map(lambda o: {"overhang": o})))
    fixture |= draw(st.sampled_from([{}, {}, {"cooling": "dip"}]))
    if tilt == "powered":
        axes["A"] = {
            "role": "tilt",
            "travel": ["-95 deg", draw(mostly("95 deg", st.just("10 deg")))],
            "max_feed": draw(quantity(60, 10000, "deg/min")),
            "acceleration": draw(quantity(5, 5000, "deg/s2")),
            "resolution": draw(st.sampled_from(["0.001 deg", "0.015 deg", "0.1 deg", "2 deg"])),
            "invert": draw(st.booleans()),
            "zero_at": f"{number(draw(st.floats(-2, 2)))} deg",
        }
    elif tilt == "scale":
        fixture["hand_tilt"] = draw(hand_tilts(fixture["flip"]))
    if cross == "hand":
        fixture["hand_cross"] = draw(hand_crosses(fits))
    if not fits and draw(st.integers(0, 4)) == 4:
        fixture["jaws"] = {
            "from_edge": draw(mostly("60 mm", quantity(3, 60, "mm"))),
            "above_flank": draw(mostly("0.2 mm", quantity(0.1, 20, "mm"))),
        }
    in_the_way = {}
    if draw(st.integers(0, 3)) == 3:
        obstacles = draw(st.lists(things(far=fits), max_size=2))
        fixture["obstacles"] = [{**o, "name": f"thing {n}"} for n, o in enumerate(obstacles)]
        if fixture["flip"] == "over":
            fixture["turn_line"] = f"{number(draw(st.floats(-20, 40)))} mm"
        if draw(st.booleans()):
            in_the_way["guard"] = draw(things(far=fits))
        if draw(st.booleans()):
            in_the_way["head"] = [{**draw(things(far=fits)), "name": "motor"}]
    coolant = draw(
        st.sampled_from(
            [{"kind": "dry"}, {"kind": "flood"}, {"kind": "mist", "on": "M8", "off": "M9"}]
            + ([{"kind": "mist", "on": "M7", "off": "M9"}] if dialect == "rs274ngc" else [])
        )
    )
    changes = {
        "kind": kind,
        "controller": {
            "dialect": dialect,
            **draw(mostly({"units": "mm", "decimals": 4}, controllers(dialect))),
            **draw(mostly({}, quantity(1, 100, "blocks/s").map(lambda r: {"block_rate": r}))),
            "rotary_decimals": draw(st.integers(2, 5)),
            "path_tolerance": draw(quantity(0.0005, 0.05, "mm")),
        },
        "axes": axes,
        "spindle": {
            "speed": f"{number(speed_rpm)} rpm",
            "power": draw(quantity(5, 3000, "W")),
            "efficiency": draw(between(0.3, 1)),
            "control": draw(st.sampled_from(["program", "by_hand"])),
            "spin_up": f"{number(draw(mostly(5.0, st.floats(0, 30))))} s",
            "direction": draw(st.sampled_from(["clockwise", "counterclockwise"])),
        },
        "stiffness": draw(quantity(2000 if fits else 30, 50_000, "N/mm")),
        "coolant": coolant,
        "fixture": fixture,
        **in_the_way,
        "limits": {"normal_force": draw(quantity(0.3, 300, "N"))},
        "rack": [draw(wheels("fine", kind, speed_rpm))]
        + ([draw(wheels("other", kind, speed_rpm))] if draw(st.booleans()) else [])
        + ([draw(wheels("flat", kind, speed_rpm, flat=True))] if draw(st.booleans()) else []),
    }
    return a_machine(**{k.replace(".", "__"): v for k, v in changes.items()})


@st.composite
def rows(draw, job, machine):
    """The machine with a row of one to four blades, or as it is; and stations left out.

    The stations are mostly as near as they may be for the first wheel.
    """
    count = draw(st.sampled_from([0, 0, 1, 2, 3, 4]))
    if not count:
        return machine, ()
    fixture = machine.fixture
    apart = job.blade.edge.length_mm + machine.rack[0].width_mm + fixture.run_off_mm
    apart = math.ceil(100 * apart * draw(mostly(1.0, st.floats(0.95, 1.3)))) / 100
    row = {
        "positions": [f"{number(n * apart)} mm" for n in range(count)],
        "seats": draw(quantity(0.0005, 0.03, "mm")),
    }
    skip = tuple(sorted(draw(st.sets(st.integers(1, count), max_size=count - 1))))
    fixture = fixture.model_copy(update={"row": Row.model_validate(row)})
    return machine.model_copy(update={"fixture": fixture}), skip


def refusals_of(job, machine, skip):
    """The plan, or the reasons why there is none."""
    try:
        return planned(job, machine, skip=skip), ()
    except RefusedError as refused:
        return None, refused.refusals


def test_refused_in_words_or_proved():
    planned_that_fit: list[bool] = []

    @examples(40)
    @given(st.data())
    def judge(data):
        fits = data.draw(st.booleans())
        machine: Machine = data.draw(machines(fits))
        job: Job = data.draw(jobs(machine, fits))
        machine, skip = data.draw(rows(job, machine))
        plan, refusals = refusals_of(job, machine, skip)
        if fits:
            planned_that_fit.append(plan is not None)
        if plan is None:
            assert refusals
            for refusal in refusals:
                assert len(refusal_words(refusal)) > 20
                for way in refusal.ways_out:
                    assert len(way_out_words(way)) > 5
            return
        # Property: produce raises ProofError where any program does not prove.
        produced = produce(plan, ())
        programs = [n for n in produced.files if n.endswith(".ngc")]
        assert len(programs) == 2 * len(plan.setups)
        assert all(produced.verdicts[n].ok for n in programs)

    judge()
    # A planner that refuses everything would keep the property too.
    assert len(planned_that_fit) >= 10
    assert sum(planned_that_fit) >= len(planned_that_fit) / 3


titles = st.text(
    st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=120
).filter(str.strip)
names = st.text(st.sampled_from("abzABZ059 .,=_+-()%;*/#~!?"), min_size=1, max_size=60)


@examples(25)
@given(title=titles, machine_title=titles)
def test_what_a_user_writes_never_becomes_motion(title, machine_title):
    try:
        job, machine = easy_job(title=title), easy_machine(title=machine_title)
    except ValidationError:
        event("title refused")
        return
    other = programs_for(planned(job, machine), DIGEST)
    for name, text in plain_programs().items():
        lines = [t.decode("ascii").split("\n") for t in (text, other[name])]
        # Property: only the title's own comment differs.
        differ = [b for a, b in zip(*lines, strict=True) if a != b]
        assert len(differ) <= 1
        for line in differ:
            assert re.fullmatch(r"\(title [A-Za-z0-9 .,:=_+-]*\)", line)
            assert len(line) <= 70


@examples(20)
@given(name=names)
def test_a_wheel_by_any_name_is_refused_at_once_or_grinds_alike(name):
    try:
        machine = easy_machine(rack__0__name=name)
        job = easy_job(wheel=name)
    except ValidationError:
        event("name refused")
        return
    event("name taken")
    plan = planned(job, machine)
    for file, text in programs_for(plan, DIGEST).items():
        # Property: only the wheel's own comment differs; and the program still proves.
        pairs = zip(plain_programs()[file].split(b"\n"), text.split(b"\n"), strict=True)
        assert {b[:7] for a, b in pairs if a != b} <= {b"(wheel "}
        assert prove_program(text, job, machine).ok


@cache
def plain_programs():
    return programs_for(planned(easy_job(), easy_machine()), DIGEST)


def easy_machine(**changes):
    """Few steps and an easy cut: planned in a moment."""
    return a_machine(
        axes__Z__resolution="0.005 mm",
        stiffness="20000 N/mm",
        rack__0__specific_energy="5 J/mm3",
        rack__0__infeed={"rough": "0.02 mm", "finish": "0.005 mm"},
        **changes,
    )


def easy_job(**changes):
    return a_job(relief__faces="A", **changes)
