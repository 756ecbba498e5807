"""Exhaustive search over infeeds, feeds and cooling of one small set-up.

Every number of passes at each feed is taken in turn, so that the time of all contacts, and with it
the flash limit of the whole schedule, is known before the first pass; then every order of these
passes, every way to share the infeed out among them, repeats without infeed included, and every
pause before each. Only what cannot end sooner than the best so far is left out. Force, power, time
and limits are worked out here; the planner lends its fin (planner/formulas/fin_heat.py), which has
rivals of its own in tests/heat, so that a difference found is one of the search alone.
"""

import itertools
import math
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from planner.heat.choose import choose_schedule
from planner.heat.model import heat_model
from planner.inputs.steels import steel_of
from planner.kinematics.row import row_of
from planner.kinematics.touch_frame import relief_frame
from planner.passes.blade_stiffness import stiffness_for
from planner.passes.conditions import cutting_conditions
from planner.section.target import section_for
from planner.section.wheel_shape import section_radius_mm
from planner.section.works import works_for
from planner.setup_plan import pause_overhead_s

AFTER_S = (0.0, 0.03, 0.1, 0.3, 1.0)
"""Moments after a contact at which is looked how hot the blade is; the edge warms after it."""

DEPTH_KEY_MM = 2e-4
"""Sections are worked out at depths this far apart: 0.1 % of the thickness."""

ROUNDED_K = 0.02
"""Sequences so close to a limit count as over it, for the depths of their sections are rounded."""

MODES = 18
"""Slowest modes of a section that are kept: the next dies within a hundredth of a second."""

CHUNK = 2000


def _trapezoid_s(distance, speed, acceleration):
    # By hand: from rest to rest; too short for the speed, half way up and half way down.
    if distance < speed**2 / acceleration:
        return 2 * math.sqrt(distance / acceleration)
    return distance / speed + speed / acceleration


@dataclass(eq=False)
class SmallCase:
    """One set-up with few steps of depth and few feeds: the planner's inputs, and its figures."""

    job: Any
    machine: Any
    feeds: tuple[float, ...]
    allowed_mm: float = 0.002

    def __post_init__(self):
        job, machine = self.job, self.machine
        self.wheel, self.steel = machine.rack[0], steel_of(job.steel)
        assert self.wheel.contact == "along_edge"
        assert self.wheel.threshold_force_n == 0
        self.length = job.blade.edge.length_mm
        self.section = section_for(job, section_radius_mm(self.wheel))
        self.work = works_for(job, self.section, self.wheel, machine.rack)[0]
        self.relief = self.section.reliefs[0]
        self.frame = relief_frame(machine, self.section, self.relief, self.length)
        blades = len(machine.fixture.row.positions_mm) if machine.fixture.row else 1
        stations = tuple(range(1, 1 + blades))
        self.row = row_of(machine, self.wheel, self.length, self.work.depth_mm, stations)
        assert not self.row.hops_mm
        stiffness = stiffness_for(machine, self.work, self.length)
        cutting = cutting_conditions(
            machine, self.work, self.frame, self.length, stiffness, self.row
        )
        self.cutting = replace(cutting, feeds_mm_min=np.array(self.feeds, float))
        heel_first = self.frame.x_per_traverse > 0
        self.model = heat_model(
            job, machine, self.steel, self.work, heel_first=heel_first, row=self.row
        )
        self.steps = math.floor(self.relief.depth_mm / self.cutting.step_mm + 1e-9)

    def overhead_s(self, depth_mm):
        """Of a pause; the blades of a row are dipped one after another."""
        more = (self.row.blades - 1) * self.machine.fixture.dip_pause_s
        return pause_overhead_s(self.machine, depth_mm) + (more if self.kind == "dip" else 0.0)

    @cached_property
    def chosen(self):
        """What the planner makes of it."""
        depth = self.relief.depth_mm
        return choose_schedule(self.cutting, self.model, depth, self.allowed_mm, self.overhead_s)

    @property
    def kind(self):
        """How the blade is cooled."""
        if self.machine.fixture.cooling == "air":
            return "dwell"
        return "dip" if self.steel.water_dip else "air_pause"

    def traverse_s(self, feed):
        """Time of one traverse."""
        c = self.cutting
        return _trapezoid_s(c.traverse_length_mm, feed / 60, c.traverse_acceleration_mm_s2)

    def infeed_s(self, steps):
        """Time of one infeed; shorter than that of the same infeed in parts."""
        c = self.cutting
        if steps == 0:
            return 0.0
        return _trapezoid_s(
            steps * c.step_mm, c.infeed_feed_mm_min / 60, c.infeed_acceleration_mm_s2
        )

    def most_steps(self, to):
        """Steps that a pass to this number of steps may take."""
        c = self.cutting
        finish = math.ceil(c.finish_stock_mm / c.step_mm - 1e-9)
        infeed = c.finish_infeed_mm if to > max(self.steps - finish, 0) else c.rough_infeed_mm
        return math.floor(infeed / c.step_mm + 1e-9)

    def active_mm(self, feed):
        """Width of the wheel that heats: stated, or a millimetre and the feed of one turn."""
        speed_mm_min = 60e3 * self.cutting.surface_speed_m_s
        turn = feed / (speed_mm_min / (math.pi * self.wheel.diameter_mm))
        return min(self.wheel.active_width_mm or 1.0 + turn, self.wheel.width_mm)

    def flash_limit_c(self, contacts_s):
        """Hollomon & Jaffe with C = 20 and an hour at the soak limit, 50 K under 727 degC."""
        kelvin = self.model.limits.soak_c + 273.15
        return min(20 * kelvin / (20 + math.log10(contacts_s / 3600)) - 273.15, 677.0)

    def cut(self, commanded, reached, feed):
        """Depth, force and power of passes, by bisection; commanded (n,), reached (n, s)."""
        c, radius = self.cutting, self.wheel.diameter_mm / 2

        def area(depth):
            half = np.arccos(1 - depth / radius)
            return radius**2 * (half - np.sin(half) * np.cos(half))

        table, deepest = c.stiffness, reached.max(axis=1)
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


@dataclass
class Contact:
    """A pass over a place, linear in the blade's heat and in the watts; k modes, w watched."""

    watched: np.ndarray
    """(k, w): what is left of earlier heat where and when it is watched."""
    warmed: np.ndarray
    """(w,)"""
    kept: np.ndarray
    """(k, k): modes of the section before to those of the section after."""
    added: np.ndarray
    """(k,)"""


class Blade:
    """Modes of the section at each depth, and what a contact does to them."""

    def __init__(self, case):
        self.case, self.model = case, case.model
        self.known = {}
        self.contacts = {}
        self.faces = {}

    def section(self, key, wet=False):
        """Rates, and the ways to its modes and back. Each (k,), (c, k), (k, c)."""
        if (key, wet) not in self.known:
            depth = np.array([max(key * DEPTH_KEY_MM, 1e-6)])
            fin = self.model.operator(depth, dipped=wet).section(0)
            root = np.sqrt(fin.capacity_j_mmk)
            modes = fin.modes[:, :MODES]
            self.known[key, wet] = fin.rates_per_s[:MODES], (modes.T * root).T, modes.T / root, fin
        return self.known[key, wet]

    def contact(self, before, key, feed):
        """From the modes of one section through a pass that makes the next."""
        if (before, key, feed) not in self.contacts:
            fin, to_modes = self.section(key)[3], self.section(key)[1]
            start = self.section(before)[2]
            flux, seconds = self._flux(key, feed), self.case.active_mm(feed) / feed * 60
            none = np.zeros_like(flux)
            seen = [start]
            end, warm = fin.advance(start, none, seconds), fin.advance(none, flux, seconds)
            seen += [fin.advance(end, none, s) for s in AFTER_S]
            hot = [none, *(fin.advance(warm, none, s) for s in AFTER_S)]
            self.contacts[before, key, feed] = Contact(
                np.concatenate([np.c_[f, fin.edge(f)] for f in seen], axis=1),
                np.concatenate([np.r_[f, fin.edge(f)] for f in hot]),
                end @ to_modes,
                warm @ to_modes,
            )
        return self.contacts[before, key, feed]

    def _flux(self, key, feed):
        depth = np.array([max(key * DEPTH_KEY_MM, 1e-6)])
        active = np.array([self.case.active_mm(feed)])
        return self.model.flux(depth, np.ones(1), active)[0]

    def face_k(self, key, feed):
        """The ground face over the section's mean for a watt: a plate heated on one side."""
        if (key, feed) not in self.faces:
            steel, active = self.case.steel, self.case.active_mm(feed)
            radius, depth = self.case.wheel.diameter_mm / 2, max(key * DEPTH_KEY_MM, 1e-6)
            chord = 2 * math.sqrt(depth * (2 * radius - depth))
            low, high = self.model.contact_y_mm(np.array([self.case.relief.depth_mm]))
            thick = float(self.case.work.thickness((low + high) / 2, 0.0)[0])
            k = steel.conductivity_w_mk * 1e-3
            diffusivity = k / (steel.density_kg_m3 * steel.specific_heat_j_kgk * 1e-9)
            fourier = diffusivity * active / feed * 60 / thick**2
            n = np.arange(1, 400)
            rest = np.sum(np.exp(-((n * math.pi) ** 2) * fourier) / n**2) * 2 / math.pi**2
            share = self.model.share / (active * chord)
            self.faces[key, feed] = share * thick / k * (1 / 3 - rest)
        return self.faces[key, feed]


@dataclass
class Ways:
    """Sequences of passes followed so far, as arrays of n."""

    at: np.ndarray
    reached: np.ndarray
    state: np.ndarray
    """(n, 2, k): where the next pass enters, and at the other end."""
    left_s: np.ndarray
    """(n, 2): from there to the end of the pass."""
    key: np.ndarray
    spent_s: np.ndarray
    """Infeeds and pauses."""
    to_go: np.ndarray
    """(n, f): passes at each feed that are still to come."""
    path: np.ndarray
    """(n, passes, 3): steps, feed and pause of each."""

    def take(self, which):
        return Ways(*(getattr(self, f.name)[which] for f in fields(self)))

    def __len__(self):
        return len(self.at)

    @classmethod
    def joined(cls, parts):
        return cls(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(cls)))


@dataclass
class Exhaustive:
    """Least time over all sequences of infeeds, feeds and pauses."""

    case: SmallCase
    best_s: float
    """Sequences no quicker than this are left."""
    longer_s: tuple[float, ...] = ()
    """Pauses longer by this than they must be are tried as well."""
    most_ways: float = math.inf
    ways: int = 0
    best: list[list[float]] = field(default_factory=list)
    """The best sequence: steps, feed and pause of each pass."""

    def run(self):
        """The least time."""
        case = self.case
        self.blade = Blade(case)
        self.feeds = case.cutting.feeds_mm_min.tolist()
        self.traverse_s = [case.traverse_s(f) for f in self.feeds]
        self.infeed_s = np.array([case.infeed_s(n) for n in range(case.steps + 1)])
        self.most = np.array([case.most_steps(to) for to in range(case.steps + 1)])
        depths = np.arange(case.steps + 1) * case.cutting.step_mm
        self.overhead_s = np.array([case.overhead_s(d) for d in depths.tolist()])
        every = [range(int(self.best_s / t) + 1) for t in self.traverse_s]
        for base, counts in sorted(
            (sum(n * t for n, t in zip(counts, self.traverse_s, strict=True)), counts)
            for counts in itertools.product(*every)
        ):
            if sum(counts) and base + self.infeed_s[-1] < self.best_s - 1e-9:
                self._follow(base, counts)
        return self.best_s

    def _follow(self, base_s, counts):
        """Every sequence with so many passes at each feed."""
        case = self.case
        self.base_s = base_s
        contacts = sum(
            n * case.active_mm(f) / f * 60 for n, f in zip(counts, self.feeds, strict=True)
        )
        self.flash_c = case.flash_limit_c(contacts)
        stations = len(case.cutting.stiffness.stations)
        start = Ways(
            at=np.zeros(1, int),
            reached=np.zeros((1, stations)),
            state=np.zeros((1, 2, MODES)),
            left_s=np.zeros((1, 2)),
            key=np.zeros(1, int),
            spent_s=np.zeros(1),
            to_go=np.array([counts]),
            path=np.zeros((1, sum(counts), 3)),
        )
        waiting = [start]
        while waiting:
            ways = waiting.pop()
            if len(ways) > CHUNK:
                waiting.append(ways.take(slice(CHUNK, None)))
                ways = ways.take(slice(CHUNK))
            found = [
                self._passed(ways, steps, feed)
                for feed in range(len(self.feeds))
                for steps in range(case.steps + 1)
            ]
            found = [one for one in found if one is not None and len(one)]
            if found:
                waiting.append(Ways.joined(found))

    def _spare(self, spent, at):
        """Time left for pauses before the best is no longer beaten."""
        return self.best_s - 1e-9 - self.base_s - spent - self.infeed_s[self.case.steps - at]

    def _passed(self, ways, steps, feed):
        """The ways with one pass more, of these steps and at this feed; None where none is."""
        case = self.case
        to = np.minimum(ways.at + steps, case.steps)
        rest = ways.to_go.sum(axis=1) - 1
        ok = (ways.at + steps <= case.steps) & (to > 0) & (ways.to_go[:, feed] > 0)
        ok &= (steps <= self.most[to]) & (case.steps - to <= rest * self.most.max())
        ok &= self._spare(ways.spent_s + self.infeed_s[steps], to) > 0
        if not ok.any():
            return None
        ways, to = ways.take(ok), to[ok]
        commanded = to * case.cutting.step_mm
        reached, force, power = case.cut(commanded, ways.reached, self.feeds[feed])
        ok = (force <= case.cutting.normal_force_limit_n * (1 + 1e-9)) & (
            power <= case.cutting.power_limit_w * (1 + 1e-9)
        )
        last = ways.to_go.sum(axis=1) == 1
        left = case.steps * case.cutting.step_mm - reached.min(axis=1)
        done = (to == case.steps) & (left <= case.allowed_mm)
        # Passes after all is done are another, slower plan's.
        ok &= done == last
        if not ok.any():
            return None
        self.ways += int(ok.sum())
        if self.ways > self.most_ways:
            raise TimeoutError
        return self._heated(ways.take(ok), to[ok], reached[ok], power[ok], steps, feed)

    def _heated(self, ways, to, reached, power, steps, feed):
        """The same with every pause that lets them hold."""
        heat = _Heating(self, ways, reached, power, feed)
        spent = ways.spent_s + self.infeed_s[steps]
        spare = self._spare(spent, to)
        found = []
        for who, pause_s, wet in heat.pauses(spare - self.overhead_s[to]):
            if not len(who):
                continue
            cost = np.where(pause_s > 0, pause_s + self.overhead_s[to[who]], 0.0)
            state, left = heat.after(who, pause_s, wet, self.case.infeed_s(steps))
            path = ways.path[who].copy()
            number = path.shape[1] - ways.to_go[who].sum(axis=1)
            path[np.arange(len(who)), number] = np.stack(
                [np.full(len(who), steps), np.full(len(who), self.feeds[feed]), pause_s], axis=1
            )
            to_go = ways.to_go[who].copy()
            to_go[:, feed] -= 1
            found.append(
                Ways(
                    to[who],
                    reached[who],
                    state,
                    left,
                    heat.key[who],
                    spent[who] + cost,
                    to_go,
                    path,
                )
            )
        if not found:
            return None
        return self._unended(Ways.joined(found))

    def _unended(self, ways):
        """Without those that are done, the best of them put on record."""
        ended = ways.to_go.sum(axis=1) == 0
        if ended.any():
            total = np.where(ended, self.base_s + ways.spent_s, np.inf)
            least = int(total.argmin())
            if total[least] < self.best_s:
                self.best_s = float(total[least])
                self.best = ways.path[least].tolist()
        return ways.take(~ended & (self._spare(ways.spent_s, ways.at) > 0))


class _Heating:
    """One pass of many ways: how hot it gets after which pause."""

    def __init__(self, search, ways, reached, power, feed):
        case, blade = search.case, search.blade
        self.case, self.longer_s = case, search.longer_s
        self.ways, self.power = ways, power
        self.first = ways.at == 0
        self.key = np.round(np.maximum(reached[:, 0], 1e-6) / DEPTH_KEY_MM).astype(int)
        before = np.where(self.first, self.key, ways.key)
        speed = search.feeds[feed] / 60
        self.active_s = case.active_mm(search.feeds[feed]) / speed
        run_off, run = case.machine.fixture.run_off_mm, case.row.run_mm
        self.arrives_s = np.array([run_off, run_off + run]) / speed
        self.whole_s = search.traverse_s[feed]
        pairs, which = np.unique(np.stack([before, self.key]), axis=1, return_inverse=True)
        which = which.reshape(-1)
        contacts = [blade.contact(b, k, search.feeds[feed]) for b, k in pairs.T.tolist()]
        self.watched, self.warmed, self.kept, self.added = (
            np.stack([getattr(c, f.name) for c in contacts])[which] for f in fields(Contact)
        )
        face = np.array([blade.face_k(k, search.feeds[feed]) for k in pairs[1].tolist()])[which]
        soak = case.model.limits.soak_limit_c
        allowed = np.minimum(soak, search.flash_c - face * power) - case.model.ambient_c
        self.allowed = allowed - ROUNDED_K
        sections = [blade.section(b) for b in pairs[0].tolist()]
        self.rates = np.stack([s[0] for s in sections])[which]
        if case.kind == "dip":
            self.wets = np.stack([self._dip(blade, b) for b in pairs[0].tolist()])[which]

    def _dip(self, blade, key):
        """Modes after a dip. (k, k)"""
        rates, to_modes, to_cells, _ = blade.section(key, wet=True)
        dry_modes, dry_cells = blade.section(key)[1:3]
        fade = np.exp(-rates * self.case.machine.fixture.dip_pause_s)
        return (dry_cells @ to_modes * fade) @ (to_cells @ dry_modes)

    def arrived(self, who, pause_s, wet=False):
        """Modes when the wheel arrives; a dip comes at the end of the gap."""
        gap = self.ways.left_s[who]
        rates = self.rates[who][:, None]
        if wet:
            faded = self.ways.state[who] * np.exp(-rates * gap[..., None])
            return (faded @ self.wets[who]) * np.exp(-rates * self.arrives_s[:, None])
        waited = gap + self.arrives_s + np.asarray(pause_s)[:, None]
        return self.ways.state[who] * np.exp(-rates * waited[..., None])

    def over(self, who, state):
        """By how much the hottest place and moment is over what is allowed."""
        peak = state @ self.watched[who] + (self.warmed[who] * self.power[who, None])[:, None]
        return peak.max(axis=(1, 2)) - self.allowed[who]

    def pauses(self, spare):
        """Which ways, how long they pause, and whether in water: all that hold."""
        everyone = np.arange(len(self.power))
        holds = self.over(everyone, self.arrived(everyone, np.zeros(len(everyone)))) <= 0
        yield everyone[holds], np.zeros(int(holds.sum())), False
        may = everyone[~self.first & (spare > 0)]
        if self.case.kind == "dip":
            seconds = self.case.machine.fixture.dip_pause_s
            may = may[spare[may] > seconds]
            may = may[self.over(may, self.arrived(may, np.zeros(len(may)), wet=True)) <= 0]
            yield may, np.full(len(may), seconds), True
            return
        # A dwell counts tenths of a second, a stop for hands whole ones.
        unit = 0.1 if self.case.kind == "dwell" else 1.0
        longest = np.floor((spare - 1e-9) / unit)
        need = may[~holds[may] & (longest[may] >= 1)]
        need = need[self.over(need, self.arrived(need, longest[need] * unit)) <= 0]
        low, high = np.zeros(len(need)), longest[need]
        while (high - low > 1).any():
            middle = np.floor((low + high) / 2)
            good = self.over(need, self.arrived(need, middle * unit)) <= 0
            low, high = np.where(good, low, middle), np.where(good, middle, high)
        yield need, high * unit, False
        shortest = np.zeros(len(everyone))
        shortest[need] = high * unit
        able = np.concatenate([may[holds[may]], need])
        for more in self.longer_s:
            pause = shortest[able] + more
            who = able[pause < spare[able]]
            yield who, shortest[who] + more, False

    def after(self, who, pause_s, wet, infeed_s):
        """State and time left at both ends when the pass is over, as the next pass meets them."""
        state = self.arrived(who, pause_s, wet)
        state = state @ self.kept[who] + (self.added[who] * self.power[who, None])[:, None]
        left = self.whole_s + infeed_s - self.arrives_s - self.active_s
        return state[:, ::-1], np.tile(left[::-1], (len(who), 1))
