"""Rubber of a contact wheel, held against hardness tables and the full solution of a layer."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad

from planner.formulas import belt_contact
from planner.formulas.belt_contact import (
    effective_radius,
    flat_half_width,
    rubber_modulus_gent_1958,
    tyre_stiffness,
)
from planner.formulas.blade_bending import series_stiffness

Floats = NDArray[np.float64]

# --- The rival: contact with a bonded incompressible layer, solved for the pressure by collocation
# with the layer's whole transform K. Lengths in half widths, E* = 1.


def transform(s: float) -> float:
    """K(s): 1 for waves short against the layer, 2 s^3 / 3 for long ones (lubrication limit)."""
    if s < 0.02:
        return 2 * s**3 / 3
    return (math.sinh(2 * s) - 2 * s) / (math.cosh(2 * s) + 2 * s * s + 1)


@cache
def tail() -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(200)
    s = (nodes + 1) * 15
    return s, weights * 15


def kernel_rest(z: Floats) -> Floats:
    """The kernel plus ln z: ∫ [(K - 1) cos sz + exp(-s)] / s ds."""
    s, weights = tail()
    values = np.array([transform(float(x)) for x in s]) - 1
    waves = np.cos(np.multiply.outer(z, s))
    return np.asarray((waves * values + np.exp(-s)) @ (weights / s))


def layer_force(ratio: float, *, punch: bool) -> float:
    """Force per width: of a punch moved by 1, or of a unit parabola x^2/2 just in contact."""
    x = np.cos(np.pi * (np.arange(24) + 0.5) / 48)
    angle = (np.arange(120) + 0.5) * np.pi / 120
    s = np.cos(angle)
    rest = kernel_rest(np.abs(x[:, None] - s) * ratio) - math.log(ratio)

    def moved(m: int) -> Floats:
        """Displacement under the pressure T_m(s) / sqrt(1 - s^2)."""
        logs = math.pi * (math.log(2) if m == 0 else np.cos(m * np.arccos(x)) / m)
        return np.asarray(2 / np.pi * (logs + rest @ (np.cos(m * angle) * np.pi / 120)))

    orders = range(0, 12, 2)
    if punch:
        columns = [moved(m) for m in orders]
        amounts = np.linalg.lstsq(np.array(columns).T, np.ones_like(x))[0]
        return float(amounts[0] * np.pi)
    # Pressures (T_m - T_{m+2}) / 2 sqrt(1 - s^2) vanish at the ends; the approach is free.
    columns = [(moved(m) - moved(m + 2)) / 2 for m in orders]
    system = np.column_stack([*columns, -np.ones_like(x)])
    amounts = np.linalg.lstsq(system, -(x**2) / 2)[0]
    return float(amounts[0] * np.pi / 2)


def test_layer_solution_has_its_known_limits() -> None:
    # Source: Hertz, line contact on a half-space (Johnson 4.3): F' = π E* a² / 4R.
    assert layer_force(0.01, punch=False) == pytest.approx(np.pi / 4, rel=1e-3)
    # By hand, lubrication limit of a thin layer: p″ = -(E/b³) δ with p = 0 at the ends gives
    # F' = (2/3) E a³/b³ δ, E = 0.75 E*; side flow at the ends adds a share of order b/a.
    assert layer_force(20.0, punch=True) == pytest.approx(0.5 * 20**3, rel=0.3)


def test_constants_are_the_layer_integrals() -> None:
    c0 = quad(lambda s: (transform(s) - 1 + math.exp(-s)) / s, 1e-9, 40, limit=200)[0]
    c2 = quad(lambda s: s * (1 - transform(s)), 0, 40, limit=200)[0] / 2
    # Property: the stored digits are those of the integrals.
    np.testing.assert_allclose((belt_contact._C0, belt_contact._C2), (c0, c2), atol=1e-5)


@pytest.mark.parametrize("ratio", [0.05, 0.2, 0.35, 0.5])
def test_contact_agrees_with_the_layer(ratio: float) -> None:
    # Property: rivals agree. E 0.75 makes E* 1; half width 1, R 60, rubber 1/ratio thick.
    force = layer_force(ratio, punch=False) / 60.0
    assert float(flat_half_width(force, 60.0, 0.75, 1 / ratio)) == pytest.approx(1.0, rel=0.01)
    # Property: half of that force, in a groove of twice the radius, makes the same contact.
    groove = effective_radius(60.0, 2.0, force / 2, 0.75, 1 / ratio)
    assert float(groove) == pytest.approx(120.0, rel=0.02)


@pytest.mark.parametrize(
    ("ratio", "softer"), [(0.05, 0.002), (1 / 6, 0.01), (0.35, 0.04), (0.5, 0.09)]
)
def test_stiffness_agrees_with_the_layer(ratio: float, softer: float) -> None:
    full = layer_force(ratio, punch=True)
    ours = float(tyre_stiffness(1.0, 2.0, 0.75, 1 / ratio))
    assert 1 - softer < ours / full < 1.001  # Property: rivals agree, ours on the soft side


# Source: table of IRHD and Young's modulus in A. N. Gent (ed.), Engineering with Rubber, after
# P. B. Lindley, Engineering Design with Natural Rubber (from memory: so only to 30 %).
@pytest.mark.parametrize(
    ("hardness", "modulus"),
    [(30, 0.92), (40, 1.50), (50, 2.20), (60, 4.45), (70, 7.35)],
)
def test_modulus_from_hardness(hardness: float, modulus: float) -> None:
    assert float(rubber_modulus_gent_1958(hardness)) == pytest.approx(modulus, rel=0.3)


def test_modulus_by_hand_and_order() -> None:
    # By hand: 0.0981 * 592.2 / (0.137505 * 76.2) = 58.0948 / 10.4779 = 5.5445
    assert float(rubber_modulus_gent_1958(70)) == pytest.approx(5.5445, rel=1e-4)
    assert np.all(np.diff(rubber_modulus_gent_1958(np.arange(20, 91))) > 0)  # Property


def test_contact_wheel_lies_in_the_band_of_the_shop() -> None:
    # Common practice, no source: rubber wheels of small belt machines give 50 to 500 N/mm.
    for hardness in (50, 70, 85):
        rubber = rubber_modulus_gent_1958(hardness)
        assert 50 < float(tyre_stiffness(20.0, 6.0, rubber, 12.0)) < 500
    # Property: in series with a machine the softer rules.
    both = series_stiffness(2000.0, tyre_stiffness(20.0, 6.0, rubber_modulus_gent_1958(50), 12.0))
    assert 50 < float(both) < 100


def test_relief_of_a_rubber_wheel_is_shallower() -> None:
    # By hand: R 100, c 8, a 4, b 16, E* 4/3 * 3 = 4, F' 0.2: lost curvature
    # 0.8 / (π 4 16 (1 + 1.0236/16)) = 0.8 / 213.93 = 0.0037396; 1/(0.01 - 0.0037396) = 159.73 mm.
    radius = float(effective_radius(100.0, 8.0, 0.2, 3.0, 16.0))
    assert radius == pytest.approx(159.73, rel=1e-4)
    # By hand: depths a²/2R = 0.080 and 0.050 mm.
    assert 16 / (2 * radius) == pytest.approx(0.0501, abs=1e-4)


@given(
    force=st.floats(0.001, 0.03),
    more=st.floats(1.01, 2),
    chord=st.floats(4, 12),
    modulus=st.floats(2, 10),
)
def test_more_force_and_softer_rubber_flatten_more(
    force: float, more: float, chord: float, modulus: float
) -> None:
    # Property: order, and no force leaves the wheel round.
    base = effective_radius(100.0, chord, force, modulus, 15.0)
    assert 100.0 < base < effective_radius(100.0, chord, force * more, modulus, 15.0)
    assert base > effective_radius(100.0, chord, force, modulus * more, 15.0)
    assert float(effective_radius(100.0, chord, 0.0, modulus, 15.0)) == pytest.approx(100.0)
    wider = min(chord * more, 15.0)
    stiffness = tyre_stiffness(20.0, chord, modulus, 15.0)
    assert stiffness < tyre_stiffness(20.0, wider, modulus, 15.0)
    assert stiffness > tyre_stiffness(20.0, chord, modulus, 15.0 * more)


def test_wheel_flat_over_the_chord_is_refused() -> None:
    # Property: the force that lays the wheel flat over just the chord is where the radius ends.
    half = float(flat_half_width(0.1, 100.0, 3.0, 15.0))
    with pytest.raises(ValueError, match="lays the wheel flat over the chord"):
        effective_radius(100.0, 2 * half * 0.999, 0.1, 3.0, 15.0)
    assert float(effective_radius(100.0, 2 * half * 1.001, 0.1, 3.0, 15.0)) > 1e4


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: rubber_modulus_gent_1958(19), r"shore_a = 19.0 is outside \[20, 90\]"),
        (lambda: rubber_modulus_gent_1958(95), r"shore_a = 95.0"),
        (lambda: flat_half_width(-1, 100, 3, 15), r"force_per_width_n_mm = -1.0"),
        (lambda: flat_half_width(20, 100, 3, 15), r"half width of contact, mm, = "),
        (lambda: flat_half_width(1, 0.0, 3, 15), r"wheel_radius_mm = 0.0"),
        (lambda: effective_radius(100, 16, 0.1, 3, 15), r"chord_mm = 16.0 is outside \(0, 15\]"),
        (lambda: effective_radius(15, 12, 0.1, 3, 15), r"chord_mm = 12.0 is outside"),
        (lambda: effective_radius(100, 8, 0.1, 0.0, 15), r"rubber_modulus_n_mm2 = 0.0"),
        (lambda: tyre_stiffness(20, 6, 3, 0.0), r"rubber_thickness_mm = 0.0"),
        (lambda: tyre_stiffness(0.0, 6, 3, 15), r"contact_width_mm = 0.0"),
        (lambda: tyre_stiffness(20, 0.0, 3, 15), r"chord_mm = 0.0 is outside \(0, 15\]"),
        (lambda: tyre_stiffness(20, math.nan, 3, 15), r"chord_mm = nan"),
    ],
)
def test_contact_refuses_what_is_out_of_range(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
