"""Section forms: what the blade is across its edge, before the relief.

The edge lies at y = 0 in the middle of its own thickness, face A on top (docs/frames.md).
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.inputs.fields import Angle, FileModel, Length, rule_fault
from planner.inputs.outline_form import Outline

Thickness = Annotated[Length, Field(alias="thickness", gt=0, le=50)]
Width = Annotated[Length, Field(alias="width", gt=0, le=500)]
EdgeThickness = Annotated[Length, Field(alias="edge_thickness", ge=0, le=10)]


class MicroBevel(FileModel):
    """A narrow steeper bevel at the very edge, the same on each face that has a bevel.

    ``angle`` is that of one side to the centre plane (to the back of a single bevel), ``width`` its
    length in the section. It is there before the relief is ground and stays as it is.
    """

    angle_deg: Annotated[Angle, Field(alias="angle", gt=1, lt=75)]
    width_mm: Annotated[Length, Field(alias="width", gt=0, le=10)]


class BladeForm(FileModel):
    """What every form has."""

    thickness_mm: Thickness
    width_mm: Width
    edge_thickness_mm: EdgeThickness = 0.0
    micro_bevel: MicroBevel | None = None

    @property
    def middle_mm(self) -> float:
        """How far the middle of the stock lies from the edge's, toward face A."""
        return 0.0

    @model_validator(mode="after")
    def _edge_is_thinner_than_stock(self) -> BladeForm:
        if self.edge_thickness_mm >= self.thickness_mm:
            raise rule_fault(
                "edge-too-thick",
                key="edge_thickness",
                given=f"edge thickness {self.edge_thickness_mm:g} mm",
                allowed=f"less than the thickness, {self.thickness_mm:g} mm",
                mend="make the edge thinner, or the stock thicker",
                other="thickness",
            )
        return self

    def check_micro_bevel(self, steepest_deg: float, rise_mm: float) -> None:
        """Refuse a micro bevel that is none: flatter than the bevels, or as high as they are.

        ``steepest_deg`` is the largest bevel angle of a side, ``rise_mm`` how far a side rises from
        the edge to its flank.
        """
        micro = self.micro_bevel
        if micro is None:
            return
        if micro.angle_deg <= steepest_deg:
            raise rule_fault(
                "micro-bevel",
                key="micro_bevel.angle",
                given=f"{micro.angle_deg:g} deg on a bevel of {steepest_deg:g} deg",
                allowed="steeper than the bevel",
                mend="give the angle of one side, to the centre plane (or to a flat back)",
            )
        if micro.width_mm * math.sin(math.radians(micro.angle_deg)) >= rise_mm:
            raise rule_fault(
                "micro-bevel",
                key="micro_bevel.width",
                given=f"{micro.width_mm:g} mm",
                allowed=f"less than it takes to rise {rise_mm:g} mm, the whole side",
                mend="make the micro bevel narrower",
            )


class DoubleBevel(BladeForm):
    """Two bevel faces that meet at the edge, on stock of constant thickness.

    Give ``included_angle`` for equal bevels, or ``angle_a`` and ``angle_b``, each between its
    bevel face and the centre plane of the stock. The edge lies on the centre plane.
    """

    form: Literal["double_bevel"]
    included_angle_deg: Annotated[Angle | None, Field(alias="included_angle", gt=2, lt=120)] = None
    angle_a_deg: Annotated[Angle | None, Field(alias="angle_a", gt=1, lt=60)] = None
    angle_b_deg: Annotated[Angle | None, Field(alias="angle_b", gt=1, lt=60)] = None

    @model_validator(mode="after")
    def _angles_are_given_once(self) -> DoubleBevel:
        given = [
            key
            for key, angle in (
                ("included_angle", self.included_angle_deg),
                ("angle_a", self.angle_a_deg),
                ("angle_b", self.angle_b_deg),
            )
            if angle is not None
        ]
        if given not in (["included_angle"], ["angle_a", "angle_b"]):
            raise rule_fault(
                "angles",
                key=given[0] if given else "included_angle",
                other=given[1] if len(given) > 1 else "",
                given=" with ".join(given) if given else "no angle",
                allowed="included_angle alone, or both angle_a and angle_b",
                mend="write included_angle: 25 deg, or angle_a: 10 deg and angle_b: 15 deg",
            )
        half = (self.included_angle_deg or 0.0) / 2
        steepest = max(half, self.angle_a_deg or 0.0, self.angle_b_deg or 0.0)
        self.check_micro_bevel(steepest, (self.thickness_mm - self.edge_thickness_mm) / 2)
        return self


class SingleBevel(BladeForm):
    """One bevel, on face A, that meets the flat back, face B.

    ``angle`` is between the bevel and the back. A relief of face B is a hollow in the back; its
    shoulder land is the one along the spine.
    """

    form: Literal["single_bevel"]
    angle_deg: Annotated[Angle, Field(alias="angle", gt=1, lt=75)]

    @property
    def middle_mm(self) -> float:
        """The edge lies at face B."""
        return (self.thickness_mm - self.edge_thickness_mm) / 2

    @model_validator(mode="after")
    def _micro_bevel_fits(self) -> SingleBevel:
        self.check_micro_bevel(self.angle_deg, self.thickness_mm - self.edge_thickness_mm)
        return self


class ConvexBevel(BladeForm):
    """Two bevel faces that are arcs, bulging outward, alike on both sides.

    Any two of ``radius`` (of the arc), ``edge_angle`` and ``shoulder_angle`` (included, between the
    two faces where they meet the edge and where they meet the flanks); the third follows.
    """

    form: Literal["convex_bevel"]
    radius_mm: Annotated[Length | None, Field(alias="radius", gt=0, le=10_000)] = None
    edge_angle_deg: Annotated[Angle | None, Field(alias="edge_angle", gt=2, lt=150)] = None
    shoulder_angle_deg: Annotated[Angle | None, Field(alias="shoulder_angle", ge=0, lt=150)] = None

    @model_validator(mode="after")
    def _two_of_three(self) -> ConvexBevel:
        sizes = {
            "radius": self.radius_mm,
            "edge_angle": self.edge_angle_deg,
            "shoulder_angle": self.shoulder_angle_deg,
        }
        given = [name for name, value in sizes.items() if value is not None]
        if len(given) != 2:
            raise rule_fault(
                "arc-of-bevel",
                key=given[0] if given else "",
                other=given[1] if len(given) > 1 else "",
                given=", ".join(given) or "none of the three",
                allowed="exactly two of radius, edge_angle and shoulder_angle",
                mend="write edge_angle: 40 deg and shoulder_angle: 15 deg; the radius follows",
            )
        edge, shoulder = self.edge_angle_deg, self.shoulder_angle_deg
        if edge is not None and shoulder is not None and shoulder >= edge:
            raise rule_fault(
                "arc-of-bevel",
                key="shoulder_angle",
                other="edge_angle",
                given=f"{shoulder:g} deg at the shoulder, {edge:g} deg at the edge",
                allowed="a smaller angle at the shoulder than at the edge",
                mend="a face that bulges is flatter at the shoulder; exchange the two",
            )
        self._arc_exists()
        return self

    def _arc_exists(self) -> None:
        rise = (self.thickness_mm - self.edge_thickness_mm) / 2
        self.check_micro_bevel((self.edge_angle_deg or 0.0) / 2, rise)
        if self.micro_bevel is not None:
            angle = math.radians(self.micro_bevel.angle_deg)
            rise -= self.micro_bevel.width_mm * math.sin(angle)
        if self.radius_mm is None:
            return
        # Along the arc the rise is the difference of the cosines, times the radius.
        share = rise / self.radius_mm
        if self.edge_angle_deg is not None:
            exists = math.cos(math.radians(self.edge_angle_deg / 2)) + share <= 1.0
        else:
            shoulder = math.cos(math.radians((self.shoulder_angle_deg or 0.0) / 2))
            exists = shoulder - share > math.cos(math.radians(75.0))
        if not exists:
            raise rule_fault(
                "arc-of-bevel",
                key="radius",
                given=f"{self.radius_mm:g} mm for a side that rises {rise:g} mm",
                allowed="an arc that reaches from the edge to the flank at these angles",
                mend="give edge_angle and shoulder_angle, and let the radius follow",
            )


class Axe(BladeForm):
    """A thick blade whose cheeks, behind the bevels, open to its full thickness.

    ``bevel_thickness`` is the thickness at the shoulders, ``included_angle`` that of the bevels.
    Flat cheeks are straight from the shoulders to the full thickness at ``width`` from the edge;
    convex ones are arcs that end there parallel to the centre plane.
    """

    form: Literal["axe"]
    included_angle_deg: Annotated[Angle, Field(alias="included_angle", gt=2, lt=120)]
    bevel_thickness_mm: Annotated[Length, Field(alias="bevel_thickness", gt=0, le=50)]
    cheeks: Literal["flat", "convex"] = "flat"

    @model_validator(mode="after")
    def _shoulders_are_between(self) -> Axe:
        if not self.edge_thickness_mm < self.bevel_thickness_mm <= self.thickness_mm:
            raise rule_fault(
                "bevel-thickness",
                key="bevel_thickness",
                given=f"{self.bevel_thickness_mm:g} mm at the shoulders",
                allowed=f"over the edge's {self.edge_thickness_mm:g} mm, up to the thickness, "
                f"{self.thickness_mm:g} mm",
                mend="give the thickness where the bevels meet the cheeks",
                other="thickness",
            )
        rise = (self.bevel_thickness_mm - self.edge_thickness_mm) / 2
        self.check_micro_bevel(self.included_angle_deg / 2, rise)
        # An arc that ends level is steepest at the shoulder, by twice the slope of its chord.
        slope = math.tan(math.radians(self.included_angle_deg / 2))
        room = self.width_mm - rise / slope
        opens = math.atan2((self.thickness_mm - self.bevel_thickness_mm) / 2, max(room, 1e-9))
        if (
            room > 0.0
            and math.tan(min(opens * (2 if self.cheeks == "convex" else 1), 1.5)) >= slope
        ):
            raise rule_fault(
                "bevel-thickness",
                key="bevel_thickness",
                other="width",
                given=f"cheeks that open steeper than bevels of {self.included_angle_deg:g} deg",
                allowed="cheeks flatter than the bevels where the two meet",
                mend="give the thickness where the bevels meet the cheeks, or a wider blade",
            )
        return self


class Hook(BladeForm):
    """A strip for a hook knife: an outside bevel, face A, and the inside, face B, still flat.

    ``angle`` is that of the bevel to the inside where they meet. With ``radius`` the bevel is an
    arc that bulges; without it is flat. ``back_radius`` rounds the two corners of the back edge.
    The hollow of the inside is the relief of face B.
    """

    form: Literal["hook"]
    angle_deg: Annotated[Angle, Field(alias="angle", gt=1, lt=75)]
    radius_mm: Annotated[Length | None, Field(alias="radius", gt=0, le=10_000)] = None
    back_radius_mm: Annotated[Length, Field(alias="back_radius", ge=0, le=25)] = 0.0

    @property
    def middle_mm(self) -> float:
        """The edge lies at face B."""
        return (self.thickness_mm - self.edge_thickness_mm) / 2

    @model_validator(mode="after")
    def _fits_the_strip(self) -> Hook:
        rise = self.thickness_mm - self.edge_thickness_mm
        self.check_micro_bevel(self.angle_deg, rise)
        if 2 * self.back_radius_mm > self.thickness_mm:
            raise rule_fault(
                "back-radius",
                key="back_radius",
                other="thickness",
                given=f"{self.back_radius_mm:g} mm on a strip of {self.thickness_mm:g} mm",
                allowed="at most half of the thickness",
                mend="give the radius that the two corners of the back are rounded to",
            )
        if self.radius_mm is not None:
            share = math.cos(math.radians(self.angle_deg)) + rise / self.radius_mm
            if share > 1.0:
                raise rule_fault(
                    "arc-of-bevel",
                    key="radius",
                    given=f"{self.radius_mm:g} mm for a bevel that rises {rise:g} mm",
                    allowed="an arc that reaches the outside before it runs level",
                    mend="give a larger radius, or leave it out for a flat bevel",
                )
        return self


class Gouge(BladeForm):
    """The wall of a gouge, along its length: outside bevel, face A, and inside, face B.

    ``outside_angle`` and ``inside_angle`` are to the wall. An inside bevel above 0 is
    ``inside_width`` long. ``inside: matched`` follows the sweep, concentric with the outside, and
    leaves an even wall; ``inside: flat`` is one flat facet across it, which does not.
    """

    form: Literal["gouge"]
    outside_angle_deg: Annotated[Angle, Field(alias="outside_angle", gt=1, lt=75)]
    inside_angle_deg: Annotated[Angle, Field(alias="inside_angle", ge=0, lt=60)] = 0.0
    inside_width_mm: Annotated[Length | None, Field(alias="inside_width", gt=0, le=50)] = None
    inside: Literal["matched", "flat"] = "matched"

    @property
    def inside_rise_mm(self) -> float:
        """How far the inside bevel takes the edge away from the inside of the wall."""
        if self.inside_width_mm is None:
            return 0.0
        return self.inside_width_mm * math.sin(math.radians(self.inside_angle_deg))

    @property
    def middle_mm(self) -> float:
        """The edge lies off the inside by what an inside bevel takes."""
        return (self.thickness_mm - self.edge_thickness_mm) / 2 - self.inside_rise_mm

    @model_validator(mode="after")
    def _inside_fits(self) -> Gouge:
        if (self.inside_angle_deg > 0.0) != (self.inside_width_mm is not None):
            raise rule_fault(
                "inside-bevel",
                key="inside_angle" if self.inside_width_mm is None else "inside_width",
                given="one of inside_angle and inside_width",
                allowed="both for an inside bevel, neither without",
                mend="add the other: inside_angle: 5 deg and inside_width: 1.5 mm",
            )
        rise = self.thickness_mm - self.edge_thickness_mm - self.inside_rise_mm
        if rise <= 0.0:
            raise rule_fault(
                "inside-bevel",
                key="inside_width",
                other="thickness",
                given=f"an inside bevel that takes {self.inside_rise_mm:.3f} mm of the wall",
                allowed=f"less than the wall, {self.thickness_mm:g} mm",
                mend="make the inside bevel narrower or flatter",
            )
        if self.micro_bevel is not None:
            self.check_micro_bevel(self.outside_angle_deg, rise)
        return self


Form = Annotated[
    DoubleBevel | SingleBevel | ConvexBevel | Axe | Hook | Gouge | Outline,
    Field(discriminator="form"),
]
