"""`write` from the outside: every file, the same bytes again, all of it or nothing."""

import hashlib
import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from tests.canonical import needs_rs274
from tests.commands import EASY, JOBS, PAGE_ENDS, QUICK, ROOT, SHEET_ENDS, process, run, written
from tests.planning import read_text


def contents(folder):
    """Every file of a folder and its bytes."""
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


@pytest.fixture(params=JOBS, ids=lambda p: p.stem, scope="module")
def made(request):
    folder = written(request.param)
    data = json.loads((folder / "plan.json").read_text())
    return request.param, folder, data


# --- the files ----------------------------------------------------------------------------------


def test_every_file_and_no_other(made):
    _, folder, data = made
    expected = {"plan.json", "section.svg", "cut.svg", "preview.html"}
    for setup in data["setups"]:
        name = setup["name"]
        expected |= {f"setup-{name}.ngc", f"setup-{name}-air.ngc"}
        expected |= {f"setup-{name}{end}" for end in SHEET_ENDS}
        assert setup["program"] == f"setup-{name}.ngc"
    expected |= {f"{stem}{end}" for stem in ("inspection", "traveller") for end in PAGE_ENDS}
    assert set(contents(folder)) == expected
    assert {p.stat().st_mode & 0o444 for p in folder.iterdir()} == {0o444}
    # Nothing is left beside it.
    assert [p.name for p in folder.parent.iterdir()] == ["out"]


# The longest along a curve or an arc are left out: belly-knife, lined-belly-knife and
# strip-hook-knife are of the same kinds.
TWICE = [
    job
    for job in JOBS
    if job.stem
    not in ("belly-bar-knife", "gentle-bar-knife", "convex-belly-knife", "convex-hook-knife")
]


@pytest.mark.parametrize("job", TWICE, ids=lambda p: p.stem)
def test_the_same_bytes_on_a_second_run(job, tmp_path):
    folder = written(job)
    assert run("write", job, "--out", tmp_path / "again").code == 0
    assert contents(tmp_path / "again") == contents(folder)


def test_the_same_bytes_in_a_process_of_its_own(tmp_path):
    # Another hash seed, another time zone, and the path of the job written otherwise.
    assert write("--out", tmp_path / "here").code == 0
    running = process(
        "write", QUICK.relative_to(ROOT), *EASY, "--out", tmp_path / "out",
        stdout=subprocess.DEVNULL, env={"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo"},
    )  # fmt: skip
    assert running.wait(timeout=60) == 0
    assert contents(tmp_path / "out") == contents(tmp_path / "here")


# Source: the keys that plan.json has at least, in this order; others may stand between them.
KEYS = {
    "": "format job machine section tolerance setups totals cautions proof",
    "job": "title file sha256",
    "machine": "title file sha256",
    "section": "form bevel_height_mm bevel_face_mm outline_before_mm outline_after_mm reliefs "
    "steel_left_mm",
    "section.reliefs": "face depth_mm chord_mm edge_land_mm shoulder_land_mm removed_area_mm2",
    "tolerance": "land_mm depth_mm predicted_land_sd_mm land_change_per_depth",
    "setups": "name face program wheel contact wheel_radius_mm tilt_deg touch_frame axes passes",
    "setups.touch_frame": "origin_yz_mm cross_dir_yz infeed_dir_yz x_at_zero_mm x_per_traverse",
    "setups.passes": "n kind infeed_mm cross_mm reached_depth_mm removed_area_mm2 feed_mm_min "
    "normal_force_n power_w edge_temperature_c time_s",
    "totals": "passes spark_out_passes time_s removed_volume_mm3 removed_mass_g",
    "cautions": "topic level text basis",
    "proof.programs": "program sha256 ok lands_mm faults",
}


def reached(data, path):
    """Every mapping at a path, lists taken apart."""
    at = [data]
    for key in path.split(".") if path else []:
        at = [x for each in at for x in (each[key] if isinstance(each[key], list) else [each[key]])]
    return at


@pytest.mark.parametrize("path", KEYS, ids=lambda p: p or "top")
def test_keys_and_their_order(made, path):
    found = reached(made[2], path)
    assert found
    for mapping in found:
        wanted = KEYS[path].split()
        assert [k for k in mapping if k in wanted] == wanted


def test_plan_json_is_utf8_and_ends_in_one_newline(made):
    raw = (made[1] / "plan.json").read_bytes()
    assert raw.endswith(b"}\n")
    assert b"\r" not in raw
    assert not re.search(rb"NaN|Infinity|: -0\.0\b", raw)
    raw.decode("utf-8")


def test_digests(made):
    job, folder, data = made
    assert data["job"]["file"] == job.name
    assert data["job"]["sha256"] == hashlib.sha256(job.read_bytes()).hexdigest()
    machine = ROOT / "machines" / data["machine"]["file"]
    assert data["machine"]["sha256"] == hashlib.sha256(machine.read_bytes()).hexdigest()
    for entry in data["proof"]["programs"]:
        program = (folder / entry["program"]).read_bytes()
        assert entry["sha256"] == hashlib.sha256(program).hexdigest()
        assert entry["ok"] is True
        assert entry["faults"] == []
    # The digest in the programs is that of plan.json without its proof.
    plan = {k: v for k, v in data.items() if k != "proof"}
    text = json.dumps(plan, indent=2, ensure_ascii=False) + "\n"
    digest = hashlib.sha256(text.encode()).hexdigest()
    for path in folder.glob("*.ngc"):
        assert f"(plan {digest[:16]})" in path.read_text().splitlines()[:4]


def test_the_proof_measured_the_lands(made):
    _, _, data = made
    cutting = [p for p in data["proof"]["programs"] if not p["program"].endswith("-air.ngc")]
    assert len(cutting) == len(data["setups"])
    for entry, setup in zip(cutting, data["setups"], strict=True):
        assert entry["program"] == setup["program"]
        if setup["operation"] == "bevel":
            # The tolerance of the edge thickness is 0.1 mm unless the job says otherwise.
            assert len(entry["bevels_mm"]) >= 3
            assert all(abs(at["highest_mm"]) <= 0.1 for at in entry["bevels_mm"])
            continue
        (relief,) = [r for r in data["section"]["reliefs"] if r["face"] == setup["face"]]
        assert len(entry["lands_mm"]) >= 3
        for at in entry["lands_mm"]:
            for land in ("edge_land_mm", "shoulder_land_mm"):
                assert abs(at[land] - relief[land]) <= data["tolerance"]["land_mm"]


# By hand: half of the bar of 2.4 mm less 0.25, 0.6 or 0.3 mm at the edge, or the whole strip of 2.2
# mm less 0.3 mm, times the cosine of the bevel. Later turns of a bevel share what is left in equal
# parts. What is left for the lands is stated in the job.
_LEFT_MM = {"strip-hook-knife": 0.008, "gentle-bar-knife": 0.02}
_STOCK_MM = {
    "bar-knife": (2.4 - 0.25) / 2 * math.cos(math.radians(12.5)),
    "belly-bar-knife": (2.4 - 0.6) / 2 * math.cos(math.radians(12.5)),
    "gentle-bar-knife": (2.4 - 0.3) / 2 * math.cos(math.radians(12.5)),
    "strip-hook-knife": (2.2 - 0.3) * math.cos(math.radians(24)),
}


def _begins_outside(job, data, setup):
    """How far outside the finished face a set-up of a blade from the bar begins."""
    lands = any(s["operation"] == "lands" and s["face"] == setup["face"] for s in data["setups"])
    left = _LEFT_MM.get(job.stem, 0.01) if lands else 0.0
    if setup["operation"] != "bevel":
        return left
    of_face = [
        s["name"]
        for s in data["setups"]
        if s["operation"] == "bevel" and s["face"] == setup["face"]
    ]
    whole = _STOCK_MM[job.stem]
    return whole - (whole - left) * of_face.index(setup["name"]) / len(of_face)


def test_the_wheel_of_plan_json_ends_on_the_relief(made):
    job, _, data = made
    faces = {f["face"]: f for f in data["section"]["faces"]}
    for setup in data["setups"]:
        bulges = faces[setup["face"]]["convex_radius_mm"]
        if bulges and data["setups"][0]["operation"] == "bevel":
            continue  # an arc made of facets or lines: tests/test_bulge_bevels.py
        frame, last = setup["touch_frame"], setup["passes"][-1]
        centre = (
            np.array(frame["origin_yz_mm"])
            + last["cross_mm"] * np.array(frame["cross_dir_yz"])
            + last["infeed_mm"] * np.array(frame["infeed_dir_yz"])
        )
        side = 1 if setup["face"] == "A" else -1
        beta = math.radians(faces[setup["face"]]["bevel_deg"])
        normal = np.array([-math.sin(beta), side * math.cos(beta)])
        half_edge = min(abs(z) for y, z in data["section"]["outline_after_mm"] if y == 0)
        corner = np.array([0, side * half_edge])
        # Property: R - d from the face, d the depth commanded; counted from the finished face, what
        # is left for the lands less, and a bevel or the lands end on that plane.
        away, within = float((centre - corner) @ normal), 1e-7
        if bulges or faces[setup["face"]]["micro_bevel_deg"]:
            # Source: shapely. No plane through the edge: the distance from the blank itself, whose
            # arcs are polylines 1e-4 within.
            blank = shapely.Polygon(data["section"]["outline_before_mm"])
            away, within = shapely.distance(shapely.Point(centre), blank), 2e-4
        depth = (setup["wheel_radius_mm"] or 0.0) - away
        depth += _begins_outside(job, data, setup)
        sent = last["commanded_depth_mm"] + last["wear_compensation_mm"]
        assert depth == pytest.approx(sent, abs=within)
        assert last["reached_depth_mm"] <= depth + 1e-9
        # Property: the volume is the sum of the passes' areas along the edge.
    areas = sum(p["removed_area_mm2"] for s in data["setups"] for p in s["passes"])
    before, after = (
        shapely.Polygon(data["section"][f"outline_{when}_mm"]).area for when in ("before", "after")
    )
    # What the passes take is what the two outlines differ by, but for the depth left standing: the
    # area under a shallow arc goes with the depth to the power of one and a half.
    standing = 0.0
    for setup in data["setups"]:
        if setup["operation"] == "relief":
            (relief,) = [r for r in data["section"]["reliefs"] if r["face"] == setup["face"]]
            short = (
                setup["passes"][-1]["commanded_depth_mm"] - setup["passes"][-1]["reached_depth_mm"]
            )
            part = 1.0 - (1.0 - short / relief["depth_mm"]) ** 1.5
            standing += part * relief["removed_area_mm2"]
    assert areas == pytest.approx(before - after - standing, rel=0.08)
    assert areas < before - after
    assert data["totals"]["passes"] == sum(len(s["passes"]) for s in data["setups"])


def test_the_sheet_names_its_program_and_the_cautions(made):
    _, folder, data = made
    for setup in data["setups"]:
        sheet = (folder / f"setup-{setup['name']}.md").read_text()
        program = (folder / setup["program"]).read_bytes()
        assert setup["program"] in sheet
        assert setup["program"].replace(".ngc", "-air.ngc") in sheet
        assert hashlib.sha256(program).hexdigest()[:16] in sheet
        assert f"face {setup['face']}" in sheet
        assert f"{setup['tilt_deg']:.3f} deg" in sheet
    # Each set-up tells of its own wheel, and all of them of everything.
    sheets = [(folder / f"setup-{s['name']}.md").read_text() for s in data["setups"]]
    wheels = [s["wheel"] for s in data["setups"]]
    for caution in data["cautions"]:
        told = [
            name for name, sheet in zip(wheels, sheets, strict=True) if caution["text"] in sheet
        ]
        assert told
        # Every set-up with such a wheel tells it.
        assert len(told) == sum(wheels.count(name) for name in set(told))


def test_the_picture_is_whole(made):
    _, folder, data = made
    picture = (folder / "section.svg").read_text()
    root = ElementTree.fromstring(picture)
    assert root.tag.endswith("svg")
    for relief in data["section"]["reliefs"]:
        assert f"depth {relief['depth_mm']:.4f} mm" in picture
        assert f"edge land {relief['edge_land_mm']:.3f}" in picture
    assert "nan" not in picture


# --- all or nothing -------------------------------------------------------------------------------


def write(*arguments, **settings):
    """Write a job that is planned in a moment."""
    return run("write", QUICK, *EASY, *arguments, **settings)


def test_a_folder_with_a_plan_is_only_replaced_when_asked(tmp_path):
    out = tmp_path / "out"
    assert write("--out", out).code == 0
    before = contents(out)
    again = ["--out", out, "--set", "title=Another title"]
    done = write(*again)
    assert (done.code, done.out) == (2, "")
    assert "--replace" in done.err
    assert contents(out) == before
    assert write(*again, "--replace").code == 0
    after = contents(out)
    assert after.keys() == before.keys()
    assert after != before
    assert b"Another title" in after["setup-A.ngc"]
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_is_filled(tmp_path):
    (tmp_path / "out").mkdir()
    assert write("--out", tmp_path / "out").code == 0
    assert "plan.json" in contents(tmp_path / "out")


def test_missing_parents_are_made(tmp_path):
    assert write("--out", tmp_path / "a" / "b" / "out").code == 0
    assert (tmp_path / "a" / "b" / "out" / "plan.json").exists()


@pytest.mark.parametrize("name", ["notes.txt", "plan.json.bak", "setup-A.txt", ".hidden", "sub"])
@pytest.mark.parametrize("replace", [[], ["--replace"]], ids=["", "replace"])
def test_a_folder_with_a_file_of_the_users_is_never_touched(tmp_path, name, replace):
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_text("{}")
    if name == "sub":
        (out / name).mkdir()
    else:
        (out / name).write_text("mine")
    done = write("--out", out, *replace)
    assert (done.code, done.out) == (2, "")
    assert name in done.err
    assert (out / "plan.json").read_text() == "{}"
    assert sorted(p.name for p in out.iterdir()) == sorted(["plan.json", name])


@pytest.mark.parametrize("kind", ["file", "link", "dangling link"])
def test_what_is_no_folder_is_never_replaced(tmp_path, kind):
    out = tmp_path / "out"
    if kind == "file":
        out.write_text("mine")
    else:
        if kind == "link":
            (tmp_path / "elsewhere").mkdir()
        out.symlink_to(tmp_path / "elsewhere")
    done = write("--out", out, "--replace")
    assert (done.code, done.out) == (2, "")
    assert out.is_symlink() == ("link" in kind)
    assert out.read_text() == "mine" if kind == "file" else True


@pytest.mark.parametrize("parent", ["a file", "no place for folders"])
def test_a_parent_that_cannot_be_written(tmp_path, parent):
    if parent == "a file":
        (tmp_path / "file").write_text("mine")
        out = tmp_path / "file" / "out"
    else:
        out = ROOT.joinpath("/proc/self/out")
    done = write("--out", out)
    assert (done.code, done.out) == (2, "")
    assert "cannot-write" in done.err
    assert "Traceback" not in done.err


def test_a_proof_that_fails_writes_nothing(tmp_path, monkeypatch):
    from planner.gcode.render import program_text  # noqa: PLC0415

    def sabotaged(program, machine):
        return program_text(program, machine).replace("M5\n", "")

    monkeypatch.setattr("planner.produce.program_text", sabotaged)
    done = write("--out", tmp_path / "out", columns=200)
    assert (done.code, done.out) == (1, "")
    assert re.match(r"setup-A\.ngc:\d+: \[end-spindle-on\]", done.err)
    assert "Nothing was written" in done.err
    assert list(tmp_path.iterdir()) == []


# Writes two sets of files into one folder in turn, as fast as it can, for ever.
REPEATER = """
import sys
from pathlib import Path
from planner.report.folder import put_folder
names = ["plan.json", "section.svg", *(f"setup-{n}.ngc" for n in range(3))]
print("ready", flush=True)
while True:
    for mark in (b"old", b"new"):
        put_folder({n: mark * 5000 for n in names}, Path(sys.argv[1]), replace=True)
"""


def whole(folder):
    """Which set a folder holds; all of it, or the assertion fails."""
    found = set(contents(folder).values())
    assert len(list(folder.iterdir())) == 5
    (one,) = found
    assert one in (b"old" * 5000, b"new" * 5000)
    return one[:3]


def test_a_kill_at_any_moment_leaves_the_old_folder_or_the_new(tmp_path):
    out = tmp_path / "out"
    seen = set()
    rng = np.random.default_rng(3)
    for _ in range(15):
        running = subprocess.Popen(
            [sys.executable, "-c", REPEATER, str(out)], cwd=ROOT, stdout=subprocess.PIPE
        )
        assert running.stdout is not None
        assert running.stdout.readline() == b"ready\n"
        first = time.monotonic()
        while not out.exists() and time.monotonic() < first + 10:
            time.sleep(0.001)
        time.sleep(float(rng.uniform(0, 0.2)))
        running.send_signal(signal.SIGKILL)
        running.wait()
        running.stdout.close()
        seen.add(whole(out))
        # What a kill leaves beside the folder is hidden, and is in nobody's way.
        assert all(p.name == "out" or p.name.startswith(".out.") for p in tmp_path.iterdir())
    assert seen == {b"old", b"new"}


def test_a_killed_write_leaves_what_was_there(tmp_path):
    out = tmp_path / "out"
    assert write("--out", out, "--set", "title=Old").code == 0
    old = contents(out)
    for seconds in (0.3, 0.5, 0.6):
        running = process(
            "write", QUICK, *EASY, "--out", out, "--replace", stdout=subprocess.DEVNULL
        )
        time.sleep(seconds)
        running.kill()
        running.wait()
        found = contents(out)
        assert found.keys() == old.keys()
        assert found == old or b"(title Old)" not in found["setup-A.ngc"]
    assert write("--out", out, "--replace").code == 0


# --- rs274 ----------------------------------------------------------------------------------------


def canonical(folder, text):
    """The calls of the stand-alone interpreter, in a home and a folder of its own."""
    for name in ("tool.tbl", "rs274.var"):
        (folder / name).write_text("")
    (folder / "program.ngc").write_text(text)
    done = subprocess.run(
        ["rs274", "-g", "-t", "tool.tbl", "-v", "rs274.var", "program.ngc"],
        cwd=folder,
        env={"HOME": str(folder), "PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return re.findall(r"N\.+ ([A-Z_]+)\(([^)]*)\)", done.stdout)


def inverse_time(blocks):
    """The blocks that are told by their time: from each G93 to the next G94."""
    found, told = [], False
    for block in blocks:
        told = (told or "G93" in block.codes) and "G94" not in block.codes
        found += [block] if told else []
    return found


@needs_rs274
def test_another_interpreter_goes_the_same_way(made, tmp_path):
    for path in sorted(made[1].glob("*.ngc")):
        text = path.read_text()
        calls = canonical(tmp_path, text)
        theirs = [
            (name == "STRAIGHT_TRAVERSE", [float(n) for n in arguments.split(",")][:4])
            for name, arguments in calls
            if name in ("STRAIGHT_TRAVERSE", "STRAIGHT_FEED")
        ]
        blocks = [b for b in read_text(text.splitlines()) if b.moves]
        # What was not told yet stands at zero there.
        ours = [(b.rapid, [b.after.get(a, 0.0) for a in "XYZA"]) for b in blocks]
        assert len(ours) == len(theirs) > 5
        for one, other in zip(ours, theirs, strict=True):
            assert one[0] == other[0]
            # Source: its output, four decimals.
            assert one[1] == pytest.approx(other[1], abs=0.51e-4)
        feeds = [float(a) for n, a in calls if n == "SET_FEED_RATE"]
        # In inverse time the interpreter makes a feed of it: the way times F, of the straight axes
        # where any of them moves, else the angle.
        turned = [b for b in inverse_time(read_text(text.splitlines())) if b.moves]
        ways = [[b.after[a] - b.before[a] for a in "XYZ"] for b in turned]
        rates = [
            b.words["F"] * (math.hypot(*way) or abs(b.after["C"] - b.before["C"]))
            for b, way in zip(turned, ways, strict=True)
        ]
        told = np.sort(feeds)
        by_time = {b.number for b in turned}
        for rate in rates:
            near = np.searchsorted(told, rate)
            assert np.abs(told[max(near - 1, 0) : near + 1] - rate).min() < 1e-3
        assert set(feeds) >= {
            b.words["F"] for b in blocks if "F" in b.words and b.number not in by_time
        }
        names = [n for n, _ in calls]
        air = path.name.endswith("-air.ngc")
        stops = sum("M0" in b.codes for b in read_text(text.splitlines()))
        assert names.count("PROGRAM_STOP") == stops
        assert ("START_SPINDLE_CLOCKWISE" in names) == ("M3" in text and not air)
        assert "PROGRAM_END" in names
