"""The machine file: axes, spindle, fixture, and the rack of wheels or belts.

Standard deviations (``repeatability``, ``touch_off`` and the like) are one sigma. A maker's
plus-or-minus figure is usually two sigma: halve it (common practice, no source).
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Literal, get_args

from pydantic import Field, model_validator

from planner.inputs.controllers import CONTROLLERS, ControllerClass
from planner.inputs.fields import (
    Acceleration,
    Angle,
    AngleRange,
    AngularAcceleration,
    BlockRate,
    Count,
    Energy,
    FileModel,
    Film,
    Flag,
    Force,
    Length,
    LengthRange,
    LinearFeed,
    LinearSpeed,
    MarkedSpeed,
    Name,
    Number,
    Power,
    RotaryFeed,
    ShaftSpeed,
    Share,
    Stiffness,
    Temperature,
    TemperatureStep,
    Time,
    Title,
    VolumePerArea,
    Word,
    raise_faults,
    rule_fault,
)
from planner.inputs.in_the_way import Flange, Guard, HeadPart, Obstacle


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


class LinearAxis(FileModel):
    """A powered straight axis."""

    role: Literal["traverse", "infeed", "cross"]
    travel_mm: Annotated[LengthRange, Field(alias="travel")]
    max_feed_mm_min: Annotated[LinearFeed, Field(alias="max_feed", gt=0, le=200_000)]
    acceleration_mm_s2: Annotated[Acceleration, Field(alias="acceleration", gt=0, le=100_000)]
    resolution_mm: Annotated[Length, Field(alias="resolution", gt=0, le=1)] = 0.001
    repeatability_mm: Annotated[Length, Field(alias="repeatability", ge=0, le=1)] = 0.005
    """Standard deviation of coming back to one position. Default 0.005 mm: a ball screw without
    scales; from memory."""
    invert: Flag = False
    zero_at_mm: Annotated[Length | None, Field(alias="zero_at", ge=-10_000, le=10_000)] = None
    """Where the program's zero stands in the coordinates that ``travel`` is given in; left out, it
    is not known, and the room that each set-up needs stands on its sheet."""


class RotaryAxis(FileModel):
    """A powered rotary axis."""

    role: Literal["tilt", "turn"]
    travel_deg: Annotated[AngleRange, Field(alias="travel")]
    max_feed_deg_min: Annotated[RotaryFeed, Field(alias="max_feed", gt=0, le=1_000_000)]
    acceleration_deg_s2: Annotated[
        AngularAcceleration, Field(alias="acceleration", gt=0, le=1_000_000)
    ]
    resolution_deg: Annotated[Angle, Field(alias="resolution", gt=0, le=5)] = 0.01
    repeatability_deg: Annotated[Angle, Field(alias="repeatability", ge=0, le=5)] = 0.02
    """Default 0.02 deg: a worm drive; from memory."""
    invert: Flag = False
    zero_at_deg: Annotated[Angle, Field(alias="zero_at", ge=-360, le=360)] = 0.0
    """Where the program's zero, the blade lying flat, stands in the coordinates of ``travel``."""


Axis = Annotated[LinearAxis | RotaryAxis, Field(discriminator="role")]
AxisLetter = Literal["X", "Y", "Z", "A", "B", "C", "U", "V", "W"]


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


class Jaws(FileModel):
    """The clamp that holds the blade, as a block on both flanks: nothing may enter it."""

    from_edge_mm: Annotated[Length, Field(alias="from_edge", gt=0, le=500)]
    above_flank_mm: Annotated[Length, Field(alias="above_flank", ge=0, le=500)]
    past_ends_mm: Annotated[Length, Field(alias="past_ends", ge=0, le=500)] = 0.0


class HandTilt(FileModel):
    """A tilt set by hand, when no axis tilts the blade: on a scale, or from what there is."""

    range_deg: Annotated[AngleRange | None, Field(alias="range")] = None
    """What the scale goes to; its marks are the multiples of ``resolution`` inside."""
    resolution_deg: Annotated[Angle, Field(alias="resolution", gt=0, le=5)] = 0.1
    settings_deg: Annotated[
        list[Annotated[Angle, Field(ge=-180, le=180)]] | None,
        Field(alias="settings", min_length=1, max_length=200),
    ] = None
    """The tilts of the wedges or stops that there are, in place of a scale; one alone is fixed. A
    wedge that may be turned round is listed twice, with both signs."""
    repeatability_deg: Annotated[Angle, Field(alias="repeatability", ge=0, le=5)] = 0.05
    """Default 0.05 deg: half a division of the scale; from memory."""

    @model_validator(mode="after")
    def _set_one_way(self) -> HandTilt:
        _check_set_one_way(self.range_deg, self.settings_deg, "[0 deg, 30 deg]", "[12.5 deg]")
        _check_marks(self.range_deg, self.resolution_deg, "deg")
        return self


class HandCross(FileModel):
    """A cross set by hand, when no axis moves the wheel along the bevel face.

    Each figure is the distance from the edge, along the bevel face, at which the wheel bares.
    """

    range_mm: Annotated[LengthRange | None, Field(alias="range")] = None
    """What the scale goes to; its marks are the multiples of ``resolution`` inside."""
    resolution_mm: Annotated[Length, Field(alias="resolution", gt=0, le=50)] = 0.1
    settings_mm: Annotated[
        list[Annotated[Length, Field(ge=0, le=500)]] | None,
        Field(alias="settings", min_length=1, max_length=200),
    ] = None
    """The places of the stops that there are, in place of a scale; one alone is fixed."""
    repeatability_mm: Annotated[Length, Field(alias="repeatability", ge=0, le=5)] = 0.03
    """Standard deviation of coming back to one mark or stop. Default 0.03 mm: a slide pushed
    against a stop by hand; from memory."""

    @model_validator(mode="after")
    def _set_one_way(self) -> HandCross:
        _check_set_one_way(self.range_mm, self.settings_mm, "[0 mm, 10 mm]", "[3.5 mm]")
        _check_marks(self.range_mm, self.resolution_mm, "mm")
        return self


def _check_set_one_way(
    ends: tuple[float, float] | None,
    settings: list[float] | None,
    a_range: str,
    a_list: str,
) -> None:
    if (ends is None) == (settings is None):
        raise rule_fault(
            "range-or-settings",
            key="" if ends is None else "settings",
            other="" if ends is None else "range",
            given="neither range nor settings" if ends is None else "range and settings",
            allowed="range, of a scale, or settings, a list of wedges or stops",
            mend=f"add range: {a_range} or settings: {a_list}"
            if ends is None
            else "leave one of the two out",
        )


def _check_marks(ends: tuple[float, float] | None, resolution: float, unit: str) -> None:
    if ends is None:
        return
    low, high = ends
    if math.ceil(low / resolution - 1e-9) > math.floor(high / resolution + 1e-9):
        raise rule_fault(
            "scale-without-mark",
            key="range",
            other="resolution",
            given=f"no multiple of {resolution:g} {unit} from {low:g} to {high:g} {unit}",
            allowed="a range with one mark at least: a multiple of the resolution",
            mend="a finer resolution, a wider range, or settings: [...] for a few fixed places",
        )


class Row(FileModel):
    """Several blades of one job along the traverse, ground together."""

    positions_mm: Annotated[list[Length], Field(alias="positions", min_length=1, max_length=20)]
    """Where each blade's heel stands along the traverse in the first set-up, rising from 0."""
    seats_mm: Annotated[Length, Field(alias="seats", ge=0, le=1)] = 0.005
    """Standard deviation of the seats' height, one against another: only one blade of the row is
    touched off. Default 0.005 mm: seats ground in one setting, wiped clean; from memory."""

    @model_validator(mode="after")
    def _positions_rise_from_zero(self) -> Row:
        if self.positions_mm[0] != 0.0:
            raise rule_fault(
                "row-start",
                key="positions[0]",
                given=f"the first station at {self.positions_mm[0]:g} mm",
                allowed="0 mm: the program's zero is at the first station",
                mend="count the positions from the first station's heel",
            )
        faults = [
            rule_fault(
                "row-order",
                key=f"positions[{n}]",
                given=f"{here:g} mm after {before:g} mm",
                allowed="positions that rise, the first station first",
                mend="write them in rising order, each once",
                other=f"positions[{n - 1}]",
            )
            for n, (before, here) in enumerate(pairwise(self.positions_mm), start=1)
            if here <= before
        ]
        raise_faults(faults)
        return self


class Fixture(FileModel):
    """How the blade is held, turned and touched off."""

    flip: Literal["end_for_end", "over", "by_tilt"]
    run_off_mm: Annotated[Length, Field(alias="run_off", gt=0, le=500)] = 10.0
    clearance_mm: Annotated[Length, Field(alias="clearance", gt=0, le=500)] = 5.0
    touch_off_mm: Annotated[Length, Field(alias="touch_off", ge=0, le=1)] = 0.005
    """Standard deviation of finding bare contact. Default 0.005 mm: ink and 0.01 mm steps on a
    hard wheel; from memory."""
    touch_off_each: Literal["blade", "batch"] = "blade"
    """How often: before each blade (with a row, each clamping), or once a batch."""
    cross_setting_mm: Annotated[Length, Field(alias="cross_setting", ge=0, le=5)] = 0.05
    """Standard deviation of setting the middle of the relief from the edge. Default 0.05 mm: read
    with a loupe on a witness mark; from memory."""
    cross_set_by: Literal["witness_mark", "stop"] = "witness_mark"
    """How the middle of the relief is found: from the mark of a light touch on each face, which
    takes out every angle error, or from a stop, which does not. With ``hand_cross`` it is found
    from that, as from a stop."""
    hand_tilt: HandTilt | None = None
    hand_cross: HandCross | None = None
    """Left out, and without a cross axis, the blade is shifted until the mark stands right."""
    jaws: Jaws | None = None
    row: Row | None = None
    """Left out, the fixture holds one blade."""
    obstacles: list[Obstacle] | None = None
    """What else stands in the way, fixed to what holds the blade."""
    turn_line_mm: Annotated[Length | None, Field(alias="turn_line", ge=-1000, le=1000)] = None
    """With flip over: from the edge to the line about which the blade is turned, toward the
    spine. Turned, the edge lies twice as far from where it lay; 0 leaves it there."""
    overhang_mm: Annotated[Length | None, Field(alias="overhang", gt=0, le=500)] = None
    """From the clamp to the edge. Left out, the blade counts as rigid, and its heat stays in it
    up to the jaws, or up to the spine where there are none."""
    clamp_conductance_w_m2k: Annotated[Film, Field(alias="clamp_conductance", ge=0, le=100_000)] = (
        2000.0
    )
    """Heat that passes from blade to clamp. Default 2000 W/m2.K: dry steel on steel, lightly
    pressed (Incropera & DeWitt, table of contact resistances, from memory)."""
    cooling: Literal["air", "dip"] = "air"
    """How a blade that grows too hot is cooled: the wheel waits off its end, or the program stops
    and the operator dips it by hand (or lets it cool, where the steel must not be quenched)."""
    dip_pause_s: Annotated[Time, Field(alias="dip_pause", ge=0, le=600)] = 15.0
    """What one dip takes. Default 15 s; from memory."""


class Limits(FileModel):
    """What the machine and the blade may be asked to bear."""

    normal_force_n: Annotated[Force, Field(alias="normal_force", gt=0, le=10_000)]
    temper_margin_k: Annotated[TemperatureStep, Field(alias="temper_margin", ge=0, le=100)] = 25.0
    """How far the edge stays below its tempering temperature. Default 25 K: common practice, no
    source."""
    drift_share: Annotated[Share, Field(gt=0)] = 0.25
    """Share of the land tolerance that wear may use before the wheel is dressed or set anew.
    Default a quarter: common practice, no source."""


class Infeeds(FileModel):
    """Largest infeed of one pass, normal to the face."""

    rough_mm: Annotated[Length, Field(alias="rough", gt=0, le=1)]
    finish_mm: Annotated[Length, Field(alias="finish", gt=0, le=1)]
    finish_stock_mm: Annotated[Length | None, Field(alias="finish_stock", ge=0, le=1)] = None
    """Depth left for finish passes; left out, twice the finish infeed (common practice)."""

    @model_validator(mode="after")
    def _finish_is_finer(self) -> Infeeds:
        if self.finish_mm > self.rough_mm:
            raise rule_fault(
                "finish-over-rough",
                key="finish",
                given=f"finish {self.finish_mm:g} mm over rough {self.rough_mm:g} mm",
                allowed="a finish infeed no larger than the rough one",
                mend="exchange the two values",
                other="rough",
            )
        return self


class Belt(FileModel):
    """The belt on a contact wheel."""

    thickness_mm: Annotated[Length, Field(alias="thickness", gt=0, le=10)]
    speed_m_s: Annotated[LinearSpeed | None, Field(alias="speed", gt=0, le=60)] = None
    """Belt speed; left out, that of a drive wheel of ``drive_diameter`` on the spindle."""
    drive_diameter_mm: Annotated[Length | None, Field(alias="drive_diameter", gt=0, le=1000)] = None
    length_mm: Annotated[Length | None, Field(alias="length", gt=0, le=20_000)] = None
    life_mm3_mm2: Annotated[VolumePerArea | None, Field(alias="life", gt=0, le=1000)] = None
    """Steel that a square millimetre of belt takes before it is retired at one and a half times
    its first power (common practice); left out, the belt counts as always sharp."""
    worn: Share = 0.0
    """Share of its life that the belt has behind it."""
    wheel_stiffness_n_mm: Annotated[
        Stiffness | None, Field(alias="wheel_stiffness", gt=0, le=1_000_000)
    ] = None
    """Spring of the contact wheel's cover, in series with the machine's; left out, a hard wheel."""


class Platen(FileModel):
    """The flat that a belt runs over."""

    length_mm: Annotated[Length, Field(alias="length", gt=0, le=1000)]
    """Along the belt's run, which is along the edge."""


class Wheel(FileModel):
    """One wheel, or one belt on its contact wheel or platen, in the rack."""

    name: Name
    contact: Literal["along_edge", "across_edge", "platen"]
    """``along_edge``: the axis is parallel to the edge, and in the section the wheel is a circle.
    ``across_edge``: the axis lies in the section, and the wheel is its rim, flat or dressed to a
    radius, over its width. ``platen``: a belt over a flat, as wide as the belt."""
    diameter_mm: Annotated[Length, Field(alias="diameter", gt=0, le=2000)]
    """Of the wheel; with a platen, of the wheel that drives the belt."""
    form_radius_mm: Annotated[Length | None, Field(alias="form_radius", gt=0, le=2000)] = None
    """Radius across the rim that an ``across_edge`` wheel is dressed to; left out, flat."""
    form_radius_error_mm: Annotated[Length, Field(alias="form_radius_error", ge=0, le=20)] = 0.1
    """Standard deviation of the form radius. Default 0.1 mm: dressed by a swinging diamond; from
    memory."""
    corner_radius_mm: Annotated[Length, Field(alias="corner_radius", ge=0, le=100)] = 0.0
    """Rounding of the rim's two corners of an ``across_edge`` wheel."""
    platen: Platen | None = None
    diameter_error_mm: Annotated[Length, Field(alias="diameter_error", ge=0, le=20)] = 0.2
    """Standard deviation of the diameter. Default 0.2 mm: caliper across a wheel; from memory."""
    width_mm: Annotated[Length, Field(alias="width", gt=0, le=500)]
    marked_speed: MarkedSpeed
    abrasive: Literal["aluminium_oxide", "ceramic", "zirconia", "silicon_carbide", "cbn", "diamond"]
    grit: Word
    specific_energy_j_mm3: Annotated[Energy, Field(alias="specific_energy", gt=0, le=1000)]
    force_ratio: Annotated[Number, Field(gt=0, le=2)]
    """Tangential force over normal force."""
    g_ratio: Annotated[Number | None, Field(gt=0, le=100_000)] = None
    infeed: Infeeds
    feed_mm_min: Annotated[LinearFeed | None, Field(alias="feed", gt=0, le=200_000)] = None
    """Largest traverse feed for this wheel; left out, the traverse axis's largest."""
    active_width_mm: Annotated[Length | None, Field(alias="active_width", gt=0, le=500)] = None
    """Leading part of the width that cuts while the wheel travels along its own axis; the rest
    rubs. Left out, a millimetre of worn corner and the feed of one turn of the wheel."""
    heat_share: Annotated[Number | None, Field(gt=0, le=1)] = None
    """Share of the grinding energy that enters the blade; left out, by abrasive."""
    threshold_force_n: Annotated[Force, Field(alias="threshold_force", ge=0, le=1000)] = 0.0
    """Normal force below which the wheel only rubs; left out, none."""
    dress_mm: Annotated[Length, Field(alias="dress", gt=0, le=5)] = 0.02
    """Radius that one dressing takes. Default 0.02 mm; from memory."""
    least_diameter_mm: Annotated[Length | None, Field(alias="least_diameter", gt=0, le=2000)] = None
    """Diameter at which the wheel is thrown away; left out, two thirds of its diameter."""
    belt: Belt | None = None
    flange: Flange | None = None


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
    def _wheels_are_shaped_for_their_contact(self) -> Machine:
        faults = []
        for n, item in enumerate(self.rack):
            at = f"rack[{n}]"
            across = item.contact == "across_edge"
            if item.form_radius_mm is not None and not across:
                faults.append(
                    rule_fault(
                        "form-and-contact",
                        key=f"{at}.form_radius",
                        other=f"{at}.contact",
                        given=f"form_radius on a wheel with contact: {item.contact}",
                        allowed="form_radius with contact: across_edge only",
                        mend="leave form_radius out, or write contact: across_edge",
                    )
                )
            if item.corner_radius_mm > 0 and not across:
                faults.append(
                    rule_fault(
                        "form-and-contact",
                        key=f"{at}.corner_radius",
                        other=f"{at}.contact",
                        given=f"corner_radius on a wheel with contact: {item.contact}",
                        allowed="corner_radius with contact: across_edge only",
                        mend="leave corner_radius out, or write contact: across_edge",
                    )
                )
            if 2 * item.corner_radius_mm > item.width_mm:
                faults.append(
                    rule_fault(
                        "corners-over-width",
                        key=f"{at}.corner_radius",
                        other=f"{at}.width",
                        given=f"two corners of {item.corner_radius_mm:g} mm on a rim "
                        f"{item.width_mm:g} mm wide",
                        allowed="corners that both fit on the width",
                        mend="a smaller corner_radius",
                    )
                )
            if item.form_radius_mm is not None and 2 * item.form_radius_mm < item.width_mm:
                faults.append(
                    rule_fault(
                        "form-under-width",
                        key=f"{at}.form_radius",
                        other=f"{at}.width",
                        given=f"form_radius {item.form_radius_mm:g} mm on a rim "
                        f"{item.width_mm:g} mm wide",
                        allowed="a form radius of half the width or more",
                        mend="a larger form_radius, or the width that is dressed",
                    )
                )
            if (item.contact == "platen") != (item.platen is not None):
                bare = item.platen is None
                faults.append(
                    rule_fault(
                        "platen-and-contact",
                        key=at if bare else f"{at}.platen",
                        other=f"{at}.contact",
                        given="contact: platen without platen"
                        if bare
                        else f"platen with contact: {item.contact}",
                        allowed="contact: platen and platen: {length: …} together",
                        mend="add platen: {length: 60 mm}" if bare else "leave platen out",
                    )
                )
        raise_faults(faults)
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
    def _flanges_stand_beside_their_wheels(self) -> Machine:
        faults = []
        for n, item in enumerate(self.rack):
            flange, at = item.flange, f"rack[{n}].flange"
            if flange is None:
                continue
            if item.contact == "platen":
                given, other = "flange with contact: platen", f"rack[{n}].contact"
            elif flange.diameter_mm >= item.diameter_mm:
                given = f"a flange of {flange.diameter_mm:g} mm on a wheel of "
                given, other = f"{given}{item.diameter_mm:g} mm", f"rack[{n}].diameter"
            elif flange.width_mm <= item.width_mm:
                given = f"{flange.width_mm:g} mm over the flanges of a wheel "
                given, other = f"{given}{item.width_mm:g} mm wide", f"rack[{n}].width"
            else:
                continue
            faults.append(
                rule_fault(
                    "flange-and-wheel",
                    key=at,
                    other=other,
                    given=given,
                    allowed="a flange smaller than the wheel, and wider over all",
                    mend="give width over both flanges and the wheel, or leave flange out",
                )
            )
        raise_faults(faults)
        return self

    @model_validator(mode="after")
    def _turn_line_goes_with_over(self) -> Machine:
        fixture = self.fixture
        if fixture.turn_line_mm is not None and fixture.flip != "over":
            raise rule_fault(
                "turn-line",
                key="fixture.turn_line",
                other="fixture.flip",
                given=f"turn_line with flip: {fixture.flip}",
                allowed="turn_line with flip: over only",
                mend="leave turn_line out",
            )
        if fixture.turn_line_mm is None and fixture.obstacles and fixture.flip == "over":
            raise rule_fault(
                "turn-line",
                key="fixture.obstacles",
                other="fixture.flip",
                given="obstacles with flip: over, without turn_line",
                allowed="turn_line: from the edge to the line about which the blade is turned",
                mend="add turn_line: 0 mm where the edge stays in its place, or what it is",
            )
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
