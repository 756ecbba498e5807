r"""How far the blade bends away from the wheel: the proof's own thin plate.

The blade is clamped along a line and sticks out by the overhang a; y runs from the edge to that
line, x along the edge. The bending energy of a thin plate of thickness t(y), steel of modulus E
and Poisson's ratio nu, is

.. math:: U = \tfrac12 \iint D [w_{xx}^2 + w_{yy}^2 + 2 \nu w_{xx} w_{yy}
          + 2 (1 - \nu) w_{xy}^2]\,dx\,dy, \qquad D = E t^3 / (12 (1 - \nu^2))

The deflection is sought as a sum of products of polynomials, each with a double zero at the clamp
(the method of Ritz): a lower bound of the compliance. Away from the load the plate is cut off four
overhangs on, where it no longer feels it. Left out are shear and the give of the clamp.

Source: S. Timoshenko & S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, chapters
4 and 10 (from memory). E = 205 kN/mm2: BS 5950-1:2000, 3.1.3 (from memory); nu = 0.3.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.polynomial import Legendre
from numpy.polynomial.legendre import leggauss

from planner.proof.steel import Floats

YOUNGS_MODULUS_N_MM2 = 205_000.0
POISSON = 0.3
_ACROSS = 8
_ALONG = 20
_PANELS = 40
_SHORT = 8.0
"""An edge of up to so many overhangs is taken as a whole."""
_REACH = 4.0
"""Overhangs beyond the load after which the plate no longer feels it."""


class _Shapes(NamedTuple):
    """Polynomials and their first two derivatives at some points, each shape (shapes, n)."""

    values: Floats
    slopes: Floats
    bends: Floats
    weight: Floats
    """Of the integral over the points, shape (n,)."""
    mean_under_load: Floats
    """Mean of each polynomial over each loaded part, shape (loads, shapes)."""


def strip_points(overhang_mm: float) -> tuple[Floats, Floats]:
    """(y, weight) at which the thickness is asked for, from edge to clamp, each shape (n,)."""
    nodes, weights = leggauss(4)
    panel = overhang_mm / _PANELS
    starts = np.arange(_PANELS) * panel
    y = (starts[:, None] + panel * (nodes + 1.0) / 2.0).ravel()
    return y, np.tile(weights * panel / 2.0, _PANELS)


def plate_compliances_mm_n(
    thickness_mm: Floats,
    overhang_mm: float,
    edge_length_mm: float,
    load_y_mm: tuple[float, float],
    loads_x_mm: list[tuple[float, float]],
) -> Floats:
    """Mean deflection under an even load of 1 N, normal to the plate, mm; one for each load.

    ``thickness_mm``: at the points of ``strip_points``, shape (n,). ``load_y_mm`` and each of
    ``loads_x_mm`` bound the loaded part: 0 <= low < high, inside the plate. Shape: (loads,).
    """
    rigidity = YOUNGS_MODULUS_N_MM2 * thickness_mm**3 / (12.0 * (1.0 - POISSON**2))
    y, weight = strip_points(overhang_mm)
    from_clamp = Legendre([0.5, -0.5], domain=[0.0, overhang_mm])
    double_zero = [
        from_clamp**2 * Legendre.basis(n, domain=[0.0, overhang_mm]) for n in range(_ACROSS)
    ]
    across = _shapes(double_zero, y, weight * rigidity, [load_y_mm])
    if edge_length_mm <= _SHORT * overhang_mm:
        # One stretch of plate serves every load.
        return _compliances(across, _along(0.0, edge_length_mm, loads_x_mm))
    reach = _REACH * overhang_mm
    found = []
    for low, high in loads_x_mm:
        stretch = max(0.0, low - reach), min(edge_length_mm, high + reach)
        found.append(_compliances(across, _along(*stretch, [(low, high)]))[0])
    return np.array(found)


def _along(low_mm: float, high_mm: float, loads_x_mm: list[tuple[float, float]]) -> _Shapes:
    nodes, weights = leggauss(_ALONG)
    half = (high_mm - low_mm) / 2.0
    polynomials = [Legendre.basis(n, domain=[low_mm, high_mm]) for n in range(_ALONG)]
    return _shapes(polynomials, low_mm + half * (nodes + 1.0), weights * half, loads_x_mm)


def _shapes(
    polynomials: list[Legendre],
    points: Floats,
    weight: Floats,
    loads: list[tuple[float, float]],
) -> _Shapes:
    return _Shapes(
        values=np.array([shape(points) for shape in polynomials]),
        slopes=np.array([shape.deriv(1)(points) for shape in polynomials]),
        bends=np.array([shape.deriv(2)(points) for shape in polynomials]),
        weight=weight,
        mean_under_load=np.array([[_mean(s, *load) for s in polynomials] for load in loads]),
    )


def _compliances(across: _Shapes, along: _Shapes) -> Floats:
    """f K^-1 f for each load along, with K the bending energy's matrix and f the load's shares."""
    values, slopes, bends = (s * across.weight for s in across[:3])
    course, course_slope, course_bend = (s * along.weight for s in along[:3])
    mixed = np.kron(values @ across.bends.T, course_bend @ along.values.T)
    matrix = (
        np.kron(values @ across.values.T, course_bend @ along.bends.T)
        + np.kron(bends @ across.bends.T, course @ along.values.T)
        + POISSON * (mixed + mixed.T)
        + 2.0 * (1.0 - POISSON) * np.kron(slopes @ across.slopes.T, course_slope @ along.slopes.T)
    )
    # Scaled to a unit diagonal, the equations keep their digits.
    scale = 1.0 / np.sqrt(np.diag(matrix))
    loads = np.kron(across.mean_under_load, along.mean_under_load) * scale
    solved = np.linalg.solve(matrix * np.outer(scale, scale), loads.T)
    found: Floats = np.einsum("li,il->l", loads, solved)
    return found


def _mean(shape: Legendre, low: float, high: float) -> float:
    whole = shape.integ()
    return float((whole(high) - whole(low)) / (high - low))
