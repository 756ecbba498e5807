"""Follows the events of a program over the blade and faults what must not happen."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from planner.inputs.axes import LinearAxis
from planner.proof.axes import reachable_tilt_deg
from planner.proof.blade import (
    MIDDLE_STATION,
    NEAR_MM,
    Blade,
    Contact,
    Station,
    new_blade,
)
from planner.proof.bulge import BulgeGoal
from planner.proof.case import Case, held_tilt_deg, infeed_step_mm
from planner.proof.claims import CutMove
from planner.proof.events import (
    Blend,
    Coolant,
    Dwell,
    End,
    Event,
    Lost,
    Move,
    Position,
    Spindle,
    Stop,
)
from planner.proof.faultlog import FaultLog
from planner.proof.finish import ALLOWANCE, Behind, Finish
from planner.proof.followed import CHORD_MM, Followed
from planner.proof.followed_pass import feed_at_edge_mm_s, most_followed_mm_s, same_stand
from planner.proof.frame import KnownPlace
from planner.proof.limits import (
    Travel,
    axis_feeds,
    check_blend,
    check_block_rate,
    check_feed,
)
from planner.proof.obstacles import InTheWay
from planner.proof.pierced import TOLD_MM
from planner.proof.row import RowWatch, Section
from planner.proof.rules import Rule
from planner.proof.switches import Switches
from planner.proof.tool import RimTool, Stand
from planner.proof.traverses import Traverses, span_within
from planner.proof.verdict import Bevel, Cut, Lands, PathPoint
from planner.proof.wear import wear_mm

CREEP_SHARE = 1 / 40
"""Share of the feed that the machine can hold over the edge below which a pass only burns."""
_SLACK_MM = 1e-6
_WEAR_TOLD_MM = 0.5e-4
"""Half of the last decimal that wear is told to."""
_AT_STATION_MM = 0.2
"""A wheel that follows an edge has its depth at a station while it is tangent so near to it."""
_TILT_SLACK_DEG = 1e-9
_TILT_PIECE_DEG = 1.0
_MOST_TILT_PIECES = 360


class Place(NamedTuple):
    """A position in the touch frame; None where the program has not told it yet."""

    traverse: float | None
    cross: float | None
    infeed: float | None
    tilt: float | None


class Piece(NamedTuple):
    """A stretch of a move over which the wheel goes straight in the section plane."""

    x_start: float
    x_end: float
    start: Stand
    end: Stand

    def stand_at(self, share: float) -> Stand:
        """Where the wheel stands after a share of the way."""
        return Stand(*(a + share * (b - a) for a, b in zip(self.start, self.end, strict=True)))

    @property
    def still_in_section(self) -> bool:
        """Whether the wheel moves along the edge only."""
        if self.start.tilt_deg != self.end.tilt_deg:
            return False
        return math.dist(self.start.centre, self.end.centre) < 1e-9


class Begun(NamedTuple):
    """What a program that was broken off left behind."""

    blade: Blade
    worn_mm: float
    """Radius that its wheel has lost since it was touched off."""


class Judge:
    """Judges the events of one program; faults go to the log."""

    def __init__(
        self,
        case: Case,
        log: FaultLog,
        *,
        air_run: bool,
        worn_mm: float = 0.0,
        begun: Begun | None = None,
        like: Blade | None = None,
    ) -> None:
        """``worn_mm`` is off the wheel since its touch-off; ``begun`` is the blade it goes on.

        ``like`` is another blade of the row: what was worked out for it is not done again.
        """
        self.positions: list[PathPoint] = []
        self.cuts: list[Cut] = []
        self.lands: list[Lands] = []
        self.bevels: list[Bevel] = []
        self.cut_moves: list[CutMove] = []
        """Each feed move along the edge below the unground face."""
        self.finished = False
        """Whether the program was followed to its end."""
        self._case = case
        self._log = log
        self._air_run = air_run
        self._axes = list(case.axes.values())
        self._travel = Travel(case, log)
        self._switches = Switches(case, log, air_run=air_run)
        ends = (case.row.low_mm, case.row.high_mm)
        self._traverses = Traverses(case.edge_length_mm, case.reach_mm, log, ends)
        # An air run is there to be watched: it stays well away from what it must not touch.
        near_mm = case.machine.fixture.clearance_mm / 2.0 if air_run else NEAR_MM
        if begun is not None:
            self._blade = begun.blade
        else:
            self._blade = new_blade(case, near_mm) if like is None else like.another(case)
        self._in_the_way = InTheWay(case, log)
        self._clear_mm = case.machine.fixture.clearance_mm - case.half_decimal_mm - _SLACK_MM
        if case.followed is not None:
            self._clear_mm += case.followed.clear_of_mm
        self._row = RowWatch(case.row, case.reach_mm, self._clear_mm, log)
        self._here = Place(None, 0.0, None, case.fixed_tilt_deg)
        if "cross" in case.by_role:
            self._here = self._here._replace(cross=None)
        if "tilt" in case.by_role:
            self._here = self._here._replace(tilt=None)
        self._places = _places(case)
        self._unknown_told = False
        self._infeed_line = 0
        self._last_line = 0
        self._tilts_deg = self._right_tilts_deg()
        self._infeed_step_mm = infeed_step_mm(case)
        self._least_feed_mm_s = CREEP_SHARE * _usual_feed_mm_s(case)
        self._worn_mm = worn_mm
        """Radius lost since the touch-off: the wheel stands back from its place by as much."""
        # The header tells wear to a last decimal of its own.
        self._told_mm = _WEAR_TOLD_MM if worn_mm > 0.0 else 0.0
        self._worn_at_infeed_mm = worn_mm
        self._laid: dict[KnownPlace, KnownPlace] = {}
        """The place last asked for on an edge that is followed, laid straight."""
        self._wearing_mm = self._turned_deg = 0.0
        """Radius that the pass so far costs; it counts from the next on."""
        lost = 0.0 if begun is None else max(begun.worn_mm - worn_mm, 0.0)
        self._stood_back_mm = min(lost * ALLOWANCE, self._infeed_step_mm)
        """How far the wheel that was changed may have stood back when it was taken off."""

    def run(self, events: Iterable[Event]) -> None:
        """Judge every event; measure the steel at the end unless the state was lost."""
        for event in events:
            match event:
                case Move():
                    self._move(event)
                case Dwell():
                    self._in_contact(event.line, Rule.DWELL_IN_CONTACT)
                    self._switches.dwell(event)
                case Stop():
                    self._stop(event)
                case Spindle():
                    self._in_contact(event.line, Rule.SPINDLE_CHANGE_IN_CONTACT)
                    self._switches.spindle(event)
                case Coolant():
                    self._in_contact(event.line, Rule.COOLANT_CHANGE_IN_CONTACT)
                    self._switches.coolant(event)
                case Blend():
                    check_blend(event, self._case, self._log)
                case End():
                    self._end(event)
                case Lost():
                    return

    @property
    def rounding_mm(self) -> float:
        """How far the numbers of a program may have a pass beside the depth that it claims."""
        return self._depth_allowance_mm(held_tilt_deg(self._case)) + self._told_mm

    @property
    def blade(self) -> Blade:
        """The blade as it is by now."""
        return self._blade

    def break_off(self) -> Begun:
        """The blade and the wear where the program was broken off, its last pass whole."""
        self._traverses.end(self._last_line)
        for station in self._blade.stations:
            self._close(station)
        return Begun(self._blade, self._worn_mm + self._wearing_mm)

    # -- motion -------------------------------------------------------------------------------

    def _move(self, move: Move) -> None:
        case = self._case
        self._travel.check(move)
        feeds = axis_feeds(move, case)
        check_feed(move, feeds, case, self._log)
        self._check_turn(move)
        start, end = self._here, self._place(move.end)
        self._here = end
        if case.followed is not None:
            self._follow(move, start, end, feeds, case.followed)
            return
        if start.traverse is not None and self._off_the_row(start.traverse):
            self._new_pass()
        if start.infeed != end.infeed:
            self._new_infeed(move.line)
        if None in start:
            self._check_first_moves(move.line, start, end)
        known_end = _known(end)
        if known_end is None:
            return
        self.positions.append(PathPoint(move.line, move.rapid, *known_end))
        # A coordinate that was not known yet is taken at its new value: see docs/proof.md.
        known_start = KnownPlace(
            *(e if s is None else s for s, e in zip(start, known_end, strict=True))
        )
        x_mm = case.frame.x_mm
        self._row.move(
            move.line,
            (x_mm(known_start.traverse), x_mm(known_end.traverse)),
            Section(*known_start[1:]),
            Section(*known_end[1:]),
        )
        self._in_the_way.move(move.line, known_start, known_end)
        feed_mm_s = self._traverse_feed_mm_s(feeds)
        for piece in self._pieces(known_start, known_end):
            self._piece(move, piece, known_end, feed_mm_s)

    def _follow(
        self,
        move: Move,
        start: Place,
        end: Place,
        feeds: tuple[float, ...] | None,
        followed: Followed,
    ) -> None:
        """A move on an edge that the straight axes follow: laid straight, then judged as any."""
        if None in start:
            self._check_first_moves(move.line, start, end)
        known_end = _known(end)
        if known_end is None:
            return
        known_start = KnownPlace(
            *(e if s is None else s for s, e in zip(start, known_end, strict=True))
        )
        turns = self._turn_deg(move.start), self._turn_deg(move.end)
        way = followed.way(known_start, known_end, self._case.off_mm, turns)
        places = followed.laid_straight(way.places, known_end.tilt)
        if followed.turn_sign is None:
            self._in_the_way.move(move.line, known_start, known_end)
        else:
            # What lies with a blade that is turned is met along the edge laid straight.
            for one, other in pairwise(places):
                self._in_the_way.move(move.line, one, other)
        self._turned_deg = turns[1]
        self._laid = {known_end: places[-1]}
        self.positions.append(PathPoint(move.line, move.rapid, *places[-1]))
        if self._off_the_row(places[0].traverse):
            self._new_pass()
        xs = [self._case.frame.x_mm(place.traverse) for place in places]
        if not way.level:
            self._new_infeed(move.line)
        if way.clear:
            self._traverses.move(move.line, xs[0], xs[-1], contact=False)
            for station in self._blade.stations:
                self._close(station)
            return
        if not way.level:
            self._check_skin(move, known_start, known_end, turns)
        self._over_places(move, places, xs, feeds, level=way.level)

    def _over_places(
        self,
        move: Move,
        places: list[KnownPlace],
        xs: list[float],
        feeds: tuple[float, ...] | None,
        *,
        level: bool,
    ) -> None:
        """A move by its places over the edge laid straight, ``level`` where they are one pass."""
        stands = [self._stand(place) for place in places]
        feed_mm_s = self._traverse_feed_mm_s(None)
        if feeds is not None:
            feed_mm_s = feed_at_edge_mm_s(move, feeds, abs(xs[-1] - xs[0]))
        if level:
            # One pass is one place: as deep as it comes anywhere on the way.
            deepest = max(stands, key=lambda stand: self._case.depth_at_mm(stand.centre))
            pieces = [Piece(xs[0], xs[-1], deepest, deepest)]
        else:
            pieces = [
                Piece(*ends, *between)
                for ends, between in zip(pairwise(xs), pairwise(stands), strict=True)
            ]
        for piece in pieces:
            self._piece(move, piece, places[-1], feed_mm_s)

    def _turn_deg(self, position: Position) -> float:
        """In touch-frame sense; one that is not told is taken to stand at 0."""
        index = self._case.by_role.get("turn")
        turn = None if index is None else position[index]
        return 0.0 if index is None or turn is None else self._axes[index].sign * turn

    def _check_skin(
        self, move: Move, start: KnownPlace, end: KnownPlace, turns_deg: tuple[float, float]
    ) -> None:
        """A move that is no pass must not take the wheel into the blade, wherever that is met."""
        skin = self._case.skin
        assert skin is not None
        if skin.pierced_mm(np.array(start[:3]), np.array(end[:3]), turns_deg) < TOLD_MM:
            return
        moved = Rule.RAPID_IN_STEEL if move.rapid else Rule.PLUNGE
        self._log.add(move.line, Rule.AIR_RUN_TOUCHES if self._air_run else moved)

    def _new_pass(self) -> None:
        """The wheel stands off the ends: what it has worn counts from here on."""
        self._worn_mm += self._wearing_mm
        self._wearing_mm = 0.0

    def _new_infeed(self, line: int) -> None:
        self._infeed_line = line
        self._worn_at_infeed_mm = self._worn_mm

    def _laid_straight(self, known: KnownPlace) -> KnownPlace:
        """A place as over a straight edge."""
        followed = self._case.followed
        if followed is None:
            return known
        if known not in self._laid:
            at = followed.unroll(np.array([known[:3]]), np.array([self._turned_deg]))
            self._laid = {known: followed.laid_straight(at, known.tilt)[0]}
        return self._laid[known]

    def _off_the_row(self, traverse_mm: float) -> bool:
        """Whether the wheel stands past an end of the row, where a pass ends and one begins."""
        return self._traverses.side(self._case.frame.x_mm(traverse_mm)) is not None

    def _place(self, position: Position) -> Place:
        values = []
        for index, sign, otherwise in self._places:
            number = otherwise if index is None else position[index]
            values.append(None if number is None else sign * number)
        turned, traverse = self._case.turned, position[self._case.by_role["traverse"]]
        if turned is not None:
            # Of an arc the place along the edge is told by the turn, once both stand somewhere.
            axis, turn = self._axes[turned.index], position[turned.index]
            told = turn is not None and traverse is not None
            values[0] = axis.sign * turn * turned.mm_per_deg if told and turn is not None else None
        return Place(*values)

    def _check_turn(self, move: Move) -> None:
        followed = self._case.followed
        if followed is not None and followed.turn_sign is not None:
            return
        if self._case.turned is not None:
            if move.end[self._case.by_role["traverse"]] not in (None, 0.0):
                self._log.add(move.line, Rule.TRAVERSE_MOVED)
            return
        index = self._case.by_role.get("turn")
        if index is not None and move.end[index] not in (None, 0.0):
            self._log.add(move.line, Rule.TURN_MOVED)

    def _check_first_moves(self, line: int, start: Place, end: Place) -> None:
        """Before all axes are told, the wheel must be clear: the infeed alone moves first."""
        if start.infeed is None:
            if end.infeed is None or end._replace(infeed=None) != start:
                self._unknown(line, start)
            elif end.infeed < self._clear_mm:
                self._log.add(line, Rule.START_NOT_CLEAR, infeed_mm=end.infeed)
        elif end.infeed is not None and min(start.infeed, end.infeed) < self._clear_mm:
            self._unknown(line, start)

    def _unknown(self, line: int, start: Place) -> None:
        if not self._unknown_told:
            self._unknown_told = True
            unknown = [role for role, at in zip(Place._fields, start, strict=True) if at is None]
            self._log.add(line, Rule.UNKNOWN_POSITION, axes=", ".join(unknown))

    def _traverse_feed_mm_s(self, feeds: tuple[float, ...] | None) -> float:
        turned = self._case.turned
        index = self._case.by_role["traverse"] if turned is None else turned.index
        unit_mm = 1.0 if turned is None else abs(turned.mm_per_deg)
        feed = self._axes[index].max_feed if feeds is None else feeds[index]
        return unit_mm * feed / 60.0

    def _pieces(self, start: KnownPlace, end: KnownPlace) -> list[Piece]:
        frame = self._case.frame
        count = math.ceil(abs(end.tilt - start.tilt) / _TILT_PIECE_DEG)
        count = min(max(count, 1), _MOST_TILT_PIECES)
        places = [start]
        for n in range(1, count):
            share = n / count
            places.append(
                KnownPlace(*(a + share * (b - a) for a, b in zip(start, end, strict=True)))
            )
        places.append(end)
        wheels = [(frame.x_mm(p.traverse), self._stand(p)) for p in places]
        return [Piece(a[0], b[0], a[1], b[1]) for a, b in pairwise(wheels)]

    def _stand(self, place: KnownPlace) -> Stand:
        """Where the wheel as it was touched off stands, backed off by what has worn away."""
        y, z = self._case.frame.centre(place.cross, place.infeed, place.tilt)
        normal_y, normal_z = self._case.face.normal
        return Stand(y + self._worn_mm * normal_y, z + self._worn_mm * normal_z, place.tilt)

    @property
    def _behind_mm(self) -> float:
        """How far wear may leave a pass behind its claim: an infeed makes up for it in whole steps,
        and what is lost since then nothing makes up for."""
        before = min(self._worn_at_infeed_mm * ALLOWANCE, self._infeed_step_mm)
        return before + (self._worn_mm - self._worn_at_infeed_mm) * ALLOWANCE

    @property
    def _made_up_mm(self) -> float:
        """How much more a pass may bite because it makes up for wear: a step that has worn off."""
        whole = self._worn_mm * ALLOWANCE >= self._infeed_step_mm
        return self._infeed_step_mm if whole else self._stood_back_mm

    def _piece(self, move: Move, piece: Piece, known_end: KnownPlace, feed_mm_s: float) -> None:
        span = self._traverses.span_over_blade(piece.x_start, piece.x_end)
        contact = False
        if span is not None:
            if piece.still_in_section:
                first = last = piece.end
            else:
                first, last = piece.stand_at(span[0]), piece.stand_at(span[1])
            contact = self._blade.touches(first, last)
            if contact:
                self._contact(move, piece, known_end, (first, last), feed_mm_s)
            elif piece.still_in_section and not move.rapid:
                # A worn wheel may follow where the pass before it went, and find nothing left.
                self._follow_claim(move.line, piece, known_end, self._depth_mm((first, last)))
        if not self._air_run:
            self._traverses.move(move.line, piece.x_start, piece.x_end, contact=contact)
            self._grind(move, piece, feed_mm_s)

    def _contact(
        self,
        move: Move,
        piece: Piece,
        known_end: KnownPlace,
        stands: tuple[Stand, Stand],
        feed_mm_s: float,
    ) -> None:
        line, case = move.line, self._case
        if self._air_run:
            self._log.add(line, Rule.AIR_RUN_TOUCHES)
            return
        self._last_line = line
        check_block_rate(move, case, self._log)
        if move.rapid:
            self._log.add(line, Rule.RAPID_IN_STEEL)
        elif not piece.still_in_section:
            self._log.add(line, Rule.PLUNGE)
        elif feed_mm_s < self._least_feed_mm_s:
            # A feed move that hardly moves is a dwell by another name.
            self._log.add(
                line,
                Rule.CREEP,
                feed_mm_min=60 * feed_mm_s,
                least_mm_min=60 * self._least_feed_mm_s,
            )
        self._switches.contact(line)
        self._check_tilt(line, known_end.tilt)
        depth = self._depth_mm(stands)
        if piece.still_in_section and not move.rapid:
            self._follow_claim(line, piece, known_end, depth)
        if case.generates:
            depth = case.depth_mm + max(self._beyond_arc_mm(stand) for stand in stands)
        most = case.depth_mm + self._depth_allowance_mm(known_end.tilt)
        if depth > most:
            self._log.add(
                line,
                Rule.BELOW_TARGET,
                depth_mm=depth,
                target_mm=case.depth_mm,
                infeed_line=self._infeed_line,
            )

    def _depth_mm(self, stands: tuple[Stand, Stand]) -> float:
        """How far the rigid wheel would stand below the unground face."""
        return max(self._case.depth_at_mm(stand.centre) for stand in stands)

    def _beyond_arc_mm(self, stand: Stand) -> float:
        """How far the wheel's circle comes through the arc wanted; below zero clear of it."""
        case = self._case
        if isinstance(case.bulge, BulgeGoal):
            return case.bulge.beyond_mm(stand.centre)
        radius = case.tool.arc_radius_mm
        assert radius is not None
        arc = case.wanted
        middle = case.finished.point(arc.middle_mm, arc.depth_mm - arc.arc_radius_mm)
        return math.dist(middle, stand.centre) + radius - arc.arc_radius_mm

    def _follow_claim(
        self, line: int, piece: Piece, known_end: KnownPlace, depth_mm: float
    ) -> None:
        """Note a feed move along the edge below the unground face, for the claim above it."""
        if piece.x_start != piece.x_end and depth_mm > -self._behind_mm - NEAR_MM:
            ahead = (ALLOWANCE - 1.0) * self._worn_mm
            self.cut_moves.append(CutMove(line, depth_mm, self._behind_mm, ahead, known_end.cross))

    def _depth_allowance_mm(self, tilt_deg: float) -> float:
        """Half a last decimal of each axis that moves the wheel across the face's plane."""
        cross_dir, infeed_dir = self._case.frame.directions(tilt_deg)
        normal = self._case.face.normal
        share = abs(infeed_dir[0] * normal[0] + infeed_dir[1] * normal[1])
        if self._case.followed is not None:
            return self._case.off_mm + CHORD_MM + 1e-9
        if "cross" in self._case.by_role:
            share += abs(cross_dir[0] * normal[0] + cross_dir[1] * normal[1])
        return self._case.half_decimal_mm * share + 1e-9

    def _right_tilts_deg(self) -> tuple[float, ...]:
        """The reachable tilt nearest to the ideal: two where it lies half way between them."""
        index = self._case.by_role.get("tilt")
        if index is None:
            return ()
        case = self._case
        axis = list(case.axes.values())[index]
        nearest, step = reachable_tilt_deg(case.machine, case.frame, axis)
        if isinstance(case.tool, RimTool):
            # The zero of a rim hangs on the way that it leans: it has one tilt.
            return (held_tilt_deg(case),)
        other = 2.0 * self._case.frame.ideal_tilt_deg - nearest
        half_way = abs(abs(other - nearest) - step) < _TILT_SLACK_DEG
        return (nearest, other) if half_way else (nearest,)

    def _check_tilt(self, line: int, tilt_deg: float) -> None:
        half_decimal = 0.5 * 10.0**-self._case.machine.controller.rotary_decimals
        off = [abs(tilt_deg - right) for right in self._tilts_deg]
        if off and min(off) > half_decimal + _TILT_SLACK_DEG:
            self._log.add(line, Rule.WRONG_TILT, tilt_deg=tilt_deg, right_deg=self._tilts_deg[0])

    # -- what is ground -------------------------------------------------------------------------

    def _grind(self, move: Move, piece: Piece, feed_mm_s: float) -> None:
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
                stand, line, line, feed_mm_s, surface, self._infeed_line, self._worn_mm
            )

    def _close(self, station: Station) -> None:
        """The wheel has left a station: settle what the pass took from it."""
        contact, station.contact = station.contact, None
        station.fastest_mm_s = 0.0
        if contact is None:
            return
        case, line = self._case, contact.first_line
        before = station.steel.polygon
        bite = self._blade.bite(station, contact)
        most_mm = case.wheel.infeed.rough_mm
        # Two positions, each rounded by half a last decimal, may differ by one decimal more.
        ridges_mm = case.ridge_mm if case.generates else 0.0
        uneven_mm = case.uneven_mm or 2.0 * case.half_decimal_mm
        slack_mm = uneven_mm + self._made_up_mm + ridges_mm + 1e-9
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
            self._wearing_mm += wear_mm(
                case, bite.removed_area_mm2 * edges_mm, self._worn_mm + self._wearing_mm
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

    # -- switches, stops and the end --------------------------------------------------------------

    def _in_contact(self, line: int, rule: Rule) -> bool:
        known = _known(self._here)
        if known is None or self._air_run:
            return False
        frame, known = self._case.frame, self._laid_straight(known)
        if not self._traverses.over_blade(frame.x_mm(known.traverse)):
            return False
        stand = self._stand(known)
        if not self._blade.touches(stand, stand):
            return False
        self._log.add(line, rule)
        return True

    def _stop(self, stop: Stop) -> None:
        in_contact = self._in_contact(stop.line, Rule.STOP_IN_CONTACT)
        known = _known(self._here)
        clear = known is not None and known.infeed >= self._clear_mm and self._past_an_end(known)
        if not clear and not in_contact:
            self._log.add(stop.line, Rule.STOP_NOT_CLEAR, code=stop.code)
        if self._switches.runs_by_program and stop.leaves_wheel_turning:
            self._log.add(stop.line, Rule.STOP_SPINDLE_ON, code=stop.code)
        if stop.waits:
            self._switches.stop(stop.line)

    def _past_an_end(self, known: KnownPlace) -> bool:
        followed = self._case.followed
        if followed is None or followed.turn_sign is not None:
            laid = self._laid_straight(known)
            return self._traverses.side(self._case.frame.x_mm(laid.traverse)) is not None
        # Clear of all of the blade the wheel need not stand beside it: high over the end of an arc
        # it is tangent far inside, and inside an arc there is no beside.
        return True

    def _end(self, end: End) -> None:
        self.finished = True
        if None in self._here:
            # Nothing was judged of such a program, so nothing may be said of it.
            self._unknown(end.line, self._here)
        self._switches.end(end.line)
        infeed = self._here.infeed
        if infeed is None or infeed < self._clear_mm:
            self._log.add(
                end.line,
                Rule.END_NOT_RETRACTED,
                infeed_mm="not told" if infeed is None else infeed,
                least_mm=self._case.machine.fixture.clearance_mm,
            )
        if self._air_run:
            return
        self._traverses.end(end.line)
        for station in self._blade.stations:
            self._close(station)
        # A new wheel leaves standing what the old one stood back where it does not come again.
        behind = Behind(self._made_up_mm, max(self._behind_mm, self._stood_back_mm))
        line = self._last_line or end.line
        finish = Finish(self._case, self._blade, self._log, line, behind)
        self.lands, self.bevels = finish.lands, finish.bevels


def _usual_feed_mm_s(case: Case) -> float:
    """The largest traverse feed that machine and wheel can hold over the edge."""
    role = "traverse" if case.turned is None else "turn"
    along = next(a for a in case.machine.axes.values() if a.role == role)
    if isinstance(along, LinearAxis):
        most_mm_s, rise_mm_s2 = along.max_feed_mm_min / 60.0, along.acceleration_mm_s2
    else:
        assert case.turned is not None
        unit_mm = abs(case.turned.mm_per_deg)
        most_mm_s = unit_mm * along.max_feed_deg_min / 60.0
        rise_mm_s2 = unit_mm * along.acceleration_deg_s2
    if case.followed is not None:
        most_mm_s = most_followed_mm_s(case, case.followed)
    run_up = math.sqrt(2.0 * rise_mm_s2 * case.machine.fixture.run_off_mm)
    stated = case.wheel.feed_mm_min or math.inf
    reach_mm = case.wheel.width_mm + 2.0 * case.machine.fixture.run_off_mm
    in_one_block = case.machine.controller.blocks_per_s * (case.edge_length_mm + reach_mm)
    return min(most_mm_s, stated / 60.0, run_up, in_one_block)


def _places(case: Case) -> list[tuple[int | None, float, float]]:
    """For each coordinate of a place: its index in a position, its sign, its value without one."""
    axes = list(case.axes.values())
    places = []
    for role in Place._fields:
        index = case.by_role.get(role)
        sign = 1.0 if index is None else axes[index].sign
        places.append((index, sign, case.fixed_tilt_deg if role == "tilt" else 0.0))
    return places


def _known(place: Place) -> KnownPlace | None:
    traverse, cross, infeed, tilt = place
    if traverse is None or cross is None or infeed is None or tilt is None:
        return None
    return KnownPlace(traverse, cross, infeed, tilt)
