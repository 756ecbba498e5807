"""Schedules of hot blades against exhaustive search over infeeds, feeds and cooling.

Every sequence of infeeds and feeds is followed, with every pause that may come before a pass; the
only ones left out are those that cannot end sooner than the plan. The blade is a fin of its own:
own section, own cells, own clock, in time by the matrix exponential of scipy. From the planner come
the figures of the small job and of its machine, and the plan that is judged.
"""

import math
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, partial
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.linalg import expm

from planner.heat.choose import choose_schedule
from planner.heat.model import heat_model
from planner.inputs.steels import steel_of
from planner.kinematics.touch_frame import touch_frame
from planner.passes.blade_stiffness import stiffness_for
from planner.passes.conditions import cutting_conditions
from planner.section.target import section_for
from planner.setup_plan import pause_overhead_s
from tests.heat.rival import Fin, ground_half
from tests.samples import a_job, a_machine

MACHINE = {
    "axes__Z__resolution": "0.004 mm",
    "rack__0__infeed": {"rough": "0.013 mm", "finish": "0.005 mm"},
}

AFTER_S = (0.0, 0.1, 0.3)
"""Moments after a contact at which the exhaustive search looks how hot the blade is."""


def small_case(feeds, allowed_mm=0.002, job=(), **machine):
    """A job of few steps of depth, as the planner sees its first set-up."""
    machine = a_machine(**{**MACHINE, **machine})
    job = a_job(**{"relief__land_tolerance": "0.6 mm", **dict(job)})
    wheel, steel = machine.rack[0], steel_of(job.steel)
    section = section_for(job, wheel.diameter_mm / 2)
    relief, length = section.reliefs[0], job.blade.edge.length_mm
    frame = touch_frame(machine, section, relief, length)
    stiffness = stiffness_for(machine, wheel, section, relief, 0.0, length)
    cutting = cutting_conditions(machine, wheel, frame, length, stiffness)
    cutting = replace(cutting, feeds_mm_min=np.array(feeds, float))
    model = heat_model(job, machine, wheel, steel, section, relief, 0.0)
    return Case(job, machine, cutting, model, relief, frame, allowed_mm)


def _trapezoid_s(distance, speed, acceleration):
    # By hand: from rest to rest; too short for the speed, half way up and half way down.
    if distance < speed**2 / acceleration:
        return 2 * math.sqrt(distance / acceleration)
    return distance / speed + speed / acceleration


@dataclass(eq=False)
class Case:
    """One set-up: the planner's inputs, and its figures as this file needs them."""

    job: object
    machine: object
    cutting: object
    model: object
    relief: object
    frame: object
    allowed_mm: float

    @cached_property
    def chosen(self):
        overhead = partial(pause_overhead_s, self.machine)
        depth = self.relief.depth_mm
        return choose_schedule(self.cutting, self.model, depth, self.allowed_mm, overhead)

    @property
    def steps(self):
        return math.floor(self.relief.depth_mm / self.cutting.step_mm + 1e-9)

    @property
    def kind(self):
        if self.machine.fixture.cooling == "air":
            return "dwell"
        return "dip" if self.model.steel.water_dip else "air_pause"

    def pass_s(self, infeed_steps, feed):
        """Time of the infeed and the traverse of a pass."""
        c, infeed = self.cutting, 0.0
        if infeed_steps:
            infeed = _trapezoid_s(
                infeed_steps * c.step_mm, c.infeed_feed_mm_min / 60, c.infeed_acceleration_mm_s2
            )
        return infeed + _trapezoid_s(
            c.traverse_length_mm, feed / 60, c.traverse_acceleration_mm_s2
        )

    def most_steps(self, to):
        """Steps that a pass to this number of steps may take."""
        c = self.cutting
        finish = math.ceil(c.finish_stock_mm / c.step_mm - 1e-9)
        infeed = c.finish_infeed_mm if to > max(self.steps - finish, 0) else c.rough_infeed_mm
        return math.floor(infeed / c.step_mm + 1e-9)

    def flash_limit_c(self, contacts_s):
        """Hollomon & Jaffe with C = 20 and an hour at the soak limit, 50 K under 727 degC."""
        kelvin = self.model.limits.soak_c + 273.15
        return np.minimum(20 * kelvin / (20 + np.log10(contacts_s / 3600)) - 273.15, 677.0)

    def cut(self, commanded, reached, feed):
        """Depth, force and power of passes, by bisection; commanded (n,), reached (n, s)."""
        c, radius = self.cutting, self.cutting.wheel_radius_mm

        def area(depth):
            half = np.arccos(1 - depth / radius)
            return radius**2 * (half - np.sin(half) * np.cos(half))

        deepest = reached.max(axis=1)
        table = c.stiffness
        k = np.stack([np.interp(deepest, table.depth_mm, col) for col in table.n_mm.T], axis=1)
        per_area = c.specific_energy_j_mm3 * feed / 60 / (c.surface_speed_m_s * c.force_ratio)
        commanded = np.broadcast_to(commanded[:, None], reached.shape)
        low, high, start = reached.copy(), np.maximum(commanded, reached), area(reached)
        for _ in range(40):
            middle = (low + high) / 2
            over = per_area * (area(middle) - start) > k * (commanded - middle)
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        removed = area(low) - start
        power = c.specific_energy_j_mm3 * removed * feed / 60
        return low, (per_area * removed).max(axis=1), power.max(axis=1)

    def active_mm(self, feed):
        """Width of the wheel that heats."""
        wheel = self.machine.rack[0]
        turn = feed / (1000 * 60 * self.cutting.surface_speed_m_s / (math.pi * wheel.diameter_mm))
        return min(wheel.active_width_mm or 1.0 + turn, wheel.width_mm)


class Blade:
    """The fin of docs/heat.md once more, on few cells."""

    def __init__(self, case):
        self.case, model = case, case.model
        section, steel = model.section, model.steel
        self.angle, self.radius = section.faces[0].angle_deg, section.wheel_radius_mm
        fixture = case.machine.fixture
        held = fixture.overhang_mm or (fixture.jaws.from_edge_mm if fixture.jaws else None)
        end = held or section.width_mm
        self.clamp = 1e-6 * fixture.clamp_conductance_w_m2k if held else 0.0
        low, high = self.band(case.relief.depth_mm)
        # Cells that grow away from the edge and away from the contact.
        self.faces = np.concatenate([
            low * np.linspace(0, 1, 8)[:-1] ** 1.3,
            np.linspace(low, high, 15)[:-1],
            high + (end - high) * np.linspace(0, 1, 10) ** 1.7,
        ])  # fmt: skip
        self.dy, self.y = np.diff(self.faces), (self.faces[1:] + self.faces[:-1]) / 2
        self.k = steel.conductivity_w_mk * 1e-3
        self.c = steel.density_kg_m3 * steel.specific_heat_j_kgk * 1e-9
        self.diffusivity = self.k / self.c

    def band(self, depth):
        """From where to where the wheel touches, as y."""
        half = math.sqrt(depth * (2 * self.radius - depth))
        cosine = math.cos(math.radians(self.angle))
        return tuple((self.case.relief.middle_mm + s * half) * cosine for s in (-1, 1))

    def thickness(self, depth):
        section = self.case.model.section
        half = section.thickness_mm / 2
        ground = ground_half(
            self.y, self.angle, half, self.radius, self.case.relief.middle_mm, depth
        )
        whole = ground_half(self.y, section.faces[1].angle_deg, half, self.radius, 0.0, 0.0)
        return np.maximum(ground + whole, 1e-6)

    @cache
    def decay(self, key, wet=False):
        """Rate matrix of the section at a depth, as rates and both ways to its modes."""
        t = self.thickness(key * DEPTH_KEY_MM)
        film = 2e-6 * (self.case.model.dip_film_w_m2k if wet else self.case.model.film_w_m2k)
        g = self.k * (t[1:] + t[:-1]) / 2 / np.diff(self.y)
        loss = film * self.dy
        if self.clamp:
            loss[-1] += 1 / (1 / (self.clamp * t[-1]) + self.dy[-1] / 2 / (self.k * t[-1]))
        flow = np.diag(loss)
        for i, one in enumerate(g):
            flow[i : i + 2, i : i + 2] += one * np.array([[1, -1], [-1, 1]])
        root = np.sqrt(self.c * t * self.dy)
        rates, modes = np.linalg.eigh(flow / np.outer(root, root))
        return rates, (modes.T * root), (modes.T / root).T

    @cache
    def contact(self, key, feed):
        """A contact at a depth and feed: what it leaves of the blade's heat, what a watt adds.

        (1 + moments) blocks of cells: at the end of the contact and at the moments after it.
        """
        rates, to_modes, to_cells = self.decay(key)
        matrix = -(to_cells * rates) @ to_modes
        low, high = self.band(max(key * DEPTH_KEY_MM, 1e-6))
        covered = np.minimum(self.faces[1:], high) - np.maximum(self.faces[:-1], low)
        flux = np.maximum(covered, 0) / self.dy / (high - low)
        flux *= self.case.model.share / self.case.active_mm(feed)
        warming = flux / (self.c * self.thickness(key * DEPTH_KEY_MM))
        seconds = self.case.active_mm(feed) / feed * 60
        # The exponential of the system with its source as one more unknown.
        n = len(self.y)
        system = np.zeros((n + 1, n + 1))
        system[:n, :n], system[:n, n] = matrix, warming
        whole = expm(system * seconds)
        keeps, adds = whole[:n, :n], whole[:n, n]
        after = [expm(matrix * s) for s in AFTER_S]
        return np.concatenate([a @ keeps for a in after]), np.concatenate([a @ adds for a in after])

    @cache
    def excess(self, key, feed):
        """Of the ground face over the section's mean for each watt: a plate heated on one face."""
        model, active = self.case.model, self.case.active_mm(feed)
        low, high = self.band(max(key * DEPTH_KEY_MM, 1e-6))
        chord = (high - low) / math.cos(math.radians(self.angle))
        middle = self.case.relief.middle_mm * math.cos(math.radians(self.angle))
        thick = 2 * middle * math.tan(math.radians(self.angle)) + model.section.edge_thickness_mm
        fourier = self.diffusivity * active / feed * 60 / thick**2
        n = np.arange(1, 400)
        rest = np.sum(np.exp(-((n * math.pi) ** 2) * fourier) / n**2) * 2 / math.pi**2
        return model.share / (active * chord) * thick / self.k * (1 / 3 - rest)


DEPTH_KEY_MM = 2.5e-4
"""Sections and contacts are worked out at depths this far apart: 0.1 % of the thickness."""


@dataclass
class Ways:
    """Sequences of passes followed so far, as arrays."""

    at: np.ndarray
    reached: np.ndarray
    theta: np.ndarray
    """(n, 2, c): where the next pass enters, and at the other end, the wheel just gone."""
    left_s: np.ndarray
    """(n, 2): from there to the end of the pass."""
    key: np.ndarray
    spent_s: np.ndarray
    contacts_s: np.ndarray

    def take(self, which):
        return Ways(*(value[which] for value in vars(self).values()))

    def __len__(self):
        return len(self.at)


@dataclass
class Exhaustive:
    """Least time over all sequences of infeeds, feeds and pauses."""

    case: Case
    best_s: float
    """Sequences no quicker than this are left."""
    grid_s: float | None = None
    """Pauses longer by this and its multiples are tried as well."""
    passes: int = 0
    """How many have been followed."""
    sequences: int = 0

    def __post_init__(self):
        self.blade = Blade(self.case)
        c = self.case
        fastest = max(c.cutting.feeds_mm_min)
        self.least_s = [0.0] * (c.steps + 1)
        for at in reversed(range(c.steps)):
            self.least_s[at] = min(
                c.pass_s(n, fastest) + self.least_s[at + n]
                for n in range(1, c.steps - at + 1)
                if n <= c.most_steps(at + n)
            )
        self.least_s = np.array(self.least_s)

    def run(self):
        stations = len(self.case.cutting.stiffness.stations)
        cells = len(self.blade.y)
        start = Ways(
            np.zeros(1, int), np.zeros((1, stations)), np.zeros((1, 2, cells)), np.zeros((1, 2)),
            np.zeros(1, int), np.zeros(1), np.zeros(1),
        )  # fmt: skip
        waiting = [start]
        while waiting:
            ways = waiting.pop()
            if len(ways) > 2000:
                waiting.append(ways.take(slice(2000, None)))
                ways = ways.take(slice(2000))
            ways = ways.take(ways.spent_s + self.least_s[ways.at] < self.best_s - 1e-9)
            if not len(ways):
                continue
            found = [
                one
                for steps in range(self.case.steps + 1)
                for feed in self.case.cutting.feeds_mm_min.tolist()
                if len(one := self.passed(ways, steps, feed))
            ]
            if found:
                joined = zip(*(vars(f).values() for f in found), strict=True)
                following = Ways(*(np.concatenate(column) for column in joined))
                # The deepest last: they are followed first and end soonest.
                waiting.append(following.take(np.argsort(-following.at, kind="stable")))
        return self.best_s

    def passed(self, ways, steps, feed):
        """All ways with one pass more, of these steps and this feed; ended ones are counted."""
        case, blade, cutting = self.case, self.blade, self.case.cutting
        most = np.array([case.most_steps(to) for to in range(case.steps + 1)])
        to = ways.at + steps
        ok = (to <= case.steps) & (to > 0)
        ok &= steps <= most[np.minimum(to, case.steps)]
        cost = case.pass_s(steps, feed)
        to_ok = np.minimum(to, case.steps)
        ok &= ways.spent_s + cost + self.least_s[to_ok] < self.best_s - 1e-9
        ways, to = ways.take(ok), to[ok]
        if not len(ways):
            return ways
        reached, force, power = case.cut(to * cutting.step_mm, ways.reached, feed)
        done = (to == case.steps) & (to * cutting.step_mm - reached.min(axis=1) <= case.allowed_mm)
        rest = self.least_s[to] + np.where((to == case.steps) & ~done, min(self.traverse), 0.0)
        within = (force <= cutting.normal_force_limit_n * (1 + 1e-9)) & (
            power <= cutting.power_limit_w * (1 + 1e-9)
        )
        spare = self.best_s - 1e-9 - ways.spent_s - cost - rest
        ok = within & (spare > 0)
        ways, to, reached, power = ways.take(ok), to[ok], reached[ok], power[ok]
        done, spare = done[ok], spare[ok]
        if not len(ways):
            return ways
        self.passes += len(ways)
        return self.heated(ways, to, reached, power, done, spare, steps, feed)

    @cached_property
    def traverse(self):
        return [self.case.pass_s(0, f) for f in self.case.cutting.feeds_mm_min.tolist()]

    def heated(self, ways, to, reached, power, done, spare, steps, feed):
        case, blade = self.case, self.blade
        fixture, model = case.machine.fixture, case.model
        keys = np.round(np.maximum(reached[:, 0], 1e-6) / DEPTH_KEY_MM).astype(int)
        active, speed = case.active_mm(feed), feed / 60
        length = case.job.blade.edge.length_mm
        before = (fixture.run_off_mm + np.array([0.0, length])) / speed
        kinds = np.unique(keys, return_inverse=True)
        blocks = [blade.contact(k, feed) for k in kinds[0].tolist()]
        keeps = np.stack([b[0] for b in blocks])[kinds[1]]
        adds = np.stack([b[1] for b in blocks])[kinds[1]] * power[:, None]
        face = np.array([blade.excess(k, feed) for k in kinds[0].tolist()])[kinds[1]] * power
        contacts = ways.contacts_s + active / speed
        allowed = np.minimum(
            model.limits.soak_limit_c, case.flash_limit_c(contacts) - face
        ) - model.ambient_c
        olds = np.unique(ways.key, return_inverse=True)
        decays = [blade.decay(k) for k in olds[0].tolist()]
        rates, to_modes, to_cells = (np.stack(part)[olds[1]] for part in zip(*decays, strict=True))
        modal = ways.theta @ to_modes.transpose(0, 2, 1)

        def arrived(pause_s, who=slice(None)):
            gap = ways.left_s[who] + before + np.asarray(pause_s)[..., None]
            faded = modal[who] * np.exp(-rates[who][:, None] * gap[..., None])
            return faded @ to_cells[who].transpose(0, 2, 1)

        def dipped():
            gap = ways.left_s
            faded = modal * np.exp(-rates[:, None] * gap[..., None])
            theta = faded @ to_cells.transpose(0, 2, 1)
            wets = [blade.decay(k, True) for k in olds[0].tolist()]
            r, m, t = (np.stack(part)[olds[1]] for part in zip(*wets, strict=True))
            theta = theta @ m.transpose(0, 2, 1) * np.exp(-r * fixture.dip_pause_s)[:, None]
            theta = theta @ t.transpose(0, 2, 1) @ to_modes.transpose(0, 2, 1)
            theta *= np.exp(-rates[:, None] * before[..., None])
            return theta @ to_cells.transpose(0, 2, 1)

        def over(theta, who=slice(None)):
            peak = (theta @ keeps[who].transpose(0, 2, 1) + adds[who][:, None]).max(axis=(1, 2))
            return peak - allowed[who]

        first = ways.at == 0
        theta = np.where(first[:, None, None], 0.0, arrived(np.zeros(len(ways))))
        holds = over(theta) <= 0
        overhead = np.array([pause_overhead_s(case.machine, t * case.cutting.step_mm) for t in range(case.steps + 1)])[to]
        options = [(np.nonzero(holds)[0], np.zeros(int(holds.sum())), theta[holds])]
        may = ~first & (spare > overhead)
        if case.kind == "dip":
            if self.grid_s is None:
                may &= ~holds
            may &= spare > overhead + fixture.dip_pause_s
            if may.any():
                wet = dipped()
                may &= over(wet) <= 0
                who = np.nonzero(may)[0]
                options.append((who, overhead[who] + fixture.dip_pause_s, wet[who]))
        else:
            unit = 0.1 if case.kind == "dwell" else 1.0
            longest = np.floor((spare - overhead - 1e-9) / unit)
            shortest = np.where(holds, 0, 1)
            need = np.nonzero(may & ~holds & (longest >= 1))[0]
            if len(need):
                need = need[over(arrived(longest[need] * unit, need), need) <= 0]
            low, high = np.zeros(len(need)), longest[need]
            while len(need) and (high - low > 1).any():
                middle = np.floor((low + high) / 2)
                good = (over(arrived(middle * unit, need), need) <= 0) | (high - low <= 1)
                good &= high - low > 1
                bad = ~good & (high - low > 1)
                high, low = np.where(good, middle, high), np.where(bad, middle, low)
            if len(need):
                options.append((need, high * unit + overhead[need], arrived(high * unit, need)))
            if self.grid_s is not None:
                base = np.full(len(ways), np.inf)
                base[holds] = 0.0
                base[need] = high * unit
                for more in range(1, 200):
                    pause = base + more * self.grid_s
                    who = np.nonzero(may & (pause + overhead < spare))[0]
                    if not len(who):
                        break
                    options.append((who, pause[who] + overhead[who], arrived(pause[who], who)))
        results = []
        n = len(blade.y)
        total = max(case.pass_s(steps, feed), (length + case.machine.rack[0].width_mm + 2 * fixture.run_off_mm) / speed)
        after = total - before - active / speed
        for who, waited, theta in options:
            if not len(who):
                continue
            spent = ways.spent_s[who] + waited + case.pass_s(steps, feed)
            ended = done[who]
            if ended.any():
                self.sequences += int(ended.sum())
                self.best_s = min(self.best_s, float(spent[ended].min()))
            go = ~ended
            who, theta, spent = who[go], theta[go], spent[go]
            held = theta @ keeps[who][:, :n].transpose(0, 2, 1) + adds[who][:, None, :n]
            results.append(
                Ways(to[who], reached[who], held[:, ::-1], np.tile(after[::-1], (len(who), 1)), keys[who], spent, contacts[who])
            )
        if not results:
            return ways.take(slice(0))
        columns = zip(*(vars(r).values() for r in results), strict=True)
        return Ways(*(np.concatenate(c) for c in columns))
