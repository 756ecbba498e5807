"""What ``check`` says of a file without errors."""

from __future__ import annotations

import math

from planner.inputs.axes import LinearAxis
from planner.inputs.blade_forms import ConvexBevel, DoubleBevel, Form, Gouge, Hook, SingleBevel
from planner.inputs.edge_curve import CurveEdge
from planner.inputs.edge_paths import ArcEdge
from planner.inputs.job import Job, ReliefSizes
from planner.inputs.load import LoadedFile
from planner.inputs.machine import Machine
from planner.inputs.outline_form import Outline
from planner.inputs.rack import Wheel
from planner.report.wrapping import wrapped

_LABEL_WIDTH = 11


def understood_lines(loaded: LoadedFile[Job] | LoadedFile[Machine], width: int = 100) -> str:
    """A few lines that let the writer of the file see that it was read as meant."""
    model = loaded.model
    lines = _job_lines(model) if isinstance(model, Job) else _machine_lines(model)
    kind = "job" if isinstance(model, Job) else "machine"
    fitted = wrapped((f"  {line}" for line in lines), width, _LABEL_WIDTH)
    head = wrapped([f"{loaded.path}: a {kind}, no errors"], width)
    return "\n".join([*head, *fitted]) + "\n"


def _job_lines(job: Job) -> list[str]:
    blade, relief = job.blade.section, job.relief
    angle = form_words(blade)
    sizes = [f"faces {relief.faces}: {_sizes(relief)}"]
    if relief.face_b is not None:
        sizes = [f"face {relief.faces.replace('both', 'A')}: {_sizes(relief)}"]
        sizes = [] if relief.faces == "B" else sizes
        sizes.append(f"face B: {_sizes(relief.face_b)}")
    operations = [f"{o.do} by {o.wheel}" if o.wheel else o.do for o in job.operations or ()]
    if job.bevel_ridge_mm is not None:
        operations[0] += f", ridges of up to {job.bevel_ridge_mm:g} mm"
    steel = job.steel if isinstance(job.steel, str) else "given by its properties"
    return [
        f"title    {job.title}",
        f"blade    {blade.thickness_mm:g} x {blade.width_mm:g} mm, edge "
        f"{edge_words(job)}, {angle}, edge thickness {blade.edge_thickness_mm:g} mm",
        f"relief   {'; '.join(sizes)}; lands ±{relief.land_tolerance_mm:g} mm",
        *([f"work     {', '.join(operations)}"] if operations else []),
        f"steel    {steel}, tempered at "
        + (f"{job.temper_c:g} degC" if job.temper_c is not None else "an unknown temperature"),
        f"number   {job.quantity}, machine {job.machine or 'not named'}, "
        f"wheel {job.relief_wheel or 'chosen by the planner'}",
    ]


def _sizes(asked: ReliefSizes) -> str:
    return ", ".join(
        f"{name} {value:g} mm"
        for name, value in (
            ("edge land", asked.edge_land_mm),
            ("shoulder land", asked.shoulder_land_mm),
            ("depth", asked.depth_mm),
        )
        if value is not None
    )


def edge_words(job: Job) -> str:
    """The length of the edge, and its arc where it has one."""
    edge = job.blade.edge
    if isinstance(edge, CurveEdge):
        return _curve_words(edge)
    if not isinstance(edge, ArcEdge):
        return f"{edge.length_mm:g} mm"
    around = "bend" if edge.path_name == "bend" else "sweep"
    words = f"{edge.length_mm:.2f} mm round a {around} of radius {edge.radius_mm:g} mm"
    words = f"{words}, {edge.angle_deg:g} deg"
    if job.relief.before_bend is None:
        return words
    return f"{words}, ground as a straight blank of {job.edge.length_mm:.2f} mm and bent after"


def _curve_words(edge: CurveEdge) -> str:
    """How long it is, what it is made of, and how far it is turned toward the spine."""
    from planner.report.curve_words import shape_words  # noqa: PLC0415 (numpy is heavy)

    if edge.arcs is not None:
        pieces = f"{len(edge.arcs)} arc{'s' if len(edge.arcs) > 1 else ''}"
    else:
        pieces = f"a curve through {len(edge.points_mm or ())} points"
    length = edge.length_mm
    headings = [
        math.degrees(float(h)) for h in edge.at([length * n / 200 for n in range(201)]).heading_rad
    ]
    heel, tip = headings[0] + 0.0, headings[-1] + 0.0
    return (
        f"{length:.2f} mm along {pieces} in the plane of the blade, turned {heel:.1f} deg at the "
        f"heel, {tip:.1f} deg at the tip, {shape_words(edge)}"
    )


def form_words(form: Form) -> str:
    """The section form and its angles."""
    if isinstance(form, DoubleBevel):
        words = f"{form.angle_a_deg:g} and {form.angle_b_deg:g} deg" if form.angle_a_deg else ""
        words = words or f"{form.included_angle_deg:g} deg included"
    elif isinstance(form, SingleBevel):
        words = f"single bevel of {form.angle_deg:g} deg"
    elif isinstance(form, ConvexBevel):
        sizes = (
            ("radius {:g} mm", form.radius_mm),
            ("{:g} deg at the edge", form.edge_angle_deg),
            ("{:g} deg at the shoulder", form.shoulder_angle_deg),
        )
        given = (text.format(value) for text, value in sizes if value is not None)
        words = f"convex bevels, {', '.join(given)}"
    elif isinstance(form, Hook):
        words = f"hook, outside bevel of {form.angle_deg:g} deg"
        words += f", radius {form.radius_mm:g} mm" if form.radius_mm else ", flat"
    elif isinstance(form, Gouge):
        words = f"gouge, outside {form.outside_angle_deg:g} deg, inside {form.inside_angle_deg:g}"
        words += f" deg, {form.inside}"
    elif isinstance(form, Outline):
        words = f"own outline of {len(form.faces[0])} and {len(form.faces[1])} points"
        bulging = [f for f, r in zip("AB", form.radii_mm, strict=True) if r is not None]
        words += f", bulging bevel{'s' if len(bulging) > 1 else ''}" if bulging else ""
        words += f" on face {bulging[0]} alone" if len(bulging) == 1 else ""
    else:
        words = f"{form.included_angle_deg:g} deg included, {form.cheeks} cheeks"
    return words + _micro_words(form)


def _micro_words(form: Form) -> str:
    if not isinstance(form, Outline):
        micro = form.micro_bevel
        sized = "" if micro is None else f"{micro.width_mm:g} mm at {micro.angle_deg:g} deg a side"
        return f", micro bevel {sized}" if sized else ""
    drawn = {
        face: f"{micro.width_mm:.4g} mm at {micro.angle_deg:.4g} deg"
        for face, micro in zip("AB", form.micro_bevels, strict=True)
        if micro is not None
    }
    if len(drawn) == 2 and len(set(drawn.values())) == 1:
        return f", micro bevel {drawn['A']} a side"
    return "".join(f", micro bevel of face {face} {words}" for face, words in drawn.items())


def _machine_lines(machine: Machine) -> list[str]:
    axes = []
    for letter, axis in machine.axes.items():
        if isinstance(axis, LinearAxis):
            low, high = axis.travel_mm
            axes.append(f"{letter} {axis.role} {low:g} to {high:g} mm")
        else:
            axes.append(
                f"{letter} {axis.role} {axis.travel_deg[0]:g} to {axis.travel_deg[1]:g} deg"
            )
    return [
        f"title    {machine.title}",
        f"axes     {'; '.join(axes)}",
        f"control  {machine.controller.dialect}, {machine.controller.units}, "
        f"{machine.controller.decimals} decimals, {machine.controller.blocks_per_s:g} blocks/s",
        f"spindle  {machine.spindle.speed_rpm:g} rpm, {machine.spindle.power_w:g} W, "
        f"{machine.spindle.control.replace('_', ' ')}",
        f"holds    {machine.stiffness_n_mm:g} N/mm, at most {machine.limits.normal_force_n:g} N, "
        f"turned {machine.fixture.flip.replace('_', ' ')}, coolant {machine.coolant.kind}",
        *_tilt_axis_lines(machine),
        *_by_hand_lines(machine),
        *_row_lines(machine),
        *_in_the_way(machine),
        "rack     " + ", ".join(f"{w.name} ({_rim(w)})" for w in machine.rack),
    ]


def _rim(wheel: Wheel) -> str:
    size = f"{wheel.diameter_mm:g} x {wheel.width_mm:g} mm"
    crown = wheel.crown_radius_mm
    return size if crown is None else f"{size}, crown {crown:g} mm"


def _tilt_axis_lines(machine: Machine) -> list[str]:
    """Where the tilt's axis lies; with it the facets of a bevel that bulges are swept."""
    axis = machine.fixture.tilt_axis
    if axis is None:
        return []
    y, z = axis.at_yz_mm
    return [
        f"sweeps   the tilt about an axis at y {y:g}, z {z:g} mm, known to {axis.error_mm:g} mm"
    ]


def _by_hand_lines(machine: Machine) -> list[str]:
    """Tilt and cross that a person sets, and what there is to set them to."""
    tilt, cross = machine.fixture.hand_tilt, machine.fixture.hand_cross
    sets = []
    if tilt is not None:
        sets.append(
            "tilt " + _choice(tilt.range_deg, tilt.resolution_deg, tilt.settings_deg, "deg")
        )
    if cross is not None:
        sets.append(
            "cross " + _choice(cross.range_mm, cross.resolution_mm, cross.settings_mm, "mm")
        )
    return [f"by hand  {'; '.join(sets)}"] if sets else []


def _choice(
    ends: tuple[float, float] | None, step: float, settings: list[float] | None, unit: str
) -> str:
    if ends is not None:
        return f"{ends[0]:g} to {ends[1]:g} {unit} by {step:g}"
    return f"{', '.join(f'{s:g}' for s in settings or ())} {unit}"


def _row_lines(machine: Machine) -> list[str]:
    row = machine.fixture.row
    if row is None:
        return []
    places = ", ".join(f"{position:g}" for position in row.positions_mm)
    count = len(row.positions_mm)
    return [f"row      {count} blade{'s' if count > 1 else ''} along the traverse at {places} mm"]


def _in_the_way(machine: Machine) -> list[str]:
    """What no move may run into, and what moves with the wheel; nothing where there is neither."""
    standing = [thing.name for thing in machine.fixture.obstacles or ()]
    moving = ["guard"] if machine.guard else []
    moving += [part.name for part in machine.head or ()]
    if not standing and not moving:
        return []
    return [f"in way   {', '.join(standing) or 'nothing named'}"] + (
        [f"moving   {', '.join(moving)}"] if moving else []
    )
