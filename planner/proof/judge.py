"""Follows the events of a program over the blade and faults what must not happen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from planner.proof.blade import NEAR_MM, Blade, new_blade
from planner.proof.case import Case, held_tilt_deg, infeed_step_mm
from planner.proof.commanded_depth import beyond_arc_mm, depth_allowance_mm, rigid_depth_mm
from planner.proof.events import Blend, Coolant, Dwell, End, Event, Lost, Move, Spindle, Stop
from planner.proof.faultlog import FaultLog
from planner.proof.finish import Behind, Finish
from planner.proof.first_moves import FirstMoves
from planner.proof.followed import ALONG_MM, Followed, Moved, Unrolled
from planner.proof.followed_pass import feed_at_edge_mm_s
from planner.proof.frame import KnownPlace
from planner.proof.grinding import Grinding
from planner.proof.limits import (
    Travel,
    axis_feeds,
    check_blend,
    check_block_rate,
    check_feed,
    check_turn,
)
from planner.proof.obstacles import InTheWay
from planner.proof.pass_claims import CutMove
from planner.proof.pierced import TOLD_MM
from planner.proof.placing import Piece, Place, Placing, known_place
from planner.proof.right_tilt import RightTilt
from planner.proof.row import RowWatch, Section
from planner.proof.rules import Rule
from planner.proof.switches import Switches
from planner.proof.tool import Stand
from planner.proof.traverses import Traverses
from planner.proof.usual_feed import CREEP_SHARE, usual_feed_mm_s
from planner.proof.verdict import Bevel, Cut, Lands, PathPoint
from planner.proof.worn_so_far import WornSoFar

_SLACK_MM = 1e-6
_WEAR_TOLD_MM = 0.5e-4
"""Half of the last decimal that wear is told to."""


class Begun(NamedTuple):
    """What a program that was broken off left behind."""

    blade: Blade
    worn_mm: float
    """Radius that its wheel has lost since it was touched off."""
    bevels: tuple[Bevel, ...] = ()
    """Of the facets of a sweep that are done."""


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
        self.lands: list[Lands] = []
        self.bevels: list[Bevel] = []
        self.cut_moves: list[CutMove] = []
        """Each feed move along the edge below the unground face."""
        self.finished = False
        """Whether the program was followed to its end."""
        self._log = log
        self._air_run = air_run
        self._travel = Travel(case, log)
        self._switches = Switches(case, log, air_run=air_run)
        # An air run is there to be watched: it stays well away from what it must not touch.
        near_mm = case.machine.fixture.clearance_mm / 2.0 if air_run else NEAR_MM
        if begun is not None:
            self._blade = begun.blade
        else:
            self._blade = new_blade(case, near_mm) if like is None else like.another(case)
        self._least_mm = case.machine.fixture.clearance_mm
        if case.followed is not None:
            self._least_mm += case.followed.clear_of_mm
        if case.sweep is not None:
            self._least_mm += case.sweep.rises_mm
        self._clear_mm = self._least_mm - case.half_decimal_mm - _SLACK_MM
        self._hold_to(case)
        self._here = self._placing.at_first
        self._first_moves = FirstMoves(self._clear_mm, log)
        self._last_line = 0
        self._least_feed_mm_s = CREEP_SHARE * usual_feed_mm_s(case)
        before_mm = 0.0 if begun is None else begun.worn_mm
        self._worn = WornSoFar(infeed_step_mm(case), worn_mm, before_mm)
        self._grinding = Grinding(case, self._blade, self._switches, self._worn, log)
        # The header tells wear to a last decimal of its own.
        self._told_mm = _WEAR_TOLD_MM if worn_mm > 0.0 else 0.0
        self._laid: dict[KnownPlace, KnownPlace] = {}
        """The place last asked for on an edge that is followed, laid straight."""
        self._turned_deg = 0.0
        self._unrolled: dict[Moved, Unrolled] = {}

    def _hold_to(self, case: Case) -> None:
        """Take up what hangs on the face that is ground; the wheel stands off the ends."""
        self._case = case
        ends = (case.row.low_mm, case.row.high_mm)
        self._traverses = Traverses(case.edge_length_mm, case.reach_mm, self._log, ends)
        self._in_the_way = InTheWay(case, self._log)
        self._row = RowWatch(case.row, case.reach_mm, self._clear_mm, self._log)
        self._placing = Placing(case)
        self._right_tilt = RightTilt(case, self._log)

    def run(self, events: Iterable[Event]) -> None:
        """Judge every event; measure the steel at the end unless the state was lost."""
        events = list(events)
        if self._case.followed is not None:
            self._unroll(events, self._case.followed)
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
    def cuts(self) -> list[Cut]:
        """What each pass took at the middle of the edge."""
        return self._grinding.cuts

    @property
    def rounding_mm(self) -> float:
        """How far the numbers of a program may have a pass beside the depth that it claims."""
        return depth_allowance_mm(self._case, held_tilt_deg(self._case)) + self._told_mm

    @property
    def beside_mm(self) -> float:
        """How much further a pass that follows an edge may be beside its cross."""
        case = self._case
        return 0.0 if case.followed is None else ALONG_MM + 2.0 * case.beside_mm

    @property
    def blade(self) -> Blade:
        """The blade as it is by now."""
        return self._blade

    def break_off(self) -> Begun:
        """The blade and the wear where the program was broken off, its last pass whole."""
        self._traverses.end(self._last_line)
        self._grinding.close_all()
        return Begun(self._blade, self._worn.mm + self._worn.in_pass_mm)

    # -- motion -------------------------------------------------------------------------------

    def _move(self, move: Move) -> None:
        case = self._case
        self._travel.check(move)
        feeds = axis_feeds(move, case)
        check_feed(move, feeds, case, self._log)
        check_turn(move, case, self._log)
        start, end = self._here, self._placing.place(move.end)
        if start.tilt is not None and start.tilt != end.tilt:
            self._check_clear(move.line, start, end)
        self._here = end
        if case.followed is not None:
            self._follow(move, start, end, feeds, case.followed)
            return
        if start.traverse is not None and self._off_the_row(start.traverse):
            self._worn.new_pass()
        if start.infeed != end.infeed:
            self._worn.new_infeed(move.line)
        if None in start:
            self._first_moves.check(move.line, start, end)
        known_end = known_place(end)
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
        feed_mm_s = self._placing.traverse_feed_mm_s(feeds)
        for piece in self._placing.pieces(known_start, known_end, self._worn.mm):
            self._piece(move, piece, known_end, feed_mm_s)

    def _check_clear(self, line: int, *places: Place) -> None:
        """While a told tilt turns the wheel is where a stop may be: clear, and off the ends."""
        known = [place for place in map(known_place, places) if place is not None]
        low = min((place.infeed for place in known), default=self._clear_mm)
        if low < self._clear_mm or not all(self._past_an_end(place) for place in known):
            self._log.add(line, Rule.TILT_NOT_CLEAR, infeed_mm=low, least_mm=self._least_mm)

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
            self._first_moves.check(move.line, start, end)
        known_end = known_place(end)
        if known_end is None:
            return
        moved = self._moved(move, start, known_end)
        known_start, turns = moved.start, moved.turns_deg
        within = self._case.off_mm, self._case.beside_mm
        way = followed.way(moved, *within, self._unrolled.get(moved))
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
            self._worn.new_pass()
            # However little the next pass goes deeper, it is another.
            self._grinding.close_all()
        xs = [self._case.frame.x_mm(place.traverse) for place in places]
        if not way.level:
            self._worn.new_infeed(move.line)
        if way.clear:
            self._traverses.move(move.line, xs[0], xs[-1], contact=False)
            self._grinding.close_all()
            return
        if not way.level:
            self._check_skin(move, known_start, known_end, turns)
        self._over_places(move, places, xs, feeds, level=way.level)

    def _moved(self, move: Move, start: Place, end: KnownPlace) -> Moved:
        """A coordinate that was not known yet is taken at its new value: see docs/proof.md."""
        known = KnownPlace(*(e if s is None else s for s, e in zip(start, end, strict=True)))
        turns = self._placing.turn_deg(move.start), self._placing.turn_deg(move.end)
        return Moved(known, end, turns)

    def _unroll(self, events: Sequence[Event], followed: Followed) -> None:
        """Look at all the moves at once: a program has many, and each by itself is slow."""
        here = self._here
        moves: dict[Moved, None] = {}
        for event in events:
            if isinstance(event, Move):
                start, here = here, self._placing.place(event.end)
                known_end = known_place(here)
                if known_end is not None:
                    moves[self._moved(event, start, known_end)] = None
        self._unrolled = dict(zip(moves, followed.unroll_all(list(moves)), strict=True))

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
        stands = [self._placing.stand(place, self._worn.mm) for place in places]
        feed_mm_s = self._placing.traverse_feed_mm_s(None)
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
                self._follow_claim(
                    move.line, piece, known_end, rigid_depth_mm(self._case, (first, last))
                )
        if not self._air_run:
            self._traverses.move(move.line, piece.x_start, piece.x_end, contact=contact)
            self._grinding.grind(move, piece, feed_mm_s)

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
        self._right_tilt.check(line, known_end.tilt)
        depth = rigid_depth_mm(case, stands)
        if piece.still_in_section and not move.rapid:
            self._follow_claim(line, piece, known_end, depth)
        if case.generates:
            depth = case.depth_mm + max(beyond_arc_mm(case, stand) for stand in stands)
        most = case.depth_mm + depth_allowance_mm(case, known_end.tilt)
        if depth > most:
            self._log.add(
                line,
                Rule.BELOW_TARGET,
                depth_mm=depth,
                target_mm=case.depth_mm,
                infeed_line=self._worn.infeed_line,
            )

    def _follow_claim(
        self, line: int, piece: Piece, known_end: KnownPlace, depth_mm: float
    ) -> None:
        """Note a feed move along the edge below the unground face, for the claim above it."""
        if piece.x_start != piece.x_end and depth_mm > -self._worn.behind_mm - NEAR_MM:
            self.cut_moves.append(
                CutMove(
                    line,
                    depth_mm,
                    self._worn.behind_mm,
                    self._worn.ahead_mm,
                    known_end.cross,
                    known_end.tilt,
                )
            )

    # -- switches, stops and the end --------------------------------------------------------------

    def _in_contact(self, line: int, rule: Rule) -> bool:
        known = known_place(self._here)
        if known is None or self._air_run:
            return False
        frame, known = self._case.frame, self._laid_straight(known)
        if not self._traverses.over_blade(frame.x_mm(known.traverse)):
            return False
        stand = self._placing.stand(known, self._worn.mm)
        if not self._blade.touches(stand, stand):
            return False
        self._log.add(line, rule)
        return True

    def _stop(self, stop: Stop) -> None:
        in_contact = self._in_contact(stop.line, Rule.STOP_IN_CONTACT)
        known = known_place(self._here)
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
            self._first_moves.unknown(end.line, self._here)
        self._switches.end(end.line)
        infeed = self._here.infeed
        if infeed is None or infeed < self._clear_mm:
            self._log.add(
                end.line,
                Rule.END_NOT_RETRACTED,
                infeed_mm="not told" if infeed is None else infeed,
                least_mm=self._least_mm,
            )
        if self._air_run:
            return
        self._traverses.end(end.line)
        self._grinding.close_all()
        finish = self._finish(self._last_line or end.line)
        self.lands, self.bevels = finish.lands, finish.bevels

    def _finish(self, line: int) -> Finish:
        """Measure what is left."""
        # A new wheel leaves standing what the old one stood back where it does not come again.
        behind = Behind(self._worn.made_up_mm, max(self._worn.behind_mm, self._worn.stood_back_mm))
        return Finish(self._case, self._blade, self._log, line, behind)
