r"""Contact of a wheel that lies across the edge: the relations of surface grinding, and scallops.

Symbols: a depth of cut, d_e equivalent diameter (the wheel's own on a straight edge), v_w feed,
v_s surface speed, r radius of the form, R radius of the arc wanted, s spacing of the lines; of an
arc that bulges ρ is the radius, and δ the angle between two flats that touch it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result


def contact_length(depth_of_cut_mm: ArrayLike, diameter_mm: ArrayLike) -> Result:
    r"""Geometric length of contact.

    .. math:: l_c = \sqrt{a\,d_e}

    Range: a >= 0, d_e > 0. The real, elastic contact is longer, often one and a half to three
    times. Shape: broadcast. Raises: ValueError. Source: Malkin & Guo, Grinding Technology; Rowe,
    Principles of Modern Grinding Technology (both from memory).

    >>> float(contact_length(0.02, 200.0))  # by hand: sqrt(4)
    2.0
    """
    require("depth_of_cut_mm", depth_of_cut_mm, low=0.0)
    require("diameter_mm", diameter_mm, above=0.0)
    product = np.asarray(depth_of_cut_mm, float) * np.asarray(diameter_mm, float)
    return np.asarray(np.sqrt(product))[()]


def equivalent_chip_thickness_um(
    depth_of_cut_mm: ArrayLike, feed_mm_s: ArrayLike, surface_speed_m_s: ArrayLike
) -> Result:
    r"""Thickness of the ribbon that all chips together would be, in um.

    .. math:: h_{eq} = a\,v_w / v_s

    Range: a >= 0, v_w >= 0, v_s > 0. Shape: broadcast. Raises: ValueError.
    Source: Malkin & Guo, Grinding Technology (from memory).

    >>> round(float(equivalent_chip_thickness_um(0.02, 200.0, 30.0)), 4)  # by hand: 4 / 30
    0.1333
    """
    require("depth_of_cut_mm", depth_of_cut_mm, low=0.0)
    require("feed_mm_s", feed_mm_s, low=0.0)
    require("surface_speed_m_s", surface_speed_m_s, above=0.0)
    removal = np.asarray(depth_of_cut_mm, float) * np.asarray(feed_mm_s, float)
    return np.asarray(removal / np.asarray(surface_speed_m_s, float))[()]


def speed_ratio(surface_speed_m_s: ArrayLike, feed_mm_s: ArrayLike) -> Result:
    r"""Surface speed over feed.

    .. math:: q = v_s / v_w

    Range: v_s > 0, v_w > 0. Shape: broadcast. Raises: ValueError.
    Source: definition; Malkin & Guo, Grinding Technology (from memory).

    >>> float(speed_ratio(30.0, 200.0))  # by hand: 30 000 / 200
    150.0
    """
    require("surface_speed_m_s", surface_speed_m_s, above=0.0)
    require("feed_mm_s", feed_mm_s, above=0.0)
    speed = np.asarray(surface_speed_m_s, float)
    return np.asarray(1000.0 * speed / np.asarray(feed_mm_s, float))[()]


def scallop_height(spacing_mm: ArrayLike, form_mm: ArrayLike, arc_mm: ArrayLike) -> Result:
    r"""Height of the ridge between two lines of a round form that generate a larger hollow arc.

    The two circles touch the arc from within, with their centres R - r from its centre, an angle
    φ = s/R apart; they cross on the line between, so much inside the arc.

    .. math::
        h = R - (R - r)\cos\tfrac{\varphi}{2} - \sqrt{r^2 - (R - r)^2\sin^2\tfrac{\varphi}{2}}
        \approx \frac{s^2}{8}\left(\frac1r - \frac1R\right)

    Range: 0 < r < R, 0 <= s, and the two circles must cross: (R - r) sin(φ/2) <= r.
    Shape: broadcast. Raises: ValueError. Source: two circles and the line of their centres; the
    short form is the scallop height of ball-end milling with the surface's curvature taken off
    (common in machining texts, from memory).

    >>> round(float(scallop_height(1.0, 10.0, 1e9)), 6)  # flat: by hand 10 - sqrt(100 - 1/4)
    0.012508
    """
    require("form_mm", form_mm, above=0.0)
    require("spacing_mm", spacing_mm, low=0.0)
    spacing, form, arc = (np.asarray(v, float) for v in (spacing_mm, form_mm, arc_mm))
    require("arc_mm", arc - form, above=0.0)
    half = spacing / (2.0 * arc)
    across = (arc - form) * np.sin(half)
    require("spacing_mm", across / form, low=0.0, high=1.0)
    # R - (R - r) cos - sqrt(r^2 - x^2), in a form that keeps its digits for a short spacing.
    lifted = 2.0 * (arc - form) * np.sin(half / 2.0) ** 2
    sagged = across**2 / (form + np.sqrt(form**2 - across**2))
    return np.asarray(lifted + sagged)[()]


def spacing_for_scallop(scallop_mm: float, form_mm: float, arc_mm: float) -> float:
    r"""Widest spacing of the lines whose ridges are no higher: the inverse of ``scallop_height``.

    .. math:: s = R\varphi, \quad
        \cos\tfrac{\varphi}{2} = \frac{(R-h)^2 + (R-r)^2 - r^2}{2 (R-h)(R-r)}

    Range: 0 < r < R, 0 < h < r. Shape: scalars. Raises: ValueError.
    Source: cosine rule in the triangle of the two centres and the crossing.

    >>> round(spacing_for_scallop(scallop_height(1.0, 10.0, 60.0), 10.0, 60.0), 9)
    1.0
    """
    require("form_mm", form_mm, above=0.0)
    require("arc_mm", arc_mm, above=form_mm)
    require("scallop_mm", scallop_mm, above=0.0, high=float(np.nextafter(form_mm, 0.0)))
    # 1 - cos from the difference of squares, so that a low scallop keeps its digits.
    low, off = arc_mm - scallop_mm, arc_mm - form_mm
    one_less = (form_mm**2 - (low - off) ** 2) / (2.0 * low * off)
    half = 2.0 * float(np.arcsin(np.sqrt(min(one_less / 2.0, 1.0))))
    return 2.0 * arc_mm * half


def outer_scallop_height(spacing_mm: ArrayLike, wheel_mm: ArrayLike, arc_mm: ArrayLike) -> Result:
    r"""Height of the ridge between two lines of a round wheel that generate an arc from outside.

    The two circles touch the arc from outside, with their centres r + ρ from its centre, an angle
    φ = s/ρ apart; on the line between, the steel that both leave ends so much outside the arc.

    .. math::
        h = (\rho + r)\cos\tfrac{\varphi}{2}
            - \sqrt{r^2 - (\rho + r)^2\sin^2\tfrac{\varphi}{2}} - \rho
        \approx \frac{s^2}{8}\left(\frac1r + \frac1\rho\right)

    Range: r > 0, ρ > 0, 0 <= s, and the two circles must cross: (ρ + r) sin(φ/2) <= r.
    Shape: broadcast. Raises: ValueError. Source: two circles and the line of their centres; the
    short form is the scallop height of ball-end milling with the surface's curvature added
    (common in machining texts, from memory).

    >>> round(float(outer_scallop_height(1.0, 10.0, 1e9)), 6)  # flat: by hand 10 - sqrt(100 - 1/4)
    0.012508
    """
    require("wheel_mm", wheel_mm, above=0.0)
    require("arc_mm", arc_mm, above=0.0)
    require("spacing_mm", spacing_mm, low=0.0)
    spacing, wheel, arc = (np.asarray(v, float) for v in (spacing_mm, wheel_mm, arc_mm))
    half = spacing / (2.0 * arc)
    across = (arc + wheel) * np.sin(half)
    require("spacing_mm", across / wheel, low=0.0, high=1.0)
    # r - sqrt(r^2 - x^2) less (ρ + r)(1 - cos), each in a form that keeps its digits.
    lowered = 2.0 * (arc + wheel) * np.sin(half / 2.0) ** 2
    sagged = across**2 / (wheel + np.sqrt(wheel**2 - across**2))
    return np.asarray(sagged - lowered)[()]


def outer_spacing_for_scallop(scallop_mm: float, wheel_mm: float, arc_mm: float) -> float:
    r"""Widest spacing of lines from outside whose ridges are no higher.

    The inverse of ``outer_scallop_height``.

    .. math:: s = \rho\varphi, \quad
        \cos\tfrac{\varphi}{2} = \frac{(\rho+h)^2 + (\rho+r)^2 - r^2}{2 (\rho+h)(\rho+r)}

    Range: r > 0, ρ > 0, 0 < h, up to where the two circles no longer cross:
    (ρ + h)^2 <= (ρ + r)^2 - r^2. Shape: scalars. Raises: ValueError.
    Source: cosine rule in the triangle of the arc's centre, a wheel's centre and the crossing.

    >>> round(outer_spacing_for_scallop(outer_scallop_height(1.0, 10.0, 60.0), 10.0, 60.0), 9)
    1.0
    """
    require("wheel_mm", wheel_mm, above=0.0)
    require("arc_mm", arc_mm, above=0.0)
    # Where the two circles only touch each other, the ridge is as high as it can be.
    most = wheel_mm * wheel_mm / (np.sqrt(arc_mm * (arc_mm + 2.0 * wheel_mm)) + arc_mm + wheel_mm)
    require("scallop_mm", scallop_mm, above=0.0, high=float(wheel_mm - most))
    high, off = arc_mm + scallop_mm, arc_mm + wheel_mm
    # 1 - cos from the difference of squares, so that a low scallop keeps its digits.
    one_less = (wheel_mm**2 - (off - high) ** 2) / (2.0 * high * off)
    half = 2.0 * float(np.arcsin(np.sqrt(one_less / 2.0)))
    return 2.0 * arc_mm * half


def facet_ridge_height(turn_rad: ArrayLike, arc_mm: ArrayLike) -> Result:
    r"""Height of the ridge between two flats that touch an arc from outside, over the arc.

    .. math:: h = \rho \left(\frac{1}{\cos(\delta/2)} - 1\right)

    Range: 0 <= δ < π, ρ > 0. Shape: broadcast. Raises: ValueError.
    Source: two tangents of a circle meet at ρ / cos(δ/2) from its centre (Euclid, Elements III.17).

    >>> round(float(facet_ridge_height(2.0 * np.arccos(0.8), 4.0)), 9)  # by hand: 4 / 0.8 - 4
    1.0
    """
    require("turn_rad", turn_rad, low=0.0, high=float(np.nextafter(np.pi, 0.0)))
    require("arc_mm", arc_mm, above=0.0)
    half = np.asarray(turn_rad, float) / 2.0
    lowered = 2.0 * np.sin(half / 2.0) ** 2
    return np.asarray(np.asarray(arc_mm, float) * lowered / np.cos(half))[()]


def facet_turn_rad(ridge_mm: ArrayLike, arc_mm: ArrayLike) -> Result:
    r"""Widest angle between two flats whose ridge is no higher.

    The inverse of ``facet_ridge_height``.

    .. math:: \delta = 2 \arctan\frac{\sqrt{h (2\rho + h)}}{\rho}

    Range: h >= 0, ρ > 0. Shape: broadcast. Raises: ValueError.
    Source: right triangle of the arc's centre, a place of contact and the ridge.

    >>> round(float(np.cos(facet_turn_rad(1.0, 4.0) / 2.0)), 9)  # by hand: 4 / 5
    0.8
    """
    require("ridge_mm", ridge_mm, low=0.0)
    require("arc_mm", arc_mm, above=0.0)
    ridge, arc = np.asarray(ridge_mm, float), np.asarray(arc_mm, float)
    return np.asarray(2.0 * np.arctan2(np.sqrt(ridge * (2.0 * arc + ridge)), arc))[()]
