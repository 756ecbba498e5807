"""One fault in a good file: exactly one problem, with its rule, key path, line and column."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import yaml

from planner.errors import Problem
from planner.inputs import yaml_nodes

# Every expected line and column is by hand: the mark ▸ stands where the problem must point.

PLAIN = "form: double_bevel, thickness: 3.0 mm, width: 20 mm, included_angle: 25 deg"
ROOT = "wheel: fine"  # a piece at the root of the job, to be followed by others
Spoil = Callable[[str, str, str], tuple[list[Problem], list[tuple[int, int]]]]


def case(name: str, kind: str, old: str, new: str, rule: str, path: str) -> Any:
    return pytest.param(kind, old, new, rule, path, id=name)


def obstacle(corners: str, mark: str = "▸", above: str = "") -> str:
    return f"{above}obstacles: [{{name: stop, from: 1 mm, to: 5 mm, {mark}outline: [{corners}]}}]"


QUANTITIES = [
    case("bare-number", "job", "3.0 mm", "▸3.0", "no-unit", "blade.section.thickness"),
    case("bare-fraction", "job", "length: 80 mm", "length: ▸1/8", "no-unit", "blade.edge.length"),
    case("bare-feed", "machine", "4000 mm/min", "▸4000", "no-unit", "axes.X.max_feed"),
    case("bare-in-list", "machine", "-150 mm", "▸-150", "no-unit", "axes.X.travel[0]"),
    case("bare-mark", "machine", "4500 rpm", "▸4500", "no-unit", "rack[0].marked_speed"),
    case("mass", "job", "80 mm", "▸80 kg", "wrong-unit", "blade.edge.length"),
    case("linear-feed-of-a-rotary-axis", "machine", "1200 deg/min", "▸1200 mm/min", "wrong-unit",
         "axes.A.max_feed"),
    case("unit-in-capitals", "job", "80 mm", "▸80 MM", "wrong-unit", "blade.edge.length"),
    case("mark-in-mm", "machine", "4500 rpm", "▸4500 mm", "wrong-unit", "rack[0].marked_speed"),
    case("decimal-comma", "job", "3.0 mm", '▸"3,0 mm"', "not-a-quantity",
         "blade.section.thickness"),
    case("power-of-ten-with-unit", "job", "80 mm", "▸8e1 mm", "not-a-quantity",
         "blade.edge.length"),
    case("leading-zero-with-unit", "job", "80 mm", "▸080 mm", "not-a-quantity",
         "blade.edge.length"),
    case("division-by-zero", "job", "80 mm", "▸80/0 mm", "not-a-quantity", "blade.edge.length"),
    case("words", "job", "80 mm", "▸long", "not-a-quantity", "blade.edge.length"),
    case("truth-for-quantity", "job", "80 mm", "▸true", "wrong-type", "blade.edge.length"),
    case("list-for-quantity", "job", "length: 80 mm", "▸length: [80 mm]", "wrong-type",
         "blade.edge.length"),
    case("nan-with-unit", "job", "80 mm", "▸nan mm", "not-finite", "blade.edge.length"),
    case("yaml-inf", "job", "80 mm", "▸.inf", "not-finite", "blade.edge.length"),
    case("yaml-nan-in-plain-number", "machine", "force_ratio: 0.4", "force_ratio: ▸.nan",
         "not-finite", "rack[0].force_ratio"),
    case("quoted-inf", "machine", "force_ratio: 0.4", 'force_ratio: ▸"inf"', "wrong-type",
         "rack[0].force_ratio"),
]  # fmt: skip

RANGES = [
    case("too-long", "job", "80 mm", "▸3 m", "out-of-range", "blade.edge.length"),
    case("zero", "job", "80 mm", "▸0 mm", "out-of-range", "blade.edge.length"),
    case("negative-land", "job", "1.2 mm", "▸-1.2 mm", "out-of-range", "relief.edge_land"),
    case("angle-at-its-open-end", "job", "25 deg", "▸120 deg", "out-of-range",
         "blade.section.included_angle"),
    case("temper-in-wrong-unit", "job", "190 degC", "▸1900 degF", "out-of-range", "temper"),
    case("count-zero", "job", "quantity: 1", "quantity: ▸0", "out-of-range", "quantity"),
    case("count-of-forty-digits", "job", "quantity: 1", f"quantity: ▸{'9' * 40}", "out-of-range",
         "quantity"),
    case("plain-number", "machine", "force_ratio: 0.4", "force_ratio: ▸2.5", "out-of-range",
         "rack[0].force_ratio"),
    case("share-over-one", "job", "faces: both", "faces: both\n  residual_share: ▸150 %",
         "out-of-range", "relief.residual_share"),
    case("mark-zero", "machine", "4500 rpm", "▸0 rpm", "out-of-range", "rack[0].marked_speed"),
    case("mark-of-light-speed", "machine", "4500 rpm", "▸3000 m/s", "out-of-range",
         "rack[0].marked_speed"),
    case("decimals", "machine", "decimals: 4", "decimals: ▸9", "out-of-range",
         "controller.decimals"),
    case("travel-falls", "machine", "travel: [-150 mm, 250 mm]", "▸travel: [250 mm, -150 mm]",
         "range-order", "axes.X.travel"),
    case("travel-of-no-length", "machine", "travel: [-45 deg, 45 deg]",
         "▸travel: [45 deg, 45 deg]", "range-order", "axes.A.travel"),
    case("hand-tilt-falls", "machine", "clearance: 5 mm",
         "hand_tilt: {▸range: [20 deg, 5 deg]}", "range-order", "fixture.hand_tilt.range"),
    case("travel-of-one", "machine", "travel: [-150 mm, 250 mm]", "▸travel: [-150 mm]",
         "wrong-count", "axes.X.travel"),
    case("travel-of-three", "machine", "travel: [-150 mm, 250 mm]",
         "▸travel: [-150 mm, 0 mm, 250 mm]", "wrong-count", "axes.X.travel"),
    case("travel-empty", "machine", "travel: [-150 mm, 250 mm]", "▸travel: []", "wrong-count",
         "axes.X.travel"),
]  # fmt: skip

KEYS = [
    case("unknown", "job", ROOT, f"{ROOT}\n▸colour: blue", "unknown-key", "colour"),
    case("misspelt", "machine", "diameter: 150 mm", "▸diametr: 150 mm", "unknown-key",
         "rack[0].diametr"),
    case("misspelt-optional", "job", "land_tolerance", "▸land_tolerence", "unknown-key",
         "relief.land_tolerence"),
    case("misspelt-one-of-three", "job", "edge_land:", "▸edge_lnd:", "unknown-key",
         "relief.edge_lnd"),
    case("name-of-the-program's-own-field", "job", "length: 80 mm", "▸length_mm: 80 mm",
         "unknown-key", "blade.edge.length_mm"),
    case("no-blank-after-colon", "job", "length: 80 mm", "▸length:80", "unknown-key",
         "blade.edge.length:80"),
    case("axis-letter", "machine", "A: {role", "▸Q: {role", "unknown-key", "axes.Q"),
    case("axis-in-lower-case", "machine", "A: {role", "▸a: {role", "unknown-key", "axes.a"),
    case("empty-key", "job", ROOT, f'{ROOT}\n▸"": 1', "unknown-key", "nothing"),
    case("repeated", "job", ROOT, f"{ROOT}\n▸wheel: coarse", "repeated-key", "wheel"),
    case("repeated-in-flow", "job", "length: 80 mm", "length: 80 mm, ▸length: 90 mm",
         "repeated-key", "blade.edge.length"),
    case("repeated-in-quotes", "job", "faces: both", 'faces: both\n  ▸"faces": A',
         "repeated-key", "relief.faces"),
    case("repeated-axis", "machine", "  Z: {role: infeed", "  ▸X: {role: infeed",
         "repeated-key", "axes.X"),
    case("missing", "job", "  ▸edge: {path: straight, length: 80 mm}".replace("▸", ""),
         "  ▸edge: {path: straight}", "missing-key", "blade.edge.length"),
    case("missing-at-root", "job", "# A knife with the relief on both faces.\n"
         "title: Straight carving knife\n", "# no title\n▸", "missing-key", "title"),
    case("missing-in-list-item", "machine", "- {name: fine, contact: along_edge, ",
         "- ▸{name: fine, ", "missing-key", "rack[0].contact"),
    case("missing-mark", "machine", "- {name: fine, contact: along_edge, diameter: 150 mm, "
         "width: 20 mm, marked_speed: 4500 rpm,", "- ▸{name: fine, contact: along_edge, "
         "diameter: 150 mm, width: 20 mm,", "missing-key", "rack[0].marked_speed"),
    case("missing-role", "machine", "A: {role: tilt, ", "▸A: {", "missing-key", "axes.A.role"),
    case("missing-map", "job", "  edge: {path: straight, length: 80 mm}\n", "", "missing-key",
         "blade.edge"),
    case("empty-value", "job", "temper: 190 degC", "▸temper:", "no-value", "temper"),
    case("tilde", "job", "temper: 190 degC", "▸temper: ~", "no-value", "temper"),
    case("null-map", "machine", "limits: {normal_force: 30 N}", "▸limits:", "no-value", "limits"),
    case("null-choice", "job", "faces: both", "▸faces: null", "no-value", "relief.faces"),
    case("null-title", "job", "title: Straight", "▸title: # Straight", "no-value", "title"),
    case("null-role", "machine", "role: tilt", "▸role: ", "no-value", "axes.A.role"),
]  # fmt: skip

TYPES = [
    case("choice", "job", "faces: both", "faces: ▸botj", "not-a-choice", "relief.faces"),
    case("choice-of-case", "job", "faces: both", "faces: ▸Both", "not-a-choice", "relief.faces"),
    case("choice-as-number", "machine", "units: mm", "units: ▸25.4", "not-a-choice",
         "controller.units"),
    case("choice-as-list", "job", "faces: both", "▸faces: [A, B]", "wrong-type", "relief.faces"),
    case("role", "machine", "role: tilt", "role: ▸tild", "not-a-choice", "axes.A.role"),
    case("role-as-list", "machine", "role: tilt", "▸role: [tilt]", "wrong-type", "axes.A.role"),
    case("axis-as-text", "machine", "stiffness: 2000 N/mm",
         "stiffness: 2000 N/mm\nwork_rest_gap: ▸none", "not-a-quantity", "work_rest_gap"),
    case("list-for-map", "job", "edge: {path: straight, length: 80 mm}", "▸edge: [straight]",
         "wrong-type", "blade.edge"),
    case("text-for-map", "machine", "limits: {normal_force: 30 N}", "limits: ▸30 N",
         "wrong-type", "limits"),
    case("map-for-text", "job", "title: Straight carving knife", "▸title: {a: b}", "wrong-type",
         "title"),
    case("truth-for-text", "job", "title: Straight carving knife", "title: ▸true", "wrong-type",
         "title"),
    case("number-in-quotes", "job", "quantity: 1", 'quantity: ▸"1"', "wrong-type", "quantity"),
    case("count-with-decimals", "job", "quantity: 1", "quantity: ▸1.5", "wrong-type", "quantity"),
    case("count-with-unit", "job", "quantity: 1", "quantity: ▸1 piece", "wrong-type", "quantity"),
    case("plain-number-with-unit", "machine", "force_ratio: 0.4", "force_ratio: ▸0.4 N",
         "wrong-type", "rack[0].force_ratio"),
    case("truth-in-quotes", "machine", "role: tilt", 'role: tilt, invert: ▸"true"',
         "wrong-type", "axes.A.invert"),
    case("truth-as-number", "machine", "role: tilt", "role: tilt, invert: ▸1", "wrong-type",
         "axes.A.invert"),
    case("name-with-a-bracket", "machine", "name: fine", "name: ▸fine (new)", "bad-text",
         "rack[0].name"),
    case("name-of-blanks", "machine", "name: fine", 'name: ▸"  "', "bad-text", "rack[0].name"),
    case("name-too-long", "machine", "name: fine", f"name: ▸{'f' * 41}", "bad-text",
         "rack[0].name"),
    case("title-too-long", "job", "title: Straight carving knife", f"title: ▸{'x' * 121}",
         "bad-text", "title"),
    case("title-on-two-lines", "job", "title: Straight carving knife", 'title: ▸"a\\nb"',
         "bad-text", "title"),
    case("title-with-escape", "job", "title: Straight carving knife", 'title: ▸"a\\e[31m"',
         "bad-text", "title"),
]  # fmt: skip

TRAPS = [
    case("no", "machine", "units: mm", "units: ▸no", "yaml-trap", "controller.units"),
    case("yes", "machine", "role: tilt", "role: tilt, invert: ▸yes", "yaml-trap",
         "axes.A.invert"),
    case("off-in-text", "job", "title: Straight carving knife", "title: ▸Off", "yaml-trap",
         "title"),
    case("on-as-name", "machine", "name: fine", "name: ▸on", "yaml-trap", "rack[0].name"),
    case("base-60", "machine", "spin_up: 5 s", "spin_up: ▸1:30", "yaml-trap", "spindle.spin_up"),
    case("power-of-ten", "job", "quantity: 1", "quantity: ▸1e3", "yaml-trap", "quantity"),
    case("power-of-ten-where-a-unit-is-due", "machine", "2000 N/mm", "▸2e3", "yaml-trap",
         "stiffness"),
    case("leading-zero", "job", "quantity: 1", "quantity: ▸010", "yaml-trap", "quantity"),
    case("base-16", "job", "quantity: 1", "quantity: ▸0x1F", "yaml-trap", "quantity"),
    case("underscore", "job", "quantity: 1", "quantity: ▸1_000", "yaml-trap", "quantity"),
    case("leading-zero-in-steel", "job", "steel: O1", "steel: ▸01095", "yaml-trap", "steel"),
    case("anchor", "job", "80 mm", "▸&long 80 mm", "yaml-feature", "blade.edge.length"),
    case("merge-key", "job", "  edge: {path: straight, length: 80 mm}",
         "  edge: {▸<<: {path: straight, length: 80 mm}}", "yaml-feature", "blade.edge"),
    case("tag", "job", "quantity: 1", "quantity: ▸!!int 1", "yaml-feature", "quantity"),
    case("python-tag", "job", "title: Straight", "title: ▸!!python/name:os.system Straight",
         "yaml-feature", "title"),
    case("map-as-key", "job", ROOT, f"{ROOT}\n? ▸{{a: b}}\n: c", "yaml-feature", ""),
    case("directive", "job", "# A knife with the relief on both faces.\n",
         "▸%YAML 1.2\n---\n", "yaml-feature", ""),
    case("second-document", "job", "land_tolerance: 0.25 mm\n",
         "land_tolerance: 0.25 mm\n▸---\ntitle: another\n", "several-documents", ""),
    case("tab-after-colon", "job", "length: 80 mm", "length:▸\t80 mm", "tab", ""),
    case("tab-as-indent", "job", "  edge: {", "▸\tedge: {", "tab", ""),
    case("control-character", "job", "Straight carving", "Straight▸\x07 carving",
         "control-character", ""),
    case("other-line-end", "job", "Straight carving", "Straight▸\u2028carving",
         "control-character", ""),
]  # fmt: skip

SYNTAX = [
    case("colon-in-title", "job", "title: Straight carving", "title: Straight▸: carving",
         "yaml-syntax", ""),
    case("at-sign", "job", "title: Straight", "title: ▸@Straight", "yaml-syntax", ""),
    case("quote-not-closed", "job", "title: Straight carving", 'title: ▸"Straight carving',
         "yaml-syntax", ""),
    case("key-without-colon", "job", "quantity: 1", "▸quantity 1", "yaml-syntax", ""),
]  # fmt: skip

BETWEEN_KEYS = [
    case("no-angle", "job", "  section: {form: double_bevel, thickness: 3.0 mm, width: 20 mm, "
         "included_angle: 25 deg}", "  ▸section: {form: double_bevel, thickness: 3.0 mm, "
         "width: 20 mm}", "angles", "blade.section.included_angle"),
    case("angles-twice", "job", "included_angle: 25 deg",
         "included_angle: ▸25 deg, angle_a: 12 deg, angle_b: 13 deg", "angles",
         "blade.section.included_angle"),
    case("edge-too-thick", "job", "included_angle: 25 deg",
         "included_angle: 25 deg, edge_thickness: ▸3.0 mm", "edge-too-thick",
         "blade.section.edge_thickness"),
    case("flat-micro-bevel", "job", "included_angle: 25 deg",
         "included_angle: 25 deg, micro_bevel: {angle: ▸12 deg, width: 0.4 mm}", "micro-bevel",
         "blade.section.micro_bevel.angle"),
    case("micro-bevel-over-all", "job", "included_angle: 25 deg",
         "included_angle: 25 deg, micro_bevel: {angle: 30 deg, width: ▸3.1 mm}", "micro-bevel",
         "blade.section.micro_bevel.width"),
    case("one-size-of-an-arc", "job", "form: double_bevel, thickness: 3.0 mm, width: 20 mm, "
         "included_angle: 25 deg", "form: convex_bevel, thickness: 3.0 mm, width: 20 mm, "
         "edge_angle: ▸40 deg", "arc-of-bevel", "blade.section.edge_angle"),
    case("arc-steeper-at-the-shoulder", "job", "form: double_bevel, thickness: 3.0 mm, "
         "width: 20 mm, included_angle: 25 deg", "form: convex_bevel, thickness: 3.0 mm, "
         "width: 20 mm, edge_angle: 40 deg, shoulder_angle: ▸50 deg", "arc-of-bevel",
         "blade.section.shoulder_angle"),
    case("arc-that-never-rises-so-far", "job", "form: double_bevel, thickness: 3.0 mm, "
         "width: 20 mm, included_angle: 25 deg", "form: convex_bevel, thickness: 3.0 mm, "
         "width: 20 mm, edge_angle: 40 deg, radius: ▸10 mm", "arc-of-bevel",
         "blade.section.radius"),
    case("shoulder-over-the-axe", "job", "form: double_bevel, thickness: 3.0 mm, width: 20 mm, "
         "included_angle: 25 deg", "form: axe, thickness: 3.0 mm, width: 20 mm, "
         "included_angle: 25 deg, bevel_thickness: ▸4 mm", "bevel-thickness",
         "blade.section.bevel_thickness"),
    case("cheeks-steeper-than-the-bevels", "job", "form: double_bevel, thickness: 3.0 mm, "
         "width: 20 mm, included_angle: 25 deg", "form: axe, thickness: 12 mm, width: 9 mm, "
         "included_angle: 45 deg, bevel_thickness: ▸6.8 mm", "bevel-thickness",
         "blade.section.bevel_thickness"),
    case("rounder-than-thick", "job", "form: double_bevel, thickness: 3.0 mm, width: 20 mm, "
         "included_angle: 25 deg", "form: hook, thickness: 3.0 mm, width: 20 mm, "
         "angle: 25 deg, back_radius: ▸1.6 mm", "back-radius", "blade.section.back_radius"),
    case("arc-of-a-hook-runs-level", "job", "form: double_bevel, thickness: 3.0 mm, "
         "width: 20 mm, included_angle: 25 deg", "form: hook, thickness: 3.0 mm, width: 20 mm, "
         "angle: 25 deg, radius: ▸20 mm", "arc-of-bevel", "blade.section.radius"),
    case("half-an-inside-bevel", "job", "form: double_bevel, thickness: 3.0 mm, width: 20 mm, "
         "included_angle: 25 deg", "form: gouge, thickness: 3.0 mm, width: 20 mm, "
         "outside_angle: 25 deg, inside_angle: ▸6 deg", "inside-bevel",
         "blade.section.inside_angle"),
    case("an-inside-bevel-through-the-wall", "job", "form: double_bevel, thickness: 3.0 mm, "
         "width: 20 mm, included_angle: 25 deg", "form: gouge, thickness: 3.0 mm, width: 20 mm, "
         "outside_angle: 25 deg, inside_angle: 30 deg, inside_width: ▸6.1 mm", "inside-bevel",
         "blade.section.inside_width"),
    case("a-curve-too-tight", "job", "{path: straight, length: 80 mm}",
         "{path: curve, arcs: [{length: 40 mm, radius: ▸0.5 mm}]}", "curve-radius",
         "blade.edge.arcs[0].radius"),
    case("points-that-run-back", "job", "{path: straight, length: 80 mm}",
         "{path: curve, points: [[0 mm, 0 mm], [40 mm, -1 mm], ▸[30 mm, 0 mm]]}", "curve-points",
         "blade.edge.points[2]"),
    case("two-points-of-a-curve", "job", "{path: straight, length: 80 mm}",
         "{path: curve, ▸points: [[0 mm, 0 mm], [40 mm, -1 mm]]}", "curve-points",
         "blade.edge.points"),
    case("neither-arcs-nor-points", "job", "{path: straight, length: 80 mm}",
         "{path: ▸curve}", "arcs-or-points", "blade.edge.path"),
    case("arcs-and-points", "job", "{path: straight, length: 80 mm}",
         "{path: curve, arcs: [{length: 40 mm}], "
         "▸points: [[0 mm, 0 mm], [30 mm, -1 mm], [60 mm, 0 mm]]}", "arcs-or-points",
         "blade.edge.points"),
    case("a-heading-beside-points", "job", "{path: straight, length: 80 mm}",
         "{path: curve, heading: ▸5 deg, points: [[0 mm, 0 mm], [30 mm, -1 mm], [60 mm, 0 mm]]}",
         "heading-of-points", "blade.edge.heading"),
    case("a-curve-that-turns-away", "job", "{path: straight, length: 80 mm}",
         "{path: curve, heading: 0 deg, ▸arcs: [{length: 80 mm, radius: 50 mm}]}", "curve-across",
         "blade.edge.arcs"),
    case("points-too-steep", "job", "{path: straight, length: 80 mm}",
         "{path: curve, ▸points: [[0 mm, 0 mm], [5 mm, 20 mm], [30 mm, 22 mm]]}", "curve-across",
         "blade.edge.points"),
    case("points-that-turn-back", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], [6 mm, 1 mm], ▸[6 mm, 2 mm]]",
         "outline-points", "blade.section.face_a[2]"),
    case("one-point-alone", "job", PLAIN,
         "form: outline, ▸face_a: [[0 mm, 0 mm]]",
         "outline-points", "blade.section.face_a"),
    case("a-point-of-one", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], ▸[6 mm]]",
         "wrong-count", "blade.section.face_a[1]"),
    case("faces-of-two-widths", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], [6 mm, 1 mm], [20 mm, 1 mm]], "
         "▸face_b: [[0 mm, 0 mm], [6 mm, 1 mm], [19 mm, 1 mm]]",
         "outline-faces", "blade.section.face_b"),
    case("a-radius-of-no-face", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], [6 mm, 1 mm], [20 mm, 1 mm]], "
         "face_b_radius: ▸60 mm",
         "outline-faces", "blade.section.face_b_radius"),
    case("a-bevel-too-steep", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], ▸[1 mm, 6 mm], [20 mm, 6 mm]]",
         "outline-bevel", "blade.section.face_a[1]"),
    case("a-flank-over-its-bevel", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], [6 mm, 1 mm], ▸[20 mm, 5 mm]]",
         "outline-hollow", "blade.section.face_a[2]"),
    case("an-arc-too-tight", "job", PLAIN,
         "form: outline, face_a: [[0 mm, 0 mm], [6 mm, 1 mm], [20 mm, 1 mm]], "
         "face_a_radius: ▸8 mm",
         "arc-of-bevel", "blade.section.face_a_radius"),
    case("a-first-piece-of-another-name", "job", PLAIN,
         "form: outline, first_piece: ▸micro, face_a: [[0 mm, 0 mm], [6 mm, 1 mm], [20 mm, 1 mm]]",
         "not-a-choice", "blade.section.first_piece"),
    case("a-micro-bevel-alone", "job", PLAIN,
         "form: outline, first_piece: micro_bevel, ▸face_a: [[0 mm, 0 mm], [20 mm, 3 mm]]",
         "outline-micro-bevel", "blade.section.face_a"),
    case("a-micro-bevel-too-flat", "job", PLAIN,
         "form: outline, first_piece: micro_bevel, "
         "face_a: [[0 mm, 0 mm], ▸[1 mm, 0.1 mm], [6 mm, 1 mm], [20 mm, 1 mm]]",
         "outline-micro-bevel", "blade.section.face_a[1]"),
    case("a-micro-bevel-too-flat-on-face-b", "job", PLAIN,
         "form: outline, first_piece: micro_bevel, "
         "face_a: [[0 mm, 0 mm], [0.4 mm, 0.2 mm], [6 mm, 1 mm], [20 mm, 1 mm]], "
         "face_b: [[0 mm, 0 mm], ▸[1 mm, 0.1 mm], [6 mm, 1 mm], [20 mm, 1 mm]]",
         "outline-micro-bevel", "blade.section.face_b[1]"),
    case("a-bevel-too-steep-behind-its-micro-bevel", "job", PLAIN,
         "form: outline, first_piece: micro_bevel, "
         "face_a: [[0 mm, 0 mm], [0.4 mm, 0.2 mm], ▸[1 mm, 6 mm], [20 mm, 6 mm]]",
         "outline-bevel", "blade.section.face_a[2]"),
    case("a-flank-over-its-bevel-behind-a-micro-bevel", "job", PLAIN,
         "form: outline, first_piece: micro_bevel, "
         "face_a: [[0 mm, 0 mm], [0.4 mm, 0.2 mm], [6 mm, 1 mm], ▸[20 mm, 5 mm]]",
         "outline-hollow", "blade.section.face_a[3]"),
    case("an-arc-too-tight-behind-a-micro-bevel", "job", PLAIN,
         "form: outline, first_piece: micro_bevel, "
         "face_a: [[0 mm, 0 mm], [0.4 mm, 0.3 mm], [6 mm, 1 mm], [20 mm, 1 mm]], "
         "face_a_radius: ▸8 mm",
         "arc-of-bevel", "blade.section.face_a_radius"),
    case("a-file-and-points", "job", PLAIN,
         "form: outline, file: ▸knife.dxf, face_a: [[0 mm, 0 mm], [6 mm, 1 mm]]",
         "outline-source", "blade.section.file"),
    case("no-file-and-no-points", "job", f"section: {{{PLAIN}}}",
         "▸section: {form: outline}", "outline-source", "blade.section"),
    case("a-drawing-that-is-not-there", "job", PLAIN, "form: outline, file: ▸knife.dxf",
         "file-not-found", "blade.section.file"),
    case("a-drawing-of-no-kind", "job", PLAIN, "form: outline, file: ▸job.yaml",
         "drawing-format", "blade.section.file"),
    case("sizes-of-no-relief", "job", "faces: both",
         "faces: A\n  ▸face_b: {edge_land: 2 mm, depth: 0.02 mm}", "face-b-sizes",
         "relief.face_b"),
    case("one-size-for-b", "job", "faces: both",
         "faces: both\n  face_b: {edge_land: ▸2 mm}", "two-of-three", "relief.face_b.edge_land"),
    case("three-of-three", "job", "  edge_land: 1.2 mm",
         "  edge_land: ▸1.2 mm\n  depth: 0.05 mm", "two-of-three", "relief.edge_land"),
    case("one-of-three", "job", "  edge_land: 1.2 mm\n  shoulder_land: 1.4 mm",
         "  shoulder_land: ▸1.4 mm", "two-of-three", "relief.shoulder_land"),
    case("none-of-three", "job", "relief:\n  faces: both\n  edge_land: 1.2 mm\n"
         "  shoulder_land: 1.4 mm", "▸relief:\n  faces: both", "two-of-three", "relief"),
    case("coolant-off-missing", "machine", "on: M7, off: M9", "on: ▸M7", "coolant-codes",
         "coolant.on"),
    case("finish-over-rough", "machine", "finish: 0.003 mm", "finish: ▸0.03 mm",
         "finish-over-rough", "rack[0].infeed.finish"),
    case("two-traverses", "machine", "Y: {role: cross", "Y: {role: ▸traverse", "axis-roles",
         "axes.Y.role"),
    case("no-infeed", "machine", "  Z: {role: infeed, travel: [-5 mm, 60 mm], "
         "max_feed: 800 mm/min, acceleration: 150 mm/s2,\n"
         "      resolution: 0.001 mm, repeatability: 0.003 mm}\n", "", "axis-roles", "axes"),
    case("axis-U", "machine", "  A: {role", "  ▸U: {role", "dialect-axis", "axes.U"),
    case("turn-on-Y", "machine", "Y: {role: cross, travel: [-40 mm, 40 mm], "
         "max_feed: 1500 mm/min, acceleration: 200 mm/s2}", "▸Y: {role: turn, "
         "travel: [-40 deg, 40 deg], max_feed: 1500 deg/min, acceleration: 200 deg/s2}",
         "axis-letter", "axes.Y"),
    case("linear-on-B", "machine", "  Y: {role", "  ▸B: {role", "axis-letter", "axes.B"),
    case("two-tilts", "machine", "clearance: 5 mm", "▸hand_tilt: {range: [0 deg, 20 deg]}",
         "two-tilts", "fixture.hand_tilt"),
    case("two-crosses", "machine", "clearance: 5 mm", "▸hand_cross: {settings: [3 mm]}",
         "two-crosses", "fixture.hand_cross"),
    case("neither-scale-nor-wedges", "machine", "clearance: 5 mm",
         "▸hand_tilt: {repeatability: 0.1 deg}", "range-or-settings", "fixture.hand_tilt"),
    case("scale-and-wedges", "machine", "clearance: 5 mm",
         "hand_tilt: {range: [0 deg, 9 deg], ▸settings: [5 deg]}", "range-or-settings",
         "fixture.hand_tilt.settings"),
    case("scale-and-stops", "machine", "clearance: 5 mm",
         "hand_cross: {range: [0 mm, 9 mm], ▸settings: [5 mm]}", "range-or-settings",
         "fixture.hand_cross.settings"),
    case("scale-without-mark", "machine", "clearance: 5 mm",
         "hand_cross: {▸range: [3.1 mm, 3.4 mm], resolution: 0.5 mm}", "scale-without-mark",
         "fixture.hand_cross.range"),
    case("tilt-scale-without-mark", "machine", "clearance: 5 mm",
         "hand_tilt: {▸range: [3.1 deg, 3.4 deg], resolution: 0.5 deg}", "scale-without-mark",
         "fixture.hand_tilt.range"),
    case("wedge-in-mm", "machine", "clearance: 5 mm", "hand_tilt: {settings: [5 deg, ▸3 mm]}",
         "wrong-unit", "fixture.hand_tilt.settings[1]"),
    case("stop-before-the-edge", "machine", "clearance: 5 mm",
         "hand_cross: {settings: [▸-2 mm]}", "out-of-range", "fixture.hand_cross.settings[0]"),
    case("belt-on-a-wheel-machine", "machine", "g_ratio: 20", "▸belt: {thickness: 1 mm}",
         "kind-and-rack", "rack[0].belt"),
    case("wheel-on-a-belt-machine", "machine", "kind: wheel", "kind: belt", "kind-and-rack",
         "rack[0]"),
    case("the-axis-of-a-tilt-that-is-not-there", "machine", "  A: {role: tilt, "
         "travel: [-45 deg, 45 deg], max_feed: 1200 deg/min, acceleration: 300 deg/s2}\n"
         "spindle: {speed: 2850 rpm, power: 0.75 kW, control: program, spin_up: 5 s}\n"
         "stiffness: 2000 N/mm\n"
         "coolant: {kind: mist, on: M7, off: M9}\n"
         "fixture: {", "spindle: {speed: 2850 rpm, power: 0.75 kW, control: program, "
         "spin_up: 5 s}\n"
         "stiffness: 2000 N/mm\n"
         "coolant: {kind: mist, on: M7, off: M9}\n"
         "fixture: {▸tilt_axis: {at: [25 mm, -30 mm]}, ",
         "tilt-axis", "fixture.tilt_axis"),
    case("turned-by-a-tilt-that-is-not-there", "machine", "  A: {role: tilt, "
         "travel: [-45 deg, 45 deg], max_feed: 1200 deg/min, acceleration: 300 deg/s2}\n"
         "spindle: {speed: 2850 rpm, power: 0.75 kW, control: program, spin_up: 5 s}\n"
         "stiffness: 2000 N/mm\ncoolant: {kind: mist, on: M7, off: M9}\n"
         "fixture: {flip: end_for_end", "spindle: {speed: 2850 rpm, power: 0.75 kW, "
         "control: program}\nstiffness: 2000 N/mm\nfixture: {flip: ▸by_tilt",
         "flip-needs-tilt", "fixture.flip"),
    case("small-with-A", "machine", "controller: {dialect: rs274ngc, units: mm, decimals: 4}\n",
         "controller: {dialect: small, units: mm, decimals: 4}\n", "dialect-axis", "axes.A"),
    # By hand: numbers of 24 bits stand 2^-16 = 0.000015 apart from 128 on, over 0.00001.
    case("digits-over-24-bits", "machine", "controller: {dialect: rs274ngc, units: mm, decimals: 4}"
         "\naxes:\n", "controller: {dialect: small, units: mm, decimals: ▸5}\naxes:\n",
         "dialect-digits", "controller.decimals"),
    case("form-along-edge", "machine", "width: 20 mm", "width: 20 mm, form_radius: ▸60 mm",
         "form-and-contact", "rack[0].form_radius"),
    case("corners-along-edge", "machine", "width: 20 mm", "width: 20 mm, corner_radius: ▸1 mm",
         "form-and-contact", "rack[0].corner_radius"),
    case("corners-over-width", "machine", "contact: along_edge, diameter: 150 mm, width: 20 mm",
         "contact: across_edge, diameter: 150 mm, width: 20 mm, corner_radius: ▸11 mm",
         "corners-over-width", "rack[0].corner_radius"),
    case("form-under-width", "machine", "contact: along_edge, diameter: 150 mm, width: 20 mm",
         "contact: across_edge, diameter: 150 mm, width: 20 mm, form_radius: ▸9 mm",
         "form-under-width", "rack[0].form_radius"),
    case("crown-across-edge", "machine", "contact: along_edge, diameter: 150 mm, width: 20 mm",
         "contact: across_edge, diameter: 150 mm, width: 20 mm, crown_radius: ▸60 mm",
         "crown-and-contact", "rack[0].crown_radius"),
    case("crown-under-width", "machine", "width: 20 mm", "width: 20 mm, crown_radius: ▸9 mm",
         "crown-under-width", "rack[0].crown_radius"),
    case("platen-on-a-wheel", "machine", "width: 20 mm", "width: 20 mm, ▸platen: {length: 60 mm}",
         "platen-and-contact", "rack[0].platen"),
    case("outline-of-two", "machine", "clearance: 5 mm", obstacle("[1 mm, 1 mm], [2 mm, 2 mm]"),
         "wrong-count", "fixture.obstacles[0].outline"),
    case("corner-of-one", "machine", "clearance: 5 mm",
         obstacle("[1 mm, 1 mm], ▸[2 mm], [2 mm, 1 mm]", ""),
         "wrong-count", "fixture.obstacles[0].outline[1]"),
    case("corner-of-three", "machine", "clearance: 5 mm",
         obstacle("[1 mm, 1 mm], ▸[2 mm, 1 mm, 3 mm], [2 mm, 1 mm]", ""),
         "wrong-count", "fixture.obstacles[0].outline[1]"),
    case("corner-that-is-none", "machine", "clearance: 5 mm",
         obstacle("[1 mm, 1 mm], ▸2 mm, [2 mm, 1 mm]", ""),
         "wrong-type", "fixture.obstacles[0].outline[1]"),
    case("bare-corner", "machine", "clearance: 5 mm",
         obstacle("[1 mm, 1 mm], [2 mm, ▸2], [2 mm, 1 mm]", ""),
         "no-unit", "fixture.obstacles[0].outline[1][1]"),
    case("corner-too-far", "machine", "clearance: 5 mm",
         obstacle("[1 mm, 1 mm], [2 mm, ▸6 m], [2 mm, 1 mm]", ""),
         "out-of-range", "fixture.obstacles[0].outline[1][1]"),
    case("outline-crosses", "machine", "clearance: 5 mm",
         obstacle("[0 mm, 0 mm], [2 mm, 2 mm], [2 mm, 0 mm], [0 mm, 2 mm]"),
         "outline-crosses", "fixture.obstacles[0].outline"),
    case("outline-touches-itself", "machine", "clearance: 5 mm",
         obstacle("[0 mm, 0 mm], [4 mm, 0 mm], [2 mm, 2 mm], [2 mm, 0 mm], [0 mm, 2 mm]"),
         "outline-crosses", "fixture.obstacles[0].outline"),
    case("outline-runs-back", "machine", "clearance: 5 mm",
         obstacle("[0 mm, 0 mm], [4 mm, 0 mm], [2 mm, 0 mm], [0 mm, 2 mm]"),
         "outline-crosses", "fixture.obstacles[0].outline"),
    case("outline-with-a-corner-twice", "machine", "clearance: 5 mm",
         obstacle("[0 mm, 0 mm], [4 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]"),
         "outline-crosses", "fixture.obstacles[0].outline"),
    case("outline-without-area", "machine", "clearance: 5 mm",
         obstacle("[0 mm, 0 mm], [2 mm, 0 mm], [4 mm, 0 mm]"),
         "outline-crosses", "fixture.obstacles[0].outline"),
    case("obstacle-falls", "machine", "clearance: 5 mm",
         "obstacles: [{name: stop, from: 5 mm, to: ▸1 mm, "
         "outline: [[0 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]]}]",
         "range-order", "fixture.obstacles[0].to"),
    case("two-obstacles-of-a-name", "machine", "clearance: 5 mm",
         "obstacles: [{name: stop, from: 1 mm, to: 5 mm, "
         "outline: [[0 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]]}, {name: ▸stop, from: 1 mm, "
         "to: 5 mm, outline: [[0 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]]}]",
         "repeated-name", "fixture.obstacles[1].name"),
    case("over-without-a-line", "machine", "flip: end_for_end, run_off: 10 mm, clearance: 5 mm",
         "flip: over, run_off: 10 mm, "
         + obstacle("[0 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]", "", "▸"),
         "turn-line", "fixture.obstacles"),
    case("a-line-without-over", "machine", "clearance: 5 mm", "turn_line: ▸3 mm", "turn-line",
         "fixture.turn_line"),
    case("an-axis-of-a-tilt-over-without-a-line", "machine",
         "flip: end_for_end, run_off: 10 mm, clearance: 5 mm",
         "flip: over, run_off: 10 mm, clearance: 5 mm, ▸tilt_axis: {at: [25 mm, -30 mm]}",
         "turn-line", "fixture.tilt_axis"),
    case("flange-over-its-wheel", "machine", "width: 20 mm",
         "width: 20 mm, ▸flange: {diameter: 150 mm, width: 30 mm}",
         "flange-and-wheel", "rack[0].flange"),
    case("flange-within-its-wheel", "machine", "width: 20 mm",
         "width: 20 mm, ▸flange: {diameter: 80 mm, width: 20 mm}",
         "flange-and-wheel", "rack[0].flange"),
    case("two-heads-of-a-name", "machine", "stiffness: 2000 N/mm", "stiffness: 2000 N/mm\nhead:\n"
         "  - {name: motor, from: 1 mm, to: 5 mm, "
         "outline: [[0 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]]}"
         "\n  - {name: ▸motor, from: 1 mm, to: 5 mm, "
         "outline: [[0 mm, 0 mm], [4 mm, 0 mm], [0 mm, 2 mm]]}",
         "repeated-name", "head[1].name"),
    case("scallop-with-two", "job", "  shoulder_land: 1.4 mm",
         "  shoulder_land: 1.4 mm\n  scallop: ▸0.002 mm", "scallop-and-sizes", "relief.scallop"),
    case("relief-before-bevel", "job", "steel: O1",
         "steel: O1\n▸operations: [{do: relief}, {do: bevel, wheel: fine}]",
         "operation-order", "operations"),
    case("bevel-alone", "job", "steel: O1", "steel: O1\n▸operations: [{do: bevel, wheel: fine}]",
         "operation-order", "operations"),
    case("ridge-on-flats", "job", "steel: O1",
         "steel: O1\noperations: [{do: bevel, wheel: fine, ridge: ▸0.01 mm}, {do: relief}]",
         "bevel-ridge", "operations[0].ridge"),
    case("two-wheels", "job", "steel: O1", "steel: O1\noperations: [{do: relief, wheel: ▸fine}]",
         "two-wheels", "operations[0].wheel"),
    case("digs-in-while-guided", "job", "steel: O1",
         "steel: O1\ncut: {guided: 4 deg, digs_in: ▸3 deg}", "digs-in-below-guided",
         "cut.digs_in"),
    case("bowl-falls", "job", "steel: O1", "steel: O1\ncut: {▸bowl: [400 mm, 40 mm]}",
         "range-order", "cut.bowl"),
    case("bowl-of-nothing", "job", "steel: O1", "steel: O1\ncut: {bowl: [▸0 mm, 40 mm]}",
         "out-of-range", "cut.bowl[0]"),
    case("row-not-from-zero", "machine", "clearance: 5 mm",
         "row: {positions: [▸5 mm, 115 mm]}", "row-start", "fixture.row.positions[0]"),
    case("row-falls", "machine", "clearance: 5 mm", "row: {positions: [0 mm, 220 mm, ▸110 mm]}",
         "row-order", "fixture.row.positions[2]"),
    case("row-repeats", "machine", "clearance: 5 mm", "row: {positions: [0 mm, ▸0 mm]}",
         "row-order", "fixture.row.positions[1]"),
    case("row-of-none", "machine", "clearance: 5 mm", "row: {▸positions: []}", "wrong-count",
         "fixture.row.positions"),
    case("unknown-steel", "job", "steel: O1", "steel: ▸O11", "unknown-steel", "steel"),
]  # fmt: skip

# The fault stands elsewhere than the change: line and column by hand, counted in data/.
ELSEWHERE = {
    "missing-map": (8, 1),  # blade:
    "no-infeed": (5, 1),  # axes:
    "wheel-on-a-belt-machine": (17, 5),  # {name: fine
    "small-with-A": (10, 3),  # A:
}
# Rules that one change of this machine breaks together: the one named, and these.
BESIDES = {
    "small-with-A": ["dialect-coolant"],
    "digits-over-24-bits": ["dialect-axis", "dialect-coolant"],
    "hand-tilt-falls": ["two-tilts"],
    "neither-scale-nor-wedges": ["two-tilts"],
    "scale-and-wedges": ["two-tilts"],
    "scale-and-stops": ["two-crosses"],
    "tilt-scale-without-mark": ["two-tilts"],
    "scale-without-mark": ["two-crosses"],
    "wedge-in-mm": ["two-tilts"],
    "stop-before-the-edge": ["two-crosses"],
}


@pytest.fixture(autouse=True, params=["CSafeLoader", "SafeLoader"])
def loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read with libyaml, and as a PyYAML without it does."""
    monkeypatch.setattr(yaml_nodes, "_Loader", getattr(yaml, request.param))


@pytest.mark.parametrize(
    ("kind", "old", "new", "rule", "path"),
    [*QUANTITIES, *RANGES, *KEYS, *TYPES, *TRAPS, *SYNTAX, *BETWEEN_KEYS],
)
def test_one_fault_gives_one_problem_at_its_place(
    kind: str,
    old: str,
    new: str,
    rule: str,
    path: str,
    spoil: Spoil,
    request: pytest.FixtureRequest,
) -> None:
    name = next(n for n in (*ELSEWHERE, *BESIDES, "") if n in request.node.callspec.id)
    problems, places = spoil(kind, old, new)
    problems = [p for p in problems if p.rule not in BESIDES.get(name, [])]
    assert [(p.rule, p.key_path) for p in problems] == [(rule, path)]
    assert [(p.line, p.column) for p in problems] == (places or [ELSEWHERE[name]])
    (problem,) = problems
    assert problem.given
    assert problem.allowed
    assert problem.mend


def test_good_files_have_no_problem(
    texts: dict[str, str], problems_of: Callable[[str, str], list[Problem]]
) -> None:
    assert [problems_of(kind, text) for kind, text in texts.items()] == [[], []]
