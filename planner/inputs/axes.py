"""The powered axes of a machine file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from planner.inputs.fields import (
    Acceleration,
    Angle,
    AngleRange,
    AngularAcceleration,
    FileModel,
    Flag,
    Length,
    LengthRange,
    LinearFeed,
    RotaryFeed,
)


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
