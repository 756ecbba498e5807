"""A fault of a program in words: one template for each rule of the proof."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from planner.errors import Fact, Fault

TEMPLATES: dict[str, str] = {
    # the text
    "non-ascii": "the byte {character} is not ASCII; some controllers act on it",
    "control-character": "the control character {character} does not belong in a program; "
    "lines end in LF alone",
    "forbidden-character": "{character} is no part of a program in this form",
    "lower-case": "write {character} in upper case",
    "line-too-long": "the line has {characters} characters, {most} at most",
    "unended-line": "the last line has no end of line: the program may be cut short",
    "block-delete": "a line behind / may or may not run: it depends on a switch of the machine",
    "comment-unclosed": "the comment is not closed; the rest of the line may be lost or may run",
    "comment-nested": "a comment inside a comment",
    "comment-active": "some controllers act on a comment that starts like this: {comment}",
    "comment-character": "{character} may not stand in a comment; some controllers act on it",
    "expression": "{character}: parameters and expressions are not followed",
    "subprogram": "{word}: subprograms and loops are not followed",
    "exponent-number": "{word} is written with an exponent; controllers read it as two words",
    "bad-number": "{word} is no word with a plain number in the range of a machine",
    "minus-zero": "{word}: write zero without a sign",
    "too-many-digits": "{word} has more digits than the controller's numbers keep",
    "repeated-word": "the word {letter} stands twice in the block",
    "readers-disagree": "a second reader does not read the same words in this block",
    # the codes
    "line-number": "line numbers are left out in this form",
    "unknown-code": "{code} is not among the codes that may be used with {dialect}",
    "unknown-word": "nothing in the block uses the word {word}",
    "unknown-axis": "this machine's programs have no axis {letter}",
    "modal-group-clash": "{first} and {second} may not stand in one block",
    "offset-code": "{code} shifts or leaves the zero that the program was touched off at: where "
    "the wheel goes cannot be told from the text",
    "incremental": "G91: only absolute positions are followed",
    "unset-state": "{state} is relied on before the program sets it",
    "units-changed": "the units change within the program",
    "bad-feed": "a feed of {feed} is none",
    "inverse-feed-missing": "in inverse-time mode every feed block needs its own F",
    "mixed-feed": "straight and rotary axes move together at a feed a minute, which controllers "
    "understand differently: use G93",
    "dwell-time": "G4 needs P with a time from 0 s",
    "path-mode": "the path tolerance is {tolerance_mm}: give G64 a P no larger than the "
    "machine's path tolerance",
    "no-end": "the program has no end: M2 or M30 is missing",
    "text-after-end": "there is text after the end; some controllers go on and run it",
    # the claims of the header, the job and the machine
    "claim-missing": "the header does not say which {claim} it is for",
    "claim-contradicted": "the program says: {claim}; against it stands: {by}",
    "unknown-wheel": "{found} wheels in the rack go by the name {wheel}; it must be one",
    "impossible-geometry": "the job's section does not exist: {reason}",
    # the motion
    "unknown-position": "the infeed alone moves first, to clearance; below clearance, and at the "
    "end, every position must be told. Not told: {axes}",
    "start-not-clear": "the first move ends at infeed {infeed_mm} mm, below clearance",
    "travel-span": (
        "{axis} goes from {low} to {high} {unit}: more than its whole travel of {most} {unit}, "
        "wherever its zero stands"
    ),
    "travel-limit": "{axis} at {position} {unit} is past its travel, {low} to {high} {unit}",
    "feed-limit": "{axis} would have to do {feed} {unit}, its most is {most} {unit}",
    "block-rate": "the pass asks for {asked_per_s} blocks a second here; the controller takes "
    "{most_per_s} and halts in the cut",
    "rapid-in-steel": "a rapid move with the wheel in the steel",
    "jaws": "the {part} enters the clamp's keep-out by {overlap_mm} mm",
    "obstacle": "the {part} runs {overlap_mm} mm into the {obstacle}",
    "creep": (
        "a feed of {feed_mm_min} mm/min in contact; under {least_mm_min} mm/min the wheel "
        "only burns"
    ),
    "plunge": "infeed, cross or tilt change while the wheel touches the blade: off the ends only",
    "pass-incomplete": "the pass that touched the steel at line {contact_line} does not run the "
    "whole edge, or the whole row, from past one end to past the other",
    "wrong-tilt": "the tilt is {tilt_deg} deg; the zero holds for {right_deg} deg",
    "tilt-not-clear": "the tilt turns at infeed {infeed_mm} mm: once it was told it turns "
    "off the ends of the edge, clear from {least_mm} mm on",
    "traverse-moved": "the traverse leaves its zero: the wheel no longer stands over the axis that "
    "the blade is turned about",
    "turn-moved": "the turn axis moves: the frame of a straight edge does not hold there",
    # a row of blades
    "row-too-close": "between two stations of the row {gap_mm} mm are free; the wheel's width and "
    "the run-off take {least_mm} mm",
    "row-uneven": "the wheel goes from infeed {before_mm} mm to {infeed_mm} mm between two blades "
    "of one pass: infeed, cross and tilt change off the ends of the row only",
    "empty-station": "the wheel comes down to infeed {infeed_mm} mm over station {station}, which "
    "is said to be empty: it must cross at clearance",
    # the switches
    "spindle-off": "a cut with the wheel standing still",
    "spindle-reversed": "a cut with the wheel running {direction}; right is {right}",
    "spindle-speed-unset": "the spindle is started without a speed",
    "over-marked-speed": "the wheel would run at {speed} {unit}; it is marked for {mark} {unit}",
    "over-spindle-speed": "the spindle would run at {speed_rpm} rpm; its most is {most_rpm} rpm",
    "spindle-by-hand": "this machine's spindle is switched by hand: no S, M3, M4 or M5",
    "no-spin-up": "the wheel had {waited_s} s to come to speed; it needs {least_s} s",
    "cut-without-coolant": "a cut without {code}, the machine's coolant",
    "dwell-in-contact": "a dwell with the wheel in the steel burns it",
    "stop-in-contact": "a stop with the wheel in the steel",
    "stop-not-clear": "{code} stops the program where the wheel is not clear: at clearance and "
    "off the ends of the edge",
    "stop-spindle-on": "{code} stops the program for hands with the wheel running: M5 first",
    "spindle-change-in-contact": "the spindle changes with the wheel in the steel",
    "coolant-change-in-contact": "the coolant changes with the wheel in the steel",
    "end-spindle-on": "the program ends with the wheel running",
    "end-coolant-on": "the program ends with the coolant on: {codes}",
    "end-not-retracted": "the program ends at infeed {infeed_mm}; clear is {least_mm} mm",
    "air-run-touches": "the air run touches the blade",
    "air-run-spindle": "the air run starts the spindle",
    "air-run-coolant": "the air run starts the coolant",
    # the cut
    "below-target": "the wheel is sent {depth_mm} mm deep by line {infeed_line}; the target is "
    "{target_mm} mm",
    "bite-too-large": "the pass steps {step_mm} mm deeper (line {infeed_line}); this wheel takes "
    "{most_mm} mm at most",
    "force-too-large": "the pass presses with {force_n} N; the limit is {most_n} N",
    "power-too-large": "the pass takes {power_w} W at the wheel; there are {most_w} W",
    "missing-spark-out": "{residual_mm} mm of deflection is left at the end, {most_mm} mm at "
    "most: spark-out passes are missing",
    "land-out-of-tolerance": "the {land} at the {station} comes out at {found_mm} mm instead of "
    "{wanted_mm} mm, within {tolerance_mm} mm",
    "lands-not-in-one-plane": "the two lands at the {station} are {off_mm} mm out of one plane, "
    "{most_mm} mm at most",
    "edge-out-of-tolerance": "the edge at the {station} comes out {found_mm} mm thick instead of "
    "{wanted_mm} mm, within {tolerance_mm} mm",
    "bevel-out-of-tolerance": "the bevel face at the {station} stands from {lowest_mm} to "
    "{highest_mm} mm above the plane wanted, within {tolerance_mm} mm",
    "ridges-too-high": "ridges of {ridge_mm} mm stay between the lines, {most_mm} mm at most",
    "steel-left": "{left_mm} mm of steel would be left, {least_mm} mm at least",
}


def fault_words(fault: Fault) -> str:
    """One fault as a sentence with the name of its rule, without line number or block.

    Raises: KeyError for a rule without words or a fault without a fact that its words quote.

    >>> fault_words(Fault(12, "steel-left", "", {"left_mm": 0.1, "least_mm": 0.15}))
    '[steel-left] 0.1000 mm of steel would be left, 0.1500 mm at least'
    """
    facts = {name: _fact_text(name, value) for name, value in fault.facts.items()}
    where = f"station {facts['row_station']} of the row: " if "row_station" in facts else ""
    return f"[{fault.rule}] {where}{TEMPLATES[fault.rule].format(**facts)}"


def fault_data(fault: Fault) -> dict[str, Fact]:
    """One fault as JSON data."""
    return {"line": fault.line, "rule": fault.rule, "block": fault.block, **fault.facts}


MOST_ALIKE = 3
"""Faults of one rule that are told one by one; of the others their number."""


def fault_lines(faults: Sequence[tuple[str, Fault]], *, blocks: bool = True) -> list[str]:
    """Lines for the screen of faults with the names of their programs, in the order given.

    Of many in one program that break the same rule the first few are told. With ``blocks`` the
    program's own line stands below each.
    """
    lines = []
    of_rule = Counter((program, fault.rule) for program, fault in faults)
    told: Counter[tuple[str, str]] = Counter()
    for program, fault in faults:
        rule = program, fault.rule
        told[rule] += 1
        if told[rule] > MOST_ALIKE:
            continue
        lines.append(f"{program}:{fault.line}: {fault_words(fault)}")
        if blocks and fault.block:
            lines.append(f"    {fault.line} | {fault.block}")
        if told[rule] == MOST_ALIKE < of_rule[rule]:
            lines.append(f"    and {of_rule[rule] - MOST_ALIKE} more like it")
    return lines


def _fact_text(name: str, value: Fact) -> str:
    if not isinstance(value, float):
        return str(value)
    if name.endswith("_mm"):
        return f"{value:.4f}"
    return f"{value:.6g}"
