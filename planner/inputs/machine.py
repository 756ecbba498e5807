"""The machine file: axes, spindle, fixture, and the rack of wheels or belts.

Standard deviations (``repeatability``, ``touch_off`` and the like) are one sigma. A maker's
plus-or-minus figure is usually two sigma: halve it (common practice, no source).
"""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field, model_validator

from planner.inputs.axes import Axis, AxisLetter, LinearAxis
from planner.inputs.controllers import CONTROLLERS, ControllerClass
from planner.inputs.fields import (
    BlockRate,
    Count,
    FileModel,
    Film,
    Force,
    Length,
    Number,
    Power,
    ShaftSpeed,
    Share,
    Stiffness,
    Temperature,
    TemperatureStep,
    Time,
    Title,
    raise_faults,
    rule_fault,
)
from planner.inputs.fixture import Fixture, turn_line_faults
from planner.inputs.in_the_way import Guard, HeadPart
from planner.inputs.rack import Wheel, wheel_faults


class Controller(FileModel):
    """Which G-code the controller takes, and in what numbers."""

    dialect: Literal["rs274ngc", "small"]
    units: Literal["mm", "inch"] = "mm"
    decimals: Annotated[Count, Field(ge=3, le=5)] = 4
    rotary_decimals: Annotated[Count, Field(ge=2, le=5)] = 3
    path_tolerance_mm: Annotated[Length, Field(alias="path_tolerance", gt=0, le=0.1)] = 0.005
    block_rate_per_s: Annotated[BlockRate | None, Field(alias="block_rate", ge=1, le=100_000)] = (
        None
    )
    """Blocks a second that the controller takes without a halt: no pass asks for more. Left out,
    500 blocks/s with ``rs274ngc`` (half of one a millisecond; from memory) and 250 blocks/s with
    ``small`` (the least of 250 to 400 that users report of eight-bit controllers)."""

    @property
    def controller_class(self) -> ControllerClass:
        """What holds for every controller of this dialect."""
        return CONTROLLERS[self.dialect]

    @property
    def blocks_per_s(self) -> float:
        """Blocks a second, as stated or as the dialect's controllers take."""
        stated = self.block_rate_per_s
        return self.controller_class.blocks_per_s if stated is None else stated


class Spindle(FileModel):
    """What turns the wheel or drives the belt."""

    speed_rpm: Annotated[ShaftSpeed, Field(alias="speed", gt=0, le=100_000)]
    power_w: Annotated[Power, Field(alias="power", gt=0, le=100_000)]
    efficiency: Annotated[Number, Field(gt=0, le=1)] = 0.8
    """Share of the motor's rated power that reaches the wheel. Default 0.8: a belt drive with its
    bearings; from memory."""
    control: Literal["program", "by_hand"]
    spin_up_s: Annotated[Time, Field(alias="spin_up", ge=0, le=300)] = 5.0
    direction: Literal["clockwise", "counterclockwise"] = "clockwise"
    """The sense of M3 or M4 that is right for this machine; the other is reversed."""


class Coolant(FileModel):
    """How the cut is cooled; ``on`` and ``off`` are codes of the controller."""

    kind: Literal["dry", "mist", "flood"] = "dry"
    on: Literal["M7", "M8"] | None = None
    off: Literal["M9"] | None = None
    film_w_m2k: Annotated[Film | None, Field(alias="film", gt=0, le=50_000)] = None
    """Heat that the blade's faces give off; left out, the packaged table's value for the kind."""
    ambient_c: Annotated[Temperature, Field(alias="ambient", ge=-20, le=60)] = 20.0
    """Temperature of air or coolant, and of the blade before the first pass."""

    @model_validator(mode="after")
    def _switched_both_ways(self) -> Coolant:
        if (self.on is None) != (self.off is None):
            raise rule_fault(
                "coolant-codes",
                key="on" if self.off is None else "off",
                given=f"{'on' if self.off is None else 'off'} alone",
                allowed="both, or neither when the coolant is switched by hand",
                mend="write on: M8 and off: M9, or leave both out",
            )
        return self


class Limits(FileModel):
    """What the machine and the blade may be asked to bear."""

    normal_force_n: Annotated[Force, Field(alias="normal_force", gt=0, le=10_000)]
    temper_margin_k: Annotated[TemperatureStep, Field(alias="temper_margin", ge=0, le=100)] = 25.0
    """How far the edge stays below its tempering temperature. Default 25 K: common practice, no
    source."""
    drift_share: Annotated[Share, Field(gt=0)] = 0.25
    """Share of the land tolerance that wear may use before the wheel is dressed or set anew.
    Default a quarter: common practice, no source."""


class Machine(FileModel):
    """One machine file."""

    title: Title
    kind: Literal["wheel", "belt"]
    controller: Controller
    axes: dict[AxisLetter, Axis]
    spindle: Spindle
    stiffness_n_mm: Annotated[Stiffness, Field(alias="stiffness", gt=0, le=1_000_000)]
    coolant: Coolant = Coolant()
    fixture: Fixture
    limits: Limits
    rack: Annotated[list[Wheel], Field(min_length=1)]
    guard: Guard | None = None
    head: list[HeadPart] | None = None
    """What else moves with the wheel."""
    work_rest_gap_mm: Annotated[Length | None, Field(alias="work_rest_gap", ge=0, le=100)] = None
    """Gap between wheel and work rest, where the machine has a rest: for the guard caution."""
    dust_collector: Literal["none", "steel_only", "shared_with_wood"] = "none"

    @model_validator(mode="after")
    def _roles_are_filled_once(self) -> Machine:
        letters: dict[str, list[str]] = {}
        for letter, axis in self.axes.items():
            letters.setdefault(axis.role, []).append(letter)
        faults = [
            rule_fault(
                "axis-roles",
                key="axes",
                given=f"no {role} axis",
                allowed=f"exactly one axis with role: {role}",
                mend=f"give the axis that does it role: {role}",
            )
            for role in ("traverse", "infeed")
            if role not in letters
        ]
        faults += [
            rule_fault(
                "axis-roles",
                key=f"axes.{second}.role",
                other=f"axes.{first}.role",
                given=f"{role} for {second} as well as for {first}",
                allowed=f"one axis with role: {role}",
                mend="give one of the two another role, or leave it out",
            )
            for role, (first, *more) in letters.items()
            for second in more
        ]
        raise_faults(faults)
        return self

    @model_validator(mode="after")
    def _letters_suit_role_and_dialect(self) -> Machine:
        letters = self.controller.controller_class.axis_letters
        faults = []
        for letter, axis in self.axes.items():
            rotary = axis.role in ("tilt", "turn")
            if letter in get_args(AxisLetter) and letter not in letters:
                faults.append(
                    rule_fault(
                        "dialect-axis",
                        key=f"axes.{letter}",
                        other="controller.dialect",
                        given=f"axis {letter} on a controller of dialect {self.controller.dialect}",
                        allowed=", ".join(letters),
                        mend="name the axis by another letter, or give the controller's dialect",
                    )
                )
            elif letter in (("X", "Y", "Z") if rotary else ("A", "B", "C")):
                faults.append(
                    rule_fault(
                        "axis-letter",
                        key=f"axes.{letter}",
                        other=f"axes.{letter}.role",
                        given=f"role: {axis.role} on axis {letter}",
                        allowed="traverse, infeed, cross on X, Y or Z; tilt, turn on A, B or C",
                        mend=f"name the axis {'A, B or C' if rotary else 'X, Y or Z'}",
                    )
                )
        raise_faults(faults)
        return self

    @model_validator(mode="after")
    def _coolant_suits_the_dialect(self) -> Machine:
        codes = self.controller.controller_class.coolant_codes
        if self.coolant.on is not None and self.coolant.on not in codes:
            raise rule_fault(
                "dialect-coolant",
                key="coolant.on",
                other="controller.dialect",
                given=f"on: {self.coolant.on} on a controller of dialect {self.controller.dialect}",
                allowed=f"{' or '.join(codes)}, which such a controller takes as built",
                mend=f"write on: {codes[-1]}, or leave on and off out and switch it by hand",
            )
        return self

    @model_validator(mode="after")
    def _positions_have_digits_that_are_held(self) -> Machine:
        controller = self.controller
        unit_mm = 25.4 if controller.units == "inch" else 1.0
        faults = []
        for letter, axis in self.axes.items():
            if isinstance(axis, LinearAxis):
                decimals, key = controller.decimals, "controller.decimals"
                # A zero that is not known is taken to be that of the travel.
                zero_at = axis.zero_at_mm or 0.0
                ends = [(end - zero_at) / unit_mm for end in axis.travel_mm]
            else:
                decimals, key = controller.rotary_decimals, "controller.rotary_decimals"
                ends = [end - axis.zero_at_deg for end in axis.travel_deg]
            farthest = max(abs(end) for end in ends)
            if farthest < controller.controller_class.largest_held(decimals):
                continue
            faults.append(
                rule_fault(
                    "dialect-digits",
                    key=key,
                    other=f"axes.{letter}.travel",
                    given=f"{decimals} decimals of {letter} up to {farthest:g}",
                    allowed="positions whose last decimal a controller of dialect "
                    f"{controller.dialect} holds: with {decimals} decimals below "
                    f"{controller.controller_class.largest_held(decimals):g}",
                    mend=f"write {key.partition('.')[2]}: {decimals - 1}, or the travel that is "
                    "there",
                )
            )
        raise_faults(faults[:1])
        return self

    @model_validator(mode="after")
    def _tilts_one_way(self) -> Machine:
        tilt = next((k for k, axis in self.axes.items() if axis.role == "tilt"), None)
        if tilt is not None and self.fixture.hand_tilt is not None:
            raise rule_fault(
                "two-tilts",
                key="fixture.hand_tilt",
                other=f"axes.{tilt}",
                given=f"a tilt set by hand, and axis {tilt} with role: tilt",
                allowed="one of the two",
                mend="leave out the one that the set-ups do not use",
            )
        turn = next((k for k, axis in self.axes.items() if axis.role == "turn"), None)
        if turn is not None and self.fixture.hand_turn is not None:
            raise rule_fault(
                "two-turns",
                key="fixture.hand_turn",
                other=f"axes.{turn}",
                given=f"a turn set by hand, and axis {turn} with role: turn",
                allowed="one of the two",
                mend="leave out the one that the set-ups do not use",
            )
        if tilt is None and self.fixture.tilt_axis is not None:
            raise rule_fault(
                "tilt-axis",
                key="fixture.tilt_axis",
                given="tilt_axis, and no axis with role: tilt",
                allowed="tilt_axis with a powered tilt only",
                mend="leave tilt_axis out, or give the axis that tilts the blade role: tilt",
            )
        if tilt is None and self.fixture.hand_tilt is None and self.fixture.flip == "by_tilt":
            raise rule_fault(
                "flip-needs-tilt",
                key="fixture.flip",
                given="flip: by_tilt, and nothing that tilts",
                allowed="by_tilt with a tilt axis or fixture.hand_tilt; end_for_end; over",
                mend="add the tilt, or write how the blade is turned over by hand",
            )
        return self

    @model_validator(mode="after")
    def _crosses_one_way(self) -> Machine:
        cross = next((k for k, axis in self.axes.items() if axis.role == "cross"), None)
        if cross is not None and self.fixture.hand_cross is not None:
            raise rule_fault(
                "two-crosses",
                key="fixture.hand_cross",
                other=f"axes.{cross}",
                given=f"a cross set by hand, and axis {cross} with role: cross",
                allowed="one of the two",
                mend="leave out the one that the set-ups do not use",
            )
        return self

    @model_validator(mode="after")
    def _belts_are_on_belt_machines(self) -> Machine:
        faults = [
            rule_fault(
                "kind-and-rack",
                key=f"rack[{n}].belt" if item.belt is not None else f"rack[{n}]",
                other="kind",
                given=f"{item.name} {'with' if item.belt is not None else 'without'} a belt, "
                f"on a machine of kind: {self.kind}",
                allowed="belt: {thickness: …} for each item of a belt machine, and for no other",
                mend="leave belt out, or write kind: belt"
                if item.belt is not None
                else "add belt: {thickness: 1.2 mm}, or write kind: wheel",
            )
            for n, item in enumerate(self.rack)
            if (item.belt is not None) != (self.kind == "belt")
        ]
        raise_faults(faults)
        return self

    @model_validator(mode="after")
    def _wheels_are_whole(self) -> Machine:
        raise_faults([f for n, w in enumerate(self.rack) for f in wheel_faults(w, f"rack[{n}]")])
        return self

    @model_validator(mode="after")
    def _rack_names_differ(self) -> Machine:
        first: dict[str, int] = {}
        faults = []
        for n, item in enumerate(self.rack):
            if first.setdefault(item.name, n) != n:
                faults.append(
                    rule_fault(
                        "repeated-name",
                        key=f"rack[{n}].name",
                        other=f"rack[{first[item.name]}].name",
                        given=f"{item.name} a second time",
                        allowed="each name once in the rack",
                        mend="give one of the two another name",
                    )
                )
        raise_faults(faults)
        return self

    @model_validator(mode="after")
    def _turn_line_goes_with_over(self) -> Machine:
        raise_faults(turn_line_faults(self.fixture, "fixture"))
        return self

    @model_validator(mode="after")
    def _things_in_the_way_have_their_own_names(self) -> Machine:
        standing = [thing.name for thing in self.fixture.obstacles or ()]
        moving = [part.name for part in self.head or ()]
        faults = []
        for key, names in (("fixture.obstacles", standing), ("head", moving)):
            first: dict[str, int] = {}
            faults += [
                rule_fault(
                    "repeated-name",
                    key=f"{key}[{n}].name",
                    other=f"{key}[{first[name]}].name",
                    given=f"{name} a second time",
                    allowed=f"each name once in {key}",
                    mend="give one of the two another name",
                )
                for n, name in enumerate(names)
                if first.setdefault(name, n) != n
            ]
        raise_faults(faults)
        return self
