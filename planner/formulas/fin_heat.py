r"""The thin edge as a fin: how the heat of many passes spreads from the contact and leaves.

Symbols: y distance from the edge, t(y) thickness, y_c the clamp, θ rise above ambient of the mean
through the thickness, τ time, q heat into the section per length along y and per length of edge,
k conductivity, ρ density, c specific heat, h_A and h_B film coefficients of the two faces.

.. math::
    \rho c\,t\,\frac{\partial\theta}{\partial\tau} = \frac{\partial}{\partial y}
    \left(k\,t\,\frac{\partial\theta}{\partial y}\right) - (h_A + h_B)\,\theta + q(y, \tau)

The edge is insulated; at the clamp a contact conductance stands between the section and the
clamp, which stays at ambient.

**Advance in time.** The section is cut into n cells that conserve heat; with the heat capacity of
the cells on a diagonal C and conduction, film and clamp in a symmetric tridiagonal K, the
equation is C θ' = -K θ + Q. One symmetric eigen-decomposition of C^-1/2 K C^-1/2 advances it
*exactly* in time: each mode decays as exp(-λτ), so a contact of 0.1 s and a pause of minutes cost
one product each, with no time step to choose, unconditionally stable, heat conserved to rounding,
and any moment between can be looked at. The times in one section span 1e-5 s (the smallest cell)
to minutes (the film), which a stepping method has to follow after every switch of the wheel.
``FinOperator.advance_implicit`` is the stepping rival.

**Error.** Second order in the cell size. With the cells that ``FinMesh.graded`` makes by default
edge and hottest cell are within 0.3 % of the exact series for a bar and for a sharp wedge heated
over a band for 0.1 to 1 s. What the model itself leaves out is larger. Against a two-dimensional
finite-element solution of a wedge of 25 degrees heated on one face for 0.05 to 0.5 s the edge is
2 to 8 % too hot (most when it has hardly warmed), the hottest face, with the excess of
``contact_flash.plate_face_excess`` added, 1 to 4 % too hot; at 35 degrees up to 15 and 6 %. Heat
along the edge is left out: it would spread the heating over α/v before and after the wheel and so
only lower the peak. Properties do not change with temperature. Film coefficients are known to a
factor of two at best.

Source: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), paragraph
4.12 (thin rods and fins); F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer
(fins of varying section); S. V. Patankar, Numerical Heat Transfer and Fluid Flow (1980), control
volumes. From memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require
from planner.formulas.segment import Result

_SAMPLE_SHARES: NDArray[np.float64] = np.concatenate([[0.0], np.geomspace(1e-4, 1.0, 20)])
"""Where an interval is looked at, as shares of it: dense after each switch of the wheel."""


@dataclass(frozen=True, eq=False)
class FinMesh:
    """Cells from the edge to the clamp; ``faces_mm`` (n + 1,) rises from 0."""

    faces_mm: Result

    def __post_init__(self) -> None:
        faces = np.asarray(self.faces_mm, float)
        if faces.ndim != 1 or faces.size < 3 or faces[0] != 0.0 or not np.all(np.diff(faces) > 0):
            raise ValueError("faces_mm must rise from 0 with at least 2 cells")
        require("faces_mm", faces, low=0.0)

    @classmethod
    def graded(
        cls,
        clamp_mm: float,
        contact_from_mm: float,
        contact_to_mm: float,
        *,
        edge_cell_mm: float = 0.02,
        contact_cell_mm: float = 0.06,
        growth: float = 0.2,
    ) -> FinMesh:
        r"""Cells that are small at the edge and at both ends of the contact.

        The wanted cell at y is the least of edge_cell + g y and contact_cell + g abs(y - y_i)
        over both ends y_i of the contact; ends of the contact fall on faces of cells.

        Range: 0 <= contact_from < contact_to <= clamp; cells > 0 and no larger than the clamp
        distance; growth 0 to 1. Raises: ValueError. The defaults make 40 to 70 cells for bevels
        of 5 to 20 mm.

        >>> mesh = FinMesh.graded(18.0, 1.2, 5.2)
        >>> bool(np.any(mesh.faces_mm == 1.2) and np.any(mesh.faces_mm == 5.2))
        True
        """
        require("clamp_mm", clamp_mm, above=0.0)
        require("contact_to_mm", contact_to_mm, above=0.0, high=clamp_mm)
        require("contact_from_mm", contact_from_mm, low=0.0, high=contact_to_mm)
        if not contact_from_mm < contact_to_mm:
            raise ValueError(f"contact_from_mm = {contact_from_mm!r} is outside [0, contact_to_mm)")
        require("edge_cell_mm", edge_cell_mm, above=0.0, high=clamp_mm)
        require("contact_cell_mm", contact_cell_mm, above=0.0, high=clamp_mm)
        require("growth", growth, low=0.0, high=1.0)
        breaks = np.unique([0.0, contact_from_mm, contact_to_mm, clamp_mm])
        pieces = [np.zeros(1)]
        for start, end in pairwise(breaks):
            y = np.linspace(start, end, 2001)
            size = edge_cell_mm + growth * y
            for near in (contact_from_mm, contact_to_mm):
                size = np.minimum(size, contact_cell_mm + growth * np.abs(y - near))
            density = 1.0 / size
            count = np.concatenate(
                [[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0 * np.diff(y))]
            )
            cells = max(1, int(np.ceil(count[-1])))
            inner = np.interp(np.linspace(0.0, count[-1], cells + 1)[1:-1], count, y)
            pieces += [inner, np.array([end])]
        return cls(np.concatenate(pieces))

    @property
    def centres_mm(self) -> Result:
        """Middles of the cells, (n,), in mm."""
        return (self.faces_mm[1:] + self.faces_mm[:-1]) / 2.0

    @property
    def widths_mm(self) -> Result:
        """Widths of the cells, (n,), in mm."""
        return np.diff(self.faces_mm)

    def band_flux(
        self, heat_w_mm: ArrayLike, from_mm: ArrayLike, to_mm: ArrayLike
    ) -> NDArray[np.float64]:
        r"""Heat spread evenly over a band of y, in W/mm2, shape (..., n).

        .. math:: q = Q' / (y_2 - y_1) \quad\text{for } y_1 < y < y_2

        A cell that is covered in part gets its part, so the total is exactly ``heat_w_mm`` (W per
        mm of edge, both faces together) whatever the slope of the face.

        Range: heat >= 0, 0 <= from < to <= clamp. Shape: broadcast of the arguments.
        Raises: ValueError.
        """
        first, last = np.asarray(from_mm, float), np.asarray(to_mm, float)
        require("heat_w_mm", heat_w_mm, low=0.0)
        require("to_mm", last, above=0.0, high=float(self.faces_mm[-1]))
        require("from_mm", first, low=0.0, high=last)
        require("band width", last - first, above=0.0)
        low = np.maximum(self.faces_mm[:-1], first[..., np.newaxis])
        high = np.minimum(self.faces_mm[1:], last[..., np.newaxis])
        covered = np.maximum(high - low, 0.0) / self.widths_mm
        density = np.asarray(heat_w_mm, float) / (last - first)
        return np.asarray(density[..., np.newaxis] * covered)


@dataclass(frozen=True, eq=False)
class FinOperator:
    """One section, or a stack of m sections on one mesh, ready to be advanced in time.

    A stack has the leading axis m in every array but ``widths_mm``; ``theta`` is then (m, s, n)
    and ``flux`` broadcasts against it. For one section ``theta`` is (n,) or (s, n), s stations.
    ``theta`` is in K above ambient, ``flux`` in W/mm2 per face area measured along y (a
    negative flux cools), durations in s, scalar or one for each station.
    """

    widths_mm: Result
    capacity_j_mmk: Result
    """Heat of each cell per kelvin and mm of edge, (..., n)."""
    conduction_w_mmk: Result
    """Between neighbouring cells, (..., n - 1)."""
    film_w_mmk: Result
    """From each cell to ambient through both faces, (..., n)."""
    clamp_w_mmk: Result
    """From the last cell into the clamp, (...)."""
    edge_lead: Result
    """θ(edge) = θ_0 + edge_lead (θ_0 - θ_1), (...)."""
    rates_per_s: Result
    """Decay rates of the modes, rising, (..., n)."""
    modes: Result
    """Orthonormal modes of the scaled section as columns, (..., n, n)."""

    @classmethod
    def build(
        cls,
        y_faces_mm: ArrayLike,
        thickness_mm: ArrayLike,
        conductivity_w_mk: float,
        density_kg_m3: float,
        specific_heat_j_kgk: float,
        film_a_w_m2k: ArrayLike = 0.0,
        film_b_w_m2k: ArrayLike = 0.0,
        clamp_conductance_w_m2k: float = 0.0,
    ) -> FinOperator:
        r"""Assemble and decompose a section, or a stack of sections.

        Conductance between cells: k t(y_face)/(y_{i+1} - y_i), with t at the face taken linearly
        between the cells (exact for a wedge down to no thickness at all). The clamp: its
        conductance over the thickness of the last cell, in series with half that cell.

        =======================  ==================  =========  ==============================
        argument                 shape               unit       range
        =======================  ==================  =========  ==============================
        y_faces_mm               (n + 1,)            mm         rising from 0, n >= 2
        thickness_mm             (n,) or (m, n)      mm         > 0, at the cell's middle
        conductivity_w_mk        scalar              W/(m K)    > 0
        density_kg_m3            scalar              kg/m3      > 0
        specific_heat_j_kgk      scalar              J/(kg K)   > 0
        film_a_w_m2k, film_b_…   scalar or (n,)      W/(m2 K)   >= 0; air 10 to 50
        clamp_conductance_w_m2k  scalar              W/(m2 K)   >= 0; 0 insulates
        =======================  ==================  =========  ==============================

        Raises: ValueError. Source: control volumes (Patankar 1980).

        >>> bar = FinOperator.build(np.linspace(0, 20, 41), np.full(40, 2.0), 48, 7800, 470)
        >>> warm = bar.advance(np.zeros(40), np.full(40, 0.2), 3.0)
        >>> round(float(warm[0]), 2)  # by hand: 0.2 * 3 / (3.666e-3 * 2)
        81.83
        """
        mesh = FinMesh(np.asarray(y_faces_mm, float))
        thickness = np.asarray(thickness_mm, float)
        widths = mesh.widths_mm
        if thickness.ndim not in (1, 2) or thickness.shape[-1] != widths.size:
            raise ValueError(
                f"thickness_mm of shape {thickness.shape} does not fit {widths.size} cells"
            )
        require("thickness_mm", thickness, above=0.0)
        require("conductivity_w_mk", conductivity_w_mk, above=0.0)
        require("density_kg_m3", density_kg_m3, above=0.0)
        require("specific_heat_j_kgk", specific_heat_j_kgk, above=0.0)
        require("film_a_w_m2k", film_a_w_m2k, low=0.0)
        require("film_b_w_m2k", film_b_w_m2k, low=0.0)
        require("clamp_conductance_w_m2k", clamp_conductance_w_m2k, low=0.0)

        k = conductivity_w_mk * 1e-3
        capacity = density_kg_m3 * specific_heat_j_kgk * 1e-9 * thickness * widths
        between = np.diff(mesh.centres_mm)
        share = widths[:-1] / (widths[:-1] + widths[1:])
        at_faces = thickness[..., :-1] * (1.0 - share) + thickness[..., 1:] * share
        conduction = k * at_faces / between
        film_sum = np.asarray(film_a_w_m2k, float) + np.asarray(film_b_w_m2k, float)
        film = np.broadcast_to(film_sum * 1e-6 * widths, thickness.shape)
        last = thickness[..., -1]
        contact = clamp_conductance_w_m2k * 1e-6 * last
        clamp = contact / (1.0 + contact * widths[-1] / (2.0 * k * last))

        root = np.sqrt(capacity)
        scaled = _symmetric_matrix(conduction, film, np.asarray(clamp))
        scaled /= root[..., :, np.newaxis] * root[..., np.newaxis, :]
        rates, modes = np.linalg.eigh(scaled)
        return cls(
            widths_mm=widths,
            capacity_j_mmk=capacity,
            conduction_w_mmk=conduction,
            film_w_mmk=film,
            clamp_w_mmk=np.asarray(clamp),
            edge_lead=_edge_lead(widths, thickness, at_faces[..., 0], between[0]),
            rates_per_s=np.maximum(rates, 0.0),  # an insulated section has one of 0, rounded
            modes=modes,
        )

    def section(self, index: int) -> FinOperator:
        """One section of a stack. Raises: ValueError when this is no stack; IndexError."""
        if self.modes.ndim == 2:
            raise ValueError("this operator holds one section, not a stack")
        return FinOperator(
            widths_mm=self.widths_mm,
            capacity_j_mmk=self.capacity_j_mmk[index],
            conduction_w_mmk=self.conduction_w_mmk[index],
            film_w_mmk=self.film_w_mmk[index],
            clamp_w_mmk=self.clamp_w_mmk[index],
            edge_lead=self.edge_lead[index],
            rates_per_s=self.rates_per_s[index],
            modes=self.modes[index],
        )

    def advance(self, theta: ArrayLike, flux: ArrayLike, duration_s: ArrayLike) -> Result:
        """Rise after a time under a steady flux, exact in time; shape of ``theta``.

        Range: durations >= 0. Shape: the class says. Raises: ValueError.
        """
        duration = self._duration(duration_s)
        x = self._row(self.rates_per_s) * duration
        return self._from_modes(_in_time(self._start(theta), self._source(flux), x, duration))

    def advance_implicit(
        self, theta: ArrayLike, flux: ArrayLike, duration_s: float, steps: int
    ) -> Result:
        r"""The same by equal implicit steps: for one section, (n,) or (s, n).

        Two-stage singly diagonally implicit Runge-Kutta method with γ = 1 - 1/√2: second order,
        L-stable, so the fast modes of small cells die as they should. Source: R. Alexander,
        SIAM Journal on Numerical Analysis 14 (1977) 1006-1021.

        Range: duration >= 0, steps >= 1. Raises: ValueError.
        """
        require("duration_s", duration_s, low=0.0)
        require("steps", steps, low=1.0)
        gamma = 1.0 - np.sqrt(0.5)
        step = duration_s / steps
        matrix = _symmetric_matrix(self.conduction_w_mmk, self.film_w_mmk, self.clamp_w_mmk)
        solve = np.linalg.inv(np.diag(self.capacity_j_mmk) + gamma * step * matrix)
        heat = np.asarray(flux, float) * self.widths_mm
        value = np.asarray(theta, float)
        for _ in range(steps):
            first = (heat - value @ matrix) @ solve
            middle = value + (1.0 - gamma) * step * first
            second = (heat - middle @ matrix) @ solve
            value = middle + gamma * step * second
        return value

    def trace(self, theta: ArrayLike, flux: ArrayLike, times_s: ArrayLike) -> Result:
        """Rise at moments of an interval of steady flux.

        ``theta`` (..., n) and ``times_s`` (..., p) or (p,) give (..., p, n). Range: times >= 0.
        Raises: ValueError.
        """
        modal = self._modal_trace(theta, flux, times_s)
        root = np.sqrt(self._stack_axis(self._row(self.capacity_j_mmk)))
        return (modal @ self._stack_axis(np.swapaxes(self.modes, -1, -2))) / root

    def edge(self, theta: ArrayLike) -> Result:
        """Rise at y = 0 of fields (..., n): the first cell carried on to the edge.

        The gradient between the first two cells, scaled by how heat flows in the half cell next
        to the edge, so that both a blunt and a sharp edge are second order. Shape: (...).
        """
        field = np.asarray(theta, float)
        lead = self.edge_lead
        if lead.ndim:
            lead = lead.reshape(lead.shape + (1,) * (field.ndim - 2))
        return np.asarray(field[..., 0] + lead * (field[..., 0] - field[..., 1]))[()]

    def edge_peak(
        self, theta: ArrayLike, flux: ArrayLike, duration_s: ArrayLike
    ) -> tuple[Result, Result]:
        """Highest rise at the edge in an interval of steady flux, and when, from its start.

        The edge is often hottest after the wheel has left, when heat from the contact reaches
        it. Looked for at 21 moments, closest just after the start, then twice between the
        neighbours of the highest: the value is within 1e-4 of itself unless a second
        maximum shorter than a third of its age hides between two moments.

        Shape: (...) of ``theta`` (..., n). Range: durations >= 0. Raises: ValueError.
        """
        field = np.asarray(theta, float)
        require("duration_s", duration_s, low=0.0)
        duration = np.broadcast_to(np.asarray(duration_s, float), field.shape[:-1])

        times = duration[..., np.newaxis] * _SAMPLE_SHARES
        return self._refined_edge_peak(field, flux, times, self._edge_trace(field, flux, times))

    def energy_j_mm(self, theta: ArrayLike) -> Result:
        """Heat held above ambient, in J per mm of edge; (...) of ``theta`` (..., n)."""
        stored = np.asarray(theta, float) * self._row(self.capacity_j_mmk)
        return np.asarray(stored.sum(axis=-1))[()]

    def losses_j_mm(
        self, theta: ArrayLike, flux: ArrayLike, duration_s: ArrayLike
    ) -> tuple[Result, Result]:
        """Heat lost in an interval through the faces' film and into the clamp, in J/mm.

        Exact in time, so that heat in = heat held more + both losses. Shape: (...) of ``theta``
        (..., n). Range: durations >= 0. Raises: ValueError.
        """
        duration = self._duration(duration_s)
        start, source = self._start(theta), self._source(flux)
        x = self._row(self.rates_per_s) * duration
        integral = self._from_modes(
            start * duration * _held_share(x) + source * duration**2 * _ramp_share(x)
        )
        film = (integral * self._row(self.film_w_mmk)).sum(axis=-1)
        clamp = integral[..., -1] * (
            self.clamp_w_mmk[..., np.newaxis] if self.clamp_w_mmk.ndim else self.clamp_w_mmk
        )
        return np.asarray(film)[()], np.asarray(clamp)[()]

    def heat_in_j_mm(self, flux: ArrayLike, duration_s: ArrayLike) -> Result:
        """Heat of a flux (..., n) over a time (...), in J per mm of edge."""
        require("duration_s", duration_s, low=0.0)
        power = (np.asarray(flux, float) * self.widths_mm).sum(axis=-1)
        return np.asarray(power * np.asarray(duration_s, float))[()]

    # In modes: theta = capacity^-1/2 modes phi, so phi = modes^T capacity^1/2 theta.

    def _row(self, per_cell: Result) -> Result:
        return per_cell[..., np.newaxis, :] if self.modes.ndim == 3 else per_cell

    def _stack_axis(self, array: Result) -> Result:
        """Room for the axis of moments in a stack's (m, ., n) arrays."""
        return array[:, np.newaxis] if self.modes.ndim == 3 else array

    def _start(self, theta: ArrayLike) -> Result:
        field = np.asarray(theta, float)
        return np.asarray((field * np.sqrt(self._row(self.capacity_j_mmk))) @ self.modes)

    def _source(self, flux: ArrayLike) -> Result:
        heat = np.asarray(flux, float) * self.widths_mm
        return np.asarray((heat / np.sqrt(self._row(self.capacity_j_mmk))) @ self.modes)

    def _from_modes(self, modal: Result) -> Result:
        field = modal @ np.swapaxes(self.modes, -1, -2)
        return np.asarray(field / np.sqrt(self._row(self.capacity_j_mmk)))

    def _duration(self, duration_s: ArrayLike) -> Result:
        require("duration_s", duration_s, low=0.0)
        duration = np.asarray(duration_s, float)
        return duration[..., np.newaxis] if duration.ndim else duration

    def _modal_trace(self, theta: ArrayLike, flux: ArrayLike, times_s: ArrayLike) -> Result:
        require("times_s", times_s, low=0.0)
        times = np.asarray(times_s, float)[..., np.newaxis]
        x = self._stack_axis(self._row(self.rates_per_s)) * times
        start = self._start(theta)[..., np.newaxis, :]
        source = self._source(flux)[..., np.newaxis, :]
        return _in_time(start, source, x, times)

    def _edge_trace(self, theta: ArrayLike, flux: ArrayLike, times_s: ArrayLike) -> Result:
        modal = self._modal_trace(theta, flux, times_s)
        root = np.sqrt(self.capacity_j_mmk)
        lead = self.edge_lead[..., np.newaxis]
        weights = (1.0 + lead) * self.modes[..., 0, :] / root[..., :1]
        weights = weights - lead * self.modes[..., 1, :] / root[..., 1:2]
        if self.modes.ndim == 3:
            return np.asarray((modal * weights[:, np.newaxis, np.newaxis, :]).sum(axis=-1))
        return np.asarray(modal @ weights)

    def _refined_edge_peak(
        self, theta: ArrayLike, flux: ArrayLike, times: Result, values: Result
    ) -> tuple[Result, Result]:
        """Highest of the edge near the highest of ``values`` (..., p) at ``times``, and when."""
        share = np.linspace(0.0, 1.0, 8)
        for _ in range(2):
            best = values.argmax(axis=-1)[..., np.newaxis]
            low = np.take_along_axis(times, np.maximum(best - 1, 0), axis=-1)
            middle = np.take_along_axis(times, best, axis=-1)
            high = np.take_along_axis(times, np.minimum(best + 1, times.shape[-1] - 1), axis=-1)
            # The highest so far stays among the moments: a search may not lose ground.
            times = np.concatenate(
                [low + (middle - low) * share, middle + (high - middle) * share[1:]], axis=-1
            )
            values = self._edge_trace(theta, flux, times)
        best = values.argmax(axis=-1)[..., np.newaxis]
        highest = np.take_along_axis(values, best, axis=-1)[..., 0]
        return highest[()], np.take_along_axis(times, best, axis=-1)[..., 0][()]


def _symmetric_matrix(conduction: Result, film: Result, clamp: Result) -> Result:
    """K of C θ' = -K θ + Q, (..., n, n), in W/(mm K)."""
    count = film.shape[-1]
    diagonal = film.copy()
    diagonal[..., :-1] += conduction
    diagonal[..., 1:] += conduction
    diagonal[..., -1] += clamp
    matrix = np.zeros((*film.shape[:-1], count, count))
    cell = np.arange(count)
    matrix[..., cell, cell] = diagonal
    matrix[..., cell[:-1], cell[1:]] = -conduction
    matrix[..., cell[1:], cell[:-1]] = -conduction
    return matrix


def _edge_lead(widths: Result, thickness: Result, at_face: Result, between: float) -> Result:
    """Rise from the first cell's middle to the edge, over that from the second to the first.

    Heat taken up evenly over the first cell flows inward as y/w of what crosses its inner face,
    so the first part is the integral of (y/w)/t(y) over the half cell next to the edge, and the
    second is between/t(face). Gauss's rule with three points; t is linear and not below 0.
    """
    half = widths[0] / 2.0
    slope = (thickness[..., 1] - thickness[..., 0]) / between
    at_edge = np.maximum(thickness[..., 0] - slope * half, 0.0)
    nodes, weights = np.polynomial.legendre.leggauss(3)
    y = half * (nodes + 1.0) / 2.0
    local = at_edge[..., np.newaxis] + (thickness[..., 0] - at_edge)[..., np.newaxis] * y / half
    integral = (weights * half / 2.0 * y / widths[0] / local).sum(axis=-1)
    return np.asarray(integral * at_face / between)


def _in_time(start: Result, source: Result, x: Result, time: Result) -> Result:
    """Modes after a time: start e^-x + source time (1 - e^-x)/x, with x = rate time."""
    if not source.any():  # a cooling section, half of all the work
        return np.asarray(start * np.exp(-x) + source)
    lost = -np.expm1(-x)
    held = np.divide(lost, x, out=np.ones_like(x), where=x > 0.0)
    return np.asarray(start * (1.0 - lost) + source * (time * held))


def _held_share(x: Result) -> Result:
    """(1 - e^-x)/x, 1 at 0."""
    safe = np.where(x > 0.0, x, 1.0)
    return np.where(x > 0.0, -np.expm1(-safe) / safe, 1.0)


def _ramp_share(x: Result) -> Result:
    """(x - 1 + e^-x)/x², 1/2 at 0; by its series where the difference loses digits."""
    series = 0.5 - x * (1 / 6 - x * (1 / 24 - x * (1 / 120 - x / 720)))
    safe = np.maximum(x, 1e-2)
    return np.where(x < 1e-2, series, (1.0 - _held_share(safe)) / safe)


@dataclass(frozen=True, eq=False)
class PassPulses:
    """When the wheel heats each station: m passes, s stations, all in s from the first start."""

    start_s: Result
    """(m, s): the leading end of the active width reaches the station."""
    end_s: Result
    """(m, s): its trailing end leaves it."""
    pass_start_s: Result
    """(m,)"""
    pass_end_s: Result
    """(m,): the wheel is clear and stands at the reversal."""
    finish_s: float
    """End of the pause after the last pass."""


def pass_pulses(
    station_mm: ArrayLike,
    edge_length_mm: float,
    wheel_width_mm: float,
    active_width_mm: ArrayLike,
    run_off_mm: float,
    feed_mm_s: ArrayLike,
    passes: int,
    *,
    pause_s: ArrayLike = 0.0,
    first_towards_tip: bool = True,
) -> PassPulses:
    r"""Intervals of heating at stations along the edge in a two-way schedule of passes.

    A pass starts and ends with the whole wheel ``run_off`` clear of the edge, so it is
    L + w + 2 r long. With s' the station's distance from the end where the pass enters,

    .. math:: \tau_{start} = (r + s')/v_f, \qquad \tau_{end} = (r + s' + w_a)/v_f

    from the start of the pass. At the far end two heatings follow with only
    (w - w_a + 2 r)/v_f and the pause between; at the middle L/v_f more.

    ==================  ============  =====  ==============================================
    argument            shape         unit   range
    ==================  ============  =====  ==============================================
    station_mm          (s,)          mm     0 (heel) to L (tip)
    edge_length_mm      scalar        mm     > 0
    wheel_width_mm      scalar        mm     > 0
    active_width_mm     () or (m,)    mm     > 0, at most the width: the leading part that heats
    run_off_mm          scalar        mm     >= 0
    feed_mm_s           () or (m,)    mm/s   > 0
    passes              scalar        -      >= 1
    pause_s             () or (m,)    s      >= 0, at the reversal after each pass
    ==================  ============  =====  ==============================================

    Raises: ValueError. Assumes: constant feed over the edge (the run-off takes the acceleration).
    Source: geometry of the stroke.

    >>> pulses = pass_pulses([0.0, 80.0], 80.0, 20.0, 10.0, 10.0, 50.0, 2)
    >>> pulses.start_s.tolist()  # by hand: 10/50, 90/50; a pass takes 120/50 = 2.4
    [[0.2, 1.8], [4.2, 2.6]]
    """
    stations = np.atleast_1d(np.asarray(station_mm, float))
    require("edge_length_mm", edge_length_mm, above=0.0)
    require("station_mm", stations, low=0.0, high=edge_length_mm)
    require("wheel_width_mm", wheel_width_mm, above=0.0)
    require("active_width_mm", active_width_mm, above=0.0, high=wheel_width_mm)
    require("run_off_mm", run_off_mm, low=0.0)
    require("feed_mm_s", feed_mm_s, above=0.0)
    require("passes", passes, low=1.0)
    require("pause_s", pause_s, low=0.0)
    feed = np.broadcast_to(np.asarray(feed_mm_s, float), (passes,))
    active = np.broadcast_to(np.asarray(active_width_mm, float), (passes,))
    pause = np.broadcast_to(np.asarray(pause_s, float), (passes,))

    travel = (edge_length_mm + wheel_width_mm + 2.0 * run_off_mm) / feed
    next_start = np.cumsum(travel + pause)
    pass_start = np.concatenate([[0.0], next_start[:-1]])
    towards_tip = (np.arange(passes) % 2 == 0) == first_towards_tip
    entered = np.where(towards_tip[:, np.newaxis], stations, edge_length_mm - stations)
    start = pass_start[:, np.newaxis] + (run_off_mm + entered) / feed[:, np.newaxis]
    return PassPulses(
        start_s=start,
        end_s=start + (active / feed)[:, np.newaxis],
        pass_start_s=pass_start,
        pass_end_s=pass_start + travel,
        finish_s=float(next_start[-1]),
    )


@dataclass(frozen=True, eq=False)
class PassHeat:
    """Rises through a schedule of m passes at s stations, in K above ambient."""

    edge_peak_k: Result
    """(m, s): highest at the edge from the start of the pass's heating to the next."""
    edge_peak_s: Result
    """(m, s): when, on the clock of the schedule."""
    before_k: Result
    """(m, s, n): section when the wheel arrives."""
    after_k: Result
    """(m, s, n): section when the wheel leaves."""
    end_k: Result
    """(s, n): section at ``finish_s``."""
    time_s: Result
    """(s, p): moments of the histories, from the first arrival of the wheel to ``finish_s``."""
    edge_k: Result
    """(s, p): rise at the edge."""
    hottest_k: Result
    """(s, p): highest rise anywhere in the section (mean through the thickness)."""
    heat_in_j_mm: Result
    """(m, s)"""
    film_loss_j_mm: Result
    """(m, s): from the start of the pass's heating to the next."""
    clamp_loss_j_mm: Result
    """(m, s)"""


def heat_of_passes(
    operator: FinOperator, flux: ArrayLike, pulses: PassPulses, theta: ArrayLike = 0.0
) -> PassHeat:
    r"""March a schedule of passes: heat, cool, heat, each station on its own clock.

    The section of a pass holds while the wheel heats it and until the wheel comes back; what a
    pass removes leaves with the heat that it held. ``theta`` is the rise when the wheel first
    arrives at a station.

    ==========  ================================  =======  =================================
    argument    shape                             unit     meaning
    ==========  ================================  =======  =================================
    operator    one section, or a stack of m               section of each pass
    flux        (n,) or (m, n)                    W/mm2    while the wheel heats the station
    pulses      m passes, s stations              s        when it does
    theta       scalar, (n,) or (s, n)            K        rise at the first arrival
    ==========  ================================  =======  =================================

    Raises: ValueError when a stack and the pulses differ in passes, or pulses overlap.
    Source: superposition of exact steps (module docstring).
    """
    passes, stations = pulses.start_s.shape
    cells = operator.widths_mm.size
    stacked = operator.modes.ndim == 3
    if stacked and operator.modes.shape[0] != passes:
        raise ValueError(f"{operator.modes.shape[0]} sections do not fit {passes} passes")
    fluxes = np.broadcast_to(np.asarray(flux, float), (passes, cells))
    until = np.concatenate([pulses.start_s[1:], np.full((1, stations), pulses.finish_s)])
    heating, cooling = pulses.end_s - pulses.start_s, until - pulses.end_s
    require("time between heatings", cooling, low=0.0)

    before = np.empty((passes, stations, cells))
    after = np.empty_like(before)
    rise = np.broadcast_to(np.asarray(theta, float), (stations, cells))
    for number in range(passes):
        section = operator.section(number) if stacked else operator
        before[number] = rise
        after[number] = section.advance(rise, fluxes[number], heating[number])
        rise = section.advance(after[number], np.zeros(cells), cooling[number])

    hot, cold = fluxes[:, np.newaxis, :], np.zeros((1, 1, cells))
    film_hot, clamp_hot = operator.losses_j_mm(before, hot, heating)
    film_cold, clamp_cold = operator.losses_j_mm(after, cold, cooling)
    hot_s = heating[..., np.newaxis] * _SAMPLE_SHARES
    cold_s = cooling[..., np.newaxis] * _SAMPLE_SHARES
    fields = np.concatenate(
        [operator.trace(before, hot, hot_s), operator.trace(after, cold, cold_s)], axis=2
    )
    at_edge = operator.edge(fields)
    hot_edge, cold_edge = np.split(at_edge, 2, axis=2)
    hot_peak, hot_when = operator._refined_edge_peak(before, hot, hot_s, hot_edge)
    cold_peak, cold_when = operator._refined_edge_peak(after, cold, cold_s, cold_edge)
    moments = np.concatenate(
        [pulses.start_s[..., np.newaxis] + hot_s, pulses.end_s[..., np.newaxis] + cold_s], axis=2
    )
    return PassHeat(
        edge_peak_k=np.maximum(hot_peak, cold_peak),
        edge_peak_s=np.where(
            hot_peak >= cold_peak, pulses.start_s + hot_when, pulses.end_s + cold_when
        ),
        before_k=before,
        after_k=after,
        end_k=np.asarray(rise),
        time_s=_by_station(moments),
        edge_k=_by_station(at_edge),
        hottest_k=_by_station(np.maximum(fields.max(axis=-1), at_edge)),
        heat_in_j_mm=operator.heat_in_j_mm(hot, heating),
        film_loss_j_mm=film_hot + film_cold,
        clamp_loss_j_mm=clamp_hot + clamp_cold,
    )


def _by_station(samples: Result) -> Result:
    """(m, s, p) -> (s, m p)."""
    return np.swapaxes(samples, 0, 1).reshape(samples.shape[1], -1)
