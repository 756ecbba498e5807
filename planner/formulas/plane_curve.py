r"""A curve in a plane by the length along it: a chain of arcs, or a cubic spline through points.

Symbols: s length along the curve, x and y in the plane, ψ heading from x toward y, κ = dψ/ds
curvature. Every function gives the four of them at each length asked for.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.formulas.ranges import require

Result = NDArray[np.float64]

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(8)
_PARTS = 8
"""Each piece of a spline is measured in so many parts by eight points of Gauss each."""
_NEWTON = 30


class OnCurve(NamedTuple):
    """Places on a curve, each of the shape of the lengths asked for."""

    x_mm: Result
    y_mm: Result
    heading_rad: Result
    curvature_per_mm: Result


def along_arcs(
    s_mm: ArrayLike, lengths_mm: ArrayLike, curvatures_per_mm: ArrayLike, heading_rad: float
) -> OnCurve:
    r"""Places along arcs that follow one another without a corner, from (0, 0).

    .. math:: x = x_0 + \frac{\sin(\psi_0 + \kappa s) - \sin\psi_0}{\kappa}, \quad
              y = y_0 - \frac{\cos(\psi_0 + \kappa s) - \cos\psi_0}{\kappa}

    Before the first arc and after the last the curve goes on along its tangent. Range: lengths
    above 0, finite curvatures. Shape: s any, lengths and curvatures (n,). Raises: ValueError.
    Source: integral of (cos ψ, sin ψ) with ψ linear in s.

    >>> turned = along_arcs([math.pi / 2, math.pi / 2 + 3.0], [math.pi / 2], [1.0], 0.0)
    >>> turned.x_mm.round(9).tolist(), turned.y_mm.round(9).tolist()  # by hand: a quarter turn
    ([1.0, 1.0], [1.0, 4.0])
    """
    s = np.asarray(s_mm, float)
    lengths, bends = np.asarray(lengths_mm, float), np.asarray(curvatures_per_mm, float)
    require("lengths_mm", lengths, above=0.0)
    require("curvatures_per_mm", bends, low=-1e6, high=1e6)
    starts = np.concatenate([[0.0], np.cumsum(lengths)])
    headings = heading_rad + np.concatenate([[0.0], np.cumsum(lengths * bends)])
    ways = _arc(lengths, bends, headings[:-1])
    xs, ys = (np.concatenate([[0.0], np.cumsum(way)]) for way in ways)
    piece = np.searchsorted(starts, s, side="right") - 1
    inside = (piece >= 0) & (s <= starts[-1])
    piece = np.clip(piece, 0, len(lengths) - 1)
    after = s > starts[-1]
    begin = np.where(after, len(lengths), piece)
    bend = np.where(inside, bends[piece], 0.0)
    run = s - starts[begin]
    dx, dy = _arc(run, bend, headings[begin])
    return OnCurve(xs[begin] + dx, ys[begin] + dy, headings[begin] + bend * run, bend)


def _arc(run: Result, bend: Result, heading: Result) -> tuple[Result, Result]:
    """Way along an arc: the chord, at the heading of its middle."""
    half = bend * run / 2
    chord = run * np.sinc(half / math.pi)
    return chord * np.cos(heading + half), chord * np.sin(heading + half)


def spline_second_derivatives(x_mm: ArrayLike, y_mm: ArrayLike) -> Result:
    r"""Second derivatives, at its points, of the cubic spline y(x) through them.

    .. math:: \frac{h_{i-1}}{6} M_{i-1} + \frac{h_{i-1} + h_i}{3} M_i + \frac{h_i}{6} M_{i+1}
              = \frac{y_{i+1} - y_i}{h_i} - \frac{y_i - y_{i-1}}{h_{i-1}}

    with the third derivative continuous at the second point and the last but one ("not a knot");
    three points give their parabola. Range: three points or more, x rising. Shape: (n,).
    Raises: ValueError. Source: C. de Boor, A Practical Guide to Splines, chapter IV, from memory.

    >>> spline_second_derivatives([0, 1, 2, 4], [0, 1, 8, 64]).round(9).tolist()  # y = x cubed
    [0.0, 6.0, 12.0, 24.0]
    """
    x, y = np.asarray(x_mm, float), np.asarray(y_mm, float)
    require("steps of x_mm", np.diff(x), above=0.0)
    if len(x) < 3:
        raise ValueError("a spline needs three points or more")
    h, slope = np.diff(x), np.diff(y) / np.diff(x)
    n = len(x)
    if n == 3:
        return np.full(3, 2 * (slope[1] - slope[0]) / (h[0] + h[1]))
    matrix, right = np.zeros((n, n)), np.zeros(n)
    inner = np.arange(1, n - 1)
    matrix[inner, inner - 1], matrix[inner, inner + 1] = h[:-1] / 6, h[1:] / 6
    matrix[inner, inner] = (h[:-1] + h[1:]) / 3
    right[inner] = np.diff(slope)
    matrix[0, :3] = h[1], -(h[0] + h[1]), h[0]
    matrix[-1, -3:] = h[-1], -(h[-2] + h[-1]), h[-2]
    return np.asarray(np.linalg.solve(matrix, right))


def spline_length(x_mm: ArrayLike, y_mm: ArrayLike) -> float:
    """Length of the spline through the points, mm; see :func:`along_spline`."""
    x, y = np.asarray(x_mm, float), np.asarray(y_mm, float)
    return float(_lengths(x, y, spline_second_derivatives(x, y))[1][-1])


def along_spline(s_mm: ArrayLike, x_mm: ArrayLike, y_mm: ArrayLike) -> OnCurve:
    r"""Places along the cubic spline y(x) through points, by the length from the first.

    .. math:: s = \int \sqrt{1 + y'^2}\, dx, \quad \kappa = y'' / (1 + y'^2)^{3/2}

    The length by Gauss's rule, the place by Newton's. Before the first point and after the last
    the curve goes on along its tangent. Range, raises: as :func:`spline_second_derivatives`.
    Shape: s any, x and y (n,). Source: arc length and curvature of a graph, any calculus book.

    >>> flat = along_spline([1.0, 5.0], [0, 1, 2, 3], [0, 0, 0, 0])  # by hand: a straight line
    >>> flat.x_mm.tolist(), flat.curvature_per_mm.tolist()
    ([1.0, 5.0], [0.0, 0.0])
    """
    s = np.asarray(s_mm, float)
    x, y = np.asarray(x_mm, float), np.asarray(y_mm, float)
    moments = spline_second_derivatives(x, y)
    nodes, lengths = _lengths(x, y, moments)
    at = np.interp(s, lengths, nodes)
    within = np.clip(s, 0.0, lengths[-1])
    begin = np.clip(np.searchsorted(lengths, within, side="right") - 1, 0, len(nodes) - 2)
    for _ in range(_NEWTON):
        half = (at - nodes[begin]) / 2
        places = nodes[begin][..., None] + half[..., None] * (1 + _GAUSS_X)
        speed = np.hypot(1.0, _graph(places, x, y, moments)[1])
        off = lengths[begin] + half * (speed @ _GAUSS_W) - within
        step = off / np.hypot(1.0, _graph(at, x, y, moments)[1])
        at = np.clip(at - step, x[0], x[-1])
        if np.all(np.abs(step) < 1e-13 * lengths[-1]):
            break
    value, slope, bend = _graph(at, x, y, moments)
    heading, beyond = np.arctan(slope), s - within
    return OnCurve(
        at + beyond * np.cos(heading),
        value + beyond * np.sin(heading),
        heading,
        np.where(beyond == 0.0, bend / np.hypot(1.0, slope) ** 3, 0.0),
    )


def _lengths(x: Result, y: Result, moments: Result) -> tuple[Result, Result]:
    """Nodes along x, and the length from the first point to each."""
    shares = np.arange(_PARTS) / _PARTS
    nodes = np.append((x[:-1, None] + np.diff(x)[:, None] * shares).ravel(), x[-1])
    half = np.diff(nodes) / 2
    places = nodes[:-1, None] + half[:, None] * (1 + _GAUSS_X)
    parts = half * (np.hypot(1.0, _graph(places, x, y, moments)[1]) @ _GAUSS_W)
    return nodes, np.concatenate([[0.0], np.cumsum(parts)])


def _graph(at: Result, x: Result, y: Result, moments: Result) -> tuple[Result, Result, Result]:
    """Value, slope and second derivative of the spline."""
    i = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    h, left, right = x[i + 1] - x[i], x[i + 1] - at, at - x[i]
    m, n = moments[i], moments[i + 1]
    a, b = y[i] / h - m * h / 6, y[i + 1] / h - n * h / 6
    value = (m * left**3 + n * right**3) / (6 * h) + a * left + b * right
    slope = (n * right**2 - m * left**2) / (2 * h) + b - a
    return value, slope, (m * left + n * right) / h
