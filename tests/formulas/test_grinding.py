"""Speeds, power and forces against published worked examples."""

import pytest

from planner.formulas import grinding

HP_W = 745.69987158227022  # Source: 550 ft lbf/s exactly, international foot and pound.
IN3_MM3 = 25.4**3
LBF_N = 4.4482216152605


@pytest.mark.parametrize(
    ("diameter", "rpm", "speed"),
    [
        # Source: v_s = pi d n / 60000, recomputed.
        (254, 1725, 22.9414804),
        (150, 3450, 27.0962366),
        (101.6, 3450, 18.3531843),
        (914.4, 300, 14.3633616),
    ],
)
def test_surface_speed_matches_recomputed_values(diameter, rpm, speed):
    assert grinding.surface_speed(diameter, rpm) == pytest.approx(speed, rel=1e-8)
    assert grinding.shaft_speed(diameter, speed) == pytest.approx(rpm, rel=1e-8)


@pytest.mark.parametrize(("inches", "printed"), [(6, 1570), (10, 2618)])
def test_surface_speed_matches_printed_trade_chart(inches, printed):
    # Source: trade surface-speed chart, ft/min at 1000 rev/min; the chart truncates, so within 1.
    feet = grinding.surface_speed(inches * 25.4, 1000) * 60 / 0.3048
    assert feet == pytest.approx(printed, abs=1.0)


def test_speed_class_50_on_a_200_mm_wheel():
    # Source: n = 60000 v/(pi d), recomputed: 4774.65 rev/min.
    assert grinding.shaft_speed(200, 50) == pytest.approx(4774.64829, rel=1e-8)


def test_surface_grinding_example_of_kalpakjian_and_schmid():
    # Source: Kalpakjian & Schmid, Manufacturing Engineering and Technology, surface-grinding
    # example: D 10 in, 4000 rpm, width 1 in, depth 0.002 in, feed 60 in/min, u 15 hp min/in3,
    # F_n = 1.3 F_c. A reprint gives 57 and 74 lbf; its own 1.8 hp make 5.67 and 7.37
    # (docs/sources.md, errata).
    u = 15 * HP_W * 60 / IN3_MM3
    area = 1 * 0.002 * 25.4**2
    feed = 60 * 25.4 / 60
    power = grinding.grinding_power(u, area, feed)
    assert power == pytest.approx(1.8 * HP_W, rel=1e-9)
    tangential = grinding.tangential_force(power, grinding.surface_speed(254, 4000))
    assert tangential / LBF_N == pytest.approx(5.67228217, rel=1e-8)
    normal = grinding.normal_force(tangential, 1 / 1.3)
    assert normal / LBF_N == pytest.approx(7.37396682, rel=1e-8)


def test_force_per_area_is_the_three_relations_together():
    # By hand: 40 * 60 / (24 * 0.4) = 250 N/mm2; times 0.05 mm2 = 12.5 N.
    assert grinding.normal_force_per_area(40, 60, 24, 0.4) * 0.05 == pytest.approx(12.5)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: grinding.surface_speed(0, 100), "diameter_mm"),
        (lambda: grinding.grinding_power(-1, 1, 1), "specific_energy_j_mm3"),
        (lambda: grinding.tangential_force(1, 0), "surface_speed_m_s"),
        (lambda: grinding.normal_force(1, 0), "force_ratio"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call, name):
    with pytest.raises(ValueError, match=name):
        call()
