"""The contact flash against published limits, outside numbers and direct integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special
from scipy.integrate import quad

from planner.formulas import contact_flash as flash

STEEL = (48.0, 7800.0, 470.0)
"""W/(m K), kg/m3, J/(kg K): a plain carbon steel."""

# Source: J. C. Jaeger (1942), the integral of band_rise_at taken with mpmath Bessel functions;
# L, theta k/(q l_c) highest, the same mean, place of the highest x/l, highest over the limit.
JAEGER = [
    (0.2, 0.8960655, 0.8186599, -0.3591, 0.71028),
    (0.5, 0.6520861, 0.5608333, -0.5367, 0.817269),
    (1.0, 0.4959252, 0.3999312, -0.6664, 0.879005),
    (2.0, 0.3684016, 0.2787493, -0.7747, 0.923446),
    (2.5, 0.3334414, 0.2478805, -0.8037, 0.934468),
    (5.0, 0.2423201, 0.1725106, -0.8759, 0.960394),
    (10.0, 0.1742499, 0.1206619, -0.9244, 0.976669),
    (20.0, 0.124457, 0.08476394, -0.9552, 0.986528),
    (100.0, 0.05621819, 0.03767792, -0.9877, 0.996441),
]


@pytest.mark.parametrize(("peclet", "highest", "mean", "where", "ratio"), JAEGER)
def test_jaeger_band_matches_the_table(
    peclet: float, highest: float, mean: float, where: float, ratio: float
) -> None:
    assert flash.jaeger_band_maximum(peclet) == pytest.approx(highest, rel=1e-6)
    assert flash.jaeger_band_mean(peclet) == pytest.approx(mean, rel=1e-6)
    assert flash.band_rise_at(peclet, where) == pytest.approx(highest, rel=1e-6)
    limit = 1.0 / np.sqrt(np.pi * peclet)  # By hand: 1.12838 sqrt(alpha l_c/v) q/k, v from L
    assert flash.jaeger_band_maximum(peclet) / limit == pytest.approx(ratio, rel=1e-5)


def test_jaeger_band_takes_a_column_of_peclet_numbers_at_once() -> None:
    table = np.array(JAEGER)
    assert flash.jaeger_band_maximum(table[:, :1]).shape == (9, 1)
    np.testing.assert_allclose(flash.jaeger_band_maximum(table[:, 0]), table[:, 1], rtol=1e-6)
    np.testing.assert_allclose(flash.jaeger_band_mean(table[:, 0]), table[:, 2], rtol=1e-6)


@pytest.mark.parametrize("peclet", [0.03, 0.7, 4.0, 30.0])
@pytest.mark.parametrize("position", [-0.95, -0.4, 0.0, 0.8])
def test_band_rise_matches_direct_integration(peclet: float, position: float) -> None:
    # Property: rivals agree. The integral itself, with the Bessel function of scipy.
    centre = position * peclet
    ahead, _ = quad(lambda w: special.k0(w) * np.exp(-w), 0.0, centre + peclet, limit=200)
    behind, _ = quad(special.k0e, 0.0, peclet - centre, limit=200)
    expected = (ahead + behind) / (2.0 * np.pi * peclet)
    assert flash.band_rise_at(peclet, position) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("peclet", [1e-4, 0.01, 1.0, 50.0, 1e4])
def test_band_mean_is_the_mean_of_the_band(peclet: float) -> None:
    # Property: Gauss's rule over the band, and no place in it hotter than the maximum.
    nodes, weights = np.polynomial.legendre.leggauss(1500)
    rises = flash.band_rise_at(peclet, nodes)
    assert flash.jaeger_band_mean(peclet) == pytest.approx((weights @ rises) / 2.0, rel=1e-6)
    assert rises.max() <= flash.jaeger_band_maximum(peclet) * (1.0 + 1e-9)


def test_high_peclet_limit_errs_as_much_as_it_says() -> None:
    # Source: the ratios of the table above, 0.960394 at L = 5 and 0.996441 at L = 100.
    excess = flash.high_peclet_maximum([5.0, 20.0, 100.0]) / flash.jaeger_band_maximum(
        [5.0, 20.0, 100.0]
    )
    np.testing.assert_allclose(excess, [1 / 0.960394, 1 / 0.986528, 1 / 0.996441], rtol=2e-6)
    assert excess[0] < 1.042


def test_flat_pass_example_is_the_jaeger_rise_and_not_the_limit() -> None:
    # Source: S. Malkin and C. Guo, Thermal Analysis of Grinding (2007), process variables:
    # u 40, share 0.85, a_e 0.01, d_e 200, v_w 50: l_c = sqrt(2), q = 17/sqrt(2). The limit
    # gives 171.966808 K, the full Jaeger solution 154.815702 K.
    length = np.sqrt(0.01 * 200.0)
    flux = 0.85 * 40.0 * 0.01 * 50.0 / length
    assert flux == pytest.approx(12.0208153)
    alpha = flash.thermal_diffusivity(*STEEL)
    assert alpha == pytest.approx(13.0932897)
    peclet = flash.peclet_number(50.0, length, alpha)
    assert peclet == pytest.approx(1.35013201)
    rise = flux * length / 0.048 * flash.jaeger_band_maximum(peclet)
    assert rise == pytest.approx(154.815702, rel=1e-7)
    thick = flash.flash_rise(flux, length, 50.0, 100.0, *STEEL)
    assert thick.half_space_k == pytest.approx(154.815702, rel=1e-7)
    assert thick.plate_k == pytest.approx(171.966808, rel=1e-7)  # the half-space limit


def test_scaled_bessel_functions_match_scipy_over_their_range() -> None:
    # Source: scipy.special, which wraps the Cephes library.
    x = np.concatenate([np.geomspace(1e-12, 1e12, 4001), [2.0, np.nextafter(2.0, 3.0)]])
    k0, k1 = flash.scaled_bessel_k(x)
    np.testing.assert_allclose(k0, special.k0e(x), rtol=1e-13)
    np.testing.assert_allclose(k1, special.k1e(x), rtol=1e-13)


# Source: Carslaw and Jaeger, paragraph 3.8, the series summed; checked there by implicit finite
# differences at Fo = 0.2 (0.50514, 0.06149). Fo, heated face, back face, half-space.
@pytest.mark.parametrize(
    ("fourier", "heated", "back", "half_space"),
    [
        (0.2, 0.5051652, 0.06146375, 0.5046265),
        (0.5, 0.831876, 0.3347907, 0.7978846),
        (1.0, 1.333323, 0.8333438, 1.128379),
        (2.0, 2.333333, 1.833333, 1.595769),
    ],
)
def test_plate_matches_the_table(
    fourier: float, heated: float, back: float, half_space: float
) -> None:
    assert flash.plate_heated_face(fourier) == pytest.approx(heated, rel=1e-6)
    assert flash.plate_back_face(fourier) == pytest.approx(back, rel=1e-6)
    assert flash.plate_face_excess(fourier) == pytest.approx(heated - fourier, rel=1e-6)
    assert 2.0 * np.sqrt(fourier / np.pi) == pytest.approx(half_space, rel=1e-6)


def test_plate_series_matches_images_at_short_times() -> None:
    # Property: rivals agree. Images of the source in the two faces (Carslaw and Jaeger 3.8),
    # 2 sqrt(Fo) sum ierfc(distance / sqrt(Fo)), with scipy's erfc.
    fourier = np.geomspace(1e-3, 0.5, 40)
    root = np.sqrt(fourier)

    def ierfc(x: np.ndarray) -> np.ndarray:
        return np.asarray(np.exp(-x * x) / np.sqrt(np.pi) - x * special.erfc(x))

    heated = 2 * root * (ierfc(0 * root) + 2 * sum(ierfc(n / root) for n in (1, 2, 3)))
    back = 4 * root * sum(ierfc((n + 0.5) / root) for n in (0, 1, 2))
    np.testing.assert_allclose(flash.plate_heated_face(fourier), heated, rtol=1e-9)
    np.testing.assert_allclose(flash.plate_back_face(fourier), back, rtol=1e-7, atol=1e-14)


def test_plate_settles_to_a_parabola_over_its_mean() -> None:
    # By hand: late, theta k/(q b) = Fo + x²/2 - 1/6, x/b from the back (its mean is Fo, its
    # second derivative 1): 1/2 - 1/6 at the heated face, -1/6 at the back. Cold at the start.
    assert flash.plate_heated_face(4.0) - 4.0 == pytest.approx(1 / 2 - 1 / 6, abs=1e-12)
    assert flash.plate_back_face(4.0) - 4.0 == pytest.approx(-1 / 6, abs=1e-12)
    assert flash.plate_heated_face(0.0) == 0.0
    assert flash.plate_back_face(0.0) == 0.0


# Source: grain model of Hahn and Rowe (from memory), evaluated; k_g 35, beta 13265.2931, 30 m/s.
@pytest.mark.parametrize(
    ("radius_mm", "share"),
    [pytest.param(0.015, 0.889380307, id="sharp"), pytest.param(0.05, 0.936220142, id="blunt")],
)
def test_grain_share_matches_the_evaluated_model(radius_mm: float, share: float) -> None:
    effusivity = flash.thermal_effusivity(*STEEL)
    assert effusivity == pytest.approx(13265.2931)
    assert flash.grain_work_share(35.0, effusivity, radius_mm, 30.0) == pytest.approx(share)


def test_grain_share_falls_for_grains_that_conduct_and_rises_with_speed() -> None:
    # Property: more heat goes into a better conductor; less time, less heat into the grain.
    shares = flash.grain_work_share([35.0, 100.0, 1000.0], 13_000.0, 0.015, 30.0)
    assert np.all(np.diff(shares) < 0.0)
    assert flash.grain_work_share(35.0, 13_000.0, 0.015, 60.0) > shares[0]


def test_planned_shares_lie_in_their_ranges() -> None:
    assert len(flash.WORK_SHARES) == 3
    for share in flash.WORK_SHARES.values():
        assert 0.0 < share.low <= share.planned <= share.high <= 1.0


def test_band_flux_conserves_power() -> None:
    # Property: flux times contact area is share times power. By hand: 0.85 * 40 * 0.02 * 50 = 34.
    flux = flash.band_flux(0.85, 40.0, 0.02, 50.0, [5.0, 10.0], [[4.0], [6.0]])
    np.testing.assert_allclose(flux * np.array([5.0, 10.0]) * np.array([[4.0], [6.0]]), 34.0)


def test_wedge_multiplier_is_that_of_the_angle() -> None:
    # Source: image method, 7.2 for 25 degrees (180/25) and 2 for a square corner.
    np.testing.assert_allclose(flash.wedge_multiplier(np.radians([25.0, 90.0, 180.0])), [7.2, 2, 1])


def test_wedge_radial_drop_over_half_space_is_the_multiplier() -> None:
    # Property: the same heat and radii in a wedge and in a half-space.
    wedge = flash.wedge_radial_drop(5.0, 0.1, 3.0, np.radians(25.0), 48.0)
    half_space = flash.wedge_radial_drop(5.0, 0.1, 3.0, np.pi, 48.0)
    assert wedge / half_space == pytest.approx(7.2)
    # By hand: 5 ln 30 / (0.048 * 0.4363323) = 17.005987/0.020943951
    assert wedge == pytest.approx(811.9760, rel=1e-6)


def test_plate_is_never_below_the_moving_band() -> None:
    # Property: the plate's heat can run neither ahead of the wheel nor out of its back.
    speed = np.geomspace(0.5, 5000.0, 25)[:, np.newaxis]
    thickness = np.geomspace(0.05, 50.0, 25)
    rise = flash.flash_rise(2.0, 8.0, speed, thickness, *STEEL)
    assert rise.rise_k.shape == rise.peclet.shape == (25, 25)
    assert np.all(rise.plate_k >= rise.half_space_k * (1.0 - 1e-9))
    np.testing.assert_array_equal(rise.rise_k, np.maximum(rise.plate_k, rise.half_space_k))
    thick = (rise.fourier < 0.2) & (rise.peclet > 5.0)
    assert thick.sum() > 20
    assert np.all(rise.plate_k[thick] < 1.043 * rise.half_space_k[thick])
    assert np.all(np.diff(rise.rise_k, axis=1) <= 1e-9)  # thicker is never hotter


def test_flash_of_a_thin_section_is_mean_and_third_of_the_gradient() -> None:
    # By hand: q 2, b 0.5, k 0.048, t = 6/60 = 0.1: mean 2*0.1/(3.666e-3*0.5) = 109.1107;
    # Fo = 13.0932897*0.1/0.25 = 5.237, so the excess is q b/(3 k) = 6.9444.
    rise = flash.flash_rise(2.0, 6.0, 60.0, 0.5, *STEEL)
    assert rise.contact_s == pytest.approx(0.1)
    assert rise.fourier == pytest.approx(5.23731588)
    assert rise.excess_k == pytest.approx(6.944444, rel=1e-6)
    assert rise.rise_k == pytest.approx(109.110747 + 6.944444, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: flash.jaeger_band_maximum(0.0), r"peclet = 0.0 is outside \[0.0001, 100000\]"),
        (lambda: flash.jaeger_band_mean(2e5), "peclet = 200000.0"),
        (lambda: flash.high_peclet_maximum(4.9), r"peclet = 4.9 is outside \[5, inf\)"),
        (lambda: flash.band_rise_at(1.0, 1.1), r"position = 1.1 is outside \[-1, 1\]"),
        (lambda: flash.plate_heated_face(-0.1), "fourier = -0.1"),
        (lambda: flash.wedge_multiplier(0.0), "included_angle_rad = 0.0"),
        (lambda: flash.wedge_radial_drop(1, 2, 1, 1, 48), "near_mm = 2.0"),
        (lambda: flash.band_flux(1.2, 40, 0.01, 50, 5, 5), r"work_share = 1.2 is outside \[0, 1\]"),
        (lambda: flash.flash_rise(1, 5, 50, 0, *STEEL), "thickness_mm = 0.0"),
        (lambda: flash.flash_rise(np.nan, 5, 50, 1, *STEEL), "flux_w_mm2 = nan"),
        (lambda: flash.grain_work_share(35, 1e4, 1.5e-5, 30), "grain_contact_radius_mm = 1.5e-05"),
        (lambda: flash.thermal_diffusivity(48, -1, 470), "density_kg_m3 = -1.0"),
    ],
)
def test_values_out_of_range_are_named(call: object, message: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=message):
        call()
