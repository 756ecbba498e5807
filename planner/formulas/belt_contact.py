r"""The rubber of a contact wheel: how it gives and how it flattens under the grinding force.

Symbols: E Young's modulus of the rubber, E* = E / (1 - ν²) with ν = 1/2, b thickness of the rubber
on its rigid hub, R outer radius (belt included), c chord of the relief and a = c/2, F' normal
force per millimetre of contact along the wheel's axis.

The rubber is taken as linear, incompressible and bonded to the hub, the face as free of friction,
the contact as long against b (plane strain) and small against R. A layer of finite thickness
moves under a pressure p as

.. math::
    u(x) = \frac{2}{\pi E^*} \int p(s)\,\left[C_0 - \ln\frac{|x-s|}{b}
           + C_2 \frac{(x-s)^2}{b^2} - \dots\right] ds

C_0 and C_2 are integrals of the layer's transform (given below). Cut off after C_2 the series is
good while the chord is no wider than the rubber is thick, the range that is enforced. Beyond it
an incompressible layer cannot flow aside and becomes many times stiffer: measure such a wheel.

These are estimates, good to about half or twice: hardness gives E within 30 %, running rubber is
1.3 to 3 times as stiff as at rest (from memory), the belt's own stiffness and the wheel's growth
at speed are left out. A measured stiffness is always better.

Sources: K. L. Johnson, Contact Mechanics, 1985, chapter 4 (line contact) and 5.8 (layers), from
memory; the transform is the standard one for a bonded layer (from memory, its limits checked).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.formulas.ranges import require
from planner.formulas.segment import Result

# With K(s) = (sinh 2s - 2s) / (cosh 2s + 2s² + 1), the transform of a bonded incompressible layer:
_C0 = -0.97644  # ∫ [K(s) - 1 + exp(-s)] / s ds, s from 0 to infinity
_C2 = 1.02360  # ½ ∫ s [1 - K(s)] ds
_PLANE_STRAIN = 4.0 / 3.0  # E*/E at ν = 1/2


def rubber_modulus_gent_1958(shore_a: ArrayLike) -> Result:
    r"""Young's modulus of rubber from its hardness, in N/mm2.

    .. math:: E = \frac{0.0981\,(56 + 7.66 S)}{0.137505\,(254 - 2.54 S)}

    Range: Shore A hardness 20 <= S <= 90. Shape: broadcast. Raises: ValueError.
    Source: A. N. Gent, On the relation between indentation hardness and Young's modulus, Rubber
    Chem. Technol. 31 (1958) 896 (from memory). Within 30 % from 30 to 70; above 80 the relation
    rises steeply and one point of hardness is 10 %.

    >>> round(float(rubber_modulus_gent_1958(50)), 2)  # by hand: 43.07 / 17.46
    2.47
    """
    require("shore_a", shore_a, low=20.0, high=90.0)
    hardness = np.asarray(shore_a, float)
    return np.asarray(0.0981 * (56.0 + 7.66 * hardness) / (0.137505 * (254.0 - 2.54 * hardness)))[
        ()
    ]


def flat_half_width(
    force_per_width_n_mm: ArrayLike,
    wheel_radius_mm: ArrayLike,
    rubber_modulus_n_mm2: ArrayLike,
    rubber_thickness_mm: ArrayLike,
) -> Result:
    r"""Half the length over which the wheel lies flat on an unground face, in mm.

    .. math:: a^2 \left(1 + C_2 \frac{a^2}{b^2}\right) = \frac{4 F' R}{\pi E^*}

    Range: F' >= 0, R > 0, E > 0, b > 0, and the answer a <= b/2 and <= R/3. Shape: broadcast.
    Raises: ValueError. Source: Hertz's line contact against a rigid flat (Johnson 4.3) with the
    first term of the layer; within 1 % of the layer's full solution.

    >>> a = flat_half_width(np.pi, 100.0, 0.75, 1e6)  # by hand: thick rubber, sqrt(4 * 100 / 1)
    >>> round(float(a), 6)
    20.0
    """
    require("force_per_width_n_mm", force_per_width_n_mm, low=0.0)
    require("wheel_radius_mm", wheel_radius_mm, above=0.0)
    require("rubber_modulus_n_mm2", rubber_modulus_n_mm2, above=0.0)
    require("rubber_thickness_mm", rubber_thickness_mm, above=0.0)
    radius, thickness = np.asarray(wheel_radius_mm, float), np.asarray(rubber_thickness_mm, float)
    hertz = _curvature_lost(force_per_width_n_mm, 1.0, rubber_modulus_n_mm2) * radius
    square = 2.0 * hertz / (1.0 + np.sqrt(1.0 + 4.0 * _C2 * hertz / thickness**2))
    half_width = np.sqrt(square)
    require("half width of contact, mm,", half_width, high=np.minimum(thickness / 2, radius / 3))
    return np.asarray(half_width)[()]


def effective_radius(
    wheel_radius_mm: ArrayLike,
    chord_mm: ArrayLike,
    force_per_width_n_mm: ArrayLike,
    rubber_modulus_n_mm2: ArrayLike,
    rubber_thickness_mm: ArrayLike,
) -> Result:
    r"""Radius of the relief that a flattened rubber wheel leaves, in mm.

    .. math:: \frac{1}{R_e} = \frac{1}{R} - \frac{4 F'}{\pi E^* a^2 (1 + C_2 a^2/b^2)}

    The radius of the groove in which the force F' of the last pass makes a contact just as wide as
    the groove. When the force alone lays the wheel flat over the whole chord there is no hollow:
    refused. A finish pass with little force therefore leaves the deeper, truer relief.

    Range: R > 0, 0 < c <= b and c <= 2R/3, F' >= 0, E > 0, b > 0, R_e positive and finite.
    Shape: broadcast. Raises: ValueError. Source: conforming line contact, 1/R* = 1/R - 1/R_e
    (Johnson 4.3), with the first term of the layer; that the groove wears to this radius is our own
    estimate, not measured.

    >>> radius = effective_radius(100.0, 40.0, np.pi / 2, 0.75, 1e6)  # by hand: half of F' flat
    >>> round(float(radius), 6)
    200.0
    """
    require("wheel_radius_mm", wheel_radius_mm, above=0.0)
    require("force_per_width_n_mm", force_per_width_n_mm, low=0.0)
    require("rubber_modulus_n_mm2", rubber_modulus_n_mm2, above=0.0)
    radius = np.asarray(wheel_radius_mm, float)
    half = _half_chord(chord_mm, rubber_thickness_mm)
    require("chord_mm", chord_mm, high=2.0 * radius / 3.0)
    lost = _curvature_lost(force_per_width_n_mm, half, rubber_modulus_n_mm2) / (
        1.0 + _C2 * (half / np.asarray(rubber_thickness_mm, float)) ** 2
    )
    left = 1.0 / radius - lost
    if not np.all(left > 0.0):
        worst = float(np.max(lost * radius))
        raise ValueError(
            f"force_per_width_n_mm = {float(np.max(force_per_width_n_mm))!r} is {worst:.3g} times"
            " the force that lays the wheel flat over the chord; it must be below 1"
        )
    return np.asarray(1.0 / left)[()]


def tyre_stiffness(
    contact_width_mm: ArrayLike,
    chord_mm: ArrayLike,
    rubber_modulus_n_mm2: ArrayLike,
    rubber_thickness_mm: ArrayLike,
) -> Result:
    r"""Stiffness of the rubber between hub and blade, in N/mm, to put in series with the machine.

    .. math:: k = w\,\frac{\pi E^*}{2\,[\ln(2b/a) + C_0 + C_2 a^2/b^2]}

    w is the length of the contact along the wheel's axis. The rise of force with infeed at a
    contact that stays as wide as the relief; a wheel on an unground face follows the same law at
    its own half width (flat_half_width). A deeper relief has a wider contact and a stiffer tyre.

    Range: w > 0, 0 < c <= b, E > 0, b > 0. Shape: broadcast. Raises: ValueError.
    Source: rigid strip on a layer, from the kernel above; 9 % too soft at c = b against the full
    solution, 1 % at c = b/3.

    >>> k = tyre_stiffness(20.0, 6.0, rubber_modulus_gent_1958(50), 15.0)
    >>> round(float(k), 1)  # by hand: 20 pi 3.288 / (2 (2.3026 - 0.9764 + 0.0409))
    75.6
    """
    require("contact_width_mm", contact_width_mm, above=0.0)
    require("rubber_modulus_n_mm2", rubber_modulus_n_mm2, above=0.0)
    half = _half_chord(chord_mm, rubber_thickness_mm)
    ratio = half / np.asarray(rubber_thickness_mm, float)
    give = 2.0 * (np.log(2.0 / ratio) + _C0 + _C2 * ratio**2)
    plane_modulus = _PLANE_STRAIN * np.asarray(rubber_modulus_n_mm2, float)
    return np.asarray(np.pi * plane_modulus * np.asarray(contact_width_mm, float) / give)[()]


def _half_chord(chord_mm: ArrayLike, rubber_thickness_mm: ArrayLike) -> Result:
    require("rubber_thickness_mm", rubber_thickness_mm, above=0.0)
    require("chord_mm", chord_mm, above=0.0, high=rubber_thickness_mm)
    return np.asarray(np.asarray(chord_mm, float) / 2.0)


def _curvature_lost(
    force_per_width_n_mm: ArrayLike, half_mm: ArrayLike, rubber_modulus_n_mm2: ArrayLike
) -> Result:
    """Hertz: 4 F' / (π E* a²), the difference of the two curvatures in contact."""
    plane_modulus = _PLANE_STRAIN * np.asarray(rubber_modulus_n_mm2, float)
    half = np.asarray(half_mm, float)
    return np.asarray(
        4.0 * np.asarray(force_per_width_n_mm, float) / (np.pi * plane_modulus * half**2)
    )
