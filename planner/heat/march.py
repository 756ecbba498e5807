"""A schedule marched through its passes: temperatures, and the shortest pauses that hold them.

Pauses are put in as late as they can be: a blade sheds heat faster the hotter it is, so a pause
taken earlier would have to be longer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from planner.formulas import fin_heat, tempering
from planner.heat.model import HeatModel
from planner.kinematics.touch_frame import linear_axis
from planner.passes.conditions import Cutting
from planner.passes.schedule import Pass, Schedule, followed
from planner.passes.search import Choice

Floats = NDArray[np.float64]
PauseKind = Literal["dwell", "dip", "air_pause"]

LONGEST_PAUSE_S = 600.0
"""A plan that needs a longer pause before one pass is given up: choose another grind."""

STATIONS = ("heel", "middle", "tip")
"""Of each blade."""
_SAMPLES = np.concatenate([[0.0], np.geomspace(1e-3, 1.0, 12)])


@dataclass(frozen=True)
class Pause:
    """A wait before a pass, the wheel clear of the blade."""

    kind: PauseKind
    seconds: float


@dataclass(frozen=True)
class PassTemperatures:
    """Highest temperatures of one pass, at any of heel, middle and tip of any blade."""

    edge_c: float
    soak_c: float
    flash_c: float
    by_station_c: tuple[float, ...]
    """Soak at heel, middle and tip; of a row, the hottest of each."""
    by_blade_c: tuple[float, ...]
    """Soak of each blade, in the order of the stations."""


@dataclass(frozen=True)
class Marched:
    """Temperatures of a whole schedule."""

    passes: tuple[PassTemperatures, ...]
    pauses: tuple[Pause | None, ...]
    """Before each pass."""
    soak_limit_c: float
    flash_limit_c: float
    softening_share: float
    """Time at temperature, all passes added up as time at the soak limit, over one hour there."""

    @property
    def pause_s(self) -> float:
        """All pauses together."""
        return sum(p.seconds for p in self.pauses if p)


def march(model: HeatModel, schedule: Schedule) -> Marched | None:
    """Follow the passes, pausing where a limit would be passed.

    Returns None when some pass is too hot even for a blade that has cooled for as long as one
    may wait.
    """
    return _March(model, schedule).run()


@dataclass(frozen=True, eq=False)
class Timing:
    """When passes at one feed meet the places that are watched, to and fro in turn."""

    stations: int
    gaps_s: tuple[Floats, Floats]
    """From the end of a contact to the next, behind an even pass and behind an odd one."""

    @classmethod
    def of(cls, model: HeatModel, cutting: Cutting, feed_mm_min: float) -> Timing:
        """Of the traverse at a feed; infeeds are left out."""
        still = followed(cutting, [Choice(1, feed_mm_min)] * 3, model.work.depth_mm)
        marched = _March(model, still)
        return cls(len(marched.at_mm), (marched._gap_s(1), marched._gap_s(2)))

    def gap_s(self, number: int) -> Floats:
        """Before a pass; the first follows nothing. Shape: (s,)."""
        return self.gaps_s[1 - number % 2]


class _March:
    def __init__(self, model: HeatModel, schedule: Schedule) -> None:
        self.model = model
        passes = schedule.passes
        deep = [
            p.reached_depth_mm if p.section_depth_mm is None else p.section_depth_mm for p in passes
        ]
        self.depth = np.maximum(np.array(deep), 1e-6)
        self.feed = np.array([p.feed_mm_min for p in passes])
        power = np.array([p.power_w for p in passes])
        width, bands = self._contact(passes)
        cut = np.array([p.removed_area_mm2 for p in passes]) / width
        self.active = model.contact_mm(self.feed, np.maximum(cut, 1e-9))
        self.operator = model.operator(self.depth)
        self.flux = model.flux(self.depth, power, self.active, bands)
        self.excess = np.asarray(
            model.face_excess_k(self.depth, power, self.feed, self.active, width)
        )
        self.passes = passes
        self.soak_limit_c = model.limits.soak_limit_c
        self.flash_limit_c = model.limits.flash_limit_c(model.contacts_s(self.feed))
        self.at_mm, self.hops_before = _stations(model)
        # Time that the pass does not spend at its feed: at the reversal, and in hops.
        self.turn = np.array([_turn_s(p, model, self.feed[i]) for i, p in enumerate(passes)])
        self.unpaused = self._pulses([None] * len(passes))
        starts = self.unpaused.pass_start_s[:, np.newaxis]
        self.arrives_s = np.asarray(self.unpaused.start_s - starts)

    def _contact(self, passes: Sequence[Pass]) -> tuple[Floats, tuple[Floats, Floats]]:
        """Width of each contact along the face, and from where to where it lies as y."""
        low, high = self.model.contact_y_mm(self.depth)
        width = np.asarray(self.model.work.removal.width_mm(self.depth)).copy()
        for number, one in enumerate(passes):
            if one.band_mm is not None:
                ends = self.model.beside_y_mm(np.array(one.band_mm))
                low[number], high[number] = ends
                width[number] = one.band_mm[1] - one.band_mm[0]
        return width, (low, high)

    def run(self) -> Marched | None:
        pauses = self._paused()
        if pauses is None:
            return None
        heat = self._heat(pauses)
        # The whole march looks for the peak more closely than the search for the pauses.
        while (number := self._first_over(heat)) is not None:
            longer = self._longer(pauses[number]) if number else None
            if longer is None:
                return None
            pauses[number] = longer
            heat = self._heat(pauses)
        return self._marched(heat, pauses)

    def _paused(self) -> list[Pause | None] | None:
        """The pause that each pass needs before it; None when one cannot be made to hold."""
        pauses: list[Pause | None] = [None] * len(self.passes)
        contact_s = self.active / self.feed * 60
        theta: Floats = np.zeros((len(self.at_mm), len(self.model.mesh.centres_mm)))
        for number in range(len(self.passes)):
            if number:
                after = theta
                theta = self._cooled(after, number - 1, self._gap_s(number))
            if number and self.passes[number].least_pause_s:
                pauses[number] = planned = self._planned(number)
                theta = self._waited(after, number, planned)
            if not self._peak_holds(theta, number):
                pause = self._pause(after, number) if number else None
                if pause is None:
                    return None
                pauses[number] = pause
                theta = self._waited(after, number, pause)
            section = self.operator.section(number)
            theta = np.asarray(section.advance(theta, self.flux[number], contact_s[number]))
        return pauses

    def _first_over(self, heat: _Heat) -> int | None:
        """The first pass that does not hold."""
        return next((n for n in range(len(self.passes)) if not self._holds(heat, n)), None)

    def _pulses(self, pauses: Sequence[Pause | None]) -> fin_heat.PassPulses:
        wait = np.array([p.seconds if p else 0.0 for p in pauses])
        model = self.model
        pulses = fin_heat.pass_pulses(
            self.at_mm,
            model.row.run_mm,
            2 * model.row.reach_mm,
            self.active,
            model.machine.fixture.run_off_mm,
            self.feed / 60,
            len(self.passes),
            pause_s=self.turn + np.append(wait[1:], 0.0),
        )
        if not model.row.hops_s:
            return pulses
        later = self._hopped_s()
        return replace(pulses, start_s=pulses.start_s + later, end_s=pulses.end_s + later)

    def _hopped_s(self) -> Floats:
        """Time in hops of each pass before it comes to each station. Shape: (m, s)."""
        row = self.model.row
        acceleration = linear_axis(self.model.machine, "traverse").acceleration_mm_s2
        # Before a hop the wheel comes to rest, and after it to speed again.
        rest_s = self.feed / 60 / acceleration
        done = np.append(0.0, np.cumsum(row.hops_s))[self.hops_before]
        count = len(row.hops_s)
        there = done + rest_s[:, np.newaxis] * self.hops_before
        back = sum(row.hops_s) - done + rest_s[:, np.newaxis] * (count - self.hops_before)
        outward = np.arange(len(self.passes))[:, np.newaxis] % 2 == 0
        return np.where(outward, there, back)

    def _heat(self, pauses: Sequence[Pause | None]) -> _Heat:
        """March all passes; a dip cools the blade with the film of a liquid for its time."""
        pulses = self._pulses(pauses)
        parts: list[fin_heat.PassHeat] = []
        theta: Floats = np.zeros((len(self.at_mm), len(self.model.mesh.centres_mm)))
        dips = [i for i, p in enumerate(pauses) if p and p.kind == "dip"]
        borders = [0, *dips, len(self.passes)]
        for first, last in pairwise(borders):
            if first == last:
                continue
            if first:
                pause = pauses[first]
                assert pause is not None
                theta = self._dipped(theta, first, pause.seconds)
            part = fin_heat.PassPulses(
                start_s=pulses.start_s[first:last],
                end_s=pulses.end_s[first:last],
                pass_start_s=pulses.pass_start_s[first:last],
                pass_end_s=pulses.pass_end_s[first:last],
                finish_s=float(pulses.pass_end_s[last - 1] + self.turn[last - 1]),
            )
            heat = fin_heat.heat_of_passes(
                self._stack(first, last), self.flux[first:last], part, theta
            )
            parts.append(heat)
            theta = np.asarray(heat.end_k)
        return _Heat.joined(parts)

    def _stack(self, first: int, last: int) -> fin_heat.FinOperator:
        whole = self.operator
        return fin_heat.FinOperator(
            widths_mm=whole.widths_mm,
            capacity_j_mmk=whole.capacity_j_mmk[first:last],
            conduction_w_mmk=whole.conduction_w_mmk[first:last],
            film_w_mmk=whole.film_w_mmk[first:last],
            clamp_w_mmk=whole.clamp_w_mmk[first:last],
            edge_lead=whole.edge_lead[first:last],
            rates_per_s=whole.rates_per_s[first:last],
            modes=whole.modes[first:last],
        )

    def _holds(self, heat: _Heat, number: int) -> bool:
        soak = self.model.ambient_c + float(heat.hottest_k[number].max())
        return self._within(soak, number)

    def _within(self, soak_c: float, number: int) -> bool:
        return (
            soak_c <= self.soak_limit_c + 1e-9
            and soak_c + float(self.excess[number]) <= self.flash_limit_c + 1e-9
        )

    def _pause(self, after: Floats, number: int) -> Pause | None:
        """The shortest pause before a pass that lets it hold; None when none does."""
        kind = self._kind()
        if kind == "dip":
            dip = Pause("dip", self.model.machine.fixture.dip_pause_s)
            return dip if self._peak_holds(self._waited(after, number, dip), number) else None

        # A dwell counts tenths; a person at a stop counts whole seconds.
        a_second = 10 if kind == "dwell" else 1

        def holds(count: int) -> bool:
            waited = self._cooled(after, number - 1, self._gap_s(number) + count / a_second)
            return self._peak_holds(waited, number)

        low, high = 0, a_second
        while not holds(high):
            low, high = high, high * 2
            if high > LONGEST_PAUSE_S * a_second:
                return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if holds(middle) else (middle, high)
        return Pause(kind, high / a_second)

    def _planned(self, number: int) -> Pause:
        """The pause that is worth it before a pass, be it needed there or not."""
        kind, seconds = self._kind(), self.passes[number].least_pause_s
        if kind == "dip":
            return Pause(kind, self.model.machine.fixture.dip_pause_s)
        return Pause(kind, round(seconds, 1))

    def _kind(self) -> PauseKind:
        if self.model.machine.fixture.cooling == "air":
            return "dwell"
        return "dip" if self.model.steel.water_dip else "air_pause"

    def _longer(self, pause: Pause | None) -> Pause | None:
        """The next longer pause; None where there is none."""
        kind = self._kind()
        if kind == "dip":
            return None if pause else Pause("dip", self.model.machine.fixture.dip_pause_s)
        seconds = round((pause.seconds if pause else 0.0) + (0.1 if kind == "dwell" else 1.0), 1)
        return Pause(kind, seconds) if seconds <= LONGEST_PAUSE_S else None

    def _waited(self, after: Floats, number: int, pause: Pause) -> Floats:
        """The blade as the wheel arrives at each station, the pause before the pass taken."""
        gap_s = self._gap_s(number)
        if pause.kind != "dip":
            return self._cooled(after, number - 1, gap_s + pause.seconds)
        arrives = self.arrives_s[number]
        cooled = self._cooled(after, number - 1, gap_s - arrives)
        return self._dipped(cooled, number, pause.seconds)

    def _dipped(self, theta: Floats, number: int, seconds: float) -> Floats:
        """The blade, dipped before a pass, as the wheel arrives at each station."""
        wet = self.model.operator(self.depth[number - 1 : number], dipped=True).section(0)
        dipped = np.asarray(wet.advance(theta, np.zeros(theta.shape[-1]), seconds))
        return self._cooled(dipped, number - 1, self.arrives_s[number])

    def _gap_s(self, number: int) -> Floats:
        """From the end of the last contact to the start of this one, by station, no pause taken."""
        return np.asarray(self.unpaused.start_s[number] - self.unpaused.end_s[number - 1])

    def _cooled(self, theta: Floats, number: int, seconds: Floats) -> Floats:
        section = self.operator.section(number)
        return np.asarray(section.advance(theta, np.zeros(theta.shape[-1]), seconds))

    def _peak_holds(self, theta: Floats, number: int) -> bool:
        section = self.operator.section(number)
        contact = self.active[number] / self.feed[number] * 60
        fields = section.trace(theta, self.flux[number], contact * _SAMPLES)
        hottest = max(float(fields.max()), float(section.edge(fields).max()))
        return self._within(self.model.ambient_c + hottest, number)

    def _marched(self, heat: _Heat, pauses: list[Pause | None]) -> Marched:
        ambient = self.model.ambient_c
        temperatures = []
        for number in range(len(self.passes)):
            soak = ambient + heat.hottest_k[number]
            by_place = soak.reshape(-1, len(STATIONS))
            temperatures.append(
                PassTemperatures(
                    edge_c=ambient + float(heat.edge_k[number].max()),
                    soak_c=float(soak.max()),
                    flash_c=float(soak.max() + self.excess[number]),
                    by_station_c=tuple(float(s) for s in by_place.max(axis=0)),
                    by_blade_c=tuple(float(s) for s in by_place.max(axis=1)),
                )
            )
        # Where one pass follows another at once their times may cross by the last bit.
        worth = tempering.equivalent_time(
            np.maximum.accumulate(heat.time_s, axis=1),
            ambient + heat.history_k,
            self.model.limits.soak_c,
        )
        return Marched(
            passes=tuple(temperatures),
            pauses=tuple(pauses),
            soak_limit_c=self.soak_limit_c,
            flash_limit_c=self.flash_limit_c,
            softening_share=float(np.max(worth)) / 3600.0,
        )


@dataclass(frozen=True, eq=False)
class _Heat:
    """What the march needs of ``fin_heat.PassHeat``, dips in between joined up."""

    edge_k: Floats
    """(m, s)"""
    hottest_k: Floats
    """(m, s)"""
    after_k: Floats
    """(m, s, n)"""
    time_s: Floats
    """(s, p)"""
    history_k: Floats
    """(s, p)"""

    @classmethod
    def joined(cls, parts: Sequence[fin_heat.PassHeat]) -> _Heat:
        by_pass = []
        for part in parts:
            passes, stations = part.edge_peak_k.shape
            hottest = part.hottest_k.reshape(stations, passes, -1).max(axis=-1).T
            by_pass.append(np.maximum(hottest, part.edge_peak_k))
        return cls(
            edge_k=np.concatenate([p.edge_peak_k for p in parts]),
            hottest_k=np.concatenate(by_pass),
            after_k=np.concatenate([p.after_k for p in parts]),
            time_s=np.concatenate([p.time_s for p in parts], axis=1),
            history_k=np.concatenate([p.hottest_k for p in parts], axis=1),
        )


def _stations(model: HeatModel) -> tuple[Floats, NDArray[np.int64]]:
    """Heel, middle and tip of each blade along the way of a pass, and the hops before each."""
    length = model.row.edge_length_mm
    x = np.array([0.0, length / 2, length])
    from_near_end = x if model.heel_first else length - x
    near = [model.row.run_to_mm(index) for index in range(model.row.blades)]
    at = np.concatenate([at_mm + from_near_end for at_mm, _ in near])
    # A position and a length that were added and taken apart again may be out by the last bit.
    at = np.minimum(at, model.row.run_mm)
    hops = np.repeat(np.array([hops for _, hops in near]), len(STATIONS))
    return at, hops


def _turn_s(one: Pass, model: HeatModel, feed_mm_min: float) -> float:
    fixture = model.machine.fixture
    length = model.row.run_mm + 2 * (model.row.reach_mm + fixture.run_off_mm)
    return max(one.time_s - length / feed_mm_min * 60, 0.0)
