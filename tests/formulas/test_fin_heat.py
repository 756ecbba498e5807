"""The thin edge as a fin, against exact solutions, rival solvers and a two-dimensional one."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import sparse, special
from scipy.sparse.linalg import splu

from planner.formulas.contact_flash import plate_face_excess
from planner.formulas.fin_heat import FinMesh, FinOperator, PassPulses, heat_of_passes, pass_pulses

Array = NDArray[np.float64]

K, RHO, C = 48.0, 7800.0, 470.0
"""W/(m K), kg/m3, J/(kg K): a plain carbon steel."""
STEEL = (K, RHO, C)
VOLUMETRIC = RHO * C * 1e-9
DIFFUSIVITY = K * 1e-3 / VOLUMETRIC
CLAMP, FROM, TO = 18.0, 1.2, 5.2
"""mm: the clamp and the two ends of the contact, measured from the edge."""
SLOPE = 2.0 * np.tan(np.radians(12.5))
"""Thickness per distance of a 25 degree wedge."""


def uniform_faces(length_mm: float, cells: int) -> Array:
    return np.linspace(0.0, length_mm, cells + 1)


def middles(faces: Array) -> Array:
    return (faces[1:] + faces[:-1]) / 2.0


# --- steady and lumped, outside values


@pytest.mark.parametrize(
    ("shape", "tip_ratio", "efficiency"),
    [
        # Source: Incropera and DeWitt, straight fins: tip 1/cosh(mL), tanh(mL)/(mL),
        # m = sqrt(2 h/(k t)); t 2 mm, L 20 mm, k 48, h 50: mL = 0.645497.
        pytest.param("rectangular", 0.822592774, 0.880919241, id="rectangular"),
        # Source: the same, triangular profile: tip 1/I0(2 mL), I1(2 mL)/(mL I0(2 mL)).
        pytest.param("triangular", 0.683932758, 0.836664439, id="triangular"),
    ],
)
def test_steady_fin_matches_the_textbook(shape: str, tip_ratio: float, efficiency: float) -> None:
    # The base is held by a perfect clamp at 0, so the film stands for -theta_base everywhere:
    # fin rise = base + theta, with the constant loss 2 h theta_base as a negative flux.
    faces = uniform_faces(20.0, 300)
    y = middles(faces)
    thickness = np.full_like(y, 2.0) if shape == "rectangular" else 2.0 * y / 20.0
    fin = FinOperator.build(faces, thickness, *STEEL, 50.0, 50.0, 1e12)
    below_base = fin.advance(np.zeros_like(y), np.full_like(y, -100e-6), 1e6)
    assert 1.0 + fin.edge(below_base) == pytest.approx(tip_ratio, rel=1e-5)
    assert 1.0 + np.mean(below_base) == pytest.approx(efficiency, rel=1e-5)


def test_thin_plate_cools_with_the_lumped_time_constant() -> None:
    # By hand: rho c t/(2 h) = 7800 * 470 * 0.001/100 = 36.66 s, to 1/e in that time.
    faces = uniform_faces(20.0, 10)
    plate = FinOperator.build(faces, np.full(10, 1.0), *STEEL, 50.0, 50.0)
    cooled = plate.advance(np.full(10, 100.0), np.zeros(10), 36.66)
    np.testing.assert_allclose(cooled, 100.0 / np.e, rtol=1e-9)


def test_end_heating_rises_as_a_half_space() -> None:
    # Source: Carslaw and Jaeger, paragraph 2.9: 2 q sqrt(alpha t/pi)/k under flux q on the end
    # of a long bar. q = 5 W/mm2 into the end of a 2 mm bar, as heat of the first cell.
    mesh = FinMesh.graded(40.0, 0.0, 0.01, edge_cell_mm=0.01, contact_cell_mm=0.01, growth=0.05)
    thickness = np.full_like(mesh.centres_mm, 2.0)
    bar = FinOperator.build(mesh.faces_mm, thickness, *STEEL)
    flux = mesh.band_flux(5.0 * 2.0, 0.0, 0.01)
    times = np.array([0.05, 0.2, 1.0, 3.0])
    rises = bar.edge(bar.trace(np.zeros_like(thickness), flux, times))
    expected = 2.0 * 5.0 * np.sqrt(DIFFUSIVITY * times / np.pi) / (K * 1e-3)
    np.testing.assert_allclose(rises, expected, rtol=5e-3)


# --- transient, exact series


def exact_bar(y: Array, time_s: float, thickness_mm: float, film_w_m2k: float = 0.0) -> Array:
    """Bar of one thickness, both ends insulated, 1 W/mm2 over FROM to TO: cosine series."""
    wave = np.arange(1, 4000) * np.pi / CLAMP
    coefficient = 2.0 / CLAMP * (np.sin(wave * TO) - np.sin(wave * FROM)) / wave
    loss = film_w_m2k * 1e-6 / (VOLUMETRIC * thickness_mm)
    rate = DIFFUSIVITY * wave**2 + loss
    mean = time_s if loss == 0.0 else -np.expm1(-loss * time_s) / loss
    series = np.cos(np.outer(y, wave)) @ (coefficient * -np.expm1(-rate * time_s) / rate)
    return np.asarray(((TO - FROM) / CLAMP * mean + series) / (VOLUMETRIC * thickness_mm))


def exact_wedge(y: Array, time_s: float) -> Array:
    """Sharp wedge t = SLOPE y, insulated at CLAMP, 1 W/mm2 over FROM to TO: Bessel series.

    t theta' = (t theta_y)_y is the equation of a disc, so the modes are J0(lambda y) with
    J1(lambda CLAMP) = 0; the source over t is 1/(SLOPE y), its coefficients the integral of J0.
    """
    zeros = special.jn_zeros(1, 2500)
    wave = zeros / CLAMP
    integral = (special.itj0y0(wave * TO)[0] - special.itj0y0(wave * FROM)[0]) / wave
    rate = DIFFUSIVITY * wave**2
    coefficient = integral / (CLAMP**2 / 2.0 * special.j0(zeros) ** 2)
    series = special.j0(np.outer(y, wave)) @ (coefficient * -np.expm1(-rate * time_s) / rate)
    mean = (TO - FROM) * 2.0 / CLAMP**2 * time_s
    return np.asarray((mean + series) / (VOLUMETRIC * SLOPE))


@pytest.mark.parametrize("time_s", [0.1, 0.3, 1.0])
@pytest.mark.parametrize("shape", ["bar", "wedge"])
def test_default_mesh_is_within_three_parts_in_a_thousand(shape: str, time_s: float) -> None:
    # Property: the exact series above. This is the error that the module states.
    mesh = FinMesh.graded(CLAMP, FROM, TO)
    y = mesh.centres_mm
    assert 40 <= y.size <= 70
    flux = mesh.band_flux(TO - FROM, FROM, TO)
    if shape == "bar":
        section = FinOperator.build(mesh.faces_mm, np.full_like(y, 0.6), *STEEL, 20.0, 20.0)
        exact, at_edge = (exact_bar(where, time_s, 0.6, 40.0) for where in (y, np.zeros(1)))
    else:
        section = FinOperator.build(mesh.faces_mm, SLOPE * y, *STEEL)
        exact, at_edge = (exact_wedge(where, time_s) for where in (y, np.zeros(1)))
    rise = section.advance(np.zeros_like(y), flux, time_s)
    assert np.abs(rise - exact).max() < 3e-3 * exact.max()
    assert section.edge(rise) == pytest.approx(at_edge[0], rel=3e-3)


@pytest.mark.parametrize("shape", ["bar", "wedge"])
def test_error_falls_with_the_square_of_the_cell(shape: str) -> None:
    # Property: convergence rate at the edge, 1 s; cells of 0.4, 0.2, 0.1 mm hit FROM and TO.
    errors = []
    for cells in (45, 90, 180):
        faces = uniform_faces(CLAMP, cells)
        y = middles(faces)
        thickness = np.full_like(y, 0.6) if shape == "bar" else SLOPE * y
        section = FinOperator.build(faces, thickness, *STEEL)
        flux = FinMesh(faces).band_flux(TO - FROM, FROM, TO)
        found = section.edge(section.advance(np.zeros_like(y), flux, 1.0))
        exact = exact_bar(np.zeros(1), 1.0, 0.6) if shape == "bar" else exact_wedge(np.zeros(1), 1)
        errors.append(abs(found / exact[0] - 1.0))
    rates = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    np.testing.assert_allclose(rates, 2.0, atol=0.1)
    assert errors[-1] < 5e-4


# --- advance in time


@pytest.fixture(scope="module")
def mesh() -> FinMesh:
    return FinMesh.graded(CLAMP, FROM, TO)


def ground(y: Array, depth_mm: float = 0.0) -> Array:
    """Bevelled stock of 3 mm with a hollow of some depth between FROM and TO."""
    inside = np.clip((y - FROM) * (TO - y), 0.0, None) / ((TO - FROM) / 2.0) ** 2
    return np.asarray(np.minimum(0.05 + SLOPE * y, 3.0) - depth_mm * inside)


@pytest.fixture(scope="module")
def knife(mesh: FinMesh) -> FinOperator:
    return FinOperator.build(mesh.faces_mm, ground(mesh.centres_mm), *STEEL, 15.0, 60.0, 2000.0)


@pytest.fixture(scope="module")
def flux(mesh: FinMesh) -> Array:
    return mesh.band_flux(8.0, FROM, TO)


def test_heat_is_conserved_to_the_last_digits(
    knife: FinOperator, mesh: FinMesh, flux: Array
) -> None:
    # Property: heat in = heat held more + film + clamp, over eight decades of duration.
    start = 30.0 * np.exp(-mesh.centres_mm / 4.0)
    for duration in (1e-4, 0.02, 0.3, 10.0, 400.0, 1e4):
        end = knife.advance(start, flux, duration)
        film, clamp = knife.losses_j_mm(start, flux, duration)
        gained = knife.energy_j_mm(end) - knife.energy_j_mm(start)
        put_in = knife.heat_in_j_mm(flux, duration)
        assert put_in == pytest.approx(8.0 * duration)
        assert gained + film + clamp == pytest.approx(put_in, rel=1e-8)
        assert film > 0.0
        assert clamp > 0.0


def test_insulated_section_keeps_all_of_its_heat(mesh: FinMesh, flux: Array) -> None:
    # Property: with no film and no clamp all heat stays, and settles to one temperature.
    closed = FinOperator.build(mesh.faces_mm, ground(mesh.centres_mm), *STEEL)
    cells = np.zeros_like(flux)
    heated = closed.advance(cells, flux, 0.5)
    assert closed.energy_j_mm(heated) == pytest.approx(4.0, rel=1e-9)
    settled = closed.advance(heated, cells, 3000.0)
    assert closed.energy_j_mm(settled) == pytest.approx(4.0, rel=1e-6)
    assert np.ptp(settled) < 1e-6 * settled.mean()


def test_two_halves_of_an_interval_make_the_whole(knife: FinOperator, flux: Array) -> None:
    # Property: an exact step is a semigroup.
    cold = np.zeros_like(flux)
    halves = knife.advance(knife.advance(cold, flux, 0.15), flux, 0.15)
    np.testing.assert_allclose(halves, knife.advance(cold, flux, 0.3), rtol=1e-9, atol=1e-9)


def test_implicit_steps_agree_and_converge_to_the_exact_step(
    knife: FinOperator, flux: Array
) -> None:
    # Property: rivals agree; error of the second-order steps falls by 4 when they are halved.
    cold = np.zeros((2, flux.size))
    exact = knife.advance(cold, flux, 0.3)
    errors = [
        float(np.abs(knife.advance_implicit(cold, flux, 0.3, steps) - exact).max())
        for steps in (40, 80, 160)
    ]
    np.testing.assert_allclose(np.array(errors[:-1]) / np.array(errors[1:]), 4.0, rtol=0.1)
    assert errors[-1] < 1e-4 * exact.max()


def test_stations_may_have_times_and_rises_of_their_own(knife: FinOperator, flux: Array) -> None:
    # Property: together is the same as one by one.
    starts = np.stack([np.zeros_like(flux), np.linspace(40.0, 0.0, flux.size)])
    durations = np.array([0.1, 2.0])
    together = knife.advance(starts, flux, durations)
    for station in (0, 1):
        alone = knife.advance(starts[station], flux, durations[station])
        np.testing.assert_allclose(together[station], alone, rtol=1e-12, atol=1e-12)
    moments = knife.trace(starts, flux, durations[:, np.newaxis] * np.array([0.0, 0.5, 1.0]))
    np.testing.assert_allclose(moments[:, 0], starts, atol=1e-9)
    np.testing.assert_allclose(moments[:, 2], together, rtol=1e-12, atol=1e-12)


def test_stack_of_sections_is_each_section(mesh: FinMesh, flux: Array) -> None:
    y = mesh.centres_mm
    thicknesses = np.stack([ground(y), ground(y, 0.1), ground(y, 0.2)])
    stack = FinOperator.build(mesh.faces_mm, thicknesses, *STEEL, 15.0, 15.0, 2000.0)
    starts = np.linspace(0.0, 20.0, 3 * 2 * y.size).reshape(3, 2, y.size)
    durations = np.array([[0.1, 0.2], [0.3, 0.4], [5.0, 50.0]])
    moved = stack.advance(starts, flux, durations)
    peak, when = stack.edge_peak(starts, flux, durations)
    film, clamp = stack.losses_j_mm(starts, flux, durations)
    for number in range(3):
        alone = FinOperator.build(mesh.faces_mm, thicknesses[number], *STEEL, 15.0, 15.0, 2000.0)
        for one in (alone, stack.section(number)):
            arguments = (starts[number], flux, durations[number])
            np.testing.assert_allclose(one.advance(*arguments), moved[number], rtol=1e-9)
            np.testing.assert_allclose(one.edge(one.advance(*arguments)), stack.edge(moved)[number])
            np.testing.assert_allclose(one.edge_peak(*arguments)[0], peak[number], rtol=1e-9)
            np.testing.assert_allclose(one.edge_peak(*arguments)[1], when[number], rtol=1e-6)
            np.testing.assert_allclose(one.losses_j_mm(*arguments)[0], film[number], rtol=1e-8)
            np.testing.assert_allclose(one.losses_j_mm(*arguments)[1], clamp[number], rtol=1e-8)
    with pytest.raises(ValueError, match="not a stack"):
        alone.section(0)


def test_edge_peaks_after_the_wheel_has_left_and_the_peak_is_found(
    knife: FinOperator, flux: Array
) -> None:
    # Property: a dense look at the same curve, 20001 moments.
    left = knife.advance(np.zeros_like(flux), flux, 0.1)
    nothing = np.zeros_like(flux)
    peak, when = knife.edge_peak(left, nothing, 60.0)
    dense = knife.edge(knife.trace(left, nothing, np.linspace(0.0, 2.0, 20_001)))
    assert peak > 1.2 * knife.edge(left)
    assert 0.0 < when < 2.0
    assert peak == pytest.approx(dense.max(), rel=1e-4)
    assert when == pytest.approx(np.linspace(0.0, 2.0, 20_001)[dense.argmax()], rel=0.1)
    # While it is heated from cold the edge only rises: the peak is the end.
    heating, at = knife.edge_peak(nothing, flux, 0.4)
    assert at == pytest.approx(0.4)
    assert heating == pytest.approx(knife.edge(knife.advance(nothing, flux, 0.4)))


def test_thinner_steel_gets_hotter(mesh: FinMesh, flux: Array) -> None:
    # Property: the same heat in less steel.
    y = mesh.centres_mm
    stack = FinOperator.build(
        mesh.faces_mm, np.stack([ground(y, d) for d in (0, 0.1, 0.2)]), *STEEL
    )
    rises = stack.advance(np.zeros((3, 1, y.size)), flux, 0.2)[:, 0]
    assert np.all(np.diff(rises.max(axis=-1)) > 0.0)


def test_clamp_conductance_draws_heat_as_its_series_resistance() -> None:
    # By hand: 2 mm bar of 20 mm, heat 1 W/mm into the first cell of 0.5 mm, steady. From the
    # cell's middle to the clamp: 19.75/(0.048 * 2) = 205.729; clamp 1/(0.02 * 2) = 25 K mm/W.
    faces = uniform_faces(20.0, 40)
    bar = FinOperator.build(faces, np.full(40, 2.0), *STEEL, 0.0, 0.0, 20_000.0)
    flux = np.zeros(40)
    flux[0] = 2.0
    steady = bar.advance(np.zeros(40), flux, 1e5)
    assert steady[0] == pytest.approx(205.729167 + 25.0, rel=1e-8)


def test_band_flux_keeps_its_heat_whatever_the_cells(mesh: FinMesh) -> None:
    # Property: a band that starts and ends inside cells still holds all of its heat.
    flux = mesh.band_flux([3.0, 7.0], [0.013, 2.0], [3.777, 2.001])
    np.testing.assert_allclose(flux @ mesh.widths_mm, [3.0, 7.0], rtol=1e-12)
    assert np.all(flux[1][(mesh.faces_mm[1:] < 2.0) | (mesh.faces_mm[:-1] > 2.001)] == 0.0)


# --- two dimensions


def heated_section(
    y: Array, thickness: Array, band: tuple[float, float], heat_w_mm: float, time_s: float
) -> Array:
    """Rise (ny, nz) of the full section, linear triangles, heat on the upper face; insulated.

    Assembled here from the weak form, with none of the planner's code; 24 layers, 150 steps of
    the two-stage L-stable method. Against four times the layers and steps it moves by 0.05 %.
    """
    layers, steps = 24, 150
    rows = layers + 1
    nodes_y = np.repeat(y, rows)
    nodes_z = (thickness[:, np.newaxis] / 2.0 * np.linspace(-1.0, 1.0, rows)).ravel()
    first = (np.arange(y.size - 1)[:, np.newaxis] * rows + np.arange(layers)).ravel()
    triangles = np.concatenate(
        [
            np.stack([first, first + rows, first + rows + 1], axis=1),
            np.stack([first, first + rows + 1, first + 1], axis=1),
        ]
    )
    py, pz = nodes_y[triangles], nodes_z[triangles]
    by = np.roll(pz, -1, axis=1) - np.roll(pz, 1, axis=1)
    bz = np.roll(py, 1, axis=1) - np.roll(py, -1, axis=1)
    area = np.abs(np.sum(py * by, axis=1)) / 2.0
    stiff = by[:, :, np.newaxis] * by[:, np.newaxis] + bz[:, :, np.newaxis] * bz[:, np.newaxis]
    stiff *= (K * 1e-3 / (4.0 * area))[:, np.newaxis, np.newaxis]
    mass = VOLUMETRIC / 12.0 * area[:, np.newaxis, np.newaxis] * (np.ones((3, 3)) + np.eye(3))
    where = (np.repeat(triangles, 3, axis=1).ravel(), np.tile(triangles, (1, 3)).ravel())
    size = (nodes_y.size, nodes_y.size)
    stiffness = sparse.csc_matrix((stiff.ravel(), where), size)
    capacity = sparse.csc_matrix((mass.ravel(), where), size)
    load = np.zeros(nodes_y.size)
    for n in range(y.size - 1):
        low, high = max(y[n], band[0]), min(y[n + 1], band[1])
        if high > low:
            heat = heat_w_mm * (high - low) / (band[1] - band[0])
            share = ((low + high) / 2.0 - y[n]) / (y[n + 1] - y[n])
            load[n * rows + layers] += heat * (1.0 - share)
            load[(n + 1) * rows + layers] += heat * share
    step, gamma = time_s / steps, 1.0 - np.sqrt(0.5)
    factor = splu(sparse.csc_matrix(capacity + gamma * step * stiffness))
    rise = np.zeros(nodes_y.size)
    for _ in range(steps):
        first_rate = factor.solve(load - stiffness @ rise)
        middle = rise + (1.0 - gamma) * step * first_rate
        rise = middle + gamma * step * factor.solve(load - stiffness @ middle)
    return rise.reshape(y.size, rows)


def test_two_dimensional_rival_is_right_where_the_answer_is_known() -> None:
    # Source: Carslaw and Jaeger, paragraph 3.8: plate heated all over one face, Fo = 0.5:
    # faces 0.831876 and 0.3347907 times q b/k. Here b 1, q 1. To a fifth of a per cent, a tenth
    # of the least difference that the rival is used to judge.
    y = np.linspace(0.0, 5.0, 101)
    rise = heated_section(y, np.ones(101), (0.0, 5.0), 5.0, 0.5 / DIFFUSIVITY)
    np.testing.assert_allclose(rise[:, -1] * K * 1e-3, 0.831876, rtol=2e-3)
    np.testing.assert_allclose(rise[:, 0] * K * 1e-3, 0.3347907, rtol=2e-3)


@pytest.mark.parametrize("depth_mm", [0.0, 0.12])
@pytest.mark.parametrize("time_s", [0.05, 0.1, 0.2, 0.5])
def test_fin_and_plate_excess_err_little_and_to_the_hot_side_of_two_dimensions(
    time_s: float, depth_mm: float
) -> None:
    # Property: rivals agree. 25 degrees, edge 0.05 mm, 3 mm stock, heated on face A, before and
    # after hollowing. The fin puts its heat along y where the steel is a little longer, so it is
    # the hotter: the edge by 2 to 8 % (most when it has hardly warmed), the face by 1 to 4 %.
    mesh = FinMesh.graded(14.0, FROM, TO)
    y = mesh.centres_mm
    section = FinOperator.build(mesh.faces_mm, ground(y, depth_mm), *STEEL)
    fin = section.advance(np.zeros_like(y), mesh.band_flux(TO - FROM, FROM, TO), time_s)
    lines = np.unique(np.concatenate([mesh.faces_mm, y]))
    rise = heated_section(lines, ground(lines, depth_mm), (FROM, TO), TO - FROM, time_s)

    assert 1.0 < section.edge(fin) / rise[0].mean() < 1.09
    mean = np.interp(y, lines, np.trapezoid(rise, np.linspace(0.0, 1.0, 25), axis=1))
    assert np.abs(fin - mean).max() < 0.04 * mean.max()

    under_wheel = (y > FROM) & (y < TO)
    thickness = ground(y, depth_mm)
    excess = thickness / (K * 1e-3) * plate_face_excess(DIFFUSIVITY * time_s / thickness**2)
    assert 1.0 < (fin + excess)[under_wheel].max() / rise[:, -1].max() < 1.04


# --- passes


def test_pulses_by_hand() -> None:
    # By hand: L 80, wheel 20, run-off 10, feed 50: a pass takes (80 + 20 + 20)/50 = 2.4 s. The
    # leading end reaches the heel after 10/50, the middle after 50/50, the tip after 90/50; the
    # leading 5 mm pass over in 0.1 s. Pause 1 s. The second pass comes from the tip.
    pulses = pass_pulses([0.0, 40.0, 80.0], 80.0, 20.0, 5.0, 10.0, 50.0, 3, pause_s=1.0)
    np.testing.assert_allclose(
        pulses.start_s, [[0.2, 1.0, 1.8], [5.2, 4.4, 3.6], [7.0, 7.8, 8.6]], rtol=1e-12
    )
    np.testing.assert_allclose(pulses.end_s - pulses.start_s, 0.1, rtol=1e-9)
    np.testing.assert_allclose(pulses.pass_start_s, [0.0, 3.4, 6.8])
    np.testing.assert_allclose(pulses.pass_end_s, [2.4, 5.8, 9.2])
    assert pulses.finish_s == pytest.approx(10.2)


def test_ends_are_heated_twice_in_a_row() -> None:
    # By hand: between the two heatings of the tip lie the rest of the wheel's width, twice the
    # run-off and the pause: (20 - 5 + 20)/50 + 1 = 1.7 s; at the heel a whole stroke more.
    pulses = pass_pulses([0.0, 40.0, 80.0], 80.0, 20.0, 5.0, 10.0, 50.0, 4, pause_s=1.0)
    gaps = pulses.start_s[1:] - pulses.end_s[:-1]
    np.testing.assert_allclose(gaps[:, 2], [1.7, 1.7 + 160 / 50, 1.7], rtol=1e-9)
    np.testing.assert_allclose(gaps[:, 0], [1.7 + 160 / 50, 1.7, 1.7 + 160 / 50], rtol=1e-9)
    np.testing.assert_allclose(gaps[:, 1], 1.7 + 80 / 50, rtol=1e-9)


def test_pulses_started_from_the_tip_are_the_mirror_image() -> None:
    stations = np.array([0.0, 13.0, 80.0])
    feeds = [50.0, 40.0, 30.0]
    ahead = pass_pulses(stations, 80.0, 20.0, [5.0, 6.0, 7.0], 10.0, feeds, 3, pause_s=[1, 2, 3])
    back = pass_pulses(
        80.0 - stations,
        80.0,
        20.0,
        [5.0, 6.0, 7.0],
        10.0,
        feeds,
        3,
        pause_s=[1, 2, 3],
        first_towards_tip=False,
    )
    np.testing.assert_allclose(back.start_s, ahead.start_s, rtol=1e-12)
    np.testing.assert_allclose(back.end_s, ahead.end_s, rtol=1e-12)
    assert back.finish_s == ahead.finish_s


def three_stations(passes: int, pause_s: float = 0.0) -> PassPulses:
    return pass_pulses([0.0, 40.0, 80.0], 80.0, 20.0, 8.0, 10.0, 60.0, passes, pause_s=pause_s)


def test_tip_is_hottest_on_the_way_back_and_heel_after_the_next_turn(
    knife: FinOperator, flux: Array
) -> None:
    # Property: in the second pass the tip has had the shortest pause, in the third the heel;
    # the first pass treats all alike.
    heat = heat_of_passes(knife, flux, three_stations(3))
    after = knife.edge(heat.after_k)
    np.testing.assert_allclose(after[0], after[0, 0], rtol=1e-9)
    assert after[1, 2] > after[1, 1] > after[1, 0]
    assert after[2, 0] > after[2, 1] > after[2, 2]


def test_schedule_is_its_intervals_one_after_the_other(mesh: FinMesh, flux: Array) -> None:
    # Property: the march against single steps written out, sections deepening pass by pass.
    y = mesh.centres_mm
    stack = FinOperator.build(
        mesh.faces_mm, np.stack([ground(y, 0.05 * n) for n in range(3)]), *STEEL, 20.0, 20.0, 1e3
    )
    pulses = three_stations(3, pause_s=2.0)
    fluxes = flux * np.array([[1.0], [0.8], [0.3]])
    heat = heat_of_passes(stack, fluxes, pulses, theta=5.0)
    for station in range(3):
        rise = np.full_like(y, 5.0)
        history = []
        for number in range(3):
            section = stack.section(number)
            np.testing.assert_allclose(heat.before_k[number, station], rise, rtol=1e-9)
            start, end = pulses.start_s[number, station], pulses.end_s[number, station]
            until = pulses.start_s[number + 1, station] if number < 2 else pulses.finish_s
            hot = section.trace(rise, fluxes[number], np.linspace(0.0, end - start, 400))
            cold = section.trace(hot[-1], 0.0 * flux, np.linspace(0.0, until - end, 8000))
            history.append(max(section.edge(hot).max(), section.edge(cold).max()))
            rise = cold[-1]
        np.testing.assert_allclose(heat.end_k[station], rise, rtol=1e-9)
        np.testing.assert_allclose(heat.edge_peak_k[:, station], history, rtol=2e-4)


def test_schedule_conserves_heat_and_keeps_its_histories_in_order(
    knife: FinOperator, flux: Array
) -> None:
    # Property: energy over the whole schedule, and histories that hold the peaks.
    pulses = three_stations(12, pause_s=0.5)
    heat = heat_of_passes(knife, flux, pulses)
    held = knife.energy_j_mm(heat.end_k)
    lost = (heat.film_loss_j_mm + heat.clamp_loss_j_mm).sum(axis=0)
    np.testing.assert_allclose(heat.heat_in_j_mm.sum(axis=0), 12 * 8.0 * 8.0 / 60.0, rtol=1e-9)
    np.testing.assert_allclose(held + lost, heat.heat_in_j_mm.sum(axis=0), rtol=1e-6)
    assert heat.time_s.shape == heat.edge_k.shape == heat.hottest_k.shape
    assert np.all(np.diff(heat.time_s, axis=1) >= 0.0)
    np.testing.assert_allclose(heat.time_s[:, -1], pulses.finish_s)
    assert np.all(heat.hottest_k >= heat.edge_k)
    np.testing.assert_allclose(heat.edge_k.max(axis=1), heat.edge_peak_k.max(axis=0), rtol=5e-3)
    assert np.all(heat.edge_peak_k.max(axis=0) >= heat.edge_k.max(axis=1) - 1e-9)
    # Warm passes add up: in air the blade keeps its heat, so every pass pair is hotter.
    assert np.all(np.diff(heat.edge_peak_k[::2], axis=0) > 0.0)


def test_longer_pauses_cool_the_edge(knife: FinOperator, flux: Array) -> None:
    quick = heat_of_passes(knife, flux, three_stations(8))
    slow = heat_of_passes(knife, flux, three_stations(8, pause_s=20.0))
    assert np.all(slow.edge_peak_k[-1] < quick.edge_peak_k[-1])


def test_worked_example_of_the_documentation() -> None:
    # Pinned: the figures of docs/heat.md, section 3. By hand: removed area 2/3 * 4 * 0.01 mm2,
    # so 0.85 * 40 * 0.026667 = 0.906667 J per mm of edge and pass.
    mesh = FinMesh.graded(CLAMP, FROM, TO)
    thickness = np.stack([ground(mesh.centres_mm, 0.01 * n) for n in range(1, 11)])
    sections = FinOperator.build(mesh.faces_mm, thickness, *STEEL, 15.0, 15.0, 3000.0)
    per_pass = 0.85 * 40.0 * (2.0 / 3.0 * 4.0 * 0.01)
    flux = mesh.band_flux(per_pass * 60.0 / 8.0, FROM, TO)
    heat = heat_of_passes(sections, flux, three_stations(10))
    np.testing.assert_allclose(heat.heat_in_j_mm, 0.906667, rtol=1e-6)
    np.testing.assert_allclose(heat.edge_peak_k[0], 44.0, atol=0.5)
    np.testing.assert_allclose(heat.edge_peak_k[-1], [89.0, 93.0, 105.0], atol=0.5)
    # Property: all the heat of ten passes in the steel out to 7 mm would be this mean rise.
    near = (mesh.centres_mm < 7.0) * thickness[-1] * mesh.widths_mm
    assert heat.edge_peak_k.max() < 10.0 * per_pass / (VOLUMETRIC * near.sum())


# --- refused


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: FinMesh(np.array([0.0, 1.0, 1.0])), "rise from 0"),
        (lambda: FinMesh(np.array([0.1, 1.0, 2.0])), "rise from 0"),
        (lambda: FinMesh.graded(10.0, 2.0, 12.0), r"contact_to_mm = 12.0 is outside \(0, 10\]"),
        (lambda: FinMesh.graded(10.0, 2.0, 2.0), "contact_from_mm = 2.0"),
        (lambda: FinMesh.graded(10.0, 1.0, 2.0, growth=-0.1), "growth = -0.1"),
        (lambda: FinMesh.graded(10.0, 1.0, 2.0).band_flux(1.0, 3.0, 3.0), "band width = 0.0"),
        (lambda: FinMesh.graded(10.0, 1.0, 2.0).band_flux(1.0, 3.0, 11.0), "to_mm = 11.0"),
        (lambda: FinOperator.build([0, 1, 2], [1.0, 0.0], *STEEL), "thickness_mm = 0.0"),
        (lambda: FinOperator.build([0, 1, 2], [1.0], *STEEL), r"\(1,\) does not fit 2 cells"),
        (lambda: FinOperator.build([0, 1, 2], [1.0, 1.0], 0, 1, 1), "conductivity_w_mk = 0.0"),
        (lambda: FinOperator.build([0, 1, 2], [1, 1], *STEEL, -1.0), "film_a_w_m2k = -1.0"),
        (
            lambda: pass_pulses([81.0], 80, 20, 5, 10, 50, 2),
            r"station_mm = 81.0 is outside \[0, 80",
        ),
        (lambda: pass_pulses([1.0], 80, 20, 21, 10, 50, 2), "active_width_mm = 21.0"),
        (lambda: pass_pulses([1.0], 80, 20, 5, 10, 0, 2), "feed_mm_s = 0.0"),
        (lambda: pass_pulses([1.0], 80, 20, 5, 10, 50, 0), "passes = 0.0"),
    ],
)
def test_values_out_of_range_are_named(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_durations_below_zero_and_wrong_stacks_are_refused(
    knife: FinOperator, mesh: FinMesh, flux: Array
) -> None:
    with pytest.raises(ValueError, match=r"duration_s = -1.0"):
        knife.advance(flux, flux, -1.0)
    with pytest.raises(ValueError, match=r"steps = 0.0"):
        knife.advance_implicit(flux, flux, 1.0, 0)
    stack = FinOperator.build(mesh.faces_mm, np.stack([ground(mesh.centres_mm)] * 2), *STEEL)
    with pytest.raises(ValueError, match="2 sections do not fit 3 passes"):
        heat_of_passes(stack, flux, three_stations(3))
    overlap = PassPulses(
        start_s=np.array([[0.0], [1.0]]),
        end_s=np.array([[1.5], [2.0]]),
        pass_start_s=np.array([0.0, 1.0]),
        pass_end_s=np.array([1.5, 2.0]),
        finish_s=3.0,
    )
    with pytest.raises(ValueError, match=r"time between heatings = -0\.5"):
        heat_of_passes(knife, flux, overlap)
