"""How a machine file says that the blade is held, turned, set by hand and touched off."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from planner.inputs.fields import (
    Angle,
    AngleRange,
    FileModel,
    Film,
    Length,
    LengthRange,
    Time,
    raise_faults,
    rule_fault,
)
from planner.inputs.in_the_way import Obstacle, SectionPlace


class Jaws(FileModel):
    """The clamp that holds the blade, as a block on both flanks: nothing may enter it."""

    from_edge_mm: Annotated[Length, Field(alias="from_edge", gt=0, le=500)]
    above_flank_mm: Annotated[Length, Field(alias="above_flank", ge=0, le=500)]
    past_ends_mm: Annotated[Length, Field(alias="past_ends", ge=0, le=500)] = 0.0


class TiltAxis(FileModel):
    """The axis about which a powered tilt turns the blade, and whatever holds it."""

    at_yz_mm: Annotated[SectionPlace, Field(alias="at")]
    """Place [y, z] where it crosses the section of the blade as it is clamped with face A up."""
    error_mm: Annotated[Length, Field(alias="error", ge=0, le=5)] = 0.02
    """Standard deviation of that place in any direction. Default 0.02 mm: found with a dial
    gauge; from memory."""


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
    tilt_axis: TiltAxis | None = None
    """Where the axis of a powered tilt lies, beside the blade. Left out, it is not known."""
    hand_tilt: HandTilt | None = None
    hand_turn: HandTilt | None = None
    """A turn about the bend's axis that is set by hand, when no axis turns the blade: a straight
    edge stands at its zero."""
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
    turn_off_centre_mm: Annotated[Length, Field(alias="turn_off_centre", ge=0, le=5)] = 0.02
    """How far the axis of the turn stands off that of the bend or sweep, standard deviation in any
    direction. Default 0.02 mm: set with a dial gauge; from memory."""
    path_off_mm: Annotated[Length, Field(alias="path_off", ge=0, le=1)] = 0.005
    """How far a blade whose edge the straight axes follow lies off its place along traverse and
    cross, standard deviation in each. Default 0.005 mm: set with a dial gauge against stops; from
    memory."""
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


def turn_line_faults(fixture: Fixture, at: str) -> list[PydanticCustomError]:
    """Is the line about which the blade is turned told where it is needed, and only there?"""
    over = fixture.flip == "over"
    if fixture.turn_line_mm is not None and not over:
        return [
            rule_fault(
                "turn-line",
                key=f"{at}.turn_line",
                other=f"{at}.flip",
                given=f"turn_line with flip: {fixture.flip}",
                allowed="turn_line with flip: over only",
                mend="leave turn_line out",
            )
        ]
    placed = "obstacles" if fixture.obstacles else "tilt_axis" if fixture.tilt_axis else None
    if fixture.turn_line_mm is None and placed is not None and over:
        return [
            rule_fault(
                "turn-line",
                key=f"{at}.{placed}",
                other=f"{at}.flip",
                given=f"{placed} with flip: over, without turn_line",
                allowed="turn_line: from the edge to the line about which the blade is turned",
                mend="add turn_line: 0 mm where the edge stays in its place, or what it is",
            )
        ]
    return []
