"""A set-up's motion as a list of steps, before it becomes text in some dialect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from planner.gcode.comments import FirstWord
from planner.gcode.numbers import number_text
from planner.heat.march import Pause
from planner.inputs.machine import Machine
from planner.kinematics.row import Row
from planner.kinematics.sweep import FacetStand, Sweep
from planner.kinematics.touch_frame import TouchFrame
from planner.passes.schedule import Pass, Schedule


@dataclass(frozen=True)
class Note:
    """A comment."""

    first_word: FirstWord
    text: str


@dataclass(frozen=True)
class Move:
    """A straight move of some axes, by role, in touch-frame values; no feed, no time is a rapid.

    A move that turns a rotary axis is told by the time that it takes: the length of its path
    over the steel, over the feed at the edge.
    """

    to: Mapping[str, float]
    feed_mm_min: float | None = None
    minutes: float | None = None

    def __post_init__(self) -> None:
        if self.feed_mm_min is not None and self.minutes is not None:
            raise ValueError("a move has a feed or a time, not both")


@dataclass(frozen=True)
class Spindle:
    """Start the wheel in its own direction, or stop it (speed None)."""

    speed_rpm: float | None


@dataclass(frozen=True)
class Coolant:
    """Switch the coolant with one code of the controller."""

    code: str


@dataclass(frozen=True)
class Dwell:
    """Wait; only ever written clear of the blade."""

    seconds: float


@dataclass(frozen=True)
class Stop:
    """Wait for the operator, clear of the blade, with a message on the line before."""

    message: str


Step = Note | Move | Spindle | Coolant | Dwell | Stop


@dataclass(frozen=True)
class Program:
    """All steps of one file, in order."""

    file_name: str
    setup: str
    steps: tuple[Step, ...]
    path_tolerance_mm: float | None = None
    """How far corners may be rounded, where the machine file's own figure would be too much."""


@dataclass(frozen=True)
class Heading:
    """What the header says of a program."""

    title: str
    digest: str
    setup: str
    face: str
    wheel: str
    relief_wheel: str | None
    """The wheel that ground the relief, for a program of the lands beside it."""
    zero_at: str
    """Where the wheel bares at program zero."""
    zero_end: str
    worn_before_mm: float
    passes: int
    set_by_hand: tuple[str, ...] = ()
    """The settings that a person makes and the program counts on, such as ``tilt 12.5000 deg``."""
    from_pass: int = 1
    """The pass that the program goes on from; 1 does the whole set-up."""
    touch_depth_mm: float | None = None
    """Depth at which a new wheel bares; None for the same wheel."""
    touch_place: str = ""
    """Where it does: in the hollow, or on the flat ground so far."""
    file_name: str = ""
    """Of the cutting program."""
    in_row: bool = False
    """Whether the fixture is a row, so that the header says which stations are filled."""
    swept: str = ""
    """How many facets the tilt is swept through, and about which axis; empty where it stands."""


def cutting_program(
    heading: Heading,
    machine: Machine,
    row: Row,
    frame: TouchFrame,
    schedule: Schedule,
    pauses: Sequence[Pause | None],
    compensation_mm: Sequence[float],
    infeed_feed_mm_min: float,
    *,
    water_dip: bool,
    in_lines: bool = False,
    sweep: Sweep | None = None,
) -> Program:
    """The program of one set-up: every stop and every infeed is off the ends of the edge.

    Of a row, off the ends of the row. Over an empty station within it the wheel goes up to
    clearance and comes down again to the same infeed.
    ``pauses`` has one entry a pass, the pause before it; ``compensation_mm`` how much further each
    is sent for the wheel's wear. A heading that goes on from a later pass leaves out those before
    it: the opening is the same, off the end from which that pass runs. Where the tilt is swept it
    turns between two facets, at a clearance that is enough at every tilt.
    """
    roles = {a.role for a in machine.axes.values()}
    clear = machine.fixture.clearance_mm if sweep is None else sweep.clear_mm
    ends = row.ends_mm
    by_hand = machine.spindle.control == "by_hand"
    steps: list[Step] = _header(heading, "cutting", machine, clear, row)
    steps.append(Move({"infeed": clear}))
    skipped = heading.from_pass - 1
    at_end, last = skipped % 2, schedule.passes[skipped]
    if "tilt" in roles:
        steps.append(Move({"tilt": _tilt_deg(frame, sweep, last)}))
    aside = 0.0 if sweep is None else sweep.stand(last.facet).cross_mm
    first = {"traverse": ends[at_end]} | ({"cross": aside} if "cross" in roles else {})
    steps.append(Move(first))
    if by_hand:
        steps.append(Stop("start the wheel by hand, let it run up, then resume"))
    else:
        steps += [Spindle(machine.spindle.speed_rpm), Dwell(machine.spindle.spin_up_s)]
    if machine.coolant.on:
        steps.append(Coolant(machine.coolant.on))
    every = list(zip(schedule.passes, pauses, compensation_mm, strict=True))
    for done, pause, more in every[skipped:]:
        if pause is not None:
            steps += _pause_steps(pause, machine, clear, water_dip, row.blades)
        if sweep is not None and done.facet != last.facet:
            steps += _turn_steps(sweep.stand(done.facet), clear, "cross" in roles)
        last, depth = done, done.commanded_depth_mm + more
        infeed, cross = _position(frame, sweep, done, depth)
        claim = _claim(done, len(schedule.passes))
        if in_lines:
            claim += f" cross {number_text(cross, 4)}"
        if sweep is not None:
            claim += f" tilt {number_text(_tilt_deg(frame, sweep, done), 4)}"
        steps.append(Note("pass", claim))
        down = {"infeed": infeed} | ({"cross": cross} if "cross" in roles else {})
        legs = row.legs_mm if at_end == 0 else [(b, a) for a, b in reversed(row.legs_mm)]
        for begin, end in legs:
            if begin != ends[at_end]:
                steps += [Move({"infeed": clear}), Move({"traverse": begin})]
            steps.append(Move(down, infeed_feed_mm_min))
            steps.append(Move({"traverse": end}, done.feed_mm_min))
        at_end = 1 - at_end
    steps.append(Move({"infeed": clear}))
    if machine.coolant.off:
        steps.append(Coolant(machine.coolant.off))
    steps.append(Stop("switch the wheel off by hand, then resume") if by_hand else Spindle(None))
    return Program(heading.file_name, heading.setup, tuple(steps))


def _claim(one: Pass, count: int) -> str:
    """What a pass says of itself."""
    kind = one.kind.replace("_", "-")
    return f"{one.number} of {count} {kind} depth {one.commanded_depth_mm:.4f}"


def _tilt_deg(frame: TouchFrame, sweep: Sweep | None, one: Pass) -> float:
    return frame.tilt_deg if sweep is None else sweep.stand(one.facet).tilt_deg


def _position(
    frame: TouchFrame, sweep: Sweep | None, one: Pass, depth_mm: float
) -> tuple[float, float]:
    """Infeed and cross of a pass sent to a depth."""
    if sweep is None:
        return frame.position(depth_mm, one.along_mm)
    return sweep.position(one.facet, depth_mm)


def _turn_steps(stand: FacetStand, clear_mm: float, has_cross: bool) -> list[Step]:
    """Off the end of the blade: up, and the tilt and the cross to the next facet."""
    steps: list[Step] = [Move({"infeed": clear_mm}), Move({"tilt": stand.tilt_deg})]
    return [*steps, Move({"cross": stand.cross_mm})] if has_cross else steps


def _pause_steps(
    pause: Pause, machine: Machine, clear_mm: float, water_dip: bool, blades: int
) -> list[Step]:
    """Off the end of the blade: wait there, or retract and stop, wheel at rest, for hands."""
    if pause.kind == "dwell":
        return [Note("cool", f"air {pause.seconds:.1f} s"), Dwell(pause.seconds)]
    steps: list[Step] = [Move({"infeed": clear_mm})]
    if pause.kind == "dip":
        task = "dip blades in water, dry" if blades > 1 else "dip blade in water, wipe dry"
    else:
        task = f"cool in air {pause.seconds:.0f} s" + ("" if water_dip else ", no water")
    if machine.coolant.off:
        steps.append(Coolant(machine.coolant.off))
    if machine.spindle.control == "by_hand":
        steps.append(Stop(f"wheel off, {task}, wheel on, resume"))
    else:
        steps += [Spindle(None), Stop(f"wheel must stand still: {task}, resume")]
        steps += [Spindle(machine.spindle.speed_rpm), Dwell(machine.spindle.spin_up_s)]
    if machine.coolant.on:
        steps.append(Coolant(machine.coolant.on))
    return steps


def air_run(
    heading: Heading,
    machine: Machine,
    row: Row,
    program: Program,
    deepest_mm: float,
    clear_mm: float,
) -> Program:
    """The twin of a program: the same motion lifted clear, wheel and coolant never started."""
    lift = machine.fixture.clearance_mm + deepest_mm
    steps: list[Step] = _header(heading, "air run", machine, clear_mm + lift, row)
    started = False
    for step in program.steps:
        if isinstance(step, Move):
            started = True
            to = {k: v + lift if k == "infeed" else v for k, v in step.to.items()}
            steps.append(replace(step, to=to))
        elif started and isinstance(step, Note):
            steps.append(step)
    return Program(program.file_name.replace(".ngc", "-air.ngc"), program.setup, tuple(steps))


def _header(heading: Heading, kind: str, machine: Machine, clear_mm: float, row: Row) -> list[Step]:
    steps: list[Step] = [
        Note("bevelwright", "program"),
        Note("title", heading.title),
        Note("plan", heading.digest[:16]),
        Note("setup", f"{heading.setup} face {heading.face}"),
        Note("kind", kind),
        Note("wheel", heading.wheel),
        *([Note("relief", f"wheel {heading.relief_wheel}")] if heading.relief_wheel else []),
        Note(
            "zero",
            f"wheel bares on {heading.zero_at}, traverse 0 at {heading.zero_end}",
        ),
        Note("worn", f"{heading.worn_before_mm:.4f} mm since touch-off, before this blade"),
        Note("units", machine.controller.units),
        Note("clear", f"{clear_mm:.{max(machine.controller.decimals, 4)}f} mm above zero"),
    ]
    if heading.swept:
        steps.append(Note("tilt", heading.swept))
    if heading.in_row:
        steps += [Note("station", text) for text in _station_texts(heading, row)]
    if heading.set_by_hand:
        steps.append(Note("set", f"{', '.join(heading.set_by_hand)}, by hand"))
    if heading.from_pass > 1:
        new = heading.touch_depth_mm is not None
        which = f"pass {heading.from_pass} of {heading.passes}"
        steps.append(Note("from", f"{which}, {'new wheel' if new else 'zero stands'}"))
    if heading.touch_depth_mm is not None:
        depth = f"{heading.touch_depth_mm:.4f}"
        steps.append(Note("touch", f"wheel bares {heading.touch_place} at depth {depth}"))
    return steps


def _station_texts(heading: Heading, row: Row) -> list[str]:
    """One for each station of the fixture: where the blade's end stands that the traverse meets."""
    count = len(row.all_positions_mm)
    return [
        f"{number} of {count} "
        + (f"{heading.zero_end} at {position:.4f} mm" if number in row.stations else "empty")
        for number, position in enumerate(row.all_positions_mm, start=1)
    ]
