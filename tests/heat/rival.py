"""The fin of docs/heat.md once more: own section, own mesh, own clock, implicit steps with scipy.

Only the figures of job, machine, steel and of the plan's passes are read.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.linalg import solve_banded

from planner.inputs.tables import load_table

CELLS = 320
GAMMA = 2 - math.sqrt(2)


def ground_half(y, angle_deg, half_stock, radius, middle, depth):
    """Height of one face above the centre plane: bevel, flank and the wheel's circle, the least."""
    angle = math.radians(angle_deg)
    height = np.minimum(y * math.tan(angle), half_stock)
    if depth <= 0:
        return height
    out = radius - depth  # the wheel's centre stands so far off the face
    centre_y = middle * math.cos(angle) - out * math.sin(angle)
    centre_z = middle * math.sin(angle) + out * math.cos(angle)
    below = np.sqrt(np.maximum(radius**2 - (y - centre_y) ** 2, 0.0))
    return np.minimum(height, np.where(below > 0, centre_z - below, np.inf))


@dataclass
class Lived:
    """What one station lived through."""

    hottest_c: list[float] = field(default_factory=list)
    """Highest of the section in each pass, while the wheel is on it and until the next."""
    time_s: list[float] = field(default_factory=list)
    highest_c: list[float] = field(default_factory=list)
    """Highest of the section at each moment of ``time_s``."""


class Fin:
    """The section of one set-up, stepped through time."""

    def __init__(self, plan, setup):
        shop, section = plan.machine.model, plan.section
        self.plan, self.setup, self.shop = plan, setup, shop
        jaws, width = shop.fixture.jaws, plan.job.model.blade.section.width_mm
        held = shop.fixture.overhang_mm or (jaws.from_edge_mm if jaws else None)
        self.clamp = shop.fixture.clamp_conductance_w_m2k * 1e-6 if held else 0.0
        # Cells that grow from the edge, where the steel is thin.
        share = np.linspace(0, 1, CELLS + 1)
        self.faces = (held or width) * (0.2 * share + 0.8 * share**2)
        self.y, self.dy = (self.faces[1:] + self.faces[:-1]) / 2, np.diff(self.faces)
        steel = plan.steel
        self.k = steel.conductivity_w_mk * 1e-3
        self.c = steel.density_kg_m3 * steel.specific_heat_j_kgk * 1e-9
        table = load_table("film_coefficients")["films"]
        kind = {"dry": "moved_air", "mist": "mist", "flood": "flood"}[shop.coolant.kind]
        self.film = 1e-6 * (shop.coolant.film_w_m2k or table[kind]["typical_w_m2k"])
        self.wet = 1e-6 * table["flood"]["typical_w_m2k"]
        self.section, self.ambient = section, shop.coolant.ambient_c
        done = [s.relief for s in plan.setups[: plan.setups.index(setup)]]
        self.other = {r.face: r.depth_mm for r in done}

    def thickness(self, depth):
        depths = {**self.other, self.setup.relief.face: depth}
        both = np.zeros(CELLS)
        for face in self.section.faces:
            relief = self.section.relief(face.face)
            both += self.section.edge_thickness_mm / 2 + ground_half(
                self.y,
                face.angle_deg,
                (self.section.thickness_mm - self.section.edge_thickness_mm) / 2,
                self.section.wheel_radius_mm,
                relief.middle_mm if relief else 0.0,
                depths.get(face.face, 0.0),
            )
        return np.maximum(both, 1e-6)

    def run(self, theta, depth, flux, seconds, film, steps):
        """TR-BDF2 steps of growing length; yields the field after each. Bank et al., 1985."""
        t = self.thickness(depth)
        at = t[:-1] + (t[1:] - t[:-1]) * self.dy[:-1] / (self.dy[:-1] + self.dy[1:])
        g = self.k * at / np.diff(self.y)
        capacity = self.c * t * self.dy
        loss = 2 * film * self.dy
        if self.clamp:
            loss[-1] += 1 / (1 / (self.clamp * t[-1]) + self.dy[-1] / 2 / (self.k * t[-1]))
        main = loss.copy()
        main[:-1] += g
        main[1:] += g

        def slope(field):
            flow = g * np.diff(field)
            rate = flux * self.dy - loss * field
            rate[:-1] += flow
            rate[1:] -= flow
            return rate

        def solve(right, h):
            bands = np.zeros((3, CELLS))
            bands[0, 1:], bands[1], bands[2, :-1] = -h * g, capacity + h * main, -h * g
            return solve_banded((1, 1), bands, right)

        clock = 0.0
        for step in seconds * np.diff(np.linspace(0, 1, steps + 1) ** 2):
            h = GAMMA * step / 2
            middle = solve(capacity * theta + h * (slope(theta) + flux * self.dy), h)
            blend = (middle / GAMMA - theta * (1 - GAMMA) ** 2 / GAMMA) / (2 - GAMMA)
            h = (1 - GAMMA) / (2 - GAMMA) * step
            theta = solve(capacity * blend + h * flux * self.dy, h)
            clock += step
            yield clock, theta

    def way(self, blade, x, one, number):
        """From the start of a pass to a place of one blade: mm with the wheel down, s in hops.

        Legs are stretches between empty stations, run end to end; the wheel leads by half.
        """
        row, fixture, wheel = self.shop.fixture.row, self.shop.fixture, self.plan.wheel
        length = self.plan.job.model.blade.edge.length_mm
        stations = self.setup.row.stations
        places = [0.0] if row is None else [row.positions_mm[n - 1] for n in stations]
        legs = [[places[0], places[0] + length]]
        for before, here, at in zip(stations[:-1], stations[1:], places[1:], strict=True):
            if here - before > 1:
                legs.append([at, at])
            legs[-1][1] = at + length
        beside = wheel.width_mm + 2 * fixture.run_off_mm
        speed = one.feed_mm_min / 60
        axes = {a.role: a for a in self.shop.axes.values()}
        infeed, traverse = axes["infeed"], axes["traverse"]
        lift = fixture.clearance_mm + self.setup.relief.depth_mm

        def move(distance, feed, acceleration):
            feed /= 60
            if distance < feed**2 / acceleration:
                return 2 * math.sqrt(distance / acceleration)
            return distance / feed + feed / acceleration

        def hop(gap):
            return (
                move(lift, infeed.max_feed_mm_min, infeed.acceleration_mm_s2)
                + move(gap - beside, traverse.max_feed_mm_min, traverse.acceleration_mm_s2)
                + move(lift, min(200, infeed.max_feed_mm_min), infeed.acceleration_mm_s2)
                + speed / traverse.acceleration_mm_s2
            )

        at = places[blade] + (x if self.setup.frame.x_per_traverse > 0 else length - x)
        if number % 2:
            legs, at = [[-b, -a] for a, b in reversed(legs)], -at
        run = hops = 0.0
        for leg, (low, high) in enumerate(legs):
            if at <= high:
                return run + at - low, hops, sum(b - a + beside for a, b in legs)
            run += high - low + beside
            hops += hop(legs[leg + 1][0] - high)
        raise AssertionError("past the row")

    def live(self, station, pauses, steps=24, blade=0):
        """One of heel (0), middle (1), tip (2) through all passes with these pauses before them.

        ``blade`` counts the filled stations of a row.
        """
        plan, fixture, wheel = self.plan, self.shop.fixture, self.plan.wheel
        relief, cosine = self.setup.relief, None
        length = plan.job.model.blade.edge.length_mm
        face = self.section.face(relief.face)
        cosine, radius = math.cos(math.radians(face.angle_deg)), self.section.wheel_radius_mm
        x = (0.0, length / 2, length)[station]
        clock, left_at, theta, lived = 0.0, 0.0, np.zeros(CELLS), Lived()

        def cool(theta, seconds, film=self.film):
            for moment, after in self.run(theta, before_depth, no_flux, seconds, film, steps):
                lived.time_s.append(left_at + moment)
                lived.highest_c.append(self.ambient + after.max())
                theta = after
            return theta, left_at + seconds

        no_flux, before_depth = np.zeros(CELLS), 0.0
        for number, (one, pause) in enumerate(zip(self.setup.passes, pauses, strict=True)):
            if pause is not None:
                if pause.kind == "dip":
                    theta, left_at = cool(theta, clock - left_at)
                    theta, left_at = cool(theta, pause.seconds, self.wet)
                clock += pause.seconds
            depth = max(one.reached_depth_mm, 1e-6)
            speed = one.feed_mm_min / 60
            rpm = self.shop.spindle.speed_rpm
            active = wheel.active_width_mm or 1.0 + one.feed_mm_min / rpm
            active = min(active, wheel.width_mm)
            entered, hopped, stroke = self.way(blade, x, one, number)
            begins = clock + (fixture.run_off_mm + entered) / speed + hopped
            if number:
                theta, left_at = cool(theta, begins - left_at)
            half = math.sqrt(depth * (2 * radius - depth))
            low, high = (cosine * (relief.middle_mm + s * half) for s in (-1, 1))
            low, high = max(low, 0.0), min(high, self.faces[-1])
            covered = np.minimum(self.faces[1:], high) - np.maximum(self.faces[:-1], low)
            share = wheel.heat_share or 0.85
            flux = share * one.power_w / active / (high - low) * np.maximum(covered, 0) / self.dy
            left_at, hottest = begins, 0.0
            for moment, after in self.run(theta, depth, flux, active / speed, self.film, steps):
                lived.time_s.append(begins + moment)
                lived.highest_c.append(self.ambient + after.max())
                theta, hottest = after, max(hottest, after.max())
            lived.hottest_c.append(self.ambient + float(hottest))
            left_at, before_depth = begins + active / speed, depth
            clock += max(one.time_s, stroke / speed)
        return lived
