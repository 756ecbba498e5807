"""The heat of one set-up: what a pass adds, how it spreads, and the limits it must keep.

Two temperatures are watched. *Soak*: the mean through the thickness anywhere in the section, as it
builds up pass by pass; its limit follows from the tempering temperature. *Flash*: the ground face
under the wheel for milliseconds, the soak and the face's excess over it; its limit is that of
the tempering parameter for the time of all contacts together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fact, Refusal, RefusedError, WayOut
from planner.formulas import contact_flash, fin_heat, tempering
from planner.formulas.segment import Result
from planner.inputs.job import Job
from planner.inputs.machine import Machine
from planner.inputs.rack import Wheel
from planner.inputs.steels import Steel
from planner.inputs.tables import load_table
from planner.kinematics.row import Row, row_of
from planner.kinematics.speeds import shaft_speed_rpm
from planner.passes.blade_heat import BladeHeat
from planner.passes.conditions import Cutting
from planner.section.target import Section
from planner.section.wheel_shape import arc_length_mm, crown_mm
from planner.section.work import FaceWork

Floats = NDArray[np.float64]

WORN_CORNER_MM = 1.0
"""Width of the wheel's worn leading corner. From memory; the corner of a used wheel."""

LEAST_LIMIT_C = 25.0
"""Lowest soak limit that the tempering parameter is used for."""

LEAST_ROOM_K = 5.0
"""Least rise above ambient that a plan can work with. Common practice, no source."""

_FILMS = {"dry": "moved_air", "mist": "mist", "flood": "flood"}
_COARSE_ABRASIVES_OF_LOW_HEAT = ("cbn", "diamond")
_LEAST_CUT_MM = 1e-4
"""A pass that takes less is taken to rub over the arc of this cut."""

_DEEP_GRID = 24
"""The same where a corner is ground away: the width of the contact grows from nothing."""

_GRID = 10
"""Depths at which the rise of a single pass is tabulated for the search."""

_PLACES = np.array([-0.08, 0.02, 0.06, 0.12, 0.22, 0.4, 0.7])
"""Places that the search watches beside the edge, as shares of the contact from its thin end on,
where it is hottest."""

_MODES = 6
"""Modes that the search keeps of the blade's heat."""


def active_width_mm(wheel: Wheel, machine: Machine, feed_mm_min: float | Floats) -> Floats:
    """Leading part of the wheel's width that cuts: stated, or worn corner and feed of one turn.

    Shape: that of the feed. A wheel fed along its own axis meets fresh steel only with the
    strip that it moves on by in one turn, rounded by its worn corner; the rest of it rubs.
    """
    if wheel.active_width_mm is not None:
        return np.full(np.shape(feed_mm_min), min(wheel.active_width_mm, wheel.width_mm))
    per_turn = np.asarray(feed_mm_min, float) / shaft_speed_rpm(wheel, machine)
    return np.minimum(WORN_CORNER_MM + per_turn, wheel.width_mm)


def contact_length_mm(
    wheel: Wheel,
    machine: Machine,
    feed_mm_min: float | Floats,
    depth_of_cut_mm: float | Floats,
    curvature_per_mm: float = 0.0,
) -> Floats:
    """Length of edge that the wheel grinds at once. Shape: broadcast.

    Along the edge it is the active width where that is stated; else of a crowned rim its arc of
    contact, of a flat one the active width, outside an arc no more than its arc of contact. Across
    the edge it is the arc of contact, or the platen.
    """
    arc = arc_length_mm(wheel, np.maximum(depth_of_cut_mm, _LEAST_CUT_MM), curvature_per_mm)
    stated = wheel.contact == "along_edge" and wheel.active_width_mm is not None
    if arc is None or stated:
        return active_width_mm(wheel, machine, feed_mm_min)
    if wheel.contact == "along_edge" and crown_mm(wheel) is None:
        return np.minimum(arc, active_width_mm(wheel, machine, feed_mm_min))
    return np.asarray(np.broadcast_arrays(arc, feed_mm_min)[0], float)


def heat_share(wheel: Wheel) -> float:
    """Share of the grinding energy that enters the blade: stated, or by abrasive."""
    if wheel.heat_share is not None:
        return wheel.heat_share
    key = "cbn_flooded" if wheel.abrasive in _COARSE_ABRASIVES_OF_LOW_HEAT else None
    return contact_flash.WORK_SHARES[key or "conventional_shallow"].planned


@dataclass(frozen=True)
class HeatLimits:
    """The two limits, and what they follow from."""

    soak_c: float
    temper_c: float | None
    ambient_c: float
    eased: float = 1.0
    """Factor on the rise above ambient: 1.1 shows what a tenth more would save."""
    beside_s: float = 0.0
    """Time of the contacts of other passes of the same program, counted with those asked about."""

    @property
    def soak_limit_c(self) -> float:
        """Most that may build up."""
        return self.ambient_c + self.eased * (self.soak_c - self.ambient_c)

    def flash_limit_c(self, contacts_s: float) -> float:
        """Most that the face may reach, the time of all its contacts together."""
        held = min(max(contacts_s + self.beside_s, 1e-3), 3600.0)
        limit = float(tempering.flash_limit(self.soak_c, held))
        return self.ambient_c + self.eased * (limit - self.ambient_c)


@dataclass(frozen=True, eq=False)
class HeatModel:
    """One set-up's blade as a fin, ready to be marched through passes."""

    mesh: fin_heat.FinMesh
    work: FaceWork
    steel: Steel
    film_w_m2k: float
    dip_film_w_m2k: float
    clamp_w_m2k: float
    ambient_c: float
    share: float
    machine: Machine
    row: Row
    limits: HeatLimits
    heel_first: bool = True
    """Whether the heel of each blade is its near end, where the first pass enters."""

    @property
    def section(self) -> Section:
        """The finished section."""
        return self.work.section

    def operator(self, depth_mm: Floats, *, dipped: bool = False) -> fin_heat.FinOperator:
        """The section with the wheel at each of these depths. Shape: (m,) -> a stack of m."""
        centres = self.mesh.centres_mm
        rows = [self.work.thickness(centres, d) for d in np.atleast_1d(depth_mm).tolist()]
        film = self.dip_film_w_m2k if dipped else self.film_w_m2k
        return fin_heat.FinOperator.build(
            self.mesh.faces_mm,
            np.maximum(np.stack(rows), 1e-6),
            self.steel.conductivity_w_mk,
            self.steel.density_kg_m3,
            self.steel.specific_heat_j_kgk,
            film,
            film,
            self.clamp_w_m2k,
        )

    def contact_y_mm(self, depth_mm: Floats) -> tuple[Floats, Floats]:
        """From where to where the wheel touches at a depth, as y. Shape: that of the depth."""
        low, high = self.work.contact_y_mm(depth_mm)
        return low, np.minimum(high, self.mesh.faces_mm[-1])

    def contact_mm(self, feed_mm_min: Floats, depth_of_cut_mm: float | Floats = 0.0) -> Floats:
        """Length of edge in contact at once; without a depth of cut, at a usual one."""
        infeed = self.work.wheel.infeed
        usual = math.sqrt(infeed.rough_mm * infeed.finish_mm)
        cut = np.where(np.asarray(depth_of_cut_mm) > 0, depth_of_cut_mm, usual)
        return contact_length_mm(
            self.work.wheel, self.machine, feed_mm_min, cut, self.work.curvature_per_mm
        )

    def beside_y_mm(self, along_mm: Floats) -> Floats:
        """y of places along the face, counted from where the wheel bares. Shape: any."""
        return np.clip(self.work.place_y_mm(along_mm), 0.0, self.mesh.faces_mm[-1])

    def flux(
        self,
        depth_mm: Floats,
        power_w: Floats,
        contact_mm: Floats,
        band_y_mm: tuple[Floats, Floats] | None = None,
    ) -> Floats:
        """Heat into each cell while the contact covers it, W/mm2. Shape: (m, n)."""
        low, high = self.contact_y_mm(depth_mm) if band_y_mm is None else band_y_mm
        return self.mesh.band_flux(self.share * power_w / contact_mm, low, high)

    def face_excess_k(
        self,
        depth_mm: Floats,
        power_w: Floats,
        feed_mm_min: Floats,
        contact_mm: Floats,
        width_mm: Floats | None = None,
    ) -> Result:
        """How far the ground face stands over the section's mean. Shape: broadcast."""
        chord = self.work.removal.width_mm(depth_mm) if width_mm is None else width_mm
        thickness = self.work.plate_mm(depth_mm)
        steel = self.steel
        diffusivity = contact_flash.thermal_diffusivity(
            steel.conductivity_w_mk, steel.density_kg_m3, steel.specific_heat_j_kgk
        )
        contact_s = contact_mm / (np.asarray(feed_mm_min, float) / 60)
        flux = self.share * power_w / (contact_mm * chord)
        through = contact_flash.plate_face_excess(diffusivity * contact_s / thickness**2)
        return np.asarray(flux * thickness / (steel.conductivity_w_mk * 1e-3) * through)

    def contacts_s(self, feeds_mm_min: Floats) -> float:
        """Time of all contacts of a station, one a pass."""
        return float(np.sum(self.contact_mm(feeds_mm_min) / feeds_mm_min * 60))

    def blade_heat(self, cutting: Cutting, contacts_s: float, pause_overhead_s: float) -> BladeHeat:
        """The blade's heat for the search, in the slowest modes of the half-ground section."""
        feeds = cutting.feeds_mm_min
        # A soft machine reaches but a part of the first step.
        depths = self._depths(cutting.step_mm / 10)
        grid = len(depths)
        low, high = (end[:, np.newaxis] for end in self.contact_y_mm(depths))
        watched = np.clip(low + (high - low) * _PLACES, 0.0, None)
        middle = np.array([self.work.depth_mm / 2])
        section = self.operator(middle).section(0)
        rates = section.rates_per_s[:_MODES]
        shapes = section.modes[:, :_MODES] / np.sqrt(section.capacity_j_mmk)[:, np.newaxis]
        heats = section.modes[:, :_MODES].T / np.sqrt(section.capacity_j_mmk)
        contact = self.contact_mm(feeds)
        contact_s = contact / feeds * 60
        operator = self.operator(depths)
        rise = np.empty((grid, len(feeds), 1 + len(_PLACES)))
        face, left = np.empty((grid, len(feeds))), np.empty((grid, len(feeds), _MODES))
        for column, feed in enumerate(feeds.tolist()):
            one_watt, at = np.ones(grid), np.full(grid, feed)
            length = np.full(grid, contact[column])
            flux = self.flux(depths, one_watt, length)
            held = operator.advance(
                np.zeros((grid, 1, len(self.mesh.centres_mm))),
                flux[:, None, :],
                float(contact_s[column]),
            )
            rise[:, column, 0] = operator.edge(held)[:, 0]
            rise[:, column, 1:] = self._at_places(watched, held[:, 0])
            # The hottest of all may lie between the places that are watched.
            rise[:, column] += (held.max(axis=(1, 2)) - rise[:, column].max(axis=-1))[:, None]
            face[:, column] = self.face_excess_k(depths, one_watt, at, length)
            # As the section of its own depth has it: a thinner one is hotter by the same heat.
            left[:, column] = (held[:, 0] * section.capacity_j_mmk) @ heats.T
        fixture = self.machine.fixture
        # Of a row the two ends are the hottest, for they are hit twice in a row.
        to_contact = fixture.run_off_mm + np.array([[0.0], [self.row.run_mm]])
        before = to_contact / feeds * 60 + contact_s
        before[1] += [sum(cutting.hop_delays_s(f)) for f in feeds.tolist()]
        whole = np.array([cutting.traverse_time_s(f) for f in feeds.tolist()])
        dips = fixture.cooling == "dip" and self.steel.water_dip
        points = np.stack([self._at_places(watched, shape) for shape in shapes.T], axis=-1)
        at_edge = np.broadcast_to(section.edge(shapes.T), (grid, 1, _MODES))
        return BladeHeat(
            depth_mm=depths,
            rise_k_w=rise,
            face_k_w=face,
            left_w=left,
            points=np.concatenate([at_edge, points], axis=1),
            rates_per_s=rates,
            before_s=before,
            after_s=whole - before,
            soak_allowed_k=self.limits.soak_limit_c - self.ambient_c,
            flash_allowed_k=self.limits.flash_limit_c(contacts_s) - self.ambient_c,
            overhead_s=pause_overhead_s,
            unit_s=0.1 if fixture.cooling == "air" else 1.0,
            dip_s=fixture.dip_pause_s if dips else None,
            dipped=self._dipped(middle, shapes, heats) if dips else None,
        )

    def _depths(self, shallow_mm: float) -> Floats:
        """Depths of the tables: even in the width of the contact, as the heat of a watt goes."""
        deep = self.work.depth_mm
        if self.work.operation == "relief":
            return np.asarray(np.linspace(math.sqrt(shallow_mm), math.sqrt(deep), _GRID) ** 2)
        return np.geomspace(min(shallow_mm, deep / 2), deep, _DEEP_GRID)

    def _at_places(self, y_mm: Floats, rise_k: Floats) -> Floats:
        """A rise, or one for each depth, at places (g, p) of the section."""
        fields = np.broadcast_to(rise_k, (len(y_mm), rise_k.shape[-1]))
        centres = self.mesh.centres_mm
        return np.stack([np.interp(y, centres, one) for y, one in zip(y_mm, fields, strict=True)])

    def _dipped(self, depth_mm: Floats, shapes: Floats, heats: Floats) -> Floats:
        """What a dip leaves of the amplitudes: (k, k), to be multiplied from the right."""
        wet = self.operator(depth_mm, dipped=True).section(0)
        cooled = wet.advance(shapes.T, np.zeros(len(shapes)), self.machine.fixture.dip_pause_s)
        dry = self.operator(depth_mm).section(0)
        return np.asarray((cooled * dry.capacity_j_mmk) @ heats.T)


def heat_model(
    job: Job,
    machine: Machine,
    steel: Steel,
    work: FaceWork,
    *,
    heel_first: bool = True,
    row: Row | None = None,
) -> HeatModel:
    """The model of one set-up, from the section as it is held and the packaged tables.

    Without a ``row`` one blade is ground.
    """
    fixture = machine.fixture
    clamp = fixture.overhang_mm or (fixture.jaws.from_edge_mm if fixture.jaws else None)
    held = clamp is not None
    low, high = (float(end) for end in work.contact_y_mm(np.array(work.depth_mm)))
    clamp_mm = max(clamp if clamp is not None else work.section.width_mm, high * 1.001)
    films = load_table("film_coefficients")["films"]
    kind = _FILMS[machine.coolant.kind]
    soak = tempering.soak_limit(
        job.temper_c, steel.default_edge_limit_c, machine.limits.temper_margin_k
    )
    ambient = machine.coolant.ambient_c
    if soak < max(ambient, LEAST_LIMIT_C - LEAST_ROOM_K) + LEAST_ROOM_K:
        facts: dict[str, Fact] = {"soak_c": soak, "ambient_c": ambient}
        ways = (WayOut("smaller-margin"), WayOut("cooler-shop"))
        raise RefusedError([Refusal("limit-at-ambient", facts, ways)])
    return HeatModel(
        mesh=fin_heat.FinMesh.graded(clamp_mm, low, high),
        work=work,
        steel=steel,
        film_w_m2k=machine.coolant.film_w_m2k or films[kind]["typical_w_m2k"],
        dip_film_w_m2k=films["flood"]["typical_w_m2k"],
        clamp_w_m2k=fixture.clamp_conductance_w_m2k if held else 0.0,
        ambient_c=machine.coolant.ambient_c,
        share=heat_share(work.wheel),
        machine=machine,
        row=row or row_of(machine, work.wheel, job.edge.length_mm, work.depth_mm),
        limits=HeatLimits(soak, job.temper_c, machine.coolant.ambient_c),
        heel_first=heel_first,
    )
