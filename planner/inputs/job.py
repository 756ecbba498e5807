"""The job file: which blade, which steel, and the relief asked for.

Field names end in their unit; the YAML key is the alias without it. Every default that is
a figure of the shop says where it comes from.
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.inputs.blade_forms import Form
from planner.inputs.cutting import Cut, Honing
from planner.inputs.edge_paths import BendEdge, EdgePath, StraightEdge
from planner.inputs.fields import (
    Angle,
    Count,
    FileModel,
    Length,
    Name,
    Number,
    PathText,
    Share,
    Temperature,
    Title,
    rule_fault,
)
from planner.inputs.from_bar import bevel_kinds, flat_turns, not_from_bar
from planner.inputs.steels import SteelChoice


class Blade(FileModel):
    """The edge's path and the section normal to it."""

    edge: EdgePath
    section: Form


class ReliefSizes(FileModel):
    """Sizes of a relief: any two of the two lands and the depth; the third follows."""

    edge_land_mm: Annotated[Length | None, Field(alias="edge_land", ge=0, le=100)] = None
    shoulder_land_mm: Annotated[Length | None, Field(alias="shoulder_land", ge=0, le=100)] = None
    depth_mm: Annotated[Length | None, Field(alias="depth", gt=0, le=10)] = None

    @property
    def given(self) -> list[str]:
        """The keys that are given."""
        sizes = {
            "edge_land": self.edge_land_mm,
            "shoulder_land": self.shoulder_land_mm,
            "depth": self.depth_mm,
        }
        return [name for name, value in sizes.items() if value is not None]


class FaceSizes(ReliefSizes):
    """Other sizes for one face: any two of the two lands and the depth."""

    @model_validator(mode="after")
    def _two_of_three(self) -> FaceSizes:
        _check_two(self.given, "the third follows from the wheel's radius: leave it out")
        return self


def _check_two(given: list[str], mend: str) -> None:
    if len(given) != 2:
        raise rule_fault(
            "two-of-three",
            key=given[0] if given else "",
            other=given[1] if len(given) > 1 else "",
            given=", ".join(given) or "none of the three",
            allowed="exactly two of edge_land, shoulder_land and depth",
            mend=mend if len(given) > 2 else "give two; the third follows from the wheel's radius",
        )


class Relief(ReliefSizes):
    """The relief asked for: any two of the two lands and the depth."""

    faces: Literal["both", "A", "B"] = "both"
    face_b: FaceSizes | None = None
    """Other sizes for face B, such as those of the hollow in a flat back."""
    land_tolerance_mm: Annotated[Length, Field(alias="land_tolerance", gt=0, le=10)] = 0.2
    """Default 0.2 mm: common practice, no source."""
    min_steel_left_mm: Annotated[Length, Field(alias="min_steel_left", ge=0, le=10)] = 0.15
    """Default 0.15 mm: a hardened web thinner than this flexes on the stone and overheats at the
    first pass; common practice, no source."""
    min_edge_angle_deg: Annotated[Angle, Field(alias="min_edge_angle", ge=0, lt=120)] = 15.0
    """Least included angle at an edge that a full hollow runs out to. Default 15 deg: below the
    20 deg that carving knives start at; common practice, no source."""
    share_in_tolerance: Share = 0.5
    """The job is refused when a smaller share of the blades is expected in tolerance."""
    scallop_mm: Annotated[Length | None, Field(alias="scallop", gt=0, le=0.1)] = None
    """Height of the ridges that may stay between the parallel lines of a wheel smaller than the
    relief. With it, both lands and the depth are given, and the wheel generates their arc."""
    before_bend: Share | None = None
    """The relief is ground into the straight blank, which is bent afterwards: how much of the
    bound on the dish (docs/edge-paths.md) is made up for. A trial piece tells; left out, the blade
    is bent before it is ground."""
    poisson: Annotated[Number, Field(ge=0, le=0.5)] = 0.3
    """Poisson's ratio in that bound: steel that springs. Default 0.3: from memory."""
    residual_share: Annotated[Share, Field(ge=0.01)] = 0.25
    """Share of the depth tolerance that may be left as deflection after spark-out. Default 0.25:
    the rest is for the spread of the blades; common practice, no source."""

    @model_validator(mode="after")
    def _two_of_three(self) -> Relief:
        given = self.given
        if self.scallop_mm is None:
            _check_two(
                given,
                "the third follows from the wheel's radius: leave it out, or let a smaller "
                "wheel generate all three by adding scallop: 0.002 mm",
            )
        elif len(given) != 3:
            raise rule_fault(
                "scallop-and-sizes",
                key="scallop",
                given=f"scallop with {', '.join(given) or 'none of the three'}",
                allowed="scallop with all of edge_land, shoulder_land and depth",
                mend="give all three: they fix the arc that the lines generate",
            )
        if self.face_b is not None and (self.scallop_mm is not None or self.faces == "A"):
            raise rule_fault(
                "face-b-sizes",
                key="face_b",
                other="faces" if self.faces == "A" else "scallop",
                given="sizes for face B" + ("" if self.faces == "A" else " beside a scallop"),
                allowed="sizes of its own for a face B that has a relief, made in one piece",
                mend="take face_b out, or write faces: both without a scallop",
            )
        return self

    def on(self, face: str) -> ReliefSizes:
        """The sizes asked for on a face."""
        return self.face_b if face == "B" and self.face_b is not None else self


class StockSpread(FileModel):
    """How much the blades of this job differ: standard deviations."""

    thickness_mm: Annotated[Length, Field(alias="thickness", ge=0, le=1)] = 0.01
    """Default 0.01 mm: ground flat stock; from memory."""
    bevel_angle_deg: Annotated[Angle, Field(alias="bevel_angle", ge=0, le=5)] = 0.1
    """Default 0.1 deg: bevels ground on a fixture; from memory."""


class BevelOperation(FileModel):
    """Bevels from parallel stock, flat or bulging."""

    do: Literal["bevel"]
    wheel: Name
    edge_thickness_tolerance_mm: Annotated[
        Length, Field(alias="edge_thickness_tolerance", gt=0, le=10)
    ] = 0.1
    """Default 0.1 mm: what is left at the edge before hardening; common practice, no source."""
    stages: Annotated[Count | None, Field(ge=1, le=4)] = None
    """In how many turns each bevel is ground, the other between them, so that the blade stays
    straight. Left out, one for each millimetre that comes off a side (common practice), and one in
    all where the other face has no bevel. Of flat bevels only: facets take turns by themselves."""
    ridge_mm: Annotated[Length | None, Field(alias="ridge", gt=0, le=0.5)] = None
    """Of bevels that bulge, and only there: how high the ridges may stand over the arc, between
    the facets of a flat wheel or the lines of a round one."""


class ReliefOperation(FileModel):
    """The relief between the two lands."""

    do: Literal["relief"]
    wheel: Name | None = None


class LandsOperation(FileModel):
    """A light pass that brings both lands into one plane and to their width."""

    do: Literal["lands"]
    wheel: Name
    allowance_mm: Annotated[Length, Field(alias="allowance", gt=0, le=1)] = 0.01
    """What the operations before it leave on the bevel face. Default 0.01 mm: two or three finish
    passes; common practice, no source."""


Operation = Annotated[BevelOperation | ReliefOperation | LandsOperation, Field(discriminator="do")]


_ORDER = ("bevel", "relief", "lands")

_TIGHTEST_BEND = 2.0
"""Radius at the middle of the stock, in thicknesses, of the tightest bend after the grind: its
outside stretches by a quarter, and the bound on the dish is one of small strains. Common practice,
no source."""


class Job(FileModel):
    """One job file."""

    title: Title
    steel: SteelChoice
    """A designation from the steel table, or a map with the properties themselves."""
    temper_c: Annotated[Temperature | None, Field(alias="temper", ge=50, le=700)] = None
    quantity: Annotated[Count, Field(ge=1, le=100_000)] = 1
    inspect_every: Annotated[Count | None, Field(ge=1, le=100_000)] = None
    """How often a blade of the batch is measured, beside the first and the last. Left out, every
    fifth (common practice, no source), or sooner where wear asks for a dressing sooner."""
    machine: PathText | None = None
    """Path of the machine file, seen from the job file's folder."""
    wheel: Name | None = None
    blade: Blade
    relief: Relief
    spread: StockSpread = StockSpread()
    operations: Annotated[list[Operation] | None, Field(min_length=1, max_length=3)] = None
    """What is ground, in order; left out, the relief alone, into bevels that are there."""
    cut: Cut = Cut()
    """The work it is for. Changes no program (docs/how-it-will-cut.md)."""
    honing: Honing = Honing()
    """How it is kept sharp. Changes no program (docs/how-it-will-cut.md)."""

    @model_validator(mode="after")
    def _operations_are_in_order(self) -> Job:
        if self.operations is None:
            return self
        names = [operation.do for operation in self.operations]
        wanted = [name for name in _ORDER if name in names]
        if names != wanted or "relief" not in names:
            raise rule_fault(
                "operation-order",
                key="operations",
                given=", ".join(names),
                allowed="bevel, relief, lands in this order, each once; relief always",
                mend="put them in this order, or leave operations out for the relief alone",
            )
        form = self.blade.section
        against = not_from_bar(form)
        mend = "leave bevel and lands out: this blade comes with its faces ground"
        if "lands" in names and self.bulging_faces and not against:
            against = " whose bevel bulges: no flat wheel brings two lands of an arc into one plane"
            mend = "leave lands out: the relief can follow the bevel"
        if names != ["relief"] and against:
            raise rule_fault(
                "operations-and-form",
                key="operations",
                other="blade.section.form",
                given=f"{', '.join(names)} on the section {form.form}" + against,
                allowed="bevel and lands on flat bevels without a micro bevel: double_bevel, "
                "single_bevel, hook, a gouge without an inside bevel, an outline whose sides are "
                "level behind its bevels; on bevels that bulge (convex_bevel, a hook with radius, "
                "such an outline) bevel alone",
                mend=mend,
            )
        self._check_ridge()
        relief = names.index("relief")
        if self.wheel is not None and self.operations[relief].wheel is not None:
            raise rule_fault(
                "two-wheels",
                key=f"operations[{relief}].wheel",
                other="wheel",
                given="a wheel for the relief, and one for the job",
                allowed="one of the two",
                mend="leave one of the two out",
            )
        return self

    def _check_ridge(self) -> None:
        """Facets and lines are for bevels that bulge, turns that are asked for for flat ones."""
        bulges = bool(self.bulging_faces)
        flat = "flat" in bevel_kinds(self.blade.section).values()
        for number, operation in enumerate(self.operations or ()):
            if operation.do != "bevel":
                continue
            if bulges == (operation.ridge_mm is None):
                raise rule_fault(
                    "bevel-ridge",
                    key=f"operations[{number}]" + ("" if bulges else ".ridge"),
                    other="blade.section.form",
                    given="no ridge for a bevel that bulges"
                    if bulges
                    else f"a ridge on the flat bevels of a {self.blade.section.form} section",
                    allowed="ridge where a face bulges, and there always",
                    mend="add ridge: 0.01 mm, the height that facets or lines may leave"
                    if bulges
                    else "leave ridge out",
                )
            if bulges and not flat and operation.stages is not None:
                raise rule_fault(
                    "bevel-ridge",
                    key=f"operations[{number}].stages",
                    other="blade.section.form",
                    given="stages on a bevel that bulges",
                    allowed="stages on flat bevels; facets are ground in turns as they are",
                    mend="leave stages out",
                )

    @model_validator(mode="after")
    def _blank_can_be_bent(self) -> Job:
        if self.relief.before_bend is None:
            return self
        form, edge = self.blade.section, self.blade.edge
        found = ""
        if not isinstance(edge, BendEdge):
            found, other = f"an edge along a {edge.path} path", "blade.edge.path"
        elif edge.radius_mm + form.middle_mm < _TIGHTEST_BEND * form.thickness_mm:
            found, other = "a blank too thick for its bend", "blade.edge.radius"
        elif self.bulging_faces:
            found, other = "a bevel that bulges", "blade.section"
        elif self.relief.scallop_mm is not None:
            found, other = "a relief in parallel lines", "relief.scallop"
        if found:
            raise rule_fault(
                "before-bend",
                key="relief.before_bend",
                other=other,
                given=f"a relief before the bend, on {found}",
                allowed="path: bend, a radius of two thicknesses or more at the middle of the "
                "stock, flat bevels, and a relief in one piece",
                mend="leave before_bend out, or describe the blade as it comes out of the bend",
            )
        return self

    @property
    def edge(self) -> EdgePath:
        """The edge as it lies under the wheel: that of a blank to be bent is straight.

        The blank is as long as the arc of its middle, which the bend neither stretches nor presses.
        """
        edge = self.blade.edge
        if self.relief.before_bend is None or not isinstance(edge, BendEdge):
            return edge
        length = (edge.radius_mm + self.blade.section.middle_mm) * math.radians(edge.angle_deg)
        return StraightEdge.model_construct(path="straight", length_mm=length)

    @property
    def bevel_stages(self) -> int:
        """In how many turns each flat bevel is ground; 1 where each bulges, 0 where none is."""
        for operation in self.operations or ():
            if operation.do == "bevel":
                return flat_turns(self.blade.section, operation.stages)
        return 0

    @property
    def bulging_faces(self) -> tuple[str, ...]:
        """The faces whose bevel is an arc, whether it is ground or comes so."""
        kinds = bevel_kinds(self.blade.section)
        return tuple(face for face, kind in kinds.items() if kind == "bulging")

    @property
    def bevel_ridge_mm(self) -> float | None:
        """How high ridges may stand over a bevel that bulges; None where none is ground."""
        bevels = (o for o in self.operations or () if o.do == "bevel")
        return next((o.ridge_mm for o in bevels), None)

    @property
    def relief_wheel(self) -> str | None:
        """Name of the wheel that grinds the relief; None where the planner chooses it."""
        for operation in self.operations or ():
            if operation.do == "relief" and operation.wheel is not None:
                return operation.wheel
        return self.wheel
