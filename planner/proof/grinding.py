"""What each pass takes off the blade: force, power, bite and wear of one station after another."""

from __future__ import annotations

from planner.proof.blade import MIDDLE_STATION, Blade, Contact, Station
from planner.proof.case import Case
from planner.proof.events import Move
from planner.proof.faultlog import FaultLog
from planner.proof.finish import ALLOWANCE
from planner.proof.followed_pass import same_stand
from planner.proof.placing import Piece
from planner.proof.rules import Rule
from planner.proof.switches import Switches
from planner.proof.tool import Stand
from planner.proof.traverses import span_within
from planner.proof.verdict import Cut
from planner.proof.wear import wear_mm
from planner.proof.worn_so_far import WornSoFar

_AT_STATION_MM = 0.2
"""A wheel that follows an edge has its depth at a station while it is tangent so near to it."""


class Grinding:
    """Grinds the stations of one blade as the wheel goes over them; faults what asks too much."""

    def __init__(
        self, case: Case, blade: Blade, switches: Switches, worn: WornSoFar, log: FaultLog
    ) -> None:
        """``worn`` takes up what each pass wears off the wheel."""
        self.cuts: list[Cut] = []
        """What each pass took at the middle of the edge."""
        self._case = case
        self._blade = blade
        self._switches = switches
        self._worn = worn
        self._log = log

    def hold_to(self, case: Case) -> None:
        """Go on with another facet of the same face."""
        self._case = case

    def grind(self, move: Move, piece: Piece, feed_mm_s: float) -> None:
        """Take a stretch of a move over every station that it reaches."""
        followed = self._case.followed is not None
        reach = _AT_STATION_MM if followed else self._case.reach_mm
        for station in self._blade.stations:
            if followed and piece.still_in_section and not move.rapid:
                self._grind_about(station, move.line, piece, feed_mm_s)
                continue
            low, high = station.x_mm - reach, station.x_mm + reach
            span = span_within(piece.x_start, piece.x_end, low, high)
            if span is None or move.rapid:
                self._close(station)
            elif piece.still_in_section:
                self._open_or_extend(station, move.line, piece.end, feed_mm_s)
                if span[1] < 1.0:
                    self._close(station)
            else:
                self._close(station)
                first, last = piece.stand_at(span[0]), piece.stand_at(span[1])
                if self._blade.touches_at(station, first, last):
                    self._blade.sweep(station, first, last, move.line)

    def close_all(self) -> None:
        """The wheel has left the blade."""
        for station in self._blade.stations:
            self._close(station)

    def _grind_about(self, station: Station, line: int, piece: Piece, feed_mm_s: float) -> None:
        """A pass that follows the edge, over a station and the part of the edge it stands for.

        The wheel is as deep as where it is tangent to the station; as fast as anywhere about it.
        """
        half = self._case.edge_length_mm / (len(self._blade.stations) - 1) / 2.0
        reach = max(half, self._case.reach_mm)
        x, length = station.nominal_x_mm, self._case.edge_length_mm
        about = x - (reach if x <= 0.0 else half), x + (reach if x >= length else half)
        span = span_within(piece.x_start, piece.x_end, *about)
        if span is None:
            self._close(station)
            return
        station.fastest_mm_s = max(station.fastest_mm_s, feed_mm_s)
        at = station.x_mm - _AT_STATION_MM, station.x_mm + _AT_STATION_MM
        if span_within(piece.x_start, piece.x_end, *at) is not None:
            self._open_or_extend(station, line, piece.end, station.fastest_mm_s)
        elif station.contact is not None:
            station.contact.feed_mm_s = max(station.contact.feed_mm_s, feed_mm_s)
        if span[1] < 1.0:
            self._close(station)

    def _open_or_extend(self, station: Station, line: int, stand: Stand, feed_mm_s: float) -> None:
        contact = station.contact
        if contact is not None and same_stand(self._case, contact.stand, stand):
            if self._case.depth_at_mm(stand.centre) > self._case.depth_at_mm(contact.stand.centre):
                contact.stand = stand
            contact.last_line = line
            contact.feed_mm_s = max(contact.feed_mm_s, feed_mm_s)
            return
        self._close(station)
        if self._blade.touches_at(station, stand, stand):
            surface = self._switches.surface_mm_s
            station.contact = Contact(
                stand, line, line, feed_mm_s, surface, self._worn.infeed_line, self._worn.mm
            )

    def _close(self, station: Station) -> None:
        """The wheel has left a station: settle what the pass took from it."""
        contact, station.contact = station.contact, None
        station.fastest_mm_s = 0.0
        if contact is None:
            return
        case, line = self._case, contact.first_line
        before, begun = station.steel.polygon, station.last_contact_line > 0
        bite = self._blade.bite(station, contact)
        most_mm = case.wheel.infeed.rough_mm
        # Two positions, each rounded by half a last decimal, may differ by one decimal more.
        ridges_mm = case.ridge_mm if case.generates else 0.0
        uneven_mm = case.uneven_mm or 2.0 * case.half_decimal_mm
        # A flat that leans comes to its corner first, by as much as it leans.
        leans_mm = 0.0 if begun else case.leans_mm
        slack_mm = uneven_mm + self._worn.made_up_mm + ridges_mm + leans_mm + 1e-9
        if bite.step_mm > most_mm + slack_mm:
            self._log.add(
                line,
                Rule.BITE_TOO_LARGE,
                step_mm=bite.step_mm,
                most_mm=most_mm,
                infeed_line=contact.infeed_line,
            )
        most_n = case.machine.limits.normal_force_n
        if bite.normal_force_n > most_n * ALLOWANCE:
            self._log.add(line, Rule.FORCE_TOO_LARGE, force_n=bite.normal_force_n, most_n=most_n)
        spindle = case.machine.spindle
        most_w = spindle.power_w * spindle.efficiency
        if bite.power_w > most_w * ALLOWANCE:
            self._log.add(line, Rule.POWER_TOO_LARGE, power_w=bite.power_w, most_w=most_w)
        if station is self._blade.stations[MIDDLE_STATION]:
            # The blades of a row are alike: each takes as much off the wheel.
            edges_mm = case.row.blades * case.edge_length_mm
            self._worn.in_pass_mm += wear_mm(
                case, bite.removed_area_mm2 * edges_mm, self._worn.mm + self._worn.in_pass_mm
            )
            self.cuts.append(
                Cut(
                    first_line=contact.first_line,
                    last_line=contact.last_line,
                    commanded_depth_mm=bite.commanded_mm,
                    reached_depth_mm=bite.reached_mm,
                    removed_area_mm2=bite.removed_area_mm2,
                    feed_mm_min=contact.feed_mm_s * 60.0,
                    normal_force_n=bite.normal_force_n,
                    power_w=bite.power_w,
                    stand=contact.stand,
                    before=before,
                    after=station.steel.polygon,
                )
            )
