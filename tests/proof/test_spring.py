"""The springs behind a pass: plate, contact wheel, threshold force and a worn belt."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.proof import bending
from planner.proof.bending import plate_compliances_mm_n, strip_points
from planner.proof.build_case import build_case
from planner.proof.rules import Rule
from planner.proof.stiffness import Stiffness

E = bending.YOUNGS_MODULUS_N_MM2


def even_plate(thickness, overhang):
    return np.full_like(strip_points(overhang)[0], thickness)


def test_a_plate_loaded_along_its_whole_edge_is_a_wide_beam():
    # By hand: a cantilever in plane strain, f = 4 a^3 (1 - nu^2) / (E L t^3), nearly met where the
    # edge is long: 4 * 1000 * 0.91 / (205 000 * 200 * 1) = 8.878e-5 mm/N; the free ends, in plane
    # stress, add a little.
    sheet = even_plate(1.0, 10.0)
    found = plate_compliances_mm_n(sheet, 10.0, 200.0, (0.0, 1e-3), [(0.0, 200.0)])
    wide = 4 * 10**3 * (1 - 0.3**2) / (E * 200 * 1.0**3)
    assert found[0] == pytest.approx(wide, rel=0.02)
    assert found[0] > wide


def test_a_narrow_plate_is_a_beam():
    # By hand: 4 a^3 / (E b t^3) = 4 * 8000 / (205 000 * 2 * 1) = 0.0780 mm/N; over about its
    # width the clamp keeps the strip from curving crosswise, which stiffens it by a little.
    strip = even_plate(1.0, 20.0)
    found = plate_compliances_mm_n(strip, 20.0, 2.0, (0.0, 1e-3), [(0.0, 2.0)])
    assert found[0] == pytest.approx(4 * 20**3 / (E * 2), rel=0.02)


def test_a_wedge_is_softer_than_its_root_and_stiffer_than_its_edge():
    y = strip_points(10.0)[0]
    wedge = np.maximum(1.0 - 0.05 * y[::-1], 0.0)  # 0.5 mm at the edge, 1 mm at the clamp
    thin, thick = even_plate(0.5, 10.0), even_plate(1.0, 10.0)
    loads = [(0.0, 10.0), (20.0, 40.0)]
    soft, between, stiff = (
        plate_compliances_mm_n(t, 10.0, 60.0, (0.0, 3.0), loads) for t in (thin, wedge, thick)
    )
    # Property: compliance falls with thickness everywhere; the end of a plate is softer.
    assert (soft > between).all()
    assert (between > stiff).all()
    assert between[0] > between[1]


def test_the_plate_has_converged(monkeypatch):
    y = strip_points(12.0)[0]
    wedge = np.minimum(2 * y * math.tan(math.radians(12.5)), 3.0)
    given = (12.0, 80.0, (1.2, 5.4), [(0.0, 10.0), (30.0, 50.0)])
    found = plate_compliances_mm_n(wedge, *given)
    monkeypatch.setattr(bending, "_ACROSS", 10)
    monkeypatch.setattr(bending, "_ALONG", 36)
    # Property: Ritz approaches from below, and twice the shapes add no more than half a percent.
    finer = plate_compliances_mm_n(wedge, *given)
    assert (finer >= found * (1 - 1e-9)).all()
    assert finer == pytest.approx(found, rel=0.005)


def stiffnesses(prove, name, changes):
    machine = prove.machine(name, changes)
    case = build_case(prove.job(), machine, "B" if "-B" in name else "A", machine.rack[0])
    spring = Stiffness(case, [0.0, 20.0, 40.0, 60.0, 80.0])
    return [spring.at(station, 0.02) for station in range(5)]


def test_a_contact_wheel_s_cover_is_in_series(prove):
    # By hand: 1 / (1/500 + 1/125) = 100 N/mm
    changes = {"rack.0.belt": {"thickness": "1.0 mm", "wheel_stiffness": "125 N/mm"}}
    assert stiffnesses(prove, "small-B.ngc", changes) == pytest.approx([100.0] * 5)


def test_a_blade_that_sticks_out_gives_most_at_its_ends(prove):
    rigid = stiffnesses(prove, "mill-A.ngc", {})
    bending_blade = stiffnesses(prove, "mill-A.ngc", {"fixture.overhang": "12 mm"})
    assert rigid == [2000.0] * 5
    # Property: softer than the machine alone, mirrored, and weaker toward the ends.
    heel, quarter, middle, three, tip = bending_blade
    assert heel < quarter <= middle < 2000.0
    assert (heel, quarter) == (tip, three)


def test_a_long_overhang_leaves_deflection_that_a_short_one_does_not(prove):
    text = prove.text("mill-A.ngc")
    short = prove(
        "mill-A.ngc", text, machine=prove.machine("mill-A.ngc", {"fixture.overhang": "8 mm"})
    )
    long = prove(
        "mill-A.ngc", text, machine=prove.machine("mill-A.ngc", {"fixture.overhang": "120 mm"})
    )
    assert short.ok
    assert Rule.MISSING_SPARK_OUT in [fault.rule for fault in long.faults]
    # Property: the ends of the edge, where the blade is softer, are left higher.
    heel, _, middle, _, tip = long.lands
    assert heel.depth_mm == tip.depth_mm < middle.depth_mm


def test_a_threshold_force_is_never_ground_away(prove):
    # By hand: 3 N / 2000 N/mm = 0.0015 mm stays below the residue of 0.0018 mm that is allowed,
    # 4 N / 2000 N/mm = 0.0020 mm does not, however many spark-out passes follow.
    text = prove.text("mill-A.ngc")
    many = text.replace(" of 6 ", " of 10 ").replace(
        "G1 X-20.0000 F4000.0\nG0",
        "G1 X-20.0000 F4000.0\n"
        + "".join(
            f"(pass {n} of 10 spark-out depth 0.0312)\nG1 X{(100, -20)[n % 2 == 0]} F4000.0\n"
            for n in range(7, 11)
        )
        + "G0",
    )
    for newtons, proves in ((3, True), (4, False)):
        machine = prove.machine("mill-A.ngc", {"rack.0.threshold_force": f"{newtons} N"})
        verdict = prove("mill-A.ngc", many, machine=machine)
        assert verdict.ok == proves
        last = verdict.cuts[-1]
        give = last.commanded_depth_mm - last.reached_depth_mm
        assert give == pytest.approx(newtons / 2000, rel=0.05)
        # Property: the spring carries cutting and rubbing together.
        assert last.normal_force_n == pytest.approx(2000 * give, rel=0.05)


def test_a_wheel_that_presses_less_than_its_threshold_cuts_nothing(prove):
    machine = prove.machine("mill-A.ngc", {"rack.0.threshold_force": "100 N"})
    verdict = prove("mill-A.ngc", prove.text("mill-A.ngc"), machine=machine)
    # By hand: 100 N are reached at 0.05 mm of deflection, deeper than any pass is sent.
    assert {cut.removed_area_mm2 for cut in verdict.cuts} == {0.0}
    assert {lands.depth_mm for lands in verdict.lands} == {0.0}
    # By hand: the first pass presses with 0.008 mm * 2000 N/mm = 16 N.
    assert verdict.cuts[0].normal_force_n == pytest.approx(16.0, abs=0.01)


def test_a_belt_at_the_end_of_its_life_takes_half_as_much_power_again(prove):
    text = prove.text("small-B.ngc")
    belt = {"thickness": "1.0 mm", "drive_diameter": "150 mm", "life": "50 mm3/mm2"}
    sharp, worn = (
        prove(
            "small-B.ngc",
            text,
            machine=prove.machine("small-B.ngc", {"rack.0.belt": {**belt, "worn": w}}),
        )
        for w in (0, 1)
    )
    energies = [v.cuts[0].power_w / v.cuts[0].removed_area_mm2 / 50.0 for v in (sharp, worn)]
    # By hand: 20 J/mm3 sharp, 30 J/mm3 worn; 50 mm/s of traverse.
    assert energies == pytest.approx([20.0, 30.0])
