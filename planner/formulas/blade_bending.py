r"""How far the blade bends away from the wheel: a cantilever plate of varying thickness.

The blade is clamped along a line and sticks out of the clamp by the overhang. y runs from the
edge (0) to the clamp line (a), x along the edge from heel (0) to tip (L); the thickness t(y) is
the same all along the edge. Bending energy of the thin plate:

.. math::
    U = \tfrac12 \iint D\,[w_{xx}^2 + w_{yy}^2 + 2\nu w_{xx} w_{yy} + 2(1-\nu) w_{xy}^2]\,dx\,dy,
    \qquad D = \frac{E t^3}{12 (1 - \nu^2)}

with w = w_y = 0 at the clamp and the other three sides free. The deflection is sought as
:math:`w = \sum_i f_i(y)\,g_i(x)`, a few shapes f of the strip y, each with its exact course g
along the edge (the method of Kantorovich):

* f_1 is the deflection of a strip under the load itself, so that a load over the whole edge is
  exact; each further shape is the deflection under the load D f of the one before;
* with A = ∫D f fᵀ, C = ∫D f″f″ᵀ, E = ∫D f f″ᵀ, T = ∫D f′f′ᵀ the courses satisfy
  A g⁗ - B g″ + C g = p s(x), B = 2(1-ν)T - ν(E + Eᵀ), p = ∫f over the load; at a free end
  A g″ + νE g = 0 and A g‴ + νE g′ - 2(1-ν)T g′ = 0. The solutions are exponentials.

Restricting the shapes makes the plate stiffer, never softer: the compliance is a lower bound,
0.5 % low for a wheel's width, 2 % for a load of 2 mm over a thin web or an edge a fifth of the
overhang long, 4 % for one a tenth (tests hold it against a finite-element plate and beams).
Left out are shear, which adds about 0.8 (t/a)² to the compliance of an even plate, and the give of
the clamp: the true blade is the softer for both. The curvature of a bent blade,
also left out, stiffens it.

Sources: S. Timoshenko & S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, the
energy and the free-edge conditions (chapter 4, from memory); L. V. Kantorovich & V. I. Krylov,
Approximate Methods of Higher Analysis, 1958, chapter 4 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require
from planner.formulas.segment import Result

YOUNGS_MODULUS_STEEL_N_MM2 = 205_000.0
"""BS 5950-1:2000, 3.1.3 (from memory). Tool steels lie within 195 to 225 GPa (from memory)."""

POISSON_STEEL = 0.3
"""BS 5950-1:2000, 3.1.3 (from memory)."""

_CELLS = 160  # midpoint rule across the overhang: its error is below 2e-4 of the compliance
_SHAPES = 4

_Complex = NDArray[np.complex128]


def plate_compliance(
    thickness_mm: ArrayLike,
    y_mm: ArrayLike,
    overhang_mm: float,
    edge_length_mm: float,
    load_y_mm: tuple[ArrayLike, ArrayLike],
    load_width_mm: float,
    load_x_mm: ArrayLike,
    *,
    youngs_modulus_n_mm2: float = YOUNGS_MODULUS_STEEL_N_MM2,
    poisson: float = POISSON_STEEL,
) -> Result:
    r"""Mean deflection under the wheel per newton, normal to the blade, in mm/N.

    The force is spread evenly over ``load_y_mm`` (lo, hi) across the face and, along the edge,
    over that part of the wheel's width about ``load_x_mm`` which is on the blade: half of it when
    the wheel's middle stands at heel or tip.

    ====================  =====  =========================================================
    argument              unit   range and shape
    ====================  =====  =========================================================
    thickness_mm          mm     (..., n): > 0 and <= overhang; 0 is allowed at the edge only
    y_mm                  mm     (n,), from 0 rising to the overhang or beyond; t is linear between
    overhang_mm           mm     scalar > 0
    edge_length_mm        mm     scalar >= overhang / 10
    load_y_mm             mm     two of shape (...): 0 <= lo < hi <= overhang
    load_width_mm         mm     scalar > 0
    load_x_mm             mm     any shape S: 0 <= x <= edge length
    youngs_modulus_n_mm2  N/mm2  scalar > 0
    poisson               --     scalar, 0 <= ν < 0.5
    (returned)            mm/N   (...) + S
    ====================  =====  =========================================================

    Raises: ValueError outside the ranges. Source, limits and error: the module's docstring.

    >>> given = dict(youngs_modulus_n_mm2=200_000.0, poisson=0.0)
    >>> sheet = plate_compliance([1.0, 1.0], [0, 10], 10, 40, (0.0, 0.001), 80, 20, **given)
    >>> round(1e6 * float(sheet))  # by hand: a beam, 4 a^3 / (E L t^3) = 4000 / 8 000 000
    500
    """
    plate = _checked_plate(
        thickness_mm, y_mm, overhang_mm, edge_length_mm, load_y_mm, load_width_mm, load_x_mm
    )
    field, strip, scale = _bend(plate, youngs_modulus_n_mm2, poisson)
    mean = np.einsum("mi,msi->ms", strip.at_load, field.mean_under_load())
    return _shaped(mean * scale[:, None], plate)


def edge_deflection(
    force_n: float,
    thickness_mm: ArrayLike,
    y_mm: ArrayLike,
    overhang_mm: float,
    edge_length_mm: float,
    load_y_mm: tuple[ArrayLike, ArrayLike],
    load_width_mm: float,
    load_x_mm: ArrayLike,
    *,
    youngs_modulus_n_mm2: float = YOUNGS_MODULUS_STEEL_N_MM2,
    poisson: float = POISSON_STEEL,
) -> Result:
    r"""How far the edge itself (y = 0) moves away at the wheel's middle plane, in mm.

    Arguments, shapes and ranges of plate_compliance, and the normal force, >= 0 N; returns
    (...) + S. Raises: ValueError. Source, limits and error: the module's docstring.

    >>> given = dict(youngs_modulus_n_mm2=200_000.0, poisson=0.0)
    >>> moved = edge_deflection(3.0, [1.0, 1.0], [0, 10], 10, 40, (0.0, 10.0), 80, 20, **given)
    >>> round(1e6 * float(moved))  # by hand: a beam evenly loaded, 3 F a^3 / (2 E L t^3)
    562
    """
    require("force_n", force_n, low=0.0)
    plate = _checked_plate(
        thickness_mm, y_mm, overhang_mm, edge_length_mm, load_y_mm, load_width_mm, load_x_mm
    )
    field, strip, scale = _bend(plate, youngs_modulus_n_mm2, poisson)
    at_edge = np.einsum("mi,msi->ms", strip.at_edge, field.at_middle())
    return _shaped(force_n * at_edge * scale[:, None], plate)


def series_stiffness(*stiffness_n_mm: ArrayLike) -> Result:
    r"""Stiffness of springs one behind the other: machine, wheel and blade, in N/mm.

    .. math:: 1/k = 1/k_1 + 1/k_2 + \dots

    Range: each > 0, at least one. Shape: broadcast. Raises: ValueError.
    Source: equal force, deflections add (definition).

    >>> float(series_stiffness(2000.0, 500.0))  # by hand: 1 / (0.0005 + 0.002)
    400.0
    """
    if not stiffness_n_mm:
        raise ValueError("stiffness_n_mm: need at least one spring")
    compliance: Result = np.asarray(0.0)
    for stiffness in stiffness_n_mm:
        require("stiffness_n_mm", stiffness, above=0.0)
        compliance = compliance + 1.0 / np.asarray(stiffness, float)
    return np.asarray(1.0 / compliance)[()]


class _Plate(NamedTuple):
    """Checked input; m sections, lengths in overhangs except the first two."""

    overhang_mm: float
    thickness_mm: NDArray[np.float64]  # (m, cells), at the middles of the cells
    edge_length: float
    load_from: NDArray[np.float64]  # (m,)
    load_to: NDArray[np.float64]  # (m,)
    contact_from: NDArray[np.float64]  # (s,)
    contact_to: NDArray[np.float64]  # (s,)
    middle: NDArray[np.float64]  # (s,), the wheel's middle plane
    shape: tuple[int, ...]  # of the answer


def _checked_plate(
    thickness_mm: ArrayLike,
    y_mm: ArrayLike,
    overhang_mm: float,
    edge_length_mm: float,
    load_y_mm: tuple[ArrayLike, ArrayLike],
    load_width_mm: float,
    load_x_mm: ArrayLike,
) -> _Plate:
    thickness, y = np.asarray(thickness_mm, float), np.asarray(y_mm, float)
    load_from, load_to = (np.asarray(end, float) for end in load_y_mm)
    middle = np.asarray(load_x_mm, float)
    require("overhang_mm", overhang_mm, above=0.0)
    require("edge_length_mm", edge_length_mm, low=overhang_mm / 10.0)
    require("load_width_mm", load_width_mm, above=0.0)
    require("load_x_mm", load_x_mm, low=0.0, high=edge_length_mm)
    require("load_y_mm[1]", load_to, above=0.0, high=overhang_mm)
    require("load_y_mm[0]", load_from, low=0.0, high=np.nextafter(load_to, 0.0))
    if y.ndim != 1 or y.size < 2 or thickness.shape[-1:] != y.shape:
        raise ValueError(
            f"thickness_mm {thickness.shape} and y_mm {y.shape}: need (..., n) and (n,), n >= 2"
        )
    if y[0] != 0.0 or not np.all(np.diff(y) > 0.0) or not y[-1] >= overhang_mm:
        raise ValueError(
            f"y_mm from {y[0]:g} to {y[-1]:g} is outside [0, overhang_mm = {overhang_mm:g}]:"
            " it must rise from 0 to the overhang or beyond"
        )
    require("thickness_mm", thickness[..., y <= overhang_mm], low=0.0, high=overhang_mm)
    cells = (np.arange(_CELLS) + 0.5) * (overhang_mm / _CELLS)
    left = np.clip(np.searchsorted(y, cells, side="right") - 1, 0, y.size - 2)
    share = (cells - y[left]) / (y[left + 1] - y[left])
    at_cells = thickness[..., left] * (1.0 - share) + thickness[..., left + 1] * share
    require("thickness_mm, inside the overhang,", at_cells, above=0.0, high=overhang_mm)

    lead = np.broadcast_shapes(thickness.shape[:-1], load_from.shape, load_to.shape)
    flat = middle.ravel() / overhang_mm
    half, length = load_width_mm / 2.0 / overhang_mm, edge_length_mm / overhang_mm
    return _Plate(
        overhang_mm=overhang_mm,
        thickness_mm=np.broadcast_to(at_cells, (*lead, _CELLS)).reshape(-1, _CELLS),
        edge_length=length,
        load_from=np.broadcast_to(load_from, lead).ravel() / overhang_mm,
        load_to=np.broadcast_to(load_to, lead).ravel() / overhang_mm,
        contact_from=np.maximum(flat - half, 0.0),
        contact_to=np.minimum(flat + half, length),
        middle=flat,
        shape=(*lead, *middle.shape),
    )


def _shaped(values: NDArray[np.float64], plate: _Plate) -> Result:
    return np.asarray(values.reshape(plate.shape))[()]


def _bend(
    plate: _Plate, youngs_modulus_n_mm2: float, poisson: float
) -> tuple[_Courses, _Strip, NDArray[np.float64]]:
    """Solve for unit force; the last value, (m,), turns deflections into millimetres."""
    require("youngs_modulus_n_mm2", youngs_modulus_n_mm2, above=0.0)
    require("poisson", poisson, low=0.0, high=np.nextafter(0.5, 0.0))
    thickest = plate.thickness_mm.max(axis=1)
    strip = _strip_shapes(plate, (plate.thickness_mm / thickest[:, None]) ** 3)
    rigidity_n_mm = youngs_modulus_n_mm2 * thickest**3 / (12.0 * (1.0 - poisson**2))
    return _courses(plate, strip, poisson), strip, plate.overhang_mm**2 / rigidity_n_mm


class _Strip(NamedTuple):
    """Shapes of a strip across the overhang, with A = 1, and their integrals."""

    bending: NDArray[np.float64]  # C, (m, k, k)
    coupling: NDArray[np.float64]  # E, (m, k, k)
    twisting: NDArray[np.float64]  # T, (m, k, k)
    at_load: NDArray[np.float64]  # p, (m, k): mean over the load
    at_edge: NDArray[np.float64]  # (m, k)


def _strip_shapes(plate: _Plate, rigidity: NDArray[np.float64]) -> _Strip:
    """Build the shapes one from another; ``rigidity`` (m, cells) is relative to the thickest."""
    h = 1.0 / _CELLS
    middles = (np.arange(_CELLS) + 0.5) * h
    since_start = np.maximum(middles - plate.load_from[:, None], 0.0)
    since_end = np.maximum(middles - plate.load_to[:, None], 0.0)
    load_moment = (since_start**2 - since_end**2) / (2.0 * (plate.load_to - plate.load_from))[
        :, None
    ]
    shapes: list[NDArray[np.float64]] = []
    moment = load_moment
    for _ in range(_SHAPES):
        shape = _strip_deflection(moment / rigidity, h)
        for earlier in shapes:
            in_common = h * np.sum(rigidity * shape[0, :, :-1] * earlier[0, :, :-1], axis=1)
            shape = shape - in_common[:, None] * earlier
        size = np.sqrt(h * np.sum(rigidity * shape[0, :, :-1] ** 2, axis=1))
        shape = shape / size[:, None]
        shapes.append(shape)
        moment = _moment(rigidity * shape[0, :, :-1], h)
    deflection, slope, curvature = np.moveaxis(np.stack(shapes), 0, 2)
    weight = (rigidity * h)[:, None, :]
    f, f1, f2 = deflection[..., :-1], slope[..., :-1], curvature[..., :-1]
    return _Strip(
        bending=(f2 * weight) @ f2.swapaxes(1, 2),
        coupling=(f * weight) @ f2.swapaxes(1, 2),
        twisting=(f1 * weight) @ f1.swapaxes(1, 2),
        # The mean of f over the load is the work of the load's moment on the curvature of f.
        at_load=h * np.einsum("mic,mc->mi", f2, load_moment),
        at_edge=deflection[..., -1],
    )


def _moment(pressure: NDArray[np.float64], h: float) -> NDArray[np.float64]:
    """Bending moment at the cells of a strip free at the edge, (m, cells)."""
    shear = h * (np.cumsum(pressure, axis=1) - pressure / 2.0)
    return h * (np.cumsum(shear, axis=1) - shear / 2.0)


def _strip_deflection(curvature: NDArray[np.float64], h: float) -> NDArray[np.float64]:
    """Deflection, slope and curvature of a strip held at the clamp, (3, m, cells + 1).

    The values stand at the middles of the cells and, in the last place, at the edge.
    """
    slope = -_from_the_clamp(curvature, h)
    deflection = -_from_the_clamp(slope[:, :-1], h)
    return np.stack([deflection, slope, np.pad(curvature, ((0, 0), (0, 1)))])


def _from_the_clamp(values: NDArray[np.float64], h: float) -> NDArray[np.float64]:
    """Integral from each cell's middle to the clamp, and last from the edge to the clamp."""
    to_wall = h * np.cumsum(values[:, ::-1], axis=1)[:, ::-1]
    return np.concatenate([to_wall - h * values / 2.0, to_wall[:, :1]], axis=1)


@dataclass(frozen=True)
class _Courses:
    """g(x) for unit force at s stations: a step pair on an endless plate, and two end waves."""

    plate: _Plate
    rates: _Complex  # λ, (m, 1, 2k), positive real parts
    vectors: _Complex  # v, (m, k, 2k)
    wide: NDArray[np.float64]  # g of an even load everywhere, (m, k)
    step: _Complex  # amplitudes of a load's end, (m, 1, 2k)
    from_heel: _Complex  # amplitudes, (m, s, 2k)
    from_tip: _Complex  # amplitudes, (m, s, 2k)

    def mean_under_load(self) -> NDArray[np.float64]:
        """Mean over the contact, (m, s, k)."""
        start, end = self.plate.contact_from[:, None], self.plate.contact_to[:, None]
        width = end - start
        fading = -np.expm1(-self.rates * width) / (self.rates * width)
        waves = (
            2.0 * self.step / width
            + self.from_heel * np.exp(-self.rates * start)
            + self.from_tip * np.exp(-self.rates * (self.plate.edge_length - end))
        )
        return self._sum(fading * waves)

    def at_middle(self) -> NDArray[np.float64]:
        """In the wheel's middle plane, (m, s, k)."""
        start, end = self.plate.contact_from[:, None], self.plate.contact_to[:, None]
        x, tip = self.plate.middle[:, None], self.plate.edge_length
        steps = np.exp(-self.rates * (x - start)) + np.exp(-self.rates * (end - x))
        return self._sum(
            self.step / (end - start) * steps
            + self.from_heel * np.exp(-self.rates * x)
            + self.from_tip * np.exp(-self.rates * (tip - x))
        )

    def _sum(self, amplitudes: _Complex) -> NDArray[np.float64]:
        width = (self.plate.contact_to - self.plate.contact_from)[:, None]
        waves = (amplitudes @ self.vectors.swapaxes(1, 2)).real
        return waves + self.wide[:, None, :] / width


def _courses(plate: _Plate, strip: _Strip, poisson: float) -> _Courses:
    m, k = strip.at_load.shape
    bent = poisson * strip.coupling
    twist = 2.0 * (1.0 - poisson) * strip.twisting
    # g ~ v exp(±λx): μ = λ² from the companion form of μ² v - μ B v + C v = 0. A positive energy
    # allows no μ on the negative axis, so every wave fades.
    companion = np.zeros((m, 2 * k, 2 * k))
    companion[:, :k, k:] = np.eye(k)
    companion[:, k:, :k] = -strip.bending
    companion[:, k:, k:] = twist - bent - bent.swapaxes(1, 2)
    squares, vectors = np.linalg.eig(companion)
    rates = np.sqrt(squares.astype(complex))[:, None, :]
    v = vectors[:, :k].astype(complex)
    wide = np.asarray(np.linalg.solve(strip.bending, strip.at_load[..., None]), float)

    # The end of a load on an endless plate: half of `wide` either side, plus odd waves that keep
    # g and g″ continuous (g′ and g‴ are, being even).
    jump = np.concatenate([-wide / 2.0, np.zeros_like(wide)], axis=1)
    step = np.linalg.solve(np.concatenate([v, v * rates**2], axis=1), jump).swapaxes(1, 2)

    # Waves from both ends cancel moment and shear there; what is even about the middle of the
    # edge and what is odd do not mix.
    moment = v * rates**2 + bent @ v
    shear = (v * rates**2 + (bent - twist) @ v) * rates
    moment_0, shear_0, inside_0 = _load_at_end(plate, rates, step, at_heel=True)
    moment_1, shear_1, inside_1 = _load_at_end(plate, rates, step, at_heel=False)
    constant = (bent @ wide).swapaxes(1, 2)
    to_far_end = np.exp(-rates * plate.edge_length)

    def waves(sign: float) -> _Complex:
        moments = (moment_0 + sign * moment_1) @ moment.swapaxes(1, 2) + constant * (
            inside_0 + sign * inside_1
        )
        shears = (shear_0 - sign * shear_1) @ shear.swapaxes(1, 2)
        system = np.concatenate(
            [moment * (1.0 + sign * to_far_end), shear * (1.0 - sign * to_far_end)], axis=1
        )
        right = np.concatenate([-moments, shears], axis=2).swapaxes(1, 2)
        return np.asarray(np.linalg.solve(system, right).swapaxes(1, 2))

    even, odd = waves(1.0), waves(-1.0)
    return _Courses(
        plate=plate,
        rates=rates,
        vectors=v,
        wide=wide[..., 0],
        step=step,
        from_heel=(even + odd) / 2.0,
        from_tip=(even - odd) / 2.0,
    )


def _load_at_end(
    plate: _Plate, rates: _Complex, step: _Complex, *, at_heel: bool
) -> tuple[_Complex, _Complex, NDArray[np.float64]]:
    """Amplitudes, (m, s, 2k), of the endless plate's waves at one end: for moment and for shear.

    The third value, (s, 1), is the load itself where it reaches the end, which is looked at from
    inside the blade.
    """
    start, end = plate.contact_from[:, None], plate.contact_to[:, None]
    per_length = 1.0 / (end - start)
    if at_heel:
        far_start, far_end = start, end
        reaches = start <= 0.0
        sign_start, sign_end = np.where(reaches, 1.0, -1.0), -np.ones_like(end)
    else:
        far_start, far_end = plate.edge_length - start, plate.edge_length - end
        reaches = end >= plate.edge_length
        sign_start, sign_end = np.ones_like(start), np.where(reaches, -1.0, 1.0)
    wave_start = step * per_length * np.exp(-rates * far_start)
    wave_end = step * per_length * np.exp(-rates * far_end)
    return (
        sign_start * wave_start - sign_end * wave_end,
        wave_end - wave_start,
        reaches * per_length,
    )
