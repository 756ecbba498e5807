"""Spindle and coolant: what runs, whether it may, and whether it does when the wheel cuts."""

from __future__ import annotations

from planner.proof.case import Case
from planner.proof.events import Coolant, Dwell, Spindle
from planner.proof.faultlog import FaultLog
from planner.proof.rules import Rule

_SLACK = 1e-9
_HALF_TURN_RPM = 0.5
"""S is written in whole turns a minute."""


class Switches:
    """The switches of one program. An air run may switch nothing on."""

    def __init__(self, case: Case, log: FaultLog, *, air_run: bool) -> None:
        self._case = case
        self._log = log
        self._air_run = air_run
        self._by_hand = case.machine.spindle.control == "by_hand"
        self._direction: str | None = None
        self._speed_rpm: float | None = None
        self._waited_s = 0.0
        self._coolant: frozenset[str] = frozenset()
        self._first_stop_line = 0
        self._last_stop_line = 0
        self._last_contact_line = 0

    @property
    def surface_mm_s(self) -> float:
        """Surface speed of the wheel as it runs now; 0 where it stands."""
        return self._case.at_speed.surface_mm_s(self._running_rpm)

    @property
    def runs_by_program(self) -> bool:
        """Whether the program has started the spindle and not stopped it."""
        return self._direction is not None

    @property
    def _running_rpm(self) -> float:
        if self._by_hand:
            return self._case.machine.spindle.speed_rpm if self._first_stop_line else 0.0
        return 0.0 if self._direction is None else self._speed_rpm or 0.0

    def spindle(self, event: Spindle) -> None:
        """Note a spindle or speed word."""
        line = event.line
        if self._by_hand:
            self._log.add(line, Rule.SPINDLE_BY_HAND)
        if self._air_run and event.direction is not None:
            self._log.add(line, Rule.AIR_RUN_SPINDLE)
        was = (self._direction, self._speed_rpm)
        self._direction, self._speed_rpm = event.direction, event.speed_rpm
        if was != (self._direction, self._speed_rpm):
            self._waited_s = 0.0
        if self._direction is not None:
            self._check_speed(line)

    def _check_speed(self, line: int) -> None:
        if not self._speed_rpm:
            self._log.add(line, Rule.SPINDLE_SPEED_UNSET)
            return
        over = self._case.at_speed.over_mark(self._speed_rpm)
        if over is not None:
            self._log.add(line, Rule.OVER_MARKED_SPEED, speed=over[0], mark=over[1], unit=over[2])
        most = self._case.machine.spindle.speed_rpm
        if self._speed_rpm > most + _HALF_TURN_RPM:
            self._log.add(line, Rule.OVER_SPINDLE_SPEED, speed_rpm=self._speed_rpm, most_rpm=most)

    def coolant(self, event: Coolant) -> None:
        """Note a coolant code."""
        self._coolant = event.on
        if self._air_run and event.on:
            self._log.add(event.line, Rule.AIR_RUN_COOLANT)

    def dwell(self, event: Dwell) -> None:
        """Note a wait: it counts toward the spin-up while the spindle runs."""
        if self._running_rpm > 0.0:
            self._waited_s += event.seconds

    def stop(self, line: int) -> None:
        """Note a stop: the first is where a spindle switched by hand is started."""
        if self._by_hand and not self._air_run and not self._first_stop_line:
            self._first_stop_line = line
            over = self._case.at_speed.over_mark(self._running_rpm)
            if over is not None:
                self._log.add(
                    line, Rule.OVER_MARKED_SPEED, speed=over[0], mark=over[1], unit=over[2]
                )
        self._last_stop_line = line

    def contact(self, line: int) -> None:
        """Fault a cut with the spindle or the coolant not as it must be."""
        self._last_contact_line = line
        spindle = self._case.machine.spindle
        if self._running_rpm == 0.0:
            self._log.add(line, Rule.SPINDLE_OFF)
        elif not self._by_hand:
            if self._direction != spindle.direction:
                self._log.add(
                    line,
                    Rule.SPINDLE_REVERSED,
                    direction=self._direction or "none",
                    right=spindle.direction,
                )
            if self._waited_s < spindle.spin_up_s - _SLACK:
                self._log.add(
                    line, Rule.NO_SPIN_UP, waited_s=self._waited_s, least_s=spindle.spin_up_s
                )
        wanted = self._case.machine.coolant.on
        if wanted is not None and wanted not in self._coolant:
            self._log.add(line, Rule.CUT_WITHOUT_COOLANT, code=wanted)

    def end(self, line: int) -> None:
        """Fault a program that ends with something running."""
        if self._by_hand:
            running = self._first_stop_line > 0 and self._last_stop_line <= max(
                self._first_stop_line, self._last_contact_line
            )
        else:
            running = self._direction is not None
        if running:
            self._log.add(line, Rule.END_SPINDLE_ON)
        if self._coolant:
            self._log.add(line, Rule.END_COOLANT_ON, codes=" ".join(sorted(self._coolant)))
