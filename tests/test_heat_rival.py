"""The temperatures of whole schedules, by another solver: the limits are kept there too.

The rival is the fin of docs/heat.md on an even mesh of its own, in time by scipy's BDF, with the
section as straight lines and a circle, the contact times counted from the stroke, all worked out
here from the job and the plan's passes.
"""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from planner.inputs.load import load_pair
from planner.inputs.steels import steel_of
from planner.inputs.tables import load_table
from planner.plan import plan_job

ROOT = Path(__file__).parent.parent
CELLS = 240


def _half_thickness(y, beta, half, radius, middle, depth):
    """Height of one ground face: the flat bevel, the flank, the wheel's circle, the lowest."""
    flat = np.minimum(y * np.tan(beta), half)
    if depth <= 0:
        return flat
    cy = middle * math.cos(beta) - (radius - depth) * math.sin(beta)
    cz = middle * math.sin(beta) + (radius - depth) * math.cos(beta)
    under = radius**2 - (y - cy) ** 2
    return np.minimum(flat, cz - np.sqrt(np.maximum(under, 0.0)))


def rival_soak_c(plan, station: int) -> list[float]:
    """Highest mean temperature of the section in each pass of set-up A at heel, middle or tip."""
    setup, shop = plan.setups[0], plan.machine.model
    blade, wheel = plan.job.model.blade, plan.wheel
    length, face, relief = blade.edge.length_mm, plan.section.faces[0], setup.relief
    other = plan.section.faces[1]
    k = plan.steel.conductivity_w_mk * 1e-3
    heat_capacity = plan.steel.density_kg_m3 * plan.steel.specific_heat_j_kgk * 1e-9
    kind = {"dry": "moved_air", "mist": "mist", "flood": "flood"}[shop.coolant.kind]
    film = load_table("film_coefficients")["films"][kind]["typical_w_m2k"] * 1e-6
    clamp = shop.fixture.jaws.from_edge_mm
    contact = shop.fixture.clamp_conductance_w_m2k * 1e-6
    dy = clamp / CELLS
    y = (np.arange(CELLS) + 0.5) * dy
    radius = plan.section.wheel_radius_mm
    half = blade.section.thickness_mm / 2
    theta = np.zeros(CELLS)
    x = (0.0, length / 2, length)[station]
    stroke = length + wheel.width_mm + 2 * shop.fixture.run_off_mm
    hottest, clock, last_end = [], 0.0, None
    for number, (one, pause) in enumerate(zip(setup.passes, setup.marched.pauses, strict=True)):
        if pause is not None:
            clock += pause.seconds
        depth = one.reached_depth_mm
        thick = _half_thickness(y, math.radians(face.angle_deg), half, radius,
                                relief.middle_mm, depth)  # fmt: skip
        thick = thick + _half_thickness(y, math.radians(other.angle_deg), half, 1.0, 0.0, 0.0)
        thick = np.maximum(thick, 1e-5)
        between = (thick[1:] + thick[:-1]) / 2
        rpm = shop.spindle.speed_rpm
        active = min(1.0 + one.feed_mm_min / rpm, wheel.width_mm)
        chord = 2 * math.sqrt(depth * (2 * radius - depth))
        cosine = math.cos(math.radians(face.angle_deg))
        low, high = (relief.middle_mm - chord / 2) * cosine, (relief.middle_mm + chord / 2) * cosine
        inside = np.clip(np.minimum(y + dy / 2, high) - np.maximum(y - dy / 2, low), 0, None) / dy
        source = 0.85 * one.power_w / active / (high - low) * inside
        speed = one.feed_mm_min / 60
        entered = x if number % 2 == 0 else length - x
        start = clock + (shop.fixture.run_off_mm + entered) / speed

        def slope(_t, th, q, thick=thick, between=between):
            flow = k * between * np.diff(th) / dy
            rate = -2 * film * th * dy + q * dy
            rate[:-1] += flow
            rate[1:] -= flow
            series = 1 / (1 / (contact * thick[-1]) + dy / (2 * k * thick[-1]))
            rate[-1] -= series * th[-1]
            return rate / (heat_capacity * thick * dy)

        if last_end is not None:
            theta = solve_ivp(slope, (0, start - last_end), theta, "BDF", args=(0 * source,),
                              rtol=1e-6, atol=1e-6).y[:, -1]  # fmt: skip
        run = solve_ivp(slope, (0, active / speed), theta, "BDF", args=(source,),
                        rtol=1e-6, atol=1e-6, max_step=active / speed / 20)  # fmt: skip
        theta, last_end = run.y[:, -1], start + active / speed
        hottest.append(shop.coolant.ambient_c + float(run.y.max()))
        clock += max(one.time_s, stroke / speed)
    return hottest


@pytest.mark.parametrize("name", ["straight-knife", "detail-knife"])
def test_another_solver_finds_the_same_temperatures_and_keeps_the_limit(name):
    job, machine = load_pair(ROOT / "jobs" / f"{name}.yaml")
    plan = plan_job(job, machine, steel_of(job.model.steel))
    setup = plan.setups[0]
    for station in range(3):
        rival = rival_soak_c(plan, station)
        ours = [t.by_station_c[station] for t in setup.marched.passes]
        ambient = machine.model.coolant.ambient_c
        for one, other in zip(ours, rival, strict=True):
            # 2 % of the rise: two meshes, two ways in time.
            assert one - ambient == pytest.approx(other - ambient, rel=0.02, abs=0.3)
            assert other <= setup.marched.soak_limit_c * 1.01


def test_the_ends_are_hit_twice_in_a_row():
    job, machine = load_pair(ROOT / "jobs" / "straight-knife.yaml")
    plan = plan_job(job, machine, steel_of(job.model.steel))
    second = plan.setups[0].marched.passes[1].by_station_c
    # The second pass comes back from the tip, where the first has just been.
    assert second[2] > second[1] > second[0]
