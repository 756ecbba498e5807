"""The rack of a machine file: wheels, and belts on their contact wheels or platens."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from planner.inputs.fields import (
    Energy,
    FileModel,
    Force,
    Length,
    LinearFeed,
    LinearSpeed,
    MarkedSpeed,
    Name,
    Number,
    Share,
    Stiffness,
    VolumePerArea,
    Word,
    rule_fault,
)
from planner.inputs.in_the_way import Flange


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
    diameter_mm: Annotated[Length, Field(alias="diameter", ge=2, le=2000)]
    """Of the wheel; with a platen, of the wheel that drives the belt."""
    form_radius_mm: Annotated[Length | None, Field(alias="form_radius", ge=1, le=2000)] = None
    """Radius across the rim that an ``across_edge`` wheel is dressed to; left out, flat."""
    form_radius_error_mm: Annotated[Length, Field(alias="form_radius_error", ge=0, le=20)] = 0.1
    """Standard deviation of the form radius, and of a crown along an edge that is followed. Default
    0.1 mm: dressed by a swinging diamond; from memory."""
    corner_radius_mm: Annotated[Length, Field(alias="corner_radius", ge=0, le=100)] = 0.0
    """Rounding of the rim's two corners of an ``across_edge`` wheel."""
    crown_radius_mm: Annotated[Length | None, Field(alias="crown_radius", ge=0.5, le=2000)] = None
    """Radius across the rim, in a plane through the axis, that an ``along_edge`` wheel is dressed
    to; a belt's thickness is added. Left out, flat."""
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
    g_ratio_error: Share = 0.3
    """Relative standard deviation of the G ratio, for the scatter of blades alone. Default 30 %:
    the same wheel on the same steel, dressed alike; from memory."""
    infeed: Infeeds
    feed_mm_min: Annotated[LinearFeed | None, Field(alias="feed", gt=0, le=200_000)] = None
    """Largest traverse feed for this wheel; left out, the traverse axis's largest."""
    active_width_mm: Annotated[Length | None, Field(alias="active_width", gt=0, le=500)] = None
    """Leading part of the width that cuts while the wheel travels along its own axis; the rest
    rubs. Left out, a millimetre of worn corner and the feed of one turn of the wheel; of a crowned
    rim the length that its crown touches on."""
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


def wheel_faults(wheel: Wheel, at: str) -> list[PydanticCustomError]:
    """Every rule between the keys of a wheel that it breaks; ``at`` is its key path."""
    return [*_shape_faults(wheel, at), *_flange_faults(wheel, at)]


def _shape_faults(wheel: Wheel, at: str) -> list[PydanticCustomError]:
    faults = []
    stated = {
        "form_radius": wheel.form_radius_mm is not None,
        "corner_radius": wheel.corner_radius_mm > 0,
    }
    if wheel.crown_radius_mm is not None and wheel.contact != "along_edge":
        faults.append(
            rule_fault(
                "crown-and-contact",
                key=f"{at}.crown_radius",
                other=f"{at}.contact",
                given=f"crown_radius on a wheel with contact: {wheel.contact}",
                allowed="crown_radius with contact: along_edge only",
                mend="form_radius for a wheel across the edge; leave it out for a platen",
            )
        )
    if wheel.crown_radius_mm is not None and 2 * wheel.crown_radius_mm < wheel.width_mm:
        faults.append(
            rule_fault(
                "crown-under-width",
                key=f"{at}.crown_radius",
                other=f"{at}.width",
                given=f"crown_radius {wheel.crown_radius_mm:g} mm on a rim "
                f"{wheel.width_mm:g} mm wide",
                allowed="a crown radius of half the width or more",
                mend="a larger crown_radius, or the width that is dressed",
            )
        )
    faults += [
        rule_fault(
            "form-and-contact",
            key=f"{at}.{key}",
            other=f"{at}.contact",
            given=f"{key} on a wheel with contact: {wheel.contact}",
            allowed=f"{key} with contact: across_edge only",
            mend=f"leave {key} out, or write contact: across_edge",
        )
        for key, there in stated.items()
        if there and wheel.contact != "across_edge"
    ]
    if 2 * wheel.corner_radius_mm > wheel.width_mm:
        faults.append(
            rule_fault(
                "corners-over-width",
                key=f"{at}.corner_radius",
                other=f"{at}.width",
                given=f"two corners of {wheel.corner_radius_mm:g} mm on a rim "
                f"{wheel.width_mm:g} mm wide",
                allowed="corners that both fit on the width",
                mend="a smaller corner_radius",
            )
        )
    if wheel.form_radius_mm is not None and 2 * wheel.form_radius_mm < wheel.width_mm:
        faults.append(
            rule_fault(
                "form-under-width",
                key=f"{at}.form_radius",
                other=f"{at}.width",
                given=f"form_radius {wheel.form_radius_mm:g} mm on a rim "
                f"{wheel.width_mm:g} mm wide",
                allowed="a form radius of half the width or more",
                mend="a larger form_radius, or the width that is dressed",
            )
        )
    if (wheel.contact == "platen") != (wheel.platen is not None):
        bare = wheel.platen is None
        faults.append(
            rule_fault(
                "platen-and-contact",
                key=at if bare else f"{at}.platen",
                other=f"{at}.contact",
                given="contact: platen without platen"
                if bare
                else f"platen with contact: {wheel.contact}",
                allowed="contact: platen and platen: {length: …} together",
                mend="add platen: {length: 60 mm}" if bare else "leave platen out",
            )
        )
    return faults


def _flange_faults(wheel: Wheel, at: str) -> list[PydanticCustomError]:
    flange = wheel.flange
    if flange is None:
        return []
    if wheel.contact == "platen":
        given, other = "flange with contact: platen", "contact"
    elif flange.diameter_mm >= wheel.diameter_mm:
        given = f"a flange of {flange.diameter_mm:g} mm on a wheel of {wheel.diameter_mm:g} mm"
        other = "diameter"
    elif flange.width_mm <= wheel.width_mm:
        given = f"{flange.width_mm:g} mm over the flanges of a wheel {wheel.width_mm:g} mm wide"
        other = "width"
    else:
        return []
    return [
        rule_fault(
            "flange-and-wheel",
            key=f"{at}.flange",
            other=f"{at}.{other}",
            given=given,
            allowed="a flange smaller than the wheel, and wider over all",
            mend="give width over both flanges and the wheel, or leave flange out",
        )
    ]
