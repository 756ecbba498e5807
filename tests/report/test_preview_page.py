"""The preview as a file: what is in it, that nothing can be fetched by it, and that it is the same
again. `test_preview_in_browser.py` opens it."""

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

import planner.report.preview.page as page_module
from planner.report.preview.data import _PLANNED
from planner.report.preview.page import LIBRARIES, json_for_html
from tests.commands import ROOT, run, written

HERE = Path(page_module.__file__).parent


class Reader(HTMLParser):
    """Tags with their attributes, and the text of every script and style."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.texts = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        if self.tags and self.tags[-1][0] in ("script", "style"):
            tag, attributes = self.tags[-1]
            self.texts.append((tag, attributes.get("type"), data))
            self.tags.append(("", {}))


def read(data):
    reader = Reader()
    reader.feed(data.decode("utf-8"))
    reader.close()
    return reader


def page_data(data):
    (text,) = [t for tag, kind, t in read(data).texts if kind == "application/json"]
    return json.loads(text)


@pytest.fixture(scope="module")
def folder():
    return written(ROOT / "jobs" / "bar-knife.yaml")


def test_the_figures_are_those_of_plan_json(folder):
    plan = json.loads((folder / "plan.json").read_text())
    shown = page_data((folder / "preview.html").read_bytes())
    assert [s["name"] for s in shown["setups"]] == [s["name"] for s in plan["setups"]]
    for one, planned in zip(shown["setups"], plan["setups"], strict=True):
        expected = [{k: p[k] for k in _PLANNED} for p in planned["passes"]]
        assert [p["plan"] for p in one["passes"]] == expected
        assert one["target_depth_mm"] == planned["target_depth_mm"]
    assert shown["cautions"] == plan["cautions"]
    proved = [(p["program"], p["sha256"]) for p in plan["proof"]["programs"]]
    assert [(p["program"], p["sha256"]) for p in shown["programs"]] == proved
    for name, digest in proved:
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest


def test_the_lands_are_those_of_the_proof(folder):
    plan = json.loads((folder / "plan.json").read_text())
    shown = page_data((folder / "preview.html").read_bytes())
    of = {p["program"]: p for p in plan["proof"]["programs"]}
    for setup in shown["setups"]:
        proof = of[setup["program"]]
        keys = ("station", "edge_land_mm", "shoulder_land_mm", "depth_mm")
        lands = [] if setup["lands"] is None else setup["lands"]["measured"]
        assert lands == [{k: m[k] for k in keys} for m in proof["lands_mm"]]
        keys = ("station", "edge_thickness_mm", "highest_mm", "lowest_mm")
        assert setup["bevels"] == [{k: m[k] for k in keys} for m in proof.get("bevels_mm", [])]


def test_the_policy_names_just_the_scripts_that_are_there(folder):
    reader = read((folder / "preview.html").read_bytes())
    (policy,) = [
        a["content"]
        for tag, a in reader.tags
        if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert set(rules) == {"default-src", "script-src", "style-src", "base-uri", "form-action"}
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    for tag in ("script", "style"):
        hashes = [
            "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"
            for kind, type_, text in reader.texts
            if kind == tag and type_ is None
        ]
        assert rules[f"{tag}-src"].split() == hashes


def test_nothing_points_out_of_the_file(folder):
    tags = [(tag, a) for tag, a in read((folder / "preview.html").read_bytes()).tags if tag]
    # Property: no attribute of any element can load, send or run anything.
    loading = {"src", "href", "srcset", "action", "data", "poster", "background", "style"}
    for tag, attributes in tags:
        assert tag not in {"link", "iframe", "object", "embed", "base", "form", "img", "svg"}
        assert not loading & set(attributes)
        assert not [name for name in attributes if name.startswith("on")]
    own = "".join(p.read_text() for p in (HERE / "script").iterdir())
    for word in (
        "innerHTML",
        "outerHTML",
        "insertAdjacent",
        "document.write",
        "eval(",
        "Function(",
    ):
        assert word not in own
    for word in ("fetch(", "XMLHttp", "import(", "WebSocket", "localStorage", "cookie"):
        assert word not in own
    assert "http" not in re.sub(r'"http://www\.w3\.org/2000/svg"', "", own)
    assert "url(" not in (HERE / "page.css").read_text()


def test_text_of_a_job_stays_in_its_element():
    nasty = "</script><script>alert(1)</script><!-- & \u2028\u2029 \" ' \\u003c"
    text = json_for_html({nasty: nasty})
    assert not set("<>&") & set(text)
    assert text.isascii()
    # Property: it says the same.
    assert json.loads(text) == {nasty: nasty}


def test_the_libraries_are_those_that_are_noted():
    table = (HERE / "vendor" / "README.md").read_text()
    noted = re.findall(r"^\| `([\w.]+)` \| (\S+) \| (\S+) \| ISC, `(\S+)` \| ([0-9a-f]{64}) \|$",
                       table, re.M)  # fmt: skip
    assert [f"vendor/{name}" for name, *_ in noted] == list(LIBRARIES)
    for name, _, version, licence, digest in noted:
        data = (HERE / "vendor" / name).read_bytes()
        assert hashlib.sha256(data).hexdigest() == digest
        assert f"v{version} ".encode() in data[:80]
        assert b"Permission to use, copy, modify" in (HERE / "vendor" / licence).read_bytes()
        assert b"</script" not in data.lower()
        assert b"<!--" not in data


def test_a_page_that_goes_on_shows_the_passes_that_are_left(tmp_path):
    out = tmp_path / "out"
    job = ROOT / "jobs" / "straight-knife.yaml"
    done = run("write", job, "--out", out, "--from-pass", 3, "--setup", "B")
    assert (done.code, done.err) == (0, "")
    shown = page_data((out / "preview.html").read_bytes())
    (setup,) = shown["setups"]
    # By hand: five passes, two of them ground.
    assert [p["plan"]["n"] for p in setup["passes"]] == [3, 4, 5]
    assert shown["restart"]["from_pass"] == 3
    assert setup["before"] != shown["section"]["after"]
